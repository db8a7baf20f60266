"""The answers of an exercise from its values, put beside what was printed and written in the printed unit and digits."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from shuntref.exercises.solution import SolvedAnswer
from shuntref.exercises.statement import Answer, Exercise, ExerciseError, Ref
from shuntref.quantities.registry import quantity
from shuntref.quantities.text import format_value
from shuntref.quantities.units import unit_scale

__all__ = ["answer_text", "solved_answers"]

Number = Any


def answer_value(answer: Answer, value_of: Callable[[Ref], Number]) -> Number:
    """Value of an answer: a quantity, or its quotient or relative change against another.

    Examples
    --------
    >>> ratio = Answer("regulation", Ref("light", "speed"), "change", Ref("full", "speed"))
    >>> answer_value(ratio, lambda ref: {"light": 105.0, "full": 100.0}[ref.state])
    0.05
    """
    value = value_of(answer.of)
    if answer.against is None:
        return value
    against = value_of(answer.against)
    if against == 0:
        raise ExerciseError(f"[answer.{answer.name}]: {answer.against} is 0, so nothing can be compared with it")
    if answer.kind == "quotient":
        return value / against
    return (value - against) / against if answer.kind == "change" else (against - value) / against


def answer_text(answer: Answer, value: float, horsepower: str = "mechanical") -> str:
    """Write a value like the printed answer: same unit, same last digit; four figures where nothing was printed.

    Examples
    --------
    >>> from shuntref.quantities.text import read_value
    >>> printed = read_value("speed_rpm", "21.78 rev/s")
    >>> answer_text(Answer("n", Ref("after", "speed_rpm"), printed=printed), 1306.4)
    '21.77 rev/s'
    """
    name = "torque_ratio" if answer.kind != "value" else answer.of.quantity
    if answer.printed is None:
        return format_value(name, value)
    unit = answer.printed.unit_text
    factor, offset = unit_scale(quantity(name), unit, horsepower) if unit else (Decimal(1), Decimal(0))
    number = (value - float(offset)) / float(factor)
    if answer.rule.step is not None:
        step = answer.rule.step / float(factor)
        number = round(number / step) * step
    mantissa, _, exponent = answer.printed.number_text.lower().partition("e")
    decimals = len(mantissa.partition(".")[2]) - int(exponent or 0)
    digits = f"{number:.{max(decimals, 0)}f}"
    return f"{digits} {unit}".strip()


def solved_answers(exercise: Exercise, value_of: Callable[[Ref], Number]) -> dict[str, SolvedAnswer]:
    """Return every answer of an exercise, solved and compared."""
    found = {}
    for name, answer in exercise.answers.items():
        value = float(answer_value(answer, value_of))
        window = answer.rule.window(answer.printed) if answer.printed else None
        agrees = window.holds(value) if window else None
        found[name] = SolvedAnswer(answer, value, agrees, window, answer_text(answer, value, exercise.horsepower))
    return found
