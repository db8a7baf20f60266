"""Run the whole suite at the exact minimum versions that pyproject.toml declares, and at the newest.

    .ci/minimums   oldest Python, the lower bound of every dependency and no newer; a green run is written to
                   .ci/exercised_minimums.toml, which tests/test_versions.py compares with pyproject.toml
    .ci/matrix     every Python of the classifiers with the newest packages, then .ci/minimums; prints a table

Each run has a new virtual environment in a temporary folder. The newest packages are those that pip finds.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parents[1]
RECORD = ROOT / ".ci" / "exercised_minimums.toml"
CHECKED_HERE = "SHUNTREF_MINIMUMS"  # tells tests/test_versions.py that the installed versions must be the minimums
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
_REQUIREMENT = re.compile(r"(?P<name>[\w.-]+)(?P<extras>\[[\w,.-]+\])?>=(?P<version>[\d.]+)")


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    python: str
    packages: str
    passed: int = 0
    skipped: int = 0
    failed: int = 0
    seconds: float = 0.0

    @property
    def green(self) -> bool:
        """Whether tests ran and none failed."""
        return self.passed > 0 and self.failed == 0


def minimums(requirements: Iterable[str]) -> dict[str, str]:
    """Return name with extras -> lower bound; a requirement on this package's own extras is passed over."""
    found: dict[str, str] = {}
    for text in requirements:
        if text.startswith(PYPROJECT["project"]["name"] + "["):
            continue
        match = _REQUIREMENT.fullmatch(text)
        if match is None:
            raise SystemExit(f"pyproject.toml: {text!r} has no lower bound in the form name>=1.2")
        name = match["name"] + (match["extras"] or "")
        if found.setdefault(name, match["version"]) != match["version"]:
            raise SystemExit(f"pyproject.toml: two lower bounds for {name}")
    return found


def used_by_tests() -> list[str]:
    """Return the requirements of the package and of every extra but the developers' tools."""
    optional = PYPROJECT["project"]["optional-dependencies"]
    used = [text for extra, texts in optional.items() if extra != "dev" for text in texts]
    return [*PYPROJECT["project"]["dependencies"], *used]


def pythons() -> list[str]:
    """Return the Python versions of the classifiers, the oldest first."""
    found = [
        re.fullmatch(r"Programming Language :: Python :: (3\.\d+)", c) for c in PYPROJECT["project"]["classifiers"]
    ]
    return sorted((match[1] for match in found if match), key=lambda text: int(text.split(".")[1]))


def interpreter(version: str) -> str | None:
    """Return a Python of that version: from the path, or from where a version manager keeps them."""
    kept = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    candidates = [shutil.which(f"python{version}"), *map(str, sorted(kept.glob(f"{version}.*/bin/python")))]
    for path in filter(None, candidates):
        asked = [path, "-c", "import sys; print('%d.%d' % sys.version_info[:2])"]
        if subprocess.run(asked, capture_output=True, text=True).stdout.strip() == version:
            return path
    return None


def environment(python: str, folder: Path, *requirements: str) -> str:
    """Make a virtual environment with these packages, from wheels only; return its Python."""
    subprocess.run([python, "-m", "venv", folder], check=True)
    inside = str(folder / "bin" / "python")
    subprocess.run([inside, "-m", "pip", "install", "-q", "--only-binary", ":all:", *requirements], check=True)
    return inside


def add_checkout(inside: str, *options: str) -> None:
    """Install this checkout, editable."""
    subprocess.run([inside, "-m", "pip", "install", "-q", *options, "-e", ROOT], check=True)
    subprocess.run([inside, "-m", "pip", "check"], check=True, stdout=sys.stderr)


def run_suite(inside: str, packages: str, given: Sequence[str] = (), **variables: str) -> Row:
    """Run the tests and count what became of them."""
    version = _python_version(inside)
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        command = [inside, "-m", "pytest", f"--junitxml={report}", *given]
        began = time.monotonic()
        done = subprocess.run(command, cwd=ROOT, env={**os.environ, "CI": "true", **variables}, stdout=sys.stderr)
        seconds = time.monotonic() - began
        if not report.exists():
            return Row(version, packages, failed=1, seconds=seconds)
        counts = ElementTree.parse(report).getroot().iter("testsuite")
        total = skipped = failed = 0
        for suite in counts:
            total += int(suite.attrib["tests"])
            skipped += int(suite.attrib["skipped"])
            failed += int(suite.attrib["failures"]) + int(suite.attrib["errors"])
    passed = total - skipped - failed
    return Row(version, packages, passed, skipped, max(failed, int(done.returncode != 0)), seconds)


