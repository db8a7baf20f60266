"""How the resistances follow from what is wanted of the machine."""

from __future__ import annotations

from dataclasses import replace

from shuntref.theory.working import (
    Options,
    behind_line,
    brush,
    field_current_of_k_phi,
    flux_curve,
    k_phi_for_speed,
    parts,
    supply_behind_line,
)
from shuntref.theory.worksheet import Worksheet

__all__ = [
    "added_armature_resistance",
    "added_field_resistance",
    "starting_resistance",
    "winding_resistance",
    "winding_temperature",
]


def added_field_resistance(ws: Worksheet, o: Options) -> None:
    """Field rheostat for a wanted field current (flux 'general'), or for a wanted speed on a flux curve.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> added_field_resistance(sheet, Options())
    >>> sheet.current.rhs
    -field_resistance + supply_voltage/field_current
    """
    if o.flux == "general":
        _added_field_resistance_for_current(ws, o)
        return
    if o.line_resistance:
        _flux_behind_line(ws, o)
    else:
        k_phi_for_speed(ws, o)
    ws.keep("flux")
    if not o.line_resistance:
        field_current_of_k_phi(ws, o)
        ws.keep("field current")
    if o.line_resistance:
        ws.state("armature-circuit")
        brush(ws, o)
        ws.use("armature-emf", "back_emf")
        ws.use("torque", "armature_current")
        ws.keep("supply")
    _field_rheostat(ws, o)
    ws.put("field current")
    behind_line(ws, o)
    ws.put("flux")
    parts(ws, o)


def _field_rheostat(ws: Worksheet, o: Options) -> None:
    ws.state("field-circuit")
    if o.shunt:
        ws.use("shunt-connection", "field_voltage")
    ws.use("field-circuit-resistance", "field_circuit_resistance")
    ws.solve("added_field_resistance")


def _added_field_resistance_for_current(ws: Worksheet, o: Options) -> None:
    if o.line_resistance and o.shunt:
        ws.state("line-drop")
        ws.use("current-sum", "line_current")
        ws.solve("supply_voltage")
        ws.keep("supply")
    _field_rheostat(ws, o)
    if o.line_resistance and o.shunt:
        ws.put("supply")


def _flux_behind_line(ws: Worksheet, o: Options) -> None:
    """The flux for a wanted speed when the line's drop depends on the field current that makes it."""
    field_current_of_k_phi(ws, o)
    ws.keep("field current")
    ws.state("line-drop")
    ws.use("current-sum" if o.shunt else "current-sum-separate", "line_current")
    ws.use("armature-circuit", "supply_voltage")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    ws.put("field current")
    ws.solve("k_phi", o.branch or "upper")


def added_armature_resistance(ws: Worksheet, o: Options) -> None:
    """Armature rheostat for a wanted speed at a given torque.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> added_armature_resistance(sheet, Options())
    >>> sheet.current.rhs
    -armature_resistance - k_phi**2*speed/electromagnetic_torque + k_phi*supply_voltage/electromagnetic_torque
    """
    supply_behind_line(ws, o)
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    ws.use("armature-circuit-resistance", "armature_circuit_resistance")
    ws.solve("added_armature_resistance")
    flux_curve(ws, o)
    behind_line(ws, o)
    parts(ws, o)


def starting_resistance(ws: Worksheet, o: Options) -> None:
    """Resistance that holds the current at standstill to a stated value.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> starting_resistance(sheet, Options())
    >>> sheet.current.rhs
    -armature_resistance + supply_voltage/starting_current
    """
    supply_behind_line(ws, replace(o, given="current"))
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.use("standstill", "speed")
    behind_line(ws, o)
    ws.use("armature-circuit-resistance", "armature_circuit_resistance")
    ws.use("starting-resistance", "added_armature_resistance")
    ws.use("starting-current", "armature_current")
    ws.solve("starting_resistance")
    parts(ws, o)


def winding_resistance(ws: Worksheet, o: Options) -> None:
    """Resistance of a winding at another temperature.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> winding_resistance(sheet, Options())
    >>> sheet.current.rhs
    reference_resistance*(temperature_constant + winding_temperature)/(reference_temperature + temperature_constant)
    """
    ws.state("winding-temperature")
    ws.solve("winding_resistance")


def winding_temperature(ws: Worksheet, o: Options) -> None:
    """Temperature of a winding from its resistance.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> winding_temperature(sheet, Options())
    >>> sheet.current.rhs
    -temperature_constant + reference_temperature*winding_resistance/reference_resistance +
    temperature_constant*winding_resistance/reference_resistance
    """
    ws.state("winding-temperature")
    ws.solve("winding_temperature")
