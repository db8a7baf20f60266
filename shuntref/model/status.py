"""What became of a point: codes, their words, and the error that a scalar call raises in their place."""

from __future__ import annotations

from enum import IntEnum
from typing import Any

import numpy as np

__all__ = ["WORDS", "InfeasibleError", "Status", "status_text"]


class Status(IntEnum):
    """Outcome of one point. From ``TORQUE_BEYOND_STALL`` on there is no value: arrays hold NaN, a scalar call raises."""

    OK = 0
    FIELD_LOSS = 1
    EXTRAPOLATED = 2
    UNSTABLE_ONLY = 3
    TORQUE_BEYOND_STALL = 10
    TORQUE_BEYOND_REACTION_PEAK = 11
    OUTSIDE_TABLE = 12
    NO_SOLUTION = 13
    SPEED_UNREACHABLE = 14

    @property
    def slug(self) -> str:
        """The name in reports and files: ``torque-beyond-stall``."""
        return self.name.lower().replace("_", "-")

    @property
    def has_values(self) -> bool:
        """Whether the point was computed (possibly with a warning)."""
        return self < Status.TORQUE_BEYOND_STALL


#: what each code means, for reports
WORDS: dict[Status, str] = {
    Status.OK: "a stable running point",
    Status.FIELD_LOSS: "no field current: only the remanent flux is left, and this is the speed it would reach",
    Status.EXTRAPOLATED: "computed beyond the ends of a measured table, along the slope at its end",
    Status.UNSTABLE_ONLY: "the point continuous with no load balances the torques, but the machine cannot stay there",
    Status.TORQUE_BEYOND_STALL: "the torque asked for exceeds what the machine gives at standstill",
    Status.TORQUE_BEYOND_REACTION_PEAK: "the torque asked for exceeds the most that the weakened flux allows",
    Status.OUTSIDE_TABLE: "the point lies beyond the ends of a measured table, and the table refuses extrapolation",
    Status.NO_SOLUTION: "no speed continuous with no load balances the machine and its load",
    Status.SPEED_UNREACHABLE: "no resistance that can be added gives this speed",
}


def status_text(code: Any) -> Any:
    """Return the slug of a code, or an array of slugs for an array of codes.

    Parameters
    ----------
    code : int, Status or array of them

    Returns
    -------
    str or array of str

    Examples
    --------
    >>> status_text(10)
    'torque-beyond-stall'
    """
    if np.ndim(code) == 0:
        return Status(int(code)).slug
    slugs = np.array([Status(i).slug if i in Status._value2member_map_ else "" for i in range(max(Status) + 1)])
    return slugs[np.asarray(code)]


class InfeasibleError(ValueError):
    """A point that the machine cannot reach; the message names the quantity, its value and the limit.

    Attributes
    ----------
    status : Status
    quantity : str
        Name of the registry quantity that cannot be had.
    value, limit : float
        What was asked for, and the nearest that the machine gives, in the registry's unit.
    theorem : str
        Slug of the theorem that forbids it; empty when none is named.
    """

    def __init__(
        self, message: str, *, status: Status, quantity: str, value: float, limit: float, theorem: str = ""
    ) -> None:
        super().__init__(message)
        self.status = status
        self.quantity = quantity
        self.value = value
        self.limit = limit
        self.theorem = theorem

    def __reduce__(self) -> tuple[Any, ...]:
        state = {
            "status": self.status,
            "quantity": self.quantity,
            "value": self.value,
            "limit": self.limit,
            "theorem": self.theorem,
        }
        return (_rebuild, (str(self), state))


def _rebuild(message: str, state: dict[str, Any]) -> InfeasibleError:
    return InfeasibleError(message, **state)
