"""Results, sweeps, lines, searches and tapes: figures counted and worked by hand, and the words for what is refused."""

from __future__ import annotations

import math
import pickle
from dataclasses import FrozenInstanceError
from inspect import signature
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from shuntref.model import bulk, standards
from shuntref.model.bulk import shunt_speed
from shuntref.model.field_for_speed import k_phi_for_target
from shuntref.model.flux import FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, ProportionalTorque, SquareTorque, SumLoad, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.machine_file import load_from_table, machine_from_table, machine_from_text
from shuntref.model.marks import Marks
from shuntref.model.networks import nearest_networks, search_networks
from shuntref.model.reaction import FluxLoss, NoReaction, ProportionalReaction, TableReaction
from shuntref.model.recipes import QUANTITIES
from shuntref.model.resistors import Resistor, needed_rating, single
from shuntref.model.result import SteadyState, wanted_names
from shuntref.model.sizing import added_armature_resistance_for_speed, added_field_resistance_for_speed
from shuntref.model.standards import speed_tolerance, standard_value
from shuntref.model.starter_grading import grade_starter_by_limits, grade_starter_by_sections
from shuntref.model.starting import direct_starting_current, starter_steps, starting_resistance
from shuntref.model.status import WORDS, InfeasibleError, Status, status_text
from shuntref.model.steady import steady_state
from shuntref.model.sweep import Sweep, in_windows
from shuntref.model.tape import Recorder, Tape, Traced
from shuntref.model.torque_line import speed_torque_line
from shuntref.model.validation import check_array, every_keeps, keeps, refuse, scalar


def bench(**changes: Any) -> Machine:
    """100 ohm and 2 V s/(rad A): 100 V make 1 A, 2 V s/rad and 50 rad/s without load."""
    values: dict[str, Any] = {"armature_resistance": 0.5, "field_resistance": 100.0, "flux": ProportionalFlux(2.0)}
    return Machine(**{**values, **changes})


def told(call: Any, *arguments: Any, **more: Any) -> str:
    with pytest.raises(ValueError) as caught:
        call(*arguments, **more)
    return str(caught.value)


# --- the rule for what may be zero or of ordinary size


def test_zero_or_something_of_ordinary_size() -> None:
    rule = "zero or more"
    for value in (0.0, -0.0, 1e-30, 1.0, 1e30):
        assert keeps(value, rule)
        assert scalar("supply_voltage", value, rule) == value
        assert every_keeps(np.array([value]), rule)
        assert every_keeps(np.array([1.0, value, 0.0]), rule)
        check_array("supply_voltage", np.array([value, 0.0]), rule)
    for value in (5e-324, 9.9e-31, -1.0, -1e-40, 1.1e30, math.nan, math.inf, -math.inf):
        assert not keeps(value, rule)
        assert not every_keeps(np.array([0.0, value, 2.0]), rule)
        words = told(check_array, "supply_voltage", np.array([0.0, value, value]), rule)
        assert words.startswith(f"supply_voltage is {value!r} V at index 1; ")
        small = value > 0.0 and math.isfinite(value)
        assert words.endswith(
            "a number of ordinary size (up to 1e+30; 1e-30 at least, or zero) is needed" if small
            else "zero or a finite number above it is needed"
        )  # fmt: skip
    single = np.array([0.0, 1e-12, 1e12], np.float32)
    assert every_keeps(single, rule)
    assert not every_keeps(single * np.float32(0.5), rule)
    assert every_keeps(np.zeros((2, 3)), rule)
    assert str(refuse("load", True, "finite")) == "load is True; a finite number is needed"


# --- status, results, marks


def test_the_codes_of_a_point_are_fixed() -> None:
    codes = {"ok": 0, "field-loss": 1, "extrapolated": 2, "unstable-only": 3, "torque-beyond-stall": 10,
             "torque-beyond-reaction-peak": 11, "outside-table": 12, "no-solution": 13, "speed-unreachable": 14}  # fmt: skip
    assert {status.slug: int(status) for status in Status} == codes
    assert set(WORDS) == set(Status)
    assert [status.has_values for status in Status] == [True] * 4 + [False] * 5
    assert [status_text(code) for code in codes.values()] == list(codes)
    assert status_text(np.uint8(12)) == "outside-table"
    assert status_text(np.array([[0, 14], [10, 3]])).tolist() == [["ok", "speed-unreachable"],
                                                                  ["torque-beyond-stall", "unstable-only"]]  # fmt: skip
    assert status_text([4, 9]).tolist() == ["", ""]


def test_an_infeasible_point_travels_between_processes_with_all_it_says() -> None:
    error = InfeasibleError("no", status=Status.NO_SOLUTION, quantity="speed", value=2.0, limit=1.0, theorem="peak")
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is InfeasibleError
    assert str(again) == "no"
    assert vars(again) == vars(error) == {
        "status": Status.NO_SOLUTION, "quantity": "speed", "value": 2.0, "limit": 1.0, "theorem": "peak",
    }  # fmt: skip
    assert InfeasibleError("no", status=Status.NO_SOLUTION, quantity="speed", value=2.0, limit=1.0).theorem == ""


