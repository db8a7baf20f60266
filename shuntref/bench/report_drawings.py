"""What the reports draw: setting by setting, speed against each added resistance, the speed-torque family, the flux curve."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.compare import Comparison, RunComparison
from shuntref.bench.hypotheses import put
from shuntref.bench.plots import (
    MARKS,
    MEASURED,
    SHADES,
    Band,
    Line,
    Points,
    draw_band,
    draw_line,
    draw_points,
    drawing,
    figure_svg,
    legend_below,
)
from shuntref.bench.prediction import BenchModel, Setting, predict
from shuntref.bench.readings import Run
from shuntref.model.formulas import to_rpm
from shuntref.model.torque_line import speed_torque_line

__all__ = ["draw_flux_curve", "draw_settings", "draw_speed_against", "draw_torque_family"]

Array = NDArray[np.float64]
_SMOOTH = 60


def draw_settings(comparison: Comparison) -> str:
    """Measured beside predicted speed of every run, and their difference on its own scale."""
    runs = comparison.runs
    places = np.arange(len(runs), dtype=float)
    crossed = [not run.agrees for run in runs]
    with drawing(8.4, 6.4, 2) as (figure, (upper, lower)):
        draw_points(
            upper,
            Points(
                list(places - 0.12),
                [r.measured for r in runs],
                [r.measured_expanded for r in runs],
                "measured, with expanded uncertainty",
                crossed,
            ),
            measured=True,
        )
        draw_points(
            upper,
            Points(
                list(places + 0.12),
                [r.predicted for r in runs],
                [r.predicted_expanded for r in runs],
                "predicted, with expanded uncertainty",
            ),
            measured=False,
        )
        upper.set_ylabel("speed [r/min]")
        gaps = [r.measured - r.predicted for r in runs]
        wide = [_joint(r) for r in runs]
        lower.axhline(0.0, color="black", lw=1.0)
        draw_points(
            lower,
            Points(
                list(places),
                gaps,
                wide,
                "measured minus predicted, with the expanded uncertainty of the difference",
                crossed,
            ),
            measured=True,
            mark="D",
        )
        lower.set_ylabel("difference [r/min]")
        near = [
            abs(g) + w for g, w, cross in zip(gaps, wide, crossed, strict=True) if not cross and math.isfinite(g + w)
        ]
        far = [abs(g) for g, cross in zip(gaps, crossed, strict=True) if cross and math.isfinite(g)]
        if near and far and max(far) > 4.0 * max(near):
            # a run far off would flatten all the others: the small ones are shown at their own scale, the far one by an arrow
            limit = 1.6 * max(near)
            lower.set_ylim(-limit, limit)
            for place, gap in zip(places, gaps, strict=True):
                if math.isfinite(gap) and abs(gap) > limit:
                    side = math.copysign(1.0, gap)
                    lower.annotate(
                        f"{gap:+.0f} r/min, off the scale",
                        (place, side * limit),
                        (place, side * 0.62 * limit),
                        ha="center",
                        arrowprops={"arrowstyle": "->", "lw": 1.6},
                        fontsize=10,
                    )
        for axes in (upper, lower):
            axes.set_xticks(places, [f"run {r.run.name}\n{_label(r.run)}" for r in runs], fontsize=9)
            axes.set_xlim(-0.6, len(runs) - 0.4)
        legend_below(figure, (upper, lower), 1)
        return figure_svg(
            figure, "settings", "Measured and predicted speed of every run with error bars, and their difference"
        )


def _joint(run: RunComparison) -> float:
    """Expanded uncertainty of the difference, from the score that was made with it."""
    if run.agreement is None or run.agreement.score == 0.0:
        return math.hypot(run.measured_expanded, run.predicted_expanded)
    return abs((run.measured - run.predicted) / run.agreement.score)


def _label(run: Run) -> str:
    parts = [
        f"{run.values[f'added_{name}_resistance']:.3g} Ω\n{name}"
        for name in ("field", "armature")
        if run.values.get(f"added_{name}_resistance", 0.0) > 0.0
    ]
    return "\n".join(parts) if parts else "nothing added"


def _curve(model: BenchModel, column: str, top: float, torque: float | None) -> tuple[Array, Array, Array]:
    """Added resistance, predicted speed and its expanded uncertainty (k = 2, for a drawing)."""
    ohms = np.linspace(0.0, top, _SMOOTH)
    settings = [put(Setting(load_torque=torque), column, float(x)) for x in ohms]
    found = predict(model, settings)
    return ohms, np.asarray(found.speeds.values), 2.0 * np.asarray(found.speeds.standard_uncertainties)


def draw_speed_against(comparison: Comparison, circuit: str) -> str | None:
    """Speed against the added resistance of one circuit, predicted line and measured points; None without such runs."""
    column = f"added_{circuit}_resistance"
    other = f"added_{'armature' if circuit == 'field' else 'field'}_resistance"
    runs = [r for r in comparison.runs if r.run.values.get(other, 0.0) == 0.0 and r.load != "none"]
    if not any(r.run.values.get(column, 0.0) > 0.0 for r in runs):
        return None
    x = [r.run.values.get(column, 0.0) for r in runs]
    torques = [r.run.values["load_torque"] for r in runs if r.run.has("load_torque")]
    torque = float(np.mean(torques)) if torques else None
    ohms, speeds, wide = _curve(comparison.model, column, 1.08 * max(x), torque)
    with drawing(8.0, 4.8) as (figure, (axes,)):
        draw_band(axes, Band(ohms, speeds - wide, speeds + wide, "expanded uncertainty of the prediction"))
        words = (
            f"predicted, load torque {torque:.3g} N m" if torque is not None else "predicted, load of the bench file"
        )
        draw_line(axes, Line(ohms, speeds, words, 1))
        draw_points(
            axes,
            Points(
                x,
                [r.measured for r in runs],
                [r.measured_expanded for r in runs],
                "measured, with expanded uncertainty",
                [not r.agrees for r in runs],
            ),
            measured=True,
        )
        for place, run in zip(x, runs, strict=True):
            axes.annotate(run.run.name, (place, run.measured), xytext=(7, 7), textcoords="offset points", fontsize=9)
        axes.set_xlabel(f"resistance added in the {circuit} circuit [ohm]")
        axes.set_ylabel("speed [r/min]")
        legend_below(figure, (axes,), 2)
        return figure_svg(figure, f"speed-{circuit}", f"Speed against the resistance added in the {circuit} circuit")


def draw_torque_family(
    model: BenchModel, settings: Sequence[tuple[str, Setting]], measured: Sequence[RunComparison], limit_rpm: float
) -> str:
    """Speed against shaft torque for several settings, with the measured points where a torque was read."""
    machine = model.machine(model.values())
    points = [(r, r.run.values["load_torque"]) for r in measured if r.run.has("load_torque")]
    usual = max((torque for _, torque in points), default=None)
    if usual is None:
        usual = max(float(model.load(model.values()).torque(100.0)), 1e-3)
    top = 1.6 * usual
    with drawing(8.0, 5.4) as (figure, (axes,)):
        for style, (label, setting) in enumerate(settings):
            line = speed_torque_line(
                machine,
                supply_voltage=setting.supply_voltage or model.supply_voltage,
                added_field_resistance=setting.added_field_resistance,
                added_armature_resistance=setting.added_armature_resistance,
                points=8001,
                quantities=["load_torque", "speed"],
            )
            torque, speed = (np.asarray(getattr(line, name), dtype=float) for name in ("load_torque", "speed"))
            inside = (torque >= 0.0) & (torque <= top) & (speed > 0.0)
            draw_line(axes, Line(torque[inside], to_rpm(speed[inside]), label, style))
        for style, (run, read) in enumerate(points):
            draw_points(
                axes,
                Points([read], [run.measured], [run.measured_expanded], f"run {run.run.name}", [not run.agrees]),
                measured=True,
                mark=MARKS[style % len(MARKS)],
                colour=SHADES[style % len(SHADES)],
            )
        axes.axhline(
            limit_rpm, color="black", lw=2.4, ls=(0, (1, 1)), label=f"highest permitted speed {limit_rpm:.4g} r/min"
        )
        axes.set_xlim(0.0, top)
        axes.set_ylim(bottom=0.0)
        axes.set_xlabel("torque at the shaft [N m]")
        axes.set_ylabel("speed [r/min]")
        legend_below(figure, (axes,), 2)
        return figure_svg(figure, "torque-family", "Speed-torque lines of the settings with the measured points")


def draw_flux_curve(comparison: Comparison, readings: Sequence[Run]) -> str:
    """The flux curve used, and the readings that it was found from."""
    machine = comparison.model.machine(comparison.model.values())
    currents = [run.values["field_current"] for run in readings]
    # where the runs lie by prediction: a reading of swapped meters would only stretch the axis
    ran = [run.others["field_current"][1] for run in comparison.runs if "field_current" in run.others]
    ran = [current for current in ran if math.isfinite(current)]
    top = 1.1 * max([*currents, *ran, 1e-3])
    x = np.linspace(0.0, top, 200)
    low, high = machine.flux.limits or (0.0, top)
    x = x[(x >= low) & (x <= high)]
    with drawing(8.0, 4.6) as (figure, (axes,)):
        draw_line(axes, Line(x, machine.flux.k_phi_at(x), "flux curve of the identified machine", 1))
        have = [run for run in readings if run.has("back_emf", "speed_rpm")]
        if have:
            y = [run.values["back_emf"] / (run.values["speed_rpm"] * math.pi / 30.0) for run in have]
            draw_points(
                axes,
                Points(
                    [run.values["field_current"] for run in have],
                    y,
                    [0.0] * len(have),
                    "readings: open-circuit EMF over speed",
                ),
                measured=True,
            )
        for style, current in enumerate(ran):
            axes.axvline(
                current,
                color=MEASURED,
                lw=0.8,
                ls=":",
                label="field currents of the compared runs, predicted" if style == 0 else None,
            )
        axes.set_xlabel("field current [A]")
        axes.set_ylabel("k_phi [V s/rad]")
        legend_below(figure, (axes,), 2)
        return figure_svg(figure, "flux", "Flux curve of the identified machine with the readings it was found from")
