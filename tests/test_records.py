"""What a caller holds cannot change under the hand: every record is frozen, but for the named working places."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
from collections.abc import Iterator

import pytest

import shuntref

#: these are worked on while something is going on: a search, a child process, a page being drawn, a row being read
WORKED_ON = {
    "bench.invented_log._Pen",
    "bench.readings._Row",
    "conformance.answers.AnswersTarget",
    "conformance.child.Child",
    "conformance.targets.LineTarget",
    "exercises.equation.LawEquation",
    "exercises.equation.CurveEquation",
    "exercises.equation.WholeEquation",
    "exercises.equation.ReadingEquation",
    "exercises.system.System",
    "model.block_solver.Solved",
    "model.first_root.FirstRoots",
    "model.setting.Setting",
}


def _records() -> Iterator[type]:
    for module in pkgutil.walk_packages(shuntref.__path__, "shuntref."):
        if module.name == "shuntref.__main__":  # runs the command
            continue
        for thing in vars(importlib.import_module(module.name)).values():
            if isinstance(thing, type) and dataclasses.is_dataclass(thing) and thing.__module__ == module.name:
                yield thing


RECORDS = {f"{record.__module__.removeprefix('shuntref.')}.{record.__name__}": record for record in _records()}


@pytest.mark.parametrize("name", sorted(RECORDS.keys() - WORKED_ON))
def test_a_record_is_frozen(name: str) -> None:
    record = RECORDS[name]
    # no value is needed to be refused: an instance without its fields will do
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign"):
        setattr(object.__new__(record), next((field.name for field in dataclasses.fields(record)), "any"), None)


def test_the_exceptions_are_records_of_the_package() -> None:
    assert RECORDS.keys() >= WORKED_ON
    assert len(RECORDS) > 180
