"""All the closed forms of the model under one name: pure arithmetic for floats, arrays, symbols and exact numbers.

A formula is written once. The numeric layer calls it with floats and with blocks of arrays; the tests call it with
sympy symbols, to prove that it equals the form derived from the laws, and with 50-digit numbers, to measure rounding.

Examples
--------
>>> from shuntref.model import formulas
>>> formulas.speed_from_torque(120.0, 0.75, 6.0, 0.8)
151.46666666666667
"""

from __future__ import annotations

from shuntref.model import (
    circuit_formulas,
    conversion_formulas,
    flux_formulas,
    limit_formulas,
    power_formulas,
    reaction_formulas,
    sizing_formulas,
    speed_formulas,
)
from shuntref.model.circuit_formulas import *  # noqa: F403
from shuntref.model.conversion_formulas import *  # noqa: F403
from shuntref.model.flux_formulas import *  # noqa: F403
from shuntref.model.limit_formulas import *  # noqa: F403
from shuntref.model.power_formulas import *  # noqa: F403
from shuntref.model.reaction_formulas import *  # noqa: F403
from shuntref.model.sizing_formulas import *  # noqa: F403
from shuntref.model.speed_formulas import *  # noqa: F403

__all__ = [
    *circuit_formulas.__all__,
    *flux_formulas.__all__,
    *conversion_formulas.__all__,
    *speed_formulas.__all__,
    *limit_formulas.__all__,
    *reaction_formulas.__all__,
    *sizing_formulas.__all__,
    *power_formulas.__all__,
]
