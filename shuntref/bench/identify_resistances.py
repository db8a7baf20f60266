"""Resistances from readings: armature with its brush drop, field with its temperature, and the field from speeds alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy import stats

from shuntref.bench.error_sources import Estimates, fixed
from shuntref.bench.fitting import FitError, fit_linear
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.readings import BenchLog, Run
from shuntref.bench.stage import Array, Identification, Readings, Values, gather, nothing_known, run_stage
from shuntref.model.formulas import resistance_at_temperature

__all__ = ["armature_from_volt_ampere", "effective_field_resistance", "field_resistance", "field_resistance_at"]


def armature_from_volt_ampere(
    log: BenchLog,
    instruments: InstrumentSet,
    *,
    brush_drop: float | None = None,
    brush_drop_u: float = 0.0,
    known: Estimates | None = None,
    scale: str = "residuals",
) -> Identification:
    """Armature resistance and brush drop from volts and amperes with the rotor at rest.

    Parameters
    ----------
    log : BenchLog
        Runs of the test ``volt-ampere``: armature (or supply) voltage and armature current, both polarities welcome.
    instruments : InstrumentSet
    brush_drop, brush_drop_u : float, optional
        [V] A brush drop that is known, and its standard uncertainty; left out, it is found with the resistance. It joins the
        estimates.
    known : Estimates, optional
        What was found before.
    scale : {"residuals", "stated"}

    Raises
    ------
    FitError
        Too few readings, or currents too much alike to tell the two apart.

    Notes
    -----
    U = I_a (R_a + R_ax) + U_b sign(I_a).
    """
    what = "armature resistance"
    voltage, runs = _voltage_runs(
        log, ("armature_voltage", "supply_voltage"), ("armature_current",), "volt-ampere", what
    )
    data = gather(runs, (voltage, "armature_current"), instruments, ("added_armature_resistance",))
    if voltage == "armature_voltage":
        data.readings.pop("added_armature_resistance", None)
    current = data.readings["armature_current"]
    if np.any(current == 0.0):
        raise FitError(f"{what}: a reading at zero current says nothing about a resistance; leave it out")
    slope = float(np.polyfit(np.abs(current), np.abs(data.readings[voltage]), 1)[0]) if np.ptp(np.abs(current)) else 1.0
    added = "added_armature_resistance" in data.readings

    def law(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
        drop = unknowns[1] if brush_drop is None else values["brush_drop"]
        resistance = unknowns[0] + (readings["added_armature_resistance"] if added else 0.0)
        return readings["armature_current"] * resistance + drop * np.sign(readings["armature_current"])

    base = known or nothing_known()
    start = {"armature_resistance": max(slope, 1e-6)}
    stated = None
    if brush_drop is None:
        start["brush_drop"] = 1.0
    else:
        stated = fixed({"brush_drop": brush_drop}, {"brush_drop": brush_drop_u})
        base = base.joined(stated)
    found = run_stage(
        what,
        data,
        start,
        lambda readings, values: readings[voltage],
        law,
        "V",
        f"straight line through {len(runs)} volt-ampere readings, rotor at rest"
        + ("" if brush_drop is None else f", brush drop taken as {brush_drop:g} V"),
        known=base,
        scale=scale,
    )
    warnings: list[str] = []
    if brush_drop is None:
        if found.value("brush_drop") < 0.0:
            warnings.append(
                f"the brush drop comes out at {found.value('brush_drop'):.2g} V; below zero it means none that can "
                "be seen, so fit again with a brush drop of 0"
            )
        warnings += _bend(
            np.abs(current),
            found.residuals * np.sign(current),
            "the readings bend: the brush drop is not the "
            "same at every current, so keep to currents near those of running",
        )
    if stated is not None:
        found = replace(found, estimates=found.estimates.joined(stated))
    return found.noted(*warnings)


def field_resistance(
    log: BenchLog, instruments: InstrumentSet, *, known: Estimates | None = None, scale: str = "residuals"
) -> Identification:
    """Resistance of the shunt winding, with the temperature at which it was read when the log has it.

    Parameters
    ----------
    log : BenchLog
        Runs of the test ``field``; when there are none, every run with a field current and the voltage on the field.
    instruments : InstrumentSet
    known, scale
        As for :func:`armature_from_volt_ampere`.

    Notes
    -----
    U_f = I_f (R_f + R_fx). The temperature, when read, is the mean over these runs and stands in the estimates as
    ``reference_temperature``.
    """
    what = "field resistance"
    voltage, runs = _voltage_runs(log, ("field_voltage", "supply_voltage"), ("field_current",), "field", what)
    data = gather(runs, (voltage, "field_current"), instruments, ("added_field_resistance",))
    added = "added_field_resistance" in data.readings

    def law(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
        return readings["field_current"] * (unknowns[0] + (readings["added_field_resistance"] if added else 0.0))

    total = float(
        np.sum(data.readings[voltage] * data.readings["field_current"]) / np.sum(data.readings["field_current"] ** 2)
    )
    found = run_stage(
        what,
        data,
        {"field_resistance": total},
        lambda readings, values: readings[voltage],
        law,
        "V",
        f"volts over amperes of the field, {len(runs)} readings",
        known=known,
        scale=scale,
    )
    each = data.readings[voltage] / data.readings["field_current"] - (
        data.readings["added_field_resistance"] if added else 0.0
    )
    warnings = _drift(runs, each)
    estimates = found.estimates
    warm = [run for run in runs if run.has("winding_temperature")]
    if warm:
        thermometer = _temperature(warm, instruments, known)
        estimates = estimates.joined(thermometer.estimates)
        warnings += thermometer.warnings
    else:
        warnings.append(
            "field resistance: the log has no winding temperature, so the figure cannot be carried to another "
            "one; read the temperature, or at least the room's before the field is switched on"
        )
    return replace(found, estimates=estimates).noted(*warnings)


def _temperature(runs: Sequence[Run], instruments: InstrumentSet, known: Estimates | None) -> Identification:
    data = gather(runs, ("winding_temperature",), instruments)
    mean = float(np.mean(data.readings["winding_temperature"]))
    return run_stage(
        "winding temperature",
        data,
        {"reference_temperature": mean},
        lambda readings, values: readings["winding_temperature"],
        lambda readings, values, unknowns: np.full(len(runs), unknowns[0]),
        "degC",
        "mean of the readings",
        known=known,
    )


def field_resistance_at(found: Estimates, temperature: float, temperature_constant: float) -> Estimates:
    """Carry the field resistance to another winding temperature.

    Parameters
    ----------
    found : Estimates
        With ``field_resistance`` and ``reference_temperature``.
    temperature : float
        [degC] wanted.
    temperature_constant : float
        [degC] k in R2/R1 = (k + t2)/(k + t1): 234.5 or 235 for copper by convention.

    Examples
    --------
    >>> found = fixed({"field_resistance": 160.0, "reference_temperature": 20.0}, {"reference_temperature": 2.55})
    >>> warm = field_resistance_at(found, 71.0, 235.0)
    >>> round(warm.value("field_resistance"), 6), round(warm.standard_uncertainty("field_resistance"), 3)
    (192.0, 1.92)
    """
    if "reference_temperature" not in found.names:
        raise ValueError(
            "the field resistance was read without a winding temperature, so it cannot be carried to another one"
        )
    return found.derived(
        "field_resistance",
        lambda v: float(
            resistance_at_temperature(
                v["field_resistance"], v["reference_temperature"], temperature, temperature_constant
            )
        ),
    )


def effective_field_resistance(
    log: BenchLog,
    instruments: InstrumentSet,
    *,
    known: Estimates | None = None,
    scale: str = "residuals",
) -> Identification:
    """Winding resistance from nothing but the no-load speed against the added field resistance.

    Parameters
    ----------
    log : BenchLog
        Runs of the test ``no-load`` (any test when the log names none) with speed and added field resistance, at least three
        different ones.
    instruments : InstrumentSet
    known : Estimates, optional
        With ``armature_resistance`` (and ``brush_drop``) known, and supply voltage and armature current read, the speeds are
        corrected for the drop in the armature.
    scale : {"residuals", "stated"}

    Notes
    -----
    With flux proportional to the field current and no load, n = m (R_f + R_fx) whatever the supply voltage: the line cuts
    zero speed at R_fx = -R_f. The gain of the tachometer cancels. A drop in the armature takes U_b + I_a R of U away from the
    EMF; n U/(U - I_a R - U_b) is the speed without it. A straight line does not prove that the flux is proportional: a
    Froehlich curve without remanence gives n = m (R_f + U/b + R_fx), straight as well, and the figure found is R_f + U/b.
    Compare it with volts over amperes of the field: what is too much is the saturation.
    """
    what = "effective field resistance"
    runs = log.with_readings("speed_rpm", "added_field_resistance", test="no-load")
    if not runs:
        runs = tuple(
            r
            for r in log.with_readings("speed_rpm", "added_field_resistance")
            if not r.test and not r.values.get("added_armature_resistance") and not r.values.get("load_torque")
        )
    if len({round(run.values["added_field_resistance"], 6) for run in runs}) < 3:
        raise FitError(
            f"{what}: at least three different added field resistances with their no-load speeds are needed; the "
            f"log has {len(runs)} such run{'' if len(runs) == 1 else 's'}"
        )
    can = (
        known is not None
        and "armature_resistance" in known.names
        and all(run.has("supply_voltage", "armature_current") for run in runs)
    )
    needed = ["speed_rpm", "added_field_resistance", *(("supply_voltage", "armature_current") if can else ())]
    data = gather(runs, needed, instruments)

    def observed(readings: Readings, values: Values) -> Array:
        if not can:
            return readings["speed_rpm"]
        drop = readings["armature_current"] * values["armature_resistance"] + values.get("brush_drop", 0.0)
        return readings["speed_rpm"] * readings["supply_voltage"] / (readings["supply_voltage"] - drop)

    def law(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
        return unknowns[1] * (unknowns[0] + readings["added_field_resistance"])

    added, speed = data.readings["added_field_resistance"], data.readings["speed_rpm"]
    slope, offset = np.polyfit(added, speed, 1)
    if not (slope > 0.0 and offset > 0.0):
        raise FitError(
            f"{what}: the speed does not rise with the added field resistance, so it cannot be read as a "
            "resistance; were these runs loaded, or is the resistor in another circuit?"
        )
    method = f"no-load speed against added field resistance, {len(runs)} runs, flux taken as proportional"
    method += ", corrected for the drop in the armature" if can else ", no correction for the drop in the armature"
    start = {"effective_field_resistance": float(offset / slope), "speed_per_ohm": float(slope)}
    found = run_stage(what, data, start, observed, law, "r/min", method, known=known, scale=scale)
    warnings: list[str] = []
    if not can:
        warnings.append(
            "effective field resistance: not corrected for the drop in the armature; read supply voltage and "
            "armature current and identify the armature resistance to have it corrected"
        )
    warnings += _bend(
        added,
        found.residuals,
        "the speed does not rise along a straight line: the flux is not proportional to "
        "the field current, so the figure is that of the range used and not the winding's",
    )
    return found.noted(*warnings)


def _voltage_runs(
    log: BenchLog, voltages: Sequence[str], others: Sequence[str], test: str, what: str
) -> tuple[str, tuple[Run, ...]]:
    for tests in ((test,), ()) if test == "field" else ((test,),):
        for voltage in voltages:
            runs = log.with_readings(voltage, *others, test=tests)
            if runs:
                return voltage, runs
    if test == "volt-ampere":  # without a test column: the rotor at rest says it
        for voltage in voltages:
            runs = tuple(
                r for r in log.with_readings(voltage, *others) if not r.test and r.values.get("speed_rpm") == 0.0
            )
            if runs:
                return voltage, runs
    raise FitError(
        f"{what}: the log has no runs with {' and '.join(o.replace('_', ' ') for o in others)} and "
        f"{' or '.join(v.replace('_', ' ') for v in voltages)} (write {test!r} in a column 'test' beside them)"
    )


def _bend(x: Array, residuals: Array, words: str) -> list[str]:
    """Warn when a square term would be significant at 1 %."""
    if len(np.unique(x)) < 4 or float(np.max(np.abs(residuals))) == 0.0:
        return []
    z = (x - np.mean(x)) / np.ptp(x)
    fit = fit_linear(np.column_stack([np.ones(len(z)), z, z**2]), residuals, ["a", "b", "c"])
    if not fit.converged or fit.degrees_of_freedom < 1 or not fit.residual_sd > 0.0:
        return []
    ratio = abs(fit.value("c")) / fit.standard_uncertainty("c")
    return [words] if 2.0 * float(stats.t.sf(ratio, fit.degrees_of_freedom)) < 0.01 else []


def _drift(runs: Sequence[Run], each: Array) -> list[str]:
    """Warn when the resistance climbs or falls from run to run: the winding was warming up or cooling down."""
    if len(each) < 4 or not np.ptp(each) > 0.0:
        return []
    order = np.argsort([run.lines[0] for run in runs])
    line = stats.linregress(np.arange(len(each), dtype=float), each[order])
    change = float(line.slope) * (len(each) - 1) / float(line.intercept)
    if abs(change) < 0.01 or not (line.pvalue < 0.01 or math.isnan(line.pvalue)):
        return []
    return [
        f"field resistance: it changed by {100 * change:+.1f} % from the first reading to the last, so the winding was "
        f"{'warming up' if change > 0 else 'cooling down'}; let it settle, or read the temperature with every run"
    ]
