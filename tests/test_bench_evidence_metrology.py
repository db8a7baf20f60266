"""The bench's own evidence passes, states its sources, and a broken fit would not slip through it."""

import numpy as np
import pytest

from shuntref.bench import evidence_metrology
from shuntref.bench.evidence_metrology import agreeing_digits, checks


def test_every_check_passes_and_names_its_source():
    outcomes = list(checks())
    assert len(outcomes) >= 25
    for check in outcomes:
        assert check.passed, f"{check.statement}: {check.detail}"
        assert check.source or check.group == "coverage"


def test_a_wrong_curve_is_not_certified(monkeypatch):
    monkeypatch.setitem(
        evidence_metrology.CERTIFIED_MODELS, "misra1d", lambda x, b1, b2: b1 * b2 * x / (1.0001 + b2 * x)
    )
    failed = [check for check in evidence_metrology._fit_checks() if not check.passed]
    assert len(failed) == 2


@pytest.mark.parametrize(("found", "digits"), [([2.0], 16.0), ([-2.0], -0.3), ([np.nan], -np.inf), ([2.002], 3.0)])
def test_agreeing_digits_are_signed_and_never_forgive_a_blank(found, digits):
    assert agreeing_digits(found, [2.0]) == pytest.approx(digits, abs=0.05)
