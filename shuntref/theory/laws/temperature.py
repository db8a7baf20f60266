"""The law of winding temperature applied to the two windings of the machine."""

from __future__ import annotations

import sympy as sp

from shuntref.theory.laws.law import Law
from shuntref.theory.symbols import symbol as s

__all__ = ["LAWS"]

_SOURCE = "resistance method of IEC 60034-1 (from memory)"
_hot = s("temperature_constant") + s("winding_temperature")
_cold = s("temperature_constant") + s("reference_temperature")

LAWS: tuple[Law, ...] = tuple(
    Law(
        f"{winding}-temperature",
        f"resistance of the {winding} winding against its temperature",
        sp.Eq(s(f"{winding}_resistance") * _cold, s(f"cold_{winding}_resistance") * _hot),
        "copper or aluminium over the usual range of temperatures",
        _SOURCE,
    )
    for winding in ("field", "armature")
)
