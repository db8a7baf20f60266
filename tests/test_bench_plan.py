"""Bench files, plans, starts: nothing beyond a limit is ever recommended, and every refusal names its limit."""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from shuntref.bench.bench_file import BenchFileError, bench_from_text, load_bench
from shuntref.bench.demo import demo_bench
from shuntref.bench.field_loss import field_loss
from shuntref.bench.guess import guess_machine
from shuntref.bench.kit import describe_network, network_duty
from shuntref.bench.plan import make_plan
from shuntref.bench.plan_text import plan_data, plan_text
from shuntref.bench.prediction import Setting, bench_model, own_errors, predict
from shuntref.bench.report_plan import plan_page
from shuntref.cautions import CAUTIONS
from shuntref.cli.bench import plan as plan_command
from shuntref.model.flux import FroehlichFlux, ProportionalFlux
from shuntref.model.load import ConstantTorque
from shuntref.model.resistors import Resistor, parallel, series, single
from shuntref.model.steady import steady_state

BENCH = demo_bench()
PLAN = make_plan(BENCH)

TEXT = """
[machine]
armature_resistance = "0.8 ohm"
field_resistance = "160 ohm"
[flux]
kind = "proportional"
flux_constant = "1.0 V s/(rad A)"
[supply]
voltage = "120 V"
[limits]
speed_rpm = "2000 r/min"
armature_current = "12 A"
[[kit]]
resistance = "10 ohm"
rated_power = "50 W"
count = 3
"""


def test_every_recommended_run_keeps_every_limit_with_its_uncertainty():
    limits = BENCH.limits
    for run in PLAN.runs:
        assert run.speed_rpm + run.expanded <= limits.speed_rpm
        assert abs(run.values["armature_current"]) <= limits.armature_current
        assert run.values["field_current"] <= limits.field_current
        assert run.values["line_current"] <= min(limits.line_current, limits.fuse)
        if run.duty is not None:
            assert run.duty.share <= limits.resistor_share


def test_recommended_runs_stay_below_the_speed_limit_should_the_load_come_off():
    for run in PLAN.runs:
        state = steady_state(
            BENCH.machine,
            supply_voltage=BENCH.supply_voltage,
            load_torque=0.0,
            added_field_resistance=run.resistance if run.circuit == "field" else 0.0,
            added_armature_resistance=run.resistance if run.circuit == "armature" else 0.0,
        )
        assert state.speed_rpm < BENCH.limits.speed_rpm


def test_without_that_rule_the_plan_goes_further():
    daring = replace(BENCH, limits=replace(BENCH.limits, load_may_come_off=False))
    assert max(r.speed_rpm for r in make_plan(daring).runs) > max(r.speed_rpm for r in PLAN.runs) + 20.0


def test_runs_are_predicted_by_the_model_itself():
    for run in PLAN.runs:
        state = steady_state(
            BENCH.machine,
            supply_voltage=120.0,
            load=BENCH.load,
            added_field_resistance=run.resistance if run.circuit == "field" else 0.0,
            added_armature_resistance=run.resistance if run.circuit == "armature" else 0.0,
        )
        assert run.speed_rpm == pytest.approx(state.speed_rpm, rel=1e-12)
        assert run.values["efficiency"] == pytest.approx(state.efficiency, rel=1e-12)
        if run.duty is not None:
            lost = state.added_field_loss if run.circuit == "field" else state.added_armature_loss
            assert run.duty.power == pytest.approx(lost, rel=1e-9)
            assert math.fsum(p.power for p in run.duty.resistors) == pytest.approx(lost, rel=1e-9)


def test_baseline_comes_first_then_field_then_armature_steps_spread_over_the_range():
    assert [run.circuit for run in PLAN.runs] == ["none", *["field"] * 3, *["armature"] * 3]
    up = [run.speed_rpm for run in PLAN.runs[:4]]
    down = [run.speed_rpm for run in (PLAN.runs[0], *PLAN.runs[4:])]
    assert up == sorted(up)
    assert down == sorted(down, reverse=True)
    for steps in (up, down):
        gaps = np.abs(np.diff(steps))
        assert gaps.min() > 0.3 * gaps.max()


def test_every_setting_is_either_permitted_or_refused_by_a_named_limit():
    names = {group.limit for group in PLAN.refused}
    assert {"speed", "speed without load", "resistor rating", "torque reserve"} <= names
    for group in PLAN.refused:
        assert group.example.refusal is not None
        assert group.count <= PLAN.considered[group.circuit]


