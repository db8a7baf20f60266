"""The cautions that go with every suggested setting, resistor or start."""

from __future__ import annotations

__all__ = ["CAUTIONS", "SUGGESTED", "caution_text", "cautions_in"]

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

#: whoever is given one of these quantities is given a resistor, a setting or a start, and the cautions with it
SUGGESTED = frozenset(
    {
        "added_armature_resistance",
        "added_field_resistance",
        "armature_circuit_resistance",
        "field_circuit_resistance",
        "field_voltage",
        "section_resistance",
        "sections",
        "starting_current",
        "starting_resistance",
        "step_circuit_resistance",
        "studs",
        "supply_voltage",
    }
)


def caution_text(indent: str = "  ") -> str:
    """Return the cautions as a block of text for a terminal.

    Examples
    --------
    >>> print(caution_text().splitlines()[0])
    Cautions
    """
    return "\n".join(["Cautions", *(f"{indent}- {line}" for line in CAUTIONS)])


def cautions_in(form: str) -> str:
    r"""Return the cautions as a block of a document: "text", "markdown" or "latex".

    Examples
    --------
    >>> print(cautions_in("latex").splitlines()[0])
    \subsection*{Cautions}
    """
    if form == "markdown":
        return "\n".join(["## Cautions", "", *(f"- {line}" for line in CAUTIONS)])
    if form == "latex":
        items = (rf"\item {line}" for line in CAUTIONS)
        return "\n".join([r"\subsection*{Cautions}", r"\begin{itemize}", *items, r"\end{itemize}"])
    return caution_text()