def test_a_result_gives_what_was_asked_for_and_says_what_was_not() -> None:
    one = steady_state(bench(), supply_voltage=100.0, load_torque=10.0, quantities=["speed", "speed_rpm"])
    # 5 A: 100 - 2.5 = 97.5 V, 48.75 rad/s
    assert one.as_dict() == {"speed": pytest.approx(48.75), "speed_rpm": pytest.approx(48.75 * 30.0 / math.pi)}
    assert one.back_emf == pytest.approx(97.5)  # a single point works out the others, too
    assert repr(one) == "<SteadyState 465.528 r/min, armature current 5 A, ok>"
    assert (one.shape, one.quantities, one.other_solutions) == ((), ("speed", "speed_rpm"), ())
    many = steady_state(bench(), supply_voltage=100.0, load_torque=[[10.0, 400.0, 401.0]], quantities="speed")
    assert many.quantities == ("speed",)
    assert repr(many) == "<SteadyState of 1x3 points, 1 without a solution>"
    assert many.status_text.tolist() == [["ok", "ok", "torque-beyond-stall"]]
    most = steady_state(bench(), supply_voltage=[[100.0], [101.0]], load_torque=[10.0, 500.0, 600.0])
    assert repr(most) == "<SteadyState of 2x3 points, 4 without a solution>"
    assert most.armature_current[:, 0].tolist() == pytest.approx([5.0, 10.0 / 2.02])
    with pytest.raises(AttributeError, match=r"^back_emf was not asked for; name it in quantities=\[\.\.\.\]$"):
        _ = many.back_emf
    for name in ("pace", "_hidden", "resistance"):
        with pytest.raises(AttributeError, match=rf"^a steady state has no '{name}'$"):
            getattr(one, name)


def test_a_frame_has_a_row_for_each_point_in_the_order_of_c() -> None:
    torque = [[10.0, 401.0], [20.0, 40.0]]
    state = steady_state(bench(), supply_voltage=100.0, load_torque=torque, quantities=["load_torque", "speed"])
    frame = state.to_frame()
    assert list(frame.columns) == ["load_torque [N m]", "speed [rad/s]", "status", "stable"]
    assert frame["load_torque [N m]"].tolist() == pytest.approx([10.0, math.nan, 20.0, 40.0], nan_ok=True)
    assert frame["speed [rad/s]"][[0, 2, 3]].tolist() == pytest.approx([48.75, 47.5, 45.0])
    assert frame["status"].tolist() == ["ok", "torque-beyond-stall", "ok", "ok"]
    assert frame["stable"].tolist()[::2] == [True, True]
    one = steady_state(bench(), supply_voltage=100.0, load_torque=10.0, quantities=["speed"]).to_frame()
    assert (one.shape, one["status"].tolist(), one["stable"].tolist()) == ((1, 3), ["ok"], [True])


def test_a_result_of_which_nothing_is_said_is_a_single_point_and_well() -> None:
    plain = SteadyState({"speed": 50.0}, None, ("speed",))
    assert (plain.status, plain.stable, plain.field_loss, plain.extrapolated) == (Status.OK, True, False, False)
    assert (plain.shape, plain.other_solutions, plain.as_dict()) == ((), (), {"speed": 50.0})


def test_what_is_easily_mixed_up_is_given_by_name() -> None:
    named: dict[Any, str] = {
        added_armature_resistance_for_speed: "speed speed_rpm supply_voltage load load_torque added_field_resistance"
        " field_voltage source_voltage line_resistance",
        added_field_resistance_for_speed: "speed speed_rpm supply_voltage load load_torque added_armature_resistance"
        " field_voltage source_voltage line_resistance branch",
        direct_starting_current: "brush_drop",
        grade_starter_by_limits: "brush_drop rounding",
        grade_starter_by_sections: "sections studs upper_current lower_current brush_drop",
        load_from_table: "where torque_name",
        machine_from_table: "where",
        machine_from_text: "where",
        Machine.with_temperatures: "temperature_constant field_from field_to armature_from armature_to",
        nearest_networks: "current highest_share count",
        needed_rating: "margin",
        search_networks: "most_elements most_networks",
        shunt_speed: "out workers",
        speed_torque_line: "supply_voltage added_field_resistance added_armature_resistance field_voltage source_voltage"
        " line_resistance points armature_current quantities",
        starter_steps: "brush_drop",
        starting_resistance: "limit field_current brush_drop back_emf",
        steady_state: "supply_voltage load load_torque added_field_resistance added_armature_resistance field_voltage"
        " source_voltage line_resistance field_resistance armature_resistance brush_drop quantities all_solutions workers out",
    }
    for function, names in named.items():
        given = signature(function).parameters.values()
        assert [one.name for one in given if one.kind is one.KEYWORD_ONLY] == names.split()
        assert not [one.name for one in given if one.kind is one.POSITIONAL_ONLY]


