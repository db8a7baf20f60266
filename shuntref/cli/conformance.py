"""The commands conform and export."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from shuntref.conformance.catalogue import catalogue_data, catalogue_text
from shuntref.conformance.child import Limits
from shuntref.conformance.junit import junit_xml
from shuntref.conformance.report import comparison_text, report_data, report_text
from shuntref.conformance.runner import run_cases
from shuntref.conformance.score import Comparison, Score, earlier_score
from shuntref.conformance.suite import Suite, load_suite, select
from shuntref.conformance.target_choice import Choice, choose
from shuntref.conformance.targets import NOT_THERE
from shuntref.whole_file import write_whole

__all__ = ["conform", "export"]


def _pairs(texts: tuple[str, ...]) -> dict[str, str]:
    pairs = {}
    for text in texts:
        name, equals, meaning = text.partition("=")
        if not equals or not name.strip() or not meaning.strip():
            raise ValueError(
                f'--argument {text[:60]!r}: write NAME=QUANTITY in UNIT, for example "n=speed_rpm in r/min"'
            )
        pairs[name.strip()] = meaning.strip()
    return pairs


def _known_ids(path: str | None) -> tuple[str, ...]:
    """Read a list of ids, one to a line, remarks after #."""
    if path is None:
        return ()
    text = Path(path).read_text(encoding="utf-8-sig", errors="replace")
    return tuple(word for line in text.splitlines() if (word := line.partition("#")[0].strip()))


def _progress() -> Callable[[int, int], None] | None:
    if not sys.stderr.isatty():
        return None

    def show(done: int, all_of_them: int) -> None:
        if done == all_of_them:
            click.echo("\r" + " " * 40 + "\r", err=True, nl=False)
        elif done % 10 == 0:
            click.echo(f"\rcase {done} of {all_of_them}", err=True, nl=False)

    return show


