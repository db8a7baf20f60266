"""Facts about motors that the numeric solver must show, each worked out here from the laws as they stand.

``Plant`` says a machine once more in plain functions. What balances is found by a dense scan over the armature current and
scipy's bracketing root finder, what is stable by finite differences of the two torques.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from shuntref.model.block_solver import plan_of
from shuntref.model.bulk import shunt_speed
from shuntref.model.field_for_speed import k_phi_for_target
from shuntref.model.flux import FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import (
    ConstantPower,
    ConstantTorque,
    Load,
    LoadTerms,
    ProportionalTorque,
    SquareTorque,
    UserLoad,
)
from shuntref.model.machine import Machine
from shuntref.model.reaction import FluxLoss, NoReaction, ProportionalReaction, TableReaction
from shuntref.model.setting import gather
from shuntref.model.sizing import added_armature_resistance_for_speed
from shuntref.model.status import InfeasibleError
from shuntref.model.steady import steady_state
from shuntref.model.torque_balance import Directed, TorqueBalance, balance_of

Function = Callable[[Any], Any]
LINEAR = (ProportionalFlux(1.0), lambda i: i)
SATURATED = (FroehlichFlux(1.6, 0.9, 0.03), lambda i: 0.03 + 1.6 * i / (0.9 + abs(i)))
NONE = (NoReaction(), lambda i: 0.0, lambda i: 1.0)


def shifted(d: float) -> tuple[Any, Function, Function]:
    return ProportionalReaction(d), lambda i: d * i, lambda i: 1.0


def straight_table(d: float) -> tuple[Any, Function, Function]:
    """A table whose curve is a straight line through nought, the same for both directions of the current."""
    return TableReaction((0.0, 50.0, 400.0), (0.0, 50.0 * d, 400.0 * d)), lambda i: d * abs(i), lambda i: 1.0


def weakened(percent: float, amperes: float) -> tuple[Any, Function, Function]:
    return FluxLoss(percent, amperes), lambda i: 0.0, lambda i: 1.0 - percent / 100.0 * abs(i) / amperes


@dataclass
class Plant:
    """A machine and its circuit, in the model's parts and in plain functions."""

    flux: tuple[Any, Function] = LINEAR
    reaction: tuple[Any, Function, Function] = NONE
    volts: float = 120.0
    field_volts: float = 100.0
    r_a: float = 0.6
    r_ax: float = 0.2
    r_f: float = 140.0
    r_fx: float = 20.0
    drop: float = 0.0
    line: float = 0.0
    connection: str = "shunt"
    loss: float = 0.0
    machine: Machine = field(init=False)

    def __post_init__(self) -> None:
        self.machine = Machine(
            armature_resistance=self.r_a, field_resistance=self.r_f, flux=self.flux[0],
            armature_reaction=self.reaction[0], brush_drop=self.drop, line_resistance=self.line,
            loss_torque=ConstantTorque(self.loss), connection=self.connection,
        )  # fmt: skip

    def setting(self) -> dict[str, Any]:
        given = {
            "source_voltage": self.volts, "added_field_resistance": self.r_fx, "added_armature_resistance": self.r_ax,
        }  # fmt: skip
        return {**given, "field_voltage": self.field_volts} if self.connection == "separate" else given

    def solve(self, load: Load, **more: Any) -> Any:
        return steady_state(self.machine, load=load, **self.setting(), **more)

    def field_and_volts(self, current: Any) -> tuple[Any, Any]:
        ohms = self.r_f + self.r_fx
        if self.connection == "separate":
            return self.field_volts / ohms, self.volts - self.line * current
        volts = (self.volts - self.line * current) / (1.0 + self.line / ohms)
        return volts / ohms, volts

    def k_phi(self, current: Any) -> Any:
        field_current, _ = self.field_and_volts(current)
        return self.flux[1](field_current - self.reaction[1](current)) * self.reaction[2](current)

    def speed(self, current: Any, sign: float | None = None) -> Any:
        _, volts = self.field_and_volts(current)
        sign = np.copysign(1.0, current) if sign is None else sign
        return (volts - sign * self.drop - current * (self.r_a + self.r_ax)) / self.k_phi(current)

    def standstill(self) -> float:
        """The current at which the shaft stops, or the flux is gone if that comes first."""
        most = float(brentq(lambda i: self.speed(i, 1.0) * self.k_phi(i), 0.0, 1e5))
        gone = np.flatnonzero(self.k_phi(np.linspace(0.0, most, 4001)) <= 0.0)
        return float(most * gone[0] / 4000.0) if gone.size else most

    def balances(self, asked: Function) -> list[float]:
        """Currents of every balance, by a dense scan on both sides of no load."""

        def left_over(current: Any) -> Any:
            return self.k_phi(current) * current - asked(self.speed(current)) - self.loss

        most = self.standstill()
        found = []
        for low, high in ((1e-9, most * (1.0 - 1e-9)), (-7.9 * most, -1e-9)):
            currents = np.linspace(low, high, 3001)
            currents = currents[self.k_phi(currents) + 0.0 * currents > 0.0]
            negative = left_over(currents) < 0.0
            for k in np.flatnonzero(negative[1:] != negative[:-1]):
                found.append(float(brentq(left_over, currents[k], currents[k + 1], xtol=1e-15, rtol=1e-14)))
        return sorted(found)

    def stable(self, current: float, asked: Function) -> bool:
        """Whether a little more speed leaves the load's torque above the machine's."""
        near = (current * (1.0 - 1e-5), current * (1.0 + 1e-5))
        speeds = [self.speed(i) for i in near]
        surplus = [self.k_phi(i) * i - asked(w) for i, w in zip(near, speeds, strict=True)]
        return bool((surplus[1] - surplus[0]) / (speeds[1] - speeds[0]) < 0.0)


