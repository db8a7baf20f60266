"""The formulas in other people's arrays: they come out as they went in, and automatic differentiation agrees with theory."""

from __future__ import annotations

import inspect
import math
from typing import Any

import numpy as np
import pytest
import sympy as sp

from shuntref.model import formulas
from shuntref.theory.closed_forms import closed_form
from shuntref.theory.formula_forms import FORMULA_FORMS

NAMES = sorted(FORMULA_FORMS)
#: a running point of a plausible machine, where every formula has a value
POINT = {
    "temperature_constant": 235.0, "winding_temperature": 75.0, "reference_temperature": 20.0, "loss_per_ampere": 0.001,
    "reaction_coefficient": 0.002, "flux_constant": 1.0, "k_phi": 0.7, "remanent_k_phi": 0.03, "froehlich_a": 1.6,
    "froehlich_b": 0.9, "speed": 150.0, "speed_rpm": 1450.0, "power": 600.0, "field_current": 0.75, "torque": 5.0,
    "constant": 0.5, "proportional": 0.002, "square": 0.0001, "armature_current": 8.0, "back_emf": 112.0,
    "net_voltage": 118.0, "brush_drop": 2.0, "resistance": 0.8, "line_resistance": 0.2, "line_current": 9.0,
}  # fmt: skip


def arguments(name: str) -> dict[str, float]:
    """Values for the arguments of a formula; what POINT does not know is a voltage, a resistance or a loss."""
    parameters = [p for p in inspect.signature(getattr(formulas, name)).parameters if p != "pi"]
    plain = {
        p: 120.0 if "voltage" in p else 0.8 if "armature" in p and "resistance" in p else 160.0 for p in parameters
    }
    return {p: POINT.get(p, plain[p]) for p in parameters}


@pytest.mark.parametrize("name", NAMES)
def test_dask_arrays_go_through_unchanged(name: str) -> None:
    dask = pytest.importorskip("dask.array")
    given = arguments(name)
    expected = getattr(formulas, name)(*given.values())
    lazy = getattr(formulas, name)(*(dask.from_array(np.full(6, value), chunks=3) for value in given.values()))
    assert isinstance(lazy, dask.Array)
    np.testing.assert_allclose(lazy.compute(), np.full(6, expected), rtol=1e-15)


@pytest.mark.parametrize("name", NAMES)
def test_torch_tensors_go_through_unchanged_and_keep_their_precision(name: str) -> None:
    torch = pytest.importorskip("torch")
    given = arguments(name)
    expected = getattr(formulas, name)(*given.values())
    for dtype, close in ((torch.float64, 1e-14), (torch.float32, 1e-4)):
        found = getattr(formulas, name)(*(torch.full((3,), value, dtype=dtype) for value in given.values()))
        assert isinstance(found, torch.Tensor)
        assert found.dtype == dtype
        assert found.tolist() == pytest.approx([expected] * 3, rel=close)


def derived_slopes() -> dict[str, float]:
    """Slopes of the speed at the point, by sympy from the derived speed equation."""
    form = closed_form("speed")
    values = {
        "supply_voltage": 120.0,
        "k_phi": POINT["k_phi"],
        "electromagnetic_torque": POINT["torque"],
        "armature_circuit_resistance": POINT["resistance"],
    }
    at = {sp.Symbol(name, real=True): value for name, value in values.items()}
    assert form.free_symbols == set(at)
    return {str(symbol): float(sp.diff(form, symbol).subs(at)) for symbol in at}


def check_slopes(found: list[Any]) -> None:
    order = ("supply_voltage", "k_phi", "electromagnetic_torque", "armature_circuit_resistance")
    expected = derived_slopes()
    assert [float(slope) for slope in found] == pytest.approx([expected[name] for name in order], rel=1e-12)
    assert all(math.isfinite(float(slope)) for slope in found)


def test_torch_differentiates_the_speed_equation_as_the_theory_does() -> None:
    torch = pytest.importorskip("torch")
    given = [120.0, POINT["k_phi"], POINT["torque"], POINT["resistance"]]
    leaves = [torch.tensor(value, dtype=torch.float64, requires_grad=True) for value in given]
    formulas.speed_from_torque(*leaves).backward()
    check_slopes([leaf.grad for leaf in leaves])


def test_jax_differentiates_the_speed_equation_as_the_theory_does() -> None:
    jax = pytest.importorskip("jax")
    jax.config.update("jax_enable_x64", True)
    given = [120.0, POINT["k_phi"], POINT["torque"], POINT["resistance"]]
    check_slopes(list(jax.grad(formulas.speed_from_torque, argnums=(0, 1, 2, 3))(*given)))
