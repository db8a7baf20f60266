"""The recipes of functions about one running state: speed, currents, EMF, torque, flux curves, armature reaction."""

from __future__ import annotations

from collections.abc import Callable

import sympy as sp

from shuntref.conformance.export.recipe import Recipe, equation, solved
from shuntref.conformance.export.recipe import symbol as s

__all__ = ["RECIPES"]

_SHUNT = [("shunt-connection", "field_voltage")]
_UNREACTED = [("effective-field-current", "effective_field_current"), ("reaction-none", "reaction_field_current")]
_BEYOND_STALL = "the torque is beyond stall: the back EMF would be negative"


def field(r: Recipe, *, separate: bool = False) -> None:
    """Field circuit resistance and field current."""
    r.law("field_circuit_resistance", "field-circuit-resistance")
    r.law("field_current", "field-circuit", [] if separate else _SHUNT)


def proportional(r: Recipe) -> None:
    r.law("k_phi", "flux-proportional", _UNREACTED)


def torque_current(r: Recipe) -> None:
    r.law("electromagnetic_torque", "torque-balance")
    r.law("armature_current", "torque")


def induced(r: Recipe) -> None:
    """Back EMF by the voltage balance; a negative one is refused."""
    r.law("armature_circuit_resistance", "armature-circuit-resistance")
    r.law("back_emf", "armature-circuit-signed")
    r.refuse(s("back_emf") < 0, _BEYOND_STALL)


def speed_of_flux(r: Recipe) -> None:
    torque_current(r)
    induced(r)
    r.law("speed", "armature-emf")


def current_of_line(r: Recipe) -> None:
    """Armature current from the line current."""
    field(r)
    r.law("armature_current", "current-sum")


def current_against_emf(r: Recipe, resistance: str) -> None:
    """Armature current from supply voltage and back EMF; none flows where the brush drop covers the difference."""
    r.let(
        "excess_voltage",
        s("supply_voltage") - solved("supply_voltage", "armature-drop-neglected"),
        "supply voltage above the back EMF",
        "V",
    )
    direction = sp.Piecewise((0, sp.Abs(s("excess_voltage")) <= s("brush_drop")), (sp.sign(s("excess_voltage")), True))
    r.let("current_direction", direction, "1 motoring, -1 generating, 0 where the brush drop lets no current flow", "1")
    balance = equation("armature-circuit-signed").subs(sp.sign(s("armature_current")), s("current_direction"))
    flowing = sp.solve(balance, s("armature_current"))[0].subs(s("armature_circuit_resistance"), s(resistance))
    flowing = sp.simplify(flowing.subs(s("back_emf"), s("supply_voltage") - s("excess_voltage")))
    r.let(
        "armature_current",
        sp.Piecewise((0, sp.Eq(s("current_direction"), 0)), (flowing, True)),
        "voltage balance of the armature circuit",
    )


def _speed(r: Recipe) -> None:
    field(r)
    proportional(r)
    speed_of_flux(r)


def _speed_at_k_phi(r: Recipe) -> None:
    speed_of_flux(r)


def _speed_separately_excited(r: Recipe) -> None:
    field(r, separate=True)
    proportional(r)
    speed_of_flux(r)


def _speed_with_line_resistance(r: Recipe) -> None:
    r.law("field_circuit_resistance", "field-circuit-resistance")
    r.law("electromagnetic_torque", "torque-balance")
    using = [
        ("current-sum", "line_current"),
        ("torque", "armature_current"),
        ("flux-proportional", "k_phi"),
        *_UNREACTED,
        ("field-circuit", "field_current"),
        *_SHUNT,
    ]
    r.quadratic(
        "supply_voltage",
        equation("line-drop", using),
        "far",
        "drop in the line ahead of both circuits; of two solutions the one continuous with no load",
        "the torque is more than the line can feed",
    )
    r.law("field_current", "field-circuit", _SHUNT)
    proportional(r)
    r.law("armature_current", "torque")
    r.law("line_current", "current-sum")
    induced(r)
    r.law("speed", "armature-emf")


def _ideal_no_load_speed(r: Recipe) -> None:
    field(r)
    proportional(r)
    r.law("ideal_no_load_speed", "ideal-no-load-speed")


def _speed_regulation(r: Recipe) -> None:
    field(r)
    proportional(r)
    torque_current(r)
    r.law("armature_circuit_resistance", "armature-circuit-resistance")
    drop = solved("supply_voltage", "armature-circuit-signed") - s("back_emf")
    r.let("internal_drop", drop, "what the armature circuit takes off the supply voltage", "V")
    r.let("back_emf", s("supply_voltage") - s("internal_drop"), "voltage balance of the armature circuit")
    r.refuse(s("back_emf") <= 0, _BEYOND_STALL)
    fall = solved("ideal_no_load_speed", "ideal-no-load-speed") - solved("speed", "armature-emf")
    share = sp.cancel(
        (fall / solved("speed", "armature-emf")).subs(s("supply_voltage"), s("back_emf") + s("internal_drop"))
    )
    r.let("speed_regulation", share, "(no-load speed - loaded speed) / loaded speed, written without their difference")


def _speed_with_square_torque(r: Recipe) -> None:
    r.law("armature_circuit_resistance", "armature-circuit-resistance")
    r.let(
        "square_torque_coefficient",
        s("load_torque") / s("reference_speed") ** 2,
        "load torque in proportion to the square of the speed",
    )
    r.let("constant_torque", s("loss_torque"), "the part of the torque that does not depend on the speed")
    using = [
        ("brush-drop-neglected", "brush_drop"),
        ("armature-emf", "back_emf"),
        ("torque", "armature_current"),
        ("load-quadratic", "electromagnetic_torque"),
    ]
    balance = equation("armature-circuit", using).subs(s("linear_torque_coefficient"), 0)
    r.refuse(balance.subs(s("speed"), 0) <= 0, "the loss torque alone is not below the stall torque")
    r.quadratic("speed", balance, "near", "of two solutions the positive one", "the loss torque is beyond stall")


