"""Whether two results agree: the normalised error and the zeta score, each with what it means."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Agreement", "normalised_error", "zeta_score"]


@dataclass(frozen=True, slots=True)
class Agreement:
    """A score with its verdict: ``agrees`` is the verdict, ``meaning`` says it in words."""

    score: float
    agrees: bool
    meaning: str


def _check(**sizes: float) -> None:
    for name, size in sizes.items():
        if not (math.isfinite(size) and size >= 0.0):
            raise ValueError(f"{name.replace('_', ' ')} is {size}; a finite number that is not negative is wanted")


def normalised_error(
    measured: float,
    predicted: float,
    measured_expanded: float,
    predicted_expanded: float,
    *,
    expanded_covariance: float = 0.0,
) -> Agreement:
    """Return En = (measured - predicted)/sqrt(U_m^2 + U_p^2), with EXPANDED uncertainties of the same coverage.

    Parameters
    ----------
    measured, predicted : float
        In the same unit.
    measured_expanded, predicted_expanded : float
        Expanded uncertainties (about 95 %), in that unit.
    expanded_covariance : float
        k^2 times the covariance of the two, when the same instruments stand behind both; 0 when they are independent.

    References
    ----------
    ISO/IEC 17043 and ISO 13528, En score (formula seen in a secondary source, the standards not seen).

    Examples
    --------
    >>> result = normalised_error(1462.0, 1450.0, 8.0, 6.0)
    >>> result.score, result.agrees
    (1.2, False)
    >>> print(result.meaning)
    En = +1.20: measured and predicted differ by more than their expanded uncertainties explain; look for the cause
    """
    _check(measured_expanded=measured_expanded, predicted_expanded=predicted_expanded)
    square = measured_expanded**2 + predicted_expanded**2 - 2.0 * expanded_covariance
    if not square > 0.0:
        raise ValueError(
            "the normalised error needs an expanded uncertainty above zero for at least one of the results"
        )
    score = (measured - predicted) / math.sqrt(square)
    if not math.isfinite(score):
        raise ValueError(f"measured {measured} and predicted {predicted} must be finite numbers")
    if abs(score) <= 1.0:
        words = "measured and predicted agree within their expanded uncertainties"
    else:
        words = "measured and predicted differ by more than their expanded uncertainties explain; look for the cause"
    return Agreement(score, abs(score) <= 1.0, f"En = {score:+.2f}: {words}")


def zeta_score(measured: float, predicted: float, measured_standard: float, predicted_standard: float) -> Agreement:
    """Return zeta = (measured - predicted)/sqrt(u_m^2 + u_p^2), with STANDARD uncertainties.

    References
    ----------
    ISO 13528, zeta score with its warning level 2 and action level 3 (seen in a secondary source, the standard not seen).

    Examples
    --------
    >>> zeta_score(1456.0, 1450.0, 4.0, 3.0).meaning
    'zeta = +1.20: no sign of disagreement (below 2)'
    """
    _check(measured_standard=measured_standard, predicted_standard=predicted_standard)
    total = math.hypot(measured_standard, predicted_standard)
    if total == 0.0:
        raise ValueError("the zeta score needs a standard uncertainty above zero for at least one of the results")
    score = (measured - predicted) / total
    if not math.isfinite(score):
        raise ValueError(f"measured {measured} and predicted {predicted} must be finite numbers")
    size = abs(score)
    words = (
        "no sign of disagreement (below 2)"
        if size < 2.0
        else "doubtful (2 to 3): look again"
        if size < 3.0
        else "disagreement (3 or more): look for the cause"
    )
    return Agreement(score, size < 2.0, f"zeta = {score:+.2f}: {words}")
