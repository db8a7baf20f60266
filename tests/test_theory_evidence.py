"""The evidence of the symbolic layer: all of it passes, and a planted fault makes it fail."""

from collections import Counter
from dataclasses import replace

import sympy as sp

from shuntref.theory import evidence
from shuntref.theory.derivation import DERIVABLE
from shuntref.theory.laws import all_laws, law
from shuntref.theory.theorems import THEOREMS


def test_all_evidence_passes_and_none_is_missing():
    found = list(evidence.checks())
    assert [check.statement for check in found if not check.passed] == []
    count = Counter(check.group for check in found)
    assert count["dimensions of the laws"] == len(all_laws())
    for group in (
        "theorems proved",
        "theorems without their condition",
        "examples of theorems",
        "counterexamples to theorems",
    ):
        assert count[group] == len(THEOREMS)
    assert count["derivations, step by step"] > 200
    assert len({check.statement for check in found}) == len(found)
    assert all(check.detail for check in found)


def test_every_derivable_quantity_is_among_the_evidence():
    assert {quantity for quantity, _ in evidence.DERIVATIONS} == set(DERIVABLE)


def test_a_theorem_without_its_condition_fails_the_evidence():
    broken = THEOREMS["weakening-the-field"].without_condition()
    verdicts = {check.group: check.passed for check in evidence._theorem(broken)}
    assert verdicts["theorems proved"] is False
    assert verdicts["counterexamples to theorems"] is False


def test_a_law_with_a_wrong_dimension_fails_the_evidence(monkeypatch):
    from shuntref.theory import dimensions

    true = law("torque")
    faulty = {**all_laws(), "torque": replace(true, equation=sp.Eq(true.equation.lhs, true.equation.rhs**2))}
    monkeypatch.setattr(dimensions, "all_laws", lambda: faulty)
    assert [check.statement for check in evidence._dimensions() if not check.passed] == [
        "law torque has one dimension throughout"
    ]


def test_a_result_of_another_dimension_fails_the_evidence():
    from shuntref.theory.derivation import derive

    derivation = derive("speed")
    last = derivation.steps[-1]
    wrong = replace(last, result=sp.Eq(last.result.lhs, last.result.rhs**2, evaluate=False))
    assert not evidence._dimension_of_result(replace(derivation, steps=(*derivation.steps[:-1], wrong))).passed
