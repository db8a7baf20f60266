"""The vocabulary of the project, and text with units turned into numbers at the edge. Loaded name by name when first used."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: public name -> module of this room that holds it
_PUBLIC = {
    "REGISTRY": "registry",
    "Quantity": "registry",
    "QuantityError": "text",
    "WrittenValue": "text",
    "format_value": "text",
    "parse_value": "text",
    "parse_values": "text",
    "quantity": "registry",
    "read_value": "text",
    "unit_factor": "text",
}

__all__ = [*_PUBLIC]

if TYPE_CHECKING:
    from shuntref.quantities.registry import REGISTRY as REGISTRY
    from shuntref.quantities.registry import Quantity as Quantity
    from shuntref.quantities.registry import quantity as quantity
    from shuntref.quantities.text import QuantityError as QuantityError
    from shuntref.quantities.text import WrittenValue as WrittenValue
    from shuntref.quantities.text import format_value as format_value
    from shuntref.quantities.text import parse_value as parse_value
    from shuntref.quantities.text import parse_values as parse_values
    from shuntref.quantities.text import read_value as read_value
    from shuntref.quantities.text import unit_factor as unit_factor


if not TYPE_CHECKING:  # so that a type checker knows the names above and no others

    def __getattr__(name: str) -> Any:
        module = _PUBLIC.get(name)
        if module is None:
            raise AttributeError(f"module 'shuntref.quantities' has no attribute {name!r}")
        return getattr(importlib.import_module(f"shuntref.quantities.{module}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
