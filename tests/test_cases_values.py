"""The certified values are right: the laws hold for them, a second evaluator, plain doubles and our own model agree."""

from __future__ import annotations

import ast
import importlib
import time
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from mpmath import mp, mpf

from shuntref.conformance import bisection, own_model, second_balances, second_evaluator
from shuntref.conformance.cases import Case, load_cases, load_functions
from shuntref.conformance.certify import certify
from shuntref.conformance.comparison import shares_of_tolerance, worst_share
from shuntref.conformance.elimination import _function
from shuntref.conformance.generate import cases_folder, certified_cases, generated_files
from shuntref.conformance.groups import all_entries
from shuntref.conformance.mistakes import MISTAKES
from shuntref.conformance.problem import flatten, solve
from shuntref.theory.closed_forms import closed_form

CASES = load_cases()
ANSWERABLE = [case for case in CASES if case.result != "invalid"]
FUNCTIONS = tuple(load_functions())


def _inputs(case: Case) -> dict[str, Any]:
    return {name: list(value) if isinstance(value, tuple) else value for name, value in case.inputs.items()}


def _flat(case: Case) -> dict[str, Any]:
    return flatten(load_functions()[case.function].complete(_inputs(case)), mpf)


def _parts(values: Mapping[str, Any]) -> Iterator[tuple[str, int, Any]]:
    for name, value in values.items():
        for place, part in enumerate(value if isinstance(value, (tuple, list)) else (value,)):
            yield name, place, part


@pytest.mark.parametrize("function", FUNCTIONS)
def test_second_evaluator_agrees_to_23_digits(function: str) -> None:
    for case in load_cases(function=function):
        if case.result == "invalid":
            continue
        found = {(n, i): v for n, i, v in _parts(second_evaluator.evaluate(function, case.inputs))}
        for name, place, text in _parts(case.expected):
            exact = Decimal(text)
            off = abs(found[name, place]) if exact == 0 else abs(found[name, place] / exact - 1)
            assert off < Decimal("1e-23"), f"{case.id}: {name}"
        for name in case.expected:
            assert len([1 for n, _ in found if n == name]) == len([1 for n, _, _ in _parts(case.expected) if n == name])


def test_second_evaluator_shares_no_code_with_theory_model_or_generator() -> None:
    allowed = {
        "__future__",
        "collections.abc",
        "decimal",
        "itertools",
        "typing",
        bisection.__name__,
        second_balances.__name__,
    }
    for module in (bisection, second_balances, second_evaluator):
        tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                assert {alias.name for alias in node.names} <= allowed
            elif isinstance(node, ast.ImportFrom):
                assert node.module in allowed


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_equation_holds_at_the_certified_point(function: str) -> None:
    """The laws themselves, not what was derived from them, are put to the solved quantities."""
    entry = all_entries()[function]
    with mp.workdps(60):
        for case in load_cases(function=function):
            if case.result == "invalid":
                continue
            problem = entry.problem(_inputs(case))
            values = solve(problem, _flat(case))
            for key, equation in problem.equations.items():
                names, call = _function(equation.lhs - equation.rhs)
                sides = [_function(side) for side in (equation.lhs, equation.rhs)]
                size = max([abs(f(*(values[n] for n in args))) for args, f in sides] + [mpf(1)])
                assert abs(call(*(values[n] for n in names))) < size * mpf("1e-40"), f"{case.id}: {key}"


