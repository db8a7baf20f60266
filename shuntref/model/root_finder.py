"""Roots and maxima of many functions at once, each point leaving the work as soon as it is done."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np

__all__ = ["Residual", "bracketed_root", "climb"]

Array = np.ndarray[Any, Any]
_SHORTER = 0.3819660112501051  # the smaller part of the golden section
_MOST_STEPS = 120


class Residual(Protocol):
    """A function of one unknown for each of many points."""

    def value(self, magnitude: Array) -> Array:
        """Its values."""

    def take(self, index: Array) -> Residual:
        """The function of some of the points."""


def bracketed_root(residual: Residual, a: Array, fa: Array, b: Array, fb: Array) -> Array:
    """Roots between a and b, where the residual has opposite signs, to rounding.

    Inverse quadratic interpolation where the three last points allow it, bisection where they do not; the first step is
    the secant's. The points that are still at work are drawn together whenever a quarter of them have finished.

    References
    ----------
    T. R. Chandrupatla, A new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear function without
    using derivatives, Advances in Engineering Software 28 (1997) 145-149 (from memory).
    """
    root = np.where(fb == 0.0, b, a)
    epsilon = np.finfo(root.dtype).eps
    tiny = np.finfo(root.dtype).tiny
    places = np.flatnonzero((fa != 0.0) & (fb != 0.0))
    if places.size < root.size:
        residual = residual.take(places)
        a, fa, b, fb = a[places], fa[places], b[places], fb[places]
    with np.errstate(all="ignore"):
        t = fa / (fa - fb)
        t = np.where(np.isfinite(t), np.clip(t, 1e-3, 1.0 - 1e-3), 0.5)
        for _ in range(200):
            if places.size == 0:
                break
            x = a + t * (b - a)
            fx = residual.value(x)
            same = (fx < 0.0) == (fa < 0.0)
            c, fc = np.where(same, a, b), np.where(same, fa, fb)
            b, fb = np.where(same, b, a), np.where(same, fb, fa)
            a, fa = x, fx
            if not fx.all():
                b = np.where(fx == 0.0, a, b)
            best = np.where(np.abs(fa) <= np.abs(fb), a, b)
            width = np.abs(b - a)
            limit = (epsilon * np.abs(best) + tiny) / width
            going = limit < 0.5
            count = int(np.count_nonzero(going))
            if count <= 0.75 * places.size:
                root[places] = best  # those not finished are overwritten when they are
                if count == 0:
                    places = places[:0]
                    break
                keep = np.flatnonzero(going)
                residual, places = residual.take(keep), places[keep]
                a, fa, b, fb, c, fc, limit = a[keep], fa[keep], b[keep], fb[keep], c[keep], fc[keep], limit[keep]
            ratio, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
            smooth = (phi * phi < ratio) & ((1.0 - phi) * (1.0 - phi) < 1.0 - ratio)
            t = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
            t = np.where(smooth & np.isfinite(t), t, 0.5)
            limit = np.minimum(limit, 0.5)
            t = np.minimum(np.maximum(t, limit), 1.0 - limit)
    if places.size:
        root[places] = np.where(np.abs(fa) <= np.abs(fb), a, b)
    return root


def climb(
    residual: Residual, low: Array, f_low: Array, middle: Array, f_middle: Array, high: Array, f_high: Array
) -> tuple[Array, Array]:
    """Climb to the maximum between low and high, or to the first place found where the residual is not negative.

    The parabola through three points says where to look next, the golden section where it says nothing useful, and every
    third time in any case. ``middle`` may coincide with ``low`` where no point between is known.

    Returns
    -------
    tuple of arrays
        Where the climb ended, and the residual there.
    """
    where, best = middle.copy(), f_middle.copy()
    places = np.arange(low.size)
    a, fa, m, fm, b, fb = low, f_low, middle, f_middle, high, f_high
    with np.errstate(all="ignore"):
        for count in range(_MOST_STEPS):
            right = b - m > m - a
            x = np.where(right, m + _SHORTER * (b - m), m - _SHORTER * (m - a))
            p, q = (m - a) * (fm - fb), (m - b) * (fm - fa)
            vertex = m - 0.5 * ((m - a) * p - (m - b) * q) / (p - q)
            near = 1e-7 * np.abs(b)  # a maximum is flat: this far beside it the residual is right to rounding
            there = (np.abs(vertex - m) <= near) & (m > a)
            if count % 3 != 2:
                x = np.where((vertex > a + near) & (vertex < b - near) & ~there, vertex, x)
            fx = residual.value(x)
            higher = fx >= fm
            on_right = x > m
            # the higher of the two points becomes the middle, the lower one an end
            a, fa = (
                np.where(higher, np.where(on_right, m, a), np.where(on_right, a, x)),
                np.where(higher, np.where(on_right, fm, fa), np.where(on_right, fa, fx)),
            )
            b, fb = (
                np.where(higher, np.where(on_right, b, m), np.where(on_right, x, b)),
                np.where(higher, np.where(on_right, fb, fm), np.where(on_right, fx, fb)),
            )
            m, fm = np.where(higher, x, m), np.where(higher, fx, fm)
            done = (fm >= 0.0) | there | (b - a <= 1e-8 * np.abs(b))
            if done.any():
                where[places], best[places] = m, fm
                keep = np.flatnonzero(~done)
                if keep.size == 0:
                    return where, best
                residual, places = residual.take(keep), places[keep]
                a, fa, m, fm, b, fb = a[keep], fa[keep], m[keep], fm[keep], b[keep], fb[keep]
    where[places], best[places] = m, fm
    return where, best
