"""A bench log: plain headings are understood, and every line is used, averaged or refused with its reason."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.bench.accuracy_text import parse_accuracy
from shuntref.bench.instruments import KINDS, Instrument, instrument_from_table
from shuntref.bench.log_headings import find_column
from shuntref.bench.readings import BenchLogError, read_log, read_log_file
from shuntref.quantities.column_heading import split_heading

HEADINGS = {
    "U [V]": "supply_voltage",
    "volts": "supply_voltage",
    "V (V)": "supply_voltage",
    "supply volts": "supply_voltage",
    "voltage in V": "supply_voltage",
    "line volts": "supply_voltage",
    "field amps": "field_current",
    "I_f [A]": "field_current",
    "If/A": "field_current",
    "exciting current (A)": "field_current",
    "Ia, A": "armature_current",
    "armature amps": "armature_current",
    "armature current A": "armature_current",
    "amps": "line_current",
    "I [A]": "line_current",
    "speed rpm": "speed_rpm",
    "rpm": "speed_rpm",
    "n, r/min": "speed_rpm",
    "speed / r/min": "speed_rpm",
    "n [1/min]": "speed_rpm",
    "n/min-1": "speed_rpm",
    "speed_rpm": "speed_rpm",
    "speed [rad/s]": "speed",
    "omega (rad/s)": "speed",
    "added field ohms": "added_field_resistance",
    "R_fx [ohm]": "added_field_resistance",
    "field rheostat [Ω]": "added_field_resistance",
    "added_armature_resistance [ohm]": "added_armature_resistance",
    "armature rheostat (ohm)": "added_armature_resistance",
    "E [V]": "back_emf",
    "open-circuit volts": "back_emf",
    "torque in N m": "load_torque",
    "T_L [N m]": "load_torque",
    "field temperature [°C]": "winding_temperature",
    "run": "run",
    "Setting": "run",
    "Remarks": "remark",
    "test": "test",
}


@pytest.mark.parametrize("heading", HEADINGS)
def test_the_usual_headings_mean_what_the_trade_means(heading):
    column = find_column(0, split_heading(heading))
    assert column.meaning == HEADINGS[heading]
    assert column.note == ""
    assert column.unit or not column.is_quantity


def test_upper_and_lower_case_symbols_are_told_apart():
    assert find_column(0, split_heading("T_L [N m]")).meaning == "load_torque"
    assert find_column(0, split_heading("U_f [V]")).meaning == "field_voltage"
    assert find_column(0, split_heading("theta [degC]")).meaning == "winding_temperature"


LOG = """Bench 3, invented
run;test;U [V];field amps;Ia (A);I / A;n, r/min;added field ohms;weather;remark

