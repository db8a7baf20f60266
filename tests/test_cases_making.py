"""How cases are made: every row stands in the suite as written, every refusal in its words, roundings and slopes by hand."""

from __future__ import annotations

import json

import pytest
from mpmath import mp, mpf

from shuntref.conformance import certify as making
from shuntref.conformance import generate
from shuntref.conformance.certify import Alternative, Entry, Row, certify
from shuntref.conformance.elimination import Unsolvable
from shuntref.conformance.functions import Function, Input, Output, function
from shuntref.conformance.generate import cases_folder
from shuntref.conformance.groups import all_entries, identification
from shuntref.conformance.problem import Problem, flatten, variable

FROZEN = {c["id"]: c for c in json.loads((cases_folder() / "cases.json").read_text(encoding="utf-8"))["cases"]}
ENTRIES = all_entries()


def frozen(name, row):
    return FROZEN[f"{name.replace('_', '-')}-{row.words}"]


@pytest.mark.parametrize("name", ENTRIES)
def test_every_row_stands_in_the_suite_as_it_is_written(name):
    for row in ENTRIES[name].rows:
        case = frozen(name, row)
        assert (case["function"], case["level"], case["result"]) == (name, row.level, row.result)
        assert case["inputs"] == row.inputs
        assert row.note in ("", case["note"])
        names = [alternative["name"] for alternative in case["acceptable"][1:]]
        assert names == [alternative.name for alternative in row.acceptable]
    assert [frozen(name, row)["id"] for row in ENTRIES[name].rows] == [
        i for i, c in FROZEN.items() if c["function"] == name
    ]


@pytest.mark.parametrize("name", ENTRIES)
def test_every_case_to_refuse_is_refused_in_its_words(name):
    for row in ENTRIES[name].rows:
        if row.result == "invalid":
            assert certify(name, ENTRIES[name], row) == frozen(name, row)


@pytest.mark.parametrize("name", ENTRIES)
def test_every_row_is_solved_to_its_certified_digits(name):
    spec, entry = function(name), ENTRIES[name]
    with mp.workdps(60):
        for row in entry.rows:
            if row.result != "invalid":
                inputs = flatten(spec.complete(row.inputs), mpf)
                right, values = making._answer(spec, entry.problem(row.inputs), inputs)
                assert making._shaped(spec, right) == frozen(name, row)["expected"]
                assert not any(refused(values) for _, refused in entry.problem(row.inputs).refusals)


@pytest.mark.parametrize("name", ENTRIES)
def test_every_mistake_and_alternative_of_every_row_makes_its_stored_value(name):
    spec, entry = function(name), ENTRIES[name]
    with mp.workdps(60):
        for row in entry.rows:
            if row.result == "invalid":
                continue
            case, problem, inputs = (
                frozen(name, row),
                entry.problem(row.inputs),
                flatten(spec.complete(row.inputs), mpf),
            )
            rights = [making._answer(spec, problem, inputs)[0]]
            for alternative, stored in zip(row.acceptable, case["acceptable"][1:], strict=True):
                if alternative.change:
                    rights.append(making._answer(spec, alternative.change(problem), inputs)[0])
                assert stored["values"] == (making._shaped(spec, rights[-1]) if alternative.change else {})
            allowed = {
                n: mpf(case["absolute"].get(n, 0)) or mpf(case["tolerance"][n]) * max(map(abs, values))
                for n, values in rights[0].items()
            }
            assert making._wrong_values(spec, entry, problem, inputs, rights, allowed) == case["flags"]


# --- roundings, slopes and distances by hand


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [("150", 6, "150.000"), ("-0.00001234", 4, "-1.234e-5"), ("0", 6, "0"), ("0.0012", 3, "0.00120"),
     ("0.00012", 3, "1.20e-4"), ("123456", 6, "123456"),
     ("123456", 3, "1.23e+5"), ("2", 25, "2.000000000000000000000000"), ("99.96", 3, "100"), ("1e30", 4, "1.000e+30")],
)  # fmt: skip
def test_a_number_is_written_with_all_its_digits(value, digits, text):
    with mp.workdps(60):
        assert making._text(mpf(value), digits) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [("1e-10", "1.0e-10"), ("1.01e-10", "1.1e-10"), ("1.09e-10", "1.1e-10"), ("9.85e-10", "9.9e-10"), ("9.95e-10", "1.0e-09"),
     ("4e-2", "4.0e-02"), ("1", "1.0e+00"), ("123", "1.3e+02"), ("99", "9.9e+01"), ("99.5", "1.0e+02")],
)  # fmt: skip
def test_a_tolerance_is_rounded_up_to_two_digits(value, text):
    with mp.workdps(60):
        assert making._up(mpf(value)) == text


