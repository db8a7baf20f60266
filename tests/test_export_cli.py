"""The command export: what it prints and writes, and with which status it ends."""

import json
import subprocess
import sys

import pytest


def export(*arguments, cwd=None):
    done = subprocess.run(
        [sys.executable, "-m", "shuntref", "export", *map(str, arguments)],
        capture_output=True, text=True, timeout=120, cwd=cwd, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout, done.stderr


def test_a_source_is_printed_or_written_alike(tmp_path):
    status, text, err = export("--language", "python", "--function", "speed")
    assert (status, err) == (0, "")
    status, out, _ = export("--language", "python", "--function", "speed", "--out", tmp_path)
    assert (status, "1 functions written" in out) == (0, True)
    assert (tmp_path / "motor.py").read_text(encoding="utf-8") == text
    done = subprocess.run([sys.executable, tmp_path / "motor.py", "--self-test"], capture_output=True, text=True, timeout=60,
                          check=True)  # fmt: skip
    assert done.stdout == "4 certified cases, 0 wrong\n"


def test_a_file_name_can_be_chosen_and_json_tells_it(tmp_path):
    status, out, _ = export(
        "--language", "c", "--function", "speed", "--function", "currents", "--out", tmp_path / "a.c", "--json"
    )
    assert status == 0
    assert json.loads(out) == {"language": "c", "functions": ["speed", "currents"], "file": str(tmp_path / "a.c")}
    status, out, _ = export("--language", "javascript", "--function", "speed", "--json")
    assert "function speed(" in json.loads(out)["text"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "language"),
        (("--language", "cobol"), "cobol"),
        (("--language", "c", "--function", "sped"), "unknown function 'sped'"),
        (("--language", "c", "--out", "/no/such/folder/motor.c"), "folder"),
    ],
)
def test_unusable_input_ends_with_2_and_one_line(arguments, words):
    status, out, err = export(*arguments)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert words in err