@click.command()
@click.argument("target", required=False, default="")
@click.option(
    "--command",
    default="",
    metavar="COMMAND",
    help='A program that speaks JSON lines, for example "octave-cli my_lab.m".',
)
@click.option("--read-answers", default="", metavar="FILE", help="Answers in a CSV sheet, matched by id.")
@click.option(
    "--write-cases",
    default="",
    metavar="FILE",
    help="Write the cases as a CSV sheet with empty answer columns, and stop.",
)
@click.option("--list", "catalogue", is_flag=True, help="List what the suite asks for, with units, and stop.")
@click.option("--decimal-comma", is_flag=True, help="With --write-cases: decimal commas and semicolons.")
@click.option(
    "--as-printed",
    is_flag=True,
    help="With --read-answers: take each number as rounded to the digits shown, if four or more.",
)
@click.option("--mapping", default="", metavar="FILE", help="Your own file (TOML): names and units of your arguments.")
@click.option(
    "--argument",
    "arguments",
    multiple=True,
    metavar="NAME=QUANTITY",
    help='What one argument is: --argument "n=speed_rpm in r/min". Repeat it for the others.',
)
@click.option("--result", default="", metavar="UNIT", help='What comes back: "r/min", or "speed_rpm in r/min".')
@click.option(
    "--precision",
    type=click.Choice(["double", "single"]),
    default="double",
    show_default=True,
    help="The arithmetic you compute in; single has wider tolerances.",
)
@click.option("--function", "functions", multiple=True, metavar="NAME", help="Only this function of the suite.")
@click.option("--group", "groups", multiple=True, metavar="NAME", help="Only this group of cases.")
@click.option(
    "--level",
    "levels",
    multiple=True,
    type=click.IntRange(1, 4),
    help="Only this level: 1 basic, 2 textbook, 3 corner, 4 ill-conditioned.",
)
@click.option("--case", "ids", multiple=True, metavar="ID", help="Only this case.")
@click.option(
    "--known-failures", metavar="FILE", help="Ids you know to fail, one to a line; they do not count as failures."
)
@click.option("--strict", is_flag=True, help="Fail when a known failure passes.")
@click.option("--complete", is_flag=True, help="Fail when anything asked is not implemented or not delivered.")
@click.option("--save-score", metavar="FILE", help="Keep the score, to compare a later one with.")
@click.option(
    "--compare", metavar="FILE", help="Compare with a kept score; then only what got worse counts as a failure."
)
@click.option("--junit", metavar="FILE", help="Write the report as JUnit XML too.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option("--all", "every", is_flag=True, help="List every failure, not only the first twenty.")
@click.option("--time-limit", type=float, default=3.0, show_default=True, metavar="SECONDS", help="Limit for one case.")
@click.option(
    "--start-limit", type=float, default=30.0, show_default=True, metavar="SECONDS", help="Limit for loading your code."
)
@click.option(
    "--memory-limit", type=int, default=4000, show_default=True, metavar="MB", help="Limit for your code (Linux)."
)
def conform(
    target: str,
    command: str,
    read_answers: str,
    write_cases: str,
    catalogue: bool,
    decimal_comma: bool,
    as_printed: bool,
    mapping: str,
    arguments: tuple[str, ...],
    result: str,
    precision: str,
    functions: tuple[str, ...],
    groups: tuple[str, ...],
    levels: tuple[int, ...],
    ids: tuple[str, ...],
    known_failures: str | None,
    strict: bool,
    complete: bool,
    save_score: str | None,
    compare: str | None,
    junit: str | None,
    as_json: bool,
    every: bool,
    time_limit: float,
    start_limit: float,
    memory_limit: int,
) -> int:
    """Judge somebody's implementation against the certified cases.

    TARGET is a Python function (module:function or path/to/file.py:function), a file whose functions are called as
    in the suite (path/to/file.py), or your own mapping file (my_lab.toml) when names and units differ. Anything that
    is not Python is asked with --command, or filled in by hand: --write-cases first, --read-answers when done. The
    lines that a command reads and writes are in references/cases/protocol.md, the mapping file and the way into pytest
    in references/cases/mapping.md.

    Your code runs in a process of its own and is told the function and the inputs, never the answer. A crash or a
    hang costs that one case. Where an answer is wrong the report says which well-known mistake makes exactly that
    number.

    \b
    For example:
      shuntref conform --list --group currents
      shuntref conform my_lab.py:speed
      shuntref conform my_lab.py:n0 --function ideal_no_load_speed \\
          --argument "V=supply_voltage in V" --argument "R=field_resistance in ohm" \\
          --argument "c=flux_constant" --result r/min
      shuntref conform my_lab.toml --group currents --save-score before.json
      shuntref conform --command "octave-cli my_lab.m"
      shuntref conform --write-cases cases.csv --function speed
      shuntref conform --read-answers cases.csv --function speed

    \b
    A mapping file has one table for each of your functions:
      [speed]
      call = "my_lab.py:motor_speed"
      arguments = { V = "supply_voltage in V", Rf = "field_resistance in ohm", ... }
      result = "r/min"

    What is not implemented does not count as a failure unless --complete is given. Tolerances belong to the cases and
    cannot be widened.

    The exit status is 0 when all is right (known failures aside), 1 when something is not, 2 when there was nothing
    that could be judged.
    """
    suite = load_suite()
    if write_cases:
        return _write_cases(
            suite, write_cases, target or mapping, decimal_comma, functions, groups, levels, ids, as_json
        )
    if catalogue:
        cases = select(suite, functions=functions, groups=groups, levels=levels, ids=ids)
        click.echo(json.dumps(catalogue_data(suite, cases), indent=1) if as_json else catalogue_text(suite, cases))
        return 0
    earlier = earlier_score(Path(compare).read_text(encoding="utf-8", errors="replace"), compare) if compare else None
    known = _known_ids(known_failures)
    choice = choose(
        suite,
        target,
        command=command,
        answers=read_answers,
        mapping=mapping,
        arguments=_pairs(arguments),
        result=result,
        precision=precision,
        functions=functions,
        groups=groups,
        levels=levels,
        ids=ids,
        as_printed=as_printed,
        limits=Limits(case_seconds=time_limit, start_seconds=start_limit, memory_mb=memory_limit),
    )
    score, remarks = _run(suite, choice, known)
    if not score.total.passed and not score.total.failed and not score.total.known:
        raise ValueError(f"{score.target}: nothing could be judged: {_why_nothing(score)}")
    comparison = score.compared_with(earlier) if earlier else None
    if save_score:
        write_whole(save_score, json.dumps(score.to_json(), indent=1) + "\n")
    if junit:
        write_whole(junit, junit_xml(score))
    _print(score, comparison, remarks, as_json, every)
    if strict and score.ids("unexpected pass"):
        return 1
    if complete and (score.total.missing or score.undelivered):
        return 1
    if comparison is not None:
        return 1 if comparison.worse else 0
    return 1 if score.total.failed else 0


def _run(suite: Suite, choice: Choice, known: tuple[str, ...]) -> tuple[Score, tuple[str, ...]]:
    target = choice.open()
    score = run_cases(
        suite, choice.cases, target, known_failures=(*choice.known_failures, *known), progress=_progress()
    )
    return score, tuple(getattr(target, "remarks", ()))


def _why_nothing(score: Score) -> str:
    reasons = dict.fromkeys(outcome.verdict.reason for outcome in score.outcomes)
    if list(reasons) == [NOT_THERE]:
        return (
            "it has no function called as in the suite; name yours with file.py:function and --function, or in a mapping "
            "file; shuntref conform --list shows what is asked for"
        )
    told = [reason for reason in reasons if reason != NOT_THERE]  # functions nobody spoke of do not matter here
    return "; ".join(told[:3]) or "no case was chosen"


def _print(score: Score, comparison: Comparison | None, remarks: tuple[str, ...], as_json: bool, every: bool) -> None:
    if as_json:
        data = report_data(score)
        data["remarks"] = list(remarks)
        if comparison is not None:
            data["comparison"] = {
                "worse": list(comparison.worse),
                "better": list(comparison.better),
                "less_exact": list(comparison.duller),
                "in_one_only": list(comparison.unmatched),
                "cases_changed": comparison.other_suite,
            }
        click.echo(json.dumps(data, indent=1))
        return
    click.echo(report_text(score, most=0 if every else 20))
    for remark in remarks:
        click.echo(remark)
    if comparison is not None:
        click.echo("\n" + comparison_text(comparison))


def _write_cases(
    suite: Suite,
    path: str,
    mapping: str,
    decimal_comma: bool,
    functions: tuple[str, ...],
    groups: tuple[str, ...],
    levels: tuple[int, ...],
    ids: tuple[str, ...],
    as_json: bool,
) -> int:
    from shuntref.conformance.answers import cases_sheet
    from shuntref.conformance.mapping import read_setting

    setting = read_setting(Path(mapping), suite) if mapping else None
    cases = select(suite, functions=functions, groups=groups, levels=levels, ids=ids)
    write_whole(path, cases_sheet(suite, cases, setting, decimal_comma=decimal_comma))
    said = f"{len(cases)} cases written to {path}; fill in the answer columns and read them with --read-answers"
    click.echo(json.dumps({"cases": len(cases), "file": path}) if as_json else said)
    return 0


@click.command()
@click.option(
    "--language",
    required=True,
    type=click.Choice(["c", "octave", "javascript", "python", "openformula"]),
    help="The language to write.",
)
@click.option("--function", "functions", multiple=True, metavar="NAME", help="Only this function; all when left out.")
@click.option("--out", metavar="PATH", help="File, or folder that exists, to write to; printed when left out.")
@click.option("--json", "as_json", is_flag=True, help="Print what was written as JSON.")
def export(language: str, functions: tuple[str, ...], out: str | None, as_json: bool) -> int:
    """Write the verified formulas as source in another language.

    The source is generated from the derived equations, checks its arguments, tests itself on certified cases, and
    answers "shuntref conform --command". openformula writes a flat spreadsheet (.fods) with one row for each case.
    """
    from shuntref.conformance.export.writer import export_source

    made = export_source(language, functions)
    data: dict[str, Any] = {"language": language, "functions": list(made.functions)}
    if out:
        path = Path(out) / made.file_name if Path(out).is_dir() else Path(out)
        write_whole(path, made.text)
        data["file"] = str(path)
    if as_json:
        click.echo(json.dumps({**data, **({} if out else {"text": made.text})}, indent=1))
    elif out:
        hint = made.hint.replace(made.file_name, str(path))
        click.echo(f"{len(made.functions)} functions written to {data['file']}; {hint}")
    else:
        click.echo(made.text, nl=False)
    return 0
