"""Derivations on paper and on the terminal: every format complete, in symbols, with units."""

import json
import re
import warnings

import pytest
import sympy as sp

from shuntref.quantities.registry import REGISTRY
from shuntref.theory.closed_forms import closed_form
from shuntref.theory.derivation import DERIVABLE, derive
from shuntref.theory.laws import all_laws
from shuntref.theory.notation import latex, text, unit_latex
from shuntref.theory.rendering import FORMATS, heading, legend, render
from shuntref.theory.symbols import symbol

LONG_NAMES = [name for name in REGISTRY if "_" in name and name != "k_phi"]


def test_speed_equation_reads_as_a_teacher_writes_it():
    assert text(closed_form("speed")) == "U/kPhi - T_e·R/kPhi²"
    assert text(derive("speed").steps[0].result) == "U = E + I_a·R + U_b"
    assert text(derive("speed").steps[2].result) == "U = kPhi·omega + I_a·R"
    assert text(derive("line_current").steps[0].result) == "I = I_a + I_f"
    assert text(closed_form("peak_speed", brush_drop=True)) == "(U - U_b)²/(4·T_e·R)"
    assert text(closed_form("winding_resistance")) == "R_0·(k_T + theta)/(k_T + theta_0)"


def test_a_torque_stands_before_the_flux_and_the_flux_before_what_it_is_multiplied_by():
    torque, k_phi, speed = (symbol(name) for name in ("load_torque", "k_phi", "speed"))
    assert text(k_phi * torque * speed) == "T_L·kPhi·omega"
    assert latex(speed * k_phi) == r"k\Phi \omega"


def test_square_of_k_phi_in_latex_is_not_k_times_the_square_of_phi():
    assert r"\left(k\Phi\right)^{2}" in latex(closed_form("speed"))
    assert r"k\Phi^{" not in latex(closed_form("speed"))


def test_a_power_of_a_size_or_of_a_direction_keeps_its_exponent():
    current = symbol("armature_current")
    assert latex(abs(current) ** sp.Rational(3, 2)) == r"\left|I_a\right|^{\frac{3}{2}}"
    assert latex(sp.sign(current) ** 3) == r"\mathrm{sign}\left(I_a\right)^{3}"
    assert latex(1 / abs(current)) == r"\frac{1}{\left|I_a\right|}"


@pytest.mark.parametrize("quantity", DERIVABLE)
def test_text_has_every_step_its_law_and_the_legend_with_units(quantity):
    derivation = derive(quantity)
    page = render(derivation)
    assert page.endswith("\n")
    for step in derivation.steps:
        assert f"{step.number:3d}. " in page
        left = text(step.result.lhs)
        assert re.search(rf"^ +{re.escape(left)} = ", page, re.M), left
    for name, sign, unit, _ in legend(derivation):
        assert re.search(rf"^  {re.escape(sign)} +\[{re.escape(unit)}\].*\({name}\)$", page, re.M)
    equations = [
        line for line in page.split("Symbols")[0].splitlines() if " = " in line and line.startswith("        ")
    ]
    assert equations
    assert not any(name in line for line in equations for name in LONG_NAMES)


def test_equals_signs_stand_below_one_another():
    page = render(derive("speed")).split("Result")[0]
    places = {line.index(" = ") for line in page.splitlines() if re.match(r" {8}", line)}
    assert len(places) == 1


@pytest.mark.parametrize("quantity", DERIVABLE)
def test_markdown_has_a_formula_for_each_step_and_a_table(quantity):
    derivation = derive(quantity)
    page = render(derivation, "markdown")
    assert page.count("$$") == 2 * (len(derivation.steps) + 1)
    assert page.count("\n| $") == len(legend(derivation))
    assert page.startswith("## ")


@pytest.mark.parametrize("quantity", DERIVABLE)
def test_latex_fragment_is_balanced_and_every_formula_can_be_typeset(quantity):
    from matplotlib.mathtext import MathTextParser

    page = render(derive(quantity), "latex")
    assert page.count("{") == page.count("}")
    assert page.count(r"\begin{") == page.count(r"\end{") == 2
    assert page.count(r"\[") == page.count(r"\]") == len(derive(quantity).steps) + 1
    outside = re.sub(r"\\\[.*?\\\]|\$[^$]*\$", "", page, flags=re.S)
    assert not re.search(r"(?<!\\)[_^#%]", outside)
    parser = MathTextParser("path")
    formulas = re.findall(r"\\\[ (.*?) \\\]", page) + re.findall(r"\$([^$]*)\$", page)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # which glyphs a font has is not the question
        for formula in formulas:
            parser.parse(f"${formula}$")


