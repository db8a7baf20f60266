"""An independent oracle: scipy's root finder on the laws as they stand, nothing eliminated, the load raised in steps.

No flux curve, armature reaction or load is forgotten: each has its row here, its form in a machine file and its public name.
"""

from __future__ import annotations

import inspect
import itertools
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

import shuntref
from shuntref.bench.prediction import scaled_flux, scaled_load
from shuntref.model import flux as flux_module
from shuntref.model import load as load_module
from shuntref.model import reaction as reaction_module
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, SumLoad, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.machine_file import machine_from_text, machine_to_text
from shuntref.model.reaction import (
    ArmatureReaction,
    FluxLoss,
    NoReaction,
    ProportionalReaction,
    TableReaction,
)
from shuntref.model.steady import steady_state

R_A, R_AX, R_F, R_FX, U_B = 0.8, 0.5, 160.0, 20.0, 2.0
VOLTS, FIELD_VOLTS, LOSS = 120.0, 110.0, 0.3
FIELD, EMF, RPM = (0.0, 0.3, 0.5, 0.7, 1.0), (4.0, 65.0, 90.0, 110.0, 130.0), 1500.0
CURRENT, LOST = (0.0, 10.0, 25.0, 60.0), (0.0, 0.02, 0.06, 0.15)
_table = PchipInterpolator(FIELD, np.array(EMF) / (RPM * 2.0 * math.pi / 60.0))
_lost = PchipInterpolator(CURRENT, LOST)

Function = Callable[[float], float]
#: the same thing said to the model and to the oracle
FLUX: dict[str, tuple[FluxCurve, Function]] = {
    "proportional": (ProportionalFlux(1.0), lambda i: 1.0 * i),
    "froehlich": (FroehlichFlux(1.6, 0.9, 0.03), lambda i: 0.03 + 1.6 * i / (0.9 + i)),
    "table": (TableFlux(FIELD, EMF, RPM), lambda i: float(_table(i))),
}
REACTION: dict[str, tuple[ArmatureReaction, Function, Function]] = {
    "none": (NoReaction(), lambda i: 0.0, lambda i: 1.0),
    "proportional": (ProportionalReaction(0.004), lambda i: 0.004 * i, lambda i: 1.0),
    "table": (TableReaction(CURRENT, LOST), lambda i: float(_lost(abs(i))), lambda i: 1.0),
    "flux-loss": (FluxLoss(5.0, 40.0), lambda i: 0.0, lambda i: 1.0 - 0.05 * abs(i) / 40.0),
}
LOAD: dict[str, tuple[Load, Function, float]] = {
    "constant": (ConstantTorque(5.0), lambda w: 5.0, 1.0),
    "overhauling": (ConstantTorque(-4.0), lambda w: -4.0, -1.0),
    "proportional": (ProportionalTorque(5.0, 150.0), lambda w: 5.0 * w / 150.0, 1.0),
    "square": (SquareTorque(5.0, 150.0), lambda w: 5.0 * (w / 150.0) ** 2, 1.0),
    "power": (ConstantPower(700.0), lambda w: 700.0 / w, 1.0),
    "sum": (
        ConstantTorque(1.0) + ProportionalTorque(1.0, 150.0) + SquareTorque(2.0, 150.0) + ConstantPower(150.0),
        lambda w: 1.0 + w / 150.0 + 2.0 * (w / 150.0) ** 2 + 150.0 / w,
        1.0,
    ),
    "user": (UserLoad(lambda w: 2.0 + 1e-6 * w**3), lambda w: 2.0 + 1e-6 * w**3, 1.0),
}


def oracle(
    flux: Function, lost: Function, weaken: Function, load: Function, sign: float, connection: str, line: float
) -> dict[str, float]:
    """Solve all laws together for nine unknowns, following the solution from a hundredth of the load to all of it."""

    def laws(x: np.ndarray, share: float) -> list[float]:
        field, effective, k_phi, emf, speed, current, torque, total, volts = x
        field_volts = volts if connection == "shunt" else FIELD_VOLTS
        drawn = current + field if connection == "shunt" else current
        return [
            field * (R_F + R_FX) - field_volts,
            effective - (field - lost(current)),
            k_phi - flux(effective) * weaken(current),
            emf - k_phi * speed,
            torque - k_phi * current,
            volts - (emf + current * (R_A + R_AX) + sign * U_B),
            (torque - share * (load(speed) + LOSS)) * 10.0,
            total - drawn,
            VOLTS - volts - total * line,
        ]

    field = (VOLTS if connection == "shunt" else FIELD_VOLTS) / (R_F + R_FX)
    k = flux(field)
    x = np.array([field, field, k, VOLTS, VOLTS / k, 0.0, 0.0, field, VOLTS])
    for share in (0.01, 0.2, 0.4, 0.6, 0.8, 1.0):
        answer = root(laws, x, args=(share,), method="hybr", options={"xtol": 1e-13})
        assert np.max(np.abs(laws(answer.x, share))) < 1e-8, answer.message
        x = answer.x
    names = ("field_current", "effective_field_current", "k_phi", "back_emf", "speed", "armature_current",
             "electromagnetic_torque", "line_current", "supply_voltage")  # fmt: skip
    return dict(zip(names, x.tolist(), strict=True))


