"""Writing expressions with the symbols of the registry, in the order a teacher writes them."""

from __future__ import annotations

from functools import cache
from typing import Any

import sympy as sp
from sympy.printing.latex import LatexPrinter
from sympy.printing.precedence import PRECEDENCE
from sympy.printing.str import StrPrinter

from shuntref.quantities.registry import REGISTRY, quantity

__all__ = ["latex", "text", "unit_latex"]

# Which factor is written first: torque, flux, ratio, voltage, current, resistance, speed.
_RANK = {"N m": 0, "V s/rad": 1, "V s/(rad A)": 1, "A/A": 2, "V": 3, "A": 4, "ohm": 5, "rad/s": 7, "r/min": 7}
# Written out of the registry's order: I_a before I_f in a sum.
_PLACE = {"armature_current": "field_current"}
_SUPERSCRIPTS = {"**2": "²", "**3": "³", "**4": "⁴"}


@cache
def _stand_in(name: str) -> sp.Symbol:
    """A symbol whose name sorts where the quantity is wanted; sympy orders factors by name.

    The name starts with a letter: some versions write a dot between a number and what starts with a digit.
    """
    if name not in REGISTRY:
        return sp.Symbol(f"q9 {name}", positive=True)
    names = list(REGISTRY)
    place = f"{names.index(_PLACE.get(name, name)):03d}" + ("" if name in _PLACE else "~")
    rank = 0 if name == "temperature_constant" else _RANK.get(REGISTRY[name].unit, 6)
    return sp.Symbol(f"q{rank}{place} {name}", positive=True)


class _Size(sp.Function):  # type: ignore[misc, unused-ignore]
    """An absolute value, of whatever sign."""


class _Direction(sp.Function):  # type: ignore[misc, unused-ignore]
    """The sign of a quantity, of whatever sign."""


def _shown(stand_in: sp.Symbol) -> str:
    return str(stand_in.name.split(" ", 1)[1])


def _term_key(term: sp.Expr) -> tuple[bool, bool, int, str]:
    names = sorted(s.name for s in term.free_symbols)
    last = any(_shown(s) == "brush_drop" for s in term.free_symbols)
    return (term.could_extract_minus_sign(), last, int(sp.count_ops(term)), names[0] if names else "")


class _TextPrinter(StrPrinter):  # type: ignore[misc, unused-ignore]
    def _as_ordered_terms(self, expr: sp.Expr, order: Any = None) -> list[sp.Expr]:
        return sorted(sp.Add.make_args(expr), key=_term_key)

    def _print_Symbol(self, expr: sp.Symbol) -> str:
        name = _shown(expr)
        return REGISTRY[name].symbol if name in REGISTRY else name

    def _print__Size(self, expr: sp.Expr) -> str:
        return f"|{self._print(expr.args[0])}|"

    def _print__Direction(self, expr: sp.Expr) -> str:
        return f"sign({self._print(expr.args[0])})"


def _raised(exponent: Any) -> str:
    # a power of a function hands its exponent to the function's own printer
    return "" if exponent is None else f"^{{{exponent}}}"


class _LatexPrinter(LatexPrinter):  # type: ignore[misc, unused-ignore]
    def _as_ordered_terms(self, expr: sp.Expr, order: Any = None) -> list[sp.Expr]:
        return sorted(sp.Add.make_args(expr), key=_term_key)

    def _print_Symbol(self, expr: sp.Symbol, style: str = "plain") -> str:
        name = _shown(expr)
        return REGISTRY[name].latex if name in REGISTRY else rf"\mathrm{{{name}}}"

    def _print__Size(self, expr: sp.Expr, exp: Any = None) -> str:
        return rf"\left|{self._print(expr.args[0])}\right|" + _raised(exp)

    def _print__Direction(self, expr: sp.Expr, exp: Any = None) -> str:
        return rf"\mathrm{{sign}}\left({self._print(expr.args[0])}\right)" + _raised(exp)

    def parenthesize(self, item: sp.Expr, level: int, **options: Any) -> str:
        written = str(super().parenthesize(item, level, **options))
        # k\Phi is one quantity: its square is not k times the square of Phi
        several = item.is_Symbol and written.startswith("k") and level >= PRECEDENCE["Pow"]
        return rf"\left({written}\right)" if several else written


def _dressed(expression: sp.Basic) -> sp.Basic:
    # the stand-ins are positive, so what asks for a direction would lose it
    expression = expression.replace(sp.sign, _Direction).replace(sp.Abs, _Size)
    return expression.xreplace({s: _stand_in(s.name) for s in expression.free_symbols})


def text(expression: sp.Expr | sp.Eq) -> str:
    """Return an expression or equation as a line of text.

    Examples
    --------
    >>> from shuntref.theory.closed_forms import closed_form
    >>> text(closed_form("speed"))
    'U/kPhi - T_e·R/kPhi²'
    """
    if isinstance(expression, sp.Eq):
        return f"{text(expression.lhs)} = {text(expression.rhs)}"
    line = str(_TextPrinter().doprint(_dressed(expression)))
    for power, sign in _SUPERSCRIPTS.items():
        line = line.replace(power, sign)
    return line.replace("**", "^").replace("*", "·")


def latex(expression: sp.Expr | sp.Eq) -> str:
    r"""Return an expression or equation in LaTeX, for math mode.

    Examples
    --------
    >>> from shuntref.theory.closed_forms import closed_form
    >>> print(latex(closed_form("speed")))
    \frac{U}{k\Phi} - \frac{T_e R}{\left(k\Phi\right)^{2}}
    """
    if isinstance(expression, sp.Eq):
        return f"{latex(expression.lhs)} = {latex(expression.rhs)}"
    return str(_LatexPrinter().doprint(_dressed(expression)))


def unit_latex(name: str) -> str:
    r"""Return the unit of a quantity in LaTeX, for math mode.

    Examples
    --------
    >>> print(unit_latex("k_phi"), unit_latex("armature_resistance"))
    \mathrm{V\,s/rad} \Omega
    """
    unit = quantity(name).unit
    if unit == "ohm":
        return r"\Omega"
    if unit == "degC":
        return r"{}^{\circ}\mathrm{C}"
    return rf"\mathrm{{{unit}}}".replace(" ", r"\,") if unit != "1" else "1"
