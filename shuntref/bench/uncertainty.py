"""The law of propagation of uncertainty with correlations, expanded uncertainty, and scores for comparing two results."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from shuntref.bench.error_sources import effective_degrees_of_freedom

__all__ = [
    "BudgetLine",
    "Combined",
    "Inputs",
    "combine",
    "coverage_factor",
    "propagate",
    "second_order",
    "sensitivities",
]

Array = NDArray[np.float64]
Function = Callable[[Mapping[str, float]], float]


@dataclass(frozen=True)
class Inputs:
    """Input quantities: values, covariance matrix and degrees of freedom of each, in registry units."""

    names: tuple[str, ...]
    values: Array
    covariance: Array
    dofs: tuple[float, ...]

    def __post_init__(self) -> None:
        count = len(self.names)
        if self.covariance.shape != (count, count) or len(self.values) != count or len(self.dofs) != count:
            raise ValueError(
                f"{count} quantities need {count} values, {count} degrees of freedom and a covariance matrix of "
                f"shape {(count, count)}, not {self.covariance.shape}"
            )
        if not (np.all(np.isfinite(self.values)) and np.all(np.isfinite(self.covariance))):
            raise ValueError("values and covariances must be finite numbers")
        if not np.allclose(self.covariance, self.covariance.T, rtol=1e-9, atol=0.0):
            raise ValueError("the covariance matrix is not symmetric")
        scale = np.sqrt(np.maximum(np.diag(self.covariance), 0.0))
        scale[scale == 0.0] = 1.0
        lowest = float(np.linalg.eigvalsh(self.covariance / np.outer(scale, scale))[0]) if count else 0.0
        if np.any(np.diag(self.covariance) < 0.0) or lowest < -1e-7 * count:
            raise ValueError(
                "these correlations contradict one another: no set of errors can have all of them "
                f"(smallest eigenvalue {lowest:.2g})"
            )

    @classmethod
    def stated(
        cls,
        values: Mapping[str, float],
        uncertainties: Mapping[str, float],
        *,
        correlations: Mapping[tuple[str, str], float] | None = None,
        dofs: Mapping[str, float] | None = None,
    ) -> Inputs:
        """Build inputs from stated standard uncertainties and correlation coefficients.

        Parameters
        ----------
        values, uncertainties : mapping of name to number
            Standard uncertainties; a name left out is exact.
        correlations : mapping of pair of names to coefficient, optional
            Pairs left out are uncorrelated.
        dofs : mapping of name to degrees of freedom, optional
            Left out means infinite.

        Examples
        --------
        >>> both = Inputs.stated({"x": 1.0, "y": 2.0}, {"x": 0.1, "y": 0.2}, correlations={("x", "y"): 0.5})
        >>> float(both.covariance[0, 1])
        0.010000000000000002
        """
        names = tuple(values)
        for name in (*uncertainties, *(dofs or {})):
            if name not in values:
                raise ValueError(f"an uncertainty is stated for {name!r}, which has no value")
        u = np.array([float(uncertainties.get(name, 0.0)) for name in names])
        if not np.all(np.isfinite(u)) or np.any(u < 0.0):
            worst = names[int(np.argmax(~(np.isfinite(u) & (u >= 0.0))))]
            raise ValueError(
                f"the standard uncertainty of {worst} is {uncertainties[worst]}; "
                "a finite number that is not negative is wanted"
            )
        matrix = np.diag(u**2)
        for (first, second), r in (correlations or {}).items():
            for name in (first, second):
                if name not in values:
                    raise ValueError(f"a correlation is stated for {name!r}, which has no value")
            if first == second or not -1.0 <= r <= 1.0:
                raise ValueError(
                    f"the correlation of {first} and {second} is {r}; a number from -1 to 1 between two "
                    "different quantities is wanted"
                )
            i, j = names.index(first), names.index(second)
            matrix[i, j] = matrix[j, i] = r * u[i] * u[j]
        return cls(
            names,
            np.array([float(values[name]) for name in names]),
            matrix,
            tuple(float((dofs or {}).get(name, math.inf)) for name in names),
        )

    @classmethod
    def from_readings(cls, readings: Mapping[str, Sequence[float]]) -> Inputs:
        """Build inputs from readings taken together: means, with the covariances of the means (type A).

        References
        ----------
        JCGM 100:2008, 4.2 and 5.2.3 (equation numbers from memory).

        Examples
        --------
        >>> inputs = Inputs.from_readings({"x": [1.0, 2.0, 3.0], "y": [2.0, 4.0, 6.0]})
        >>> inputs.values, inputs.correlation("x", "y")
        (array([2., 4.]), 1.0)
        """
        names = tuple(readings)
        table = [np.asarray(readings[name], dtype=float) for name in names]
        counts = {len(column) for column in table}
        if len(counts) != 1 or min(counts) < 2:
            raise ValueError(f"readings taken together must be equally many, and two at least; here {sorted(counts)}")
        count = counts.pop()
        matrix = np.atleast_2d(np.cov(np.array(table), ddof=1)) / count
        return cls(names, np.array([float(column.mean()) for column in table]), matrix, (count - 1.0,) * len(names))

    @property
    def standard_uncertainties(self) -> Array:
        """Standard uncertainties of the inputs."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), dtype=float)

    def correlation(self, first: str, second: str) -> float:
        """Return the correlation coefficient of two of the quantities; 0 when one of them is exact."""
        i, j = self.names.index(first), self.names.index(second)
        scale = math.sqrt(float(self.covariance[i, i] * self.covariance[j, j]))
        return float(self.covariance[i, j]) / scale if scale else 0.0

    @property
    def correlated(self) -> bool:
        """Whether any two quantities are correlated."""
        return bool(np.any(self.covariance != np.diag(np.diag(self.covariance))))


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One line of an uncertainty budget; ``contribution`` is sensitivity times standard uncertainty, with its sign."""

    name: str
    value: float
    standard_uncertainty: float
    dof: float
    sensitivity: float
    contribution: float


@dataclass(frozen=True)
class Combined:
    """A combined result.

    ``dof_valid`` is false when the inputs are correlated, where the Welch-Satterthwaite formula does not hold; ``dof`` is then
    the smallest among the inputs that matter, on the safe side.
    """

    value: float
    standard_uncertainty: float
    dof: float
    dof_valid: bool
    coverage: float
    coverage_factor: float
    budget: tuple[BudgetLine, ...]
    note: str = ""

    @property
    def expanded_uncertainty(self) -> float:
        """Coverage factor times standard uncertainty."""
        return self.coverage_factor * self.standard_uncertainty


def coverage_factor(dof: float, coverage: float = 0.95) -> float:
    """Return the coverage factor: Student's t for the degrees of freedom, rounded down to a whole number.

    References
    ----------
    JCGM 100:2008, G.3 and G.4.1 (from memory).

    Examples
    --------
    >>> round(coverage_factor(16, 0.99), 2), round(coverage_factor(float("inf")), 2)
    (2.92, 1.96)
    """
    if not 0.0 < coverage < 1.0:
        raise ValueError(f"coverage probability {coverage}: a number between 0 and 1 is wanted, for example 0.95")
    if not dof >= 1.0:
        raise ValueError(f"{dof:.3g} degrees of freedom: an expanded uncertainty needs at least 1; repeat the readings")
    if math.isinf(dof):
        return float(stats.norm.ppf(0.5 + coverage / 2.0))
    return float(stats.t.ppf(0.5 + coverage / 2.0, math.floor(dof + 1e-9)))


def sensitivities(function: Function, inputs: Inputs) -> dict[str, float]:
    """Return the derivatives of ``function`` at the inputs, by central differences over a tenth of each uncertainty."""
    here = dict(zip(inputs.names, map(float, inputs.values), strict=True))
    found = {}
    for name, u in zip(inputs.names, inputs.standard_uncertainties, strict=True):
        step = 0.1 * float(u) or 1e-6 * (abs(here[name]) or 1.0)
        above, below = (function({**here, name: here[name] + sign * step}) for sign in (1.0, -1.0))
        found[name] = (above - below) / (2.0 * step)
    return found


def combine(value: float, slopes: Mapping[str, float], inputs: Inputs, coverage: float = 0.95) -> Combined:
    """Combine the inputs' uncertainties by sensitivities that are known.

    Parameters
    ----------
    value : float
        The result itself.
    slopes : mapping of name to sensitivity
        Unit of the result per registry unit of the input; inputs left out do not act.
    inputs : Inputs
    coverage : float
        Coverage probability of the expanded uncertainty.

    Notes
    -----
    u^2 = sum_i sum_j c_i c_j u(x_i, x_j).

    References
    ----------
    JCGM 100:2008, 5.1.2 equation (10) and 5.2.2 equations (13), (16); G.4 (numbers from memory).

    Examples
    --------
    >>> inputs = Inputs.stated({"U": 120.0, "I": 2.0}, {"U": 0.6, "I": 0.02}, correlations={("U", "I"): 1.0})
    >>> combine(60.0, {"U": 1 / 2.0, "I": -120.0 / 4.0}, inputs).standard_uncertainty
    0.3
    """
    for name, slope in slopes.items():
        if name not in inputs.names:
            raise ValueError(
                f"a sensitivity is given for {name!r}, which is not among the inputs {', '.join(inputs.names)}"
            )
        if not math.isfinite(slope):
            raise ValueError(f"the sensitivity to {name} is {slope}; the result does not depend on it smoothly here")
    row = np.array([float(slopes.get(name, 0.0)) for name in inputs.names])
    variance = max(float(row @ inputs.covariance @ row), 0.0)
    contributions = row * inputs.standard_uncertainties
    budget = tuple(
        BudgetLine(name, float(x), float(u), dof, float(c), float(part))
        for name, x, u, dof, c, part in zip(
            inputs.names, inputs.values, inputs.standard_uncertainties, inputs.dofs, row, contributions, strict=True
        )
    )
    acting = [i for i in range(len(inputs.names)) if contributions[i] != 0.0]
    block = inputs.covariance[np.ix_(acting, acting)]
    linked = bool(np.any(block != np.diag(np.diag(block))))
    note = ""
    if linked:
        dof = min((inputs.dofs[i] for i in acting), default=math.inf)
        note = "the inputs are correlated, so the Welch-Satterthwaite formula does not hold"
        note += f"; the smallest degrees of freedom, {dof:g}, are used" if math.isfinite(dof) else ""
    else:
        parts = {inputs.names[i]: float(contributions[i]) ** 2 for i in acting}
        dof = effective_degrees_of_freedom(parts, {inputs.names[i]: inputs.dofs[i] for i in acting})
    return Combined(
        float(value), math.sqrt(variance), dof, not linked, coverage, coverage_factor(dof, coverage), budget, note
    )


def propagate(functions: Mapping[str, Function], inputs: Inputs) -> Inputs:
    """Propagate several results at once, with the correlations between them.

    Returns
    -------
    Inputs
        The results, ready to be inputs of the next step; each has the smallest degrees of freedom of what acts on it.

    Examples
    --------
    >>> inputs = Inputs.stated({"U": 120.0, "I": 2.0}, {"U": 0.6, "I": 0.02})
    >>> out = propagate({"R": lambda v: v["U"] / v["I"], "P": lambda v: v["U"] * v["I"]}, inputs)
    >>> round(out.correlation("R", "P"), 3)
    -0.6
    """
    here = dict(zip(inputs.names, map(float, inputs.values), strict=True))
    rows = []
    dofs = []
    for function in functions.values():
        slopes = sensitivities(function, inputs)
        rows.append([slopes[name] for name in inputs.names])
        acting = [
            dof
            for name, dof, u in zip(inputs.names, inputs.dofs, inputs.standard_uncertainties, strict=True)
            if slopes[name] * u != 0.0
        ]
        dofs.append(min(acting, default=math.inf))
    matrix = np.array(rows)
    covariance = matrix @ inputs.covariance @ matrix.T
    return Inputs(
        tuple(functions),
        np.array([f(here) for f in functions.values()]),
        (covariance + covariance.T) / 2.0,
        tuple(dofs),
    )


def second_order(function: Function, inputs: Inputs) -> float:
    """Return the standard uncertainty with the second-order terms, for uncorrelated symmetric inputs.

    Notes
    -----
    Adds sum_ij (f_ij^2/2 + f_i f_ijj) u_i^2 u_j^2 to the first-order variance. When it differs much from the first-order
    figure, the function bends within the uncertainties and a Monte Carlo evaluation is the better answer.

    References
    ----------
    JCGM 100:2008, note to 5.1.2 (from memory).

    Examples
    --------
    >>> exact = Inputs.stated({"x": 0.0, "y": 0.0}, {"x": 1.0, "y": 2.0})
    >>> round(second_order(lambda v: v["x"] * v["y"], exact), 6)
    2.0
    """
    if inputs.correlated:
        raise ValueError("the second-order terms are for uncorrelated inputs; use a Monte Carlo evaluation")
    here = np.asarray(inputs.values, dtype=float)
    u = inputs.standard_uncertainties
    acting = [i for i in range(len(here)) if u[i] > 0.0]

    def at(steps: Mapping[int, float]) -> float:
        moved = {name: float(here[k]) + steps.get(k, 0.0) for k, name in enumerate(inputs.names)}
        return float(function(moved))

    # steps of half an uncertainty: the differences of third order would drown in rounding with smaller ones
    h = 0.5 * u
    centre = at({})
    total = 0.0
    for i in acting:
        first = (at({i: h[i]}) - at({i: -h[i]})) / (2 * h[i])
        total += first**2 * u[i] ** 2
        for j in acting:
            if i == j:
                mixed = (at({i: h[i]}) - 2 * centre + at({i: -h[i]})) / h[i] ** 2
                third = (at({i: 2 * h[i]}) - 2 * at({i: h[i]}) + 2 * at({i: -h[i]}) - at({i: -2 * h[i]})) / (
                    2 * h[i] ** 3
                )
            else:
                corners = [at({i: a * h[i], j: b * h[j]}) * a * b for a in (1, -1) for b in (1, -1)]
                mixed = sum(corners) / (4 * h[i] * h[j])
                sides = [
                    a * (at({i: a * h[i], j: h[j]}) - 2 * at({i: a * h[i]}) + at({i: a * h[i], j: -h[j]}))
                    for a in (1, -1)
                ]
                third = sum(sides) / (2 * h[i] * h[j] ** 2)
            total += (0.5 * mixed**2 + first * third) * u[i] ** 2 * u[j] ** 2
    return math.sqrt(max(total, 0.0))
