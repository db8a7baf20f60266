"""The report of a plan: one self-contained page to take to the bench."""

from __future__ import annotations

import numpy as np

from shuntref.bench.control_comparison import comparison_words
from shuntref.bench.kit import describe_network
from shuntref.bench.page import Page
from shuntref.bench.plan import BenchPlan
from shuntref.bench.plan_candidates import setting_for
from shuntref.bench.plan_text import duty_words, refusal_words, run_title
from shuntref.bench.plots import Points, draw_points, drawing, figure_svg, legend_below
from shuntref.bench.report_drawings import draw_torque_family
from shuntref.bench.start import RHEOSTAT_POSITIONS, StartPlan

__all__ = ["plan_page"]


def _draw_runs(plan: BenchPlan) -> str:
    """Predicted speed of every run beneath the highest permitted speed."""
    runs = plan.runs
    with drawing(8.4, 4.6) as (figure, (axes,)):
        draw_points(
            axes,
            Points(
                list(range(len(runs))),
                [run.speed_rpm for run in runs],
                [run.expanded for run in runs],
                "predicted, with expanded uncertainty",
            ),
            measured=False,
            size=8.0,
        )
        axes.axhline(
            plan.bench.limits.speed_rpm, color="black", lw=2.4, ls=(0, (1, 1)), label="highest permitted speed"
        )
        axes.set_xticks(
            range(len(runs)),
            [
                f"run {run.number}\n"
                + ("nothing added" if run.network is None else f"{run.resistance:.3g} Ω\n{run.circuit}")
                for run in runs
            ],
            fontsize=9,
        )
        axes.set_xlim(-0.6, len(runs) - 0.4)
        axes.set_ylabel("speed [r/min]")
        legend_below(figure, (axes,), 2)
        return figure_svg(figure, "runs", "Predicted speed of every recommended run and the highest permitted speed")


def _draw_start(start: StartPlan) -> str | None:
    """Armature current against back EMF through a graded start, one zigzag for each convention."""
    gradings = [grading for grading in (start.by_limits, start.by_sections) if grading is not None and grading.sections]
    if not gradings:
        return None
    with drawing(8.0, 4.8) as (figure, (axes,)):
        for style, grading in enumerate(gradings):
            emf, current = [], []
            for step in grading.steps:
                left = step.back_emf_at_cut_out
                last = step.cut_out_current
                emf += [step.back_emf_at_peak, step.back_emf_at_peak if left is None else left]
                current += [step.peak_current, step.peak_current if last is None else last]
            axes.plot(
                emf,
                current,
                ls=("-", "--")[style],
                lw=2.0,
                marker=("o", "s")[style],
                ms=5.0,
                color=("#12305c", "#a8480f")[style],
                label=f"{grading.convention}: {len(grading.sections)} sections",
            )
        axes.axhline(start.upper_current, color="black", lw=1.6, ls=(0, (1, 1)), label="starting limit")
        axes.set_xlabel("back EMF [V], in step with the speed")
        axes.set_ylabel("armature current [A]")
        axes.set_ylim(bottom=0.0)
        legend_below(figure, (axes,), 1)
        return figure_svg(figure, "start", "Armature current through a graded start by both conventions")


def _start(page: Page, plan: BenchPlan) -> None:
    start = plan.start
    page.heading("The start")
    lines = [f"Switched straight on, the armature would draw {start.direct_current:.3g} A at standstill."]
    if start.needed_resistance > 0.0:
        lines.append(f"{start.needed_resistance:.3g} Ω keep it to {start.upper_current:.3g} A.")
    if start.suggestion is not None:
        network = start.suggestion.network
        lines.append(
            f"From the kit: {describe_network(network)}, {network.resistance:.3g} ohm; first peak "
            f"{start.first_peak:.3g} A in the armature."
        )
    lines.append(start.fuse_words[0].upper() + start.fuse_words[1:] + ".")
    if start.standstill_torque is not None:
        lines.append(
            f"The first contact gives {start.breakaway_torque:.3g} N m at standstill; load and friction ask "
            f"{start.standstill_torque:.3g} N m."
        )
    page.points(lines)
    page.subheading("Rheostat positions")
    page.points(RHEOSTAT_POSITIONS)
    gradings = [g for g in (start.by_limits, start.by_sections) if g is not None and g.sections]
    if gradings:
        page.table(
            [
                "convention",
                "sections [Ω], in the order they are cut out",
                "upper to lower [A]",
                "line peaks contact by contact [A]",
            ],
            [
                [
                    g.convention,
                    ", ".join(f"{s:.3g}" for s in g.sections),
                    f"{g.upper_current:.3g} to {g.lower_current:.3g}",
                    ", ".join(f"{peak:.3g}" for peak in g.line_peaks(start.field_current)),
                ]
                for g in gradings
            ],
            words=(0, 1, 3),
            caption="Two conventions of the textbooks. The line peaks are what the fuse sees.",
        )
        svg = _draw_start(start)
        if svg is not None:
            page.drawing(
                svg, "The current falls along a contact as the motor gains speed, and jumps when the next is taken."
            )
    page.points(start.remarks)


