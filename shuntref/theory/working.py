"""The moves that most derivations share: brush drop, flux curve, line drop, and resistances split in their parts."""

from __future__ import annotations

from dataclasses import dataclass

from shuntref.theory.worksheet import Worksheet

__all__ = [
    "Options",
    "behind_line",
    "brush",
    "field_current_of_k_phi",
    "field_side",
    "flux_curve",
    "k_phi_for_speed",
    "parts",
    "speed_of_k_phi",
    "supply_behind_line",
]


@dataclass(frozen=True)
class Options:
    """What is taken into account, and how far the result is written out.

    ``flux``: 'general' keeps k_phi itself; 'proportional' or 'froehlich' puts the curve in. ``connection``: 'shunt' or
    'separate'. ``reaction``: armature reaction in proportion to the armature current. ``detail``: 'field_current' stops
    at the field current, 'totals' goes on to the field circuit's resistance, 'parts' splits both circuits' resistances
    into their two parts. ``given``: what is known of the load, 'torque', 'speed' or 'current'. ``load``: 'torque',
    'quadratic' or 'constant_power'. ``branch``: which of two roots, 'upper' or 'lower'; '' means the one the
    machine runs on.
    """

    brush_drop: bool = False
    line_resistance: bool = False
    flux: str = "general"
    connection: str = "shunt"
    reaction: bool = False
    detail: str = "totals"
    given: str = "torque"
    load: str = "torque"
    branch: str = ""

    @property
    def shunt(self) -> bool:
        """Whether field and armature lie across the same voltage."""
        return self.connection == "shunt"


def brush(ws: Worksheet, o: Options) -> None:
    """Drop the brush drop unless it is wanted.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> sheet.state("armature-circuit")
    >>> brush(sheet, Options())
    >>> sheet.current.rhs
    armature_circuit_resistance*armature_current + back_emf
    """
    if not o.brush_drop:
        ws.use("brush-drop-neglected", "brush_drop")


def field_side(ws: Worksheet, o: Options) -> None:
    """Carry a field current on to voltage over resistance, as far as the wanted detail.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> sheet.state("flux-proportional")
    >>> sheet.use("effective-field-current", "effective_field_current")
    >>> sheet.use("reaction-none", "reaction_field_current")
    >>> field_side(sheet, Options())
    >>> sheet.current.rhs
    flux_constant*supply_voltage/field_circuit_resistance
    """
    if o.detail == "field_current":
        return
    ws.use("field-circuit", "field_current")
    if o.shunt:
        ws.use("shunt-connection", "field_voltage")


def flux_curve(ws: Worksheet, o: Options) -> None:
    """Replace k_phi by its flux curve, and the field current in it as far as the wanted detail.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> sheet.state("torque")
    >>> flux_curve(sheet, Options(flux="proportional"))
    >>> sheet.current.rhs
    armature_current*flux_constant*supply_voltage/field_circuit_resistance
    """
    if o.flux == "general":
        return
    ws.use(f"flux-{o.flux}", "k_phi")
    ws.use("effective-field-current", "effective_field_current")
    ws.use("reaction-proportional" if o.reaction else "reaction-none", "reaction_field_current")
    field_side(ws, o)


def parts(ws: Worksheet, o: Options) -> None:
    """Split both circuits' resistances in their parts where that detail is wanted.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> sheet.state("armature-circuit")
    >>> sheet.use("brush-drop-neglected", "brush_drop")
    >>> parts(sheet, Options(detail="parts"))
    >>> sheet.current.rhs
    armature_current*(added_armature_resistance + armature_resistance) + back_emf
    """
    if o.detail == "parts":
        ws.use("armature-circuit-resistance", "armature_circuit_resistance")
        ws.use("field-circuit-resistance", "field_circuit_resistance")


def supply_behind_line(ws: Worksheet, o: Options) -> None:
    """Find the supply voltage from the source voltage, and keep it; needs nothing when there is no line resistance.

    The drop in the line depends on both currents: the field current follows the supply voltage, the armature current
    is given, or follows a given torque or speed.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> supply_behind_line(sheet, Options(line_resistance=True))
    >>> sheet.current.rhs
    field_circuit_resistance*(-electromagnetic_torque*line_resistance +
    k_phi*source_voltage)/(k_phi*(field_circuit_resistance + line_resistance))
    """
    if not o.line_resistance:
        return
    ws.state("line-drop")
    ws.use("current-sum" if o.shunt else "current-sum-separate", "line_current")
    if o.given == "torque":
        ws.use("torque", "armature_current")
    elif o.given == "speed":
        ws.use("armature-circuit", "armature_current")
        brush(ws, o)
        ws.use("armature-emf", "back_emf")
    whole = Options(flux=o.flux, connection=o.connection)
    field_side(ws, whole)
    flux_curve(ws, whole)
    several = o.shunt and (
        (o.flux == "froehlich" and o.given != "current") or (o.flux == "proportional" and o.given == "torque")
    )
    ws.solve("supply_voltage", "upper" if several else "")
    ws.keep("supply")


def behind_line(ws: Worksheet, o: Options) -> None:
    """Put in the supply voltage found behind the line.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> supply_behind_line(sheet, Options(line_resistance=True, connection="separate"))
    >>> sheet.state("shunt-connection")
    >>> behind_line(sheet, Options(line_resistance=True))
    >>> sheet.current.rhs
    -electromagnetic_torque*line_resistance/k_phi + source_voltage
    """
    if o.line_resistance:
        ws.put("supply")


def speed_of_k_phi(ws: Worksheet, o: Options) -> None:
    """Arrive at the speed equation in terms of the flux and the torque.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> speed_of_k_phi(sheet, Options())
    >>> sheet.current.rhs
    -armature_circuit_resistance*electromagnetic_torque/k_phi**2 + supply_voltage/k_phi
    """
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.solve("speed")
    ws.use("torque", "armature_current")


def k_phi_for_speed(ws: Worksheet, o: Options) -> None:
    """Arrive at the flux that gives a wanted speed.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> k_phi_for_speed(sheet, Options())
    >>> sheet.current.rhs
    supply_voltage/(2*speed) + sqrt(-4*armature_circuit_resistance*electromagnetic_torque*speed +
    supply_voltage**2)/(2*speed)
    """
    ws.state("armature-circuit")
    brush(ws, o)
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    ws.solve("k_phi", o.branch or "upper")


def field_current_of_k_phi(ws: Worksheet, o: Options) -> None:
    """Arrive at the field current that gives a flux, on the curve of the options.

    Examples
    --------
    >>> sheet = Worksheet()
    >>> field_current_of_k_phi(sheet, Options(flux="froehlich"))
    >>> sheet.current.rhs
    froehlich_b*(k_phi - remanent_k_phi)/(froehlich_a - k_phi + remanent_k_phi)
    """
    ws.state(f"flux-{o.flux}")
    ws.use("effective-field-current", "effective_field_current")
    ws.use("reaction-none", "reaction_field_current")
    ws.solve("field_current")
