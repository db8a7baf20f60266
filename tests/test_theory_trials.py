"""The trial of each theorem, inside and outside its condition, against the same figure worked out here by plain arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from math import sqrt
from types import SimpleNamespace
from typing import Any

import pytest
import sympy as sp

from shuntref.theory.symbols import symbol as s
from shuntref.theory.theorems import THEOREMS

#: the trials' names for quantities -> the letters used below
LETTERS = {
    "supply_voltage": "U", "field_voltage": "Uf", "k_phi": "k", "armature_circuit_resistance": "R",
    "armature_resistance": "Ra", "added_armature_resistance": "Rax", "electromagnetic_torque": "T", "speed": "w",
    "flux_constant": "c", "field_circuit_resistance": "Rft", "field_resistance": "Rf", "added_field_resistance": "Rfx",
    "field_current": "If", "froehlich_a": "a", "froehlich_b": "b", "remanent_k_phi": "kr", "constant_torque": "c0",
    "linear_torque_coefficient": "c1", "square_torque_coefficient": "c2", "reaction_coefficient": "d", "armature_current": "I",
    "winding_temperature": "t2", "reference_temperature": "t1", "temperature_constant": "kt", "reference_resistance": "R1",
    "line_resistance": "Rl", "load_torque": "TL", "loss_torque": "T0", "voltage_ratio": "u", "torque_ratio": "t",
    "brush_drop": "Ub",
}  # fmt: skip
V = Any


def speed(U: V, k: V, T: V, R: V) -> V:
    """The speed that U - I R leaves, with I = T/k."""
    return (U - T / k * R) / k


def shunt(v: V, U: V, T: V, field: V) -> V:
    return speed(U, v.c * U / field, T, v.R)


def loaded_current(v: V, R: V) -> V:
    """k (U - k w)/R = c0 + c1 w, solved for w; the current is that torque over k."""
    w = (v.k * v.U / R - v.c0) / (v.k**2 / R + v.c1)
    return (v.c0 + v.c1 * w) / v.k


def pulled(v: V, amperes: V) -> V:
    return v.c * (v.If - v.d * amperes) * amperes


def turned(v: V, amperes: V) -> V:
    return (v.U - v.R * amperes) / (v.c * (v.If - v.d * amperes))


def per_rad(v: V) -> V:
    """dT/dI over d omega/dI."""
    field = v.If - v.d * v.I
    return v.c * (v.If - 2 * v.d * v.I) / ((-v.R * field + v.d * (v.U - v.R * v.I)) / (v.c * field**2))


def other_root(v: V) -> V:
    slope, rest = v.c1 + v.k**2 / v.R, v.c0 - v.k * v.U / v.R
    return (-slope - sqrt(slope**2 - 4 * v.c2 * rest)) / (2 * v.c2)


def behind_the_line(v: V) -> V:
    """Speed at the terminals' voltage less speed at that of the source: the line drops R_l (U/R_ft + T/k)."""
    source = v.U + v.Rl * (v.U / v.Rft + v.T * v.Rft / (v.c * v.U))
    return shunt(v, v.U, v.T, v.Rft) - shunt(v, source, v.T, v.Rft)


def off_log(v: V) -> V:
    k = v.kr + v.a * v.If / (v.b + v.If)
    return v.If * v.a * v.b / (v.b + v.If) ** 2 / k - v.b / (v.If + v.b)


BY_HAND: dict[str, Callable[[V], V]] = {
    "ideal-no-load-speed": lambda v: -v.T * v.R / v.k**2,
    "stall-torque": lambda v: -(v.k**2) * v.w / v.R,
    "armature-resistance-and-speed": lambda v: -v.T * v.Rax / v.k**2,
    "regeneration": lambda v: (v.U - v.k * v.w) / v.R,
    "supply-voltage-and-speed": lambda v: shunt(v, v.U * 11 / 10, v.T, v.Rft) - shunt(v, v.U, v.T, v.Rft),
    "weakening-the-field": lambda v: speed(v.U, v.k * 9 / 10, v.T, v.R) - speed(v.U, v.k, v.T, v.R),
    "added-field-resistance-and-speed": lambda v: (
        shunt(v, v.U, v.T, v.Rf + v.Rfx + 10) - shunt(v, v.U, v.T, v.Rf + v.Rfx)
    ),
    "peak-speed": lambda v: v.U**2 / (4 * v.T * v.R) - speed(v.U, v.k, v.T, v.R),
    "wanted-speed": lambda v: v.U**2 - 4 * v.w * v.T * v.R,
    "no-load-speed-of-a-shunt-motor": lambda v: v.U / (v.c * v.Uf / v.Rft) - v.Rft / v.c,
    "froehlich-sensitivity": off_log,
    "constant-torque-and-field": lambda v: v.T / (v.k * 9 / 10) - v.T / v.k,
    "constant-torque-and-armature-resistance": lambda v: loaded_current(v, v.R + 10) - loaded_current(v, v.R),
    "armature-reaction-root": lambda v: pulled(v, v.I + 1) - pulled(v, v.I),
    "rising-characteristic": lambda v: turned(v, v.I + 1) - turned(v, v.I),
    "stability-under-constant-torque": per_rad,
    "quadratic-load": other_root,
    "winding-temperature": lambda v: v.R1 * (v.kt + v.t2) / (v.kt + v.t1) - v.R1,
    "line-resistance": behind_the_line,
    "power-balance": lambda v: (v.T - v.TL - v.T0) * v.w,
    "scaling-of-a-shunt-motor": lambda v: shunt(v, v.u * v.U, v.t * v.T, v.Rft) - shunt(v, v.U, v.T, v.Rft),
    "scaling-at-constant-flux": lambda v: speed(v.u * v.U, v.k, v.t * v.T, v.R) - v.u * speed(v.U, v.k, v.T, v.R),
}


def test_no_theorem_is_left_out() -> None:
    assert set(BY_HAND) == set(THEOREMS)


@pytest.mark.parametrize("side", ["inside", "outside"])
@pytest.mark.parametrize("name", BY_HAND)
def test_a_trial_is_the_figure_worked_by_hand(name: str, side: str) -> None:
    trial = THEOREMS[name].trial
    values: dict[str, str] = getattr(trial, side)
    by_hand = float(BY_HAND[name](SimpleNamespace(**{LETTERS[key]: Fraction(value) for key, value in values.items()})))
    found = trial.expression().subs({s(key): sp.Rational(value) for key, value in values.items()})
    assert float(found) == pytest.approx(by_hand, rel=1e-12, abs=1e-15)
    claimed = {"zero": by_hand == 0, "positive": by_hand > 0, "negative": by_hand < 0}[trial.claimed]
    assert claimed is (side == "inside")


def test_a_motoring_torque_is_one_above_nothing_however_small() -> None:
    torque = s("electromagnetic_torque")
    bare = {n: t.condition_expr for n, t in THEOREMS.items() if t.condition_expr.free_symbols == {torque}}
    assert "peak-speed" in bare
    for name, condition in bare.items():
        if isinstance(condition, sp.StrictGreaterThan):
            holds = [bool(condition.subs(torque, value)) for value in (-1, 0, sp.Rational(1, 10**9))]
            assert holds == [False, False, True], name
