"""Theorems about the armature current: constant torque, armature reaction, and whether an operating point is stable."""

from __future__ import annotations

from functools import cache

import sympy as sp

from shuntref.theory.closed_forms import closed_form
from shuntref.theory.speed_theorems import TORQUE_ABOVE_ZERO
from shuntref.theory.symbols import symbol as s
from shuntref.theory.theorem import Case, Claim, Margin, Theorem, Trial
from shuntref.theory.working import Options, flux_curve
from shuntref.theory.worksheet import Worksheet

__all__ = ["THEOREMS"]

_U, _k, _T, _R = s("supply_voltage"), s("k_phi"), s("electromagnetic_torque"), s("armature_circuit_resistance")
_I_f, _I_a, _c, _d = s("field_current"), s("armature_current"), s("flux_constant"), s("reaction_coefficient")
_T_c, _T_1 = s("constant_torque"), s("linear_torque_coefficient")
_POINT = {"supply_voltage": "120", "k_phi": "3/4", "armature_circuit_resistance": "4/5"}
_REACTION = {"flux_constant": "1", "field_current": "3/4", "reaction_coefficient": "1/100"}
_RISING = Options(flux="proportional", reaction=True, detail="field_current")


def _current_of_torque() -> sp.Expr:
    return closed_form("armature_current")


def _tenth_less_flux() -> sp.Expr:
    return _current_of_torque().subs(_k, _k * sp.Rational(9, 10)) - _current_of_torque()


@cache
def _current_with_linear_load() -> sp.Expr:
    """Armature current when part of the torque goes with the speed, by the laws."""
    ws = Worksheet()
    ws.state("armature-circuit")
    ws.use("brush-drop-neglected", "brush_drop")
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    ws.use("load-quadratic", "electromagnetic_torque")
    speed = sp.solve(ws.current.subs(s("square_torque_coefficient"), 0), s("speed"))[0]
    return (_T_c + _T_1 * speed) / _k


def _ten_ohm_in_armature() -> sp.Expr:
    current = _current_with_linear_load()
    return current.subs(_R, _R + 10) - current


@cache
def _torque_of_current() -> sp.Expr:
    """Torque against armature current with proportional reaction on proportional flux."""
    ws = Worksheet()
    ws.state("torque")
    flux_curve(ws, _RISING)
    return ws.current.rhs


@cache
def _speed_of_current() -> sp.Expr:
    """Speed against armature current for the same machine."""
    ws = Worksheet()
    ws.state("armature-circuit")
    ws.use("brush-drop-neglected", "brush_drop")
    ws.use("armature-emf", "back_emf")
    ws.solve("speed")
    flux_curve(ws, _RISING)
    return ws.current.rhs


def _torque_slope() -> sp.Expr:
    return sp.diff(_torque_of_current(), _I_a)


def _speed_slope() -> sp.Expr:
    return sp.diff(_speed_of_current(), _I_a)


def _ampere_more(curve: str) -> sp.Expr:
    form = _torque_of_current() if curve == "torque" else _speed_of_current()
    return form.subs(_I_a, _I_a + 1) - form


def _torque_excess() -> sp.Expr:
    """Surplus of torque over a constant load torque per rad/s of extra speed: positive means running away."""
    return _torque_slope() / _speed_slope()


def _root(branch: str) -> sp.Expr:
    return closed_form("armature_current", flux="proportional", reaction=True, detail="field_current", branch=branch)


_WEAK_REACTION = _I_f - 2 * _d * _I_a
_FALLING = _R * _I_f - _d * _U
_FIELD_LEFT = Case(_I_f - _d * _I_a, 1, "armature_current")
_ROOTS = Case(sp.sqrt(_I_f**2 - 4 * _d * _T / _c), 1, "electromagnetic_torque")

