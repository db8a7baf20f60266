"""Roots and maxima of many functions at once, each point leaving the work as soon as it is done."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np

__all__ = ["Residual", "bracketed_root", "climb"]

Array = np.ndarray[Any, Any]
_GOLDEN = 0.6180339887498949


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


def climb(residual: Residual, low: Array, high: Array) -> tuple[Array, Array]:
    """Climb to the maximum between low and high, or to the first place found where the residual is not negative.

    Returns
    -------
    tuple of arrays
        Where the climb ended, and the residual there.
    """
    where, best = low.copy(), np.full_like(low, -np.inf)
    places = np.arange(low.size)
    a, b = low.copy(), high.copy()
    c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
    fc, fd = residual.value(c), residual.value(d)
    for _ in range(60):
        left = fc >= fd
        top, f_top = np.where(left, c, d), np.where(left, fc, fd)
        better = f_top > best[places]
        where[places[better]], best[places[better]] = top[better], f_top[better]
        going = (f_top < 0.0) & (b - a > 1e-9 * np.abs(b))
        if not np.all(going):
            keep = np.flatnonzero(going)
            residual, places = residual.take(keep), places[keep]
            a, b, c, d, fc, fd, left = a[keep], b[keep], c[keep], d[keep], fc[keep], fd[keep], left[keep]
        if places.size == 0:
            break
        a, b = np.where(left, a, c), np.where(left, d, b)
        inner = np.where(left, b - _GOLDEN * (b - a), a + _GOLDEN * (b - a))
        f_inner = residual.value(inner)
        c, d = np.where(left, inner, d), np.where(left, c, inner)
        fc, fd = np.where(left, f_inner, fd), np.where(left, fc, f_inner)
    return where, best
