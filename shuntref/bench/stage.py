"""One stage of an identification: readings of some runs, a law that they should obey, and what follows for its unknowns.

Every stage works alike. The observed side and the law are two functions of the readings; whatever errs in the readings is
carried through them numerically: each reading's own scatter, each instrument's gain and zero, and the uncertainty of what
earlier stages found. The scatter is sized by the residuals, the instruments' limits are common to all readings.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.error_sources import ErrorSource, Estimates
from shuntref.bench.fitting import FitError, FitResult, fit_curve
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.readings import Run
from shuntref.bench.uncertainty import coverage_factor
from shuntref.quantities.registry import REGISTRY

__all__ = [
    "Identification",
    "Readings",
    "Side",
    "StageData",
    "Values",
    "gather",
    "nothing_known",
    "rounded",
    "run_stage",
]

Array = NDArray[np.float64]
Readings = Mapping[str, Array]
Values = Mapping[str, float]
Side = Callable[[Readings, Values], Array]
Law = Callable[[Readings, Values, Sequence[float]], Array]


@dataclass(frozen=True)
class StageData:
    """Readings of some runs as columns, each with the standard uncertainty that every reading has on its own."""

    runs: tuple[Run, ...]
    readings: dict[str, Array]
    own: dict[str, Array]
    instruments: InstrumentSet
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Identification:
    """What one stage found.

    ``estimates`` are the unknowns with their sensitivities to every source of error; ``residuals`` observed minus law in
    ``unit``, one for each of ``runs``; ``method`` says in a sentence what was done.
    """

    what: str
    estimates: Estimates
    fit: FitResult
    runs: tuple[Run, ...]
    residuals: Array
    unit: str
    method: str
    warnings: tuple[str, ...] = ()

    def value(self, name: str) -> float:
        """Return the value found for ``name``."""
        return self.estimates.value(name)

    def standard_uncertainty(self, name: str) -> float:
        """Return the standard uncertainty of ``name``, instruments' limits included."""
        return self.estimates.standard_uncertainty(name)

    def expanded_uncertainty(self, name: str, coverage: float = 0.95) -> float:
        """Return the expanded uncertainty of ``name`` by Student's t for its effective degrees of freedom."""
        factor = coverage_factor(max(self.estimates.degrees_of_freedom(name), 1.0), coverage)
        return factor * self.standard_uncertainty(name)

    def noted(self, *warnings: str) -> Identification:
        """Return this identification with more warnings."""
        return replace(self, warnings=tuple(dict.fromkeys((*self.warnings, *warnings))))

    def report(self) -> str:
        """Return the stage as text."""
        lines = [f"{self.what}: {self.method}"]
        for name in self.estimates.names:
            unit = REGISTRY[name].unit if name in REGISTRY else _LABEL_UNITS.get(name, "")
            dof, expanded = self.estimates.degrees_of_freedom(name), self.expanded_uncertainty(name)
            freedom = "above 1000" if dof > 1000 else f"{dof:.3g}"
            lines.append(
                f"  {name} = {rounded(self.value(name), expanded)} {unit} +- {expanded:.2g} {unit} (95 %; standard "
                f"{self.standard_uncertainty(name):.2g}, degrees of freedom {freedom})"
            )
        matrix, names = self.estimates.correlation, self.estimates.names
        lines += [
            f"  correlation of {names[i]} and {names[j]}: {matrix[i, j]:+.3f}"
            for i in range(len(names))
            for j in range(i + 1, len(names))
        ]
        return "\n".join([*lines, *(f"  warning: {warning}" for warning in self.warnings)])


def rounded(value: float, uncertainty: float) -> str:
    """Write a value to the second significant digit of its uncertainty.

    Examples
    --------
    >>> rounded(0.92636, 0.031), rounded(158.874, 1.3), rounded(2.5689e-06, 1.5e-06), rounded(1.8, 0.0)
    ('0.926', '158.9', '2.6e-06', '1.8')
    """
    if not (math.isfinite(value) and uncertainty > 0.0 and value):
        return f"{value:.6g}"
    digits = math.floor(math.log10(abs(value))) - math.floor(math.log10(uncertainty)) + 2
    digits = min(max(digits, 2), 12)
    text = f"{value:#.{digits}g}"
    return text.rstrip(".") if "e" not in text else text


_LABEL_UNITS = {
    "loss_torque_constant": "N m",
    "loss_torque_proportional": "N m s/rad",
    "loss_torque_square": "N m s2/rad2",
    "speed_per_ohm": "r/(min ohm)",
    "effective_field_resistance": "ohm",
}


def nothing_known() -> Estimates:
    """Return an empty set of estimates."""
    return Estimates((), np.zeros(0), (), np.zeros((0, 0)))


