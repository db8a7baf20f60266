"""Speed, torque and the limits between them: pure arithmetic, one closed form to a function.

``supply_voltage`` stands for the voltage on the armature circuit with the brush drop already taken off
(``net_voltage``); ``torque`` is the electromagnetic torque; ``resistance`` the whole armature circuit. Roots of
quadratics are written so that nearly equal numbers are never subtracted where the answer itself is not that sensitive.
"""

from __future__ import annotations

from shuntref.model.circuit_formulas import Value, square_root

__all__ = [
    "armature_current_behind_line",
    "armature_current_beyond_reaction_peak",
    "armature_current_with_flux_loss",
    "armature_current_with_reaction",
    "ideal_no_load_speed",
    "ideal_no_load_speed_shunt_proportional",
    "peak_armature_current_with_reaction",
    "peak_k_phi",
    "peak_power",
    "peak_speed",
    "peak_torque_with_flux_loss",
    "peak_torque_with_reaction",
    "speed_from_current",
    "speed_from_emf",
    "speed_from_torque",
    "speed_shunt_proportional",
    "speed_slope_by_k_phi",
    "speed_slope_by_resistance",
    "speed_slope_by_torque",
    "speed_with_constant_power",
    "speed_with_quadratic_torque",
    "stall_current",
    "stall_torque",
    "torque_at_speed",
]


def speed_from_emf(back_emf: Value, k_phi: Value) -> Value:
    """omega = E / kPhi."""
    return back_emf / k_phi


def speed_from_current(supply_voltage: Value, k_phi: Value, armature_current: Value, resistance: Value) -> Value:
    """omega = (U - I_a R) / kPhi."""
    return (supply_voltage - armature_current * resistance) / k_phi


def speed_from_torque(supply_voltage: Value, k_phi: Value, torque: Value, resistance: Value) -> Value:
    """omega = U/kPhi - T R/kPhi^2: the speed equation."""
    return (supply_voltage - torque * resistance / k_phi) / k_phi


def speed_shunt_proportional(
    supply_voltage: Value, flux_constant: Value, field_circuit_resistance: Value, torque: Value, resistance: Value
) -> Value:
    """omega = (U - T R g) g with g = R_ft/(c U): the speed equation of a shunt connection, proportional flux.

    One division in place of three: g is the reciprocal of kPhi.
    """
    reciprocal = field_circuit_resistance / (flux_constant * supply_voltage)
    return (supply_voltage - torque * resistance * reciprocal) * reciprocal


def ideal_no_load_speed(supply_voltage: Value, k_phi: Value) -> Value:
    """omega_0 = U / kPhi."""
    return supply_voltage / k_phi


def ideal_no_load_speed_shunt_proportional(field_circuit_resistance: Value, flux_constant: Value) -> Value:
    """omega_0 = R_ft / c: the voltage cancels."""
    return field_circuit_resistance / flux_constant


def stall_torque(supply_voltage: Value, k_phi: Value, resistance: Value) -> Value:
    """T_s = kPhi U / R."""
    return k_phi * supply_voltage / resistance


def stall_current(supply_voltage: Value, resistance: Value) -> Value:
    """I_a = U / R at standstill."""
    return supply_voltage / resistance


def torque_at_speed(supply_voltage: Value, k_phi: Value, speed: Value, resistance: Value) -> Value:
    """T_e = kPhi (U - kPhi omega) / R."""
    return k_phi * (supply_voltage - k_phi * speed) / resistance


def peak_k_phi(supply_voltage: Value, torque: Value, resistance: Value) -> Value:
    """kPhi = 2 T R / U: the flux at which the speed is highest for this torque."""
    return 2 * torque * resistance / supply_voltage


def peak_speed(supply_voltage: Value, torque: Value, resistance: Value) -> Value:
    """omega = U^2 / (4 T R): the highest speed that any field gives with this torque."""
    return supply_voltage * supply_voltage / (4 * torque * resistance)


def peak_power(supply_voltage: Value, resistance: Value) -> Value:
    """P_e = U^2 / (4 R): the most that the armature turns into mechanical power."""
    return supply_voltage * supply_voltage / (4 * resistance)


# --- sensitivities of the speed equation


def speed_slope_by_resistance(k_phi: Value, torque: Value) -> Value:
    """d omega / d R = -T / kPhi^2."""
    return -torque / (k_phi * k_phi)


