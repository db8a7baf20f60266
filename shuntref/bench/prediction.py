"""Predicting many settings of one bench at once, with the uncertainty of every input and the correlations that follow.

One set of uncertain inputs stands behind all settings: a flux curve that is 1 % low makes all speeds wrong together. The
results are therefore kept as combinations of independent sources, and a difference of two speeds knows what cancels.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.bench_file import Bench
from shuntref.bench.error_sources import ErrorSource, Estimates, fixed
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, SumLoad
from shuntref.model.machine import Machine
from shuntref.model.result import SteadyState
from shuntref.model.steady import steady_state

__all__ = [
    "COLUMNS",
    "BenchModel",
    "Predictions",
    "Setting",
    "SettingError",
    "bench_model",
    "column_of",
    "own_errors",
    "predict",
    "scaled_flux",
    "scaled_load",
    "solve_settings",
]

Array = NDArray[np.float64]

#: what a setting may be uncertain in
COLUMNS = ("added_field_resistance", "added_armature_resistance", "supply_voltage", "load_torque", "line_resistance")


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of the bench [ohm], [V], 1, [N m].

    ``supply_voltage`` is None for the bench's own; ``line_resistance`` comes on top of the bench's own; ``load_factor``
    multiplies the bench's load (0 for a run without load); ``load_torque``, when it was read, stands in its place.
    ``at_terminals`` says that the supply voltage is that of the machine's terminals, behind the bench's line resistance.
    """

    added_field_resistance: float = 0.0
    added_armature_resistance: float = 0.0
    supply_voltage: float | None = None
    line_resistance: float = 0.0
    load_factor: float = 1.0
    load_torque: float | None = None
    at_terminals: bool = False


@dataclass(frozen=True)
class SettingError:
    """One source of error in how the settings were set or read.

    ``column`` is one of ``COLUMNS``; ``shifts`` the change of each setting for one standard uncertainty of the source. A
    voltmeter's gain moves all settings, a resistor's tolerance one.
    """

    source: ErrorSource
    column: str
    shifts: Array


def own_errors(column: str, spreads: Sequence[float]) -> list[SettingError]:
    """Errors of each setting by itself: one independent source for every standard uncertainty above zero.

    Examples
    --------
    >>> [error.source.key for error in own_errors("added_field_resistance", [0.0, 0.3])]
    ['added_field_resistance of setting 2']
    """
    found = []
    for position, spread in enumerate(spreads):
        if spread > 0.0:
            key = f"{column} of setting {position + 1}"
            shifts = np.zeros(len(spreads))
            shifts[position] = spread
            found.append(SettingError(ErrorSource(key, f"{column.replace('_', ' ')} as set", key), column, shifts))
    return found


@dataclass(frozen=True)
class BenchModel:
    """A machine with a load whose parts are uncertain.

    ``parameters`` are the uncertain inputs; ``machine`` and ``load`` turn values of them into a machine and a load.
    ``supply_voltage`` is the voltage used where a setting gives none.
    """

    parameters: Estimates
    machine: Callable[[Mapping[str, float]], Machine]
    load: Callable[[Mapping[str, float]], Load]
    supply_voltage: float

    def values(self) -> dict[str, float]:
        """The parameters at their best values."""
        return dict(zip(self.parameters.names, map(float, self.parameters.values), strict=True))


@dataclass(frozen=True)
class Predictions:
    """What the model predicts for several settings.

    ``state`` holds every quantity as an array over the settings. ``estimates`` holds, by quantity, the values with their
    sensitivities to every source of error; they are named "0", "1", ... in the order of the settings. A setting that the
    machine cannot reach has NaN.
    """

    settings: tuple[Setting, ...]
    state: SteadyState
    estimates: dict[str, Estimates]

    @property
    def speeds(self) -> Estimates:
        """The speeds [r/min]."""
        return self.estimates["speed_rpm"]

    def speed(self, position: int) -> float:
        """Predicted speed of a setting [r/min]."""
        return float(self.speeds.values[position])

    def standard_uncertainty(self, position: int) -> float:
        """Standard uncertainty of that speed [r/min]."""
        return float(self.speeds.standard_uncertainties[position])


