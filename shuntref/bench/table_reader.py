"""Reading one table of a bench file: every key is asked for by name, and what nobody asked for is refused by name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from shuntref.quantities.near_names import did_you_mean
from shuntref.quantities.text import QuantityError, parse_value, parse_values

__all__ = ["BenchFileError", "TableReader", "in_words_of"]


class BenchFileError(ValueError):
    """A bench file that cannot be used; the message says where and what would be accepted."""


def in_words_of(key: str, quantity_name: str, error: QuantityError) -> str:
    """What is wrong with a value, in the words of the key that the reader wrote instead of those of the registry.

    Examples
    --------
    >>> try:
    ...     parse_value("added_field_resistance", "4.7 W")
    ... except QuantityError as error:
    ...     in_words_of("resistance", "added_field_resistance", error)
    "'4.7 W': 'W' is not a unit of resistance (which is in ohm); write for example '20 ohm'"
    """
    text = str(error).removeprefix(f"{quantity_name} = ")
    return text.replace(quantity_name.replace("_", " "), key.replace("_", " "))


class TableReader:
    """One table of a bench file, read key by key.

    Examples
    --------
    >>> limits = TableReader("limits", {"speed_rpm": "1800 r/min", "fuse": "16 A"})
    >>> limits.value("speed_rpm"), limits.value("fuse", "line_current")
    (1800.0, 16.0)
    >>> limits.finish()
    """

    def __init__(self, where: str, table: object) -> None:
        if not isinstance(table, Mapping):
            raise BenchFileError(f"[{where}] must be a table of keys, not {table!r:.40}")
        self.where = where
        self._table: Mapping[str, Any] = table
        self._asked: list[str] = []

    def __contains__(self, key: str) -> bool:
        return key in self._table

    def _get(self, key: str) -> Any:
        if key not in self._asked:
            self._asked.append(key)
        return self._table.get(key)

    def _refuse(self, key: str, why: str) -> BenchFileError:
        return BenchFileError(f"[{self.where}] {key}: {why}")

    def optional(self, key: str, quantity_name: str = "") -> float | None:
        """The value of ``key`` in the registry unit of its quantity (by default the quantity called ``key``), or None."""
        text = self._get(key)
        if text is None:
            return None
        name = quantity_name or key
        if not isinstance(text, str):
            example = f"'{text} ...' with its unit" if isinstance(text, (int, float)) else "a text with its unit"
            raise self._refuse(key, f"write the value as text, {example}")
        try:
            return parse_value(name, text)
        except QuantityError as error:
            raise self._refuse(key, in_words_of(key, name, error)) from None

    def value(self, key: str, quantity_name: str = "") -> float:
        """The value of ``key``, which must be there."""
        found = self.optional(key, quantity_name)
        if found is None:
            raise self._refuse(key, "this is needed and missing")
        return found

    def positive(self, key: str, quantity_name: str = "") -> float | None:
        """The value of ``key``, above zero, or None when it is not there."""
        found = self.optional(key, quantity_name)
        if found is not None and not (math.isfinite(found) and found > 0.0):
            raise self._refuse(key, f"{found:g} cannot be; it must be above zero")
        return found

    def values(self, key: str, quantity_name: str = "") -> tuple[float, ...]:
        """The values of ``key``, written as a list or a range, each above zero; none when it is not there."""
        text = self._get(key)
        if text is None:
            return ()
        try:
            found = parse_values(quantity_name or key, text)
        except QuantityError as error:
            raise self._refuse(key, in_words_of(key, quantity_name or key, error)) from None
        if len(found) > 100 or not all(value > 0.0 for value in found):
            raise self._refuse(key, "up to 100 values above zero are wanted")
        return found

    def spread(self, key: str, size: float, quantity_name: str = "") -> float | None:
        """A standard uncertainty from a text that gives the expanded one (k = 2): "4 %" of ``size``, or a value with unit.

        Examples
        --------
        >>> TableReader("uncertainty", {"armature_resistance": "4 %"}).spread("armature_resistance", 0.8)
        0.016
        """
        text = self._get(key)
        if text is None:
            return None
        if not isinstance(text, str):
            raise self._refuse(key, "write the expanded uncertainty as text: '4 %', or a value with its unit")
        try:
            if text.strip().endswith("%"):
                wide = abs(size) * parse_value("efficiency", text)
            else:
                wide = parse_value(quantity_name or key, text)
        except QuantityError as error:
            raise self._refuse(key, f"{in_words_of(key, quantity_name or key, error)} or '4 %'") from None
        if not (math.isfinite(wide) and wide >= 0.0):
            raise self._refuse(key, "an uncertainty is never negative")
        return wide / 2.0

    def text(self, key: str, default: str = "") -> str:
        """The text of ``key``."""
        found = self._get(key)
        if found is None:
            return default
        if not isinstance(found, str):
            raise self._refuse(key, f"a text is wanted, not {found!r:.40}")
        return found

    def choice(self, key: str, choices: tuple[str, ...], default: str) -> str:
        """The text of ``key``, which must be one of ``choices``."""
        found = self.text(key, default)
        if found not in choices:
            raise self._refuse(key, f"{found[:40]!r} is not one of {', '.join(choices)}")
        return found

    def flag(self, key: str, default: bool = False) -> bool:
        """The truth value of ``key``."""
        found = self._get(key)
        if found is None:
            return default
        if not isinstance(found, bool):
            raise self._refuse(key, "write true or false")
        return found

    def count(self, key: str, default: int | None = None, *, most: int = 1000) -> int | None:
        """The whole number of ``key``, from 1 to ``most``."""
        found = self._get(key)
        if found is None:
            return default
        if isinstance(found, bool) or not isinstance(found, int) or not 1 <= found <= most:
            raise self._refuse(key, f"{found!r:.40} will not do; a whole number from 1 to {most} is wanted")
        return found

    def share(self, key: str, default: float) -> float:
        """A fraction written as "80 %", above 0 and up to 1."""
        found = self.optional(key, "efficiency")
        if found is None:
            return default
        if not 0.0 < found <= 1.0:
            raise self._refuse(key, f"{100.0 * found:g} % will not do; above 0 % and up to 100 % is wanted")
        return found

    def raw(self, key: str) -> Any:
        """What stands under ``key``, for another reader to look at; None when nothing does."""
        return self._get(key)

    def table(self, key: str) -> Mapping[str, Any] | None:
        """The table called ``key``, unread, or None."""
        found = self._get(key)
        if found is not None and not isinstance(found, Mapping):
            raise self._refuse(key, f"a table is wanted, not {found!r:.40}")
        return found

    def rows(self, key: str) -> list[Any]:
        """The list of tables called ``key``."""
        found = self._get(key)
        if found is None:
            return []
        if not isinstance(found, list):
            raise self._refuse(key, f"write one [[{key}]] for each entry")
        return found

    def finish(self) -> None:
        """Refuse every key that was not asked for."""
        for key in self._table:
            if key in self._asked:
                continue
            hint = did_you_mean(key, self._asked) or f"; known here are {', '.join(sorted(self._asked))}"
            place = f"[{self.where}] " if self.where else ""
            raise BenchFileError(f"{place}unknown key {key[:60]!r}{hint}")
