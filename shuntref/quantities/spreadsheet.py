"""CSV as spreadsheets write it: any usual delimiter, decimal point or comma, blank lines, remarks, units in the header.

The reader keeps the line number of every row and guesses nothing that could be read two ways: a cell such as ``1.450``
in a sheet of decimal commas is refused, not interpreted. Cells stay text; :meth:`Sheet.number` makes numbers of them.
"""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from pathlib import Path

from shuntref.quantities.column_heading import ColumnHeading, looks_like_unit, split_heading
from shuntref.quantities.sheet_bytes import MAX_BYTES, SheetError, decode

__all__ = [
    "MAX_BYTES",
    "MAX_CELL",
    "MAX_COLUMNS",
    "MAX_ROWS",
    "Sheet",
    "SheetError",
    "SheetRow",
    "read_sheet",
    "read_sheet_file",
]

MAX_ROWS = 50_000
MAX_COLUMNS = 200
MAX_CELL = 2_000

#: stands at the end of a record whose quotation marks do not pair
_OPEN_QUOTE = "\x00quote"
_SPACES = str.maketrans({"\u00a0": " ", "\u2009": " ", "\u202f": " ", "\u2212": "-"})
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?$")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[ ',.]\d{3})+(?:[.,]\d*)?$")
_LEADING = re.compile(r"[+-]?(?:\d[\d.,' ]*|[.,]\d+)(?:[eE][+-]?\d+)?")
_EITHER_WAY = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}$")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row below the heading: the line it starts on and its cells, as many as there are headings.

    ``problem`` is empty, or says why the row cannot be trusted (it has more cells than the heading).
    """

    line: int
    cells: tuple[str, ...]
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet as read: headings, rows, and every line that is neither, with its line number.

    ``decimal`` is ``"."`` or ``","``; ``blank_lines`` the numbers of empty lines; ``remarks`` (line, text) of title
    lines above the heading and of lines that begin with ``#``; ``notes`` what the reader decided and why.
    """

    headings: tuple[ColumnHeading, ...]
    heading_line: int
    rows: tuple[SheetRow, ...]
    delimiter: str
    decimal: str
    blank_lines: tuple[int, ...] = ()
    remarks: tuple[tuple[int, str], ...] = ()
    notes: tuple[str, ...] = ()
    source: str = ""

    def plain(self, cell: str) -> str:
        """Return ``cell`` with its leading number in point notation and the rest (a unit, say) as it stood.

        Raises
        ------
        SheetError
            When the number can be read two ways in this sheet.

        Examples
        --------
        >>> sheet = read_sheet("run;speed\\n1;1450,5 r/min\\n2;1 460,0 r/min\\n")
        >>> [sheet.plain(row.cells[1]) for row in sheet.rows]
        ['1450.5 r/min', '1460.0 r/min']
        """
        text = cell.translate(_SPACES).strip()
        found = _LEADING.match(text)
        if not found:
            return text
        number = found.group().rstrip(" ',") if self.decimal == "." else found.group().rstrip(" '.")
        rest = text[len(number) :]
        return _point_notation(number, self.decimal, text) + rest

    def number(self, cell: str) -> float:
        """Return ``cell`` as a number.

        Raises
        ------
        SheetError
            When it is no number, could be two, or is larger than a number can be.

        Examples
        --------
        >>> read_sheet("U [V];I [A]\\n120,5;1,25\\n").number("1,25")
        1.25
        """
        text = cell.translate(_SPACES).strip()
        plain = self.plain(text)
        if not _NUMBER.match(plain) or "," in plain:
            raise SheetError(f"{cell.strip()[:40]!r} is not a number; write it like 12{self.decimal}5")
        value = float(plain)
        if not math.isfinite(value):
            raise SheetError(f"{cell.strip()[:40]!r} is too large for a number")
        return value

    def column(self, name: str) -> int:
        """Return the position of the heading whose name or whole text is ``name``, ignoring case.

        Examples
        --------
        >>> read_sheet("run,speed / r/min\\n1,1450\\n").column("Speed")
        1
        """
        wanted = name.casefold().strip()
        for position, heading in enumerate(self.headings):
            if wanted in (heading.name.casefold(), heading.text.casefold()):
                return position
        raise SheetError(f"no column {name!r}; the headings are {', '.join(h.text for h in self.headings)}")


def _point_notation(number: str, decimal: str, whole: str) -> str:
    """Return the number in point notation; refuse what can be read two ways."""
    thousands = "." if decimal == "," else ","
    body = number
    if _GROUPED.match(number):
        if " " in body or "'" in body:
            body = body.replace(" ", "").replace("'", "")
        elif thousands in body and decimal in body and body.rindex(decimal) > body.rindex(thousands):
            body = body.replace(thousands, "")
    if " " in body or "'" in body:
        raise SheetError(f"{whole[:40]!r} is not one number; write one number to a cell")
    if thousands in body or body.count(decimal) > 1:
        name = {".": "a point", ",": "a comma"}
        if body.count(thousands) == 1 and decimal not in body and not _EITHER_WAY.match(body):
            raise SheetError(
                f"{whole[:40]!r} has {name[thousands]}, but this sheet writes its decimals with {name[decimal]}; "
                "use one of them throughout"
            )
        raise SheetError(
            f"{whole[:40]!r} can be read two ways, as this sheet writes its decimals with {name[decimal]}; "
            f"write it with {name[decimal]} and without a thousands separator"
        )
    return body.replace(",", ".")


