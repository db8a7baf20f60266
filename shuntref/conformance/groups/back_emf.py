"""Cases of the groups "back-emf" and "torque": from electrical readings, from the winding, at standstill."""

from __future__ import annotations

from collections.abc import Iterator

import sympy as sp

from shuntref.conformance.certify import Entry, Row
from shuntref.conformance.groups.machines import (
    ADDED,
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
    given,
)
from shuntref.conformance.groups.speed import NO_LOAD_ALTERNATIVE
from shuntref.conformance.mistakes import on_outputs, swapped
from shuntref.conformance.problem import Problem, Values, equations, variable

__all__ = ["CIRCUIT_SLIPS", "ENTRIES", "LINE_CURRENTS", "READINGS"]

READINGS = ("current-sum", *FIELD, "armature-circuit-signed", "armature-circuit-resistance")
#: a full-load line current of each motor
LINE_CURRENTS = {"tiny": 2.4, "fan": 5.2, "bench": 9.2, "crane": 85.0, "lecture": 41.5, "pump": 32.5, "mill": 143.0}
_NAMES = ("supply_voltage", "field_resistance", "armature_resistance")

CIRCUIT_SLIPS = (
    "line-current-for-armature-current",
    "field-current-added-to-line-current",
    "armature-drop-ignored",
    "armature-drop-added",
    "flux-kept-though-the-field-changed",
    "field-winding-forgotten",
    "added-armature-resistance-ignored",
    "armature-winding-forgotten",
    "added-resistance-in-parallel",
    "resistors-in-each-others-circuit",
    "armature-resistor-ahead-of-both-circuits",
    "brush-drop-forgotten",
    "brush-drop-doubled",
    "brush-drop-halved",
    "brush-drop-sign-kept-when-regenerating",
    "brush-drop-helps-the-current",
)

BACK_EMF = Problem(equations(*READINGS), ("back_emf",), refusals=(BEYOND_STALL,))


def _back_emf_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        base = given(motor, *_NAMES, line_current=LINE_CURRENTS[label])
        field, armature = ADDED[label]
        yield Row(f"{label}-full-load", 1, base)
        yield Row(f"{label}-armature-rheostat", 2, {**base, "added_armature_resistance": round(armature / 2, 3)})
        if label in ("tiny", "bench", "lecture", "mill"):
            yield Row(
                f"{label}-field-rheostat-and-brushes", 2, {**base, "added_field_resistance": field, "brush_drop": 2.0}
            )
    for motor, light in ((FAN, 1.1), (BENCH, 1.5), (CRANE, 6.0)):
        base = given(motor, *_NAMES, line_current=light, brush_drop=1.8)
        yield Row(f"{motor['name']}-light-load", 2, base)
    for motor in (BENCH, PUMP):
        base = given(motor, *_NAMES, line_current=-LINE_CURRENTS[motor["name"]])
        yield Row(f"{motor['name']}-returning-current", 3, base)
        yield Row(f"{motor['name']}-returning-current-brushes", 3, {**base, "brush_drop": 2.0})
    yield Row("bench-line-current-nil", 3, given(BENCH, *_NAMES, line_current=0.0, brush_drop=1.0))
    none = given(BENCH, *_NAMES, line_current=0.75)
    yield Row("bench-armature-current-nil", 3, none)
    note = "no armature current: the brush drop is absent, though some texts take it off"
    yield Row(
        "bench-armature-current-nil-brushes", 3, {**none, "brush_drop": 2.0}, "acceptable", note, (NO_LOAD_ALTERNATIVE,)
    )
    for amperes in (150.7, 150.749, 150.74999):
        near = given(BENCH, *_NAMES, line_current=amperes)
        yield Row(f"near-stall-{amperes}".replace(".", "-"), 4, near)
    yield Row("refused-beyond-stall", 3, given(BENCH, *_NAMES, line_current=160.0), "invalid")
    yield Row("refused-negative-armature-resistance", 3, {**none, "armature_resistance": -0.8}, "invalid")
    yield Row("refused-no-field-resistance", 3, {**none, "field_resistance": 0.0}, "invalid")
    yield Row("refused-no-voltage", 3, {**none, "supply_voltage": 0.0}, "invalid")


