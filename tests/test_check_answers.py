"""``shuntref check`` as a student meets it: a homework file of one's own, and answers written in all sorts of ways.

The machine is invented: 220 V, 0.5 ohm, field 110 ohm, 20 A from the line at 1200 r/min. By hand: I_f = 2 A, I_a = 18 A,
E = 211 V. With 50 ohm in the field, same torque: I_f = 1.375 A, I_a = 18 x 2/1.375 = 26.182 A, E = 206.91 V,
n = 1200 x 206.91/211 x 2/1.375 = 1711.6 r/min. With the field current added, I_a = 22 A, E = 209 and 204 V: 1703.7 r/min.
To start with 27 A: 220/27 = 8.148 ohm in the whole circuit, 7.648 ohm of them in the starter.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from shuntref.cli import marking

Cli = Callable[..., tuple[int, str, str]]

SHARED = """title = "Homework"
statement = "One answer to check."
[shared]
supply_voltage = "220 V"
armature_resistance = "0.5 ohm"
field_resistance = "110 ohm"
"""
FIELD = (
    SHARED
    + """[flux]
law = "proportional"
[state.before]
line_current = "20 A"
speed = "1200 r/min"
[state.after]
added_field_resistance = "50 ohm"
[[link]]
same = "electromagnetic_torque"
[answer.new-speed]
of = "after.speed"
"""
)
START = """title = "Start"
statement = "Which resistance lets 27 A flow at standstill?"
[state.start]
supply_voltage = "220 V"
armature_resistance = "0.5 ohm"
speed = "0 r/min"
armature_current = "27 A"
[answer.starter]
of = "start.added_armature_resistance"
"""


def file_of(folder: Path, text: str) -> Path:
    path = folder / "homework.toml"
    path.write_text(text, encoding="utf-8", newline="")
    return path


@pytest.mark.parametrize(
    ("answer", "status", "words"),
    [
        ("new-speed=1711.6 r/min", 0, "is right."),
        ("new-speed=1711,6 r/min", 0, "1711.6 r/min is right."),
        ("New_Speed = 179.2 rad/s", 0, "is right."),
        ("1712 rev/min", 0, "is right."),
        ("new-speed=1712 rad/s", 1, "has the wrong unit (the number is right in r/min)"),
        ("new-speed=1712 V", 1, "has the wrong unit"),
        ("new-speed=55 V", 1, "r/min would be accepted"),
        ("new-speed=-1712 r/min", 1, "has the wrong sign"),
        ("new-speed=999 r/min", 1, "None of the known slips gives this number. The way to the value: shuntref solve "),
        ("new-speed=1704 r/min", 1, "field current added where it is to be subtracted (fits to every digit)"),
        ("new-speed=", 2, "answer new-speed: nothing is answered"),
        ("new-speed", 2, "answer new-speed: nothing is answered"),
        ("new-speed=1,712 r/min", 2, "answer new-speed: '1,712 r/min': one number with a decimal point"),
        ("new-speed=1 712 r/min", 2, "without blanks inside"),
        ("about 1700", 2, "does not begin with a number"),
    ],
)
def test_an_answer_is_met_as_written(command_line: Cli, tmp_path: Path, answer: str, status: int, words: str) -> None:
    got, out, err = command_line("check", file_of(tmp_path, FIELD), "--answer", answer)
    assert got == status
    assert words in (err if status == 2 else out)
    assert "speed_rpm" not in out + err


def test_one_slip_is_told_once(command_line: Cli, tmp_path: Path) -> None:
    _, out, _ = command_line("check", file_of(tmp_path, FIELD), "--answer", "new-speed=1704 r/min")
    told = [line for line in out.splitlines() if "Likely slip" in line]
    titles = [line.split("(fits")[0] for line in told]
    assert len(titles) == len(set(titles)) >= 2


@pytest.mark.parametrize(("number", "comma"), [("7.648", "7,6481"), ("7.65", "7,65")])
def test_the_start_by_hand_and_its_slip(command_line: Cli, tmp_path: Path, number: str, comma: str) -> None:
    homework = file_of(tmp_path, START)
    for answer in (number, comma):
        assert command_line("check", homework, "--answer", f"starter={answer} ohm")[0] == 0
    status, out, _ = command_line("check", homework, "--answer", "starter=8.148 ohm")
    assert (status, "whole circuit taken for the resistor (fits to every digit)" in out) == (1, True)
    status, out, _ = command_line("check", homework, "--answer", "starter=7.6 ohm")
    assert (status, "fewer than 3 figures" in out, "known slips" in out) == (1, True, False)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            FIELD.replace('armature_resistance = "0.5 ohm"\n', ""),
            ["after.speed cannot", "armature_resistance", "[shared]"],
        ),
        (FIELD.replace('field_resistance = "110 ohm"\n', ""), ["after.speed cannot", "field_resistance", "[shared]"]),
        (FIELD.replace('[flux]\nlaw = "proportional"\n', ""), ["after.speed cannot", 'law = "proportional"']),
        (FIELD.replace('"20 A"', "20 A"), ["not TOML", "line 10", 'line_current = "20 A"']),
        (FIELD.split("\n", 2)[2], ["keys 'title' and 'statement' are missing", 'title = "Homework 1"']),
        (FIELD.split("\n", 1)[1], ["the key 'title' is missing"]),
    ],
)
def test_a_faulty_file_is_refused_with_what_to_write(
    command_line: Cli, tmp_path: Path, text: str, words: list[str]
) -> None:
    assert text != FIELD
    status, _, err = command_line("check", file_of(tmp_path, text), "--answer", "new-speed=1712 r/min")
    assert (status, err.count("\n")) == (2, 1)
    for word in words:
        assert word in err


def test_what_is_named_as_missing_does_determine_the_answer(command_line: Cli, tmp_path: Path) -> None:
    for line in ('armature_resistance = "0.5 ohm"\n', 'field_resistance = "110 ohm"\n'):
        text = FIELD.replace(line, "")
        assert command_line("check", file_of(tmp_path, text), "--answer", "1712 r/min")[0] == 2
        again = text.replace("[shared]\n", f"[shared]\n{line}")
        assert command_line("check", file_of(tmp_path, again), "--answer", "1712 r/min")[0] == 0


def test_a_file_from_a_windows_editor_is_read(command_line: Cli, tmp_path: Path) -> None:
    homework = file_of(tmp_path, "\ufeff" + FIELD.replace("\n", "\r\n"))
    assert command_line("check", homework, "--answer", "new-speed=1712 r/min")[0] == 0


def test_a_name_that_is_no_file_is_answered_with_names_like_it(command_line: Cli) -> None:
    status, _, err = command_line("check", "bird-22-shunt-motor-circuits", "--answer", "back-emf=1 V")
    assert (status, "there is no such file" in err, "bird-22-shunt-motor-circuit" in err.split("example")[1]) == (
        2, True, True,
    )  # fmt: skip


def test_a_verdict_is_broken_to_the_terminal_and_left_whole_in_a_pipe(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "  Likely slip: " + "one word after another " * 8 + "end.\n    Broken: a law."
    monkeypatch.setattr(sys.stdout, "isatty", lambda: False, raising=False)
    assert marking._wrapped(text) == text
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setenv("COLUMNS", "60")
    broken = marking._wrapped(text)
    assert max(len(line) for line in broken.splitlines()) <= 60
    assert broken.split() == text.split()
    assert broken.splitlines()[-1] == "    Broken: a law."
