"""Values from standards and handbooks, each with where it is from and whether the text was seen."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

__all__ = [
    "provenance",
    "speed_tolerance",
    "standard_value",
]


@lru_cache(maxsize=16)
def standard_values(name: str) -> dict[str, dict[str, Any]]:
    """All values of one file of references/standards, by id.

    Examples
    --------
    >>> sorted(standard_values("preferred_numbers"))
    ['preferred-resistances', 'preferred-sizes']
    """
    text = files("shuntref.references").joinpath("standards", f"{name}.toml").read_text(encoding="utf-8")
    return {row["id"]: row for row in tomllib.loads(text)["value"]}


def standard_value(name: str, identity: str) -> dict[str, Any]:
    """One value of references/standards with its provenance.

    Parameters
    ----------
    name : str
        File without its ending: "tolerances", "overspeed", "insulation", "safety", "typical", "preferred_numbers".
    identity : str
        The id in that file.

    Raises
    ------
    KeyError
        When the file has no such id.

    Examples
    --------
    >>> standard_value("insulation", "thermal-classes")["B"]
    130.0
    """
    found = standard_values(name)
    if identity not in found:
        raise KeyError(f"no {identity!r} in standards/{name}.toml; it has {', '.join(sorted(found))}")
    return found[identity]


def provenance(row: dict[str, Any]) -> str:
    """Source and honesty of a value in one line.

    Examples
    --------
    >>> provenance(standard_value("overspeed", "overspeed-test-shunt"))
    'IEC 60034-1, clause 9.7 (from memory: the text was not seen)'
    """
    return f"{row['source']} ({row['seen']})"


def speed_tolerance(output_power: float, speed_rpm: float) -> float:
    """Tolerance on the rated speed of a shunt motor, as a fraction of it.

    Parameters
    ----------
    output_power, speed_rpm : float
        Rated values [W], [r/min].

    Returns
    -------
    float
        0.10 for 10 %.

    Notes
    -----
    It says how far a machine may miss its nameplate when it was made, never how fast it may be run.

    References
    ----------
    IEC 60034-1, schedule of tolerances (from memory: the text was not seen).

    Examples
    --------
    >>> speed_tolerance(1500.0, 1500.0), speed_tolerance(15000.0, 1500.0)
    (0.1, 0.05)
    """
    measure = output_power / speed_rpm  # W per r/min is kW per 1000 r/min
    for band in standard_value("tolerances", "speed-tolerance-shunt")["bands"]:
        if "below" not in band or measure < band["below"]:
            return float(band["percent"]) / 100.0
    raise ValueError("the speed tolerance table has no last band without an upper edge")
