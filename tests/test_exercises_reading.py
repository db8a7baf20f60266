"""Every key of an exercise file ends where it belongs, limits are where they are said to be, the setting is put in words."""

from __future__ import annotations

import pytest

from shuntref.exercises.inversion import branches, law_form
from shuntref.exercises.rendering import render
from shuntref.exercises.setting_words import given_lines, setting_lines
from shuntref.exercises.solver import solve
from shuntref.exercises.statement import (
    Answer,
    Exercise,
    ExerciseError,
    LoadLink,
    Provenance,
    RatioLink,
    Ref,
    RootRule,
    SameLink,
    Starter,
    State,
)
from shuntref.exercises.statement_file import exercise_from_text, parse_reference
from shuntref.exercises.writing import LatexWriter, TextWriter
from shuntref.theory.laws import all_laws

HEAD = 'title = "Test"\nstatement = "A test."\n'
RICH = """
title = "Everything"
statement = "All keys at once."
assumptions = "None."
note = "A note."
label = "E-1"
horsepower = "metric"
connection = "separate"
winding = "lap"
neglect = ["rotational-loss"]
surplus = ["before.speed", "field_voltage"]

[shared]
supply_voltage = "240 V"
field_voltage = "110 V"
armature_resistance = "unknown"
poles = 4

[flux]
law = "readings"
at_speed = "1000 r/min"
[[flux.reading]]
field_current = "2 A"
back_emf = "200 V"
states = ["before"]
note = "at 10 A"
[[flux.reading]]
field_current = "1 A"
back_emf = "150 V"

[state.before]
speed = "1000 r/min"
output_power = "2 hp"

[state.after-that]
label = "later on"
action = "generator"
neglect = ["armature-drop"]
condition = "maximum-efficiency"
speed = "100 rad/s"

[state.third]
speed = "unknown"

[[link]]
same = "speed_rpm"
states = ["before", "third"]
because = "a synchronous mate"
[[link]]
load = "proportional-to-speed"
torque = "load_torque"
[[link]]
of = ["before.output_power", "third.output_power"]
to = "after-that.input_power"
ratio = "unknown"
[[link]]
of = "third.armature_current"
to = "before.armature_current"
ratio = "1.5"

[losses]
constant_loss_is = ["rotational_loss", "field_copper_loss"]
rotational = "same-torque"
stray_share = "1 %"
stray_of = "output_power"

[starter]
method = "keep-limits"
limits_in = "line"
upper_current = "60 A"
lower_from = "before"
whole = "nearest"

[[root]]
of = "third.armature_current"
take = "larger"

[answer.one]
of = "third.speed"
value = "900 r/min"
rounding = "up"
step = "50 r/min"
printed_as = "some nine hundred"
label = "third speed"
[answer.two]
of = "after-that.speed"
value = "90 rad/s"
tolerance = "1 rad/s"
reason = "Read off."
disagrees = true
explained_by = "two-pi-forgotten"
[answer.three]
of = "starter.section_resistance[2]"
value = "1.5 ohm"
relative_tolerance = "2 %"
reason = "Chained."
[answer.four]
of = "third.speed"
over = "before.speed"
[answer.five]
of = "third.speed"
change_from = "before.speed"
[answer.six]
of = "third.speed"
decrease_from = "before.speed"
value = "-3 %"
[answer.seven]
of = "armature_resistance"
"""


