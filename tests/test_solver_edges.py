"""The solver at its edges: standstill, stall, brushes, table ends, what is told of points without a solution and where.

The numbers are exact in binary wherever an edge itself is meant: a machine of 1 V, 1 ohm and 1 V s/rad, or of 128 V.
"""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest

from shuntref.model.flux import FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.reaction import FluxLoss, ProportionalReaction, TableReaction
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.steady import steady_state

EPS = 2.0**-52
STALL, PEAK, TABLE, NONE = "torque-beyond-stall", "torque-beyond-reaction-peak", "outside-table", "no-solution"


def bench(**changes: Any) -> Machine:
    values: dict[str, Any] = {"armature_resistance": 0.5, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**{**values, **changes})


def unit(**changes: Any) -> Machine:
    """1 V gives 1 A of field and a k_phi of 1 V s/rad; 1 N m stalls it."""
    return bench(**{"armature_resistance": 1.0, "field_resistance": 1.0, **changes})


def refused(machine: Machine, **setting: Any) -> InfeasibleError:
    with pytest.raises(InfeasibleError) as caught:
        steady_state(machine, **setting)
    return caught.value


# --- standstill


def test_eight_units_in_the_last_place_beyond_stall_are_still_standstill_and_nine_are_not() -> None:
    slight = ProportionalTorque(2.0**-60)
    table = TableReaction((0.0, 200.0), (0.0, 0.0))
    for volts in (1.0, 128.0):  # I_f = 1 A, k_phi = 1 V s/rad, R = 1 ohm: the stall torque in N m is the voltage
        for reaction, load in ((None, None), (None, slight), (table, None)):
            machine = unit(field_resistance=volts, **({"armature_reaction": reaction} if reaction else {}))
            for units in (0, 2, 8, 9):
                torque = volts * (1.0 + units * EPS)
                wanted: dict[str, Any] = {"load": ConstantTorque(torque) + load} if load else {"load_torque": torque}
                if units == 9 or (reaction and units):  # a search ends at standstill itself
                    error = refused(machine, supply_voltage=volts, **wanted)
                    assert error.status is Status.TORQUE_BEYOND_STALL
                    many = steady_state(machine, supply_voltage=np.array([volts, volts]), **wanted)
                    assert many.status_text.tolist() == [STALL] * 2
                    continue
                assert steady_state(machine, supply_voltage=volts, **wanted).speed == 0.0
                state = steady_state(machine, supply_voltage=np.array([volts, volts]), **wanted)
                assert state.speed.tolist() == [0.0, 0.0]
                assert state.status_text.tolist() == ["ok", "ok"]
                assert state.electromagnetic_torque.tolist() == pytest.approx([torque] * 2, rel=1e-15)


