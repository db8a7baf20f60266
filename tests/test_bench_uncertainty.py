"""Propagation, expanded uncertainty, Monte Carlo and scores against published examples and an independent library."""

import math
import tomllib
from importlib.resources import files

import numpy as np
import pytest
import uncertainties as oracle
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from shuntref.bench.agreement import normalised_error, zeta_score
from shuntref.bench.error_sources import ErrorSource, Estimates, effective_degrees_of_freedom, fixed
from shuntref.bench.fitting import fit_line
from shuntref.bench.instruments import instrument_from_table
from shuntref.bench.monte_carlo import Joint, Normal, Rectangular, StudentT, monte_carlo
from shuntref.bench.uncertainty import Inputs, combine, coverage_factor, propagate, second_order, sensitivities

TABLE = tomllib.loads(files("shuntref.references").joinpath("standards", "metrology.toml").read_text())

IMPEDANCE = {
    "R": lambda v: v["V"] / v["I"] * math.cos(v["phi"]),
    "X": lambda v: v["V"] / v["I"] * math.sin(v["phi"]),
    "Z": lambda v: v["V"] / v["I"],
}


def h2_inputs():
    e = TABLE["gum-h2"]
    return Inputs.from_readings({"V": e["voltage"], "I": e["current"], "phi": e["phase"]})


def test_gum_h2_means_and_their_correlations():
    e, inputs = TABLE["gum-h2"], h2_inputs()
    assert np.all(np.abs(inputs.values - e["means"]) <= e["means_tolerance"])
    assert np.all(np.abs(inputs.standard_uncertainties - e["mean_u"]) <= e["mean_u_tolerance"])
    found = [inputs.correlation(*pair) for pair in (("V", "I"), ("V", "phi"), ("I", "phi"))]
    assert found == pytest.approx(e["mean_correlations"], abs=0.005)


def test_gum_h2_results_with_correlations():
    e = TABLE["gum-h2"]
    out = propagate(IMPEDANCE, h2_inputs())
    assert out.values == pytest.approx(e["results"], abs=e["results_tolerance"])
    assert np.all(np.abs(out.standard_uncertainties - e["result_u"]) <= e["result_u_tolerance"])
    found = [out.correlation(*pair) for pair in (("R", "X"), ("R", "Z"), ("X", "Z"))]
    assert found == pytest.approx(e["result_correlations"], abs=e["correlation_tolerance"])


def test_gum_h2_without_correlations_is_the_wrong_answer_and_looks_it():
    e = TABLE["gum-h2"]
    names = ("V", "I", "phi")  # from the printed means and uncertainties; from the readings it is 0.1945
    blind = Inputs.stated(dict(zip(names, e["means"], strict=True)), dict(zip(names, e["mean_u"], strict=True)))
    wrong = propagate(IMPEDANCE, blind).standard_uncertainties
    assert wrong == pytest.approx(e["u_without_correlations"], abs=0.0005)
    assert abs(wrong[0] - e["result_u"][0]) > 0.1


def test_gum_h2_through_combine_refuses_to_trust_welch_satterthwaite():
    inputs = h2_inputs()
    result = combine(127.732, sensitivities(IMPEDANCE["R"], inputs), inputs)
    assert result.standard_uncertainty == pytest.approx(0.071, abs=0.0005)
    assert not result.dof_valid
    assert result.dof == 4
    assert "correlated" in result.note


