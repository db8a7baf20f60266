"""Circuit, flux and temperature: pure arithmetic, one law to a function.

Every function takes and returns whatever does arithmetic: floats, NumPy arrays, sympy symbols, mpmath numbers, and the
arrays of other libraries. Nothing is validated here; the callers do that. ``brush_drop`` is folded into the voltage by
``net_voltage`` with the sign of the armature current, as the laws allow, so no other formula carries it.
"""

from __future__ import annotations

import math
from typing import Any, TypeAlias

__all__ = [
    "Value",
    "armature_circuit_resistance",
    "armature_current",
    "armature_current_from_torque",
    "back_emf",
    "back_emf_from_current",
    "effective_field_current",
    "electromagnetic_torque",
    "field_circuit_resistance",
    "field_current",
    "field_current_behind_line",
    "field_current_for_froehlich_flux",
    "field_current_for_proportional_flux",
    "field_sensitivity_froehlich",
    "k_phi_froehlich",
    "k_phi_proportional",
    "k_phi_slope_froehlich",
    "k_phi_with_flux_loss",
    "line_current",
    "net_voltage",
    "reaction_field_current",
    "resistance_at_temperature",
    "source_voltage",
    "square_root",
    "supply_voltage_behind_line",
    "to_rad_per_s",
    "to_rpm",
]

Value: TypeAlias = Any  # anything that does arithmetic


def square_root(value: Value) -> Value:
    """Square root that stays in the arithmetic of its argument.

    Raising to 0.5 would turn an exact sympy expression into an inexact one, so each kind of number is asked in its own
    way; the last resort, the power 1/2 as an exact fraction, is the one sympy takes.

    Examples
    --------
    >>> square_root(9.0)
    3.0
    """
    if isinstance(value, (float, int)):
        return math.sqrt(value)
    namespace = getattr(value, "__array_namespace__", None)
    if namespace is not None:
        return namespace().sqrt(value)
    own = getattr(value, "sqrt", None)
    if own is not None:  # mpmath, decimal, torch
        return own()
    if hasattr(value, "__array_ufunc__"):
        import numpy as np

        return np.sqrt(value)
    from fractions import Fraction

    return value ** Fraction(1, 2)


# --- circuits


def armature_circuit_resistance(armature_resistance: Value, added_armature_resistance: Value) -> Value:
    """R = R_a + R_ax."""
    return armature_resistance + added_armature_resistance


def field_circuit_resistance(field_resistance: Value, added_field_resistance: Value) -> Value:
    """R_ft = R_f + R_fx."""
    return field_resistance + added_field_resistance


def net_voltage(supply_voltage: Value, brush_drop: Value) -> Value:
    """U - U_b; pass the brush drop with the sign of the armature current."""
    return supply_voltage - brush_drop


def field_current(field_voltage: Value, field_circuit_resistance: Value) -> Value:
    """I_f = U_f / R_ft."""
    return field_voltage / field_circuit_resistance


def field_current_behind_line(
    source_voltage: Value, armature_current: Value, field_circuit_resistance: Value, line_resistance: Value
) -> Value:
    """I_f = (U_s - R_l I_a) / (R_ft + R_l): shunt field behind a line that carries both currents."""
    return (source_voltage - line_resistance * armature_current) / (field_circuit_resistance + line_resistance)


def supply_voltage_behind_line(source_voltage: Value, line_current: Value, line_resistance: Value) -> Value:
    """U = U_s - I R_l."""
    return source_voltage - line_current * line_resistance


def source_voltage(supply_voltage: Value, line_current: Value, line_resistance: Value) -> Value:
    """U_s = U + I R_l."""
    return supply_voltage + line_current * line_resistance


def line_current(armature_current: Value, field_current: Value) -> Value:
    """I = I_a + I_f."""
    return armature_current + field_current


def armature_current(net_voltage: Value, back_emf: Value, armature_circuit_resistance: Value) -> Value:
    """I_a = (U - E) / R, with the brush drop already taken off U."""
    return (net_voltage - back_emf) / armature_circuit_resistance


def back_emf(k_phi: Value, speed: Value) -> Value:
    """E = kPhi omega."""
    return k_phi * speed


def back_emf_from_current(net_voltage: Value, armature_current: Value, armature_circuit_resistance: Value) -> Value:
    """E = U - I_a R, with the brush drop already taken off U."""
    return net_voltage - armature_current * armature_circuit_resistance


def electromagnetic_torque(k_phi: Value, armature_current: Value) -> Value:
    """T_e = kPhi I_a."""
    return k_phi * armature_current


def armature_current_from_torque(electromagnetic_torque: Value, k_phi: Value) -> Value:
    """I_a = T_e / kPhi."""
    return electromagnetic_torque / k_phi


# --- flux


def k_phi_proportional(flux_constant: Value, field_current: Value) -> Value:
    """kPhi = c I_f."""
    return flux_constant * field_current


def field_current_for_proportional_flux(flux_constant: Value, k_phi: Value) -> Value:
    """I_f = kPhi / c."""
    return k_phi / flux_constant


def k_phi_froehlich(remanent_k_phi: Value, froehlich_a: Value, froehlich_b: Value, field_current: Value) -> Value:
    """kPhi = k_r + a I_f / (b + I_f), for a field current that is not negative."""
    return remanent_k_phi + froehlich_a * field_current / (froehlich_b + field_current)


def k_phi_slope_froehlich(froehlich_a: Value, froehlich_b: Value, field_current: Value) -> Value:
    """d kPhi / d I_f = a b / (b + I_f)^2."""
    total = froehlich_b + field_current
    return froehlich_a * froehlich_b / (total * total)


def field_current_for_froehlich_flux(
    remanent_k_phi: Value, froehlich_a: Value, froehlich_b: Value, k_phi: Value
) -> Value:
    """I_f = b (kPhi - k_r) / (a - (kPhi - k_r))."""
    gained = k_phi - remanent_k_phi
    return froehlich_b * gained / (froehlich_a - gained)


def field_sensitivity_froehlich(froehlich_b: Value, field_current: Value) -> Value:
    """d ln kPhi / d ln I_f = b / (I_f + b), without remanence."""
    return froehlich_b / (field_current + froehlich_b)


def reaction_field_current(reaction_coefficient: Value, armature_current: Value) -> Value:
    """I_fr = d I_a."""
    return reaction_coefficient * armature_current


def effective_field_current(field_current: Value, reaction_field_current: Value) -> Value:
    """I_fe = I_f - I_fr."""
    return field_current - reaction_field_current


def k_phi_with_flux_loss(k_phi: Value, loss_per_ampere: Value, armature_current: Value) -> Value:
    """kPhi (1 - p I_a): flux lost in proportion to the armature current, p the fraction lost per ampere."""
    return k_phi * (1 - loss_per_ampere * armature_current)


# --- temperature and speed units


def resistance_at_temperature(
    resistance: Value, reference_temperature: Value, winding_temperature: Value, temperature_constant: Value
) -> Value:
    """R2 = R1 (k + theta_2) / (k + theta_1); temperatures in degC."""
    return resistance * (temperature_constant + winding_temperature) / (temperature_constant + reference_temperature)


def to_rpm(speed: Value, pi: Value = math.pi) -> Value:
    """n = 30 omega / pi; pass the pi of the arithmetic that is wanted (sympy, mpmath)."""
    return speed * (30 / pi)


def to_rad_per_s(speed_rpm: Value, pi: Value = math.pi) -> Value:
    """omega = pi n / 30; pass the pi of the arithmetic that is wanted (sympy, mpmath)."""
    return speed_rpm * (pi / 30)
