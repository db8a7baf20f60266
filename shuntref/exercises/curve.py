"""A measured magnetisation curve read in either direction, in floats or in 50 digits, and never beyond its ends."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from shuntref.exercises.statement import ExerciseError

__all__ = ["Curve", "CurveError"]

Number = Any


class CurveError(ExerciseError):
    """A reading outside the measured range."""


@dataclass(frozen=True)
class Curve:
    """EMF against field current, joined by straight lines or by a shape-preserving cubic.

    Parameters
    ----------
    currents, emfs
        The points [A, V], both rising.
    join
        ``"linear"`` or ``"cubic"``.

    References
    ----------
    F. N. Fritsch, J. Butland, A method for constructing local monotone piecewise cubic interpolants (1984), for the slopes
    of the cubic (from memory).

    Examples
    --------
    >>> curve = Curve((0.0, 1.0, 2.0), (5.0, 95.0, 125.0), "linear")
    >>> curve.emf(0.5), curve.field_current(110.0)
    (50.0, 1.5)
    """

    currents: tuple[float, ...]
    emfs: tuple[float, ...]
    join: str = "linear"
    slopes: tuple[float, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "slopes", _slopes(self.currents, self.emfs) if self.join == "cubic" else ())

    def emf(self, current: Number) -> Number:
        """EMF at a field current [V].

        Raises
        ------
        CurveError
            Outside the measured range.
        """
        if not self.currents[0] <= current <= self.currents[-1]:
            raise CurveError(
                f"the curve was measured from {self.currents[0]:g} to {self.currents[-1]:g} A of field current; "
                f"{float(current):.4g} A is outside, and the curve is not extended"
            )
        return self._emf(current, min(bisect_right(self.currents, current), len(self.currents) - 1) - 1)

    def _emf(self, current: Number, piece: int) -> Number:
        low, high = self.currents[piece], self.currents[piece + 1]
        start, end = self.emfs[piece], self.emfs[piece + 1]
        share = (current - low) / (high - low)
        if not self.slopes:
            return start + (end - start) * share
        width = high - low
        left, right = self.slopes[piece] * width, self.slopes[piece + 1] * width
        back = 1 - share
        return (start * (1 + 2 * share) * back * back + left * share * back * back
                + end * share * share * (3 - 2 * share) - right * share * share * back)  # fmt: skip

    def field_current(self, emf: Number) -> Number:
        """Field current that gives an EMF [A].

        Raises
        ------
        CurveError
            Outside the measured range.
        """
        if not self.emfs[0] <= emf <= self.emfs[-1]:
            raise CurveError(
                f"the curve was measured from {self.emfs[0]:g} to {self.emfs[-1]:g} V; "
                f"{float(emf):.4g} V is outside, and the curve is not extended"
            )
        piece = min(bisect_right(self.emfs, emf), len(self.emfs) - 1) - 1
        low, high = self.currents[piece], self.currents[piece + 1]
        start, end = self.emfs[piece], self.emfs[piece + 1]
        if not self.slopes:
            return low + (high - low) * (emf - start) / (end - start)
        low, high = emf * 0 + low, emf * 0 + high
        for _ in range(200):  # halving: a monotone piece has one crossing
            middle = (low + high) / 2
            if middle in (low, high):
                break
            if self._emf(middle, piece) < emf:
                low = middle
            else:
                high = middle
        return (low + high) / 2


def _slopes(x: Sequence[float], y: Sequence[float]) -> tuple[float, ...]:
    """Slopes at the points that keep a rising curve rising: weighted harmonic means, three-point ones at the ends."""
    steps = [b - a for a, b in pairwise(x)]
    rises = [(b - a) / h for (a, b), h in zip(pairwise(y), steps, strict=True)]
    if len(rises) == 1:
        return (rises[0], rises[0])
    inner = []
    for k in range(1, len(rises)):
        one, two = 2 * steps[k] + steps[k - 1], steps[k] + 2 * steps[k - 1]
        inner.append((one + two) / (one / rises[k - 1] + two / rises[k]))
    return (_end(steps[0], steps[1], rises[0], rises[1]), *inner, _end(steps[-1], steps[-2], rises[-1], rises[-2]))


def _end(near: float, far: float, rise: float, next_rise: float) -> float:
    slope = ((2 * near + far) * rise - near * next_rise) / (near + far)
    return max(slope, 0.0)
