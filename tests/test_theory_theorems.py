"""The theorems: proved with their condition, not without it, and false where the condition is."""

import math
from dataclasses import replace

import pytest
import sympy as sp
from hypothesis import given
from hypothesis import strategies as st

from shuntref.theory.symbols import symbol as s
from shuntref.theory.theorem import Case, Claim
from shuntref.theory.theorems import RULING, THEOREMS, ruling_theorem, theorem

NAMES = sorted(THEOREMS)

# What must be among them: one entry per statement of the model's list of laws and consequences.
REQUIRED = {
    "ideal-no-load-speed",
    "stall-torque",
    "armature-resistance-and-speed",
    "weakening-the-field",
    "peak-speed",
    "wanted-speed",
    "no-load-speed-of-a-shunt-motor",
    "constant-torque-and-field",
    "constant-torque-and-armature-resistance",
    "froehlich-sensitivity",
    "quadratic-load",
    "armature-reaction-root",
    "rising-characteristic",
    "stability-under-constant-torque",
    "winding-temperature",
    "line-resistance",
    "power-balance",
    "scaling-of-a-shunt-motor",
    "scaling-at-constant-flux",
    "added-field-resistance-and-speed",
}


def test_the_required_theorems_are_there():
    assert set(NAMES) >= REQUIRED


@pytest.mark.parametrize("name", NAMES)
def test_theorem_is_proved(name):
    proof = THEOREMS[name].prove()
    assert proof.steps
    assert [step.words for step in proof.steps if not step.holds] == []


@pytest.mark.parametrize("name", NAMES)
def test_proof_fails_when_the_condition_is_dropped(name):
    assert not THEOREMS[name].without_condition().prove().holds


@pytest.mark.parametrize("name", NAMES)
def test_conclusion_holds_in_the_example_and_fails_in_the_counterexample(name):
    inside, outside = THEOREMS[name].example(), THEOREMS[name].counterexample()
    assert inside.condition_holds
    assert not inside.conclusion_fails
    assert not outside.condition_holds
    assert outside.conclusion_fails
    assert all(isinstance(value, sp.Rational) for value in outside.values.values())
    assert inside.number.is_number
    assert outside.number.is_number


def _turned_round(claim):
    if claim.wanted == "zero":
        return replace(claim, expression=lambda: claim.expression() + sp.Rational(1, 10**9))
    return replace(claim, wanted={"positive": "negative", "negative": "positive"}[claim.wanted])


@pytest.mark.parametrize("name", NAMES)
def test_every_claim_turned_round_is_not_proved(name):
    """A proof that would prove the opposite as well, or a zero that is not quite one, proves nothing."""
    turned = replace(THEOREMS[name], claims=tuple(map(_turned_round, THEOREMS[name].claims)))
    assert not any(step.holds for step in turned.prove().steps)


@pytest.mark.parametrize("name", NAMES)
def test_statement_and_condition_are_said_in_words_and_the_condition_as_a_relation(name):
    entry = THEOREMS[name]
    assert entry.statement.endswith(".")
    assert entry.condition
    assert isinstance(entry.condition_expr, sp.logic.boolalg.Boolean | sp.core.relational.Relational)
    assert entry.margin.words


def test_a_case_of_the_wrong_sign_is_not_proved():
    """The condition planted with its sign turned: E < U/2 said to make less flux raise the speed."""
    entry = THEOREMS["weakening-the-field"]
    claim = next(claim for claim in entry.claims if claim.words.startswith("E > U/2"))
    (case,) = claim.cases
    turned = replace(entry, claims=(replace(claim, cases=(replace(case, sign=-1),)),))
    assert not turned.prove().holds


def test_a_theorem_without_claims_is_not_proved():
    assert not replace(THEOREMS["peak-speed"], claims=()).prove().holds


def test_a_margin_with_two_solutions_cannot_be_put_in():
    case = Case(s("k_phi") ** 2 - s("speed") - 1, 1, "k_phi")
    with pytest.raises(ValueError, match="2 roots"):
        case.put_into(s("k_phi"), sp.Symbol("s", positive=True))


def test_either_sign_is_left_to_the_torque():
    """Without a case the torque may have either sign, so a claim about its sign is open."""
    entry = replace(THEOREMS["peak-speed"], claims=(Claim("torque", lambda: s("electromagnetic_torque"), "positive"),))
    assert not entry.prove().holds


# --- margins, against numbers worked out here with the plain speed equation


def speed(U, k, T, R):
    return U / k - T * R / k**2


motor = st.tuples(st.floats(20, 600), st.floats(0.02, 5), st.floats(0.01, 100), st.floats(0.01, 10))


