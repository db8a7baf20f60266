"""The cases in pytest: three lines in a test file of one's own, and the whole suite on a named target."""

from pathlib import Path

import pytest

from shuntref.conformance.suite import load_suite, select

pytest_plugins = ["pytester"]

ZOO = Path(__file__).parent / "zoo"
SUITE = load_suite()
INVALID = len([c for c in select(SUITE, functions=["speed"]) if c.result == "invalid"])
ANSWERABLE = len(select(SUITE, functions=["speed"])) - INVALID

LAB = """
    def currents(V, R, c, T, Rx=0.0, T0=0.0):
        if min(V, R, c) <= 0 or min(Rx, T0) < 0:
            raise ValueError("no such motor")
        If = V / (R + Rx)
        return If, (T + T0) / (c * If), {line}
"""
TEST = """
    from shuntref.conformance import pytest_cases
    from my_lab import currents

    ARGUMENTS = {"V": "supply_voltage in V", "R": "field_resistance", "c": "flux_constant", "T": "load_torque",
                 "Rx": "added_field_resistance", "T0": "loss_torque"}

    @pytest_cases(functions=["currents"])
    def test_currents(case):
        case.check(currents, arguments=ARGUMENTS, result=["field_current", "armature_current", "line_current"])
"""


def run(pytester, line):
    pytester.makepyfile(my_lab=LAB.format(line=line), test_lab=TEST)
    return pytester.runpytest_subprocess("-p", "no:cacheprovider", "-p", "no:hypothesispytest")


def test_a_lab_test_file_runs_once_for_each_case(pytester):
    result = run(pytester, "If + (T + T0) / (c * If)")
    result.assert_outcomes(passed=len(select(SUITE, functions=["currents"])))


def test_a_wrong_function_fails_with_the_name_of_its_mistake(pytester):
    result = run(pytester, "(T + T0) / (c * If)")
    result.stdout.fnmatch_lines(
        ["*currents-tiny-full-load: line_current = *, certified *", "*line current for armature current*"]
    )
    assert result.ret == 1
    assert "AssertionError" not in result.stdout.str()


def test_what_cannot_be_asked_is_skipped(pytester):
    pytester.makepyfile(
        """
        from shuntref.conformance import pytest_cases

        @pytest_cases("speed", functions=["ideal_no_load_speed"])
        def test_speed(case):
            case.check(lambda V, R, c: R / c if min(V, R, c) > 0 else None,
                       arguments={"V": "supply_voltage", "R": "field_resistance", "c": "flux_constant"}, result="rad/s")
        """
    )
    outcomes = pytester.runpytest_subprocess("-rs").parseoutcomes()
    assert outcomes["skipped"] > 0
    assert outcomes["passed"] > 0
    assert "failed" not in outcomes


def test_a_group_that_does_not_exist_is_an_error_in_words(pytester):
    pytester.makepyfile(
        "from shuntref.conformance import pytest_cases\n\n@pytest_cases('no such group')\ndef test_x(case): ..."
    )
    result = pytester.runpytest_subprocess()
    result.stdout.fnmatch_lines(["*no case has group 'no such group'*"])


def test_the_whole_suite_runs_on_a_named_target(pytester):
    result = pytester.runpytest_subprocess(
        "-p", "shuntref.conformance.pytest_route", f"--shuntref-target={ZOO / 'right_halving.toml'}"
    )
    asked = len(select(SUITE, functions=["speed"]))
    result.assert_outcomes(passed=asked, skipped=len(SUITE.cases) - asked)


def test_the_whole_suite_names_mistakes_too(pytester):
    result = pytester.runpytest_subprocess(
        "-p", "shuntref.conformance.pytest_route", f"--shuntref-target={ZOO / 'wrong_running.py'}:two_pi",
        "--shuntref-function=speed",
    )  # fmt: skip
    result.assert_outcomes(passed=INVALID, failed=ANSWERABLE)
    result.stdout.fnmatch_lines(["*matches: two pi forgotten*"])


def test_known_failures_of_the_mapping_are_expected_failures(pytester):
    mapping = pytester.path / "mine.toml"
    ids = [case.id for case in select(SUITE, functions=["speed"]) if case.result != "invalid"]
    mapping.write_text(
        f"known_failures = {ids!r}\n[speed]\ncall = {str(ZOO / 'wrong_running.py') + ':two_pi'!r}\n", encoding="utf-8"
    )
    result = pytester.runpytest_subprocess(
        "-p", "shuntref.conformance.pytest_route", f"--shuntref-target={mapping}", "--shuntref-function=speed"
    )
    result.assert_outcomes(passed=INVALID, xfailed=ANSWERABLE)


def test_a_target_that_cannot_be_used_is_a_usage_error(pytester):
    result = pytester.runpytest_subprocess(
        "-p", "shuntref.conformance.pytest_route", "--shuntref-target=nowhere.py:speed"
    )
    assert result.ret == pytest.ExitCode.USAGE_ERROR
    result.stderr.fnmatch_lines(["*shuntref: nowhere.py: there is no such file*"])


def test_a_target_that_cannot_be_loaded_fails_in_words(pytester):
    pytester.makepyfile(broken="raise RuntimeError('no bench today')")
    result = pytester.runpytest_subprocess(
        "-p", "shuntref.conformance.pytest_route", "--shuntref-target=broken.py:speed"
    )
    assert result.ret == 1
    result.stdout.fnmatch_lines(["*no bench today*"])
    assert "INTERNALERROR" not in result.stdout.str()


def test_nothing_is_loaded_where_it_is_not_asked_for(pytester):
    pytester.makepyfile(
        """
        import sys

        def test_nothing(pytestconfig):
            assert not [name for name in sys.modules if name.startswith("shuntref")]
        """
    )
    pytester.runpytest_subprocess().assert_outcomes(passed=1)
    result = pytester.runpytest_subprocess("--shuntref-target=x")
    assert result.ret == pytest.ExitCode.USAGE_ERROR
