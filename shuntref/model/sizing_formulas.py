"""Turned round: what flux or resistance gives a wanted speed. Pure arithmetic, one closed form to a function.

``supply_voltage`` is net of the brush drop; ``torque`` is electromagnetic; ``resistance`` the whole armature circuit.

Arguments are numbers or arrays, which broadcast, or anything else that does arithmetic.
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
    """kPhi = (U + sqrt(U^2 - 4 omega T R)) / (2 omega): the branch with E > U/2.

    Parameters
    ----------
    supply_voltage : [V]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit
    speed : [rad/s]

    Returns
    -------
    [V s/rad]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> k_phi_for_speed(120.0, 18.0, 0.5, 300.0)
    0.3
    """
    root = square_root(supply_voltage * supply_voltage - 4 * speed * torque * resistance)
    return (supply_voltage + root) / (2 * speed)


def k_phi_for_speed_weak_field(supply_voltage: Value, torque: Value, resistance: Value, speed: Value) -> Value:
    """kPhi = 2 T R / (U + sqrt(U^2 - 4 omega T R)): the branch with E < U/2.

    Parameters
    ----------
    supply_voltage : [V]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit
    speed : [rad/s]

    Returns
    -------
    [V s/rad]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> k_phi_for_speed_weak_field(120.0, 18.0, 0.5, 300.0)
    0.1
    """
    root = square_root(supply_voltage * supply_voltage - 4 * speed * torque * resistance)
    return 2 * torque * resistance / (supply_voltage + root)


def supply_voltage_for_speed(k_phi: Value, torque: Value, resistance: Value, speed: Value) -> Value:
    """U = kPhi omega + T R / kPhi.

    Parameters
    ----------
    k_phi : [V s/rad]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit
    speed : [rad/s]

    Returns
    -------
    [V]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> supply_voltage_for_speed(0.5, 10.0, 0.5, 220.0)
    120.0
    """
    return k_phi * speed + torque * resistance / k_phi


def armature_resistance_for_speed(supply_voltage: Value, k_phi: Value, torque: Value, speed: Value) -> Value:
    """R = kPhi (U - kPhi omega) / T: the whole armature circuit.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    torque : [N m], electromagnetic
    speed : [rad/s]

    Returns
    -------
    [ohm]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> armature_resistance_for_speed(120.0, 0.5, 10.0, 220.0)
    0.5
    """
    return k_phi * (supply_voltage - k_phi * speed) / torque


def added_armature_resistance_for_speed(
    supply_voltage: Value, k_phi: Value, torque: Value, armature_resistance: Value, speed: Value
) -> Value:
    """R_ax = kPhi (U - kPhi omega) / T - R_a.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    torque : [N m], electromagnetic
    armature_resistance : [ohm]
    speed : [rad/s]

    Returns
    -------
    [ohm]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> added_armature_resistance_for_speed(120.0, 0.5, 10.0, 0.5, 200.0)
    0.5
    """
    return k_phi * (supply_voltage - k_phi * speed) / torque - armature_resistance


def field_circuit_resistance_for_current(field_voltage: Value, field_current: Value) -> Value:
    """R_ft = U_f / I_f.

    Parameters
    ----------
    field_voltage : [V]
    field_current : [A]

    Returns
    -------
    [ohm]

    Notes
    -----
    Law field-circuit.

    Examples
    --------
    >>> field_circuit_resistance_for_current(120.0, 0.5)
    240.0
    """
    return field_voltage / field_current


def added_field_resistance_for_current(field_voltage: Value, field_current: Value, field_resistance: Value) -> Value:
    """R_fx = U_f / I_f - R_f.

    Parameters
    ----------
    field_voltage : [V]
    field_current : [A]
    field_resistance : [ohm]

    Returns
    -------
    [ohm]

    Notes
    -----
    Law field-circuit.

    Examples
    --------
    >>> added_field_resistance_for_current(120.0, 0.5, 160.0)
    80.0
    """
    return field_voltage / field_current - field_resistance


def added_field_resistance_for_speed_proportional(
    supply_voltage: Value,
    flux_constant: Value,
    field_resistance: Value,
    torque: Value,
    resistance: Value,
    speed: Value,
) -> Value:
    """R_fx = c U / kPhi - R_f with kPhi from ``k_phi_for_speed``: shunt connection, proportional flux.

    Parameters
    ----------
    supply_voltage : [V]
    flux_constant : [V s/(rad A)]
    field_resistance : [ohm]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit
    speed : [rad/s]

    Returns
    -------
    [ohm]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque, flux-proportional, field-circuit, shunt-connection.

    Examples
    --------
    >>> added_field_resistance_for_speed_proportional(120.0, 1.0, 160.0, 10.0, 0.5, 220.0)
    80.0
    """
    k_phi = k_phi_for_speed(supply_voltage, torque, resistance, speed)
    return flux_constant * supply_voltage / k_phi - field_resistance
