"""Dimensional homogeneity of the laws, checked with sympy's unit system.

The plane angle is kept as a dimension of its own, so that a speed in rad/s and a frequency in 1/s, or k_phi in V s/rad and
a flux in V s, cannot be mixed unnoticed. That fixes three things: a torque is work per angle (J/rad); pi, which stands for
half a turn wherever it occurs in the laws, carries the angle, while revolutions are a count; and an arm or diameter that
turns a force into a torque is a length per angle, the length that runs off the pulley per radian.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import sympy as sp
from sympy.physics import units
from sympy.physics.units import Dimension
from sympy.physics.units.definitions.dimension_definitions import angle
from sympy.physics.units.systems.si import SI, dimsys_SI

from shuntref.quantities.registry import quantity
from shuntref.theory.laws import all_laws
from shuntref.theory.laws.law import Law

__all__ = [
    "DimensionError",
    "LawDimensions",
    "check_all_laws",
    "dimension_of",
    "law_dimensions",
]

_SYSTEM = dimsys_SI.extend([angle])
_NONE = Dimension(1)
_UNITS: dict[str, Dimension] = {
    "V": SI.get_quantity_dimension(units.volt),
    "ohm": SI.get_quantity_dimension(units.ohm),
    "A": SI.get_quantity_dimension(units.ampere),
    "Wb": SI.get_quantity_dimension(units.weber),
    "W": SI.get_quantity_dimension(units.watt),
    "N": SI.get_quantity_dimension(units.newton),
    "m": SI.get_quantity_dimension(units.meter),
    "s": SI.get_quantity_dimension(units.second),
    "min": SI.get_quantity_dimension(units.second),
    "degC": SI.get_quantity_dimension(units.kelvin),
    "rad": angle,
    "r": _NONE,
    "1": _NONE,
    "J": SI.get_quantity_dimension(units.joule),
}
_AS_TORQUE = {"N m": "J/rad", "N m s/rad": "J s/rad^2", "N m s^2/rad^2": "J s^2/rad^3"}
_ARMS = {"pulley_diameter": "m/rad"}


class DimensionError(ValueError):
    """An expression that adds, or raises to the power of, unlike things."""


@dataclass(frozen=True)
class LawDimensions:
    """What the check of one law found: the dimensions of both sides, and whether they agree."""

    law: str
    consistent: bool
    detail: str


def _of_unit(unit: str) -> Dimension:
    """Read a unit of the registry, such as 'V s/(rad A)', as a dimension."""
    top, _, bottom = _AS_TORQUE.get(unit, unit).partition("/")
    result: Dimension = _NONE
    for piece, sign in ((top, 1), (bottom.strip("()"), -1)):
        for word in piece.split():
            match = re.fullmatch(r"([A-Za-z1]+)(?:\^(\d))?", word)
            if match is None or match[1] not in _UNITS:
                raise DimensionError(f"unit {unit!r}: no dimension known for {word!r}")
            result *= _UNITS[match[1]] ** (sign * int(match[2] or 1))
    return result


@cache
def quantity_dimension(name: str) -> Dimension:
    """Return the dimension of a registry quantity, the angle included.

    Examples
    --------
    >>> _dependencies(quantity_dimension("speed"))
    {'angle': 1, 'time': -1}
    """
    return _of_unit(_ARMS.get(name, quantity(name).unit))


def _dependencies(dimension: Dimension) -> dict[str, sp.Expr]:
    found = _SYSTEM.get_dimensional_dependencies(dimension)
    return dict(sorted((str(base.name), power) for base, power in found.items() if power != 0))


def dimension_of(expression: sp.Expr, known: Mapping[sp.Symbol, Dimension] | None = None) -> Dimension | None:
    """Return the dimension of an expression of registry symbols; None for zero, which has any.

    Raises
    ------
    DimensionError
        When unlike things are added, or an exponent or the argument of a function is not a number.

    Examples
    --------
    >>> from shuntref.theory.symbols import symbol
    >>> _dependencies(dimension_of(symbol("back_emf")/symbol("k_phi")))
    {'angle': 1, 'time': -1}
    >>> dimension_of(symbol("back_emf") + symbol("k_phi"))
    Traceback (most recent call last):
    ...
    shuntref.theory.dimensions.DimensionError: back_emf + k_phi adds unlike things: ...
    """
    if expression == 0:
        return None
    if expression is sp.pi:
        return angle
    if expression.is_number and expression.is_Atom:
        return _NONE
    if expression.is_Symbol:
        return (known or {}).get(expression) or quantity_dimension(expression.name)
    if expression.is_Mul:
        return _product([dimension_of(factor, known) for factor in expression.args])
    if expression.is_Add:
        return _sum(expression, known)
    if expression.is_Pow:
        return _power(expression, known)
    if isinstance(expression, sp.Abs):
        return dimension_of(expression.args[0], known)
    if isinstance(expression, sp.sign):
        return _NONE
    raise DimensionError(f"{expression}: no rule for the dimension of {type(expression).__name__}")


def _product(factors: list[Dimension | None]) -> Dimension | None:
    result: Dimension = _NONE
    for factor in factors:
        if factor is None:
            return None
        result *= factor
    return result


def _sum(expression: sp.Expr, known: Mapping[sp.Symbol, Dimension] | None) -> Dimension | None:
    found = [(term, dimension_of(term, known)) for term in expression.args]
    definite = [(term, dimension) for term, dimension in found if dimension is not None]
    for term, dimension in definite[1:]:
        if _dependencies(dimension) != _dependencies(definite[0][1]):
            raise DimensionError(
                f"{expression} adds unlike things: {definite[0][0]} has {_say(definite[0][1])}, "
                f"{term} has {_say(dimension)}"
            )
    return definite[0][1] if definite else None


def _power(expression: sp.Expr, known: Mapping[sp.Symbol, Dimension] | None) -> Dimension | None:
    base, exponent = dimension_of(expression.base, known), expression.exp
    if exponent.is_number:
        return None if base is None else base**exponent
    index = dimension_of(exponent, known)
    if (base is not None and _dependencies(base)) or (index is not None and _dependencies(index)):
        raise DimensionError(f"{expression} raises to a power that is not the power of a number by a number")
    return _NONE


def _say(dimension: Dimension | None) -> str:
    if dimension is None:
        return "zero"
    parts = [name if power == 1 else f"{name}^{power}" for name, power in _dependencies(dimension).items()]
    return " ".join(parts) or "a number"


def law_dimensions(law: Law) -> LawDimensions:
    """Check that both sides of a law, and all terms within them, have one dimension.

    Examples
    --------
    >>> from shuntref.theory.laws import law
    >>> law_dimensions(law("torque")).consistent
    True
    >>> from dataclasses import replace
    >>> wrong = replace(law("torque"), equation=sp.Eq(law("torque").equation.lhs, law("torque").equation.rhs**2))
    >>> law_dimensions(wrong).consistent
    False
    """
    try:
        left, right = (dimension_of(side) for side in law.equation.args)
    except DimensionError as problem:
        return LawDimensions(law.name, False, str(problem))
    if left is None or right is None:
        return LawDimensions(law.name, True, f"{_say(left if right is None else right)} on one side, zero on the other")
    same = _dependencies(left) == _dependencies(right)
    detail = _say(left) if same else f"left side {_say(left)}, right side {_say(right)}"
    return LawDimensions(law.name, same, detail)


def check_all_laws() -> dict[str, LawDimensions]:
    """Check every law there is and return the findings by the law's slug.

    Examples
    --------
    >>> all(found.consistent for found in check_all_laws().values())
    True
    """
    return {name: law_dimensions(entry) for name, entry in all_laws().items()}