def test_names_are_offered_or_told_what_is_near() -> None:
    assert wanted_names(None) == QUANTITIES
    assert wanted_names("speed") == ("speed",)
    assert wanted_names(iter(["speed", "k_phi"])) == ("speed", "k_phi")
    words = told(wanted_names, ["speed", "sped"])
    assert words.startswith("quantities has 'sped', which a steady state does not offer; near to it: speed")
    assert len(words.split("near to it: ")[1].split(", ")) <= 3
    words = told(wanted_names, ["xyzzy"])
    assert words == f"quantities has 'xyzzy', which a steady state does not offer; offered: {', '.join(QUANTITIES)}"


def test_marks_take_no_memory_until_one_differs() -> None:
    marks = Marks(6)
    marks.put_one("status", np.zeros(3, np.uint8), slice(0, 3))
    marks.put_one("stable", True, slice(0, 3))
    assert marks.array("status", (2, 3)).tolist() == [[0, 0, 0]] * 2
    assert marks.array("stable", (6,)).strides == (0,)
    assert not marks.array("status", (6,)).flags.writeable
    marks.put_one("status", np.array([0, 10], np.uint8), np.array([1, 4]))
    marks.put_one("status", np.zeros(1, np.uint8), slice(4, 5))  # plain again: written, now that there is an array
    marks.put_one("status", np.full(2, 13, np.uint8), slice(2, 4))
    marks.put_one("stable", False, slice(5, 6))
    marks.put_one("field_loss", True, slice(0, 1))
    assert marks.array("status", (6,)).tolist() == [0, 0, 13, 13, 0, 0]
    assert marks.array("stable", (3, 2)).tolist() == [[True, True], [True, True], [True, False]]
    assert marks.array("field_loss", (6,)).tolist() == [True] + [False] * 5
    assert marks.array("extrapolated", (6,)).tolist() == [False] * 6
    solved = SimpleNamespace(status=None, stable=False, field_loss=True, extrapolated=True)
    marks.put(solved, slice(1, 2))  # type: ignore[arg-type]  # no status: all is well
    assert marks.array("extrapolated", (6,)).tolist() == [False] * 6
    solved.status = np.array([2], np.uint8)
    marks.put(solved, slice(1, 2))  # type: ignore[arg-type]
    assert [marks.array(name, (6,))[1] for name in ("status", "stable", "field_loss", "extrapolated")] == [2, 0, 1, 1]


# --- standards


