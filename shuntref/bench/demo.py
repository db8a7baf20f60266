"""The invented bench that ships with the package, from plan to comparison."""

from __future__ import annotations

from importlib.resources import files

from shuntref.bench.bench_file import Bench, bench_from_text
from shuntref.bench.readings import BenchLog, read_log
from shuntref.cautions import caution_text

__all__ = ["demo", "demo_bench", "demo_log"]


def demo_bench() -> Bench:
    """The invented bench of references/bench/bench.toml.

    Returns
    -------
    Bench

    Examples
    --------
    >>> demo_bench().invented
    True
    """
    text = files("shuntref.references").joinpath("bench", "bench.toml").read_text(encoding="utf-8")
    return bench_from_text(text, where="bench.toml")


def demo_log() -> BenchLog:
    """The invented log of references/bench/log.csv.

    Returns
    -------
    BenchLog

    Examples
    --------
    >>> len(demo_log().refused())
    1
    """
    return read_log(files("shuntref.references").joinpath("bench", "log.csv").read_bytes(), "log.csv")


def demo() -> str:
    """A day at the invented bench, told in brief: the plan, the start, the log, the comparison, the cause.

    Returns
    -------
    str
        For a terminal. The full plan and report come from ``shuntref plan`` and ``shuntref reduce``.
    """
    from shuntref.bench.plan import make_plan
    from shuntref.bench.plan_text import refusal_words, run_title
    from shuntref.bench.reduction import reduce_log
    from shuntref.bench.reduction_text import run_lines

    bench = demo_bench()
    plan = make_plan(bench)
    lines = [f"{bench.name}: an INVENTED bench. Before the day, the plan:"]
    lines += [
        f"  run {run.number}: {run.speed_rpm:.0f} +- {run.expanded:.0f} r/min, {run_title(run)}" for run in plan.runs
    ]
    lines += [
        f"  start: {plan.start.needed_resistance:.3g} ohm keep the armature to {plan.start.upper_current:.3g} A; "
        f"straight on it would draw {plan.start.direct_current:.3g} A"
    ]
    lines += [f"  refused: {refusal_words(group, plan.considered[group.circuit])}" for group in plan.refused[:2]]
    lines += [f"  if the field opens, {case.words}" for case in plan.field_loss[-1:]]
    done = reduce_log(bench, demo_log())
    lines += ["", "After the day, the log (invented too), with the machine identified from its other rows:"]
    lines += run_lines(done)
    lines += [f"  refused: line {record.line}, {record.reason}" for record in done.log.refused()]
    lines += ["", f"  {done.summary}", "", caution_text()]
    return "\n".join(lines)
