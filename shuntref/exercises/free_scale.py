"""Exercises about ratios: a quantity that nothing fixes and that cancels out of every answer may have any value."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from shuntref.exercises.answers import solved_answers
from shuntref.exercises.statement import ExerciseError, Ref

if TYPE_CHECKING:
    from shuntref.exercises.run import Run

__all__ = ["run_with_free_scale"]

#: what an exercise about ratios leaves open, and two values to try
_OPEN = ("k_phi", "reference_k_phi", "flux_constant", "speed_rpm")
_TRIALS = (1.0, 1.7)
_EQUAL = 1e-9


def run_with_free_scale(make: Callable[[dict[Ref, float]], Run], failed: Run) -> Run | None:
    """Return a run with one open quantity set to 1, if no answer depends on that value; otherwise None.

    Parameters
    ----------
    make
        Makes a fresh run in which the given quantities are assumed.
    failed
        The run that found the answers undetermined.
    """
    unknown = {ref for index in failed.open for ref in failed.equations[index].unknowns(failed.values)}
    for name in _OPEN:
        for ref in sorted(unknown):
            if ref.quantity != name or ref in failed.asked():
                continue
            runs = []
            for trial in _TRIALS:
                run = make({ref: trial})
                try:
                    run.go()
                except ExerciseError:
                    break
                runs.append(run)
            if len(runs) == len(_TRIALS) and _same_answers(runs[0], runs[1]):
                return runs[0]
    return None


def _same_answers(one: Run, other: Run) -> bool:
    first, second = (solved_answers(run.exercise, run.value_of) for run in (one, other))
    return all(abs(answer.value - second[name].value) <= _EQUAL * abs(answer.value) for name, answer in first.items())
