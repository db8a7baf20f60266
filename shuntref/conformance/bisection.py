"""Roots and extremes by halving intervals, in decimal arithmetic of 80 digits: what the second evaluator solves with."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Context, Decimal

__all__ = ["ARITHMETIC", "peak", "pi", "root", "upper_end"]

#: enough digits for the worst condition number of the suite
ARITHMETIC = Context(prec=80)
_CLOSE = Decimal("1e-62")


def root(f: Callable[[Decimal], Decimal], low: Decimal, high: Decimal) -> Decimal:
    """Return where ``f`` changes sign between ``low`` and ``high``.

    The interval is halved forty times, then narrowed from both ends by chords (the end that stays has its value halved).

    Raises
    ------
    ValueError
        When the signs at the two ends are equal.

    Examples
    --------
    >>> from decimal import localcontext
    >>> with localcontext(ARITHMETIC):
    ...     str(root(lambda x: x * x - 2, Decimal(1), Decimal(2)))[:32]
    '1.414213562373095048801688724209'
    """
    at_low, at_high = f(low), f(high)
    if at_low == 0 or at_high == 0:
        return low if at_low == 0 else high
    if _alike(at_low, at_high):
        raise ValueError("no change of sign: there is no solution in the range searched")
    for _ in range(40):
        middle = (low + high) / 2
        value = f(middle)
        if value == 0:
            return middle
        if _alike(value, at_low):
            low, at_low = middle, value
        else:
            high, at_high = middle, value
    moved = ""
    while abs(high - low) > _CLOSE * max(abs(low), abs(high)):
        point = (low * at_high - high * at_low) / (at_high - at_low)
        if point in (low, high):
            break
        value = f(point)
        if value == 0:
            return point
        if _alike(value, at_low):
            low, at_low = point, value
            at_high = at_high / 2 if moved == "low" else at_high
            moved = "low"
        else:
            high, at_high = point, value
            at_low = at_low / 2 if moved == "high" else at_low
            moved = "high"
    return point_between(low, high, at_low, at_high)


def _alike(value: Decimal, other: Decimal) -> bool:
    """Whether two values that are not zero have one sign."""
    return (value > 0) == (other > 0)


def point_between(low: Decimal, high: Decimal, at_low: Decimal, at_high: Decimal) -> Decimal:
    """Return the end of a closed-in interval whose value is the smaller.

    Examples
    --------
    >>> point_between(Decimal(1), Decimal(2), Decimal(-3), Decimal(1))
    Decimal('2')
    """
    return low if abs(at_low) < abs(at_high) else high


def upper_end(f: Callable[[Decimal], Decimal], start: Decimal) -> Decimal:
    """Return a point above ``start`` where ``f`` has another sign than at zero, by doubling.

    Examples
    --------
    >>> upper_end(lambda x: x - 5, Decimal(1))
    Decimal('8')
    """
    sign = f(Decimal(0)) > 0
    for _ in range(200):
        if (f(start) > 0) != sign:
            return start
        start *= 2
    raise ValueError("no change of sign: there is no solution")


def peak(f: Callable[[Decimal], Decimal], low: Decimal, high: Decimal) -> Decimal:
    """Return where a function with a single peak between two points is greatest, by thirds.

    Examples
    --------
    >>> from decimal import localcontext
    >>> with localcontext(ARITHMETIC):
    ...     abs(peak(lambda x: x * (2 - x), Decimal(0), Decimal(2)) - 1) < Decimal("1e-30")
    True
    """
    for _ in range(200):
        third = (high - low) / 3
        left, right = low + third, high - third
        if f(left) < f(right):
            low = left
        else:
            high = right
    return (low + high) / 2


def pi() -> Decimal:
    """Return pi in the present arithmetic, by Machin's formula.

    Examples
    --------
    >>> from decimal import localcontext
    >>> with localcontext(ARITHMETIC):
    ...     str(pi())[:32]
    '3.141592653589793238462643383279'
    """

    def arc_cotangent(x: int) -> Decimal:
        power = total = Decimal(1) / x
        n, sign = 1, 1
        while abs(power / n) > Decimal("1e-90"):
            power /= x * x
            n += 2
            sign = -sign
            total += sign * power / n
        return total

    return 4 * (4 * arc_cotangent(5) - arc_cotangent(239))
