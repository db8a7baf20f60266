"""The sources of error of one reading of a run: those of its meter, and its own scatter and rounding."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from shuntref.bench.error_sources import ErrorSource, Estimates
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.readings import Run

__all__ = ["reading_estimates"]


def _sources(
    run: Run, name: str, instruments: InstrumentSet, earlier: dict[str, ErrorSource]
) -> list[tuple[ErrorSource, float]]:
    """Each source of error of a reading with the shift that one standard uncertainty of it makes."""
    instrument = instruments.reading(name)
    if instrument is None:
        return []
    shifts = instrument.common_errors(np.array([run.values[name]]))
    found = [(earlier.get(source.key, source), float(shift[0])) for source, shift in shifts]
    own = [part for part in run.reading(name, instrument).components if part.name != "specification"]
    size = math.sqrt(sum(part.standard_uncertainty**2 for part in own))
    if size > 0.0:
        key = f"{name.replace('_', ' ')} of run {run.name}{f' ({run.test})' if run.test else ''}"
        # rounding is known exactly, so the degrees of freedom are those of the scatter
        source = ErrorSource(key, f"scatter of {key}", key, min(part.dof for part in own))
        found.append((earlier.get(key, source), size))
    return found


def reading_estimates(
    readings: Iterable[tuple[str, Run, str]], instruments: InstrumentSet, known: Estimates | None = None
) -> Estimates:
    """Return readings as estimates over their sources of error.

    Parameters
    ----------
    readings : iterable of (label, run, quantity name)
        The label names the estimate; the run has that reading.
    instruments : InstrumentSet
        A reading that none of them reads counts as exact.
    known : Estimates, optional
        What was identified from the same log, so that a source of error in both stays one source.

    Examples
    --------
    >>> from shuntref.bench.readings import read_log
    >>> run = read_log("run,U [V]\\n1,120.0\\n").runs[0]
    >>> meters = InstrumentSet.from_tables({"M": {"kind": "voltmeter", "accuracy": "0.5 %"}})
    >>> found = reading_estimates([("supply", run, "supply_voltage")], meters)
    >>> round(found.standard_uncertainty("supply"), 4)
    0.3464
    """
    wanted = tuple(readings)
    earlier = {source.key: source for source in known.sources} if known is not None else {}
    columns: dict[ErrorSource, list[float]] = {}
    for position, (_, run, name) in enumerate(wanted):
        for source, shift in _sources(run, name, instruments, earlier):
            columns.setdefault(source, [0.0] * len(wanted))[position] += shift
    values = np.array([run.values[name] for _, run, name in wanted])
    matrix = np.column_stack(list(columns.values())) if columns else np.zeros((len(wanted), 0))
    return Estimates(tuple(label for label, _, _ in wanted), values, tuple(columns), matrix)
