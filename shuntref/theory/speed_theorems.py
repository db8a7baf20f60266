"""Theorems about the speed-torque line: its ends, and what armature resistance and voltage do to it."""

from __future__ import annotations

import sympy as sp

from shuntref.theory.closed_forms import closed_form
from shuntref.theory.symbols import symbol as s
from shuntref.theory.theorem import Case, Claim, Margin, Theorem, Trial

__all__ = ["THEOREMS", "TORQUE_ABOVE_ZERO"]

_U, _k, _T, _R = s("supply_voltage"), s("k_phi"), s("electromagnetic_torque"), s("armature_circuit_resistance")
_omega, _R_a, _R_ax = s("speed"), s("armature_resistance"), s("added_armature_resistance")
_POINT = {"supply_voltage": "120", "k_phi": "3/4", "armature_circuit_resistance": "4/5"}
_PARTS = {"supply_voltage": "120", "k_phi": "3/4", "armature_resistance": "4/5", "added_armature_resistance": "10"}

_MOTORING = Case(_T, 1, "electromagnetic_torque")
_NO_TORQUE = Case(_T, 0, "electromagnetic_torque")
_OVERHAULED = Case(_T, -1, "electromagnetic_torque")

TORQUE_ABOVE_ZERO = Margin(
    "torque above zero, where the direction turns round", _T, "N m", "electromagnetic_torque", lambda: sp.Integer(0)
)


def _off_no_load() -> sp.Expr:
    return closed_form("speed") - _U / _k


def _off_stall() -> sp.Expr:
    return closed_form("electromagnetic_torque") - _k * _U / _R


def _slope_by_added_resistance() -> sp.Expr:
    return sp.diff(closed_form("speed", detail="parts"), _R_ax)


def _step_of_resistance() -> sp.Expr:
    """The whole change of speed when the armature rheostat is put in, from nothing."""
    speed = closed_form("speed", detail="parts")
    return speed - speed.subs(_R_ax, 0)


def _slope_by_voltage() -> sp.Expr:
    return sp.diff(closed_form("speed", flux="proportional"), _U)


def _ten_percent_more_voltage() -> sp.Expr:
    speed = closed_form("speed", flux="proportional")
    return speed.subs(_U, _U * sp.Rational(11, 10)) - speed