1;no-load;120,1;0,750;0,82;1,57;1 450;0;dry;cold
1;no-load;119,9;0,748;0,80;1,55;1452;0;dry;
1;no-load;120,0;0,749;0,81;1,56;1451;0;;
2;no-load;120,0;0,705;0,83;1,53;1530;10;;
2;no-load;120,0;0,705;0,83;1,53;153;10;;decade?
2;no-load;120,0;0,706;0,84;1,54;1532;10;;
2;no-load;120,0;0,704;0,82;1,53;1531;10;;
3;no-load;120,0;0,66;-;1,50;1610;20;;ammeter taken out
3;no-load;120,0;0,66;;1,50;1611;25;;
4;no-load;120,0;fast;;1,50;1611;25;;
5;no-load;-3;0,6;0,8;1,4;1700;30;;
6;picnic;120;0,6;0,8;1,4;1700;30;;
;no-load;;;;;;;;rheostat changed
7;no-load;120;0,600;0,8;4,4;1700;30;;
"""


def test_every_line_of_a_log_is_accounted_for_with_its_reason():
    log = read_log(LOG)
    assert [record.line for record in log.lines] == list(range(1, LOG.count("\n") + 1))
    by_line = {record.line: record for record in log.lines}
    outcomes = [by_line[n].outcome for n in range(1, 18)]
    assert outcomes == [
        "remark",
        "heading",
        "blank",
        "averaged",
        "averaged",
        "averaged",
        "averaged",
        "refused",
        "averaged",
        "averaged",
        "used",
        "refused",
        "refused",
        "refused",
        "refused",
        "refused",
        "used",
    ]
    assert "decade" in by_line[8].reason
    assert "25 ohm but run 3 has 20 ohm on line 11" in by_line[12].reason
    assert "'fast' is not a number" in by_line[13].reason
    assert "negative" in by_line[14].reason
    assert "picnic" in by_line[15].reason
    assert "rheostat changed" in by_line[16].reason
    assert "not measured" in by_line[11].reason
    assert any("weather" in note for note in log.notes)
    assert any("run 7" in note and "line current" in note for note in log.notes)


def test_repeats_are_averaged_with_their_count_and_scatter():
    run = read_log(LOG).runs[0]
    assert run.values["supply_voltage"] == pytest.approx(120.0)
    assert run.counts["supply_voltage"] == 3
    assert run.deviations["supply_voltage"] == pytest.approx(0.1)
    assert "added_field_resistance" not in run.deviations


def test_a_suspect_repeat_can_be_kept_on_request():
    runs = {run.name: run for run in read_log(LOG, keep_suspects=True).runs}
    assert runs["2"].counts["speed_rpm"] == 4


def test_numbered_columns_are_repeated_readings_of_one_line():
    log = read_log("run,n 1 [r/min],n 2 [r/min],n 3 [r/min]\n1,1450,1452,1454\n")
    assert log.runs[0].values["speed_rpm"] == pytest.approx(1452.0)
    assert log.runs[0].deviations["speed_rpm"] == pytest.approx(2.0)


def test_radians_and_revolutions_read_to_the_same_speed():
    a = read_log("run,speed [rad/s],U [V]\n1,157.0796326794897,1\n").runs[0].values["speed_rpm"]
    b = read_log("run,speed [r/s],U [V]\n1,25,1\n").runs[0].values["speed_rpm"]
    assert a == pytest.approx(1500.0, rel=1e-14)
    assert b == pytest.approx(1500.0, rel=1e-14)


def test_units_in_the_heading_and_in_the_cell_are_converted():
    log = read_log("run,If [mA],U,T [°C]\n1,750,0.12 kV,40\n2,700,119 V,41\n")
    assert log.runs[0].values == {"field_current": 0.75, "supply_voltage": 120.0, "winding_temperature": 40.0}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("run,U,n [r/min]\n1,120,1450\n", "names no unit"),
        ("run,U [A],n [r/min]\n1,120,1450\n", "not a unit of supply voltage"),
        ("run,speed [1/s]\n1,20\n", "2 pi"),
        ("run,speed [r/min],n [r/min]\n1,1450,1450\n", "both mean speed_rpm"),
        ("colour,shape\nred,round\n", "known quantity"),
        ("run,U [V]\n1,abc\n", "no line of the log can be used; line 2"),
    ],
)
def test_a_log_that_cannot_be_used_says_what_to_change(text, words):
    with pytest.raises(BenchLogError, match=words):
        read_log(text)


def test_a_bad_file_is_named(tmp_path):
    path = tmp_path / "monday.csv"
    path.write_text("run,U\n1,120\n")
    with pytest.raises(BenchLogError, match=r"monday\.csv"):
        read_log_file(path)


def test_without_a_run_column_nothing_is_averaged_and_the_log_says_so():
    log = read_log("U [V],n [r/min]\n120,1450\n120,1450\n")
    assert len(log.runs) == 2
    assert any("no run column" in note for note in log.notes)


def test_the_specification_of_a_tachometer_gives_the_rectangular_uncertainty():
    # 0.05 % of 1500 r/min and one digit of 1 r/min make limits of 1.75 r/min; 1.75/sqrt(3) = 1.0104 worked by hand
    meter = instrument_from_table(
        "tacho", {"kind": "tachometer", "accuracy": "0.05 % of reading + 1 digit", "resolution": "1 r/min"}
    )
    result = meter.uncertainty(1500.0, repeats=4, observed_sd=2.0)
    parts = {c.name: c for c in result.components}
    assert parts["specification"].standard_uncertainty == pytest.approx(1.0104, abs=5e-5)
    assert parts["scatter"].standard_uncertainty == pytest.approx(1.0)
    assert parts["scatter"].dof == 3
    assert parts["rounding"].standard_uncertainty == pytest.approx(1 / math.sqrt(12) / 2)
    assert result.standard_uncertainty == pytest.approx(math.sqrt(1.75**2 / 3 + 1.0 + 1 / 48))
    assert result.dof == pytest.approx(result.standard_uncertainty**4 / (1.0 / 3))


def test_repeating_a_reading_shrinks_its_scatter_and_not_its_limit():
    meter = Instrument("voltmeter", ("supply_voltage",), percent_of_reading=1.0, scatter=0.5)
    once, often = meter.uncertainty(100.0), meter.uncertainty(100.0, repeats=100, observed_sd=0.5)
    assert once.standard_uncertainty == pytest.approx(math.hypot(1 / math.sqrt(3), 0.5))
    assert often.standard_uncertainty == pytest.approx(math.hypot(1 / math.sqrt(3), 0.05))


def test_scatter_far_beyond_the_stated_one_is_used_and_reported():
    meter = Instrument("voltmeter", ("supply_voltage",), scatter=0.1)
    result = meter.uncertainty(100.0, repeats=5, observed_sd=2.0)
    assert result.standard_uncertainty == pytest.approx(2.0 / math.sqrt(5))
    assert "steady" in result.warnings[0]


def test_a_single_reading_without_stated_scatter_is_flagged():
    assert "single reading" in Instrument("v", ("supply_voltage",), percent_of_reading=1).uncertainty(1.0).warnings[0]


@pytest.mark.parametrize(
    ("text", "reads", "fields"),
    [
        ("0.5 % + 2 digits", "supply_voltage", {"percent_of_reading": 0.5, "digits": 2.0}),
        ("1 % of range", "armature_current", {"percent_of_range": 1.0}),
        (
            "± (0.3 % of the reading + 0.1 % of full scale)",
            "armature_current",
            {"percent_of_reading": 0.3, "percent_of_range": 0.1},
        ),
        ("0.5 degC", "winding_temperature", {"absolute": 0.5}),
        ("1 K", "winding_temperature", {"absolute": 1.0}),
        ("50 mA", "armature_current", {"absolute": 0.05}),
    ],
)
def test_accuracies_as_data_sheets_write_them(text, reads, fields):
    assert parse_accuracy(text, reads) == pytest.approx(fields)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"kind": "voltmeter", "accuracy": "good"}, "'good' is not understood"),
        ({"kind": "voltmeter", "accuracy": "1 % + 2 %"}, "twice"),
        ({"kind": "voltmeter", "accuracy": "1 % + 2 digits"}, "what one digit is"),
        ({"kind": "voltmeter", "accuracy": "1 % of range"}, "state the range"),
        ({"kind": "voltmeter", "precision": "1 %"}, "unknown field 'precision'"),
        ({"kind": "lamp"}, "state its kind"),
        ({"reads": ["supply_voltage", "speed_rpm"]}, "different units"),
        ({"reads": "colour"}, "unknown quantity"),
        ({"kind": "voltmeter", "resolution": 0.1}, "write it as text"),
        ({"kind": "voltmeter", "resolution": "0.1 A"}, "resolution"),
    ],
)
def test_a_bad_instrument_table_is_refused_by_name(table, words):
    with pytest.raises(ValueError, match=words) as caught:
        instrument_from_table("meter 4", table)
    assert "meter 4" in str(caught.value)


def test_every_kind_of_instrument_reads_quantities_of_one_unit():
    for kind in KINDS:
        assert instrument_from_table(kind, {"kind": kind}).reads


def test_a_tachometer_in_radians_is_kept_in_revolutions():
    meter = instrument_from_table("tacho", {"reads": "speed", "resolution": "0.1 rad/s"})
    assert meter.reads == ("speed_rpm",)
    assert meter.resolution == pytest.approx(0.1 * 30 / math.pi)
    with pytest.raises(ValueError, match="speed_rpm"):
        Instrument("tacho", ("speed",))


HOSTILE = st.text(alphabet=st.sampled_from("0123456789.,;-+eE \t\"'[]()/UVIAnrmi\n%Ω°∞NaN\x00\u202e"), max_size=120)


@given(HOSTILE)
def test_any_log_is_read_or_refused_in_one_line(body):
    try:
        log = read_log("run;U [V];I_f [A];n [r/min]\n" + body)
    except ValueError as error:
        message = str(error)
    else:
        message = "read"
        assert {record.outcome for record in log.lines} <= {"heading", "blank", "remark", "used", "averaged", "refused"}
        for run in log.runs:
            assert all(math.isfinite(value) for value in run.values.values())
    assert len(message.splitlines()) == 1


@given(st.lists(st.tuples(st.floats(50, 500), st.floats(0.01, 5), st.floats(100, 5000)), min_size=1, max_size=8))
def test_readings_come_back_whatever_the_style(rows):
    point = "run,U [V],I_f [A],n [r/min]\n" + "".join(f"{k},{u!r},{i!r},{n!r}\n" for k, (u, i, n) in enumerate(rows))
    comma = point.replace(",", ";").replace(".", ",")
    for text in (point, comma, comma.replace(";", "\t")):
        found = [tuple(run.values.values()) for run in read_log(text).runs]
        assert found == rows
