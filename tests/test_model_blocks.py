"""What works on many points at once: the tape, the speed in bulk, sweeps, marks, the speed-torque line, kits of resistors."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shuntref.model import bulk
from shuntref.model.bulk import shunt_speed
from shuntref.model.flux import FroehlichFlux, ProportionalFlux
from shuntref.model.load import ConstantTorque, SquareTorque
from shuntref.model.machine import Machine
from shuntref.model.marks import Marks
from shuntref.model.networks import nearest_networks, search_networks
from shuntref.model.reaction import ProportionalReaction
from shuntref.model.resistors import Resistor, needed_rating
from shuntref.model.result import SteadyState, wanted_names
from shuntref.model.standards import speed_tolerance, standard_value
from shuntref.model.status import Status, status_text
from shuntref.model.steady import steady_state
from shuntref.model.sweep import Sweep, in_windows
from shuntref.model.tape import Recorder, Tape
from shuntref.model.torque_line import speed_torque_line


def bench(**changes: Any) -> Machine:
    """120 V and 160 ohm of field: 0.75 A and 0.75 V s/rad; 0.8 ohm of armature."""
    plain: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**plain | changes)


# --- the tape


def test_whatever_is_done_to_a_traced_array_is_done_on_the_run() -> None:
    recorder = Recorder(2)
    x: Any = recorder.input(0)
    y: Any = recorder.input(1)
    wanted = [
        x + y, x - y, x * y, x / y, -x, 10.0 - x, 10.0 / x, 10.0 + x, 10.0 * x, x + 2.0, x - 2.0, np.sqrt(y),
        np.add(x, 2.5), x, 7.0, (x + y) * (x - y) / (x * x) - 1.0,
    ]  # fmt: skip
    tape = Tape(recorder, wanted)
    a, b = np.array([1.0, 2.0, 4.0]), np.array([4.0, 16.0, 25.0])
    out = [np.empty(3) for _ in wanted]
    tape.run([a, b], tape.buffers(3, np.float64), out)
    expected = [
        a + b, a - b, a * b, a / b, -a, 10.0 - a, 10.0 / a, 10.0 + a, 10.0 * a, a + 2.0, a - 2.0, np.array([2.0, 4.0, 5.0]),
        a + 2.5, a, np.full(3, 7.0), -(b * b) / (a * a),
    ]  # fmt: skip
    for got, true in zip(out, expected, strict=True):
        np.testing.assert_allclose(got, true, rtol=1e-15)
    assert (a.tolist(), b.tolist()) == ([1.0, 2.0, 4.0], [4.0, 16.0, 25.0])


def test_nothing_added_is_no_step_and_what_nobody_wants_is_not_run() -> None:
    recorder = Recorder(1)
    x: Any = recorder.input(0)
    assert x + 0.0 is x
    assert 0.0 + x is x
    assert x - 0.0 is x
    assert recorder.steps == []
    for other in (0, 1.0, np.float64(0.0)):
        assert x + other is not x
        assert x - other is not x
    wanted = x * 2.0
    tape = Tape(recorder, [wanted, wanted])
    assert len(tape.steps) == 2  # the product, and its copy
    out = [np.empty(2), np.empty(2)]
    tape.run([np.array([1.0, 3.0])], tape.buffers(2, np.float64), out)
    assert [array.tolist() for array in out] == [[2.0, 6.0], [2.0, 6.0]]
    for refused in (lambda: np.add.reduce(x), lambda: np.add(x, 1.0, where=True), lambda: np.divmod(x, 2.0)):
        with pytest.raises(TypeError):
            refused()


def test_a_result_can_be_put_right_with_its_operands_still_at_hand() -> None:
    recorder = Recorder(1)
    x = recorder.input(0)
    doubled = x * 2.0
    quotient = doubled / (doubled - 4.0)

    def mend(above: Any, below: Any, result: Any) -> None:
        result[below == 0.0] = above[below == 0.0]

    recorder.amend(quotient, mend)
    tape = Tape(recorder, [quotient + 1.0])
    out = [np.empty(3)]
    with np.errstate(divide="ignore"):
        tape.run([np.array([1.0, 2.0, 3.0])], tape.buffers(3, np.float64), out)
    # 2/(2 - 4), 4 in place of 4/0, 6/(6 - 4); and one more
    assert out[0].tolist() == [0.0, 5.0, 4.0]


def test_buffers_are_handed_on_as_soon_as_they_are_spent() -> None:
    recorder = Recorder(1)
    value = recorder.input(0)
    for _ in range(50):
        value = value * 2.0
    assert Tape(recorder, [value]).count == 1
    assert Tape(recorder, [value]).buffers(7, np.float32)[0].shape == (7,)
    assert Tape(recorder, [value]).buffers(7, np.float32)[0].dtype == np.float32


# --- the speed in bulk


def test_standstill_is_told_from_beyond_it_within_the_rounding() -> None:
    # 120 V, 0.75 V s/rad, 0.8 ohm: 112.5 N m at standstill
    torque = 112.5 * (1.0 + np.array([-1e-3, 0.0, 4e-16, 1e-14, 1e-3]))
    speed, status = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torque)
    assert status.tolist() == [0, 0, 0, 10, 10]
    assert speed[0] == pytest.approx(0.16, rel=1e-9)  # 160 rad/s times a thousandth
    assert speed[1:3].tolist() == [0.0, 0.0]
    assert np.isnan(speed[3:]).all()
    split = shunt_speed(120.0, 1.0, 100.0, 60.0, 0.5, 0.3, torque)
    assert split.status.tolist() == [0, 0, 0, 10, 10]
    columns: list[Any] = [np.full(1, value, np.float32) for value in (120.0, 1.0, 160.0, 0.0, 0.8, 0.0)]
    single = shunt_speed(*[*columns, np.array([100.0, 112.51], np.float32)])
    assert (single.speed.dtype, single.status.tolist()) == (np.float32, [0, 10])


def test_the_speed_in_bulk_by_hand_in_any_shape() -> None:
    volts, added = np.array([[120.0], [240.0]]), np.array([0.0, 40.0, 160.0])
    found = shunt_speed(volts, 1.0, 160.0, added, 0.5, 0.3, 6.0)
    k = volts / (160.0 + added)
    np.testing.assert_allclose(found.speed, volts / k - 6.0 * 0.8 / k**2, rtol=1e-14)
    assert not found.status.any()
    assert found.status.shape == (2, 3)
    assert shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, 6.0).speed == pytest.approx(160.0 - 4.8 / 0.5625)
    empty = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, np.array([]), workers=3)
    assert empty.speed.shape == (0,)
    np.testing.assert_array_equal(
        shunt_speed(volts[::-1].T, 1.0, 160.0, added[:, None], 0.5, 0.3, 6.0).speed, found.speed[::-1].T
    )


@pytest.mark.parametrize("workers", [1, 2, 5])
@pytest.mark.parametrize("size", [1, 9, 10, 11, 20, 95])
def test_every_point_is_worked_out_once_however_the_blocks_are_shared(
    size: int, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bulk, "_BLOCK", 10)
    torque = np.arange(size, dtype=float)
    found = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torque, workers=workers)
    np.testing.assert_allclose(found.speed, 160.0 - torque * 0.8 / 0.5625, rtol=1e-13)
    torque[-1] = 1000.0
    found = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torque, workers=workers)
    assert np.flatnonzero(found.status).tolist() == [size - 1]
    torque[-1] = math.nan
    if size > 1:
        with pytest.raises(ValueError, match=rf"electromagnetic_torque is nan N m at index {size - 1};"):
            shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torque, workers=workers)


def test_the_shares_of_the_workers_are_all_blocks_in_order() -> None:
    for count in (0, 1, 3, 8, 100):
        for workers in (1, 2, 7):
            shares = bulk._shares(range(0, count * 10, 10), workers)
            assert [start for share in shares for start in share] == list(range(0, count * 10, 10))
            assert len(shares) == min(count, 4 * workers)
            if count:
                lengths = [len(share) for share in shares]
                assert max(lengths) - min(lengths) <= 1


@pytest.mark.parametrize("bad", [0, -1, True, 1.0, "2"])
def test_workers_are_a_whole_number(bad: Any) -> None:
    with pytest.raises(ValueError, match=r"^workers is .*; a whole number from 1 is needed"):
        shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, 6.0, workers=bad)


# --- marks


def test_marks_are_one_value_until_a_point_differs() -> None:
    marks = Marks(6)
    marks.put_one("stable", np.array([True, True]), slice(0, 2))
    marks.put_one("status", 0, slice(0, 6))
    for name, plain in (("stable", True), ("status", 0), ("field_loss", False), ("extrapolated", False)):
        array = marks.array(name, (2, 3))
        assert array.tolist() == [[plain] * 3] * 2
        assert not array.flags.writeable
    marks.put_one("stable", False, np.array([4]))
    marks.put_one("stable", True, slice(0, 3))
    assert marks.array("stable", (2, 3)).tolist() == [[True, True, True], [True, False, True]]
    marks.put_one("status", np.array([0, 12]), slice(1, 3))
    assert marks.array("status", (6,)).tolist() == [0, 0, 12, 0, 0, 0]
    assert marks.array("status", (6,)).dtype == np.uint8


# --- sweeps


def test_a_sweep_takes_its_last_setting_fastest_and_each_chunk_its_points() -> None:
    settings = {"supply_voltage": [120.0, 240.0], "load_torque": [0.0, 3.0, 6.0]}
    expected = [160.0 - t * 0.8 / (u / 160.0) ** 2 for u in (120.0, 240.0) for t in (0.0, 3.0, 6.0)]
    for chunk, sizes in ((1, [1] * 6), (4, [4, 2]), (5, [5, 1]), (6, [6]), (7, [6]), (10_000_000, [6])):
        sweep = Sweep(bench(), settings, ["speed", "supply_voltage", "speed"], chunk=chunk)
        assert (sweep.size, sweep.chunk_count, sweep.shape) == (6, len(sizes), (2, 3))
        assert sweep.columns == ("supply_voltage", "load_torque", "speed", "status")
        chunks = list(sweep.chunks())
        assert [c["speed"].size for c in chunks] == sizes
        np.testing.assert_allclose(np.concatenate([c["speed"] for c in chunks]), expected, rtol=1e-14)
        assert np.concatenate([c["load_torque"] for c in chunks]).tolist() == [0.0, 3.0, 6.0] * 2
        for bad in (-1, len(sizes)):
            with pytest.raises(ValueError, match=rf"number is {bad}\.0; a chunk from 0 to {len(sizes) - 1} is needed"):
                sweep.compute(bad)


@pytest.mark.parametrize("bad", [0, -1, 10_000_001, 2.0, "3"])
def test_a_chunk_is_a_whole_number_of_points(bad: Any) -> None:
    with pytest.raises(ValueError, match=r"^chunk is .*; a whole number from 1 to 10 000 000 is needed"):
        Sweep(bench(), {"supply_voltage": 120.0}, ["speed"], chunk=bad)


def test_the_rows_of_a_sweep_by_hand(tmp_path: Path) -> None:
    sweep = Sweep(
        bench(), {"supply_voltage": 120.0, "load_torque": [0.0, 200.0]}, ["speed", "armature_current"], chunk=1
    )
    assert sweep.heading() == b"supply_voltage [V],load_torque [N m],speed [rad/s],armature_current [A],status\n"
    assert [sweep.csv_rows(i) for i in (0, 1)] == [b"120.0,0.0,160.0,0.0,0\n", b"120.0,200.0,,,10\n"]
    assert sweep.write_csv(tmp_path / "sweep.csv") == 2
    assert (tmp_path / "sweep.csv").read_bytes() == sweep.heading() + sweep.csv_rows(0) + sweep.csv_rows(1)
    assert [path.name for path in tmp_path.iterdir()] == ["sweep.csv"]
    with pytest.raises(FileNotFoundError, match="the folder does not exist"):
        sweep.write_csv(tmp_path / "nowhere" / "sweep.csv")


def test_windows_hold_so_many_chunks_and_no_more() -> None:
    seen = []

    def gather(function: Any, numbers: Any) -> list[Any]:
        seen.append(list(numbers))
        return [function(number) for number in numbers]

    assert list(in_windows(gather, 3)(lambda number: -number, range(7))) == [0, -1, -2, -3, -4, -5, -6]
    assert seen == [[0, 1, 2], [3, 4, 5], [6]]


# --- the speed-torque line


def test_the_line_by_hand_with_losses_brushes_and_a_driven_end() -> None:
    machine = bench(brush_drop=2.0, loss_torque=ConstantTorque(0.5) + SquareTorque(1.0, 100.0))
    line = speed_torque_line(machine, supply_voltage=120.0, armature_current=[-10.0, 0.0, 10.0, 147.5])
    # E = 120 + 8 + 2, 120, 120 - 8 - 2, and 118 V over 0.8 ohm is standstill; omega = E/0.75
    speed = np.array([130.0, 120.0, 110.0, 0.0]) / 0.75
    np.testing.assert_allclose(line.speed, speed, rtol=1e-14)
    assert line.speed[3] == line.back_emf[3] == 0.0
    np.testing.assert_allclose(line.electromagnetic_torque, [-7.5, 0.0, 7.5, 110.625], rtol=1e-14)
    lost = 0.5 + (speed / 100.0) ** 2
    np.testing.assert_allclose(line.loss_torque, lost, rtol=1e-14)
    np.testing.assert_allclose(line.load_torque, [-7.5, 0.0, 7.5, 110.625] - lost, rtol=1e-13)
    assert line.stable.all()
    assert not line.status.any()
    whole = speed_torque_line(machine, supply_voltage=120.0, points=2)
    assert whole.armature_current.tolist() == [0.0, 147.5]
    assert whole.speed.tolist() == [160.0, 0.0]


def test_the_line_stops_where_reaction_has_taken_all_of_the_flux() -> None:
    machine = bench(armature_reaction=ProportionalReaction(0.0075))  # 0.75 A of field are gone at 100 A
    line = speed_torque_line(machine, supply_voltage=120.0, armature_current=[0.0, 50.0, 99.0, 100.0, 120.0])
    # the speed, (120 - 0.8 I)/(0.75 - 0.0075 I), rises with the current from the beginning; the torque, (0.75 - 0.0075 I) I,
    # rises with it to 50 A, and falls with it after that: only there more speed is less torque
    assert line.status.tolist() == [Status.UNSTABLE_ONLY] * 2 + [Status.OK] + [Status.NO_SOLUTION] * 2
    assert np.isnan(line.speed).tolist() == [False, False, False, True, True]
    assert line.armature_current.tolist() == [0.0, 50.0, 99.0, 100.0, 120.0]
    assert line.supply_voltage.tolist() == [120.0] * 5
    # at 50 A half of the flux is left: 80 V over 0.375
    assert line.speed[1] == pytest.approx(80.0 / 0.375)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"points": 1}, "points is 1; a whole number from 2 to 1000000 is needed"),
        ({"points": 1_000_001}, "points is 1000001; a whole number from 2 to 1000000 is needed"),
        ({"points": True}, "points is True;"),
        ({"points": 3.0}, "points is 3.0;"),
        ({"armature_current": []}, "a list of numbers is needed"),
        ({"armature_current": [[1.0, 2.0]]}, "a list of numbers is needed"),
        ({"armature_current": [1.0, math.nan]}, "armature_current is nan A at index 1"),
        ({"added_field_resistance": [0.0, 1.0]}, "is 'an array of shape (2,)'; one number, for one line, is needed"),
        ({"added_armature_resistance": [0.0, 1.0]}, "added_armature_resistance is 'an array of shape (2,)'"),
    ],
)  # fmt: skip
def test_what_makes_no_line_is_refused(given: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=r"^") as caught:
        speed_torque_line(bench(), supply_voltage=120.0, **given)
    assert words in str(caught.value)


def test_standstill_at_the_end_of_the_line_is_standstill_whatever_its_rounding() -> None:
    for ohms in np.linspace(0.1, 3.0, 60).tolist():
        line = speed_torque_line(bench(armature_resistance=ohms, brush_drop=1.7), supply_voltage=117.3, points=3)
        assert line.speed[-1] == line.back_emf[-1] == 0.0
        assert line.speed[1] > 0.0
    # what is more than rounding stays
    line = speed_torque_line(bench(), supply_voltage=120.0, armature_current=[150.0 * (1.0 - 1e-10)])
    assert line.speed[0] == pytest.approx(160e-10, rel=1e-5)


def test_a_line_that_never_comes_to_standstill_needs_its_currents() -> None:
    remanent = FroehlichFlux(1.6, 0.9, 0.1)
    starved = bench(flux=remanent, brush_drop=2.0)
    for machine, volts in ((bench(armature_resistance=0.0), 120.0), (starved, 2.0), (starved, 1.0)):
        with pytest.raises(ValueError, match="this line never comes to standstill"):
            speed_torque_line(machine, supply_voltage=volts)
    line = speed_torque_line(bench(armature_resistance=0.0), supply_voltage=120.0, armature_current=5.0)
    assert line.speed.tolist() == [160.0]
    assert line.electromagnetic_torque.tolist() == [3.75]


# --- results


def test_results_say_what_they_are() -> None:
    assert repr(steady_state(bench(), supply_voltage=120.0)) == "<SteadyState 1527.89 r/min, armature current 0 A, ok>"
    many = steady_state(bench(), supply_voltage=[[120.0], [121.0]], load_torque=[1.0, 500.0, 600.0])
    assert repr(many) == "<SteadyState of 2x3 points, 4 without a solution>"
    frame = many.to_frame()
    assert frame["load_torque [N m]"].tolist()[0] == 1.0
    assert frame["supply_voltage [V]"].tolist() == [120.0] * 3 + [121.0] * 3
    assert frame["status"].tolist() == ["ok", "torque-beyond-stall", "torque-beyond-stall"] * 2
    assert frame["stable"].tolist()[0] is True
    for hidden in ("_nothing", "speeds", "__no__"):
        with pytest.raises(AttributeError):
            getattr(many, hidden)
    plain = SteadyState({"speed": 1.0}, None, ("speed",))
    assert (plain.status, plain.stable, plain.field_loss, plain.extrapolated) == (Status.OK, True, False, False)
    assert (plain.shape, plain.other_solutions, plain.as_dict()) == ((), (), {"speed": 1.0})
    assert wanted_names("speed") == ("speed",)
    with pytest.raises(
        ValueError, match="quantities has 'qqqqqqq', which a steady state does not offer; offered: source_voltage, "
    ):
        wanted_names(["qqqqqqq"])


def test_codes_have_words() -> None:
    assert status_text(np.array([0, 1, 14])).tolist() == ["ok", "field-loss", "speed-unreachable"]
    assert status_text(np.uint8(13)) == "no-solution"
    assert type(status_text(10)) is str
    codes = {status.slug: int(status) for status in Status}  # they stand in files
    assert codes == {
        "ok": 0, "field-loss": 1, "extrapolated": 2, "unstable-only": 3, "torque-beyond-stall": 10,
        "torque-beyond-reaction-peak": 11, "outside-table": 12, "no-solution": 13, "speed-unreachable": 14,
    }  # fmt: skip
    assert Status.UNSTABLE_ONLY.has_values
    assert not Status.TORQUE_BEYOND_STALL.has_values
    assert not Status.NO_SOLUTION.has_values


# --- kits of resistors


def test_the_bound_of_a_search_is_what_it_may_hold() -> None:
    two = [Resistor(10.0, 50.0, count=2)]
    for most, complete, found, deep in ((4, True, 3, 2), (3, True, 3, 2), (2, False, 1, 1), (1, False, 1, 1)):
        search = search_networks(two, most_networks=most)
        assert (search.complete, len(search.networks), search.elements) == (complete, found, deep)
    three = [Resistor(10.0, 50.0, count=3)]  # 1, 2 and 4 networks
    for most, complete, found, deep in ((7, True, 7, 3), (6, False, 3, 2), (5, False, 3, 2), (3, False, 3, 2)):
        search = search_networks(three, most_networks=most)
        assert (search.complete, len(search.networks), search.elements) == (complete, found, deep)
    assert [network.resistance for network in search_networks(three).networks] == pytest.approx(
        [10.0 / 3.0, 5.0, 20.0 / 3.0, 10.0, 15.0, 20.0, 30.0]
    )
    assert search_networks(three, most_elements=1).complete
    assert len(search_networks(three, most_elements=6).networks) == 7
    assert len(search_networks([Resistor(10.0, 50.0, count=9)], most_elements=5).networks) == 1 + 2 + 4 + 10 + 24
    assert search_networks([Resistor(10.0, 50.0, count=9)]).elements == 4
    for bad in (0, 7):
        with pytest.raises(ValueError, match=f"most_elements is {bad}; 1 to 6"):
            search_networks(three, most_elements=bad)
    with pytest.raises(ValueError, match="the kit is empty"):
        search_networks([])


def test_the_nearest_network_is_the_simplest_within_a_hundredth_that_can_bear_it() -> None:
    kit = [Resistor(10.04, 10.04), Resistor(5.0, 5.0, count=2), Resistor(10.2, 100.0)]
    search = search_networks(kit, most_elements=2)
    assert nearest_networks(search, 10.0)[0].resistance == 10.04  # one resistor, against two of 5 ohm
    assert str(nearest_networks(search, 10.0, count=2)[1]) == "5 ohm + 5 ohm"
    assert len(nearest_networks(search, 10.0, count=3)) == 3
    # at 1 A those of 10.04 W and 5 W are just at their ratings, at 1.001 A beyond them
    assert nearest_networks(search, 10.0, current=1.0)[0].resistance == 10.04
    assert nearest_networks(search, 10.0, current=1.001)[0].resistance == 10.2
    assert nearest_networks(search, 10.0, current=1.0, highest_share=0.99)[0].resistance == 10.2
    # nothing flows: any of them bears it
    assert len(nearest_networks(search, 10.0, highest_share=0.0, count=99)) == len(search.networks)
    assert nearest_networks(search, 5.0)[0].resistance == 5.0
    assert (
        nearest_networks(search_networks([Resistor(9.0, 1.0), Resistor(12.0, 1.0)], most_elements=1), 10.0)[
            0
        ].resistance
        == 9.0
    )


def test_a_rating_is_rounded_up_to_two_figures() -> None:
    assert [needed_rating(power) for power in (0.0, 60.0, 60.5, 61.3, 0.305, 5.0)] == pytest.approx(
        [0.0, 120.0, 130.0, 130.0, 0.61, 10.0]
    )
    assert needed_rating(10.0, margin=1.0) == pytest.approx(10.0)
    assert needed_rating(9.91, margin=1.0) == pytest.approx(10.0)
    for bad in ({"power": -1.0}, {"power": 1.0, "margin": 0.0}):
        with pytest.raises(ValueError, match=r"^(power|margin) is "):
            needed_rating(**bad)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"count": 0}, "count is 0; a whole number of resistors, at least 1"),
        ({"count": 1.5}, "count is 1.5;"),
        ({"tolerance": 1.0}, "tolerance is 1.0; a fraction from 0 to below 1"),
        ({"tolerance": -0.01}, "tolerance is -0.01;"),
        ({"rated_power": 0.0}, "rated_power is 0.0"),
        ({"rated_current": 0.0}, "rated_current is 0.0"),
        ({"resistance": 0.0}, "resistance is 0.0"),
    ],
)
def test_a_resistor_that_cannot_be_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=r"^") as caught:
        Resistor(**{"resistance": 10.0, "rated_power": 5.0} | changes)
    assert str(caught.value).startswith(words)
    assert Resistor(10.0, 5.0, tolerance=0.99).label == "10 ohm 5 W"
    assert Resistor(10.0, 5.0, name="brown").label == "brown"


def test_the_tolerance_of_a_rated_speed_is_that_of_its_band() -> None:
    bands = standard_value("tolerances", "speed-tolerance-shunt")["bands"]
    for band, after in pairwise(bands):
        edge = band["below"]  # W per r/min
        assert speed_tolerance(edge * 1000.0 * (1.0 - 1e-9), 1000.0) == band["percent"] / 100.0
        assert speed_tolerance(edge * 1000.0, 1000.0) == after["percent"] / 100.0
    with pytest.raises(KeyError, match=r"no 'nothing' in standards/tolerances\.toml; it has "):
        standard_value("tolerances", "nothing")
