"""From what the user names to the functions that are asked for: a target beside a mapping file, names that agree or not."""

import pytest

from shuntref.conformance.runner import run_cases
from shuntref.conformance.suite import load_suite
from shuntref.conformance.target_choice import choose, split_call

SUITE = load_suite()
LAB = """
def n0(V, Rf, c, Rx=0.0):
    if min(V, Rf, c) <= 0 or Rx < 0:
        raise ValueError("no")
    return (Rf + Rx) / c * 9.549296585513721
"""
TABLE = """
[ideal_no_load_speed]
{call}
arguments = {{ V = "supply_voltage", Rf = "field_resistance", c = "flux_constant", Rx = "added_field_resistance" }}
result = "r/min"
"""


@pytest.fixture
def lab(tmp_path):
    (tmp_path / "lab.py").write_text(LAB, encoding="utf-8")

    def choice(target, call="", more="", **options):
        mapping = tmp_path / "lab.toml"
        mapping.write_text(TABLE.format(call=call) + more, encoding="utf-8")
        return choose(SUITE, target and f"{tmp_path}/{target}", mapping=str(mapping), **options)

    return choice


def judged(choice):
    score = run_cases(SUITE, choice.cases, choice.open())
    return {o.case.function for o in score.outcomes if o.status == "passed"}, score.total.failed


@pytest.mark.parametrize(
    ("target", "call", "more"),
    [
        ("", 'call = "lab.py:n0"', ""),
        ("lab.py:n0", "", ""),
        ("lab.py:n0", 'call = "n0"', ""),
        ("lab.py:n0", 'call = "elsewhere.py:n0"', "[speed]"),
        ("lab.py", 'call = "n0"', ""),
    ],
)
def test_a_mapping_file_says_which_function_of_the_suite_is_meant(lab, target, call, more):
    assert judged(lab(target, call, more)) == ({"ideal_no_load_speed"}, 0)


def test_where_the_mapping_leaves_it_open_the_user_is_asked(lab):
    with pytest.raises(ValueError, match="which function of the suite is 'n0'"):
        lab("lab.py:n0", "", "[speed]")


def test_a_function_of_the_mapping_without_call_and_without_target_is_refused(lab):
    with pytest.raises(ValueError, match="has no call"):
        lab("")


def test_paths_modules_and_functions_are_told_apart():
    assert split_call("a.b:c") == ("a.b", "c")
    assert split_call("C:\\lab\\motor.py") == ("C:\\lab\\motor.py", "")
    assert split_call("C:\\lab\\motor.py:speed") == ("C:\\lab\\motor.py", "speed")
    assert split_call("my_lab") == ("my_lab", "")
