"""The general solver: one equation in one unknown wherever possible, small simultaneous groups where not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import mpmath

from shuntref.exercises.answers import solved_answers
from shuntref.exercises.free_scale import run_with_free_scale
from shuntref.exercises.missing import MissingData
from shuntref.exercises.run import NoPhysicalRoot, Run
from shuntref.exercises.solution import Choice, Root, Solution
from shuntref.exercises.statement import Exercise, ExerciseError
from shuntref.exercises.surplus import check_surplus
from shuntref.exercises.system import build_system
from shuntref.theory.laws.law import Law

__all__ = ["NoPhysicalRoot", "solve", "solve_precisely", "solve_quickly"]

Number = Any

_DIGITS = 50


def solve(exercise: Exercise, laws: Mapping[str, Law] | None = None, *, tolerant: bool = False) -> Solution:
    """Solve an exercise.

    Parameters
    ----------
    exercise
        A checked exercise.
    laws
        Laws that take the place of those of the theory layer with the same slug.
    tolerant
        Do not refuse surplus data nor data that contradict each other.

    Returns
    -------
    Solution
        Values, steps, roots taken and left, and the answers beside the printed ones.

    Raises
    ------
    MissingData
        An answer is not determined; the message says what would determine it.
    ConflictingData
        Data contradict each other beyond their rounding.
    NoPhysicalRoot
        No root is one that a machine could have.
    ExerciseError
        Anything else that is wrong with the exercise, surplus data among it.

    Examples
    --------
    >>> from shuntref.exercises.statement_file import exercise_from_text
    >>> solution = solve(exercise_from_text('''
    ... title = "Back EMF"
    ... statement = "A 240 V motor of 0.2 ohm takes 50 A. Find the back EMF."
    ... [state.running]
    ... supply_voltage = "240 V"
    ... armature_resistance = "0.2 ohm"
    ... armature_current = "50 A"
    ... [answer.emf]
    ... of = "back_emf"
    ... value = "230 V"
    ... '''))
    >>> solution.answers["emf"].value, solution.answers["emf"].agrees
    (230.0, True)
    """
    return _solved(exercise, laws, tolerant, False)


def solve_precisely(exercise: Exercise, laws: Mapping[str, Law] | None = None) -> Solution:
    """Solve an exercise by the same order of steps in 50-digit arithmetic; see :func:`solve`."""
    with mpmath.workdps(_DIGITS):
        return _solved(exercise, laws, False, True)


def solve_quickly(exercise: Exercise, laws: Mapping[str, Law] | None = None) -> dict[str, float]:
    """Return the answers of an exercise and nothing else, for statements that may make no sense.

    Surplus and conflicting data are passed over, other roots are not followed, and a system that leads nowhere is given
    up early.

    Raises
    ------
    ExerciseError
        The answers are not found.
    """
    system = build_system(exercise, laws)
    run = Run(system, True, False, {}, quick=True)
    try:
        run.go()
    except MissingData:
        scaled = run_with_free_scale(lambda assumed: Run(system, True, False, {}, assumed, quick=True), run)
        if scaled is None:
            raise
        run = scaled
    return {name: answer.value for name, answer in solved_answers(exercise, run.value_of).items()}


def _solved(exercise: Exercise, laws: Mapping[str, Law] | None, tolerant: bool, precise: bool) -> Solution:
    system = build_system(exercise, laws)
    run = Run(system, tolerant, precise, {})
    try:
        run.go()
    except MissingData:
        scaled = run_with_free_scale(lambda assumed: Run(system, tolerant, precise, {}, assumed), run)
        if scaled is None:
            raise
        run = scaled
    choices = []
    for choice in run.choices:
        others = []
        for root in choice.others:
            instead = {} if root.impossible else _with_root(exercise, laws, precise, choice, root)
            others.append(Root(root.values, root.impossible, instead))
        choices.append(Choice(choice.unknown, choice.coefficients, choice.taken, tuple(others), choice.reason))
    told = {choice.unknown: choice for choice in choices}
    steps = tuple(replace(step, choice=told[step.ref]) if step.choice else step for step in run.steps_for(run.asked()))
    needed = {step.ref for step in steps}
    notes = run.consistency.notes if tolerant else check_surplus(run, steps)
    kept = tuple(choice for choice in choices if choice.unknown in needed)
    answers = solved_answers(exercise, run.value_of)
    return Solution(exercise, system, dict(run.values), steps, kept, answers, tuple(notes), tuple(run.assumed))


def _with_root(
    exercise: Exercise, laws: Mapping[str, Law] | None, precise: bool, choice: Choice, root: Root
) -> dict[str, float]:
    """What the answers would be with another root of one group; nothing when that leads nowhere."""
    run = Run(build_system(exercise, laws), True, precise, {choice.unknown: root.values[choice.unknown]})
    try:
        run.go()
    except ExerciseError:
        return {}
    return {name: answer.value for name, answer in solved_answers(exercise, run.value_of).items()}
