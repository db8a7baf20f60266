"""Deciding whether an expression is zero, or signed, by algebra alone: no numerical guess, no open-ended simplifying."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

import sympy as sp

__all__ = ["has_radical", "is_negative", "is_positive", "positive", "vanishes"]


# Factoring a polynomial in many symbols has no bound on its time; beyond this many operations it is left alone.
_LONG = 40


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
    split = {base: _monomial_part(base) for base in roots}
    drawn = {s: sp.Dummy(s.name, positive=True) for monomial, _ in split.values() for s in monomial.free_symbols}
    squares: dict[sp.Symbol, sp.Expr] = {}
    swap: dict[sp.Expr, sp.Expr] = {}
    for base, (monomial, rest) in split.items():
        outside = monomial.xreplace(drawn)
        rest = rest.xreplace({s: d**2 for s, d in drawn.items()})
        if rest.is_number:
            swap[base] = outside * sp.sqrt(rest)
            continue
        for root, known in squares.items():
            ratio = _root_of_ratio(rest, known)
            if ratio is not None:
                swap[base] = outside * root * ratio
                break
        else:
            root = sp.Dummy("root", positive=True)
            squares[root] = rest
            swap[base] = outside * root
    replaced = expression.replace(lambda e: _is_root(e) and e.base in swap, lambda e: swap[e.base] ** (2 * e.exp))
    return replaced.xreplace({s: d**2 for s, d in drawn.items()}), squares


def _monomial_part(base: sp.Expr) -> tuple[sp.Expr, sp.Expr]:
    """Split a radicand in a product of positive symbols and the rest; factoring it whole could take very long."""
    monomial, rest = sp.Integer(1), sp.Integer(1)
    for polynomial, sign in zip(sp.fraction(sp.cancel(sp.together(base))), (1, -1), strict=True):
        for factor in sp.Mul.make_args(sp.terms_gcd(polynomial)):
            b, exponent = factor.as_base_exp()
            if b.is_Symbol and b.is_positive and exponent.is_Integer:
                monomial *= factor**sign
            else:
                rest *= factor**sign
    return monomial, rest


def _root_of_ratio(one: sp.Expr, other: sp.Expr) -> sp.Expr | None:
    """Return sqrt(one/other) where the ratio is a square of something without roots."""
    ratio = sp.cancel(sp.together(one / other))
    if sp.count_ops(ratio) > _LONG:
        return None
    root = sp.sqrt(sp.factor(ratio))
    return None if has_radical(root) else root


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
    signed = positive(expression, besides)
    if has_radical(signed):
        # what stands under a root first, so that a square comes out of it
        signed = signed.replace(_is_root, lambda e: _short_factor(sp.cancel(sp.together(e.base))) ** e.exp)
        if has_radical(signed):
            return sp.together(signed)
    return sp.factor(sp.cancel(sp.together(signed)))


def _short_factor(expression: sp.Expr) -> sp.Expr:
    return sp.factor(expression) if sp.count_ops(expression) <= _LONG else expression


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