@given(motor)
def test_margin_of_weakening_the_field_has_the_sign_of_what_the_speed_does(point):
    U, k, T, R = point
    found = theorem("weakening-the-field").margin_at(
        {"supply_voltage": U, "k_phi": k, "electromagnetic_torque": T, "armature_circuit_resistance": R}
    )
    assert found.value == pytest.approx((U - T * R / k) - U / 2, rel=1e-12, abs=1e-9 * U)
    step = 1e-4
    rise = speed(U, k * (1 - step), T, R) - speed(U, k, T, R)
    if abs(found.value) > 1e-3 * (U + T * R / k):  # a finite step tells nothing right at the edge
        assert (rise > 0) == found.holds
    assert speed(U, found.turning_value, T, R) == pytest.approx(U**2 / (4 * T * R), rel=1e-9)


@given(motor, st.floats(1, 500), st.floats(0, 500))
def test_field_rheostat_turns_round_where_the_margin_says(point, R_f, R_fx):
    """On proportional flux the speed is highest at the rheostat value that the theorem names."""
    U, k, T, R = point
    found = theorem("added-field-resistance-and-speed").margin_at(
        {
            "supply_voltage": U,
            "k_phi": k,
            "electromagnetic_torque": T,
            "armature_resistance": R,
            "added_armature_resistance": 0.0,
            "field_resistance": R_f,
            "added_field_resistance": R_fx,
        }
    )
    c = k * (R_f + R_fx) / U

    def at(rheostat):
        return speed(U, c * U / (R_f + rheostat), T, R)

    peak, turn = U**2 / (4 * T * R), found.turning_value
    assert at(turn) == pytest.approx(peak, rel=1e-9)
    assert found.holds == (turn > R_fx) or math.isclose(turn, R_fx, rel_tol=1e-9, abs_tol=1e-9)


@given(motor, st.sampled_from([-1, 0, 1]), st.floats(0.01, 20))
def test_margin_of_armature_resistance_has_the_sign_of_what_the_speed_does(point, direction, added):
    _, k, T, _ = point
    found = theorem("armature-resistance-and-speed").margin_at({"electromagnetic_torque": direction * T})
    change = -direction * T * added / k**2
    assert found.holds == (change < 0)
    assert found.turning_value == 0.0


def test_brush_drop_is_folded_into_the_voltage_with_the_sign_of_the_torque():
    point = {"supply_voltage": 120.0, "k_phi": 0.75, "armature_circuit_resistance": 0.8, "brush_drop": 2.0}
    found = theorem("weakening-the-field").margin_at({**point, "electromagnetic_torque": 6.0})
    assert found.value == pytest.approx(118 / 2 - 6.4)
    found = theorem("weakening-the-field").margin_at({**point, "electromagnetic_torque": -6.0})
    assert found.value == pytest.approx(122 / 2 + 6.4)


def test_without_torque_nothing_turns_round():
    found = theorem("added-field-resistance-and-speed").margin_at(
        {
            "supply_voltage": 120.0,
            "k_phi": 0.75,
            "electromagnetic_torque": 0.0,
            "armature_circuit_resistance": 0.8,
            "field_circuit_resistance": 160.0,
            "field_resistance": 150.0,
        }
    )
    assert found.holds
    assert found.turning_value is None


def test_condition_that_is_an_equation_holds_to_rounding():
    balance = theorem("power-balance")
    assert balance.margin_at({"electromagnetic_torque": 0.1 + 0.2, "load_torque": 0.2, "loss_torque": 0.1}).holds
    assert not balance.margin_at({"electromagnetic_torque": 0.31, "load_torque": 0.2, "loss_torque": 0.1}).holds


@pytest.mark.parametrize(("torque", "lowers"), [(6.0, True), (-0.3, False), (-6.0, True)])
def test_line_resistance_lowers_the_speed_where_torque_and_line_current_agree(torque, lowers):
    """120 V at the terminals, 160 ohm of field, c = 1: k_phi is 0.75 whatever the torque. One ohm goes into the line."""
    k, U = 0.75, 120.0
    current = torque / k + U / 160.0
    found = theorem("line-resistance").margin_at({"electromagnetic_torque": torque, "line_current": current})
    source = U + 1.0 * current
    at_source = speed(source, k * source / U, torque, 0.8)
    assert (speed(U, k, torque, 0.8) < at_source) == lowers == found.holds


def test_missing_quantity_of_a_margin_is_named():
    with pytest.raises(ValueError, match=r"needs .*k_phi"):
        theorem("weakening-the-field").margin_at({"supply_voltage": 120.0})


def test_unknown_names_are_refused_with_the_list():
    with pytest.raises(ValueError, match=r"unknown theorem 'x'.*peak-speed"):
        theorem("x")
    with pytest.raises(ValueError, match=r"no theorem says.*added_field_resistance"):
        ruling_theorem("poles")


def test_every_ruling_theorem_exists():
    assert set(RULING.values()) <= set(THEOREMS)
