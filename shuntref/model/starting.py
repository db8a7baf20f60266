"""Starting: the resistance that limits the current at standstill, and a start followed contact by contact."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shuntref.model.validation import scalar

__all__ = [
    "StarterStep",
    "direct_starting_current",
    "starter_steps",
    "starting_resistance",
]


@dataclass(frozen=True, slots=True)
class StarterStep:
    """One contact of the starter: what is in circuit, and the current when it is reached and when it is left.

    ``cut_out_current`` and ``back_emf_at_cut_out`` are None on the last contact, where the motor stays.
    """

    number: int
    added_armature_resistance: float
    circuit_resistance: float
    peak_current: float
    back_emf_at_peak: float
    cut_out_current: float | None
    back_emf_at_cut_out: float | None


def direct_starting_current(supply_voltage: float, armature_resistance: float, *, brush_drop: float = 0.0) -> float:
    """Armature current when the motor is switched straight on at standstill.

    Parameters
    ----------
    supply_voltage, armature_resistance, brush_drop : float
        [V], [ohm], [V].

    Returns
    -------
    float
        [A]; 0 when the supply does not even overcome the brush drop.

    Raises
    ------
    ValueError
        For a negative, zero (resistance, voltage) or non-finite argument.

    Notes
    -----
    (U - U_b) / R_a, the back EMF being zero.

    References
    ----------
    I. L. Kosow, Electric Machinery and Transformers, Example 4-1 (from memory): 590 A.

    Examples
    --------
    >>> round(direct_starting_current(120.0, 0.2, brush_drop=2.0), 6)
    590.0
    """
    driving = scalar("supply_voltage", supply_voltage, "positive") - scalar("brush_drop", brush_drop, "not negative")
    return max(driving, 0.0) / scalar("armature_resistance", armature_resistance, "positive")


def starting_resistance(
    supply_voltage: float,
    armature_resistance: float,
    starting_current: float,
    *,
    limit: str = "armature",
    field_current: float = 0.0,
    brush_drop: float = 0.0,
    back_emf: float = 0.0,
) -> float:
    """Resistance to add in the armature circuit so that the current does not exceed a limit.

    Parameters
    ----------
    supply_voltage, armature_resistance, starting_current : float
        [V], [ohm], [A]; ``starting_current`` is the limit.
    limit : {"armature", "line"}
        Which current the limit is meant for. The line carries the field current as well.
    field_current, brush_drop, back_emf : float
        [A], [V], [V]. ``field_current`` counts only for a line limit.

    Returns
    -------
    float
        [ohm]; 0 when no resistance is needed.

    Raises
    ------
    ValueError
        For an impossible argument, or a line limit that the field current alone uses up.

    Notes
    -----
    (U - E - U_b) / I_a - R_a with I_a the limit, or the limit less I_f.

    References
    ----------
    I. L. Kosow, Electric Machinery and Transformers, Example 4-2 (from memory): 0.85 ohm at standstill and 0.316 ohm at
    half the voltage as counter-EMF.

    Examples
    --------
    >>> round(starting_resistance(120.0, 0.2, 112.5, brush_drop=2.0), 3)
    0.849
    >>> round(starting_resistance(120.0, 0.2, 112.5, brush_drop=2.0, back_emf=60.0), 3)
    0.316
    """
    if limit not in ("armature", "line"):
        raise ValueError(f"limit is {limit!r}; write 'armature' or 'line'")
    current = scalar("starting_current", starting_current, "positive")
    if limit == "line":
        field = scalar("field_current", field_current, "not negative")
        if field >= current:
            raise ValueError(
                f"starting_current is {current:g} A in the line, but the field alone takes {field:g} A; allow more"
            )
        current -= field
    driving = (
        scalar("supply_voltage", supply_voltage, "positive")
        - scalar("brush_drop", brush_drop, "not negative")
        - scalar("back_emf", back_emf, "not negative")
    )
    return max(driving / current - scalar("armature_resistance", armature_resistance, "positive"), 0.0)


def starter_steps(
    supply_voltage: float,
    armature_resistance: float,
    sections: Sequence[float],
    lower_current: float,
    *,
    brush_drop: float = 0.0,
) -> tuple[StarterStep, ...]:
    """Follow a start step by step: every section is cut out when the current has fallen to the lower limit.

    Parameters
    ----------
    supply_voltage, armature_resistance : float
        [V], [ohm].
    sections : sequence of float
        [ohm], in the order in which they are cut out.
    lower_current : float
        [A], the armature current at which the next contact is taken.
    brush_drop : float
        [V].

    Returns
    -------
    tuple of StarterStep
        One more than there are sections.

    Raises
    ------
    ValueError
        For an impossible argument, or when the first peak does not even reach the lower current.

    Notes
    -----
    The flux is constant and the speed cannot jump, so the back EMF just before a section is cut out is the back EMF
    just after it: the next peak is (U - U_b - E) / (what is left in circuit).

    Examples
    --------
    >>> steps = starter_steps(250.0, 0.05, (0.1786, 0.0893, 0.0393), 350.0)
    >>> [round(step.peak_current) for step in steps]
    [700, 700, 700, 625]
    """
    driving = scalar("supply_voltage", supply_voltage, "positive") - scalar("brush_drop", brush_drop, "not negative")
    own = scalar("armature_resistance", armature_resistance, "positive")
    lower = scalar("lower_current", lower_current, "positive")
    ohms = [scalar(f"section {position}", value, "positive") for position, value in enumerate(sections, start=1)]
    emf = 0.0
    steps = []
    for position in range(len(ohms) + 1):
        added = math.fsum(ohms[position:])
        circuit = added + own
        peak = (driving - emf) / circuit
        if position < len(ohms) and peak <= lower:
            raise ValueError(
                f"lower_current is {lower:g} A, but contact {position + 1} draws only {peak:g} A at its peak; "
                "use less resistance or a lower limit"
            )
        last = position == len(ohms)
        left = None if last else driving - lower * circuit
        steps.append(StarterStep(position + 1, added, circuit, peak, emf, None if last else lower, left))
        emf = emf if left is None else left
    return tuple(steps)
