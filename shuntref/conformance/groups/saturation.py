"""Cases of the groups "magnetisation-table" and "froehlich": flux that does not follow the field current in proportion."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Any

import sympy as sp

from shuntref.conformance.certify import Alternative, Entry, Row
from shuntref.conformance.groups.machines import ARMATURE, BEYOND_STALL, FIELD, NOTHING_NEGATIVE
from shuntref.conformance.groups.speed import NO_LOAD_ALTERNATIVE
from shuntref.conformance.mistakes import Mistake
from shuntref.conformance.problem import Problem, Values, equations, segments, variable

__all__ = ["BAD_TABLE", "ENTRIES", "TABLES", "TABLE_LAWS", "bad_table", "on_the_piece", "table_slips"]

# --- magnetisation tables, straight between their points
TABLE_LAWS = {
    "table": sp.Eq(
        (variable("curve_emf") - variable("low_emf"))
        * (variable("high_field_current") - variable("low_field_current")),
        (variable("high_emf") - variable("low_emf"))
        * (variable("effective_field_current") - variable("low_field_current")),
    ),
    "curve-emf": sp.Eq(variable("curve_emf"), variable("k_phi") * variable("table_speed")),
}


def on_the_piece(values: Values) -> bool:
    """Return whether the field current lies on the piece of the table that was tried."""
    low, high = values["low_field_current"], values["high_field_current"]
    return bool(low <= values["effective_field_current"] <= high)


def bad_table(values: Values) -> bool:
    """Return whether the table's points fail to ascend."""
    for name in ("table_field_current", "table_back_emf"):
        points = [v for key, v in values.items() if key.startswith(f"{name}[")]
        if len(points) < 2 or any(b <= a for a, b in pairwise(points)):
            return True
    return False


BAD_TABLE = ("the table does not ascend", bad_table)


def _table_problem(wanted: tuple[str, ...], refusals: Any, pivots: Mapping[str, str]) -> Problem:
    laws = equations("effective-field-current", "reaction-none", *FIELD, *ARMATURE)
    return Problem(
        laws | TABLE_LAWS, wanted, pivots, choices=segments, consistent=on_the_piece, refusals=(BAD_TABLE, *refusals)
    )


WITH_TABLE = _table_problem(("k_phi", "speed"), (BEYOND_STALL,), {})
ADDED_WITH_TABLE = _table_problem(
    ("added_field_resistance",), (NOTHING_NEGATIVE("added_field_resistance"),), {"k_phi": "largest"}
)

Table = dict[str, Any]
TABLES: Mapping[str, Table] = {
    "bench": {
        "table_field_current": [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9],
        "table_back_emf": [4.0, 30.0, 55.0, 76.0, 92.0, 103.5, 112.0, 118.5, 123.5, 127.0],
        "table_speed": 157.0,
    },
    "lecture": {
        "table_field_current": [0.0, 0.4, 0.8, 1.2, 1.6, 2.0, 2.4],
        "table_back_emf": [6.0, 82.0, 146.0, 190.0, 218.0, 236.0, 248.0],
        "table_speed": 155.0,
    },
    "mill": {
        "table_field_current": [0.2, 0.7, 1.1, 1.5, 1.9, 2.3],
        "table_back_emf": [95.0, 285.0, 390.0, 455.0, 495.0, 520.0],
        "table_speed": 112.0,
    },
    "three-points": {
        "table_field_current": [0.0, 0.5, 1.0],
        "table_back_emf": [0.0, 90.0, 130.0],
        "table_speed": 150.0,
    },
}
MOTORS: Mapping[str, dict[str, float]] = {
    "bench": {"supply_voltage": 120.0, "field_resistance": 165.0, "armature_resistance": 0.8, "load_torque": 6.5},
    "lecture": {"supply_voltage": 240.0, "field_resistance": 121.0, "armature_resistance": 0.25, "load_torque": 60.0},
    "mill": {"supply_voltage": 500.0, "field_resistance": 260.0, "armature_resistance": 0.09, "load_torque": 620.0},
    "three-points": {
        "supply_voltage": 120.0,
        "field_resistance": 140.0,
        "armature_resistance": 1.0,
        "load_torque": 5.0,
    },
}


