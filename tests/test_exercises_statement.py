"""The exercise format: what it accepts, what it refuses, and that every refusal names the place and the remedy."""

import re
import time
from pathlib import Path

import pytest

from shuntref.exercises.answer_rule import AnswerRule
from shuntref.exercises.solver import solve
from shuntref.exercises.statement import ExerciseError, Ref
from shuntref.exercises.statement_file import exercise_from_text, load_exercise
from shuntref.quantities.text import read_value

README = Path(__file__).parents[1] / "references" / "README.md"

HEAD = 'title = "Test"\nstatement = "A test."\n'
STATE = """
[state.running]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
armature_current = "40 A"
"""
ANSWER = '[answer.emf]\nof = "back_emf"\nvalue = "224 V"\n'
GOOD = HEAD + STATE + ANSWER

TWO = (
    HEAD
    + """
[shared]
supply_voltage = "240 V"
armature_resistance = "0.4 ohm"
[flux]
law = "constant"
[state.before]
armature_current = "40 A"
speed = "1000 r/min"
[state.after]
armature_current = "60 A"
[answer.speed]
of = "after.speed"
"""
)


TABLE = """law = "table"
at_speed = "1000 r/min"
field_current = "0, 1, 2 A"
back_emf = "5, 90, 120 V"
join = "linear"
"""
STARTER = """[starter]
method = "keep-limits"
upper_current = "40 A"
"""


def readme_example() -> str:
    return re.findall(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.S)[0]


def test_the_example_of_the_documentation_solves_to_the_answer_it_states() -> None:
    solution = solve(exercise_from_text(readme_example()))
    assert solution.answers["new-speed"].agrees is True


