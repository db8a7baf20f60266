"""``shuntref solve``: an exercise in, the worked solution out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shuntref.cli.document_form import document_form
from shuntref.quantities.near_names import near_names

if TYPE_CHECKING:
    from shuntref.exercises.solution import Solution
    from shuntref.exercises.statement import Exercise

__all__ = ["exercise_of", "solve"]


def exercise_of(name: str) -> Exercise:
    """Return the exercise in the file ``name``, or the published one of that name."""
    from shuntref.exercises.library import reference_exercise, reference_exercise_names
    from shuntref.exercises.statement_file import load_exercise

    for kind in ("exercises", "errata", "practice"):
        if not Path(name).exists() and name in reference_exercise_names(kind):
            return reference_exercise(name, kind)
    try:
        return load_exercise(name)
    except FileNotFoundError:
        published = [name for kind in ("exercises", "errata", "practice") for name in reference_exercise_names(kind)]
        near = near_names(name.removesuffix(".toml"), published, 3) or ["bird-22-shunt-motor-circuit"]
        raise ValueError(
            f"{name[:60]}: there is no such file, and no published exercise of this name; "
            f"published ones are for example {', '.join(near)}"
        ) from None


@click.command()
@click.argument("file")
@document_form
@click.option("--json", "as_json", is_flag=True, help="Print values, steps and answers as one JSON document.")
def solve(file: str, form: str, as_json: bool) -> None:
    """Solve the exercise in FILE and print the worked solution.

    FILE is an exercise file (the format is described in references/README.md), or the name of a published exercise that
    comes with the package, such as theraja-pump. Where an answer is printed in the file, the solution says whether it
    follows from the data; the exit status is 1 when one does not and the file does not say why.

    \b
    Examples:
      shuntref solve homework.toml
      shuntref solve theraja-same-torque-field-rheostat --format markdown
    """
    from shuntref.exercises.rendering import render
    from shuntref.exercises.solver import solve as solve_exercise

    solution = solve_exercise(exercise_of(file))
    if as_json:
        click.echo(json.dumps(_document(solution), indent=1, ensure_ascii=False))
    else:
        click.echo(render(solution, form), nl=False)
    off = [name for name, answer in solution.answers.items() if answer.agrees is answer.answer.disagrees]
    if off:
        click.echo(f"shuntref: {', '.join(off)}: the printed answer and the data are not as the file says", err=True)
        raise SystemExit(1)


def _document(solution: Solution) -> dict[str, Any]:
    from shuntref.cautions import CAUTIONS
    from shuntref.exercises.library import source_line
    from shuntref.exercises.rendering import suggests_a_setting
    from shuntref.exercises.worked_solution import worked_solution
    from shuntref.exercises.writing import TextWriter
    from shuntref.quantities.registry import quantity

    exercise = solution.exercise
    words = worked_solution(solution, TextWriter(exercise))
    return {
        "title": exercise.title,
        "label": exercise.label,
        "statement": " ".join(exercise.statement.split()),
        "source": source_line(exercise),
        "answers": {
            name: {
                "of": str(answer.answer.of),
                "value": answer.value,
                "unit": "1" if answer.answer.against else quantity(answer.answer.of.quantity).unit,
                "text": answer.text,
                "printed": answer.answer.printed.text if answer.answer.printed else None,
                "agrees": answer.agrees,
                "accepted": [answer.window.low, answer.window.high] if answer.window else None,
                "reason": answer.window.reason if answer.window else None,
            }
            for name, answer in solution.answers.items()
        },
        "values": {
            str(step.ref): {"value": float(step.value), "unit": quantity(step.ref.quantity).unit}
            for step in solution.steps
        },
        "steps": [
            {
                "law": step.heading,
                "formulas": [" = ".join(sides) for sides in step.formulas],
                "remarks": list(step.remarks),
            }
            for step in words.steps
        ],
        "roots": [
            {
                "unknown": str(choice.unknown),
                "taken": float(choice.taken.values[choice.unknown]),
                "others": [
                    {
                        "value": float(root.values[choice.unknown]),
                        "impossible": root.impossible,
                        "answers": dict(root.answers),
                    }
                    for root in choice.others
                ],
                "reason": choice.reason,
            }
            for choice in solution.choices
        ],
        "notes": list(solution.notes),
        "cautions": list(CAUTIONS) if suggests_a_setting(solution) else [],
    }
