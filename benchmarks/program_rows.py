"""Rows for the program: a scalar call, imports, the command line, exercises, marking, the conformance suite."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from timing import Row, medians

from shuntref import Machine, ProportionalFlux, steady_state
from shuntref.exercises.library import reference_exercise, reference_exercise_names
from shuntref.exercises.marking import mark_sheet
from shuntref.exercises.solver import solve
from shuntref.exercises.verdict import answer_key
from shuntref.model.formulas import speed_from_torque

MACHINES = Path(__file__).parents[1] / "references" / "machines"


def scalar() -> Iterator[Row]:
    """One point with full validation, against ten microseconds; the bare formula beside it."""
    bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    many = range(20_000)

    def whole() -> None:
        for _ in many:
            steady_state(bench, supply_voltage=120.0, load_torque=6.0)

    def bare() -> None:
        for _ in many:
            speed_from_torque(120.0, 0.75, 6.0, 0.8)

    found = medians({"whole": whole, "bare": bare})
    call, formula = (found[name] / len(many) * 1e6 for name in ("whole", "bare"))
    yield Row("scalar call, full validation", f"{call:.2f} us (bare formula {formula:.2f} us)", "10 us", call / 10,
              "at most 1", call <= 10)  # fmt: skip


def _import_ms() -> float:
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", "import shuntref"], capture_output=True, text=True, check=True
    )
    line = next(line for line in run.stderr.splitlines() if line.endswith("| shuntref"))
    return int(line.split("|")[1]) / 1000.0


def starting() -> Iterator[Row]:
    """The import over the bare interpreter, and the first prediction on the command line."""
    ms = statistics.median(_import_ms() for _ in range(9))
    yield Row("import shuntref", f"{ms:.2f} ms", "5 ms", ms / 5, "at most 1", ms <= 5)
    call = [
        sys.executable,
        "-m",
        "shuntref",
        "predict",
        str(MACHINES / "laboratory.toml"),
        "--set",
        "load_torque=1.5 N m",
    ]
    seconds = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run(call, capture_output=True, check=True)
        seconds.append(time.perf_counter() - start)
    median = statistics.median(seconds)
    yield Row("shuntref predict, whole command", f"{median:.2f} s", "1 s", median, "at most 1", median <= 1)


def exercises() -> Iterator[Row]:
    """Every published exercise solved warm, and ten thousand different answers marked."""
    sheets = [reference_exercise(name) for name in reference_exercise_names()]
    for exercise in sheets:
        solve(exercise)
    times = []
    for exercise in sheets:
        start = time.perf_counter()
        solve(exercise)
        times.append(time.perf_counter() - start)
    ms = statistics.median(times) * 1000
    yield Row("an exercise solved, warm", f"median {ms:.1f} ms, slowest {max(times) * 1000:.1f} ms", "50 ms", ms / 50,
              "at most 1", ms <= 50)  # fmt: skip
    exercise = reference_exercise("theraja-same-torque-field-rheostat")
    (name,) = exercise.answers
    right = answer_key(exercise, name).right
    sheet = f"student,{name} [ohm]\n" + "".join(f"s{i},{right * (0.5 + i / 10000):.4f}\n" for i in range(10_000))
    seconds = medians({"mark": lambda: mark_sheet(exercise, sheet)}, 3)["mark"]
    yield Row("10 000 different answers marked", f"{seconds:.2f} s", "10 s", seconds / 10, "at most 1", seconds <= 10)


def conformance() -> Iterator[Row]:
    """The whole suite on a Python implementation, child process and all."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "motor.py"
        export = [sys.executable, "-m", "shuntref", "export", "--language", "python", "--out", str(target)]
        subprocess.run(export, capture_output=True, check=True)
        call = [sys.executable, "-m", "shuntref", "conform", str(target), "--complete"]
        seconds = []
        for _ in range(3):
            start = time.perf_counter()
            subprocess.run(call, capture_output=True, check=True)
            seconds.append(time.perf_counter() - start)
    median = statistics.median(seconds)
    yield Row("conformance suite, whole command", f"{median:.2f} s", "3 s", median / 3, "at most 1", median <= 3)
