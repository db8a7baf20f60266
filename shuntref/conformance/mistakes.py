"""What each named mistake does to the equations: the registered transformations behind the flags' wrong values.

A transformation takes the right problem and returns the mistaken one, or None where the mistake cannot be made. A group
may register one of its own for a function whose equations are not the usual ones.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import sympy as sp

from shuntref.conformance.problem import DIRECTION, Namer, Problem, Values, equations, variable

__all__ = ["MISTAKES", "Mistake", "mistake", "on_inputs", "on_outputs", "replaced", "swapped"]

Mistake = Callable[[Problem], Problem | None]

MISTAKES: dict[str, Mistake] = {}


def mistake(slug: str) -> Callable[[Mistake], Mistake]:
    """Register a transformation under the slug of its flag."""

    def register(change: Mistake) -> Mistake:
        if slug in MISTAKES:
            raise ValueError(f"mistake {slug!r} is registered twice")
        MISTAKES[slug] = change
        return change

    return register


def swapped(law_name: str, builder: Callable[[Namer], sp.Eq], states: str = "both") -> Mistake:
    """Return the mistake that puts another equation in a law's place."""
    return lambda problem: problem.swap(law_name, builder, states)


def replaced(equations_by_key: Mapping[str, sp.Eq]) -> Mistake:
    """Return the mistake that puts the given equations in place of those of the same keys."""

    def change(problem: Problem) -> Problem | None:
        if not set(equations_by_key) <= set(problem.equations):
            return None
        return replace(problem, equations={**problem.equations, **equations_by_key})

    return change


def on_inputs(change: Callable[[Values], None]) -> Mistake:
    """Return the mistake that alters the inputs in place."""

    def before(values: Values) -> Values:
        change(values)
        return values

    return lambda problem: problem.with_before(before)


def on_outputs(change: Callable[[Values], None]) -> Mistake:
    """Return the mistake that alters the answer in place."""

    def after(values: Values) -> Values:
        change(values)
        return values

    return lambda problem: problem.with_after(after)


def scaled_inputs(factor: Callable[[], object], *names: str) -> Mistake:
    """Return the mistake that multiplies inputs (all readings of a list) by a factor."""

    def change(values: Values) -> None:
        for key in values:
            if key.split("[")[0] in names:
                values[key] = values[key] * factor()

    return on_inputs(change)


def _armature(builder: Callable[[Namer, object], sp.Eq]) -> Mistake:
    """Return the mistake in the voltage balance of the armature; the builder is given the direction of the current."""

    def build(name: Namer) -> sp.Eq:
        present = name("back_emf").name == "back_emf"
        return builder(name, variable(DIRECTION) if present else sp.Integer(1))

    return swapped("armature-circuit-signed", build)


def _register_circuit() -> None:
    def parallel(total: str, own: str, added: str) -> Callable[[Namer], sp.Eq]:
        return lambda s: sp.Eq(s(total) * (s(own) + s(added)), s(own) * s(added))

    laws: dict[str, Mistake] = {
        "field-current-added-to-line-current": swapped(
            "current-sum", lambda s: sp.Eq(s("armature_current"), s("line_current") + s("field_current"))
        ),
        "back-emf-ignored": _armature(
            lambda s, d: sp.Eq(
                s("supply_voltage"),
                s("armature_current") * s("armature_circuit_resistance") + s("brush_drop") * d,
            )
        ),
        "armature-drop-added": _armature(
            lambda s, d: sp.Eq(
                s("back_emf"),
                s("supply_voltage") + s("armature_current") * s("armature_circuit_resistance") + s("brush_drop") * d,
            )
        ),
        "armature-drop-ignored": _armature(lambda s, d: sp.Eq(s("back_emf"), s("supply_voltage"))),
        "brush-drop-helps-the-current": _armature(
            lambda s, d: sp.Eq(
                s("supply_voltage"),
                s("back_emf") + s("armature_current") * s("armature_circuit_resistance") - s("brush_drop") * d,
            )
        ),
        "armature-winding-forgotten": swapped(
            "armature-circuit-resistance",
            lambda s: sp.Eq(s("armature_circuit_resistance"), s("added_armature_resistance")),
            "present",
        ),
        "added-armature-resistance-ignored": swapped(
            "armature-circuit-resistance",
            lambda s: sp.Eq(s("armature_circuit_resistance"), s("armature_resistance")),
            "present",
        ),
        "field-winding-forgotten": swapped(
            "field-circuit-resistance",
            lambda s: sp.Eq(s("field_circuit_resistance"), s("added_field_resistance")),
            "present",
        ),
        "flux-kept-though-the-field-changed": swapped(
            "field-circuit-resistance",
            lambda s: sp.Eq(s("field_circuit_resistance"), s("field_resistance")),
            "present",
        ),
        "line-drop-ignored": swapped("line-drop", lambda s: sp.Eq(s("source_voltage"), s("supply_voltage"))),
        "field-fed-from-armature-supply": swapped(
            "field-circuit",
            lambda s: sp.Eq(s("supply_voltage"), s("field_current") * s("field_circuit_resistance")),
        ),
        "flux-not-squared-in-torque-term": swapped(
            "torque", lambda s: sp.Eq(s("electromagnetic_torque"), s("armature_current"))
        ),
        "armature-reaction-ignored": lambda problem: (
            problem.swap("reaction-proportional", lambda s: sp.Eq(s("reaction_field_current"), 0))
            or problem.swap("demagnetising-field-current", lambda s: sp.Eq(s("reaction_field_current"), 0))
        ),
        "demagnetising-sign-wrong": swapped(
            "effective-field-current",
            lambda s: sp.Eq(s("effective_field_current"), s("field_current") + s("reaction_field_current")),
        ),
        "loss-torque-forgotten": swapped(
            "torque-balance", lambda s: sp.Eq(s("electromagnetic_torque"), s("load_torque"))
        ),
        "rotational-loss-forgotten": swapped(
            "power-balance", lambda s: sp.Eq(s("electromagnetic_power"), s("output_power"))
        ),
        "rotational-loss-taken-off-twice": swapped(
            "power-balance",
            lambda s: sp.Eq(s("electromagnetic_power"), s("output_power") + 2 * s("rotational_loss")),
        ),
        "froehlich-constants-exchanged": swapped(
            "flux-froehlich",
            lambda s: sp.Eq(
                s("k_phi"),
                s("remanent_k_phi")
                + s("froehlich_b") * s("effective_field_current") / (s("froehlich_a") + s("effective_field_current")),
            ),
        ),
        "remanence-ignored": swapped(
            "flux-froehlich",
            lambda s: sp.Eq(
                s("k_phi"),
                s("froehlich_a") * s("effective_field_current") / (s("froehlich_b") + s("effective_field_current")),
            ),
        ),
    }
    for slug, change in laws.items():
        mistake(slug)(change)
    resistance = ("armature_circuit_resistance", "armature_resistance", "added_armature_resistance")
    field_side = ("field_circuit_resistance", "field_resistance", "added_field_resistance")

    @mistake("added-resistance-in-parallel")
    def _parallel(problem: Problem) -> Problem | None:
        armature = problem.swap("armature-circuit-resistance", parallel(*resistance), "present")
        return armature or problem.swap("field-circuit-resistance", parallel(*field_side), "present")

    @mistake("total-given-for-added")
    def _total(problem: Problem) -> Problem | None:
        for own, added in (resistance[1:], field_side[1:], (resistance[1], "starting_resistance")):
            if added in problem.wanted:

                def after(values: Values, own: str = own, added: str = added) -> Values:
                    return {**values, added: values[added] + values[own]}

                return problem.with_after(after)
        return None


