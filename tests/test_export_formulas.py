"""What is exported is what was derived: the steps, put together, equal the theory layer's closed forms identically."""

import math
import runpy

import pytest
import sympy as sp
from hypothesis import given, settings
from hypothesis import strategies as st

from shuntref.conformance.export.infix import JAVASCRIPT, OCTAVE, OPENFORMULA, PYTHON, C, infix
from shuntref.conformance.export.programs import exported_functions, program, programs
from shuntref.conformance.export.recipe import root, symbol
from shuntref.conformance.export.steps import Let, RefuseIf
from shuntref.conformance.export.writer import export_source
from shuntref.conformance.functions import load_functions
from shuntref.theory.algebra import vanishes
from shuntref.theory.closed_forms import closed_form

TORQUE = {symbol("electromagnetic_torque"): symbol("load_torque") + symbol("loss_torque")}


def put_together(name, output):
    """Substitute every step into the last one, motoring (the armature current is positive)."""
    known = {}
    for step in program(name).steps:
        if isinstance(step, Let):
            expression = step.expression.xreplace(known)
            expression = expression.replace(sp.sign, lambda _: sp.Integer(1))
            expression = expression.replace(sp.Piecewise, lambda *pieces: pieces[-1][0])
            known[symbol(step.name)] = expression
    return known[symbol(output)]


@pytest.mark.parametrize(
    ("name", "output", "options"),
    [
        ("speed", "speed", {"flux": "proportional"}),
        ("speed_at_k_phi", "speed", {}),
        ("speed_separately_excited", "speed", {"flux": "proportional", "connection": "separate"}),
        ("speed_with_line_resistance", "speed", {"flux": "proportional", "line_resistance": True}),
        ("speed_with_froehlich", "speed", {"flux": "froehlich"}),
        ("armature_current_from_speed", "armature_current", {"given": "speed"}),
        ("added_field_resistance_for_speed", "added_field_resistance", {"flux": "proportional"}),
        ("added_field_resistance_with_froehlich", "added_field_resistance", {"flux": "froehlich"}),
        ("added_armature_resistance_for_speed", "added_armature_resistance", {"flux": "proportional"}),
        ("stall_torque", "stall_torque", {"flux": "proportional"}),
    ],
)
def test_the_steps_make_up_the_closed_form(name, output, options):
    derived = closed_form(output, brush_drop=True, detail="parts", **options).xreplace(TORQUE)
    made = put_together(name, output)
    if output == "armature_current":  # the closed form stops at the resistances added up
        made = made.xreplace(TORQUE)
    if name.startswith("added_field"):  # the root of (supply voltage - brush drop)^2 is that difference, being positive
        positive = {symbol("supply_voltage"): symbol("starting_current") + symbol("brush_drop")}
        made, derived = made.subs(positive), derived.subs(positive)
    assert vanishes(made - derived)


@pytest.mark.parametrize(
    ("name", "output", "quantity", "options"),
    [
        ("ideal_no_load_speed", "ideal_no_load_speed", "ideal_no_load_speed", {"flux": "proportional"}),
        ("currents", "field_current", "field_current", {}),
        ("currents", "armature_current", "armature_current", {"flux": "proportional"}),
        ("currents", "line_current", "line_current", {"flux": "proportional"}),
        (
            "speed_with_armature_reaction",
            "armature_current",
            "armature_current",
            {"flux": "proportional", "reaction": True},
        ),
    ],
)
def test_the_steps_without_brushes_make_up_the_closed_form(name, output, quantity, options):
    derived = closed_form(quantity, detail="parts", **options).xreplace(TORQUE)
    assert vanishes(put_together(name, output) - derived)


def test_the_starting_resistance_is_the_closed_form():
    derived = closed_form("starting_resistance", brush_drop=True)
    assert vanishes(put_together("starting_resistance", "starting_resistance") - derived)


def test_a_wrong_step_would_not_make_up_the_closed_form():
    derived = closed_form("speed", brush_drop=True, detail="parts", flux="proportional").xreplace(TORQUE)
    assert not vanishes(put_together("speed", "speed") - derived * symbol("k_phi"))
    assert not vanishes(put_together("speed", "speed") - derived + symbol("brush_drop"))


def test_every_function_of_the_suite_is_exported():
    assert set(exported_functions()) == set(load_functions())
    assert [p.function.name for p in programs()] == list(load_functions())


