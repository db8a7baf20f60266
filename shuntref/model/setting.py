"""The inputs of a steady state: gathered, checked, broadcast, and handed out in blocks that fit the cache."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shuntref.model.load import Load, LoadTerms
from shuntref.model.machine import Machine
from shuntref.model.validation import as_array, check_array, refuse, scalar

__all__ = ["BLOCK", "RULES", "Setting", "gather", "load_of"]

#: points in a block: enough that a call costs little beside its work, few enough that the arrays at hand stay in the cache
BLOCK = 16384

#: inputs and what they must keep
RULES: dict[str, str] = {
    "supply_voltage": "zero or more",
    "source_voltage": "zero or more",
    "field_voltage": "zero or more",
    "field_resistance": "positive",
    "added_field_resistance": "not negative",
    "armature_resistance": "not negative",
    "added_armature_resistance": "not negative",
    "brush_drop": "not negative",
    "line_resistance": "not negative",
    "target": "positive",
}

_TERMS = ("constant", "proportional", "square", "power")
Array = np.ndarray[Any, Any]


@dataclass
class Setting:
    """Checked inputs of one call.

    ``fixed`` holds floats; ``varying`` arrays, each with a rule that is still to be looked at block by block (None where
    it was looked at whole).
    """

    machine: Machine
    shape: tuple[int, ...]
    dtype: Any
    behind_line: bool
    fixed: dict[str, float]
    varying: dict[str, tuple[Array, str | None]]
    functions: tuple[Any, ...]
    size: int = field(init=False)

    def __post_init__(self) -> None:
        self.size = int(np.prod(self.shape, dtype=np.int64))

    def blocks(self, length: int = BLOCK) -> Iterator[tuple[int, int]]:
        """First and last position of each block of the flattened points."""
        for start in range(0, self.size, length):
            yield start, min(start + length, self.size)

    def block(self, start: int, stop: int) -> dict[str, Any]:
        """The inputs of one block: floats, and one-dimensional arrays, checked."""
        values: dict[str, Any] = dict(self.fixed)
        for name, (_, rule) in self.varying.items():
            values[name] = self.piece(name, start, stop)
            if rule is not None:
                check_array(_said(name), values[name], rule, offset=start, shape=self.shape)
        return self.finished(values)

    def piece(self, name: str, start: int, stop: int) -> Array:
        """One varying input of a block, unchecked."""
        array = self.varying[name][0]
        return array[start:stop] if array.ndim == 1 else array.flat[start:stop]

    def points(self, index: Array) -> dict[str, Any]:
        """The inputs of some points, by their flattened positions; these were checked before."""
        values: dict[str, Any] = dict(self.fixed)
        for name, (array, _) in self.varying.items():
            values[name] = array.ravel()[index] if array.size == self.size else array.flat[index]
        return self.finished(values)

    def terms(self) -> LoadTerms:
        """The terms of the load, arrays whole."""
        of = {**self.fixed, **{name: array for name, (array, _) in self.varying.items()}}
        return LoadTerms(**{term: of["load." + term] for term in _TERMS}, functions=self.functions)

    def finished(self, values: dict[str, Any]) -> dict[str, Any]:
        """Add to the inputs of a block what goes with them."""
        machine = self.machine
        values["flux"], values["reaction"] = machine.flux, machine.armature_reaction
        values["load_terms"] = LoadTerms(
            **{term: values.pop("load." + term) for term in _TERMS}, functions=self.functions
        )
        values["loss_terms"] = machine.loss_terms
        if not self.behind_line and "source_voltage" in values:
            values["supply_voltage"] = values["source_voltage"]
        elif "supply_voltage" in values and _is_zero(values["line_resistance"]):
            values["source_voltage"] = values["supply_voltage"]
        return values


def _is_zero(value: Any) -> bool:
    return type(value) is float and value == 0.0


def _said(name: str) -> str:
    """The name in a message: a load's constant term is the load torque, its power the output power."""
    names = {"load.constant": "load_torque", "load.power": "output_power"}
    return names.get(name, "load_torque" if name.startswith("load.") else name)


