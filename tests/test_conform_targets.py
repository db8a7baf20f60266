"""A target behind a child, held against a child that is played: what is asked, what counts, what is said of each trouble."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import ClassVar

import pytest

from shuntref.conformance import targets
from shuntref.conformance.child import ChildEnded, ChildFlood, ChildSilent, Limits
from shuntref.conformance.mapping import Setting, bind, plain_binding
from shuntref.conformance.suite import Case, load_suite
from shuntref.conformance.targets import LineTarget, command_target

SUITE = load_suite()
VALID = {"supply_voltage": 120.0, "field_resistance": 160.0, "flux_constant": 1.5}
CASE = Case("a", "speed", "ideal_no_load_speed", 1, VALID, "valid", {"ideal_no_load_speed": "100"})


class Played:
    """A child that answers as told; every one that was started, and what was said to it, is kept."""

    started: ClassVar[list[Played]] = []
    script: ClassVar[list[object]] = []
    last_words = ""

    def __init__(self, command, folder, limits):
        self.command, self.folder, self.limits = command, folder, limits
        self.said, self.waited, self.ended = [], [], []
        Played.started.append(self)
        if self.script and isinstance(self.script[0], OSError):
            raise self.script.pop(0)

    def send(self, line):
        self.said.append(json.loads(line))

    def receive(self, seconds, wanted, *, learn=False):
        self.waited.append((seconds, learn))
        while True:
            line = self.script.pop(0)
            if isinstance(line, BaseException):
                raise line
            if wanted(line if isinstance(line, bytes) else json.dumps(line).encode()):
                return

    def end(self, farewell=None):
        self.ended.append(farewell)


@pytest.fixture
def child(monkeypatch):
    Played.started, Played.script, Played.last_words = [], [], ""
    monkeypatch.setattr(targets, "Child", Played)
    return Played


READY = {"ready": True}


def made(child, *script, bindings=None, **more):
    child.script[:] = list(script)
    bindings = bindings or {n: plain_binding(f, "") for n, f in SUITE.functions.items()}
    return LineTarget("lab", ["octave-cli", "lab.m"], SUITE, bindings, **more)


# --- starting


def test_a_child_is_started_and_asked_whether_it_is_ready(child, tmp_path):
    limits = Limits(start_seconds=7.0)
    target = made(child, b"warming up", READY, limits=limits, folder=tmp_path)
    (started,) = child.started
    assert (started.command, started.folder, started.limits) == (["octave-cli", "lab.m"], tmp_path, limits)
    assert started.said == [{"request": "start", "protocol": 1}]
    assert started.waited == [(7.0, False)]
    target.close()
    assert started.ended == [b'{"request":"stop"}\n']
    target.close()
    assert len(started.ended) == 1


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FileNotFoundError(2, "No such file"),
         "lab: cannot be started: No such file; is 'octave-cli' installed and on the PATH, or its path right?"),
        (PermissionError(13, "Permission denied"),
         "lab: cannot be started: Permission denied; make it executable, or name what runs it: "
         '--command "python3 octave-cli"'),
        (OSError(8, "Exec format error"), "lab: cannot be started: Exec format error"),
    ],
)  # fmt: skip
def test_a_child_that_cannot_be_started(child, error, words):
    with pytest.raises(ValueError) as caught:
        made(child, error)
    assert str(caught.value) == words


@pytest.mark.parametrize(
    ("known", "words", "told"),
    [
        (False, "", "lab: never said that it is ready: no answer within 7 s; it reads {"),
        (False, "cannot find lab.m",
         "lab: never said that it is ready: no answer within 7 s; its last words: cannot find lab.m; it reads {"),
        (True, "", "lab: never said that it is ready: no answer within 7 s"),
    ],
)  # fmt: skip
def test_a_child_that_is_never_ready(child, known, words, told):
    child.last_words = words
    with pytest.raises(ValueError, match="never said") as caught:
        made(child, ChildSilent("no answer within 7 s"), parameters_known=known)
    assert str(caught.value).startswith(told)
    assert str(caught.value).endswith("(references/cases/protocol.md)") is not known
    assert child.started[0].ended == [None]


@pytest.mark.parametrize(
    ("reply", "words"),
    [
        ({"ready": False, "problem": "no licence"}, "lab: cannot be loaded: no licence"),
        ({"ready": False}, "lab: cannot be loaded: it says it is not ready"),
    ],
)
def test_a_child_that_says_it_is_not_ready(child, reply, words):
    with pytest.raises(ValueError, match=f"^{words}$"):
        made(child, reply)
    assert child.started[0].ended == [b'{"request":"stop"}\n']


def test_an_interruption_ends_the_child(child):
    with pytest.raises(KeyboardInterrupt):
        made(child, KeyboardInterrupt())
    assert child.started[0].ended == [None]
    target = made(child, READY, KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        target.answer(CASE)
    assert child.started[1].ended == [None]


# --- asking


def test_questions_are_numbered_from_one_and_only_their_own_answer_counts(child):
    target = made(
        child, READY, {"id": 1, "result": 100.0}, {"id": 1, "result": 5.0}, b"a remark", {"id": 2, "result": 200.0}
    )
    answers = [target.answer(CASE) for _ in range(2)]
    assert [(a.kind, a.values) for a in answers] == [
        ("values", {"ideal_no_load_speed": Decimal(100)}), ("values", {"ideal_no_load_speed": Decimal(200)}),
    ]  # fmt: skip
    first, second = child.started[0].said[1:]
    assert first == {"request": "run", "id": 1, "name": "ideal_no_load_speed",
                     "inputs": {**VALID, "added_field_resistance": 0.0}}  # fmt: skip
    assert (second["id"], second["name"]) == (2, "ideal_no_load_speed")
    assert child.started[0].waited[1:] == [(3.0, True), (3.0, True)]
    assert all(0.0 <= a.seconds < 1.0 for a in answers)


@pytest.mark.parametrize(
    ("reply", "kind", "text"),
    [
        ({"error": "stall"}, "refused", "stall"),
        ({"missing": True}, "missing", "no such function"),
        ({"missing": "later"}, "missing", "later"),
        ({"broken": "division by zero"}, "failed", "division by zero"),
        ({"result": {"n": 1}}, "failed", "the answer has no 'ideal_no_load_speed'"),
        ({"result": "fast"}, "failed", "ideal_no_load_speed = 'fast', which is no number"),
    ],
)
def test_every_kind_of_reply(child, reply, kind, text):
    found = made(child, READY, {"id": 1, **reply}).answer(CASE)
    if "n" in str(reply.get("result")):
        assert (found.kind, found.text) in ((kind, text), (kind, "ideal_no_load_speed = {'n': 1}, which is no number"))
    else:
        assert (found.kind, found.text) == (kind, text)
    assert found.seconds >= 0


@pytest.mark.parametrize(
    ("trouble", "words", "said"),
    [
        (ChildEnded("the program ended with status 3"), "", "the program ended with status 3"),
        (ChildEnded("the program ended with status 3"), "out of memory",
         "the program ended with status 3; its last words: out of memory"),
        (ChildSilent("no answer within 3 s"), "out of memory", "no answer within 3 s"),
        (ChildFlood("more than 9 bytes"), "x", "more than 9 bytes"),
    ],
)  # fmt: skip
def test_a_trouble_costs_one_case_and_a_new_child(child, trouble, words, said):
    child.last_words = words
    target = made(child, READY, trouble, READY, {"id": 2, "result": 100.0})
    found = target.answer(CASE)
    assert (found.kind, found.text) == ("failed", said)
    assert child.started[0].ended == [None]
    assert target.answer(CASE).kind == "values"
    assert len(child.started) == 2


def test_an_answer_to_another_question_is_told(child):
    found = made(child, READY, {"id": 7, "result": 1}, ChildSilent("no answer within 3 s")).answer(CASE)
    assert found.text == "no answer within 3 s; it answered another question instead"


def test_a_child_that_cannot_be_started_again_fails_the_case(child):
    target = made(child, READY, ChildEnded("gone"), ChildEnded("gone at once"))
    assert target.answer(CASE).text == "gone"
    again = target.answer(CASE)
    assert again.kind == "failed"
    assert again.text.startswith("lab: never said that it is ready: gone at once")


@pytest.mark.parametrize(("trouble", "limits", "words"), [
    (ChildEnded("gone"), Limits(restarts=2), "not asked: the program had already been restarted 2 times"),
    (ChildSilent("silent"), Limits(time_outs=3), "not asked: the program had already exceeded 3 time limits"),
])  # fmt: skip
def test_after_three_troubles_nothing_more_is_asked(child, trouble, limits, words):
    target = made(child, READY, trouble, READY, trouble, READY, trouble, limits=limits)
    assert [target.answer(CASE).text for _ in range(3)] == [str(trouble)] * 3
    found = target.answer(CASE)
    assert (found.kind, found.text) == ("failed", words)
    assert len(child.started) == 3


def test_time_outs_are_no_crashes(child):
    target = made(child, READY, *[ChildSilent("silent"), READY] * 3, limits=Limits(restarts=0, time_outs=10))
    assert [target.answer(CASE).text for _ in range(3)] == ["silent"] * 3


# --- what is offered


def test_a_function_that_is_not_offered_is_not_asked(child):
    for offered, kind in (
        (["speed"], "missing"),
        ({"speed": None}, "missing"),
        (["ideal_no_load_speed"], "values"),
        (None, "values"),
        (1, "values"),
    ):
        target = made(child, {"ready": True, "functions": offered}, {"id": 1, "result": 100.0})
        assert target.answer(CASE).kind == kind
    nowhere = Case("b", "speed", "nowhere", 1, {}, "valid")
    assert target.answer(nowhere).text == "no such function"
    assert (target.precision("nowhere"), target.delivers("nowhere")) == ("double", ())
    assert target.delivers("ideal_no_load_speed") == ("ideal_no_load_speed",)


def test_a_program_is_asked_by_the_name_of_the_mapping(child):
    entry = SUITE.functions["ideal_no_load_speed"]
    bindings = {
        "ideal_no_load_speed": bind(
            entry, {"call": "n0", "arguments": {"R": "field_resistance in kohm", "c": "flux_constant"}}
        )
    }
    target = made(child, {"ready": True, "functions": ["n0"]}, {"id": 1, "result": 1.0}, bindings=bindings)
    assert target.answer(CASE).text == "no argument takes supply_voltage"
    arguments = {"U": "supply_voltage in kV", "R": "field_resistance in kohm", "c": "flux_constant"}
    full = {"ideal_no_load_speed": bind(entry, {"call": "n0", "arguments": arguments, "result": "r/min"})}
    target = made(child, {"ready": True, "functions": ["n0"]}, {"id": 1, "result": 30.0}, bindings=full)
    # 30 r/min are pi rad/s
    assert float(target.answer(CASE).values["ideal_no_load_speed"]) == pytest.approx(3.141592653589793)
    assert child.started[-1].said[1] == {
        "request": "run",
        "id": 1,
        "name": "n0",
        "inputs": {"U": 0.12, "R": 0.16, "c": 1.5},
    }


def offering(names, required=(), anything=False):
    return {"names": list(names), "required": list(required), "any": anything}


def test_arguments_are_fitted_to_what_the_functions_take(child):
    names = ["supply_voltage", "field_resistance", "flux_constant"]
    target = made(child, {"ready": True, "functions": {"ideal_no_load_speed": offering(names, names)}},
                  {"id": 1, "result": 100.0},
                  parameters_known=True)  # fmt: skip
    assert [port.key for port in target.bindings["ideal_no_load_speed"].arguments] == names
    target.answer(CASE)
    assert child.started[0].said[1]["inputs"] == VALID
    with_rheostat = Case("c", "speed", "ideal_no_load_speed", 1, {**VALID, "added_field_resistance": 20.0}, "valid")
    assert target.answer(with_rheostat).text == "no argument takes added_field_resistance"


def test_an_argument_in_revolutions_takes_the_speed(child):
    entry = SUITE.functions["armature_current_from_speed"]
    names = ["supply_voltage", "k_phi", "speed_rpm", "armature_resistance"]
    target = made(child, {"ready": True, "functions": {entry.name: offering(names, names)}}, {"id": 1, "result": [1.0, 2.0]},
                  bindings={entry.name: plain_binding(entry, "lab")}, parameters_known=True)  # fmt: skip
    inputs = {"supply_voltage": 120.0, "k_phi": 0.75, "speed": 100.0, "armature_resistance": 0.8}
    target.answer(Case("a", "currents", entry.name, 1, inputs, "valid"))
    asked = child.started[0].said[1]["inputs"]
    assert set(asked) == set(names)
    assert asked["speed_rpm"] == pytest.approx(954.9296585513721)  # 3000/pi
    # where it takes both names, each is what it says
    both = made(child, {"ready": True, "functions": {entry.name: offering([*names, "speed"])}},
                bindings={entry.name: plain_binding(entry, "")},
                parameters_known=True)  # fmt: skip
    assert "speed_rpm" not in [port.key for port in both.bindings[entry.name].arguments]


def test_a_required_argument_that_is_no_input_is_told_by_name(child):
    entry = SUITE.functions["ideal_no_load_speed"]
    offer = {"ready": True, "functions": {entry.name: offering(["voltage", "ohms"], ["voltage", "ohms"])}}
    with pytest.raises(ValueError, match="voltage") as caught:
        made(child, offer, bindings={entry.name: plain_binding(entry, "lab:n0")}, parameters_known=True)
    assert str(caught.value) == (
        "lab:n0: its argument 'voltage' is no input of the function 'ideal_no_load_speed'; say what it is with "
        '--argument "voltage=QUANTITY in UNIT" or in a mapping file; the inputs are supply_voltage, field_resistance, '
        "flux_constant, added_field_resistance"
    )
    assert child.started[0].ended == [b'{"request":"stop"}\n']


def test_nothing_is_fitted_where_arguments_were_written_out_or_anything_is_taken(child):
    entry = SUITE.functions["ideal_no_load_speed"]
    written = bind(entry, {"call": "lab:n0", "arguments": {"V": "supply_voltage in V"}})
    plain = plain_binding(entry, "lab:n0")
    for binding, offer in ((written, offering([], ["voltage"])), (plain, offering(["kw"], [], True)), (plain, None)):
        target = made(
            child,
            {"ready": True, "functions": {entry.name: offer}},
            bindings={entry.name: binding},
            parameters_known=True,
        )
        assert target.bindings == {entry.name: binding}


def test_arguments_are_fitted_at_the_first_start_only(child):
    names = list(VALID)
    first = {"ready": True, "functions": {"ideal_no_load_speed": offering(names)}}
    second = {"ready": True, "functions": {"ideal_no_load_speed": offering(["other"], ["other"])}}
    target = made(child, first, ChildEnded("gone"), second, {"id": 2, "result": 1.0}, parameters_known=True)
    target.answer(CASE)
    assert target.answer(CASE).kind == "values"
    assert [port.key for port in target.bindings["ideal_no_load_speed"].arguments] == names


def test_a_claimed_function_that_is_not_there_is_told_with_its_file(child):
    target = made(
        child,
        {"ready": True, "functions": []},
        claimed={"ideal_no_load_speed": ("/far/away/lab.py", "n0")},
        parameters_known=True,
    )
    assert target.answer(CASE).text == "lab.py has no function 'n0'"


# --- commands


def test_a_command_that_is_no_command(child):
    with pytest.raises(ValueError, match=r"^command 'octave \"lab': No closing quotation$"):
        command_target('octave "lab', SUITE)
    with pytest.raises(ValueError, match=f"^command '\"{'x' * 59}': No closing quotation$"):
        command_target('"' + "x" * 80, SUITE)
    with pytest.raises(ValueError, match=r'^the command is empty; write for example --command "octave-cli my_lab.m"$'):
        command_target("  ", SUITE)


def test_a_command_keeps_its_words_limits_and_mapping(child):
    child.script[:] = [READY, READY]
    limits = Limits(case_seconds=1.5)
    target = command_target('octave-cli "my lab.m"', SUITE, Setting(), limits=limits, precision="single")
    assert child.started[0].command == ["octave-cli", "my lab.m"]
    assert (target.limits, target.name, target.precision("speed")) == (limits, 'octave-cli "my lab.m"', "single")
    assert command_target("lab", SUITE).limits == Limits()
