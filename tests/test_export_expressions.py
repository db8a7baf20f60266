"""Expressions as they are printed, the steps of a recipe, the cases an export carries along: by hand, and by their value."""

from __future__ import annotations

import math
import types
from dataclasses import replace

import pytest
import sympy as sp
from hypothesis import given, settings
from hypothesis import strategies as st

from shuntref.cautions import CAUTIONS
from shuntref.conformance.export.checks import SelfTest, header_lines, literal, self_tests
from shuntref.conformance.export.infix import JAVASCRIPT, OCTAVE, OPENFORMULA, PYTHON, C, infix
from shuntref.conformance.export.programs import exported_functions, program, programs
from shuntref.conformance.export.recipe import Recipe, _solve, _unit, equation, root, solved, symbol
from shuntref.conformance.export.steps import Let, ListOf, LookUp, Program, RefuseIf, RefuseTable, SumOver, TakeItem
from shuntref.conformance.export.writer import export_source
from shuntref.conformance.functions import Function, Input, Output
from shuntref.conformance.suite import Case, Suite

a, b, c, d = sp.symbols("a b c d")
HALF = sp.Rational(1, 2)


# --- how an expression is printed


@pytest.mark.parametrize(
    ("expression", "printed"),
    [
        (sp.Integer(7), "7.0"),
        (sp.Integer(-7), "-7.0"),
        (HALF, "0.5"),
        (-HALF, "-0.5"),
        (sp.Rational(3, 1024), repr(3 / 1024)),
        (sp.Rational(3, 2048), "3.0 / 2048.0"),  # exact too, but no shorter
        (sp.Rational(1, 3), "1.0 / 3.0"),
        (sp.Rational(-2, 3), "-(2.0 / 3.0)"),
        (sp.Rational(5, 6), "5.0 / 6.0"),
        (sp.Float(1.25), "1.25"),
        (sp.Float(-1.25), "-1.25"),
        (sp.pi * 2, "2.0 * PI"),
        (sp.pi / 30, "PI / 30.0"),
        (a + b - c - d, "a + b - c - d"),
        (-a + b, "b - a"),
        (-a - b, "-a - b"),
        (a - 2 * b, "a - 2.0 * b"),
        (a * (b + c), "a * (b + c)"),
        (a - (b + c) * d, "a - d * (b + c)"),
        ((a - b) * c, "c * (a - b)"),
        (sp.Mul(-1, a - b, c, evaluate=False), "c * (b - a)"),  # the sign goes into a difference
        (-(a + b) * c, "c * (-a - b)"),
        (sp.Mul(-1, a + b, c, evaluate=False), "-c * (a + b)"),
        (-a * b, "-a * b"),
        (a / b, "a / b"),
        (1 / a, "1.0 / a"),
        (-1 / a, "-1.0 / a"),
        (1 / (a * b), "1.0 / (a * b)"),
        (a / (b + c), "a / (b + c)"),
        (a / (b * (c + d)), "a / (b * (c + d))"),
        (a * b / 2, "0.5 * a * b"),
        (2 * a / 3, "2.0 * a / 3.0"),
        (a / (3 * b), "a / (3.0 * b)"),
        (3 * a / 4, "0.75 * a"),
        (a / 2048, "1.0 / 2048.0 * a"),
        (a**2, "a * a"),
        (a**3, "a * a * a"),
        (a**4, "a * a * a * a"),
        (a**5, "pow(a, 5.0)"),
        ((a + b) ** 2, "pow(a + b, 2.0)"),
        (a**-2, "1.0 / (a * a)"),
        (b * a**-2, "b / (a * a)"),
        (a / b**2 / c, "a / (b * b * c)"),
        (sp.sqrt(a), "sqrt(a)"),
        (sp.sqrt(a + b) / 2, "0.5 * sqrt(a + b)"),
        (1 / sp.sqrt(a), "1.0 / sqrt(a)"),
        (b / sp.sqrt(a), "b / sqrt(a)"),
        (a**b, "pow(a, b)"),
        (a ** sp.Rational(1, 3), "pow(a, 1.0 / 3.0)"),
        (a ** sp.Rational(3, 2), "pow(a, 1.5)"),
        (a**-b, "pow(a, -b)"),
        (abs(a) * sp.sign(b), "fabs(a) * sign_of(b)"),
        (sp.log(a / b), "log(a / b)"),
        (sp.ceiling(a), "ceil(a)"),
        (sp.Eq(a, b), "a == b"),
        (sp.Ne(a, b), "a != b"),
        (a <= b, "a <= b"),
        (sp.And(a > b, c < d), "(a > b) && (c < d)"),
        (sp.Or(a > b, c < d), "(a > b) || (c < d)"),
        (sp.Piecewise((a, a > 0), (b, a < -1), (c, True)), "(a > 0.0 ? a : (a < -1.0 ? b : c))"),
        (sp.Piecewise((a, b > 0), (c, d > 0), evaluate=False), "(b > 0.0 ? a : c)"),  # the last piece is what is left
    ],
)  # fmt: skip
def test_what_stands_in_c(expression, printed):
    assert infix(expression, C) == printed


