"""The floors of the house: an import goes down only, and the package costs nothing until it is used."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

import shuntref

PACKAGE = Path(shuntref.__file__).parent
FLOOR = {"quantities": 0, "evidence": 0, "cautions": 0, "whole_file": 0, "references": 0, "theory": 1, "model": 1,
         "exercises": 2, "conformance": 2, "bench": 2, "explanation": 2, "tie": 2,
         "selfcheck": 3, "cli": 3, "__main__": 4}  # fmt: skip
SIDE_BY_SIDE = {("theory", "model"), ("exercises", "conformance"), ("exercises", "bench"), ("conformance", "bench"),
                ("explanation", "bench"), ("explanation", "exercises"), ("explanation", "conformance")}  # fmt: skip


def _imports(path: Path) -> set[str]:
    """Rooms of this package that a file imports, at its top or inside a function (not for type checking only)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skip: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            skip.update(child for part in node.body for child in ast.walk(part))
    found = set()
    for node in ast.walk(tree):
        if node in skip:
            continue
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        found.update(name.split(".")[1] for name in names if name.startswith("shuntref."))
    return found & set(FLOOR)


def _room(path: Path) -> str:
    part = path.relative_to(PACKAGE).parts[0]
    return part.removesuffix(".py")


FILES = [path for path in sorted(PACKAGE.rglob("*.py")) if _room(path) != "__init__"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_file_imports_from_a_floor_above_or_from_the_room_next_door(path: Path) -> None:
    room = _room(path)
    assert room in FLOOR, f"{path.name} is in no room of the house"
    for other in _imports(path) - {room}:
        assert FLOOR[other] <= FLOOR[room], f"{room} imports upwards from {other}"
        assert (room, other) not in SIDE_BY_SIDE, f"{room} imports {other}, which stands beside it"
        assert (other, room) not in SIDE_BY_SIDE, f"{room} imports {other}, which stands beside it"


def _modules_after(statement: str) -> set[str]:
    code = f"import sys, json; before = set(sys.modules); {statement}; print(json.dumps(sorted(set(sys.modules) - before)))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(json.loads(run.stdout))


def _top(modules: set[str]) -> set[str]:
    return {name.partition(".")[0] for name in modules}


def test_importing_shuntref_loads_no_third_party_module() -> None:
    loaded = _top(_modules_after("import shuntref"))
    assert loaded - {"shuntref"} <= set(sys.stdlib_module_names)


def test_importing_the_model_loads_neither_sympy_nor_pandas_nor_pint() -> None:
    loaded = _top(
        _modules_after("from shuntref import Machine, steady_state, TableFlux, load_machine, speed_torque_line")
    )
    assert not loaded & {"sympy", "mpmath", "pandas", "pint", "click", "matplotlib"}
    assert "numpy" in loaded


def test_every_public_name_is_there_and_an_unknown_one_is_an_attribute_error() -> None:
    for name in shuntref.__all__:
        assert getattr(shuntref, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = shuntref.nothing
    assert set(shuntref.__all__) <= set(dir(shuntref))
