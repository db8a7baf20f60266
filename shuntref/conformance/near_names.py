"""What to say of a name that is not known: the few names there are, or the nearest of the many and where all are listed."""

from __future__ import annotations

from collections.abc import Iterable

from shuntref.quantities.near_names import near_names

__all__ = ["names_instead"]

_MOST = 14


def names_instead(word: str, known: Iterable[object], listed_by: str = "shuntref conform --list") -> str:
    """Return the end of a message about an unknown name.

    Parameters
    ----------
    word
        What was written.
    known
        The names there are.
    listed_by
        What shows all of them, for when they are too many for a line.

    Examples
    --------
    >>> names_instead("torqe", ["torque", "speed"])
    'there are torque, speed'
    >>> names_instead("staling_torque", ["stall_torque", *map(str, range(40))])
    'perhaps stall_torque is meant; shuntref conform --list shows all 41'
    """
    names = list(map(str, known))
    if len(names) <= _MOST:
        return f"there are {', '.join(names)}"
    near = near_names(word, names, 3)
    near += [name for name in names if word and word in name and name not in near][: 3 - len(near)]
    shown = f"{listed_by} shows all {len(names)}"
    return f"perhaps {' or '.join(near)} is meant; {shown}" if near else shown
