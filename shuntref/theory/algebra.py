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


def _unify_radicals(expression: sp.Expr) -> tuple[sp.Expr, dict[sp.Symbol, sp.Expr]]:
    """Replace each square root by a symbol of its own, sharing one where two roots are in a rational ratio."""
    squares: dict[sp.Symbol, sp.Expr] = {}
    swap: dict[sp.Expr, sp.Expr] = {}
    roots = {p.base for p in expression.atoms(sp.Pow) if p.exp.is_Rational and p.exp.q == 2}
    for base in sorted(roots, key=sp.default_sort_key):
        radicand = sp.factor(sp.cancel(sp.together(base)))
        for root, known in squares.items():
            ratio = sp.powdenest(sp.sqrt(sp.factor(sp.cancel(radicand / known))), force=False)
            if not has_radical(ratio):
                swap[base] = root * ratio
                break
        else:
            root = sp.Dummy("root", positive=True)
            squares[root] = radicand
            swap[base] = root
    replaced = expression.replace(
        lambda e: e.is_Pow and e.exp.is_Rational and e.exp.q == 2 and e.base in swap,
        lambda e: swap[e.base] ** (2 * e.exp),
    )
    return replaced, squares


def vanishes(expression: sp.Expr) -> bool:
    """Return True only when the expression is proved to be identically zero for positive symbols.

    Rational expressions are brought over one denominator; each square root becomes a new unknown whose square is known,
    and the numerator is reduced by that relation. Anything not reduced to 0 by this gives False.

    Parameters
    ----------
    expression : sympy expression; its symbols are taken as positive

    Returns
    -------
    bool

    Examples
    --------
    >>> x, y = sp.symbols("x y")
    >>> vanishes((x - y)*(x + y) - x**2 + y**2), vanishes(x - y)
    (True, False)
    >>> vanishes(sp.sqrt(x**2*y) - x*sp.sqrt(y)), vanishes(1/(sp.sqrt(x) + 1) - (sp.sqrt(x) - 1)/(x - 1))
    (True, True)
    """
    if expression == 0:
        return True
    plain, squares = _unify_radicals(positive(expression))
    numerator = sp.numer(sp.together(plain))
    for root, radicand in reversed(list(squares.items())):
        if not numerator.has(root):
            continue
        top, bottom = sp.fraction(sp.together(radicand))
        # root**2 - radicand has leading coefficient `bottom`; a remainder over the fraction field keeps this exact
        numerator = sp.numer(sp.together(sp.rem(sp.expand(numerator), bottom * root**2 - top, root)))
    return bool(sp.expand(numerator) == 0)


def _factored(expression: sp.Expr, besides: Iterable[sp.Symbol]) -> sp.Expr:
    return sp.factor(sp.cancel(sp.together(positive(expression, besides))))


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
