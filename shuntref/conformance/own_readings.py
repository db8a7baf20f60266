"""Our own model's answers: two states, magnetisation tables, armature reaction, losses, parameters from readings."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from shuntref.conformance.own_answers import (
    Answer,
    Given,
    answers,
    emf_behind,
    field_current_of,
    machine_of,
    motoring,
    not_below_zero,
    read_line_current,
    steady,
)
from shuntref.model import formulas
from shuntref.model.flux import ProportionalFlux
from shuntref.model.held_speed import state_at_speed

__all__: list[str] = []


# --- two states


def _second(given: Given, before: float, emf: float, flux_ratio: float) -> Answer:
    """The steady state that follows: a machine with the flux of the reading, changed by a ratio."""
    k_phi = flux_ratio * emf / given["reference_speed"]
    torque = given["torque_ratio"] * emf / given["reference_speed"] * before
    after = {
        "supply_voltage": given["supply_voltage"],
        "armature_resistance": given["armature_resistance"],
        "added_armature_resistance": given.get("added_armature_resistance", 0.0),
        "brush_drop": given["brush_drop"],
        "field_voltage": 1.0,
        "flux_constant": k_phi,
        "load_torque": torque,
    }
    return steady(after)


def _reading(given: Given, volts: float, current: float) -> tuple[float, float]:
    """Armature current and back EMF of the reference state, nothing added in its circuits."""
    before = motoring("reference_line_current", current)
    emf = emf_behind({**given, "added_armature_resistance": 0.0}, volts, before)
    if emf == 0:
        raise ValueError("reference_speed: the machine stands still in the reference state")
    return before, emf


@answers("speed_after_change")
def speed_after_change(given: Given) -> Answer:
    """The field current falls as the field circuit's resistance grows."""
    volts = given["supply_voltage"]
    field = field_current_of(given, volts)
    before, emf = _reading(given, volts, given["reference_line_current"] - field)
    return _second(given, before, emf, field_current_of(given, volts, given["added_field_resistance"]) / field)


@answers("speed_after_voltage_change")
def speed_after_voltage_change(given: Given) -> Answer:
    """The flux follows the voltage."""
    volts = given["reference_supply_voltage"]
    field = field_current_of(given, volts)
    before, emf = _reading(given, volts, given["reference_line_current"] - field)
    return _second(given, before, emf, field_current_of(given, given["supply_voltage"]) / field)


@answers("speed_after_flux_change")
def speed_after_flux_change(given: Given) -> Answer:
    """The ratio is stated."""
    before, emf = _reading(given, given["supply_voltage"], given["reference_armature_current"])
    return _second(given, before, emf, given["flux_ratio"])


@answers("momentary_armature_current")
def momentary_armature_current(given: Given) -> Answer:
    """The machine held at one rad/s, where k_phi and back EMF are the same number."""
    before, emf = _reading(given, given["supply_voltage"], given["reference_armature_current"])
    machine = machine_of({**given, "flux_constant": given["flux_ratio"] * emf, "field_voltage": 1.0})
    held = state_at_speed(machine, speed=1.0, supply_voltage=given["supply_voltage"], field_voltage=1.0)
    ratio = given["flux_ratio"] * held.armature_current / before
    return {"armature_current": held.armature_current, "torque_ratio": ratio}


# --- magnetisation table, straight between its points


def _table(given: Given) -> tuple[list[float], list[float]]:
    currents, emfs = given["table_field_current"], given["table_back_emf"]
    if len(currents) != len(emfs) or len(currents) < 2:
        raise ValueError("table_field_current: two points at least are needed, each with its EMF")
    for name, points in (("table_field_current", currents), ("table_back_emf", emfs)):
        if any(after <= before for before, after in pairwise(points)):
            raise ValueError(f"{name} does not ascend")
    return list(currents), list(emfs)


def _straight(x: float, xs: list[float], ys: list[float], name: str) -> float:
    if not xs[0] <= x <= xs[-1]:
        raise ValueError(f"{name} = {x:g} lies off the table, which reaches from {xs[0]:g} to {xs[-1]:g}")
    return float(np.interp(x, xs, ys))


def _k_phi_from_table(given: Given, field_current: float) -> float:
    return _straight(field_current, *_table(given), "field_current") / float(given["table_speed"])