def test_the_stall_torque_that_an_error_tells_is_the_one_worked_by_hand() -> None:
    # 120 V, I_f 0.75 A; (U - U_b)/R = 118/0.5 = 236 A at standstill; k_phi 0.75 gives 177 N m
    asked = {"supply_voltage": 120.0}
    for machine, torque, limit in (
        (bench(brush_drop=2.0), 200.0, 177.0),
        (bench(brush_drop=2.0, loss_torque=ConstantTorque(3.0)), 174.5, 177.0),
        (bench(armature_reaction=ProportionalReaction(-0.001)), 300.0, (0.75 + 0.001 * 240.0) * 240.0),
        (bench(armature_reaction=ProportionalReaction(0.001)), 150.0, (0.75 - 0.001 * 240.0) * 240.0),
        (bench(armature_reaction=ProportionalReaction(0.001), brush_drop=2.0), 140.0, (0.75 - 0.236) * 236.0),
        (bench(armature_reaction=ProportionalReaction(0.001), brush_drop=2.0), 999.0, (0.75 - 0.236) * 236.0),
        (bench(armature_reaction=FluxLoss(10.0, 200.0)), 159.0, 0.75 * (1.0 - 0.0005 * 240.0) * 240.0),
        (bench(armature_reaction=FluxLoss(10.0, 200.0)), 1000.0, 0.75 * (1.0 - 0.0005 * 240.0) * 240.0),
        (bench(armature_reaction=ProportionalReaction(0.001)), 1000.0, (0.75 - 0.24) * 240.0),
        (bench(armature_reaction=TableReaction((0.0, 100.0, 400.0), (0.0, 0.1, 0.4))), 130.0, (0.75 - 0.24) * 240.0),
        (bench(brush_drop=130.0), 1.0, 0.0),
    ):
        error = refused(machine, load_torque=torque, **asked)
        assert error.status is Status.TORQUE_BEYOND_STALL
        assert error.limit == pytest.approx(limit, rel=1e-9, abs=1e-9)
        assert error.value == pytest.approx(torque + machine.loss_terms.constant)
        assert (error.quantity, error.theorem) == ("electromagnetic_torque", "stall-torque")
        assert f"{error.value:.5g} N m is asked for, but at standstill this setting gives {limit:.5g} N m" in str(error)
        many = steady_state(machine, load_torque=[torque, 0.0], **asked)
        assert many.status_text.tolist()[0] == STALL
        assert np.isnan(many.speed[0])
        assert many.stable.tolist()[0] is np.False_ or not many.stable[0]
    # behind a line of 0.5 ohm U = (120 - 0.5 I) 160/160.5 and U = 0.5 I at standstill
    current = 120.0 * 160.0 / (160.5 * 0.5 + 0.5 * 160.0)
    error = refused(bench(line_resistance=0.5), load_torque=80.0, source_voltage=120.0)
    stall = 0.5 * current / 160.0 * current
    assert error.limit == pytest.approx(stall, rel=1e-12)
    many = steady_state(
        bench(line_resistance=0.5), source_voltage=120.0, load_torque=stall * np.array([0.0, 0.999, 1.001, 2.0])
    )
    assert many.status_text.tolist() == ["ok", "ok", STALL, STALL]
    # a load that grows from a torque beyond stall
    error = refused(bench(brush_drop=2.0), load=ConstantTorque(200.0) + SquareTorque(1.0, 100.0), **asked)
    assert (error.limit, error.value) == pytest.approx((177.0, 200.0))
    # separately excited behind a line: 120/(0.5 + 0.3) A and k_phi 100/160
    error = refused(
        bench(connection="separate", line_resistance=0.3), load_torque=99.0, source_voltage=120.0, field_voltage=100.0
    )
    assert error.limit == pytest.approx(150.0 * 100.0 / 160.0)
    many = steady_state(
        bench(connection="separate", line_resistance=0.3), source_voltage=120.0, field_voltage=100.0,
        load_torque=93.75 * np.array([0.0, 0.999, 1.001]),
    )  # fmt: skip
    assert many.status_text.tolist() == ["ok", "ok", STALL]
    assert many.speed[1] == pytest.approx(120.0 * 0.001 / 0.625, rel=1e-9)


def test_without_a_line_the_source_is_the_supply_to_the_last_digit() -> None:
    for connection, field in (("shunt", {}), ("separate", {"field_voltage": 97.3})):
        machine = bench(connection=connection, field_resistance=157.3)
        for volts in np.linspace(90.0, 130.0, 23).tolist():
            source = steady_state(machine, source_voltage=volts, load_torque=6.0, **field)
            supply = steady_state(machine, supply_voltage=volts, load_torque=6.0, **field)
            assert source.supply_voltage == supply.source_voltage == volts
            assert source.as_dict() == supply.as_dict()


