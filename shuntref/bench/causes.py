"""Why a run disagrees: every likely cause tested by predicting again with it, and ranked by how well it then fits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from shuntref.bench.compare import Comparison, RunComparison, joint_differences
from shuntref.bench.error_sources import Estimates
from shuntref.bench.hypotheses import Changed, Hypothesis, run_hypotheses
from shuntref.bench.measured_runs import READ
from shuntref.bench.prediction import SettingError, column_of, predict, solve_settings
from shuntref.bench.session_hypotheses import session_hypotheses
from shuntref.quantities.registry import quantity

__all__ = ["Cause", "Diagnosis", "diagnose"]

Array = NDArray[np.float64]

#: a cause is rejected when what it leaves would be scatter in less than one case of a hundred
_COVERAGE = 0.99

#: what choosing a cause for one more run costs
_CHOICE = 2.0 * math.log(10.0)

#: causes that are worth working out in full
_FINALISTS = 6

#: two causes whose figures of merit lie closer than this cannot be told apart by the readings
_ALIKE = 3.0


@dataclass(frozen=True)
class Cause:
    """One cause, tested.

    ``misfit`` is the chi-square of the readings after the change, over ``readings`` of them; ``merit`` adds 2 for a free
    figure, so that the smaller is the better. ``explains`` says whether what is left is scatter (95 %). ``speeds`` are the
    speeds that it predicts [r/min] by run position.
    """

    name: str
    words: str
    figure: float | None
    misfit: float
    readings: int
    merit: float
    explains: bool
    speeds: dict[int, float]


@dataclass(frozen=True)
class Diagnosis:
    """Causes for one run, or for the whole session when ``run`` is None, best first.

    ``unexplained`` is the misfit with nothing changed; ``alike`` how many of the first causes the readings cannot tell
    apart; ``next_reading`` what to read to tell them apart.
    """

    run: RunComparison | None
    unexplained: float
    causes: tuple[Cause, ...]
    alike: int
    next_reading: str

    @property
    def best(self) -> Cause | None:
        """The best cause, when it explains the readings and beats doing nothing."""
        if self.causes and self.causes[0].explains and self.causes[0].merit < self.unexplained:
            return self.causes[0]
        return None

    @property
    def headline(self) -> str:
        """The diagnosis in half a sentence."""
        where = f"run {self.run.run.name}" if self.run is not None else "the session"
        best = self.best
        if best is None:
            return f"{where}: none of the causes tried explains it"
        more = self.alike - 1
        return f"{where}: most likely {best.words}" + (
            f" ({more} other cause{'s' if more > 1 else ''} would fit as well)" if more > 0 else ""
        )

    @property
    def words(self) -> str:
        """The diagnosis in a sentence or two, with what cannot be told apart and what to read next."""
        where = f"run {self.run.run.name}" if self.run is not None else "the session"
        best = self.best
        if best is None:
            return (
                f"{where}: none of the causes tried brings prediction and readings together; look at the wiring and the "
                "readings afresh"
            )
        text = f"{where}: most likely {best.words}"
        if self.alike > 1:
            others = "; or ".join(cause.words for cause in self.causes[1 : self.alike])
            text += f"; the readings do not tell this from another cause: {others}"
            if self.next_reading:
                text += f". {self.next_reading}"
        return text


def diagnose(comparison: Comparison) -> tuple[Diagnosis, ...]:
    """Look for the cause of every disagreement.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    tuple of Diagnosis
        One for each run that disagrees, or one for the whole session when a session-wide cause explains all runs better than
        the runs' own causes do. Empty when everything agrees.

    Notes
    -----
    A cause is judged by all readings of the runs in question (speed and whatever currents were read) through their joint
    covariance: chi-square = r' C^-1 r. A free figure is fitted within its believable range and costs 2, as in Akaike's
    criterion. A cause that belongs to one run is tried on that run; one that would have acted all day is tried on all runs.
    """
    wrong = comparison.disagreeing
    if not wrong:
        return ()
    each = [_for_run(comparison, run) for run in wrong]
    if len(comparison.runs) < 2:
        return tuple(each)
    session = _for_session(comparison)
    # blaming each run on its own is a choice among ten causes or so, made for every run: 2 ln 10 each, in units of merit
    apart = sum((d.best.merit if d.best is not None else d.unexplained) + _CHOICE for d in each)
    apart += _misfit(comparison, [r.position for r in comparison.runs if r.agrees], None, 0.0)[0]
    if session.causes and session.causes[0].merit < apart:
        return (session,) if session.best is not None else (session, *each)
    return tuple(each)


def _for_run(comparison: Comparison, run: RunComparison) -> Diagnosis:
    setting = comparison.measured.settings[run.position]
    voltage = setting.supply_voltage or comparison.model.supply_voltage
    return _ranked(comparison, run, [run.position], run_hypotheses(run.position, setting, voltage))


def _for_session(comparison: Comparison) -> Diagnosis:
    settings = comparison.measured.settings
    base = min(
        range(len(settings)), key=lambda i: settings[i].added_field_resistance + settings[i].added_armature_resistance
    )
    state = comparison.predictions.state
    count = len(settings)
    k_phi, speed = (float(column_of(state, name, count)[base]) for name in ("k_phi", "speed"))
    if not (math.isfinite(k_phi) and math.isfinite(speed)):
        return Diagnosis(None, math.inf, (), 0, "")
    assumed = "bench file" in comparison.measured.loads
    hypotheses = session_hypotheses(comparison.model, k_phi, speed, torque_assumed=assumed)
    return _ranked(comparison, None, list(range(count)), hypotheses)


def _ranked(
    comparison: Comparison, run: RunComparison | None, positions: Sequence[int], hypotheses: Sequence[Hypothesis]
) -> Diagnosis:
    nothing, _, _ = _misfit(comparison, positions, None, 0.0)
    causes = []
    for hypothesis in hypotheses:
        cause = _tested(comparison, positions, hypothesis)
        if cause is not None:
            causes.append(cause)
    causes.sort(key=lambda cause: (cause.merit, cause.name))
    named = {h.words(c.figure or 0.0): h for c in causes for h in hypotheses if h.name == c.name}
    causes[:_FINALISTS] = [_in_full(comparison, positions, named[c.words], c) for c in causes[:_FINALISTS]]
    causes.sort(key=lambda cause: (cause.merit, cause.name))
    alike = sum(1 for cause in causes if cause.explains and cause.merit - causes[0].merit < _ALIKE)
    reading = ""
    if alike > 1:
        pair = [named[cause.words] for cause in causes[:2]]
        reading = _next_reading(comparison, positions, causes[:2], pair)
    return Diagnosis(run, nothing, tuple(causes), alike, reading)


def _tested(comparison: Comparison, positions: Sequence[int], hypothesis: Hypothesis) -> Cause | None:
    figure = None
    if hypothesis.span is None:
        misfit, count, speeds = _misfit(comparison, positions, hypothesis, 0.0)
    else:
        figure = _best_figure(comparison, positions, hypothesis)
        misfit, count, speeds = _misfit(comparison, positions, hypothesis, figure)
    if not math.isfinite(misfit):
        return None
    return _cause(hypothesis, figure, misfit, count, speeds)


def _cause(hypothesis: Hypothesis, figure: float | None, misfit: float, count: int, speeds: dict[int, float]) -> Cause:
    # a reading that a cause says nothing about is one figure of its own
    free = int(figure is not None) + len(hypothesis.ignores)
    dof = count - int(figure is not None)
    # with as many figures as readings nothing is left to contradict: it may be so, and the words say that others may too
    explains = misfit <= float(stats.chi2.ppf(_COVERAGE, dof)) if dof > 0 else misfit < 1e-3
    return Cause(
        hypothesis.name, hypothesis.words(figure or 0.0), figure, misfit, count, misfit + 2.0 * free, explains, speeds
    )


def _in_full(comparison: Comparison, positions: Sequence[int], hypothesis: Hypothesis, cause: Cause) -> Cause:
    """The cause with the uncertainties that its own prediction has, in place of those of the prediction without it."""
    changed = hypothesis.change(comparison.model, comparison.measured.settings, cause.figure or 0.0)
    errors = _errors_moved(comparison.measured.errors, changed)
    try:
        found = predict(changed.model, changed.settings, errors, READ)
    except ValueError:
        return cause  # at the edge of what the machine can do there is no uncertainty to be had
    speeds = found.estimates["speed_rpm"]
    factor = changed.speed_factor
    shown = Estimates(speeds.names, factor * speeds.values, speeds.sources, factor * speeds.sensitivities)
    found = replace(found, estimates={**found.estimates, "speed_rpm": shown})
    labels, residuals, covariance = joint_differences(replace(comparison.measured, settings=changed.settings), found)
    rows = [i for i, (at, name) in enumerate(labels) if at in positions and name not in hypothesis.ignores]
    if len(rows) != cause.readings:
        return cause
    misfit = _chi_square(residuals[rows], covariance[np.ix_(rows, rows)])
    return _cause(hypothesis, cause.figure, misfit, cause.readings, cause.speeds)


def _errors_moved(errors: Sequence[SettingError], changed: Changed) -> list[SettingError]:
    """The errors of the settings, with that of a misplaced resistor where the resistor now is."""
    if changed.moved is None:
        return list(errors)
    position, column, other = changed.moved
    found = []
    for error in errors:
        if error.column != column:
            found.append(error)
            continue
        here = np.zeros(len(error.shifts))
        here[position] = error.shifts[position]
        found.append(SettingError(error.source, column, error.shifts - here))
        if other:
            found.append(SettingError(error.source, other, here))
    return found


def _best_figure(comparison: Comparison, positions: Sequence[int], hypothesis: Hypothesis) -> float:
    """The figure that fits best: a ladder over the believable range, then a bounded search about the best rung."""
    low, high = hypothesis.span or (0.0, 0.0)
    ladder = np.unique(np.append(np.linspace(low, high, 25), hypothesis.null))
    values = np.array([_misfit(comparison, positions, hypothesis, float(x))[0] for x in ladder])
    best = int(np.argmin(np.where(np.isfinite(values), values, np.inf)))
    left, right = ladder[max(best - 1, 0)], ladder[min(best + 1, len(ladder) - 1)]

    def objective(x: float) -> float:
        value = _misfit(comparison, positions, hypothesis, float(x))[0]
        return value if math.isfinite(value) else 1e30

    found = optimize.minimize_scalar(
        objective, bounds=(float(left), float(right)), method="bounded", options={"xatol": 1e-5 * (high - low)}
    )
    return float(found.x) if float(found.fun) <= values[best] else float(ladder[best])


def _misfit(
    comparison: Comparison, positions: Sequence[int], hypothesis: Hypothesis | None, figure: float
) -> tuple[float, int, dict[int, float]]:
    """Chi-square of the readings of some runs under a hypothesis, how many readings, and the speeds it predicts."""
    ignored = hypothesis.ignores if hypothesis is not None else ()
    rows = [i for i, (position, name) in enumerate(comparison.labels) if position in positions and name not in ignored]
    if not rows:
        return 0.0, 0, {}
    residuals = comparison.residuals.copy()
    count = len(comparison.runs)
    speeds = {run.position: run.predicted for run in comparison.runs}
    if hypothesis is not None:
        changed = hypothesis.change(comparison.model, comparison.measured.settings, figure)
        names = tuple(dict.fromkeys(["speed_rpm", *(name for _, name in comparison.labels)]))
        try:
            state = solve_settings(changed.model, changed.model.values(), changed.settings, None, names)
        except ValueError:
            return math.inf, len(rows), {}
        table = {name: column_of(state, name, count) for name in names}
        table["speed_rpm"] = table["speed_rpm"] * changed.speed_factor
        for i in rows:
            position, name = comparison.labels[i]
            residuals[i] = comparison.measured.readings[name].value(str(position)) - float(table[name][position])
        speeds = {position: float(table["speed_rpm"][position]) for position in positions}
    here = residuals[rows]
    if not np.all(np.isfinite(here)):
        return math.inf, len(rows), speeds
    return _chi_square(here, comparison.covariance[np.ix_(rows, rows)]), len(rows), speeds


def _chi_square(residuals: Array, covariance: Array) -> float:
    """r' C^-1 r, never negative: a combination of readings that C calls exact gets the rounding of C as its variance."""
    scale = np.sqrt(np.diag(covariance))
    if not np.all(scale > 0.0):
        # a reading without any uncertainty contradicts everything but itself
        exact = scale == 0.0
        if np.any(residuals[exact] != 0.0):
            return math.inf
        residuals, covariance, scale = residuals[~exact], covariance[np.ix_(~exact, ~exact)], scale[~exact]
    if not len(residuals):
        return 0.0
    variances, axes = np.linalg.eigh(covariance / np.outer(scale, scale))
    along = axes.T @ (residuals / scale)
    return float(np.sum(along**2 / np.maximum(variances, len(scale) * np.finfo(float).eps * variances[-1])))


