"""What an instrument's specification says about a reading: standard uncertainty with the reasoning written out.

Two kinds of error are kept apart. The limit of error of the specification is common to all readings of one instrument: it
does not shrink when readings are repeated, and it links every result found with that instrument. The scatter and the
rounding of readings are each reading's own and do average out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shuntref.bench.accuracy_text import parse_accuracy, span
from shuntref.bench.error_sources import ErrorSource, effective_degrees_of_freedom
from shuntref.quantities.registry import quantity
from shuntref.quantities.text import QuantityError

__all__ = ["KINDS", "Component", "Instrument", "ReadingUncertainty", "instrument_from_table"]

Array = NDArray[np.float64]

#: kind of instrument -> the quantities it reads when nothing else is said
KINDS: dict[str, tuple[str, ...]] = {
    "voltmeter": ("supply_voltage", "source_voltage", "field_voltage", "armature_voltage", "back_emf"),
    "ammeter": ("field_current", "armature_current", "line_current"),
    "tachometer": ("speed_rpm",),
    "ohmmeter": (
        "field_resistance",
        "armature_resistance",
        "added_field_resistance",
        "added_armature_resistance",
        "line_resistance",
    ),
    "thermometer": ("winding_temperature",),
    "torque meter": ("load_torque",),
}
_FIELDS = {"kind", "reads", "accuracy", "range", "resolution", "scatter", "note"}


@dataclass(frozen=True, slots=True)
class Component:
    """One contribution to the standard uncertainty of a reading, in the unit of the reading."""

    name: str
    evaluation: str  # "A" from repeated readings, "B" from other knowledge
    standard_uncertainty: float
    dof: float
    reasoning: str


@dataclass(frozen=True, slots=True)
class ReadingUncertainty:
    """A reading (or the mean of several) with its standard uncertainty and where that comes from."""

    quantity: str
    value: float
    standard_uncertainty: float
    dof: float
    components: tuple[Component, ...]
    warnings: tuple[str, ...] = ()

    @property
    def reasoning(self) -> str:
        """The reasoning, one line for each component."""
        return "\n".join(f"{c.name} (type {c.evaluation}): {c.reasoning}" for c in self.components)


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as its data sheet or its certificate describes it, in the registry unit of what it reads.

    ``percent_of_reading`` and ``percent_of_range`` in per cent; ``digits`` counts of the last digit; ``absolute`` a fixed
    limit; ``full_scale`` the range in use; ``resolution`` one count (or the part of a scale division one can read);
    ``scatter`` the standard deviation of one reading at a steady setting, when it is known.
    """

    name: str
    reads: tuple[str, ...]
    percent_of_reading: float = 0.0
    digits: float = 0.0
    percent_of_range: float = 0.0
    absolute: float = 0.0
    full_scale: float = 0.0
    resolution: float = 0.0
    scatter: float = 0.0
    kind: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        for field in (
            "percent_of_reading",
            "digits",
            "percent_of_range",
            "absolute",
            "full_scale",
            "resolution",
            "scatter",
        ):
            number = getattr(self, field)
            if not (math.isfinite(number) and number >= 0.0):
                raise ValueError(
                    f"{self.name}: {field.replace('_', ' ')} is {number}; a number that is not negative is wanted"
                )
        if self.digits > 0.0 and self.resolution == 0.0:
            raise ValueError(f"{self.name}: its accuracy counts digits, so state what one digit is (resolution)")
        if self.percent_of_range > 0.0 and self.full_scale == 0.0:
            raise ValueError(f"{self.name}: its accuracy is a percentage of the range, so state the range")
        if not self.reads:
            raise ValueError(f"{self.name}: state which quantities it reads")
        if "speed" in self.reads:
            raise ValueError(
                f"{self.name}: logs keep speeds in r/min, so let it read speed_rpm and state its figures in r/min"
            )

    @property
    def gain_limit(self) -> float:
        """Limit of the error that grows with the reading, relative."""
        return self.percent_of_reading / 100.0

    @property
    def zero_limit(self) -> float:
        """Limit of the error that is the same at every reading, in the unit of the reading."""
        return self.digits * self.resolution + self.percent_of_range / 100.0 * self.full_scale + self.absolute

    @property
    def random_uncertainty(self) -> float:
        """Standard uncertainty that one reading has on its own: its scatter and its rounding."""
        return math.hypot(self.scatter, self.resolution / math.sqrt(12.0))

    def common_errors(self, readings: Array) -> list[tuple[ErrorSource, Array]]:
        """Return each common error with the shift of every reading for one standard uncertainty of it.

        Parameters
        ----------
        readings : array, any shape
            In the registry unit.

        Returns
        -------
        list of (ErrorSource, array)
            The gain and the zero of this instrument, each a rectangular limit over sqrt(3), independent of one another.
        """
        found = []
        for part, limit, shift in (
            ("gain", self.gain_limit, np.asarray(readings, dtype=float) * self.gain_limit),
            ("zero", self.zero_limit, np.full(np.shape(readings), self.zero_limit)),
        ):
            if limit > 0.0:
                source = ErrorSource(
                    f"{self.name}: {part}",
                    f"{part} of {self.name}, within its limits",
                    f"{self.name}: {part}",
                    shape="rectangular",
                )
                found.append((source, np.asarray(shift / math.sqrt(3.0), dtype=float)))
        return found

    def uncertainty(self, reading: float, repeats: int = 1, observed_sd: float | None = None) -> ReadingUncertainty:
        """Return the standard uncertainty of a reading, or of the mean of repeated readings.

        Parameters
        ----------
        reading : float
            Reading or mean, in the registry unit.
        repeats : int
            How many readings the mean is of.
        observed_sd : float, optional
            Sample standard deviation of the repeats, in the registry unit.

        Notes
        -----
        The parts of a specification are one limit a (they add); u = a/sqrt(3). Scatter: the stated one when there is one,
        unless the repeats scatter far more; else the repeats' own with repeats - 1 degrees of freedom. Both divide by the
        root of the number of readings; the limit does not.

        References
        ----------
        JCGM 100:2008, 4.2.3 (type A), 4.3.7 (rectangular), F.2.2.1 (resolution) (clauses from memory).

        Examples
        --------
        >>> meter = Instrument("tachometer", ("speed_rpm",), percent_of_reading=0.05, digits=1, resolution=1.0)
        >>> result = meter.uncertainty(1500.0)
        >>> round(result.components[0].standard_uncertainty, 4)
        1.0104
        >>> print(result.components[0].reasoning)
        limits 0.05 % of 1500 + 1 digit of 1 r/min = 1.75 r/min, any error within them as likely: over sqrt(3)
        """
        if not math.isfinite(reading):
            raise ValueError(f"{self.name}: a reading of {reading} is no reading")
        if repeats < 1 or (observed_sd is not None and (repeats < 2 or not observed_sd >= 0.0)):
            raise ValueError(f"{self.name}: {repeats} readings with standard deviation {observed_sd} is not possible")
        unit = quantity(self.reads[0]).unit
        components: list[Component] = []
        limit = self.gain_limit * abs(reading) + self.zero_limit
        if limit > 0.0:
            components.append(
                Component(
                    "specification",
                    "B",
                    limit / math.sqrt(3.0),
                    math.inf,
                    f"limits {self._limit_text(reading, unit)} = {limit:.4g} {unit}, any error within "
                    "them as likely: over sqrt(3)",
                )
            )
        if self.resolution > 0.0:
            u = self.resolution / math.sqrt(12.0) / math.sqrt(repeats)
            components.append(
                Component(
                    "rounding",
                    "B",
                    u,
                    math.inf,
                    f"last digit {self.resolution:.4g} {unit}, half a digit either way, {_over(repeats)}",
                )
            )
        scatter, warnings = self._scatter(repeats, observed_sd, unit)
        components += scatter
        variances = {c.name: c.standard_uncertainty**2 for c in components}
        total = math.sqrt(sum(variances.values()))
        dof = effective_degrees_of_freedom(variances, {c.name: c.dof for c in components})
        return ReadingUncertainty(self.reads[0], reading, total, dof, tuple(components), tuple(warnings))

    def _scatter(self, repeats: int, observed: float | None, unit: str) -> tuple[list[Component], list[str]]:
        own = math.inf if observed is None else self.random_uncertainty
        if self.scatter > 0.0:
            # 3.3 times in standard deviation is beyond 99.9 % of chance for two readings or more
            if observed is None or observed <= 3.3 * own:
                u = self.scatter / math.sqrt(repeats)
                return [
                    Component(
                        "scatter",
                        "B",
                        u,
                        math.inf,
                        f"stated scatter {self.scatter:.4g} {unit} of one reading, {_over(repeats)}",
                    )
                ], []
            warning = (
                f"{self.name}: {repeats} readings scatter by {observed:.3g} {unit}, far more than the stated "
                f"{self.scatter:.3g} {unit}; the larger figure was used. Was the setting steady?"
            )
            return [self._type_a(observed, repeats, unit)], [warning]
        if observed is not None:
            return [self._type_a(observed, repeats, unit)], []
        return [], [] if repeats > 1 else [
            f"{self.name}: a single reading and no stated scatter, so its scatter is not in "
            "the uncertainty; repeat the reading a few times"
        ]

    @staticmethod
    def _type_a(observed: float, repeats: int, unit: str) -> Component:
        return Component(
            "scatter",
            "A",
            observed / math.sqrt(repeats),
            repeats - 1.0,
            f"standard deviation {observed:.4g} {unit} of {repeats} readings over sqrt({repeats})",
        )

    def _limit_text(self, reading: float, unit: str) -> str:
        parts = []
        if self.percent_of_reading:
            parts.append(f"{self.percent_of_reading:g} % of {abs(reading):.6g}")
        if self.percent_of_range:
            parts.append(f"{self.percent_of_range:g} % of the range {self.full_scale:g} {unit}")
        if self.digits:
            parts.append(f"{self.digits:g} digit{'' if self.digits == 1 else 's'} of {self.resolution:g} {unit}")
        if self.absolute:
            parts.append(f"{self.absolute:g} {unit}")
        return " + ".join(parts)


