"""The words for a single point that has no solution: what was asked for, what the limit is, which theorem says so."""

from __future__ import annotations

from typing import Any

import numpy as np

from shuntref.model.block_solver import Solved
from shuntref.model.formulas import to_rpm
from shuntref.model.load import torque_of
from shuntref.model.setting import Setting
from shuntref.model.status import WORDS, InfeasibleError, Status
from shuntref.quantities.text import format_value

__all__ = [
    "ARMATURE_THEOREM",
    "FIELD_THEOREM",
    "PEAK_THEOREM",
    "beyond_reaction_peak",
    "beyond_stall",
    "infeasible",
    "no_power",
]

#: slugs of the theorems that forbid things; a test holds them to the theory room's list
STALL_THEOREM = "stall-torque"
REACTION_THEOREM = "armature-reaction-root"
FIELD_THEOREM = "added-field-resistance-and-speed"
PEAK_THEOREM = "peak-speed"
ARMATURE_THEOREM = "armature-resistance-and-speed"


def _number(one: Any) -> float:
    """The value of a single point, however it is wrapped."""
    return float(np.asarray(one).item())


def _torque(value: float) -> str:
    return format_value("electromagnetic_torque", value, digits=5)


def beyond_stall(torque: float, limit: float) -> InfeasibleError:
    """The machine gives ``limit`` [N m] at standstill and is asked for ``torque``."""
    return InfeasibleError(
        f"electromagnetic_torque: {_torque(torque)} is asked for, but at standstill this setting gives {_torque(limit)}"
        " and no more while turning forwards",
        status=Status.TORQUE_BEYOND_STALL,
        quantity="electromagnetic_torque",
        value=torque,
        limit=limit,
        theorem=STALL_THEOREM,
    )


def beyond_reaction_peak(torque: float, limit: float) -> InfeasibleError:
    """The weakened flux allows ``limit`` [N m] and no more."""
    return InfeasibleError(
        f"electromagnetic_torque: {_torque(torque)} is asked for, but the armature current weakens the flux so that"
        f" {_torque(limit)} is the most this setting gives",
        status=Status.TORQUE_BEYOND_REACTION_PEAK,
        quantity="electromagnetic_torque",
        value=torque,
        limit=limit,
        theorem=REACTION_THEOREM,
    )


def no_power(power: float, limit: float) -> InfeasibleError:
    """A load of constant power asks for ``power`` [W]; about ``limit`` is the most that the armature turns into work."""
    return InfeasibleError(
        f"output_power: {format_value('output_power', power, digits=5)} is asked for, and with the other torques no speed"
        f" balances it; the armature turns at most {format_value('output_power', limit, digits=5)} into mechanical power",
        status=Status.NO_SOLUTION,
        quantity="output_power",
        value=power,
        limit=limit,
    )


def infeasible(setting: Setting, status: Status, solved: Solved) -> InfeasibleError:
    """The error for a point that the general solver found to have no solution."""
    current = _number(solved.quantity("armature_current"))
    if status is Status.OUTSIDE_TABLE:
        return _outside_table(setting, solved, current)
    if solved.quantity("field_current") <= setting.machine.flux.zero_flux_field_current:
        return _no_flux(setting, solved)
    torque_here = _number(solved.quantity("k_phi")) * current
    asked = solved.values["load_terms"] + solved.values["loss_terms"]
    torque = _number(asked.constant)
    if status is Status.TORQUE_BEYOND_STALL:
        return beyond_stall(torque, torque_here)
    if status is Status.TORQUE_BEYOND_REACTION_PEAK:
        return beyond_reaction_peak(torque, torque_here)
    speed = max(_number(solved.values.get("nearest_speed", 1.0)), 0.0)  # standstill may round to a little less
    wanted = _number(torque_of(asked, np.array([speed])))
    return InfeasibleError(
        f"speed: {WORDS[status]}; they come nearest at {format_value('speed_rpm', to_rpm(speed), digits=5)}, where"
        f" {_torque(wanted)} is asked for and the machine gives {_torque(torque_here)}",
        status=status,
        quantity="electromagnetic_torque",
        value=wanted,
        limit=torque_here,
    )


def _no_flux(setting: Setting, solved: Solved) -> InfeasibleError:
    """A measured curve, continued below its first point, has come to nothing."""
    field, zero = float(solved.quantity("field_current")), setting.machine.flux.zero_flux_field_current
    shown, least = (format_value("field_current", current, digits=5) for current in (field, zero))
    return InfeasibleError(
        f"field_current: {shown} leaves no flux, as this flux curve vanishes at {least}; more than that is needed",
        status=Status.NO_SOLUTION,
        quantity="field_current",
        value=field,
        limit=zero,
    )


def _outside_table(setting: Setting, solved: Solved, current: float) -> InfeasibleError:
    machine = setting.machine
    field = _number(solved.quantity("field_current"))
    read: Any = machine.armature_reaction.curve_current_at(field, current)
    name, value, limits = "effective_field_current", float(read), machine.flux.limits
    inside = limits is None or limits[0] <= value <= limits[1]
    if inside and machine.armature_reaction.limits is not None:
        name, value = "armature_current", float(machine.armature_reaction.coordinate(current))
        limits = machine.armature_reaction.limits
    low, high = limits or (value, value)
    shown, lower, upper = (format_value(name, number, digits=5) for number in (value, low, high))
    return InfeasibleError(
        f"{name}: {shown} is needed, outside the measured table from {lower} to {upper}, which refuses extrapolation",
        status=Status.OUTSIDE_TABLE,
        quantity=name,
        value=value,
        limit=low if value < low else high,
    )
