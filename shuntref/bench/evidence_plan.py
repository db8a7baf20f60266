"""Evidence of the planning side of the bench: starters, resistors, an opened field, limits kept, causes recognised."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from shuntref.bench.demo import demo_bench, demo_log
from shuntref.bench.field_loss import field_loss
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.invented_log import MISWIRED_RUN, WRONG_RUN
from shuntref.bench.plan import make_plan
from shuntref.bench.reduction import Reduction, reduce_log
from shuntref.bench.speed_uncertainty import predicted_speed, setting_from_run
from shuntref.bench.starter_examples import computed_figures, starter_examples
from shuntref.evidence import Check
from shuntref.model.flux import TableFlux
from shuntref.model.load import ConstantTorque
from shuntref.model.machine import Machine
from shuntref.model.networks import search_networks
from shuntref.model.preferred import SERIES, nearest_preferred
from shuntref.model.resistors import Resistor
from shuntref.model.standards import provenance, standard_value
from shuntref.provenance import source_ids

__all__ = ["checks"]

_GROUP = "bench: start, resistors, plan, causes"


def checks() -> Iterator[Check]:
    """Yield the checks of the planning side of the bench."""
    yield from _starters()
    yield _open_field()
    yield from _resistors()
    yield from _plan()
    done = reduce_log(demo_bench(), demo_log())
    yield _sensitivities(done)
    yield from _log(done)


def _starters() -> Iterator[Check]:
    for example in starter_examples():
        figures = computed_figures(example)
        off = [
            name
            for name, text in example.printed.items()
            if not abs(figures[name] - float(text)) <= example.allowance(name)
        ]
        named = next(iter(example.printed))
        detail = ", ".join(f"{name} {figures[name]:.5g} against {example.printed[name]}" for name in off or [named])
        count = len(example.printed)
        figures_words = "1 printed figure" if count == 1 else f"{count} printed figures"
        yield Check(
            _GROUP,
            f"{example.identity}: {figures_words} from the givens ({example.convention})",
            not off,
            detail,
            f"{example.source}; {example.seen}",
            source_ids({"source_id": example.source_id}),
            example.seen,
        )


def _open_field() -> Check:
    # the seven points of the curve at 1000 r/min; at zero field current 5 V are left
    curve = TableFlux((0.0, 0.8, 1.0, 1.28, 1.44, 2.88, 4.0), (5.0, 78.0, 95.0, 112.0, 118.0, 126.0, 130.0), 1000.0)
    machine = Machine(armature_resistance=0.12, field_resistance=40.0, flux=curve)
    bench = replace(demo_bench(), machine=machine, supply_voltage=120.0, load=ConstantTorque(0.0))
    speed = field_loss(bench)[-1].speed_rpm or math.nan
    return Check(
        _GROUP,
        "ideal speed from remanence when the field opens, printed as 24000 r/min",
        abs(speed - 24000.0) <= 500.0,
        f"{speed:.6g} r/min",
        "S. J. Chapman, Electric Machinery Fundamentals, 5th ed. 2012, Problem 8-21; statement seen, answer from "
        "memory; printed to two figures",
        ("chapman-5",),
        "from memory",
    )


def _resistors() -> Iterator[Check]:
    counts = [len(search_networks([Resistor(1.0, 1.0, count=5)], most_elements=most).networks) for most in range(1, 6)]
    steps = [counts[0], *(after - before for before, after in pairwise(counts))]
    yield Check(
        _GROUP,
        "equal resistors make 1, 2, 4, 10, 24 series-parallel networks of 1 to 5",
        steps == [1, 2, 4, 10, 24],
        ", ".join(map(str, steps)),
        "P. A. MacMahon, The combinations of resistances, 1892; from memory",
        ("macmahon-1892",),
        "from memory",
    )
    row = standard_value("preferred_numbers", "preferred-resistances")
    kept = all(nearest_preferred(float(entry), name) == float(entry) for name in SERIES for entry in row[name])
    nested = row["E12"] == row["E24"][::2] and row["E6"] == row["E24"][::4]
    yield Check(
        _GROUP,
        "stored E series: each entry is its own nearest, E12 and E6 are taken from E24",
        kept and nested,
        f"{len(row['E24'])} values",
        provenance(row),
        source_ids(row),
        row["seen"],
    )


def _plan() -> Iterator[Check]:
    bench = demo_bench()
    plan = make_plan(bench)
    limits = bench.limits
    worst = max(run.speed_rpm + run.expanded for run in plan.runs)
    kept = worst <= limits.speed_rpm and all(
        run.values["armature_current"] <= limits.armature_current
        and (run.duty is None or run.duty.share <= limits.resistor_share)
        for run in plan.runs
    )
    yield Check(
        _GROUP,
        f"invented bench: none of the {len(plan.runs)} runs recommended breaks a limit",
        kept,
        f"highest speed with its uncertainty {worst:.0f} of {limits.speed_rpm:.0f} r/min",
    )
    light = max(line.light_speed_rpm for line in plan.controls)
    yield Check(
        _GROUP,
        "invented bench: none runs above the limit when its load comes off",
        light <= limits.speed_rpm,
        f"{light:.0f} r/min",
    )


def _sensitivities(done: Reduction) -> Check:
    """Speed and uncertainty of every run, once by differences of the model and once by the derivatives that theory derives."""
    worst = 0.0
    meters = InstrumentSet.of(done.bench.instruments)
    for run in done.comparison.runs:
        setting = setting_from_run(run.run, meters, done.identified.parameters)
        derived = predicted_speed(done.identified, setting, method="theory")
        numeric = done.comparison.predictions.standard_uncertainty(run.position)
        worst = max(
            worst, abs(numeric / derived.standard_uncertainty - 1.0), abs(run.predicted / derived.speed_rpm - 1.0)
        )
    count = len(done.comparison.runs)
    return Check(
        _GROUP,
        f"predicted speeds of {count} runs have the uncertainty that the derived sensitivities give",
        worst < 1e-5,
        f"largest relative difference {worst:.1e}",
    )


def _log(done: Reduction) -> Iterator[Check]:
    refused = [record.run for record in done.log.refused()]
    yield Check(
        _GROUP,
        "invented log: the one wrong row is refused, with its reason",
        refused == [WRONG_RUN],
        done.log.refused()[0].reason if refused else "nothing refused",
    )
    named = {d.run.run.name: d.best.name for d in done.diagnoses if d.run is not None and d.best is not None}
    yield Check(
        _GROUP,
        "invented log: the miswired run is recognised, and no other run is blamed",
        named == {MISWIRED_RUN: "resistor in the line"},
        done.summary,
    )
