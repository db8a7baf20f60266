"""A plan as text for a terminal, and as plain data for another program."""

from __future__ import annotations

import math
from typing import Any

from shuntref.bench.control_comparison import comparison_words
from shuntref.bench.kit import Duty, describe_network
from shuntref.bench.plan import BenchPlan, PlannedRun, RefusedGroup
from shuntref.bench.start import RHEOSTAT_POSITIONS, StartPlan
from shuntref.cautions import CAUTIONS, caution_text
from shuntref.model.starter_grading import StarterGrading

__all__ = ["plan_data", "plan_text", "refusal_words", "run_title"]


def run_title(run: PlannedRun) -> str:
    """What a run is, in one line.

    The combination is named as it is taken from the cupboard.
    """
    if run.network is None:
        return "baseline, nothing added"
    where = "field circuit" if run.circuit == "field" else "armature circuit"
    ohms = f"{run.resistance:.4g} ohm"
    combination = describe_network(run.network)
    return f"{ohms} in the {where}" + ("" if combination == ohms else f": {combination}")


def refusal_words(group: RefusedGroup, considered: int) -> str:
    """Which settings a limit refuses, and the mildest case among them."""
    where = f"{group.circuit} circuit"
    span = (
        f"{group.lowest:.3g} ohm"
        if group.count == 1
        else f"{group.count} of {considered} resistances, from {group.lowest:.3g} to {group.highest:.3g} ohm"
    )
    example = group.example
    reason = example.refusal.words if example.refusal is not None else ""
    return f"{where}, {span}, by {group.limit}; the mildest, {example.network.resistance:.3g} ohm: {reason}"


def _run_lines(run: PlannedRun) -> list[str]:
    v = run.values
    lines = [
        f"Run {run.number}: {run_title(run)}",
        f"    speed {run.speed_rpm:.0f} +- {run.expanded:.0f} r/min; field {v['field_current']:.3g} A, "
        f"armature {v['armature_current']:.3g} A, line {v['line_current']:.3g} A; efficiency {100.0 * v['efficiency']:.0f} %",
    ]
    if run.duty is not None:
        lines.append(f"    {duty_words(run.duty)}")
    lines += [f"    {run.temperature}", f"    why: {run.reason}"]
    return lines


def duty_words(duty: Duty) -> str:
    """Voltage and power of a combination, and of each kind of resistor in it against its rating."""
    parts = []
    for label in dict.fromkeys((p.resistor.label, round(p.power, 9)) for p in duty.resistors):
        same = [p for p in duty.resistors if (p.resistor.label, round(p.power, 9)) == label]
        each = " each" if len(same) > 1 else ""
        parts.append(
            f"{len(same)} x {label[0]}: {same[0].voltage:.3g} V, {same[0].power:.3g} W{each}, "
            f"{100.0 * same[0].share:.0f} % of rating"
        )
    return f"across it {duty.voltage:.3g} V, {duty.power:.3g} W ({'; '.join(parts)}): {duty.remark}"


def _grading_lines(grading: StarterGrading, field_current: float) -> list[str]:
    sections = ", ".join(f"{section:.3g}" for section in grading.sections)
    peaks = ", ".join(f"{peak:.3g}" for peak in grading.line_peaks(field_current))
    count = len(grading.sections)
    exactly = f" ({grading.sections_exact:.2f} would do)" if abs(grading.sections_exact - count) >= 0.005 else ""
    return [
        f"  {grading.convention}: {count} section{'s' if count > 1 else ''} of {sections} ohm{exactly}, "
        f"{grading.upper_current:.3g} A down to {grading.lower_current:.3g} A",
        f"      line peaks contact by contact (the fuse sees these): {peaks} A",
    ]


def start_lines(start: StartPlan) -> list[str]:
    """The start as lines of text."""
    lines = [
        "Start",
        f"  switched straight on, the armature would draw {start.direct_current:.3g} A at standstill",
    ]
    if start.needed_resistance > 0.0:
        lines.append(f"  {start.needed_resistance:.3g} ohm keep the armature to {start.upper_current:.3g} A")
    else:
        lines.append(f"  that is within the {start.upper_current:.3g} A allowed: no starting resistance is needed")
    if start.suggestion is not None:
        lines.append(
            f"  from the kit: {describe_network(start.suggestion.network)} "
            f"({start.suggestion.network.resistance:.3g} ohm), first peak {start.first_peak:.3g} A in the armature"
        )
    gradings = [g for g in (start.by_limits, start.by_sections) if g is not None]
    if gradings:
        lines.append(
            "  a starter with contacts is graded, section by section as they are cut out, by one of two conventions:"
        )
    for grading in gradings:
        lines += _grading_lines(grading, start.field_current)
    lines.append(f"  {start.fuse_words}")
    if start.standstill_torque is not None:
        lines.append(
            f"  first contact: {start.breakaway_torque:.3g} N m at standstill, load and friction ask "
            f"{start.standstill_torque:.3g} N m"
        )
    lines += [f"  - {words}" for words in RHEOSTAT_POSITIONS]
    lines += [f"  note: {words}" for words in start.remarks]
    return lines


