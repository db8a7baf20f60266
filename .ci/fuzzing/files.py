"""Targets that read files of machines, exercises, benches, loads, and mappings of the implementer."""

from __future__ import annotations

import atexit
import json
import random
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from fuzzing.mutation import HOSTILE_TEXTS, mutated
from fuzzing.watch import Target, Wrong
from shuntref.bench.bench_file import bench_from_text, load_bench
from shuntref.bench.plan import make_plan
from shuntref.bench.plan_text import plan_data, plan_text
from shuntref.conformance.mapping import read_setting
from shuntref.conformance.suite import Suite, load_suite
from shuntref.exercises.solver import solve
from shuntref.exercises.statement import ExerciseError
from shuntref.exercises.statement_file import exercise_from_text, load_exercise
from shuntref.model import steady_state
from shuntref.model.machine import Machine
from shuntref.model.machine_file import (
    MachineFileError,
    load_from_table,
    load_machine,
    machine_from_text,
    machine_to_text,
)

__all__ = ["EXERCISES", "ROOT", "make_from", "on_disk", "reference_texts", "scratch", "suite", "targets"]

ROOT = Path(__file__).resolve().parents[2]


@cache
def reference_texts(*patterns: str) -> tuple[str, ...]:
    """The files of the repository that match, as text."""
    files = sorted({file for pattern in patterns for file in ROOT.glob(pattern)})
    return tuple(file.read_text(encoding="utf-8-sig") for file in files)


def make_from(*patterns: str) -> Callable[[int], bytes]:
    """Draw inputs by mutating the files that match."""
    return lambda number: mutated(reference_texts(*patterns), random.Random(number))


def _machine_input(number: int) -> bytes:
    return mutated(_machine_seeds(), random.Random(number))


@cache
def _machine_seeds() -> tuple[str, ...]:
    head = '[machine]\narmature_resistance = "0.8 ohm"\nfield_resistance = "160 ohm"\n'
    flux = '[flux]\nkind = "proportional"\nflux_constant = "1.0 V s/(rad A)"\n'
    table = (
        '[flux]\nkind = "table"\nfield_current = ["0 A", "0.2 A", "0.5 A", "1 A"]\nspeed_rpm = "1000 r/min"\n'
        'back_emf = ["2 V", "40 V", "80 V", "100 V"]\nextrapolate = "flag"\n'
    )
    reaction = '[armature_reaction]\nkind = "proportional"\nreaction_coefficient = "0.004 A/A"\n'
    line = 'line_resistance = "0.3 ohm"\nbrush_drop = "2 V"\nconnection = "separate"\n'
    found = (
        *reference_texts("references/machines/*.toml"),
        head + flux,
        head + table,
        head + flux + reaction,
        head + line + flux,
    )
    for text in found:
        machine_from_text(text)  # a seed that is refused would lead nowhere
    return found


