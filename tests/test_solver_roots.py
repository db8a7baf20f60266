"""The root finder, the climb and the walk to the first root, on functions whose roots and peaks are known by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from shuntref.model.first_root import first_roots
from shuntref.model.root_finder import bracketed_root, climb


class Curves:
    """h(x, p) for many points, each with a parameter of its own; writes down where it is asked."""

    def __init__(self, function: Callable[[Any, Any], Any], parameter: Any, asked: list[Any] | None = None) -> None:
        self.function, self.parameter = function, np.asarray(parameter, float)
        self.asked: list[Any] = [] if asked is None else asked

    def value(self, magnitude: Any) -> Any:
        assert magnitude.shape == self.parameter.shape
        self.asked.append(magnitude.copy())
        return self.function(magnitude, self.parameter)

    def take(self, index: Any) -> Curves:
        return Curves(self.function, self.parameter[index], self.asked)


def chandrupatla(function: Callable[[float], float], x1: float, x2: float) -> tuple[float, list[float]]:
    """The published method for one function, its first step the secant's; returns the root and where it looked."""
    f1, f2 = function(x1), function(x2)
    t = min(max(f1 / (f1 - f2), 1e-3), 1.0 - 1e-3)
    looked = []
    while True:
        x = x1 + t * (x2 - x1)
        f = function(x)
        looked.append(x)
        if (f < 0.0) == (f1 < 0.0):
            x3, f3 = x1, f1
        else:
            x3, f3, x2, f2 = x2, f2, x1, f1
        x1, f1 = x, f
        best = x1 if abs(f1) <= abs(f2) else x2
        width = abs(x2 - x1)
        if f == 0.0 or (2.0**-52 * abs(best) + 2.0**-1022) / width >= 0.5:
            return best, looked
        least = (2.0**-52 * abs(best) + 2.0**-1022) / width
        xi, phi = (x1 - x2) / (x3 - x2), (f1 - f2) / (f3 - f2)
        t = 0.5
        if phi * phi < xi and (1.0 - phi) * (1.0 - phi) < 1.0 - xi:
            t = f1 / (f2 - f1) * f3 / (f2 - f3) + (x3 - x1) / (x2 - x1) * f1 / (f3 - f1) * f2 / (f3 - f2)
        t = min(max(t, least), 1.0 - least)


CURVES: dict[str, tuple[Callable[[Any, Any], Any], Callable[[float], float]]] = {
    "square": (lambda x, p: x * x - p, math.sqrt),
    "falling": (lambda x, p: p - x * x, math.sqrt),
    "cube": (lambda x, p: x**3 - p, lambda p: p ** (1.0 / 3.0)),
    "ninth power": (lambda x, p: x**9 - p, lambda p: p ** (1.0 / 9.0)),
    "power at a speed": (lambda x, p: 40.0 - p / (x + 0.001), lambda p: p / 40.0 - 0.001),
    "exponential": (lambda x, p: np.exp(x) - 1.0 - p, lambda p: math.log(1.0 + p)),
    "flat": (lambda x, p: np.arctan(50.0 * (x - p / 4.0)) + 1e-3 * (x - p / 4.0), lambda p: p / 4.0),
    "straight": (lambda x, p: 3.0 * x - p, lambda p: p / 3.0),
}


@pytest.mark.parametrize("name", ["square", "flat", "power at a speed"])
def test_the_root_finder_looks_where_the_published_method_looks(name: str) -> None:
    chosen = {name} if name != "square" else set(CURVES) - {"flat", "power at a speed"}
    for function, root in (CURVES[key] for key in sorted(chosen)):
        for p in (2.0, 0.3, 7.0, 11.5, 0.05, 168.9):
            if function(13.0, p) * function(0.0, p) > 0.0:
                continue
            curve = Curves(function, [p])
            ends = np.array([0.0]), np.array([13.0])
            found = bracketed_root(curve, ends[0], function(ends[0], p), ends[1], function(ends[1], p))
            with np.errstate(all="ignore"):
                expected, looked = chandrupatla(lambda x, f=function, p=p: f(np.float64(x), p), 0.0, 13.0)  # type: ignore[misc]
            assert found[0] == pytest.approx(root(p), rel=4e-15)
            assert abs(found[0] - expected) <= 2.0 * np.spacing(expected)
            same = min(len(looked), len(curve.asked)) - 1  # the last steps are a matter of rounding
            assert abs(len(looked) - len(curve.asked)) <= 1
            np.testing.assert_allclose(np.concatenate(curve.asked)[:same], looked[:same], rtol=1e-9)


