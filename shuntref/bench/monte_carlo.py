"""Propagation of distributions by Monte Carlo: seeded, with a fixed number of trials or until the figures stand still."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Joint",
    "MonteCarloResult",
    "Normal",
    "Rectangular",
    "StudentT",
    "monte_carlo",
    "shortest_interval",
    "symmetric_interval",
]

Array = NDArray[np.float64]


class Distribution(Protocol):
    """What :func:`monte_carlo` draws from."""

    @property
    def quantities(self) -> tuple[str, ...]:
        """The names of the quantities it stands for."""

    def draw(self, generator: np.random.Generator, trials: int) -> dict[str, Array]:
        """Return ``trials`` draws of each quantity it stands for."""


def _size(name: str, what: str, size: float) -> None:
    if not (math.isfinite(size) and size >= 0.0):
        raise ValueError(f"{name}: the {what} is {size}; a finite number that is not negative is wanted")


@dataclass(frozen=True, slots=True)
class Normal:
    """A best value with a standard uncertainty of well-known size."""

    name: str
    value: float
    standard_uncertainty: float

    @property
    def quantities(self) -> tuple[str, ...]:
        """The name of the quantity."""
        return (self.name,)

    def draw(self, generator: np.random.Generator, trials: int) -> dict[str, Array]:
        """Return normal draws."""
        _size(self.name, "standard uncertainty", self.standard_uncertainty)
        return {self.name: self.value + self.standard_uncertainty * generator.standard_normal(trials)}


@dataclass(frozen=True, slots=True)
class Rectangular:
    """Limits either side of a value, anything within them as likely."""

    name: str
    value: float
    half_width: float

    @property
    def quantities(self) -> tuple[str, ...]:
        """The name of the quantity."""
        return (self.name,)

    def draw(self, generator: np.random.Generator, trials: int) -> dict[str, Array]:
        """Return uniform draws."""
        _size(self.name, "half width", self.half_width)
        return {self.name: self.value + self.half_width * generator.uniform(-1.0, 1.0, trials)}


@dataclass(frozen=True, slots=True)
class StudentT:
    """The mean of a few readings: ``scale`` is their standard deviation over the root of their number."""

    name: str
    value: float
    scale: float
    dof: float

    @property
    def quantities(self) -> tuple[str, ...]:
        """The name of the quantity."""
        return (self.name,)

    def draw(self, generator: np.random.Generator, trials: int) -> dict[str, Array]:
        """Return draws of the scaled and shifted t distribution."""
        _size(self.name, "scale", self.scale)
        if not self.dof >= 1.0:
            raise ValueError(f"{self.name}: {self.dof} degrees of freedom; at least 1 is needed")
        return {self.name: self.value + self.scale * generator.standard_t(self.dof, trials)}


@dataclass(frozen=True)
class Joint:
    """Several correlated quantities.

    ``correlation`` is their correlation matrix. ``shape`` is ``"normal"``, ``"t"`` (multivariate, ``dof`` shared; the
    uncertainties are its scales) or ``"rectangular"`` (uniform margins of the given standard uncertainties, tied by a normal
    copula so that their correlation is the one stated).
    """

    names: tuple[str, ...]
    values: Array
    standard_uncertainties: Array
    correlation: Array
    shape: str = "normal"
    dof: float = math.inf

    @property
    def quantities(self) -> tuple[str, ...]:
        """The names of the quantities."""
        return self.names

    def draw(self, generator: np.random.Generator, trials: int) -> dict[str, Array]:
        """Return correlated draws."""
        count = len(self.names)
        matrix = np.asarray(self.correlation, dtype=float)
        if matrix.shape != (count, count) or not np.allclose(matrix, matrix.T) or not np.allclose(np.diag(matrix), 1.0):
            raise ValueError(
                f"{', '.join(self.names)}: a symmetric correlation matrix of shape {(count, count)} with ones on "
                "its diagonal is wanted"
            )
        if self.shape == "rectangular":
            # uniform margins of a normal copula with coefficient q have the correlation (6/pi) asin(q/2)
            matrix = 2.0 * np.sin(np.pi * matrix / 6.0)
        elif self.shape not in ("normal", "t"):
            raise ValueError(f"shape {self.shape!r}: accepted are normal, t and rectangular")
        if self.shape == "t" and not self.dof >= 1.0:
            raise ValueError(f"{', '.join(self.names)}: {self.dof} degrees of freedom; at least 1 is needed")
        lowest, vectors = np.linalg.eigh(matrix)
        if float(lowest[0]) < -1e-7 * count:
            raise ValueError(
                f"{', '.join(self.names)}: these correlations contradict one another (smallest eigenvalue "
                f"{float(lowest[0]):.2g})"
            )
        normal = generator.standard_normal((trials, count)) @ (vectors * np.sqrt(np.maximum(lowest, 0.0))).T
        if self.shape == "t" and math.isfinite(self.dof):
            normal *= np.sqrt(self.dof / generator.chisquare(self.dof, trials))[:, None]
        elif self.shape == "rectangular":
            from scipy.special import ndtr

            normal = (2.0 * ndtr(normal) - 1.0) * math.sqrt(3.0)
        table = np.asarray(self.values) + normal * np.asarray(self.standard_uncertainties)
        return {name: table[:, j] for j, name in enumerate(self.names)}


@dataclass(frozen=True)
class MonteCarloResult:
    """The outcome: mean, standard uncertainty, both coverage intervals, and whether the figures stood still.

    ``settled`` is None for a fixed number of trials; ``tolerance`` is then nan.
    """

    mean: float
    standard_uncertainty: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    coverage: float
    trials: int
    seed: int
    settled: bool | None
    tolerance: float
    draws: Array


def symmetric_interval(draws: Array, coverage: float = 0.95) -> tuple[float, float]:
    """Return the probabilistically symmetric coverage interval of sorted or unsorted draws.

    References
    ----------
    JCGM 101:2008, 7.7 (from memory).

    Examples
    --------
    >>> symmetric_interval(np.arange(1000.0), 0.95)
    (25.0, 975.0)
    """
    ordered = np.sort(draws)
    inside, count = _inside(len(ordered), coverage)
    low = (count - inside) // 2 if (count - inside) % 2 == 0 else (count - inside + 1) // 2
    low = min(low, count - inside - 1)
    return float(ordered[low]), float(ordered[low + inside])


def shortest_interval(draws: Array, coverage: float = 0.95) -> tuple[float, float]:
    """Return the shortest coverage interval of the draws.

    Examples
    --------
    >>> shortest_interval(np.concatenate([np.zeros(96), np.arange(4.0) + 1.0]), 0.95)
    (0.0, 0.0)
    """
    ordered = np.sort(draws)
    inside, _ = _inside(len(ordered), coverage)
    widths = ordered[inside:] - ordered[:-inside]
    low = int(np.argmin(widths))
    return float(ordered[low]), float(ordered[low + inside])


def _inside(count: int, coverage: float) -> tuple[int, int]:
    if not 0.0 < coverage < 1.0:
        raise ValueError(f"coverage probability {coverage}: a number between 0 and 1 is wanted, for example 0.95")
    inside = int(coverage * count + 0.5)
    if not 0 < inside < count:
        raise ValueError(f"{count} trials are too few for a coverage of {coverage}")
    return inside, count


def _numerical_tolerance(uncertainty: float, digits: int) -> float:
    """Half a unit of the last of ``digits`` significant digits of the standard uncertainty (JCGM 101:2008, 7.9.2)."""
    exponent = math.floor(math.log10(uncertainty)) - (digits - 1)
    return 0.5 * 10.0**exponent


def monte_carlo(
    function: Callable[[Mapping[str, Array]], Array],
    inputs: Sequence[Distribution],
    *,
    seed: int,
    trials: int = 0,
    coverage: float = 0.95,
    digits: int = 2,
    most_trials: int = 2_000_000,
) -> MonteCarloResult:
    """Propagate distributions through ``function``.

    Parameters
    ----------
    function : callable
        Takes a mapping of name to array of draws, returns the array of results.
    inputs : list of Normal, Rectangular, StudentT, Joint
    seed : int
        Of the random generator (PCG64); the same seed gives the same figures.
    trials : int
        A fixed number of trials; 0 means: in batches of 10 000 until mean, uncertainty and both ends of the symmetric
        interval stand still to ``digits`` significant digits of the uncertainty.
    coverage : float
    digits : int
        Significant digits of the standard uncertainty that must stand still.
    most_trials : int
        Where the adaptive procedure gives up (``settled`` is then False).

    Raises
    ------
    ValueError
        When a trial gives no finite result: how many, and that the inputs reach where the model has no answer.

    References
    ----------
    JCGM 101:2008, clause 7, adaptive procedure 7.9 (from memory).

    Examples
    --------
    >>> result = monte_carlo(lambda v: v["a"] + v["b"], [Normal("a", 1.0, 0.3), Normal("b", 2.0, 0.4)], seed=1, trials=100_000)
    >>> round(result.mean, 2), round(result.standard_uncertainty, 2)
    (3.0, 0.5)
    """
    names = [name for entry in inputs for name in entry.quantities]
    if len(set(names)) != len(names):
        raise ValueError("an input quantity is given twice")
    generator = np.random.default_rng(seed)
    if trials:
        draws = _evaluate(function, inputs, generator, trials)
        return _summary(draws, coverage, seed, None, math.nan)
    batch = max(10_000, math.ceil(100.0 / (1.0 - coverage)))
    batches: list[Array] = []
    figures: list[tuple[float, float, float, float]] = []
    tolerance = math.nan
    while (len(batches) + 1) * batch <= most_trials:
        part = _evaluate(function, inputs, generator, batch)
        batches.append(part)
        figures.append((float(part.mean()), float(part.std(ddof=1)), *symmetric_interval(part, coverage)))
        if len(batches) < 2:
            continue
        everything = np.concatenate(batches)
        spread = float(everything.std(ddof=1))
        if spread == 0.0:
            return _summary(everything, coverage, seed, True, 0.0)
        tolerance = _numerical_tolerance(spread, digits)
        error = np.std(np.array(figures), axis=0, ddof=1) / math.sqrt(len(figures))
        if np.all(2.0 * error < tolerance):
            return _summary(everything, coverage, seed, True, tolerance)
    if not batches:
        raise ValueError(f"{most_trials} trials do not make one batch of {batch}")
    return _summary(np.concatenate(batches), coverage, seed, False, tolerance)


def _evaluate(
    function: Callable[[Mapping[str, Array]], Array],
    inputs: Sequence[Distribution],
    generator: np.random.Generator,
    trials: int,
) -> Array:
    table: dict[str, Array] = {}
    for entry in inputs:
        table.update(entry.draw(generator, trials))
    result = np.broadcast_to(np.asarray(function(table), dtype=float), (trials,))
    lost = int(np.count_nonzero(~np.isfinite(result)))
    if lost:
        raise ValueError(
            f"{lost} of {trials} trials gave no finite result: within their uncertainties the inputs reach where "
            "the model has no answer, so no interval can be stated"
        )
    return np.array(result)


def _summary(draws: Array, coverage: float, seed: int, settled: bool | None, tolerance: float) -> MonteCarloResult:
    if len(draws) < 2:
        raise ValueError(f"{len(draws)} trials: at least 2 are needed, and 10 000 for an interval worth quoting")
    return MonteCarloResult(
        float(draws.mean()),
        float(draws.std(ddof=1)),
        symmetric_interval(draws, coverage),
        shortest_interval(draws, coverage),
        coverage,
        len(draws),
        seed,
        settled,
        tolerance,
        draws,
    )
