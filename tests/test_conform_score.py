"""The score: one mistake named for each failure, known failures, and the comparison with an earlier score."""

import json
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


def test_more_than_a_digit_less_exact_is_told_and_a_digit_is_not():
    def duller(old, new):
        before = score(*[Verdict("passed", digits=old)] * 4).to_json()
        return score(*[Verdict("passed", digits=new)] * 4).compared_with(before).duller

    assert duller(12.0, 11.0) == ()
    assert len(duller(12.0, 10.99)) == 4
    assert duller(11.0, 12.5) == ()
    assert duller(None, 3.0) == duller(12.0, None) == duller(None, None) == ()


def test_counts_by_group_and_level():
    made = tuple(Case(f"c{i}", group, "f", level, {}, "valid") for i, (group, level) in
                 enumerate((("b", 3), ("a", 1), ("b", 1))))  # fmt: skip
    answer = Answer("values", {})
    outcomes = [Outcome(c, answer, v) for c, v in zip(made, (PASSED, failed("x"), failed("x")), strict=True)]
    found = Score("lab", Suite(made, {}, {}, "digest"), name_mistakes(outcomes))
    assert {g: (c.asked, c.passed, c.failed) for g, c in found.by_group.items()} == {"b": (2, 1, 1), "a": (1, 0, 1)}
    assert list(found.by_group) == ["b", "a"]
    assert [(n, c.asked, c.failed) for n, c in found.by_level.items()] == [(1, 2, 2), (3, 1, 0)]
    assert (found.ids("failed"), found.ids("passed")) == (("c1", "c2"), ("c0",))
    assert found.mistakes == {"x": ("c1", "c2")}
    assert found.to_json() == {
        "format": "shuntref-score-1", "target": "lab", "suite": "digest",
        "results": {"c0": {"status": "passed", "digits": 12.0}, "c1": {"status": "failed", "mistake": "x"},
                    "c2": {"status": "failed", "mistake": "x"}},
    }  # fmt: skip


def test_digits_are_saved_with_two_decimals_and_an_earlier_pass_may_be_unexpected():
    saved = score(Verdict("passed", digits=12.3456), PASSED, PASSED, PASSED).to_json()
    assert saved["results"]["case-0"]["digits"] == 12.35
    saved["results"]["case-1"]["status"] = "unexpected pass"
    saved["results"]["case-2"]["status"] = "known failure"
    found = score(failed(), failed(), PASSED, PASSED).compared_with(saved)
    assert (found.worse, found.better) == (("case-0", "case-1"), ("case-2",))


def test_mistakes_stand_by_how_often_they_were_made_and_then_by_name():
    assert list(score(failed("z"), failed("b"), failed("a"), failed("z")).mistakes) == ["z", "a", "b"]


def test_what_could_be_read_is_kept_as_it_was_saved():
    saved = score(PASSED, failed("x"), MISSING, PASSED).to_json()
    read = earlier_score(json.dumps(saved), "score.json")
    assert read == saved
    assert not score(PASSED, PASSED, PASSED, PASSED).compared_with(read).other_suite
    for place in ("digits", "status"):
        spoilt = json.loads(json.dumps(saved))
        spoilt["results"]["case-0"][place] = [12]
        with pytest.raises(ValueError, match=r"^score\.json: not a saved score; make one with --save-score$"):
            earlier_score(json.dumps(spoilt), "score.json")
