"""Starting resistance and starter grading: published examples recomputed from their givens, and what must always hold.

Sources, printed digits, allowances with reasons and what was seen stand in references/bench/starter_examples.toml.
"""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.bench.starter_examples import computed_figures, starter_examples
from shuntref.model.starter_grading import grade_starter_by_limits, grade_starter_by_sections
from shuntref.model.starting import direct_starting_current, starter_steps, starting_resistance

EXAMPLES = {example.identity: example for example in starter_examples()}
FIGURES = [(identity, name) for identity, example in EXAMPLES.items() for name in example.printed]


@pytest.mark.parametrize(("identity", "name"), FIGURES)
def test_published_starter_figures_follow_from_their_givens(identity, name):
    example = EXAMPLES[identity]
    assert abs(computed_figures(example)[name] - float(example.printed[name])) <= example.allowance(name), example.why


def test_every_published_example_says_where_it_is_from_and_why_it_is_allowed_more():
    for example in EXAMPLES.values():
        assert example.source
        assert example.seen
        assert set(example.units) <= set(example.printed)
        if example.units:
            assert example.why != "half a unit of the last printed digit"


def test_the_two_exponents_are_not_the_same():
    # the classic trap: with the lower limit given the exponent is one more than with the upper limit given
    by_upper = grade_starter_by_sections(220.0, 0.5, sections=6, upper_current=40.0)
    by_lower = grade_starter_by_sections(220.0, 0.5, sections=6, lower_current=by_upper.lower_current)
    assert by_lower.sections == pytest.approx(by_upper.sections, rel=1e-12)
    wrong = (220.0 / (0.5 * by_upper.lower_current)) ** (1.0 / 6.0)
    assert wrong != pytest.approx(by_upper.current_ratio, rel=1e-3)


machines = st.tuples(
    st.floats(20.0, 800.0),  # supply voltage
    st.floats(0.01, 0.2),  # armature drop at the lower current, as a share of the supply
    st.floats(1.0, 500.0),  # lower current
    st.floats(1.1, 3.0),  # ratio of the limits
    st.floats(0.0, 0.02),  # brush drop as a share
)


@given(machines)
def test_limits_kept_means_no_peak_above_the_upper_limit(machine):
    voltage, share, lower, ratio, brush = machine
    own, upper = share * voltage / lower, ratio * lower
    grading = grade_starter_by_limits(voltage, own, upper, lower, brush_drop=brush * voltage)
    assert grading.highest_peak <= upper * (1.0 + 1e-9)
    assert all(step.cut_out_current == lower for step in grading.steps[:-1])
    # all but the last contact reach the upper limit itself; the last section takes what is left
    for step in grading.steps[:-1]:
        assert step.peak_current == pytest.approx(upper, rel=1e-9)
    assert len(grading.sections) == max(math.ceil(grading.sections_exact - 1e-9), 0)


@given(machines, st.integers(1, 12))
def test_sections_fixed_means_that_every_peak_is_the_same(machine, count):
    voltage, share, lower, ratio, brush = machine
    own, drop = share * voltage / lower, brush * voltage
    upper = min(ratio * lower, 0.99 * direct_starting_current(voltage, own, brush_drop=drop))
    grading = grade_starter_by_sections(voltage, own, sections=count, upper_current=upper, brush_drop=drop)
    assert len(grading.sections) == count
    assert grading.studs == count + 1
    for step in grading.steps:
        assert step.peak_current == pytest.approx(upper, rel=1e-9)
    ratios = [
        before.circuit_resistance / after.circuit_resistance for before, after in itertools.pairwise(grading.steps)
    ]
    assert ratios == pytest.approx([grading.current_ratio] * count, rel=1e-9)


@given(machines)
def test_sections_add_up_to_the_starting_resistance(machine):
    voltage, share, lower, ratio, brush = machine
    own, drop = share * voltage / lower, brush * voltage
    grading = grade_starter_by_limits(voltage, own, ratio * lower, lower, brush_drop=drop)
    wanted = starting_resistance(voltage, own, ratio * lower, brush_drop=drop)
    assert grading.starting_resistance == pytest.approx(wanted, rel=1e-9, abs=1e-12)


def test_nearest_saves_a_section_and_owns_up_to_the_higher_last_peak():
    up = grade_starter_by_limits(250.0, 0.125, 200.0, 150.0)
    nearest = grade_starter_by_limits(250.0, 0.125, 200.0, 150.0, rounding="nearest")
    assert (len(up.sections), len(nearest.sections)) == (9, 8)
    assert up.highest_peak <= 200.0 + 1e-9
    assert 200.0 < nearest.highest_peak < 201.0


def test_a_machine_that_may_be_switched_straight_on_needs_no_section():
    grading = grade_starter_by_limits(120.0, 10.0, 15.0, 5.0)
    assert grading.sections == ()
    assert grading.steps[0].peak_current == 12.0
    assert starting_resistance(120.0, 10.0, 15.0) == 0.0
    with pytest.raises(ValueError, match="no starter is needed"):
        grade_starter_by_sections(120.0, 10.0, sections=3, upper_current=15.0)


def test_a_line_limit_leaves_less_for_the_armature():
    on_armature = starting_resistance(120.0, 0.5, 30.0)
    on_line = starting_resistance(120.0, 0.5, 30.0, limit="line", field_current=0.8)
    assert on_line == pytest.approx(120.0 / 29.2 - 0.5)
    assert on_line > on_armature


def test_the_fuse_sees_the_field_current_too():
    grading = grade_starter_by_limits(250.0, 0.05, 700.0, 350.0)
    assert grading.line_peaks(5.0)[0] == pytest.approx(705.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: starting_resistance(-120.0, 0.5, 30.0), "supply_voltage is -120"),
        (lambda: starting_resistance(120.0, float("nan"), 30.0), "armature_resistance is nan"),
        (lambda: starting_resistance(120.0, 0.5, 30.0, limit="fuse"), "write 'armature' or 'line'"),
        (lambda: starting_resistance(120.0, 0.5, 0.5, limit="line", field_current=0.8), "field alone takes"),
        (lambda: grade_starter_by_limits(120.0, 0.5, 30.0, 30.0), "must be above lower_current"),
        (lambda: grade_starter_by_limits(120.0, 1e-6, 30.0, 29.999), "spread the limits"),
        (lambda: grade_starter_by_limits(120.0, 0.5, 30.0, 20.0, rounding="down"), "'up' or 'nearest'"),
        (lambda: grade_starter_by_sections(120.0, 0.5, upper_current=30.0), "either sections or studs"),
        (lambda: grade_starter_by_sections(120.0, 0.5, studs=1, upper_current=30.0), "sections is 0"),
        (lambda: grade_starter_by_sections(120.0, 0.5, sections=3), "either upper_current or lower_current"),
        (lambda: starter_steps(120.0, 0.5, (5.0, 1.0), 25.0), "draws only"),
        (lambda: starter_steps(120.0, 0.5, (5.0, 0.0), 15.0), "section 2 is 0.0"),
    ],
)
def test_refusals_name_the_quantity_and_what_would_do(call, words):
    with pytest.raises(ValueError, match=words):
        call()
