"""The certified cases as flat tables: one source, written as CSV for spreadsheets, databases and any language.

UTF-8, line feed, a comma between fields, quotation marks only where they must be. The readings of a list stand in one
field with blanks between them.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shuntref.conformance.flags import load_flags
from shuntref.conformance.functions import load_functions
from shuntref.quantities.registry import REGISTRY

__all__ = ["Column", "Table", "case_tables", "csv_text"]


@dataclass(frozen=True, slots=True)
class Column:
    """A field of a table: its name, type in the words of the Data Package standard, meaning and unit."""

    name: str
    type: str
    description: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table: file name, title, columns, rows of texts; ``key`` and ``refers`` as in a database."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    key: tuple[str, ...] = ()
    refers: tuple[tuple[str, str, str], ...] = ()


def csv_text(table: Table) -> str:
    """Return a table as CSV.

    Examples
    --------
    >>> table = Table("a", "", (Column("x", "number", ""), Column("note", "string", "")), (("1.5", "low, high"),))
    >>> csv_text(table)
    'x,note\\n1.5,"low, high"\\n'
    """
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([column.name for column in table.columns])
    writer.writerows(table.rows)
    return stream.getvalue()


def _cell(value: Any) -> str:
    """Return a number, a text or a list of them as one field, numbers as JSON writes them."""
    if isinstance(value, list):
        return " ".join(_cell(entry) for entry in value)
    return value if isinstance(value, str) else json.dumps(value)


def _case_table(cases: Sequence[Mapping[str, Any]]) -> Table:
    functions = load_functions()
    lists = {("inputs", entry.name) for f in functions.values() for entry in f.inputs if entry.is_list}
    lists |= {("expected", entry.name) for f in functions.values() for entry in f.outputs if entry.is_list}
    given = [n for n in REGISTRY if any(n in case["inputs"] for case in cases)]
    asked = [n for n in REGISTRY if any(n in case["expected"] for case in cases)]
    columns = [
        Column("id", "string", "stable identifier of the case"),
        Column("group", "string", "group the case is counted in"),
        Column("function", "string", "function asked for"),
        Column("level", "integer", "1 basic, 2 textbook, 3 corner, 4 ill-conditioned"),
        Column("result", "string", "valid; invalid: must be refused; acceptable: see acceptable.csv"),
    ]
    parts: list[tuple[str, str, list[str], str]] = [
        ("inputs", "given", given, "input; empty: not given"),
        ("expected", "expected", asked, "expected value to 25 digits"),
        ("condition", "condition", asked, "relative condition number of the expected value"),
        ("tolerance", "tolerance", asked, "relative tolerance"),
        ("absolute", "absolute", asked, "absolute tolerance, in place of the relative one"),
    ]
    for part, prefix, names, words in parts:
        for name in names:
            several = (part, name) in lists
            unit = REGISTRY[name].unit if part in ("inputs", "expected", "absolute") else "1"
            meaning = f"{words}: {REGISTRY[name].meaning}" + ("; readings separated by blanks" if several else "")
            columns.append(Column(f"{prefix}.{name}", "string" if several else "number", meaning, unit))
    columns += [
        Column("tolerance_reason", "string", "why the tolerance is what it is"),
        Column("note", "string", "remark"),
    ]
    rows = []
    for case in cases:
        row = [case["id"], case["group"], case["function"], str(case["level"]), case["result"]]
        row += [_cell(case[part].get(name, "")) for part, _, names, _ in parts for name in names]
        rows.append((*row, case["tolerance_reason"], case["note"]))
    return Table("cases.csv", "Certified cases, one row per case", tuple(columns), tuple(rows), ("id",))


def _long(values: Mapping[str, Any]) -> Iterable[tuple[str, str, str, str]]:
    """Yield quantity, place in a list (1 for a single value), value and unit."""
    for name, value in values.items():
        for place, entry in enumerate(value if isinstance(value, list) else [value], 1):
            yield name, str(place), entry, REGISTRY[name].unit


_VALUE_COLUMNS = (
    Column("quantity", "string", "quantity of the registry"),
    Column("place", "integer", "place in a list, from 1; 1 for a single value"),
    Column("value", "number", "value in the unit of its row"),
    Column("unit", "string", "unit of the value"),
)


def _wrong_table(cases: Sequence[Mapping[str, Any]]) -> Table:
    columns = (
        Column("id", "string", "case"),
        Column("flag", "string", "named mistake"),
        *_VALUE_COLUMNS,
    )
    rows = [
        (case["id"], flag["flag"], *value) for case in cases for flag in case["flags"] for value in _long(flag["wrong"])
    ]
    key, refers = ("id", "flag", "quantity", "place"), (("id", "cases", "id"), ("flag", "flags", "flag"))
    return Table("wrong_values.csv", "What each named mistake yields", columns, tuple(rows), key, refers)


def _acceptable_table(cases: Sequence[Mapping[str, Any]]) -> Table:
    columns = (
        Column("id", "string", "case"),
        Column("alternative", "string", "name of the acceptable answer; without a quantity: refusing is acceptable"),
        *_VALUE_COLUMNS,
    )
    rows = []
    for case in cases:
        for entry in case["acceptable"]:
            for value in _long(entry["values"]) if entry["values"] else (("", "", "", ""),):
                rows.append((case["id"], entry["name"], *value))
    refers = (("id", "cases", "id"),)
    return Table("acceptable.csv", "Answers that are acceptable besides", columns, tuple(rows), (), refers)


def _flag_table() -> Table:
    columns = (
        Column("flag", "string", "slug of the mistake"),
        Column("kind", "string", "where it is made"),
        Column("description", "string", "what is done"),
        Column("effect", "string", "what comes of it"),
    )
    rows = tuple((f.name, f.kind, f.description, f.effect) for f in load_flags().values())
    return Table("flags.csv", "Named mistakes", columns, rows, ("flag",))


def _function_table() -> Table:
    columns = (
        Column("function", "string", "name of the function"),
        Column("group", "string", "group"),
        Column("direction", "string", "input or output"),
        Column("place", "integer", "place in calling order, from 1"),
        Column("quantity", "string", "quantity of the registry"),
        Column("unit", "string", "unit"),
        Column("shape", "string", "number or list"),
        Column("accept", "string", "positive, not negative, any, whole or even; empty for an output"),
        Column("required", "string", "yes or no; empty for an output"),
        Column("default", "number", "value when it is not given"),
    )
    rows = []
    for f in load_functions().values():
        for place, entry in enumerate(f.inputs, 1):
            default = "" if entry.default is None else json.dumps(entry.default)
            shape = "list" if entry.is_list else "number"
            needed = "yes" if entry.required else "no"
            rows.append(
                (f.name, f.group, "input", str(place), entry.name, entry.unit, shape, entry.accept, needed, default)
            )
        for place, output in enumerate(f.outputs, 1):
            shape = "list" if output.is_list else "number"
            rows.append((f.name, f.group, "output", str(place), output.name, output.unit, shape, "", "", ""))
    key = ("function", "direction", "place")
    return Table("functions.csv", "Inputs and outputs of the functions", columns, tuple(rows), key)


def case_tables(cases: Sequence[Mapping[str, Any]]) -> tuple[Table, ...]:
    """Return every table that is written beside cases.json."""
    return (_case_table(cases), _wrong_table(cases), _acceptable_table(cases), _flag_table(), _function_table())