def speed_slope_by_torque(k_phi: Value, resistance: Value) -> Value:
    """d omega / d T = -R / kPhi^2."""
    return -resistance / (k_phi * k_phi)


def speed_slope_by_k_phi(supply_voltage: Value, k_phi: Value, torque: Value, resistance: Value) -> Value:
    """d omega / d kPhi = -(kPhi U - 2 T R) / kPhi^3."""
    return -(supply_voltage - 2 * torque * resistance / k_phi) / (k_phi * k_phi)


# --- torque that depends on speed


def speed_with_quadratic_torque(
    supply_voltage: Value, k_phi: Value, resistance: Value, constant: Value, proportional: Value, square: Value
) -> Value:
    """Speed with T = T0 + T1 omega + T2 omega^2, the root continuous with T1 = T2 = 0.

    T2 R omega^2 + (kPhi^2 + T1 R) omega - (kPhi U - T0 R) = 0, solved as 2 C / (B + sqrt(B^2 + 4 A C)).
    """
    a = square * resistance
    b = k_phi * k_phi + proportional * resistance
    c = k_phi * supply_voltage - constant * resistance
    return 2 * c / (b + square_root(b * b + 4 * a * c))


def speed_with_constant_power(
    supply_voltage: Value, k_phi: Value, resistance: Value, constant: Value, proportional: Value, power: Value
) -> Value:
    """Speed with T = T0 + T1 omega + P/omega, the root continuous with P = 0.

    (kPhi^2 + T1 R) omega^2 - (kPhi U - T0 R) omega + P R = 0, the upper root; valid while kPhi U > T0 R, beyond which
    both roots lie behind standstill.
    """
    b = k_phi * k_phi + proportional * resistance
    c = k_phi * supply_voltage - constant * resistance
    return (c + square_root(c * c - 4 * b * power * resistance)) / (2 * b)


# --- flux that depends on the armature current


def armature_current_with_reaction(
    flux_constant: Value, field_current: Value, reaction_coefficient: Value, torque: Value
) -> Value:
    """I_a from c (I_f - d I_a) I_a = T: the smaller root, continuous with no load."""
    share = torque / flux_constant
    root = square_root(field_current * field_current - 4 * reaction_coefficient * share)
    return 2 * share / (field_current + root)


def armature_current_beyond_reaction_peak(
    flux_constant: Value, field_current: Value, reaction_coefficient: Value, torque: Value
) -> Value:
    """I_a from c (I_f - d I_a) I_a = T: the larger root."""
    root = square_root(field_current * field_current - 4 * reaction_coefficient * torque / flux_constant)
    return (field_current + root) / (2 * reaction_coefficient)


def armature_current_behind_line(
    source_voltage: Value,
    flux_constant: Value,
    field_circuit_resistance: Value,
    line_resistance: Value,
    torque: Value,
) -> Value:
    """I_a from c (U_s - R_l I_a) I_a / (R_ft + R_l) = T: shunt connection behind a line, proportional flux."""
    share = torque * (field_circuit_resistance + line_resistance) / flux_constant
    root = square_root(source_voltage * source_voltage - 4 * line_resistance * share)
    return 2 * share / (source_voltage + root)


def armature_current_with_flux_loss(k_phi: Value, loss_per_ampere: Value, torque: Value) -> Value:
    """I_a from kPhi (1 - p I_a) I_a = T: the smaller root, p the fraction of flux lost per ampere."""
    share = torque / k_phi
    return 2 * share / (1 + square_root(1 - 4 * loss_per_ampere * share))


def peak_armature_current_with_reaction(field_current: Value, reaction_coefficient: Value) -> Value:
    """I_a = I_f / (2 d): where the torque is highest."""
    return field_current / (2 * reaction_coefficient)


def peak_torque_with_reaction(flux_constant: Value, field_current: Value, reaction_coefficient: Value) -> Value:
    """T = c I_f^2 / (4 d): the most torque that proportional reaction on proportional flux allows."""
    return flux_constant * field_current * field_current / (4 * reaction_coefficient)


def peak_torque_with_flux_loss(k_phi: Value, loss_per_ampere: Value) -> Value:
    """T = kPhi / (4 p)."""
    return k_phi / (4 * loss_per_ampere)
