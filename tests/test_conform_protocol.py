"""The lines spoken with a program under test: what is said, and that nothing it says back can do harm."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.conformance.protocol import Reply, number_in, plain_text, read_reply, run_line, start_line, stop_line


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


def test_whole_numbers_beyond_any_float_are_infinite_with_their_sign():
    assert number_in(10**400) == math.inf
    assert number_in(-(10**400)) == -math.inf
    assert number_in(-3) == -3.0


@pytest.mark.parametrize(
    ("word", "value"),
    [("inf", math.inf), (" Infinity ", math.inf), ("+INF", math.inf), ("-inf", -math.inf), ("+infinity", math.inf),
     ("-Infinity", -math.inf), ("", None), ("1.5", None), ("in", None)],
)  # fmt: skip
def test_words_for_infinity(word, value):
    assert number_in(word) == value


def test_what_comes_back_is_cut_to_one_line_of_three_hundred():
    assert plain_text("x" * 300) == "x" * 300
    assert plain_text("x" * 301) == "x" * 297 + "..."
    assert plain_text("a\n\tb\x00c") == "a b c"
    assert plain_text("abcdef", 5) == "ab..."
    assert plain_text("   ab" + " " * 30, 5) == "ab"
    assert plain_text("\ud800") == "?"


@pytest.mark.parametrize(
    ("line", "kind", "number", "value", "text"),
    [
        ('{"ready": true}', "ready", -1, {"ready": True}, ""),
        ('{"ready": 1}', "ready", -1, {"ready": 1}, ""),
        ('{"ready": false, "problem": "no licence"}', "broken", -1, {"ready": False, "problem": "no licence"}, "no licence"),
        ('{"id": 3.0, "result": 1}', "result", 3, 1, ""),
        ('{"id": 0, "result": null}', "result", 0, None, ""),
        ('{"id": 1, "error": "bad", "result": 2}', "error", 1, None, "bad"),
        ('{"id": 1, "error": true}', "error", 1, None, ""),
        ('{"id": 1, "error": false, "result": 2}', "result", 1, 2, ""),
        ('{"id": 1, "error": null, "result": 2}', "result", 1, 2, ""),
        ('{"id": 1, "missing": true, "error": "x"}', "missing", 1, None, ""),
        ('{"id": 1, "broken": "a", "missing": true}', "broken", 1, None, "a"),
        ('working... {"id": 1, "result": 2}', "result", 1, 2, ""),
        ('{"id": 1, "result": {"text": "nan is a word", "n": -nan}}', "result", 1, {"text": "nan is a word", "n": "-nan"}, ""),
        ('{"id": 1, "result": [inf, -INFINITY, +inf, nan(snan)]}', "result", 1, ["inf", "-infinity", "+inf", "nan"], ""),
    ],
)  # fmt: skip
def test_replies_of_every_kind(line, kind, number, value, text):
    assert read_reply(line.encode()) == Reply(kind, number, value, text)


@pytest.mark.parametrize(
    "line",
    ['{"id": 3.5, "result": 1}', '{"id": true, "result": 1}', '{"id": null, "result": 1}', '{"result": 1}',
     '{"id": 1, "error": false}', '{"ready": null}', "no brace", '{"id": 1, "result": nano}'],
)  # fmt: skip
def test_what_is_no_reply(line):
    assert read_reply(line.encode()) is None


def test_the_lines_that_are_sent_to_the_letter():
    assert start_line() == b'{"request":"start","protocol":1}\n'
    assert stop_line() == b'{"request":"stop"}\n'
    assert run_line(12, "spéed", [1.0, 2]) == b'{"request":"run","id":12,"name":"sp\\u00e9ed","inputs":[1.0,2]}\n'
