"""An instrument's accuracy, read as data sheets write it."""

from __future__ import annotations

import re

from shuntref.quantities.registry import quantity
from shuntref.quantities.text import QuantityError, parse_value

__all__ = ["parse_accuracy", "span"]


def parse_accuracy(text: str, reads: str) -> dict[str, float]:
    """Read an accuracy as data sheets write it.

    Parameters
    ----------
    text : str
        ``0.5 % of reading + 2 digits``, ``1 % of range``, ``class 1.5``, ``0.5 degC``, or a sum of such parts. A bare
        per cent is of the reading; a class is per cent of the range (common practice for pointer instruments).
    reads : str
        Quantity that the instrument reads, for the unit of a fixed limit.

    Returns
    -------
    dict
        Fields of :class:`Instrument`.

    Examples
    --------
    >>> parse_accuracy("±(0.5 % of reading + 2 digits)", "supply_voltage")
    {'percent_of_reading': 0.5, 'digits': 2.0}
    >>> parse_accuracy("class 1.5", "armature_current")
    {'percent_of_range': 1.5}
    """
    found: dict[str, float] = {}
    clean = text.strip().replace("+/-", "").lstrip("±").strip()
    if clean.startswith("(") and clean.endswith(")"):
        clean = clean[1:-1]
    number = r"(\d{1,9}(?:\.\d{0,9})?)"
    patterns = (
        ("percent_of_range", rf"{number}\s*%\s*(?:of\s+)?(?:the\s+)?(?:range|full[ -]scale|f\.?s\.?)"),
        ("percent_of_range", rf"class\s+{number}"),
        ("percent_of_reading", rf"{number}\s*%(?:\s*(?:of\s+)?(?:the\s+)?(?:reading|rdg\.?))?"),
        ("digits", rf"{number}\s*(?:digits?|counts?|dgts?\.?)"),
    )
    for part in clean.split("+"):
        matches = ((field, re.fullmatch(pattern, part.strip(), flags=re.IGNORECASE)) for field, pattern in patterns)
        field, match = next(((field, match) for field, match in matches if match), ("absolute", None))
        try:
            amount = float(match.group(1)) if match else span(reads, part.strip())
        except QuantityError:
            raise ValueError(
                f"accuracy {text[:60]!r}: {part.strip()[:40]!r} is not understood; write for example "
                "'0.5 % of reading + 2 digits', '1 % of range' or 'class 1.5'"
            ) from None
        if field in found:
            raise ValueError(f"accuracy {text[:60]!r} states {field.replace('_', ' ')} twice")
        found[field] = amount
    return found


def span(reads: str, text: str) -> float:
    """Read a size, not a point on a scale: 0.5 K and 0.5 degC are the same span."""
    amount = parse_value(reads, text)
    if quantity(reads).unit == "degC":
        amount -= parse_value(reads, re.sub(r"^[\d.]+", "0", text))
    return amount
