"""A session planned: baseline, field steps, armature steps, each with resistors from the kit, and everything refused."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shuntref.bench.bench_file import Bench
from shuntref.bench.control_comparison import ControlLine, compare_controls
from shuntref.bench.field_loss import FieldLoss, field_loss
from shuntref.bench.heating import temperature_remark
from shuntref.bench.kit import Duty, kit_networks, network_duty
from shuntref.bench.plan_candidates import (
    Candidate,
    Refusal,
    candidates,
    judge,
    light_speeds,
    setting_for,
    state_values,
    with_tolerances,
)
from shuntref.bench.prediction import BenchModel, Predictions, bench_model
from shuntref.bench.standard_remarks import standard_remarks
from shuntref.bench.start import StartPlan, plan_start
from shuntref.bench.uncertainty import coverage_factor
from shuntref.bench.wanted_speeds import WantedSpeed, size_wanted_speeds
from shuntref.model.resistors import Network
from shuntref.model.status import WORDS, Status

__all__ = ["BenchPlan", "PlannedRun", "RefusedGroup", "make_plan"]

#: a step is called clear when it moves the speed by this many expanded uncertainties of the tachometer's reading
CLEAR = 3.0


@dataclass(frozen=True)
class PlannedRun:
    """One recommended run. ``distances`` is the share of each limit that is used; speeds in r/min."""

    number: int
    circuit: str
    network: Network | None
    speed_rpm: float
    expanded: float
    duty: Duty | None
    values: dict[str, float]
    distances: dict[str, float]
    temperature: str
    reason: str

    @property
    def resistance(self) -> float:
        """The added resistance [ohm]."""
        return 0.0 if self.network is None else self.network.resistance


@dataclass(frozen=True, slots=True)
class RefusedGroup:
    """The settings of one circuit that one limit refuses: how many, from which to which resistance, and the mildest case."""

    circuit: str
    limit: str
    count: int
    lowest: float
    highest: float
    example: Candidate


@dataclass(frozen=True)
class BenchPlan:
    """The whole plan of a session."""

    bench: Bench
    runs: tuple[PlannedRun, ...]
    refused: tuple[RefusedGroup, ...]
    considered: dict[str, int]
    baseline_refusal: Refusal | None
    start: StartPlan
    field_loss: tuple[FieldLoss, ...]
    controls: tuple[ControlLine, ...]
    model: BenchModel
    predictions: Predictions
    reading_uncertainty: float | None
    wanted: tuple[WantedSpeed, ...]
    notes: tuple[str, ...]


def _reading_uncertainty(bench: Bench, speed: float) -> float | None:
    """Expanded uncertainty of one reading of the tachometer [r/min]; None without one."""
    meter = bench.instrument_for("speed_rpm")
    return None if meter is None else coverage_factor(math.inf) * meter.uncertainty(speed).standard_uncertainty


def _spread_out(found: Sequence[Candidate], base: float, steps: int) -> list[Candidate]:
    """Choose steps that spread the speeds evenly from the baseline to the furthest permitted one."""
    allowed = [
        c for c in found if c.refusal is None and (c.speed_rpm - base) * (1 if c.circuit == "field" else -1) > 0.0
    ]
    if not allowed:
        return []
    end = max(allowed, key=lambda c: abs(c.speed_rpm - base)).speed_rpm
    chosen: list[Candidate] = []
    for step in range(1, steps + 1):
        target = base + (end - base) * step / steps
        left = [c for c in allowed if c not in chosen]
        if not left:
            break

        def cost(c: Candidate, target: float = target) -> float:
            # a combination that is quickly wired and stays cool is worth some unevenness of the steps
            effort = (
                0.08 * (c.network.elements - 1) + 0.05 * _depth(c.network) ** 2 + 0.1 * max(c.duty.share - 0.5, 0.0)
            )
            return abs((c.speed_rpm - target) / (end - base)) + effort

        chosen.append(min(left, key=cost))
    return sorted(chosen, key=lambda c: abs(c.speed_rpm - base))


def _depth(network: Network) -> int:
    """How often series and parallel alternate inside: 0 for a plain chain or a plain bank."""
    return max((1 + _depth(part) for part in network.parts if part.parts), default=0)


def _refused_groups(found: Sequence[Candidate]) -> list[RefusedGroup]:
    groups: dict[tuple[str, str], list[Candidate]] = {}
    for candidate in found:
        if candidate.refusal is not None:
            groups.setdefault((candidate.circuit, candidate.refusal.limit), []).append(candidate)

    def excess(candidate: Candidate) -> float:
        refusal = candidate.refusal
        if refusal is None or not math.isfinite(refusal.value):
            return math.inf
        return abs(math.log(abs(refusal.value) / abs(refusal.bound)))

    return [
        RefusedGroup(
            circuit,
            limit,
            len(members),
            members[0].network.resistance,
            members[-1].network.resistance,
            min(members, key=excess),
        )
        for (circuit, limit), members in groups.items()
    ]


def _distances(bench: Bench, speed: float, values: dict[str, float], duty: Duty | None) -> dict[str, float]:
    limits = bench.limits
    found = {
        "speed": speed / limits.speed_rpm,
        "armature current": abs(values["armature_current"]) / limits.armature_current,
    }
    if limits.field_current is not None:
        found["field current"] = values["field_current"] / limits.field_current
    if limits.line_current is not None:
        found["line current"] = abs(values["line_current"]) / limits.line_current
    if limits.fuse is not None:
        found["fuse"] = abs(values["line_current"]) / limits.fuse
    if duty is not None:
        found["resistor rating"] = duty.share
    return found


def _reason(
    circuit: str,
    position: int,
    total: int,
    speed: float,
    base: float,
    reading: float | None,
    distances: dict[str, float],
) -> str:
    nearest = max(distances, key=lambda name: distances[name])
    room = f"nearest limit: {nearest}, {100.0 * distances[nearest]:.0f} % used"
    if circuit == "none":
        return f"the reference for every step; {room}"
    change = speed - base
    text = (
        f"step {position} of {total} {'up' if change > 0 else 'down'}, spread as evenly as the kit allows; "
        f"{change:+.0f} r/min from the baseline"
    )
    if reading is not None and reading > 0.0:
        times = abs(change) / reading
        text += (
            f", {times:.0f} times what the tachometer can tell"
            if times >= CLEAR
            else f", only {times:.1f} times what the tachometer can tell: hardly a clear effect"
        )
    return f"{text}; {room}"


def _shared_with_start(bench: Bench, start: StartPlan, runs: Sequence[PlannedRun]) -> list[str]:
    """Where the start and a run want the same resistors of the cupboard."""
    if start.suggestion is None:
        return []
    starter, held = start.suggestion.network.used, {resistor: resistor.count for resistor in bench.kit}
    short = [
        run
        for run in runs
        if run.network is not None
        and any(count + starter[kind] > held.get(kind, 0) for kind, count in run.network.used.items())
    ]
    notes = []
    numbers = {}
    for circuit in ("field", "armature"):
        wanting = [str(run.number) for run in short if run.circuit == circuit]
        numbers[circuit] = f"run{'s' if len(wanting) > 1 else ''} {', '.join(wanting)}" if wanting else ""
    if numbers["field"]:
        notes.append(
            f"SHORT OF RESISTORS: the start from the kit and the field resistors of {numbers['field']} together are more "
            "than the cupboard holds, and a field circuit is never opened to take them: use a starter of its own"
        )
    if numbers["armature"]:
        notes.append(
            f"the start from the kit and {numbers['armature']} use the same resistors: start with the whole starting "
            "resistance, and cut out only what the run does not keep; if that cannot be wired, use a starter of its own"
        )
    return notes


def make_plan(bench: Bench) -> BenchPlan:
    """Plan a session on a bench.

    Parameters
    ----------
    bench : Bench

    Returns
    -------
    BenchPlan
        With no step at all when the baseline itself breaks a limit; ``baseline_refusal`` then says which.

    Raises
    ------
    ValueError
        When the machine cannot run at the baseline.

    Notes
    -----
    Every setting is worked out by ``steady_state`` and kept only inside the limits of the bench, its uncertainty included.

    Examples
    --------
    >>> from shuntref.bench.demo import demo_bench
    >>> bench = demo_bench()
    >>> plan = make_plan(bench)
    >>> bool(plan.runs), all(run.speed_rpm <= bench.limits.speed_rpm for run in plan.runs)
    (True, True)
    """
    model = bench_model(bench)
    search = kit_networks(bench)
    base = with_tolerances(model, [("none", None)])
    status = int(np.ravel(np.asarray(base.state.status))[0])
    if not Status(status).has_values:
        raise ValueError(
            f"{bench.name}: with nothing added the motor does not run under this load, {WORDS[Status(status)]}; "
            "look at [load], [supply] and the machine"
        )
    values = state_values(base, 0)
    expanded = coverage_factor(math.inf) * base.standard_uncertainty(0)
    light = float(light_speeds(model, [setting_for("none", None)])[0])
    refusal = judge(bench, "none", None, base.speed(0), expanded, values, status, light)
    found = {circuit: candidates(bench, model, search, circuit) for circuit in ("field", "armature")}
    notes = []
    chosen: list[Candidate] = []
    if refusal is None:
        for circuit, steps in (("field", bench.field_steps), ("armature", bench.armature_steps)):
            picked = _spread_out(found[circuit], base.speed(0), steps)
            chosen += picked
            if len(picked) < steps:
                notes.append(
                    f"the kit gives {len(picked) or 'no'} permitted {circuit} step{'' if len(picked) == 1 else 's'}, "
                    f"{steps} were wanted"
                )
    notes += standard_remarks(bench, model)
    if not search.complete:
        notes.append(
            f"combinations of more than {search.elements} resistors were not searched: the kit has too many kinds"
        )
    settings: list[tuple[str, Network | None]] = [("none", None), *((c.circuit, c.network) for c in chosen)]
    final = with_tolerances(model, settings)
    reading = _reading_uncertainty(bench, base.speed(0))
    runs = []
    totals = {circuit: sum(c.circuit == circuit for c in chosen) for circuit in ("field", "armature")}
    for position, (circuit, network) in enumerate(settings):
        here = state_values(final, position)
        duty = None
        if network is not None:
            duty = network_duty(network, here["field_current" if circuit == "field" else "armature_current"])
        speed = final.speed(position)
        distances = _distances(bench, speed, here, duty)
        step = sum(earlier == circuit for earlier, _ in settings[: position + 1])
        runs.append(
            PlannedRun(
                position + 1,
                circuit,
                network,
                speed,
                coverage_factor(math.inf) * final.standard_uncertainty(position),
                duty,
                here,
                distances,
                temperature_remark(bench, here["armature_current"], here["field_current"], speed),
                _reason(circuit, step, totals.get(circuit, 1), speed, final.speed(0), reading, distances),
            )
        )
    if any(run.values["back_emf"] < 0.5 * run.values["supply_voltage"] for run in runs if run.circuit == "field"):
        notes.append(
            "in at least one field step the back EMF is below half the supply: there, less field gives LESS speed"
        )
    start = plan_start(bench, search, max(values["armature_current"], 0.0))
    start = replace(start, remarks=(*_shared_with_start(bench, start, runs), *start.remarks))
    refused = [group for circuit in found for group in _refused_groups(found[circuit])]
    controls = compare_controls(model, [(circuit, setting_for(circuit, network)) for circuit, network in settings])
    return BenchPlan(
        bench,
        tuple(runs),
        tuple(refused),
        {name: len(group) for name, group in found.items()},
        refusal,
        start,
        field_loss(bench),
        controls,
        model,
        final,
        reading,
        size_wanted_speeds(bench, model, search, base.speed(0)) if refusal is None else (),
        tuple(notes),
    )
