"""Data that no answer needs: told apart from data that say the same thing twice, and refused unless meant."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from shuntref.exercises.solution import Step
from shuntref.exercises.statement import Exercise, ExerciseError, Ref

if TYPE_CHECKING:
    from shuntref.exercises.run import Run

__all__ = ["check_surplus"]


def _data(exercise: Exercise) -> Iterator[Ref]:
    for name, entry in exercise.shared.items():
        if entry is not None:
            yield Ref("", name)
    for state in exercise.states.values():
        for name, entry in state.entries.items():
            if entry is not None:
                yield Ref(state.name, name)


def check_surplus(run: Run, steps: Sequence[Step]) -> list[str]:
    """Return remarks on data given twice over, and refuse data that nothing needs.

    Raises
    ------
    ExerciseError
        A datum that no answer needs and that is not listed under ``surplus``, or one listed there that is needed.
    """
    used = set(run.asked()) | {ref for step in steps for ref in step.inputs}
    meant = {run.system.bind(ref) for ref in run.exercise.surplus}
    notes = list(run.consistency.notes)
    for ref in _data(run.exercise):
        bound = run.system.bind(ref)
        if bound in used:
            if bound in meant:
                raise ExerciseError(f"surplus: {ref} is listed as surplus, but the answers need it")
            continue
        if bound in meant or (ref.quantity in ("speed", "speed_rpm") and run.values.get(bound) == 0):
            continue  # standstill says what kind of state it is
        if bound not in run.system.given or not _confirmed(run, bound):
            raise ExerciseError(f'{ref} is given, but no answer needs it; take it out, or list it: surplus = ["{ref}"]')
        notes.append(f"{ref} is given though it follows from the other data; the two agree within their rounding")
    return notes


def _confirmed(run: Run, ref: Ref) -> bool:
    """Whether another value of ``ref`` would contradict the other data."""
    from shuntref.exercises.run import Run

    system = run.system
    written = system.given[ref]
    moved = replace(written, value=written.value * 1.01 if written.value else 1.0, number_text="1", unit_text="")
    trial = Run(replace(system, given={**system.given, ref: moved}), True, False, {})
    try:
        trial.go()
    except ExerciseError:
        return True
    return trial.consistency.mismatched
