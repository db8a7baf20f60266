"""The lines spoken with a program under test: what is said, and that nothing it says back can do harm."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.conformance.protocol import number_in, plain_text, read_reply, run_line, start_line, stop_line


def test_requests_are_one_line_of_json_each():
    for line in (start_line(), run_line(3, "speed", {"n": 1.5, "t": [1.0, 2.0]}), stop_line()):
        assert line.endswith(b"\n")
        assert line.count(b"\n") == 1
        assert isinstance(json.loads(line), dict)


def test_a_question_holds_id_name_and_inputs_and_nothing_else():
    assert set(json.loads(run_line(3, "speed", {"n": 1.5}))) == {"request", "id", "name", "inputs"}


@pytest.mark.parametrize("word", ["NaN", "nan", "-nan", "NAN", "-NaN", "nan(ind)", "null", '"nan"'])
def test_not_a_number_is_understood_as_every_language_prints_it(word):
    reply = read_reply(f'{{"id": 1, "result": {word}}}'.encode())
    assert reply is not None
    assert math.isnan(number_in(reply.value))


@pytest.mark.parametrize(
    ("word", "value"), [("inf", math.inf), ("-inf", -math.inf), ("Infinity", math.inf), ("1e999", math.inf)]
)
def test_infinity_is_a_number(word, value):
    reply = read_reply(f'{{"id": 1, "result": {word}}}'.encode())
    assert reply is not None
    assert number_in(reply.value) == value


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"ready",
        b"{",
        b"[1]",
        b'{"id": "x", "result": 1}',
        b'{"id": 1}',
        b"\xff\xfe",
        b'{"id": true, "result": 1}',
        b'{"id": 1.5, "result": 1}',
        b"[" * 100_000,
    ],
)
def test_what_is_no_answer_is_no_answer(line):
    assert read_reply(line) is None


def test_words_such_as_nan_inside_text_stay_text():
    reply = read_reply(b'{"id": 1, "error": "speed: nan, refused", "more": nan}')
    assert reply is not None
    assert reply.text == "speed: nan, refused"


def test_numbers_as_text_and_truth_values_are_no_numbers():
    assert number_in("157") is None
    assert number_in(True) is None
    assert number_in([1.0]) is None
    assert number_in(10**400) == math.inf


@given(st.binary(max_size=300))
def test_no_line_raises(line):
    read_reply(line)


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(), lambda x: st.lists(x) | st.dictionaries(st.text(), x)
    )
)
def test_no_json_raises(value):
    for key in ("id", "result", "error", "ready", "missing", "broken"):
        read_reply(json.dumps({"id": 1, key: value}).encode())


@given(st.text())
def test_plain_text_is_one_printable_line(text):
    plain = plain_text(text, 50)
    assert plain.isprintable()
    assert len(plain) <= 50
