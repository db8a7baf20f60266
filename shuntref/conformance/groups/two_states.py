"""Cases of the group "two-state-speed": a first running condition, a change, and the second one."""

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
    Motor,
    given,
)
from shuntref.conformance.mistakes import on_outputs, swapped
from shuntref.conformance.problem import DIRECTION, Problem, Values, equations, variable

__all__ = ["ENTRIES"]

LAWS = (*FIELD, *PROPORTIONAL, "armature-circuit-signed", "armature-circuit-resistance", "armature-emf", "torque")
SHARED = ("supply_voltage", "field_resistance", "armature_resistance", "flux_constant", "brush_drop")
TORQUE_RATIO = {
    "torque ratio": sp.Eq(
        variable("electromagnetic_torque"), variable("torque_ratio") * variable("reference_electromagnetic_torque")
    )
}
REFUSALS = (
    BEYOND_STALL,
    ("no armature current in the reference state", lambda v: bool(v["reference_armature_current"] <= 0)),
    ("the reference back EMF is not positive", lambda v: bool(v["reference_back_emf"] <= 0)),
)
WANTED = ("armature_current", "speed")

AFTER_CHANGE = Problem(
    equations(*LAWS, "current-sum", shared=SHARED) | equations(*LAWS) | TORQUE_RATIO,
    WANTED,
    shared=SHARED,
    refusals=REFUSALS,
)
_NAMES = ("supply_voltage", "field_resistance", "armature_resistance")
#: line current and speed of the first running condition
READINGS = {
    "tiny": (2.4, 143.0),
    "fan": (5.2, 164.0),
    "bench": (9.2, 150.5),
    "crane": (85.0, 117.8),
    "lecture": (41.5, 151.0),
    "pump": (32.5, 149.0),
    "mill": (143.0, 110.7),
}


def _first(motor: Motor, **more: float) -> dict[str, float]:
    current, speed = READINGS[str(motor["name"])]
    return given(motor, *_NAMES, reference_line_current=current, reference_speed=speed, **more)


def _change_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        field, armature = ADDED[label]
        yield Row(f"{label}-field-rheostat", 1, _first(motor, added_field_resistance=field))
        yield Row(f"{label}-armature-rheostat", 1, _first(motor, added_armature_resistance=round(armature / 2, 3)))
        if label in ("fan", "bench", "lecture", "mill"):
            both = {"added_field_resistance": field, "added_armature_resistance": round(armature / 2, 3)}
            yield Row(f"{label}-both-brushes-half-torque", 2, _first(motor, **both, torque_ratio=0.5, brush_drop=2.0))
            yield Row(f"{label}-half-as-much-torque-again", 2, _first(motor, torque_ratio=1.5))
    yield Row("bench-nothing-changed", 3, _first(BENCH))
    yield Row("bench-nearly-no-torque", 3, _first(BENCH, torque_ratio=0.001, added_armature_resistance=10.0))
    yield Row("lecture-far-weakened", 3, _first(LECTURE, added_field_resistance=360.0, torque_ratio=0.8))
    light = given(PUMP, *_NAMES, reference_line_current=1.3, reference_speed=156.0, added_field_resistance=80.0)
    yield Row("pump-light-load", 3, light)
    for current in (1.26, 1.2501, 1.250001):
        near = {**light, "reference_line_current": current}
        yield Row(f"armature-current-nearly-nil-{current}".replace(".", "-"), 4, near)
    stall = _first(BENCH, torque_ratio=1.0, brush_drop=0.0)
    for resistance in (13.4, 13.4011, 13.401183):
        near = {**stall, "added_armature_resistance": resistance}
        yield Row(f"near-stall-{resistance}".replace(".", "-"), 4, near)
    yield Row("refused-beyond-stall", 3, {**stall, "added_armature_resistance": 15.0}, "invalid")
    yield Row("refused-less-than-the-field-takes", 3, {**stall, "reference_line_current": 0.5}, "invalid")
    yield Row("refused-negative-rheostat", 3, {**stall, "added_field_resistance": -20.0}, "invalid")
    yield Row("refused-no-reference-speed", 3, {**stall, "reference_speed": 0.0}, "invalid")


# --- the supply voltage changes
OWN_VOLTAGE = tuple(name for name in SHARED if name != "supply_voltage")
NOTHING_ADDED = {
    "nothing added in the field": sp.Eq(variable("added_field_resistance"), 0),
    "nothing added in the armature": sp.Eq(variable("added_armature_resistance"), 0),
}
AFTER_VOLTAGE = Problem(
    equations(*LAWS, "current-sum", shared=OWN_VOLTAGE) | equations(*LAWS) | NOTHING_ADDED | TORQUE_RATIO,
    WANTED,
    shared=OWN_VOLTAGE,
    refusals=REFUSALS,
)


