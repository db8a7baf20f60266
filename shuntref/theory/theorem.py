"""What a theorem is: a statement with its exact condition, a proof carried out on request, and a counterexample.

A claim says that an expression, derived from the laws, is positive, negative or zero. Its condition enters the proof as a
substitution: where a margin is to be positive, the margin is set equal to a new positive quantity, one of its symbols is
solved for, and the result is put into the expression, which then has to come out as a product whose sign is plain. Without
the condition there is nothing to put in, and the sign stays open: the proof fails.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import sympy as sp

from shuntref.quantities.registry import REGISTRY
from shuntref.theory.algebra import at_point, has_radical, is_negative, is_positive, positive, vanishes
from shuntref.theory.notation import text
from shuntref.theory.symbols import symbol
from shuntref.theory.worksheet import solve_for

__all__ = [
    "Case",
    "Claim",
    "Counterexample",
    "Margin",
    "MarginAt",
    "Proof",
    "ProofStep",
    "Theorem",
    "Trial",
]

#: quantities of which both signs occur; all others are positive in a proof
EITHER_SIGN = frozenset(
    {
        "electromagnetic_torque",
        "load_torque",
        "loss_torque",
        "armature_current",
        "line_current",
        "winding_temperature",
        "reference_temperature",
        "constant_torque",
        "linear_torque_coefficient",
        "square_torque_coefficient",
    }
)

_SIGNS = {"positive": 1, "negative": -1, "zero": 0}


@dataclass(frozen=True)
class Case:
    """A condition as the proof uses it: ``margin`` is positive, zero, negative, or any real number; ``pivot`` gives way."""

    margin: sp.Expr
    sign: int | None
    pivot: str
    said: str = ""

    @property
    def words(self) -> str:
        """The condition as text."""
        if self.said:
            return self.said
        relation = {1: "> 0", 0: "= 0", -1: "< 0", None: "of either sign"}[self.sign]
        return f"{text(self.margin)} {relation}"

    def put_into(self, expression: sp.Expr, slack: sp.Symbol) -> sp.Expr:
        """Return the expression with the pivot replaced so that the margin is what the case says.

        Examples
        --------
        >>> motoring = Case(symbol("electromagnetic_torque"), 1, "electromagnetic_torque")
        >>> motoring.put_into(-symbol("electromagnetic_torque"), sp.Symbol("s", positive=True))
        -s
        """
        size = slack if self.sign is None else self.sign * slack
        pivot = symbol(self.pivot)
        margin = self.margin - size
        if has_radical(margin):  # a margin that is a root: its square is solved for
            margin = self.margin**2 - size**2
        return expression.subs(pivot, solve_for(sp.Eq(margin, 0, evaluate=False), pivot))


@dataclass(frozen=True)
class Claim:
    """One thing to be proved: ``expression`` is 'positive', 'negative' or 'zero' in the given cases."""

    words: str
    expression: Callable[[], sp.Expr]
    wanted: str
    cases: tuple[Case, ...] = ()


@dataclass(frozen=True)
class ProofStep:
    """One claim as it was worked out: what it was about, what the condition made of it, and whether it held."""

    words: str
    expression: sp.Expr
    cases: tuple[str, ...]
    reduced: sp.Expr
    wanted: str
    holds: bool


@dataclass(frozen=True)
class Proof:
    """All steps of a proof, and whether every one of them held."""

    theorem: str
    steps: tuple[ProofStep, ...]

    @property
    def holds(self) -> bool:
        """Whether there are steps and all of them held."""
        return bool(self.steps) and all(step.holds for step in self.steps)


@dataclass(frozen=True)
class Trial:
    """Numbers to try the conclusion on: ``expression`` ought to have the sign ``claimed`` while the condition holds."""

    words: str
    expression: Callable[[], sp.Expr]
    claimed: str
    inside: Mapping[str, str]
    outside: Mapping[str, str]


@dataclass(frozen=True)
class Counterexample:
    """A trial carried out in exact numbers: the condition, the number found, and whether the conclusion fails there."""

    words: str
    values: dict[str, sp.Rational]
    condition_holds: bool
    number: sp.Expr
    claimed: str
    conclusion_fails: bool


@dataclass(frozen=True)
class Margin:
    """How far a machine is from the edge of a theorem's condition.

    ``expression`` is positive while the condition holds (zero where the condition is an equation); ``unit`` is its unit;
    ``turning`` names the quantity that can be turned until the edge is reached, and ``turning_value`` gives its value there
    (None where no single quantity has one).
    """

    words: str
    expression: sp.Expr
    unit: str
    turning: str = ""
    turning_value: Callable[[], sp.Expr] | None = None


@dataclass(frozen=True)
class MarginAt:
    """The margin at one operating point, and the value at which the direction turns round."""

    words: str
    value: float
    unit: str
    holds: bool
    turning: str = ""
    turning_value: float | None = None


@dataclass(frozen=True)
class Theorem:
    """A named statement about the machine.

    ``condition`` says in words exactly when it holds and ``condition_expr`` as a sympy relation; ``claims`` are what the
    proof proves; ``trial`` holds the numbers of the example and of the counterexample.
    """

    name: str
    statement: str
    condition: str
    condition_expr: sp.Basic
    claims: tuple[Claim, ...]
    trial: Trial
    margin: Margin
    note: str = ""

    def prove(self) -> Proof:
        """Carry the proof out now.

        Returns
        -------
        Proof

        Examples
        --------
        >>> from shuntref.theory.theorems import THEOREMS
        >>> THEOREMS["peak-speed"].prove().holds
        True
        """
        return Proof(self.name, tuple(_prove(claim) for claim in self.claims))

    def without_condition(self) -> Theorem:
        """Return the same theorem with its condition dropped; its proof must fail.

        Returns
        -------
        Theorem

        Examples
        --------
        >>> from shuntref.theory.theorems import THEOREMS
        >>> THEOREMS["peak-speed"].without_condition().prove().holds
        False
        """
        return replace(
            self,
            condition="none",
            condition_expr=sp.true,
            claims=tuple(replace(claim, cases=()) for claim in self.claims),
        )

    def counterexample(self) -> Counterexample:
        """Evaluate the conclusion where the condition does not hold.

        Returns
        -------
        Counterexample

        Examples
        --------
        >>> from shuntref.theory.theorems import THEOREMS
        >>> found = THEOREMS["weakening-the-field"].counterexample()
        >>> found.condition_holds, found.conclusion_fails
        (False, True)
        """
        return self._try(self.trial.outside)

    def example(self) -> Counterexample:
        """Evaluate the conclusion at an ordinary point where the condition holds.

        Returns
        -------
        Counterexample

        Examples
        --------
        >>> from shuntref.theory.theorems import THEOREMS
        >>> found = THEOREMS["weakening-the-field"].example()
        >>> found.condition_holds, found.conclusion_fails
        (True, False)
        """
        return self._try(self.trial.inside)

    def _try(self, written: Mapping[str, str]) -> Counterexample:
        values = {name: sp.Rational(number) for name, number in written.items()}
        number = sp.expand(at_point(self.trial.expression(), values))
        condition = self.condition_expr.subs({symbol(name): value for name, value in values.items()})
        return Counterexample(
            self.trial.words,
            values,
            bool(condition == sp.true),
            number,
            self.trial.claimed,
            bool(sp.sign(number) != _SIGNS[self.trial.claimed]),
        )

    @cached_property
    def _margin_functions(self) -> tuple[sp.Expr, sp.Expr | None]:
        turning = self.margin.turning_value
        return self.margin.expression, turning() if turning is not None else None

    def margin_at(self, values: Mapping[str, float]) -> MarginAt:
        """Return how far an operating point is from the edge of the condition.

        Parameters
        ----------
        values : registry quantities at the operating point; the resistance of a whole circuit is found from its parts, and
            a brush drop is taken off the supply voltage, with the sign of the torque

        Returns
        -------
        MarginAt

        Raises
        ------
        ValueError
            When a quantity that the margin needs is missing.

        Examples
        --------
        >>> from shuntref.theory.theorems import THEOREMS
        >>> point = {"supply_voltage": 120.0, "k_phi": 0.75, "electromagnetic_torque": 6.0,
        ...          "armature_circuit_resistance": 0.8}
        >>> found = THEOREMS["weakening-the-field"].margin_at(point)
        >>> round(found.value, 6), found.unit, found.turning, round(found.turning_value, 6)
        (53.6, 'V', 'k_phi', 0.08)
        """
        expression, turning = self._margin_functions
        known = _with_totals(values)
        value = _number(expression, known, self.name)
        try:
            turn = _number(turning, known, self.name) if turning is not None else None
        except ZeroDivisionError:
            turn = None  # no torque: the direction does not turn anywhere
        holds = value > 0
        if isinstance(self.condition_expr, sp.Eq):  # an equation between floats holds to rounding
            scale = max(abs(known[s.name]) for s in expression.free_symbols)
            holds = abs(value) <= 1e-12 * scale
        return MarginAt(self.margin.words, value, self.margin.unit, holds, self.margin.turning, turn)


def _prove(claim: Claim) -> ProofStep:
    expression = claim.expression()
    reduced = expression
    for number, case in enumerate(claim.cases):
        name = "stuvw"[number]
        slack = sp.Symbol(name, real=True) if case.sign is None else sp.Symbol(name, positive=True)
        reduced = case.put_into(reduced, slack)
    besides = [s for s in reduced.free_symbols if s.name in EITHER_SIGN or not (s.name in REGISTRY or s.is_positive)]
    if claim.wanted == "zero":
        holds = vanishes(reduced)
    elif claim.wanted == "positive":
        holds = is_positive(reduced, besides)
    else:
        holds = is_negative(reduced, besides)
    shown = reduced if has_radical(reduced) else sp.factor(positive(reduced, besides))
    return ProofStep(claim.words, expression, tuple(case.words for case in claim.cases), shown, claim.wanted, holds)


def _with_totals(values: Mapping[str, float]) -> dict[str, float]:
    known = {name: float(value) for name, value in values.items()}
    for total, parts in (
        ("armature_circuit_resistance", ("armature_resistance", "added_armature_resistance")),
        ("field_circuit_resistance", ("field_resistance", "added_field_resistance")),
    ):
        if total not in known and parts[0] in known:
            known[total] = known[parts[0]] + known.get(parts[1], 0.0)
    if "brush_drop" in known and "supply_voltage" in known:
        # the theorems are stated with the brush drop folded into the voltage; it opposes the current
        torque = known.get("electromagnetic_torque", known.get("armature_current", 0.0))
        known["supply_voltage"] -= known["brush_drop"] * ((torque > 0) - (torque < 0))
    return known


def _number(expression: sp.Expr, known: Mapping[str, float], theorem: str) -> float:
    names = sorted(s.name for s in expression.free_symbols)
    missing = [name for name in names if name not in known]
    if missing:
        raise ValueError(f"theorem {theorem}: the margin needs {', '.join(missing)} of the operating point")
    function = sp.lambdify([symbol(name) for name in names], expression, modules="math")
    return float(function(*(known[name] for name in names)))
