"""The edges of the steady state, each as it was decided."""

from __future__ import annotations

import math
import pickle
from typing import Any

import numpy as np
import pandas as pd
import pytest

from shuntref.model import steady as steady_module
from shuntref.model.fast_blocks import FastBlocks
from shuntref.model.flux import FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, ProportionalTorque, SquareTorque, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.reaction import FluxLoss, NoReaction, ProportionalReaction, TableReaction
from shuntref.model.recipes import QUANTITIES
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.steady import steady_state
from shuntref.model.torque_line import speed_torque_line

TABLE = TableFlux((0.0, 0.3, 0.5, 0.7, 1.0), (4.0, 65.0, 90.0, 110.0, 130.0), 1500.0)
FLUXES = (ProportionalFlux(1.0), FroehlichFlux(1.6, 0.9, 0.03), TABLE)
REACTIONS = (
    NoReaction(),
    ProportionalReaction(0.004),
    TableReaction((0.0, 10.0, 200.0), (0.0, 0.02, 0.4)),
    FluxLoss(5.0, 40.0),
)


def bench(**changes: Any) -> Machine:
    values: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**{**values, **changes})


# --- what goes in comes out


def test_floats_give_floats_and_arrays_give_arrays_of_the_broadcast_shape() -> None:
    point = steady_state(bench(), supply_voltage=120.0, load_torque=6.0)
    assert all(type(getattr(point, name)) is float for name in QUANTITIES)
    many = steady_state(bench(), supply_voltage=np.full((3, 1), 120.0), load_torque=np.arange(4.0))
    assert all(getattr(many, name).shape == (3, 4) for name in QUANTITIES)
    assert many.status.shape == many.stable.shape == (3, 4)
    assert steady_state(bench(), supply_voltage=[120.0], load_torque=6).speed.shape == (1,)
    assert steady_state(bench(), supply_voltage=np.zeros((0, 3)) + 120.0).speed.shape == (0, 3)


def test_a_worked_point_by_hand() -> None:
    point = steady_state(bench(brush_drop=2.0), supply_voltage=120.0, load_torque=6.0, added_field_resistance=32.0)
    # I_f = 120/192 = 0.625 A, kPhi = 0.625, I_a = 9.6 A, E = 120 - 2 - 7.68 = 110.32 V, omega = 176.512 rad/s
    assert point.field_current == 0.625
    assert point.armature_current == pytest.approx(9.6, rel=1e-15)
    assert point.back_emf == pytest.approx(110.32, rel=1e-15)
    assert point.speed == pytest.approx(176.512, rel=1e-15)
    assert point.input_power == pytest.approx(120.0 * 10.225, rel=1e-15)
    assert point.efficiency == pytest.approx(6.0 * 176.512 / 1227.0, rel=1e-14)


def test_single_precision_stays_where_every_array_is_single() -> None:
    load = np.linspace(1.0, 6.0, 7, dtype=np.float32)
    for flux in FLUXES:
        for reaction in REACTIONS:
            machine = bench(flux=flux, armature_reaction=reaction)
            single = steady_state(machine, supply_voltage=120.0, load_torque=load)
            double = steady_state(machine, supply_voltage=120.0, load_torque=load.astype(float))
            assert all(getattr(single, name).dtype == np.float32 for name in QUANTITIES)
            np.testing.assert_allclose(single.speed, double.speed, rtol=2e-5)
    mixed = steady_state(bench(), supply_voltage=np.array([120.0]), load_torque=load)
    assert mixed.speed.dtype == np.float64


def test_inputs_are_never_modified() -> None:
    inputs = {
        "supply_voltage": np.full(5, 120.0),
        "load_torque": np.array([0.0, 3.0, -4.0, 500.0, 6.0]),
        "added_field_resistance": np.linspace(0.0, 40.0, 5),
        "added_armature_resistance": np.linspace(0.0, 4.0, 5),
    }
    before = {name: array.copy() for name, array in inputs.items()}
    for array in inputs.values():
        array.flags.writeable = False
    for flux in FLUXES:
        for reaction in REACTIONS:
            steady_state(bench(flux=flux, armature_reaction=reaction, brush_drop=2.0), **inputs)
    for name, array in inputs.items():
        np.testing.assert_array_equal(array, before[name])


