"""From the cupboard to the circuit: which combination of resistors to use for a setting, and what each of them carries."""

from __future__ import annotations

from dataclasses import dataclass

from shuntref.bench.bench_file import Bench
from shuntref.model.networks import NetworkSearch, search_networks
from shuntref.model.resistors import Network, ResistorDuty

__all__ = ["HOT_SHARE", "Duty", "describe_network", "kit_networks", "network_duty"]

#: above this share of its rating a resistor in free air is called hot; common practice, no source
HOT_SHARE = 0.5


@dataclass(frozen=True)
class Duty:
    """A combination in use: the current through it, the voltage across it, its power, and each resistor's part."""

    network: Network
    current: float
    voltage: float
    power: float
    resistors: tuple[ResistorDuty, ...]

    @property
    def share(self) -> float:
        """Share of its rating that the most loaded resistor uses."""
        return max(part.share for part in self.resistors)

    @property
    def remark(self) -> str:
        """What the hand will notice."""
        if self.share > 1.0:
            return "beyond its rating"
        if self.share > HOT_SHARE:
            return "within its rating and far too hot to touch"
        return "within its rating; can still burn a hand"


def kit_networks(bench: Bench) -> NetworkSearch:
    """Every combination of the bench's kit, as far as the search goes."""
    return search_networks(bench.kit, most_elements=bench.most_elements)


def network_duty(network: Network, current: float) -> Duty:
    """What a combination carries at a current through the whole.

    Examples
    --------
    >>> from shuntref.model.resistors import Resistor, single
    >>> duty = network_duty(single(Resistor(10.0, 50.0)), 2.0)
    >>> duty.voltage, duty.power, duty.share, duty.remark
    (20.0, 40.0, 0.8, 'within its rating and far too hot to touch')
    """
    amperes = abs(float(current))
    ohms = network.resistance
    return Duty(network, amperes, amperes * ohms, amperes * amperes * ohms, network.duties(amperes))


def describe_network(network: Network) -> str:
    """The combination in the words of the bench.

    Examples
    --------
    >>> from shuntref.model.resistors import Resistor, parallel, series, single
    >>> ten, two = single(Resistor(10.0, 50.0)), single(Resistor(2.2, 100.0))
    >>> describe_network(series(two, parallel(ten, ten)))
    '2.2 ohm in series with (2 x 10 ohm in parallel)'
    >>> describe_network(parallel(ten, ten, ten))
    '3 x 10 ohm in parallel'
    """
    if network.resistor is not None:
        return str(network)
    if len({str(part) for part in network.parts}) == 1:
        part = network.parts[0]
        inner = str(part) if part.resistor is not None else f"({describe_network(part)})"
        return f"{len(network.parts)} x {inner} in {network.kind}"
    texts = []
    for text, count in _counted(network):
        texts.append(text if count == 1 else f"{count} x {text}")
    joint = " in series with " if network.kind == "series" else " in parallel with "
    return joint.join(texts)


def _counted(network: Network) -> list[tuple[str, int]]:
    counts: dict[str, int] = {}
    for part in network.parts:
        text = str(part) if part.resistor is not None else f"({describe_network(part)})"
        counts[text] = counts.get(text, 0) + 1
    return list(counts.items())