def load_of(load: Any, load_torque: Any) -> LoadTerms:
    """The terms of the load that was given as an object, as a torque, or not at all."""
    if load is not None and load_torque is not None:
        raise ValueError("load and load_torque are both given; one of them is needed, or neither for no load")
    if load is not None:
        if not isinstance(load, Load):
            raise refuse("load", load, "a load (ConstantTorque, SquareTorque, ...); a plain torque goes in load_torque")
        return load.terms()
    if load_torque is None:
        return LoadTerms()
    plain = isinstance(load_torque, (int, float))
    return LoadTerms(
        constant=scalar("load_torque", load_torque, "finite") if plain else as_array("load_torque", load_torque)
    )


def check_choices(machine: Machine, given: dict[str, Any]) -> None:
    """One of supply and source voltage; a field voltage when, and only when, separately excited."""
    if not isinstance(machine, Machine):
        raise refuse("machine", machine, "a Machine")
    if (given.get("supply_voltage") is None) == (given.get("source_voltage") is None):
        raise ValueError("one of supply_voltage and source_voltage is needed, and not both")
    if machine.connection == "separate" and given.get("field_voltage") is None:
        raise ValueError("field_voltage is missing; a separately excited machine needs it")
    if machine.connection == "shunt" and given.get("field_voltage") is not None:
        raise ValueError("field_voltage is given, but in a shunt connection it is the supply voltage; leave it out")


def gather(machine: Machine, given: dict[str, Any], load: Any, load_torque: Any) -> Setting:
    """Check and broadcast the inputs of a call.

    ``given`` maps input names to values or None; what is None comes from the machine where it has one.
    """
    check_choices(machine, given)
    inputs: dict[str, Any] = {
        "added_field_resistance": 0.0,
        "added_armature_resistance": 0.0,
        "field_resistance": machine.field_resistance,
        "armature_resistance": machine.armature_resistance,
        "brush_drop": machine.brush_drop,
        "line_resistance": machine.line_resistance,
    }
    inputs.update({name: value for name, value in given.items() if value is not None})
    terms = load_of(load, load_torque)
    rules: dict[str, str | None] = {name: RULES[name] for name in inputs}
    for term in _TERMS:
        inputs["load." + term] = getattr(terms, term)
        rules["load." + term] = None  # the load has looked at its parameters
    if load is None:
        rules["load.constant"] = "finite"
    fixed: dict[str, float] = {}
    arrays: dict[str, Array] = {}
    for name, value in inputs.items():
        rule = rules[name]
        if isinstance(value, (int, float)):
            fixed[name] = scalar(_said(name), value, rule or "finite")
        else:
            arrays[name] = as_array(name, value)
    try:
        shape = np.broadcast_shapes(*(array.shape for array in arrays.values()))
    except ValueError:
        shapes = ", ".join(f"{_said(name)} {array.shape}" for name, array in arrays.items())
        raise ValueError(f"the shapes of the inputs do not fit together: {shapes}") from None
    dtype = np.result_type(*(array.dtype for array in arrays.values())) if arrays else np.dtype(np.float64)
    varying: dict[str, tuple[Array, str | None]] = {}
    for name, array in arrays.items():
        rule = rules[name]
        if array.size == 1 and array.dtype == np.float64:  # one value for all points stays a float: nothing is repeated
            fixed[name] = scalar(_said(name), array.item(), rule or "finite")
            continue
        if array.shape == shape and array.flags.c_contiguous:
            varying[name] = (array.ravel(), rule)
            continue
        if rule is not None:
            check_array(_said(name), array, rule)
        varying[name] = (np.broadcast_to(array, shape), None)
    line = fixed.get("line_resistance", 1.0)
    behind = "source_voltage" in inputs and line != 0.0
    return Setting(machine, shape, dtype, behind, fixed, varying, terms.functions)