PLANTS = [
    Plant(drop=2.0, loss=0.3),
    Plant(line=0.4, drop=1.5),
    Plant(SATURATED, line=0.4, loss=0.2),
    Plant(SATURATED, connection="separate", line=0.5, drop=2.0),
    Plant(reaction=shifted(0.004), drop=2.0),
    Plant(reaction=shifted(0.007), line=0.3),
    Plant(SATURATED, shifted(0.012), loss=0.4),
    Plant(SATURATED, shifted(-0.003), line=0.2, drop=1.0),
    Plant(reaction=straight_table(0.009), drop=1.0),
    Plant(SATURATED, straight_table(0.006), line=0.3),
    Plant(reaction=weakened(20.0, 40.0), drop=2.0, loss=0.3),
    Plant(SATURATED, weakened(30.0, 60.0), line=0.4),
    Plant(reaction=weakened(20.0, 40.0), connection="separate", line=0.4),
    Plant(SATURATED, shifted(0.006), connection="separate", line=0.4, drop=2.0),
]
LOADS: list[tuple[Load, Function]] = [
    (ConstantTorque(6.0), lambda w: 6.0),
    (ConstantTorque(-5.0), lambda w: -5.0),
    (ProportionalTorque(6.0, 150.0), lambda w: 0.04 * w),
    (SquareTorque(6.0, 150.0), lambda w: 6.0 * (w / 150.0) ** 2),
    (ConstantPower(800.0), lambda w: 800.0 / w),
    (ConstantTorque(2.0) + ConstantPower(500.0), lambda w: 2.0 + 500.0 / w),
    (ConstantTorque(-3.0) + ProportionalTorque(1.0, 150.0), lambda w: -3.0 + w / 150.0),
    (
        ConstantTorque(1.0) + SquareTorque(4.0, 150.0) + ConstantPower(100.0),
        lambda w: 1.0 + (w / 75.0) ** 2 + 100.0 / w,
    ),
    (
        UserLoad(lambda w: 2.0 + 60.0 / (1.0 + ((w - 100.0) / 8.0) ** 2)),
        lambda w: 2.0 + 60.0 / (1.0 + ((w - 100.0) / 8.0) ** 2),
    ),
]


@pytest.mark.parametrize("share", range(3))
def test_all_balances_of_a_dense_scan_are_offered_each_with_its_stability(share: int) -> None:
    pairs = [(plant, *load) for plant in PLANTS for load in LOADS]
    counts = []
    for plant, load, asked in pairs[share::12]:
        expected = plant.balances(asked)
        state = plant.solve(load, all_solutions=True)
        points = [state, *state.other_solutions]
        side = math.copysign(1.0, asked(plant.speed(1e-9)) + plant.loss)
        first = min((i for i in expected if i * side > 0.0), key=abs)
        others = sorted((i for i in expected if i != first), key=abs)[:8]  # no more than eight are told
        assert [point.armature_current for point in points] == pytest.approx([first, *others], rel=1e-7)
        counts.append(len(points))
        for point in points:
            current = point.armature_current
            assert point.stable is plant.stable(current, asked)
            assert point.status_text == ("ok" if point.stable else "unstable-only")
            assert point.speed == pytest.approx(plant.speed(current), rel=1e-9)
            assert point.electromagnetic_torque == pytest.approx(plant.k_phi(current) * current, rel=1e-9)
    assert max(counts) > min(counts)
    plant, load, _ = pairs[share]
    three = plant.solve(load, all_solutions=True, line_resistance=np.full(3, plant.line))
    one = plant.solve(load, all_solutions=True)
    for many, single in zip([three, *three.other_solutions], [one, *one.other_solutions], strict=True):
        np.testing.assert_allclose(many.armature_current, single.armature_current, rtol=1e-9)
        assert many.stable.tolist() == [single.stable] * 3


def test_the_scalar_point_the_block_and_the_laws_agree_for_every_plant_and_load() -> None:
    for plant in PLANTS:
        for load, asked in LOADS:
            point = plant.solve(load)
            block = plant.solve(load, brush_drop=np.array([plant.drop, plant.drop + 0.25]))
            current = point.armature_current
            assert block.armature_current[0] == pytest.approx(current, rel=1e-12)
            field_current, volts = plant.field_and_volts(current)
            wanted = {
                "field_current": field_current,
                "supply_voltage": volts,
                "k_phi": plant.k_phi(current),
                "speed": plant.speed(current),
                "back_emf": plant.speed(current) * plant.k_phi(current),
                "electromagnetic_torque": asked(plant.speed(current)) + plant.loss,
                "load_torque": asked(plant.speed(current)),
                "loss_torque": plant.loss,
                "source_voltage": plant.volts,
            }
            for name, value in wanted.items():
                assert getattr(point, name) == pytest.approx(value, rel=1e-9, abs=1e-12), (plant, load, name)
                assert getattr(block, name)[0] == pytest.approx(value, rel=1e-9, abs=1e-12), (plant, load, name)
            assert point.stable is bool(block.stable[0]) is plant.stable(current, asked)


def _balance(plant: Plant, load: Load | None = None) -> TorqueBalance:
    setting = gather(plant.machine, plant.setting(), load, None)
    return balance_of(setting.block(0, setting.size), plant.connection, setting.behind_line)


def test_flux_stability_and_residual_that_a_current_gives() -> None:
    for plant in PLANTS:
        for load, asked in LOADS[2:6]:
            balance = _balance(plant, load)
            for current in (3.0, 11.0, 40.0, -2.0, -15.0):
                sign = math.copysign(1.0, current)
                k_phi, speed = plant.k_phi(current), plant.speed(current)
                at = np.array([current])
                assert balance.k_phi(at) == pytest.approx(k_phi, rel=1e-12)
                field_current = plant.field_and_volts(current)[0]
                if not isinstance(plant.reaction[0], FluxLoss):
                    assert balance.curve_current(at) == pytest.approx(field_current - plant.reaction[1](current))
                surplus = k_phi * current - asked(speed) - plant.loss
                residual = Directed(balance, sign).value(np.array([abs(current)]))
                assert residual == pytest.approx(sign * surplus, rel=1e-9)
                assert bool(balance.stable(at, np.array([speed]))[0]) is plant.stable(current, asked)


