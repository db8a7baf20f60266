"""What an exercise states: its parts as plain frozen records, after reading and before solving."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shuntref.exercises.answer_rule import AnswerRule
from shuntref.quantities.text import WrittenValue

__all__ = [
    "MOST_SECTIONS",
    "STARTER",
    "Answer",
    "Entry",
    "Exercise",
    "ExerciseError",
    "FluxLaw",
    "Link",
    "LoadLink",
    "Losses",
    "Provenance",
    "RatioLink",
    "Reading",
    "Ref",
    "RootRule",
    "SameLink",
    "Starter",
    "State",
]

STARTER = "starter"
MOST_SECTIONS = 200

#: a quantity as the file has it: a value, or None where it says "unknown"
Entry = WrittenValue | None


class ExerciseError(ValueError):
    """An exercise that cannot be used as it stands; the message says what, where, and what would be accepted."""


@dataclass(frozen=True, slots=True, order=True)
class Ref:
    """A quantity of a state; ``state`` is empty for what all states share, ``index`` counts the steps of a starter.

    Examples
    --------
    >>> str(Ref("after", "speed")), str(Ref("", "armature_resistance")), str(Ref("starter", "section_resistance", 2))
    ('after.speed', 'armature_resistance', 'starter.section_resistance[2]')
    """

    state: str
    quantity: str
    index: int = 0

    def __str__(self) -> str:
        name = f"{self.state}.{self.quantity}" if self.state else self.quantity
        return f"{name}[{self.index}]" if self.index else name


@dataclass(frozen=True, slots=True)
class State:
    """One running condition: its quantities, the action of the machine, what is neglected, and a condition on it."""

    name: str
    entries: Mapping[str, Entry] = field(default_factory=dict)
    action: str = "motor"
    neglect: frozenset[str] = frozenset()
    condition: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """One isolated reading of a magnetisation curve, valid for the named states."""

    field_current: WrittenValue
    back_emf: WrittenValue
    states: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class FluxLaw:
    """How the fluxes of the states are related; ``law`` is "" when nothing is said."""

    law: str = ""
    at_speed: WrittenValue | None = None
    field_current: tuple[float, ...] = ()
    back_emf: tuple[float, ...] = ()
    join: str = "linear"
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True)
class SameLink:
    """A quantity that has one value in several states."""

    quantity: str
    states: tuple[str, ...]
    because: str = ""


@dataclass(frozen=True, slots=True)
class RatioLink:
    """The sum of ``of`` is ``ratio`` times ``to``; a ratio of None is an unknown."""

    of: tuple[Ref, ...]
    to: Ref
    ratio: Entry
    because: str = ""


@dataclass(frozen=True, slots=True)
class LoadLink:
    """How a torque goes with the speed from state to state."""

    load: str
    torque: str
    states: tuple[str, ...]
    because: str = ""


Link = SameLink | RatioLink | LoadLink


@dataclass(frozen=True, slots=True)
class Losses:
    """The loss conventions of an exercise."""

    rotational: str = ""
    constant_loss_is: tuple[str, ...] = ()
    stray_share: WrittenValue | None = None
    stray_of: str = ""


@dataclass(frozen=True, slots=True)
class Starter:
    """A graded starter; the limits are values or the names of states."""

    method: str
    upper_current: WrittenValue | None = None
    lower_current: WrittenValue | None = None
    upper_from: str = ""
    lower_from: str = ""
    limits_in: str = "armature"
    sections: int = 0
    whole: str = "up"


@dataclass(frozen=True, slots=True)
class RootRule:
    """Which root of a simultaneous group is wanted: the one with the "smaller" or "larger" value of a quantity."""

    of: Ref
    take: str


@dataclass(frozen=True, slots=True)
class Answer:
    """A quantity asked for, and what was printed.

    ``kind`` is "value", "quotient" (``of`` over ``against``), "change" or "decrease" (relative, from ``against``);
    ``explained_by`` names the slip that a known-wrong printed figure comes from.
    """

    name: str
    of: Ref
    kind: str = "value"
    against: Ref | None = None
    printed: WrittenValue | None = None
    rule: AnswerRule = field(default_factory=AnswerRule)
    disagrees: bool = False
    printed_as: str = ""
    label: str = ""
    explained_by: str = ""


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where an exercise is from, and how honestly that is known."""

    id: str
    place: str = ""
    statement: str = "from memory"
    answer: str = "from memory"
    confidence: str = "not stated"
    agreement: str = ""
    address: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Exercise:
    """A whole exercise."""

    title: str
    statement: str
    states: Mapping[str, State]
    answers: Mapping[str, Answer]
    shared: Mapping[str, Entry] = field(default_factory=dict)
    flux: FluxLaw = FluxLaw()
    links: tuple[Link, ...] = ()
    losses: Losses = Losses()
    starter: Starter | None = None
    roots: tuple[RootRule, ...] = ()
    source: Provenance | None = None
    connection: str = "shunt"
    winding: str = ""
    horsepower: str = "mechanical"
    neglect: frozenset[str] = frozenset()
    surplus: tuple[Ref, ...] = ()
    assumptions: str = ""
    note: str = ""
    label: str = ""
    invented: bool = False
    name: str = ""

    def given(self, ref: Ref) -> Entry:
        """What the file has for ``ref``: its own value, the shared one, or None.

        Examples
        --------
        >>> Exercise("t", "s", {}, {}).given(Ref("", "armature_resistance")) is None
        True
        """
        if ref.state in self.states and ref.quantity in self.states[ref.state].entries:
            return self.states[ref.state].entries[ref.quantity]
        return self.shared.get(ref.quantity)