@answers("speed_with_table")
def speed_with_table(given: Given) -> Answer:
    """A machine whose flux constant is the table's at this field current."""
    field = field_current_of(given, given["supply_voltage"], given["added_field_resistance"])
    return steady(given, ProportionalFlux(_k_phi_from_table(given, field) / field))


@answers("added_field_resistance_with_table")
def added_field_resistance_with_table(given: Given) -> Answer:
    """The flux for the speed, then the table read backwards."""
    currents, emfs = _table(given)
    volts = given["supply_voltage"]
    torque = given["load_torque"] + given["loss_torque"]
    sign = (torque > 0) - (torque < 0)
    resistance = formulas.armature_circuit_resistance(given["armature_resistance"], given["added_armature_resistance"])
    net = formulas.net_voltage(volts, sign * given["brush_drop"])
    if net * net < 4 * given["speed"] * torque * resistance:
        raise ValueError(f"speed = {given['speed']:g} rad/s cannot be reached with this torque")
    k_phi = formulas.k_phi_for_speed(net, torque, resistance, given["speed"])
    field = _straight(k_phi * given["table_speed"], emfs, currents, "open-circuit EMF")
    added = formulas.added_field_resistance_for_current(volts, field, given["field_resistance"])
    return {"added_field_resistance": not_below_zero("added_field_resistance", added)}


@answers("speed_with_demagnetising_mmf")
def speed_with_demagnetising_mmf(given: Given) -> Answer:
    """The table at the effective field current."""
    field, _, emf = read_line_current(given)
    effective = formulas.effective_field_current(field, given["demagnetising_mmf"] / given["field_turns"])
    k_phi = _k_phi_from_table(given, effective)
    if k_phi == 0:
        raise ValueError("demagnetising_mmf leaves no flux")
    return {"effective_field_current": effective, "speed": formulas.speed_from_emf(emf, k_phi)}


@answers("largest_torque_with_armature_reaction")
def largest_torque_with_armature_reaction(given: Given) -> Answer:
    """The peak of the torque."""
    field = field_current_of(given, given["supply_voltage"], given["added_field_resistance"])
    torque = formulas.peak_torque_with_reaction(given["flux_constant"], field, given["reaction_coefficient"])
    return {"electromagnetic_torque": torque}


# --- losses and efficiency


@answers("losses")
def losses(given: Given) -> Answer:
    """Each loss by its own law."""
    field, armature, _ = read_line_current(given)
    parts = {
        "field_copper_loss": formulas.field_copper_loss(field, given["field_resistance"]),
        "added_field_loss": formulas.added_field_loss(field, given["added_field_resistance"]),
        "armature_copper_loss": formulas.armature_copper_loss(armature, given["armature_resistance"]),
        "added_armature_loss": formulas.added_armature_loss(armature, given["added_armature_resistance"]),
        "brush_loss": formulas.brush_loss(given["brush_drop"], abs(armature)),
    }
    total = formulas.total_loss(**parts, line_loss=0.0, rotational_loss=given["rotational_loss"])
    return {**parts, "total_loss": total}


@answers("efficiency")
def efficiency(given: Given) -> Answer:
    """Powers from the line to the shaft."""
    _, armature, emf = read_line_current(given)
    drawn = formulas.input_power_shunt(given["supply_voltage"], given["line_current"])
    developed = formulas.electromagnetic_power(emf, motoring("line_current", armature))
    shaft = not_below_zero("output_power", developed - given["rotational_loss"])
    return {
        "input_power": drawn,
        "electromagnetic_power": developed,
        "output_power": shaft,
        "efficiency": formulas.efficiency_motoring(shaft, drawn),
    }


@answers("efficiency_from_no_load_test")
def efficiency_from_no_load_test(given: Given) -> Answer:
    """What is drawn at no load, less the heat in the armature circuit, is drawn at every load."""
    volts, light, line = given["supply_voltage"], given["reference_line_current"], given["line_current"]
    field = field_current_of(given, volts)
    motoring("reference_line_current", light - field)
    if line < light:
        raise ValueError(f"line_current = {line:g} A: no less than at no load, {light:g} A, is needed")

    def heat(current: float) -> float:
        copper = formulas.armature_copper_loss(current, given["armature_resistance"])
        return float(copper + formulas.brush_loss(given["brush_drop"], current))

    constant = volts * light - heat(light - field)
    shaft = not_below_zero("output_power", volts * line - constant - heat(line - field))
    return {"constant_loss": constant, "output_power": shaft, "efficiency": shaft / (volts * line)}