def test_the_peak_that_an_error_tells_is_the_one_worked_by_hand() -> None:
    asked = {"supply_voltage": 120.0}
    for machine, torque, limit in (
        (bench(armature_reaction=ProportionalReaction(0.01)), 15.0, 0.75**2 / 0.04),
        (bench(armature_reaction=FluxLoss(20.0, 20.0)), 20.0, 0.75 / (4.0 * 0.01)),
        (bench(armature_reaction=FluxLoss(20.0, 20.0)), -20.0, -0.75 / (4.0 * 0.01)),
        (bench(armature_reaction=ProportionalReaction(-0.01)), -15.0, -(0.75**2) / 0.04),
        (bench(armature_reaction=FluxLoss(20.0, 20.0), armature_resistance=12.0), -20.0, -0.75 / (4.0 * 0.01)),
        (bench(armature_reaction=FluxLoss(20.0, 20.0), armature_resistance=0.0), 20.0, 0.75 / (4.0 * 0.01)),
    ):
        error = refused(machine, load_torque=torque, **asked)
        assert error.status is Status.TORQUE_BEYOND_REACTION_PEAK
        assert error.limit == pytest.approx(limit, rel=1e-12)
        assert (error.value, error.quantity) == (torque, "electromagnetic_torque")
        assert error.theorem == "armature-reaction-root"
        assert f"so that {limit:.5g} N m is the most this setting gives" in str(error)
        many = steady_state(machine, load_torque=[1.0, torque], **asked)
        assert many.status_text.tolist()[1] == PEAK
        assert np.isnan(many.armature_current[1])
        assert many.supply_voltage.tolist() == [120.0, 120.0]  # what was given stays
        assert many.field_voltage.tolist() == [120.0, 120.0]
        assert many.armature_circuit_resistance[1] == machine.armature_resistance
    # behind a line of 0.5 ohm c (U_s - R_l I) I/(R_f + R_l) peaks at U_s/(2 R_l): beyond the standstill current here
    error = refused(bench(line_resistance=20.0, armature_resistance=0.0), load_torque=2.0, source_voltage=120.0)
    assert error.limit == pytest.approx(120.0**2 / (4.0 * 20.0 * 180.0), rel=1e-12)


def test_which_limit_comes_first_decides_the_status_point_by_point() -> None:
    # standstill 240 A at 0.5 ohm and 30 A at 4 ohm; the torque of 0.75 I - 0.01 I^2 peaks at 37.5 A
    machine = bench(armature_reaction=ProportionalReaction(0.01))
    state = steady_state(
        machine, supply_voltage=120.0, load_torque=[50.0, 50.0, 13.0, 14.0, 14.0],
        armature_resistance=[0.5, 4.0, 4.0, 4.0, 0.5],
    )  # fmt: skip
    codes = state.status_text.tolist()
    assert codes[:2] == [PEAK, STALL]
    assert codes[2] != STALL  # 30 A give 13.5 N m
    assert codes[3:] == [STALL, "unstable-only"]
    assert np.isnan(state.speed).tolist() == [True, True, False, True, False]
    assert not state.stable[[0, 1, 3]].any()


# --- loads that depend on the speed


def test_no_power_and_too_much_torque_is_stall_and_not_standstill() -> None:
    load = ConstantPower(np.array([0.0, 100.0, 0.0])) + ConstantTorque(np.array([500.0, 500.0, 180.0]))
    state = steady_state(bench(), supply_voltage=120.0, load=load)
    assert state.status_text.tolist() == [STALL, NONE, "ok"]  # 180 N m is the stall torque: 0.75*120/0.5
    assert np.isnan(state.speed).tolist() == [True, True, False]
    assert state.speed[2] == 0.0
    state = steady_state(bench(), supply_voltage=120.0, load=ConstantPower(np.zeros(2)) + ConstantTorque(500.0))
    assert state.status_text.tolist() == [STALL] * 2
    fan = ConstantTorque(np.array([500.0, 180.0, 90.0])) + SquareTorque(1.0, 100.0)
    state = steady_state(bench(), supply_voltage=120.0, load=fan)
    assert state.status_text.tolist() == [STALL, "ok", "ok"]
    assert state.speed[1] == 0.0
    assert state.armature_current[1] == 240.0
    # 1e-4 w^2 + (0.75 w - 120) 0.75/0.5 + 90 = 0
    assert state.speed[2] == pytest.approx(max(np.roots([1e-4, 1.125, -90.0])), rel=1e-12)