@pytest.mark.parametrize("name", exported_functions())
def test_every_step_uses_only_what_is_known_by_then_and_every_output_is_found(name):
    known = {entry.name for entry in program(name).function.inputs}
    for step in program(name).steps:
        expression = getattr(step, "expression", getattr(step, "term", getattr(step, "condition", None)))
        extra = {getattr(step, "counter", "")}
        if expression is not None:
            assert {str(s) for s in expression.free_symbols} <= known | extra
        if not isinstance(step, RefuseIf) and hasattr(step, "name"):
            assert step.name not in known
            known.add(step.name)
    assert {output.name for output in program(name).function.outputs} <= known


def test_unknown_functions_and_languages_are_refused_in_words():
    with pytest.raises(ValueError, match="unknown function 'sped'"):
        export_source("c", ["sped"])
    with pytest.raises(ValueError, match="unknown language 'cobol'"):
        export_source("cobol")


# no subnormal constant: its root would be rounded to a whole number of the least steps there are
@given(st.floats(1e-3, 1e3), st.floats(-1e3, 1e3, allow_subnormal=False))
@settings(max_examples=50)
def test_the_two_roots_solve_the_quadratic(b, c):
    """Both roots, at points where they are real, make the equation vanish to rounding."""
    a, x = 2.0, symbol("speed")
    residual = a * x**2 + symbol("supply_voltage") * x + symbol("brush_drop")
    values = {symbol("supply_voltage"): b, symbol("brush_drop"): c}
    for branch in ("near", "far"):
        discriminant, found = root(residual, "speed", branch)
        size = float(discriminant.subs(values))
        if size < 0:
            continue
        value = float(found.subs({**values, symbol("sqrt_of_discriminant"): math.sqrt(size)}))
        scale = abs(a * value**2) + abs(b * value) + abs(c)
        assert abs(a * value**2 + b * value + c) <= 1e-12 * scale


@pytest.mark.parametrize(
    ("expression", "c", "python", "formula"),
    [
        ("a - b", "a - b", "a - b", "a - b"),
        ("-a/(b*c)", "-a / (b * c)", "-a / (b * c)", "-a / (b * c)"),
        ("a/(b + c)", "a / (b + c)", "a / (b + c)", "a / (b + c)"),
        ("a**2", "a * a", "a * a", "a * a"),
        ("1/a", "1.0 / a", "1 / a", "1 / a"),
        ("a/3", "a / 3.0", "a / 3", "a / 3"),
        ("sqrt(a)/b**3", "sqrt(a) / (b * b * b)", "math.sqrt(a) / (b * b * b)", "SQRT(a) / (b * b * b)"),
        ("a**b", "pow(a, b)", "math.pow(a, b)", "POWER(a;b)"),
    ],
)
def test_expressions_are_printed_for_people(expression, c, python, formula):
    e = sp.sympify(expression)
    assert (infix(e, C), infix(e, PYTHON), infix(e, OPENFORMULA)) == (c, python, formula)


def test_conditions_and_pieces_in_every_language():
    a, b = sp.symbols("a b")
    piece = sp.Piecewise((a, a > b), (b, True))
    assert infix(piece, C) == "(a > b ? a : b)"
    assert infix(piece, PYTHON) == "(a if a > b else b)"
    assert infix(piece, OCTAVE) == "choose(a > b, a, b)"
    assert infix(piece, OPENFORMULA) == "IF(a > b;a;b)"
    assert infix(sp.Eq(a, b), JAVASCRIPT) == "a === b"
    assert infix(sp.Or(a > b, a < 0), OPENFORMULA) in ("OR(a > b;a < 0)", "OR(a < 0;a > b)")
    with pytest.raises(ValueError, match="cannot be written"):
        infix(sp.sin(a), C)


NUMBERS = st.floats(0.01, 100.0)


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    path = tmp_path_factory.mktemp("export") / "motor.py"
    path.write_text(export_source("python").text, encoding="utf-8")
    return runpy.run_path(str(path))


@given(NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS)
def test_exported_functions_undo_each_other(exported, u, r, ra, c, t):
    """Speed at an added resistance, and the resistance added for that speed: each finds what the other was given."""
    motor = {
        "supply_voltage": u,
        "field_resistance": r,
        "armature_resistance": ra,
        "flux_constant": c,
        "load_torque": t,
    }
    try:
        n = exported["speed"](**motor, added_armature_resistance=0.5 * ra)
    except ValueError:
        return
    again = exported["added_armature_resistance_for_speed"](**motor, speed=n)
    assert again == pytest.approx(0.5 * ra, rel=1e-6, abs=1e-7 * u / (t / (c * u / r)))


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), "120", None, True, [1.0]])
def test_exported_python_refuses_what_is_no_number(exported, bad):
    with pytest.raises(ValueError, match="supply_voltage"):
        exported["speed"](bad, 160.0, 0.8, 1.0, 6.0)
