"""The README is true: its shell examples print what it says, and its two commands are there for CI to run."""

from __future__ import annotations

import doctest
import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```console\n\$ shuntref (.*?)\n(.*?)```", README, flags=re.S)


@pytest.mark.parametrize(("arguments", "expected"), EXAMPLES, ids=[call.split()[0] for call, _ in EXAMPLES])
def test_a_shell_example_prints_what_the_readme_says(
    arguments: str, expected: str, command_line: Callable[..., tuple[int, str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    status, out, err = command_line(*shlex.split(arguments))
    assert status in (0, 1)
    assert err == ""
    checker = doctest.OutputChecker()
    flags = doctest.ELLIPSIS
    assert checker.check_output(expected, out, flags), f"printed:\n{out}\nREADME:\n{expected}"


def test_there_are_shell_examples_and_the_two_commands() -> None:
    assert len(EXAMPLES) >= 3
    blocks = re.findall(r"```sh\n(.*?)\n```", README, flags=re.S)
    assert len(blocks) == 2
    assert blocks[0].endswith("shuntref tour")
    assert blocks[1].endswith("pytest")


def test_the_top_level_holds_what_it_should_and_nothing_else() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "shuntref", "references", "tests", "benchmarks"}
    made = {"build", "dist", "venv", "mutants"}  # by tools, and ignored by git
    made |= {"setup.cfg", "PKG-INFO"}  # in an unpacked source archive
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - made - {name for name in found if name.endswith(".egg-info")} == allowed
