"""Does the stated uncertainty hold? A bench is invented, read with errors, identified, and compared with the truth, many times.

Each repetition draws a new set of instruments (gain and zero anywhere within their limits, the same for all readings of that
repetition) and new scatter and rounding for every reading. What is counted is how often the truth lies within the stated 95 %
uncertainty: both kinds of error are in the test, and both must be in the statement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shuntref.bench.invented_bench import BENCHES, METERS, InventedBench, simulated_log

__all__ = ["CoverageResult", "coverage_experiment"]


@dataclass(frozen=True)
class CoverageResult:
    """How often the truth lay within the stated uncertainty: ``rates`` by parameter, of ``repetitions`` in all."""

    bench: str
    repetitions: int
    coverage: float
    rates: dict[str, float]
    failures: int

    def text(self) -> str:
        """Return the rates, one line for each parameter."""
        lines = [
            f"invented bench '{self.bench}': {self.repetitions} repetitions, stated coverage {100 * self.coverage:g} %, "
            f"{self.failures} without a result"
        ]
        return "\n".join([*lines, *(f"  {name}: {100 * rate:.1f} %" for name, rate in self.rates.items())])


def coverage_experiment(
    repetitions: int,
    seed: int,
    *,
    bench: InventedBench | str = "separate tests",
    coverage: float = 0.95,
) -> CoverageResult:
    """Repeat the whole identification and count how often each parameter is covered.

    Parameters
    ----------
    repetitions, seed : int
        The counted number, and what the random numbers start from.
    bench : InventedBench or name
        One of :data:`shuntref.bench.invented_bench.BENCHES`.
    coverage : float
        Of the stated uncertainties.

    Returns
    -------
    CoverageResult
        A repetition in which a stage gave nothing counts as one in which the truth was not covered.

    Examples
    --------
    >>> result = coverage_experiment(5, 1, bench="speeds alone")
    >>> result.repetitions, list(result.rates)
    (5, ['effective_field_resistance'])
    """
    if repetitions < 1:
        raise ValueError(f"{repetitions} repetitions: at least 1 is needed, and 1000 for a rate worth quoting")
    chosen = BENCHES[bench] if isinstance(bench, str) else bench
    generator = np.random.default_rng(seed)
    hits: dict[str, int] = {}
    failures = 0
    for _ in range(repetitions):
        found = chosen.identified(simulated_log(generator, chosen.runs, METERS), generator)
        failures += bool(found.missing)
        for name in found.parameters.names:
            inside = abs(found.value(name) - chosen.truth[name]) <= found.expanded_uncertainty(name, coverage)
            hits[name] = hits.get(name, 0) + inside
    rates = {name: count / repetitions for name, count in hits.items()}
    return CoverageResult(chosen.name, repetitions, coverage, rates, failures)
