"""Settings given on the command line: name="values unit", combined every value with every value."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque
from shuntref.model.machine import Machine
from shuntref.model.steady import steady_state
from shuntref.quantities.text import parse_values, read_assignment

__all__ = ["LOAD_LAWS", "Settings", "columns", "read_settings"]

MOST_POINTS = 2_000_000

#: what may be set of the circuit; the resistances and brush drop of the machine take the place of its own
CIRCUIT = (
    "supply_voltage",
    "source_voltage",
    "field_voltage",
    "line_resistance",
    "added_field_resistance",
    "added_armature_resistance",
    "armature_resistance",
    "field_resistance",
    "brush_drop",
)
LOADS = ("load_torque", "output_power")
LOAD_LAWS = ("constant", "proportional", "square")


@dataclass(frozen=True)
class Settings:
    """A machine and, for each name that was set, its values in the registry unit."""

    machine: Machine
    axes: dict[str, tuple[float, ...]]
    load_law: str = "constant"
    at_speed: float | None = None

    @property
    def varied(self) -> tuple[str, ...]:
        """Names that were given more than one value."""
        return tuple(name for name, values in self.axes.items() if len(values) > 1)

    def load(self, torque: Any, power: Any) -> Load:
        """The load at the shaft: a torque with its speed law, or a constant power."""
        if power is not None:
            return ConstantPower(power)
        if self.load_law == "proportional":
            return ProportionalTorque(torque, speed=self.at_speed)
        if self.load_law == "square":
            return SquareTorque(torque, speed=self.at_speed)
        return ConstantTorque(torque)


def read_settings(
    machine: Machine, assignments: Sequence[str], *, load_law: str = "constant", at_speed: str | None = None
) -> Settings:
    """Read ``name="values unit"`` texts; a supply that is not set is taken from the nameplate.

    Raises
    ------
    ValueError
        A name that cannot be set, a name set twice, two loads at once, no supply, or too many points.
    """
    axes: dict[str, tuple[float, ...]] = {}
    for text in assignments:
        name, values = read_assignment(text)
        if name not in CIRCUIT + LOADS:
            raise ValueError(f"{name} is a result, not a setting; what can be set: {', '.join(CIRCUIT + LOADS)}")
        if name in axes:
            raise ValueError(f"{name} is set twice")
        axes[name] = parse_values(name, values)
    if set(LOADS) <= set(axes):
        raise ValueError("load_torque and output_power are both set; one of them describes the load")
    _complete_supply(machine, axes)
    speed = None
    if load_law != "constant":
        if "load_torque" not in axes or at_speed is None:
            raise ValueError(f"a load {load_law} to the speed needs load_torque and the speed at which it holds (--at)")
        (speed,) = parse_values("speed", at_speed)
    points = math.prod(len(values) for values in axes.values())
    if points > MOST_POINTS:
        raise ValueError(f"{points} points in all; at most {MOST_POINTS} at once")
    return Settings(machine, axes, load_law, speed)


def _complete_supply(machine: Machine, axes: dict[str, tuple[float, ...]]) -> None:
    if "supply_voltage" not in axes and "source_voltage" not in axes:
        for name in ("supply_voltage", "source_voltage"):
            if f"rated_{name}" in machine.nameplate:
                axes[name] = (machine.nameplate[f"rated_{name}"],)
                return
        raise ValueError('no supply: set supply_voltage, for example --set supply_voltage="120 V"')


def columns(settings: Settings) -> dict[str, Any]:
    """Compute every point; one array for each quantity of the registry, what was set first, and the status of each."""
    grids = np.meshgrid(*[np.asarray(values) for values in settings.axes.values()], indexing="ij")
    at = {name: grid.ravel() for name, grid in zip(settings.axes, grids, strict=True)}
    circuit = {name: values for name, values in at.items() if name not in LOADS}
    load = settings.load(at.get("load_torque", 0.0), at.get("output_power"))
    state = steady_state(settings.machine, load=load, **circuit)
    size = next(iter(at.values())).size
    found = {name: np.broadcast_to(values, size) for name, values in state.as_dict().items()}
    first = list(settings.axes)
    for name, values in at.items():  # where there is no solution, what was asked for is still shown
        found[name] = np.where(np.isfinite(found[name]), found[name], values)
    ordered = {name: found[name] for name in (*first, *(name for name in found if name not in first))}
    return {
        **ordered,
        "status": np.broadcast_to(state.status_text, size),
        "stable": np.broadcast_to(state.stable, size),
    }
