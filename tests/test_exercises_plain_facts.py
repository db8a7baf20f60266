"""Facts of exercises, each by hand: what the other root changes, whose drop is ignored, what the model checks again."""

from __future__ import annotations

import math
import re

import mpmath
import pytest
import sympy as sp

from shuntref.cautions import CAUTIONS
from shuntref.exercises import evidence
from shuntref.exercises.consistency import ConflictingData
from shuntref.exercises.curve import Curve, CurveError
from shuntref.exercises.equation import _evaluated
from shuntref.exercises.inversion import Form, branches, sign
from shuntref.exercises.library import reference_exercise, reference_exercise_names, source_line
from shuntref.exercises.model_route import Agreement, model_route
from shuntref.exercises.rendering import render
from shuntref.exercises.run import Run
from shuntref.exercises.slip_answers import slipped_answers
from shuntref.exercises.slips import catalogue
from shuntref.exercises.solver import solve
from shuntref.exercises.statement import Exercise, ExerciseError, Ref
from shuntref.exercises.statement_file import exercise_from_text
from shuntref.exercises.system import build_system
from shuntref.theory.laws import all_laws

TWO = """
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
[flux]
law = "constant"
[state.light]
label = "nearly idle"
armature_current = "40 A"
speed = "1000 r/min"
[state.heavy]
armature_current = "60 A"
"""
#: 40 A of 42 A to the armature, 224 V behind 0.4 ohm
FED = """
[state.running]
supply_voltage = "240 V"
field_resistance = "120 ohm"
armature_resistance = "0.4 ohm"
line_current = "42 A"
"""
PLAIN = """
[state.running]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
armature_current = "40 A"
"""
#: 1.5 I^2 - 220 I + 6150 = 0: 37.587 A and 109.08 A
QUADRATIC = """
[state.running]
supply_voltage = "220 V"
armature_resistance = "1.5 ohm"
electromagnetic_power = "6150 W"
"""
CURVE = """
[flux]
law = "table"
at_speed = "1000 r/min"
field_current = "{currents}"
back_emf = "{emfs}"
join = "linear"
"""
#: its drop left out before, but not after
IDLE = 'surplus = ["light.armature_current"]\n' + TWO.replace("label", 'neglect = ["armature-drop"]\nlabel')


def exercise(text: str) -> Exercise:
    return exercise_from_text('title = "Test"\nstatement = "A test."\n' + text)


def slipped(text: str, slip: str) -> list[float]:
    (rows,) = slipped_answers(exercise(text)).values()
    return [row.value for row in rows if row.slip.name == slip]


@pytest.mark.parametrize("precise", [False, True])
def test_the_root_of_a_negative_number_is_no_value(precise: bool) -> None:
    x = sp.Symbol("x")
    number = mpmath.mpf if precise else float
    assert _evaluated(sp.sqrt(x), ("x",), precise, [number(4)]) == 2
    for expression in (sp.sqrt(x), -sp.sqrt(x), 1 / sp.sqrt(x)):
        assert _evaluated(expression, ("x",), precise, [number(-4)]) is None


def test_what_the_other_root_leaves_as_it_is_is_not_said_of_it() -> None:
    # 1.5 I^2 - 220 I + 6150 = 0; the field's 2 A are not touched by it
    text = (
        QUADRATIC
        + """field_resistance = "110 ohm"
[answer.armature]
of = "armature_current"
[answer.field]
of = "field_current"
"""
    )
    page = " ".join(render(solve(exercise(text))).split())
    assert re.search(r"The other root, I_a = 109\.08 A, would give: armature 109\.\d* A\.", page), page


def test_a_loss_that_contradicts_the_emf_is_told_though_its_current_might_flow_either_way() -> None:
    # 640 W in 0.4 ohm are 40 A, so 224 V
    text = '[state.running]\nsupply_voltage = "240.0 V"\narmature_resistance = "0.400 ohm"\narmature_copper_loss = "640.0 W"\n'
    asked = '[answer.power]\nof = "electromagnetic_power"\n'
    assert solve(exercise(text + asked)).answers["power"].value == pytest.approx(224 * 40)
    for other in ('back_emf = "220.0 V"\n', 'speed = "100.0 rad/s"\nelectromagnetic_torque = "80.00 N m"\n'):
        with pytest.raises(ConflictingData):
            solve(exercise(text + other + asked))


@pytest.mark.parametrize("turns", ["1000 r/min", "5 r/min"])
def test_the_model_is_asked_about_slow_motors_too(turns: str) -> None:
    text = (
        PLAIN
        + f"""speed = "{turns}"
[answer.torque]
of = "electromagnetic_torque"
"""
    )
    checked = {agreement.ref.quantity for agreement in model_route(solve(exercise(text)))}
    assert "speed" in checked


