"""How an answer is judged at the edges: digits, windows, signs, units, and which slip is named first."""

from __future__ import annotations

import math

import pytest

from shuntref.exercises.answer_rule import AnswerRule, Window
from shuntref.exercises.slip_answers import SlippedAnswer
from shuntref.exercises.slips import slip
from shuntref.exercises.statement import Answer, ExerciseError, Ref
from shuntref.exercises.verdict import Key, judge_by
from shuntref.quantities.text import read_value

RIGHT, ROUNDED, WRONG, UNIT, SIGN = "right", "right within rounding", "wrong", "wrong unit", "wrong sign"
TURNS = math.pi / 30
#: a speed of 964.2857... r/min, as 27 000 by 28 gives it
SPEED = 27000 / 28
COMMON, RARE, OTHER = slip("back-emf-ignored"), slip("brush-loss-forgotten"), slip("line-current-kept")


def key(
    quantity: str,
    right: float,
    *slipped: tuple[object, float],
    windows: tuple[Window, ...] = (),
    printed: str = "",
    disagrees: bool = False,
    reason: str = "",
    horsepower: str = "mechanical",
) -> Key:
    """What an answer is judged by, without an exercise."""
    answer = Answer(
        "it",
        Ref("running", quantity),
        printed=read_value(quantity, printed) if printed else None,
        disagrees=disagrees,
        rule=AnswerRule(reason=reason),
    )
    rows = tuple(SlippedAnswer(entry, value) for entry, value in slipped)  # type: ignore[arg-type]
    return Key(answer, quantity, right, windows, rows, horsepower, "")


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("964.29 r/min", RIGHT),
        ("964.3 r/min", RIGHT),
        ("964.2 r/min", ROUNDED),  # the last digit is wrong: 0.09 off, half a digit is 0.05
        ("964 r/min", RIGHT),
        ("965 r/min", WRONG),
        ("963 r/min", WRONG),
        ("964.78 r/min", ROUNDED),  # 0.494 off; three figures allow 0.5
        ("964.79 r/min", WRONG),
        ("963.79 r/min", ROUNDED),
        ("963.78 r/min", WRONG),
        ("9.64e2 r/min", RIGHT),
        ("9.6e2 r/min", WRONG),  # right as far as it goes, with two figures
        ("960 r/min", WRONG),
        ("1000 r/min", WRONG),
        ("-964.3 r/min", SIGN),
        ("-964.78 r/min", SIGN),
        ("-964.79 r/min", WRONG),
        ("16.07 r/s", RIGHT),
        ("16.07 r/min", UNIT),
        ("16.0714 r/min", UNIT),
        ("100.98 rad/s", RIGHT),
        ("100.98 r/min", UNIT),
        ("101 r/min", UNIT),
        ("102 r/min", WRONG),
        ("964.3 V", UNIT),
        ("964.3", UNIT),
    ],
)
def test_a_number_is_right_to_the_digits_that_are_written(text: str, status: str) -> None:
    assert judge_by(key("speed", SPEED * TURNS), text).status == status


def test_the_remarks_say_what_is_the_matter() -> None:
    speed = key("speed", SPEED * TURNS)
    assert judge_by(speed, "964.3 r/min").remark == ""
    assert judge_by(speed, "964.7 r/min").remark == "it agrees to 3 figures"
    assert judge_by(speed, "9.6e2 r/min").remark == "right as far as it goes, but rounded to fewer than 3 figures"
    assert judge_by(speed, "972 r/min").remark == ""
    assert judge_by(speed, "-964.3 r/min").remark == "the number is right, its sign is not"
    assert judge_by(speed, "16.07 r/min").remark == "the number is right in r/s"
    assert judge_by(speed, "100.98 r/min").remark == "the number is right in rad/s"
    assert judge_by(speed, "964.3").remark == "the unit is missing; the number is right in r/min"
    assert judge_by(speed, "964.3 V").remark == "'V' is not a unit of what is asked; the number is right in r/min"
    assert judge_by(speed, "900 V").remark == "'V' is not a unit of what is asked; r/min would be accepted"
    assert judge_by(speed, "900").remark == "the unit is missing; r/min would be accepted"
    assert judge_by(key("efficiency", 0.8), "0.7 V").remark == "'V' is not a unit of what is asked"


