"""The numeric model: machine, flux curves, loads, running point, limits, sizing. Loaded name by name when first used."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: public name -> module of this room that holds it
_PUBLIC = {
    "ArmatureReaction": "reaction",
    "BulkSpeed": "bulk",
    "COPPER_234_5": "machine",
    "COPPER_235": "machine",
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
    "Resistor": "resistors",
    "SizedResistance": "sizing",
    "SquareTorque": "load",
    "StarterGrading": "starter_grading",
    "Status": "status",
    "SteadyState": "result",
    "SumLoad": "load",
    "Sweep": "sweep",
    "TableFlux": "flux",
    "TableReaction": "reaction",
    "UserLoad": "load",
    "added_armature_resistance_for_speed": "sizing",
    "added_field_resistance_for_speed": "sizing",
    "direct_starting_current": "starting",
    "formulas": "formulas",
    "grade_starter_by_limits": "starter_grading",
    "grade_starter_by_sections": "starter_grading",
    "load_from_table": "machine_file",
    "load_machine": "machine_file",
    "machine_from_table": "machine_file",
    "machine_from_text": "machine_file",
    "machine_to_text": "machine_file",
    "nearest_preferred": "preferred",
    "save_machine": "machine_file",
    "search_networks": "networks",
    "shunt_speed": "bulk",
    "speed_torque_line": "torque_line",
    "starting_resistance": "starting",
    "status_text": "status",
    "steady_state": "steady",
}

__all__ = [*_PUBLIC]

if TYPE_CHECKING:
    from shuntref.model import formulas as formulas
    from shuntref.model.bulk import BulkSpeed as BulkSpeed
    from shuntref.model.bulk import shunt_speed as shunt_speed
    from shuntref.model.flux import (
        FluxCurve as FluxCurve,
    )
    from shuntref.model.flux import (
        FroehlichFlux as FroehlichFlux,
    )
    from shuntref.model.flux import (
        ProportionalFlux as ProportionalFlux,
    )
    from shuntref.model.flux import (
        TableFlux as TableFlux,
    )
    from shuntref.model.load import (
        ConstantPower as ConstantPower,
    )
    from shuntref.model.load import (
        ConstantTorque as ConstantTorque,
    )
    from shuntref.model.load import (
        Load as Load,
    )
    from shuntref.model.load import (
        ProportionalTorque as ProportionalTorque,
    )
    from shuntref.model.load import (
        SquareTorque as SquareTorque,
    )
    from shuntref.model.load import (
        SumLoad as SumLoad,
    )
    from shuntref.model.load import (
        UserLoad as UserLoad,
    )
    from shuntref.model.machine import COPPER_234_5 as COPPER_234_5
    from shuntref.model.machine import COPPER_235 as COPPER_235
    from shuntref.model.machine import Machine as Machine
    from shuntref.model.machine_file import (
        MachineFileError as MachineFileError,
    )
    from shuntref.model.machine_file import (
        load_from_table as load_from_table,
    )
    from shuntref.model.machine_file import (
        load_machine as load_machine,
    )
    from shuntref.model.machine_file import (
        machine_from_table as machine_from_table,
    )
    from shuntref.model.machine_file import (
        machine_from_text as machine_from_text,
    )
    from shuntref.model.machine_file import (
        machine_to_text as machine_to_text,
    )
    from shuntref.model.machine_file import (
        save_machine as save_machine,
    )
    from shuntref.model.networks import search_networks as search_networks
    from shuntref.model.preferred import nearest_preferred as nearest_preferred
    from shuntref.model.reaction import (
        ArmatureReaction as ArmatureReaction,
    )
    from shuntref.model.reaction import (
        FluxLoss as FluxLoss,
    )
    from shuntref.model.reaction import (
        NoReaction as NoReaction,
    )
    from shuntref.model.reaction import (
        ProportionalReaction as ProportionalReaction,
    )
    from shuntref.model.reaction import (
        TableReaction as TableReaction,
    )
    from shuntref.model.resistors import Resistor as Resistor
    from shuntref.model.result import SteadyState as SteadyState
    from shuntref.model.sizing import (
        SizedResistance as SizedResistance,
    )
    from shuntref.model.sizing import (
        added_armature_resistance_for_speed as added_armature_resistance_for_speed,
    )
    from shuntref.model.sizing import (
        added_field_resistance_for_speed as added_field_resistance_for_speed,
    )
    from shuntref.model.starter_grading import StarterGrading as StarterGrading
    from shuntref.model.starter_grading import grade_starter_by_limits as grade_starter_by_limits
    from shuntref.model.starter_grading import grade_starter_by_sections as grade_starter_by_sections
    from shuntref.model.starting import direct_starting_current as direct_starting_current
    from shuntref.model.starting import starting_resistance as starting_resistance
    from shuntref.model.status import InfeasibleError as InfeasibleError
    from shuntref.model.status import Status as Status
    from shuntref.model.status import status_text as status_text
    from shuntref.model.steady import steady_state as steady_state
    from shuntref.model.sweep import Sweep as Sweep
    from shuntref.model.torque_line import speed_torque_line as speed_torque_line


if not TYPE_CHECKING:  # so that a type checker knows the names above and no others

    def __getattr__(name: str) -> Any:
        module = _PUBLIC.get(name)
        if module is None:
            raise AttributeError(f"module 'shuntref.model' has no attribute {name!r}")
        loaded = importlib.import_module(f"shuntref.model.{module}")
        return loaded if name == module else getattr(loaded, name)


def __dir__() -> list[str]:
    return sorted(__all__)