def test_what_is_neglected_in_a_state_is_said_of_that_state() -> None:
    page = " ".join(render(solve(exercise(IDLE + '[answer.speed]\nof = "heavy.speed"\n'))).split())
    assert "Neglected, nearly idle: the drop in the armature." in page
    one = """
[state.running]
neglect = ["armature-drop"]
supply_voltage = "240 V"
armature_current = "40 A"
[answer.power]
of = "electromagnetic_power"
"""
    assert "Neglected: the drop in the armature." in " ".join(render(solve(exercise(one))).split())


def test_greatest_efficiency_is_said_of_its_state() -> None:
    page = render(solve(reference_exercise("theraja-maximum-efficiency")))
    assert "\n  greatest efficiency: the machine runs at its greatest efficiency.\n" in page
    one = """
[state.running]
condition = "maximum-efficiency"
armature_resistance = "0.4 ohm"
constant_loss = "640 W"
[losses]
constant_loss_is = ["rotational_loss"]
[answer.armature]
of = "armature_current"
"""
    solution = solve(exercise(one))  # 0.4 I^2 = 640
    assert solution.answers["armature"].value == pytest.approx(40.0)
    assert "\n  The machine runs at its greatest efficiency.\n" in render(solution)


def test_who_takes_a_neglected_drop_into_account_has_not_ignored_it() -> None:
    # E is 240 V before, as told, and 216 V after; whoever takes 224 V for it has ignored nothing
    text = IDLE + '[answer.speed]\nof = "heavy.speed"\n'
    assert solve(exercise(text)).answers["speed"].value == pytest.approx(900)
    assert slipped(text, "armature-drop-ignored") == [pytest.approx(1000)]


def test_an_answer_in_the_other_horsepower() -> None:
    # 224 V and 40 A are 8960 W; 550 ft lbf/s are 745.69987... W, and 75 kgf m/s are 735.49875 W
    text = (
        PLAIN
        + """[answer.power]
of = "electromagnetic_power"
value = "12.02 hp"
"""
    )
    found = slipped(text, "horsepower-convention")
    assert any(value == pytest.approx(8960 * 745.6998715822702 / 735.49875, rel=1e-12) for value in found), found


def test_the_efficiency_without_the_field() -> None:
    # 240 V x 42 A in, of which 2 A to the field; 640 W in the armature and 580 W else: 8380 W out
    text = (
        FED
        + """rotational_loss = "580 W"
[answer.share]
of = "efficiency"
"""
    )
    assert solve(exercise(text)).answers["share"].value == pytest.approx(8380 / 10080)
    found = slipped(text, "field-copper-left-out")
    assert found == [pytest.approx(8380 / 9600)]


def test_developed_and_shaft_power_taken_for_each_other() -> None:
    text = """
surplus = ["running.electromagnetic_power"]
[state.running]
input_power = "10080 W"
electromagnetic_power = "8960 W"
output_power = "8 kW"
[answer.share]
of = "efficiency"
"""
    assert solve(exercise(text)).answers["share"].value == pytest.approx(8000 / 10080)
    assert slipped(text, "shaft-for-developed") == [pytest.approx(8960 / 10080)]


@pytest.mark.parametrize("ratio", ["1.5", "2", "0.5"])
def test_a_ratio_upside_down_takes_the_place_of_the_ratio(ratio: str) -> None:
    one = exercise(TWO.replace('armature_current = "60 A"\n', "") + f"""
[[link]]
of = "heavy.armature_current"
to = "light.armature_current"
ratio = "{ratio}"
[answer.emf]
of = "heavy.back_emf"
""")  # fmt: skip
    (wrong,) = catalogue()["ratio-upside-down"].apply(one)
    (link,) = wrong.exercise.links
    assert link.ratio.value == pytest.approx(1 / float(ratio))


@pytest.mark.parametrize(("take", "amperes"), [("smaller", 37.587), ("larger", 109.08)])
def test_the_root_that_the_exercise_asks_for_is_taken(take: str, amperes: float) -> None:
    # 1.5 I^2 - 220 I + 6150 = 0; either asked for by what it leaves to the back EMF
    other = {"smaller": "larger", "larger": "smaller"}[take]
    for of, rule in (("armature_current", take), ("back_emf", other)):
        text = (
            QUADRATIC
            + f"""[[root]]
of = "{of}"
take = "{rule}"
[answer.armature]
of = "armature_current"
"""
        )
        assert solve(exercise(text)).answers["armature"].value == pytest.approx(amperes, abs=0.005)