@cache
def scratch(room: str) -> Path:
    """A folder of this process, in memory where there is such a place; gone when the process ends."""
    path = Path(tempfile.mkdtemp(prefix=f"fuzz-{room}-", dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    atexit.register(shutil.rmtree, path, ignore_errors=True)
    return path


def on_disk(data: bytes, name: str) -> Path:
    """``data`` as a file of its own."""
    path = scratch("given") / name
    path.write_bytes(data)
    return path


@cache
def suite() -> Suite:
    """The certified cases."""
    return load_suite()


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape")


def _one_in(data: bytes, count: int) -> bool:
    """Whether this input is one of the sample that is carried further; decided by the input alone."""
    return sum(data[:4096]) % count == 0


def _read_machine(data: bytes) -> Machine:
    if _one_in(data, 8):
        return load_machine(on_disk(data, "machine.toml"))
    return machine_from_text(_text(data))


def _machine(data: bytes) -> bool:
    machine = _read_machine(data)
    if machine_from_text(machine_to_text(machine)) != machine:
        raise Wrong("the machine is not the same after writing and reading")
    return True


def _solved_machine(data: bytes) -> bool:
    try:
        machine = machine_from_text(_text(data))
    except MachineFileError:
        return False
    draw = random.Random(data)
    load: Any = draw.choice((0.0, 1.0, 2.0, 5.0, -5.0, 20.0, 1e3, 1e300, [0.0, 2.0, 1e9]))
    voltage = draw.choice((120.0, 120.0, 220.0, 240.0, 1e-3, 1e6, 1e30, 1e-30, 1e-300))
    given: dict[str, Any] = {"added_field_resistance": draw.choice((0.0, 0.0, 10.0, 50.0, 1e6, 1e30))}
    given["source_voltage" if machine.line_resistance > 0.0 else "supply_voltage"] = voltage
    if machine.connection == "separate":
        given["field_voltage"] = draw.choice((120.0, 1e-3, 1e6))
    state = steady_state(machine, load_torque=load, all_solutions=draw.random() < 0.2, **given)
    speeds = state.speed if isinstance(load, list) else [state.speed]
    if not isinstance(load, list) and not abs(speeds[0]) <= 1e308:
        raise Wrong(f"speed {speeds[0]!r} without a refusal")
    return True


EXERCISES = ("references/exercises/*.toml", "references/practice/*.toml", "references/errata/*.toml")


def _exercise(data: bytes) -> bool:
    if _one_in(data, 8):
        load_exercise(on_disk(data, "exercise.toml"))
    else:
        exercise_from_text(_text(data))
    return True


def _solved_exercise(data: bytes) -> bool:
    exercise = exercise_from_text(_text(data))
    solution = solve(exercise)
    for name, answer in solution.answers.items():
        if not abs(answer.value) <= 1e308:
            raise Wrong(f"{name} = {answer.value!r}")
    return True


def _bench_input(number: int) -> bytes:
    draw = random.Random(number)
    texts = [*reference_texts("references/bench/bench.toml"), *_small_benches()]
    return mutated(texts, draw)


@cache
def _small_benches() -> tuple[str, ...]:
    (whole,) = reference_texts("references/bench/bench.toml")
    kit = '\n[[kit]]\nname = "slide"\nresistance = "20 ohm"\nrated_power = "200 W"\ncount = 2\n'
    limits = '[limits]\nspeed_rpm = "1800 r/min"\narmature_current = "9 A"\n[supply]\nvoltage = "120 V"\n'
    plate = whole[whole.index("[nameplate]") : whole.index("[supply]")]
    machine = whole[whole.index("[machine]") : whole.index("[nameplate]")]
    guess = '[guess]\narmature_resistance = "0.9 ohm"\nfield_resistance = "158 ohm"\n'
    return (machine + limits + kit, guess + plate + limits + kit, guess.splitlines()[0] + "\n" + plate + limits + kit)


def _bench(data: bytes) -> bool:
    if _one_in(data, 8):
        load_bench(on_disk(data, "bench.toml"))
    else:
        bench_from_text(_text(data), folder=scratch("given"))
    return True


def _planned(data: bytes) -> bool:
    made = make_plan(bench_from_text(_text(data), folder=scratch("given")))
    plan_text(made)
    json.dumps(plan_data(made), allow_nan=False)
    return True


_PARTS: tuple[Any, ...] = (
    "constant", "square", "proportional", "constant-power", "1 N m", "5 N m", "100 W", "150 rad/s", "1500 r/min",
    "0 r/min", "-1 N m", "1e308 N m",
    0, 1, -1, 1.5, float("nan"), float("inf"), True, None, [], {}, "", 10**400,
)  # fmt: skip
_KEYS = ("kind", "load_torque", "loss_torque", "speed", "speed_rpm", "output_power", "rotational_loss", "extra", "")


def _any_table(draw: random.Random, depth: int = 0) -> Any:
    kind = draw.randrange(8)
    if kind == 0 and depth < 4:
        return [_any_table(draw, depth + 1) for _ in range(draw.choice((0, 1, 2, 3, 3, 5, 8)))]
    if kind < 7 and depth < 4:
        table = {draw.choice(_KEYS): draw.choice((*_PARTS, *HOSTILE_TEXTS)) for _ in range(draw.randrange(5))}
        table["kind"] = draw.choice(_PARTS[:4] if draw.random() < 0.9 else _PARTS)
        if draw.random() < 0.6:
            table["load_torque"] = draw.choice(_PARTS[4:12])
            if table["kind"] in ("square", "proportional"):
                table["speed"] = draw.choice(_PARTS[7:9])
        if draw.random() < 0.1:
            table[draw.choice(_KEYS)] = _any_table(draw, depth + 1)
        return table
    return draw.choice(_PARTS)


def _load_input(number: int) -> bytes:
    return json.dumps(_any_table(random.Random(number))).encode()


def _load(data: bytes) -> bool:
    try:
        table = json.loads(data)
    except ValueError:
        return False
    load = load_from_table(table)
    for speed in (1e-3, 150.0, -150.0):
        if not abs(float(load.torque(speed))) <= 1e308:
            raise Wrong(f"the torque at {speed} rad/s is {load.torque(speed)!r}")
    return True


def _mapping(data: bytes) -> bool:
    setting = read_setting(on_disk(data, "mapping.toml"), suite())
    for case in suite().cases[:20]:
        binding = setting.bindings.get(case.function)
        if binding is not None:
            binding.values_from({port.key or port.quantity: 1.0 for port in binding.results})
    return True


def targets() -> list[Target]:
    """Every file of tables."""
    exercises = make_from(*EXERCISES)
    return [
        Target("machine file", _machine_input, _machine, (MachineFileError,), 20),
        Target("machine solved", _machine_input, _solved_machine, (ValueError,), 20),
        Target("load table", _load_input, _load, (MachineFileError,), 20),
        Target("exercise file", exercises, _exercise, (ExerciseError,), 20),
        Target("exercise solved", exercises, _solved_exercise, (ExerciseError,), 4),
        Target("bench file", _bench_input, _bench, (ValueError,), 20),
        Target("bench planned", _bench_input, _planned, (ValueError,), 3, 30.0),
        Target("mapping file", make_from("tests/zoo/*.toml", "tests/lab_scripts/*.toml"), _mapping, (ValueError,), 20),
    ]