THEOREMS: tuple[Theorem, ...] = (
    Theorem(
        "constant-torque-and-field",
        "At constant motoring torque the armature current rises as the field is weakened, in inverse proportion to the flux.",
        "motoring torque: T_e > 0",
        sp.Gt(_T, 0),
        (
            Claim(
                "motoring: the slope of armature current against k_phi",
                lambda: sp.diff(_current_of_torque(), _k),
                "negative",
                (Case(_T, 1, "electromagnetic_torque"),),
            ),
            Claim(
                "no torque: the same slope",
                lambda: sp.diff(_current_of_torque(), _k),
                "zero",
                (Case(_T, 0, "electromagnetic_torque"),),
            ),
            Claim(
                "overhauled: the same slope",
                lambda: sp.diff(_current_of_torque(), _k),
                "positive",
                (Case(_T, -1, "electromagnetic_torque"),),
            ),
        ),
        Trial(
            "armature current with a tenth less flux, less the current before",
            _tenth_less_flux,
            "positive",
            {"k_phi": "3/4", "electromagnetic_torque": "6"},
            {"k_phi": "3/4", "electromagnetic_torque": "-6"},
        ),
        TORQUE_ABOVE_ZERO,
    ),
    Theorem(
        "constant-torque-and-armature-resistance",
        "At constant torque, resistance added in the armature circuit leaves the armature current as it was; only a torque "
        "that falls with the speed lets it fall.",
        "torque that does not change with speed: T_1 = 0",
        sp.Eq(_T_1, 0),
        (
            Claim(
                "constant torque: the slope of armature current against resistance",
                lambda: sp.diff(_current_with_linear_load(), _R),
                "zero",
                (Case(_T_1, 0, "linear_torque_coefficient"),),
            ),
            Claim(
                "constant torque: the current is T/kPhi",
                lambda: _current_with_linear_load() - _current_of_torque().subs(_T, _T_c),
                "zero",
                (Case(_T_1, 0, "linear_torque_coefficient"),),
            ),
            Claim(
                "torque rising with speed, below the ideal no-load speed: the slope",
                lambda: sp.diff(_current_with_linear_load(), _R),
                "negative",
                (Case(_T_1, 1, "linear_torque_coefficient"), Case(_T_c, 1, "constant_torque")),
            ),
        ),
        Trial(
            "armature current with 10 ohm added, less the current before",
            _ten_ohm_in_armature,
            "zero",
            _POINT | {"constant_torque": "6", "linear_torque_coefficient": "0"},
            _POINT | {"constant_torque": "3", "linear_torque_coefficient": "1/50"},
        ),
        Margin("change of torque with speed; zero for a constant torque", _T_1, "N m s/rad"),
    ),
    Theorem(
        "armature-reaction-root",
        "With armature reaction d on proportional flux, more torque calls for more armature current only below I_f/(2 d), on "
        "the smaller of the two roots; the torque cannot exceed c I_f^2/(4 d).",
        "I_a < I_f/(2 d)",
        sp.Gt(_I_f, 2 * _d * _I_a),
        (
            Claim(
                "below: the slope of torque against armature current",
                _torque_slope,
                "positive",
                (Case(_WEAK_REACTION, 1, "field_current"),),
            ),
            Claim("beyond: the same slope", _torque_slope, "negative", (Case(_WEAK_REACTION, -1, "armature_current"),)),
            Claim(
                "below: the greatest torque less this one",
                lambda: closed_form("peak_torque", detail="field_current") - _torque_of_current(),
                "positive",
                (Case(_WEAK_REACTION, 1, "armature_current"),),
            ),
            Claim(
                "beyond: the greatest torque less this one",
                lambda: closed_form("peak_torque", detail="field_current") - _torque_of_current(),
                "positive",
                (Case(_WEAK_REACTION, -1, "armature_current"),),
            ),
            Claim(
                "the smaller root lies below I_f/(2 d)", lambda: _I_f - 2 * _d * _root("lower"), "positive", (_ROOTS,)
            ),
            Claim("the larger root lies beyond it", lambda: _I_f - 2 * _d * _root("upper"), "negative", (_ROOTS,)),
            Claim("the smaller root is continuous with no load", lambda: _root("lower").subs(_T, 0), "zero"),
            Claim(
                "the larger root is not: it leaves no flux at all",
                lambda: _root("upper").subs(_T, 0) - _I_f / _d,
                "zero",
            ),
        ),
        Trial(
            "torque at an ampere more, less the torque before",
            lambda: _ampere_more("torque"),
            "positive",
            _REACTION | {"armature_current": "10"},
            _REACTION | {"armature_current": "50"},
        ),
        Margin(
            "field current above twice the armature reaction",
            _WEAK_REACTION,
            "A",
            "electromagnetic_torque",
            lambda: _c * _I_f**2 / (4 * _d),
        ),
    ),
    Theorem(
        "rising-characteristic",
        "With armature reaction on proportional flux the speed falls with load only while d/I_f < R/U; where d/I_f > R/U the "
        "speed rises with load.",
        "d/I_f < R/U (and some field left, I_f > d I_a)",
        sp.Gt(_R * _I_f, _d * _U),
        (
            Claim(
                "d/I_f < R/U: the slope of speed against armature current",
                _speed_slope,
                "negative",
                (Case(_FALLING, 1, "supply_voltage"), _FIELD_LEFT),
            ),
            Claim(
                "d/I_f > R/U: the same slope",
                _speed_slope,
                "positive",
                (Case(_FALLING, -1, "armature_circuit_resistance"), _FIELD_LEFT),
            ),
            Claim("d/I_f = R/U: the same slope", _speed_slope, "zero", (Case(_FALLING, 0, "supply_voltage"),)),
        ),
        Trial(
            "speed at an ampere more, less the speed before",
            lambda: _ampere_more("speed"),
            "negative",
            _POINT | _REACTION | {"armature_current": "10", "reaction_coefficient": "1/500"},
            _POINT | _REACTION | {"armature_current": "10", "reaction_coefficient": "1/100"},
        ),
        Margin(
            "field current times armature-circuit resistance above d U",
            _FALLING,
            "V",
            "armature_circuit_resistance",
            lambda: _d * _U / _I_f,
        ),
    ),
    Theorem(
        "stability-under-constant-torque",
        "A constant load torque is held steadily only where the speed falls with torque, dT_e/domega < 0: there a machine "
        "that is a little too fast makes less torque and comes back. On a rising characteristic it makes more, and runs away.",
        "d/I_f < R/U, with I_a < I_f/(2 d)",
        sp.And(sp.Gt(_R * _I_f, _d * _U), sp.Gt(_I_f, 2 * _d * _I_a)),
        (
            Claim(
                "falling characteristic: surplus of torque per rad/s too fast",
                _torque_excess,
                "negative",
                (Case(_WEAK_REACTION, 1, "armature_current"), Case(_FALLING, 1, "supply_voltage")),
            ),
            Claim(
                "rising characteristic: surplus of torque per rad/s too fast",
                _torque_excess,
                "positive",
                (Case(_WEAK_REACTION, 1, "armature_current"), Case(_FALLING, -1, "armature_circuit_resistance")),
            ),
            Claim(
                "without armature reaction: surplus of torque per rad/s too fast",
                lambda: sp.diff(closed_form("electromagnetic_torque"), s("speed")),
                "negative",
            ),
        ),
        Trial(
            "surplus of torque over the constant load per rad/s too fast",
            _torque_excess,
            "negative",
            _POINT | _REACTION | {"armature_current": "10", "reaction_coefficient": "1/500"},
            _POINT | _REACTION | {"armature_current": "10", "reaction_coefficient": "1/100"},
        ),
        Margin(
            "field current times armature-circuit resistance above d U",
            _FALLING,
            "V",
            "armature_circuit_resistance",
            lambda: _d * _U / _I_f,
        ),
    ),
)
