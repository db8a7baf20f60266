"""A cubic through measured points that keeps their shape: no overshoot, no bump that the points do not have.

The slopes are those of Fritsch and Butland: the weighted harmonic mean of the neighbouring secants, zero where they
change sign. scipy's PchipInterpolator uses the same rule, and the tests hold the two together; building the curve here
spares a program that reads one machine file the import of scipy.

References
----------
F. N. Fritsch and J. Butland, A method for constructing local monotone piecewise cubic interpolants, SIAM J. Sci. Stat.
Comput. 5 (1984) 300-304 (from memory).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from itertools import pairwise
from typing import Any

import numpy as np

__all__ = ["ShapeCubic"]

_MOST_CELLS = 4096
Array = np.ndarray[Any, Any]


def _end_slope(h0: float, h1: float, s0: float, s1: float) -> float:
    """One-sided three-point slope, held to the shape of the data."""
    slope = ((2.0 * h0 + h1) * s0 - h0 * s1) / (h0 + h1)
    if slope * s0 <= 0.0:
        return 0.0
    if s0 * s1 < 0.0 and abs(slope) > 3.0 * abs(s0):
        return 3.0 * s0
    return slope


def _slopes(x: tuple[float, ...], y: tuple[float, ...]) -> list[float]:
    h = [b - a for a, b in pairwise(x)]
    s = [(b - a) / width for a, b, width in zip(y, y[1:], h, strict=False)]
    if len(x) == 2:
        return [s[0], s[0]]
    slopes = [_end_slope(h[0], h[1], s[0], s[1])]
    for i in range(1, len(x) - 1):
        if s[i - 1] * s[i] <= 0.0:
            slopes.append(0.0)
        else:
            w1, w2 = 2.0 * h[i] + h[i - 1], h[i] + 2.0 * h[i - 1]
            slopes.append((w1 + w2) / (w1 / s[i - 1] + w2 / s[i]))
    slopes.append(_end_slope(h[-1], h[-2], s[-1], s[-2]))
    return slopes


def _cubic(width: float, y0: float, y1: float, d0: float, d1: float) -> tuple[float, ...]:
    """Coefficients of the cubic on one interval, in the distance from its left end."""
    secant = (y1 - y0) / width
    return y0, d0, (3.0 * secant - 2.0 * d0 - d1) / width, (d0 + d1 - 2.0 * secant) / (width * width)


class ShapeCubic:
    """Piecewise cubic through (x, y), x strictly increasing; beyond its ends it goes on along the end slope."""

    def __init__(self, x: tuple[float, ...], y: tuple[float, ...]) -> None:
        self.x, self.y = x, y
        try:
            d = _slopes(x, y)
            rows = [_cubic(x[i + 1] - x[i], y[i], y[i + 1], d[i], d[i + 1]) for i in range(len(x) - 1)]
        except (ZeroDivisionError, OverflowError):
            d, rows = [math.nan, math.nan], [(math.nan,) * 4]
        if not all(math.isfinite(value) for row in rows for value in row):
            raise ValueError("the points of the table lie too close together for a curve through them")
        self.first_slope, self.last_slope = d[0], d[-1]
        self.rows = rows
        self._c = [np.array(column) for column in zip(*rows, strict=True)]
        self._left = np.array(x[:-1])
        self._inner = np.array(x[1:-1])
        narrowest = min(b - a for a, b in pairwise(x))
        cells = (x[-1] - x[0]) / narrowest
        self._cells = 0
        if cells <= _MOST_CELLS:  # cells so narrow that each holds one knot at most: an index instead of a search
            self._cells = int(cells) + 1
            self._per_unit = self._cells / (x[-1] - x[0])
            starts = x[0] + (np.arange(self._cells) - 1e-9) / self._per_unit  # a hair early: cell edges round
            self._first = np.searchsorted(self._inner, starts, side="right")
            self._right = np.array([*x[1:-1], np.inf])

    # --- one number

    def value(self, x: float) -> float:
        """Value at one point."""
        if x < self.x[0]:
            return self.y[0] + self.first_slope * (x - self.x[0])
        if x >= self.x[-1]:
            return self.y[-1] + self.last_slope * (x - self.x[-1])
        i = bisect_right(self.x, x) - 1
        c0, c1, c2, c3 = self.rows[i]
        t = x - self.x[i]
        return c0 + t * (c1 + t * (c2 + t * c3))

    def slope(self, x: float) -> float:
        """Slope at one point."""
        if x < self.x[0]:
            return self.first_slope
        if x >= self.x[-1]:
            return self.last_slope
        i = bisect_right(self.x, x) - 1
        _, c1, c2, c3 = self.rows[i]
        t = x - self.x[i]
        return c1 + t * (2.0 * c2 + t * (3.0 * c3))

    # --- arrays

    def _interval(self, x: Array) -> Array:
        """Index of the interval of each x inside the table."""
        if not self._cells:
            return np.searchsorted(self._inner, x, side="right")
        cell = ((x.astype(np.float64, copy=False) - self.x[0]) * self._per_unit).astype(np.intp)
        i: Array = self._first.take(cell, mode="clip")
        i += x >= self._right.take(i)  # the one knot that the cell may hold
        return i

    def values(self, x: Array) -> Array:
        """Values at an array of points, in its own precision."""
        if x.size == 0:
            return x.copy()
        inside = x
        outside = not (x.min() >= self.x[0] and x.max() <= self.x[-1])
        if outside:
            inside = np.clip(x, self.x[0], self.x[-1])
        i = self._interval(inside)
        c0, c1, c2, c3 = self._c
        t = inside - self._left.take(i)
        y: Array = c3.take(i)
        y *= t
        y += c2.take(i)
        y *= t
        y += c1.take(i)
        y *= t
        y += c0.take(i)
        if outside:
            beyond = x - inside
            y = y + np.where(beyond < 0.0, self.first_slope, self.last_slope) * beyond
        return y.astype(x.dtype, copy=False)

    def slopes(self, x: Array) -> Array:
        """Slopes at an array of points."""
        inside = np.clip(x, self.x[0], self.x[-1])
        i = self._interval(inside)
        _, c1, c2, c3 = self._c
        t = inside - self._left.take(i)
        y = c1.take(i) + t * (2.0 * c2.take(i) + t * (3.0 * c3.take(i)))
        y = np.where(x > self.x[-1], self.last_slope, y)  # before the first point it is that of the first point already
        return y.astype(x.dtype, copy=False)

    def inverse(self, y: Array) -> Array:
        """Points x at which an increasing curve has the values y; NaN where the continued ends never do."""
        y = np.asarray(y, dtype=float)
        i = np.clip(np.searchsorted(np.array(self.y), y, side="right") - 1, 0, len(self.rows) - 1)
        low = self._left[i]
        high = np.array(self.x[1:])[i]
        c0, c1, c2, c3 = (column[i] for column in self._c)
        width = high - low
        a, b = np.zeros_like(y), width.copy()
        t = np.clip((y - c0) / (np.array(self.y[1:])[i] - c0), 0.0, 1.0) * width
        for _ in range(200):  # Newton held inside a shrinking bracket
            error = c0 + t * (c1 + t * (c2 + t * c3)) - y
            a, b = np.where(error <= 0.0, t, a), np.where(error >= 0.0, t, b)
            slope = c1 + t * (2.0 * c2 + t * (3.0 * c3))
            with np.errstate(all="ignore"):
                step = t - error / slope
            step = np.where((step > a) & (step < b), step, 0.5 * (a + b))
            if np.all(np.abs(step - t) <= 4e-16 * (np.abs(low) + np.abs(t))):
                t = step
                break
            t = step
        x = low + t
        below = self._beyond(y, 0, self.first_slope)
        above = self._beyond(y, -1, self.last_slope)
        return np.where(y < self.y[0], below, np.where(y > self.y[-1], above, x))

    def _beyond(self, y: Array, end: int, slope: float) -> Array:
        """Inverse of the continuation at one end; where it is level, only the end itself, give or take the rounding."""
        if slope > 0.0:
            return self.x[end] + (y - self.y[end]) / slope
        return np.where(np.abs(y - self.y[end]) <= 1e-12 * abs(self.y[end]), self.x[end], np.nan)
