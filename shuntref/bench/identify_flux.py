"""The magnetisation curve from readings: proportional, Froehlich with remanence, or a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shuntref.bench.error_sources import Estimates
from shuntref.bench.fitting import FitError
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.readings import BenchLog
from shuntref.bench.stage import Array, Identification, Readings, Side, StageData, Values, gather, run_stage
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.formulas import back_emf, k_phi_froehlich, k_phi_proportional, to_rad_per_s

__all__ = ["CURVES", "POINT", "flux_from_values", "magnetisation_curve"]

CURVES = ("proportional", "froehlich", "table")
#: name of one point of a table among the estimates, with the field current in it
POINT = "k_phi at "


def magnetisation_curve(
    log: BenchLog,
    instruments: InstrumentSet,
    *,
    curve: str = "froehlich",
    remanence: bool | None = None,
    test: str = "",
    known: Estimates | None = None,
    scale: str = "residuals",
) -> Identification:
    """Magnetisation curve from generator or motor no-load readings.

    Parameters
    ----------
    log : BenchLog
        Runs of the test ``generator`` (EMF, speed, field current), or of the test ``no-load`` (supply voltage, armature
        current, speed, field current).
    instruments : InstrumentSet
    curve : {"froehlich", "proportional", "table"}
    remanence : bool, optional
        Whether a Froehlich curve has remanence; left out, it is kept when it stands out of its own uncertainty.
    test : {"", "generator", "no-load"}
        Which readings to use; left out, the generator ones when there are any.
    known : Estimates, optional
        For motor readings: ``armature_resistance``, and ``brush_drop`` when it is known.
    scale : {"residuals", "stated"}

    Raises
    ------
    FitError
        No such readings, too few, or a curve that they cannot determine.

    Notes
    -----
    Generator: E = k_phi(I_f) omega. Motor: U - I_a (R_a + R_ax) - U_b sign(I_a) = k_phi(I_f) omega. Froehlich:
    k_phi = k_r + a I_f/(b + I_f).
    """
    if curve not in CURVES:
        raise ValueError(f"curve {curve!r}: accepted are {', '.join(CURVES)}")
    data, side, source = _readings(log, instruments, test, known)
    current = data.readings["field_current"]
    still = np.flatnonzero(data.readings["speed_rpm"] <= 0.0)
    if still.size:
        odd = data.runs[int(still[0])]
        raise FitError(
            f"magnetisation curve: run {odd.name} (line {odd.lines[0]}) has no speed, and at rest there is no EMF"
        )
    k_phi = side(data.readings, _values(known)) / to_rad_per_s(data.readings["speed_rpm"])
    if np.any(k_phi <= 0.0):
        odd = data.runs[int(np.argmin(k_phi))]
        raise FitError(
            f"magnetisation curve: run {odd.name} (line {odd.lines[0]}) gives a flux that is not positive; look at "
            "the polarity of its voltage or the sign of its current"
        )
    if curve == "table":
        return _table(data, side, source, known)
    if curve == "proportional":
        slope = float(np.sum(k_phi * current) / np.sum(current**2))

        def line(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
            return np.asarray(
                back_emf(
                    k_phi_proportional(unknowns[0], readings["field_current"]), to_rad_per_s(readings["speed_rpm"])
                )
            )

        found = run_stage(
            "magnetisation curve",
            data,
            {"flux_constant": slope},
            side,
            line,
            "V",
            f"flux proportional to the field current, {source}",
            known=known,
            scale=scale,
        )
        return found.noted(*_curve_warnings(data, k_phi))
    with_remanence = remanence is not False
    different = len(np.unique(np.round(current / (float(np.max(current)) or 1.0), 2)))
    if different < 2 + with_remanence:
        raise FitError(
            f"magnetisation curve: {different} different field current{'' if different == 1 else 's'} cannot show a "
            f"Froehlich curve {'with' if with_remanence else 'without'} remanence; take {2 + with_remanence} at "
            "least, six or more to trust it"
        )
    found = _froehlich(data, side, k_phi, with_remanence, source, known, scale)
    notes = _curve_warnings(data, k_phi)
    if remanence is None:
        k_r, u = found.value("remanent_k_phi"), found.standard_uncertainty("remanent_k_phi")
        if not k_r > 2.0 * u:
            found = _froehlich(data, side, k_phi, False, source, known, scale)
            notes.append(
                f"magnetisation curve: the remanence ({k_r:.2g} V s/rad, standard uncertainty {u:.2g}) does not stand "
                "out, so the curve was fitted through zero; a reading at zero field current would settle it"
            )
    elif remanence and found.value("remanent_k_phi") < 0.0:
        notes.append("magnetisation curve: the remanence comes out below zero, which no machine has; fit without it")
    if found.value("froehlich_b") > 5.0 * float(np.max(current)):
        notes.append(
            "magnetisation curve: it hardly bends within the readings, so a and b are known through their quotient "
            "only; take readings at higher field current, or use a proportional curve"
        )
    return found.noted(*notes)


def _values(known: Estimates | None) -> dict[str, float]:
    return dict(zip(known.names, map(float, known.values), strict=True)) if known else {}


def _readings(
    log: BenchLog, instruments: InstrumentSet, test: str, known: Estimates | None
) -> tuple[StageData, Side, str]:
    """Readings to use, the induced voltage as a function of them, and a phrase for the report."""
    if test not in ("", "generator", "no-load"):
        raise ValueError(f"test {test!r}: a magnetisation curve comes from 'generator' or 'no-load' readings")
    generator = log.with_readings("back_emf", "speed_rpm", "field_current", test=("generator", ""))
    generator = tuple(run for run in generator if run.values["speed_rpm"] > 0.0)
    if generator and test != "no-load":
        data = gather(generator, ("back_emf", "speed_rpm", "field_current"), instruments)
        return data, _open_circuit, f"{len(generator)} readings as a generator on open circuit"
    motor = log.with_readings("supply_voltage", "armature_current", "speed_rpm", "field_current", test="no-load")
    if not motor or test == "generator":
        raise FitError(
            "magnetisation curve: the log has no generator readings (EMF, speed, field current) and no motor "
            "no-load readings (supply voltage, armature current, speed, field current, and 'no-load' in the "
            "column 'test')"
        )
    if known is None or "armature_resistance" not in known.names:
        raise FitError(
            "magnetisation curve: motor readings need the armature resistance first; take volt-ampere readings or "
            "state it"
        )
    data = gather(
        motor,
        ("supply_voltage", "armature_current", "speed_rpm", "field_current"),
        instruments,
        ("added_armature_resistance",),
    )
    return data, _net_voltage, f"{len(motor)} readings as a motor without load"


def _open_circuit(readings: Readings, values: Values) -> Array:
    return readings["back_emf"]


def _net_voltage(readings: Readings, values: Values) -> Array:
    resistance = values["armature_resistance"] + readings.get("added_armature_resistance", 0.0)
    current = readings["armature_current"]
    drop = current * resistance + values.get("brush_drop", 0.0) * np.sign(current)
    return np.asarray(readings["supply_voltage"] - drop, dtype=float)


def _froehlich(
    data: StageData, side: Side, k_phi: Array, remanence: bool, source: str, known: Estimates | None, scale: str
) -> Identification:
    current = data.readings["field_current"]
    start = _froehlich_start(current, k_phi, remanence)

    def law(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
        k_r = unknowns[2] if remanence else 0.0
        curve = k_phi_froehlich(k_r, unknowns[0], unknowns[1], readings["field_current"])
        return np.asarray(back_emf(curve, to_rad_per_s(readings["speed_rpm"])))

    return run_stage(
        "magnetisation curve",
        data,
        start,
        side,
        law,
        "V",
        f"Froehlich curve {'with' if remanence else 'without'} remanence, {source}",
        known=known,
        scale=scale,
    )


def _froehlich_start(current: Array, k_phi: Array, remanence: bool) -> dict[str, float]:
    """Best of a ladder of b, with a and k_r linear for each: no luck is needed where the search begins."""
    best: tuple[float, list[float]] | None = None
    for b in float(np.max(current)) * np.geomspace(0.05, 20.0, 25):
        columns = [current / (b + current)] + ([np.ones_like(current)] if remanence else [])
        solution, *_ = np.linalg.lstsq(np.column_stack(columns), k_phi, rcond=None)
        misfit = float(np.sum((np.column_stack(columns) @ solution - k_phi) ** 2))
        if solution[0] > 0.0 and (best is None or misfit < best[0]):
            best = misfit, [float(solution[0]), float(b), *map(float, solution[1:])]
    if best is None:
        raise FitError("magnetisation curve: the flux does not rise with the field current in these readings")
    return dict(zip(("froehlich_a", "froehlich_b", "remanent_k_phi"), best[1], strict=False))


def _table(data: StageData, side: Side, source: str, known: Estimates | None) -> Identification:
    current = data.readings["field_current"]
    order = np.argsort(current)
    groups: list[list[int]] = []
    for i in order:
        near = groups and current[i] - np.mean(current[groups[-1]]) <= 0.01 * float(np.max(current))
        groups[-1].append(int(i)) if near else groups.append([int(i)])
    knots = [float(np.mean(current[g])) for g in groups]
    belongs = np.empty(len(current), dtype=int)
    for k, group in enumerate(groups):
        belongs[group] = k
    k_phi = side(data.readings, _values(known)) / to_rad_per_s(data.readings["speed_rpm"])
    start = {f"{POINT}{knot:.6g} A": float(np.mean(k_phi[g])) for knot, g in zip(knots, groups, strict=True)}
    fixed_current = np.array(knots)
    slopes = np.gradient(np.array(list(start.values())), fixed_current) if len(knots) > 1 else np.zeros(1)

    def law(readings: Readings, values: Values, unknowns: Sequence[float]) -> Array:
        # a reading that is not quite at the knot is carried to it along the slope of the table
        moved = slopes[belongs] * (readings["field_current"] - fixed_current[belongs])
        return np.asarray(back_emf(np.asarray(unknowns)[belongs] + moved, to_rad_per_s(readings["speed_rpm"])))

    found = run_stage(
        "magnetisation curve", data, start, side, law, "V", f"table of {len(knots)} points, {source}", known=known
    )
    notes = _curve_warnings(data, k_phi)
    values = found.estimates.values
    falling = [k for k in range(len(values) - 1) if values[k + 1] <= values[k]]
    if falling:
        raise FitError(
            f"magnetisation curve: the flux falls from {knots[falling[0]]:.4g} A to "
            f"{knots[falling[0] + 1]:.4g} A; a curve taken up and then down is two curves: use the rising "
            "readings, or fit a Froehlich curve"
        )
    return found.noted(*notes)


def _curve_warnings(data: StageData, k_phi: Array) -> list[str]:
    current = data.readings["field_current"]
    order = np.argsort([run.lines[0] for run in data.runs])
    steps = np.sign(np.diff(current[order]))
    turns = np.count_nonzero(steps[:-1] * steps[1:] < 0.0) if len(steps) > 1 else 0
    notes = []
    if turns:
        notes.append(
            "magnetisation curve: the field current was not changed in one direction only; iron remembers, so take "
            "the readings rising from zero without going back"
        )
    if len(np.unique(current)) < 4:
        notes.append(
            f"magnetisation curve: {len(np.unique(current))} different field currents say little about its shape; "
            "six or more are better"
        )
    return notes


def flux_from_values(values: Mapping[str, float], reference_speed_rpm: float = 1000.0) -> FluxCurve:
    """Build the model's flux curve from estimated values.

    Parameters
    ----------
    values : mapping of name to value
        ``flux_constant``; or ``froehlich_a``, ``froehlich_b`` and perhaps ``remanent_k_phi``; or points of a table.
    reference_speed_rpm : float
        Speed at which a table's EMF is stated.

    Examples
    --------
    >>> flux_from_values({"froehlich_a": 1.6, "froehlich_b": 0.9})
    FroehlichFlux(froehlich_a=1.6, froehlich_b=0.9, remanent_k_phi=0.0)
    """
    if "flux_constant" in values:
        return ProportionalFlux(values["flux_constant"])
    if "froehlich_a" in values:
        return FroehlichFlux(values["froehlich_a"], values["froehlich_b"], max(values.get("remanent_k_phi", 0.0), 0.0))
    points = sorted(
        (float(n.removeprefix(POINT).removesuffix(" A")), v) for n, v in values.items() if n.startswith(POINT)
    )
    if len(points) < 2:
        raise FitError(
            "no magnetisation curve was identified, so no machine can be built; take generator or no-load readings"
        )
    speed = float(to_rad_per_s(reference_speed_rpm))
    return TableFlux([current for current, _ in points], [k * speed for _, k in points], reference_speed_rpm)
