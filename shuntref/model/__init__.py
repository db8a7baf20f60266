"""The numeric model: machine, flux curves, loads, running point, limits, sizing. Loaded name by name when first used."""

# ruff: noqa: F401  (the imports for type checkers re-export what __getattr__ loads)

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: public name -> module of this room that holds it
_PUBLIC = {
    "COPPER_234_5": "machine",
    "COPPER_235": "machine",
    "ArmatureReaction": "reaction",
    "BulkSpeed": "bulk",
    "ConstantPower": "load",
    "ConstantTorque": "load",
    "FluxCurve": "flux",
    "FluxLoss": "reaction",
    "FroehlichFlux": "flux",
    "InfeasibleError": "status",
    "Load": "load",
    "Machine": "machine",
    "MachineFileError": "machine_file",
    "NoReaction": "reaction",
    "ProportionalFlux": "flux",
    "ProportionalReaction": "reaction",
    "ProportionalTorque": "load",
    "SizedResistance": "sizing",
    "SquareTorque": "load",
    "Status": "status",
    "SteadyState": "result",
    "SumLoad": "load",
    "TableFlux": "flux",
    "TableReaction": "reaction",
    "UserLoad": "load",
    "added_armature_resistance_for_speed": "sizing",
    "added_field_resistance_for_speed": "sizing",
    "formulas": "formulas",
    "load_from_table": "machine_file",
    "load_machine": "machine_file",
    "machine_from_table": "machine_file",
    "machine_from_text": "machine_file",
    "machine_to_text": "machine_file",
    "save_machine": "machine_file",
    "shunt_speed": "bulk",
    "speed_torque_line": "torque_line",
    "status_text": "status",
    "steady_state": "steady",
}

__all__ = [*_PUBLIC]

if TYPE_CHECKING:
    from shuntref.model import formulas
    from shuntref.model.bulk import BulkSpeed, shunt_speed
    from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
    from shuntref.model.load import (
        ConstantPower,
        ConstantTorque,
        Load,
        ProportionalTorque,
        SquareTorque,
        SumLoad,
        UserLoad,
    )
    from shuntref.model.machine import COPPER_234_5, COPPER_235, Machine
    from shuntref.model.machine_file import (
        MachineFileError,
        load_from_table,
        load_machine,
        machine_from_table,
        machine_from_text,
        machine_to_text,
        save_machine,
    )
    from shuntref.model.reaction import (
        ArmatureReaction,
        FluxLoss,
        NoReaction,
        ProportionalReaction,
        TableReaction,
    )
    from shuntref.model.result import SteadyState
    from shuntref.model.sizing import (
        SizedResistance,
        added_armature_resistance_for_speed,
        added_field_resistance_for_speed,
    )
    from shuntref.model.status import InfeasibleError, Status, status_text
    from shuntref.model.steady import steady_state
    from shuntref.model.torque_line import speed_torque_line


def __getattr__(name: str) -> Any:
    module = _PUBLIC.get(name)
    if module is None:
        raise AttributeError(f"module 'shuntref.model' has no attribute {name!r}")
    loaded = importlib.import_module(f"shuntref.model.{module}")
    return loaded if name == module else getattr(loaded, name)


def __dir__() -> list[str]:
    return sorted(__all__)
