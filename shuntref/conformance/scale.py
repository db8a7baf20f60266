"""Between the implementer's units and the registry's: exact in decimals, so that a conversion never costs a digit."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Context, Decimal
from functools import lru_cache

from shuntref.quantities.registry import quantity
from shuntref.quantities.units import UnitError, unit_scale

__all__ = ["DECIMALS", "Scale", "alias", "scale_of", "shown_unit"]

#: the arithmetic of all comparisons; far beyond the 25 digits of a certified value
DECIMALS = Context(prec=50)

#: the same rotation under two names, one for each unit in use
_ALIASES = {"speed": "speed_rpm", "speed_rpm": "speed"}


@dataclass(frozen=True, slots=True)
class Scale:
    """registry value = factor * written number + offset."""

    factor: Decimal
    offset: Decimal

    @property
    def same(self) -> bool:
        """Whether the written number is the registry value."""
        return self.factor == 1 and not self.offset

    def inward(self, number: float) -> Decimal:
        """Return the registry value of a number the implementer gave; NaN and infinity stay what they are."""
        exact = Decimal(number)
        if self.same or not exact.is_finite():
            return exact
        return DECIMALS.add(DECIMALS.multiply(exact, self.factor), self.offset)

    def outward(self, value: float) -> float:
        """Return the number to hand to the implementer: the float nearest to the exact conversion.

        Examples
        --------
        >>> scale_of("speed", "r/min").outward(157.07963267948966)
        1500.0
        """
        return float(self.outward_exact(Decimal(value)))

    def outward_exact(self, value: Decimal) -> Decimal:
        """Return a registry value in the implementer's unit, to 50 digits; NaN and infinity stay what they are."""
        if self.same or not value.is_finite():
            return value
        return DECIMALS.divide(DECIMALS.subtract(value, self.offset), self.factor)


def alias(name: str) -> str:
    """Return the other name of a quantity that has two (speed in rad/s, speed_rpm in r/min), or the name itself.

    Examples
    --------
    >>> alias("speed_rpm"), alias("back_emf")
    ('speed', 'back_emf')
    """
    return _ALIASES.get(name, name)


def shown_unit(name: str) -> str:
    """Return the registry unit of a quantity as it is written behind a number; a pure number has none.

    Examples
    --------
    >>> shown_unit("k_phi"), shown_unit("efficiency")
    ('V s/rad', '')
    """
    unit = quantity(name).unit
    return "" if unit == "1" else unit


@lru_cache(maxsize=512)
def scale_of(name: str, unit: str, horsepower: str = "mechanical") -> Scale:
    """Return how ``unit`` relates to the registry unit of the quantity ``name``.

    Raises
    ------
    ValueError
        When the unit is unknown or of another dimension.

    Examples
    --------
    >>> scale_of("armature_current", "mA").factor
    Decimal('0.001')
    >>> scale_of("speed", "V")
    Traceback (most recent call last):
        ...
    ValueError: speed cannot be in 'V': ...
    """
    entry = quantity(name)
    if unit == entry.unit:  # the usual case, and it needs no unit library
        return Scale(Decimal(1), Decimal(0))
    try:
        factor, offset = unit_scale(entry, unit, horsepower)
    except UnitError as error:
        raise ValueError(f"{name} cannot be in {unit[:40]!r}: {error}; for example {entry.unit!r}") from None
    return Scale(factor, offset)
