"""Equations are ordered and solved as they should be, and what cannot be solved is refused."""

from __future__ import annotations

from fractions import Fraction

import pytest
import sympy as sp
from hypothesis import given
from hypothesis import strategies as st
from mpmath import mp, mpf

from shuntref.conformance.elimination import Unsolvable, plan, run
from shuntref.conformance.problem import Problem, equations, flatten, solve, variable

x, y, z, a, b = (variable(name) for name in "xyzab")


def test_a_chain_is_solved_from_what_is_known() -> None:
    moves = plan({"third": sp.Eq(z, x * y), "second": sp.Eq(y, x + a), "first": sp.Eq(x, 2 * a)}, ["a"], {})
    assert [move.unknown for move in moves] == ["x", "y", "z"]
    assert run(moves, {"a": mpf(3)})["z"] == 54


@given(st.integers(1, 50), st.integers(1, 50))
def test_a_coupled_pair_is_closed_in_its_pivot(total: int, product: int) -> None:
    """Two numbers from their sum and product: the larger and the smaller root add up to the sum."""
    system = {"sum": sp.Eq(x + y, a), "product": sp.Eq(x * y, b)}
    given_values = {"a": mpf(total), "b": mpf(product)}
    if total * total < 4 * product:
        with pytest.raises(Unsolvable, match="no real value"):
            run(plan(system, ["a", "b"], {"x": "largest"}), given_values)
        return
    with mp.workdps(60):
        large = run(plan(system, ["a", "b"], {"x": "largest"}), given_values)
        small = run(plan(system, ["a", "b"], {"x": "smallest"}), given_values)
        assert large["x"] >= small["x"]
        assert abs(large["x"] - small["y"]) < mpf("1e-50") * total
        assert abs(large["x"] * large["y"] - product) < mpf("1e-50") * product


@given(st.lists(st.fractions(-9, 9, max_denominator=9), min_size=6, max_size=6))
def test_a_linear_pair_agrees_with_exact_fractions(entries: list[Fraction]) -> None:
    p, q, r, s, u, v = entries
    determinant = p * s - q * r
    if determinant == 0 or 0 in (p, q, r, s):
        return
    one, two = (sp.Eq(sp.Rational(c) * x + sp.Rational(d) * y, sp.Rational(e)) for c, d, e in ((p, q, u), (r, s, v)))
    with mp.workdps(60):
        found = run(plan({"one": one, "two": two}, [], {"y": "largest"}), {})
        exact = (s * u - q * v) / determinant
        assert abs(found["x"] - mpf(exact.numerator) / exact.denominator) < mpf("1e-50")


def test_what_cannot_be_ordered_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot order the equations"):
        plan({"one": sp.Eq(x + y, a)}, ["a"], {})
    with pytest.raises(ValueError, match="no rule to pick one"):
        plan({"one": sp.Eq(x**2 + x, a)}, ["a"], {})
    with pytest.raises(ValueError, match="degree 3"):
        plan({"one": sp.Eq(x**3 + x, a)}, ["a"], {})
    with pytest.raises(Unsolvable, match="not defined"):
        run(plan({"one": sp.Eq(x * a, b)}, ["a", "b"], {}), {"a": mpf(0), "b": mpf(1)})


def test_direction_of_the_current_is_found_by_itself() -> None:
    laws = ("armature-circuit-signed", "armature-emf", "torque")
    problem = Problem(equations(*laws), ("speed",))
    base = {"supply_voltage": 120.0, "k_phi": 0.75, "armature_circuit_resistance": 0.8, "brush_drop": 2.0}
    speeds = {}
    for torque in (-6.0, 0.0, 6.0):
        values = solve(problem, flatten({**base, "electromagnetic_torque": torque}, mpf))
        speeds[torque] = values["speed"] * mpf("0.75")
    assert speeds[0.0] == 120
    assert abs(speeds[6.0] - (120 - mpf("6.4") - 2)) < mpf("1e-12")
    assert abs(speeds[-6.0] - (120 + mpf("6.4") + 2)) < mpf("1e-12")


def test_a_mistake_replaces_a_law_in_the_states_it_is_meant_for() -> None:
    shared = ("brush_drop",)
    problem = Problem(equations("current-sum") | equations("current-sum", shared=shared), (), shared=shared)
    both = problem.swap("current-sum", lambda s: sp.Eq(s("line_current"), s("armature_current")))
    assert both is not None
    assert {str(e.rhs) for e in both.equations.values()} == {"armature_current", "reference_armature_current"}
    present = problem.swap("current-sum", lambda s: sp.Eq(s("line_current"), s("armature_current")), "present")
    assert present is not None
    assert present.equations["reference:current-sum"] == problem.equations["reference:current-sum"]
    assert problem.swap("torque", lambda s: sp.Eq(s("k_phi"), 1)) is None
