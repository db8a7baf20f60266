"""The parts of a child process that need none: its limits, its lines, its noise, how it ended, and the way it is ended."""

from __future__ import annotations

import io
import queue
import re
import signal
import subprocess
import threading
from types import SimpleNamespace

import pytest

from shuntref.conformance import child as children
from shuntref.conformance.child import Child, ChildEnded, ChildFlood, ChildSilent, Limits
from shuntref.conformance.protocol import LONGEST_LINE


class Process:
    """Stands for a process: what it was told, and with which status it ends."""

    pid = 4711

    def __init__(self, status=0, patient=False):
        self.status, self.patient, self.waited, self.stdin = status, patient, [], None

    def wait(self, timeout):
        self.waited.append(timeout)
        if self.patient:
            raise subprocess.TimeoutExpired("lab", timeout)
        return self.status


def made(process=None, **limits):
    child = Child.__new__(Child)
    child.limits = Limits(**limits)
    child._lines, child._requests = queue.Queue(maxsize=64), queue.Queue()
    child._tail, child._flooded, child._blank_sent, child._wants_blank = b"", False, False, False
    child._closing = threading.Event()
    child._process = process or Process()
    return child


def test_what_a_child_is_granted_unless_said_otherwise():
    limits = Limits()
    assert (limits.case_seconds, limits.start_seconds, limits.noise_bytes) == (3.0, 30.0, 1_000_000)
    assert (limits.memory_mb, limits.restarts, limits.time_outs) == (4_000, 200, 20)


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [("case_seconds", 0.01, 3600.0), ("start_seconds", 0.1, 3600.0), ("memory_mb", 16, 1_000_000), ("restarts", 0, 100_000),
     ("time_outs", 1, 100_000)],
)  # fmt: skip
def test_limits_hold_from_both_sides(name, least, most):
    for value in (least, most):
        assert getattr(Limits(**{name: value}), name) == value
    small = 0.001 if isinstance(least, float) else 1
    for value in (least - small, most + small):
        with pytest.raises(ValueError, match=re.escape(f": a number from {least:g} to {most:g} is wanted")):
            Limits(**{name: value})


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such limits here")
@pytest.mark.parametrize(("megabytes", "size"), [(4_000, 4_000_000_000), (16, 16_000_000)])
def test_memory_is_limited_in_megabytes_and_no_core_is_written(monkeypatch, megabytes, size):
    resource = pytest.importorskip("resource")
    told = []
    monkeypatch.setattr(resource, "prlimit", lambda *given: told.append(given))
    monkeypatch.setattr(children.sys, "platform", "linux")
    made(memory_mb=megabytes)._limit_memory()
    assert told == [(4711, resource.RLIMIT_DATA, (size, size)), (4711, resource.RLIMIT_CORE, (0, 0))]
    monkeypatch.setattr(children.sys, "platform", "elsewhere")
    made()._limit_memory()
    assert len(told) == 2
    monkeypatch.setattr(children.sys, "platform", "linux")
    monkeypatch.setattr(resource, "prlimit", lambda *given: (_ for _ in ()).throw(OSError("not allowed")))
    made()._limit_memory()  # not allowed: the time limit remains


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (0, "the program ended with status 0"),
        (3, "the program ended with status 3"),
        (-11, "the program was ended by SIGSEGV"),
        (-9, "the program was ended by SIGKILL"),
        (-1, "the program was ended by SIGHUP"),
        (-200, "the program was ended by signal 200"),
    ],
)
def test_how_it_ended(status, words):
    assert made(Process(status))._how_it_ended() == words


def test_a_child_that_only_closed_its_output_is_waited_for_a_second():
    process = Process(patient=True)
    assert made(process)._how_it_ended() == "the program closed its output"
    assert process.waited == [1.0]


def test_the_last_three_lines_of_what_it_said_are_its_last_words():
    child = made()
    assert child.last_words == ""
    child._tail = b"one\n\n two\nthree\n  \nfour \xff\n"
    assert child.last_words == "two | three | four \ufffd"


def lines(child, *given):
    for line in given:
        child._lines.put(line)
    return child


def test_lines_are_passed_on_until_one_is_wanted():
    heard = []
    child = lines(made(), b"one", b"two", b"three", b"four")
    child.receive(5.0, lambda line: heard.append(line) or line == b"three")
    assert heard == [b"one", b"two", b"three"]
    assert child._lines.qsize() == 1


@pytest.mark.parametrize(("allowed", "flood"), [(8, False), (7, True)])
def test_noise_is_counted_with_the_ends_of_its_lines(allowed, flood):
    child = lines(made(noise_bytes=allowed), b"abc", b"def", b"answer")
    if flood:
        with pytest.raises(ChildFlood, match="more than 7 bytes of output that is no answer"):
            child.receive(5.0, lambda line: line == b"answer")
    else:
        child.receive(5.0, lambda line: line == b"answer")


def test_an_end_is_told_again_to_whoever_asks_next():
    child = lines(made(Process(2)), None)
    for _ in range(2):
        with pytest.raises(ChildEnded, match="ended with status 2"):
            child.receive(1.0, lambda line: True)
    child._flooded = True
    with pytest.raises(ChildFlood, match=f"a line of output longer than {LONGEST_LINE} bytes"):
        child.receive(1.0, lambda line: True)


def test_silence_is_told_with_the_time_limit():
    with pytest.raises(ChildSilent, match=r"no answer within 0\.05 s"):
        made().receive(0.05, lambda line: True)


