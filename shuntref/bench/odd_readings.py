"""Readings that do not belong to their run even where its speed agrees: a swapped pair of ammeters, a slip of the pen."""

from __future__ import annotations

from collections.abc import Sequence

from shuntref.bench.compare import RunComparison

__all__ = ["odd_readings"]

#: standard uncertainties between a reading and its prediction above which it is called odd
_ODD = 4.0

#: how far two readings may lie from each other's predictions, relative, to be called swapped
_SWAPPED = 0.2

_METERS = {"field_current": "field ammeter", "armature_current": "armature ammeter", "line_current": "line ammeter"}


def _words(run: RunComparison) -> str:
    odd = {
        name: (measured, predicted, abs(measured - predicted) / u)
        for name, (measured, predicted, u) in run.others.items()
        if u > 0.0 and abs(measured - predicted) > _ODD * u
    }
    if not odd:
        return ""
    names = list(run.others)
    for i, first in enumerate(names):
        for second in names[i + 1 :]:
            (read_1, expected_1, _), (read_2, expected_2, _) = run.others[first], run.others[second]
            crossed = abs(read_1 - expected_2) <= _SWAPPED * abs(expected_2) and abs(read_2 - expected_1) <= (
                _SWAPPED * abs(expected_1)
            )
            if crossed and first in odd and second in odd:
                return (
                    f"run {run.run.name}: the {_METERS[first]} and the {_METERS[second]} look swapped, or their columns: "
                    f"read {read_1:.4g} A and {read_2:.4g} A, predicted {expected_1:.4g} A and {expected_2:.4g} A"
                )
    name = max(odd, key=lambda key: odd[key][2])
    measured, predicted, apart = odd[name]
    return (
        f"run {run.run.name}: the {name.replace('_', ' ')} read, {measured:.4g} A, is {apart:.0f} standard uncertainties from "
        f"the {predicted:.4g} A predicted"
    )


def odd_readings(runs: Sequence[RunComparison]) -> tuple[str, ...]:
    """Say which runs that agree in speed have a current that does not.

    Parameters
    ----------
    runs : sequence of RunComparison

    Returns
    -------
    tuple of str
        One sentence for each such run. A run whose speed disagrees is left to the search for causes, which weighs its
        currents as well, except that a swap of two meters is named in any case.
    """
    found = [(run, words) for run in runs if (words := _words(run))]
    return tuple(words for run, words in found if run.agrees or "swapped" in words)
