"""Cases of the groups "added-field-resistance" and "added-armature-resistance": what to add for a wanted speed."""

from __future__ import annotations

from collections.abc import Iterator

import sympy as sp

from shuntref.conformance.certify import Entry, Row
from shuntref.conformance.groups.machines import (
    ARMATURE,
    BENCH,
    CRANE,
    FAN,
    FIELD,
    LECTURE,
    MACHINES,
    MILL,
    NOTHING_NEGATIVE,
    PROPORTIONAL,
    PUMP,
    REFUSING,
    TINY,
    given,
)
from shuntref.conformance.mistakes import swapped
from shuntref.conformance.problem import Problem, equations, variable

__all__ = ["ENTRIES"]

SHUNT = ("supply_voltage", "field_resistance", "armature_resistance", "flux_constant", "load_torque")

FIELD_FOR_SPEED = Problem(
    equations(*ARMATURE, *PROPORTIONAL, *FIELD),
    ("added_field_resistance",),
    pivots={"k_phi": "largest"},
    refusals=(NOTHING_NEGATIVE("added_field_resistance"),),
)
#: wanted speeds above the speed without added field resistance
FASTER = {
    "tiny": (150.0, 180.0, 260.0),
    "fan": (180.0, 210.0, 300.0),
    "bench": (160.0, 175.0, 240.0),
    "crane": (125.0, 150.0, 200.0),
    "lecture": (160.0, 180.0, 250.0),
    "pump": (155.0, 175.0, 260.0),
    "mill": (115.0, 135.0, 210.0),
}


def _field_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        slow, middle, fast = FASTER[label]
        base = given(motor, *SHUNT)
        yield Row(f"{label}-a-little-faster", 1, {**base, "speed": slow})
        yield Row(f"{label}-faster", 2, {**base, "speed": middle, "brush_drop": 1.6})
        if label in ("fan", "bench", "lecture", "mill"):
            yield Row(f"{label}-much-faster", 2, {**base, "speed": fast})
            loss = round(0.08 * motor["load_torque"], 3)
            yield Row(f"{label}-faster-loss-torque", 2, {**base, "speed": middle, "loss_torque": loss})
            yield Row(f"{label}-faster-no-torque", 3, {**base, "speed": fast, "load_torque": 0.0})
            yield Row(f"{label}-faster-overhauled", 3, {**base, "speed": fast, "load_torque": -motor["load_torque"]})
    bench = given(BENCH, *SHUNT)
    yield Row("bench-overhauled-brushes", 3, {**bench, "speed": 190.0, "load_torque": -6.5, "brush_drop": 2.0})
    yield Row("bench-armature-rheostat-too", 2, {**bench, "speed": 160.0, "added_armature_resistance": 1.5})
    # U^2 = 4 omega T R at 720 rad/s: the fastest that this torque allows
    edge = {
        "supply_voltage": 120.0,
        "field_resistance": 160.0,
        "armature_resistance": 0.8,
        "flux_constant": 1.0,
        "load_torque": 6.25,
    }
    for speed in (719.9, 719.99, 719.9999):
        yield Row(f"near-the-fastest-{speed}".replace(".", "-"), 4, {**edge, "speed": speed})
    exact = {**edge, "load_torque": 0.0, "speed": 160.0}
    yield Row("nothing-to-add-exactly", 3, exact, "acceptable", "", (REFUSING,))
    yield Row("next-to-nothing-to-add", 4, {**edge, "load_torque": 0.0, "speed": 160.0001})
    yield Row("refused-beyond-the-fastest", 3, {**edge, "speed": 720.1}, "invalid")
    yield Row("refused-slower-than-without", 3, {**bench, "speed": 120.0}, "invalid")
    yield Row("refused-no-speed", 3, {**bench, "speed": 0.0}, "invalid")
    yield Row("refused-backward", 3, {**bench, "speed": -160.0}, "invalid")
    yield Row("refused-no-flux", 3, {**bench, "speed": 160.0, "flux_constant": 0.0}, "invalid")


NO_LOAD = Problem(
    # two states without torque: only the field circuit's resistance differs
    {
        "reference state": sp.Eq(variable("reference_speed") * variable("flux_constant"), variable("field_resistance")),
        "field-circuit": sp.Eq(variable("speed") * variable("flux_constant"), variable("field_circuit_resistance")),
        **equations("field-circuit-resistance"),
    },
    ("added_field_resistance",),
    refusals=(NOTHING_NEGATIVE("added_field_resistance"),),
)


