"""The bytes of a sheet as text: what mark the file begins with, and what is done where it has none."""

from __future__ import annotations

import codecs

__all__ = ["MAX_BYTES", "SheetError", "decode"]

MAX_BYTES = 4_000_000


class SheetError(ValueError):
    """The text cannot be read as a sheet, or a cell not as a number; the message names the line."""


def decode(data: bytes) -> tuple[str, list[str]]:
    """Return the text, and a note where the encoding had to be assumed.

    Raises
    ------
    SheetError
        The file is too large, is not what its mark says, or holds binary data.

    Examples
    --------
    >>> decode("U [V]\\n".encode("utf-8-sig"))
    ('U [V]\\n', [])
    >>> decode("5 °C\\n".encode("cp1252"))
    ('5 °C\\n', ['the text is not UTF-8; it was read as Windows-1252'])
    """
    if len(data) > MAX_BYTES:
        raise SheetError(f"the file has {len(data)} bytes; at most {MAX_BYTES} are read")
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if data.startswith(mark):
            try:
                return data.decode(encoding), []
            except UnicodeDecodeError as error:
                raise SheetError(f"the file says it is {encoding} but byte {error.start} is not") from None
    if b"\0" in data:
        raise SheetError("the file holds binary data; save the sheet as CSV (comma or semicolon separated text)")
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), ["the text is not UTF-8; it was read as Windows-1252"]
