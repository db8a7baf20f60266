"""Expressions printed for a language: one printer, and a short table of what differs between the languages."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import sympy as sp

__all__ = ["JAVASCRIPT", "OCTAVE", "OPENFORMULA", "PYTHON", "C", "Dialect", "infix"]

#: how tightly what was printed holds together, the loosest first
_CONDITION, _SUM, _PRODUCT, _ATOM = range(4)


def _conditional(condition: str, then: str, otherwise: str) -> str:
    return f"({condition} ? {then} : {otherwise})"


@dataclass(frozen=True)
class Dialect:
    """What one language calls things.

    ``functions`` names sqrt, Abs, sign, log, ceiling, Max and Min; ``power`` the general power; ``number`` writes a whole
    number so that no division becomes one of whole numbers; ``name`` turns a quantity into a variable or a cell.
    """

    functions: Mapping[str, str]
    power: Callable[[str, str], str]
    conditional: Callable[[str, str, str], str] = _conditional
    both: str = " && "
    either: str = " || "
    unequal: str = "!="
    equal: str = "=="
    pi: str = "pi"
    separator: str = ", "
    number: Callable[[int], str] = str
    name: Callable[[str], str] = field(default=str)


C = Dialect(
    {"sqrt": "sqrt", "Abs": "fabs", "sign": "sign_of", "log": "log", "ceiling": "ceil"},
    lambda base, exponent: f"pow({base}, {exponent})",
    pi="PI",
    number=lambda whole: f"{whole}.0",
)
JAVASCRIPT = Dialect(
    {"sqrt": "Math.sqrt", "Abs": "Math.abs", "sign": "Math.sign", "log": "Math.log", "ceiling": "Math.ceil"},
    lambda base, exponent: f"Math.pow({base}, {exponent})",
    unequal="!==",
    equal="===",
    pi="Math.PI",
)
PYTHON = Dialect(
    {"sqrt": "math.sqrt", "Abs": "abs", "sign": "_sign", "log": "math.log", "ceiling": "math.ceil"},
    lambda base, exponent: f"math.pow({base}, {exponent})",
    lambda condition, then, otherwise: f"({then} if {condition} else {otherwise})",
    " and ",
    " or ",
    pi="math.pi",
)
OCTAVE = Dialect(
    {"sqrt": "sqrt", "Abs": "abs", "sign": "sign", "log": "log", "ceiling": "ceil"},
    lambda base, exponent: f"power({base}, {exponent})",
    lambda condition, then, otherwise: f"choose({condition}, {then}, {otherwise})",
)
OPENFORMULA = Dialect(
    {"sqrt": "SQRT", "Abs": "ABS", "sign": "SIGN", "log": "LN", "ceiling": "CEILING"},
    lambda base, exponent: f"POWER({base};{exponent})",
    lambda condition, then, otherwise: f"IF({condition};{then};{otherwise})",
    pi="PI()",
    separator=";",
    unequal="<>",
    equal="=",
)


def infix(expression: sp.Basic, dialect: Dialect) -> str:
    """Return ``expression`` in the notation of ``dialect``.

    Parameters
    ----------
    expression
        Sums, products, powers, square roots, |x|, sign, logarithm, ceiling, conditions and pieces.
    dialect
        One of the languages above.

    Raises
    ------
    ValueError
        For anything else.

    Examples
    --------
    >>> U, I, R = sp.symbols("U I R")
    >>> infix(U - I * R, C), infix((U / R) ** 2 / 2, C), infix(sp.sqrt(U) / 3, PYTHON)
    ('U - I * R', '0.5 * U * U / (R * R)', 'math.sqrt(U) / 3')
    """
    return _print(expression, dialect)[0]


def _wrap(printed: tuple[str, int], least: int) -> str:
    text, rank = printed
    return text if rank >= least else f"({text})"


def _print(e: sp.Basic, d: Dialect) -> tuple[str, int]:
    if isinstance(e, sp.Symbol):
        return d.name(e.name), _ATOM
    if e is sp.pi:
        return d.pi, _ATOM
    if isinstance(e, sp.Number):
        return _number(e, d)
    if isinstance(e, sp.Add):
        return _sum(e, d), _SUM
    if isinstance(e, sp.Mul):
        return _product(e, d)
    if isinstance(e, sp.Pow):
        return _power(e.base, e.exp, d)
    if isinstance(e, sp.Piecewise):
        return _pieces(e, d), _ATOM
    if isinstance(e, sp.And | sp.Or):
        mark = d.both if isinstance(e, sp.And) else d.either
        parts = [_print(a, d)[0] for a in sorted(e.args, key=sp.default_sort_key)]
        if d.separator == ";":
            return f"{'AND' if isinstance(e, sp.And) else 'OR'}({';'.join(parts)})", _ATOM
        return mark.join(f"({part})" for part in parts), _CONDITION
    if isinstance(e, sp.core.relational.Relational):
        mark = {"==": d.equal, "!=": d.unequal}.get(e.rel_op, e.rel_op)
        return f"{_print(e.lhs, d)[0]} {mark} {_print(e.rhs, d)[0]}", _CONDITION
    name = type(e).__name__
    if name in d.functions:
        return f"{d.functions[name]}({d.separator.join(_print(a, d)[0] for a in e.args)})", _ATOM
    raise ValueError(f"the expression {e} cannot be written in the exported languages")


def _number(e: sp.Number, d: Dialect) -> tuple[str, int]:
    if e.is_negative:
        return f"-{_wrap(_number(-e, d), _ATOM)}", _SUM
    if isinstance(e, sp.Integer):
        return d.number(int(e)), _ATOM
    if isinstance(e, sp.Rational):
        if e.q & (e.q - 1) == 0 and e.q <= 1024:  # an exact binary fraction
            return repr(float(e)), _ATOM
        return f"{d.number(e.p)} / {d.number(e.q)}", _PRODUCT
    return repr(float(e)), _ATOM


def _negative(e: sp.Basic) -> bool:
    return bool(e.as_coeff_Mul()[0].is_negative) if isinstance(e, sp.Expr) else False


def _sum(e: sp.Add, d: Dialect) -> str:
    """Print a sum with the terms that are added before those that are taken off."""
    terms = sorted(e.as_ordered_terms(), key=_negative)
    text = _wrap(_print(terms[0], d), _SUM)
    for term in terms[1:]:
        mark, shown = ("-", -term) if _negative(term) else ("+", term)
        text += f" {mark} {_wrap(_print(shown, d), _PRODUCT)}"
    return text


def _product(e: sp.Mul, d: Dialect) -> tuple[str, int]:
    if _negative(e):
        for factor in (-e).as_ordered_factors():  # (b - a) c rather than -(a - b) c
            if isinstance(factor, sp.Add) and any(map(_negative, factor.args)):
                return _print(
                    sp.Mul(*(x if x != factor else -factor for x in (-e).as_ordered_factors()), evaluate=False), d
                )
        return f"-{_wrap(_print(-e, d), _PRODUCT)}", _SUM
    above, below = [], []
    for factor in e.as_ordered_factors():
        if isinstance(factor, sp.Pow) and factor.exp.is_number and factor.exp.is_negative:
            below.append(factor.base ** (-factor.exp))
        elif isinstance(factor, sp.Rational) and not isinstance(factor, sp.Integer) and factor.q & (factor.q - 1):
            above.append(sp.Integer(factor.p))
            below.insert(0, sp.Integer(factor.q))
        else:
            above.append(factor)
    above = [factor for factor in above if factor != 1]
    top = " * ".join(_wrap(_print(f, d), _PRODUCT) for f in above) or d.number(1)
    if not below:
        return top, _PRODUCT
    if len(below) == 1:
        return f"{top} / {_wrap(_print(below[0], d), _ATOM)}", _PRODUCT
    return f"{top} / ({' * '.join(_wrap(_print(f, d), _PRODUCT) for f in below)})", _PRODUCT


def _power(base: sp.Basic, exponent: sp.Basic, d: Dialect) -> tuple[str, int]:
    if exponent == sp.Rational(1, 2):
        return f"{d.functions['sqrt']}({_print(base, d)[0]})", _ATOM
    if exponent in (2, 3, 4) and isinstance(base, sp.Symbol):
        return " * ".join([_print(base, d)[0]] * int(exponent)), _PRODUCT
    if isinstance(exponent, sp.Expr) and exponent.is_number and exponent.is_negative:
        below = _print(sp.Pow(base, -exponent), d)
        return f"{d.number(1)} / {_wrap(below, _ATOM)}", _PRODUCT
    return d.power(_print(base, d)[0], _print(exponent, d)[0]), _ATOM


def _pieces(e: sp.Piecewise, d: Dialect) -> str:
    (value, condition), *rest = e.args
    if condition == sp.true or not rest:
        return _print(value, d)[0]
    otherwise = _pieces(sp.Piecewise(*rest, evaluate=False), d) if rest[0][1] != sp.true else _print(rest[0][0], d)[0]
    return d.conditional(_print(condition, d)[0], _print(value, d)[0], otherwise)
