"""Whole derivations as they are printed: read step by step when they were put here, and each result tried on numbers below."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from pathlib import Path
from typing import Any

import pytest
import sympy as sp

from shuntref.theory.derivation import derive
from shuntref.theory.dimensions import law_dimensions
from shuntref.theory.general_state import general_state
from shuntref.theory.laws import law
from shuntref.theory.notation import latex, text
from shuntref.theory.rendering import render
from shuntref.theory.symbols import symbol as s

PAGES = Path(__file__).with_name("pages") / "derivations"
FORMS = {"text": "txt", "markdown": "md", "latex": "tex"}
DERIVED: dict[str, tuple[str, dict[str, Any]]] = {
    "speed": ("speed", {}),
    "current-with-reaction": ("armature_current", {"flux": "proportional", "reaction": True}),
    "field-rheostat": ("added_field_resistance", {"flux": "froehlich", "connection": "separate"}),
    "winding-temperature": ("winding_temperature", {}),
    "ideal-no-load": ("ideal_no_load_speed", {"brush_drop": True}),
}
#: 240 V, 0.3 + 0.1 ohm, 50 N m at 1.25 V s/rad: 40 A, 224 V
MOTOR: dict[str, Any] = {
    "supply_voltage": 240, "k_phi": 1.25, "armature_resistance": 0.3, "added_armature_resistance": 0.1,
    "electromagnetic_torque": 50, "field_resistance": 100, "added_field_resistance": 20, "flux_constant": 0.625,
    "reaction_coefficient": 0.005, "speed": 179.2, "field_voltage": 120, "froehlich_a": 2.4, "froehlich_b": 2,
    "remanent_k_phi": 0.05, "winding_resistance": 120, "reference_resistance": 100, "temperature_constant": 235,
    "reference_temperature": 15,
}  # fmt: skip
BY_HAND = {
    "speed": 224 / 1.25,
    # 0.625 (2 - 0.005 I) I = 50: I^2 - 400 I + 16000 = 0
    "current-with-reaction": 200 - sqrt(200**2 - 16000),
    # 1.25 = 0.05 + 2.4 I/(2 + I) at 2 A: 60 ohm in all, less than the winding has
    "field-rheostat": 120 / 2 - 100,
    "winding-temperature": 65,
    "ideal-no-load": 240 / 1.25,
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", DERIVED)
def test_a_derivation_is_as_it_was_read(name: str, form: str) -> None:
    quantity, options = DERIVED[name]
    assert render(derive(quantity, **options), form) == (PAGES / f"{name}.{FORMS[form]}").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", DERIVED)
def test_what_was_derived_gives_the_number_worked_by_hand(name: str) -> None:
    quantity, options = DERIVED[name]
    result = derive(quantity, **options).steps[-1].result
    assert str(result.lhs) == quantity
    assert float(result.rhs.subs({s(key): sp.nsimplify(value) for key, value in MOTOR.items()})) == pytest.approx(
        BY_HAND[name], rel=1e-12
    )


@pytest.mark.parametrize(
    ("quantity", "flux", "given", "two"),
    [
        ("speed", "general", "torque", False),
        ("armature_current", "general", "torque", False),
        ("armature_current", "general", "speed", False),
        # c U/R_ft in the place of k_phi: the torque's current goes inversely as U, so U = U_s - I R_l is a quadratic
        ("speed", "proportional", "torque", True),
        ("armature_current", "proportional", "torque", True),
        # at a known speed the EMF goes as U, and everything is linear
        ("armature_current", "proportional", "speed", False),
        ("speed", "froehlich", "torque", True),
        ("armature_current", "froehlich", "speed", True),
    ],
)
def test_behind_a_line_the_voltage_is_a_root_only_where_the_field_makes_it_one(
    quantity: str, flux: str, given: str, two: bool
) -> None:
    page = render(derive(quantity, flux=flux, given=given, line_resistance=True))
    assert ("of the two roots" in page) is two


@pytest.mark.parametrize(
    ("law_name", "dimension"),
    [
        ("torque", "angle^-1 length^2 mass time^-2"),
        ("standstill", "angle time^-1 on one side, zero on the other"),
        ("brush-drop-neglected", "current^-1 length^2 mass time^-3 on one side, zero on the other"),
        ("efficiency", "a number"),
        ("winding-temperature", "current^-2 length^2 mass temperature time^-3"),
    ],
)
def test_the_dimension_of_a_law_is_said_in_base_dimensions(law_name: str, dimension: str) -> None:
    # V = kg m2/(A s3), ohm = kg m2/(A2 s3), N m per radian
    assert law_dimensions(law(law_name)).detail == dimension


def test_a_law_of_two_dimensions_says_both() -> None:
    wrong = replace(law("torque"), equation=sp.Eq(s("electromagnetic_torque"), s("k_phi")))
    found = law_dimensions(wrong)
    assert not found.consistent
    assert found.detail == (
        "left side angle^-1 length^2 mass time^-2, right side angle^-1 current^-1 length^2 mass time^-2"
    )


@pytest.mark.parametrize(
    ("assumptions", "by_hand"),
    [
        # 40 A in 0.4 ohm: at the peak of speed half of the voltage is dropped there, the other half is the back EMF
        ("peak-speed brush-drop-neglected", {"back_emf": 16, "supply_voltage": 32, "speed": 12.8, "line_current": 42}),
        ("peak-speed", {"back_emf": 16, "supply_voltage": 34}),
        # the reaction has taken half of the 2 A when the torque is at its peak: 1/0.02 A
        ("peak-torque reaction-proportional",
         {"armature_current": 50, "reaction_field_current": 1, "electromagnetic_torque": 62.5}),
        ("ideal-no-load", {"armature_current": 0, "electromagnetic_torque": 0, "line_current": 2, "supply_voltage": 126}),
        # at no current the brushes drop nothing
        ("ideal-no-load armature-circuit-signed", {"supply_voltage": 124, "armature_current": 0}),
        ("standstill", {"speed": 0, "back_emf": 0, "supply_voltage": 18}),
        ("current-sum-separate", {"line_current": 40, "field_voltage": 110, "supply_voltage": 142}),
        ("", {"line_current": 42, "field_voltage": 142, "supply_voltage": 142, "back_emf": 124, "load_torque": 47}),
        ("brush-drop-neglected", {"supply_voltage": 140}),
        ("load-constant-power", {"constant_torque": 50 - 5 - 0.1 * 99.2, "electromagnetic_torque": 50}),
        ("", {"constant_torque": 50 - 0.1 * 99.2 - 0.001 * 99.2**2}),
    ],
)  # fmt: skip
def test_the_general_state_under_each_assumption(assumptions: str, by_hand: dict[str, float]) -> None:
    numbers = {
        "armature_current": 40, "armature_resistance": 0.3, "added_armature_resistance": 0.1, "k_phi": 1.25, "speed": 99.2,
        "brush_drop": 2, "field_current": 2, "reaction_coefficient": 0.02, "field_voltage": 110, "loss_torque": 3,
        "linear_torque_coefficient": 0.1, "square_torque_coefficient": 0.001, "constant_power": 496,
    }  # fmt: skip
    state = general_state(frozenset(assumptions.split()))
    values = {s(name): sp.nsimplify(value) for name, value in numbers.items()}
    for name, value in by_hand.items():
        assert float(state[name].subs(values)) == pytest.approx(value, rel=1e-12), name


def test_direction_and_size_are_written_out() -> None:
    """The drop at the brushes opposes either current; its loss is heat in either direction."""
    assert text(law("armature-circuit-signed").equation) == "U = E + I_a·R + U_b·sign(I_a)"
    assert latex(law("armature-circuit-signed").equation) == r"U = E + I_a R + U_b \mathrm{sign}\left(I_a\right)"
    assert text(law("brush-loss").equation) == "P_b = U_b·|I_a|"
    assert latex(law("brush-loss").equation) == r"P_b = U_b \left|I_a\right|"
