"""Marking a class: sheets as spreadsheets write them, rows that cannot be read, and what the class got wrong."""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from shuntref.exercises.library import reference_exercise
from shuntref.exercises.marking import mark_sheet, marked_csv
from shuntref.exercises.statement_file import exercise_from_text
from shuntref.exercises.verdict import answer_key

Cli = Callable[..., tuple[int, str, str]]

EXERCISE = """
title = "Field rheostat on a constant-torque load"
statement = "A 240 V shunt motor takes 41.5 A at 1000 r/min; 20 ohm is added in the field circuit at the same torque."
invented = true
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
field_resistance = "160 ohm"
[flux]
law = "proportional"
[state.before]
line_current = "41.5 A"
speed = "1000 r/min"
[state.after]
added_field_resistance = "20 ohm"
[[link]]
same = "electromagnetic_torque"
states = ["before", "after"]
[answer.new-speed]
of = "after.speed"
[answer.new-current]
of = "after.armature_current"
"""
# by hand: I_f = 1.5 and 4/3 A, I_a = 40 and 45 A, E = 224 and 222 V, n = 1000 * 222/224 * 1.125 r/min
SPEED = 1000.0 * 222.0 / 224.0 * 1.125


@pytest.fixture
def files(tmp_path: Path) -> Path:
    (tmp_path / "exercise.toml").write_text(EXERCISE, encoding="utf-8")
    return tmp_path


def test_the_key_is_the_one_worked_by_hand() -> None:
    assert answer_key(exercise_from_text(EXERCISE), "new-speed").shown.startswith("1115")
    assert pytest.approx(1114.955, abs=1e-3) == SPEED


@pytest.mark.parametrize(
    "sheet",
    [
        "student,new-speed [r/min],new-current [A]\ns1,1115,45\ns2,1125,40\ns3,,\n",
        "student;new-speed [r/min];new-current [A]\r\ns1;1114,96;45,0\r\ns2;1125,0;40,0\r\ns3;;\r\n",
        "\ufeffstudent;new speed / r/min;new_current in A\n\ns1;1115;45\n\n\ns2;1125;40\ns3;;-\n",
        "student\tnew-speed\tnew-current\ns1\t1115 r/min\t45 A\ns2\t1125 rpm\t40 A\ns3\t\t\n",
        "Class 4b\n\nstudent,new-speed,new-current\ns1,18.58 rev/s,45000 mA\ns2,18.75 rev/s,40 A\ns3,,n/a\n",
    ],
    ids=["commas", "decimal commas", "mark and blank lines", "tabs and units in cells", "a title and other units"],
)
def test_a_sheet_is_read_as_spreadsheets_write_it(sheet: str) -> None:
    marked = mark_sheet(exercise_from_text(EXERCISE), sheet.encode("utf-8"))
    assert [(row.student, row.marks, row.problem) for row in marked.rows] == [
        ("s1", 2.0, ""),
        ("s2", 0.0, ""),
        ("s3", 0.0, ""),
    ]
    assert marked.rows[2].verdicts == {"new-speed": None, "new-current": None}
    assert marked.full_marks == 2.0
    # s2 kept the armature current: 1000 * 1.125 r/min and 40 A
    assert sum(marked.slips.values()) == 2
    assert all("armature-current-kept-though-flux-changed" in names for names in marked.slips)


def test_a_row_that_cannot_be_read_is_reported_with_its_line_and_the_rest_is_marked() -> None:
    sheet = ("student,new-speed [r/min],new-current [A]\ns1,1115,45\ns2,1115,45,7,8\ns3,about a thousand,45\n"
             "s4,1115 r/min extra,45\ns5,1115,45\n")  # fmt: skip
    marked = mark_sheet(exercise_from_text(EXERCISE), sheet)
    by_student = {row.student: row for row in marked.rows}
    assert [row.line for row in marked.rows] == [2, 3, 4, 5, 6]
    assert by_student["s1"].marks == by_student["s5"].marks == 2.0
    assert "cells where the heading names 3" in by_student["s2"].problem
    assert "about a thousand" in by_student["s3"].problem
    assert by_student["s3"].marks == 1.0


def test_an_open_quotation_mark_spoils_its_own_row_only() -> None:
    sheet = 'student,new-speed [r/min],new-current [A]\ns1,1115,45\ns2,"1115,45\ns3,1115,45\n'
    marked = mark_sheet(exercise_from_text(EXERCISE), sheet)
    assert [(row.student, row.line, row.marks) for row in marked.rows if not row.problem] == [
        ("s1", 2, 2.0),
        ("s3", 4, 2.0),
    ]
    assert [row.line for row in marked.rows if row.problem] == [3]


def test_a_heading_that_is_no_answer_is_refused_with_what_is_asked() -> None:
    with pytest.raises(ValueError, match=r"no column is an answer of the exercise \(new-speed, new-current\)"):
        mark_sheet(exercise_from_text(EXERCISE), "student,speeed\ns1,3\n")
    with pytest.raises(ValueError, match="two columns answer"):
        mark_sheet(exercise_from_text(EXERCISE), "student,new-speed,new speed [r/min]\ns1,3,4\n")
    with pytest.raises(ValueError, match="between 0 and 1"):
        mark_sheet(exercise_from_text(EXERCISE), "student,new-speed\ns1,3\n", partial=2.0)


