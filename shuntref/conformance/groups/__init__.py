"""The certified cases by group: which equations each function stands for, its mistakes, and the rows of inputs."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shuntref.conformance.certify import Entry

__all__ = ["all_entries"]

_MODULES = (
    "speed",
    "speed_further",
    "currents",
    "back_emf",
    "added_resistance",
    "starting",
    "two_states",
    "saturation",
    "reaction",
    "losses",
    "identification",
)


def all_entries() -> dict[str, Entry]:
    """Return what every function stands for, in the order of functions.toml.

    Raises
    ------
    ValueError
        When a function of the file has no entry, or an entry no function.

    Examples
    --------
    >>> "speed" in all_entries()
    True
    """
    from shuntref.conformance.functions import load_functions

    import_module("shuntref.conformance.slips_of_number")  # registers its mistakes
    found: dict[str, Entry] = {}
    for module in _MODULES:
        found.update(import_module(f"{__name__}.{module}").ENTRIES)
    functions = load_functions()
    if set(found) != set(functions):
        raise ValueError(f"functions and entries differ: {', '.join(sorted(set(found) ^ set(functions)))}")
    return {name: found[name] for name in functions}
