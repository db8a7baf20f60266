"""Resistors and their networks: sharing of current and power, the search, preferred values, standards as data."""

import math
import tomllib
from importlib.resources import files
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.model.networks import nearest_networks, search_networks
from shuntref.model.preferred import SERIES, nearest_preferred, preferred_neighbours
from shuntref.model.resistors import Network, Resistor, needed_rating, parallel, series, single
from shuntref.model.standards import speed_tolerance, standard_value

ohms = st.floats(0.1, 1000.0)


@st.composite
def networks(draw, depth=3):
    if depth == 0 or draw(st.booleans()):
        return single(Resistor(draw(ohms), 50.0, tolerance=draw(st.floats(0.0, 0.2))))
    join = draw(st.sampled_from([series, parallel]))
    return join(*(draw(networks(depth - 1)) for _ in range(draw(st.integers(2, 3)))))


@given(networks(), st.floats(0.01, 100.0))
def test_the_powers_of_the_elements_add_up_to_the_power_of_the_whole(network, current):
    duties = network.duties(current)
    assert math.fsum(duty.power for duty in duties) == pytest.approx(current**2 * network.resistance, rel=1e-9)
    assert len(duties) == network.elements
    for duty in duties:
        assert duty.voltage == pytest.approx(duty.current * duty.resistor.resistance, rel=1e-9)


def _rebuilt(network: Network, position: int, factor: float) -> Network:
    """The same network with the resistance of its element number ``position`` multiplied by ``factor``."""
    if network.resistor is not None:
        own = network.resistor
        return single(Resistor(own.resistance * (factor if position == 0 else 1.0), own.rated_power))
    parts, passed = [], 0
    for part in network.parts:
        inside = passed <= position < passed + part.elements
        parts.append(_rebuilt(part, position - passed if inside else -1, factor))
        passed += part.elements
    return Network(network.kind, None, tuple(parts))


@given(networks())
def test_uncertainty_of_a_network_is_that_of_numeric_differentiation(network):
    step, total = 1e-6, 0.0
    for position, duty in enumerate(network.duties(1.0)):
        up, down = (_rebuilt(network, position, 1.0 + sign * step).resistance for sign in (1.0, -1.0))
        slope = (up - down) / (2.0 * step * duty.resistor.resistance)
        total += (slope * duty.resistor.tolerance * duty.resistor.resistance) ** 2 / 3.0
    # 1e-6 absolute: what the differences lose to rounding when a small element sits beside a large one
    assert network.standard_uncertainty() == pytest.approx(math.sqrt(total), rel=1e-4, abs=1e-6)


@given(networks())
def test_at_the_highest_current_one_element_is_just_at_its_rating(network):
    shares = [duty.share for duty in network.duties(network.highest_current())]
    assert max(shares) == pytest.approx(1.0, rel=1e-9)


def test_a_current_rating_counts_where_it_is_narrower():
    rheostat = Resistor(100.0, 400.0, rated_current=1.0)
    assert rheostat.highest_current == 1.0
    assert single(rheostat).duties(0.5)[0].share == 0.25
    assert single(rheostat).highest_current() == 1.0


def test_numbers_of_networks_of_equal_resistors_are_those_of_two_terminal_series_parallel_networks():
    # 1, 2, 4, 10, 24 essentially series-parallel networks of 1 to 5 equal elements: a count known since
    # P. A. MacMahon, The combinations of resistances, The Electrician, 1892 (numbers from memory)
    counts = []
    for most in range(1, 6):
        counts.append(len(search_networks([Resistor(1.0, 1.0, count=5)], most_elements=most).networks))
    assert [counts[0], *(after - before for before, after in pairwise(counts))] == [1, 2, 4, 10, 24]


def test_the_search_never_uses_more_resistors_than_there_are():
    kit = [Resistor(10.0, 50.0, count=2), Resistor(22.0, 50.0, count=1), Resistor(47.0, 25.0, count=3)]
    found = search_networks(kit)
    assert found.complete
    assert all(network.used[kind] <= kind.count for network in found.networks for kind in network.used)
    texts = [str(network) for network in found.networks]
    assert len(texts) == len(set(texts))


def test_a_bounded_search_says_that_it_is_not_complete():
    kit = [Resistor(value, 50.0, count=6) for value in (1.0, 2.2, 4.7, 10.0, 22.0, 47.0, 100.0)]
    found = search_networks(kit, most_elements=5, most_networks=2000)
    assert not found.complete
    assert found.elements == 3
    assert len(found.networks) <= 2000


