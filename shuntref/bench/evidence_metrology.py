"""Evidence for the bench's arithmetic: certified fits, published uncertainty examples, and coverage on an invented bench."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator, Mapping
from importlib.resources import files
from typing import Any

import numpy as np

from shuntref.bench.coverage import coverage_experiment
from shuntref.bench.error_sources import effective_degrees_of_freedom
from shuntref.bench.fitting import FitResult, fit_curve, fit_line
from shuntref.bench.instruments import instrument_from_table
from shuntref.bench.monte_carlo import Normal, Rectangular, monte_carlo
from shuntref.bench.no_load_examples import no_load_examples
from shuntref.bench.uncertainty import Inputs, combine, propagate, second_order, sensitivities
from shuntref.evidence import Check
from shuntref.provenance import source_ids
from shuntref.quantities.text import parse_value

__all__ = ["CERTIFIED_MODELS", "checks"]

FITS, PROPAGATION = "certified fits", "published uncertainty examples"
NO_LOAD, COVERAGE = "published no-load tests", "coverage"

#: data set -> its curve; the text of the model in the data file is for people
CERTIFIED_MODELS: dict[str, Callable[..., Any]] = {
    "misra1a": lambda x, b1, b2: b1 * (1.0 - np.exp(-b2 * x)),
    "misra1d": lambda x, b1, b2: b1 * b2 * x / (1.0 + b2 * x),
    "danwood": lambda x, b1, b2: b1 * x**b2,
    "mgh09": lambda x, b1, b2, b3, b4: b1 * (x**2 + b2 * x) / (x**2 + b3 * x + b4),
    "boxbod": lambda x, b1, b2: b1 * (1.0 - np.exp(-b2 * x)),
}


def _table(name: str) -> dict[str, Any]:
    return tomllib.loads(files("shuntref.references").joinpath("standards", name).read_text(encoding="utf-8"))


def _source(entry: Mapping[str, Any]) -> tuple[str, tuple[str, ...], str]:
    return f"{entry['source']}; {entry['seen']}", source_ids(entry), entry["seen"]


def agreeing_digits(found: Any, certified: Any) -> float:
    """Return the significant digits to which signed values agree, the worst of several.

    Examples
    --------
    >>> agreeing_digits([1.0001, 2.0], [1.0, 2.0]).__round__()
    4
    >>> agreeing_digits([-1.0], [1.0]) < 0
    True
    """
    expected = np.asarray(certified, dtype=float)
    with np.errstate(invalid="ignore"):
        error = float(np.max(np.abs(np.asarray(found, dtype=float) - expected) / np.abs(expected)))
    return 16.0 if error == 0.0 else -math.inf if math.isnan(error) else -math.log10(error)


def _fit_checks() -> Iterator[Check]:
    table = _table("strd.toml")
    line = table["norris"]
    yield _certified("Norris line", fit_line(line["x"], line["y"]), line)
    for name, curve in CERTIFIED_MODELS.items():
        data = table[name]
        for number, start in enumerate(data["starts"], 1):
            fit = fit_curve(curve, data["x"], data["y"], dict(zip(data["names"], start, strict=True)))
            title = f"{name}, start {number}: {data['model']}"
            if fit.converged:
                yield _certified(title, fit, data)
            else:  # only the far start of BoxBOD may fail, and it must own up to it
                yield Check(
                    FITS,
                    f"{title}: reported as not converged",
                    (name, number) == ("boxbod", 1),
                    fit.reason,
                    *_source(data),
                )


def _certified(title: str, fit: FitResult, data: Mapping[str, Any]) -> Check:
    values = agreeing_digits(fit.values, data["values"])
    spread = agreeing_digits(
        [*fit.standard_uncertainties, fit.sum_of_squares],
        [*data["standard_deviations"], data["residual_sum_of_squares"]],
    )
    passed = fit.converged and values >= data["digits"] and spread >= data["digits"] - 2
    return Check(
        FITS,
        title,
        passed and fit.degrees_of_freedom == data["degrees_of_freedom"],
        f"parameters to {values:.1f} digits, their standard deviations to {spread:.1f}",
        *_source(data),
    )


def _near(statement: str, found: Any, expected: Any, tolerance: Any, entry: Mapping[str, Any]) -> Check:
    gap = np.abs(np.asarray(found, dtype=float) - np.asarray(expected, dtype=float))
    passed = bool(np.all(gap <= np.asarray(tolerance, dtype=float)))
    shown = ", ".join(f"{float(value):.6g}" for value in np.atleast_1d(found))
    wanted = ", ".join(f"{float(value):g}" for value in np.atleast_1d(expected))
    return Check(PROPAGATION, statement, passed, f"{shown} against {wanted}", *_source(entry))


def _impedance() -> Iterator[Check]:
    entry = _table("metrology.toml")["gum-h2"]
    inputs = Inputs.from_readings({"V": entry["voltage"], "I": entry["current"], "phi": entry["phase"]})
    results = {
        "R": lambda v: v["V"] / v["I"] * math.cos(v["phi"]),
        "X": lambda v: v["V"] / v["I"] * math.sin(v["phi"]),
        "Z": lambda v: v["V"] / v["I"],
    }
    out = propagate(results, inputs)
    yield _near("GUM H.2: R, X, Z", out.values, entry["results"], entry["results_tolerance"], entry)
    yield _near(
        "GUM H.2: u(R), u(X), u(Z) with correlations",
        out.standard_uncertainties,
        entry["result_u"],
        entry["result_u_tolerance"],
        entry,
    )
    pairs = (("R", "X"), ("R", "Z"), ("X", "Z"))
    yield _near(
        "GUM H.2: correlations of the results",
        [out.correlation(*pair) for pair in pairs],
        entry["result_correlations"],
        entry["correlation_tolerance"],
        entry,
    )
    blind = propagate(results, Inputs(inputs.names, inputs.values, np.diag(np.diag(inputs.covariance)), inputs.dofs))
    wrong = float(blind.standard_uncertainties[0])
    yield Check(
        PROPAGATION,
        "GUM H.2: leaving the correlations out gives another answer",
        abs(wrong - entry["result_u"][0]) > 0.1,
        f"u(R) = {wrong:.3f} instead of {entry['result_u'][0]}",
        *_source(entry),
    )


def _gauge() -> Iterator[Check]:
    entry = _table("metrology.toml")["gum-h1"]
    parts = dict(enumerate(part**2 for part in entry["difference_u_parts"]))
    keys = {str(key): variance for key, variance in parts.items()}
    dof = effective_degrees_of_freedom(keys, {str(k): n for k, n in enumerate(entry["difference_u_dofs"])})
    theta = math.hypot(
        entry["temperature_deviation_u_mean"], entry["temperature_deviation_cycle_amplitude"] / math.sqrt(2.0)
    )
    root = math.sqrt(3.0)
    inputs = Inputs.stated(
        {
            "l_s": entry["standard_length"],
            "d": entry["difference"],
            "alpha": entry["expansion_coefficient"],
            "theta": entry["temperature_deviation"],
            "d_alpha": 0.0,
            "d_theta": 0.0,
        },
        {
            "l_s": entry["standard_length_u"],
            "d": math.sqrt(sum(parts.values())),
            "alpha": entry["expansion_coefficient_half_width"] / root,
            "theta": theta,
            "d_alpha": entry["expansion_difference_half_width"] / root,
            "d_theta": entry["temperature_difference_half_width"] / root,
        },
        dofs={
            "l_s": entry["standard_length_dof"],
            "d": dof,
            "d_alpha": entry["expansion_difference_dof"],
            "d_theta": entry["temperature_difference_dof"],
        },
    )

    def length(v: Mapping[str, float]) -> float:
        return v["l_s"] + v["d"] - v["l_s"] * (v["d_alpha"] * v["theta"] + v["alpha"] * v["d_theta"])

    here = dict(zip(inputs.names, map(float, inputs.values), strict=True))
    result = combine(length(here), sensitivities(length, inputs), inputs, entry["coverage"])
    yield _near(
        "GUM H.1: combined standard uncertainty",
        result.standard_uncertainty,
        entry["combined_u"],
        entry["combined_u_tolerance"],
        entry,
    )
    yield _near(
        "GUM H.1: effective degrees of freedom, rounded down",
        math.floor(result.dof),
        entry["effective_dof"],
        0.0,
        entry,
    )
    yield _near(
        "GUM H.1: expanded uncertainty, 99 %",
        result.expanded_uncertainty,
        entry["expanded"],
        entry["expanded_tolerance"],
        entry,
    )
    yield _near("GUM H.1: with second-order terms", second_order(length, inputs), entry["second_order_u"], 0.5, entry)


def _calibration_line() -> Iterator[Check]:
    entry = _table("metrology.toml")["gum-h3"]
    fit = fit_line(np.array(entry["temperature"]) - entry["reference_temperature"], entry["correction"])
    yield _near(
        "GUM H.3: intercept and its uncertainty",
        [fit.value("intercept"), fit.standard_uncertainty("intercept")],
        entry["intercept"],
        0.00005,
        entry,
    )
    yield _near(
        "GUM H.3: slope and its uncertainty",
        [fit.value("slope"), fit.standard_uncertainty("slope")],
        entry["slope"],
        0.000005,
        entry,
    )
    yield _near("GUM H.3: correlation of the two", fit.correlation[0, 1], entry["correlation"], 0.0005, entry)
    line = Inputs(fit.names, fit.values, fit.covariance, (9.0, 9.0))
    at_30 = propagate({"b": lambda v: v["intercept"] + 10.0 * v["slope"]}, line)
    yield _near(
        "GUM H.3: correction at 30 degC and its uncertainty",
        [at_30.values[0], at_30.standard_uncertainties[0]],
        entry["at_30"],
        0.00005,
        entry,
    )


def _distributions() -> Iterator[Check]:
    table = _table("metrology.toml")
    trials = 200_000  # places an end of a 95 % interval within 0.03 (four standard deviations) of its true place here

    def total(v: Mapping[str, Any]) -> Any:
        return v["a"] + v["b"] + v["c"] + v["d"]

    entry = table["jcgm-101-normal"]
    drawn = monte_carlo(total, [Normal(name, 0.0, 1.0) for name in "abcd"], seed=1, trials=trials)
    yield _near("JCGM 101: sum of four normals, 95 % interval", drawn.symmetric, entry["interval"], 0.045, entry)
    entry = table["jcgm-101-rectangular"]
    drawn = monte_carlo(total, [Rectangular(name, 0.0, math.sqrt(3.0)) for name in "abcd"], seed=2, trials=trials)
    yield _near(
        "JCGM 101: sum of four rectangulars, 95 % interval",
        drawn.symmetric,
        [-entry["exact_end"], entry["exact_end"]],
        0.035,
        entry,
    )
    entry = table["npl-logarithm"]
    middle, half = (entry["low"] + entry["high"]) / 2.0, (entry["high"] - entry["low"]) / 2.0
    drawn = monte_carlo(lambda v: np.log(v["x"]), [Rectangular("x", middle, half)], seed=3, trials=trials)
    yield _near(
        "logarithm near zero: mean and standard uncertainty by Monte Carlo",
        [drawn.mean, drawn.standard_uncertainty],
        [entry["mean"], entry["standard_uncertainty"]],
        0.006,
        entry,
    )
    entry = table["tn-1900-thermal-expansion"]
    names = ("cold_length", "cold_temperature", "hot_length", "hot_temperature")
    inputs = Inputs.stated({n: entry[n][0] for n in names}, {n: entry[n][1] for n in names})
    out = propagate(
        {
            "alpha": lambda v: (
                (v["hot_length"] - v["cold_length"])
                / (v["cold_length"] * (v["hot_temperature"] - v["cold_temperature"]))
            )
        },
        inputs,
    )
    yield _near(
        "thermal expansion coefficient: standard uncertainty",
        out.standard_uncertainties[0],
        entry["standard_uncertainty"],
        entry["standard_uncertainty_tolerance"],
        entry,
    )
    entry = table["tachometer"]
    meter = instrument_from_table(
        "tachometer", {"kind": "tachometer", "accuracy": entry["accuracy"], "resolution": entry["resolution"]}
    )
    reading = meter.uncertainty(parse_value("speed_rpm", entry["reading"]))
    yield _near(
        "tachometer of common practice: standard uncertainty of its limits",
        reading.components[0].standard_uncertainty,
        entry["standard_uncertainty"],
        0.00005,
        entry,
    )


def _no_load_tests() -> Iterator[Check]:
    for example in no_load_examples():
        found = example.computed()
        for name, printed in example.printed.items():
            yield Check(
                NO_LOAD,
                f"{example.identity}: {name.replace('_', ' ')} from its readings",
                abs(found[name] - float(printed)) <= example.allowance(name),
                f"{found[name]:.6g} against {printed}",
                *_source({"source": example.source, "seen": example.seen, "source_id": example.source_id}),
            )


def _coverage(repetitions: int = 100) -> Iterator[Check]:
    result = coverage_experiment(repetitions, 20)
    rates = ", ".join(f"{name} {100.0 * rate:.0f} %" for name, rate in result.rates.items())
    # of 100 repetitions a true rate of 95 % shows as less than 88 % once in 700
    yield Check(
        COVERAGE,
        f"an invented machine identified from {repetitions} noisy logs lies within its stated uncertainties",
        result.failures == 0 and all(rate >= 0.88 for rate in result.rates.values()),
        f"{rates} ({repetitions} repetitions here; the test suite runs 1000)",
        "",
    )


def checks() -> Iterator[Check]:
    """Yield every check of this room's metrology, recomputed."""
    yield from _fit_checks()
    yield from _impedance()
    yield from _gauge()
    yield from _calibration_line()
    yield from _distributions()
    yield from _no_load_tests()
    yield from _coverage()
