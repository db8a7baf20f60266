"""Fits agree with the certified results, and a fit that failed or cannot be had says so."""

import tomllib
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.bench.fitting import FitError, fit_curve, fit_line, fit_linear

STRD = tomllib.loads(files("shuntref.references").joinpath("standards", "strd.toml").read_text())

MODELS = {
    "misra1a": lambda x, b1, b2: b1 * (1 - np.exp(-b2 * x)),
    "misra1d": lambda x, b1, b2: b1 * b2 * x / (1 + b2 * x),
    "danwood": lambda x, b1, b2: b1 * x**b2,
    "mgh09": lambda x, b1, b2, b3, b4: b1 * (x**2 + x * b2) / (x**2 + x * b3 + b4),
    "boxbod": lambda x, b1, b2: b1 * (1 - np.exp(-b2 * x)),
}
CASES = [(name, k) for name in MODELS for k in range(2)]


def digits(found, certified):
    """Agreeing significant digits, sign included."""
    error = np.max(np.abs(np.asarray(found) - np.asarray(certified)) / np.abs(certified))
    return 16.0 if error == 0 else -np.log10(error)


def run(name, k):
    data = STRD[name]
    return fit_curve(MODELS[name], data["x"], data["y"], dict(zip(data["names"], data["starts"][k], strict=True)))


def test_norris_line_has_the_certified_values():
    data = STRD["norris"]
    fit = fit_line(data["x"], data["y"])
    assert digits(fit.values, data["values"]) >= data["digits"]
    assert digits(fit.standard_uncertainties, data["standard_deviations"]) >= data["digits"] - 2
    assert (
        digits(
            [fit.residual_sd, fit.sum_of_squares],
            [data["residual_standard_deviation"], data["residual_sum_of_squares"]],
        )
        >= data["digits"] - 2
    )
    assert fit.degrees_of_freedom == data["degrees_of_freedom"]


@pytest.mark.parametrize(("name", "k"), CASES)
def test_certified_nonlinear_fits_are_right_or_reported_as_not_converged(name, k):
    data, fit = STRD[name], run(name, k)
    if (name, k) == ("boxbod", 0):  # the far start: right, or owned up to
        assert fit.converged == (digits(fit.values, data["values"]) >= data["digits"])
        if not fit.converged:
            with pytest.raises(FitError, match="did not converge"):
                fit.require("BoxBOD from its far start")
        return
    assert fit.converged, fit.reason
    assert digits(fit.values, data["values"]) >= data["digits"]
    assert digits(fit.standard_uncertainties, data["standard_deviations"]) >= data["digits"] - 2
    assert digits(fit.sum_of_squares, data["residual_sum_of_squares"]) >= data["digits"] - 2
    assert fit.degrees_of_freedom == data["degrees_of_freedom"]


def test_the_digit_count_notices_a_wrong_sign():
    assert digits([-1.0], [1.0]) < 0


def test_the_froehlich_form_is_misra1d_under_other_names():
    data = STRD["misra1d"]
    fit = fit_curve(lambda x, a, b: a * x / (b + x), data["x"], data["y"], {"a": 400.0, "b": 3000.0})
    assert fit.value("a") == pytest.approx(data["values"][0], rel=1e-8)
    assert fit.value("b") == pytest.approx(1 / data["values"][1], rel=1e-8)


def test_parameters_that_act_alike_are_reported_not_returned():
    x = np.linspace(1, 2, 8)
    fit = fit_curve(lambda x, a, b: a * b * x, x, 2 * x + 0.01 * np.sin(9 * x), {"a": 1.0, "b": 1.5})
    assert not fit.converged
    assert "cannot tell a from b" in fit.reason
    line = fit_line([1.0, 1.0, 1.0], [2.0, 2.1, 1.9])
    assert not line.converged
    with pytest.raises(FitError, match="cannot tell intercept from slope"):
        line.require("the line")


def test_a_search_that_is_stopped_early_is_not_called_converged():
    data = STRD["mgh09"]
    fit = fit_curve(
        MODELS["mgh09"],
        data["x"],
        data["y"],
        dict(zip(data["names"], data["starts"][0], strict=True)),
        most_evaluations=5,
    )
    assert not fit.converged


