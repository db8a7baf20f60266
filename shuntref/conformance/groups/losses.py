"""Cases of the group "losses-efficiency"."""

from __future__ import annotations

from collections.abc import Iterator

import sympy as sp
from mpmath import mpf

from shuntref.conformance.certify import Alternative, Entry, Row
from shuntref.conformance.groups.back_emf import LINE_CURRENTS, READINGS
from shuntref.conformance.groups.machines import (
    ADDED,
    ARMATURE,
    BENCH,
    BEYOND_STALL,
    CRANE,
    FAN,
    LECTURE,
    MACHINES,
    MILL,
    PROPORTIONAL,
    PUMP,
    TINY,
    Motor,
    given,
)
from shuntref.conformance.mistakes import Mistake, on_outputs, replaced, swapped
from shuntref.conformance.problem import Problem, Values, equations, variable

__all__ = ["ENTRIES"]

_NAMES = ("supply_voltage", "field_resistance", "armature_resistance")
LOSS_NAMES = (
    "field_copper_loss",
    "added_field_loss",
    "armature_copper_loss",
    "added_armature_loss",
    "brush_loss",
    "total_loss",
)
SHUNT_SUPPLY = {
    "no line": sp.Eq(variable("source_voltage"), variable("supply_voltage")),
    "no line loss": sp.Eq(variable("line_loss"), 0),
    "no stray loss": sp.Eq(variable("stray_loss"), 0),
}
LOSS_LAWS = (
    "field-copper-loss",
    "added-field-loss",
    "armature-copper-loss",
    "added-armature-loss",
    "brush-loss",
    "total-loss",
)


def _signless(problem: dict[str, sp.Eq]) -> dict[str, sp.Eq]:
    """Write the size of the armature current, where a law has it, as the current times its direction."""
    current = variable("armature_current")
    size = {sp.Abs(current): current * variable("current_direction")}
    return {key: equation.xreplace(size) for key, equation in problem.items()}


LOSSES = Problem(
    _signless(equations(*READINGS, *LOSS_LAWS)) | SHUNT_SUPPLY,
    LOSS_NAMES,
    refusals=(BEYOND_STALL,),
)


def _loss(label: str, motor: Motor) -> float:
    return float(f"{0.06 * motor['supply_voltage'] * LINE_CURRENTS[label]:.2g}")


def _loss_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        field, armature = ADDED[label]
        base = given(motor, *_NAMES, line_current=LINE_CURRENTS[label], rotational_loss=_loss(label, motor))
        yield Row(f"{label}-full-load", 1, base)
        everything = {
            "added_field_resistance": field,
            "added_armature_resistance": round(armature / 2, 3),
            "brush_drop": 2.0,
        }
        yield Row(f"{label}-everything", 2, {**base, **everything})
    base = given(BENCH, *_NAMES, line_current=-8.0, rotational_loss=66.0, brush_drop=2.0)
    yield Row("bench-returning-current", 3, base)
    yield Row("bench-armature-current-nil", 3, {**base, "line_current": 0.75, "rotational_loss": 0.0})
    for current in (0.7501, 0.750001):
        near = {**base, "line_current": current}
        yield Row(f"armature-current-nearly-nil-{current}".replace(".", "-"), 4, near)
    yield Row("refused-negative-rotational-loss", 3, {**base, "rotational_loss": -5.0}, "invalid")
    yield Row("refused-beyond-stall", 3, {**base, "line_current": 160.0}, "invalid")
    yield Row("refused-negative-armature-resistance", 3, {**base, "armature_resistance": -0.8}, "invalid")


EFFICIENCY = Problem(
    equations(*READINGS, "input-power", "electromagnetic-power", "power-balance", "efficiency") | SHUNT_SUPPLY,
    ("input_power", "electromagnetic_power", "output_power", "efficiency"),
    refusals=(
        BEYOND_STALL,
        ("the machine does not motor", lambda v: bool(v["armature_current"] <= 0)),
        ("the output power is negative", lambda v: bool(v["output_power"] < 0)),
    ),
)


