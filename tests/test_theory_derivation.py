"""Derivations: steps carried out and put back; planted faults are caught."""

from dataclasses import replace
from itertools import product

import pytest
import sympy as sp

from shuntref.theory import general_state as state_room
from shuntref.theory import worksheet as worksheet_room
from shuntref.theory.derivation import DERIVABLE, derive, step_holds
from shuntref.theory.general_state import general_state, holds_in_state
from shuntref.theory.laws import law
from shuntref.theory.recipes import RECIPES, options_for, work_out
from shuntref.theory.symbols import symbol as s
from shuntref.theory.worksheet import Worksheet, solve_for

ASKED = {
    "speed",
    "field_current",
    "armature_current",
    "line_current",
    "electromagnetic_torque",
    "load_torque",
    "loss_torque",
    "added_field_resistance",
    "added_armature_resistance",
    "k_phi",
    "back_emf",
    "ideal_no_load_speed",
    "stall_torque",
    "peak_speed",
    "starting_resistance",
}


def test_everything_asked_for_can_be_derived():
    assert set(DERIVABLE) >= ASKED


def test_speed_equation_takes_six_to_eight_steps_and_starts_from_the_voltage_balance():
    derivation = derive("speed")
    assert 6 <= len(derivation.steps) <= 8
    assert derivation.steps[0].law == "armature-circuit"
    assert {"armature-circuit", "armature-emf", "torque", "armature-circuit-resistance"} <= set(derivation.laws)
    U, kp, T, R_a, R_ax = (
        s(n)
        for n in (
            "supply_voltage",
            "k_phi",
            "electromagnetic_torque",
            "armature_resistance",
            "added_armature_resistance",
        )
    )
    assert derivation.result.lhs == s("speed")
    assert sp.simplify(derivation.result.rhs - (U / kp - T * (R_a + R_ax) / kp**2)) == 0


@pytest.mark.parametrize("quantity", DERIVABLE)
def test_every_step_put_back_leaves_nothing_over(quantity):
    derivation = derive(quantity)
    assert all(derivation.check())
    assert derivation.result.lhs == s(quantity)
    assert not derivation.result.rhs.has(s(quantity))


@pytest.mark.parametrize("brush_drop", [False, True])
@pytest.mark.parametrize("line_resistance", [False, True])
@pytest.mark.parametrize("quantity", DERIVABLE)
def test_steps_hold_with_brush_drop_and_line_resistance(quantity, brush_drop, line_resistance):
    options = {"brush_drop": brush_drop, "line_resistance": line_resistance}
    options = {name: value for name, value in options.items() if name in RECIPES[quantity].heeds}
    derivation = derive(quantity, **options)
    assert all(derivation.check())
    shown = {symbol.name for symbol in derivation.result.rhs.free_symbols}
    if not options.get("brush_drop", False):
        assert "brush_drop" not in shown
    if not options.get("line_resistance", False):
        assert "line_resistance" not in shown


@pytest.mark.parametrize(("quantity", "branch"), list(product(["k_phi", "added_field_resistance"], ["upper", "lower"])))
def test_both_roots_are_derived_and_hold(quantity, branch):
    options = {"branch": branch} | ({"flux": "proportional"} if quantity != "k_phi" else {})
    assert all(derive(quantity, **options).check())


def test_the_two_roots_differ():
    assert derive("k_phi", branch="upper").result != derive("k_phi", branch="lower").result


# --- planted faults


def _speed_steps():
    return derive("speed").steps


@pytest.mark.parametrize("number", range(1, 7))
def test_a_wrong_sign_in_any_result_is_caught_when_the_step_is_put_back(number):
    step = _speed_steps()[number - 1]
    first, *others = sp.Add.make_args(step.result.rhs)
    wrong = replace(step, result=sp.Eq(step.result.lhs, -first + sum(others), evaluate=False))
    assert step_holds(step)
    assert not step_holds(wrong)


