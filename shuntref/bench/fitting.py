"""Least squares for a line, a linear form and a curve, with the uncertainties that the readings justify."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize

from shuntref.bench.fit_result import FitError, FitResult, judge

__all__ = ["FitError", "FitResult", "central_jacobian", "fit_curve", "fit_line", "fit_linear"]

Array = NDArray[np.float64]
_SCALES = ("residuals", "stated")


def _series(name: str, data: ArrayLike, count: int | None = None) -> Array:
    array = np.array(data, dtype=float)
    if array.ndim != 1 or (count is not None and array.size != count):
        raise ValueError(f"{name}: {'a row of' if count is None else count} numbers wanted, got shape {array.shape}")
    if not np.all(np.isfinite(array)):
        raise ValueError(f"{name}: entry {int(np.argmin(np.isfinite(array))) + 1} is not a finite number")
    return array


def _weights(uncertainties: ArrayLike | None, count: int, scale: str) -> Array:
    if scale not in _SCALES:
        raise ValueError(f"scale {scale!r}: accepted are {' and '.join(_SCALES)}")
    if uncertainties is None:
        if scale == "stated":
            raise ValueError("scale 'stated' needs the standard uncertainties of the observations")
        return np.ones(count)
    u = np.broadcast_to(np.asarray(uncertainties, dtype=float), (count,))
    if not np.all(np.isfinite(u)) or np.any(u <= 0.0):
        raise ValueError("standard uncertainties of the observations must be finite and above zero")
    return np.asarray(1.0 / u, dtype=float)


def _enough(count: int, names: Sequence[str]) -> None:
    if count < len(names):
        raise FitError(
            f"{count} reading{'' if count == 1 else 's'} cannot determine {len(names)} unknowns "
            f"({', '.join(names)}); take more"
        )


def fit_linear(
    design: ArrayLike,
    observed: ArrayLike,
    names: Sequence[str],
    *,
    standard_uncertainties: ArrayLike | None = None,
    scale: str = "residuals",
) -> FitResult:
    """Fit a form that is linear in its parameters.

    Parameters
    ----------
    design : array, shape (n, p)
        Column j is what parameter j is multiplied by.
    observed : array, shape (n,)
    names : sequence of str
        Names of the parameters.
    standard_uncertainties : array, optional
        Of the observations, in their unit; they weight the fit.
    scale : {"residuals", "stated"}
        Take the size of the scatter from the residuals, or from ``standard_uncertainties`` as they stand.

    Returns
    -------
    FitResult

    Raises
    ------
    FitError
        Fewer observations than parameters.

    Examples
    --------
    >>> fit = fit_linear([[1, 0], [1, 1], [1, 2], [1, 3]], [1.0, 3.1, 4.9, 7.0], ["offset", "slope"])
    >>> fit.values.round(3), fit.degrees_of_freedom
    (array([1.03, 1.98]), 2)
    """
    y = _series("observations", observed)
    matrix = np.array(design, dtype=float)
    if matrix.shape != (len(y), len(names)) or not np.all(np.isfinite(matrix)):
        raise ValueError(f"design: finite numbers of shape {(len(y), len(names))} wanted, got {matrix.shape}")
    _enough(len(y), names)
    weights = _weights(standard_uncertainties, len(y), scale)
    weighted = matrix * weights[:, None]
    lengths = np.linalg.norm(weighted, axis=0)
    lengths[lengths == 0.0] = 1.0
    solution, *_ = np.linalg.lstsq(weighted / lengths, weights * y, rcond=None)
    values = np.asarray(solution / lengths, dtype=float)
    return judge(
        names, values, y, matrix @ values, weights, weighted, scale=scale, settled=True, reason="linear problem"
    )


def fit_line(
    x: ArrayLike,
    y: ArrayLike,
    *,
    names: tuple[str, str] = ("intercept", "slope"),
    standard_uncertainties: ArrayLike | None = None,
    x_uncertainties: ArrayLike | None = None,
    scale: str = "residuals",
) -> FitResult:
    """Fit a straight line; errors in x are carried into y by the slope.

    Parameters
    ----------
    x, y : array, shape (n,)
    names : pair of str
        Intercept and slope.
    standard_uncertainties, x_uncertainties : array, optional
        Of y and of x, each reading's own (not common) error.
    scale : {"residuals", "stated"}
        As in :func:`fit_linear`.

    Notes
    -----
    With ``x_uncertainties`` the weights are 1/(u_y^2 + slope^2 u_x^2), found by repetition (effective variance). The slope
    is biased low by about u_x^2 over the variance of x; the result warns when that is not small beside its uncertainty.

    Examples
    --------
    >>> fit_line([0.0, 1.0, 2.0], [1.0, 3.0, 5.0]).values.round(12)
    array([1., 2.])
    """
    columns = _series("x", x)
    observed = _series("y", y, len(columns))
    design = np.column_stack([np.ones(len(columns)), columns])
    u_y = standard_uncertainties
    if x_uncertainties is None:
        return fit_linear(design, observed, names, standard_uncertainties=u_y, scale=scale)
    u_x = np.broadcast_to(np.asarray(x_uncertainties, dtype=float), columns.shape)
    base = np.zeros(len(columns)) if u_y is None else np.broadcast_to(np.asarray(u_y, dtype=float), columns.shape)
    result = fit_linear(design, observed, names, scale="residuals")
    for _ in range(20):
        slope = float(result.values[1])
        combined = np.hypot(base, slope * u_x)
        if not np.any(combined > 0.0):
            return result
        result = fit_linear(design, observed, names, standard_uncertainties=combined, scale=scale)
        if abs(float(result.values[1]) - slope) <= 1e-12 * abs(slope):
            break
    spread = float(np.var(columns))
    bias = abs(float(result.values[1])) * float(np.mean(u_x**2)) / spread if spread else 0.0
    if bias > 0.3 * result.standard_uncertainties[1]:
        extra = (
            f"the readings of x scatter so much beside their range that {names[1]} comes out low by about {bias:.2g}; "
            "spread the readings further"
        )
        return FitResult(
            **{**{f: getattr(result, f) for f in result.__dataclass_fields__}, "warnings": (*result.warnings, extra)}
        )
    return result


def central_jacobian(function: Callable[[Array], Array], values: Array) -> Array:
    """Return the derivatives of ``function`` by central differences, shape (outputs, parameters)."""
    columns = []
    for j, value in enumerate(values):
        step = np.finfo(float).eps ** (1 / 3) * (abs(value) if value else 1e-3)
        above, below = values.copy(), values.copy()
        above[j], below[j] = value + step, value - step
        columns.append((function(above) - function(below)) / (above[j] - below[j]))
    return np.column_stack(columns)


def fit_curve(
    function: Callable[..., Any],
    x: ArrayLike,
    observed: ArrayLike,
    start: Mapping[str, float],
    *,
    standard_uncertainties: ArrayLike | None = None,
    x_uncertainties: ArrayLike | None = None,
    scale: str = "residuals",
    most_evaluations: int = 2000,
    near: bool = False,
) -> FitResult:
    """Fit a curve ``function(x, *parameters)``; a search that did not end at a minimum says so.

    Parameters
    ----------
    function : callable
        Takes ``x`` and the parameters in the order of ``start``, returns the fitted values.
    x, observed : array, shape (n,)
    start : mapping of name to value
        Where the search begins.
    standard_uncertainties, x_uncertainties, scale
        As in :func:`fit_line`; errors in x are carried by the slope of the curve.
    most_evaluations : int
        Give up after so many evaluations.
    near : bool
        Whether ``start`` is nearly the answer (only weights or a few readings have changed): plain Gauss-Newton first.

    Returns
    -------
    FitResult
        Look at ``converged``; :meth:`FitResult.require` raises when it is false.

    Notes
    -----
    Levenberg-Marquardt (MINPACK through scipy), then three checks of our own: the residuals must be perpendicular to the
    curve's tangents (relative offset), every parameter must still act, and no two may act alike.

    Examples
    --------
    >>> current = np.array([0.2, 0.4, 0.6, 0.8, 1.0])
    >>> fit = fit_curve(lambda i, a, b: a * i / (b + i), current, 1.6 * current / (0.9 + current), {"a": 1.0, "b": 1.0})
    >>> fit.converged, fit.values.round(9)
    (True, array([1.6, 0.9]))
    """
    columns, names = _series("x", x), tuple(start)
    y = _series("observations", observed, len(columns))
    begin = _series("start", [start[name] for name in names])
    _enough(len(y), names)
    weights = _weights(standard_uncertainties, len(y), scale) if x_uncertainties is None else np.ones(len(y))
    base = (
        np.zeros(len(y))
        if standard_uncertainties is None
        else np.broadcast_to(np.asarray(standard_uncertainties, dtype=float), y.shape)
    )
    result = _search(function, columns, y, names, begin, weights, scale, most_evaluations, near)
    if x_uncertainties is None or not result.converged:
        return result
    u_x = np.broadcast_to(np.asarray(x_uncertainties, dtype=float), y.shape)
    step = 1e-5 * max(float(np.ptp(columns)), 1e-12)
    for _ in range(12):
        values = result.values
        slope = (function(columns + step, *values) - function(columns - step, *values)) / (2.0 * step)
        combined = np.hypot(base, slope * u_x)
        if not np.any(combined > 0.0):
            return result
        result = _search(function, columns, y, names, values, 1.0 / combined, scale, most_evaluations, True)
        if not result.converged or np.all(np.abs(result.values - values) <= 1e-9 * np.abs(values) + 1e-300):
            break
    return result


def _search(
    function: Callable[..., Any],
    x: Array,
    y: Array,
    names: tuple[str, ...],
    begin: Array,
    weights: Array,
    scale: str,
    most: int,
    near: bool = False,
) -> FitResult:
    def fitted(values: Array) -> Array:
        with np.errstate(all="ignore"):  # a trial step may leave the curve's domain; the search then steps back
            return np.asarray(function(x, *values), dtype=float)

    def residuals(values: Array) -> Array:
        raw = weights * (fitted(values) - y)
        return np.where(np.isfinite(raw), raw, 1e100)

    def jacobian(values: Array) -> Array:
        raw = central_jacobian(lambda v: weights * fitted(v), values)
        return np.where(np.isfinite(raw), raw, 0.0)

    if near:  # only the weights have changed a little: a few steps of the plain method do
        values = _gauss_newton(residuals, jacobian, begin)
        close = judge(names, values, y, fitted(values), weights, jacobian(values), scale=scale, settled=True, reason="")
        if close.converged:
            return close
    found = optimize.least_squares(
        residuals, begin, jac=jacobian, method="lm", x_scale="jac", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=most
    )
    values = _gauss_newton(residuals, jacobian, np.asarray(found.x, dtype=float))  # the last digits of the minimum
    reason = found.message if found.status > 0 else f"no minimum after {found.nfev} evaluations"
    if math.isinf(float(np.max(np.abs(values)))):
        values = np.full(len(names), math.nan)
    return judge(
        names,
        values,
        y,
        fitted(values),
        weights,
        jacobian(values),
        scale=scale,
        settled=found.status > 0,
        reason=reason,
        evaluations=int(found.nfev),
    )


def _gauss_newton(residuals: Callable[[Array], Array], jacobian: Callable[[Array], Array], values: Array) -> Array:
    """Take Gauss-Newton steps as long as none makes the sum of squares larger than rounding explains."""
    here = residuals(values)
    rss = float(here @ here)
    for _ in range(6):
        tangent = jacobian(values)
        lengths = np.linalg.norm(tangent, axis=0)
        if not np.all(np.isfinite(values)) or np.any(lengths == 0.0):
            return values
        step = np.linalg.lstsq(tangent / lengths, here, rcond=None)[0] / lengths
        trial = np.asarray(values - step, dtype=float)
        there = residuals(trial)
        new = float(there @ there)
        if not new <= rss * (1.0 + 1e-9):
            return values
        settled = bool(np.all(np.abs(step) <= 1e-12 * np.abs(trial)))
        values, here, rss = trial, there, new
        if settled:
            break
    return values