def _efficiency_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        field, armature = ADDED[label]
        base = given(motor, *_NAMES, line_current=LINE_CURRENTS[label], rotational_loss=_loss(label, motor))
        yield Row(f"{label}-full-load", 1, base)
        yield Row(
            f"{label}-brushes-and-field-rheostat", 2, {**base, "added_field_resistance": field, "brush_drop": 2.0}
        )
        if label in ("fan", "bench", "pump"):
            third = {**base, "line_current": round(LINE_CURRENTS[label] / 3, 2)}
            yield Row(f"{label}-third-of-load", 2, third)
            yield Row(f"{label}-armature-rheostat", 2, {**base, "added_armature_resistance": round(armature / 2, 3)})
    base = given(BENCH, *_NAMES, line_current=1.2, rotational_loss=50.0)
    yield Row("bench-no-rotational-loss", 3, {**base, "rotational_loss": 0.0})
    for loss in (53.8, 53.837, 53.83799):
        yield Row(f"output-nearly-nil-{loss}".replace(".", "-"), 4, {**base, "rotational_loss": loss})
    yield Row("refused-less-than-the-field-takes", 3, {**base, "line_current": 0.7}, "invalid")
    yield Row("refused-loss-exceeds-developed-power", 3, {**base, "rotational_loss": 60.0}, "invalid")
    yield Row("refused-beyond-stall", 3, {**base, "line_current": 160.0}, "invalid")


# --- the machine run light measures its own constant loss
NO_LOAD_SHARED = ("supply_voltage", "field_resistance", "armature_resistance", "brush_drop")
_TEST_LAWS = ("field-circuit", "shunt-connection", "field-circuit-resistance", "current-sum")
NO_LOAD_TEST = Problem(
    equations(*_TEST_LAWS, shared=NO_LOAD_SHARED)
    | equations("armature-copper-loss", "brush-loss", shared=NO_LOAD_SHARED)
    | equations(*_TEST_LAWS, "armature-copper-loss", "brush-loss", "input-power", "efficiency")
    | SHUNT_SUPPLY
    | {
        "nothing added in the field": sp.Eq(variable("added_field_resistance"), 0),
        "no-load balance": sp.Eq(
            variable("supply_voltage") * variable("reference_line_current"),
            variable("constant_loss") + variable("reference_armature_copper_loss") + variable("reference_brush_loss"),
        ),
        "load balance": sp.Eq(
            variable("input_power"),
            variable("output_power")
            + variable("constant_loss")
            + variable("armature_copper_loss")
            + variable("brush_loss"),
        ),
    },
    ("constant_loss", "output_power", "efficiency"),
    shared=NO_LOAD_SHARED,
    refusals=(
        (
            "the no-load line current does not exceed the field current",
            lambda v: bool(v["reference_armature_current"] <= 0),
        ),
        ("the line current is below the no-load one", lambda v: bool(v["line_current"] < v["reference_line_current"])),
        ("the output power is negative", lambda v: bool(v["output_power"] < 0)),
    ),
)


def _test_rows() -> Iterator[Row]:
    light = {"tiny": 0.75, "fan": 0.9, "bench": 1.3, "crane": 5.6, "lecture": 4.1, "pump": 3.2, "mill": 10.5}
    for motor in MACHINES:
        label = motor["name"]
        base = given(motor, *_NAMES, reference_line_current=light[label], line_current=LINE_CURRENTS[label])
        yield Row(f"{label}-full-load", 1, base)
        half = round(LINE_CURRENTS[label] / 2, 2)
        yield Row(f"{label}-half-load-brushes", 2, {**base, "line_current": half, "brush_drop": 2.0})
    base = given(PUMP, *_NAMES, reference_line_current=3.2)
    for current in (3.21, 3.20001, 3.2000001):
        near = {**base, "line_current": current}
        yield Row(f"hardly-loaded-{current:.7f}".rstrip("0").replace(".", "-"), 4, near)
    yield Row("refused-less-than-at-no-load", 3, {**base, "line_current": 3.0}, "invalid")
    yield Row(
        "refused-no-load-current-all-field", 3, {**base, "reference_line_current": 1.2, "line_current": 30.0}, "invalid"
    )


def _kept_whole(s: object) -> sp.Eq:
    return sp.Eq(variable("supply_voltage") * variable("reference_line_current"), variable("constant_loss"))


