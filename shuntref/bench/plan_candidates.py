"""Every resistance that the kit can put in a circuit, judged against the limits of the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.bench_file import Bench
from shuntref.bench.kit import Duty, network_duty
from shuntref.bench.prediction import BenchModel, Predictions, Setting, own_errors, predict, solve_settings
from shuntref.bench.uncertainty import coverage_factor
from shuntref.model.networks import NetworkSearch
from shuntref.model.resistors import Network
from shuntref.model.status import WORDS, Status

__all__ = [
    "Candidate",
    "Refusal",
    "candidates",
    "judge",
    "light_speeds",
    "setting_for",
    "state_values",
    "with_tolerances",
]

Array = NDArray[np.float64]

#: least ratio of stall torque to torque for an armature step; below it a small rise of load stalls the motor
LEAST_TORQUE_RESERVE = 2.0

#: resistances closer than this ratio to one another are one step to the bench
_SAME = 0.005


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a setting is refused: the limit, what the model gives, the bound, and the sentence."""

    limit: str
    value: float
    bound: float
    words: str


@dataclass(frozen=True)
class Candidate:
    """One resistance in one circuit, predicted and judged; ``refusal`` is None when every limit is kept.

    Speeds in r/min; ``expanded`` is the expanded uncertainty of the speed (95 %); ``values`` the predicted quantities.
    """

    circuit: str
    network: Network
    speed_rpm: float
    expanded: float
    duty: Duty
    values: dict[str, float]
    refusal: Refusal | None


def setting_for(circuit: str, network: Network | None) -> Setting:
    """The setting that puts a network in a circuit; the baseline for None."""
    ohms = 0.0 if network is None else network.resistance
    return Setting(
        added_field_resistance=ohms if circuit == "field" else 0.0,
        added_armature_resistance=ohms if circuit == "armature" else 0.0,
    )


def _distinct(search: NetworkSearch) -> list[list[Network]]:
    """Networks in groups of practically the same resistance, from the lowest resistance to the highest."""
    groups: list[list[Network]] = []
    for network in search.networks:
        if groups and network.resistance <= groups[-1][0].resistance * (1.0 + _SAME):
            groups[-1].append(network)
        else:
            groups.append([network])
    return groups


def _simplest(group: Sequence[Network], current: float, share: float) -> Network:
    """The simplest network of a group that carries the current within the share of its rating, or the strongest."""
    able = [n for n in group if current <= n.highest_current() * math.sqrt(share)]
    if able:
        return min(able, key=lambda n: (n.elements, -n.highest_current()))
    return max(group, key=lambda n: n.highest_current())


def state_values(predictions: Predictions, position: int) -> dict[str, float]:
    """The predicted quantities of one setting by registry name."""
    names = (
        "supply_voltage",
        "field_current",
        "armature_current",
        "line_current",
        "back_emf",
        "k_phi",
        "speed_rpm",
        "electromagnetic_torque",
        "load_torque",
        "input_power",
        "output_power",
        "efficiency",
        "field_copper_loss",
        "added_field_loss",
        "armature_copper_loss",
        "added_armature_loss",
        "brush_loss",
        "rotational_loss",
    )
    return {
        name: float(np.broadcast_to(getattr(predictions.state, name), (len(predictions.settings),))[position])
        for name in names
    }


def judge(
    bench: Bench,
    circuit: str,
    duty: Duty | None,
    speed: float,
    expanded: float,
    values: dict[str, float],
    status: int,
    light: float,
) -> Refusal | None:
    """Hold one predicted setting against every limit; the first one that is broken is the refusal.

    ``light`` is the speed that the same setting reaches when the load comes off, its uncertainty included [r/min].
    """
    limits = bench.limits
    if not math.isfinite(speed) or not Status(status).has_values:
        return Refusal("no running point", math.nan, math.nan, WORDS[Status(status)])
    if status == Status.UNSTABLE_ONLY:
        return Refusal("no stable running point", math.nan, math.nan, WORDS[Status.UNSTABLE_ONLY])
    top = speed + (expanded if math.isfinite(expanded) else 0.0)
    if top > limits.speed_rpm:
        words = f"{speed:.0f} r/min, up to {top:.1f} r/min with its uncertainty, and {limits.speed_rpm:.5g} r/min is the limit"
        return Refusal("speed", top, limits.speed_rpm, words)
    if limits.load_may_come_off and light > limits.speed_rpm:
        words = (
            f"{speed:.0f} r/min with the load on, but up to {light:.1f} r/min should the load come off, and "
            f"{limits.speed_rpm:.5g} r/min is the limit"
        )
        return Refusal("speed without load", light, limits.speed_rpm, words)
    bounds = {
        "armature_current": limits.armature_current,
        "field_current": limits.field_current,
        "line_current": limits.line_current,
    }
    for name, bound in bounds.items():
        if bound is not None and abs(values[name]) > bound:
            trade = name.replace("_", " ")
            return Refusal(trade, values[name], bound, f"{trade} {values[name]:.3g} A, and {bound:.3g} A is the limit")
    if limits.fuse is not None and abs(values["line_current"]) > limits.fuse:
        words = f"line current {values['line_current']:.3g} A through a fuse of {limits.fuse:.3g} A"
        return Refusal("fuse", values["line_current"], limits.fuse, words)
    if duty is not None and duty.share > limits.resistor_share:
        worst = max(duty.resistors, key=lambda part: part.share)
        words = (
            f"{worst.resistor.label} would carry {worst.power:.3g} W, {100.0 * worst.share:.3g} % of its rating, and "
            f"{100.0 * limits.resistor_share:.0f} % is the limit"
        )
        return Refusal("resistor rating", worst.share, limits.resistor_share, words)
    if circuit == "armature":
        reserve = _torque_reserve(bench, values, duty)
        if reserve < LEAST_TORQUE_RESERVE:
            words = f"the motor would stall at {reserve:.3g} times this torque, and {LEAST_TORQUE_RESERVE:g} times is wanted"
            return Refusal("torque reserve", reserve, LEAST_TORQUE_RESERVE, words)
    return None


