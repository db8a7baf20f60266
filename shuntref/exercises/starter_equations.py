"""The equations of a graded starter: what its two limits, its number of sections and its steps have to do with each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shuntref.exercises.equation import LawEquation
from shuntref.exercises.statement import STARTER, Exercise, Ref, Starter
from shuntref.theory.laws.law import Law

__all__ = ["limit_states", "starter_laws", "step_equations"]

_OF_STEP = ("step_circuit_resistance", "section_resistance", "step_back_emf")


def limit_states(starter: Starter) -> list[str]:
    """Names under which line currents that limit the start are kept.

    Examples
    --------
    >>> limit_states(Starter("keep-limits"))
    ['starter-upper', 'starter-lower']
    """
    return [f"{STARTER}-upper", f"{STARTER}-lower"]


def starter_laws(exercise: Exercise) -> Iterator[tuple[str, str]]:
    """Yield (state, slug) of the laws that hold for the starter as a whole."""
    starter = exercise.starter
    if starter is None:
        return
    both = bool(starter.upper_current or starter.upper_from) and bool(starter.lower_current or starter.lower_from)
    if starter.limits_in == "line":
        yield from ((STARTER, slug) for slug in ("shunt-connection", "field-circuit-resistance", "field-circuit"))
        for side in ("upper", "lower"):
            if getattr(starter, f"{side}_current"):
                yield f"{STARTER}-{side}", "current-sum"
    yield STARTER, "brush-pair"
    if both:
        yield STARTER, "starter-sections"
    if not (both and starter.method == "adjust-ratio"):
        yield STARTER, "starter-ratio"
    if starter.method == "adjust-ratio" or starter.sections:
        yield STARTER, "starter-grading-upper"
        if not both:
            yield STARTER, "starter-grading-lower"
    yield STARTER, "studs-of-sections"


def step_equations(sections: int, laws: Mapping[str, Law]) -> list[LawEquation]:
    """Return the equations of the steps of a starter.

    Examples
    --------
    >>> from shuntref.theory.laws import all_laws
    >>> [equation.slug for equation in step_equations(2, all_laws())][:3]
    ['starter-first-stud', 'starter-resistance', 'starter-next-stud']
    """
    found: list[LawEquation] = []

    def add(slug: str, step: int) -> None:
        law = laws[slug]
        binding = {name: Ref(STARTER, name, step if name in _OF_STEP else 0) for name in law.quantities}
        if "next_step_circuit_resistance" in binding:
            binding["next_step_circuit_resistance"] = Ref(STARTER, "step_circuit_resistance", step + 1)
        found.append(LawEquation(law, binding))

    add("starter-first-stud", 1)
    add("starter-resistance", 1)
    for step in range(1, sections + 1):
        add("starter-next-stud", step)
        add("starter-last-section" if step == sections else "starter-cut-section", step)
        add("starter-change-emf", step)
    return found
