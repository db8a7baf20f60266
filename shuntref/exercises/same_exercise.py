"""An exercise by identity: what is worked out from it once serves a class of thousands."""

from __future__ import annotations

from shuntref.exercises.statement import Exercise

__all__ = ["SameExercise"]


class SameExercise:
    """A key for what is kept: equal when the very same exercise is meant, and quickly found equal.

    Examples
    --------
    >>> from shuntref.exercises.library import reference_exercise
    >>> exercise = reference_exercise("bird-15-back-emf")
    >>> SameExercise(exercise) == SameExercise(exercise), SameExercise(exercise) == exercise
    (True, False)
    """

    __slots__ = ("exercise",)

    def __init__(self, exercise: Exercise) -> None:
        self.exercise = exercise

    def __hash__(self) -> int:
        return id(self.exercise)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SameExercise) and self.exercise is other.exercise
