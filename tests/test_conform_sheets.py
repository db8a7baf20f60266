"""Cells of a sheet of answers: units, percent, refusals, infinities, printed digits, lists, and which column is whose."""

from __future__ import annotations

import csv
import io
import math
from decimal import Decimal

import pytest

from shuntref.conformance.answers import cases_sheet, read_answers
from shuntref.conformance.mapping import Setting, bind
from shuntref.conformance.suite import Case, load_suite, select

SUITE = load_suite()
D = Decimal


@pytest.fixture
def read(tmp_path):
    """The answer to one case of a function when its row holds these cells under these headings."""

    def one(function, cells, setting=None, **options):
        case = select(SUITE, functions=[function])[0]
        text = io.StringIO()
        writer = csv.writer(text)
        writer.writerows([["id", *cells], [case.id, *cells.values()]])
        path = tmp_path / "answers.csv"
        path.write_text(text.getvalue(), encoding="utf-8")
        target = read_answers(path, SUITE, setting, **options)
        return target.answer(case)

    return one


@pytest.mark.parametrize(
    ("heading", "cell", "value"),
    [
        ("answer speed [rad/s]", "150", "150"),
        ("answer speed", "150", "150"),
        ("ANSWER speed", " 150 ", "150"),
        ("speed", "150", "150"),
        ("answer", "150", "150"),
        ("answer speed [rad/s]", "inf", "Infinity"),
        ("answer speed [rad/s]", "-inf", "-Infinity"),
        ("answer speed [rad/s]", "+Infinity", "Infinity"),
        ("answer speed [rad/s]", "-∞", "-Infinity"),
        ("answer speed [rad/s]", "1.5e2", "150"),
    ],
)
def test_a_number_is_read_in_the_unit_of_its_column(read, heading, cell, value):
    answer = read("speed", {heading: cell})
    assert (answer.kind, answer.values) == ("values", {"speed": D(value)})
    assert answer.steps == {"speed": 0}
    assert read("speed", {heading: cell}, as_printed=True).steps == {"speed": 0}  # fewer than four digits: exact


@pytest.mark.parametrize(
    "heading", ["answer speed [r/min]", "answer speed_rpm [r/min]", "answer speed_rpm", "speed_rpm"]
)
def test_a_speed_in_revolutions_is_read_under_either_name(read, heading):
    (value,) = read("speed", {heading: "1500"}).values.values()
    assert float(value) == pytest.approx(50 * math.pi, rel=1e-15)


def test_the_second_name_of_a_speed_has_the_unit_it_is_named_after(read):
    setting = Setting({"speed": bind(SUITE.functions["speed"], {"result": {"n": "speed_rpm in r/min"}})})
    assert float(read("speed", {"answer n": "1500"}, setting).values["speed"]) == pytest.approx(50 * math.pi)
    assert read("speed", {"answer speed [rad/s]": "150"}, setting).values["speed"] == 150
    assert float(read("speed", {"answer speed": "1500"}, setting).values["speed"]) == pytest.approx(50 * math.pi)


@pytest.mark.parametrize("word", ["#N/A", "#NUM!", "Err:502", "NaN", "-nan", "n/a", "NA", "null", "none", "refused", "Invalid",
                                  "ERROR", "#"])  # fmt: skip
def test_what_sheets_write_where_there_is_no_number_is_not_a_number(read, word):
    answer = read("speed", {"answer speed [rad/s]": word}, as_printed=True)
    assert answer.kind == "values"
    assert answer.values["speed"].is_nan()
    assert answer.steps == {"speed": 0}


@pytest.mark.parametrize("word", ["about 150", "Err:", "nano", "1 5 0 x", "infinite", "--"])
def test_other_words_are_no_answer(read, word):
    answer = read("speed", {"answer speed [rad/s]": word})
    assert answer.kind == "failed"
    assert answer.text.startswith("line 2: speed: ")


def test_a_percentage_is_read_as_one_whatever_the_column_says(read):
    for heading in ("answer efficiency [1]", "answer efficiency"):
        answer = read("efficiency", {heading: "85.50 %", "answer input_power": "1", "answer output_power": "1",
                                     "answer electromagnetic_power": "1"}, as_printed=True)  # fmt: skip
        assert float(answer.values["efficiency"]) == pytest.approx(0.855, rel=1e-15)
        assert float(answer.steps["efficiency"]) == pytest.approx(0.00005, rel=2e-6)