_UNREAD = {
    "field_current": "field ammeter",
    "armature_current": "armature ammeter",
    "line_current": "line ammeter",
    "supply_voltage": "voltmeter at the machine's terminals",
}


def _next_reading(
    comparison: Comparison, positions: Sequence[int], causes: Sequence[Cause], pair: Sequence[Hypothesis]
) -> str:
    """The reading on which the two best causes differ most, among those that were not taken."""
    position = positions[0] if len(positions) == 1 else max(positions)
    have = {name for at, name in comparison.labels if at == position}
    states = []
    for cause, hypothesis in zip(causes, pair, strict=True):
        changed = hypothesis.change(comparison.model, comparison.measured.settings, cause.figure or 0.0)
        states.append(solve_settings(changed.model, changed.model.values(), changed.settings))
    best: tuple[float, str, float, float] | None = None
    for name in _UNREAD:
        if name in have:
            continue
        first, second = (float(column_of(state, name, len(comparison.runs))[position]) for state in states)
        apart = abs(first - second) / max(abs(first), abs(second), 1e-12)
        if best is None or apart > best[0]:
            best = apart, name, first, second
    if best is None or best[0] < 0.02:
        return ""
    _, name, first, second = best
    unit = quantity(name).unit
    return (
        f"To tell the first two apart, read the {_UNREAD[name]}: {first:.3g} {unit} would speak for the first, "
        f"{second:.3g} {unit} for the second"
    )
