"""Flux curves: k_phi as a function of the effective field current, its slope and its inverse."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shuntref.model import formulas
from shuntref.model.shape_cubic import ShapeCubic
from shuntref.model.table_points import increasing_points
from shuntref.model.validation import as_array, check_array, refuse, scalar

__all__ = ["FluxCurve", "FroehlichFlux", "ProportionalFlux", "TableFlux"]


class FluxCurve:
    """What every flux curve offers.

    ``k_phi``, ``slope`` and ``field_current`` check their argument; the methods ``*_at`` do the same work on a float or an
    array that the caller has checked, and continue the curve beyond its ends.

    Attributes
    ----------
    remanent_k_phi : float
        [V s/rad] at zero field current.
    limits : tuple of float, or None
        [A] The effective field currents between which the curve was measured; None when it has no ends.
    extrapolate : {"refuse", "flag"}
        What becomes of a point beyond the limits.
    zero_flux_field_current : float
        [A] The effective field current at which k_phi vanishes; minus infinity when it never does.
    """

    remanent_k_phi: float = 0.0
    limits: tuple[float, float] | None = None
    extrapolate: str = "flag"
    zero_flux_field_current: float = 0.0

    def k_phi_at(self, current: Any) -> Any:
        """k_phi without checks."""
        raise TypeError(f"{type(self).__name__} has no k_phi_at; a flux curve must define it")

    def slope_at(self, current: Any) -> Any:
        """d k_phi / d I_f without checks."""
        raise TypeError(f"{type(self).__name__} has no slope_at; a flux curve must define it")

    def field_current_at(self, k_phi: Any) -> Any:
        """Field current without checks; NaN where the curve never has this k_phi."""
        raise TypeError(f"{type(self).__name__} has no field_current_at; a flux curve must define it")

    def k_phi(self, field_current: Any) -> Any:
        """Machine constant times flux at a field current.

        Parameters
        ----------
        field_current : float or array
            Effective field current [A], not negative.

        Returns
        -------
        float or array
            k_phi [V s/rad], the shape of ``field_current``.

        Raises
        ------
        ValueError
            A current that is negative or not finite, or beyond the ends of a table that refuses extrapolation.

        Examples
        --------
        >>> FroehlichFlux(froehlich_a=1.6, froehlich_b=0.9).k_phi(0.9)
        0.8
        """
        return self.k_phi_at(self._checked("field_current", field_current))

    def slope(self, field_current: Any) -> Any:
        """Slope of the curve, d k_phi / d I_f, at a field current.

        Parameters
        ----------
        field_current : float or array
            Effective field current [A], not negative.

        Returns
        -------
        float or array
            [V s/(rad A)]

        Raises
        ------
        ValueError
            As for ``k_phi``.

        Examples
        --------
        >>> FroehlichFlux(froehlich_a=1.0, froehlich_b=0.5).slope(0.5)
        0.5
        """
        return self.slope_at(self._checked("field_current", field_current))

    def field_current(self, k_phi: Any) -> Any:
        """Field current at which the curve has this k_phi: the inverse of ``k_phi``.

        Parameters
        ----------
        k_phi : float or array
            [V s/rad]

        Returns
        -------
        float or array
            Effective field current [A].

        Raises
        ------
        ValueError
            The curve never has this k_phi, or only beyond the ends of a table that refuses extrapolation.

        Examples
        --------
        >>> FroehlichFlux(froehlich_a=1.0, froehlich_b=0.5).field_current(0.5)
        0.5
        """
        is_float = _is_number(k_phi)
        wanted: Any = scalar("k_phi", k_phi, "not negative") if is_float else as_array("k_phi", k_phi)
        if not is_float:
            check_array("k_phi", wanted, "not negative")
        current = self.field_current_at(wanted)
        bad = np.isnan(current) | (np.asarray(current) < 0.0) | self._outside(current)
        if np.any(bad):
            first = int(np.argmax(np.ravel(bad)))
            index = tuple(int(i) for i in np.unravel_index(first, np.shape(bad)))
            value = float(np.ravel(wanted)[first])
            raise refuse("k_phi", value, f"a value that the flux curve has ({self._range_text()})", index)
        return current

    def _range_text(self) -> str:
        if self.limits is None:
            return f"from {self.remanent_k_phi:g} V s/rad"
        return f"from {self.k_phi_at(self.limits[0]):g} to {self.k_phi_at(self.limits[1]):g} V s/rad"

    def _outside(self, current: Any) -> Any:
        if self.limits is None or self.extrapolate == "flag":
            return np.zeros(np.shape(current), bool)
        low, high = self.limits
        slack = 1e-12 * high  # a current that comes back from the inverse at the end of the table is on the table
        return (np.asarray(current) < low - slack) | (np.asarray(current) > high + slack)

    def _checked(self, name: str, value: Any) -> Any:
        if _is_number(value):
            current: Any = scalar(name, value, "not negative")
        else:
            current = as_array(name, value)
            check_array(name, current, "not negative")
        outside = self._outside(current)
        if np.any(outside):
            first = int(np.argmax(np.ravel(outside)))
            index = tuple(int(i) for i in np.unravel_index(first, np.shape(outside)))
            low, high = self.limits or (0.0, math.inf)
            wanted = f"a current inside the measured table, {low:g} A to {high:g} A (or extrapolate='flag')"
            raise refuse(name, float(np.ravel(current)[first]), wanted, index)
        return current


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) or (not hasattr(value, "__len__") and np.ndim(value) == 0)


@dataclass(frozen=True)
class ProportionalFlux(FluxCurve):
    """k_phi = c I_f: an unsaturated machine without remanence.

    Parameters
    ----------
    flux_constant : float
        c [V s/(rad A)], above zero.

    Raises
    ------
    ValueError
        A value that cannot be, named.

    Examples
    --------
    >>> ProportionalFlux(1.25).k_phi(0.6)
    0.75
    """

    flux_constant: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "flux_constant", scalar("flux_constant", self.flux_constant, "positive"))

    def k_phi_at(self, current: Any) -> Any:
        return formulas.k_phi_proportional(self.flux_constant, current)

    def slope_at(self, current: Any) -> Any:
        return self.flux_constant if isinstance(current, float) else np.full_like(current, self.flux_constant)

    def field_current_at(self, k_phi: Any) -> Any:
        return formulas.field_current_for_proportional_flux(self.flux_constant, k_phi)


@dataclass(frozen=True)
class FroehlichFlux(FluxCurve):
    """k_phi = k_r + a I_f/(b + I_f): saturation after Froehlich, with remanence.

    An effective field current below zero (armature reaction stronger than the field) continues the curve
    symmetrically about the remanence: k_r - a |I|/(b + |I|).

    Parameters
    ----------
    froehlich_a : float
        a [V s/rad], above zero.
    froehlich_b : float
        b [A], above zero.
    remanent_k_phi : float
        k_r [V s/rad], not negative.

    Raises
    ------
    ValueError
        A value that cannot be, named.

    Examples
    --------
    >>> FroehlichFlux(froehlich_a=1.6, froehlich_b=0.9, remanent_k_phi=0.1).k_phi(0.9)
    0.9
    """

    froehlich_a: float
    froehlich_b: float
    remanent_k_phi: float = 0.0

    def __post_init__(self) -> None:
        for name in ("froehlich_a", "froehlich_b"):
            object.__setattr__(self, name, scalar(name, getattr(self, name), "positive"))
        object.__setattr__(self, "remanent_k_phi", scalar("remanent_k_phi", self.remanent_k_phi, "not negative"))
        zero = -math.inf
        if self.remanent_k_phi < self.froehlich_a:
            zero = -self.froehlich_b * self.remanent_k_phi / (self.froehlich_a - self.remanent_k_phi)
        object.__setattr__(self, "zero_flux_field_current", zero)

    def k_phi_at(self, current: Any) -> Any:
        if isinstance(current, float):
            if current >= 0.0:
                return formulas.k_phi_froehlich(self.remanent_k_phi, self.froehlich_a, self.froehlich_b, current)
            return formulas.k_phi_froehlich(self.remanent_k_phi, -self.froehlich_a, self.froehlich_b, -current)
        if current.size == 0 or current.min() >= 0.0:
            return formulas.k_phi_froehlich(self.remanent_k_phi, self.froehlich_a, self.froehlich_b, current)
        signed = np.copysign(np.array(self.froehlich_a, current.dtype), current)
        return formulas.k_phi_froehlich(self.remanent_k_phi, signed, self.froehlich_b, np.abs(current))

    def slope_at(self, current: Any) -> Any:
        return formulas.k_phi_slope_froehlich(self.froehlich_a, self.froehlich_b, abs(current))

    def field_current_at(self, k_phi: Any) -> Any:
        k = np.asarray(k_phi)
        with np.errstate(all="ignore"):
            up = formulas.field_current_for_froehlich_flux(self.remanent_k_phi, self.froehlich_a, self.froehlich_b, k)
            down = -formulas.field_current_for_froehlich_flux(
                -self.remanent_k_phi, self.froehlich_a, self.froehlich_b, -k
            )
            current = np.where(k < self.remanent_k_phi, down, up)
            current = np.where(np.abs(k - self.remanent_k_phi) < self.froehlich_a, current, np.nan)
        return float(current) if isinstance(k_phi, float) else current.astype(k.dtype, copy=False)


@dataclass(frozen=True, init=False)
class TableFlux(FluxCurve):
    """A measured magnetisation curve: open-circuit EMF against field current at one speed.

    The points are joined by a shape-preserving cubic. Beyond its ends the curve goes on along the slope at the end, but a
    result that needs this is refused, or flagged, as ``extrapolate`` says. A first point at zero field current with an EMF
    gives the remanence.

    Parameters
    ----------
    field_current : sequence of float
        [A], strictly increasing from zero or above; at least two.
    emf : sequence of float
        [V], strictly increasing, as many.
    speed_rpm : float
        [r/min] at which they were measured, above zero.
    extrapolate : {"refuse", "flag"}

    Raises
    ------
    ValueError
        Points that do not increase or are too few, a value that cannot be, named.

    Examples
    --------
    >>> curve = TableFlux((0.0, 0.5, 1.0), (4.0, 90.0, 130.0), 1500.0)
    >>> round(curve.k_phi(0.5), 6), round(curve.remanent_k_phi, 6)
    (0.572958, 0.025465)
    """

    field_currents: tuple[float, ...]
    emf: tuple[float, ...]
    speed_rpm: float
    extrapolate: str
    _cubic: ShapeCubic = field(repr=False, compare=False)

    def __init__(self, field_current: Any, emf: Any, speed_rpm: float, extrapolate: str = "refuse") -> None:
        currents, volts = increasing_points("field_current", field_current, "back_emf", emf, second_increases=True)
        for name, first in (("field_current", currents[0]), ("back_emf", volts[0])):
            if first < 0.0:
                raise refuse(name, first, "not negative", (0,))
        speed_rpm = scalar("speed_rpm", speed_rpm, "positive")
        speed = formulas.to_rad_per_s(speed_rpm)
        if extrapolate not in ("refuse", "flag"):
            raise ValueError(f"extrapolate is {extrapolate!r:.60}; 'refuse' or 'flag' is needed")
        cubic = ShapeCubic(currents, tuple(value / speed for value in volts))
        slope = cubic.first_slope
        # a curve that begins level keeps below its first point what flux it has there, be it none
        never = -math.inf if cubic.y[0] > 0.0 else currents[0]
        values: dict[str, Any] = {
            "field_currents": currents,
            "emf": volts,
            "speed_rpm": speed_rpm,
            "extrapolate": extrapolate,
            "limits": (currents[0], currents[-1]),
            "remanent_k_phi": cubic.y[0] if currents[0] == 0.0 else 0.0,
            "zero_flux_field_current": currents[0] - cubic.y[0] / slope if slope > 0.0 else never,
            "_cubic": cubic,
        }
        for name, value in values.items():
            object.__setattr__(self, name, value)

    def k_phi_at(self, current: Any) -> Any:
        return self._cubic.value(current) if isinstance(current, float) else self._cubic.values(current)

    def slope_at(self, current: Any) -> Any:
        return self._cubic.slope(current) if isinstance(current, float) else self._cubic.slopes(current)

    def field_current_at(self, k_phi: Any) -> Any:
        current = self._cubic.inverse(np.asarray(k_phi))
        return float(current) if isinstance(k_phi, float) else current