def test_a_standard_that_is_not_stored_is_told_with_those_that_are(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(
        KeyError, match=r"no 'x' in standards/preferred_numbers\.toml; it has preferred-resistances, pref"
    ):
        standard_value("preferred_numbers", "x")
    bands = [{"below": 1.0, "percent": 8.0}, {"below": 2.0, "percent": 4.0}]
    monkeypatch.setattr(standards, "standard_value", lambda name, identity: {"bands": bands})
    # 1500 W at 1500 r/min are 1 W per r/min, which is the second band's
    assert [speed_tolerance(watts, 1500.0) for watts in (1499.0, 1500.0, 2999.0)] == [0.08, 0.04, 0.04]
    assert told(speed_tolerance, 3000.0, 1500.0) == "the speed tolerance table has no last band without an upper edge"


# --- sweeps


def sweep(**changes: Any) -> Sweep:
    given: dict[str, Any] = {
        "machine": bench(),
        "settings": {"load_torque": [10.0, 401.0, 20.0], "supply_voltage": [100.0, 50.0]},
        "quantities": ["speed", "load_torque", "speed", "armature_current"],
        "chunk": 4,
    }
    return Sweep(**{**given, **changes})


def test_the_points_of_a_sweep_by_hand() -> None:
    # I = T/k with k = U/50; omega = (U - I/2)/k; 50 V stall at 1 V s/rad * 100 A = 100 N m, 100 V at 400 N m
    s = sweep()
    assert (s.shape, s.size, s.chunk_count) == ((3, 2), 6, 2)
    assert s.columns == ("load_torque", "supply_voltage", "speed", "armature_current", "status")
    assert s.quantities == ("speed", "load_torque", "armature_current")
    first, second = s.chunks()
    assert first["load_torque"].tolist() == [10.0, 10.0, 401.0, 401.0]
    assert first["supply_voltage"].tolist() == [100.0, 50.0, 100.0, 50.0]
    assert first["speed"][:2].tolist() == pytest.approx([48.75, 45.0])
    assert first["status"].tolist() == [0, 0, 10, 10]
    assert first["status"].dtype == np.uint8
    assert np.isnan(first["armature_current"]).tolist() == [False, False, True, True]
    assert (second["speed"].tolist(), second["armature_current"].tolist()) == (
        pytest.approx([47.5, 40.0]),
        [10.0, 20.0],
    )
    assert sweep(chunk=6).chunk_count == sweep(chunk=10_000_000).chunk_count == 1
    assert sweep(chunk=1).chunk_count == 6
    assert sweep(settings={"supply_voltage": 100.0}, load=ProportionalTorque(1.0, 50.0)).compute(0)[
        "armature_current"
    ].tolist() == pytest.approx([0.5 / (1.0 + 0.0025)])  # T = omega/50 = 2 I, omega = 50 - I/4


def test_a_sweep_as_text() -> None:
    s = sweep(quantities=["armature_current"])
    assert s.heading() == b"load_torque [N m],supply_voltage [V],armature_current [A],status\n"
    assert s.csv_rows(0) == b"10.0,100.0,5.0,0\n10.0,50.0,10.0,0\n401.0,100.0,,10\n401.0,50.0,,10\n"
    assert s.csv_rows(1) == b"20.0,100.0,10.0,0\n20.0,50.0,20.0,0\n"


def test_a_sweep_is_written_over_an_older_file_and_only_into_a_folder(tmp_path: Path) -> None:
    s, target = sweep(quantities=["armature_current"]), tmp_path / "sweep.csv"
    target.write_bytes(b"old")
    assert s.write_csv(str(target)) == 6
    assert target.read_bytes() == s.heading() + s.csv_rows(0) + s.csv_rows(1)
    assert s.write_csv(target, lambda function, numbers: [function(n) for n in numbers]) == 6
    assert [path.name for path in tmp_path.iterdir()] == ["sweep.csv"]
    with pytest.raises(FileNotFoundError, match="the folder does not exist") as caught:
        s.write_csv(target / "inner.csv")
    assert (caught.value.errno, caught.value.filename) == (2, str(target))


def test_a_sweep_as_parquet_has_a_group_of_rows_for_each_chunk(tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    assert sweep().write_parquet(tmp_path / "sweep.parquet") == 6
    file = parquet.ParquetFile(tmp_path / "sweep.parquet")
    assert [file.metadata.row_group(i).num_rows for i in range(file.metadata.num_row_groups)] == [4, 2]
    assert [str(kind) for kind in file.schema_arrow.types] == ["double"] * 4 + ["uint8"]
    assert file.schema_arrow.names == list(sweep().columns)
    units = {key: unit for key, unit in file.schema_arrow.metadata.items() if key.startswith(b"unit of ")}
    assert units == {b"unit of load_torque": b"N m", b"unit of supply_voltage": b"V", b"unit of speed": b"rad/s",
                     b"unit of armature_current": b"A"}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"chunk": 0}, "chunk is 0.0; a whole number from 1 to 10 000 000 is needed"),
        ({"chunk": 10_000_001}, "chunk is 10000001.0; a whole number from 1 to 10 000 000 is needed"),
        ({"chunk": 2.0}, "chunk is 2.0; a whole number from 1 to 10 000 000 is needed"),
        ({"settings": {}}, "settings is empty; at least the supply voltage is needed"),
        ({"quantities": ()}, "quantities is empty; at least one is needed"),
        ({"settings": {"supply_voltage": []}},
         "supply_voltage is []; a number or a one-dimensional array with at least one value is needed"),
        ({"settings": {"supply_voltage": [[1.0, 2.0]]}},
         "supply_voltage is [[1.0, 2.0]]; a number or a one-dimensional array with at least one value is needed"),
        ({"settings": {"load_torque": [1.0, math.inf]}}, "load_torque is inf N m at index 1; a finite number is needed"),
        ({"settings": {"field_resistance": [1.0, 0.0]}},
         "field_resistance is 0.0 ohm at index 1; a finite number above zero is needed"),
        ({"settings": {"pace": 1.0}},
         "settings has 'pace'; what can be set: supply_voltage, source_voltage, field_voltage, field_resistance,"
         " added_field_resistance, armature_resistance, added_armature_resistance, brush_drop, line_resistance, target,"
         " load_torque"),
    ],
)  # fmt: skip
def test_a_sweep_that_cannot_be_is_told_in_these_words(changes: dict[str, Any], words: str) -> None:
    assert told(sweep, **changes) == words


def test_chunks_are_counted_from_nought() -> None:
    for number in (-1, 2):
        assert told(sweep().compute, number) == f"number is {float(number)}; a chunk from 0 to 1 is needed"
    asked = []

    def gather(function: Any, numbers: Any) -> list[Any]:
        asked.append(list(numbers))
        return [function(number) for number in numbers]

    assert list(in_windows(gather, 3)(lambda n: 10 * n, range(7))) == [0, 10, 20, 30, 40, 50, 60]
    assert asked == [[0, 1, 2], [3, 4, 5], [6]]


# --- the line


