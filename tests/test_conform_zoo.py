"""A zoo of implementations: every wrong one is caught by the flag of its mistake, every right one passes in its own style."""

import tomllib
from pathlib import Path

import pytest

from shuntref.conformance.runner import run_cases
from shuntref.conformance.suite import load_suite
from shuntref.conformance.target_choice import choose

ZOO = Path(__file__).parent / "zoo"
SUITE = load_suite()
WRONG = tomllib.loads((ZOO / "wrong.toml").read_text(encoding="utf-8"))
RIGHT = [
    *(f"wrong_running.py:right_{name}" for name in ("speed", "currents", "back_emf", "torque_from_line_current")),
    "wrong_running.py:right_speed_regulation",
    *(f"wrong_curves.py:right_speed_with_{name}" for name in ("table", "froehlich", "armature_reaction")),
]


def score_of(place, function):
    choice = choose(SUITE, f"{ZOO / place}", functions=[function])
    return run_cases(SUITE, choice.cases, choice.open())


def test_the_zoo_is_large_and_varied():
    assert len(WRONG) >= 30
    assert len({entry["flag"] for entry in WRONG.values()}) >= 60
    assert len({SUITE.functions[entry["function"]].group for entry in WRONG.values()}) >= 12


@pytest.mark.parametrize("place", WRONG)
def test_a_wrong_implementation_is_caught_by_the_right_flag(place):
    function, flag = WRONG[place]["function"], WRONG[place]["flag"]
    score = score_of(place, function)
    assert score.total.missing == 0
    assert score.total.failed > 0
    assert next(iter(score.mistakes)) == flag
    # of the numbers it answered wrongly to answerable cases, the flag explains the most by far
    answered = [
        o for o in score.outcomes if o.status == "failed" and o.case.result != "invalid" and o.answer.kind == "values"
    ]
    explained = [outcome for outcome in answered if outcome.mistake == flag]
    assert len(explained) * 3 >= len(answered) * 2 or flag in (
        "armature-winding-forgotten",
        "brush-drop-helps-the-current",
    )


@pytest.mark.parametrize("place", RIGHT)
def test_the_same_code_without_the_mistake_passes(place):
    score = score_of(place, place.partition(":right_")[2])
    assert score.total.passed == score.total.asked


@pytest.mark.parametrize(
    ("mapping", "functions"),
    [
        ("right_units.toml", ["speed", "speed_at_k_phi", "currents", "efficiency", "added_field_resistance_for_speed"]),
        ("right_tables.toml", ["speed_with_table", "armature_resistance_and_brush_drop"]),
        ("right_halving.toml", ["speed"]),
        ("right_arrays.toml", ["speed"]),
        ("right_single.toml", ["speed"]),
    ],
)
def test_a_right_implementation_passes_in_its_own_style(mapping, functions):
    choice = choose(SUITE, str(ZOO / mapping))
    score = run_cases(SUITE, choice.cases, choice.open())
    assert score.total.failed == 0
    passed = {outcome.case.function for outcome in score.outcomes if outcome.status == "passed"}
    assert passed == set(functions)
    others = [o for o in score.outcomes if o.case.function in functions and o.status != "passed"]
    # close to stall the rounding of the inputs to 24 bits alone can turn the sign of the speed
    assert all(o.verdict.reason.startswith("single precision cannot tell") for o in others)
    beyond = 0.1 / 16 * 2**23  # the condition number at which 16 rounding steps are a tenth of the value
    asked = [c for c in SUITE.cases if c.function == "speed" and c.result == "valid"]
    undecided = {c.id for c in asked if float(c.condition.get("speed") or 0) > beyond}
    assert {o.case.id for o in others} == (undecided if mapping == "right_single.toml" else set())


def test_single_precision_fails_where_double_is_claimed(tmp_path):
    claimed = (ZOO / "right_single.toml").read_text(encoding="utf-8").replace('"single"', '"double"')
    mapping = tmp_path / "claimed.toml"
    mapping.write_text(claimed.replace("right_styles.py", str(ZOO / "right_styles.py")), encoding="utf-8")
    choice = choose(SUITE, str(mapping), functions=["speed"])
    score = run_cases(SUITE, choice.cases, choice.open())
    assert score.total.failed > score.total.passed / 2
    assert score.mistakes == {}


@pytest.mark.parametrize("off", [1e-6, -1e-9, 1e-4])
def test_an_answer_a_little_off_fails_everywhere_and_matches_no_mistake(tmp_path, off):
    lab = tmp_path / "lab.py"
    lab.write_text(
        f"import sys\nsys.path.insert(0, {str(ZOO)!r})\nfrom wrong_running import right_speed\n"
        f"def speed(**given):\n    return right_speed(**given) * (1 + {off})\n",
        encoding="utf-8",
    )
    choice = choose(SUITE, f"{lab}:speed", levels=[1, 2])
    score = run_cases(SUITE, choice.cases, choice.open())
    wrong = [outcome for outcome in score.outcomes if outcome.case.result == "valid"]
    assert {outcome.status for outcome in wrong} == {"failed"}
    assert score.mistakes == {}
