"""What a machine can do: values that a root may not have, and which of several roots a machine would run on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shuntref.exercises.statement import Exercise, Ref
from shuntref.quantities.registry import quantity
from shuntref.quantities.text import format_value

__all__ = ["impossible", "preferred", "roots_reason"]

Number = Any

_TINY = 1e-9
_NOT_NEGATIVE = "not negative"
#: what decides between possible roots: the first of these that the group holds
_JUDGED_BY = ("armature_current", "line_current", "electromagnetic_power", "field_current", "speed", "speed_rpm")


def impossible(exercise: Exercise, ref: Ref, value: Number) -> str:
    """Say why ``ref`` cannot have ``value``, or return nothing.

    Examples
    --------
    >>> impossible(Exercise("t", "s", {}, {}), Ref("after", "added_field_resistance"), -3.0)
    'after.added_field_resistance would be -3 ohm, and this cannot be negative'
    """
    entry = quantity(ref.quantity)
    words = f"{ref} would be {format_value(ref.quantity, float(value))}"
    state = exercise.states.get(ref.state)
    action = state.action if state else "motor"
    if value < -_TINY and entry.sign == _NOT_NEGATIVE and not (ref.quantity == "total_loss" and action == "generator"):
        return f"{words}, and this cannot be negative"
    if ref.quantity == "efficiency" and not -_TINY <= value <= 1 + _TINY:
        return f"{words}, and an efficiency lies between 0 and 1"
    if ref.quantity in ("k_phi", "effective_field_current") and value < _TINY and value != 0:
        return f"{words}: no field would be left"
    return ""


def backwards(exercise: Exercise, values: Mapping[Ref, Number]) -> str:
    """Say which value has the machine act the other way round than stated, or return nothing."""
    for ref, value in values.items():
        state = exercise.states.get(ref.state)
        if ref.quantity in ("armature_current", "electromagnetic_torque", "electromagnetic_power") and state:
            if value < -_TINY and state.action == "motor":
                return f"{ref} would be {format_value(ref.quantity, float(value))}: the machine would generate"
            if value > _TINY and state.action == "generator":
                return f"{ref} would be {format_value(ref.quantity, float(value))}: the machine would motor"
        if ref.quantity in ("speed", "speed_rpm") and value < -_TINY:
            return f"{ref} would be {format_value(ref.quantity, float(value))}: the shaft would turn backwards"
    return ""


def preferred(candidates: Sequence[Mapping[Ref, Number]]) -> tuple[int, Ref]:
    """Return the index of the root that a machine reaches from no load, and the quantity by which it was told.

    Examples
    --------
    >>> current = Ref("after", "armature_current")
    >>> preferred([{current: 472.0}, {current: 27.8}])
    (1, Ref(state='after', quantity='armature_current', index=0))
    """
    common = set(candidates[0])
    for name in _JUDGED_BY:
        for ref in sorted(common):
            if ref.quantity == name:
                return min(range(len(candidates)), key=lambda i: abs(candidates[i][ref])), ref
    ref = min(common)
    return min(range(len(candidates)), key=lambda i: abs(candidates[i][ref])), ref


def roots_reason(ref: Ref, taken: Mapping[Ref, Number], known: Mapping[Ref, Number]) -> str:
    """Say in one sentence why a root was taken."""
    words = ref.quantity.replace("speed_rpm", "speed").replace("_", " ")
    sentence = f"the root with the smaller {words} is taken: it is the one the machine reaches from light load"
    emf, supply = (next((group[key] for group in (taken, known) for key in group
                         if key.quantity == name and key.state in (ref.state, "")), None)
                   for name in ("back_emf", "supply_voltage"))  # fmt: skip
    if emf is not None and supply is not None and emf > supply / 2:
        sentence += ", with the back EMF above half the supply voltage"
    return sentence
