"""Solving by hand: roots and the rules that pick them, which equation comes first, states, directions, pieces of a table."""

from __future__ import annotations

import pytest
import sympy as sp
from mpmath import mp, mpf

from shuntref.conformance.elimination import RULES, Unsolvable, _risk, _roots, plan, run
from shuntref.conformance.groups import all_entries
from shuntref.conformance.mistakes import mistake, on_inputs, on_outputs, replaced, scaled_inputs, swapped
from shuntref.conformance.problem import Problem, equations, flatten, namer, segments, solve, variable

a, b, x, y = map(variable, "abxy")


@pytest.fixture(autouse=True)
def sixty_digits():
    with mp.workdps(60):
        yield


def numbers(**values):
    return {name: mpf(value) for name, value in values.items()}


# --- roots


@pytest.mark.parametrize(
    ("residual", "roots"),
    [
        (3 * x - a, {a / 3}),
        (a / x - b, {a / b}),
        (x**2 - a, {sp.sqrt(a), -sp.sqrt(a)}),
        (x**3 - a, {a ** sp.Rational(1, 3)}),
        (2 * x**4 - a, {(a / 2) ** sp.Rational(1, 4)}),
        (x**2 - 5 * x + 6, {2, 3}),
        (2 * x**2 + 2 * x - 12, {2, -3}),
        (x**2 - 2 * x, {0, 2}),
    ],
)
def test_roots_of_lines_parabolas_and_pure_powers(residual, roots):
    found = _roots(residual, x)
    assert len(found) == len(roots)
    positive = {a: sp.Integer(5), b: sp.Integer(7)}
    near = [complex(sp.N(sp.sympify(r).subs(positive))) for r in roots]
    for root in found:
        value = complex(sp.N(sp.sympify(root).subs(positive)))
        assert min(abs(value - other) for other in near) < 1e-12
        assert abs(complex(sp.N(residual.subs(positive).subs(x, value)))) < 1e-10


def test_what_has_no_root_in_closed_form():
    with pytest.raises(ValueError, match=r"^cannot solve for x: an equation of degree 3$"):
        _roots(x**3 + x - a, x)
    with pytest.raises(Unsolvable, match=r"^x is not determined by the readings$"):
        _roots(a - b, x)


def test_each_rule_picks_its_own():
    roots = [mpf(-7), mpf(2), mpf(5), mpf(-1)]
    assert {name: rule(roots) for name, rule in RULES.items()} == {
        "largest": 5, "smallest": -7, "least magnitude": -1, "greatest magnitude": -7,
    }  # fmt: skip
    for rule, value in (("largest", 3), ("smallest", -2), ("least magnitude", -2), ("greatest magnitude", 3)):
        moves = plan({"e": sp.Eq(x**2, x + 6)}, [], {"x": rule})
        assert run(moves, {})["x"] == value


def test_a_parabola_without_real_roots_is_refused():
    moves = plan({"e": sp.Eq(x**2, a)}, ["a"], {"x": "largest"})
    assert run(moves, numbers(a=9))["x"] == 3
    assert run(moves, numbers(a=0))["x"] == 0
    with pytest.raises(Unsolvable, match=r"^x has no real value$"):
        run(moves, numbers(a=-9))


def test_nothing_is_divided_by_what_may_be_zero_if_it_can_be_helped():
    current, drop, torque = variable("armature_current"), variable("brush_drop"), variable("load_torque")
    assert _risk(x * 3 - a, x) == 0
    assert _risk(x * a - b, x) == 1
    assert _risk(x * drop - b, x) == 2
    assert _risk(x * (drop + a) - b, x) == 1  # not zero with the drop alone
    assert _risk(x * drop * torque - b, x) == 2
    assert _risk(sp.Abs(x) - b, x) == 3
    # two ways to the current: over the brush drop or over a resistance
    ways = {"over the drop": sp.Eq(current * drop, a * drop), "over a": sp.Eq(current * b, a * b)}
    moves = plan(ways, ["a", "b", "brush_drop"], {})
    assert [str(move.roots[0]) for move in moves] == ["a"]
    assert run(moves, numbers(a=4, b=2, brush_drop=0))["armature_current"] == 4


