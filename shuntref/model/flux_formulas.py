"""Flux curves, and what the armature current takes off the flux: pure arithmetic, one law to a function.

Arguments are numbers or arrays, which broadcast, or anything else that does arithmetic.
"""

from __future__ import annotations

from shuntref.model.circuit_formulas import Value

__all__ = [
    "effective_field_current",
    "field_current_for_froehlich_flux",
    "field_current_for_proportional_flux",
    "field_sensitivity_froehlich",
    "k_phi_froehlich",
    "k_phi_proportional",
    "k_phi_slope_froehlich",
    "k_phi_with_flux_loss",
    "reaction_field_current",
]


def k_phi_proportional(flux_constant: Value, field_current: Value) -> Value:
    """kPhi = c I_f.

    Parameters
    ----------
    flux_constant : [V s/(rad A)]
    field_current : [A]

    Returns
    -------
    [V s/rad]

    Notes
    -----
    Law flux-proportional.

    Examples
    --------
    >>> k_phi_proportional(1.0, 0.5)
    0.5
    """
    return flux_constant * field_current


def field_current_for_proportional_flux(flux_constant: Value, k_phi: Value) -> Value:
    """I_f = kPhi / c.

    Parameters
    ----------
    flux_constant : [V s/(rad A)]
    k_phi : [V s/rad]

    Returns
    -------
    [A]

    Notes
    -----
    Law flux-proportional.

    Examples
    --------
    >>> field_current_for_proportional_flux(1.0, 0.5)
    0.5
    """
    return k_phi / flux_constant


def k_phi_froehlich(remanent_k_phi: Value, froehlich_a: Value, froehlich_b: Value, field_current: Value) -> Value:
    """kPhi = k_r + a I_f / (b + I_f), for a field current that is not negative.

    Parameters
    ----------
    remanent_k_phi : [V s/rad]
    froehlich_a : [V s/rad]
    froehlich_b : [A]
    field_current : [A]

    Returns
    -------
    [V s/rad]

    Notes
    -----
    Law flux-froehlich.

    Examples
    --------
    >>> k_phi_froehlich(0.25, 1.0, 0.5, 0.5)
    0.75
    """
    return remanent_k_phi + froehlich_a * field_current / (froehlich_b + field_current)


def k_phi_slope_froehlich(froehlich_a: Value, froehlich_b: Value, field_current: Value) -> Value:
    """d kPhi / d I_f = a b / (b + I_f)^2.

    Parameters
    ----------
    froehlich_a : [V s/rad]
    froehlich_b : [A]
    field_current : [A]

    Returns
    -------
    [V s/(rad A)]

    Notes
    -----
    Law flux-froehlich.

    Examples
    --------
    >>> k_phi_slope_froehlich(1.0, 0.5, 0.5)
    0.5
    """
    total = froehlich_b + field_current
    return froehlich_a * froehlich_b / (total * total)


def field_current_for_froehlich_flux(
    remanent_k_phi: Value, froehlich_a: Value, froehlich_b: Value, k_phi: Value
) -> Value:
    """I_f = b (kPhi - k_r) / (a - (kPhi - k_r)).

    Parameters
    ----------
    remanent_k_phi : [V s/rad]
    froehlich_a : [V s/rad]
    froehlich_b : [A]
    k_phi : [V s/rad]

    Returns
    -------
    [A]

    Notes
    -----
    Law flux-froehlich.

    Examples
    --------
    >>> field_current_for_froehlich_flux(0.25, 1.0, 0.5, 0.75)
    0.5
    """
    gained = k_phi - remanent_k_phi
    return froehlich_b * gained / (froehlich_a - gained)


def field_sensitivity_froehlich(froehlich_b: Value, field_current: Value) -> Value:
    """d ln kPhi / d ln I_f = b / (I_f + b), without remanence.

    Parameters
    ----------
    froehlich_b : [A]
    field_current : [A]

    Returns
    -------
    [1]

    Notes
    -----
    Law flux-froehlich.

    Examples
    --------
    >>> field_sensitivity_froehlich(0.5, 0.5)
    0.5
    """
    return froehlich_b / (field_current + froehlich_b)


def reaction_field_current(reaction_coefficient: Value, armature_current: Value) -> Value:
    """I_fr = d I_a.

    Parameters
    ----------
    reaction_coefficient : [A/A]
    armature_current : [A]

    Returns
    -------
    [A]

    Notes
    -----
    Law reaction-proportional.

    Examples
    --------
    >>> reaction_field_current(0.005, 20.0)
    0.1
    """
    return reaction_coefficient * armature_current


def effective_field_current(field_current: Value, reaction_field_current: Value) -> Value:
    """I_fe = I_f - I_fr.

    Parameters
    ----------
    field_current : [A]
    reaction_field_current : [A]

    Returns
    -------
    [A]

    Notes
    -----
    Law effective-field-current.

    Examples
    --------
    >>> effective_field_current(0.5, 0.125)
    0.375
    """
    return field_current - reaction_field_current


def k_phi_with_flux_loss(k_phi: Value, loss_per_ampere: Value, armature_current: Value) -> Value:
    """kPhi (1 - p I_a): flux lost in proportion to the armature current, p the fraction lost per ampere.

    Parameters
    ----------
    k_phi : [V s/rad]
    loss_per_ampere : [1/A]
    armature_current : [A]

    Returns
    -------
    [V s/rad]

    Notes
    -----
    Law flux-loss.

    Examples
    --------
    >>> k_phi_with_flux_loss(0.5, 0.0125, 20.0)
    0.375
    """
    return k_phi * (1 - loss_per_ampere * armature_current)
