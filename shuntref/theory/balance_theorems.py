"""Theorems about loads that change with speed, temperature, the line, the power balance and scaling."""

from __future__ import annotations

from functools import cache, partial

import sympy as sp

from shuntref.theory.closed_forms import closed_form
from shuntref.theory.laws import law
from shuntref.theory.symbols import symbol as s
from shuntref.theory.theorem import Case, Claim, Margin, Theorem, Trial
from shuntref.theory.worksheet import Worksheet, solve_for

__all__ = ["THEOREMS"]

_U, _U_s, _k, _T, _R = (
    s(n) for n in ("supply_voltage", "source_voltage", "k_phi", "electromagnetic_torque", "armature_circuit_resistance")
)
_omega, _R_l, _R_ft, _c = s("speed"), s("line_resistance"), s("field_circuit_resistance"), s("flux_constant")
_T_c, _T_1, _T_2 = s("constant_torque"), s("linear_torque_coefficient"), s("square_torque_coefficient")
_T_L, _T_0, _I_a = s("load_torque"), s("loss_torque"), s("armature_current")
_theta, _theta_1, _k_T = s("winding_temperature"), s("reference_temperature"), s("temperature_constant")
_u, _t = s("voltage_ratio"), s("torque_ratio")
_POINT = {"supply_voltage": "120", "k_phi": "3/4", "armature_circuit_resistance": "4/5"}
_SHUNT = {
    "supply_voltage": "120",
    "flux_constant": "1",
    "field_circuit_resistance": "160",
    "armature_circuit_resistance": "4/5",
    "electromagnetic_torque": "6",
}
_MOTORING = Case(_T, 1, "electromagnetic_torque")


# --- a torque that is a quadratic in the speed


@cache
def _quadratic() -> tuple[sp.Expr, sp.Expr, sp.Expr]:
    """Coefficients A, B, C of A omega^2 + B omega - C = 0, the voltage balance with a quadratic torque."""
    ws = Worksheet()
    ws.state("armature-circuit")
    ws.use("brush-drop-neglected", "brush_drop")
    ws.use("armature-emf", "back_emf")
    ws.use("torque", "armature_current")
    ws.use("load-quadratic", "electromagnetic_torque")
    balance = sp.numer(sp.together(ws.current.rhs - ws.current.lhs))
    a, b, minus_c = sp.Poly(balance, _omega).all_coeffs()
    return a, b, -minus_c


def _steady_form() -> sp.Expr:
    """The physical root written so that A = 0 does no harm: 2 C/(B + sqrt(B^2 + 4 A C))."""
    a, b, c = _quadratic()
    return 2 * c / (b + sp.sqrt(b**2 + 4 * a * c))


def _root(branch: str) -> sp.Expr:
    return closed_form("speed", load="quadratic", branch=branch)


_RISING_LOAD = (
    Case(_T_2, 1, "square_torque_coefficient"),
    Case(_T_1, 1, "linear_torque_coefficient"),
    Case(_k * _U - _T_c * _R, 1, "constant_torque"),
)

# --- temperature


def _heated() -> sp.Expr:
    return closed_form("winding_resistance") - s("reference_resistance")


def _temperature(sign: int) -> tuple[Case, ...]:
    return (Case(_theta - _theta_1, sign, "winding_temperature"), Case(_k_T + _theta_1, 1, "reference_temperature"))


# --- the line


@cache
def _line_current_of_supply() -> sp.Expr:
    """Line current of a shunt motor with proportional flux, in terms of the voltage at its terminals."""
    return closed_form("line_current", flux="proportional")


@cache
def _source_of_supply() -> sp.Expr:
    voltage = solve_for(law("line-drop").equation, _U_s)
    return voltage.subs(s("line_current"), _line_current_of_supply())


def _speed_at(voltage: sp.Expr) -> sp.Expr:
    return closed_form("speed", flux="proportional").subs(_U, voltage)


