"""A formula traced once into a list of array operations, to be run on block after block without asking for memory.

A formula evaluated on plain arrays asks for memory at every step, and fresh pages cost more than the arithmetic. Traced,
the same formula runs in a few buffers that stay in the cache, and its last operation writes straight into the result.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

__all__ = ["Tape"]

Array = np.ndarray[Any, Any]
_Step = tuple[Callable[..., Any], int, int, int]


class _Traced:
    """Stands for an input or an intermediate result while the formula is traced."""

    __slots__ = ("inputs", "number", "steps")

    def __init__(self, number: int, inputs: int, steps: list[_Step]) -> None:
        self.number, self.inputs, self.steps = number, inputs, steps

    def _step(self, operation: Callable[..., Any], other: _Traced) -> _Traced:
        result = self.inputs + len(self.steps)
        self.steps.append((operation, self.number, other.number, result))
        return _Traced(result, self.inputs, self.steps)

    def __add__(self, other: _Traced) -> _Traced:
        return self._step(np.add, other)

    def __sub__(self, other: _Traced) -> _Traced:
        return self._step(np.subtract, other)

    def __mul__(self, other: _Traced) -> _Traced:
        return self._step(np.multiply, other)

    def __truediv__(self, other: _Traced) -> _Traced:
        return self._step(np.divide, other)


class Tape:
    """The operations of a formula of ``inputs`` arguments made of sums, differences, products and quotients.

    Examples
    --------
    >>> tape = Tape(lambda x, y: (x + y) * x, 2)
    >>> result = np.empty(2)
    >>> tape.run([np.array([1.0, 2.0]), np.array([3.0, 4.0])], tape.buffers(2, np.float64), result)
    >>> result
    array([ 4., 12.])
    """

    def __init__(self, formula: Callable[..., Any], inputs: int) -> None:
        steps: list[_Step] = []
        result = formula(*(_Traced(number, inputs, steps) for number in range(inputs)))
        self.steps, self.count = _in_buffers(steps, inputs, result.number)

    def buffers(self, length: int, dtype: Any) -> list[Array]:
        """Buffers for blocks of up to ``length`` points; each thread needs its own."""
        return [np.empty(length, dtype) for _ in range(self.count)]

    def run(self, inputs: list[Any], buffers: list[Array], out: Array) -> None:
        """Work a block out; the buffers are as long as ``out``."""
        places = [*inputs, *buffers, out]
        for operation, first, second, result in self.steps:
            operation(places[first], places[second], places[result])


def _in_buffers(steps: list[_Step], inputs: int, result: int) -> tuple[list[_Step], int]:
    """Give each intermediate result a buffer, handing it on after its last use; the result of all goes last."""
    last_use = {number: at for at, step in enumerate(steps) for number in step[1:3]}
    place: dict[int, int] = {number: number for number in range(inputs)}
    free: list[int] = []
    count = 0
    placed = []
    for at, (operation, first, second, number) in enumerate(steps):
        for operand in sorted({first, second}):
            if operand >= inputs and last_use[operand] == at:
                free.append(place[operand])  # an operation may write over its own operand
        target = -1
        if number != result:
            if not free:
                free.append(inputs + count)
                count += 1
            target = place[number] = free.pop()
        placed.append((operation, place[first], place[second], target))
    return placed, count
