"""Inputs looked at before anything is computed: one clear line for a value that cannot be."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shuntref.quantities.registry import REGISTRY

__all__ = ["LEAST", "MOST", "WANTED", "as_array", "check_array", "every_keeps", "keeps", "refuse", "scalar"]

#: rule -> what would be accepted
WANTED = {
    "positive": "a finite number above zero",
    "not negative": "zero or a finite number above it",
    "zero or more": "zero or a finite number above it",  # and what is above it is of ordinary size, as for "positive"
    "finite": "a finite number",
}

#: no machine comes near these; products and squares of what lies between them neither overflow nor vanish
MOST, LEAST = 1e30, 1e-30
#: precision -> the least number above zero, the greatest, and the whole numbers as which the bits are read
_ENDS: dict[Any, tuple[float, float, Any]] = {
    np.dtype(np.float64): (LEAST, MOST, np.dtype(np.uint64)),
    # as single precision has them: older NumPy compares in double precision
    np.dtype(np.float32): (float(np.float32(1e-12)), float(np.float32(1e12)), np.dtype(np.uint32)),
}
_MOST_BITS = {kind: int(kind.type(most).view(bits)) for kind, (_, most, bits) in _ENDS.items()}


def refuse(name: str, value: object, rule: str, index: tuple[int, ...] | None = None) -> ValueError:
    """Return the error that names the quantity, the value, where it stands and what would be accepted.

    Examples
    --------
    >>> print(refuse("brush_drop", -2.0, "not negative"))
    brush_drop is -2.0 V; zero or a finite number above it is needed
    """
    entry = REGISTRY.get(name)
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    unit = f" {entry.unit}" if entry is not None and entry.unit != "1" and number else ""
    where = ""
    if (
        isinstance(value, (int, float))
        and number
        and rule in WANTED
        and math.isfinite(value)
        and keeps_sign(value, rule)
    ):
        zero = "at least where it may not be zero" if rule != "zero or more" else "at least, or zero"
        rule = f"a number of ordinary size (up to {MOST:g}; {LEAST:g} {zero})"
    if index:
        where = f" at index {index[0] if len(index) == 1 else index}"
    shown = repr(float(value)) if isinstance(value, (int, float)) and number else f"{value!r:.60}"
    return ValueError(f"{name} is {shown}{unit}{where}; {WANTED.get(rule, rule)} is needed")


def scalar(name: str, value: Any, rule: str) -> float:
    """Return ``value`` as a float that keeps the rule, or refuse it.

    Examples
    --------
    >>> scalar("field_resistance", 160, "positive")
    160.0
    """
    if isinstance(value, (bool, np.bool_, str, bytes)):
        raise refuse(name, value, rule)
    try:
        number = float(value)
    except OverflowError:
        raise refuse(name, math.inf, rule) from None
    except (TypeError, ValueError):
        raise refuse(name, value, f"one number ({WANTED.get(rule, rule)})") from None
    if not keeps(number, rule):
        raise refuse(name, number, rule)
    return number


def keeps_sign(number: float, rule: str) -> bool:
    """Say whether the sign is what the rule asks for."""
    if rule in ("not negative", "zero or more"):
        return number >= 0.0
    return number > 0.0 if rule == "positive" else True


def keeps(number: float, rule: str) -> bool:
    """Say whether one float keeps the rule."""
    if rule == "positive":
        return LEAST <= number <= MOST
    if rule == "not negative":
        return 0.0 <= number <= MOST
    if rule == "zero or more":
        return number == 0.0 or LEAST <= number <= MOST
    return -MOST <= number <= MOST


def as_array(name: str, value: Any) -> np.ndarray[Any, Any]:
    """Return ``value`` as a float32 or float64 array without copying where it is one already.

    Integers become float64. Booleans, text, complex numbers and masked values are refused.
    """
    if isinstance(value, np.ma.MaskedArray) and np.ma.is_masked(value):
        raise refuse(name, "a masked array", "an array without masked values")
    try:
        array = np.asarray(value)
        if array.dtype == object:
            array = array.astype(np.float64)
    except (TypeError, ValueError, OverflowError):
        raise refuse(name, value, "a number or an array of numbers") from None
    if array.dtype.kind in "iu":
        return array.astype(np.float64)
    if array.dtype.kind != "f":
        raise refuse(name, value, "a number or an array of numbers")
    if array.dtype not in (np.float32, np.float64):
        return array.astype(np.float32 if array.dtype == np.float16 else np.float64)
    return array


def every_keeps(array: np.ndarray[Any, Any], rule: str) -> bool:
    """Say whether every value of an array keeps the rule, in as few passes over it as will do.

    Read as whole numbers, the bits of floats that are not negative stand in the floats' own order, and the bits of a
    negative number or of a NaN stand above them all: one pass sees both ends. A negative zero is told False, too.
    """
    if array.size == 0:
        return True
    least, most, bits = _ENDS[array.dtype]
    if rule == "not negative":
        return bool(np.maximum.reduce(array.view(bits), axis=None) <= _MOST_BITS[array.dtype])
    if rule == "zero or more" and not np.minimum.reduce(array, axis=None) >= least:
        array = array[array != 0.0]
    lowest = least if rule in ("positive", "zero or more") else -most
    if array.size == 0:
        return True
    return bool(np.minimum.reduce(array, axis=None) >= lowest and np.maximum.reduce(array, axis=None) <= most)


def check_array(
    name: str, array: np.ndarray[Any, Any], rule: str, *, offset: int = 0, shape: tuple[int, ...] | None = None
) -> None:
    """Refuse an array (or a block of a flattened array that starts at ``offset``) with its first offending value."""
    if every_keeps(array, rule):
        return
    least, most, _ = _ENDS[array.dtype]
    lowest = {"positive": least, "zero or more": least, "not negative": 0.0}.get(rule, -most)
    good = (array >= lowest) & (array <= most)
    if rule == "zero or more":
        good |= array == 0.0
    if good.all():
        return
    flat = int(np.argmin(good.ravel()))
    index = np.unravel_index(offset + flat, shape if shape is not None else array.shape)
    raise refuse(name, float(array.ravel()[flat]), rule, tuple(int(i) for i in index))