def _field_twice(problem: Problem) -> Problem | None:
    again = (
        variable("output_power")
        + variable("constant_loss")
        + variable("armature_copper_loss")
        + variable("brush_loss")
        + variable("field_current") ** 2 * variable("field_resistance")
    )
    return problem.swap("load balance", lambda s: sp.Eq(variable("input_power"), again))


# --- warm windings: each resistance by the law of the winding's temperature
def _warm(winding: str) -> dict[str, sp.Eq]:
    law = equations("winding-temperature")["winding-temperature"]
    names = {"reference_resistance": winding, "winding_resistance": f"hot_{winding}"}
    return {f"winding-temperature of {winding}": law.xreplace({variable(k): variable(v) for k, v in names.items()})}


def _hot(law_name: str, winding: str) -> dict[str, sp.Eq]:
    law = equations(law_name)[law_name]
    return {law_name: law.xreplace({variable(winding): variable(f"hot_{winding}")})}


WARM = Problem(
    _warm("field_resistance")
    | _warm("armature_resistance")
    | equations("field-circuit", "shunt-connection", *PROPORTIONAL, *ARMATURE)
    | _hot("field-circuit-resistance", "field_resistance")
    | _hot("armature-circuit-resistance", "armature_resistance")
    | {"no loss torque": sp.Eq(variable("loss_torque"), 0)},
    ("field_current", "speed"),
    refusals=(BEYOND_STALL, ("no winding is that cold", lambda v: bool(v["hot_field_resistance"] <= 0))),
)
_WARM_NAMES = (*_NAMES, "flux_constant", "load_torque")


def _other_constant(problem: Problem) -> Problem | None:
    """The other convention for copper, of American practice: 234.5 instead of 235."""
    half = mpf(1) / 2
    return problem.with_before(lambda values: {**values, "temperature_constant": values["temperature_constant"] - half})


def _warm_rows() -> Iterator[Row]:
    for motor, cold, hot in (
        (TINY, 20.0, 60.0),
        (FAN, 20.0, 75.0),
        (BENCH, 22.0, 65.0),
        (LECTURE, 25.0, 95.0),
        (MILL, 18.0, 110.0),
    ):
        label = motor["name"]
        base = given(
            motor, *_WARM_NAMES, reference_temperature=cold, winding_temperature=hot, temperature_constant=235.0
        )
        yield Row(f"{label}-warm", 1, base)
        yield Row(
            f"{label}-warm-brushes-and-field-rheostat",
            2,
            {**base, "added_field_resistance": ADDED[label][0], "brush_drop": 2.0},
        )
    convention = Alternative("temperature constant 234.5, the other convention for copper", _other_constant)
    for motor, cold, hot in ((BENCH, 20.0, 75.0), (CRANE, 25.0, 115.0)):
        base = given(motor, *_WARM_NAMES, reference_temperature=cold, winding_temperature=hot)
        note = "no constant is given: 235 (international) and 234.5 (American practice) are both used for copper"
        yield Row(f"{motor['name']}-constant-not-given", 2, base, "acceptable", note, (convention,))
    base = given(PUMP, *_WARM_NAMES, reference_temperature=20.0, winding_temperature=20.0, temperature_constant=234.5)
    yield Row("pump-same-temperature", 3, base)
    yield Row("pump-colder", 3, {**base, "winding_temperature": -30.0})
    yield Row("pump-aluminium", 3, {**base, "winding_temperature": 120.0, "temperature_constant": 225.0})
    yield Row("pump-no-torque", 3, {**base, "winding_temperature": 80.0, "load_torque": 0.0})
    # when hot it stands still at 1118.6826 N m
    for torque in (1118.0, 1118.68, 1118.6826):
        near = {**base, "winding_temperature": 80.0, "load_torque": torque}
        yield Row(f"near-stall-{torque}".replace(".", "-"), 4, near)
    yield Row("refused-beyond-stall", 3, {**base, "winding_temperature": 80.0, "load_torque": 1700.0}, "invalid")
    yield Row("refused-impossible-temperature", 3, {**base, "winding_temperature": -250.0}, "invalid")
    yield Row("refused-no-constant", 3, {**base, "temperature_constant": 0.0}, "invalid")


