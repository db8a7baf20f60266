"""A small program of somebody who uses the package: typed strictly, and run, against what is installed.

It asks for a running point, marks a class, and has a function of its own tested by the certified cases.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, assert_type

import shuntref
from shuntref import Machine, ProportionalFlux, format_value, parse_value, steady_state
from shuntref.conformance import load_suite, run_cases
from shuntref.conformance.score import Score
from shuntref.conformance.suite import select
from shuntref.conformance.targets import python_target
from shuntref.exercises.library import reference_exercise
from shuntref.exercises.marking import Marked, mark_sheet
from shuntref.exercises.statement import Exercise
from shuntref.model import InfeasibleError, SteadyState
from shuntref.model.flux import FluxCurve


def speed_at_k_phi(
    supply_voltage: float, k_phi: float, armature_resistance: float, load_torque: float, **others: float
) -> float:
    """Our own function, which the certified cases of level 1 are put to; it forgets every other input."""
    return supply_voltage / k_phi - load_torque * armature_resistance / k_phi**2


def speeds(flux: FluxCurve, rheostat: str) -> str:
    """The speed without and with a rheostat in the field circuit."""
    bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=flux)
    added = assert_type(parse_value("added_field_resistance", rheostat), float)
    before = steady_state(bench, supply_voltage=120.0, load_torque=6.0)
    after = assert_type(
        steady_state(bench, supply_voltage=120.0, load_torque=6.0, added_field_resistance=added), SteadyState
    )
    texts = [format_value("speed_rpm", point.speed_rpm, digits=5) for point in (before, after)]
    return f"{texts[0]}, then {texts[1]} with {rheostat} in the field circuit"


def refusal() -> str:
    """What the model says of a load that the motor cannot turn."""
    bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    try:
        steady_state(bench, supply_voltage=120.0, load_torque=1000.0)
    except InfeasibleError as reason:
        return str(reason)
    return "none"


def marked(name: str, sheet: str) -> str:
    """A class marked on a published exercise."""
    exercise = assert_type(reference_exercise(name), Exercise)
    result = assert_type(mark_sheet(exercise, sheet), Marked)
    return ", ".join(f"{row.student}: {row.marks:g} of {result.full_marks:g}" for row in result.rows)


def tested() -> str:
    """How our own function does on the cases of level 1."""
    suite = load_suite()
    cases = select(suite, functions=["speed_at_k_phi"], levels=[1])
    target = python_target({"speed_at_k_phi": (str(Path(__file__).resolve()), "speed_at_k_phi")}, suite)
    score = assert_type(run_cases(suite, cases, target), Score)
    return f"{score.total.passed} of {score.total.asked} cases passed"


if TYPE_CHECKING:  # what a type checker must refuse; each line would be reported as needless if it were not refused
    Machine(armature_resistance="0.8 ohm", field_resistance=160.0, flux=ProportionalFlux(1.0))  # type: ignore[arg-type]
    parse_value("speed", 1500)  # type: ignore[arg-type]
    shuntref.no_such_name  # type: ignore[attr-defined]  # noqa: B018
    shuntref.conformance.no_such_runner  # type: ignore[attr-defined]  # noqa: B018


def main() -> None:
    """Print what was found."""
    print(speeds(ProportionalFlux(1.0), "20 ohm"))
    print(refusal())
    print(marked("bird-15-back-emf", "student,back-emf\nada,230 V\nbob,240 V\n"))
    print(tested())


if __name__ == "__main__":
    main()
