"""The speed alone, for very many points: the speed equation in blocks that stay in the cache, on one thread or more."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from shuntref.model.circuit_formulas import armature_circuit_resistance, field_circuit_resistance
from shuntref.model.marks import Marks
from shuntref.model.speed_formulas import speed_shunt_proportional
from shuntref.model.status import Status
from shuntref.model.tape import Recorder, Tape
from shuntref.model.validation import as_array, check_array, every_keeps

__all__ = ["BulkSpeed", "shunt_speed"]

Array = np.ndarray[Any, Any]

#: points in a block: enough that what Python adds to each array operation is little beside the operation itself, and few
#: enough that the inputs and intermediate results of a block stay in the last cache before the memory
_BLOCK = 65536
_RULES = {
    "supply_voltage": "positive",
    "flux_constant": "positive",
    "field_resistance": "positive",
    "added_field_resistance": "not negative",
    "armature_resistance": "not negative",
    "added_armature_resistance": "not negative",
    "electromagnetic_torque": "finite",
}


class BulkSpeed(NamedTuple):
    """Speeds [rad/s], NaN beyond stall, and the status of each point (a read-only zero for all when all are well)."""

    speed: Array
    status: Array


def shunt_speed(
    supply_voltage: Any,
    flux_constant: Any,
    field_resistance: Any,
    added_field_resistance: Any,
    armature_resistance: Any,
    added_armature_resistance: Any,
    electromagnetic_torque: Any,
    *,
    out: Array | None = None,
    workers: int = 1,
) -> BulkSpeed:
    """Speed of shunt motors with proportional flux and a given torque, for arrays of any size.

    Parameters
    ----------
    supply_voltage : float or array
        [V] All of these broadcast. No brush drop, no line resistance.
    flux_constant : float or array
        [V s/(rad A)]
    field_resistance, added_field_resistance, armature_resistance, added_armature_resistance : float or array
        [ohm]
    electromagnetic_torque : float or array
        [N m]
    out : array, optional
        Where to put the speeds: of the broadcast shape, C-contiguous, of the result's precision, sharing no memory with an
        input. After an error its contents are undefined.
    workers : int
        Threads that share the blocks.

    Returns
    -------
    BulkSpeed
        ``speed`` (float32 when every array given is float32) and ``status``: ``torque-beyond-stall`` where the speed is NaN.

    Raises
    ------
    ValueError
        An input that cannot be, with its first offending index.

    Notes
    -----
    omega = (U - T R g) g with g = R_ft/(c U). Every input is validated, block by block while it is at hand.

    Examples
    --------
    >>> import numpy as np
    >>> shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, np.array([3.0, 6.0, 200.0])).speed
    array([155.73333333, 151.46666667,          nan])
    """
    given = (supply_voltage, flux_constant, field_resistance, added_field_resistance, armature_resistance,
             added_armature_resistance, electromagnetic_torque)  # fmt: skip
    if not isinstance(workers, int) or isinstance(workers, bool) or workers < 1:
        raise ValueError(f"workers is {workers!r:.60}; a whole number from 1 is needed")
    arrays = [as_array(name, value) for name, value in zip(_RULES, given, strict=True)]
    sized = [array for array, value in zip(arrays, given, strict=True) if not isinstance(value, (int, float))]
    shape = np.broadcast_shapes(*(array.shape for array in arrays))
    dtype = np.result_type(*(array.dtype for array in sized)) if sized else np.dtype(np.float64)
    if out is None:
        out = np.empty(shape, dtype)
    elif out.shape != shape or out.dtype != dtype or not out.flags.c_contiguous:
        raise ValueError(f"out is {out.dtype} {out.shape}; a C-contiguous {dtype} array of shape {shape} is needed")
    elif any(np.may_share_memory(out, array) for array in arrays):
        raise ValueError("out shares memory with an input; an array of its own is needed")
    flat = out.ravel()
    for name, array in zip(_RULES, arrays, strict=True):
        if array.size == 1:
            check_array(name, array.astype(dtype), _RULES[name])
    pieces = [_pieces(array, shape, dtype) for array in arrays]
    long = [(i, name) for i, name in enumerate(_RULES) if arrays[i].size != 1]
    marks = Marks(flat.size)

    def work(starts: range) -> None:
        buffers = _TAPE.buffers(min(_BLOCK, flat.size), dtype)
        with np.errstate(all="ignore"):
            for start in starts:
                stop = min(start + _BLOCK, flat.size)
                inputs = [piece(start, stop) for piece in pieces]
                _TAPE.run(inputs, [buffer[: stop - start] for buffer in buffers], [flat[start:stop]])
                for i, name in long:
                    check_array(name, inputs[i], _RULES[name], offset=start, shape=shape)
                if not every_keeps(flat[start:stop], "not negative"):
                    marks.put_one("status", _put_right(inputs, flat[start:stop]), slice(start, stop))

    starts = range(0, flat.size, _BLOCK)
    if workers == 1:
        work(starts)
    else:
        with ThreadPoolExecutor(workers) as threads:
            list(threads.map(work, _shares(starts, workers)))
    return BulkSpeed(out, marks.array("status", shape))


def _shares(starts: range, workers: int) -> list[range]:
    """Consecutive runs of blocks, a few for each worker so that a slow one does not hold up the end."""
    parts = min(len(starts), 4 * workers)
    cuts = [len(starts) * i // parts for i in range(parts + 1)] if parts else [0]
    return [starts[a:b] for a, b in pairwise(cuts)]


def _pieces(array: Array, shape: tuple[int, ...], dtype: Any) -> Callable[[int, int], Any]:
    """How to get a block of an input: one value, a view, or a copy of the block alone."""
    if array.size == 1:
        one = array.ravel().astype(dtype)
        return lambda start, stop: one
    if array.shape == shape and array.flags.c_contiguous:
        flat = array.ravel()
        return lambda start, stop: flat[start:stop]
    spread = np.broadcast_to(array, shape)
    return lambda start, stop: spread.flat[start:stop]


def _speed(voltage: Any, constant: Any, field: Any, added_field: Any, armature: Any, added: Any, torque: Any) -> Any:
    """The speed equation in the order of the inputs."""
    return speed_shunt_proportional(
        voltage,
        constant,
        field_circuit_resistance(field, added_field),
        torque,
        armature_circuit_resistance(armature, added),
    )


_recorder = Recorder(len(_RULES))
_TAPE = Tape(_recorder, [_speed(*(_recorder.input(i) for i in range(len(_RULES))))])


def _put_right(inputs: list[Any], out: Array) -> Array:
    """Standstill where a speed is negative by rounding only, NaN where it is more than that; returns the status."""
    voltage, constant, field, added_field, armature, added_armature, torque = inputs
    limit = voltage * voltage * constant / (field + added_field)
    negative = out < 0.0
    edge = negative & (torque * (armature + added_armature) <= limit * (1.0 + 8.0 * np.finfo(out.dtype).eps))
    out[edge] = 0.0
    beyond = negative & ~edge
    out[beyond] = np.nan
    status: Array = np.where(beyond, Status.TORQUE_BEYOND_STALL, Status.OK).astype(np.uint8)
    return status
