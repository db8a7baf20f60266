"""Every named mistake of every function, and our own model on every level, done again and compared with what is stored."""

from __future__ import annotations

import json
from decimal import Decimal

from shuntref.conformance.certify import certify
from shuntref.conformance.comparison import worst_share
from shuntref.conformance.generate import cases_folder
from shuntref.conformance.groups import all_entries
from shuntref.conformance.own_model import FUNCTIONS
from shuntref.conformance.second_evaluator import evaluate
from shuntref.conformance.suite import load_suite

SUITE = load_suite()


def stored():
    cases = json.loads((cases_folder() / "cases.json").read_text(encoding="utf-8"))["cases"]
    return {case["id"]: case for case in cases}


def test_the_rows_that_show_a_mistake_first_are_certified_to_the_same_digits():
    """For each function so many rows that each of its mistakes is made once: values, conditions, tolerances, wrong values."""
    frozen = stored()
    for name, entry in all_entries().items():
        shown = set()
        for row in entry.rows:
            case = frozen[f"{name.replace('_', '-')}-{row.words}"]
            flags = {flag["flag"] for flag in case["flags"]}
            if not flags <= shown:
                shown |= flags
                assert certify(name, entry, row) == case


def test_our_own_model_answers_the_first_case_of_each_level_of_every_function():
    wrong = []
    for name in SUITE.functions:
        firsts = {}
        for case in SUITE.cases:
            if case.function == name:
                firsts.setdefault((case.level, case.result), case)
        for case in firsts.values():
            try:
                answer = FUNCTIONS[name](**case.inputs)
            except ValueError:
                answer = None
            if worst_share(case, answer) > 1:
                wrong.append((case.id, answer))
    assert wrong == []


def test_the_second_evaluator_answers_the_first_case_of_each_level_of_every_function():
    wrong = []
    for name in SUITE.functions:
        firsts = {}
        for case in SUITE.cases:
            if case.function == name and case.result == "valid":
                firsts.setdefault(case.level, case)
        wrong += [
            case.id for case in firsts.values() if worst_share(case, evaluate(name, case.inputs)) > Decimal("1e-9")
        ]
    assert wrong == []