@pytest.mark.parametrize(
    ("dialect", "words"),
    [
        (C, ("sqrt(a)", "fabs(a)", "sign_of(a)", "log(a)", "ceil(a)", "pow(a, b)", "PI", "a != b", "a == b",
             "(a > 1.0) && (b > 1.0)", "(a > 1.0) || (b > 1.0)", "(a > b ? a : b)")),
        (JAVASCRIPT, ("Math.sqrt(a)", "Math.abs(a)", "Math.sign(a)", "Math.log(a)", "Math.ceil(a)", "Math.pow(a, b)", "Math.PI",
                      "a !== b", "a === b", "(a > 1) && (b > 1)", "(a > 1) || (b > 1)", "(a > b ? a : b)")),
        (PYTHON, ("math.sqrt(a)", "abs(a)", "_sign(a)", "math.log(a)", "math.ceil(a)", "math.pow(a, b)", "math.pi",
                  "a != b", "a == b", "(a > 1) and (b > 1)", "(a > 1) or (b > 1)", "(a if a > b else b)")),
        (OCTAVE, ("sqrt(a)", "abs(a)", "sign(a)", "log(a)", "ceil(a)", "power(a, b)", "pi", "a != b", "a == b",
                  "(a > 1) && (b > 1)", "(a > 1) || (b > 1)", "choose(a > b, a, b)")),
        (OPENFORMULA, ("SQRT(a)", "ABS(a)", "SIGN(a)", "LN(a)", "CEILING(a)", "POWER(a;b)", "PI()", "a <> b", "a = b",
                       "AND(a > 1;b > 1)", "OR(a > 1;b > 1)", "IF(a > b;a;b)")),
    ],
)  # fmt: skip
def test_the_words_of_each_language(dialect, words):
    expressions = (sp.sqrt(a), abs(a), sp.sign(a), sp.log(a), sp.ceiling(a), a**b, sp.pi, sp.Ne(a, b), sp.Eq(a, b),
                   sp.And(a > 1, b > 1), sp.Or(a > 1, b > 1), sp.Piecewise((a, a > b), (b, True)))  # fmt: skip
    assert tuple(infix(e, dialect) for e in expressions) == words


def test_names_are_turned_everywhere():
    cells = replace(OPENFORMULA, name=lambda name: f"[.{name}]")
    expression = sp.Piecewise((sp.sqrt(a) * b**2, sp.And(a > 0, b > 0)), (-c / d, True))
    assert infix(expression, cells) == "IF(AND([.a] > 0;[.b] > 0);SQRT([.a]) * [.b] * [.b];-[.c] / [.d])"


def test_what_no_language_has_is_refused_with_the_expression():
    with pytest.raises(ValueError, match=r"^the expression sin\(a\) cannot be written in the exported languages$"):
        infix(sp.sin(a), PYTHON)


LEAVES = st.sampled_from([a, b, c, d, sp.Integer(2), sp.Integer(-3), HALF, sp.Rational(-2, 3), sp.Rational(5, 7)])