def _delimiter(lines: list[str]) -> str:
    """Return the delimiter: the one that splits the most lines; comma only when nothing else does."""
    sample = [line for line in lines[:200] if line.strip() and not line.lstrip().startswith("#")]
    bare = [re.sub(r'"[^"]*"', "", line) for line in sample]
    counts = {mark: sum(mark in line for line in bare) for mark in ("\t", ";", ",")}
    for mark in ("\t", ";"):
        if counts[mark] and counts[mark] * 2 >= len(bare):
            return mark
    if counts[","]:
        return ","
    best = max(("\t", ";"), key=lambda mark: counts[mark])
    return best if counts[best] else ","


def _decimal(rows: list[SheetRow], delimiter: str) -> tuple[str, str]:
    """Return the decimal sign and a note when the sheet does not settle it."""
    lines: dict[str, list[int]] = {",": [], ".": []}
    undecided = False
    for row in rows:
        for cell in row.cells:
            text = cell.translate(_SPACES).strip()
            found = _LEADING.match(text)
            if not found or (text[found.end() :] and not looks_like_unit(text[found.end() :])):
                continue  # a number within a remark says nothing about the sheet
            number = found.group().strip(" '")
            last = max(",.", key=number.rfind)
            if _EITHER_WAY.match(number):
                undecided = True
            elif number.count(last) == 1 and not number.endswith(last):
                lines[last].append(row.line)
    comma, point = lines[","], lines["."]
    if comma and point:
        comma_wins = len(comma) > len(point) or (len(comma) == len(point) and delimiter == ";")
        sign, odd = (",", point) if comma_wins else (".", comma)
        return sign, (
            f"the sheet mixes decimal point and comma; most cells use {sign!r}, so the others "
            f"(first on line {odd[0]}) are refused"
        )
    if comma or point:
        return ("," if comma else "."), ""
    if undecided:
        has_comma = any("," in cell for row in rows for cell in row.cells)
        sign = "," if delimiter == ";" or (delimiter == "\t" and has_comma) else "."
        return sign, f"nothing in the sheet proves its decimal sign; {sign!r} was assumed"
    return ("," if delimiter == ";" else "."), ""


def _records(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """Return (line the record starts on, cells) of every record, blank ones too."""
    stream = io.StringIO(text, newline="")
    reader = csv.reader(stream, delimiter=delimiter, skipinitialspace=delimiter != "\t", strict=True)
    records: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            if len(cells) > MAX_COLUMNS:
                raise SheetError(f"line {start} has {len(cells)} columns; at most {MAX_COLUMNS} are read")
            if any(len(cell) > MAX_CELL for cell in cells):
                raise SheetError(f"line {start} has a cell longer than {MAX_CELL} characters")
            records.append((start, [cell.strip() for cell in cells]))
            start = reader.line_num + 1
            if len(records) > MAX_ROWS:
                raise SheetError(f"the sheet has more than {MAX_ROWS} rows")
    except csv.Error:
        return records + _line_by_line(text, delimiter, start)
    return records


def _line_by_line(text: str, delimiter: str, start: int) -> list[tuple[int, list[str]]]:
    """The lines from ``start`` on, each a record of its own: a quotation mark that is not closed spoils its line only."""
    records: list[tuple[int, list[str]]] = []
    for number, line in enumerate(text.splitlines()[start - 1 : start - 1 + MAX_ROWS], start):
        try:
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=delimiter != "\t", strict=True), [])
        except csv.Error:
            cells = [*(cell.strip(' "') for cell in line.split(delimiter)[:MAX_COLUMNS]), _OPEN_QUOTE]
        records.append((number, [cell.strip()[:MAX_CELL] for cell in cells[:MAX_COLUMNS]]))
    return records


