"""Field control and armature-circuit control of the speed, compared on loss and on speed regulation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shuntref.bench.prediction import BenchModel, Setting, solve_settings

__all__ = ["ControlLine", "compare_controls", "comparison_words"]


@dataclass(frozen=True, slots=True)
class ControlLine:
    """One setting in the comparison: W, r/min, 1.

    ``regulation`` is (no-load speed - loaded speed) / loaded speed with the same resistors in circuit.
    """

    circuit: str
    resistance: float
    speed_rpm: float
    light_speed_rpm: float
    regulation: float
    resistor_loss: float
    input_power: float
    efficiency: float


def compare_controls(model: BenchModel, settings: Sequence[tuple[str, Setting]]) -> tuple[ControlLine, ...]:
    """Loss and regulation of several settings, each with the load and without it.

    Parameters
    ----------
    model : BenchModel
    settings : sequence of (circuit, Setting)
        ``circuit`` is "none", "field" or "armature".

    Returns
    -------
    tuple of ControlLine
    """
    loaded = solve_settings(model, model.values(), [setting for _, setting in settings])
    light = solve_settings(model, model.values(), [replace(setting, load_factor=0.0) for _, setting in settings])
    speeds, light_speeds = (np.asarray(state.speed_rpm, dtype=float) for state in (loaded, light))
    lost = np.asarray(loaded.added_field_loss, dtype=float) + np.asarray(loaded.added_armature_loss, dtype=float)
    drawn, share = (np.asarray(getattr(loaded, name), dtype=float) for name in ("input_power", "efficiency"))
    return tuple(
        ControlLine(
            circuit,
            setting.added_field_resistance + setting.added_armature_resistance,
            float(speeds[i]),
            float(light_speeds[i]),
            float(light_speeds[i] / speeds[i] - 1.0),
            float(lost[i]),
            float(drawn[i]),
            float(share[i]),
        )
        for i, (circuit, setting) in enumerate(settings)
    )


def comparison_words(lines: Sequence[ControlLine]) -> tuple[str, ...]:
    """What the comparison says, in sentences with its own numbers; nothing when one of the two kinds is missing."""
    base = next((line for line in lines if line.circuit == "none"), None)
    groups = {name: [line for line in lines if line.circuit == name] for name in ("field", "armature")}
    if base is None or not groups["field"] or not groups["armature"]:
        return ()
    field, armature = (max(group, key=lambda line: abs(line.speed_rpm - base.speed_rpm)) for group in groups.values())

    def change(line: ControlLine) -> str:
        return f"{100.0 * (line.speed_rpm / base.speed_rpm - 1.0):+.1f} %"

    return (
        f"{field.resistance:.3g} ohm in the field changes the speed by {change(field)} and burns {field.resistor_loss:.3g} W "
        f"in the resistor; {armature.resistance:.3g} ohm in the armature circuit changes it by {change(armature)} and burns "
        f"{armature.resistor_loss:.3g} W ({100.0 * armature.resistor_loss / armature.input_power:.0f} % of what is drawn).",
        f"Taking the load off raises the speed by {100.0 * field.regulation:.1f} % with the field resistor and by "
        f"{100.0 * armature.regulation:.1f} % with the armature resistor ({100.0 * base.regulation:.1f} % with neither).",
        f"Efficiency {100.0 * base.efficiency:.0f} % without resistors, {100.0 * field.efficiency:.0f} % with the field "
        f"resistor, {100.0 * armature.efficiency:.0f} % with the armature resistor.",
    )
