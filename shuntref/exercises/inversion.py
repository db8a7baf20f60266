"""Laws turned round: each law solved for each of its quantities once, kept, and evaluated in floats or 50 digits."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import sympy as sp

from shuntref.theory.laws.law import Law

__all__ = ["Form", "branches", "evaluator", "law_form", "sign"]

Number = Any  # a float or an mpmath number, as the arithmetic has it


@lru_cache(maxsize=1024)
def sign(name: str) -> sp.Symbol:
    """Return the symbol called ``name``: that of the registry, or one of a link between states.

    Examples
    --------
    >>> from shuntref.theory.symbols import symbol
    >>> sign("speed") == symbol("speed")
    True
    """
    return sp.Symbol(name, real=True)


class Form:
    """A law in the shape it has in one state: what is zero left out, the direction of the current known.

    Forms are made by :func:`law_form` and compared by identity, so that work on them is done once.
    """

    __slots__ = ("law", "names", "residual")

    def __init__(self, law: Law, residual: sp.Expr) -> None:
        self.law = law
        self.residual = residual
        self.names: tuple[str, ...] = tuple(sorted(str(s) for s in residual.free_symbols))


@lru_cache(maxsize=8192)
def law_form(
    law: Law,
    zeros: frozenset[str] = frozenset(),
    merged: tuple[tuple[str, str], ...] = (),
    generating: bool = False,
    ones: frozenset[str] = frozenset(),
) -> Form:
    """Return the form of ``law`` with quantities put to 0 or 1 and those in ``merged`` made one.

    Parameters
    ----------
    law
        A law of the theory layer.
    zeros
        Names of quantities that are exactly zero.
    merged
        Pairs (name, other): ``name`` is the same quantity as ``other`` here.
    generating
        The direction of the armature current, which settles its sign and its magnitude in the law.
    ones
        Names of factors that are exactly one.

    Examples
    --------
    >>> from shuntref.theory.laws import all_laws
    >>> law_form(all_laws()["armature-circuit"], frozenset({"brush_drop"})).names
    ('armature_circuit_resistance', 'armature_current', 'back_emf', 'supply_voltage')
    """
    residual = law.residual
    current = sign("armature_current")
    if residual.has(sp.sign, sp.Abs):
        side = -1 if generating else 1
        residual = residual.subs({sp.sign(current): side, sp.Abs(current): side * current})
    if merged:
        residual = residual.xreplace({sign(one): sign(other) for one, other in merged})
    if zeros:
        residual = residual.subs({sign(name): 0 for name in zeros if sign(name) in residual.free_symbols})
    if ones:
        residual = residual.subs({sign(name): 1 for name in ones if sign(name) in residual.free_symbols})
    if residual.has(sp.nan, sp.zoo, sp.oo):
        residual = sp.Integer(0)  # divided by nothing: in this state the law says nothing
    if residual.is_Mul:
        # k_phi I_a = 0 means no current: a machine without any flux is no machine
        residual = sp.Mul(
            *(factor for factor in residual.args if factor not in (sign("k_phi"), sign("reference_k_phi")))
        )
    return Form(law, residual)


@lru_cache(maxsize=8192)
def branches(form: Form, name: str) -> tuple[sp.Expr, ...]:
    """Return the law solved for the quantity ``name``: one expression, or one for each branch.

    Examples
    --------
    >>> from shuntref.theory.laws import all_laws
    >>> branches(law_form(all_laws()["torque"]), "k_phi")
    (electromagnetic_torque/armature_current,)
    """
    if name not in form.names:
        return ()
    unknown = sign(name)
    numerator = sp.numer(sp.together(form.residual))
    polynomial = numerator.as_poly(unknown)
    if polynomial is None:
        return _other_branches(form, name)
    if polynomial.degree() == 1:
        slope, constant = polynomial.all_coeffs()
        return (_tidy(-constant / slope),)
    if polynomial.degree() == 2:
        square, linear, constant = polynomial.all_coeffs()
        if linear == 0:
            root = sp.sqrt(_tidy(-constant / square))
            return (root, -root)
        half = sp.sqrt(linear**2 - 4 * square * constant)
        return ((-linear - half) / (2 * square), (-linear + half) / (2 * square))
    return _other_branches(form, name)


def _tidy(expression: sp.Expr) -> sp.Expr:
    """Divide term by term when that is shorter: E = U - I R and not (U - I R)/1, but (U - E)/R as one fraction."""
    return sp.cancel(expression) if expression.is_Add else sp.factor_terms(expression)


def _other_branches(form: Form, name: str) -> tuple[sp.Expr, ...]:
    # exponents and bases of a graded starter are positive; saying so keeps the solution a single real expression
    positive = {item: sp.Symbol(item.name, positive=True) for item in form.residual.free_symbols}
    back = {new: old for old, new in positive.items()}
    try:
        found = sp.solve(form.residual.xreplace(positive), positive[sign(name)])
    except (NotImplementedError, ValueError):
        return ()
    return tuple(solution.xreplace(back) for solution in found if not solution.has(sp.I))


@lru_cache(maxsize=16384)
def evaluator(expression: sp.Expr, names: tuple[str, ...], precise: bool) -> Callable[..., Number]:
    """Return a function of the quantities ``names`` that evaluates ``expression`` in floats, or precisely in mpmath.

    Examples
    --------
    >>> evaluator(sign("back_emf") * 2, ("back_emf",), False)(3.0)
    6.0
    """
    made: Callable[..., Number] = sp.lambdify(
        [sign(name) for name in names], expression, modules="mpmath" if precise else "math"
    )
    return made
