"""The recipes of functions about losses, efficiency and parameters found from readings."""

from __future__ import annotations

from collections.abc import Callable

import sympy as sp

from shuntref.conformance.export.motor_recipes import current_of_line, induced
from shuntref.conformance.export.recipe import Recipe, equation, solved
from shuntref.conformance.export.recipe import symbol as s

__all__ = ["RECIPES"]

_SHUNT = [("shunt-connection", "field_voltage")]
_UNREACTED = [("effective-field-current", "effective_field_current"), ("reaction-none", "reaction_field_current")]


def _losses(r: Recipe) -> None:
    current_of_line(r)
    induced(r)
    for loss in ("field_copper_loss", "added_field_loss", "armature_copper_loss", "added_armature_loss", "brush_loss"):
        r.law(loss, loss.replace("_", "-"))
    r.let("total_loss", solved("total_loss", "total-loss").subs(s("line_loss"), 0), "all losses together")


def _power_at_input(r: Recipe) -> None:
    r.let(
        "input_power",
        solved("input_power", "input-power").subs(s("source_voltage"), s("supply_voltage")),
        "power drawn from the supply",
    )


def _motoring(r: Recipe) -> None:
    current_of_line(r)
    r.refuse(s("armature_current") <= 0, "the line current is not above the field current")


def _efficiency(r: Recipe) -> None:
    _motoring(r)
    induced(r)
    _power_at_input(r)
    r.law("electromagnetic_power", "electromagnetic-power")
    r.let(
        "output_power", solved("output_power", "power-balance").subs(s("stray_loss"), 0), "power balance of the shaft"
    )
    r.refuse(s("output_power") < 0, "the rotational loss is more than the developed power")
    r.law("efficiency", "efficiency")


def _efficiency_from_no_load_test(r: Recipe) -> None:
    r.refuse(s("line_current") < s("reference_line_current"), "the line current is below the one at no load")
    plain = {"field_circuit_resistance": "field_resistance"}
    at_no_load = {"line_current": "reference_line_current", "armature_current": "reference_armature_current"}
    r.law("field_current", "field-circuit", _SHUNT, plain)
    r.law("armature_current", "current-sum", renamed=at_no_load)
    r.refuse(s("reference_armature_current") <= 0, "the line current at no load is not above the field current")
    r.law("armature_current", "current-sum")
    _power_at_input(r)
    power, copper, brush = (
        solved(n.replace("-", "_"), n) for n in ("input-power", "armature-copper-loss", "brush-loss")
    )
    kept = (
        power.subs(s("source_voltage"), s("supply_voltage"))
        - copper
        - brush.subs(sp.Abs(s("armature_current")), s("armature_current"))
    )
    no_load = {s(old): s(new) for old, new in at_no_load.items()}
    r.let("constant_loss", kept.subs(no_load), "input at no load less the losses in the armature circuit")
    spent = s("input_power") + (kept - power.subs(s("source_voltage"), s("supply_voltage"))) - s("constant_loss")
    r.let("output_power", spent, "input less all losses")
    r.refuse(s("output_power") < 0, "the output power is negative")
    r.law("efficiency", "efficiency")


def _rotational_loss_from_no_load(r: Recipe) -> None:
    _motoring(r)
    r.law("back_emf", "armature-circuit", renamed={"armature_circuit_resistance": "armature_resistance"})
    r.refuse(s("back_emf") <= 0, "the back EMF is not positive")
    r.let(
        "rotational_loss",
        solved("electromagnetic_power", "electromagnetic-power"),
        "without load the developed power is the rotational loss",
    )
    r.law("loss_torque", "rotational-loss")


def _least(terms: sp.Expr, unknown: sp.Symbol) -> sp.Expr:
    """Return where the square of a residual, once summed, is least: the derivative set to zero, sums put for products."""
    return sp.solve(sp.diff(terms, unknown), unknown)[0]


def _armature_resistance_and_brush_drop(r: Recipe) -> None:
    lists = ("armature_current", "supply_voltage")
    r.table("same length", *lists)
    r.table("at least", "armature_current", count=2)
    r.table("not all equal", "armature_current")
    r.sum("readings", sp.Integer(1), lists, "number of readings", "1")
    for name, unit in (("armature_current", "A"), ("supply_voltage", "V")):
        r.sum(f"sum_of_{name}", s(name), lists, "added up over the readings", unit)
        r.let(f"mean_{name}", s(f"sum_of_{name}") / s("readings"), "mean of the readings", unit)
    current, voltage = (s(n) - s(f"mean_{n}") for n in lists)
    r.sum("sum_of_squares", current**2, lists, "squared deviations of the current", "A^2")
    r.sum("sum_of_products", current * voltage, lists, "deviations of current and voltage multiplied", "V A")
    # (v - R i)^2 summed, with the deviations i and v from the means, is least where its derivative vanishes
    spread, common, resistance = s("sum_of_squares"), s("sum_of_products"), s("armature_resistance")
    r.let(
        "armature_resistance",
        _least(spread * resistance**2 - 2 * common * resistance, resistance),
        "slope for which the sum of the squared residuals is least",
    )
    at_standstill = equation(
        "armature-circuit",
        [("armature-emf", "back_emf"), ("standstill", "speed")],
        {
            "supply_voltage": "mean_supply_voltage",
            "armature_current": "mean_armature_current",
            "armature_circuit_resistance": "armature_resistance",
        },
    )
    r.let("brush_drop", sp.solve(at_standstill, s("brush_drop"))[0], "the line passes through the means")


