"""Cases of the group "armature-reaction"."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import sympy as sp

from shuntref.conformance.certify import Entry, Row
from shuntref.conformance.groups.machines import (
    ADDED,
    ARMATURE,
    BENCH,
    BEYOND_STALL,
    CRANE,
    FAN,
    FIELD,
    LECTURE,
    MACHINES,
    MILL,
    PUMP,
    TINY,
    given,
)
from shuntref.conformance.groups.saturation import BAD_TABLE, TABLE_LAWS, TABLES, on_the_piece, table_slips
from shuntref.conformance.groups.speed import NO_LOAD_ALTERNATIVE
from shuntref.conformance.problem import Problem, equations, segments, variable

__all__ = ["ENTRIES"]

REACTING = ("effective-field-current", "reaction-proportional", "flux-proportional")
WITH_REACTION = Problem(
    equations(*FIELD, *REACTING, *ARMATURE),
    ("armature_current", "speed"),
    pivots={"armature_current": "least magnitude"},
    refusals=(BEYOND_STALL,),
)
_NAMES = ("supply_voltage", "field_resistance", "armature_resistance", "flux_constant", "load_torque")
COEFFICIENTS = {
    "tiny": 0.012,
    "fan": 0.006,
    "bench": 0.004,
    "crane": 0.002,
    "lecture": 0.005,
    "pump": 0.003,
    "mill": 0.0012,
}


def _reaction_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        field, armature = ADDED[label]
        base = given(motor, *_NAMES, reaction_coefficient=COEFFICIENTS[label])
        yield Row(f"{label}-full-load", 1, base)
        yield Row(f"{label}-field-rheostat", 2, {**base, "added_field_resistance": field})
        if label in ("fan", "bench", "lecture", "mill"):
            yield Row(
                f"{label}-armature-rheostat-brushes",
                2,
                {**base, "added_armature_resistance": round(armature / 2, 3), "brush_drop": 2.0},
            )
            yield Row(
                f"{label}-strong-reaction", 3, {**base, "reaction_coefficient": round(1.6 * COEFFICIENTS[label], 5)}
            )
    bench = given(BENCH, *_NAMES, reaction_coefficient=0.004)
    yield Row("bench-no-torque", 3, {**bench, "load_torque": 0.0})
    none = {**bench, "load_torque": 0.0, "brush_drop": 2.0}
    yield Row("bench-no-torque-brushes", 3, none, "acceptable", "", (NO_LOAD_ALTERNATIVE,))
    yield Row("bench-overhauled-strengthens-the-field", 3, {**bench, "load_torque": -6.5, "brush_drop": 2.0})
    yield Row("bench-hardly-any-reaction", 3, {**bench, "reaction_coefficient": 0.00001})
    yield Row("bench-loss-torque", 2, {**bench, "loss_torque": 0.5})
    yield Row("lecture-rising-speed", 3, given(LECTURE, *_NAMES, reaction_coefficient=0.01, load_torque=60.0))
    # c I_f^2 / (4 d) = 0.9 * 4 / 0.08 = 45 N m is the most that this one can develop
    edge = {
        "supply_voltage": 220.0,
        "field_resistance": 110.0,
        "armature_resistance": 0.15,
        "flux_constant": 0.9,
        "reaction_coefficient": 0.02,
    }
    for torque in (44.99, 44.9999, 44.999999):
        yield Row(f"near-the-largest-torque-{torque}".replace(".", "-"), 4, {**edge, "load_torque": torque})
    yield Row("refused-beyond-the-largest-torque", 3, {**edge, "load_torque": 45.1}, "invalid")
    yield Row("refused-beyond-stall", 3, {**edge, "load_torque": 40.0, "added_armature_resistance": 20.0}, "invalid")
    yield Row(
        "refused-negative-coefficient", 3, {**edge, "load_torque": 10.0, "reaction_coefficient": -0.02}, "invalid"
    )


# --- the largest torque: where the torque no longer grows with the armature current
def _torque_slope() -> sp.Eq:
    """Differentiate the torque, written in the armature current, and put the slope to zero."""
    chain = equations("torque", *REACTING)
    torque = chain["torque"].rhs
    for key in ("flux-proportional", "effective-field-current", "reaction-proportional"):
        torque = torque.xreplace({chain[key].lhs: chain[key].rhs})
    return sp.Eq(sp.diff(torque, variable("armature_current")), 0)


LARGEST = Problem(equations(*FIELD, *REACTING, "torque") | {"peak": _torque_slope()}, ("electromagnetic_torque",))


def _largest_rows() -> Iterator[Row]:
    names = ("supply_voltage", "field_resistance", "flux_constant")
    for motor in (TINY, FAN, BENCH, CRANE, LECTURE, PUMP, MILL):
        label = motor["name"]
        base = given(motor, *names, reaction_coefficient=COEFFICIENTS[label])
        yield Row(label, 1, base)
        yield Row(f"{label}-field-rheostat", 2, {**base, "added_field_resistance": ADDED[label][0]})
    base = given(BENCH, *names, reaction_coefficient=0.004)
    yield Row("very-small-coefficient", 3, {**base, "reaction_coefficient": 0.000001})
    yield Row("refused-no-reaction", 3, {**base, "reaction_coefficient": 0.0}, "invalid")
    yield Row("refused-no-field", 3, {**base, "field_resistance": 0.0}, "invalid")


def _full_flux(problem: Problem) -> Problem | None:
    """Put the peak's armature current in together with the flux that there would be without reaction."""
    unweakened = variable("flux_constant") * variable("field_current") * variable("armature_current")
    return problem.swap("torque", lambda s: sp.Eq(variable("electromagnetic_torque"), unweakened))