def test_the_most_power_is_balanced_exactly_but_not_stably_and_more_is_told_with_its_limit() -> None:
    # U^2/(4 R) = 7200 W at half the no-load speed, 80 rad/s, where both slopes are -1.125 N m s
    for power in (7200.0, np.array([7200.0, 7200.0])):
        state = steady_state(bench(), supply_voltage=120.0, load=ConstantPower(power))
        assert np.all(state.speed == 80.0)
        assert not np.any(state.stable)
        assert np.all(np.asarray(state.status) == Status.UNSTABLE_ONLY)
    error = refused(bench(brush_drop=20.0), supply_voltage=120.0, load=ConstantPower(6000.0))
    assert (error.status, error.quantity, error.value) == (Status.NO_SOLUTION, "output_power", 6000.0)
    assert error.limit == pytest.approx(100.0**2 / 2.0)
    assert "output_power: 6000 W is asked for" in str(error)
    assert "at most 5000 W" in str(error)
    # with friction T1 = 0.5 and T0 = 20 N m: (0.5625 + 0.25) w^2 - (90 - 10) w + 0.5 P has a double root at P = 3938.5
    most = 80.0**2 / (4.0 * 0.8125 * 0.5)
    load = ConstantTorque(20.0) + ProportionalTorque(0.5)
    near = steady_state(bench(), supply_voltage=120.0, load=load + ConstantPower(most * (1.0 - 1e-6)))
    # two roots a thousandth apart: rounding of the torque weighs a thousand times as much in the speed
    assert near.speed == pytest.approx(80.0 / 1.625 * (1.0 + 1e-3), rel=1e-6)
    assert near.stable
    refused(bench(), supply_voltage=120.0, load=load + ConstantPower(most * (1.0 + 1e-6)))
    refused(bench(), supply_voltage=120.0, load=ConstantTorque(200.0) + ConstantPower(1.0))


def test_a_load_that_changes_sign_within_the_band_of_the_brushes_rests_there() -> None:
    # T = 0.05 (w - w0); 120 V and k_phi 0.75: no current between 118/0.75 and 122/0.75 rad/s
    for reaction in (None, TableReaction((0.0, 400.0), (0.0, 0.0))):
        machine = bench(brush_drop=2.0, **({"armature_reaction": reaction} if reaction else {}))
        at = np.array([100.0, 118.0, 118.5, 120.0, 121.0, 122.0, 122.5, 150.0]) / 0.75
        load = ConstantTorque(-0.05 * at) + ProportionalTorque(0.05)
        state = steady_state(machine, supply_voltage=120.0, load=load)
        ohms = 0.05 * 0.5 / 0.5625  # T R/k_phi^2
        expected = np.where(at < 118.0 / 0.75, (118.0 / 0.75 + ohms * at) / (1.0 + ohms), at)
        expected = np.where(at > 122.0 / 0.75, (122.0 / 0.75 + ohms * at) / (1.0 + ohms), expected)
        np.testing.assert_allclose(state.speed, expected, rtol=1e-12)
        np.testing.assert_allclose(state.back_emf, 0.75 * expected, rtol=1e-12)
        np.testing.assert_allclose(
            state.armature_current[[0, 6, 7]], 0.05 * (expected - at)[[0, 6, 7]] / 0.75, rtol=1e-9
        )
        np.testing.assert_allclose(state.armature_current[1:6], 0.0, atol=1e-12)
        assert state.status_text.tolist() == ["ok"] * 8
        for k in range(8):
            one = ConstantTorque(float(-0.05 * at[k])) + ProportionalTorque(0.05)
            assert steady_state(machine, supply_voltage=120.0, load=one).speed == pytest.approx(expected[k], rel=1e-12)
    # without brushes there is no band: on either side of 160 rad/s, and at it
    for reaction in (None, TableReaction((0.0, 400.0), (0.0, 0.0))):
        machine = bench(**({"armature_reaction": reaction} if reaction else {}))
        at = np.array([30.0, 120.0, 160.0, 161.0, 220.0])
        state = steady_state(machine, supply_voltage=120.0, load=ConstantTorque(-0.05 * at) + ProportionalTorque(0.05))
        ohms = 0.05 * 0.5 / 0.5625
        np.testing.assert_allclose(state.speed, (160.0 + ohms * at) / (1.0 + ohms), rtol=1e-12)
        assert np.sign(state.armature_current).tolist() == [1.0, 1.0, 0.0, -1.0, -1.0]
    # less voltage than the brushes take: nothing drives it, and the load alone stands still
    for given in (1.0, np.array([1.0])):
        state = steady_state(bench(brush_drop=2.0), supply_voltage=given, load=ProportionalTorque(0.05))
        assert np.all(np.abs(state.speed) < 1e-12)
        assert np.all(state.armature_current == 0.0)


