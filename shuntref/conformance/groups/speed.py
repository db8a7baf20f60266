"""Cases of the group "speed": a given torque on proportional flux or known flux, shunt or separately excited."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import sympy as sp

from shuntref.conformance.certify import Alternative, Entry, Row
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
    PROPORTIONAL,
    PUMP,
    TINY,
    Motor,
    given,
)
from shuntref.conformance.mistakes import on_outputs
from shuntref.conformance.problem import Problem, Values, equations, variable

__all__ = ["ENTRIES", "NO_LOAD_ALTERNATIVE", "SPEED_SLIPS"]

SHUNT = ("supply_voltage", "field_resistance", "armature_resistance", "flux_constant", "load_torque")

SPEED = Problem(equations(*FIELD, *PROPORTIONAL, *ARMATURE), ("speed",), refusals=(BEYOND_STALL,))
SPEED_SLIPS = (
    "revolutions-per-minute-taken-for-radians",
    "radians-taken-for-revolutions-per-minute",
    "two-pi-forgotten",
    "overhauling-taken-as-motoring",
    "armature-drop-ignored",
    "armature-drop-added",
    "flux-not-squared-in-torque-term",
    "line-current-for-armature-current",
    "flux-kept-though-the-field-changed",
    "added-armature-resistance-ignored",
    "resistors-in-each-others-circuit",
    "armature-resistor-ahead-of-both-circuits",
    "field-resistor-ahead-of-both-circuits",
    "armature-winding-forgotten",
    "field-winding-forgotten",
    "added-resistance-in-parallel",
    "loss-torque-forgotten",
    "brush-drop-forgotten",
    "brush-drop-doubled",
    "brush-drop-halved",
    "brush-drop-sign-kept-when-regenerating",
    "brush-drop-helps-the-current",
)


def _brush_drop_at_no_current(problem: Problem) -> Problem | None:
    """The whole brush drop taken off though no current flows: a convention that some texts follow."""
    drop = sp.Eq(variable("supply_voltage"), variable("back_emf") + variable("brush_drop"))
    return problem.swap("armature-circuit-signed", lambda s: drop)


NO_LOAD_ALTERNATIVE = Alternative("brush drop counted although no current flows", _brush_drop_at_no_current)


def _loads(motor: Motor, names: tuple[str, ...]) -> Iterator[Row]:
    """Yield the loads and settings that every motor of a function is run through."""
    label, load = motor["name"], motor["load_torque"]
    added_field, added_armature = ADDED[label]
    light = round(load * 0.2, 4)
    yield Row(f"{label}-full-load", 1, given(motor, *names))
    yield Row(f"{label}-light-load", 1, given(motor, *names, load_torque=light))
    if "field_resistance" in names:
        yield Row(f"{label}-field-rheostat", 2, given(motor, *names, added_field_resistance=added_field))
    yield Row(f"{label}-armature-rheostat", 2, given(motor, *names, added_armature_resistance=added_armature))


def _speed_rows() -> Iterator[Row]:
    for motor in MACHINES:
        yield from _loads(motor, SHUNT)
    for motor in (FAN, BENCH, LECTURE, MILL):
        field, armature = ADDED[motor["name"]]
        both = given(motor, *SHUNT, added_field_resistance=field, added_armature_resistance=armature, brush_drop=2.0)
        yield Row(f"{motor['name']}-both-rheostats-and-brushes", 2, both)
        losses = given(motor, *SHUNT, loss_torque=round(motor["load_torque"] * 0.08, 3), brush_drop=1.6)
        yield Row(f"{motor['name']}-loss-torque-and-brushes", 2, losses)
        yield Row(f"{motor['name']}-no-torque", 3, given(motor, *SHUNT, load_torque=0.0))
        down = given(motor, *SHUNT, load_torque=-motor["load_torque"])
        yield Row(f"{motor['name']}-overhauled", 3, down)
        yield Row(f"{motor['name']}-overhauled-with-brushes", 3, {**down, "brush_drop": 2.0})
        slowed = {**down, "added_armature_resistance": armature, "added_field_resistance": field}
        yield Row(f"{motor['name']}-overhauled-rheostats-raise-speed", 3, slowed)
    no_torque = given(BENCH, *SHUNT, load_torque=0.0, brush_drop=2.0)
    yield Row("bench-no-torque-with-brushes", 3, no_torque, "acceptable", "", (NO_LOAD_ALTERNATIVE,))
    no_torque = given(CRANE, *SHUNT, load_torque=0.0, brush_drop=1.5, added_field_resistance=25.0)
    yield Row("crane-no-torque-with-brushes", 3, no_torque, "acceptable", "", (NO_LOAD_ALTERNATIVE,))
    # far weakened field: beyond the peak less field gives less speed (E < U/2)
    for words, added in (("before-the-peak", 5000.0), ("at-the-peak", 8500.0), ("beyond-the-peak", 14000.0)):
        weak = given(TINY, *SHUNT, load_torque=0.002, added_field_resistance=added)
        yield Row(f"tiny-weak-field-{words}", 3, weak)
    yield Row("load-given-off-by-loss", 3, given(BENCH, *SHUNT, load_torque=-0.4, loss_torque=0.4))
    near = {"supply_voltage": 120.0, "field_resistance": 160.0, "armature_resistance": 0.8, "flux_constant": 1.0}
    for torque in (112.0, 112.49, 112.4999, 112.499999):
        digits = f"{112.5 - torque:.0e}".replace("e-0", "e-")
        yield Row(f"near-stall-{digits}", 4, {**near, "load_torque": torque})
    far = {"supply_voltage": 250.0, "field_resistance": 125.0, "armature_resistance": 0.05, "flux_constant": 1.5}
    for torque in (1499.9, 1499.999, 1499.99999):
        digits = f"{1500 - torque:.0e}".replace("e-0", "e-")
        yield Row(f"large-near-creeping-{digits}", 4, {**far, "load_torque": torque, "added_armature_resistance": 0.45})
    for words, change in _BAD.items():
        yield Row(f"refused-{words}", 3, given(BENCH, *SHUNT, **change), "invalid")


_BAD: Mapping[str, dict[str, float]] = {
    "negative-voltage": {"supply_voltage": -120.0},
    "no-voltage": {"supply_voltage": 0.0},
    "negative-field-resistance": {"field_resistance": -160.0},
    "no-field-resistance": {"field_resistance": 0.0},
    "negative-armature-resistance": {"armature_resistance": -0.8},
    "no-flux": {"flux_constant": 0.0},
    "negative-flux": {"flux_constant": -1.0},
    "negative-field-rheostat": {"added_field_resistance": -20.0},
    "negative-armature-rheostat": {"added_armature_resistance": -0.5},
    "negative-brush-drop": {"brush_drop": -2.0},
    "negative-loss-torque": {"loss_torque": -0.5},
    "beyond-stall": {"load_torque": 120.0},
    "beyond-stall-by-rheostat": {"added_armature_resistance": 20.0},
}

# --- known flux
KNOWN = ("supply_voltage", "armature_resistance", "load_torque")
SPEED_AT_K_PHI = Problem(equations(*ARMATURE), ("speed",), refusals=(BEYOND_STALL,))


def _known_rows() -> Iterator[Row]:
    flux = {"tiny": 0.15, "fan": 0.62, "bench": 0.75, "crane": 1.75, "lecture": 1.45, "pump": 2.5, "mill": 4.3}
    for motor in (TINY, BENCH, CRANE, MILL):
        for row in _loads(motor, KNOWN):
            yield Row(row.words, row.level, {**row.inputs, "k_phi": flux[motor["name"]]})
    for motor in (FAN, PUMP):
        known = given(motor, *KNOWN, k_phi=flux[motor["name"]], brush_drop=2.2)
        yield Row(f"{motor['name']}-with-brushes", 2, known)
        yield Row(f"{motor['name']}-overhauled", 3, {**known, "load_torque": -motor["load_torque"]})
        yield Row(f"{motor['name']}-no-torque", 3, {**known, "load_torque": 0.0, "brush_drop": 0.0})
        yield Row(f"{motor['name']}-loss-torque", 2, {**known, "loss_torque": 0.25})
    yield Row("weak-flux-less-speed", 3, given(BENCH, *KNOWN, k_phi=0.06, load_torque=6.5))
    for step, torque in (("1e-2", 179.99), ("1e-5", 179.99999)):
        near = given(LECTURE, *KNOWN, k_phi=0.75, load_torque=torque, added_armature_resistance=0.75)
        yield Row(f"near-stall-{step}", 4, near)
    yield Row("refused-no-flux", 3, given(BENCH, *KNOWN, k_phi=0.0), "invalid")
    yield Row("refused-negative-flux", 3, given(BENCH, *KNOWN, k_phi=-0.75), "invalid")
    yield Row("refused-beyond-stall", 3, given(BENCH, *KNOWN, k_phi=0.04, load_torque=6.5), "invalid")


# --- separate excitation
SEPARATE = Problem(
    equations("field-circuit", "field-circuit-resistance", *PROPORTIONAL, *ARMATURE),
    ("speed",),
    refusals=(BEYOND_STALL,),
)


def _separate_rows() -> Iterator[Row]:
    own = {"tiny": 30.0, "bench": 100.0, "lecture": 200.0, "pump": 220.0, "mill": 440.0}
    for motor in (TINY, BENCH, LECTURE, MILL):
        for row in _loads(motor, SHUNT):
            if not row.words.endswith("light-load"):
                yield Row(row.words, row.level, {**row.inputs, "field_voltage": own[motor["name"]]})
    half = given(PUMP, *SHUNT, field_voltage=220.0, brush_drop=2.0, supply_voltage=200.0)
    yield Row("pump-half-voltage", 2, half)
    yield Row("pump-half-voltage-overhauled", 3, {**half, "load_torque": -80.0})
    yield Row("pump-no-torque", 3, given(PUMP, *SHUNT, field_voltage=220.0, load_torque=0.0))
    creeping = given(LECTURE, *SHUNT, field_voltage=240.0, supply_voltage=20.0, load_torque=121.5999)
    yield Row("creeping-on-low-voltage", 4, creeping)
    yield Row("refused-no-field-voltage", 3, given(BENCH, *SHUNT, field_voltage=0.0), "invalid")
    yield Row("refused-beyond-stall", 3, given(LECTURE, *SHUNT, field_voltage=240.0, supply_voltage=5.0), "invalid")


# --- no load, and regulation between no load and load
IDEAL = Problem(
    equations(*FIELD, *PROPORTIONAL, "armature-circuit-signed", "armature-emf", "torque", "ideal-no-load")
    | {
        "no armature drop": sp.Eq(variable("armature_circuit_resistance"), 0),
        "brush-drop-neglected": sp.Eq(variable("brush_drop"), 0),
        "name": sp.Eq(variable("ideal_no_load_speed"), variable("speed")),
    },
    ("ideal_no_load_speed",),
)


def _ideal_rows() -> Iterator[Row]:
    names = ("supply_voltage", "field_resistance", "flux_constant")
    for motor in MACHINES:
        label = motor["name"]
        yield Row(label, 1, given(motor, *names))
        yield Row(f"{label}-field-rheostat", 2, given(motor, *names, added_field_resistance=ADDED[label][0]))
    for volts in (12.0, 480.0):
        yield Row(f"bench-at-{volts:g}-volt-alike", 3, given(BENCH, *names, supply_voltage=volts))
    yield Row("refused-no-voltage", 3, given(BENCH, *names, supply_voltage=0.0), "invalid")
    yield Row("refused-negative-resistance", 3, given(BENCH, *names, field_resistance=-5.0), "invalid")


REGULATION = Problem(
    {**SPEED.equations}
    | {
        "no-load speed": sp.Eq(variable("ideal_no_load_speed") * variable("k_phi"), variable("supply_voltage")),
        "regulation": sp.Eq(
            variable("speed_regulation") * variable("speed"), variable("ideal_no_load_speed") - variable("speed")
        ),
    },
    ("speed_regulation",),
    refusals=(("the loaded speed is not positive", lambda values: bool(values["speed"] <= 0)),),
)


def _wrong_base(values: Values) -> None:
    values["speed_regulation"] = 1 - values["speed"] / values["ideal_no_load_speed"]


def _regulation_rows() -> Iterator[Row]:
    for motor in (FAN, BENCH, CRANE, PUMP):
        for row in _loads(motor, SHUNT):
            if not row.words.endswith("light-load"):
                yield row
    yield Row("bench-with-brushes", 2, given(BENCH, *SHUNT, brush_drop=2.0))
    yield Row("lecture-loss-torque", 2, given(LECTURE, *SHUNT, loss_torque=5.0))
    yield Row("bench-overhauled-negative", 3, given(BENCH, *SHUNT, load_torque=-6.5))
    yield Row("bench-no-torque-nothing", 3, given(BENCH, *SHUNT, load_torque=0.0))
    yield Row("near-stall-large", 4, given(BENCH, *SHUNT, load_torque=114.7))
    yield Row("refused-beyond-stall", 3, given(BENCH, *SHUNT, load_torque=114.8), "invalid")
    yield Row("refused-no-flux", 3, given(BENCH, *SHUNT, flux_constant=0.0), "invalid")


_LINE = "line-current-for-armature-current"  # separately excited, the line carries nothing else
_NOT_IN_REGULATION = ("field-resistor-ahead-of-both-circuits", "brush-drop-sign-kept-when-regenerating")

ENTRIES = {
    "speed": Entry(lambda inputs: SPEED, SPEED_SLIPS, tuple(_speed_rows())),
    "speed_at_k_phi": Entry(
        lambda inputs: SPEED_AT_K_PHI,
        tuple(s for s in SPEED_SLIPS if not any(word in s for word in ("field", "both", "others", "line-current"))),
        tuple(_known_rows()),
    ),
    "speed_separately_excited": Entry(
        lambda inputs: SEPARATE,
        (
            "field-fed-from-armature-supply",
            *(s for s in SPEED_SLIPS if "ahead-of-both" not in s and s not in ("loss-torque-forgotten", _LINE)),
        ),
        tuple(_separate_rows()),
    ),
    "ideal_no_load_speed": Entry(
        lambda inputs: IDEAL,
        (
            *SPEED_SLIPS[:3],
            "flux-kept-though-the-field-changed",
            "field-winding-forgotten",
            "added-resistance-in-parallel",
        ),
        tuple(_ideal_rows()),
    ),
    "speed_regulation": Entry(
        lambda inputs: REGULATION,
        (
            "regulation-on-no-load-speed",
            "percent-for-fraction",
            *(s for s in SPEED_SLIPS[3:] if s not in _NOT_IN_REGULATION),
        ),
        tuple(_regulation_rows()),
        {"regulation-on-no-load-speed": on_outputs(_wrong_base)},
    ),
}