def test_many_roots_are_closed_in_on_together_and_no_worse_than_alone() -> None:
    rng = np.random.default_rng(3)
    for function, root in CURVES.values():
        p = rng.uniform(0.05, 40.0, 200)
        a, b = np.zeros(200), np.full(200, 47.0)
        whole = Curves(function, p)
        found = bracketed_root(whole, a, function(a, p), b, function(b, p))
        np.testing.assert_allclose(found, [root(value) for value in p], rtol=3e-14)
        sizes = [len(x) for x in whole.asked]
        # the points still at work are drawn together when a quarter of them has finished, and not before
        assert all(b == a or b <= 0.75 * a for a, b in pairwise(sizes))
        for one in (0, 77, 199):
            alone = bracketed_root(
                Curves(function, p[[one]]), a[:1], function(a, p)[[one]], b[:1], function(b, p)[[one]]
            )
            assert abs(alone[0] - found[one]) <= 2.0 * np.spacing(found[one])
        assert sum(sizes) < 200 * len(sizes) or len(sizes) < 4


def test_a_root_at_an_end_is_taken_as_it_stands() -> None:
    curve = Curves(lambda x, p: x - p, [1.0, 2.0, 1.5, 1.0])
    a, b = np.array([1.0, 0.0, 1.0, 0.5]), np.array([4.0, 2.0, 3.0, 9.0])
    found = bracketed_root(curve, a, a - curve.parameter, b, b - curve.parameter)
    assert found.tolist() == [1.0, 2.0, 1.5, 1.0]
    assert max(len(x) for x in curve.asked) == 2  # the two that were done are not looked at
    swapped = bracketed_root(curve, b, b - curve.parameter, a, a - curve.parameter)
    assert swapped.tolist() == [1.0, 2.0, 1.5, 1.0]


def test_an_infinite_end_and_a_jump_are_halved() -> None:
    # a load of constant power at standstill asks for an infinite torque; brushes make the torque jump
    pole = Curves(lambda x, p: np.where(x < 8.0, x - p, np.inf), [3.0])
    found = bracketed_root(pole, np.array([0.0]), np.array([-3.0]), np.array([8.0]), np.array([np.inf]))
    assert found[0] == pytest.approx(3.0, rel=1e-15)
    jump = Curves(lambda x, p: np.where(x < p, -1.0, 1.0), [math.pi])
    found = bracketed_root(jump, np.array([0.0]), np.array([-1.0]), np.array([8.0]), np.array([1.0]))
    assert found[0] == pytest.approx(math.pi, rel=1e-15)
    assert len(jump.asked) < 60  # one binary place for each look


def test_single_precision_is_closed_in_on_to_its_own_rounding() -> None:
    p = np.array([2.0, 3.0, 5.0], np.float32)
    curve = Curves(lambda x, q: (x * x - q).astype(np.float32), p)
    a, b = np.zeros(3, np.float32), np.full(3, 9.0, np.float32)
    found = bracketed_root(curve, a, a - p, b, b * b - p)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, np.sqrt(p.astype(float)), rtol=1.2e-7)
    assert len(curve.asked) < 14


# --- the climb


def _climbed(
    function: Callable[[Any, Any], Any], p: Any, low: float, middle: float, high: float
) -> tuple[Any, Any, int]:
    curve = Curves(function, p)
    x = [np.full(curve.parameter.shape, end) for end in (low, middle, high)]
    h = [function(end, curve.parameter) for end in x]
    top, h_top = climb(curve, x[0], h[0], x[1], h[1], x[2], h[2])
    np.testing.assert_allclose(h_top, function(top, curve.parameter), rtol=1e-14)
    return top, h_top, len(curve.asked)


def test_the_climb_ends_at_the_peak() -> None:
    p = np.array([0.7, 1.3, 2.0, 3.1])
    for function, most, close in (
        (lambda x, q: -((x - q) ** 2) - 1.0, 5, 1e-15),
        (lambda x, q: x / q * np.exp(1.0 - x / q) - 1.5, 20, 3e-7),
        (lambda x, q: -np.abs(x - q) - 1.0, 30, 3e-7),
        (lambda x, q: -((x - q) ** 4) - 1.0, 45, 1e-3),  # flatter than rounding that near to its peak
        (lambda x, q: np.where(x < q, 0.1, -9.0) * (x - q) - 1.0, 75, 1e-4),
    ):
        for middle in (0.0, 0.5, 3.5):
            h = [function(np.full(4, end), p) for end in (0.0, middle, 4.0)]
            if middle > 0.0 and not np.all((h[1] >= h[0]) & (h[1] >= h[2])):
                continue
            top, h_top, count = _climbed(function, p, 0.0, middle, 4.0)
            fine = np.linspace(0.0, 4.0, 400001)
            best = np.array([np.max(function(fine, q)) for q in p])
            assert np.all(h_top >= best - 1e-5 * np.abs(best))
            assert count <= most
            np.testing.assert_allclose(top, p, rtol=close)