CASES = list(itertools.product(FLUX, REACTION, LOAD, ("shunt", "separate"), (0.0, 0.1)))


@pytest.mark.parametrize(("flux", "reaction", "load", "connection", "line"), CASES)
def test_scipy_finds_the_same_point_on_the_unreduced_laws(
    flux: str, reaction: str, load: str, connection: str, line: float
) -> None:
    machine = Machine(
        armature_resistance=R_A,
        field_resistance=R_F,
        flux=FLUX[flux][0],
        armature_reaction=REACTION[reaction][0],
        brush_drop=U_B,
        line_resistance=line,
        loss_torque=ConstantTorque(LOSS),
        connection=connection,
    )
    expected = oracle(FLUX[flux][1], *REACTION[reaction][1:], *LOAD[load][1:], connection, line)
    setting = {
        "source_voltage": VOLTS,
        "load": LOAD[load][0],
        "added_field_resistance": R_FX,
        "added_armature_resistance": R_AX,
    }
    if connection == "separate":
        setting["field_voltage"] = FIELD_VOLTS
    point = steady_state(machine, **setting)
    many = steady_state(machine, **{**setting, "added_field_resistance": np.full(3, R_FX)})
    for name, value in expected.items():
        if name == "effective_field_current" and reaction == "flux-loss":
            continue  # the oracle keeps this loss in the flux; the model reports it as the field current it amounts to
        assert getattr(point, name) == pytest.approx(value, rel=1e-9, abs=1e-9), name
        assert getattr(many, name)[1] == pytest.approx(value, rel=1e-9, abs=1e-9), name
    assert point.stable
    assert point.status_text == "ok"


# --- nothing forgotten

SAMPLES = {
    "flux curve": [row[0] for row in FLUX.values()],
    "armature reaction": [row[0] for row in REACTION.values()],
    "load": [row[0] for row in LOAD.values()],
}
BASES = {"flux curve": FluxCurve, "armature reaction": ArmatureReaction, "load": Load}
CLASSES = [
    pytest.param(what, kind, id=kind.__name__)
    for what, module in (("flux curve", flux_module), ("armature reaction", reaction_module), ("load", load_module))
    for kind in vars(module).values()
    if inspect.isclass(kind)
    and kind.__module__ == module.__name__
    and issubclass(kind, BASES[what])
    and kind is not BASES[what]
    and not kind.__name__.startswith("_")
]
#: what a user's own function says cannot be written in a file
NO_FILE = (UserLoad,)


def samples(what: str, kind: type) -> list[Any]:
    return [sample for sample in SAMPLES[what] if type(sample) is kind]


@pytest.mark.parametrize(("what", "kind"), CLASSES)
def test_every_kind_has_a_row_in_the_oracle(what: str, kind: type) -> None:
    assert samples(what, kind), f"no row of FLUX, REACTION or LOAD in tests/test_model_py holds a {kind.__name__}"


@pytest.mark.parametrize(("what", "kind"), CLASSES)
def test_every_kind_comes_back_from_a_machine_file_as_it_was(what: str, kind: type) -> None:
    if kind in NO_FILE:
        return
    part = {"flux curve": "flux", "armature reaction": "armature_reaction", "load": "loss_torque"}[what]
    for sample in samples(what, kind):
        if what == "load" and np.any(np.asarray(sample.torque(100.0)) < 0.0):
            continue  # a loss never drives
        given = {
            "armature_resistance": 0.8,
            "field_resistance": 160.0,
            "flux": FLUX["froehlich"][0],
            part: sample,
        }
        machine = Machine(**given)
        assert machine_from_text(machine_to_text(machine)) == machine, (
            f"a machine file cannot hold {kind.__name__}: its reader and writer belong in shuntref/model/machine_tables.py"
        )


@pytest.mark.parametrize(("what", "kind"), CLASSES)
def test_every_kind_is_a_public_name(what: str, kind: type) -> None:
    if kind is SumLoad:  # it is written with +
        return
    assert kind.__name__ in shuntref.__all__, f"{kind.__name__} is missing in _PUBLIC of shuntref/__init__.py"
    assert getattr(shuntref, kind.__name__) is kind


@pytest.mark.parametrize(("what", "kind"), CLASSES)
def test_every_kind_of_a_machine_file_can_be_scaled_for_the_uncertainty_of_a_prediction(what: str, kind: type) -> None:
    if kind in NO_FILE:
        return
    for sample in samples(what, kind):
        if what == "flux curve":
            assert scaled_flux(sample, 1.25).k_phi(0.7) == pytest.approx(1.25 * sample.k_phi(0.7), rel=1e-14)
        elif what == "load":
            assert scaled_load(sample, 1.25).torque(120.0) == pytest.approx(1.25 * sample.torque(120.0), rel=1e-14)


def test_the_classes_looked_at_are_those_of_the_model() -> None:
    named = {param.id for param in CLASSES}
    assert named >= {"FroehlichFlux", "TableFlux", "FluxLoss", "TableReaction", "ConstantTorque", "SumLoad", "UserLoad"}
    assert "Load" not in named
    assert samples("load", ConstantTorque)
