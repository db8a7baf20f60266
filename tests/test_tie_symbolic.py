"""Each formula of the numeric model, fed with sympy symbols, equals the form derived from the laws: difference exactly 0."""

import inspect

import pytest
import sympy as sp

from shuntref.model import formulas
from shuntref.theory.formula_forms import FORMULA_FORMS, tie

# Arithmetic that is no physics: no law speaks of it.
PLUMBING = {"square_root"}
PUBLIC = sorted(name for name in formulas.__all__ if inspect.isfunction(getattr(formulas, name)))


def test_formulas_are_there_to_be_tied():
    assert len(PUBLIC) > 50


@pytest.mark.parametrize("name", [name for name in PUBLIC if name not in PLUMBING])
def test_formula_equals_the_form_derived_from_the_laws(name):
    check = tie(name, getattr(formulas, name))
    assert check.passed, check.detail


def test_no_public_formula_lacks_a_derived_form():
    assert set(PUBLIC) - PLUMBING - set(FORMULA_FORMS) == set()


def test_no_derived_form_lacks_a_formula():
    assert set(FORMULA_FORMS) - set(PUBLIC) == set()


def test_square_root_of_a_symbol_is_exact():
    x = sp.Symbol("x", positive=True)
    assert formulas.square_root(x) ** 2 == x
    assert formulas.square_root(x**2) == x


def test_a_formula_without_counterpart_is_reported():
    assert not tie("speed_from_wishes", lambda k_phi: k_phi).passed


WRONG = {
    "sign of the torque term": (
        "speed_from_torque",
        lambda supply_voltage, k_phi, torque, resistance: (supply_voltage + torque * resistance / k_phi) / k_phi,
    ),
    "k_phi not squared": (
        "speed_from_torque",
        lambda supply_voltage, k_phi, torque, resistance: (supply_voltage - torque * resistance) / k_phi,
    ),
    "weak-field root instead of the upper one": ("k_phi_for_speed", formulas.k_phi_for_speed_weak_field),
    "unstable root instead of the stable one": (
        "armature_current_with_reaction",
        formulas.armature_current_beyond_reaction_peak,
    ),
    "factor 2 forgotten in the quadratic": (
        "speed_with_quadratic_torque",
        lambda *a: formulas.speed_with_quadratic_torque(*a) / 2,
    ),
    "brush drop added": (
        "armature_current",
        lambda net_voltage, back_emf, armature_circuit_resistance: (
            (net_voltage + back_emf) / armature_circuit_resistance
        ),
    ),
    "number close to it but not it": (
        "peak_speed",
        lambda supply_voltage, torque, resistance: (
            formulas.peak_speed(supply_voltage, torque, resistance) * sp.Rational(10**12 + 1, 10**12)
        ),
    ),
}


@pytest.mark.parametrize("fault", WRONG)
def test_a_wrong_formula_is_not_tied(fault):
    name, function = WRONG[fault]
    parameters = inspect.signature(getattr(formulas, name)).parameters
    if list(inspect.signature(function).parameters) == ["a"]:
        original = function

        def function(*arguments):
            return original(*arguments)

        function.__signature__ = inspect.Signature(list(parameters.values()))
    assert not tie(name, function).passed
