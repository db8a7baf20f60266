"""The named theorems, all in one table, and which of them rules when one thing is changed on a bench."""

from __future__ import annotations

from shuntref.theory import balance_theorems, current_theorems, field_theorems, speed_theorems
from shuntref.theory.theorem import Theorem

__all__ = ["RULING", "THEOREMS", "ruling_theorem", "theorem"]

#: name -> theorem
THEOREMS: dict[str, Theorem] = {
    entry.name: entry
    for entry in (
        *speed_theorems.THEOREMS,
        *field_theorems.THEOREMS,
        *current_theorems.THEOREMS,
        *balance_theorems.THEOREMS,
    )
}

#: quantity that is changed -> the theorem that says which way the speed goes
RULING: dict[str, str] = {
    "added_armature_resistance": "armature-resistance-and-speed",
    "armature_resistance": "armature-resistance-and-speed",
    "added_field_resistance": "added-field-resistance-and-speed",
    "field_resistance": "added-field-resistance-and-speed",
    "field_voltage": "weakening-the-field",
    "k_phi": "weakening-the-field",
    "supply_voltage": "supply-voltage-and-speed",
    "line_resistance": "line-resistance",
    "load_torque": "rising-characteristic",
    "electromagnetic_torque": "rising-characteristic",
    "reaction_coefficient": "weakening-the-field",
    "winding_temperature": "winding-temperature",
}


def theorem(name: str) -> Theorem:
    """Return the theorem called ``name``.

    Raises
    ------
    ValueError
        When there is none of that name; the message lists those there are.

    Examples
    --------
    >>> theorem("peak-speed").condition
    'motoring torque: T_e > 0'
    """
    if name not in THEOREMS:
        raise ValueError(f"unknown theorem {str(name)[:60]!r}; the theorems are {', '.join(THEOREMS)}")
    return THEOREMS[name]


def ruling_theorem(changed: str) -> Theorem:
    """Return the theorem that says which way the speed goes when the quantity ``changed`` grows.

    Parameters
    ----------
    changed : str
        Of the registry: a resistance, a voltage, a torque.

    Returns
    -------
    Theorem

    Raises
    ------
    ValueError
        When no theorem rules a change of that quantity.

    Notes
    -----
    Each theorem carries its own proof and counterexample; ``Theorem.prove`` carries the proof out.

    Examples
    --------
    >>> ruling_theorem("added_field_resistance").name
    'added-field-resistance-and-speed'
    """
    if changed not in RULING:
        raise ValueError(
            f"no theorem says what a change of {str(changed)[:60]!r} does; there is one for {', '.join(RULING)}"
        )
    return THEOREMS[RULING[changed]]