def test_without_resistance_the_sign_of_the_torque_slope_alone_decides_stability() -> None:
    stiff = _balance(Plant(r_a=0.0, r_ax=0.0))  # the speed does not change with the current at all
    assert bool(stiff.stable(np.array([5.0]), np.array([160.0]))[0])
    # I_f - d I = 0.75 - 0.01 I, peak of the torque at 37.5 A; the speed rises with the current all the way
    rising = _balance(Plant(reaction=shifted(0.01), r_a=0.0, r_ax=0.0))
    currents = np.array([37.0, 38.0])
    assert rising.stable(currents, 120.0 / (0.75 - 0.01 * currents)).tolist() == [False, True]


def test_the_current_beyond_which_nothing_runs_is_that_of_standstill_or_of_no_flux() -> None:
    # standstill: (120 - 2)/0.8; line ahead of a shunt machine: u0 = 120*160/160.4, u1 = 0.4*160/160.4
    assert _balance(Plant(drop=2.0)).greatest_current(1.0) == pytest.approx(147.5)
    assert _balance(Plant(drop=2.0)).greatest_current(-1.0) == math.inf
    behind = _balance(Plant(line=0.4, drop=1.5))
    assert behind.greatest_current(1.0) == pytest.approx(brentq(lambda i: Plant(line=0.4, drop=1.5).speed(i), 1, 140))
    assert behind.greatest_current(-1.0) == math.inf  # a generator raises its own field
    apart = Plant(connection="separate", line=0.5, drop=2.0)
    assert _balance(apart).greatest_current(1.0) == pytest.approx(118.0 / 1.3)
    # flux gone: 0.75/0.006; with the line f0 = 120/160.3, f1 = 0.3/160.3
    assert _balance(Plant(reaction=shifted(0.006))).greatest_current(1.0) == pytest.approx(125.0)
    assert _balance(Plant(reaction=shifted(0.006))).greatest_current(-1.0) == math.inf
    both = _balance(Plant(reaction=shifted(0.007), line=0.3))
    assert both.greatest_current(1.0) == pytest.approx(120.0 / (160.3 * 0.007 + 0.3))
    # a field strengthened by a motoring current is spent by a generating one: 0.75/0.009
    assert _balance(Plant(reaction=shifted(-0.009))).greatest_current(1.0) == pytest.approx(150.0)
    assert _balance(Plant(reaction=shifted(-0.009))).greatest_current(-1.0) == pytest.approx(0.75 / 0.009)
    # remanence must be used up, too: k_r = 0.03 is undone at -0.9*0.03/1.57 A
    saturated = _balance(Plant(SATURATED, shifted(0.012)))
    assert saturated.greatest_current(1.0) == pytest.approx((0.75 + 0.9 * 0.03 / 1.57) / 0.012)
    for sign in (1.0, -1.0):
        assert _balance(Plant(reaction=weakened(50.0, 40.0))).greatest_current(sign) == pytest.approx(80.0)
    assert _balance(Plant(reaction=straight_table(0.006))).greatest_current(1.0) == pytest.approx(150.0)
    assert _balance(Plant(r_a=0.0, r_ax=0.0)).greatest_current(1.0) == math.inf
    assert _balance(Plant(r_a=0.0, r_ax=0.0, drop=130.0)).greatest_current(1.0) == 0.0
    assert _balance(Plant(r_a=0.0, r_ax=0.0, drop=120.0)).greatest_current(1.0) == 0.0


def test_no_flux_left_is_no_torque_at_all() -> None:
    # c (0.75 - 0.01 I) I - 4: at 75 A the flux is gone
    residual = Directed(_balance(Plant(reaction=shifted(0.01)), ConstantTorque(4.0)), 1.0)
    with np.errstate(divide="ignore"):
        values = residual.value(np.array([10.0, 75.0, 80.0]))
    assert values.tolist() == [pytest.approx(0.65 * 10.0 - 4.0), -math.inf, -math.inf]
    driven = Directed(_balance(Plant(reaction=shifted(-0.01)), ConstantTorque(-4.0)), -1.0)
    with np.errstate(divide="ignore"):
        values = driven.value(np.array([10.0, 75.0, 80.0]))
    assert values.tolist() == [pytest.approx(0.65 * 10.0 - 4.0), -math.inf, -math.inf]


def test_a_closed_form_is_taken_wherever_there_is_one() -> None:
    steady, fan = ConstantTorque(3.0), SquareTorque(3.0, 150.0)
    power, friction, user = ConstantPower(100.0), ProportionalTorque(1.0, 150.0), UserLoad(lambda w: 0.01 * w)
    falling = ProportionalTorque(-1.0, 150.0)
    rigid, behind = Plant(SATURATED), Plant(line=0.4)
    table = TableFlux((0.0, 0.5, 1.0), (4.0, 90.0, 130.0), 1500.0)
    for plant, load, plan in (
        (rigid, steady, "torque"),
        (Plant(reaction=shifted(0.0)), steady, "torque"),
        (Plant(reaction=weakened(0.0, 40.0)), steady, "torque"),
        (Plant(connection="separate", line=0.4), steady, "torque"),
        (behind, steady, "quadratic"),
        (Plant(reaction=shifted(0.004)), steady, "quadratic"),
        (Plant(reaction=shifted(0.004), line=0.4), steady, "quadratic"),
        (Plant(SATURATED, weakened(5.0, 40.0)), steady, "quadratic"),
        (Plant(SATURATED, weakened(5.0, 40.0), line=0.4), steady, "search"),
        (Plant(SATURATED, line=0.4), steady, "search"),
        (Plant(SATURATED, shifted(0.004)), steady, "search"),
        (Plant(reaction=straight_table(0.004)), steady, "search"),
        (Plant((table, lambda i: i)), fan, "speed"),
        (rigid, steady + friction, "speed"),
        (rigid, steady + friction + fan, "speed"),
        (rigid, steady + friction + power, "speed"),
        (rigid, fan + power, "search"),
        (rigid, user, "search"),
        (rigid, falling, "search"),
        (rigid, SquareTorque(-1.0, 150.0), "search"),
        (rigid, ConstantPower(-50.0), "search"),
        (rigid, ConstantPower(np.array([50.0, -50.0])), "search"),
        (behind, fan, "search"),
        (Plant(reaction=shifted(0.004)), fan, "search"),
    ):
        assert plan_of(_balance(plant, load)) == plan, (plant, load)


