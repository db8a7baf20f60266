"""A solution put into words: what is given, what is said of the states, each step with its law, and the answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import sympy as sp

from shuntref.exercises.equation import CurveEquation, Equation, LawEquation
from shuntref.exercises.inversion import branches, law_form
from shuntref.exercises.setting_words import given_lines, setting_lines
from shuntref.exercises.solution import Choice, Solution, SolvedAnswer, Step
from shuntref.exercises.statement import STARTER, Ref
from shuntref.exercises.writing import Writer, number_text

__all__ = ["AnswerWords", "StepWords", "WorkedSolution", "worked_solution"]

Number = Any


@dataclass(frozen=True)
class StepWords:
    """One step: a heading in words, formulas, each a list of sides joined by equals signs, and remarks."""

    heading: str
    formulas: tuple[tuple[str, ...], ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class AnswerWords:
    """One answer: its label, its symbol, its value, and a remark on the printed figure."""

    label: str
    symbol: str
    value: str
    remark: str


@dataclass(frozen=True)
class WorkedSolution:
    """A solution in words, for one format."""

    states: tuple[tuple[str, str], ...]
    given: tuple[tuple[str, tuple[str, ...]], ...]
    setting: tuple[str, ...]
    steps: tuple[StepWords, ...]
    answers: tuple[AnswerWords, ...]
    notes: tuple[str, ...]


def worked_solution(solution: Solution, writer: Writer) -> WorkedSolution:
    """Put a solution into words.

    Parameters
    ----------
    solution
        A solved exercise.
    writer
        Writes symbols and values in the wanted format.
    """
    exercise = solution.exercise
    states = tuple((str(number), exercise.states[name].label) for name, number in writer.numbers.items())
    solution = _without_hollow(solution)
    steps = [_step(solution, step, writer) for step in solution.steps]
    steps += _comparisons(solution, writer)
    return WorkedSolution(
        states if writer.several else (),
        given_lines(solution, writer),
        setting_lines(solution, writer),
        tuple(steps),
        tuple(_answer(solution, answer, writer) for answer in solution.answers.values()),
        solution.notes,
    )


def _without_hollow(solution: Solution) -> Solution:
    """Leave out what is nothing only because of what was taken as nothing, such as the heat in a rheostat that is not there."""
    nothing = dict(solution.system.nothing)
    kept = []
    for step in solution.steps:
        if step.value == 0 and step.choice is None and all(nothing.get(ref) == 0 for ref in step.inputs):
            nothing[step.ref] = 0.0
        else:
            kept.append(step)
    return replace(solution, steps=tuple(kept), system=replace(solution.system, nothing=nothing))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _place(solution: Solution, refs: tuple[Ref, ...]) -> str:
    """The state that a step is about, for its heading."""
    states = {ref.state for ref in refs if ref.state in solution.exercise.states}
    if len(states) != 1 or len(solution.exercise.states) < 2:
        return "starter" if any(ref.state == STARTER for ref in refs) and solution.exercise.states else ""
    return solution.exercise.states[states.pop()].label


def _step(solution: Solution, step: Step, writer: Writer) -> StepWords:
    if step.choice is not None:
        return _group_step(solution, step, step.choice, writer)
    equation = step.equation
    place = _place(solution, (step.ref, *step.inputs))
    heading = _capital(equation.title) + (f", {place}" if place else "")
    remarks = (f"{_capital(equation.because)}.",) if equation.because else ()
    symbol, value = writer.symbol(step.ref), writer.value(step.ref, step.value)
    if isinstance(equation, LawEquation):
        return StepWords(heading, (_law_formula(solution, step, equation, writer),), remarks)
    if isinstance(equation, CurveEquation):
        other = equation.current if step.ref == equation.emf else equation.emf
        at = f"{writer.symbol(other)} = {writer.value(other, solution.values[other])}"
        join = "joined by straight lines" if equation.curve.join == "linear" else "joined by a shape-preserving cubic"
        return StepWords(f"{heading}, {join}, at {writer.in_sentence(at)}", ((symbol, value),), remarks)
    if step.kind == "whole":
        exact = step.inputs[0]
        heading += f": {writer.value(exact, solution.values[exact])} is taken as"
    elif step.inputs:
        other = step.inputs[0]
        at = f"{writer.symbol(other)} = {writer.value(other, solution.values[other])}"
        heading += f", at {writer.in_sentence(at)}"
    return StepWords(heading, ((symbol, value),), remarks)


def _law_formula(solution: Solution, step: Step, equation: LawEquation, writer: Writer) -> tuple[str, ...]:
    symbol, value = writer.symbol(step.ref), writer.value(step.ref, step.value)
    expression = _told(solution, step, equation)
    if equation.slug == "speed-conversion" and expression.free_symbols:
        return _conversion(solution, step, equation, writer)
    if not expression.free_symbols:
        zero = [ref for ref in step.inputs if solution.values[ref] == 0]
        if zero:
            why = f"{writer.symbol(zero[0])} = 0"
            return (symbol, f"{value}" if expression != 0 else "0", f"{writer.because}{why}")
        return (symbol, value)
    symbols = writer.with_symbols(expression, equation.binding)
    numbers = writer.with_values(expression, equation.binding, solution.values)
    return (symbol, symbols, value) if numbers == value else (symbol, symbols, numbers, value)


def _conversion(solution: Solution, step: Step, equation: LawEquation, writer: Writer) -> tuple[str, ...]:
    """Two pi over sixty, as it is written on the board and not as it is reduced."""
    other = equation.binding["speed" if step.ref == equation.binding["speed_rpm"] else "speed_rpm"]
    sides = []
    for written, dot in (
        (writer.symbol(other), writer.dot),
        (writer.value(other, solution.values[other]), writer.times),
    ):
        if step.ref == equation.binding["speed"]:
            sides.append(writer.fraction(f"2{writer.dot}{writer.pi}{dot}{written}", "60", False, False))
        else:
            sides.append(writer.fraction(f"60{dot}{written}", f"2{writer.dot}{writer.pi}", False, True))
    return (writer.symbol(step.ref), *sides, writer.value(step.ref, step.value))


def _told(solution: Solution, step: Step, equation: LawEquation) -> sp.Expr:
    """The law solved for the step's quantity, leaving out only what the exercise does not speak of."""
    known = {ref: value for ref, value in solution.values.items() if ref != step.ref}
    nothing = frozenset(equation.name_of(ref) for ref in equation.refs if solution.system.nothing.get(ref) == 0)
    ones = frozenset(equation.name_of(ref) for ref in equation.refs if solution.system.nothing.get(ref) == 1)
    form = law_form(equation.law, nothing, equation.merged, equation.generating, ones)
    target = equation.name_of(step.ref)
    short = branches(equation.form(known), target)
    full = branches(form, target)
    if not short[step.branch].free_symbols:
        return short[step.branch]
    if len(full) == len(short) and all(equation.binding[name] in known for name in form.names if name != target):
        return full[step.branch]
    return short[step.branch]


