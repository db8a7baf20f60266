"""The command conform: what it accepts, what it prints, with which status it ends."""

import json
import os
import subprocess
import sys
import xml.etree.ElementTree as Xml
from pathlib import Path

import pytest

from shuntref.conformance.suite import load_suite

ZOO = Path(__file__).parent / "zoo"
RIGHT = f"{ZOO / 'wrong_running.py'}:right_speed"
WRONG = f"{ZOO / 'wrong_running.py'}:two_pi"
SPEED = ("--function", "speed")
ASKED = [case for case in load_suite().cases if case.function == "speed"]
ANSWERABLE = [case for case in ASKED if case.result != "invalid"]
N, WRONG_ONES = len(ASKED), len(ANSWERABLE)  # the wrong one is wrong wherever there is a speed to be wrong


def conform(*arguments, cwd=None):
    done = subprocess.run(
        [sys.executable, "-m", "shuntref", "conform", *map(str, arguments)],
        capture_output=True, text=True, timeout=120, cwd=cwd, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout, done.stderr


def test_all_right_ends_with_0_and_says_nothing_on_the_error_output():
    status, out, err = conform(RIGHT, *SPEED)
    assert (status, err) == (0, "")
    assert f"{N} passed, 0 failed" in out


def test_a_failure_ends_with_1():
    status, out, err = conform(WRONG, *SPEED)
    assert (status, err) == (1, "")
    assert "two pi forgotten" in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "nothing to judge was named"),
        (("nowhere_at_all:speed",), "nowhere_at_all"),
        (("nowhere.py:speed",), "no such file"),
        (("nowhere.toml",), "nowhere.toml"),
        ((RIGHT,), "which function of the suite"),
        ((RIGHT, "--function", "sped"), "sped"),
        ((RIGHT, *SPEED, "--group", "starting"), "no case was chosen"),
        ((RIGHT, *SPEED, "--command", "true"), "TARGET and --command"),
        ((RIGHT, *SPEED, "--argument", "n"), "NAME=QUANTITY"),
        ((RIGHT, *SPEED, "--argument", "n=nothing in V"), "nothing"),
        ((RIGHT, *SPEED, "--argument", "n=supply_voltage in rad/s"), "rad/s"),
        ((RIGHT, *SPEED, "--result", "kg"), "kg"),
        ((RIGHT, *SPEED, "--time-limit", "-1"), "case_seconds"),
        ((RIGHT, *SPEED, "--level", "9"), "9"),
        ((RIGHT, *SPEED, "--case", "no-such-case"), "no-such-case"),
        (("--read-answers", "nowhere.csv"), "nowhere.csv"),
        ((RIGHT, *SPEED, "--compare", "nowhere.json"), "nowhere.json"),
        ((RIGHT, *SPEED, "--known-failures", "nowhere.txt"), "nowhere.txt"),
        ((f"{ZOO / 'wrong_running.py'}:no_such_function", *SPEED), "nothing could be judged"),
        (("--command", "no-such-program-at-all"), "cannot be started"),
        ((RIGHT, *SPEED, "--save-score", "/no/such/folder/score.json"), "folder"),
    ],
)
def test_unusable_input_ends_with_2_and_one_line(arguments, words):
    status, out, err = conform(*arguments)
    assert (status, out) == (2, "")
    assert err.startswith("shuntref: ")
    assert err.count("\n") == 1
    assert words in err


def test_arguments_and_result_can_be_named_on_the_command_line(tmp_path):
    (tmp_path / "lab.py").write_text(
        "def n0(V, Rf, c, Rx=0.0):\n"
        "    if min(V, Rf, c) <= 0 or Rx < 0:\n        raise ValueError('no')\n"
        "    return (Rf + Rx) / c * 9.549296585513721\n",
        encoding="utf-8",
    )
    named = ["--argument", "V=supply_voltage in V", "--argument", "Rf=field_resistance", "--argument", "c=flux_constant",
             "--argument", "Rx=added_field_resistance in ohm", "--result", "r/min"]  # fmt: skip
    status, out, _ = conform("lab.py:n0", "--function", "ideal_no_load_speed", *named, cwd=tmp_path)
    assert (status, "0 failed" in out) == (0, True)
    status, _, err = conform("lab.py:n0", "--function", "ideal_no_load_speed", cwd=tmp_path)
    assert status == 2
    assert "its argument 'V' is no input" in err
    assert conform("lab:n0", "--function", "ideal_no_load_speed", *named, cwd=tmp_path)[0] == 0


def test_an_argument_called_speed_rpm_takes_revolutions_per_minute(tmp_path):
    (tmp_path / "lab.py").write_text(
        "def added_field_resistance_at_no_load(field_resistance, reference_speed, speed_rpm):\n"
        "    speed = speed_rpm / 9.549296585513721\n"
        "    if field_resistance <= 0 or reference_speed <= 0 or speed < reference_speed * (1 - 1e-14):\n"
        "        raise ValueError('no')\n"
        "    return max(0.0, field_resistance * (speed - reference_speed) / reference_speed)\n",
        encoding="utf-8",
    )
    assert conform("lab.py", cwd=tmp_path)[0] == 0


