"""Evidence for the numeric model: the laws at the points it finds, another root finder, rounding, and the bench's own check."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from importlib.resources import files
from typing import Any

import numpy as np

from shuntref.evidence import Check
from shuntref.model.flux import FroehlichFlux, ProportionalFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, SquareTorque
from shuntref.model.machine import Machine
from shuntref.model.machine_file import machine_from_text, machine_to_text
from shuntref.model.reaction import ProportionalReaction
from shuntref.model.result import SteadyState
from shuntref.model.speed_formulas import speed_from_torque
from shuntref.model.standards import provenance, standard_value
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.steady import steady_state
from shuntref.provenance import source_ids
from shuntref.quantities.text import parse_value

__all__ = ["checks"]

_MACHINES = ("laboratory", "unsaturated", "measured")
_LAWS_CLOSE = 1e-14  # of the largest term of a law: some tens of roundings, where the longest law has nine terms


def checks() -> Iterator[Check]:
    """Yield the checks of this room."""
    machines = {name: _reference_machine(name) for name in _MACHINES}
    for name, machine in machines.items():
        again = machine_from_text(machine_to_text(machine))
        yield Check("model", f"the machine file {name} comes back exactly", again == machine)
        yield from _laws(name, machine)
    yield from _other_finder(machines)
    yield _rounding()
    yield from _slogan()
    yield _reaction_limit()
    yield _field_steps()
    yield _armature_steps(machines["laboratory"])


def _reference_machine(name: str) -> Machine:
    text = (files("shuntref.references") / "machines" / f"{name}.toml").read_text(encoding="utf-8")
    return machine_from_text(text, where=f"machines/{name}.toml")


def _loads(machine: Machine) -> dict[str, Load]:
    power = machine.nameplate.get("rated_output_power", 500.0)
    torque = power / 150.0
    return {
        "no load": ConstantTorque(0.0),
        "a constant torque": ConstantTorque(torque),
        "a fan": SquareTorque(torque, 150.0),
        "a constant power": ConstantPower(power),
        "an overhauling load": ConstantTorque(-0.5 * torque),
    }


def _residuals(state: SteadyState) -> float:
    """The worst of the laws at a point, each as a share of its largest term; written out anew, from the registry's names."""
    s = state
    sign = math.copysign(1.0, s.armature_current) if s.armature_current else 0.0
    laws = (
        (s.field_voltage, -s.field_current * s.field_resistance, -s.field_current * s.added_field_resistance),
        (s.back_emf, -s.k_phi * s.speed),
        (s.supply_voltage, -s.back_emf, -s.armature_current * s.armature_resistance,
         -s.armature_current * s.added_armature_resistance, -s.brush_drop * sign),
        (s.electromagnetic_torque, -s.k_phi * s.armature_current),
        (s.electromagnetic_torque, -s.load_torque, -s.loss_torque),
        (s.line_current, -s.armature_current, -s.field_current),
        (s.source_voltage, -s.supply_voltage, -s.line_current * s.line_resistance),
        (s.input_power, -s.output_power, -s.field_copper_loss, -s.added_field_loss, -s.armature_copper_loss,
         -s.added_armature_loss, -s.brush_loss, -s.line_loss, -s.rotational_loss),
    )  # fmt: skip
    return float(max(abs(math.fsum(terms)) / max(*map(abs, terms), 1e-9) for terms in laws))


def _laws(name: str, machine: Machine) -> Iterator[Check]:
    volts = machine.nameplate["rated_supply_voltage"]
    for label, load in _loads(machine).items():
        worst = max(
            _residuals(
                steady_state(machine, supply_voltage=volts, load=load, added_field_resistance=field,
                             added_armature_resistance=armature * machine.armature_resistance)
            )
            for field in (0.0, 12.0) for armature in (0.0, 1.5)
        )  # fmt: skip
        detail = f"worst law off by {worst:.1e} of its largest term"
        yield Check("model", f"{name} with {label}: every law and the power balance hold", worst <= _LAWS_CLOSE, detail)


def _other_finder(machines: dict[str, Machine]) -> Iterator[Check]:
    """scipy on the laws with nothing eliminated, for the machines of the references."""
    from scipy.optimize import root

    for name, machine in machines.items():
        volts = machine.nameplate["rated_supply_voltage"]
        for label, load in _loads(machine).items():
            if label == "no load":
                continue
            found = steady_state(machine, supply_voltage=volts, load=load)
            sign = math.copysign(1.0, found.armature_current)
            field = volts / machine.field_resistance
            start = float(machine.flux.k_phi(field))
            laws = _unreduced(machine, load, volts, sign)
            answer = root(laws, [field, start, volts, volts / start, sign], options={"xtol": 1e-13})
            speed = float(answer.x[3])
            close = abs(speed - found.speed) <= 1e-9 * found.speed and max(map(abs, laws(answer.x))) < 1e-7
            detail = f"{speed:.9g} and {found.speed:.9g} rad/s"
            yield Check(
                "model", f"{name} with {label}: scipy on the unreduced laws finds the same speed", close, detail
            )


def _unreduced(machine: Machine, load: Load, volts: float, sign: float) -> Callable[[Any], list[float]]:
    reaction = machine.armature_reaction

    def laws(x: Any) -> list[float]:
        field, k_phi, emf, speed, current = (float(v) for v in x)
        asked = load.torque(speed) + machine.loss_torque.torque(speed)
        return [
            volts - field * machine.field_resistance,
            k_phi - machine.flux.k_phi_at(field - reaction.lost_at(current)),
            emf - k_phi * speed,
            volts - emf - current * machine.armature_resistance - sign * machine.brush_drop,
            k_phi * current - asked,
        ]

    return laws