def _equation_sides(
    solution: Solution, equation: Equation, writer: Writer, unknowns: tuple[Ref, ...]
) -> tuple[str, ...]:
    if not isinstance(equation, LawEquation):
        refs = equation.refs
        return (writer.symbol(refs[-1]), "curve" + writer.bracket(writer.symbol(refs[0])))
    nothing = {equation.name_of(ref): 0 for ref in equation.refs if solution.system.nothing.get(ref) == 0}
    law = equation.law.equation
    swap = {sp.Symbol(name, real=True): value for name, value in nothing.items()}
    side = -1 if equation.generating else 1
    current = sp.Symbol("armature_current", real=True)
    swap |= {sp.sign(current): side, sp.Abs(current): side * current}
    return tuple(writer.with_symbols(part.subs(swap), equation.binding) for part in (law.lhs, law.rhs))


def _group_step(solution: Solution, step: Step, choice: Choice, writer: Writer) -> StepWords:
    """A group: its laws, the polynomial they leave, the roots, and which was taken."""
    unknowns = tuple(choice.taken.values)
    place = _place(solution, unknowns)
    names = ", ".join(dict.fromkeys(equation.title for equation in step.group))
    heading = f"These hold together{', ' + place if place else ''}: {names}"
    formulas = [_equation_sides(solution, equation, writer, unknowns) for equation in step.group]
    symbol = writer.symbol(choice.unknown)
    remarks = []
    if len(choice.coefficients) > 2:
        formulas.append((_polynomial(choice, symbol, writer), "0"))
        remarks.append(f"The equation in {writer.in_sentence(symbol)} is what they leave with what is known put in.")
    roots = [choice.taken, *choice.others]
    formulas.append((symbol, writer.value(step.ref, step.value)))
    if len(roots) > 1:
        others = " and ".join(
            writer.in_sentence(writer.value(step.ref, root.values[step.ref])) for root in choice.others
        )
        remarks.append(f"Real roots: {writer.in_sentence(writer.value(step.ref, step.value))} and {others}.")
    if choice.reason:
        remarks.append(f"{_capital(choice.reason)}.")
    for root in choice.others:
        remarks += _other_root(solution, choice, root.values, root.impossible, root.answers, writer)
    return StepWords(heading, tuple(formulas), tuple(remarks))