def read_sheet(text: str | bytes, source: str = "") -> Sheet:
    """Read a sheet from text or from the bytes of a file.

    Parameters
    ----------
    text : str or bytes
        The CSV text; bytes may be UTF-8, UTF-16 with its mark, or Windows-1252.
    source : str
        Name to show in messages.

    Returns
    -------
    Sheet

    Raises
    ------
    SheetError
        With the line number: too large, no heading, a heading twice, bad quotes. What is wrong with one row or one
        cell is kept for the caller to report (``SheetRow.problem``, :meth:`Sheet.number`).

    Notes
    -----
    Delimiter: tab or semicolon when at least half of the lines have it, else comma. A first line ``sep=;`` is obeyed.
    Heading: the first line with at least two filled cells and at least half as many as the fullest line; what stands
    above it is remarks. A line of units directly below it is joined to it. A line that begins with ``#`` is a remark.

    Examples
    --------
    >>> sheet = read_sheet("Bench 3\\n\\nU [V];n, r/min;remark\\n119,8;1 450;cold\\n")
    >>> [(h.name, h.unit) for h in sheet.headings]
    [('U', 'V'), ('n', 'r/min'), ('remark', '')]
    >>> sheet.rows[0].line, [sheet.number(c) for c in sheet.rows[0].cells[:2]], sheet.remarks
    (4, [119.8, 1450.0], ((1, 'Bench 3'),))
    """
    notes: list[str] = []
    if isinstance(text, bytes):
        text, notes = decode(text)
    elif len(text) > MAX_BYTES:
        raise SheetError(f"the text has {len(text)} characters; at most {MAX_BYTES} are read")
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        raise SheetError("the text holds binary data; save the sheet as CSV (comma or semicolon separated text)")
    lines = text.splitlines()
    skipped = 0
    told = re.match(r"\"?sep=([;,\t|])\"?[;,\t|]*(?:\r\n|\n|\r|$)", text)
    if told:
        delimiter, skipped = told.group(1), 1
        text = text[told.end() :]
    else:
        delimiter = _delimiter(lines)
    records = [(line + skipped, cells) for line, cells in _records(text, delimiter)]
    return _sheet(records, delimiter, notes, source)


def _sheet(records: list[tuple[int, list[str]]], delimiter: str, notes: list[str], source: str) -> Sheet:
    blank = tuple(line for line, cells in records if not any(cells))
    filled = [(line, cells) for line, cells in records if any(cells)]
    between = f"{delimiter} "
    remarks = [(line, between.join(cells).rstrip(between)) for line, cells in filled if cells[0].startswith("#")]
    filled = [(line, cells) for line, cells in filled if not cells[0].startswith("#")]
    if not filled:
        raise SheetError("the sheet is empty: a heading line and at least one row are needed")
    counts = [sum(map(bool, cells)) for _, cells in filled]
    start = next((i for i, count in enumerate(counts) if count >= 2 and 2 * count >= max(counts)), 0)
    remarks += [(line, " ".join(filter(None, cells))) for line, cells in filled[:start]]
    heading_line, names = filled[start]
    while names and not names[-1]:
        names = names[:-1]
    body = filled[start + 1 :]
    headings = [split_heading(name) for name in names]
    if all(_NUMBER.match(name.translate(_SPACES)) for name in names):
        raise SheetError(f"line {heading_line} holds numbers only; the first line must name the columns")
    if body and not any(h.unit for h in headings):
        cells = body[0][1]
        bare = [cell.strip("[]() ") for cell in cells[: len(headings)]]
        given = [cell for cell in bare if cell]
        if given and all(looks_like_unit(cell) or cell in "-1" for cell in given):
            headings = [
                ColumnHeading(h.text, h.name, unit if unit not in "-1" else "")
                for h, unit in zip(headings, bare + [""] * (len(headings) - len(bare)), strict=False)
            ]
            notes = [*notes, f"line {body[0][0]} was read as a line of units"]
            body = body[1:]
    seen: dict[str, int] = {}
    for position, heading in enumerate(headings, 1):
        if not heading.text:
            if any(len(cells) >= position and cells[position - 1] for _, cells in body):
                raise SheetError(f"line {heading_line}: column {position} has entries but no heading")
            continue
        if heading.text.casefold() in seen:
            raise SheetError(
                f"line {heading_line}: columns {seen[heading.text.casefold()]} and {position} "
                f"have the same heading {heading.text!r}"
            )
        seen[heading.text.casefold()] = position
    rows = [_row(line, cells, len(headings), delimiter) for line, cells in body]
    decimal, note = _decimal(rows, delimiter)
    return Sheet(
        tuple(headings),
        heading_line,
        tuple(rows),
        delimiter,
        decimal,
        blank,
        tuple(sorted(remarks)),
        tuple([*notes, note] if note else notes),
        source,
    )


def _row(line: int, cells: list[str], width: int, delimiter: str) -> SheetRow:
    problem = ""
    if cells and cells[-1] == _OPEN_QUOTE:
        problem = "a quotation mark is opened and not closed properly"
    elif any(cells[width:]):
        problem = f"{len(cells)} cells where the heading names {width}"
        if delimiter == ",":
            problem += (
                "; a decimal comma in a comma-separated sheet must be quoted (or separate the cells by semicolons)"
            )
    return SheetRow(line, tuple((cells + [""] * width)[:width]), problem)


def read_sheet_file(path: str | Path) -> Sheet:
    """Read the CSV file at ``path``.

    Raises
    ------
    SheetError
        As :func:`read_sheet`, with the file name in front; also when the file is larger than ``MAX_BYTES``.
    OSError
        When the file cannot be opened.
    """
    file = Path(path)
    size = file.stat().st_size
    if size > MAX_BYTES:
        raise SheetError(f"{file.name}: the file has {size} bytes; at most {MAX_BYTES} are read")
    try:
        return read_sheet(file.read_bytes(), file.name)
    except SheetError as error:
        raise SheetError(f"{file.name}: {error}") from None
