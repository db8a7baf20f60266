"""The published examples by another route: the running conditions the solver found, put to the numeric model."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from shuntref.exercises.solution import Solution
from shuntref.exercises.solver import solve
from shuntref.exercises.statement import ExerciseError, Ref, State
from shuntref.exercises.statement_file import load_exercise
from shuntref.model.flux import ProportionalFlux
from shuntref.model.machine import Machine
from shuntref.model.starting import starting_resistance
from shuntref.model.steady import steady_state

REFERENCES = Path(str(files("shuntref.references")))
PATHS = sorted([*(REFERENCES / "exercises").glob("*.toml"), *(REFERENCES / "errata").glob("*.toml")])

#: the model must answer for at least so many running conditions, or the route is not one
FEWEST_STATES = 100
_LEAN = (
    "supply_voltage",
    "armature_resistance",
    "added_armature_resistance",
    "brush_drop",
    "k_phi",
    "armature_current",
    "speed",
)


def found(solution: Solution, state: State) -> dict[str, float] | None:
    """What the solver has for a state, or None where the state says too little for the model."""
    values = {}
    for name in _LEAN:
        try:
            values[name] = solution.value(Ref(state.name, name))
        except ExerciseError:
            return None
    return values


def running_conditions() -> list[tuple[str, dict[str, float]]]:
    conditions = []
    for path in PATHS:
        exercise = load_exercise(path)
        solution = solve(exercise)
        for state in exercise.states.values():
            values = found(solution, state)
            if values and "armature-drop" not in exercise.neglect | state.neglect and values["speed"] > 0:
                conditions.append((f"{path.stem}: {state.name}", values))
    return conditions


def test_the_model_finds_the_same_speed_and_current_for_the_torque_of_every_running_condition() -> None:
    conditions = running_conditions()
    for name, values in conditions:
        # the flux is a datum here: a separate field of 1 ohm on 1 V, so that k_phi is the flux constant
        machine = Machine(
            armature_resistance=values["armature_resistance"],
            field_resistance=1.0,
            flux=ProportionalFlux(values["k_phi"]),
            brush_drop=values["brush_drop"],
            connection="separate",
        )
        state = steady_state(
            machine,
            supply_voltage=values["supply_voltage"],
            field_voltage=1.0,
            load_torque=values["k_phi"] * values["armature_current"],
            added_armature_resistance=values["added_armature_resistance"],
        )
        # no tolerance of the source enters here: two ways through the same equations, in doubles
        assert state.speed == pytest.approx(values["speed"], rel=1e-10), name
        assert state.armature_current == pytest.approx(values["armature_current"], rel=1e-10, abs=1e-12), name
    print(f"figure: {len(conditions)} running conditions of {len(PATHS)} files put to the numeric model")
    assert len(conditions) >= FEWEST_STATES


def test_the_model_finds_the_same_starting_resistance_for_every_limited_start() -> None:
    starts = 0
    for path in PATHS:
        exercise = load_exercise(path)
        solution = solve(exercise)
        for state in exercise.states.values():
            speed = exercise.given(Ref(state.name, "speed_rpm"))
            if speed is None or speed.value != 0:
                continue
            try:
                names = (
                    "supply_voltage",
                    "armature_resistance",
                    "armature_current",
                    "brush_drop",
                    "added_armature_resistance",
                )
                supply, armature, current, brush, added = (solution.value(Ref(state.name, name)) for name in names)
            except ExerciseError:
                continue
            starts += 1
            by_model = starting_resistance(
                supply_voltage=supply, armature_resistance=armature, starting_current=current, brush_drop=brush
            )
            assert by_model == pytest.approx(added, rel=1e-10), path.stem
    assert starts >= 5
