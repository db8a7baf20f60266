"""The account of a change: its shares add up, its rule decides the direction, its turning point is one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shuntref import (
    ConstantTorque,
    FroehlichFlux,
    Machine,
    ProportionalFlux,
    ProportionalReaction,
    TableFlux,
    steady_state,
)
from shuntref.explanation.account import CHANGEABLE, Situation, account
from shuntref.explanation.ruling import ruling
from shuntref.explanation.words import adding_up, story_text
from shuntref.model.held_speed import state_at_speed
from shuntref.model.status import InfeasibleError

PLAIN = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
SATURATED = Machine(
    armature_resistance=0.8,
    field_resistance=160.0,
    flux=FroehlichFlux(froehlich_a=1.6, froehlich_b=0.9, remanent_k_phi=0.03),
    brush_drop=2.0,
    loss_torque=ConstantTorque(0.3),
)
REACTING = Machine(
    armature_resistance=0.8,
    field_resistance=160.0,
    flux=ProportionalFlux(1.0),
    armature_reaction=ProportionalReaction(0.002),
)
TABLE = Machine(
    armature_resistance=0.8,
    field_resistance=160.0,
    flux=TableFlux(field_current=[0.0, 0.4, 0.8, 1.2], emf=[4.0, 70.0, 118.0, 135.0], speed_rpm=1500.0),
)
SEPARATE = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0), connection="separate")


def bench(machine: Machine, torque: float = 6.0) -> Situation:
    circuit = {"supply_voltage": 120.0}
    if machine.connection == "separate":
        circuit["field_voltage"] = 120.0
    return Situation(machine, circuit, load_torque=torque)


def test_the_field_change_of_a_plain_machine_is_the_one_worked_by_hand() -> None:
    story = account(bench(PLAIN), "added_field_resistance", 20.0)
    # by hand: I_f = 120/160 = 0.75 and 120/180 = 2/3 A; I_a = 6/0.75 = 8 and 9 A; E = 113.6 and 112.8 V
    assert story.before["speed"] == pytest.approx(113.6 / 0.75, rel=1e-14)
    assert story.after["speed"] == pytest.approx(112.8 / (2.0 / 3.0), rel=1e-14)
    # first instant: E' = (2/3)(113.6/0.75) V, I_a' = (120 - E')/0.8
    emf = (2.0 / 3.0) * 113.6 / 0.75
    assert story.first_instant.back_emf == pytest.approx(emf, rel=1e-14)
    assert story.first_instant.armature_current == pytest.approx((120.0 - emf) / 0.8, rel=1e-13)
    shares = {part.through: part.speed_rpm for part in story.parts}
    rpm = 30.0 / math.pi
    assert shares["flux"] == pytest.approx((113.6 + 112.8) / 2 * (1.5 - 1 / 0.75) * rpm, rel=1e-12)
    assert shares["armature drop"] == pytest.approx(-(7.2 - 6.4) * (1.5 + 1 / 0.75) / 2 * rpm, rel=1e-12)


def test_the_turning_point_of_a_plain_machine_is_where_k_phi_is_two_t_r_over_u() -> None:
    rule = ruling(account(bench(PLAIN), "added_field_resistance", 20.0))
    # kPhi = 2 T R/U = 0.08 = 120/(160 + R_fx), so R_fx = 1340 ohm; the peak is U^2/(4 T R) = 750 rad/s
    assert rule.turning.value == pytest.approx(1340.0, rel=1e-9)
    assert rule.turning.speed_rpm == pytest.approx(750.0 * 30.0 / math.pi, rel=1e-9)


@pytest.mark.parametrize(
    "machine", [PLAIN, SATURATED, REACTING, TABLE], ids=["plain", "saturated", "reacting", "table"]
)
@pytest.mark.parametrize(
    ("name", "value"),
    [("added_field_resistance", 20.0), ("field_resistance", 190.0), ("added_armature_resistance", 3.0),
     ("armature_resistance", 1.0), ("supply_voltage", 100.0), ("line_resistance", 0.5), ("brush_drop", 3.0),
     ("load_torque", 9.0), ("load_torque", -4.0)],
)  # fmt: skip
def test_the_shares_add_up_to_the_change_whatever_is_changed(machine: Machine, name: str, value: float) -> None:
    story = account(bench(machine), name, value)
    total = sum(part.speed_rpm for part in story.parts)
    biggest = max((abs(part.speed_rpm) for part in story.parts), default=1.0)
    assert total == pytest.approx(story.speed_change_rpm, abs=1e-12 * max(biggest, story.before["speed_rpm"]))
    text = story_text(story, ruling(story))
    assert "What happens" in text
    assert "nan" not in text


@given(
    torque=st.floats(-15.0, 15.0),
    resistance=st.floats(0.05, 4.0),
    added=st.floats(0.0, 400.0),
    saturated=st.booleans(),
)
def test_the_sign_of_the_margin_decides_the_direction_of_a_small_field_change(
    torque: float, resistance: float, added: float, saturated: bool
) -> None:
    machine = SATURATED if saturated else PLAIN
    situation = Situation(machine, {"supply_voltage": 120.0, "armature_resistance": resistance,
                                    "added_field_resistance": added}, load_torque=torque)  # fmt: skip
    try:
        story = account(situation, "added_field_resistance", added + 1e-3)
    except InfeasibleError:
        assume(False)
        return
    sign = (story.before["armature_current"] > 0.0) - (story.before["armature_current"] < 0.0)
    half = (120.0 - sign * machine.brush_drop) / 2.0
    margin = story.before["back_emf"] - half
    assume(abs(margin) > 0.1 and story.before["speed"] > 1.0)
    assert (story.speed_change_rpm > 0.0) == (margin > 0.0)


def test_past_the_turning_point_less_field_gives_less_speed_and_the_rule_says_so() -> None:
    weak = Situation(PLAIN, {"supply_voltage": 120.0, "added_field_resistance": 1500.0}, load_torque=6.0)
    story = account(weak, "added_field_resistance", 1600.0)
    rule = ruling(story)
    assert story.speed_change_rpm < 0.0
    assert rule.margin_before < 0.0
    assert "already turned round" in rule.turning.words


def test_an_overhauling_load_turns_the_effect_of_armature_resistance_round() -> None:
    pulling = account(bench(SATURATED, 6.0), "added_armature_resistance", 2.0)
    driven = account(bench(SATURATED, -6.0), "added_armature_resistance", 2.0)
    assert pulling.speed_change_rpm < 0.0 < driven.speed_change_rpm
    turning = ruling(pulling).turning
    assert turning.value == -0.3  # the loss torque, which the load must just supply
    level = account(bench(SATURATED, -0.3), "added_armature_resistance", 2.0)
    assert level.speed_change_rpm == pytest.approx(0.0, abs=1e-9)


def test_in_the_first_instant_the_voltages_balance_at_the_old_speed() -> None:
    for machine in (PLAIN, SATURATED, REACTING, TABLE):
        speed = float(steady_state(machine, supply_voltage=120.0, load_torque=6.0).speed)
        for circuit in ({"supply_voltage": 120.0, "added_field_resistance": 30.0}, {"supply_voltage": 90.0},
                        {"source_voltage": 120.0, "line_resistance": 1.5}):  # fmt: skip
            held = state_at_speed(machine, speed=speed, **circuit)
            current = held.armature_current
            field = held.field_current
            source = circuit.get("source_voltage", circuit.get("supply_voltage"))
            terminal = source - circuit.get("line_resistance", 0.0) * (current + field)
            assert field * (160.0 + circuit.get("added_field_resistance", 0.0)) == pytest.approx(terminal, rel=1e-12)
            drop = machine.brush_drop * float(np.sign(current))
            if current:
                assert terminal == pytest.approx(held.back_emf + current * 0.8 + drop, rel=1e-12)
            else:
                assert abs(terminal - held.back_emf) <= machine.brush_drop


def test_in_a_dead_band_of_the_brush_drop_no_current_flows() -> None:
    held = state_at_speed(SATURATED, speed=119.0 / 0.7572727272727273, supply_voltage=120.0)
    assert held.armature_current == 0.0


def test_a_field_voltage_is_explained_for_a_separately_excited_machine() -> None:
    story = account(bench(SEPARATE), "field_voltage", 100.0)
    assert story.speed_change_rpm > 0.0
    assert ruling(story).turning.value == pytest.approx(0.08 * 160.0, rel=1e-9)  # kPhi = 2 T R/U again


@pytest.mark.parametrize("name", ["speed", "back_emf", "efficiency"])
def test_a_result_cannot_be_changed(name: str) -> None:
    with pytest.raises(ValueError, match="is a result of the rest"):
        account(bench(PLAIN), name, 1.0)


def test_a_point_that_cannot_be_reached_is_refused_with_its_reason() -> None:
    with pytest.raises(InfeasibleError, match=r"at standstill this setting gives 112\.5 N m"):
        account(bench(PLAIN), "load_torque", 500.0)
    with pytest.raises(ValueError, match="field_voltage is changed but was not set"):
        account(bench(PLAIN), "field_voltage", 100.0)


def test_everything_changeable_is_known_to_the_explanation() -> None:
    separate = {"field_voltage"}
    for name in CHANGEABLE:
        situation = bench(SEPARATE if name in separate else PLAIN)
        if name == "source_voltage":
            situation = Situation(PLAIN, {"source_voltage": 120.0}, load_torque=6.0)
        if name == "output_power":
            situation = Situation(PLAIN, {"supply_voltage": 120.0}, output_power=700.0)
        story = account(situation, name, situation.value(name) * 1.05 + 0.01)
        assert math.isfinite(story.speed_change_rpm)


@given(st.lists(st.floats(-1e4, 1e4), max_size=6))
def test_rounded_shares_add_up_to_the_rounded_total(parts: list[float]) -> None:
    shown = adding_up(parts)
    assert round(sum(shown), 1) == pytest.approx(round(sum(parts), 1), abs=1e-6)
    assert len(shown) == len(parts)