def scaled_flux(flux: FluxCurve, factor: float) -> FluxCurve:
    """The flux curve with every k_phi multiplied by a factor.

    Examples
    --------
    >>> scaled_flux(FroehlichFlux(1.6, 0.9, 0.03), 1.1).k_phi(0.9) == 1.1 * FroehlichFlux(1.6, 0.9, 0.03).k_phi(0.9)
    True
    """
    if factor == 1.0:
        return flux
    if isinstance(flux, ProportionalFlux):
        return ProportionalFlux(flux.flux_constant * factor)
    if isinstance(flux, FroehlichFlux):
        return FroehlichFlux(flux.froehlich_a * factor, flux.froehlich_b, flux.remanent_k_phi * factor)
    if isinstance(flux, TableFlux):
        emf = tuple(value * factor for value in flux.emf)
        return TableFlux(flux.field_currents, emf, flux.speed_rpm, flux.extrapolate)
    raise TypeError(f"a {type(flux).__name__} cannot be scaled; use a proportional, Froehlich or table curve")


def scaled_load(load: Load, factor: float) -> Load:
    """The load with its torque multiplied by a factor at every speed.

    Examples
    --------
    >>> scaled_load(SquareTorque(4.0, speed=100.0), 0.5).torque(100.0)
    2.0
    """
    if factor == 1.0:
        return load
    if isinstance(load, (ConstantTorque, ProportionalTorque, SquareTorque)):
        return replace(load, load_torque=load.load_torque * factor)
    if isinstance(load, ConstantPower):
        return ConstantPower(load.output_power * factor)
    if isinstance(load, SumLoad):
        return SumLoad(tuple(scaled_load(part, factor) for part in load.loads))
    raise TypeError(f"a {type(load).__name__} cannot be scaled; use the loads that a bench file can hold")


def bench_model(bench: Bench) -> BenchModel:
    """The bench as a model with uncertain inputs: resistances, drops, supply, and the scales of flux, load and loss."""
    machine, guess = bench.machine, bench.guess
    values = {
        "armature_resistance": machine.armature_resistance,
        "field_resistance": machine.field_resistance,
        "brush_drop": machine.brush_drop,
        "line_resistance": machine.line_resistance,
        "supply_voltage": bench.supply_voltage,
        "flux_scale": 1.0,
        "load_scale": 1.0,
        "loss_scale": 1.0,
    }
    spreads = dict(bench.uncertainties)
    if guess is not None:
        values["saturation"], spreads["saturation"] = guess.saturation, guess.saturation_spread

    def machine_of(parts: Mapping[str, float]) -> Machine:
        flux = machine.flux
        if guess is not None:
            flux = guess.flux(parts)
        return replace(
            machine,
            armature_resistance=max(parts["armature_resistance"], 0.0),
            field_resistance=parts["field_resistance"],
            brush_drop=max(parts["brush_drop"], 0.0),
            line_resistance=max(parts["line_resistance"], 0.0),
            flux=scaled_flux(flux, parts["flux_scale"]),
            loss_torque=scaled_load(machine.loss_torque, parts["loss_scale"]),
        )

    def load_of(parts: Mapping[str, float]) -> Load:
        return scaled_load(bench.load, parts["load_scale"])

    return BenchModel(
        fixed(values, {name: spreads.get(name, 0.0) for name in values}), machine_of, load_of, bench.supply_voltage
    )


def solve_settings(
    model: BenchModel,
    values: Mapping[str, float],
    settings: Sequence[Setting],
    moved: Mapping[str, Array] | None = None,
    quantities: Sequence[str] | None = None,
) -> SteadyState:
    """Steady state of every setting for one set of parameter values; arrays over the settings.

    ``moved`` adds to one of ``COLUMNS``, for sensitivities; ``quantities`` are the names wanted, everything by default.
    """
    machine, load = model.machine(values), model.load(values)
    shift = values.get("supply_voltage", model.supply_voltage) - model.supply_voltage
    columns = {
        "added_field_resistance": np.array([s.added_field_resistance for s in settings]),
        "added_armature_resistance": np.array([s.added_armature_resistance for s in settings]),
        "supply_voltage": np.array([(s.supply_voltage or model.supply_voltage + shift) for s in settings]),
        "load_torque": np.array([s.load_torque or 0.0 for s in settings]),
        "line_resistance": np.array(
            [s.line_resistance + (0.0 if s.at_terminals else machine.line_resistance) for s in settings]
        ),
    }
    for name, change in (moved or {}).items():
        moved_to = columns[name] + change
        # a resistance drawn or stepped below zero is none; a torque may well be negative
        columns[name] = np.maximum(moved_to, 0.0) if name.endswith("resistance") else moved_to
    factors = np.array([s.load_factor if s.load_torque is None else 0.0 for s in settings])
    torque = columns.pop("load_torque")
    every = _load_per_setting(load, factors)
    if np.any(torque != 0.0):
        every = every + ConstantTorque(torque)
    line = columns["line_resistance"]
    behind_line = bool(np.any(line > 0.0))
    return steady_state(
        machine,
        load=every,
        added_field_resistance=columns["added_field_resistance"],
        added_armature_resistance=columns["added_armature_resistance"],
        supply_voltage=None if behind_line else columns["supply_voltage"],
        source_voltage=columns["supply_voltage"] if behind_line else None,
        line_resistance=line if behind_line else None,
        quantities=quantities,
    )


