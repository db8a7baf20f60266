"""What works on many points at once, and beside it: the speed in bulk, the speed-torque line, kits and ratings of resistors."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from shuntref.model import bulk
from shuntref.model.bulk import shunt_speed
from shuntref.model.flux import FroehlichFlux, ProportionalFlux
from shuntref.model.machine import Machine
from shuntref.model.networks import nearest_networks, search_networks
from shuntref.model.reaction import ProportionalReaction
from shuntref.model.resistors import Resistor, needed_rating
from shuntref.model.standards import speed_tolerance, standard_value
from shuntref.model.status import Status
from shuntref.model.torque_line import speed_torque_line


def bench(**changes: Any) -> Machine:
    """120 V and 160 ohm of field: 0.75 A and 0.75 V s/rad; 0.8 ohm of armature."""
    plain: dict[str, Any] = {"armature_resistance": 0.8, "field_resistance": 160.0, "flux": ProportionalFlux(1.0)}
    return Machine(**plain | changes)


# --- the speed in bulk


def test_the_speed_in_bulk_by_hand_in_any_shape() -> None:
    volts, added = np.array([[120.0], [240.0]]), np.array([0.0, 40.0, 160.0])
    found = shunt_speed(volts, 1.0, 160.0, added, 0.5, 0.3, 6.0)
    k = volts / (160.0 + added)
    np.testing.assert_allclose(found.speed, volts / k - 6.0 * 0.8 / k**2, rtol=1e-14)
    assert not found.status.any()
    assert found.status.shape == (2, 3)
    assert shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, 6.0).speed == pytest.approx(160.0 - 4.8 / 0.5625)
    empty = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, np.array([]), workers=3)
    assert empty.speed.shape == (0,)
    np.testing.assert_array_equal(
        shunt_speed(volts[::-1].T, 1.0, 160.0, added[:, None], 0.5, 0.3, 6.0).speed, found.speed[::-1].T
    )


@pytest.mark.parametrize("workers", [1, 2, 5])
@pytest.mark.parametrize("size", [1, 9, 10, 11, 20, 95])
def test_every_point_is_worked_out_once_however_the_blocks_are_shared(
    size: int, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bulk, "_BLOCK", 10)
    torque = np.arange(size, dtype=float)
    found = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torque, workers=workers)
    np.testing.assert_allclose(found.speed, 160.0 - torque * 0.8 / 0.5625, rtol=1e-13)
    torque[-1] = 1000.0
    found = shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torque, workers=workers)
    assert np.flatnonzero(found.status).tolist() == [size - 1]
    torque[-1] = math.nan
    if size > 1:
        with pytest.raises(ValueError, match=rf"electromagnetic_torque is nan N m at index {size - 1};"):
            shunt_speed(120.0, 1.0, 160.0, 0.0, 0.8, 0.0, torque, workers=workers)


# --- the speed-torque line


def test_the_line_stops_where_reaction_has_taken_all_of_the_flux() -> None:
    machine = bench(armature_reaction=ProportionalReaction(0.0075))  # 0.75 A of field are gone at 100 A
    line = speed_torque_line(machine, supply_voltage=120.0, armature_current=[0.0, 50.0, 99.0, 100.0, 120.0])
    # the speed, (120 - 0.8 I)/(0.75 - 0.0075 I), rises with the current from the beginning; the torque, (0.75 - 0.0075 I) I,
    # rises with it to 50 A, and falls with it after that: only there more speed is less torque
    assert line.status.tolist() == [Status.UNSTABLE_ONLY] * 2 + [Status.OK] + [Status.NO_SOLUTION] * 2
    assert np.isnan(line.speed).tolist() == [False, False, False, True, True]
    assert line.armature_current.tolist() == [0.0, 50.0, 99.0, 100.0, 120.0]
    assert line.supply_voltage.tolist() == [120.0] * 5
    # at 50 A half of the flux is left: 80 V over 0.375
    assert line.speed[1] == pytest.approx(80.0 / 0.375)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"armature_current": [[1.0, 2.0]]}, "a list of numbers is needed"),
        ({"armature_current": [1.0, math.nan]}, "armature_current is nan A at index 1"),
        ({"added_armature_resistance": [0.0, 1.0]}, "added_armature_resistance is 'an array of shape (2,)'"),
    ],
)  # fmt: skip
def test_what_makes_no_line_is_refused(given: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=r"^") as caught:
        speed_torque_line(bench(), supply_voltage=120.0, **given)
    assert words in str(caught.value)


def test_what_is_more_than_rounding_above_standstill_is_no_standstill() -> None:
    line = speed_torque_line(bench(), supply_voltage=120.0, armature_current=[150.0 * (1.0 - 1e-10)])
    assert line.speed[0] == pytest.approx(160e-10, rel=1e-5)


def test_a_line_that_never_comes_to_standstill_needs_its_currents() -> None:
    remanent = FroehlichFlux(1.6, 0.9, 0.1)
    starved = bench(flux=remanent, brush_drop=2.0)
    for machine, volts in ((bench(armature_resistance=0.0), 120.0), (starved, 2.0), (starved, 1.0)):
        with pytest.raises(ValueError, match="this line never comes to standstill"):
            speed_torque_line(machine, supply_voltage=volts)
    line = speed_torque_line(bench(armature_resistance=0.0), supply_voltage=120.0, armature_current=5.0)
    assert line.speed.tolist() == [160.0]
    assert line.electromagnetic_torque.tolist() == [3.75]


# --- kits of resistors


def test_networks_of_equal_resistors_are_counted() -> None:
    # of n equal resistors in series and parallel: 1, 2, 4, 10 and 24 networks
    assert len(search_networks([Resistor(10.0, 50.0, count=9)], most_elements=5).networks) == 1 + 2 + 4 + 10 + 24
    assert search_networks([Resistor(10.0, 50.0, count=9)]).elements == 4  # if nothing else is asked for
    with pytest.raises(ValueError, match="the kit is empty"):
        search_networks([])


def test_a_dead_network_is_borne_by_any_resistor() -> None:
    search = search_networks([Resistor(10.04, 10.04), Resistor(5.0, 5.0, count=2)], most_elements=2)
    assert len(nearest_networks(search, 10.0, highest_share=0.0, count=99)) == len(search.networks)


def test_a_rating_is_rounded_up_to_two_figures() -> None:
    assert [needed_rating(power) for power in (0.0, 60.0, 60.5, 61.3, 0.305, 5.0)] == pytest.approx(
        [0.0, 120.0, 130.0, 130.0, 0.61, 10.0]
    )
    assert needed_rating(10.0, margin=1.0) == pytest.approx(10.0)
    assert needed_rating(9.91, margin=1.0) == pytest.approx(10.0)
    for bad in ({"power": -1.0}, {"power": 1.0, "margin": 0.0}):
        with pytest.raises(ValueError, match=r"^(power|margin) is "):
            needed_rating(**bad)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"count": 0}, "count is 0; a whole number of resistors, at least 1"),
        ({"count": 1.5}, "count is 1.5;"),
        ({"tolerance": 1.0}, "tolerance is 1.0; a fraction from 0 to below 1"),
        ({"tolerance": -0.01}, "tolerance is -0.01;"),
        ({"rated_power": 0.0}, "rated_power is 0.0"),
        ({"rated_current": 0.0}, "rated_current is 0.0"),
        ({"resistance": 0.0}, "resistance is 0.0"),
    ],
)
def test_a_resistor_that_cannot_be_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=r"^") as caught:
        Resistor(**{"resistance": 10.0, "rated_power": 5.0} | changes)
    assert str(caught.value).startswith(words)
    assert Resistor(10.0, 5.0, tolerance=0.99).label == "10 ohm 5 W"
    assert Resistor(10.0, 5.0, name="brown").label == "brown"


def test_the_tolerance_of_a_rated_speed_is_that_of_its_band() -> None:
    bands = standard_value("tolerances", "speed-tolerance-shunt")["bands"]
    for band, after in pairwise(bands):
        edge = band["below"]  # W per r/min
        assert speed_tolerance(edge * 1000.0 * (1.0 - 1e-9), 1000.0) == band["percent"] / 100.0
        assert speed_tolerance(edge * 1000.0, 1000.0) == after["percent"] / 100.0
    with pytest.raises(KeyError, match=r"no 'nothing' in standards/tolerances\.toml; it has "):
        standard_value("tolerances", "nothing")
