"""Deciding zero and sign by algebra: what it calls zero is zero, what it calls positive is positive."""

import pytest
import sympy as sp
from hypothesis import given
from hypothesis import strategies as st

from shuntref.theory.algebra import is_negative, is_positive, positive, vanishes

x, y, z = sp.symbols("x y z", real=True)

ZERO = [
    (x + y) ** 3 - x**3 - 3 * x**2 * y - 3 * x * y**2 - y**3,
    1 / (1 / x + 1 / y) - x * y / (x + y),
    sp.sqrt(x**2 * y) - x * sp.sqrt(y),
    sp.sqrt(x + y) ** 3 - (x + y) * sp.sqrt(x + y),
    (x - y) / (sp.sqrt(x) - sp.sqrt(y)) - sp.sqrt(x) - sp.sqrt(y),
    2 * z / (x + sp.sqrt(x**2 + 4 * y * z)) - (sp.sqrt(x**2 + 4 * y * z) - x) / (2 * y),
    sp.sqrt(4 * x**2 - 8 * y) - 2 * sp.sqrt(x**2 - 2 * y),
    sp.sqrt(x * (x * y**2 - 4 * z)) - x * sp.sqrt(y**2 - 4 * z / x),
    1 / sp.sqrt(x + 1) - sp.sqrt(x + 1) / (x + 1),
]
NOT_ZERO = [
    x - y,
    x**2 - y,
    sp.sqrt(x + y) - sp.sqrt(x) - sp.sqrt(y),
    sp.sqrt(x) + sp.sqrt(y),
    sp.Rational(1, 10**20) * x,
    2 * z / (x - sp.sqrt(x**2 + 4 * y * z)) - (sp.sqrt(x**2 + 4 * y * z) - x) / (2 * y),
    sp.sqrt(x**2) + x,
]


@pytest.mark.parametrize("expression", ZERO, ids=str)
def test_what_is_identically_zero_is_proved_so(expression):
    assert vanishes(expression)


@pytest.mark.parametrize("expression", NOT_ZERO, ids=str)
def test_what_is_not_zero_is_not_called_so(expression):
    assert not vanishes(expression)


def test_sign_is_left_open_where_a_symbol_may_have_either():
    assert is_positive(x * y**2)
    assert not is_positive(x * y, besides=[y])
    assert is_positive(x * y**2 + x, besides=[y])
    assert not is_negative(x - y)
    assert is_negative(-x / y)
    assert not is_positive(sp.Integer(0))


def test_positive_keeps_the_names():
    assert positive(x + y).free_symbols == set(sp.symbols("x y", positive=True))


@given(st.integers(1, 6), st.integers(1, 6), st.integers(-6, 6), st.integers(1, 9), st.integers(1, 9))
def test_an_expression_called_positive_has_no_negative_value(a, b, c, at_x, at_y):
    form = a * x**2 + c * x * y + b * y**2
    value = form.subs({x: at_x, y: at_y})
    if is_positive(form):
        assert value > 0
    if is_negative(form):
        assert value < 0


@given(st.integers(-3, 3), st.integers(-3, 3), st.integers(-3, 3))
def test_an_expression_called_zero_is_zero_at_a_point(a, b, c):
    form = a * sp.sqrt(x**2 * y + x**2) + b * x * sp.sqrt(y + 1) + c * (x - sp.sqrt(x) ** 2)
    called = vanishes(form)
    assert called == (a + b == 0)
    assert called == (sp.simplify(form.subs({x: 2, y: 5})) == 0)
