"""Slips of convention: another base, another loss, another law of the load, another root, another horsepower."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from shuntref.exercises.restating import Entries, has, with_answers, with_entries, without
from shuntref.exercises.slips import Slip, Slipped
from shuntref.exercises.statement import Answer, Entry, Exercise, Link, LoadLink, Ref, RootRule, SameLink
from shuntref.quantities.text import WrittenValue, parse_value
from shuntref.quantities.units import HORSEPOWER_CONVENTIONS

__all__ = ["SLIPS"]

Apply = Callable[[Exercise], Iterator[Slipped]]
_TORQUES = ("electromagnetic_torque", "load_torque")


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


def _regulation_base(exercise: Exercise) -> Iterator[Slipped]:
    def turned(answer: Answer) -> Answer:
        if answer.kind not in ("change", "decrease") or answer.against is None:
            return answer
        kind = "decrease" if answer.kind == "change" else "change"
        return replace(answer, kind=kind, of=answer.against, against=answer.of)

    changed = with_answers(exercise, turned)
    if changed.answers != exercise.answers:
        yield Slipped(changed)


def _quotient_upside_down(exercise: Exercise) -> Iterator[Slipped]:
    def turned(answer: Answer) -> Answer:
        if answer.kind != "quotient" or answer.against is None:
            return answer
        return replace(answer, of=answer.against, against=answer.of)

    changed = with_answers(exercise, turned)
    if changed.answers != exercise.answers:
        yield Slipped(changed)


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
        changed = with_entries(exercise, lambda entries, to=convention: _re_read(entries, to))  # type: ignore[misc]
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


def _no_load(exercise: Exercise, *toggled: str) -> Iterator[Slipped]:
    """Other things neglected in the no-load states than the exercise says."""
    states = {}
    for name, state in exercise.states.items():
        light = (state.entries.get("output_power"), state.entries.get("load_torque"))
        if any(entry is not None and entry.value == 0.0 for entry in light):
            states[name] = replace(state, neglect=state.neglect ^ set(toggled))
    if states:
        yield Slipped(replace(exercise, states={**exercise.states, **states}))


def _no_load_copper(exercise: Exercise) -> Iterator[Slipped]:
    yield from _no_load(exercise, "armature-drop")


def _no_load_input(exercise: Exercise) -> Iterator[Slipped]:
    """The field's share of the no-load input counted as rotational loss."""
    yield from _no_load(exercise, "field-current")
    yield from _no_load(exercise, "field-current", "armature-drop")


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
    if has(exercise, "stray_loss"):
        yield Slipped(without(exercise, "stray_loss"))


SLIPS: tuple[Slip, ...] = (
    Slip("regulation-on-the-wrong-base", "relative change taken on the wrong base", "convention",
         "speed regulation, (n_0 - n)/n", "The difference was divided by the other speed.",
         "The percentage comes out a little off.", _regulation_base),
    Slip("quotient-upside-down", "quotient put upside down", "reading", "the ratio asked for",
         "The ratio was formed the other way up.", "The reciprocal is answered.", _quotient_upside_down),
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
    Slip("no-load-input-taken-whole", "whole no-load input taken for rotational loss", "reading",
         "current-sum, I = I_a + I_f", "The input of the field circuit was not taken off the no-load input.",
         "The rotational loss comes out too large by the field copper loss.", _no_load_input),
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
