"""What runs beside Python functions under test: how they are found, called, given numbers, and what is made of results."""

from __future__ import annotations

import contextlib
import json
import os
import runpy
import sys
import threading
from collections import namedtuple
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from shuntref.conformance import worker
from shuntref.conformance.worker import call_function


def result_of(value):
    """What the runner is told of a function that returns ``value``."""
    return call_function(lambda: value, {})["result"]


@dataclass
class State:
    speed: float
    currents: tuple[float, ...]


Pair = namedtuple("Pair", "speed torque")


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (150, 150.0),
        (0.8, 0.8),
        (float("nan"), "nan"),
        (float("inf"), "inf"),
        (-np.inf, "-inf"),
        (None, None),
        (True, True),
        (False, False),
        ("150 rad/s", {"text": "150 rad/s"}),
        ("x" * 81, {"text": "x" * 80}),
        (Fraction(3, 4), 0.75),
        (Decimal("0.5"), 0.5),
        (np.float64(2.5), 2.5),
        (np.float32(0.5), 0.5),
        (np.array(7.0), 7.0),
        (np.array([1.0, 2.0]), [1.0, 2.0]),
        (complex(3, 0), 3.0),
        (complex(3, 1e-9), {"text": "a complex number"}),
        ((1, 2.5), [1.0, 2.5]),
        ({"speed": 1, 2: (3.0,)}, {"speed": 1.0, "2": [3.0]}),
        ({"n" * 81: 1.0}, {"n" * 80: 1.0}),
        (Pair(150.0, 6.0), {"speed": 150.0, "torque": 6.0}),
        (State(150.0, (8.0, 0.75)), {"speed": 150.0, "currents": [8.0, 0.75]}),
        ({1.0}, {"text": "set"}),
        (object(), {"text": "object"}),
    ],
)
def test_whatever_a_function_returns_is_told_as_plain_data(value, told):
    found = result_of(value)
    assert (found, type(found)) == (told, type(told))


class Column:
    """A column whose list is a column again, as some table libraries have it."""

    def tolist(self):
        return Column()


def test_a_column_without_end_is_described_only():
    assert result_of(Column()) == {"text": "Column"}


DEEP = {"text": "deeply nested"}


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ([[[[1.0]]]], [[[[1.0]]]]),
        ([[[[[1.0]]]]], [[[[DEEP]]]]),
        ({"a": {"b": {"c": {"d": 1.0}}}}, {"a": {"b": {"c": {"d": 1.0}}}}),
        ({"a": {"b": {"c": {"d": {}}}}}, {"a": {"b": {"c": {"d": DEEP}}}}),
        (np.ones((1, 1, 1)), [[[1.0]]]),
        (np.ones((1, 1, 1, 1)), [[[DEEP]]]),
        ([[np.ones(1)]], [[[1.0]]]),
        ([[[np.ones(1)]]], [[[DEEP]]]),
        ([[[Pair(1.0, 2.0)]]], [[[{"speed": 1.0, "torque": 2.0}]]]),
        ([[[[Pair(1.0, 2.0)]]]], [[[[DEEP]]]]),
        ([[State(1.0, (2.0,))]], [[{"speed": 1.0, "currents": [2.0]}]]),
        ([[[State(1.0, ())]]], [[[{"speed": 1.0, "currents": DEEP}]]]),
    ],
)
def test_four_levels_of_lists_are_told_and_no_more(value, told):
    assert result_of(value) == told


def test_of_a_result_without_measure_ten_thousand_items_are_told():
    assert len(result_of([0.0] * 10_000)) == len(result_of([0.0] * 10_001)) == 10_000
    assert len(result_of(dict.fromkeys(range(10_001), 0.0))) == 10_000


