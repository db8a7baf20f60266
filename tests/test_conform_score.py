"""The score: one mistake named for each failure, known failures, and the comparison with an earlier score."""

from decimal import Decimal

import pytest

from shuntref.conformance.judge import Answer, Verdict
from shuntref.conformance.score import Outcome, Score, earlier_score, name_mistakes, with_known_failures
from shuntref.conformance.suite import Case, Suite

CASES = tuple(Case(f"case-{i}", "speed", "speed", 1, {}, "valid") for i in range(4))
SUITE = Suite(CASES, {}, {}, "digest")


def score(*verdicts):
    answer = Answer("values", {"speed": Decimal(1)})
    return Score("lab", SUITE, name_mistakes([Outcome(c, answer, v) for c, v in zip(CASES, verdicts, strict=True)]))


PASSED, MISSING = Verdict("passed", digits=12.0), Verdict("not implemented")


def failed(*flags):
    return Verdict("failed", flags=flags)


def test_where_two_mistakes_fit_the_one_made_elsewhere_too_is_named():
    made = score(failed("a", "b"), failed("b"), failed("b", "c"), failed("c"))
    assert [o.mistake for o in made.outcomes] == ["b", "b", "b", "c"]
    assert list(made.mistakes) == ["b", "c"]


def test_a_failure_without_a_match_has_no_mistake():
    assert score(failed(), PASSED, PASSED, PASSED).mistakes == {}


def test_what_is_no_longer_implemented_got_worse_and_what_is_newly_right_better():
    before = score(PASSED, failed(), MISSING, PASSED).to_json()
    comparison = score(MISSING, PASSED, PASSED, Verdict("passed", digits=9.0)).compared_with(before)
    assert comparison.worse == ("case-0",)
    assert comparison.better == ("case-1", "case-2")
    assert comparison.duller == ("case-3",)
    assert not comparison.other_suite


def test_failing_and_missing_are_equally_far_from_right():
    before = score(failed(), MISSING, PASSED, PASSED).to_json()
    comparison = score(MISSING, failed(), PASSED, PASSED).compared_with(before)
    assert (comparison.worse, comparison.better) == ((), ())


def test_cases_in_one_score_only_are_counted_and_another_edition_is_noticed():
    before = score(PASSED, PASSED, PASSED, PASSED).to_json()
    before["results"]["gone"] = before["results"].pop("case-0")
    before["suite"] = "older"
    comparison = score(failed(), PASSED, PASSED, PASSED).compared_with(before)
    assert set(comparison.unmatched) == {"gone", "case-0"}
    assert comparison.worse == ()
    assert comparison.other_suite


def test_known_failures_are_counted_apart():
    made = with_known_failures(
        score(failed(), PASSED, MISSING, failed()), ["case-0", "case-1", "case-2", "typo", "typo"]
    )
    assert [o.status for o in made.outcomes] == ["known failure", "unexpected pass", "not implemented", "failed"]
    assert made.unknown_ids == ("typo",)
    total = made.total
    assert (total.asked, total.passed, total.failed, total.known, total.missing) == (4, 1, 1, 1, 1)


def test_digits_are_those_of_answered_cases():
    total = score(PASSED, Verdict("passed", digits=8.0), Verdict("failed", digits=1.0), MISSING).total
    assert (total.least, total.middle) == (1.0, 8.0)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": "x"}', "[" * 10_000, '{"format":"shuntref-score-1","suite":1}',
                                  '{"format":"shuntref-score-1","suite":"a","results":{"a":{}}}',
                                  '{"format":"shuntref-score-1","suite":"a","results":[]}'])  # fmt: skip
def test_what_is_no_score_is_refused(text):
    with pytest.raises(ValueError, match=r"score\.json: not a saved score"):
        earlier_score(text, "score.json")
