"""The common-practice check: a model fitted to the first field step predicts the second; armature steps slow the motor."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux
from shuntref.model.load import ConstantTorque
from shuntref.model.machine import Machine
from shuntref.model.standards import standard_value
from shuntref.model.steady import steady_state
from shuntref.quantities.text import parse_value


def readings(identity: str) -> dict[str, Any]:
    row = standard_value("common_practice", identity)
    assert "no source" in row["source"]
    names = {"supply_voltage", "speed_rpm", "added_field_resistance", "added_armature_resistance"} & set(row)
    return {
        n: [parse_value(n, t) for t in row[n]] if isinstance(row[n], list) else parse_value(n, row[n]) for n in names
    }


def fitted(bend: float, brush_drop: float, friction: float) -> Machine:
    """A machine whose field resistance and flux constant give the first two speeds; the rest is assumed.

    ``bend`` is the field current over the Froehlich constant b at no added resistance; 0 for an unsaturated field.
    """
    seen = readings("field-steps")
    volts = seen["supply_voltage"]

    def machine(field_resistance: float) -> Machine:
        def with_scale(scale: float) -> Machine:
            flux: FluxCurve = ProportionalFlux(scale)
            if bend > 0.0:
                flux = FroehlichFlux(scale, volts / field_resistance / bend)
            return Machine(armature_resistance=2.5, field_resistance=field_resistance, flux=flux,
                           brush_drop=brush_drop, loss_torque=ConstantTorque(friction))  # fmt: skip

        def excess(scale: float) -> float:
            return steady_state(with_scale(scale), supply_voltage=volts).speed_rpm - seen["speed_rpm"][0]

        return with_scale(brentq(excess, 0.2, 200.0, xtol=1e-12))

    def excess(field_resistance: float) -> float:
        state = steady_state(machine(field_resistance), supply_voltage=volts, added_field_resistance=10.0)
        return state.speed_rpm - seen["speed_rpm"][1]

    return machine(brentq(excess, 60.0, 5000.0, xtol=1e-9))


@pytest.mark.parametrize("bend", [0.0, 0.5, 1.5])
@pytest.mark.parametrize(("brush_drop", "friction"), [(0.0, 0.0), (1.5, 0.15)])
def test_fitted_to_the_first_step_it_predicts_the_second(bend: float, brush_drop: float, friction: float) -> None:
    seen = readings("field-steps")
    tolerance = parse_value("speed_rpm", standard_value("common_practice", "field-steps")["tolerance"])
    machine = fitted(bend, brush_drop, friction)
    state = steady_state(
        machine, supply_voltage=seen["supply_voltage"], added_field_resistance=seen["added_field_resistance"]
    )
    np.testing.assert_allclose(state.speed_rpm[:2], seen["speed_rpm"][:2], atol=1e-6)
    assert abs(state.speed_rpm[2] - seen["speed_rpm"][2]) <= tolerance


def test_resistance_in_the_armature_circuit_slows_it_and_more_of_it_slows_it_more() -> None:
    seen = readings("armature-steps")
    state = steady_state(
        fitted(0.5, 1.5, 0.15),
        supply_voltage=seen["supply_voltage"],
        added_armature_resistance=seen["added_armature_resistance"],
    )
    assert state.speed[0] > state.speed[1] > state.speed[2] > 0.0
