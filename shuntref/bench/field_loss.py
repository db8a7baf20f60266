"""What happens if the field opens: the speed from remanence, or no bound at all."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shuntref.bench.bench_file import Bench
from shuntref.model.load import ConstantTorque, Load
from shuntref.model.status import InfeasibleError
from shuntref.model.steady import steady_state

__all__ = ["FieldLoss", "field_loss"]


@dataclass(frozen=True, slots=True)
class FieldLoss:
    """One case of an opened field; ``speed_rpm`` is None when the machine stalls or when there is no bound."""

    case: str
    words: str
    speed_rpm: float | None
    armature_current: float | None


def field_loss(bench: Bench) -> tuple[FieldLoss, ...]:
    """What an opened field would do with the load on and with the load gone.

    Returns
    -------
    tuple of FieldLoss
        The case with the bench's load, then the case without it (belt off, brake released); one case when there is no load.

    Notes
    -----
    Steady states with only the remanent flux left. The way there, the arc at the break and the current rush are not in
    the model; a speed quoted here says that the machine must not get there, and nothing else.
    """
    cases: list[tuple[str, Load]] = []
    if not _is_idle(bench.load):
        cases.append(("with the load on", bench.load))
    cases.append(("running light", ConstantTorque(0.0)))
    return tuple(_case(bench, name, load) for name, load in cases)


def _round(speed: float) -> str:
    """A speed to three figures, written out."""
    return f"{float(f'{speed:.3g}'):.0f}"


def _is_idle(load: Load) -> bool:
    return isinstance(load, ConstantTorque) and float(load.load_torque) == 0.0


def _case(bench: Bench, name: str, load: Load) -> FieldLoss:
    machine, limits = bench.machine, bench.limits
    if machine.flux.remanent_k_phi == 0.0:
        return FieldLoss(
            name,
            f"{name}: no bound from this model, since the flux curve has no remanence; expect a runaway",
            None,
            None,
        )
    open_field = replace(machine, connection="separate", line_resistance=0.0)
    rush = max(bench.supply_voltage - machine.brush_drop, 0.0) / machine.armature_resistance
    try:
        state = steady_state(open_field, supply_voltage=bench.supply_voltage, field_voltage=0.0, load=load)
    except InfeasibleError:
        return FieldLoss(
            name,
            f"{name}: the remanent flux cannot carry the load; the motor slows to a stand and draws up to {rush:.3g} A, "
            f"{rush / limits.armature_current:.2g} times the armature limit",
            None,
            rush,
        )
    speed, current = float(state.speed_rpm), float(state.armature_current)
    if speed <= 0.0:
        return FieldLoss(name, f"{name}: the motor is driven backwards while it draws {current:.3g} A", None, current)
    times = current / limits.armature_current
    words = (
        f"{name}: the model's steady state is {_round(speed)} r/min from remanence alone, {speed / limits.speed_rpm:.2g} times "
        f"the highest permitted speed, at {current:.3g} A; the rotor may burst long before"
        if speed > limits.speed_rpm
        else f"{name}: {_round(speed)} r/min at {current:.3g} A, {times:.2g} times the armature limit"
    )
    return FieldLoss(name, words, speed, current)
