"""Targets that read a short text: values with units, and numbers written back."""

from __future__ import annotations

import math
import random
import struct
from decimal import Decimal

from fuzzing.mutation import HOSTILE_NUMBERS, HOSTILE_TEXTS
from fuzzing.watch import Target, Wrong
from shuntref.quantities.registry import REGISTRY
from shuntref.quantities.text import QuantityError, format_value, parse_value, parse_values, read_value, unit_factor
from shuntref.quantities.units import HORSEPOWER_CONVENTIONS

__all__ = ["targets"]

_NAMES = tuple(REGISTRY)
_UNITS = (
    "V", "mV", "kV", "A", "mA", "ohm", "mohm", "kΩ", "Ω", "\u2126", "W", "kW", "hp", "hp(metric)", "N m", "N·m",
    "Nm", "lbf ft", "lb-ft",
    "ozf in", "r/min", "rpm", "min^-1", "1/min", "rad/s", "rad s^-1", "1/s", "s^-1", "V s/rad", "V/(r/min)",
    "V s/(rad A)", "Wb", "mWb", "Mx",
    "mx", "degC", "°C", "K", "degF", "%", "1", "-", "turns", "per unit", "p.u.", "r.p.m.", "m²", "m^2", "m^-4", "k",
    "µA", "μA", "uA", "deg",
    "V/", "/V", "V//A", "(V)", "V/(A", ".", "·", "*", "N.m", "N..m", "r . p . m", "1/1/1/1", "^", "V^", "V^9", "h",
    "kgf m", "mm", "dam",
)  # fmt: skip
_GLUE = ("", " ", "  ", "\t", "\u00a0", "\u202f", ",", ", ", ":", ";", "\n", "/", "=")


def _number(draw: random.Random) -> str:
    kind = draw.randrange(5)
    if kind == 0:
        return draw.choice(HOSTILE_NUMBERS)
    if kind == 1:
        return repr(struct.unpack("<d", draw.randbytes(8))[0])
    if kind == 2:
        return f"{draw.choice('+-')}{draw.randrange(10**6)}.{draw.randrange(1000)}"
    if kind == 3:
        return f"{draw.randrange(100)}e{draw.choice('+-')}{draw.randrange(400)}"
    return str(draw.randrange(10_000) / 8)


def _text(number: int) -> bytes:
    draw = random.Random(number)
    name = draw.choice(_NAMES) if draw.random() < 0.99 else draw.choice(HOSTILE_TEXTS)
    if draw.random() < 0.5 and name in REGISTRY:  # near to what is accepted
        mark = draw.choice((" ", "", ", ", ":"))
        numbers = mark.join(_number(draw) for _ in range(1 if mark in " " else 3))
        parts = [numbers, draw.choice(("", " ", "  ")), REGISTRY[name].unit]
    else:
        parts = []
    for _ in range(0 if parts else draw.choice((1, 1, 1, 2, 3, 6))):
        parts += [
            _number(draw),
            draw.choice(_GLUE),
            draw.choice(_UNITS) if draw.random() < 0.8 else draw.choice(HOSTILE_TEXTS),
        ]
        parts.append(draw.choice(_GLUE) if draw.random() < 0.3 else "")
    text = "".join(parts)
    for _ in range(draw.choice((0, 0, 0, 1, 2, 5))):
        place = draw.randrange(len(text) + 1)
        new = draw.choice(
            (chr(draw.randrange(0x250)), chr(draw.randrange(0x110000)), draw.choice("0123456789eE+-.,:/^()% "), "")
        )
        text = text[:place] + new + text[place + draw.randrange(2) :]
    words = draw.choice((*HORSEPOWER_CONVENTIONS, "")) if draw.random() < 0.2 else "mechanical"
    kind = draw.randrange(4)
    if kind == 3 and draw.random() < 0.8:  # the unit alone
        text = draw.choice((*_UNITS, REGISTRY[name].unit if name in REGISTRY else name))
    head = f"{name}|{words}|{kind}|"
    return (head + text).encode("utf-8", "surrogatepass")


def _split(data: bytes) -> tuple[str, str, str, str]:
    name, _, rest = data.decode("utf-8", "surrogateescape").partition("|")
    horsepower, _, rest = rest.partition("|")
    kind, _, text = rest.partition("|")
    return name, horsepower, kind, text


def _unit_text(data: bytes) -> bool:
    name, horsepower, kind, text = _split(data)
    if kind == "3":
        factor = unit_factor(name, text, horsepower=horsepower)
        if not (math.isfinite(factor) and factor > 0.0):
            raise Wrong(f"factor {factor!r} of {text!r}")
        return True
    if kind == "2":
        values = parse_values(name, text, horsepower=horsepower)
        if not values or not all(map(math.isfinite, values)):
            raise Wrong(f"values not finite of {text!r}")
        return True
    written = read_value(name, text, horsepower=horsepower, bare=kind == "1")
    if not (math.isfinite(written.value) and math.isfinite(written.half_unit) and written.half_unit >= 0.0):
        raise Wrong(f"{written!r}")
    back = format_value(name, written.value, digits=17)
    if back != "none" and abs(parse_value(name, back) - written.value) > 1e-15 * abs(written.value):
        raise Wrong(f"{written.value!r} is written {back!r}")
    return True


def _written(number: int) -> bytes:
    draw = random.Random(number)
    digits = draw.randrange(1, 18)
    unit = draw.choice((*_UNITS, "", *HOSTILE_TEXTS)) if draw.random() < 0.5 else ""
    value = (
        draw.randbytes(8)
        if draw.random() < 0.6
        else struct.pack("<d", draw.choice((1e9, 1e-4, 999999.5, 0.0, -0.0, 1.0, 1e308)))
    )
    return value + f"{draw.choice(_NAMES)}|{digits}|{unit}".encode("utf-8", "surrogatepass")


def _format(data: bytes) -> bool:
    value = struct.unpack("<d", data[:8].ljust(8, b"\0"))[0]
    name, _, rest = data[8:].decode("utf-8", "surrogateescape").partition("|")
    digits, _, unit = rest.partition("|")
    count = int(digits) if digits.isdecimal() else 4
    text = format_value(name, value, unit or None, digits=count)
    if (text == "none") is math.isfinite(value) and not unit:
        raise Wrong(f"{value!r} is written {text!r}")
    if text != "none" and not unit and math.isfinite(value):
        back = Decimal(text.split()[0])  # near the greatest float the rounded text may lie beyond it
        if abs(back - Decimal(value)) > Decimal("0.51") * abs(Decimal(value)) * Decimal(10) ** (1 - count):
            raise Wrong(f"{value!r} is written {text!r} to {count} digits")
    return True


def targets() -> list[Target]:
    """Unit text, read and written."""
    return [
        Target("unit text", _text, _unit_text, (QuantityError,), 430),
        Target("written values", _written, _format, (QuantityError,), 180),
    ]
