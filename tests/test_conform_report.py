"""The report: figures by group and level, mistakes, a factor all wrong answers share, what is not judged, and its data."""

from __future__ import annotations

import xml.etree.ElementTree as Xml
from decimal import Decimal

import pytest

from shuntref.conformance.flags import Flag
from shuntref.conformance.judge import Answer, Verdict
from shuntref.conformance.junit import junit_xml
from shuntref.conformance.report import comparison_text, report_data, report_text
from shuntref.conformance.score import Comparison, Outcome, Score, name_mistakes
from shuntref.conformance.suite import Case, Suite

FLAG = Flag("two-pi-forgotten", "units", "The factor is left out.", "The speed comes out too low.")


def case(name="speed-a", function="speed", level=1, group="speed", result="valid", expected=None, **inputs):
    expected = {"speed": "100"} if expected is None else expected
    return Case(name, group, function, level, inputs, result, expected)


def given(seconds=0.0, **values):
    return Answer("values", {k: tuple(map(Decimal, v)) if isinstance(v, tuple) else Decimal(v) for k, v in values.items()},
                  seconds=seconds)  # fmt: skip


def wrong(name, value="150", certified="100", function="speed", flags=(), **more):
    made = case(name, function, expected={"speed": certified}, **more)
    return Outcome(made, given(speed=value), Verdict("failed", f"speed = {value}", 0.5, flags=flags))


def passed(name, digits=12.0, **more):
    return Outcome(case(name, **more), given(speed="100"), Verdict("passed", digits=digits))


def score(*outcomes, flags=None, **more):
    suite = Suite(tuple(o.case for o in outcomes), {}, flags or {}, "digest")
    return Score("lab", suite, name_mistakes(outcomes), **more)


def lines_of(made, **options):
    return report_text(made, **options).splitlines()


MIXED = score(
    wrong("speed-a", flags=("two-pi-forgotten",)),
    passed("speed-b", 12.0, level=2),
    passed("speed-c", 8.0, level=2),
    Outcome(case("losses-a", "losses", 4, "losses"), Answer("missing"), Verdict("not implemented", "no such function")),
    Outcome(case("losses-b", "losses", 4, "losses"), given(speed="1"), Verdict("failed", "x", 3.0), known=True),
    Outcome(case("losses-c", "losses", 4, "losses"), given(speed="1"), Verdict("failed", "x", 2.0), known=True),
    flags={"two-pi-forgotten": FLAG},
    seconds=1.237,
)


def test_the_head_and_the_tables():
    lines = lines_of(MIXED)
    assert lines[:4] == [
        "target  lab",
        "cases   6 asked: 2 passed, 1 failed, 2 known failures, 1 not implemented; 1.24 s",
        "        of 5 judged 2 are right",
        "",
    ]
    rows = {" ".join(line.split()) for line in lines if line.startswith("  ") and "/" in line}
    # least and middle digits: 0.5, 8 and 12 of the speeds; 2 and 3 of the losses
    assert rows == {
        "speed 2/3 1 0.5 8.0",
        "losses 0/3 2 1 2.0 2.5",
        "level 1 basic 0/1 1 0.5 0.5",
        "level 2 textbook 2/2 8.0 10.0",
        "level 4 ill-conditioned 0/3 2 1 2.0 2.5",
    }


def test_figures_stand_below_their_headings():
    lines = lines_of(MIXED)
    above, below = lines[4], lines[5]
    losses = next(line for line in lines if line.startswith("  losses"))
    for heading, figure in (("passed", "0/3"), ("known", "2"), ("not impl", "1")):
        assert above.index(heading) + len(heading) == losses.index(f" {figure} ") + 1 + len(figure)
    assert below.index("least") + 5 == losses.index("2.0") + 3
    assert below.index("median") + 6 == losses.index("2.5") + 3 == len(losses)


def test_one_known_failure_is_one_and_a_clean_sheet_says_nothing_more():
    one = score(passed("a"), Outcome(case("b"), given(speed="1"), Verdict("failed", "x", 1.0), known=True))
    assert "2 asked: 1 passed, 0 failed, 1 known failure; 0.00 s" in report_text(one)
    clean = report_text(score(passed("a")))
    for words in ("What went wrong", "Failures", "judged", "not implemented", "known"):
        assert words not in clean.replace("known not impl", "").replace("    known ", "")


