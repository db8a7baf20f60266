"""The start: what the armature would draw without help, the resistance that limits it, both gradings, what the fuse sees."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shuntref.bench.bench_file import Bench
from shuntref.bench.kit import Duty, network_duty
from shuntref.model.networks import NetworkSearch
from shuntref.model.starter_grading import StarterGrading, grade_starter_by_limits, grade_starter_by_sections
from shuntref.model.starting import direct_starting_current, starting_resistance

__all__ = ["RHEOSTAT_POSITIONS", "StartPlan", "plan_start"]

#: up to how many times the needed resistance the kit is searched, and how much more torque than the load a start should have
_WIDEST = 2.0
_BREAKAWAY = 1.2

#: a starter of more sections than this is not made; common practice, no source
_MANY_SECTIONS = 10

#: times its continuous rating that a resistor is let carry at the first peak, for seconds; common practice for wound
#: resistors, no source: only the maker's data sheet says what a resistor stands
_SHORT_OVERLOAD = 5.0

RHEOSTAT_POSITIONS: tuple[str, ...] = (
    "field rheostat at its least resistance (full field) before the supply is closed",
    "armature starter at its most resistance before the supply is closed",
    "field current read and found at its full value before the armature is connected",
    "one section at a time, the next when the current has fallen; never rest on a starting contact",
    "back to full field and full starter before every new start",
)


@dataclass(frozen=True)
class StartPlan:
    """A start, planned.

    Currents in A, resistances in ohm. ``suggestion`` is the kit's combination for the whole starting resistance, carrying
    its first peak; None when the kit has none. ``breakaway_torque`` [N m] is what the first contact gives at standstill,
    ``standstill_torque`` what load and friction ask there (None for a load that has no torque at standstill).
    """

    direct_current: float
    upper_current: float
    lower_current: float
    field_current: float
    needed_resistance: float
    by_limits: StarterGrading | None
    by_sections: StarterGrading | None
    suggestion: Duty | None
    first_peak: float
    fuse: float | None
    breakaway_torque: float
    standstill_torque: float | None
    remarks: tuple[str, ...]

    @property
    def first_line_peak(self) -> float:
        """First peak in the line, which is what the fuse sees [A]."""
        return self.first_peak + self.field_current

    @property
    def fuse_words(self) -> str:
        """What the fuse sees, in words."""
        peak = self.first_line_peak
        if self.fuse is None:
            return f"the line peaks at {peak:.3g} A (armature and field); the bench file names no fuse"
        share = peak / self.fuse
        text = f"the fuse of {self.fuse:g} A sees a first peak of {peak:.3g} A (armature and field), {share:.2f} of its rating"
        if share > 1.0:
            text += "; how long it stands that, its time-current curve says"
        straight = (self.direct_current + self.field_current) / self.fuse
        return f"{text}; switched straight on it would see {straight:.3g} times its rating"


def _lower_current(bench: Bench, upper: float, running: float) -> tuple[float, str]:
    """The current at which a contact is left: as wished, or between the running current and the upper limit."""
    if bench.start.lower_current is not None:
        return bench.start.lower_current, ""
    lower = max(upper / 2.0, 1.2 * running)
    if lower >= upper:
        return 0.0, (
            f"the running current of {running:.3g} A comes so near the starting limit of {upper:.3g} A that no starter "
            "can be graded between them; lower the load for the start"
        )
    return (
        lower,
        f"lower current taken as {lower:.3g} A: half the upper one, and above the running current {running:.3g} A",
    )


def _suggest(bench: Bench, search: NetworkSearch, needed: float, standstill: float | None) -> Duty | None:
    """The kit's combination for the starting resistance: not less than needed, able to start the load, gentle, simple."""
    machine = bench.machine
    driving = max(bench.supply_voltage - machine.brush_drop, 0.0)
    full = machine.flux.k_phi(bench.supply_voltage / machine.field_resistance)
    best: tuple[tuple[bool, bool, int, int, float], Duty] | None = None
    for network in search.networks:
        if not needed <= network.resistance <= _WIDEST * needed:
            continue
        duty = network_duty(network, driving / (network.resistance + machine.armature_resistance))
        weak = standstill is not None and full * duty.current < _BREAKAWAY * standstill
        # a start is short, so a continuous rating may be passed for seconds; the gentler combination still wins
        key = (
            duty.share > _SHORT_OVERLOAD,
            weak,
            round(max(duty.share, 1.0)),
            network.elements,
            network.resistance,
        )
        if best is None or key < best[0]:
            best = key, duty
    return None if best is None else best[1]


