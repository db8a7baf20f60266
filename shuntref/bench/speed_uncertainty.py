"""The speed of an identified machine at a setting, with the uncertainty that follows from readings and settings together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from shuntref.bench.agreement import Agreement, normalised_error
from shuntref.bench.error_sources import Estimates, fixed
from shuntref.bench.identify import IdentifiedMachine
from shuntref.bench.identify_loss import TERMS
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.monte_carlo import MonteCarloResult, monte_carlo
from shuntref.bench.reading_sources import reading_estimates
from shuntref.bench.readings import Run
from shuntref.bench.uncertainty import coverage_factor
from shuntref.model.formulas import field_current, k_phi_froehlich, k_phi_proportional, net_voltage, to_rpm
from shuntref.model.steady import steady_state

__all__ = [
    "SETTING_NAMES",
    "SpeedPrediction",
    "compare_speed",
    "predicted_speed",
    "setting_from_run",
    "speed_by_monte_carlo",
]

#: what a setting may state; everything else belongs to the machine
SETTING_NAMES = (
    "supply_voltage",
    "field_voltage",
    "added_field_resistance",
    "added_armature_resistance",
    "load_torque",
    "line_resistance",
)


@dataclass(frozen=True)
class SpeedPrediction:
    """A predicted speed [r/min] with its sources of error.

    ``slopes`` are the sensitivities in r/min per registry unit of each parameter and setting; ``contributions`` slope times
    standard uncertainty, with its sign, which add up as squares only where nothing is correlated; ``method`` says where the
    slopes come from.
    """

    estimate: Estimates
    slopes: dict[str, float]
    contributions: dict[str, float]
    method: str

    @property
    def speed_rpm(self) -> float:
        """Predicted speed [r/min]."""
        return float(self.estimate.values[0])

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty [r/min], correlations included."""
        return float(self.estimate.standard_uncertainties[0])

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom, over independent sources."""
        return self.estimate.degrees_of_freedom("speed_rpm")

    def expanded_uncertainty(self, coverage: float = 0.95) -> float:
        """Expanded uncertainty [r/min]."""
        return coverage_factor(max(self.degrees_of_freedom, 1.0), coverage) * self.standard_uncertainty


def setting_from_run(run: Run, instruments: InstrumentSet, known: Estimates | None = None) -> Estimates:
    """Return the setting of a run as it was read: every reading with its scatter and its meter's common errors.

    Parameters
    ----------
    run : Run
        Its supply voltage, added resistances and load torque are taken; a run without load torque counts as unloaded.
    instruments : InstrumentSet
    known : Estimates, optional
        Parameters identified from the same log, so that a reading used in both stays one reading.

    Examples
    --------
    >>> from shuntref.bench.readings import read_log
    >>> log = read_log("run,U [V],added field ohms\\n1,120.0,20\\n")
    >>> meters = InstrumentSet.from_tables({"M": {"kind": "voltmeter", "accuracy": "0.5 %"}})
    >>> round(setting_from_run(log.runs[0], meters).standard_uncertainty("supply_voltage"), 4)
    0.3464
    """
    return _read(run, [name for name in SETTING_NAMES if run.has(name)], instruments, known)


def _read(run: Run, names: Sequence[str], instruments: InstrumentSet, known: Estimates | None) -> Estimates:
    return reading_estimates(((name, run, name) for name in names), instruments, known)


def _steady(identified: IdentifiedMachine, values: Mapping[str, float]) -> Any:
    setting = {name: values[name] for name in SETTING_NAMES if name in values}
    machine = identified.machine(values)
    if setting.get("line_resistance"):
        setting["source_voltage"] = setting.pop("supply_voltage")
    return steady_state(machine, **setting)  # type: ignore[arg-type]


def predicted_speed(
    identified: IdentifiedMachine,
    setting: Estimates | Mapping[str, float],
    *,
    method: str = "auto",
) -> SpeedPrediction:
    """Predict the speed at a setting.

    Parameters
    ----------
    identified : IdentifiedMachine
        Parameters with their covariance.
    setting : Estimates or mapping
        Values of ``SETTING_NAMES`` with their sources of error (:func:`setting_from_run`), or plain values taken as exact.
    method : {"auto", "theory", "differences"}
        Where the sensitivities come from: the derivatives that the theory layer derives (proportional and Froehlich flux,
        motoring), or central differences of the model. ``auto`` takes the theory where it holds.

    Raises
    ------
    ValueError
        No supply voltage, or a setting that the machine cannot reach.

    Notes
    -----
    With T = T_L + T_0(omega) the speed stands on both sides: d omega/dx = f_x/(1 - f_T dT_0/domega), where f is the speed
    equation and f_x, f_T its partial derivatives.
    """
    if method not in ("auto", "theory", "differences"):
        raise ValueError(f"method {method!r}: accepted are auto, theory, differences")
    chosen = fixed(dict(setting)) if isinstance(setting, Mapping) else setting
    unknown = [name for name in chosen.names if name not in SETTING_NAMES]
    if unknown:
        raise ValueError(f"a setting does not state {unknown[0]!r}; it may state {', '.join(SETTING_NAMES)}")
    if "supply_voltage" not in chosen.names:
        raise ValueError("a setting needs its supply voltage")
    both = identified.parameters.joined(chosen)
    values = dict(zip(both.names, map(float, both.values), strict=True))
    state = _steady(identified, values)
    obstacle = _theory_holds(values, state)
    if method == "theory" and obstacle:
        raise ValueError(f"the derived sensitivities do not hold here: {obstacle}; use differences")
    by_theory = method != "differences" and not obstacle
    slopes = (
        _theory_slopes(identified.connection, values, state)
        if by_theory
        else _difference_slopes(identified, both, values)
    )
    row = np.array([slopes.get(name, 0.0) for name in both.names])
    estimate = Estimates(
        ("speed_rpm",), np.array([float(state.speed_rpm)]), both.sources, row[None, :] @ both.sensitivities
    )
    contributions = row * both.standard_uncertainties
    acting = {name: (float(s), float(c)) for name, s, c in zip(both.names, row, contributions, strict=True) if s != 0.0}
    words = "derivatives of the speed equation" if by_theory else "central differences of the model"
    return SpeedPrediction(
        estimate,
        {name: s for name, (s, _) in acting.items()},
        {name: c for name, (_, c) in acting.items() if c != 0.0},
        words,
    )


def _theory_holds(values: Mapping[str, float], state: Any) -> str:
    """Empty, or the reason why the speed equation's closed form is not the whole story at this setting."""
    if "flux_constant" not in values and "froehlich_a" not in values:
        return "the flux curve is a table"
    if not float(state.armature_current) > 0.0:
        return "the machine does not motor"
    return ""


