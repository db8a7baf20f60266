"""Cases out and answers in as a CSV sheet, for spreadsheets and for anything that can run neither Python nor a program.

The sheet that goes out holds ids, functions and inputs, and empty answer columns; the same sheet comes back filled in.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from shuntref.conformance.judge import Answer, Number
from shuntref.conformance.mapping import Binding, Port, Setting, Unmapped, plain_binding
from shuntref.conformance.protocol import plain_text
from shuntref.conformance.scale import Scale, alias, scale_of
from shuntref.conformance.suite import Case, Suite
from shuntref.quantities.spreadsheet import Sheet, SheetError, SheetRow, read_sheet_file

__all__ = ["AnswersTarget", "cases_sheet", "read_answers"]

#: what spreadsheets and people write where there is no number
_REFUSALS = re.compile(r"#.*|err:\d+|nan|[+-]?nan|n/?a|null|none|refused|invalid|error", re.IGNORECASE)
_INFINITE = re.compile(r"[+-]?(?:inf(?:inity)?|∞)", re.IGNORECASE)
_LEAST_DIGITS = 4
_EXACT = Decimal(0)


def _bindings(suite: Suite, setting: Setting | None, precision: str = "double") -> dict[str, Binding]:
    bindings = {name: plain_binding(entry, "", precision) for name, entry in suite.functions.items()}
    bindings.update(setting.bindings if setting else {})
    return bindings


def _heading(port: Port, position: int | None = None, answer: bool = False) -> str:
    words = ["answer"] if answer else []
    words.append(port.key or port.quantity)
    if position is not None:
        words.append(str(position))
    return f"{' '.join(words)} [{port.unit}]"


def cases_sheet(
    suite: Suite, cases: Sequence[Case], setting: Setting | None = None, *, decimal_comma: bool = False
) -> str:
    """Return the sheet of ``cases`` to fill in: id, function, inputs, and an empty column for every answer.

    Lists are spread over numbered columns. With ``decimal_comma`` the sheet has decimal commas, semicolons and a byte
    order mark, as spreadsheets of many countries expect.

    Raises
    ------
    ValueError
        When the setting has no argument for an input; the message names the first such case.
    """
    bindings = _bindings(suite, setting)
    inputs: dict[str, None] = {}
    answers: dict[str, None] = {}
    rows: list[dict[str, str]] = []
    for case in cases:
        binding, entry = bindings[case.function], suite.functions[case.function]
        try:
            given = binding.inputs_for(case, entry)
        except Unmapped as reason:
            raise ValueError(f"case {case.id} cannot be written with this mapping: {reason}") from None
        values = given if isinstance(given, list) else [given[p.key] for p in binding.arguments if p.key in given]
        ports = binding.arguments if isinstance(given, list) else [p for p in binding.arguments if p.key in given]
        row = {"id": case.id, "function": case.function}
        for port, value in zip(ports, values, strict=True):
            spread = enumerate(value, 1) if isinstance(value, list) else [(None, value)]
            row.update({_heading(port, position): repr(item) for position, item in spread})
        inputs.update(dict.fromkeys(list(row)[2:]))
        for port in binding.results:
            count = _list_length(case, port.quantity)
            positions = [None] if count is None else list(range(1, count + 1))
            answers.update(dict.fromkeys(_heading(port, position, True) for position in positions))
        rows.append(row)
    text = io.StringIO()
    columns = ["id", "function", *inputs, *answers]
    writer = csv.DictWriter(text, columns, restval="", delimiter=";" if decimal_comma else ",", lineterminator="\n")
    writer.writeheader()
    for row in rows:
        changed = {
            k: v.replace(".", ",") if decimal_comma and k not in ("id", "function") else v for k, v in row.items()
        }
        writer.writerow(changed)
    return ("\ufeff" if decimal_comma else "") + text.getvalue()


def _list_length(case: Case, name: str) -> int | None:
    """Return how many columns a list answer may need, without telling how many are right: the number of sections asked."""
    if name != "section_resistance":
        return None
    asked = case.inputs.get("sections")
    return max(1, int(asked)) if isinstance(asked, float) and asked < 100 else 1


@dataclass
class AnswersTarget:
    """The answers of a filled-in sheet; a case without an answer is not implemented."""

    name: str
    answers: dict[str, Answer]
    bindings: dict[str, Binding]
    remarks: tuple[str, ...] = ()

    def precision(self, function: str) -> str:
        return self.bindings[function].precision

    def delivers(self, function: str) -> tuple[str, ...]:
        return tuple(port.quantity for port in self.bindings[function].results)

    def answer(self, case: Case) -> Answer:
        return self.answers.get(case.id, Answer("missing", text="no answer in the sheet"))

    def close(self) -> None:
        return None


@dataclass(frozen=True, slots=True)
class _Column:
    index: int
    name: str
    unit: str
    position: int | None


def read_answers(
    path: Path, suite: Suite, setting: Setting | None = None, *, as_printed: bool = False, precision: str = "double"
) -> AnswersTarget:
    """Read a filled-in sheet.

    Parameters
    ----------
    path
        CSV as spreadsheets write it: comma, semicolon or tab, decimal point or comma, byte order mark or none.
    suite, setting
        The cases, and the implementer's mapping if there is one (names and units of the answers).
    as_printed
        Take each number as rounded to the digits that are shown; with fewer than four significant digits as exact.
    precision
        The arithmetic of functions that the setting does not describe.

    Raises
    ------
    ValueError
        No column of ids, no column of answers, an id twice, or a sheet that cannot be read.
    """
    sheet = read_sheet_file(path)
    bindings = _bindings(suite, setting, precision)
    columns = _answer_columns(sheet, suite, bindings, path.name)
    try:
        id_column = sheet.column("id")
    except SheetError as error:
        raise ValueError(f"{path.name}: {error}") from None
    cases = {case.id: case for case in suite.cases}
    answers: dict[str, Answer] = {}
    strangers = []
    for row in sheet.rows:
        case = cases.get(row.cells[id_column].strip())
        if case is None:
            strangers.append(plain_text(row.cells[id_column], 60))
            continue
        if case.id in answers:
            raise ValueError(f"{path.name}: line {row.line}: {case.id} is answered twice")
        answers[case.id] = _row_answer(sheet, row, bindings[case.function], columns, as_printed)
    remarks = (
        [f"ids that are no case: {', '.join(strangers[:5])}{' ...' if len(strangers) > 5 else ''}"] if strangers else []
    )
    return AnswersTarget(path.name, answers, bindings, (*sheet.notes, *remarks))


def _answer_columns(sheet: Sheet, suite: Suite, bindings: dict[str, Binding], where: str) -> list[_Column]:
    """Return the columns that hold answers: those headed "answer ...", else those named like a result."""
    known = {n for b in bindings.values() for p in b.results for n in (p.key, p.quantity, alias(p.quantity)) if n}
    marked, plain = [], []
    for index, heading in enumerate(sheet.headings):
        words = heading.name.split()
        if not words:
            continue
        is_marked = words[0].casefold() == "answer"
        words = words[is_marked:]
        position = int(words.pop()) if len(words) > 1 and words[-1].isdigit() and len(words[-1]) < 4 else None
        name = " ".join(words)
        if is_marked and name and name not in known:
            raise ValueError(
                f"{where}: column {plain_text(heading.text, 60)!r} answers nothing that is asked; the answers are "
                f"{', '.join(sorted(known))}"
            )
        column = _Column(index, name, heading.unit, position)
        if is_marked:
            marked.append(column)
        elif name in known:
            plain.append(column)
    if not (marked or plain):
        raise ValueError(f"{where}: no column of answers; head one 'answer speed [rad/s]', for example")
    return marked or plain


def _row_answer(sheet: Sheet, row: SheetRow, binding: Binding, columns: Iterable[_Column], as_printed: bool) -> Answer:
    values: dict[str, Number] = {}
    steps: dict[str, Decimal] = {}
    units: dict[str, tuple[str, Scale]] = {}
    missing = []
    chosen = list(columns)
    for port in binding.results:
        names = [n for n in (port.key, port.quantity, alias(port.quantity)) if n]
        found = [c for c in chosen if c.name in names or (not c.name and len(binding.results) == 1)]
        filled = [c for c in found if row.cells[c.index].strip()]
        if not filled:
            missing.append(port.key or port.quantity)
            continue
        read = []
        for column in sorted(filled, key=lambda c: c.position or 0):
            try:
                number, step, units[port.quantity] = _cell(sheet, row.cells[column.index], port, column, as_printed)
            except ValueError as error:
                return Answer("failed", text=f"line {row.line}: {port.key or port.quantity}: {error}")
            read.append(number)
            steps[port.quantity] = max(step, steps.get(port.quantity, _EXACT))
        values[port.quantity] = tuple(read) if filled[0].position is not None else read[0]
    if not values:
        return Answer("missing", text="no answer in the sheet")
    if missing and not any(item.is_nan() for v in values.values() for item in (v if isinstance(v, tuple) else (v,))):
        return Answer("failed", text=f"line {row.line}: no answer for {', '.join(missing)}")
    return Answer("values", values, steps=steps, units=units)


def _cell(
    sheet: Sheet, cell: str, port: Port, column: _Column, as_printed: bool
) -> tuple[Decimal, Decimal, tuple[str, Scale]]:
    """Return the registry value of a cell, half a unit of its last digit where that is to count, and its unit."""
    text = cell.strip()
    if _REFUSALS.fullmatch(text):
        return Decimal("NaN"), _EXACT, (port.unit, port.scale)
    if _INFINITE.fullmatch(text):
        return Decimal("-Infinity" if text.startswith("-") else "Infinity"), _EXACT, (port.unit, port.scale)
    percent = text.endswith("%")
    number = sheet.number(text.rstrip("%").strip())
    by_other_name = column.name == alias(port.quantity) != port.quantity
    unit = "%" if percent else column.unit or (_own_unit(column.name) if by_other_name else "")
    scale = scale_of(port.quantity, unit) if unit else port.scale
    step = _EXACT
    if as_printed:
        written = Decimal(sheet.plain(text.rstrip("%").strip()))
        if len(written.as_tuple().digits) >= _LEAST_DIGITS:
            step = Decimal(5).scaleb(int(written.as_tuple().exponent) - 1) * abs(scale.factor) * Decimal("1.000001")
    return scale.inward(number), step, (unit or port.unit, scale)


def _own_unit(name: str) -> str:
    return "r/min" if name.endswith("_rpm") else "rad/s"
