"""Mark the answers of a class: one row a student, marks, slips, and which slips the class made."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

from shuntref.exercises.statement import Exercise, ExerciseError
from shuntref.exercises.verdict import WRONG_SIGN, WRONG_UNIT, Key, Verdict, answer_key, judge_by
from shuntref.quantities.column_heading import ColumnHeading
from shuntref.quantities.spreadsheet import Sheet, SheetError, SheetRow, read_sheet

__all__ = ["Marked", "MarkedRow", "best_slips", "mark_sheet", "marked_csv"]

#: headings under which a sheet may give the student's identifier
STUDENT = ("student", "id", "name", "identifier", "number", "no", "matriculation")


@dataclass(frozen=True, slots=True)
class MarkedRow:
    """One student's row: the line it stood on, the verdict of each answer (None where none was given), and the marks.

    ``problem`` says why a row, or a cell of it, could not be marked.
    """

    line: int
    student: str
    verdicts: dict[str, Verdict | None]
    marks: float
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Marked:
    """A marked class.

    ``full_marks`` is what a student with every answer right gets; ``slips`` counts, by slip (or slips that
    one number cannot tell apart), the answers that it explains best; ``notes`` say what the reader of the sheet decided.
    """

    exercise: Exercise
    answers: tuple[str, ...]
    rows: tuple[MarkedRow, ...]
    full_marks: float
    slips: dict[str, int]
    notes: tuple[str, ...]


def mark_sheet(exercise: Exercise, sheet: str | bytes, *, partial: float = 0.0, source: str = "") -> Marked:
    """Mark a sheet of answers.

    Parameters
    ----------
    exercise
        A checked exercise.
    sheet
        CSV as spreadsheets write it: a heading with the student's identifier and the names (or labels) of the answers,
        units in the heading or in the cells, decimal point or comma, blank lines, missing answers.
    partial
        Marks for a number that is right but for its unit or its sign; an answer that is right gives 1.
    source
        Name of the sheet, for messages.

    Returns
    -------
    Marked

    Raises
    ------
    SheetError
        The sheet cannot be read at all.
    ExerciseError
        No column is one of the answers, or the exercise cannot be solved.

    Examples
    --------
    >>> from shuntref.exercises.library import reference_exercise
    >>> exercise = reference_exercise("bird-22-shunt-motor-circuit")
    >>> marked = mark_sheet(exercise, "student;armature-current [A]\\ns1;28,4\\ns2;30\\n")
    >>> [(row.student, row.marks) for row in marked.rows], marked.slips
    ([('s1', 1.0), ('s2', 0.0)], {'line-current-for-armature-current or line-current-answered-for-armature-current': 1})
    """
    if not 0.0 <= partial <= 1.0:
        raise ExerciseError(f"partial is {partial}; marks for a wrong unit or sign lie between 0 and 1")
    read = read_sheet(sheet, source)
    student, columns = _columns(exercise, read)
    keys = {name: answer_key(exercise, name) for name in columns}
    judged = lru_cache(maxsize=65536)(lambda name, text: judge_by(keys[name], text))
    rows = [_row(read, row, student, columns, keys, judged, partial) for row in read.rows]
    slips: Counter[str] = Counter()
    for row in rows:
        for verdict in row.verdicts.values():
            if verdict is not None and not verdict.is_right and verdict.findings:
                slips[best_slips(verdict)] += 1
    return Marked(exercise, tuple(columns), tuple(rows), float(len(columns)), dict(slips.most_common()), read.notes)


def _columns(exercise: Exercise, sheet: Sheet) -> tuple[int | None, dict[str, int]]:
    """Which column is the student's and which is which answer."""
    student: int | None = None
    columns: dict[str, int] = {}
    unknown: list[str] = []
    for position, heading in enumerate(sheet.headings):
        name = _answer_named(exercise, heading)
        if name in columns:
            raise ExerciseError(f"line {sheet.heading_line}: two columns answer {name!r}")
        if name:
            columns[name] = position
        elif student is None and (position == 0 or heading.name.casefold() in STUDENT):
            student = position
        elif heading.text:
            unknown.append(heading.text)
    if not columns:
        known = ", ".join(exercise.answers)
        seen = ", ".join(heading.text for heading in sheet.headings if heading.text)
        raise ExerciseError(
            f"line {sheet.heading_line}: no column is an answer of the exercise ({known}); headings: {seen}"
        )
    return student, columns