def _ratio(winding: str, over: sp.Expr, under: sp.Expr) -> tuple[str, sp.Eq]:
    return f"winding-temperature of {winding}", sp.Eq(variable(f"hot_{winding}") * under, variable(winding) * over)


def _ratios(*pairs: tuple[str, sp.Eq]) -> Mistake:
    return replaced(dict(pairs))


_HOT = variable("temperature_constant") + variable("winding_temperature")
_COLD = variable("temperature_constant") + variable("reference_temperature")


def _square_over(values: Values) -> None:
    values["total_loss"] = values["total_loss"] - values["armature_copper_loss"]
    values["armature_copper_loss"] = values["supply_voltage"] ** 2 / values["armature_resistance"]
    values["total_loss"] = values["total_loss"] + values["armature_copper_loss"]


def _total_without(*parts: str) -> Mistake:
    kept = [n for n in (*LOSS_NAMES[:-1], "rotational_loss") if n not in parts]
    return swapped("total-loss", lambda s: sp.Eq(s("total_loss"), sum((s(n) for n in kept), sp.Integer(0))))


_CURRENTS = ("line-current-for-armature-current", "field-current-added-to-line-current")
_BRUSHES = ("brush-drop-forgotten", "brush-drop-doubled", "brush-drop-halved")

ENTRIES = {
    "losses": Entry(
        lambda inputs: LOSSES,
        (
            *_CURRENTS,
            "field-copper-loss-left-out",
            "rheostat-loss-left-out",
            "losses-with-supply-voltage-across-the-armature",
            "field-winding-forgotten",
            "flux-kept-though-the-field-changed",
            "resistors-in-each-others-circuit",
            *_BRUSHES,
        ),
        tuple(_loss_rows()),
        {
            "field-copper-loss-left-out": _total_without("field_copper_loss"),
            "rheostat-loss-left-out": _total_without("added_field_loss", "added_armature_loss"),
            "losses-with-supply-voltage-across-the-armature": on_outputs(_square_over),
        },
    ),
    "efficiency": Entry(
        lambda inputs: EFFICIENCY,
        (
            "percent-for-fraction",
            "horsepower-for-watts",
            *_CURRENTS,
            "field-copper-loss-left-out",
            "rotational-loss-forgotten",
            "rotational-loss-taken-off-twice",
            "armature-drop-ignored",
            "flux-kept-though-the-field-changed",
            "added-armature-resistance-ignored",
            "armature-winding-forgotten",
            *_BRUSHES,
        ),
        tuple(_efficiency_rows()),
        {
            "field-copper-loss-left-out": swapped(
                "input-power", lambda s: sp.Eq(s("input_power"), s("supply_voltage") * s("armature_current"))
            )
        },
    ),
    "efficiency_from_no_load_test": Entry(
        lambda inputs: NO_LOAD_TEST,
        (
            "percent-for-fraction",
            "horsepower-for-watts",
            *_CURRENTS,
            "no-load-copper-loss-kept",
            "field-copper-loss-counted-twice",
            "brush-drop-forgotten",
            "brush-drop-doubled",
        ),
        tuple(_test_rows()),
        {
            "no-load-copper-loss-kept": swapped("no-load balance", _kept_whole),
            "field-copper-loss-counted-twice": _field_twice,
        },
    ),
    "speed_with_warm_windings": Entry(
        lambda inputs: WARM,
        (
            "cold-resistance-for-hot",
            "temperature-ratio-inverted",
            "only-the-armature-warmed",
            "resistance-in-proportion-to-celsius",
            "revolutions-per-minute-taken-for-radians",
            "radians-taken-for-revolutions-per-minute",
            "armature-drop-ignored",
            "brush-drop-forgotten",
            "brush-drop-doubled",
        ),
        tuple(_warm_rows()),
        {
            "temperature-ratio-inverted": _ratios(
                _ratio("field_resistance", _COLD, _HOT), _ratio("armature_resistance", _COLD, _HOT)
            ),
            "only-the-armature-warmed": _ratios(_ratio("field_resistance", _COLD, _COLD)),
            "resistance-in-proportion-to-celsius": _ratios(
                *(
                    _ratio(w, variable("winding_temperature"), variable("reference_temperature"))
                    for w in ("field_resistance", "armature_resistance")
                )
            ),
        },
    ),
}
