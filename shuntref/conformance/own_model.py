"""The functions of the suite answered by our own model: what every other implementation is measured beside.

Each function takes the inputs by their registry names and returns its outputs by name; inputs that no machine can meet
raise ValueError. ``FUNCTIONS`` maps the suite's names to them, and each is an attribute of this module too. The work is
done by ``shuntref.model``; what is added is the straight line between table points, which the suite asks for in place of
the model's own smooth curve.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

# imported because they register their functions
from shuntref.conformance import own_readings, own_running
from shuntref.conformance.own_answers import FUNCTIONS

__all__ = ["FUNCTIONS", "answer", "own_readings", "own_running"]


def answer(name: str, inputs: Mapping[str, Any]) -> dict[str, Any]:
    """Return the model's answer to a function of the suite.

    Examples
    --------
    >>> answer("speed_at_k_phi", {"supply_voltage": 120.0, "k_phi": 0.75, "armature_resistance": 0.8, "load_torque": 6.0})
    {'speed': 151.46666666666667}
    """
    return FUNCTIONS[name](**inputs)


def __getattr__(name: str) -> Callable[..., dict[str, Any]]:
    if name in FUNCTIONS:
        return FUNCTIONS[name]
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
