"""A bench planned from a nameplate and a log made by hand: what a technician meets on the first day.

Expected figures are worked out here from the circuit, not by the code under test.
"""

import json
from importlib.resources import files

import numpy as np
import pytest

from shuntref.bench.assumed_instruments import with_assumed_instruments
from shuntref.bench.bench_file import BenchFileError, bench_from_text
from shuntref.bench.causes import _chi_square
from shuntref.bench.plan import make_plan
from shuntref.bench.plan_text import plan_text
from shuntref.bench.readings import read_log
from shuntref.bench.reduction import reduce_log
from shuntref.bench.reduction_text import reduction_text
from shuntref.bench.report_tables import reduction_data
from shuntref.cautions import CAUTIONS

TEXT = """
[guess]
armature_resistance = "2.1 ohm"
field_resistance = "240 ohm"
[nameplate]
rated_supply_voltage = "180 V"
rated_line_current = "6.2 A"
rated_output_power = "0.75 kW"
rated_speed_rpm = "1450 r/min"
rated_field_current = "0.75 A"
[supply]
voltage = "180 V"
[load]
kind = "constant"
load_torque = "3 N m"
[limits]
speed_rpm = "2000 r/min"
armature_current = "6 A"
fuse = "10 A"
[[kit]]
resistance = "22 ohm"
rated_power = "25 W"
count = 4
[[kit]]
resistance = "100 ohm"
rated_power = "50 W"
count = 2
[[kit]]
resistance = "4.7 ohm"
rated_power = "200 W"
count = 4
"""

#: readings as a spreadsheet with decimal commas saves them; worked out by hand from R_a = 2 ohm, U_b = 1.9 V, R_f = 238 ohm,
#: kPhi = 0.035 + 1.95 I_f/(0.72 + I_f), loss torque 0.30 N m + 0.20 N m at 1500 r/min; run 23 with its ammeters swapped
LOG = "\ufeff" + "\r\n".join(
    """Tuesday, second stand;;;;;;;;;;
;;;;;;;;;;
run;test;U [V];U_a [V];U_f [V];I_f [A];I_a [A];R_fx [Ω];R_ax [Ω];T [N·m];n [r/min];temp [°C];note
1;volt-ampere;;3,90;;;1,00;;;;;24;rotor held
2;volt-ampere;;7,89;;;3,00;;;;;24;
3;volt-ampere;;13,91;;;6,00;;;;;24;
;;;;;;;;;;;;
4;field;;;100,0;0,420;;;;;;41;
5;field;;;180,0;0,756;;;;;;41;
;;;;;;;;;;;;
11;no-load;80,0;;;0,336;0,68;0;0;;1118;;
12;no-load;100,0;;;0,420;0,62;0;0;;1227;;
13;no-load;120,0;;;0,504;0,57;0;0;;1333;;
14;no-load;140,0;;;0,588;0,54;0;0;;1435;;
15;no-load;160,0;;;0,672;0,52;0;0;;1536;;
16;no-load;180,0;;;0,756;0,50;0;0;;1636;;
;;;;;;;;;;;;
21;load;180,1;;;0,757;3,39;0;0,0;2,98;1582;;
22;load;180,2;;;0,667;3,62;32;0,0;3,01;1678;;
23;load;180,0;;;3,865;0,59;66;0,0;2,99;1778;;
24;load;179,9;;;0,542;4,07;94;0,0;2,99;1859;;
25;load;179,9;;;0,756;3,38;0;4,7;3,00;1436;;
""".splitlines()
)


def bench(*changes):
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return bench_from_text(text, where="mine.toml")


def test_the_start_and_the_field_step_are_those_of_ohms_law():
    plan = make_plan(bench())
    # (180 V - 2 V brush drop)/9 A - 2.1 ohm, and the first peak through four resistors of 4.7 ohm
    assert plan.start.needed_resistance == pytest.approx(178.0 / 9.0 - 2.1)
    assert plan.start.first_peak == pytest.approx(178.0 / (4 * 4.7 + 2.1))
    first = next(run for run in plan.runs if run.circuit == "field")
    assert first.values["field_current"] == pytest.approx(180.0 / (240.0 + first.network.resistance))


