"""Equations between the quantities of the states of one exercise: laws at work, links, and the measured curve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import sympy as sp

from shuntref.exercises.curve import Curve, CurveError
from shuntref.exercises.inversion import Form, branches, evaluator, law_form
from shuntref.exercises.statement import Ref
from shuntref.theory.laws.law import Law

__all__ = ["CurveEquation", "Equation", "LawEquation", "ReadingEquation", "WholeEquation"]

Number = Any
Values = Mapping[Ref, Number]

_RATIO = frozenset({"flux_ratio"})


class Equation(Protocol):
    """What the solver needs of an equation."""

    because: str

    @property
    def slug(self) -> str:
        """Short name of the law or link."""

    @property
    def title(self) -> str:
        """The law in words."""

    @property
    def refs(self) -> tuple[Ref, ...]:
        """Every quantity that the equation may hold."""

    def unknowns(self, values: Values) -> tuple[Ref, ...]:
        """Quantities without a value that the equation really holds, given what is exactly zero."""

    def solutions(self, target: Ref, values: Values, precise: bool) -> list[Number]:
        """Real values of ``target`` that satisfy the equation, everything else known."""

    def single_valued(self, target: Ref, values: Values) -> bool:
        """Whether ``target`` follows as one expression."""


@dataclass
class LawEquation:
    """A law of the theory layer at work on quantities of this exercise.

    ``binding`` says which quantity of which state stands for each name in the law.
    """

    law: Law
    binding: dict[str, Ref]
    generating: bool = False
    because: str = ""
    merged: tuple[tuple[str, str], ...] = ()
    _names: dict[Ref, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        pairs = []
        for name in sorted(self.binding):
            ref = self.binding[name]
            if ref in self._names:
                pairs.append((name, self._names[ref]))
            else:
                self._names[ref] = name
        self.merged = tuple(pairs)

    @property
    def slug(self) -> str:
        """Slug of the law."""
        return self.law.name

    @property
    def title(self) -> str:
        """The law in words."""
        return self.law.title

    @property
    def refs(self) -> tuple[Ref, ...]:
        """Every quantity bound to the law."""
        return tuple(self._names)

    def name_of(self, ref: Ref) -> str:
        """Name that ``ref`` has inside the law."""
        return self._names[ref]

    def form(self, values: Values) -> Form:
        """The law as it stands with what is exactly zero left out."""
        zeros = frozenset(name for ref, name in self._names.items() if ref in values and values[ref] == 0)
        ones = _RATIO if "flux_ratio" in self.binding and values.get(self.binding["flux_ratio"]) == 1 else frozenset()
        return law_form(self.law, zeros, self.merged, self.generating, ones)

    def unknowns(self, values: Values) -> tuple[Ref, ...]:
        """See :class:`Equation`."""
        names = self.form(values).names
        return tuple(self.binding[name] for name in names if self.binding[name] not in values)

    def solutions(self, target: Ref, values: Values, precise: bool) -> list[Number]:
        """See :class:`Equation`."""
        form, name = self.form(values), self._names[target]
        others = tuple(item for item in form.names if item != name)
        numbers = [values[self.binding[item]] for item in others]
        found = []
        for expression in branches(form, name):
            value = _evaluated(expression, others, precise, numbers)
            if value is not None:
                found.append(value)
        return found

    def single_valued(self, target: Ref, values: Values) -> bool:
        """See :class:`Equation`."""
        form = self.form(values)
        return self._names[target] in form.names and len(branches(form, self._names[target])) == 1

    def expression(self, target: Ref, values: Values, branch: int = 0) -> sp.Expr:
        """The law solved for ``target``, over the names of the law."""
        return branches(self.form(values), self._names[target])[branch]

    def residual(self, values: Values, precise: bool) -> Number | None:
        """Left side less right side, or None where it cannot be evaluated."""
        form = self.form(values)
        return _evaluated(form.residual, form.names, precise, [values[self.binding[name]] for name in form.names])


def _evaluated(expression: sp.Expr, names: tuple[str, ...], precise: bool, numbers: Sequence[Number]) -> Number | None:
    try:
        value = evaluator(expression, names, precise)(*numbers)
    except (ValueError, ZeroDivisionError, OverflowError):
        return None
    if isinstance(value, complex) or getattr(value, "imag", 0) != 0:
        return None
    if not abs(value) < 1e30:
        return None
    return value if precise else float(value)


@dataclass
class CurveEquation:
    """The measured curve: the EMF at the curve's speed belongs to the effective field current."""

    curve: Curve
    current: Ref
    emf: Ref
    slug: str = "curve"
    title: str = "the measured curve"
    because: str = ""

    @property
    def refs(self) -> tuple[Ref, ...]:
        """Field current and EMF."""
        return (self.current, self.emf)

    def unknowns(self, values: Values) -> tuple[Ref, ...]:
        """See :class:`Equation`."""
        return tuple(ref for ref in self.refs if ref not in values)

    def solutions(self, target: Ref, values: Values, precise: bool) -> list[Number]:
        """See :class:`Equation`; outside the measured range this is refused."""
        if target == self.emf:
            return [self.curve.emf(values[self.current])]
        return [self.curve.field_current(values[self.emf])]

    def single_valued(self, target: Ref, values: Values) -> bool:
        """A rising curve can be read both ways."""
        return True

    def residual(self, values: Values, precise: bool) -> Number | None:
        """EMF less the curve's EMF, or None outside the measured range."""
        try:
            return values[self.emf] - self.curve.emf(values[self.current])
        except CurveError:
            return None


@dataclass
class WholeEquation:
    """A number made whole: sections of a starter."""

    exact: Ref
    whole: Ref
    rule: str
    slug: str = "whole-number"
    title: str = "a whole number of sections"
    because: str = ""

    @property
    def refs(self) -> tuple[Ref, ...]:
        """The exact and the whole number."""
        return (self.exact, self.whole)

    def unknowns(self, values: Values) -> tuple[Ref, ...]:
        """See :class:`Equation`."""
        return tuple(ref for ref in self.refs if ref not in values)

    def solutions(self, target: Ref, values: Values, precise: bool) -> list[Number]:
        """The whole number from the exact one; the other way nothing follows."""
        if target == self.exact:
            return []
        exact = values[self.exact]
        close = int(exact + 0.5)
        # a hair above a whole number is that number with the rounding of its data
        number = close if self.rule == "nearest" or abs(exact - close) <= 0.01 else int(exact) + 1
        return [type(exact)(max(1, number))]

    def single_valued(self, target: Ref, values: Values) -> bool:
        """Yes."""
        return True

    def residual(self, values: Values, precise: bool) -> Number | None:
        """Nothing to check: rounding is not an equality."""
        return None


@dataclass
class ReadingEquation:
    """A value read off the curve by the author of the exercise; it is told as a step and never turned round."""

    ref: Ref
    beside: Ref
    slug: str = "curve-reading"
    title: str = "read off the magnetisation curve"
    because: str = ""

    @property
    def refs(self) -> tuple[Ref, ...]:
        """The value and the one it was read at."""
        return (self.ref, self.beside)

    def unknowns(self, values: Values) -> tuple[Ref, ...]:
        """None: a reading holds at one point only."""
        return ()

    def solutions(self, target: Ref, values: Values, precise: bool) -> list[Number]:
        """None: see above."""
        return []

    def single_valued(self, target: Ref, values: Values) -> bool:
        """No."""
        return False
