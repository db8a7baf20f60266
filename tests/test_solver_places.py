"""Many points: where a refused value stands, what is lost with a point, where results are put, and which way is taken."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from shuntref.model.fast_blocks import FastBlocks
from shuntref.model.flux import ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, ProportionalTorque, SquareTorque, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.reaction import FluxLoss
from shuntref.model.setting import BLOCK
from shuntref.model.steady import steady_state


def bench(**changes: Any) -> Machine:
    values: dict[str, Any] = {"armature_resistance": 0.5, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**{**values, **changes})


# --- where a refused value stands


def test_a_voltage_of_nought_is_told_with_its_place_among_all_points() -> None:
    for machine in (
        bench(),
        bench(armature_reaction=FluxLoss(5.0, 40.0)),
        bench(flux=TableFlux((0, 1), (0, 100), 1500.0)),
    ):
        for place in (3, BLOCK - 1, BLOCK + 6, 2 * BLOCK + 7):
            volts = np.full(2 * BLOCK + 10, 120.0)
            volts[place] = 0.0
            with pytest.raises(ValueError, match=rf"supply_voltage is 0.0 V at index {place}; a voltage above zero"):
                steady_state(machine, supply_voltage=volts, load_torque=1.0, quantities=["speed"])
            volts[1], volts[2] = 1.0, 2.0  # beyond stall: odd points before it
            with pytest.raises(ValueError, match=rf"supply_voltage is 0.0 V at index {place}; "):
                steady_state(machine, supply_voltage=volts, load_torque=50.0, quantities=["speed"])
    grid = np.full((3, 4), 110.0)
    grid[2, 1] = 0.0
    with pytest.raises(ValueError, match=r"field_voltage is 0.0 V at index \(2, 1\)"):
        steady_state(bench(connection="separate"), supply_voltage=120.0, field_voltage=grid)
    with pytest.raises(ValueError, match=r"field_voltage is 0.0 V; a voltage"):
        steady_state(bench(connection="separate"), supply_voltage=120.0, field_voltage=0.0, load_torque=grid)


def test_a_value_that_cannot_be_is_told_with_its_place_in_any_block() -> None:
    size = 70_000  # more than one block of either length
    for machine in (bench(), bench(armature_reaction=FluxLoss(5.0, 40.0))):
        for place in (0, BLOCK, 65_536, size - 1):
            ohms = np.ones(size)
            ohms[place] = -0.25
            with pytest.raises(ValueError, match=rf"added_armature_resistance is -0.25 ohm at index {place}; zero or"):
                steady_state(machine, supply_voltage=120.0, added_armature_resistance=ohms, quantities=["speed"])
    grid = np.ones((2, 1, 3))
    grid[1, 0, 2] = math.nan
    with pytest.raises(ValueError, match=r"added_field_resistance is nan ohm at index \(1, 0, 2\)"):
        steady_state(bench(), supply_voltage=120.0, added_field_resistance=grid, load_torque=np.ones((2, 5, 3)))


def test_a_later_block_is_solved_as_the_first_is() -> None:
    torque = np.full(BLOCK + 5, 6.0)
    torque[[2, BLOCK + 2]] = 1e4
    near = min(np.roots([0.75 * 0.00125, -0.75, 6.0]))
    speed = (120.0 - 0.5 * near) / (0.75 * (1.0 - 0.00125 * near))
    for workers in (1, 2):
        state = steady_state(
            bench(armature_reaction=FluxLoss(5.0, 40.0)), supply_voltage=120.0, load_torque=torque,
            quantities=["speed"], workers=workers,
        )  # fmt: skip
        np.testing.assert_allclose(np.delete(state.speed, [2, BLOCK + 2]), speed, rtol=1e-12)
        assert np.flatnonzero(state.status).tolist() == [2, BLOCK + 2]


def test_only_what_is_worked_out_is_nan_where_there_is_no_solution() -> None:
    torque = [1.0, 999.0]
    shunt = steady_state(bench(line_resistance=0.5), source_voltage=120.0, load_torque=torque)
    assert shunt.source_voltage.tolist() == [120.0, 120.0]
    assert np.isnan(shunt.supply_voltage).tolist() == [False, True]  # it depends on the current
    assert np.isnan(shunt.field_current).tolist() == [False, True]
    ahead = steady_state(bench(line_resistance=0.5), supply_voltage=120.0, load_torque=torque)
    assert ahead.supply_voltage.tolist() == ahead.field_voltage.tolist() == [120.0, 120.0]
    assert np.isnan(ahead.source_voltage).tolist() == [False, True]
    assert ahead.source_voltage[0] == pytest.approx(120.0 + 0.5 * (0.75 + 1.0 / 0.75), rel=1e-15)
    apart = steady_state(
        bench(connection="separate", armature_reaction=FluxLoss(5.0, 40.0)), supply_voltage=120.0, field_voltage=100.0,
        load_torque=torque, added_field_resistance=[20.0, 30.0],
    )  # fmt: skip
    assert apart.field_voltage.tolist() == [100.0, 100.0]
    assert apart.field_circuit_resistance.tolist() == [180.0, 190.0]
    assert apart.armature_circuit_resistance.tolist() == [0.5, 0.5]
    assert np.isnan(apart.load_torque).tolist() == np.isnan(apart.k_phi).tolist() == [False, True]


# --- results put where they are wanted


def test_an_output_must_have_its_own_memory_and_the_right_form() -> None:
    load = np.linspace(1.0, 6.0, 6)
    whole = np.zeros(9)
    for machine in (bench(), bench(armature_reaction=FluxLoss(5.0, 40.0))):
        given: dict[str, Any] = {"supply_voltage": 120.0, "load_torque": load}
        for out, name in (
            ({"speed": whole[:6], "back_emf": whole[3:]}, "speed"),
            ({"back_emf": np.zeros(6), "speed": whole[:6], "k_phi": whole[3:]}, "speed"),
            ({"speed": load}, "speed"),
        ):
            words = rf"out\['{name}'\] shares memory with an input or another output; an array of its own is needed"
            with pytest.raises(ValueError, match=words):
                steady_state(machine, **given, out=out)
        frozen = np.zeros(6)
        frozen.flags.writeable = False
        for wrong in (frozen, np.zeros(12)[::2], np.zeros(5), np.zeros(6, np.float32), np.zeros((2, 3)), [0.0] * 6):
            with pytest.raises(ValueError, match=r"out\['speed'\] does not fit; .* float64 array of shape \(6,\)"):
                steady_state(machine, **given, out={"speed": wrong})
        out = {"speed": np.zeros(6), "back_emf": np.zeros(6)}
        state = steady_state(machine, **given, out=out, quantities=["speed", "armature_current"])
        assert state.speed is not out["back_emf"]
        assert np.shares_memory(state.speed, out["speed"])
        assert not out["back_emf"].any()  # nobody asked for it
        np.testing.assert_allclose(out["speed"] * state.armature_current, plain(machine, load), rtol=1e-13)
    with pytest.raises(ValueError, match="float32 array of shape"):
        steady_state(bench(), supply_voltage=load.astype(np.float32), out={"speed": np.zeros(6)})
    noted = np.zeros(6, np.dtype("f8", metadata={"unit": "rad/s"}))  # a note does not make it another precision
    steady_state(bench(), supply_voltage=120.0, load_torque=load, out={"speed": noted})
    assert noted.all()
    single = np.zeros(())
    state = steady_state(bench(), supply_voltage=120.0, load_torque=6.0, out={"speed": single})
    assert single == pytest.approx((120.0 - 0.5 * 8.0) / 0.75)


def plain(machine: Machine, load: Any) -> Any:
    """Speed times current by the quadratic of the loss of flux, k_phi (1 - p I) I = T."""
    p = machine.armature_reaction.loss_per_ampere if isinstance(machine.armature_reaction, FluxLoss) else 0.0
    current = np.array([min(np.roots([0.75 * p, -0.75, t])) if p else t / 0.75 for t in load])
    return (120.0 - 0.5 * current) / (0.75 * (1.0 - p * current)) * current


@pytest.mark.parametrize("workers", [0, -1, 1.5, True, "2"])
def test_the_number_of_threads_is_a_whole_number_from_one(workers: Any) -> None:
    with pytest.raises(ValueError, match=rf"workers is {workers!r}; a whole number from 1"):
        steady_state(bench(), supply_voltage=120.0, load_torque=[1.0, 2.0], workers=workers)
    assert steady_state(bench(), supply_voltage=120.0, load_torque=[1.5, 3.0], workers=2).speed[1] == 118.0 / 0.75


def test_the_traced_way_is_taken_where_only_the_torque_and_nothing_else_varies(monkeypatch: pytest.MonkeyPatch) -> None:
    answers: list[bool] = []
    possible = FastBlocks.possible
    monkeypatch.setattr(
        FastBlocks, "possible", staticmethod(lambda setting: answers.append(possible(setting)) or answers[-1])
    )
    ones = np.ones(3)
    for machine, setting, fast in (
        (bench(), {"load_torque": ones}, True),
        (bench(), {"load": ConstantTorque(ones)}, True),
        (bench(), {"added_field_resistance": ones}, True),
        (bench(line_resistance=0.1), {"load_torque": ones}, True),
        (bench(armature_reaction=FluxLoss(5.0, 40.0)), {"load_torque": ones}, False),
        (bench(), {"load": ProportionalTorque(ones)}, False),
        (bench(), {"load": SquareTorque(ones)}, False),
        (bench(), {"load": ConstantPower(ones)}, False),
        (bench(), {"load": UserLoad(lambda w: 0.01 * w), "brush_drop": ones}, False),
        (bench(loss_torque=ProportionalTorque(0.01)), {"load_torque": ones}, False),
        (bench(loss_torque=SquareTorque(0.01, 10.0)), {"load_torque": ones}, False),
    ):
        state = steady_state(machine, supply_voltage=120.0, **setting)
        assert answers.pop() is fast
        assert state.status_text.tolist() == ["ok"] * 3
    steady_state(bench(line_resistance=0.1), source_voltage=120.0, load_torque=ones)
    assert answers.pop() is False  # the current in the line lowers the voltage on the field
    apart = bench(connection="separate", line_resistance=0.1)
    state = steady_state(apart, source_voltage=120.0, field_voltage=96.0, load_torque=6.0 * ones)
    assert answers.pop() is True
    np.testing.assert_allclose(state.speed, (120.0 - 0.6 * 10.0) / 0.6, rtol=1e-14)
    state = steady_state(bench(), supply_voltage=np.array([120.0]), load_torque=[6.0])
    assert answers.pop() is False  # one value for all points: nothing varies
    assert state.speed[0] == pytest.approx(116.0 / 0.75)
