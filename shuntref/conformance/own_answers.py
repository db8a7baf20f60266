"""What the answers of our own model share: registration under the suite's names, the machine behind a set of inputs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shuntref.conformance.functions import function
from shuntref.model import formulas
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux
from shuntref.model.load import ConstantTorque
from shuntref.model.machine import Machine
from shuntref.model.reaction import NoReaction, ProportionalReaction
from shuntref.model.steady import steady_state

__all__ = [
    "FUNCTIONS",
    "Answer",
    "Given",
    "answers",
    "emf_behind",
    "field_current_of",
    "flux_of",
    "known_flux",
    "machine_of",
    "motoring",
    "net_of_brushes",
    "not_below_zero",
    "read_line_current",
    "setting_of",
    "steady",
]

Given = dict[str, Any]
Answer = dict[str, Any]

FUNCTIONS: dict[str, Callable[..., Answer]] = {}


def answers(name: str) -> Callable[[Callable[[Given], Answer]], Callable[..., Answer]]:
    """Register what answers a function of the suite; inputs are completed and checked before it sees them."""

    def register(work: Callable[[Given], Answer]) -> Callable[..., Answer]:
        def call(**inputs: Any) -> Answer:
            asked = function(name)
            given = asked.complete(inputs)
            objection = asked.objection(given)
            if objection:
                raise ValueError(objection)
            found = work(given)
            return {output.name: found[output.name] for output in asked.outputs}

        call.__name__, call.__doc__ = name, work.__doc__
        FUNCTIONS[name] = call
        return call

    return register


# --- what the functions share


def flux_of(given: Given) -> FluxCurve:
    """The flux curve that the inputs speak of."""
    if "froehlich_a" in given:
        return FroehlichFlux(given["froehlich_a"], given["froehlich_b"], given["remanent_k_phi"])
    return ProportionalFlux(given["flux_constant"])


def machine_of(given: Given, flux: FluxCurve | None = None) -> Machine:
    """The machine that the inputs speak of."""
    reaction = given.get("reaction_coefficient")
    return Machine(
        armature_resistance=given["armature_resistance"],
        field_resistance=given.get("field_resistance", 1.0),
        flux=flux or flux_of(given),
        armature_reaction=NoReaction() if reaction is None else ProportionalReaction(reaction),
        brush_drop=given.get("brush_drop", 0.0),
        line_resistance=given.get("line_resistance", 0.0),
        loss_torque=ConstantTorque(given.get("loss_torque", 0.0)),
        connection="separate" if "field_voltage" in given else "shunt",
    )


def setting_of(given: Given, *names: str) -> Given:
    """Those of the inputs that are settings of a steady state, and the further ones named."""
    offered = (
        "supply_voltage",
        "source_voltage",
        "field_voltage",
        "added_field_resistance",
        "added_armature_resistance",
    )
    return {name: given[name] for name in (*offered, *names) if name in given}


def steady(given: Given, flux: FluxCurve | None = None) -> Answer:
    """The quantities of the steady state that the inputs ask for."""
    wanted = ["speed", "k_phi", "armature_current", "line_current", "field_current", "supply_voltage"]
    state = steady_state(machine_of(given, flux), **setting_of(given, "load_torque"), quantities=wanted)
    return {name: getattr(state, name) for name in wanted}


def known_flux(given: Given) -> Given:
    """A machine of one ohm and one ampere of field, so that its flux constant is the k_phi that is known."""
    return {**given, "field_resistance": 1.0, "field_voltage": 1.0, "flux_constant": given["k_phi"]}


def net_of_brushes(given: Given, volts: float, armature_current: float) -> float:
    """The voltage less the brush drop, which opposes the current and is absent without one [V]."""
    drop = given.get("brush_drop", 0.0)
    sign = (armature_current > 0) - (armature_current < 0)
    return float(formulas.net_voltage(volts, drop * sign))


def emf_behind(given: Given, volts: float, armature_current: float) -> float:
    """Back EMF behind the drops; never negative, for the suite's machines do not turn backwards."""
    resistance = formulas.armature_circuit_resistance(
        given["armature_resistance"], given.get("added_armature_resistance", 0.0)
    )
    emf = formulas.back_emf_from_current(net_of_brushes(given, volts, armature_current), armature_current, resistance)
    if emf < 0:
        raise ValueError(f"armature_current = {armature_current:g} A: the back EMF would be negative")
    return float(emf)


def field_current_of(given: Given, volts: float, added: float = 0.0) -> float:
    """Field current at a voltage, with resistance added [A]."""
    return float(formulas.field_current(volts, formulas.field_circuit_resistance(given["field_resistance"], added)))


def read_line_current(given: Given) -> tuple[float, float, float]:
    """Field current, armature current and back EMF at a line current."""
    volts = given["supply_voltage"]
    field = field_current_of(given, volts, given["added_field_resistance"])
    armature = given["line_current"] - field
    return field, armature, emf_behind(given, volts, armature)


def motoring(name: str, current: float) -> float:
    """The current, refused unless it is that of a motor [A]."""
    if current <= 0:
        raise ValueError(f"{name} leaves an armature current of {current:g} A; a motoring current is needed")
    return current


def not_below_zero(name: str, value: float) -> float:
    """The value, refused when it is negative."""
    if value < 0:
        raise ValueError(f"{name} would be {value:g}; no such resistance or power can be")
    return value
