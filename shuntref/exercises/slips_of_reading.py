"""Slips that read the statement in another way: a wrong link, a wrong place, a convention other than the stated one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from shuntref.exercises.slips import Slip, Slipped
from shuntref.exercises.statement import (
    Answer,
    Entry,
    Exercise,
    FluxLaw,
    Link,
    LoadLink,
    RatioLink,
    Ref,
    RootRule,
    SameLink,
    State,
)
from shuntref.quantities.text import WrittenValue, parse_value
from shuntref.quantities.units import HORSEPOWER_CONVENTIONS

__all__ = ["SLIPS"]

Apply = Callable[[Exercise], Iterator[Slipped]]
Entries = Mapping[str, Entry]
_TORQUES = ("electromagnetic_torque", "load_torque")


# --- how an exercise is rewritten


def _with_entries(exercise: Exercise, change: Callable[[Entries], dict[str, Entry]]) -> Exercise:
    """The exercise with the quantities of every state and the shared ones changed."""
    states = {name: replace(state, entries=change(state.entries)) for name, state in exercise.states.items()}
    return replace(exercise, states=states, shared=change(exercise.shared))


def _without(exercise: Exercise, *names: str) -> Exercise:
    return _with_entries(exercise, lambda entries: {k: v for k, v in entries.items() if k not in names})


def _has(exercise: Exercise, *names: str) -> bool:
    tables = [exercise.shared, *(state.entries for state in exercise.states.values())]
    return any(name in table for table in tables for name in names)


def _scaled(entries: Entries, name: str, factor: float) -> dict[str, Entry]:
    """The entries with one value multiplied; its rounding goes with it."""
    written = entries.get(name)
    if written is None:
        return dict(entries)
    scaled = replace(written, value=written.value * factor, half_unit=written.half_unit * factor,
                     number_text=repr(float(written.number_text) * factor))  # fmt: skip
    return {**entries, name: scaled}


def _renamed(exercise: Exercise, names: Mapping[str, str]) -> Exercise:
    """The exercise with quantities under other names, in its states, its answers and its links."""

    def ref(old: Ref) -> Ref:
        return Ref(old.state, names.get(old.quantity, old.quantity), old.index)

    def entries(table: Entries) -> dict[str, Entry]:
        return {names.get(name, name): value for name, value in table.items()}

    answers = {
        name: replace(answer, of=ref(answer.of), against=ref(answer.against) if answer.against else None)
        for name, answer in exercise.answers.items()
    }
    return replace(_with_entries(exercise, entries), answers=answers)


def _answers(exercise: Exercise, change: Callable[[Answer], Answer]) -> Exercise:
    return replace(exercise, answers={name: change(answer) for name, answer in exercise.answers.items()})


def _asking(exercise: Exercise, instead: Mapping[str, str]) -> Exercise:
    """The exercise with other quantities asked in the place of the right ones."""

    def change(answer: Answer) -> Answer:
        name = instead.get(answer.of.quantity)
        return answer if name is None else replace(answer, of=Ref(answer.of.state, name))

    return _answers(exercise, change)


# --- the slips


def _flux_kept(exercise: Exercise) -> Iterator[Slipped]:
    """Flux taken as constant: the field's change, the stated ratio or the reaction is overlooked."""
    bare = _without(exercise, "flux_ratio", "reaction_flux_loss", "reaction_field_current", "demagnetising_mmf",
                    "reaction_coefficient", "flux_constant")  # fmt: skip
    if exercise.flux.law or _has(exercise, "flux_ratio", "reaction_flux_loss"):
        yield Slipped(replace(bare, flux=FluxLaw("constant")))


def _current_kept(exercise: Exercise) -> Iterator[Slipped]:
    """The same armature current in the place of the same torque."""
    if exercise.flux.law == "constant" and not _has(exercise, "flux_ratio", "reaction_flux_loss"):
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
        elif isinstance(link, RatioLink) and link.to.quantity in _TORQUES and all(r.quantity in _TORQUES for r in link.of):
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


def _load_law(before: str, after: tuple[str, ...]) -> Apply:
    def apply(exercise: Exercise) -> Iterator[Slipped]:
        for law in after:
            links = tuple(
                replace(link, load=law) if isinstance(link, LoadLink) and link.load == before else link
                for link in exercise.links
            )
            if links != exercise.links:
                yield Slipped(replace(exercise, links=links))

    return apply


