"""What a fit hands back: parameters with uncertainties, and an honest account of how far they can be trusted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import stats

__all__ = ["FitError", "FitResult", "judge"]

Array = NDArray[np.float64]

#: smallest over largest singular value of the column-scaled Jacobian below which the parameters cannot be told apart
LEAST_CONDITION = 1e-9
#: relative offset (Bates and Watts) above which the point found is not a minimum of the sum of squares
LARGEST_OFFSET = 1e-3


class FitError(ValueError):
    """A fit that did not converge, or that the data cannot determine; the message says why."""


@dataclass(frozen=True)
class FitResult:
    """The outcome of a least-squares fit.

    ``residuals`` are observed minus fitted in the unit of the observations; ``jacobian`` and ``weights`` belong to the
    weighted problem (weight = 1/standard uncertainty); ``residual_sd`` is the standard deviation of the weighted residuals,
    in the unit of the observations when no uncertainties were given. ``suspects`` are positions of observations that lie
    too far from the fitted curve to be scatter.
    """

    names: tuple[str, ...]
    values: Array
    covariance: Array
    degrees_of_freedom: int
    residuals: Array
    weights: Array
    jacobian: Array
    sum_of_squares: float
    residual_sd: float
    converged: bool
    reason: str
    evaluations: int = 1
    suspects: tuple[int, ...] = ()
    warnings: tuple[str, ...] = field(default=())

    @property
    def standard_uncertainties(self) -> Array:
        """Standard uncertainties of the parameters."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), dtype=float)

    @property
    def correlation(self) -> Array:
        """Correlation matrix of the parameters."""
        u = np.where(self.standard_uncertainties > 0.0, self.standard_uncertainties, 1.0)
        matrix = np.clip(self.covariance / np.outer(u, u), -1.0, 1.0)
        np.fill_diagonal(matrix, 1.0)
        return np.asarray(matrix, dtype=float)

    def value(self, name: str) -> float:
        """Return the fitted value of ``name``."""
        return float(self.values[self.names.index(name)])

    def standard_uncertainty(self, name: str) -> float:
        """Return the standard uncertainty of ``name``."""
        return float(self.standard_uncertainties[self.names.index(name)])

    def response(self, change: Array) -> Array:
        """Return the change of the parameters when the observations change by ``change`` (first order).

        Parameters
        ----------
        change : array, shape (observations,)
            In the unit of the observations.
        """
        solution, *_ = np.linalg.lstsq(self.jacobian, self.weights * change, rcond=None)
        return np.asarray(solution, dtype=float)

    def require(self, what: str) -> FitResult:
        """Return this result, or raise :class:`FitError` naming ``what`` when it did not converge."""
        if not self.converged:
            raise FitError(f"{what}: the fit did not converge ({self.reason})")
        return self

    def report(self) -> str:
        """Return the fit as text: each parameter with its standard uncertainty, then what to know about it."""
        lines = [
            f"{name} = {value:.6g}, standard uncertainty {u:.2g}"
            for name, value, u in zip(self.names, self.values, self.standard_uncertainties, strict=True)
        ]
        lines.append(
            f"degrees of freedom {self.degrees_of_freedom}, residual standard deviation {self.residual_sd:.4g}"
        )
        for i in range(len(self.names)):
            lines += [
                f"correlation of {self.names[i]} and {self.names[j]}: {self.correlation[i, j]:+.3f}"
                for j in range(i + 1, len(self.names))
            ]
        lines.append("converged" if self.converged else f"NOT CONVERGED: {self.reason}")
        return "\n".join([*lines, *(f"warning: {warning}" for warning in self.warnings)])


