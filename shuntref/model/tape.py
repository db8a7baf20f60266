"""Formulas traced once into a list of array operations, to be run on block after block without asking for memory.

A formula evaluated on plain arrays asks for memory at every step, and fresh pages cost more than the arithmetic. Traced,
the same formula runs in a few buffers that stay in the cache, and what is wanted is written straight to its place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

__all__ = ["Recorder", "Tape", "Traced"]

Array = np.ndarray[Any, Any]


class Traced:
    """Stands for an array while formulas are traced: what is done to it is written down, not done."""

    __slots__ = ("number", "recorder")

    def __init__(self, number: int, recorder: Recorder) -> None:
        self.number, self.recorder = number, recorder

    def __array_ufunc__(self, ufunc: Any, method: str, *operands: Any, **options: Any) -> Any:
        if method != "__call__" or options or ufunc.nout != 1:
            return NotImplemented
        return self.recorder.step(ufunc, operands)

    def __add__(self, other: Any) -> Traced:
        return self if type(other) is float and other == 0.0 else self.recorder.step(np.add, (self, other))

    def __sub__(self, other: Any) -> Traced:
        return self if type(other) is float and other == 0.0 else self.recorder.step(np.subtract, (self, other))

    def __rsub__(self, other: Any) -> Traced:
        return self.recorder.step(np.subtract, (other, self))

    def __mul__(self, other: Any) -> Traced:
        return self.recorder.step(np.multiply, (self, other))

    def __truediv__(self, other: Any) -> Traced:
        return self.recorder.step(np.divide, (self, other))

    def __rtruediv__(self, other: Any) -> Traced:
        return self.recorder.step(np.divide, (other, self))

    def __neg__(self) -> Traced:
        return self.recorder.step(np.negative, (self,))

    __radd__, __rmul__ = __add__, __mul__


class Recorder:
    """Collects the operations of one or more formulas on the same inputs.

    Numbers below ``inputs`` are the inputs; each operation gives its result the next number.
    """

    def __init__(self, inputs: int) -> None:
        self.inputs = inputs
        self.steps: list[tuple[Callable[..., Any], tuple[Any, ...]]] = []
        self.amended: set[int] = set()

    def input(self, number: int) -> Traced:
        """One of the inputs."""
        return Traced(number, self)

    def step(self, operation: Callable[..., Any], operands: Sequence[Any]) -> Traced:
        """Write down an operation: called with its operands and, last, the array that takes the result."""
        self.steps.append((operation, tuple(operands)))
        return Traced(self.inputs + len(self.steps) - 1, self)

    def amend(self, result: Traced, correction: Callable[..., None]) -> None:
        """Have a function called after a step, with its operands and its result, to put the result right in place."""
        operation, operands = self.steps[result.number - self.inputs]

        def both(*arrays: Any) -> None:
            operation(*arrays)
            correction(*arrays)

        self.steps[result.number - self.inputs] = (both, operands)
        self.amended.add(result.number)


class Tape:
    """Recorded operations with every result given a place: a buffer, handed on after its last use, or an output.

    Parameters
    ----------
    recorder : Recorder
    wanted : sequence of Traced or float
        What goes to the outputs, in their order; a float fills its output.

    Examples
    --------
    >>> recorder = Recorder(2)
    >>> x, y = recorder.input(0), recorder.input(1)
    >>> tape = Tape(recorder, [(x + y) * x])
    >>> result = np.empty(2)
    >>> tape.run([np.array([1.0, 2.0]), np.array([3.0, 4.0])], tape.buffers(2, np.float64), [result])
    >>> result
    array([ 4., 12.])
    """

    def __init__(self, recorder: Recorder, wanted: Sequence[Any]) -> None:
        self._inputs, self._amended = recorder.inputs, recorder.amended
        steps = list(recorder.steps)
        outputs: dict[int, int] = {}  # number of a result -> the output it is written to
        copies: list[tuple[int, Any]] = []
        for position, value in enumerate(wanted):
            if isinstance(value, Traced) and value.number >= self._inputs and value.number not in outputs:
                outputs[value.number] = position
            else:
                copies.append((position, value))
        needed = self._needed(steps, wanted)
        self.constants: list[float] = []
        self.count, self.steps = self._place(steps, needed, outputs, copies, len(wanted))

    def _needed(self, steps: list[Any], wanted: Sequence[Any]) -> set[int]:
        """Numbers of the results that something wanted depends on."""
        needed = {value.number for value in wanted if isinstance(value, Traced)}
        for at in reversed(range(len(steps))):
            if self._inputs + at in needed:
                needed.update(operand.number for operand in steps[at][1] if isinstance(operand, Traced))
        return needed

    def _place(
        self, steps: list[Any], needed: set[int], outputs: dict[int, int], copies: list[tuple[int, Any]], width: int
    ) -> tuple[int, list[tuple[Callable[..., Any], tuple[int, ...]]]]:
        """Give results their places. Negative places count from the end: outputs first, then constants."""
        last_use: dict[int, int] = {}
        for at, (_, operands) in enumerate(steps):
            if self._inputs + at in needed:
                last_use.update({operand.number: at for operand in operands if isinstance(operand, Traced)})
        last_use.update({value.number: len(steps) for _, value in copies if isinstance(value, Traced)})
        place = {number: number for number in range(self._inputs)}
        free: list[int] = []
        count = 0
        placed: list[tuple[Callable[..., Any], list[Any]]] = []
        for at, (operation, operands) in enumerate(steps):
            number = self._inputs + at
            if number not in needed:
                continue
            read = [("at", place[o.number]) if isinstance(o, Traced) else ("constant", o) for o in operands]
            spent = [
                place[other]
                for other in sorted({o.number for o in operands if isinstance(o, Traced)})
                if other >= self._inputs and other not in outputs and last_use[other] == at
            ]
            if number not in self._amended:  # a plain operation may write over its own operand
                free.extend(spent)
            if number in outputs:
                place[number] = -1 - outputs[number]
            else:
                if not free:
                    free.append(self._inputs + count)
                    count += 1
                place[number] = free.pop()
            if number in self._amended:
                free.extend(spent)
            placed.append((operation, [*read, ("at", place[number])]))
        for position, value in copies:
            source = ("at", place[value.number]) if isinstance(value, Traced) else ("constant", value)
            placed.append((np.positive, [source, ("at", -1 - position)]))
        return count, [(operation, self._final(parts, count, width)) for operation, parts in placed]

    def _final(self, parts: list[Any], count: int, width: int) -> tuple[int, ...]:
        """Positions in the list of a run: inputs, buffers, outputs, constants."""
        positions = []
        for kind, value in parts:
            if kind == "constant":
                self.constants.append(value)
                positions.append(self._inputs + count + width + len(self.constants) - 1)
            else:
                positions.append(value if value >= 0 else self._inputs + count - 1 - value)
        return tuple(positions)

    def buffers(self, length: int, dtype: Any) -> list[Array]:
        """Buffers for blocks of ``length`` points; each thread needs its own."""
        return [np.empty(length, dtype) for _ in range(self.count)]

    def run(self, inputs: Sequence[Any], buffers: Sequence[Array], outputs: Sequence[Array]) -> None:
        """Work a block out; the buffers are as long as the outputs."""
        places = [*inputs, *buffers, *outputs, *self.constants]
        for operation, positions in self.steps:
            operation(*[places[position] for position in positions])
