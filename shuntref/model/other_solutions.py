"""Every other balance of a setting: a fine walk over the currents on both sides of no load, each change of sign closed in.

What is walked: currents from no load to standstill on the motoring side, and on the generating side as far as eight
times the current that voltage and brush drop together would drive through the resistance.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from shuntref.model.block_solver import Solved, flag_solved, solve_block
from shuntref.model.recipes import recipes_for
from shuntref.model.result import SteadyState
from shuntref.model.root_finder import bracketed_root, climb
from shuntref.model.setting import Setting
from shuntref.model.status import Status
from shuntref.model.torque_balance import Directed, TorqueBalance, balance_of

__all__ = ["other_solutions"]

Array = np.ndarray[Any, Any]
_POINTS_AT_ONCE = 1024
_STEPS = 400
_MOST_OTHERS = 8


def other_solutions(setting: Setting, names: tuple[str, ...]) -> tuple[SteadyState, ...]:
    """Return the other solutions, the k-th of each point together."""
    layers: list[dict[str, Array]] = []
    marks: list[dict[str, Array]] = []
    for start in range(0, setting.size, _POINTS_AT_ONCE):
        stop = min(start + _POINTS_AT_ONCE, setting.size)
        values = setting.block(start, stop)
        balance = balance_of(values, setting.machine.connection, setting.behind_line)
        with np.errstate(all="ignore"):
            points, currents = _all_roots(balance, stop - start, setting.dtype)
        first = _primary(setting, start, stop)
        taken = np.zeros(first.shape, int)
        order = np.lexsort((np.abs(currents), points))
        for point, current in zip(points[order], currents[order], strict=True):
            known = first[point]
            if abs(current - known) <= 1e-7 * max(abs(current), abs(known)):
                continue
            layer = taken[point]
            solved = _solved(setting, start + int(point), float(current))
            if layer >= _MOST_OTHERS or not solved[1].has_values:  # beyond a table that refuses, nothing is known
                continue
            taken[point] += 1
            while len(layers) <= layer:
                layers.append({name: np.full(setting.size, np.nan, setting.dtype) for name in names})
                marks.append(_no_marks(setting.size))
            _fill(start + int(point), *solved, layers[layer], marks[layer])
    return tuple(_state(setting, layer, mark, names) for layer, mark in zip(layers, marks, strict=True))


def _no_marks(size: int) -> dict[str, Array]:
    return {
        "status": np.full(size, Status.NO_SOLUTION, np.uint8),
        "stable": np.zeros(size, bool),
        "field_loss": np.zeros(size, bool),
        "extrapolated": np.zeros(size, bool),
    }


def _primary(setting: Setting, start: int, stop: int) -> Array:
    """Currents of the solutions that are known already; NaN where there is none."""
    solved = solve_block(setting, setting.block(start, stop), stop - start, slice(start, stop))
    current = np.broadcast_to(np.asarray(solved.quantity("armature_current"), float), stop - start).copy()
    if solved.status is not None:
        current[solved.status >= Status.TORQUE_BEYOND_STALL] = np.nan
    return current


def _solved(setting: Setting, point: int, current: float) -> tuple[Solved, Status]:
    """One other solution, and its status."""
    values = setting.points(np.array([point]))
    balance = balance_of(values, setting.machine.connection, setting.behind_line)
    values["armature_current"] = np.array([current], setting.dtype)
    recipes = recipes_for(
        setting.machine.connection, behind_line=setting.behind_line, rigid=balance.rigid, solved="current"
    )
    solved = Solved(values, recipes, None, True, False, False)
    with np.errstate(all="ignore"):
        flag_solved(balance, solved, np.zeros(1, np.uint8))
    return solved, Status.OK if solved.status is None else Status(int(solved.status[0]))


def _fill(point: int, solved: Solved, status: Status, layer: dict[str, Array], mark: dict[str, Array]) -> None:
    """Put one other solution into its layer."""
    mark["status"][point] = status
    for name in ("stable", "field_loss", "extrapolated"):
        mark[name][point] = bool(np.all(getattr(solved, name)))
    with np.errstate(all="ignore"):
        for name, array in layer.items():
            array[point] = np.asarray(solved.quantity(name)).item()


def _state(setting: Setting, layer: dict[str, Array], mark: dict[str, Array], names: tuple[str, ...]) -> SteadyState:
    if setting.shape == ():
        values: dict[str, Any] = {name: float(array[0]) for name, array in layer.items()}
        return SteadyState(
            values, None, names, status=Status(int(mark["status"][0])), stable=bool(mark["stable"][0]),
            field_loss=bool(mark["field_loss"][0]), extrapolated=bool(mark["extrapolated"][0]),
        )  # fmt: skip
    shape = setting.shape
    return SteadyState(
        {name: array.reshape(shape) for name, array in layer.items()}, None, names, shape=shape,
        status=mark["status"].reshape(shape), stable=mark["stable"].reshape(shape),
        field_loss=mark["field_loss"].reshape(shape), extrapolated=mark["extrapolated"].reshape(shape),
    )  # fmt: skip


def _all_roots(balance: TorqueBalance, size: int, dtype: Any) -> tuple[Array, Array]:
    """Every root: positions of the points, and currents."""
    found_points, found_currents = [], []
    for side in (1.0, -1.0):
        residual = Directed(balance, side)
        no_load = np.broadcast_to(np.asarray(residual.value(np.zeros(size, dtype)), dtype), size)
        k_phi = np.broadcast_to(np.asarray(balance.k_phi(np.zeros(size, dtype)), dtype), size)
        reach = np.broadcast_to(np.asarray(balance.greatest_current(1.0), dtype), size)
        natural = np.abs(no_load) / k_phi
        if side < 0.0:
            # not what flows at standstill: there the brushes may hold all of a low voltage
            driven = np.divide(balance.u0 + balance.brush_drop, balance.u1 + balance.resistance)
            reach = np.broadcast_to(np.where(np.isfinite(driven), 8.0 * driven, np.inf).astype(dtype), size)
            reach = np.minimum(reach, np.broadcast_to(np.asarray(balance.greatest_current(-1.0), dtype), size))
        reach = np.maximum(np.where(np.isfinite(reach), reach, 1000.0 * natural), 0.0)  # it may not even turn
        for points, low, high, f_low, f_high in _brackets(residual, no_load, reach, size):
            part = residual.take(points)
            roots = bracketed_root(part, low, f_low, high, f_high)
            found_points.append(points)
            found_currents.append(side * roots)
    if not found_points:
        return np.zeros(0, int), np.zeros(0)
    return np.concatenate(found_points), np.concatenate(found_currents)


def _brackets(residual: Directed, no_load: Array, reach: Array, size: int) -> list[tuple[Array, ...]]:
    """Changes of sign along a walk with small steps near no load and even ones further out; hidden pairs are sought too."""
    share = np.concatenate([np.geomspace(1e-7, 1.0 / _STEPS, 60)[:-1], np.arange(1, _STEPS + 1) / _STEPS])
    brackets: list[tuple[Array, ...]] = []
    x2 = x1 = np.zeros_like(reach)
    h2 = h1 = no_load
    for s in share:
        x = reach * s
        h = residual.value(x)
        crossing = (
            np.isfinite(h) & np.isfinite(h1) & (((h1 < 0.0) & (h >= 0.0)) | ((h1 >= 0.0) & (h < 0.0) & (x1 > 0.0)))
        )
        at = np.flatnonzero(crossing)
        if at.size:
            brackets.append((at, x1[at], x[at], h1[at], h[at]))
        hidden = np.flatnonzero((h < 0.0) & (h1 < 0.0) & (h2 < 0.0) & (h1 >= h2) & (h1 > h))
        if hidden.size:
            top, h_top = climb(
                residual.take(hidden), x2[hidden], h2[hidden], x1[hidden], h1[hidden], x[hidden], h[hidden]
            )
            over = np.flatnonzero(h_top >= 0.0)
            if over.size:
                at = hidden[over]
                brackets.append((at, x2[at], top[over], h2[at], h_top[over]))
                right = over[np.isfinite(h[hidden[over]])]
                at = hidden[right]
                brackets.append((at, top[right], x[at], h_top[right], h[at]))
        x2, h2, x1, h1 = x1, h1, x, h
    return brackets
