"""How the suite checks itself: an answer against a case, by the case's own tolerance, in exact decimals and with sign."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from shuntref.conformance.suite import Case, Value

__all__ = ["acceptable_answers", "shares_of_tolerance", "worst_share"]


def _parts(value: Any) -> tuple[Any, ...]:
    return tuple(value) if isinstance(value, (list, tuple)) else (value,)


def shares_of_tolerance(case: Case, expected: Mapping[str, Value], answer: Mapping[str, Any]) -> dict[str, Decimal]:
    """Return, for each quantity, how much of its tolerance the answer uses; above 1 it is wrong.

    A list of another length than expected uses an infinite share.
    """
    shares = {}
    for name, certified in expected.items():
        wanted, found = _parts(certified), _parts(answer[name])
        if len(wanted) != len(found):
            shares[name] = Decimal("inf")
            continue
        worst = Decimal(0)
        for text, value in zip(wanted, found, strict=True):
            exact = Decimal(text)
            if name in case.absolute:
                allowed = Decimal(case.absolute[name])
            else:
                allowed = abs(exact) * Decimal(case.tolerance[name])
            worst = max(worst, abs(Decimal(value) - exact) / allowed)
        shares[name] = worst
    return shares


def acceptable_answers(case: Case) -> list[Mapping[str, Value]]:
    """Return the answers of which one is to be met; an empty one stands for refusing."""
    return [case.expected] if case.result == "valid" else [values for _, values in case.acceptable]


def worst_share(case: Case, answer: Mapping[str, Any] | None) -> Decimal:
    """Return how much of the tolerance an answer uses at worst, by the choice that suits it best; None is a refusal.

    Examples
    --------
    >>> from shuntref.conformance.suite import load_suite
    >>> case = next(c for c in load_suite().cases if c.id == "ideal-no-load-speed-tiny")
    >>> worst_share(case, {"ideal_no_load_speed": 150.0}) == 0, worst_share(case, {"ideal_no_load_speed": -150.0}) > 1
    (True, True)
    >>> worst_share(case, None)
    Decimal('Infinity')
    """
    if case.result == "invalid":
        return Decimal(0) if answer is None else Decimal("inf")
    choices = acceptable_answers(case)
    if answer is None:
        return Decimal(0) if any(not values for values in choices) else Decimal("inf")
    return min(max(shares_of_tolerance(case, values, answer).values()) for values in choices if values)