def _power_kept(exercise: Exercise) -> Iterator[Slipped]:
    links: list[Link] = []
    for link in exercise.links:
        if isinstance(link, SameLink) and link.quantity in _TORQUES:
            links.append(LoadLink("constant-power", link.quantity, link.states or tuple(exercise.states)))
        elif isinstance(link, LoadLink) and link.load == "constant":
            links.append(replace(link, load="constant-power"))
        else:
            links.append(link)
    if tuple(links) != exercise.links:
        yield Slipped(replace(exercise, links=tuple(links)))


def _wrong_circuit(exercise: Exercise) -> Iterator[Slipped]:
    if _has(exercise, "added_field_resistance", "added_armature_resistance"):
        yield Slipped(_renamed(exercise, {"added_field_resistance": "added_armature_resistance",
                                          "added_armature_resistance": "added_field_resistance"}))  # fmt: skip


def _ahead_of_both(exercise: Exercise) -> Iterator[Slipped]:
    for name in ("added_field_resistance", "added_armature_resistance"):
        if _has(exercise, name) and not _has(exercise, "source_voltage", "line_resistance"):
            yield Slipped(_renamed(exercise, {name: "line_resistance", "supply_voltage": "source_voltage"}))


def _total_for_added(exercise: Exercise) -> Iterator[Slipped]:
    instead = {"added_field_resistance": "field_circuit_resistance",
               "added_armature_resistance": "armature_circuit_resistance",
               "starting_resistance": "armature_circuit_resistance"}  # fmt: skip
    asked = {answer.of.quantity for answer in exercise.answers.values() if answer.of.state != "starter"}
    if asked & set(instead):
        plain = {name: answer for name, answer in exercise.answers.items() if answer.of.state != "starter"}
        yield Slipped(_asking(replace(exercise, answers=plain), instead))


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
                states[name] = replace(state, entries={**entries, whole: replace(written, quantity=whole), winding: None})
                changed = True
            else:
                states[name] = state
        if changed:
            yield Slipped(replace(exercise, states=states))


def _brush_forgotten(exercise: Exercise) -> Iterator[Slipped]:
    if _has(exercise, "brush_drop", "brush_drop_per_brush"):
        yield Slipped(_without(exercise, "brush_drop", "brush_drop_per_brush"))


def _brush_doubled(exercise: Exercise) -> Iterator[Slipped]:
    if _has(exercise, "brush_drop"):
        yield Slipped(_with_entries(exercise, lambda entries: _scaled(entries, "brush_drop", 2.0)))


def _brush_halved(exercise: Exercise) -> Iterator[Slipped]:
    for name in ("brush_drop_per_brush", "brush_drop"):
        if _has(exercise, name):
            yield Slipped(_with_entries(exercise, lambda entries, name=name: _scaled(entries, name, 0.5)))  # type: ignore[misc]


def _shaft_for_developed(exercise: Exercise) -> Iterator[Slipped]:
    swap = {"electromagnetic_torque": "load_torque", "load_torque": "electromagnetic_torque",
            "electromagnetic_power": "output_power", "output_power": "electromagnetic_power"}  # fmt: skip
    asked = {answer.of.quantity for answer in exercise.answers.values()}
    if asked & set(swap):
        yield Slipped(_asking(exercise, swap))
    for pair in (("load_torque", "electromagnetic_torque"), ("output_power", "electromagnetic_power")):
        if _has(exercise, *pair):
            yield Slipped(_answers(_renamed(exercise, {pair[0]: pair[1], pair[1]: pair[0]}),
                                   lambda answer: exercise.answers[answer.name]))  # fmt: skip


def _line_for_armature_answer(exercise: Exercise) -> Iterator[Slipped]:
    asked = {answer.of.quantity for answer in exercise.answers.values()}
    swap = {"armature_current": "line_current", "line_current": "armature_current"}
    if asked & set(swap):
        yield Slipped(_asking(exercise, swap))