CLOSED = (
    ("speed", "speed", "speed", {"flux": "proportional", "detail": "parts"}),
    ("speed_at_k_phi", "speed", "speed", {"detail": "parts"}),
    ("speed_with_froehlich", "speed", "speed", {"flux": "froehlich", "detail": "parts"}),
    ("speed_with_froehlich", "k_phi", "k_phi", {"flux": "froehlich", "detail": "parts"}),
    ("speed_with_line_resistance", "supply_voltage", "", {}),
    ("ideal_no_load_speed", "ideal_no_load_speed", "ideal_no_load_speed", {"flux": "proportional", "detail": "parts"}),
    ("currents", "armature_current", "armature_current", {"flux": "proportional", "detail": "parts"}),
    ("currents", "line_current", "line_current", {"flux": "proportional", "detail": "parts"}),
    ("stall_torque", "stall_torque", "stall_torque", {"flux": "proportional", "detail": "parts"}),
    ("added_field_resistance_for_speed", "added_field_resistance", "added_field_resistance",
     {"flux": "proportional", "detail": "parts"}),
    ("added_field_resistance_with_froehlich", "added_field_resistance", "added_field_resistance",
     {"flux": "froehlich", "detail": "parts"}),
    ("added_armature_resistance_for_speed", "added_armature_resistance", "added_armature_resistance",
     {"flux": "proportional", "detail": "parts"}),
)  # fmt: skip


@pytest.mark.parametrize(("function", "output", "quantity", "options"), CLOSED)
def test_closed_forms_of_the_theory_give_the_certified_values(
    function: str, output: str, quantity: str, options: dict[str, Any]
) -> None:
    """Motoring cases without brushes: that is what the closed forms are stated for."""
    if not quantity:
        form = closed_form("speed", flux="proportional", line_resistance=True, detail="parts")
        output = "speed"
    else:
        form = closed_form(quantity, **options)
    names, call = _function(form)
    tried = 0
    with mp.workdps(60):
        for case in load_cases(function=function):
            given = _flat(case)
            given["electromagnetic_torque"] = given.get("load_torque", mpf(0)) + given.get("loss_torque", mpf(0))
            motoring = given["electromagnetic_torque"] > 0 or "load_torque" not in given
            if case.result == "invalid" or given.get("brush_drop", 0) != 0 or not motoring:
                continue
            tried += 1
            exact = mpf(case.expected[output])
            assert abs(call(*(given[name] for name in names)) / exact - 1) < mpf("1e-23"), case.id
    assert tried >= 5


def test_plain_double_arithmetic_meets_every_tolerance() -> None:
    """The equations solved in the same order, but in double precision: what any careful program would get."""
    entries = all_entries()
    for case in ANSWERABLE:
        with mp.workprec(53):
            values = solve(entries[case.function].problem(_inputs(case)), _flat(case))
            answer = {n: v if not isinstance(v, tuple) else [values[f"{n}[{i}]"] for i in range(len(v))]
                      for n, v in case.expected.items()}  # fmt: skip
            answer = {n: v if isinstance(v, list) else values[n] for n, v in answer.items()}
            numbers = {n: [float(x) for x in v] if isinstance(v, list) else float(v) for n, v in answer.items()}
        assert worst_share(case, numbers) <= 1, case.id


def test_our_own_model_passes_every_case_in_time() -> None:
    began = time.process_time()  # not the clock: the processor may be shared
    for case in CASES:
        try:
            found = own_model.answer(case.function, _inputs(case))
        except ValueError:
            found = None
        assert worst_share(case, found) <= 1, f"{case.id}: {found}"
    assert time.process_time() - began < 3


def test_our_own_model_offers_every_function_as_an_attribute() -> None:
    assert set(own_model.FUNCTIONS) == set(load_functions())
    assert own_model.ideal_no_load_speed(supply_voltage=120.0, field_resistance=160.0, flux_constant=1.0) == {
        "ideal_no_load_speed": 160.0
    }
    with pytest.raises(AttributeError, match="no attribute 'flux'"):
        _ = own_model.flux
    with pytest.raises(ValueError, match="unknown input"):
        own_model.answer("speed_at_k_phi", {"voltage": 1.0})
    with pytest.raises(ValueError, match="load_torque is missing"):
        own_model.answer("speed_at_k_phi", {"supply_voltage": 1.0, "k_phi": 1.0, "armature_resistance": 1.0})