def ahead_of_both(added: str, law_name: str, own: str, total: str) -> Mistake:
    """Return the mistake of an added resistance in the line: both circuits then lie behind it."""

    def change(problem: Problem) -> Problem | None:
        if law_name not in problem.equations or "shunt-connection" not in problem.equations:
            return None
        inner = variable("voltage_behind_the_resistor")
        supply = variable("supply_voltage")
        moved = {key: eq.xreplace({supply: inner}) if ":" not in key else eq for key, eq in problem.equations.items()}
        moved[law_name] = sp.Eq(variable(total), variable(own))
        moved["drop ahead"] = sp.Eq(supply, inner + variable("line_current") * variable(added))
        if "current-sum" not in moved:
            moved |= equations("current-sum")
        # without a current asked for, the voltage behind the resistor is the root of a quadratic
        return replace(problem, equations=moved, pivots={**problem.pivots, inner.name: "largest"})

    return change


mistake("armature-resistor-ahead-of-both-circuits")(
    ahead_of_both(
        "added_armature_resistance",
        "armature-circuit-resistance",
        "armature_resistance",
        "armature_circuit_resistance",
    )
)
mistake("field-resistor-ahead-of-both-circuits")(
    ahead_of_both("added_field_resistance", "field-circuit-resistance", "field_resistance", "field_circuit_resistance")
)


@mistake("line-current-for-armature-current")
def _line_current(problem: Problem) -> Problem | None:
    if problem.has("current-sum"):
        return problem.swap("current-sum", lambda s: sp.Eq(s("line_current"), s("armature_current")))
    if not problem.has("field-circuit"):
        return None
    # a current found from the torque, and then the field current counted in the armature as well
    through = variable("armature_current") + variable("field_current")
    drop = through * variable("armature_circuit_resistance") + variable("brush_drop") * variable(DIRECTION)
    return problem.swap(
        "armature-circuit-signed", lambda s: sp.Eq(variable("supply_voltage"), variable("back_emf") + drop), "present"
    )


@mistake("line-resistance-in-armature-circuit-only")
def _line_in_armature(problem: Problem) -> Problem | None:
    field_at_source = problem.swap("shunt-connection", lambda s: sp.Eq(s("field_voltage"), s("source_voltage")))
    if field_at_source is None:
        return None
    drop = sp.Eq(
        variable("source_voltage"),
        variable("supply_voltage") + variable("armature_current") * variable("line_resistance"),
    )
    return field_at_source.swap("line-drop", lambda s: drop)


@mistake("resistors-in-each-others-circuit")
def _exchanged(problem: Problem) -> Problem | None:
    if not problem.has("field-circuit-resistance") or not problem.has("armature-circuit-resistance"):
        return None

    def before(values: Values) -> Values:
        field, armature = "added_field_resistance", "added_armature_resistance"
        if field not in values or armature not in values:
            return values
        return {**values, field: values[armature], armature: values[field]}

    return problem.with_before(before)


@mistake("brush-drop-sign-kept-when-regenerating")
def _sign_kept(problem: Problem) -> Problem | None:
    return replace(problem, directions=(1,)) if problem.has("armature-circuit-signed") else None


@mistake("other-root-taken")
def _other_root(problem: Problem) -> Problem | None:
    opposite = {
        "largest": "smallest",
        "smallest": "largest",
        "least magnitude": "greatest magnitude",
        "greatest magnitude": "least magnitude",
    }
    if not problem.pivots:
        return None
    return replace(problem, pivots={name: opposite[rule] for name, rule in problem.pivots.items()})


@mistake("limits-not-checked")
def _unchecked(problem: Problem) -> Problem | None:
    return problem


_register_circuit()