def test_some_of_the_points_keep_their_own_terms_and_circuit() -> None:
    numbers = [np.array([float(n), 10.0 + n, 20.0 + n]) for n in range(10)]
    terms = LoadTerms(*numbers[:4])
    whole = TorqueBalance(LINEAR[0], NONE[0], terms, *numbers[4:10])
    part = whole.take(np.array([2, 0]))
    picked = [part.terms.constant, part.terms.proportional, part.terms.square, part.terms.power, part.u0, part.u1,
              part.f0, part.f1, part.resistance, part.brush_drop]  # fmt: skip
    assert [value.tolist() for value in picked] == [[20.0 + n, float(n)] for n in range(10)]


def test_a_machine_starved_by_its_brushes_has_both_of_its_generating_balances() -> None:
    """Reaction that strengthens a motor weakens it generating: (I_f - 0.01 i) i = 0.0006 N m, with I_f = 1.36/150 A."""
    machine = Machine(
        armature_resistance=0.8, field_resistance=150.0, flux=ProportionalFlux(1.0), brush_drop=7.06,
        armature_reaction=ProportionalReaction(-0.01),
    )  # fmt: skip
    field = 1.36 / 150.0
    small, large = ((field + sign * math.sqrt(field**2 - 4 * 0.01 * 0.0006)) / 0.02 for sign in (-1.0, 1.0))
    state = steady_state(machine, supply_voltage=1.36, load_torque=-0.0006, all_solutions=True)
    assert state.armature_current == pytest.approx(-small, rel=1e-9)
    (other,) = state.other_solutions
    assert other.armature_current == pytest.approx(-large, rel=1e-9)
    assert other.speed == pytest.approx((1.36 + 7.06 + 0.8 * large) / (field - 0.01 * large), rel=1e-9)


@pytest.mark.parametrize("torque", [0.5, 0.001, 2.0, -0.5, -2.0])
def test_a_share_of_the_flux_lost_per_ampere_is_lost_in_either_direction(torque: float) -> None:
    """k (1 - 0.01 |I|) I = T with k = 1 V s/rad, at light loads as at heavy ones."""
    machine = Machine(
        armature_resistance=0.8,
        field_resistance=120.0,
        flux=ProportionalFlux(1.0),
        armature_reaction=FluxLoss(40.0, 40.0),
    )
    current = (1.0 - math.sqrt(1.0 - 4 * 0.01 * abs(torque))) / 0.02
    signed = math.copysign(current, torque)
    state = steady_state(machine, supply_voltage=120.0, load_torque=torque)
    assert state.armature_current == pytest.approx(signed, rel=1e-12)
    assert state.speed == pytest.approx((120.0 - 0.8 * signed) / (1.0 - 0.01 * current), rel=1e-12)


def test_the_load_that_just_stalls_a_motor_is_held_at_standstill() -> None:
    """T = k U/R, whatever the rounding of its factors."""
    for k_phi in (0.3, 0.5, 0.7, 1.1, 1.3):
        for ohms in (0.1, 0.3, 0.7, 0.9):
            machine = Machine(armature_resistance=ohms, field_resistance=120.0, flux=ProportionalFlux(k_phi))
            state = steady_state(machine, supply_voltage=120.0, load_torque=k_phi * 120.0 / ohms)
            assert state.speed == pytest.approx(0.0, abs=1e-10)


def test_the_most_power_beside_a_torque_that_goes_as_the_speed() -> None:
    """(k^2 + b R) w^2 - k U w + P R = 0 has roots up to P = (k U)^2/(4 R (k^2 + b R)): 10000/4.4 W."""
    machine = Machine(armature_resistance=1.0, field_resistance=100.0, flux=ProportionalFlux(1.0))
    most = 1e4 / 4.4
    for watts, reached in ((0.9999 * most, True), (1.0001 * most, False), (2400.0, False)):
        load = ProportionalTorque(10.0, 100.0) + ConstantPower(watts)
        if reached:
            found = steady_state(machine, supply_voltage=100.0, load=load)
            root = (100.0 + math.sqrt(1e4 - 4.4 * watts)) / 2.2
            assert found.speed == pytest.approx(root, rel=1e-9)
        else:
            with pytest.raises(InfeasibleError):
                steady_state(machine, supply_voltage=100.0, load=load)


def _bench(**changes: Any) -> Machine:
    """120 V over 160 ohm of field: 0.75 V s/rad, and 160 rad/s without load; 0.8 ohm of armature."""
    values: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**values | changes)


def test_both_balances_of_a_machine_without_resistance_whose_current_weakens_its_flux() -> None:
    # 100 A leave half of the flux: 0.375 V s/rad, so 37.5 N m; and more current with less flux gives as much once more
    reaction = TableReaction((0.0, 100.0, 200.0), (0.0, 0.375, 0.6))
    machine = _bench(armature_resistance=0.0, armature_reaction=reaction)
    point = steady_state(machine, supply_voltage=120.0, load_torque=37.5, all_solutions=True)
    (other,) = point.other_solutions
    assert point.armature_current == pytest.approx(100.0)
    assert 100.0 < other.armature_current < 200.0
    assert other.armature_current * other.k_phi == pytest.approx(37.5)
    assert other.speed == pytest.approx(120.0 / other.k_phi)


