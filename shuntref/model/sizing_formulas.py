"""Turned round: what flux or resistance gives a wanted speed. Pure arithmetic, one closed form to a function.

``supply_voltage`` is net of the brush drop; ``torque`` is electromagnetic; ``resistance`` the whole armature circuit.
"""

from __future__ import annotations

from shuntref.model.circuit_formulas import Value, square_root

__all__ = [
    "added_armature_resistance_for_speed",
    "added_field_resistance_for_current",
    "added_field_resistance_for_speed_proportional",
    "armature_resistance_for_speed",
    "field_circuit_resistance_for_current",
    "k_phi_for_speed",
    "k_phi_for_speed_weak_field",
    "supply_voltage_for_speed",
]


def k_phi_for_speed(supply_voltage: Value, torque: Value, resistance: Value, speed: Value) -> Value:
    """kPhi = (U + sqrt(U^2 - 4 omega T R)) / (2 omega): the branch with E > U/2."""
    root = square_root(supply_voltage * supply_voltage - 4 * speed * torque * resistance)
    return (supply_voltage + root) / (2 * speed)


def k_phi_for_speed_weak_field(supply_voltage: Value, torque: Value, resistance: Value, speed: Value) -> Value:
    """kPhi = 2 T R / (U + sqrt(U^2 - 4 omega T R)): the branch with E < U/2."""
    root = square_root(supply_voltage * supply_voltage - 4 * speed * torque * resistance)
    return 2 * torque * resistance / (supply_voltage + root)


def supply_voltage_for_speed(k_phi: Value, torque: Value, resistance: Value, speed: Value) -> Value:
    """U = kPhi omega + T R / kPhi."""
    return k_phi * speed + torque * resistance / k_phi


def armature_resistance_for_speed(supply_voltage: Value, k_phi: Value, torque: Value, speed: Value) -> Value:
    """R = kPhi (U - kPhi omega) / T: the whole armature circuit."""
    return k_phi * (supply_voltage - k_phi * speed) / torque


def added_armature_resistance_for_speed(
    supply_voltage: Value, k_phi: Value, torque: Value, armature_resistance: Value, speed: Value
) -> Value:
    """R_ax = kPhi (U - kPhi omega) / T - R_a."""
    return k_phi * (supply_voltage - k_phi * speed) / torque - armature_resistance


def field_circuit_resistance_for_current(field_voltage: Value, field_current: Value) -> Value:
    """R_ft = U_f / I_f."""
    return field_voltage / field_current


def added_field_resistance_for_current(field_voltage: Value, field_current: Value, field_resistance: Value) -> Value:
    """R_fx = U_f / I_f - R_f."""
    return field_voltage / field_current - field_resistance


def added_field_resistance_for_speed_proportional(
    supply_voltage: Value,
    flux_constant: Value,
    field_resistance: Value,
    torque: Value,
    resistance: Value,
    speed: Value,
) -> Value:
    """R_fx = c U / kPhi - R_f with kPhi from ``k_phi_for_speed``: shunt connection, proportional flux."""
    k_phi = k_phi_for_speed(supply_voltage, torque, resistance, speed)
    return flux_constant * supply_voltage / k_phi - field_resistance
