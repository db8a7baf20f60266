"""A program under test as a child process: lines in, lines out, with limits on time, output and memory.

Whatever the child does (hang, crash, leave, flood its output, print rubbish, start processes of its own) becomes a fact
about the child; nothing of it reaches the runner. One thread reads its output, one its error output, one writes.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from shuntref.conformance.protocol import LONGEST_LINE, plain_text

__all__ = ["Child", "ChildEnded", "ChildFlood", "ChildSilent", "ChildTrouble", "Limits"]

_TAIL = 4_000
_CHUNK = 65_536
_PATIENCE = 0.8


class ChildTrouble(Exception):
    """The child cannot go on; the message says what it did."""


class ChildEnded(ChildTrouble):
    """The child ended by itself, or by a signal."""


class ChildSilent(ChildTrouble):
    """The child did not answer within the time limit."""


class ChildFlood(ChildTrouble):
    """The child wrote more than is read."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits on a child: seconds per case and to start, bytes of noise per case, MB of memory, restarts and time-outs."""

    case_seconds: float = 3.0
    start_seconds: float = 30.0
    noise_bytes: int = 1_000_000
    memory_mb: int = 4_000
    restarts: int = 200
    time_outs: int = 20

    def __post_init__(self) -> None:
        for name, least, most in (
            ("case_seconds", 0.01, 3600.0),
            ("start_seconds", 0.1, 3600.0),
            ("memory_mb", 16, 1_000_000),
            ("restarts", 0, 100_000),
            ("time_outs", 1, 100_000),
        ):
            value = getattr(self, name)
            if not least <= value <= most:
                raise ValueError(f"{name} = {value!r}: a number from {least:g} to {most:g} is wanted")


