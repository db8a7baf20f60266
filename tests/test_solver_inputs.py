"""What goes into the solver: values that cannot be, at the very edge of what can, and how each is told."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from shuntref.model.flux import ProportionalFlux
from shuntref.model.load import ConstantPower, ConstantTorque, ProportionalTorque
from shuntref.model.machine import Machine
from shuntref.model.setting import BLOCK, gather
from shuntref.model.steady import steady_state
from shuntref.model.table_points import increasing_points
from shuntref.model.validation import as_array, check_array, every_keeps, keeps, refuse, scalar


def bench(**changes: Any) -> Machine:
    values: dict[str, Any] = {"armature_resistance": 0.5, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**{**values, **changes})


def told(call: Any, *arguments: Any, **more: Any) -> str:
    with pytest.raises(ValueError) as caught:
        call(*arguments, **more)
    return str(caught.value)


EDGES: list[tuple[str, list[float], list[float]]] = [
    ("positive", [1e-30, 1.0, 1e30], [math.nextafter(1e-30, 0.0), 0.0, -0.0, -1.0, math.nextafter(1e30, math.inf)]),
    ("not negative", [0.0, -0.0, 5e-324, 1e-31, 1e30], [-5e-324, -1.0, math.nextafter(1e30, math.inf)]),
    ("finite", [-1e30, -1.0, 0.0, 1e-40, 1e30], [math.nextafter(1e30, math.inf), math.nextafter(-1e30, -math.inf)]),
]


@pytest.mark.parametrize(("rule", "good", "bad"), EDGES)
def test_a_rule_is_kept_up_to_its_very_edge(rule: str, good: list[float], bad: list[float]) -> None:
    bad = [*bad, math.nan, math.inf, -math.inf]
    for value in good:
        assert keeps(value, rule)
        assert scalar("target", value, rule) == value
        check_array("target", np.array([1.0, value, 1.0]), rule)
        # a negative zero may be looked at twice, but is let through
        assert every_keeps(np.array([1.0, value]), rule) or math.copysign(1.0, value) < 0.0 == value
    for value in bad:
        assert not keeps(value, rule)
        assert not every_keeps(np.array([1.0, value, 2.0]), rule)
        assert f"target is {value!r}" in told(scalar, "target", value, rule)
        assert f"target is {value!r} at index 1; " in told(check_array, "target", np.array([1.0, value, value]), rule)
    assert every_keeps(np.array([]), rule)


@pytest.mark.parametrize(
    ("rule", "good", "bad"),
    [
        ("positive", [1e-12, 1e12], [9.9e-13, 0.0, -1.0, 1.01e12]),
        ("not negative", [0.0, 1e-20, 1e12], [-1e-20, 1.01e12]),
        ("finite", [-1e12, 0.0, 1e12], [-1.01e12, 1.01e12]),
    ],
)
def test_in_single_precision_the_ends_are_nearer(rule: str, good: list[float], bad: list[float]) -> None:
    for value in good:
        assert every_keeps(np.array([1.0, value], np.float32), rule)
        check_array("target", np.array([1.0, value], np.float32), rule)
    for value in [*bad, math.nan, math.inf, -math.inf]:
        assert not every_keeps(np.array([1.0, value], np.float32), rule)
        assert "target is" in told(check_array, "target", np.array([1.0, value], np.float32), rule)


def test_a_refusal_reads_as_one_clear_line() -> None:
    assert str(refuse("brush_drop", -2, "not negative")) == (
        "brush_drop is -2.0 V; zero or a finite number above it is needed"
    )
    assert str(refuse("k_phi", 0.0, "positive", (3,))) == (
        "k_phi is 0.0 V s/rad at index 3; a finite number above zero is needed"
    )
    assert str(refuse("efficiency", math.nan, "finite", (0, 2))) == (
        "efficiency is nan at index (0, 2); a finite number is needed"
    )
    ordinary = "a number of ordinary size (up to 1e+30; 1e-30 at least where it may not be zero) is needed"
    assert str(refuse("field_resistance", 1e-31, "positive")) == f"field_resistance is 1e-31 ohm; {ordinary}"
    assert str(refuse("load_torque", -1e31, "finite")) == f"load_torque is -1e+31 N m; {ordinary}"
    assert str(refuse("brush_drop", 1e31, "not negative")) == f"brush_drop is 1e+31 V; {ordinary}"
    assert str(refuse("load", "a" * 100, "a load")) == f"load is '{'a' * 59}; a load is needed"
    assert str(refuse("pace", 2.0, "a load")) == "pace is 2.0; a load is needed"


def test_what_is_no_number_is_told_from_one_out_of_range() -> None:
    for value in (True, np.True_, "12", b"12"):
        assert told(scalar, "target", value, "positive") == f"target is {value!r}; a finite number above zero is needed"
    for value in (None, [1.0, 2.0], {}):
        words = f"target is {value!r}; one number (a finite number above zero) is needed"
        assert told(scalar, "target", value, "positive") == words
    assert "target is inf" in told(scalar, "target", 10**400, "finite")
    assert scalar("target", np.float32(2.0), "positive") == 2.0
    assert type(scalar("target", 2, "positive")) is float


def test_arrays_of_any_kind_of_number_become_double_or_single() -> None:
    double = np.array([1.0, 2.0])
    single = double.astype(np.float32)
    assert as_array("target", double) is double
    assert as_array("target", single) is single
    for given, kind in (
        ([1, 2], np.float64),
        (np.array([1, 2], np.int8), np.float64),
        (np.array([1, 2], np.uint64), np.float64),
        (double.astype(np.float16), np.float32),
        (double.astype(np.longdouble), np.float64),
        (np.array([1.0, 2.0], object), np.float64),
        (np.ma.masked_array([1.0, 2.0], mask=[False, False]), np.float64),
    ):
        array = as_array("target", given)
        assert array.dtype == kind
        assert array.tolist() == [1.0, 2.0]
    for wrong in ([True], ["1"], [1j], [[1.0], [1.0, 2.0]], [10**400, {}]):
        assert told(as_array, "target", wrong).endswith("a number or an array of numbers is needed")
    masked = np.ma.masked_array([1.0, 2.0], mask=[False, True])
    assert told(as_array, "target", masked) == "target is 'a masked array'; an array without masked values is needed"


def test_the_place_in_a_block_is_told_as_the_place_in_the_whole() -> None:
    block = np.array([1.0, 2.0, -3.0, -4.0])
    words = "target is -3.0 at index 12; zero or a finite number above it is needed"
    assert told(check_array, "target", block, "not negative", offset=10, shape=(20,)) == words
    assert "at index (2, 2, 0)" in told(check_array, "target", block, "not negative", offset=8, shape=(3, 4, 1))
    assert "at index (1, 0)" in told(check_array, "target", block.reshape(2, 2), "not negative")


# --- tables


def test_a_table_has_from_two_points_to_a_hundred_thousand_in_order() -> None:
    assert increasing_points("field_current", [0, 1], "back_emf", (5, 4)) == ((0.0, 1.0), (5.0, 4.0))
    count = 100_000
    many = range(count)
    assert len(increasing_points("field_current", many, "back_emf", many)[0]) == count
    words = f"field_current has {count + 1} points; from 2 to {count} are needed"
    assert told(increasing_points, "field_current", range(count + 1), "back_emf", range(count + 1)) == words
    words = "back_emf has 1 points; from 2 to 100000 are needed"
    assert told(increasing_points, "field_current", [0, 1], "back_emf", [0]) == words
    assert "field_current has 0 points" in told(increasing_points, "field_current", [], "back_emf", [0])
    words = "field_current has 2 points but back_emf has 3; as many are needed"
    assert told(increasing_points, "field_current", [0, 1], "back_emf", [0, 1, 2]) == words
    for wrong in ("12", b"12", 5.0, None):
        words = told(increasing_points, "field_current", [0, 1], "back_emf", wrong)
        assert words.startswith("back_emf is ")
        assert words.endswith("a list of numbers is needed")
    assert "back_emf is nan V; a finite number" in told(
        increasing_points, "field_current", [0, 1], "back_emf", [0, math.nan]
    )


def test_points_out_of_order_are_told_with_the_one_before() -> None:
    for currents, index in (([0, 0, 2], 1), ([0, 1, 2, 2], 3), ([3, 1, 2], 1), ([0, 2, 1.5, 1], 2)):
        words = told(increasing_points, "field_current", currents, "back_emf", list(range(len(currents))))
        value, before = float(currents[index]), float(currents[index - 1])
        assert words == (
            f"field_current is {value!r} A at index {index}; a value above {before!r}, the one before it, is needed"
        )
    falling: tuple[Any, ...] = ("field_current", [0, 1, 2], "back_emf", [0, 5, 4])
    assert increasing_points(*falling)[1] == (0.0, 5.0, 4.0)
    assert "back_emf is 4.0 V at index 2; a value above 5.0" in told(increasing_points, *falling, second_increases=True)


# --- what a call is given


def test_the_points_of_a_setting_however_their_inputs_lie_in_memory() -> None:
    ohms = np.array([[0.5], [1.0], [2.0]])
    volts = np.array([100.0, 120.0, 140.0, 160.0], np.float32)
    state = steady_state(
        bench(), supply_voltage=volts, armature_resistance=ohms, load_torque=np.full((3, 4), 3.0).T.copy().T
    )
    for i, r in enumerate(ohms[:, 0]):
        for j, u in enumerate(volts):
            k_phi = float(u) / 160.0
            assert state.speed[i, j] == pytest.approx((float(u) - r * 3.0 / k_phi) / k_phi, rel=1e-12)
            assert state.armature_circuit_resistance[i, j] == r
    assert state.speed.dtype == np.float64
    setting = gather(bench(), {"supply_voltage": volts, "armature_resistance": ohms}, None, None)
    assert (setting.shape, setting.size, setting.dtype) == ((3, 4), 12, np.float64)
    some = setting.points(np.array([5, 11]))
    assert some["supply_voltage"].tolist() == [120.0, 160.0]
    assert some["armature_resistance"].tolist() == [1.0, 2.0]
    assert setting.block(3, 6)["armature_resistance"].tolist() == [0.5, 1.0, 1.0]
    assert setting.block(3, 6)["supply_voltage"].tolist() == [160.0, 100.0, 120.0]
    assert list(setting.blocks(5)) == [(0, 5), (5, 10), (10, 12)]
    assert list(setting.blocks()) == [(0, 12)]
    whole = gather(bench(), {"supply_voltage": np.full(BLOCK + 1, 120.0)}, None, None)
    assert list(whole.blocks()) == [(0, BLOCK), (BLOCK, BLOCK + 1)]


def test_a_line_that_is_swept_through_nought_leaves_source_and_supply_together_there() -> None:
    state = steady_state(bench(), supply_voltage=120.0, line_resistance=[0.0, 0.5], load_torque=6.0)
    assert state.source_voltage.tolist() == [120.0, 120.0 + 0.5 * 8.75]
    assert state.supply_voltage.tolist() == [120.0, 120.0]
    assert state.speed.tolist() == [116.0 / 0.75] * 2
    state = steady_state(bench(), source_voltage=120.0, line_resistance=[0.0, 0.5], load_torque=0.0)
    np.testing.assert_allclose(state.supply_voltage, [120.0, 120.0 * 160.0 / 160.5], rtol=1e-15)
    np.testing.assert_allclose(state.speed, 160.0, rtol=1e-14)  # whatever the voltage


def test_a_negative_value_in_an_input_that_is_repeated_is_told_by_its_own_index() -> None:
    with pytest.raises(ValueError, match=r"armature_resistance is -1.0 ohm at index \(1, 0\)"):
        steady_state(bench(), supply_voltage=[100.0, 120.0], armature_resistance=[[0.5], [-1.0], [2.0]])
    with pytest.raises(ValueError, match=r"supply_voltage is -1.0 V; zero or"):
        steady_state(bench(), supply_voltage=np.array([-1.0]), armature_resistance=[0.5, 0.6])
    with pytest.raises(ValueError, match=r"load_torque is nan N m at index 1; a finite number"):
        steady_state(bench(), supply_voltage=120.0, load_torque=[1.0, math.nan])
    with pytest.raises(ValueError, match=r"load_torque is inf N m at index \(0, 1\)"):
        steady_state(bench(), supply_voltage=[[120.0], [110.0]], load_torque=[[1.0, math.inf]])
    with pytest.raises(ValueError, match=r"do not fit together: supply_voltage \(2,\), load_torque \(3,\)"):
        steady_state(bench(), supply_voltage=[120.0] * 2, load=ProportionalTorque([1.0] * 3))
    with pytest.raises(ValueError, match=r"do not fit together: supply_voltage \(2,\), output_power \(3,\)"):
        steady_state(bench(), supply_voltage=[120.0] * 2, load=ConstantPower([1.0] * 3))
    with pytest.raises(ValueError, match=r"load_torque \(3,\)"):
        steady_state(bench(), supply_voltage=[120.0] * 2, load=ConstantTorque([1.0] * 3))


def test_a_single_point_refuses_what_the_block_refuses() -> None:
    for name, value, words in (
        ("supply_voltage", -1, "supply_voltage is -1.0 V; zero or a finite number above it"),
        ("supply_voltage", True, "supply_voltage is True; "),
        ("field_resistance", 0, "field_resistance is 0.0 ohm; a finite number above zero"),
        ("field_resistance", 1e-31, "field_resistance is 1e-31 ohm; a number of ordinary size"),
        ("armature_resistance", 2e30, "armature_resistance is 2e[+]30 ohm; a number of ordinary size"),
        ("added_field_resistance", math.nan, "added_field_resistance is nan ohm; zero or"),
        ("brush_drop", -0.5, "brush_drop is -0.5 V; zero or"),
        ("line_resistance", -1e-31, "line_resistance is -1e-31 ohm; zero or"),
    ):
        with pytest.raises(ValueError, match=words):
            steady_state(bench(), **{"supply_voltage": 120.0, "load_torque": 1.0, name: value})
    accepted = {"armature_resistance": 1e-31, "brush_drop": 0, "line_resistance": 0, "added_field_resistance": 80}
    state = steady_state(bench(), supply_voltage=120, load_torque=1, **accepted)
    assert state.speed == 240.0
    assert type(state.supply_voltage) is type(state.added_field_resistance) is float