def _torque_reserve(bench: Bench, values: dict[str, float], duty: Duty | None) -> float:
    """Stall torque over the torque of the running point at the same flux."""
    ohms = bench.machine.armature_resistance + (0.0 if duty is None else duty.network.resistance)
    stall = values["k_phi"] * max(values["supply_voltage"] - bench.machine.brush_drop, 0.0) / ohms
    torque = values["electromagnetic_torque"]
    return math.inf if torque <= 0.0 else stall / torque


def candidates(bench: Bench, model: BenchModel, search: NetworkSearch, circuit: str) -> tuple[Candidate, ...]:
    """Predict and judge every distinct resistance of the kit in one circuit.

    Parameters
    ----------
    bench : Bench
    model : BenchModel
    search : NetworkSearch
    circuit : {"field", "armature"}

    Returns
    -------
    tuple of Candidate
        From the lowest resistance to the highest.
    """
    groups = _distinct(search)
    settings = [setting_for(circuit, group[0]) for group in groups]
    first = predict(model, settings)
    column = "field_current" if circuit == "field" else "armature_current"
    currents = np.broadcast_to(np.asarray(getattr(first.state, column), dtype=float), (len(groups),))
    chosen = [
        _simplest(group, abs(float(current)) if math.isfinite(current) else 0.0, bench.limits.resistor_share)
        for group, current in zip(groups, currents, strict=True)
    ]
    settings = [setting_for(circuit, network) for network in chosen]
    final = predict(model, settings)
    # the tolerance of each combination on top: its own and nobody else's, so it simply adds in square
    spreads = np.array([network.standard_uncertainty() for network in chosen])
    slopes = _slopes(model, settings, f"added_{circuit}_resistance", spreads)
    factor = coverage_factor(math.inf)
    status = np.broadcast_to(np.asarray(final.state.status), (len(chosen),))
    light = light_speeds(model, settings)
    found = []
    for position, network in enumerate(chosen):
        values = state_values(final, position)
        current = values[column] if math.isfinite(values[column]) else 0.0
        duty = network_duty(network, current)
        expanded = factor * math.hypot(final.standard_uncertainty(position), slopes[position])
        speed = final.speed(position)
        refusal = judge(bench, circuit, duty, speed, expanded, values, int(status[position]), float(light[position]))
        found.append(Candidate(circuit, network, speed, expanded, duty, values, refusal))
    return tuple(found)


def light_speeds(model: BenchModel, settings: Sequence[Setting]) -> Array:
    """Speed that each setting reaches when the load comes off, with its expanded uncertainty on top [r/min]."""
    found = predict(model, [replace(setting, load_factor=0.0, load_torque=None) for setting in settings])
    return np.asarray(found.speeds.values + coverage_factor(math.inf) * found.speeds.standard_uncertainties)


def _slopes(model: BenchModel, settings: Sequence[Setting], column: str, spreads: Array) -> Array:
    """Change of each speed for one standard uncertainty of its own resistance."""
    step = 0.1 * spreads
    here = model.values()
    above, below = (
        np.asarray(solve_settings(model, here, settings, {column: sign * step}).speed_rpm, dtype=float)
        for sign in (1.0, -1.0)
    )
    return np.asarray((above - below) / 0.2)


def with_tolerances(model: BenchModel, chosen: Sequence[tuple[str, Network | None]]) -> Predictions:
    """Predict a few chosen settings with the tolerance of each combination as a source of its own."""
    settings = [setting_for(circuit, network) for circuit, network in chosen]
    errors = []
    for name in ("field", "armature"):
        spreads = [
            network.standard_uncertainty() if network is not None and circuit == name else 0.0
            for circuit, network in chosen
        ]
        errors += own_errors(f"added_{name}_resistance", spreads)
    return predict(model, settings, errors)
