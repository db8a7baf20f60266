"""Certified cases, the runner that puts them to anybody's implementation, the score, and verified source to start from."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: public name -> module that holds it; loaded when first used
_PUBLIC = {
    "load_suite": "shuntref.conformance.suite",
    "pytest_cases": "shuntref.conformance.lab_tests",
    "run_cases": "shuntref.conformance.runner",
}

__all__ = list(_PUBLIC)

if TYPE_CHECKING:
    from shuntref.conformance.lab_tests import pytest_cases as pytest_cases
    from shuntref.conformance.runner import run_cases as run_cases
    from shuntref.conformance.suite import load_suite as load_suite


if not TYPE_CHECKING:  # so that a type checker knows the names above and no others

    def __getattr__(name: str) -> Any:
        module = _PUBLIC.get(name)
        if module is None:
            raise AttributeError(f"module 'shuntref.conformance' has no attribute {name!r}")
        try:
            return getattr(importlib.import_module(module), name)
        except ModuleNotFoundError as error:
            if error.name != "pytest":
                raise
            raise ImportError(f"{name} needs pytest; install it with: pip install pytest") from None
