"""The score of a target: every verdict, counted by group, level and mistake; known failures; comparison with an earlier one."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Any

from shuntref.conformance.judge import Answer, Verdict
from shuntref.conformance.protocol import plain_text
from shuntref.conformance.suite import Case, Suite

__all__ = ["Count", "Outcome", "Score", "earlier_score", "name_mistakes", "with_known_failures"]

SCORE_FORMAT = "shuntref-score-1"


@dataclass(frozen=True, slots=True)
class Outcome:
    """One case, what came back and what it was worth; ``mistake`` is the flag that explains it best, empty if none does."""

    case: Case
    answer: Answer
    verdict: Verdict
    known: bool = False
    mistake: str = ""

    @property
    def status(self) -> str:
        """ "passed", "failed", "not implemented", "known failure" or "unexpected pass"."""
        if self.known and self.verdict.status == "failed":
            return "known failure"
        if self.known and self.verdict.status == "passed":
            return "unexpected pass"
        return self.verdict.status

    @property
    def held(self) -> bool:
        """Whether the answer was right, expected or not."""
        return self.verdict.status == "passed"


@dataclass(frozen=True, slots=True)
class Count:
    """Cases under one heading; ``least`` and ``middle`` are digits of agreement of the answered valid cases."""

    asked: int
    passed: int
    failed: int
    known: int
    missing: int
    least: float | None
    middle: float | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Ids that got worse, better, lost more than a digit of agreement, or stand in only one of the two scores."""

    worse: tuple[str, ...]
    better: tuple[str, ...]
    duller: tuple[str, ...]
    unmatched: tuple[str, ...]
    other_suite: bool


@dataclass(frozen=True)
class Score:
    """All outcomes of one run, in the order of the cases."""

    target: str
    suite: Suite
    outcomes: tuple[Outcome, ...]
    seconds: float = 0.0
    unknown_ids: tuple[str, ...] = ()
    undelivered: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    in_single: tuple[str, ...] = ()

    def count(self, outcomes: Iterable[Outcome]) -> Count:
        """Count ``outcomes``."""
        listed = list(outcomes)
        digits = [o.verdict.digits for o in listed if o.verdict.digits is not None]
        tally = Counter(o.status for o in listed)
        return Count(
            len(listed),
            tally["passed"] + tally["unexpected pass"],
            tally["failed"],
            tally["known failure"],
            tally["not implemented"],
            min(digits, default=None),
            median(digits) if digits else None,
        )

    @property
    def total(self) -> Count:
        """All cases."""
        return self.count(self.outcomes)

    @property
    def by_group(self) -> dict[str, Count]:
        """Counts for each group asked, in canonical order."""
        groups = dict.fromkeys(o.case.group for o in self.outcomes)
        return {group: self.count(o for o in self.outcomes if o.case.group == group) for group in groups}

    @property
    def by_level(self) -> dict[int, Count]:
        """Counts for each level asked."""
        levels = sorted({o.case.level for o in self.outcomes})
        return {level: self.count(o for o in self.outcomes if o.case.level == level) for level in levels}

    @property
    def mistakes(self) -> dict[str, tuple[str, ...]]:
        """Mistake -> ids of the failures it explains, the most frequent first."""
        found: dict[str, list[str]] = {}
        for outcome in self.outcomes:
            if outcome.mistake:
                found.setdefault(outcome.mistake, []).append(outcome.case.id)
        return {name: tuple(ids) for name, ids in sorted(found.items(), key=lambda item: (-len(item[1]), item[0]))}

    def ids(self, status: str) -> tuple[str, ...]:
        """Ids of the cases with that status."""
        return tuple(o.case.id for o in self.outcomes if o.status == status)

    def to_json(self) -> dict[str, Any]:
        """Return the score as plain data, the form in which it is saved."""
        return {
            "format": SCORE_FORMAT,
            "target": self.target,
            "suite": self.suite.digest,
            "results": {o.case.id: _saved(o) for o in self.outcomes},
        }

    def compared_with(self, earlier: Mapping[str, Any]) -> Comparison:
        """Compare with a score read by :func:`earlier_score`; failing and not implemented are equally far from right."""
        before = earlier["results"]
        now = {o.case.id: o for o in self.outcomes}
        shared = [case_id for case_id in now if case_id in before]

        def was_right(case_id: str) -> bool:
            return before[case_id]["status"] in ("passed", "unexpected pass")

        def duller(case_id: str) -> bool:
            old, new = before[case_id].get("digits"), now[case_id].verdict.digits
            return old is not None and new is not None and new < old - 1.0

        return Comparison(
            tuple(i for i in shared if was_right(i) and not now[i].held),
            tuple(i for i in shared if now[i].held and not was_right(i)),
            tuple(i for i in shared if now[i].held and was_right(i) and duller(i)),
            tuple(i for i in (*now, *before) if (i in now) != (i in before)),
            earlier["suite"] != self.suite.digest,
        )


def _saved(outcome: Outcome) -> dict[str, Any]:
    digits = outcome.verdict.digits
    saved: dict[str, Any] = {"status": outcome.status}
    if digits is not None:
        saved["digits"] = round(digits, 2)
    if outcome.mistake:
        saved["mistake"] = outcome.mistake
    return saved


def earlier_score(text: str, name: str) -> dict[str, Any]:
    """Read a saved score.

    Raises
    ------
    ValueError
        When ``text`` is not a score that this program saved; ``name`` is the file named in the message.
    """
    try:
        saved = json.loads(text)
        fits = saved["format"] == SCORE_FORMAT and isinstance(saved["suite"], str)
        fits = fits and all(
            isinstance(entry["status"], str) and isinstance(entry.get("digits"), int | float | None)
            for entry in saved["results"].values()
        )
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        fits = False
    if not fits:
        raise ValueError(f"{name}: not a saved score; make one with --save-score")
    result: dict[str, Any] = saved
    return result


def with_known_failures(score: Score, ids: Sequence[str]) -> Score:
    """Mark the failures the implementer knows of; ids that are in no case of the suite are kept as unknown.

    An id of a case that was not asked this time (another group) is neither.
    """
    known = set(ids)
    every = {case.id for case in score.suite.cases}
    unknown = tuple(plain_text(i, 80) for i in dict.fromkeys(ids) if i not in every)
    return replace(
        score,
        outcomes=tuple(replace(o, known=o.case.id in known) for o in score.outcomes),
        unknown_ids=unknown,
    )


def name_mistakes(outcomes: Sequence[Outcome]) -> tuple[Outcome, ...]:
    """Choose one mistake for each failure.

    Where an answer fits two mistakes (they coincide in that case), the one that explains more of the failures of the
    whole run is the likelier: a program rarely has a mistake in one case only.

    Examples
    --------
    >>> name_mistakes([])
    ()
    """
    votes = Counter(flag for outcome in outcomes for flag in outcome.verdict.flags)
    return tuple(
        replace(o, mistake=max(o.verdict.flags, key=lambda f: votes[f])) if o.verdict.flags else o for o in outcomes
    )
