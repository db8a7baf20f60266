"""Evidence for the vocabulary: every unit of the references against the parser, every example readable."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from importlib.resources import files

from shuntref.evidence import Check
from shuntref.provenance import source_ids
from shuntref.quantities.registry import REGISTRY
from shuntref.quantities.text import QuantityError, parse_value

__all__ = ["checks"]

_WORDS = {
    "horsepower-mechanical": ("output_power", "1 hp"),
    "horsepower-electric": ("output_power", "1 hp(746)"),
    "horsepower-metric": ("output_power", "1 hp(metric)"),
    "pound-force-foot": ("load_torque", "1 lbf ft"),
    "ounce-force-inch": ("load_torque", "1 ozf in"),
    "revolution-per-minute": ("speed", "1 r/min"),
}


def checks() -> Iterator[Check]:
    """Yield one check per unit of the references and one for the examples of the registry."""
    rows = tomllib.loads((files("shuntref.references") / "standards" / "units.toml").read_text(encoding="utf-8"))
    for slug, row in rows.items():
        name, text = _WORDS[slug]
        wanted, got = float(row["value"].split()[0]), parse_value(name, text)
        close = abs(got - wanted) <= 2e-15 * abs(
            wanted
        )  # the float nearest to the printed value, give or take one step
        yield Check("units", f"{text} is {row['value']}", close, f"{got!r}", f"{row['source']}, {row['clause']}",
                    source_ids(row), row["seen"])  # fmt: skip
    unreadable = []
    for entry in REGISTRY.values():
        try:
            parse_value(entry.name, entry.example)
        except QuantityError as error:
            unreadable.append(str(error))
    yield Check(
        "units", f"the examples of all {len(REGISTRY)} quantities are readable", not unreadable, "; ".join(unreadable)
    )