def _answer_named(exercise: Exercise, heading: ColumnHeading) -> str:
    def plain(text: str) -> str:
        return text.casefold().replace("_", " ").replace("-", " ").strip()

    wanted = {plain(heading.name), plain(heading.text)}
    for name, answer in exercise.answers.items():
        if plain(name) in wanted or (answer.label and plain(answer.label) in wanted):
            return name
    return ""


def _row(
    sheet: Sheet, row: SheetRow, student: int | None, columns: dict[str, int], keys: dict[str, Key], judged: object,
    partial: float,
) -> MarkedRow:  # fmt: skip
    who = row.cells[student] if student is not None else ""
    if row.problem:
        return MarkedRow(row.line, who, dict.fromkeys(columns), 0.0, row.problem)
    verdicts: dict[str, Verdict | None] = {}
    problems = []
    for name, position in columns.items():
        cell = row.cells[position].strip()
        if not cell or cell in ("-", "?", "n/a", "N/A"):
            verdicts[name] = None
            continue
        try:
            text = _with_unit(sheet.plain(cell), sheet.headings[position].unit)
            verdicts[name] = judged(name, text)  # type: ignore[operator]
        except (SheetError, ExerciseError) as error:
            verdicts[name] = None
            problems.append(f"{name}: {error}" if name not in str(error) else str(error))
    marks = sum(_marks(verdict, partial) for verdict in verdicts.values() if verdict is not None)
    return MarkedRow(row.line, who, verdicts, marks, "; ".join(problems))


def _with_unit(cell: str, unit: str) -> str:
    """The cell with the unit of the heading where it has none of its own."""
    number = cell.replace("%", " %").split()
    bare = len(number) == 1 and number[0][-1] in "0123456789."
    return f"{cell} {unit}" if unit and bare else cell


def best_slips(verdict: Verdict) -> str:
    """The slips that explain an answer best, joined by "or" where the number cannot tell them apart; empty for none."""
    return " or ".join(entry.name for entry in verdict.findings[0].slips[:3]) if verdict.findings else ""


def _marks(verdict: Verdict, partial: float) -> float:
    if verdict.is_right:
        return 1.0
    return partial if verdict.status in (WRONG_UNIT, WRONG_SIGN) else 0.0


def marked_csv(marked: Marked, delimiter: str = ",") -> str:
    """The marked class as CSV: identifier, marks, and for each answer what was given, the verdict and the likely slip."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
    heading = ["student", "line", "marks", "of"]
    for name in marked.answers:
        heading += [f"{name} given", f"{name} verdict", f"{name} slip"]
    writer.writerow([*heading, "remark"])
    for row in marked.rows:
        cells: list[object] = [_harmless(row.student), row.line, f"{row.marks:g}", f"{marked.full_marks:g}"]
        remarks = [row.problem] if row.problem else []
        for name in marked.answers:
            verdict = row.verdicts[name]
            if verdict is None:
                cells += ["", "no answer", ""]
                continue
            cells += [_harmless(verdict.text), verdict.status, best_slips(verdict)]
            if verdict.remark:
                remarks.append(f"{name}: {verdict.remark}")
        writer.writerow([*cells, "; ".join(remarks)])
    return stream.getvalue()


def _harmless(text: str) -> str:
    """Text that a spreadsheet will not take for a formula."""
    return f"'{text}" if text[:1] in "=+@\t" or (text[:1] == "-" and not text[1:2].isdigit()) else text