def test_a_line_by_hand_with_losses_brushes_and_a_generating_end() -> None:
    machine = bench(brush_drop=2.0, loss_torque=ProportionalTorque(1.0, 50.0))
    line = speed_torque_line(
        machine, supply_voltage=100.0, added_armature_resistance=0.5, armature_current=[-10.0, 0, 8]
    )
    # E = 100 - I - 2 sign(I): 112, 100 and 90 V with 2 V s/rad
    assert line.back_emf.tolist() == pytest.approx([112.0, 100.0, 90.0])
    assert line.speed.tolist() == pytest.approx([56.0, 50.0, 45.0])
    assert line.electromagnetic_torque.tolist() == pytest.approx([-20.0, 0.0, 16.0])
    assert line.loss_torque.tolist() == pytest.approx([1.12, 1.0, 0.9])
    assert line.load_torque.tolist() == pytest.approx([-21.12, -1.0, 15.1])
    assert line.line_current.tolist() == pytest.approx([-9.0, 1.0, 9.0])
    assert (line.status.tolist(), line.stable.tolist(), line.shape) == ([0, 0, 0], [True] * 3, (3,))
    assert not line.field_loss.any()
    assert not line.extrapolated.any()
    # at standstill 98 V over 1 ohm
    whole = speed_torque_line(
        machine, supply_voltage=100.0, added_armature_resistance=0.5, points=2, quantities=["speed"]
    )
    assert (whole.quantities, whole.speed.tolist()) == (("speed",), [50.0, 0.0])
    three = speed_torque_line(machine, supply_voltage=100.0, added_armature_resistance=0.5, points=3)
    assert three.armature_current.tolist() == pytest.approx([0.0, 49.0, 98.0])
    assert len(speed_torque_line(bench(), supply_voltage=100.0, quantities=["speed"]).speed) == 201
    one = speed_torque_line(machine, supply_voltage=100.0, armature_current=8.0, quantities=["speed"])
    assert one.speed.tolist() == pytest.approx([47.0])


@pytest.mark.parametrize("volts", [100.0, 110.0, 117.3, 123.456, 230.0, 241.7])
def test_the_end_of_the_line_is_standstill_to_the_last_digit(volts: float) -> None:
    for ohms in (0.3, 0.7, 1.1):
        line = speed_torque_line(bench(armature_resistance=ohms, brush_drop=1.3), supply_voltage=volts, points=7)
        assert line.speed[-1] == 0.0
        assert line.back_emf[-1] == 0.0
        assert (line.speed[:-1] > 1.0).all()
        beyond = speed_torque_line(
            bench(armature_resistance=ohms), supply_voltage=volts, armature_current=[volts / ohms * (1.0 - 1e-13)]
        )
        assert beyond.speed[0] > 0.0  # five hundred times the last digit is no rounding


def test_a_line_beyond_its_flux_and_its_table_says_so() -> None:
    # a table from 0.5 A on, continued in a straight line: 60 V at 0.5 A and 110 V at 1 A, at 100 rad/s, so none at -0.1 A
    table = TableFlux((0.5, 1.0), (60.0, 110.0), 3000.0 / math.pi, "flag")
    ok = speed_torque_line(bench(flux=table), supply_voltage=100.0, armature_current=[1.0, 2.0])
    assert ok.status.tolist() == [0, 0]
    short = speed_torque_line(bench(flux=table), supply_voltage=40.0, armature_current=[1.0, 2.0])
    assert short.status_text.tolist() == ["extrapolated"] * 2
    assert short.extrapolated.tolist() == [True] * 2
    assert short.speed.tolist() == pytest.approx([39.5 / 0.5, 39.0 / 0.5])
    lost = speed_torque_line(bench(), supply_voltage=100.0, added_field_resistance=0.0, armature_current=[1.0, 2.0])
    assert lost.status.tolist() == [0, 0]
    remanent = bench(flux=FroehlichFlux(1.6, 0.9, 0.1), connection="separate")
    gone = speed_torque_line(remanent, supply_voltage=100.0, field_voltage=0.0, armature_current=[10.0])
    assert (gone.status_text.tolist(), gone.field_loss.tolist()) == (["field-loss"], [True])
    assert gone.speed.tolist() == pytest.approx([950.0])
    nothing = speed_torque_line(
        bench(connection="separate"), supply_voltage=100.0, field_voltage=0.0, armature_current=[10.0, 20.0]
    )
    assert nothing.status_text.tolist() == ["no-solution"] * 2
    assert np.isnan(nothing.speed).all()
    assert nothing.armature_current.tolist() == [10.0, 20.0]
    assert nothing.supply_voltage.tolist() == [100.0, 100.0]


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ({"points": 1}, "points is 1; a whole number from 2 to 1000000 is needed"),
        ({"points": 1_000_001}, "points is 1000001; a whole number from 2 to 1000000 is needed"),
        ({"points": 2.0}, "points is 2.0; a whole number from 2 to 1000000 is needed"),
        ({"armature_current": []}, "armature_current is []; a list of numbers is needed"),
        ({"added_field_resistance": [1.0, 2.0]},
         "added_field_resistance is 'an array of shape (2,)'; one number, for one line, is needed"),
        ({"supply_voltage": 0.0}, "this line never comes to standstill (no resistance in the armature circuit, or no voltage"
                                  " above the brush drop); give armature_current"),
    ],
)  # fmt: skip
def test_a_line_that_cannot_be_is_told_in_these_words(setting: dict[str, Any], words: str) -> None:
    assert told(speed_torque_line, bench(), **{"supply_voltage": 100.0, **setting}) == words


