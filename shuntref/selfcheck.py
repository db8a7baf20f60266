"""All the evidence, recomputed: theorems proved, formulas tied, references reproduced.

Each room yields its own checks; this module only runs them in order and counts. Nothing here relies on ``assert``, which
an optimising interpreter would strip.
"""

from __future__ import annotations

import importlib
import multiprocessing
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from shuntref.evidence import Check

__all__ = ["PROVIDERS", "Outcome", "run"]

#: rooms in the order in which a reader would want to see them; each module has ``checks() -> Iterator[Check]``
PROVIDERS: tuple[str, ...] = (
    "shuntref.quantities.evidence",
    "shuntref.theory.evidence",
    "shuntref.tie",
    "shuntref.model.evidence",
    "shuntref.exercises.evidence",
    "shuntref.conformance.evidence",
    "shuntref.bench.evidence_metrology",
    "shuntref.bench.evidence_plan",
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One check with the seconds it took."""

    check: Check
    seconds: float


def run(providers: tuple[str, ...] = PROVIDERS, *, workers: int = 1) -> Iterator[Outcome]:
    """Run every check and yield its outcome; an evidence provider that breaks down is itself a failed check.

    Parameters
    ----------
    providers
        Names of modules with a function ``checks``.
    workers
        Processes that share the providers; the outcomes come in the order of the providers all the same.

    Yields
    ------
    Outcome
        The check and its duration in seconds.

    Examples
    --------
    >>> outcomes = list(run(("shuntref.quantities.evidence",)))
    >>> all(outcome.check.passed for outcome in outcomes)
    True
    """
    if workers == 1:
        for name in providers:
            yield from _one(name)
        return
    # fresh processes, not copies of this one, so that nothing of its state or threads comes along
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        for outcomes in pool.map(_gathered, providers):
            yield from outcomes


def _gathered(name: str) -> list[Outcome]:
    return list(_one(name))


def _one(name: str) -> Iterator[Outcome]:
    start = time.perf_counter()
    try:
        source = importlib.import_module(name).checks()
        while (check := next(source, None)) is not None:
            now = time.perf_counter()
            yield Outcome(check, now - start)
            start = now
    except Exception as error:  # whatever broke, the reader must see it as a failure and still get the rest
        detail = f"{type(error).__name__}: {error}"
        yield Outcome(Check(name, "the evidence could be gathered", False, detail), time.perf_counter() - start)