def test_a_function_without_an_argument_for_an_input_is_not_implemented_where_it_is_given(tmp_path):
    (tmp_path / "lab.py").write_text(
        "def ideal_no_load_speed(supply_voltage, field_resistance, flux_constant):\n"
        "    if min(supply_voltage, field_resistance, flux_constant) <= 0:\n        raise ValueError('no')\n"
        "    return field_resistance / flux_constant\n",
        encoding="utf-8",
    )
    status, out, _ = conform("lab.py:ideal_no_load_speed", cwd=tmp_path)
    assert status == 0
    assert "not implemented (no argument takes added_field_resistance): ideal_no_load_speed" in out
    assert conform("lab.py:ideal_no_load_speed", "--complete", cwd=tmp_path)[0] == 1


def test_known_failures_strictness_and_unknown_ids(tmp_path):
    known = tmp_path / "known.txt"
    wrong = [case.id for case in ANSWERABLE]
    known.write_text("# all of them\n" + "\n".join(wrong) + "\nno-such-case  # typo\n", encoding="utf-8")
    status, out, _ = conform(WRONG, *SPEED, "--known-failures", known)
    assert status == 0
    assert f"0 failed, {WRONG_ONES} known failures" in out
    assert "no such case: no-such-case" in out
    status, out, _ = conform(RIGHT, *SPEED, "--known-failures", known)
    assert status == 0
    assert "but passed: speed-" in out
    assert conform(RIGHT, *SPEED, "--known-failures", known, "--strict")[0] == 1
    # a known failure that was not asked about this time is neither unknown nor an unexpected pass
    status, out, _ = conform(RIGHT, *SPEED, "--level", "4", "--known-failures", known)
    assert "speed-tiny-full-load" not in out


def test_a_score_is_kept_and_compared(tmp_path):
    good, bad = tmp_path / "good.json", tmp_path / "bad.json"
    assert conform(RIGHT, *SPEED, "--save-score", good)[0] == 0
    assert conform(WRONG, *SPEED, "--save-score", bad)[0] == 1
    status, out, _ = conform(WRONG, *SPEED, "--compare", good)
    assert (status, f"worse ({WRONG_ONES})" in out) == (1, True)
    status, out, _ = conform(RIGHT, *SPEED, "--compare", bad)
    assert (status, f"better ({WRONG_ONES})" in out) == (0, True)
    status, out, _ = conform(WRONG, *SPEED, "--compare", bad)
    assert (status, "worse (0)" in out) == (0, True)
    bad.write_text("[1]", encoding="utf-8")
    status, _, err = conform(WRONG, *SPEED, "--compare", bad)
    assert (status, "not a saved score" in err) == (2, True)


def test_the_json_report_is_complete(tmp_path):
    status, out, _ = conform(WRONG, *SPEED, "--json")
    data = json.loads(out)
    assert status == 1
    assert data["total"]["asked"] == len(data["cases"]) == N
    assert data["mistakes"][0]["flag"] == "two-pi-forgotten"
    failed = [case for case in data["cases"] if case["status"] == "failed"]
    assert all(case["matches"]["words"] == "two pi forgotten" for case in failed)
    assert set(data["levels"]) == {"1", "2", "3", "4"}


def test_the_junit_report_is_what_build_servers_read(tmp_path):
    path = tmp_path / "report.xml"
    conform(WRONG, *SPEED, "--junit", path)
    root = Xml.parse(path).getroot()
    assert root.tag == "testsuites"
    assert (root.get("tests"), root.get("failures")) == (str(N), str(WRONG_ONES))
    assert len(root.findall("./testsuite/testcase/failure")) == WRONG_ONES
    assert "two pi forgotten" in root.find("./testsuite/testcase/failure").get("message")


def test_nasty_words_of_the_code_under_test_reach_neither_terminal_nor_xml(tmp_path):
    (tmp_path / "lab.py").write_text(
        "def speed(**given):\n    raise ValueError('\\x1b[31m\\x00<&\\ud800\\uffff' + chr(10) + 'second line' * 1000)\n",
        encoding="utf-8",
    )
    status, out, _ = conform("lab.py:speed", "--junit", tmp_path / "report.xml", cwd=tmp_path)
    assert status == 1
    assert "\x1b" not in out
    assert "\x00" not in out
    assert max(map(len, out.splitlines())) < 700
    Xml.parse(tmp_path / "report.xml")


def test_the_whole_suite_on_python_functions_takes_less_than_three_seconds(tmp_path):
    from shuntref.conformance.export.writer import export_source

    (tmp_path / "motor.py").write_text(export_source("python").text, encoding="utf-8")
    began = sum(os.times()[2:4])  # processor time of children, not the clock: the processor may be shared
    status, out, _ = conform(tmp_path / "motor.py", "--complete")
    assert sum(os.times()[2:4]) - began < 3.0
    assert status == 0
    assert f"{len(load_suite().cases)} passed, 0 failed" in out