# --- networks


def test_the_networks_of_a_small_kit_by_hand() -> None:
    ten, twenty = Resistor(10.0, 10.0, count=2), Resistor(20.0, 10.0)
    found = search_networks([ten, twenty], most_elements=3)
    # one: 10, 20; two: 5, 20, 6.67, 30; three: 4, 40, 25 and 30||10, 20||20, (10||20)+10, (10||10)+20, and so on
    by_hand = [10.0, 20.0, 5.0, 20.0, 20.0 / 3.0, 30.0, 4.0, 40.0, 25.0, 10.0, 7.5, 50.0 / 3.0]
    assert [network.resistance for network in found.networks] == pytest.approx(sorted(by_hand))
    assert (found.elements, found.complete) == (3, True)
    names = [str(network) for network in found.networks]
    assert names == [str(network) for network in sorted(
        found.networks, key=lambda network: (round(network.resistance, 9), network.elements, str(network))
    )]  # fmt: skip
    assert search_networks([ten, twenty], most_elements=6).elements == 3  # there are no more
    assert search_networks([ten], most_elements=1).elements == 1


def test_a_search_stops_before_the_size_that_would_be_too_many() -> None:
    kit = [Resistor(1.0, 1.0, count=5)]  # 1, 2, 4, 10 networks of 1 to 4: 1, 3, 7, 17 in all
    for most, depth, count, complete in (
        (17, 4, 17, True),
        (16, 3, 7, False),
        (7, 3, 7, False),
        (6, 2, 3, False),
        (2, 1, 1, False),
    ):
        found = search_networks(kit, most_elements=4, most_networks=most)
        assert (found.elements, len(found.networks), found.complete) == (depth, count, complete)
    for most in (0, 7):
        words = told(search_networks, kit, most_elements=most)
        assert words == f"most_elements is {most}; 1 to 6 resistors in one network are searched"


def test_the_nearest_network_is_the_simplest_within_a_percent_that_carries_the_current() -> None:
    kit = search_networks(
        [Resistor(10.0, 10.0, count=4), Resistor(10.04, 1000.0), Resistor(10.2, 1000.0)], most_elements=4
    )

    def nearest(ohms: float, **more: Any) -> list[str]:
        return [str(network) for network in nearest_networks(kit, ohms, **more)]

    assert nearest(10.04, current=0.1) == ["10 ohm"]  # 0.4 % off counts as none, and comes first
    assert nearest(10.04, current=0.1, count=2) == ["10 ohm", "10.04 ohm"]
    assert nearest(10.04, current=1.01) == ["10.04 ohm"]  # 10 ohm and 10 W carry 1 A
    assert nearest(10.0, current=1.0) == ["10 ohm"]
    assert nearest(10.0, current=1.0, highest_share=0.99) == ["10.04 ohm"]
    assert nearest(10.2, current=0.1) == ["10.2 ohm"]
    assert nearest(10.0, current=30.0) == []
    assert told(nearest_networks, kit, 0.0) == "resistance is 0.0; a finite number above zero is needed"


# --- tapes


def run(recorder: Recorder, wanted: list[Any], *inputs: Any) -> list[list[float]]:
    tape = Tape(recorder, wanted)
    out = [np.empty(2) for _ in wanted]
    tape.run([np.array(x) for x in inputs], tape.buffers(2, np.float64), out)
    return [array.tolist() for array in out]


def test_every_operation_is_written_down_as_it_is() -> None:
    recorder = Recorder(2)
    x: Any = recorder.input(0)
    y: Any = recorder.input(1)
    wanted = [x + 3.0, 3.0 + x, x - 3.0, 3.0 - x, x * 3.0, 3.0 * x, x / 4.0, 4.0 / x, -x, x + y, x - y, x * y, x / y,
              np.sqrt(y), np.subtract(5.0, y), x]  # fmt: skip
    assert run(recorder, wanted, [2.0, 8.0], [4.0, 16.0]) == [
        [5.0, 11.0], [5.0, 11.0], [-1.0, 5.0], [1.0, -5.0], [6.0, 24.0], [6.0, 24.0], [0.5, 2.0], [2.0, 0.5],
        [-2.0, -8.0], [6.0, 24.0], [-2.0, -8.0], [8.0, 128.0], [0.5, 0.5], [2.0, 4.0], [1.0, -11.0], [2.0, 8.0],
    ]  # fmt: skip


