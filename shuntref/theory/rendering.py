"""Printing a derivation for a reader: plain text, Markdown or LaTeX, each step with its law, its operation and its result."""

from __future__ import annotations

import re
import textwrap

from shuntref.quantities.registry import REGISTRY, quantity
from shuntref.theory.derivation import Derivation
from shuntref.theory.laws import law
from shuntref.theory.notation import latex, text, unit_latex
from shuntref.theory.worksheet import Step

__all__ = ["FORMATS", "heading", "legend", "render", "step_words"]

FORMATS = ("text", "markdown", "latex")
_WIDTH = 110


def heading(derivation: Derivation) -> str:
    """Return one line that says what is derived and what was taken into account.

    Examples
    --------
    >>> from shuntref.theory.derivation import derive
    >>> heading(derive("speed"))
    'Speed of a d.c. shunt motor, brush drop neglected'
    """
    o, name = derivation.options, derivation.quantity
    machine = "d.c. shunt motor" if o.connection == "shunt" else "separately excited d.c. motor"
    said = [f"{_words(name)[0].upper()}{_words(name)[1:]} of a {machine}"]
    if {"brush-drop-neglected"} & set(derivation.laws):
        said.append("brush drop neglected")
    elif o.brush_drop:
        said.append("brush drop included")
    if o.line_resistance:
        said.append("behind a line resistance")
    if o.flux != "general":
        said.append(
            {"proportional": "flux in proportion to the field current", "froehlich": "flux on Froehlich's curve"}[
                o.flux
            ]
        )
    if o.reaction:
        said.append("armature reaction in proportion to the armature current")
    if o.load != "torque":
        said.append(
            {"quadratic": "torque a quadratic in the speed", "constant_power": "load with a part of constant power"}[
                o.load
            ]
        )
    if o.branch:
        said.append(f"{o.branch} root")
    return ", ".join(said)


def _words(name: str) -> str:
    return {
        "k_phi": "k phi",
        "peak_k_phi": "k phi at the peak of the speed",
        "back_emf": "back EMF",
        "speed_rpm": "speed in r/min",
    }.get(name, name.replace("_", " "))


def step_words(step: Step, write: str = "text") -> str:
    """Return what is done in a step, in words, with symbols in the notation of the format.

    Examples
    --------
    >>> from shuntref.theory.derivation import derive
    >>> steps = derive("speed").steps
    >>> print(step_words(steps[2]))
    Induced voltage, E = kPhi·omega: put it in place of E
    >>> print(step_words(steps[3]))
    Solve for omega
    """

    def symbol_of(match: re.Match[str]) -> str:
        entry = REGISTRY[match.group(1)]
        return entry.symbol if write == "text" else f"${entry.latex}$"

    done = re.sub(r"\{(\w+)\}", symbol_of, step.operation)
    if not step.law:
        return done[0].upper() + done[1:]
    title = law(step.law).title
    title = title[0].upper() + title[1:]
    if step.applied is None:
        return f"{title}: {done}"
    put_in = text(step.applied) if write == "text" else f"${latex(step.applied)}$"
    return f"{title}, {put_in}: {done}"


def legend(derivation: Derivation) -> list[tuple[str, str, str, str]]:
    """Return (name, symbol, unit, meaning) of every quantity that occurs, in the registry's order.

    Examples
    --------
    >>> from shuntref.theory.derivation import derive
    >>> legend(derive("speed"))[0]
    ('supply_voltage', 'U', 'V', 'voltage across the two parallel circuits')
    """
    used = set(derivation.quantities)
    return [(q.name, q.symbol, q.unit, q.meaning) for q in REGISTRY.values() if q.name in used]