@pytest.mark.parametrize(
    ("error", "kind"),
    [
        (ValueError("negative"), "error"),
        (ZeroDivisionError("by zero"), "error"),
        (AssertionError("R > 0"), "error"),
        (ArithmeticError("stall"), "error"),
        (TypeError("no number"), "error"),
        (KeyError("speed"), "error"),
        (NotImplementedError("not yet"), "missing"),
        (MemoryError("full"), "broken"),
        (RecursionError("deep"), "broken"),
        (NameError("torqe"), "broken"),
        (AttributeError("none"), "broken"),
        (ImportError("gone"), "broken"),
        (SyntaxError("("), "broken"),
        (SystemError("bad"), "broken"),
        (FileNotFoundError("no file"), "broken"),
        (EOFError("end"), "broken"),
        (SystemExit("bye"), "broken"),
        (KeyboardInterrupt("stop"), "broken"),
        (GeneratorExit("left"), "broken"),
    ],
)
def test_a_refusal_is_told_from_a_fault_and_from_what_is_not_there(error, kind):
    def speed():
        raise error

    ((told, words),) = call_function(speed, {}).items()
    assert told == kind
    assert str(error) in words
    assert kind == "missing" or type(error).__name__ in words


def test_a_function_not_written_yet_is_missing_with_or_without_words():
    def speed(words):
        raise NotImplementedError(words)

    assert call_function(speed, [""]) == {"missing": True}
    assert call_function(speed, ["w" * 501]) == {"missing": "w" * 500}


@pytest.mark.parametrize("error", [ValueError, NameError, SystemExit])
def test_what_a_function_says_is_cut_to_five_hundred_characters(error):
    def speed():
        raise error("w" * 1000)

    ((_, words),) = call_function(speed, {}).items()
    assert len(words) == 500


class Odd:
    def __float__(self):
        raise RuntimeError("odd " * 500)


def test_a_result_that_cannot_be_read_is_a_fault():
    (words,) = call_function(Odd, {}).values()
    assert words.startswith("a result of type Odd cannot be read: odd")
    assert len(words) == 500


def test_inputs_go_by_name_or_in_order_and_a_wrong_call_is_a_fault():
    def speed(volts, ohms=2.0):
        return volts / ohms

    assert call_function(speed, {"volts": 6.0}) == {"result": 3.0}
    assert call_function(speed, {"volts": 6.0, "ohms": 3.0}) == {"result": 2.0}
    assert call_function(speed, [6.0, 1.5]) == {"result": 4.0}
    for wrong in ({}, {"ohms": 1.0}, {"volts": 1.0, "amperes": 1.0}, [1.0, 2.0, 3.0], []):
        (words,) = call_function(speed, wrong).values()
        assert words.startswith("cannot be called as mapped: ")
    assert len(call_function(lambda n="": n, {"v" * 999: 1.0})["broken"]) == 500


LAB = """
class Motor:
    @staticmethod
    def speed(volts, *, k_phi, added=0.0, **more):
        return volts / k_phi
    rated = 150.0

def pair(values, at):
    return [type(values).__name__, type(at).__name__] and {"first": values[0] * at, "kinds": [values[0], at]}

def kind(given):
    return type(given).__name__

def same(given):
    return given
"""


@pytest.fixture
def loaded(tmp_path, monkeypatch):
    """A library of the functions in LAB under names of the suite."""
    monkeypatch.setattr(sys, "path", list(sys.path))
    path = tmp_path / "lab_of_worker.py"
    path.write_text(LAB, encoding="utf-8")
    monkeypatch.setitem(sys.modules, "lab_of_worker", None)

    def library(**setting):
        names = {"speed": "Motor.speed", "rated": "Motor.rated", "gone": "Motor.torque", "far": "nothing.at.all",
                 "pair": "pair", "kind": "kind", "same": "same"}  # fmt: skip
        functions = {asked: [str(path), name] for asked, name in names.items()}
        return worker._Library({"functions": functions, **setting})

    return library


def test_functions_are_found_by_dotted_names_and_described(loaded):
    described = loaded().described()
    assert set(described) == {"speed", "pair", "kind", "same"}  # a number and what is not there cannot be called
    assert described["speed"] == {"names": ["volts", "k_phi", "added"], "required": ["volts", "k_phi"], "any": True}
    assert described["kind"] == {"names": ["given"], "required": ["given"], "any": False}


def test_what_is_not_there_is_missing(loaded):
    for name in ("gone", "rated", "far", "never_named"):
        assert loaded().answer(name, {}) == {"missing": True}
    assert loaded().answer("speed", {"volts": 120.0, "k_phi": 0.75}) == {"result": 160.0}