def _regulation_base(exercise: Exercise) -> Iterator[Slipped]:
    def turned(answer: Answer) -> Answer:
        if answer.kind not in ("change", "decrease") or answer.against is None:
            return answer
        kind = "decrease" if answer.kind == "change" else "change"
        return replace(answer, kind=kind, of=answer.against, against=answer.of)

    changed = _answers(exercise, turned)
    if changed.answers != exercise.answers:
        yield Slipped(changed)


def _quotient_upside_down(exercise: Exercise) -> Iterator[Slipped]:
    def turned(answer: Answer) -> Answer:
        if answer.kind != "quotient" or answer.against is None:
            return answer
        return replace(answer, of=answer.against, against=answer.of)

    changed = _answers(exercise, turned)
    if changed.answers != exercise.answers:
        yield Slipped(changed)


def _linear_flux(exercise: Exercise) -> Iterator[Slipped]:
    if exercise.flux.law in ("table", "readings", "froehlich"):
        bare = _without(exercise, "froehlich_a", "froehlich_b", "remanent_k_phi")
        yield Slipped(replace(bare, flux=FluxLaw("proportional")))


def _remanence_ignored(exercise: Exercise) -> Iterator[Slipped]:
    if _has(exercise, "remanent_k_phi"):
        yield Slipped(_with_entries(exercise, lambda entries: _scaled(entries, "remanent_k_phi", 0.0)))
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


def _other_root(exercise: Exercise) -> Iterator[Slipped]:
    for state in exercise.states:
        for name in ("armature_current", "field_current", "speed"):
            yield Slipped(replace(exercise, roots=(RootRule(Ref(state, name), "larger"),)))
            yield Slipped(replace(exercise, roots=(RootRule(Ref(state, name), "smaller"),)))


def _line_limit(exercise: Exercise) -> Iterator[Slipped]:
    if exercise.starter is not None and (exercise.starter.upper_current or exercise.starter.lower_current):
        other = "line" if exercise.starter.limits_in == "armature" else "armature"
        yield Slipped(replace(exercise, starter=replace(exercise.starter, limits_in=other)))


def _sections_off(exercise: Exercise) -> Iterator[Slipped]:
    starter = exercise.starter
    if starter is not None and starter.sections > 1:
        for step in (1, -1):
            yield Slipped(replace(exercise, starter=replace(starter, sections=starter.sections + step)))


def _horsepower(exercise: Exercise) -> Iterator[Slipped]:
    for convention in HORSEPOWER_CONVENTIONS:
        if convention == exercise.horsepower:
            continue
        changed = _with_entries(exercise, lambda entries, to=convention: _re_read(entries, to))  # type: ignore[misc]
        watts = {name: parse_value("output_power", "1 hp", horsepower=name) for name in HORSEPOWER_CONVENTIONS}
        factor = {
            name: watts[exercise.horsepower] / watts[convention]
            for name, answer in exercise.answers.items()
            if answer.printed is not None and _in_horsepower(answer.printed)
        }
        if factor or changed != exercise:
            yield Slipped(replace(changed, horsepower=convention), factor=factor)


def _in_horsepower(written: WrittenValue) -> bool:
    return "hp" in written.unit_text.lower().split()


def _re_read(entries: Entries, convention: str) -> dict[str, Entry]:
    changed: dict[str, Entry] = {}
    for name, written in entries.items():
        if written is not None and _in_horsepower(written):
            changed[name] = replace(written, value=parse_value(written.quantity, written.text, horsepower=convention))
        else:
            changed[name] = written
    return changed


def _no_load_copper(exercise: Exercise) -> Iterator[Slipped]:
    """The no-load armature loss counted as rotational loss, or taken off where the text counts it."""
    states = {}
    changed = False
    for name, state in exercise.states.items():
        output = state.entries.get("output_power")
        torque = state.entries.get("load_torque")
        if any(entry is not None and entry.value == 0.0 for entry in (output, torque)):
            states[name] = replace(state, neglect=state.neglect ^ {"armature-drop"})
            changed = True
        else:
            states[name] = state
    if changed:
        yield Slipped(replace(exercise, states=states))


def _constant_loss(exercise: Exercise) -> Iterator[Slipped]:
    losses = exercise.losses
    if losses.constant_loss_is:
        parts = set(losses.constant_loss_is) ^ {"field_copper_loss"}
        if parts:
            yield Slipped(replace(exercise, losses=replace(losses, constant_loss_is=tuple(sorted(parts)))))
    if losses.rotational in ("same-watts", "same-torque"):
        other = "same-torque" if losses.rotational == "same-watts" else "same-watts"
        yield Slipped(replace(exercise, losses=replace(losses, rotational=other)))


