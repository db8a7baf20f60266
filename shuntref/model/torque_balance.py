"""The one equation of the steady state: torque of the machine against torque asked for, as a function of armature current.

For a block of points, ``kPhi(I_a) I_a - T_L(omega) - T_0(omega)`` with every other unknown eliminated:

    U   = u0 - u1 I_a                 voltage on the armature circuit
    I_f = f0 - f1 I_a                 field current (u1 and f1 are zero without line resistance)
    omega = (U - U_b sign(I_a) - I_a R) / kPhi
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from shuntref.model import formulas
from shuntref.model.flux import FluxCurve
from shuntref.model.load import LoadTerms, slope_of, torque_of
from shuntref.model.reaction import ArmatureReaction, FluxLoss, ProportionalReaction

__all__ = ["Directed", "TorqueBalance", "balance_of"]

Array = np.ndarray[Any, Any]


@dataclass(frozen=True)
class TorqueBalance:
    """Coefficients of the equation; each a float, or an array with one value for each point."""

    flux: FluxCurve
    reaction: ArmatureReaction
    terms: LoadTerms
    u0: Any
    u1: Any
    f0: Any
    f1: Any
    resistance: Any
    brush_drop: Any

    @property
    def rigid(self) -> bool:
        """Whether the flux does not depend on the armature current."""
        reaction = self.reaction
        absent = (
            reaction.absent
            or (isinstance(reaction, ProportionalReaction) and reaction.reaction_coefficient == 0.0)
            or (isinstance(reaction, FluxLoss) and reaction.loss_per_ampere == 0.0)
        )
        return absent and _is_zero(self.f1)

    @property
    def constant_torque(self) -> bool:
        """Whether the torque asked for does not depend on the speed."""
        terms = self.terms
        return not terms.functions and all(_is_zero(c) for c in (terms.proportional, terms.square, terms.power))

    def k_phi(self, current: Any) -> Any:
        """k_phi at an armature current."""
        field = self.f0 if _is_zero(self.f1) else self.f0 - self.f1 * current
        return self.reaction.k_phi_at(self.flux, field, current)

    def curve_current(self, current: Any) -> Any:
        """The current at which the flux curve is read."""
        return self.reaction.curve_current_at(self.f0 - self.f1 * current, current)

    def torque(self, speed: Any) -> Any:
        """Torque asked for at a speed."""
        return torque_of(self.terms, speed)

    def take(self, index: Array) -> TorqueBalance:
        """The balance of some of the points."""

        def some(value: Any) -> Any:
            return value[index] if isinstance(value, np.ndarray) else value

        terms = self.terms
        picked = LoadTerms(
            some(terms.constant), some(terms.proportional), some(terms.square), some(terms.power), terms.functions
        )
        return TorqueBalance(
            self.flux, self.reaction, picked, some(self.u0), some(self.u1), some(self.f0), some(self.f1),
            some(self.resistance), some(self.brush_drop),
        )  # fmt: skip

    def stable(self, current: Any, speed: Any) -> Any:
        """Whether dT_e/domega < dT_load/domega at a solution.

        Along the characteristic both torque and speed are functions of the current; where the speed does not change
        with the current at all, the characteristic is upright and the sign of dT_e/dI_a decides.
        """
        field = self.f0 - self.f1 * current
        k_phi = self.reaction.k_phi_at(self.flux, field, current)
        k_slope = self.reaction.k_phi_slope_at(self.flux, field, -self.f1, current)
        speed_slope = (-(self.resistance + self.u1) - speed * k_slope) / k_phi
        torque_slope = k_phi + current * k_slope
        load_slope = slope_of(self.terms, speed) * speed_slope
        return np.where(speed_slope <= 0.0, torque_slope > load_slope, torque_slope < load_slope)

    def greatest_current(self, sign: float) -> Any:
        """Magnitude of the current beyond which the speed reverses or the flux is gone, where that is known."""
        limit: Any = np.inf
        total = np.asarray(self.u1 + self.resistance)
        with np.errstate(all="ignore"):
            if sign > 0.0:
                headroom = self.u0 - self.brush_drop
                limit = np.where(total > 0.0, headroom / total, np.where(headroom > 0.0, np.inf, 0.0))
            reaction = self.reaction
            if isinstance(reaction, FluxLoss):
                limit = np.minimum(limit, np.divide(1.0, reaction.loss_per_ampere))
            zero = self.flux.zero_flux_field_current
            if (reaction.absent or isinstance(reaction, (ProportionalReaction, FluxLoss))) and not math.isinf(zero):
                d = reaction.reaction_coefficient if isinstance(reaction, ProportionalReaction) else 0.0
                slope = np.asarray(sign * (self.f1 + d))
                limit = np.minimum(limit, np.where(slope > 0.0, (self.f0 - zero) / slope, np.inf))
        return limit


class Directed:
    """The residual on one side of no load: h(x) with x the magnitude of the current, negative until torque suffices."""

    def __init__(self, balance: TorqueBalance, sign: float) -> None:
        self.balance, self.sign = balance, sign

    def take(self, index: Array) -> Directed:
        """The residual of some of the points."""
        return Directed(self.balance.take(index), self.sign)

    def value(self, magnitude: Array) -> Array:
        """h, minus infinity where there is no flux left."""
        balance, sign = self.balance, self.sign
        current = magnitude if sign > 0.0 else -magnitude
        k_phi = balance.k_phi(current)
        emf = balance.u0 - sign * balance.brush_drop - (balance.u1 + balance.resistance) * current
        if sign > 0.0:
            emf = np.maximum(emf, 0.0)  # rounding must not turn the shaft back at standstill
        speed = emf / k_phi
        flows = np.greater(k_phi, 0.0)
        everywhere = bool(np.all(flows))
        if not everywhere:
            speed = np.where(flows, speed, 0.0)
        h = k_phi * current - balance.torque(speed)
        if sign < 0.0:
            h = -h
        return h if everywhere else np.where(flows, h, -np.inf)


def _is_zero(value: Any) -> bool:
    return type(value) is float and value == 0.0


def balance_of(values: dict[str, Any], connection: str, behind_line: bool) -> TorqueBalance:
    """The balance of a block of inputs."""
    resistance = formulas.armature_circuit_resistance(
        values["armature_resistance"], values["added_armature_resistance"]
    )
    field_resistance = formulas.field_circuit_resistance(values["field_resistance"], values["added_field_resistance"])
    line = values["line_resistance"]
    u1: Any = 0.0
    f1: Any = 0.0
    if connection == "separate":
        f0 = formulas.field_current(values["field_voltage"], field_resistance)
        u0 = values["source_voltage"] if behind_line else values["supply_voltage"]
        u1 = line if behind_line else 0.0
    elif behind_line:
        whole = field_resistance + line
        f0, f1 = values["source_voltage"] / whole, line / whole
        u0, u1 = f0 * field_resistance, f1 * field_resistance
    else:
        u0 = values["supply_voltage"]
        f0 = formulas.field_current(u0, field_resistance)
    terms = values["load_terms"] + values["loss_terms"]
    values["armature_circuit_resistance"], values["field_circuit_resistance"] = resistance, field_resistance
    if not behind_line:
        values["field_current"] = f0
    return TorqueBalance(values["flux"], values["reaction"], terms, u0, u1, f0, f1, resistance, values["brush_drop"])
