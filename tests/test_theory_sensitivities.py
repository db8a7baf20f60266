"""Sensitivities against differences of a speed that is solved here from the laws, without the symbolic layer."""

from itertools import product

import pytest
import sympy as sp
from scipy.optimize import brentq

from shuntref.theory.algebra import vanishes
from shuntref.theory.closed_forms import closed_form
from shuntref.theory.sensitivities import (
    log_sensitivity,
    numeric_sensitivities,
    numeric_speed,
    sensitivity,
    speed_sensitivities,
)
from shuntref.theory.symbols import symbol as s

POINT = {
    "supply_voltage": 120.0,
    "source_voltage": 121.0,
    "field_voltage": 110.0,
    "field_resistance": 150.0,
    "added_field_resistance": 10.0,
    "armature_resistance": 0.8,
    "added_armature_resistance": 0.3,
    "line_resistance": 0.4,
    "brush_drop": 2.0,
    "flux_constant": 1.0,
    "remanent_k_phi": 0.02,
    "froehlich_a": 1.6,
    "froehlich_b": 0.9,
    "reaction_coefficient": 0.004,
    "electromagnetic_torque": 6.0,
}
CASES = [
    {"flux": flux, "brush_drop": b, "line_resistance": line, "connection": connection, "reaction": reaction}
    for flux, b, line, connection, reaction in product(
        ("proportional", "froehlich"), (False, True), (False, True), ("shunt", "separate"), (False, True)
    )
    if not (line and reaction)
]


def solved_speed(p, *, flux, brush_drop, line_resistance, connection, reaction):
    """Speed from the laws as they stand, the armature current found by bisection."""
    R = p["armature_resistance"] + p["added_armature_resistance"]
    R_ft = p["field_resistance"] + p["added_field_resistance"]
    R_l = p["line_resistance"] if line_resistance else 0.0
    U_s = p["source_voltage"] if line_resistance else p["supply_voltage"]

    def state(I_a):
        if connection == "shunt":
            U = (U_s - I_a * R_l) / (1 + R_l / R_ft)
            I_f = U / R_ft
        else:
            U, I_f = U_s - I_a * R_l, p["field_voltage"] / R_ft
        I_e = I_f - (p["reaction_coefficient"] * I_a if reaction else 0.0)
        if flux == "proportional":
            return U, p["flux_constant"] * I_e
        return U, p["remanent_k_phi"] + p["froehlich_a"] * I_e / (p["froehlich_b"] + I_e)

    I_a = brentq(
        lambda current: state(current)[1] * current - p["electromagnetic_torque"], 0.0, 60.0, xtol=1e-13, rtol=1e-14
    )
    U, k = state(I_a)
    return (U - (p["brush_drop"] if brush_drop else 0.0) - I_a * R) / k


@pytest.mark.parametrize("options", CASES, ids=lambda o: "-".join(str(v) for v in o.values()))
def test_sensitivities_agree_with_differences_of_the_solved_speed(options):
    assert numeric_speed(**options)(**POINT) == pytest.approx(solved_speed(POINT, **options), rel=1e-11)
    for name, slope in numeric_sensitivities(**options).items():
        h = 1e-4 * POINT[name]
        far, near = (
            (
                solved_speed({**POINT, name: POINT[name] + x}, **options)
                - solved_speed({**POINT, name: POINT[name] - x}, **options)
            )
            / (2 * x)
            for x in (2 * h, h)
        )
        expected = (4 * near - far) / 3
        # fourth-order differences with a relative step of 1e-4: rounding, about 1e-13/1e-4, is what limits them
        assert slope(**POINT) == pytest.approx(expected, rel=2e-7, abs=1e-9), name