def test_where_no_point_has_a_balance_there_is_no_other_either() -> None:
    # 112.5 N m hold the motor at standstill
    points = steady_state(_bench(), supply_voltage=[120.0, 119.0], load_torque=200.0, all_solutions=True)
    assert points.status_text.tolist() == ["torque-beyond-stall"] * 2
    assert points.other_solutions == ()


def test_points_that_run_on_the_remanence_alone() -> None:
    machine = _bench(flux=FroehlichFlux(1.6, 0.9, 0.1), connection="separate")
    points = steady_state(machine, supply_voltage=[100.0, 110.0], field_voltage=0.0, load_torque=1.0)
    # 10 A and 8 V at 0.1 V s/rad
    assert points.speed.tolist() == pytest.approx([920.0, 1020.0])
    assert points.status_text.tolist() == ["field-loss"] * 2


@pytest.mark.parametrize("volts", [117.3, 100.0 / 3.0, 0.7])
def test_the_speed_in_bulk_just_short_of_standstill_and_beyond_it(volts: float) -> None:
    # c U^2/(R_f R_a) at standstill
    stall = 0.7 * volts**2 / (160.0 * 0.3)
    found = shunt_speed(volts, 0.7, 160.0, 0.0, 0.3, 0.0, stall * np.array([1.0 - 1e-9, 1.0, 1.0 + 1e-12]))
    assert found.status.tolist() == [0, 0, 10]
    assert found.speed[0] == pytest.approx(160.0 / 0.7 * 1e-9, rel=1e-6)
    assert found.speed[1] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("constant", [0.5, 2.0])
def test_a_load_beyond_stall_is_told_whatever_else_grows_with_the_speed(constant: float) -> None:
    machine = _bench(flux=ProportionalFlux(constant))
    stall = 120.0 / 0.8 * 0.75 * constant
    grows = ProportionalTorque(1.0, 100.0)
    with pytest.raises(InfeasibleError) as caught:
        steady_state(machine, supply_voltage=120.0, load=ConstantTorque(stall * 1.001) + grows)
    assert caught.value.limit == pytest.approx(stall)
    held = steady_state(machine, supply_voltage=120.0, load=ConstantTorque(stall * (1.0 + 4e-16)) + grows)
    assert held.speed == 0.0
    points = steady_state(
        machine, supply_voltage=120.0, load=ConstantTorque(stall * np.array([0.5, 1.0 + 4e-16, 1.001, 1.5])) + grows
    )
    assert points.status_text.tolist() == ["ok", "ok", "torque-beyond-stall", "torque-beyond-stall"]
    assert points.speed[1] == 0.0


def test_what_is_known_at_the_terminals_leaves_the_source_to_be_found() -> None:
    # 6 N m at 0.75 V s/rad are 8 A, and the field takes 0.75 A
    for ohms in (0.5, 0.0):
        point = steady_state(_bench(), supply_voltage=120.0, load_torque=6.0, line_resistance=ohms)
        assert point.source_voltage == pytest.approx(120.0 + ohms * 8.75)
        assert point.speed == pytest.approx((120.0 - 6.4) / 0.75)
        points = steady_state(_bench(), supply_voltage=[120.0, 120.0], load_torque=6.0, line_resistance=ohms)
        assert points.source_voltage.tolist() == pytest.approx([120.0 + ohms * 8.75] * 2)


@pytest.mark.parametrize("ohms", [0.0, 0.3, 0.8, 3.0])
def test_the_speed_that_is_there_anyway_needs_none_added_and_a_lower_one_what_was_added(ohms: float) -> None:
    machine = _bench(armature_resistance=ohms)
    for volts in np.linspace(100.0, 130.0, 61).tolist():
        for torque in (6.0, 7.7, -5.3):
            for added in (0.0, 0.3):
                given = {"supply_voltage": volts, "load_torque": torque}
                speed = steady_state(machine, added_armature_resistance=added, **given).speed
                found = added_armature_resistance_for_speed(machine, speed=speed, **given)
                assert found.resistance == pytest.approx(added, abs=1e-12 * (1.0 + ohms))
                assert found.resistance >= 0.0


def test_a_driven_machine_has_no_weak_field_branch() -> None:
    values = {"armature_resistance": 0.8, "added_armature_resistance": 0.0, "supply_voltage": 120.0, "brush_drop": 0.0}
    strong, *_ = k_phi_for_target(values, 160.0, -6.0, _bench(), False, weak=False)
    weak, *_ = k_phi_for_target(values, 160.0, -6.0, _bench(), False, weak=True)
    # 160 k - 6 (0.8)/k = 120
    assert strong[0] == pytest.approx((120.0 + math.sqrt(120.0**2 + 4 * 160.0 * 4.8)) / 320.0)
    assert np.isnan(weak).all()


@pytest.mark.parametrize("weak", [False, True])
@pytest.mark.parametrize("volts", [110.0, 120.0, 130.0])
def test_the_flux_for_a_speed_behind_a_line(volts: float, weak: bool) -> None:
    """160 k + 0.8 I + 0.2 (I + I_f) = U, with I = 6/k and I_f = k/1 V s/(rad A)."""
    machine = _bench(line_resistance=0.2)
    values = {"armature_resistance": 0.8, "added_armature_resistance": 0.0, "source_voltage": volts,
              "line_resistance": 0.2, "brush_drop": 0.0}  # fmt: skip
    found, current, terminals, _ = k_phi_for_target(values, 160.0, 6.0, machine, True, weak=weak)
    side = -1.0 if weak else 1.0
    k_phi = (volts + side * math.sqrt(volts**2 - 4 * 160.2 * 6.0)) / (2 * 160.2)
    assert found[0] == pytest.approx(k_phi, rel=1e-9)
    assert current[0] == pytest.approx(6.0 / k_phi, rel=1e-9)
    assert terminals[0] == pytest.approx(volts - 0.2 * (6.0 / k_phi + k_phi), rel=1e-9)


