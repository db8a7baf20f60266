"""Failures are told with units: the suite's, and beside them the implementer's own where that is another."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shuntref.conformance.answers import read_answers
from shuntref.conformance.functions import function
from shuntref.conformance.judge import Answer, judge
from shuntref.conformance.lab_tests import PytestCase
from shuntref.conformance.mapping import Setting, bind, plain_binding
from shuntref.conformance.protocol import Reply
from shuntref.conformance.report import report_text
from shuntref.conformance.scale import scale_of
from shuntref.conformance.score import Outcome, Score
from shuntref.conformance.suite import Case, Suite, load_suite
from shuntref.conformance.targets import _answer_from

D = Decimal
#: 50 pi rad/s are 1500 r/min
CERTIFIED = "157.0796326794896619231322"
SPEED = Case("speed-a", "speed", "speed", 1, {"supply_voltage": 120.0}, "valid", {"speed": CERTIFIED})


def came(name, value, unit, scale=None):
    """What a program's own number becomes on the way in, with the unit it was in."""
    scale = scale or scale_of(name, unit)
    inward = tuple(map(scale.inward, value)) if isinstance(value, tuple) else scale.inward(value)
    return Answer("values", {name: inward}, units={name: (unit, scale)})


def told(expected, answer):
    return judge(Case("a", "speed", "speed", 1, {}, "valid", expected), answer).reason


def test_a_speed_in_revolutions_is_told_in_both_units():
    # 1440 r/min are 48 pi rad/s, 150.79644737...
    assert told({"speed": CERTIFIED}, came("speed", 1440.0, "r/min")) == (
        "speed = 150.7964474 rad/s, certified 157.0796327 rad/s (in r/min: 1440, certified 1500)"
    )


@pytest.mark.parametrize(
    ("name", "expected", "given", "unit", "words"),
    [
        ("efficiency", "0.84", 85.0, "%", "efficiency = 0.85, certified 0.84 (in %: 85, certified 84)"),
        ("armature_current", "8", 7500.0, "mA", "armature_current = 7.5 A, certified 8 A (in mA: 7500, certified 8000)"),
        # 20 degC are 68 degF and 25 degC are 77 degF: the zero moves as well
        ("winding_temperature", "25", 68.0, "degF",
         "winding_temperature = 20 degC, certified 25 degC (in degF: 68, certified 77)"),
        ("section_resistance", ("1", "2"), (1500.0, 2000.0), "mohm",
         "section_resistance = [1.5, 2] ohm, certified [1, 2] ohm (in mohm: [1500, 2000], certified [1000, 2000])"),
        ("speed", "100", float("inf"), "r/min",
         "speed = inf rad/s, certified 100 rad/s (in r/min: inf, certified 954.9296586)"),
    ],
)  # fmt: skip
def test_every_kind_of_unit(name, expected, given, unit, words):
    assert told({name: expected}, came(name, given, unit)) == words


@pytest.mark.parametrize(
    ("name", "unit", "words"),
    [
        ("speed", "rad/s", "speed = 12 rad/s, certified 10 rad/s"),
        ("armature_current", "A", "armature_current = 12 A, certified 10 A"),
        ("armature_resistance", "Ω", "armature_resistance = 12 ohm, certified 10 ohm"),  # another spelling, not another unit
        ("efficiency", "1", "efficiency = 12, certified 10"),
    ],
)  # fmt: skip
def test_the_suites_own_unit_is_said_once(name, unit, words):
    assert told({name: "10"}, came(name, 12.0, unit)) == words


def test_only_what_came_in_another_unit_is_told_in_it():
    both = Answer(
        "values", {"speed": D(1), "k_phi": D(2)}, units={"k_phi": ("mV s/rad", scale_of("k_phi", "mV s/rad"))}
    )
    assert told({"speed": "3", "k_phi": "4"}, both) == (
        "speed = 1 rad/s, certified 3 rad/s; "
        "k_phi = 2 V s/rad, certified 4 V s/rad (in mV s/rad: 2000, certified 4000)"
    )  # fmt: skip


def test_an_answer_to_what_must_be_refused_is_told_in_both_units():
    refused = Case("a", "speed", "speed", 1, {}, "invalid")
    assert judge(refused, came("speed", -1500.0, "r/min")).reason == (
        "answered what must be refused: speed = -157.0796327 rad/s (-1500 r/min)"
    )
    assert judge(refused, came("speed", -4.0, "rad/s")).reason == "answered what must be refused: speed = -4 rad/s"