THEOREMS: tuple[Theorem, ...] = (
    Theorem(
        "ideal-no-load-speed",
        "With no torque on the armature the speed is the supply voltage over k_phi, whatever the armature resistance.",
        "no electromagnetic torque: T_e = 0 (load torque and loss torque both none)",
        sp.Eq(_T, 0),
        (
            Claim("the speed differs from U/kPhi by nothing", _off_no_load, "zero", (_NO_TORQUE,)),
            Claim(
                "and does not depend on the armature resistance",
                lambda: sp.diff(closed_form("speed"), _R),
                "zero",
                (_NO_TORQUE,),
            ),
            Claim(
                "the derived ideal no-load speed is the same",
                lambda: closed_form("ideal_no_load_speed") - _U / _k + _off_no_load(),
                "zero",
                (_NO_TORQUE,),
            ),
            Claim("with a motoring torque the speed is lower", _off_no_load, "negative", (_MOTORING,)),
            Claim("with an overhauling torque it is higher", _off_no_load, "positive", (_OVERHAULED,)),
        ),
        Trial(
            "speed less U/kPhi",
            _off_no_load,
            "zero",
            _POINT | {"electromagnetic_torque": "0"},
            _POINT | {"electromagnetic_torque": "6"},
        ),
        Margin(
            "torque on the armature; zero at ideal no-load", _T, "N m", "electromagnetic_torque", lambda: sp.Integer(0)
        ),
    ),
    Theorem(
        "stall-torque",
        "At standstill the torque is k_phi times supply voltage over armature-circuit resistance.",
        "standstill: omega = 0",
        sp.Eq(_omega, 0),
        (
            Claim("the torque differs from kPhi U/R by nothing", _off_stall, "zero", (Case(_omega, 0, "speed"),)),
            Claim("running forward it is smaller", _off_stall, "negative", (Case(_omega, 1, "speed"),)),
            Claim("driven backwards it is greater", _off_stall, "positive", (Case(_omega, -1, "speed"),)),
        ),
        Trial("torque less kPhi U/R", _off_stall, "zero", _POINT | {"speed": "0"}, _POINT | {"speed": "100"}),
        Margin("speed; zero at standstill", _omega, "rad/s", "electromagnetic_torque", lambda: _k * _U / _R),
    ),
    Theorem(
        "armature-resistance-and-speed",
        "Resistance added in the armature circuit lowers the speed when the machine is motoring; it raises the speed when an "
        "overhauling load drives the machine, and changes nothing when there is no torque.",
        "lowers if and only if the torque is positive: T_e > 0",
        sp.Gt(_T, 0),
        (
            Claim(
                "motoring: the slope of speed against added resistance",
                _slope_by_added_resistance,
                "negative",
                (_MOTORING,),
            ),
            Claim("overhauled: the same slope", _slope_by_added_resistance, "positive", (_OVERHAULED,)),
            Claim("no torque: the same slope", _slope_by_added_resistance, "zero", (_NO_TORQUE,)),
            Claim(
                "motoring: the whole change, for any added resistance", _step_of_resistance, "negative", (_MOTORING,)
            ),
            Claim("overhauled: the whole change", _step_of_resistance, "positive", (_OVERHAULED,)),
        ),
        Trial(
            "speed with the rheostat less speed without",
            _step_of_resistance,
            "negative",
            _PARTS | {"electromagnetic_torque": "6"},
            _PARTS | {"electromagnetic_torque": "-6"},
        ),
        TORQUE_ABOVE_ZERO,
    ),
    Theorem(
        "regeneration",
        "Above the ideal no-load speed the armature current is negative and the machine returns power; below it, it motors.",
        "speed above U/kPhi",
        sp.Gt(_omega, _U / _k),
        (
            Claim(
                "above: the armature current",
                lambda: closed_form("armature_current", given="speed"),
                "negative",
                (Case(_k * _omega - _U, 1, "supply_voltage"),),
            ),
            Claim(
                "below: the armature current",
                lambda: closed_form("armature_current", given="speed"),
                "positive",
                (Case(_k * _omega - _U, -1, "speed"),),
            ),
            Claim(
                "at it: the armature current",
                lambda: closed_form("armature_current", given="speed"),
                "zero",
                (Case(_k * _omega - _U, 0, "speed"),),
            ),
        ),
        Trial(
            "armature current",
            lambda: closed_form("armature_current", given="speed"),
            "negative",
            _POINT | {"speed": "170"},
            _POINT | {"speed": "150"},
        ),
        Margin("back EMF above the supply voltage", _k * _omega - _U, "V", "speed", lambda: _U / _k),
        note="Below it the proof takes U - kPhi omega as the new positive quantity.",
    ),
    Theorem(
        "supply-voltage-and-speed",
        "A shunt motor with proportional flux runs faster on a higher voltage at the same torque only because the armature "
        "drop then weighs less; with no torque it does not run faster, and with an overhauling torque it runs slower.",
        "rises if and only if the torque is positive: T_e > 0",
        sp.Gt(_T, 0),
        (
            Claim("motoring: the slope of speed against supply voltage", _slope_by_voltage, "positive", (_MOTORING,)),
            Claim("no torque: the same slope", _slope_by_voltage, "zero", (_NO_TORQUE,)),
            Claim("overhauled: the same slope", _slope_by_voltage, "negative", (_OVERHAULED,)),
        ),
        Trial(
            "speed on ten percent more voltage less speed before",
            _ten_percent_more_voltage,
            "positive",
            {
                "supply_voltage": "120",
                "flux_constant": "1",
                "field_circuit_resistance": "160",
                "armature_circuit_resistance": "4/5",
                "electromagnetic_torque": "6",
            },
            {
                "supply_voltage": "120",
                "flux_constant": "1",
                "field_circuit_resistance": "160",
                "armature_circuit_resistance": "4/5",
                "electromagnetic_torque": "0",
            },
        ),
        TORQUE_ABOVE_ZERO,
    ),
)
