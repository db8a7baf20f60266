"""Our own model's answers: speed, currents, EMF, torque, resistances to add, starting."""

from __future__ import annotations

from shuntref.conformance.own_answers import (
    Answer,
    Given,
    answers,
    emf_behind,
    field_current_of,
    known_flux,
    machine_of,
    motoring,
    net_of_brushes,
    not_below_zero,
    read_line_current,
    setting_of,
    steady,
)
from shuntref.model import formulas
from shuntref.model.held_speed import state_at_speed
from shuntref.model.load import SquareTorque
from shuntref.model.sizing import added_armature_resistance_for_speed as size_armature
from shuntref.model.sizing import added_field_resistance_for_speed as size_field
from shuntref.model.starter_grading import grade_starter_by_limits, grade_starter_by_sections
from shuntref.model.steady import steady_state

__all__: list[str] = []

# --- speed


for _name in ("speed", "speed_separately_excited", "speed_with_line_resistance", "speed_with_froehlich",
              "speed_with_armature_reaction"):  # fmt: skip
    answers(_name)(steady)


@answers("speed_at_k_phi")
def speed_at_k_phi(given: Given) -> Answer:
    """The speed equation as it stands, behind the brushes."""
    k_phi, torque = given["k_phi"], given["load_torque"] + given["loss_torque"]
    resistance = formulas.armature_circuit_resistance(given["armature_resistance"], given["added_armature_resistance"])
    net = net_of_brushes(given, given["supply_voltage"], formulas.armature_current_from_torque(torque, k_phi))
    if torque > formulas.stall_torque(net, k_phi, resistance):
        raise ValueError(f"load_torque = {given['load_torque']:g} N m is beyond stall")
    return {"speed": formulas.speed_from_torque(net, k_phi, torque, resistance)}


@answers("ideal_no_load_speed")
def ideal_no_load_speed(given: Given) -> Answer:
    """The shunt machine's, in which the voltage cancels."""
    total = formulas.field_circuit_resistance(given["field_resistance"], given["added_field_resistance"])
    return {"ideal_no_load_speed": formulas.ideal_no_load_speed_shunt_proportional(total, given["flux_constant"])}


@answers("speed_regulation")
def speed_regulation(given: Given) -> Answer:
    """Between two steady states."""
    loaded = steady(given)["speed"]
    if loaded <= 0:
        raise ValueError("load_torque: the loaded speed is not positive")
    return {"speed_regulation": (steady({**given, "load_torque": -given["loss_torque"]})["speed"] - loaded) / loaded}


@answers("speed_with_square_torque")
def speed_with_square_torque(given: Given) -> Answer:
    """The model's own load in proportion to the square of the speed."""
    given = known_flux(given)
    load = SquareTorque(given["load_torque"], speed=given["reference_speed"])
    speed = steady_state(machine_of(given), **setting_of(given), load=load, quantities=["speed"]).speed
    if speed <= 0:
        raise ValueError("loss_torque: the shaft does not turn")
    return {"speed": speed}


# --- currents, EMF, torque


@answers("currents")
def currents(given: Given) -> Answer:
    """From the torque."""
    field = field_current_of(given, given["supply_voltage"], given["added_field_resistance"])
    torque = given["load_torque"] + given["loss_torque"]
    armature = formulas.armature_current_from_torque(torque, formulas.k_phi_proportional(given["flux_constant"], field))
    line = formulas.line_current(armature, field)
    return {"field_current": field, "armature_current": armature, "line_current": line}


@answers("armature_current_from_speed")
def armature_current_from_speed(given: Given) -> Answer:
    """The machine held at that speed."""
    given = known_flux(given)
    held = state_at_speed(machine_of(given), speed=given["speed"], **setting_of(given))
    return {"armature_current": held.armature_current, "electromagnetic_torque": held.electromagnetic_torque}


@answers("back_emf")
def back_emf(given: Given) -> Answer:
    """From the line current."""
    return {"back_emf": read_line_current(given)[2]}


@answers("back_emf_from_winding")
def back_emf_from_winding(given: Given) -> Answer:
    """One r/min of the winding is 30/pi of its rad/s, which is where the 2 pi comes from."""
    per_turn = given["poles"] * given["conductors"] * given["flux_per_pole"] / given["parallel_paths"]
    k_phi = formulas.to_rpm(per_turn) / 60.0
    return {"k_phi": k_phi, "back_emf": formulas.back_emf(k_phi, given["speed"])}


