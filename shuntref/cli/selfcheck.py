"""``shuntref selfcheck``: every piece of evidence re-computed."""

from __future__ import annotations

import json
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

import click

from shuntref.provenance import (
    COMMON,
    COMPUTED,
    INVENTED,
    CheckValue,
    check_faults,
    check_values,
    faults,
    mark,
)
from shuntref.provenance import (
    sources as source_table,
)
from shuntref.selfcheck import PROVIDERS, Outcome, run

__all__ = ["selfcheck"]


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of lines.")
@click.option("--failures", is_flag=True, help="Print only the checks that failed, and the totals.")
@click.option(
    "--sources", is_flag=True, help="List every check value by its source, with its kind and whether it was seen."
)
def selfcheck(as_json: bool, failures: bool, sources: bool) -> int:
    """Prove every theorem, tie every formula, recompute every reference.

    One line for each check, then the totals. The exit status is 1 when any check failed. Nothing is looked up: the proofs
    are carried out and the examples solved while you wait, in well under a minute on a small machine.
    """
    start = time.perf_counter()
    outcomes: list[Outcome] = []
    show_progress = sys.stderr.isatty()
    quiet = as_json or sources
    heading = ""
    for outcome in run(PROVIDERS, workers=min(2, os.cpu_count() or 1)):
        outcomes.append(outcome)
        if show_progress:
            click.echo(f"\r\x1b[K{len(outcomes)} checks, {outcome.check.statement[:70]}", err=True, nl=False)
        if quiet or (failures and outcome.check.passed):
            continue
        if show_progress:
            click.echo("\r\x1b[K", err=True, nl=False)
        if outcome.check.group != heading:
            heading = outcome.check.group
            click.echo(f"\n{heading}")
        click.echo(_line(outcome))
    if show_progress:
        click.echo("\r\x1b[K", err=True, nl=False)
    seconds = time.perf_counter() - start
    failed = sum(not outcome.check.passed for outcome in outcomes)
    if as_json:
        click.echo(json.dumps(_document(outcomes, seconds), ensure_ascii=False, indent=1))
    else:
        if sources:
            _by_source(outcomes)
        click.echo(f"\n{_totals(outcomes)}")
        click.echo(f"{len(outcomes) - failed} passed, {failed} failed, in {seconds:.1f} s")
    return 1 if failed else 0


def _line(outcome: Outcome) -> str:
    check = outcome.check
    mark = "ok    " if check.passed else "FAILED"
    detail = f"  [{check.detail}]" if check.detail else ""
    source = f"  ({check.source})" if check.source else ""
    return f"  {mark} {check.statement}{detail}{source}"


def _counts(outcomes: list[Outcome]) -> dict[str, tuple[int, int, float]]:
    counts: dict[str, tuple[int, int, float]] = {}
    for outcome in outcomes:
        done, failed, seconds = counts.get(outcome.check.group, (0, 0, 0.0))
        counts[outcome.check.group] = (done + 1, failed + (not outcome.check.passed), seconds + outcome.seconds)
    return counts


def _totals(outcomes: list[Outcome]) -> str:
    counts = _counts(outcomes)
    width = max((len(group) for group in counts), default=0)
    return "\n".join(
        f"{group:<{width}}  {done - failed:5d} of {done:5d}  {seconds:6.1f} s"
        for group, (done, failed, seconds) in counts.items()
    )


def _by_source(outcomes: list[Outcome]) -> None:
    """Every check value of the references and every check, under its source: kind, how it was come by, counts."""
    known, values = source_table(), check_values()
    checks: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        for name in outcome.check.source_ids or (COMPUTED,):
            checks.setdefault(name, []).append(outcome)
    for name in (*known, COMMON, COMPUTED, INVENTED):
        held = [value for value in values if name in value.sources]
        made = checks.get(name, [])
        counts = (
            _count(len(held), "check value"),
            _count(sum(value.figures for value in held), "figure"),
            _count(len(made), "check"),
        )
        click.echo(f"\n{_title(name, known)}")
        click.echo(f"  {', '.join(counts)}{_marks(held)}")
        many = name == COMPUTED  # the certified cases: thousands of figures, all of one make
        for place, seen, count in _short(held) if many else [(v.place, v.seen, v.figures) for v in held]:
            click.echo(f"  value  {place}: {_count(count, 'figure')} [{seen}]")
        for outcome in made:
            click.echo(f"  {'ok    ' if outcome.check.passed else 'FAILED'} {outcome.check.statement}")
    wrong = [*faults(cited=frozenset(checks)), *(f for o in outcomes for f in check_faults(o.check, known))]
    click.echo(
        f"\n{_count(len(values), 'check value')} of {_count(sum(v.figures for v in values), 'figure')}{_marks(values)}"
    )
    click.echo(
        "\n".join(wrong) if wrong else "each has a source, its kind, and says whether it was seen or is from memory"
    )


def _short(held: Iterable[CheckValue]) -> list[tuple[str, str, int]]:
    """One line for each file."""
    totals: Counter[tuple[str, str]] = Counter()
    for value in held:
        totals[value.place.partition(":")[0], value.seen] += value.figures
    return [(place, seen, count) for (place, seen), count in totals.items()]


def _title(name: str, known: Mapping[str, Mapping[str, str]]) -> str:
    entry = known.get(name)
    if entry is None:
        return name
    parts = [entry["author"], entry["title"], entry["edition"], entry["year"], entry["place"]]
    words = ", ".join(part for part in dict.fromkeys(parts) if part != "not stated")
    return f"{name}: {words} ({entry['kind']}; seen: {entry['seen']})"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _marks(values: Iterable[CheckValue]) -> str:
    found = Counter(mark(value.seen) for value in values)
    return "".join(f"; {count} {name or 'without a mark'}" for name, count in found.items())


def _document(outcomes: list[Outcome], seconds: float) -> dict[str, Any]:
    return {
        "checks": [
            {
                "group": o.check.group,
                "statement": o.check.statement,
                "passed": o.check.passed,
                "detail": o.check.detail,
                "source": o.check.source,
                "source_ids": list(o.check.source_ids),
                "seen": o.check.seen,
                "seconds": round(o.seconds, 4),
            }
            for o in outcomes
        ],
        "passed": sum(o.check.passed for o in outcomes),
        "failed": sum(not o.check.passed for o in outcomes),
        "seconds": round(seconds, 2),
    }
