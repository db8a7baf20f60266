"""The resistance to add for a wanted speed, in the field circuit or in the armature circuit, for any machine and load."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from shuntref.model.field_for_speed import k_phi_for_target
from shuntref.model.infeasible import ARMATURE_THEOREM, FIELD_THEOREM, PEAK_THEOREM
from shuntref.model.load import ConstantTorque, Load, torque_of
from shuntref.model.machine import Machine
from shuntref.model.result import SteadyState
from shuntref.model.setting import Setting, check_choices, gather
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.steady import steady_state
from shuntref.model.validation import as_array, check_array, scalar
from shuntref.quantities.text import format_value

__all__ = ["SizedResistance", "added_armature_resistance_for_speed", "added_field_resistance_for_speed"]

Array = np.ndarray[Any, Any]
_AGREES = 1e-6  # relative; near the peak of the speed a resistance is only known to the root of the rounding


@dataclass(frozen=True)
class SizedResistance:
    """A resistance for a wanted speed, and the running point it was checked with.

    Attributes
    ----------
    quantity : str
        "added_field_resistance" or "added_armature_resistance".
    resistance : float or array
        [ohm]; NaN in arrays where the speed cannot be had.
    status : Status or array of uint8
        As for a steady state; ``speed-unreachable`` where no resistance gives the speed.
    nearest_speed : float or array
        [rad/s] The wanted speed where it can be had, else the nearest that this resistance can bring about.
    state : SteadyState
        The steady state worked out forwards with the resistance found.
    """

    quantity: str
    resistance: Any
    status: Any
    nearest_speed: Any
    state: SteadyState | None


def added_field_resistance_for_speed(
    machine: Machine,
    *,
    speed: Any = None,
    speed_rpm: Any = None,
    supply_voltage: Any = None,
    load: Load | None = None,
    load_torque: Any = None,
    added_armature_resistance: Any = 0.0,
    field_voltage: Any = None,
    source_voltage: Any = None,
    line_resistance: Any = None,
    branch: str = "strong-field",
) -> SizedResistance:
    """Find the resistance to add in the field circuit for a wanted speed.

    Parameters
    ----------
    machine : Machine
    speed, speed_rpm : float or array
        [rad/s] or [r/min]; one of them, above zero.
    supply_voltage : float or array, optional
        [V] As for ``steady_state``, like those that follow.
    load : Load, optional
    load_torque : float or array, optional
        [N m]
    added_armature_resistance : float or array
        [ohm]
    field_voltage, source_voltage : float or array, optional
        [V]
    line_resistance : float or array, optional
        [ohm]
    branch : {"strong-field", "weak-field"}
        With a motoring torque two fields give the same speed: one with E above U/2, and a much weaker one with E below
        it, at a much larger armature current.

    Returns
    -------
    SizedResistance

    Raises
    ------
    InfeasibleError
        For a single point: no added resistance gives the speed. ``limit`` is the nearest speed that can be had.
    ValueError
        An input that cannot be.

    Notes
    -----
    The torque at the wanted speed is known, so k_phi follows from kPhi^2 omega - U kPhi + T R = 0 (with line resistance
    ahead of a shunt field, from the same balance solved numerically), the field current from the inverse of the flux
    curve, the resistance from Ohm's law. The result is worked out forwards and must give the speed again, stably.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> found = added_field_resistance_for_speed(bench, speed_rpm=1600.0, supply_voltage=120.0, load_torque=6.0)
    >>> round(found.resistance, 3)
    18.128
    """
    if branch not in ("strong-field", "weak-field"):
        raise ValueError(f"branch is {branch!r:.60}; 'strong-field' or 'weak-field' is needed")
    given = {
        "supply_voltage": supply_voltage,
        "source_voltage": source_voltage,
        "field_voltage": field_voltage,
        "added_armature_resistance": added_armature_resistance,
        "line_resistance": line_resistance,
    }
    target, setting = _prepare(machine, given, speed, speed_rpm, load, load_torque)
    values = setting.block(0, setting.size)
    omega = values.pop("target")
    with np.errstate(all="ignore"):
        torque = torque_of(values["load_terms"] + values["loss_terms"], omega)
        k_phi, current, volts, peak = k_phi_for_target(
            values, omega, torque, machine, setting.behind_line, weak=branch == "weak-field"
        )
        field = machine.armature_reaction.field_current_for(machine.flux, k_phi, current)
        voltage = values["field_voltage"] if machine.connection == "separate" else volts
        added = voltage / field - values["field_resistance"]
        added = np.where((added < 0.0) & (added > -1e-12 * values["field_resistance"]), 0.0, added)
    base = _state(machine, given, load, load_torque, added_field_resistance=0.0)
    base_speed = np.broadcast_to(np.asarray(_speed_of(base), float), setting.size)
    # without a motoring torque there is no peak, and no weak-field branch
    highest = np.where(np.isfinite(peak), peak, np.nan)
    nearest = np.where(np.isnan(k_phi), highest, base_speed)
    theorem = PEAK_THEOREM if np.all(np.isnan(k_phi)) else FIELD_THEOREM
    return _checked(
        machine, setting, given, load, load_torque, target, added, nearest, "added_field_resistance", theorem
    )


def added_armature_resistance_for_speed(
    machine: Machine,
    *,
    speed: Any = None,
    speed_rpm: Any = None,
    supply_voltage: Any = None,
    load: Load | None = None,
    load_torque: Any = None,
    added_field_resistance: Any = 0.0,
    field_voltage: Any = None,
    source_voltage: Any = None,
    line_resistance: Any = None,
) -> SizedResistance:
    """Find the resistance to add in the armature circuit for a wanted speed.

    Parameters
    ----------
    machine : Machine
    speed, speed_rpm : float or array
        [rad/s] or [r/min]; one of them, above zero.
    supply_voltage : float or array, optional
        [V] As for ``steady_state``, like those that follow.
    load : Load, optional
    load_torque : float or array, optional
        [N m]
    added_field_resistance : float or array
        [ohm]
    field_voltage, source_voltage : float or array, optional
        [V]
    line_resistance : float or array, optional
        [ohm]

    Returns
    -------
    SizedResistance

    Raises
    ------
    InfeasibleError
        For a single point: no added resistance gives the speed. ``limit`` is the nearest speed that can be had.
    ValueError
        An input that cannot be.

    Notes
    -----
    The torque at the wanted speed is known, and with it the armature current and the flux, whatever the armature
    resistance; R = (U - E)/I_a follows. Without torque, armature resistance changes nothing and only the ideal no-load
    speed can be had.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> found = added_armature_resistance_for_speed(bench, speed_rpm=1000.0, supply_voltage=120.0, load_torque=6.0)
    >>> round(found.resistance, 3)
    4.383
    """
    given = {
        "supply_voltage": supply_voltage,
        "source_voltage": source_voltage,
        "field_voltage": field_voltage,
        "added_field_resistance": added_field_resistance,
        "line_resistance": line_resistance,
    }
    target, setting = _prepare(machine, given, speed, speed_rpm, load, load_torque)
    values = setting.block(0, setting.size)
    omega = values.pop("target")
    torque = np.broadcast_to(np.asarray(torque_of(values["load_terms"] + values["loss_terms"], omega)), setting.size)
    lossless = dataclasses.replace(machine, loss_torque=ConstantTorque(0.0))
    carried = steady_state(
        lossless,
        load_torque=torque.copy(),
        armature_resistance=0.0,
        quantities=["armature_current", "k_phi", "supply_voltage"],
        **{name: _flat(value, setting) for name, value in given.items() if value is not None},
    )
    current = carried.armature_current
    with np.errstate(all="ignore"):
        net = carried.supply_voltage - np.sign(current) * values["brush_drop"]
        added = (net - carried.k_phi * omega) / current - values["armature_resistance"]
        added = np.where((added < 0.0) & (added > -1e-12 * (1.0 + values["armature_resistance"])), 0.0, added)
    base = _state(machine, given, load, load_torque, added_armature_resistance=0.0)
    base_speed = np.broadcast_to(np.asarray(_speed_of(base), float), setting.size)
    added = np.where((torque == 0.0) & (np.abs(base_speed - omega) <= _AGREES * omega), 0.0, added)
    return _checked(
        machine, setting, given, load, load_torque, target, added, base_speed, "added_armature_resistance",
        ARMATURE_THEOREM,
    )  # fmt: skip


# --- what both do


def _prepare(
    machine: Machine, given: dict[str, Any], speed: Any, speed_rpm: Any, load: Load | None, load_torque: Any
) -> tuple[Any, Setting]:
    """The wanted speed in rad/s, and the setting broadcast with it."""
    if (speed is None) == (speed_rpm is None):
        raise ValueError("one of speed and speed_rpm is needed, and not both")
    name, wanted = ("speed", speed) if speed_rpm is None else ("speed_rpm", speed_rpm)
    if isinstance(wanted, (int, float)):
        target: Any = scalar(name, wanted, "positive")
    else:
        target = as_array(name, wanted)
        check_array(name, target, "positive")
    if speed_rpm is not None:
        from shuntref.model.formulas import to_rad_per_s

        target = to_rad_per_s(target)
    check_choices(machine, given)
    return target, gather(machine, {**given, "target": target}, load, load_torque)


def _flat(value: Any, setting: Setting) -> Any:
    """An input spread over the flattened points."""
    return value if np.ndim(value) == 0 else np.broadcast_to(np.asarray(value), setting.shape).ravel()


def _state(
    machine: Machine, given: dict[str, Any], load: Load | None, load_torque: Any, **added: Any
) -> SteadyState | None:
    """The forward steady state, or None for a single point that has none."""
    try:
        return steady_state(machine, load=load, load_torque=load_torque, **given, **added)
    except InfeasibleError:
        return None


def _speed_of(state: SteadyState | None) -> Any:
    return np.nan if state is None else np.ravel(state.speed) if state.shape else state.speed


def _checked(
    machine: Machine,
    setting: Setting,
    given: dict[str, Any],
    load: Load | None,
    load_torque: Any,
    target: Any,
    added: Array,
    nearest: Array,
    quantity: str,
    theorem: str,
) -> SizedResistance:
    """Work the result out forwards; where it does not give the speed again, the speed cannot be had."""
    possible = np.isfinite(added) & (added >= 0.0)
    tried = np.where(possible, added, 0.0).reshape(setting.shape)
    forward = _state(machine, given, load, load_torque, **{quantity: tried if setting.shape else float(tried.item())})
    wanted = np.broadcast_to(np.asarray(target, float), setting.shape)
    with np.errstate(all="ignore"):
        reached = np.full(setting.shape, np.nan) if forward is None else np.asarray(forward.speed)
        good = possible.reshape(setting.shape) & (np.abs(reached - wanted) <= _AGREES * wanted)
    status = np.where(good, np.uint8(0) if forward is None else forward.status, Status.SPEED_UNREACHABLE)
    nearest = np.where(good, wanted, nearest.reshape(setting.shape))
    resistance = np.where(good, tried, np.nan)
    if setting.shape == ():
        if not good or forward is None:
            raise _unreachable(quantity, float(wanted), float(nearest), theorem)
        return SizedResistance(quantity, float(resistance), Status(int(status)), float(nearest), forward)
    return SizedResistance(quantity, resistance, status.astype(np.uint8), nearest, forward)


def _unreachable(quantity: str, wanted: float, nearest: float, theorem: str) -> InfeasibleError:
    from shuntref.model.formulas import to_rpm

    circuit = "field" if quantity == "added_field_resistance" else "armature"
    shown = format_value("speed_rpm", to_rpm(wanted), digits=6)
    near = "none at all" if np.isnan(nearest) else format_value("speed_rpm", to_rpm(nearest), digits=6)
    return InfeasibleError(
        f"speed: no resistance added in the {circuit} circuit gives {shown} with this load; the nearest is {near}"
        f" (theorem {theorem})",
        status=Status.SPEED_UNREACHABLE,
        quantity="speed",
        value=wanted,
        limit=nearest,
        theorem=theorem,
    )