def _joined(children):
    pair = st.tuples(children, children)
    return st.one_of(
        pair.map(lambda p: p[0] + p[1]),
        pair.map(lambda p: p[0] - p[1]),
        pair.map(lambda p: p[0] * p[1]),
        pair.map(lambda p: p[0] / (1 + p[1] ** 2)),
        children.map(lambda e: e**2),
        children.map(lambda e: sp.sqrt(1 + abs(e))),
        children.map(lambda e: -e),
    )


@given(st.recursive(LEAVES, _joined, max_leaves=8))
@settings(max_examples=150)
def test_printed_python_has_the_value_of_the_expression(expression):
    """The printer puts brackets, signs and fractions so that the language's own rules give the same number."""
    values = {"a": 1.7, "b": -0.6, "c": 2.9, "d": 0.31}
    compiled = compile(infix(expression, PYTHON), "printed", "eval")
    found = types.FunctionType(compiled, {"math": math, "abs": abs, **values})()
    right = sp.sympify(expression).subs({k: sp.Rational(str(v)) for k, v in values.items()})
    assert found == pytest.approx(float(right), rel=1e-9, abs=1e-9)


# --- laws solved for one quantity


def test_a_law_solved_keeps_its_signs():
    U, E, i, R = map(symbol, ("supply_voltage", "back_emf", "field_current", "field_circuit_resistance"))
    field = [("shunt-connection", "field_voltage")]
    assert solved("field_current", "field-circuit", field) - U / R == 0
    assert solved("field_circuit_resistance", "field-circuit", field) - U / i == 0
    assert solved("speed", "armature-emf") == E / symbol("k_phi")
    both = {"field_current": "reference_field_current", "supply_voltage": "reference_supply_voltage"}
    assert solved("field_current", "field-circuit", field, both) == symbol("reference_supply_voltage") / R


def test_what_is_renamed_to_one_another_is_exchanged_at_once():
    swapped = equation("armature-emf", renamed={"k_phi": "speed", "speed": "k_phi"})
    assert sp.expand(swapped - equation("armature-emf")) == 0  # a product: exchanged factors leave it as it is


@pytest.mark.parametrize("unknown", ["brush_drop", "speed_regulation"])
def test_what_a_law_says_nothing_about_cannot_be_found_from_it(unknown):
    with pytest.raises(ValueError, match=f"is not linear in {unknown}$"):
        solved(unknown, "armature-emf")


def test_a_law_with_the_square_of_a_quantity_is_not_linear_in_it():
    squared = [("armature-emf", "back_emf")]  # E = k_phi w in P = E I, and then I by k_phi w / ... stays linear
    assert solved("armature_current", "electromagnetic-power", squared) == (
        symbol("electromagnetic_power") / (symbol("k_phi") * symbol("speed"))
    )
    with pytest.raises(ValueError, match="is not linear in armature_current"):
        solved("armature_current", "armature-copper-loss")


def test_roots_by_hand():
    """x^2 - 5 x + 6 = 0 has the roots 2 (near zero) and 3, its discriminant is 1 - 24/25."""
    x = symbol("speed")
    for branch, value in (("near", 2), ("far", 3)):
        discriminant, found = root(x**2 - 5 * x + 6, "speed", branch)
        assert discriminant == sp.Rational(1, 25)
        assert found.subs(symbol("sqrt_of_discriminant"), sp.Rational(1, 5)) == value


def test_a_negative_factor_is_turned_round():
    """-(b + c) x + a = 0 is solved as a/(b + c), not as -a/(-b - c), which nobody would write."""
    x = symbol("speed")
    assert _solve(a - x * (b + c), "speed") == a / (b + c)
    assert _solve(a - x * (b + c - d), "speed") == a / (b + c - d)
    assert _solve(a + x * (b + c - d), "speed") == -a / (b + c - d)
    assert _solve(a - x * (b - d), "speed") == -a / (d - b)  # as many of each: left as it is


# --- steps of a recipe