@dataclass
class Child:
    """A running child.

    Parameters
    ----------
    command
        Program and arguments; no shell is involved.
    folder
        Working directory, or None for the present one.
    limits
        See :class:`Limits`.
    environment
        Variables set besides those inherited.
    """

    command: Sequence[str]
    folder: Path | None = None
    limits: Limits = field(default_factory=Limits)
    environment: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._lines: queue.Queue[bytes | None] = queue.Queue(maxsize=64)
        self._requests: queue.Queue[bytes | None] = queue.Queue()
        self._tail = b""
        self._flooded = False
        self._blank_sent = False
        self._wants_blank = False
        self._closing = threading.Event()
        self._process = subprocess.Popen(
            list(self.command),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            cwd=self.folder,
            env={**os.environ, **self.environment},
            bufsize=0,
            start_new_session=True,  # so that what the child starts can be ended with it
        )
        self._limit_memory()
        for work in (self._read_output, self._read_errors, self._write_requests):
            threading.Thread(target=work, daemon=True).start()

    def _limit_memory(self) -> None:
        if sys.platform != "linux":  # elsewhere the time limit alone protects the runner
            return
        import resource

        size = self.limits.memory_mb * 1_000_000
        # data, not address space: JavaScript engines reserve far more addresses than they use
        with contextlib.suppress(OSError, ValueError):
            resource.prlimit(self._process.pid, resource.RLIMIT_DATA, (size, size))
            resource.prlimit(self._process.pid, resource.RLIMIT_CORE, (0, 0))

    def _read_output(self) -> None:
        stream = self._process.stdout
        if stream is None:
            return
        held = b""
        with stream:
            while not self._closing.is_set() and (chunk := self._chunk(stream.fileno())):
                *lines, held = (held + chunk).split(b"\n")
                self._flooded = max(map(len, [held, *lines])) > LONGEST_LINE
                if self._flooded or not all(self._hand_over(line) for line in lines):
                    break
            if held and not self._flooded:
                self._hand_over(held)  # a last line without its end is a line
            self._hand_over(None)

    def _hand_over(self, line: bytes | None) -> bool:
        while not self._closing.is_set():
            try:
                self._lines.put(line, timeout=0.2)
            except queue.Full:
                continue
            return True
        return False

    @staticmethod
    def _chunk(descriptor: int) -> bytes:
        try:
            return os.read(descriptor, _CHUNK)
        except (OSError, ValueError):
            return b""

    def _read_errors(self) -> None:
        stream = self._process.stderr
        if stream is None:
            return
        with stream:
            while chunk := self._chunk(stream.fileno()):
                self._tail = (self._tail + chunk)[-_TAIL:]

    def _write_requests(self) -> None:
        stream = self._process.stdin
        if stream is None:
            return
        with contextlib.suppress(OSError, ValueError), stream:
            while (line := self._requests.get()) is not None:
                view = memoryview(line)
                while view:
                    view = view[stream.write(view) or 0 :]

    @property
    def last_words(self) -> str:
        """The end of what the child wrote to its error output, cleaned, one line."""
        lines = [line for line in self._tail.decode("utf-8", "replace").splitlines() if line.strip()]
        return plain_text(" | ".join(lines[-3:]))

    def send(self, line: bytes) -> None:
        """Hand ``line`` to the child; never blocks. Output that was not asked for is thrown away first."""
        with contextlib.suppress(queue.Empty):
            while True:
                stale = self._lines.get_nowait()
                if stale is None:
                    self._lines.put(None)
                    break
        self._blank_sent = self._wants_blank
        self._requests.put(line + b" " if self._wants_blank else line)

    def _next_line(self, seconds: float) -> bytes | None:
        """Wait for a line of output.

        Some runtimes (fgetl of Octave) hand a line over only when the first character of the next one has come. A child
        that stays silent is therefore sent one blank, ahead of the next line; where that helps, it goes with every line.
        """
        if not self._blank_sent and seconds > _PATIENCE:
            with contextlib.suppress(queue.Empty):
                return self._lines.get(timeout=_PATIENCE)
            self._blank_sent = True
            self._requests.put(b" ")
            seconds -= _PATIENCE
        return self._lines.get(timeout=max(0.0, seconds))

    def receive(self, seconds: float, wanted: Callable[[bytes], bool], *, learn: bool = False) -> None:
        """Pass lines to ``wanted`` until it returns True; ``learn`` whether a blank before each line helps this child.

        Raises
        ------
        ChildSilent, ChildEnded, ChildFlood
            When that does not happen in ``seconds``, because the child ended, or because it writes without end.
        """
        until = time.monotonic() + seconds
        noise = 0
        while True:
            try:
                line = self._next_line(until - time.monotonic())
            except queue.Empty:
                raise ChildSilent(f"no answer within {seconds:g} s") from None
            if line is None:
                if self._flooded:
                    raise ChildFlood(f"a line of output longer than {LONGEST_LINE} bytes")
                self._lines.put(None)
                raise ChildEnded(self._how_it_ended())
            if wanted(line):
                self._wants_blank = learn and self._blank_sent
                return
            noise += len(line) + 1
            if noise > self.limits.noise_bytes:
                raise ChildFlood(f"more than {self.limits.noise_bytes} bytes of output that is no answer")

    def _how_it_ended(self) -> str:
        try:
            status = self._process.wait(timeout=1.0)
        except subprocess.TimeoutExpired:
            return "the program closed its output"
        if status >= 0:
            return f"the program ended with status {status}"
        try:
            name = signal.Signals(-status).name
        except ValueError:
            name = f"signal {-status}"
        return f"the program was ended by {name}"

    def end(self, farewell: bytes | None = None, seconds: float = 1.0) -> None:
        """End the child and everything it started; with ``farewell`` it may first leave by itself within ``seconds``."""
        if farewell is not None:
            self._requests.put(farewell)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._process.wait(timeout=seconds)
        self._closing.set()
        self._requests.put(None)
        if sys.platform == "win32":
            self._process.kill()
        else:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self._process.pid, signal.SIGKILL)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(timeout=5.0)
