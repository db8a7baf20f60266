"""A reference model of the d.c. shunt motor: derived, proved, checked against published examples.

>>> from shuntref import Machine, ProportionalFlux, steady_state
>>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
>>> point = steady_state(bench, supply_voltage=120.0, load_torque=6.0, added_field_resistance=20.0)
>>> round(point.speed_rpm, 1)
1615.7

Importing the package loads no third-party module; what is named below is loaded when it is first used.
"""

from __future__ import annotations

TYPE_CHECKING = False  # as typing has it, without the cost of importing typing

__version__ = "0.1.0"

#: public name -> module that holds it
_PUBLIC = {
    "Machine": "shuntref.model.machine",
    "load_machine": "shuntref.model.machine_file",
    "save_machine": "shuntref.model.machine_file",
    "ProportionalFlux": "shuntref.model.flux",
    "FroehlichFlux": "shuntref.model.flux",
    "TableFlux": "shuntref.model.flux",
    "NoReaction": "shuntref.model.reaction",
    "ProportionalReaction": "shuntref.model.reaction",
    "TableReaction": "shuntref.model.reaction",
    "FluxLoss": "shuntref.model.reaction",
    "ConstantTorque": "shuntref.model.load",
    "ProportionalTorque": "shuntref.model.load",
    "SquareTorque": "shuntref.model.load",
    "ConstantPower": "shuntref.model.load",
    "UserLoad": "shuntref.model.load",
    "steady_state": "shuntref.model.steady",
    "speed_torque_line": "shuntref.model.torque_line",
    "parse_value": "shuntref.quantities.text",
    "parse_values": "shuntref.quantities.text",
    "format_value": "shuntref.quantities.text",
}

__all__ = ["__version__", *_PUBLIC]

if TYPE_CHECKING:
    from typing import Any

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
        ProportionalTorque as ProportionalTorque,
    )
    from shuntref.model.load import (
        SquareTorque as SquareTorque,
    )
    from shuntref.model.load import (
        UserLoad as UserLoad,
    )
    from shuntref.model.machine import Machine as Machine
    from shuntref.model.machine_file import load_machine as load_machine
    from shuntref.model.machine_file import save_machine as save_machine
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
    from shuntref.model.steady import steady_state as steady_state
    from shuntref.model.torque_line import speed_torque_line as speed_torque_line
    from shuntref.quantities.text import (
        format_value as format_value,
    )
    from shuntref.quantities.text import (
        parse_value as parse_value,
    )
    from shuntref.quantities.text import (
        parse_values as parse_values,
    )


if not TYPE_CHECKING:  # so that a type checker knows the names above and no others

    def __getattr__(name: str) -> Any:
        module = _PUBLIC.get(name)
        if module is None:
            raise AttributeError(f"module 'shuntref' has no attribute {name!r}")
        import importlib

        return getattr(importlib.import_module(module), name)


def __dir__() -> list[str]:
    return sorted(__all__)