def test_a_driven_machine_and_a_braked_one_side_by_side() -> None:
    # T = T0 + 0.02 w: k_phi^2 w = k_phi (120 -+ 2) - 0.5 T
    constant = np.array([-30.0, -3.2, 0.0, 25.0])
    state = steady_state(
        bench(brush_drop=2.0), supply_voltage=120.0, load=ConstantTorque(constant) + ProportionalTorque(0.02)
    )
    for k, torque in enumerate(constant):
        sign = 1.0 if torque > -3.14 else -1.0
        speed = (0.75 * (120.0 - 2.0 * sign) - 0.5 * torque) / (0.5625 + 0.01)
        if k == 1:
            speed = 160.0  # 3.2/0.02: the load rests there, at U/k_phi exactly
        assert state.speed[k] == pytest.approx(speed, rel=1e-12)
    assert np.sign(state.armature_current).tolist() == [-1.0, 0.0, 1.0, 1.0]


def test_a_load_that_nothing_balances_says_where_they_come_nearest() -> None:
    asked: dict[str, Any] = {"supply_voltage": 120.0}
    hill: Load = UserLoad(lambda w: 250.0 + 0.0 * w)
    error = refused(bench(), load=hill, **asked)
    assert error.status is Status.NO_SOLUTION
    assert (error.value, error.limit, error.quantity) == (250.0, pytest.approx(180.0), "electromagnetic_torque")
    assert "250 N m is asked for and the machine gives 180 N m" in str(error)
    # a torque that the weakened flux never gives, at any speed: 14.0625 N m at 37.5 A and (120 - 18.75)/0.375 rad/s
    error = refused(
        bench(armature_reaction=ProportionalReaction(0.01)), load=UserLoad(lambda w: 20.0 + 0.0 * w), **asked
    )
    assert (error.status, error.value) == (Status.NO_SOLUTION, 20.0)
    # a peak is flat: its height is found to the square of how well its place is, and the message is rounded
    assert error.limit == pytest.approx(14.0625, rel=1e-6)
    speed = float(re.search(r"nearest at ([\d.]+) r/min", str(error)).group(1))  # type: ignore[union-attr]
    assert speed == pytest.approx(270.0 * 30.0 / math.pi, rel=1e-3)
    # statuses of a block: peaked with a load of constant torque, with a fan, and at the end of a table's reaction
    straight = TableReaction((0.0, 50.0, 400.0), (0.0, 0.5, 4.0))
    machine = bench(armature_reaction=straight)
    many = steady_state(machine, load=ConstantTorque(np.array([14.0, 20.0])), **asked)
    assert many.status_text.tolist()[1] == PEAK
    many = steady_state(machine, load=ConstantTorque(np.array([1.0, 20.0])) + SquareTorque(1.0, 500.0), **asked)
    assert many.status_text.tolist()[1] == NONE
    many = steady_state(bench(armature_reaction=FluxLoss(20.0, 20.0), line_resistance=0.2), source_voltage=120.0,
                        load=ConstantTorque(np.array([-1.0, -40.0])) + SquareTorque(-1.0, 500.0))  # fmt: skip
    assert many.status_text.tolist()[1] == NONE  # a generator has no stall
    mild = bench(armature_reaction=TableReaction((0.0, 50.0, 400.0), (0.0, 0.005, 0.04)))
    many = steady_state(mild, load=ConstantTorque(np.array([1.0, 300.0])) + SquareTorque(1.0, 500.0), **asked)
    assert many.status_text.tolist() == ["ok", STALL]
    many = steady_state(mild, load=ConstantTorque(np.array([1.0, 300.0])) + ConstantPower(10.0), **asked)
    assert many.status_text.tolist() == ["ok", NONE]
    many = steady_state(mild, load=ConstantTorque(np.array([1.0, 300.0])) + UserLoad(lambda w: 0.0 * w), **asked)
    assert many.status_text.tolist() == ["ok", NONE]