def test_an_answer_a_little_off_or_of_the_wrong_sign_fails() -> None:
    for case in ANSWERABLE:
        if case.result != "valid":
            continue
        exact = {n: [Decimal(t) for t in v] if isinstance(v, tuple) else Decimal(v) for n, v in case.expected.items()}
        assert max(shares_of_tolerance(case, case.expected, exact).values()) == 0
        name = next(iter(exact))
        for factor in (1 + 3 * Decimal(case.tolerance[name]), Decimal(-1)):
            off = {n: [factor * x for x in v] if isinstance(v, list) else factor * v for n, v in exact.items()}
            if any(x != 0 for _, _, x in _parts({name: exact[name]})) and name not in case.absolute:
                assert worst_share(case, off) > 1, case.id
        assert worst_share(case, None) == Decimal("inf")


def test_an_answer_to_an_invalid_case_fails_and_a_refusal_passes() -> None:
    for case in CASES:
        if case.result == "invalid":
            assert worst_share(case, None) == 0
            assert worst_share(case, {"speed": 1.0}) == Decimal("inf")


def test_generator_writes_the_same_bytes_again() -> None:
    folder = cases_folder()
    before = (folder / "ids.txt").read_text(encoding="utf-8").split()
    for name, text in generated_files(certified_cases(), before).items():
        assert (folder / name).read_bytes() == text.encode("utf-8"), name


@pytest.mark.parametrize("slug", ["armature-drop-added", "flux-not-squared-in-torque-term", "two-pi-forgotten"])
def test_a_law_that_is_wrong_changes_the_certified_values(slug: str) -> None:
    """The check above is worth something: a planted fault in a law shows in the generated values."""
    importlib.import_module("shuntref.conformance.slips_of_number")
    entry = all_entries()["speed"]
    row = next(row for row in entry.rows if row.words == "bench-full-load")
    mistaken = MISTAKES[slug](entry.problem(row.inputs))
    assert mistaken is not None
    faulty = type(entry)(lambda inputs: mistaken, (), (row,))
    stored = next(case for case in CASES if case.id == "speed-bench-full-load")
    assert certify("speed", entry, row)["expected"] == dict(stored.expected)
    assert certify("speed", faulty, row)["expected"] != dict(stored.expected)


def test_a_row_that_does_not_do_what_it_says_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    entry = all_entries()["speed_at_k_phi"]
    row = next(row for row in entry.rows if row.words == "bench-full-load")
    said_invalid = type(row)(row.words, 1, row.inputs, "invalid")
    with pytest.raises(ValueError, match="is said to be invalid but has an answer"):
        certify("speed_at_k_phi", entry, said_invalid)
    beyond = type(row)(row.words, 1, {**row.inputs, "load_torque": 1e6})
    with pytest.raises(ValueError, match="beyond stall"):
        certify("speed_at_k_phi", entry, beyond)
    with pytest.raises(ValueError, match=r"not described; give it a table \[no-such-mistake\] in .*flags.toml"):
        certify("speed_at_k_phi", type(entry)(entry.problem, ("no-such-mistake",), ()), row)
    monkeypatch.delitem(MISTAKES, "armature-drop-added")
    with pytest.raises(ValueError, match=r"'armature-drop-added' is not registered; .*mistakes.py"):
        certify("speed_at_k_phi", type(entry)(entry.problem, ("armature-drop-added",), ()), row)


def test_second_evaluator_finds_a_peak_below_one_ampere() -> None:
    # (0.75 - 1.5 I) I = 0.05
    inputs = {"supply_voltage": 120.0, "field_resistance": 160.0, "flux_constant": 1.0, "reaction_coefficient": 1.5,
              "armature_resistance": 0.8, "load_torque": 0.05}  # fmt: skip
    found = dict(second_evaluator.evaluate("speed_with_armature_reaction", inputs))
    current = (Decimal("0.75") - Decimal("0.2625").sqrt()) / 3
    assert abs(found["armature_current"] - current) < Decimal("1e-20")
    assert abs(
        found["speed"] * (Decimal("0.75") - Decimal("1.5") * current) - 120 + Decimal("0.8") * current
    ) < Decimal("1e-18")