def test_the_help_reads_like_a_person_wrote_it():
    status, out, _ = conform("--help")
    assert status == 0
    assert "is told the function and the inputs, never the answer" in " ".join(out.split())


def test_the_list_shows_names_units_and_defaults():
    status, out, _ = conform("--list", "--function", "speed_with_warm_windings")
    assert status == 0
    assert "temperature_constant [degC], positive, 235 when left out" in out
    assert "-> speed [rad/s]" in out
    status, out, _ = conform("--list", "--json")
    assert [entry["function"] for entry in json.loads(out)] == list(load_suite().functions)


def test_a_failure_tells_what_was_asked():
    _, out, _ = conform(WRONG, "--case", "speed-tiny-full-load", *SPEED)
    assert "speed was asked with supply_voltage = 24 V, field_resistance = " in out


def test_the_cases_are_written_whole_or_not_at_all(tmp_path):
    status, out, _ = conform("--write-cases", tmp_path / "cases.csv", "--function", "speed", "--json")
    assert (status, json.loads(out)["cases"]) == (0, N)
    status, _, err = conform("--write-cases", tmp_path / "nowhere" / "cases.csv")
    assert (status, err.count("\n")) == (2, 1)
    assert [path.name for path in tmp_path.iterdir()] == ["cases.csv"]


def test_messages_say_what_to_do_next(tmp_path):
    """What a stranger met: too long a list, a name not told, a program that does not speak."""
    lab = tmp_path / "lab.py"
    lab.write_text("def n0(U):\n    return U\n", encoding="utf-8")
    program = tmp_path / "program.py"
    program.write_text("print('hello')\n", encoding="utf-8")
    (tmp_path / "map.toml").write_text(
        '[ideal_no_load_speed]\ncall = "lab.py:n9"\narguments = { U = "supply_voltage" }\n', encoding="utf-8"
    )
    said = {
        (f"{lab}:n0",): "shuntref conform --list shows all",
        (f"{lab}:stal_torque",): "perhaps stall_torque",
        (f"{lab}:n9", *SPEED): "lab.py has no function 'n9'",
        (str(lab),): "no function called as in the suite",
        (str(tmp_path / "map.toml"),): "lab.py has no function 'n9'",
        ("--command", str(program)): 'name what runs it: --command "python3',
        ("--command", f"{sys.executable} {program}"): 'must answer the line {"ready":true}',
        ("--command", "no-such-program-at-all"): "on the PATH",
    }
    for arguments, words in said.items():
        status, out, err = conform(*arguments)
        assert (status, out, err.count("\n")) == (2, "", 1)
        assert words in err
        assert len(err) < 500


def test_a_factor_that_all_wrong_answers_share_is_told(tmp_path):
    lab = tmp_path / "lab.py"
    lab.write_text(
        "def ideal_no_load_speed(supply_voltage, field_resistance, flux_constant, added_field_resistance=0.0):\n"
        "    return 1.00001 * (field_resistance + added_field_resistance) / flux_constant\n",
        encoding="utf-8",
    )
    status, out, _ = conform(f"{lab}:ideal_no_load_speed")
    assert status == 1
    assert "is 1.00001 times the certified one in all" in out


def test_what_is_not_delivered_is_not_complete(tmp_path):
    lab = tmp_path / "lab.py"
    lab.write_text(
        "def i_f(V, Rf, c, T, Rx, Tl):\n"
        "    if min(V, Rf, c) <= 0 or min(Rx, Tl) < 0:\n"
        "        raise ValueError('no motor')\n"
        "    return V / (Rf + Rx)\n",
        encoding="utf-8",
    )
    mapping = tmp_path / "map.toml"
    mapping.write_text(
        '[currents]\ncall = "lab.py:i_f"\nresult = "field_current in A"\narguments = ["supply_voltage", '
        '"field_resistance", "flux_constant", "load_torque", "added_field_resistance", "loss_torque"]\n',
        encoding="utf-8",
    )
    status, out, _ = conform(str(mapping), "--function", "currents")
    assert "not judged, because currents does not deliver it: armature_current, line_current" in out
    assert status == 0
    assert conform(str(mapping), "--function", "currents", "--complete")[0] == 1


def test_the_report_says_what_was_judged_and_how(tmp_path):
    lab = tmp_path / "lab.py"
    lab.write_text("def stall_torque(**given):\n    raise ValueError('no')\n", encoding="utf-8")
    status, out, _ = conform(str(lab), "--precision", "single")
    assert status == 1
    assert "        of " in out
    assert " judged " in out
    assert "passed nothing but cases to refuse: stall_torque" in out
    assert "judged as single precision, with wider tolerances: stall_torque" in out
