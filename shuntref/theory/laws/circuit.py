"""The laws of the two circuits, the flux and the torque: the equations every other result is derived from."""

from __future__ import annotations

import sympy as sp

from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

__all__ = ["LAWS"]

_COMMON = "common to all textbooks of electrical machines; from memory"
_U, _U_s, _U_f, _U_b, _E = (
    s(n) for n in ("supply_voltage", "source_voltage", "field_voltage", "brush_drop", "back_emf")
)
_I_f, _I_a, _I = (s(n) for n in ("field_current", "armature_current", "line_current"))
_I_fe, _I_fr = (s(n) for n in ("effective_field_current", "reaction_field_current"))
_k, _omega = s("k_phi"), s("speed")
_R, _R_ft, _R_l = (s(n) for n in ("armature_circuit_resistance", "field_circuit_resistance", "line_resistance"))
_T_e, _T_L, _T_0 = (s(n) for n in ("electromagnetic_torque", "load_torque", "loss_torque"))

LAWS: tuple[Law, ...] = (
    # --- field circuit
    Law("field-circuit", "Ohm's law of the field circuit", sp.Eq(_U_f, _I_f * _R_ft), "in the steady state", _COMMON),
    Law(
        "shunt-connection", "the field lies across the armature terminals", sp.Eq(_U_f, _U), "shunt connection", _COMMON
    ),
    Law(
        "field-circuit-resistance",
        "winding and field rheostat in series",
        sp.Eq(_R_ft, s("field_resistance") + s("added_field_resistance")),
        source=_COMMON,
    ),
    Law(
        "effective-field-current",
        "armature reaction taken off the field current",
        sp.Eq(_I_fe, _I_f - _I_fr),
        "armature reaction stated as an equivalent field current",
        _COMMON,
    ),
    Law("reaction-none", "no armature reaction", sp.Eq(_I_fr, 0), "armature reaction neglected or compensated"),
    Law(
        "reaction-proportional",
        "armature reaction in proportion to the armature current",
        sp.Eq(_I_fr, s("reaction_coefficient") * _I_a),
        "motoring, reaction small beside the field",
        _COMMON,
    ),
    # --- flux
    Law(
        "flux-proportional",
        "flux in proportion to the field current",
        sp.Eq(_k, s("flux_constant") * _I_fe),
        "unsaturated iron, no remanence",
        _COMMON,
    ),
    Law(
        "flux-froehlich",
        "Froehlich's curve of a saturating field, with remanence",
        sp.Eq(_k, s("remanent_k_phi") + s("froehlich_a") * _I_fe / (s("froehlich_b") + _I_fe)),
        "field current not negative",
        "the curve named after O. Froehlich; from memory",
    ),
    Law(
        "flux-loss",
        "flux lost in proportion to the armature current",
        sp.Eq(_k, s("undisturbed_k_phi") * (1 - s("flux_loss_per_ampere") * _I_a)),
        "armature reaction stated as a share of the flux; motoring, share small beside 1",
        _COMMON,
    ),
    # --- armature circuit
    Law("armature-emf", "induced voltage", sp.Eq(_E, _k * _omega), source=_COMMON),
    Law("torque", "torque on the armature", sp.Eq(_T_e, _k * _I_a), source=_COMMON),
    Law(
        "armature-circuit",
        "voltage balance of the armature circuit",
        sp.Eq(_U, _E + _I_a * _R + _U_b),
        "motoring (armature current positive), steady state",
        _COMMON,
    ),
    Law(
        "armature-circuit-signed",
        "voltage balance of the armature circuit, either direction of the current",
        sp.Eq(_U, _E + _I_a * _R + _U_b * sp.sign(_I_a)),
        "steady state",
        _COMMON,
    ),
    Law(
        "armature-circuit-resistance",
        "armature and armature rheostat in series",
        sp.Eq(_R, s("armature_resistance") + s("added_armature_resistance")),
        source=_COMMON,
    ),
    Law(
        "brush-drop-neglected",
        "brush drop neglected",
        sp.Eq(_U_b, 0),
        "brush drop small beside the supply voltage, or taken off the supply voltage beforehand",
    ),
    # --- the two circuits together
    Law("current-sum", "the line feeds armature and field", sp.Eq(_I, _I_a + _I_f), "shunt connection", _COMMON),
    Law("current-sum-separate", "the line feeds the armature alone", sp.Eq(_I, _I_a), "separate excitation", _COMMON),
    Law("line-drop", "drop in the line ahead of both circuits", sp.Eq(_U_s, _U + _I * _R_l), source=_COMMON),
    # --- shaft
    Law("torque-balance", "torque balance of the shaft", sp.Eq(_T_e, _T_L + _T_0), "constant speed", _COMMON),
    Law(
        "load-quadratic",
        "torque as a quadratic in the speed",
        sp.Eq(
            _T_e,
            s("constant_torque") + s("linear_torque_coefficient") * _omega + s("square_torque_coefficient") * _omega**2,
        ),
        "loads of constant, viscous and fan type together, forward motion",
        _COMMON,
    ),
    Law(
        "load-constant-power",
        "torque with a part of constant power",
        sp.Eq(_T_e, s("constant_torque") + s("linear_torque_coefficient") * _omega + s("constant_power") / _omega),
        "loads that take the same power at any speed, forward motion",
        _COMMON,
    ),
    Law(
        "speed-conversion",
        "angular velocity from revolutions per minute",
        sp.Eq(_omega, 2 * sp.pi * s("speed_rpm") / 60),
        source="definition of the units",
    ),
    Law("ideal-no-load", "no torque, so no current in the armature", sp.Eq(_T_e, 0), "ideal no-load"),
    Law("standstill", "the shaft stands still", sp.Eq(_omega, 0), "at the instant of starting, or stalled"),
    # --- temperature
    Law(
        "winding-temperature",
        "resistance of a winding against its temperature",
        sp.Eq(
            s("winding_resistance") * (s("temperature_constant") + s("reference_temperature")),
            s("reference_resistance") * (s("temperature_constant") + s("winding_temperature")),
        ),
        "metal of the stated temperature constant",
        _COMMON,
    ),
)