@pytest.mark.parametrize(
    ("heading", "cell", "step"),
    [
        ("answer speed [rad/s]", "157.1", 0.05),
        ("answer speed [rad/s]", "157.10", 0.005),
        ("answer speed [rad/s]", "-157.1", 0.05),
        ("answer speed [rad/s]", "1571", 0.5),
        ("answer speed [rad/s]", "1.571e2", 0.05),
        ("answer speed [r/min]", "1500", 0.5 * math.pi / 30),
        ("answer speed [rad/s]", "157", 0.0),
        ("answer speed [rad/s]", "0.157", 0.0),
        ("answer speed [rad/s]", "0.0000", 0.0),
    ],
)
def test_a_printed_number_is_right_to_half_a_unit_of_its_last_digit(read, heading, cell, step):
    found = float(read("speed", {heading: cell}, as_printed=True).steps["speed"])
    assert step <= found <= step * 1.000002  # and a millionth for the binary numbers in between
    assert read("speed", {heading: cell}).steps == {"speed": 0}


def test_a_list_is_read_in_the_order_of_its_numbers_and_rounded_as_its_worst(read):
    cells = {"answer section_resistance 2 [ohm]": "2.001", "answer section_resistance 10 [ohm]": "4.00",
             "answer section_resistance 1 [ohm]": "1.0001", "answer section_resistance 3 [ohm]": "",
             "answer current_ratio": "2", "answer lower_current [A]": "50"}  # fmt: skip
    answer = read("starter_grading", cells, as_printed=True)
    assert answer.values["section_resistance"] == tuple(D(float(t)) for t in ("1.0001", "2.001", "4"))
    assert float(answer.steps["section_resistance"]) == pytest.approx(0.0005, rel=2e-6)
    lone = read(
        "starter_grading", {**cells, "answer section_resistance 1 [ohm]": "", "answer section_resistance 2 [ohm]": ""}
    )
    assert lone.values["section_resistance"] == (4,)


def test_an_output_left_empty_fails_by_name_and_an_empty_row_is_not_implemented(read):
    cells = {"answer field_current": "0.75", "answer armature_current": "8", "answer line_current": ""}
    answer = read("currents", cells)
    assert (answer.kind, answer.text) == ("failed", "line 2: no answer for line_current")
    refused = read("currents", {**cells, "answer armature_current": "#N/A"})
    assert refused.kind == "values"
    listed = {"answer section_resistance 1": "#N/A", "answer current_ratio": ""}
    assert read("starter_grading", listed).kind == "values"
    nameless = read("currents", {"answer": "8"})
    assert nameless.kind == "missing"  # a column without a name is the answer of a function that has one only
    empty = read("currents", dict.fromkeys(cells, " "))
    assert (empty.kind, empty.text) == ("missing", "no answer in the sheet")


def test_nothing_is_both_given_and_asked_for():
    """So that a column headed with the plain name of an output holds an answer."""
    for entry in SUITE.functions.values():
        assert not {i.name for i in entry.inputs} & {o.name for o in entry.outputs}


def test_a_case_without_a_row_is_not_implemented(read, tmp_path):
    read("speed", {"answer speed": "1"})
    target = read_answers(tmp_path / "answers.csv", SUITE)
    other = select(SUITE, functions=["speed"])[1]
    assert (target.answer(other).kind, target.answer(other).text) == ("missing", "no answer in the sheet")
    assert target.precision("speed") == "double"
    assert target.delivers("currents") == ("field_current", "armature_current", "line_current")
    assert read_answers(tmp_path / "answers.csv", SUITE, precision="single").precision("speed") == "single"


def test_five_strange_ids_are_named(tmp_path):
    path = tmp_path / "answers.csv"
    for count in (1, 5, 6):
        path.write_text("id,answer speed\n" + "".join(f"mine-{n},1\n" for n in range(count)), encoding="utf-8")
        (remark,) = read_answers(path, SUITE).remarks
        names = ", ".join(f"mine-{n}" for n in range(min(count, 5)))
        assert remark == f"ids that are no case: {names}{' ...' if count > 5 else ''}"
    path.write_text(f"id,answer speed\n{'x' * 99},1\n", encoding="utf-8")
    assert read_answers(path, SUITE).remarks[0].endswith(" " + "x" * 57 + "...")


