"""``shuntref check`` and ``shuntref mark``: one answer judged, a class marked."""

from __future__ import annotations

import json
import re
import shutil
import sys
import textwrap
from pathlib import Path
from typing import Any

import click

from shuntref.cautions import CAUTIONS, SUGGESTED, caution_text
from shuntref.cli.exercises import exercise_of
from shuntref.exercises.marking import Marked, best_slips, mark_sheet, marked_csv
from shuntref.exercises.slips import slip
from shuntref.exercises.statement import Exercise
from shuntref.exercises.verdict import WRONG, WRONG_SIGN, WRONG_UNIT, Verdict, judge
from shuntref.quantities.text import with_decimal_point
from shuntref.whole_file import write_whole

__all__ = ["check", "mark"]

LARGEST_SHEET = 10_000_000
#: verdicts are broken to the terminal, and never into lines longer than can be read
_WIDEST, _NARROWEST = 100, 40


@click.command()
@click.argument("exercise_file", type=click.Path(dir_okay=False), metavar="FILE")
@click.option(
    "--answer", "answers", multiple=True, metavar='NAME="VALUE UNIT"', help="An answer to judge. Repeat at will."
)
@click.option("--json", "as_json", is_flag=True, help="Print the verdicts as one JSON document.")
def check(exercise_file: str, answers: tuple[str, ...], as_json: bool) -> int:
    """Judge answers to an exercise, and name the slips that would explain a wrong one.

    Each answer is right, right within rounding, wrong, of the wrong unit or of the wrong sign. For a wrong one, the slips
    whose number it is are listed, best first, with the law that was broken. The exit status is 1 when any answer is not
    right. Without --answer the names of the answers asked are listed.

    FILE is an exercise file (references/README.md has the format, and an example to copy), or the name of a published
    exercise that comes with the package. The name of the answer may be left out when only one is asked. A decimal comma
    is read as a point; thousands are not set apart.

    \b
    Examples:
      shuntref check bird-22-shunt-motor-circuit --answer armature-current="30 A"
      shuntref check exercise.toml --answer new-speed="1119 r/min"
    """
    exercise = exercise_of(exercise_file)
    if not answers:
        asked = ", ".join(exercise.answers)
        raise ValueError(f'no answer to judge; write --answer NAME="value unit" with one of: {asked}')
    verdicts = [_judged(exercise, text) for text in answers]
    settings = any(exercise.answers[verdict.name].of.quantity in SUGGESTED for verdict in verdicts)
    if as_json:
        document = {
            "exercise": exercise.title,
            "verdicts": [_document(verdict) for verdict in verdicts],
            "cautions": list(CAUTIONS) if settings else [],
        }
        click.echo(json.dumps(document, indent=1))
    else:
        click.echo("\n\n".join(_wrapped(_words(verdict, exercise_file)) for verdict in verdicts))
        if settings:
            click.echo("\n" + caution_text())
    return 0 if all(verdict.is_right for verdict in verdicts) else 1


def _judged(exercise: Exercise, text: str) -> Verdict:
    name, equals, value = text.partition("=")
    if not equals:
        if _asked(exercise, text) in exercise.answers:
            name, value = text, ""
        elif len(exercise.answers) == 1:
            name, value = next(iter(exercise.answers)), text
        else:
            raise ValueError(f'{text[:60]!r}: write NAME="value unit" with one of: {", ".join(exercise.answers)}')
    name, value = _asked(exercise, name), value.strip()
    if name in exercise.answers and not value:
        raise ValueError(f'answer {name}: nothing is answered; write --answer {name}="value unit"')
    return judge(exercise, name, with_decimal_point(value))


def _asked(exercise: Exercise, name: str) -> str:
    """The answer meant by ``name``, capitals, blanks and underscores apart; the name itself where there is none."""
    plain = re.sub(r"[\s_]+", "-", name.strip()).casefold()
    return plain if plain in exercise.answers else name.strip()


def _wrapped(text: str) -> str:
    """Lines broken between words to the width of the terminal; as they are in a pipe or a file."""
    if not sys.stdout.isatty():
        return text
    width = max(_NARROWEST, min(_WIDEST, shutil.get_terminal_size().columns))
    broken = []
    for line in text.splitlines():
        indent = " " * (len(line) - len(line.lstrip()))
        broken += textwrap.wrap(
            line, width, subsequent_indent=f"{indent}  ", break_long_words=False, break_on_hyphens=False
        ) or [""]
    return "\n".join(broken)


def _words(verdict: Verdict, file: str) -> str:
    said = f"has the {verdict.status}" if verdict.status in (WRONG_UNIT, WRONG_SIGN) else f"is {verdict.status}"
    lines = [
        f"{verdict.name}: {verdict.text.strip()} {said}" + (f" ({verdict.remark})" if verdict.remark else "") + "."
    ]
    if not verdict.is_right:
        lines.append(f"  The value is {verdict.shown}.")
    said = "It is also what this slip gives" if verdict.is_right else "Likely slip"
    told: set[str] = set()  # one slip made in one state, or in all, gives two numbers; it is told once, by the better
    for finding in verdict.findings:
        for entry in finding.slips:
            if entry.name not in told:
                told.add(entry.name)
                lines += [
                    f"  {said}: {entry.title} (fits {finding.fit}).",
                    f"    Broken: {entry.broken}.",
                    f"    {entry.description}",
                ]
    if verdict.status == WRONG and not verdict.findings and not verdict.remark:
        lines.append(f"  None of the known slips gives this number. The way to the value: shuntref solve {file}")
    return "\n".join(lines)


