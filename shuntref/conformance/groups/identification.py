"""Cases of the group "identification": parameters of the motor from readings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import sympy as sp

from shuntref.conformance.certify import Entry, Row
from shuntref.conformance.elimination import Unsolvable
from shuntref.conformance.groups.back_emf import READINGS
from shuntref.conformance.groups.machines import BENCH, CRANE, FAN, LECTURE, MACHINES, MILL, PUMP, TINY, given
from shuntref.conformance.mistakes import Mistake, on_outputs, replaced, swapped
from shuntref.conformance.problem import Problem, Values, equations, variable

__all__ = ["ENTRIES"]


def _readings(law_name: str, count: int, measured: tuple[str, ...], extra: Mapping[str, sp.Expr]) -> list[sp.Expr]:
    """Return the residual of a law for each reading, the measured quantities numbered."""
    law = equations(law_name)[law_name]
    residual = (law.lhs - law.rhs).xreplace({variable(name): value for name, value in extra.items()})
    return [residual.xreplace({variable(name): variable(f"{name}[{i}]") for name in measured}) for i in range(count)]


def _least_squares(residuals: list[sp.Expr], *unknowns: str) -> dict[str, sp.Eq]:
    """Return the conditions for the least sum of squares: its slope by every unknown is zero."""
    total = sum((r**2 for r in residuals), sp.Integer(0))
    return {f"least squares, {name}": sp.Eq(sp.expand(sp.diff(total, variable(name))), 0) for name in unknowns}


def _count(inputs: Mapping[str, Any], least: int) -> int:
    """Return how many readings there are, all lists being equally long."""
    counts = {len(readings) for readings in inputs.values()}
    if len(counts) != 1:
        raise Unsolvable("the lists differ in length")
    count = counts.pop()
    if count < least:
        raise Unsolvable(f"fewer than {least} readings")
    return count


# --- armature at standstill: volts against amperes
def _standstill(inputs: Mapping[str, Any]) -> Problem:
    at_rest = {"back_emf": sp.Integer(0), "armature_circuit_resistance": variable("armature_resistance")}
    count = _count(inputs, 2)
    residuals = _readings("armature-circuit", count, ("supply_voltage", "armature_current"), at_rest)
    return Problem(
        _least_squares(residuals, "armature_resistance", "brush_drop"),
        ("armature_resistance", "brush_drop"),
        pivots={"brush_drop": "largest"},
    )


def _volt_ampere_rows() -> Iterator[Row]:
    readings: tuple[tuple[int, str, list[float], list[float]], ...] = (
        (1, "bench-two-readings", [2.0, 8.0], [3.6, 8.4]),
        (1, "crane-exact-line", [20.0, 40.0, 60.0, 80.0], [4.5, 7.5, 10.5, 13.5]),
        (1, "bench-four-readings", [2.0, 4.0, 6.0, 8.0], [3.62, 5.18, 6.83, 8.37]),
        (1, "fan-three-readings", [1.0, 2.5, 4.5], [3.3, 5.4, 8.6]),
        (2, "lecture-six-readings", [5.0, 10.0, 15.0, 20.0, 30.0, 40.0], [3.1, 4.55, 5.7, 6.9, 9.6, 11.85]),
        (2, "mill-five-readings", [25.0, 50.0, 75.0, 100.0, 140.0], [4.2, 6.6, 8.7, 11.1, 14.4]),
        (2, "tiny-five-readings", [0.4, 0.8, 1.2, 1.6, 2.0], [1.5, 1.92, 2.46, 2.88, 3.42]),
        (2, "pump-eight-readings", [4.0, 8.0, 12.0, 16.0, 20.0, 24.0, 28.0, 32.0],
         [4.3, 6.9, 9.1, 11.7, 13.9, 16.5, 18.7, 21.3]),
        (2, "bench-readings-out-of-order", [6.0, 2.0, 8.0, 4.0, 7.0], [6.8, 3.7, 8.3, 5.2, 7.7]),
        (3, "a-current-repeated", [3.0, 3.0, 6.0, 6.0, 9.0], [4.4, 4.5, 6.8, 6.7, 9.3]),
        (3, "small-drop", [2.0, 4.0, 6.0, 8.0], [1.621, 3.219, 4.822, 6.418]),
        (4, "currents-close-together", [8.0, 8.01, 8.02], [8.4, 8.41, 8.415]),
        (4, "currents-not-far-apart", [8.0, 8.2, 8.4], [8.4, 8.57, 8.71]),
    )  # fmt: skip
    for level, words, amperes, volts in readings:
        yield Row(words, level, {"armature_current": amperes, "supply_voltage": volts})
    bad: tuple[tuple[str, list[float], list[float]], ...] = (
        ("all-currents-equal", [5.0, 5.0, 5.0], [5.9, 6.0, 6.1]),
        ("one-reading", [5.0], [6.0]),
        ("lists-of-different-length", [2.0, 4.0, 6.0], [3.6, 5.2]),
        ("negative-current", [-2.0, 4.0, 6.0], [3.6, 5.2, 6.8]),
    )
    for words, amperes, volts in bad:
        yield Row(f"refused-{words}", 3, {"armature_current": amperes, "supply_voltage": volts}, "invalid")


def _pairs(values: Values, x: str, y: str) -> list[tuple[Any, Any]]:
    count = sum(key.startswith(f"{x}[") for key in values)
    return [(values[f"{x}[{i}]"], values[f"{y}[{i}]"]) for i in range(count)]


def _no_intercept(problem: Problem) -> Problem | None:
    without = {variable("brush_drop"): sp.Integer(0)}
    slope = "least squares, armature_resistance"
    changed = problem.swap(slope, lambda s: problem.equations[slope].xreplace(without))
    return changed and changed.swap("least squares, brush_drop", lambda s: sp.Eq(variable("brush_drop"), 0))


def _ends(values: Values) -> None:
    readings = _pairs(values, "armature_current", "supply_voltage")
    (x0, y0), (x1, y1) = readings[0], readings[-1]
    if x1 != x0:
        values["armature_resistance"] = (y1 - y0) / (x1 - x0)
        values["brush_drop"] = y0 - x0 * values["armature_resistance"]


def _mean_ratio(values: Values) -> None:
    readings = _pairs(values, "armature_current", "supply_voltage")
    values["armature_resistance"] = sum(y / x for x, y in readings) / len(readings)
    values["brush_drop"] = values["brush_drop"] * 0


def _turned_fit(values: Values) -> None:
    readings = _pairs(values, "armature_current", "supply_voltage")
    mean_x, mean_y = (sum(side) / len(readings) for side in zip(*readings, strict=True))
    across = sum((x - mean_x) * (y - mean_y) for x, y in readings)
    values["armature_resistance"] = sum((y - mean_y) ** 2 for _, y in readings) / across
    values["brush_drop"] = mean_y - mean_x * values["armature_resistance"]


# --- flux constant: back EMF against field current times speed, through the origin
def _flux_fit(inputs: Mapping[str, Any]) -> Problem:
    count = _count(inputs, 1)
    flux = variable("flux_constant") * variable("field_current")
    residuals = _readings("armature-emf", count, ("back_emf", "speed"), {"k_phi": flux})
    residuals = [
        r.xreplace({variable("field_current"): variable(f"field_current[{i}]")}) for i, r in enumerate(residuals)
    ]
    return Problem(_least_squares(residuals, "flux_constant"), ("flux_constant",))


def _flux_rows() -> Iterator[Row]:
    readings: tuple[tuple[int, str, list[float], list[float], list[float]], ...] = (
        (1, "one-reading", [0.75], [150.0], [113.4]),
        (1, "bench-exact", [0.5, 0.75], [200.0, 160.0], [100.0, 120.0]),
        (1, "fan-three-readings", [0.4, 0.45, 0.5], [200.0, 180.0, 165.0], [104.5, 105.0, 107.8]),
        (2, "bench-four-readings", [0.6, 0.66, 0.7, 0.75], [190.0, 172.0, 162.0, 152.0], [116.0, 115.4, 115.9, 116.6]),
        (2, "lecture-five-readings", [1.2, 1.4, 1.6, 1.8, 2.0], [150.0, 150.0, 150.0, 150.0, 150.0],
         [138.0, 160.5, 182.0, 204.0, 226.5]),
        (2, "mill-different-speeds", [1.5, 1.8, 2.0], [140.0, 118.0, 60.0], [463.0, 468.0, 263.0]),
        (2, "tiny-six-readings", [0.2, 0.3, 0.35, 0.4, 0.45, 0.5], [200.0, 180.0, 160.0, 150.0, 145.0, 140.0],
         [13.1, 17.2, 17.7, 19.4, 20.6, 22.6]),
        (3, "readings-of-very-different-size", [0.01, 0.1, 1.0], [20.0, 100.0, 150.0], [0.25, 10.4, 148.0]),
        (3, "all-alike", [0.75, 0.75, 0.75], [150.0, 150.0, 150.0], [113.0, 113.4, 113.9]),
    )  # fmt: skip
    for level, words, amperes, speeds, volts in readings:
        yield Row(words, level, {"field_current": amperes, "speed": speeds, "back_emf": volts})
    backwards = {"field_current": [-0.5, 0.75], "speed": [200.0, 160.0], "back_emf": [100.0, 120.0]}
    yield Row("refused-negative-field-current", 3, backwards, "invalid")
    short = {"field_current": [0.5, 0.75], "speed": [200.0, 160.0], "back_emf": [100.0]}
    yield Row("refused-lists-of-different-length", 3, short, "invalid")
    still = {"field_current": [0.5, 0.75], "speed": [0.0, 160.0], "back_emf": [100.0, 120.0]}
    yield Row("refused-standstill", 3, still, "invalid")


def _mean_flux(values: Values) -> None:
    products = [x * y for x, y in _pairs(values, "field_current", "speed")]
    emfs = [values[f"back_emf[{i}]"] for i in range(len(products))]
    values["flux_constant"] = sum(e / p for e, p in zip(emfs, products, strict=True)) / len(products)


def _end_flux(values: Values) -> None:
    last = sum(key.startswith("back_emf[") for key in values) - 1
    values["flux_constant"] = values[f"back_emf[{last}]"] / (
        values[f"field_current[{last}]"] * values[f"speed[{last}]"]
    )


# --- Froehlich's curve through two points
def _through_points() -> dict[str, sp.Eq]:
    law = equations("flux-froehlich")["flux-froehlich"]
    points = {}
    for i in range(2):
        names = {"effective_field_current": f"field_current[{i}]", "k_phi": f"k_phi[{i}]"}
        points[f"point {i}"] = law.xreplace({variable(k): variable(v) for k, v in names.items()})
    return points


POINTS = Problem(
    _through_points(),
    ("froehlich_a", "froehlich_b"),
    pivots={"froehlich_b": "largest"},
    refusals=(
        ("froehlich_a would not be positive", lambda v: bool(v["froehlich_a"] <= 0)),
        ("froehlich_b would not be positive", lambda v: bool(v["froehlich_b"] <= 0)),
    ),
)


def _points(x0: float, x1: float, k0: float, k1: float, **more: float) -> dict[str, Any]:
    return {"field_current": [x0, x1], "k_phi": [k0, k1], **more}


def _point_rows() -> Iterator[Row]:
    yield Row("bench", 1, _points(0.4, 0.8, 0.55, 0.775))
    yield Row("lecture", 1, _points(1.0, 2.0, 1.06, 1.5))
    yield Row("mill", 1, _points(1.1, 2.2, 3.3, 4.6))
    yield Row("fan", 1, _points(0.25, 0.5, 0.45, 0.63))
    yield Row("tiny-larger-first", 2, _points(0.5, 0.2, 0.158, 0.091))
    yield Row("bench-remanence", 2, _points(0.4, 0.8, 0.56, 0.785, remanent_k_phi=0.03))
    yield Row("lecture-remanence", 2, _points(0.8, 2.0, 0.95, 1.52, remanent_k_phi=0.05))
    yield Row("mill-remanence", 2, _points(0.9, 2.1, 2.95, 4.52, remanent_k_phi=0.12))
    yield Row("whole-numbers", 3, _points(1.0, 3.0, 1.0, 2.0))
    yield Row("hardly-saturated", 4, _points(0.4, 0.8, 0.4, 0.7999))
    yield Row("points-close-together", 4, _points(0.75, 0.751, 0.7, 0.7004))
    yield Row("points-hardly-apart", 4, _points(0.75, 0.75001, 0.7, 0.700004))
    yield Row("refused-not-saturating", 3, _points(0.4, 0.8, 0.4, 0.9), "invalid")
    yield Row("refused-falling", 3, _points(0.4, 0.8, 0.6, 0.5), "invalid")
    yield Row("refused-same-field-current", 3, _points(0.4, 0.4, 0.5, 0.6), "invalid")
    yield Row("refused-negative-field-current", 3, _points(-0.4, 0.8, 0.5, 0.7), "invalid")


# --- field winding from two speeds without load
TWO_SPEEDS = Problem(
    {
        f"reading {i}": sp.Eq(
            variable(f"speed[{i}]") * variable("flux_constant"),
            equations("field-circuit-resistance")["field-circuit-resistance"].rhs.xreplace(
                {variable("added_field_resistance"): variable(f"added_field_resistance[{i}]")}
            ),
        )
        for i in range(2)
    },
    ("field_resistance",),
    pivots={"flux_constant": "largest"},
    refusals=(("field_resistance would not be positive", lambda v: bool(v["field_resistance"] <= 0)),),
)


def _two(r0: float, r1: float, w0: float, w1: float) -> dict[str, Any]:
    return {"added_field_resistance": [r0, r1], "speed": [w0, w1]}


def _two_rows() -> Iterator[Row]:
    yield Row("bench-ten-ohm", 1, _two(0.0, 10.0, 157.4, 166.9))
    yield Row("bench-twenty-ohm", 1, _two(0.0, 20.0, 157.4, 177.0))
    yield Row("lecture", 1, _two(0.0, 40.0, 158.0, 210.5))
    yield Row("fan", 1, _two(0.0, 60.0, 168.0, 214.0))
    yield Row("crane-both-added", 2, _two(15.0, 45.0, 138.0, 171.0))
    yield Row("pump-both-added", 2, _two(20.0, 95.0, 165.0, 202.0))
    yield Row("mill-larger-first", 2, _two(65.0, 0.0, 143.5, 113.8))
    yield Row("tiny", 2, _two(4.0, 16.0, 161.0, 199.0))
    yield Row("large-steps", 3, _two(0.0, 500.0, 60.0, 260.0))
    for speed in (157.5, 157.41, 157.4001):
        yield Row(f"speeds-close-together-{speed}".replace(".", "-"), 4, _two(0.0, 10.0, 157.4, speed))
    yield Row("refused-same-speed", 3, _two(0.0, 10.0, 157.4, 157.4), "invalid")
    yield Row("refused-slower-with-rheostat", 3, _two(0.0, 10.0, 157.4, 150.0), "invalid")
    yield Row("refused-negative-rheostat", 3, _two(-5.0, 10.0, 157.4, 170.0), "invalid")


def _speed_with_field(problem: Problem) -> Problem | None:
    """Take the speed as proportional to the field current: the other way round."""
    turned = {
        f"reading {i}": sp.Eq(
            variable(f"speed[{i}]") * problem.equations[f"reading {i}"].rhs, variable("flux_constant")
        )
        for i in range(2)
    }
    return replaced(turned)(problem)


def _wrong_order(values: Values) -> None:
    """Add the products of resistance and speed where their difference is meant."""
    r0, r1 = values["added_field_resistance[0]"], values["added_field_resistance[1]"]
    w0, w1 = values["speed[0]"], values["speed[1]"]
    values["field_resistance"] = (r1 * w1 - r0 * w0) / (w1 - w0)


# --- loss torque of the machine run light
NO_LOAD = Problem(
    equations(*READINGS, "electromagnetic-power", "power-balance", "rotational-loss")
    | {
        "nothing added in the armature": sp.Eq(variable("added_armature_resistance"), 0),
        "no stray loss": sp.Eq(variable("stray_loss"), 0),
        "nothing at the shaft": sp.Eq(variable("output_power"), 0),
    },
    ("rotational_loss", "loss_torque"),
    refusals=(
        ("no armature current", lambda v: bool(v["armature_current"] <= 0)),
        ("the back EMF is not positive", lambda v: bool(v["back_emf"] <= 0)),
    ),
)


def _light_rows() -> Iterator[Row]:
    names = ("supply_voltage", "field_resistance", "armature_resistance")
    light = {"tiny": (0.75, 149.0), "fan": (0.9, 168.0), "bench": (1.3, 157.4), "crane": (5.6, 122.0), "lecture": (4.1, 157.5),
             "pump": (3.2, 155.8), "mill": (10.5, 113.6)}  # fmt: skip
    for motor in MACHINES:
        current, speed = light[motor["name"]]
        base = given(motor, *names, line_current=current, speed=speed)
        yield Row(motor["name"], 1, base)
        if motor in (FAN, BENCH, LECTURE, MILL):
            yield Row(f"{motor['name']}-brushes", 2, {**base, "brush_drop": 2.0})
    for motor, added, current, speed in ((TINY, 12.0, 0.7, 185.0), (CRANE, 30.0, 5.2, 155.0), (PUMP, 75.0, 3.1, 190.0)):
        rheostat = given(motor, *names, line_current=current, speed=speed, added_field_resistance=added)
        yield Row(f"{motor['name']}-field-rheostat-brushes", 2, {**rheostat, "brush_drop": 1.0})
    base = given(BENCH, *names, speed=157.4)
    for current in (0.751, 0.75001, 0.7500001):
        yield Row(f"hardly-any-loss-{current}".replace(".", "-"), 4, {**base, "line_current": current})
    yield Row("refused-less-than-the-field-takes", 3, {**base, "line_current": 0.7}, "invalid")
    yield Row("refused-standstill", 3, {**base, "line_current": 1.3, "speed": 0.0}, "invalid")
    yield Row("refused-beyond-stall", 3, given(LECTURE, *names, line_current=1000.0, speed=150.0), "invalid")


def _field_loss_left_in(problem: Problem) -> Problem | None:
    balance = sp.Eq(
        variable("rotational_loss"),
        variable("electromagnetic_power") + variable("field_current") * variable("supply_voltage"),
    )
    return problem.swap("power-balance", lambda s: balance)


_FITS: Mapping[str, Mistake] = {
    "fit-forced-through-the-origin": _no_intercept,
    "resistance-from-mean-of-ratios": on_outputs(_mean_ratio),
    "only-the-end-readings-used": on_outputs(_ends),
    "axes-exchanged-in-the-fit": on_outputs(_turned_fit),
}

ENTRIES = {
    "armature_resistance_and_brush_drop": Entry(
        _standstill, tuple(_FITS), tuple(_volt_ampere_rows()), _FITS, squared=True
    ),
    "flux_constant_from_readings": Entry(
        _flux_fit,
        (
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "two-pi-forgotten",
            "resistance-from-mean-of-ratios",
            "only-the-end-readings-used",
        ),
        tuple(_flux_rows()),
        {
            "resistance-from-mean-of-ratios": on_outputs(_mean_flux),
            "only-the-end-readings-used": on_outputs(_end_flux),
        },
    ),
    "froehlich_from_two_points": Entry(
        lambda inputs: POINTS,
        ("remanence-ignored",),
        tuple(_point_rows()),
        {
            "remanence-ignored": lambda problem: problem.with_before(
                lambda values: {**values, "remanent_k_phi": values["remanent_k_phi"] * 0}
            )
        },
    ),
    "field_resistance_from_two_speeds": Entry(
        lambda inputs: TWO_SPEEDS,
        ("speed-proportional-to-field-current", "difference-the-wrong-way-round"),
        tuple(_two_rows()),
        {
            "speed-proportional-to-field-current": _speed_with_field,
            "difference-the-wrong-way-round": on_outputs(_wrong_order),
        },
    ),
    "rotational_loss_from_no_load": Entry(
        lambda inputs: NO_LOAD,
        (
            "line-current-for-armature-current",
            "field-current-added-to-line-current",
            "field-copper-loss-counted-as-rotational",
            "armature-drop-ignored",
            "armature-drop-added",
            "flux-kept-though-the-field-changed",
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "two-pi-forgotten",
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
        ),
        tuple(_light_rows()),
        {
            "field-copper-loss-counted-as-rotational": _field_loss_left_in,
            "armature-drop-ignored": swapped(
                "armature-circuit-signed", lambda s: sp.Eq(s("back_emf"), s("supply_voltage"))
            ),
        },
    ),
}
