"""The implementer's own file: names, units, forms of results; everything that is not understood is refused by name."""

import math
import tempfile
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.conformance.functions import function
from shuntref.conformance.mapping import Unmapped, WrongForm, bind, plain_binding, read_setting
from shuntref.conformance.scale import scale_of
from shuntref.conformance.suite import Case, load_suite


def case(name, **inputs):
    return Case("a", function(name).group, name, 1, inputs, "valid")


def test_inputs_are_handed_over_in_the_implementers_names_and_units():
    entry = function("back_emf_from_winding")
    binding = bind(entry, {"arguments": {"p": "poles", "n": "speed_rpm in r/min", "flux": "flux_per_pole in mWb"}})
    given_ = case("back_emf_from_winding", poles=4.0, speed=157.07963267948966, flux_per_pole=0.025)
    assert binding.inputs_for(given_, entry) == {"p": 4.0, "n": 1500.0, "flux": 25.0}


def test_arguments_in_order_and_constants():
    entry = function("ideal_no_load_speed")
    ordered = bind(
        entry, {"arguments": ["flux_constant", "field_resistance", "supply_voltage", "added_field_resistance"]}
    )
    given_ = case("ideal_no_load_speed", supply_voltage=120.0, field_resistance=160.0, flux_constant=1.0)
    assert ordered.inputs_for(given_, entry) == [1.0, 160.0, 120.0, 0.0]
    named = bind(entry, {"arguments": {"R": "field_resistance", "c": "flux_constant", "V": "supply_voltage"},
                         "constants": {"verbose": 0}})  # fmt: skip
    assert named.inputs_for(given_, entry) == {"R": 160.0, "c": 1.0, "V": 120.0, "verbose": 0}


def test_an_input_without_argument_matters_only_when_it_is_not_its_default():
    entry = function("ideal_no_load_speed")
    binding = bind(entry, {"arguments": {"R": "field_resistance", "c": "flux_constant", "V": "supply_voltage"}})
    inputs = {"supply_voltage": 120.0, "field_resistance": 160.0, "flux_constant": 1.0}
    assert binding.inputs_for(case("ideal_no_load_speed", **inputs, added_field_resistance=0.0), entry)
    with pytest.raises(Unmapped, match="added_field_resistance"):
        binding.inputs_for(case("ideal_no_load_speed", **inputs, added_field_resistance=1.0), entry)


@pytest.mark.parametrize(
    ("result", "reply", "expected"),
    [
        (None, [1.0, 2.0, 3.0], (1.0, 2.0, 3.0)),
        (None, {"field_current": 1.0, "armature_current": 2.0, "line_current": 3.0}, (1.0, 2.0, 3.0)),
        (["line_current", "field_current in mA", "armature_current"], [3.0, 1000.0, 2.0], (1.0, 2.0, 3.0)),
        ({"I": "line_current", "If": "field_current in mA", "Ia": "armature_current"}, {"I": 3, "If": 1000, "Ia": 2},
         (1.0, 2.0, 3.0)),
    ],
)  # fmt: skip
def test_results_in_order_or_by_name(result, reply, expected):
    binding = bind(function("currents"), {"result": result} if result else {})
    values = binding.values_from(reply)
    assert (values["field_current"], values["armature_current"], values["line_current"]) == expected


@pytest.mark.parametrize(
    "reply", [1.0, [1.0, 2.0], {"field_current": 1.0}, {"text": "three"}, [1.0, 2.0, "x"], [1.0, 2.0, True]]
)
def test_results_of_another_form_are_refused(reply):
    with pytest.raises(WrongForm):
        plain_binding(function("currents"), "").values_from(reply)


def test_nothing_as_result_is_not_a_number():
    assert all(math.isnan(v) for v in plain_binding(function("currents"), "").values_from(None).values())


@given(st.floats(1e-6, 1e6))
def test_unit_conversion_there_and_back_is_exact(value):
    for name, unit in (("speed", "r/min"), ("armature_current", "mA"), ("efficiency", "%"), ("output_power", "hp")):
        scale = scale_of(name, unit)
        assert float(scale.inward(scale.outward(value))) == pytest.approx(value, rel=3e-16)
        assert scale.inward(math.nan).is_nan()
    assert scale_of("winding_temperature", "degF").inward(212.0) == pytest.approx(Decimal(100))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("speed = 3", "unknown entry 'speed'"),
        ("[sped]", r"\[sped\] is no function"),
        ("[speed]\ncalls = 'x'", "unknown entry 'calls'"),
        ("[speed]\narguments = { V = 'voltage in V' }", "'voltage' is not one of supply_voltage"),
        ("[speed]\narguments = { V = 'supply_voltage in A' }", "supply_voltage cannot be in 'A'"),
        ("[speed]\narguments = { V = 'supply_voltage', U = 'supply_voltage' }", "mapped twice"),
        ("[speed]\narguments = { V = 3 }", "is not text"),
        ("[speed]\narguments = 'V'", "is not a table"),
        ("[speed]\nresult = 'armature_current in A'", "is not one of speed"),
        ("[speed]\nresult = 'A'", "speed cannot be in 'A'"),
        ("[currents]\nresult = 'A'", "'A' is not one of field_current"),
        ("[speed]\nresult = []", "result is empty"),
        ("[speed]\nconstants = { a = 'x' }", "is not a number"),
        ("[speed]\narguments = ['supply_voltage']\nconstants = { a = 1 }", "by name"),
        ("[speed]\nprecision = 'half'", "'double' or 'single'"),
        ("numbers = 'text'", "'float' or 'array'"),
        ("known_failures = 'x'", "not a list"),
        ("command = 3", "not text"),
        ("[speed", "not a TOML file"),
        ("a = " + "[" * 5000, "not a TOML file"),
    ],
)
def test_a_file_that_is_not_understood_is_refused_by_name(tmp_path, text, words):
    path = tmp_path / "my_lab.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=words) as caught:
        read_setting(path, load_suite())
    assert "my_lab.toml" in str(caught.value)


def test_a_byte_order_mark_is_no_obstacle(tmp_path):
    path = tmp_path / "my_lab.toml"
    path.write_text("\ufeffprecision = 'single'\n[speed]\n", encoding="utf-8")
    assert read_setting(path, load_suite()).bindings["speed"].precision == "single"


def test_the_example_in_the_documentation_is_understood(tmp_path):
    from importlib.resources import files

    text = (files("shuntref.references") / "cases" / "mapping.md").read_text(encoding="utf-8")
    path = tmp_path / "my_lab.toml"
    path.write_text(text.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    bindings = read_setting(path, load_suite()).bindings
    assert set(bindings) == {"speed", "currents", "speed_with_table"}
    assert bindings["speed"].arguments[2].unit == "mohm"


@given(st.binary(max_size=200))
def test_no_file_of_any_bytes_ends_in_anything_but_words(data):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "my_lab.toml"
        path.write_bytes(data)
        refusal = "my_lab.toml"
        try:
            read_setting(path, load_suite())
        except ValueError as error:
            refusal = str(error)
        assert "my_lab.toml" in refusal