WINDING = Problem(equations("winding-constant", "armature-emf"), ("k_phi", "back_emf"))


def _winding_rows() -> Iterator[Row]:
    windings = (
        ("two-pole-lap", 1, 2, 2, 360, 0.0125, 150.0),
        ("four-pole-wave", 1, 4, 2, 492, 0.021, 125.5),
        ("four-pole-lap", 1, 4, 4, 540, 0.025, 157.0),
        ("six-pole-wave", 2, 6, 2, 414, 0.0188, 94.2),
        ("six-pole-lap", 2, 6, 6, 864, 0.0305, 78.5),
        ("eight-pole-duplex-wave", 2, 8, 4, 480, 0.04, 62.8),
        ("eight-pole-lap", 2, 8, 8, 1000, 0.05, 52.0),
        ("four-pole-duplex-lap", 2, 4, 8, 648, 0.032, 104.0),
        ("six-pole-small-flux", 2, 6, 2, 270, 0.0004, 209.4),
        ("tiny-two-pole", 1, 2, 2, 120, 0.0006, 314.2),
        ("large-twelve-pole", 2, 12, 12, 1536, 0.11, 31.4),
        ("standstill", 3, 4, 4, 540, 0.025, 0.0),
        ("creeping", 3, 4, 4, 540, 0.025, 0.001),
        ("fast", 3, 2, 2, 240, 0.0021, 3000.0),
    )
    for words, level, poles, paths, conductors, flux, speed in windings:
        yield Row(words, level, _winding(poles, paths, conductors, flux, speed))
    yield Row("refused-odd-poles", 3, _winding(3, 2, 360, 0.02, 100.0), "invalid")
    yield Row("refused-no-poles", 3, _winding(0, 2, 360, 0.02, 100.0), "invalid")
    yield Row("refused-no-paths", 3, _winding(4, 0, 360, 0.02, 100.0), "invalid")
    yield Row("refused-half-a-conductor", 3, _winding(4, 2, 360.5, 0.02, 100.0), "invalid")
    yield Row("refused-negative-flux", 3, _winding(4, 2, 360, -0.02, 100.0), "invalid")


def _winding(poles: float, paths: float, conductors: float, flux: float, speed: float) -> dict[str, float]:
    return {
        "poles": poles,
        "parallel_paths": paths,
        "conductors": conductors,
        "flux_per_pole": flux,
        "speed": speed,
    }


def _without_two_pi(s: object) -> sp.Eq:
    paths, poles = variable("parallel_paths"), variable("poles")
    return sp.Eq(variable("k_phi") * paths, poles * variable("conductors") * variable("flux_per_pole"))


def _per_minute(s: object) -> sp.Eq:
    paths, poles = variable("parallel_paths"), variable("poles")
    return sp.Eq(60 * variable("k_phi") * paths, poles * variable("conductors") * variable("flux_per_pole"))


# --- torque
TORQUE = Problem(
    equations(*READINGS, "electromagnetic-power", "shaft-power", "power-balance", "output-power")
    | {"no stray loss": sp.Eq(variable("stray_loss"), 0)},
    ("electromagnetic_torque", "load_torque"),
    refusals=(BEYOND_STALL,),
)