def _motor(name: str, **more: Any) -> dict[str, Any]:
    return {**MOTORS[name], **TABLES[name], **more}


#: the field current is that of an end point; in double precision it may come out just beyond it
OFF_BY_ROUNDING = Alternative("refused, because rounding puts the field current just off the table")


def _table_rows() -> Iterator[Row]:
    rheostats = {"bench": 45.0, "lecture": 50.0, "mill": 110.0, "three-points": 60.0}
    for name, added in rheostats.items():
        torque = MOTORS[name]["load_torque"]
        yield Row(f"{name}-full-load", 1, _motor(name))
        yield Row(f"{name}-light-load", 1, _motor(name, load_torque=round(0.15 * torque, 3)))
        yield Row(f"{name}-field-rheostat", 2, _motor(name, added_field_resistance=added))
        yield Row(
            f"{name}-more-field-rheostat", 2, _motor(name, added_field_resistance=round(2.3 * added, 1), brush_drop=2.0)
        )
        yield Row(f"{name}-armature-rheostat", 2, _motor(name, added_armature_resistance=1.5 if torque < 100 else 0.3))
    yield Row("bench-loss-torque", 2, _motor("bench", loss_torque=0.5, added_field_resistance=20.0))
    yield Row("bench-exactly-on-a-point", 3, _motor("bench", field_resistance=150.0))
    last = _motor("bench", supply_voltage=126.0, field_resistance=140.0)
    yield Row("bench-exactly-on-the-last-point", 3, last, "acceptable", "", (OFF_BY_ROUNDING,))
    first = _motor("mill", added_field_resistance=2240.0, load_torque=50.0)
    yield Row("mill-exactly-on-the-first-point", 3, first, "acceptable", "", (OFF_BY_ROUNDING,))
    yield Row("bench-mostly-remanence", 3, _motor("bench", added_field_resistance=20000.0, load_torque=0.05))
    yield Row("bench-no-torque", 3, _motor("bench", load_torque=0.0))
    none = _motor("lecture", load_torque=0.0, brush_drop=2.0)
    yield Row("lecture-no-torque-brushes", 3, none, "acceptable", "", (NO_LOAD_ALTERNATIVE,))
    yield Row("lecture-overhauled", 3, _motor("lecture", load_torque=-60.0, brush_drop=2.0))
    # at 0.8 A the EMF is 114 V, the flux 0.76: standstill at a torque of 120 * 0.76 = 91.2 N m
    stall = _motor("three-points", field_resistance=150.0)
    for torque in (91.1, 91.1999, 91.199999):
        yield Row(f"near-stall-{torque}".replace(".", "-"), 4, {**stall, "load_torque": torque})
    yield Row("refused-above-the-table", 3, _motor("bench", field_resistance=120.0), "invalid")
    yield Row("refused-below-the-table", 3, _motor("mill", added_field_resistance=3000.0, load_torque=10.0), "invalid")
    yield Row("refused-beyond-stall", 3, {**stall, "load_torque": 105.0}, "invalid")
    yield Row(
        "refused-field-currents-not-ascending",
        3,
        _motor("three-points", table_field_current=[0.0, 1.0, 0.5]),
        "invalid",
    )
    yield Row("refused-field-current-twice", 3, _motor("three-points", table_field_current=[0.0, 1.0, 1.0]), "invalid")
    yield Row(
        "refused-one-point", 3, _motor("three-points", table_field_current=[0.857], table_back_emf=[100.0]), "invalid"
    )
    yield Row("refused-no-table-speed", 3, _motor("bench", table_speed=0.0), "invalid")