def h1():
    e = TABLE["gum-h1"]
    parts = dict(enumerate(p**2 for p in e["difference_u_parts"]))
    u_d = math.sqrt(sum(parts.values()))
    dof_d = effective_degrees_of_freedom(parts, dict(enumerate(e["difference_u_dofs"])))
    u_theta = math.hypot(e["temperature_deviation_u_mean"], e["temperature_deviation_cycle_amplitude"] / math.sqrt(2))
    inputs = Inputs.stated(
        {
            "l_s": e["standard_length"],
            "d": e["difference"],
            "alpha": e["expansion_coefficient"],
            "theta": e["temperature_deviation"],
            "d_alpha": 0.0,
            "d_theta": 0.0,
        },
        {
            "l_s": e["standard_length_u"],
            "d": u_d,
            "alpha": e["expansion_coefficient_half_width"] / math.sqrt(3),
            "theta": u_theta,
            "d_alpha": e["expansion_difference_half_width"] / math.sqrt(3),
            "d_theta": e["temperature_difference_half_width"] / math.sqrt(3),
        },
        dofs={
            "l_s": e["standard_length_dof"],
            "d": dof_d,
            "d_alpha": e["expansion_difference_dof"],
            "d_theta": e["temperature_difference_dof"],
        },
    )
    return e, u_d, dof_d, inputs


def gauge(v):
    return v["l_s"] + v["d"] - v["l_s"] * (v["d_alpha"] * v["theta"] + v["alpha"] * v["d_theta"])


def test_gum_h1_combined_and_expanded_uncertainty():
    e, u_d, dof_d, inputs = h1()
    assert u_d == pytest.approx(e["difference_u"], abs=0.05)
    assert dof_d == pytest.approx(e["difference_dof"], abs=0.2)  # 25.6 was printed from the rounded 9.7; unrounded 25.4
    here = dict(zip(inputs.names, inputs.values, strict=True))
    result = combine(gauge(here), sensitivities(gauge, inputs), inputs, coverage=e["coverage"])
    assert result.value == pytest.approx(e["length"], abs=0.5)
    assert result.standard_uncertainty == pytest.approx(e["combined_u"], abs=e["combined_u_tolerance"])
    assert math.floor(result.dof) == e["effective_dof"]
    assert result.dof_valid
    assert result.coverage_factor == pytest.approx(e["coverage_factor"], abs=0.005)
    assert result.expanded_uncertainty == pytest.approx(e["expanded"], abs=e["expanded_tolerance"])


def test_gum_h1_second_order_terms():
    e, *_, inputs = h1()
    assert second_order(gauge, inputs) == pytest.approx(e["second_order_u"], abs=0.5)


def test_gum_h3_calibration_line_and_its_prediction():
    e = TABLE["gum-h3"]
    fit = fit_line(np.array(e["temperature"]) - e["reference_temperature"], e["correction"])
    assert fit.values == pytest.approx([e["intercept"][0], e["slope"][0]], abs=0.00005)
    assert fit.standard_uncertainty("intercept") == pytest.approx(e["intercept"][1], abs=0.00005)
    assert fit.standard_uncertainty("slope") == pytest.approx(e["slope"][1], abs=0.000005)
    assert fit.correlation[0, 1] == pytest.approx(e["correlation"], abs=0.0005)
    assert fit.residual_sd == pytest.approx(e["residual_standard_deviation"], abs=0.00005)
    inputs = Inputs(fit.names, fit.values, fit.covariance, (9.0, 9.0))
    at_30 = propagate({"b": lambda v: v["intercept"] + 10 * v["slope"]}, inputs)
    assert at_30.values[0] == pytest.approx(e["at_30"][0], abs=0.00005)
    assert at_30.standard_uncertainties[0] == pytest.approx(e["at_30"][1], abs=0.00005)


def test_jcgm_101_sum_of_four_normals():
    e = TABLE["jcgm-101-normal"]
    result = monte_carlo(
        lambda v: v["a"] + v["b"] + v["c"] + v["d"], [Normal(n, 0.0, 1.0) for n in "abcd"], seed=1, trials=400_000
    )
    assert result.standard_uncertainty == pytest.approx(e["standard_uncertainty"], abs=0.01)
    # 400 000 trials place an end of the interval with a standard deviation of 0.008; four of those, and the printed rounding
    assert result.symmetric == pytest.approx(e["interval"], abs=0.037)


