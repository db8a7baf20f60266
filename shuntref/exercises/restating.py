"""An exercise stated in another way: its entries, names and answers changed, everything else as it was."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from shuntref.exercises.statement import Answer, Entry, Exercise, Ref

__all__ = ["Entries", "asking", "has", "renamed", "scaled", "with_answers", "with_entries", "without"]

Entries = Mapping[str, Entry]


def with_entries(exercise: Exercise, change: Callable[[Entries], dict[str, Entry]]) -> Exercise:
    """The exercise with the quantities of every state and the shared ones changed."""
    states = {name: replace(state, entries=change(state.entries)) for name, state in exercise.states.items()}
    return replace(exercise, states=states, shared=change(exercise.shared))


def without(exercise: Exercise, *names: str) -> Exercise:
    """The exercise with quantities taken out of all its states."""
    return with_entries(exercise, lambda entries: {k: v for k, v in entries.items() if k not in names})


def has(exercise: Exercise, *names: str) -> bool:
    """Whether the exercise gives one of these quantities anywhere."""
    tables = [exercise.shared, *(state.entries for state in exercise.states.values())]
    return any(name in table for table in tables for name in names)


def scaled(entries: Entries, name: str, factor: float) -> dict[str, Entry]:
    """The entries with one value multiplied; its rounding goes with it."""
    written = entries.get(name)
    if written is None:
        return dict(entries)
    scaled = replace(written, value=written.value * factor, half_unit=written.half_unit * factor,
                     number_text=repr(float(written.number_text) * factor))  # fmt: skip
    return {**entries, name: scaled}


def renamed(exercise: Exercise, names: Mapping[str, str]) -> Exercise:
    """The exercise with quantities under other names, in its states, its answers and its links."""

    def ref(old: Ref) -> Ref:
        return Ref(old.state, names.get(old.quantity, old.quantity), old.index)

    def entries(table: Entries) -> dict[str, Entry]:
        return {names.get(name, name): value for name, value in table.items()}

    answers = {
        name: replace(answer, of=ref(answer.of), against=ref(answer.against) if answer.against else None)
        for name, answer in exercise.answers.items()
    }
    return replace(with_entries(exercise, entries), answers=answers)


def with_answers(exercise: Exercise, change: Callable[[Answer], Answer]) -> Exercise:
    """The exercise with every answer changed."""
    return replace(exercise, answers={name: change(answer) for name, answer in exercise.answers.items()})


def asking(exercise: Exercise, instead: Mapping[str, str]) -> Exercise:
    """The exercise with other quantities asked in the place of the right ones."""

    def change(answer: Answer) -> Answer:
        name = instead.get(answer.of.quantity)
        return answer if name is None else replace(answer, of=Ref(answer.of.state, name))

    return with_answers(exercise, change)
