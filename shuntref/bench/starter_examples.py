"""Published starting and starter examples, recomputed from what they give.

The sources give a motor in many ways (output and efficiency, a share of the losses, winding data and torques); the small
functions here turn each into the arguments of the starting functions, and nothing printed is ever put in.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Any

from shuntref.model.starter_grading import StarterGrading, grade_starter_by_limits, grade_starter_by_sections
from shuntref.model.starting import direct_starting_current, starting_resistance
from shuntref.quantities.text import parse_value

__all__ = ["StarterExample", "computed_figures", "starter_examples"]


@dataclass(frozen=True, slots=True)
class StarterExample:
    """A published example; ``printed`` holds the figures as printed, ``units`` the allowances above half a last digit."""

    identity: str
    source: str
    seen: str
    convention: str
    given: dict[str, Any]
    printed: dict[str, str]
    units: dict[str, float] = field(default_factory=dict)
    why: str = "half a unit of the last printed digit"
    source_id: str | list[str] = ""

    def allowance(self, name: str) -> float:
        """How far the computed figure may lie from the printed one."""
        decimals = len(self.printed[name].partition(".")[2])
        # the last factor lets a figure that falls exactly on the edge (1.25 printed as 1.3) pass
        return self.units.get(name, 0.5) * 10.0 ** (-decimals) * (1.0 + 1e-9)


def starter_examples() -> tuple[StarterExample, ...]:
    """All examples of references/bench/starter_examples.toml.

    Examples
    --------
    >>> len(starter_examples()) >= 15
    True
    """
    text = files("shuntref.references").joinpath("bench", "starter_examples.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["example"]
    return tuple(StarterExample(identity=row.pop("id"), **row) for row in rows)


def _givens(example: StarterExample) -> dict[str, Any]:
    """Givens as numbers in registry units; names that are not quantities stay as they are."""
    texts = {"rated_current": "line_current", "rated_line_current": "line_current", "lower_torque": "load_torque"}
    return {
        name: parse_value(texts.get(name, name), value) if isinstance(value, str) and name != "limit" else value
        for name, value in example.given.items()
    }


def _rated_currents(given: dict[str, Any]) -> tuple[float, float, float]:
    """Rated line current, field current and armature current [A]; 0 for what the source neglects."""
    voltage = given["supply_voltage"]
    field = given.get("field_current", 0.0)
    if "field_resistance" in given:
        field = voltage / given["field_resistance"]
    line = given.get("rated_current", given.get("rated_line_current", 0.0))
    if "output_power" in given:
        line = given["output_power"] / given["efficiency"] / voltage
    return line, field, line - field


def _armature_resistance(given: dict[str, Any]) -> float:
    """Armature resistance as given, or from the share of the losses that the source states [ohm]."""
    if "armature_resistance" in given:
        return float(given["armature_resistance"])
    _, field, armature = _rated_currents(given)
    supplied = given["output_power"] / given["efficiency"]
    if "armature_loss_of_total_loss" in given:
        loss = given["armature_loss_of_total_loss"] * (supplied - given["output_power"])
    else:
        loss = given["copper_loss_of_input"] * supplied - given["supply_voltage"] * field
    return float(loss / armature**2)


def _limits(given: dict[str, Any]) -> tuple[float | None, float | None]:
    """Upper and lower armature current, where the source fixes them [A]."""
    line, field, armature = _rated_currents(given)
    if "flux_per_pole" in given:
        k_phi = (
            given["conductors"] * given["poles"] * given["flux_per_pole"] / (given["parallel_paths"] * 2.0 * math.pi)
        )
        lower = given["lower_torque"] / k_phi
        return lower * given["torque_ratio"], lower
    if given.get("lower_is_rated"):
        return None, armature
    if "limit_ratio" in given:
        on_line = given.get("limit") == "line"
        return (given["limit_ratio"] * line - field) if on_line else given["limit_ratio"] * armature, None
    return given.get("upper_current"), given.get("lower_current")


def computed_figures(example: StarterExample) -> dict[str, float]:
    """Compute every figure that the example prints, from its givens alone.

    Examples
    --------
    >>> first = starter_examples()[0]
    >>> round(computed_figures(first)["section_3"], 4), first.printed["section_3"]
    (0.0393, '0.0393')
    """
    given = _givens(example)
    voltage, drop, own = given["supply_voltage"], given.get("brush_drop", 0.0), _armature_resistance(given)
    line, _, armature = _rated_currents(given)
    upper, lower = _limits(given)
    if example.convention == "direct":
        current = direct_starting_current(voltage, own, brush_drop=drop)
        found = {"starting_current": current}
        if line:
            found |= {"starting_multiple": current / line, "starting_percent": 100.0 * current / line}
        return found
    if example.convention == "resistance":
        ratio = given["limit_ratio"]
        if given.get("limit") == "line":
            field = given["field_current"]
            added = starting_resistance(voltage, own, ratio * line, limit="line", field_current=field, brush_drop=drop)
        else:
            added = starting_resistance(voltage, own, ratio * armature, brush_drop=drop)
        found = {"starting_resistance": added, "line_current": line}
        for percent in (25, 50):
            emf = voltage * percent / 100.0
            found[f"resistance_at_{percent}_percent"] = starting_resistance(
                voltage, own, ratio * armature, brush_drop=drop, back_emf=emf
            )
        found["back_emf_at_rated"] = voltage - drop - armature * own
        found["back_emf_at_rated_with_starter"] = voltage - drop - armature * (own + added)
        return found
    if example.convention.startswith("limits"):
        rounding = "up" if example.convention.endswith("up") else "nearest"
        if upper is None or lower is None:
            raise ValueError(f"{example.identity}: both current limits are needed for this convention")
        grading = grade_starter_by_limits(voltage, own, upper, lower, brush_drop=drop, rounding=rounding)
    else:
        grading = grade_starter_by_sections(
            voltage,
            own,
            sections=given.get("sections"),
            studs=given.get("studs"),
            upper_current=upper,
            lower_current=lower,
            brush_drop=drop,
        )
    return _graded_figures(grading)


def _graded_figures(grading: StarterGrading) -> dict[str, float]:
    found = {
        "sections_exact": grading.sections_exact,
        "section_count": float(len(grading.sections)),
        "armature_resistance": grading.armature_resistance,
        "upper_current": grading.upper_current,
        "lower_current": grading.lower_current,
        "current_ratio": grading.current_ratio,
        "starting_circuit": grading.steps[0].circuit_resistance,
    }
    for position, section in enumerate(grading.sections, start=1):
        found[f"section_{position}"] = section
        step = grading.steps[position - 1]
        found[f"circuit_{position}"] = step.circuit_resistance
        if step.back_emf_at_cut_out is not None:
            found[f"back_emf_{position}"] = step.back_emf_at_cut_out
    return found
