"""Whole pages as they are handed out: read line by line when they were put here, and every result worked out again below."""

from __future__ import annotations

import re
from math import log, pi, sqrt
from pathlib import Path

import pytest

from shuntref.cautions import cautions_in
from shuntref.exercises.rendering import render
from shuntref.exercises.solver import solve
from shuntref.exercises.statement_file import load_exercise

PAGES = Path(__file__).with_name("pages")
FORMS = {"text": "txt", "markdown": "md", "latex": "tex"}
W = 1000 * pi / 30
K_1 = 224 / W
K_STRONG = (240 + sqrt(240**2 - 4 * 100 * 60)) / 200
#: what stands last on the line of each symbol, by hand
BY_HAND: dict[str, dict[str, float]] = {
    # E I = 8960 W on 240 V and 0.4 ohm: 0.4 I^2 - 240 I + 8960 = 0, so 40 A or 560 A; half the field again is 0.8 of the flux
    "constant-power": {
        "R_ft2": 150, "I_f2": 1.6, "I_f1": 2, "I_a1": 40, "E_1": 224, "omega_1": W, "kPhi_1": K_1, "c": K_1 / 2,
        "kPhi_2": 0.8 * K_1, "T_e1": K_1 * 40, "I_a2": 40, "E_2": 224, "omega_2": 1.25 * W, "n_2": 1250,
    },
    # 240 V over 60 A is 4 ohm, eight times 0.5 ohm: three halvings
    "starter": {"N_x": log(8) / log(2), "N": 3, "K": 2, "R_step1": 4, "R_step2": 2, "R_sec1": 2},
    # 150 V at 1 A, 175 V half way to the 200 V at 2 A
    "curve": {
        "E_2": 252, "I_f2": 1, "E_c2": 150, "kPhi_2": 150 / W, "omega_2": 252 / 150 * W, "E_1": 228, "I_f1": 1.5,
        "E_c1": 175, "kPhi_1": 175 / W, "omega_1": 228 / 175 * W, "n_2": 1680,
    },
    # E = 240 + 2 - 0.25 I, so 0.25 I^2 - 242 I - 10080 = 0: -40 A with 252 V, or 1008 A with -10 V
    "generator": {"I_a": -40},
    "standstill": {"omega": 0, "E": 0, "R": 6, "I_a": 40, "I_f": 2, "I": 42, "T_e": 50, "P_e": 0},
    # k 100 + 2 x 30/k = 240: 100 k^2 - 240 k + 60 = 0
    "two-fields": {
        "I_a": 30 / K_STRONG, "E": 100 * K_STRONG, "kPhi": K_STRONG, "E_c": K_STRONG * W,
        "I_f": 2 + (K_STRONG * W - 180) / 60, "U_f": 60 * (2 + (K_STRONG * W - 180) / 60),
    },
    "reading": {
        "I_f2": 2, "I_a2": 60, "E_2": 216, "I_fe2": 1.9, "E_c2": 196, "kPhi_2": 196 / W, "omega_2": 216 / 196 * W,
        "n_2": 1000 * 216 / 196, "E_1": 240, "I_f1": 2, "E_c1": 200, "kPhi_1": 200 / W, "omega_1": 1.2 * W, "P_e2": 12960,
    },
    # 1.9 x 40 = 76; 1.8 A on the curve is 190 V at 100 rad/s
    "reaction": {
        "I_f": 2, "I_fe": 1.8, "I_fr": 0.2, "I_a": 40, "E": 224, "kPhi": 1.9, "omega": 224 / 1.9, "n": 224 / 1.9 * 30 / pi,
    },
}  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", BY_HAND)
def test_a_page_is_as_it_was_read(name: str, form: str) -> None:
    page = render(solve(load_exercise(PAGES / f"{name}.toml"), tolerant=True), form)
    kept = (PAGES / f"{name}.{FORMS[form]}").read_text(encoding="utf-8")
    # the cautions have a test of their own
    assert page.removesuffix(cautions_in(form) + "\n") == kept


@pytest.mark.parametrize("name", BY_HAND)
def test_every_result_on_the_page_is_the_sum_done_by_hand(name: str) -> None:
    page = (PAGES / f"{name}.txt").read_text(encoding="utf-8").partition("Solution\n")[2].partition("Answers\n")[0]
    found: dict[str, float] = {}
    symbol = ""
    for line in page.splitlines():
        start = re.match(r" +(?:([\w]+) )?= ", line)
        symbol = start.group(1) or symbol if start else ""
        result = re.search(
            r"= (-?[\d.]+)(?: (?:V s/\(rad A\)|V s/rad|rad/s|r/min|N m|ohm|V|A|W))?(?:, because .*)?$", line
        )
        if symbol and result:
            found[symbol] = float(result.group(1))
    assert found == pytest.approx(BY_HAND[name], rel=5e-5)  # five figures are printed


def test_the_comparisons_and_the_other_root_by_hand() -> None:
    page = (PAGES / "constant-power.txt").read_text(encoding="utf-8")
    assert "Real roots: 40 A and 560 A." in page
    assert 0.4 * 40**2 - 240 * 40 + 8960 == 0 == 0.4 * 560**2 - 240 * 560 + 8960
    speed = (240 - 0.4 * 560) / (0.8 * K_1) * 30 / pi
    assert f"speed {speed:.0f} r/min, ratio {speed / 1000:.2f}, rise {speed / 1000 - 1:.4f}." in page
    assert 0.25 * 40**2 + 242 * 40 - 10080 == 0 == 0.25 * 1008**2 - 242 * 1008 - 10080
    weak = 2.4 - K_STRONG  # the two sum up to 240/100
    other = f"I_a = {30 / weak:.2f} A, would give: field current {(weak * W - 10) / 90:.4f} A"
    assert other in (PAGES / "two-fields.txt").read_text(encoding="utf-8")
    lost = (2.7 - sqrt(2.7**2 - 4 * 1.4 * 0.18)) / 2.8  # (0.1 + 1.4 x)(2 - x)/0.005 = 76
    assert f"Real roots: 1.8 A and {lost:.6f} A." in (PAGES / "reaction.txt").read_text(encoding="utf-8")
    assert f"= {1.2 * 196 / 216 - 1:.6f}\n" in (PAGES / "reading.txt").read_text(encoding="utf-8")
    assert f"= {216 / 196 / 1.2:.5f}\n" in (PAGES / "reading.txt").read_text(encoding="utf-8")
    assert f"P_e2 = {12960 / 735.49875:.1f} hp" in (PAGES / "reading.txt").read_text(encoding="utf-8")
    assert f"= {1 - 252 / 150 / (228 / 175):.5f}\n" in (PAGES / "curve.txt").read_text(encoding="utf-8")
