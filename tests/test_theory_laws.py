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


#: a starter of three sections: 242 V less 2 V at the brushes over 60 A is 4 ohm, halved three times it is 0.5 ohm
STARTER = {
    "supply_voltage": 242, "brush_drop": 2, "upper_current": 60, "lower_current": 30, "current_ratio": 2, "sections": 3,
    "exact_sections": 3, "armature_resistance": "0.5", "studs": 4,
}  # fmt: skip
WARM = {"temperature_constant": 235, "reference_temperature": 15, "winding_temperature": 65}
LOSSES = {
    "added_armature_loss": 1, "added_field_loss": 2, "armature_copper_loss": 3, "brush_loss": 4, "field_copper_loss": 5,
    "line_loss": 6, "rotational_loss": 7,
}  # fmt: skip

#: law -> the quantities it speaks of; each line is plain arithmetic
ELSEWHERE = {
    "reaction-none": {"reaction_field_current": 0},
    # 0.1 + 2 x 1/(3 + 1)
    "flux-froehlich": {"k_phi": "0.6", "effective_field_current": 1, "froehlich_a": 2, "froehlich_b": 3,
                       "remanent_k_phi": "0.1"},
    # a fifth of 2 V s/rad is lost at 40 A
    "flux-loss": {"k_phi": "1.6", "undisturbed_k_phi": 2, "armature_current": 40, "flux_loss_per_ampere": "0.005"},
    "brush-drop-neglected": {"brush_drop": 0},
    "current-sum-separate": {"line_current": 40, "armature_current": 40},
    # 3 + 0.02 x 100 + 0.001 x 10000
    "load-quadratic": {"electromagnetic_torque": 15, "constant_torque": 3, "linear_torque_coefficient": "0.02",
                       "square_torque_coefficient": "0.001", "speed": 100},
    # 1000/100 + 3 + 2
    "load-constant-power": {"electromagnetic_torque": 15, "constant_torque": 3, "linear_torque_coefficient": "0.02",
                            "constant_power": 1000, "speed": 100},
    "speed-conversion": {"speed": 100 * sp.pi, "speed_rpm": 3000},
    "ideal-no-load": {"electromagnetic_torque": 0},
    "standstill": {"speed": 0},
    # (235 + 65)/(235 + 15) is 1.2
    "winding-temperature": {"winding_resistance": 120, "reference_resistance": 100} | WARM,
    "field-temperature": {"field_resistance": 120, "cold_field_resistance": 100} | WARM,
    "armature-temperature": {"armature_resistance": "0.6", "cold_armature_resistance": "0.5"} | WARM,
    "input-power-separate": {"input_power": 9840, "field_current": 2, "field_voltage": 120, "line_current": 40,
                             "source_voltage": 240},
    "total-loss": {"total_loss": 28} | LOSSES,
    "copper-loss": {"copper_loss": 11} | LOSSES,
    "efficiency": {"efficiency": "0.8", "output_power": 8000, "input_power": 10000},
    "efficiency-generating": {"efficiency": "0.8", "output_power": -10000, "input_power": -8000},
    # 500 x 0.02 x 4/(2 pi 2)
    "winding-constant": {"k_phi": 10 / sp.pi, "conductors": 500, "flux_per_pole": "0.02", "poles": 4, "parallel_paths": 2},
    "pole-pairs": {"poles": 6, "pole_pairs": 3},
    "lap-winding": {"parallel_paths": 6, "poles": 6},
    "wave-winding": {"parallel_paths": 2},
    "conductors-of-turns": {"conductors": 500, "armature_turns": 250},
    "turns-of-coils": {"armature_turns": 250, "coils": 50, "turns_per_coil": 5},
    "conductors-of-slots": {"conductors": 600, "conductors_per_slot": 20, "slots": 30},
    "demagnetising-field-current": {"reaction_field_current": "0.7", "demagnetising_mmf": 840, "field_turns": 1200},
    # 2 + 40 x 3/600 - 0.05
    "compound-field-current": {"effective_field_current": "2.15", "field_current": 2, "armature_current": 40,
                               "series_turns": 3, "field_turns": 600, "reaction_field_current": "0.05"},
    # 0.9 x 0.95 x 2
    "flux-ratio": {"k_phi": "1.71", "flux_ratio": "0.9", "reaction_flux_loss": "0.05", "reference_k_phi": 2},
    "curve-emf": {"curve_emf": 150, "curve_speed": 100, "k_phi": "1.5"},
    "armature-drop": {"armature_drop": 16, "armature_circuit_resistance": "0.4", "armature_current": 40},
    "armature-drop-neglected": {"back_emf": 240, "supply_voltage": 240},
    "armature-input-power": {"armature_input_power": 9600, "armature_current": 40, "supply_voltage": 240},
    "brush-pair": {"brush_drop": 3, "brush_drop_per_brush": "1.5"},
    "shaft-power": {"electromagnetic_power": 500, "electromagnetic_torque": 5, "speed": 100},
    "power-balance": {"electromagnetic_power": 500, "output_power": 450, "rotational_loss": 30, "stray_loss": 20},
    "loss-balance": {"input_power": 1000, "output_power": 900, "total_loss": 100},
    "stray-share-of-input": {"stray_loss": 10, "input_power": 1000, "stray_share": "0.01"},
    "stray-share-of-output": {"stray_loss": 9, "output_power": 900, "stray_share": "0.01"},
    "constant-loss-rotational-loss": {"constant_loss": 7, "rotational_loss": 7},
    "constant-loss-field-copper-loss-rotational-loss": {"constant_loss": 12} | LOSSES,
    "maximum-efficiency": {"armature_copper_loss": 12, "constant_loss": 12},
    "brake-torque": {"load_torque": 25, "brake_force": 100, "pulley_diameter": "0.5"},
    "starting-current": {"starting_current": 60, "armature_current": 60},
    "starting-resistance": {"starting_resistance": "3.5", "added_armature_resistance": "3.5"},
    "ideal-no-load-speed": {"supply_voltage": 240, "ideal_no_load_speed": 120, "k_phi": 2},
    # 2 (242 - 2)/0.5
    "stall-torque": {"stall_torque": 960, "k_phi": 2, "supply_voltage": 242, "brush_drop": 2,
                     "armature_circuit_resistance": "0.5"},
    "starter-ratio": STARTER,
    "starter-first-stud": STARTER | {"step_circuit_resistance": 4},
    "starter-sections": STARTER,
    "starter-grading-upper": STARTER,
    "starter-grading-lower": STARTER,
    "starter-stud": STARTER | {"step_circuit_resistance": 1, "step_number": 3},
    "starter-section": {"section_resistance": 3, "step_circuit_resistance": 4, "current_ratio": 4},
    "starter-next-stud": STARTER | {"next_step_circuit_resistance": 2, "step_circuit_resistance": 4},
    "starter-cut-section": {"section_resistance": "2.5", "next_step_circuit_resistance": "1.5", "step_circuit_resistance": 4},
    # 240 - 2 x 60: half of the net voltage, where 30 A flow through 4 ohm
    "starter-change-emf": STARTER | {"step_back_emf": 120, "next_step_circuit_resistance": 2},
    "starter-step-emf": STARTER | {"step_back_emf": 120, "step_circuit_resistance": 4},
    "starter-last-section": STARTER | {"section_resistance": "0.5", "step_circuit_resistance": 1},
    "starter-resistance": STARTER | {"starting_resistance": "3.5", "step_circuit_resistance": 4},
    "studs-of-sections": STARTER,
}  # fmt: skip


def _numbers(name):
    return {
        s(key): value if isinstance(value, sp.Expr) else sp.Rational(str(value))
        for key, value in ELSEWHERE[name].items()
    }


def test_no_law_is_left_without_numbers():
    beside = {name for name in all_laws() if set(law(name).quantities) <= set(BY_HAND)} | set(ON_HAND_NUMBERS)
    assert set(all_laws()) == beside | set(ELSEWHERE)


@pytest.mark.parametrize("name", sorted(set(all_laws()) - set(ELSEWHERE)))
def test_a_law_of_the_machine_holds_on_the_machine_worked_by_hand(name):
    numbers = {s(key): sp.Rational(str(value)) for key, value in BY_HAND.items()}
    assert law(name).residual.subs(numbers) == 0


@pytest.mark.parametrize("name", ELSEWHERE)
def test_a_law_holds_on_its_numbers_and_on_no_others(name):
    numbers = _numbers(name)
    entry = law(name)
    assert sp.simplify(entry.residual.subs(numbers)) == 0
    for quantity in entry.quantities:
        off = numbers[s(quantity)] * sp.Rational(11, 10) + sp.Rational(1, 10)
        assert sp.simplify(entry.residual.subs({**numbers, s(quantity): off})) != 0, quantity