def test_a_speed_that_no_flux_gives_behind_a_line_has_none() -> None:
    # 120^2/(4*6*1) = 600 rad/s is the most, with a field that takes nothing from the line
    machine = _bench(line_resistance=0.2)
    values = {"armature_resistance": 0.8, "added_armature_resistance": 0.0, "source_voltage": 120.0,
              "line_resistance": 0.2, "brush_drop": 0.0}  # fmt: skip
    for weak in (False, True):
        with np.errstate(invalid="ignore"):  # as where it is called: the root of a negative number is no speed
            found, *_, peak = k_phi_for_target(values, np.array([601.0, 2000.0]), 6.0, machine, True, weak=weak)
        assert np.isnan(found).all()
        assert peak == pytest.approx(600.0)


@pytest.mark.parametrize(
    ("resistance", "drop", "reaction", "torque", "status", "limit"),
    [
        # the torque (0.75 - d I) I is greatest at 0.75/(2 d): 28.125 N m at 75 A; 150 A would flow at standstill
        (0.8, 0.0, 0.005, 28.2, "torque-beyond-reaction-peak", 28.125),
        # 50.2 N m at 134 A
        (0.8, 0.0, 0.0028, 51.0, "torque-beyond-reaction-peak", 0.75**2 / (4 * 0.0028)),
        # 100 V left by the brushes: 125 A at standstill, and 0.4 V s/rad there
        (0.8, 20.0, 0.0028, 51.0, "torque-beyond-stall", 50.0),
        # at 148.1 A; 148.148 A would flow at standstill
        (0.81, 0.0, 0.75 / 296.2, 55.6, "torque-beyond-reaction-peak", 0.75 * 296.2 / 4),
        # 60 A at standstill, and 0.45 V s/rad there
        (2.0, 0.0, 0.005, 29.0, "torque-beyond-stall", 27.0),
    ],
)
def test_which_limit_a_torque_is_beyond(
    resistance: float, drop: float, reaction: float, torque: float, status: str, limit: float
) -> None:
    machine = _bench(armature_resistance=resistance, brush_drop=drop, armature_reaction=ProportionalReaction(reaction))
    with pytest.raises(InfeasibleError) as caught:
        steady_state(machine, supply_voltage=120.0, load_torque=torque)
    assert caught.value.status.slug == status
    assert caught.value.limit == pytest.approx(limit)
    points = steady_state(machine, supply_voltage=120.0, load_torque=[torque, torque])
    assert points.status_text.tolist() == [status] * 2
    assert np.isnan(points.speed).all()


@pytest.mark.parametrize("beside", [0.0, ConstantTorque(0.0), UserLoad(np.zeros_like)])
def test_a_point_at_rest_beside_one_that_runs_on_brushes_and_reaction(beside: Any) -> None:
    machine = _bench(brush_drop=2.0, armature_reaction=ProportionalReaction(0.005))
    load = ConstantTorque(np.array([0.0, 6.0, -6.0]))
    points = steady_state(machine, supply_voltage=120.0, load=load + beside if beside else load)
    # (0.75 - 0.005 |I|) |I| = 6
    size = (0.75 - math.sqrt(0.75**2 - 4 * 0.005 * 6.0)) / 0.01
    assert points.armature_current.tolist()[:2] == pytest.approx([0.0, size])
    assert points.back_emf.tolist()[:2] == pytest.approx([120.0, 118.0 - 0.8 * size])
    driven = points.armature_current[2]
    assert (0.75 - 0.005 * driven) * driven == pytest.approx(-6.0)
    assert points.back_emf[2] == pytest.approx(122.0 - 0.8 * driven)


@pytest.mark.parametrize("constant", [0.5, 1.0, 2.0, 4.0])
def test_near_the_most_power_it_can_give_a_motor_still_runs_steadily(constant: float) -> None:
    machine = _bench(flux=ProportionalFlux(constant))
    # U^2/(4 R) = 4500 W at half of the speed without load
    point = steady_state(machine, supply_voltage=120.0, load=ConstantPower(4490.0))
    assert point.stable
    assert point.speed == pytest.approx((60.0 + math.sqrt(3600.0 - 0.8 * 4490.0)) / (0.75 * constant))


def test_three_balances_in_the_last_ampere_before_no_load_are_all_found() -> None:
    """A load that lets go for a moment just below the speed of no load: 0.15 N m, but 0.03 N m around 0.1 A."""

    def asked(speed: Any) -> Any:
        current = (120.0 - 0.75 * speed) / 0.8
        return 0.15 - 0.12 * np.exp(-(((current - 0.1) / 0.03) ** 2))

    def surplus(current: float) -> float:
        return float(0.75 * current - asked((120.0 - 0.8 * current) / 0.75))

    dense = np.linspace(0.0, 0.4, 4001)
    signs = np.sign([surplus(i) for i in dense])
    roots = [brentq(surplus, dense[i], dense[i + 1]) for i in np.flatnonzero(signs[1:] != signs[:-1])]
    assert len(roots) == 3
    point = steady_state(_bench(), supply_voltage=120.0, load=UserLoad(asked), all_solutions=True)
    found = [point.armature_current, *(other.armature_current for other in point.other_solutions)]
    assert sorted(found) == pytest.approx(roots, rel=1e-6)


def test_the_ends_of_a_table_belong_to_it() -> None:
    table = TableFlux((0.5, 1.0), (60.0, 110.0), 3000.0 / math.pi, "flag")
    # 160 ohm: 0.5 A and 1 A, and a thousandth of that beyond either end
    volts = [79.92, 80.0, 120.0, 160.0, 160.16]
    points = steady_state(_bench(flux=table), supply_voltage=volts, load_torque=1.0)
    assert points.status_text.tolist() == ["extrapolated", "ok", "ok", "ok", "extrapolated"]
    each = [steady_state(_bench(flux=table), supply_voltage=u, load_torque=1.0).extrapolated for u in volts]
    assert each == [True, False, False, False, True]


