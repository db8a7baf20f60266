"""Sizing for a wanted speed, the speed-torque line, and the limits that are told."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from shuntref.model import infeasible
from shuntref.model.flux import FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantTorque, SquareTorque
from shuntref.model.machine import Machine
from shuntref.model.reaction import FluxLoss, ProportionalReaction, TableReaction
from shuntref.model.sizing import added_armature_resistance_for_speed, added_field_resistance_for_speed
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.torque_line import speed_torque_line


def bench(**changes: Any) -> Machine:
    values: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**{**values, **changes})


def test_the_field_resistance_of_a_worked_point_by_hand() -> None:
    # omega = 167.5516 rad/s: kPhi = (120 + sqrt(14400 - 4*167.5516*6*0.8))/(2*167.5516) = 0.673658, R_ft = 120/kPhi
    found = added_field_resistance_for_speed(bench(), speed_rpm=1600.0, supply_voltage=120.0, load_torque=6.0)
    omega = 1600.0 * math.pi / 30.0
    k_phi = (120.0 + math.sqrt(14400.0 - 4.0 * omega * 4.8)) / (2.0 * omega)
    assert found.resistance == pytest.approx(120.0 / k_phi - 160.0, rel=1e-13)
    assert found.quantity == "added_field_resistance"
    assert found.status is Status.OK
    assert found.nearest_speed == pytest.approx(omega)
    assert found.state is not None
    assert found.state.speed_rpm == pytest.approx(1600.0, rel=1e-13)


def test_the_weak_field_branch_gives_the_same_speed_at_a_much_larger_current() -> None:
    strong = added_field_resistance_for_speed(bench(), speed_rpm=1600.0, supply_voltage=120.0, load_torque=6.0)
    weak = added_field_resistance_for_speed(
        bench(), speed_rpm=1600.0, supply_voltage=120.0, load_torque=6.0, branch="weak-field"
    )
    assert weak.state.speed == pytest.approx(strong.state.speed, rel=1e-9)
    assert weak.resistance > 10.0 * strong.resistance
    assert weak.state.back_emf < 60.0 < strong.state.back_emf
    with pytest.raises(ValueError, match="branch is 'middle'"):
        added_field_resistance_for_speed(bench(), speed=1.0, supply_voltage=120.0, branch="middle")


def test_a_speed_above_the_peak_is_refused_with_the_peak() -> None:
    peak = 120.0**2 / (4.0 * 6.0 * 0.8)
    just = added_field_resistance_for_speed(bench(), speed=peak * (1.0 - 1e-9), supply_voltage=120.0, load_torque=6.0)
    assert just.state.back_emf == pytest.approx(60.0, rel=1e-3)
    with pytest.raises(InfeasibleError, match=r"field circuit.*nearest is") as caught:
        added_field_resistance_for_speed(bench(), speed=peak * 1.001, supply_voltage=120.0, load_torque=6.0)
    assert caught.value.limit == pytest.approx(peak, rel=1e-12)
    assert caught.value.theorem == "peak-speed"
    assert caught.value.status is Status.SPEED_UNREACHABLE


def test_a_speed_below_what_the_whole_field_gives_is_refused_with_that_speed() -> None:
    base = 151.46666666666667
    assert added_field_resistance_for_speed(
        bench(), speed=base, supply_voltage=120.0, load_torque=6.0
    ).resistance == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(InfeasibleError) as caught:
        added_field_resistance_for_speed(bench(), speed=base * 0.99, supply_voltage=120.0, load_torque=6.0)
    assert caught.value.limit == pytest.approx(base, rel=1e-12)


def test_the_theorems_that_refusals_name_exist() -> None:
    from shuntref.theory.theorems import THEOREMS

    named = [value for name, value in vars(infeasible).items() if name.endswith("_THEOREM")]
    assert len(named) == 5
    assert set(named) <= set(THEOREMS)


def test_the_armature_resistance_by_hand_and_its_limits() -> None:
    # I_a = 8 A, E = 0.75 * 104.7198 = 78.5398 V: R = (120 - 78.5398)/8 = 5.18252 ohm
    found = added_armature_resistance_for_speed(bench(), speed_rpm=1000.0, supply_voltage=120.0, load_torque=6.0)
    assert found.resistance == pytest.approx((120.0 - 0.75 * 1000.0 * math.pi / 30.0) / 8.0 - 0.8, rel=1e-13)
    with pytest.raises(InfeasibleError) as caught:
        added_armature_resistance_for_speed(bench(), speed=155.0, supply_voltage=120.0, load_torque=6.0)
    assert caught.value.limit == pytest.approx(151.46666666666667)
    assert caught.value.theorem == "armature-resistance-and-speed"
    overhauled = added_armature_resistance_for_speed(bench(), speed=200.0, supply_voltage=120.0, load_torque=-6.0)
    assert overhauled.resistance == pytest.approx((0.75 * 200.0 - 120.0) / 8.0 - 0.8, rel=1e-13)
    with pytest.raises(InfeasibleError):
        added_armature_resistance_for_speed(bench(), speed=150.0, supply_voltage=120.0)  # no torque: no effect
    assert added_armature_resistance_for_speed(bench(), speed=160.0, supply_voltage=120.0).resistance == 0.0


def test_arrays_say_which_speeds_can_be_had_and_how_near_the_others_come() -> None:
    speeds = np.array([[1400.0, 1500.0], [1600.0, 1e5]])
    field = added_field_resistance_for_speed(bench(), speed_rpm=speeds, supply_voltage=120.0, load_torque=6.0)
    assert field.status.tolist() == [[14, 0], [0, 14]] or field.status.tolist() == [[14, 0], [0, 14]]
    assert np.isnan(field.resistance).tolist() == [[True, False], [False, True]]
    np.testing.assert_allclose(field.nearest_speed[1, 1], 120.0**2 / 19.2)
    np.testing.assert_allclose(field.nearest_speed[0, 1], 1500.0 * math.pi / 30.0)
    armature = added_armature_resistance_for_speed(bench(), speed_rpm=speeds, supply_voltage=120.0, load_torque=6.0)
    assert (armature.status == 0).tolist() == [[True, False], [False, False]]


MACHINES = (
    bench(line_resistance=0.4, brush_drop=2.0),
    bench(flux=FroehlichFlux(1.6, 0.9, 0.03), line_resistance=0.4, armature_reaction=ProportionalReaction(0.003)),
    bench(
        flux=TableFlux((0.0, 0.3, 0.5, 0.7, 1.0), (4.0, 65.0, 90.0, 110.0, 130.0), 1500.0),
        armature_reaction=TableReaction((0.0, 10.0, 60.0), (0.0, 0.02, 0.15)),
        loss_torque=ConstantTorque(0.2) + SquareTorque(0.1, 150.0),
    ),
    bench(
        flux=FroehlichFlux(1.6, 0.9), armature_reaction=FluxLoss(5.0, 40.0), line_resistance=0.3, connection="separate"
    ),
)


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("load", [ConstantTorque(4.0), SquareTorque(4.0, 150.0), ConstantTorque(-3.0)])
def test_any_machine_and_load_runs_at_the_speed_it_was_sized_for(machine: Machine, load: Any) -> None:
    setting: dict[str, Any] = {"source_voltage": 120.0, "load": load}
    if machine.connection == "separate":
        setting["field_voltage"] = 120.0
    line = speed_torque_line(machine, source_voltage=120.0, field_voltage=setting.get("field_voltage"),
                             armature_current=[0.0])  # fmt: skip
    faster = line.speed[0] * np.array([1.1, 1.2, 1.3])
    found = added_field_resistance_for_speed(machine, speed=faster, **setting)
    assert found.status.tolist() == [0, 0, 0]
    np.testing.assert_allclose(found.state.speed, faster, rtol=1e-10)
    other = line.speed[0] * (np.array([0.4, 0.7, 0.9]) if load.torque(100.0) > 0.0 else np.array([1.2, 1.4, 1.6]))
    found = added_armature_resistance_for_speed(machine, speed=other, **setting)
    assert found.status.tolist() == [0, 0, 0]
    np.testing.assert_allclose(found.state.speed, other, rtol=1e-10)


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ({}, "one of speed and speed_rpm"),
        ({"speed": 1.0, "speed_rpm": 1.0}, "not both"),
        ({"speed": -1.0}, "speed is -1.0 rad/s"),
        ({"speed_rpm": 0.0}, "speed_rpm is 0.0 r/min"),
        ({"speed": [100.0, math.nan]}, "speed is nan rad/s at index 1"),
    ],
)
def test_a_wanted_speed_that_cannot_be_is_refused(setting: dict[str, Any], words: str) -> None:
    for sizing in (added_field_resistance_for_speed, added_armature_resistance_for_speed):
        with pytest.raises(ValueError, match=words):
            sizing(bench(), supply_voltage=120.0, load_torque=6.0, **setting)


# --- the line


def test_the_line_without_reaction_is_the_straight_one_of_the_textbook() -> None:
    line = speed_torque_line(bench(), supply_voltage=120.0, added_armature_resistance=0.2, points=5)
    np.testing.assert_allclose(line.electromagnetic_torque, np.linspace(0.0, 0.75 * 120.0, 5), rtol=1e-14)
    np.testing.assert_allclose(line.speed, np.linspace(160.0, 0.0, 5), rtol=1e-13, atol=1e-12)
    assert line.stable.all()
    assert line.speed[-1] == 0.0
    assert list(line.to_frame().columns)[:1] == ["source_voltage [V]"]


def test_the_line_with_strong_reaction_rises_and_is_unstable_there() -> None:
    line = speed_torque_line(bench(armature_reaction=ProportionalReaction(0.008)), supply_voltage=120.0)
    torque = line.electromagnetic_torque
    before_peak = np.arange(torque.size) < np.nanargmax(torque)
    assert not line.stable[1:][before_peak[1:]].any()
    assert np.all(np.diff(line.speed[before_peak]) > 0.0)


def test_the_line_with_a_table_ends_where_the_table_ends_and_says_so() -> None:
    machine = bench(armature_reaction=TableReaction((0.0, 40.0), (0.0, 0.1)))
    line = speed_torque_line(machine, supply_voltage=120.0, armature_current=[-50.0, -10.0, 10.0, 50.0])
    assert list(line.status_text) == ["outside-table", "ok", "ok", "outside-table"]
    assert np.isnan(line.speed).tolist() == [True, False, False, True]
    assert not np.isnan(line.armature_current).any()


@pytest.mark.parametrize(
    ("machine", "setting", "words"),
    [
        (bench(armature_resistance=0.0), {}, "never comes to standstill"),
        (bench(), {"points": 1}, "points is 1"),
        (bench(), {"points": True}, "points is True"),
        (bench(), {"added_field_resistance": [1.0, 2.0]}, "one number, for one line"),
        (bench(), {"armature_current": [1.0, math.nan]}, "armature_current is nan A at index 1"),
        (bench(), {"armature_current": [[1.0]]}, "a list of numbers"),
    ],
)
def test_a_line_that_cannot_be_drawn_is_refused(machine: Machine, setting: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        speed_torque_line(machine, supply_voltage=120.0, **setting)