# --- field, flux and tables


def test_a_curve_that_has_come_to_nothing_below_its_table_is_no_running_point() -> None:
    # 20 V at 0.5 A and 110 V at 0.7 A: nought at 0.5 - 20*0.2/90 A; 120/300 = 0.4 A is below that
    curve = TableFlux((0.5, 0.7), (20.0, 110.0), 1500.0, "flag")
    zero = 0.5 - 20.0 * 0.2 / 90.0
    reactions = (None, FluxLoss(5.0, 40.0), ProportionalReaction(0.0001))
    loads = (ConstantTorque(6.0), ConstantTorque(0.0), SquareTorque(6.0, 150.0), UserLoad(lambda w: 0.04 * w))
    for reaction in reactions:
        machine = bench(flux=curve, **({"armature_reaction": reaction} if reaction else {}))
        for load in loads:
            error = refused(machine, supply_voltage=120.0, added_field_resistance=140.0, load=load)
            assert (error.status, error.quantity) == (Status.NO_SOLUTION, "field_current")
            assert (error.value, error.limit) == pytest.approx((0.4, zero))
            assert "0.4 A leaves no flux, as this flux curve vanishes at 0.45556 A" in str(error)
            many = steady_state(machine, supply_voltage=120.0, added_field_resistance=[140.0, 40.0], load=load)
            assert many.status_text.tolist()[0] == NONE
            assert np.isnan(many.speed).tolist() == [True, False]
            assert not many.extrapolated[0]
    # a curve that starts without flux and without a slope has none there either
    flat = TableFlux((0.75, 1.0, 2.0), (0.0, 1.0, 100.0), 1500.0)
    for load in loads:
        assert refused(bench(flux=flat), supply_voltage=120.0, load=load).limit == 0.75


def test_the_ends_of_a_table_belong_to_it_with_a_little_rounding() -> None:
    # I_f = U for 1 ohm; the slack is 4 units in the last place of the table's greater end: 8 eps for 2 A
    for mode, beyond in (("refuse", "outside-table"), ("flag", "extrapolated")):
        machine = unit(flux=TableFlux((1.0, 1.5, 2.0), (1.0, 1.4, 1.6), 30.0 / math.pi, mode))
        volts = np.array([1.0, 2.0, 1.0 - 8 * EPS, 1.0 - 9 * EPS, 2.0 + 8 * EPS, 2.0 + 10 * EPS])
        codes = ["ok", "ok", "ok", beyond, "ok", beyond]
        for reaction in (None, FluxLoss(1.0, 100.0)):
            m = unit(flux=machine.flux, **({"armature_reaction": reaction} if reaction else {}))
            assert steady_state(m, supply_voltage=volts, load_torque=0.25).status_text.tolist()[3::2] == codes[3::2]
        state = steady_state(
            unit(flux=machine.flux, armature_reaction=ProportionalReaction(0.0)), supply_voltage=volts, load_torque=0.25
        )
        assert state.status_text.tolist() == codes
        assert state.extrapolated.tolist() == [code == "extrapolated" for code in codes]
        for end in (1.0, 2.0):
            assert steady_state(machine, supply_voltage=end, load_torque=0.25).status_text == "ok"