def _added_table_rows() -> Iterator[Row]:
    speeds = {"bench": (165.0, 190.0, 260.0), "lecture": (160.0, 180.0, 250.0), "mill": (115.0, 135.0, 190.0),
              "three-points": (165.0, 200.0, 260.0)}  # fmt: skip
    for name, (slow, middle, fast) in speeds.items():
        yield Row(f"{name}-a-little-faster", 1, _motor(name, speed=slow))
        yield Row(f"{name}-faster-brushes", 2, _motor(name, speed=middle, brush_drop=1.8))
        yield Row(f"{name}-much-faster-light-load", 2, _motor(name, speed=fast, load_torque=1.0))
    yield Row("bench-faster-no-torque", 3, _motor("bench", speed=200.0, load_torque=0.0))
    yield Row("bench-overhauled", 3, _motor("bench", speed=220.0, load_torque=-6.5, brush_drop=2.0))
    # the flux of the point at 0.5 A is 90/150 = 0.6: 200 rad/s without torque
    yield Row("exactly-on-a-point", 3, _motor("three-points", speed=200.0, load_torque=0.0))
    yield Row("lecture-loss-torque", 2, _motor("lecture", speed=185.0, loss_torque=4.0))
    yield Row(
        "next-to-nothing-to-add", 4, _motor("three-points", field_resistance=120.0, speed=138.462, load_torque=0.0)
    )
    yield Row("refused-slower-than-without", 3, _motor("bench", speed=120.0), "invalid")
    yield Row("refused-off-the-table", 3, _motor("mill", speed=700.0, load_torque=1.0), "invalid")
    yield Row("refused-beyond-the-fastest", 3, _motor("bench", speed=800.0), "invalid")


# --- mistakes with tables
def _stepped(problem: Problem) -> Problem | None:
    """Put the EMF of the nearer end in place of the straight line between the two."""
    middle = (variable("low_field_current") + variable("high_field_current")) / 2
    emf = sp.Eq(
        variable("curve_emf"),
        sp.Piecewise((variable("low_emf"), variable("effective_field_current") < middle), (variable("high_emf"), True)),
    )
    return problem.swap("table", lambda s: emf)


def _through_the_end(problem: Problem) -> Problem | None:
    """Put the straight line from the origin to the last point in place of the table."""
    line = sp.Eq(
        variable("curve_emf") * variable("last_field_current"),
        variable("last_emf") * variable("effective_field_current"),
    )

    def last_point(values: Values) -> Any:
        count = sum(name.startswith("table_field_current[") for name in values)
        yield {
            "last_field_current": values[f"table_field_current[{count - 1}]"],
            "last_emf": values[f"table_back_emf[{count - 1}]"],
        }

    swapped = problem.swap("table", lambda s: line)
    return None if swapped is None else replace(swapped, choices=last_point, consistent=lambda values: True)


def table_slips(*slugs: str) -> dict[str, Mistake]:
    """Return the mistakes that are made with a table, those of them that are named."""
    own: dict[str, Mistake] = {
        "nearest-table-point": _stepped,
        "linear-flux-where-the-curve-saturates": _through_the_end,
    }
    return {slug: own[slug] for slug in slugs}


# --- Froehlich
SATURATING = ("effective-field-current", "reaction-none", "flux-froehlich")
WITH_FROEHLICH = Problem(equations(*FIELD, *SATURATING, *ARMATURE), ("k_phi", "speed"), refusals=(BEYOND_STALL,))
ADDED_WITH_FROEHLICH = Problem(
    equations(*FIELD, *SATURATING, *ARMATURE),
    ("added_field_resistance",),
    pivots={"k_phi": "largest"},
    refusals=(
        ("k_phi is beyond what the curve can give", lambda v: bool(v["field_current"] <= 0)),
        NOTHING_NEGATIVE("added_field_resistance"),
    ),
)
CURVES: Mapping[str, dict[str, float]] = {
    "tiny": {"froehlich_a": 0.31, "froehlich_b": 0.48},
    "fan": {"froehlich_a": 1.05, "froehlich_b": 0.33},
    "bench": {"froehlich_a": 1.32, "froehlich_b": 0.56},
    "lecture": {"froehlich_a": 2.6, "froehlich_b": 1.45},
    "mill": {"froehlich_a": 7.4, "froehlich_b": 1.4},
}
FROEHLICH_MOTORS: Mapping[str, dict[str, float]] = {
    "tiny": {"supply_voltage": 24.0, "field_resistance": 48.0, "armature_resistance": 1.2, "load_torque": 0.3},
    "fan": {"supply_voltage": 110.0, "field_resistance": 220.0, "armature_resistance": 1.5, "load_torque": 3.0},
    "bench": {"supply_voltage": 120.0, "field_resistance": 160.0, "armature_resistance": 0.8, "load_torque": 6.5},
    "lecture": {"supply_voltage": 240.0, "field_resistance": 120.0, "armature_resistance": 0.25, "load_torque": 60.0},
    "mill": {"supply_voltage": 500.0, "field_resistance": 250.0, "armature_resistance": 0.09, "load_torque": 620.0},
}


