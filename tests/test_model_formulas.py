"""The closed forms in floating point: their rounding against 50 digits, their precision, and other kinds of arrays."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from typing import Any

import array_api_strict as strict
import mpmath
import numpy as np
import pytest
import sympy as sp

from shuntref.model import formulas
from shuntref.theory.formula_forms import numeric_form

#: log-uniform ranges by argument; SIGNED ones take either sign
RANGES: dict[str, tuple[float, float]] = {
    "temperature_constant": (200.0, 300.0),
    "winding_temperature": (1.0, 180.0),
    "reference_temperature": (1.0, 100.0),
    "loss_per_ampere": (1e-5, 1e-2),
    "reaction_coefficient": (1e-5, 1e-1),
    "flux_constant": (1e-2, 1e2),
    "k_phi": (1e-2, 1e2),
    "remanent_k_phi": (1e-4, 1e-1),
    "froehlich_a": (1e-2, 1e2),
    "speed": (1e-1, 1e3),
    "speed_rpm": (1.0, 1e4),
    "power": (1e-1, 1e4),
    "field_current": (1e-2, 1e2),
    "torque": (1e-2, 1e3),
}
SIGNED = {"torque", "armature_current", "electromagnetic_torque", "load_torque", "constant"}
#: where a docstring limits the validity of a formula
VALID: dict[str, Callable[..., Any]] = {
    "speed_with_constant_power": lambda voltage, k_phi, resistance, constant, *_: (
        k_phi * voltage > constant * resistance
    ),
    # the drop is handed over with the sign of the current, so that the two agree in sign
    "brush_loss": lambda drop, current: drop * current > 0.0,
}
#: formulas of the speed chain, measured at 100 000 points each; the others at 2 500
CHAIN = (
    "speed_from_torque", "speed_shunt_proportional", "k_phi_for_speed", "k_phi_for_speed_weak_field",
    "armature_current_with_reaction", "speed_with_quadratic_torque",
)  # fmt: skip
NAMES = [name for name in formulas.__all__ if name not in ("Value", "square_root")]


def _arguments(name: str) -> list[str]:
    return [a for a in inspect.signature(getattr(formulas, name)).parameters if a != "pi"]


def _draw(arguments: list[str], count: int, rng: np.random.Generator) -> list[np.ndarray[Any, Any]]:
    columns = []
    for argument in arguments:
        low, high = RANGES.get(argument, (1e-2, 1e3))
        column = np.exp(rng.uniform(math.log(low), math.log(high), count))
        if argument in SIGNED:
            column *= rng.choice([-1.0, 1.0], count)
        columns.append(column)
    return columns


class _Dual:
    """A value with its derivatives: gives the condition number of a formula without another formula."""

    def __init__(self, value: Any, slopes: list[Any]) -> None:
        self.value, self.slopes = value, slopes

    @staticmethod
    def of(other: Any, count: int) -> _Dual:
        return other if isinstance(other, _Dual) else _Dual(other, [0.0] * count)

    def _both(self, other: Any, value: Any, left: Any, right: Any) -> _Dual:
        return _Dual(value, [left * a + right * b for a, b in zip(self.slopes, other.slopes, strict=True)])

    def __add__(self, other: Any) -> _Dual:
        o = self.of(other, len(self.slopes))
        return self._both(o, self.value + o.value, 1.0, 1.0)

    def __sub__(self, other: Any) -> _Dual:
        o = self.of(other, len(self.slopes))
        return self._both(o, self.value - o.value, 1.0, -1.0)

    def __rsub__(self, other: Any) -> _Dual:
        return self.of(other, len(self.slopes)) - self

    def __mul__(self, other: Any) -> _Dual:
        o = self.of(other, len(self.slopes))
        return self._both(o, self.value * o.value, o.value, self.value)

    def __truediv__(self, other: Any) -> _Dual:
        o = self.of(other, len(self.slopes))
        return self._both(o, self.value / o.value, 1.0 / o.value, -self.value / (o.value * o.value))

    def __neg__(self) -> _Dual:
        return _Dual(-self.value, [-s for s in self.slopes])

    __radd__, __rmul__ = __add__, __mul__

    def sqrt(self) -> _Dual:
        root = np.sqrt(self.value)
        return _Dual(root, [s / (2.0 * root) for s in self.slopes])


def condition_number(function: Callable[..., Any], columns: list[Any]) -> Any:
    """Sum over the arguments of |x df/dx| / |f|, at each point."""
    count = len(columns)
    duals = [_Dual(x, [float(i == j) for j in range(count)]) for i, x in enumerate(columns)]
    result = function(*duals)
    return sum(abs(x * s) for x, s in zip(columns, result.slopes, strict=True)) / np.abs(result.value)


def rounding(name: str, count: int) -> tuple[float, float, int]:
    """Worst error in ulp, worst error in ulp over max(1, condition), and how many points were measured."""
    function = getattr(formulas, name)
    arguments = _arguments(name)
    rng = np.random.default_rng(sum(map(ord, name)))
    kept: list[list[np.ndarray[Any, Any]]] = []
    have = 0
    with np.errstate(all="ignore"):
        while have < count:
            columns = _draw(arguments, count, rng)
            value = function(*columns)
            good = np.isfinite(value) & (value != 0.0)
            if name in VALID:
                good &= VALID[name](*columns)
            columns = [c[good][: count - have] for c in columns]
            have += columns[0].size
            kept.append(columns)
        columns = [np.concatenate(parts) for parts in zip(*kept, strict=True)]
        computed = function(*columns)
        condition = np.maximum(condition_number(function, columns), 1.0)
    worst = worst_scaled = 0.0
    with mpmath.workdps(50):
        to_mp = mpmath.mpf
        derived = numeric_form(name, arguments)  # from the laws, not from the function under test
        for point, got, c in zip(zip(*(col.tolist() for col in columns), strict=True), computed.tolist(), condition.tolist(),
                                 strict=True):  # fmt: skip
            exact = derived(*map(to_mp, point))
            if isinstance(exact, mpmath.mpc):
                continue  # the discriminant rounded to zero or above, and is below: the condition is infinite there
            error = abs(float(exact - got)) / math.ulp(float(exact))
            worst = max(worst, error)
            worst_scaled = max(worst_scaled, error / c)
    return worst, worst_scaled, have


@pytest.mark.parametrize("name", NAMES)
def test_error_is_at_most_8_ulp_times_the_condition_number(name: str) -> None:
    worst, scaled, points = rounding(name, 100_000 if name in CHAIN else 2_500)
    print(f"{name}: worst {worst:.3g} ulp, {scaled:.3g} ulp per condition number, {points} points")
    assert scaled <= 8.0


@pytest.mark.parametrize("name", NAMES)
def test_single_precision_stays_single_precision(name: str) -> None:
    columns = [c.astype(np.float32) for c in _draw(_arguments(name), 5, np.random.default_rng(1))]
    with np.errstate(all="ignore"):
        assert getattr(formulas, name)(*columns).dtype == np.float32


@pytest.mark.parametrize("name", NAMES)
def test_an_array_library_that_knows_only_the_standard_goes_through(name: str) -> None:
    columns = _draw(_arguments(name), 4, np.random.default_rng(2))
    with np.errstate(all="ignore"):
        plain = getattr(formulas, name)(*columns)
        other = getattr(formulas, name)(*(strict.asarray(c) for c in columns))
    assert type(other).__module__.startswith("array_api_strict")
    np.testing.assert_array_equal(np.asarray(plain), np.from_dlpack(other))


@pytest.mark.parametrize("name", NAMES)
def test_symbols_go_through_without_a_decimal_fraction(name: str) -> None:
    symbols = [sp.Symbol(a, positive=True) for a in _arguments(name)]
    extra = {"pi": sp.pi} if "pi" in inspect.signature(getattr(formulas, name)).parameters else {}
    assert not getattr(formulas, name)(*symbols, **extra).atoms(sp.Float)


def test_square_root_stays_in_the_arithmetic_of_its_argument() -> None:
    assert type(formulas.square_root(2.0)) is float
    assert formulas.square_root(sp.Integer(2)) == sp.sqrt(2)
    assert isinstance(formulas.square_root(mpmath.mpf(2)), mpmath.mpf)
    assert formulas.square_root(np.float32([4.0])).dtype == np.float32
    with pytest.raises(ValueError):
        formulas.square_root(-1.0)
