"""Seeds made hostile: bytes flipped, lines moved, values replaced by what people and machines really write, and worse."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence

__all__ = ["HOSTILE_NUMBERS", "HOSTILE_TEXTS", "mutated", "mutated_text"]

#: in the place of a number
HOSTILE_NUMBERS = (
    "0", "-0", "-0.0", "0e999", "1e999", "-1e999", "1e-999", "1e308", "1.7976931348623157e308", "5e-324", "1e-308", "1e300",
    "1e-300", "1e154", "1e-154", "1e30", "1e-30", "1e17", "9007199254740993", "9" * 40, "9" * 41, "9" * 400, "1" * 4400,
    "0." + "0" * 60 + "1", "nan", "NaN", "-nan", "inf", "-inf", "Infinity", "1,5", "1.234,5", "1,234.5", "1 450", "1'450",
    "1_000", "0x10", "0b1", "0o7", "１５", "٣٤", "१२", "²", "½", "−5", "-5", "+5", "++5", "5e", "e5", "5e+", ".5", "5.", ".",
    "-", "1e5e5", "1/0", "2**99", "1e400", "-1", "2", "1", "1000000", "0:1:3", "0:1:1000001", "1:0:2",
)  # fmt: skip

#: in the place of a text
HOSTILE_TEXTS = (
    "", " ", "\t", "\\n", "\x00", "\x1b[31m", "\x7f", "\u200b", "\u202e", "\ufeff", "\ud800", "\U0010ffff", "é" * 30,
    "a" * 501, "a" * 20_000, "(" * 400, "[" * 400, "{" * 60, "V/" * 40, "V^-4" * 10, "m^4^4", "ohm ohm", "V/V/V/V",
    "%", "%s%n",
    "{0}", "${HOME}", "../../x", "/dev/null", "none", "unknown", "true", "NaN ohm", "1e308 V", "-1 ohm", "0 ohm", "0 V",
    "0 V s/rad", "1e308 ohm", "1e-308 ohm", "1e300 N m", "1e-300 V s/rad", "5 K", "-300 degC", "1e308 degF",
    "1500 r/min", "1500 1/s",
    "5 %", "10 hp", "1 V; 2 V", "1, 2, 3 A", "0:50:11 ohm", "0:50:1000000 ohm", "1 V 2", "1 V,", "5 N·m", "5 Nm",
    "2 mWb", "sep=;",
    "#",
    '"', "'", '"""', "\\", "\\u0000", "\\ud800", "=1+1", "@x", "NULL", "shunt", "separate", "proportional", "froehlich",
    "table", "constant", "square", "constant-power", "INF", "-INF", "1e5 ohm",
)  # fmt: skip

_KINDS = (
    "0", "1", "-1", "1.5", "nan", "inf", "-inf", "true", "false", "[]", "{}", "[[]]", "[1, 2]", '["1 V", "2 V"]',
    "{ a = 1 }", "''",
    "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "0xff", "9" * 30, "9" * 5000, "1e400", "[" * 60 + "]" * 60,
    "[{}, {}]",
    "'''x'''", '"\\ud800"',
)  # fmt: skip
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
_QUOTED = re.compile(r'"[^"\n]*"')
_VALUE = re.compile(r"(?m)(?<==)[^=\n]+$")
_WORD = re.compile(r"[A-Za-z_]{2,}")
_CELL = re.compile(r"(?<=[,;\t\n])[^,;\t\n]*")


def _somewhere(pattern: re.Pattern[str], text: str, new: Callable[[str], str], draw: random.Random) -> str:
    start = draw.randrange(len(text) + 1)
    found = pattern.search(text, start) or pattern.search(text)
    return text if found is None else text[: found.start()] + new(found.group()) + text[found.end() :]


def _other_number(old: str, draw: random.Random) -> str:
    try:
        value = float(old)
    except ValueError:
        return old
    scale = draw.choice(
        (0.0, -1.0, 0.5, 2.0, 10.0, 1e3, 1e-3, 1e6, 1e-6, 1e12, 1e-12, 1.0 + 1e-15, draw.uniform(0.8, 1.25))
    )
    return repr(value * scale)


