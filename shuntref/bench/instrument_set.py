"""The instruments of one bench: which of them read which quantity."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from shuntref.bench.instruments import Instrument, instrument_from_table

__all__ = ["InstrumentSet"]


@dataclass(frozen=True)
class InstrumentSet:
    """Instruments of which no two read the same quantity.

    Examples
    --------
    >>> meters = InstrumentSet.from_tables({"M1": {"kind": "voltmeter", "accuracy": "0.5 %"}})
    >>> meters.reading("field_voltage").name, meters.reading("speed_rpm") is None
    ('M1', True)
    """

    instruments: tuple[Instrument, ...] = ()

    def __post_init__(self) -> None:
        held: dict[str, str] = {}
        for instrument in self.instruments:
            for name in instrument.reads:
                if name in held:
                    raise ValueError(
                        f"the instruments {held[name]!r} and {instrument.name!r} both read {name}; state for each "
                        "of them what it reads"
                    )
                held[name] = instrument.name

    @classmethod
    def of(cls, instruments: Iterable[Instrument] | Mapping[str, Instrument] | InstrumentSet) -> InstrumentSet:
        """Return a set of the given instruments (a set, a list, or the values of a mapping)."""
        if isinstance(instruments, InstrumentSet):
            return instruments
        return cls(tuple(instruments.values() if isinstance(instruments, Mapping) else instruments))

    @classmethod
    def from_tables(cls, tables: Mapping[str, Mapping[str, Any]]) -> InstrumentSet:
        """Return the instruments described by the tables of a bench file."""
        return cls(tuple(instrument_from_table(name, table) for name, table in tables.items()))

    def reading(self, name: str) -> Instrument | None:
        """Return the instrument that reads ``name``, or None."""
        return next((instrument for instrument in self.instruments if name in instrument.reads), None)
