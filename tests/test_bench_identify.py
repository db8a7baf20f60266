"""Identification: the truth comes back from exact readings, errors are carried as refitting would, doubts are spoken."""

import dataclasses
import math

import numpy as np
import pytest

from shuntref.bench.coverage import coverage_experiment
from shuntref.bench.error_sources import fixed
from shuntref.bench.fitting import FitError
from shuntref.bench.identify import identify
from shuntref.bench.identify_flux import magnetisation_curve
from shuntref.bench.identify_loss import loss_torque
from shuntref.bench.identify_resistances import (
    armature_from_volt_ampere,
    effective_field_resistance,
    field_resistance,
    field_resistance_at,
)
from shuntref.bench.instrument_set import InstrumentSet
from shuntref.bench.instruments import Instrument
from shuntref.bench.invented_bench import BENCHES, METERS, simulated_log
from shuntref.bench.no_load_examples import no_load_examples
from shuntref.bench.readings import BenchLog, Run, read_log

NONE = InstrumentSet()
IDEAL = InstrumentSet(
    tuple(dataclasses.replace(m, percent_of_reading=0.0, scatter=0.0, resolution=0.0) for m in METERS.instruments)
)


def log_of(*rows, test=""):
    """A log straight from values, one run for each row."""
    runs = (Run(str(i), test, (i + 1,), dict(row), dict.fromkeys(row, 1), {}) for i, row in enumerate(rows, 1))
    return BenchLog(tuple(runs), (), ())


@pytest.mark.parametrize("name", BENCHES)
def test_exact_readings_give_back_the_truth(name):
    bench = BENCHES[name]
    log = simulated_log(np.random.default_rng(1), bench.runs, IDEAL)

    class Unmoved:
        def standard_normal(self):
            return 0.0

    found = bench.identified(log, Unmoved())
    assert not found.missing
    for parameter in found.parameters.names:
        assert found.value(parameter) == pytest.approx(bench.truth[parameter], rel=1e-7)


def moved(log, instrument, shift):
    """The same log as it would be had every reading of ``instrument`` been shifted."""
    runs = []
    for run in log.runs:
        values = {n: shift(v) if n in instrument.reads else v for n, v in run.values.items()}
        runs.append(dataclasses.replace(run, values=values))
    return dataclasses.replace(log, runs=tuple(runs))


@pytest.mark.parametrize("name", ["separate tests", "motor only"])
def test_each_meters_error_moves_the_result_as_stated(name):
    bench = BENCHES[name]
    log = simulated_log(np.random.default_rng(3), bench.runs)
    base = bench.identified(log, np.random.default_rng(0))
    estimates = base.parameters
    checked = 0
    for meter in METERS.instruments:
        keys = [s.key for s in estimates.sources]
        if f"{meter.name}: gain" not in keys:
            continue
        column = estimates.sensitivities[:, keys.index(f"{meter.name}: gain")]
        gain = meter.gain_limit / math.sqrt(3)
        again = bench.identified(moved(log, meter, lambda v, g=gain: v * (1 + g)), np.random.default_rng(0)).parameters
        expected = again.values - estimates.values
        # first order against a full refit: second-order terms are of the relative size of the gain, some 0.2 %
        assert column == pytest.approx(
            expected, rel=0.03, abs=2e-3 * float(np.max(estimates.standard_uncertainties)) + 1e-9
        )
        checked += 1
    assert checked >= 4


def test_the_stated_scatter_is_that_of_repeated_logs():
    bench = BENCHES["motor only"]
    meters = InstrumentSet(tuple(dataclasses.replace(m, percent_of_reading=0.0) for m in METERS.instruments))
    generator = np.random.default_rng(5)
    rows, stated = [], []
    for _ in range(150):
        found = identify(
            simulated_log(generator, bench.runs, meters), meters, remanence=False, loss_law="constant"
        ).parameters
        rows.append(found.values)
        stated.append(found.covariance)
    seen, mean = np.cov(np.array(rows).T), np.mean(stated, axis=0)
    scale = np.sqrt(np.diag(mean))
    # 150 logs show a standard deviation to 6 % and a correlation to 0.08: three of those
    assert np.sqrt(np.diag(seen)) == pytest.approx(scale, rel=0.18)
    assert seen / np.outer(scale, scale) == pytest.approx(mean / np.outer(scale, scale), abs=0.36)


