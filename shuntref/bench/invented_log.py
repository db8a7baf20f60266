"""The invented log of the demonstration bench: seeded noise, one wrong row, one miswired run.

``python -m shuntref.bench.invented_log FILE.csv`` writes it. Nothing in it was ever measured.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from shuntref.bench.instrument_set import InstrumentSet
from shuntref.model.flux import FroehlichFlux
from shuntref.model.load import ConstantTorque, ProportionalTorque
from shuntref.model.machine import Machine
from shuntref.model.steady import steady_state
from shuntref.whole_file import write_whole

__all__ = ["MISWIRED_RUN", "SEED", "WRONG_RUN", "invented_log", "true_machine"]

#: one day among many: with this seed every correctly wired run agrees and every parameter comes out within its stated
#: uncertainty; on other days one of them misses by a little, as a 95 % interval must once in twenty times
SEED = 16
#: the run whose armature resistor sits in the line ahead of both circuits
MISWIRED_RUN = "6"
#: the run with one reading whose digits were written down in the wrong order
WRONG_RUN = "3"

_COLUMNS = (
    "test",
    "run",
    "U [V]",
    "U_f [V]",
    "U_a [V]",
    "E [V]",
    "I_f [A]",
    "I_a [A]",
    "R_fx [ohm]",
    "R_ax [ohm]",
    "T [N m]",
    "n [r/min]",
    "theta [degC]",
    "remark",
)
_QUANTITIES = (
    "supply_voltage",
    "field_voltage",
    "armature_voltage",
    "back_emf",
    "field_current",
    "armature_current",
    "added_field_resistance",
    "added_armature_resistance",
    "load_torque",
    "speed_rpm",
    "winding_temperature",
)
_DECIMALS = {
    "supply_voltage": 1,
    "field_voltage": 1,
    "armature_voltage": 2,
    "back_emf": 1,
    "field_current": 3,
    "armature_current": 2,
    "added_field_resistance": 2,
    "added_armature_resistance": 3,
    "load_torque": 2,
    "speed_rpm": 0,
    "winding_temperature": 0,
}

#: added field and armature resistance [ohm] of the load runs, as the plan of the bench recommends them
_LOAD_RUNS = ((0.0, 0.0), (14.03, 0.0), (30.0, 0.0), (40.0, 0.0), (0.0, 2.2), (0.0, 5.7), (0.0, 7.9))


def true_machine() -> Machine:
    """The machine behind the invented log: near the bench file's, as a real one would be, and not equal to it."""
    return Machine(
        armature_resistance=0.935,
        field_resistance=158.9,
        brush_drop=1.7,
        flux=FroehlichFlux(1.342, 0.706, 0.0185),
        loss_torque=ConstantTorque(0.23) + ProportionalTorque(0.125, speed=1500.0 * math.pi / 30.0),
        name="invented machine behind the invented log",
        invented=True,
    )


@dataclass
class _Pen:
    """Writes rows as the bench's meters would read the true values."""

    generator: np.random.Generator
    meters: InstrumentSet
    rows: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        # each meter's gain and zero lie anywhere within its limits and stay there all day
        self._gain = {m.name: self.generator.uniform(-1.0, 1.0) * m.gain_limit for m in self.meters.instruments}
        self._zero = {m.name: self.generator.uniform(-1.0, 1.0) * m.zero_limit for m in self.meters.instruments}

    def read(self, name: str, true: float) -> float:
        """One reading of a quantity, rounded to the digits of its meter."""
        meter = self.meters.reading(name)
        shown = true
        if meter is not None:
            scatter = meter.scatter * float(self.generator.standard_normal())
            shown = true * (1.0 + self._gain[meter.name]) + self._zero[meter.name] + scatter
        return round(shown, _DECIMALS[name])

    def write(self, test: str, run: str, values: Mapping[str, float], remark: str = "") -> None:
        """One row; a quantity that is not in ``values`` was not measured."""
        cells = [f"{values[name]:.{_DECIMALS[name]}f}" if name in values else "" for name in _QUANTITIES]
        self.rows.append(",".join([test, run, *cells, remark]))

    def take(self, test: str, run: str, true: Mapping[str, float], remark: str = "") -> None:
        """Read every quantity once and write the row."""
        self.write(test, run, {name: self.read(name, value) for name, value in true.items()}, remark)


