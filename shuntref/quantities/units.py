"""Units as text turned into factors: a closed list of unit words, converted and dimension-checked by pint.

Only words of this list are ever handed to pint, so that no text of a user is parsed as an expression. The plane angle is
kept apart from the pure numbers (pint does not), because ``1/s`` could be read as rad/s or as r/s, a factor of 2 pi apart.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any

from shuntref.quantities.registry import Quantity

__all__ = ["HORSEPOWER_CONVENTIONS", "UnitError", "unit_scale"]

HORSEPOWER_CONVENTIONS: dict[str, str] = {
    "mechanical": "horsepower",  # 550 ft lbf/s, 745.699... W
    "electric": "electrical_horsepower",  # 746 W exactly
    "metric": "metric_horsepower",  # 75 kgf m/s
}

#: unit word -> (pint name, power of the plane angle); these take SI prefixes
_PREFIXABLE: dict[str, tuple[str, int]] = {
    "V": ("volt", 0),
    "A": ("ampere", 0),
    "ohm": ("ohm", 0),
    "W": ("watt", 0),
    "Wb": ("weber", 0),
    "N": ("newton", 0),
    "m": ("meter", 0),
    "s": ("second", 0),
    "rad": ("radian", 1),
    "r": ("revolution", 1),
    "rpm": ("revolutions_per_minute", 1),
}
_PREFIXES: dict[str, Decimal] = {
    "u": Decimal("1e-6"), "µ": Decimal("1e-6"), "μ": Decimal("1e-6"), "m": Decimal("1e-3"), "c": Decimal("1e-2"),
    "k": Decimal("1e3"), "M": Decimal("1e6"),
}  # fmt: skip

_PLAIN: dict[str, tuple[str, int]] = {
    "min": ("minute", 0),
    "h": ("hour", 0),
    "ft": ("foot", 0),
    "in": ("inch", 0),
    "lbf": ("force_pound", 0),
    "lb": ("force_pound", 0),  # the trade's "lb ft" is a force times a length; nothing in the registry is a mass
    "ozf": ("force_ounce", 0),
    "oz": ("force_ounce", 0),
    "kgf": ("kilogram_force", 0),
    "mx": ("maxwell_of_flux", 0),
    "%": ("percent", 0),
    "deg": ("degree", 1),
}

#: other spellings of a unit word
_SPELLINGS: dict[str, str] = {
    "volt": "V", "volts": "V", "v": "V", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A", "a": "A",
    "ohms": "ohm", "Ohm": "ohm", "Ohms": "ohm", "OHM": "ohm", "Ω": "ohm",
    "mΩ": "mohm", "kΩ": "kohm", "MΩ": "Mohm",
    "kiloohm": "kohm", "milliohm": "mohm", "kilohm": "kohm", "megohm": "Mohm",
    "watt": "W", "watts": "W", "w": "W", "kw": "kW", "KW": "kW", "kilowatt": "kW", "kilowatts": "kW",
    "weber": "Wb", "webers": "Wb", "newton": "N", "metre": "m", "meter": "m", "metres": "m", "second": "s", "sec": "s",
    "rev": "r", "revs": "r", "revolution": "r", "revolutions": "r", "radian": "rad", "radians": "rad",
    "RPM": "rpm", "r.p.m.": "rpm", "r.p.m": "rpm", "Rpm": "rpm", "minute": "min", "minutes": "min",
    "HP": "hp", "Hp": "hp", "horsepower": "hp", "bhp": "hp", "feet": "ft", "foot": "ft", "inch": "in", "inches": "in",
    "Maxwell": "mx", "maxwell": "mx", "maxwells": "mx", "percent": "%",
    "Nm": "N m", "kNm": "kN m", "mNm": "mN m", "lbft": "lbf ft", "ftlb": "lbf ft", "lb-ft": "lbf ft",
    "ft-lb": "lbf ft", "lbf-ft": "lbf ft", "ft-lbf": "lbf ft", "lb-in": "lbf in", "in-lb": "lbf in", "oz-in": "ozf in",
    "ozin": "ozf in", "N-m": "N m", "rps": "r/s", "At": "A", "AT": "A", "ampere-turns": "A", "ampere-turn": "A",
    "A-turns": "A",
}  # fmt: skip

#: counts carry a word where a unit would stand; it adds no factor
_COUNT_WORDS = frozenset(
    {"turn", "turns", "pole", "poles", "path", "paths", "conductor", "conductors", "section", "sections", "stud", "studs",
     "step", "steps", "coil", "coils", "pu", "1", "-"}
)  # fmt: skip

#: whole unit texts of the trade that the word-by-word grammar would misread
_WHOLE: dict[str, str] = {
    # nameplates: revolutions understood, or said in German or French
    "min^-1": "r/min", "min-1": "r/min", "1/min": "r/min", "min⁻¹": "r/min", "U/min": "r/min", "tr/min": "r/min",
    "per unit": "1", "p.u.": "1", "amp turns": "A", "ampere turns": "A", "A turns/pole": "A",
    "A/pole": "A", "turns/pole": "1", "foot pounds": "lbf ft", "pound feet": "lbf ft", "rad s^-1": "rad/s",
    "V/(rad/s)": "V s/rad", "V/(r/min)": "V/rpm", "mV/(r/min)": "mV/rpm",
    "hp(metric)": "metric-hp", "hp (metric)": "metric-hp", "metric hp": "metric-hp", "metric horsepower": "metric-hp",
    "hp(746)": "electric-hp", "hp (746 W)": "electric-hp", "hp(electric)": "electric-hp", "electric hp": "electric-hp",
}  # fmt: skip

_CELSIUS = {"degC": "degC", "°C": "degC", "C": "degC", "celsius": "degC", "K": "K", "kelvin": "K", "degF": "degF",
            "°F": "degF", "F": "degF"}  # fmt: skip

_WORD = re.compile(r"(?P<word>[^\s*·./()^²³]+(?:\.[^\s*·/()^²³]+)*\.?)(?:\^(?P<power>-?[1-4])|(?P<raised>[²³]))?")


class UnitError(ValueError):
    """A unit text that is not understood, or whose dimension is not that of the quantity."""


@dataclass(frozen=True, slots=True)
class _Scale:
    factor: Decimal
    dimension: tuple[tuple[str, int], ...]
    angle: int


@cache
def _pint() -> Any:
    import pint

    # Decimal keeps every conversion factor exact to 28 digits, so that the float made of it is the nearest one
    registry: Any = pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)
    registry.define("maxwell_of_flux = 1e-8 * weber")
    return registry


@cache
def _word_scale(word: str, horsepower: str) -> _Scale | None:
    """Scale of one canonical unit word, or None when the word is not on the list."""
    prefix = Decimal(1)
    name, angle = "", 0
    if word == "hp":
        name = HORSEPOWER_CONVENTIONS[horsepower]
    elif word in ("metric-hp", "PS"):
        name = HORSEPOWER_CONVENTIONS["metric"]
    elif word == "electric-hp":
        name = HORSEPOWER_CONVENTIONS["electric"]
    elif word in _PLAIN:
        name, angle = _PLAIN[word]
    elif word in _PREFIXABLE:
        name, angle = _PREFIXABLE[word]
    elif word[:1] in _PREFIXES and word[1:] in _PREFIXABLE:
        prefix = _PREFIXES[word[0]]
        name, angle = _PREFIXABLE[word[1:]]
    else:
        return None
    base = _pint().Quantity(Decimal(1), name).to_base_units()
    dimension = tuple(sorted((str(k), int(v)) for k, v in base.dimensionality.items()))
    return _Scale(prefix * Decimal(base.magnitude), dimension, angle)


def _word_unknown(word: str, horsepower: str) -> bool:
    return word not in _COUNT_WORDS and " " not in word and "/" not in word and _word_scale(word, horsepower) is None


def _combine(parts: list[tuple[_Scale, int]]) -> _Scale:
    factor, angle = Decimal(1), 0
    dimension: dict[str, int] = {}
    for scale, power in parts:
        factor *= scale.factor**power
        angle += scale.angle * power
        for name, count in scale.dimension:
            dimension[name] = dimension.get(name, 0) + count * power
    return _Scale(factor, tuple(sorted((k, v) for k, v in dimension.items() if v)), angle)


def _words(text: str, sign: int, horsepower: str) -> list[tuple[_Scale, int]]:
    """Scales of a product of unit words (no slash inside)."""
    parts: list[tuple[_Scale, int]] = []
    position = 0
    while position < len(text):
        if text[position] in " \t*·.":
            position += 1
            continue
        match = _WORD.match(text, position)
        if match is None:
            raise UnitError(f"cannot read the unit {text[:40]!r}")
        word, power = match["word"], int(match["power"] or {"²": 2, "³": 3}.get(match["raised"] or "", 1))
        word = _SPELLINGS.get(word, word)
        if _word_unknown(word, horsepower) and "." in word.strip("."):
            word = word.replace(".", " ")  # N.m; r.p.m. was found above
        if word in _COUNT_WORDS:
            scale: _Scale | None = _Scale(Decimal(1), (), 0)
        elif " " in word or "/" in word:
            scale = _combine(_words(word, 1, horsepower)) if "/" not in word else _text_scale(word, horsepower)
        else:
            scale = _word_scale(word, horsepower)
        if scale is None:
            raise UnitError(f"unknown unit {word[:40]!r}")
        parts.append((scale, power * sign))
        position = match.end()
    if not parts:
        raise UnitError("a unit word is missing")
    return parts


@lru_cache(maxsize=2048)
def _text_scale(text: str, horsepower: str) -> _Scale:
    text = _WHOLE.get(text, text)
    pieces = re.split(r"/", text)
    if len(pieces) > 3:
        raise UnitError(f"too many divisions in the unit {text[:40]!r}")
    parts = [] if pieces[0].strip() == "1" and len(pieces) > 1 else _words(_group(pieces[0], False), 1, horsepower)
    for piece in pieces[1:]:
        parts += _words(_group(piece, True), -1, horsepower)
    return _combine(parts)


def _group(piece: str, denominator: bool) -> str:
    piece = piece.strip()
    if piece.startswith("(") and piece.endswith(")"):
        return piece[1:-1]
    if denominator and re.search(r"\S[\s*·]+\S", piece):
        raise UnitError(f"put brackets round what is divided by: .../({piece[:40]})")
    return piece


@lru_cache(maxsize=2048)
def unit_scale(quantity: Quantity, text: str, horsepower: str = "mechanical") -> tuple[Decimal, Decimal]:
    """Return (factor, offset) so that registry value = factor * number + offset for a number written with unit ``text``.

    Parameters
    ----------
    quantity
        Registry entry whose dimension the unit must have.
    text
        The unit as written, for example ``"kW"`` or ``"V s/rad"``.
    horsepower
        What ``hp`` means: ``"mechanical"`` (745.699... W), ``"electric"`` (746 W) or ``"metric"`` (735.49875 W).

    Raises
    ------
    UnitError
        Unknown unit word, or a unit of another dimension.

    References
    ----------
    NIST Special Publication 811 (2008), appendix B, for the conversion factors (from memory; pint computes them from
    their exact definitions).

    Examples
    --------
    >>> from shuntref.quantities.registry import quantity
    >>> unit_scale(quantity("output_power"), "hp", "electric")
    (Decimal('746'), Decimal('0'))
    """
    if horsepower not in HORSEPOWER_CONVENTIONS:
        raise UnitError(f"horsepower convention {horsepower!r}: accepted are {', '.join(HORSEPOWER_CONVENTIONS)}")
    text = " ".join(text.replace("\u2126", "Ω").split())
    if text == quantity.unit:
        return Decimal(1), Decimal(0)
    if len(text) > 60:
        raise UnitError(f"a unit of {len(text)} characters is not a unit")
    if quantity.unit == "degC":
        return _temperature_scale(quantity, text)
    wanted = _text_scale(quantity.unit, horsepower)
    written = _text_scale(text, horsepower)
    if written.dimension != wanted.dimension:
        raise UnitError(f"{text!r} is not a unit of {quantity.name.replace('_', ' ')} (which is in {quantity.unit})")
    if written.angle not in quantity.angle:
        raise UnitError(
            f"{text!r} does not say rad or r, and the two differ by 2 pi; write rad/s, r/s or r/min"
            if quantity.angle == (1,)
            else f"{text!r} is not a unit of {quantity.name.replace('_', ' ')} (which is in {quantity.unit})"
        )
    return written.factor / wanted.factor, Decimal(0)


def _temperature_scale(quantity: Quantity, text: str) -> tuple[Decimal, Decimal]:
    unit = _CELSIUS.get(text)
    if unit is None:
        raise UnitError(f"unknown unit {text!r}")
    if quantity.name == "temperature_constant":  # a difference from the inferred zero-resistance temperature
        if unit == "degF":
            raise UnitError("the temperature constant is given in degC or K")
        return Decimal(1), Decimal(0)
    registry = _pint()
    one, zero = (
        registry.Quantity(Decimal(n), {"degC": "degC", "K": "kelvin", "degF": "degF"}[unit]).to("degC").magnitude
        for n in (1, 0)
    )
    return one - zero, zero