def test_a_compiled_function_that_tells_no_parameters_is_called_all_the_same():
    silent = max  # inspect.signature has nothing to say of it
    assert worker._parameters(silent) is None
    assert call_function(silent, [1.5, 2.5]) == {"result": 2.5}


@pytest.mark.parametrize(
    ("setting", "given", "kind"),
    [
        ({}, 1.0, "float"),
        ({}, [1.0], "list"),
        ({"numbers": "float", "tables": "list"}, [1.0], "list"),
        ({"tables": "tuple"}, [1.0], "tuple"),
        ({"tables": "tuple"}, 1.0, "float"),
        ({"tables": "array"}, [1.0], "ndarray"),
        ({"tables": "array"}, 1.0, "float"),
        ({"numbers": "array"}, 1.0, "ndarray"),
        ({"numbers": "array"}, [1.0], "list"),
    ],
)
def test_numbers_and_tables_go_in_as_they_were_asked_for(loaded, setting, given, kind):
    library = loaded(**setting)
    assert library.answer("kind", {"given": given}) == {"result": {"text": kind}}
    assert library.answer("kind", [given]) == {"result": {"text": kind}}


def test_arrays_hold_numbers_of_double_precision(loaded):
    seen = []
    for setting, given in (({"numbers": "array"}, 3), ({"tables": "array"}, [3, 4])):
        library = loaded(**setting)
        library._functions["same"] = lambda given: seen.append(given) or 1.0
        library.answer("same", {"given": given})
    assert [(array.dtype, array.tolist()) for array in seen] == [(np.float64, [3.0]), (np.float64, [3.0, 4.0])]


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ([5.0], 5.0),
        ([[5.0]], 5.0),
        ([1.0, 2.0], [1.0, 2.0]),
        ([[1.0], [2.0]], [1.0, 2.0]),
        ({"speed": [5.0], "currents": [[1.0], [2.0]]}, {"speed": 5.0, "currents": [1.0, 2.0]}),
        (5.0, 5.0),
        ([], []),
    ],
)
def test_arrays_of_one_come_back_as_numbers_only_where_they_went_in(loaded, value, told):
    for numbers, expected in (("array", told), ("float", value)):
        library = loaded(numbers=numbers)
        library._functions["same"] = lambda given: value
        assert library.answer("same", {"given": 1.0}) == {"result": expected}


def test_an_error_is_handed_on_by_the_library(loaded):
    library = loaded(numbers="array")
    library._functions["same"] = lambda given: given[5]
    assert library.answer("same", {"given": 1.0})["error"].startswith("IndexError")


def test_a_module_is_looked_for_in_the_working_folder_first(tmp_path, monkeypatch):
    for folder, speed in (("here", 1.0), ("elsewhere", 2.0)):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "lab_found_twice.py").write_text(f"SPEED = {speed}", encoding="utf-8")
    monkeypatch.setattr(sys, "path", [str(tmp_path / "elsewhere"), *sys.path])
    monkeypatch.chdir(tmp_path / "here")
    try:
        assert worker._load("lab_found_twice").SPEED == 1.0
    finally:
        sys.modules.pop("lab_found_twice", None)


def test_a_file_finds_what_lies_beside_it(tmp_path, monkeypatch):
    for folder, speed in (("here", 1.0), ("elsewhere", 2.0)):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "lab_beside.py").write_text(f"SPEED = {speed}", encoding="utf-8")
    (tmp_path / "here" / "lab_at_work.py").write_text("from lab_beside import SPEED", encoding="utf-8")
    monkeypatch.setattr(sys, "path", [str(tmp_path / "elsewhere"), *sys.path])
    try:
        module = worker._load(str(tmp_path / "here" / "lab_at_work.py"))
        assert module.SPEED == 1.0
        assert sys.modules["lab_at_work"] is module
    finally:
        for name in ("lab_beside", "lab_at_work"):
            sys.modules.pop(name, None)


class Left(Exception):
    """Stands for the end of the process."""


