"""Our own model behind the suite's functions: every case by function, and by hand what lies just inside and just outside."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pytest

from shuntref.conformance import own_answers
from shuntref.conformance.comparison import worst_share
from shuntref.conformance.functions import Function, Input, Output, function, load_functions
from shuntref.conformance.judge import Answer
from shuntref.conformance.mapping import plain_binding
from shuntref.conformance.own_model import FUNCTIONS
from shuntref.conformance.runner import run_cases
from shuntref.conformance.suite import Case, Suite, load_suite, select

SUITE = load_suite()


@pytest.mark.parametrize("name", load_functions())
def test_every_case_of_a_function_is_answered_or_refused(name):
    for case in select(SUITE, functions=[name]):
        try:
            found = FUNCTIONS[name](**case.inputs)
        except ValueError:
            found = None
        assert worst_share(case, found) <= 1, case.id
        if found is not None:
            assert list(found) == [output.name for output in SUITE.functions[name].outputs]


# --- what the functions share


def test_field_and_armature_current_and_emf_behind_a_line_current():
    """120 V on 120 + 40 ohm drive 0.75 A; of 10.75 A the armature takes 10 A, and 2 V and 10 A x (0.8 + 0.2) ohm are lost."""
    given = {"supply_voltage": 120.0, "field_resistance": 120.0, "added_field_resistance": 40.0, "line_current": 10.75,
             "armature_resistance": 0.8, "added_armature_resistance": 0.2, "brush_drop": 2.0}  # fmt: skip
    assert own_answers.read_line_current(given) == (0.75, 10.0, 108.0)
    # a regenerating current turns both drops
    assert own_answers.emf_behind(given, 120.0, -10.0) == 132.0
    assert own_answers.emf_behind(given, 120.0, 0.0) == 120.0
    assert own_answers.emf_behind({"armature_resistance": 12.0}, 120.0, 10.0) == 0.0
    with pytest.raises(ValueError, match=r"^armature_current = 10\.5 A: the back EMF would be negative$"):
        own_answers.emf_behind({"armature_resistance": 12.0}, 120.0, 10.5)
    assert own_answers.field_current_of(given, 120.0) == 1.0
    assert own_answers.net_of_brushes(given, 120.0, 3.0) == 118.0
    assert own_answers.net_of_brushes({}, 120.0, 3.0) == 120.0


def test_limits_of_currents_and_of_what_is_found():
    assert own_answers.motoring("line_current", 1e-9) == 1e-9
    for current in (0.0, -1.0):
        with pytest.raises(ValueError, match="line_current leaves an armature current of "):
            own_answers.motoring("line_current", current)
    assert own_answers.not_below_zero("output_power", 0.0) == 0.0
    with pytest.raises(ValueError, match="output_power would be -1e-09; no such resistance or power can be"):
        own_answers.not_below_zero("output_power", -1e-9)


def test_the_machine_behind_the_inputs():
    machine = own_answers.machine_of({"armature_resistance": 0.8, "flux_constant": 1.5})
    assert (machine.field_resistance, machine.brush_drop, machine.line_resistance) == (1.0, 0.0, 0.0)
    assert (machine.connection, machine.loss_torque.torque(100.0)) == ("shunt", 0.0)
    assert machine.flux.k_phi(2.0) == 3.0
    given = {"armature_resistance": 0.8, "field_resistance": 120.0, "froehlich_a": 2.0, "froehlich_b": 1.0,
             "remanent_k_phi": 0.1,
             "reaction_coefficient": 0.01, "brush_drop": 2.0, "line_resistance": 0.1, "loss_torque": 0.5,
             "field_voltage": 100.0}  # fmt: skip
    machine = own_answers.machine_of(given)
    assert (machine.field_resistance, machine.brush_drop, machine.line_resistance) == (120.0, 2.0, 0.1)
    assert (machine.connection, machine.loss_torque.torque(100.0)) == ("separate", 0.5)
    assert machine.flux.k_phi(1.0) == pytest.approx(0.1 + 2.0 * 1.0 / 2.0)
    assert own_answers.setting_of({"supply_voltage": 1.0, "speed": 2.0, "brush_drop": 3.0}, "speed") == {
        "supply_voltage": 1.0, "speed": 2.0,
    }  # fmt: skip
    assert own_answers.setting_of({"speed": 2.0, "source_voltage": 4.0, "field_voltage": 5.0}) == {
        "source_voltage": 4.0, "field_voltage": 5.0,
    }  # fmt: skip


def ask(name, **inputs):
    return FUNCTIONS[name](**inputs)


# --- by hand, on the limit and beyond it


def test_standstill_is_the_end_of_motoring():
    """At 0.75 V s/rad and 0.8 ohm, 120 V hold 150 A: 112.5 N m."""
    at = {"supply_voltage": 120.0, "k_phi": 0.75, "armature_resistance": 0.8}
    assert ask("speed_at_k_phi", **at, load_torque=112.5) == {"speed": 0.0}
    with pytest.raises(ValueError, match=r"^load_torque = 112\.6 N m is beyond stall$"):
        ask("speed_at_k_phi", **at, load_torque=112.6)
    # brushes leave 118 V: 147.5 A, 110.625 N m, of which 0.625 are lost
    with_brushes = {**at, "brush_drop": 2.0, "loss_torque": 0.625}
    assert ask("speed_at_k_phi", **with_brushes, load_torque=110.0) == {"speed": 0.0}
    with pytest.raises(ValueError, match="beyond stall"):
        ask("speed_at_k_phi", **with_brushes, load_torque=110.1)


def test_brushes_that_take_the_whole_voltage_leave_no_torque():
    at = {"supply_voltage": 120.0, "field_resistance": 120.0, "armature_resistance": 0.8, "flux_constant": 0.75}
    # 118 V / 0.8 ohm x 0.75 V s/rad
    assert ask("stall_torque", **at, brush_drop=2.0)["stall_torque"] == pytest.approx(110.625)
    with pytest.raises(ValueError, match=r"^brush_drop = 120: less than the supply voltage is needed$"):
        ask("stall_torque", **at, brush_drop=120.0)


def test_starting_needs_a_resistor_only_above_the_current():
    at = {"supply_voltage": 120.0, "armature_resistance": 1.2}
    assert ask("starting_resistance", **at, starting_current=100.0)["starting_resistance"] == pytest.approx(
        0.0, abs=1e-12
    )
    assert ask("starting_resistance", **at, starting_current=50.0, brush_drop=2.0)[
        "starting_resistance"
    ] == pytest.approx(1.16)
    with pytest.raises(ValueError, match="starting_resistance would be "):
        ask("starting_resistance", **at, starting_current=101.0)


def test_a_reading_with_the_machine_at_rest_tells_nothing():
    """12 ohm take all of 120 V at 10 A: the reading is one of standstill."""
    at = {"supply_voltage": 120.0, "armature_resistance": 12.0, "reference_speed": 100.0, "flux_ratio": 1.0}
    with pytest.raises(ValueError, match=r"^reference_speed: the machine stands still in the reference state$"):
        ask("speed_after_flux_change", **at, reference_armature_current=10.0, torque_ratio=1.0)


TABLE = {"table_field_current": (0.5, 1.0, 2.0), "table_back_emf": (50.0, 90.0, 130.0), "table_speed": 100.0}


def at_table(**more):
    return ask("speed_with_table", **{"supply_voltage": 120.0, "field_resistance": 120.0, "armature_resistance": 0.8,
                                      "load_torque": 0.0,
                                      **TABLE, **more})  # fmt: skip


def test_a_table_is_read_on_straight_lines_and_at_its_ends():
    """1.5 A lies half way between 90 and 130 V at 100 rad/s: 1.1 V s/rad; so 120 V turn the machine at 120/1.1 rad/s."""
    assert at_table(field_resistance=80.0)["speed"] == pytest.approx(120 / 1.1)
    assert at_table(field_resistance=240.0)["speed"] == pytest.approx(120 / 0.5)
    assert at_table(field_resistance=60.0)["speed"] == pytest.approx(120 / 1.3)
    for resistance in (241.0, 59.0):
        with pytest.raises(ValueError, match=r"field_current = .* lies off the table, which reaches from 0\.5 to 2$"):
            at_table(field_resistance=resistance)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"table_field_current": (0.5, 1.0)}, "table_field_current: two points at least are needed, each with its EMF"),
        ({"table_field_current": (1.0,), "table_back_emf": (90.0,)},
         "table_field_current: two points at least are needed, each with its EMF"),
        ({"table_field_current": (0.5, 0.5, 2.0)}, "table_field_current does not ascend"),
        ({"table_back_emf": (50.0, 130.0, 90.0)}, "table_back_emf does not ascend"),
        ({"table_back_emf": (50.0, 90.0, 90.0)}, "table_back_emf does not ascend"),
    ],
)  # fmt: skip
def test_a_table_that_does_not_ascend_is_refused(table, words):
    with pytest.raises(ValueError, match=f"^{words}$"):
        at_table(**table)


@pytest.mark.parametrize(
    ("torque", "emf"),
    [
        (0.0, 120.0),  # no current, no brush drop: 120 V at 100 rad/s
        (0.5, (118 + (118**2 - 160) ** 0.5) / 2),  # k 100 = 118 - 0.8 x 0.5/k, the larger root
        (-0.5, (122 + (122**2 + 160) ** 0.5) / 2),  # driven: both drops add
    ],
)
def test_the_rheostat_for_a_speed_by_the_table(torque, emf):
    """The EMF for 100 rad/s lies between 90 V at 1 A and 130 V at 2 A; 120 V over that current is the field circuit."""
    found = ask("added_field_resistance_with_table", **TABLE, supply_voltage=120.0, field_resistance=60.0,
                armature_resistance=0.8, brush_drop=2.0, load_torque=torque, speed=100.0)  # fmt: skip
    assert found["added_field_resistance"] == pytest.approx(120 / (1 + (emf - 90) / 40) - 60)


def test_two_points_are_a_table():
    assert at_table(table_field_current=(0.5, 1.5), table_back_emf=(50.0, 150.0))["speed"] == pytest.approx(120.0)


def test_light_running_is_the_least_line_current():
    at = {"supply_voltage": 100.0, "field_resistance": 100.0, "armature_resistance": 1.0, "reference_line_current": 3.0}
    # at no load 2 A in the armature: 300 W less 4 W are drawn at every load; at 11 A 1100 - 296 - 100
    found = ask("efficiency_from_no_load_test", **at, line_current=11.0)
    assert found == {"constant_loss": 296.0, "output_power": 704.0, "efficiency": pytest.approx(0.64)}
    assert ask("efficiency_from_no_load_test", **at, line_current=3.0)["output_power"] == 0.0
    with pytest.raises(ValueError, match=r"^line_current = 2\.9 A: no less than at no load, 3 A, is needed$"):
        ask("efficiency_from_no_load_test", **at, line_current=2.9)


@pytest.mark.parametrize(
    ("name", "inputs", "words"),
    [
        ("armature_resistance_and_brush_drop", {"armature_current": (5.0, 5.0), "supply_voltage": (10.0, 11.0)},
         "armature_current: two different currents at least are needed"),
        ("armature_resistance_and_brush_drop", {"armature_current": (5.0,), "supply_voltage": (10.0, 11.0)},
         "armature_current: as many readings as of the others, and one at least, are needed"),
        ("flux_constant_from_readings", {"field_current": (), "speed": (), "back_emf": ()},
         "field_current: as many readings as of the others, and one at least, are needed"),
        ("froehlich_from_two_points", {"field_current": (1.0, 1.0), "k_phi": (0.5, 0.6)},
         "field_current: two different points are needed"),
        ("froehlich_from_two_points", {"field_current": (1.0, 2.0, 3.0), "k_phi": (0.5, 0.6, 0.7)},
         "field_current: two different points are needed"),
        ("froehlich_from_two_points", {"field_current": (1.0, 2.0), "k_phi": (0.5, 0.6), "remanent_k_phi": 0.5},
         "k_phi: both are to lie above remanent_k_phi"),
        ("froehlich_from_two_points", {"field_current": (1.0, 2.0), "k_phi": (0.5, 1.0)},
         "k_phi: two points of a saturating curve are needed"),
        ("field_resistance_from_two_speeds", {"added_field_resistance": (0.0, 20.0), "speed": (100.0, 100.0)},
         "speed: two different readings are needed"),
    ],
)  # fmt: skip
def test_readings_that_say_too_little_are_refused(name, inputs, words):
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        ask(name, **inputs)


def test_readings_by_hand():
    # 2 V at the brushes and 0.5 ohm
    found = ask("armature_resistance_and_brush_drop", armature_current=(2.0, 4.0, 9.0), supply_voltage=(3.0, 4.0, 6.5))
    assert found == {"armature_resistance": pytest.approx(0.5), "brush_drop": pytest.approx(2.0)}
    # 1 A x 100 rad/s gives 50 V, 2 A x 100 rad/s gives 100 V
    assert ask("flux_constant_from_readings", field_current=(1.0, 2.0), speed=(100.0, 100.0), back_emf=(50.0, 100.0)) == {
        "flux_constant": pytest.approx(0.5),
    }  # fmt: skip
    # 2 i/(1 + i): 1 at 1 A, 4/3 at 2 A; with a remanence of 0.1 as much more
    found = ask("froehlich_from_two_points", field_current=(1.0, 2.0), k_phi=(1.1, 4 / 3 + 0.1), remanent_k_phi=0.1)
    assert found == {"froehlich_a": pytest.approx(2.0), "froehlich_b": pytest.approx(1.0)}
    # 100 rad/s at 100 ohm, 120 at 120
    assert ask("field_resistance_from_two_speeds", added_field_resistance=(0.0, 20.0), speed=(100.0, 120.0)) == {
        "field_resistance": pytest.approx(100.0),
    }  # fmt: skip


# --- inputs that are acceptable, each by itself


@pytest.mark.parametrize(
    ("accept", "good", "bad"),
    [("positive", (1e-300, 5.0), (0.0, -1.0)), ("not negative", (0.0, 5.0), (-1e-300,)), ("any", (-5.0, 0.0), ()),
     ("whole", (1.0, 7.0), (0.0, -2.0, 1.5)), ("even", (2.0, 8.0), (0.0, -2.0, 3.0, 2.5))],
)  # fmt: skip
def test_what_each_kind_of_input_accepts(accept, good, bad):
    asked = Function(
        "f", "g", "", (), (Input("x", "V", accept), Input("l", "A", accept, is_list=True)), (Output("y", "1"),), ()
    )
    for value in good:
        assert asked.objection({"x": value, "l": (value, value)}) == ""
    for value in (*bad, float("inf"), float("nan")):
        words = f"{value:g}: a {accept} number is needed"
        assert asked.objection({"x": value, "l": ()}) == f"x = {words}"
        assert asked.objection({"x": good[0], "l": [good[0], value]}) == f"l = {words}"
    assert asked.objection({"x": good[0]}) == "l is missing; give it in A"
    assert asked.objection({"l": ()}) == "x is missing; give it in V"


def test_inputs_are_completed_in_calling_order():
    inputs = (Input("a", "V", "any"), Input("b", "A", "any", False, 2.0), Input("c", "1", "any"))
    asked = Function("f", "g", "", (), inputs, (), ())
    assert list(asked.complete({"c": 3.0, "a": 1.0}).items()) == [("a", 1.0), ("b", 2.0), ("c", 3.0)]
    with pytest.raises(ValueError, match=r"^f: c is missing; give it in 1$"):
        asked.complete({"a": 1.0})
    with pytest.raises(ValueError, match=r"^f: unknown input 'd'$"):
        asked.complete({"a": 1.0, "e": 1.0, "d": 1.0})
    with pytest.raises(ValueError, match=f"^unknown function '{'x' * 60}'; the suite asks for speed, "):
        function("x" * 61)


# --- the runner


class Target(SimpleNamespace):
    closed = 0

    def close(self):
        self.closed += 1


def target(answer, delivered=None, precision="double"):
    entry = SUITE.functions["currents"]
    return Target(name="lab", answer=answer, precision=lambda f: precision,
                  delivers=lambda f: delivered if delivered is not None else tuple(o.name for o in entry.outputs))  # fmt: skip


CASES = select(SUITE, functions=["currents"])[:3]


def test_cases_are_put_one_by_one_with_progress_and_the_target_is_closed():
    seen, asked = [], []
    made = target(lambda case: asked.append(case.id) or Answer("missing", text="no"))
    score = run_cases(
        SUITE, CASES, made, known_failures=["nothing"], progress=lambda done, total: seen.append((done, total))
    )
    assert asked == [case.id for case in CASES]
    assert seen == [(1, 3), (2, 3), (3, 3)]
    assert (made.closed, score.target, score.unknown_ids, score.undelivered, score.in_single) == (
        1,
        "lab",
        ("nothing",),
        {},
        (),
    )
    assert score.seconds >= 0


def test_the_target_is_closed_when_something_breaks():
    made = target(lambda case: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        run_cases(SUITE, CASES, made)
    assert made.closed == 1


def test_outputs_that_are_not_delivered_are_named():
    def score(delivered):
        return run_cases(SUITE, CASES, target(lambda case: Answer("missing"), delivered))

    assert score(("armature_current",)).undelivered == {"currents": ("field_current", "line_current")}
    assert score(()).undelivered == {}  # nobody said what is delivered


def test_single_precision_is_named_where_something_was_answered():
    def single(answer, precision="single"):
        return run_cases(SUITE, CASES, target(lambda case: answer, precision=precision)).in_single

    assert single(Answer("refused")) == ("currents",)
    assert single(Answer("missing")) == ()
    assert single(Answer("refused"), "double") == ()


def test_a_sheet_and_a_binding_say_what_they_deliver():
    binding = plain_binding(SUITE.functions["currents"], "lab:currents", "single")
    assert [port.quantity for port in binding.results] == ["field_current", "armature_current", "line_current"]
    assert (binding.form, binding.precision, binding.call, binding.written_out) == (
        "named",
        "single",
        "lab:currents",
        False,
    )
    assert binding.units["line_current"][0] == "A"
    assert isinstance(Suite((Case("a", "g", "f", 1, {}, "valid"),), {}, {}).groups, tuple)


def test_a_torque_that_turns_the_motor_back_cannot_be_held_at_standstill_by_more_resistance():
    given = {
        "supply_voltage": 120.0,
        "field_resistance": 160.0,
        "armature_resistance": 0.8,
        "flux_constant": 1.0,
        "speed": 0.0,
    }
    # 0.75 V s/rad, so 7.5 N m are 10 A, and 118 V are left by the brushes
    sized = FUNCTIONS["added_armature_resistance_for_speed"]
    found = sized(**given, load_torque=7.5, brush_drop=2.0)
    assert found == {"added_armature_resistance": pytest.approx(11.0)}
    with pytest.raises(ValueError, match="added_armature_resistance"):
        sized(**given, load_torque=-7.5, brush_drop=2.0)