def _voltage_rows() -> Iterator[Row]:
    for motor, other in (
        (TINY, 20.0),
        (FAN, 120.0),
        (BENCH, 108.0),
        (CRANE, 180.0),
        (LECTURE, 216.0),
        (PUMP, 440.0),
        (MILL, 400.0),
    ):
        label = motor["name"]
        base = {**_first(motor, reference_supply_voltage=motor["supply_voltage"]), "supply_voltage": other}
        yield Row(label, 1, base)
        yield Row(f"{label}-other-torque-brushes", 2, {**base, "torque_ratio": 0.8, "brush_drop": 1.8})
    base = {**_first(BENCH, reference_supply_voltage=120.0), "supply_voltage": 60.0}
    yield Row("bench-half-voltage", 3, base)
    yield Row("bench-same-voltage", 3, {**base, "supply_voltage": 120.0})
    # at constant torque the armature current goes as 1/U, so the back EMF vanishes at a low voltage
    for volts in (28.6, 28.49, 28.4816):
        yield Row(f"near-stall-{volts}".replace(".", "-"), 4, {**base, "supply_voltage": volts})
    yield Row("refused-beyond-stall", 3, {**base, "supply_voltage": 20.0}, "invalid")
    yield Row("refused-no-voltage", 3, {**base, "supply_voltage": 0.0}, "invalid")


# --- the flux changes by a stated ratio
FLUX_LAWS = ("armature-circuit-signed", "armature-circuit-resistance", "armature-emf", "torque")
FLUX_SHARED = ("supply_voltage", "armature_resistance", "brush_drop")
FLUX_RATIO = {"flux ratio": sp.Eq(variable("k_phi"), variable("flux_ratio") * variable("reference_k_phi"))}
NO_RHEOSTAT = {"nothing added in the armature": NOTHING_ADDED["nothing added in the armature"]}
AFTER_FLUX = Problem(
    equations(*FLUX_LAWS, shared=FLUX_SHARED) | equations(*FLUX_LAWS) | FLUX_RATIO | NO_RHEOSTAT | TORQUE_RATIO,
    WANTED,
    shared=FLUX_SHARED,
    refusals=REFUSALS,
)


def _running(volts: float, resistance: float, current: float, **more: float) -> dict[str, float]:
    return {"supply_voltage": volts, "armature_resistance": resistance, "reference_armature_current": current, **more}


RUNNING = (
    ("tiny", 24.0, 1.2, 1.9, 143.0), ("fan", 110.0, 1.5, 4.7, 164.0), ("bench", 120.0, 0.8, 8.45, 150.5),
    ("crane", 220.0, 0.15, 83.0, 117.8), ("lecture", 240.0, 0.25, 39.5, 151.0), ("pump", 400.0, 0.6, 31.25, 149.0),
    ("mill", 500.0, 0.09, 141.0, 110.7),
)  # fmt: skip


def _flux_rows() -> Iterator[Row]:
    for label, volts, resistance, current, speed in RUNNING:
        base = _running(volts, resistance, current, reference_speed=speed)
        yield Row(f"{label}-weaker", 1, {**base, "flux_ratio": 0.9})
        yield Row(f"{label}-stronger-brushes", 2, {**base, "flux_ratio": 1.1, "brush_drop": 2.0, "torque_ratio": 1.2})
        if label in ("bench", "pump"):
            yield Row(f"{label}-much-weaker", 2, {**base, "flux_ratio": 0.6, "torque_ratio": 0.75})
    base = _running(120.0, 0.8, 9.0, reference_speed=150.0)
    yield Row("unchanged", 3, {**base, "flux_ratio": 1.0})
    yield Row("speed-past-its-peak", 3, {**base, "flux_ratio": 0.1})
    for ratio in (0.061, 0.06001, 0.0600001):
        yield Row(f"near-stall-{ratio}".replace(".", "-"), 4, {**base, "flux_ratio": ratio})
    yield Row("refused-no-flux", 3, {**base, "flux_ratio": 0.0}, "invalid")
    yield Row("refused-beyond-stall", 3, {**base, "flux_ratio": 0.05}, "invalid")
    yield Row("refused-no-current", 3, {**base, "flux_ratio": 0.9, "reference_armature_current": 0.0}, "invalid")


# --- at the moment of the change the speed is still the old one
MOMENTARY = Problem(
    equations(*FLUX_LAWS, shared=FLUX_SHARED)
    | equations(*FLUX_LAWS)
    | FLUX_RATIO
    | NO_RHEOSTAT
    | TORQUE_RATIO
    | {
        "speed not yet changed": sp.Eq(variable("speed"), variable("reference_speed")),
        "any speed": sp.Eq(variable("reference_speed"), 1),
    },
    ("armature_current", "torque_ratio"),
    shared=FLUX_SHARED,
    refusals=REFUSALS[2:],
)