def _currents(r: Recipe) -> None:
    field(r)
    proportional(r)
    torque_current(r)
    r.law("line_current", "current-sum")


def _armature_current_from_speed(r: Recipe) -> None:
    r.law("armature_circuit_resistance", "armature-circuit-resistance")
    r.law("back_emf", "armature-emf")
    current_against_emf(r, "armature_circuit_resistance")
    r.law("electromagnetic_torque", "torque")


def _back_emf(r: Recipe) -> None:
    current_of_line(r)
    induced(r)


def _back_emf_from_winding(r: Recipe) -> None:
    r.law("k_phi", "winding-constant")
    r.law("back_emf", "armature-emf")


def _torque_from_line_current(r: Recipe) -> None:
    current_of_line(r)
    induced(r)
    r.law("electromagnetic_power", "electromagnetic-power")
    r.law("electromagnetic_torque", "shaft-power")
    r.let(
        "output_power", solved("output_power", "power-balance").subs(s("stray_loss"), 0), "power balance of the shaft"
    )
    r.law("load_torque", "output-power")


def _stall_torque(r: Recipe) -> None:
    field(r)
    proportional(r)
    r.law("armature_circuit_resistance", "armature-circuit-resistance")
    r.refuse(s("brush_drop") >= s("supply_voltage"), "the brush drop is not below the supply voltage")
    r.law("stall_torque", "stall-torque")


def table_checks(r: Recipe) -> None:
    r.table("same length", "table_field_current", "table_back_emf")
    r.table("at least", "table_field_current", count=2)
    r.table("ascending", "table_field_current", "table_back_emf")


def _speed_with_table(r: Recipe) -> None:
    table_checks(r)
    field(r)
    r.look_up(
        "curve_emf",
        "table_field_current",
        "table_back_emf",
        "field_current",
        "open-circuit EMF at this field current, by straight lines between the points",
    )
    r.law("k_phi", "curve-emf", renamed={"curve_speed": "table_speed"})
    speed_of_flux(r)


def _speed_with_demagnetising_mmf(r: Recipe) -> None:
    table_checks(r)
    current_of_line(r)
    r.law(
        "effective_field_current",
        "effective-field-current",
        [("demagnetising-field-current", "reaction_field_current")],
    )
    induced(r)
    r.look_up(
        "curve_emf",
        "table_field_current",
        "table_back_emf",
        "effective_field_current",
        "open-circuit EMF at this field current, by straight lines between the points",
    )
    r.refuse(s("curve_emf") <= 0, "the table has no EMF at this field current")
    r.law("k_phi", "curve-emf", renamed={"curve_speed": "table_speed"})
    r.law("speed", "armature-emf")


def _speed_with_froehlich(r: Recipe) -> None:
    field(r)
    r.law("k_phi", "flux-froehlich", _UNREACTED)
    speed_of_flux(r)


def _speed_with_armature_reaction(r: Recipe) -> None:
    field(r)
    r.law("electromagnetic_torque", "torque-balance")
    using = [
        ("flux-proportional", "k_phi"),
        ("effective-field-current", "effective_field_current"),
        ("reaction-proportional", "reaction_field_current"),
    ]
    r.quadratic(
        "armature_current",
        equation("torque", using),
        "near",
        "torque, with the flux weakened by this very current; of two solutions the one continuous with no load",
        "the torque is above the largest that the reaction of the armature leaves",
    )
    r.law("effective_field_current", "effective-field-current", [("reaction-proportional", "reaction_field_current")])
    r.law("k_phi", "flux-proportional")
    induced(r)
    r.law("speed", "armature-emf")


def _largest_torque_with_armature_reaction(r: Recipe) -> None:
    field(r)
    using = [
        ("flux-proportional", "k_phi"),
        ("effective-field-current", "effective_field_current"),
        ("reaction-proportional", "reaction_field_current"),
    ]
    torque = sp.solve(equation("torque", using), s("electromagnetic_torque"))[0]
    peak = sp.solve(sp.diff(torque, s("armature_current")), s("armature_current"))[0]
    r.let("armature_current", peak, "where the torque changes no more with the current")
    r.law("effective_field_current", "effective-field-current", [("reaction-proportional", "reaction_field_current")])
    r.law("k_phi", "flux-proportional")
    r.law("electromagnetic_torque", "torque")


RECIPES: dict[str, Callable[[Recipe], None]] = {
    "speed": _speed,
    "speed_at_k_phi": _speed_at_k_phi,
    "speed_separately_excited": _speed_separately_excited,
    "speed_with_line_resistance": _speed_with_line_resistance,
    "ideal_no_load_speed": _ideal_no_load_speed,
    "speed_regulation": _speed_regulation,
    "speed_with_square_torque": _speed_with_square_torque,
    "currents": _currents,
    "armature_current_from_speed": _armature_current_from_speed,
    "back_emf": _back_emf,
    "back_emf_from_winding": _back_emf_from_winding,
    "torque_from_line_current": _torque_from_line_current,
    "stall_torque": _stall_torque,
    "speed_with_table": _speed_with_table,
    "speed_with_froehlich": _speed_with_froehlich,
    "speed_with_armature_reaction": _speed_with_armature_reaction,
    "largest_torque_with_armature_reaction": _largest_torque_with_armature_reaction,
    "speed_with_demagnetising_mmf": _speed_with_demagnetising_mmf,
}