def test_jcgm_101_sum_of_four_rectangulars():
    e = TABLE["jcgm-101-rectangular"]
    result = monte_carlo(
        lambda v: v["a"] + v["b"] + v["c"] + v["d"],
        [Rectangular(n, 0.0, math.sqrt(3)) for n in "abcd"],
        seed=2,
        trials=400_000,
    )
    assert result.standard_uncertainty == pytest.approx(e["standard_uncertainty"], abs=0.01)
    assert result.symmetric == pytest.approx([-e["exact_end"], e["exact_end"]], abs=0.03)
    assert result.symmetric[1] < 3.90  # and not the 3.92 of normals


def test_the_logarithm_that_first_order_propagation_gets_wrong():
    e = TABLE["npl-logarithm"]
    middle, half = (e["low"] + e["high"]) / 2, (e["high"] - e["low"]) / 2
    inputs = Inputs.stated({"x": middle}, {"x": half / math.sqrt(3)})
    first = combine(math.log(middle), {"x": 1 / middle}, inputs)
    assert first.value == pytest.approx(e["first_order_mean"], abs=0.0005)
    assert first.standard_uncertainty == pytest.approx(e["first_order_u"], abs=0.0005)
    result = monte_carlo(lambda v: np.log(v["x"]), [Rectangular("x", middle, half)], seed=3, trials=400_000)
    assert result.mean == pytest.approx(e["mean"], abs=0.004)
    assert result.standard_uncertainty == pytest.approx(e["standard_uncertainty"], abs=0.003)
    assert result.shortest == pytest.approx(e["shortest_interval"], abs=0.012)


def test_thermal_expansion_example_by_both_methods():
    e = TABLE["tn-1900-thermal-expansion"]
    names = ("cold_length", "cold_temperature", "hot_length", "hot_temperature")
    inputs = Inputs.stated({n: e[n][0] for n in names}, {n: e[n][1] for n in names})

    def coefficient(v):
        return (v["hot_length"] - v["cold_length"]) / (
            v["cold_length"] * (v["hot_temperature"] - v["cold_temperature"])
        )

    result = propagate({"alpha": coefficient}, inputs)
    assert result.values[0] == pytest.approx(e["coefficient"], abs=e["coefficient_tolerance"])
    assert result.standard_uncertainties[0] == pytest.approx(
        e["standard_uncertainty"], abs=e["standard_uncertainty_tolerance"]
    )
    drawn = monte_carlo(coefficient, [Normal(n, *e[n]) for n in names], seed=4, trials=200_000)
    assert drawn.standard_uncertainty == pytest.approx(e["standard_uncertainty"], abs=0.02e-6)


def test_the_tachometer_of_common_practice():
    e = TABLE["tachometer"]
    meter = instrument_from_table(
        "tacho", {"kind": "tachometer", "accuracy": e["accuracy"], "resolution": e["resolution"]}
    )
    assert meter.uncertainty(1500.0).components[0].standard_uncertainty == pytest.approx(
        e["standard_uncertainty"], abs=5e-5
    )


SIZES = st.floats(0.5, 5.0)
SMALL = st.floats(1e-4, 0.05)
CORRELATION = st.floats(-0.9, 0.9)


@given(SIZES, SIZES, SIZES, SMALL, SMALL, SMALL, CORRELATION)
def test_propagation_agrees_with_an_independent_library(x, y, z, ux, uy, uz, r):
    inputs = Inputs.stated({"x": x, "y": y, "z": z}, {"x": ux, "y": uy, "z": uz}, correlations={("x", "y"): r})
    ox, oy, oz = oracle.correlated_values([x, y, z], inputs.covariance.tolist())
    functions = {"p": lambda v: v["x"] * v["y"] / v["z"], "q": lambda v: math.sqrt(v["x"]) + v["y"] ** 2 - v["z"]}
    out = propagate(functions, inputs)
    p, q = ox * oy / oz, umath.sqrt(ox) + oy**2 - oz
    # central differences over a tenth of the uncertainty: error of third order in u/x
    assert out.standard_uncertainties == pytest.approx([p.std_dev, q.std_dev], rel=2e-4)
    expected = oracle.covariance_matrix([p, q])[0][1]
    assert out.covariance[0, 1] == pytest.approx(expected, rel=1e-3, abs=1e-4 * p.std_dev * q.std_dev)