def test_nearest_network_stays_within_the_ratings():
    found = search_networks([Resistor(10.0, 25.0, count=4)])
    weak = nearest_networks(found, 10.0, current=1.0)[0]
    strong = nearest_networks(found, 10.0, current=3.0)[0]
    assert (str(weak), weak.elements) == ("10 ohm", 1)
    assert strong.resistance == pytest.approx(10.0)
    assert strong.elements == 4
    assert nearest_networks(found, 10.0, current=30.0) == ()


@pytest.mark.parametrize("name", SERIES)
def test_preferred_values_are_the_stored_table_and_not_a_formula(name):
    table = standard_value("preferred_numbers", "preferred-resistances")[name]
    for decade in (1, 10, 100):
        for entry in table:
            assert nearest_preferred(entry * decade / 10.0, name) == pytest.approx(entry * decade / 10.0, rel=1e-12)
    step = {"E6": 6, "E12": 12, "E24": 24}[name]
    e24 = standard_value("preferred_numbers", "preferred-resistances")["E24"]
    assert table == e24[:: 24 // step]
    generated = [round(10.0 ** (1.0 + index / 24.0)) for index in range(24)]
    assert sum(stored != made for stored, made in zip(e24, generated, strict=True)) == 8


@given(st.floats(1e-3, 1e6), st.sampled_from(SERIES))
def test_neighbours_enclose_the_resistance(resistance, name):
    below, above = preferred_neighbours(resistance, name)
    assert below <= resistance <= above
    assert above / below <= 1.6
    assert nearest_preferred(resistance, name) in (below, above)


def test_needed_rating_rounds_up_and_never_down():
    assert needed_rating(60.0) == pytest.approx(120.0)
    assert needed_rating(60.1) == pytest.approx(130.0)
    assert needed_rating(0.0) == 0.0


@pytest.mark.parametrize(
    ("output_kW", "speed", "percent"),
    # worked out by hand from the bands (from memory, IEC 60034-1); 15 kW and 7.5 kW sit on the edge of a band
    [
        (0.25, 1500, 15),
        (1.5, 1500, 10),
        (3.7, 1500, 10),
        (10, 1500, 7.5),
        (15, 1500, 5),
        (0.75, 3000, 15),
        (7.5, 750, 5),
    ],
)
def test_speed_tolerance_bands(output_kW, speed, percent):
    assert speed_tolerance(output_kW * 1000.0, speed) == pytest.approx(percent / 100.0)


def test_every_stored_standard_value_says_its_source_and_whether_it_was_seen():
    folder = files("shuntref.references").joinpath("standards")
    rows = []
    for name in ("preferred_numbers", "tolerances", "overspeed", "insulation", "safety", "typical"):
        rows += tomllib.loads(folder.joinpath(f"{name}.toml").read_text(encoding="utf-8"))["value"]
    for row in rows:
        assert row["source"], row["id"]
        assert row["seen"], row["id"]
        assert row["confidence"] in ("high", "medium", "low"), row["id"]
    assert len({row["id"] for row in rows}) == len(rows)


def test_overspeed_levels_are_never_a_permission():
    for identity in ("overspeed-test-shunt", "overspeed-test-us"):
        row = standard_value("overspeed", identity)
        assert row["permitted_running_speed"] is False
        assert "Never a permitted running speed" in row["note"]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Resistor(0.0, 5.0), "resistance is 0.0"),
        (lambda: Resistor(10.0, -5.0), "rated_power is -5.0"),
        (lambda: Resistor(10.0, 5.0, count=0), "count is 0"),
        (lambda: Resistor(10.0, 5.0, tolerance=5.0), "5 % is 0.05"),
        (lambda: search_networks([]), "the kit is empty"),
        (lambda: search_networks([Resistor(1.0, 1.0)], most_elements=9), "1 to 6 resistors"),
        (lambda: nearest_preferred(float("inf")), "resistance is inf"),
        (lambda: nearest_preferred(10.0, "E7"), "E6, E12, E24 are stored"),
        (lambda: series(single(Resistor(1.0, 1.0))), "at least two"),
    ],
)
def test_refusals_are_one_clear_line(call, words):
    with pytest.raises(ValueError, match=words):
        call()
