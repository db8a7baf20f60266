"""Slips: every one is caught by an exercise, a slipped answer is recognised, and a right one is never called wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache

import pytest

from shuntref.exercises.library import reference_exercise, reference_exercise_names
from shuntref.exercises.slip_answers import slipped_answers
from shuntref.exercises.slips import KINDS, catalogue, slip
from shuntref.exercises.statement import Exercise
from shuntref.exercises.verdict import ROUNDED, WRONG, answer_key, judge, judge_by
from shuntref.quantities.registry import quantity
from shuntref.quantities.text import parse_value, unit_factor

UNITS = {
    "speed": ["rad/s", "r/min", "r/s"], "speed_rpm": ["r/min", "rad/s", "r/s"], "V": ["V", "kV", "mV"], "A": ["A", "mA", "kA"],
    "ohm": ["ohm", "mohm", "kohm"], "W": ["W", "kW", "hp", "MW"], "N m": ["N m", "lbf ft", "kN m"], "Wb": ["Wb", "mWb"],
    "1": ["", "%"],
}  # fmt: skip


@cache
def exercises() -> dict[str, Exercise]:
    return {
        f"{kind}/{name}": reference_exercise(name, kind)
        for kind in ("exercises", "practice")
        for name in reference_exercise_names(kind)
    }


def figures(number: float, count: int) -> str:
    """A number rounded to so many significant figures, in plain decimal notation where that is readable."""
    if number == 0.0:
        return "0"
    text = f"{number:.{count - 1}e}"
    mantissa, _, exponent = text.partition("e")
    power = int(exponent)
    if not -4 <= power <= 8:
        return text
    return f"{float(text):.{max(0, count - 1 - power)}f}" if float(mantissa) else "0"


def units_of(name: str) -> list[str]:
    return UNITS.get(name) or UNITS.get(quantity(name).unit, [quantity(name).unit])


def answers() -> Iterator[tuple[str, Exercise, str]]:
    for label, exercise in exercises().items():
        for name in exercise.answers:
            yield label, exercise, name


def test_the_catalogue_has_at_least_twenty_slips_each_fully_described() -> None:
    slips = catalogue()
    assert len(slips) >= 20
    for name, entry in slips.items():
        assert entry.kind in KINDS, name
        for words in (entry.title, entry.broken, entry.description, entry.effect):
            assert len(words) > 5, name
        assert slip(name) is entry
    assert len({entry.title for entry in slips.values()}) == len(slips)
    with pytest.raises(KeyError, match="unknown slip"):
        slip("happiness")


def test_every_slip_is_caught_by_at_least_one_exercise() -> None:
    caught = {row.slip.name for _, exercise, name in answers() for row in slipped_answers(exercise)[name]}
    missed = sorted(set(catalogue()) - caught)
    assert not missed, f"no exercise catches {', '.join(missed)}: one of references/practice/ has to"


@pytest.mark.parametrize("count", [3, 4, 5])
def test_a_slipped_answer_names_its_slip_among_the_first_three(count: int) -> None:
    total = found = 0
    missed = []
    for label, exercise, name in answers():
        key = answer_key(exercise, name)
        unit = units_of(key.quantity)[0]
        factor = unit_factor(key.quantity, unit) if unit else 1.0
        for row in key.slipped:
            text = f"{figures(row.value / factor, count)} {unit}".strip()
            verdict = judge_by(key, text)
            if verdict.status == "right":
                continue  # the slip changes the answer by less than the digits given can tell
            total += 1
            first = verdict.findings[:3]
            if any(row.slip in finding.slips for finding in first):
                found += 1
            else:
                missed.append((label, name, row.slip.name, text))
    print(f"figure: slipped answers given to {count} figures: {found} of {total} name their slip among the first three, "
          f"{found / total:.2%}")  # fmt: skip
    assert total > 1500
    assert found / total >= 0.95, missed[:20]


def test_the_slip_is_among_the_first_three_names_even_when_those_that_agree_are_counted_singly() -> None:
    total = found = 0
    for _, exercise, name in answers():
        key = answer_key(exercise, name)
        unit = units_of(key.quantity)[0]
        factor = unit_factor(key.quantity, unit) if unit else 1.0
        for row in key.slipped:
            verdict = judge_by(key, f"{figures(row.value / factor, 5)} {unit}".strip())
            if verdict.status != "right":
                total += 1
                named = [entry for finding in verdict.findings for entry in finding.slips]
                found += row.slip in named[:3]
    print(f"figure: counted singly: {found} of {total} among the first three, {found / total:.2%}")
    assert found / total >= 0.8


def test_a_right_answer_rounded_to_three_figures_in_any_unit_is_never_wrong() -> None:
    total = 0
    wrong = []
    for label, exercise, name in answers():
        key = answer_key(exercise, name)
        for unit in units_of(key.quantity):
            factor = unit_factor(key.quantity, unit) if unit else 1.0
            for count in (3, 4, 6):
                text = f"{figures(key.right / factor, count)} {unit}".strip()
                total += 1
                if not judge_by(key, text).is_right:
                    wrong.append((label, name, text, key.right))
    print(
        f"figure: right answers rounded to 3, 4 and 6 figures in every unit: {len(wrong)} of {total} called anything but right"
    )
    assert total > 2000
    assert wrong == []


def test_a_printed_key_that_agrees_is_right_and_a_known_wrong_one_is_not() -> None:
    for label, exercise, name in answers():
        answer = exercise.answers[name]
        if answer.printed is None:
            continue
        verdict = judge(exercise, name, answer.printed.text)
        assert verdict.is_right != answer.disagrees, (label, name, verdict.status)


def test_an_erratum_is_never_agreed_with_and_its_slip_is_named_where_one_is_known() -> None:
    named = 0
    for name in reference_exercise_names("errata"):
        exercise = reference_exercise(name, "errata")
        for key, answer in exercise.answers.items():
            if not answer.disagrees or answer.printed is None:
                continue
            verdict = judge(exercise, key, answer.printed.text)
            assert not verdict.is_right, name
            assert "printed figure" in verdict.remark
            if answer.explained_by:
                named += 1
                assert answer.explained_by in [s.name for f in verdict.findings[:3] for s in f.slips], name
    assert len(reference_exercise_names("errata")) == 7
    assert named >= 1


# --- practice exercises against arithmetic done here, independently of the solver


worked_by_hand: set[str] = set()


def value(name: str, answer: str) -> float:
    worked_by_hand.add(name)
    return answer_key(exercises()[f"practice/{name}"], answer).right


def test_the_practice_exercises_agree_with_arithmetic_by_hand() -> None:
    warm = 150.0 * (234.5 + 75.0) / (234.5 + 20.0)
    assert value("warm-field-winding", "warm-resistance") == pytest.approx(warm, rel=1e-12)
    assert parse_value("speed", f"{1400 * warm / 150!r} r/min") == pytest.approx(
        value("warm-field-winding", "warm-speed")
        * (math.pi / 30 if _in_rpm("warm-field-winding", "warm-speed") else 1.0),
        rel=1e-12,
    )
    torque = 82.0 * 0.09
    assert value("rope-brake", "torque") == pytest.approx(torque, rel=1e-12)
    output = torque * 1250 * math.pi / 30
    assert value("rope-brake", "efficiency") == pytest.approx(output / (110.0 * 12.4), rel=1e-12)
    speeds = []
    for resistance in (160.0, 280.0):
        current = 120.0 / resistance
        flux = 0.05 + 1.6 * current / (0.9 + current)
        speeds.append((120.0 - 6.0 / flux * 0.8) / flux * 30 / math.pi)
    assert value("froehlich-field-rheostat", "speed-without") == pytest.approx(speeds[0], rel=1e-12)
    assert value("froehlich-field-rheostat", "speed-with") == pytest.approx(speeds[1], rel=1e-12)
    # constant power E I: 205 * 30 = (220 - 1.5 I) I, the smaller root
    power = (220.0 - 15.0) * 30.0
    current = (220.0 - math.sqrt(220.0**2 - 6.0 * power)) / 3.0
    assert value("winder-of-constant-power", "current") == pytest.approx(current, rel=1e-12)
    terminal = 230.0 - 25.0 * 0.4
    assert value("long-cable", "emf") == pytest.approx(terminal - 0.5 * (25.0 - terminal / 115.0), rel=1e-12)
    assert value("long-cable", "power") == pytest.approx(230.0 * 25.0, rel=1e-12)
    lowering = 1000.0 * (240.0 + 10.0 + 2.0) / (240.0 - 10.0 - 2.0)
    assert value("hoist-that-lowers", "speed") == pytest.approx(lowering, rel=1e-12)
    missed = sorted(set(reference_exercise_names("practice")) - worked_by_hand)
    assert not missed, (
        f"nobody worked {', '.join(missed)} of references/practice/ by hand: put the arithmetic into this test"
    )


def _in_rpm(name: str, answer: str) -> bool:
    return answer_key(exercises()[f"practice/{name}"], answer).quantity == "speed_rpm"


# --- the five words


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("11.4 A", "right"),
        ("11.400 A", "right"),
        ("11400 mA", "right"),
        ("11.43 A", ROUNDED),
        ("11.5 A", WRONG),
        ("12.4 A", WRONG),
        ("-11.4 A", "wrong sign"),
        ("11.4", "wrong unit"),
        ("11.4 V", "wrong unit"),
        ("0.0114 A", "wrong unit"),
        ("11 A", WRONG),
        ("1e1 A", WRONG),
    ],
)
def test_each_of_the_five_words_is_said_where_it_belongs(text: str, status: str) -> None:
    verdict = judge(exercises()["practice/rope-brake"], "armature-current", text)
    assert verdict.status == status, verdict


def test_a_text_without_a_number_and_an_answer_not_asked_are_refused() -> None:
    exercise = exercises()["practice/rope-brake"]
    for text in ("", "about ten", "nan A", "1e999 A", "1,5 A"):
        with pytest.raises(ValueError, match="armature-current"):
            judge(exercise, "armature-current", text)
    with pytest.raises(ValueError, match="asks no answer 'happiness'"):
        judge(exercise, "happiness", "1 A")


def test_the_unit_is_wrong_where_the_number_belongs_to_another() -> None:
    verdict = judge(exercises()["practice/rope-brake"], "efficiency", "70.8")
    assert (verdict.status, verdict.remark) == ("wrong unit", "the number is right in %")
    speed = value("hoist-that-lowers", "speed")
    rpm = speed if _in_rpm("hoist-that-lowers", "speed") else speed * 30 / math.pi
    verdict = judge(exercises()["practice/hoist-that-lowers"], "speed", f"{rpm:.1f} rad/s")
    assert verdict.status == "wrong unit"
    assert "r/min" in verdict.remark