def test_fragment_needs_no_package():
    """Only commands of plain LaTeX, so that the fragment goes into any document."""
    pages = "".join(render(derive(quantity), "latex") for quantity in DERIVABLE)
    commands = set(re.findall(r"\\([A-Za-z]+)", pages))
    plain = {
        "section",
        "begin",
        "end",
        "item",
        "paragraph",
        "medskip",
        "noindent",
        "hline",
        "frac",
        "sqrt",
        "left",
        "right",
        "mathrm",
        "omega",
        "Omega",
        "Phi",
        "theta",
        "pi",
        "circ",
        "cdot",  # sympy 1.12 puts it between two numbers
    }
    assert commands <= plain


def test_units_in_latex():
    assert unit_latex("square_torque_coefficient") == r"\mathrm{N\,m\,s^2/rad^2}"
    assert unit_latex("flux_ratio") == "1"
    assert unit_latex("winding_temperature") == r"{}^{\circ}\mathrm{C}"


def test_unknown_format_is_refused():
    with pytest.raises(ValueError, match="accepted are text, markdown, latex"):
        render(derive("speed"), "rtf")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"brush_drop": True}, "brush drop included"),
        ({"line_resistance": True}, "behind a line resistance"),
        ({"flux": "froehlich"}, "Froehlich's curve"),
        ({"flux": "proportional", "reaction": True}, "armature reaction"),
        ({"load": "quadratic"}, "quadratic"),
        ({"load": "constant_power", "branch": "lower"}, "lower root"),
        ({"connection": "separate"}, "separately excited"),
    ],
)
def test_heading_says_what_was_taken_into_account(options, words):
    assert words in heading(derive("speed", **options))


# --- the command


def test_derive_prints_the_speed_without_being_asked(command_line):
    status, out, err = command_line("derive")
    assert (status, err) == (0, "")
    assert "omega = U/kPhi - T_e·(R_a + R_ax)/kPhi²" in out


@pytest.mark.parametrize("form", FORMATS)
def test_derive_prints_each_format(command_line, form):
    status, out, _ = command_line("derive", "stall_torque", "--format", form, "--brush-drop", "--line-resistance")
    assert status == 0
    assert out == render(derive("stall_torque", brush_drop=True, line_resistance=True), form)


def test_derive_json_has_the_steps_verified(command_line):
    status, out, _ = command_line("derive", "added_field_resistance", "--flux", "proportional", "--json")
    document = json.loads(out)
    assert status == 0
    assert document["quantity"] == "added_field_resistance"
    assert [step["number"] for step in document["steps"]] == list(range(1, len(document["steps"]) + 1))
    assert all(step["verified"] for step in document["steps"])
    assert {step["law"] for step in document["steps"]} - {None} <= set(all_laws())
    assert all(set(row) == {"name", "symbol", "unit", "meaning"} for row in document["symbols"])


@pytest.mark.parametrize(
    "arguments",
    [
        ["nonsense"],
        ["winding_resistance", "--brush-drop"],
        ["speed", "--reaction"],
        ["speed", "--given", "speed"],
    ],
)
def test_derive_refuses_in_one_line_with_status_2(command_line, arguments):
    status, out, err = command_line("derive", *arguments)
    assert (status, out) == (2, "")
    assert len(err.strip().splitlines()) == 1


def test_derive_lists_what_it_can_derive(command_line):
    _, _, err = command_line("derive", "nonsense")
    assert all(quantity in err for quantity in DERIVABLE)


def test_help_names_every_quantity(command_line):
    _, out, _ = command_line("derive", "--help")
    assert all(quantity in out for quantity in DERIVABLE)


def test_a_step_that_does_not_stand_up_ends_in_status_1(command_line, monkeypatch):
    from shuntref.theory.derivation import Derivation

    monkeypatch.setattr(Derivation, "check", lambda self: (True, False, *[True] * (len(self.steps) - 2)))
    status, _, err = command_line("derive")
    assert status == 1
    assert "step 2" in err
