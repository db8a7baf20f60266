"""What happens when one thing is changed, in numbers: before, in the first instant, settled, and what the change is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shuntref.model.held_speed import HeldSpeed, state_at_speed
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque
from shuntref.model.machine import Machine
from shuntref.model.result import SteadyState
from shuntref.model.steady import steady_state
from shuntref.quantities.registry import quantity

__all__ = ["CHANGEABLE", "Account", "Part", "Situation", "account"]

#: what may be changed, and the part of the machine it acts on first
CHANGEABLE: dict[str, str] = {
    "added_field_resistance": "field",
    "field_resistance": "field",
    "field_voltage": "field",
    "added_armature_resistance": "armature",
    "armature_resistance": "armature",
    "supply_voltage": "supply",
    "source_voltage": "supply",
    "line_resistance": "line",
    "brush_drop": "brushes",
    "load_torque": "load",
    "output_power": "load",
}
_LOADS = ("load_torque", "output_power")


@dataclass(frozen=True)
class Situation:
    """A machine at one setting: the circuit's values by name, and the load as torque (with its speed law) or power."""

    machine: Machine
    circuit: dict[str, float]
    load_torque: float = 0.0
    output_power: float | None = None
    load_law: str = "constant"
    at_speed: float | None = None

    def value(self, name: str) -> float:
        """The value of something that may be changed, as it stands.

        Parameters
        ----------
        name : str
            One of ``CHANGEABLE``.

        Returns
        -------
        float
            In the registry unit.

        Raises
        ------
        ValueError
            Something that this situation does not have.

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> now = Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0)
        >>> now.value("load_torque")
        6.0
        """
        if name in self.circuit:
            return self.circuit[name]
        if name == "load_torque":
            return self.load_torque
        if name == "output_power":
            return self.output_power or 0.0
        if name in ("supply_voltage", "source_voltage", "field_voltage"):
            raise ValueError(f"{name} is changed but was not set; set what it is before the change")
        return float(getattr(self.machine, name, 0.0))

    def changed(self, name: str, value: float) -> Situation:
        """The same situation with one thing changed.

        Parameters
        ----------
        name : str
            One of ``CHANGEABLE``.
        value : float
            In the registry unit.

        Returns
        -------
        Situation

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> now = Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0)
        >>> now.changed("added_field_resistance", 20.0).value("added_field_resistance")
        20.0
        """
        circuit = dict(self.circuit)
        if name == "line_resistance" and "supply_voltage" in circuit:  # what is held is now ahead of the line
            circuit["source_voltage"] = circuit.pop("supply_voltage")
        torque, power = self.load_torque, self.output_power
        if name == "load_torque":
            torque = value
        elif name == "output_power":
            power = value
        else:
            circuit[name] = value
        return Situation(self.machine, circuit, torque, power, self.load_law, self.at_speed)

    def load(self) -> Load:
        """The load at the shaft.

        Returns
        -------
        Load

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> now = Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0)
        >>> now.load().torque(100.0)
        6.0
        """
        if self.output_power is not None:
            return ConstantPower(self.output_power)
        if self.load_law == "proportional":
            return ProportionalTorque(self.load_torque, speed=self.at_speed)
        if self.load_law == "square":
            return SquareTorque(self.load_torque, speed=self.at_speed)
        return ConstantTorque(self.load_torque)

    def state(self) -> SteadyState:
        """The settled running point.

        Returns
        -------
        SteadyState

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> now = Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0)
        >>> now.state().armature_current
        8.0
        """
        circuit: dict[str, Any] = dict(self.circuit)
        return steady_state(self.machine, load=self.load(), **circuit)

    def states(self, name: str, values: Any) -> SteadyState:
        """Settled points with one thing of the circuit at many values.

        Parameters
        ----------
        name : str
            A quantity of the circuit.
        values : array
            In the registry unit.

        Returns
        -------
        SteadyState
            Arrays of the shape of ``values``.

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> now = Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0)
        >>> now.states("added_field_resistance", [0.0, 20.0]).speed_rpm.round(1).tolist()
        [1446.4, 1615.7]
        """
        return steady_state(self.machine, load=self.load(), **{**self.circuit, name: values})


