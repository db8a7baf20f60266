"""How each quantity of a running point follows from others: a table that serves floats and blocks of arrays alike.

A solver supplies the armature current (or the torque, or the speed); everything else is looked up here when it is asked
for, and only then. ``signed_brush_drop``, ``net_voltage`` and the parts of the machine travel with the quantities.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np

from shuntref.model import formulas as f
from shuntref.model.flux import FluxCurve
from shuntref.model.load import LoadTerms, torque_of
from shuntref.model.reaction import ArmatureReaction

__all__ = ["QUANTITIES", "Recipes", "efficiency", "recipes_for", "resolve"]

Recipes: TypeAlias = dict[str, tuple[Callable[..., Any], tuple[str, ...]]]


def _k_phi(flux: FluxCurve, reaction: ArmatureReaction, field_current: Any, armature_current: Any) -> Any:
    return reaction.k_phi_at(flux, field_current, armature_current)


def _k_phi_rigid(flux: FluxCurve, field_current: Any) -> Any:
    return flux.k_phi_at(field_current)


def _reaction_current(flux: FluxCurve, reaction: ArmatureReaction, field_current: Any, armature_current: Any) -> Any:
    return reaction.reaction_field_current_at(flux, field_current, armature_current)


def _signed_brush_drop(brush_drop: Any, armature_current: Any) -> Any:
    if isinstance(armature_current, float):
        return brush_drop if armature_current > 0.0 else -brush_drop if armature_current < 0.0 else 0.0
    if type(brush_drop) is float and brush_drop == 0.0:
        return 0.0
    return brush_drop * np.sign(armature_current)


def _torque(terms: LoadTerms, speed: Any) -> Any:
    return torque_of(terms, speed)


def efficiency(output_power: Any, input_power: Any) -> Any:
    """Useful output over input in either direction; 0 where power only goes in (braking, standstill, no load)."""
    if isinstance(output_power, float) and isinstance(input_power, float):
        if output_power > 0.0 and input_power > 0.0:
            return f.efficiency_motoring(output_power, input_power)
        if output_power < 0.0 and input_power < 0.0:
            return f.efficiency_generating(output_power, input_power)
        return 0.0
    with np.errstate(all="ignore"):
        eta = f.efficiency_motoring(output_power, input_power)
        if np.min(output_power) >= 0.0 and np.min(input_power) > 0.0:
            return eta
        generating = f.efficiency_generating(output_power, input_power)
    both = (output_power < 0.0) & (input_power < 0.0)
    return np.where((output_power > 0.0) & (input_power > 0.0), eta, np.where(both, generating, 0.0)).astype(eta.dtype)


def _same(value: Any) -> Any:
    return value


_ALWAYS: Recipes = {
    "armature_circuit_resistance": (
        f.armature_circuit_resistance,
        ("armature_resistance", "added_armature_resistance"),
    ),
    "field_circuit_resistance": (f.field_circuit_resistance, ("field_resistance", "added_field_resistance")),
    "signed_brush_drop": (_signed_brush_drop, ("brush_drop", "armature_current")),
    "net_voltage": (f.net_voltage, ("supply_voltage", "signed_brush_drop")),
    "reaction_field_current": (_reaction_current, ("flux", "reaction", "field_current", "armature_current")),
    "effective_field_current": (f.effective_field_current, ("field_current", "reaction_field_current")),
    "k_phi": (_k_phi, ("flux", "reaction", "field_current", "armature_current")),
    "speed_rpm": (f.to_rpm, ("speed",)),
    "load_torque": (_torque, ("load_terms", "speed")),
    "loss_torque": (_torque, ("loss_terms", "speed")),
    "field_copper_loss": (f.field_copper_loss, ("field_current", "field_resistance")),
    "added_field_loss": (f.added_field_loss, ("field_current", "added_field_resistance")),
    "armature_copper_loss": (f.armature_copper_loss, ("armature_current", "armature_resistance")),
    "added_armature_loss": (f.added_armature_loss, ("armature_current", "added_armature_resistance")),
    "brush_loss": (f.brush_loss, ("signed_brush_drop", "armature_current")),
    "line_loss": (f.line_loss, ("line_current", "line_resistance")),
    "rotational_loss": (f.rotational_loss, ("loss_torque", "speed")),
    "total_loss": (
        f.total_loss,
        ("field_copper_loss", "added_field_loss", "armature_copper_loss", "added_armature_loss", "brush_loss",
         "line_loss", "rotational_loss"),
    ),
    "electromagnetic_power": (f.electromagnetic_power, ("back_emf", "armature_current")),
    "output_power": (f.output_power, ("load_torque", "speed")),
    "efficiency": (efficiency, ("output_power", "input_power")),
}  # fmt: skip

_RIGID: Recipes = {"k_phi": (_k_phi_rigid, ("flux", "field_current"))}

_CONNECTION: dict[str, Recipes] = {
    "shunt": {
        "field_voltage": (_same, ("supply_voltage",)),
        "line_current": (f.line_current, ("armature_current", "field_current")),
        "field_current": (f.field_current, ("supply_voltage", "field_circuit_resistance")),
        "input_power": (f.input_power_shunt, ("source_voltage", "line_current")),
    },
    "separate": {
        "line_current": (_same, ("armature_current",)),
        "field_current": (f.field_current, ("field_voltage", "field_circuit_resistance")),
        "input_power": (
            f.input_power_separate,
            ("source_voltage", "armature_current", "field_voltage", "field_current"),
        ),
    },
}

_AHEAD: Recipes = {"source_voltage": (f.source_voltage, ("supply_voltage", "line_current", "line_resistance"))}

_BEHIND: dict[str, Recipes] = {
    "shunt": {
        "field_current": (
            f.field_current_behind_line,
            ("source_voltage", "armature_current", "field_circuit_resistance", "line_resistance"),
        ),
        "supply_voltage": (f.supply_voltage_behind_line, ("source_voltage", "line_current", "line_resistance")),
    },
    "separate": {
        "supply_voltage": (f.supply_voltage_behind_line, ("source_voltage", "line_current", "line_resistance")),
    },
}

_SOLVED: dict[str, Recipes] = {
    "current": {
        "back_emf": (
            f.back_emf_from_current,
            ("net_voltage", "armature_current", "armature_circuit_resistance"),
        ),
        "speed": (f.speed_from_emf, ("back_emf", "k_phi")),
        "electromagnetic_torque": (f.electromagnetic_torque, ("k_phi", "armature_current")),
    },
    "speed": {
        "electromagnetic_torque": (lambda load, loss: load + loss, ("load_torque", "loss_torque")),
        "armature_current": (f.armature_current_from_torque, ("electromagnetic_torque", "k_phi")),
        "back_emf": (f.back_emf, ("k_phi", "speed")),
    },
}
_SOLVED["torque"] = {**_SOLVED["current"]}  # the torque itself is supplied, and is not worked out from the current
del _SOLVED["torque"]["electromagnetic_torque"]

_TABLE: dict[tuple[str, bool, bool, str], Recipes] = {
    (connection, behind, rigid, solved): {
        **_ALWAYS,
        **(_RIGID if rigid else {}),
        **_CONNECTION[connection],
        **(_BEHIND[connection] if behind else _AHEAD),
        **_SOLVED[solved],
    }
    for connection in ("shunt", "separate")
    for behind in (False, True)
    for rigid in (False, True)
    for solved in _SOLVED
}

#: the quantities that a steady state offers, in the order of its tables
QUANTITIES: tuple[str, ...] = (
    "source_voltage", "supply_voltage", "field_voltage",
    "field_resistance", "added_field_resistance", "field_circuit_resistance",
    "armature_resistance", "added_armature_resistance", "armature_circuit_resistance",
    "line_resistance", "brush_drop",
    "field_current", "reaction_field_current", "effective_field_current", "k_phi",
    "armature_current", "line_current", "back_emf", "speed", "speed_rpm",
    "electromagnetic_torque", "load_torque", "loss_torque",
    "field_copper_loss", "added_field_loss", "armature_copper_loss", "added_armature_loss", "brush_loss", "line_loss",
    "rotational_loss", "total_loss", "input_power", "electromagnetic_power", "output_power", "efficiency",
)  # fmt: skip


def recipes_for(connection: str, *, behind_line: bool, rigid: bool, solved: str) -> Recipes:
    """Return the recipes for a connection; ``behind_line`` when the source is given and the line has resistance.

    ``rigid`` when the flux does not depend on the armature current; ``solved`` is what the solver supplies: "current",
    "torque" (current and electromagnetic torque) or "speed".
    """
    return _TABLE[connection, behind_line, rigid, solved]


def resolve(name: str, values: dict[str, Any], recipes: Recipes) -> Any:
    """Return a quantity, working it out from others and keeping it in ``values``."""
    try:
        return values[name]
    except KeyError:
        function, arguments = recipes[name]
    value = function(*[resolve(argument, values, recipes) for argument in arguments])
    values[name] = value
    return value
