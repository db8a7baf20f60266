"""The invented bench that ships with the package, from plan to comparison."""

from __future__ import annotations

from importlib.resources import files

from shuntref.bench.bench_file import Bench, bench_from_text
from shuntref.bench.readings import BenchLog, read_log

__all__ = ["demo_bench", "demo_log"]


def demo_bench() -> Bench:
    """The invented bench of references/bench/bench.toml.

    Examples
    --------
    >>> demo_bench().invented
    True
    """
    text = files("shuntref.references").joinpath("bench", "bench.toml").read_text(encoding="utf-8")
    return bench_from_text(text, where="bench.toml")


def demo_log() -> BenchLog:
    """The invented log of references/bench/log.csv."""
    return read_log(files("shuntref.references").joinpath("bench", "log.csv").read_bytes(), "log.csv")