def test_every_key_ends_where_it_belongs() -> None:
    # this one need not make sense as a problem; it is read and not solved
    from shuntref.exercises import statement_file as reader

    sense, reader.check_sense = reader.check_sense, lambda exercise: None  # type: ignore[attr-defined]
    try:
        read = exercise_from_text(RICH, name="rich")
    finally:
        reader.check_sense = sense  # type: ignore[attr-defined]
    assert (read.title, read.statement, read.assumptions, read.note) == (
        "Everything",
        "All keys at once.",
        "None.",
        "A note.",
    )
    assert (read.label, read.name, read.horsepower, read.connection, read.winding) == (
        "E-1",
        "rich",
        "metric",
        "separate",
        "lap",
    )
    assert (read.neglect, read.invented, read.source) == (frozenset({"rotational-loss"}), False, None)
    assert read.surplus == (Ref("before", "speed"), Ref("", "field_voltage"))
    assert {name: entry and entry.value for name, entry in read.shared.items()} == {
        "supply_voltage": 240.0, "field_voltage": 110.0, "armature_resistance": None, "poles": 4.0,
    }  # fmt: skip
    flux = read.flux
    assert (flux.law, flux.at_speed and flux.at_speed.text) == ("readings", "1000 r/min")
    assert [(r.field_current.value, r.back_emf.value, r.states, r.note) for r in flux.readings] == [
        (2.0, 200.0, ("before",), "at 10 A"),
        (1.0, 150.0, ("before", "after-that", "third"), ""),
    ]
    before, after, third = read.states.values()
    assert (before.name, before.label, before.action, before.condition, before.neglect) == (
        "before", "before", "motor", "", frozenset(),
    )  # fmt: skip
    assert (after.name, after.label, after.action, after.condition, after.neglect) == (
        "after-that", "later on", "generator", "maximum-efficiency", frozenset({"armature-drop"}),
    )  # fmt: skip
    assert {name: entry and entry.value for name, entry in before.entries.items()} == {
        "speed_rpm": 1000.0, "output_power": 2 * 735.49875,
    }  # fmt: skip
    assert {name: entry and entry.text for name, entry in after.entries.items()} == {"speed": "100 rad/s"}
    assert third.entries == {"speed": None}
    assert read.links == (
        SameLink("speed", ("before", "third"), "a synchronous mate"),
        LoadLink("proportional-to-speed", "load_torque", ("before", "after-that", "third"), ""),
        RatioLink(
            (Ref("before", "output_power"), Ref("third", "output_power")), Ref("after-that", "input_power"), None, ""
        ),
        read.links[3],
    )
    ratio = read.links[3]
    assert isinstance(ratio, RatioLink)
    assert (ratio.of, ratio.to) == ((Ref("third", "armature_current"),), Ref("before", "armature_current"))
    assert ratio.ratio is not None
    assert ratio.ratio.value == 1.5
    losses = read.losses
    assert (losses.constant_loss_is, losses.rotational, losses.stray_of) == (
        ("rotational_loss", "field_copper_loss"), "same-torque", "output_power",
    )  # fmt: skip
    assert losses.stray_share is not None
    assert losses.stray_share.value == 0.01
    starter = read.starter
    assert starter is not None
    assert (starter.method, starter.limits_in, starter.whole, starter.sections) == ("keep-limits", "line", "nearest", 0)
    assert (starter.upper_current and starter.upper_current.value, starter.upper_from) == (60.0, "")
    assert (starter.lower_current, starter.lower_from) == (None, "before")
    assert read.roots == (RootRule(Ref("third", "armature_current"), "larger"),)


def test_every_answer_keeps_its_rule() -> None:
    from shuntref.exercises import statement_file as reader

    sense, reader.check_sense = reader.check_sense, lambda exercise: None  # type: ignore[attr-defined]
    try:
        answers = exercise_from_text(RICH).answers
    finally:
        reader.check_sense = sense  # type: ignore[attr-defined]
    one, two, three, four, five, six, seven = answers.values()
    assert (one.of, one.kind, one.against, one.label) == (Ref("third", "speed_rpm"), "value", None, "third speed")
    assert (one.rule.rounding, one.rule.step, one.rule.tolerance, one.printed_as) == (
        "up",
        50.0,
        None,
        "some nine hundred",
    )
    assert (two.of, two.rule.tolerance, two.rule.reason, two.disagrees) == (
        Ref("after-that", "speed"),
        1.0,
        "Read off.",
        True,
    )
    assert two.explained_by == "two-pi-forgotten"
    assert (three.of, three.rule.relative_tolerance, three.rule.tolerance) == (
        Ref("starter", "section_resistance", 2),
        0.02,
        None,
    )
    assert [(a.kind, a.of, a.against) for a in (four, five, six)] == [
        (kind, Ref("third", "speed"), Ref("before", "speed")) for kind in ("quotient", "change", "decrease")
    ]
    assert six.printed is not None
    assert six.printed.value == pytest.approx(-0.03)
    assert (seven.of, seven.printed, seven.label, seven.disagrees) == (
        Ref("", "armature_resistance"),
        None,
        "seven",
        False,
    )


def _many(states: int, answers: int, links: int) -> str:
    text = HEAD + "".join(f'[state.s{k}]\nsupply_voltage = "240 V"\nback_emf = "224 V"\n' for k in range(states))
    text += "".join('[[link]]\nsame = "armature_resistance"\nstates = ["s0", "s1"]\n' for _ in range(links))
    return text + "".join(f'[answer.a{k}]\nof = "s0.armature_drop"\n' for k in range(answers))


