"""The vocabulary, and text with units: what is read, what is refused, and that hostile text costs nothing."""

from __future__ import annotations

import math
import time
import tomllib
from fractions import Fraction
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.quantities.registry import REGISTRY, quantity
from shuntref.quantities.text import (
    QuantityError,
    format_value,
    parse_value,
    parse_values,
    read_assignment,
    read_value,
    unit_factor,
)

# exact definitions, typed from NIST SP 811's footnotes on the international foot and pound (from memory)
FOOT, INCH = Fraction("0.3048"), Fraction("0.0254")
POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")
EXACT = {
    ("output_power", "hp"): 550 * FOOT * POUND_FORCE,
    ("output_power", "hp(metric)"): 75 * Fraction("9.80665"),
    ("output_power", "hp(746)"): Fraction(746),
    ("load_torque", "lbf ft"): POUND_FORCE * FOOT,
    ("load_torque", "oz in"): POUND_FORCE / 16 * INCH,
    ("load_torque", "kgf m"): Fraction("9.80665"),
    ("flux_per_pole", "mWb"): Fraction(1, 1000),
    ("armature_resistance", "mohm"): Fraction(1, 1000),
    ("supply_voltage", "kV"): Fraction(1000),
    ("field_current", "mA"): Fraction(1, 1000),
    ("speed_rpm", "rev/s"): Fraction(60),
    ("efficiency", "%"): Fraction(1, 100),
}


@pytest.mark.parametrize(("name", "unit"), EXACT)
def test_a_conversion_factor_is_the_float_nearest_to_its_exact_definition(name: str, unit: str) -> None:
    assert parse_value(name, f"1 {unit}") == pytest.approx(float(EXACT[name, unit]), rel=2**-52)


def test_every_unit_in_the_references_agrees_with_the_parser() -> None:
    rows = tomllib.loads((files("shuntref.references") / "standards/units.toml").read_text(encoding="utf-8"))
    words = {"horsepower-mechanical": ("output_power", "hp"), "horsepower-electric": ("output_power", "hp(746)"),
             "horsepower-metric": ("output_power", "hp(metric)"), "pound-force-foot": ("load_torque", "lbf ft"),
             "ounce-force-inch": ("load_torque", "ozf in"), "revolution-per-minute": ("speed", "r/min")}  # fmt: skip
    assert set(words) == set(rows)
    for slug, row in rows.items():
        name, unit = words[slug]
        assert parse_value(name, f"1 {unit}") == pytest.approx(float(row["value"].split()[0]), rel=1e-15), slug


def test_horsepower_means_what_the_file_says() -> None:
    assert parse_value("output_power", "10 hp", horsepower="electric") == 7460.0
    assert parse_value("output_power", "10 hp", horsepower="metric") == 7354.9875
    assert parse_value("output_power", "10 hp") == pytest.approx(7456.9987158, rel=1e-10)
    with pytest.raises(QuantityError, match="horsepower convention 'boiler'"):
        parse_value("output_power", "10 hp", horsepower="boiler")


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("speed", "1500 r/min", 50 * math.pi),
        ("speed", "25 rev/s", 50 * math.pi),
        ("speed_rpm", "25 r/s", 1500.0),
        ("speed_rpm", "1450 min^-1", 1450.0),
        ("speed_rpm", "1450 U/min", 1450.0),
        ("speed_rpm", "1450 tr/min", 1450.0),
        ("speed_rpm", "1450 r.p.m.", 1450.0),
        ("armature_resistance", "0.8ohm", 0.8),
        ("armature_resistance", "0.8 \u2126", 0.8),
        ("armature_resistance", "\u22120.5 \u03a9", -0.5),
        ("load_torque", "3 N\u00b7m", 3.0),
        ("load_torque", "3 N*m", 3.0),
        ("load_torque", "3 N.m", 3.0),
        ("load_torque", "3 Nm", 3.0),
        ("k_phi", "0.75 N m/A", 0.75),
        ("k_phi", "100 V/krpm", 0.3 / math.pi * 10),
        ("winding_temperature", "20 \u00b0C", 20.0),
        ("winding_temperature", "68 degF", 20.0),
        ("winding_temperature", "293.15 K", 20.0),
        ("temperature_constant", "234.5 K", 234.5),
        ("demagnetising_mmf", "840 A turns", 840.0),
        ("efficiency", "0.85", 0.85),
        ("conductors", "540 conductors", 540.0),
    ],
)
def test_the_trades_ways_of_writing_a_value_are_read(name: str, text: str, value: float) -> None:
    assert parse_value(name, text) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    ("name", "text", "why"),
    [
        ("armature_resistance", "0.8 V", "not a unit of armature resistance"),
        ("armature_resistance", "0.8", "unit is missing"),
        ("armature_resistance", "0.8 ohn", "unknown unit 'ohn'"),
        ("armature_resistance", "ohm", "does not begin with a number"),
        ("armature_resistance", "", "does not begin with a number"),
        ("field_current", "2,5 A", "decimal point"),
        ("supply_voltage", "1,200 V", "thousands"),
        ("supply_voltage", "1.2.3 V", "decimal point"),
        ("supply_voltage", "inf V", "does not begin with a number"),
        ("supply_voltage", "nan", "does not begin with a number"),
        ("supply_voltage", "1e999 V", "not finite"),
        ("speed", "25 1/s", "does not say rad or r"),
        ("speed", "25 m/s", "not a unit of speed"),
        ("load_torque", "5 kg", "unknown unit"),
        ("flux_constant", "1 V s/rad A", "brackets"),
    ],
)
def test_a_refusal_names_the_quantity_the_text_and_an_example(name: str, text: str, why: str) -> None:
    with pytest.raises(QuantityError, match=why) as caught:
        parse_value(name, text)
    message = str(caught.value)
    assert name in message
    assert repr(text) in message
    assert quantity(name).example in message
    assert "\n" not in message


