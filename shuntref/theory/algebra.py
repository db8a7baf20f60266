"""Deciding whether an expression is zero, or signed, by algebra alone: no numerical guess, no open-ended simplifying."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

import sympy as sp

__all__ = ["has_radical", "is_negative", "is_positive", "positive", "vanishes"]


@lru_cache(maxsize=512)
def _positive_symbol(name: str) -> sp.Symbol:
    return sp.Symbol(name, positive=True)


def positive(expression: sp.Expr, besides: Iterable[sp.Symbol] = ()) -> sp.Expr:
    """Return the expression with every symbol taken as positive, except those named in ``besides``.

    Parameters
    ----------
    expression : sympy expression
    besides : symbols that keep their own assumptions, because either sign is meant

    Returns
    -------
    sympy expression

    Examples
    --------
    >>> from shuntref.theory.symbols import symbol
    >>> positive(symbol("k_phi")).is_positive, symbol("k_phi").is_positive
    (True, None)
    """
    kept = set(besides)
    names = {s: _positive_symbol(s.name) for s in expression.free_symbols if s not in kept and not s.is_positive}
    return expression.xreplace(names)


def has_radical(expression: sp.Expr) -> bool:
    """Return whether a root of something occurs in the expression.

    Examples
    --------
    >>> x = sp.Symbol("x")
    >>> has_radical(sp.sqrt(x + 1)), has_radical(1/x**2)
    (True, False)
    """
    return any(not power.exp.is_Integer for power in expression.atoms(sp.Pow))


def _is_root(expression: sp.Expr) -> bool:
    return bool(expression.is_Pow and expression.exp.is_Rational and expression.exp.q == 2)


def vanishes(expression: sp.Expr) -> bool:
    """Return True only when the expression is proved to be identically zero for positive symbols.

    The expression is brought over one denominator, and its numerator multiplied out. Anything not reduced to 0 by this
    gives False.

    Parameters
    ----------
    expression : sympy expression; its symbols are taken as positive

    Returns
    -------
    bool

    Examples
    --------
    >>> x, y, z = sp.symbols("x y z")
    >>> vanishes((x - y)*(x + y) - x**2 + y**2), vanishes(x - y)
    (True, False)
    >>> vanishes(sp.sqrt(x**2*y) - x*sp.sqrt(y)), vanishes(1/(sp.sqrt(x) + 1) - (sp.sqrt(x) - 1)/(x - 1))
    (True, True)
    >>> vanishes(sp.sqrt(x*(x*y**2 - z)) - x*sp.sqrt(y**2 - z/x))
    True
    """
    if expression == 0:
        return True
    # with positive symbols sympy draws what it can out of each root, and the square of a root is its radicand
    return bool(sp.expand(sp.numer(sp.together(positive(expression)))) == 0)


def _factored(expression: sp.Expr, besides: Iterable[sp.Symbol]) -> sp.Expr:
    signed = positive(expression, besides)
    if has_radical(signed):
        # what stands under a root first, so that a square comes out of it
        signed = signed.replace(_is_root, lambda e: sp.factor(e.base) ** e.exp)
        if has_radical(signed):
            return sp.together(signed)
    return sp.factor(sp.cancel(sp.together(signed)))


def is_positive(expression: sp.Expr, besides: Iterable[sp.Symbol] = ()) -> bool:
    """Return True only when the factored expression is provably positive for positive symbols.

    Examples
    --------
    >>> x, y = sp.symbols("x y")
    >>> is_positive(x**2 + 2*x*y + y**2), is_positive(x - y), is_positive(x*y, besides=[y])
    (True, False, False)
    """
    return bool(_factored(expression, besides).is_positive)


def is_negative(expression: sp.Expr, besides: Iterable[sp.Symbol] = ()) -> bool:
    """Return True only when the factored expression is provably negative for positive symbols.

    Examples
    --------
    >>> x, y = sp.symbols("x y")
    >>> is_negative(-x/y**2), is_negative(x - y)
    (True, False)
    """
    return is_positive(-expression, besides)


def at_point(expression: sp.Expr, values: Mapping[str, sp.Rational]) -> sp.Expr:
    """Return the expression with numbers put for symbols by name, in exact arithmetic.

    Examples
    --------
    >>> x, y = sp.symbols("x y")
    >>> at_point(x/y, {"x": sp.Integer(2), "y": sp.Integer(3)})
    2/3
    """
    return expression.xreplace({s: values[s.name] for s in expression.free_symbols if s.name in values})
