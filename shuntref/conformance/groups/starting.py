"""Cases of the group "starting": resistance for a current, grading of a starter, number of its sections."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import sympy as sp
from mpmath import mp, mpf

from shuntref.conformance.certify import Alternative, Entry, Row
from shuntref.conformance.groups.machines import MACHINES, NOTHING_NEGATIVE, REFUSING
from shuntref.conformance.mistakes import Mistake, on_outputs, swapped
from shuntref.conformance.problem import Problem, Values, equations, variable
from shuntref.theory.laws import law

__all__ = ["ENTRIES"]

STARTING = Problem(
    equations("armature-circuit", "armature-circuit-resistance", "starting-current", "starting-resistance")
    | {"standstill": sp.Eq(variable("back_emf"), 0)},
    ("starting_resistance",),
    refusals=(NOTHING_NEGATIVE("starting_resistance"),),
)
#: starting currents allowed, about one and a half times and twice full load
CURRENTS = {
    "tiny": (3.0, 4.0),
    "fan": (7.5, 9.2),
    "bench": (12.5, 17.0),
    "crane": (125.0, 160.0),
    "lecture": (60.0, 80.0),
    "pump": (48.0, 64.0),
    "mill": (210.0, 285.0),
}


def _starting(volts: float, resistance: float, amperes: float, **more: float) -> dict[str, float]:
    return {"supply_voltage": volts, "armature_resistance": resistance, "starting_current": amperes, **more}


def _starting_rows() -> Iterator[Row]:
    for motor in MACHINES:
        label = motor["name"]
        volts, resistance = motor["supply_voltage"], motor["armature_resistance"]
        mild, brisk = CURRENTS[label]
        yield Row(f"{label}-mild", 1, _starting(volts, resistance, mild))
        yield Row(f"{label}-brisk-brushes", 2, _starting(volts, resistance, brisk, brush_drop=2.0))
    exact = _starting(120.0, 0.8, 150.0)
    yield Row("nothing-needed-exactly", 3, exact, "acceptable", "", (REFUSING,))
    yield Row("very-small-current", 3, _starting(240.0, 0.25, 0.01))
    for amperes in (149.9, 149.9999, 149.999999):
        yield Row(f"hardly-needed-{amperes:.6f}".rstrip("0").replace(".", "-"), 4, _starting(120.0, 0.8, amperes))
    yield Row("refused-no-current", 3, _starting(120.0, 0.8, 0.0), "invalid")
    yield Row("refused-negative-current", 3, _starting(120.0, 0.8, -20.0), "invalid")
    yield Row("refused-more-than-direct", 3, _starting(120.0, 0.8, 160.0), "invalid")
    yield Row("refused-no-voltage", 3, _starting(0.0, 0.8, 20.0), "invalid")


# --- grading: at the peak of every stud the upper current flows, at its end the lower one


def _grading(inputs: Mapping[str, Any]) -> Problem:
    """Balance the voltages at the peak and at the end of every stud; the last stud is the armature alone."""
    count = int(inputs["sections"]) if inputs["sections"] > 0 else 1
    upper, lower, volts = variable("upper_current"), variable("lower_current"), variable("supply_voltage")
    circuit = [variable(f"step_circuit_resistance[{i}]") for i in range(count + 1)]
    emf = [variable(f"step_back_emf[{i}]") for i in range(count + 1)]
    system: dict[str, sp.Eq] = {"standstill": sp.Eq(emf[0], 0), "ratio": equations("starter-ratio")["starter-ratio"]}
    system["armature alone"] = sp.Eq(circuit[count], variable("armature_resistance"))
    for i in range(count + 1):
        system[f"peak {i}"] = sp.Eq(volts, emf[i] + upper * circuit[i])
    for i in range(count):
        # the speed, and with it the back EMF, is the same before and after the stud is changed
        system[f"end {i}"] = sp.Eq(volts, emf[i + 1] + lower * circuit[i])
        system[f"section {i}"] = sp.Eq(variable(f"section_resistance[{i}]"), circuit[i] - circuit[i + 1])
    too_large = ("direct starting stays below the upper current", lambda v: bool(v["current_ratio"] <= 1))
    return Problem(
        system,
        ("current_ratio", "lower_current", "section_resistance"),
        pivots={"lower_current": "largest"},
        refusals=(too_large,),
    )


def _graded(volts: float, resistance: float, amperes: float, sections: float) -> dict[str, float]:
    return {
        "supply_voltage": volts,
        "armature_resistance": resistance,
        "upper_current": amperes,
        "sections": sections,
    }


def _grading_rows() -> Iterator[Row]:
    starters = (
        (1, 120.0, 0.8, 17.0, 3), (1, 220.0, 0.15, 160.0, 4), (1, 240.0, 0.25, 80.0, 4), (1, 250.0, 0.05, 700.0, 3),
        (2, 110.0, 1.5, 9.2, 2), (2, 400.0, 0.6, 64.0, 5), (2, 500.0, 0.09, 285.0, 6), (2, 24.0, 1.2, 4.0, 2),
        (2, 440.0, 0.3, 120.0, 7), (2, 230.0, 0.4, 60.0, 5), (2, 600.0, 0.12, 400.0, 8), (2, 120.0, 0.5, 30.0, 3),
    )  # fmt: skip
    for level, volts, resistance, amperes, sections in starters:
        words = f"{volts:g}-volt-{amperes:g}-ampere-{sections}-sections".replace(".", "-")
        yield Row(words, level, _graded(volts, resistance, amperes, float(sections)))
    yield Row("one-section", 3, _graded(120.0, 0.8, 17.0, 1.0))
    yield Row("twelve-sections", 3, _graded(500.0, 0.02, 300.0, 12.0))
    yield Row("current-hardly-limited", 4, _graded(120.0, 0.8, 149.99, 3.0))
    yield Row("refused-no-sections", 3, _graded(120.0, 0.8, 17.0, 0.0), "invalid")
    yield Row("refused-half-a-section", 3, _graded(120.0, 0.8, 17.0, 2.5), "invalid")
    yield Row("refused-current-above-direct", 3, _graded(120.0, 0.8, 170.0, 3.0), "invalid")
    yield Row("refused-negative-current", 3, _graded(120.0, 0.8, -17.0, 3.0), "invalid")


def _regraded(shift: int) -> Mistake:
    """Return the mistake of another exponent: the ratio is that of a starter with so many sections more."""

    def change(problem: Problem) -> Problem | None:
        count = sum(key.startswith("section ") for key in problem.equations)
        resistance = variable("armature_resistance")
        if shift > 0:  # one stud more is needed before the armature is alone
            last = variable(f"step_circuit_resistance[{count}]") * variable("lower_current") / variable("upper_current")
            return problem.swap("armature alone", lambda s: sp.Eq(last, resistance))
        if count == 1:
            return None
        return problem.swap(
            "armature alone", lambda s: sp.Eq(variable(f"step_circuit_resistance[{count - 1}]"), resistance)
        )

    return change


def _circuits(values: Values) -> None:
    for i in range(int(values["sections"])):
        values[f"section_resistance[{i}]"] = values[f"step_circuit_resistance[{i}]"]


def _equal(values: Values) -> None:
    count = int(values["sections"])
    total = values["step_circuit_resistance[0]"] - values["armature_resistance"]
    for i in range(count):
        values[f"section_resistance[{i}]"] = total / count


# --- number of sections
def _in_logarithms() -> sp.Eq:
    """Return the law of the number of sections in logarithms, so that the exponent is found by division; no brushes."""
    statement = law("starter-sections").equation.subs(variable("brush_drop"), 0)
    return sp.Eq(*(sp.expand_log(sp.log(side), force=True) for side in statement.args))


SECTIONS = Problem(
    {"starter-sections": _in_logarithms()},
    ("sections",),
    after=(lambda values: {**values, "sections": mp.ceil(values["exact_sections"] - mpf("1e-30"))},),
    refusals=(
        (
            "lower_current is not below upper_current",
            lambda v: bool(v["lower_current"] >= v["upper_current"]),
        ),
        ("upper_current is not below the direct starting current", lambda v: bool(v["exact_sections"] <= 0)),
    ),
)


def _limits(volts: float, resistance: float, upper: float, lower: float) -> dict[str, float]:
    return {
        "supply_voltage": volts,
        "armature_resistance": resistance,
        "upper_current": upper,
        "lower_current": lower,
    }


def _one_more(problem: Problem) -> Problem | None:
    return problem.with_after(lambda values: {**values, "sections": values["sections"] + 1})


def _rounded_down(values: Values) -> None:
    values["sections"] = mp.floor(values["exact_sections"])


def _sections_rows() -> Iterator[Row]:
    starters = (
        (1, 120.0, 0.8, 17.0, 9.0), (1, 220.0, 0.15, 160.0, 90.0), (1, 240.0, 0.25, 80.0, 45.0), (1, 250.0, 0.05, 700.0, 350.0),
        (2, 110.0, 1.5, 9.2, 5.5), (2, 400.0, 0.6, 64.0, 38.0), (2, 500.0, 0.09, 285.0, 170.0), (2, 24.0, 1.2, 4.0, 2.2),
        (2, 440.0, 0.3, 120.0, 80.0), (2, 600.0, 0.12, 400.0, 300.0),
    )  # fmt: skip
    for level, volts, resistance, upper, lower in starters:
        words = f"{volts:g}-volt-{upper:g}-to-{lower:g}-ampere".replace(".", "-")
        yield Row(words, level, _limits(volts, resistance, upper, lower))
    # 8 = 2^3 exactly: three sections, though rounding of the logarithms may make it four
    one_more = Alternative("one more, because rounding lifts the exact number just above a whole one", _one_more)
    note = "the exact number of sections is a whole one"
    yield Row("exactly-three", 3, _limits(120.0, 0.5, 30.0, 15.0), "acceptable", note, (one_more,))
    yield Row("exactly-five", 3, _limits(240.0, 0.25, 30.0, 15.0), "acceptable", note, (one_more,))
    yield Row("one-is-enough", 3, _limits(120.0, 0.8, 100.0, 60.0))
    yield Row("limits-close-together", 3, _limits(500.0, 0.05, 300.0, 285.0))
    yield Row("refused-limits-equal", 3, _limits(120.0, 0.8, 20.0, 20.0), "invalid")
    yield Row("refused-limits-exchanged", 3, _limits(120.0, 0.8, 10.0, 20.0), "invalid")
    yield Row("refused-upper-above-direct", 3, _limits(120.0, 0.8, 200.0, 100.0), "invalid")


ENTRIES = {
    "starting_resistance": Entry(
        lambda inputs: STARTING,
        (
            "total-given-for-added",
            "brush-drop-forgotten",
            "brush-drop-doubled",
            "brush-drop-halved",
            "brush-drop-helps-the-current",
        ),
        tuple(_starting_rows()),
        {
            "brush-drop-helps-the-current": swapped(
                "armature-circuit",
                lambda s: sp.Eq(
                    s("supply_voltage"),
                    s("back_emf") + s("armature_current") * s("armature_circuit_resistance") - s("brush_drop"),
                ),
            )
        },
    ),
    "starter_grading": Entry(
        _grading,
        (
            "studs-counted-as-sections",
            "sections-counted-as-studs",
            "circuit-resistances-for-sections",
            "equal-sections",
        ),
        tuple(_grading_rows()),
        {
            "studs-counted-as-sections": _regraded(1),
            "sections-counted-as-studs": _regraded(-1),
            "circuit-resistances-for-sections": on_outputs(_circuits),
            "equal-sections": on_outputs(_equal),
        },
    ),
    "starter_sections": Entry(
        lambda inputs: SECTIONS,
        ("sections-rounded-down",),
        tuple(_sections_rows()),
        {"sections-rounded-down": on_outputs(_rounded_down)},
    ),
}
