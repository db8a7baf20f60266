"""Data that contradict each other on sight are refused, and the like of them that do not are accepted."""

from __future__ import annotations

import pytest

from shuntref.exercises.solver import solve
from shuntref.exercises.statement import ExerciseError
from shuntref.exercises.statement_file import exercise_from_text

HEAD = 'title = "Test"\nstatement = "A test."\n'
ASKED = '[answer.emf]\nof = "running.back_emf"\n'
PLAIN = """
[state.running]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
armature_current = "40 A"
"""
STILL = PLAIN + '[state.still]\nsupply_voltage = "240 V"\nspeed = "0 r/min"\n'
WINDAGE = 'neglect = ["rotational-loss"]\n'
WATTS = '[losses]\nrotational = "same-watts"\n[shared]\n'
TORQUE = '[losses]\nrotational = "same-torque"\n[shared]\n'
NONE = '[losses]\nrotational = "none"\n'
MAGNET = 'connection = "permanent-magnet"\n'


def refused(text: str) -> str:
    with pytest.raises(ExerciseError) as refusal:
        exercise_from_text(text)
    return str(refusal.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        # (what contradicts, what the message names)
        (HEAD + PLAIN.replace('"40 A"', '"40 A"\naction = "generator"') + ASKED, ["armature_current", "generator"]),
        (HEAD + '[shared]\nsupply_voltage = "240 V"\n' + PLAIN + ASKED, ["[state.running] supply_voltage", "twice"]),
        (HEAD + STILL + 'back_emf = "3 V"\n' + ASKED, ["[state.still] back_emf", "standstill"]),
        ('neglect = ["field-current"]\n' + HEAD + PLAIN + 'field_current = "1 A"\n' + ASKED, ["field_current", "neglected"]),
        (HEAD + PLAIN + 'field_current = "1 A"\nneglect = ["field-current"]\n' + ASKED, ["field_current", "neglected"]),
        (WINDAGE + HEAD + PLAIN + 'rotational_loss = "50 W"\n' + ASKED, ["rotational_loss", "neglected"]),
        (WINDAGE + HEAD + PLAIN + 'loss_torque = "1 N m"\n' + ASKED, ["rotational_loss", "neglected"]),
        (MAGNET + HEAD + PLAIN + 'field_resistance = "100 ohm"\n' + ASKED, ["field_resistance", "permanent-magnet"]),
        (MAGNET + HEAD + PLAIN + 'field_current = "1 A"\n' + ASKED, ["field_current", "permanent-magnet"]),
        (MAGNET + HEAD + '[flux]\nlaw = "proportional"\n' + PLAIN + ASKED, ["[flux] law", "permanent magnet"]),
        (HEAD + PLAIN + 'field_voltage = "200 V"\n' + ASKED, ["field_voltage", "separate"]),
        (HEAD + PLAIN + 'flux_ratio = "0.9"\n' + ASKED, ["flux_ratio", "constant"]),
        (HEAD + PLAIN + 'froehlich_b = "0.5 A"\n' + ASKED, ["froehlich_b", "froehlich"]),
        (HEAD + PLAIN + 'flux_constant = "1 V s/rad/A"\n' + ASKED, ["flux_constant", "proportional"]),
        ('winding = "lap"\n' + HEAD + PLAIN + ASKED, ["winding", "poles"]),
        ('winding = "lap"\n' + HEAD + PLAIN + "poles = 4\nparallel_paths = 4\n" + ASKED, ["parallel_paths", "one of the two"]),
        (HEAD + PLAIN + 'constant_loss = "300 W"\n' + ASKED, ["constant_loss_is"]),
        (HEAD + PLAIN + '[answer.loss]\nof = "running.constant_loss"\n', ["constant_loss_is"]),
        (HEAD + NONE + PLAIN + 'loss_torque = "1 N m"\n' + ASKED, ["[losses] rotational", "none"]),
        (HEAD + WATTS + 'loss_torque = "1 N m"\n' + PLAIN + ASKED, ["same-watts", "loss_torque"]),
        (HEAD + TORQUE + 'rotational_loss = "90 W"\n' + PLAIN + ASKED, ["same-torque", "rotational_loss"]),
        (HEAD + PLAIN + "sections = 3\n" + ASKED, ["sections", "[starter]"]),
        (HEAD + PLAIN + "studs = 3\n" + ASKED, ["studs", "[starter]"]),
    ],
)  # fmt: skip
def test_a_contradiction_is_refused_by_name(text: str, words: list[str]) -> None:
    message = refused(text)
    for word in words:
        assert word in message, message


@pytest.mark.parametrize(
    "text",
    [
        # the near neighbours of the refusals above
        HEAD + PLAIN.replace('"40 A"', '"0 A"\naction = "generator"') + ASKED,
        HEAD + '[shared]\nsupply_voltage = "250 V"\n' + PLAIN + ASKED,
        HEAD + STILL + 'back_emf = "0 V"\n' + ASKED,
        'neglect = ["field-current"]\n' + HEAD + PLAIN + 'field_current = "0 A"\n' + ASKED,
        WINDAGE + HEAD + PLAIN + 'field_current = "1 A"\n' + ASKED,
        'connection = "separate"\n' + HEAD + PLAIN + 'field_voltage = "200 V"\n' + ASKED,
        'winding = "lap"\n' + HEAD + PLAIN + "poles = 4\n" + ASKED,
        'winding = "lap"\n' + HEAD + PLAIN + "conductors = 400\n" + ASKED,
        HEAD + '[flux]\nlaw = "proportional"\n' + PLAIN + 'flux_constant = "1 V s/rad/A"\n' + ASKED,
        HEAD + '[losses]\nconstant_loss_is = ["rotational_loss"]\n' + PLAIN + 'constant_loss = "300 W"\n' + ASKED,
        HEAD + '[losses]\nrotational = "same-torque"\n[shared]\nloss_torque = "1 N m"\n' + PLAIN + ASKED,
        HEAD + '[losses]\nrotational = "same-watts"\n[shared]\nrotational_loss = "90 W"\n' + PLAIN + ASKED,
    ],
)  # fmt: skip
def test_what_does_not_contradict_is_accepted(text: str) -> None:
    assert exercise_from_text(text).answers


@pytest.mark.parametrize(
    ("text", "emf"),
    [
        # E = U - R I, worked by hand
        (HEAD + PLAIN + ASKED, 240 - 0.4 * 40),
        (HEAD + PLAIN.replace('"40 A"', '"-40 A"\naction = "generator"') + ASKED, 240 + 0.4 * 40),
        (MAGNET + HEAD + PLAIN + ASKED, 240 - 0.4 * 40),
        (HEAD + PLAIN + 'field_voltage = "240 V"\n' + ASKED, 240 - 0.4 * 40),
    ],
)  # fmt: skip
def test_what_is_accepted_is_solved(text: str, emf: float) -> None:
    assert solve(exercise_from_text(text)).value("running.back_emf") == pytest.approx(emf, rel=1e-12)