@answers("speed_with_warm_windings")
def speed_with_warm_windings(given: Given) -> Answer:
    """The machine with both windings warmed."""
    cold, hot = given["reference_temperature"], given["winding_temperature"]
    machine = machine_of(given).with_temperatures(
        temperature_constant=given["temperature_constant"],
        field_from=cold,
        field_to=hot,
        armature_from=cold,
        armature_to=hot,
    )
    warm = {
        "field_resistance": machine.field_resistance,
        "armature_resistance": machine.armature_resistance,
    }
    return steady({**given, **warm})


# --- parameters from readings


def _equally_many(given: Given, *names: str) -> list[np.ndarray[Any, Any]]:
    columns = [np.asarray(given[name], dtype=float) for name in names]
    if len({column.size for column in columns}) != 1 or columns[0].size == 0:
        raise ValueError(f"{names[0]}: as many readings as of the others, and one at least, are needed")
    return columns


@answers("armature_resistance_and_brush_drop")
def armature_resistance_and_brush_drop(given: Given) -> Answer:
    """Least squares about the means, which keeps the digits that sums of squares lose."""
    amperes, volts = _equally_many(given, "armature_current", "supply_voltage")
    from_mean = amperes - amperes.mean()
    spread = float(from_mean @ from_mean)
    if spread == 0:
        raise ValueError("armature_current: two different currents at least are needed")
    resistance = float(from_mean @ (volts - volts.mean())) / spread
    return {"armature_resistance": resistance, "brush_drop": float(volts.mean() - resistance * amperes.mean())}


@answers("flux_constant_from_readings")
def flux_constant_from_readings(given: Given) -> Answer:
    """Least squares through the origin."""
    amperes, speeds, volts = _equally_many(given, "field_current", "speed", "back_emf")
    product = amperes * speeds
    return {"flux_constant": float(product @ volts / (product @ product))}


@answers("froehlich_from_two_points")
def froehlich_from_two_points(given: Given) -> Answer:
    """Field current over flux gained is a straight line in the field current, with slope 1/a and intercept b/a."""
    amperes, fluxes = _equally_many(given, "field_current", "k_phi")
    if amperes.size != 2 or amperes[0] == amperes[1]:
        raise ValueError("field_current: two different points are needed")
    gained = fluxes - given["remanent_k_phi"]
    if not np.all(gained > 0):
        raise ValueError("k_phi: both are to lie above remanent_k_phi")
    per_flux = amperes / gained
    slope = float((per_flux[1] - per_flux[0]) / (amperes[1] - amperes[0]))
    if slope <= 0:
        raise ValueError("k_phi: two points of a saturating curve are needed")
    half = float(per_flux[0]) / slope - float(amperes[0])
    if half <= 0:
        raise ValueError("k_phi falls where the field current rises")
    return {"froehlich_a": 1.0 / slope, "froehlich_b": half}


@answers("field_resistance_from_two_speeds")
def field_resistance_from_two_speeds(given: Given) -> Answer:
    """The speed is proportional to the field circuit's resistance."""
    added, speeds = _equally_many(given, "added_field_resistance", "speed")
    if added.size != 2 or speeds[0] == speeds[1]:
        raise ValueError("speed: two different readings are needed")
    found = float((added[1] * speeds[0] - added[0] * speeds[1]) / (speeds[1] - speeds[0]))
    if found <= 0:
        raise ValueError(f"field_resistance would be {found:g} ohm; no such winding can be")
    return {"field_resistance": found}


@answers("rotational_loss_from_no_load")
def rotational_loss_from_no_load(given: Given) -> Answer:
    """All that is developed without load is lost."""
    _, armature, emf = read_line_current(given)
    loss = formulas.electromagnetic_power(emf, motoring("line_current", armature))
    return {"rotational_loss": loss, "loss_torque": loss / given["speed"]}
