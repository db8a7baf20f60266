"""Parts of the exported sources, read without a compiler: items of lists, self-tests, laws solved for an unknown."""

from __future__ import annotations

import re

import pytest
import sympy as sp

from shuntref.conformance.export.checks import self_tests
from shuntref.conformance.export.programs import exported_functions, program
from shuntref.conformance.export.recipe import Recipe, root, solved, symbol
from shuntref.conformance.export.recipe import _solve as solve_for
from shuntref.conformance.export.steps import RefuseIf, TakeItem
from shuntref.conformance.export.writer import export_source
from shuntref.conformance.suite import load_suite
from shuntref.theory.laws import law

SUITE = load_suite()


@pytest.mark.parametrize(
    ("language", "first", "second"),
    [
        ("c", "field_current->value[0]", "field_current->value[1]"),
        ("javascript", "field_current[0]", "field_current[1]"),
        ("python", "field_current[0]", "field_current[1]"),
        ("octave", "field_current(1)", "field_current(2)"),
    ],
)
def test_the_first_and_the_second_reading_of_a_list_are_taken_as_such(language, first, second):
    text = export_source(language, ["froehlich_from_two_points"]).text
    assert re.search(rf"\bfield_current_1 = {re.escape(first)}[ ;]", text)
    assert re.search(rf"\bfield_current_2 = {re.escape(second)}[ ;]", text)


def test_readings_are_counted_from_one():
    recipe = Recipe("froehlich_from_two_points")
    assert recipe.take("k_phi", 2) == symbol("k_phi_2")
    assert recipe.program.steps == (TakeItem("k_phi_2", "k_phi", 2, "V s/rad"),)


@pytest.mark.parametrize("name", exported_functions())
def test_the_self_test_has_the_first_case_of_each_of_three_levels_and_one_to_refuse(name):
    entry = SUITE.functions[name]
    cases = [case for case in SUITE.cases if case.function == name]
    levels = sorted({case.level for case in cases if case.result == "valid"})[:3]
    expected = [next(c for c in cases if c.level == level and c.result == "valid") for level in levels]
    refused = [case for case in cases if case.result == "invalid"][:1]
    tests = self_tests(SUITE, entry)
    assert [test.id for test in tests] == [case.id for case in expected + refused]
    assert [test.refused for test in tests] == [False] * len(expected) + [True] * len(refused)
    assert expected
    assert refused
    for test, case in zip(tests, expected + refused, strict=True):
        assert len(test.inputs) == len(entry.inputs)
        for value, given in zip(test.inputs, entry.inputs, strict=True):
            assert value == case.inputs.get(given.name, given.default)
        for output, value in test.expected.items():
            sizes = [abs(float(v)) for v in (value if isinstance(value, tuple) else (value,))]
            relative = max(sizes) * float(case.tolerance[output])
            assert test.allowed[output] == pytest.approx(max(relative, float(case.absolute.get(output, 0))), rel=1e-12)


@pytest.mark.parametrize("language", ["c", "javascript", "python", "octave"])
def test_the_self_test_of_a_source_holds_the_certified_digits(language):
    text = export_source(language, ["losses", "starter_grading"]).text
    for name in ("losses", "starter_grading"):
        for test in self_tests(SUITE, SUITE.functions[name]):
            assert f'"{test.id}"' in text
            for value in test.expected.values():
                for digits in value if isinstance(value, tuple) else (value,):
                    assert digits in text


X, Y, Z, W = (symbol(n) for n in "xyzw")


@pytest.mark.parametrize(
    ("residual", "found"),
    [
        (X - Y, Y),
        (2 * X + Y, -Y / 2),
        (Y * X - Z, Z / Y),
        (Z - Y * X, Z / Y),
        (Y / X - Z, Y / Z),
        (Y / (X + W) - Z, Y / Z - W),
        (X * Y + X * Z - W, W / (Y + Z)),
    ],
)
def test_an_equation_is_solved_for_what_it_is_linear_in(residual, found):
    assert sp.simplify(solve_for(residual, "x") - found) == 0