@pytest.mark.parametrize("bench", BENCHES)
def test_stated_uncertainties_cover_the_truth_in_a_thousand_repetitions(bench, capsys):
    result = coverage_experiment(1000, 20, bench=bench)
    with capsys.disabled():
        print("\n".join(f"figure: {line}" for line in result.text().splitlines()))
    assert result.repetitions == 1000
    assert result.failures == 0
    assert len(result.rates) >= 1
    for parameter, rate in result.rates.items():
        assert 0.90 <= rate <= 0.99, parameter


def test_leaving_the_meters_limits_out_of_the_statement_is_noticed():
    bench = BENCHES["separate tests"]
    blind = InstrumentSet(tuple(dataclasses.replace(m, percent_of_reading=0.0) for m in METERS.instruments))
    careless = dataclasses.replace(
        bench,
        identified=lambda log, generator: identify(log, blind, remanence=True, loss_law="constant and proportional"),
    )
    rates = coverage_experiment(100, 20, bench=careless).rates
    assert rates["field_resistance"] < 0.6
    assert rates["armature_resistance"] < 0.9


VOLT_AMPERE = [{"armature_current": float(i), "armature_voltage": 1.8 + 0.8 * i} for i in (2, 4, 6, 8, 10, -3, -6, -9)]
for row in VOLT_AMPERE:
    if row["armature_current"] < 0:
        row["armature_voltage"] = -1.8 + 0.8 * row["armature_current"]


def test_both_polarities_of_a_volt_ampere_test_are_used():
    found = armature_from_volt_ampere(log_of(*VOLT_AMPERE, test="volt-ampere"), NONE)
    assert found.value("armature_resistance") == pytest.approx(0.8)
    assert found.value("brush_drop") == pytest.approx(1.8)


def test_a_known_brush_drop_passes_its_uncertainty_on():
    log = log_of(*[{"armature_current": 10.0, "armature_voltage": 10.0}] * 3, test="volt-ampere")
    found = armature_from_volt_ampere(log, NONE, brush_drop=2.0, brush_drop_u=0.5)
    assert found.value("armature_resistance") == pytest.approx(0.8)
    assert found.standard_uncertainty("armature_resistance") == pytest.approx(0.05)


def test_one_wrong_reading_is_named_with_its_line():
    rows = [dict(row) for row in VOLT_AMPERE]
    rng = np.random.default_rng(2)
    for row in rows:
        row["armature_voltage"] += 0.02 * rng.standard_normal()
    rows[3]["armature_voltage"] += 2.0
    found = armature_from_volt_ampere(log_of(*rows, test="volt-ampere"), NONE)
    assert any("run 4 (line 5)" in w and "look at that reading" in w for w in found.warnings)


def test_a_brush_drop_that_changes_with_current_shows():
    rows = [
        {"armature_current": i, "armature_voltage": 0.8 * i + 2.0 * i / (i + 2.0)} for i in np.linspace(0.5, 12, 14)
    ]
    found = armature_from_volt_ampere(log_of(*rows, test="volt-ampere"), NONE)
    assert any("bend" in w for w in found.warnings)


def test_currents_too_much_alike_cannot_separate_resistance_from_drop():
    rows = [{"armature_current": 5.0, "armature_voltage": 6.0 + e} for e in (0.0, 0.01, -0.01)]
    with pytest.raises(FitError, match="cannot tell armature_resistance from brush_drop"):
        armature_from_volt_ampere(log_of(*rows, test="volt-ampere"), NONE)


def test_field_resistance_takes_the_added_one_off_and_travels_to_another_temperature():
    rows = [
        {
            "supply_voltage": 120.0,
            "field_current": 120.0 / (160.0 + r),
            "added_field_resistance": r,
            "winding_temperature": 40.0,
        }
        for r in (0.0, 20.0, 40.0)
    ]
    found = field_resistance(log_of(*rows), NONE)
    assert found.value("field_resistance") == pytest.approx(160.0)
    # (235 + 75)/(235 + 40) worked by hand
    warm = field_resistance_at(found.estimates, 75.0, 235.0)
    assert warm.value("field_resistance") == pytest.approx(160.0 * 310.0 / 275.0)
    cold = field_resistance(
        log_of(*[{k: v for k, v in row.items() if k != "winding_temperature"} for row in rows]), NONE
    )
    assert any("no winding temperature" in w for w in cold.warnings)
    with pytest.raises(ValueError, match="without a winding temperature"):
        field_resistance_at(cold.estimates, 75.0, 235.0)