def test_the_error_of_a_table_names_the_end_that_was_passed() -> None:
    curve = TableFlux((0.5, 0.7), (80.0, 110.0), 1500.0)
    # 120/160 = 0.75 A above; 120/300 = 0.4 A below; the reaction's 0.75 - 0.01*30 A below
    error = refused(bench(flux=curve), supply_voltage=120.0, load_torque=3.0)
    assert (error.quantity, error.value, error.limit) == ("effective_field_current", 0.75, 0.7)
    error = refused(bench(flux=curve), supply_voltage=120.0, load_torque=3.0, added_field_resistance=140.0)
    assert (error.quantity, error.value, error.limit) == ("effective_field_current", 0.4, 0.5)
    error = refused(
        bench(armature_reaction=TableReaction((-20.0, 0.0, 10.0), (0.1, 0.0, 0.01))),
        supply_voltage=120.0, load_torque=-30.0,
    )  # fmt: skip
    assert (error.quantity, error.limit) == ("armature_current", -20.0)
    assert error.value < -20.0
    both = bench(
        flux=TableFlux((0.0, 0.5, 0.8), (4.0, 80.0, 110.0), 1500.0),
        armature_reaction=TableReaction((0.0, 10.0), (0.0, 0.01)),
    )
    error = refused(bench(flux=curve, field_resistance=161.0), supply_voltage=120.0, load_torque=3.0)
    assert "effective_field_current: 0.74534 A is needed, outside the measured table from 0.5 A to 0.7 A" in str(error)
    level = bench(flux=curve, armature_reaction=TableReaction((0.0, 10.0), (0.0, 0.0)))
    for added, quantity in (
        (140.0, "effective_field_current"),
        (80.0, "armature_current"),
        (0.0, "effective_field_current"),
    ):
        error = refused(level, supply_voltage=120.0, load_torque=20.0, added_field_resistance=added)
        assert error.quantity == quantity  # 0.4 A, the table's first 0.5 A, and 0.75 A
    error = refused(both, supply_voltage=120.0, load_torque=20.0)
    assert (error.quantity, error.limit) == ("armature_current", 10.0)
    assert re.search(r"armature_current: [\d.]+ A is needed, outside the measured table from 0 A to 10 A", str(error))


def test_the_most_serious_warning_is_the_status() -> None:
    remanent = FroehlichFlux(1.6, 0.9, 0.05)
    lost: dict[str, Any] = {"supply_voltage": 120.0, "field_voltage": 0.0}
    # without field the flux is 0.05 and reaction takes all of it with few amperes: unstable outranks field loss
    for reaction, torque, code in ((None, 0.5, "field-loss"), (ProportionalReaction(0.0005), 0.01, "unstable-only")):
        machine = bench(flux=remanent, connection="separate", **({"armature_reaction": reaction} if reaction else {}))
        for many in (False, True):
            state = steady_state(
                machine, **{**lost, "supply_voltage": [120.0] * 2 if many else 120.0}, load_torque=torque
            )
            assert np.all(np.asarray(state.status_text) == code)
            assert np.all(state.field_loss)
            assert np.all(state.stable) == (code == "field-loss")
    # a table that begins at 0.3 A, continued to 0 A
    curve = TableFlux((0.3, 0.7), (60.0, 110.0), 1500.0, "flag")
    for field_voltage in (0.0, np.array([0.0, 80.0])):
        machine = bench(flux=curve, connection="separate")
        state = steady_state(machine, supply_voltage=120.0, field_voltage=field_voltage, load_torque=1.0)
        assert np.ravel(state.status_text)[0] == "field-loss"
        assert np.ravel(state.field_loss)[0]
        assert np.ravel(state.extrapolated)[0]
        assert np.ravel(state.k_phi)[0] == pytest.approx((60.0 - 0.3 * 125.0) / (50.0 * math.pi), rel=1e-12)
    assert state.status_text.tolist()[1] == "ok"
    assert state.extrapolated.tolist() == [True, False]
    assert state.field_loss.tolist() == [True, False]