def test_the_climb_is_the_same_at_every_scale() -> None:
    for scale in (1e-4, 1.0, 1e4):
        p = np.array([0.7, 1.3, 2.0, 3.1]) * scale
        for function, most in (
            (lambda x, q: -np.abs(x / q - 1.0) - 1.0, 30),
            (lambda x, q: -np.sqrt(np.abs(x / q - 1.0)) - 1.0, 60),
            (lambda x, q: x / q * np.exp(1.0 - x / q) - 1.5, 20),
        ):
            top, _, count = _climbed(function, p, 0.0, 0.0, 4.0 * scale)
            np.testing.assert_allclose(top, p, rtol=3e-7)
            assert count <= most


def test_the_climb_stops_where_the_residual_is_no_longer_negative() -> None:
    # a parabola that rises to 0.25 above nought: any place between the roots p - 0.5 and p + 0.5 will do
    p = np.array([1.0, 2.0, 3.3])
    top, h_top, count = _climbed(lambda x, q: 0.25 - (x - q) ** 2, p, 0.0, 0.0, 4.0)
    assert np.all(h_top >= 0.0)
    assert np.all(np.abs(top - p) <= 0.5)
    assert count <= 4
    # one that is done leaves the others at work
    top, h_top, _ = _climbed(lambda x, q: np.where(q < 2.0, 0.25, -0.25) - (x - q) ** 2, p, 0.0, 0.0, 4.0)
    assert h_top[0] >= 0.0
    np.testing.assert_allclose(h_top[1:], -0.25, rtol=1e-12)
    np.testing.assert_allclose(top[1:], p[1:], rtol=1e-6)
    # exactly nought is enough
    top, h_top, _ = _climbed(lambda x, q: np.where(x == 2.0, 0.0, -np.abs(x - q)), [2.0], 1.0, 1.5, 3.0)
    assert h_top[0] >= -1e-7


def test_a_peak_of_any_height_near_nought_is_told_from_one_below_it() -> None:
    for height in (1e-3, 1e-6, 1e-9, 1e-12):
        for q in (0.3, 1.7, 3.9):
            for sign in (1.0, -1.0):
                top, h_top, _ = _climbed(lambda x, p, h=sign * height: h - (x / p - 1.0) ** 2, [q], 0.0, 0.0, 4.0)  # type: ignore[misc]
                assert (h_top[0] >= 0.0) == (sign > 0.0)
                # the climb ends once it is above nought, which is within the root of the height of the top
                assert top[0] == pytest.approx(q, rel=1e-6 + 1.01 * math.sqrt(height))


# --- the walk


def walk(function: Callable[[Any, Any], Any], p: Any, natural: Any = 1.0, greatest: Any = math.inf) -> Any:
    curve = Curves(function, p)
    shape = curve.parameter.shape
    no_load = function(np.zeros(shape), curve.parameter)
    natural, greatest = np.full(shape, 1.0) * natural, np.full(shape, 1.0) * greatest
    return first_roots(curve, no_load, natural, greatest), curve.asked  # type: ignore[arg-type]


def test_the_walk_goes_in_steps_that_grow_by_a_quarter_from_half_the_natural_current() -> None:
    for greatest, base in ((math.inf, 4.0), (1e3, 4.0), (20.0, 2.5)):
        roots, asked = walk(lambda x, p: x - p, [15.0], 4.0, greatest)
        steps = [base * 0.5]
        while steps[-1] < 15.0:
            steps.append(base * 1.25 ** (len(steps) - 1))
        np.testing.assert_allclose([float(x[0]) for x in asked[: len(steps)]], steps, rtol=1e-14)
        assert roots.current[0] == pytest.approx(15.0, rel=1e-15)
        assert roots.found.tolist() == [True]
        assert roots.peaked.tolist() == [False]
    endless, _ = walk(lambda x, p: -1.0 / (1.0 + x * p), [1e-9], 1.0)  # for ever below nought
    assert (endless.found.tolist(), endless.peaked.tolist()) == ([False], [False])
    assert endless.current[0] == pytest.approx(1.25**128)  # 130 looks: at a half, at one, and 128 times further
    far, _ = walk(lambda x, p: x - p, [1e9, 1e-9], 1.0)
    np.testing.assert_allclose(far.current, [1e9, 1e-9], rtol=1e-14)