@settings(max_examples=15)
@given(st.floats(1200.0, 2500.0), st.floats(3.0, 12.0), st.floats(0.2, 1.0))
def test_no_plan_ever_recommends_a_run_beyond_the_limits(top, armature, share):
    bench = replace(
        BENCH,
        most_elements=2,
        limits=replace(
            BENCH.limits,
            speed_rpm=top,
            armature_current=armature,
            resistor_share=share,
            field_current=None,
            line_current=None,
        ),
    )
    plan = make_plan(bench)
    if plan.baseline_refusal is not None:
        assert len(plan.runs) == 1
        assert "No step is planned" in plan_text(plan)
        return
    for run in plan.runs:
        assert run.speed_rpm + run.expanded <= top
        assert run.values["armature_current"] <= armature
        assert run.duty is None or run.duty.share <= share


def test_uncertainty_of_a_plan_is_that_of_hand_propagation():
    # proportional flux, constant torque, no brush drop: omega = U/k - T R/k^2 with k = c U/R_f; derivatives by hand
    bench = bench_from_text(
        TEXT
        + """
[load]
kind = "constant"
load_torque = "4 N m"
[uncertainty]
armature_resistance = "10 %"
field_resistance = "2 %"
supply_voltage = "2 V"
flux = "4 %"
load_torque = "6 %"
"""
    )
    found = predict(bench_model(bench), [Setting()])
    U, R, Rf, T, c = 120.0, 0.8, 160.0, 4.0, 1.0
    k = c * U / Rf
    d_k = -U / k**2 + 2.0 * T * R / k**3
    parts = {
        "armature": -T / k**2 * 0.05 * R,
        "field": d_k * (-k / Rf) * 0.01 * Rf,
        # the supply moves both U and, in a shunt connection, the flux
        "supply": (1.0 / k + d_k * k / U) * 1.0,
        "flux": d_k * k * 0.02,
        "load": -R / k**2 * 0.03 * T,
    }
    expected = math.sqrt(sum(part**2 for part in parts.values())) * 30.0 / math.pi
    assert found.standard_uncertainty(0) == pytest.approx(expected, rel=1e-4)


def test_numeric_sensitivities_are_those_that_the_theory_layer_derives():
    import sympy as sp

    from shuntref.theory.closed_forms import closed_form

    expression = closed_form("speed")
    symbols = {str(symbol): symbol for symbol in expression.free_symbols}
    bench = bench_from_text(
        TEXT + '[load]\nkind = "constant"\nload_torque = "4 N m"\n[uncertainty]\n'
        'armature_resistance = "10 %"\nfield_resistance = "0 %"\nsupply_voltage = "0 V"\n'
        'flux = "4 %"\nload_torque = "6 %"\n'
    )
    values = {"supply_voltage": 120.0, "k_phi": 0.75, "electromagnetic_torque": 4.0, "armature_circuit_resistance": 0.8}
    assert set(symbols) == set(values)
    at = [(symbols[name], value) for name, value in values.items()]
    expected = 0.0
    spreads = {"k_phi": 0.75 * 0.02, "electromagnetic_torque": 4.0 * 0.03, "armature_circuit_resistance": 0.8 * 0.05}
    for name, u in spreads.items():
        expected += (float(sp.diff(expression, symbols[name]).subs(at)) * u) ** 2
    found = predict(bench_model(bench), [Setting()])
    assert found.standard_uncertainty(0) == pytest.approx(math.sqrt(expected) * 30.0 / math.pi, rel=1e-4)


def test_a_difference_of_two_settings_is_surer_than_either():
    found = predict(
        bench_model(BENCH),
        [Setting(), Setting(added_field_resistance=10.0)],
        own_errors("added_field_resistance", [0.0, 0.1]),
    )
    rows = found.speeds.sensitivities
    apart = math.sqrt(float(np.sum((rows[1] - rows[0]) ** 2)))
    assert apart < 0.4 * found.standard_uncertainty(0)


def test_wanted_speeds_get_a_resistor_or_the_reason_why_not():
    wanted = make_plan(replace(BENCH, wanted_speeds=(1200.0, 1650.0, 1740.0, 2600.0))).wanted
    for entry in wanted[:2]:
        state = steady_state(
            BENCH.machine,
            supply_voltage=120.0,
            load=BENCH.load,
            added_field_resistance=entry.resistance if entry.circuit == "field" else 0.0,
            added_armature_resistance=entry.resistance if entry.circuit == "armature" else 0.0,
        )
        assert state.speed_rpm == pytest.approx(entry.wanted_rpm, rel=1e-6)
        assert entry.reached == pytest.approx(entry.wanted_rpm, rel=0.01)
        assert entry.duty.share <= BENCH.limits.resistor_share
    assert "should the load come off" in wanted[2].words
    assert "the highest permitted speed is 1800 r/min" in wanted[3].words
    for entry in wanted[2:]:
        assert (entry.resistance, entry.duty) == (None, None)


