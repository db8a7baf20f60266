"""The score as JUnit XML, the form that build servers read: one suite per group, one test case per case."""

from __future__ import annotations

import re
from xml.etree import ElementTree as Xml

from shuntref.conformance.report import flag_words
from shuntref.conformance.score import Outcome, Score

__all__ = ["junit_xml"]

#: characters that XML 1.0 cannot hold, not even escaped
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _safe(text: str) -> str:
    return _FORBIDDEN.sub("?", text)


def junit_xml(score: Score) -> str:
    """Return the score as JUnit XML.

    A failure carries the reason and the mistake it matches; what is not implemented or known to fail is skipped.

    Examples
    --------
    >>> from shuntref.conformance.suite import Suite
    >>> junit_xml(Score("nobody", Suite((), {}, {}), ())).splitlines()[1]
    '<testsuites name="shuntref: nobody" tests="0" failures="0" skipped="0" time="0.000" />'
    """
    total = score.total
    root = Xml.Element(
        "testsuites",
        name=_safe(f"shuntref: {score.target}"),
        tests=str(total.asked),
        failures=str(total.failed),
        skipped=str(total.known + total.missing),
        time=f"{score.seconds:.3f}",
    )
    for group, count in score.by_group.items():
        listed = [outcome for outcome in score.outcomes if outcome.case.group == group]
        seconds = sum(outcome.answer.seconds for outcome in listed)
        suite = Xml.SubElement(
            root,
            "testsuite",
            name=group,
            tests=str(count.asked),
            failures=str(count.failed),
            errors="0",
            skipped=str(count.known + count.missing),
            time=f"{seconds:.3f}",
        )
        for outcome in listed:
            _case(suite, outcome)
    Xml.indent(root)
    return '<?xml version="1.0" encoding="utf-8"?>\n' + Xml.tostring(root, encoding="unicode") + "\n"


def _case(suite: Xml.Element, outcome: Outcome) -> None:
    case = Xml.SubElement(
        suite,
        "testcase",
        classname=f"shuntref.{outcome.case.group}.level-{outcome.case.level}",
        name=outcome.case.id,
        time=f"{outcome.answer.seconds:.6f}",
    )
    if outcome.status == "failed":
        matches = f"matches: {flag_words(outcome.mistake)}" if outcome.mistake else "matches no known mistake"
        failure = Xml.SubElement(
            case,
            "failure",
            message=_safe(f"{outcome.verdict.reason}; {matches}"),
            type=outcome.mistake or "unexplained",
        )
        failure.text = _safe(f"function {outcome.case.function}, inputs {dict(outcome.case.inputs)}")
    elif outcome.status in ("known failure", "not implemented"):
        Xml.SubElement(case, "skipped", message=_safe(f"{outcome.status}: {outcome.verdict.reason}"))