@given(SMALL, SMALL, st.integers(1, 20), st.integers(1, 20))
def test_effective_degrees_of_freedom_lie_between_the_least_and_the_sum(u1, u2, n1, n2):
    dof = effective_degrees_of_freedom({"a": u1**2, "b": u2**2}, {"a": n1, "b": n2})
    assert min(n1, n2) * (1 - 1e-9) <= dof <= (n1 + n2) * (1 + 1e-9)


def test_estimates_with_a_shared_source_agree_with_the_independent_library():
    gain, noise = ErrorSource("gain", "", "gain", shape="rectangular"), ErrorSource("noise", "", "noise", 6.0)
    both = Estimates(("x", "y"), np.array([2.0, 3.0]), (gain, noise), np.array([[0.02, 0.0], [0.03, 0.01]]))
    g, n = oracle.ufloat(0, 1), oracle.ufloat(0, 1)
    x, y = 2.0 + 0.02 * g, 3.0 + 0.03 * g + 0.01 * n
    ratio = both.derived("ratio", lambda v: v["x"] / v["y"])
    assert ratio.standard_uncertainties[0] == pytest.approx((x / y).std_dev, rel=1e-6)
    assert both.correlation[0, 1] == pytest.approx(oracle.correlation_matrix([x, y])[0][1])
    assert both.degrees_of_freedom("x") == math.inf
    assert both.degrees_of_freedom("y") == pytest.approx(6.0 * (1 + 9) ** 2)


def test_draws_of_estimates_have_the_stated_covariance():
    gain, noise = ErrorSource("gain", "", "gain", shape="rectangular"), ErrorSource("noise", "", "noise")
    both = Estimates(("x", "y"), np.array([2.0, 3.0]), (gain, noise), np.array([[0.02, 0.0], [0.03, 0.01]]))
    draws = both.sample(200_000, np.random.default_rng(5))
    assert np.cov(draws.T) == pytest.approx(both.covariance, rel=0.02)
    assert np.max(np.abs(draws[:, 0] - 2.0)) <= 0.02 * math.sqrt(3)  # limits are limits


def test_joining_estimates_keeps_common_sources_common():
    a, b = fixed({"x": 1.0}, {"x": 0.1}), fixed({"y": 2.0}, {"y": 0.2})
    assert a.joined(b).correlation[0, 1] == 0.0
    with pytest.raises(ValueError, match="named twice"):
        a.joined(a)


@pytest.mark.parametrize("shape", ["normal", "t", "rectangular"])
def test_joint_draws_have_the_stated_correlation(shape):
    joint = Joint(
        ("x", "y"), np.array([1.0, -2.0]), np.array([0.5, 2.0]), np.array([[1.0, -0.7], [-0.7, 1.0]]), shape, 12.0
    )
    drawn = joint.draw(np.random.default_rng(6), 200_000)
    assert np.corrcoef(drawn["x"], drawn["y"])[0, 1] == pytest.approx(-0.7, abs=0.01)
    widening = math.sqrt(12 / 10) if shape == "t" else 1.0
    assert np.std(drawn["y"]) == pytest.approx(2.0 * widening, rel=0.02)


def test_the_adaptive_procedure_stops_when_the_figures_stand_still_and_says_when_they_do_not():
    inputs = [Normal("a", 0.0, 1.0), StudentT("b", 0.0, 1.0, 8.0)]
    settled = monte_carlo(lambda v: v["a"] + v["b"], inputs, seed=7, digits=1)
    assert settled.settled
    assert settled.trials < 2_000_000
    cut = monte_carlo(lambda v: v["a"] + v["b"], inputs, seed=7, digits=3, most_trials=30_000)
    assert cut.settled is False
    assert cut.trials == 30_000


