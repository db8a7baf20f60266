"""Does the stated uncertainty hold? A bench is invented, read with errors, identified, and compared with the truth, many times.

Each repetition draws a new set of instruments (gain and zero anywhere within their limits, the same for all readings of that
repetition) and new scatter and rounding for every reading. What is counted is how often the truth lies within the stated 95 %
uncertainty: both kinds of error are in the test, and both must be in the statement.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.identify import IdentifiedMachine, identify
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.instruments import Instrument
from shuntref.bench.readings import BenchLog, Run

__all__ = ["BENCH_METERS", "TRUTH", "CoverageResult", "coverage_experiment", "simulated_log", "true_runs"]

Array = NDArray[np.float64]

#: an invented machine, in registry units
TRUTH: dict[str, float] = {
    "armature_resistance": 0.8, "brush_drop": 1.8, "field_resistance": 160.0, "froehlich_a": 1.6, "froehlich_b": 0.9,
    "remanent_k_phi": 0.03, "loss_torque_constant": 0.25, "loss_torque_proportional": 1.2e-3,
    "effective_field_resistance": 0.0,
}

#: invented instruments of an ordinary teaching bench
BENCH_METERS = InstrumentSet((
    Instrument("voltmeter", ("supply_voltage", "field_voltage", "back_emf"), percent_of_reading=0.3, resolution=0.1,
               scatter=0.15),
    Instrument("armature voltmeter", ("armature_voltage",), percent_of_reading=0.3, resolution=0.01, scatter=0.03),
    Instrument("armature ammeter", ("armature_current",), percent_of_reading=0.4, resolution=0.01, scatter=0.02),
    Instrument("field ammeter", ("field_current",), percent_of_reading=0.2, resolution=0.001, scatter=0.002),
    Instrument("tachometer", ("speed_rpm",), percent_of_reading=0.05, resolution=1.0, scatter=2.0),
    Instrument("bridge", ("added_field_resistance",), percent_of_reading=0.2, resolution=0.1),
))


def true_runs(truth: dict[str, float] = TRUTH) -> tuple[tuple[str, dict[str, float]], ...]:
    """Return (test, true values) of every run of the invented bench: a tuple of settings without any error."""
    runs: list[tuple[str, dict[str, float]]] = []
    for current in np.linspace(2.0, 12.0, 11):
        runs.append(("volt-ampere", {"armature_current": float(current),
                                     "armature_voltage": truth["brush_drop"] + truth["armature_resistance"] * float(current)}))
    for voltage in np.linspace(60.0, 130.0, 8):
        runs.append(("field", {"field_voltage": float(voltage), "field_current": float(voltage) / truth["field_resistance"]}))
    for current in (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2):
        k_phi = truth["remanent_k_phi"] + truth["froehlich_a"] * current / (truth["froehlich_b"] + current)
        runs.append(("generator", {"field_current": current, "speed_rpm": 1500.0, "back_emf": k_phi * 50.0 * np.pi}))
    k_phi = truth["remanent_k_phi"] + truth["froehlich_a"] * 0.75 / (truth["froehlich_b"] + 0.75)
    for speed in np.linspace(400.0, 2000.0, 14):
        omega = speed * np.pi / 30.0
        torque = truth["loss_torque_constant"] + truth["loss_torque_proportional"] * omega
        current = torque / k_phi
        runs.append(("no-load", {"speed_rpm": float(speed), "armature_current": float(current), "supply_voltage":
                                 float(k_phi * omega + truth["brush_drop"] + current * truth["armature_resistance"])}))
    return tuple(runs)


def simulated_log(generator: np.random.Generator, runs: tuple[tuple[str, dict[str, float]], ...],
                  meters: InstrumentSet = BENCH_METERS, repeats: int = 3) -> BenchLog:
    """Return a log of ``runs`` as these instruments would read them, each reading repeated and rounded."""
    gains = {m.name: generator.uniform(-1.0, 1.0) * m.gain_limit for m in meters.instruments}
    zeros = {m.name: generator.uniform(-1.0, 1.0) * m.zero_limit for m in meters.instruments}
    read: list[Run] = []
    for number, (test, truth) in enumerate(runs, 1):
        values, counts, deviations = {}, {}, {}
        for name, true in truth.items():
            meter = meters.reading(name)
            if meter is None:
                values[name], counts[name] = true, 1
                continue
            readings = true * (1.0 + gains[meter.name]) + zeros[meter.name] + meter.scatter * generator.standard_normal(repeats)
            if meter.resolution > 0.0:
                readings = np.round(readings / meter.resolution) * meter.resolution
            values[name], counts[name], deviations[name] = float(readings.mean()), repeats, float(readings.std(ddof=1))
        read.append(Run(str(number), test, (number,), values, counts, deviations))
    return BenchLog(tuple(read), (), (), (), "invented")


@dataclass(frozen=True)
class CoverageResult:
    """How often the truth lay within the stated uncertainty."""

    repetitions: int
    coverage: float
    rates: dict[str, float]
    failures: int

    def text(self) -> str:
        """Return the rates, one line for each parameter."""
        lines = [f"{self.repetitions} repetitions, stated coverage {100 * self.coverage:g} %, {self.failures} without a result"]
        return "\n".join([*lines, *(f"{name}: {100 * rate:.1f} %" for name, rate in self.rates.items())])


def identify_simulated(log: BenchLog) -> IdentifiedMachine:
    """Identify a simulated log with the law that it was made with, as a person who knows the machine's kind would."""
    return identify(log, BENCH_METERS, remanence=True, loss_law="constant and proportional", invented=True)


def coverage_experiment(
    repetitions: int, seed: int, *, coverage: float = 0.95,
    identified: Callable[[BenchLog], IdentifiedMachine] = identify_simulated, meters: InstrumentSet = BENCH_METERS,
) -> CoverageResult:
    """Repeat the whole identification and count how often each parameter is covered.

    Parameters
    ----------
    repetitions, seed : int
    coverage : float
        Of the stated uncertainties.
    identified : callable
        Turns a log into an identified machine.
    meters : InstrumentSet
        Instruments that the readings are simulated with.

    Returns
    -------
    CoverageResult
    """
    generator = np.random.default_rng(seed)
    runs = true_runs()
    hits: dict[str, int] = {}
    failures = 0
    for _ in range(repetitions):
        found = identified(simulated_log(generator, runs, meters))
        if found.missing:
            failures += 1
            continue
        for name in found.parameters.names:
            inside = abs(found.value(name) - TRUTH[name]) <= found.expanded_uncertainty(name, coverage)
            hits[name] = hits.get(name, 0) + inside
    done = max(repetitions - failures, 1)
    return CoverageResult(repetitions, coverage, {name: count / done for name, count in hits.items()}, failures)