def test_every_registry_example_is_accepted_and_every_unit_is_its_own() -> None:
    for entry in REGISTRY.values():
        assert math.isfinite(parse_value(entry.name, entry.example))
        assert parse_value(entry.name, f"1 {entry.unit}") == 1.0
        if entry.unit != "degC":
            assert unit_factor(entry.name, entry.unit) == 1.0


@given(st.sampled_from(sorted(REGISTRY)), st.floats(allow_nan=False, allow_infinity=False, width=32))
def test_a_value_written_in_full_is_read_back_exactly(name: str, value: float) -> None:
    text = f"{float(value)!r} {REGISTRY[name].unit}"
    assert parse_value(name, text) == float(value)


def test_half_a_unit_of_the_last_digit_is_kept() -> None:
    assert read_value("speed_rpm", "1450 r/min").half_unit == 0.5
    assert read_value("speed_rpm", "24.50 r/s").half_unit == pytest.approx(0.3)
    assert read_value("supply_voltage", "1.20e2 V").half_unit == 0.5


def test_lists_and_ranges_carry_one_unit() -> None:
    assert parse_values("added_field_resistance", "0, 10, 20 ohm") == (0.0, 10.0, 20.0)
    assert parse_values("added_field_resistance", "0 ohm, 0.01 kohm") == (0.0, 10.0)
    values = parse_values("speed_rpm", "0:3000:4 r/min")
    assert values == (0.0, 1000.0, 2000.0, 3000.0)
    ends = parse_values("supply_voltage", "0.1:0.7:7 V")
    assert (ends[0], ends[-1], len(ends)) == (0.1, 0.7, 7)
    for text in ("0:10:1 ohm", "0:10:99999999 ohm", "0:10 ohm", "0:1e999:5 ohm", "0:10:5", "0,,10 ohm"):
        with pytest.raises(QuantityError):
            parse_values("added_field_resistance", text)


def test_an_unknown_name_gets_the_nearest_ones() -> None:
    with pytest.raises(QuantityError, match=r"did you mean .*armature_resistance"):
        read_assignment("armatur_resistance=1 ohm")
    with pytest.raises(QuantityError, match="name=value"):
        read_assignment("armature_resistance")
    assert read_assignment("load_torque = 5 N m") == ("load_torque", "5 N m")


HOSTILE = ["9" * 1_000_000, "1 " + "V" * 1_000_000, "9**9**9**9 V", "1 V" + "^4" * 200, "1 " + "(" * 400, "1 " + "V/" * 200,
           "__import__('os').system('true') V", "1 V; import os", "1e" + "9" * 400 + " V", "\x00 V", "1 \x00", "1 V\n2 V",
           "1 " + "m" * 50, "0x10 V", "1_000 V", "1 kkV", "1 V^99", "1 ohm^-4 ohm^4 V/V V"]  # fmt: skip


def test_hostile_text_is_refused_at_once_with_one_short_line() -> None:
    start = time.process_time()  # not the clock: the processor may be shared
    for text in HOSTILE:
        with pytest.raises(QuantityError) as caught:
            parse_value("supply_voltage", text)
        assert len(str(caught.value)) < 400
        with pytest.raises(QuantityError):
            parse_values("supply_voltage", text)
    assert time.process_time() - start < 2.0


@given(st.sampled_from(sorted(REGISTRY)), st.text(max_size=600))
def test_any_text_is_either_a_finite_number_or_a_quantity_error(name: str, text: str) -> None:
    try:
        value = parse_value(name, text)
    except QuantityError:
        value = 0.0
    assert math.isfinite(value)


def test_a_value_is_written_with_the_digits_asked_for() -> None:
    assert format_value("speed", 50 * math.pi, "r/min") == "1500 r/min"
    assert format_value("armature_resistance", 0.000123456) == "0.0001235 ohm"
    assert format_value("input_power", 123456.0) == "123456 W"
    assert format_value("input_power", 1234.56, "kW") == "1.235 kW"
    assert format_value("armature_current", 0.0) == "0 A"
    with pytest.raises(QuantityError):
        format_value("armature_current", 1.0, "V")