@pytest.mark.parametrize(
    ("quantity", "right", "text", "status", "remark"),
    [
        ("back_emf", 224.0, "0.224 V", UNIT, "the number is right in kV"),
        ("back_emf", 224.0, "224000 V", UNIT, "the number is right in mV"),
        ("back_emf", 224.0, "224 kV", UNIT, "the number is right in V"),
        ("electromagnetic_power", 7456.998715822702, "10 W", UNIT, "the number is right in hp"),
        ("electromagnetic_power", 7456.998715822702, "7.457 W", UNIT, "the number is right in kW"),
        ("electromagnetic_power", 7354.9875, "10.0 W", UNIT, "the number is right in hp(metric)"),
        ("electromagnetic_torque", 85.56, "8.725 N m", UNIT, "the number is right in kgf m"),
        ("electromagnetic_torque", 85.56, "63.1 N m", UNIT, "the number is right in lbf ft"),
        ("efficiency", 0.85, "85", UNIT, "the number is right in %"),
        ("efficiency", 0.85, "0.85 %", UNIT, "the number is right in per unit"),
        ("k_phi", 1.25, "1.40 V s/rad", WRONG, ""),
    ],
)
def test_the_unit_that_was_meant_is_named(quantity: str, right: float, text: str, status: str, remark: str) -> None:
    verdict = judge_by(key(quantity, right), text)
    assert (verdict.status, verdict.remark) == (status, remark)


def test_short_numbers_have_the_figures_that_they_have() -> None:
    assert judge_by(key("back_emf", 230.0), "230 V").status == RIGHT
    assert judge_by(key("sections", 4.0), "4").status == RIGHT
    assert judge_by(key("back_emf", 230.0), "231 V").status == WRONG
    # 200 for 204 is an answer of one figure, and 0 V is the value itself
    assert judge_by(key("back_emf", 204.0), "200 V").status == WRONG
    assert judge_by(key("back_emf", 0.0), "0 V").status == RIGHT
    assert judge_by(key("back_emf", 0.0), "-0.2 V").status == WRONG
    assert judge_by(key("back_emf", 0.00231), "2.31 mV").status == RIGHT
    assert judge_by(key("back_emf", 0.00231), "0.00231 V").status == RIGHT
    assert judge_by(key("back_emf", 0.00231), "0.0023 V").remark.startswith("right as far as it goes")


def test_a_window_of_the_exercise_counts_on_both_of_its_edges() -> None:
    wide = key("back_emf", 224.0, windows=(Window(222.0, 225.0, "read off a drawing"),))
    for text, status in (("222 V", RIGHT), ("225 V", RIGHT), ("221.9 V", WRONG), ("225.1 V", WRONG), ("-222 V", SIGN)):
        assert judge_by(wide, text).status == status, text


@pytest.mark.parametrize(
    ("rule", "printed", "low", "high"),
    [
        (AnswerRule(), "2.0 ohm", 1.95, 2.05),
        (AnswerRule(), "-2.0 ohm", -2.05, -1.95),
        (AnswerRule(rounding="truncated"), "2.0 ohm", 2.0, 2.1),
        (AnswerRule(rounding="truncated"), "-2.0 ohm", -2.1, -2.0),
        (AnswerRule(rounding="up"), "2.0 ohm", 1.9, 2.0),
        (AnswerRule(rounding="up"), "-2.0 ohm", -2.0, -1.9),
        (AnswerRule(rounding="truncated"), "0 ohm", 0.0, 1.0),
        (AnswerRule(step=0.5), "2.0 ohm", 1.75, 2.25),
        (AnswerRule(step=0.5, rounding="truncated"), "2.0 ohm", 2.0, 2.5),
        (AnswerRule(tolerance=0.3), "2.0 ohm", 1.7, 2.3),
        (AnswerRule(relative_tolerance=0.1), "2.0 ohm", 1.8, 2.2),
        (AnswerRule(relative_tolerance=0.1), "-2.0 ohm", -2.2, -1.8),
    ],
)
def test_the_window_of_a_printed_figure(rule: AnswerRule, printed: str, low: float, high: float) -> None:
    window = rule.window(read_value("armature_resistance", printed))
    assert (window.low, window.high) == pytest.approx((low, high), abs=1e-12)
    width = window.high - window.low
    assert window.holds(window.low)
    assert window.holds(window.high)
    assert window.holds(window.low - 0.9e-6 * width)
    assert not window.holds(window.low - 1.2e-6 * width)
    assert window.holds(window.high + 0.9e-6 * width)
    assert not window.holds(window.high + 1.2e-6 * width)


def test_the_reason_of_a_window_names_its_rule() -> None:
    printed = read_value("armature_resistance", "2.0 ohm")
    assert AnswerRule().window(printed).reason == "half a unit of the last printed digit"
    assert AnswerRule(step=0.5).window(printed).reason == "half a unit of the stated rounding step"
    assert AnswerRule(rounding="truncated").window(printed).reason == "one unit of the last printed digit, cut off"
    assert (
        AnswerRule(rounding="up", step=0.5).window(printed).reason == "one unit of the stated rounding step, rounded up"
    )
    assert AnswerRule(tolerance=0.3, reason="read off").window(printed).reason == "read off"


