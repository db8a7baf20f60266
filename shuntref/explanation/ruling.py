"""Which theorem rules a change, by what margin, and where the direction would turn round."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from shuntref.explanation.account import Account, Situation
from shuntref.model.flux import ProportionalFlux
from shuntref.model.load import ConstantTorque
from shuntref.model.reaction import ProportionalReaction
from shuntref.model.steady import steady_state
from shuntref.quantities.text import format_value

__all__ = ["Ruling", "Turning", "ruling"]

#: where the search for the turning point ends, as a multiple of the resistance of the field circuit
FARTHEST_FIELD = 1.0e4


@dataclass(frozen=True)
class Turning:
    """The value at which the direction of the effect turns round, and the speed there, where there is such a value."""

    quantity: str
    value: float | None
    speed_rpm: float | None
    words: str


@dataclass(frozen=True)
class Ruling:
    """The theorem that decides the direction of an effect.

    ``theorem`` is a slug of the theory layer (or ``speed-equation`` where the equation itself says it all), ``statement``
    and ``condition`` its words. The margin is in the unit of ``margin_of``; the theorem's condition holds while it is
    above zero, and it is given at the point before the change and at the point after it.
    """

    theorem: str
    statement: str
    condition: str
    margin_of: str
    margin_before: float
    margin_after: float
    turning: Turning
    caveat: str = ""


def ruling(story: Account) -> Ruling:
    """Find the theorem that rules the change of an account, its margins and its turning point.

    Parameters
    ----------
    story : Account

    Returns
    -------
    Ruling

    Notes
    -----
    The theorem is one of ``shuntref.theory.theorems``; its margin is evaluated at both points.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux
    >>> from shuntref.explanation.account import account
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> story = account(Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0), "added_field_resistance", 20.0)
    >>> rule = ruling(story)
    >>> rule.theorem, round(rule.margin_before, 1), round(rule.turning.value)
    ('added-field-resistance-and-speed', 53.6, 1340)
    """
    kind = story.acts_on
    if kind == "field":
        return _field(story)
    if kind == "armature":
        return _armature(story)
    if kind == "load":
        return _load(story)
    return _voltage(story)


def _half_voltage_margin(point: dict[str, float]) -> float:
    """E - (U - U_b)/2: above zero, a weaker field means more speed."""
    return point["back_emf"] - (point["supply_voltage"] - point["signed_brush_drop"]) / 2.0


def _field(story: Account) -> Ruling:
    situation, name = story.situation, story.name
    caveat = ""
    if story.before["line_loss"] > 0.0:
        caveat = ("With resistance in the line the voltage at the machine gives way with the current, so the condition "
                  "E > U/2 holds for a constant voltage at its terminals only; the turning point below is searched on "
                  "the whole circuit.")  # fmt: skip
    shunt = situation.machine.connection == "shunt" and name != "field_voltage"
    return Ruling(
        *_theorem("added-field-resistance-and-speed" if shunt else "weakening-the-field"),
        "back_emf",
        _half_voltage_margin(story.before),
        _half_voltage_margin(story.after),
        _field_turning(situation, name, bool(caveat)),
        caveat,
    )


def _field_turning(situation: Situation, name: str, behind_line: bool) -> Turning:
    """Search for the field resistance (or voltage) at which the speed is greatest."""
    if _torque(situation) <= 0.0:
        return Turning(
            name, None, None, "With no torque to pull there is no turning: the weaker the field, the faster."
        )
    start = situation.value(name)
    if name == "field_voltage":
        grid = np.geomspace(max(start, 1.0), max(start, 1.0) / FARTHEST_FIELD, 4001)
    else:
        whole = situation.machine.field_resistance + situation.circuit.get("added_field_resistance", 0.0)
        grid = np.concatenate(([start], start + whole * np.geomspace(1e-4, FARTHEST_FIELD, 4000)))
    sweep = situation.states(name, grid)
    speeds = np.asarray(sweep.speed)
    reached = np.isfinite(speeds)
    if not reached.any():
        return Turning(name, None, None, "No further point of this circuit can be computed.")
    last = int(np.argmin(reached)) if not reached.all() else len(grid)
    peak = int(np.argmax(speeds[:last]))
    if peak == 0:
        where = format_value(name, start)
        return Turning(name, start, float(sweep.speed_rpm[0]), f"The direction has already turned round at {where}.")
    if peak >= last - 1:
        if last < len(grid):
            why = str(np.asarray(sweep.status_text)[last])
            return Turning(name, None, None, f"No turning is found before the model ends ({why}).")
        words = "There is no turning: even with the field open, the remanent flux keeps the back EMF above half the voltage."
        return Turning(name, None, None, words)
    value = _refined(situation, name, float(grid[peak - 1]), float(grid[peak + 1]), behind_line)
    at = situation.changed(name, value).state()
    words = (f"At {format_value(name, value)} the direction would turn round, at {at.speed_rpm:.4g} r/min by this model: "
             "far past anything a rotor or a rheostat is made for.")  # fmt: skip
    return Turning(name, value, float(at.speed_rpm), words)


def _refined(situation: Situation, name: str, low: float, high: float, behind_line: bool) -> float:
    from scipy.optimize import brentq, minimize_scalar

    def margin(value: float) -> float:
        point = situation.changed(name, value).state()
        sign = 1.0 if point.armature_current > 0.0 else -1.0
        drop = sign * situation.circuit.get("brush_drop", situation.machine.brush_drop)
        return float(point.back_emf - (point.supply_voltage - drop) / 2.0)

    left, right = sorted((low, high))
    if not behind_line and margin(left) * margin(right) < 0.0:
        return float(brentq(margin, left, right, xtol=1e-12 * right, rtol=1e-14))
    found = minimize_scalar(
        lambda value: -float(situation.changed(name, value).state().speed), bounds=(left, right), method="bounded"
    )
    return float(found.x)


def _torque(situation: Situation) -> float:
    """Electromagnetic torque at the running point [N m]."""
    return float(situation.state().electromagnetic_torque)


def _armature(story: Account) -> Ruling:
    situation = story.situation
    lossless = dataclasses.replace(situation.machine, loss_torque=ConstantTorque(0.0))
    circuit: dict[str, Any] = dict(situation.circuit)
    idle = steady_state(lossless, **circuit)
    balance = 0.0 - float(situation.machine.loss_torque.torque(idle.speed))
    words = (f"It turns round where the electromagnetic torque is zero: with a load torque of {balance:.4g} N m"
             + (", that is, a load that drives the machine and just covers its losses." if balance < 0.0 else
                ", an idle shaft without losses, where armature resistance changes nothing."))  # fmt: skip
    return Ruling(
        *_theorem("armature-resistance-and-speed"),
        "electromagnetic_torque",
        story.before["electromagnetic_torque"],
        story.after["electromagnetic_torque"],
        Turning("load_torque", balance, float(idle.speed_rpm), words),
    )


def _load(story: Account) -> Ruling:
    machine = story.situation.machine
    reaction = machine.armature_reaction
    if isinstance(reaction, ProportionalReaction) and isinstance(machine.flux, ProportionalFlux):

        def margin(point: dict[str, float]) -> float:
            droop = point["armature_circuit_resistance"] / point["supply_voltage"]
            return droop - reaction.reaction_coefficient / point["field_current"]

        flat = (
            story.before["armature_circuit_resistance"] / story.before["supply_voltage"] * story.before["field_current"]
        )
        words = (f"The characteristic would be level, and then rise, with an armature reaction of {flat:.4g} A of field per "
                 "ampere of armature current.")  # fmt: skip
        return Ruling(
            *_theorem("rising-characteristic"),
            "reaction_coefficient over field_current, below R/U",
            margin(story.before),
            margin(story.after),
            Turning("reaction_coefficient", flat, None, words),
        )
    words = "Without armature reaction there is no turning: the line of speed against torque falls throughout."
    if not reaction.absent:
        words = "The curve of speed against torque may rise where the armature reaction outweighs the armature drop."
    return Ruling(
        "speed-equation",
        "More torque needs more armature current; its drop leaves less back EMF, and the speed falls by T_e R/kPhi^2.",
        "some resistance in the armature circuit, R > 0, and a flux that does not depend on the armature current",
        "armature_circuit_resistance",
        story.before["armature_circuit_resistance"],
        story.after["armature_circuit_resistance"],
        Turning("load_torque", None, None, words),
    )


def _voltage(story: Account) -> Ruling:
    machine = story.situation.machine
    before, after = story.before["electromagnetic_torque"], story.after["electromagnetic_torque"]
    if machine.connection == "shunt" and story.acts_on == "line":
        words = (
            "It turns round where torque and line current have different signs: a light load that drives the machine."
        )
        turning = Turning("line_current", 0.0, None, words)
        before, after = (
            point["electromagnetic_torque"] * point["line_current"] for point in (story.before, story.after)
        )
        return Ruling(*_theorem("line-resistance"), "torque times line current", before, after, turning)
    if machine.connection == "shunt" and story.acts_on == "supply":
        if isinstance(machine.flux, ProportionalFlux):
            turning = Turning("electromagnetic_torque", 0.0, None,
                              "It turns round where the torque is zero: there the voltage leaves the speed alone.")  # fmt: skip
            return Ruling(*_theorem("supply-voltage-and-speed"), "electromagnetic_torque", before, after, turning)
        statement = ("In a shunt connection the voltage acts on flux and armature alike. With proportional flux the two would "
                     "cancel at no load; the iron is near saturation, so the flux gives way less and the speed follows the "
                     "voltage in part.")  # fmt: skip
        turning = Turning(
            "supply_voltage", None, None, "There is no turning while the machine pulls: more voltage, more speed."
        )
        return Ruling(
            "speed-equation", statement, "motoring torque: T_e > 0", "electromagnetic_torque", before, after, turning
        )
    statement = (
        "With the flux held, the speed follows what the drops leave of the armature voltage, (U - U_b - I_a R)/kPhi."
    )
    turning = Turning(
        story.name, None, None, "There is no turning: more voltage left for the back EMF means more speed."
    )
    return Ruling("speed-equation", statement, "always", "electromagnetic_torque", before, after, turning)


def _theorem(slug: str) -> tuple[str, str, str]:
    """Slug, statement and condition of a theorem of the theory layer."""
    from shuntref.theory.theorems import THEOREMS

    theorem = THEOREMS[slug]
    return slug, theorem.statement, theorem.condition
