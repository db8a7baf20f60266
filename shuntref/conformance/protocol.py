"""The lines spoken with a program under test: one JSON object per line, three requests, four kinds of reply.

Requests: ``{"request": "start", "protocol": 1}``, ``{"request": "run", "id": 7, "name": "speed", "inputs": {...}}`` and
``{"request": "stop"}``. Replies: ``{"ready": true}`` to start; to run ``{"id": 7, "result": ...}``, or ``"error"`` with a text
(the inputs are refused), ``"missing"`` (no such function here) or ``"broken"`` with a text (the program itself failed).
The id is a running number, so that not even the name of a case tells what is expected of it. No key is a reserved word
in any of the usual languages.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = [
    "LONGEST_LINE",
    "PROTOCOL",
    "Reply",
    "number_in",
    "plain_text",
    "read_reply",
    "run_line",
    "start_line",
    "stop_line",
]

PROTOCOL = 1
LONGEST_LINE = 256_000
LONGEST_TEXT = 300

#: a text, which is passed over, or a bare number word that JSON does not have but printf and many JSON writers produce
_NUMBER_WORD = re.compile(
    r'"(?:[^"\\]|\\.)*"|(?<![\w.])([+-]?)(nan|inf(?:inity)?)(?:\((?:ind|snan)\))?(?!\w)', re.IGNORECASE
)
_WORDS = {
    "nan": math.nan,
    "inf": math.inf,
    "infinity": math.inf,
    "+inf": math.inf,
    "-inf": -math.inf,
    "+infinity": math.inf,
    "-infinity": -math.inf,
}


@dataclass(frozen=True, slots=True)
class Reply:
    """One reply, already checked in form.

    ``kind`` is ``"result"``, ``"error"``, ``"missing"``, ``"broken"`` or ``"ready"``; ``number`` the id it answers (-1 for
    ready); ``value`` the result as JSON gave it; ``text`` the words that came with it, cleaned and cut.
    """

    kind: str
    number: int
    value: Any = None
    text: str = ""


def plain_text(text: object, longest: int = LONGEST_TEXT) -> str:
    """Return ``text`` on one line, without control characters, cut to ``longest``: safe for a terminal and for XML.

    Examples
    --------
    >>> plain_text("bad\\x1b[31m\\nvalue")
    'bad [31m value'
    """
    words = str(text)[: 4 * longest].encode("utf-8", "replace").decode("utf-8")
    printable = "".join(c if c.isprintable() else " " for c in words)
    line = " ".join(printable.split())
    return line if len(line) <= longest else line[: longest - 3] + "..."


def start_line() -> bytes:
    """Return the line that opens the conversation."""
    return _line({"request": "start", "protocol": PROTOCOL})


def run_line(number: int, function: str, inputs: Mapping[str, Any] | list[Any]) -> bytes:
    """Return the line that asks for one case; all that is ever told is here.

    Examples
    --------
    >>> run_line(7, "speed", {"n": 1500.0})
    b'{"request":"run","id":7,"name":"speed","inputs":{"n":1500.0}}\\n'
    """
    return _line({"request": "run", "id": number, "name": function, "inputs": inputs})


def stop_line() -> bytes:
    """Return the line that closes the conversation."""
    return _line({"request": "stop"})


def _line(message: Mapping[str, Any]) -> bytes:
    return json.dumps(message, separators=(",", ":"), ensure_ascii=True).encode("ascii") + b"\n"


def read_reply(line: bytes) -> Reply | None:
    """Read one line of the program; None when it is no reply (a remark, a progress bar, half a line).

    Examples
    --------
    >>> read_reply(b'{"id": 3, "result": {"n": 1498.5}}')
    Reply(kind='result', number=3, value={'n': 1498.5}, text='')
    >>> number_in(read_reply(b'{"id": 4, "result": -nan}').value)
    nan
    >>> read_reply(b'{"id": 5, "error": "negative resistance"}').text
    'negative resistance'
    >>> read_reply(b"computing ...") is None
    True
    """
    text = line.decode("utf-8", "replace").strip()
    # a remark that did not end its line may stand in front
    message = _decode(text[text.find("{") :]) if "{" in text else None
    if message is None:
        return None
    if message.get("ready") is not None:
        ready = message["ready"] is not False
        return Reply("ready" if ready else "broken", -1, message, plain_text(message.get("problem", "")))
    number = message.get("id")
    if isinstance(number, float) and number.is_integer():  # Octave and spreadsheets know no integers
        number = int(number)
    if isinstance(number, bool) or not isinstance(number, int):
        return None
    for kind in ("broken", "missing", "error"):
        if message.get(kind) is not None and message[kind] is not False:
            said = message[kind]
            return Reply(kind, number, None, plain_text("" if said is True else said))
    if "result" in message:
        return Reply("result", number, message["result"])
    return None


def _decode(text: str) -> dict[str, Any] | None:
    for attempt in (text, _NUMBER_WORD.sub(_quoted, text)):
        try:
            message = json.loads(attempt)
        except (ValueError, RecursionError):
            continue
        return message if isinstance(message, dict) else None
    return None


def _quoted(match: re.Match[str]) -> str:
    return f'"{match.group(1)}{match.group(2).lower()}"' if match.group(2) else match.group()


def number_in(value: object) -> float | None:
    """Return the number a reply gives, NaN for null, or None when ``value`` is no number at all.

    Examples
    --------
    >>> number_in(2), number_in("-inf"), number_in(None), number_in("157"), number_in(True)
    (2.0, -inf, nan, None, None)
    """
    if value is None:
        return math.nan
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        try:
            return float(value)
        except OverflowError:
            return math.inf if value > 0 else -math.inf
    if isinstance(value, str):
        word = value.strip().lower()
        return math.nan if word in ("+nan", "-nan") else _WORDS.get(word)
    return None
