"""Roots and extremes of the second evaluator: always between the points that enclose them, to sixty digits, in few steps."""

from __future__ import annotations

from decimal import Decimal, localcontext

import mpmath
import pytest

from shuntref.conformance.bisection import ARITHMETIC, peak, pi, point_between, root, upper_end


def D(text):
    return Decimal(text)


class Watched:
    """A function that remembers where it was asked, and checks that each point lies between the enclosing ones."""

    def __init__(self, f):
        self.f, self.asked, self.below, self.above = f, [], None, None

    def __call__(self, x):
        value = self.f(x)
        if len(self.asked) >= 2:
            ends = sorted((self.below, self.above))
            assert ends[0] < x < ends[1], "a point outside the enclosing interval was asked"
        self.asked.append(x)
        if value < 0:
            self.below = x
        if value > 0:
            self.above = x
        return value


#: convex and concave, rising and falling, flat and steep, small and large: function, ends, the root as text of 70 digits
CURVES = {
    "square": (lambda x: x * x - 2, "1", "2", lambda: mpmath.sqrt(2)),
    "square, ends exchanged": (lambda x: x * x - 2, "2", "1", lambda: mpmath.sqrt(2)),
    "root": (lambda x: x.sqrt() - 3 / x, "1", "9", lambda: mpmath.mpf(3) ** (mpmath.mpf(2) / 3)),
    "falling": (lambda x: 2 - x * x * x, "0", "7", lambda: mpmath.cbrt(2)),
    "falling and concave": (lambda x: 5 - x.exp(), "-3", "11", lambda: mpmath.log(5)),
    "hyperbola": (lambda x: 1 / x - 7, "0.001", "4", lambda: mpmath.mpf(1) / 7),
    "tiny values": (lambda x: (x * x - 2) * D("1e-40"), "1", "2", lambda: mpmath.sqrt(2)),
    "huge values": (lambda x: (3 - x * x) * D("1e40"), "1", "2", lambda: mpmath.sqrt(3)),
    "small root": (lambda x: x * x - D("2e-40"), "0", "1e-10", lambda: mpmath.sqrt(2) * mpmath.mpf(10) ** -20),
    "large root": (lambda x: x * x - D("2e40"), "0", "1e30", lambda: mpmath.sqrt(2) * mpmath.mpf(10) ** 20),
    "negative": (lambda x: x * x * x + 5, "-4", "9", lambda: -mpmath.cbrt(5)),
    "steep": (lambda x: x**9 - 3, "0", "2", lambda: mpmath.root(3, 9)),
    "steep, falling": (lambda x: 3 - x**9, "0", "2", lambda: mpmath.root(3, 9)),
    "flat": (lambda x: 1 - 1 / (x * x * x * 3), "0.1", "9", lambda: mpmath.root(mpmath.mpf(1) / 3, 3)),
}


@pytest.mark.parametrize("name", CURVES)
def test_a_root_is_enclosed_and_found_to_sixty_digits_in_few_steps(name):
    f, low, high, expected = CURVES[name]
    with localcontext(ARITHMETIC), mpmath.workdps(80):
        watched = Watched(f)
        found = root(watched, D(low), D(high))
        right = D(mpmath.nstr(expected(), 75))
        assert abs(found - right) <= abs(right) * D("2e-62")
        # each end, forty halves that leave 1e-12 of the interval, and chords that gain half as many digits again each
        # (12, 18, 26, 38, 56, 81), three more where the root is ten thousand million times smaller than the interval
        assert 42 < len(watched.asked) <= (51 if name in ("small root", "large root") else 48)
        width = D(high) - D(low)
        assert abs(watched.asked[2] - (D(low) + width / 2)) <= abs(width) * D("1e-70")
        assert abs(watched.asked[41] - right) <= abs(width) / 2**40 * D("1.001")  # the fortieth half


def test_a_root_at_an_end_or_in_the_middle_is_that_point():
    for low, high in ((3, 8), (1, 3), (-8, 3), (3, -8)):
        asked = []
        assert root(lambda x, asked=asked: asked.append(x) or x - 3, D(low), D(high)) == 3
        assert asked == [low, high]
    asked = []
    assert root(lambda x: asked.append(x) or x - 3, D(1), D(5)) == 3
    assert asked == [1, 5, 3]
    assert root(lambda x: x * (x - 3), D(0), D(2)) == 0