def _saturating(name: str, **more: float) -> dict[str, float]:
    return {**FROEHLICH_MOTORS[name], **CURVES[name], **more}


def _froehlich_rows() -> Iterator[Row]:
    rheostats = {"tiny": 16.0, "fan": 70.0, "bench": 40.0, "lecture": 45.0, "mill": 90.0}
    for name, added in rheostats.items():
        remanent = round(0.02 * CURVES[name]["froehlich_a"], 3)
        yield Row(f"{name}-full-load", 1, _saturating(name))
        yield Row(f"{name}-field-rheostat", 2, _saturating(name, added_field_resistance=added))
        yield Row(
            f"{name}-field-rheostat-remanence",
            2,
            _saturating(name, added_field_resistance=2.5 * added, remanent_k_phi=remanent),
        )
        if name in ("fan", "bench", "mill"):
            resistance = 2.0 if name != "mill" else 0.2
            yield Row(f"{name}-armature-rheostat", 2, _saturating(name, added_armature_resistance=resistance))
            yield Row(f"{name}-brushes-and-loss", 2, _saturating(name, brush_drop=2.0, loss_torque=0.2))
            yield Row(
                f"{name}-overhauled-brushes",
                3,
                _saturating(name, load_torque=-FROEHLICH_MOTORS[name]["load_torque"], brush_drop=2.0),
            )
    yield Row("bench-no-torque", 3, _saturating("bench", load_torque=0.0))
    none = _saturating("bench", load_torque=0.0, brush_drop=2.0)
    yield Row("bench-no-torque-brushes", 3, none, "acceptable", "", (NO_LOAD_ALTERNATIVE,))
    yield Row(
        "bench-remanence-alone",
        3,
        _saturating("bench", load_torque=0.01, remanent_k_phi=0.03, added_field_resistance=1000000.0),
    )
    yield Row("bench-hardly-saturated", 3, _saturating("bench", froehlich_a=132.0, froehlich_b=97.0))
    yield Row("bench-fully-saturated", 3, _saturating("bench", froehlich_a=0.75, froehlich_b=0.002))
    # flux 1.5 * 0.75 / (0.75 + 0.75) = 0.75: standstill at 112.5 N m
    stall = _saturating("bench", froehlich_a=1.5, froehlich_b=0.75)
    for torque in (112.4, 112.4999, 112.499999):
        yield Row(f"near-stall-{torque}".replace(".", "-"), 4, {**stall, "load_torque": torque})
    yield Row("refused-beyond-stall", 3, {**stall, "load_torque": 113.0}, "invalid")
    yield Row("refused-no-half-current", 3, {**stall, "froehlich_b": 0.0}, "invalid")
    yield Row("refused-negative-gain", 3, {**stall, "froehlich_a": -1.5}, "invalid")
    yield Row("refused-negative-remanence", 3, {**stall, "remanent_k_phi": -0.02}, "invalid")