def test_only_what_is_asked_for_is_there() -> None:
    many = steady_state(bench(), supply_voltage=120.0, load_torque=[1.0, 2.0], quantities=["speed", "k_phi"])
    assert many.quantities == ("speed", "k_phi")
    assert set(many.as_dict()) == {"speed", "k_phi"}
    with pytest.raises(AttributeError, match="efficiency was not asked for"):
        _ = many.efficiency
    with pytest.raises(AttributeError, match="no 'sped'"):
        _ = many.sped
    with pytest.raises(ValueError, match=r"'sped'.*near to it: speed"):
        steady_state(bench(), supply_voltage=120.0, quantities=["sped"])


def test_a_data_frame_says_its_units() -> None:
    many = steady_state(bench(), supply_voltage=120.0, load_torque=[1.0, 500.0], quantities=["speed_rpm", "efficiency"])
    frame = many.to_frame()
    assert list(frame.columns) == ["speed_rpm [r/min]", "efficiency [1]", "status", "stable"]
    assert list(frame["status"]) == ["ok", "torque-beyond-stall"]
    assert list(frame["stable"]) == [True, False]
    one = steady_state(bench(), supply_voltage=120.0, load_torque=1.0).to_frame()
    assert isinstance(one, pd.DataFrame)
    assert len(one) == 1
    assert len(one.columns) == len(QUANTITIES) + 2


def test_threads_and_block_edges_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(5)
    load = rng.uniform(-5.0, 200.0, 1000)
    machine = bench(flux=TABLE, armature_reaction=ProportionalReaction(0.004), brush_drop=2.0)
    whole = steady_state(machine, supply_voltage=120.0, load_torque=load)
    monkeypatch.setattr(steady_module, "BLOCK", 37)
    for workers in (1, 3):
        parts = steady_state(machine, supply_voltage=120.0, load_torque=load, workers=workers)
        for name in QUANTITIES:
            np.testing.assert_array_equal(getattr(whole, name), getattr(parts, name))
        np.testing.assert_array_equal(whole.status, parts.status)
    with pytest.raises(ValueError, match="workers is 0"):
        steady_state(machine, supply_voltage=120.0, load_torque=load, workers=0)


