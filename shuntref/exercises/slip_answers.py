"""What number each slip makes of an exercise, worked out by the general solver."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from shuntref.exercises.answers import answer_value
from shuntref.exercises.slips import Slip, Slipped, catalogue
from shuntref.exercises.solver import solve
from shuntref.exercises.statement import Answer, Exercise

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
    return _slipped(_Key(exercise))


class _Key:
    """An exercise by identity, so that its slips are worked out once for a class of thousands."""

    __slots__ = ("exercise",)

    def __init__(self, exercise: Exercise) -> None:
        self.exercise = exercise

    def __hash__(self) -> int:
        return id(self.exercise)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and self.exercise is other.exercise


@lru_cache(maxsize=256)
def _slipped(key: _Key) -> Mapping[str, tuple[SlippedAnswer, ...]]:
    exercise = key.exercise
    right = {name: answer.value for name, answer in solve(exercise, tolerant=True).answers.items()}
    rows: dict[str, list[SlippedAnswer]] = {name: [] for name in exercise.answers}
    for entry in catalogue().values():
        for way in entry.apply(exercise):
            for name in exercise.answers:
                value = _value(way, name)
                if value is None or math.isclose(value, right[name], rel_tol=1e-9, abs_tol=1e-12):
                    continue
                known = (row.value for row in rows[name] if row.slip is entry)
                if not any(math.isclose(value, other, rel_tol=1e-9) for other in known):
                    rows[name].append(SlippedAnswer(entry, value))
    return {name: tuple(found) for name, found in rows.items()}


def _value(way: Slipped, name: str) -> float | None:
    """One answer under a slip, or None where the slip leads nowhere; other answers may fail without harm to this one."""
    answer = way.exercise.answers.get(name)
    if answer is None:
        return None
    value = _solved(way, answer)
    return None if value is None or not math.isfinite(value) else value * way.factor.get(name, 1.0)


def _solved(way: Slipped, answer: Answer) -> float | None:
    single = replace(way.exercise, answers={answer.name: answer})
    try:
        solution = solve(single, laws=way.laws or None, tolerant=True)
        return float(answer_value(answer, lambda ref: solution.value(str(ref))))
    except (ValueError, ArithmeticError):  # a wrong law often contradicts the rest, or asks the impossible
        return None