def test_of_two_roots_the_nearer_is_found_however_close_they_are() -> None:
    rng = np.random.default_rng(7)
    for half in (0.3, 1e-2, 1e-4, 1e-6):
        middle = np.exp(rng.uniform(-2.0, 5.0, 300))
        for greatest in (
            math.inf,
            middle * 40.0,
            middle * 1.5,
            middle * (1.0 + 1.3 * max(half, 1e-4)),
            middle * (1.0 + 0.5 * half),
        ):
            roots, _ = walk(lambda x, p, h=half: h * h - (x / p - 1.0) ** 2, middle, 1.0, greatest)  # type: ignore[misc]
            assert roots.found.all()
            np.testing.assert_allclose(roots.current, middle * (1.0 - half), rtol=1e-15 / half + 1e-14)


def test_a_peak_below_nought_is_reported_and_an_end_without_one_is_not() -> None:
    middle = np.exp(np.random.default_rng(8).uniform(-2.0, 5.0, 100))
    for greatest in (math.inf, middle * 40.0, middle * 1.1):
        roots, _ = walk(lambda x, p: -1e-3 - (x / p - 1.0) ** 2, middle, 1.0, greatest)
        assert not roots.found.any()
        assert roots.peaked.all()
        np.testing.assert_allclose(roots.current, middle, rtol=1e-6)
    roots, _ = walk(lambda x, p: -1e-3 - (x / p - 1.0) ** 2, middle, 1.0, middle * 0.9)
    assert not roots.found.any()
    assert not roots.peaked.any()
    np.testing.assert_allclose(roots.current, middle * 0.9, rtol=1e-15)


def test_what_stays_level_has_no_peak_and_a_peak_that_was_passed_is_kept() -> None:
    for end in (0.3, 8.0, 500.0):
        roots, _ = walk(lambda x, p: 0.0 * x - p, [1.0, 2.0], 1.0, end)
        assert not roots.peaked.any()
        assert not roots.found.any()
        assert roots.current.tolist() == [end, end]
    for beside in (5e-5, 2e-4, 0.1):  # the end comes that soon after a step
        roots, _ = walk(lambda x, p: -1e-3 - (x / p - 1.0) ** 2, [5.0, 3.0], 1.0, 1.25**12 * (1.0 + beside))
        np.testing.assert_allclose(roots.current, [5.0, 3.0], rtol=1e-6)
        assert roots.peaked.all()


def test_a_root_exactly_at_the_end_is_found_and_one_beyond_it_is_not() -> None:
    roots, _ = walk(lambda x, p: x - p, [2.0] * 5, 1.0, [2.0, math.nextafter(2.0, 0.0), 0.0, 2.5, -0.5])
    assert roots.found.tolist() == [True, False, False, True, False]
    assert roots.peaked.tolist() == [False] * 5
    assert roots.current.tolist() == [2.0, math.nextafter(2.0, 0.0), 0.0, 2.0, 0.0]


def test_a_flux_that_is_gone_ends_the_walk() -> None:
    # the residual of a torque of 3 N m with the flux 1 - x/p, and nothing beyond p
    with np.errstate(divide="ignore", invalid="ignore"):
        roots, asked = walk(lambda x, p: np.where(x < p, x * (1.0 - x / p) - 3.0, -np.inf), [16.0, 11.0], 3.0)
    assert roots.found.tolist() == [True, False]  # 16 I - I^2 = 48: 4 A; 11/4 < 3: none
    assert roots.current[0] == pytest.approx(4.0, rel=1e-14)
    assert roots.peaked.tolist() == [False, True]
    assert roots.current[1] == pytest.approx(5.5, rel=1e-6)  # the place of a flat top, by its height alone
    assert len(asked) < 60


def test_points_of_every_kind_walk_together_as_they_would_alone() -> None:
    def curve(x: Any, p: Any) -> Any:
        return np.where(p > 5.0, x - p, np.where(p > 2.0, -0.1 - (x - p) ** 2, 1e-4 - (x - p) ** 2))

    p = np.array([9.0, 3.0, 1.5, 700.0, 2.5, 1.1, 6.0])
    greatest = np.array([math.inf, 50.0, 60.0, 300.0, 2.0, 0.5, 0.0])
    together, _ = walk(curve, p, 1.0, greatest)
    expected = [9.0, 3.0, 1.49, 300.0, 2.0, 0.5, 0.0]
    np.testing.assert_allclose(together.current, expected, rtol=1e-6)
    assert together.found.tolist() == [True, False, True, False, False, False, False]
    assert together.peaked.tolist() == [False, True, True, False, False, False, False]
