"""Values written as text with their unit ("0.8 ohm", "1450 r/min", "7.5 hp") turned into numbers, and back.

This is the edge: files and the command line carry units as text, everything inside carries plain numbers in the units of
the registry. A bare number where a unit is needed, an unknown unit or a wrong dimension is refused.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal

from shuntref.quantities.registry import Quantity, quantity
from shuntref.quantities.units import UnitError, unit_scale

__all__ = [
    "QuantityError",
    "WrittenValue",
    "format_value",
    "parse_value",
    "parse_values",
    "read_assignment",
    "read_value",
    "unit_factor",
    "with_decimal_point",
]

LONGEST_TEXT = 500
MOST_VALUES = 1_000_000

#: 1711,6 or 0,125, but not 1,712, which might be a thousand and some
_DECIMAL_COMMA = re.compile(r"^([+-]?(?:0*,\d+|\d+,(?!\d{3}(?!\d))\d+|\d{4,},\d+))(?![\d.,])")
_NUMBER = re.compile(r"[+-]?(?:\d{1,40}(?:\.\d{0,40})?|\.\d{1,40})(?:[eE][+-]?\d{1,3})?")


class QuantityError(ValueError):
    """A text that is not a value of the quantity; the message names the quantity, the text and an accepted example."""


@dataclass(frozen=True, slots=True)
class WrittenValue:
    """A value as it was written.

    ``value`` is in the registry unit of the quantity; ``half_unit`` is half a unit of the last written digit, in the same
    unit: what rounding may have taken away.
    """

    quantity: str
    text: str
    number_text: str
    unit_text: str
    value: float
    half_unit: float


def _refuse(entry: Quantity, text: str, why: str) -> QuantityError:
    shown = text if len(text) <= 60 else text[:57] + "..."
    return QuantityError(f"{entry.name} = {shown!r}: {why}; write for example {entry.example!r}")


def _half_unit(number: str) -> float:
    mantissa, _, exponent = number.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(f"5e{int(exponent or 0) - decimals - 1}")  # read as text: no power that could overflow


def _to_registry(number: str, factor: Decimal, offset: Decimal) -> float:
    return float(
        Decimal(number) * factor + offset
    )  # decimal until here: the float is the one nearest to what was written


def _scale(entry: Quantity, unit: str, text: str, horsepower: str, bare: bool) -> tuple[Decimal, Decimal]:
    if not unit:
        if bare or entry.unit == "1":
            return Decimal(1), Decimal(0)
        raise _refuse(entry, text, "a bare number; the unit is missing")
    try:
        return unit_scale(entry, unit, horsepower)
    except UnitError as error:
        raise _refuse(entry, text, str(error)) from None


def read_value(name: str, text: str, *, horsepower: str = "mechanical", bare: bool = False) -> WrittenValue:
    """Read one value with its unit and keep how it was written.

    Parameters
    ----------
    name
        Name of a registry quantity.
    text
        A number and a unit, at most 500 characters.
    horsepower
        What ``hp`` means: ``"mechanical"`` (745.699... W), ``"electric"`` (746 W) or ``"metric"`` (735.49875 W).
    bare
        Accept a number without unit, taken in the registry unit.

    Returns
    -------
    WrittenValue
        The value in the registry unit and half a unit of its last digit.

    Raises
    ------
    QuantityError
        Not a number, not finite, no unit, unknown unit or a unit of another dimension.

    Examples
    --------
    >>> written = read_value("flux_per_pole", "25.0 mWb")
    >>> written.value, written.half_unit
    (0.025, 5e-05)
    >>> read_value("armature_resistance", "0.8 V")
    Traceback (most recent call last):
        ...
    shuntref.quantities.text.QuantityError: armature_resistance = '0.8 V': 'V' is not a unit of armature resistance...
    """
    entry = _entry(name)
    if not isinstance(text, str):
        raise QuantityError(
            f"{entry.name} = {text!r:.60}: text with a unit is wanted; write for example {entry.example!r}"
        )
    if len(text) > LONGEST_TEXT:
        raise _refuse(entry, text, f"a text of {len(text)} characters is not a value")
    clean = text.strip().replace("−", "-")  # the typographic minus of word processors
    match = _NUMBER.match(clean)
    if match is None:
        raise _refuse(entry, text, "this does not begin with a number")
    rest = clean[match.end() :]
    if re.match(r"[,.]?\d|[,.](?=\s|$)", rest):
        raise _refuse(entry, text, "one number with a decimal point is wanted, no thousands separators")
    unit = rest.strip()
    factor, offset = _scale(entry, unit, text, horsepower, bare)
    value = _to_registry(match.group(), factor, offset)
    half = _half_unit(match.group()) * float(factor)
    if not (math.isfinite(value) and math.isfinite(half)):  # 0e999 is nought, give or take more than there is
        raise _refuse(entry, text, "the value is not finite")
    return WrittenValue(entry.name, text, match.group(), unit, value, abs(half))


def parse_value(name: str, text: str, *, horsepower: str = "mechanical", bare: bool = False) -> float:
    """Read one value with its unit and return it in the registry unit; see :func:`read_value`.

    Parameters
    ----------
    name : str
        Of the quantity.
    text : str
        A number with its unit.
    horsepower : {"mechanical", "electric", "metric"}
        What "hp" means: 745.7 W, 746 W or 735.5 W.
    bare : bool
        Whether a number without a unit is taken in the registry unit.

    Returns
    -------
    float
        In the registry unit.

    Raises
    ------
    QuantityError
        As :func:`read_value`.

    Examples
    --------
    >>> parse_value("speed", "1500 r/min")
    157.07963267948966
    >>> parse_value("output_power", "7.5 hp")
    5592.749036867027
    """
    return read_value(name, text, horsepower=horsepower, bare=bare).value


def parse_values(name: str, text: str, *, horsepower: str = "mechanical", bare: bool = False) -> tuple[float, ...]:
    """Read one value, a list ("0, 10, 20 ohm") or a range ("0:50:11 ohm", start:stop:count) in the registry unit.

    A unit written after the last number of a list holds for all of them.

    Parameters
    ----------
    name : str
        Of the quantity.
    text : str
        One value, several with commas, or start:stop:count.
    horsepower : {"mechanical", "electric", "metric"}
        What "hp" means: 745.7 W, 746 W or 735.5 W.
    bare : bool
        Whether a number without a unit is taken in the registry unit.

    Returns
    -------
    tuple of float
        In the registry unit.

    Raises
    ------
    QuantityError
        As :func:`read_value`, and for a count that is not from 2 to 1 000 000.

    Examples
    --------
    >>> parse_values("added_field_resistance", "0:20:3 ohm")
    (0.0, 10.0, 20.0)
    >>> parse_values("load_torque", "1, 2.5 N m")
    (1.0, 2.5)
    """
    entry = _entry(name)
    if not isinstance(text, str) or len(text) > LONGEST_TEXT * 20:
        raise QuantityError(f"{entry.name}: a list of at most {LONGEST_TEXT * 20} characters is wanted")
    if ":" in text:
        return _parse_range(entry, text, horsepower, bare)
    if "," not in text:
        return (parse_value(name, text, horsepower=horsepower, bare=bare),)
    items = [item.strip() for item in text.split(",")]
    last = _NUMBER.match(items[-1].replace("−", "-"))
    unit = items[-1][last.end() :].strip() if last else ""
    values = []
    for item in items:
        number = _NUMBER.fullmatch(item.replace("−", "-"))
        values.append(
            parse_value(name, f"{item} {unit}" if number and unit else item, horsepower=horsepower, bare=bare)
        )
    return tuple(values)


def _parse_range(entry: Quantity, text: str, horsepower: str, bare: bool) -> tuple[float, ...]:
    match = re.fullmatch(rf"\s*({_NUMBER.pattern})\s*:\s*({_NUMBER.pattern})\s*:\s*(\d{{1,7}})\s*(.*?)\s*", text)
    if match is None:
        raise _refuse(entry, text, "a range is written start:stop:count and a unit")
    count = int(match[3])
    if not 2 <= count <= MOST_VALUES:
        raise _refuse(entry, text, f"a range has from 2 to {MOST_VALUES} values, not {count}")
    factor, offset = _scale(entry, match[4], text, horsepower, bare)
    start, stop = _to_registry(match[1], factor, offset), _to_registry(match[2], factor, offset)
    if not (math.isfinite(start) and math.isfinite(stop)):
        raise _refuse(entry, text, "the value is not finite")
    # both ends exactly, and no drift on the way
    return tuple(start * ((count - 1 - i) / (count - 1)) + stop * (i / (count - 1)) for i in range(count))


def _entry(name: str) -> Quantity:
    try:
        return quantity(name)
    except KeyError as error:
        raise QuantityError(error.args[0]) from None


def read_assignment(text: str) -> tuple[str, str]:
    """Split ``name="value unit"`` into the name of a quantity and its text.

    Raises
    ------
    QuantityError
        No equals sign, or a name that is not in the registry.

    Examples
    --------
    >>> read_assignment("added_field_resistance=10 ohm")
    ('added_field_resistance', '10 ohm')
    """
    name, equals, value = text.partition("=")
    if not equals or not value.strip():
        raise QuantityError(
            f"{text[:60]!r}: write name=value with its unit, for example 'added_field_resistance=10 ohm'"
        )
    return _entry(name.strip()).name, value.strip()


def unit_factor(name: str, unit: str, *, horsepower: str = "mechanical") -> float:
    """Return the factor from a number in ``unit`` to the registry unit of the quantity.

    Parameters
    ----------
    name : str
        Of the quantity.
    unit : str
        As it is written.
    horsepower : {"mechanical", "electric", "metric"}
        What "hp" means: 745.7 W, 746 W or 735.5 W.

    Returns
    -------
    float

    Raises
    ------
    QuantityError
        Unknown unit, wrong dimension, or a unit with an offset (degF).

    Examples
    --------
    >>> unit_factor("output_power", "kW")
    1000.0
    """
    entry = _entry(name)
    factor, offset = _scale(entry, unit.strip(), unit, horsepower, False)
    if offset:
        raise _refuse(entry, unit, "this unit has an offset, not a factor")
    return float(factor)


def format_value(name: str, value: float, unit: str | None = None, *, digits: int = 4) -> str:
    """Write a value with a unit, by default the registry's, to ``digits`` significant figures.

    Parameters
    ----------
    name : str
        Of the quantity.
    value : float
        In the registry unit.
    unit : str, optional
        To write it in.
    digits : int
        Significant figures.

    Returns
    -------
    str

    Raises
    ------
    QuantityError
        A unit that is not one of the quantity.

    Examples
    --------
    >>> format_value("speed", 157.07963267948966, "r/min")
    '1500 r/min'
    >>> format_value("efficiency", 0.8412)
    '0.8412'
    """
    entry = _entry(name)
    shown = entry.unit if unit is None else unit
    number = float(value)
    if unit is not None:
        factor, offset = _scale(entry, unit, unit, "mechanical", False)
        number = (number - float(offset)) / float(factor)
    if not math.isfinite(number):
        return "none"
    text = _plain_number(number, digits)
    return text if shown == "1" else f"{text} {shown}"


def _plain_number(number: float, digits: int) -> str:
    if number == 0.0:
        return "0"
    text = f"{number:.{digits}g}"
    magnitude = abs(number)
    if "e" in text and 1e-4 <= magnitude < 1e9:
        decimals = max(0, digits - 1 - math.floor(math.log10(magnitude)))
        return f"{number:.{decimals}f}"
    return text


def with_decimal_point(text: str) -> str:
    """Return a text whose leading number has its decimal comma turned into a point, where it can be nothing else.

    Examples
    --------
    >>> with_decimal_point("1711,6 r/min"), with_decimal_point("0,125 ohm")
    ('1711.6 r/min', '0.125 ohm')
    >>> with_decimal_point("1,712 r/min")  # might be a thousand and some
    '1,712 r/min'
    """
    return _DECIMAL_COMMA.sub(lambda found: found[1].replace(",", "."), text, count=1)
