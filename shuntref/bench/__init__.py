"""A session on the bench: planned before, and its readings compared with prediction after.

The names are loaded one by one, when first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: public name -> module of this room that holds it
_PUBLIC = {
    "Bench": "bench_file",
    "BenchLog": "readings",
    "BenchLogError": "readings",
    "BenchPlan": "plan",
    "Reduction": "reduction",
    "StartPlan": "start",
    "bench_from_text": "bench_file",
    "demo_bench": "demo",
    "demo_log": "demo",
    "guess_machine": "guess",
    "load_bench": "bench_file",
    "make_plan": "plan",
    "plan_start": "start",
    "read_log": "readings",
    "read_log_file": "readings",
    "reduce_log": "reduction",
    "reduction_page": "report",
}

__all__ = [*_PUBLIC]

if TYPE_CHECKING:
    from shuntref.bench.bench_file import Bench as Bench
    from shuntref.bench.bench_file import bench_from_text as bench_from_text
    from shuntref.bench.bench_file import load_bench as load_bench
    from shuntref.bench.demo import demo_bench as demo_bench
    from shuntref.bench.demo import demo_log as demo_log
    from shuntref.bench.guess import guess_machine as guess_machine
    from shuntref.bench.plan import BenchPlan as BenchPlan
    from shuntref.bench.plan import make_plan as make_plan
    from shuntref.bench.readings import BenchLog as BenchLog
    from shuntref.bench.readings import BenchLogError as BenchLogError
    from shuntref.bench.readings import read_log as read_log
    from shuntref.bench.readings import read_log_file as read_log_file
    from shuntref.bench.reduction import Reduction as Reduction
    from shuntref.bench.reduction import reduce_log as reduce_log
    from shuntref.bench.report import reduction_page as reduction_page
    from shuntref.bench.start import StartPlan as StartPlan
    from shuntref.bench.start import plan_start as plan_start


if not TYPE_CHECKING:  # so that a type checker knows the names above and no others

    def __getattr__(name: str) -> Any:
        module = _PUBLIC.get(name)
        if module is None:
            raise AttributeError(f"module 'shuntref.bench' has no attribute {name!r}")
        return getattr(importlib.import_module(f"shuntref.bench.{module}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
