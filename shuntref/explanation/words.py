"""The account of a change in words, as a teacher would say it with this machine's numbers."""

from __future__ import annotations

import textwrap

from shuntref.explanation.account import Account
from shuntref.explanation.ruling import Ruling
from shuntref.quantities.registry import quantity
from shuntref.quantities.text import format_value

__all__ = ["adding_up", "story_text"]

WIDTH = 100


def adding_up(parts: list[float], decimals: int = 1) -> list[float]:
    """Round numbers so that the rounded ones still add up to their rounded sum; the largest takes the difference.

    Parameters
    ----------
    parts : list of float
    decimals : int

    Returns
    -------
    list of float

    Examples
    --------
    >>> adding_up([180.163, -10.823])
    [180.1, -10.8]
    """
    if not parts:
        return []
    rounded = [round(part, decimals) for part in parts]
    rest = round(sum(parts), decimals) - sum(rounded)
    largest = max(range(len(parts)), key=lambda i: abs(parts[i]))
    rounded[largest] = round(rounded[largest] + rest, decimals)
    return rounded


def story_text(story: Account, rule: Ruling) -> str:
    """Tell the whole story: the setting, the chain of causes, the shares, the rule and where it turns round.

    Parameters
    ----------
    story : Account
    rule : Ruling
        Of the same story.

    Returns
    -------
    str
        For a terminal, with the cautions.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux
    >>> from shuntref.explanation.account import Situation, account
    >>> from shuntref.explanation.ruling import ruling
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> story = account(Situation(bench, {"supply_voltage": 120.0}, load_torque=6.0), "added_field_resistance", 20.0)
    >>> "through the flux" in story_text(story, ruling(story))
    True
    """
    blocks = [_heading(story), _chain(story), _shares(story), _rule(rule)]
    return "\n".join(_folded(line) for line in "\n\n".join(blocks).splitlines())


def _folded(line: str) -> str:
    """A long line broken where a terminal and a projector still show it, continued under its own beginning."""
    body = line.lstrip()
    indent = len(line) - len(body)
    hang = indent + (3 if body[:1].isdigit() and body[1:3] == ". " else 0 if indent else 2)
    return (
        textwrap.fill(line, WIDTH, subsequent_indent=" " * hang, break_long_words=False, break_on_hyphens=False) or line
    )


def _v(name: str, value: float, digits: int = 4) -> str:
    return format_value(name, value, digits=digits)


def _rpm(value: float) -> str:
    return f"{value:.1f} r/min"


def _words(name: str) -> str:
    return name.replace("_", " ")


def _share(before: float, after: float) -> str:
    return f" ({(after - before) / before:+.1%})" if before else ""


def _heading(story: Account) -> str:
    situation = story.situation
    machine = situation.machine
    title = (machine.name or "The machine") + (" (invented)" if machine.invented else "")
    given = ", ".join(f"{_words(name)} {_v(name, value)}" for name, value in situation.circuit.items())
    load = f"load {_v('output_power', situation.output_power)}" if situation.output_power is not None else (
        f"load torque {_v('load_torque', situation.load_torque)}"
        + ("" if situation.load_law == "constant" else f" at {_v('speed', situation.at_speed or 0.0)}, {situation.load_law}")
    )  # fmt: skip
    change = f"{_words(story.name)} from {_v(story.name, story.old)} to {_v(story.name, story.new)}"
    result = f"speed from {_rpm(story.before['speed_rpm'])} to {_rpm(story.after['speed_rpm'])}"
    return f"{title}: {given}, {load}\nchange: {change}\nresult: {result} ({story.speed_change_rpm:+.1f} r/min)"


def _chain(story: Account) -> str:
    before, after, held = story.before, story.after, story.first_instant
    lines = ["What happens"]
    number = 1

    def say(text: str) -> None:
        nonlocal number
        lines.append(f"  {number}. {text}")
        number += 1

    field = (before["field_current"], held.field_current)
    if abs(field[1] - field[0]) > 1e-12 * abs(field[0]):
        cause = _field_cause(story)
        say(f"{cause} the field current goes from {_v('field_current', field[0])} to {_v('field_current', field[1])}"
            f"{_share(*field)}.")  # fmt: skip
    flux = (before["k_phi"], held.k_phi)
    if abs(flux[1] - flux[0]) > 1e-12 * abs(flux[0]):
        say(
            f"The flux follows: kPhi from {_v('k_phi', flux[0])} to {_v('k_phi', flux[1])}"
            f"{_share(*flux)}{_answer(field, flux)}."
        )
    else:
        say(f"The flux stays as it was, kPhi = {_v('k_phi', flux[0])}.")
    emf = (before["back_emf"], held.back_emf)
    moved = "stays at" if abs(emf[1] - emf[0]) < 1e-9 * abs(emf[0]) else f"goes from {_v('back_emf', emf[0])} to"
    say(f"In the first instant the speed has not moved, so the back EMF kPhi omega {moved} {_v('back_emf', emf[1])}.")
    current = (before["armature_current"], held.armature_current)
    torque = (before["electromagnetic_torque"], held.electromagnetic_torque)
    wanted = _wanted_now(story)
    if abs(current[1] - current[0]) > 1e-9 * max(abs(current[0]), 1e-12):
        say(f"What is left of the voltage drives the armature current from {_v('armature_current', current[0])} to "
            f"{_v('armature_current', current[1])}, and the torque from {_v('electromagnetic_torque', torque[0])} to "
            f"{_v('electromagnetic_torque', torque[1])}.")  # fmt: skip
    else:
        say(f"The armature current is still {_v('armature_current', current[1])}, the torque "
            f"{_v('electromagnetic_torque', torque[1])}.")  # fmt: skip
    say(f"{_imbalance(torque[1], wanted)} {_settling(story)}")
    currents = f"{_v('armature_current', after['armature_current'])} in the armature, "
    currents += f"{_v('field_current', after['field_current'])} in the field"
    say(
        f"It settles at {_rpm(after['speed_rpm'])} with {currents} and a back EMF of {_v('back_emf', after['back_emf'])}."
    )
    return "\n".join(lines)