def _through_the_line() -> sp.Expr:
    """Speed behind the line less speed at the source itself, in terms of the terminal voltage."""
    return _speed_at(_U) - _speed_at(_source_of_supply())


def _line_against_armature() -> sp.Expr:
    """First ohm in the line less first ohm in the armature circuit: the difference of the two slopes of speed."""
    in_line = -sp.diff(closed_form("speed", flux="proportional"), _U) * _line_current_of_supply()
    in_armature = sp.diff(closed_form("speed", flux="proportional"), _R)
    return in_line - in_armature


def _light_drop(sign: int) -> Case:
    return Case(_U - 2 * _R * _line_current_of_supply(), sign, "armature_circuit_resistance")


def _current(sign: int) -> Case:
    """Line current drawn or returned, as a condition on the torque."""
    return Case(_line_current_of_supply(), sign, "electromagnetic_torque")


_SLACK = sp.Symbol("s", positive=True)  # the size of the line current, in the case above

# --- power balance

_LOSSES = (
    "field-copper-loss",
    "added-field-loss",
    "armature-copper-loss",
    "added-armature-loss",
    "brush-loss",
    "line-loss",
    "rotational-loss",
)
_LOSS_OF = {name: name.replace("-", "_") for name in _LOSSES}


@cache
def _unbalanced(separate: bool) -> sp.Expr:
    """Input less output less all losses, with every law put in except the torque balance."""
    rest: sp.Expr = s("input_power") - s("output_power") - s("total_loss")
    chain = [
        ("input-power-separate" if separate else "input-power", "input_power"),
        ("output-power", "output_power"),
        ("total-loss", "total_loss"),
        *_LOSS_OF.items(),
        ("line-drop", "source_voltage"),
        ("current-sum-separate" if separate else "current-sum", "line_current"),
        ("field-circuit-resistance", "field_resistance"),
        ("field-circuit", "field_circuit_resistance"),
        *(() if separate else (("shunt-connection", "field_voltage"),)),
        ("armature-circuit-resistance", "armature_resistance"),
        ("armature-circuit-signed", "supply_voltage"),
        ("armature-emf", "back_emf"),
        ("torque", "k_phi"),
    ]
    for name, unknown in chain:
        rest = rest.subs(s(unknown), solve_for(law(name).equation, s(unknown)))
    return sp.expand(rest)


_STEADY = Case(_T - _T_L - _T_0, 0, "electromagnetic_torque")


def _direction(sign: int) -> Case:
    return Case(_I_a, sign, "armature_current")


# --- scaling


def _scaled_shunt() -> sp.Expr:
    speed = closed_form("speed", flux="proportional")
    return speed.subs({_U: _u * _U, _T: _t * _T}, simultaneous=True) - speed


def _scaled_separate() -> sp.Expr:
    speed = closed_form("speed")
    return speed.subs({_U: _u * _U, _T: _t * _T}, simultaneous=True) - _u * speed


