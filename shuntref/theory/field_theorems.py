"""Theorems about the field: when weakening it raises the speed, how far, and what the flux curve has to do with it."""

from __future__ import annotations

from functools import partial

import sympy as sp

from shuntref.theory.closed_forms import closed_form
from shuntref.theory.formula_forms import formula_form
from shuntref.theory.symbols import symbol as s
from shuntref.theory.theorem import Case, Claim, Margin, Theorem, Trial

__all__ = ["THEOREMS"]

_U, _U_f, _k, _T, _R = (
    s(n) for n in ("supply_voltage", "field_voltage", "k_phi", "electromagnetic_torque", "armature_circuit_resistance")
)
_omega, _I_f, _c = s("speed"), s("field_current"), s("flux_constant")
_R_f, _R_fx, _R_ft = s("field_resistance"), s("added_field_resistance"), s("field_circuit_resistance")
_k_r, _a, _b = s("remanent_k_phi"), s("froehlich_a"), s("froehlich_b")

#: positive while more than half of the voltage is back EMF: E > U/2
_HALF = _k * _U - 2 * _T * _R
_MOTORING = Case(_T, 1, "electromagnetic_torque")
_POINT = {"supply_voltage": "120", "electromagnetic_torque": "6", "armature_circuit_resistance": "4/5"}
_SHUNT = _POINT | {"flux_constant": "1", "field_resistance": "150"}


def _slope() -> sp.Expr:
    return sp.diff(closed_form("speed"), _k)


def _weaker_by_a_tenth() -> sp.Expr:
    speed = closed_form("speed")
    return speed.subs(_k, _k * sp.Rational(9, 10)) - speed


def _half_of_the_voltage() -> sp.Expr:
    """E - U/2 against the margin kPhi U - 2 T R over 2 kPhi: the same thing."""
    return closed_form("back_emf") - _U / 2 - _HALF / (2 * _k)


def _curve(flux: str) -> sp.Expr:
    return closed_form("k_phi", flux=flux, detail="parts")


def _rheostat_slope(flux: str) -> sp.Expr:
    return sp.diff(
        closed_form("speed", flux=flux, detail="parts").subs(
            s("armature_resistance"), _R - s("added_armature_resistance")
        ),
        _R_fx,
    )


def _rheostat_case(flux: str, sign: int) -> Case:
    return Case(_HALF.subs(_k, _curve(flux)), sign, "electromagnetic_torque")


def _ten_ohm_more() -> sp.Expr:
    speed = closed_form("speed", flux="proportional", detail="parts").subs(
        s("armature_resistance"), _R - s("added_armature_resistance")
    )
    return speed.subs(_R_fx, _R_fx + 10) - speed


def _below_the_peak() -> sp.Expr:
    return closed_form("peak_speed") - closed_form("speed")


def _reached(branch: str) -> sp.Expr:
    return closed_form("speed").subs(_k, closed_form("k_phi", branch=branch)) - _omega


def _half_on(branch: str) -> sp.Expr:
    return _HALF.subs(_k, closed_form("k_phi", branch=branch))


def _missing_speed() -> sp.Expr:
    """The wanted speed less the speed reached, times kPhi squared."""
    return sp.expand((_omega - closed_form("speed")) * _k**2)


def _no_load_of_separate_field() -> sp.Expr:
    return closed_form("ideal_no_load_speed", flux="proportional", connection="separate") - _R_ft / _c


def _no_load_slope(**options: str) -> sp.Expr:
    return sp.diff(closed_form("ideal_no_load_speed", **options), _U)  # type: ignore[arg-type]


def _log_sensitivity() -> sp.Expr:
    curve = closed_form("k_phi", flux="froehlich", detail="field_current")
    return sp.diff(curve, _I_f) * _I_f / curve


def _off_log_sensitivity() -> sp.Expr:
    return _log_sensitivity() - formula_form("field_sensitivity_froehlich")


_DISCRIMINANT = _U**2 - 4 * _omega * _T * _R
_REACHABLE = Case(sp.sqrt(_DISCRIMINANT), 1, "electromagnetic_torque")
_BELOW = Case(_U - sp.Symbol("s", positive=True), 1, "supply_voltage", "the lower root is positive")
_NO_REMANENCE = Case(_k_r, 0, "remanent_k_phi")