def _resistance_and_curve(pen: _Pen, machine: Machine) -> None:
    for number, current in enumerate(np.linspace(1.0, 8.0, 8), start=1):
        volts = machine.brush_drop + machine.armature_resistance * float(current)
        remark = "rotor held; another brush position each time" if number == 1 else ""
        pen.take("volt-ampere", str(number), {"armature_voltage": volts, "armature_current": float(current)}, remark)
    for number, volts in enumerate((60.0, 80.0, 100.0, 110.0, 120.0), start=1):
        true = {"field_voltage": volts, "field_current": volts / machine.field_resistance, "winding_temperature": 41.0}
        pen.take("field", str(number), true, "field on for half an hour before" if number == 1 else "")
    for number, current in enumerate((0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9), start=1):
        emf = machine.flux.k_phi(current) * 1500.0 * math.pi / 30.0
        true = {"back_emf": emf, "field_current": current, "speed_rpm": 1500.0}
        pen.take(
            "generator", str(number), true, "driven by the other machine; field taken up only" if number == 1 else ""
        )


def _light_runs(pen: _Pen, machine: Machine) -> None:
    for number, volts in enumerate((50.0, 65.0, 80.0, 95.0, 108.0, 120.0), start=1):
        # the field keeps the full supply, the armature gets what is left by a large resistor
        state = steady_state(machine, supply_voltage=120.0, added_armature_resistance=(120.0 - volts) / 0.55)
        true = {
            "supply_voltage": 120.0,
            "field_current": state.field_current,
            "armature_current": state.armature_current,
            "added_armature_resistance": (120.0 - volts) / 0.55,
            "speed_rpm": state.speed_rpm,
        }
        pen.take("no-load", str(number), true)


def _load_runs(pen: _Pen, machine: Machine) -> None:
    for number, (in_field, in_armature) in enumerate(_LOAD_RUNS, start=1):
        miswired = str(number) == MISWIRED_RUN
        for repeat in range(3):
            torque = 4.0 + 0.02 * float(pen.generator.standard_normal())
            state = steady_state(
                machine,
                source_voltage=120.0,
                line_resistance=in_armature if miswired else 0.0,
                load_torque=torque,
                added_field_resistance=in_field,
                added_armature_resistance=0.0 if miswired else in_armature,
            )
            true = {
                "supply_voltage": 120.0,
                "field_current": state.field_current,
                "armature_current": state.armature_current,
                "load_torque": torque,
                "speed_rpm": state.speed_rpm,
            }
            shown = {name: pen.read(name, value) for name, value in true.items()}
            if repeat == 0:
                set_to = {"added_field_resistance": in_field, "added_armature_resistance": in_armature}
                shown |= {name: pen.read(name, value) for name, value in set_to.items() if value > 0.0}
            wrong = str(number) == WRONG_RUN and repeat == 1
            if wrong:
                digits = f"{shown['speed_rpm']:.0f}"
                shown["speed_rpm"] = float(digits[0] + digits[2] + digits[1] + digits[3])
            pen.write("load", str(number), shown)


def invented_log(meters: InstrumentSet, seed: int = SEED) -> str:
    """The log as CSV text.

    Parameters
    ----------
    meters : InstrumentSet
        Of the invented bench.
    seed : int

    Returns
    -------
    str
    """
    pen, machine = _Pen(np.random.default_rng(seed), meters), true_machine()
    _resistance_and_curve(pen, machine)
    _light_runs(pen, machine)
    _load_runs(pen, machine)
    remarks = [
        "# INVENTED log of an invented bench: nothing here was measured.",
        f"# Written by python -m shuntref.bench.invented_log, seed {seed}.",
        "# The supply voltmeter sits at the board, ahead of whatever is put in the line.",
    ]
    return "\n".join([*remarks, ",".join(_COLUMNS), *pen.rows]) + "\n"


if __name__ == "__main__":
    from shuntref.bench.demo import demo_bench

    write_whole(sys.argv[1], invented_log(InstrumentSet.of(demo_bench().instruments)))
