"""Armature currents where the flux depends on the armature current, and the torque that this allows: pure arithmetic.

``torque`` is electromagnetic. The smaller root is written so that nearly equal numbers are never subtracted.

Arguments are numbers or arrays, which broadcast, or anything else that does arithmetic.
"""

from __future__ import annotations

from shuntref.model.circuit_formulas import Value, square_root

__all__ = [
    "armature_current_behind_line",
    "armature_current_beyond_reaction_peak",
    "armature_current_with_flux_loss",
    "armature_current_with_reaction",
    "peak_armature_current_with_reaction",
    "peak_torque_with_flux_loss",
    "peak_torque_with_reaction",
]


def armature_current_with_reaction(
    flux_constant: Value, field_current: Value, reaction_coefficient: Value, torque: Value
) -> Value:
    """I_a from c (I_f - d I_a) I_a = T: the smaller root, continuous with no load.

    Parameters
    ----------
    flux_constant : [V s/(rad A)]
    field_current : [A]
    reaction_coefficient : [A/A]
    torque : [N m], electromagnetic

    Returns
    -------
    [A]

    Notes
    -----
    Laws torque, flux-proportional, reaction-proportional.

    Examples
    --------
    >>> round(armature_current_with_reaction(1.0, 1.0, 0.01, 16.0), 9)
    20.0
    """
    share = torque / flux_constant
    root = square_root(field_current * field_current - 4 * reaction_coefficient * share)
    return 2 * share / (field_current + root)


def armature_current_beyond_reaction_peak(
    flux_constant: Value, field_current: Value, reaction_coefficient: Value, torque: Value
) -> Value:
    """I_a from c (I_f - d I_a) I_a = T: the larger root.

    Parameters
    ----------
    flux_constant : [V s/(rad A)]
    field_current : [A]
    reaction_coefficient : [A/A]
    torque : [N m], electromagnetic

    Returns
    -------
    [A]

    Notes
    -----
    Laws torque, flux-proportional, reaction-proportional.

    Examples
    --------
    >>> round(armature_current_beyond_reaction_peak(1.0, 1.0, 0.01, 16.0), 9)
    80.0
    """
    root = square_root(field_current * field_current - 4 * reaction_coefficient * torque / flux_constant)
    return (field_current + root) / (2 * reaction_coefficient)


def armature_current_behind_line(
    source_voltage: Value,
    flux_constant: Value,
    field_circuit_resistance: Value,
    line_resistance: Value,
    torque: Value,
) -> Value:
    """I_a from c (U_s - R_l I_a) I_a / (R_ft + R_l) = T: shunt connection behind a line, proportional flux.

    Parameters
    ----------
    source_voltage : [V]
    flux_constant : [V s/(rad A)]
    field_circuit_resistance : [ohm]
    line_resistance : [ohm]
    torque : [N m], electromagnetic

    Returns
    -------
    [A]

    Notes
    -----
    Laws line-drop, current-sum, torque, field-circuit, shunt-connection, flux-proportional.

    Examples
    --------
    >>> armature_current_behind_line(145.0, 1.0, 240.0, 10.0, 1.0)
    2.0
    """
    share = torque * (field_circuit_resistance + line_resistance) / flux_constant
    root = square_root(source_voltage * source_voltage - 4 * line_resistance * share)
    return 2 * share / (source_voltage + root)


def armature_current_with_flux_loss(k_phi: Value, loss_per_ampere: Value, torque: Value) -> Value:
    """I_a from kPhi (1 - p I_a) I_a = T: the smaller root, p the fraction of flux lost per ampere.

    Parameters
    ----------
    k_phi : [V s/rad]
    loss_per_ampere : [1/A]
    torque : [N m], electromagnetic

    Returns
    -------
    [A]

    Notes
    -----
    Laws torque, flux-loss.

    Examples
    --------
    >>> armature_current_with_flux_loss(0.5, 0.0125, 7.5)
    20.0
    """
    share = torque / k_phi
    return 2 * share / (1 + square_root(1 - 4 * loss_per_ampere * share))


def peak_armature_current_with_reaction(field_current: Value, reaction_coefficient: Value) -> Value:
    """I_a = I_f / (2 d): where the torque is highest.

    Parameters
    ----------
    field_current : [A]
    reaction_coefficient : [A/A]

    Returns
    -------
    [A]

    Notes
    -----
    Laws torque, flux-proportional, reaction-proportional.

    Examples
    --------
    >>> peak_armature_current_with_reaction(1.0, 0.01)
    50.0
    """
    return field_current / (2 * reaction_coefficient)


def peak_torque_with_reaction(flux_constant: Value, field_current: Value, reaction_coefficient: Value) -> Value:
    """T = c I_f^2 / (4 d): the most torque that proportional reaction on proportional flux allows.

    Parameters
    ----------
    flux_constant : [V s/(rad A)]
    field_current : [A]
    reaction_coefficient : [A/A]

    Returns
    -------
    [N m]

    Notes
    -----
    Laws torque, flux-proportional, reaction-proportional.

    Examples
    --------
    >>> peak_torque_with_reaction(1.0, 1.0, 0.01)
    25.0
    """
    return flux_constant * field_current * field_current / (4 * reaction_coefficient)


def peak_torque_with_flux_loss(k_phi: Value, loss_per_ampere: Value) -> Value:
    """T = kPhi / (4 p).

    Parameters
    ----------
    k_phi : [V s/rad]
    loss_per_ampere : [1/A]

    Returns
    -------
    [N m]

    Notes
    -----
    Laws torque, flux-loss.

    Examples
    --------
    >>> peak_torque_with_flux_loss(0.5, 0.0125)
    10.0
    """
    return k_phi / (4 * loss_per_ampere)