def test_the_same_seed_gives_the_same_figures_and_another_seed_others():
    def run(seed):
        return monte_carlo(lambda v: v["a"], [Normal("a", 0.0, 1.0)], seed=seed, trials=1000).mean

    assert run(8) == run(8)
    assert run(8) != run(9)


def test_trials_without_an_answer_are_counted_and_refused():
    def root(v):
        with np.errstate(invalid="ignore"):
            return np.sqrt(v["a"])

    with pytest.raises(ValueError, match="of 1000 trials gave no finite result"):
        monte_carlo(root, [Normal("a", 0.1, 1.0)], seed=1, trials=1000)


def test_normalised_error_and_zeta_differ_by_the_coverage_factor():
    # the two sources print 0.785 (zeta) and 0.393 (En) for one row: with k = 2 on both sides En is half of zeta
    zeta = zeta_score(10.785, 10.0, 0.8, 0.6)
    en = normalised_error(10.785, 10.0, 1.6, 1.2)
    assert zeta.score == pytest.approx(0.785)
    assert en.score == pytest.approx(0.3925)
    assert en.agrees
    assert zeta.agrees
    assert not normalised_error(12.1, 10.0, 1.6, 1.2).agrees
    assert "doubtful" in zeta_score(12.5, 10.0, 0.8, 0.6).meaning
    assert "disagreement" in zeta_score(13.0, 10.0, 0.8, 0.6).meaning
    assert normalised_error(9.0, 10.0, 1.6, 1.2).score < 0


def test_common_instruments_make_a_difference_more_telling():
    apart = normalised_error(10.5, 10.0, 0.5, 0.5)
    together = normalised_error(10.5, 10.0, 0.5, 0.5, expanded_covariance=0.2)
    assert abs(together.score) > abs(apart.score)


def test_coverage_factors_are_students_t():
    # two-sided 95 %: 12.71 (1), 2.571 (5), 2.228 (10), 1.960 (normal): any table of Student's t
    assert [round(coverage_factor(n), 3) for n in (1, 5, 10, math.inf)] == [12.706, 2.571, 2.228, 1.96]
    assert coverage_factor(5.9) == coverage_factor(5)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: coverage_factor(0.5), "at least 1"),
        (lambda: coverage_factor(5, 95), "between 0 and 1"),
        (lambda: Inputs.stated({"x": 1.0}, {"x": -1.0}), "standard uncertainty of x is -1"),
        (lambda: Inputs.stated({"x": 1.0}, {"y": 1.0}), "has no value"),
        (
            lambda: Inputs.stated({"x": 1.0, "y": 1.0}, {"x": 1.0, "y": 1.0}, correlations={("x", "y"): 1.5}),
            "from -1 to 1",
        ),
        (
            lambda: Inputs.stated(
                dict.fromkeys("xyz", 1.0),
                dict.fromkeys("xyz", 1.0),
                correlations={("x", "y"): 0.9, ("y", "z"): 0.9, ("x", "z"): -0.9},
            ),
            "contradict",
        ),
        (lambda: Inputs.from_readings({"x": [1.0, 2.0], "y": [1.0]}), "equally many"),
        (lambda: combine(1.0, {"q": 1.0}, Inputs.stated({"x": 1.0}, {"x": 1.0})), "not among the inputs"),
        (lambda: normalised_error(1.0, 2.0, 0.0, 0.0), "above zero"),
        (lambda: normalised_error(1.0, 2.0, -1.0, 0.0), "not negative"),
        (lambda: monte_carlo(lambda v: v["x"], [Normal("x", 0, 1), Normal("x", 0, 1)], seed=1, trials=10), "twice"),
        (
            lambda: monte_carlo(lambda v: v["x"], [Normal("x", 0, math.nan)], seed=1, trials=100),
            "standard uncertainty is nan",
        ),
        (lambda: fixed({"x": 1.0}, {"x": math.inf}), "finite"),
    ],
)
def test_unusable_figures_are_refused_in_words(call, words):
    with pytest.raises(ValueError, match=words):
        call()