@pytest.mark.parametrize("residual", [Y - Z, X**2 - Y, X**3 + X - Y, sp.exp(X) - Y, Y * X**2 - X + Z, X + Y / X])
def test_what_is_not_linear_is_refused(residual):
    with pytest.raises(ValueError, match="is not linear in x"):
        solve_for(residual, "x")


def test_a_law_is_solved_for_a_quantity_under_its_own_or_another_name():
    assert solved("field_current", "field-circuit") == symbol("field_voltage") / symbol("field_circuit_resistance")
    renamed = {"field_current": "reference_field_current"}
    assert solved("field_current", "field-circuit", renamed=renamed) == (
        symbol("field_voltage") / symbol("field_circuit_resistance")
    )
    with pytest.raises(ValueError, match="is not linear in speed"):
        solved("speed", "field-circuit")


@pytest.mark.parametrize(("a", "b", "c"), [(2, -7, 3), (1, 5, 6), (-3, 4, 4), (1, -1e8, 1)])
def test_both_roots_of_a_quadratic(a, b, c):
    """The far one is the larger in size, the near one the smaller; sum and product are -b/a and c/a."""
    found = []
    for branch in ("far", "near"):
        discriminant, expression = root(Y * X**2 + Z * X + W, "x", branch)
        values = {Y: a, Z: b, W: c}
        size = float(discriminant.subs(values))
        assert size == pytest.approx(1 - 4 * a * c / b**2)
        found.append(float(expression.subs({**values, symbol("sqrt_of_discriminant"): size**0.5})))
    far, near = found
    assert abs(far) > abs(near)
    assert far + near == pytest.approx(-b / a, rel=1e-12)
    assert far * near == pytest.approx(c / a, rel=1e-12)


def test_a_quadratic_without_a_real_root_is_refused_before_its_root_is_drawn():
    recipe = Recipe("speed")
    recipe.quadratic("k_phi", X * symbol("k_phi") ** 2 + Y * symbol("k_phi") + Z, "near", "the flux", "no such flux")
    discriminant, refusal, found = recipe.program.steps
    assert discriminant.name == "discriminant"
    assert sp.simplify(discriminant.expression - (1 - 4 * X * Z / Y**2)) == 0
    assert (refusal.condition, refusal.text) == (symbol("discriminant") < 0, "no such flux")
    size = sp.sqrt(symbol("discriminant"))
    assert (found.name, found.unit) == ("k_phi", "V s/rad")
    assert sp.simplify(found.expression + 2 * Z / (Y * (1 + size))) == 0


def test_a_step_carries_the_unit_of_its_quantity_or_of_the_same_in_another_state():
    recipe = Recipe("speed")
    recipe.law("field_current", "field-circuit", renamed={"field_current": "reference_field_current"})
    recipe.law("field_current", "field-circuit", renamed={"field_current": "hot_field_current"})
    recipe.let("ratio", X / Y, "a ratio", "1")
    recipe.let("speed", X, "as found")
    recipe.let("reference_brush_loss", X, "as found before")
    recipe.let("hot_field_resistance", X, "as found in the warm machine")
    assert [(step.name, step.unit) for step in recipe.program.steps] == [
        ("reference_field_current", "A"),
        ("hot_field_current", "A"),
        ("ratio", "1"),
        ("speed", "rad/s"),
        ("reference_brush_loss", "W"),
        ("hot_field_resistance", "ohm"),
    ]
    assert recipe.program.steps[0].words == law("field-circuit").title
    for name in ("ratio", "cold_speed", "hot_ratio"):
        with pytest.raises(ValueError, match=f"{name} is no quantity; give its unit"):
            recipe.let(name, X, "nothing")


def test_the_speed_that_is_there_anyway_is_not_refused_and_a_lower_one_is():
    refusals = [step for step in program("added_field_resistance_at_no_load").steps if isinstance(step, RefuseIf)]
    (below,) = [step for step in refusals if "below the one without" in step.text]
    at = {symbol("reference_speed"): 160}
    assert [bool(below.condition.subs(at | {symbol("speed"): speed})) for speed in (159, 160, 161)] == [
        True,
        False,
        False,
    ]
