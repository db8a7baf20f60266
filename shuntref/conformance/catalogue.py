"""What the suite asks for, in words: every function with its inputs, units, defaults and results."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from shuntref.conformance.suite import Case, Suite

__all__ = ["catalogue_data", "catalogue_text"]


def catalogue_data(suite: Suite, cases: Sequence[Case]) -> list[dict[str, Any]]:
    """Return the functions that ``cases`` ask for as plain data, in the order of the suite.

    Examples
    --------
    >>> from shuntref.conformance.suite import load_suite, select
    >>> suite = load_suite()
    >>> catalogue_data(suite, select(suite, functions=["speed"]))[0]["outputs"]
    [{'name': 'speed', 'unit': 'rad/s', 'list': False}]
    """
    counts = Counter(case.function for case in cases)
    return [
        {
            "function": name,
            "group": entry.group,
            "sentence": entry.sentence,
            "cases": counts[name],
            "inputs": [
                {"name": i.name, "unit": i.unit, "accept": i.accept, "default": i.default, "list": i.is_list}
                for i in entry.inputs
            ],
            "outputs": [{"name": o.name, "unit": o.unit, "list": o.is_list} for o in entry.outputs],
            "equations": list(entry.equations),
            "preconditions": list(entry.preconditions),
        }
        for name, entry in suite.functions.items()
        if counts[name]
    ]


def catalogue_text(suite: Suite, cases: Sequence[Case]) -> str:
    """Return the same in words.

    Examples
    --------
    >>> from shuntref.conformance.suite import load_suite, select
    >>> suite = load_suite()
    >>> print(catalogue_text(suite, select(suite, functions=["starting_resistance"])).splitlines()[2].strip())
    supply_voltage [V], positive
    """
    lines = []
    for entry in catalogue_data(suite, cases):
        lines += [f"{entry['function']}  ({entry['group']}, {entry['cases']} cases)", f"  {entry['sentence']}"]
        for item in entry["inputs"]:
            default = "" if item["default"] is None else f", {item['default']:g} when left out"
            accept = "any number" if item["accept"] == "any" else item["accept"]
            lines.append(f"    {item['name']} [{item['unit']}]{' list' if item['list'] else ''}, {accept}{default}")
        for item in entry["outputs"]:
            lines.append(f"    -> {item['name']} [{item['unit']}]{' list' if item['list'] else ''}")
        lines += [f"    refuse unless {condition}" for condition in entry["preconditions"]]
        lines.append("")
    return "\n".join(lines).rstrip()
