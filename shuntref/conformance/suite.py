"""The certified cases as the runner sees them: cases, functions and flags read from references/cases and checked in form.

The expected values stay texts of 25 digits; they are compared as decimals and never leave this side.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from shuntref.conformance.flags import Flag, load_flags
from shuntref.conformance.functions import Function, load_functions
from shuntref.conformance.near_names import names_instead

__all__ = ["Case", "Suite", "Value", "WrongValue", "load_suite", "select"]

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
class Suite:
    """Cases in canonical order with their functions and flags; ``digest`` tells two editions apart."""

    cases: tuple[Case, ...]
    functions: Mapping[str, Function]
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


def suite_from(cases: bytes) -> Suite:
    """Build a suite from the contents of a cases.json, with the functions and flags that come with the package.

    Raises
    ------
    ValueError
        When they are not what the schema of the cases says, or a case asks for a function that is not described.
    """
    try:
        listed = tuple(_case(entry) for entry in json.loads(cases)["cases"])
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"the certified cases cannot be read: {type(error).__name__} {error}") from None
    functions = load_functions()
    for case in listed:
        if case.function not in functions:
            raise ValueError(f"case {case.id}: function {case.function!r} is not described in functions.toml")
    return Suite(listed, functions, load_flags(), hashlib.sha256(cases).hexdigest())


@cache
def load_suite() -> Suite:
    """Return the suite that comes with the package.

    Returns
    -------
    Suite

    Examples
    --------
    >>> suite = load_suite()
    >>> len({case.id for case in suite.cases}) == len(suite.cases)
    True
    """
    return suite_from((files("shuntref.references") / "cases" / "cases.json").read_bytes())


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
            where = "cases.csv of references/cases" if attribute == "id" else "shuntref conform --list"
            instead = names_instead(str(name), sorted(known), where)
            raise ValueError(f"no case has {attribute} {str(name)[:60]!r}; {instead}")
    return tuple(
        case for case in suite.cases if all(not names or getattr(case, a) in names for a, names in wanted.items())
    )
