"""Repeated readings: which one, if any, cannot belong to the others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

__all__ = ["suspect_reading"]

#: a slip is a matter of several per cent (a wrong digit, a wrong decade); less is scatter and stays in the mean
LEAST_SLIP = 0.03


def suspect_reading(readings: Sequence[float], times: float = 8.0) -> tuple[int, float] | None:
    """Return (position, mean of the others) of a reading that cannot belong to the others, or None.

    Parameters
    ----------
    readings : sequence of float
        Three or more repeats; with fewer nobody can say which one is wrong.
    times : float
        How many times the spread of the others away it must lie, besides 3 % of their mean.

    Notes
    -----
    The spread is the range of the other readings (not a standard deviation: of two or three readings that is too unsure).
    One reading at most is named; when two stand apart the set does not agree and the mean's scatter must show it.

    Examples
    --------
    >>> suspect_reading([1450, 1452, 1540, 1451])
    (2, 1451.0)
    >>> suspect_reading([1450, 1452, 1460]) is None
    True
    """
    values = np.asarray(readings, dtype=float)
    if len(values) < 3:
        return None
    position = int(np.argmax(np.abs(values - np.median(values))))
    others = np.delete(values, position)
    centre, spread = float(others.mean()), float(np.ptp(others))
    distance = abs(float(values[position]) - centre)
    if centre != 0.0 and distance > LEAST_SLIP * abs(centre) and distance > times * spread:
        return position, centre
    return None