def test_of_equal_risks_the_equation_written_first_is_used():
    moves = plan({"first": sp.Eq(x * 2, a), "second": sp.Eq(x * 3, b)}, ["a", "b"], {})
    assert run(moves, numbers(a=8, b=9))["x"] == 4
    moves = plan({"second": sp.Eq(x * 3, b), "first": sp.Eq(x * 2, a)}, ["a", "b"], {})
    assert run(moves, numbers(a=8, b=9))["x"] == 3


def test_equations_of_what_is_given_are_left_out():
    assert plan({"e": sp.Eq(a, b)}, ["a", "b"], {}) == ()
    assert [move.unknown for move in plan({"e": sp.Eq(a, b), "f": sp.Eq(x, a)}, ["a", "b"], {})] == ["x"]


def test_readings_of_a_list_are_names_like_others():
    reading = sp.Symbol("speed[0]", real=True)
    assert run(plan({"e": sp.Eq(x, 2 * reading)}, ["speed[0]"], {}), {"speed[0]": mpf(21)})["x"] == 42


# --- states, readings, pieces of a table


def test_inputs_are_flattened_as_they_are_written():
    assert flatten({"a": (1.5, 2), "b": 0.1, "c": [3.0]}, str) == {
        "a[0]": "1.5",
        "a[1]": "2",
        "b": "0.1",
        "c[0]": "3.0",
    }


def test_the_pieces_of_a_table():
    flat = flatten({"table_field_current": [1, 2, 4], "table_back_emf": [10, 20, 30]}, mpf)
    assert [tuple(map(int, piece.values())) for piece in segments(flat)] == [(1, 2, 10, 20), (2, 4, 20, 30)]
    assert list(next(iter(segments(flat)))) == [
        "low_field_current",
        "high_field_current",
        "low_emf",
        "high_emf",
    ]
    assert list(segments({"table_field_current[0]": 1})) == []


def test_the_reference_state_has_names_of_its_own_and_nothing_added():
    assert namer(("k_phi",))("k_phi") == variable("k_phi")
    assert namer(("k_phi",))("speed") == variable("reference_speed")
    found = equations("field-circuit-resistance", shared=("field_resistance",))
    (equation,) = found.values()
    assert (
        equation.subs({variable("reference_field_circuit_resistance"): 5, variable("field_resistance"): 5}) == sp.true
    )
    (signed,) = equations("armature-circuit-signed", shared=()).values()
    assert variable("current_direction") not in signed.free_symbols  # the reading is one of motoring


def test_a_law_takes_part_in_either_state():
    reference = Problem(equations("current-sum", shared=()), ())
    assert reference.has("current-sum")
    assert Problem(equations("current-sum"), ()).has("current-sum")
    assert not reference.has("torque")
    assert reference.swap("current-sum", lambda s: sp.Eq(s("speed"), 1), "present") is None
    changed = reference.swap("current-sum", lambda s: sp.Eq(s("speed"), 1), "reference")
    assert list(changed.equations.values()) == [sp.Eq(variable("reference_speed"), 1)]
    with_both = Problem(equations("current-sum") | equations("current-sum", shared=("speed",)), (), shared=("speed",))
    assert list(with_both.swap("current-sum", lambda s: sp.Eq(s("speed"), s("k_phi"))).equations.values()) == [
        sp.Eq(variable("speed"), variable("k_phi")), sp.Eq(variable("speed"), variable("reference_k_phi")),
    ]  # fmt: skip