@pytest.mark.parametrize("flux", FLUXES)
@pytest.mark.parametrize("connection", ["shunt", "separate"])
@pytest.mark.parametrize("dtype", [np.float64, np.float32])
def test_traced_blocks_give_what_the_general_solver_gives_and_hand_back_what_is_out_of_the_ordinary(
    flux: Any, connection: str, dtype: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(9)
    count = 40_000
    setting: dict[str, Any] = {
        "supply_voltage": rng.uniform(90.0, 130.0, count).astype(dtype),
        "load_torque": rng.uniform(-5.0, 9.0, count).astype(dtype),
        "added_field_resistance": rng.uniform(0.0, 90.0, count).astype(dtype),
        "added_armature_resistance": rng.uniform(0.0, 2.0, count).astype(dtype),
    }
    setting["load_torque"][[3, 17_000]] = (
        0.0,
        500.0,
    )  # a point without torque in one block, one beyond stall in another
    if connection == "separate":
        setting["field_voltage"] = setting["supply_voltage"][::-1].copy()
    machine = bench(flux=flux, connection=connection, brush_drop=2.0, line_resistance=0.1,
                    loss_torque=ConstantTorque(0.2))  # fmt: skip
    answers = []
    work = FastBlocks.work

    def counted(self: FastBlocks, *arguments: Any) -> Any:
        answers.append(work(self, *arguments))
        return answers[-1]

    monkeypatch.setattr(FastBlocks, "work", counted)
    monkeypatch.setattr(steady_module, "LENGTH", 13_000)
    fast = steady_state(machine, **setting)
    assert len(answers) >= 3  # blocks
    assert np.concatenate(answers).tolist() == [17_000]
    monkeypatch.setattr(FastBlocks, "possible", lambda setting: False)
    slow = steady_state(machine, **setting)
    assert fast.armature_current[17_000] != fast.armature_current[17_000]  # the one beyond stall
    np.testing.assert_array_equal(fast.status, slow.status)
    for name in QUANTITIES:
        a, b = getattr(fast, name), getattr(slow, name)
        assert a.dtype == dtype
        rounding = 4e-15 if dtype is np.float64 else 2e-6
        np.testing.assert_allclose(a, b, rtol=rounding, atol=rounding * 1e3 * max(1e-3, float(np.nanmax(np.abs(b)))))


def test_the_quantities_can_be_put_where_they_are_wanted() -> None:
    load = np.array([[1.0, 2.0], [500.0, 3.0]])
    for flux in FLUXES:
        machine = bench(flux=flux)
        plain = steady_state(machine, supply_voltage=120.0, load_torque=load)
        out = {"speed": np.zeros((2, 2)), "back_emf": np.zeros((2, 2))}
        state = steady_state(machine, supply_voltage=120.0, load_torque=load, out=out)
        assert state.quantities == ("speed", "back_emf")
        for name, array in out.items():
            assert np.shares_memory(getattr(state, name), array)
            np.testing.assert_array_equal(array, getattr(plain, name))
    for wrong in (np.zeros(4), np.zeros((2, 2), np.float32), np.zeros((2, 4))[:, ::2], [[0.0] * 2] * 2):
        with pytest.raises(ValueError, match=r"out\['speed'\] does not fit"):
            steady_state(bench(), supply_voltage=120.0, load_torque=load, out={"speed": wrong})
    with pytest.raises(ValueError, match="shares memory"):
        steady_state(bench(), supply_voltage=120.0, load_torque=load, out={"speed": load})


def test_a_steady_state_and_its_error_can_be_sent_to_another_process() -> None:
    many = steady_state(bench(flux=TABLE), supply_voltage=120.0, load_torque=[1.0, 2.0])
    np.testing.assert_array_equal(pickle.loads(pickle.dumps(many)).speed, many.speed)
    point = steady_state(bench(), supply_voltage=120.0, load_torque=6.0)
    assert pickle.loads(pickle.dumps(point)).speed == point.speed
    with pytest.raises(InfeasibleError) as caught:
        steady_state(bench(), supply_voltage=120.0, load_torque=500.0)
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.limit, again.status) == (str(caught.value), caught.value.limit, caught.value.status)
    machine = bench(flux=TABLE, armature_reaction=REACTIONS[2])
    assert pickle.loads(pickle.dumps(machine)) == machine


# --- values that cannot be


@pytest.mark.parametrize("many", [False, True])
@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("supply_voltage", -1.0),
        ("supply_voltage", math.nan),
        ("supply_voltage", math.inf),
        ("supply_voltage", 1e200),
        ("load_torque", -1e31),
        ("field_resistance", 1e-31),
        ("added_field_resistance", -0.5),
        ("added_armature_resistance", math.inf),
        ("added_armature_resistance", -1e-9),
        ("load_torque", math.nan),
        ("load_torque", -math.inf),
        ("field_resistance", 0.0),
        ("armature_resistance", -2.0),
        ("brush_drop", -1.0),
        ("line_resistance", math.nan),
    ],
)
def test_a_value_that_cannot_be_is_named_with_its_index_and_what_would_be_accepted(
    name: str, value: float, many: bool
) -> None:
    setting: dict[str, Any] = {"supply_voltage": 120.0, "load_torque": 6.0}
    good = {"supply_voltage": 120.0, "field_resistance": 160.0}.get(name, 1.0)
    setting[name] = [[good, good], [value, value]] if many else value
    with pytest.raises(ValueError) as caught:
        steady_state(bench(), **setting)
    text = str(caught.value)
    assert "\n" not in text
    assert name in text
    assert repr(value) in text
    assert "is needed" in text
    assert ("at index (1, 0)" in text) == many


