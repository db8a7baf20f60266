"""A reduction as text for a terminal."""

from __future__ import annotations

import math

from shuntref.bench.compare import RunComparison
from shuntref.bench.reduction import Reduction
from shuntref.bench.report_tables import parameter_rows
from shuntref.cautions import caution_text

__all__ = ["misfit_words", "reduction_text", "run_lines"]


def _run_line(run: RunComparison) -> str:
    added = [
        f"{run.run.values[f'added_{name}_resistance']:.4g} ohm in the {name}"
        for name in ("field", "armature")
        if run.run.values.get(f"added_{name}_resistance", 0.0) > 0.0
    ]
    setting = ", ".join(added) or "nothing added"
    if run.agreement is None:
        return f"  run {run.run.name:<4} {setting:<28} measured {run.measured:.1f}; the model has no running point here"
    mark = "agrees" if run.agrees else "DOES NOT AGREE"
    return (
        f"  run {run.run.name:<4} {setting:<28} measured {run.measured:7.1f} +- {run.measured_expanded:4.1f}, "
        f"predicted {run.predicted:7.1f} +- {run.predicted_expanded:4.1f} r/min, En {run.agreement.score:+6.2f}  {mark}"
    )


def misfit_words(misfit: float) -> str:
    """A misfit for print; beyond a thousand only how large it is matters.

    Examples
    --------
    >>> misfit_words(14.26), misfit_words(5871897.5), misfit_words(math.inf)
    ('14.3', 'over 1000', 'no running point at all')
    """
    if not math.isfinite(misfit):
        return "no running point at all"
    return f"{misfit:.1f}" if misfit <= 1000.0 else "over 1000"


def run_lines(reduction: Reduction) -> list[str]:
    """Every run compared, one line each."""
    return [_run_line(run) for run in reduction.comparison.runs]


def reduction_text(reduction: Reduction) -> str:
    """The whole reduction for a terminal."""
    bench, comparison, found = reduction.bench, reduction.comparison, reduction.identified
    lines = [
        f"{bench.name}{' (invented)' if bench.invented else ''}: log {reduction.log.source or 'without a name'}",
        "",
        reduction.summary,
        "",
        "Measured and predicted speed (expanded uncertainties, about 95 %; En beyond 1 means: look for the cause)",
    ]
    lines += run_lines(reduction)
    if reduction.simulated:
        lines += [
            "",
            f"Predicted speed by Monte Carlo, {reduction.trials} trials, seed {reduction.seed}: 95 % interval",
        ]
        lines += [
            f"  run {run.run.name:<4} "
            + (
                "no running point in some trials"
                if simulated is None
                else f"{simulated.low:.1f} to {simulated.high:.1f}"
            )
            for run, simulated in zip(comparison.runs, reduction.simulated, strict=True)
        ]
    for diagnosis in reduction.diagnoses:
        where = f"run {diagnosis.run.run.name}" if diagnosis.run is not None else "all runs"
        nothing = misfit_words(diagnosis.unexplained)
        lines += ["", f"Causes tried for {where}, best first (misfit of the readings with nothing changed: {nothing})"]
        if diagnosis.alike > 1:
            lines.append(f"  {diagnosis.words}")
        lines += [
            f"  {misfit_words(cause.misfit):>10}  {'explains' if cause.explains else '   no   '}  {cause.words}"
            for cause in diagnosis.causes[:6]
        ]
    used_for = "" if comparison.from_identified else " (not used to predict)"
    lines += ["", f"The machine, from the log{used_for}"]
    for name, value, expanded, unit, _, origin in parameter_rows(reduction):
        spread = f" +- {expanded:.2g}" if math.isfinite(expanded) and expanded > 0.0 else ""
        lines.append(f"  {name.replace('_', ' '):<26} {value:.5g}{spread} {unit}   ({origin})")
    lines += [f"  not identified: {reason}" for reason in found.missing]
    lines += [f"  note: {warning}" for warning in found.warnings]
    refused = reduction.log.refused()
    used = sum(record.outcome in ("used", "averaged") for record in reduction.log.lines)
    lines += [
        "",
        f"Lines of the log: {used} used, {len(refused)} refused (every line is listed in lines.csv and the report)",
    ]
    lines += [f"  line {record.line}: {record.reason}" for record in refused]
    if reduction.notes:
        lines += ["", "Assumed, and worth knowing", *(f"  {note}" for note in reduction.notes)]
    return "\n".join([*lines, "", caution_text()])