def names(verdict: object) -> list[list[str]]:
    return [[entry.name for entry in finding.slips] for finding in verdict.findings]  # type: ignore[attr-defined]


def test_what_the_digits_cannot_tell_apart_goes_by_how_common_the_slip_is() -> None:
    # 240.04 and 240.00 are both 240.0; the commoner one stands first in the catalogue
    both = key("back_emf", 224.0, (COMMON, 240.04), (RARE, 240.0))
    assert names(judge_by(both, "240.0 V")) == [[COMMON.name], [RARE.name]]
    # with two digits more they are told apart, and the nearer one comes first
    assert names(judge_by(both, "240.00 V")) == [[RARE.name], [COMMON.name]]
    assert [finding.fit for finding in judge_by(both, "240.00 V").findings] == ["to every digit", "to 3 figures"]
    assert [finding.value for finding in judge_by(both, "240.00 V").findings] == [240.0, 240.04]
    # half a unit of the third figure is 0.5 V
    assert [finding.distance for finding in judge_by(both, "240.14 V").findings] == pytest.approx([0.2, 0.28], rel=1e-5)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("240.5 V", True),
        ("240.51 V", False),
        ("239.5 V", True),
        ("239.49 V", False),
        ("24e1 V", True),
        ("-240 V", False),
    ],
)
def test_a_slip_is_named_where_it_agrees_to_three_figures(text: str, found: bool) -> None:
    assert bool(judge_by(key("back_emf", 224.0, (COMMON, 240.0)), text).findings) is found


def test_half_a_digit_is_within_the_digit() -> None:
    # 240.05 - 240.0 is a hair more than 0.05 in binary
    (finding,) = judge_by(key("back_emf", 224.0, (COMMON, 240.05)), "240.0 V").findings
    assert finding.fit == "to every digit"
    (finding,) = judge_by(key("back_emf", 224.0, (COMMON, 240.06)), "240.0 V").findings
    assert finding.fit == "to 3 figures"


def test_slips_of_one_number_stand_together_and_none_twice() -> None:
    rows = ((COMMON, 240.0), (RARE, 240.0 * (1 + 1e-11)), (COMMON, 240.0 * (1 - 1e-11)), (OTHER, 240.001))
    verdict = judge_by(key("back_emf", 224.0, *rows), "240.0 V")
    assert names(verdict) == [[COMMON.name, RARE.name], [OTHER.name]]
    assert verdict.findings[0].value == 240.0


def test_a_right_answer_names_no_slip_and_a_rounded_one_only_what_fits_every_digit() -> None:
    near = key("back_emf", 224.0, (COMMON, 224.4))
    assert judge_by(near, "224.0 V").findings == ()
    assert judge_by(near, "224.1 V").findings == ()  # rounded, and the slip does not fit
    assert names(judge_by(near, "224.4 V")) == [[COMMON.name]]
    # where the right value fits the digits as well, they tell nothing
    assert judge_by(key("back_emf", 224.4, (COMMON, 224.2)), "224 V").findings == ()


def test_the_other_horsepower_is_suspected_only_in_horsepower() -> None:
    watts = 9.95 * 7456.998715822702 / 10
    power = key("output_power", watts)
    metric = watts / 735.49875
    assert names(judge_by(power, f"{metric:.4f} hp")) == [["horsepower-convention"]]
    assert judge_by(power, f"{watts * 1.02:.1f} W").findings == ()
    # read as metric where the exercise says metric
    assert judge_by(key("output_power", 735.49875 * 9, horsepower="metric"), "9.00 hp").status == RIGHT


def test_a_printed_figure_known_to_be_wrong_is_told_from_the_right_one() -> None:
    erratum = key("back_emf", 224.0, printed="225 V", disagrees=True, reason="the drop was left out")
    told = judge_by(erratum, "225 V")
    assert told.status == WRONG
    assert told.remark == "this is the printed figure, which does not follow from the data: the drop was left out"
    assert judge_by(erratum, "225.6 V").remark == ""
    assert judge_by(erratum, "224 V").status == RIGHT
    assert judge_by(key("back_emf", 224.0, printed="225 V"), "225 V").remark == ""


@pytest.mark.parametrize("text", ["", "   ", "about 200", "1 712 r/min", "V"])
def test_what_holds_no_number_is_refused_and_not_judged(text: str) -> None:
    with pytest.raises(ExerciseError, match="answer it: "):
        judge_by(key("speed", SPEED * TURNS), text)
