"""The cautions that go with every suggested setting, resistor or start."""

from __future__ import annotations

__all__ = ["CAUTIONS", "caution_text"]

CAUTIONS: tuple[str, ...] = (
    "Energised d.c. bench work can kill, and a runaway rotor can burst.",
    "Never open the field circuit of a running machine: it may overspeed, and the field breaks with an inductive arc.",
    "Start with the field rheostat at its least resistance and the armature starter at its most.",
    "Check that the field current flows before voltage is put on the armature.",
    "Keep every resistor within its rating, and mind that a resistor within its rating can still burn a hand.",
    "Keep the guards over the shaft and coupling; stand clear of the plane of rotation.",
    "Isolate, wait for standstill and for the field to die away, and prove dead before rewiring.",
    "An overspeed test level in a standard is never a permitted running speed.",
    "Figures from a model decide nothing: local codes, the maker's limits and a licensed or authorised person do.",
)


def caution_text(indent: str = "  ") -> str:
    """Return the cautions as a block of text for a terminal.

    Examples
    --------
    >>> print(caution_text().splitlines()[0])
    Cautions
    """
    return "\n".join(["Cautions", *(f"{indent}- {line}" for line in CAUTIONS)])
