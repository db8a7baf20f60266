"""Harder exercises of our own, solved by the exercise solver and, quite apart from it, by the numeric model."""

from itertools import pairwise

import pytest

from shuntref.exercises.run import NoPhysicalRoot
from shuntref.exercises.solver import solve, solve_precisely
from shuntref.exercises.statement_file import exercise_from_text
from shuntref.model.flux import FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, ProportionalTorque, SquareTorque
from shuntref.model.machine import Machine
from shuntref.model.reaction import ProportionalReaction
from shuntref.model.sizing import added_field_resistance_for_speed
from shuntref.model.steady import steady_state

HEAD = 'title = "Test"\nstatement = "A test."\n'
CURRENTS, EMFS = (0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0), (6.0, 80.0, 150.0, 195.0, 225.0, 250.0, 266.0, 275.0)


def test_a_measured_curve_with_armature_reaction_and_a_given_torque() -> None:
    text = (
        HEAD
        + f"""
[shared]
supply_voltage = "250 V"
armature_resistance = "0.06 ohm"
field_resistance = "50 ohm"
reaction_coefficient = "0.003 A/A"
[flux]
law = "table"
at_speed = "1200 r/min"
field_current = "{", ".join(map(str, CURRENTS))} A"
back_emf = "{", ".join(map(str, EMFS))} V"
join = "cubic"
[state.run]
electromagnetic_torque = "400 N m"
[answer.speed]
of = "speed"
[answer.current]
of = "line_current"
"""
    )
    machine = Machine(armature_resistance=0.06, field_resistance=50.0, flux=TableFlux(CURRENTS, EMFS, 1200.0),
                      armature_reaction=ProportionalReaction(0.003))  # fmt: skip
    point = steady_state(machine, supply_voltage=250.0, load_torque=400.0)
    for solution in (solve(exercise_from_text(text)), solve_precisely(exercise_from_text(text))):
        assert solution.value("run.speed") == pytest.approx(point.speed, rel=1e-9)
        assert solution.value("run.line_current") == pytest.approx(point.line_current, rel=1e-9)


FROEHLICH = (
    HEAD
    + """
[shared]
supply_voltage = "120 V"
armature_resistance = "0.8 ohm"
field_resistance = "160 ohm"
froehlich_a = "1.6 V s/rad"
froehlich_b = "0.9 A"
remanent_k_phi = "0.03 V s/rad"
[flux]
law = "froehlich"
[state.a]
armature_current = "8 A"
[state.b]
added_field_resistance = "20 ohm"
[[link]]
same = "electromagnetic_torque"
[answer.first]
of = "a.speed"
[answer.second]
of = "b.speed"
"""
)


def test_a_saturating_field_at_the_same_torque() -> None:
    machine = Machine(armature_resistance=0.8, field_resistance=160.0, flux=FroehlichFlux(1.6, 0.9, 0.03))
    torque = float(machine.flux.k_phi(0.75)) * 8.0
    solution = solve(exercise_from_text(FROEHLICH))
    for name, rheostat in (("a", 0.0), ("b", 20.0)):
        point = steady_state(machine, supply_voltage=120.0, load_torque=torque, added_field_resistance=rheostat)
        assert solution.value(f"{name}.speed") == pytest.approx(point.speed, rel=1e-10)
        assert solution.value(f"{name}.armature_current") == pytest.approx(point.armature_current, rel=1e-10)


def test_the_rheostat_for_a_wanted_speed_on_a_saturating_field() -> None:
    text = FROEHLICH.replace('added_field_resistance = "20 ohm"', 'speed = "1700 r/min"')
    text = text.replace('of = "b.speed"', 'of = "b.added_field_resistance"')
    machine = Machine(armature_resistance=0.8, field_resistance=160.0, flux=FroehlichFlux(1.6, 0.9, 0.03))
    torque = float(machine.flux.k_phi(0.75)) * 8.0
    wanted = added_field_resistance_for_speed(machine, speed=1700 * 3.141592653589793 / 30, supply_voltage=120.0,
                                              load_torque=torque)  # fmt: skip
    assert solve(exercise_from_text(text)).value("b.added_field_resistance") == pytest.approx(
        wanted.resistance, rel=1e-8
    )


