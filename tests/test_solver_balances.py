"""Further balances of one setting, and the machine at a speed that is held: every value worked out by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from shuntref.model import other_solutions as others_module
from shuntref.model.flux import ProportionalFlux
from shuntref.model.held_speed import state_at_speed
from shuntref.model.load import ConstantPower, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.reaction import FluxLoss, ProportionalReaction, TableReaction
from shuntref.model.status import InfeasibleError
from shuntref.model.steady import steady_state

# --- other solutions


def bench(**changes: Any) -> Machine:
    values: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**{**values, **changes})


def test_other_solutions_of_many_points_whatever_the_block(monkeypatch: pytest.MonkeyPatch) -> None:
    power = np.array([[900.0, 2000.0, 5000.0], [-400.0, 4499.0, 100.0]])
    expected = np.full((2, 3), np.nan)
    for at, p in np.ndenumerate(power):  # 0.75^2 w^2 - 90 w + 0.8 P = 0, the lower root, where the shaft turns forwards
        roots = np.roots([0.5625, -90.0, 0.8 * p])
        if np.isreal(roots).all() and roots.min() > 0.0:
            expected[at] = roots.min()
    for length in (1024, 4, 1):
        monkeypatch.setattr(others_module, "_POINTS_AT_ONCE", length)
        state = steady_state(bench(), supply_voltage=120.0, load=ConstantPower(power), all_solutions=True)
        (other,) = state.other_solutions
        np.testing.assert_allclose(other.speed, expected, rtol=1e-9)
        np.testing.assert_allclose(other.output_power, np.where(np.isnan(expected), np.nan, power), rtol=1e-9)
        assert other.status_text.tolist() == [["unstable-only", "unstable-only", "no-solution"],
                                              ["no-solution", "unstable-only", "unstable-only"]]  # fmt: skip
        assert not other.stable.any()
        assert not other.field_loss.any()
        assert not other.extrapolated.any()


def test_a_second_balance_beyond_a_table_is_left_out_or_flagged() -> None:
    # d = 0.006: roots of 0.006 I^2 - 0.75 I + 6 at 8.6 A and 116.4 A; the table ends at 60 A
    for mode, count in (("refuse", 0), ("flag", 1)):
        reaction = TableReaction((0.0, 30.0, 60.0), (0.0, 0.18, 0.36), mode)
        state = steady_state(
            bench(armature_reaction=reaction), supply_voltage=120.0, load_torque=6.0, all_solutions=True
        )
        assert len(state.other_solutions) == count
    (other,) = state.other_solutions
    assert other.armature_current == pytest.approx(max(np.roots([0.006, -0.75, 6.0])), rel=1e-9)
    assert other.extrapolated is True
    assert state.extrapolated is False


def test_balances_of_a_driven_machine_are_sought_far_beyond_its_standstill_current() -> None:
    # flux loss 20 % at 240 A: 0.75 (1 - I/1200) I = 60 at 86 A and 1114 A, 7.4 times the 150 A of standstill
    near, far = sorted(np.roots([0.75 / 1200.0, -0.75, 60.0]))
    state = steady_state(
        bench(armature_reaction=FluxLoss(20.0, 240.0)), supply_voltage=120.0, load_torque=-60.0, all_solutions=True
    )
    assert state.armature_current == pytest.approx(-near, rel=1e-12)
    assert [other.armature_current for other in state.other_solutions] == pytest.approx([-far], rel=1e-9)
    # without resistance nothing stands still, and the flux alone bounds the search
    stiff = bench(armature_resistance=0.0, armature_reaction=ProportionalReaction(0.01))
    state = steady_state(stiff, supply_voltage=120.0, load_torque=10.0, all_solutions=True)
    low, high = sorted(np.roots([0.01, -0.75, 10.0]))
    assert [state.armature_current, state.other_solutions[0].armature_current] == pytest.approx([low, high], rel=1e-9)


def test_a_small_current_without_resistance_has_its_second_balance_a_thousand_times_further() -> None:
    # R = 0 and a table: nothing tells where the walk may end; 0.75 I - 0.001 I^2 = 0.675 at 0.9 A and 749 A
    reaction = TableReaction((0.0, 400.0, 2000.0), (0.0, 0.4, 2.0))
    machine = bench(armature_resistance=0.0, armature_reaction=reaction)
    state = steady_state(machine, supply_voltage=120.0, load_torque=0.675, all_solutions=True)
    low, high = sorted(np.roots([0.001, -0.75, 0.675]))
    assert [state.armature_current, state.other_solutions[0].armature_current] == pytest.approx([low, high], rel=1e-9)


def test_exactly_at_the_peak_of_the_torque_a_rising_line_cannot_stay() -> None:
    # (1 - 0.25 I) I has its peak, 1 N m, at 2 A, where the speed still rises: 1 V, 0.125 ohm
    machine = bench(armature_resistance=0.125, field_resistance=1.0, armature_reaction=ProportionalReaction(0.25))
    for torque in (1.0, np.array([1.0, 1.0])):
        state = steady_state(machine, supply_voltage=1.0, load_torque=torque)
        assert np.all(state.armature_current == 2.0)
        assert np.all(state.speed == 1.5)
        assert not np.any(state.stable)


def test_of_many_balances_eight_are_told_beside_the_first_from_no_load_on() -> None:
    # the line is T = 0.75 (120 - 0.75 w)/0.8; the load swings about it and meets it wherever sin(w/4) is nought
    load = UserLoad(lambda w: np.where(w < 160.0, 0.75 * (120.0 - 0.75 * w) / 0.8 + 20.0 * np.sin(w / 4.0), 15.0))
    state = steady_state(bench(), supply_voltage=120.0, load=load, all_solutions=True)
    speeds = [point.speed for point in (state, *state.other_solutions)]
    assert speeds == pytest.approx([4.0 * math.pi * n for n in range(12, 3, -1)], rel=1e-9)
    slopes = [5.0 * (-1.0) ** n for n in range(12, 3, -1)]  # of the load less that of the line
    assert [point.stable for point in (state, *state.other_solutions)] == [slope > 0.0 for slope in slopes]


def test_balances_crowded_close_to_no_load_are_told_apart() -> None:
    # the same, within 0.3 rad/s below the 160 rad/s of no load, a thousandth of the way to standstill
    load = UserLoad(
        lambda w: np.where(
            w < 160.0, 0.75 * (120.0 - 0.75 * w) / 0.8 + 0.05 * np.sin((160.1 - w) * 20.0) * (w > 159.0), 0.04
        )
    )
    state = steady_state(bench(), supply_voltage=120.0, load=load, all_solutions=True)
    speeds = [point.speed for point in (state, *state.other_solutions)][:2]
    assert speeds == pytest.approx([160.1 - math.pi / 20.0, 160.1 - math.pi / 10.0], rel=1e-12)


def test_two_balances_that_lie_close_together_are_told_apart() -> None:
    # 0.75 I - 0.01 I^2 has its peak, 14.0625 N m, at 37.5 A
    for share in (1e-4, 1e-8):
        state = steady_state(
            bench(armature_reaction=ProportionalReaction(0.01)), supply_voltage=120.0,
            load_torque=14.0625 * (1.0 - share), all_solutions=True,
        )  # fmt: skip
        (other,) = state.other_solutions
        assert state.armature_current == pytest.approx(37.5 * (1.0 - math.sqrt(share)), rel=1e-7)
        assert other.armature_current == pytest.approx(37.5 * (1.0 + math.sqrt(share)), rel=1e-7)
    # 0.75 I - 0.006 I^2 has its peak, 23.4375 N m, at 62.5 A, between two steps of a walk to standstill
    for ohms in (0.91, 0.97):
        for share in (1e-5, 1e-8):
            state = steady_state(
                bench(armature_reaction=ProportionalReaction(0.006), armature_resistance=ohms), supply_voltage=120.0,
                load_torque=23.4375 * (1.0 - share), all_solutions=True,
            )  # fmt: skip
            (other,) = state.other_solutions
            # beside a double root rounding of 1e-16 in the torque moves the current by its root over the share's
            assert other.armature_current == pytest.approx(62.5 * (1.0 + math.sqrt(share)), rel=1e-6)


def test_brushes_that_take_more_than_the_supply_gives_leave_nothing_to_find() -> None:
    for volts in (1.0, 2.0):
        many = steady_state(
            bench(brush_drop=2.0), supply_voltage=volts, load_torque=[1.0, 2.0], all_solutions=True
        )  # fmt: skip
        assert many.status_text.tolist() == ["torque-beyond-stall"] * 2
        assert many.other_solutions == ()


# --- a speed that is held


def test_between_the_brushes_no_current_flows_at_a_held_speed_the_edge_included() -> None:
    # k_phi 0.5, 120 V, 2 V of brushes: from 118 V at 236 rad/s to 122 V at 244 rad/s nothing flows
    machine = bench(field_resistance=240.0, brush_drop=2.0, armature_resistance=0.0)
    for speed in (236.0, 240.0, 244.0):
        assert state_at_speed(machine, speed=speed, supply_voltage=120.0).armature_current == 0.0
    for speed in (235.0, 245.0):
        with pytest.raises(InfeasibleError, match="armature_resistance is 0 ohm") as caught:
            state_at_speed(machine, speed=speed, supply_voltage=120.0)
        assert (caught.value.quantity, caught.value.value, caught.value.limit) == ("armature_current", speed, 0.0)
    machine = bench(field_resistance=240.0, brush_drop=2.0, armature_resistance=0.5)
    for speed, current in ((0.0, 236.0), (235.0, 1.0), (236.0, 0.0), (244.0, 0.0), (245.0, -1.0), (300.0, -56.0)):
        held = state_at_speed(machine, speed=speed, supply_voltage=120.0)
        assert held.armature_current == current
        assert held.field_current == 0.5
        assert held.back_emf == 0.5 * speed
        assert held.electromagnetic_torque == 0.5 * current
    slight = bench(field_resistance=240.0, brush_drop=0.25, armature_resistance=0.5)
    for speed, current in ((239.0, 0.5), (239.5, 0.0), (240.5, 0.0), (241.0, -0.5)):
        assert state_at_speed(slight, speed=speed, supply_voltage=120.0).armature_current == current
    assert state_at_speed(machine, speed=235.0, supply_voltage=np.float32(120.0)).armature_current == 1.0


def test_a_held_speed_behind_a_line_and_with_reaction_balances_the_voltages() -> None:
    for d, line, connection in (
        (0.004, 0.0, "shunt"), (0.004, 0.3, "shunt"), (-0.004, 0.3, "shunt"), (0.0, 0.4, "shunt"),
        (0.004, 0.3, "separate"), (0.0, 0.4, "separate"), (0.0046, 0.0, "shunt"), (0.00499, 0.0, "shunt"),
    ):  # fmt: skip
        machine = bench(
            armature_reaction=ProportionalReaction(d), line_resistance=line, brush_drop=2.0, connection=connection
        )
        field = {"field_voltage": 110.0} if connection == "separate" else {}
        # E = c (I_f - d I) w and E = U - 2 sgn I - 0.8 I are linear in I once the sign is known
        if connection == "separate":
            base, per_ampere, volts, fall = 0.6875, d, 120.0, line
        else:
            base, per_ampere = 120.0 / (160.0 + line), d + line / (160.0 + line)
            volts, fall = 160.0 * base, 160.0 * line / (160.0 + line)
        edges = [(volts - drive) / base for drive in (2.05, 1.95, -1.95, -2.05)]  # beside the band of the brushes
        for speed in (0.0, 60.0, 150.0, 159.9, *(edges if d < 0.0049 else ())):
            held = state_at_speed(machine, speed=speed, source_voltage=120.0, **field)
            current = held.armature_current
            drive = volts - base * speed
            wanted = 0.0
            if abs(drive) > 2.0:
                wanted = (drive - math.copysign(2.0, drive)) / (0.8 + fall - per_ampere * speed)
            assert current == pytest.approx(wanted, rel=1e-11)
            field_current = base - (per_ampere - d) * current
            assert held.field_current == pytest.approx(field_current, rel=1e-12)
            assert held.k_phi == pytest.approx(base - per_ampere * current, rel=1e-11)
            assert held.back_emf == pytest.approx(held.k_phi * speed, rel=1e-12)
            assert held.electromagnetic_torque == pytest.approx(held.k_phi * current, rel=1e-12)
            assert held.speed_rpm == pytest.approx(speed * 30.0 / math.pi, rel=1e-14)


def test_next_to_no_resistance_lets_a_very_large_current_flow_at_a_held_speed() -> None:
    # 1e-7 ohm, and a line of 1e-9 ohm ahead of both circuits: 120 V less 75 V drive more than 4e8 A
    machine = bench(armature_resistance=1e-7, line_resistance=1e-9)
    held = state_at_speed(machine, speed=100.0, source_voltage=120.0)
    base, share = 120.0 / (160.0 + 1e-9), 1e-9 / (160.0 + 1e-9)
    assert held.armature_current == pytest.approx((160.0 - 100.0) * base / (1e-7 + (160.0 - 100.0) * share), rel=1e-9)


def test_a_flux_that_yields_faster_than_the_resistance_leaves_no_current_to_balance() -> None:
    # at 160 rad/s c d w = 0.96 ohm exceeds 0.8 ohm: the more flows, the more is left over
    machine = bench(armature_reaction=ProportionalReaction(0.006))
    with pytest.raises(InfeasibleError, match=r"speed 150 rad/s: no armature current balances") as caught:
        state_at_speed(machine, speed=150.0, supply_voltage=120.0)
    assert (caught.value.quantity, caught.value.value, caught.value.limit) == ("armature_current", 150.0, 0.0)
    with pytest.raises(ValueError, match="one setting at a time"):
        state_at_speed(machine, speed=100.0, supply_voltage=np.array([120.0, 110.0]))
    with pytest.raises(ValueError, match=r"speed is -1\.0 rad/s"):
        state_at_speed(machine, speed=-1.0, supply_voltage=120.0)
