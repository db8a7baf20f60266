"""The functions that the certified cases ask for, read from references/cases/functions.toml."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = ["Function", "Input", "Output", "function", "load_functions"]

_ACCEPTED: Mapping[str, Callable[[float], bool]] = {
    "positive": lambda value: value > 0,
    "not negative": lambda value: value >= 0,
    "any": lambda value: True,
    "whole": lambda value: value > 0 and value == int(value),
    "even": lambda value: value > 0 and value % 2 == 0,
}


@dataclass(frozen=True, slots=True)
class Input:
    """One input: ``accept`` is "positive", "not negative", "any", "whole" or "even"; ``default`` is None if required."""

    name: str
    unit: str
    accept: str
    required: bool = True
    default: float | None = None
    is_list: bool = False


@dataclass(frozen=True, slots=True)
class Output:
    """One output."""

    name: str
    unit: str
    is_list: bool = False


@dataclass(frozen=True, slots=True)
class Function:
    """A function of the suite: what is asked, the relations that hold, inputs and outputs in order, preconditions."""

    name: str
    group: str
    sentence: str
    equations: tuple[str, ...]
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]
    preconditions: tuple[str, ...]

    def complete(self, inputs: Mapping[str, Any]) -> dict[str, Any]:
        """Return the inputs in calling order with the defaults filled in.

        Raises
        ------
        ValueError
            For an unknown or a missing input.

        Examples
        --------
        >>> function("starting_resistance").complete(
        ...     {"supply_voltage": 120.0, "armature_resistance": 0.2, "starting_current": 112.5})
        {'supply_voltage': 120.0, 'armature_resistance': 0.2, 'starting_current': 112.5, 'brush_drop': 0.0}
        """
        unknown = set(inputs) - {entry.name for entry in self.inputs}
        if unknown:
            raise ValueError(f"{self.name}: unknown input {sorted(unknown)[0]!r}")
        found = {}
        for entry in self.inputs:
            if entry.name in inputs:
                found[entry.name] = inputs[entry.name]
            elif entry.default is None:
                raise ValueError(f"{self.name}: {entry.name} is missing; give it in {entry.unit}")
            else:
                found[entry.name] = entry.default
        return found

    def objection(self, inputs: Mapping[str, Any]) -> str:
        """Return what is wrong with an input by itself, or '' when each is acceptable.

        Examples
        --------
        >>> function("ideal_no_load_speed").objection(
        ...     {"supply_voltage": 120.0, "field_resistance": -160.0, "flux_constant": 1.0})
        'field_resistance = -160: a positive number is needed'
        """
        for entry in self.inputs:
            value = inputs.get(entry.name, entry.default)
            readings = value if isinstance(value, (list, tuple)) else [value]
            for reading in readings:
                if reading is None:
                    return f"{entry.name} is missing; give it in {entry.unit}"
                if not (math.isfinite(reading) and _ACCEPTED[entry.accept](reading)):
                    return f"{entry.name} = {reading:g}: a {entry.accept} number is needed"
        return ""


@cache
def load_functions() -> dict[str, Function]:
    """Return every function by name, in the order of the file.

    Examples
    --------
    >>> load_functions()["speed"].outputs
    (Output(name='speed', unit='rad/s', is_list=False),)
    """
    text = files("shuntref.references").joinpath("cases", "functions.toml").read_text(encoding="utf-8")
    return {name: _function(name, entry) for name, entry in tomllib.loads(text).items()}


def _function(name: str, entry: Mapping[str, Any]) -> Function:
    inputs = tuple(
        Input(row["name"], row["unit"], row["accept"], row["required"], row.get("default"), row.get("shape") == "list")
        for row in entry["inputs"]
    )
    outputs = tuple(Output(row["name"], row["unit"], row.get("shape") == "list") for row in entry["outputs"])
    return Function(
        name,
        entry["group"],
        entry["sentence"],
        tuple(entry["equations"]),
        inputs,
        outputs,
        tuple(entry["preconditions"]),
    )


def function(name: str) -> Function:
    """Return the function called ``name``.

    Raises
    ------
    ValueError
        When the suite has no such function.
    """
    functions = load_functions()
    if name not in functions:
        raise ValueError(f"unknown function {str(name)[:60]!r}; the suite asks for {', '.join(functions)}")
    return functions[name]
