"""The recipes of functions about a wanted state or two states: added resistances, starting, changes, warm windings."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import sympy as sp

from shuntref.conformance.export.motor_recipes import (
    current_against_emf,
    field,
    proportional,
    table_checks,
    torque_current,
)
from shuntref.conformance.export.recipe import Recipe, equation, solved
from shuntref.conformance.export.recipe import symbol as s

__all__ = ["RECIPES"]

_SHUNT = [("shunt-connection", "field_voltage")]
_UNREACTED = [("effective-field-current", "effective_field_current"), ("reaction-none", "reaction_field_current")]
_UNREACHABLE = "the speed cannot be reached at this torque"
_NEGATIVE = "the resistance found is negative"


def _flux_for_speed(r: Recipe) -> None:
    """k_phi at which the machine runs at the wanted speed: the larger of two."""
    r.law("electromagnetic_torque", "torque-balance")
    r.law("armature_circuit_resistance", "armature-circuit-resistance")
    balance = equation("armature-circuit-signed", [("armature-emf", "back_emf")])
    drop = s("brush_drop") * sp.sign(s("armature_current"))
    available = (s("supply_voltage") - drop).subs(s("armature_current"), s("electromagnetic_torque"))
    r.let("available_voltage", available, "supply voltage less the brush drop, which has the sign of the torque", "V")
    balance = balance.subs(s("supply_voltage"), s("available_voltage") + drop)
    balance = sp.expand(balance).subs(s("armature_current"), solved("armature_current", "torque"))
    r.quadratic(
        "k_phi", balance, "far", "voltage balance at the wanted speed; of two solutions the larger", _UNREACHABLE
    )
    r.refuse(s("k_phi") <= 0, _UNREACHABLE)


def _resistance_for_current(r: Recipe) -> None:
    """Added field resistance that gives the field current found."""
    r.law("field_circuit_resistance", "field-circuit", _SHUNT)
    r.law("added_field_resistance", "field-circuit-resistance")
    r.refuse(s("added_field_resistance") < 0, _NEGATIVE)


def _added_field_resistance_for_speed(r: Recipe) -> None:
    _flux_for_speed(r)
    r.law("field_current", "flux-proportional", _UNREACTED)
    _resistance_for_current(r)


def _added_field_resistance_with_table(r: Recipe) -> None:
    table_checks(r)
    _flux_for_speed(r)
    r.law("curve_emf", "curve-emf", renamed={"curve_speed": "table_speed"})
    r.look_up(
        "field_current",
        "table_back_emf",
        "table_field_current",
        "curve_emf",
        "field current that gives this EMF, by straight lines between the points",
    )
    r.refuse(s("field_current") <= 0, _UNREACHABLE)
    _resistance_for_current(r)


def _added_field_resistance_with_froehlich(r: Recipe) -> None:
    _flux_for_speed(r)
    r.refuse(
        sp.Or(s("k_phi") <= s("remanent_k_phi"), s("k_phi") >= s("remanent_k_phi") + s("froehlich_a")),
        "no field current gives the flux that this speed needs",
    )
    r.law("field_current", "flux-froehlich", _UNREACTED)
    _resistance_for_current(r)


def _added_field_resistance_at_no_load(r: Recipe) -> None:
    r.refuse(s("speed") < s("reference_speed"), "the wanted speed is below the one without added resistance")
    using = [("flux-proportional", "k_phi"), *_UNREACTED, ("field-circuit", "field_current"), *_SHUNT]
    one = equation("ideal-no-load-speed", using)
    before = one.subs(
        {s("ideal_no_load_speed"): s("reference_speed"), s("field_circuit_resistance"): s("field_resistance")}
    )
    constant = sp.solve(before, s("flux_constant"))[0]
    wanted = one.subs({s("ideal_no_load_speed"): s("speed"), s("flux_constant"): constant})
    wanted = wanted.subs(s("field_circuit_resistance"), solved("field_circuit_resistance", "field-circuit-resistance"))
    r.let(
        "added_field_resistance",
        sp.factor(sp.solve(wanted, s("added_field_resistance"))[0]),
        "at no torque the speed is proportional to the resistance of the field circuit",
    )


def _added_armature_resistance_for_speed(r: Recipe) -> None:
    field(r)
    proportional(r)
    torque_current(r)
    r.refuse(sp.Eq(s("armature_current"), 0), "without armature current no armature resistance changes the speed")
    r.law("back_emf", "armature-emf")
    r.law("armature_circuit_resistance", "armature-circuit-signed")
    r.law("added_armature_resistance", "armature-circuit-resistance")
    r.refuse(s("added_armature_resistance") < 0, _NEGATIVE)


def _reference_state(r: Recipe, voltage: str = "supply_voltage", current_known: bool = False) -> None:
    """Field current, armature current and back EMF of the motoring state that was measured."""
    state = {
        "field_circuit_resistance": "field_resistance",
        "supply_voltage": voltage,
        **{name: f"reference_{name}" for name in ("field_current", "armature_current", "line_current", "back_emf")},
        "armature_circuit_resistance": "armature_resistance",
    }
    if not current_known:
        r.law("field_current", "field-circuit", _SHUNT, state)
        r.law("armature_current", "current-sum", renamed=state)
        r.refuse(s("reference_armature_current") <= 0, "the reference line current is not above the field current")
    r.law("back_emf", "armature-circuit", renamed=state)
    r.refuse(s("reference_back_emf") <= 0, "the reference back EMF is not positive")


def _added_armature_resistance_from_reading(r: Recipe) -> None:
    _reference_state(r)
    r.let(
        "armature_current", s("torque_ratio") * s("reference_armature_current"), "same flux: torque follows the current"
    )
    r.let("back_emf", s("reference_back_emf") * s("speed") / s("reference_speed"), "same flux: EMF follows the speed")
    r.law("armature_circuit_resistance", "armature-circuit")
    r.law("added_armature_resistance", "armature-circuit-resistance")
    r.refuse(s("added_armature_resistance") < 0, _NEGATIVE)


def _two_states(r: Recipe, resistance: Sequence[str] = ()) -> None:
    """New armature current and speed once the flux ratio is known."""
    torque = solved("electromagnetic_torque", "torque")
    before = torque.subs(
        {s("k_phi"): s("k_phi") / s("flux_ratio"), s("armature_current"): s("reference_armature_current")}
    )
    r.let(
        "armature_current",
        sp.solve(torque - s("torque_ratio") * before, s("armature_current"))[0],
        "the torque changes in the given ratio",
    )
    if resistance:
        r.law("armature_circuit_resistance", "armature-circuit-resistance")
    r.law(
        "back_emf",
        "armature-circuit",
        renamed={} if resistance else {"armature_circuit_resistance": "armature_resistance"},
    )
    r.refuse(s("back_emf") < 0, "the torque is beyond stall: the back EMF would be negative")
    speed = solved("speed", "armature-emf")
    before = speed.subs({s("k_phi"): s("k_phi") / s("flux_ratio"), s("back_emf"): s("reference_back_emf")})
    r.let("speed", sp.cancel(s("reference_speed") * speed / before), "EMF over flux, in both states")


def _speed_after_change(r: Recipe) -> None:
    _reference_state(r)
    field(r)
    r.let("flux_ratio", s("field_current") / s("reference_field_current"), "flux in proportion to the field current")
    _two_states(r, ["armature_circuit_resistance"])


def _speed_after_voltage_change(r: Recipe) -> None:
    _reference_state(r, "reference_supply_voltage")
    r.law("field_current", "field-circuit", _SHUNT, {"field_circuit_resistance": "field_resistance"})
    r.let("flux_ratio", s("field_current") / s("reference_field_current"), "flux in proportion to the field current")
    _two_states(r)


def _speed_after_flux_change(r: Recipe) -> None:
    _reference_state(r, current_known=True)
    _two_states(r)


def _momentary_armature_current(r: Recipe) -> None:
    _reference_state(r, current_known=True)
    r.let("back_emf", s("flux_ratio") * s("reference_back_emf"), "same speed: EMF follows the flux")
    current_against_emf(r, "armature_resistance")
    r.let(
        "torque_ratio",
        s("flux_ratio") * s("armature_current") / s("reference_armature_current"),
        "torque follows flux times current",
    )


def _starting_resistance(r: Recipe) -> None:
    using = [
        ("armature-emf", "back_emf"),
        ("standstill", "speed"),
        ("starting-current", "armature_current"),
        ("armature-circuit-resistance", "armature_circuit_resistance"),
        ("starting-resistance", "added_armature_resistance"),
    ]
    r.law("starting_resistance", "armature-circuit", using)
    r.refuse(s("starting_resistance") < 0, _NEGATIVE)


_UNBRUSHED = [("brush-drop-neglected", "brush_drop")]


def _first_stud(r: Recipe) -> None:
    r.law(
        "step_circuit_resistance",
        "starter-first-stud",
        _UNBRUSHED,
        {"step_circuit_resistance": "first_circuit_resistance", "upper_current": "upper_current"},
    )
    r.refuse(
        s("first_circuit_resistance") <= s("armature_resistance"),
        "the upper current is not below supply voltage over armature resistance: no starter is needed",
    )


def _starter_grading(r: Recipe) -> None:
    _first_stud(r)
    total = sp.solve(
        equation("starter-first-stud", _UNBRUSHED, {"step_circuit_resistance": "first_circuit_resistance"}),
        s("supply_voltage"),
    )[0]
    power = equation("starter-grading-upper", _UNBRUSHED).subs(s("supply_voltage"), total)
    power = sp.solve(power.subs(s("current_ratio") ** s("sections"), s("power")), s("power"))[0]
    r.let("current_ratio", power ** (1 / s("sections")), "every step has the same two currents")
    r.law("lower_current", "starter-ratio")
    stud = sp.solve(equation("starter-stud", _UNBRUSHED), s("step_circuit_resistance"))[0].subs(
        s("supply_voltage"), total
    )
    section = solved("section_resistance", "starter-section").subs(s("step_circuit_resistance"), stud)
    r.list_of(
        "section_resistance",
        _top_down(section),
        "step_number",
        "sections",
        "section of each step, counted from the first cut out",
    )


def _top_down(section: sp.Expr) -> sp.Expr:
    """Write a section as circuit resistance on its stud times the part that is cut out."""
    return sp.powsimp(sp.factor(section))


def _starter_sections(r: Recipe) -> None:
    r.refuse(s("lower_current") >= s("upper_current"), "the lower current is not below the upper current")
    _first_stud(r)
    total = sp.solve(
        equation("starter-first-stud", _UNBRUSHED, {"step_circuit_resistance": "first_circuit_resistance"}),
        s("supply_voltage"),
    )[0]
    balance = equation("starter-sections", _UNBRUSHED).subs(s("supply_voltage"), total)
    power = (s("upper_current") / s("lower_current")) ** s("exact_sections")
    needed = sp.solve(balance.subs(power, s("power")), s("power"))[0]
    r.let(
        "exact_sections",
        sp.log(needed) / sp.log(s("upper_current") / s("lower_current")),
        "number of sections with which both currents would be met exactly",
        "1",
    )
    # a ratio of logarithms of rounded numbers may come out a hair above the whole number it stands for
    r.let("sections", sp.ceiling(s("exact_sections") * (1 - sp.Float("1e-12"))), "the next whole number")


def _speed_with_warm_windings(r: Recipe) -> None:
    r.refuse(s("temperature_constant") + s("reference_temperature") <= 0, "the reference temperature is too low")
    r.refuse(s("temperature_constant") + s("winding_temperature") <= 0, "the winding temperature is too low")
    warm = {}
    for name in ("field_resistance", "armature_resistance"):
        hot = f"hot_{name}"
        r.law(
            "winding_resistance",
            "winding-temperature",
            renamed={"winding_resistance": hot, "reference_resistance": name},
        )
        warm[name] = hot
    r.law(
        "field_circuit_resistance", "field-circuit-resistance", renamed={"field_resistance": warm["field_resistance"]}
    )
    r.law("field_current", "field-circuit", _SHUNT)
    proportional(r)
    r.let("electromagnetic_torque", s("load_torque"), "no loss torque is asked about")
    r.law("armature_current", "torque")
    r.law(
        "armature_circuit_resistance",
        "armature-circuit-resistance",
        renamed={"armature_resistance": warm["armature_resistance"]},
    )
    r.law("back_emf", "armature-circuit-signed")
    r.refuse(s("back_emf") < 0, "the torque is beyond stall: the back EMF would be negative")
    r.law("speed", "armature-emf")


RECIPES: dict[str, Callable[[Recipe], None]] = {
    "added_field_resistance_for_speed": _added_field_resistance_for_speed,
    "added_field_resistance_at_no_load": _added_field_resistance_at_no_load,
    "added_armature_resistance_for_speed": _added_armature_resistance_for_speed,
    "added_armature_resistance_from_reading": _added_armature_resistance_from_reading,
    "starting_resistance": _starting_resistance,
    "starter_grading": _starter_grading,
    "starter_sections": _starter_sections,
    "speed_after_change": _speed_after_change,
    "speed_after_voltage_change": _speed_after_voltage_change,
    "speed_after_flux_change": _speed_after_flux_change,
    "momentary_armature_current": _momentary_armature_current,
    "added_field_resistance_with_table": _added_field_resistance_with_table,
    "added_field_resistance_with_froehlich": _added_field_resistance_with_froehlich,
    "speed_with_warm_windings": _speed_with_warm_windings,
}
