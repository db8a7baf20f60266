"""The steady state of a machine: one function for any mix of floats and arrays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from shuntref.model.block_solver import Solved, solve_block
from shuntref.model.fast_blocks import LENGTH, FastBlocks
from shuntref.model.infeasible import infeasible
from shuntref.model.load import Load
from shuntref.model.machine import Machine
from shuntref.model.marks import Marks
from shuntref.model.other_solutions import other_solutions
from shuntref.model.result import SteadyState, wanted_names
from shuntref.model.scalar_point import scalar_point
from shuntref.model.setting import BLOCK, Setting, gather
from shuntref.model.status import Status

__all__ = ["steady_state"]

Array = np.ndarray[Any, Any]
_ALWAYS_THERE = ("armature_current", "speed_rpm")  # what a single point is printed with


def steady_state(
    machine: Machine,
    *,
    supply_voltage: Any = None,
    load: Load | None = None,
    load_torque: Any = None,
    added_field_resistance: Any = 0.0,
    added_armature_resistance: Any = 0.0,
    field_voltage: Any = None,
    source_voltage: Any = None,
    line_resistance: Any = None,
    field_resistance: Any = None,
    armature_resistance: Any = None,
    brush_drop: Any = None,
    quantities: Iterable[str] | None = None,
    all_solutions: bool = False,
    workers: int = 1,
    out: Mapping[str, Any] | None = None,
) -> SteadyState:
    """Find the speed at which a machine and its load balance, and every other quantity there.

    Parameters
    ----------
    machine : Machine
    supply_voltage : float or array
        [V] across the two parallel circuits (on the armature circuit, when separately excited).
    load : Load, optional
        What the shaft drives: ConstantTorque, ProportionalTorque, SquareTorque, ConstantPower, UserLoad or a sum of them.
    load_torque : float or array, optional
        [N m] In place of ``load``, a torque that does not depend on the speed; negative drives the machine. With neither
        the shaft is free, and only the machine's own loss torque brakes it.
    added_field_resistance, added_armature_resistance : float or array
        [ohm]
    field_voltage : float or array
        [V] For a separately excited machine, and only for it.
    source_voltage : float or array
        [V] In place of ``supply_voltage``, the voltage ahead of the line resistance.
    line_resistance, field_resistance, armature_resistance, brush_drop : float or array, optional
        In place of the machine's own, for sweeps [ohm, ohm, ohm, V].
    quantities : names, optional
        What is wanted; nothing else is computed for arrays. All by default.
    all_solutions : bool
        Also find every other balance, in ``other_solutions``; point by point, for a study rather than a sweep.
    workers : int
        Threads that share the blocks of a large call.
    out : mapping of arrays, optional
        Where to put the quantities it names, for calls that are made again and again: C-contiguous arrays of the broadcast
        shape and of the result's precision, sharing no memory with an input. After an error their contents are undefined.

    Returns
    -------
    SteadyState
        Floats for floats. For arrays, arrays of the broadcast shape, float32 when every array given is float32.

    Raises
    ------
    ValueError
        An input that cannot be, with its first offending index; or one too many, or one missing.
    InfeasibleError
        A ``ValueError``, for a single point: there is no solution. Arrays hold NaN there, and a status that says why.

    Notes
    -----
    The solution is the one continuous with no load: the first met as the load grows from nothing to all of it. Its
    stability is reported; where it is not stable the status is ``unstable-only`` and the values are those of the balance.
    The shaft turns forwards or stands still: a torque that could only be balanced by turning backwards is beyond stall,
    for a load that drives as well as for one that brakes. The loss torque opposes forward motion. Without torque, no
    armature current flows and the speed is U/kPhi.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux, steady_state
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> steady_state(bench, supply_voltage=120.0, load_torque=[3.0, 6.0, 200.0], quantities=["speed"]).speed
    array([155.73333333, 151.46666667,          nan])
    """
    given = {
        "supply_voltage": supply_voltage,
        "source_voltage": source_voltage,
        "field_voltage": field_voltage,
        "added_field_resistance": added_field_resistance,
        "added_armature_resistance": added_armature_resistance,
        "line_resistance": line_resistance,
        "field_resistance": field_resistance,
        "armature_resistance": armature_resistance,
        "brush_drop": brush_drop,
    }
    names = wanted_names(quantities if quantities is not None or out is None else tuple(out))
    if not all_solutions and out is None:
        point = scalar_point(machine, given, load, load_torque, names)
        if point is not None:
            return point
    setting = gather(machine, given, load, load_torque)
    if setting.shape == () and out is None:
        return _one_point(setting, names, all_solutions)
    state = _many_points(setting, names, workers, _places(setting, names, out))
    if all_solutions:
        state.other_solutions = other_solutions(setting, names)
    return state


def _one_point(setting: Setting, names: tuple[str, ...], all_solutions: bool) -> SteadyState:
    """A single point that no closed form of the scalar path covers."""
    solved = solve_block(setting, setting.block(0, 1), 1, slice(0, 1))
    status = Status(int(solved.status[0])) if solved.status is not None else Status.OK
    if not status.has_values:
        raise infeasible(setting, status, solved)
    values = {name: _single(solved.quantity(name)) for name in dict.fromkeys((*names, *_ALWAYS_THERE))}
    state = SteadyState(
        values,
        None,
        names,
        status=status,
        stable=bool(np.all(solved.stable)),
        field_loss=bool(np.any(solved.field_loss)),
        extrapolated=bool(np.any(solved.extrapolated)),
    )
    if all_solutions:
        state.other_solutions = other_solutions(setting, names)
    return state


def _single(value: Any) -> float:
    return float(np.asarray(value).item())


def _places(setting: Setting, names: tuple[str, ...], given: Mapping[str, Any] | None) -> dict[str, Any]:
    """A flat array for each quantity: the caller's where there is one."""
    out = {}
    for name in names:
        array = None if given is None else given.get(name)
        if array is None:
            out[name] = np.empty(setting.size, setting.dtype)
            continue
        fits = isinstance(array, np.ndarray) and array.shape == setting.shape and array.dtype == setting.dtype
        if not fits or not array.flags.c_contiguous or not array.flags.writeable:
            raise ValueError(
                f"out[{name!r}] does not fit; a writeable C-contiguous {setting.dtype} array of shape {setting.shape} is needed"
            )
        others = [array for array, _ in setting.varying.values()] + [a for n, a in (given or {}).items() if n != name]
        if any(np.may_share_memory(array, other) for other in others):
            raise ValueError(
                f"out[{name!r}] shares memory with an input or another output; an array of its own is needed"
            )
        out[name] = array.reshape(-1)
    return out