def test_a_field_that_warms_up_during_the_readings_shows():
    rows = [{"field_voltage": 120.0, "field_current": 120.0 / (160.0 * (1 + 0.01 * k))} for k in range(6)]
    found = field_resistance(log_of(*rows, test="field"), NONE)
    assert any("+5.0 %" in w and "warming up" in w for w in found.warnings)


def test_winding_resistance_from_speeds_alone_does_not_care_about_the_tachometer():
    def log(gain):
        return log_of(
            *[{"speed_rpm": gain * 9.0 * (160.0 + r), "added_field_resistance": r} for r in (0.0, 30.0, 60.0, 90.0)],
            test="no-load",
        )

    meters = InstrumentSet((Instrument("tacho", ("speed_rpm",), percent_of_reading=5.0),))
    for gain in (1.0, 1.05):
        found = effective_field_resistance(log(gain), meters)
        assert found.value("effective_field_resistance") == pytest.approx(160.0)
        assert found.standard_uncertainty("effective_field_resistance") < 1e-6
        assert any("not corrected" in w for w in found.warnings)


def test_the_armature_drop_is_corrected_when_it_is_known():
    bench = BENCHES["speeds alone"]
    log = simulated_log(np.random.default_rng(1), bench.runs, IDEAL)
    plain = effective_field_resistance(log, NONE)
    mended = effective_field_resistance(log, NONE, known=fixed({"armature_resistance": 0.8}))
    assert mended.value("effective_field_resistance") == pytest.approx(160.0, rel=1e-9)
    assert abs(plain.value("effective_field_resistance") - 160.0) > 0.1


def test_saturation_bends_the_speed_line_and_is_said():
    rows = []
    for r in np.linspace(0.0, 120.0, 9):
        current = 120.0 / (160.0 + r)
        rows.append(
            {"speed_rpm": 120.0 / (1.6 * current / (0.9 + current)) * 30 / math.pi, "added_field_resistance": float(r)}
        )
    rng = np.random.default_rng(4)
    for row in rows:
        row["speed_rpm"] += rng.standard_normal()
    straight = effective_field_resistance(log_of(*rows, test="no-load"), NONE)
    # U/k_phi = (b (R_f + R_fx) + U)/a for a Froehlich curve: a straight line still, that cuts zero at R_f + U/b
    assert not any("straight line" in w for w in straight.warnings)
    assert abs(straight.value("effective_field_resistance") - (160.0 + 120.0 / 0.9)) < straight.expanded_uncertainty(
        "effective_field_resistance"
    )
    for row in rows:
        row["speed_rpm"] *= 1.0 + 4e-6 * (row["added_field_resistance"] - 60.0) ** 2
    bent = effective_field_resistance(log_of(*rows, test="no-load"), NONE)
    assert any("straight line" in w for w in bent.warnings)


def test_saturation_shows_when_both_field_resistances_are_compared():
    rows = []
    for k, r in enumerate((0.0, 30.0, 60.0, 90.0, 120.0)):
        current = 120.0 / (160.0 + r)
        wobble = 1.0 + 2e-4 * (-1) ** k
        rows.append(
            {
                "speed_rpm": 120.0 / (1.6 * current / (0.9 + current)) * 30 / math.pi * wobble,
                "supply_voltage": 120.0,
                "added_field_resistance": r,
                "field_current": current,
            }
        )
    found = identify(log_of(*rows, test="no-load"), METERS)
    assert any("differs by +13" in w and "saturates" in w for w in found.warnings)


def test_a_loaded_or_misplaced_resistor_is_not_read_as_a_field_resistance():
    rows = [{"speed_rpm": 1500.0 - 5 * r, "added_field_resistance": r} for r in (0.0, 10.0, 20.0)]
    with pytest.raises(FitError, match="another circuit"):
        effective_field_resistance(log_of(*rows, test="no-load"), NONE)
    with pytest.raises(FitError, match="three different"):
        effective_field_resistance(log_of(*rows[:2], test="no-load"), NONE)