def _over(repeats: int) -> str:
    return "one reading" if repeats == 1 else f"over sqrt({repeats}) for {repeats} readings"


def instrument_from_table(name: str, table: Mapping[str, Any]) -> Instrument:
    """Build an instrument from a table of a bench file.

    Parameters
    ----------
    name : str
        What the instrument is called at the bench; readings of the same name share its errors.
    table : mapping
        ``kind`` (one of ``KINDS``) or ``reads`` (registry names), ``accuracy``, and as needed ``range``, ``resolution``,
        ``scatter`` (texts with unit) and ``note``.

    Raises
    ------
    ValueError
        Unknown or missing field, named.

    Examples
    --------
    >>> meter = instrument_from_table("voltmeter", {"kind": "voltmeter", "accuracy": "0.5 % + 2 digits",
    ...                                             "resolution": "0.1 V"})
    >>> meter.zero_limit, meter.reads[0]
    (0.2, 'supply_voltage')
    """
    if not isinstance(table, Mapping):
        raise ValueError(f"instrument {name!r:.60}: a table is wanted, not {table!r:.40}")
    unknown = sorted(set(table) - _FIELDS)
    if unknown:
        raise ValueError(f"instrument {name!r}: unknown field {unknown[0]!r}; known are {', '.join(sorted(_FIELDS))}")
    kind = table.get("kind", "")
    if not isinstance(kind, str):
        raise ValueError(f"instrument {name!r:.60}: kind = {kind!r:.40}; one of {', '.join(KINDS)} is wanted")
    reads = table.get("reads") or KINDS.get(kind, ())
    reads = (reads,) if isinstance(reads, str) else reads
    if not isinstance(reads, list | tuple) or not all(isinstance(entry, str) for entry in reads):
        raise ValueError(
            f"instrument {name!r:.60}: reads = {reads!r:.40}; a quantity or a list of quantities is wanted"
        )
    reads = tuple("speed_rpm" if entry == "speed" else entry for entry in reads)
    if not reads or (kind and kind not in KINDS):
        raise ValueError(f"instrument {name!r}: state its kind ({', '.join(KINDS)}) or what it reads")
    for entry in reads:
        try:
            quantity(entry)
        except KeyError as error:
            raise ValueError(f"instrument {name!r}: {error.args[0]}") from None
    if len({quantity(entry).unit for entry in reads}) > 1:
        raise ValueError(f"instrument {name!r} cannot read quantities with different units ({', '.join(reads)})")
    for field, entry in table.items():
        if field != "reads" and not isinstance(entry, str):
            raise ValueError(f"instrument {name!r}: {field} = {entry!r}; write it as text with its unit")
    sizes: dict[str, float] = {}
    for field, target in (("range", "full_scale"), ("resolution", "resolution"), ("scatter", "scatter")):
        if field in table:
            try:
                sizes[target] = span(reads[0], table[field].strip())
            except QuantityError as error:
                raise ValueError(f"instrument {name!r}, {field}: {error}") from None
    try:
        accuracy = parse_accuracy(table["accuracy"], reads[0]) if "accuracy" in table else {}
        return Instrument(name, reads, kind=kind, note=table.get("note", ""), **sizes, **accuracy)
    except ValueError as error:
        message = str(error).removeprefix(f"{name}: ")
        raise ValueError(f"instrument {name!r}: {message}") from None
