"""Slips that read the statement in another way: a resistor in the wrong place, a flux or a current overlooked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shuntref.exercises.restating import Entries, asking, has, renamed, scaled, with_answers, with_entries, without
from shuntref.exercises.slips import Slip, Slipped
from shuntref.exercises.solver import solve_quickly
from shuntref.exercises.statement import (
    Answer,
    Entry,
    Exercise,
    FluxLaw,
    Link,
    LoadLink,
    RatioLink,
    Ref,
    SameLink,
    State,
)
from shuntref.quantities.registry import quantity
from shuntref.quantities.text import WrittenValue, read_value

__all__ = ["SLIPS"]

_TORQUES = ("electromagnetic_torque", "load_torque")


def _written(name: str, value: float) -> WrittenValue:
    """A value worked out, as if the statement had given it."""
    return read_value(name, f"{value!r} {quantity(name).unit}")


def _first_point(exercise: Exercise) -> tuple[WrittenValue, WrittenValue] | None:
    """k_phi and effective field current of the first state, rightly worked out; a slip may set in after it."""
    state = next(iter(exercise.states), "")
    wanted = ("k_phi", "effective_field_current")
    asked = {name: Answer(name, Ref(state, name)) for name in wanted}
    try:
        found = solve_quickly(replace(exercise, answers=asked))
    except (ValueError, ArithmeticError):
        return None
    return _written("k_phi", found["k_phi"]), _written(wanted[1], found[wanted[1]])


def _flux_kept(exercise: Exercise) -> Iterator[Slipped]:
    """Flux taken as constant: the field's change, the stated ratio or the reaction is overlooked."""
    bare = without(exercise, "flux_ratio", "reaction_flux_loss", "reaction_field_current", "demagnetising_mmf",
                    "reaction_coefficient", "flux_constant")  # fmt: skip
    if exercise.flux.law or has(exercise, "flux_ratio", "reaction_flux_loss"):
        yield Slipped(replace(bare, flux=FluxLaw("constant")))
        first = _first_point(exercise)
        if first:
            shared = {**bare.shared, "k_phi": first[0]}
            yield Slipped(replace(bare, flux=FluxLaw("constant"), shared=shared))


def _current_kept(exercise: Exercise) -> Iterator[Slipped]:
    """The same armature current in the place of the same torque."""
    if exercise.flux.law == "constant" and not has(exercise, "flux_ratio", "reaction_flux_loss"):
        return
    links: list[Link] = []
    changed = False
    for link in exercise.links:
        if isinstance(link, SameLink) and link.quantity in _TORQUES:
            links.append(replace(link, quantity="armature_current"))
            changed = True
        elif isinstance(link, LoadLink) and link.load == "constant":
            links.append(SameLink("armature_current", link.states))
            changed = True
        elif (
            isinstance(link, RatioLink)
            and link.to.quantity in _TORQUES
            and all(r.quantity in _TORQUES for r in link.of)
        ):
            of = tuple(Ref(r.state, "armature_current") for r in link.of)
            links.append(replace(link, of=of, to=Ref(link.to.state, "armature_current")))
            changed = True
        else:
            links.append(link)
    if changed:
        yield Slipped(replace(exercise, links=tuple(links)))


def _same_line_current(exercise: Exercise) -> Iterator[Slipped]:
    links = tuple(
        replace(link, quantity="line_current")
        if isinstance(link, SameLink) and link.quantity in (*_TORQUES, "armature_current")
        else link
        for link in exercise.links
    )
    if links != exercise.links:
        yield Slipped(replace(exercise, links=links))


def _wrong_circuit(exercise: Exercise) -> Iterator[Slipped]:
    if has(exercise, "added_field_resistance", "added_armature_resistance"):
        yield Slipped(renamed(exercise, {"added_field_resistance": "added_armature_resistance",
                                          "added_armature_resistance": "added_field_resistance"}))  # fmt: skip


def _ahead_of_both(exercise: Exercise) -> Iterator[Slipped]:
    for name in ("added_field_resistance", "added_armature_resistance"):
        if has(exercise, name) and not has(exercise, "source_voltage", "line_resistance"):
            yield Slipped(renamed(exercise, {name: "line_resistance", "supply_voltage": "source_voltage"}))


def _total_for_added(exercise: Exercise) -> Iterator[Slipped]:
    instead = {"added_field_resistance": "field_circuit_resistance",
               "added_armature_resistance": "armature_circuit_resistance",
               "starting_resistance": "armature_circuit_resistance"}  # fmt: skip
    asked = {answer.of.quantity for answer in exercise.answers.values() if answer.of.state != "starter"}
    if asked & set(instead):
        plain = {name: answer for name, answer in exercise.answers.items() if answer.of.state != "starter"}
        yield Slipped(asking(replace(exercise, answers=plain), instead))


def _added_forgotten(exercise: Exercise) -> Iterator[Slipped]:
    for name in ("added_field_resistance", "added_armature_resistance"):
        given = [state.entries.get(name) for state in exercise.states.values()]
        if any(entry is not None and entry.value > 0.0 for entry in given):
            yield Slipped(without(exercise, name))