def test_a_root_asked_for_by_what_is_the_same_with_both_is_the_usual_one() -> None:
    text = (
        QUADRATIC
        + """field_resistance = "110 ohm"
[[root]]
of = "field_current"
take = "larger"
[answer.line]
of = "line_current"
"""
    )
    assert solve(exercise(text)).answers["line"].value == pytest.approx(2.0 + 37.587, abs=0.0005)


def test_the_speed_without_any_load() -> None:
    text = """
[state.running]
supply_voltage = "120 V"
k_phi = "0.75 V s/rad"
[answer.speed]
of = "ideal_no_load_speed"
"""
    assert solve(exercise(text)).answers["speed"].value == pytest.approx(160.0)


def test_a_stated_ratio_stands_in_the_formula_as_its_number() -> None:
    text = (
        TWO.replace('armature_current = "60 A"\n', "")
        + """
[[link]]
of = "heavy.electromagnetic_torque"
to = "light.electromagnetic_torque"
ratio = "1.5"
[answer.speed]
of = "heavy.speed"
"""
    )
    page = render(solve(exercise(text)))
    assert "T_e2 = T_e1·1.5" in page
    assert "T_e1 = kPhi·I_a1" in page


def test_a_law_of_the_third_degree_has_its_real_root() -> None:
    form = Form(all_laws()["torque"], sign("speed") ** 3 - sign("load_torque"))
    (root,) = branches(form, "speed")
    assert root.subs(sign("load_torque"), 27) == 3


def test_an_emf_beyond_a_measured_curve_is_told_with_both_ends() -> None:
    curve = Curve([0.0, 1.0, 2.0], [6.0, 80.0, 150.0])
    with pytest.raises(CurveError, match=r"was measured from 6 to 150 V; 151 V is outside"):
        curve.field_current(151.0)


def test_evidence_of_an_exercise_that_the_model_does_not_bear_out_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    of = reference_exercise(next(iter(reference_exercise_names())))
    wrong = Agreement(Ref("running", "speed"), 100.0, 101.0)
    monkeypatch.setattr(evidence, "model_route", lambda solution: [wrong])
    assert [check.passed for check in evidence._of_exercise(of, "g") if "numeric model" in check.group] == [False]


def test_a_quotient_has_no_base_to_be_mistaken() -> None:
    text = TWO + '[answer.share]\nof = "heavy.speed"\nover = "light.speed"\n'
    assert slipped(text, "regulation-on-the-wrong-base") == []
    assert slipped(text, "quotient-upside-down") == [pytest.approx(224 / 216)]


def test_a_last_digit_that_does_not_fit_is_noted() -> None:
    # 240 V less 16 V, the resistance known to 0.05 ohm: a hundred-thousandth of a volt is no contradiction, but not nothing
    text = (
        PLAIN
        + """back_emf = "224.00001 V"
[answer.power]
of = "electromagnetic_power"
"""
    )
    assert any("against" in note for note in solve(exercise(text)).notes)
    assert not any("against" in note for note in solve(exercise(text.replace("224.00001", "224"))).notes)


@pytest.mark.parametrize(
    ("volts", "fits"), [("1e12 V", True), ("1.1e12 V", False), ("1e-12 V", True), ("9e-13 V", False)]
)
def test_a_datum_is_of_a_size_that_a_machine_can_have(volts: str, fits: bool) -> None:
    text = f'[state.running]\nsupply_voltage = "{volts}"\nback_emf = "0 V"\narmature_resistance = "0.4 ohm"\n'
    text += '[answer.current]\nof = "armature_current"\n'
    if fits:
        assert exercise(text).states["running"].entries["supply_voltage"].value == float(volts.split()[0])
    else:
        with pytest.raises(ExerciseError, match="supply_voltage"):
            exercise(text)


def test_the_rounding_of_each_datum_moves_the_root_of_a_quadratic() -> None:
    text = (
        QUADRATIC.replace("6150 W", "6.15 kW")
        + """[answer.armature]
of = "armature_current"
"""
    )

    def current(volts: float, ohms: float, watts: float) -> float:
        return (volts - math.sqrt(volts**2 - 4 * ohms * watts)) / (2 * ohms)

    run = Run(build_system(exercise(text), None), False, False, {})
    run.go()
    found = run.consistency.slack(Ref("running", "armature_current"))
    here = current(220.0, 1.5, 6150.0)
    moved = (current(220.5, 1.5, 6150.0), current(220.0, 1.55, 6150.0), current(220.0, 1.5, 6155.0))
    assert found == pytest.approx(sum(abs(other - here) for other in moved), rel=1e-6)


