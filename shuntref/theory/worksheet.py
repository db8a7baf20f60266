"""A worksheet: equations carried from step to step by sympy, each step remembering what it was made from."""

from __future__ import annotations

from dataclasses import dataclass

import sympy as sp

from shuntref.theory.algebra import at_point, has_radical
from shuntref.theory.laws import law
from shuntref.theory.symbols import symbol

__all__ = ["Step", "Worksheet", "solve_for"]

# One ordinary motoring point, exact numbers; used only to tell the larger of two roots from the smaller.
_ORDINARY = {
    name: sp.Rational(text)
    for name, text in (
        ("supply_voltage", "120"),
        ("source_voltage", "121"),
        ("field_voltage", "120"),
        ("field_resistance", "160"),
        ("added_field_resistance", "20"),
        ("field_circuit_resistance", "180"),
        ("armature_resistance", "4/5"),
        ("added_armature_resistance", "1/5"),
        ("armature_circuit_resistance", "1"),
        ("line_resistance", "1/10"),
        ("brush_drop", "2"),
        ("field_current", "2/3"),
        ("k_phi", "7/10"),
        ("flux_constant", "21/20"),
        ("remanent_k_phi", "1/50"),
        ("froehlich_a", "8/5"),
        ("froehlich_b", "9/10"),
        ("reaction_coefficient", "1/250"),
        ("speed", "160"),
        ("electromagnetic_torque", "5"),
        ("load_torque", "9/2"),
        ("loss_torque", "1/2"),
        ("undisturbed_k_phi", "7/10"),
        ("flux_loss_per_ampere", "1/1000"),
        ("constant_power", "100"),
        ("constant_torque", "1"),
        ("linear_torque_coefficient", "1/100"),
        ("square_torque_coefficient", "1/10000"),
    )
}


# A result of more operations than this is left as it is: factoring it takes long and makes it no easier to read.
_LONG = 30


@dataclass(frozen=True)
class Step:
    """One step of a derivation.

    ``law`` is the slug of the law brought in ('' for pure algebra), ``kind`` one of 'law', 'substitute', 'solve',
    'differentiate', 'name'; ``operation`` says in words what is done, with quantities in braces; ``applied`` is the
    equation put in, ``before`` the equation worked on, ``result`` the equation that sympy made of them.
    """

    number: int
    law: str
    kind: str
    operation: str
    result: sp.Eq
    before: sp.Eq | None = None
    applied: sp.Eq | None = None

    @property
    def residual(self) -> sp.Expr:
        """Left side minus right side of the result."""
        return self.result.lhs - self.result.rhs


def solve_for(equation: sp.Eq, unknown: sp.Symbol, branch: str = "") -> sp.Expr:
    """Solve an equation for one symbol and pick the wanted root.

    Parameters
    ----------
    equation : the equation
    unknown : the symbol to solve for
    branch : 'upper' or 'lower' when there are two roots

    Returns
    -------
    sympy expression

    Raises
    ------
    ValueError
        When there is no root, or several and no branch was asked for.

    Examples
    --------
    >>> E, k, w = sp.symbols("E k w")
    >>> solve_for(sp.Eq(E, k*w), w)
    E/k
    """
    if equation.lhs == unknown and not equation.rhs.has(unknown):
        return equation.rhs
    numerator = sp.numer(sp.together(equation.lhs - equation.rhs))
    roots = _roots(numerator, unknown)
    if len(roots) == 1:
        return _tidy(roots[0])
    if len(roots) != 2 or branch not in ("upper", "lower"):
        raise ValueError(
            f"solving for {unknown}: {len(roots)} roots, branch {branch!r}; give branch 'upper' or 'lower'"
        )
    # A quadratic's roots keep their order as long as they are real and the leading coefficient keeps its sign.
    first, second = (at_point(root, _ORDINARY) for root in roots)
    larger = bool(first > second)
    return _usual_signs(roots[0] if larger == (branch == "upper") else roots[1])


def _roots(polynomial: sp.Expr, unknown: sp.Symbol) -> list[sp.Expr]:
    """Roots of an equation; one of the first degree is solved at once, which sympy's general solver takes long over."""
    slope = sp.diff(polynomial, unknown)
    if slope != 0 and not slope.has(unknown):
        return [-polynomial.subs(unknown, 0) / slope]
    return list(sp.solve(polynomial, unknown, simplify=False, check=False))


def _tidy(expression: sp.Expr) -> sp.Expr:
    """Write a quotient by a single term as separate terms; leave anything else in factors."""
    if has_radical(expression):
        return _usual_signs(expression)
    factored = sp.factor(expression)
    denominator = sp.denom(factored)
    several = denominator.is_Add or any(f.is_Add for f in denominator.args)
    return _usual_signs(factored) if several else sp.expand(factored)


