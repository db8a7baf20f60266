"""The speed of very many points: the same numbers as the formula and the steady state, in blocks and on threads."""

from __future__ import annotations

import math
import tracemalloc
from typing import Any

import numpy as np
import pytest

from shuntref.model import bulk as bulk_module
from shuntref.model.bulk import shunt_speed
from shuntref.model.flux import ProportionalFlux, TableFlux
from shuntref.model.formulas import speed_shunt_proportional
from shuntref.model.machine import Machine
from shuntref.model.reaction import ProportionalReaction
from shuntref.model.recipes import QUANTITIES
from shuntref.model.steady import steady_state
from shuntref.model.tape import Recorder, Tape

NAMES = ("supply_voltage", "flux_constant", "field_resistance", "added_field_resistance", "armature_resistance",
         "added_armature_resistance", "electromagnetic_torque")  # fmt: skip


def draw(count: int, dtype: Any = np.float64) -> list[np.ndarray[Any, Any]]:
    rng = np.random.default_rng(11)
    ranges = ((100, 130), (0.9, 1.1), (150, 170), (0, 50), (0.5, 1.0), (0, 3), (-5, 6))
    return [rng.uniform(*r, count).astype(dtype) for r in ranges]


@pytest.mark.parametrize("dtype", [np.float64, np.float32])
@pytest.mark.parametrize("workers", [1, 2, 5])
def test_the_same_bits_as_the_formula_whatever_the_blocks(dtype: Any, workers: int, monkeypatch: Any) -> None:
    inputs = draw(1003, dtype)
    u, c, f, fx, a, ax, t = inputs
    expected = speed_shunt_proportional(u, c, f + fx, t, a + ax)
    before = [x.copy() for x in inputs]
    for block in (7, 100, 100_000):
        monkeypatch.setattr(bulk_module, "_BLOCK", block)
        result = shunt_speed(*inputs, workers=workers)
        np.testing.assert_array_equal(result.speed, expected)
        assert result.speed.dtype == dtype
        assert not result.status.any()
    for x, y in zip(inputs, before, strict=True):
        np.testing.assert_array_equal(x, y)


def test_it_broadcasts_and_agrees_with_the_steady_state() -> None:
    added = np.linspace(0.0, 40.0, 9)[:, None]
    torque = np.array([0.0, 3.0, 112.4, 113.0, -5.0])
    result = shunt_speed(120.0, 1.0, 160.0, added, 0.8, 0.0, torque)
    machine = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    state = steady_state(machine, supply_voltage=120.0, added_field_resistance=added, load_torque=torque)
    np.testing.assert_allclose(result.speed, state.speed, rtol=1e-12)
    np.testing.assert_array_equal(result.status, state.status)
    assert float(shunt_speed(*(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, 6.0)).speed) == pytest.approx(151.46666666666667)
    assert shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, np.zeros(0)).speed.shape == (0,)


def test_points_beyond_stall_are_marked_and_standstill_is_not() -> None:
    stall = 0.75 * 120.0 / 0.8
    result = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, np.array([1.0, stall, stall * 1.001]))
    assert result.status.tolist() == [0, 0, 10]
    assert result.speed[1] == 0.0
    assert np.isnan(result.speed[2])


@pytest.mark.parametrize("position", range(7))
@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, -1.0, 0.0])
@pytest.mark.parametrize("torque", [0.0, 3.0, -3.0])
def test_a_value_that_cannot_be_is_found_wherever_it_is(position: int, bad: float, torque: float) -> None:
    inputs = draw(300)
    inputs[6][:] = torque
    inputs[position][271] = bad
    allowed = (bad == 0.0 and position >= 3) or (bad == -1.0 and position == 6)
    if allowed:
        assert not shunt_speed(*inputs).status.any()
        return
    with pytest.raises(ValueError) as caught:
        shunt_speed(*inputs)
    assert NAMES[position] in str(caught.value)
    assert "at index 271" in str(caught.value)
    with pytest.raises(ValueError, match=NAMES[position]):
        shunt_speed(*[x if i != position else bad for i, x in enumerate(inputs)])


def test_the_result_can_be_put_where_it_is_wanted() -> None:
    inputs = draw(50)
    out = np.empty(50)
    assert shunt_speed(*inputs, out=out).speed is out
    for wrong in (np.empty(49), np.empty(50, np.float32), np.empty(100)[::2]):
        with pytest.raises(ValueError, match="out is"):
            shunt_speed(*inputs, out=wrong)
    with pytest.raises(ValueError, match="shares memory"):
        shunt_speed(*inputs, out=inputs[0])
    with pytest.raises(ValueError, match="workers is True"):
        shunt_speed(*inputs, workers=True)


def test_memory_beyond_the_outputs_stays_small() -> None:
    inputs = draw(2_000_000)
    out = np.empty(2_000_000)
    machine = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    tracemalloc.start()
    try:
        shunt_speed(*inputs, out=out)
        bulk_peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.reset_peak()
        steady_state(machine, supply_voltage=inputs[0], load_torque=inputs[6], quantities=["speed"])
        steady_peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.reset_peak()
        held = tracemalloc.get_traced_memory()[0]
        table = TableFlux((0.0, 0.3, 0.5, 0.7, 1.0), (4.0, 65.0, 90.0, 110.0, 130.0), 1500.0)
        searched = Machine(armature_resistance=0.8, field_resistance=160.0, flux=table, brush_drop=2.0,
                           armature_reaction=ProportionalReaction(0.004))  # fmt: skip
        part = slice(0, 300_000)
        steady_state(searched, supply_voltage=inputs[0][part], load_torque=100.0 * inputs[6][part])
        search_peak = tracemalloc.get_traced_memory()[1] - held
    finally:
        tracemalloc.stop()
    results = len(QUANTITIES) * 8 + 4  # bytes a point
    assert search_peak - 300_000 * results < 32e6
    assert bulk_peak < 8e6
    assert steady_peak - out.nbytes < 32e6


def test_a_tape_reuses_buffers_and_may_write_over_what_is_spent() -> None:
    def formula(x: Any, y: Any) -> Any:
        a = x + y
        b = a * a
        return (b - x) / (a + y) * b

    recorder = Recorder(2)
    traced = [recorder.input(0), recorder.input(1)]
    result = formula(*traced)
    tape = Tape(recorder, [result, 2.0, traced[1], result, np.sqrt(traced[0]) - 1.0 / traced[1]])
    assert tape.count <= 3
    x, y = np.linspace(1.0, 2.0, 9), np.linspace(3.0, 5.0, 9)
    out = [np.empty(9) for _ in range(5)]
    tape.run([x, y], tape.buffers(9, np.float64), out)
    for got, expected in zip(out, (formula(x, y), 2.0, y, formula(x, y), np.sqrt(x) - 1.0 / y), strict=True):
        np.testing.assert_array_equal(got, np.broadcast_to(expected, 9))
