"""One self-contained page: plain HTML with its style inside, nothing fetched from anywhere."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence

from shuntref.cautions import CAUTIONS

__all__ = ["Page", "escaped"]

_STYLE = """
:root { --ink: #16181d; --soft: #5a5f69; --rule: #c4c8d0; --tint: #f4f2ec; --alert: #8a1c1c; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1.5rem 1.2rem 3rem; max-width: 68rem; color: var(--ink); background: #fff;
  font: 1rem/1.5 sans-serif; }
h1 { font-size: 1.7rem; line-height: 1.25; margin: 0 0 .3rem; }
h2 { font-size: 1.25rem; margin: 2.2rem 0 .6rem; padding-top: .5rem; border-top: 3px solid var(--ink); }
h3 { font-size: 1.02rem; margin: 1.2rem 0 .3rem; }
p { margin: .4rem 0 .8rem; max-width: 46rem; }
.lead { font-size: 1.15rem; }
.sub { color: var(--soft); margin-top: 0; }
.invented { border: 3px double var(--alert); color: var(--alert); padding: .35rem .8rem; font-weight: bold; max-width: none; }
.cautions { border: 2px solid var(--ink); background: var(--tint); padding: .6rem 1rem; margin: 1rem 0; }
.cautions h2 { border: 0; margin: 0 0 .3rem; padding: 0; }
.cautions ul { margin: 0; padding-left: 1.1rem; columns: 2 22rem; column-gap: 2rem; }
.cautions li, .plain li { break-inside: avoid; margin: .15rem 0; }
.plain { padding-left: 1.2rem; max-width: 52rem; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; font-size: .93rem; margin: .4rem 0 1rem; }
caption { text-align: left; color: var(--soft); padding-bottom: .25rem; }
th, td { text-align: right; padding: .28rem .7rem; border-bottom: 1px solid var(--rule); vertical-align: top; }
td { white-space: nowrap; }
th { border-bottom: 2px solid var(--ink); vertical-align: bottom; }
th.words, td.words { text-align: left; white-space: normal; }
tr.look td { background: var(--tint); font-weight: bold; }
figure { margin: 1rem 0 1.2rem; break-inside: avoid; }
figure svg { width: 100%; height: auto; max-width: 56rem; display: block; }
figcaption { color: var(--soft); font-size: .93rem; max-width: 52rem; }
ol.steps { counter-reset: step; list-style: none; padding: 0; }
ol.steps li { display: grid; grid-template-columns: 1.6rem minmax(14rem, 1fr) minmax(16rem, 1fr); gap: .8rem;
  border-bottom: 1px solid var(--rule); padding: .3rem 0; }
