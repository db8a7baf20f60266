"""The named mistakes, read from references/cases/flags.toml."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["KINDS", "Flag", "load_flags"]

#: where a mistake is made
KINDS = (
    "circuit",
    "flux",
    "sign",
    "units",
    "definition",
    "two states",
    "starting",
    "temperature",
    "readings",
    "limits",
)


@dataclass(frozen=True, slots=True)
class Flag:
    """A named mistake: ``kind`` is one of ``KINDS``; ``description`` what is done, ``effect`` what comes of it."""

    name: str
    kind: str
    description: str
    effect: str


@cache
def load_flags() -> dict[str, Flag]:
    """Return every flag by its slug, in the order of the file.

    Examples
    --------
    >>> load_flags()["line-current-for-armature-current"].kind
    'circuit'
    """
    text = files("shuntref.references").joinpath("cases", "flags.toml").read_text(encoding="utf-8")
    return {
        name: Flag(name, entry["kind"], entry["description"], entry["effect"])
        for name, entry in tomllib.loads(text).items()
    }
