"""What the model lets in: the limits of numbers, tables, texts and temperatures, from both sides of each."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from shuntref.model.flux import ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, SquareTorque, UserLoad
from shuntref.model.machine import COPPER_235, Machine
from shuntref.model.table_points import increasing_points
from shuntref.model.validation import as_array, check_array, every_keeps, keeps, refuse, scalar

SIZE = "a number of ordinary size (up to 1e+30; 1e-30 at least"
NOUGHT = "zero or a finite number above it is needed"
BEFORE = "the one before it, is needed"
RULES = ("positive", "not negative", "zero or more", "finite")
#: value -> the rules that it keeps
KEPT: dict[float, str] = {
    1.0: "positive, not negative, zero or more, finite",
    1e30: "positive, not negative, zero or more, finite",
    1.0000001e30: "",
    math.inf: "",
    math.nan: "",
    1e-30: "positive, not negative, zero or more, finite",
    9.999e-31: "not negative, finite",
    5e-324: "not negative, finite",
    0.0: "not negative, zero or more, finite",
    -5e-324: "finite",
    -1.0: "finite",
    -1e30: "finite",
    -1.0000001e30: "",
    -math.inf: "",
}
#: the same in single precision, whose squares overflow sooner
KEPT_SINGLE: dict[float, str] = {
    1.0: "positive, not negative, zero or more, finite",
    1e12: "positive, not negative, zero or more, finite",
    1.000001e12: "",
    1e-12: "positive, not negative, zero or more, finite",
    0.999999e-12: "not negative, finite",
    0.0: "not negative, zero or more, finite",
    -1.0: "finite",
    -1e12: "finite",
    -1.000001e12: "",
    math.nan: "",
    math.inf: "",
}


@pytest.mark.parametrize("rule", RULES)
def test_a_number_keeps_a_rule_or_is_refused_alone_and_in_company(rule: str) -> None:
    for value, kept in KEPT.items():
        good = rule in kept.split(", ")
        assert keeps(value, rule) is good
        if good:
            assert scalar("speed", value, rule) == value
        else:
            with pytest.raises(ValueError, match=r"^speed is \S+ rad/s; .* is needed$"):
                scalar("speed", value, rule)
    for dtype, table in ((np.float64, KEPT), (np.float32, KEPT_SINGLE)):
        for value, kept in table.items():
            for place in (0, 2, 3):
                array = np.ones(4, dtype)
                array[place] = value
                if rule in kept.split(", "):
                    check_array("speed", array, rule)
                else:
                    assert not every_keeps(array, rule)
                    with pytest.raises(ValueError, match=rf"^speed is \S+ rad/s at index {place}; "):
                        check_array("speed", array, rule)


def test_one_pass_tells_all_well_only_where_all_is_well() -> None:
    for rule in RULES:
        assert every_keeps(np.array([]), rule)
        assert every_keeps(np.array([1.0, 1e30, 1e-30]), rule)
    assert every_keeps(np.array([0.0, 0.0]), "zero or more")
    assert every_keeps(np.array([0.0, 1.0]), "zero or more")
    assert not every_keeps(np.array([0.0, 1.0]), "positive")
    assert every_keeps(np.array([-1.0, 1.0]), "finite")
    assert not every_keeps(np.array([-1.0, 1.0]), "zero or more")


def test_an_offender_in_a_block_is_named_by_its_place_in_the_whole() -> None:
    block = np.array([1.0, 2.0, -3.0, -4.0])
    places = ((0, None, "2"), (10, (100,), "12"), (10, (5, 4), r"\(3, 0\)"), (1, (2, 2, 2), r"\(0, 1, 1\)"))
    for offset, shape, where in places:
        with pytest.raises(ValueError, match=rf"^brush_drop is -3\.0 V at index {where}; zero or a finite number"):
            check_array("brush_drop", block, "not negative", offset=offset, shape=shape)
    with pytest.raises(ValueError, match=r"at index \(1, 0\)"):
        check_array("brush_drop", block.reshape(2, 2), "not negative")
    for rule in ("not negative", "zero or more", "finite"):  # a nought with a sign is a nought
        assert scalar("brush_drop", -0.0, rule) == 0.0
        check_array("brush_drop", np.array([-0.0, 1.0]), rule)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("brush_drop", -2.0, "not negative"), f"brush_drop is -2.0 V; {NOUGHT}"),
        (("brush_drop", -2, "not negative", (3,)), f"brush_drop is -2.0 V at index 3; {NOUGHT}"),
        (("brush_drop", -2, "not negative", (3, 1)), f"brush_drop is -2.0 V at index (3, 1); {NOUGHT}"),
        (("efficiency", 2.0, "a share"), "efficiency is 2.0; a share is needed"),
        (("no_such", 2.0, "one"), "no_such is 2.0; one is needed"),
        (("speed", True, "positive"), "speed is True; a finite number above zero is needed"),
        (("speed", "fast", "positive"), "speed is 'fast'; a finite number above zero is needed"),
        (("speed", 0.0, "positive"), "speed is 0.0 rad/s; a finite number above zero is needed"),
        (("speed", math.nan, "positive"), "speed is nan rad/s; a finite number above zero is needed"),
        (("speed", 1e31, "positive"), f"speed is 1e+31 rad/s; {SIZE} where it may not be zero) is needed"),
        (("speed", 1e31, "not negative"), f"speed is 1e+31 rad/s; {SIZE} where it may not be zero) is needed"),
        (("speed", 1e-31, "zero or more"), f"speed is 1e-31 rad/s; {SIZE}, or zero) is needed"),
        (("speed", -1e31, "finite"), f"speed is -1e+31 rad/s; {SIZE} where it may not be zero) is needed"),
        (("speed", -math.inf, "finite"), "speed is -inf rad/s; a finite number is needed"),
        (("speed", "x" * 100, "finite"), "speed is '" + "x" * 59 + "; a finite number is needed"),
    ],
)  # fmt: skip
def test_a_refusal_says_what_where_and_what_would_do(arguments: tuple[Any, ...], words: str) -> None:
    assert str(refuse(*arguments)) == words


def test_what_is_taken_for_a_number() -> None:
    assert scalar("speed", np.float32(2.5), "positive") == 2.5
    assert scalar("speed", np.array(3), "positive") == 3.0
    for bad in (True, np.True_, "3", b"3", None, [1.0, 2.0], 1j):
        with pytest.raises(ValueError, match=r"^speed is .*; .*a finite number above zero"):
            scalar("speed", bad, "positive")
    with pytest.raises(ValueError, match="speed is inf rad/s"):
        scalar("speed", 10**400, "positive")


def test_what_is_taken_for_an_array_keeps_its_precision() -> None:
    double, single = np.array([1.0, 2.0]), np.array([1.0, 2.0], np.float32)
    assert as_array("speed", double) is double
    assert as_array("speed", single) is single
    assert as_array("speed", np.array([1.0, 2.0], np.float16)).dtype == np.float32
    assert as_array("speed", np.array([1.0, 2.0], np.longdouble)).dtype == np.float64
    for whole in ([1, 2], np.array([1, 2], np.uint8)):
        assert as_array("speed", whole).dtype == np.float64
    assert as_array("speed", np.array([1, 2.5], object)).tolist() == [1.0, 2.5]
    assert as_array("speed", np.ma.masked_array([1.0, 2.0], [False, False])).tolist() == [1.0, 2.0]
    for bad in ([True, False], ["a"], [1j], [[1.0], [1.0, 2.0]], [10**400]):
        with pytest.raises(ValueError, match=r"^speed is .*; a number or an array of numbers is needed$"):
            as_array("speed", bad)
    with pytest.raises(ValueError, match="an array without masked values"):
        as_array("speed", np.ma.masked_array([1.0, 2.0], [False, True]))


# --- tables of points


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        ([0.0], [1.0], "field_current has 1 points; from 2 to 100000 are needed"),
        ([0.0, 1.0], [1.0], "back_emf has 1 points; from 2 to 100000 are needed"),
        ([0.0, 1.0, 2.0], [1.0, 2.0], "field_current has 3 points but back_emf has 2; as many are needed"),
        ([0.0, 1.0, 1.0], [1.0, 2.0, 3.0], f"field_current is 1.0 A at index 2; a value above 1.0, {BEFORE}"),
        ([0.0, -1.0, 1.0], [1.0, 2.0, 3.0], f"field_current is -1.0 A at index 1; a value above 0.0, {BEFORE}"),
        ([0.0, 1.0, 2.0], [1.0, 1.0, 3.0], f"back_emf is 1.0 V at index 1; a value above 1.0, {BEFORE}"),
        ([0.0, math.nan], [1.0, 2.0], "field_current is nan A; a finite number is needed"),
        ("0 1", [1.0, 2.0], "field_current is '0 1'; a list of numbers is needed"),
        (b"01", [1.0, 2.0], "field_current is b'01'; a list of numbers is needed"),
        (3.0, [1.0, 2.0], "field_current is 3.0 A; a list of numbers is needed"),
    ],
)  # fmt: skip
def test_points_that_make_no_table_are_refused(x: Any, y: Any, words: str) -> None:
    with pytest.raises(ValueError, match=r"^") as caught:
        increasing_points("field_current", x, "back_emf", y, second_increases=True)
    assert str(caught.value) == words


def test_the_second_column_may_fall_where_it_may() -> None:
    assert increasing_points("a", (0, 1), "b", (2, 1)) == ((0.0, 1.0), (2.0, 1.0))
    many = range(100_000)
    assert len(increasing_points("a", many, "b", many)[0]) == 100_000
    with pytest.raises(ValueError, match="a has 100001 points"):
        increasing_points("a", range(100_001), "b", many)


def test_a_magnetisation_table_begins_at_nothing_or_above_and_says_what_remains() -> None:
    with pytest.raises(ValueError, match=r"field_current is -0\.1 A at index 0; zero or a finite number"):
        TableFlux((-0.1, 1.0), (0.0, 100.0), 1500.0)
    with pytest.raises(ValueError, match=r"back_emf is -1\.0 V at index 0"):
        TableFlux((0.0, 1.0), (-1.0, 100.0), 1500.0)
    with pytest.raises(ValueError, match="extrapolate is 'no'; 'refuse' or 'flag' is needed"):
        TableFlux((0.0, 1.0), (0.0, 100.0), 1500.0, "no")
    # two points, a straight line: 30/pi r/min are 1 rad/s
    line = TableFlux((0.5, 1.5), (1.0, 3.0), 30.0 / math.pi, "flag")
    assert (line.remanent_k_phi, line.limits) == (0.0, (0.5, 1.5))
    assert line.zero_flux_field_current == pytest.approx(0.0, abs=1e-15)
    assert TableFlux((0.0, 1.0), (1.0, 3.0), 30.0 / math.pi).remanent_k_phi == pytest.approx(1.0)
    assert TableFlux((0.0, 1.0), (1.0, 3.0), 30.0 / math.pi).zero_flux_field_current == pytest.approx(-0.5)
    assert line.field_current(2.0) == pytest.approx(1.0)
    assert line.k_phi(2.0) == pytest.approx(4.0)  # continued
    refusing = TableFlux((0.5, 1.5), (1.0, 3.0), 30.0 / math.pi)
    for inside in (0.5, 1.5, 1.5 * (1 + 0.9e-12), 0.5 - 1.4e-12):
        refusing.k_phi(inside)
    for outside in (0.49, 1.51, 1.5 * (1 + 1.1e-12), 0.5 - 1.6e-12):
        with pytest.raises(ValueError, match=r"a current inside the measured table, 0\.5 A to 1\.5 A"):
            refusing.k_phi(outside)
    with pytest.raises(
        ValueError, match=r"k_phi is 3\.5 V s/rad; a value that the flux curve has \(from 1 to 3 V s/rad\)"
    ):
        refusing.field_current(3.5)
    with pytest.raises(ValueError, match=r"k_phi is 0\.5 V s/rad at index \(1, 0\)"):
        refusing.field_current([[1.0, 2.0], [0.5, 9.0]])
    with pytest.raises(ValueError, match=r"field_current is 2\.0 A at index 1; "):
        refusing.slope([1.0, 2.0, 3.0])


# --- machines


def bench(**changes: Any) -> Machine:
    plain: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**plain | changes)


def test_the_texts_of_a_machine_have_a_length() -> None:
    for name in ("name", "note"):
        assert getattr(bench(**{name: "x" * 2000}), name) == "x" * 2000
        for bad in ("x" * 2001, None, 3):
            with pytest.raises(ValueError, match=f"^{name} is .*; text of at most 2000 characters is needed"):
                bench(**{name: bad})


def test_the_loss_of_a_machine_is_plain_and_never_drives_it() -> None:
    for bad in (ConstantTorque(-0.1), SquareTorque(-0.1), ConstantPower(-1.0)):
        with pytest.raises(ValueError, match=r"^loss_torque is -.* N m; zero or a finite number above it"):
            bench(loss_torque=bad)
    with pytest.raises(ValueError, match=r"^loss_torque is array.*one number"):
        bench(loss_torque=ConstantTorque([0.1, 0.2]))
    assert bench(loss_torque=ConstantTorque(0.5) + SquareTorque(3.0, 10.0)).loss_terms.square == 0.03
    assert bench(loss_torque=UserLoad(lambda speed: 0.0 * speed)).loss_terms.functions


@pytest.mark.parametrize("bad", [{"rated_nothing": 1.0}, {"speed": 1.0}, {"rated_": 1.0}, {3: 1.0}])
def test_a_nameplate_names_quantities(bad: Any) -> None:
    with pytest.raises(ValueError, match=r"^nameplate: .* is unknown; 'rated_' and the name of a quantity is needed"):
        bench(nameplate=bad)
    with pytest.raises(ValueError, match="a mapping of rated_"):
        bench(nameplate=[("rated_speed", 1.0)])
    assert math.copysign(1.0, bench(nameplate={"rated_speed": -0.0}).nameplate["rated_speed"]) == 1.0


def test_windings_are_warmed_each_by_its_own_pair() -> None:
    cold = bench(brush_drop=2.0, line_resistance=0.1)
    # (235 + 71)/(235 + 20) = 1.2; (235 + 122)/(235 + 20) = 1.4
    warm = cold.with_temperatures(
        temperature_constant=COPPER_235, field_from=20.0, field_to=71.0, armature_from=20.0, armature_to=122.0
    )
    assert [warm.field_resistance, warm.armature_resistance] == pytest.approx([192.0, 1.12])
    assert (warm.brush_drop, warm.line_resistance) == (2.0, 0.1)
    alone = cold.with_temperatures(temperature_constant=COPPER_235, armature_from=20.0, armature_to=122.0)
    assert [alone.field_resistance, alone.armature_resistance] == pytest.approx([160.0, 1.12])
    for pair in ({"field_from": 20.0}, {"field_to": 20.0}):
        with pytest.raises(ValueError, match=r"^field_resistance: one of its two temperatures is missing"):
            cold.with_temperatures(temperature_constant=235.0, **pair)
    for pair in ({"armature_from": 20.0}, {"armature_to": 20.0}):
        with pytest.raises(ValueError, match=r"^armature_resistance: one of its two temperatures is missing"):
            cold.with_temperatures(temperature_constant=235.0, **pair)
    with pytest.raises(ValueError, match="no temperatures are given"):
        cold.with_temperatures(temperature_constant=235.0)
    with pytest.raises(ValueError, match=r"reference_temperature is -235\.0 degC; a temperature above -235 degC"):
        cold.with_temperatures(temperature_constant=235.0, field_from=-235.0, field_to=20.0)
    with pytest.raises(ValueError, match=r"winding_temperature is -236\.0 degC; a temperature above -235 degC"):
        cold.with_temperatures(temperature_constant=235.0, field_from=20.0, field_to=-236.0)
    # half the absolute resistance: 235 + t2 is half of 255
    half = cold.with_temperatures(temperature_constant=235.0, field_from=20.0, field_to=-107.5)
    assert half.field_resistance == pytest.approx(80.0)
    nearly = cold.with_temperatures(temperature_constant=235.0, field_from=-234.5, field_to=-234.25)
    assert nearly.field_resistance == pytest.approx(240.0)
