"""Inputs that once got past a reader, or out of it in the wrong way: each is refused, in one line and in its words."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from shuntref import Machine, ProportionalFlux, steady_state
from shuntref.bench.error_sources import ErrorSource, Estimates
from shuntref.bench.guess import guess_machine
from shuntref.bench.instruments import instrument_from_table
from shuntref.bench.readings import read_log
from shuntref.conformance.answers import read_answers
from shuntref.conformance.mapping import read_setting
from shuntref.conformance.suite import load_suite
from shuntref.exercises.library import reference_exercise
from shuntref.exercises.statement import ExerciseError
from shuntref.exercises.verdict import judge
from shuntref.quantities.spreadsheet import SheetError, read_sheet
from shuntref.quantities.text import QuantityError, read_value

BENCH = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))


@pytest.mark.parametrize("text", ["0e999 A", "0.00000e999 A", "0e320 A"])
def test_a_nought_whose_last_digit_is_beyond_all_numbers_is_no_value(text: str) -> None:
    with pytest.raises(QuantityError, match="not finite"):
        read_value("armature_current", text)


@pytest.mark.parametrize("text", ["0e999 A", "0e5 A", "0 A"])
def test_a_nought_is_not_right_because_its_last_digit_is_large(text: str) -> None:
    exercise = reference_exercise("bird-22-shunt-motor-circuit")
    try:
        verdict = judge(exercise, "armature-current", text)
    except ExerciseError:
        assert text == "0e999 A"
    else:
        assert not verdict.is_right


def test_an_answer_that_overflows_in_another_unit_is_judged_in_its_own() -> None:
    verdict = judge(reference_exercise("bird-22-shunt-motor-circuit"), "armature-current", "1e308 A")
    assert verdict.status == "wrong"


@pytest.mark.parametrize("cell", ["0.751e400", "9" * 400, "-1e999"])
def test_a_cell_larger_than_any_number_is_no_number(cell: str) -> None:
    sheet = read_sheet(f"run,U [V]\n1,{cell}\n2,120.5\n")
    with pytest.raises(SheetError, match="too large"):
        sheet.number(sheet.rows[0].cells[1])


def test_a_number_with_its_comma_last_is_refused_as_a_cell() -> None:
    sheet = read_sheet("U [V];n [r/min]\n120.5;157,\n")
    with pytest.raises(SheetError, match="'157,' is not a number"):
        sheet.number("157,")


def test_readings_whose_deviation_would_overflow_are_refused() -> None:
    log = read_log("run,U [V],n [r/min]\n1,1e200,1500\n1,2e200,1500\n2,120,1500\n")
    assert [run.name for run in log.runs] == ["2"]
    assert all(
        "larger than anything that is measured" in line.reason for line in log.lines if line.outcome == "refused"
    )


@pytest.mark.parametrize("name", ["supply_voltage", "source_voltage"])
def test_a_voltage_above_zero_is_of_ordinary_size(name: str) -> None:
    with pytest.raises(ValueError, match=rf"{name} is 1e-300 V; a number of ordinary size"):
        steady_state(BENCH, load_torque=-5.0, **{name: 1e-300})  # driven that fast, the speed was infinite
    with pytest.raises(ValueError, match=rf"{name} is 1e-300 V at index 1"):
        steady_state(BENCH, load_torque=np.array([-5.0, -5.0]), **{name: np.array([0.0, 1e-300])})


def test_the_least_voltage_still_has_finite_speeds() -> None:
    state = steady_state(BENCH, supply_voltage=1e-30, load_torque=-1e30, added_field_resistance=1e30)
    assert math.isfinite(state.speed)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"kind": ["voltmeter"]}, r"kind = \['voltmeter'\]"),
        ({"reads": 1.5}, "reads = 1.5"),
        ({"reads": [["supply_voltage"]]}, "reads = "),
        (7, "a table is wanted, not 7"),
    ],
)
def test_an_instrument_of_the_wrong_type_is_refused_by_name(table: object, words: str) -> None:
    with pytest.raises(ValueError, match=f"instrument 'meter': {words}"):
        instrument_from_table("meter", table)  # type: ignore[arg-type]


def test_a_rated_speed_that_vanishes_in_other_units_is_refused() -> None:
    plate = {"rated_supply_voltage": 120.0, "rated_line_current": 9.5, "rated_output_power": 900.0}
    with pytest.raises(ValueError, match="rated_speed_rpm is"):
        guess_machine({**plate, "rated_speed_rpm": 5e-324}, {})


@pytest.mark.parametrize("text", ["[{}]\n", "{} = 1\n", "[back_emf]\n{} = 1\n"])
def test_a_message_about_a_long_name_is_short(tmp_path: Path, text: str) -> None:
    file = tmp_path / "mapping.toml"
    file.write_text(text.format("a" * 20_000), encoding="utf-8")
    with pytest.raises(ValueError) as refused:
        read_setting(file, load_suite())
    assert len(str(refused.value)) < 1_000


def test_uncertainties_whose_squares_overflow_are_still_numbers() -> None:
    sources = (ErrorSource("x", "one error", "x"), ErrorSource("y", "another", "y"))
    table = Estimates(("a", "b"), np.zeros(2), sources, np.array([[3e200, 4e200], [0.0, 2.0]]))
    assert table.standard_uncertainties == pytest.approx([5e200, 2.0])


def test_a_file_name_that_is_no_text_is_told_in_one_line(command_line: Callable[..., tuple[int, str, str]]) -> None:
    status, out, err = command_line("conform", "\ud800")
    assert (status, out) == (2, "")
    assert err.startswith("shuntref: ")
    assert err.count("\n") == 1
    err.encode("utf-8")  # a lone surrogate would not go


def test_a_message_about_a_long_heading_of_answers_is_short(tmp_path: Path) -> None:
    path = tmp_path / "answers.csv"
    path.write_text(f"id,answer back_emf [V]{'1' * 1500}\na,1\n", encoding="utf-8")
    with pytest.raises(
        ValueError, match=r"column 'answer back_emf \[V\]1+\.\.\.' answers nothing that is asked"
    ) as caught:
        read_answers(path, load_suite())
    assert len(str(caught.value)) < 1200