def _rounding() -> Check:
    """The speed equation in floats against 50 digits."""
    import mpmath

    rng = np.random.default_rng(1)
    columns = [
        np.exp(rng.uniform(math.log(a), math.log(b), 5000)) for a, b in ((10, 1e3), (0.05, 5), (0.1, 1e3), (0.01, 10))
    ]
    volts, k_phi, torque, resistance = columns
    got = speed_from_torque(*columns)
    drop = torque * resistance / k_phi
    # relative change of the speed per relative change of each of the four inputs, added up; never below 2
    condition = (volts + 2.0 * drop + np.abs(volts - 2.0 * drop)) / np.abs(volts - drop)
    worst = 0.0
    with mpmath.workdps(50):
        for i in range(got.size):
            u, k, t, r = (mpmath.mpf(float(c[i])) for c in columns)
            exact = u / k - t * r / k**2
            error = abs(float(exact - mpmath.mpf(float(got[i])))) / math.ulp(float(exact))
            worst = max(worst, error / float(condition[i]))
    detail = f"worst {worst:.2g} ulp per condition number at {got.size} points"
    return Check(
        "model", "the speed equation in floats is within 8 ulp times its condition number", worst <= 8.0, detail
    )


def _slogan() -> Iterator[Check]:
    """Less field, more speed: on both sides of its condition."""
    machine = Machine(armature_resistance=2.0, field_resistance=200.0, flux=ProportionalFlux(2.0))
    light = steady_state(machine, supply_voltage=200.0, load_torque=20.0, added_field_resistance=[0.0, 20.0])
    heavy = steady_state(machine, supply_voltage=200.0, load_torque=120.0, added_field_resistance=[0.0, 20.0])
    for state, side, verb, sign in ((light, "above", "raises", 1.0), (heavy, "below", "lowers", -1.0)):
        as_said = bool((sign * (state.back_emf - 100.0) > 0.0).all() and sign * (state.speed[1] - state.speed[0]) > 0.0)
        words = f"a weaker field {verb} the speed while the EMF is {side} half the voltage"
        detail = f"{state.speed_rpm[0]:.1f} r/min, then {state.speed_rpm[1]:.1f} r/min"
        yield Check("model", words, as_said, detail)


def _reaction_limit() -> Check:
    machine = Machine(
        armature_resistance=0.5, field_resistance=100.0, flux=ProportionalFlux(1.0),
        armature_reaction=ProportionalReaction(0.01),
    )  # fmt: skip
    limit = 1.2**2 / (4.0 * 0.01)  # c I_f^2/(4 d)
    below = steady_state(machine, supply_voltage=120.0, load_torque=limit * (1.0 - 1e-9))
    try:
        steady_state(machine, supply_voltage=120.0, load_torque=limit * (1.0 + 1e-9))
    except InfeasibleError as error:
        refused = error.status is Status.TORQUE_BEYOND_REACTION_PEAK
    else:
        refused = False
    words = "armature reaction limits the torque to c I_f^2/(4 d), reached from below and refused above"
    # at the limit the current is I_f/(2 d) = 60 A, and 1e-9 of the torque below it sqrt(1e-9) of that less
    reached = 59.99 < below.armature_current < 60.0
    return Check("model", words, refused and reached, f"limit {limit:g} N m")


def _field_steps() -> Check:
    """Fitted to the first step of the field rheostat, the model predicts the second."""
    row = standard_value("common_practice", "field-steps")
    volts = parse_value("supply_voltage", row["supply_voltage"])
    steps = [parse_value("added_field_resistance", text) for text in row["added_field_resistance"]]
    seen = [parse_value("speed_rpm", text) for text in row["speed_rpm"]]
    tolerance = parse_value("speed_rpm", row["tolerance"])
    # unloaded and unsaturated: n is proportional to R_f + R_fx, so the first two speeds give R_f
    field = steps[1] / (seen[1] / seen[0] - 1.0)
    constant = field / (seen[0] * math.pi / 30.0)
    machine = Machine(armature_resistance=2.5, field_resistance=field, flux=ProportionalFlux(constant))
    predicted = steady_state(machine, supply_voltage=volts, added_field_resistance=steps[2]).speed_rpm
    return Check(
        "model",
        "fitted to the first step of the field rheostat, the model predicts the second",
        abs(predicted - seen[2]) <= tolerance,
        f"{predicted:.1f} r/min predicted, {seen[2]:g} r/min seen, {tolerance:g} r/min allowed",
        provenance(row),
        source_ids(row),
        row["seen"],
    )


def _armature_steps(machine: Machine) -> Check:
    row = standard_value("common_practice", "armature-steps")
    steps = [parse_value("added_armature_resistance", text) for text in row["added_armature_resistance"]]
    speeds = steady_state(machine, supply_voltage=120.0, added_armature_resistance=steps).speed_rpm
    detail = ", ".join(f"{n:.0f}" for n in speeds) + " r/min"
    slower = bool(np.all(np.diff(speeds) < 0.0)) and isinstance(machine.flux, FroehlichFlux)
    return Check(
        "model",
        "resistance in the armature circuit slows it, and more slows it more",
        slower,
        detail,
        provenance(row),
        source_ids(row),
        row["seen"],
    )
