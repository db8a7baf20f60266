"""All that the symbolic layer has to show for itself, computed anew each time it is asked for."""

from __future__ import annotations

from collections.abc import Iterator

import sympy as sp

from shuntref.evidence import Check
from shuntref.theory.algebra import vanishes
from shuntref.theory.closed_forms import closed_form
from shuntref.theory.derivation import Derivation, derive
from shuntref.theory.dimensions import check_all_laws, law_dimensions
from shuntref.theory.laws.law import Law
from shuntref.theory.notation import text
from shuntref.theory.rendering import heading, step_words
from shuntref.theory.sensitivities import speed_sensitivities
from shuntref.theory.symbols import symbol
from shuntref.theory.theorem import Counterexample, Theorem
from shuntref.theory.theorems import THEOREMS

__all__ = ["DERIVATIONS", "checks"]

Ask = tuple[str, dict[str, object]]

#: derivations of which every step is shown
DERIVATIONS: tuple[Ask, ...] = (
    ("speed", {}),
    ("speed", {"brush_drop": True}),
    ("speed", {"line_resistance": True}),
    ("speed", {"flux": "proportional"}),
    ("speed", {"flux": "froehlich"}),
    ("speed_rpm", {}),
    ("field_current", {}),
    ("field_current", {"line_resistance": True}),
    ("armature_current", {}),
    ("armature_current", {"given": "speed"}),
    ("armature_current", {"flux": "proportional", "reaction": True}),
    ("line_current", {}),
    ("electromagnetic_torque", {}),
    ("load_torque", {}),
    ("loss_torque", {}),
    ("stall_torque", {}),
    ("k_phi", {}),
    ("k_phi", {"flux": "proportional"}),
    ("k_phi", {"flux": "froehlich"}),
    ("back_emf", {}),
    ("supply_voltage", {}),
    ("added_field_resistance", {}),
    ("added_field_resistance", {"flux": "proportional"}),
    ("added_armature_resistance", {}),
    ("ideal_no_load_speed", {}),
    ("peak_k_phi", {}),
    ("peak_speed", {}),
    ("peak_torque", {}),
    ("starting_resistance", {}),
    ("winding_resistance", {}),
    ("winding_temperature", {}),
)

#: further closed forms, each put back as a whole
CLOSED_FORMS: tuple[Ask, ...] = (
    ("speed", {"brush_drop": True, "line_resistance": True}),
    ("speed", {"flux": "proportional", "brush_drop": True, "line_resistance": True}),
    ("speed", {"connection": "separate", "flux": "proportional"}),
    ("speed", {"load": "quadratic"}),
    ("speed", {"load": "quadratic", "branch": "lower"}),
    ("speed", {"load": "constant_power"}),
    ("speed", {"load": "constant_power", "branch": "lower"}),
    ("speed", {"flux": "proportional", "reaction": True}),
    ("armature_current", {"flux": "proportional", "reaction": True, "branch": "upper"}),
    ("armature_current", {"flux": "froehlich", "reaction": True, "detail": "field_current"}),
    ("armature_current", {"flux": "proportional", "line_resistance": True}),
    ("armature_current", {"given": "speed", "brush_drop": True, "line_resistance": True}),
    ("line_current", {"flux": "proportional", "line_resistance": True}),
    ("electromagnetic_torque", {"brush_drop": True, "line_resistance": True}),
    ("stall_torque", {"line_resistance": True}),
    ("k_phi", {"branch": "lower"}),
    ("k_phi", {"brush_drop": True}),
    ("back_emf", {"line_resistance": True}),
    ("added_field_resistance", {"flux": "froehlich"}),
    ("added_field_resistance", {"flux": "proportional", "branch": "lower"}),
    ("added_field_resistance", {"flux": "proportional", "brush_drop": True, "line_resistance": True}),
    ("added_field_resistance", {"line_resistance": True}),
    ("added_armature_resistance", {"flux": "proportional"}),
    ("added_armature_resistance", {"flux": "froehlich"}),
    ("added_armature_resistance", {"brush_drop": True, "line_resistance": True}),
    ("ideal_no_load_speed", {"flux": "proportional", "line_resistance": True}),
    ("ideal_no_load_speed", {"connection": "separate", "flux": "froehlich"}),
    ("peak_speed", {"brush_drop": True}),
    ("starting_resistance", {"brush_drop": True, "line_resistance": True}),
)


