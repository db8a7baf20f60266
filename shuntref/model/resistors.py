"""Resistors that can be picked up: what each carries in a series and parallel network, against its rating."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property

from shuntref.model.validation import scalar

__all__ = ["Network", "Resistor", "ResistorDuty", "needed_rating", "parallel", "series", "single"]


@dataclass(frozen=True, slots=True)
class Resistor:
    """A kind of resistor in the cupboard.

    Parameters
    ----------
    resistance : float
        [ohm]
    rated_power : float
        [W]
    count : int
        How many there are.
    tolerance : float
        The relative half width on the label (0.05 for 5 %).
    rated_current : float, optional
        [A] When the label gives one (a rheostat's usually does).
    name : str

    Raises
    ------
    ValueError
        A value that cannot be, named.

    Examples
    --------
    >>> Resistor(10.0, 50.0, count=3, tolerance=0.05).resistance
    10.0
    """

    resistance: float
    rated_power: float
    count: int = 1
    tolerance: float = 0.0
    rated_current: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        scalar("resistance", self.resistance, "positive")
        scalar("rated_power", self.rated_power, "positive")
        if self.rated_current is not None:
            scalar("rated_current", self.rated_current, "positive")
        if self.count != int(self.count) or self.count < 1:
            raise ValueError(f"count is {self.count!r}; a whole number of resistors, at least 1, is needed")
        if not 0.0 <= self.tolerance < 1.0:
            raise ValueError(f"tolerance is {self.tolerance!r}; a fraction from 0 to below 1 is needed (5 % is 0.05)")

    @property
    def label(self) -> str:
        """What is written on it."""
        return self.name or f"{self.resistance:g} ohm {self.rated_power:g} W"

    @property
    def highest_current(self) -> float:
        """Current at which the power rating, or the current rating if lower, is used up [A].

        Examples
        --------
        >>> Resistor(10.0, 40.0).highest_current
        2.0
        """
        by_power = math.sqrt(self.rated_power / self.resistance)
        return by_power if self.rated_current is None else min(by_power, self.rated_current)


@dataclass(frozen=True, slots=True)
class ResistorDuty:
    """What one resistor of a network carries; ``share`` is the part of its rating that is used (1 is all of it)."""

    resistor: Resistor
    current: float
    voltage: float
    power: float
    share: float


@dataclass(frozen=True)
class Network:
    """A single resistor, or several in series or in parallel; build it with single(), series() and parallel().

    Examples
    --------
    >>> ten = single(Resistor(10.0, 50.0))
    >>> pair = series(ten, parallel(ten, ten))
    >>> pair.resistance, str(pair)
    (15.0, '10 ohm + (10 ohm || 10 ohm)')
    >>> [duty.power for duty in pair.duties(2.0)]
    [40.0, 10.0, 10.0]
    """

    kind: str
    resistor: Resistor | None = None
    parts: tuple[Network, ...] = field(default=())

    @cached_property
    def resistance(self) -> float:
        """Resistance of the whole [ohm]."""
        if self.resistor is not None:
            return self.resistor.resistance
        if self.kind == "series":
            return math.fsum(part.resistance for part in self.parts)
        return 1.0 / math.fsum(1.0 / part.resistance for part in self.parts)

    @cached_property
    def used(self) -> Counter[Resistor]:
        """How many of each kind are in it."""
        if self.resistor is not None:
            return Counter([self.resistor])
        total: Counter[Resistor] = Counter()
        for part in self.parts:
            total.update(part.used)
        return total

    @cached_property
    def elements(self) -> int:
        """How many resistors are in it."""
        return sum(self.used.values())

    def duties(self, current: float) -> tuple[ResistorDuty, ...]:
        """Current, voltage, power and share of the rating of every resistor, for a current through the whole.

        Parameters
        ----------
        current : float
            [A]; its sign does not matter.

        Returns
        -------
        tuple of ResistorDuty
            In the order in which ``str`` names the resistors.
        """
        amperes = abs(float(current))
        if self.resistor is not None:
            own = self.resistor
            volts, watts = amperes * own.resistance, amperes * amperes * own.resistance
            share = watts / own.rated_power
            if own.rated_current is not None:
                # both shares are of heat, so that 0.5 means half the permitted heating whichever rating is narrower
                share = max(share, (amperes / own.rated_current) ** 2)
            return (ResistorDuty(own, amperes, volts, watts, share),)
        found: list[ResistorDuty] = []
        for part in self.parts:
            branch = amperes if self.kind == "series" else amperes * self.resistance / part.resistance
            found.extend(part.duties(branch))
        return tuple(found)

    def highest_current(self) -> float:
        """Current through the whole at which the first resistor reaches its rating [A].

        Examples
        --------
        >>> twenty = single(Resistor(20.0, 20.0))
        >>> parallel(twenty, twenty).highest_current()
        2.0
        """
        return 1.0 / math.sqrt(max(duty.share for duty in self.duties(1.0)))

    def standard_uncertainty(self) -> float:
        """Standard uncertainty of the resistance from the tolerances on the labels [ohm].

        Notes
        -----
        The resistance of a network changes with that of one element as (current in it / current in the whole)^2, the
        reciprocity theorem at work. Each tolerance is taken as a rectangular distribution (half width / sqrt 3),
        elements as independent of one another.

        Examples
        --------
        >>> round(single(Resistor(10.0, 50.0, tolerance=0.05)).standard_uncertainty(), 4)
        0.2887
        """
        total = math.fsum(
            (duty.current**2 * duty.resistor.resistance * duty.resistor.tolerance) ** 2 for duty in self.duties(1.0)
        )
        return math.sqrt(total / 3.0)

    def __str__(self) -> str:
        if self.resistor is not None:
            return self.resistor.name or f"{self.resistor.resistance:g} ohm"
        sign = " + " if self.kind == "series" else " || "
        return sign.join(str(part) if part.resistor is not None else f"({part})" for part in self.parts)


def single(resistor: Resistor) -> Network:
    """A network of one resistor."""
    return Network("single", resistor)


def _joined(kind: str, parts: tuple[Network, ...]) -> Network:
    if len(parts) < 2:
        raise ValueError(f"{kind} joins at least two networks; {len(parts)} given")
    flat: list[Network] = []
    for part in parts:
        flat.extend(part.parts if part.kind == kind else (part,))
    return Network(kind, None, tuple(flat))


def series(*parts: Network) -> Network:
    """Networks one after the other."""
    return _joined("series", parts)


def parallel(*parts: Network) -> Network:
    """Networks side by side."""
    return _joined("parallel", parts)


def needed_rating(power: float, *, margin: float = 2.0) -> float:
    """Power rating to look for when a resistor has to dissipate a power for good, rounded up to two figures.

    Parameters
    ----------
    power : float
        Dissipation [W].
    margin : float
        How many times the dissipation. 2 is common practice for free air and has no source; a resistor at its full
        rating in free air is far too hot to touch.

    Returns
    -------
    float
        [W]

    Examples
    --------
    >>> needed_rating(61.3)
    130.0
    """
    watts = scalar("power", power, "not negative") * scalar("margin", margin, "positive")
    if watts == 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(watts)) - 1)
    # the small allowance keeps 120.00000000000001 from becoming 130
    return math.ceil(watts / step * (1.0 - 1e-12)) * step