@dataclass(frozen=True)
class Part:
    """A share of the change of speed: what it came through, and how much [r/min]."""

    through: str
    speed_rpm: float


@dataclass(frozen=True)
class Account:
    """The whole story of one change.

    ``parts`` add up to the change of speed exactly (to the rounding of floating point).
    """

    situation: Situation
    name: str
    old: float
    new: float
    before: dict[str, float]
    first_instant: HeldSpeed
    after: dict[str, float]
    parts: tuple[Part, ...]

    @property
    def speed_change_rpm(self) -> float:
        """Settled change of speed [r/min]."""
        return self.after["speed_rpm"] - self.before["speed_rpm"]

    @property
    def acts_on(self) -> str:
        """The part of the machine that the change acts on first."""
        return CHANGEABLE[self.name]


def account(situation: Situation, name: str, new: float) -> Account:
    """Work out what one change does.

    Parameters
    ----------
    situation : Situation
        The machine as it runs before.
    name : str
        What is changed, one of ``CHANGEABLE``.
    new : float
        Its new value in the registry unit.

    Returns
    -------
    Account

    Raises
    ------
    ValueError
        Something that cannot be changed; a machine at standstill; a point that cannot be reached (InfeasibleError).

    Notes
    -----
    The speed is omega = (U - U_b - I_a R)/kPhi. Between two points, with means taken over both, the identity

        d omega = mean(1/kPhi) * (dU - dU_b - d(I_a R)) + mean(E) * d(1/kPhi)

    is exact, so that the shares of voltage, brushes, armature drop and flux add up without remainder.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> story = account(Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0), "added_field_resistance", 20.0)
    >>> round(story.speed_change_rpm, 1), [(part.through, round(part.speed_rpm, 1)) for part in story.parts]
    (169.3, [('flux', 180.2), ('armature drop', -10.8)])
    """
    if name not in CHANGEABLE:
        quantity(name)
        raise ValueError(f"{name} is a result of the rest, not something to change; what can be changed: "
                         f"{', '.join(CHANGEABLE)}")  # fmt: skip
    old = situation.value(name)
    later = situation.changed(name, new)
    before, after = _numbers(situation), _numbers(later)
    if before["speed"] <= 0.0:
        raise ValueError("the machine stands still before the change; there is no speed to explain")
    held = state_at_speed(situation.machine, speed=before["speed"], **later.circuit)
    return Account(situation, name, old, new, before, held, after, _parts(before, after))


def _numbers(situation: Situation) -> dict[str, float]:
    values = {name: float(value) for name, value in situation.state().as_dict().items()}
    current = values["armature_current"]
    sign = (current > 0.0) - (current < 0.0)
    drop = situation.circuit.get("brush_drop", situation.machine.brush_drop)
    values["signed_brush_drop"] = sign * drop
    values["armature_drop"] = current * values["armature_circuit_resistance"]
    return values


def _parts(before: dict[str, float], after: dict[str, float]) -> tuple[Part, ...]:
    rpm_per_speed = before["speed_rpm"] / before["speed"]
    inverse = [1.0 / point["k_phi"] for point in (before, after)]
    emf = [point["speed"] * point["k_phi"] for point in (before, after)]
    mean_inverse, mean_emf = sum(inverse) / 2.0, sum(emf) / 2.0

    def step(name: str) -> float:
        return after[name] - before[name]

    shares = {
        "voltage on the armature circuit": step("supply_voltage") * mean_inverse,
        "flux": mean_emf * (inverse[1] - inverse[0]),
        "armature drop": -step("armature_drop") * mean_inverse,
        "brush drop": -step("signed_brush_drop") * mean_inverse,
    }
    return tuple(Part(through, share * rpm_per_speed) for through, share in shares.items() if share != 0.0)