def plan_page(plan: BenchPlan) -> str:
    """The plan as the text of one HTML page.

    Raises
    ------
    ImportError
        When matplotlib is not installed; the message names the extra.
    """
    bench = plan.bench
    page = Page(
        f"Plan for {bench.name}",
        f"bench file {bench.source}; {bench.supply_voltage:g} V supply, highest permitted "
        f"speed {bench.limits.speed_rpm:.4g} r/min",
        invented=bench.invented,
    )
    page.cautions()
    if plan.baseline_refusal is not None:
        page.paragraph(
            f"No step is planned: the baseline itself breaks a limit ({plan.baseline_refusal.words}). Lower the "
            "supply or the load, or look again at the limits in the bench file.",
            lead=True,
        )
    _start(page, plan)
    page.heading("If the field opens while the motor runs")
    page.points([case.words[0].upper() + case.words[1:] + "." for case in plan.field_loss])
    page.heading("Runs, in this order")
    page.table(
        [
            "run",
            "what to connect",
            "speed [r/min]",
            "field [A]",
            "armature [A]",
            "line [A]",
            "across the resistor [V]",
            "in it [W]",
            "efficiency",
        ],
        [
            [
                run.number,
                run_title(run),
                f"{run.speed_rpm:.0f} ± {run.expanded:.0f}",
                f"{run.values['field_current']:.3g}",
                f"{run.values['armature_current']:.3g}",
                f"{run.values['line_current']:.3g}",
                "" if run.duty is None else f"{run.duty.voltage:.3g}",
                "" if run.duty is None else f"{run.duty.power:.3g}",
                f"{100.0 * run.values['efficiency']:.0f} %",
            ]
            for run in plan.runs
        ],
        words=(0, 1),
        caption="Speeds with expanded uncertainty, about 95 %.",
    )
    page.drawing(_draw_runs(plan), "Open squares are predicted speeds; the dotted line is the highest permitted speed.")
    for run in plan.runs:
        page.subheading(f"Run {run.number}: {run_title(run)}")
        lines = [f"Why: {run.reason}."]
        if run.duty is not None:
            words = duty_words(run.duty)
            lines.append(words[0].upper() + words[1:] + ".")
        lines.append(run.temperature[0].upper() + run.temperature[1:] + ".")
        page.points(lines)
    page.heading("Refused")
    page.points(
        [refusal_words(group, plan.considered[group.circuit]) for group in plan.refused]
        or ["Nothing that the kit can make."]
    )
    if plan.wanted:
        page.heading("Wanted speeds")
        page.points([wanted.words for wanted in plan.wanted])
    compared = comparison_words(plan.controls)
    if compared:
        page.heading("Field control beside armature control")
        page.points(compared)
        page.table(
            [
                "added",
                "speed [r/min]",
                "without load [r/min]",
                "regulation",
                "lost in the resistor [W]",
                "drawn [W]",
                "efficiency",
            ],
            [
                [
                    "nothing" if c.circuit == "none" else f"{c.resistance:.3g} Ω in the {c.circuit}",
                    f"{c.speed_rpm:.0f}",
                    f"{c.light_speed_rpm:.0f}",
                    f"{100.0 * c.regulation:.1f} %",
                    f"{c.resistor_loss:.3g}",
                    f"{c.input_power:.0f}",
                    f"{100.0 * c.efficiency:.0f} %",
                ]
                for c in plan.controls
            ],
            words=(0,),
            caption="Regulation: (speed without load - speed with load) / speed with load.",
        )
        settings = [
            (
                "nothing added" if run.network is None else f"{run.resistance:.3g} Ω in the {run.circuit}",
                setting_for(run.circuit, run.network),
            )
            for run in plan.runs
        ]
        if np.all(np.isfinite([run.speed_rpm for run in plan.runs])):
            page.drawing(
                draw_torque_family(plan.model, settings, (), bench.limits.speed_rpm),
                "Speed-torque lines of the runs: the field steps stay nearly level, the armature steps fall steeply.",
            )
    if plan.notes or bench.assumptions:
        page.heading("Assumed, and worth knowing")
        page.points([*plan.notes, *bench.assumptions])
    return page.text()
