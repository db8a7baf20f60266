"""The published exercises as evidence: one check for every printed answer, by every route that applies."""

from __future__ import annotations

from collections.abc import Iterator

from shuntref.evidence import Check
from shuntref.exercises.library import reference_exercise, reference_exercise_names, source_line
from shuntref.exercises.model_route import model_route
from shuntref.exercises.solution import SolvedAnswer
from shuntref.exercises.solver import solve, solve_precisely
from shuntref.exercises.statement import Exercise, ExerciseError

__all__ = ["checks"]

#: floats against 50 digits, and the solver against the numeric model
_SAME = 1e-9
_GROUPS = {"exercises": "published exercises", "errata": "printed errors"}


def checks() -> Iterator[Check]:
    """Yield one check per printed answer, and one per exercise for the numeric model where it applies.

    An answer passes when its exercise, solved in floats and in 50 digits with the same result, meets the printed figure
    within its rule; a printed figure known to be wrong passes when the solution differs from it.
    """
    for kind, group in _GROUPS.items():
        for name in reference_exercise_names(kind):
            yield from _of_exercise(reference_exercise(name, kind), group)


def _of_exercise(exercise: Exercise, group: str) -> Iterator[Check]:
    source = source_line(exercise)
    named = (exercise.source.id,) if exercise.source else ()
    seen = exercise.source.answer if exercise.source else ""
    try:
        solution, precise = solve(exercise), solve_precisely(exercise)
    except ExerciseError as error:
        yield Check(group, f"{exercise.name} can be solved", False, str(error), source, named, seen)
        return
    for name, answer in solution.answers.items():
        if answer.answer.printed is None:
            continue
        other = precise.answers[name].value
        routes = abs(answer.value - other) <= _SAME * max(abs(other), 1e-9)
        passed = routes and answer.agrees is not answer.answer.disagrees
        yield Check(
            group, f"{exercise.name}: {answer.answer.label}", passed, _detail(answer, other), source, named, seen
        )
    agreements = list(model_route(solution))
    if agreements:
        worst = max(agreements, key=lambda agreement: agreement.difference)
        yield Check(f"{group}, numeric model", f"{exercise.name}: {len(agreements)} values by the numeric model",
                    worst.difference <= _SAME, f"worst {worst.difference:.1e} at {worst.ref}", source, named, seen)  # fmt: skip


def _detail(answer: SolvedAnswer, precise: float) -> str:
    printed = answer.answer.printed.text if answer.answer.printed else ""
    detail = f"printed {printed}, solved {answer.text} ({answer.value:.7g}, in 50 digits {precise:.7g})"
    if answer.answer.disagrees:
        return f"{detail}; known not to follow: {' '.join(answer.answer.rule.reason.split())}"
    if answer.answer.rule.reason:
        return f"{detail}; {' '.join(answer.answer.rule.reason.split())}"
    return detail
