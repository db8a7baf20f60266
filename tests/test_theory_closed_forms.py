"""Closed forms against an independent solution of the unreduced equations, written out here once more by hand."""

from itertools import product

import pytest
import sympy as sp
from scipy.optimize import fsolve

from shuntref.theory.closed_forms import closed_form
from shuntref.theory.formula_forms import formula_form
from shuntref.theory.symbols import symbol as s

MACHINE = {
    "field_resistance": 150.0,
    "added_field_resistance": 10.0,
    "armature_resistance": 0.8,
    "added_armature_resistance": 0.3,
    "flux_constant": 1.05,
    "remanent_k_phi": 0.02,
    "froehlich_a": 1.6,
    "froehlich_b": 0.9,
    "reaction_coefficient": 0.004,
    "source_voltage": 121.0,
    "field_voltage": 110.0,
    "electromagnetic_torque": 6.0,
    "loss_torque": 0.5,
}


def unreduced(*, brush=0.0, line=0.0, flux="proportional", separate=False, reaction=0.0, torque=6.0):
    """Solve the laws as they stand for speed, currents and voltage with a general root finder."""
    m = MACHINE
    R = m["armature_resistance"] + m["added_armature_resistance"]
    R_ft = m["field_resistance"] + m["added_field_resistance"]

    def laws(unknown):
        omega, I_a, U = unknown
        I_f = (m["field_voltage"] if separate else U) / R_ft
        drawn = I_a if separate else I_a + I_f
        I_e = I_f - reaction * I_a
        if flux == "proportional":
            k = m["flux_constant"] * I_e
        else:
            k = m["remanent_k_phi"] + m["froehlich_a"] * I_e / (m["froehlich_b"] + I_e)
        return [U - k * omega - I_a * R - brush, k * I_a - torque, m["source_voltage"] - U - drawn * line]

    root, _, flag, message = fsolve(laws, [150.0, 8.0, 120.0], full_output=True, xtol=1e-13)
    assert flag == 1, message
    omega, I_a, U = (float(v) for v in root)
    I_f = (m["field_voltage"] if separate else U) / R_ft
    return {
        "speed": omega,
        "armature_current": I_a,
        "supply_voltage": U,
        "field_current": I_f,
        "back_emf": U - I_a * R - brush,
        "line_current": I_a if separate else I_a + I_f,
        "k_phi": torque / I_a,
        "added_field_resistance": 10.0,
        "added_armature_resistance": 0.3,
        "electromagnetic_torque": torque,
        "load_torque": torque - 0.5,
        "speed_rpm": omega * 30 / 3.141592653589793,
        "armature_circuit_resistance": R,
        "field_circuit_resistance": R_ft,
    }


def value(form, known):
    numbers = {**MACHINE, **known}
    return float(form.subs({symbol: numbers[symbol.name] for symbol in form.free_symbols}))


CASES = [
    {"brush_drop": b, "line_resistance": line, "flux": flux, "connection": connection}
    for b, line, flux, connection in product(
        (False, True), (False, True), ("general", "proportional", "froehlich"), ("shunt", "separate")
    )
]
WANTED = (
    "speed",
    "armature_current",
    "line_current",
    "electromagnetic_torque",
    "added_armature_resistance",
    "back_emf",
)


@pytest.mark.parametrize("options", CASES, ids=lambda o: "-".join(str(v) for v in o.values()))
def test_closed_forms_agree_with_the_unreduced_equations(options):
    point = unreduced(
        brush=2.0 * options["brush_drop"],
        line=0.4 * options["line_resistance"],
        flux="proportional" if options["flux"] == "general" else options["flux"],
        separate=options["connection"] == "separate",
    )
    given = {"brush_drop": 2.0, "line_resistance": 0.4, **point}
    if options["line_resistance"]:
        del given["supply_voltage"]  # it must come out, not go in
    for quantity in WANTED:
        known = {name: number for name, number in given.items() if name != quantity}
        form = closed_form(quantity, detail="parts", **options)
        # root finder to 1e-13, two roundings more: 1e-9 relative is loose for both
        assert value(form, known) == pytest.approx(point[quantity], rel=1e-9), quantity


