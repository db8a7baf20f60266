"""The machine at a speed that is held: what flows in the instant after a change, before the inertia lets the speed move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shuntref.model import formulas
from shuntref.model.machine import Machine
from shuntref.model.setting import gather
from shuntref.model.status import InfeasibleError, Status
from shuntref.model.torque_balance import TorqueBalance, balance_of
from shuntref.model.validation import scalar

__all__ = ["HeldSpeed", "state_at_speed"]


@dataclass(frozen=True)
class HeldSpeed:
    """Currents, flux, EMF and torque at a held speed, in the registry's units."""

    speed: float
    speed_rpm: float
    field_current: float
    armature_current: float
    k_phi: float
    back_emf: float
    electromagnetic_torque: float


def state_at_speed(machine: Machine, *, speed: float, **circuit: Any) -> HeldSpeed:
    """Return what a machine does at one setting while its speed is held.

    Parameters
    ----------
    machine : Machine
    speed : float
        [rad/s] not negative.
    circuit : float
        Supply voltage and resistances, by the names that ``steady_state`` takes.

    Returns
    -------
    HeldSpeed
        The torque is the electromagnetic one; at another speed than the steady one it differs from the load's.

    Raises
    ------
    ValueError
        An input that cannot be.
    InfeasibleError
        No resistance in the armature circuit, so that nothing bounds the current.

    Notes
    -----
    Voltage balance of the armature circuit at the given speed, I_a = (U - kPhi omega - U_b sign(I_a)) / R. The field
    current is taken as settled: the time constant of the field winding is left out. With armature reaction or resistance
    in the line the flux depends on I_a and the balance is solved by a bracketed root finder.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> held = state_at_speed(bench, speed=151.46666666666667, supply_voltage=120.0, added_field_resistance=20.0)
    >>> round(held.armature_current, 2)
    23.78
    """
    omega = scalar("speed", speed, "not negative")
    given = {name: value.item() if getattr(value, "shape", None) == () else value for name, value in circuit.items()}
    setting = gather(machine, given, None, None)
    if setting.shape != ():
        raise ValueError("a held speed is worked out for one setting at a time; give single numbers")
    balance = balance_of(setting.finished(dict(setting.fixed)), machine.connection, setting.behind_line)
    current = float(_current(balance, omega))
    k_phi = float(balance.k_phi(current))
    field = float(balance.f0 - balance.f1 * current)
    return HeldSpeed(
        omega,
        float(formulas.to_rpm(omega)),
        field,
        current,
        k_phi,
        float(formulas.back_emf(k_phi, omega)),
        float(formulas.electromagnetic_torque(k_phi, current)),
    )


def _current(balance: TorqueBalance, omega: float) -> float:
    resistance = balance.resistance + balance.u1
    at_rest = balance.u0 - balance.k_phi(0.0) * omega  # what drives the current before any flows
    if abs(at_rest) <= balance.brush_drop:
        return 0.0
    sign = 1.0 if at_rest > 0.0 else -1.0
    if resistance <= 0.0:
        message = "armature_resistance is 0 ohm: at a held speed nothing bounds the armature current"
        raise InfeasibleError(message, status=Status.NO_SOLUTION, quantity="armature_current", value=omega, limit=0.0)
    driving = at_rest - sign * balance.brush_drop
    if balance.rigid:
        return float(driving / resistance)

    def left_over(current: float) -> float:
        return float(balance.u0 - sign * balance.brush_drop - resistance * current - balance.k_phi(current) * omega)

    from scipy.optimize import brentq

    far = driving / resistance
    for _ in range(60):  # reaction may let more current flow than the plain balance: widen until it is enclosed
        if left_over(far) * left_over(0.0) <= 0.0:
            return float(brentq(left_over, 0.0, far, xtol=1e-300, rtol=1e-15))
        far *= 1.5
    message = f"speed {omega:g} rad/s: no armature current balances the voltages at this speed"
    raise InfeasibleError(message, status=Status.NO_SOLUTION, quantity="armature_current", value=omega, limit=0.0)