class Waits(queue.Queue):
    """A queue without lines that remembers how long it was waited for."""

    def __init__(self, *answers):
        super().__init__()
        self.answers, self.waited = list(answers), []

    def get(self, block=True, timeout=None):
        self.waited.append(timeout)
        answer = self.answers.pop(0)
        if answer is None:
            raise queue.Empty
        return answer


def test_a_silent_child_is_sent_one_blank_after_a_while():
    child = made()
    child._lines = Waits(None, b"answer", b"next")
    assert child._next_line(3.0) == b"answer"
    assert child._lines.waited == [0.8, pytest.approx(2.2)]
    assert child._requests.get_nowait() == b" "
    assert child._next_line(3.0) == b"next"  # not another one
    assert child._lines.waited[2:] == [3.0]
    assert child._requests.empty()


@pytest.mark.parametrize("seconds", [0.8, 0.5, 0.0, -1.0])
def test_where_time_is_short_no_blank_is_tried(seconds):
    child = made()
    child._lines = Waits(b"answer")
    assert child._next_line(seconds) == b"answer"
    assert child._lines.waited == [max(0.0, seconds)]
    assert child._requests.empty()


def test_a_quick_child_gets_no_blank():
    child = made()
    child._lines = Waits(b"answer")
    assert child._next_line(3.0) == b"answer"
    assert child._lines.waited == [0.8]
    assert child._requests.empty()


@pytest.mark.parametrize(("learn", "sent", "wants"), [(True, True, True), (True, False, False), (False, True, False)])
def test_where_a_blank_helped_it_goes_with_every_line(learn, sent, wants):
    child = lines(made(), b"answer")
    child._blank_sent = sent
    child.receive(1.0, lambda line: True, learn=learn)
    assert child._wants_blank is wants
    child.send(b"question\n")
    assert child._requests.get_nowait() == (b"question\n " if wants else b"question\n")
    assert child._blank_sent is wants


def test_what_was_not_asked_for_is_thrown_away_but_the_end_is_kept():
    child = lines(made(), b"stale", b"stale too")
    child.send(b"question\n")
    assert child._lines.empty()
    lines(child, b"stale", None).send(b"question\n")
    assert child._lines.get_nowait() is None


@pytest.fixture
def killed(monkeypatch):
    told = []
    monkeypatch.setattr(children.os, "killpg", lambda *given: told.append(given))
    monkeypatch.setattr(children.sys, "platform", "linux")
    return told


@pytest.mark.parametrize("patient", [False, True])
def test_a_child_is_ended_with_all_it_started_after_a_farewell(killed, patient):
    process = Process(patient=patient)
    child = made(process)
    child.end(b"stop\n", 0.25)
    assert process.waited == [0.25, 5.0]
    assert killed == [(4711, signal.SIGKILL)]
    assert [child._requests.get_nowait() for _ in range(2)] == [b"stop\n", None]
    assert child._closing.is_set()


def test_a_child_is_ended_at_once_without_a_farewell(killed):
    process = Process()
    child = made(process)
    child.end()
    assert process.waited == [5.0]
    assert child._requests.get_nowait() is None
    farewell = Process()
    made(farewell).end(b"stop\n")
    assert farewell.waited == [1.0, 5.0]


def spoken(monkeypatch, *chunks):
    """The lines handed over when the output comes in these chunks."""
    child = made()
    coming = [*chunks, b""]
    monkeypatch.setattr(Child, "_chunk", staticmethod(lambda descriptor: coming.pop(0)))
    stream = io.BytesIO()
    stream.fileno = lambda: 0
    child._process = SimpleNamespace(stdout=stream, stderr=stream)
    child._read_output()
    found = []
    while not child._lines.empty():
        found.append(child._lines.get_nowait())
    return found, child._flooded


def test_output_is_cut_into_lines_wherever_it_breaks(monkeypatch):
    assert spoken(monkeypatch, b"on", b"e\ntwo\nth", b"ree\n") == ([b"one", b"two", b"three", None], False)
    assert spoken(monkeypatch, b"one\ntw", b"o") == ([b"one", b"two", None], False)  # a last line without its end
    assert spoken(monkeypatch) == ([None], False)


def test_a_line_may_be_as_long_as_said_and_no_longer(monkeypatch):
    assert LONGEST_LINE == 256_000
    longest = b"x" * 256_000
    assert spoken(monkeypatch, longest + b"\nend\n") == ([longest, b"end", None], False)
    assert spoken(monkeypatch, longest, b"\n") == ([longest, None], False)
    assert spoken(monkeypatch, longest, b"x\nend\n") == ([None], True)
    assert spoken(monkeypatch, longest + b"x") == ([None], True)


def test_the_end_of_the_errors_is_kept(monkeypatch):
    child = made()
    coming = [b"a" * 3_000, b"b" * 3_000, b""]
    monkeypatch.setattr(Child, "_chunk", staticmethod(lambda descriptor: coming.pop(0)))
    stream = io.BytesIO()
    stream.fileno = lambda: 0
    child._process = SimpleNamespace(stderr=stream)
    child._read_errors()
    assert child._tail == b"a" * 1_000 + b"b" * 3_000


class Narrow(io.RawIOBase):
    """A pipe that takes three bytes at a time."""

    def __init__(self):
        self.taken = []

    def writable(self):
        return True

    def write(self, view):
        self.taken.append(bytes(view[:3]))
        return len(self.taken[-1])


def test_requests_are_written_to_their_end(monkeypatch):
    child, pipe = made(), Narrow()
    child._process = SimpleNamespace(stdin=pipe)
    for line in (b"question\n", b"another\n", None, b"never\n"):
        child._requests.put(line)
    child._write_requests()
    assert b"".join(pipe.taken) == b"question\nanother\n"
    assert pipe.closed