def _load_per_setting(load: Load, factors: Array) -> Load:
    if np.all(factors == 1.0):
        return load
    parts = load.loads if isinstance(load, SumLoad) else (load,)
    scaled: list[Load] = []
    for part in parts:
        if isinstance(part, ConstantPower):
            scaled.append(ConstantPower(part.output_power * factors))
        elif isinstance(part, (ConstantTorque, ProportionalTorque, SquareTorque)):
            scaled.append(replace(part, load_torque=part.load_torque * factors))
        else:
            raise TypeError(f"a {type(part).__name__} cannot be scaled; use the loads that a bench file can hold")
    return scaled[0] if len(scaled) == 1 else SumLoad(tuple(scaled))


def column_of(state: SteadyState, name: str, count: int) -> Array:
    """A quantity of a steady state as an array over the settings."""
    return np.array(np.broadcast_to(np.asarray(getattr(state, name), dtype=float), (count,)))


def predict(
    model: BenchModel,
    settings: Sequence[Setting],
    errors: Sequence[SettingError] = (),
    quantities: Sequence[str] = ("speed_rpm",),
) -> Predictions:
    """Predict several settings with their uncertainties.

    Parameters
    ----------
    model : BenchModel
    settings : sequence of Setting
    errors : sequence of SettingError
        How well each setting is known.
    quantities : sequence of str
        Registry names of what is wanted with uncertainty.

    Returns
    -------
    Predictions

    Notes
    -----
    Sensitivities are central differences of the model over a tenth of each standard uncertainty; the tests tie them to
    the derivatives that the theory layer derives. A setting with a supply reading of its own does not move with the
    uncertainty of the bench's supply.
    """
    here, count = model.values(), len(settings)

    def table(values: Mapping[str, float], moved: Mapping[str, Array] | None = None) -> Array:
        state = solve_settings(model, values, settings, moved, quantities)
        return np.array([column_of(state, name, count) for name in quantities])

    parameters = model.parameters
    slopes = np.zeros((len(quantities), count, len(parameters.names)))
    for position, (name, u) in enumerate(zip(parameters.names, parameters.standard_uncertainties, strict=True)):
        if u > 0.0:
            step = 0.1 * float(u)
            above, below = (table({**here, name: here[name] + sign * step}) for sign in (1.0, -1.0))
            slopes[:, :, position] = (above - below) / (2.0 * step)
    blocks = [slopes @ parameters.sensitivities]
    by_column: dict[str, Array] = {}
    for error in errors:
        if error.column not in by_column:
            sizes = np.max([np.abs(e.shifts) for e in errors if e.column == error.column], axis=0)
            above, below = (table(here, {error.column: sign * 0.1 * sizes}) for sign in (1.0, -1.0))
            by_column[error.column] = (above - below) / np.where(sizes > 0.0, 0.2 * sizes, 1.0)
        blocks.append((by_column[error.column] * error.shifts)[:, :, None])
    state = solve_settings(model, here, settings)
    sensitivities, sources = _merged(np.concatenate(blocks, axis=2), [*parameters.sources, *(e.source for e in errors)])
    names = tuple(str(position) for position in range(count))
    estimates = {
        name: Estimates(names, column_of(state, name, count), sources, sensitivities[row])
        for row, name in enumerate(quantities)
    }
    return Predictions(tuple(settings), state, estimates)


def _merged(table: Array, sources: Sequence[ErrorSource]) -> tuple[Array, tuple[ErrorSource, ...]]:
    """One column for each source: what comes through two doors from the same source is one error, and adds with its sign."""
    distinct = tuple(dict.fromkeys(sources))
    merged = np.zeros((*table.shape[:2], len(distinct)))
    for column, source in enumerate(sources):
        merged[:, :, distinct.index(source)] += table[:, :, column]
    return merged, distinct
