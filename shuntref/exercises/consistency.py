"""Data that say the same thing twice: accepted within their rounding, refused beyond it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from shuntref.exercises.curve import CurveError
from shuntref.exercises.equation import Equation, WholeEquation
from shuntref.exercises.statement import ExerciseError, Ref
from shuntref.quantities.text import format_value

if TYPE_CHECKING:
    from shuntref.exercises.run import Run

__all__ = ["ConflictingData", "Consistency"]

Number = Any

_EXACT = 1e-9
_STEP = 1e-6


class ConflictingData(ExerciseError):
    """Data that contradict each other beyond their rounding."""


class Consistency:
    """Checks the equations that are left over when everything in them is known.

    ``mismatched`` tells whether an equation or a reading is not satisfied exactly; ``readings_used`` the curve readings that
    were needed.
    """

    def __init__(self, run: Run) -> None:
        self.run = run
        self.notes: list[str] = []
        self.mismatched = False
        self.readings_used: set[Ref] = set()
        self._slack: dict[Ref, float] = {}

    def check(self, index: int) -> None:
        """Check one equation whose quantities are all known.

        Raises
        ------
        ConflictingData
            It is off by more than the rounding of the data explains, and the run is not tolerant.
        """
        equation = self.run.equations[index]
        if isinstance(equation, WholeEquation):
            return
        values = self.run.values
        for ref in sorted(equation.refs, key=lambda ref: (ref not in self.run.system.given, ref)):
            without = {other: value for other, value in values.items() if other != ref}
            if equation.unknowns(without) != (ref,):
                continue  # with a zero taken away other unknowns may come back
            try:
                found = equation.solutions(ref, without, self.run.precise)
            except CurveError as error:
                self.run.trouble.append(error)
                return
            if found:
                closest = min(found, key=lambda value: abs(value - values[ref]))
                self._compare(index, equation, ref, closest, without)
                return

    def _compare(self, index: int, equation: Equation, ref: Ref, found: Number, without: Mapping[Ref, Number]) -> None:
        actual = self.run.values[ref]
        others = [other for other in equation.refs if other != ref and other in without]
        gains = {other: abs(_gain(equation, ref, other, found, without, self.run.precise)) for other in others}
        noise = sum(gains[other] * abs(without[other]) for other in others) + abs(actual) + abs(found)
        if abs(found - actual) <= _EXACT * noise:
            return
        self.mismatched = True
        allowed = self.slack(ref) + sum(gains[other] * self.slack(other) for other in others)
        if abs(found - actual) <= allowed * (1 + _EXACT) or self.run.tolerant:
            self.notes.append(f"{equation.title}: gives {ref} = {format_value(ref.quantity, float(found))} against "
                              f"{format_value(ref.quantity, float(actual))}; the data agree within their rounding")  # fmt: skip
            return
        raise ConflictingData(self._message(equation, ref, found, actual))

    def _message(self, equation: Equation, ref: Ref, found: Number, actual: Number) -> str:
        given = [f"{source} = {self.run.system.given[source].text}" for source in self.sources(equation.refs)]
        asked, value = (format_value(ref.quantity, float(number)) for number in (found, actual))
        return (
            f"the data contradict each other: {equation.title} asks for {ref} = {asked}, and it is {value}"
            f"{' as given' if ref in self.run.system.given else ''}; look at {', '.join(given)}"
        )

    def sources(self, refs: tuple[Ref, ...]) -> list[Ref]:
        """The data of the file that values rest on."""
        found: list[Ref] = []
        seen: set[Ref] = set()
        queue = list(refs)
        while queue:
            ref = queue.pop(0)
            if ref in seen:
                continue
            seen.add(ref)
            if ref in self.run.system.given:
                found.append(ref)
            elif ref in self.run.steps:
                queue += self.run.steps[ref].inputs
        return found

    def check_readings(self) -> None:
        """Check the readings of a curve that were not needed against what was computed."""
        for ref, written in self.run.system.readings.items():
            if ref in self.readings_used or ref not in self.run.values:
                continue
            difference = abs(float(self.run.values[ref]) - written.value)
            if difference > _EXACT * abs(written.value):
                self.mismatched = True
            if difference > self.slack(ref) + written.half_unit * (1 + _EXACT) and not self.run.tolerant:
                found = format_value(ref.quantity, float(self.run.values[ref]))
                raise ConflictingData(
                    f"the reading {ref} = {written.text} contradicts the other data, which give {found}"
                )

    def slack(self, ref: Ref) -> float:
        """How far the rounding of the data may have moved a value, to first order."""
        if ref not in self._slack:
            self._slack[ref] = 0.0
            self._slack[ref] = self._computed_slack(ref)
        return self._slack[ref]

    def _computed_slack(self, ref: Ref) -> float:
        system = self.run.system
        if ref in system.given:
            return system.given[ref].half_unit
        if ref in self.readings_used:
            return system.readings[ref].half_unit
        step = self.run.steps.get(ref)
        if step is None:
            return 0.0
        if step.choice is not None:
            return self._group_slack(ref)
        values = {other: value for other, value in self.run.values.items() if other != ref}
        return float(sum(
            abs(_gain(step.equation, ref, other, step.value, values, self.run.precise)) * self.slack(other)
            for other in step.inputs
        ))  # fmt: skip

    def _group_slack(self, ref: Ref) -> float:
        from shuntref.exercises.groups import Group
        from shuntref.exercises.reduction import reduce_group

        step = self.run.steps[ref]
        indices = tuple(index for index, equation in enumerate(self.run.equations)
                        if any(equation is member for member in step.group))  # fmt: skip
        choice = step.choice
        if choice is None:
            return 0.0
        unknowns = tuple(choice.taken.values)
        total = 0.0
        for other in step.inputs:
            slack = self.slack(other)
            if slack == 0:
                continue
            moved = {key: value for key, value in self.run.values.items() if key not in unknowns}
            moved[other] = moved[other] + slack
            reduction = reduce_group(Group(indices, unknowns), self.run.equations, moved, self.run.precise)
            if reduction is not None and reduction.roots:
                total += float(min(abs(root[ref] - step.value) for root in reduction.roots))
        return total


def _gain(
    equation: Equation, ref: Ref, other: Ref, value: Number, values: Mapping[Ref, Number], precise: bool
) -> Number:
    """Derivative of ``ref`` by ``other`` in one equation, by a small step."""
    step = (abs(values[other]) or 1.0) * _STEP
    moved = dict(values)
    moved[other] = values[other] + step
    try:
        found = equation.solutions(ref, moved, precise) if equation.unknowns(moved) == (ref,) else []
    except CurveError:
        return 0.0
    return (min(found, key=lambda item: abs(item - value)) - value) / step if found else 0.0