def _torque_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        base = given(motor, *_NAMES, "speed", line_current=LINE_CURRENTS[label])
        field, armature = ADDED[label]
        loss = float(f"{0.06 * motor['supply_voltage'] * LINE_CURRENTS[label]:.2g}")
        yield Row(f"{label}-developed", 1, base)
        yield Row(f"{label}-rotational-loss", 2, {**base, "rotational_loss": loss})
        full = {**base, "rotational_loss": loss, "brush_drop": 2.0}
        if label in ("fan", "bench", "pump", "mill"):
            yield Row(f"{label}-loss-and-brushes", 2, full)
            yield Row(
                f"{label}-rheostats",
                2,
                {
                    **full,
                    "added_armature_resistance": round(armature / 2, 3),
                    "added_field_resistance": field,
                },
            )
    light = given(BENCH, *_NAMES, "speed", line_current=1.2, rotational_loss=50.0)
    yield Row("bench-light-load", 2, light)
    yield Row("bench-returning-current", 3, {**light, "line_current": -8.0, "brush_drop": 2.0})
    yield Row("bench-armature-current-nil", 3, {**light, "line_current": 0.75, "rotational_loss": 0.0})
    yield Row("shaft-torque-nil", 3, {**light, "rotational_loss": 53.838})
    for loss in (53.8, 53.837, 53.83799):
        yield Row(f"shaft-torque-nearly-nil-{loss}".replace(".", "-"), 4, {**light, "rotational_loss": loss})
    yield Row("refused-standstill", 3, {**light, "speed": 0.0}, "invalid")
    yield Row("refused-negative-loss", 3, {**light, "rotational_loss": -50.0}, "invalid")
    yield Row("refused-beyond-stall", 3, {**light, "line_current": 155.0}, "invalid")


def _shaft_for_developed(values: Values) -> None:
    values["electromagnetic_torque"] = values["load_torque"]


STALL = Problem(
    equations(*FIELD, *PROPORTIONAL, "armature-circuit", "armature-circuit-resistance", "torque")
    | {
        "standstill": sp.Eq(variable("back_emf"), 0),
        "name": sp.Eq(variable("stall_torque"), variable("electromagnetic_torque")),
    },
    ("stall_torque",),
    refusals=(("the brush drop is not below the supply voltage", lambda v: bool(v["armature_current"] <= 0)),),
)


def _stall_rows() -> Iterator[Row]:
    names = (*_NAMES, "flux_constant")
    for motor in MACHINES:
        label = motor["name"]
        field, armature = ADDED[label]
        yield Row(label, 1, given(motor, *names))
        both = {"added_armature_resistance": armature, "added_field_resistance": field, "brush_drop": 2.0}
        yield Row(f"{label}-rheostats-and-brushes", 2, given(motor, *names, **both))
    yield Row("lecture-starter", 2, given(LECTURE, *names, added_armature_resistance=4.75))
    yield Row("crane-field-rheostat", 2, given(CRANE, *names, added_field_resistance=90.0))
    for drop in (23.9, 23.999, 23.99999):
        yield Row(f"brushes-take-nearly-all-{drop}".replace(".", "-"), 4, given(TINY, *names, brush_drop=drop))
    yield Row("refused-brushes-take-all", 3, given(TINY, *names, brush_drop=25.0), "invalid")
    yield Row("refused-no-armature-resistance", 3, given(MILL, *names, armature_resistance=0.0), "invalid")


ENTRIES = {
    "back_emf": Entry(lambda inputs: BACK_EMF, CIRCUIT_SLIPS, tuple(_back_emf_rows())),
    "back_emf_from_winding": Entry(
        lambda inputs: WINDING,
        (
            "two-pi-forgotten",
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "pole-pairs-for-poles",
            "parallel-paths-forgotten",
        ),
        tuple(_winding_rows()),
        {
            "two-pi-forgotten": swapped("winding-constant", _without_two_pi),
            "revolutions-per-minute-taken-for-radians": swapped("winding-constant", _per_minute),
        },
    ),
    "torque_from_line_current": Entry(
        lambda inputs: TORQUE,
        (
            "shaft-torque-for-developed-torque",
            "rotational-loss-forgotten",
            "rotational-loss-taken-off-twice",
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "two-pi-forgotten",
            *CIRCUIT_SLIPS,
        ),
        tuple(_torque_rows()),
        {"shaft-torque-for-developed-torque": on_outputs(_shaft_for_developed)},
    ),
    "stall_torque": Entry(
        lambda inputs: STALL,
        (
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
            "flux-kept-though-the-field-changed",
            "field-winding-forgotten",
            "added-armature-resistance-ignored",
            "armature-winding-forgotten",
            "added-resistance-in-parallel",
            "resistors-in-each-others-circuit",
            "armature-resistor-ahead-of-both-circuits",
        ),
        tuple(_stall_rows()),
    ),
}