@cache
def _derived(curve: str, line_resistance: bool, connection: str) -> dict[str, Callable[..., float]]:
    """Derivatives d speed/d name [rad/s per unit] that the theory layer derives, as functions of numbers by keyword."""
    from shuntref.theory.sensitivities import numeric_sensitivities

    return dict(numeric_sensitivities(curve, brush_drop=True, line_resistance=line_resistance, connection=connection))


def _theory_slopes(connection: str, values: Mapping[str, float], state: Any) -> dict[str, float]:
    line = bool(values.get("line_resistance"))
    derived = _derived("proportional" if "flux_constant" in values else "froehlich", line, connection)
    omega = float(state.speed)
    point = {**dict.fromkeys(derived, 0.0), **values, "electromagnetic_torque": float(state.electromagnetic_torque)}
    if line:  # what the setting states is then the voltage of the source
        point["source_voltage"] = point.pop("supply_voltage")
    partial = {name: float(function(**point)) for name, function in derived.items()}
    if line:
        partial["supply_voltage"] = partial.pop("source_voltage")
    by_torque = partial.pop("electromagnetic_torque")
    rise = sum(power * values.get(name, 0.0) * omega ** (power - 1) for name, power in TERMS.items() if power)
    held = 1.0 - by_torque * rise  # the loss torque grows with the speed and holds it back
    slopes = {name: value / held for name, value in partial.items()}
    slopes["load_torque"] = by_torque / held
    for name, power in TERMS.items():
        slopes[name] = by_torque * omega**power / held
    return {name: float(to_rpm(slope)) for name, slope in slopes.items() if name in values}


def _difference_slopes(identified: IdentifiedMachine, both: Estimates, values: Mapping[str, float]) -> dict[str, float]:
    slopes = {}
    for name, u in zip(both.names, both.standard_uncertainties, strict=True):
        if name in ("reference_temperature", "effective_field_resistance", "speed_per_ohm"):
            continue
        step = 0.1 * float(u) or 1e-5 * (abs(values[name]) or 1.0)

        def speed(value: float, name: str = name) -> float:
            return float(_steady(identified, {**values, name: value}).speed_rpm)

        here = values[name]
        if here - step < 0.0 and name != "load_torque":  # the model refuses a negative one: differences to one side
            slopes[name] = (4.0 * speed(here + step) - speed(here + 2.0 * step) - 3.0 * speed(here)) / (2.0 * step)
        else:
            slopes[name] = (speed(here + step) - speed(here - step)) / (2.0 * step)
    return slopes