def gather(
    runs: Sequence[Run], needed: Sequence[str], instruments: InstrumentSet, wanted: Sequence[str] = ()
) -> StageData:
    """Collect the readings of ``needed`` quantities, and of ``wanted`` ones if the runs have them.

    The own uncertainty of a mean is the instrument's stated scatter and rounding over the root of its number; without a
    stated scatter the repeats' pooled standard deviation, when there are repeats.
    """
    readings: dict[str, Array] = {}
    own: dict[str, Array] = {}
    warnings: list[str] = []
    unread: list[str] = []
    for name in (*needed, *wanted):
        if name in wanted and not any(run.has(name) for run in runs):
            continue
        without = [run.name for run in runs if not run.has(name)]
        if without:
            raise FitError(
                f"run {without[0]} has no {name.replace('_', ' ')} while others have it; fill the cell (0 where "
                "there is none)"
            )
        readings[name] = np.array([run.values[name] for run in runs])
        counts = np.array([run.counts.get(name, 1) for run in runs], dtype=float)
        instrument = instruments.reading(name)
        if instrument is None and np.any(readings[name] != 0.0):
            unread.append(name.removesuffix("_rpm").replace("_", " "))
        stated = instrument.random_uncertainty if instrument else 0.0
        pooled, dof = _pooled([run for run in runs if name in run.deviations], name)
        if dof and instrument and instrument.scatter > 0.0 and pooled > 2.0 * stated and dof >= 3:
            warnings.append(
                f"{name.replace('_', ' ')}: repeated readings scatter by {pooled:.3g}, more than the {stated:.3g} "
                f"stated for {instrument.name}; the repeats were believed"
            )
            stated = pooled
        elif dof and not (instrument and instrument.scatter > 0.0):
            stated = max(stated, pooled)
        own[name] = stated / np.sqrt(counts)
    if unread:
        warnings.append(
            f"no instrument is described for {' and '.join(unread)}: its limits of error are not in the uncertainty"
        )
    return StageData(tuple(runs), readings, own, instruments, tuple(warnings))


def _pooled(runs: list[Run], name: str) -> tuple[float, int]:
    dof = sum(run.counts[name] - 1 for run in runs)
    if not dof:
        return 0.0, 0
    return math.sqrt(sum(run.deviations[name] ** 2 * (run.counts[name] - 1) for run in runs) / dof), dof


