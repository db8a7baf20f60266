"""The invented motors that the certified cases run on, and the sets of laws that the groups share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from shuntref.conformance.certify import Alternative
from shuntref.conformance.problem import Values

__all__ = [
    "ADDED",
    "ARMATURE",
    "BENCH",
    "BEYOND_STALL",
    "CRANE",
    "FAN",
    "FIELD",
    "LECTURE",
    "MACHINES",
    "MILL",
    "NOTHING_NEGATIVE",
    "PROPORTIONAL",
    "PUMP",
    "REFUSING",
    "TINY",
    "given",
    "refuse_below_zero",
]

# --- laws by name (theory layer)
FIELD = ("field-circuit", "shunt-connection", "field-circuit-resistance")
PROPORTIONAL = ("effective-field-current", "reaction-none", "flux-proportional")
ARMATURE = ("armature-circuit-signed", "armature-circuit-resistance", "armature-emf", "torque", "torque-balance")

# --- invented motors, numbers chosen for short decimals; load_torque is a full load
Motor = Mapping[str, Any]
TINY: Motor = {
    "name": "tiny",
    "supply_voltage": 24.0,
    "field_resistance": 48.0,
    "armature_resistance": 1.2,
    "flux_constant": 0.32,
    "load_torque": 0.3,
    "speed": 140.0,
}
FAN: Motor = {
    "name": "fan",
    "supply_voltage": 110.0,
    "field_resistance": 220.0,
    "armature_resistance": 1.5,
    "flux_constant": 1.3,
    "load_torque": 3.0,
    "speed": 165.0,
}
BENCH: Motor = {
    "name": "bench",
    "supply_voltage": 120.0,
    "field_resistance": 160.0,
    "armature_resistance": 0.8,
    "flux_constant": 1.02,
    "load_torque": 6.5,
    "speed": 150.0,
}
CRANE: Motor = {
    "name": "crane",
    "supply_voltage": 220.0,
    "field_resistance": 110.0,
    "armature_resistance": 0.15,
    "flux_constant": 0.9,
    "load_torque": 150.0,
    "speed": 118.0,
}
LECTURE: Motor = {
    "name": "lecture",
    "supply_voltage": 240.0,
    "field_resistance": 120.0,
    "armature_resistance": 0.25,
    "flux_constant": 0.76,
    "load_torque": 60.0,
    "speed": 152.0,
}
PUMP: Motor = {
    "name": "pump",
    "supply_voltage": 400.0,
    "field_resistance": 320.0,
    "armature_resistance": 0.6,
    "flux_constant": 2.05,
    "load_torque": 80.0,
    "speed": 150.0,
}
MILL: Motor = {
    "name": "mill",
    "supply_voltage": 500.0,
    "field_resistance": 250.0,
    "armature_resistance": 0.09,
    "flux_constant": 2.2,
    "load_torque": 620.0,
    "speed": 110.0,
}
MACHINES: tuple[Motor, ...] = (TINY, FAN, BENCH, CRANE, LECTURE, PUMP, MILL)
ADDED: Mapping[str, tuple[float, float]] = {
    # a field and an armature resistance worth adding to each
    "tiny": (12.0, 2.0),
    "fan": (60.0, 4.0),
    "bench": (20.0, 10.0 / 4),
    "crane": (30.0, 0.5),
    "lecture": (40.0, 1.2),
    "pump": (75.0, 2.4),
    "mill": (65.0, 0.7),
}


def given(motor: Motor, *names: str, **more: Any) -> dict[str, Any]:
    """Return the named inputs of a motor, and others beside or instead.

    Examples
    --------
    >>> given(BENCH, "supply_voltage", "field_resistance", field_resistance=150.0)
    {'supply_voltage': 120.0, 'field_resistance': 150.0}
    """
    return {**{name: motor[name] for name in names}, **more}


def refuse_below_zero(name: str, words: str) -> tuple[str, Callable[[Values], bool]]:
    """Return the refusal of a solved quantity below zero."""
    return words, lambda values: bool(values[name] < 0)


BEYOND_STALL = refuse_below_zero("back_emf", "the torque is beyond stall")


#: where the answer is zero in exact arithmetic and rounding may leave it just below
REFUSING = Alternative("refused, because rounding leaves it just below zero")


def NOTHING_NEGATIVE(name: str) -> tuple[str, Callable[[Values], bool]]:
    """Return the refusal of a resistance found to be negative."""
    return refuse_below_zero(name, f"{name} would be negative")