def test_a_load_given_in_figures() -> None:
    text = (
        HEAD
        + """
[shared]
supply_voltage = "120 V"
armature_resistance = "0.8 ohm"
field_resistance = "160 ohm"
flux_constant = "1.0 V s/(rad A)"
constant_torque = "1 N m"
linear_torque_coefficient = "0.01 N m s/rad"
square_torque_coefficient = "0.0002 N m s^2/rad^2"
[flux]
law = "proportional"
[state.run]
[answer.speed]
of = "speed"
"""
    )
    machine = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    load = ConstantTorque(1.0) + ProportionalTorque(0.01) + SquareTorque(0.0002)
    point = steady_state(machine, supply_voltage=120.0, load=load)
    assert solve(exercise_from_text(text)).value("run.speed") == pytest.approx(point.speed, rel=1e-10)


def test_constant_power_while_the_field_is_weakened() -> None:
    text = (
        HEAD
        + """
[shared]
supply_voltage = "400 V"
armature_resistance = "0.3 ohm"
field_resistance = "200 ohm"
[flux]
law = "proportional"
[state.base]
armature_current = "60 A"
speed = "900 r/min"
[state.fast]
added_field_resistance = "60 ohm"
[[link]]
load = "constant-power"
torque = "electromagnetic_torque"
[answer.speed]
of = "fast.speed"
"""
    )
    emf, speed = 400 - 60 * 0.3, 900 * 3.141592653589793 / 30
    machine = Machine(armature_resistance=0.3, field_resistance=200.0, flux=ProportionalFlux(emf / speed / 2.0))
    point = steady_state(machine, supply_voltage=400.0, load=ConstantPower(emf * 60.0), added_field_resistance=60.0)
    solution = solve(exercise_from_text(text))
    assert solution.value("fast.speed") == pytest.approx(point.speed, rel=1e-10)


LINEAR = (
    HEAD
    + """
[shared]
supply_voltage = "120 V"
armature_resistance = "0.8 ohm"
field_resistance = "160 ohm"
[flux]
law = "table"
at_speed = "1500 r/min"
field_current = "0, 0.2, 0.4, 0.6, 0.8 A"
back_emf = "4, 45, 80, 105, 120 V"
join = "linear"
[state.a]
armature_current = "8 A"
[state.b]
speed = "1900 r/min"
[[link]]
same = "electromagnetic_torque"
[answer.rheostat]
of = "b.added_field_resistance"
"""
)


def test_a_rheostat_on_a_curve_of_straight_lines_satisfies_the_bare_equations() -> None:
    """No table of straight lines in the numeric model: the solution is put into the equations by hand."""
    solution = solve(exercise_from_text(LINEAR))
    current, rheostat = solution.value("b.armature_current"), solution.value("b.added_field_resistance")

    def k_phi(field: float) -> float:
        points = list(zip((0.0, 0.2, 0.4, 0.6, 0.8), (4.0, 45.0, 80.0, 105.0, 120.0), strict=True))
        for (low, start), (high, end) in pairwise(points):
            if low <= field <= high:
                return (start + (end - start) * (field - low) / (high - low)) / (1500 * 3.141592653589793 / 30)
        raise AssertionError(field)

    weak = k_phi(120 / (160 + rheostat))
    assert 120 - 0.8 * current == pytest.approx(weak * 1900 * 3.141592653589793 / 30, rel=1e-9)
    assert weak * current == pytest.approx(k_phi(0.75) * 8.0, rel=1e-9)
    # and the other root satisfies them too, with a weaker field still
    (other,) = solution.choices[0].others
    assert other.answers["rheostat"] > rheostat


@pytest.mark.parametrize(("emf", "action"), [("125 V", "motor"), ("123 V", "generator")])
def test_a_machine_that_acts_the_other_way_round_than_stated_is_no_answer(emf: str, action: str) -> None:
    text = (
        HEAD
        + f"""
[state.running]
supply_voltage = "124 V"
armature_resistance = "0.02 ohm"
back_emf = "{emf}"
action = "{action}"
[answer.current]
of = "armature_current"
"""
    )
    with pytest.raises(NoPhysicalRoot, match="action is the other one"):
        solve(exercise_from_text(text))
    other = {"motor": "generator", "generator": "motor"}[action]
    solution = solve(exercise_from_text(text.replace(f'"{action}"', f'"{other}"')))
    assert abs(solution.value("running.armature_current")) == pytest.approx(50)