def _document(verdict: Verdict) -> dict[str, Any]:
    return {
        "answer": verdict.name,
        "given": verdict.text,
        "status": verdict.status,
        "value": verdict.right,
        "shown": verdict.shown,
        "remark": verdict.remark,
        "slips": [
            {
                "name": entry.name,
                "title": entry.title,
                "broken": entry.broken,
                "description": entry.description,
                "effect": entry.effect,
                "value": finding.value,
                "fit": finding.fit,
            }
            for finding in verdict.findings
            for entry in finding.slips
        ],
    }


@click.command()
@click.argument("exercise_file", type=click.Path(dir_okay=False), metavar="FILE")
@click.argument("answers_file", type=click.Path(dir_okay=False), metavar="ANSWERS.csv")
@click.option(
    "--out", "out_file", type=click.Path(dir_okay=False), metavar="MARKED.csv", help="Write the marked sheet."
)
@click.option(
    "--partial", type=float, default=0.0, show_default=True, help="Marks for a number right but for unit or sign."
)
@click.option("--json", "as_json", is_flag=True, help="Print rows and summary as one JSON document.")
def mark(exercise_file: str, answers_file: str, out_file: str | None, partial: float, as_json: bool) -> int:
    """Mark the answers of a whole class.

    The sheet is CSV as spreadsheets write it: one row a student, a heading with the student's identifier and the names of
    the answers, units in the heading ("new-speed [r/min]") or in the cells. Commas or semicolons, decimal point or comma,
    blank lines and missing answers are all in order. A row that cannot be read is reported with its line number, and the
    rest is still marked. The exit status is 1 when there was such a row.
    """
    exercise = exercise_of(exercise_file)
    path = Path(answers_file)
    if path.stat().st_size > LARGEST_SHEET:
        raise ValueError(f"{path.name}: the sheet has more than {LARGEST_SHEET} bytes")
    marked = mark_sheet(exercise, path.read_bytes(), partial=partial, source=path.name)
    if out_file is not None:
        write_whole(out_file, marked_csv(marked))
    if as_json:
        click.echo(json.dumps(_class_document(marked), indent=1))
    else:
        click.echo(_class_words(marked, out_file))
    return 1 if any(row.problem for row in marked.rows) else 0


def _class_words(marked: Marked, out_file: str | None) -> str:
    lines = [f"{marked.exercise.title}: {len(marked.rows)} students, {marked.full_marks:g} marks at most"]
    lines += [f"  note: {note}" for note in marked.notes]
    if out_file is None:
        width = max((len(row.student) for row in marked.rows), default=0)
        lines += [f"  {row.student:<{width}}  {row.marks:g}  {_row_words(row.verdicts)}" for row in marked.rows]
    lines.append(_summary(marked))
    problems = [row for row in marked.rows if row.problem]
    if problems:
        lines.append(f"{len(problems)} row{'s' * (len(problems) != 1)} could not be marked in full:")
        lines += [f"  line {row.line} ({row.student or 'no identifier'}): {row.problem}" for row in problems]
    if out_file is not None:
        lines.append(f"the marked sheet is in {out_file}")
    return "\n".join(lines)


def _row_words(verdicts: dict[str, Verdict | None]) -> str:
    words = []
    for name, verdict in verdicts.items():
        said = "no answer" if verdict is None else verdict.status
        if verdict is not None and verdict.findings:
            said += f", {_titles(best_slips(verdict))}"
        words.append(f"{name}: {said}")
    return "; ".join(words)


def _summary(marked: Marked) -> str:
    lines = []
    for name in marked.answers:
        statuses = [row.verdicts[name].status if row.verdicts[name] else "no answer" for row in marked.rows]  # type: ignore[union-attr]
        counted = {status: statuses.count(status) for status in dict.fromkeys(statuses)}
        lines.append(f"{name}: " + ", ".join(f"{count} {status}" for status, count in counted.items()))
    if marked.slips:
        lines.append("Slips of the class, by the answers that each explains best:")
        lines += [f"  {count:5d}  {_titles(names)}" for names, count in marked.slips.items()]
    return "\n".join(lines)


def _titles(names: str) -> str:
    return ", or: ".join(slip(name).title for name in names.split(" or "))


def _class_document(marked: Marked) -> dict[str, Any]:
    return {
        "exercise": marked.exercise.title,
        "full_marks": marked.full_marks,
        "notes": list(marked.notes),
        "slips": marked.slips,
        "rows": [
            {
                "line": row.line,
                "student": row.student,
                "marks": row.marks,
                "problem": row.problem,
                "answers": [_document(verdict) for verdict in row.verdicts.values() if verdict is not None],
            }
            for row in marked.rows
        ],
    }