def _winding_forgotten(exercise: Exercise) -> Iterator[Slipped]:
    for circuit in ("field", "armature"):
        added, winding, whole = f"added_{circuit}_resistance", f"{circuit}_resistance", f"{circuit}_circuit_resistance"
        states: dict[str, State] = {}
        changed = False
        for name, state in exercise.states.items():
            written = state.entries.get(added)
            if written is not None and written.value > 0.0:
                entries = {k: v for k, v in state.entries.items() if k not in (added, winding)}
                # the winding goes by a name of its own in this state, so that nothing ties it to the shared one
                states[name] = replace(
                    state, entries={**entries, whole: replace(written, quantity=whole), winding: None}
                )
                changed = True
            else:
                states[name] = state
        if changed:
            yield Slipped(replace(exercise, states=states))


def _brush_forgotten(exercise: Exercise) -> Iterator[Slipped]:
    if has(exercise, "brush_drop", "brush_drop_per_brush"):
        yield Slipped(without(exercise, "brush_drop", "brush_drop_per_brush"))


def _brush_doubled(exercise: Exercise) -> Iterator[Slipped]:
    if has(exercise, "brush_drop"):
        yield Slipped(with_entries(exercise, lambda entries: scaled(entries, "brush_drop", 2.0)))


def _brush_halved(exercise: Exercise) -> Iterator[Slipped]:
    for name in ("brush_drop_per_brush", "brush_drop"):
        if has(exercise, name):
            yield Slipped(with_entries(exercise, lambda entries, name=name: scaled(entries, name, 0.5)))  # type: ignore[misc]


def _shaft_for_developed(exercise: Exercise) -> Iterator[Slipped]:
    swap = {"electromagnetic_torque": "load_torque", "load_torque": "electromagnetic_torque",
            "electromagnetic_power": "output_power", "output_power": "electromagnetic_power"}  # fmt: skip
    asked = {answer.of.quantity for answer in exercise.answers.values()}
    if asked & set(swap):
        yield Slipped(asking(exercise, swap))
    for pair in (("load_torque", "electromagnetic_torque"), ("output_power", "electromagnetic_power")):
        if has(exercise, *pair):
            yield Slipped(with_answers(renamed(exercise, {pair[0]: pair[1], pair[1]: pair[0]}),
                                   lambda answer: exercise.answers[answer.name]))  # fmt: skip


def _line_for_armature_answer(exercise: Exercise) -> Iterator[Slipped]:
    asked = {answer.of.quantity for answer in exercise.answers.values()}
    swap = {"armature_current": "line_current", "line_current": "armature_current"}
    if asked & set(swap):
        yield Slipped(asking(exercise, swap))


def _linear_flux(exercise: Exercise) -> Iterator[Slipped]:
    if exercise.flux.law in ("table", "readings", "froehlich"):
        bare = without(exercise, "froehlich_a", "froehlich_b", "remanent_k_phi")
        yield Slipped(replace(bare, flux=FluxLaw("proportional")))
        first = _first_point(exercise)
        if first and first[1].value > 0.0:
            constant = _written("flux_constant", first[0].value / first[1].value)
            yield Slipped(
                replace(bare, flux=FluxLaw("proportional"), shared={**bare.shared, "flux_constant": constant})
            )


def _remanence_ignored(exercise: Exercise) -> Iterator[Slipped]:
    if has(exercise, "remanent_k_phi"):
        yield Slipped(with_entries(exercise, lambda entries: scaled(entries, "remanent_k_phi", 0.0)))
    flux = exercise.flux
    if flux.law == "table" and flux.field_current[0] == 0.0 and flux.back_emf[0] > 0.0:
        yield Slipped(replace(exercise, flux=replace(flux, back_emf=(0.0, *flux.back_emf[1:]))))


def _curve_speed(exercise: Exercise) -> Iterator[Slipped]:
    """The EMF of the curve used as if it had been measured at the running speed of the first known state."""
    flux = exercise.flux
    if flux.at_speed is None:
        return
    for state in exercise.states.values():
        for name in ("speed_rpm", "speed"):
            written = state.entries.get(name)
            if written is not None and written.value > 0.0:
                yield Slipped(replace(exercise, flux=replace(flux, at_speed=written)))
                return


def _ratio_upside_down(exercise: Exercise) -> Iterator[Slipped]:
    for position, link in enumerate(exercise.links):
        if isinstance(link, RatioLink) and link.ratio is not None and link.ratio.value not in (0.0, 1.0):
            value = 1.0 / link.ratio.value
            ratio = replace(link.ratio, value=value, number_text=repr(value))
            links = (*exercise.links[:position], replace(link, ratio=ratio), *exercise.links[position + 1 :])
            yield Slipped(replace(exercise, links=links))


def _flux_share_lost(exercise: Exercise) -> Iterator[Slipped]:
    """What is left of the flux taken for what is lost, or the other way about."""

    def turned(entries: Entries) -> dict[str, Entry]:
        changed = dict(entries)
        for name in ("flux_ratio", "reaction_flux_loss"):
            written = entries.get(name)
            if written is not None and 0.0 < written.value < 1.0:
                value = 1.0 - written.value
                text = repr(value if written.unit_text != "%" else 100.0 * value)
                changed[name] = replace(written, value=value, number_text=text)
        return changed

    changed = with_entries(exercise, turned)
    if changed != exercise:
        yield Slipped(changed)


