"""Measured points as two tuples of floats, checked: as many, finite, in increasing order."""

from __future__ import annotations

from typing import Any

from shuntref.model.validation import refuse, scalar

__all__ = ["increasing_points"]

_MOST_POINTS = 100_000


def increasing_points(
    first_name: str, first: Any, second_name: str, second: Any, *, second_increases: bool = False
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return both columns of a table as tuples of floats.

    Raises
    ------
    ValueError
        Fewer than two points, columns of different length, a value that is not finite, or points out of order.

    Examples
    --------
    >>> increasing_points("field_current", [0, 1], "back_emf", [5, 100])
    ((0.0, 1.0), (5.0, 100.0))
    """
    columns = []
    for name, values in ((first_name, first), (second_name, second)):
        if isinstance(values, (str, bytes)) or not hasattr(values, "__iter__"):
            raise refuse(name, values, "a list of numbers")
        column = tuple(scalar(name, value, "finite") for value in values)
        if not 2 <= len(column) <= _MOST_POINTS:
            raise ValueError(f"{name} has {len(column)} points; from 2 to {_MOST_POINTS} are needed")
        columns.append(column)
    x, y = columns
    if len(x) != len(y):
        raise ValueError(f"{first_name} has {len(x)} points but {second_name} has {len(y)}; as many are needed")
    _check_order(first_name, x)
    if second_increases:
        _check_order(second_name, y)
    return x, y


def _check_order(name: str, column: tuple[float, ...]) -> None:
    for index in range(1, len(column)):
        if not column[index] > column[index - 1]:
            raise refuse(name, column[index], f"a value above {column[index - 1]!r}, the one before it,", (index,))
