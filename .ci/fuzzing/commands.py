"""Targets of the whole program: commands run in this process on hostile files, and files written while things fail."""

from __future__ import annotations

import contextlib
import errno
import io
import json
import os
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest import mock

from fuzzing.files import EXERCISES, make_from, on_disk, scratch
from fuzzing.mutation import HOSTILE_NUMBERS, HOSTILE_TEXTS
from fuzzing.watch import Target, Wrong
from shuntref.cli import main
from shuntref.whole_file import write_whole

__all__ = ["targets"]

_OLD = b"the old content"
_MACHINES = make_from("references/machines/*.toml")
_STATEMENTS = make_from(*EXERCISES)
_SETTINGS = {
    "supply_voltage": ("120 V", "220 V", "0, 60, 120 V", "1e300 V"),
    "load_torque": ("1 N m", "0:2:3 N m", "-1 N m", "1e9 N m"),
    "added_field_resistance": ("10 ohm", "0, 10, 20 ohm", "-1 ohm"),
    "added_armature_resistance": ("1 ohm", "0:5:3 ohm", "1e30 ohm"),
    "speed": ("1500 r/min",),
    "nonsense": ("1",),
}


def _words(draw: random.Random) -> list[str]:
    """Arguments of a quick command; FILE stands for the hostile file."""
    odd = draw.choice(HOSTILE_TEXTS + HOSTILE_NUMBERS).replace("\0", "0")
    kind = draw.randrange(6)
    if kind < 3:
        words = ["predict", "FILE"]
        for name in draw.sample(list(_SETTINGS)[: 4 if draw.random() < 0.8 else 6], draw.randrange(1, 4)):
            words += ["--set", f"{name}={odd if draw.random() < 0.15 else draw.choice(_SETTINGS[name])}"]
        words += ["--json"] if draw.random() < 0.3 else []
    elif kind == 3:
        words = [
            "check",
            "bird-22-shunt-motor-circuit",
            "--answer",
            f"armature-current={odd} {draw.choice(('A', 'V', ''))}",
        ]
    elif kind == 4:
        words = [
            draw.choice(
                ("predict", "explain", "solve", "check", "mark", "plan", "reduce", "conform", "export", "derive", odd)
            ),
            odd,
        ]
    else:
        words = ["solve", "FILE"]
    return words


def _command_input(number: int) -> bytes:
    draw = random.Random(number)
    words = _words(draw)
    body = (_STATEMENTS if words[0] == "solve" else _MACHINES)(number)
    return json.dumps(words).encode() + b"\n" + body


def _run(arguments: list[str]) -> tuple[int, str, str]:
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", errors="surrogateescape") for _ in range(2))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(arguments)
            status = 0
        except SystemExit as ended:
            status = ended.code if isinstance(ended.code, int) else 1
    texts = []
    for stream in (out, err):
        stream.flush()
        texts.append(stream.buffer.getvalue().decode("utf-8", "replace"))
    return status, texts[0], texts[1]


def _command(data: bytes) -> bool:
    head, _, body = data.partition(b"\n")
    try:
        words = json.loads(head)
    except ValueError:
        return False
    path = str(on_disk(body, "given.toml"))
    status, out, err = _run([path if word == "FILE" else str(word) for word in words])
    if status not in (0, 1, 2):
        raise Wrong(f"status {status} of {words}")
    if status == 2 and (len(err.strip().splitlines()) != 1 or out):
        raise Wrong(f"status 2 with {err[:300]!r} and {len(out)} characters of output: {words}")
    if "Traceback" in err or (status == 0 and "Error" in err):
        raise Wrong(f"{err[:300]!r}: {words}")
    return status == 0


_NAMES = (
    "result.csv",
    "é.csv",
    "a b.html",
    "-x",
    "%s",
    "n" * 240,
    "n" * 300,
    "missing/result.csv",
    "\0",
    "\ud800.csv",
    "folder",
    "",
    ".",
    "..",
)


def _write_input(number: int) -> bytes:
    draw = random.Random(number)
    size = draw.choice((0, 1, 100, 70_000))
    return json.dumps(
        [
            draw.choice(_NAMES if draw.random() < 0.5 else _NAMES[:4]),
            draw.randrange(7),
            size,
            draw.choice(HOSTILE_TEXTS[:16]),
        ]
    ).encode()


class _Fails:
    """A stream that takes ``some`` bytes and then no more, as on a full disk."""

    def __init__(self, stream: io.BufferedWriter, some: int) -> None:
        self._stream, self._some = stream, some

    def __enter__(self) -> _Fails:
        return self

    def __exit__(self, *what: object) -> None:
        self._stream.close()

    def write(self, data: bytes) -> int:
        self._stream.write(data[: self._some])
        self._stream.flush()
        raise OSError(errno.ENOSPC, "no space left on device")


def _refused(code: int) -> Callable[..., None]:
    def fails(*what: object, **more: object) -> None:
        raise OSError(code, os.strerror(code))

    return fails


@contextlib.contextmanager
def _failing(kind: int) -> Iterator[None]:
    """Something on the way to a file goes wrong."""
    really = os.fdopen
    if kind == 1:
        with mock.patch("os.fdopen", lambda handle, mode: _Fails(really(handle, mode), 7)):
            yield
    elif kind == 2:
        with mock.patch.object(Path, "replace", _refused(errno.EACCES)):
            yield
    elif kind == 3:
        with mock.patch.object(Path, "chmod", _refused(errno.EPERM)):
            yield
    elif kind == 4:
        with mock.patch("tempfile.mkstemp", _refused(errno.EROFS)):
            yield
    elif kind == 5:
        with mock.patch.object(Path, "replace", mock.Mock(side_effect=KeyboardInterrupt)):
            yield
    else:
        yield


def _written(data: bytes) -> bool:
    name, kind, size, text = json.loads(data)
    folder = scratch("written") / "here"
    (folder / "folder").mkdir(parents=True, exist_ok=True)
    for entry in folder.iterdir():
        if entry.is_file():
            entry.unlink()
    target = folder / name
    old = None
    with contextlib.suppress(OSError, ValueError):
        target.write_bytes(_OLD)
        old = _OLD
    content = (text * (1 + size // max(1, len(text)))).replace("\\n", "\n")
    new, done = content.encode("utf-8", "surrogatepass"), False
    try:
        with _failing(kind):
            write_whole(target, content)
        done = True
    except KeyboardInterrupt:
        if kind != 5:
            raise
    finally:
        left = [entry.name for entry in folder.iterdir() if entry.name not in (name, "folder")]
        if left or list((folder / "folder").iterdir()):
            raise Wrong(f"left behind: {left[:3]}")
        if old is not None and target.is_file():
            now = target.read_bytes()
            if now != (new if done else old):
                raise Wrong(f"{len(now)} bytes are in the file, neither the old content nor the new")
        elif old is not None:
            raise Wrong("the old file is gone")
    return done


def targets() -> list[Target]:
    """The program, and its files."""
    return [
        Target("whole file", _write_input, _written, (OSError, ValueError), 20),
        Target("command line", _command_input, _command, (), 4, 5.0),
    ]