def test_the_cautions_belong_to_an_open_field_and_not_to_a_field_current() -> None:
    text = (
        'surplus = ["running.field_current"]\n'
        + PLAIN
        + """field_current = "{} A"
[answer.emf]
of = "back_emf"
"""
    )
    assert CAUTIONS[0] not in render(solve(exercise(text.format(2))))
    assert CAUTIONS[0] in render(solve(exercise(text.format(0))))


def test_a_loss_that_turns_out_to_be_nothing_is_worked_out_all_the_same() -> None:
    text = """
[state.running]
electromagnetic_power = "8 kW"
output_power = "8 kW"
[answer.loss]
of = "rotational_loss"
"""
    solution = solve(exercise(text))
    assert solution.answers["loss"].value == 0
    assert "8000 W - 8000 W" in render(solution)


@pytest.mark.parametrize(("percent", "turned"), [("0 %", []), ("5 %", [0.95]), ("100 %", [])])
def test_only_a_part_of_the_flux_can_be_taken_for_the_other_part(percent: str, turned: list[float]) -> None:
    one = exercise(TWO + f'reaction_flux_loss = "{percent}"\n[answer.speed]\nof = "heavy.speed"\n')
    found = [
        wrong.exercise.states["heavy"].entries["reaction_flux_loss"].value
        for wrong in catalogue()["flux-left-for-flux-lost"].apply(one)
    ]
    assert found == pytest.approx(turned)


def test_the_heat_in_rheostats_that_are_not_there_is_not_worked_out() -> None:
    text = (
        FED
        + """[answer.loss]
of = "copper_loss"
"""
    )
    solution = solve(exercise(text))
    assert solution.answers["loss"].value == pytest.approx(640 + 480)
    page = render(solution)
    assert " 0 W" not in page
    assert "P_cu" in page
    assert len(re.findall(r"^ *\d+\. ", page, re.M)) == 5  # I_f, I_a, the losses of either winding, and their sum


@pytest.mark.parametrize(
    ("currents", "emfs", "slipped_emfs"),
    [
        ("0, 1, 2 A", "6, 80, 150 V", [(0.0, 80.0, 150.0)]),
        ("0, 1, 2 A", "0, 80, 150 V", []),
        ("0.5, 1, 2 A", "46, 80, 150 V", []),
    ],
)
def test_only_a_curve_that_begins_without_current_shows_a_remanence_to_be_overlooked(
    currents: str, emfs: str, slipped_emfs: list[tuple[float, ...]]
) -> None:
    text = (
        CURVE.format(currents=currents, emfs=emfs)
        + """[state.running]
supply_voltage = "240 V"
field_resistance = "120 ohm"
armature_resistance = "0.4 ohm"
armature_current = "40 A"
[answer.speed]
of = "speed"
"""
    )
    found = [wrong.exercise.flux.back_emf for wrong in catalogue()["remanence-ignored"].apply(exercise(text))]
    assert found == slipped_emfs


def test_the_line_of_a_source_ends_with_its_note_where_there_is_one() -> None:
    noted = 0
    for name in reference_exercise_names():
        of = reference_exercise(name)
        line = source_line(of)
        assert line == line.strip()
        if of.source is not None:
            assert line.endswith(of.source.note if of.source.note else ".")
            noted += bool(of.source.note)
    assert noted


def test_the_winding_found_in_one_state_is_that_of_the_other() -> None:
    text = """
winding = "wave"
[shared]
poles = 4
[state.before]
flux_per_pole = "20 mWb"
speed = "1000 r/min"
back_emf = "224 V"
[state.after]
flux_per_pole = "15 mWb"
back_emf = "216 V"
[answer.speed]
of = "after.speed"
"""
    assert solve(exercise(text)).answers["speed"].value == pytest.approx(1000 * (216 / 224) * (20 / 15))


@pytest.mark.parametrize(("amperes", "ways"), [(0, 1), (1, 2)])
def test_no_straight_line_is_drawn_through_a_point_without_a_field(amperes: float, ways: int) -> None:
    text = (
        CURVE.format(currents="0, 1, 2 A", emfs="6, 80, 150 V")
        + f"""[state.running]
field_current = "{amperes} A"
speed = "1000 r/min"
[answer.emf]
of = "back_emf"
"""
    )
    assert len(list(catalogue()["linear-flux-where-the-curve-saturates"].apply(exercise(text)))) == ways