# fmt: off
THEOREMS: tuple[Theorem, ...] = (
    Theorem(
        "quadratic-load",
        "With a torque T0 + T1 omega + T2 omega^2 that rises with the speed there is one forward speed, and it goes over into "
        "that of constant torque as T1 and T2 vanish; the other root is a backward speed that grows without bound.",
        "T_2 > 0 (with T_1 not negative and k_phi U > T_0 R)",
        sp.Gt(_T_2, 0),
        (
            Claim("the physical root is 2 C/(B + sqrt(B^2 + 4 A C))", lambda: _root("upper") - _steady_form(), "zero"),
            Claim("it satisfies A omega^2 + B omega - C = 0",
                  lambda: sum((x * _steady_form() ** n for x, n in zip((*_quadratic()[:2], -_quadratic()[2]), (2, 1, 0),
                                                                        strict=True)), sp.Integer(0)), "zero"),
            Claim("it is a forward speed", _steady_form, "positive", _RISING_LOAD),
            Claim("with T1 = T2 = 0 it is the speed at constant torque",
                  lambda: _steady_form().subs({_T_1: 0, _T_2: 0}) - closed_form("speed").subs(_T, _T_c), "zero"),
            Claim("the other root is a backward speed", lambda: _root("lower"), "negative", _RISING_LOAD),
            Claim("the other root times T2 does not vanish with T2", lambda: sp.expand(_root("lower") * _T_2).subs(_T_2, 0),
                  "negative", (Case(_T_1, 1, "linear_torque_coefficient"),)),
        ),
        Trial("the other root", lambda: _root("lower"), "negative",
              _POINT | {"constant_torque": "1", "linear_torque_coefficient": "0", "square_torque_coefficient": "1/5000"},
              _POINT | {"constant_torque": "1", "linear_torque_coefficient": "0", "square_torque_coefficient": "-1/5000"}),
        Margin("rise of the torque with the square of the speed", _T_2, "N m s^2/rad^2", "square_torque_coefficient",
               lambda: sp.Integer(0)),
    ),
    Theorem(
        "winding-temperature",
        "A winding has more resistance than at its reference temperature just when it is warmer; R2 = R1 (k + t2)/(k + t1).",
        "warmer than the reference temperature: theta > theta_0",
        sp.Gt(_theta, _theta_1),
        (
            Claim("warmer: resistance less reference resistance", _heated, "positive", _temperature(1)),
            Claim("colder, above the temperature of no resistance: the same", _heated, "negative", _temperature(-1)),
            Claim("at the reference temperature: the same", _heated, "zero", (Case(_theta - _theta_1, 0,
                                                                                  "winding_temperature"),)),
        ),
        Trial("resistance less reference resistance", _heated, "positive",
              {"winding_temperature": "75", "reference_temperature": "20", "temperature_constant": "235",
               "reference_resistance": "160"},
              {"winding_temperature": "5", "reference_temperature": "20", "temperature_constant": "235",
               "reference_resistance": "160"}),
        Margin("temperature above the reference temperature", _theta - _theta_1, "degC", "winding_temperature",
               lambda: _theta_1),
    ),
    Theorem(
        "line-resistance",
        "Resistance ahead of both circuits of a shunt motor with proportional flux weakens the field too. It changes nothing "
        "at no load and lowers the speed of a motoring machine, though less than the same resistance in the armature circuit "
        "would while line current times R is less than half of the voltage. It raises the speed only where a light "
        "overhauling torque supplies less than the field takes.",
        "lowers if and only if torque and line current have the same sign: T_e I > 0",
        sp.Gt(_T * _line_current_of_supply(), 0),
        (
            Claim("motoring: speed behind the line less speed at the source", _through_the_line, "negative", (_MOTORING,)),
            Claim("no torque: the same", _through_the_line, "zero", (Case(_T, 0, "electromagnetic_torque"),)),
            Claim("overhauled, less returned than the field takes: the same", _through_the_line, "positive",
                  (_current(1), Case(_U / _R_ft - _SLACK, 1, "field_circuit_resistance", "torque negative"))),
            Claim("overhauled, current returned to the line: the same", _through_the_line, "negative",
                  (_current(-1), Case(_U - _R_l * _SLACK, 1, "supply_voltage", "source voltage positive"))),
            Claim("I R < U/2: slope by line resistance less slope by armature resistance, from none", _line_against_armature,
                  "positive", (_light_drop(1), _MOTORING)),
            Claim("I R > U/2: the same difference", _line_against_armature, "negative", (_light_drop(-1), _MOTORING)),
            Claim("ideal no-load speed behind the line less R_ft/c",
                  lambda: closed_form("ideal_no_load_speed", flux="proportional", line_resistance=True) - _R_ft / _c, "zero"),
        ),
        Trial("speed with 1 ohm in the line, less speed without", _through_the_line, "negative",
              _SHUNT | {"line_resistance": "1"}, _SHUNT | {"line_resistance": "1", "electromagnetic_torque": "-1/2"}),
        Margin("torque times line current; positive where line resistance lowers the speed", _T * s("line_current"), "N m A",
               "electromagnetic_torque", lambda: sp.Integer(0)),
    ),
    Theorem(
        "power-balance",
        "In the steady state the input is the output and all the losses, motoring and generating, shunt and separately "
        "excited.",
        "steady state: T_e = T_L + T_0",
        sp.Eq(_T, _T_L + _T_0),
        (
            *(Claim(f"{machine}, {'motoring' if sign > 0 else 'generating'}: input less output less losses",
                    partial(_unbalanced, separate), "zero", (_STEADY, _direction(sign)))
              for machine, separate in (("shunt", False), ("separately excited", True)) for sign in (1, -1)),
            Claim("gaining speed: what is left over speeds the rotor up",
                  lambda: _unbalanced(False), "positive",
                  (Case(_T - _T_L - _T_0, 1, "electromagnetic_torque"), _direction(1))),
        ),
        Trial("input less output less losses", lambda: _unbalanced(False), "zero",
              {"electromagnetic_torque": "6", "load_torque": "5", "loss_torque": "1", "speed": "150",
               "armature_current": "8", "brush_drop": "2"},
              {"electromagnetic_torque": "7", "load_torque": "5", "loss_torque": "1", "speed": "150",
               "armature_current": "8", "brush_drop": "2"}),
        Margin("torque left over to change the speed; zero in the steady state", _T - _T_L - _T_0, "N m"),
    ),
    Theorem(
        "scaling-of-a-shunt-motor",
        "A shunt motor with proportional flux keeps its speed when the supply voltage changes by a factor and the torque by "
        "the square of that factor.",
        "torque ratio equal to the square of the voltage ratio: t = u^2",
        sp.Eq(_t, _u**2),
        (
            Claim("t = u^2: change of speed", _scaled_shunt, "zero", (Case(_t - _u**2, 0, "torque_ratio"),)),
            Claim("torque less than that: change of speed", _scaled_shunt, "positive",
                  (Case(_u**2 - _t, 1, "torque_ratio"), _MOTORING)),
            Claim("torque more than that: change of speed", _scaled_shunt, "negative",
                  (Case(_u**2 - _t, -1, "torque_ratio"), _MOTORING)),
        ),
        Trial("change of speed", _scaled_shunt, "zero", _SHUNT | {"voltage_ratio": "1/2", "torque_ratio": "1/4"},
              _SHUNT | {"voltage_ratio": "1/2", "torque_ratio": "1/2"}),
        Margin("torque ratio less the square of the voltage ratio; zero where the speed stays", _t - _u**2, "1"),
    ),
    Theorem(
        "scaling-at-constant-flux",
        "At constant flux, as when separately excited, the speed changes by the same factor as the supply voltage when the "
        "torque does too.",
        "torque ratio equal to the voltage ratio: t = u",
        sp.Eq(_t, _u),
        (
            Claim("t = u: speed less the speed before times u", _scaled_separate, "zero", (Case(_t - _u, 0, "torque_ratio"),)),
            Claim("torque less than that: the same", _scaled_separate, "positive",
                  (Case(_u - _t, 1, "torque_ratio"), _MOTORING)),
            Claim("torque more than that: the same", _scaled_separate, "negative",
                  (Case(_u - _t, -1, "torque_ratio"), _MOTORING)),
        ),
        Trial("speed less the speed before times u", _scaled_separate, "zero",
              _POINT | {"electromagnetic_torque": "6", "voltage_ratio": "1/2", "torque_ratio": "1/2"},
              _POINT | {"electromagnetic_torque": "6", "voltage_ratio": "1/2", "torque_ratio": "1"}),
        Margin("torque ratio less the voltage ratio; zero where the speed follows the voltage", _t - _u, "1"),
    ),
)
# fmt: on
