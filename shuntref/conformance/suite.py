"""The certified cases as the runner sees them: cases, functions and flags read from references/cases and checked in form.

The expected values stay texts of 25 digits; they are compared as decimals and never leave this side.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = ["Case", "Flag", "FunctionEntry", "InputEntry", "Suite", "Value", "WrongValue", "load_suite", "select"]

#: one certified value, or the values of a list
Value = str | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WrongValue:
    """What a named mistake makes of a case."""

    flag: str
    values: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Case:
    """One certified case; ``result`` is "valid", "invalid" or "acceptable"."""

    id: str
    group: str
    function: str
    level: int
    inputs: Mapping[str, float | tuple[float, ...]]
    result: str
    expected: Mapping[str, Value] = field(default_factory=dict)
    acceptable: tuple[tuple[str, Mapping[str, Value]], ...] = ()
    condition: Mapping[str, str] = field(default_factory=dict)
    tolerance: Mapping[str, str] = field(default_factory=dict)
    absolute: Mapping[str, str] = field(default_factory=dict)
    tolerance_reason: str = ""
    flags: tuple[WrongValue, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Flag:
    """A named mistake: its kind, what is done wrong, and what comes of it."""

    name: str
    kind: str
    description: str
    effect: str


@dataclass(frozen=True, slots=True)
class InputEntry:
    """One input of a function.

    ``default`` is what leaving it out means (None: nothing can stand for it); ``accept`` is "positive", "not negative",
    "any", "whole" or "even"; a ``table`` is a list of values.
    """

    name: str
    unit: str
    required: bool = True
    default: float | None = None
    table: bool = False
    accept: str = "any"


@dataclass(frozen=True, slots=True)
class FunctionEntry:
    """A function the suite asks for."""

    name: str
    group: str
    inputs: tuple[InputEntry, ...]
    outputs: tuple[str, ...]
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class Suite:
    """Cases in canonical order with their functions and flags; ``digest`` tells two editions apart."""

    cases: tuple[Case, ...]
    functions: Mapping[str, FunctionEntry]
    flags: Mapping[str, Flag]
    digest: str = ""

    @property
    def groups(self) -> tuple[str, ...]:
        """The groups, in the order in which their first case stands."""
        return tuple(dict.fromkeys(case.group for case in self.cases))


def _value(written: Any) -> Value:
    return tuple(str(item) for item in written) if isinstance(written, list) else str(written)


def _values(written: Mapping[str, Any]) -> dict[str, Value]:
    return {name: _value(value) for name, value in written.items()}


def _texts(written: Mapping[str, Any]) -> dict[str, str]:
    return {name: str(value) for name, value in written.items()}


def _case(written: Mapping[str, Any]) -> Case:
    return Case(
        id=written["id"],
        group=written["group"],
        function=written["function"],
        level=int(written["level"]),
        inputs={k: tuple(map(float, v)) if isinstance(v, list) else float(v) for k, v in written["inputs"].items()},
        result=written["result"],
        expected=_values(written.get("expected", {})),
        acceptable=tuple((a["name"], _values(a.get("values", {}))) for a in written.get("acceptable", ())),
        condition=_texts(written.get("condition", {})),
        tolerance=_texts(written.get("tolerance", {})),
        absolute=_texts(written.get("absolute", {})),
        tolerance_reason=written.get("tolerance_reason", ""),
        flags=tuple(WrongValue(f["flag"], _values(f.get("wrong", {}))) for f in written.get("flags", ())),
        note=written.get("note", ""),
    )


def _function(name: str, written: Mapping[str, Any]) -> FunctionEntry:
    inputs = tuple(
        InputEntry(
            i["name"],
            i["unit"],
            i.get("required", True),
            i.get("default"),
            i.get("shape") == "list",
            i.get("accept", "any"),
        )
        for i in written["inputs"]
    )
    return FunctionEntry(
        name, written["group"], inputs, tuple(o["name"] for o in written["outputs"]), written.get("sentence", "")
    )


def suite_from(cases: bytes, functions: bytes, flags: bytes) -> Suite:
    """Build a suite from the contents of cases.json, functions.toml and flags.toml.

    Raises
    ------
    ValueError
        When they are not what the schema of the cases says, or a case asks for a function that is not described.
    """
    try:
        described = {name: _function(name, entry) for name, entry in tomllib.loads(functions.decode("utf-8")).items()}
        named = {
            name: Flag(name, entry.get("kind", ""), entry.get("description", ""), entry.get("effect", ""))
            for name, entry in tomllib.loads(flags.decode("utf-8")).items()
        }
        listed = tuple(_case(entry) for entry in json.loads(cases)["cases"])
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"the certified cases cannot be read: {type(error).__name__} {error}") from None
    for case in listed:
        if case.function not in described:
            raise ValueError(f"case {case.id}: function {case.function!r} is not described in functions.toml")
    return Suite(listed, described, named, hashlib.sha256(cases).hexdigest())


@cache
def load_suite() -> Suite:
    """Return the suite that comes with the package.

    Examples
    --------
    >>> suite = load_suite()
    >>> suite.functions["speed"].outputs
    ('speed',)
    >>> len({case.id for case in suite.cases}) == len(suite.cases)
    True
    """
    folder = files("shuntref.references") / "cases"
    return suite_from(*((folder / name).read_bytes() for name in ("cases.json", "functions.toml", "flags.toml")))


def select(
    suite: Suite,
    *,
    groups: Iterable[str] = (),
    functions: Iterable[str] = (),
    levels: Iterable[int] = (),
    ids: Iterable[str] = (),
) -> tuple[Case, ...]:
    """Return the cases of the named groups, functions, levels and ids; an empty choice means all of them.

    Raises
    ------
    ValueError
        When a name matches nothing; the message lists what there is.

    Examples
    --------
    >>> {case.function for case in select(load_suite(), functions=["speed"])}
    {'speed'}
    """
    wanted: dict[str, set[Any]] = {
        "group": set(groups),
        "function": set(functions),
        "level": set(levels),
        "id": set(ids),
    }
    for attribute, names in wanted.items():
        known = {getattr(case, attribute) for case in suite.cases}
        for name in sorted(names - known, key=str):
            listed = (
                ", ".join(map(str, sorted(known))) if attribute != "id" else "listed in ids.txt of references/cases"
            )
            raise ValueError(f"no case has {attribute} {str(name)[:60]!r}; the {attribute}s are {listed}")
    return tuple(
        case for case in suite.cases if all(not names or getattr(case, a) in names for a, names in wanted.items())
    )