def _stray(exercise: Exercise) -> Iterator[Slipped]:
    losses = exercise.losses
    if losses.stray_of:
        other = "output_power" if losses.stray_of == "input_power" else "input_power"
        yield Slipped(replace(exercise, losses=replace(losses, stray_of=other)))


def _stray_forgotten(exercise: Exercise) -> Iterator[Slipped]:
    if exercise.losses.stray_of:
        yield Slipped(replace(exercise, losses=replace(exercise.losses, stray_of="", stray_share=None)))
    if _has(exercise, "stray_loss"):
        yield Slipped(_without(exercise, "stray_loss"))


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

    changed = _with_entries(exercise, turned)
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
    Slip("regulation-on-the-wrong-base", "relative change taken on the wrong base", "convention",
         "speed regulation, (n_0 - n)/n", "The difference was divided by the other speed.",
         "The percentage comes out a little off.", _regulation_base),
    Slip("quotient-upside-down", "quotient put upside down", "reading", "the ratio asked for",
         "The ratio was formed the other way up.", "The reciprocal is answered.", _quotient_upside_down),
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
    Slip("load-law-square-as-linear", "torque as the square of the speed taken in another way", "law", "the law of the load",
         "A load whose torque goes as the square of the speed was taken as linear or constant.",
         "The current at the lower speed comes out too large.",
         _load_law("proportional-to-speed-squared", ("proportional-to-speed", "constant"))),
    Slip("load-law-linear-as-constant", "torque proportional to the speed taken in another way", "law", "the law of the load",
         "A load whose torque goes as the speed was taken as constant, or as a square.", "The current comes out wrong.",
         _load_law("proportional-to-speed", ("constant", "proportional-to-speed-squared"))),
    Slip("constant-power-as-constant-torque", "constant power taken for constant torque", "law", "the law of the load",
         "A load of constant power was taken to keep its torque.", "The current at another speed comes out wrong.",
         _load_law("constant-power", ("constant",))),
    Slip("constant-torque-as-constant-power", "constant torque taken for constant power", "law", "the law of the load",
         "A load of constant torque was taken to keep its power.", "The current at another speed comes out wrong.",
         _power_kept),
    Slip("other-root", "the other root of the quadratic", "reading", "the root that a machine reaches from no load",
         "Of the two roots the one was given at which the machine would carry a useless, very large current.",
         "The answer is a real balance, but not the running point.", _other_root),
    Slip("line-limit-for-armature-limit", "limit of the starter taken in the other current", "reading",
         "current-sum, I = I_a + I_f", "A limit stated for the line was used for the armature, or the other way about.",
         "The starter comes out off by the field current.", _line_limit),
    Slip("studs-for-sections", "studs counted as sections", "reading", "studs-of-sections, one stud more than sections",
         "The number of sections is off by one.", "Every section comes out a little off.", _sections_off),
    Slip("horsepower-convention", "horsepower of another convention", "unit",
         "the horsepower that the exercise states", "745.7 W, 746 W and 735.5 W were confused.",
         "Power and torque are off by 0.04 or 1.4 per cent.", _horsepower),
    Slip("no-load-copper-loss-convention", "no-load armature loss counted the other way", "convention",
         "the convention of the no-load test", "The armature loss of the no-load test was counted with the rotational loss, or "
         "taken off where the text counts it.", "The rotational loss is a little off.", _no_load_copper),
    Slip("constant-loss-convention", "constant losses taken by another convention", "convention", "the stated loss convention",
         "Field copper loss was counted in the constant losses where it is not, or loss torque kept where watts are.",
         "The efficiency is off.", _constant_loss),
    Slip("stray-loss-base", "stray loss taken as a share of the other power", "convention", "the stated loss convention",
         "The share was taken of the output instead of the input, or the other way about.", "The output is a little off.",
         _stray),
    Slip("stray-loss-forgotten", "stray loss forgotten", "reading", "power-balance, P_e = P_out + P_0 + P_s",
         "The stray load loss was left out.", "The output is a little too large.", _stray_forgotten),
)  # fmt: skip
