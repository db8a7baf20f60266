"""Speeds that somebody wants: the resistance that gives each, the nearest preferred value, the kit's best, or why not."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shuntref.bench.bench_file import Bench
from shuntref.bench.kit import Duty, describe_network, network_duty
from shuntref.bench.plan_candidates import Refusal, judge, light_speeds, setting_for, state_values, with_tolerances
from shuntref.bench.prediction import BenchModel, solve_settings
from shuntref.bench.uncertainty import coverage_factor
from shuntref.model.networks import NetworkSearch, nearest_networks
from shuntref.model.preferred import nearest_preferred
from shuntref.model.resistors import Network, Resistor, needed_rating, single
from shuntref.model.sizing import added_armature_resistance_for_speed, added_field_resistance_for_speed
from shuntref.model.status import InfeasibleError

__all__ = ["WantedSpeed", "size_wanted_speeds"]


@dataclass(frozen=True)
class WantedSpeed:
    """One wanted speed [r/min].

    ``resistance`` is the exact one, None when no resistance gives the speed; ``preferred`` the nearest E24 value;
    ``rating`` the power rating to look for [W]; ``duty`` what the kit's nearest combination carries; ``reached`` the speed
    that it gives [r/min].
    """

    wanted_rpm: float
    circuit: str
    resistance: float | None
    preferred: float | None
    rating: float | None
    duty: Duty | None
    reached: float | None
    words: str


def size_wanted_speeds(
    bench: Bench, model: BenchModel, search: NetworkSearch, base_rpm: float
) -> tuple[WantedSpeed, ...]:
    """Size a resistor for every speed that the bench file wants.

    Parameters
    ----------
    bench, model, search
        The bench, its model, and the combinations of its kit.
    base_rpm : float
        Speed with nothing added [r/min]: faster is the field circuit's business, slower the armature circuit's.

    Returns
    -------
    tuple of WantedSpeed
        An unreachable speed has its reason in ``words``: the nearest speed and the theorem that forbids more. A speed or a
        combination beyond a limit is refused and no resistor named for it.
    """
    return tuple(_one(bench, model, search, base_rpm, wanted) for wanted in bench.wanted_speeds)


def _one(bench: Bench, model: BenchModel, search: NetworkSearch, base_rpm: float, wanted: float) -> WantedSpeed:
    circuit = "field" if wanted >= base_rpm else "armature"
    start, top = f"{wanted:.4g} r/min", bench.limits.speed_rpm

    def without(words: str, *figures: float | None) -> WantedSpeed:
        ohms, preferred, rating = figures or (None, None, None)
        return WantedSpeed(wanted, circuit, ohms, preferred, rating, None, None, f"{start}: {words}")

    if wanted > top:
        return without(f"refused, the highest permitted speed is {top:.4g} r/min")
    size = added_field_resistance_for_speed if circuit == "field" else added_armature_resistance_for_speed
    try:
        found = size(
            model.machine(model.values()), speed_rpm=wanted, supply_voltage=bench.supply_voltage, load=bench.load
        )
    except InfeasibleError as error:
        return without(str(error))
    ohms, state = float(found.resistance), found.state
    if ohms == 0.0 or state is None:
        return without("nothing needs to be added", 0.0, None, None)
    current = float(state.field_current if circuit == "field" else state.armature_current)
    watts = current * current * ohms
    refusal = _refusal(bench, model, circuit, single(Resistor(ohms, needed_rating(watts, margin=10.0))))
    if refusal is not None:
        return without(f"refused: {refusal.words}")
    rating, preferred = needed_rating(watts), nearest_preferred(ohms)
    words = (
        f"{ohms:.4g} ohm in the {circuit} circuit, {watts:.3g} W in it (look for {rating:.3g} W or more); nearest E24 "
        f"value {preferred:g} ohm"
    )
    near = nearest_networks(search, ohms, current=current, highest_share=bench.limits.resistor_share)
    if not near:
        return without(f"{words}; no combination of the kit carries {current:.3g} A", ohms, preferred, rating)
    network = near[0]
    refusal = _refusal(bench, model, circuit, network)
    if refusal is not None:
        words += f"; the kit's nearest, {network.resistance:.4g} ohm, is refused: {refusal.words}"
        return without(words, ohms, preferred, rating)
    setting = setting_for(circuit, network)
    reached = float(solve_settings(model, model.values(), [setting], None, ("speed_rpm",)).speed_rpm[0])
    words += (
        f"; from the kit {describe_network(network)}, {network.resistance:.4g} ohm, which gives {reached:.0f} r/min"
    )
    return WantedSpeed(
        wanted, circuit, ohms, preferred, rating, network_duty(network, current), reached, f"{start}: {words}"
    )


def _refusal(bench: Bench, model: BenchModel, circuit: str, network: Network) -> Refusal | None:
    """What the limits say of a combination, judged like any other setting of the plan."""
    found = with_tolerances(model, [(circuit, network)])
    values = state_values(found, 0)
    duty = network_duty(network, values["field_current" if circuit == "field" else "armature_current"])
    status = int(np.ravel(np.asarray(found.state.status))[0])
    light = float(light_speeds(model, [setting_for(circuit, network)])[0])
    expanded = coverage_factor(math.inf) * found.standard_uncertainty(0)
    return judge(bench, circuit, duty, found.speed(0), expanded, values, status, light)
