"""How times are taken: the median of several repeats, the candidates taking turns so that a slow spell hits them all."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Row", "medians", "report"]


@dataclass(frozen=True)
class Row:
    """One line of the table: what was measured, in what unit, against which yardstick, and what was wanted.

    ``ratio`` is what the target speaks of; ``met`` says whether it was reached.
    """

    what: str
    figure: str
    yardstick: str
    ratio: float
    target: str
    met: bool
    note: str = ""


def medians(candidates: dict[str, Callable[[], object]], repeats: int = 5) -> dict[str, float]:
    """Return the median seconds of each candidate; one unmeasured turn first, then all in turn, ``repeats`` times."""
    times: dict[str, list[float]] = {name: [] for name in candidates}
    for run in candidates.values():
        run()
    for _ in range(repeats):
        for name, run in candidates.items():
            start = time.perf_counter()
            run()
            times[name].append(time.perf_counter() - start)
    return {name: statistics.median(seconds) for name, seconds in times.items()}


def report(rows: list[Row]) -> str:
    """The rows as a Markdown table."""
    lines = ["| what | figure | yardstick | ratio | target | met |", "|---|---|---|---|---|---|"]
    for row in rows:
        met = "yes" if row.met else "**no**"
        note = f" ({row.note})" if row.note else ""
        lines.append(f"| {row.what}{note} | {row.figure} | {row.yardstick} | {row.ratio:.2f} | {row.target} | {met} |")
    return "\n".join(lines)