THEOREMS: tuple[Theorem, ...] = (
    Theorem(
        "weakening-the-field",
        "Weakening the field raises the speed only while the back EMF is more than half of the supply voltage; where it is "
        "less than half, less field gives less speed.",
        "E > U/2, that is I_a R < U/2, that is kPhi U > 2 T_e R",
        sp.Gt(_k * _U, 2 * _T * _R),
        (
            Claim("E - U/2 is (kPhi U - 2 T_e R)/(2 kPhi)", _half_of_the_voltage, "zero"),
            Claim(
                "E > U/2: the slope of speed against k_phi",
                _slope,
                "negative",
                (Case(_HALF, 1, "electromagnetic_torque"),),
            ),
            Claim(
                "E < U/2: the slope of speed against k_phi",
                _slope,
                "positive",
                (Case(_HALF, -1, "electromagnetic_torque"),),
            ),
            Claim(
                "E = U/2: the slope of speed against k_phi", _slope, "zero", (Case(_HALF, 0, "electromagnetic_torque"),)
            ),
        ),
        Trial(
            "speed with a tenth less flux, less speed before",
            _weaker_by_a_tenth,
            "positive",
            _POINT | {"k_phi": "3/4"},
            _POINT | {"k_phi": "1/20"},
        ),
        Margin(
            "back EMF above half of the supply voltage", _U / 2 - _T * _R / _k, "V", "k_phi", lambda: 2 * _T * _R / _U
        ),
    ),
    Theorem(
        "added-field-resistance-and-speed",
        "Resistance added in the shunt field raises the speed only while the back EMF is more than half of the supply "
        "voltage, on a straight flux curve as on a saturating one; beyond that it lowers the speed.",
        "E > U/2, that is kPhi U > 2 T_e R at the k_phi that the added resistance leaves",
        sp.Gt(_c * _U**2, 2 * _T * _R * (_R_f + _R_fx)),
        (
            *(
                Claim(
                    f"{flux} flux, E {'>' if sign > 0 else '<' if sign < 0 else '='} U/2: the slope of speed against added "
                    "field resistance",
                    partial(_rheostat_slope, flux),
                    wanted,
                    (_rheostat_case(flux, sign),),
                )
                for flux in ("proportional", "froehlich")
                for sign, wanted in ((1, "positive"), (-1, "negative"), (0, "zero"))
            ),
        ),
        Trial(
            "speed with 10 ohm more in the field, less speed before",
            _ten_ohm_more,
            "positive",
            _SHUNT | {"added_field_resistance": "20"},
            _SHUNT | {"added_field_resistance": "3000"},
        ),
        Margin(
            "back EMF above half of the supply voltage",
            _U / 2 - _T * _R / _k,
            "V",
            "added_field_resistance",
            lambda: _R_ft * _k * _U / (2 * _T * _R) - _R_f,
        ),
        note="The value at which the direction turns round is for flux in proportion to the field current.",
    ),
    Theorem(
        "peak-speed",
        "For a motoring torque no flux gives more speed than U^2/(4 T R), and kPhi = 2 T R/U gives just that.",
        "motoring torque: T_e > 0",
        sp.Gt(_T, 0),
        (
            Claim(
                "at kPhi = 2 T R/U the speed is the peak speed",
                lambda: closed_form("speed").subs(_k, closed_form("peak_k_phi")) - closed_form("peak_speed"),
                "zero",
                (_MOTORING,),
            ),
            Claim(
                "what a stronger flux falls short of the peak by",
                _below_the_peak,
                "positive",
                (Case(_HALF, 1, "supply_voltage"), _MOTORING),
            ),
            Claim(
                "what a weaker flux falls short of the peak by",
                _below_the_peak,
                "positive",
                (Case(_HALF, -1, "armature_circuit_resistance"), _MOTORING),
            ),
            Claim(
                "at the peak half of the voltage is back EMF",
                lambda: (closed_form("back_emf") - _U / 2).subs(_k, closed_form("peak_k_phi")),
                "zero",
                (_MOTORING,),
            ),
        ),
        Trial(
            "peak speed less the speed at this flux",
            _below_the_peak,
            "positive",
            _POINT | {"k_phi": "3/4"},
            _POINT | {"k_phi": "3/4", "electromagnetic_torque": "-6"},
        ),
        Margin("k_phi above the one of the peak", _k - 2 * _T * _R / _U, "V s/rad", "k_phi", lambda: 2 * _T * _R / _U),
    ),
    Theorem(
        "wanted-speed",
        "A wanted speed is reached with kPhi = (U + sqrt(U^2 - 4 omega T R))/(2 omega), where more than half of the voltage "
        "is back EMF; the other root has less than half; beyond U^2/(4 T R) no flux reaches it.",
        "U^2 > 4 omega T_e R",
        sp.Gt(_U**2, 4 * _omega * _T * _R),
        (
            Claim("the upper root gives the wanted speed", lambda: _reached("upper"), "zero", (_REACHABLE,)),
            Claim("the lower root gives it too", lambda: _reached("lower"), "zero", (_REACHABLE,)),
            Claim(
                "the upper root has more than half of the voltage as back EMF",
                lambda: _half_on("upper"),
                "positive",
                (_REACHABLE,),
            ),
            Claim(
                "the lower root, where it is positive, has less",
                lambda: _half_on("lower"),
                "negative",
                (_REACHABLE, _BELOW),
            ),
            Claim(
                "beyond the peak every k_phi, strong or weak, falls short (times its square)",
                _missing_speed,
                "positive",
                (Case(_DISCRIMINANT, -1, "electromagnetic_torque"), Case(2 * _omega * _k - _U, None, "k_phi")),
            ),
        ),
        Trial(
            "radicand U^2 - 4 omega T R",
            lambda: _DISCRIMINANT,
            "positive",
            _POINT | {"speed": "170"},
            _POINT | {"speed": "800"},
        ),
        Margin(
            "peak speed above the wanted speed",
            _U**2 / (4 * _T * _R) - _omega,
            "rad/s",
            "speed",
            lambda: _U**2 / (4 * _T * _R),
        ),
    ),
    Theorem(
        "no-load-speed-of-a-shunt-motor",
        "A shunt motor with proportional flux has an ideal no-load speed of field-circuit resistance over flux constant, "
        "whatever the supply voltage; separately excited, or saturated, it has not.",
        "the field lies across the supply, U_f = U, and the flux is proportional",
        sp.Eq(_U_f, _U),
        (
            Claim(
                "the ideal no-load speed differs from R_ft/c by nothing",
                _no_load_of_separate_field,
                "zero",
                (Case(_U_f - _U, 0, "field_voltage"),),
            ),
            Claim(
                "shunt, proportional: slope against the supply voltage",
                lambda: _no_load_slope(flux="proportional"),
                "zero",
            ),
            Claim(
                "separately excited: slope against the supply voltage",
                lambda: _no_load_slope(flux="proportional", connection="separate"),
                "positive",
            ),
            Claim(
                "shunt, saturated without remanence: slope against the supply voltage",
                lambda: _no_load_slope(flux="froehlich"),
                "positive",
                (_NO_REMANENCE,),
            ),
        ),
        Trial(
            "ideal no-load speed less R_ft/c",
            _no_load_of_separate_field,
            "zero",
            {"supply_voltage": "120", "field_voltage": "120", "field_circuit_resistance": "160", "flux_constant": "1"},
            {"supply_voltage": "100", "field_voltage": "120", "field_circuit_resistance": "160", "flux_constant": "1"},
        ),
        Margin("supply voltage less field voltage; zero in a shunt connection", _U - _U_f, "V"),
    ),
    Theorem(
        "froehlich-sensitivity",
        "On Froehlich's curve without remanence the flux changes by b/(I_f + b) percent for each percent of field current: "
        "a saturated machine answers less to its field rheostat.",
        "no remanence: k_r = 0",
        sp.Eq(_k_r, 0),
        (
            Claim(
                "the log sensitivity differs from b/(I_f + b) by nothing",
                _off_log_sensitivity,
                "zero",
                (_NO_REMANENCE,),
            ),
            Claim("it is positive", _log_sensitivity, "positive", (_NO_REMANENCE,)),
            Claim(
                "and below 1, that of an unsaturated machine",
                lambda: 1 - _log_sensitivity(),
                "positive",
                (_NO_REMANENCE,),
            ),
            Claim(
                "it falls as the field current grows",
                lambda: sp.diff(_log_sensitivity(), _I_f),
                "negative",
                (_NO_REMANENCE,),
            ),
            Claim("with remanence it is smaller still", _off_log_sensitivity, "negative"),
        ),
        Trial(
            "log sensitivity less b/(I_f + b)",
            _off_log_sensitivity,
            "zero",
            {"field_current": "3/4", "froehlich_a": "8/5", "froehlich_b": "9/10", "remanent_k_phi": "0"},
            {"field_current": "3/4", "froehlich_a": "8/5", "froehlich_b": "9/10", "remanent_k_phi": "1/20"},
        ),
        Margin("k_phi at zero field current; zero without remanence", _k_r, "V s/rad"),
    ),
)