def test_every_key_of_the_documentation_tables_is_accepted_by_the_reader() -> None:
    """The keys in the first column of the documentation's tables are those the reader knows, and the other way round."""
    documented = set(re.findall(r"^\| ((?:`\w+`(?:, | or )?)+) \|", README.read_text(encoding="utf-8"), re.M))
    keys = {key for group in documented for key in re.findall(r"`(\w+)`", group)}
    for table, text in {
        "top": "nonsense = 1\n" + GOOD,
        "answer": GOOD + "nonsense = 1\n",
        "source": GOOD + '[source]\nid = "x"\nstatement = "seen"\nanswer = "seen"\nnonsense = 1\n',
    }.items():
        with pytest.raises(ExerciseError) as refusal:
            exercise_from_text(text)
        accepted = set(re.findall(r"\w+", str(refusal.value).split("accepted are")[1]))
        own_tables = {"shared", "state", "flux", "link", "losses", "starter", "root", "answer", "source"}
        assert accepted - own_tables <= keys, (table, accepted - own_tables - keys)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD.replace("armature_current", "armatur_current", 1), ["[state.running]", "armatur_current", "armature_current"]),
        (GOOD.replace("[state.running]", "[states.running]"), ["states", "state"]),
        ("neglects = []\n" + GOOD, ["neglects", "neglect"]),
        (GOOD + 'colour = "red"\n', ["[answer.emf]", "colour", "accepted"]),
        (GOOD.replace('"240 V"', "240"), ["[state.running] supply_voltage", "120 V"]),
        (GOOD.replace('"240 V"', "true"), ["supply_voltage", "True"]),
        (GOOD.replace('"240 V"', '"240 A"'), ["supply_voltage", "'A'", "120 V"]),
        (GOOD.replace('"240 V"', '"-240 V"'), ["supply_voltage", "negative"]),
        (GOOD.replace('"240 V"', "nan"), ["supply_voltage", "nan"]),
        (GOOD.replace('"240 V"', "inf"), ["supply_voltage", "inf"]),
        (GOOD.replace('"240 V"', '"nan V"'), ["supply_voltage", "number"]),
        (GOOD.replace('"240 V"', '"1e300 V"'), ["supply_voltage", "sensible"]),
        (GOOD.replace('"240 V"', '"9**9**9 V"'), ["supply_voltage", "9**9**9"]),
        (GOOD.replace('"240 V"', "\"__import__('os') V\""), ["supply_voltage", "number"]),
        (GOOD.replace('of = "back_emf"', 'of = "stopped.back_emf"'), ["[answer.emf]", "stopped", "running"]),
        (GOOD.replace('of = "back_emf"', 'of = "voltage"'), ["voltage"]),
        (GOOD.replace('"224 V"', '"224 A"'), ["[answer.emf]", "'A'"]),
        (GOOD.replace(ANSWER, ""), ["answer"]),
        (GOOD.replace(HEAD, ""), ["title"]),
        (GOOD + 'tolerance = "1 V"\n', ["[answer.emf]", "reason"]),
        (GOOD + "disagrees = true\n", ["[answer.emf]", "reason"]),
        (GOOD + 'step = "5 V"\ntolerance = "1 V"\nreason = "both"\n', ["only one"]),
        (GOOD.replace("[state.running]", "[state.Running]"), ["Running", "small letters"]),
        (GOOD.replace('armature_current = "40 A"', 'armature_current = "-40 A"'), ["armature_current", 'action = "generator"']),
        (GOOD.replace('"40 A"', '"40 A"\naction = "generator"'), ["generator", "negative"]),
        (GOOD.replace('armature_current = "40 A"', 'efficiency = "120 %"'), ["efficiency", "100 %"]),
        (GOOD.replace('armature_current = "40 A"', "poles = 3.5"), ["poles", "whole"]),
        (GOOD.replace('armature_current = "40 A"', 'speed = "9 r/min"\nspeed_rpm = "9 r/min"'), ["speed", "twice"]),
        (GOOD + '[losses]\nstray_share = "1 %"\n', ["[losses]", "stray_of"]),
        (GOOD + '[source]\nstatement = "seen"\nanswer = "seen"\n', ["[source]", "id"]),
        (GOOD + '[source]\nid = "x"\nstatement = "yes"\nanswer = "seen"\n', ["statement", "from memory"]),
        ("invented = true\n" + GOOD + '[source]\nid = "x"\nstatement = "seen"\nanswer = "seen"\n', ["invented"]),
        (TWO.replace('"after.speed"', '"speed"'), ["of which state", "after.speed"]),
        (TWO.replace("[state.after]", '[state.after]\nflux_ratio = "0.9"').replace("constant", "proportional"), ["flux_ratio"]),
        (TWO.replace('[state.after]', '[state.after]\nsupply_voltage = "240 V"'), ["supply_voltage", "twice"]),
        (TWO + '[[link]]\nsame = "speed"\nload = "constant"\n', ["[[link]] number 1", "exactly one"]),
        (TWO + '[[link]]\nsame = "sped"\n', ["sped"]),
        (TWO + '[[link]]\nsame = "speed"\nstates = ["before"]\n', ["at least 2"]),
        (TWO + '[[link]]\nload = "constant"\n', ["torque"]),
        (TWO + '[[link]]\nof = "after.speed"\nto = "after.speed"\nratio = "2"\n', ["other than"]),
        (TWO + '[[link]]\nof = ["after.speed", "after.back_emf"]\nto = "before.speed"\nratio = "2"\n', ["units"]),
        (TWO.replace('law = "constant"', TABLE.replace("0, 1, 2", "0, 2, 1")), ["field_current", "value 3"]),
        (TWO.replace('law = "constant"', TABLE.replace("0, 1, 2", "0, 1")), ["back_emf", "3 values for 2"]),
        (TWO.replace('law = "constant"', 'law = "readings"\nat_speed = "1000 r/min"'), ["[[flux.reading]]"]),
        (TWO + STARTER, ["[starter]", "two of"]),
        (TWO + STARTER + 'lower_current = "20 A"\nsections = 3\n', ["too much"]),
        (TWO + STARTER + "sections = 3\nstuds = 4\n", ["studs"]),
        ("a = 1\na = 2\n", ["not TOML"]),
        ("= 3", ["not TOML"]),
        ("", ["no state"]),
    ],
)  # fmt: skip
def test_what_is_wrong_is_refused_by_name(text: str, words: list[str]) -> None:
    with pytest.raises(ExerciseError) as refusal:
        exercise_from_text(text)
    message = str(refusal.value)
    assert "\n" not in message
    for word in words:
        assert word in message, message


