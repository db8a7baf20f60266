"""The catalogue of slips: each a law or a reading replaced, never a table of numbers.

A slip says how a mistaken solver would have gone about an exercise: with another law in the place of the right one, or
with the statement read in another way. What number comes of it is worked out by the same general solver that finds the
right answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

from shuntref.exercises.statement import Exercise
from shuntref.theory.laws.law import Law

__all__ = ["KINDS", "Slip", "Slipped", "catalogue", "slip"]

#: what a slip is a slip of
KINDS: dict[str, str] = {
    "law": "a law replaced by a wrong one",
    "reading": "the statement read in another way than it is meant",
    "unit": "a unit or a factor of conversion",
    "convention": "a convention other than the one the exercise states",
}


@dataclass(frozen=True)
class Slipped:
    """An exercise as a mistaken solver would treat it.

    ``laws`` take the place of those with the same slug; ``factor`` multiplies the answers (a unit taken for another).
    """

    exercise: Exercise
    laws: Mapping[str, Law] = field(default_factory=dict)
    factor: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Slip:
    """One named mistake.

    ``broken`` names the law or the reading that was broken, ``description`` what was done, ``effect`` what comes of it,
    ``apply`` the ways in which an exercise can be treated so (none where it does not apply).
    """

    name: str
    title: str
    kind: str
    broken: str
    description: str
    effect: str
    apply: Callable[[Exercise], Iterator[Slipped]]


@cache
def catalogue() -> dict[str, Slip]:
    """Return all slips by name, the commonest first.

    Examples
    --------
    >>> len(catalogue()) >= 20, next(iter(catalogue()))
    (True, 'line-current-for-armature-current')
    """
    # not at the top: these modules build their rows from the records of this one
    from shuntref.exercises.slips_of_convention import SLIPS as of_convention
    from shuntref.exercises.slips_of_law import SLIPS as of_law
    from shuntref.exercises.slips_of_reading import SLIPS as of_reading

    rows = [*of_law, *of_reading, *of_convention]
    order = {name: place for place, name in enumerate(COMMONEST)}
    rows.sort(key=lambda row: order.get(row.name, len(order)))
    return {row.name: row for row in rows}


def slip(name: str) -> Slip:
    """Return the slip called ``name``.

    Raises
    ------
    KeyError
        There is none of this name.

    Examples
    --------
    >>> slip("back-emf-ignored").kind
    'law'
    """
    if name not in catalogue():
        raise KeyError(f"unknown slip {name[:60]!r}; the catalogue has: {', '.join(catalogue())}")
    return catalogue()[name]


#: order in which slips that give the same number are named: what a marker sees most often comes first (common practice)
COMMONEST: tuple[str, ...] = (
    "line-current-for-armature-current",
    "back-emf-ignored",
    "generator-sign-for-motor",
    "armature-drop-ignored",
    "flux-kept-though-field-changed",
    "armature-current-kept-though-flux-changed",
    "total-resistance-for-added",
    "added-resistance-forgotten",
    "brush-drop-forgotten",
    "brush-drop-doubled",
    "shaft-for-developed",
    "field-copper-left-out",
    "r-min-for-rad-per-s",
    "two-pi-forgotten",
    "added-resistor-in-the-wrong-circuit",
    "speed-proportional-to-field",
    "flux-not-squared-in-torque-term",
    "winding-resistance-forgotten",
    "linear-flux-where-the-curve-saturates",
    "armature-reaction-ignored",
    "regulation-on-the-wrong-base",
    "starter-exponent-off-by-one",
    "cold-resistance-for-hot",
)
