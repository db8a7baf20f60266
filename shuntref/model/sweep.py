"""Sweeps of any size: every combination of settings, worked through chunk by chunk in bounded memory.

A sweep is a small record that can be sent to another process. Its chunks depend on nothing but their number, so that they
may be computed anywhere and in any order; written in order they are the same bytes wherever they were computed.
"""

from __future__ import annotations

import io
import math
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from shuntref.model.load import Load
from shuntref.model.machine import Machine
from shuntref.model.result import wanted_names
from shuntref.model.setting import RULES
from shuntref.model.steady import steady_state
from shuntref.model.validation import as_array, check_array, refuse
from shuntref.quantities.registry import REGISTRY

__all__ = ["Mapper", "Sweep", "in_windows"]

#: something that applies a function to many items and yields the results in order, as the built-in ``map`` does
Mapper = Callable[[Callable[[int], Any], Iterable[int]], Iterable[Any]]

#: points in a chunk: its arrays take some megabytes
CHUNK = 100_000


@dataclass(frozen=True)
class Sweep:
    """Every combination of the values of several settings, and what is wanted of each.

    Parameters
    ----------
    machine : Machine
    settings : mapping
        Name of an input of ``steady_state`` (``supply_voltage``, ``added_field_resistance``, ``load_torque``, ...) and its
        values, a one-dimensional array or a number, in the registry's unit. The last name varies fastest.
    quantities : sequence of str
        What is wanted, by names of the registry.
    load : Load, optional
        What the shaft drives, in place of a setting ``load_torque``.
    chunk : int
        Points in a chunk.

    Raises
    ------
    ValueError
        A setting that is not one, values that cannot be, or nothing wanted.

    Examples
    --------
    >>> from shuntref import Machine, ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> sweep = Sweep(bench, {"supply_voltage": 120.0, "load_torque": [0.0, 6.0]}, ["speed_rpm"])
    >>> [chunk["speed_rpm"].round(1).tolist() for chunk in sweep.chunks()]
    [[1527.9, 1446.4]]
    """

    machine: Machine
    settings: Mapping[str, Any]
    quantities: Sequence[str]
    load: Load | None = None
    chunk: int = CHUNK
    shape: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        axes = {}
        for name, values in self.settings.items():
            if name not in (*RULES, "load_torque"):
                raise ValueError(f"settings has {name!r:.60}; what can be set: {', '.join((*RULES, 'load_torque'))}")
            axis = np.atleast_1d(as_array(name, values)).astype(np.float64)
            if axis.ndim != 1 or not axis.size:
                raise refuse(name, values, "a number or a one-dimensional array with at least one value")
            check_array(name, axis, RULES.get(name, "finite"))
            axes[name] = axis
        if not axes:
            raise ValueError("settings is empty; at least the supply voltage is needed")
        if not isinstance(self.chunk, int) or not 1 <= self.chunk <= 10_000_000:
            raise refuse("chunk", self.chunk, "a whole number from 1 to 10 000 000")
        if not (names := tuple(dict.fromkeys(wanted_names(self.quantities)))):
            raise ValueError("quantities is empty; at least one is needed")
        object.__setattr__(self, "settings", axes)
        object.__setattr__(self, "quantities", names)
        object.__setattr__(self, "shape", tuple(axis.size for axis in axes.values()))

    @property
    def size(self) -> int:
        """Number of points."""
        return math.prod(self.shape)

    @property
    def chunk_count(self) -> int:
        """Number of chunks."""
        return -(-self.size // self.chunk)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns of a chunk: the settings, what is wanted, and the status."""
        wanted = (name for name in self.quantities if name not in self.settings)
        return (*self.settings, *wanted, "status")

    def compute(self, number: int) -> dict[str, Any]:
        """Work out one chunk.

        Parameters
        ----------
        number : int
            From 0.

        Returns
        -------
        dict of arrays
            One for each of ``columns``, in the registry units; NaN where the status says there is no value.

        Raises
        ------
        ValueError
            No chunk of that number.

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> sweep = Sweep(bench, {"supply_voltage": 120.0, "load_torque": [0.0, 6.0]}, ["speed_rpm"])
        >>> sweep.compute(0)["speed_rpm"].round(1).tolist()
        [1527.9, 1446.4]
        """
        if not 0 <= number < self.chunk_count:
            raise refuse("number", number, f"a chunk from 0 to {self.chunk_count - 1}")
        first = number * self.chunk
        points = np.arange(first, min(first + self.chunk, self.size))
        at = {
            name: axis[index]
            for (name, axis), index in zip(self.settings.items(), np.unravel_index(points, self.shape), strict=True)
        }
        given: dict[str, Any] = dict(at)
        state = steady_state(self.machine, load=self.load, quantities=self.quantities, **given)
        found: dict[str, Any] = {name: getattr(state, name) for name in self.quantities}
        return {**{**found, **at}, "status": np.array(state.status, dtype=np.uint8)}

    def chunks(self, mapper: Mapper = map) -> Iterator[dict[str, Any]]:
        """Yield every chunk in order.

        Parameters
        ----------
        mapper : callable
            Applies a function to chunk numbers: the built-in ``map``, the ``map`` of a process pool, or one that hands
            them to a cluster.

        Yields
        ------
        dict of arrays
            As for ``compute``.

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> sweep = Sweep(bench, {"supply_voltage": 120.0, "load_torque": [0.0, 6.0]}, ["speed_rpm"])
        >>> len(list(sweep.chunks()))
        1
        """
        yield from mapper(self.compute, range(self.chunk_count))

    def csv_rows(self, number: int) -> bytes:
        """Return the chunk ``number`` as lines of CSV; an empty cell where there is no value.

        Parameters
        ----------
        number : int
            Of the chunk, from 0.

        Returns
        -------
        bytes

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> sweep = Sweep(bench, {"supply_voltage": 120.0, "load_torque": [0.0, 6.0]}, ["speed_rpm"])
        >>> sweep.csv_rows(0).count(b"\\n")
        2
        """
        chunk = self.compute(number)
        stream = io.StringIO()
        values = [chunk[name].tolist() for name in self.columns]
        for row in zip(*values, strict=True):
            stream.write(",".join("" if cell != cell else repr(cell) for cell in row))
            stream.write("\n")
        return stream.getvalue().encode("ascii")

    def heading(self) -> bytes:
        """Return the heading line of the CSV file; every column says its unit.

        Returns
        -------
        bytes

        Examples
        --------
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> sweep = Sweep(bench, {"supply_voltage": 120.0, "load_torque": [0.0, 6.0]}, ["speed_rpm"])
        >>> "speed_rpm [r/min]" in sweep.heading().decode()
        True
        """
        names = (f"{name} [{REGISTRY[name].unit}]" if name in REGISTRY else name for name in self.columns)
        return (",".join(names) + "\n").encode("ascii")

    def write_csv(self, path: str | os.PathLike[str], mapper: Mapper = map) -> int:
        """Write the sweep as CSV, whole or not at all, and return the number of points.

        The same bytes come out whatever ``mapper`` computes the chunks with.

        Parameters
        ----------
        path : str or path
        mapper : callable
            As for ``chunks``.

        Returns
        -------
        int

        Raises
        ------
        OSError
            The folder does not exist or cannot be written; an existing file is then untouched.

        Examples
        --------
        >>> import tempfile
        >>> from pathlib import Path
        >>> folder = tempfile.TemporaryDirectory()
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> sweep = Sweep(bench, {"supply_voltage": 120.0, "load_torque": [0.0, 6.0]}, ["speed_rpm"])
        >>> sweep.write_csv(Path(folder.name) / "sweep.csv")
        2
        >>> folder.cleanup()
        """

        def write(temporary: Path) -> None:
            with temporary.open("wb") as stream:
                stream.write(self.heading())
                for rows in mapper(self.csv_rows, range(self.chunk_count)):
                    stream.write(rows)

        return self._whole(path, write)

    def write_parquet(self, path: str | os.PathLike[str], mapper: Mapper = map) -> int:
        """Write the sweep as Parquet, a row group for each chunk, whole or not at all; return the number of points.

        Parameters
        ----------
        path : str or path
        mapper : callable
            As for ``chunks``.

        Returns
        -------
        int

        Raises
        ------
        ImportError
            pyarrow is not installed: ``pip install 'shuntref[big]'``.
        OSError
            As for ``write_csv``.

        Examples
        --------
        >>> import pytest
        >>> needed = pytest.importorskip("pyarrow")
        >>> import tempfile
        >>> from pathlib import Path
        >>> folder = tempfile.TemporaryDirectory()
        >>> from shuntref import Machine, ProportionalFlux
        >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
        >>> sweep = Sweep(bench, {"supply_voltage": 120.0, "load_torque": [0.0, 6.0]}, ["speed_rpm"])
        >>> sweep.write_parquet(Path(folder.name) / "sweep.parquet")
        2
        >>> folder.cleanup()
        """
        try:
            import pyarrow
            from pyarrow import parquet
        except ImportError:
            raise ImportError("Parquet needs pyarrow; install it with: pip install 'shuntref[big]'") from None
        units = {name: REGISTRY[name].unit for name in self.columns if name in REGISTRY}
        kinds = [(n, pyarrow.uint8() if n == "status" else pyarrow.float64()) for n in self.columns]
        schema = pyarrow.schema(kinds, metadata={f"unit of {name}": unit for name, unit in units.items()})

        def write(temporary: Path) -> None:
            with parquet.ParquetWriter(temporary, schema) as writer:
                for chunk in self.chunks(mapper):
                    writer.write_table(pyarrow.table({name: chunk[name] for name in self.columns}, schema=schema))

        return self._whole(path, write)

    def _whole(self, path: str | os.PathLike[str], write: Callable[[Path], None]) -> int:
        target = Path(path)
        if not target.parent.is_dir():
            raise FileNotFoundError(2, "the folder does not exist", str(target.parent))
        with tempfile.TemporaryDirectory(prefix=f".{target.name}.", dir=target.parent) as folder:
            temporary = Path(folder) / "part"
            write(temporary)
            temporary.replace(target)
        return self.size


def in_windows(gather: Callable[[Callable[[int], Any], Sequence[int]], Sequence[Any]], width: int) -> Mapper:
    """Return a mapper that hands out ``width`` chunks at a time, so that a cluster never holds more results than that.

    Parameters
    ----------
    gather
        Applies a function to several chunk numbers at once and returns their results in order; for a dask client,
        ``lambda function, numbers: client.gather(client.map(function, numbers))``.
    width
        How many chunks are under way at a time.

    Examples
    --------
    >>> mapper = in_windows(lambda function, numbers: [function(n) for n in numbers], 2)
    >>> list(mapper(lambda n: n * n, range(5)))
    [0, 1, 4, 9, 16]
    """
    return partial(_windows, gather, width)


def _windows(
    gather: Callable[[Callable[[int], Any], Sequence[int]], Sequence[Any]],
    width: int,
    function: Callable[[int], Any],
    numbers: Iterable[int],
) -> Iterator[Any]:
    waiting = list(numbers)
    for start in range(0, len(waiting), width):
        yield from gather(function, waiting[start : start + width])
