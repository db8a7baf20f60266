"""Cases of the group "speed" with a line resistance ahead of both circuits, and with a fan-like load."""

from __future__ import annotations

from collections.abc import Iterator

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
    MILL,
    PROPORTIONAL,
    PUMP,
    TINY,
    given,
)
from shuntref.conformance.groups.speed import SHUNT, SPEED_SLIPS
from shuntref.conformance.mistakes import swapped
from shuntref.conformance.problem import Problem, equations, variable

__all__ = ["ENTRIES"]

LINE = Problem(
    equations("line-drop", "current-sum", *FIELD, *PROPORTIONAL, *ARMATURE),
    ("supply_voltage", "line_current", "speed"),
    pivots={"supply_voltage": "largest"},
    refusals=(BEYOND_STALL,),
)
_BEHIND = SHUNT[1:]


def _line_rows() -> Iterator[Row]:
    lines = ((TINY, 0.8), (FAN, 2.0), (BENCH, 0.5), (CRANE, 0.04), (LECTURE, 0.2), (PUMP, 0.5), (MILL, 0.05))
    for motor, line in lines:
        label = motor["name"]
        field, armature = ADDED[label]
        base = given(motor, *_BEHIND, source_voltage=motor["supply_voltage"], line_resistance=line)
        yield Row(f"{label}-cable", 1, base)
        yield Row(f"{label}-cable-field-rheostat", 2, {**base, "added_field_resistance": field})
        if label in ("fan", "lecture", "mill"):
            yield Row(f"{label}-cable-armature-rheostat", 2, {**base, "added_armature_resistance": armature})
            yield Row(f"{label}-cable-brushes", 2, {**base, "brush_drop": 2.0})
    base = given(BENCH, *_BEHIND, source_voltage=120.0, line_resistance=1.5)
    yield Row("bench-no-line-resistance", 3, {**base, "line_resistance": 0.0})
    yield Row("bench-no-torque", 3, {**base, "load_torque": 0.0})
    yield Row("bench-overhauled-raises-the-voltage", 3, {**base, "load_torque": -6.5, "brush_drop": 2.0})
    yield Row("bench-rheostat-ahead-of-both", 2, {**base, "line_resistance": 4.0, "load_torque": 3.0})
    yield Row(
        "lecture-loss-torque", 2, given(LECTURE, *_BEHIND, source_voltage=240.0, line_resistance=0.3, loss_torque=4.0)
    )
    # the torque that a shunt motor behind a line can take is limited: U^2 c / (4 R_l (R_ft + R_l)) is 18 N m here
    edge = {
        "source_voltage": 120.0,
        "line_resistance": 2.0,
        "field_resistance": 98.0,
        "armature_resistance": 0.1,
        "flux_constant": 1.0,
    }
    for torque in (17.99, 17.999, 17.999999):
        yield Row(f"near-the-largest-torque-{torque:g}".replace(".", "-"), 4, {**edge, "load_torque": torque})
    yield Row("refused-beyond-the-largest-torque", 3, {**edge, "load_torque": 18.1}, "invalid")
    yield Row("refused-negative-line-resistance", 3, {**base, "line_resistance": -0.5}, "invalid")
    yield Row("refused-no-source", 3, {**base, "source_voltage": 0.0}, "invalid")


SQUARE = Problem(
    equations("armature-circuit-signed", "armature-circuit-resistance", "armature-emf", "torque", "load-quadratic")
    | {
        "constant part": sp.Eq(variable("constant_torque"), variable("loss_torque")),
        "no proportional part": sp.Eq(variable("linear_torque_coefficient"), 0),
        "square part": sp.Eq(
            variable("square_torque_coefficient") * variable("reference_speed") ** 2, variable("load_torque")
        ),
        "brush-drop-neglected": sp.Eq(variable("brush_drop"), 0),
    },
    ("speed",),
    pivots={"speed": "largest"},
    refusals=(("the loss torque is not below the stall torque", lambda values: bool(values["speed"] <= 0)),),
)


def _square_rows() -> Iterator[Row]:
    names = ("supply_voltage", "armature_resistance", "load_torque")
    motors = ((TINY, 0.15, 140.0), (FAN, 0.62, 160.0), (BENCH, 0.75, 150.0), (PUMP, 2.5, 155.0), (MILL, 4.3, 112.0))
    for motor, k_phi, reference in motors:
        label = motor["name"]
        base = given(motor, *names, k_phi=k_phi, reference_speed=reference)
        yield Row(f"{label}-full-load", 1, base)
        yield Row(f"{label}-armature-rheostat", 2, {**base, "added_armature_resistance": ADDED[label][1]})
        yield Row(f"{label}-weak-field", 2, {**base, "k_phi": round(0.8 * k_phi, 3)})
        loss = round(0.1 * motor["load_torque"], 3)
        yield Row(f"{label}-loss-torque", 2, {**base, "loss_torque": loss})
    base = given(FAN, *names, k_phi=0.62, reference_speed=160.0)
    yield Row("fan-large-rheostat", 3, {**base, "added_armature_resistance": 60.0})
    yield Row("fan-nearly-no-load", 3, {**base, "load_torque": 0.001})
    yield Row("near-stall-by-loss", 4, given(BENCH, *names, k_phi=0.75, reference_speed=150.0, loss_torque=112.4999))
    yield Row(
        "refused-loss-beyond-stall",
        3,
        given(BENCH, *names, k_phi=0.75, reference_speed=150.0, loss_torque=113.0),
        "invalid",
    )
    yield Row("refused-no-reference-speed", 3, {**base, "reference_speed": 0.0}, "invalid")


def _kept(s: object) -> sp.Eq:
    return sp.Eq(variable("electromagnetic_torque"), variable("load_torque") + variable("loss_torque"))


def _proportional(s: object) -> sp.Eq:
    share = variable("speed") / variable("reference_speed")
    return sp.Eq(variable("electromagnetic_torque"), variable("load_torque") * share + variable("loss_torque"))


def _no_loss(s: object) -> sp.Eq:
    return sp.Eq(variable("constant_torque"), 0)


ENTRIES = {
    "speed_with_line_resistance": Entry(
        lambda inputs: LINE,
        (
            *SPEED_SLIPS[:3],
            "line-drop-ignored",
            "line-resistance-in-armature-circuit-only",
            "other-root-taken",
            "line-current-for-armature-current",
            *(s for s in SPEED_SLIPS[3:] if "ahead-of-both" not in s and "line-current" not in s),
        ),
        tuple(_line_rows()),
    ),
    "speed_with_square_torque": Entry(
        lambda inputs: SQUARE,
        (
            "load-torque-taken-as-constant",
            "load-torque-taken-as-proportional",
            "other-root-taken",
            *SPEED_SLIPS[:3],
            "armature-drop-ignored",
            "armature-drop-added",
            "flux-not-squared-in-torque-term",
            "added-armature-resistance-ignored",
            "armature-winding-forgotten",
            "added-resistance-in-parallel",
            "loss-torque-forgotten",
        ),
        tuple(_square_rows()),
        {
            "load-torque-taken-as-constant": swapped("load-quadratic", _kept),
            "load-torque-taken-as-proportional": swapped("load-quadratic", _proportional),
            "loss-torque-forgotten": swapped("constant part", _no_loss),
        },
    ),
}
