"""A machine guessed from its nameplate: good enough to choose first resistors, with uncertainties that own up to it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from shuntref.model.flux import FroehlichFlux
from shuntref.model.formulas import to_rad_per_s
from shuntref.model.load import ConstantTorque
from shuntref.model.machine import Machine
from shuntref.model.standards import standard_value

__all__ = ["GuessedMachine", "guess_machine"]


#: rated field current over rated voltage/cold resistance: a warm winding has up to a third more resistance than a cold one,
#: and a plate is rounded; common practice, no source
_WARM, _COLD = 0.7, 1.1


@dataclass(frozen=True)
class GuessedMachine:
    """The guess: the machine, relative standard uncertainties of its parts, and every assumption in words.

    ``saturation`` is the rated field current over the half-gain current b of the curve, ``saturation_spread`` its standard
    uncertainty; ``remanence`` the remanent flux over the rated one.
    """

    machine: Machine
    relative: dict[str, float]
    saturation: float
    saturation_spread: float
    remanence: float
    assumptions: tuple[str, ...]

    def flux(self, parts: Mapping[str, float]) -> FroehlichFlux:
        """The flux curve that goes through the rated point with other resistances, brush drop or saturation.

        Whatever the field resistance really is, the machine makes its rated speed at its rated voltage: the nameplate
        ties the curve to the field current that then flows.
        """
        return _curve(
            self.machine.nameplate,
            parts["armature_resistance"],
            parts["field_resistance"],
            parts["brush_drop"],
            parts["saturation"],
            self.remanence,
        )


def _curve(
    plate: Mapping[str, float], armature: float, winding: float, drop: float, saturation: float, remanence: float
) -> FroehlichFlux:
    voltage = plate["rated_supply_voltage"]
    field = voltage / winding
    emf = voltage - drop - (plate["rated_line_current"] - field) * armature
    top = emf / to_rad_per_s(plate["rated_speed_rpm"])
    b = field / max(saturation, 0.05)
    return FroehlichFlux((1.0 - remanence) * top * (b + field) / field, b, remanence * top)


def _band(identity: str, power: float) -> tuple[float, float]:
    """Lower and upper share of a typical range for a machine of a rated output [W]."""
    for band in standard_value("typical", identity)["bands"]:
        if "below_kW" not in band or power < 1000.0 * band["below_kW"]:
            low, high = band["range"]
            return low / 100.0, high / 100.0
    raise ValueError(f"typical range {identity} has no last band")


def _middle(low: float, high: float) -> tuple[float, float]:
    """Middle of a range and its standard uncertainty, relative: any value in it as likely."""
    middle = (low + high) / 2.0
    return middle, (high - low) / 2.0 / math.sqrt(3.0) / middle


def _contradiction(computed: float, stated: float | None, winding: float, voltage: float) -> list[str]:
    """A word about a field current on the plate that the field resistance does not give."""
    if stated is None or _WARM * computed <= stated <= _COLD * computed:
        return []
    return [
        f"CONTRADICTION: the nameplate says {stated:.3g} A in the field, but {winding:.4g} ohm at {voltage:g} V take "
        f"{computed:.3g} A; the resistance was used. Look for a slip of the pen, a field rheostat that was left in, or coils "
        "joined in another way, before anything is connected"
    ]


def guess_machine(nameplate: Mapping[str, float], measured: Mapping[str, float]) -> GuessedMachine:
    """Guess a machine from its nameplate and whatever resistances were measured.

    Parameters
    ----------
    nameplate : mapping
        ``rated_supply_voltage`` [V], ``rated_line_current`` [A], ``rated_speed_rpm`` [r/min], ``rated_output_power`` [W];
        ``rated_field_current`` [A] where the plate gives it.
    measured : mapping
        Any of ``armature_resistance`` [ohm], ``field_resistance`` [ohm], ``brush_drop`` [V].

    Returns
    -------
    GuessedMachine

    Raises
    ------
    ValueError
        A nameplate value is missing, or the plate contradicts itself.

    Notes
    -----
    The rated point fixes the flux: E = U - U_b - I_a R_a at the rated speed. What the plate does not say is taken from
    typical ranges (references/standards/typical.toml), each as a rectangular distribution over its range.

    Examples
    --------
    >>> plate = {"rated_supply_voltage": 120.0, "rated_line_current": 9.5, "rated_speed_rpm": 1500.0,
    ...          "rated_output_power": 900.0}
    >>> guess = guess_machine(plate, {"field_resistance": 160.0})
    >>> round(guess.machine.flux.k_phi(0.75), 3), "armature resistance" in guess.assumptions[0]
    (0.646, True)
    """
    needed = ("rated_supply_voltage", "rated_line_current", "rated_speed_rpm", "rated_output_power")
    for name in needed:
        if name not in nameplate:
            raise ValueError(f"a guess needs {name} on the nameplate; give [nameplate] {', '.join(needed)}")
        if not 1e-30 <= nameplate[name] <= 1e30:
            raise ValueError(f"{name} is {nameplate[name]:g}; a nameplate value is above zero, and of ordinary size")
    voltage, line, power = (
        nameplate[name] for name in ("rated_supply_voltage", "rated_line_current", "rated_output_power")
    )
    if power >= voltage * line:
        raise ValueError(
            f"the nameplate gives {power:g} W at the shaft from {voltage * line:g} W at the terminals; "
            "look again at rated_output_power, rated_supply_voltage and rated_line_current"
        )
    relative = {"flux_scale": 0.03}
    notes = []
    if "armature_resistance" in measured:
        armature = measured["armature_resistance"]
    else:
        share, relative["armature_resistance"] = _middle(*_band("armature-drop", power))
        armature = share * voltage / line
        low, high = (100.0 * bound for bound in _band("armature-drop", power))
        notes.append(
            f"armature resistance GUESSED as {armature:.3g} ohm, {100 * share:.3g} % drop at rated current (anything from "
            f"{low:g} to {high:g} % is usual): measure it by volt-ampere with the rotor at rest before the first start"
        )
    if "field_resistance" in measured:
        winding = measured["field_resistance"]
    elif "rated_field_current" in nameplate:
        winding, relative["field_resistance"] = voltage / nameplate["rated_field_current"], 0.05
        notes.append(f"field resistance taken as {winding:.4g} ohm, rated voltage over rated field current")
    else:
        share, relative["field_resistance"] = _middle(*_band("field-current", power))
        winding = voltage / (share * line)
        notes.append(
            f"field resistance guessed as {winding:.3g} ohm: field current {100 * share:.2g} % of the line current"
        )
    notes += _contradiction(voltage / winding, nameplate.get("rated_field_current"), winding, voltage)
    drop = measured.get("brush_drop", float(standard_value("typical", "brush-drop-carbon")["total"]))
    if "brush_drop" not in measured:
        relative["brush_drop"] = 0.25
        notes.append(f"brush drop taken as {drop:g} V in all, the convention for carbon brushes")
    shunt = voltage / winding
    current, speed = line - shunt, to_rad_per_s(nameplate["rated_speed_rpm"])
    emf = voltage - drop - current * armature
    if current <= 0.0 or emf <= 0.0:
        raise ValueError(
            f"with {winding:g} ohm in the field and {armature:g} ohm in the armature the rated point leaves {current:.3g} A "
            f"and {emf:.3g} V for the armature; look again at the measured resistances and the nameplate"
        )
    k_phi = emf / speed
    low, high = standard_value("typical", "saturation")["range"]
    saturation, spread = math.sqrt(low * high), (high - low) / 2.0 / math.sqrt(3.0)
    remanence = sum(standard_value("typical", "remanence")["range"]) / 200.0
    flux = _curve(nameplate, armature, winding, drop, saturation, remanence)
    notes.append(
        f"flux curve through the rated point, saturation guessed: rated field current {saturation:.3g} times the one that "
        f"gives half of the greatest flux (anything from {low:g} to {high:g} is usual)"
    )
    notes.append(f"remanence guessed as {100 * remanence:.2g} % of the rated flux")
    lost = k_phi * current - power / speed
    relative["loss_scale"] = 0.3
    if lost <= 0.0:
        share, _ = _middle(*_band("rotational-loss", power))
        lost = share * power / speed
        notes.append("the nameplate leaves no torque for friction and iron, so a typical loss was taken")
    else:
        notes.append(f"loss torque {lost:.3g} N m: what the rated point leaves between airgap and shaft")
    machine = Machine(
        armature_resistance=armature,
        field_resistance=winding,
        flux=flux,
        brush_drop=drop,
        loss_torque=ConstantTorque(lost),
        nameplate=dict(nameplate),
        name="guessed from the nameplate",
    )
    return GuessedMachine(machine, relative, saturation, spread, remanence, tuple(notes))
