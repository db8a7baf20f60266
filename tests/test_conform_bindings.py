"""From names and units of an implementer to those of the suite, and which functions are asked: every branch, by its words."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace

import pytest

from shuntref.conformance import target_choice, targets
from shuntref.conformance.functions import function
from shuntref.conformance.mapping import Binding, Setting, Unmapped, WrongForm, bind, plain_binding, read_setting
from shuntref.conformance.near_names import names_instead
from shuntref.conformance.protocol import plain_text, read_reply
from shuntref.conformance.scale import alias, scale_of
from shuntref.conformance.suite import Case, load_suite
from shuntref.conformance.target_choice import choose

SUITE = load_suite()
D = Decimal
CURRENTS = function("currents")


# --- inputs


def test_a_list_of_readings_is_converted_one_by_one():
    entry = function("armature_resistance_and_brush_drop")
    binding = bind(entry, {"arguments": {"mA": "armature_current in mA", "U": "supply_voltage"}})
    case = Case("a", "x", entry.name, 1, {"armature_current": (1.0, 2.5), "supply_voltage": (3.0, 4.0)}, "valid")
    assert binding.inputs_for(case, entry) == {"mA": [1000.0, 2500.0], "U": [3.0, 4.0]}


def test_what_a_case_leaves_out_is_given_as_its_default_or_not_at_all():
    entry = function("starting_resistance")
    binding = plain_binding(entry, "")
    case = Case("a", "x", entry.name, 1, {"supply_voltage": 230.0, "armature_resistance": 0.25}, "invalid")
    assert binding.inputs_for(case, entry) == {"supply_voltage": 230.0, "armature_resistance": 0.25, "brush_drop": 0.0}
    ordered = bind(entry, {"arguments": ["supply_voltage", "armature_resistance", "starting_current", "brush_drop"]})
    with pytest.raises(Unmapped, match="the case leaves out starting_current"):
        ordered.inputs_for(case, entry)


def test_an_input_whose_default_is_not_what_the_case_says_needs_an_argument():
    entry = function("starting_resistance")
    names = ("supply_voltage", "armature_resistance", "starting_current")
    binding = bind(entry, {"arguments": {name: name for name in names}})
    inputs = dict(zip(names, (230.0, 0.25, 50.0), strict=True))
    for drop, fits in ((0.0, True), (2.0, False), (-1.0, False)):
        case = Case("a", "x", entry.name, 1, {**inputs, "brush_drop": drop}, "valid")
        if fits:
            assert binding.inputs_for(case, entry) == inputs
        else:
            with pytest.raises(Unmapped, match="no argument takes brush_drop"):
                binding.inputs_for(case, entry)


# --- results


@pytest.mark.parametrize(
    ("result", "reply", "values"),
    [
        (None, 5.0, {"speed": D(5)}),
        (None, {"speed": 5.0}, {"speed": D(5)}),
        (None, {"speed": 5.0, "text": 7}, {"speed": D(5)}),
        (None, {"text": 7, "remark": 7, "speed": 5}, {"speed": D(5)}),
        (["speed"], [5.0], {"speed": D(5)}),
        (["speed"], 5.0, {"speed": D(5)}),
        (["speed"], [5.0, 6.0], {"speed": (D(5), D(6))}),
        (None, [5.0], {"speed": (D(5),)}),
        ("rad/s", [5.0], {"speed": (D(5),)}),
        ({"n": "speed"}, {"n": 5.0, "speed": 6.0}, {"speed": D(5)}),
        ({"n": "speed"}, {"speed": 6.0}, {"speed": D(6)}),
        (None, "inf", {"speed": D("Infinity")}),
    ],
)
def test_a_lone_result_comes_bare_listed_or_by_name(result, reply, values):
    assert bind(function("speed"), {"result": result} if result else {}).values_from(reply) == values


@pytest.mark.parametrize(
    ("result", "reply", "words"),
    [
        (None, {"text": "three"}, "answered 'three', which is no number"),
        (None, {"text": "x" * 200}, "answered '" + "x" * 79 + ", which is no number"),
        (None, {}, "the answer has no 'speed'"),
        ({"n": "speed"}, {}, "the answer has no 'n'"),
        (None, True, "speed = True, which is no number"),
        (None, "150", "speed = '150', which is no number"),
        ({"n": "speed"}, {"n": {"text": "three"}}, "n = 'three', which is no number"),
        ({"n": "speed"}, {"n": {"a": 1.0}}, "n = {'a': 1.0}, which is no number"),
        (None, [1.0, "x"], "speed = 'x', which is no number"),
    ],
)
def test_what_is_no_result_is_shown(result, reply, words):
    with pytest.raises(WrongForm) as caught:
        bind(function("speed"), {"result": result} if result else {}).values_from(reply)
    assert str(caught.value) == words


@pytest.mark.parametrize(
    ("result", "reply", "words"),
    [
        (None, [1.0, 2.0], "answered 2 values where 3 were asked for"),
        (None, [1.0] * 4, "answered 4 values where 3 were asked for"),
        (None, 1.0, "answered a single value where 3 were asked for"),
        ({"I": "line_current", "field_current": "field_current"}, [1.0, 2.0],
         "answered a list where values by name were promised"),
        ({"field_current": "field_current", "I": "line_current"}, [1.0, 2.0],
         "answered a list where values by name were promised"),
        ({"field_current": "field_current", "total": "line_current"}, [1.0, 2.0],
         "answered a list where values by name were promised"),
    ],
)  # fmt: skip
def test_several_results_of_another_form_are_refused_in_words(result, reply, words):
    with pytest.raises(WrongForm) as caught:
        bind(CURRENTS, {"result": result} if result else {}).values_from(reply)
    assert str(caught.value) == words


def test_several_results_under_the_registrys_names_may_come_in_order():
    binding = bind(CURRENTS, {"result": {"line_current": "line_current", "field_current": "field_current"}})
    assert binding.values_from([3.0, 1.0]) == {"line_current": D(3), "field_current": D(1)}
    lists = plain_binding(function("starter_grading"), "")
    reply = {"current_ratio": 2.0, "lower_current": 50.0, "section_resistance": [1.0, 0.5]}
    assert lists.values_from(reply)["section_resistance"] == (D(1), D("0.5"))
    none = binding.values_from(None)
    assert set(none) == {"line_current", "field_current"}
    assert all(value.is_nan() for value in none.values())


# --- the written mapping


def test_a_binding_says_how_it_was_written():
    plain = bind(CURRENTS, {})
    assert (plain.form, plain.positional, plain.written_out, plain.precision, plain.call) == (
        "named",
        False,
        False,
        "double",
        "",
    )
    assert bind(function("speed"), {}).form == "single"
    listed = bind(
        CURRENTS, {"result": ["line_current"], "arguments": ["load_torque"], "call": "a:b", "precision": "single"}
    )
    assert (listed.form, listed.positional, listed.written_out, listed.precision, listed.call) == (
        "listed", True, True, "single", "a:b")  # fmt: skip
    assert bind(CURRENTS, {"result": {"I": "line_current"}}).form == "named"
    assert bind(CURRENTS, {}, precision="single").precision == "single"
    assert bind(CURRENTS, {"constants": {"n": 3, "x": 0.5}}).constants == {"n": 3, "x": 0.5}
    assert not bind(CURRENTS, {"constants": {"n": 3}}).written_out


def test_a_speed_may_be_written_under_either_name_and_a_lone_result_as_a_unit():
    entry = function("torque_from_line_current")
    port = next(p for p in bind(entry, {"arguments": {"n": "speed_rpm"}}).arguments)
    assert (port.key, port.quantity, port.unit) == ("n", "speed", "r/min")
    port = bind(function("speed"), {"result": "speed_rpm"}).results[0]
    assert (port.quantity, port.unit) == ("speed", "r/min")
    port = bind(function("speed"), {"result": " speed  in  r/min "}).results[0]
    assert (port.quantity, port.unit) == ("speed", "r/min")
    port = bind(function("speed"), {"result": "speed"}).results[0]
    assert (port.quantity, port.unit) == ("speed", "rad/s")
    horses = bind(function("efficiency"), {"result": ["output_power in hp"]}, horsepower="metric").results[0]
    assert float(horses.scale.inward(1.0)) == pytest.approx(735.49875)  # 75 kgf m/s


@pytest.mark.parametrize(
    ("name", "written", "words"),
    [
        ("currents", {"tolerance": 1},
         r"here: unknown entry 'tolerance'; .* are known \(tolerances belong to the cases and cannot"),
        ("currents", {"call": "x", "calls": 1},
         "here: unknown entry 'calls'; call, arguments, result, constants and precision are known$"),
        ("currents", {"arguments": {"V": "volts in V"}}, "here, arguments: 'volts' is not one of supply_voltage"),
        ("currents", {"result": "A"}, "here, result: 'A' is not one of field_current"),
        ("speed", {"result": "m in A"}, "here, result: 'm' is not one of speed"),
        ("speed", {"result": "A"}, "here, result: speed cannot be in 'A'"),
        ("currents", {"result": ["line_current", "line_current in mA"]}, "here, result: line_current is mapped twice"),
        ("currents", {"arguments": ["load_torque", "load_torque"]}, "here, arguments: load_torque is mapped twice"),
        ("currents", {"result": {}},
         "here: result is empty; name at least one of field_current, armature_current, line_current"),
        ("currents", {"result": 3}, "here: result = 3 is not a table"),
        ("currents", {"arguments": []  , "constants": {"a": 1}}, "here: constants need arguments by name"),
        ("currents", {"constants": {"a": True}}, "here: constant a = True is not a number"),
        ("currents", {"constants": {"a": [1]}}, r"here: constant a = \[1\] is not a number"),
        ("currents", {"constants": [1]}, r"here: constants = \[1\] is not a table"),
        ("currents", {"precision": "half"}, "here: precision = 'half'; 'double' or 'single' is wanted"),
        ("currents", {"arguments": {"V": "x" * 99}}, "'" + "x" * 60 + "' is not one of"),
    ],
)  # fmt: skip
def test_a_mapping_that_is_not_understood_is_refused_with_its_place(name, written, words):
    with pytest.raises(ValueError, match=words):
        bind(function(name), written, where="here")


def test_a_file_hands_its_settings_to_every_function(tmp_path):
    path = tmp_path / "my_lab.toml"
    path.write_text(
        'numbers = "array"\ntables = "tuple"\nprecision = "single"\nhorsepower = "metric"\nknown_failures = ["a", "b"]\n'
        'command = "lab"\n[speed]\n[efficiency]\nprecision = "double"\nresult = ["output_power in hp"]\n',
        encoding="utf-8",
    )
    setting = read_setting(path, SUITE)
    assert (setting.numbers, setting.tables, setting.command, setting.known_failures) == (
        "array",
        "tuple",
        "lab",
        ("a", "b"),
    )
    assert setting.folder == tmp_path.resolve()
    assert {name: b.precision for name, b in setting.bindings.items()} == {"speed": "single", "efficiency": "double"}
    assert float(setting.bindings["efficiency"].results[0].scale.inward(2.0)) == pytest.approx(2 * 735.49875)
    path.write_text("", encoding="utf-8")
    empty = read_setting(path, SUITE)
    assert (empty.numbers, empty.tables, empty.command, empty.known_failures) == ("float", "list", "", ())
    for bad in ("known_failures = [1]", "known_failures = ['a', 1]", "known_failures = 'a'"):
        path.write_text(bad, encoding="utf-8")
        with pytest.raises(ValueError, match="known_failures is not a list of case ids"):
            read_setting(path, SUITE)


# --- which functions are asked


def setting(**calls):
    return Setting({name: bind(function(name), {"call": call} if call else {}) for name, call in calls.items()})


@pytest.mark.parametrize(
    ("calls", "name", "meant"),
    [
        ({"speed": "lab:n", "currents": "lab:i"}, "n", ["speed"]),
        ({"speed": "lab:n", "currents": "lab:i"}, "i", ["currents"]),
        ({"speed": "lab:n", "currents": "lab:i"}, "x", []),
        ({"speed": "lab:n", "currents": "lab:i"}, "", []),
        ({"speed": "lab:n"}, "x", ["speed"]),
        ({"speed": "lab:n"}, "", []),
        ({"speed": "n", "currents": ""}, "n", ["speed"]),
        ({"speed": "n", "currents": ""}, "currents", ["currents"]),
        ({"speed": "lab.py", "currents": "i"}, "speed", ["speed"]),
        ({}, "speed", []),
    ],
)
def test_which_function_of_the_suite_a_name_of_the_implementer_is(calls, name, meant):
    assert target_choice._mapped_as(setting(**calls), name) == meant


def test_the_functions_of_a_mapping_are_called_where_it_says(tmp_path):
    (tmp_path / "lab.py").write_text("", encoding="utf-8")
    made = setting(speed="my_lab:n", currents="my_lab:", losses=f"{tmp_path}/lab.py:loss", efficiency="lab.py")
    made = Setting(made.bindings, folder=tmp_path)
    lab = str((tmp_path / "lab.py").resolve())
    assert target_choice._calls(made) == {"speed": ("my_lab", "n"), "currents": ("my_lab", "currents"), "losses": (lab, "loss"),
                                          "efficiency": (lab, "efficiency")}  # fmt: skip
    with pytest.raises(ValueError, match=r"nowhere\.py: there is no such file"):
        target_choice._calls(Setting(setting(speed="nowhere.py:n").bindings, folder=tmp_path))
    with pytest.raises(ValueError, match=r'\[speed\] has no call; write for example call = "my_lab:speed"'):
        target_choice._calls(setting(speed=""))


def test_the_functions_asked_of_a_place():
    asked = target_choice._functions_of
    assert asked(SUITE, "lab", "speed", (), ()) == ["speed"]
    assert asked(SUITE, "lab", "n", ("losses",), ()) == ["losses"]
    assert asked(SUITE, "lab", "", ("losses", "speed"), ()) == ["losses", "speed"]
    assert asked(SUITE, "lab", "", (), ()) == list(SUITE.functions)
    groups = {entry.group for entry in SUITE.functions.values()}
    some = sorted(groups)[0]
    assert asked(SUITE, "lab", "", (), (some,)) == [n for n, entry in SUITE.functions.items() if entry.group == some]
    with pytest.raises(
        ValueError, match="lab:n is one function; name one --function, or leave 'n' out to look for all"
    ):
        asked(SUITE, "lab", "n", ("losses", "speed"), ())
    with pytest.raises(ValueError, match=r"nowhere\.py: there is no such file"):
        asked(SUITE, "nowhere.py", "n", (), ())


def test_the_command_line_maps_one_function_and_the_first_named_only():
    made = choose(SUITE, answers="sheet.csv", functions=["speed"], result="r/min", arguments={"V": "supply_voltage"},
                  precision="single")  # fmt: skip
    binding = made.setting.bindings["speed"]
    assert [p.unit for p in binding.results] == ["r/min"]
    assert [p.key for p in binding.arguments] == ["V"]
    assert binding.precision == "single"
    assert {case.function for case in made.cases} == {"speed"}
    assert (
        choose(SUITE, answers="sheet.csv", functions=["speed"], result="r/min").setting.bindings["speed"].precision
        == "double"
    )
    assert choose(SUITE, answers="sheet.csv").setting.bindings == {}
    for functions in ((), ("speed", "currents")):
        with pytest.raises(ValueError, match="--argument and --result describe one function"):
            choose(SUITE, answers="sheet.csv", functions=functions, result="r/min")
    with pytest.raises(ValueError, match="command line, result: speed cannot be in 'A'"):
        choose(SUITE, command="lab", functions=["speed"], result="A")


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ({}, "nothing to judge was named"),
        ({"target": "lab", "command": "lab"}, "TARGET and --command were given; one of them is wanted"),
        ({"answers": "a", "command": "lab"}, "--command and --read-answers were given"),
        ({"target": "t", "answers": "a", "command": "lab"}, "TARGET and --command and --read-answers were given"),
        ({"target": "my_lab.toml", "mapping": "other.toml"}, "two mapping files were given; one is enough"),
        ({"target": "lab:nowhere"}, "which function of the suite is 'nowhere'"),
    ],
)
def test_exactly_one_thing_to_judge_is_wanted(named, words):
    with pytest.raises(ValueError, match=words):
        choose(SUITE, **named)


class Opened(Exception):
    """Carries what a target would have been opened with."""


@pytest.fixture
def opened(monkeypatch):
    """What each kind of target is opened with, without opening it."""

    def catch(kind):
        def opening(*given, **named):
            return SimpleNamespace(kind=kind, given=given, **named)

        return opening

    for kind in ("python_target", "command_target", "read_answers"):
        monkeypatch.setattr(target_choice, kind, catch(kind))
    return lambda *given, **named: choose(SUITE, *given, **named).open()


def test_each_kind_of_target_is_opened_with_what_was_said(opened, tmp_path):
    (tmp_path / "lab.py").write_text("", encoding="utf-8")
    mapping = tmp_path / "lab.toml"
    found = opened(f"{tmp_path}/lab.py:n", functions=["speed"], precision="single")
    assert (found.kind, found.given[0], found.precision) == (
        "python_target", {"speed": (str((tmp_path / "lab.py").resolve()), "n")}, "single")  # fmt: skip
    assert opened("lab:speed").given[0] == {"speed": ("lab", "speed")}
    assert opened("lab:speed").precision == "double"
    assert set(opened("lab").given[0]) == set(SUITE.functions)
    assert opened(command="lab").given[0] == "lab"
    assert opened(answers="sheet.csv", as_printed=True).as_printed is True
    assert opened(answers="sheet.csv").as_printed is False
    mapping.write_text('command = "in the file"\nknown_failures = ["a"]\n[speed]\ncall = "n"\n', encoding="utf-8")
    assert (opened(mapping=str(mapping)).kind, opened(mapping=str(mapping)).given[0]) == (
        "command_target",
        "in the file",
    )
    assert opened(command="on the line", mapping=str(mapping)).given[0] == "on the line"
    assert opened(answers="sheet.csv", mapping=str(mapping)).kind == "read_answers"
    assert choose(SUITE, str(mapping)).known_failures == ("a",)
    assert choose(SUITE, "lab:speed", mapping=str(mapping)).known_failures == ("a",)
    assert opened("lab", functions=["speed", "currents"], mapping=str(mapping)).given[0] == {
        "speed": ("lab", "n"), "currents": ("lab", "currents")}  # fmt: skip
    mapping.write_text('[speed]\ncall = "lab.py:n"\n', encoding="utf-8")
    found = opened(str(mapping))
    assert (found.kind, found.name, found.folder) == ("python_target", "lab.toml", tmp_path.resolve())
    assert found.given[0] == {"speed": (str((tmp_path / "lab.py").resolve()), "n")}


def test_the_cases_are_those_of_the_levels_groups_and_ids_named():
    cases = choose(SUITE, "lab:speed", levels=[2]).cases
    assert {(c.function, c.level) for c in cases} == {("speed", 2)}
    one = choose(SUITE, command="lab", ids=["speed-tiny-full-load"]).cases
    assert [c.id for c in one] == ["speed-tiny-full-load"]
    assert {c.group for c in choose(SUITE, command="lab", groups=["torque"]).cases} == {"torque"}


# --- small parts


@pytest.mark.parametrize("count", [13, 14])
def test_few_names_are_listed_and_many_are_not(count):
    names = [f"name_{n}" for n in range(count)]
    assert names_instead("torque", names) == f"there are {', '.join(names)}"
    assert names_instead("zzz", [*names, "x"] + ["y"] * (14 - count)) == "shuntref conform --list shows all 15"


def test_at_most_three_near_names_are_offered():
    many = [*map(str, range(40)), "speed_a", "speed_b", "speed_c", "speed_d"]
    offered = names_instead("speed", many, "a list").split(" is meant")[0].removeprefix("perhaps ").split(" or ")
    assert len(offered) == 3
    assert set(offered) < {"speed_a", "speed_b", "speed_c", "speed_d"}
    within = names_instead("in_the_middle", [*map(str, range(40)), "x" * 30 + "in_the_middle" + "y" * 30])
    assert within.startswith("perhaps xxx")
    assert names_instead("", [str(n) * 20 for n in range(40)]) == "shuntref conform --list shows all 40"


@pytest.mark.parametrize(("length", "shown"), [(9, "x" * 9), (10, "x" * 10), (11, "x" * 7 + "...")])
def test_a_text_is_cut_with_three_dots(length, shown):
    assert plain_text("x" * length, 10) == shown


def test_of_a_very_long_text_four_times_what_is_shown_is_looked_at():
    assert plain_text(" " * 39 + "xy", 10) == "x"
    assert plain_text(" " * 40 + "x", 10) == ""
    assert len(plain_text("x" * 301)) == 300
    assert plain_text("a\ud800b\x00c") == "a?b c"


@pytest.mark.parametrize(
    ("line", "kind", "number", "text"),
    [
        ('{"ready": true}', "ready", -1, ""),
        ('{"ready": 1, "problem": "x"}', "ready", -1, "x"),
        ('{"ready": false, "problem": "no motor"}', "broken", -1, "no motor"),
        ('{"id": 3, "broken": "crash"}', "broken", 3, "crash"),
        ('{"id": 3, "missing": true}', "missing", 3, ""),
        ('{"id": 3, "missing": "later"}', "missing", 3, "later"),
        ('{"id": 3, "error": "stall"}', "error", 3, "stall"),
        ('{"id": 3, "error": null, "result": 1}', "result", 3, ""),
        ('{"id": 3, "error": false, "missing": false, "broken": false, "result": 1}', "result", 3, ""),
        ('{"id": 3, "error": "", "result": 1}', "error", 3, ""),
        ('{"id": 3, "missing": true, "error": "x"}', "missing", 3, ""),
        ('{"id": 3, "broken": "y", "missing": true}', "broken", 3, "y"),
        ('{"id": 3.0, "result": 1}', "result", 3, ""),
        ('progress 80% {"id": 0, "result": null}', "result", 0, ""),
        ('{"id": -2, "result": [nan, -inf, "nan"]}', "result", -2, ""),
    ],
)
def test_what_a_line_says(line, kind, number, text):
    reply = read_reply(line.encode())
    assert (reply.kind, reply.number, reply.text) == (kind, number, text)
    assert type(reply.number) is int


def test_scales_and_second_names():
    assert scale_of("speed", "rad/s").same
    assert not scale_of("speed", "r/min").same
    celsius = scale_of("winding_temperature", "K")
    assert celsius.factor == 1
    assert not celsius.same
    assert celsius.inward(300.0) == D("26.85")
    assert celsius.outward(26.85) == 300.0
    assert scale_of("armature_current", "mA").outward(0.075) == 75.0
    assert (alias("speed"), alias("speed_rpm"), alias("torque")) == ("speed_rpm", "speed", "torque")
    with pytest.raises(ValueError, match="speed cannot be in '" + "x" * 40 + "'"):
        scale_of("speed", "x" * 41)


# --- answers of a target


def bare_target(binding, offered=None, **more):
    made = targets.LineTarget.__new__(targets.LineTarget)
    made.__dict__.update(name="lab", suite=SUITE, bindings={binding.function: binding}, parameters_known=True, claimed={},
                         limits=targets.Limits(restarts=3, time_outs=2), _child=None, _number=0, _crashes=0, _silences=0,
                         _offered=offered, command=["lab"], folder=None)  # fmt: skip
    made.__dict__.update(more)
    return made


SPEED = plain_binding(function("speed"), "lab:n", "single")
TINY = next(case for case in SUITE.cases if case.id == "speed-tiny-full-load")


def test_a_target_knows_precision_and_outputs_of_what_is_mapped():
    target = bare_target(SPEED)
    assert (target.precision("speed"), target.delivers("speed")) == ("single", ("speed",))
    assert (target.precision("losses"), target.delivers("losses")) == ("double", ())


def test_what_is_not_offered_or_not_mapped_is_missing():
    losses = next(case for case in SUITE.cases if case.function == "losses")
    assert bare_target(SPEED).answer(losses).text == "no such function"
    target = bare_target(SPEED, {"currents"})
    assert (target.answer(TINY).kind, target.answer(TINY).text) == ("missing", "no such function")
    target.claimed = {"speed": ("folder/lab.py", "n")}
    assert target.answer(TINY).text == "lab.py has no function 'n'"
    spoken = bare_target(SPEED, {"speed"}, parameters_known=False)  # a program knows the function by what it is called
    assert spoken.answer(TINY).kind == "missing"
    lacking = Binding("speed", "lab:n", SPEED.arguments[:1], SPEED.results)
    assert bare_target(lacking, {"speed"}).answer(TINY).text.startswith("no argument takes ")


def test_after_so_many_restarts_or_time_limits_a_program_is_not_asked_again(monkeypatch):
    asked = []
    monkeypatch.setattr(targets.LineTarget, "_ask", lambda self, *given: asked.append(given) or (None, "crash"))
    for crashes, silences, words in (
        (3, 1, "crash"),
        (4, 0, "not asked: the program had already been restarted 3 times"),
        (0, 2, "not asked: the program had already exceeded 2 time limits"),
    ):
        answer = bare_target(SPEED, {"speed"}, _crashes=crashes, _silences=silences).answer(TINY)
        assert (answer.kind, answer.text) == ("failed", words)
    assert [given[0] for given in asked] == ["speed"]


def fitted(parameters, binding=SPEED, **written):
    target = bare_target(bind(function(binding.function), written) if written else binding)
    target._fit_parameters({binding.function: parameters} if parameters is not None else {})
    return target.bindings[binding.function]


def names(binding):
    return [port.key for port in binding.arguments]


def test_arguments_are_fitted_to_the_parameters_a_function_has():
    some = ["supply_voltage", "field_resistance", "armature_resistance", "flux_constant", "load_torque"]
    assert names(fitted({"names": some, "required": some, "any": False})) == some
    assert names(fitted({"names": [*some, "extra"], "required": some, "any": False})) == some
    everything = names(SPEED)
    assert names(fitted({"names": some, "required": some, "any": True})) == everything
    assert names(fitted(None)) == everything
    written = fitted({"names": ["V"], "required": ["V"], "any": False}, arguments={"U": "supply_voltage"})
    assert names(written) == ["U"]
    held = fitted({"names": ["verbose", *some], "required": ["verbose", *some], "any": False}, constants={"verbose": 1})
    assert names(held) == some
    with pytest.raises(
        ValueError, match="lab:n: its argument 'volts' is no input of the function 'speed'; say what it is"
    ):
        fitted({"names": ["volts"], "required": ["volts"], "any": False})


def test_a_parameter_called_speed_rpm_takes_the_speed_in_revolutions():
    entry = function("armature_current_from_speed")
    binding = plain_binding(entry, "lab:i")
    others = [name for name in names(binding) if name != "speed"]
    for present, expected in (
        (["speed_rpm"], ["speed_rpm"]),
        (["speed"], ["speed"]),
        (["speed", "speed_rpm"], ["speed"]),
    ):
        made = fitted({"names": [*others, *present], "required": others, "any": False}, binding)
        assert [n for n in names(made) if n not in others] == expected
        port = next(p for p in made.arguments if p.quantity == "speed")
        assert port.scale.outward(50.0) == pytest.approx(477.46482927568604 if expected == ["speed_rpm"] else 50.0)


@pytest.mark.parametrize(
    ("line", "kind", "text"),
    [
        ('{"id": 1, "error": "stall"}', "refused", "stall"),
        ('{"id": 1, "missing": true}', "missing", "no such function"),
        ('{"id": 1, "missing": "not yet"}', "missing", "not yet"),
        ('{"id": 1, "broken": "NameError"}', "failed", "NameError"),
        ('{"id": 1, "result": "three"}', "failed", "speed = 'three', which is no number"),
        ('{"id": 1, "result": 150.0}', "values", ""),
    ],
)
def test_a_reply_becomes_an_answer(line, kind, text):
    answer = targets._answer_from(read_reply(line.encode()), SPEED, 0.25)
    assert (answer.kind, answer.text) == (kind, text)
    assert kind == "failed" or answer.seconds == 0.25
    assert kind != "values" or answer.values == {"speed": D(150)}


def test_hints_where_a_program_cannot_be_started():
    target = bare_target(SPEED)
    assert target._start_hint(PermissionError()).endswith('--command "python3 lab"')
    assert "is 'lab' installed" in target._start_hint(FileNotFoundError())
    assert target._start_hint(OSError()) == ""


@pytest.fixture
def made_with(monkeypatch):
    """What a target is made of, without a process."""
    monkeypatch.setattr(targets.LineTarget, "_start", lambda self: None)


def test_a_command_target_is_made_of_words_and_mapping(made_with, tmp_path):
    plain = targets.command_target("octave-cli 'my lab.m'", SUITE, precision="single")
    assert (plain.command, plain.folder, plain.parameters_known) == (["octave-cli", "my lab.m"], None, False)
    assert plain.precision("losses") == "single"
    mapped = Setting({"speed": bind(function("speed"), {})}, folder=tmp_path)
    assert targets.command_target("lab", SUITE, mapped).folder is None  # a command typed is run where it was typed
    assert targets.command_target("lab", SUITE, mapped, precision="single").precision("speed") == "double"
    written = Setting({}, command="lab", folder=tmp_path)
    assert targets.command_target("lab", SUITE, written).folder == tmp_path


def test_a_python_target_is_told_functions_and_forms(made_with):
    import json

    target = targets.python_target({"speed": ("lab", "n"), "losses": ("lab", "loss")}, SUITE, Setting(numbers="array"),
                                   precision="single")  # fmt: skip
    assert target.name == "lab:loss; lab:n"
    assert json.loads(target.command[4]) == {"functions": {"speed": ["lab", "n"], "losses": ["lab", "loss"]},
                                             "numbers": "array", "tables": "list"}  # fmt: skip
    assert target.precision("speed") == "single"
    assert target.bindings["speed"].call == "lab:n"
    assert target.parameters_known
    assert set(target.claimed) == {"speed", "losses"}
    every = {name: ("lab", name) for name in SUITE.functions}
    assert targets.python_target(every, SUITE, name="all of lab").claimed == {}
    assert targets.python_target(every, SUITE, name="all of lab").name == "all of lab"
