"""The certified cases for a program that wants to use them: chosen by group, level or function, with exact values.

Examples
--------
>>> case = load_cases(function="ideal_no_load_speed")[0]
>>> case.id, dict(case.expected)
('ideal-no-load-speed-tiny', {'ideal_no_load_speed': '150.0000000000000000000000'})
>>> decimals(case.expected), floats(case.expected)
({'ideal_no_load_speed': Decimal('150.0000000000000000000000')}, {'ideal_no_load_speed': 150.0})
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from shuntref.conformance.flags import Flag, load_flags
from shuntref.conformance.functions import Function, load_functions
from shuntref.conformance.suite import Case, Value, WrongValue, load_suite, select

__all__ = [
    "Case",
    "Flag",
    "Function",
    "WrongValue",
    "decimals",
    "floats",
    "load_cases",
    "load_flags",
    "load_functions",
]


def load_cases(group: str | None = None, level: int | None = None, function: str | None = None) -> tuple[Case, ...]:
    """Return the certified cases of a group, level and function, all of them by default, in canonical order.

    Parameters
    ----------
    group, level, function : str, int, str, optional
        What to choose by.

    Returns
    -------
    tuple of Case

    Raises
    ------
    ValueError
        When there is no such group, level or function; the message lists those there are.

    Examples
    --------
    >>> {case.level for case in load_cases(group="froehlich", level=4)}
    {4}
    """
    return select(
        load_suite(),
        groups=() if group is None else (group,),
        levels=() if level is None else (level,),
        functions=() if function is None else (function,),
    )


def decimals(values: Mapping[str, Value]) -> dict[str, Decimal | tuple[Decimal, ...]]:
    """Return certified values as exact decimals, lists as tuples."""
    return {n: Decimal(v) if isinstance(v, str) else tuple(map(Decimal, v)) for n, v in values.items()}


def floats(values: Mapping[str, Value]) -> dict[str, float | tuple[float, ...]]:
    """Return certified values as the nearest floats, lists as tuples."""
    return {n: float(v) if isinstance(v, str) else tuple(map(float, v)) for n, v in values.items()}
