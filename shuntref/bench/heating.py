"""Remarks on winding temperature: how much heat a setting puts into the windings, against what the nameplate allows."""

from __future__ import annotations

from shuntref.bench.bench_file import Bench
from shuntref.model.standards import standard_value

__all__ = ["rated_armature_current", "temperature_remark"]


def rated_armature_current(bench: Bench) -> float | None:
    """Rated armature current [A] from the nameplate: given, or line current less the field's; None when neither is."""
    plate = bench.machine.nameplate
    if "rated_armature_current" in plate:
        return float(plate["rated_armature_current"])
    if "rated_line_current" in plate:
        voltage = plate.get("rated_supply_voltage", bench.supply_voltage)
        field = plate.get("rated_field_current", voltage / bench.machine.field_resistance)
        return float(plate["rated_line_current"] - field)
    return None


def temperature_remark(bench: Bench, armature_current: float, field_current: float, speed_rpm: float) -> str:
    """Say what a setting does to the winding temperatures.

    Notes
    -----
    The copper loss of a winding goes with the square of its current, and its temperature rise about with the loss at the
    same cooling. A self-ventilated machine cools worse when it runs slower, so a low speed is named. The permitted
    rises are those of references/standards/insulation.toml, which are from memory.
    """
    rated = rated_armature_current(bench)
    parts = []
    if rated is None:
        parts.append("no rated current on the nameplate, so the winding temperature cannot be judged")
    else:
        heat = (armature_current / rated) ** 2
        text = f"armature copper at {100.0 * heat:.0f} % of its rated loss"
        if bench.insulation_class:
            rise = float(standard_value("insulation", "rise-armature")[bench.insulation_class])
            text += (
                f", about {rise * heat:.0f} K of the {rise:.0f} K of class {bench.insulation_class} at rated cooling"
            )
        if heat > 1.0:
            text += ": for minutes only"
        parts.append(text)
    rated_speed = bench.machine.nameplate.get("rated_speed_rpm")
    if rated_speed is not None and speed_rpm < 0.7 * rated_speed:
        parts.append(
            f"at {100.0 * speed_rpm / rated_speed:.0f} % of rated speed a fan on the shaft cools less: keep it short"
        )
    full = bench.supply_voltage / bench.machine.field_resistance
    share = (field_current / full) ** 2
    if share < 0.97:
        parts.append(f"field copper down to {100.0 * share:.0f} %, so the field cools and its resistance drifts down")
    return "; ".join(parts)
