"""The laws of starting: the current at standstill and how a starter is graded between two limits of the current."""

from __future__ import annotations

import sympy as sp

from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

__all__ = ["LAWS"]

_GRADED = "starters graded in a geometric series; common to textbooks, from memory"
_net = s("supply_voltage") - s("brush_drop")
_R_a, _I_1, _I_2, _K, _N = (
    s(n) for n in ("armature_resistance", "upper_current", "lower_current", "current_ratio", "sections")
)
_R_step, _R_sec, _j = s("step_circuit_resistance"), s("section_resistance"), s("step_number")
_R_next = s("next_step_circuit_resistance")

LAWS: tuple[Law, ...] = (
    Law(
        "starting-current",
        "the armature current at standstill",
        sp.Eq(s("starting_current"), s("armature_current")),
        "standstill",
    ),
    Law(
        "starting-resistance",
        "the resistance added to start",
        sp.Eq(s("starting_resistance"), s("added_armature_resistance")),
        "standstill",
    ),
    Law(
        "ideal-no-load-speed",
        "no current, so the back EMF equals the supply voltage",
        sp.Eq(s("supply_voltage"), s("k_phi") * s("ideal_no_load_speed")),
        "ideal no-load",
    ),
    Law(
        "stall-torque",
        "torque at standstill",
        sp.Eq(s("stall_torque"), s("k_phi") * _net / s("armature_circuit_resistance")),
        "standstill",
    ),
    # --- graded starters
    Law("starter-ratio", "ratio of the two limits of the current", sp.Eq(_I_1, _K * _I_2), source=_GRADED),
    Law(
        "starter-first-stud",
        "the whole circuit holds the first peak to the upper limit",
        sp.Eq(_R_step * _I_1, _net),
        "standstill, first stud",
        _GRADED,
    ),
    Law(
        "starter-sections",
        "how many steps of this ratio lead down to the armature resistance",
        sp.Eq(_I_1 * _R_a * (_I_1 / _I_2) ** s("exact_sections"), _net),
        "both limits known",
        _GRADED,
    ),
    Law(
        "starter-grading-upper",
        "the ratio for a number of sections, from the upper limit",
        sp.Eq(_K**_N * _I_1 * _R_a, _net),
        "upper limit known",
        _GRADED,
    ),
    Law(
        "starter-grading-lower",
        "the ratio for a number of sections, from the lower limit",
        sp.Eq(_K ** (_N + 1) * _I_2 * _R_a, _net),
        "lower limit known",
        _GRADED,
    ),
    Law(
        "starter-stud",
        "the circuit shrinks by the ratio from stud to stud",
        sp.Eq(_R_step * _I_1 * _K ** (_j - 1), _net),
        "stud number j",
        _GRADED,
    ),
    Law(
        "starter-section",
        "a section is the difference of two studs",
        sp.Eq(_R_sec, _R_step * (1 - 1 / _K)),
        "every section but a short last one",
        _GRADED,
    ),
    Law(
        "starter-next-stud",
        "the circuit shrinks by the ratio from stud to stud",
        sp.Eq(_R_next, _R_step / _K),
        "constant flux",
        _GRADED,
    ),
    Law(
        "starter-cut-section",
        "a section is the difference of two studs",
        sp.Eq(_R_sec, _R_step - _R_next),
        "every section but a short last one",
        _GRADED,
    ),
    Law(
        "starter-change-emf",
        "back EMF at which the next stud brings the current back to the upper limit",
        sp.Eq(s("step_back_emf"), _net - _I_1 * _R_next),
        "end of a step",
        _GRADED,
    ),
    Law(
        "starter-last-section",
        "the last section leaves the armature alone",
        sp.Eq(_R_sec, _R_step - _R_a),
        "last section",
        _GRADED,
    ),
    Law(
        "starter-step-emf",
        "back EMF when the current has fallen to the lower limit",
        sp.Eq(s("step_back_emf"), _net - _I_1 * _R_step / _K),
        "end of a step",
        _GRADED,
    ),
    Law(
        "starter-resistance",
        "all sections together",
        sp.Eq(s("starting_resistance"), _R_step - _R_a),
        "first stud",
        _GRADED,
    ),
    Law("studs-of-sections", "one stud more than sections", sp.Eq(s("studs"), _N + 1)),
)