def _added_froehlich_rows() -> Iterator[Row]:
    speeds = {
        "tiny": (160.0, 200.0),
        "fan": (180.0, 240.0),
        "bench": (160.0, 220.0),
        "lecture": (165.0, 230.0),
        "mill": (120.0, 160.0),
    }
    for name, (slow, fast) in speeds.items():
        remanent = round(0.02 * CURVES[name]["froehlich_a"], 3)
        yield Row(f"{name}-a-little-faster", 1, _saturating(name, speed=slow))
        yield Row(f"{name}-faster-remanence", 2, _saturating(name, speed=fast, remanent_k_phi=remanent))
        if name in ("bench", "mill"):
            yield Row(
                f"{name}-faster-brushes-and-loss", 2, _saturating(name, speed=fast, brush_drop=1.8, loss_torque=0.3)
            )
            yield Row(f"{name}-faster-no-torque", 3, _saturating(name, speed=fast, load_torque=0.0))
    yield Row("bench-overhauled-brushes", 3, _saturating("bench", speed=210.0, load_torque=-6.5, brush_drop=2.0))
    nearly = _saturating("bench", froehlich_a=1.5, froehlich_b=0.75, load_torque=0.0)
    for speed in (160.01, 160.0001):
        yield Row(f"next-to-nothing-to-add-{speed}".replace(".", "-"), 4, {**nearly, "speed": speed})
    # hardly above the remanent flux 0.1 (1200 rad/s): a very weak field
    for speed in (1190.0, 1199.99):
        weak = {**nearly, "remanent_k_phi": 0.1, "speed": speed}
        yield Row(f"nearly-remanence-alone-{speed}".replace(".", "-"), 4, weak)
    yield Row("refused-slower-than-without", 3, {**nearly, "speed": 150.0}, "invalid")
    yield Row("refused-slower-than-the-curve-allows", 3, {**nearly, "speed": 75.0}, "invalid")
    yield Row("refused-faster-than-remanence-allows", 3, {**nearly, "remanent_k_phi": 0.1, "speed": 1300.0}, "invalid")
    yield Row("refused-beyond-the-fastest", 3, _saturating("bench", speed=900.0), "invalid")


def _straight(problem: Problem) -> Problem | None:
    """Put the tangent at the origin in place of the curve."""
    line = sp.Eq(
        (variable("k_phi") - variable("remanent_k_phi")) * variable("froehlich_b"),
        variable("froehlich_a") * variable("effective_field_current"),
    )
    return problem.swap("flux-froehlich", lambda s: line)


_SPEED_SLIPS = (
    "linear-flux-where-the-curve-saturates",
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
    "field-winding-forgotten",
    "loss-torque-forgotten",
    "brush-drop-forgotten",
    "brush-drop-doubled",
    "brush-drop-halved",
    "brush-drop-sign-kept-when-regenerating",
    "brush-drop-helps-the-current",
)
_SIZE_SLIPS = (
    "other-root-taken",
    "total-given-for-added",
    *(s for s in _SPEED_SLIPS if "field" not in s and "added-armature" not in s and "line-current" not in s),
)

ENTRIES = {
    "speed_with_table": Entry(
        lambda inputs: WITH_TABLE,
        ("nearest-table-point", *_SPEED_SLIPS),
        tuple(_table_rows()),
        table_slips("nearest-table-point", "linear-flux-where-the-curve-saturates"),
    ),
    "added_field_resistance_with_table": Entry(
        lambda inputs: ADDED_WITH_TABLE,
        _SIZE_SLIPS,
        tuple(_added_table_rows()),
        table_slips("linear-flux-where-the-curve-saturates"),
    ),
    "speed_with_froehlich": Entry(
        lambda inputs: WITH_FROEHLICH,
        ("remanence-ignored", "froehlich-constants-exchanged", *_SPEED_SLIPS),
        tuple(_froehlich_rows()),
        {"linear-flux-where-the-curve-saturates": _straight},
    ),
    "added_field_resistance_with_froehlich": Entry(
        lambda inputs: ADDED_WITH_FROEHLICH,
        ("remanence-ignored", "froehlich-constants-exchanged", *_SIZE_SLIPS),
        tuple(_added_froehlich_rows()),
        {"linear-flux-where-the-curve-saturates": _straight},
    ),
}