def test_mistakes_of_inputs_and_answers_leave_the_given_values_alone():
    problem = Problem({"e": sp.Eq(x, 2 * a)}, ("x",))
    given = numbers(a=5)

    def bigger(values):
        values["a"] += 1

    def shown(values):
        values["x"] *= 10

    assert solve(on_inputs(bigger)(problem), given)["x"] == 12
    assert solve(on_outputs(shown)(problem), given)["x"] == 100
    assert solve(on_outputs(shown)(on_inputs(bigger)(problem)), given)["x"] == 120
    assert solve(on_inputs(bigger)(on_inputs(bigger)(problem)), given)["x"] == 14
    assert given == {"a": 5}
    listed = Problem({"e": sp.Eq(x, variable("a[0]") + variable("a[1]") + variable("ab"))}, ("x",))
    scaled = scaled_inputs(lambda: 3, "a")(listed)
    assert solve(scaled, {"a[0]": mpf(1), "a[1]": mpf(2), "ab": mpf(100)})["x"] == 109
    assert replaced({"e": sp.Eq(x, a)})(problem).equations == {"e": sp.Eq(x, a)}
    assert replaced({"e": sp.Eq(x, a), "f": sp.Eq(y, a)})(problem) is None
    assert swapped("torque", lambda s: sp.Eq(s("k_phi"), 1))(problem) is None
    with pytest.raises(ValueError, match=r"^mistake 'limits-not-checked' is registered twice$"):
        mistake("limits-not-checked")(lambda problem: problem)


# --- directions and choices


ARMATURE = Problem(
    equations("armature-circuit-signed"),
    ("armature_current",),
)


@pytest.mark.parametrize(
    ("emf", "current"),
    [(100, 9), (120, 0), (140, -9), ("118.5", None), ("121.5", None)],
)
def test_the_brush_drop_opposes_the_current_or_lets_none_flow(emf, current):
    """120 V, 2 ohm, 2 V: 100 V behind drive 9 A, 140 V drive 9 A back; within 2 V of 120 no direction is consistent."""
    given = numbers(supply_voltage=120, back_emf=emf, armature_circuit_resistance=2, brush_drop=2)
    if current is None:
        with pytest.raises(Unsolvable, match="no consistent solution"):
            solve(ARMATURE, given)
        return
    assert solve(ARMATURE, given)["armature_current"] == current


def test_a_problem_kept_to_one_direction_does_not_ask_whether_it_is_right():
    from dataclasses import replace

    given = numbers(supply_voltage=120, back_emf=140, armature_circuit_resistance=2, brush_drop=2)
    assert solve(replace(ARMATURE, directions=(1,)), given)["armature_current"] == -11


def test_no_current_flows_where_the_brushes_hold_the_difference():
    """Within the brush drop of equal voltages, limits included, no current flows; just beyond it 0.1 V drive 0.125 A."""
    entry = all_entries()["armature_current_from_speed"]
    for speed, current in ((118.0, 0), (122.0, 0), (119.0, 0), (120.0, 0), (117.9, 0.125), (122.1, -0.125)):
        inputs = {"supply_voltage": 120.0, "k_phi": 1.0, "speed": speed, "armature_resistance": 0.8,
                  "added_armature_resistance": 0.0,
                  "brush_drop": 2.0}  # fmt: skip
        found = solve(entry.problem(inputs), flatten(inputs, mpf))["armature_current"]
        assert float(found) == pytest.approx(current, abs=1e-12)


def test_the_first_choice_that_is_consistent_is_taken():
    problem = Problem(
        {"e": sp.Eq(x, a * b)}, ("x",),
        choices=lambda values: ({"b": mpf(n)} for n in (0, 1, 2, 3)),
        consistent=lambda values: values["x"] >= 10,
    )  # fmt: skip
    assert solve(problem, numbers(a=6))["x"] == 12
    with pytest.raises(Unsolvable, match="no consistent solution"):
        solve(problem, numbers(a=1))
    broken = Problem({"e": sp.Eq(x * b, a)}, ("x",), choices=problem.choices)
    assert solve(broken, numbers(a=6))["x"] == 6  # the choice that divides by zero is passed over
    hopeless = Problem({"e": sp.Eq(x * b, a)}, ("x",), choices=lambda values: ({"b": mpf(0)},))
    with pytest.raises(Unsolvable, match="x is not defined"):
        solve(hopeless, numbers(a=6))
