"""Speed and torque of the armature: pure arithmetic, one closed form to a function.

``supply_voltage`` stands for the voltage on the armature circuit with the brush drop already taken off
(``net_voltage``); ``torque`` is the electromagnetic torque; ``resistance`` the whole armature circuit. Roots of
quadratics are written so that nearly equal numbers are never subtracted where the answer itself is not that sensitive.

Arguments are numbers or arrays, which broadcast, or anything else that does arithmetic.
"""

from __future__ import annotations

from shuntref.model.circuit_formulas import Value, square_root

__all__ = [
    "speed_from_current",
    "speed_from_emf",
    "speed_from_torque",
    "speed_shunt_proportional",
    "speed_slope_by_k_phi",
    "speed_slope_by_resistance",
    "speed_slope_by_torque",
    "speed_with_constant_power",
    "speed_with_quadratic_torque",
    "torque_at_speed",
]


def speed_from_emf(back_emf: Value, k_phi: Value) -> Value:
    """omega = E / kPhi.

    Parameters
    ----------
    back_emf : [V]
    k_phi : [V s/rad]

    Returns
    -------
    [rad/s]

    Notes
    -----
    Law armature-emf.

    Examples
    --------
    >>> speed_from_emf(110.0, 0.5)
    220.0
    """
    return back_emf / k_phi


def speed_from_current(supply_voltage: Value, k_phi: Value, armature_current: Value, resistance: Value) -> Value:
    """omega = (U - I_a R) / kPhi.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    armature_current : [A]
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [rad/s]

    Notes
    -----
    Laws armature-circuit, armature-emf.

    Examples
    --------
    >>> speed_from_current(120.0, 0.5, 20.0, 0.5)
    220.0
    """
    return (supply_voltage - armature_current * resistance) / k_phi


def speed_from_torque(supply_voltage: Value, k_phi: Value, torque: Value, resistance: Value) -> Value:
    """omega = U/kPhi - T R/kPhi^2: the speed equation.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
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
    >>> speed_from_torque(120.0, 0.5, 10.0, 0.5)
    220.0
    """
    return (supply_voltage - torque * resistance / k_phi) / k_phi


def speed_shunt_proportional(
    supply_voltage: Value, flux_constant: Value, field_circuit_resistance: Value, torque: Value, resistance: Value
) -> Value:
    """omega = (U - T R g) g with g = R_ft/(c U): the speed equation of a shunt connection, proportional flux.

    Parameters
    ----------
    supply_voltage : [V]
    flux_constant : [V s/(rad A)]
    field_circuit_resistance : [ohm]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [rad/s]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque, flux-proportional, field-circuit, shunt-connection.

    One division in place of three: g is the reciprocal of kPhi.

    Examples
    --------
    >>> speed_shunt_proportional(120.0, 1.0, 240.0, 10.0, 0.5)
    220.0
    """
    reciprocal = field_circuit_resistance / (flux_constant * supply_voltage)
    return (supply_voltage - torque * resistance * reciprocal) * reciprocal


def torque_at_speed(supply_voltage: Value, k_phi: Value, speed: Value, resistance: Value) -> Value:
    """T_e = kPhi (U - kPhi omega) / R.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    speed : [rad/s]
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [N m]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> torque_at_speed(120.0, 0.5, 220.0, 0.5)
    10.0
    """
    return k_phi * (supply_voltage - k_phi * speed) / resistance


def speed_slope_by_resistance(k_phi: Value, torque: Value) -> Value:
    """d omega / d R = -T / kPhi^2.

    Parameters
    ----------
    k_phi : [V s/rad]
    torque : [N m], electromagnetic

    Returns
    -------
    [rad/(s ohm)]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> speed_slope_by_resistance(0.5, 10.0)
    -40.0
    """
    return -torque / (k_phi * k_phi)


def speed_slope_by_torque(k_phi: Value, resistance: Value) -> Value:
    """d omega / d T = -R / kPhi^2.

    Parameters
    ----------
    k_phi : [V s/rad]
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [rad/(s N m)]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> speed_slope_by_torque(0.5, 0.5)
    -2.0
    """
    return -resistance / (k_phi * k_phi)


def speed_slope_by_k_phi(supply_voltage: Value, k_phi: Value, torque: Value, resistance: Value) -> Value:
    """d omega / d kPhi = -(kPhi U - 2 T R) / kPhi^3.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    torque : [N m], electromagnetic
    resistance : [ohm], whole armature circuit

    Returns
    -------
    [(rad/s)/(V s/rad)]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque.

    Examples
    --------
    >>> speed_slope_by_k_phi(120.0, 0.5, 10.0, 0.5)
    -400.0
    """
    return -(supply_voltage - 2 * torque * resistance / k_phi) / (k_phi * k_phi)


def speed_with_quadratic_torque(
    supply_voltage: Value, k_phi: Value, resistance: Value, constant: Value, proportional: Value, square: Value
) -> Value:
    """Speed with T = T0 + T1 omega + T2 omega^2, the root continuous with T1 = T2 = 0.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    resistance : [ohm], whole armature circuit
    constant : [N m]
    proportional : [N m s/rad]
    square : [N m s^2/rad^2]

    Returns
    -------
    [rad/s]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque, load-quadratic.

    T2 R omega^2 + (kPhi^2 + T1 R) omega - (kPhi U - T0 R) = 0, solved as 2 C / (B + sqrt(B^2 + 4 A C)).

    Examples
    --------
    >>> round(speed_with_quadratic_torque(120.0, 0.5, 0.5, 0.0, 0.0, 0.0005), 9)
    200.0
    """
    a = square * resistance
    b = k_phi * k_phi + proportional * resistance
    c = k_phi * supply_voltage - constant * resistance
    return 2 * c / (b + square_root(b * b + 4 * a * c))


def speed_with_constant_power(
    supply_voltage: Value, k_phi: Value, resistance: Value, constant: Value, proportional: Value, power: Value
) -> Value:
    """Speed with T = T0 + T1 omega + P/omega, the root continuous with P = 0.

    Parameters
    ----------
    supply_voltage : [V]
    k_phi : [V s/rad]
    resistance : [ohm], whole armature circuit
    constant : [N m]
    proportional : [N m s/rad]
    power : [W]

    Returns
    -------
    [rad/s]

    Notes
    -----
    Laws armature-circuit, armature-emf, torque, load-constant-power.

    (kPhi^2 + T1 R) omega^2 - (kPhi U - T0 R) omega + P R = 0, the upper root; valid while kPhi U > T0 R, beyond which
    both roots lie behind standstill.

    Examples
    --------
    >>> speed_with_constant_power(120.0, 0.5, 0.5, 0.0, 0.0, 4000.0)
    200.0
    """
    b = k_phi * k_phi + proportional * resistance
    c = k_phi * supply_voltage - constant * resistance
    return (c + square_root(c * c - 4 * b * power * resistance)) / (2 * b)
