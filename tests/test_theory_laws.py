"""The laws: named, over registry symbols, right on hand numbers, and dimensionally consistent."""

from dataclasses import replace

import pytest
import sympy as sp

from shuntref.quantities.registry import REGISTRY
from shuntref.theory import laws as room
from shuntref.theory.dimensions import DimensionError, check_all_laws, dimension_of, law_dimensions
from shuntref.theory.laws import all_laws, law
from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

NEEDED = {
    "field-circuit",
    "flux-proportional",
    "flux-froehlich",
    "armature-emf",
    "torque",
    "armature-circuit",
    "armature-circuit-signed",
    "armature-circuit-resistance",
    "field-circuit-resistance",
    "current-sum",
    "torque-balance",
    "line-drop",
    "speed-conversion",
    "input-power",
    "field-copper-loss",
    "added-field-loss",
    "armature-copper-loss",
    "added-armature-loss",
    "brush-loss",
    "line-loss",
    "electromagnetic-power",
    "rotational-loss",
    "output-power",
    "total-loss",
    "efficiency",
    "reaction-proportional",
    "effective-field-current",
    "winding-temperature",
}

# A motor worked out by hand: 120 V, 160 ohm of field, 0.8 ohm of armature, 8 A; every line below is plain arithmetic.
BY_HAND = {
    "supply_voltage": 120,
    "field_voltage": 120,
    "field_resistance": 150,
    "added_field_resistance": 10,
    "field_circuit_resistance": 160,
    "field_current": "3/4",
    "reaction_field_current": "1/20",
    "effective_field_current": "7/10",
    "reaction_coefficient": "1/160",
    "flux_constant": 1,
    "k_phi": "7/10",
    "armature_current": 8,
    "armature_resistance": "4/5",
    "added_armature_resistance": "1/5",
    "armature_circuit_resistance": 1,
    "brush_drop": 2,
    "back_emf": 110,
    "speed": "1100/7",
    "electromagnetic_torque": "28/5",
    "load_torque": 5,
    "loss_torque": "3/5",
    "line_current": "35/4",
    "line_resistance": "2/5",
    "source_voltage": "247/2",
    "input_power": "8645/8",
    "field_copper_loss": "675/8",
    "added_field_loss": "45/8",
    "armature_copper_loss": "256/5",
    "added_armature_loss": "64/5",
    "brush_loss": 16,
    "line_loss": "245/8",
    "electromagnetic_power": 880,
    "rotational_loss": "660/7",
    "output_power": "5500/7",
}
ON_HAND_NUMBERS = sorted(
    NEEDED - {"flux-froehlich", "speed-conversion", "total-loss", "efficiency", "winding-temperature"}
)


def test_the_laws_of_the_machine_are_all_there():
    assert set(all_laws()) >= NEEDED
    assert room.ALL_LAWS is all_laws()


@pytest.mark.parametrize("name", sorted(all_laws()))
def test_law_speaks_of_registry_quantities_only(name):
    assert set(law(name).quantities) <= set(REGISTRY)
    assert law(name).title
    assert law(name).when


@pytest.mark.parametrize("name", ON_HAND_NUMBERS)
def test_law_is_obeyed_by_numbers_worked_out_by_hand(name):
    numbers = {s(key): sp.Rational(str(value)) for key, value in BY_HAND.items()}
    assert law(name).residual.subs(numbers) == 0


@pytest.mark.parametrize("name", ON_HAND_NUMBERS)
def test_law_is_not_obeyed_when_one_number_is_off(name):
    numbers = {s(key): sp.Rational(str(value)) for key, value in BY_HAND.items()}
    for wrong in law(name).quantities:
        assert law(name).residual.subs({**numbers, s(wrong): numbers[s(wrong)] * sp.Rational(11, 10)}) != 0


def test_sixty_revolutions_a_minute_are_one_turn_a_second():
    assert law("speed-conversion").equation.rhs.subs(s("speed_rpm"), 60) == 2 * sp.pi


def test_froehlich_curve_has_half_its_gain_at_b():
    curve = law("flux-froehlich").equation.rhs
    at_b = curve.subs(s("effective_field_current"), s("froehlich_b"))
    assert sp.simplify(at_b - s("remanent_k_phi") - s("froehlich_a") / 2) == 0


def test_copper_gains_resistance_as_the_temperature_constant_says():
    residual = law("winding-temperature").residual
    numbers = {
        "temperature_constant": 235,
        "reference_temperature": 15,
        "winding_temperature": 65,
        "reference_resistance": 100,
        "winding_resistance": 120,
    }  # (235 + 65)/(235 + 15) = 1.2
    assert residual.subs({s(name): value for name, value in numbers.items()}) == 0


def test_losses_by_hand_leave_the_output_of_the_motor():
    losses = law("total-loss").equation.rhs.subs({s(k): sp.Rational(str(v)) for k, v in BY_HAND.items()})
    assert sp.Rational(8645, 8) - losses == sp.Rational(5500, 7)


def test_unknown_law_is_refused_with_the_list():
    with pytest.raises(ValueError, match=r"unknown law 'ohm'.*field-circuit"):
        law("ohm")


def test_unknown_attribute_of_the_room_is_an_attribute_error():
    with pytest.raises(AttributeError, match="nonsense"):
        _ = room.nonsense


@pytest.mark.parametrize("name", sorted(all_laws()))
def test_law_has_one_dimension_throughout(name):
    found = check_all_laws()[name]
    assert found.consistent, found.detail


I_a, k, R, U, n, omega = (
    s(x) for x in ("armature_current", "k_phi", "armature_circuit_resistance", "supply_voltage", "speed_rpm", "speed")
)
WRONG_LAWS = {
    "torque with k_phi squared": sp.Eq(s("electromagnetic_torque"), k**2 * I_a),
    "a voltage plus a current": sp.Eq(U, s("back_emf") + I_a),
    "drop without its resistance": sp.Eq(U, s("back_emf") + I_a * R**2),
    "EMF from revolutions without 2 pi": sp.Eq(s("back_emf"), k * n),
    "k_phi taken for a flux in webers": sp.Eq(s("back_emf"), s("flux_per_pole") * omega),
    "power from torque and revolutions": sp.Eq(s("output_power"), s("load_torque") * n),
    "loss with the current not squared": sp.Eq(s("armature_copper_loss"), I_a * s("armature_resistance")),
    "exponent with a dimension": sp.Eq(U, s("back_emf") * s("current_ratio") ** I_a),
    "sum of unlike things within a side": sp.Eq(U, s("back_emf") + I_a * (R + k)),
    "voltage as a number": sp.Eq(U, sp.Integer(120)),
}


@pytest.mark.parametrize("fault", WRONG_LAWS)
def test_wrong_law_is_found_inconsistent(fault):
    found = law_dimensions(Law(fault, fault, WRONG_LAWS[fault]))
    assert not found.consistent
    assert found.detail


def test_a_function_without_a_rule_is_refused():
    with pytest.raises(DimensionError, match="no rule"):
        dimension_of(sp.exp(k))
    assert not law_dimensions(replace(law("torque"), equation=sp.Eq(I_a, sp.cos(k)))).consistent
