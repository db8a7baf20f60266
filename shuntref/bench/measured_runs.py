"""Runs of a log made ready for comparison: their settings, what was read, and every source of error in both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.bench_file import Bench
from shuntref.bench.error_sources import Estimates, fixed
from shuntref.bench.identify import IdentifiedMachine
from shuntref.bench.identify_flux import POINT, flux_from_values
from shuntref.bench.identify_loss import TERMS, loss_from_values
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.prediction import BenchModel, Setting, SettingError, bench_model, scaled_load
from shuntref.bench.reading_sources import reading_estimates
from shuntref.bench.readings import BenchLog, Run
from shuntref.model.machine import Machine

__all__ = ["READ", "MeasuredRuns", "identified_model", "measured_runs", "runs_to_compare"]

Array = NDArray[np.float64]

#: readings that a setting is made of, and readings that a prediction is held against
SETTABLE = ("added_field_resistance", "added_armature_resistance", "supply_voltage", "load_torque")
READ = ("speed_rpm", "field_current", "armature_current", "line_current")


@dataclass(frozen=True)
class MeasuredRuns:
    """Runs with their settings and readings.

    ``errors`` say how well the settings are known; ``readings`` holds for each quantity of ``READ`` the estimates of the
    runs that have it, named by the position of the run; ``loads`` says in words where each run's load torque is from.
    """

    runs: tuple[Run, ...]
    settings: tuple[Setting, ...]
    errors: tuple[SettingError, ...]
    readings: dict[str, Estimates]
    loads: tuple[str, ...]


def runs_to_compare(log: BenchLog, identified: IdentifiedMachine | None) -> tuple[Run, ...]:
    """The runs that a prediction can be held against: speeds under power that no curve or loss was fitted to."""
    fitted: set[tuple[str, str]] = set()
    if identified is not None:
        for stage in identified.stages:
            if stage.what in ("magnetisation curve", "loss torque"):
                fitted |= {(run.test, run.name) for run in stage.runs}
    return tuple(
        run
        for run in log.runs
        if run.test in ("load", "no-load", "")
        and run.values.get("speed_rpm", 0.0) > 0.0
        and not run.has("back_emf")
        and (run.test, run.name) not in fitted
    )


def _estimates(runs: Sequence[Run], name: str, meters: InstrumentSet, known: Estimates | None) -> Estimates:
    """The runs' readings of one quantity, named by the position of the run."""
    return reading_estimates(
        ((str(position), run, name) for position, run in enumerate(runs) if run.has(name)), meters, known
    )


def measured_runs(bench: Bench, runs: Sequence[Run], known: Estimates | None = None) -> MeasuredRuns:
    """Make runs ready for comparison.

    Parameters
    ----------
    bench : Bench
        For the instruments, the supply and the load where a run has no reading of its own.
    runs : sequence of Run
    known : Estimates
        What was identified from the same log, so that shared sources of error stay shared.

    Returns
    -------
    MeasuredRuns

    Notes
    -----
    The supply voltage read is taken as the voltage at the machine's terminals. A torque that was read is used as a
    constant torque; a run without load carries none; otherwise the load of the bench file is used.
    """
    meters = InstrumentSet.of(bench.instruments)
    settings, loads = [], []
    for run in runs:
        torque = run.values.get("load_torque")
        light = run.test == "no-load"
        settings.append(
            Setting(
                run.values.get("added_field_resistance", 0.0),
                run.values.get("added_armature_resistance", 0.0),
                run.values.get("supply_voltage", run.values.get("source_voltage")),
                0.0,
                0.0 if light else 1.0,
                None if light else torque,
                run.has("supply_voltage"),
            )
        )
        loads.append("none" if light else "read" if torque is not None else "bench file")
    errors = []
    for column in SETTABLE:
        table = _estimates(runs, column, meters, known)
        for j, source in enumerate(table.sources):
            shifts = np.zeros(len(runs))
            shifts[[int(name) for name in table.names]] = table.sensitivities[:, j]
            errors.append(SettingError(source, column, shifts))
    readings = {name: _estimates(runs, name, meters, known) for name in READ}
    return MeasuredRuns(
        tuple(runs),
        tuple(settings),
        tuple(errors),
        {name: found for name, found in readings.items() if found.names},
        tuple(loads),
    )


def identified_model(bench: Bench, identified: IdentifiedMachine) -> BenchModel:
    """The identified machine as a model with uncertain inputs; what the log could not tell is taken from the bench file.

    Returns
    -------
    BenchModel
        Its parameters keep the sources of error of the identification, so that a meter used for both stays one meter.
    """
    from_file = bench_model(bench)
    found = identified.parameters
    has_flux = any(n in ("flux_constant", "froehlich_a") or n.startswith(POINT) for n in found.names)
    has_loss = any(n in TERMS for n in found.names)
    extra = {
        name: value
        for name, value in from_file.values().items()
        if name not in found.names
        and not (has_flux and name in ("flux_scale", "saturation"))
        and not (has_loss and name == "loss_scale")
    }
    spreads = {name: from_file.parameters.standard_uncertainty(name) for name in extra}
    parameters = found.joined(fixed(extra, spreads))

    def machine_of(parts: Mapping[str, float]) -> Machine:
        base = from_file.machine({**from_file.values(), **parts})
        return replace(
            base,
            flux=flux_from_values(parts) if has_flux else base.flux,
            loss_torque=loss_from_values(parts) if has_loss else base.loss_torque,
        )

    return BenchModel(
        parameters, machine_of, lambda parts: scaled_load(bench.load, parts["load_scale"]), bench.supply_voltage
    )
