"""The laws of the winding and the field: how poles, paths, conductors and turns make k_phi, and how ampere-turns add."""

from __future__ import annotations

import sympy as sp

from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

__all__ = ["LAWS"]

_COMMON = "common to all textbooks of electrical machines; from memory"
_I_f, _I_a, _I_fe, _I_fr = (
    s(n) for n in ("field_current", "armature_current", "effective_field_current", "reaction_field_current")
)
_N_f, _N_s, _Z, _N_t = s("field_turns"), s("series_turns"), s("conductors"), s("armature_turns")
_P, _A = s("poles"), s("parallel_paths")

LAWS: tuple[Law, ...] = (
    # --- armature winding
    Law(
        "winding-constant",
        "machine constant and flux from the winding",
        sp.Eq(s("k_phi"), s("flux_per_pole") * _Z * _P / (2 * sp.pi * _A)),
        "full-pitch coils",
        _COMMON,
    ),
    Law("pole-pairs", "poles come in pairs", sp.Eq(_P, 2 * s("pole_pairs"))),
    Law(
        "lap-winding", "a simplex lap winding has as many paths as poles", sp.Eq(_A, _P), "simplex lap winding", _COMMON
    ),
    Law("wave-winding", "a simplex wave winding has two paths", sp.Eq(_A, 2), "simplex wave winding", _COMMON),
    Law("conductors-of-turns", "two conductors to a turn", sp.Eq(_Z, 2 * _N_t), source=_COMMON),
    Law("turns-of-coils", "turns of all coils together", sp.Eq(_N_t, s("coils") * s("turns_per_coil"))),
    Law("conductors-of-slots", "conductors of all slots together", sp.Eq(_Z, s("slots") * s("conductors_per_slot"))),
    # --- field
    Law(
        "demagnetising-field-current",
        "demagnetising ampere-turns as a loss of field current",
        sp.Eq(_I_fr, s("demagnetising_mmf") / _N_f),
        "ampere-turns per pole",
        _COMMON,
    ),
    Law(
        "compound-field-current",
        "series turns and armature reaction as field current",
        sp.Eq(_I_fe, _I_f + _I_a * _N_s / _N_f - _I_fr),
        "series field carries the armature current",
        _COMMON,
    ),
    Law(
        "flux-ratio",
        "flux as stated, from a reference flux",
        sp.Eq(s("k_phi"), s("flux_ratio") * (1 - s("reaction_flux_loss")) * s("reference_k_phi")),
        "the ratio or the share lost is stated",
    ),
    Law(
        "curve-emf",
        "flux from the magnetisation curve, at the curve's own speed",
        sp.Eq(s("curve_emf"), s("k_phi") * s("curve_speed")),
        "the curve was measured at a stated speed",
        _COMMON,
    ),
)
