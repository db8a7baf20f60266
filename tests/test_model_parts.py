"""Flux curves, armature reaction, loads and machines: their values, inverses, and what they refuse."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, SumLoad
from shuntref.model.machine import COPPER_234_5, COPPER_235, Machine
from shuntref.model.reaction import ArmatureReaction, FluxLoss, ProportionalReaction, TableReaction
from shuntref.model.shape_cubic import ShapeCubic

FIELD, EMF = (0.0, 0.3, 0.5, 0.7, 1.0), (4.0, 65.0, 90.0, 110.0, 130.0)
CURVES = (
    ProportionalFlux(1.25),
    FroehlichFlux(1.6, 0.9),
    FroehlichFlux(1.6, 0.9, 0.03),
    TableFlux(FIELD, EMF, 1500.0),
    TableFlux(FIELD, EMF, 1500.0, "flag"),
)


# --- the shape-preserving cubic


@st.composite
def _points(draw: st.DrawFn) -> tuple[tuple[float, ...], tuple[float, ...]]:
    steps = draw(st.lists(st.floats(1e-3, 10.0), min_size=1, max_size=12))
    x = np.cumsum([draw(st.floats(-5.0, 5.0)), *steps])
    # nine decimals: below about 1e-150 scipy's own products of two differences underflow, and no bench reads so little
    rounded = st.floats(-100.0, 100.0).map(lambda value: round(value, 9))
    y = draw(st.lists(rounded, min_size=x.size, max_size=x.size))
    return tuple(x.tolist()), tuple(y)


@given(_points(), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20))
def test_the_cubic_is_the_one_that_scipy_draws(points: tuple[Any, Any], shares: list[float]) -> None:
    x, y = points
    cubic, oracle = ShapeCubic(x, y), PchipInterpolator(x, y)
    at = np.clip(x[0] + np.array([*shares, 0.0, 1.0]) * (x[-1] - x[0]), x[0], x[-1])
    scale = max(map(abs, y)) + 1e-300
    np.testing.assert_allclose(cubic.values(at), oracle(at), rtol=0.0, atol=1e-12 * scale)
    narrow = min(np.diff(x))
    np.testing.assert_allclose(cubic.slopes(at)[:-1], oracle(at, 1)[:-1], rtol=0.0, atol=1e-9 * scale / narrow)
    for value in at[:-1].tolist():
        assert cubic.value(value) == pytest.approx(cubic.values(np.array([value]))[0], rel=0.0, abs=1e-14 * scale)
        assert cubic.slope(value) == pytest.approx(
            cubic.slopes(np.array([value]))[0], rel=0.0, abs=1e-10 * scale / narrow
        )


def test_the_cubic_passes_through_its_points_and_goes_straight_on_beyond_them() -> None:
    for x in (
        np.array([0.0, 1.0, 3.0, 10.0]),
        np.array([0.0, 1e-7, 3.0, 10.0]),
    ):  # with an index of cells, and by search
        y = np.array([1.0, 2.0, 5.0, 6.0])
        cubic = ShapeCubic(tuple(x.tolist()), tuple(y.tolist()))
        np.testing.assert_array_equal(cubic.values(x), y)
        beyond = np.array([-2.0, 12.0])
        expected = [1.0 - 2.0 * cubic.first_slope, 6.0 + 2.0 * cubic.last_slope]
        np.testing.assert_allclose(cubic.values(beyond), expected, rtol=1e-15)
        assert [cubic.value(v) for v in beyond.tolist()] == pytest.approx(expected, rel=1e-15)
        assert cubic.slopes(beyond).tolist() == [cubic.slope(v) for v in beyond.tolist()]
        fine = np.linspace(0.0, 10.0, 10_001)
        assert np.all(np.diff(cubic.values(fine)) > 0.0)
        wanted = np.linspace(1.0, 6.0, 99)
        np.testing.assert_allclose(cubic.values(cubic.inverse(wanted)), wanted, rtol=1e-13)
        level = cubic.inverse(np.array([0.5, 7.0]))  # beyond a level end the value is never reached
        assert np.isnan(level).tolist() == [cubic.first_slope == 0.0, cubic.last_slope == 0.0]
    assert cubic.values(np.zeros(0)).size == cubic.slopes(np.zeros(0)).size == 0


# --- flux curves


@pytest.mark.parametrize("curve", CURVES)
def test_a_flux_curve_gives_floats_for_floats_arrays_for_arrays_and_its_own_inverse(curve: FluxCurve) -> None:
    currents = np.array([0.05, 0.3, 0.61, 1.0])
    values = curve.k_phi(currents)
    for i, current in enumerate(currents.tolist()):
        assert type(curve.k_phi(current)) is float
        assert curve.k_phi(current) == pytest.approx(values[i], rel=1e-15)
        assert curve.field_current(curve.k_phi(current)) == pytest.approx(current, rel=1e-12)
        numeric = (curve.k_phi_at(current + 1e-6) - curve.k_phi_at(current - 1e-6)) / 2e-6
        if current not in FIELD:  # at a knot the second derivative jumps
            assert curve.slope(current) == pytest.approx(numeric, rel=1e-6)
    np.testing.assert_allclose(curve.field_current(values), currents, rtol=1e-12)
    assert curve.k_phi(currents.astype(np.float32)).dtype == np.float32
    assert curve.slope(currents.astype(np.float32)).dtype == np.float32
    assert curve.k_phi_at(0.0) == curve.remanent_k_phi


@pytest.mark.parametrize("curve", CURVES)
def test_the_flux_vanishes_where_the_curve_says_it_does(curve: FluxCurve) -> None:
    zero = curve.zero_flux_field_current
    assert zero <= 0.0
    assert curve.k_phi_at(zero) == pytest.approx(0.0, abs=1e-15)
    assert curve.k_phi_at(np.array([zero]))[0] == pytest.approx(0.0, abs=1e-15)


def test_a_curve_that_never_loses_its_flux_says_so() -> None:
    assert FroehlichFlux(0.5, 1.0, 0.6).zero_flux_field_current == -math.inf


@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf, [0.1, -0.1], "1", None])
def test_a_flux_curve_refuses_currents_that_cannot_be(curve: FluxCurve, bad: Any) -> None:
    for method in (curve.k_phi, curve.slope):
        with pytest.raises(ValueError, match="field_current"):
            method(bad)
    with pytest.raises(ValueError, match="k_phi"):
        curve.field_current(bad)


def test_a_table_refuses_beyond_its_ends_unless_told_to_flag() -> None:
    refusing, flagging = CURVES[3], CURVES[4]
    with pytest.raises(ValueError, match=r"field_current is 1.1 A.*0 A to 1 A"):
        refusing.k_phi(1.1)
    with pytest.raises(ValueError, match="at index 1"):
        refusing.k_phi([0.5, 1.1])
    assert flagging.k_phi(1.1) > flagging.k_phi(1.0)
    with pytest.raises(ValueError, match=r"k_phi is 0.9 V s/rad; a value that the flux curve has"):
        refusing.field_current(0.9)
    with pytest.raises(ValueError, match=r"k_phi is 0\.001"):
        refusing.field_current(0.001)  # below the remanence
    with pytest.raises(ValueError, match=r"k_phi is 1\.7"):
        CURVES[1].field_current(1.7)  # above saturation


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: ProportionalFlux(0.0), "flux_constant is 0.0"),
        (lambda: ProportionalFlux("1"), "flux_constant is '1'"),
        (lambda: ProportionalFlux(True), "flux_constant is True"),
        (lambda: FroehlichFlux(-1.0, 1.0), "froehlich_a is -1.0"),
        (lambda: FroehlichFlux(1.0, math.nan), "froehlich_b is nan"),
        (lambda: FroehlichFlux(1.0, 1.0, -0.1), "remanent_k_phi is -0.1"),
        (lambda: FroehlichFlux(10**400, 1.0), "froehlich_a is inf"),
        (lambda: TableFlux((0.0,), (1.0,), 1500.0), "field_current has 1 points; from 2"),
        (lambda: TableFlux((0.0, 1.0), (1.0,), 1500.0), "back_emf has 1 points; from 2"),
        (lambda: TableFlux((0.0, 1.0, 2.0), (1.0, 2.0), 1500.0), "field_current has 3 points but back_emf has 2"),
        (lambda: TableFlux((0.0, 1.0), (2.0, 2.0), 1500.0), "back_emf is 2.0 V at index 1; a value above 2.0"),
        (lambda: TableFlux((0.0, 0.0), (1.0, 2.0), 1500.0), "field_current is 0.0 A at index 1"),
        (lambda: TableFlux((-1.0, 0.0), (1.0, 2.0), 1500.0), "field_current is -1.0 A at index 0"),
        (lambda: TableFlux((0.0, 1.0), (-1.0, 2.0), 1500.0), "back_emf is -1.0 V"),
        (lambda: TableFlux((0.0, 1.0), (1.0, 2.0), 0.0), "speed_rpm is 0.0"),
        (lambda: TableFlux((0.0, 1.0), (1.0, 2.0), 1500.0, "guess"), "extrapolate is 'guess'"),
        (lambda: TableFlux("0, 1", (1.0, 2.0), 1500.0), "a list of numbers"),
        (lambda: ProportionalReaction(math.inf), "reaction_coefficient is inf"),
        (
            lambda: TableReaction((1.0, 2.0), (0.0, 1.0)),
            "armature_current is 1.0 A at index 0; a table that begins at 0 A",
        ),
        (lambda: TableReaction((0.0, 2.0), (0.5, 1.0)), "reaction_field_current is 0.5 A at index 0; 0 A"),
        (lambda: TableReaction((0.0, 2.0), (0.0, 1.0), ""), "extrapolate is ''"),
        (lambda: FluxLoss(100.0, 5.0), "percent is 100.0"),
        (lambda: FluxLoss(-1.0, 5.0), "percent is -1.0"),
        (lambda: FluxLoss(5.0, 0.0), "armature_current is 0.0 A"),
        (lambda: ConstantTorque(math.nan), "load_torque is nan N m"),
        (lambda: ConstantTorque([1.0, math.inf]), "load_torque is inf N m at index 1"),
        (lambda: SquareTorque(1.0, 0.0), "speed is 0.0 rad/s"),
        (lambda: ProportionalTorque(1.0, -1.0), "speed is -1.0 rad/s"),
        (lambda: ConstantPower("much"), "output_power is 'much'"),
        (lambda: SumLoad((ConstantTorque(1.0), 2.0)), "load is 2.0; a load"),
    ],
)
def test_a_part_that_cannot_be_is_refused_by_name(make: Any, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        make()
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_part_that_lacks_its_methods_says_which() -> None:
    for part, method, arguments in (
        (FluxCurve(), "k_phi_at", (1.0,)), (FluxCurve(), "slope_at", (1.0,)), (FluxCurve(), "field_current_at", (1.0,)),
        (ArmatureReaction(), "lost_at", (1.0,)), (ArmatureReaction(), "lost_slope_at", (1.0,)), (Load(), "terms", ()),
    ):  # fmt: skip
        with pytest.raises(TypeError, match=method):
            getattr(part, method)(*arguments)


# --- armature reaction


def test_reaction_by_direction() -> None:
    assert ProportionalReaction(0.01).lost_at(-10.0) == -0.1
    table = TableReaction((0.0, 10.0, 40.0), (0.0, 0.02, 0.1))
    assert table.lost_at(-10.0) == table.lost_at(10.0) == 0.02
    assert table.lost_slope_at(-10.0) == -table.lost_slope_at(10.0)
    np.testing.assert_array_equal(
        table.lost_slope_at(np.array([-10.0, 10.0])), [-table.lost_slope_at(10.0), table.lost_slope_at(10.0)]
    )
    signed = TableReaction((-10.0, 0.0, 10.0), (-0.01, 0.0, 0.02))
    assert signed.lost_at(-10.0) == -0.01
    loss = FluxLoss(10.0, 50.0)
    flux = ProportionalFlux(1.0)
    assert loss.k_phi_at(flux, 1.0, -50.0) == loss.k_phi_at(flux, 1.0, 50.0) == pytest.approx(0.9)
    assert loss.reaction_field_current_at(flux, 1.0, 50.0) == pytest.approx(0.1)


@pytest.mark.parametrize(
    "reaction", [ProportionalReaction(0.01), TableReaction((0.0, 10.0, 40.0), (0.0, 0.02, 0.1)), FluxLoss(10.0, 50.0)]
)
@pytest.mark.parametrize("current", [-17.0, 17.0])
def test_the_slope_of_the_weakened_flux_is_its_derivative(reaction: ArmatureReaction, current: float) -> None:
    flux = FroehlichFlux(1.6, 0.9, 0.03)

    def k_phi(i: float) -> float:
        return float(reaction.k_phi_at(flux, 0.8 - 0.003 * i, i))

    numeric = (k_phi(current + 1e-5) - k_phi(current - 1e-5)) / 2e-5
    field = 0.8 - 0.003 * current
    assert reaction.k_phi_slope_at(flux, field, -0.003, current) == pytest.approx(numeric, rel=1e-7)
    many = reaction.k_phi_slope_at(flux, np.array([field]), -0.003, np.array([current]))
    assert many[0] == pytest.approx(numeric, rel=1e-7)


# --- machines


def _machine(**changes: Any) -> Machine:
    values: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**{**values, **changes})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"armature_resistance": -0.1}, "armature_resistance is -0.1 ohm"),
        ({"armature_resistance": math.nan}, "armature_resistance is nan"),
        ({"field_resistance": 0.0}, "field_resistance is 0.0 ohm"),
        ({"brush_drop": math.inf}, "brush_drop is inf V"),
        ({"line_resistance": "1 ohm"}, "line_resistance is '1 ohm'"),
        ({"flux": 1.0}, "flux is 1.0; a FluxCurve"),
        ({"armature_reaction": None}, "armature_reaction is None; a ArmatureReaction"),
        ({"loss_torque": 0.1}, "loss_torque is 0.1 N m; a Load"),
        ({"loss_torque": ConstantTorque(-0.1)}, "loss_torque is -0.1 N m"),
        ({"loss_torque": ConstantTorque([0.1, 0.2])}, "one number"),
        ({"connection": "series"}, "connection is 'series'"),
        ({"name": 5}, "name is 5"),
        ({"invented": 1}, "invented is 1"),
        ({"nameplate": {"rated_colour": 1.0}}, "'rated_colour' is unknown"),
        ({"nameplate": {"rated_speed_rpm": "fast"}}, "rated_speed_rpm is 'fast'"),
        ({"nameplate": []}, "nameplate"),
    ],
)
def test_a_machine_that_cannot_be_is_refused_by_name(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError) as caught:
        _machine(**changes)
    assert words in str(caught.value)


def test_a_machine_is_frozen_and_its_nameplate_is_its_own() -> None:
    plate = {"rated_speed_rpm": 1500.0}
    machine = _machine(nameplate=plate)
    plate["rated_speed_rpm"] = 0.0
    assert machine.nameplate == {"rated_speed_rpm": 1500.0}
    with pytest.raises(AttributeError):
        machine.brush_drop = 1.0  # type: ignore[misc]
    assert hash(machine) == hash(_machine(nameplate={"rated_speed_rpm": 1500.0}))


def test_both_conventions_for_copper_are_offered_and_neither_is_assumed() -> None:
    machine = _machine()
    by_235 = machine.with_temperatures(temperature_constant=COPPER_235, armature_from=20.0, armature_to=75.0)
    by_234 = machine.with_temperatures(temperature_constant=COPPER_234_5, armature_from=20.0, armature_to=75.0)
    assert by_235.armature_resistance == pytest.approx(0.8 * 310.0 / 255.0, rel=1e-15)
    assert by_234.armature_resistance == pytest.approx(0.8 * 309.5 / 254.5, rel=1e-15)
    assert by_235.field_resistance == 160.0
    with pytest.raises(TypeError):
        machine.with_temperatures(field_from=20.0, field_to=75.0)  # type: ignore[call-arg]
    with pytest.raises(ValueError, match="one of its two temperatures is missing"):
        machine.with_temperatures(temperature_constant=235.0, field_from=20.0)
    with pytest.raises(ValueError, match="no temperatures are given"):
        machine.with_temperatures(temperature_constant=235.0)
    with pytest.raises(ValueError, match=r"winding_temperature is -235.0 degC; a temperature above -235"):
        machine.with_temperatures(temperature_constant=235.0, field_from=20.0, field_to=-235.0)
