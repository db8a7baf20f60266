"""Certified cases, the runner that puts them to anybody's implementation, the score, and verified source to start from."""

from __future__ import annotations

import importlib
from typing import Any

#: public name -> module that holds it; loaded when first used
_PUBLIC = {
    "load_suite": "shuntref.conformance.suite",
    "pytest_cases": "shuntref.conformance.lab_tests",
    "run_cases": "shuntref.conformance.runner",
}

__all__ = list(_PUBLIC)


def __getattr__(name: str) -> Any:
    module = _PUBLIC.get(name)
    if module is None:
        raise AttributeError(f"module 'shuntref.conformance' has no attribute {name!r}")
    return getattr(importlib.import_module(module), name)
