"""The score in words, for a terminal, and as plain data."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from shuntref.conformance.judge import PRECISIONS
from shuntref.conformance.protocol import plain_text
from shuntref.conformance.scale import shown_unit
from shuntref.conformance.score import Comparison, Count, Outcome, Score
from shuntref.conformance.suite import Case

__all__ = ["LEVELS", "comparison_text", "report_data", "report_text"]

#: as many answers with one factor are no accident; factors that differ by less than this share of what is wrong are one
_ENOUGH, _SAME = 3, Decimal("1e-3")

LEVELS = {1: "basic", 2: "textbook", 3: "corner", 4: "ill-conditioned"}


def flag_words(name: str) -> str:
    """Return what a mistake is called: its name with the hyphens read as blanks.

    Examples
    --------
    >>> flag_words("line-current-for-armature-current")
    'line current for armature current'
    """
    return name.replace("-", " ")


def _digits(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def _row(label: str, count: Count) -> str:
    share = f"{count.passed}/{count.asked}"
    return (
        f"  {label:<28}{share:>9}{count.failed or '':>9}{count.known or '':>8}{count.missing or '':>9}"
        f"{_digits(count.least):>10}{_digits(count.middle):>9}"
    ).rstrip()


def report_text(score: Score, *, most: int = 20) -> str:
    """Return the report for a terminal; at most ``most`` failures are told one by one (0: all of them).

    Examples
    --------
    >>> from shuntref.conformance.suite import Suite
    >>> print(report_text(Score("nobody", Suite((), {}, {}), ())).splitlines()[0])
    target  nobody
    """
    total = score.total
    lines = [
        f"target  {plain_text(score.target)}",
        f"cases   {total.asked} asked: {_tally(total)}; {score.seconds:.2f} s",
        *([f"        of {total.asked - total.missing} judged {total.passed} are right"] if total.missing else []),
        "",
        f"  {'':<28}{'passed':>9}{'failed':>9}{'known':>8}{'not impl':>9}{'digits':>10}{'':>9}",
        f"  {'':<28}{'':>9}{'':>9}{'':>8}{'':>9}{'least':>10}{'median':>9}",
    ]
    lines += [_row(group, count) for group, count in score.by_group.items()]
    lines.append("")
    lines += [_row(f"level {level} {LEVELS.get(level, '')}", count) for level, count in score.by_level.items()]
    lines += _mistake_lines(score)
    lines += _failure_lines(score, most)
    lines += _remark_lines(score)
    return "\n".join(lines)


def _tally(count: Count) -> str:
    words = [f"{count.passed} passed", f"{count.failed} failed"]
    if count.known:
        words.append(f"{count.known} known failure{'s' if count.known > 1 else ''}")
    if count.missing:
        words.append(f"{count.missing} not implemented")
    return ", ".join(words)


def _wrong(score: Score) -> list[Outcome]:
    return [outcome for outcome in score.outcomes if outcome.status == "failed"]


def _mistake_lines(score: Score) -> list[str]:
    mistakes = score.mistakes
    unexplained = sum(not outcome.mistake for outcome in _wrong(score))
    if not mistakes and not unexplained:
        return []
    lines = ["", "What went wrong"]
    for name, ids in mistakes.items():
        lines.append(f"  {len(ids):>4}  {flag_words(name)}")
        if flag := score.suite.flags.get(name):
            lines += [f"        {text}" for text in (flag.description, flag.effect) if text]
        lines.append(f"        for example in {ids[0]}")
    if unexplained:
        lines.append(f"  {unexplained:>4}  of no known mistake")
        lines += _factor_lines(score)
    return lines


def _factor_lines(score: Score) -> list[str]:
    """Name a factor that all unexplained answers of a function share: a rounded constant, or a unit."""
    factors: dict[tuple[str, str], list[Decimal]] = {}
    for outcome in _wrong(score):
        if outcome.mistake or outcome.case.result != "valid":
            continue
        for name, certified in outcome.case.expected.items():
            given = (outcome.answer.values or {}).get(name)
            single = isinstance(given, Decimal) and given.is_finite() and isinstance(certified, str)
            if single and Decimal(str(certified)):
                factors.setdefault((outcome.case.function, name), []).append(
                    Decimal(str(given)) / Decimal(str(certified))
                )
    lines = []
    for (function, name), shares in factors.items():
        spread = max(shares) - min(shares)
        what = name if name == function else f"{name} of {function}"
        if len(shares) >= _ENOUGH and shares[0] not in (0, 1) and spread <= abs(shares[0] - 1) * _SAME:
            lines.append(
                f"        {what} is {float(shares[0]):.9g} times the certified one in all {len(shares)} of "
                "them: a rounded constant, or a unit?"
            )
    return lines


def _failure_lines(score: Score, most: int) -> list[str]:
    wrong = _wrong(score)
    if not wrong:
        return []
    shown = wrong if not most else wrong[:most]
    lines = ["", "Failures"]
    for outcome in shown:
        lines.append(f"  {outcome.case.id}: {outcome.verdict.reason}")
        lines.append(f"      {outcome.case.function} was asked with {_inputs_text(outcome.case)}")
        if outcome.mistake:
            lines.append(f"      matches: {flag_words(outcome.mistake)}")
    if len(shown) < len(wrong):
        lines.append(f"  ... and {len(wrong) - len(shown)} more; --all shows them")
    return lines


def _behind(name: str) -> str:
    unit = shown_unit(name)
    return f" {unit}" if unit else ""


def _inputs_text(case: Case) -> str:
    shown = [
        (f"{name} = [{', '.join(f'{v:g}' for v in value)}]" if isinstance(value, tuple) else f"{name} = {value:.10g}")
        + _behind(name)
        for name, value in case.inputs.items()
    ]
    return plain_text(", ".join(shown), 600)


def _remark_lines(score: Score) -> list[str]:
    lines = []
    if score.ids("unexpected pass"):
        lines.append(f"listed as known failures, but passed: {', '.join(score.ids('unexpected pass'))}")
    if score.unknown_ids:
        lines.append(f"listed as known failures, but no such case: {', '.join(score.unknown_ids)}")
    reasons: dict[str, list[str]] = {}
    for outcome in score.outcomes:
        if outcome.status == "not implemented":
            reasons.setdefault(outcome.verdict.reason, []).append(outcome.case.function)
    for reason, functions in reasons.items():
        lines.append(f"not implemented ({reason or 'no reason given'}): {', '.join(dict.fromkeys(functions))}")
    if reasons:
        lines.append("  what is not implemented is no failure (--complete makes it one)")
    if score.in_single:
        lines.append(f"judged as single precision, with wider tolerances: {', '.join(score.in_single)}")
    lines += _refusers(score)
    for function, names in score.undelivered.items():
        lines.append(f"not judged, because {function} does not deliver it: {', '.join(names)}")
    return ["", *lines] if lines else []


def _refusers(score: Score) -> list[str]:
    """Name the functions that passed by refusing and have answered nothing right: such a pass says little."""
    passed: dict[str, set[str]] = {}
    for outcome in score.outcomes:
        if outcome.verdict.status != "not implemented":
            kind = (
                "refused" if outcome.held and outcome.verdict.digits is None else "right" if outcome.held else "wrong"
            )
            passed.setdefault(outcome.case.function, set()).add(kind)
    names = [function for function, kinds in passed.items() if "refused" in kinds and "right" not in kinds]
    return [f"passed nothing but cases to refuse: {', '.join(names)}"] if names else []


def report_data(score: Score) -> dict[str, Any]:
    """Return the whole report as plain data (for --json)."""
    return {
        "target": score.target,
        "suite": score.suite.digest,
        "seconds": round(score.seconds, 3),
        "digits_credited_at_most": dict(PRECISIONS),
        "total": _count_data(score.total),
        "groups": {group: _count_data(count) for group, count in score.by_group.items()},
        "levels": {str(level): _count_data(count) for level, count in score.by_level.items()},
        "mistakes": [
            {"flag": name, "words": flag_words(name), "cases": list(ids)} for name, ids in score.mistakes.items()
        ],
        "unknown_known_failures": list(score.unknown_ids),
        "single_precision": list(score.in_single),
        "undelivered": {function: list(names) for function, names in score.undelivered.items()},
        "cases": [_outcome_data(outcome) for outcome in score.outcomes],
    }


def _count_data(count: Count) -> dict[str, Any]:
    return {
        "asked": count.asked,
        "passed": count.passed,
        "failed": count.failed,
        "known_failures": count.known,
        "not_implemented": count.missing,
        "digits_least": None if count.least is None else round(count.least, 2),
        "digits_median": None if count.middle is None else round(count.middle, 2),
    }


def _outcome_data(outcome: Outcome) -> dict[str, Any]:
    verdict = outcome.verdict
    data: dict[str, Any] = {
        "id": outcome.case.id,
        "group": outcome.case.group,
        "level": outcome.case.level,
        "function": outcome.case.function,
        "status": outcome.status,
        "inputs": {n: list(v) if isinstance(v, tuple) else v for n, v in outcome.case.inputs.items()},
        "seconds": round(outcome.answer.seconds, 6),
    }
    if verdict.digits is not None:
        data["digits"] = round(verdict.digits, 2)
    if verdict.reason:
        data["reason"] = verdict.reason
    if verdict.chosen:
        data["alternative"] = verdict.chosen
    if outcome.mistake:
        data["matches"] = {"flag": outcome.mistake, "words": flag_words(outcome.mistake)}
        data["other_matches"] = [flag for flag in verdict.flags if flag != outcome.mistake]
    return data


def comparison_text(comparison: Comparison) -> str:
    """Return the comparison with an earlier score in words.

    Examples
    --------
    >>> print(comparison_text(Comparison(("speed-0001",), (), (), (), False)))
    Compared with the earlier score
      worse (1): speed-0001
      better (0)
    """
    lines = ["Compared with the earlier score"]
    if comparison.other_suite:
        lines.append("  the cases have changed since; only those in both are compared")
    for words, ids in (("worse", comparison.worse), ("better", comparison.better)):
        lines.append(f"  {words} ({len(ids)})" + (f": {', '.join(ids)}" if ids else ""))
    if comparison.duller:
        lines.append(
            f"  still right, but more than a digit less exact ({len(comparison.duller)}): "
            f"{', '.join(comparison.duller)}"
        )
    if comparison.unmatched:
        lines.append(f"  in one of the two only: {len(comparison.unmatched)}")
    return "\n".join(lines)