# --- a stated demagnetising mmf, with a table
WITH_MMF = Problem(
    equations(
        *FIELD,
        "current-sum",
        "effective-field-current",
        "demagnetising-field-current",
        "armature-circuit-signed",
        "armature-circuit-resistance",
        "armature-emf",
    )
    | TABLE_LAWS,
    ("effective_field_current", "speed"),
    choices=segments,
    consistent=on_the_piece,
    refusals=(
        BAD_TABLE,
        BEYOND_STALL,
        ("no EMF at this field current", lambda v: bool(v["curve_emf"] <= 0)),
    ),
)
MOTORS: dict[str, dict[str, float]] = {
    "bench": {"supply_voltage": 120.0, "field_resistance": 160.0, "armature_resistance": 0.8, "line_current": 9.2,
              "demagnetising_mmf": 60.0, "field_turns": 1500.0},
    "lecture": {"supply_voltage": 240.0, "field_resistance": 120.0, "armature_resistance": 0.25, "line_current": 42.0,
                "demagnetising_mmf": 180.0, "field_turns": 1200.0},
    "mill": {"supply_voltage": 500.0, "field_resistance": 250.0, "armature_resistance": 0.09, "line_current": 145.0,
             "demagnetising_mmf": 250.0, "field_turns": 1000.0},
    "three-points": {"supply_voltage": 120.0, "field_resistance": 150.0, "armature_resistance": 1.0, "line_current": 8.0,
                     "demagnetising_mmf": 80.0, "field_turns": 1000.0},
}  # fmt: skip


def _loaded(name: str, **more: Any) -> dict[str, Any]:
    return {**MOTORS[name], **TABLES[name], **more}


def _mmf_rows() -> Iterator[Row]:
    for name, added in (("bench", 40.0), ("lecture", 45.0), ("mill", 80.0), ("three-points", 60.0)):
        weaker = round(MOTORS[name]["demagnetising_mmf"] / 2, 1)
        yield Row(f"{name}-full-load", 1, _loaded(name))
        yield Row(f"{name}-half-the-reaction-brushes", 2, _loaded(name, demagnetising_mmf=weaker, brush_drop=2.0))
        yield Row(f"{name}-field-rheostat", 2, _loaded(name, added_field_resistance=added))
    yield Row("bench-armature-rheostat", 2, _loaded("bench", added_armature_resistance=2.5))
    yield Row("bench-compensated", 3, _loaded("bench", demagnetising_mmf=0.0))
    yield Row("bench-returning-current-brushes", 3, _loaded("bench", line_current=-9.0, brush_drop=2.0))
    yield Row("lecture-light-load", 2, _loaded("lecture", line_current=5.0, demagnetising_mmf=12.0))
    yield Row("field-nearly-spent", 4, _loaded("three-points", demagnetising_mmf=799.0))
    yield Row("field-all-but-spent", 4, _loaded("three-points", demagnetising_mmf=799.999))
    yield Row("refused-field-spent", 3, _loaded("three-points", demagnetising_mmf=801.0), "invalid")
    yield Row("refused-no-turns", 3, _loaded("bench", field_turns=0.0), "invalid")
    yield Row("refused-beyond-stall", 3, _loaded("three-points", line_current=125.0), "invalid")


ENTRIES = {
    "speed_with_armature_reaction": Entry(
        lambda inputs: WITH_REACTION,
        (
            "armature-reaction-ignored",
            "demagnetising-sign-wrong",
            "other-root-taken",
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "two-pi-forgotten",
            "armature-drop-ignored",
            "armature-drop-added",
            "overhauling-taken-as-motoring",
            "line-current-for-armature-current",
            "flux-kept-though-the-field-changed",
            "field-winding-forgotten",
            "added-armature-resistance-ignored",
            "armature-winding-forgotten",
            "loss-torque-forgotten",
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
            "brush-drop-sign-kept-when-regenerating",
            "brush-drop-helps-the-current",
        ),
        tuple(_reaction_rows()),
    ),
    "largest_torque_with_armature_reaction": Entry(
        lambda inputs: LARGEST,
        ("peak-torque-with-unweakened-flux", "flux-kept-though-the-field-changed", "field-winding-forgotten"),
        tuple(_largest_rows()),
        {"peak-torque-with-unweakened-flux": _full_flux},
    ),
    "speed_with_demagnetising_mmf": Entry(
        lambda inputs: WITH_MMF,
        (
            "armature-reaction-ignored",
            "demagnetising-sign-wrong",
            "demagnetising-mmf-taken-for-a-pole-pair",
            "nearest-table-point",
            "linear-flux-where-the-curve-saturates",
            "line-current-for-armature-current",
            "field-current-added-to-line-current",
            "armature-drop-ignored",
            "armature-drop-added",
            "flux-kept-though-the-field-changed",
            "added-armature-resistance-ignored",
            "armature-winding-forgotten",
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "two-pi-forgotten",
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
            "brush-drop-sign-kept-when-regenerating",
            "brush-drop-helps-the-current",
        ),
        tuple(_mmf_rows()),
        table_slips("nearest-table-point", "linear-flux-where-the-curve-saturates"),
    ),
}
