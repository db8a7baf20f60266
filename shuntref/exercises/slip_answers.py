"""What number each slip makes of an exercise, worked out by the general solver."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from shuntref.exercises.same_exercise import SameExercise
from shuntref.exercises.slips import Slip, Slipped, catalogue
from shuntref.exercises.solution import Solution
from shuntref.exercises.solver import solve, solve_quickly
from shuntref.exercises.statement import Exercise
from shuntref.theory.laws.law import Law

__all__ = ["SlippedAnswer", "slipped_answers"]


@dataclass(frozen=True, slots=True)
class SlippedAnswer:
    """A slip and the number that it makes of one answer, in the registry unit of the answer."""

    slip: Slip
    value: float


def slipped_answers(exercise: Exercise) -> Mapping[str, tuple[SlippedAnswer, ...]]:
    """Return, for each answer, the slips that change it and what each makes of it.

    A slip can go about an exercise in several ways; each different number is listed once. Slips that leave an answer as
    it is, that do not apply, or that lead nowhere are not listed.

    Examples
    --------
    >>> from shuntref.exercises.library import reference_exercise
    >>> found = slipped_answers(reference_exercise("bird-22-shunt-motor-circuit"))
    >>> [(row.slip.name, round(row.value, 2)) for row in found["armature-current"]][:1]
    [('line-current-for-armature-current', 30.0)]
    """
    return _slipped(SameExercise(exercise))


@lru_cache(maxsize=256)
def _slipped(key: SameExercise) -> Mapping[str, tuple[SlippedAnswer, ...]]:
    exercise = key.exercise
    solution = solve(exercise, tolerant=True)
    right = {name: answer.value for name, answer in solution.answers.items()}
    used = _laws_used(solution)
    rows: dict[str, list[SlippedAnswer]] = {name: [] for name in exercise.answers}
    for entry in catalogue().values():
        for way in entry.apply(exercise):
            if way.laws and way.exercise is exercise and not used & set(way.laws):
                continue  # a law that the solution does not rest on cannot be broken in it
            values = _values(way)
            for name in exercise.answers:
                value = values.get(name)
                if value is None or math.isclose(value, right[name], rel_tol=1e-9, abs_tol=1e-12):
                    continue
                known = (row.value for row in rows[name] if row.slip is entry)
                if not any(math.isclose(value, other, rel_tol=1e-9) for other in known):
                    rows[name].append(SlippedAnswer(entry, value))
    return {name: tuple(found) for name, found in rows.items()}


def _laws_used(solution: Solution) -> set[str]:
    """Slugs of the laws that the answers of a solution rest on."""
    members = (equation for step in solution.steps for equation in (step.equation, *step.group))
    return {equation.slug for equation in members}


def _values(way: Slipped) -> dict[str, float]:
    """The answers under a slip; where together they lead nowhere, each by itself, so that one does not harm another."""
    values = _solved(way.exercise, way.laws)
    if not values and len(way.exercise.answers) > 1:
        for name, answer in way.exercise.answers.items():
            values |= _solved(replace(way.exercise, answers={name: answer}), way.laws)
    return {name: value * way.factor.get(name, 1.0) for name, value in values.items() if math.isfinite(value)}


def _solved(exercise: Exercise, laws: Mapping[str, Law]) -> dict[str, float]:
    try:
        return solve_quickly(exercise, laws or None)
    except (ValueError, ArithmeticError):  # a wrong law often contradicts the rest, or asks the impossible
        return {}