@pytest.mark.parametrize(
    ("states", "answers", "links", "refused"),
    [(40, 1, 0, ""), (41, 1, 0, "41 states; at most 40"), (2, 200, 0, ""), (2, 201, 0, "201 answers; at most 200"),
     (2, 1, 200, ""), (2, 1, 201, "201 links; at most 200")],
)  # fmt: skip
def test_an_exercise_has_so_many_states_answers_and_links_at_most(
    states: int, answers: int, links: int, refused: str
) -> None:
    text = _many(states, answers, links)
    if refused:
        with pytest.raises(ExerciseError, match=refused):
            exercise_from_text(text)
    else:
        assert len(exercise_from_text(text).states) == states


@pytest.mark.parametrize(
    ("law", "refused"),
    [
        ('field_current = "0, 1 A"\nback_emf = "5, 90 V"', ""),
        ('field_current = "1 A"\nback_emf = "5 V"', "from 2 to 1000 points, not 1"),
        (
            'field_current = "0, 1, 1 A"\nback_emf = "5, 90, 91 V"',
            r"value 3 \(1\) is not above the one before it \(1\)",
        ),
        ('field_current = "-1, 1 A"\nback_emf = "5, 90 V"', r"first value \(-1\) is negative"),
        ('field_current = "0, 1 A"\nback_emf = "90, 5 V"', r"value 2 \(5\) is not above the one before it \(90\)"),
        ('field_current = "0, 1, 2 A"\nback_emf = "5, 90 V"', "2 values for 3 field currents"),
        ('field_current = "0:2:1000 A"\nback_emf = "5:90:1000 V"', ""),
        ('field_current = "0:2:1001 A"\nback_emf = "5:90:1001 V"', "from 2 to 1000 points, not 1001"),
    ],
)
def test_a_table_rises_and_has_from_two_to_a_thousand_points(law: str, refused: str) -> None:
    text = (
        HEAD
        + f'[flux]\nlaw = "table"\nat_speed = "1000 r/min"\njoin = "linear"\n{law}\n'
        + ('[state.running]\nfield_current = "1 A"\n[answer.emf]\nof = "curve_emf"\n')
    )
    if refused:
        with pytest.raises(ExerciseError, match=refused):
            exercise_from_text(text)
    else:
        assert exercise_from_text(text).flux.law == "table"


def test_a_reference_finds_its_state() -> None:
    where = "[answer.x]"
    assert parse_reference("speed", ["only"], where) == Ref("only", "speed")
    assert parse_reference("speed", ["only", "starter"], where) == Ref("only", "speed")
    assert parse_reference("sections", ["starter"], where) == Ref("starter", "sections")
    assert parse_reference("speed", ["a", "b"], where, single=False) == Ref("", "speed")
    assert parse_reference("speed", ["a", "b"], where, shared={"speed"}) == Ref("", "speed")
    assert parse_reference("starter.section_resistance[12]", ["starter"], where) == Ref(
        "starter", "section_resistance", 12
    )
    for text, words in (
        ("speed", r"'speed' of which state\? write for example 'b.speed'"),
        ("c.speed", "there is no state 'c'; there are a, b"),
        ("a.speed[1]", "only the starter's quantities are counted"),
        ("a.sped", "unknown quantity 'sped'"),
        ("a speed", "is not a reference"),
    ):
        with pytest.raises(ExerciseError, match=words):
            parse_reference(text, ["a", "b"], where)
    with pytest.raises(ExerciseError, match="there is no state that could have 'speed'"):
        parse_reference("speed", [], where)


TWO = """
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
[flux]
law = "constant"
[state.before]
armature_current = "40 A"
speed = "1000 r/min"
[state.after]
label = "later"
{after}
{tables}
[answer.speed]
of = "after.speed"
"""
SIXTY = 'armature_current = "60 A"'


