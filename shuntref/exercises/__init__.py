"""Exercises stated once: solved with steps, answers judged, slips named. Loaded name by name when first used.

The format is described in ``references/README.md``.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: public name -> module of this room that holds it
_PUBLIC = {
    "Exercise": "statement",
    "ExerciseError": "statement",
    "Marked": "marking",
    "Solution": "solution",
    "Verdict": "verdict",
    "answer_key": "verdict",
    "exercise_from_text": "statement_file",
    "judge": "verdict",
    "load_exercise": "statement_file",
    "mark_sheet": "marking",
    "reference_exercise": "library",
    "reference_exercise_names": "library",
    "render": "rendering",
    "solve": "solver",
    "source_line": "library",
}

__all__ = [*_PUBLIC]

if TYPE_CHECKING:
    from shuntref.exercises.library import reference_exercise as reference_exercise
    from shuntref.exercises.library import reference_exercise_names as reference_exercise_names
    from shuntref.exercises.library import source_line as source_line
    from shuntref.exercises.marking import Marked as Marked
    from shuntref.exercises.marking import mark_sheet as mark_sheet
    from shuntref.exercises.rendering import render as render
    from shuntref.exercises.solution import Solution as Solution
    from shuntref.exercises.solver import solve as solve
    from shuntref.exercises.statement import Exercise as Exercise
    from shuntref.exercises.statement import ExerciseError as ExerciseError
    from shuntref.exercises.statement_file import exercise_from_text as exercise_from_text
    from shuntref.exercises.statement_file import load_exercise as load_exercise
    from shuntref.exercises.verdict import Verdict as Verdict
    from shuntref.exercises.verdict import answer_key as answer_key
    from shuntref.exercises.verdict import judge as judge


if not TYPE_CHECKING:  # so that a type checker knows the names above and no others

    def __getattr__(name: str) -> Any:
        module = _PUBLIC.get(name)
        if module is None:
            raise AttributeError(f"module 'shuntref.exercises' has no attribute {name!r}")
        return getattr(importlib.import_module(f"shuntref.exercises.{module}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