def test_a_slope_across_a_jump_is_none():
    with mp.workdps(60):
        step = mpf(2) ** -66
        assert making._slope(mpf(5) + 3 * step, mpf(5), step) == 3
        assert making._slope(mpf(5), mpf(5) + 3 * step, step) == -3
        assert making._slope(mpf(6), mpf(5), step) == 0
        # a jump is what exceeds 1e-9 of one unit, or of the larger side where that is more
        assert making._slope(mpf("1e-9"), mpf(0), mpf(1)) == mpf("1e-9")
        assert making._slope(mpf("1.1e-9"), mpf(0), mpf(1)) == 0
        assert making._slope(mpf(-1000), mpf("-1000.0000009"), mpf(1)) == mpf(-1000) - mpf("-1000.0000009")
        assert making._slope(mpf(-1000), mpf("-1000.0000011"), mpf(1)) == 0


def test_answers_are_apart_by_ten_tolerances_and_by_one_in_a_thousand():
    def apart(a, b, tolerance="0"):
        return making._apart([mpf(x) for x in a], [mpf(x) for x in b], mpf(tolerance))

    assert not apart(["1000"], ["1001"])
    assert apart(["1000"], ["1001.002"])
    assert apart(["-1001.002"], ["-1000"])
    assert not apart(["-1001"], ["-1000"])
    assert not apart(["1000"], ["1010"], "1")
    assert apart(["1000"], ["1010.1"], "1")
    assert apart(["1", "1000"], ["1", "1002"])
    assert apart(["1"], ["1", "2"])
    assert apart(["1000"], ["-1000"])
    assert not apart([], [])
    assert not apart(["1"] * 300, ["1"] * 300)


def tolerances(value, moved, squared=False):
    case = {"condition": {}, "tolerance": {}, "absolute": {}, "tolerance_reason": ""}
    with mp.workdps(60):
        values = [mpf(v) for v in value]
        allowed = making._tolerances(case, {"speed": values}, {"speed": [mpf(m) for m in moved]}, squared)
    return case, allowed["speed"]


def test_sixty_four_roundings_times_the_condition():
    """64 roundings of 2^-52 are 1.42e-14; a condition of a million makes 1.42e-8 of them, and 1.5 after rounding up."""
    case, allowed = tolerances(["200"], ["2e8"])
    assert (case["condition"], case["tolerance"], case["absolute"]) == ({"speed": "1.000e+6"}, {"speed": "1.5e-08"}, {})
    assert allowed == pytest.approx(200 * 1.5e-8)
    assert case["tolerance_reason"] == "64 double roundings of 2^-52, times the condition number"


def test_ten_figures_are_asked_for_at_most():
    case, _ = tolerances(["-200"], ["600"])
    assert (case["condition"], case["tolerance"]) == ({"speed": "3.000"}, {"speed": "1.0e-10"})
    assert case["tolerance_reason"].startswith("1e-10: an iteration stopped at ten figures passes; ")
    # 64 x 2^-52 x 7036 is just below 1e-10, times 7037 just above
    assert tolerances(["1"], ["7036"])[0]["tolerance_reason"].startswith("1e-10: ")
    assert tolerances(["1"], ["7037"])[0]["tolerance_reason"].startswith("64 double")


def test_sums_of_squares_lose_the_square_of_the_condition():
    case, _ = tolerances(["2"], ["2e4"], squared=True)
    assert case["tolerance"] == {"speed": "1.5e-06"}
    assert "square of the condition number" in case["tolerance_reason"]


def test_the_worst_of_a_list_counts():
    case, allowed = tolerances(["-4", "1", "2"], ["4e6", "3e6", "2e6"])
    assert case["condition"] == {"speed": "3.000e+6"}
    assert case["tolerance"] == {"speed": "4.3e-08"}  # 4.263e-8
    assert allowed == pytest.approx(4 * 4.3e-8)