def test_a_recipe_collects_steps_with_words_and_units():
    made = Recipe("speed")
    x = symbol("speed")
    made.law("speed", "armature-emf")
    made.law("armature_current", "current-sum", renamed={"armature_current": "reference_armature_current"})
    made.let("hot_armature_resistance", symbol("armature_resistance"), "warm")
    made.let("my_own", x, "mine", "N m")
    made.refuse(x < 0, "backwards")
    made.table("at least", "table_speed", count=2)
    made.table("same length", "table_speed", "table_back_emf")
    made.look_up("back_emf", "table_field_current", "table_back_emf", "field_current", "read")
    made.sum("total", x, ["speed"], "added", "rad/s")
    made.list_of("section_resistance", x, "step", "sections", "each")
    assert made.take("speed", 2) == symbol("speed_2")
    made.quadratic("k_phi", symbol("k_phi") ** 2 - 5 * symbol("k_phi") + 6, "far", "the root", "no root")
    steps = made.program.steps
    assert steps[0] == Let("speed", symbol("back_emf") / symbol("k_phi"), "rad/s", steps[0].words)
    assert (steps[1].name, steps[1].unit) == ("reference_armature_current", "A")
    assert (steps[2].unit, steps[3].unit, steps[3].words) == ("ohm", "N m", "mine")
    assert steps[4] == RefuseIf(x < 0, "backwards")
    assert steps[5] == RefuseTable("at least", ("table_speed",), 2)
    assert steps[6] == RefuseTable("same length", ("table_speed", "table_back_emf"), 0)
    assert steps[7] == LookUp("back_emf", "table_field_current", "table_back_emf", "field_current", "V", "read")
    assert steps[8] == SumOver("total", x, ("speed",), "rad/s", "added")
    assert steps[9] == ListOf("section_resistance", x, "step", "sections", "ohm", "each")
    assert steps[10] == TakeItem("speed_2", "speed", 2, "rad/s")
    assert (steps[11].name, steps[11].unit, steps[11].expression) == ("discriminant", "1", sp.Rational(1, 25))
    assert steps[12] == RefuseIf(symbol("discriminant") < 0, "no root")
    assert (steps[13].name, steps[13].words) == ("k_phi", "the root")
    assert steps[13].expression.subs(symbol("discriminant"), sp.Rational(1, 25)) == 3
    assert made.program.function.name == "speed"
    with pytest.raises(ValueError, match=r"^nothing_known is no quantity; give its unit$"):
        made.let("nothing_known", x, "?")
    with pytest.raises(ValueError, match=r"^first is no quantity"):
        _unit("first", "second")
    assert (_unit("first", "reference_speed"), _unit("hot_field_resistance")) == ("rad/s", "ohm")


def test_programs_are_those_named_or_all():
    assert [p.function.name for p in programs(["currents", "speed"])] == ["currents", "speed"]
    assert len(programs()) == len(exported_functions())
    with pytest.raises(ValueError, match=r"^unknown function 'sped'; perhaps speed is meant; "):
        program("sped")
    with pytest.raises(ValueError, match=f"^unknown function '{'x' * 60}'; "):
        program("x" * 61)


# --- the certified cases carried along


def _function(*inputs):
    return Function("speed", "speed", "", (), inputs, (Output("speed", "rad/s"),), ())


def _case(name, level, inputs, result="valid", **more):
    expected = {"speed": "10"} if result == "valid" else {}
    return Case(name, "speed", "speed", level, inputs, result, expected, **more)


GIVEN = {"supply_voltage": 120.0}
VOLTS = Input("supply_voltage", "V", "positive")


def test_one_case_of_each_of_three_levels_and_one_to_refuse():
    cases = (
        _case("c3", 3, GIVEN), _case("b2", 2, GIVEN), _case("b2-again", 2, GIVEN), _case("d4", 4, GIVEN), _case("a1", 1, GIVEN),
        _case("no", 3, GIVEN, "invalid"), _case("no-again", 3, GIVEN, "invalid"), _case("either", 1, GIVEN, "acceptable"),
    )  # fmt: skip
    other = Case("x", "speed", "another", 1, GIVEN, "valid", {"speed": "1"})
    made = self_tests(Suite((other, *cases), {}, {}), _function(VOLTS))
    assert [test.id for test in made] == ["a1", "b2", "c3", "no"]
    assert [test.refused for test in made] == [False, False, False, True]