def test_a_mistake_is_told_with_its_meaning_and_an_example():
    text = "\n".join(lines_of(MIXED))
    assert (
        "\n\nWhat went wrong\n     1  two pi forgotten\n        The factor is left out.\n"
        "        The speed comes out too low.\n        for example in speed-a\n" in text
    )
    assert "of no known mistake" not in text
    assert "      matches: two pi forgotten" in text


def test_every_level_has_a_name():
    text = report_text(score(*(passed(f"c{n}", level=n) for n in (4, 3, 2, 1))))
    assert [line.split()[2] for line in text.splitlines() if line.startswith("  level")] == [
        "basic",
        "textbook",
        "corner",
        "ill-conditioned",
    ]


# --- a factor that all unexplained answers share


def factor_line(*outcomes):
    return next((line.strip() for line in lines_of(score(*outcomes)) if "times the certified one" in line), "")


def spoilt(*factors, function="speed", quantity="speed"):
    found = []
    for place, (factor, certified) in enumerate(zip(factors, ("100", "-8", "0.25", "3e4"), strict=False)):
        made = case(f"c{place}", function, expected={quantity: certified})
        value = str(Decimal(factor) * Decimal(certified))
        found.append(Outcome(made, given(**{quantity: value}), Verdict("failed", "off", 0.1)))
    return found


def test_three_answers_with_one_factor_are_told():
    expected = "speed is 9.5493 times the certified one in all 3 of them: a rounded constant, or a unit?"
    assert factor_line(*spoilt("9.5493", "9.5493", "9.5493")) == expected
    assert "9.5493 times the certified one in all 4" in factor_line(*spoilt(*["9.5493"] * 4))
    assert factor_line(*spoilt("9.5493", "9.5493")) == ""
    assert factor_line(*spoilt(*["-1"] * 3)).startswith("speed is -1 times")


def test_the_quantity_is_named_with_its_function_where_they_differ():
    assert factor_line(*spoilt("2", "2", "2", function="currents", quantity="line_current")).startswith(
        "line_current of currents is 2 times"
    )
    assert factor_line(*spoilt("2", "2", "2", function="losses", quantity="brush_loss")).startswith(
        "brush_loss of losses is 2 times"
    )


@pytest.mark.parametrize(
    ("factors", "told"),
    [
        # the factors may differ by a thousandth of what is wrong, here of 0.5
        (("1.5", "1.5005", "1.5"), True),
        (("1.5", "1.4995", "1.5"), True),
        (("1.5", "1.5006", "1.5"), False),
        (("1.5", "1.4997", "1.5003"), False),
        (("0.5", "0.5005", "0.5"), True),
        (("0.5", "0.5006", "0.5"), False),
        (("3.5", "3.5025", "3.5"), True),
        (("1.00003", "1.00003", "1.00003003"), True),
        (("1.00003", "1.00003", "1.00003004"), False),
        (("1.5", "3", "-1.5"), False),
        (("1", "1", "1"), False),
        (("0", "0", "0"), False),
    ],
)
def test_factors_are_one_when_they_differ_by_less_than_a_thousandth_of_what_is_wrong(factors, told):
    assert bool(factor_line(*spoilt(*factors))) is told


def test_only_what_can_be_divided_and_is_unexplained_counts_for_a_factor():
    two = spoilt("2", "2")
    assert factor_line(*two, wrong("x", "200", flags=("slip",))) == ""
    refused = Case("y", "speed", "speed", 1, {}, "invalid", {"speed": "100"})
    assert factor_line(*two, Outcome(refused, given(speed="200"), Verdict("failed"))) == ""
    for value, certified in (("Infinity", "100"), ("200", "0"), (("2",), ("1",))):
        made = case("z", expected={"speed": certified})
        assert factor_line(*two, Outcome(made, given(speed=value), Verdict("failed"))) == ""
    bare = Outcome(case("w"), Answer("failed"), Verdict("failed", "crash"))
    assert factor_line(bare, *two) == ""
    assert "in all 3 of them" in factor_line(bare, *two, wrong("v", "200", flags=("slip",)), wrong("u", "200"))
    assert "     3  of no known mistake" in lines_of(score(*two, bare))


