"""Printing a worked solution: text for a terminal, Markdown and LaTeX for a handout."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Sequence

from shuntref.cautions import SUGGESTED, cautions_in
from shuntref.exercises.library import source_line
from shuntref.exercises.solution import Solution
from shuntref.exercises.worked_solution import StepWords, WorkedSolution, worked_solution
from shuntref.exercises.writing import LatexWriter, TextWriter

__all__ = ["FORMATS", "render", "suggests_a_setting"]

FORMATS = ("text", "markdown", "latex")
_WIDTH = 100


def render(solution: Solution, form: str = "text") -> str:
    """Return the worked solution as text, Markdown or LaTeX.

    Parameters
    ----------
    solution : Solution
    form : {"text", "markdown", "latex"}

    Returns
    -------
    str

    Raises
    ------
    ValueError
        A format other than these three.

    Examples
    --------
    >>> from shuntref.exercises.statement_file import exercise_from_text
    >>> from shuntref.exercises.solver import solve
    >>> print(render(solve(exercise_from_text('''
    ... title = "Back EMF"
    ... statement = "A 240 V motor of 0.2 ohm takes 50 A. Find the back EMF."
    ... invented = true
    ... [state.running]
    ... supply_voltage = "240 V"
    ... armature_resistance = "0.2 ohm"
    ... armature_current = "50 A"
    ... [answer.back-emf]
    ... of = "back_emf"
    ... '''))))
    Back EMF
    ========
    ...
     1. Voltage balance of the armature circuit
            E = U - I_a·R_a
              = 240 V - 50 A × 0.2 ohm
              = 230 V
    ...
    """
    if form not in FORMATS:
        raise ValueError(f"format {form!r}: accepted are {', '.join(FORMATS)}")
    makers: dict[str, Callable[[Solution], str]] = {"text": _text, "markdown": _markdown, "latex": _latex}
    return makers[form](solution)


def suggests_a_setting(solution: Solution) -> bool:
    """Whether a solution suggests a resistor, a start or an open field, so that the cautions belong to it."""
    asked = {answer.of.quantity for answer in solution.exercise.answers.values()}
    standstill = any(solution.system.standstill(state) for state in solution.exercise.states.values())
    open_field = any(entry is not None and entry.value == 0 for state in solution.exercise.states.values()
                     for name, entry in state.entries.items() if name == "field_current")  # fmt: skip
    return bool(asked & SUGGESTED) or standstill or open_field or solution.exercise.starter is not None


def _wrapped(text: str, indent: str = "") -> list[str]:
    words = " ".join(re.split(r"[ \t\n]+", text.strip()))
    words = re.sub(r"(?<=\d) (?=[^\W\d]|%)|(?<=\bN) (?=m\b)", "\u00a0", words)  # a value is not torn apart
    lines = textwrap.wrap(words, _WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines] or [""]


def _paragraphs(solution: Solution) -> list[tuple[str, str]]:
    exercise = solution.exercise
    found = [("", exercise.statement)]
    if exercise.assumptions:
        found.append(("Assumptions", exercise.assumptions))
    return [(heading, " ".join(text.split())) for heading, text in found]


def _ending(solution: Solution, words: WorkedSolution) -> list[tuple[str, str]]:
    exercise = solution.exercise
    found = [("Remark", note) for note in words.notes]
    if exercise.note:
        found.append(("Note", exercise.note))
    found.append(("Source", source_line(exercise)))
    return [(heading, " ".join(text.split())) for heading, text in found if text]


# --- text


def _text(solution: Solution) -> str:
    words = worked_solution(solution, TextWriter(solution.exercise))
    lines = [solution.exercise.title, "=" * len(solution.exercise.title), ""]
    for heading, text in _paragraphs(solution):
        lines += [*_wrapped(f"{heading}: {text}" if heading else text), ""]
    lines.append("Given")
    for place, label in words.states:
        lines.append(f"  state {place}: {label}")
    for heading, data in words.given:
        kept = "; ".join(item.replace(" ", "\u00a0") for item in data)  # nor is a symbol torn off its value
        lines += _wrapped((f"{heading}: " if heading else "") + kept, "  ")
    for sentence in words.setting:
        lines += _wrapped(sentence, "  ")
    lines += ["", "Solution", ""]
    for number, step in enumerate(words.steps, start=1):
        lines += [*_text_step(number, step), ""]
    lines.append("Answers")
    wide = max((len(answer.label) for answer in words.answers), default=0)
    for answer in words.answers:
        symbol = f"{answer.symbol} = " if answer.symbol else ""
        lines.append(f"  {answer.label:<{wide}}  {symbol}{answer.value}")
        if answer.remark:
            lines += _wrapped(f"({answer.remark})", " " * (wide + 4))
    for heading, text in _ending(solution, words):
        lines += ["", *_wrapped(f"{heading}: {text}")]
    if suggests_a_setting(solution):
        lines += ["", cautions_in("text")]
    return "\n".join(lines) + "\n"


def _text_step(number: int, step: StepWords) -> list[str]:
    lines = _wrapped(f"{number:2d}. {step.heading}")
    lines = [lines[0], *("    " + line for line in lines[1:])]
    if lines[0][0] != " " and number < 10:
        lines[0] = " " + lines[0]
    for sides in step.formulas:
        whole = "        " + " = ".join(side for side in sides if not side.startswith("because ")) + "".join(
            f", {side}" for side in sides if side.startswith("because "))  # fmt: skip
        if len(sides) <= 2 or (len(whole) <= 60 and len(sides) <= 3):
            lines.append(whole)
            continue
        lines.append(f"        {sides[0]} = {sides[1]}")
        for side in sides[2:]:
            joint = "," if side.startswith("because ") else "="
            lines.append(" " * (8 + len(sides[0])) + f" {joint} {side}")
    for remark in step.remarks:
        lines += _wrapped(remark, "    ")
    return lines


# --- Markdown


def _markdown(solution: Solution) -> str:
    words = worked_solution(solution, LatexWriter(solution.exercise))
    lines = [f"# {solution.exercise.title}", ""]
    for heading, text in _paragraphs(solution):
        lines += [f"*{heading}:* {text}" if heading else text, ""]
    lines += ["## Given", ""]
    for place, label in words.states:
        lines.append(f"- state {place}: {label}")
    for heading, data in words.given:
        lines.append(f"- {heading + ': ' if heading else ''}{'; '.join(_unescaped(item) for item in data)}")
    lines += [f"- {sentence}" for sentence in words.setting]
    lines += ["", "## Solution", ""]
    for number, step in enumerate(words.steps, start=1):
        mark = f"{number}. "
        indent = " " * len(mark)  # or the list would end here
        lines += [mark + step.heading, ""]
        for sides in step.formulas:
            lines += [f"{indent}$${_chain(sides)}$$", ""]
        for remark in step.remarks:
            lines += [f"{indent}{remark}", ""]
    lines += ["## Answers", "", "| asked | answer | remark |", "|---|---|---|"]
    for answer in words.answers:
        symbol = f"${answer.symbol}$ = " if answer.symbol else ""
        lines.append(f"| {answer.label} | {symbol}{answer.value} | {answer.remark} |")
    for heading, text in _ending(solution, words):
        lines += ["", f"*{heading}:* {text}"]
    if suggests_a_setting(solution):
        lines += ["", cautions_in("markdown")]
    return "\n".join(lines) + "\n"


def _unescaped(text: str) -> str:
    return text.replace(r"\%", "%")


def _chain(sides: Sequence[str]) -> str:
    text = sides[0]
    for side in sides[1:]:
        text += (r",\quad " if side.startswith(r"\text{because") else " = ") + side
    return text


# --- LaTeX


def _latex(solution: Solution) -> str:
    words = worked_solution(solution, LatexWriter(solution.exercise))
    lines = [rf"\section*{{{_escaped(solution.exercise.title)}}}"]
    for heading, text in _paragraphs(solution):
        lines += [rf"\emph{{{heading}:}} {_escaped(text)}" if heading else _escaped(text), ""]
    lines += [r"\subsection*{Given}", r"\begin{itemize}"]
    lines += [rf"\item state {number}: {_escaped(label)}" for number, label in words.states]
    lines += [rf"\item {heading + ': ' if heading else ''}{'; '.join(data)}" for heading, data in words.given]
    lines += [rf"\item {_escaped(sentence)}" for sentence in words.setting]
    lines += [r"\end{itemize}", r"\subsection*{Solution}", r"\begin{enumerate}"]
    for step in words.steps:
        lines.append(rf"\item {_escaped(step.heading)}")
        lines += [rf"\[ {_chain(sides)} \]" for sides in step.formulas]
        lines += [_escaped(remark) for remark in step.remarks]
    lines += [r"\end{enumerate}", r"\subsection*{Answers}", r"\begin{itemize}"]
    for answer in words.answers:
        symbol = f"${answer.symbol}$ = " if answer.symbol else ""
        remark = f" ({_escaped(answer.remark)})" if answer.remark else ""
        lines.append(rf"\item {_escaped(answer.label)}: {symbol}{_escaped(answer.value)}{remark}")
    lines.append(r"\end{itemize}")
    for heading, text in _ending(solution, words):
        lines += ["", rf"\emph{{{heading}:}} {_escaped(text)}"]
    if suggests_a_setting(solution):
        lines.append(cautions_in("latex"))
    return "\n".join(lines) + "\n"


def _escaped(text: str) -> str:
    """Escape what LaTeX would take as a command, outside of math."""
    parts = re.split(r"(\$[^$]*\$)", text)
    for index in range(0, len(parts), 2):
        parts[index] = re.sub(r"(?<!\\)([%#&_{}])", r"\\\1", parts[index]).replace("^", r"\^{}").replace("~", r"\~{}")
    return "".join(parts).replace("ohm", r"$\Omega$") if "$" not in text else "".join(parts)
