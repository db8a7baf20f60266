"""What standards say about the speed of such a machine, told for orientation and never as a permission."""

from __future__ import annotations

from shuntref.bench.bench_file import Bench
from shuntref.bench.prediction import BenchModel, Setting, solve_settings
from shuntref.model.standards import provenance, speed_tolerance, standard_value

__all__ = ["standard_remarks"]


def standard_remarks(bench: Bench, model: BenchModel) -> list[str]:
    """Remarks on the nameplate speed, and on a speed limit that looks too high.

    Notes
    -----
    The overspeed test level is used in one direction only: a limit in the bench file that lies above it is called doubtful.
    A limit below it is never called good.
    """
    plate = bench.machine.nameplate
    rated = plate.get("rated_speed_rpm")
    if rated is None:
        return [
            "no rated speed on the nameplate: whether the speed limit of the bench file is a sane one cannot be told"
        ]
    remarks = []
    power = plate.get("rated_output_power")
    if power is not None:
        row = standard_value("tolerances", "speed-tolerance-shunt")
        remarks.append(
            f"a machine of this size may miss its rated speed by {100.0 * speed_tolerance(power, rated):g} % when new, "
            f"{provenance(row)}; that is a tolerance on making it, not a permission to run it faster"
        )
    row = standard_value("overspeed", "overspeed-test-shunt")
    light = solve_settings(model, model.values(), [Setting(load_factor=0.0)])
    no_load = float(light.speed_rpm if not light.shape else light.speed_rpm[0])
    level = max(row["factor_highest_rated_speed"] * rated, row["factor_no_load_speed"] * no_load)
    if bench.limits.speed_rpm > level:
        remarks.append(
            f"DOUBTFUL LIMIT: {bench.limits.speed_rpm:.4g} r/min is above the level at which makers test such machines for "
            f"two minutes ({level:.4g} r/min from its rated and no-load speed, {provenance(row)}); ask the maker before "
            "running anywhere near it"
        )
    return remarks
