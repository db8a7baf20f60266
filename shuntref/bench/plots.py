"""The drawings of plans and reports: inline SVG, told apart by shape and line as well as by colour.

Everything is drawn so that a black and white print keeps it: measured is always a filled round mark, predicted an open
square or a line, a run that disagrees carries a cross. Colours are dark enough for a projector in a lit room.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Band", "Line", "Points", "draw_band", "draw_line", "draw_points", "drawing", "figure_svg", "legend_below"]

Array = NDArray[np.float64]

MEASURED = "#12305c"
PREDICTED = "#a8480f"

#: line styles and marks for families of lines, in the order of use
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)), (0, (1, 3)), (0, (8, 3)))
MARKS = ("o", "s", "^", "D", "v", "P", "*")
SHADES = ("#12305c", "#a8480f", "#1d6b43", "#6b2a6e", "#333333", "#7a5c00", "#005f73")


@dataclass(frozen=True)
class Points:
    """Points with error bars; ``crossed`` marks those to be looked at twice."""

    x: Sequence[float]
    y: Sequence[float]
    error: Sequence[float]
    label: str
    crossed: Sequence[bool] = ()


@dataclass(frozen=True)
class Line:
    """A line with its place in the family of styles."""

    x: Sequence[float] | Array
    y: Sequence[float] | Array
    label: str
    style: int = 0


@dataclass(frozen=True)
class Band:
    """A band between two curves."""

    x: Sequence[float] | Array
    low: Sequence[float] | Array
    high: Sequence[float] | Array
    label: str


def _matplotlib() -> Any:
    try:
        import matplotlib
    except ImportError:
        raise ImportError(
            "a report with drawings needs matplotlib, which the extra 'report' brings: pip install 'shuntref[report]'"
        ) from None
    return matplotlib


@contextmanager
def drawing(width: float = 8.0, height: float = 4.4, panels: int = 1) -> Iterator[tuple[Figure, list[Axes]]]:
    """A figure with its panels one above the other; no global state is touched.

    Raises
    ------
    ImportError
        When matplotlib is not installed; the message names the extra.
    """
    matplotlib = _matplotlib()
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    settings = {
        "font.size": 11.0,
        "axes.titlesize": 12.0,
        "axes.grid": True,
        "grid.color": "#d0d0d0",
        "grid.linewidth": 0.6,
        "axes.edgecolor": "#222222",
        "svg.fonttype": "path",
        "legend.frameon": False,
        "axes.axisbelow": True,
    }
    with matplotlib.rc_context(settings):
        figure = Figure(figsize=(width, height), layout="constrained")
        FigureCanvasSVG(figure)
        axes = figure.subplots(panels, 1, squeeze=False)[:, 0]
        yield figure, list(axes)


def draw_points(
    axes: Axes, points: Points, *, measured: bool, mark: str = "", colour: str = "", size: float = 6.5
) -> None:
    """Measured points are filled, predicted ones open; crossed points carry a cross."""
    shade = colour or (MEASURED if measured else PREDICTED)
    axes.errorbar(
        points.x,
        points.y,
        yerr=points.error,
        fmt=mark or ("o" if measured else "s"),
        ms=size,
        capsize=4.0,
        color=shade,
        mfc=shade if measured else "white",
        mec=shade,
        mew=1.4,
        elinewidth=1.4,
        label=points.label,
        zorder=4 if measured else 3,
    )
    crossed = [i for i, cross in enumerate(points.crossed) if cross]
    if crossed:
        axes.plot(
            [points.x[i] for i in crossed],
            [points.y[i] for i in crossed],
            ls="none",
            marker="x",
            ms=size + 8.0,
            mew=2.4,
            color="black",
            zorder=5,
            label="look at this run: not within the uncertainties",
        )


def draw_line(axes: Axes, line: Line) -> None:
    """A line of a family."""
    axes.plot(
        line.x,
        line.y,
        ls=DASHES[line.style % len(DASHES)],
        color=SHADES[line.style % len(SHADES)],
        lw=1.8,
        label=line.label,
    )


def draw_band(axes: Axes, band: Band) -> None:
    """A band, hatched so that it survives a black and white print."""
    axes.fill_between(
        band.x,
        band.low,
        band.high,
        facecolor="#f3ddcc",
        edgecolor="#c9a184",
        hatch="////",
        linewidth=0.6,
        label=band.label,
        zorder=1,
    )


def legend_below(figure: Figure, axes: Sequence[Axes], columns: int = 2) -> None:
    """One legend under the drawing, each entry once."""
    entries: dict[str, Any] = {}
    for one in axes:
        for handle, label in zip(*one.get_legend_handles_labels(), strict=True):
            entries.setdefault(label, handle)
    figure.legend(entries.values(), entries.keys(), loc="outside lower center", ncols=columns, fontsize=10)


def figure_svg(figure: Figure, name: str, description: str) -> str:
    """The figure as an inline SVG element with a description for those who do not see it.

    Parameters
    ----------
    figure : Figure
    name : str
        Slug that makes the identifiers inside unique on the page.
    description : str
        What the drawing shows, in a sentence.

    Returns
    -------
    str
    """
    stream = io.BytesIO()
    figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    text = stream.getvalue().decode("utf-8")
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    # identifiers are unique within one drawing only; several drawings share a page
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r'(xlink:href|href)="#([^"]+)"', rf'\1="#{name}-\2"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", text)
    escaped = description.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
    text = re.sub(r'<svg ([^>]*?)width="[^"]+pt" height="[^"]+pt"', r"<svg \1", text, count=1)
    return text.replace("<svg ", f'<svg role="img" aria-label="{escaped}" ', 1)
