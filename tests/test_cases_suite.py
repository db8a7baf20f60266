"""The certified cases are what they say they are: form, ids, mistakes, tolerances, tables."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

import jsonschema
import pytest

from shuntref.conformance import evidence
from shuntref.conformance.case_tables import case_tables, csv_text
from shuntref.conformance.cases import Case, decimals, floats, load_cases, load_flags, load_functions
from shuntref.conformance.comparison import acceptable_answers, worst_share
from shuntref.conformance.flags import KINDS
from shuntref.conformance.generate import cases_folder, frozen_ids
from shuntref.conformance.groups import all_entries
from shuntref.conformance.mistakes import MISTAKES
from shuntref.conformance.suite import Value
from shuntref.quantities.registry import REGISTRY

GROUPS = (
    "speed", "currents", "back-emf", "torque", "added-field-resistance", "added-armature-resistance", "starting",
    "two-state-speed", "magnetisation-table", "froehlich", "armature-reaction", "losses-efficiency", "identification",
)  # fmt: skip
CASES = load_cases()
WRITTEN = json.loads((cases_folder() / "cases.json").read_text(encoding="utf-8"))
SCHEMA = json.loads((cases_folder() / "cases.schema.json").read_text(encoding="utf-8"))


def test_cases_follow_their_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.Draft202012Validator(SCHEMA).validate(WRITTEN)


@pytest.mark.parametrize(
    ("part", "value"),
    [("level", 5), ("expected", {"speed": 150.0}), ("inputs", {"voltage": 1.0}), ("id", "Speed 1"), ("hint", "x")],
)
def test_schema_refuses_a_case_that_is_wrong_in_one_place(part: str, value: object) -> None:
    case = {**WRITTEN["cases"][0], part: value}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(SCHEMA).validate({"schema": "cases.schema.json", "cases": [case]})


def test_generated_files_are_utf8_with_line_feeds_and_an_end() -> None:
    for name in (
        "cases.json",
        "cases.csv",
        "wrong_values.csv",
        "acceptable.csv",
        "flags.csv",
        "functions.csv",
        "ids.txt",
    ):
        data = (cases_folder() / name).read_bytes()
        assert data.decode("utf-8").endswith("\n")
        assert b"\r" not in data


def test_there_are_enough_cases_of_every_group_level_and_kind() -> None:
    assert len(CASES) >= 500
    assert tuple(dict.fromkeys(case.group for case in CASES)) == GROUPS
    for group in GROUPS:
        assert {case.level for case in load_cases(group=group)} == {1, 2, 3, 4}
        assert {case.result for case in load_cases(group=group)} >= {"valid", "invalid"}
    assert Counter(case.result for case in CASES)["acceptable"] >= 10
    for name in load_functions():
        assert len(load_cases(function=name)) >= 12, name


def test_ids_are_frozen_and_in_canonical_order() -> None:
    frozen = (cases_folder() / "ids.txt").read_text(encoding="utf-8").split()
    assert len(set(frozen)) == len(frozen)
    assert sorted(frozen) == sorted(case.id for case in CASES)
    order = list(load_functions())
    places = [order.index(case.function) for case in CASES]
    assert places == sorted(places)


def test_an_id_can_be_added_but_never_dropped() -> None:
    assert frozen_ids(["a", "b"], ["b", "c", "a"]) == ["a", "b", "c"]
    with pytest.raises(ValueError, match="never dropped or renamed"):
        frozen_ids(["a", "b"], ["a", "c"])


def test_every_mistake_is_defined_used_and_has_its_transformation() -> None:
    flags = load_flags()
    used = Counter(flag.flag for case in CASES for flag in case.flags)
    assert set(used) == set(flags)
    assert len(flags) >= 20
    assert {flag.kind for flag in flags.values()} <= set(KINDS)
    entries = all_entries()
    own = {slug for entry in entries.values() for slug in entry.special}
    assert set(flags) == set(MISTAKES) | own
    for name, entry in entries.items():
        shown = {flag.flag for case in load_cases(function=name) for flag in case.flags}
        assert set(entry.slips) <= shown, f"{name}: {set(entry.slips) - shown} never shows"


def _apart(case: Case, one: Mapping[str, Value], two: Mapping[str, Value]) -> bool:
    """Return whether two answers to a case differ somewhere by more than ten of its tolerances."""
    for name, certified in case.expected.items():
        pairs = zip(*(v if isinstance(v, tuple) else (v,) for v in (certified, one[name], two[name])), strict=True)
        for right, x, y in (tuple(map(Decimal, texts)) for texts in pairs):
            allowed = Decimal(case.absolute.get(name, 0)) or abs(right) * Decimal(case.tolerance[name])
            if abs(x - y) > 10 * allowed:
                return True
    return False


def test_every_wrong_value_is_told_from_the_right_one_and_from_the_others() -> None:
    for case in CASES:
        if case.result == "invalid":
            continue
        answers = [(flag.flag, {**case.expected, **flag.values}) for flag in case.flags]
        rights = [("right", values) for values in acceptable_answers(case) if values]
        for i, (flag, answer) in enumerate(answers):
            assert worst_share(case, answer) > 10, f"{case.id}: {flag}"
            for other, values in (*rights, *answers[i + 1 :]):
                assert _apart(case, answer, values), f"{case.id}: {flag} and {other}"


def test_a_wrong_value_that_is_right_is_noticed() -> None:
    case = next(case for case in CASES if case.flags and case.result == "valid")
    right = replace(case.flags[0], values=case.expected)
    assert not evidence._told_apart(replace(case, flags=(right,)))
    assert not evidence._told_apart(replace(case, flags=(case.flags[0], case.flags[0])))
    assert evidence._told_apart(case)


def test_certified_values_have_25_significant_digits() -> None:
    for case in CASES:
        for certified in case.expected.values():
            for text in (certified,) if isinstance(certified, str) else certified:
                assert text == "0" or len(re.sub(r"^-?(0\.0*)?|\.|e.*", "", text)) == 25, (case.id, text)


def test_tolerances_cover_rounding_and_say_why() -> None:
    for case in CASES:
        if case.result == "invalid":
            assert not case.expected
            assert not case.tolerance
            assert case.note
            continue
        assert set(case.tolerance) == set(case.condition) == set(case.expected)
        assert case.tolerance_reason
        for name, tolerance in case.tolerance.items():
            rounding = 64 * 2.0**-52 * float(case.condition[name])
            assert max(1e-10, rounding) <= float(tolerance) * 1.0001, case.id
            zero = "0" in (case.expected[name] if isinstance(case.expected[name], tuple) else (case.expected[name],))
            assert zero == (name in case.absolute), case.id


def test_ill_conditioned_cases_are_ill_conditioned_and_basic_ones_are_not() -> None:
    for case in CASES:
        if case.result == "invalid":
            continue
        worst = max(float(value) for value in case.condition.values())
        assert worst < 1e12
        if case.level == 4:
            assert worst > 10, case.id
        if case.level == 1:
            assert worst < 500, case.id


def test_inputs_are_short_decimals() -> None:
    for case in CASES:
        for value in case.inputs.values():
            for number in value if isinstance(value, tuple) else (value,):
                assert len(repr(number)) <= 12, (case.id, number)


def test_every_quantity_is_of_the_registry_in_its_unit() -> None:
    for spec in load_functions().values():
        for name, unit in [(e.name, e.unit) for e in spec.inputs] + [(e.name, e.unit) for e in spec.outputs]:
            assert REGISTRY[name].unit == unit, (spec.name, name)


def test_every_function_has_its_preconditions_tried() -> None:
    for spec in load_functions().values():
        refused = [case for case in load_cases(function=spec.name) if case.result == "invalid"]
        assert len(refused) >= 2, spec.name


def test_choosing_cases() -> None:
    chosen = load_cases(group="speed", level=4)
    assert chosen
    assert all(case.group == "speed" and case.level == 4 for case in chosen)
    with pytest.raises(ValueError, match="no case has group 'flux'"):
        load_cases(group="flux")
    case = load_cases(function="starter_grading")[0]
    sections = decimals(case.expected)["section_resistance"]
    assert isinstance(sections, tuple)
    assert all(isinstance(value, Decimal) for value in sections)
    assert floats(case.expected)["current_ratio"] == pytest.approx(float(case.expected["current_ratio"]))


def test_flat_tables_hold_the_same_as_the_json() -> None:
    tables = {table.name: table for table in case_tables(WRITTEN["cases"])}
    for name, table in tables.items():
        assert (cases_folder() / name).read_text(encoding="utf-8") == csv_text(table), name
    with (cases_folder() / "cases.csv").open(encoding="utf-8", newline="") as stream:
        rows = {row["id"]: row for row in csv.DictReader(stream)}
    assert len(rows) == len(CASES)
    for case in CASES:
        row = rows[case.id]
        for part, values in (("given", case.inputs), ("expected", case.expected), ("tolerance", case.tolerance)):
            filled = {
                key.removeprefix(f"{part}."): text for key, text in row.items() if key.startswith(f"{part}.") and text
            }
            assert set(filled) == set(values)
            for name, value in values.items():
                parts = value if isinstance(value, tuple) else (value,)
                assert [Decimal(text) for text in filled[name].split(" ")] == [Decimal(str(part)) for part in parts]
    with (cases_folder() / "wrong_values.csv").open(encoding="utf-8", newline="") as stream:
        assert {row["flag"] for row in csv.DictReader(stream)} == set(load_flags())


def test_evidence_for_the_self_check_holds() -> None:
    found = list(evidence.checks())
    assert len(found) >= 7
    assert all(check.passed for check in found), [check for check in found if not check.passed]


def test_reading_the_cases_and_asking_our_own_model_loads_no_sympy() -> None:
    code = (
        "import sys, shuntref.conformance.cases as c, shuntref.conformance.own_model as m, "
        "shuntref.conformance.second_evaluator; c.load_cases(); "
        "print([name for name in ('sympy', 'mpmath', 'pandas') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
