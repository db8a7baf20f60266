"""The JSON Schema of the certified cases, so that anybody's validator can check the file."""

from __future__ import annotations

from typing import Any

from shuntref.conformance.flags import load_flags
from shuntref.conformance.functions import load_functions
from shuntref.quantities.registry import REGISTRY

__all__ = ["case_schema"]

_DIGITS = r"^(0|-?[0-9]+(\.[0-9]+)?(e[+-][0-9]+)?)$"
_SLUG = "^[a-z0-9]+(-[a-z0-9]+)*$"


def case_schema() -> dict[str, Any]:
    """Return the schema (JSON Schema, draft 2020-12) of cases.json.

    Examples
    --------
    >>> case_schema()["$schema"]
    'https://json-schema.org/draft/2020-12/schema'
    """
    functions = load_functions()
    inputs = sorted({entry.name for f in functions.values() for entry in f.inputs})
    outputs = sorted({entry.name for f in functions.values() for entry in f.outputs})
    unit = {name: f"{REGISTRY[name].meaning} [{REGISTRY[name].unit}]" for name in {*inputs, *outputs}}
    number = {"oneOf": [{"type": "number"}, {"type": "array", "items": {"type": "number"}}]}
    digits = {"type": "string", "pattern": _DIGITS}
    answer = {"oneOf": [digits, {"type": "array", "items": digits, "minItems": 1}]}

    def values(names: list[str], kind: dict[str, Any], least: int = 0) -> dict[str, Any]:
        return {
            "type": "object",
            "properties": {name: {"description": unit[name], **kind} for name in names},
            "additionalProperties": False,
            "minProperties": least,
        }

    shared = {
        "answers": values(outputs, {"$ref": "#/$defs/answer"}),
        "texts": values(outputs, digits),
        "answer": answer,
    }
    answers = {"$ref": "#/$defs/answers"}
    texts = {"$ref": "#/$defs/texts"}
    case = {
        "type": "object",
        "properties": {
            "id": {"description": "stable; frozen in ids.txt", "type": "string", "pattern": _SLUG},
            "group": {"enum": sorted({f.group for f in functions.values()})},
            "function": {"enum": sorted(functions)},
            "level": {"description": "1 basic, 2 textbook, 3 corner, 4 ill-conditioned", "enum": [1, 2, 3, 4]},
            "inputs": {"description": "exact decimals, in registry units", **values(inputs, number, 1)},
            "expected": {"description": "to 25 significant digits; empty when the case is invalid", **answers},
            "result": {"enum": ["valid", "invalid", "acceptable"]},
            "acceptable": {
                "description": "the answers that are acceptable, by name; empty values: refusing is",
                "type": "array",
                "items": {
                    "type": "object",
                    "properties": {"name": {"type": "string", "minLength": 1}, "values": answers},
                    "required": ["name", "values"],
                    "additionalProperties": False,
                },
            },
            "condition": {
                "description": "relative condition number: sum of |x/f df/dx| over the inputs",
                **texts,
            },
            "tolerance": {"description": "relative", **texts},
            "absolute": {
                "description": "absolute tolerance; where given, it stands in place of the relative one",
                **texts,
            },
            "tolerance_reason": {"type": "string"},
            "flags": {
                "type": "array",
                "items": {
                    "type": "object",
                    "properties": {
                        "flag": {"enum": sorted(load_flags())},
                        "wrong": {
                            "description": "what the mistake yields, where it differs from the right answer",
                            "minProperties": 1,
                            **answers,
                        },
                    },
                    "required": ["flag", "wrong"],
                    "additionalProperties": False,
                },
            },
            "note": {"type": "string"},
        },
        "additionalProperties": False,
    }
    case["required"] = list(case["properties"])  # type: ignore[call-overload]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "cases.schema.json",
        "title": "Certified cases of shuntref",
        "type": "object",
        "properties": {"schema": {"const": "cases.schema.json"}, "cases": {"type": "array", "items": case}},
        "required": ["schema", "cases"],
        "additionalProperties": False,
        "$defs": shared,
    }
