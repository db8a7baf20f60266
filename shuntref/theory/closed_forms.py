"""Closed forms: what a quantity is in terms of the others, solved and substituted from the laws."""

from __future__ import annotations

import sympy as sp

from shuntref.theory.derivation import derive

__all__ = ["closed_form"]


def closed_form(
    quantity: str,
    *,
    brush_drop: bool = False,
    line_resistance: bool = False,
    flux: str = "general",
    connection: str = "shunt",
    reaction: bool = False,
    detail: str = "totals",
    given: str | None = None,
    load: str = "torque",
    branch: str = "",
) -> sp.Expr:
    """Return a quantity in terms of registry symbols, derived from the laws.

    Parameters
    ----------
    quantity : name of the registry; one of ``shuntref.theory.derivation.DERIVABLE``
    brush_drop : take the brush drop into account (motoring)
    line_resistance : the source voltage is given, ahead of a line resistance
    flux : 'general' keeps ``k_phi``; 'proportional' and 'froehlich' put the curve in
    connection : 'shunt', or 'separate' with a ``field_voltage`` of its own
    reaction : armature reaction in proportion to the armature current
    detail : 'field_current' stops at the field current, 'totals' at the circuits' resistances, 'parts' splits these into
        the winding's and the added ones
    given : 'torque', 'speed' or 'current', where there is a choice; None takes the usual one
    load : 'torque', 'quadratic' in the speed, or with a part of 'constant_power'
    branch : 'upper' or 'lower' of two roots; '' takes the one the machine runs on

    Returns
    -------
    sympy expression

    Raises
    ------
    ValueError
        For a quantity that has no derivation, or an option that has no bearing on it.

    Notes
    -----
    ``electromagnetic_torque`` stands for the torque wherever one is given; the torque balance makes it the load torque
    plus the loss torque.

    Examples
    --------
    >>> closed_form("speed")
    -armature_circuit_resistance*electromagnetic_torque/k_phi**2 + supply_voltage/k_phi
    >>> closed_form("ideal_no_load_speed", flux="proportional", detail="parts")
    (added_field_resistance + field_resistance)/flux_constant
    >>> closed_form("peak_speed")
    supply_voltage**2/(4*armature_circuit_resistance*electromagnetic_torque)
    >>> closed_form("armature_current", flux="proportional", reaction=True, detail="field_current", branch="upper")
    field_current/(2*reaction_coefficient) + ...
    """
    options: dict[str, object] = {
        "brush_drop": brush_drop,
        "line_resistance": line_resistance,
        "flux": flux,
        "connection": connection,
        "reaction": reaction,
        "detail": detail,
        "load": load,
        "branch": branch,
    }
    if given is not None:
        options["given"] = given
    form: sp.Expr = derive(quantity, **options).result.rhs
    return form
