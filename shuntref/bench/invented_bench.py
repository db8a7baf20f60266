"""Benches that exist on paper: their true machine, their runs without any error, and logs as their meters would read them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from shuntref.bench.error_sources import fixed
from shuntref.bench.identify import IdentifiedMachine, identify
from shuntref.bench.identify_resistances import effective_field_resistance
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.instruments import Instrument
from shuntref.bench.readings import BenchLog, Run
from shuntref.model.formulas import k_phi_froehlich, to_rad_per_s, to_rpm

__all__ = ["BENCHES", "METERS", "InventedBench", "simulated_log"]

TrueRuns = tuple[tuple[str, dict[str, float]], ...]

#: invented instruments of an ordinary teaching bench
METERS = InstrumentSet(
    (
        Instrument(
            "voltmeter",
            ("supply_voltage", "field_voltage", "back_emf"),
            percent_of_reading=0.3,
            resolution=0.1,
            scatter=0.15,
        ),
        Instrument("armature voltmeter", ("armature_voltage",), percent_of_reading=0.3, resolution=0.01, scatter=0.03),
        Instrument("armature ammeter", ("armature_current",), percent_of_reading=0.4, resolution=0.01, scatter=0.02),
        Instrument("field ammeter", ("field_current",), percent_of_reading=0.2, resolution=0.001, scatter=0.002),
        Instrument("tachometer", ("speed_rpm",), percent_of_reading=0.05, resolution=1.0, scatter=2.0),
        Instrument("bridge", ("added_field_resistance",), percent_of_reading=0.2, resolution=0.1),
    )
)


@dataclass(frozen=True)
class InventedBench:
    """A bench on paper: ``truth`` in registry units, ``runs`` (test, true values), and how its log is identified.

    ``identified`` takes a log and a random generator (for values that are stated, not read) and returns an object with
    ``parameters``, an expanded uncertainty for each, and ``missing``.
    """

    name: str
    truth: Mapping[str, float]
    runs: TrueRuns
    identified: Callable[[BenchLog, np.random.Generator], IdentifiedMachine]


def simulated_log(
    generator: np.random.Generator, runs: TrueRuns, meters: InstrumentSet = METERS, repeats: int = 3
) -> BenchLog:
    """Return a log of ``runs`` as these instruments would read them.

    Each instrument gets a gain and a zero anywhere within its limits, the same for the whole log; each reading its own
    scatter and rounding; each setting is read ``repeats`` times. A quantity that no instrument reads is exact.
    """
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
            readings = (
                true * (1.0 + gains[meter.name])
                + zeros[meter.name]
                + meter.scatter * generator.standard_normal(repeats)
            )
            if meter.resolution > 0.0:
                readings = np.round(readings / meter.resolution) * meter.resolution
            values[name], counts[name], deviations[name] = float(readings.mean()), repeats, float(readings.std(ddof=1))
        read.append(Run(str(number), test, (number,), values, counts, deviations))
    return BenchLog(tuple(read), (), (), (), "invented")


def _volt_ampere_and_field(truth: Mapping[str, float]) -> list[tuple[str, dict[str, float]]]:
    runs: list[tuple[str, dict[str, float]]] = []
    for current in map(float, np.linspace(2.0, 12.0, 11)):
        volts = truth["brush_drop"] + truth["armature_resistance"] * current
        runs.append(("volt-ampere", {"armature_current": current, "armature_voltage": volts}))
    for voltage in map(float, np.linspace(60.0, 130.0, 8)):
        runs.append(("field", {"field_voltage": voltage, "field_current": voltage / truth["field_resistance"]}))
    return runs


def _no_load(truth: Mapping[str, float], k_phi: float, speed_rpm: float) -> dict[str, float]:
    """Readings of a motor that drives nothing but its losses at a speed."""
    omega = float(to_rad_per_s(speed_rpm))
    current = (truth["loss_torque_constant"] + truth.get("loss_torque_proportional", 0.0) * omega) / k_phi
    volts = k_phi * omega + truth["brush_drop"] + current * truth["armature_resistance"]
    return {"speed_rpm": speed_rpm, "armature_current": current, "supply_voltage": volts}


def _separate_tests() -> InventedBench:
    truth = {
        "armature_resistance": 0.8,
        "brush_drop": 1.8,
        "field_resistance": 160.0,
        "froehlich_a": 1.6,
        "froehlich_b": 0.9,
        "remanent_k_phi": 0.03,
        "loss_torque_constant": 0.25,
        "loss_torque_proportional": 1.2e-3,
    }

    def k_phi(current: float) -> float:
        return float(k_phi_froehlich(truth["remanent_k_phi"], truth["froehlich_a"], truth["froehlich_b"], current))

    runs = _volt_ampere_and_field(truth)
    for current in (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2):
        emf = k_phi(current) * float(to_rad_per_s(1500.0))
        runs.append(("generator", {"field_current": current, "speed_rpm": 1500.0, "back_emf": emf}))
    runs += [("no-load", _no_load(truth, k_phi(0.75), float(speed))) for speed in np.linspace(400.0, 2000.0, 14)]
    return InventedBench(
        "separate tests",
        truth,
        tuple(runs),
        lambda log, generator: identify(
            log, METERS, remanence=True, loss_law="constant and proportional", invented=True
        ),
    )


def _motor_only() -> InventedBench:
    truth = {
        "armature_resistance": 0.8,
        "brush_drop": 1.8,
        "field_resistance": 160.0,
        "froehlich_a": 1.6,
        "froehlich_b": 0.9,
        "loss_torque_constant": 0.4,
    }
    runs = _volt_ampere_and_field(truth)
    for current in map(float, np.linspace(0.25, 1.2, 16)):
        k_phi = float(k_phi_froehlich(0.0, truth["froehlich_a"], truth["froehlich_b"], current))
        runs.append(("no-load", {"field_current": current, **_no_load(truth, k_phi, 110.0 / k_phi * 30.0 / math.pi)}))
    return InventedBench(
        "motor only",
        truth,
        tuple(runs),
        lambda log, generator: identify(log, METERS, remanence=False, loss_law="constant", invented=True),
    )


def _speeds_alone() -> InventedBench:
    truth = {
        "armature_resistance": 0.8,
        "flux_constant": 1.0,
        "effective_field_resistance": 160.0,
        "supply_voltage": 120.0,
        "loss_torque_constant": 0.4,
    }
    runs = []
    for added in map(float, np.linspace(0.0, 90.0, 10)):
        k_phi = truth["flux_constant"] * truth["supply_voltage"] / (truth["effective_field_resistance"] + added)
        current = truth["loss_torque_constant"] / k_phi
        speed = float(to_rpm((truth["supply_voltage"] - current * truth["armature_resistance"]) / k_phi))
        runs.append(
            (
                "no-load",
                {
                    "added_field_resistance": added,
                    "speed_rpm": speed,
                    "armature_current": current,
                    "supply_voltage": truth["supply_voltage"],
                },
            )
        )
    # the armature resistance is stated by somebody, to 0.04 ohm
    spread = 0.04

    def identified(log: BenchLog, generator: np.random.Generator) -> IdentifiedMachine:
        known = fixed(
            {"armature_resistance": truth["armature_resistance"] + spread * generator.standard_normal()},
            {"armature_resistance": spread},
        )
        stage = effective_field_resistance(log, METERS, known=known)
        return IdentifiedMachine(stage.estimates.select(["effective_field_resistance"]), (stage,), invented=True)

    return InventedBench("speeds alone", truth, tuple(runs), identified)


#: invented benches by name
BENCHES: dict[str, InventedBench] = {bench.name: bench for bench in (_separate_tests(), _motor_only(), _speeds_alone())}
