"""Properties of the model over random machines and settings, on both sides of every condition."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from shuntref.model import formulas
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.reaction import FluxLoss, NoReaction, ProportionalReaction, TableReaction
from shuntref.model.recipes import QUANTITIES
from shuntref.model.sizing import added_armature_resistance_for_speed, added_field_resistance_for_speed
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.steady import steady_state
from shuntref.model.torque_line import speed_torque_line


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """A float, evenly spread over the decades."""
    return st.floats(math.log(low), math.log(high)).map(math.exp)


VOLTS = number(24.0, 600.0)
FIELD_OHM = number(40.0, 800.0)
ARMATURE_OHM = number(0.05, 5.0)
SHARE = st.floats(0.02, 0.98)


@st.composite
def fluxes(draw: st.DrawFn) -> FluxCurve:
    kind = draw(st.sampled_from(["proportional", "froehlich", "remanent", "table"]))
    if kind == "proportional":
        return ProportionalFlux(draw(number(0.2, 3.0)))
    if kind in ("froehlich", "remanent"):
        a = draw(number(0.5, 5.0))
        return FroehlichFlux(a, draw(number(0.1, 3.0)), 0.03 * a if kind == "remanent" else 0.0)
    gains = draw(st.lists(number(0.05, 1.0), min_size=3, max_size=8))
    steps = draw(st.lists(number(0.05, 1.0), min_size=len(gains), max_size=len(gains)))
    emf = np.cumsum([3.0, *(100.0 * g for g in gains)])
    current = np.cumsum([0.0, *(20.0 * s for s in steps)])
    return TableFlux(current, emf, draw(number(500.0, 3000.0)), "flag")


@st.composite
def reactions(draw: st.DrawFn) -> Any:
    kind = draw(st.sampled_from(["none", "proportional", "table", "loss"]))
    if kind == "none":
        return NoReaction()
    if kind == "proportional":
        return ProportionalReaction(draw(number(1e-4, 0.02)))
    if kind == "table":
        top = draw(number(10.0, 300.0))
        lost = draw(number(1e-4, 0.02)) * top
        return TableReaction((0.0, 0.4 * top, top), (0.0, 0.2 * lost, lost), "flag")
    return FluxLoss(draw(st.floats(0.0, 20.0)), draw(number(5.0, 100.0)))


@st.composite
def loads(draw: st.DrawFn, torque: float) -> Load:
    kind = draw(st.sampled_from(["constant", "proportional", "square", "power", "sum", "user"]))
    if kind == "constant":
        return ConstantTorque(torque)
    if kind == "proportional":
        return ProportionalTorque(torque, 150.0)
    if kind == "square":
        return SquareTorque(torque, 150.0)
    if kind == "power":
        return ConstantPower(100.0 * torque)
    if kind == "sum":
        return ConstantTorque(0.3 * torque) + SquareTorque(0.3 * torque, 150.0) + ConstantPower(30.0 * torque)
    return UserLoad(lambda w: torque * (0.5 + 0.002 * w))


@st.composite
def machines(draw: st.DrawFn) -> Machine:
    return Machine(
        armature_resistance=draw(ARMATURE_OHM),
        field_resistance=draw(FIELD_OHM),
        flux=draw(fluxes()),
        armature_reaction=draw(reactions()),
        brush_drop=draw(st.sampled_from([0.0, 1.0, 2.0])),
        line_resistance=draw(st.sampled_from([0.0, 0.2])),
        loss_torque=draw(st.sampled_from([ConstantTorque(0.0), ConstantTorque(0.1) + SquareTorque(0.1, 150.0)])),
        connection=draw(st.sampled_from(["shunt", "separate"])),
    )


def voltages(machine: Machine, volts: float) -> dict[str, float]:
    given_volts = {"source_voltage": volts}
    if machine.connection == "separate":
        given_volts["field_voltage"] = volts
    return given_volts


def stall_torque(machine: Machine, volts: float) -> float:
    """A scale for torques: what the flux at no load would give at standstill."""
    ahead = machine.line_resistance if machine.connection == "shunt" else 0.0
    return (
        float(machine.flux.k_phi_at(volts / (machine.field_resistance + ahead))) * volts / machine.armature_resistance
    )


def simple(volts: float, armature: float, field: float, constant: float, connection: str = "shunt") -> Machine:
    return Machine(
        armature_resistance=armature, field_resistance=field, flux=ProportionalFlux(constant), connection=connection
    )


# --- the field


@given(fluxes(), VOLTS, ARMATURE_OHM, FIELD_OHM, SHARE, number(1.05, 3.0))
def test_weaker_field_means_more_speed_while_emf_exceeds_half_the_voltage_and_less_beyond(
    flux: FluxCurve, volts: float, armature: float, field: float, share: float, ratio: float
) -> None:
    machine = Machine(armature_resistance=armature, field_resistance=field, flux=flux)
    strong, weak = flux.k_phi_at(volts / field), flux.k_phi_at(volts / (field * ratio))
    assume(weak < strong * 0.999)
    settings = {"supply_voltage": volts, "added_field_resistance": [0.0, field * (ratio - 1.0)]}
    # torque such that E = share * U at the weaker field (where E is lowest)
    torque = weak * (1.0 - share) * volts / armature
    before, after = steady_state(machine, load_torque=torque, **settings).speed
    if share > 0.5:
        assert after > before
    # torque such that E = share * U / 2 at the stronger field: beyond the peak from the start
    torque = strong * (1.0 - share / 2.0) * volts / armature
    state = steady_state(machine, load_torque=torque, **settings)
    if state.status[1] == Status.TORQUE_BEYOND_STALL:
        assert weak * volts / armature < torque
    else:
        assert state.speed[1] < state.speed[0]


@given(VOLTS, ARMATURE_OHM, number(0.1, 50.0), number(0.2, 5.0))
def test_no_field_gives_more_than_the_peak_speed_and_one_field_gives_it(
    volts: float, armature: float, torque: float, ratio: float
) -> None:
    k_peak = formulas.peak_k_phi(volts, torque, armature)
    peak = formulas.peak_speed(volts, torque, armature)
    machine = Machine(
        armature_resistance=armature, field_resistance=100.0, flux=ProportionalFlux(1.0), connection="separate"
    )
    at_peak = steady_state(machine, supply_voltage=volts, field_voltage=100.0 * k_peak, load_torque=torque)
    assert at_peak.speed == pytest.approx(peak, rel=1e-12)
    assert at_peak.back_emf == pytest.approx(volts / 2.0, rel=1e-12)
    assume(k_peak * ratio > torque * armature / volts)
    other = steady_state(machine, supply_voltage=volts, field_voltage=100.0 * k_peak * ratio, load_torque=torque)
    assert other.speed <= peak * (1.0 + 1e-12)


@given(number(0.5, 5.0), number(0.1, 3.0), number(0.05, 5.0))
def test_a_saturated_machine_answers_less_to_the_rheostat_by_b_over_i_plus_b(
    a: float, b: float, current: float
) -> None:
    machine = Machine(armature_resistance=1.0, field_resistance=100.0, flux=FroehlichFlux(a, b), connection="separate")
    step = 1e-5
    volts = 100.0 * current * np.array([1.0 - step, 1.0 + step])
    speed = steady_state(machine, supply_voltage=100.0, field_voltage=volts).speed
    sensitivity = -np.diff(np.log(speed))[0] / np.diff(np.log(volts))[0]
    assert sensitivity == pytest.approx(formulas.field_sensitivity_froehlich(b, current), rel=1e-5)
    assert sensitivity < 1.0


# --- the armature circuit


@given(machines(), VOLTS, st.floats(-0.5, 0.8), number(0.01, 1.0))
def test_added_armature_resistance_slows_a_motor_and_speeds_up_an_overhauled_machine(
    machine: Machine, volts: float, share: float, added: float
) -> None:
    assume(machine.line_resistance == 0.0)  # ahead of the field the line turns the current into a field change
    machine = dataclasses.replace(machine, loss_torque=ConstantTorque(0.1))  # the theorem holds the torque fixed
    torque = share * stall_torque(machine, volts)
    setting = voltages(machine, volts)
    added *= machine.armature_resistance
    try:
        before = steady_state(machine, load_torque=torque, **setting)
        after = steady_state(machine, load_torque=torque, added_armature_resistance=added, **setting)
    except InfeasibleError:
        assume(False)
    assume(before.stable and after.stable)
    if before.armature_current * added > 1e-9 * volts:
        assert after.speed < before.speed
    if before.armature_current * added < -1e-9 * volts:
        assert after.speed > before.speed


@given(VOLTS, ARMATURE_OHM, FIELD_OHM, number(0.2, 3.0), number(0.1, 100.0), SHARE)
def test_with_constant_torque_the_current_ignores_armature_resistance_and_rises_as_the_field_weakens(
    volts: float, armature: float, field: float, constant: float, added: float, share: float
) -> None:
    machine = simple(volts, armature, field, constant)
    torque = share * constant * (volts / field) * volts / (armature + added)
    plain = steady_state(machine, supply_voltage=volts, load_torque=torque)
    assert steady_state(
        machine, supply_voltage=volts, load_torque=torque, added_armature_resistance=added
    ).armature_current == plain.armature_current  # fmt: skip
    state = steady_state(machine, supply_voltage=volts, load_torque=torque, added_field_resistance=[0.0, 0.01 * field])
    if state.status[1] == 0:
        assert state.armature_current[1] > state.armature_current[0]


@given(machines(), VOLTS, number(0.01, 100.0))
def test_without_torque_armature_resistance_changes_nothing(machine: Machine, volts: float, added: float) -> None:
    free = Machine(
        armature_resistance=machine.armature_resistance, field_resistance=machine.field_resistance, flux=machine.flux,
        armature_reaction=machine.armature_reaction, brush_drop=machine.brush_drop, connection=machine.connection,
    )  # fmt: skip
    plain = steady_state(free, **voltages(free, volts))
    slowed = steady_state(free, added_armature_resistance=added, **voltages(free, volts))
    assert plain.armature_current == slowed.armature_current == 0.0
    assert plain.speed == slowed.speed == volts / plain.k_phi


# --- the voltage


@given(VOLTS, VOLTS, ARMATURE_OHM, FIELD_OHM, number(0.2, 3.0), number(0.2, 3.0))
def test_ideal_no_load_speed_ignores_the_voltage_only_in_shunt_with_proportional_flux(
    low: float, high: float, armature: float, field: float, constant: float, b: float
) -> None:
    volts = np.array([low, high])
    shunt = steady_state(simple(low, armature, field, constant), supply_voltage=volts).speed
    np.testing.assert_allclose(shunt, field / constant, rtol=1e-14)
    separate = simple(low, armature, field, constant, "separate")
    speeds = steady_state(separate, supply_voltage=volts, field_voltage=low).speed
    assert speeds[1] / speeds[0] == pytest.approx(high / low, rel=1e-13)
    saturated = Machine(armature_resistance=armature, field_resistance=field, flux=FroehlichFlux(constant, b))
    speeds = steady_state(saturated, supply_voltage=volts).speed
    if high > low * 1.001:
        assert speeds[1] > speeds[0]


# --- scaling


@given(machines(), VOLTS, SHARE, number(0.1, 10.0))
def test_scaling_every_resistance_scales_the_currents_down_and_leaves_the_speed(
    machine: Machine, volts: float, share: float, factor: float
) -> None:
    assume(isinstance(machine.flux, (ProportionalFlux, FroehlichFlux)))
    assume(isinstance(machine.armature_reaction, (NoReaction, ProportionalReaction)))
    flux = machine.flux
    scaled_flux: FluxCurve = (
        ProportionalFlux(flux.flux_constant * factor)
        if isinstance(flux, ProportionalFlux)
        else FroehlichFlux(flux.froehlich_a, flux.froehlich_b / factor, flux.remanent_k_phi)
    )
    shared = {"armature_reaction": machine.armature_reaction, "brush_drop": machine.brush_drop,
              "connection": machine.connection}  # fmt: skip
    plain = Machine(armature_resistance=machine.armature_resistance, field_resistance=machine.field_resistance,
                    line_resistance=machine.line_resistance, flux=flux, **shared)  # fmt: skip
    scaled = Machine(armature_resistance=machine.armature_resistance * factor, flux=scaled_flux, **shared,
                     field_resistance=machine.field_resistance * factor,
                     line_resistance=machine.line_resistance * factor)  # fmt: skip
    setting = voltages(machine, volts)
    torque = 0.3 * share * stall_torque(machine, volts)
    try:
        one = steady_state(plain, load_torque=torque, **setting)
    except InfeasibleError:
        assume(False)
    assume(one.back_emf > 0.1 * volts and one.stable)
    two = steady_state(scaled, load_torque=torque / factor, **setting)
    assert two.speed == pytest.approx(
        one.speed, rel=1e-7
    )  # near a peak of the torque the speed follows rounding by its root
    assert two.armature_current * factor == pytest.approx(one.armature_current, rel=1e-7)


@given(machines(), VOLTS, SHARE, number(0.2, 5.0))
def test_scaling_the_flux_scales_torque_up_and_speed_down_by_the_same_factor(
    machine: Machine, volts: float, share: float, factor: float
) -> None:
    flux = machine.flux
    assume(not isinstance(flux, TableFlux))
    scaled_flux: FluxCurve = (
        ProportionalFlux(flux.flux_constant * factor)
        if isinstance(flux, ProportionalFlux)
        else FroehlichFlux(flux.froehlich_a * factor, flux.froehlich_b, flux.remanent_k_phi * factor)
    )
    parts = {name: getattr(machine, name) for name in ("armature_resistance", "field_resistance", "armature_reaction",
                                                        "brush_drop", "line_resistance", "connection")}  # fmt: skip
    setting = voltages(machine, volts)
    plain, scaled = Machine(flux=flux, **parts), Machine(flux=scaled_flux, **parts)
    torque = 0.3 * share * stall_torque(machine, volts)
    try:
        one = steady_state(plain, load_torque=torque, **setting)
    except InfeasibleError:
        assume(False)
    assume(one.back_emf > 0.1 * volts and one.stable)
    two = steady_state(scaled, load_torque=torque * factor, **setting)
    assert two.speed * factor == pytest.approx(one.speed, rel=1e-7)
    assert two.armature_current == pytest.approx(one.armature_current, rel=1e-7)


# --- reaction


@given(VOLTS, ARMATURE_OHM, number(0.1, 5.0), number(0.05, 20.0))
def test_the_line_rises_when_reaction_over_field_exceeds_resistance_over_voltage_and_falls_otherwise(
    volts: float, armature: float, field_amperes: float, ratio: float
) -> None:
    assume(abs(ratio - 1.0) > 1e-3)
    coefficient = ratio * field_amperes * armature / volts
    machine = Machine(
        armature_resistance=armature, field_resistance=volts / field_amperes, flux=ProportionalFlux(1.0),
        armature_reaction=ProportionalReaction(coefficient),
    )  # fmt: skip
    peak = formulas.peak_torque_with_reaction(1.0, field_amperes, coefficient)
    stall_limit = field_amperes * (volts / armature) * (1.0 - ratio) if ratio < 0.5 else math.inf
    torque = 0.5 * min(peak, stall_limit)
    states = steady_state(machine, supply_voltage=volts, load_torque=[0.5 * torque, torque])
    assert (states.speed[1] > states.speed[0]) == (ratio > 1.0)
    assert np.all(states.stable == (ratio < 1.0))


@given(VOLTS, ARMATURE_OHM, number(0.1, 5.0), number(1.1, 20.0), st.floats(0.01, 0.999))
def test_torque_cannot_exceed_the_reaction_peak(
    volts: float, armature: float, field_amperes: float, ratio: float, share: float
) -> None:
    coefficient = ratio * field_amperes * armature / (2.0 * volts)  # the peak comes before standstill
    machine = Machine(
        armature_resistance=armature, field_resistance=volts / field_amperes, flux=ProportionalFlux(1.0),
        armature_reaction=ProportionalReaction(coefficient),
    )  # fmt: skip
    peak = field_amperes**2 / (4.0 * coefficient)
    below = steady_state(machine, supply_voltage=volts, load_torque=share * peak)
    assert below.armature_current <= field_amperes / (2.0 * coefficient)
    assert below.k_phi * below.armature_current == pytest.approx(share * peak, rel=1e-9)
    with pytest.raises(InfeasibleError) as caught:
        steady_state(machine, supply_voltage=volts, load_torque=peak / share)
    assert caught.value.status is Status.TORQUE_BEYOND_REACTION_PEAK


# --- torque that depends on speed


@given(VOLTS, ARMATURE_OHM, number(0.2, 5.0), st.floats(-0.5, 0.9), st.floats(0.0, 2.0), st.floats(0.0, 2.0))
def test_the_root_with_quadratic_torque_balances_and_is_continuous_with_constant_torque(
    volts: float, armature: float, k_phi: float, constant: float, proportional: float, square: float
) -> None:
    machine = Machine(
        armature_resistance=armature, field_resistance=100.0, flux=ProportionalFlux(1.0), connection="separate"
    )
    stall, ideal = k_phi * volts / armature, volts / k_phi
    setting = {"supply_voltage": volts, "field_voltage": 100.0 * k_phi}
    base = ConstantTorque(constant * stall)
    load = base + ProportionalTorque(proportional * stall, ideal) + SquareTorque(square * stall, ideal)
    state = steady_state(machine, load=load, **setting)
    assert state.electromagnetic_torque == pytest.approx(load.torque(state.speed), rel=1e-12, abs=1e-12 * stall)
    speed = steady_state(machine, load=base, **setting).speed
    for share in np.linspace(0.02, 1.0, 50):
        part = (
            base + ProportionalTorque(share * proportional * stall, ideal) + SquareTorque(share * square * stall, ideal)
        )
        step = steady_state(machine, load=part, **setting).speed
        extra = 0.02 * (
            proportional * speed / ideal + square * (speed / ideal) ** 2
        )  # torque added, over the stall torque
        assert speed - extra * ideal - 1e-9 * ideal <= step <= speed + 1e-9 * ideal  # no jump from one root to another
        speed = step
    assert speed == state.speed


# --- round trips


@given(machines(), VOLTS, number(0.01, 2.0), st.floats(0.05, 0.5), st.data())
def test_the_field_resistance_found_for_a_speed_gives_that_speed(
    machine: Machine, volts: float, added: float, share: float, data: st.DataObject
) -> None:
    setting = voltages(machine, volts)
    stall = stall_torque(machine, volts)
    load = data.draw(loads(0.3 * share * stall))
    try:
        forward = steady_state(machine, load=load, added_field_resistance=added * machine.field_resistance, **setting)
    except InfeasibleError:
        assume(False)
    assume(forward.stable and forward.speed > 1.0 and forward.status == 0)
    assume(forward.back_emf > 0.55 * volts and machine.line_resistance * forward.line_current < 0.1 * volts)
    found = added_field_resistance_for_speed(machine, speed=forward.speed, load=load, **setting)
    assert found.state.speed == pytest.approx(forward.speed, rel=1e-6)
    assert found.resistance == pytest.approx(
        added * machine.field_resistance, rel=1e-4, abs=1e-4 * machine.field_resistance
    )


@given(machines(), VOLTS, number(0.01, 20.0), st.floats(-0.3, 0.5), st.data())
def test_the_armature_resistance_found_for_a_speed_gives_that_speed(
    machine: Machine, volts: float, added: float, share: float, data: st.DataObject
) -> None:
    setting = voltages(machine, volts)
    stall = stall_torque(machine, volts)
    load = ConstantTorque(share * stall) if share < 0.0 else data.draw(loads(share * stall))
    added *= machine.armature_resistance
    try:
        forward = steady_state(machine, load=load, added_armature_resistance=added, **setting)
    except InfeasibleError:
        assume(False)
    assume(forward.stable and forward.speed > 1.0 and forward.status == 0)
    assume(abs(forward.armature_current) * added > 1e-4 * volts)
    found = added_armature_resistance_for_speed(machine, speed=forward.speed, load=load, **setting)
    assert found.state.speed == pytest.approx(forward.speed, rel=1e-6)
    if found.state.armature_current == pytest.approx(forward.armature_current, rel=1e-6):
        assert found.resistance == pytest.approx(added, rel=1e-5)
    else:  # the same torque at the same speed with less current: this side of the peak that armature reaction makes
        assert abs(found.state.armature_current) < abs(forward.armature_current)


@given(fluxes(), st.floats(0.0, 1.0))
def test_a_flux_curve_and_its_inverse_return_to_the_start(flux: FluxCurve, share: float) -> None:
    low, high = flux.limits or (0.0, 20.0)
    current = low + share * (high - low)
    k_phi = flux.k_phi(current)
    back = flux.field_current(k_phi)
    assert flux.k_phi(back) == pytest.approx(k_phi, rel=1e-12)
    steepness = flux.slope(current) * max(current, 1e-3) / max(k_phi, 1e-3)
    if steepness > 1e-3:
        assert back == pytest.approx(current, rel=1e-9, abs=1e-12)


# --- broadcasting, NaN, power


TORQUES = hnp.arrays(np.float64, st.integers(1, 6), elements=st.floats(-0.4, 1.5))


@given(machines(), hnp.arrays(np.float64, st.integers(1, 3), elements=VOLTS), TORQUES)
def test_broadcasting_equals_looping_and_every_nan_has_its_reason(
    machine: Machine, volts: np.ndarray, shares: np.ndarray
) -> None:
    torque = shares * stall_torque(machine, float(volts[0]))
    setting: dict[str, Any] = {"source_voltage": volts[:, None], "added_armature_resistance": 0.1}
    if machine.connection == "separate":
        setting["field_voltage"] = float(volts[0])
    many = steady_state(machine, load_torque=torque, **setting)
    given_names = {"source_voltage", "field_resistance", "added_field_resistance", "field_circuit_resistance",
                   "armature_resistance", "added_armature_resistance", "armature_circuit_resistance", "line_resistance",
                   "brush_drop", "field_voltage", "supply_voltage"}  # fmt: skip
    for name in set(QUANTITIES) - given_names:
        np.testing.assert_array_equal(np.isnan(getattr(many, name)), many.status >= Status.TORQUE_BEYOND_STALL)
    for i, j in np.ndindex(many.shape):
        one_setting = {**setting, "source_voltage": float(volts[i])}
        if many.status[i, j] >= Status.TORQUE_BEYOND_STALL:
            with pytest.raises(InfeasibleError) as caught:
                steady_state(machine, load_torque=float(torque[j]), **one_setting)
            assert many.status[i, j] == caught.value.status
            assert math.isfinite(caught.value.limit)
            continue
        one = steady_state(machine, load_torque=float(torque[j]), **one_setting)
        assert many.status[i, j] == one.status
        assert many.stable[i, j] == one.stable
        for name in QUANTITIES:
            got, expected = getattr(many, name)[i, j], getattr(one, name)
            assert math.isfinite(expected), name
            assert got == pytest.approx(expected, rel=1e-11, abs=1e-11 * max(1.0, abs(one.input_power))), name


@given(machines(), VOLTS, st.floats(-0.3, 0.9), st.data())
def test_the_power_balance_closes_to_rounding(
    machine: Machine, volts: float, share: float, data: st.DataObject
) -> None:
    setting = voltages(machine, volts)
    stall = stall_torque(machine, volts)
    load = ConstantTorque(share * stall) if share < 0.0 else data.draw(loads(share * stall))
    state = steady_state(
        machine, load=load, added_armature_resistance=[0.0, 0.3], added_field_resistance=7.0, **setting
    )
    for i in np.flatnonzero(state.status < Status.TORQUE_BEYOND_STALL):
        powers = (state.input_power[i], -state.total_loss[i], -state.output_power[i])
        assert abs(sum(powers)) <= 1e-13 * sum(map(abs, powers)) + 1e-13 * volts * state.field_current[i]


@given(machines(), VOLTS)
def test_the_line_starts_at_no_load_ends_at_standstill_and_is_straight_where_flux_is_rigid(
    machine: Machine, volts: float
) -> None:
    setting = voltages(machine, volts)
    assume(volts > 2.0 * machine.brush_drop)
    line = speed_torque_line(machine, points=33, **setting)
    assert line.armature_current[0] == 0.0
    reached = line.status < Status.TORQUE_BEYOND_STALL
    if reached[-1] and machine.armature_reaction.absent and machine.flux.zero_flux_field_current <= 0.0:
        assert line.speed[-1] == pytest.approx(0.0, abs=1e-9 * line.speed[0])
    if machine.armature_reaction.absent and (machine.line_resistance == 0.0 or machine.connection == "separate"):
        slope = np.diff(line.speed[1:]) / np.diff(line.electromagnetic_torque[1:])
        total = machine.armature_resistance + machine.line_resistance
        np.testing.assert_allclose(slope, -total / line.k_phi[0] ** 2, rtol=1e-9)
    middle = int(np.flatnonzero(reached)[reached.sum() // 3])
    torque = line.load_torque[middle]
    try:
        again = steady_state(machine, load_torque=float(torque), **setting)
    except InfeasibleError:
        assume(False)
    if again.armature_current == pytest.approx(line.armature_current[middle], rel=1e-6):
        assert again.speed == pytest.approx(line.speed[middle], rel=1e-6)
    else:
        assert again.armature_current < line.armature_current[middle]  # an earlier root with the same torque


# --- temperature


@given(ARMATURE_OHM, FIELD_OHM, st.floats(0.0, 40.0), st.floats(41.0, 150.0), st.sampled_from([234.5, 235.0]))
def test_a_warmer_field_runs_faster_at_no_load_by_the_ratio_of_the_resistances(
    armature: float, field: float, cold: float, warm: float, constant: float
) -> None:
    machine = simple(100.0, armature, field, 1.0)
    heated = machine.with_temperatures(
        temperature_constant=constant, field_from=cold, field_to=warm, armature_from=cold, armature_to=warm
    )
    ratio = (constant + warm) / (constant + cold)
    assert heated.armature_resistance == pytest.approx(armature * ratio, rel=1e-15)
    speeds = [steady_state(m, supply_voltage=100.0).speed for m in (machine, heated)]
    assert speeds[1] / speeds[0] == pytest.approx(ratio, rel=1e-14)
    back = heated.with_temperatures(temperature_constant=constant, field_from=warm, field_to=cold)
    assert back.field_resistance == pytest.approx(field, rel=1e-15)
