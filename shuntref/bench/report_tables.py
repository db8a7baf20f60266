"""The tables of a reduction: for the page, and as CSV files with the unit in every heading."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from shuntref.bench.causes import Cause
from shuntref.bench.compare import RunComparison
from shuntref.bench.reduction import Reduction
from shuntref.cautions import CAUTIONS
from shuntref.quantities.registry import REGISTRY
from shuntref.whole_file import write_whole

__all__ = ["PARAMETER_UNITS", "parameter_rows", "reduction_data", "table_texts", "write_tables"]

#: units of parameters that are not quantities of the registry
PARAMETER_UNITS = {
    "loss_torque_constant": "N m",
    "loss_torque_proportional": "N m s/rad",
    "loss_torque_square": "N m s2/rad2",
    "speed_per_ohm": "r/(min ohm)",
    "effective_field_resistance": "ohm",
}


def _unit(name: str) -> str:
    if name in REGISTRY:
        return REGISTRY[name].unit
    return PARAMETER_UNITS.get(name, "V s/rad" if name.startswith("k_phi") else "")


def parameter_rows(reduction: Reduction) -> list[tuple[str, float, float, str, float, str]]:
    """Name, value, expanded uncertainty, unit, degrees of freedom and origin of every parameter found."""
    found = reduction.identified
    rows = []
    for stage in found.stages:
        for name in stage.estimates.names:
            dof = stage.estimates.degrees_of_freedom(name)
            rows.append((name, stage.value(name), stage.expanded_uncertainty(name), _unit(name), dof, stage.method))
    have = {row[0] for row in rows}
    for name in found.parameters.names:
        if name not in have:
            rows.append(
                (
                    name,
                    found.value(name),
                    found.expanded_uncertainty(name),
                    _unit(name),
                    math.inf,
                    "stated in the bench file",
                )
            )
    return rows


def _run_row(run: RunComparison) -> list[Any]:
    return [
        run.run.name,
        run.run.test,
        " ".join(map(str, run.run.lines)),
        run.run.values.get("added_field_resistance", 0.0),
        run.run.values.get("added_armature_resistance", 0.0),
        run.measured,
        run.measured_expanded,
        run.predicted,
        run.predicted_expanded,
        run.measured - run.predicted,
        run.agreement.score if run.agreement else math.nan,
        "yes" if run.agrees else "no",
    ]


def _cause_row(where: str, place: int, cause: Cause) -> list[Any]:
    return [
        where,
        place,
        cause.name,
        cause.words,
        "" if cause.figure is None else cause.figure,
        cause.misfit,
        cause.readings,
        cause.merit,
        "yes" if cause.explains else "no",
    ]


def _csv(heads: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(heads)
    for row in rows:
        writer.writerow(
            [
                ""
                if isinstance(cell, float) and not math.isfinite(cell)
                else f"{cell:.10g}"
                if isinstance(cell, float)
                else cell
                for cell in row
            ]
        )
    return stream.getvalue()


def table_texts(reduction: Reduction) -> dict[str, str]:
    """File name -> CSV text of every table."""
    comparison, found = reduction.comparison, reduction.identified
    heads = [
        "run",
        "test",
        "lines",
        "added_field_resistance [ohm]",
        "added_armature_resistance [ohm]",
        "measured speed [r/min]",
        "U measured [r/min]",
        "predicted speed [r/min]",
        "U predicted [r/min]",
        "difference [r/min]",
        "En [1]",
        "agrees",
    ]
    rows = [_run_row(run) for run in comparison.runs]
    if reduction.simulated:
        heads += ["Monte Carlo low [r/min]", "Monte Carlo high [r/min]"]
        for row, simulated in zip(rows, reduction.simulated, strict=True):
            row += [math.nan, math.nan] if simulated is None else [simulated.low, simulated.high]
    texts = {
        "runs.csv": _csv(heads, rows),
        "machine.csv": _csv(
            ["parameter", "value", "expanded uncertainty", "unit", "degrees of freedom", "from"],
            parameter_rows(reduction),
        ),
        "lines.csv": _csv(
            ["line", "outcome", "run", "reason"], [[r.line, r.outcome, r.run, r.reason] for r in reduction.log.lines]
        ),
    }
    names, matrix = found.parameters.names, found.parameters.correlation
    texts["correlations.csv"] = _csv(
        ["parameter", *names], [[name, *map(float, matrix[i])] for i, name in enumerate(names)]
    )
    causes = [
        _cause_row(d.run.run.name if d.run is not None else "all", place, cause)
        for d in reduction.diagnoses
        for place, cause in enumerate(d.causes, start=1)
    ]
    heads = ["run", "place", "cause", "in words", "figure", "misfit", "readings", "merit", "explains"]
    texts["causes.csv"] = _csv(heads, causes)
    return texts


def write_tables(reduction: Reduction, folder: str | Path) -> list[Path]:
    """Write every table as a CSV file; the folder is made when it is not there.

    Returns
    -------
    list of Path
        The files written.
    """
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in table_texts(reduction).items():
        write_whole(place / name, text)
        written.append(place / name)
    return written


def _plain(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def reduction_data(reduction: Reduction) -> dict[str, Any]:
    """The whole reduction as plain data with the cautions; names of the registry carry registry units, others carry theirs."""
    runs = []
    for position, run in enumerate(reduction.comparison.runs):
        simulated = reduction.simulated[position] if reduction.simulated else None
        runs.append(
            {
                "run": run.run.name,
                "test": run.run.test,
                "lines": list(run.run.lines),
                "added_field_resistance": run.run.values.get("added_field_resistance", 0.0),
                "added_armature_resistance": run.run.values.get("added_armature_resistance", 0.0),
                "measured_speed_rpm": run.measured,
                "measured_expanded_rpm": run.measured_expanded,
                "predicted_speed_rpm": _plain(run.predicted),
                "predicted_expanded_rpm": _plain(run.predicted_expanded),
                "en": run.agreement.score if run.agreement else None,
                "agrees": run.agrees,
                "meaning": run.agreement.meaning
                if run.agreement
                else "the model has no running point for this setting",
                "monte_carlo_interval_rpm": None if simulated is None else [simulated.low, simulated.high],
            }
        )
    return {
        "bench": reduction.bench.name,
        "invented": reduction.bench.invented,
        "cautions": list(CAUTIONS),
        "summary": reduction.summary,
        "runs": runs,
        "machine": [
            {
                "parameter": n,
                "value": v,
                "expanded_uncertainty": _plain(u),
                "unit": unit,
                "degrees_of_freedom": _plain(dof),
                "from": origin,
            }
            for n, v, u, unit, dof, origin in parameter_rows(reduction)
        ],
        "diagnoses": [
            {
                "run": d.run.run.name if d.run is not None else None,
                "words": d.words,
                "cause": d.best.name if d.best is not None else None,
                "indistinguishable": d.alike,
                "causes": [
                    {
                        "name": c.name,
                        "words": c.words,
                        "figure": c.figure,
                        "misfit": _plain(c.misfit),
                        "readings": c.readings,
                        "merit": _plain(c.merit),
                        "explains": c.explains,
                    }
                    for c in d.causes
                ],
            }
            for d in reduction.diagnoses
        ],
        "lines": [
            {"line": r.line, "outcome": r.outcome, "run": r.run, "reason": r.reason} for r in reduction.log.lines
        ],
        "notes": [
            *reduction.odd,
            *reduction.notes,
            *reduction.identified.missing,
            *reduction.identified.warnings,
        ],
        "monte_carlo": {"trials": reduction.trials, "seed": reduction.seed} if reduction.trials else None,
    }