def render(derivation: Derivation, form: str = "text") -> str:
    r"""Return a derivation as text, Markdown or LaTeX.

    Parameters
    ----------
    derivation : what ``derive`` returned
    form : 'text', 'markdown' or 'latex'; the last is a fragment for the body of a document of any class

    Returns
    -------
    str, ending in a newline

    Raises
    ------
    ValueError
        When the format is none of the three.

    Examples
    --------
    >>> from shuntref.theory.derivation import derive
    >>> print(render(derive("winding_resistance")))
    Winding resistance of a d.c. shunt motor
    ...
    """
    if form not in FORMATS:
        raise ValueError(f"format {str(form)[:40]!r} is not known; accepted are {', '.join(FORMATS)}")
    return {"text": _as_text, "markdown": _as_markdown, "latex": _as_latex}[form](derivation)


def _as_text(derivation: Derivation) -> str:
    title = heading(derivation)
    lines = [title, "=" * len(title), ""]
    # equals signs stand below one another as long as the left sides are short
    wide = max((len(text(s.result.lhs)) for s in derivation.steps if len(text(s.result.lhs)) <= 12), default=0)
    for step in derivation.steps:
        lines.append(f"{step.number:3d}. {step_words(step)}.")
        lines += [*_equation(step, wide), ""]
    lines += ["Result", "", *_equation(derivation.steps[-1], wide), ""]
    if derivation.conditions:
        holds = "Holds for: " + "; ".join(derivation.conditions) + "."
        lines += [*textwrap.wrap(holds, _WIDTH, subsequent_indent="  "), ""]
    rows = legend(derivation)
    lines.append("Symbols")
    widths = [max(len(row[i]) for row in rows) for i in (1, 2)]
    lines += [
        f"  {symbol:<{widths[0]}}  [{unit}]{' ' * (widths[1] - len(unit))}  {meaning} ({name})"
        for name, symbol, unit, meaning in rows
    ]
    return "\n".join(lines) + "\n"


def _equation(step: Step, wide: int) -> list[str]:
    left = text(step.result.lhs)
    start = f"        {left:>{wide}} = "
    return textwrap.wrap(
        text(step.result.rhs),
        _WIDTH,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _as_markdown(derivation: Derivation) -> str:
    lines = [f"## {heading(derivation)}", ""]
    for step in derivation.steps:
        mark = f"{step.number}. "
        indent = " " * len(mark)  # or the list would end here
        lines += [f"{mark}{step_words(step, 'markdown')}.", "", f"{indent}$${latex(step.result)}$$", ""]
    lines += ["**Result**", "", f"$${latex(derivation.result)}$$", ""]
    if derivation.conditions:
        lines += ["Holds for: " + "; ".join(derivation.conditions) + ".", ""]
    lines += ["| symbol | unit | meaning | name |", "|---|---|---|---|"]
    lines += [
        f"| ${quantity(name).latex}$ | {unit} | {meaning} | `{name}` |" for name, _, unit, meaning in legend(derivation)
    ]
    return "\n".join(lines) + "\n"


def _as_latex(derivation: Derivation) -> str:
    lines = [rf"\section*{{{heading(derivation)}}}", r"\begin{enumerate}"]
    for step in derivation.steps:
        lines += [rf"\item {step_words(step, 'latex')}.", rf"\[ {latex(step.result)} \]"]
    lines += [r"\end{enumerate}", r"\paragraph{Result}", rf"\[ {latex(derivation.result)} \]"]
    if derivation.conditions:
        lines.append("Holds for: " + "; ".join(derivation.conditions) + ".")
    lines += ["", r"\medskip", r"\noindent\begin{tabular}{lll}", r"symbol & unit & meaning \\ \hline"]
    lines += [
        rf"${quantity(name).latex}$ & ${unit_latex(name)}$ & {_escaped(meaning)} \\"
        for name, _, _, meaning in legend(derivation)
    ]
    lines.append(r"\end{tabular}")
    return "\n".join(lines) + "\n"


def _escaped(words: str) -> str:
    return re.sub(r"([_%&#$])", r"\\\1", words)