def test_a_zero_has_an_absolute_tolerance_of_the_terms_that_cancel():
    case, allowed = tolerances(["0"], ["250"])
    assert (case["condition"], case["tolerance"], case["absolute"]) == (
        {"speed": "0"}, {"speed": "1.0e-10"}, {"speed": "2.5e-08"},
    )  # fmt: skip
    assert allowed == pytest.approx(2.5e-8)
    assert case["tolerance_reason"].startswith("zero is expected")
    assert tolerances(["0"], ["0.25"])[0]["absolute"] == {"speed": "1.0e-10"}
    assert tolerances(["3", "0"], ["1", "7"])[0]["absolute"] == {"speed": "7.0e-10"}


def test_a_case_by_hand():
    """Without load the speed is field resistance over flux constant: each of them moves it, the voltage not."""
    row = Row("by-hand", 2, {"supply_voltage": 120.0, "field_resistance": 150.0, "flux_constant": 1.5}, note="mine")
    case = certify("ideal_no_load_speed", ENTRIES["ideal_no_load_speed"], row)
    assert case["id"] == "ideal-no-load-speed-by-hand"
    assert case["expected"] == {"ideal_no_load_speed": "100." + "0" * 22}
    assert case["condition"] == {"ideal_no_load_speed": "2.000"}
    assert case["tolerance"] == {"ideal_no_load_speed": "1.0e-10"}
    assert (case["absolute"], case["acceptable"], case["note"]) == ({}, [], "mine")
    wrong = {flag["flag"]: flag["wrong"]["ideal_no_load_speed"] for flag in case["flags"]}
    # 100 rad/s are 3000/pi r/min
    assert wrong["revolutions-per-minute-taken-for-radians"] == "954.9296585513720146133026"


# --- rows that do not do what they say


GOOD = {"supply_voltage": 120.0, "field_resistance": 150.0, "flux_constant": 1.5}


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (Row("x", 1, GOOD, "invalid"), "ideal-no-load-speed-x: is said to be invalid but has an answer"),
        (Row("x", 1, {**GOOD, "flux_constant": -1.0}),
         "ideal-no-load-speed-x: flux_constant = -1: a positive number is needed"),
        (Row("x", 1, GOOD, "acceptable", "", (Alternative("other", lambda problem: None),)),
         "ideal-no-load-speed-x: the alternative 'other' does not apply"),
    ],
)  # fmt: skip
def test_a_row_that_does_not_do_what_it_says_is_refused(row, words):
    with pytest.raises(ValueError, match=f"^{words}$"):
        certify("ideal_no_load_speed", ENTRIES["ideal_no_load_speed"], row)


def test_alternatives_stand_beside_what_the_equations_say():
    double = Alternative(
        "twice",
        lambda problem: problem.with_after(lambda v: {**v, "ideal_no_load_speed": 2 * v["ideal_no_load_speed"]}),
    )
    row = Row("x", 1, GOOD, "acceptable", "", (double, Alternative("none")))
    case = certify("ideal_no_load_speed", Entry(ENTRIES["ideal_no_load_speed"].problem, (), ()), row)
    assert [(a["name"], a["values"].get("ideal_no_load_speed", "")[:4]) for a in case["acceptable"]] == [
        ("as the equations of the function say", "100."), ("twice", "200."), ("none", ""),
    ]  # fmt: skip
    assert case["flags"] == []


def test_an_unknown_mistake_is_told():
    entry = ENTRIES["ideal_no_load_speed"]
    with pytest.raises(
        ValueError, match=r"^mistake 'nowhere' is not described; give it a table \[nowhere\] in references/cases/flags"
    ):
        certify("ideal_no_load_speed", Entry(entry.problem, ("nowhere",), ()), Row("x", 1, GOOD))
    with pytest.raises(ValueError, match=r"^mistake 'nowhere' is not registered; "):
        making._unknown("nowhere")(None)