@pytest.mark.parametrize("options", CASES[::3], ids=lambda o: "-".join(str(v) for v in o.values()))
def test_log_sensitivity_is_relative_change_per_relative_change(options):
    plain, relative = numeric_sensitivities(**options), numeric_sensitivities(**options, logarithmic=True)
    omega = solved_speed(POINT, **options)
    for name, slope in plain.items():
        assert relative[name](**POINT) == pytest.approx(slope(**POINT) * POINT[name] / omega, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(
    ("flux", "slope"),
    [
        ("proportional", 1.0),  # k_phi = 1.0 I_f
        ("froehlich", 1.6 * 0.9 / (0.9 + 0.75) ** 2),  # derivative of 1.6 I_f/(0.9 + I_f) at 0.75 A
    ],
)
@pytest.mark.parametrize("line", [False, True])
def test_general_flux_with_the_curve_s_value_and_slope_gives_the_same(flux, slope, line):
    field = 0.75 if not line else None
    options = {"brush_drop": True, "line_resistance": line}
    named = numeric_sensitivities(flux, **options)
    general = numeric_sensitivities("general", **options)
    R_ft, R_l = 160.0, POINT["line_resistance"]
    if line:
        current = brentq(lambda i: _k(flux, (121.0 - i * R_l) / (R_ft + R_l)) * i - 6.0, 0.0, 60.0, xtol=1e-14)
        field = (121.0 - current * R_l) / (R_ft + R_l)
        slope = 1.0 if flux == "proportional" else 1.6 * 0.9 / (0.9 + field) ** 2
    k = _k(flux, field)
    at_point = {**POINT, "k_phi": k, "k_phi_slope": slope, "armature_current": 6.0 / k, "supply_voltage": field * R_ft}
    for name, function in general.items():
        assert function(**at_point) == pytest.approx(
            named[name](**{**POINT, "supply_voltage": field * R_ft}), rel=1e-9
        ), name


def _k(flux, field):
    return field if flux == "proportional" else 0.02 + 1.6 * field / (0.9 + field)


@pytest.mark.parametrize("flux", ["proportional", "froehlich"])
def test_implicit_differentiation_gives_the_derivative_of_the_closed_form(flux):
    speed = closed_form("speed", flux=flux, brush_drop=True, detail="parts")
    found = speed_sensitivities(flux, brush_drop=True, explicit=True)
    assert set(found) == {symbol.name for symbol in speed.free_symbols}
    for name, form in found.items():
        assert vanishes(form - sp.diff(speed, s(name))), name


def test_every_quantity_the_speed_depends_on_has_its_sensitivity():
    found = speed_sensitivities("froehlich", brush_drop=True, line_resistance=True, reaction=True)
    assert set(found) == {
        "source_voltage",
        "field_resistance",
        "added_field_resistance",
        "armature_resistance",
        "added_armature_resistance",
        "line_resistance",
        "brush_drop",
        "remanent_k_phi",
        "froehlich_a",
        "froehlich_b",
        "reaction_coefficient",
        "electromagnetic_torque",
    }


def test_field_current_answers_to_the_rheostat_less_when_saturated():
    """d ln omega/d ln R_ft at no load is the flux's log sensitivity: 1 unsaturated, b/(I_f + b) on Froehlich's curve."""
    bare = {"electromagnetic_torque": 0, "added_field_resistance": 0, "armature_current": 0}
    at_no_load = {s(name): value for name, value in bare.items()}
    straight = log_sensitivity("field_resistance", "proportional").subs(at_no_load)
    curved = log_sensitivity("field_resistance", "froehlich").subs(at_no_load).subs(s("remanent_k_phi"), 0)
    I_f = s("supply_voltage") / s("field_resistance")
    assert sp.simplify(straight) == 1
    assert sp.simplify(curved - s("froehlich_b") / (I_f + s("froehlich_b"))) == 0


def test_load_and_loss_torque_serve_for_the_torque():
    slope = numeric_sensitivities("proportional")["supply_voltage"]
    point = {name: value for name, value in POINT.items() if name != "electromagnetic_torque"}
    assert slope(**point, load_torque=5.5, loss_torque=0.5) == slope(**POINT)
    assert slope(**point, load_torque=6.0) == slope(**POINT)


def test_what_is_missing_or_unknown_is_named():
    with pytest.raises(ValueError, match="needs flux_constant"):
        numeric_sensitivities("proportional")["brush_drop" if False else "supply_voltage"](
            **{name: value for name, value in POINT.items() if name != "flux_constant"}
        )
    with pytest.raises(ValueError, match="'curly'"):
        speed_sensitivities("curly")
    with pytest.raises(ValueError, match="'series'"):
        numeric_speed("proportional", connection="series")
    with pytest.raises(ValueError, match=r"does not depend on 'poles'.*supply_voltage"):
        sensitivity("poles")
    with pytest.raises(ValueError, match="no explicit sensitivities"):
        speed_sensitivities("general", explicit=True)
