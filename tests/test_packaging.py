"""What goes into the wheel: every room, every reference, the mark of types. The wheel itself is proved by .ci/package."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from importlib.metadata import entry_points, version
from pathlib import Path

import shuntref

ROOT = Path(__file__).parents[1]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
SETUPTOOLS = PYPROJECT["tool"]["setuptools"]


def test_every_folder_with_code_is_a_declared_package() -> None:
    folders = {path.parent.relative_to(ROOT) for path in (ROOT / "shuntref").rglob("*.py")}
    found = {".".join(folder.parts) for folder in folders} | {"shuntref.references"}
    assert found == set(SETUPTOOLS["packages"])


def test_every_reference_is_package_data() -> None:
    references = ROOT / SETUPTOOLS["package-dir"]["shuntref.references"]
    patterns = SETUPTOOLS["package-data"]["shuntref.references"]
    packed = {path for pattern in patterns for path in references.glob(pattern)} | {references / "__init__.py"}
    files = {path for path in references.rglob("*") if path.is_file() and "__pycache__" not in path.parts}
    assert len(files) > 100
    assert files == packed


def test_the_version_is_the_same_everywhere_and_the_command_is_installed() -> None:
    assert shuntref.__version__ == PYPROJECT["project"]["version"] == version("shuntref")
    (command,) = entry_points(group="console_scripts", name="shuntref")
    assert callable(command.load())


def test_type_checkers_may_read_the_package() -> None:
    assert (Path(shuntref.__file__).parent / "py.typed").read_bytes() == b""
    assert SETUPTOOLS["package-data"]["shuntref"] == ["py.typed"]


def test_a_program_that_uses_the_package_runs() -> None:
    """The same program is put to mypy --strict, against the installed wheel, by .ci/package."""
    program = ROOT / "tests" / "consumer_program.py"
    done = subprocess.run([sys.executable, program], capture_output=True, text=True, check=False)
    assert done.stderr == ""
    # worked by hand: 120/0.75 - 6*0.8/0.75^2 rad/s, and with I_f = 120/180; 112.5 N m = 0.75 * 120/0.8; E = 240 - 50*0.2
    assert done.stdout.splitlines() == [
        "1446.4 r/min, then 1615.7 r/min with 20 ohm in the field circuit",
        "electromagnetic_torque: 1000 N m is asked for, but at standstill this setting gives 112.5 N m "
        "and no more while turning forwards",
        "ada: 1 of 1, bob: 0 of 1",
        "8 of 8 cases passed",
    ]
    assert done.returncode == 0