@pytest.mark.parametrize(
    ("top", "after", "tables", "sentence"),
    [
        ("", SIXTY, "", "The flux is the same in all states, unless a ratio is given."),
        ("", "", '[[link]]\nsame = "armature_current"\n', "The armature current is the same."),
        ("", "", '[[link]]\nsame = "electromagnetic_torque"\nbecause = "a hoist"\n',
         "The electromagnetic torque is the same (a hoist)."),
        ("", "", '[[link]]\nload = "constant"\ntorque = "electromagnetic_torque"\n',
         "The electromagnetic torque stays the same."),
        ("", "", '[[link]]\nload = "proportional-to-speed-squared"\ntorque = "electromagnetic_torque"\nbecause = "a fan"\n',
         "The electromagnetic torque goes as the square of the speed (a fan)."),
        ("", "", '[[link]]\nload = "proportional-to-speed"\ntorque = "electromagnetic_torque"\n',
         "The electromagnetic torque goes as the speed."),
        ("", "", '[[link]]\nload = "constant-power"\ntorque = "electromagnetic_torque"\n',
         "The electromagnetic torque times the speed stays the same."),
        ("", "", '[[link]]\nof = "after.armature_current"\nto = "before.armature_current"\nratio = "1.5"\n',
         "The armature current (later) is 1.5 times the armature current (before)."),
        ("", SIXTY + '\nneglect = ["armature-drop"]\n', "", ""),
        ('neglect = ["field-current"]\n', SIXTY, "", "Neglected: the field current beside the line current."),
        ('connection = "permanent-magnet"\n', SIXTY, "", "Permanent-magnet field."),
        ('connection = "separate"\n', SIXTY, "", "The field has a supply of its own."),
        ("", SIXTY, '[losses]\nrotational = "same-watts"\n', "The rotational loss in watts is the same in all states."),
        ("", SIXTY, '[losses]\nrotational = "same-torque"\n', "The torque of the rotational loss is the same in all states."),
        ("", SIXTY, '[losses]\nrotational = "none"\n', "There is no rotational loss."),
        ("", SIXTY, '[losses]\nstray_share = "1 %"\nstray_of = "output_power"\n', "The stray loss is 1 % of the output power."),
        ("", SIXTY, "", "Not mentioned, so taken as nothing: brush drop."),
    ],
)  # fmt: skip
def test_what_is_said_of_the_states_is_put_in_words(top: str, after: str, tables: str, sentence: str) -> None:
    solution = solve(exercise_from_text(HEAD + top + TWO.format(after=after, tables=tables)), tolerant=True)
    lines = setting_lines(solution, TextWriter(solution.exercise))
    if sentence:
        assert sentence in lines
    else:
        assert "Neglected, later: the drop in the armature." in lines
    assert len(set(lines)) == len(lines)


def test_what_cancels_out_is_said_to_be_taken_as_one() -> None:
    text = HEAD + TWO.format(after='armature_current = "60 A"', tables="").replace('speed = "1000 r/min"\n', "")
    text = text.replace('of = "after.speed"', 'of = "after.speed"\nover = "before.speed"')
    solution = solve(exercise_from_text(text))
    assert solution.answers["speed"].value == pytest.approx(216 / 224)
    for writer, symbol in ((TextWriter(solution.exercise), "kPhi"), (LatexWriter(solution.exercise), r"$k\Phi$")):
        assert any(
            line.startswith(f"{symbol} is not determined, but it cancels out of every answer; 1 V s/rad is taken")
            for line in setting_lines(solution, writer)
        )


def test_what_is_given_stands_under_its_state() -> None:
    solution = solve(exercise_from_text(HEAD + TWO.format(after=SIXTY, tables="")))
    assert given_lines(solution, TextWriter(solution.exercise)) == (
        ("all states", ("U = 240 V", "R_a = 0.4 ohm")),
        ("before", ("I_a1 = 40 A", "n_1 = 1000 r/min")),
        ("later", ("I_a2 = 60 A",)),
    )
    alone = solve(exercise_from_text(HEAD + '[state.running]\nback_emf = "224 V"\narmature_current = "40 A"\n'
                                            '[answer.power]\nof = "electromagnetic_power"\n'))  # fmt: skip
    assert given_lines(alone, TextWriter(alone.exercise)) == (("", ("E = 224 V", "I_a = 40 A")),)


@pytest.mark.parametrize(
    ("law", "data", "said"),
    [
        ("constant", 'k_phi = "1 V s/rad"', False),
        ("proportional", 'flux_constant = "0.5 V s/(rad A)"\nfield_current = "2 A"', True),
        (
            "froehlich",
            'froehlich_a = "2 V s/rad"\nfroehlich_b = "2 A"\nremanent_k_phi = "0 V s/rad"\nfield_current = "2 A"',
            True,
        ),
    ],
)
def test_in_a_single_state_a_constant_flux_goes_without_saying(law: str, data: str, said: bool) -> None:
    text = HEAD + f'[shared]\n{data}\n[flux]\nlaw = "{law}"\n[state.running]\narmature_current = "40 A"\n'
    solution = solve(exercise_from_text(text + '[answer.torque]\nof = "electromagnetic_torque"\n'))
    assert solution.answers["torque"].value == pytest.approx(40.0)
    assert any(line.startswith("The flux ") for line in setting_lines(solution, TextWriter(solution.exercise))) is said