CURVE = [
    {"field_current": i, "speed_rpm": 1500.0, "back_emf": (0.03 + 1.6 * i / (0.9 + i)) * 50 * math.pi}
    for i in (0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
]


def test_the_curve_as_a_table_goes_through_the_readings():
    log = log_of(*CURVE, test="generator")
    found = identify(log, stated=fixed({"armature_resistance": 0.8, "field_resistance": 160.0}), curve="table")
    flux = found.machine().flux
    for row in CURVE:
        assert flux.k_phi(row["field_current"]) * 50 * math.pi == pytest.approx(row["back_emf"])
    assert any("nothing tells how the readings scatter" in w for w in found.warnings)


def test_remanence_that_does_not_stand_out_is_left_out_and_said():
    rng = np.random.default_rng(6)
    rows = [
        {**row, "back_emf": row["back_emf"] - 0.03 * 50 * math.pi + 0.3 * rng.standard_normal()} for row in CURVE[1:]
    ]
    found = magnetisation_curve(log_of(*rows, test="generator"), NONE)
    assert found.estimates.names == ("froehlich_a", "froehlich_b")
    assert any("does not stand out" in w for w in found.warnings)
    kept = magnetisation_curve(log_of(*CURVE, test="generator"), NONE)
    assert kept.value("remanent_k_phi") == pytest.approx(0.03)


def test_a_curve_that_hardly_bends_says_that_it_does_not_determine_froehlich():
    rng = np.random.default_rng(8)
    rows = [
        {"field_current": i, "speed_rpm": 1500.0, "back_emf": 157.0 * i * (1 - 0.02 * i) + 0.05 * rng.standard_normal()}
        for i in np.linspace(0.1, 1.0, 9)
    ]
    found = magnetisation_curve(log_of(*rows, test="generator"), NONE, remanence=False)
    assert any("hardly bends" in w for w in found.warnings)
    assert any("told apart poorly" in w for w in found.warnings)


def test_going_up_and_down_with_the_field_is_noticed():
    rows = [CURVE[k] for k in (0, 2, 4, 6, 5, 3, 1)]
    assert any("one direction" in w for w in magnetisation_curve(log_of(*rows, test="generator"), NONE).warnings)


def test_one_field_current_is_no_curve():
    with pytest.raises(FitError, match="1 different field current cannot show"):
        magnetisation_curve(log_of(*[CURVE[3]] * 4, test="generator"), NONE)


def test_readings_that_agree_better_than_their_scatter_accuse_nobody():
    rows = [{"added_field_resistance": 20.0 * k, "speed_rpm": 1500.0 + 190.0 * k - 2.0 * (k == 5)} for k in range(6)]
    found = effective_field_resistance(log_of(*rows, test="no-load"), METERS)
    assert not any("look at that reading" in w for w in found.warnings)
    rows[5]["speed_rpm"] -= 60.0
    found = effective_field_resistance(log_of(*rows, test="no-load"), METERS)
    assert any("run 6 (line 7)" in w for w in found.warnings)


def test_motor_readings_need_the_armature_resistance_first():
    rows = [{"supply_voltage": 120.0, "armature_current": 0.5, "speed_rpm": 1400.0, "field_current": 0.7}]
    with pytest.raises(FitError, match="armature resistance first"):
        magnetisation_curve(log_of(*rows, test="no-load"), NONE)


def loss_log(terms, noise=0.002, seed=9):
    rng = np.random.default_rng(seed)
    rows = []
    for speed in np.linspace(300.0, 2100.0, 13):
        omega = speed * math.pi / 30
        torque = sum(t * omega**k for k, t in enumerate(terms))
        current = torque / 0.75 * (1 + noise * rng.standard_normal())
        rows.append(
            {"supply_voltage": 0.75 * omega + 1.8 + 0.8 * current, "armature_current": current, "speed_rpm": speed}
        )
    return log_of(*rows, test="no-load")


KNOWN = fixed({"armature_resistance": 0.8, "brush_drop": 1.8})


@pytest.mark.parametrize(
    ("terms", "names"),
    [
        ((0.4,), ("loss_torque_constant",)),
        ((0.2, 1e-3), ("loss_torque_constant", "loss_torque_proportional")),
        ((0.2, 0.0, 1e-5), ("loss_torque_constant", "loss_torque_square")),
    ],
)
def test_the_speed_law_of_the_loss_torque_is_found_and_not_overdone(terms, names):
    found = loss_torque(loss_log(terms), NONE, known=KNOWN)
    assert found.estimates.names == names
    truth = [t for t in terms if t]
    assert found.estimates.values == pytest.approx(truth, rel=0.05)


def test_a_loss_law_that_the_readings_contradict_is_said():
    found = loss_torque(loss_log((0.6, -1e-3)), NONE, known=KNOWN, law="constant and proportional")
    assert any("below zero" in w for w in found.warnings)
    with pytest.raises(ValueError, match="accepted are auto"):
        loss_torque(loss_log((0.4,)), NONE, known=KNOWN, law="cubic")


def test_a_no_load_run_with_a_load_is_refused():
    log = loss_log((0.4,))
    runs = list(log.runs)
    runs[2] = dataclasses.replace(runs[2], values={**runs[2].values, "load_torque": 3.0})
    with pytest.raises(FitError, match="filed as no-load but has a load torque"):
        loss_torque(dataclasses.replace(log, runs=tuple(runs)), NONE, known=KNOWN)


CSV = """Bench 3, invented
run;test;armature volts;armature amps;field volts;field amps;E [V];n, r/min;U [V];remark
1;volt-ampere;3,40;2,00;;;;;;rotor held
2;volt-ampere;5,01;4,00;;;;;;
3;volt-ampere;6,59;6,00;;;;;;
4;volt-ampere;8,20;8,00;;;;;;
5;field;;;120,1;0,750;;;;
6;field;;;100,0;0,626;;;;
7;generator;;;;0,000;4,8;1500;;
8;generator;;;;0,200;50,3;1500;;
9;generator;;;;0,400;82,1;1501;;
10;generator;;;;0,600;105,3;1500;;
11;generator;;;;0,800;122,8;1499;;
12;generator;;;;1,000;137,2;1500;;
13;no-load;;0,55;;;;1500;119,9;
14;no-load;;0,54;;;;1200;96,6;
15;no-load;;0,55;;;;900;73,1;
"""


def test_a_log_from_a_spreadsheet_becomes_a_machine_that_runs():
    found = identify(read_log(CSV), METERS, name="bench 3", invented=True)
    machine = found.machine()
    assert machine.invented
    assert machine.armature_resistance == pytest.approx(0.8, abs=0.01)
    assert machine.field_resistance == pytest.approx(160.0, abs=1.0)
    assert machine.flux.k_phi(0.75) == pytest.approx(0.03 + 1.6 * 0.75 / 1.65, rel=0.01)
    assert machine.loss_torque.torque(150.0) == pytest.approx(0.41, abs=0.03)
    report = found.report()
    for words in ("armature_resistance = 0.", "95 %", "degrees of freedom", "correlation", "warning"):
        assert words in report


def test_what_is_missing_is_named_with_what_would_give_it():
    found = identify(log_of(*CURVE, test="generator"), NONE)
    assert any(m.startswith("armature resistance: the log has no runs") and "'volt-ampere'" in m for m in found.missing)
    with pytest.raises(FitError, match="without its armature resistance"):
        found.machine()


def test_a_brush_drop_below_zero_is_taken_as_none_and_said():
    rows = [{"armature_current": float(i), "armature_voltage": 0.8 * i - 0.05} for i in range(2, 10)]
    found = identify(log_of(*rows, test="volt-ampere"), NONE)
    assert found.value("brush_drop") == 0.0
    assert any("taken as none" in w for w in found.warnings)


def test_two_instruments_for_one_quantity_are_refused():
    with pytest.raises(ValueError, match="both read field_current"):
        InstrumentSet((Instrument("A1", ("field_current",)), Instrument("A2", ("field_current", "armature_current"))))


@pytest.mark.parametrize("example", no_load_examples(), ids=lambda e: e.identity)
def test_published_no_load_tests_come_out_as_printed(example):
    found = example.computed()
    for name, printed in example.printed.items():
        assert abs(found[name] - float(printed)) <= example.allowance(name), name


def test_a_zero_where_none_can_be_is_named():
    rows = [
        {**CURVE[k], "speed_rpm": 1500.0 if k != 3 else 0.0, "supply_voltage": 120.0, "armature_current": 0.5}
        for k in range(1, 6)
    ]
    rows = [{n: v for n, v in row.items() if n != "back_emf"} for row in rows]
    with pytest.raises(FitError, match=r"run 3 \(line 4\) has no speed"):
        magnetisation_curve(log_of(*rows, test="no-load"), NONE, known=KNOWN)


def test_draws_of_thousands_of_readings_keep_their_covariance():
    found = identify(
        simulated_log(np.random.default_rng(1), BENCHES["motor only"].runs), METERS, remanence=False
    ).parameters
    draws = found.sample(40_000, np.random.default_rng(2))
    # a t distribution with n degrees of freedom has n/(n - 2) times the variance of its scale
    widen = np.array([s.dof / (s.dof - 2) if math.isfinite(s.dof) else 1.0 for s in found.sources])
    expected = (found.sensitivities * widen) @ found.sensitivities.T
    scale = np.sqrt(np.diag(expected))
    # 40 000 draws show a correlation to 0.005 and a spread to half a per cent: four of those
    assert np.cov(draws.T) / np.outer(scale, scale) == pytest.approx(expected / np.outer(scale, scale), abs=0.025)