def test_nothing_added_is_nothing_written_down() -> None:
    recorder = Recorder(1)
    x = recorder.input(0)
    assert x + 0.0 is x
    assert x - 0.0 is x
    assert 0.0 + x is x
    assert recorder.steps == []
    assert isinstance(0.0 - x, Traced)
    assert isinstance(x + 1.0, Traced)
    assert isinstance(x - 1.0, Traced)
    assert len(recorder.steps) == 3


def test_what_a_tape_cannot_write_down_is_no_operation_on_it() -> None:
    x: Any = Recorder(1).input(0)
    with pytest.raises(TypeError):
        np.add.reduce(x)
    with pytest.raises(TypeError):
        np.add(x, 1.0, out=np.empty(2))
    with pytest.raises(TypeError):
        np.modf(x)


def test_a_result_put_right_keeps_its_operands_until_then() -> None:
    recorder = Recorder(2)
    x, y = recorder.input(0), recorder.input(1)
    top, bottom = x + 1.0, y + 1.0
    quotient = top / bottom

    def correct(over: Any, under: Any, result: Any) -> None:
        result[under < 0.0] = over[under < 0.0]  # the operands as they were

    recorder.amend(quotient, correct)
    assert run(recorder, [quotient * 2.0], [3.0, 7.0], [1.0, -5.0]) == [[4.0, 16.0]]
    assert run(recorder, [quotient], [3.0, 7.0], [1.0, -5.0]) == [[2.0, 8.0]]


def test_only_what_is_wanted_is_worked_out_and_buffers_are_handed_on() -> None:
    recorder = Recorder(1)
    x = recorder.input(0)
    unwanted = x * 100.0
    chain = x
    for _ in range(10):
        chain = chain + 1.0
    tape = Tape(recorder, [chain])
    assert (tape.count, len(tape.steps)) == (1, 10)
    assert [buffer.shape for buffer in tape.buffers(5, np.float32)] == [(5,)]
    assert tape.buffers(5, np.float32)[0].dtype == np.float32
    assert run(recorder, [chain, 7.0, unwanted, chain, x], [1.0, 2.0]) == [
        [11.0, 12.0], [7.0, 7.0], [100.0, 200.0], [11.0, 12.0], [1.0, 2.0],
    ]  # fmt: skip


# --- very many speeds


def test_blocks_are_shared_out_evenly_and_all_of_them() -> None:
    for count, workers, parts in ((0, 3, 0), (1, 2, 1), (7, 1, 4), (9, 2, 8), (100, 3, 12)):
        starts = range(0, count * 65536, 65536)
        shares = bulk._shares(starts, workers)
        assert len(shares) == parts
        assert [start for share in shares for start in share] == list(starts)
        assert max(map(len, shares), default=0) - min(map(len, shares), default=0) <= 1


def test_standstill_by_rounding_is_standstill_and_a_little_beyond_is_beyond() -> None:
    # c U^2/(R_f R_a) = 2*1e4/(100*0.5) = 400 N m at standstill
    eps = np.finfo(float).eps
    torque = 400.0 * np.array([1.0 - 4.0 * eps, 1.0, 1.0 + 4.0 * eps, 1.0 + 7.9 * eps, 1.0 + 20.0 * eps, 2.0])
    found = shunt_speed(100.0, 2.0, 100.0, 0.0, 0.5, 0.0, torque)
    assert found.speed[:4].tolist() == pytest.approx([0.0] * 4, abs=1e-12)
    assert (found.speed[:4] >= 0.0).all()
    assert np.isnan(found.speed[4:]).all()
    assert found.status.tolist() == [0, 0, 0, 0, 10, 10]
    assert found.status.dtype == np.uint8
    split = shunt_speed(100.0, 2.0, 60.0, 40.0, 0.2, 0.3, torque[[1, 5]])
    assert split.status.tolist() == [0, 10]


def test_one_speed_and_speeds_however_their_inputs_lie() -> None:
    one = shunt_speed(100, 2.0, 100.0, 0, 0.5, 0, 10)
    assert one.speed.shape == ()
    assert float(one.speed) == pytest.approx(48.75)
    assert int(one.status) == 0
    torque = np.array([[10.0, 20.0], [30.0, 500.0]])
    found = shunt_speed(100.0, np.array([[2.0], [2.0]]), 100.0, np.array([0.0]), 0.5, 0.0, torque.T)
    assert found.speed.tolist() == [
        pytest.approx([48.75, 46.25]),
        [pytest.approx(47.5), pytest.approx(math.nan, nan_ok=True)],
    ]
    assert found.status.tolist() == [[0, 0], [0, 10]]
    out = np.empty((2, 2))
    assert shunt_speed(100.0, 2.0, 100.0, 0.0, 0.5, 0.0, torque, out=out, workers=3).speed is out
    small = shunt_speed(100.0, 2.0, 100.0, 0.0, 0.5, 0.0, torque.astype(np.float32))
    assert small.speed.dtype == np.float32
    for workers in (0, -1, 1.0, True):
        words = told(shunt_speed, 100.0, 2.0, 100.0, 0.0, 0.5, 0.0, torque, workers=workers)
        assert words == f"workers is {workers!r}; a whole number from 1 is needed"
    words = told(shunt_speed, 100.0, 2.0, 100.0, 0.0, 0.5, 0.0, torque, out=np.empty(4))
    assert words == "out is float64 (4,); a C-contiguous float64 array of shape (2, 2) is needed"
    assert told(shunt_speed, 100.0, 2.0, 100.0, 0.0, 0.5, 0.0, torque, out=torque) == (
        "out shares memory with an input; an array of its own is needed"
    )


