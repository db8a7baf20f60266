"""What pyproject.toml declares about versions is what has been run: every minimum, and every Python."""

from __future__ import annotations

import os
import re
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).parents[1]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PROJECT = PYPROJECT["project"]
RECORD = ROOT / ".ci" / "exercised_minimums.toml"
EXTRAS = PROJECT["optional-dependencies"]
USED = [*PROJECT["dependencies"], *(text for extra, texts in EXTRAS.items() if extra != "dev" for text in texts)]
EXERCISING = "SHUNTREF_MINIMUMS" in os.environ  # set by .ci/minimums, which writes the record after this very run
DECLARED = {"installed": USED, "build": PYPROJECT["build-system"]["requires"], "tools": EXTRAS["dev"]}


def _record() -> dict[str, Any]:
    return tomllib.loads(RECORD.read_text(encoding="utf-8"))


def _lower_bounds(texts: list[str]) -> dict[str, str]:
    """Name -> the one lower bound; requirements on the package's own extras are declared where those are."""
    found: dict[str, set[str]] = {}
    for requirement in map(Requirement, texts):
        if requirement.name != PROJECT["name"]:
            bounds = [clause.version for clause in requirement.specifier if clause.operator == ">="]
            assert len(bounds) == 1, f"{requirement} has no lower bound, or more than one"
            found.setdefault(requirement.name.lower(), set()).add(bounds[0])
    assert all(len(bounds) == 1 for bounds in found.values()), f"declared in two ways: {found}"
    return {name: bounds.pop() for name, bounds in found.items()}


@pytest.mark.skipif(EXERCISING, reason="the record is written after this run")
@pytest.mark.parametrize("table", list(DECLARED))
def test_every_declared_minimum_was_exercised(table: str) -> None:
    assert _lower_bounds(DECLARED[table]) == _record()[table], "run .ci/minimums, which records what it ran"


@pytest.mark.skipif(EXERCISING, reason="the record is written after this run")
def test_the_oldest_python_was_exercised_with_the_minimums() -> None:
    oldest = PROJECT["requires-python"].removeprefix(">=")
    assert _record()["python"].startswith(oldest + ".")


def test_the_pythons_of_the_classifiers_run_from_the_oldest_on_and_this_is_one_of_them() -> None:
    named = re.findall(r"Python :: 3\.(\d+)", "\n".join(PROJECT["classifiers"]))
    first = int(PROJECT["requires-python"].removeprefix(">=3."))
    assert [int(minor) for minor in named] == list(range(first, first + len(named)))
    assert sys.version_info[:2] >= (3, first)


def test_every_dependency_has_one_lower_bound() -> None:
    for texts in DECLARED.values():
        assert _lower_bounds(texts)


@pytest.mark.skipif(not EXERCISING, reason="only .ci/minimums installs exactly the minimums")
def test_exactly_the_minimums_are_installed_here() -> None:
    wanted = _lower_bounds([*DECLARED["installed"], *DECLARED["build"]])
    assert {name: Version(version(name)) for name in wanted} == {name: Version(v) for name, v in wanted.items()}
    assert f"{sys.version_info.major}.{sys.version_info.minor}" == PROJECT["requires-python"].removeprefix(">=")
