"""How the currents, the flux and the torques follow from the laws."""

from __future__ import annotations

from dataclasses import replace

from shuntref.theory.working import (
    Options,
    behind_line,
    brush,
    field_current_of_k_phi,
    field_side,
    flux_curve,
    k_phi_for_speed,
    parts,
    supply_behind_line,
)
from shuntref.theory.worksheet import Worksheet

__all__ = [
    "armature_current",
    "electromagnetic_torque",
    "field_current",
    "k_phi",
    "line_current",
    "load_torque",
    "loss_torque",
    "peak_torque",
    "stall_torque",
]


def field_current(ws: Worksheet, o: Options) -> None:
    """Field current in the circuit, or the one that a wanted speed calls for on a flux curve.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> field_current(sheet, Options(given="current"))
    >>> sheet.current.rhs
    supply_voltage/field_circuit_resistance
    """
    if o.given == "speed":
        k_phi_for_speed(ws, o)
        ws.keep("flux")
        field_current_of_k_phi(ws, o)
        ws.put("flux")
    else:
        supply_behind_line(ws, o)
        ws.state("field-circuit")
        if o.shunt:
            ws.use("shunt-connection", "field_voltage")
        ws.solve("field_current")
        if o.shunt:
            behind_line(ws, o)
    parts(ws, o)


def k_phi(ws: Worksheet, o: Options) -> None:
    """The flux that a wanted speed calls for, or the one that the flux curve gives.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> k_phi(sheet, Options(given="speed"))
    >>> sheet.current.rhs
    supply_voltage/(2*speed) + sqrt(-4*armature_circuit_resistance*electromagnetic_torque*speed + supply_voltage**2)/(2*speed)
    """
    if o.given == "speed":
        k_phi_for_speed(ws, o)
    else:
        ws.state(f"flux-{o.flux}")
        ws.use("effective-field-current", "effective_field_current")
        ws.use("reaction-proportional" if o.reaction else "reaction-none", "reaction_field_current")
        field_side(ws, o)
    parts(ws, o)


def armature_current(ws: Worksheet, o: Options) -> None:
    """Armature current for a given torque, or at a given speed.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> armature_current(sheet, Options())
    >>> sheet.current.rhs
    electromagnetic_torque/k_phi
    """
    if o.given == "speed":
        _armature_current_at_speed(ws, o)
    else:
        supply_behind_line(ws, o)
        ws.state("torque")
        flux_curve(ws, o)
        ws.solve("armature_current", (o.branch or "lower") if o.reaction else "")
        behind_line(ws, o)
    parts(ws, o)


def _armature_current_at_speed(ws: Worksheet, o: Options) -> None:
    o = replace(o, given="speed")
    supply_behind_line(ws, o)
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.solve("armature_current")
    flux_curve(ws, o)
    behind_line(ws, o)


def line_current(ws: Worksheet, o: Options) -> None:
    """Current in the line for a given torque.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> line_current(sheet, Options())
    >>> sheet.current.rhs
    electromagnetic_torque/k_phi + supply_voltage/field_circuit_resistance
    """
    supply_behind_line(ws, o)
    ws.state("current-sum" if o.shunt else "current-sum-separate")
    ws.use("torque", "armature_current")
    flux_curve(ws, o)
    field_side(ws, o)
    behind_line(ws, o)
    parts(ws, o)


def electromagnetic_torque(ws: Worksheet, o: Options) -> None:
    """Torque at a given speed.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> electromagnetic_torque(sheet, Options(given="speed"))
    >>> sheet.current.rhs
    k_phi*(-k_phi*speed/armature_circuit_resistance + supply_voltage/armature_circuit_resistance)
    """
    _armature_current_at_speed(ws, o)
    ws.keep("current")
    ws.state("torque")
    ws.put("current")
    flux_curve(ws, o)
    behind_line(ws, o)
    parts(ws, o)


def _share_of_torque(ws: Worksheet, o: Options, wanted: str) -> None:
    electromagnetic_torque(ws, o)
    ws.keep("torque")
    ws.state("torque-balance")
    ws.solve(wanted)
    ws.put("torque")


def load_torque(ws: Worksheet, o: Options) -> None:
    """Torque left for the load at a given speed, the loss torque taken off.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> load_torque(sheet, Options(given="speed"))
    >>> sheet.current.rhs
    k_phi*(-k_phi*speed/armature_circuit_resistance + supply_voltage/armature_circuit_resistance) - loss_torque
    """
    _share_of_torque(ws, o, "load_torque")


def loss_torque(ws: Worksheet, o: Options) -> None:
    """Torque lost in the machine, from what the armature makes and the load takes.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> loss_torque(sheet, Options(given="speed"))
    >>> sheet.current.rhs
    k_phi*(-k_phi*speed/armature_circuit_resistance + supply_voltage/armature_circuit_resistance) - load_torque
    """
    _share_of_torque(ws, o, "loss_torque")


def stall_torque(ws: Worksheet, o: Options) -> None:
    """Torque at standstill.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> stall_torque(sheet, Options(given="speed"))
    >>> sheet.current.rhs
    k_phi*supply_voltage/armature_circuit_resistance
    """
    electromagnetic_torque(ws, o)
    ws.use("standstill", "speed")
    ws.name("stall_torque")


def peak_torque(ws: Worksheet, o: Options) -> None:
    """The greatest torque that proportional armature reaction leaves, on proportional flux.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> peak_torque(sheet, Options(detail="field_current"))
    >>> sheet.current.rhs
    field_current**2*flux_constant/(4*reaction_coefficient)
    """
    ws.state("torque")
    flux_curve(ws, replace(o, flux="proportional", reaction=True))
    ws.keep("torque")
    ws.differentiate("armature_current")
    ws.solve("armature_current")
    ws.keep("peak")
    ws.take_up("torque")
    ws.put("peak")
    parts(ws, o)
    ws.name("peak_torque")