def test_a_refusal_on_solved_values_names_its_words():
    entry = ENTRIES["ideal_no_load_speed"]
    too_fast = ("it turns too fast", lambda values: values["ideal_no_load_speed"] > 99)
    refusing = Entry(
        lambda inputs: Problem(entry.problem(inputs).equations, ("ideal_no_load_speed",), refusals=(too_fast,)), (), ()
    )
    case = certify("ideal_no_load_speed", refusing, Row("x", 3, GOOD, "invalid"))
    assert (case["note"], case["expected"], case["tolerance"]) == ("must be refused: it turns too fast", {}, {})
    assert case["flags"][0]["wrong"] == {"ideal_no_load_speed": "100." + "0" * 22}
    with pytest.raises(ValueError, match=r"-x: it turns too fast$"):
        certify("ideal_no_load_speed", refusing, Row("x", 3, GOOD))
    assert (
        certify("ideal_no_load_speed", refusing, Row("x", 3, {**GOOD, "field_resistance": 148.0}))["result"] == "valid"
    )


# --- what the answer's spread is made of


def _spread(equation, inputs, accept="positive"):
    spec = Function("f", "speed", "", (), tuple(Input(n, "1", accept) for n in inputs), (Output("z", "1"),), ())
    with mp.workdps(60):
        found = making._spread(spec, Problem({"e": equation}, ("z",)), {n: mpf(v) for n, v in inputs.items()})
        return {n: [float(v) for v in values] for n, values in found.items()}


def test_the_spread_adds_what_each_input_moves():
    import sympy as sp

    x, y, z = map(variable, "xyz")
    # |x dz/dx| + |y dz/dy| of z = x^2 - 3 y at (5, 4): 50 + 12
    assert _spread(sp.Eq(z, x**2 - 3 * y), {"x": 5, "y": 4})["z"] == pytest.approx([62.0])
    assert _spread(sp.Eq(z, x**2 - 3 * y), {"x": -5, "y": -4})["z"] == pytest.approx([62.0])
    # nothing moves with a zero, nor with a whole number
    assert _spread(sp.Eq(z, x**2 - 3 * y), {"x": 5, "y": 0})["z"] == pytest.approx([50.0])
    for accept in ("whole", "even"):
        assert _spread(sp.Eq(z, x**2 - 3 * y), {"x": 5, "y": 4}, accept) == {}
    # at the edge of what has an answer one side is enough: the root of x - 4 at 4 has no real side below
    steep = _spread(sp.Eq(z, x), {"x": 4})["z"]
    assert steep == pytest.approx([4.0])


def test_an_answer_of_dust_is_a_zero():
    import sympy as sp

    x, z = variable("x"), variable("z")
    spec = Function("f", "speed", "", (), (Input("x", "1", "any"),), (Output("z", "1"),), ())
    with mp.workdps(60):
        found = [
            making._answer(spec, Problem({"e": sp.Eq(z, x)}, ("z",)), {"x": mpf(v)})[0]["z"][0]
            for v in ("9e-41", "-9e-41", "2e-40")
        ]
    assert (found[0], found[1]) == (0, 0)
    assert found[2] > 0


def test_an_input_on_the_edge_is_moved_to_the_side_that_has_an_answer():
    import sympy as sp

    x, z = variable("x"), variable("z")

    def change(values):
        if values["x"] > 4:
            raise Unsolvable("beyond")
        return values

    spec = Function("f", "speed", "", (), (Input("x", "1", "any"),), (Output("z", "1"),), ())
    with mp.workdps(60):
        found = making._spread(spec, Problem({"e": sp.Eq(z, 3 * x)}, ("z",), before=(change,)), {"x": mpf(4)})
    assert float(found["z"][0]) == pytest.approx(12.0)


def test_the_generator_says_what_it_makes(capsys):
    with pytest.raises(SystemExit) as ended:
        generate.main(["--help"])
    assert ended.value.code == 0
    assert generate.__doc__.splitlines()[0] in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0)])
def test_a_line_drawn_through_the_first_and_the_last_reading_in_either_order(order):
    # 1 V of brushes and 0.5 ohm at both ends; what is between is passed over
    readings = [(2, 2), (5, 9), (10, 6)]
    values = {}
    for place, which in enumerate(order):
        values[f"armature_current[{place}]"], values[f"supply_voltage[{place}]"] = map(mpf, readings[which])
    identification._ends(values)
    assert (values["armature_resistance"], values["brush_drop"]) == (mpf("0.5"), 1)