def run_stage(
    what: str,
    data: StageData,
    start: Mapping[str, float],
    observed: Side,
    law: Law,
    unit: str,
    method: str,
    *,
    known: Estimates | None = None,
    scale: str = "residuals",
    rounds: int = 4,
) -> Identification:
    """Fit ``law`` to ``observed`` and carry every source of error through.

    Parameters
    ----------
    what : str
        What is being identified, for messages.
    data : StageData
    start : mapping of unknown to starting value
    observed, law : callables
        Of (readings, known values) and (readings, known values, unknowns); both return one number for each run.
    unit : str
        Of the observed side.
    method : str
        What is done, in a sentence.
    known : Estimates, optional
        What earlier stages found; its uncertainty is carried through.
    scale : {"residuals", "stated"}
        What sizes the scatter.
    rounds : int
        How often the weights are brought up to date with the unknowns.

    Raises
    ------
    FitError
        Too few runs, no convergence, or unknowns that the readings cannot tell apart.
    """
    known = known or nothing_known()
    given = dict(zip(known.names, map(float, known.values), strict=True))
    names, count = tuple(start), len(data.runs)
    if count < len(names):
        raise FitError(
            f"{what}: {count} run{'' if count == 1 else 's'} cannot determine {len(names)} unknowns "
            f"({', '.join(name.replace('_', ' ') for name in names)}); take more readings"
        )

    def misfit(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
        return observed(readings, values) - law(readings, values, unknowns)

    with np.errstate(all="ignore"):
        y = observed(data.readings, given)
    if not np.all(np.isfinite(y)):
        odd = data.runs[int(np.argmin(np.isfinite(y)))]
        raise FitError(
            f"{what}: run {odd.name} (line {odd.lines[0]}) gives no finite figure; look for a zero among its readings"
        )
    x = np.arange(count, dtype=float)
    values: Sequence[float] = [float(value) for value in start.values()]
    if count == len(names):
        scale = "stated"
    for turn in range(rounds):
        changes = _own_changes(data, misfit, given, values)
        spread = np.sqrt(sum(change**2 for change in changes.values())) if changes else np.zeros(count)
        sized = bool(np.all(spread > 0.0))
        fit = fit_curve(
            lambda _, *unknowns: law(data.readings, given, unknowns),
            x,
            y,
            dict(zip(names, values, strict=True)),
            standard_uncertainties=spread if sized else None,
            scale=scale if sized else "residuals",
            near=turn > 0,
        ).require(what)
        settled = np.allclose(fit.values, values, rtol=1e-6, atol=0.0)  # they only set the weights
        values = list(map(float, fit.values))
        if settled:
            break
    own = _own_sources(what, data, fit, _own_changes(data, misfit, given, values) if sized else {}, scale, known)
    common = _common_sources(data, misfit, given, values, fit)
    upstream = _upstream(data, misfit, known, values, fit)
    spoken = [_named(words, what) for words in (*data.warnings, *fit.warnings)]
    warnings = [*spoken, *_suspect_words(what, data, fit, unit, sized)]
    if not sized and fit.degrees_of_freedom == 0:
        warnings.append(
            f"{what}: nothing tells how the readings scatter, so only the instruments' limits are in its "
            "uncertainty; repeat readings, or state the scatter of the instruments"
        )
    estimates = _assemble(names, np.array(values), [*own, *common, *upstream])
    return Identification(
        what, estimates, fit, data.runs, misfit(data.readings, given, values), unit, method, tuple(warnings)
    )


def _named(warning: str, what: str) -> str:
    return warning if warning.startswith(what) else f"{what}: {warning}"


def _own_changes(
    data: StageData, misfit: Callable[..., Array], given: Values, values: Sequence[float]
) -> dict[str, Array]:
    """Change of each run's misfit for one standard uncertainty of each quantity's own error in that run."""
    found = {}
    for name, sizes in data.own.items():
        if not np.any(sizes > 0.0):
            continue
        shifted = [
            misfit({**data.readings, name: data.readings[name] + sign * sizes}, given, values) for sign in (1.0, -1.0)
        ]
        found[name] = (shifted[0] - shifted[1]) / 2.0
    return found


def _own_sources(
    what: str, data: StageData, fit: FitResult, changes: dict[str, Array], scale: str, known: Estimates
) -> list[tuple[ErrorSource, Array]]:
    """One source for each reading, sized by the residuals; a reading used by an earlier stage keeps its source."""
    dof = math.inf if scale == "stated" else float(fit.degrees_of_freedom)
    sized = bool(changes)
    factor = 1.0 if scale == "stated" or fit.degrees_of_freedom == 0 else fit.residual_sd
    earlier = {source.key: source for source in known.sources}
    if not sized and fit.degrees_of_freedom == 0:
        return []  # neither repeats, nor a stated scatter, nor residuals: the warning says so
    if not sized:
        changes = {"residual": np.ones(len(data.runs))}
    response = np.linalg.pinv(fit.jacobian) * fit.weights  # parameters by observations
    found = []
    for name, change in changes.items():
        for i, run in enumerate(data.runs):
            key = f"{name.replace('_', ' ')} of run {run.name}{f' ({run.test})' if run.test else ''}"
            if not sized:
                key = f"{what}: {key}"
            source = earlier.get(key) or ErrorSource(key, f"scatter of {key}", f"{what}: scatter", dof)
            found.append((source, np.asarray(response[:, i] * change[i] * factor, dtype=float)))
    return found


def _common_sources(
    data: StageData, misfit: Callable[..., Array], given: Values, values: Sequence[float], fit: FitResult
) -> list[tuple[ErrorSource, Array]]:
    """Gain and zero of every instrument: one error moves all the readings that the instrument took, of any quantity."""
    shifts: dict[ErrorSource, dict[str, Array]] = {}
    for name, column in data.readings.items():
        instrument = data.instruments.reading(name)
        for source, shift in instrument.common_errors(column) if instrument else ():
            shifts.setdefault(source, {})[name] = shift
    found = []
    for source, moved in shifts.items():
        above, below = (
            misfit({**data.readings, **{n: data.readings[n] + sign * s for n, s in moved.items()}}, given, values)
            for sign in (1.0, -1.0)
        )
        found.append((source, fit.response((above - below) / 2.0)))
    return found


def _upstream(
    data: StageData, misfit: Callable[..., Array], known: Estimates, values: Sequence[float], fit: FitResult
) -> list[tuple[ErrorSource, Array]]:
    """Errors of what earlier stages found, by source, so that a shared instrument stays shared."""
    given = dict(zip(known.names, map(float, known.values), strict=True))
    total = np.zeros((len(values), len(known.sources)))
    for i, (name, u) in enumerate(zip(known.names, known.standard_uncertainties, strict=True)):
        if u == 0.0:
            continue
        above, below = (
            misfit(data.readings, {**given, name: given[name] + sign * float(u)}, values) for sign in (1.0, -1.0)
        )
        total += np.outer(fit.response((above - below) / (2.0 * float(u))), known.sensitivities[i])
    return [(source, total[:, j]) for j, source in enumerate(known.sources) if np.any(total[:, j] != 0.0)]


def _assemble(names: tuple[str, ...], values: Array, parts: Sequence[tuple[ErrorSource, Array]]) -> Estimates:
    columns: dict[ErrorSource, Array] = {}
    for source, change in parts:
        columns[source] = columns.get(source, np.zeros(len(names))) + change
    matrix = np.column_stack(list(columns.values())) if columns else np.zeros((len(names), 0))
    return Estimates(names, values, tuple(columns), matrix)


def _suspect_words(what: str, data: StageData, fit: FitResult, unit: str, sized: bool) -> list[str]:
    words = []
    for i in fit.suspects:
        if abs(fit.weights[i] * fit.residuals[i]) < 3.0 and sized:
            continue  # the others agree better than their scatter can promise; this one is well within it
        run = data.runs[i]
        lines = ", ".join(map(str, run.lines))
        others = math.sqrt(float(np.mean(np.delete(fit.residuals, i) ** 2)))
        words.append(
            f"{what}: run {run.name} (line {lines}) lies {fit.residuals[i]:+.3g} {unit} from the law of the others, "
            f"far beyond their scatter of {others:.2g} {unit}; look at that reading before trusting the result"
        )
    return words