def _flux_constant_from_readings(r: Recipe) -> None:
    lists = ("field_current", "speed", "back_emf")
    r.table("same length", *lists)
    r.table("at least", "field_current", count=1)
    factor = solved("back_emf", "armature-emf").subs(s("k_phi"), solved("k_phi", "flux-proportional", _UNREACTED))
    factor = factor / s("flux_constant")
    r.sum("sum_of_squares", factor**2, lists, "squares of field current times speed", "A^2 rad^2/s^2")
    r.sum("sum_of_products", factor * s("back_emf"), lists, "field current times speed times EMF", "A V rad/s")
    spread, common, constant = s("sum_of_squares"), s("sum_of_products"), s("flux_constant")
    r.let(
        "flux_constant",
        _least(spread * constant**2 - 2 * common * constant, constant),
        "for which the sum of the squared residuals is least",
    )


def _froehlich_from_two_points(r: Recipe) -> None:
    r.table("same length", "field_current", "k_phi")
    r.table("exactly", "field_current", count=2)
    points = [(r.take("field_current", i), r.take("k_phi", i)) for i in (1, 2)]
    gains = []
    for position, (current, flux) in enumerate(points, 1):
        r.refuse(flux <= s("remanent_k_phi"), "a point is not above the remanent flux")
        r.let(f"gain_{position}", flux - s("remanent_k_phi"), "flux above the remanent one", "V s/rad")
        gains.append((current, s(f"gain_{position}")))
    r.refuse(sp.Eq(points[0][0], points[1][0]), "the two field currents are equal")
    curve = equation("flux-froehlich", _UNREACTED)
    a, b = s("froehlich_a"), s("froehlich_b")
    one, two = (
        curve.subs({s("k_phi"): gain + s("remanent_k_phi"), s("field_current"): current}) for current, gain in gains
    )
    scale = sp.solve(one, a)[0]
    half = sp.solve(sp.numer(sp.together(two.subs(a, scale))), b)[0]
    (i1, g1), (i2, g2) = gains
    # the same value with both differences taken between quotients of the readings
    r.let("slope_difference", g1 / i1 - g2 / i2, "difference of the slopes of the two chords", "V s/(rad A)")
    r.refuse(sp.Eq(s("slope_difference"), 0), "the two points lie on a straight line through the origin")
    by_slopes = (g2 - g1) / s("slope_difference")
    if sp.simplify(half - by_slopes.subs(s("slope_difference"), g1 / i1 - g2 / i2)) != 0:
        raise ValueError("the constant of Froehlich's curve does not follow from the slopes")
    r.let("froehlich_b", by_slopes, "Froehlich's curve through both points")
    r.let("froehlich_a", scale, "Froehlich's curve through the first point")
    r.refuse(sp.Or(b <= 0, a <= 0), "no curve of this form goes through the two points")


def _field_resistance_from_two_speeds(r: Recipe) -> None:
    r.table("same length", "added_field_resistance", "speed")
    r.table("exactly", "speed", count=2)
    points = [(r.take("added_field_resistance", i), r.take("speed", i)) for i in (1, 2)]
    r.refuse(sp.Eq(points[0][1], points[1][1]), "the two speeds are equal")
    using = [
        ("flux-proportional", "k_phi"),
        *_UNREACTED,
        ("field-circuit", "field_current"),
        *_SHUNT,
        ("field-circuit-resistance", "field_circuit_resistance"),
    ]
    run = equation("ideal-no-load-speed", using)
    first, second = (
        run.subs({s("added_field_resistance"): added, s("ideal_no_load_speed"): speed}) for added, speed in points
    )
    constant = sp.solve(first, s("flux_constant"))[0]
    r.let(
        "field_resistance",
        sp.solve(sp.numer(sp.together(second.subs(s("flux_constant"), constant))), s("field_resistance"))[0],
        "at no torque the speed is proportional to the resistance of the field circuit",
    )
    r.refuse(s("field_resistance") <= 0, "the resistance found is not positive")


RECIPES: dict[str, Callable[[Recipe], None]] = {
    "losses": _losses,
    "efficiency": _efficiency,
    "efficiency_from_no_load_test": _efficiency_from_no_load_test,
    "armature_resistance_and_brush_drop": _armature_resistance_and_brush_drop,
    "flux_constant_from_readings": _flux_constant_from_readings,
    "froehlich_from_two_points": _froehlich_from_two_points,
    "field_resistance_from_two_speeds": _field_resistance_from_two_speeds,
    "rotational_loss_from_no_load": _rotational_loss_from_no_load,
}