def test_an_unreachable_speed_names_the_nearest_and_the_theorem():
    daring = replace(
        BENCH, wanted_speeds=(9000.0,), limits=replace(BENCH.limits, speed_rpm=20000.0, load_may_come_off=False)
    )
    words = make_plan(daring).wanted[0].words
    assert "no resistance added in the field circuit gives 9000 r/min" in words
    assert "the nearest is" in words
    assert "theorem peak-speed" in words


def test_start_keeps_the_wished_current_and_the_fuse_sees_the_field_too():
    start = PLAN.start
    assert start.direct_current == pytest.approx((120.0 - 1.8) / 0.92)
    assert start.needed_resistance == pytest.approx((120.0 - 1.8) / 13.0 - 0.92)
    assert start.suggestion.network.resistance >= start.needed_resistance
    assert start.first_peak <= 13.0
    assert start.first_line_peak == pytest.approx(start.first_peak + 120.0 / 158.0)
    assert start.by_limits.highest_peak <= 13.0 + 1e-9
    assert len(start.by_sections.sections) == 4


def test_a_start_that_the_load_will_not_let_go_is_called_out():
    heavy = replace(BENCH, load=ConstantTorque(5.5), start=replace(BENCH.start, upper_current=7.5, lower_current=7.0))
    words = " ".join(make_plan(heavy).start.remarks)
    assert "it will not start" in words
    assert "raise lower_current or start with less load" in words


def test_open_field_speed_is_that_of_remanence_and_unbounded_without_it():
    light = field_loss(replace(BENCH, load=ConstantTorque(0.0)))
    assert len(light) == 1
    # at the speed reached the remanent EMF and the small drop balance the supply: checked against the laws themselves
    omega, current = light[0].speed_rpm * math.pi / 30.0, light[0].armature_current
    assert 0.020 * omega + current * 0.92 + 1.8 == pytest.approx(120.0, rel=1e-9)
    assert current * 0.020 == pytest.approx(0.22 + 0.13 * omega / (1500.0 * math.pi / 30.0), rel=1e-9)
    bare = replace(BENCH, machine=replace(BENCH.machine, flux=ProportionalFlux(1.0)))
    assert all("no bound from this model" in case.words and case.speed_rpm is None for case in field_loss(bare))


def test_field_control_wastes_less_and_holds_the_speed_better():
    base, field, armature = PLAN.controls[0], PLAN.controls[3], PLAN.controls[6]
    assert field.resistor_loss < armature.resistor_loss
    assert abs(field.regulation) < abs(armature.regulation)
    assert armature.efficiency < base.efficiency


def test_a_speed_limit_above_the_test_level_is_doubted_and_one_below_never_praised():
    doubtful = make_plan(replace(BENCH, limits=replace(BENCH.limits, speed_rpm=2600.0)))
    assert any("DOUBTFUL LIMIT" in note for note in doubtful.notes)
    words = plan_text(PLAN)
    assert "DOUBTFUL" not in words
    assert "not a permission to run it faster" in words


@pytest.mark.parametrize("render", [plan_text, plan_page, lambda p: json.dumps(plan_data(p), ensure_ascii=False)])
def test_every_form_of_a_plan_carries_every_caution(render):
    text = render(PLAN).replace("&#x27;", "'")
    for caution in CAUTIONS:
        assert caution in text
    assert "invented" in text.lower()


def test_combinations_are_described_as_they_are_wired():
    ten, two = single(Resistor(10.0, 50.0)), single(Resistor(2.2, 100.0))
    assert (
        describe_network(parallel(series(ten, two), ten)) == "(10 ohm in series with 2.2 ohm) in parallel with 10 ohm"
    )
    assert network_duty(ten, 1.0).remark == "within its rating; can still burn a hand"
    assert network_duty(ten, 3.0).remark == "beyond its rating"


