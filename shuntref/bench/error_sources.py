"""Estimated quantities kept as linear combinations of independent sources of error, so that correlations look after themselves.

A voltmeter that reads 0.3 % high makes every resistance and every flux found with it wrong together. When each result
remembers how it depends on each independent source (this meter's gain, that meter's zero, the scatter of this set of
readings), covariances between results follow by multiplication and no correlation has to be guessed or ignored.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["ErrorSource", "Estimates", "effective_degrees_of_freedom", "fixed"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ErrorSource:
    """One independent source of error.

    ``group`` ties sources whose variance was estimated together (one fit, one residual scatter): they share the degrees of
    freedom ``dof``. ``shape`` is ``"rectangular"`` for a limit, ``"normal"`` for scatter of known or estimated size.
    """

    key: str
    meaning: str
    group: str
    dof: float = math.inf
    shape: str = "normal"


def effective_degrees_of_freedom(variances: Mapping[str, float], dofs: Mapping[str, float]) -> float:
    """Return the Welch-Satterthwaite effective degrees of freedom of a sum of independent variances.

    Parameters
    ----------
    variances : mapping of group to variance contribution
        In the square of the unit of the result.
    dofs : mapping of group to degrees of freedom
        ``inf`` for a type B limit taken as reliable.

    Notes
    -----
    nu = u^4 / sum(u_i^4/nu_i); valid for independent contributions only.

    References
    ----------
    JCGM 100:2008, G.4.1, equation (G.2b) (equation seen in a secondary source).

    Examples
    --------
    >>> effective_degrees_of_freedom({"a": 1.0, "b": 1.0}, {"a": 4, "b": 12})
    12.0
    >>> effective_degrees_of_freedom({"a": 1.0}, {"a": float("inf")})
    inf
    """
    total = sum(variances.values())
    if total == 0.0:
        return math.inf
    weight = 0.0
    for group, variance in variances.items():
        dof = dofs[group]
        if variance > 0.0 and dof <= 0:
            return 0.0
        weight += (variance / total) ** 2 / dof
    return 1.0 / weight if weight > 0.0 else math.inf


@dataclass(frozen=True)
class Estimates:
    """Values of several quantities with their sensitivities to independent sources.

    ``sensitivities[i, j]`` is the change of quantity i, in its own unit, for one standard uncertainty of source j.
    """

    names: tuple[str, ...]
    values: Array
    sources: tuple[ErrorSource, ...]
    sensitivities: Array

    def __post_init__(self) -> None:
        if self.sensitivities.shape != (len(self.names), len(self.sources)) or len(self.values) != len(self.names):
            raise ValueError(
                f"sensitivities of shape {self.sensitivities.shape} do not fit {len(self.names)} quantities "
                f"and {len(self.sources)} sources"
            )
        if len(set(self.names)) != len(self.names):
            raise ValueError(f"a quantity is named twice in {', '.join(self.names)}")

    @property
    def covariance(self) -> Array:
        """Covariance matrix, in the product of the units."""
        return np.asarray(self.sensitivities @ self.sensitivities.T, dtype=float)

    @property
    def standard_uncertainties(self) -> Array:
        """Standard uncertainties, each in its own unit."""
        return np.asarray(np.hypot.reduce(self.sensitivities, axis=1), dtype=float)  # squares may overflow

    @property
    def correlation(self) -> Array:
        """Correlation matrix; rows of a quantity without uncertainty are zero off the diagonal."""
        u = self.standard_uncertainties
        scale = np.where(u > 0.0, u, 1.0)
        matrix = self.covariance / np.outer(scale, scale)
        np.fill_diagonal(matrix, 1.0)
        return np.asarray(np.clip(matrix, -1.0, 1.0), dtype=float)

    def index(self, name: str) -> int:
        """Return the position of ``name``."""
        try:
            return self.names.index(name)
        except ValueError:
            raise ValueError(f"{name!r} was not estimated; known are {', '.join(self.names)}") from None

    def value(self, name: str) -> float:
        """Return the value of ``name``."""
        return float(self.values[self.index(name)])

    def standard_uncertainty(self, name: str) -> float:
        """Return the standard uncertainty of ``name``."""
        return float(self.standard_uncertainties[self.index(name)])

    def parts(self, name: str) -> dict[str, float]:
        """Return the standard uncertainty of ``name`` by group of sources."""
        row = self.sensitivities[self.index(name)]
        squares: dict[str, float] = {}
        for source, entry in zip(self.sources, row, strict=True):
            squares[source.group] = squares.get(source.group, 0.0) + float(entry) ** 2
        return {group: math.sqrt(square) for group, square in squares.items()}

    def degrees_of_freedom(self, name: str) -> float:
        """Return the effective degrees of freedom of ``name``: the sources are independent, so the formula holds."""
        variances = {group: part**2 for group, part in self.parts(name).items()}
        return effective_degrees_of_freedom(variances, {s.group: s.dof for s in self.sources})

    def select(self, names: Sequence[str]) -> Estimates:
        """Return the estimates of ``names`` only, in that order."""
        rows = [self.index(name) for name in names]
        return Estimates(tuple(names), self.values[rows], self.sources, self.sensitivities[rows])

    def joined(self, other: Estimates) -> Estimates:
        """Return both sets together; sources with the same key are the same source.

        Examples
        --------
        >>> gain = ErrorSource("gain", "gain of the meter", "gain")
        >>> a = Estimates(("x",), np.array([1.0]), (gain,), np.array([[0.1]]))
        >>> b = Estimates(("y",), np.array([2.0]), (gain,), np.array([[0.2]]))
        >>> round(float(a.joined(b).correlation[0, 1]), 9)
        1.0
        """
        mine = set(self.sources)
        extra = [source for source in other.sources if source not in mine]
        clash = {s.key for s in extra} & {s.key for s in mine}
        if clash:
            raise ValueError(f"the source {min(clash)!r} is described in two ways")
        sources = (*self.sources, *extra)
        column = {source: j for j, source in enumerate(sources)}
        matrix = np.zeros((len(self.names) + len(other.names), len(sources)))
        matrix[: len(self.names), : len(self.sources)] = self.sensitivities
        for j, source in enumerate(other.sources):
            matrix[len(self.names) :, column[source]] = other.sensitivities[:, j]
        return Estimates(self.names + other.names, np.concatenate([self.values, other.values]), sources, matrix)

    def derived(self, name: str, function: Callable[[Mapping[str, float]], float]) -> Estimates:
        """Return the estimate of a function of these quantities (first order, central differences).

        Examples
        --------
        >>> one = ErrorSource("one", "", "one")
        >>> e = Estimates(("x", "y"), np.array([3.0, 2.0]), (one,), np.array([[0.1], [0.0]]))
        >>> e.derived("product", lambda v: v["x"] * v["y"]).standard_uncertainties.round(12)
        array([0.2])
        """
        here = dict(zip(self.names, map(float, self.values), strict=True))
        row = np.zeros(len(self.sources))
        for i, (key, u) in enumerate(zip(self.names, self.standard_uncertainties, strict=True)):
            if u == 0.0:
                continue
            step = 1e-3 * float(u)
            slope = (function({**here, key: here[key] + step}) - function({**here, key: here[key] - step})) / (
                2.0 * step
            )
            row += slope * self.sensitivities[i]
        return Estimates((name,), np.array([function(here)]), self.sources, row[None, :])

    def sample(self, trials: int, generator: np.random.Generator) -> Array:
        """Draw possible values of the quantities, shape (trials, quantities).

        A rectangular source is drawn from its limits. Scatter whose size was itself estimated is drawn from the scaled and
        shifted t distribution with the degrees of freedom of its group (JCGM 101:2008, 6.4.9), shared within the group.
        """
        total = np.tile(self.values, (trials, 1))
        groups: dict[tuple[str, float], list[int]] = {}
        for j, source in enumerate(self.sources):
            if source.shape == "rectangular":
                limits = generator.uniform(-math.sqrt(3.0), math.sqrt(3.0), trials)
                total += limits[:, None] * self.sensitivities[:, j]
            else:
                groups.setdefault((source.group, source.dof), []).append(j)
        for (_, dof), columns in groups.items():
            # any number of normal sources act like as many as there are quantities
            left, sizes, _ = np.linalg.svd(self.sensitivities[:, columns], full_matrices=False)
            draws = generator.standard_normal((trials, len(sizes))) * sizes
            if math.isfinite(dof):
                draws *= np.sqrt(dof / generator.chisquare(dof, trials))[:, None]
            total += draws @ left.T
        return np.asarray(total, dtype=float)


def fixed(values: Mapping[str, float], uncertainties: Mapping[str, float] | None = None) -> Estimates:
    """Return known values as estimates: exact, or with a standard uncertainty of their own, uncorrelated.

    Parameters
    ----------
    values : mapping of quantity to value
        In registry units.
    uncertainties : mapping of quantity to standard uncertainty, optional
        Quantities left out are taken as exact.

    Examples
    --------
    >>> fixed({"brush_drop": 2.0}, {"brush_drop": 0.3}).standard_uncertainty("brush_drop")
    0.3
    """
    given = dict(uncertainties or {})
    for name, u in given.items():
        if name not in values:
            raise ValueError(f"an uncertainty is given for {name!r} but no value")
        if not (math.isfinite(u) and u >= 0.0):
            raise ValueError(
                f"the standard uncertainty of {name} is {u}; a finite number that is not negative is wanted"
            )
    names = tuple(values)
    sources = tuple(
        ErrorSource(f"given {name}", f"stated uncertainty of {name}", f"given {name}")
        for name in names
        if given.get(name, 0.0) > 0.0
    )
    matrix = np.zeros((len(names), len(sources)))
    for j, source in enumerate(sources):
        name = source.key.removeprefix("given ")
        matrix[names.index(name), j] = given[name]
    return Estimates(names, np.array([float(values[name]) for name in names]), sources, matrix)
