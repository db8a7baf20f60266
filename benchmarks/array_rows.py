"""Rows for arrays: the speed alone, the whole steady state, searches, failures among the points, memory."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from timing import Row, medians

from shuntref import Machine, ProportionalFlux, ProportionalReaction, SquareTorque, TableFlux, steady_state
from shuntref.model.bulk import shunt_speed
from shuntref.model.sweep import Sweep

PLAIN = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
CURRENTS, EMFS = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.2], [4.0, 38.0, 70.0, 97.0, 118.0, 129.0, 135.0]
CURVED = Machine(
    armature_resistance=0.8,
    field_resistance=160.0,
    flux=TableFlux(field_current=CURRENTS, emf=EMFS, speed_rpm=1500.0),
    armature_reaction=ProportionalReaction(0.002),
)
#: quantities asked of the whole steady state, a working selection
WANTED = ["speed_rpm", "armature_current", "field_current", "back_emf", "efficiency"]


def _inputs(count: int) -> list[np.ndarray]:
    rng = np.random.default_rng(7)
    ranges = [(110, 130), (0.9, 1.1), (150, 170), (0, 40), (0.7, 0.9), (0, 3), (1, 8)]
    return [rng.uniform(low, high, count) for low, high in ranges]


def speed_alone(count: int = 10_000_000) -> Iterator[Row]:
    """The speed of ``count`` points, all seven inputs arrays, every input validated, against the one-line formula."""
    u, c, rf, rfx, ra, rax, torque = arrays = _inputs(count)
    out = np.empty(count)
    copies = [np.empty(count) for _ in range(4)]

    def naive() -> object:
        return u / (c * u / (rf + rfx)) - torque * (ra + rax) / (c * u / (rf + rfx)) ** 2

    def copy() -> None:
        # eight arrays are moved: seven read, one written; four copies move as many bytes
        for target, source in zip(copies, arrays, strict=False):
            np.copyto(target, source)

    found = medians(
        {
            "naive": naive,
            "copy": copy,
            "one": lambda: shunt_speed(*arrays, out=out),
            "two": lambda: shunt_speed(*arrays, out=out, workers=2),
        }
    )
    points = f"{found['one'] / count * 1e9:.2f} ns a point"
    ratio = found["naive"] / found["one"]
    yield Row(
        "speed alone, 1e7 points, one thread", points, "one-line NumPy formula", ratio, "at least 1.6", ratio >= 1.6
    )
    ratio = found["one"] / found["copy"]
    yield Row(
        "speed alone, 1e7 points, one thread", points, "copy of the same bytes", ratio, "at most 2.5", ratio <= 2.5
    )
    ratio = found["naive"] / found["two"]
    two = f"{found['two'] / count * 1e9:.2f} ns a point"
    yield Row("speed alone, 1e7 points, workers=2", two, "one-line NumPy formula", ratio, "at least 2.2", ratio >= 2.2)


def whole_state(count: int = 2_000_000) -> Iterator[Row]:
    """A selection of outputs, and all of them, against the copy of what is read and written."""
    u, _, _, rfx, _, rax, torque = _inputs(count)
    settings = {
        "supply_voltage": u,
        "added_field_resistance": rfx,
        "added_armature_resistance": rax,
        "load_torque": torque,
    }
    every = list(steady_state(PLAIN, supply_voltage=120.0, load_torque=1.0).quantities)
    for label, wanted in (("five quantities", WANTED), (f"all {len(every)} quantities", every)):
        out = {name: np.empty(count) for name in wanted}
        moved = [np.ones(count) for _ in range(len(settings) + len(wanted))]

        def copy(moved: list[np.ndarray] = moved) -> None:
            for source, target in zip(moved[::2], moved[1::2], strict=False):
                np.copyto(target, source)
            if len(moved) % 2:  # half of the odd one onto its other half: no byte more and none less
                np.copyto(moved[-1][: count // 2], moved[-1][count // 2 :])

        def state(out: dict[str, np.ndarray] = out, wanted: list[str] = wanted) -> object:
            return steady_state(PLAIN, quantities=wanted, out=out, **settings)

        found = medians({"copy": copy, "state": state})
        ratio = found["state"] / found["copy"]
        figure = f"{found['state'] / count * 1e9:.1f} ns a point"
        yield Row(f"steady state, {label}, 2e6 points", figure, "copy of what is read and written", ratio, "at most 2.5",
                  ratio <= 2.5)  # fmt: skip


def _by_brentq(torques: np.ndarray) -> list[float]:
    """The same machine by a root finder in a loop, on the unreduced torque balance, with scipy's own cubic."""
    curve = PchipInterpolator(CURRENTS, np.asarray(EMFS) * 60 / (2 * np.pi * 1500.0))
    found = []
    for torque in torques:

        def left_over(current: float, torque: float = float(torque)) -> float:
            k_phi = float(curve(0.75 - 0.002 * current))
            speed = (120.0 - 0.8 * current) / k_phi
            return k_phi * current - torque * (speed / 150.0) ** 2

        found.append(brentq(left_over, 0.0, 100.0, xtol=1e-13, rtol=1e-14))
    return found


