"""The laws, and what follows from them: derivations, closed forms, sensitivities, theorems.

The names are loaded one by one, when first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: public name -> module of this room that holds it
_PUBLIC = {
    "Derivation": "derivation",
    "Law": "laws.law",
    "THEOREMS": "theorems",
    "Theorem": "theorem",
    "all_laws": "laws",
    "closed_form": "closed_forms",
    "derive": "derivation",
    "law": "laws",
    "log_sensitivity": "sensitivities",
    "render": "rendering",
    "ruling_theorem": "theorems",
    "sensitivity": "sensitivities",
    "symbol": "symbols",
}

__all__ = [*_PUBLIC]

if TYPE_CHECKING:
    from shuntref.theory.closed_forms import closed_form as closed_form
    from shuntref.theory.derivation import Derivation as Derivation
    from shuntref.theory.derivation import derive as derive
    from shuntref.theory.laws import all_laws as all_laws
    from shuntref.theory.laws import law as law
    from shuntref.theory.laws.law import Law as Law
    from shuntref.theory.rendering import render as render
    from shuntref.theory.sensitivities import log_sensitivity as log_sensitivity
    from shuntref.theory.sensitivities import sensitivity as sensitivity
    from shuntref.theory.symbols import symbol as symbol
    from shuntref.theory.theorem import Theorem as Theorem
    from shuntref.theory.theorems import THEOREMS as THEOREMS
    from shuntref.theory.theorems import ruling_theorem as ruling_theorem


if not TYPE_CHECKING:  # so that a type checker knows the names above and no others

    def __getattr__(name: str) -> Any:
        module = _PUBLIC.get(name)
        if module is None:
            raise AttributeError(f"module 'shuntref.theory' has no attribute {name!r}")
        return getattr(importlib.import_module(f"shuntref.theory.{module}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