def test_a_start_within_the_fuse_leaves_room_for_the_field_current():
    planned = make_plan(bench(('fuse = "10 A"', 'fuse = "6 A"')))
    assert planned.start.upper_current == pytest.approx(6.0 - 0.75)
    for grading in (planned.start.by_limits, planned.start.by_sections):
        assert grading is None or max(grading.line_peaks(planned.start.field_current)) <= 6.0 + 1e-9
    assert "what the fuse of 6 A leaves beside the 0.75 A of the field" in plan_text(planned)


def test_a_starter_of_too_many_sections_is_called_one():
    narrow = make_plan(bench(('fuse = "10 A"', 'fuse = "6 A"')))
    assert len(narrow.start.by_limits.sections) > 10
    assert any("sections are more than a starter has" in words for words in narrow.start.remarks)
    assert not any("more than a starter has" in words for words in make_plan(bench()).start.remarks)


def test_the_bench_that_the_description_gives_for_a_nameplate_can_be_planned():
    page = files("shuntref.references").joinpath("bench", "README.md").read_text(encoding="utf-8")
    plan = make_plan(bench_from_text(page.split("```toml\n")[1].split("```")[0]))
    assert {run.circuit for run in plan.runs} == {"none", "field", "armature"}
    assert plan.start.suggestion is not None
    assert "DOUBTFUL" not in plan_text(plan)


def test_a_wished_start_above_the_fuse_is_called_out_and_a_fuse_below_the_field_refused():
    wished = bench(('fuse = "10 A"', 'fuse = "9 A"\n[start]\nupper_current = "8.8 A"'))
    assert any(
        "the start may open it; set [start] upper_current to 8.25 A" in words
        for words in make_plan(wished).start.remarks
    )
    with pytest.raises(BenchFileError, match="leave nothing for the armature"):
        bench(('fuse = "10 A"', 'fuse = "0.5 A"'))


def test_no_start_is_suggested_that_would_burn_the_resistors():
    planned = make_plan(bench(('"200 W"', '"20 W"')))
    assert planned.start.suggestion is None
    assert any("NO START FROM THE KIT" in words for words in planned.start.remarks)
    assert "from the kit: " not in plan_text(planned)


def test_resistors_wanted_by_start_and_run_together_are_named():
    assert any(
        "start from the kit and runs 5, 6, 7" in note and "use the same resistors" in note
        for note in make_plan(bench()).start.remarks
    )
    few = bench(('rated_power = "200 W"\ncount = 4', 'rated_power = "200 W"\ncount = 2'), ('"25 W"', '"200 W"'))
    notes = make_plan(few).start.remarks
    assert any(note.startswith("SHORT OF RESISTORS") for note in notes)


def test_a_guessed_armature_resistance_asks_to_be_measured_before_the_start():
    planned = make_plan(bench(('armature_resistance = "2.1 ohm"', "")))
    assert any("before the first start" in note for note in planned.bench.assumptions)


@pytest.mark.parametrize(
    ("stated", "contradicts"), [("0.75 A", False), ("0.6 A", False), ("1.5 A", True), ("0.3 A", True)]
)
def test_a_field_current_that_the_winding_does_not_take_is_called_a_contradiction(stated, contradicts):
    found = bench(('rated_field_current = "0.75 A"', f'rated_field_current = "{stated}"'))
    assert any(note.startswith("CONTRADICTION") for note in found.assumptions) == contradicts


def test_a_rated_speed_above_the_limit_is_asked_about():
    found = bench(('"1450 r/min"', '"1450 rad/s"'))
    assert found.assumptions[0].startswith(
        "LOOK AGAIN: the rated speed of 13846 r/min is above the limit of 2000 r/min"
    )


