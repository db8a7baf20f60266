"""Circuits: pure arithmetic, one law to a function.

Every function takes and returns whatever does arithmetic: floats, NumPy arrays (which broadcast), sympy symbols, mpmath
numbers, and the arrays of other libraries. Nothing is validated here; the callers do that. ``brush_drop`` is folded into
the voltage by ``net_voltage`` with the sign of the armature current, as the laws allow, so no other formula carries it. The
laws named under Notes are those of ``shuntref.theory.laws``, from which each formula is proved.
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
    "electromagnetic_torque",
    "field_circuit_resistance",
    "field_current",
    "field_current_behind_line",
    "line_current",
    "net_voltage",
    "source_voltage",
    "square_root",
    "supply_voltage_behind_line",
]

Value: TypeAlias = Any  # anything that does arithmetic


def square_root(value: Value) -> Value:
    """Square root that stays in the arithmetic of its argument.

    Raising to 0.5 would turn an exact sympy expression into an inexact one, so each kind of number is asked in its own
    way; the last resort, the power 1/2 as an exact fraction, is the one sympy takes.

    Parameters
    ----------
    value : number, array or symbol

    Returns
    -------
    of the same kind

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


def armature_circuit_resistance(armature_resistance: Value, added_armature_resistance: Value) -> Value:
    """R = R_a + R_ax.

    Parameters
    ----------
    armature_resistance : [ohm]
    added_armature_resistance : [ohm]

    Returns
    -------
    [ohm]

    Notes
    -----
    Law armature-circuit-resistance.

    Examples
    --------
    >>> armature_circuit_resistance(0.25, 0.25)
    0.5
    """
    return armature_resistance + added_armature_resistance


def field_circuit_resistance(field_resistance: Value, added_field_resistance: Value) -> Value:
    """R_ft = R_f + R_fx.

    Parameters
    ----------
    field_resistance : [ohm]
    added_field_resistance : [ohm]

    Returns
    -------
    [ohm]

    Notes
    -----
    Law field-circuit-resistance.

    Examples
    --------
    >>> field_circuit_resistance(160.0, 80.0)
    240.0
    """
    return field_resistance + added_field_resistance


def net_voltage(supply_voltage: Value, brush_drop: Value) -> Value:
    """U - U_b; pass the brush drop with the sign of the armature current.

    Parameters
    ----------
    supply_voltage : [V]
    brush_drop : [V]

    Returns
    -------
    [V]

    Notes
    -----
    Law armature-circuit.

    Examples
    --------
    >>> net_voltage(120.0, 2.0)
    118.0
    """
    return supply_voltage - brush_drop


def field_current(field_voltage: Value, field_circuit_resistance: Value) -> Value:
    """I_f = U_f / R_ft.

    Parameters
    ----------
    field_voltage : [V]
    field_circuit_resistance : [ohm]

    Returns
    -------
    [A]

    Notes
    -----
    Law field-circuit.

    Examples
    --------
    >>> field_current(120.0, 240.0)
    0.5
    """
    return field_voltage / field_circuit_resistance


def field_current_behind_line(
    source_voltage: Value, armature_current: Value, field_circuit_resistance: Value, line_resistance: Value
) -> Value:
    """I_f = (U_s - R_l I_a) / (R_ft + R_l): shunt field behind a line that carries both currents.

    Parameters
    ----------
    source_voltage : [V]
    armature_current : [A]
    field_circuit_resistance : [ohm]
    line_resistance : [ohm]

    Returns
    -------
    [A]

    Notes
    -----
    Laws line-drop, current-sum, field-circuit, shunt-connection.

    Examples
    --------
    >>> field_current_behind_line(145.0, 2.0, 240.0, 10.0)
    0.5
    """
    return (source_voltage - line_resistance * armature_current) / (field_circuit_resistance + line_resistance)


def supply_voltage_behind_line(source_voltage: Value, line_current: Value, line_resistance: Value) -> Value:
    """U = U_s - I R_l.

    Parameters
    ----------
    source_voltage : [V]
    line_current : [A]
    line_resistance : [ohm]

    Returns
    -------
    [V]

    Notes
    -----
    Law line-drop.

    Examples
    --------
    >>> supply_voltage_behind_line(125.0, 20.0, 0.25)
    120.0
    """
    return source_voltage - line_current * line_resistance


def source_voltage(supply_voltage: Value, line_current: Value, line_resistance: Value) -> Value:
    """U_s = U + I R_l.

    Parameters
    ----------
    supply_voltage : [V]
    line_current : [A]
    line_resistance : [ohm]

    Returns
    -------
    [V]

    Notes
    -----
    Law line-drop.

    Examples
    --------
    >>> source_voltage(120.0, 20.0, 0.25)
    125.0
    """
    return supply_voltage + line_current * line_resistance


def line_current(armature_current: Value, field_current: Value) -> Value:
    """I = I_a + I_f.

    Parameters
    ----------
    armature_current : [A]
    field_current : [A]

    Returns
    -------
    [A]

    Notes
    -----
    Law current-sum.

    Examples
    --------
    >>> line_current(20.0, 0.5)
    20.5
    """
    return armature_current + field_current


def armature_current(net_voltage: Value, back_emf: Value, armature_circuit_resistance: Value) -> Value:
    """I_a = (U - E) / R, with the brush drop already taken off U.

    Parameters
    ----------
    net_voltage : [V]
    back_emf : [V]
    armature_circuit_resistance : [ohm]

    Returns
    -------
    [A]

    Notes
    -----
    Law armature-circuit.

    Examples
    --------
    >>> armature_current(120.0, 110.0, 0.5)
    20.0
    """
    return (net_voltage - back_emf) / armature_circuit_resistance


def back_emf(k_phi: Value, speed: Value) -> Value:
    """E = kPhi omega.

    Parameters
    ----------
    k_phi : [V s/rad]
    speed : [rad/s]

    Returns
    -------
    [V]

    Notes
    -----
    Law armature-emf.

    Examples
    --------
    >>> back_emf(0.5, 220.0)
    110.0
    """
    return k_phi * speed


def back_emf_from_current(net_voltage: Value, armature_current: Value, armature_circuit_resistance: Value) -> Value:
    """E = U - I_a R, with the brush drop already taken off U.

    Parameters
    ----------
    net_voltage : [V]
    armature_current : [A]
    armature_circuit_resistance : [ohm]

    Returns
    -------
    [V]

    Notes
    -----
    Law armature-circuit.

    Examples
    --------
    >>> back_emf_from_current(120.0, 20.0, 0.5)
    110.0
    """
    return net_voltage - armature_current * armature_circuit_resistance


def electromagnetic_torque(k_phi: Value, armature_current: Value) -> Value:
    """T_e = kPhi I_a.

    Parameters
    ----------
    k_phi : [V s/rad]
    armature_current : [A]

    Returns
    -------
    [N m]

    Notes
    -----
    Law torque.

    Examples
    --------
    >>> electromagnetic_torque(0.5, 20.0)
    10.0
    """
    return k_phi * armature_current


def armature_current_from_torque(electromagnetic_torque: Value, k_phi: Value) -> Value:
    """I_a = T_e / kPhi.

    Parameters
    ----------
    electromagnetic_torque : [N m]
    k_phi : [V s/rad]

    Returns
    -------
    [A]

    Notes
    -----
    Law torque.

    Examples
    --------
    >>> armature_current_from_torque(10.0, 0.5)
    20.0
    """
    return electromagnetic_torque / k_phi