def search() -> Iterator[Row]:
    """Table curve, armature reaction and a fan, against scipy's brentq in a loop, and how the cost a point holds."""
    per_point = {}
    for count in (10_000, 100_000, 1_000_000, 10_000_000):
        torques = np.linspace(1.0, 9.0, count)
        out = {"armature_current": np.empty(count)}

        def run(torques: np.ndarray = torques, out: dict[str, np.ndarray] = out) -> object:
            load = SquareTorque(torques, speed=150.0)
            return steady_state(CURVED, supply_voltage=120.0, load=load, quantities=["armature_current"], out=out)

        repeats = 5 if count <= 1_000_000 else 1
        per_point[count] = medians({"run": run}, repeats)["run"] / count
    few = np.linspace(1.0, 9.0, 400)
    theirs = medians({"brentq": lambda: _by_brentq(few)}, 3)["brentq"] / few.size
    load = SquareTorque(few, speed=150.0)
    ours = steady_state(CURVED, supply_voltage=120.0, load=load, quantities=["armature_current"]).armature_current
    apart = float(np.max(np.abs(ours / np.asarray(_by_brentq(few)) - 1.0)))
    ratio = theirs / per_point[1_000_000]
    figure = f"{per_point[1_000_000] * 1e6:.2f} us a point"
    yield Row("table curve, reaction, fan", figure, f"brentq in a loop; largest difference {apart:.0e}", ratio, "at least 15",
              ratio >= 15 and apart < 1e-11)  # fmt: skip
    ratio = max(per_point.values()) / min(per_point.values())
    spread = ", ".join(f"{count:.0e}: {seconds * 1e6:.2f}" for count, seconds in per_point.items())
    yield Row("cost a point from 1e4 to 1e7", f"{spread} us", "its own least", ratio, "flat, at most 1.5", ratio <= 1.5)


def failures(count: int = 1_000_000) -> Iterator[Row]:
    """One point in ten beyond stall, against none."""
    fine = np.linspace(1.0, 9.0, count)
    some = fine.copy()
    some[::10] = 1e4

    def run(torques: np.ndarray) -> object:
        return steady_state(CURVED, supply_voltage=120.0, load_torque=torques, quantities=["speed"])

    found = medians({"fine": lambda: run(fine), "some": lambda: run(some)})
    ratio = found["some"] / found["fine"]
    yield Row("one point in ten beyond stall", f"{found['some'] / count * 1e6:.2f} us a point", "the same without", ratio,
              "at most 1.3", ratio <= 1.3)  # fmt: skip


def memory(count: int = 2_000_000) -> Iterator[Row]:
    """Peak memory beyond the outputs, for the closed form, the search and a sweep in chunks."""
    torques = np.linspace(1.0, 8.0, count)
    sweep = Sweep(CURVED, {"supply_voltage": 120.0, "load_torque": torques}, ["speed"])
    runs = {
        "speed alone": (lambda: shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torques), 1),
        "steady state, five quantities": (
            lambda: steady_state(PLAIN, supply_voltage=120.0, load_torque=torques, quantities=WANTED),
            len(WANTED),
        ),
        "search, one quantity": (
            lambda: steady_state(CURVED, supply_voltage=120.0, load_torque=torques, quantities=["speed"]),
            1,
        ),
        "sweep in chunks, nothing kept": (lambda: sum(chunk["speed"].size for chunk in sweep.chunks()), 0),
    }
    for label, (run, outputs) in runs.items():
        tracemalloc.start()
        run()
        beyond = (tracemalloc.get_traced_memory()[1] - outputs * count * 8) / 1e6
        tracemalloc.stop()
        yield Row(f"peak memory, {label}, 2e6 points", f"outputs + {beyond:.1f} MB", "32 MB", beyond / 32, "at most 1",
                  beyond <= 32)  # fmt: skip
