"""The laws of power: what is drawn, what each resistance turns to heat, what reaches the shaft."""

from __future__ import annotations

import sympy as sp

from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

__all__ = ["LAWS"]

_COMMON = "common to all textbooks of electrical machines; from memory"
_I_f, _I_a, _I, _omega = s("field_current"), s("armature_current"), s("line_current"), s("speed")
_P_in, _P_out = s("input_power"), s("output_power")


def _joule(name: str, title: str, loss: str, current: sp.Symbol, resistance: str) -> Law:
    return Law(name, title, sp.Eq(s(loss), current**2 * s(resistance)), source=_COMMON)


LAWS: tuple[Law, ...] = (
    Law(
        "input-power",
        "power drawn from the one supply",
        sp.Eq(_P_in, s("source_voltage") * _I),
        "shunt connection",
        _COMMON,
    ),
    Law(
        "input-power-separate",
        "power drawn from the two supplies",
        sp.Eq(_P_in, s("source_voltage") * _I + s("field_voltage") * _I_f),
        "separate excitation",
        _COMMON,
    ),
    _joule("field-copper-loss", "heat in the shunt winding", "field_copper_loss", _I_f, "field_resistance"),
    _joule("added-field-loss", "heat in the field rheostat", "added_field_loss", _I_f, "added_field_resistance"),
    _joule("armature-copper-loss", "heat in the armature circuit", "armature_copper_loss", _I_a, "armature_resistance"),
    _joule(
        "added-armature-loss", "heat in the armature rheostat", "added_armature_loss", _I_a, "added_armature_resistance"
    ),
    Law("brush-loss", "heat at the brushes", sp.Eq(s("brush_loss"), s("brush_drop") * sp.Abs(_I_a)), source=_COMMON),
    _joule("line-loss", "heat in the line", "line_loss", _I, "line_resistance"),
    Law(
        "electromagnetic-power",
        "power turned from electrical to mechanical",
        sp.Eq(s("electromagnetic_power"), s("back_emf") * _I_a),
        source=_COMMON,
    ),
    Law(
        "rotational-loss",
        "friction, windage and iron loss",
        sp.Eq(s("rotational_loss"), s("loss_torque") * _omega),
        source=_COMMON,
    ),
    Law("output-power", "power at the shaft", sp.Eq(_P_out, s("load_torque") * _omega), source=_COMMON),
    Law(
        "total-loss",
        "all losses together",
        sp.Eq(
            s("total_loss"),
            s("field_copper_loss")
            + s("added_field_loss")
            + s("armature_copper_loss")
            + s("added_armature_loss")
            + s("brush_loss")
            + s("line_loss")
            + s("rotational_loss"),
        ),
        "the losses of this model; no separate stray loss",
        _COMMON,
    ),
    Law("efficiency", "output over input", sp.Eq(s("efficiency"), _P_out / _P_in), "motoring", _COMMON),
    Law(
        "efficiency-generating",
        "electrical power returned over mechanical power put in",
        sp.Eq(s("efficiency"), _P_in / _P_out),
        "generating: both powers negative",
        _COMMON,
    ),
)