def test_a_load_that_drives_at_no_load_and_holds_back_at_low_speed_is_balanced_only_where_it_cannot_stay() -> None:
    # 0.045 V s/rad: the motor's torque falls by 0.045^2/0.8 N m per rad/s, the load's by 0.005 N m
    machine = _bench(flux=ProportionalFlux(0.06))
    load = ConstantTorque(9.0) + ProportionalTorque(-0.5, 100.0)
    with pytest.raises(InfeasibleError, match="no speed continuous with no load balances"):
        steady_state(machine, supply_voltage=120.0, load=load)
    points = steady_state(machine, supply_voltage=[120.0, 120.0], load=load, all_solutions=True)
    assert points.status_text.tolist() == ["no-solution"] * 2
    (other,) = points.other_solutions
    assert other.speed.tolist() == pytest.approx([(9.0 - 0.045 * 120.0 / 0.8) / (0.005 - 0.045**2 / 0.8)] * 2)
    assert other.status_text.tolist() == ["unstable-only"] * 2


def test_at_the_very_peak_of_its_torque_no_motor_stays() -> None:
    # (0.75 - 0.0075 I) I is greatest, 18.75 N m, at 50 A; with 2 ohm the speed falls with the current all the way
    machine = _bench(armature_resistance=2.0, armature_reaction=ProportionalReaction(0.0075))
    for torque, stable in ((18.75, False), (18.7, True)):
        point = steady_state(machine, supply_voltage=120.0, load_torque=torque)
        points = steady_state(machine, supply_voltage=[120.0, 120.0], load_torque=torque)
        assert point.stable is stable
        assert points.stable.tolist() == [stable] * 2


def test_a_hump_of_the_torque_narrower_than_a_step_has_two_balances_and_no_third() -> None:
    # the peak, 28.125 N m, is at 75 A, half of the current at standstill; a millionth below it 0.1 % to either side
    machine = _bench(armature_reaction=ProportionalReaction(0.005))
    point = steady_state(machine, supply_voltage=120.0, load_torque=28.125 * (1.0 - 1e-6), all_solutions=True)
    found = [point.armature_current, *(other.armature_current for other in point.other_solutions)]
    assert found == pytest.approx([75.0 * (1.0 - 1e-3), 75.0 * (1.0 + 1e-3)])


def test_a_curve_that_refuses_is_not_followed_beyond_its_end() -> None:
    table = TableFlux((0.5, 1.0), (60.0, 110.0), 3000.0 / math.pi)
    for volts in (79.0, 161.0):
        with pytest.raises(InfeasibleError) as caught:
            steady_state(_bench(flux=table), supply_voltage=volts, load_torque=1.0)
        assert caught.value.status.slug == "outside-table"


@pytest.mark.parametrize("falls", [0.0, 0.1, 1.0])
def test_more_power_than_there_is_has_no_speed(falls: float) -> None:
    # k (U - k w)/R = P/w + b w: at most k^2 U^2/(4 R (k^2 + b R))
    most = 0.75**2 * 120.0**2 / (4 * 0.8 * (0.75**2 + falls * 0.8))
    for share, runs in ((0.999, True), (1.001, False)):
        load = ConstantPower(most * share) + ProportionalTorque(falls, 1.0)
        points = steady_state(_bench(), supply_voltage=[120.0, 120.0], load=load)
        assert points.status_text.tolist() == ["ok" if runs else "no-solution"] * 2
        if runs:
            assert steady_state(_bench(), supply_voltage=120.0, load=load).speed == pytest.approx(points.speed[0])
        else:
            with pytest.raises(InfeasibleError):
                steady_state(_bench(), supply_voltage=120.0, load=load)


def test_a_torque_beyond_stall_is_not_helped_by_asking_for_next_to_no_power_as_well() -> None:
    # 112.5 N m at standstill
    load = ConstantTorque(135.0) + ConstantPower(1e-20)
    points = steady_state(_bench(), supply_voltage=[120.0, 120.0], load=load)
    assert points.status_text.tolist() == ["no-solution"] * 2
    with pytest.raises(InfeasibleError):
        steady_state(_bench(), supply_voltage=120.0, load=load)


def test_beyond_the_peak_of_a_saturated_machine_nothing_is_said_to_run() -> None:
    machine = _bench(flux=FroehlichFlux(1.6, 0.9), armature_reaction=ProportionalReaction(0.005))
    points = steady_state(machine, supply_voltage=120.0, load_torque=[10.0, 200.0])
    assert points.status_text.tolist() == ["ok", "torque-beyond-reaction-peak"]


def test_a_field_without_any_flux_names_the_voltage_that_feeds_it() -> None:
    for machine, given, name in (
        (_bench(), {"supply_voltage": 0.0}, "supply_voltage"),
        (_bench(connection="separate"), {"supply_voltage": 120.0, "field_voltage": 0.0}, "field_voltage"),
    ):
        for torque in (1.0, np.array([1.0, 2.0])):
            with pytest.raises(ValueError, match=rf"^{name} is 0\.0 V; a voltage above zero"):
                steady_state(machine, load_torque=torque, **given)


def test_a_model_motor_of_a_few_millinewton_metres_has_its_limits_too() -> None:
    # a thousandth of the flux: 27 mN m at 60 A and standstill, before the 28.125 mN m at 75 A
    machine = _bench(
        armature_resistance=2.0, flux=ProportionalFlux(0.001), armature_reaction=ProportionalReaction(0.005)
    )
    points = steady_state(machine, supply_voltage=120.0, load_torque=[0.026, 0.029])
    assert points.status_text.tolist() == ["ok", "torque-beyond-stall"]


