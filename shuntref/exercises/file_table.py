"""Reading one table of an exercise file: every key is taken once, by name and type, and what is left over is refused."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Any

from shuntref.exercises.statement import ExerciseError
from shuntref.quantities.near_names import did_you_mean
from shuntref.quantities.registry import REGISTRY
from shuntref.quantities.text import QuantityError, WrittenValue, read_value

__all__ = ["FileTable"]

_SLUG = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_LONGEST_TEXT = 20_000
_LARGEST, _SMALLEST = 1e12, 1e-12

_COUNTS = frozenset(
    {"poles", "pole_pairs", "parallel_paths", "conductors", "armature_turns", "coils", "slots", "conductors_per_slot",
     "sections", "studs"}
)  # fmt: skip
_AT_MOST_ONE = frozenset({"efficiency", "reaction_flux_loss", "stray_share"})
_NOT_NEGATIVE = "not negative"


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


class FileTable:
    """One table of a file, and where it stands, for messages.

    Parameters
    ----------
    content
        The table as read from TOML.
    where
        How messages name it, for example ``"[state.after]"``.
    horsepower
        The horsepower convention of the file.

    Examples
    --------
    >>> table = FileTable({"title": "Example", "stray": 1}, "top level")
    >>> table.text("title")
    'Example'
    >>> table.finish(["title"])
    Traceback (most recent call last):
        ...
    shuntref.exercises.statement.ExerciseError: top level: unknown key 'stray'; accepted are title
    """

    def __init__(self, content: object, where: str, horsepower: str = "mechanical") -> None:
        if not isinstance(content, Mapping):
            raise ExerciseError(f"{where}: a table is wanted, not {_shown(content)}")
        self.content: dict[str, Any] = dict(content)
        self.where = where
        self.horsepower = horsepower

    def error(self, key: str, why: str) -> ExerciseError:
        """Return the error that refuses ``key`` of this table."""
        return ExerciseError(f"{self.where} {key}: {why}")

    def has(self, key: str) -> bool:
        """Whether ``key`` has not been taken yet."""
        return key in self.content

    def text(self, key: str, default: str | None = None) -> str:
        """Take a text; without a default it is required."""
        if key not in self.content:
            if default is None:
                raise ExerciseError(f"{self.where}: the key {key!r} is missing")
            return default
        value = self.content.pop(key)
        if not isinstance(value, str):
            raise self.error(key, f"a text is wanted, not {_shown(value)}")
        if len(value) > _LONGEST_TEXT:
            raise self.error(key, f"a text of {len(value)} characters is too long; at most {_LONGEST_TEXT}")
        return value.strip()

    def choice(self, key: str, among: Collection[str], default: str | None = None) -> str:
        """Take a text that is one of ``among``."""
        value = self.text(key, default)
        if value not in among and value != default:
            raise self.error(key, f"{_shown(value)} is not accepted; write one of {', '.join(sorted(among))}")
        return value

    def texts(self, key: str, among: Collection[str] | None = None) -> tuple[str, ...]:
        """Take a list of texts, each one of ``among`` where that is given; nothing is an empty list."""
        value = self.content.pop(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.error(key, f"a list of texts is wanted, not {_shown(value)}")
        for item in value:
            if among is not None and item not in among:
                hint = did_you_mean(item, among) or f"; accepted are {', '.join(sorted(among))}"
                raise self.error(key, f"{_shown(item)} is not accepted{hint}")
            if value.count(item) > 1:
                raise self.error(key, f"{_shown(item)} stands there twice")
        return tuple(value)

    def flag(self, key: str) -> bool:
        """Take a true or false; nothing is false."""
        value = self.content.pop(key, False)
        if not isinstance(value, bool):
            raise self.error(key, f"true or false is wanted, not {_shown(value)}")
        return value

    def table(self, key: str) -> FileTable | None:
        """Take a table inside this one, or None."""
        if key not in self.content:
            return None
        return FileTable(self.content.pop(key), f"[{self._path(key)}]", self.horsepower)

    def tables(self, key: str) -> dict[str, FileTable]:
        """Take a table of named tables, such as ``[state.before]`` and ``[state.after]``."""
        outer = self.table(key)
        if outer is None:
            return {}
        found = {}
        for name, content in outer.content.items():
            if not _SLUG.fullmatch(name) or len(name) > 40:
                raise ExerciseError(f"[{key}.{name[:60]}]: a name has small letters, digits and hyphens, at most 40")
            found[name] = FileTable(content, f"[{key}.{name}]", self.horsepower)
        return found

    def table_list(self, key: str) -> list[FileTable]:
        """Take a list of tables, such as several ``[[link]]``."""
        value = self.content.pop(key, [])
        if not isinstance(value, list):
            raise self.error(key, f"write it as [[{self._path(key)}]], once for each")
        return [
            FileTable(item, f"[[{self._path(key)}]] number {number}", self.horsepower)
            for number, item in enumerate(value, start=1)
        ]

    def value(self, key: str, name: str | None = None) -> WrittenValue:
        """Take a value of the quantity ``name`` (the key itself if not given); it is required."""
        if key not in self.content:
            raise ExerciseError(f"{self.where}: the key {key!r} is missing")
        return self.checked(key, name or key, self.content.pop(key))

    def optional_value(self, key: str, name: str | None = None) -> WrittenValue | None:
        """Take a value, or None when the key is absent."""
        return self.value(key, name) if key in self.content else None

    def checked(self, key: str, name: str, raw: object) -> WrittenValue:
        """Read ``raw`` as a value of the quantity ``name`` and check that it can be one."""
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            if REGISTRY[name].unit != "1":
                raise self.error(
                    key, f"{_shown(raw)} has no unit; write for example {REGISTRY[name].example!r} in quotes"
                )
            raw = str(raw)
        if not isinstance(raw, str):
            raise self.error(key, f"a value is wanted, not {_shown(raw)}; write for example {REGISTRY[name].example!r}")
        try:
            written = read_value(name, raw, horsepower=self.horsepower)
        except QuantityError as error:
            raise ExerciseError(f"{self.where} {error}") from None
        if not abs(written.value) <= _LARGEST or 0 < abs(written.value) < _SMALLEST:
            raise self.error(key, f"{_shown(raw)} is not a sensible value of this quantity")
        if written.value < 0 and REGISTRY[name].sign == _NOT_NEGATIVE:
            raise self.error(key, f"{_shown(raw)} is negative; this quantity cannot be")
        if name in _COUNTS and (written.value != round(written.value) or written.value < 1):
            raise self.error(key, f"{_shown(raw)} is not a whole number of at least 1")
        if name in _AT_MOST_ONE and written.value > 1:
            raise self.error(key, f"{_shown(raw)} is above 100 %")
        return written

    def finish(self, accepted: Collection[str] = ()) -> None:
        """Refuse the first key that nobody took."""
        for key in self.content:
            hint = did_you_mean(key, accepted) or (f"; accepted are {', '.join(sorted(accepted))}" if accepted else "")
            raise ExerciseError(f"{self.where}: unknown key {key[:60]!r}{hint}")

    def _path(self, key: str) -> str:
        inside = self.where.strip("[]").split("]")[0]
        return key if self.where == "top level" else f"{inside}.{key}"