def plan_text(plan: BenchPlan) -> str:
    """The whole plan for a terminal."""
    bench = plan.bench
    lines = [f"Plan for {bench.name}" + (" (invented)" if bench.invented else ""), "", caution_text(), ""]
    if plan.baseline_refusal is not None:
        lines += [
            f"No step is planned: the baseline itself breaks a limit ({plan.baseline_refusal.words}).",
            "Lower the supply or the load, or look again at the limits in the bench file.",
            "",
        ]
    lines += [*start_lines(plan.start), "", "If the field opens while the motor runs"]
    lines += [f"  {case.words}" for case in plan.field_loss]
    lines += ["", "Runs, in this order (speeds with expanded uncertainty, about 95 %)"]
    for run in plan.runs:
        lines += _run_lines(run)
    lines += ["", "Refused"]
    refused = [f"  {refusal_words(group, plan.considered[group.circuit])}" for group in plan.refused]
    lines += refused or ["  nothing that the kit can make"]
    if plan.wanted:
        lines += ["", "Wanted speeds", *(f"  {wanted.words}" for wanted in plan.wanted)]
    words = comparison_words(plan.controls)
    if words:
        lines += ["", "Field control beside armature control", *(f"  {line}" for line in words)]
    if plan.notes or bench.assumptions:
        lines += ["", "Assumed, and worth knowing", *(f"  {note}" for note in (*plan.notes, *bench.assumptions))]
    return "\n".join(lines)


def _plain(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _duty_data(duty: Duty | None) -> dict[str, Any] | None:
    if duty is None:
        return None
    return {
        "combination": describe_network(duty.network),
        "resistance_ohm": duty.network.resistance,
        "current_A": duty.current,
        "voltage_V": duty.voltage,
        "power_W": duty.power,
        "share_of_rating": duty.share,
        "remark": duty.remark,
        "resistors": [
            {
                "resistor": p.resistor.label,
                "current_A": p.current,
                "voltage_V": p.voltage,
                "power_W": p.power,
                "share_of_rating": p.share,
            }
            for p in duty.resistors
        ],
    }


def _grading_data(grading: StarterGrading | None) -> dict[str, Any] | None:
    if grading is None:
        return None
    return {
        "convention": grading.convention,
        "sections_ohm": list(grading.sections),
        "sections_exact": grading.sections_exact,
        "upper_current_A": grading.upper_current,
        "lower_current_A": grading.lower_current,
        "peaks_A": [step.peak_current for step in grading.steps],
    }


def plan_data(plan: BenchPlan) -> dict[str, Any]:
    """The whole plan as plain data: registry names carry registry units, other names carry their unit."""
    start = plan.start
    return {
        "bench": plan.bench.name,
        "invented": plan.bench.invented,
        "cautions": list(CAUTIONS),
        "baseline_refusal": plan.baseline_refusal.words if plan.baseline_refusal else None,
        "runs": [
            {
                "run": run.number,
                "circuit": run.circuit,
                "title": run_title(run),
                "speed_rpm": _plain(run.speed_rpm),
                "speed_expanded_uncertainty_rpm": _plain(run.expanded),
                "values": {name: _plain(value) for name, value in run.values.items()},
                "resistors": _duty_data(run.duty),
                "share_of_limits": {name: _plain(value) for name, value in run.distances.items()},
                "temperature": run.temperature,
                "reason": run.reason,
            }
            for run in plan.runs
        ],
        "refused": [
            {
                "circuit": g.circuit,
                "limit": g.limit,
                "count": g.count,
                "lowest_ohm": g.lowest,
                "highest_ohm": g.highest,
                "words": refusal_words(g, plan.considered[g.circuit]),
            }
            for g in plan.refused
        ],
        "start": {
            "direct_current_A": start.direct_current,
            "limit_A": start.upper_current,
            "starting_resistance_ohm": start.needed_resistance,
            "from_the_kit": _duty_data(start.suggestion),
            "gradings": [g for g in (_grading_data(start.by_limits), _grading_data(start.by_sections)) if g],
            "first_line_peak_A": start.first_line_peak,
            "fuse": start.fuse_words,
            "rheostat_positions": list(RHEOSTAT_POSITIONS),
            "remarks": list(start.remarks),
        },
        "field_loss": [{"case": c.case, "words": c.words, "speed_rpm": _plain(c.speed_rpm)} for c in plan.field_loss],
        "wanted_speeds": [
            {
                "wanted_speed_rpm": w.wanted_rpm,
                "circuit": w.circuit,
                "resistance_ohm": w.resistance,
                "preferred_ohm": w.preferred,
                "rating_W": w.rating,
                "reached_speed_rpm": w.reached,
                "words": w.words,
            }
            for w in plan.wanted
        ],
        "control_comparison": list(comparison_words(plan.controls)),
        "assumptions": [*plan.notes, *plan.bench.assumptions],
    }