def test_inputs_stand_in_calling_order_with_their_defaults():
    drop, amperes = Input("brush_drop", "V", "any", False, 2.0), Input("amperes", "A", "any", is_list=True)
    suite = Suite((_case("a", 1, {"amperes": (1.0, 2.0), "supply_voltage": 120.0}),
                   _case("b", 2, {"brush_drop": 0.0, "amperes": (3.0,), "supply_voltage": 0.0})), {}, {})  # fmt: skip
    made = self_tests(suite, _function(VOLTS, drop, amperes))
    assert [test.inputs for test in made] == [(120.0, 2.0, (1.0, 2.0)), (0.0, 0.0, (3.0,))]


@pytest.mark.parametrize(
    ("expected", "tolerance", "absolute", "allowed"),
    [
        ("-8", {}, {}, 8e-12),
        ("-8", {"speed": "1e-10"}, {}, 8e-10),
        (("1", "-4", "2"), {"speed": "1e-10"}, {}, 4e-10),
        ("8", {"speed": "1e-10"}, {"speed": "1e-9"}, 1e-9),
        ("8", {"speed": "1e-10"}, {"speed": "1e-11"}, 8e-10),
        ("0", {"speed": "1e-10"}, {}, 0.0),
    ],
)
def test_the_difference_allowed_is_the_cases_own(expected, tolerance, absolute, allowed):
    made = Case("a", "speed", "speed", 1, GIVEN, "valid", {"speed": expected}, tolerance=tolerance, absolute=absolute)
    (test,) = self_tests(Suite((made,), {}, {}), _function(VOLTS))
    assert test.allowed == {"speed": pytest.approx(allowed, rel=1e-12, abs=0)}
    assert test.expected == {"speed": expected}


def test_literals_and_the_head_of_a_file():
    assert literal(((1.0, 2.5), "3")) == "[[1.0, 2.5], 3]"
    assert (literal(()), literal(1e-300), literal(-0.0)) == ("[]", "1e-300", "-0.0")
    head = header_lines("C", "how to use it")
    assert head[3:6] == ["how to use it", "", "Before a resistor found here goes to a bench:"]
    assert head[6:] == [f"  * {caution}" for caution in CAUTIONS]
    assert "written in C by" in head[0]


def test_an_export_names_its_file_and_how_to_try_it():
    for language, name, tool in (
        ("c", "motor.c", "cc -std=c11 -O2 motor.c -o motor -lm"),
        ("octave", "motor.m", "octave-cli motor.m --self-test"),
        ("javascript", "motor.js", "node motor.js --self-test"),
        ("python", "motor.py", "python motor.py --self-test"),
        ("openformula", "motor.fods", "soffice --headless --convert-to csv motor.fods"),
    ):
        made = export_source(language, ["currents", "speed", "currents"])
        assert (made.file_name, made.functions) == (name, ("currents", "speed"))
        assert made.hint.endswith(f": {tool}")
        tests = sum(len(self_tests_of(f)) for f in made.functions)
        if language != "openformula":
            assert made.text.count('"currents-') + made.text.count('"speed-') == tests
    with pytest.raises(
        ValueError, match=f"^unknown language '{'x' * 40}'; known are c, octave, javascript, python, openformula$"
    ):
        export_source("x" * 41)


def self_tests_of(name):
    from shuntref.conformance.suite import load_suite

    suite = load_suite()
    return self_tests(suite, suite.functions[name])


def test_a_self_test_without_expectation_is_one_to_refuse():
    assert SelfTest("a", (), {}, {}).refused
    assert not SelfTest("a", (), {"speed": "1"}, {}).refused


def test_a_program_knows_its_lists():
    inputs = (Input("a", "1", "any", is_list=True), Input("b", "1", "any"), Input("c", "1", "any", is_list=True))
    assert Program(_function(*inputs), ()).lists == ("a", "c")