# --- failures one by one


def test_failures_are_told_with_their_inputs_up_to_a_number():
    made = score(*(wrong(f"c{i}", supply_voltage=120.0 + i / 3, speed=(1.0, 2.5)) for i in range(5)))
    lines = lines_of(made, most=2)
    start = lines.index("Failures")
    assert lines[start - 1] == ""
    assert lines[start + 1 : start + 6] == [
        "  c0: speed = 150",
        "      speed was asked with supply_voltage = 120 V, speed = [1, 2.5] rad/s",
        "  c1: speed = 150",
        "      speed was asked with supply_voltage = 120.3333333 V, speed = [1, 2.5] rad/s",
        "  ... and 3 more; --all shows them",
    ]
    assert "more; --all" not in report_text(made, most=0)
    assert "more; --all" not in report_text(made, most=5)
    assert "  c2: speed = 150" in lines_of(made, most=0)
    twenty_one = score(*(wrong(f"c{i}") for i in range(21)))
    assert "  ... and 1 more; --all shows them" in lines_of(twenty_one)
    assert "  c19: speed = 150" in lines_of(twenty_one)


def test_very_many_inputs_are_cut_to_six_hundred_characters():
    long = score(wrong("c", table_speed=tuple(float(i) for i in range(1000))))
    line = next(line for line in lines_of(long) if "was asked with" in line)
    assert len(line.split("asked with ")[1]) == 600


# --- remarks


def test_remarks_name_what_is_not_as_it_was_said_to_be():
    surprise = Outcome(case("b"), given(speed="100"), Verdict("passed", digits=9.0), known=True)
    absent = (("c", "losses", ""), ("d", "losses", ""), ("e", "stall_torque", ""), ("f", "speed", "no argument"))
    missing = [Outcome(case(n, f), Answer("missing"), Verdict("not implemented", why)) for n, f, why in absent]
    made = score(passed("a"), surprise, *missing, unknown_ids=("typo", "other"), in_single=("speed", "losses"),
                 undelivered={"currents": ("line_current", "field_current")})  # fmt: skip
    lines = lines_of(made)
    assert lines[lines.index("listed as known failures, but passed: b") - 1 :] == [
        "",
        "listed as known failures, but passed: b",
        "listed as known failures, but no such case: typo, other",
        "not implemented (no reason given): losses, stall_torque",
        "not implemented (no argument): speed",
        "  what is not implemented is no failure (--complete makes it one)",
        "judged as single precision, with wider tolerances: speed, losses",
        "not judged, because currents does not deliver it: line_current, field_current",
    ]


def test_a_function_that_only_refuses_is_named():
    def refused(name, function):
        return Outcome(case(name, function, result="invalid"), Answer("refused"), Verdict("passed"))

    def words(*outcomes):
        return [line for line in lines_of(score(*outcomes)) if "cases to refuse" in line]

    told = "passed nothing but cases to refuse: losses, speed"
    fails = Outcome(case("f", "losses"), Answer("refused"), Verdict("failed", "refused a valid case"))
    absent = Outcome(case("m", "losses"), Answer("missing"), Verdict("not implemented"))
    assert words(refused("a", "losses"), refused("b", "speed"), fails, absent) == [told]
    assert words(refused("a", "losses"), passed("p", function="losses"), fails) == []
    assert words(fails) == words(absent) == words(passed("p")) == []
    known = Outcome(case("k", "losses"), given(speed="100"), Verdict("passed", digits=9.0), known=True)
    assert words(refused("a", "losses"), known) == []


# --- the same as data