def test_a_straight_line_takes_one_chord():
    with localcontext(ARITHMETIC):
        watched = Watched(lambda x: x - D("0.7"))
        assert abs(root(watched, D(0), D(1)) - D("0.7")) < D("1e-76")
        assert len(watched.asked) <= 45


def test_a_root_at_zero_is_found_though_nothing_is_close_to_it_in_proportion():
    with localcontext(ARITHMETIC):
        assert abs(root(lambda x: x.exp() - 1, D(-1), D("1.5"))) < D("1e-70")


@pytest.mark.parametrize(("low", "high"), [("1", "2"), ("-2", "-1"), ("0.1", "0.2")])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("size", ["1e-30", "0.5", "1e30"])
def test_without_a_change_of_sign_there_is_no_root(low, high, sign, size):
    with pytest.raises(ValueError, match="no change of sign"):
        root(lambda x: D(size) * sign * (x * x + 1), D(low), D(high))


@pytest.mark.parametrize("offset", ["-0.5", "0.5", "-1e-9", "1e-9"])
def test_small_values_of_either_sign_enclose_a_root_too(offset):
    with localcontext(ARITHMETIC):
        for sign in (1, -1):
            found = root(Watched(lambda x, sign=sign: sign * D("1e-3") * (x - D(offset))), D(-1), D("1.5"))
            assert abs(found - D(offset)) < D("1e-70")


def test_the_end_with_the_smaller_value_is_the_better_one():
    assert point_between(D(1), D(2), D("-0.5"), D(3)) == 1
    assert point_between(D(1), D(2), D(3), D("-0.5")) == 2
    assert point_between(D(1), D(2), D(-3), D("0.5")) == 2


@pytest.mark.parametrize(("zero", "expected"), [("5", 8), ("0.5", 1), ("1", 2), ("100", 128)])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("size", ["1", "1e-20"])
def test_an_upper_end_is_found_by_doubling(zero, expected, sign, size):
    end = upper_end(lambda x: sign * D(size) * (x - D(zero)), D(1))
    assert end == (1 if zero == "1" and sign < 0 else expected)  # zero itself counts as not above zero


def test_the_doubling_ends():
    asked = []
    with localcontext(ARITHMETIC):
        with pytest.raises(ValueError, match="no change of sign"):
            upper_end(lambda x: asked.append(x) or D(1), D(3))
        assert asked == [0, *(3 * D(2) ** n for n in range(200))]


def test_a_peak_at_an_end_is_missed_by_half_of_what_two_hundred_thirds_leave():
    with localcontext(ARITHMETIC):
        left = 3 * (D(2) / 3) ** 200 / 2
        for f, end, sign in ((lambda x: x, D(5), -1), (lambda x: -x, D(2), 1)):
            assert abs(peak(f, D(2), D(5)) - (end + sign * left)) < left * D("1e-9")


@pytest.mark.parametrize(
    ("low", "top", "high"), [("0", "0.3", "1"), ("-7", "2", "3"), ("-1", "-0.9", "100"), ("1", "2", "9")]
)
def test_a_peak_inside_is_found_as_well_as_its_flatness_allows(low, top, high):
    """Values are told apart to 80 digits, so places near a flat top to about 38 digits, and the thirds leave 6e-36."""
    with localcontext(ARITHMETIC):
        asked = []

        def hill(x):
            asked.append(x)
            return -((x - D(top)) ** 2) * (2 + (x - D(top)) / (D(high) - D(low)))

        assert abs(peak(hill, D(low), D(high)) - D(top)) < (D(high) - D(low)) * D("1e-35")
        assert all(D(low) < x < D(high) for x in asked)
        width = D(high) - D(low)
        assert abs(asked[0] - D(low) - width / 3) < D("1e-70")
        assert abs(asked[1] - D(low) - 2 * width / 3) < D("1e-70")


def test_pi_to_all_digits_of_the_arithmetic():
    with localcontext(ARITHMETIC), mpmath.workdps(90):
        assert abs(pi() - D(mpmath.nstr(mpmath.pi, 85))) < D("1e-77")


def test_the_arithmetic_has_eighty_digits():
    with localcontext(ARITHMETIC):
        assert str(D(1) / 3) == "0." + "3" * 80
