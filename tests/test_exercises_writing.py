"""Expressions of an exercise are written as a teacher writes them: every expected line here was written by hand."""

from __future__ import annotations

import pytest
import sympy as sp

from shuntref.exercises.statement import Exercise, Ref
from shuntref.exercises.writing import LatexWriter, TextWriter, latex_unit, number_text

U, E, I_a, R_a, kPhi, T_e, I_f, R_f = sp.symbols(
    "supply_voltage back_emf armature_current armature_circuit_resistance k_phi electromagnetic_torque field_current"
    " field_circuit_resistance",
    real=True,
)
omega, n = sp.symbols("speed speed_rpm", real=True)
TWO = Exercise("t", "s", {"before": None, "after": None}, {})  # type: ignore[dict-item]
ONE = Exercise("t", "s", {"running": None}, {})  # type: ignore[dict-item]


def binding(expression: sp.Expr, state: str) -> dict[str, Ref]:
    return {str(name): Ref(state, str(name)) for name in expression.free_symbols}


@pytest.mark.parametrize(
    ("expression", "text", "latex"),
    [
        (U - I_a * R_a, "U - I_a·R", r"U - I_a\,R"),
        (-I_a * R_a, "-I_a·R", r"-I_a\,R"),
        ((U - E) / R_a, "(U - E) / R", r"\frac{U - E}{R}"),
        ((E - U) / R_a, "(E - U) / R", r"\frac{E - U}{R}"),
        (E / kPhi, "E/kPhi", r"\frac{E}{k\Phi}"),
        (T_e / kPhi, "T_e/kPhi", r"\frac{T_e}{k\Phi}"),
        (kPhi * I_a, "kPhi·I_a", r"k\Phi\,I_a"),
        (U / (I_a * R_a), "U/(I_a·R)", r"\frac{U}{I_a\,R}"),
        (I_a**2 * R_a, "I_a²·R", r"I_a^{2}\,R"),
        (sp.sqrt(T_e), "sqrt(T_e)", r"\sqrt{T_e}"),
        (1 / kPhi**2, "1/kPhi²", r"\frac{1}{\left(k\Phi\right)^{2}}"),
        (omega * 30 / sp.pi, "30·omega/pi", r"\frac{30\,\omega}{\pi}"),
        (sp.pi * n / 30, "pi·n/30", r"\frac{\pi\,n}{30}"),
        (sp.log(U / E), "ln (U/E)", r"\ln \left(\frac{U}{E}\right)"),
        (U * (I_a + I_f), "U·(I_a + I_f)", r"U\,\left(I_a + I_f\right)"),
        (U - E - I_a, "U - E - I_a", "U - E - I_a"),
        (sp.Rational(2, 3) * U, "2·U/3", r"\frac{2\,U}{3}"),
        (U * 0 + sp.Rational(2, 3), "2/3", r"\frac{2}{3}"),
    ],
    ids=str,
)  # fmt: skip
def test_an_expression_in_symbols(expression: sp.Expr, text: str, latex: str) -> None:
    bound = binding(expression, "running")
    assert TextWriter(ONE).with_symbols(expression, bound) == text
    assert LatexWriter(ONE).with_symbols(expression, bound) == latex


VALUES = {"supply_voltage": 240.0, "back_emf": 224.0, "armature_current": 40.0, "armature_circuit_resistance": 0.4,
          "k_phi": 1.25, "electromagnetic_torque": 50.0, "field_current": 1.5, "speed_rpm": 1200.0, "speed": 1e-7}  # fmt: skip


@pytest.mark.parametrize(
    ("expression", "text", "latex"),
    [
        (U - I_a * R_a, "240 V - 40 A × 0.4 ohm", r"240\,\mathrm{V} - 40\,\mathrm{A} \cdot 0.4\,\Omega"),
        ((U - E) / R_a, "(240 V - 224 V) / 0.4 ohm", r"\frac{240\,\mathrm{V} - 224\,\mathrm{V}}{0.4\,\Omega}"),
        (E / kPhi, "224 V / (1.25 V s/rad)", None),
        (U / (I_a * R_a), "240 V / (40 A × 0.4 ohm)", None),
        (I_a**2 * R_a, "(40 A)² × 0.4 ohm", r"\left(40\,\mathrm{A}\right)^{2} \cdot 0.4\,\Omega"),
        (I_a**3, "(40 A)³", None),
        (I_a**5, "(40 A)^5", None),
        (sp.pi * n / 30, "(pi × 1200 r/min) / 30", None),
        (2 * kPhi * I_a, "2 × 1.25 V s/rad × 40 A", None),
    ],
    ids=str,
)  # fmt: skip
def test_an_expression_in_values(expression: sp.Expr, text: str, latex: str | None) -> None:
    bound = binding(expression, "running")
    values = {ref: VALUES[name] for name, ref in bound.items()}
    assert TextWriter(ONE).with_values(expression, bound, values) == text
    if latex is not None:
        assert LatexWriter(ONE).with_values(expression, bound, values) == latex