def test_the_data_hold_every_figure():
    data = report_data(MIXED)
    assert (data["target"], data["suite"], data["seconds"]) == ("lab", "digest", 1.237)
    assert data["digits_credited_at_most"] == {"double": 15.65, "single": 6.92}
    assert data["total"] == {"asked": 6, "passed": 2, "failed": 1, "known_failures": 2, "not_implemented": 1,
                             "digits_least": 0.5, "digits_median": 3.0}  # fmt: skip
    assert set(data["groups"]) == {"speed", "losses"}
    assert data["levels"]["2"] == {"asked": 2, "passed": 2, "failed": 0, "known_failures": 0, "not_implemented": 0,
                                   "digits_least": 8.0, "digits_median": 10.0}  # fmt: skip
    assert data["mistakes"] == [{"flag": "two-pi-forgotten", "words": "two pi forgotten", "cases": ["speed-a"]}]
    assert [entry["status"] for entry in data["cases"]] == [
        "failed", "passed", "passed", "not implemented", "known failure", "known failure"]  # fmt: skip
    assert report_data(score())["total"]["digits_least"] is None
    assert report_data(score())["total"]["digits_median"] is None


def test_the_data_of_one_case():
    made = Outcome(
        case("c", "starter_grading", 3, "starting", supply_voltage=230.0, speed=(1.0, 2.0)),
        given(0.12345678, speed="1"),
        Verdict("failed", "wrong", 3.14159, ("b", "a", "c"), "other"),
    )
    assert report_data(score(made))["cases"] == [
        {
            "id": "c",
            "group": "starting",
            "level": 3,
            "function": "starter_grading",
            "status": "failed",
            "inputs": {"supply_voltage": 230.0, "speed": [1.0, 2.0]},
            "seconds": 0.123457,
            "digits": 3.14,
            "reason": "wrong",
            "alternative": "other",
            "matches": {"flag": "b", "words": "b"},
            "other_matches": ["a", "c"],
        }
    ]
    bare = Outcome(case("d"), Answer("missing"), Verdict("not implemented"))
    assert set(report_data(score(bare))["cases"][0]) == {
        "id",
        "group",
        "level",
        "function",
        "status",
        "inputs",
        "seconds",
    }
    exact = Outcome(case("e"), given(speed="1"), Verdict("failed", digits=0.0))
    assert report_data(score(exact))["cases"][0]["digits"] == 0.0


def test_a_comparison_in_words():
    text = comparison_text(Comparison(("a", "b"), ("c",), ("d",), ("e", "f", "g"), True))
    assert text.splitlines() == [
        "Compared with the earlier score",
        "  the cases have changed since; only those in both are compared",
        "  worse (2): a, b",
        "  better (1): c",
        "  still right, but more than a digit less exact (1): d",
        "  in one of the two only: 3",
    ]


# --- the same for build servers


def test_the_score_as_junit_xml():
    slow = Outcome(case("speed-d"), given(0.25, speed="100"), Verdict("passed", digits=9.0))
    bad = Outcome(
        case("speed-e", result="valid", supply_voltage=120.0), given(0.5, speed="1"), Verdict("failed", "bad \x1b", 0.0)
    )
    made = score(*MIXED.outcomes, slow, bad, flags={}, seconds=2.5)
    root = Xml.fromstring(junit_xml(made))
    assert root.attrib == {"name": "shuntref: lab", "tests": "8", "failures": "2", "skipped": "3", "time": "2.500"}
    suites = {suite.get("name"): suite for suite in root}
    assert suites["speed"].attrib == {"name": "speed", "tests": "5", "failures": "2", "errors": "0", "skipped": "0",
                                      "time": "0.750"}  # fmt: skip
    assert suites["losses"].attrib == {"name": "losses", "tests": "3", "failures": "0", "errors": "0", "skipped": "3",
                                       "time": "0.000"}  # fmt: skip
    cases = {entry.get("name"): entry for entry in root.iter("testcase")}
    assert cases["speed-d"].attrib == {"classname": "shuntref.speed.level-1", "name": "speed-d", "time": "0.250000"}
    assert list(cases["speed-d"]) == list(cases["speed-b"]) == []
    named, unnamed = cases["speed-a"][0], cases["speed-e"][0]
    assert (named.tag, named.get("type")) == ("failure", "two-pi-forgotten")
    assert named.get("message") == "speed = 150; matches: two pi forgotten"
    assert (unnamed.get("type"), unnamed.get("message")) == ("unexplained", "bad ?; matches no known mistake")
    assert unnamed.text == "function speed, inputs {'supply_voltage': 120.0}"
    assert [cases[name][0].get("message") for name in ("losses-a", "losses-b")] == [
        "not implemented: no such function",
        "known failure: x",
    ]
