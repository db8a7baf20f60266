"""A winding at another temperature, and a speed in another unit: pure arithmetic.

Arguments are numbers or arrays, which broadcast, or anything else that does arithmetic.
"""

from __future__ import annotations

import math

from shuntref.model.circuit_formulas import Value

__all__ = [
    "resistance_at_temperature",
    "to_rad_per_s",
    "to_rpm",
]


def resistance_at_temperature(
    resistance: Value, reference_temperature: Value, winding_temperature: Value, temperature_constant: Value
) -> Value:
    """R2 = R1 (k + theta_2) / (k + theta_1); temperatures in degC.

    Parameters
    ----------
    resistance : [ohm]
    reference_temperature : [degC]
    winding_temperature : [degC]
    temperature_constant : [degC]

    Returns
    -------
    [ohm]

    Notes
    -----
    Law winding-temperature.

    Examples
    --------
    >>> resistance_at_temperature(160.0, 20.0, 71.0, 235.0)
    192.0
    """
    return resistance * (temperature_constant + winding_temperature) / (temperature_constant + reference_temperature)


def to_rpm(speed: Value, pi: Value = math.pi) -> Value:
    """n = 30 omega / pi; pass the pi of the arithmetic that is wanted (sympy, mpmath).

    Parameters
    ----------
    speed : [rad/s]
    pi : number

    Returns
    -------
    [r/min]

    Notes
    -----
    Law speed-conversion.

    Examples
    --------
    >>> round(to_rpm(157.08), 1)
    1500.0
    """
    return speed * (30 / pi)


def to_rad_per_s(speed_rpm: Value, pi: Value = math.pi) -> Value:
    """omega = pi n / 30; pass the pi of the arithmetic that is wanted (sympy, mpmath).

    Parameters
    ----------
    speed_rpm : [r/min]
    pi : number

    Returns
    -------
    [rad/s]

    Notes
    -----
    Law speed-conversion.

    Examples
    --------
    >>> round(to_rad_per_s(1500.0), 2)
    157.08
    """
    return speed_rpm * (pi / 30)