def _field_cause(story: Account) -> str:
    if story.acts_on == "field":
        before, after = story.before["field_circuit_resistance"], story.after["field_circuit_resistance"]
        if before != after:
            return (f"The field circuit has {_v('field_circuit_resistance', after)} instead of "
                    f"{_v('field_circuit_resistance', before)}, so")  # fmt: skip
        return "The field circuit gets another voltage, so"
    return "The field circuit lies across the changed voltage, so"


def _answer(field: tuple[float, float], flux: tuple[float, float]) -> str:
    if not (field[0] and flux[0]) or field[0] == field[1]:
        return ", because the armature reaction changes with the armature current"
    ratio = ((flux[1] - flux[0]) / flux[0]) / ((field[1] - field[0]) / field[0])
    if abs(ratio - 1.0) < 1e-6:
        return ", in proportion"
    if 0.0 < ratio < 1.0:
        return ", less than in proportion because the iron is near saturation"
    return ", more than in proportion because the armature reaction adds to it"


def _wanted_now(story: Account) -> float:
    """Torque asked for in the first instant, at the speed before."""
    after = story.situation.changed(story.name, story.new)
    speed = story.before["speed"]
    return float(after.load().torque(speed)) + float(story.situation.machine.loss_torque.torque(speed))


def _imbalance(torque: float, wanted: float) -> str:
    asked = f"load and losses ask for {_v('load_torque', wanted)}"
    if abs(torque - wanted) < 1e-9 * max(abs(wanted), 1e-9):
        return f"The {asked}: nothing is left over."
    return f"The {asked}, so there is torque {'left over' if torque > wanted else 'missing'}."


def _settling(story: Account) -> str:
    change = story.speed_change_rpm
    if abs(change) < 1e-9 * story.before["speed_rpm"]:
        return "The speed stays where it is."
    way, emf = ("rises", "rises with it") if change > 0.0 else ("falls", "falls with it")
    current = "throttles the current" if change > 0.0 else "lets the current grow"
    return f"The speed {way}; the back EMF {emf} and {current} until the torques balance again."


def _shares(story: Account) -> str:
    shown = adding_up([part.speed_rpm for part in story.parts])
    total = round(sum(shown), 1)
    if not shown:
        return "What the change is made of\n  nothing changed"
    rows = [(f"through the {part.through}", value) for part, value in zip(story.parts, shown, strict=True)]
    rows.append(("together", total))
    width = max(len(label) for label, _ in rows)
    lines = [f"  {label:<{width}}  {value:+9.1f} r/min" for label, value in rows]
    return "\n".join(["What the change is made of (omega = (U - U_b - I_a R)/kPhi, means of both points)", *lines])


def _rule(rule: Ruling) -> str:
    lines = ["The rule", f"  {rule.theorem}: {rule.statement}", f"  Exactly: {rule.condition}."]
    if rule.margin_of in ("back_emf", "electromagnetic_torque"):
        name = rule.margin_of
        of = "E - U/2" if name == "back_emf" else "T"
        lines.append(f"  Margin, {of}: {_v(name, rule.margin_before)} before, {_v(name, rule.margin_after)} after.")
    elif rule.theorem == "line-resistance":
        lines.append(f"  Margin, T I: {rule.margin_before:.4g} before, {rule.margin_after:.4g} after, in N m A.")
    elif rule.theorem == "rising-characteristic":
        lines.append(f"  Margin, R/U - d/I_f: {rule.margin_before:.4g} before, {rule.margin_after:.4g} after, in 1/A.")
    else:
        symbol = quantity(rule.margin_of).symbol
        lines.append(
            f"  Margin, {symbol}: {_v(rule.margin_of, rule.margin_before)}; at zero the torque would cost no speed."
        )
    lines.append(f"  {rule.turning.words}")
    if rule.caveat:
        lines.append(f"  {rule.caveat}")
    return "\n".join(lines)