@pytest.mark.parametrize(("flux", "brush_drop"), list(product(("proportional", "froehlich"), (False, True))))
def test_armature_reaction_closed_forms_agree_with_the_unreduced_equations(flux, brush_drop):
    point = unreduced(brush=2.0 * brush_drop, flux=flux, reaction=0.004)
    for quantity in ("speed", "armature_current", "speed_rpm"):
        options = {"brush_drop": brush_drop} if quantity != "armature_current" else {}
        form = closed_form(quantity, flux=flux, reaction=True, detail="parts", **options)
        known = {
            "brush_drop": 2.0,
            **{n: v for n, v in point.items() if n not in (quantity, "speed", "armature_current")},
        }
        assert value(form, known) == pytest.approx(point[quantity], rel=1e-9)


@pytest.mark.parametrize(("flux", "line"), [("proportional", False), ("froehlich", False), ("proportional", True)])
def test_field_rheostat_for_a_wanted_speed_is_the_one_that_gives_it(flux, line):
    point = unreduced(flux=flux, line=0.4 * line)
    form = closed_form("added_field_resistance", flux=flux, line_resistance=line, detail="parts")
    known = {"line_resistance": 0.4, **{n: v for n, v in point.items() if n != "added_field_resistance"}}
    assert value(form, known) == pytest.approx(10.0, rel=1e-8)


U, k, T, R, omega = (
    s(n) for n in ("supply_voltage", "k_phi", "electromagnetic_torque", "armature_circuit_resistance", "speed")
)


@pytest.mark.parametrize(
    ("form", "by_hand"),
    [
        (lambda: closed_form("speed"), U / k - T * R / k**2),
        (lambda: closed_form("speed", brush_drop=True), (U - s("brush_drop")) / k - T * R / k**2),
        (lambda: closed_form("ideal_no_load_speed"), U / k),
        (lambda: closed_form("ideal_no_load_speed", brush_drop=True), U / k),
        (lambda: closed_form("stall_torque"), k * U / R),
        (lambda: closed_form("peak_k_phi"), 2 * T * R / U),
        (lambda: closed_form("peak_speed"), U**2 / (4 * T * R)),
        (lambda: closed_form("k_phi"), (U + sp.sqrt(U**2 - 4 * omega * T * R)) / (2 * omega)),
        (lambda: closed_form("k_phi", branch="lower"), (U - sp.sqrt(U**2 - 4 * omega * T * R)) / (2 * omega)),
        (
            lambda: closed_form("ideal_no_load_speed", flux="proportional"),
            s("field_circuit_resistance") / s("flux_constant"),
        ),
        (
            lambda: closed_form("peak_torque", detail="field_current"),
            s("flux_constant") * s("field_current") ** 2 / (4 * s("reaction_coefficient")),
        ),
        (lambda: closed_form("starting_resistance"), U / s("starting_current") - s("armature_resistance")),
        (
            lambda: formula_form("field_sensitivity_froehlich"),
            s("froehlich_b") / (s("field_current") + s("froehlich_b")),
        ),
        (lambda: formula_form("speed_slope_by_k_phi"), -(k * U - 2 * T * R) / k**3),
    ],
)
def test_closed_form_is_the_textbook_one(form, by_hand):
    positive = {symbol: sp.Symbol(symbol.name, positive=True) for symbol in by_hand.free_symbols}
    assert sp.simplify((form() - by_hand).subs(positive)) == 0


def test_a_motor_of_eight_ampere_by_hand():
    """120 V, kPhi 0.75 V s/rad, 6 N m, 0.8 ohm: 8 A, drop 6.4 V, EMF 113.6 V, 113.6/0.75 rad/s."""
    numbers = {U: 120, k: sp.Rational(3, 4), T: 6, R: sp.Rational(4, 5)}
    assert closed_form("speed").subs(numbers) == sp.Rational(1136, 10) / sp.Rational(3, 4)
    assert closed_form("armature_current").subs(numbers) == 8
    assert closed_form("back_emf").subs(numbers) == sp.Rational(1136, 10)


def test_quadratic_load_by_hand():
    """kPhi 1, 100 V, 1 ohm, T = 0.005 omega^2: omega = 100 - 0.005 omega^2, so omega^2 + 200 omega - 20000 = 0."""
    numbers = {
        U: 100,
        k: 1,
        R: 1,
        s("constant_torque"): 0,
        s("linear_torque_coefficient"): 0,
        s("square_torque_coefficient"): sp.Rational(1, 200),
    }
    assert sp.simplify(closed_form("speed", load="quadratic").subs(numbers) - (-100 + 100 * sp.sqrt(3))) == 0
    assert (
        sp.simplify(closed_form("speed", load="quadratic", branch="lower").subs(numbers) - (-100 - 100 * sp.sqrt(3)))
        == 0
    )
