"""The floors of the house: an import goes down only, and the package costs nothing until it is used."""

from __future__ import annotations

import ast
import importlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

import shuntref

PACKAGE = Path(shuntref.__file__).parent
#: room -> floor, as DEVELOPERS.md says; rooms above the ground floor do not use those of their own floor
FLOOR = {"quantities": 0, "evidence": 0, "cautions": 0, "provenance": 0, "whole_file": 0, "references": 0,
         "theory": 1, "model": 1,
         "exercises": 2, "conformance": 2, "bench": 2, "explanation": 2, "tie": 2,
         "selfcheck": 3, "cli": 4, "__main__": 5}  # fmt: skip


def _room_of(module: str) -> str:
    """The room of a module of this package; a public name of the package counts as the room that it is defined in."""
    part = module.split(".")[1]
    return shuntref._PUBLIC[part].split(".")[1] if part in shuntref._PUBLIC else part


def _imports(source: str, package: str) -> set[str]:
    """Rooms of this package that a file imports, at its top or inside a function (not for type checking only).

    ``package`` is the dotted name of the package that the file stands in; the text of a call of import_module counts too.
    """
    tree = ast.parse(source)
    skip: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            skip.update(child for part in node.body for child in ast.walk(part))
    names = []
    for node in ast.walk(tree):
        if node in skip:
            continue
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: 1 - node.level or None] if node.level else []
            module = ".".join([*above, *([node.module] if node.module else [])])
            names += [f"{module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith("import_module"):
            names += [
                text.value for text in node.args if isinstance(text, ast.Constant) and isinstance(text.value, str)
            ]
    return {_room_of(name) for name in names if name.startswith("shuntref.")} & set(FLOOR)


def _room(path: Path) -> str:
    part = path.relative_to(PACKAGE).parts[0]
    return part.removesuffix(".py")


def _complaint(room: str, other: str) -> str:
    """What is wrong with an import of one room by another; nothing when it goes down."""
    if FLOOR[other] > FLOOR[room]:
        return (
            f"{room} (floor {FLOOR[room]}) imports upwards from {other} (floor {FLOOR[other]}): what both need belongs in "
            f"{room} or below it"
        )
    if other != room and FLOOR[other] == FLOOR[room] > 0:
        return f"{room} imports {other}, which stands beside it on floor {FLOOR[room]}: what both need belongs on a floor below"
    return ""


FILES = [path for path in sorted(PACKAGE.rglob("*.py")) if _room(path) != "__init__"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_file_imports_from_a_floor_above_or_from_the_room_next_door(path: Path) -> None:
    room = _room(path)
    assert room in FLOOR, (
        f"{path.name} is in no room of the house: put it in one, or give the new room its floor in FLOOR of this test and in "
        "the table of DEVELOPERS.md"
    )
    package = ".".join(("shuntref", *path.relative_to(PACKAGE).parent.parts))
    wrong = [_complaint(room, other) for other in sorted(_imports(path.read_text(encoding="utf-8"), package))]
    assert not any(wrong), "; ".join(filter(None, wrong))


@pytest.mark.parametrize(
    ("package", "line", "said"),
    [
        ("shuntref.theory", "from shuntref.model import formulas", "beside"),
        ("shuntref.theory", "from shuntref import steady_state", "beside"),
        ("shuntref.theory", "from ..model.formulas import peak_speed", "beside"),
        ("shuntref.theory.laws", "from ...model import formulas", "beside"),
        ("shuntref.quantities", "import shuntref.cli.tour", "upwards"),
        ("shuntref.model", "def f():\n    from shuntref.exercises import slips", "upwards"),
        ("shuntref.bench", "importlib.import_module('shuntref.conformance.score')", "beside"),
        ("shuntref.explanation", "from shuntref import tie", "beside"),
        ("shuntref.selfcheck", "from shuntref.cli import main", "upwards"),
        ("shuntref.theory", "from shuntref.quantities.registry import REGISTRY", ""),
        ("shuntref.theory.laws", "from .law import Law\nfrom ..symbols import symbol", ""),
        ("shuntref.bench", "if TYPE_CHECKING:\n    from shuntref.cli import main", ""),
    ],
)
def test_an_import_that_goes_the_wrong_way_is_seen_however_it_is_written(package: str, line: str, said: str) -> None:
    complaints = "".join(_complaint(package.split(".")[1], other) for other in _imports(line, package))
    assert said in complaints
    assert bool(said) == bool(complaints)


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


@pytest.mark.parametrize("package", ["shuntref", "shuntref.model"])
def test_a_type_checker_is_told_every_public_name_and_no_other(package: str) -> None:
    module = importlib.import_module(package)
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    told = {
        alias.asname: node.module
        for block in tree.body
        if isinstance(block, ast.If) and ast.unparse(block.test) == "TYPE_CHECKING"
        for node in block.body
        if isinstance(node, ast.ImportFrom) and node.module != "typing"
        for alias in node.names
    }
    held = {name: place if "." in place else f"{package}.{place}" for name, place in module._PUBLIC.items()}
    for name, place in told.items():
        if held.get(name) == f"{place}.{name}":  # a module is offered itself
            told[name] = held[name]
    assert told == held, f"_PUBLIC and the imports under TYPE_CHECKING in {package}/__init__.py differ"


def test_no_file_of_the_package_is_longer_than_one_idea() -> None:
    lines = {path: path.read_text(encoding="utf-8").count("\n") for path in PACKAGE.rglob("*.py")}
    long = [f"{path.relative_to(PACKAGE)} has {count}" for path, count in lines.items() if count > 400]
    assert not long, f"more than 400 lines; a part of it has a name of its own: {', '.join(long)}"
