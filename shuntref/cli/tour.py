"""``shuntref tour``: the whole job on an invented bench, with every piece of evidence re-computed."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import textwrap
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

import click

__all__ = ["tour"]

#: a lab script with a mistake, written for the tour: the line current goes through the armature
WRONG_SCRIPT = """\
def back_emf(supply_voltage, line_current, field_resistance, armature_resistance,
             added_field_resistance=0.0, added_armature_resistance=0.0, brush_drop=0.0):
    return supply_voltage - line_current * (armature_resistance + added_armature_resistance) - brush_drop
"""


@dataclass(frozen=True)
class _Stop:
    """One stop of the tour: its heading, the command that shows more, and what is shown."""

    heading: str
    command: str
    show: Callable[[], str]


def _own(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "shuntref", *arguments]


def _derivation() -> str:
    from shuntref.theory.derivation import derive
    from shuntref.theory.rendering import render

    return render(derive("speed"), "text").split("\nSymbols")[0].rstrip()


def _theorems() -> str:
    from shuntref.theory.theorems import THEOREMS

    lines = []
    for theorem in THEOREMS.values():
        if theorem.name in ("armature-resistance-and-speed", "weakening-the-field"):
            lines += [theorem.name, f"  {theorem.statement}", f"  Condition: {theorem.condition}."]
            lines.append(f"  Proof carried out just now: {'it holds' if theorem.prove().holds else 'IT FAILS'}.")
    return "\n".join(textwrap.fill(line, 100, subsequent_indent="  ") for line in lines)


def _machine() -> Any:
    from shuntref.model.machine_file import machine_from_text

    text = files("shuntref.references").joinpath("machines", "laboratory.toml").read_text(encoding="utf-8")
    return machine_from_text(text, where="laboratory.toml")


def _prediction() -> str:
    from shuntref.cli.predict import table_text
    from shuntref.cli.settings import read_settings

    field = read_settings(_machine(), ["added_field_resistance=0, 50, 100 ohm", "load_torque=1.5 N m"])
    armature = read_settings(_machine(), ["added_armature_resistance=0, 5, 10 ohm", "load_torque=1.5 N m"])
    return table_text(field) + "\n\n" + table_text(armature)


def _explanation() -> str:
    from shuntref.explanation.account import Situation, account
    from shuntref.explanation.ruling import ruling
    from shuntref.explanation.words import story_text

    situation = Situation(_machine(), {"supply_voltage": 120.0}, load_torque=1.5)
    story = account(situation, "added_field_resistance", 100.0)
    return story_text(story, ruling(story))


def _exercise() -> str:
    from shuntref.exercises.library import reference_exercise
    from shuntref.exercises.rendering import render
    from shuntref.exercises.slip_answers import slipped_answers
    from shuntref.exercises.solver import solve
    from shuntref.exercises.verdict import judge
    from shuntref.quantities.text import format_value

    exercise = reference_exercise("froehlich-field-rheostat", "practice")
    solution = render(solve(exercise), "text").split("\nSource")[0].rstrip()
    straight = next(row for row in slipped_answers(exercise)["speed-with"] if row.slip.name == "armature-drop-ignored")
    given = format_value("speed_rpm", straight.value)
    lines = [solution, "", f"A student answers {given} for the second speed:"]
    verdict = judge(exercise, "speed-with", given)
    lines.append(f"  {verdict.status}; the value is {verdict.shown}")
    lines += [f"  likely slip: {slip.title}" for finding in verdict.findings[:1] for slip in finding.slips]
    return "\n".join(lines)


def _bench() -> str:
    from shuntref.bench.demo import demo

    return demo()


def _conformance() -> str:
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "day_sheet.py"
        script.write_text(WRONG_SCRIPT, encoding="utf-8")
        run = subprocess.run(
            _own("conform", f"{script}:back_emf", "--json"), capture_output=True, text=True, check=False, timeout=60
        )
    report = json.loads(run.stdout)
    total = report["total"]
    lines = ["A day sheet in Python takes E = U - I R with the current of the line. Judged against the certified cases,",
             f"whose values it is never told: {total['passed']} of {total['asked']} right."]  # fmt: skip
    lines += [f"  {len(found['cases'])} wrong answers match: {found['words']}" for found in report["mistakes"]]
    return "\n".join(lines)


STOPS: tuple[_Stop, ...] = (
    _Stop("The speed equation, derived from the laws", "shuntref derive", _derivation),
    _Stop("Two theorems, proved while you wait", "shuntref selfcheck", _theorems),
    _Stop("A bench predicted", "shuntref predict MACHINE.toml", _prediction),
    _Stop("Why the speed changed", "shuntref explain MACHINE.toml", _explanation),
    _Stop("An exercise solved, an answer judged", "shuntref solve FILE, shuntref check FILE", _exercise),
    _Stop("A session planned, its readings reduced", "shuntref plan BENCH.toml, shuntref reduce LOG.csv", _bench),
    _Stop("Somebody's script judged", "shuntref conform TARGET", _conformance),
)


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print each stop's text and the evidence as one JSON document.")
@click.option("--without-evidence", is_flag=True, help="Leave out the evidence, which takes most of the time.")
def tour(as_json: bool, without_evidence: bool) -> int:
    """Walk through the whole job on an invented bench.

    The speed equation derived, theorems proved, a bench predicted and the change of its speed explained, an exercise
    solved and an answer judged, a session planned and its readings compared with prediction, a script judged, and at the
    end every piece of evidence re-computed. It takes some ten to twenty seconds. Everything in it is invented, except the
    published examples that the evidence recomputes. The exit status is 1 when any check of the evidence fails.
    """
    start = time.perf_counter()
    # the evidence needs a core of its own and most of the time: it is computed while the tour is read
    evidence = None
    if not without_evidence:
        evidence = subprocess.Popen(_own("selfcheck", "--json"), stdout=subprocess.PIPE, text=True, encoding="utf-8")
    try:
        shown = []
        for number, (stop, text) in enumerate(_walk(), 1):
            shown.append({"heading": stop.heading, "command": stop.command, "text": text})
            if not as_json:
                title = f"{number}. {stop.heading}"
                click.echo(f"{title}\n{'=' * len(title)}\nmore: {stop.command}\n\n{text}\n")
        report = _evidence(evidence, len(shown) + 1, as_json)
    finally:
        if evidence is not None and evidence.poll() is None:
            evidence.kill()
    if as_json:
        click.echo(json.dumps({"stops": shown, "evidence": report}, ensure_ascii=False, indent=1))
    else:
        click.echo(f"\nThe tour took {time.perf_counter() - start:.0f} s. Next: README.md, or shuntref --help.")
    return 1 if report.get("failed") else 0


def _walk() -> Iterator[tuple[_Stop, str]]:
    for stop in STOPS:
        yield stop, stop.show()


def _evidence(process: subprocess.Popen[str] | None, number: int, as_json: bool) -> dict[str, Any]:
    if process is None:
        return {}
    if not as_json:
        title = f"{number}. The evidence, all of it re-computed"
        click.echo(f"{title}\n{'=' * len(title)}\nmore: shuntref selfcheck\n")
    output, _ = process.communicate(timeout=300)
    document: dict[str, Any] = json.loads(output)
    counts: dict[str, list[int]] = {}
    for check in document["checks"]:
        count = counts.setdefault(check["group"], [0, 0])
        count[0] += check["passed"]
        count[1] += 1
    if not as_json:
        width = max(len(group) for group in counts)
        for group, (passed, total) in counts.items():
            click.echo(f"  {group:<{width}}  {passed:4d} of {total:4d}")
        for check in document["checks"]:
            if not check["passed"]:
                click.echo(f"  FAILED {check['statement']}  [{check['detail']}]")
        click.echo(f"\n{document['passed']} passed, {document['failed']} failed")
    return {"groups": counts, "passed": document["passed"], "failed": document["failed"]}