def _lines(text: str, draw: random.Random) -> str:
    lines = text.split("\n")
    here, there = draw.randrange(len(lines)), draw.randrange(len(lines))
    kind = draw.randrange(7)
    if kind == 0:
        del lines[here]
    elif kind == 1:
        lines.insert(there, lines[here])
    elif kind == 2:
        lines[here], lines[there] = lines[there], lines[here]
    elif kind == 3:
        del lines[min(here, there) : max(here, there)]
    elif kind == 4:
        lines[here] = lines[here] * draw.choice((2, 3, 50))
    elif kind == 5:
        lines = lines[: here + 1]
    else:
        lines[here] = lines[here][: draw.randrange(len(lines[here]) + 1)]
    return "\n".join(lines)


def _once(text: str, others: Sequence[str], draw: random.Random, gently: bool) -> str:
    kind = draw.choice((1, 1, 2, 5)) if gently else draw.randrange(14)
    if kind == 0:
        return _somewhere(_NUMBER, text, lambda _: draw.choice(HOSTILE_NUMBERS), draw)
    if kind in (1, 2):
        return _somewhere(_NUMBER, text, lambda old: _other_number(old, draw), draw)
    if kind == 3:
        return _somewhere(_QUOTED, text, lambda _: f'"{draw.choice(HOSTILE_TEXTS)}"', draw)
    if kind == 4:
        return _somewhere(_VALUE, text, lambda _: " " + draw.choice(_KINDS), draw)
    if kind == 5:  # a value from elsewhere in the same file
        values = _QUOTED.findall(text)
        return _somewhere(_QUOTED, text, lambda _: draw.choice(values), draw) if values else text
    if kind in (6, 7):
        return _lines(text, draw)
    if kind == 8:
        words = _WORD.findall(draw.choice(others)) if others else []
        return _somewhere(_WORD, text, lambda old: draw.choice(words) if words else old[::-1], draw)
    if kind == 9:
        return _somewhere(_CELL, text, lambda _: draw.choice(HOSTILE_NUMBERS + HOSTILE_TEXTS), draw)
    place = draw.randrange(len(text) + 1)
    if kind == 10:
        return text[:place] + draw.choice(HOSTILE_TEXTS + HOSTILE_NUMBERS) + text[place:]
    if kind == 11:
        return text[:place] + text[place + draw.choice((1, 1, 2, 8)) :]
    if kind == 12 and others:
        other = draw.choice(others)
        return text[:place] + other[draw.randrange(len(other) + 1) :]
    return (
        text[:place]
        + chr(draw.choice((*range(32, 127), 0, 9, 10, 13, 0xA0, 0x2212, 0x661, 0x2028, 0xFEFF)))
        + text[place + 1 :]
    )


def mutated_text(seeds: Sequence[str], draw: random.Random) -> str:
    """One of ``seeds`` after one to a few changes, small ones more often than large ones."""
    text = draw.choice(seeds)
    gently = draw.random() < 0.4  # other values, and nothing else: what is read is then worked with
    for _ in range(draw.choice((1, 1, 1, 2, 2, 3, 5, 9))):
        text = _once(text, seeds, draw, gently)
        if len(text) > 300_000:
            break
    return text


def mutated(seeds: Sequence[str], draw: random.Random) -> bytes:
    """As :func:`mutated_text`, as the bytes of a file: now and then in another encoding, or with bytes overturned."""
    text = mutated_text(seeds, draw)
    kind = draw.randrange(40)
    if kind == 0:
        return b"\xef\xbb\xbf" + text.encode("utf-8", "surrogatepass")
    if kind == 1:
        return text.encode("utf-16", "surrogatepass")
    if kind == 2:
        return text.encode("cp1252", "replace")
    if kind == 3:
        return text.replace("\n", draw.choice(("\r\n", "\r", "\x85", "\u2028"))).encode("utf-8", "surrogatepass")
    data = bytearray(text.encode("utf-8", "surrogatepass"))
    if kind in (4, 5, 6) and data:
        for _ in range(draw.choice((1, 2, 8, 64))):
            data[draw.randrange(len(data))] = draw.randrange(256)
    return bytes(data)
