"""Sweeps chunk by chunk: the same points as one call, bounded memory, whole files, the same bytes on a cluster."""

from __future__ import annotations

import csv
import io
import itertools
import tracemalloc
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shuntref import FroehlichFlux, Machine, ProportionalFlux, ProportionalReaction, SquareTorque, steady_state
from shuntref.model.sweep import Sweep, in_windows

BENCH = Machine(
    armature_resistance=0.8,
    field_resistance=160.0,
    flux=FroehlichFlux(froehlich_a=1.6, froehlich_b=0.9, remanent_k_phi=0.03),
    brush_drop=2.0,
)
REACTING = Machine(
    armature_resistance=0.8,
    field_resistance=160.0,
    flux=ProportionalFlux(1.0),
    armature_reaction=ProportionalReaction(0.002),
)
SETTINGS = {
    "supply_voltage": np.array([110.0, 120.0]),
    "added_field_resistance": np.linspace(0.0, 60.0, 7),
    "load_torque": np.array([0.0, 6.0, 500.0]),
}


def small(chunk: int = 5) -> Sweep:
    return Sweep(BENCH, SETTINGS, ["speed_rpm", "armature_current"], chunk=chunk)


@pytest.mark.parametrize("chunk", [1, 5, 42, 1000])
def test_the_chunks_are_the_points_of_one_call_in_order(chunk: int) -> None:
    sweep = small(chunk)
    grid = np.array(list(itertools.product(*SETTINGS.values())))
    whole = steady_state(
        BENCH,
        supply_voltage=grid[:, 0],
        added_field_resistance=grid[:, 1],
        load_torque=grid[:, 2],
        quantities=["speed_rpm"],
    )
    chunks = list(sweep.chunks())
    assert len(chunks) == sweep.chunk_count == -(-42 // chunk)
    assert sweep.size == 42
    np.testing.assert_array_equal(np.concatenate([c["speed_rpm"] for c in chunks]), whole.speed_rpm)
    np.testing.assert_array_equal(np.concatenate([c["status"] for c in chunks]), whole.status)
    for position, name in enumerate(SETTINGS):
        np.testing.assert_array_equal(np.concatenate([c[name] for c in chunks]), grid[:, position])


def test_a_load_that_goes_with_the_speed_is_swept_too() -> None:
    sweep = Sweep(
        REACTING, {"supply_voltage": [100.0, 120.0]}, ["speed", "load_torque"], load=SquareTorque(6.0, speed=150.0)
    )
    (chunk,) = sweep.chunks()
    np.testing.assert_allclose(chunk["load_torque"], 6.0 * (chunk["speed"] / 150.0) ** 2, rtol=1e-13)


def test_the_csv_file_holds_every_digit_and_an_empty_cell_for_no_value(tmp_path: Path) -> None:
    target = tmp_path / "sweep.csv"
    assert small().write_csv(target) == 42
    rows = list(csv.DictReader(io.StringIO(target.read_text(encoding="ascii"))))
    values = np.concatenate([c["speed_rpm"] for c in small().chunks()])
    read = [float(row["speed_rpm [r/min]"]) if row["speed_rpm [r/min]"] else np.nan for row in rows]
    np.testing.assert_array_equal(read, values)
    assert sum(np.isnan(values)) == 14
    assert {row["load_torque [N m]"] for row in rows} == {"0.0", "6.0", "500.0"}
    assert [path.name for path in tmp_path.iterdir()] == ["sweep.csv"]


def test_a_sweep_that_fails_on_the_way_leaves_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "sweep.csv"
    target.write_text("old", encoding="ascii")

    def breaking(function: Any, numbers: Any) -> Any:
        for number in numbers:
            if number == 3:
                raise RuntimeError("the power went out")
            yield function(number)

    with pytest.raises(RuntimeError, match="power"):
        small().write_csv(target, breaking)
    assert target.read_text(encoding="ascii") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["sweep.csv"]
    with pytest.raises(FileNotFoundError):
        small().write_csv(tmp_path / "nowhere" / "sweep.csv")


def test_parquet_holds_the_same_numbers_with_their_units(tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    assert small().write_parquet(tmp_path / "sweep.parquet") == 42
    table = parquet.read_table(tmp_path / "sweep.parquet")
    assert table.schema.metadata[b"unit of speed_rpm"] == b"r/min"
    values = np.concatenate([c["speed_rpm"] for c in small().chunks()])
    np.testing.assert_array_equal(table["speed_rpm"].to_numpy(), values)


def test_parquet_without_its_package_names_the_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    with pytest.raises(ImportError, match=r"shuntref\[big\]"):
        small().write_parquet(tmp_path / "sweep.parquet")


def test_memory_does_not_grow_with_the_size_of_the_sweep() -> None:
    peaks = []
    for points in (100, 1000, 3000):
        axis = np.linspace(0.0, 5.0, points)
        settings = {"supply_voltage": 120.0, "added_field_resistance": axis, "load_torque": np.linspace(0.0, 6.0, 300)}
        sweep = Sweep(BENCH, settings, ["speed"], chunk=10_000)
        tracemalloc.start()
        total = sum(float(np.nansum(chunk["speed"])) for chunk in sweep.chunks())
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert total > 0.0
    assert max(peaks) < 32e6
    assert peaks[2] < 1.2 * peaks[1]


def test_a_billion_points_are_a_sweep_like_any_other() -> None:
    axis = np.linspace(0.0, 50.0, 1000)
    settings = {
        "supply_voltage": np.linspace(100.0, 130.0, 1000),
        "added_field_resistance": axis,
        "load_torque": axis / 10.0,
    }
    sweep = Sweep(BENCH, settings, ["speed"])
    assert (sweep.size, sweep.chunk_count) == (10**9, 10**4)
    last = sweep.compute(sweep.chunk_count - 1)
    point = steady_state(BENCH, supply_voltage=130.0, added_field_resistance=50.0, load_torque=5.0)
    assert last["speed"][-1] == pytest.approx(point.speed, rel=1e-14)


@pytest.mark.parametrize(
    ("settings", "quantities", "why"),
    [
        ({"speed": 3.0}, ["speed"], "what can be set"),
        ({}, ["speed"], "settings is empty"),
        ({"supply_voltage": [[1.0]]}, ["speed"], "one-dimensional"),
        ({"supply_voltage": -1.0}, ["speed"], "supply_voltage"),
        ({"supply_voltage": [np.nan]}, ["speed"], "supply_voltage"),
        ({"supply_voltage": 120.0}, [], "quantities is empty"),
        ({"supply_voltage": 120.0}, ["happiness"], "happiness"),
    ],
)
def test_what_cannot_be_swept_is_refused_by_name(settings: Any, quantities: list[str], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        Sweep(BENCH, settings, quantities)


def test_two_processes_of_a_local_cluster_give_the_same_bytes(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    sweep = small(chunk=4)
    sweep.write_csv(tmp_path / "here.csv")
    # any free port: another run of the suite may have the usual one
    options = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": "127.0.0.1:0"}
    cluster = distributed.LocalCluster(**options)
    with cluster, distributed.Client(cluster) as client:
        mapper = in_windows(lambda function, numbers: client.gather(client.map(function, numbers)), 4)
        sweep.write_csv(tmp_path / "there.csv", mapper)
        workers = len(client.scheduler_info()["workers"])
    assert workers == 2
    assert (tmp_path / "here.csv").read_bytes() == (tmp_path / "there.csv").read_bytes()
