"""Three lab scripts in Python, Octave and C: the report passes the right one and names the mistake of the other two."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from shuntref.cli.conformance import conform
from shuntref.conformance.suite import load_suite, select

LABS = Path(__file__).parent / "lab_scripts"


def report(*arguments):
    result = CliRunner().invoke(conform, list(arguments), standalone_mode=False)
    assert result.exception is None, result.exception
    return result.return_value, result.output


def test_the_python_script_takes_revolutions_per_minute_for_radians():
    status, text = report(str(LABS / "bench_day.toml"), "--function", "speed")
    assert status == 1
    answerable = [c for c in select(load_suite(), functions=["speed"]) if c.result != "invalid"]
    assert f"{len(answerable)}  revolutions per minute taken for radians" in text
    assert "of no known mistake" not in text


@pytest.mark.skipif(shutil.which("octave-cli") is None, reason="Octave is not installed")
def test_the_octave_script_takes_the_line_current_for_the_armature_current():
    status, text = report(
        str(LABS / "evening_class.toml"), "--function", "back_emf", "--function", "torque_from_line_current"
    )
    assert status == 1
    found = re.search(r"What went wrong\n +(\d+)  line current for armature current\n", text)
    assert found is not None
    assert int(found.group(1)) > 50
    assert "matches: line current for armature current" in text


@pytest.mark.skipif(shutil.which("gcc") is None, reason="gcc is not installed")
def test_the_c_program_is_right(tmp_path):
    program = tmp_path / "test_rig"
    strict = ["-std=c11", "-Wall", "-Wextra", "-pedantic", "-Werror"]
    subprocess.run(["gcc", *strict, str(LABS / "test_rig.c"), "-o", str(program), "-lm"], check=True, timeout=60)
    status, text = report("--command", str(program))  # the whole suite: what it does not have it says
    assert status == 0
    assert re.search(r"109 passed, 0 failed, \d+ not implemented", text)
    assert "What went wrong" not in text


@pytest.mark.skipif(shutil.which("gcc") is None, reason="gcc is not installed")
def test_repairing_the_c_program_the_wrong_way_round_is_noticed(tmp_path):
    """The same program without the field current in the line current: the score kept before shows what got worse."""
    source = (LABS / "test_rig.c").read_text(encoding="utf-8")
    spoilt = source.replace("id, field, armature, armature + field);", "id, field, armature, armature);")
    assert spoilt != source
    for name, text in (("good", source), ("spoilt", spoilt)):
        (tmp_path / f"{name}.c").write_text(text, encoding="utf-8")
        subprocess.run(
            ["gcc", "-std=c11", str(tmp_path / f"{name}.c"), "-o", str(tmp_path / name), "-lm"], check=True, timeout=60
        )
    score = str(tmp_path / "score.json")
    status, _ = report("--command", str(tmp_path / "good"), "--function", "currents", "--save-score", score)
    assert status == 0
    status, text = report("--command", str(tmp_path / "spoilt"), "--function", "currents", "--compare", score)
    assert status == 1
    assert "better (0)" in text
    assert re.search(r"worse \((2\d|3\d)\): currents-tiny-full-load", text)
    assert "line current for armature current" in text
