"""Which resistances a kit of resistors can make: a bounded search through series and parallel networks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shuntref.model.resistors import Network, Resistor, single
from shuntref.model.validation import scalar

__all__ = ["NetworkSearch", "nearest_networks", "search_networks"]


@dataclass(frozen=True, slots=True)
class NetworkSearch:
    """Every network found, from the lowest resistance to the highest; ``elements`` is how many resistors deep it went."""

    networks: tuple[Network, ...]
    elements: int
    complete: bool


def search_networks(kit: Sequence[Resistor], *, most_elements: int = 4, most_networks: int = 20_000) -> NetworkSearch:
    """Find every series and parallel network of a kit.

    Parameters
    ----------
    kit : sequence of Resistor
        With the count of each kind.
    most_elements : int
        Largest number of resistors in one network, 1 to 6.
    most_networks : int
        The search stops before the number of resistors that would exceed this; ``complete`` is then False.

    Returns
    -------
    NetworkSearch

    Raises
    ------
    ValueError
        For an empty kit or bounds that make no sense.

    Notes
    -----
    Equal resistors make 1, 2, 4, 10, 24 networks of 1 to 5.

    References
    ----------
    P. A. MacMahon, The combinations of resistances, 1892 (from memory).

    Examples
    --------
    >>> found = search_networks([Resistor(10.0, 50.0, count=2), Resistor(15.0, 50.0)], most_elements=2)
    >>> [round(network.resistance, 2) for network in found.networks]
    [5.0, 6.0, 10.0, 15.0, 20.0, 25.0]
    """
    if not kit:
        raise ValueError("the kit is empty; name at least one resistor with its ohms and watts")
    if not 1 <= most_elements <= 6:
        raise ValueError(f"most_elements is {most_elements}; 1 to 6 resistors in one network are searched")
    available = Counter({resistor: resistor.count for resistor in kit})
    levels: list[list[Network]] = [[], [single(resistor) for resistor in available]]
    depth = 1
    complete = True
    total = len(levels[1])
    for size in range(2, min(most_elements, sum(available.values())) + 1):
        level: list[Network] = []
        for kind in ("series", "parallel"):
            for network in _joined_networks(kind, size, levels, available):
                level.append(network)
                if total + len(level) > most_networks:
                    break
        if total + len(level) > most_networks:
            complete = False
            break
        levels.append(level)
        total += len(level)
        depth = size
    every = [network for level in levels for network in level]
    every.sort(key=lambda network: (network.resistance, network.elements, str(network)))
    return NetworkSearch(tuple(every), depth, complete)


def _joined_networks(
    kind: str, size: int, levels: list[list[Network]], available: Counter[Resistor]
) -> Iterator[Network]:
    """Yield every network of ``size`` resistors whose outermost joint is ``kind``, each once.

    The parts are themselves single or of the other kind (otherwise the joint would not be the outermost one), taken in
    a fixed order so that no network comes twice under another order of its parts.
    """
    parts = [part for level in levels for part in level if part.kind != kind]

    def extend(chosen: tuple[Network, ...], first: int, left: int, used: Counter[Resistor]) -> Iterator[Network]:
        for position in range(first, len(parts)):
            part = parts[position]
            if part.elements > left:
                break  # parts come smallest first
            total = used + part.used
            if any(total[resistor] > available[resistor] for resistor in part.used):
                continue
            if part.elements == left:
                if chosen:
                    yield Network(kind, None, (*chosen, part))
            else:
                yield from extend((*chosen, part), position, left - part.elements, total)

    yield from extend((), 0, size, Counter())


def nearest_networks(
    search: NetworkSearch,
    resistance: float,
    *,
    current: float = 0.0,
    highest_share: float = 1.0,
    count: int = 1,
) -> tuple[Network, ...]:
    """Networks nearest to a wanted resistance that keep every resistor within its rating.

    Parameters
    ----------
    search : NetworkSearch
    resistance : float
        Wanted [ohm].
    current : float
        Through the whole network [A].
    highest_share : float
        Part of its rating that a resistor may use (1 is all of it).
    count : int
        How many to return.

    Returns
    -------
    tuple of Network
        Nearest first (by ratio); of those within 1 % of one another the one with fewest resistors. Empty when no
        network of the kit can carry the current.

    Examples
    --------
    >>> found = search_networks([Resistor(22.0, 20.0, count=4)])
    >>> [str(network) for network in nearest_networks(found, 22.0, current=1.5)]
    ['(22 ohm + 22 ohm) || (22 ohm + 22 ohm)']
    """
    wanted = scalar("resistance", resistance, "positive")
    able = [
        network for network in search.networks if max(duty.share for duty in network.duties(current)) <= highest_share
    ]
    able.sort(key=lambda network: (_hundredths_apart(network.resistance, wanted), network.elements))
    return tuple(able[:count])


def _hundredths_apart(value: float, wanted: float) -> int:
    """Distance by ratio, in whole percent, so that a simpler network may win over a closer one of the same value."""
    return round(100.0 * (max(value, wanted) / min(value, wanted) - 1.0))
