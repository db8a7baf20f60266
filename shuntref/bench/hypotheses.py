"""What may have gone wrong in one run, each as a change of its setting that can be predicted with.

A hypothesis has at most one free figure, with the range in which that figure is believable.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from shuntref.bench.prediction import BenchModel, Setting

__all__ = ["TACHOMETER", "Changed", "Hypothesis", "load_times", "run_hypotheses"]

#: what a tachometer shows over the true r/min, and how that happens
TACHOMETER = (
    (2.0, "twice too high (two marks on the shaft)"),
    (0.5, "half of what it was (the meter counts on two marks)"),
    (math.pi / 30.0, "in rad/s under the heading r/min"),
    (1.0 / 60.0, "in r/s under the heading r/min"),
    (0.1, "a decade too low"),
    (10.0, "a decade too high"),
)


@dataclass(frozen=True)
class Changed:
    """The model and the settings under a hypothesis.

    ``speed_factor`` multiplies what the tachometer would show. ``moved`` is (position, column, other column) when a
    resistor stands elsewhere than written down, so that the error of its resistance stands there too.
    """

    model: BenchModel
    settings: tuple[Setting, ...]
    speed_factor: float = 1.0
    moved: tuple[int, str, str] | None = None


Change = Callable[[BenchModel, tuple[Setting, ...], float], Changed]


@dataclass(frozen=True)
class Hypothesis:
    """One thing that may have gone wrong.

    ``span`` is the believable range of its free figure, None when it has none; ``null`` is the value that means "nothing
    wrong". ``words`` makes a sentence of it, given the figure. ``ignores`` names readings that it says nothing about.
    """

    name: str
    change: Change
    words: Callable[[float], str]
    span: tuple[float, float] | None = None
    null: float = 0.0
    ignores: tuple[str, ...] = ()


def _moved(position: int, make: Callable[[Setting, float], Setting], column: str = "", other: str = "") -> Change:
    """A change of the setting at one position; the error of ``column`` goes to ``other``."""

    def apply(model: BenchModel, settings: tuple[Setting, ...], figure: float) -> Changed:
        new = tuple(make(s, figure) if i == position else s for i, s in enumerate(settings))
        return Changed(model, new, moved=(position, column, other) if column else None)

    return apply


def _said(sentence: str) -> Callable[[float], str]:
    """A sentence with ``{x}`` where the figure goes."""
    return lambda figure: sentence.replace("{x}", f"{figure:.4g}")


def load_times(setting: Setting, factor: float) -> Setting:
    """The setting with its load torque, read or taken, multiplied by a factor.

    Examples
    --------
    >>> load_times(Setting(load_torque=4.0), 1.5).load_torque
    6.0
    """
    if setting.load_torque is not None:
        return replace(setting, load_torque=setting.load_torque * factor)
    return replace(setting, load_factor=setting.load_factor * factor)


def tachometer_hypotheses(subject: str) -> list[Hypothesis]:
    """The ways in which a tachometer shows another unit or another decade."""

    def one(factor: float, words: str) -> Hypothesis:
        return Hypothesis(
            f"tachometer unit, {words}",
            lambda m, s, _: Changed(m, s, factor),
            _said(f"{subject} was written down {words}"),
        )

    return [one(factor, words) for factor, words in TACHOMETER]


def put(setting: Setting, column: str, ohms: float) -> Setting:
    """The setting with one of its added resistances replaced."""
    if column == "added_field_resistance":
        return replace(setting, added_field_resistance=ohms)
    return replace(setting, added_armature_resistance=ohms)


def _misplaced(position: int, written: str, ohms: float) -> list[Hypothesis]:
    """Where a resistor written down for one circuit may have been instead."""
    where = "armature" if written == "field" else "field"
    here, there = f"added_{written}_resistance", f"added_{where}_resistance"

    def line(s: Setting, _: float) -> Setting:
        return replace(put(s, here, 0.0), line_resistance=s.line_resistance + ohms)

    def other(s: Setting, _: float) -> Setting:
        return put(put(s, here, 0.0), there, getattr(s, there) + ohms)

    resistor = f"the {ohms:.4g} ohm written down for the {written} circuit"
    return [
        Hypothesis(
            "resistor in the line",
            _moved(position, line, here, "line_resistance"),
            _said(f"{resistor} sat in the line, ahead of both circuits"),
        ),
        Hypothesis(
            "resistor in the wrong circuit",
            _moved(position, other, here, there),
            _said(f"{resistor} sat in the {where} circuit"),
        ),
        Hypothesis(
            "resistor not in circuit",
            _moved(position, lambda s, _: put(s, here, 0.0), here),
            _said(f"{resistor} was not in it at all (bridged, or left out)"),
        ),
        Hypothesis(
            "another resistance",
            _moved(position, lambda s, x: put(s, here, x), here),
            _said(
                f"{{x}} ohm were in the {written} circuit and not the {ohms:.4g} ohm written down (another "
                "resistor, or series taken for parallel)"
            ),
            (0.0, 6.0 * ohms),
            ohms,
        ),
    ]


def run_hypotheses(position: int, setting: Setting, supply_voltage: float) -> tuple[Hypothesis, ...]:
    """What may have gone wrong in one run alone.

    Parameters
    ----------
    position : int
        Of the run among the settings.
    setting : Setting
        As it was written down.
    supply_voltage : float
        [V] of that run.

    Returns
    -------
    tuple of Hypothesis

    Examples
    --------
    >>> [h.name for h in run_hypotheses(0, Setting(added_field_resistance=20.0), 120.0)][:3]
    ['resistor in the line', 'resistor in the wrong circuit', 'resistor not in circuit']
    """
    found: list[Hypothesis] = []
    for written in ("field", "armature"):
        ohms = float(getattr(setting, f"added_{written}_resistance"))
        if ohms > 0.0:
            found += _misplaced(position, written, ohms)
    found += [
        Hypothesis(
            "supply sag",
            _moved(position, lambda s, x: replace(s, supply_voltage=x)),
            _said(f"the machine had {{x}} V and not the {supply_voltage:.4g} V taken for it"),
            (0.75 * supply_voltage, 1.05 * supply_voltage),
            supply_voltage,
        ),
        Hypothesis(
            "another load torque",
            _moved(position, load_times),
            _said("the load torque was {x} times what was taken for it"),
            (0.0, 2.5),
            1.0,
        ),
        *tachometer_hypotheses("the speed of this run"),
        Hypothesis(
            "slip in the speed reading",
            lambda m, s, _: Changed(m, s),
            _said("the speed alone is off while the other readings fit: a slip of the pen, or the tachometer"),
            ignores=("speed_rpm",),
        ),
    ]
    return tuple(found)
