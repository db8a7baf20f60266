"""One piece of evidence: what every layer yields to the self-check."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Check"]


@dataclass(frozen=True, slots=True)
class Check:
    """The outcome of one check.

    Parameters
    ----------
    group : str
        The heading it is counted under.
    statement : str
        What was checked, in words.
    passed : bool
        Whether it held.
    detail : str
        The figures seen.
    source : str
        Where the expected value comes from, in words; empty for what is proved or computed here.
    source_ids : tuple of str
        The same as keys of references/sources.toml; empty for common practice, which has no source, and for what is
        proved, computed or invented here.
    seen : str
        How the expected value was come by: seen, from memory, secondary, computed.

    Examples
    --------
    >>> Check("units", "1 hp is 550 ft lbf/s", True, source="NIST SP 811", source_ids=("nist-sp-811",), seen="computed").passed
    True
    """

    group: str
    statement: str
    passed: bool
    detail: str = ""
    source: str = ""
    source_ids: tuple[str, ...] = ()
    seen: str = ""