def test_a_negative_value_is_bracketed_as_a_factor_and_as_a_power_and_not_alone() -> None:
    bound = binding(I_a * R_a, "running")
    values = {bound["armature_current"]: -100.0, bound["armature_circuit_resistance"]: 0.25}
    writer = TextWriter(ONE)
    assert writer.with_values(I_a * R_a, bound, values) == "(-100 A) × 0.25 ohm"
    assert writer.with_values(I_a**2, bound, values) == "(-100 A)²"
    assert writer.with_values(I_a, bound, values) == "-100 A"
    values[bound["armature_current"]] = 0.0
    assert writer.with_values(I_a * R_a, bound, values) == "0 A × 0.25 ohm"


@pytest.mark.parametrize(
    ("ref", "text", "latex"),
    [
        (Ref("before", "armature_current"), "I_a1", "I_{a1}"),
        (Ref("after", "armature_current"), "I_a2", "I_{a2}"),
        (Ref("after", "supply_voltage"), "U_2", "U_{2}"),
        (Ref("", "armature_resistance"), "R_a", "R_a"),
        (Ref("after", "k_phi"), "kPhi_2", r"k\Phi_{2}"),
        (Ref("starter", "armature_current", 3), "I_a3", "I_{a3}"),
        (Ref("starter", "armature_current"), "I_a", "I_a"),
    ],
    ids=str,
)
def test_the_state_of_a_symbol_is_its_subscript(ref: Ref, text: str, latex: str) -> None:
    assert TextWriter(TWO).symbol(ref) == text
    assert LatexWriter(TWO).symbol(ref) == latex


def test_a_single_state_needs_no_subscript() -> None:
    assert TextWriter(ONE).symbol(Ref("running", "armature_current")) == "I_a"
    assert LatexWriter(ONE).symbol(Ref("running", "armature_current")) == "I_a"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(0.00001, 5, "0.00001"), (0.0000099, 5, "9.9e-6"), (99999999.5, 5, "100000000"), (123456789.5, 5, "1.2346e8"),
     (9999999.0, 5, "9999999"), (10000000.0, 5, "10000000"), (2.5, 1, "2"), (12.345, 3, "12.3"), (-12.345, 3, "-12.3"),
     (0.012345, 3, "0.0123"), (1000.5, 4, "1000"), (1e-12, 5, "1e-12"), (-4.25e11, 5, "-4.25e11")],
)  # fmt: skip
def test_numbers_keep_their_figures(value: float, digits: int, text: str) -> None:
    assert number_text(value, digits) == text


def test_a_power_of_ten_in_latex_is_written_out() -> None:
    assert LatexWriter(ONE).value(Ref("running", "speed"), 1e-7) == r"1\cdot 10^{-7}\,\mathrm{rad/s}"
    assert LatexWriter(ONE).value(Ref("running", "efficiency"), 0.85) == "0.85"
    assert TextWriter(ONE).value(Ref("running", "efficiency"), 0.85) == "0.85"


@pytest.mark.parametrize(
    ("unit", "latex"),
    [("1", ""), ("", ""), ("%", r"\,\%"), ("ohm", r"\,\Omega"), ("V s/(rad A)", r"\,\mathrm{V\,s/(rad\,A)}"),
     ("N m", r"\,\mathrm{N\,m}")],
)  # fmt: skip
def test_units_in_latex(unit: str, latex: str) -> None:
    assert latex_unit(unit) == latex


def test_powers_that_are_no_squares() -> None:
    text, latex = TextWriter(ONE), LatexWriter(ONE)
    assert text.power("r", "n", False) == "r^n"
    assert text.power("r", "n - 1", False) == "r^(n - 1)"
    assert text.power("r + 1", "3", True) == "(r + 1)³"
    assert latex.power("I_a", "2", False) == "I_a^{2}"
    assert latex.power("I_a", "2", True) == r"\left(I_a\right)^{2}"
    assert text.fraction("a·b", "c/d", False, False) == "a·b/(c/d)"
    assert text.fraction("40 A × 3 V", "c", False, False) == "(40 A × 3 V) / c"
