"""Saying exactly what is missing: which single datum more would determine the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from shuntref.exercises.groups import find_groups
from shuntref.exercises.state_laws import LEFT_OUT_OF_GROUPS
from shuntref.exercises.statement import Exercise, ExerciseError, Ref

if TYPE_CHECKING:
    from shuntref.exercises.run import Run

__all__ = ["MissingData", "explain_missing"]

_MOST_NAMED = 6
#: data an exercise would naturally give, likeliest first
_NATURAL = (
    "supply_voltage", "armature_current", "line_current", "field_current", "speed", "armature_resistance",
    "field_resistance", "field_voltage", "back_emf", "electromagnetic_torque", "load_torque", "k_phi",
    "flux_per_pole", "output_power", "input_power", "efficiency", "rotational_loss", "loss_torque",
    "constant_loss", "added_armature_resistance", "added_field_resistance", "brush_drop", "conductors", "poles",
    "parallel_paths", "field_turns", "flux_constant", "flux_ratio", "torque_ratio", "upper_current",
    "lower_current", "sections",
)  # fmt: skip

#: those that one line in ``[shared]`` would naturally give for all states
_OF_THE_MACHINE = (
    "supply_voltage", "armature_resistance", "field_resistance", "field_voltage", "conductors", "poles",
    "parallel_paths", "field_turns", "flux_constant",
)  # fmt: skip

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
    names = ", ".join(dict.fromkeys(_written(ref) for ref in missing))
    unknowns = {index: run.equations[index].unknowns(run.values) for index in run.open}
    unknown = {ref for refs in unknowns.values() for ref in refs}
    if target.quantity in _COMPARED:
        return f"{target} is a comparison of two states; ask for it by {_COMPARED[target.quantity]}"
    if target not in unknown and not any(target in run.equations[i].refs for i in range(len(run.equations))):
        return f"{target} cannot be found: no law in use speaks of it{_hint(exercise, [])}"
    helpful: list[Ref] = []
    speeds = ("speed", "speed_rpm")
    for name in _NATURAL:
        for ref in sorted(unknown):
            itself = ref == target or (
                ref.quantity in speeds and target.quantity in speeds and ref.state == target.state
            )
            if (
                len(helpful) < _MOST_NAMED
                and ref.quantity == name
                and not itself
                and _would_follow(run, unknowns, [ref], target)
            ):
                helpful.append(ref)
    sought = f"{names} cannot be found from what is given"
    if not helpful:
        shared = [name for name in _OF_THE_MACHINE if _shared_would_do(run, unknowns, name, target)]
        if shared:
            return f"{sought}; it would be with {' or '.join(shared)} given in [shared]{_hint(exercise, [])}"
        return f"{sought}; more than one datum is missing{_hint(exercise, [])}"
    listed = ", ".join(dict.fromkeys(_written(ref) for ref in helpful))
    one = "this would determine it" if len(helpful) == 1 else "any one of these would determine it"
    return f"{sought}; {one}: {listed}{_hint(exercise, helpful)}"


def _written(ref: Ref) -> str:
    """A reference as it is written in a file, where a speed is called ``speed`` in whatever unit."""
    return str(ref).removesuffix("_rpm") if ref.quantity == "speed_rpm" else str(ref)


def _shared_would_do(run: Run, unknowns: Mapping[int, Sequence[Ref]], name: str, target: Ref) -> bool:
    """Whether ``target`` could be found if every state had a known ``name``, as one line in ``[shared]`` gives it."""
    refs = sorted({ref for found in unknowns.values() for ref in found if ref.quantity == name})
    return len(refs) > 1 and target not in refs and _would_follow(run, unknowns, refs, target)


def _would_follow(run: Run, unknowns: Mapping[int, Sequence[Ref]], given: Sequence[Ref], target: Ref) -> bool:
    """Whether ``target`` could be found if all of ``given`` were known; by the shape of the equations alone."""
    left = {index: set(refs) for index, refs in unknowns.items()}
    holding: dict[Ref, list[int]] = {}
    for index, refs in unknowns.items():
        for ref in refs:
            holding.setdefault(ref, []).append(index)
    found = list(given)
    known: set[Ref] = set()
    while True:
        while found:
            ref = found.pop()
            if ref == target:
                return True
            if ref in known:
                continue
            known.add(ref)
            for index in holding.get(ref, ()):
                left[index].discard(ref)
                found += left[index] if len(left[index]) == 1 else ()
        for left_out in LEFT_OUT_OF_GROUPS:
            usable = {index: sorted(refs) for index, refs in left.items() if run.equations[index].slug not in left_out}
            helpful, _ = find_groups(usable, [target])
            if helpful:
                found = list(helpful[0].unknowns)
                break
        else:
            return False


def _hint(exercise: Exercise, refs: Sequence[Ref]) -> str:
    hints = []
    names = {ref.quantity for ref in refs}
    if len(exercise.states) > 1 and not exercise.flux.law:
        hints.append(
            'nothing is said about the flux: under [flux] write law = "proportional" (to the field current; an '
            'unsaturated machine) or law = "constant"'
        )
    if not exercise.losses.rotational and names & {"rotational_loss", "loss_torque"}:
        ways = '"same-watts", "same-torque" or "none"' if len(exercise.states) > 1 else '"none" if there is none'
        hints.append(f"nothing is said about the rotational loss ([losses] rotational = {ways})")
    if len(exercise.states) > 1 and not exercise.links and names & {"electromagnetic_torque", "load_torque"}:
        hints.append("no link ties the states together (a [[link]] table)")
    return f"; {'; '.join(hints)}" if hints else ""