def test_a_program_that_answers_in_its_own_unit_is_told_its_own_numbers():
    binding = bind(function("speed"), {"result": "r/min"})
    answer = _answer_from(Reply("result", 1, 1440.0), binding, 0.0)
    assert judge(SPEED, answer).reason.endswith("(in r/min: 1440, certified 1500)")
    plain = _answer_from(Reply("result", 1, 150.0), plain_binding(function("speed"), "lab:speed"), 0.0)
    assert judge(SPEED, plain).reason == "speed = 150 rad/s, certified 157.0796327 rad/s"


def test_a_result_by_name_keeps_the_unit_of_each():
    binding = bind(function("efficiency"), {"result": {"eta": "efficiency in %", "P": "output_power in W"}})
    answer = _answer_from(Reply("result", 1, {"eta": 85.0, "P": 900.0}), binding, 0.0)
    made = Case("a", "losses", "efficiency", 1, {}, "valid", {"output_power": "1000", "efficiency": "0.84"})
    assert judge(made, answer).reason == (
        "output_power = 900 W, certified 1000 W; efficiency = 0.85, certified 0.84 (in %: 85, certified 84)"
    )


def sheet_reason(tmp_path, heading, cell, setting=None):
    path = tmp_path / "sheet.csv"
    path.write_text(f"id,{heading}\nspeed-a,{cell}\n", encoding="utf-8")
    suite = Suite((SPEED,), load_suite().functions, {})
    return judge(SPEED, read_answers(path, suite, setting).answer(SPEED)).reason


def test_a_sheet_is_told_the_numbers_of_its_cells(tmp_path):
    in_revolutions = "speed = 150.7964474 rad/s, certified 157.0796327 rad/s (in r/min: 1440, certified 1500)"
    assert sheet_reason(tmp_path, "answer speed [r/min]", "1440") == in_revolutions
    assert sheet_reason(tmp_path, "answer speed_rpm", "1440") == in_revolutions
    mapped = Setting({"speed": bind(function("speed"), {"result": {"n": "speed_rpm in r/min"}})})
    assert sheet_reason(tmp_path, "answer n", "1440", mapped) == in_revolutions
    assert sheet_reason(tmp_path, "answer n", "inf", mapped) == (
        "speed = inf rad/s, certified 157.0796327 rad/s (in r/min: inf, certified 1500)"
    )
    assert sheet_reason(tmp_path, "answer speed", "150") == "speed = 150 rad/s, certified 157.0796327 rad/s"


def test_a_test_of_somebodys_own_is_told_its_own_numbers():
    suite = load_suite()
    made = next(c for c in suite.cases if c.function == "ideal_no_load_speed" and c.result == "valid")
    with pytest.raises(pytest.fail.Exception) as caught:
        PytestCase(made, suite).check(lambda **given: 1.0, result="r/min")
    assert "(in r/min: 1, certified " in str(caught.value)


def test_the_report_tells_what_was_asked_with_units():
    inputs = {"supply_voltage": 120.0, "efficiency": 0.5, "table_speed": 100.0, "field_current": (0.5, 1.0)}
    made = Case("a", "speed", "speed", 1, inputs, "valid", {"speed": CERTIFIED})
    answer = came("speed", 1440.0, "r/min")
    text = report_text(Score("lab", Suite((made,), {}, {}), (Outcome(made, answer, judge(made, answer)),)))
    assert (
        "  a: speed = 150.7964474 rad/s, certified 157.0796327 rad/s (in r/min: 1440, certified 1500)\n"
        "      speed was asked with supply_voltage = 120 V, efficiency = 0.5, table_speed = 100 rad/s, "
        "field_current = [0.5, 1] A\n"
    ) in text + "\n"


def test_an_empty_column_between_is_passed_over(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text("id,,answer speed [r/min]\nspeed-a,,1500\n", encoding="utf-8")
    read = read_answers(path, Suite((SPEED,), load_suite().functions, {}))
    assert float(read.answer(SPEED).values["speed"]) == pytest.approx(float(CERTIFIED), rel=1e-15)
