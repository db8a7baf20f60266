"""Loss torque and its speed law from motor readings without load."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy import stats

from shuntref.bench.error_sources import Estimates
from shuntref.bench.fitting import FitError
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.readings import BenchLog
from shuntref.bench.stage import Array, Identification, Readings, StageData, Values, gather, run_stage
from shuntref.model.formulas import to_rad_per_s
from shuntref.model.load import ConstantTorque, Load, ProportionalTorque, SquareTorque

__all__ = ["LAWS", "TERMS", "loss_from_values", "loss_torque"]

#: name of a term -> power of the speed it goes with
TERMS = {"loss_torque_constant": 0, "loss_torque_proportional": 1, "loss_torque_square": 2}
LAWS = {
    "constant": ("loss_torque_constant",),
    "constant and proportional": ("loss_torque_constant", "loss_torque_proportional"),
    "constant and square": ("loss_torque_constant", "loss_torque_square"),
    "constant, proportional and square": tuple(TERMS),
}


def loss_torque(
    log: BenchLog,
    instruments: InstrumentSet,
    *,
    law: str = "auto",
    known: Estimates,
    scale: str = "residuals",
) -> Identification:
    """Loss torque against speed, from a motor that drives nothing.

    Parameters
    ----------
    log : BenchLog
        Runs of the test ``no-load`` with supply voltage, armature current and speed; different speeds for a speed law.
    instruments : InstrumentSet
    law : str
        One of ``LAWS``, or ``"auto"``: a term is added only when the readings call for it (F test at 5 %) and it comes out
        positive.
    known : Estimates
        ``armature_resistance``, and ``brush_drop`` when it is known.
    scale : {"residuals", "stated"}

    Raises
    ------
    FitError
        No such readings, or speeds too much alike for the law asked for.

    Notes
    -----
    T_0 = (U - I_a (R_a + R_ax) - U_b) I_a/omega: all the electromagnetic torque goes into the losses.
    """
    if law != "auto" and law not in LAWS:
        raise ValueError(f"law {law!r}: accepted are auto, {', '.join(LAWS)}")
    if "armature_resistance" not in known.names:
        raise FitError("loss torque: the armature resistance is needed first; take volt-ampere readings or state it")
    runs = log.with_readings("supply_voltage", "armature_current", "speed_rpm", test="no-load")
    if not runs:
        raise FitError(
            "loss torque: the log has no motor no-load readings (supply voltage, armature current, speed; write "
            "'no-load' in the column 'test')"
        )
    for run in runs:
        if run.values.get("load_torque"):
            raise FitError(
                f"loss torque: run {run.name} (line {run.lines[0]}) is filed as no-load but has a load torque"
            )
    data = gather(
        runs, ("supply_voltage", "armature_current", "speed_rpm"), instruments, ("added_armature_resistance",)
    )
    if np.any(data.readings["speed_rpm"] <= 0.0):
        raise FitError("loss torque: a no-load reading without speed; is it a volt-ampere reading at standstill?")
    if law != "auto":
        return _judged(_fit(data, LAWS[law], known, scale))
    found = _fit(data, LAWS["constant"], known, scale)
    speeds = len(np.unique(np.round(data.readings["speed_rpm"], 1)))
    notes: list[str] = []
    for terms in (2, 3):
        trials = []
        for law_terms in LAWS.values():
            if len(law_terms) == terms < speeds:
                try:
                    trials.append(_fit(data, law_terms, known, scale))
                except FitError as error:
                    notes.append(str(error))
        trials = [trial for trial in trials if np.all(trial.estimates.values > 0.0)]
        best = min(trials, key=lambda trial: trial.fit.sum_of_squares, default=None)
        if best is not None and _called_for(found, best):
            found = best
    if len(found.estimates.names) == 1:
        notes.append(
            "loss torque: the readings do not call for a change with the speed"
            + (
                ""
                if np.ptp(data.readings["speed_rpm"]) > 0.3 * np.mean(data.readings["speed_rpm"])
                else ", but they cover a small range of speeds; vary the armature voltage to cover more"
            )
        )
    return _judged(found, notes)


def _fit(data: StageData, terms: Sequence[str], known: Estimates, scale: str) -> Identification:
    def torque(readings: Readings, values: Values) -> Array:
        current = readings["armature_current"]
        resistance = values["armature_resistance"] + readings.get("added_armature_resistance", 0.0)
        emf = readings["supply_voltage"] - current * resistance - values.get("brush_drop", 0.0) * np.sign(current)
        return np.asarray(emf * current / to_rad_per_s(readings["speed_rpm"]), dtype=float)

    # the terms are fitted at the mean speed, where they are of a size, and scaled back by the name they bear
    def law(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
        omega = to_rad_per_s(readings["speed_rpm"])
        return np.asarray(
            sum(value * omega ** TERMS[name] for name, value in zip(terms, unknowns, strict=True)) + 0.0 * omega
        )

    given = dict(zip(known.names, map(float, known.values), strict=True))
    mean = float(np.mean(torque(data.readings, given)))
    speed = float(to_rad_per_s(np.mean(data.readings["speed_rpm"])))
    start = {name: mean / len(terms) / speed ** TERMS[name] for name in terms}
    return run_stage(
        "loss torque",
        data,
        start,
        torque,
        law,
        "N m",
        f"{_words(terms)}, {len(data.runs)} readings as a motor without load",
        known=known,
        scale=scale,
    )


def _words(terms: Sequence[str]) -> str:
    words = [name.removeprefix("loss_torque_") for name in terms]
    return (
        "constant torque"
        if words == ["constant"]
        else "constant torque plus "
        + " and ".join(
            {"proportional": "one proportional to the speed", "square": "one with its square"}[word]
            for word in words[1:]
        )
    )


def _called_for(short: Identification, longer: Identification) -> bool:
    """F test at 5 % on weighted sums of squares; both fits are weighted alike to first order."""
    dof = longer.fit.degrees_of_freedom
    extra = len(longer.estimates.names) - len(short.estimates.names)
    if dof < 1 or not longer.fit.sum_of_squares > 0.0:
        return False
    gain = short.fit.sum_of_squares - longer.fit.sum_of_squares
    ratio = (gain / extra) / (longer.fit.sum_of_squares / dof)
    return bool(stats.f.sf(ratio, extra, dof) < 0.05)


def _judged(found: Identification, notes: Sequence[str] = ()) -> Identification:
    below = [
        f"loss torque: its {name.removeprefix('loss_torque_')} part comes out below zero; the readings do not support "
        "it, so use a shorter law"
        for name, value in zip(found.estimates.names, found.estimates.values, strict=True)
        if value < 0.0
    ]
    return found.noted(*below, *notes)


def loss_from_values(values: Mapping[str, float]) -> Load:
    """Build the model's loss torque from estimated values; a term below zero counts as none.

    Examples
    --------
    >>> loss_from_values({"loss_torque_constant": 0.4, "loss_torque_square": 1e-5}).torque(100.0)
    0.5
    """
    constant = ConstantTorque(max(values.get("loss_torque_constant", 0.0), 0.0))
    load: Load = constant
    if values.get("loss_torque_proportional", 0.0) > 0.0:
        load = load + ProportionalTorque(values["loss_torque_proportional"])
    if values.get("loss_torque_square", 0.0) > 0.0:
        load = load + SquareTorque(values["loss_torque_square"])
    return load
