"""A column heading taken apart into its name and its unit, in the plain styles people write."""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["ColumnHeading", "looks_like_unit", "split_heading"]

_PREFIXED = r"(?:k|M|G|m|u|µ|μ|n)?(?:V|A|W|Wb|N|Nm|ohm|ohms|Ω|Ω|s|H|F|Hz|J|g|m|rad|VA|Ah|Wh)"
_WORDS = (
    r"volts?|amps?|amperes?|watts?|ohms?|rpm|krpm|r|rev|revs|min|sec|h|min-1|s-1|hp|PS|lb|lbf|ft|inch|ozf|kgf|"
    r"deg|degC|degF|°C|°F|°|K|celsius|percent|%|‰|1|turns?|Vs|mm|cm"
)
_ATOM = re.compile(rf"(?:{_PREFIXED}|{_WORDS})(?:\^?-?[123]|²|³|⁻¹)?$")
_SEPARATORS = re.compile(r"[\s/*·⋅.()]+")


@dataclass(frozen=True, slots=True)
class ColumnHeading:
    """A heading: the text as written, the name in it and the unit in it (empty when none is written)."""

    text: str
    name: str
    unit: str


def looks_like_unit(text: str) -> bool:
    """Return whether ``text`` is built of unit symbols only; whether they fit the quantity is judged elsewhere.

    Examples
    --------
    >>> [looks_like_unit(t) for t in ("V", "r/min", "N m", "1/min", "motor side", "1")]
    [True, True, True, True, False, False]
    """
    if len(text) > 40:
        return False
    atoms = [atom for atom in _SEPARATORS.split(text.strip().replace("U/min", "r/min")) if atom]
    return any(atom != "1" for atom in atoms) and all(_ATOM.match(atom) for atom in atoms)


def split_heading(text: str) -> ColumnHeading:
    """Take a heading apart.

    Understood: ``U [V]``, ``U (V)``, ``U in V``, ``U / V``, ``U/V``, ``n, r/min``, ``n: r/min``, ``speed r/min``.

    Examples
    --------
    >>> for text in ("U [V]", "U in V", "U (V)", "speed / r/min", "n, r/min", "n/(1/min)", "field current A", "remark"):
    ...     heading = split_heading(text)
    ...     print(heading.name, "|", heading.unit)
    U | V
    U | V
    U | V
    speed | r/min
    n | r/min
    n | 1/min
    field current | A
    remark |
    >>> split_heading("speed (second tachometer)").name
    'speed (second tachometer)'
    """
    whole = " ".join(text.replace("\u00a0", " ").split())
    square = re.fullmatch(r"(.*\S)\s*\[([^\[\]]*)\]", whole)
    if square:
        return ColumnHeading(whole, square.group(1).strip(), square.group(2).strip())
    patterns = (
        r"(.*?\S)\s*/\s*\((.+)\)",  # n/(r/min)
        r"(.*\S)\s*\(((?:[^()]|\([^()]*\))+)\)",  # U (V)
        r"(.*\S)\s+in\s+(\S.*)",  # U in V
        r"(.*?\S)\s*[,:]\s*(\S.*)",  # n, r/min
        r"(.*?\S)\s+/\s+(\S.*)",  # speed / r/min
        r"([^/]*[^/\s])/(\S.*)",  # U/V
    )
    for pattern in patterns:
        found = re.fullmatch(pattern, whole, flags=re.IGNORECASE)
        if found and looks_like_unit(found.group(2)):
            return ColumnHeading(whole, found.group(1).strip(), found.group(2).strip())
    words = whole.split(" ")
    for count in (2, 1):
        tail = " ".join(words[-count:])
        if len(words) > count and looks_like_unit(tail) and not looks_like_unit(words[-count - 1]):
            return ColumnHeading(whole, " ".join(words[:-count]), tail)
    return ColumnHeading(whole, whole, "")