def _many_points(setting: Setting, names: tuple[str, ...], workers: int, out: dict[str, Any]) -> SteadyState:
    """Blocks of points, each solved and written to its place in the results."""
    if not isinstance(workers, int) or isinstance(workers, bool) or workers < 1:
        raise ValueError(f"workers is {workers!r:.60}; a whole number from 1 is needed")
    marks = Marks(setting.size)
    fast = FastBlocks(setting, out) if FastBlocks.possible(setting) else None
    length = BLOCK if fast is None else LENGTH

    def general(places: slice | Array, values: dict[str, Any], size: int) -> None:
        solved = solve_block(setting, values, size, places)
        _write(solved, setting, out, places)
        marks.put(solved, places)

    def work(share: tuple[int, int]) -> None:
        scratch = [] if fast is None else fast.buffers()
        with np.errstate(all="ignore"):  # what is not a number here is put into words by the status
            for start in range(*share, length):
                stop = min(start + length, share[1])
                if fast is None:
                    general(slice(start, stop), setting.block(start, stop), stop - start)
                    continue
                odd = fast.work(start, stop, scratch)
                for first in range(0, odd.size, BLOCK):
                    some = odd[first : first + BLOCK]
                    general(some, setting.points(some), some.size)

    if workers == 1:
        work((0, setting.size))
    else:
        run = length * max(1, setting.size // (4 * workers * length))  # a few runs of blocks for each thread
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(work, setting.blocks(run)))
    shape = setting.shape
    return SteadyState(
        {name: array.reshape(shape) for name, array in out.items()},
        None,
        names,
        shape=shape,
        status=marks.array("status", shape),
        stable=marks.array("stable", shape),
        field_loss=marks.array("field_loss", shape),
        extrapolated=marks.array("extrapolated", shape),
    )


def _write(solved: Solved, setting: Setting, out: dict[str, Any], places: slice | Array) -> None:
    """Put the quantities of solved points into their arrays, NaN where there is no value."""
    lost = None
    if solved.status is not None:
        lost = solved.status >= Status.TORQUE_BEYOND_STALL
        lost = lost if lost.any() else None
    for name, array in out.items():
        value = solved.quantity(name)
        array[places] = value if lost is None or _given(name, setting) else np.where(lost, np.nan, value)


def _given(name: str, setting: Setting) -> bool:
    if name in setting.fixed or name in setting.varying:
        return True
    given = {"armature_circuit_resistance", "field_circuit_resistance"}
    if setting.machine.connection == "shunt" and not setting.behind_line:
        given |= {"field_voltage", "supply_voltage"}
    return name in given
