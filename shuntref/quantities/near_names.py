"""The names that may have been meant by one that is not known."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["did_you_mean", "near_names"]


def near_names(word: object, among: Iterable[object], most: int = 2) -> list[str]:
    """Return the names most like a word, the likeliest first; none where nothing is much like it.

    Examples
    --------
    >>> near_names("torqe", ["speed", "torque"])
    ['torque']
    """
    import difflib  # not at the top: only a mistake needs it

    return difflib.get_close_matches(str(word)[:60], [str(name) for name in among], n=most, cutoff=0.6)


def did_you_mean(word: object, among: Iterable[object]) -> str:
    """Return the end of a message that names what may have been meant, or nothing.

    Examples
    --------
    >>> did_you_mean("armatur_current", ["armature_current", "line_current"])
    '; did you mean armature_current?'
    >>> did_you_mean("happiness", ["armature_current"])
    ''
    """
    near = near_names(word, among)
    return f"; did you mean {' or '.join(near)}?" if near else ""
