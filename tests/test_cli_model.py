"""The command line of the model: predict, explain, derive, and what it does with input that cannot be used."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

Cli = Callable[..., tuple[int, str, str]]

BENCH = """
[machine]
name = "bench of the test"
invented = true
armature_resistance = "0.8 ohm"
field_resistance = "160 ohm"
[flux]
kind = "proportional"
flux_constant = "1 V s/(rad A)"
[nameplate]
rated_supply_voltage = "120 V"
"""


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    path = tmp_path / "bench.toml"
    path.write_text(BENCH, encoding="utf-8")
    return path


def test_predict_gives_the_speeds_worked_by_hand(command_line: Cli, bench: Path) -> None:
    status, out, err = command_line(
        "predict", bench, "--set", "added_field_resistance=0, 20 ohm", "--set", "load_torque=6 N m", "--json"
    )
    assert (status, err) == (0, "")
    document = json.loads(out)
    rows = document["rows"]
    assert document["units"]["speed_rpm"] == "r/min"
    # by hand: E = 120 - 0.8*8 over 0.75, and 120 - 0.8*9 over 2/3
    assert [row["speed"] for row in rows] == pytest.approx([113.6 / 0.75, 112.8 * 1.5], rel=1e-14)
    assert [row["added_field_resistance"] for row in rows] == [0.0, 20.0]


def test_every_combination_of_lists_is_one_row_of_one_table(command_line: Cli, bench: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    status, out, _ = command_line(
        "predict", bench, "--set", "added_field_resistance=0:50:6 ohm", "--set", "load_torque=0, 6, 200 N m",
        "--set", "supply_voltage=0.12 kV", "--csv", target,
    )  # fmt: skip
    assert status == 0
    assert "18 rows" in out
    assert "torque-beyond-stall" in out
    assert "Never open the field circuit" in out
    rows = list(csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))))
    assert len(rows) == 18
    assert b"\r" not in target.read_bytes()
    assert [row["speed [rad/s]"] == "" for row in rows] == [row["status"] == "torque-beyond-stall" for row in rows]
    assert "nan" not in target.read_text(encoding="utf-8").lower()
    assert {row["load_torque [N m]"] for row in rows} == {"0.0", "6.0", "200.0"}
    assert {row["supply_voltage [V]"] for row in rows} == {"120.0"}


def test_a_fan_is_a_load_whose_torque_holds_at_a_speed(command_line: Cli, bench: Path) -> None:
    status, out, _ = command_line(
        "predict", bench, "--set", "load_torque=6 N m", "--load", "square", "--at", "1446.4 r/min", "--json"
    )
    assert status == 0
    row = json.loads(out)["rows"][0]
    assert row["load_torque"] == pytest.approx(6.0 * (row["speed_rpm"] / 1446.4) ** 2, rel=1e-12)


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["--set", "speed=5 rad/s"], "speed is a result, not a setting"),
        (["--set", "load_torque=6"], "the unit is missing"),
        (["--set", "load_torque=6 V"], "not a unit of load torque"),
        (["--set", "added_feild_resistance=6 ohm"], "did you mean added_field_resistance"),
        (["--set", "added_field_resistance=-5 ohm"], "added_field_resistance is -5.0 ohm"),
        (["--set", "load_torque=6 N m", "--set", "load_torque=7 N m"], "set twice"),
        (["--set", "load_torque=6 N m", "--set", "output_power=1 kW"], "both set"),
        (["--set", "added_field_resistance=0:1:1000000 ohm", "--set", "load_torque=0:1:1000000 N m"], "at most"),
        (["--load", "square"], "needs load_torque and the speed"),
        (["--set", "field_voltage=100 V"], "field_voltage is given, but in a shunt connection"),
        (["--unheard-of"], "No such option"),
        (["--csv", "/no/such/folder/out.csv"], "the folder does not exist"),
    ],
)
def test_unusable_input_is_one_clear_line_and_status_two(
    command_line: Cli, bench: Path, arguments: list[str], why: str
) -> None:
    status, out, err = command_line("predict", bench, *arguments)
    assert status == 2
    assert why in err
    assert err.count("\n") == 1
    assert err.startswith("shuntref: ")
    assert out == ""


def test_a_file_that_is_not_there_or_not_a_machine_is_one_clear_line(command_line: Cli, tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    for content in (b"\xff\xfe\x00", b"[machine", b"x = " + b"[" * 5000, b"", BENCH.replace("ohm", "").encode(),
                    (BENCH + "\n[rotor]\nmass = 3\n").encode()):  # fmt: skip
        broken.write_bytes(content)
        status, out, err = command_line("predict", broken)
        assert (status, out, err.count("\n")) == (2, "", 1), content[:40]
        assert "broken.toml" in err
    status, _, err = command_line("predict", tmp_path / "absent.toml")
    assert status == 2
    assert "No such file" in err


def test_explain_tells_the_chain_the_shares_and_the_rule(command_line: Cli, bench: Path) -> None:
    status, out, err = command_line(
        "explain", bench, "--set", "load_torque=6 N m", "--change", "added_field_resistance=20 ohm"
    )
    assert (status, err) == (0, "")
    for words in ("1446.4 r/min to 1615.7 r/min", "8 A to 23.78 A", "+180.1 r/min", "-10.8 r/min", "+169.3 r/min",
                  "E > U/2", "1340 ohm", "Cautions"):  # fmt: skip
        assert words in out, words
    status, out, _ = command_line(
        "explain", bench, "--set", "load_torque=6 N m", "--change", "added_field_resistance=20 ohm", "--json"
    )
    story = json.loads(out)
    assert sum(story["parts_rpm"].values()) == pytest.approx(story["speed_change_rpm"], rel=1e-12)


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["--change", "speed=5 rad/s"], "is a result"),
        (["--change", "load_torque=500 N m"], "at standstill"),
        (["--change", "added_field_resistance"], "name=value"),
        (["--change", "added_field_resistance=5 ohm", "--set", "load_torque=1, 2 N m"], "several values"),
        ([], "Missing option '--change'"),
    ],
)
def test_explain_refuses_in_one_line(command_line: Cli, bench: Path, arguments: list[str], why: str) -> None:
    status, out, err = command_line("explain", bench, *arguments)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert why in err


def test_derive_prints_the_speed_equation_in_three_formats(command_line: Cli) -> None:
    status, out, _ = command_line("derive")
    assert status == 0
    assert "omega = U/kPhi" in out
    for form, mark in (("markdown", "$"), ("latex", "\\omega")):
        status, out, _ = command_line("derive", "speed", "--format", form)
        assert status == 0
        assert mark in out
    status, _, err = command_line("derive", "happiness")
    assert status == 2
    assert "speed" in err


def test_every_command_has_help_that_says_what_it_does(command_line: Cli) -> None:
    from shuntref.cli import COMMANDS

    for name in COMMANDS:
        status, out, _ = command_line(name, "--help")
        assert status == 0, name
        assert "Usage: shuntref" in out
        assert len(out.splitlines()) > 5
        assert "--json" in out, name
    status, _, err = command_line("nonsense")
    assert status == 2
    assert "No such command" in err
