"""The ends of the speed-torque line and the highest points on it: pure arithmetic, one closed form to a function.

``supply_voltage`` is net of the brush drop; ``torque`` is electromagnetic; ``resistance`` the whole armature circuit.

Arguments are numbers or arrays, which broadcast, or anything else that does arithmetic.
"""

from __future__ import annotations

from shuntref.model.circuit_formulas import Value

__all__ = [
    "ideal_no_load_speed",
    "ideal_no_load_speed_shunt_proportional",
    "peak_k_phi",
    "peak_power",
    "peak_speed",
    "stall_current",
    "stall_torque",
]


def ideal_no_load_speed(supply_voltage: Value, k_phi: Value) -> Value:
    """omega_0 = U / kPhi.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]

    Returns
    -------
    [rad/s]

    Notes
    -----
    Laws armature-circuit-signed, armature-emf, torque, ideal-no-load.

    Examples
    --------
    >>> ideal_no_load_speed(120.0, 0.5)
    240.0
    """
    return supply_voltage / k_phi


def ideal_no_load_speed_shunt_proportional(field_circuit_resistance: Value, flux_constant: Value) -> Value:
    """omega_0 = R_ft / c: the voltage cancels.

    Parameters
    ----------
    field_circuit_resistance : [ohm]
    flux_constant : [V s/(rad A)]

    Returns
    -------
    [rad/s]

    Notes
    -----
    Laws armature-circuit-signed, armature-emf, torque, ideal-no-load, flux-proportional, field-circuit,
    shunt-connection.

    Examples
    --------
    >>> ideal_no_load_speed_shunt_proportional(240.0, 1.0)
    240.0
    """
    return field_circuit_resistance / flux_constant


def stall_torque(supply_voltage: Value, k_phi: Value, resistance: Value) -> Value:
    """T_s = kPhi U / R.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [N m]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque, standstill.

    Examples
    --------
    >>> stall_torque(120.0, 0.5, 0.5)
    120.0
    """
    return k_phi * supply_voltage / resistance


def stall_current(supply_voltage: Value, resistance: Value) -> Value:
    """I_a = U / R at standstill.

    Parameters
    ----------
    supply_voltage : [V]
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [A]

    Notes
    -----
    Laws armature-circuit, armature-emf.

    Examples
    --------
    >>> stall_current(120.0, 0.5)
    240.0
    """
    return supply_voltage / resistance


def peak_k_phi(supply_voltage: Value, torque: Value, resistance: Value) -> Value:
    """kPhi = 2 T R / U: the flux at which the speed is highest for this torque.

    Parameters
    ----------
    supply_voltage : [V]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [V s/rad]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> peak_k_phi(120.0, 12.0, 0.5)
    0.1
    """
    return 2 * torque * resistance / supply_voltage


def peak_speed(supply_voltage: Value, torque: Value, resistance: Value) -> Value:
    """omega = U^2 / (4 T R): the highest speed that any field gives with this torque.

    Parameters
    ----------
    supply_voltage : [V]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [rad/s]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> peak_speed(120.0, 12.0, 0.5)
    600.0
    """
    return supply_voltage * supply_voltage / (4 * torque * resistance)


def peak_power(supply_voltage: Value, resistance: Value) -> Value:
    """P_e = U^2 / (4 R): the most that the armature turns into mechanical power.

    Parameters
    ----------
    supply_voltage : [V]
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [W]

    Notes
    -----
    Laws electromagnetic-power, armature-circuit.

    Examples
    --------
    >>> peak_power(120.0, 0.5)
    7200.0
    """
    return supply_voltage * supply_voltage / (4 * resistance)