# --- what has no value, and what stays as it was made


@pytest.mark.parametrize(
    ("volts", "torque", "quantity", "value", "limit"),
    [
        (40.0, 0.0, "effective_field_current", 0.4, 0.5),
        (120.0, 0.0, "effective_field_current", 1.2, 1.0),
        (100.0, 22.0, "armature_current", 20.0, 10.0),  # 1.1 V s/rad, and nothing lost: 20 A
        (100.0, -22.0, "armature_current", -20.0, -5.0),
    ],
)
def test_outside_a_table_the_end_that_was_passed_is_told(
    volts: float, torque: float, quantity: str, value: float, limit: float
) -> None:
    table = TableFlux((0.5, 1.0), (60.0, 110.0), 3000.0 / math.pi)
    machine = bench(flux=table, armature_reaction=TableReaction((-5.0, 10.0), (0.0, 0.0)))
    with pytest.raises(InfeasibleError) as caught:
        steady_state(machine, supply_voltage=volts, load_torque=torque)
    error = caught.value
    assert (error.status, error.quantity) == (Status.OUTSIDE_TABLE, quantity)
    assert error.value == pytest.approx(value, rel=1e-6)
    assert error.limit == limit


@pytest.mark.parametrize("current", [-0.5, 0.5, -1e-9, 1e-9])
def test_a_loss_of_flux_grows_with_the_current_in_either_direction_from_the_very_first(current: float) -> None:
    # 2 V s/rad less 0.25 % per ampere
    slope = FluxLoss(10.0, 40.0).k_phi_slope_at(ProportionalFlux(2.0), 1.0, 0.0, current)
    assert slope == pytest.approx(math.copysign(0.005, -current), rel=1e-12)


def test_the_parts_of_a_machine_cannot_be_changed_afterwards() -> None:
    parts: tuple[tuple[Any, str], ...] = (
        (ProportionalFlux(1.0), "flux_constant"),
        (FroehlichFlux(1.0, 1.0), "froehlich_a"),
        (TableFlux((0.0, 1.0), (0.0, 1.0), 100.0), "speed_rpm"),
        (NoReaction(), "absent"),
        (ProportionalReaction(0.1), "reaction_coefficient"),
        (TableReaction((0.0, 1.0), (0.0, 1.0)), "extrapolate"),
        (FluxLoss(1.0, 1.0), "percent"),
        (ConstantTorque(1.0), "load_torque"),
        (ProportionalTorque(1.0), "speed"),
        (SquareTorque(1.0), "speed"),
        (ConstantPower(1.0), "output_power"),
        (UserLoad(abs), "function"),
        (SumLoad((ConstantTorque(1.0),)), "loads"),
        (bench(), "flux"),
        (Resistor(1.0, 1.0), "count"),
        (single(Resistor(1.0, 1.0)), "kind"),
        (sweep(), "chunk"),
    )
    for part, name in parts:
        with pytest.raises(FrozenInstanceError):
            setattr(part, name, 3)


@pytest.mark.parametrize("ratio", [1.5, 3.0, 8.0])
def test_a_load_that_drives_a_machine_slowly_behind_a_line_needs_a_strong_field(ratio: float) -> None:
    """20 rad/s with ratio times the flux of no load: the armature's EMF is ratio times 100 V, less the drop in the line."""
    k_phi, line = ratio * 100.0 / 20.0, 0.01
    machine = Machine(armature_resistance=0.49, field_resistance=1.0, flux=ProportionalFlux(1.0), line_resistance=line)
    # k I is the torque, E = 20 k; the source gives I + I_f through the line, and I_f = k
    current = (100.0 - 20.0 * k_phi - line * k_phi) / 0.5
    values = {"armature_resistance": 0.49, "added_armature_resistance": 0.0, "source_voltage": 100.0,
              "line_resistance": line, "brush_drop": 0.0}  # fmt: skip
    found, drawn, volts, _ = k_phi_for_target(values, 20.0, k_phi * current, machine, True, weak=False)
    assert found[0] == pytest.approx(k_phi, rel=1e-9)
    assert drawn[0] == pytest.approx(current, rel=1e-9)
    assert volts[0] == pytest.approx(100.0 - line * (current + k_phi), rel=1e-9)
