"""Preferred values: the resistance of an E series next to a computed one."""

from __future__ import annotations

import math

from shuntref.model.standards import standard_value
from shuntref.model.validation import scalar

__all__ = ["SERIES", "nearest_preferred", "preferred_neighbours"]

SERIES = ("E6", "E12", "E24")


def preferred_neighbours(resistance: float, series: str = "E24") -> tuple[float, float]:
    """The preferred value at or below a resistance, and the one at or above it.

    Parameters
    ----------
    resistance : float
        [ohm]
    series : {"E6", "E12", "E24"}

    Returns
    -------
    tuple of float
        [ohm]; twice the same when the resistance is a preferred value.

    Raises
    ------
    ValueError
        For a resistance that is not above zero and finite, or an unknown series.

    References
    ----------
    IEC 60063 (2015), seen in secondary tables; stored in references/standards/preferred_numbers.toml, not generated.

    Examples
    --------
    >>> preferred_neighbours(25.0)
    (24.0, 27.0)
    >>> preferred_neighbours(0.95, "E6")
    (0.68, 1.0)
    """
    if series not in SERIES:
        raise ValueError(f"series is {series!r}; {', '.join(SERIES)} are stored")
    ohms = scalar("resistance", resistance, "positive")
    decade = math.floor(math.log10(ohms))
    table = standard_value("preferred_numbers", "preferred-resistances")[series]
    # the decade below and above are looked at too, because log10 rounds at the edge of a decade
    values = [_scaled(entry, power) for power in (decade - 1, decade, decade + 1) for entry in table]
    return (
        max(value for value in values if value <= ohms),
        min(value for value in values if value >= ohms),
    )


def _scaled(entry: int, power: int) -> float:
    """``entry``/10 times ten to the ``power``, as the decimal number that one would write down."""
    return float(f"{entry}e{power - 1}")


def nearest_preferred(resistance: float, series: str = "E24") -> float:
    """The preferred value nearest to a resistance by ratio.

    Parameters
    ----------
    resistance : float
        [ohm]
    series : {"E6", "E12", "E24"}

    Returns
    -------
    float
        [ohm]

    Raises
    ------
    ValueError
        As preferred_neighbours.

    References
    ----------
    IEC 60063 (2015), the E series (seen in secondary tables, not in the standard itself).

    Examples
    --------
    >>> nearest_preferred(3.76), nearest_preferred(1.95, "E12")
    (3.9, 1.8)
    """
    below, above = preferred_neighbours(resistance, series)
    return below if resistance / below <= above / resistance else above
