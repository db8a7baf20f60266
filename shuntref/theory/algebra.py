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


def _unify_radicals(expression: sp.Expr) -> tuple[sp.Expr, dict[sp.Symbol, sp.Expr]]:
    """Replace each square root by a symbol of its own, sharing one where two roots are in a rational ratio.

    Single positive symbols are drawn out of the roots first, sqrt(c x) = sqrt(c) sqrt(x), and written as squares.
    """
    roots = sorted({p.base for p in expression.atoms(sp.Pow) if _is_root(p)}, key=sp.default_sort_key)
    drawn = {s: sp.Dummy(s.name, positive=True) for base in roots for s in _single_symbols(base)}
    squares: dict[sp.Symbol, sp.Expr] = {}
    swap: dict[sp.Expr, sp.Expr] = {}
    for base in roots:
        outside, rest = _draw_out(base, drawn)
        for root, known in squares.items():
            ratio = sp.sqrt(sp.factor(sp.cancel(rest / known)))
            if not has_radical(ratio):
                swap[base] = outside * root * ratio
                break
        else:
            root = sp.sqrt(rest) if rest.is_number else sp.Dummy("root", positive=True)
            if not rest.is_number:
                squares[root] = rest
            swap[base] = outside * root
    replaced = expression.replace(lambda e: _is_root(e) and e.base in swap, lambda e: swap[e.base] ** (2 * e.exp))
    return replaced.xreplace({s: d**2 for s, d in drawn.items()}), squares


def _single_symbols(base: sp.Expr) -> set[sp.Symbol]:
    factors = sp.Mul.make_args(sp.factor(sp.cancel(sp.together(base))))
    bases = {factor.as_base_exp()[0] for factor in factors}
    return {b for b in bases if b.is_Symbol and b.is_positive}


def _draw_out(base: sp.Expr, drawn: Mapping[sp.Symbol, sp.Symbol]) -> tuple[sp.Expr, sp.Expr]:
    """Split sqrt(base) in what comes out of the root and what stays under it."""
    outside, rest = sp.Integer(1), sp.Integer(1)
    for factor in sp.Mul.make_args(sp.factor(sp.cancel(sp.together(base)))):
        b, exponent = factor.as_base_exp()
        if b in drawn and exponent.is_Integer:
            outside *= drawn[b] ** exponent
        else:
            rest *= factor
    return outside, sp.factor(rest.xreplace({s: d**2 for s, d in drawn.items()}))


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