def test_a_guessed_machine_runs_at_its_nameplate_and_owns_up_to_its_spread():
    plate = {
        "rated_supply_voltage": 220.0,
        "rated_line_current": 20.0,
        "rated_speed_rpm": 1200.0,
        "rated_output_power": 3500.0,
    }
    guess = guess_machine(plate, {"armature_resistance": 0.7})
    assert isinstance(guess.machine.flux, FroehlichFlux)
    state = steady_state(guess.machine, supply_voltage=220.0, load_torque=3500.0 / (1200.0 * math.pi / 30.0))
    assert state.speed_rpm == pytest.approx(1200.0, rel=1e-6)
    assert state.line_current == pytest.approx(20.0, rel=1e-6)
    bench = bench_from_text("""
[guess]
armature_resistance = "0.7 ohm"
[nameplate]
rated_supply_voltage = "220 V"
rated_line_current = "20 A"
rated_speed_rpm = "1200 r/min"
rated_output_power = "3.5 kW"
[supply]
voltage = "220 V"
[limits]
speed_rpm = "1500 r/min"
armature_current = "22 A"
[[kit]]
resistance = "50 ohm"
rated_power = "100 W"
""")
    wide, measured = (predict(bench_model(b), [Setting(added_field_resistance=40.0)]) for b in (bench, BENCH))
    assert wide.standard_uncertainty(0) / wide.speed(0) > 2.0 * measured.standard_uncertainty(0) / measured.speed(0)
    assert any("guessed" in words for words in bench.assumptions)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('voltage = "120 V"', "voltage = 120", "write the value as text"),
        ('voltage = "120 V"', 'voltage = "120 A"', "[supply] voltage: '120 A': 'A' is not a unit of voltage"),
        ('voltage = "120 V"', 'voltag = "120 V"', "[supply] voltage is missing"),
        ('speed_rpm = "2000 r/min"', "", "no plan is made without them"),
        ('armature_current = "12 A"', 'armature_curent = "12 A"', "did you mean armature_current"),
        ('rated_power = "50 W"', 'power = "50 W"', "did you mean rated_power"),
        ('resistance = "10 ohm"', 'resistance = "10 W"', "[kit 1] resistance: '10 W': 'W' is not a unit of resistance"),
        ('rated_power = "50 W"', "", "needs resistance and rated_power"),
        ("count = 3", "count = 2.5", "a whole number from 1"),
        ("count = 3", 'colour = "brown"', "unknown key 'colour'"),
        ("[supply]", "[lamps]\nhow_many = 3\n[supply]", "unknown key 'lamps'"),
        ("[machine]", 'machine_file = "m.toml"\n[machine]', "describe the machine once"),
        ("[supply]", '[uncertainty]\nflux = "-3 %"\n[supply]', "never negative"),
        ("[supply]", '[start]\nupper_current = "5 A"\nlower_current = "6 A"\n[supply]', "not below upper_current"),
        ("[supply]", "[limits2]\n[supply]", "did you mean limits"),
        ("[machine]", "[machine", "not valid TOML"),
    ],
)
def test_an_unusable_bench_file_is_refused_in_one_line_that_says_where(old, new, words):
    assert old in TEXT
    with pytest.raises(BenchFileError, match=re.escape(words)) as caught:
        bench_from_text(TEXT.replace(old, new), where="mine.toml")
    assert str(caught.value).startswith("mine.toml: ")
    assert "\n" not in str(caught.value)


def test_what_a_bench_file_leaves_out_is_assumed_in_words():
    bench = bench_from_text(TEXT)
    assert any("the machine runs light" in words for words in bench.assumptions)
    assert any("armature resistance within 5 %" in words for words in bench.assumptions)
    assert not any("assumed" in words for words in BENCH.assumptions if "starting" not in words)


def test_a_bench_that_breaks_its_own_limit_has_no_plan_and_exit_status_1(tmp_path):
    file = tmp_path / "bench.toml"
    file.write_text(TEXT.replace('"2000 r/min"', '"1000 r/min"'))
    outcome = CliRunner().invoke(plan_command, [str(file)], standalone_mode=False)
    assert outcome.return_value == 1
    assert "No step is planned: the baseline itself breaks a limit" in outcome.output


def test_the_command_writes_a_page_that_fetches_nothing(tmp_path):
    bench, page = tmp_path / "bench.toml", tmp_path / "plan.html"
    bench.write_text(TEXT)
    outcome = CliRunner().invoke(plan_command, [str(bench), "--report", str(page), "--json"], standalone_mode=False)
    assert outcome.exception is None
    assert json.loads(outcome.output)["runs"][0]["circuit"] == "none"
    text = page.read_text(encoding="utf-8")
    assert not re.search(r'(?:src|href)="(?!data:|#)', re.sub(r'xmlns(:\w+)?="[^"]*"', "", text))
    assert load_bench(bench).name == "unnamed bench"


def test_a_load_that_the_motor_cannot_carry_is_told_before_anything_is_planned():
    heavy = TEXT.replace("[limits]", '[load]\nkind = "constant"\nload_torque = "500 N m"\n[limits]')
    with pytest.raises(ValueError, match=r"the motor does not run under this load.*look at \[load\]"):
        make_plan(bench_from_text(heavy, where="heavy.toml"))