def test_a_log_without_described_instruments_is_judged_by_assumed_ones_and_says_so():
    done = reduce_log(bench(), read_log(LOG))
    assert all(run.agrees for run in done.comparison.runs)
    assert all(run.measured_expanded > 0.002 * run.measured for run in done.comparison.runs)
    text = reduction_text(done)
    assert "no instrument is described for supply voltage" in text
    assert "armature resistance within" not in text, "what the log told is no longer assumed"
    assert reduction_data(done)["cautions"] == list(CAUTIONS)
    assert json.dumps(reduction_data(done))


def test_instruments_that_are_described_are_kept():
    made = bench(
        (
            '[[kit]]\nresistance = "22 ohm"',
            '[instruments.T]\nkind = "tachometer"\naccuracy = "1 r/min"\n[[kit]]\nresistance = "22 ohm"',
        )
    )
    meters, notes = with_assumed_instruments(made.instruments, frozenset({"speed_rpm", "field_current"}))
    assert set(meters) == {"T", "assumed ammeter"}
    assert "speed" not in notes[0]
    assert "field current" in notes[0]
    assert with_assumed_instruments(made.instruments, frozenset({"speed_rpm"})) == (made.instruments, ())


def test_swapped_ammeters_are_named_though_the_speed_agrees():
    done = reduce_log(bench(), read_log(LOG))
    assert len(done.odd) == 1
    assert done.odd[0].startswith("run 23: the field ammeter and the armature ammeter look swapped")
    assert "Run 23: the field ammeter and the armature ammeter look swapped" in done.summary


def test_a_winding_resistance_known_vaguely_from_speeds_says_nothing_about_the_flux():
    # the flux that made these readings saturates: proportional to the field current it is not
    warnings = " ".join(reduce_log(bench(), read_log(LOG)).identified.warnings)
    assert "so the flux is proportional to the field current" not in warnings
    rows = "\r\n".join(
        f"{17 + k};no-load;180,0;;;{amperes};{armature};{ohms};0;;{speed};;"
        for k, (amperes, armature, ohms, speed) in enumerate(
            (("0,692", "0,53", 22, 1706), ("0,638", "0,56", 44, 1776), ("0,592", "0,60", 66, 1846))
        )
    )
    stepped = reduce_log(bench(), read_log(LOG.replace("\r\n21;load", f"\r\n{rows}\r\n21;load", 1)))
    words = [note for note in stepped.identified.warnings if note.startswith("effective field resistance")]
    assert len(words) == 1
    assert "so the flux is proportional to the field current" not in words[0]


def test_a_current_that_is_only_off_is_named_with_what_was_predicted():
    done = reduce_log(bench(), read_log(LOG.replace("3,865;0,59;66", "0,592;1,90;66")))
    assert [words[:42] for words in done.odd] == ["run 23: the armature current read, 1.9 A, "]
    assert reduce_log(bench(), read_log(LOG.replace("3,865;0,59;66", "0,592;3,86;66"))).odd == ()


def test_a_heading_in_the_wrong_unit_is_suspected_when_no_machine_can_be_as_the_log_says():
    with pytest.raises(ValueError, match="look at the units in the headings"):
        reduce_log(bench(), read_log(LOG.replace("I_a [A]", "I_a [mA]")))


def test_the_misfit_is_never_negative_and_an_exact_reading_contradicts_everything_else():
    row = np.array([[1.0, 2.0], [2.0, 4.0], [3.0, 6.0000000001]])
    covariance = row @ row.T
    assert _chi_square(np.array([1.0, 2.0, -3.0]), covariance) > 1e6
    # two independent readings, 3 and 4 standard uncertainties off
    assert _chi_square(np.array([3.0, 8.0]), np.diag([1.0, 4.0])) == pytest.approx(25.0)
    assert _chi_square(np.array([0.0, 2.0]), np.diag([0.0, 1.0])) == pytest.approx(4.0)
    assert _chi_square(np.array([1.0, 0.0]), np.diag([0.0, 1.0])) == float("inf")
