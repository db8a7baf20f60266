"""What solving an exercise gives: every value, the steps that led there, the roots taken, and the answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from shuntref.exercises.answer_rule import Window
from shuntref.exercises.equation import Equation
from shuntref.exercises.statement import Answer, Exercise, ExerciseError, Ref
from shuntref.exercises.system import System
from shuntref.quantities.text import format_value

__all__ = ["Choice", "Root", "Solution", "SolvedAnswer", "Step"]

Number = Any


@dataclass(frozen=True)
class Root:
    """One real root of a simultaneous group: the values it gives, and why it cannot be, if so.

    ``answers`` are the values that the answers of the exercise would have with it.
    """

    values: Mapping[Ref, Number]
    impossible: str = ""
    answers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Choice:
    """Which root of a group was taken, why, and which others there are.

    ``unknown`` is the quantity the group was reduced to; ``coefficients`` are those of its polynomial, highest power
    first, empty where a curve stands in the way.
    """

    unknown: Ref
    coefficients: tuple[Number, ...]
    taken: Root
    others: tuple[Root, ...]
    reason: str


@dataclass(frozen=True)
class Step:
    """One step of a solution.

    ``kind`` is "law" (one law, one unknown), "group" (a simultaneous group reduced to one unknown), "reading" (off the
    curve), or "whole" (a number made whole). ``branch`` is the branch of the law that was used.
    """

    kind: str
    ref: Ref
    value: Number
    equation: Equation
    inputs: tuple[Ref, ...]
    branch: int = 0
    choice: Choice | None = None
    group: tuple[Equation, ...] = ()


@dataclass(frozen=True)
class SolvedAnswer:
    """An answer as solved, beside the printed one.

    ``value`` is in the registry unit; ``agrees`` is None where nothing was printed; ``text`` is the value in the unit of the
    printed answer, rounded like it.
    """

    answer: Answer
    value: float
    agrees: bool | None
    window: Window | None
    text: str


@dataclass(frozen=True)
class Solution:
    """The solution of an exercise.

    ``steps`` holds the steps that the answers need, in order; ``notes`` remarks on data that agree within their rounding;
    ``free`` quantities to which any value could be given, because the answers do not depend on it.
    """

    exercise: Exercise
    system: System
    values: Mapping[Ref, Number]
    steps: tuple[Step, ...]
    choices: tuple[Choice, ...]
    answers: Mapping[str, SolvedAnswer]
    notes: tuple[str, ...] = ()
    free: tuple[Ref, ...] = ()

    def value(self, reference: str | Ref) -> float:
        """Return a value in the registry unit, for example ``value("after.speed")``.

        Parameters
        ----------
        reference : str or Ref
            "state.quantity", or the quantity alone where there is one state.

        Returns
        -------
        float

        Raises
        ------
        ExerciseError
            The reference is not understood, or the exercise does not determine it.

        Examples
        --------
        >>> from shuntref.exercises import reference_exercise, solve
        >>> solution = solve(reference_exercise("bird-22-shunt-motor-circuit"))
        >>> round(solution.value("armature_current"), 1)
        28.4
        """
        from shuntref.exercises.statement_file import parse_reference

        ref = reference
        if isinstance(ref, str):
            states = [*self.exercise.states, "starter"] if self.exercise.starter else list(self.exercise.states)
            ref = parse_reference(ref, states, "value", shared=self.exercise.shared)
        found = self.values.get(self.system.bind(ref))
        if found is None:
            raise ExerciseError(f"{ref}: the exercise does not determine it")
        return float(found)

    def text(self, reference: str | Ref, unit: str | None = None, *, digits: int = 4) -> str:
        """Return a value as text with its unit.

        Parameters
        ----------
        reference : str or Ref
            "state.quantity", or the quantity alone where there is one state.
        unit : str, optional
            To write it in; the registry's by default.
        digits : int
            Significant figures.

        Returns
        -------
        str

        Raises
        ------
        ExerciseError
            As for ``value``.

        Examples
        --------
        >>> from shuntref.exercises import reference_exercise, solve
        >>> solution = solve(reference_exercise("bird-22-shunt-motor-circuit"))
        >>> solution.text("armature_current", digits=3)
        '28.4 A'
        """
        ref = reference if isinstance(reference, Ref) else None
        name = ref.quantity if ref else str(reference).rpartition(".")[2].partition("[")[0]
        return format_value(name, self.value(reference), unit, digits=digits)