def checks() -> Iterator[Check]:
    """Yield every check of the symbolic layer: dimensions, derivations, closed forms, sensitivities and theorems.

    Examples
    --------
    >>> first = next(checks())
    >>> first.group, first.passed
    ('dimensions of the laws', True)
    """
    yield from _dimensions()
    for quantity, options in DERIVATIONS:
        yield from _steps(derive(quantity, **options))
    for quantity, options in CLOSED_FORMS:
        yield _put_back(derive(quantity, **{"detail": "totals", **options}))
    yield from _sensitivities()
    for theorem in THEOREMS.values():
        yield from _theorem(theorem)


def _dimensions() -> Iterator[Check]:
    for name, found in check_all_laws().items():
        yield Check(
            "dimensions of the laws", f"law {name} has one dimension throughout", found.consistent, found.detail
        )


def _steps(derivation: Derivation) -> Iterator[Check]:
    title = heading(derivation)
    for step, holds in zip(derivation.steps, derivation.check(), strict=True):
        yield Check(
            "derivations, step by step", f"{title}, step {step.number}: {step_words(step)}", holds, text(step.result)
        )
    yield _dimension_of_result(derivation)


def _dimension_of_result(derivation: Derivation) -> Check:
    found = law_dimensions(Law(derivation.quantity, derivation.quantity, derivation.result))
    return Check(
        "dimensions of the results",
        f"{heading(derivation)}: the result has the dimension of the quantity",
        found.consistent,
        found.detail,
    )


def _put_back(derivation: Derivation) -> Check:
    return Check(
        "closed forms put back",
        f"{heading(derivation)}: every step put back leaves nothing over",
        all(derivation.check()),
        f"{len(derivation.steps)} steps",
    )


def _sensitivities() -> Iterator[Check]:
    for flux in ("proportional", "froehlich"):
        speed = closed_form("speed", flux=flux, detail="parts")
        for name, implicit in speed_sensitivities(flux, explicit=True).items():
            passed = vanishes(implicit - sp.diff(speed, symbol(name)))
            yield Check(
                "sensitivities",
                f"{flux} flux: implicit derivative of the speed by {name} is the explicit one",
                passed,
                "difference is 0" if passed else "difference is not 0",
            )


def _theorem(theorem: Theorem) -> Iterator[Check]:
    proof = theorem.prove()
    held = sum(step.holds for step in proof.steps)
    yield Check(
        "theorems proved",
        f"{theorem.name}: {theorem.statement}",
        proof.holds,
        f"{held} of {len(proof.steps)} claims proved; condition: {theorem.condition}",
    )
    yield Check(
        "theorems without their condition",
        f"{theorem.name}: the proof fails when the condition is dropped",
        not theorem.without_condition().prove().holds,
        theorem.condition,
    )
    inside, outside = theorem.example(), theorem.counterexample()
    yield Check(
        "examples of theorems",
        f"{theorem.name}: where the condition holds, so does the conclusion",
        inside.condition_holds and not inside.conclusion_fails,
        _words(inside),
    )
    yield Check(
        "counterexamples to theorems",
        f"{theorem.name}: where the condition fails, so does the conclusion",
        not outside.condition_holds and outside.conclusion_fails,
        _words(outside),
    )


def _words(trial: Counterexample) -> str:
    values = ", ".join(f"{name} = {value}" for name, value in trial.values.items())
    return f"{trial.words} = {trial.number} (claimed {trial.claimed}) at {values}"
