"""A bench log read from a spreadsheet: every line is used, averaged or refused, and the log says which and why."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.instruments import Instrument, ReadingUncertainty
from shuntref.bench.log_headings import SETTINGS, LogColumn, find_column, find_test
from shuntref.bench.repeats import suspect_reading
from shuntref.quantities.registry import quantity
from shuntref.quantities.spreadsheet import Sheet, SheetError, SheetRow, read_sheet, read_sheet_file
from shuntref.quantities.text import QuantityError, parse_value

__all__ = ["BenchLog", "BenchLogError", "LineRecord", "Run", "read_log", "read_log_file"]

_NOT_MEASURED = {"", "-", "--", "–", "—", "n/a", "na", "n.a.", "none", "not measured", "?"}
#: no bench comes near this
_MOST = 1e30
_NO = {"no", "n", "0", "x", "void", "refused", "bad", "false"}


class BenchLogError(ValueError):
    """The log as a whole cannot be used; the message says what to change."""


@dataclass(frozen=True, slots=True)
class LineRecord:
    """What became of one line: ``outcome`` is used, averaged, refused, blank, remark or heading."""

    line: int
    outcome: str
    run: str
    reason: str


@dataclass(frozen=True)
class Run:
    """One setting of the bench, its readings averaged over ``lines``.

    ``values`` are means in registry units, ``counts`` how many readings each is the mean of, ``deviations`` the sample
    standard deviation of the repeats (only where there are two or more).
    """

    name: str
    test: str
    lines: tuple[int, ...]
    values: dict[str, float]
    counts: dict[str, int]
    deviations: dict[str, float]
    remark: str = ""

    def has(self, *names: str) -> bool:
        """Return whether all of ``names`` were read in this run."""
        return all(name in self.values for name in names)

    def reading(self, name: str, instrument: Instrument) -> ReadingUncertainty:
        """Return the reading of ``name`` with its standard uncertainty by ``instrument``."""
        result = instrument.uncertainty(self.values[name], self.counts[name], self.deviations.get(name))
        return replace(result, quantity=name)


@dataclass(frozen=True)
class BenchLog:
    """A bench log: its runs, and the account of every line and column."""

    runs: tuple[Run, ...]
    lines: tuple[LineRecord, ...]
    columns: tuple[LogColumn, ...]
    notes: tuple[str, ...] = ()
    source: str = ""

    def with_readings(self, *names: str, test: str | tuple[str, ...] = ()) -> tuple[Run, ...]:
        """Return the runs that have all of ``names``, and belong to one of the tests when any is given."""
        tests = (test,) if isinstance(test, str) else test
        return tuple(run for run in self.runs if run.has(*names) and (not tests or run.test in tests))

    def refused(self) -> tuple[LineRecord, ...]:
        """Return the lines that were refused."""
        return tuple(record for record in self.lines if record.outcome == "refused")

    def listing(self) -> str:
        """Return the account line by line, for print.

        Examples
        --------
        >>> log = read_log("run;U [V];n [r/min]\\n1;120,1;1450\\n1;119,9;1452\\n2;118;fast\\n")
        >>> print(log.listing())
        line 1: heading
        line 2: averaged (run 1): with line 3
        line 3: averaged (run 1): with line 2
        line 4: refused (run 2): n [r/min]: 'fast' is not a number
        """
        texts = []
        for record in self.lines:
            run = f" (run {record.run})" if record.run else ""
            texts.append(f"line {record.line}: {record.outcome}{run}" + (f": {record.reason}" if record.reason else ""))
        return "\n".join(texts)


@dataclass
class _Row:
    """One line while it is being judged."""

    line: int
    run: str = ""
    test: str = ""
    values: dict[str, list[float]] = field(default_factory=dict)
    remark: str = ""
    refusal: str = ""
    asides: list[str] = field(default_factory=list)


def _cell(sheet: Sheet, column: LogColumn, cell: str) -> float:
    """Return one reading in the registry unit, or raise ValueError with the reason."""
    entry = quantity(column.meaning)
    shown = cell.strip()[:30]
    plain = sheet.plain(cell)
    try:
        sheet.number(cell)
    except SheetError as error:
        if "not a number" not in str(error) or not any(c.isdigit() for c in cell):
            raise ValueError(f"{column.heading}: {str(error).split(';')[0]}") from None
        try:
            value = parse_value(entry.name, plain)
        except QuantityError:
            raise ValueError(f"{column.heading}: {shown!r} is not a number") from None
    else:
        unit = "" if entry.unit == "1" and column.unit in ("", "1") else column.unit
        try:
            value = parse_value(entry.name, f"{plain} {unit}".strip())
        except QuantityError:
            # the heading was checked before, so a bare number is what is left
            raise ValueError(f"{column.heading}: {shown!r} has no unit, nor has the heading") from None
    if abs(value) > _MOST:  # so that means and deviations of readings are numbers, too
        raise ValueError(f"{column.heading}: {shown} is larger than anything that is measured")
    if value < 0.0 and entry.sign == "not negative":
        raise ValueError(f"{column.heading}: {shown} is negative, which {_words(entry.name)} cannot be")
    return value


def _judge(sheet: Sheet, columns: Sequence[LogColumn], row: SheetRow) -> _Row:
    found = _Row(row.line)
    problems = [row.problem] if row.problem else []
    for column in columns:
        cell = row.cells[column.position].strip()
        if column.meaning == "run":
            found.run = cell
        elif column.meaning == "remark":
            found.remark = cell
        elif column.meaning == "use" and cell.casefold() in _NO:
            problems.append("marked not to be used")
        elif column.meaning == "test" and cell:
            try:
                found.test = find_test(cell)
            except ValueError as error:
                problems.append(str(error))
        elif column.is_quantity:
            if cell.casefold() in _NOT_MEASURED:
                if cell:
                    found.asides.append(f"{column.heading} not measured ({cell})")
                continue
            try:
                value = _cell(sheet, column, cell)
            except ValueError as error:
                problems.append(str(error))
                continue
            name = column.meaning
            if name == "speed":  # one name for the speed read; the registry has two
                name, value = "speed_rpm", value * 30.0 / math.pi
            found.values.setdefault(name, []).append(value)
    if not found.values and not problems:
        problems.append(f"no reading in it{f' (remark: {found.remark[:60]})' if found.remark else ''}")
    found.refusal = "; ".join(problems)
    return found


def _columns(sheet: Sheet) -> tuple[tuple[LogColumn, ...], list[str]]:
    columns = tuple(find_column(i, heading) for i, heading in enumerate(sheet.headings) if heading.text)
    notes = []
    seen: dict[str, LogColumn] = {}
    for column in columns:
        earlier = seen.get(column.meaning)
        bare = column.meaning in ("run", "remark", "test", "use") or (column.is_quantity and not column.numbered)
        if earlier and bare:
            raise BenchLogError(
                f"the columns {earlier.heading!r} and {column.heading!r} both mean {column.meaning}; number "
                "them (speed 1, speed 2) when they are repeated readings, or keep one"
            )
        if column.meaning:
            seen.setdefault(column.meaning, column)
        if column.note and not (column.is_quantity and _cells_carry_units(sheet, column)):
            if column.is_quantity:
                raise BenchLogError(column.note)
            notes.append(column.note)
        if column.is_quantity and column.unit:
            try:
                parse_value(column.meaning, f"1 {column.unit}")
            except QuantityError as error:
                raise BenchLogError(f"column {column.heading!r}: {str(error).split(': ', 1)[1]}") from None
    if not any(column.is_quantity for column in columns):
        raise BenchLogError(
            f"line {sheet.heading_line}: none of the headings ({', '.join(c.heading for c in columns)}) is a "
            "known quantity; write for example 'U [V]', 'field current [A]', 'speed [r/min]'"
        )
    return columns, notes


def _cells_carry_units(sheet: Sheet, column: LogColumn) -> bool:
    cells = [row.cells[column.position].strip() for row in sheet.rows]
    filled = [cell for cell in cells if cell.casefold() not in _NOT_MEASURED]
    return bool(filled) and all(cell[-1:].isalpha() or cell[-1:] in "Ω%" for cell in filled)


def _average(rows: list[_Row]) -> Run:
    values: dict[str, float] = {}
    counts: dict[str, int] = {}
    deviations: dict[str, float] = {}
    for name in dict.fromkeys(name for row in rows for name in row.values):
        readings: NDArray[np.float64] = np.array([value for row in rows for value in row.values.get(name, ())])
        values[name], counts[name] = float(readings.mean()), len(readings)
        if len(readings) > 1 and name not in SETTINGS:
            deviations[name] = float(readings.std(ddof=1))
    remark = "; ".join(dict.fromkeys(row.remark for row in rows if row.remark))
    return Run(rows[0].run, rows[0].test, tuple(row.line for row in rows), values, counts, deviations, remark)


def _check_settings(rows: list[_Row]) -> list[_Row]:
    """Refuse a row whose set resistances differ from those of the run it claims to repeat."""
    kept: list[_Row] = []
    for row in rows:
        for name in SETTINGS:
            if kept and name in row.values and name in kept[0].values:
                here, first = row.values[name][0], kept[0].values[name][0]
                if not math.isclose(here, first, rel_tol=1e-3, abs_tol=1e-9):
                    row.refusal = (
                        f"{_words(name)} is {here:g} ohm but run {row.run} has {first:g} ohm on line "
                        f"{kept[0].line}; give it a run name of its own"
                    )
        if not row.refusal:
            kept.append(row)
    return kept


def _set_aside(rows: list[_Row]) -> list[_Row]:
    """Refuse a repeated reading that lies impossibly far from its fellows."""
    for name in dict.fromkeys(name for row in rows for name in row.values):
        holders = [row for row in rows if len(row.values.get(name, ())) == 1]
        odd = suspect_reading([row.values[name][0] for row in holders])
        if odd is not None:
            position, typical = odd
            value, unit = holders[position].values[name][0], quantity(name).unit
            holders[position].refusal = (
                f"{_words(name)} {value:.6g} {unit} is {100 * (value / typical - 1):+.1f} % from the "
                f"{typical:.6g} {unit} of the other readings of run {holders[position].run}, which agree; "
                "a slip of the pen or of the decade?"
            )
    return [row for row in rows if not row.refusal]


def _words(name: str) -> str:
    return name.removesuffix("_rpm").replace("_", " ")


def _current_balance(run: Run) -> str:
    if not run.has("line_current", "armature_current", "field_current"):
        return ""
    line, armature, shunt = (run.values[n] for n in ("line_current", "armature_current", "field_current"))
    gap = line - armature - shunt
    if abs(gap) <= 0.05 * abs(line):
        return ""
    return (
        f"run {run.name} (line {run.lines[0]}): line current {line:.4g} A is not armature plus field current "
        f"{armature + shunt:.4g} A within 5 %; look at the ammeter connections (a separately fed field would explain it)"
    )


def _log(sheet: Sheet, keep_suspects: bool) -> BenchLog:
    columns, notes = _columns(sheet)
    rows = [_judge(sheet, columns, row) for row in sheet.rows]
    named = any(column.meaning == "run" for column in columns)
    if not named:
        notes.append(
            "there is no run column, so every line is a run of its own; give lines the same run name to have them "
            "averaged"
        )
    groups: dict[tuple[str, str], list[_Row]] = {}
    for count, row in enumerate(rows, 1):
        if not row.run:
            row.run = f"line {row.line}" if named else str(count)
        if not row.refusal:
            groups.setdefault((row.test, row.run), []).append(row)
    runs = []
    for members in groups.values():
        kept = _check_settings(members)
        kept = kept if keep_suspects else _set_aside(kept)
        run = _average(kept)
        runs.append(run)
        warning = _current_balance(run)
        if warning:
            notes.append(warning)
    if not runs:
        first = next((row for row in rows if row.refusal), None)
        raise BenchLogError(
            "no line of the log can be used" + (f"; line {first.line}: {first.refusal}" if first else "")
        )
    lines_of = {line: run for run in runs for line in run.lines}
    records = [LineRecord(sheet.heading_line, "heading", "", "")]
    records += [LineRecord(line, "blank", "", "") for line in sheet.blank_lines]
    records += [LineRecord(line, "remark", "", text[:80]) for line, text in sheet.remarks]
    for row in rows:
        others = [str(line) for line in lines_of[row.line].lines if line != row.line] if row.line in lines_of else []
        asides = "; ".join(row.asides)
        if row.refusal:
            records.append(LineRecord(row.line, "refused", row.run, row.refusal))
        elif others:
            with_lines = f"with line{'s' if len(others) > 1 else ''} {', '.join(others)}"
            records.append(LineRecord(row.line, "averaged", row.run, "; ".join(filter(None, (with_lines, asides)))))
        else:
            records.append(LineRecord(row.line, "used", row.run, asides))
    return BenchLog(
        tuple(runs), tuple(sorted(records, key=lambda r: r.line)), columns, (*sheet.notes, *notes), sheet.source
    )


def read_log(text: str | bytes, source: str = "", *, keep_suspects: bool = False) -> BenchLog:
    """Read a bench log from CSV text.

    Parameters
    ----------
    text : str or bytes
        As a spreadsheet writes it; see :func:`shuntref.quantities.spreadsheet.read_sheet`.
    source : str
        Name to show in messages.
    keep_suspects : bool
        Average repeated readings even when one lies impossibly far from the others.

    Returns
    -------
    BenchLog

    Raises
    ------
    BenchLogError, SheetError
        When the log as a whole cannot be used. What is wrong with one line refuses that line only.

    Notes
    -----
    Lines of the same run (and test) are repeated readings of one setting and are averaged; numbered columns
    (``speed 1``, ``speed 2``) are repeated readings within a line. Speeds are kept in r/min.

    Examples
    --------
    >>> log = read_log("run;added field ohms;n, r/min;remark\\n1;0;1500;\\n\\n2;20;1 650,5;steady\\n")
    >>> [(run.name, run.values["speed_rpm"]) for run in log.runs]
    [('1', 1500.0), ('2', 1650.5)]
    """
    return _log(read_sheet(text, source), keep_suspects)


def read_log_file(path: str | Path, *, keep_suspects: bool = False) -> BenchLog:
    """Read a bench log from the CSV file at ``path``.

    Parameters
    ----------
    path : str or path
    keep_suspects : bool
        Whether a reading far from its repeats is kept.

    Returns
    -------
    BenchLog

    Raises
    ------
    BenchLogError
        A ``ValueError``: the file as a whole is no log.
    OSError
        The file cannot be read.

    Examples
    --------
    >>> from importlib.resources import as_file, files
    >>> with as_file(files("shuntref.references").joinpath("bench", "log.csv")) as path:
    ...     log = read_log_file(path)
    >>> len(log.refused())
    1
    """
    sheet = read_sheet_file(path)
    try:
        return _log(sheet, keep_suspects)
    except BenchLogError as error:
        raise BenchLogError(f"{sheet.source}: {error}") from None