def _moment_rows() -> Iterator[Row]:
    for label, volts, resistance, current, _ in RUNNING:
        base = _running(volts, resistance, current)
        yield Row(f"{label}-weaker", 1, {**base, "flux_ratio": 0.9})
        yield Row(f"{label}-a-little-stronger-brushes", 2, {**base, "flux_ratio": 1.01, "brush_drop": 2.0})
    base = _running(120.0, 0.8, 9.0)
    yield Row("much-stronger-regenerates", 3, {**base, "flux_ratio": 1.3})
    yield Row("much-stronger-regenerates-brushes", 3, {**base, "flux_ratio": 1.3, "brush_drop": 2.0})
    yield Row("unchanged", 3, {**base, "flux_ratio": 1.0})
    yield Row("flux-gone-to-a-tenth", 3, {**base, "flux_ratio": 0.1})
    for ratio in (1.0638, 1.06382, 1.063829):
        yield Row(f"current-nearly-nil-{ratio}".replace(".", "-"), 4, {**base, "flux_ratio": ratio})
    yield Row("refused-no-flux", 3, {**base, "flux_ratio": 0.0}, "invalid")
    yield Row(
        "refused-current-beyond-stall", 3, {**base, "flux_ratio": 0.9, "reference_armature_current": 160.0}, "invalid"
    )


def _current_kept(s: object) -> sp.Eq:
    return sp.Eq(variable("armature_current"), variable("torque_ratio") * variable("reference_armature_current"))


def _flux_kept(s: object) -> sp.Eq:
    return sp.Eq(variable("k_phi"), variable("reference_k_phi"))


def _speed_as_flux(problem: Problem) -> Problem | None:
    """Speed in proportion to flux: the flux ratio stands on the wrong side, the currents are right."""
    flux, reference = variable("k_phi"), variable("reference_k_phi")
    turned = sp.Eq(variable("back_emf") * flux, reference**2 * variable("speed"))
    return problem.swap("armature-emf", lambda s: turned, "present")


def _emf_kept(problem: Problem) -> Problem | None:
    return problem.swap(
        "armature-emf", lambda s: sp.Eq(variable("back_emf"), variable("reference_back_emf")), "present"
    )


def _settled(values: Values) -> None:
    values["armature_current"] = values["reference_armature_current"] / values["flux_ratio"]
    values["torque_ratio"] = values["torque_ratio"] / values["torque_ratio"]


_CHANGE_SLIPS = (
    "line-current-for-armature-current",
    "field-current-added-to-line-current",
    "flux-kept-though-the-field-changed",
    "speed-proportional-to-field-current",
    "armature-current-kept-at-constant-torque",
    "torque-ratio-ignored",
    "torque-ratio-inverted",
    "armature-drop-ignored",
    "armature-drop-added",
)
_BRUSHES = ("brush-drop-forgotten", "brush-drop-doubled", "brush-drop-halved", "brush-drop-helps-the-current")
_SPECIAL = {
    "armature-current-kept-at-constant-torque": swapped("torque", _current_kept, "present"),
    "speed-proportional-to-field-current": _speed_as_flux,
}

ENTRIES = {
    "speed_after_change": Entry(
        lambda inputs: AFTER_CHANGE,
        (
            *_CHANGE_SLIPS,
            "resistors-in-each-others-circuit",
            "armature-resistor-ahead-of-both-circuits",
            "field-resistor-ahead-of-both-circuits",
            "added-armature-resistance-ignored",
            "armature-winding-forgotten",
            "field-winding-forgotten",
        ),
        tuple(_change_rows()),
        _SPECIAL,
    ),
    "speed_after_voltage_change": Entry(
        lambda inputs: AFTER_VOLTAGE,
        (*_CHANGE_SLIPS, *_BRUSHES),
        tuple(_voltage_rows()),
        {**_SPECIAL, "flux-kept-though-the-field-changed": swapped("flux-proportional", _flux_kept, "present")},
    ),
    "speed_after_flux_change": Entry(
        lambda inputs: AFTER_FLUX,
        ("flux-ratio-inverted", *_CHANGE_SLIPS[2:]),
        tuple(_flux_rows()),
        {**_SPECIAL, "flux-kept-though-the-field-changed": swapped("flux ratio", _flux_kept)},
    ),
    "momentary_armature_current": Entry(
        lambda inputs: MOMENTARY,
        (
            "settled-current-for-momentary",
            "back-emf-kept-at-the-change",
            "flux-ratio-inverted",
            "back-emf-ignored",
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
            "brush-drop-sign-kept-when-regenerating",
        ),
        tuple(_moment_rows()),
        {
            "settled-current-for-momentary": on_outputs(_settled),
            "back-emf-kept-at-the-change": _emf_kept,
            "back-emf-ignored": swapped(
                "armature-circuit-signed",
                lambda s: sp.Eq(
                    s("supply_voltage"),
                    s("armature_current") * s("armature_circuit_resistance") + s("brush_drop") * variable(DIRECTION),
                ),
                "present",
            ),
        },
    ),
}
