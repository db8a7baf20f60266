"""Edges of the model's parts: loads, curves, reaction, preferred values, starters and sizing, each worked by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from shuntref.model.fast_blocks import FastBlocks
from shuntref.model.flux import FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import (
    ConstantPower,
    ConstantTorque,
    LoadTerms,
    ProportionalTorque,
    SquareTorque,
    SumLoad,
    UserLoad,
    slope_of,
    torque_of,
)
from shuntref.model.machine import Machine
from shuntref.model.preferred import nearest_preferred, preferred_neighbours
from shuntref.model.reaction import FluxLoss, ProportionalReaction, TableReaction
from shuntref.model.recipes import efficiency
from shuntref.model.resistors import Resistor, parallel, series, single
from shuntref.model.setting import BLOCK
from shuntref.model.shape_cubic import ShapeCubic
from shuntref.model.sizing import added_armature_resistance_for_speed, added_field_resistance_for_speed
from shuntref.model.starter_grading import grade_starter_by_limits, grade_starter_by_sections
from shuntref.model.starting import direct_starting_current, starter_steps, starting_resistance
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.steady import steady_state


def bench(**changes: Any) -> Machine:
    """120 V and 160 ohm of field: 0.75 A and 0.75 V s/rad; 0.8 ohm of armature."""
    plain: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**plain | changes)


# --- loads


def test_a_load_of_constant_power_by_hand_in_either_direction_and_at_standstill() -> None:
    assert ConstantPower(400.0).torque(-100.0) == -4.0
    assert ConstantPower(400.0).torque(np.array([-100.0, 200.0])).tolist() == [-4.0, 2.0]
    assert ConstantPower(np.array([400.0, -100.0])).torque(50.0).tolist() == [8.0, -2.0]
    terms = LoadTerms(power=400.0)
    assert torque_of(terms, 0.0) == math.inf
    assert torque_of(LoadTerms(power=-400.0), 0.0) == -math.inf
    assert (ConstantPower(0.0) + ConstantTorque(3.0)).torque(0.0) == 3.0
    with np.errstate(all="ignore"):
        powers = LoadTerms(power=np.array([0.0, 400.0, -400.0, 0.0, 400.0]))
        speeds = np.array([0.0, 100.0, 100.0, 100.0, 0.0])
        assert torque_of(powers, speeds).tolist() == [0.0, 4.0, -4.0, 0.0, math.inf]
        # d(P/omega)/d omega = -P/omega^2, and no load has no slope even at standstill
        assert slope_of(powers, speeds).tolist() == [0.0, -0.04, 0.04, 0.0, -math.inf]
    for load in (ConstantPower(400.0), ConstantPower(np.array([0.0, 400.0]))):
        with pytest.raises(
            ValueError, match=r"speed is 0\.0 rad/s; a speed other than zero, for a load of constant power"
        ):
            load.torque(0.0)
    with pytest.raises(ValueError, match="a speed other than zero"):
        ConstantPower(400.0).torque(np.array([3.0, 0.0]))


def test_the_slopes_of_the_loads_by_hand() -> None:
    terms = LoadTerms(constant=5.0, proportional=0.25, square=0.01, power=400.0)
    # 0.25 + 2*0.01*20 - 400/400
    assert slope_of(terms, 20.0) == pytest.approx(0.25 + 0.4 - 1.0, rel=1e-15)
    assert slope_of(terms, -20.0) == pytest.approx(0.25 + 0.4 - 1.0, rel=1e-15)
    assert torque_of(terms, 20.0) == pytest.approx(5.0 + 5.0 + 4.0 + 20.0, rel=1e-15)
    assert torque_of(terms, -20.0) == pytest.approx(5.0 - 5.0 - 4.0 - 20.0, rel=1e-15)
    cubic = UserLoad(lambda speed: 1e-6 * speed**3).terms()
    for speed in (0.0, 3.0, 150.0, -150.0):  # a central difference of a cubic is off by the square of its step
        assert slope_of(cubic, speed) == pytest.approx(3e-6 * speed**2, rel=1e-7, abs=1e-15)
    both = LoadTerms(
        proportional=1.0, functions=(UserLoad(lambda speed: 2.0 * speed), UserLoad(lambda speed: 3.0 * speed))
    )
    assert slope_of(both, 10.0) == pytest.approx(6.0, rel=1e-9)
    assert torque_of(both, 10.0) == 60.0


@pytest.mark.parametrize("value", [np.float32(2.0), np.float64(2.0), np.array(2.0), np.int64(2), 2])
def test_a_single_number_of_any_make_is_a_float_in_a_load(value: Any) -> None:
    loads = (ConstantTorque(value), SquareTorque(value, value), ConstantPower(value), ProportionalTorque(value))
    assert type(loads[0].load_torque) is float
    assert type(loads[1].speed) is float
    assert type(loads[2].output_power) is float
    assert [load.torque(3.0) for load in loads] == [2.0, 4.5, pytest.approx(2.0 / 3.0), 6.0]


def test_a_load_that_is_an_array_stays_one_and_is_checked_for_each_point() -> None:
    load = SquareTorque(np.array([1.0, 2.0]), np.array([10.0, 20.0]))
    assert load.torque(20.0).tolist() == [4.0, 2.0]
    assert ConstantTorque(3.0).torque(np.array([1.0, 2.0])).tolist() == [3.0, 3.0]
    assert ConstantTorque(np.array([3.0, 4.0])).torque(1.0).tolist() == [3.0, 4.0]
    with pytest.raises(ValueError, match="load_torque is nan N m at index 1"):
        ConstantTorque([1.0, math.nan])
    with pytest.raises(ValueError, match=r"speed is 0.0 rad/s at index 1; .*above zero"):
        SquareTorque(1.0, [1.0, 0.0])


def test_the_first_speed_at_which_a_users_function_gives_no_finite_torque_is_named() -> None:
    bad = UserLoad(lambda speed: np.where(np.asarray(speed) > 25.0, math.nan, speed))
    with pytest.raises(ValueError, match=r"load_torque is nan.*a finite torque from the load function at 30 rad/s"):
        bad.torque(np.array([[10.0, 20.0], [30.0, 40.0]]))
    with pytest.raises(ValueError, match="at 26 rad/s"):
        bad.torque(26.0)
    assert bad.torque(25.0) == 25.0
    with pytest.raises(ValueError, match=r"load_torque.*a number for each speed"):
        UserLoad(lambda speed: np.ones(3)).torque(np.array([1.0, 2.0]))
    with pytest.raises(ValueError, match="a function of the speed"):
        UserLoad(3.0)  # type: ignore[arg-type]


def test_a_users_function_cannot_alter_the_speeds_and_keeps_their_precision() -> None:
    def spoil(speed: Any) -> Any:
        speed *= 2.0
        return speed

    speeds = np.array([1.0, 2.0], np.float32)
    torque = UserLoad(spoil).torque(speeds)
    assert speeds.tolist() == [1.0, 2.0]
    assert torque.tolist() == [2.0, 4.0]
    assert torque.dtype == np.float32


def test_sums_of_loads_are_flat_and_take_nothing_else() -> None:
    one, two, three = ConstantTorque(1.0), SquareTorque(2.0, 10.0), ConstantPower(30.0)
    assert ((one + two) + three).loads == (one, two, three)
    assert (one + (two + three)).loads == (one, two, three)
    assert (one + two + three).torque(10.0) == 6.0
    with pytest.raises(TypeError):
        _ = one + 3.0  # type: ignore[operator]
    with pytest.raises(ValueError, match=r"load is 3\.0; a load"):
        SumLoad((one, 3.0))  # type: ignore[arg-type]


# --- flux and reaction


def test_froehlichs_curve_below_its_remanence_is_read_backwards_by_hand() -> None:
    curve = FroehlichFlux(1.6, 0.9, 0.1)
    # at -0.1 A: 0.1 - 1.6*0.1/1.0 = -0.06; at -0.02 A: 0.1 - 0.032/0.92
    for current, k_phi in ((-0.1, -0.06), (-0.02, 0.1 - 0.032 / 0.92), (0.0, 0.1), (0.9, 0.9)):
        assert curve.k_phi_at(current) == pytest.approx(k_phi, rel=1e-14)
        assert curve.k_phi_at(np.array([current]))[0] == pytest.approx(k_phi, rel=1e-14)
        assert curve.field_current_at(k_phi) == pytest.approx(current, rel=1e-13, abs=1e-16)
        assert curve.field_current_at(np.array([k_phi]))[0] == pytest.approx(current, rel=1e-13, abs=1e-16)
        # a b/(b + |I|)^2
        slope = 1.6 * 0.9 / (0.9 + abs(current)) ** 2
        assert curve.slope_at(current) == pytest.approx(slope, rel=1e-14)
    assert curve.zero_flux_field_current == pytest.approx(-0.06, rel=1e-14)  # 0.1 = 1.6 I/(0.9 + I) at 0.06 A
    binary = FroehlichFlux(1.5, 0.9, 0.25)  # it stays between 0.25 - 1.5 and 0.25 + 1.5
    for never in (1.75, 1.8, -1.25, -1.6):
        assert math.isnan(binary.field_current_at(never))
    assert binary.field_current_at(1.74) == pytest.approx(0.9 * 1.49 / 0.01, rel=1e-12)
    assert binary.field_current_at(-1.24) == pytest.approx(-0.9 * 1.49 / 0.01, rel=1e-12)
    assert FroehlichFlux(1.6, 0.9, 1.6).zero_flux_field_current == -math.inf
    assert FroehlichFlux(1.6, 0.9, 2.0).zero_flux_field_current == -math.inf


def test_a_reaction_table_reaches_nought_from_both_sides_or_begins_there() -> None:
    for currents in ((-3.0, -2.0, -1.0), (1.0, 2.0), (-2.0, -1.0, 0.0)):
        with pytest.raises(ValueError, match=r"armature_current is .* at index 0; a table that begins at 0 A"):
            TableReaction(currents, tuple(0.01 * i for i in range(len(currents))))
    for index, lost in ((0, (0.01, 0.02, 0.03)), (0, (-0.01, 0.02, 0.03))):
        with pytest.raises(
            ValueError, match=rf"reaction_field_current is .* at index {index}; 0 A at an armature current of 0 A"
        ):
            TableReaction((0.0, 1.0, 2.0), lost)
    with pytest.raises(ValueError, match=r"reaction_field_current is 0\.01 A at index 1"):
        TableReaction((-1.0, 0.0, 2.0), (0.0, 0.01, 0.02))
    with pytest.raises(ValueError, match="extrapolate is 'never'"):
        TableReaction((0.0, 1.0), (0.0, 0.01), "never")
    assert TableReaction((-1.0, 1.0), (0.02, 0.01)).limits == (-1.0, 1.0)  # 0 A is within, and no point of it


def test_a_one_sided_reaction_table_serves_both_directions_and_a_two_sided_one_each_its_own() -> None:
    one = TableReaction((0.0, 20.0), (0.0, 0.1))
    assert [one.lost_at(current) for current in (10.0, -10.0, 0.0)] == pytest.approx([0.05, 0.05, 0.0])
    assert one.lost_at(np.array([10.0, -10.0])).tolist() == pytest.approx([0.05, 0.05])
    assert [one.lost_slope_at(current) for current in (10.0, -10.0)] == pytest.approx([0.005, -0.005])
    assert one.lost_slope_at(np.array([10.0, -10.0])).tolist() == pytest.approx([0.005, -0.005])
    assert one.coordinate(-10.0) == 10.0
    two = TableReaction((-20.0, 0.0, 20.0), (-0.2, 0.0, 0.2))
    assert [two.lost_at(current) for current in (10.0, -10.0)] == pytest.approx([0.1, -0.1])
    assert [two.lost_slope_at(current) for current in (10.0, -10.0)] == pytest.approx([0.01, 0.01])
    assert two.coordinate(-10.0) == -10.0


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_a_flux_loss_is_told_as_the_field_current_it_amounts_to(dtype: Any) -> None:
    loss = FluxLoss(5.0, 40.0)  # 2.5 % at 20 A, either way
    flux = ProportionalFlux(2.0)
    field, current = np.array([1.2, 1.2, 1.2], dtype), np.array([20.0, -20.0, 0.0], dtype)
    told = loss.reaction_field_current_at(flux, field, current)
    assert told.dtype == dtype
    assert told.tolist() == pytest.approx([0.03, 0.03, 0.0], abs=1e-7 if dtype is np.float32 else 1e-15)
    assert loss.reaction_field_current_at(flux, 1.2, 20.0) == pytest.approx(0.03, rel=1e-12)
    # 900 A would take 112.5 % of the flux: the whole field current, and no more, is told
    assert loss.reaction_field_current_at(flux, 1.2, 900.0) == 1.2
    assert loss.reaction_field_current_at(flux, np.array([1.2]), np.array([900.0])).tolist() == [1.2]
    # with remanence 0.1 V s/rad, a loss of more than what the field adds leaves no field current to account for
    curve = FroehlichFlux(1.6, 0.9, 0.1)
    assert loss.reaction_field_current_at(curve, 0.1, 600.0) == 0.1
    assert loss.reaction_field_current_at(curve, np.array([0.1]), np.array([600.0])).tolist() == [0.1]


def test_the_field_that_makes_up_for_a_flux_loss_by_hand() -> None:
    loss, flux = FluxLoss(5.0, 40.0), ProportionalFlux(2.0)
    assert loss.field_current_for(flux, np.array([1.95]), np.array([-20.0])).tolist() == pytest.approx([1.0])
    with np.errstate(divide="ignore"):  # 800 A take all of the flux, 900 A more than all
        assert loss.field_current_for(flux, np.array([1.95]), np.array([800.0, 900.0])).tolist() == [math.inf] * 2
    assert loss.curve_current_at(1.2, 20.0) == 1.2
    assert ProportionalReaction(0.01).curve_current_at(1.2, 20.0) == pytest.approx(1.0)
    assert ProportionalReaction(0.01).field_current_for(flux, 2.0, 20.0) == pytest.approx(1.2)
    with pytest.raises(ValueError, match=r"percent is 100\.0"):
        FluxLoss(100.0, 40.0)
    assert FluxLoss(0.0, 40.0).loss_per_ampere == 0.0


# --- the shape-preserving cubic


@pytest.mark.parametrize("narrow", [1.0, 1e-3, 1e-5, 1e-15])
def test_the_curve_is_the_same_however_narrow_one_of_its_intervals_is(narrow: float) -> None:
    """An index of cells up to some thousands of the narrowest, a search beyond (1e15 cells would fill any memory)."""
    cubic = ShapeCubic(
        (0.0, narrow, narrow + 1.0, narrow + 3.0), (0.0, 2.0 * narrow, 2.0 * narrow + 2.0, 2.0 * narrow + 6.0)
    )
    x = np.array([0.0, narrow, narrow + 0.5, narrow + 1.0, narrow + 2.0, narrow + 3.0])
    np.testing.assert_allclose(cubic.values(x), 2.0 * x, rtol=1e-14)  # all points on a straight line
    np.testing.assert_allclose(cubic.slopes(x), 2.0, rtol=2e-1 if narrow < 1e-12 else 1e-9)
    kinked = ShapeCubic((0.0, narrow, narrow + 1.0), (5.0, 7.0, 3.0))
    np.testing.assert_array_equal(kinked.values(np.array([0.0, narrow, narrow + 1.0])), [5.0, 7.0, 3.0])


def test_each_end_of_the_curve_goes_on_straight_when_only_that_end_is_left() -> None:
    # slopes at the ends after Fritsch and Butland's three-point rule: secants 3, then 1, widths 1 and 1
    cubic = ShapeCubic((0.0, 1.0, 2.0), (0.0, 3.0, 4.0))
    # first ((2*1 + 1)*3 - 1*1)/2 = 4; last ((2*1 + 1)*1 - 1*3)/2 = 0
    assert (cubic.first_slope, cubic.last_slope) == (4.0, 0.0)
    assert cubic.values(np.array([-1.0, 0.0])).tolist() == [-4.0, 0.0]
    assert cubic.values(np.array([2.0, 5.0])).tolist() == [4.0, 4.0]
    assert cubic.values(np.array([-0.5, 5.0])).tolist() == [-2.0, 4.0]
    mirrored = ShapeCubic((-2.0, -1.0, 0.0), (-4.0, -3.0, 0.0))
    assert mirrored.values(np.array([0.0, 2.0])).tolist() == [0.0, 8.0]
    assert mirrored.values(np.array([-9.0, -2.0])).tolist() == [-4.0, -4.0]
    assert mirrored.slopes(np.array([-3.0, -2.0, 0.0, 1.0])).tolist() == [0.0, 0.0, 4.0, 4.0]
    assert [mirrored.value(x) for x in (-3.0, -2.0, 0.0, 1.0)] == [-4.0, -4.0, 0.0, 4.0]
    assert [mirrored.slope(x) for x in (-3.0, -2.0, 0.0, 1.0)] == [0.0, 0.0, 4.0, 4.0]
    assert cubic.values(np.array([])).size == cubic.slopes(np.array([])).size == 0


def test_the_inverse_by_the_curve_itself_and_beyond_its_ends() -> None:
    cubic = ShapeCubic((0.0, 1.0, 2.0), (0.0, 3.0, 4.0))
    x = np.linspace(0.0, 2.0, 41)
    np.testing.assert_allclose(
        cubic.inverse(cubic.values(x)), x, rtol=0.0, atol=3e-8
    )  # level at the end: a double root
    np.testing.assert_allclose(
        cubic.values(cubic.inverse(np.linspace(0.0, 4.0, 41))), np.linspace(0.0, 4.0, 41), atol=1e-14
    )
    assert cubic.inverse(np.array([-2.0])).tolist() == [-0.5]  # along the slope 4
    # level at the end: 1e-12 of its 4 is rounding
    assert cubic.inverse(np.array([4.0 + 1e-13, 4.0 + 3.5e-12])).tolist() == [2.0, 2.0]
    assert np.isnan(cubic.inverse(np.array([4.0 + 4.5e-12, 4.1]))).all()
    assert ShapeCubic((0.0, 2.0), (1.0, 5.0)).inverse(np.array([0.0, 3.0, 9.0])).tolist() == [-0.5, 1.0, 4.0]


# --- recipes and blocks


def test_an_efficiency_is_of_one_who_drives_or_is_driven_and_of_nobody_else() -> None:
    cases = {
        (80.0, 100.0): 0.8,
        (-100.0, -80.0): 0.8,
        (0.4, 0.5): 0.8,
        (-0.5, -0.4): 0.8,
        (5.0, -5.0): 0.0,
        (0.5, -0.5): 0.0,
        (-5.0, 5.0): 0.0,
        (0.0, 100.0): 0.0,
        (0.0, -5.0): 0.0,
        (-5.0, 0.0): 0.0,
        (5.0, 0.0): 0.0,
    }
    for (output, given), eta in cases.items():
        assert efficiency(output, given) == eta
        assert efficiency(np.array([output]), np.array([given])).tolist() == [eta]
    # in one array, too, whatever the others are
    outputs, inputs = np.array(list(cases)).T
    assert efficiency(outputs, inputs).tolist() == list(cases.values())
    assert efficiency(outputs.astype(np.float32), inputs.astype(np.float32)).dtype == np.float32


def test_only_what_is_out_of_the_ordinary_is_handed_to_the_general_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    handed = []
    work = FastBlocks.work

    def counted(self: FastBlocks, *arguments: Any) -> Any:
        handed.append(work(self, *arguments).tolist())
        return work(self, *arguments)

    monkeypatch.setattr(FastBlocks, "work", counted)
    # stall: 0.75 V s/rad and 150 A, 112.5 N m; generating at 300 N m is nothing out of the ordinary
    loads = np.array([1.0, 113.0, 112.5, -300.0, 200.0, 0.0])
    state = steady_state(bench(), supply_voltage=120.0, load_torque=loads)
    assert handed == [[1, 4]]
    assert (state.status == Status.TORQUE_BEYOND_STALL).tolist() == [False, True, False, False, True, False]
    handed.clear()
    table = TableFlux((0.2, 0.6, 1.0), (40.0, 90.0, 120.0), 1500.0, "flag")
    ohms = (
        np.array([0.0, 40.0, 41.0, 440.0, 441.0]) - 40.0 + 40.0
    )  # 120 V through 160 ohm and these: 0.75 A to 0.1997 A
    state = steady_state(bench(flux=table), supply_voltage=120.0, added_field_resistance=ohms)
    assert handed == [[4]]
    assert state.extrapolated.tolist() == [False, False, False, False, True]
    handed.clear()
    state = steady_state(bench(flux=table), supply_voltage=np.array([160.0, 160.1, 32.0, 31.9]))
    assert handed == [[1, 3]]
    assert state.extrapolated.tolist() == [False, True, False, True]


def test_inputs_of_two_dimensions_are_worked_out_point_by_point() -> None:
    """Of 120 V and 240 V, at three torques: U/k - T R/k^2, where 160 ohm of field make k = U/160."""
    volts, torque = np.array([[120.0], [240.0]]), np.array([0.0, 3.0, 6.0])
    expected = 160.0 - torque * 0.8 / (volts / 160.0) ** 2
    for quantities in (None, ["speed"]):
        for load in (torque, SquareTorque(0.0, 1.0) + ConstantTorque(torque)):
            given = {"load_torque": load} if isinstance(load, np.ndarray) else {"load": load}
            state = steady_state(bench(), supply_voltage=volts, quantities=quantities, **given)
            np.testing.assert_allclose(state.speed, expected, rtol=1e-14)
    many = np.arange(2 * BLOCK + 5, dtype=float) / BLOCK
    state = steady_state(bench(armature_reaction=ProportionalReaction(1e-9)), supply_voltage=volts, load_torque=many)
    np.testing.assert_allclose(state.speed, 160.0 - many * 0.8 / (volts / 160.0) ** 2, rtol=1e-6)
    transposed = steady_state(bench(), supply_voltage=volts.T, load_torque=torque[:, None], quantities=["speed"])
    np.testing.assert_allclose(transposed.speed, expected.T, rtol=1e-14)


# --- preferred values, resistors, starters


def test_the_edge_of_a_decade_is_looked_at_from_both_sides() -> None:
    below, above = math.nextafter(1000.0, 0.0), math.nextafter(1000.0, math.inf)
    assert math.log10(below) == 3.0  # its logarithm rounds to that of 1000
    assert preferred_neighbours(below) == (910.0, 1000.0)
    assert preferred_neighbours(1000.0) == (1000.0, 1000.0)
    assert preferred_neighbours(above) == (1000.0, 1100.0)
    assert preferred_neighbours(950.0, "E6") == (680.0, 1000.0)
    assert preferred_neighbours(0.0955) == (0.091, 0.1)
    with pytest.raises(ValueError, match="series is 'E48'; E6, E12, E24 are stored"):
        preferred_neighbours(10.0, "E48")
    with pytest.raises(ValueError, match="resistance is 0"):
        preferred_neighbours(0.0)


def test_the_nearest_value_is_nearest_by_ratio() -> None:
    # between 680 and 1000 the middle by ratio is sqrt(680*1000) = 824.6, by difference it would be 840
    assert nearest_preferred(824.0, "E6") == 680.0
    assert nearest_preferred(825.0, "E6") == 1000.0
    assert nearest_preferred(1000.0, "E6") == 1000.0


def test_a_current_rating_counts_as_heat() -> None:
    rheostat = Resistor(10.0, 1000.0, rated_current=2.0)
    # at 1 A: 10 W of 1000 W, and a quarter of the heat of 2 A
    (duty,) = single(rheostat).duties(-1.0)
    assert (duty.current, duty.voltage, duty.power, duty.share) == (1.0, 10.0, 10.0, 0.25)
    assert single(rheostat).highest_current() == rheostat.highest_current == 2.0
    (duty,) = single(Resistor(10.0, 20.0, rated_current=2.0)).duties(1.0)
    assert duty.share == 0.5  # here the watts are the narrower rating: 10 W of 20 W
    assert Resistor(10.0, 10.0, rated_current=2.0).highest_current == 1.0
    # 10 ohm beside 40 ohm take 4 A and 1 A of 5 A; then 5 A through 2 ohm
    net = series(parallel(TEN, FORTY), TWO)
    assert [(d.current, d.voltage, d.power) for d in net.duties(5.0)] == [
        (pytest.approx(4.0), pytest.approx(40.0), pytest.approx(160.0)),
        (pytest.approx(1.0), pytest.approx(40.0), pytest.approx(40.0)),
        (5.0, 10.0, 50.0),
    ]
    assert net.elements == 3
    assert net.resistance == pytest.approx(10.0)


TEN, FORTY, TWO = (single(Resistor(ohms, 100.0)) for ohms in (10.0, 40.0, 2.0))


def test_a_number_of_sections_that_is_whole_but_for_its_rounding_is_whole() -> None:
    # 250 V through 0.02 ohm: 12500 A, 125 times the upper limit; the limits are as 5 to 1, and 5^3 = 125
    assert math.log(125.0) / math.log(5.0) > 3.0  # by its rounding
    grading = grade_starter_by_limits(250.0, 0.02, 100.0, 20.0)
    assert grading.sections == pytest.approx((2.0, 0.4, 0.08))
    # a hair more than that is a section more, and rounded to the nearest it is none
    assert len(grade_starter_by_limits(250.0, 0.02, 99.9, 20.0).sections) == 4
    assert len(grade_starter_by_limits(250.0, 0.02, 99.9, 20.0, rounding="nearest").sections) == 3
    assert grade_starter_by_limits(250.0, 2.5, 100.0, 50.0).sections == ()  # 100 A straight on
    # 110 A straight on: 0.14 of a section, which must be one
    assert len(grade_starter_by_limits(275.0, 2.5, 100.0, 50.0, rounding="nearest").sections) == 1


def test_a_limit_that_is_met_without_a_starter_needs_none() -> None:
    # 100 V through 1 ohm: 100 A
    limits: tuple[dict[str, Any], ...] = ({"upper_current": 100.0}, {"lower_current": 100.0}, {"upper_current": 101.0})
    for limit in limits:
        with pytest.raises(ValueError, match=r"draws 100 A when switched straight on, within the limit of 10\d A"):
            grade_starter_by_sections(100.0, 1.0, sections=2, **limit)
    grading = grade_starter_by_sections(100.0, 1.0, sections=2, upper_current=25.0)  # 4 ohm, 2 ohm, 1 ohm
    assert grading.sections == pytest.approx((2.0, 1.0))
    assert (grading.current_ratio, grading.lower_current) == (2.0, 12.5)
    assert grade_starter_by_sections(100.0, 1.0, studs=3, upper_current=25.0) == grading
    # to keep 12.5 A below: 100/12.5 is 2^3, so that the upper one is 25 A again
    assert grade_starter_by_sections(100.0, 1.0, sections=2, lower_current=12.5).upper_current == pytest.approx(25.0)
    for bad, shown in (
        ({"sections": 0}, "0"),
        ({"sections": 201}, "201"),
        ({"studs": 1}, "0"),
        ({"studs": 202}, "201"),
    ):
        with pytest.raises(ValueError, match=rf"^sections is {shown}; a whole number from 1 to 200"):
            grade_starter_by_sections(100.0, 1.0, upper_current=25.0, **bad)
    assert len(grade_starter_by_sections(100.0, 1.0, sections=200, upper_current=25.0).sections) == 200
    for neither in ({}, {"sections": 2, "studs": 3}):
        with pytest.raises(ValueError, match="give either sections or studs"):
            grade_starter_by_sections(100.0, 1.0, upper_current=25.0, **neither)
    for neither in ({}, {"upper_current": 25, "lower_current": 12}):
        with pytest.raises(ValueError, match="give either upper_current or lower_current"):
            grade_starter_by_sections(100.0, 1.0, sections=2, **neither)
    for upper in (50.0, 49.0):
        with pytest.raises(ValueError, match=rf"upper_current is {upper:g} A; it must be above lower_current, 50 A"):
            grade_starter_by_limits(250.0, 0.02, upper, 50.0)
    with pytest.raises(ValueError, match=r"so close that \d+ sections are needed"):
        grade_starter_by_limits(250.0, 0.02, 50.1, 50.0)


def test_the_resistance_that_limits_a_start_by_hand() -> None:
    assert starting_resistance(100.0, 1.0, 25.0) == 3.0
    assert starting_resistance(100.0, 1.0, 25.0, field_current=5.0) == 3.0  # no line limit: the field does not matter
    assert starting_resistance(100.0, 1.0, 25.0, limit="line") == 3.0
    assert starting_resistance(100.0, 1.0, 25.0, limit="line", field_current=5.0) == 4.0
    assert starting_resistance(100.0, 1.0, 24.0, brush_drop=2.0, back_emf=50.0) == 1.0
    assert starting_resistance(100.0, 1.0, 100.0) == 0.0
    assert starting_resistance(100.0, 1.0, 200.0) == 0.0
    for field in (25.0, 26.0):
        with pytest.raises(
            ValueError, match=f"starting_current is 25 A in the line, but the field alone takes {field:g} A"
        ):
            starting_resistance(100.0, 1.0, 25.0, limit="line", field_current=field)
    with pytest.raises(ValueError, match="limit is 'fuse'; write 'armature' or 'line'"):
        starting_resistance(100.0, 1.0, 25.0, limit="fuse")
    assert direct_starting_current(100.0, 0.5) == 200.0
    assert direct_starting_current(100.0, 0.5, brush_drop=2.0) == 196.0
    assert direct_starting_current(2.0, 0.5, brush_drop=3.0) == 0.0
    assert direct_starting_current(2.0, 0.5, brush_drop=2.0) == 0.0


def test_a_contact_that_does_not_reach_the_lower_current_is_named() -> None:
    with pytest.raises(ValueError, match=r"lower_current is 10 A, but contact 1 draws only 10 A at its peak"):
        starter_steps(100.0, 1.0, (5.0, 4.0), 10.0)
    with pytest.raises(ValueError, match=r"lower_current is 5 A, but contact 2 draws only 5 A at its peak"):
        starter_steps(100.0, 1.0, (1e-20, 9.0), 5.0)  # a section of nothing
    steps = starter_steps(100.0, 1.0, (9.0,), 5.0)
    # 10 A, down to 5 A at 50 V of EMF; then 50 A through the armature alone
    assert [(s.number, s.peak_current, s.back_emf_at_peak) for s in steps] == [(1, 10.0, 0.0), (2, 50.0, 50.0)]
    assert [(s.cut_out_current, s.back_emf_at_cut_out) for s in steps] == [(5.0, 50.0), (None, None)]
    assert [(s.added_armature_resistance, s.circuit_resistance) for s in steps] == [(9.0, 10.0), (0.0, 1.0)]


# --- sizing


def test_the_speed_of_the_whole_field_needs_no_resistance_whatever_its_rounding() -> None:
    torque = np.linspace(0.1, 10.0, 300)
    speed = 160.0 - torque * 0.8 / 0.75**2  # 120 V: 0.75 A and 0.75 V s/rad
    found = added_field_resistance_for_speed(bench(), speed=speed, supply_voltage=120.0, load_torque=torque)
    assert (found.status == Status.OK).all()
    np.testing.assert_allclose(found.resistance, 0.0, atol=1e-9)
    assert (found.resistance >= 0.0).all()
    slower = added_field_resistance_for_speed(
        bench(), speed=speed * (1.0 - 1e-7), supply_voltage=120.0, load_torque=torque
    )
    assert (slower.status == Status.SPEED_UNREACHABLE).all()  # by a resistance that would have to be negative
    np.testing.assert_allclose(slower.nearest_speed, speed, rtol=1e-12)


def test_the_speed_of_the_bare_armature_needs_no_resistance_whatever_its_rounding() -> None:
    torque = np.linspace(0.1, 10.0, 300)
    speed = 160.0 - torque * 0.8 / 0.75**2
    found = added_armature_resistance_for_speed(bench(), speed=speed, supply_voltage=120.0, load_torque=torque)
    assert (found.status == Status.OK).all()
    np.testing.assert_allclose(found.resistance, 0.0, atol=1e-9)
    faster = added_armature_resistance_for_speed(
        bench(), speed=speed * (1.0 + 1e-7), supply_voltage=120.0, load_torque=torque
    )
    assert (faster.status == Status.SPEED_UNREACHABLE).all()


def test_without_torque_only_the_ideal_speed_can_be_had_and_it_needs_no_resistance() -> None:
    for speed, reachable in ((160.0, True), (160.0 * (1 + 0.9e-6), True), (160.0 * (1 - 0.9e-6), True),
                             (160.0 * (1 + 1.1e-6), False), (160.0 * (1 - 1.1e-6), False)):  # fmt: skip
        one = added_armature_resistance_for_speed(bench(), speed=[speed, 150.0], supply_voltage=120.0)
        assert (one.status == Status.OK).tolist() == [reachable, False]
        if reachable:
            assert one.resistance[0] == 0.0
            assert added_armature_resistance_for_speed(bench(), speed=speed, supply_voltage=120.0).resistance == 0.0
        else:
            with pytest.raises(InfeasibleError, match=r"gives .* the nearest is 1527\.89 r/min"):
                added_armature_resistance_for_speed(bench(), speed=speed, supply_voltage=120.0)


@pytest.mark.parametrize("torque", [-6.0, 6.0])
def test_a_resistance_of_micro_ohms_is_still_worked_out_with_a_torque(torque: float) -> None:
    # omega = 160 - T (0.8 + R)/0.75^2: 1e-5 ohm change the speed by 1e-4 rad/s, within a millionth of it
    speed = 160.0 - torque * (0.8 + 1e-5) / 0.75**2
    found = added_armature_resistance_for_speed(bench(), speed=speed, supply_voltage=120.0, load_torque=torque)
    assert found.resistance == pytest.approx(1e-5, rel=1e-7)
    array = added_armature_resistance_for_speed(bench(), speed=[speed], supply_voltage=120.0, load_torque=torque)
    assert array.resistance.tolist() == pytest.approx([1e-5], rel=1e-7)


@pytest.mark.parametrize("torque", [0.0, -3.0, -6.0, -60.0])
@pytest.mark.parametrize("line", [0.0, 0.5, 4.0])
def test_without_a_motoring_torque_there_is_no_second_field_for_a_speed(torque: float, line: float) -> None:
    for flux in (ProportionalFlux(1.0), FroehlichFlux(1.6, 0.9)):
        machine = bench(flux=flux, line_resistance=line)
        for speed in (100.0, 170.0, 200.0, 400.0):
            with pytest.raises(InfeasibleError, match="the nearest is none at all") as caught:
                added_field_resistance_for_speed(
                    machine, speed=speed, source_voltage=120.0, load_torque=torque, branch="weak-field"
                )
            assert math.isnan(caught.value.limit)
        many = added_field_resistance_for_speed(
            machine, speed=[150.0, 400.0], source_voltage=120.0, load_torque=torque, branch="weak-field"
        )
        assert many.status.tolist() == [Status.SPEED_UNREACHABLE] * 2
        assert np.isnan(many.nearest_speed).all()


@pytest.mark.parametrize("torque", [6.0, 0.5, -0.5, -6.0])
@pytest.mark.parametrize("branch", ["strong-field", "weak-field"])
def test_a_field_found_through_the_line_gives_its_speed_by_the_laws(torque: float, branch: str) -> None:
    if torque < 0.0 and branch == "weak-field":
        return
    machine = bench(line_resistance=0.5)
    speeds = np.linspace(170.0, 450.0, 29)  # U^2/(4 T R) allows 461 rad/s with 6 N m
    found = added_field_resistance_for_speed(
        machine, speed=speeds, source_voltage=120.0, load_torque=torque, branch=branch
    )
    assert (found.status < Status.TORQUE_BEYOND_STALL).all()
    state = found.state
    assert state is not None
    field = state.supply_voltage / (160.0 + found.resistance)  # 1 V s/(rad A): its number is that of k_phi
    current = torque / field
    np.testing.assert_allclose(state.supply_voltage, 120.0 - 0.5 * (current + field), rtol=1e-9)
    np.testing.assert_allclose((state.supply_voltage - 0.8 * current) / field, speeds, rtol=1e-6)
    # with the weak field the EMF is below half of the voltage
    assert (state.back_emf < 60.0).all() == (branch == "weak-field")


def test_where_both_tables_end_the_one_that_is_left_is_named() -> None:
    still = TableReaction((0.0, 10.0), (0.0, 0.0))  # no reaction at all, but measured to 10 A only
    for currents in ((0.75, 1.0), (0.5, 0.75), (0.5, 1.0)):  # and a field of 0.75 A, within its table or just at an end
        curve = TableFlux(currents, (90.0, 120.0), 1500.0)
        with pytest.raises(
            InfeasibleError, match=r"^armature_current: .* is needed, outside .* from 0 A to 10 A"
        ) as caught:
            steady_state(bench(flux=curve, armature_reaction=still), supply_voltage=120.0, load_torque=30.0)
        assert caught.value.quantity == "armature_current"
        assert caught.value.limit == 10.0
    for currents, limit in (((0.8, 1.0), 0.8), ((0.5, 0.7), 0.7)):
        curve = TableFlux(currents, (90.0, 120.0), 1500.0)
        with pytest.raises(InfeasibleError, match=r"^effective_field_current: 0\.75 A is needed") as caught:
            steady_state(bench(flux=curve, armature_reaction=still), supply_voltage=120.0, load_torque=3.0)
        assert (caught.value.value, caught.value.limit) == (0.75, limit)


def test_an_armature_without_resistance_needs_none_at_its_own_speed() -> None:
    volts = np.linspace(100.0, 130.0, 300)  # kPhi = U/160, so 160 rad/s at any load
    found = added_armature_resistance_for_speed(
        bench(armature_resistance=0.0), speed=160.0, supply_voltage=volts, load_torque=3.0
    )
    assert (found.status == Status.OK).all()
    np.testing.assert_allclose(found.resistance, 0.0, atol=1e-12)
    # 150 rad/s: a sixteenth of the voltage over the current
    found = added_armature_resistance_for_speed(
        bench(armature_resistance=0.0), speed=150.0, supply_voltage=volts, load_torque=3.0
    )
    np.testing.assert_allclose(found.resistance, volts / 16.0 / (3.0 / (volts / 160.0)), rtol=1e-10)


def test_a_resistance_that_leads_to_another_balance_is_none_for_the_speed() -> None:
    """400 W: E (120 - E) = 400 R has two roots, E and 120 - E; the machine comes to the higher of them."""
    load = ConstantPower(400.0)
    # 100 rad/s: 75 V and 400/75 A, so 45 V over them, less 0.8 ohm
    found = added_armature_resistance_for_speed(bench(), speed=[100.0, 40.0], supply_voltage=120.0, load=load)
    assert found.status.tolist() == [Status.OK, Status.SPEED_UNREACHABLE]
    assert found.resistance[0] == pytest.approx(45.0 * 75.0 / 400.0 - 0.8, rel=1e-12)
    assert math.isnan(found.resistance[1])
    with pytest.raises(InfeasibleError, match=r"no resistance added in the armature circuit gives 381\.972 r/min"):
        added_armature_resistance_for_speed(bench(), speed=40.0, supply_voltage=120.0, load=load)


def test_where_a_load_comes_nearest_is_told_in_five_digits() -> None:
    nearest = 1234.567 * math.pi / 30.0
    # the machine gives 112.5 - 0.703125 omega; the load asks for 100 N m more, and yet more away from one speed
    load = UserLoad(lambda speed: 212.5 - 0.703125 * speed + 0.01 * (speed - nearest) ** 2)
    with pytest.raises(InfeasibleError) as caught:
        steady_state(bench(), supply_voltage=120.0, load=load)
    gives = 112.5 - 0.703125 * nearest
    assert str(caught.value).endswith(
        f"nearest at 1234.6 r/min, where {gives + 100.0:.5g} N m is asked for and the machine gives {gives:.5g} N m"
    )


def test_one_value_in_a_list_is_one_value_and_keeps_the_shape() -> None:
    with pytest.raises(ValueError, match=r"^supply_voltage is -1\.0 V; zero or a finite number above it is needed$"):
        steady_state(bench(), supply_voltage=[-1.0])
    with pytest.raises(ValueError, match=r"^load_torque is nan N m; a finite number is needed$"):
        steady_state(bench(), supply_voltage=120.0, load_torque=[math.nan])
    with pytest.raises(ValueError, match=r"^supply_voltage is -1\.0 V at index 1; zero or a finite number"):
        steady_state(bench(), supply_voltage=[1.0, -1.0])
    with pytest.raises(
        ValueError, match=r"^the shapes of the inputs do not fit together: .*supply_voltage \(2,\).*load_torque \(3,\)"
    ):
        steady_state(bench(), supply_voltage=[120.0, 121.0], load_torque=[1.0, 2.0, 3.0])
    assert steady_state(bench(), supply_voltage=[[120.0]]).speed.tolist() == [[160.0]]
    single = steady_state(bench(), supply_voltage=np.array([120.0], np.float32))
    assert (single.speed.dtype, single.speed.tolist()) == (np.float32, [160.0])


@pytest.mark.parametrize("many", [False, True])
def test_the_source_ahead_of_a_line_by_hand(many: bool) -> None:
    machine = bench(line_resistance=0.5)
    volts: Any = np.array([120.0, 120.0]) if many else 120.0
    state = steady_state(machine, supply_voltage=volts, load_torque=6.0)
    # 8 A and 0.75 A through 0.5 ohm
    assert np.ravel(state.source_voltage).tolist() == pytest.approx([124.375] * np.size(volts))
    assert np.ravel(state.line_loss).tolist() == pytest.approx([0.5 * 8.75**2] * np.size(volts))
    back = steady_state(machine, source_voltage=volts + 4.375, load_torque=6.0)
    assert np.ravel(back.supply_voltage).tolist() == pytest.approx([120.0] * np.size(volts))
    direct = steady_state(bench(), source_voltage=volts, load_torque=6.0)
    assert np.ravel(direct.supply_voltage).tolist() == np.ravel(volts).tolist()
    assert np.ravel(steady_state(bench(), supply_voltage=volts).source_voltage).tolist() == np.ravel(volts).tolist()


def test_refusals_show_five_digits() -> None:
    def refused(**given: Any) -> str:
        with pytest.raises(InfeasibleError) as caught:
            steady_state(bench(**given.pop("machine", {})), supply_voltage=120.0, **given)
        return str(caught.value)

    # 120 V over 0.7 ohm are 171.43 A and, with 0.75 V s/rad, 128.571 N m at standstill
    lean = {"armature_resistance": 0.7}
    assert refused(machine=lean, load_torque=1234.567) == (
        "electromagnetic_torque: 1234.6 N m is asked for, but at standstill this setting gives 128.57 N m"
        " and no more while turning forwards"
    )
    # I_f^2/(4 d) = 0.5625/0.012
    assert (
        "1234.6 N m is asked for, but the armature current weakens the flux so that 46.875 N m is the most"
        in refused(machine=lean | {"armature_reaction": ProportionalReaction(0.003)}, load_torque=1234.567)
    )
    # U^2/(4 R) = 14400/2.8
    assert (
        "23457 W is asked for, and with the other torques no speed balances it; the armature turns at most 5142.9 W"
        in (refused(machine=lean, load=ConstantPower(23456.7)))
    )
    table = TableFlux((0.3123456, 0.6, 1.0), (40.0, 90.0, 120.0), 1500.0)
    assert refused(machine={"flux": table}, added_field_resistance=300.0).startswith(
        "effective_field_current: 0.26087 A is needed, outside the measured table from 0.31235 A to 1 A, which refuses"
    )
    reaction = TableReaction((0.0, 3.1234567), (0.0, 0.001))
    assert refused(machine={"armature_reaction": reaction}, load_torque=7.0).startswith("armature_current: 9.")


def test_a_load_that_is_too_heavy_everywhere_comes_nearest_at_standstill() -> None:
    for ohms in (0.5, 0.7, 0.8, 0.9, 1.1, 1.3):
        with pytest.raises(InfeasibleError) as caught:
            steady_state(
                bench(armature_resistance=ohms), supply_voltage=120.0, load=UserLoad(lambda speed: 1000.0 + speed)
            )
        # 120 V through the armature, times 0.75 V s/rad
        assert "they come nearest at 0 r/min, where 1000 N m is asked for" in str(caught.value)
        assert (caught.value.value, caught.value.status) == (1000.0, Status.NO_SOLUTION)
        assert caught.value.limit == pytest.approx(90.0 / ohms, rel=1e-9)
