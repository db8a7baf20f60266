"""The running point that is continuous with no load: the first root met when the current grows from zero."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from shuntref.model.root_finder import bracketed_root, climb
from shuntref.model.torque_balance import Directed

__all__ = ["FirstRoots", "first_roots"]

Array = np.ndarray[Any, Any]
_GROWTH = 1.25
_MOST_STEPS = 130


@dataclass
class FirstRoots:
    """Magnitude of the current of each point, whether there is a root, and whether the torque was seen to pass a peak.

    Without a root the current is the one at the peak, or at the end of the walk.
    """

    current: Array
    found: Array
    peaked: Array


def first_roots(residual: Directed, no_load: Array, natural: Array, greatest: Array) -> FirstRoots:
    """Walk outwards from no load until the residual changes sign, then close in on the root.

    The steps are scaled to the current that the no-load flux would need, and grow by a quarter each, so that weakening
    flux is followed closely. Where the residual turns down while still negative, the peak between is climbed before
    going on, so that two roots close together are not stepped over.

    Parameters
    ----------
    residual : Directed
    no_load : array
        Residual at zero current; negative.
    natural : array
        Current [A] that the torque at no load would need with the flux at no load.
    greatest : array
        Current [A] at which to stop.
    """
    n = no_load.size
    roots = FirstRoots(np.zeros_like(no_load), np.zeros(n, bool), np.zeros(n, bool))
    a, fa, b, fb = (np.zeros_like(no_load) for _ in range(4))
    places = np.flatnonzero(greatest > 0.0)
    base = np.minimum(natural, np.where(np.isinf(greatest), natural, greatest / 8.0))
    at = residual if places.size == n else residual.take(places)
    base, limit = base[places], greatest[places]
    x2 = x1 = np.zeros_like(base)
    h2 = h1 = no_load[places]
    reach = 0.5
    for _ in range(_MOST_STEPS):
        if places.size == 0:
            break
        x = np.minimum(base * reach, limit)
        h = at.value(x)
        hit = h >= 0.0
        turned = ~hit & (h < h1) & (h1 >= h2)
        bracket_low, bracket_high, f_low, f_high = x1, x, h1, h
        ended = ~hit & ((x >= limit) | np.isneginf(h))
        low, f_low0, middle, f_middle = x2, h2, x1, h1
        last = np.flatnonzero(ended & ~turned & np.isfinite(h))
        if last.size:  # a peak between the last step and the end shows as a fall at the end
            before = np.maximum(x[last] * (1.0 - 1e-4), x1[last])
            h_before = at.take(last).value(before)
            falling = (h_before > h[last]) & (h_before > h1[last])
            if falling.any():
                at_end, before, h_before = last[falling], before[falling], h_before[falling]
                turned[at_end] = True
                low, f_low0, middle, f_middle = x2.copy(), h2.copy(), x1.copy(), h1.copy()
                low[at_end], f_low0[at_end] = x1[at_end], h1[at_end]
                middle[at_end], f_middle[at_end] = before, h_before
        peak = np.flatnonzero(turned)
        if peak.size:
            roots.peaked[places[peak]] = True
            top, h_top = climb(at.take(peak), low[peak], f_low0[peak], middle[peak], f_middle[peak], x[peak], h[peak])
            over = h_top >= 0.0
            roots.current[places[peak]] = top
            won = peak[over]
            hit[won] = True
            bracket_low, bracket_high = bracket_low.copy(), x.copy()
            f_low, f_high = f_low.copy(), h.copy()
            bracket_low[won], f_low[won] = low[won], f_low0[won]
            bracket_high[won], f_high[won] = top[over], h_top[over]
        done = np.flatnonzero(hit)
        if done.size:
            target = places[done]
            a[target], fa[target] = bracket_low[done], f_low[done]
            b[target], fb[target] = bracket_high[done], f_high[done]
            roots.found[target] = True
        lost = np.flatnonzero(ended & ~hit & ~turned)
        lost = lost[~roots.peaked[places[lost]]]
        roots.current[places[lost]] = x[lost]
        keep = np.flatnonzero(~(hit | ended))
        x2, h2, x1, h1 = x1, h1, x, h
        if keep.size < places.size:
            places, at = places[keep], at.take(keep)
            base, limit = base[keep], limit[keep]
            x2, h2, x1, h1 = x2[keep], h2[keep], x1[keep], h1[keep]
        reach = 1.0 if reach == 0.5 else reach * _GROWTH
    walking = ~roots.peaked[places]
    roots.current[places[walking]] = x1[walking]
    closed = np.flatnonzero(roots.found)
    if closed.size:
        of = residual if closed.size == n else residual.take(closed)
        roots.current[closed] = bracketed_root(of, a[closed], fa[closed], b[closed], fb[closed])
    return roots
