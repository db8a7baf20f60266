"""A handful of cases whose answers can be seen without computing: at no torque the speed is R_ft / c, whatever the voltage."""

import json

from shuntref.conformance.suite import Suite, suite_from


def no_load_suite(count: int = 3, **changes: object) -> Suite:
    """Cases no-load-1, no-load-2, ...: field circuit of 160, 161, ... ohm and flux constant 1; then one to be refused."""
    cases: list[dict[str, object]] = []
    for i in range(count):
        cases.append(
            {
                "id": f"no-load-{i + 1}",
                "group": "speed",
                "function": "speed",
                "level": 1 + i % 4,
                "inputs": {
                    "supply_voltage": 120.0,
                    "field_resistance": 160.0 + i,
                    "armature_resistance": 0.5,
                    "flux_constant": 1.0,
                    "load_torque": 0.0,
                },
                "expected": {"speed": str(160 + i)},
                "result": "valid",
                "condition": {"speed": "2"},
                "tolerance": {"speed": "1e-10"},
                "flags": [
                    {"flag": "speed-proportional-to-field-current", "wrong": {"speed": f"{1 / (160 + i):.25f}"}},
                    {"flag": "two-pi-forgotten", "wrong": {"speed": f"{(160 + i) / 6.283185307179586477:.20f}"}},
                ],
                **changes,
            }
        )
    cases.append(
        {
            "id": "no-load-refused",
            "group": "speed",
            "function": "speed",
            "level": 3,
            "inputs": {
                "supply_voltage": 120.0,
                "field_resistance": -160.0,
                "armature_resistance": 0.5,
                "flux_constant": 1.0,
                "load_torque": 0.0,
            },
            "expected": {},
            "result": "invalid",
            "flags": [{"flag": "limits-not-checked", "wrong": {"speed": "-160"}}],
        }
    )
    return suite_from(json.dumps({"cases": cases}).encode())