SLIPS: tuple[Slip, ...] = (
    Slip("flux-kept-though-field-changed", "flux kept though the field changed", "reading",
         "flux law: the flux follows the field current",
         "The flux was taken as the same before and after; the change of the field, or the armature reaction, was overlooked.",
         "The effect of the field rheostat on the speed is lost.", _flux_kept),
    Slip("armature-current-kept-though-flux-changed", "armature current kept though the flux changed at constant torque",
         "law", "torque, T = kPhi I_a: at constant torque the current goes inversely as the flux",
         "The armature current of the first state was used in the second, although the flux is another.",
         "The armature drop after the change comes out wrong; the speed a little too high when the field is weakened.",
         _current_kept),
    Slip("line-current-kept", "line current kept in the place of the armature current", "law", "current-sum, I = I_a + I_f",
         "The line current was taken as the same in both states.", "The change of the field current goes into the armature.",
         _same_line_current),
    Slip("line-current-answered-for-armature-current", "line current answered for armature current, or the other way about",
         "reading", "current-sum, I = I_a + I_f", "The other of the two currents was given.",
         "The answer is off by the field current.", _line_for_armature_answer),
    Slip("added-resistor-in-the-wrong-circuit", "added resistor put in the wrong circuit", "reading",
         "armature-circuit-resistance and field-circuit-resistance",
         "The added resistance was put in the armature circuit instead of the field circuit, or the other way about.",
         "The speed moves the wrong way.", _wrong_circuit),
    Slip("added-resistor-ahead-of-both", "added resistor put ahead of both circuits", "reading",
         "line-drop, the resistor carries one branch current, not the line current",
         "The added resistance was put in the line, where it lowers the voltage of field and armature.",
         "Flux and armature voltage fall together.", _ahead_of_both),
    Slip("total-resistance-for-added", "total resistance given for the added one", "reading",
         "armature-circuit-resistance and field-circuit-resistance",
         "The resistance of the whole circuit was answered; that of the winding was not taken off.",
         "The answer is too large by the resistance of the winding.", _total_for_added),
    Slip("winding-resistance-forgotten", "resistance of the winding forgotten beside the added one", "reading",
         "armature-circuit-resistance and field-circuit-resistance",
         "The added resistance was taken as the whole resistance of the circuit.", "The current of that circuit is too large.",
         _winding_forgotten),
    Slip("added-resistance-forgotten", "added resistance forgotten", "reading",
         "armature-circuit-resistance and field-circuit-resistance",
         "The resistance that was put in was left out of the second state.", "The change that was asked for does not show.",
         _added_forgotten),
    Slip("brush-drop-forgotten", "brush drop forgotten", "reading", "armature-circuit, U = E + I_a R + U_b",
         "The drop at the brushes was left out.", "The back EMF comes out too large by the drop.", _brush_forgotten),
    Slip("brush-drop-doubled", "brush drop doubled: a total taken for the drop of one brush", "reading",
         "armature-circuit, U_b is the total of both polarities", "The stated total was taken twice.",
         "The back EMF comes out too small by the drop.", _brush_doubled),
    Slip("brush-drop-halved", "brush drop halved: the drop of one brush taken for the total", "reading",
         "brush-pair, there are brushes of both polarities", "The drop was counted at one brush only.",
         "The back EMF comes out too large.", _brush_halved),
    Slip("shaft-for-developed", "shaft torque or output taken for the developed one, or the other way about", "reading",
         "torque-balance, T = T_L + T_0", "The rotational loss was not taken off, or was taken off where it should not be.",
         "The answer is off by the loss torque.", _shaft_for_developed),
    Slip("ratio-upside-down", "stated ratio used upside down", "reading", "the stated link between the states",
         "The stated ratio was applied to the other state.", "The second state moves the wrong way.", _ratio_upside_down),
    Slip("linear-flux-where-the-curve-saturates", "flux taken in proportion to the field current though the curve saturates",
         "law", "the magnetisation curve", "The magnetisation curve was replaced by a straight line through the origin.",
         "The field rheostat seems to do more than it does.", _linear_flux),
    Slip("remanence-ignored", "remanence ignored", "law", "flux law, k_r at zero field current",
         "The flux was taken as nothing at zero field current.", "A machine with a weak field comes out too fast.",
         _remanence_ignored),
    Slip("curve-used-at-the-wrong-speed", "magnetisation curve used without bringing its EMF to the running speed", "reading",
         "curve-emf, the curve holds at the speed it was measured at",
         "The EMF read off the curve was used as if it belonged to the running speed.",
         "The flux comes out wrong in the ratio of the speeds.", _curve_speed),
    Slip("flux-left-for-flux-lost", "share of the flux that is left taken for the share that is lost", "reading",
         "flux-ratio", "'By' and 'to' were confused in the change of the flux.", "The flux comes out far too weak.",
         _flux_share_lost),
)  # fmt: skip