def test_partial_marks_are_for_a_wrong_unit_or_sign_only() -> None:
    sheet = "student,new-speed,new-current\ns1,1115 rad/s,-45 A\ns2,1125 r/min,45 A\n"
    marked = mark_sheet(exercise_from_text(EXERCISE), sheet, partial=0.5)
    assert [row.marks for row in marked.rows] == [1.0, 1.0]


def test_the_marked_sheet_is_csv_and_nothing_in_it_is_a_formula() -> None:
    marked = mark_sheet(exercise_from_text(EXERCISE), "student,new-speed\n=HYPERLINK(1),1115 r/min\n@x,1125 r/min\n")
    rows = list(csv.DictReader(io.StringIO(marked_csv(marked))))
    assert [row["student"][:1] for row in rows] == ["'", "'"]
    assert [row["new-speed verdict"] for row in rows] == ["right", "wrong"]
    assert "armature-current-kept-though-flux-changed" in rows[1]["new-speed slip"]


def test_the_command_marks_writes_whole_and_tells_the_slips(command_line: Cli, files: Path) -> None:
    (files / "class.csv").write_text("student;new-speed [r/min]\ns1;1115,0\ns2;1125\ns3;1000\n", encoding="utf-8-sig")
    status, out, err = command_line("mark", files / "exercise.toml", files / "class.csv", "--out", files / "marked.csv")
    assert (status, err) == (0, "")
    assert "3 students" in out
    assert "armature current kept though the flux changed" in out
    assert len((files / "marked.csv").read_text(encoding="utf-8").splitlines()) == 4
    before = (files / "marked.csv").read_bytes()
    (files / "class.csv").write_text("nothing;here\n1;2\n", encoding="utf-8")
    status, _, err = command_line("mark", files / "exercise.toml", files / "class.csv", "--out", files / "marked.csv")
    assert (status, err.count("\n")) == (2, 1)
    assert (files / "marked.csv").read_bytes() == before
    assert sorted(path.name for path in files.iterdir()) == ["class.csv", "exercise.toml", "marked.csv"]


def test_the_command_exits_with_one_where_a_row_could_not_be_marked(command_line: Cli, files: Path) -> None:
    (files / "class.csv").write_text("student,new-speed [r/min]\ns1,1115\ns2,1115,9,9\n", encoding="utf-8")
    status, out, _ = command_line("mark", files / "exercise.toml", files / "class.csv", "--json")
    assert status == 1
    document = json.loads(out)
    assert [row["marks"] for row in document["rows"]] == [1.0, 0.0]
    assert "line" in document["rows"][1]


def test_check_judges_and_names_the_slip(command_line: Cli, files: Path) -> None:
    status, out, _ = command_line("check", files / "exercise.toml", "--answer", "new-speed=1115 r/min")
    assert (status, "right" in out) == (0, True)
    status, out, _ = command_line("check", files / "exercise.toml", "--answer", "new-speed=1125 r/min")
    assert status == 1
    assert "armature current kept" in out
    assert "Broken: torque, T = kPhi I_a" in out
    status, out, _ = command_line("check", files / "exercise.toml", "--answer", "new-speed=1125 r/min", "--json")
    slips = json.loads(out)["verdicts"][0]["slips"]
    assert "armature-current-kept-though-flux-changed" in [row["name"] for row in slips[:3]]
    for arguments, why in (((), "no answer to judge"), (("--answer", "new-speed"), "nothing is answered"),
                           (("--answer", "speed=3 r/min"), "asks no answer"),
                           (("--answer", "new-speed=fast"), "begin with")):  # fmt: skip
        status, _, err = command_line("check", files / "exercise.toml", *arguments)
        assert (status, err.count("\n")) == (2, 1)
        assert why in err


def test_ten_thousand_different_answers_are_marked_in_one_go() -> None:
    exercise = reference_exercise("theraja-same-torque-field-rheostat")
    (name,) = exercise.answers
    right = answer_key(exercise, name).right
    rows = "".join(f"s{i},{right * (0.5 + i / 10000):.4f}\n" for i in range(10000))
    start = time.perf_counter()
    marked = mark_sheet(exercise, f"student,{name} [ohm]\n{rows}")
    seconds = time.perf_counter() - start
    print(f"figure: 10 000 different answers marked in {seconds:.2f} s")
    assert len(marked.rows) == 10000
    good = [row for row in marked.rows if row.marks]
    assert all(abs(0.5 + int(row.student[1:]) / 10000 - 1.0) < 0.01 for row in good)
    assert len(good) > 50


def test_a_coarse_right_answer_is_not_suspected_of_the_other_horsepower() -> None:
    """5.9 hp is 4400 W in every convention to the digits given: 4400/745.7 = 5.9005, 4400/746 = 5.898."""
    from shuntref.exercises.statement_file import exercise_from_text
    from shuntref.exercises.verdict import ROUNDED, judge

    text = (
        'title = "T"\nstatement = "T."\n[state.running]\ninput_power = "5.5 kW"\nefficiency = "80 %"\n'
        '[answer.output]\nof = "output_power"\n'
    )
    verdict = judge(exercise_from_text(text), "output", "5.9 hp")
    assert verdict.status == ROUNDED
    assert verdict.findings == ()
    off = judge(exercise_from_text(text), "output", "5.982 hp")  # metric: 4400/735.49875
    assert [slip.name for slip in off.findings[0].slips] == ["horsepower-convention"]
