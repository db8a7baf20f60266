"""Instruments taken for those that a bench file does not describe: without a limit of error no verdict means anything."""

from __future__ import annotations

from collections.abc import Mapping

from shuntref.bench.accuracy_text import parse_accuracy
from shuntref.bench.instruments import KINDS, Instrument

__all__ = ["ASSUMED_ACCURACY", "with_assumed_instruments"]

#: kind -> accuracy and resolution [unit of the reading] of an ordinary instrument of that kind; common practice, no source
ASSUMED_ACCURACY: dict[str, tuple[str, float]] = {
    "voltmeter": ("1.5 % of reading", 0.1),
    "ammeter": ("1.5 % of reading", 0.01),
    "tachometer": ("0.5 % of reading", 1.0),
    "ohmmeter": ("2 % of reading", 0.0),
    "thermometer": ("2 degC", 1.0),
    "torque meter": ("3 % of reading", 0.01),
}


def with_assumed_instruments(
    described: Mapping[str, Instrument], quantities: frozenset[str]
) -> tuple[dict[str, Instrument], tuple[str, ...]]:
    """The instruments described, and an ordinary one for every quantity of a log that none of them reads.

    Parameters
    ----------
    described : mapping
        Name to instrument, as the bench file has them.
    quantities : frozenset of str
        What the log has readings of.

    Returns
    -------
    instruments, notes
        One note that lists what was taken; none when every quantity has its instrument.

    Notes
    -----
    With nothing assumed a reading would count as exact, and a motor that runs half a turn off its prediction as faulty.

    Examples
    --------
    >>> meters, notes = with_assumed_instruments({}, frozenset({"speed_rpm"}))
    >>> list(meters), meters["assumed tachometer"].gain_limit
    (['assumed tachometer'], 0.005)
    >>> notes[0][:72]
    'no instrument is described for speed (taken as good to 0.5 % of reading)'
    """
    read = {name for instrument in described.values() for name in instrument.reads}
    instruments, taken = dict(described), []
    for kind, (accuracy, resolution) in ASSUMED_ACCURACY.items():
        missing = tuple(name for name in KINDS[kind] if name in quantities and name not in read)
        if not missing:
            continue
        name = f"assumed {kind}"
        limits = parse_accuracy(accuracy, missing[0])
        instruments[name] = Instrument(name, missing, resolution=resolution, kind=kind, note="assumed", **limits)
        words = ", ".join(m.removesuffix("_rpm").replace("_", " ") for m in missing)
        taken.append(f"{words} (taken as good to {accuracy})")
    if not taken:
        return instruments, ()
    note = (
        f"no instrument is described for {'; '.join(taken)}: ordinary limits of error, no source. Describe your instruments "
        "under [instruments]: a verdict is worth no more than these figures"
    )
    return instruments, (note,)
