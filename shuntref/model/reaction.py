"""Armature reaction: how the armature current weakens the flux."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shuntref.model import formulas
from shuntref.model.flux import FluxCurve
from shuntref.model.shape_cubic import ShapeCubic
from shuntref.model.table_points import increasing_points
from shuntref.model.validation import refuse, scalar

__all__ = ["ArmatureReaction", "FluxLoss", "NoReaction", "ProportionalReaction", "TableReaction"]


class ArmatureReaction:
    """What every kind of armature reaction offers; all of it on floats or arrays that the caller has checked."""

    #: whether k_phi does not depend on the armature current at all
    absent = False
    #: [A] least and greatest armature current of a measured table, or None
    limits: tuple[float, float] | None = None
    extrapolate = "flag"

    def lost_at(self, current: Any) -> Any:
        """Equivalent loss of field current [A] at an armature current [A]."""
        raise TypeError(f"{type(self).__name__} has no lost_at; an armature reaction must define it")

    def lost_slope_at(self, current: Any) -> Any:
        """Derivative of ``lost_at``."""
        raise TypeError(f"{type(self).__name__} has no lost_slope_at; an armature reaction must define it")

    def k_phi_at(self, flux: FluxCurve, field_current: Any, armature_current: Any) -> Any:
        """k_phi of a flux curve, weakened."""
        return flux.k_phi_at(field_current - self.lost_at(armature_current))

    def k_phi_slope_at(self, flux: FluxCurve, field_current: Any, field_slope: Any, armature_current: Any) -> Any:
        """d k_phi / d I_a, where the field current itself changes by ``field_slope`` per ampere of armature current."""
        slope = flux.slope_at(field_current - self.lost_at(armature_current))
        return slope * (field_slope - self.lost_slope_at(armature_current))

    def curve_current_at(self, field_current: Any, armature_current: Any) -> Any:
        """The current at which the flux curve is read."""
        return field_current - self.lost_at(armature_current)

    def reaction_field_current_at(self, flux: FluxCurve, field_current: Any, armature_current: Any) -> Any:
        """Loss of field current, as reported."""
        return self.lost_at(armature_current)

    def field_current_for(self, flux: FluxCurve, k_phi: Any, armature_current: Any) -> Any:
        """Field current that gives a k_phi in spite of the reaction; NaN where the curve never has it."""
        return flux.field_current_at(k_phi) + self.lost_at(armature_current)

    def coordinate(self, armature_current: Any) -> Any:
        """What the limits apply to."""
        return abs(armature_current)


@dataclass(frozen=True)
class NoReaction(ArmatureReaction):
    """The flux does not depend on the armature current."""

    absent = True

    def lost_at(self, current: Any) -> Any:
        return current * 0.0

    def lost_slope_at(self, current: Any) -> Any:
        return current * 0.0

    def k_phi_at(self, flux: FluxCurve, field_current: Any, armature_current: Any) -> Any:
        return flux.k_phi_at(field_current)


@dataclass(frozen=True)
class ProportionalReaction(ArmatureReaction):
    """I_fr = d I_a: linear, and with the sign of the current, as the ampere-turns of shifted brushes are.

    A loss of flux that does not change sign with the current (saturated pole tips) is a ``TableReaction`` or a
    ``FluxLoss``.

    Parameters
    ----------
    reaction_coefficient : float
        d [A/A]; negative when the armature current strengthens the field.

    Raises
    ------
    ValueError
        A value that cannot be, named.

    Examples
    --------
    >>> ProportionalReaction(0.004).lost_at(25.0)
    0.1
    """

    reaction_coefficient: float

    def __post_init__(self) -> None:
        value = scalar("reaction_coefficient", self.reaction_coefficient, "finite")
        object.__setattr__(self, "reaction_coefficient", value)

    def lost_at(self, current: Any) -> Any:
        return formulas.reaction_field_current(self.reaction_coefficient, current)

    def lost_slope_at(self, current: Any) -> Any:
        return self.reaction_coefficient


@dataclass(frozen=True, init=False)
class TableReaction(ArmatureReaction):
    """Measured: equivalent loss of field current against armature current, joined by a shape-preserving cubic.

    A table without negative currents is looked up at the magnitude of the current: the loss is the same when the machine
    generates. Beyond its ends the curve goes on along the slope at the end, but a result that needs this is refused, or
    flagged, as ``extrapolate`` says.

    Parameters
    ----------
    armature_current, reaction_field_current : sequence of float
        [A], [A]; the first strictly increasing. The current 0 A must be in the table's range, and when it is one of the
        points, its loss must be 0 A.
    extrapolate : {"refuse", "flag"}

    Raises
    ------
    ValueError
        Points that do not increase, a loss at 0 A, a table that does not reach 0 A.

    Examples
    --------
    >>> table = TableReaction((0.0, 20.0, 40.0), (0.0, 0.02, 0.06))
    >>> table.lost_at(40.0), table.lost_at(-20.0)
    (0.06, 0.02)
    """

    armature_current: tuple[float, ...]
    reaction_field_current: tuple[float, ...]
    extrapolate: str
    _cubic: ShapeCubic = field(repr=False, compare=False)

    def __init__(self, armature_current: Any, reaction_field_current: Any, extrapolate: str = "refuse") -> None:
        current, lost = increasing_points(
            "armature_current", armature_current, "reaction_field_current", reaction_field_current
        )
        if current[0] > 0.0 or current[-1] <= 0.0:
            raise refuse("armature_current", current[0], "a table that begins at 0 A (with a reaction of 0 A)", (0,))
        if 0.0 in current and lost[current.index(0.0)] != 0.0:
            index = current.index(0.0)
            raise refuse("reaction_field_current", lost[index], "0 A at an armature current of 0 A", (index,))
        if extrapolate not in ("refuse", "flag"):
            raise ValueError(f"extrapolate is {extrapolate!r:.60}; 'refuse' or 'flag' is needed")
        values = {
            "armature_current": current,
            "reaction_field_current": lost,
            "extrapolate": extrapolate,
            "limits": (current[0], current[-1]),
            "_cubic": ShapeCubic(current, lost),
        }
        for name, value in values.items():
            object.__setattr__(self, name, value)

    def coordinate(self, armature_current: Any) -> Any:
        return abs(armature_current) if self.armature_current[0] == 0.0 else armature_current

    def lost_at(self, current: Any) -> Any:
        x = self.coordinate(current)
        return self._cubic.value(x) if isinstance(x, float) else self._cubic.values(x)

    def lost_slope_at(self, current: Any) -> Any:
        x = self.coordinate(current)
        if isinstance(x, float):
            return self._cubic.slope(x) if x == current else -self._cubic.slope(x)
        return np.where(x == current, 1.0, -1.0).astype(x.dtype) * self._cubic.slopes(x)


@dataclass(frozen=True)
class FluxLoss(ArmatureReaction):
    """The flux is reduced by a percentage at a stated armature current, and in proportion at others, either direction.

    It is reported as the loss of field current that it amounts to; as the whole field current where even that would not
    account for it.

    Parameters
    ----------
    percent : float
        Flux lost [%], not negative, below 100.
    armature_current : float
        [A] at which it is lost, above zero.

    Raises
    ------
    ValueError
        A value that cannot be, named.

    Examples
    --------
    >>> FluxLoss(5.0, 40.0).loss_per_ampere
    0.00125
    """

    percent: float
    armature_current: float

    def __post_init__(self) -> None:
        percent = scalar("percent", self.percent, "not negative")
        if percent >= 100.0:
            raise refuse("percent", percent, "a percentage of flux below 100")
        object.__setattr__(self, "percent", percent)
        current = scalar("armature_current", self.armature_current, "positive")
        object.__setattr__(self, "armature_current", current)

    @property
    def loss_per_ampere(self) -> float:
        """Fraction of the flux lost per ampere [1/A]."""
        return self.percent / 100.0 / self.armature_current

    def k_phi_at(self, flux: FluxCurve, field_current: Any, armature_current: Any) -> Any:
        k_phi = flux.k_phi_at(field_current)
        return formulas.k_phi_with_flux_loss(k_phi, self.loss_per_ampere, abs(armature_current))

    def k_phi_slope_at(self, flux: FluxCurve, field_current: Any, field_slope: Any, armature_current: Any) -> Any:
        p, magnitude = self.loss_per_ampere, abs(armature_current)
        sign = 1.0 - 2.0 * (armature_current < 0.0)
        through_field = flux.slope_at(field_current) * field_slope * (1.0 - p * magnitude)
        return through_field - flux.k_phi_at(field_current) * p * sign

    def curve_current_at(self, field_current: Any, armature_current: Any) -> Any:
        return field_current

    def field_current_for(self, flux: FluxCurve, k_phi: Any, armature_current: Any) -> Any:
        left = 1.0 - self.loss_per_ampere * abs(armature_current)
        return flux.field_current_at(np.where(left > 0.0, k_phi / left, np.inf))

    def reaction_field_current_at(self, flux: FluxCurve, field_current: Any, armature_current: Any) -> Any:
        k_phi = self.k_phi_at(flux, field_current, armature_current)
        left = flux.field_current_at(k_phi)
        if isinstance(left, float):
            return field_current - (left if left > 0.0 else 0.0)
        return field_current - np.where(left > 0.0, left, 0.0).astype(np.asarray(k_phi).dtype, copy=False)
