"""The tie between theory and model: every numeric formula, fed with symbols, against the form derived from the laws.

The two rooms stand side by side and never import each other; this is the one place that looks at both.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterator

from shuntref.evidence import Check
from shuntref.model import formulas
from shuntref.theory.formula_forms import FORMULA_FORMS, tie

__all__ = ["PLUMBING", "checks", "tied_formulas"]

#: arithmetic that is no physics: no law speaks of it
PLUMBING = frozenset({"square_root"})


def tied_formulas() -> tuple[str, ...]:
    """Names of all numeric formulas that state physics.

    Examples
    --------
    >>> "speed_from_torque" in tied_formulas()
    True
    """
    public = (name for name in formulas.__all__ if inspect.isfunction(getattr(formulas, name)))
    return tuple(sorted(set(public) - PLUMBING))


def checks() -> Iterator[Check]:
    """Yield one check per formula, and one that no formula and no derived form stands alone."""
    names = tied_formulas()
    for name in names:
        yield tie(name, getattr(formulas, name))
    alone = sorted(set(names) ^ set(FORMULA_FORMS))
    yield Check(
        "formulas", "every numeric formula has a derived form, and every form a formula", not alone, ", ".join(alone)
    )