def plan_start(bench: Bench, search: NetworkSearch, running_current: float) -> StartPlan:
    """Plan the start of a bench.

    Parameters
    ----------
    bench : Bench
    search : NetworkSearch
        Of the kit.
    running_current : float
        Armature current of the loaded baseline [A]; a starter can only be graded above it.

    Returns
    -------
    StartPlan

    Raises
    ------
    ValueError
        A machine without armature resistance, or limits that no starter keeps.

    Notes
    -----
    The back EMF is zero at standstill, the field is at its full current, and the line resistance is left out: the true
    peak is a little lower. How long a contact is held depends on the inertia, which the model does not have.

    Examples
    --------
    >>> from shuntref.bench.demo import demo_bench
    >>> from shuntref.model.networks import search_networks
    >>> bench = demo_bench()
    >>> start = plan_start(bench, search_networks(list(bench.kit), most_elements=1), 3.0)
    >>> start.direct_current > start.upper_current
    True
    """
    machine, wishes = bench.machine, bench.start
    voltage, drop, own = bench.supply_voltage, machine.brush_drop, machine.armature_resistance
    field = voltage / machine.field_resistance
    remarks = []
    if own == 0.0:
        raise ValueError("the machine has no armature resistance, so nothing limits its starting current; state it")
    direct = direct_starting_current(voltage, own, brush_drop=drop)
    upper = wishes.upper_current - (field if wishes.counts_on == "line" else 0.0)
    if upper <= 0.0:
        raise ValueError(
            f"[start] upper_current {wishes.upper_current:g} A counts on the line, and the field alone takes {field:.3g} A"
        )
    needed = starting_resistance(voltage, own, upper, brush_drop=drop)
    lower, note = _lower_current(bench, upper, running_current)
    if note:
        remarks.append(note)
    by_limits = by_sections = None
    if needed > 0.0 and lower > 0.0:
        if lower <= running_current:
            remarks.append(
                f"the loaded motor settles at {running_current:.3g} A, above the lower current {lower:.3g} A: on a starting "
                "contact the current would never fall that far; raise lower_current or start with less load"
            )
        by_limits = grade_starter_by_limits(voltage, own, upper, lower, brush_drop=drop)
        count = wishes.sections or len(by_limits.sections)
        by_sections = grade_starter_by_sections(voltage, own, sections=count, upper_current=upper, brush_drop=drop)
        if by_sections.lower_current <= running_current:
            remarks.append(
                f"with {count} section{'s' if count > 1 else ''} the contacts are left at {by_sections.lower_current:.3g} A, "
                f"not above the running current {running_current:.3g} A; take fewer sections or start with less load"
            )
        if len(by_limits.sections) > _MANY_SECTIONS:
            remarks.append(
                f"{len(by_limits.sections)} sections are more than a starter has: the currents {upper:.3g} A and {lower:.3g} A "
                "lie too near each other; start with less load"
            )
    standstill = _standstill_torque(bench)
    suggestion = _suggest(bench, search, needed, standstill) if needed > 0.0 else None
    if suggestion is not None and suggestion.share > _SHORT_OVERLOAD:
        remarks.append(
            f"NO START FROM THE KIT: the gentlest combination would carry {suggestion.share:.2g} times its continuous rating "
            f"at the first peak, and beyond {_SHORT_OVERLOAD:g} times none is suggested; a starter of its own is needed"
        )
        suggestion = None
    elif needed > 0.0 and suggestion is None:
        remarks.append(
            f"the kit makes no resistance from {needed:.3g} to {_WIDEST * needed:.3g} ohm; a starter of its own is needed"
        )
    if suggestion is not None and suggestion.share > 1.0:
        remarks.append(
            f"at the first peak the combination carries {suggestion.share:.2g} times its continuous rating: for seconds "
            "only, and only if its maker allows that"
        )
    if bench.limits.fuse is not None and upper + field > bench.limits.fuse * (1.0 + 1e-9):
        remarks.append(
            f"the starting limit of {upper:.3g} A and the {field:.3g} A of the field together are above the fuse of "
            f"{bench.limits.fuse:g} A: the start may open it; set [start] upper_current to "
            f"{max(bench.limits.fuse - field, 0.0):.3g} A or less"
        )
    least = own - 2.0 * bench.uncertainties.get("armature_resistance", 0.0)
    if suggestion is not None and least > 0.0:
        worst = direct_starting_current(voltage, least + suggestion.network.resistance, brush_drop=drop)
        if worst > 1.02 * upper:
            remarks.append(
                f"should the armature have only {least:.3g} ohm, the low end of its uncertainty, the first peak would be "
                f"{worst:.3g} A: measure the armature resistance before the first start"
            )
    elif suggestion is None and needed > 0.0 and least < 0.9 * own:
        remarks.append(
            f"the armature resistance is known poorly ({max(least, 0.0):.3g} ohm at the low end): measure it before the "
            "first start"
        )
    peak = suggestion.current if suggestion is not None else min(direct, upper)
    breakaway = machine.flux.k_phi(field) * peak
    if standstill is not None and breakaway <= standstill:
        remarks.append(
            f"the first contact gives {breakaway:.3g} N m and the load asks {standstill:.3g} N m at standstill: it will not "
            "start, and at a stand the resistors go on carrying that current; take load off or allow more current"
        )
    remarks.append(
        "how long each contact is held depends on the inertia, which this model does not have: watch the ammeter"
    )
    return StartPlan(
        direct,
        upper,
        lower,
        field,
        needed,
        by_limits,
        by_sections,
        suggestion,
        peak,
        bench.limits.fuse,
        float(breakaway),
        standstill,
        tuple(remarks),
    )


def _standstill_torque(bench: Bench) -> float | None:
    """Torque of load and loss at standstill [N m]; None for a load of constant power, which has none there."""
    total = 0.0
    for part in (bench.load, bench.machine.loss_torque):
        terms = part.terms()
        if np.any(np.asarray(terms.power) != 0.0):
            return None
        total += float(terms.constant)
    return total
