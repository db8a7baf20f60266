"""Status and flags of many points, kept in memory only from the first point that differs from all being well."""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

if TYPE_CHECKING:
    from shuntref.model.block_solver import Solved

__all__ = ["Marks"]


class Marks:
    """Status and flags of all points; an array is made when the first point differs from all being well.

    Several threads may put marks at different points.
    """

    _PLAIN: ClassVar[dict[str, Any]] = {
        "status": np.uint8(0),
        "stable": np.True_,
        "field_loss": np.False_,
        "extrapolated": np.False_,
    }

    def __init__(self, size: int) -> None:
        self._size = size
        self._arrays: dict[str, Any] = {}
        self._lock = Lock()

    def put(self, solved: Solved, places: Any) -> None:
        """Take over the marks of solved points; ``places`` is a slice, or their positions."""
        if solved.status is not None:
            for name in self._PLAIN:
                self.put_one(name, getattr(solved, name), places)

    def put_one(self, name: str, value: Any, places: Any) -> None:
        """Take over one kind of mark."""
        plain = self._PLAIN[name]
        if name not in self._arrays:
            if np.all(np.equal(value, plain)):
                return
            with self._lock:
                if name not in self._arrays:
                    self._arrays[name] = np.full(self._size, plain)
        self._arrays[name][places] = value

    def array(self, name: str, shape: tuple[int, ...]) -> Any:
        """The marks of all points; a read-only view of one value where they are all the same."""
        if name in self._arrays:
            return self._arrays[name].reshape(shape)
        return np.broadcast_to(self._PLAIN[name], shape)