def test_half_a_volt_above_standstill_the_shaft_turns() -> None:
    # 119.5 V of drop in 0.8 ohm
    torque = 0.75 * 119.5 / 0.8
    for machine in (_bench(), _bench(armature_reaction=ProportionalReaction(1e-9))):
        point = steady_state(machine, supply_voltage=120.0, load_torque=torque)
        # of the half volt the reaction takes 2e-7 of the flux, so as much more current, 2.4e-5 V more
        assert point.speed == pytest.approx(0.5 / 0.75, rel=1e-4)


def test_all_of_the_power_there_is_is_given_at_half_of_the_speed_without_load() -> None:
    # U^2/(4 R), and every figure of it exact in binary
    point = steady_state(_bench(), supply_voltage=120.0, load=ConstantPower(4500.0))
    assert point.speed == pytest.approx(80.0)


@pytest.mark.parametrize("load", [ConstantTorque(1.0), UserLoad(np.ones_like)])
def test_the_point_without_a_field_is_told_by_its_place(load: Load) -> None:
    machine = _bench(connection="separate")
    for volts, place in (([0.0, 100.0], 0), ([100.0, 0.0, 50.0], 1), ([100.0, 50.0, 0.0], 2)):
        with pytest.raises(ValueError, match=rf"^field_voltage is 0\.0 V at index {place};"):
            steady_state(machine, supply_voltage=120.0, field_voltage=volts, load=load)


@pytest.mark.parametrize("constant", [0.5, 1.0, 2.0, 4.0])
def test_a_load_that_balances_itself_within_the_reach_of_the_brushes_sets_the_speed(constant: float) -> None:
    machine = _bench(flux=ProportionalFlux(constant), brush_drop=2.0)
    speed = 121.0 / (0.75 * constant)  # 1 V more than the supply, of the 2 V that the brushes can hold
    load = ConstantTorque(-speed) + ProportionalTorque(1.0, 1.0)
    point = steady_state(machine, supply_voltage=120.0, load=load)
    points = steady_state(machine, supply_voltage=[120.0, 120.0], load=load)
    assert (point.speed, point.armature_current) == (pytest.approx(speed), pytest.approx(0.0, abs=1e-9))
    assert points.speed.tolist() == pytest.approx([speed] * 2)
    assert points.armature_current.tolist() == pytest.approx([0.0] * 2, abs=1e-9)


def test_a_load_is_never_asked_about_a_motor_that_turns_back() -> None:
    asked: list[float] = []

    def load(speed: Any) -> Any:
        asked.extend(np.atleast_1d(speed).tolist())
        return 300.0 + np.sqrt(speed)

    for ohms in np.linspace(0.3, 2.9, 53).tolist():
        with pytest.raises(InfeasibleError):
            steady_state(_bench(armature_resistance=ohms, brush_drop=1.3), supply_voltage=61.7, load=UserLoad(load))
    assert min(asked) >= 0.0


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"armature_reaction": ProportionalReaction(0.005)},
        {"armature_reaction": ProportionalReaction(0.02), "armature_resistance": 0.1},
        {"armature_reaction": FluxLoss(80.0, 40.0)},
        {"armature_resistance": 0.0},
        {"flux": FroehlichFlux(1.6, 0.9), "armature_reaction": ProportionalReaction(0.02)},
    ],
)
@pytest.mark.parametrize("torque", [400.0, -400.0])
def test_a_load_is_asked_about_speeds_only_also_where_there_is_no_balance(
    changes: dict[str, Any], torque: float
) -> None:
    asked: list[float] = []

    def load(speed: Any) -> Any:
        asked.extend(np.atleast_1d(speed).tolist())
        return torque * (1.0 + np.square(speed / 100.0))

    points = steady_state(_bench(**changes), supply_voltage=[120.0, 110.0], load=UserLoad(load))
    if torque > 0.0 and changes.get("armature_resistance") != 0.0:
        assert np.isnan(points.speed).all()
    assert np.isfinite(asked).all()
    assert min(asked) >= 0.0


@pytest.mark.parametrize("ohms", [0.8, 0.7, 0.3])
@pytest.mark.parametrize("volts", [120.0, 117.3, 24.0])
def test_a_torque_that_holds_the_motor_to_the_last_digit_holds_it_at_standstill(volts: float, ohms: float) -> None:
    machine = _bench(armature_resistance=ohms)
    stall = volts / 160.0 * volts / ohms
    torques = stall * np.array([1.0 - 4e-16, 1.0, 1.0 + 4e-16, 1.0 + 1e-12])
    points = steady_state(machine, supply_voltage=volts, load_torque=torques)
    assert points.status_text.tolist() == ["ok"] * 3 + ["torque-beyond-stall"]
    assert points.speed[:3].tolist() == pytest.approx([0.0] * 3, abs=1e-11)
    assert (points.speed[:3] >= 0.0).all()
    for torque in torques[:3].tolist():
        assert 0.0 <= steady_state(machine, supply_voltage=volts, load_torque=torque).speed < 1e-11
    with pytest.raises(InfeasibleError):
        steady_state(machine, supply_voltage=volts, load_torque=float(torques[3]))


@pytest.mark.parametrize("volts", [120.0, 240.0, 400.0])
def test_a_point_behind_a_line_by_hand(volts: float) -> None:
    machine = _bench(line_resistance=0.2)
    point = steady_state(machine, source_voltage=volts, load_torque=6.0)
    # I_f = (U - 0.2 I)/160.2, and I_f I = 6
    current = (volts - math.sqrt(volts**2 - 4 * 0.2 * 6.0 * 160.2)) / 0.4
    assert point.armature_current == pytest.approx(current, rel=1e-9)
    field = (volts - 0.2 * current) / 160.2
    assert point.field_current == pytest.approx(field)
    assert point.speed == pytest.approx((160.0 * field - 0.8 * current) / field)