def _no_load_rows() -> Iterator[Row]:
    readings = ((160.0, 157.4, 160.3), (160.0, 157.4, 163.4), (220.0, 166.0, 190.0), (110.0, 121.5, 150.0),
                (120.0, 156.0, 200.0), (320.0, 152.0, 152.5), (250.0, 112.0, 224.0), (48.0, 148.0, 310.0))  # fmt: skip
    for number, (field, before, after) in enumerate(readings, 1):
        level = 1 if number in (1, 4, 5, 7) else 2
        yield Row(f"reading-{number}", level, _reading(field, before, after))
    yield Row("same-speed", 3, _reading(160.0, 157.0, 157.0), "acceptable", "", (REFUSING,))
    yield Row("ten-times-as-fast", 3, _reading(48.0, 30.0, 300.0))
    for after in (157.001, 157.00001):
        yield Row(f"hardly-faster-{after}".replace(".", "-"), 4, _reading(160.0, 157.0, after))
    yield Row("refused-slower", 3, _reading(160.0, 157.0, 150.0), "invalid")
    yield Row("refused-standstill-before", 3, _reading(160.0, 0.0, 150.0), "invalid")
    yield Row("refused-no-field-resistance", 3, _reading(0.0, 157.0, 160.0), "invalid")


def _reading(field_resistance: float, before: float, after: float) -> dict[str, float]:
    return {"field_resistance": field_resistance, "reference_speed": before, "speed": after}


def _speed_with_field(s: object) -> sp.Eq:
    return sp.Eq(
        variable("speed") * variable("field_circuit_resistance"),
        variable("reference_speed") * variable("field_resistance"),
    )


ARMATURE_FOR_SPEED = Problem(
    equations(*FIELD, *PROPORTIONAL, *ARMATURE),
    ("added_armature_resistance",),
    refusals=(
        NOTHING_NEGATIVE("added_armature_resistance"),
        ("without torque no armature resistance changes the speed", lambda v: bool(v["armature_current"] == 0)),
    ),
)
SLOWER = {
    "tiny": (120.0, 60.0),
    "fan": (140.0, 90.0),
    "bench": (140.0, 75.0),
    "crane": (100.0, 40.0),
    "lecture": (135.0, 75.0),
    "pump": (130.0, 80.0),
    "mill": (95.0, 30.0),
}


def _armature_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        slow, slower = SLOWER[label]
        base = given(motor, *SHUNT)
        yield Row(f"{label}-slower", 1, {**base, "speed": slow})
        yield Row(f"{label}-much-slower", 2, {**base, "speed": slower, "brush_drop": 1.6})
        if label in ("fan", "bench", "pump"):
            loss = round(0.08 * motor["load_torque"], 3)
            yield Row(f"{label}-slower-loss-torque", 2, {**base, "speed": slow, "loss_torque": loss})
            yield Row(f"{label}-standstill", 3, {**base, "speed": 0.0})
    for motor, fast in ((BENCH, 260.0), (LECTURE, 240.0), (MILL, 170.0)):
        down = given(motor, *SHUNT, load_torque=-motor["load_torque"], speed=fast)
        yield Row(f"{motor['name']}-lowering-faster", 3, down)
        yield Row(f"{motor['name']}-lowering-faster-brushes", 3, {**down, "brush_drop": 2.0})
    bench = given(BENCH, *SHUNT)
    yield Row("bench-weakened-field", 2, {**bench, "speed": 140.0, "added_field_resistance": 20.0})
    yield Row("crane-weakened-field", 2, given(CRANE, *SHUNT, speed=110.0, added_field_resistance=25.0))
    edge = {
        "supply_voltage": 120.0,
        "field_resistance": 160.0,
        "armature_resistance": 0.8,
        "flux_constant": 1.0,
        "load_torque": 7.5,
    }
    # without added resistance it runs at (120 - 10 * 0.8) / 0.75 = 149.33... rad/s
    for speed in (149.3, 149.333, 149.33333):
        yield Row(f"next-to-nothing-to-add-{speed}".replace(".", "-"), 4, {**edge, "speed": speed})
    yield Row("refused-faster-than-without", 3, {**bench, "speed": 158.0}, "invalid")
    yield Row("refused-no-torque", 3, {**bench, "speed": 140.0, "load_torque": 0.0}, "invalid")
    yield Row("refused-lowering-too-slowly", 3, {**bench, "speed": 120.0, "load_torque": -6.5}, "invalid")
    yield Row("refused-negative-brush-drop", 3, {**bench, "speed": 120.0, "brush_drop": -1.0}, "invalid")


