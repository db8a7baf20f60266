"""Each input watched: its time, what it raises, what it leaves behind; and what is found is kept, once for each place."""

from __future__ import annotations

import hashlib
import resource
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

__all__ = ["Finding", "Hang", "Tally", "Target", "limit_memory", "peak_megabytes", "watched"]

MEGABYTE = 1_000_000
_KEPT_INPUTS = 3


class Hang(BaseException):
    """An input took longer than it may. No ``Exception``, so that nobody on the way catches it."""


class Wrong(AssertionError):
    """What came out is not what may come out: not finite, not equal after a round trip, half written."""


@dataclass(frozen=True)
class Target:
    """One reader under fire.

    ``make`` draws the input numbered so; ``run`` puts it to the reader and returns whether it was accepted; ``documented`` is
    what the reader may raise. ``weight`` is the share of a run; ``seconds`` the time an input may take.
    """

    name: str
    make: Callable[[int], bytes]
    run: Callable[[bytes], bool]
    documented: tuple[type[Exception], ...]
    weight: float
    seconds: float = 2.0


@dataclass
class Finding:
    """Something that must not be: where, what, how often, and the inputs that did it."""

    what: str
    where: str
    times: int = 0
    inputs: list[Path] = field(default_factory=list)


@dataclass
class Tally:
    """What became of the inputs of one target; times in s, memory in MB above the start."""

    name: str
    inputs: int = 0
    accepted: int = 0
    refused: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    memory: float = 0.0
    kinds: Counter[str] = field(default_factory=Counter)
    findings: dict[str, Finding] = field(default_factory=dict)


def peak_megabytes() -> float:
    """Largest resident memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / MEGABYTE


def limit_memory(megabytes: int) -> None:
    """Let the address space of this process grow by ``megabytes`` and no more."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * resource.getpagesize() + megabytes * MEGABYTE
    resource.setrlimit(resource.RLIMIT_AS, (most, resource.getrlimit(resource.RLIMIT_AS)[1]))


class _Alarm:
    """Raises :class:`Hang` once ``seconds`` of this process's own time are gone, or ten times as much on the clock."""

    def __init__(self) -> None:
        self._seconds = self._cpu = self._wall = 0.0
        signal.signal(signal.SIGALRM, self._rings)

    def start(self, seconds: float) -> None:
        self._seconds, self._cpu, self._wall = seconds, time.process_time(), time.perf_counter()
        signal.setitimer(signal.ITIMER_REAL, seconds)

    def stop(self) -> float:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        return min(time.process_time() - self._cpu, time.perf_counter() - self._wall)

    def _rings(self, number: int, frame: FrameType | None) -> None:
        used, passed = time.process_time() - self._cpu, time.perf_counter() - self._wall
        if used < 0.95 * self._seconds and passed < 10.0 * self._seconds:  # others had the processor
            signal.setitimer(signal.ITIMER_REAL, max(0.05, self._seconds - used))
            return
        raise Hang(f"still busy after {self._seconds:g} s")


def _place(error: BaseException) -> str:
    """The innermost line of the library in the traceback, else the innermost line."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if "/shuntref/" in frame.filename.replace("\\", "/")] or list(frames)
    return f"{Path(own[-1].filename).name}:{own[-1].lineno} {own[-1].name}" if own else "?"


def _keep(tally: Tally, target: Target, data: bytes, error: BaseException, folder: Path | None) -> None:
    key = f"{type(error).__name__} at {_place(error)}"
    finding = tally.findings.setdefault(key, Finding(f"{type(error).__name__}: {str(error)[:200]}", _place(error)))
    finding.times += 1
    if folder is None or len(finding.inputs) >= _KEPT_INPUTS:
        return
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{target.name.replace(chr(32), chr(45))}-{hashlib.sha256(data).hexdigest()[:12]}.input"
    path.write_bytes(data)
    told = "".join(traceback.format_exception(type(error), error, error.__traceback__, limit=-12))
    path.with_suffix(".txt").write_text(told, encoding="utf-8", errors="backslashreplace")
    finding.inputs.append(path)


def watched(target: Target, numbers: range, *, folder: Path | None = None, until: float | None = None) -> Tally:
    """Put the inputs of ``numbers`` to ``target``; stop early when the clock passes ``until``."""
    tally, alarm = Tally(target.name), _Alarm()
    warnings.simplefilter("error")  # a warning is a line on somebody's terminal that nobody documented
    base = peak_megabytes()
    began = time.perf_counter()
    for number in numbers:
        if until is not None and time.monotonic() > until:
            break
        data = target.make(number)
        tally.inputs += 1
        try:
            alarm.start(target.seconds)
            accepted = target.run(data)
            alarm.stop()
        except target.documented as error:
            tally.slowest = max(tally.slowest, alarm.stop())
            tally.refused += 1
            tally.kinds[type(error).__name__] += 1
            said = str(error)
            if len(said) > 2_000 or "\n" in said.strip():
                _keep(
                    tally,
                    target,
                    data,
                    Wrong(f"a message of {len(said)} characters, or of several lines: {said[:80]!r}"),
                    folder,
                )
            continue
        except KeyboardInterrupt:
            alarm.stop()
            raise
        except BaseException as error:
            alarm.stop()
            _keep(tally, target, data, error, folder)
            continue
        tally.slowest = max(tally.slowest, alarm.stop())
        tally.accepted += accepted
        tally.refused += not accepted
    tally.seconds = time.perf_counter() - began
    tally.memory = max(0.0, peak_megabytes() - base)
    sys.stdout.flush()
    return tally