def test_what_belongs_to_another_law_of_the_flux_is_refused() -> None:
    for law in ("constant", "proportional", ""):
        text = HEAD + (f'[flux]\nlaw = "{law}"\n' if law else "") + '[state.running]\nfroehlich_a = "2 V s/rad"\n'
        with pytest.raises(ExerciseError, match="froehlich_a: belongs to"):
            exercise_from_text(text + '[answer.k]\nof = "k_phi"\n')
    for law in ("constant", "froehlich", ""):
        text = HEAD + (f'[flux]\nlaw = "{law}"\n' if law else "") + '[state.running]\nflux_constant = "2 V s/(rad A)"\n'
        with pytest.raises(ExerciseError, match="flux_constant: belongs to"):
            exercise_from_text(text + '[answer.k]\nof = "k_phi"\n')


def test_cautions_stand_where_a_setting_is_suggested_and_only_there() -> None:
    plain = '[state.running]\nsupply_voltage = "240 V"\narmature_resistance = "0.4 ohm"\narmature_current = "40 A"\n'
    emf = '[answer.emf]\nof = "back_emf"\n'
    for added, asked, wanted in (
        ("", emf, False),
        ('added_armature_resistance = "0 ohm"\n', emf, False),
        ('back_emf = "220 V"\n', '[answer.rheostat]\nof = "added_armature_resistance"\n', True),
        ('field_current = "0 A"\n', emf + '[answer.line]\nof = "line_current"\n', True),
    ):
        page = render(solve(exercise_from_text(HEAD + plain + added + asked), tolerant=True))
        assert ("Cautions" in page) is wanted, added


def test_both_roots_of_a_quadratic_law() -> None:
    """15 = 3 + 0.02 w + 0.001 w^2: 100 and -120."""
    numbers = {"electromagnetic_torque": 15, "constant_torque": 3, "linear_torque_coefficient": 0.02,
               "square_torque_coefficient": 0.001}  # fmt: skip
    roots = branches(law_form(all_laws()["load-quadratic"]), "speed")
    values = sorted(float(root.subs({symbol: numbers[symbol.name] for symbol in root.free_symbols})) for root in roots)
    assert values == pytest.approx([-120.0, 100.0])
    # the loss in a winding gives its current both ways
    loss = branches(law_form(all_laws()["armature-copper-loss"]), "armature_current")
    known = {"armature_copper_loss": 640, "armature_resistance": 0.4}
    assert sorted(float(root.subs({s: known[s.name] for s in root.free_symbols})) for root in loss) == pytest.approx(
        [-40, 40]
    )


def test_what_a_statement_does_not_say_is_what_is_usual() -> None:
    """A motor, shunt wound, nothing neglected, no starter; a printed figure is right, and rounded to the nearest."""
    plain = Exercise("t", "s", {"running": State("running")}, {"n": Answer("n", Ref("running", "speed"))})
    state, answer = plain.states["running"], plain.answers["n"]
    assert (state.action, state.neglect, state.condition, dict(state.entries)) == ("motor", frozenset(), "", {})
    assert (answer.kind, answer.against, answer.printed, answer.disagrees) == ("value", None, None, False)
    assert (answer.rule.rounding, answer.rule.step, answer.rule.tolerance, answer.rule.relative_tolerance) == (
        "nearest", None, None, None,
    )  # fmt: skip
    assert (plain.connection, plain.winding, plain.horsepower, plain.invented) == ("shunt", "", "mechanical", False)
    assert (plain.flux.law, plain.flux.join, plain.links, plain.roots, plain.starter, plain.source) == (
        "", "linear", (), (), None, None,
    )  # fmt: skip
    losses = plain.losses
    assert (losses.rotational, losses.constant_loss_is, losses.stray_share, losses.stray_of) == ("", (), None, "")
    starter = Starter("keep-limits")
    assert (starter.limits_in, starter.sections, starter.whole) == ("armature", 0, "up")
    source = Provenance("bird")
    assert (source.statement, source.answer, source.confidence) == ("from memory", "from memory", "not stated")
