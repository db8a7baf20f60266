"""The flux that gives a wanted speed with a known torque: a quadratic, or a search where the line feeds the field too."""

from __future__ import annotations

from typing import Any

import numpy as np

from shuntref.model import formulas
from shuntref.model.flux import FluxCurve
from shuntref.model.machine import Machine
from shuntref.model.reaction import ArmatureReaction
from shuntref.model.root_finder import bracketed_root

__all__ = ["k_phi_for_target"]

Array = np.ndarray[Any, Any]


def k_phi_for_target(
    values: dict[str, Any], speed: Any, torque: Any, machine: Machine, behind_line: bool, *, weak: bool
) -> tuple[Array, Array, Any, Array]:
    """Find k_phi, and what comes with it.

    Returns
    -------
    tuple
        k_phi [V s/rad] and armature current [A], NaN where no flux gives the speed; the voltage across the circuits [V];
        and the highest speed [rad/s] that any flux gives with this torque (infinite without a motoring torque).
    """
    resistance = formulas.armature_circuit_resistance(
        values["armature_resistance"], values["added_armature_resistance"]
    )
    voltage = values["source_voltage"] if behind_line else values["supply_voltage"]
    line = values["line_resistance"] if behind_line else 0.0
    torque = np.atleast_1d(np.asarray(torque, float))  # an array, so that no root can raise
    # an array even for one point: the root of a negative number is then NaN, which means unreachable, and no error
    net = np.atleast_1d(formulas.net_voltage(voltage, np.sign(torque) * values["brush_drop"]))
    total = resistance + line
    closed = formulas.k_phi_for_speed_weak_field if weak else formulas.k_phi_for_speed
    k_phi = np.asarray(closed(net, torque, total, speed))
    with np.errstate(all="ignore"):
        peak = formulas.peak_speed(net, np.maximum(torque, 0.0), total)
    if behind_line and machine.connection == "shunt":
        k_phi = _behind_line(machine, net, torque, total, line, speed, weak=weak)
    k_phi = np.where(k_phi > 0.0, k_phi, np.nan)
    current = torque / k_phi
    if behind_line:
        field = machine.armature_reaction.field_current_for(machine.flux, k_phi, current)
        drawn = current + field if machine.connection == "shunt" else current
        voltage = formulas.supply_voltage_behind_line(voltage, drawn, line)
    return k_phi, current, voltage, peak


class _Shortfall:
    """What the source lacks to give the speed with a k_phi: kPhi omega + I_a R + R_l I_f - U, in terms of kPhi."""

    def __init__(self, parts: tuple[Array, ...], flux: FluxCurve, reaction: ArmatureReaction) -> None:
        self.parts, self.flux, self.reaction = parts, flux, reaction

    def take(self, index: Array) -> _Shortfall:
        """The shortfall of some of the points."""
        return _Shortfall(tuple(part[index] for part in self.parts), self.flux, self.reaction)

    def value(self, k_phi: Array) -> Array:
        """Volts lacking; infinite for a flux that the curve never has."""
        net, torque, total, line, speed = self.parts
        current = torque / k_phi
        field = self.reaction.field_current_for(self.flux, k_phi, current)
        least = self.flux.limits[0] if self.flux.limits is not None else 0.0
        below = np.isnan(field) & (
            k_phi < self.flux.k_phi_at(least)
        )  # a level end: no field at all, for the walk's sake
        lacking = k_phi * speed + current * total + line * np.where(below, least, field) - net
        return np.where(np.isnan(lacking), np.inf, lacking)


def _behind_line(machine: Machine, net: Any, torque: Array, total: Any, line: Any, speed: Any, *, weak: bool) -> Array:
    """Walk from the flux that would do without the field's own current through the line, until the shortfall is gone."""
    parts = tuple(np.asarray(part, float).ravel() for part in np.broadcast_arrays(net, torque, total, line, speed))
    shortfall = _Shortfall(parts, machine.flux, machine.armature_reaction)
    start = parts[0] / parts[4] * np.where(parts[1] < 0.0, 10.0, 1.0)
    size = start.size
    steps = np.geomspace(1.0, 1e-4, 600)
    if weak:
        steps = steps[::-1]
    low, high, f_low, f_high = (np.full(size, np.nan) for _ in range(4))
    before = f_before = np.full(size, np.nan)  # nothing is below nought before the first step
    for step in steps:
        here = start * step
        f_here = shortfall.value(here)
        change = np.isnan(low) & (f_before > 0.0) & (f_here <= 0.0)
        low, high = np.where(change, before, low), np.where(change, here, high)
        f_low, f_high = np.where(change, f_before, f_low), np.where(change, f_here, f_high)
        before, f_before = here, f_here
    k_phi = np.full(size, np.nan)
    found = np.flatnonzero(~np.isnan(low))
    if found.size:
        root = bracketed_root(shortfall.take(found), low[found], f_low[found], high[found], f_high[found])
        k_phi[found] = root
    return k_phi