SHARED = ("supply_voltage", "field_resistance", "armature_resistance", "flux_constant", "brush_drop")
FROM_READING = Problem(
    equations(
        *FIELD,
        *PROPORTIONAL,
        "current-sum",
        "armature-circuit-signed",
        "armature-emf",
        "torque",
        "armature-circuit-resistance",
        shared=SHARED,
    )
    | equations(
        *FIELD, *PROPORTIONAL, "armature-circuit-signed", "armature-circuit-resistance", "armature-emf", "torque"
    )
    | {
        "nothing added in the field": sp.Eq(variable("added_field_resistance"), 0),
        "torque ratio": sp.Eq(
            variable("electromagnetic_torque"), variable("torque_ratio") * variable("reference_electromagnetic_torque")
        ),
    },
    ("added_armature_resistance",),
    shared=SHARED,
    refusals=(
        NOTHING_NEGATIVE("added_armature_resistance"),
        ("no armature current in the reading", lambda v: bool(v["reference_armature_current"] <= 0)),
        ("back EMF of the reading is not positive", lambda v: bool(v["reference_back_emf"] <= 0)),
    ),
)


def _from_reading_rows() -> Iterator[Row]:
    names = ("supply_voltage", "field_resistance", "armature_resistance")
    readings = ((TINY, 2.4, 143.0, 100.0), (FAN, 5.2, 164.0, 120.0), (BENCH, 9.2, 150.5, 120.0), (CRANE, 85.0, 117.8, 90.0),
                (LECTURE, 41.5, 151.0, 100.0), (PUMP, 32.5, 149.0, 75.0), (MILL, 143.0, 110.7, 60.0))  # fmt: skip
    for motor, current, before, after in readings:
        label = motor["name"]
        base = given(motor, *names, reference_line_current=current, reference_speed=before, speed=after)
        yield Row(f"{label}-same-torque", 1, base)
        yield Row(f"{label}-less-torque", 2, {**base, "torque_ratio": 0.6, "brush_drop": 1.8})
        if label in ("bench", "pump"):
            yield Row(f"{label}-square-torque", 2, {**base, "torque_ratio": 0.25, "speed": round(before / 2, 2)})
            yield Row(f"{label}-standstill", 3, {**base, "speed": 0.0})
    base = given(BENCH, *names, reference_line_current=9.2, reference_speed=150.0)
    for speed in (149.99, 149.9999):
        yield Row(f"next-to-nothing-to-add-{speed}".replace(".", "-"), 4, {**base, "speed": speed})
    yield Row("refused-faster", 3, {**base, "speed": 160.0}, "invalid")
    yield Row(
        "refused-less-than-the-field-takes", 3, {**base, "speed": 120.0, "reference_line_current": 0.7}, "invalid"
    )
    yield Row("refused-no-torque", 3, {**base, "speed": 120.0, "torque_ratio": 0.0}, "invalid")


_SIZING_SLIPS = (
    "total-given-for-added",
    "overhauling-taken-as-motoring",
    "revolutions-per-minute-taken-for-radians",
    "radians-taken-for-revolutions-per-minute",
    "two-pi-forgotten",
    "armature-drop-added",
    "flux-not-squared-in-torque-term",
    "line-current-for-armature-current",
    "loss-torque-forgotten",
    "brush-drop-forgotten",
    "brush-drop-doubled",
    "brush-drop-halved",
    "brush-drop-sign-kept-when-regenerating",
    "brush-drop-helps-the-current",
)

ENTRIES = {
    "added_field_resistance_for_speed": Entry(
        lambda inputs: FIELD_FOR_SPEED,
        ("other-root-taken", "armature-drop-ignored", *_SIZING_SLIPS, "added-armature-resistance-ignored"),
        tuple(_field_rows()),
    ),
    "added_field_resistance_at_no_load": Entry(
        lambda inputs: NO_LOAD,
        ("total-given-for-added", "speed-proportional-to-field-current"),
        tuple(_no_load_rows()),
        {"speed-proportional-to-field-current": swapped("field-circuit", _speed_with_field)},
    ),
    "added_armature_resistance_for_speed": Entry(
        lambda inputs: ARMATURE_FOR_SPEED,
        (*_SIZING_SLIPS, "flux-kept-though-the-field-changed", "field-winding-forgotten"),
        tuple(_armature_rows()),
    ),
    "added_armature_resistance_from_reading": Entry(
        lambda inputs: FROM_READING,
        (
            "total-given-for-added",
            "line-current-for-armature-current",
            "field-current-added-to-line-current",
            "torque-ratio-ignored",
            "torque-ratio-inverted",
            "armature-drop-added",
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
            "brush-drop-helps-the-current",
        ),
        tuple(_from_reading_rows()),
    ),
}
