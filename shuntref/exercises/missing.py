"""Saying exactly what is missing: which single datum more would determine the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from shuntref.exercises.equation import Equation
from shuntref.exercises.groups import find_groups
from shuntref.exercises.statement import Exercise, ExerciseError, Ref

if TYPE_CHECKING:
    from shuntref.exercises.solver import Run

__all__ = ["MissingData", "explain_missing"]

_MOST_NAMED = 6
#: data an exercise would naturally give, likeliest first
_NATURAL = ("supply_voltage", "armature_current", "line_current", "field_current", "speed", "armature_resistance",
            "field_resistance", "back_emf", "electromagnetic_torque", "load_torque", "k_phi", "flux_per_pole", "output_power",
            "input_power", "efficiency", "rotational_loss", "loss_torque", "constant_loss", "added_armature_resistance",
            "added_field_resistance", "brush_drop", "conductors", "poles", "parallel_paths", "field_turns", "flux_constant",
            "flux_ratio", "torque_ratio", "upper_current", "lower_current", "sections")  # fmt: skip

#: comparisons of two states, and how to ask for them
_COMPARED = {
    "speed_regulation": 'of = "light.speed", change_from = "loaded.speed"',
    "torque_ratio": 'of = "after.electromagnetic_torque", over = "before.electromagnetic_torque"',
    "flux_ratio": 'of = "after.k_phi", over = "before.k_phi"',
}


class MissingData(ExerciseError):
    """An answer that the data do not determine."""


def explain_missing(run: Run, missing: Sequence[Ref]) -> str:
    """Return the message for answers that could not be found."""
    exercise, target = run.exercise, missing[0]
    names = ", ".join(str(ref) for ref in dict.fromkeys(missing))
    unknown = {ref for index in run.open for ref in run.equations[index].unknowns(run.values)}
    if target.quantity in _COMPARED:
        return f"{target} is a comparison of two states; ask for it by {_COMPARED[target.quantity]}"
    if target not in unknown and not any(target in run.equations[i].refs for i in range(len(run.equations))):
        return f"{target} cannot be found: no law in use speaks of it{_hint(exercise, [])}"
    helpful = []
    for name in _NATURAL:
        for ref in sorted(unknown):
            if ref.quantity == name and ref != target and _would_follow(run.equations, run.open, run.values, ref, target):
                helpful.append(ref)
    sought = f"{names} cannot be found from what is given"
    if not helpful:
        return f"{sought}; more than one datum is missing{_hint(exercise, sorted(unknown))}"
    listed = ", ".join(str(ref) for ref in helpful[:_MOST_NAMED])
    one = "this would determine it" if len(helpful) == 1 else "any one of these would determine it"
    return f"{sought}; {one}: {listed}{_hint(exercise, helpful)}"


def _would_follow(
    equations: Sequence[Equation], open_ones: set[int], values: Mapping[Ref, object], given: Ref, target: Ref
) -> bool:
    """Whether ``target`` could be found if ``given`` were known; by the shape of the equations alone."""
    known: dict[Ref, object] = dict(values)
    known[given] = 1.0
    left = set(open_ones)
    while target not in known:
        progress = False
        for index in sorted(left):
            unknown = equations[index].unknowns(known)
            if len(unknown) <= 1:
                left.discard(index)
                for ref in unknown:
                    known[ref] = 1.0
                    progress = True
        if progress:
            continue
        helpful, _ = find_groups(equations, left, known, [target])
        if not helpful:
            return False
        for ref in helpful[0].unknowns:
            known[ref] = 1.0
        left -= set(helpful[0].equations)
    return True


def _hint(exercise: Exercise, refs: Sequence[Ref]) -> str:
    hints = []
    names = {ref.quantity for ref in refs}
    if len(exercise.states) > 1 and not exercise.flux.law and (names & {"k_phi"} or not refs):
        hints.append("nothing is said about the flux (a [flux] table)")
    if len(exercise.states) > 1 and not exercise.losses.rotational and names & {"rotational_loss", "loss_torque"}:
        hints.append('nothing is said about the rotational loss ([losses] rotational = "same-watts", "same-torque" or "none")')
    if len(exercise.states) > 1 and not exercise.links and names & {"electromagnetic_torque", "load_torque"}:
        hints.append("no link ties the states together (a [[link]] table)")
    return f"; {'; '.join(hints)}" if hints else ""
