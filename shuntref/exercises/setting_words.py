"""What an exercise gives and says of its states, in words, before the steps begin."""

from __future__ import annotations

from collections.abc import Iterable

from shuntref.exercises.equation import LawEquation
from shuntref.exercises.solution import Solution
from shuntref.exercises.statement import STARTER, Entry, LoadLink, RatioLink, Ref, SameLink
from shuntref.exercises.writing import Writer
from shuntref.quantities.text import format_value

__all__ = ["given_lines", "setting_lines"]

_LOADS = {"constant": "stays the same", "proportional-to-speed": "goes as the speed",
          "proportional-to-speed-squared": "goes as the square of the speed",
          "constant-power": "times the speed stays the same"}  # fmt: skip
_NEGLECTED = {"field-current": "the field current beside the line current", "armature-drop": "the drop in the armature",
              "rotational-loss": "the rotational loss"}  # fmt: skip
_FLUX = {"constant": "The flux is the same in all states, unless a ratio is given.",
         "proportional": "The flux is in proportion to the effective field current.",
         "froehlich": "The flux follows Froehlich's curve."}  # fmt: skip


def _words(name: str) -> str:
    return {"k_phi": "flux", "speed_rpm": "speed", "back_emf": "back EMF"}.get(name, name.replace("_", " "))


def given_lines(solution: Solution, writer: Writer) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return (heading, data) for what all states share and for each state."""
    exercise = solution.exercise
    lines = []
    if exercise.shared:
        lines.append(("all states" if writer.several else "", _data("", exercise.shared.items(), writer)))
    for state in exercise.states.values():
        lines.append((state.label if writer.several else "", _data(state.name, state.entries.items(), writer)))
    starter = exercise.starter
    if starter:
        pairs = (("upper_current", starter.upper_current), ("lower_current", starter.lower_current))
        data = [_datum(Ref(STARTER, name), value.text, writer) for name, value in pairs if value]
        if starter.sections:
            data.append(_datum(Ref(STARTER, "sections"), str(starter.sections), writer))
        lines.append(("starter", tuple(data)))
    return tuple((heading, data) for heading, data in lines if data)


def _data(state: str, entries: Iterable[tuple[str, Entry]], writer: Writer) -> tuple[str, ...]:
    return tuple(_datum(Ref(state, name), entry.text, writer) for name, entry in entries if entry is not None)


def _datum(ref: Ref, text: str, writer: Writer) -> str:
    return f"{writer.in_sentence(writer.symbol(ref))} = {writer.as_given(text)}"


def setting_lines(solution: Solution, writer: Writer) -> tuple[str, ...]:
    """Return sentences on the connection, the flux, the links, and what is neglected or taken as nothing."""
    exercise = solution.exercise
    lines = []
    if exercise.connection != "shunt":
        lines.append({"separate": "The field has a supply of its own.",
                      "permanent-magnet": "Permanent-magnet field."}[exercise.connection])  # fmt: skip
    if exercise.flux.law in _FLUX and (writer.several or exercise.flux.law != "constant"):
        lines.append(_FLUX[exercise.flux.law])
    elif exercise.flux.at_speed is not None:
        what = "Readings of the magnetisation curve" if exercise.flux.readings else "Magnetisation curve"
        speed = Ref("", "curve_speed")
        shown = writer.in_sentence(f"{writer.symbol(speed)} = {writer.value(speed, solution.values[speed])}")
        lines.append(f"{what} at {exercise.flux.at_speed.text} ({shown}){_curve_points(solution)}.")
    if exercise.winding:
        lines.append(f"{exercise.winding.capitalize()} winding.")
    lines += _links(solution)
    lines += _losses(solution)
    general = [_NEGLECTED[name] for name in sorted(exercise.neglect)]
    if general:
        lines.append(f"Neglected: {' and '.join(general)}.")
    for state in exercise.states.values():
        if state.neglect - exercise.neglect:
            place = f", {state.label}" if writer.several else ""
            lines.append(
                f"Neglected{place}: {' and '.join(_NEGLECTED[n] for n in sorted(state.neglect - exercise.neglect))}."
            )
        if state.condition:
            lines.append(
                f"{state.label}: the machine runs at its greatest efficiency." if writer.several
                else "The machine runs at its greatest efficiency."
            )  # fmt: skip
    nothing = _taken_as_nothing(solution)
    if nothing:
        lines.append(f"Not mentioned, so taken as nothing: {', '.join(nothing)}.")
    for ref in solution.free:
        lines.append(f"{writer.in_sentence(writer.symbol(ref))} is not determined, but it "
                     f"cancels out of every answer; {format_value(ref.quantity, 1.0)} is taken for it.")  # fmt: skip
    return tuple(lines)


def _curve_points(solution: Solution) -> str:
    flux = solution.exercise.flux
    points = [f"{reading.back_emf.text} at {reading.field_current.text}{f' ({reading.note})' if reading.note else ''}"
              for reading in flux.readings]  # fmt: skip
    points += [f"{emf:g} V at {current:g} A" for current, emf in zip(flux.field_current, flux.back_emf, strict=True)]
    return f": {'; '.join(points)}"


def _links(solution: Solution) -> list[str]:
    exercise, lines = solution.exercise, []
    for link in exercise.links:
        why = f" ({link.because})" if link.because else ""
        if isinstance(link, RatioLink):
            of = " + ".join(_of(solution, ref) for ref in link.of)
            ratio = link.ratio.text if link.ratio else "an unknown ratio"
            lines.append(f"The {of} is {ratio} times the {_of(solution, link.to)}{why}.")
        elif isinstance(link, LoadLink):
            lines.append(f"The {_words(link.torque)} {_LOADS[link.load]}{why}.")
        elif isinstance(link, SameLink):
            names = ", ".join(exercise.states[name].label for name in link.states)
            where = "" if len(link.states) == len(exercise.states) == 2 else f" in: {names}"
            lines.append(f"The {_words(link.quantity)} is the same{where}{why}.")
    return lines


def _of(solution: Solution, ref: Ref) -> str:
    state = solution.exercise.states.get(ref.state)
    several = len(solution.exercise.states) > 1
    return f"{_words(ref.quantity)} ({state.label})" if state and several else _words(ref.quantity)


def _losses(solution: Solution) -> list[str]:
    losses, lines = solution.exercise.losses, []
    if losses.rotational == "same-watts":
        lines.append("The rotational loss in watts is the same in all states.")
    elif losses.rotational == "same-torque":
        lines.append("The torque of the rotational loss is the same in all states.")
    elif losses.rotational == "none":
        lines.append("There is no rotational loss.")
    if losses.constant_loss_is:
        lines.append(f"The constant loss is {' and '.join(_words(name) for name in losses.constant_loss_is)}.")
    if losses.stray_share is not None:
        lines.append(f"The stray loss is {losses.stray_share.text} of the {_words(losses.stray_of)}.")
    return lines


def _taken_as_nothing(solution: Solution) -> list[str]:
    names = []
    for step in solution.steps:
        for equation in (step.equation, *step.group):
            if not isinstance(equation, LawEquation):
                continue
            for ref in equation.refs:
                if solution.system.nothing.get(ref) == 0 and not ref.quantity.endswith(
                    ("coefficient", "constant_torque")
                ):
                    names.append("armature reaction" if ref.quantity.startswith("reaction_") else _words(ref.quantity))
    return list(dict.fromkeys(names))