def _usual_signs(expression: sp.Expr) -> sp.Expr:
    """Write each bracket the way round in which it is positive at an ordinary point: U - U_b, not U_b - U."""
    if expression.is_Atom:
        return expression
    parts = [_usual_signs(part) for part in expression.args]
    if expression.is_Pow and parts[1].is_Integer and _is_reversed(parts[0]):
        return (-1) ** parts[1] * (-parts[0]) ** parts[1]
    if expression.is_Mul:
        turned = [-part if _is_reversed(part) else part for part in parts]
        return sp.Mul(*turned) * (-1) ** sum(map(_is_reversed, parts))
    return expression.func(*parts)


def _is_reversed(bracket: sp.Expr) -> bool:
    if not bracket.is_Add:
        return False
    value = at_point(bracket, _ORDINARY)
    return bool(value.is_number and value.is_negative)


def _shorter(expression: sp.Expr) -> sp.Expr:
    """Return the expression, or its factored form where that is shorter."""
    if has_radical(expression) or sp.count_ops(expression) > _LONG:
        return expression
    return _usual_signs(min((expression, sp.factor(expression)), key=sp.count_ops))


class Worksheet:
    """Equations worked on in order; ``steps`` grows by one with every call.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> sheet.state("armature-emf")
    >>> sheet.solve("speed")
    >>> sheet.current
    Eq(speed, back_emf/k_phi)
    >>> sheet.keep("speed of EMF")
    >>> sheet.state("speed-conversion")
    >>> sheet.solve("speed_rpm")
    >>> sheet.put("speed of EMF")
    >>> sheet.current
    Eq(speed_rpm, 30*back_emf/(pi*k_phi))
    >>> sheet.take_up("speed of EMF")
    >>> sheet.use("armature-drop-neglected", "back_emf")
    >>> sheet.name("ideal_no_load_speed")
    >>> [step.kind for step in sheet.steps]
    ['law', 'solve', 'law', 'solve', 'substitute', 'return', 'substitute', 'name']
    """

    def __init__(self) -> None:
        self.steps: list[Step] = []
        self.named: dict[str, sp.Eq] = {}

    @property
    def current(self) -> sp.Eq:
        """The equation last arrived at."""
        return self.steps[-1].result

    def _add(
        self,
        law_name: str,
        kind: str,
        operation: str,
        result: sp.Eq,
        before: sp.Eq | None = None,
        applied: sp.Eq | None = None,
    ) -> None:
        self.steps.append(Step(len(self.steps) + 1, law_name, kind, operation, result, before, applied))

    def state(self, law_name: str) -> None:
        """Write a law down as the equation to work on."""
        self._add(law_name, "law", "start from the law", law(law_name).equation)

    def use(self, law_name: str, unknown: str) -> None:
        """Solve a law for one quantity and put the outcome into the equation; nothing happens if it is not in it."""
        x = symbol(unknown)
        if not self.current.has(x):
            return
        applied = sp.Eq(x, solve_for(law(law_name).equation, x), evaluate=False)
        self._substitute(law_name, applied, f"put it in place of {{{unknown}}}")

    def put(self, label: str) -> None:
        """Put an earlier result, kept by ``keep``, into the equation."""
        applied = self.named[label]
        if self.current.has(applied.lhs):
            self._substitute("", applied, f"put in the {{{applied.lhs.name}}} found above")

    def keep(self, label: str) -> None:
        """Remember the present, solved equation under a label."""
        self.named[label] = self.current

    def take_up(self, label: str) -> None:
        """Return to a kept equation and go on with it."""
        kept = self.named[label]
        self._add("", "return", "take up again", kept, before=kept)

    def _substitute(self, law_name: str, applied: sp.Eq, operation: str) -> None:
        before = self.current
        sides = [side.xreplace({applied.lhs: applied.rhs}) for side in before.args]
        result = sp.Eq(sides[0], _shorter(sides[1]) if sides[0].is_Symbol else sides[1], evaluate=False)
        self._add(law_name, "substitute", operation, result, before, applied)

    def solve(self, unknown: str, branch: str = "") -> None:
        """Solve the equation for one quantity; nothing happens if it is solved for it already."""
        before, x = self.current, symbol(unknown)
        if before.lhs == x and not before.rhs.has(x):
            return
        words = f"solve for {{{unknown}}}" + (f", the {branch} of the two roots" if branch else "")
        self._add("", "solve", words, sp.Eq(x, solve_for(before, x, branch), evaluate=False), before)

    def differentiate(self, wrt: str) -> None:
        """Set the derivative of the solved right-hand side to zero, to find where it peaks."""
        before = self.current
        slope = sp.factor(sp.diff(before.rhs, symbol(wrt)))
        self._add(
            "",
            "differentiate",
            f"differentiate {{{before.lhs.name}}} with respect to {{{wrt}}} and set to zero",
            sp.Eq(slope, 0, evaluate=False),
            before,
        )

    def name(self, new: str) -> None:
        """Give the solved quantity the name it has at this special point."""
        before = self.current
        applied = sp.Eq(before.lhs, symbol(new), evaluate=False)
        result = sp.Eq(symbol(new), before.rhs, evaluate=False)
        self._add("", "name", f"this {{{before.lhs.name}}} is the {{{new}}}", result, before, applied)