ol.steps li::before { counter-increment: step; content: counter(step) "."; color: var(--soft); }
.formula { font-family: monospace; font-size: 1rem; white-space: pre-wrap; }
.listing { font-size: .86rem; padding-left: 1.1rem; columns: 2 26rem; column-gap: 2rem; margin-top: .2rem; }
.listing li { break-inside: avoid; }
footer { margin-top: 2.5rem; border-top: 1px solid var(--rule); padding-top: .5rem; color: var(--soft); font-size: .9rem; }
@media (min-width: 1500px) { html { font-size: 21px; } }
@media (max-width: 46rem) { ol.steps li { grid-template-columns: 1.6rem 1fr; } ol.steps .formula { grid-column: 2; } }
@media print {
  @page { margin: 16mm; }
  body { max-width: none; padding: 0; font-size: 10pt; }
  h2, h3 { break-after: avoid; }
  table, .cautions, tr { break-inside: avoid; }
  .wide { overflow: visible; }
  figure svg { max-width: 165mm; }
}
"""


def escaped(text: object) -> str:
    """Text made safe for HTML.

    Examples
    --------
    >>> escaped("a < b & c")
    'a &lt; b &amp; c'
    """
    return html.escape(str(text), quote=True)


def _said(text: object) -> str:
    """Text for the page: safe, and with the sign for the ohm where the terminal has the word."""
    return re.sub(r"(?<=\d) ohm\b", "\u00a0Ω", escaped(text))


class Page:
    """A page that grows section by section.

    Examples
    --------
    >>> page = Page("Plan", "a bench", invented=True)
    >>> page.heading("Runs")
    >>> "<h2>Runs</h2>" in page.text() and "INVENTED" in page.text()
    True
    """

    def __init__(self, title: str, subtitle: str, *, invented: bool) -> None:
        self._title = title
        self._parts = [f'<header><h1>{_said(title)}</h1><p class="sub">{_said(subtitle)}</p></header>']
        if invented:
            self._parts.append(
                '<p class="invented">INVENTED: this bench and its readings do not exist. '
                "The page shows what a report looks like.</p>"
            )

    def cautions(self) -> None:
        """The box of cautions."""
        items = "".join(f"<li>{_said(line)}</li>" for line in CAUTIONS)
        self._parts.append(f'<section class="cautions"><h2>Cautions</h2><ul>{items}</ul></section>')

    def heading(self, text: str) -> None:
        """Begin a section."""
        self._parts.append(f"<h2>{_said(text)}</h2>")

    def subheading(self, text: str) -> None:
        """Begin a part of a section."""
        self._parts.append(f"<h3>{_said(text)}</h3>")

    def paragraph(self, text: str, *, lead: bool = False) -> None:
        """A paragraph; ``lead`` for the one that says it all."""
        self._parts.append(f"<p{' class=' + chr(34) + 'lead' + chr(34) if lead else ''}>{_said(text)}</p>")

    def points(self, lines: Sequence[str]) -> None:
        """A list of sentences."""
        if lines:
            self._parts.append('<ul class="plain">' + "".join(f"<li>{_said(line)}</li>" for line in lines) + "</ul>")

    def table(
        self,
        heads: Sequence[str],
        rows: Sequence[Sequence[object]],
        *,
        words: Sequence[int] = (),
        caption: str = "",
        look: Sequence[int] = (),
    ) -> None:
        """A table; columns in ``words`` are text and stand left, rows in ``look`` are set off."""

        def cell(tag: str, column: int, value: object) -> str:
            kind = ' class="words"' if column in words else ""
            scope = ' scope="col"' if tag == "th" else ""
            return f"<{tag}{kind}{scope}>{_said(value)}</{tag}>"

        head = "".join(cell("th", i, text) for i, text in enumerate(heads))
        body = "".join(
            f"<tr{' class=' + chr(34) + 'look' + chr(34) if r in look else ''}>"
            + "".join(cell("td", i, value) for i, value in enumerate(row))
            + "</tr>"
            for r, row in enumerate(rows)
        )
        title = f"<caption>{_said(caption)}</caption>" if caption else ""
        self._parts.append(
            f'<div class="wide"><table>{title}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
        )

    def drawing(self, svg: str, caption: str) -> None:
        """A drawing with its caption."""
        self._parts.append(f"<figure>{svg}<figcaption>{_said(caption)}</figcaption></figure>")

    def steps(self, lines: Sequence[tuple[str, str]]) -> None:
        """Numbered steps, each with its words and its formula."""
        items = "".join(
            f'<li><span>{_said(words)}</span><span class="formula">{_said(formula)}</span></li>'
            for words, formula in lines
        )
        self._parts.append(f'<ol class="steps">{items}</ol>')

    def listing(self, title: str, lines: Sequence[str]) -> None:
        """Many short lines in small print, none of them hidden."""
        body = "".join(f"<li>{_said(line)}</li>" for line in lines)
        self._parts.append(f'<h3>{_said(title)}</h3><ul class="listing">{body}</ul>')

    def text(self) -> str:
        """The whole page."""
        style = _STYLE.strip()
        body = "\n".join(self._parts)
        return (
            '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            '<link rel="icon" href="data:,">\n'
            f"<title>{_said(self._title)}</title>\n<style>\n{style}\n</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n"
            "<footer>Written by shuntref. Figures from a model decide nothing: local codes, the maker's limits and a licensed "
            "or authorised person do.</footer>\n</body>\n</html>\n"
        )