def test_k_phi_not_squared_is_caught():
    step = _speed_steps()[4]
    k = s("k_phi")
    wrong = replace(
        step,
        result=sp.Eq(
            step.result.lhs,
            s("supply_voltage") / k - s("electromagnetic_torque") * s("armature_circuit_resistance") / k,
            evaluate=False,
        ),
    )
    assert not step_holds(wrong)
    assert not holds_in_state(wrong, frozenset({"brush-drop-neglected"}))


def test_a_law_put_in_wrongly_is_caught():
    step = _speed_steps()[2]
    wrong = replace(step, applied=sp.Eq(s("back_emf"), s("k_phi") / s("speed"), evaluate=False))
    assert not step_holds(wrong)


def test_a_derivative_that_is_not_one_is_caught():
    step = next(step for step in derive("peak_speed").steps if step.kind == "differentiate")
    assert step_holds(step)
    assert not step_holds(replace(step, result=sp.Eq(step.result.lhs * 2, 0, evaluate=False)))


def test_a_law_with_a_wrong_sign_is_caught_by_the_general_state(monkeypatch):
    """The derivation goes wrong along with its law; the state that obeys the true laws does not follow it."""
    true = law("armature-circuit")
    faulty = replace(
        true,
        equation=sp.Eq(
            true.equation.lhs,
            s("back_emf") - s("armature_current") * s("armature_circuit_resistance") + s("brush_drop"),
        ),
    )
    assert state_room.law is law
    monkeypatch.setattr(worksheet_room, "law", lambda name: faulty if name == "armature-circuit" else law(name))
    steps = work_out("speed", options_for("speed")).steps
    assumptions = frozenset({"brush-drop-neglected"})
    verdicts = [holds_in_state(step, assumptions) for step in steps]
    assert verdicts == [False] * len(steps)


def test_general_state_obeys_the_laws_it_was_not_built_from():
    """Laws of other subjects that follow from the circuit's laws must hold in it too."""
    state = general_state(frozenset())
    power = law("shaft-power").residual.subs({s("electromagnetic_power"): state["back_emf"] * s("armature_current")})
    assert sp.simplify(power.subs({s(n): v for n, v in state.items()})) == 0


# --- refusals


@pytest.mark.parametrize(
    ("quantity", "options", "words"),
    [
        ("nonsense", {}, "no derivation of 'nonsense'.*speed"),
        ("speed", {"flux": "curly"}, "flux = 'curly'"),
        ("speed", {"colour": "red"}, "unknown option 'colour'"),
        ("winding_resistance", {"brush_drop": True}, "no bearing"),
        ("speed", {"given": "speed"}, "given = 'speed'"),
        ("speed", {"reaction": True}, "needs a flux curve"),
        ("speed", {"reaction": True, "flux": "proportional", "line_resistance": True}, "no closed form"),
        ("speed", {"load": "quadratic", "reaction": True, "flux": "proportional"}, "no closed form"),
        ("added_field_resistance", {"flux": "froehlich", "line_resistance": True}, "cubic"),
        ("field_current", {"given": "speed"}, "needs a flux curve"),
        ("k_phi", {"given": "current"}, "needs a flux curve"),
        ("armature_current", {"given": "speed", "reaction": True, "flux": "proportional"}, "from a given torque"),
    ],
)
def test_what_cannot_be_derived_is_refused_in_one_line(quantity, options, words):
    with pytest.raises(ValueError, match=words) as refusal:
        derive(quantity, **options)
    assert "\n" not in str(refusal.value)


def test_two_roots_without_a_branch_are_refused():
    with pytest.raises(ValueError, match="2 roots"):
        solve_for(sp.Eq(s("k_phi") ** 2, s("speed") + 1), s("k_phi"))


def test_using_a_law_that_does_not_touch_the_equation_adds_no_step():
    sheet = Worksheet()
    sheet.state("torque")
    sheet.use("line-drop", "source_voltage")
    sheet.solve("electromagnetic_torque")
    assert len(sheet.steps) == 1
