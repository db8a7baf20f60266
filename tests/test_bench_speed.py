"""Uncertainty of a predicted speed: derived sensitivities, differences of the model, refitting and Monte Carlo agree."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.bench.error_sources import ErrorSource, Estimates, fixed
from shuntref.bench.identify import IdentifiedMachine, identify
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.instruments import Instrument
from shuntref.bench.invented_bench import BENCHES, METERS, simulated_log
from shuntref.bench.readings import Run, read_log
from shuntref.bench.speed_uncertainty import compare_speed, predicted_speed, setting_from_run, speed_by_monte_carlo
from shuntref.model.steady import steady_state

MACHINE = {
    "armature_resistance": 0.8,
    "brush_drop": 1.8,
    "field_resistance": 160.0,
    "froehlich_a": 1.6,
    "froehlich_b": 0.9,
    "remanent_k_phi": 0.03,
    "loss_torque_constant": 0.2,
    "loss_torque_proportional": 1e-3,
    "loss_torque_square": 2e-6,
}
SPREAD = {
    "armature_resistance": 0.01,
    "brush_drop": 0.1,
    "field_resistance": 0.5,
    "froehlich_a": 0.01,
    "froehlich_b": 0.01,
    "remanent_k_phi": 0.002,
    "loss_torque_constant": 0.02,
    "loss_torque_proportional": 1e-4,
    "loss_torque_square": 2e-7,
}
SETTING = {
    "supply_voltage": 120.0,
    "added_field_resistance": 20.0,
    "added_armature_resistance": 1.0,
    "load_torque": 5.0,
}
SET_SPREAD = {
    "supply_voltage": 0.3,
    "added_field_resistance": 0.1,
    "added_armature_resistance": 0.01,
    "load_torque": 0.05,
}


def machine_of(values, spread=None):
    return IdentifiedMachine(fixed(values, spread), ())


def proportional():
    values = {k: v for k, v in MACHINE.items() if "froehlich" not in k and "remanent" not in k}
    return {**values, "flux_constant": 1.0}


@pytest.mark.parametrize("values", [MACHINE, proportional()], ids=["froehlich", "proportional"])
@pytest.mark.parametrize("torque", [0.0, 5.0, 12.0])
def test_derived_sensitivities_are_the_slopes_of_the_model(values, torque):
    setting = fixed({**SETTING, "load_torque": torque}, SET_SPREAD)
    machine = machine_of(values, {name: 1e-3 * size for name, size in values.items()})
    theory = predicted_speed(machine, setting, method="theory")
    steps = predicted_speed(machine, setting, method="differences")
    assert set(theory.slopes) == set(steps.slopes)
    for name, slope in theory.slopes.items():
        assert steps.slopes[name] == pytest.approx(slope, rel=2e-5), name
    assert theory.speed_rpm == steps.speed_rpm
    assert theory.standard_uncertainty == pytest.approx(steps.standard_uncertainty, rel=1e-5)


@given(st.floats(0.0, 10.0), st.floats(0.0, 60.0), st.floats(0.0, 3.0), st.floats(100.0, 140.0))
def test_derived_and_differenced_sensitivities_agree_over_the_range(torque, field, armature, volts):
    setting = {
        "supply_voltage": volts,
        "added_field_resistance": field,
        "added_armature_resistance": armature,
        "load_torque": torque,
    }
    machine = machine_of(MACHINE, SPREAD)
    theory = predicted_speed(machine, fixed(setting, SET_SPREAD), method="theory")
    steps = predicted_speed(machine, fixed(setting, SET_SPREAD), method="differences")
    # differences over a tenth of an uncertainty leave an error of third order
    assert theory.standard_uncertainty == pytest.approx(steps.standard_uncertainty, rel=1e-3)


def test_a_slope_worked_by_hand():
    # proportional flux, no drop, no load: n = (R_f + R_fx)/c whatever the voltage: 9.549 r/min per ohm, nothing per volt
    machine = machine_of(
        {
            "armature_resistance": 0.8,
            "field_resistance": 160.0,
            "flux_constant": 1.0,
            "brush_drop": 0.0,
            "loss_torque_constant": 1e-12,
        }
    )
    found = predicted_speed(machine, {"supply_voltage": 120.0, "added_field_resistance": 10.0})
    assert found.speed_rpm == pytest.approx(170.0 * 30 / math.pi)
    assert found.slopes["added_field_resistance"] == pytest.approx(30 / math.pi)
    assert abs(found.slopes["supply_voltage"]) < 1e-9


def test_correlated_parameters_are_not_added_as_if_they_were_not():
    shared = ErrorSource("meter: gain", "", "meter: gain", shape="rectangular")
    values = np.array(list(MACHINE.values()))
    column = np.zeros(len(values))
    names = tuple(MACHINE)
    column[names.index("froehlich_a")], column[names.index("field_resistance")] = 0.01 * 1.6, 0.01 * 160.0
    machine = IdentifiedMachine(Estimates(names, values, (shared,), column[:, None]), ())
    found = predicted_speed(machine, SETTING)
    parts = found.contributions
    assert parts["froehlich_a"] < 0 < parts["field_resistance"]
    assert found.standard_uncertainty == pytest.approx(abs(parts["froehlich_a"] + parts["field_resistance"]))
    assert found.standard_uncertainty < 0.8 * math.hypot(*parts.values())


def test_monte_carlo_agrees_where_the_model_is_nearly_straight():
    machine = machine_of(MACHINE, SPREAD)
    setting = fixed(SETTING, SET_SPREAD)
    first = predicted_speed(machine, setting)
    drawn = speed_by_monte_carlo(machine, setting, seed=11, trials=100_000)
    assert drawn.mean == pytest.approx(first.speed_rpm, abs=0.05 * first.standard_uncertainty)
    assert drawn.standard_uncertainty == pytest.approx(first.standard_uncertainty, rel=0.015)
    low, high = drawn.symmetric
    assert (high - low) / 2 == pytest.approx(first.expanded_uncertainty(), rel=0.03)


def test_the_vector_form_behind_monte_carlo_is_the_model_itself():
    machine = machine_of(MACHINE, {"armature_resistance": 1e-9})
    drawn = speed_by_monte_carlo(machine, SETTING, seed=1, trials=50)
    state = steady_state(machine.machine(), **SETTING)
    assert drawn.mean == pytest.approx(state.speed_rpm, rel=1e-10)


def test_a_table_curve_goes_by_differences_and_says_so():
    rows = "run,test,E [V],If [A],n [r/min]\n"
    for k, i in enumerate((0.0, 0.2, 0.5, 0.8, 1.1)):
        rows += f"{k},generator,{(0.03 + 1.6 * i / (0.9 + i)) * 50 * math.pi:.4f},{i},1500\n"
    meters = InstrumentSet((Instrument("V", ("back_emf", "supply_voltage"), percent_of_reading=0.5),))
    found = identify(
        read_log(rows),
        meters,
        curve="table",
        stated=fixed({"armature_resistance": 0.8, "brush_drop": 1.8, "field_resistance": 160.0}),
    )
    speed = predicted_speed(found, {"supply_voltage": 120.0, "load_torque": 5.0})
    assert "differences" in speed.method
    # half a per cent of flux, rectangular, is a little more than half a per cent of speed
    assert speed.standard_uncertainty / speed.speed_rpm == pytest.approx(0.005 / math.sqrt(3), rel=0.1)
    with pytest.raises(ValueError, match="table"):
        predicted_speed(found, {"supply_voltage": 120.0}, method="theory")
    drawn = speed_by_monte_carlo(found, {"supply_voltage": 120.0, "load_torque": 5.0}, seed=2, trials=400)
    assert drawn.standard_uncertainty == pytest.approx(speed.standard_uncertainty, rel=0.15)


def test_a_reading_that_serves_twice_is_one_reading():
    bench = BENCHES["motor only"]
    log = simulated_log(np.random.default_rng(2), bench.runs)
    found = bench.identified(log, np.random.default_rng(0))
    run = next(r for r in log.runs if r.test == "no-load")
    setting = setting_from_run(run, METERS, found.parameters)
    joined = found.parameters.joined(setting)
    assert len(joined.sources) < len(found.parameters.sources) + len(setting.sources)


def test_predicted_speeds_cover_the_truth_as_stated(capsys):
    bench = BENCHES["separate tests"]
    state = steady_state(machine_of(dict(bench.truth)).machine(), **SETTING)
    truth = {k: v for k, v in SETTING.items() if k != "added_armature_resistance"}
    truth_rpm = steady_state(machine_of(dict(bench.truth)).machine(), **truth).speed_rpm
    assert truth_rpm > state.speed_rpm
    generator = np.random.default_rng(12)
    inside, agreed, repetitions = 0, 0, 300
    for _ in range(repetitions):
        log = simulated_log(generator, (*bench.runs, ("load", {**truth, "speed_rpm": truth_rpm})))
        found = bench.identified(log, generator)
        run = log.runs[-1]
        prediction = predicted_speed(found, setting_from_run(run, METERS, found.parameters))
        inside += abs(prediction.speed_rpm - truth_rpm) <= prediction.expanded_uncertainty()
        agreed += compare_speed(prediction, run, METERS).agrees
    with capsys.disabled():
        print(
            f"figure: predicted speed within its stated uncertainty: {100 * inside / repetitions:.1f} % of {repetitions}; "
            f"|En| <= 1: {100 * agreed / repetitions:.1f} %"
        )
    # 300 repetitions show a rate of 95 % to 1.3 %
    assert 0.90 <= inside / repetitions <= 0.995
    # En adds two expanded uncertainties in squares: nearer to one than 95 % when neither rules alone
    assert agreed / repetitions >= 0.92


def test_en_takes_out_what_the_same_tachometer_put_into_both():
    gain = Instrument("tacho", ("speed_rpm",), percent_of_reading=1.0)
    run = Run("1", "load", (1,), {"speed_rpm": 1500.0}, {"speed_rpm": 1}, {})
    source = gain.common_errors(np.array([1500.0]))[0][0]
    own = ErrorSource("other", "", "other")
    estimate = Estimates(("speed_rpm",), np.array([1480.0]), (source, own), np.array([[15 / math.sqrt(3), 3.0]]))
    prediction = dataclasses.replace(predicted_speed(machine_of(MACHINE), SETTING), estimate=estimate)
    together = compare_speed(prediction, run, InstrumentSet((gain,)))
    assert together.score == pytest.approx(20 / (1.96 * 3.0), rel=1e-3)
    assert "differ by more" in together.meaning


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ({"added_field_resistance": 1.0}, "needs its supply voltage"),
        ({"supply_voltage": 120.0, "weather": 1.0}, "does not state 'weather'"),
        ({"supply_voltage": 120.0, "load_torque": 1000.0}, "torque"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_in_words(setting, words):
    with pytest.raises(ValueError, match=words):
        predicted_speed(machine_of(MACHINE), setting)


@pytest.mark.parametrize(
    ("connection", "extra"),
    [
        ("shunt", {"line_resistance": 0.5}),
        ("separate", {"field_voltage": 110.0}),
        ("separate", {"field_voltage": 110.0, "line_resistance": 0.5}),
    ],
)
@pytest.mark.parametrize("values", [MACHINE, proportional()], ids=["froehlich", "proportional"])
def test_line_resistance_and_a_field_supply_have_derived_sensitivities_too(values, connection, extra):
    setting = {**SETTING, **extra}
    spread = {**SET_SPREAD, "line_resistance": 0.005, "field_voltage": 0.3}
    machine = machine_of(values, {name: 1e-3 * size for name, size in values.items()})
    machine = dataclasses.replace(machine, connection=connection)
    chosen = fixed(setting, {name: spread[name] for name in setting})
    theory = predicted_speed(machine, chosen, method="theory")
    steps = predicted_speed(machine, chosen, method="differences")
    assert set(theory.slopes) == set(steps.slopes)
    for name, slope in theory.slopes.items():
        assert steps.slopes[name] == pytest.approx(slope, rel=2e-5), name
    drawn = speed_by_monte_carlo(machine, chosen, seed=3, trials=400)
    assert drawn.standard_uncertainty == pytest.approx(theory.standard_uncertainty, rel=0.15)


def test_regeneration_goes_by_differences():
    found = predicted_speed(machine_of(MACHINE, SPREAD), {"supply_voltage": 120.0, "load_torque": -5.0})
    assert "differences" in found.method
    assert found.standard_uncertainty > 0
