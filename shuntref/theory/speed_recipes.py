"""How the speed, the back EMF and the voltage follow from the laws."""

from __future__ import annotations

from shuntref.theory.working import (
    Options,
    behind_line,
    brush,
    field_side,
    flux_curve,
    parts,
    speed_of_k_phi,
    supply_behind_line,
)
from shuntref.theory.worksheet import Worksheet

__all__ = ["back_emf", "ideal_no_load_speed", "peak_k_phi", "peak_speed", "speed", "speed_rpm", "supply_voltage"]


def speed(ws: Worksheet, o: Options) -> None:
    """Speed for a given torque, or for a load that changes with the speed.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> speed(sheet, Options())
    >>> sheet.current.rhs
    -armature_circuit_resistance*electromagnetic_torque/k_phi**2 + supply_voltage/k_phi
    """
    if o.load != "torque":
        _speed_with_load(ws, o)
    elif o.reaction:
        _speed_with_reaction(ws, o)
    else:
        supply_behind_line(ws, o)
        speed_of_k_phi(ws, o)
        flux_curve(ws, o)
        behind_line(ws, o)
    parts(ws, o)


def _speed_with_load(ws: Worksheet, o: Options) -> None:
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    ws.use("load-quadratic" if o.load == "quadratic" else "load-constant-power", "electromagnetic_torque")
    ws.solve("speed", o.branch or "upper")
    flux_curve(ws, o)


def _speed_with_reaction(ws: Worksheet, o: Options) -> None:
    ws.state("torque")
    flux_curve(ws, o)
    ws.solve("armature_current", o.branch or "lower")
    ws.keep("current")
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.solve("speed")
    ws.use("torque", "k_phi")
    ws.put("current")


def speed_rpm(ws: Worksheet, o: Options) -> None:
    """The same speed in revolutions per minute.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> speed_rpm(sheet, Options())
    >>> sheet.current.rhs
    30*(-armature_circuit_resistance*electromagnetic_torque/k_phi**2 + supply_voltage/k_phi)/pi
    """
    speed(ws, o)
    ws.keep("speed")
    ws.state("speed-conversion")
    ws.solve("speed_rpm")
    ws.put("speed")


def ideal_no_load_speed(ws: Worksheet, o: Options) -> None:
    """Speed at no torque; without current the brushes drop nothing, so the law with the current's sign is the one.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> ideal_no_load_speed(sheet, Options())
    >>> sheet.current.rhs
    supply_voltage/k_phi
    """
    if o.line_resistance and o.shunt:
        # with no armature current the line carries the field current alone
        ws.state("line-drop")
        ws.use("current-sum", "line_current")
        ws.use("torque", "armature_current")
        ws.use("ideal-no-load", "electromagnetic_torque")
        field_side(ws, Options())
        ws.solve("supply_voltage")
        ws.keep("supply")
    ws.state("armature-circuit-signed")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    ws.use("ideal-no-load", "electromagnetic_torque")
    ws.solve("speed")
    flux_curve(ws, o)
    if o.line_resistance and o.shunt:
        ws.put("supply")
    parts(ws, o)
    ws.name("ideal_no_load_speed")


def _to_the_peak(ws: Worksheet, o: Options) -> None:
    speed_of_k_phi(ws, o)
    ws.keep("speed")
    ws.differentiate("k_phi")
    ws.solve("k_phi")
    parts(ws, o)
    ws.keep("peak")


def peak_k_phi(ws: Worksheet, o: Options) -> None:
    """The flux at which weakening it further lowers the speed again.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> peak_k_phi(sheet, Options())
    >>> sheet.current.rhs
    2*armature_circuit_resistance*electromagnetic_torque/supply_voltage
    """
    _to_the_peak(ws, o)
    ws.name("peak_k_phi")


def peak_speed(ws: Worksheet, o: Options) -> None:
    """The greatest speed that weakening the flux gives at one torque.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> peak_speed(sheet, Options())
    >>> sheet.current.rhs
    supply_voltage**2/(4*armature_circuit_resistance*electromagnetic_torque)
    """
    _to_the_peak(ws, o)
    ws.take_up("speed")
    parts(ws, o)
    ws.put("peak")
    ws.name("peak_speed")


def back_emf(ws: Worksheet, o: Options) -> None:
    """Back EMF for a given torque, speed or armature current.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> back_emf(sheet, Options())
    >>> sheet.current.rhs
    -armature_circuit_resistance*electromagnetic_torque/k_phi + supply_voltage
    """
    if o.given == "speed":
        ws.state("armature-emf")
        flux_curve(ws, o)
        parts(ws, o)
        return
    supply_behind_line(ws, o)
    ws.state("armature-circuit")
    brush(ws, o)
    ws.solve("back_emf")
    if o.given == "torque":
        ws.use("torque", "armature_current")
        flux_curve(ws, o)
    behind_line(ws, o)
    parts(ws, o)


def supply_voltage(ws: Worksheet, o: Options) -> None:
    """The voltage that gives a wanted speed at a given torque and flux.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> supply_voltage(sheet, Options())
    >>> sheet.current.rhs
    armature_circuit_resistance*electromagnetic_torque/k_phi + k_phi*speed
    """
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    parts(ws, o)
