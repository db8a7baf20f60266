"""Predicted and measured, run by run: both with expanded uncertainty, and whether they agree."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.agreement import Agreement, normalised_error
from shuntref.bench.bench_file import Bench
from shuntref.bench.error_sources import Estimates
from shuntref.bench.fitting import FitError
from shuntref.bench.identify import IdentifiedMachine
from shuntref.bench.measured_runs import READ, MeasuredRuns, identified_model, measured_runs, runs_to_compare
from shuntref.bench.monte_carlo import symmetric_interval
from shuntref.bench.prediction import BenchModel, Predictions, bench_model, column_of, predict, solve_settings
from shuntref.bench.readings import BenchLog, Run
from shuntref.bench.uncertainty import coverage_factor

__all__ = ["Comparison", "RunComparison", "Simulated", "compare", "joint_differences", "monte_carlo_intervals"]

Array = NDArray[np.float64]

#: relative expanded uncertainty above which a prediction is too vague for agreement to mean much
_VAGUE = 0.05


@dataclass(frozen=True, slots=True)
class Simulated:
    """Predicted speed of a run by Monte Carlo: mean, standard uncertainty, symmetric 95 % interval [r/min]."""

    mean: float
    standard_uncertainty: float
    low: float
    high: float


@dataclass(frozen=True)
class RunComparison:
    """One run, predicted beside measured; speeds and expanded uncertainties in r/min.

    ``others`` holds the other readings: quantity -> (measured, predicted, standard uncertainty of the difference).
    ``agreement`` is None for a setting that the model says cannot run.
    """

    position: int
    run: Run
    load: str
    measured: float
    measured_expanded: float
    predicted: float
    predicted_expanded: float
    agreement: Agreement | None
    others: dict[str, tuple[float, float, float]]

    @property
    def agrees(self) -> bool:
        """Whether measured and predicted speed agree within their expanded uncertainties."""
        return self.agreement is not None and self.agreement.agrees


@dataclass(frozen=True)
class Comparison:
    """All runs of a log compared.

    ``residuals`` are measured minus predicted over all readings listed in ``labels`` (run position, quantity);
    ``covariance`` is theirs, with everything that measured and predicted share taken into account.
    """

    bench: Bench
    measured: MeasuredRuns
    model: BenchModel
    predictions: Predictions
    runs: tuple[RunComparison, ...]
    labels: tuple[tuple[int, str], ...]
    residuals: Array
    covariance: Array
    from_identified: bool
    notes: tuple[str, ...]

    @property
    def disagreeing(self) -> tuple[RunComparison, ...]:
        """The runs whose speeds do not agree."""
        return tuple(run for run in self.runs if not run.agrees)


def _factor(estimates: Estimates, name: str) -> float:
    return coverage_factor(max(estimates.degrees_of_freedom(name), 1.0))


def _difference(measured: Estimates, predicted: Estimates) -> Estimates:
    """Measured minus predicted of the same runs, as estimates: what both share cancels by itself."""
    rows = predicted.select(measured.names)
    table: dict[object, Array] = {}
    for source, column in zip(measured.sources, measured.sensitivities.T, strict=True):
        table[source] = table.get(source, 0.0) + column
    for source, column in zip(rows.sources, rows.sensitivities.T, strict=True):
        table[source] = table.get(source, 0.0) - column
    sources = tuple(dict.fromkeys((*measured.sources, *rows.sources)))
    matrix = np.column_stack([table[s] for s in sources]) if sources else np.zeros((len(measured.names), 0))
    return Estimates(measured.names, measured.values - rows.values, sources, matrix)


def compare(bench: Bench, log: BenchLog, identified: IdentifiedMachine | None = None) -> Comparison:
    """Compare the runs of a log with prediction.

    Parameters
    ----------
    bench : Bench
    log : BenchLog
    identified : IdentifiedMachine, optional
        From the other readings of the same log. Runs that its curve or loss was fitted to are not compared: they would
        agree by construction. Left out, the machine of the bench file predicts.

    Returns
    -------
    Comparison

    Raises
    ------
    ValueError
        When the log has no run to compare.

    Notes
    -----
    En = (measured - predicted)/sqrt(U_m^2 + U_p^2 - 2 cov) with expanded uncertainties; the covariance is there because
    one tachometer and one voltmeter stand behind both the readings and the identified machine.
    """
    runs = runs_to_compare(log, identified)
    if not runs:
        raise ValueError(
            "the log has no run to compare: rows with a speed and test 'load' (or no test named) are wanted, besides those "
            "that the machine is identified from"
        )
    notes = []
    model, from_identified = bench_model(bench), False
    if identified is not None:
        try:
            model, from_identified = identified_model(bench, identified), True
            model.machine(model.values())
        except FitError as error:
            model, from_identified = bench_model(bench), False
            notes.append(f"predicted with the machine of the bench file: {error}")
        except ValueError as error:
            raise ValueError(
                f"the machine that the log describes cannot be: {error}; look at the units in the headings (mA for A?) and at "
                "the readings of the no-load, generator and volt-ampere rows"
            ) from None
    ready = measured_runs(bench, runs, model.parameters)
    predictions = predict(model, ready.settings, ready.errors, READ)
    speeds = ready.readings["speed_rpm"]
    gap = _difference(speeds, predictions.speeds)
    found = []
    for position, run in enumerate(runs):
        name = str(position)
        u_m, u_p = speeds.standard_uncertainty(name), predictions.standard_uncertainty(position)
        k_m = _factor(speeds, name)
        agreement, expanded = None, math.nan
        predicted = predictions.speed(position)
        if math.isfinite(predicted) and math.isfinite(u_p):
            k_p = _factor(predictions.speeds, name)
            expanded = k_p * u_p
            shared = (u_m**2 + u_p**2 - gap.standard_uncertainty(name) ** 2) / 2.0
            agreement = normalised_error(
                speeds.value(name), predicted, k_m * u_m, expanded, expanded_covariance=k_m * k_p * shared
            )
        others = {}
        for quantity_name in READ[1:]:
            table = ready.readings.get(quantity_name)
            if table is not None and name in table.names:
                other = _difference(table.select([name]), predictions.estimates[quantity_name])
                others[quantity_name] = (
                    table.value(name),
                    predictions.estimates[quantity_name].value(name),
                    other.standard_uncertainty(name),
                )
        found.append(
            RunComparison(
                position,
                run,
                ready.loads[position],
                speeds.value(name),
                k_m * u_m,
                predicted,
                expanded,
                agreement,
                others,
            )
        )
    vague = [run for run in found if run.predicted_expanded > _VAGUE * abs(run.predicted)]
    if vague:
        worst = max(vague, key=lambda run: run.predicted_expanded / abs(run.predicted))
        notes.append(
            f"the prediction of run {worst.run.name} carries an expanded uncertainty of "
            f"{100.0 * worst.predicted_expanded / abs(worst.predicted):.0f} %: to agree with it says little; measure the "
            "resistances and the flux curve, and state them with their uncertainty"
        )
    labels, residuals, covariance = joint_differences(ready, predictions)
    return Comparison(
        bench, ready, model, predictions, tuple(found), labels, residuals, covariance, from_identified, tuple(notes)
    )


def joint_differences(
    ready: MeasuredRuns, predictions: Predictions
) -> tuple[tuple[tuple[int, str], ...], Array, Array]:
    """Measured minus predicted of all readings, with their joint covariance over the sources they have in common.

    Returns
    -------
    labels, residuals, covariance
        Labels are (position of the run, quantity). Where the model has no prediction the residual is NaN and the
        covariance that of the reading alone.
    """
    labels: list[tuple[int, str]] = []
    rows: list[dict[object, float]] = []
    values: list[float] = []
    for quantity_name, table in ready.readings.items():
        gap = _difference(table, predictions.estimates[quantity_name])
        for place, (name, value) in enumerate(zip(gap.names, gap.values, strict=True)):
            sources, row = gap.sources, gap.sensitivities[place]
            if not (math.isfinite(value) and np.all(np.isfinite(row))):
                value, sources, row = math.nan, table.sources, table.sensitivities[place]
            labels.append((int(name), quantity_name))
            values.append(float(value))
            rows.append(dict(zip(sources, map(float, row), strict=True)))
    every = list(dict.fromkeys(source for row in rows for source in row))
    matrix = np.array([[row.get(source, 0.0) for source in every] for row in rows])
    return tuple(labels), np.array(values), np.asarray(matrix @ matrix.T)


def monte_carlo_intervals(comparison: Comparison, trials: int, seed: int) -> tuple[Simulated | None, ...]:
    """Predicted speeds by Monte Carlo, beside the first-order uncertainties.

    Parameters
    ----------
    comparison : Comparison
    trials : int
        At least 100; 10 000 or more for an interval worth quoting.
    seed : int
        The same seed gives the same figures.

    Returns
    -------
    tuple of Simulated or None
        None for a setting that the model says cannot run in some of the trials.

    Notes
    -----
    All sources of error are drawn from their distributions and go through the model itself (JCGM 101), settings and
    parameters together; the symmetric interval has 95 % coverage.
    """
    if trials < 100:
        raise ValueError(f"{trials} trials are too few for an interval; ask for at least 100, better 10 000")
    ready, model = comparison.measured, comparison.model
    count = len(ready.settings)
    # settings and parameters are drawn together: a meter used for both errs the same way in both
    columns = tuple(dict.fromkeys(error.column for error in ready.errors))
    every = model.parameters.joined(_setting_estimates(ready, columns))
    drawn = every.sample(trials, np.random.default_rng(seed))
    known = len(model.parameters.names)
    speeds = np.empty((trials, count))
    for trial in range(trials):
        values = dict(zip(model.parameters.names, map(float, drawn[trial, :known]), strict=True))
        moved = {name: drawn[trial, known + k * count : known + (k + 1) * count] for k, name in enumerate(columns)}
        state = solve_settings(model, values, ready.settings, moved, ("speed_rpm",))
        speeds[trial] = column_of(state, "speed_rpm", count)
    found: list[Simulated | None] = []
    for column in speeds.T:
        if not np.all(np.isfinite(column)):
            found.append(None)
            continue
        low, high = symmetric_interval(column)
        found.append(Simulated(float(column.mean()), float(column.std(ddof=1)), low, high))
    return tuple(found)


def _setting_estimates(ready: MeasuredRuns, columns: tuple[str, ...]) -> Estimates:
    """The errors of the settings as quantities of value zero, one for each column and run."""
    count = len(ready.settings)
    sources = tuple(dict.fromkeys(error.source for error in ready.errors))
    matrix = np.zeros((len(columns) * count, len(sources)))
    for error in ready.errors:
        start = columns.index(error.column) * count
        matrix[start : start + count, sources.index(error.source)] += error.shifts
    names = tuple(f"{column} of setting {position}" for column in columns for position in range(count))
    return Estimates(names, np.zeros(len(names)), sources, matrix)