def _polynomial(choice: Choice, symbol: str, writer: Writer) -> str:
    text = ""
    degree = len(choice.coefficients) - 1
    for power, coefficient in zip(range(degree, -1, -1), choice.coefficients, strict=True):
        if coefficient == 0:
            continue
        size = number_text(abs(coefficient), 6)
        base = writer.power(symbol, str(power), False) if power > 1 else symbol
        term = size if power == 0 else base if size == "1" else f"{size}{writer.dot}{base}"
        sign = "-" if coefficient < 0 else "+"
        text += f" {sign} {term}" if text else term  # the first coefficient is 1
    return text


def _other_root(
    solution: Solution, choice: Choice, values: Mapping[Ref, Number], impossible: str, answers: Mapping[str, float],
    writer: Writer,
) -> list[str]:  # fmt: skip
    from shuntref.exercises.answers import answer_text

    which = writer.in_sentence(
        f"{writer.symbol(choice.unknown)} = {writer.value(choice.unknown, values[choice.unknown])}"
    )
    if impossible:
        return [f"{which} cannot be: {impossible}."]
    said = []
    for name, value in answers.items():
        answer = solution.answers[name]
        if abs(value - answer.value) > 1e-9 * abs(answer.value):
            said.append(f"{answer.answer.label} {answer_text(answer.answer, value, solution.exercise.horsepower)}")
    return [f"The other root, {which}, would give: {', '.join(said)}."] if said else []


def _comparisons(solution: Solution, writer: Writer) -> list[StepWords]:
    steps = []
    for solved in solution.answers.values():
        answer = solved.answer
        if answer.against is None:
            continue
        of, against = (solution.system.bind(ref) for ref in (answer.of, answer.against))
        one, other = (writer.symbol(ref) for ref in (of, against))
        above_value, below_value = (writer.value(ref, solution.values[ref]) for ref in (of, against))
        result = number_text(solved.value)
        if answer.kind == "quotient":
            sides = (writer.fraction(one, other, False, False),
                     writer.fraction(above_value, below_value, False, False), result)  # fmt: skip
        else:
            first = (f"{one} - {other}", f"{above_value} - {below_value}")
            if answer.kind == "decrease":
                first = (f"{other} - {one}", f"{below_value} - {above_value}")
            sides = (writer.fraction(first[0], other, True, False),
                     writer.fraction(first[1], below_value, True, False), result)  # fmt: skip
        steps.append(StepWords(_capital(answer.label), (sides,)))
    return steps


def _answer(solution: Solution, solved: SolvedAnswer, writer: Writer) -> AnswerWords:
    answer = solved.answer
    symbol = writer.symbol(answer.of) if answer.against is None else ""
    remark = ""
    if answer.printed is not None:
        printed = answer.printed_as or answer.printed.text
        if answer.disagrees:
            remark = f"printed {printed}, which does not follow from the data. {answer.rule.reason}"
        elif solved.agrees:
            remark = f"printed {printed}" + (f". {answer.rule.reason}" if answer.rule.reason else "")
        else:
            remark = f"printed {printed}: does NOT agree"
    return AnswerWords(answer.label.replace("emf", "EMF"), symbol, solved.text, " ".join(remark.split()))
