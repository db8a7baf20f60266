"""Targets that read sheets: any CSV, logs of readings, answers to cases, the answers of a class; and single answers."""

from __future__ import annotations

import json
import math
import random
from functools import cache

from fuzzing.files import make_from, on_disk, reference_texts, suite
from fuzzing.mutation import HOSTILE_NUMBERS, HOSTILE_TEXTS, mutated
from fuzzing.watch import Target, Wrong
from shuntref.bench.bench_file import Bench
from shuntref.bench.demo import demo_bench
from shuntref.bench.readings import read_log
from shuntref.bench.reduction import reduce_log
from shuntref.bench.reduction_text import reduction_text
from shuntref.bench.report_tables import reduction_data
from shuntref.conformance.answers import cases_sheet, read_answers
from shuntref.conformance.judge import judge as judge_case
from shuntref.exercises.library import reference_exercise
from shuntref.exercises.marking import mark_sheet, marked_csv
from shuntref.exercises.statement import Exercise, ExerciseError
from shuntref.exercises.verdict import Key, answer_key, judge_by
from shuntref.quantities.spreadsheet import SheetError, read_sheet

__all__ = ["targets"]

_ASKED = ("bird-22-shunt-motor-circuit", "bird-16-emf-both-ways")


@cache
def _log_seeds() -> tuple[str, ...]:
    (log,) = reference_texts("references/bench/log.csv")
    lines = log.splitlines()
    short = "\n".join(lines[3:9])
    return (
        log,
        short,
        short.replace(",", ";").replace(".", ","),
        short.replace(",", "\t"),
        "run,U [V],n [r/min],R_fx [ohm]\n1,120,1500,0\n2,120,1600,20\n2,121,1601,20\n3,119.5,1700,40\n",
        "Bench 3\n\nU;I;n;remark\nV;A;r/min;\n119,8;8,1;1 450;cold\n119,9;8,2;1 451;\n",
        'run;added field ohms;n, r/min;remark\n1;0;1500;"a\nb"\n\n2;20;1 650,5;steady\n',
        "sep=;\nU [V];speed 1 [rad/s];speed 2 [rad/s]\n120;157,1;157,2\n",
    )


def _log_input(number: int) -> bytes:
    return mutated(_log_seeds(), random.Random(number))


def _small_log_input(number: int) -> bytes:
    return mutated(_log_seeds()[1:], random.Random(number))


def _sheet(data: bytes) -> bool:
    sheet = read_sheet(data, "sheet.csv")
    for row in sheet.rows[:30]:
        for cell in row.cells:
            try:
                value = sheet.number(cell)
            except SheetError:
                continue
            if not math.isfinite(value):
                raise Wrong(f"cell {cell[:60]!r} is the number {value!r}")
    return True


def _readings(data: bytes) -> bool:
    log = read_log(data, "log.csv")
    for run in log.runs:
        for name, value in run.values.items():
            if not math.isfinite(value):
                raise Wrong(f"run {run.name}: {name} = {value!r}")
    return True


@cache
def _bench() -> Bench:
    return demo_bench()


def _reduced(data: bytes) -> bool:
    log = read_log(data, "log.csv")
    done = reduce_log(_bench(), log)
    reduction_text(done)
    json.dumps(reduction_data(done), allow_nan=False)
    return True


@cache
def _case_sheets() -> tuple[str, ...]:
    cases = suite().cases
    found = []
    for start, comma in ((0, False), (300, True), (600, False)):
        some = [case for case in cases[start : start + 40] if case.function == cases[start].function][:6]
        sheet = cases_sheet(suite(), some, decimal_comma=comma)
        filled = "\n".join(line + ("1,5;" if comma else "1.5,") for line in sheet.splitlines())
        found += [sheet, filled]
        mark = ";" if comma else ","
        body = [line.split(mark) for line in sheet.splitlines()]
        answers = [i for i, heading in enumerate(body[0]) if heading.startswith("answer")]
        for row in body[1:]:
            for position in answers:
                row[position] = "157,0796" if comma else "157.0796"
        found.append("\n".join(mark.join(row) for row in body) + "\n")
    return tuple(found)


def _answers_input(number: int) -> bytes:
    return mutated(_case_sheets(), random.Random(number))


@cache
def _cases_by_id() -> dict[str, int]:
    return {case.id: position for position, case in enumerate(suite().cases)}


def _answers(data: bytes) -> bool:
    target = read_answers(on_disk(data, "answers.csv"), suite(), as_printed=data[-1:] < b"8")
    for identifier, answer in target.answers.items():
        case = suite().cases[_cases_by_id()[identifier]]
        judge_case(case, answer, target.precision(case.function))
    return True


@cache
def _exercises() -> tuple[Exercise, ...]:
    return tuple(reference_exercise(name) for name in _ASKED)


@cache
def _keys() -> tuple[Key, ...]:
    return tuple(answer_key(exercise, name) for exercise in _exercises() for name in exercise.answers)


@cache
def _class_seeds() -> tuple[str, ...]:
    found = []
    for exercise in _exercises():
        names = list(exercise.answers)
        heading = ["student", *names]
        shown = [
            str(exercise.answers[name].printed.text if exercise.answers[name].printed else "1 V") for name in names
        ]
        found.append(
            "\n".join([",".join(heading), ",".join(["a1", *shown]), ",".join(["a2", *("1 A" for _ in names)]), ""])
        )
        found.append("\n".join([";".join(heading), ";".join(["a1", *(s.replace(".", ",") for s in shown)]), ""]))
    return tuple(found)


def _class_input(number: int) -> bytes:
    return mutated(_class_seeds(), random.Random(number))


def _marked(data: bytes) -> bool:
    exercise = _exercises()[len(data) % len(_ASKED)]
    marked = mark_sheet(exercise, data, partial=0.5, source="class.csv")
    marked_csv(marked)
    if not all(0.0 <= row.marks <= marked.full_marks for row in marked.rows):
        raise Wrong("marks outside what can be had")
    return True


def _answer_input(number: int) -> bytes:
    draw = random.Random(number)
    key = draw.choice(_keys())
    text = draw.choice(
        (f"{key.right * draw.choice((1, -1, 2, 0.5, 60, 0.1, 1.001)):.4g} ", draw.choice(HOSTILE_NUMBERS))
    )
    text += draw.choice(("V", "A", "ohm", "r/min", "N m", "W", "kW", "", "rad/s", draw.choice(HOSTILE_TEXTS)))
    return f"{_keys().index(key)}|{text}".encode("utf-8", "surrogatepass")


def _answer(data: bytes) -> bool:
    position, _, text = data.decode("utf-8", "surrogateescape").partition("|")
    verdict = judge_by(_keys()[int(position) % len(_keys())], text)
    if not verdict.status:
        raise Wrong("no verdict")
    return True


def targets() -> list[Target]:
    """Every kind of sheet."""
    cases = make_from("references/cases/acceptable.csv", "references/cases/flags.csv", "references/cases/functions.csv")
    return [
        Target("sheet", _log_input, _sheet, (SheetError,), 25),
        Target("sheet of the cases", cases, _sheet, (SheetError,), 2),
        Target("readings", _small_log_input, _readings, (ValueError,), 20),
        Target("readings reduced", _log_input, _reduced, (ValueError,), 0.3, 30.0),
        Target("answers sheet", _answers_input, _answers, (ValueError,), 20),
        Target("answer text", _answer_input, _answer, (ExerciseError,), 40),
        Target("class sheet", _class_input, _marked, (ValueError,), 20),
    ]
