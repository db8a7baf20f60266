"""One piece of evidence: what every layer yields to the self-check."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Check"]


@dataclass(frozen=True, slots=True)
class Check:
    """The outcome of one check.

    ``group`` is the heading it is counted under, ``statement`` what was checked in words, ``passed`` whether it held,
    ``detail`` the figures seen, ``source`` where the expected value comes from (empty for a proof).
    """

    group: str
    statement: str
    passed: bool
    detail: str = ""
    source: str = ""