def speed_by_monte_carlo(
    identified: IdentifiedMachine,
    setting: Estimates | Mapping[str, float],
    *,
    seed: int,
    trials: int = 0,
    coverage: float = 0.95,
) -> MonteCarloResult:
    """Propagate the distributions of all sources of error to the speed [r/min].

    Parameters
    ----------
    identified, setting
        As for :func:`predicted_speed`.
    seed, trials, coverage
        As for :func:`shuntref.bench.monte_carlo.monte_carlo`. With a table curve or resistance in the line every trial is
        solved by itself and takes its time: 2000 trials when ``trials`` is 0.

    Notes
    -----
    Limits of instruments are drawn as rectangular, scatter of estimated size as t, each source once for everything it acts on.
    """
    chosen = fixed(dict(setting)) if isinstance(setting, Mapping) else setting
    both = identified.parameters.joined(chosen)
    one_by_one = not {"flux_constant", "froehlich_a"} & set(both.names) or "line_resistance" in both.names

    class Draws:
        """All parameters and settings, drawn together."""

        quantities = both.names

        def draw(self, generator: np.random.Generator, count: int) -> dict[str, Any]:
            """Return draws of every name."""
            sample = both.sample(count, generator)
            return {name: sample[:, j] for j, name in enumerate(both.names)}

    def speeds(drawn: Mapping[str, Any]) -> Any:
        if one_by_one:
            count = len(drawn[both.names[0]])
            return np.array(
                [
                    float(_steady(identified, {n: float(drawn[n][i]) for n in both.names}).speed_rpm)
                    for i in range(count)
                ]
            )
        return _speeds(drawn)

    return monte_carlo(speeds, [Draws()], seed=seed, trials=trials or (2000 if one_by_one else 0), coverage=coverage)


def _speeds(drawn: Mapping[str, Any]) -> Any:
    """Speeds [r/min] for arrays of parameters and settings, motoring."""
    zero = np.zeros_like(drawn["supply_voltage"])

    def get(name: str) -> Any:
        return drawn.get(name, zero)

    volts = drawn["supply_voltage"]
    current = field_current(
        drawn.get("field_voltage", volts), drawn["field_resistance"] + get("added_field_resistance")
    )
    if "flux_constant" in drawn:
        k_phi = k_phi_proportional(drawn["flux_constant"], current)
    else:
        k_phi = k_phi_froehlich(get("remanent_k_phi"), drawn["froehlich_a"], drawn["froehlich_b"], current)
    u = net_voltage(volts, get("brush_drop"))
    resistance = drawn["armature_resistance"] + get("added_armature_resistance")
    constant, slope, square = (get(name) for name in TERMS)
    # k u - k^2 omega = R (T_L + T_0 + T_1 omega + T_2 omega^2): take the root continuous with T_2 = 0
    a = resistance * square
    b = k_phi**2 + resistance * slope
    c = resistance * (get("load_torque") + constant) - k_phi * u
    with np.errstate(invalid="ignore"):
        omega = -2.0 * c / (b + np.sqrt(b**2 - 4.0 * a * c))
    return to_rpm(omega)


def compare_speed(
    prediction: SpeedPrediction, run: Run, instruments: InstrumentSet, coverage: float = 0.95
) -> Agreement:
    """Compare a predicted speed with the one read in a run: the normalised error and what it means.

    A tachometer that also stood behind the identification cancels in part; its share is taken out as a covariance.
    """
    read = _read(run, ["speed_rpm"], instruments, prediction.estimate)
    relabelled = Estimates(("measured",), read.values, read.sources, read.sensitivities)
    both = prediction.estimate.joined(relabelled)
    factors = [coverage_factor(max(both.degrees_of_freedom(name), 1.0), coverage) for name in both.names]
    u = both.standard_uncertainties
    covariance = factors[0] * factors[1] * float(both.covariance[0, 1])
    return normalised_error(
        float(read.values[0]),
        prediction.speed_rpm,
        factors[1] * float(u[1]),
        factors[0] * float(u[0]),
        expanded_covariance=covariance,
    )
