"""How the steps of an exported function are obtained: each one is a law of the theory layer solved for one quantity.

Nothing here is a formula typed in: a step names a law and the unknown, sympy solves it, and the words of the law become
the comment. Where a quadratic arises, the wanted root is written in the form that does not cancel.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import sympy as sp

from shuntref.conformance.export.steps import (
    Let,
    ListOf,
    LookUp,
    Program,
    RefuseIf,
    RefuseTable,
    Step,
    SumOver,
    TakeItem,
)
from shuntref.conformance.functions import function
from shuntref.quantities.registry import REGISTRY
from shuntref.theory.laws import law

__all__ = ["Recipe", "solved", "symbol"]

#: the sign of the armature current where the current itself is what is looked for
DIRECTION = "current_direction"


def symbol(name: str) -> sp.Symbol:
    """Return the symbol of a quantity or of an intermediate result."""
    return sp.Symbol(name, real=True)


def equation(name: str, using: Sequence[tuple[str, str]] = (), renamed: Mapping[str, str] | None = None) -> sp.Expr:
    """Return the residual of a law with quantities replaced by way of other laws, and then renamed.

    Parameters
    ----------
    name
        The law.
    using
        Pairs (law, quantity): the quantity is replaced by what that law says of it.
    renamed
        Quantity -> name of the same quantity in another state.

    Returns
    -------
    sympy expression that is zero where the law holds

    Examples
    --------
    >>> equation("field-circuit", [("shunt-connection", "field_voltage")])
    -field_circuit_resistance*field_current + supply_voltage
    """
    residual = law(name).residual
    for other, quantity in using:
        residual = residual.subs(symbol(quantity), _solve(law(other).residual, quantity))
    return residual.subs({symbol(old): symbol(new) for old, new in (renamed or {}).items()}, simultaneous=True)


def _solve(residual: sp.Expr, unknown: str) -> sp.Expr:
    """Solve for an unknown in which the equation, or its numerator, is linear."""
    x = symbol(unknown)
    if sp.simplify(sp.diff(residual, x)).has(x):
        residual = sp.collect(sp.expand(sp.numer(sp.together(residual))), x)
    coefficient = sp.factor(sp.diff(residual, x))
    if not residual.has(x) or coefficient.has(x):
        raise ValueError(f"{residual} is not linear in {unknown}")
    rest = sp.factor_terms(residual.subs(x, 0))
    terms = sp.Add.make_args(coefficient)
    if 2 * sum(bool(term.as_coeff_Mul()[0].is_negative) for term in terms) > len(terms):
        return rest / -coefficient
    return -rest / coefficient


def solved(
    unknown: str, name: str, using: Sequence[tuple[str, str]] = (), renamed: Mapping[str, str] | None = None
) -> sp.Expr:
    """Return what a law says of ``unknown``; see :func:`equation`.

    Examples
    --------
    >>> solved("speed", "armature-emf")
    back_emf/k_phi
    >>> solved("armature_current", "current-sum", renamed={"line_current": "reference_line_current"})
    -field_current + reference_line_current
    """
    return _solve(equation(name, using, renamed), (renamed or {}).get(unknown, unknown))


def root(residual: sp.Expr, unknown: str, branch: str) -> tuple[sp.Expr, sp.Expr]:
    """Return the discriminant of a quadratic, and the wanted root in terms of its square root, free of cancellation.

    With a x^2 + b x + c = 0 the discriminant is 1 - 4 a c / b^2, a plain number. ``branch`` is "far" for the root
    -b (1 + sqrt(D)) / 2a, and "near" for the other one, -2c / (b (1 + sqrt(D))), which stays finite as a vanishes.

    Examples
    --------
    >>> U, k, w, R, T = map(symbol, ("supply_voltage", "k_phi", "speed", "resistance", "torque"))
    >>> root(k * w - U + T * R / k, "k_phi", "far")
    (-4*resistance*speed*torque/supply_voltage**2 + 1, supply_voltage*(sqrt_of_discriminant + 1)/(2*speed))
    >>> root(k * w - U + T * R / k, "k_phi", "near")[1]
    2*resistance*torque/(supply_voltage*(sqrt_of_discriminant + 1))
    """
    numerator = sp.numer(sp.together(residual))
    a, b, c = (sp.factor(x) for x in sp.Poly(numerator, symbol(unknown)).all_coeffs())
    size = 1 + symbol("sqrt_of_discriminant")
    far, near = sp.factor(-b / a) * size / 2, sp.factor(-c / b) * 2 / size
    return 1 - sp.factor(4 * a * c / b**2), far if branch == "far" else near


class Recipe:
    """Collects the steps of one function."""

    def __init__(self, name: str) -> None:
        self._function = function(name)
        self._steps: list[Step] = []

    @property
    def program(self) -> Program:
        """The function with its steps."""
        return Program(self._function, tuple(self._steps))

    def law(
        self, unknown: str, name: str, using: Sequence[tuple[str, str]] = (), renamed: Mapping[str, str] | None = None
    ) -> None:
        """Find ``unknown`` (or what it is renamed to) by a law."""
        target = (renamed or {}).get(unknown, unknown)
        self._steps.append(Let(target, solved(unknown, name, using, renamed), _unit(target, unknown), law(name).title))

    def let(self, name: str, expression: sp.Expr, words: str, unit: str = "") -> None:
        """Name an expression that was derived elsewhere."""
        self._steps.append(Let(name, expression, unit or _unit(name), words))

    def quadratic(self, unknown: str, residual: sp.Expr, branch: str, words: str, refusal: str) -> None:
        """Find ``unknown`` as a root of a quadratic; inputs for which it is not real are refused."""
        discriminant, expression = root(residual, unknown, branch)
        self.let("discriminant", discriminant, "under the square root of the solution", "1")
        self.refuse(symbol("discriminant") < 0, refusal)
        self.let(unknown, expression.subs(symbol("sqrt_of_discriminant"), sp.sqrt(symbol("discriminant"))), words)

    def refuse(self, condition: sp.Basic, text: str) -> None:
        """Refuse the inputs where ``condition`` holds."""
        self._steps.append(RefuseIf(condition, text))

    def table(self, demand: str, *lists: str, count: int = 0) -> None:
        """Refuse lists that are not as demanded."""
        self._steps.append(RefuseTable(demand, lists, count))

    def look_up(self, name: str, xs: str, ys: str, at: str, words: str) -> None:
        """Read off a table."""
        self._steps.append(LookUp(name, xs, ys, at, _unit(name), words))

    def sum(self, name: str, term: sp.Expr, lists: Sequence[str], words: str, unit: str) -> None:
        """Add up over readings."""
        self._steps.append(SumOver(name, term, tuple(lists), unit, words))

    def list_of(self, name: str, term: sp.Expr, counter: str, count: str, words: str) -> None:
        """List a quantity for each step."""
        self._steps.append(ListOf(name, term, counter, count, _unit(name), words))

    def take(self, source: str, position: int) -> sp.Symbol:
        """Return the symbol of one reading of a list."""
        name = f"{source}_{position}"
        self._steps.append(TakeItem(name, source, position, _unit(source)))
        return symbol(name)


def _unit(*names: str) -> str:
    for name in names:
        if name in REGISTRY:
            return REGISTRY[name].unit
        for prefix in ("reference_", "hot_"):
            if name.startswith(prefix) and name.removeprefix(prefix) in REGISTRY:
                return REGISTRY[name.removeprefix(prefix)].unit
    raise ValueError(f"{names[0]} is no quantity; give its unit")