def test_hardly_determined_parameters_carry_a_warning():
    assert any("hardly determine" in w for w in run("mgh09", 1).warnings)
    assert any("told apart poorly" in w for w in run("misra1d", 1).warnings)


def test_a_reading_that_is_no_scatter_is_pointed_out():
    x = np.arange(10.0)
    y = 2 + 3 * x + 0.01 * np.cos(7 * x)
    y[4] += 0.5
    assert fit_line(x, y).suspects == (4,)
    y[4] -= 0.5
    assert fit_line(x, y).suspects == ()


def test_as_many_readings_as_unknowns_leave_nothing_to_judge_by():
    fit = fit_line([1.0, 2.0], [1.0, 2.0], standard_uncertainties=0.1)
    assert fit.degrees_of_freedom == 0
    assert any("nothing is left" in w for w in fit.warnings)
    # slope of two points 1 apart, each 0.1: sqrt(2) * 0.1
    assert fit.standard_uncertainty("slope") == pytest.approx(0.1 * np.sqrt(2))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: fit_line([1.0], [1.0]), "1 reading cannot determine 2 unknowns"),
        (lambda: fit_line([1.0, 2.0], [1.0, float("nan")]), "entry 2"),
        (lambda: fit_line([1.0, 2.0, 3.0], [1.0, 2.0]), "3 numbers"),
        (lambda: fit_linear([[1.0]], [1.0, 2.0], ["a"]), "shape"),
        (lambda: fit_line([1, 2, 3], [1, 2, 3], standard_uncertainties=0.0), "above zero"),
        (lambda: fit_line([1, 2, 3], [1, 2, 3], scale="guess"), "accepted are"),
        (lambda: fit_line([1, 2, 3], [1, 2, 3], scale="stated"), "needs the standard uncertainties"),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_words(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_errors_in_x_widen_the_uncertainty_as_their_slope_says():
    x = np.linspace(0.0, 10.0, 40)
    y = 1.0 + 2.0 * x
    in_y = fit_line(x, y, standard_uncertainties=0.2, scale="stated")
    in_x = fit_line(x, y, x_uncertainties=0.1, scale="stated")
    assert in_x.standard_uncertainties == pytest.approx(in_y.standard_uncertainties, rel=1e-9)


def test_too_much_error_in_x_is_reported_as_a_bias():
    rng = np.random.default_rng(3)
    truth = np.linspace(0.0, 1.0, 30)
    fit = fit_line(truth + rng.normal(0, 0.3, 30), truth, x_uncertainties=0.3)
    assert any("comes out low" in w for w in fit.warnings)


@given(st.floats(-100, 100), st.floats(0.1, 100), st.integers(3, 12), st.floats(1e-3, 1e3))
def test_scaling_the_observations_scales_the_line_and_its_uncertainty(offset, slope, count, factor):
    x = np.linspace(1.0, 3.0, count)
    y = offset + slope * x + np.sin(11 * x)
    one, other = fit_line(x, y), fit_line(x, factor * y)
    assert other.values == pytest.approx(factor * one.values, rel=1e-7, abs=1e-7 * factor)
    assert other.standard_uncertainties == pytest.approx(factor * one.standard_uncertainties, rel=1e-6)


def test_the_response_to_a_changed_reading_is_what_refitting_gives():
    x = np.array([0.1, 0.3, 0.5, 0.8, 1.0, 1.3])
    y = 1.6 * x / (0.9 + x) + 0.003 * np.cos(20 * x)

    def model(x, a, b):
        return a * x / (b + x)

    base = fit_curve(model, x, y, {"a": 1.0, "b": 1.0})
    change = 1e-5 * np.array([1.0, -1.0, 2.0, 0.5, 0.0, -1.0])
    again = fit_curve(model, x, y + change, {"a": 1.0, "b": 1.0})
    assert base.response(change) == pytest.approx(again.values - base.values, rel=0.02)