def test_the_text_these_refusals_start_from_is_accepted() -> None:
    assert solve(exercise_from_text(GOOD)).answers["emf"].agrees is True
    assert solve(exercise_from_text(TWO)).value("after.speed_rpm") == pytest.approx(1000 * 216 / 224)


HOSTILE = {
    "ten megabytes": b"x" * 10_000_000,
    "ten megabytes of keys": b"a = 1\n" * 2_000_000,
    "deep lists": b"a = " + b"[" * 5000 + b"]" * 5000,
    "deep lists over lines": b"a = " + b"[\n" * 4000 + b"]" * 4000,
    "deep lists with remarks": b"a = " + b"[#\n" * 4000 + b"]" * 4000,
    "deep tables": b"a = " + b"{a = " * 900 + b"1" + b"}" * 900,
    "long dotted key": b"a" + b".a" * 40_000 + b" = 1",
    "long spaced dotted key": b"a" + b" . a" * 20_000 + b" = 1",
    "long quoted dotted key": b"a" + b'."b c"' * 12_000 + b" = 1",
    "long dotted header": b"[" + b"a." * 30_000 + b"a]",
    "a huge integer": b"a = " + b"9" * 90_000,
    "not text": bytes(range(256)) * 20,
    "many answers": (HEAD + STATE).encode() + b"".join(b'[answer.a%d]\nof = "speed"\n' % n for n in range(3000)),
    "many states": HEAD.encode() + b"".join(b"[state.s%d]\n" % n for n in range(6000)) + ANSWER.encode(),
    "a long key": b'"' + b"k" * 90_000 + b'" = 1',
}


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_files_are_refused_in_under_two_seconds(what: str, tmp_path: Path) -> None:
    file = tmp_path / "hostile.toml"
    file.write_bytes(HOSTILE[what])
    start = time.process_time()
    with pytest.raises(ExerciseError) as refusal:
        load_exercise(file)
    assert time.process_time() - start < 2.0
    assert str(refusal.value).startswith("hostile.toml: ")
    assert len(str(refusal.value)) < 500


def test_a_file_with_a_byte_order_mark_and_windows_line_ends_is_read(tmp_path: Path) -> None:
    file = tmp_path / "windows.toml"
    file.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_exercise(file).name == "windows"


def test_speed_keeps_the_unit_it_was_written_in() -> None:
    exercise = exercise_from_text(TWO.replace("1000 r/min", "20 rev/s"))
    assert exercise.states["before"].entries["speed_rpm"] is not None
    assert exercise.answers["speed"].of == Ref("after", "speed_rpm")
    exercise = exercise_from_text(TWO.replace("1000 r/min", "100 rad/s") + 'value = "96 rad/s"\n')
    assert exercise.states["before"].entries["speed"] is not None
    assert exercise.answers["speed"].of == Ref("after", "speed")


@pytest.mark.parametrize(
    ("rule", "printed", "inside", "outside"),
    [
        (AnswerRule(), "1.53", [1.525, 1.53, 1.535], [1.5249, 1.5351]),
        (AnswerRule(), "2.0", [1.95], [1.94]),
        (AnswerRule(), "1500", [1500.5], [1501.0]),
        (AnswerRule(rounding="truncated"), "1.53", [1.53, 1.5399], [1.5299, 1.5401]),
        (AnswerRule(rounding="truncated"), "-1.53", [-1.5399], [-1.5299]),
        (AnswerRule(rounding="up"), "1.53", [1.5201, 1.53], [1.519, 1.5301]),
        (AnswerRule(step=0.5), "78.5", [78.25, 78.7], [78.2, 78.8]),
        (AnswerRule(tolerance=0.2, reason="x"), "1.5", [1.3, 1.7], [1.29, 1.71]),
        (AnswerRule(relative_tolerance=0.01, reason="x"), "-200", [-198.0, -202.0], [-197.9, 200.0]),
    ],
)  # fmt: skip
def test_an_answer_is_compared_by_its_own_rule(
    rule: AnswerRule, printed: str, inside: list[float], outside: list[float]
) -> None:
    window = rule.window(read_value("torque_ratio", printed))
    assert all(window.holds(value) for value in inside)
    assert not any(window.holds(value) for value in outside)
