"""Cases of the group "currents"."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import sympy as sp

from shuntref.conformance.certify import Entry, Row
from shuntref.conformance.groups.machines import (
    ADDED,
    BENCH,
    CRANE,
    FAN,
    FIELD,
    LECTURE,
    MACHINES,
    MILL,
    PROPORTIONAL,
    PUMP,
    TINY,
    given,
)
from shuntref.conformance.problem import Problem, equations, variable

__all__ = ["ENTRIES"]

CURRENTS = Problem(
    equations(*FIELD, *PROPORTIONAL, "torque", "torque-balance", "current-sum"),
    ("field_current", "armature_current", "line_current"),
)
_NAMES = ("supply_voltage", "field_resistance", "flux_constant", "load_torque")


def _current_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        yield Row(f"{label}-full-load", 1, given(motor, *_NAMES))
        yield Row(f"{label}-field-rheostat", 2, given(motor, *_NAMES, added_field_resistance=ADDED[label][0]))
    for motor in (FAN, BENCH, PUMP):
        loss = round(0.1 * motor["load_torque"], 3)
        yield Row(f"{motor['name']}-loss-torque", 2, given(motor, *_NAMES, loss_torque=loss))
        yield Row(f"{motor['name']}-no-torque", 3, given(motor, *_NAMES, load_torque=0.0))
        yield Row(f"{motor['name']}-overhauled", 3, given(motor, *_NAMES, load_torque=-motor["load_torque"]))
    # regenerating just as much as the field takes: the line current is a small difference
    edge = {"supply_voltage": 120.0, "field_resistance": 160.0, "flux_constant": 1.0}
    for torque in (-0.562, -0.5624, -0.56249):
        yield Row(f"line-current-nearly-nil-{-torque:g}".replace(".", "-"), 4, {**edge, "load_torque": torque})
    yield Row("line-current-nil", 3, {**edge, "load_torque": -0.5625})
    for words, change in _BAD.items():
        yield Row(f"refused-{words}", 3, given(BENCH, *_NAMES, **change), "invalid")


_BAD: Mapping[str, dict[str, float]] = {
    "no-voltage": {"supply_voltage": 0.0},
    "negative-field-resistance": {"field_resistance": -160.0},
    "no-flux": {"flux_constant": 0.0},
    "negative-field-rheostat": {"added_field_resistance": -10.0},
}

FROM_SPEED = Problem(
    equations("armature-circuit-signed", "armature-circuit-resistance", "armature-emf", "torque"),
    ("armature_current", "electromagnetic_torque"),
)
BLOCKED = Problem(
    equations("armature-emf", "torque") | {"no current": sp.Eq(variable("armature_current"), 0)},
    ("armature_current", "electromagnetic_torque"),
)


def _from_speed(inputs: Mapping[str, Any]) -> Problem:
    """Choose the balance: with brushes and nearly equal voltages no current flows in either direction."""
    difference = abs(inputs["supply_voltage"] - inputs["k_phi"] * inputs["speed"])
    return BLOCKED if 0 < difference <= inputs.get("brush_drop", 0.0) else FROM_SPEED


def _from_speed_rows() -> Iterator[Row]:
    flux = {"tiny": 0.15, "fan": 0.62, "bench": 0.75, "crane": 1.75, "lecture": 1.45, "pump": 2.5, "mill": 4.3}
    names = ("supply_voltage", "armature_resistance", "speed")
    for motor in MACHINES:
        base = given(motor, *names, k_phi=flux[motor["name"]])
        yield Row(f"{motor['name']}-motoring", 1, base)
    for motor in (TINY, BENCH, MILL):
        base = given(motor, *names, k_phi=flux[motor["name"]], brush_drop=2.0)
        label = motor["name"]
        yield Row(f"{label}-brushes", 2, base)
        yield Row(f"{label}-armature-rheostat", 2, {**base, "added_armature_resistance": ADDED[label][1]})
        yield Row(f"{label}-driven-faster", 3, {**base, "speed": round(1.25 * motor["speed"], 1)})
    yield Row("lecture-standstill", 3, given(LECTURE, *names, k_phi=1.45, speed=0.0))
    yield Row("lecture-standstill-brushes", 3, given(LECTURE, *names, k_phi=1.45, speed=0.0, brush_drop=2.0))
    yield Row("crane-exactly-no-load", 3, given(CRANE, *names, k_phi=2.0, speed=110.0))
    blocked = given(BENCH, *names, k_phi=0.75, speed=159.0, brush_drop=2.0)
    words = "supply voltage and back EMF differ by less than the brush drop: no current flows"
    yield Row("bench-brushes-block-below", 3, blocked, note=words)
    yield Row("bench-brushes-block-above", 3, {**blocked, "speed": 161.0}, note=words)
    for speed in (159.9, 159.999, 159.99999):
        near = given(BENCH, *names, k_phi=0.75, speed=speed)
        yield Row(f"near-no-load-{speed}".replace(".", "-"), 4, near)
    for speed in (160.1, 160.0001):
        near = given(BENCH, *names, k_phi=0.75, speed=speed)
        yield Row(f"just-above-no-load-{speed}".replace(".", "-"), 4, near)
    yield Row("refused-no-armature-resistance", 3, given(BENCH, *names, k_phi=0.75, armature_resistance=0.0), "invalid")
    yield Row("refused-negative-speed", 3, given(BENCH, *names, k_phi=0.75, speed=-150.0), "invalid")


ENTRIES = {
    "currents": Entry(
        lambda inputs: CURRENTS,
        (
            "line-current-for-armature-current",
            "field-current-added-to-line-current",
            "flux-kept-though-the-field-changed",
            "field-winding-forgotten",
            "added-resistance-in-parallel",
            "loss-torque-forgotten",
            "flux-not-squared-in-torque-term",
            "overhauling-taken-as-motoring",
        ),
        tuple(_current_rows()),
        {
            "overhauling-taken-as-motoring": lambda problem: problem.with_before(
                lambda values: {**values, "load_torque": abs(values["load_torque"])}
            )
        },
    ),
    "armature_current_from_speed": Entry(
        _from_speed,
        (
            "back-emf-ignored",
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
            "brush-drop-sign-kept-when-regenerating",
            "brush-drop-helps-the-current",
            "added-armature-resistance-ignored",
            "armature-winding-forgotten",
            "added-resistance-in-parallel",
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "two-pi-forgotten",
        ),
        tuple(_from_speed_rows()),
    ),
}