def _python_version(inside: str) -> str:
    return subprocess.run(
        [inside, "-c", "import platform; print(platform.python_version())"], capture_output=True, text=True, check=True
    ).stdout.strip()


def _exact(bounds: dict[str, str]) -> list[str]:
    return [f"{name}=={version}" for name, version in bounds.items()]


def run_minimums(folder: Path, given: Sequence[str]) -> Row:
    """Run the suite, and the developers' tools, at the declared minimums; record the versions after a green run."""
    running = minimums(used_by_tests())
    building = minimums(PYPROJECT["build-system"]["requires"])
    tools = minimums(PYPROJECT["project"]["optional-dependencies"]["dev"])
    oldest = pythons()[0]
    python = interpreter(oldest)
    if python is None:
        raise SystemExit(f"Python {oldest}, the oldest that is declared, is not on this machine")
    inside = environment(python, folder / "minimum", *_exact(running), *_exact(building))
    add_checkout(inside, "--no-deps", "--no-build-isolation")
    row = run_suite(inside, "minimum", given, **{CHECKED_HERE: "1"})
    if row.green and not given:
        with_tools = environment(python, folder / "tools", *_exact(tools), *used_by_tests())
        add_checkout(with_tools, "--no-deps")
        run_tools(with_tools, folder)
        write_record(row.python, {"installed": running, "build": building, "tools": tools})
    return row


def run_tools(inside: str, folder: Path) -> None:
    """Run what a developer runs beside the tests."""
    for arguments in (
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy", f"--cache-dir={folder / 'mypy'}"],
        ["build", "-q", "--outdir", folder / "dist", "."],
    ):
        subprocess.run([inside, "-m", *arguments], cwd=ROOT, check=True, stdout=sys.stderr)


def write_record(python: str, tables: dict[str, dict[str, str]]) -> None:
    """Write which versions the suite has passed with."""
    lines = ["# Written by .ci/minimums after a run in which nothing failed; not to be edited by hand."]
    lines += ["# tests/test_versions.py fails while pyproject.toml declares a minimum that is not here.", ""]
    lines += [f'python = "{python}"']
    for table, bounds in tables.items():
        lines += ["", f"[{table}]"]
        lines += [f'{name.split("[")[0].lower()} = "{bounds[name]}"' for name in sorted(bounds, key=str.lower)]
    fresh = RECORD.with_suffix(".tmp")
    fresh.write_text("\n".join(lines) + "\n", encoding="utf-8")
    fresh.replace(RECORD)


def run_newest(version: str, folder: Path, given: Sequence[str]) -> Row:
    """Run the suite with one Python and the newest packages."""
    python = interpreter(version)
    if python is None:
        return Row(version, "not on this machine")
    inside = environment(python, folder / version, *used_by_tests())
    add_checkout(inside, "--no-deps")
    return run_suite(inside, "newest", given)


def table(rows: Iterable[Row]) -> str:
    """Return the rows as a table."""
    lines = ["| Python | packages | passed | skipped | failed | seconds |", "|---|---|---|---|---|---|"]
    for row in rows:
        counts = f"{row.passed} | {row.skipped} | {row.failed} | {row.seconds:.0f}" if row.seconds else "- | - | - | -"
        lines.append(f"| {row.python} | {row.packages} | {counts} |")
    return "\n".join(lines)


def main() -> int:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("do", choices=["minimums", "matrix"])
    parser.add_argument("pytest", nargs="*", help="arguments for pytest; with any, nothing is recorded")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        rows = []
        if given.do == "matrix":
            for version in pythons():
                rows.append(run_newest(version, folder, given.pytest))
                print(table(rows[-1:]), file=sys.stderr, flush=True)
                shutil.rmtree(folder / version, ignore_errors=True)
        rows.append(run_minimums(folder, given.pytest))
    print(table(rows))
    return 0 if all(row.green for row in rows if row.seconds) else 1


if __name__ == "__main__":
    sys.exit(main())