@answers("torque_from_line_current")
def torque_from_line_current(given: Given) -> Answer:
    """Powers over the speed."""
    _, armature, emf = read_line_current(given)
    power = formulas.electromagnetic_power(emf, armature)
    shaft = (power - given["rotational_loss"]) / given["speed"]
    return {"electromagnetic_torque": power / given["speed"], "load_torque": shaft}


@answers("stall_torque")
def stall_torque(given: Given) -> Answer:
    """The voltage net of the brush drop."""
    volts = formulas.net_voltage(given["supply_voltage"], given["brush_drop"])
    if volts <= 0:
        raise ValueError(f"brush_drop = {given['brush_drop']:g}: less than the supply voltage is needed")
    field = field_current_of(given, given["supply_voltage"], given["added_field_resistance"])
    resistance = formulas.armature_circuit_resistance(given["armature_resistance"], given["added_armature_resistance"])
    k_phi = formulas.k_phi_proportional(given["flux_constant"], field)
    return {"stall_torque": formulas.stall_torque(volts, k_phi, resistance)}


# --- resistances to add


def _size_field(given: Given) -> Answer:
    names = setting_of(given, "load_torque", "speed")
    return {"added_field_resistance": size_field(machine_of(given), **names).resistance}


for _name in ("added_field_resistance_for_speed", "added_field_resistance_with_froehlich"):
    answers(_name)(_size_field)


@answers("added_field_resistance_at_no_load")
def added_field_resistance_at_no_load(given: Given) -> Answer:
    """The flux constant from the reading, then the sizing of the unloaded machine."""
    constant = given["field_resistance"] / given["reference_speed"]
    added = constant * given["speed"] - given["field_resistance"]
    return {"added_field_resistance": not_below_zero("added_field_resistance", added)}


@answers("added_armature_resistance_for_speed")
def added_armature_resistance_for_speed(given: Given) -> Answer:
    """The model's sizing; standstill and zero torque are outside of it."""
    if given["load_torque"] + given["loss_torque"] == 0:
        raise ValueError("load_torque: without torque no armature resistance changes the speed")
    if given["speed"] == 0:
        field = field_current_of(given, given["supply_voltage"], given["added_field_resistance"])
        k_phi = formulas.k_phi_proportional(given["flux_constant"], field)
        return _armature_for(given, k_phi, given["load_torque"] + given["loss_torque"])
    names = setting_of(given, "load_torque", "speed")
    return {"added_armature_resistance": size_armature(machine_of(given), **names).resistance}


def _armature_for(given: Given, k_phi: float, torque: float) -> Answer:
    volts = net_of_brushes(given, given["supply_voltage"], torque / k_phi)
    added = formulas.added_armature_resistance_for_speed(
        volts, k_phi, torque, given["armature_resistance"], given["speed"]
    )
    return {"added_armature_resistance": not_below_zero("added_armature_resistance", added)}


@answers("added_armature_resistance_from_reading")
def added_armature_resistance_from_reading(given: Given) -> Answer:
    """The flux from the reading, then the balance at the wanted speed."""
    volts = given["supply_voltage"]
    before = motoring("reference_line_current", given["reference_line_current"] - field_current_of(given, volts))
    k_phi = emf_behind(given, volts, before) / given["reference_speed"]
    return _armature_for(given, k_phi, k_phi * before * given["torque_ratio"])


# --- starting


@answers("starting_resistance")
def starting_resistance(given: Given) -> Answer:
    """Refused where direct starting already stays below the current."""
    volts = formulas.net_voltage(given["supply_voltage"], given["brush_drop"])
    added = volts / given["starting_current"] - given["armature_resistance"]
    return {"starting_resistance": not_below_zero("starting_resistance", added)}


@answers("starter_grading")
def starter_grading(given: Given) -> Answer:
    """The model's grading with a fixed number of sections."""
    grading = grade_starter_by_sections(
        given["supply_voltage"],
        given["armature_resistance"],
        sections=int(given["sections"]),
        upper_current=given["upper_current"],
    )
    return {
        "current_ratio": grading.current_ratio,
        "lower_current": grading.lower_current,
        "section_resistance": list(grading.sections),
    }


@answers("starter_sections")
def starter_sections(given: Given) -> Answer:
    """The model's grading with both limits kept."""
    grading = grade_starter_by_limits(
        given["supply_voltage"], given["armature_resistance"], given["upper_current"], given["lower_current"]
    )
    if not grading.sections:
        raise ValueError("upper_current: direct starting already stays below it")
    return {"sections": float(len(grading.sections))}
