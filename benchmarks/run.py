"""Measure every row and print the table: ``python benchmarks/run.py``. It takes some minutes and is never part of a test."""

from __future__ import annotations

import os
import platform
import sys
import time

import array_rows
import numpy as np
import program_rows
from timing import report

import shuntref

GROUPS = (
    array_rows.speed_alone,
    array_rows.whole_state,
    array_rows.search,
    array_rows.failures,
    array_rows.memory,
    program_rows.scalar,
    program_rows.starting,
    program_rows.exercises,
    program_rows.conformance,
)


def main() -> int:
    """Print the rows as they come to standard error, the whole table to standard output; 1 when a target is missed."""
    start = time.perf_counter()
    rows = []
    for group in GROUPS:
        for row in group():
            rows.append(row)
            print(f"{row.what}: {row.figure}, ratio {row.ratio:.2f}, {'met' if row.met else 'MISSED'}", file=sys.stderr)
    print(report(rows))
    met = sum(row.met for row in rows)
    machine = (
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, NumPy {np.__version__}"
    )
    print(
        f"\n{met} of {len(rows)} targets met; shuntref {shuntref.__version__}; {machine}; {time.perf_counter() - start:.0f} s"
    )
    return 0 if met == len(rows) else 1


if __name__ == "__main__":
    sys.exit(main())