def conversation(monkeypatch, setting, *requests):
    """Speak with ``main`` in this process over pipes in the place of its input and output; return replies and status."""
    asked, ask = os.pipe()
    told, tell = os.pipe()
    os.write(ask, b"".join(json.dumps(request).encode() + b"\n" for request in requests))
    os.close(ask)
    heard = []

    def listen():
        with open(told, "rb") as pipe:
            heard.append(pipe.read())

    listener = threading.Thread(target=listen)
    listener.start()
    kept = os.dup(0), os.dup(1), sys.dont_write_bytecode
    ended = []

    def leave(status):
        ended.append(status)
        raise Left

    monkeypatch.setattr(os, "_exit", leave)
    monkeypatch.setattr(sys, "path", list(sys.path))
    opened, files = [], []
    duplicate, as_file = os.dup, os.fdopen
    monkeypatch.setattr(os, "dup", lambda descriptor: opened.append(duplicate(descriptor)) or opened[-1])
    monkeypatch.setattr(os, "fdopen", lambda *a: files.append(as_file(*a)) or files[-1])
    try:
        os.dup2(asked, 0)
        os.dup2(tell, 1)
        os.close(asked)
        os.close(tell)
        with contextlib.suppress(Left):
            ended.append(worker.main(json.dumps(setting)))
        printed_to, read_from = os.fstat(1), os.read(0, 1)
        same_as_errors = (printed_to.st_dev, printed_to.st_ino) == (os.fstat(2).st_dev, os.fstat(2).st_ino)
    finally:
        os.dup2(kept[0], 0)
        os.dup2(kept[1], 1)
        no_bytecode, sys.dont_write_bytecode = sys.dont_write_bytecode, kept[2]
        os.close(kept[0])
        os.close(kept[1])
        os.close(opened[-1])  # the descriptor of the replies
        files[-1].close()
    listener.join(10)
    assert (same_as_errors, read_from, no_bytecode) == (True, b"", True)
    return [json.loads(line) for line in heard[0].splitlines()], ended


START, STOP = {"request": "start", "protocol": 1}, {"request": "stop"}


def run(number, name, inputs):
    return {"request": "run", "id": number, "name": name, "inputs": inputs}


def test_a_conversation_goes_on_until_stop_and_keeps_prints_out(tmp_path, monkeypatch):
    path = tmp_path / "lab_that_talks.py"
    path.write_text("def half(n):\n    print('working')\n    return n / 2\n", encoding="utf-8")
    setting = {"functions": {"speed": [str(path), "half"]}}
    replies, ended = conversation(
        monkeypatch,
        setting,
        run(1, "speed", {"n": 3.0}),
        START,
        run(7, "speed", {"n": 3.0}),
        run(8, "torque", {}),
        STOP,
        run(9, "speed", {"n": 3.0}),
    )
    assert replies == [
        {"ready": True, "functions": {"speed": {"names": ["n"], "required": ["n"], "any": False}}},
        {"id": 7, "result": 1.5},
        {"id": 8, "missing": True},
    ]
    assert ended == [0]


@pytest.mark.parametrize("fault", ["raise ValueError('no motor ' * 200)", "raise SystemExit('no motor')"])
def test_functions_that_cannot_be_loaded_end_the_conversation_with_words(tmp_path, monkeypatch, fault):
    path = tmp_path / "lab_that_fails.py"
    path.write_text(fault, encoding="utf-8")
    replies, ended = conversation(monkeypatch, {"functions": {"speed": [str(path), "speed"]}}, START, STOP)
    assert [reply["ready"] for reply in replies] == [False]
    assert replies[0]["problem"].startswith(f"{'ValueError' if 'Value' in fault else 'SystemExit'}: no motor")
    assert len(replies[0]["problem"]) <= 1000
    assert ended == [1]


def test_a_long_reply_is_written_to_its_end(monkeypatch):
    """A pipe takes what it has room for; the rest follows."""
    taken = []

    def write(descriptor, view):
        taken.append(bytes(view[:7]))
        return len(taken[-1])

    monkeypatch.setattr(os, "write", write)
    worker._speak(1, {"id": 3, "result": [1.5, 2.5]})
    assert json.loads(b"".join(taken)) == {"id": 3, "result": [1.5, 2.5]}
    assert b"".join(taken).endswith(b"]}\n")


def test_the_runner_is_a_program(monkeypatch):
    monkeypatch.setattr(sys, "argv", ["worker"])
    monkeypatch.delitem(sys.modules, "shuntref.conformance.worker")
    with pytest.raises(IndexError):  # it is started with its setting
        runpy.run_module("shuntref.conformance.worker", run_name="__main__")