def judge(
    names: Sequence[str],
    values: Array,
    observed: Array,
    fitted: Array,
    weights: Array,
    jacobian: Array,
    *,
    scale: str,
    settled: bool,
    reason: str,
    evaluations: int = 1,
) -> FitResult:
    """Work out uncertainties, dof and diagnostics of a solution of the weighted problem.

    Parameters
    ----------
    names, values : parameters and where the search ended
    observed, fitted, weights : arrays, shape (n,)
    jacobian : array, shape (n, p)
        Of the fitted values times the weights.
    scale : {"residuals", "stated"}
        Whether the size of the scatter is taken from the residuals (n - p degrees of freedom) or from the stated weights.
    settled, reason
        What the search said.

    References
    ----------
    D. M. Bates, D. G. Watts, Nonlinear Regression Analysis and Its Applications, Wiley 1988, relative offset criterion
    (from memory).
    """
    count, parameters = jacobian.shape
    dof = count - parameters
    residuals = observed - fitted
    weighted = weights * residuals
    rss = float(weighted @ weighted) if np.all(np.isfinite(weighted)) else math.inf
    blank = np.full((parameters, parameters), math.nan)
    warnings: list[str] = []
    converged = settled
    lengths = np.linalg.norm(jacobian, axis=0) if np.all(np.isfinite(jacobian)) else np.full(parameters, math.nan)
    if not (math.isfinite(rss) and np.all(np.isfinite(values)) and np.all(np.isfinite(lengths))):
        return FitResult(
            tuple(names),
            values,
            blank,
            dof,
            residuals,
            weights,
            jacobian,
            rss,
            math.nan,
            False,
            "the search left the region where the curve can be computed",
            evaluations,
        )
    dead = [name for name, length in zip(names, lengths, strict=True) if length == 0.0]
    if dead:
        return FitResult(
            tuple(names),
            values,
            blank,
            dof,
            residuals,
            weights,
            jacobian,
            rss,
            math.nan,
            False,
            f"the curve no longer depends on {dead[0]} where the search ended",
            evaluations,
        )
    left, singular, right = np.linalg.svd(jacobian / lengths, full_matrices=False)
    if singular[-1] < LEAST_CONDITION * singular[0]:
        worst = np.argsort(-np.abs(right[-1]))[: 2 if parameters > 1 else 1]
        told = " from ".join(names[i] for i in sorted(worst))
        return FitResult(
            tuple(names),
            values,
            blank,
            dof,
            residuals,
            weights,
            jacobian,
            rss,
            math.nan,
            False,
            f"these data cannot tell {told}",
            evaluations,
        )
    along = left.T @ weighted
    across = weighted - left @ along
    exact = math.sqrt(rss) <= 1e-9 * float(np.linalg.norm(weights * observed))
    if converged and not exact and dof > 0:
        denominator = float(np.linalg.norm(across)) * math.sqrt(parameters)
        offset = float(np.linalg.norm(along)) * math.sqrt(dof) / denominator if denominator else math.inf
        if offset > LARGEST_OFFSET:
            converged, reason = (
                False,
                f"the sum of squares is not at a minimum where the search ended (offset {offset:.2g})",
            )
    unscaled = (right.T / singular**2) @ right / np.outer(lengths, lengths)
    if dof > 0:
        residual_sd = math.sqrt(rss / dof)
    else:
        residual_sd = math.nan
        warnings.append(
            f"{count} readings for {parameters} unknowns: nothing is left to judge the scatter by"
            + ("" if scale == "stated" else "; the uncertainties rest on the stated scatter alone")
        )
    factor = 1.0 if scale == "stated" or dof == 0 else residual_sd**2
    covariance = unscaled * factor
    suspects = _suspects(weighted, left, dof, exact)
    result = FitResult(
        tuple(names),
        values,
        covariance,
        dof,
        residuals,
        weights,
        jacobian,
        rss,
        residual_sd,
        converged,
        reason,
        evaluations,
        suspects,
    )
    warnings += _doubts(result)
    return FitResult(**{**{f: getattr(result, f) for f in result.__dataclass_fields__}, "warnings": tuple(warnings)})


def _suspects(weighted: Array, left: Array, dof: int, exact: bool) -> tuple[int, ...]:
    """Positions whose externally studentised residual is beyond 99 % of chance for so many readings."""
    if dof < 3 or exact:
        return ()
    leverage = np.sum(left**2, axis=1)
    rest = np.maximum(1.0 - leverage, 1e-12)
    rss = float(weighted @ weighted)
    without = (rss - weighted**2 / rest) / (dof - 1)
    limit = float(stats.t.ppf(1.0 - 0.005 / len(weighted), dof - 1))
    return tuple(
        int(i)
        for i in range(len(weighted))
        if rest[i] > 1e-9 and weighted[i] ** 2 > limit**2 * max(float(without[i]), 1e-300) * rest[i]
    )


def _doubts(result: FitResult) -> list[str]:
    found = []
    for name, value, u in zip(result.names, result.values, result.standard_uncertainties, strict=True):
        if u > 0.5 * abs(value):
            found.append(f"{name} = {value:.3g} with standard uncertainty {u:.2g}: the data hardly determine it")
    matrix = result.correlation
    for i in range(len(result.names)):
        for j in range(i + 1, len(result.names)):
            if abs(matrix[i, j]) > 0.995:
                found.append(
                    f"{result.names[i]} and {result.names[j]} can only be told apart poorly "
                    f"(correlation {matrix[i, j]:+.4f}); use them together with their correlation, never singly"
                )
    return found