def test_columns_marked_as_answers_come_before_those_that_only_have_a_name(read):
    assert read("speed", {"speed": "1", "answer speed": "2", "": "3"}).values == {"speed": D(2)}
    assert read("speed", {"my remark": "x", "speed 1": "7"}).values == {"speed": (D(7),)}
    with pytest.raises(
        ValueError, match=r"column 'answer sped' answers nothing that is asked; the answers are .*speed"
    ):
        read("speed", {"answer sped": "1"})
    assert read("speed", {"answer speed 123": "7"}).values == {"speed": (D(7),)}
    with pytest.raises(ValueError, match="answer speed 1234"):
        read("speed", {"answer speed 1234": "1"})  # no list is that long


# --- the sheet that goes out


def rows_of(text):
    return list(csv.reader(io.StringIO(text)))


def test_the_sheet_has_a_column_for_each_input_reading_and_answer():
    cases = [
        Case("a", "starting", "starter_grading", 1, {"supply_voltage": 230.0, "sections": 3.0,
             "armature_resistance": 0.25}, "valid"),
        Case("b", "speed", "speed_with_table", 1, {"supply_voltage": 120.0, "table_speed": 100.5,
             "table_field_current": (0.0, 0.5)}, "valid"),
    ]  # fmt: skip
    heading, first, second = rows_of(cases_sheet(SUITE, cases))
    assert heading[:2] == ["id", "function"]
    row = dict(zip(heading, first, strict=True))
    assert {k: v for k, v in row.items() if v} == {
        "id": "a", "function": "starter_grading", "supply_voltage [V]": "230.0", "sections [1]": "3.0",
        "armature_resistance [ohm]": "0.25"}  # fmt: skip
    sections = [h for h in heading if h.startswith("answer section_resistance")]
    assert sections == [f"answer section_resistance {n} [ohm]" for n in (1, 2, 3)]
    row = dict(zip(heading, second, strict=True))
    assert (row["table_field_current 1 [A]"], row["table_field_current 2 [A]"]) == ("0.0", "0.5")
    assert row["table_speed [rad/s]"] == "100.5"
    answers = [place for place, h in enumerate(heading) if h.startswith("answer")]
    assert answers == list(range(answers[0], len(heading)))  # they stand behind all inputs


@pytest.mark.parametrize(
    ("sections", "columns"), [(1.0, 1), (4.0, 4), (99.0, 99), (100.0, 1), (0.0, 1), (-2.0, 1), (0.5, 1)]
)
def test_as_many_columns_for_sections_as_are_asked_for(sections, columns):
    case = Case("a", "starting", "starter_grading", 1, {"sections": sections}, "invalid")
    heading = rows_of(cases_sheet(SUITE, [case]))[0]
    assert sum(h.startswith("answer section_resistance") for h in heading) == columns


def test_decimal_commas_spare_the_names():
    case = Case("a.b", "speed", "speed", 1, {"supply_voltage": 120.5}, "valid")
    lines = cases_sheet(SUITE, [case], decimal_comma=True).splitlines()
    assert lines[1].startswith("a.b;speed;120,5;")
    assert cases_sheet(SUITE, [case]).splitlines()[1].startswith("a.b,speed,120.5,")


def test_a_mapping_in_order_and_one_that_lacks_an_argument():
    entry = SUITE.functions["starting_resistance"]
    inputs = {"supply_voltage": 230.0, "armature_resistance": 0.25, "starting_current": 50.0}
    case = Case("a", "starting", entry.name, 1, inputs, "valid")
    written = {"arguments": ["starting_current in mA", "supply_voltage", "armature_resistance", "brush_drop"]}
    heading, row = rows_of(cases_sheet(SUITE, [case], Setting({entry.name: bind(entry, written)})))
    assert heading[2:6] == [
        "starting_current [mA]",
        "supply_voltage [V]",
        "armature_resistance [ohm]",
        "brush_drop [V]",
    ]
    assert row[2:6] == ["50000.0", "230.0", "0.25", "0.0"]
    lacking = Setting({entry.name: bind(entry, {"arguments": {"U": "supply_voltage"}})})
    with pytest.raises(
        ValueError, match="case a cannot be written with this mapping: no argument takes armature_resistance"
    ):
        cases_sheet(SUITE, [case], lacking)