@pytest.mark.parametrize(
    "value", ["120", b"1", True, np.array([True]), 1j, np.array([1j]), None, [[1.0], [1.0, 2.0]], {}]
)
def test_what_is_no_number_is_refused(value: Any) -> None:
    with pytest.raises(ValueError, match=r"supply_voltage"):
        steady_state(bench(), supply_voltage=value, load_torque=6.0)


def test_a_masked_value_is_not_silently_used() -> None:
    hidden = np.ma.masked_array([120.0, 1e9], mask=[False, True])
    with pytest.raises(ValueError, match="masked"):
        steady_state(bench(), supply_voltage=hidden)


@pytest.mark.parametrize(
    ("machine", "setting", "words"),
    [
        (bench(), {}, "one of supply_voltage and source_voltage"),
        (bench(), {"supply_voltage": 120.0, "source_voltage": 120.0}, "not both"),
        (bench(), {"supply_voltage": 120.0, "field_voltage": 100.0}, "field_voltage is given"),
        (bench(connection="separate"), {"supply_voltage": 120.0}, "field_voltage is missing"),
        (bench(), {"supply_voltage": 120.0, "load": ConstantTorque(1.0), "load_torque": 1.0}, "both given"),
        (bench(), {"supply_voltage": 120.0, "load": 6.0}, "load is 6.0; a load"),
        (bench(), {"supply_voltage": [120.0] * 2, "load_torque": [1.0] * 3}, "do not fit together"),
        ("machine", {"supply_voltage": 120.0}, "a Machine is needed"),
    ],
)
def test_what_is_missing_or_too_much_is_said(machine: Any, setting: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        steady_state(machine, **setting)


@pytest.mark.parametrize("value", [0.0, [120.0, 0.0]])
def test_no_field_and_no_remanence_is_refused(value: Any) -> None:
    with pytest.raises(ValueError, match=r"supply_voltage is 0.0 V.*no remanence"):
        steady_state(bench(), supply_voltage=value)
    with pytest.raises(ValueError, match=r"field_voltage is 0.0 V.*no remanence"):
        steady_state(bench(connection="separate"), supply_voltage=120.0, field_voltage=value)


# --- no torque


@pytest.mark.parametrize("reaction", REACTIONS)
@pytest.mark.parametrize("flux", FLUXES)
@pytest.mark.parametrize("load", [None, ConstantTorque(0.0), SquareTorque(0.0), UserLoad(lambda w: 0.0 * w)])
def test_without_torque_no_current_flows_and_the_speed_is_exactly_voltage_over_k_phi(
    flux: Any, reaction: Any, load: Any
) -> None:
    machine = bench(flux=flux, armature_reaction=reaction, brush_drop=2.0)
    expected = 120.0 / flux.k_phi(120.0 / 173.0)
    point = steady_state(machine, supply_voltage=120.0, load=load, added_field_resistance=13.0)
    many = steady_state(machine, supply_voltage=[120.0, 120.0], load=load, added_field_resistance=13.0)
    assert point.armature_current == 0.0
    assert point.speed == pytest.approx(expected, rel=0.0, abs=0.0 if flux is not TABLE else 1e-13)
    assert point.brush_loss == 0.0
    assert np.all(many.armature_current == 0.0)
    assert np.all(many.speed == point.speed)


def test_a_load_that_balances_itself_inside_the_brush_drop_draws_no_current() -> None:
    machine = bench(brush_drop=4.0)  # no current flows between 154.67 and 165.33 rad/s
    load = UserLoad(lambda w: 0.1 * (w - 158.0))
    point = steady_state(machine, supply_voltage=120.0, load=load)
    assert point.armature_current == 0.0
    assert point.speed == pytest.approx(158.0, rel=1e-13)
    assert point.input_power - point.total_loss - point.output_power == pytest.approx(0.0, abs=1e-10)
    driven = steady_state(machine, supply_voltage=120.0, load=UserLoad(lambda w: 0.1 * (w - 170.0)))
    assert driven.armature_current < 0.0


# --- field loss, generating, standstill


def test_zero_field_current_with_remanence_is_flagged_with_the_speed_it_would_reach() -> None:
    machine = bench(flux=FroehlichFlux(1.6, 0.9, 0.05), connection="separate")
    point = steady_state(machine, supply_voltage=120.0, field_voltage=0.0)
    assert point.speed == 120.0 / 0.05
    assert point.field_loss is True
    assert point.status is Status.FIELD_LOSS
    many = steady_state(machine, supply_voltage=120.0, field_voltage=[0.0, 110.0])
    assert list(many.status_text) == ["field-loss", "ok"]
    assert list(many.field_loss) == [True, False]
    assert many.speed[0] == point.speed
    searched = steady_state(machine, supply_voltage=120.0, field_voltage=0.0, load=UserLoad(lambda w: 1e-5 * w))
    assert searched.status is Status.FIELD_LOSS


def test_a_driving_load_makes_it_generate_and_turns_the_brush_drop_round() -> None:
    point = steady_state(bench(brush_drop=2.0), supply_voltage=120.0, load_torque=-6.0)
    assert point.armature_current == -8.0
    assert point.back_emf == pytest.approx(120.0 + 2.0 + 6.4, rel=1e-15)
    assert point.brush_loss == 16.0
    assert point.input_power < 0.0
    assert point.efficiency == pytest.approx(point.input_power / point.output_power)
    assert 0.0 < point.efficiency < 1.0
    braking = steady_state(bench(), supply_voltage=120.0, load_torque=-0.3)  # the field takes more than is returned
    assert braking.input_power > 0.0
    assert braking.efficiency == 0.0


def test_exactly_the_stall_torque_is_standstill_and_a_little_more_is_beyond() -> None:
    for voltage in (120.0, 110.3, 97.7):
        for added in (0.0, 13.7):
            setting = {"supply_voltage": voltage, "added_field_resistance": added}
            stall = voltage / (160.0 + added) * voltage / 0.8
            assert steady_state(bench(), load_torque=stall, **setting).speed == pytest.approx(0.0, abs=1e-12)
            with pytest.raises(InfeasibleError) as caught:
                steady_state(bench(), load_torque=stall * 1.001, **setting)
            assert caught.value.status is Status.TORQUE_BEYOND_STALL
            assert caught.value.limit == pytest.approx(stall, rel=1e-12)
            assert caught.value.quantity == "electromagnetic_torque"
            assert caught.value.value == stall * 1.001
            many = steady_state(bench(), load_torque=[stall, stall * 1.001, 1.0], **setting)
            assert list(many.status_text) == ["ok", "torque-beyond-stall", "ok"]


@pytest.mark.parametrize(
    "load", [SquareTorque(1.0, 100.0), ProportionalTorque(1.0, 100.0), UserLoad(lambda w: 0.01 * w)]
)
def test_a_torque_at_standstill_beyond_stall_is_refused_for_loads_that_grow(load: Any) -> None:
    with pytest.raises(InfeasibleError, match=r"^(electromagnetic_torque|speed): "):
        steady_state(bench(), supply_voltage=120.0, load=ConstantTorque(113.0) + load)
    assert steady_state(bench(), supply_voltage=120.0, load=ConstantTorque(112.0) + load).speed > 0.0


def test_a_constant_power_has_a_limit_on_both_sides_of_which_it_is_right() -> None:
    limit = 120.0**2 / (4.0 * 0.8)
    inside = steady_state(bench(), supply_voltage=120.0, load=ConstantPower(0.9999 * limit))
    assert inside.output_power == pytest.approx(0.9999 * limit, rel=1e-12)
    assert inside.stable
    with pytest.raises(InfeasibleError) as caught:
        steady_state(bench(), supply_voltage=120.0, load=ConstantPower(1.0001 * limit))
    assert caught.value.limit == pytest.approx(limit)
    many = steady_state(bench(), supply_voltage=120.0, load=ConstantPower(np.array([0.9999, 1.0001]) * limit))
    assert list(many.status_text) == ["ok", "no-solution"]


def test_without_armature_resistance_the_speed_does_not_depend_on_the_torque() -> None:
    ideal = bench(armature_resistance=0.0)
    assert steady_state(ideal, supply_voltage=120.0, load_torque=1e4).speed == 160.0
    fan = steady_state(ideal, supply_voltage=120.0, load=UserLoad(lambda w: 3.0 + 0.01 * w))
    assert fan.speed == pytest.approx(160.0, rel=1e-15)
    assert fan.armature_current == pytest.approx(4.6 / 0.75, rel=1e-14)


# --- several solutions, and none


def test_the_reaction_peak_on_both_sides_in_closed_form_and_by_search() -> None:
    # c = 1, I_f = 0.75, d = 0.01: the torque peaks at 0.75^2/0.04 = 14.0625 N m and 37.5 A, well before standstill (150 A)
    straight = TableReaction((0.0, 50.0, 400.0), (0.0, 0.5, 4.0))
    for reaction in (ProportionalReaction(0.01), straight):
        machine = bench(armature_reaction=reaction)
        below = steady_state(machine, supply_voltage=120.0, load_torque=14.0625 * (1.0 - 1e-9))
        assert below.armature_current == pytest.approx(37.5, rel=1e-3)
        assert below.armature_current < 37.5
        with pytest.raises(InfeasibleError) as caught:
            steady_state(machine, supply_voltage=120.0, load_torque=14.0625 * (1.0 + 1e-9))
        assert caught.value.status is Status.TORQUE_BEYOND_REACTION_PEAK
        assert caught.value.limit == pytest.approx(14.0625, rel=1e-9)
        torques = np.array([14.0, 14.0625 * (1.0 + 1e-9), 20.0])
        many = steady_state(machine, supply_voltage=120.0, load_torque=torques)
        assert list(many.status_text)[1:] == ["torque-beyond-reaction-peak"] * 2
        assert many.status[0] in (Status.OK, Status.UNSTABLE_ONLY)


def test_all_solutions_are_offered_and_the_first_is_the_one_continuous_with_no_load() -> None:
    machine = bench(
        armature_reaction=ProportionalReaction(0.004)
    )  # I_fe = 0.75 - 0.004 I_a; T = 6: 6 = (0.75 - 0.004 I) I
    point = steady_state(machine, supply_voltage=120.0, load_torque=6.0, all_solutions=True)
    roots = sorted(np.roots([-0.004, 0.75, -6.0]).real)
    assert point.armature_current == pytest.approx(roots[0], rel=1e-13)
    assert point.other_solutions == ()  # the other root, 179 A, lies beyond standstill (150 A)
    heavier = bench(armature_reaction=ProportionalReaction(0.006), armature_resistance=0.8)
    point = steady_state(heavier, supply_voltage=120.0, load_torque=6.0, all_solutions=True)
    roots = sorted(np.roots([-0.006, 0.75, -6.0]).real)
    assert [s.armature_current for s in point.other_solutions] == pytest.approx([roots[1]], rel=1e-12)
    many = steady_state(heavier, supply_voltage=120.0, load_torque=[6.0, 1e3, 8.0], all_solutions=True)
    assert len(many.other_solutions) == 1
    second = many.other_solutions[0]
    assert second.armature_current[0] == pytest.approx(roots[1], rel=1e-12)
    assert np.isnan(second.armature_current[1])
    assert second.status_text[1] == "no-solution"


def test_a_constant_power_has_a_second_unstable_balance_near_standstill() -> None:
    point = steady_state(bench(), supply_voltage=120.0, load=ConstantPower(900.0), all_solutions=True)
    fast, slow = sorted(np.roots([0.75**2, -0.75 * 120.0, 900.0 * 0.8]).real, reverse=True)
    assert point.speed == pytest.approx(fast, rel=1e-13)
    assert [s.speed for s in point.other_solutions] == pytest.approx([slow], rel=1e-10)
    assert point.stable
    assert not point.other_solutions[0].stable


def test_a_rising_characteristic_under_a_constant_torque_is_reported_unstable() -> None:
    # d/I_f = 0.008/0.75 = 0.01067 per A exceeds R/U = 0.00667 per A: the line rises
    machine = bench(armature_reaction=ProportionalReaction(0.008))
    point = steady_state(machine, supply_voltage=120.0, load_torque=6.0)
    assert point.speed > 160.0
    assert point.stable is False
    assert point.status is Status.UNSTABLE_ONLY
    many = steady_state(machine, supply_voltage=120.0, load_torque=[6.0, 3.0])
    assert list(many.status_text) == ["unstable-only"] * 2
    np.testing.assert_allclose(many.speed[0], point.speed, rtol=1e-14)
    falling = steady_state(bench(armature_reaction=ProportionalReaction(0.004)), supply_voltage=120.0, load_torque=6.0)
    assert falling.stable


@pytest.mark.parametrize("reaction", [*REACTIONS, ProportionalReaction(0.008), FluxLoss(30.0, 20.0)])
@pytest.mark.parametrize("load", [ConstantTorque(5.0), SquareTorque(5.0, 160.0), ConstantPower(800.0)])
def test_stability_is_the_comparison_of_the_two_slopes_at_the_point(reaction: Any, load: Any) -> None:
    machine = bench(armature_reaction=reaction)
    point = steady_state(machine, supply_voltage=120.0, load=load)
    near = point.armature_current * np.array([1.0 - 1e-5, 1.0 + 1e-5])
    line = speed_torque_line(machine, supply_voltage=120.0, armature_current=near)
    machine_slope = np.diff(line.electromagnetic_torque)[0] / np.diff(line.speed)[0]
    load_slope = (load.torque(point.speed * (1.0 + 1e-6)) - load.torque(point.speed * (1.0 - 1e-6))) / (
        2e-6 * point.speed
    )
    assert point.stable == (machine_slope < load_slope)


def test_a_pair_of_roots_inside_one_step_of_the_search_is_not_stepped_over() -> None:
    reaction = TableReaction((0.0, 50.0, 400.0), (0.0, 0.5, 4.0))
    machine = bench(armature_reaction=reaction)
    for share in 1.0 - np.geomspace(1e-12, 0.3, 40):
        point = steady_state(machine, supply_voltage=120.0, load_torque=14.0625 * share)
        expected = min(np.roots([-0.01, 0.75, -14.0625 * share]).real)
        assert point.armature_current == pytest.approx(expected, rel=1e-6 if share > 1.0 - 1e-6 else 1e-9)


# --- tables


def test_a_table_refuses_or_flags_what_lies_beyond_it() -> None:
    emf = (65.0, 90.0, 110.0)
    refusing, flagging = (TableFlux((0.3, 0.5, 0.7), emf, 1500.0, mode) for mode in ("refuse", "flag"))
    with pytest.raises(InfeasibleError, match=r"effective_field_current: 0.75 A.*from 0.3 A to 0.7 A") as caught:
        steady_state(bench(flux=refusing), supply_voltage=120.0, load_torque=6.0)
    assert caught.value.status is Status.OUTSIDE_TABLE
    many = steady_state(bench(flux=refusing), supply_voltage=120.0, load_torque=6.0, added_field_resistance=[0.0, 40.0])
    assert list(many.status_text) == ["outside-table", "ok"]
    assert np.isnan(many.speed[0])
    flagged = steady_state(bench(flux=flagging), supply_voltage=120.0, load_torque=6.0)
    assert flagged.status is Status.EXTRAPOLATED
    assert flagged.extrapolated is True
    k_phi = (110.0 + 0.05 * (flagging.slope(0.7) * 50.0 * math.pi)) / (50.0 * math.pi)
    assert flagged.k_phi == pytest.approx(k_phi, rel=1e-12)
    many = steady_state(bench(flux=flagging), supply_voltage=120.0, load_torque=6.0, added_field_resistance=[0.0, 40.0])
    assert list(many.status_text) == ["extrapolated", "ok"]


def test_a_reaction_table_refuses_currents_beyond_it() -> None:
    machine = bench(armature_reaction=TableReaction((0.0, 10.0), (0.0, 0.05)))
    assert steady_state(machine, supply_voltage=120.0, load_torque=6.0).status_text == "ok"
    with pytest.raises(
        InfeasibleError, match=r"armature_current: .* needed, outside the measured table from 0 A to 10 A"
    ):
        steady_state(machine, supply_voltage=120.0, load_torque=9.0)
    flagged = bench(armature_reaction=TableReaction((0.0, 10.0), (0.0, 0.05), "flag"))
    assert steady_state(flagged, supply_voltage=120.0, load_torque=9.0).status_text == "extrapolated"


# --- loads of a user's own


def test_a_users_function_is_looked_at_and_cannot_spoil_the_work() -> None:
    with pytest.raises(ValueError, match=r"load_torque is nan N m; a finite torque"):
        steady_state(bench(), supply_voltage=120.0, load=UserLoad(lambda w: w * np.nan))
    with pytest.raises(ValueError, match="a number for each speed"):
        steady_state(bench(), supply_voltage=120.0, load=UserLoad(lambda w: "much"))
    with pytest.raises(ValueError, match="a function of the speed"):
        UserLoad(6.0)  # type: ignore[arg-type]

    def greedy(speed: Any) -> Any:
        torque = 0.03 * np.asarray(speed)
        speed *= 0.0
        return torque

    plain = steady_state(bench(), supply_voltage=[120.0, 110.0], load=ProportionalTorque(0.03))
    spoilt = steady_state(bench(), supply_voltage=[120.0, 110.0], load=UserLoad(greedy))
    np.testing.assert_allclose(spoilt.speed, plain.speed, rtol=1e-14)


def test_a_sum_of_loads_is_the_sum_of_their_torques() -> None:
    load = ConstantTorque(2.0) + SquareTorque(3.0, 150.0) + ConstantPower(150.0) + ProportionalTorque(1.0, 150.0)
    speeds = np.array([50.0, 150.0])
    expected = 2.0 + 3.0 * (speeds / 150.0) ** 2 + 150.0 / speeds + speeds / 150.0
    np.testing.assert_allclose(load.torque(speeds), expected, rtol=1e-15)
    assert SquareTorque(3.0, 150.0).torque(-150.0) == -3.0
    with pytest.raises(ValueError, match="other than zero"):
        load.torque(0.0)


# --- line resistance, and overriding the machine's own values


def test_the_supply_voltage_given_behind_a_line_leaves_only_the_source_to_be_found() -> None:
    machine = bench(line_resistance=0.5)
    inside = steady_state(machine, supply_voltage=120.0, load_torque=6.0)
    assert inside.speed == steady_state(bench(), supply_voltage=120.0, load_torque=6.0).speed
    assert inside.source_voltage == pytest.approx(120.0 + 0.5 * 8.75, rel=1e-15)
    back = steady_state(machine, source_voltage=inside.source_voltage, load_torque=6.0)
    assert back.supply_voltage == pytest.approx(120.0, rel=1e-14)
    assert back.speed == pytest.approx(inside.speed, rel=1e-13)


def test_values_of_the_machine_can_be_swept() -> None:
    many = steady_state(
        bench(), supply_voltage=120.0, load_torque=6.0, field_resistance=[160.0, 180.0], armature_resistance=[0.8, 1.6]
    )
    one = steady_state(bench(field_resistance=180.0, armature_resistance=1.6), supply_voltage=120.0, load_torque=6.0)
    assert many.speed[1] == pytest.approx(one.speed, rel=1e-15)
