"""A second way to the same figures: every running state handed to the numeric model as a machine with its load."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shuntref.exercises.solution import Solution
from shuntref.exercises.statement import Ref

__all__ = ["Agreement", "model_route"]

_COMPARED = ("armature_current", "back_emf", "speed", "electromagnetic_power", "line_current", "input_power")


@dataclass(frozen=True)
class Agreement:
    """One quantity of one state from the exercise solver and from the numeric model."""

    ref: Ref
    solved: float
    modelled: float

    @property
    def difference(self) -> float:
        """Relative difference.

        Examples
        --------
        >>> Agreement(Ref("running", "speed"), 100.0, 101.0).difference
        0.01
        """
        return abs(self.solved - self.modelled) / max(abs(self.solved), 1e-9)


def model_route(solution: Solution) -> Iterator[Agreement]:
    """Yield the comparisons for every state that the numeric model can be given.

    A state needs a supply voltage, the resistance of its armature circuit, its flux and its torque; it must turn, act as a
    motor, and neglect nothing. The machine is made from the flux and the resistances, the load from the torque; the model
    then finds currents, EMF and speed by itself.

    Examples
    --------
    >>> from shuntref.exercises.library import reference_exercise
    >>> from shuntref.exercises.solver import solve
    >>> solution = solve(reference_exercise("theraja-same-torque-field-rheostat"))
    >>> all(agreement.difference < 1e-9 for agreement in model_route(solution))
    True
    """
    from shuntref.model.flux import ProportionalFlux
    from shuntref.model.machine import Machine
    from shuntref.model.steady import steady_state

    for state in solution.exercise.states.values():

        def known(name: str, state_name: str = state.name) -> float | None:
            value = solution.values.get(solution.system.bind(Ref(state_name, name)))
            return None if value is None else float(value)

        supply, k_phi, torque = known("supply_voltage"), known("k_phi"), known("electromagnetic_torque")
        resistance, brushes, speed = known("armature_circuit_resistance"), known("brush_drop"), known("speed")
        neglected = (state.neglect | solution.exercise.neglect) & {"armature-drop", "field-current"}
        if supply is None or k_phi is None or torque is None or resistance is None or brushes is None or speed is None:
            continue
        if speed <= 0 or torque < 0 or state.action != "motor" or neglected or k_phi <= 0:
            continue
        current = known("field_current") if solution.exercise.connection == "shunt" else None
        shunt = current is not None and current > 0 and not known("line_resistance")
        field = current if current is not None and shunt else 1.0
        machine = Machine(
            armature_resistance=resistance,
            field_resistance=supply / field if shunt else 1.0,
            flux=ProportionalFlux(k_phi / field),
            brush_drop=brushes,
            connection="shunt" if shunt else "separate",
        )
        point = steady_state(machine, supply_voltage=supply, load_torque=torque, field_voltage=None if shunt else 1.0)
        for name in _COMPARED:
            solved = known(name)
            if solved is None or (not shunt and name in ("line_current", "input_power")):
                continue
            yield Agreement(Ref(state.name, name), solved, float(getattr(point, name)))
