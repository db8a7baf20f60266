"""Targets of the conversation with a program under test: its lines, its process, and what runs functions in the child."""

from __future__ import annotations

import json
import os
import random
import shlex
import threading
from functools import cache
from pathlib import Path
from typing import Any

from fuzzing.files import on_disk, suite
from fuzzing.mutation import HOSTILE_NUMBERS, HOSTILE_TEXTS, mutated
from fuzzing.watch import Target, Wrong
from shuntref.conformance.child import Limits
from shuntref.conformance.judge import Answer
from shuntref.conformance.judge import judge as judge_case
from shuntref.conformance.mapping import Binding, WrongForm, plain_binding
from shuntref.conformance.protocol import LONGEST_LINE, read_reply
from shuntref.conformance.targets import LineTarget
from shuntref.conformance.worker import call_function

__all__ = ["targets"]

_REPLIES = (
    '{"ready": true}', '{"ready": true, "functions": ["speed", "currents"]}', '{"ready": false, "problem": "no licence"}',
    '{"ready": true, "functions": {"speed": null}}', '{"id": 1, "result": 157.0796}',
    '{"id": 1, "result": {"speed": 157.1}}',
    '{"id": 1, "result": [1.0, 2.0, -nan]}', '{"id": 1.0, "result": null}', '{"id": 1, "error": "negative resistance"}',
    '{"id": 1, "missing": true}', '{"id": 1, "broken": "it fell over"}', 'working ... {"id": 1, "result": inf}',
    '{"id": 1, "result": {"field_current": 1, "armature_current": 2, "line_current": "-inf"}}',
    '{"id": 1, "result": 1.#IND}',
    '{"id": 1, "result": {"text": "a complex number"}}', '{"id": 1, "result": [[1.0]]}',
    '{"id":1,"result":{"speed":{"text":"x"}}}',
)  # fmt: skip
_DEEP = (
    '{"id":1,"result":' + "[" * 3000 + "]" * 3000 + "}",
    '{"id":1,"result":' + '{"a":' * 3000 + "1" + "}" * 3000 + "}",
)


@cache
def _bindings() -> tuple[Binding, ...]:
    return tuple(plain_binding(entry, "") for entry in suite().functions.values())


def _reply_input(number: int) -> bytes:
    draw = random.Random(number)
    kind = draw.randrange(12)
    if kind == 0:
        return draw.choice((*_DEEP, '{"id":1,"result":' + draw.choice(HOSTILE_NUMBERS) + "}")).encode()
    if kind == 1:
        return json.dumps({"id": 1, "result": _value(draw)}).encode()
    return mutated(_REPLIES, draw)


def _value(draw: random.Random, depth: int = 0) -> Any:
    kind = draw.randrange(9)
    if kind < 2 and depth < 5:
        return [_value(draw, depth + 1) for _ in range(draw.randrange(4))]
    if kind < 4 and depth < 5:
        keys = ("speed", "speed_rpm", "text", "field_current", "armature_current", "line_current", "efficiency", "")
        return {draw.choice(keys): _value(draw, depth + 1) for _ in range(draw.randrange(4))}
    items = (None, True, False, 0, -1, 10**400, -(10**400), 1e308, -1e308, 5e-324, 1.5, "nan", "-inf", "1.5", "", "é")
    return draw.choice((*items, *HOSTILE_TEXTS, draw.uniform(-1e6, 1e6)))


def _reply(data: bytes) -> bool:
    reply = read_reply(data)
    if reply is None:
        return False
    if len(reply.text) > 300 or not reply.text.isprintable():
        raise Wrong(f"the text of a reply: {reply.text[:80]!r}")
    if reply.kind != "result":
        return True
    binding = _bindings()[sum(data) % len(_bindings())]
    values = binding.values_from(reply.value)
    case = next(case for case in suite().cases if case.function == binding.function)
    judge_case(case, Answer("values", values), ("double", "single")[len(data) % 2])
    return True


def _call_input(number: int) -> bytes:
    draw = random.Random(number)
    inputs = _value(draw) if draw.random() < 0.3 else {"speed": _value(draw), "load": _value(draw)}
    return json.dumps(inputs if isinstance(inputs, dict | list) else [inputs]).encode()


def _given_back(speed: Any = None, load: Any = 1.0) -> Any:
    """What a function under test might do with what it gets."""
    if isinstance(speed, str):
        raise {0: ValueError, 1: SystemExit, 2: RecursionError, 3: NotImplementedError}[len(speed) % 4](speed)
    if isinstance(speed, bool):
        return complex(1.0, float(speed))
    return speed / load if isinstance(load, float) and isinstance(speed, float) else speed


def _called(data: bytes) -> bool:
    reply = call_function(_given_back, json.loads(data))
    line = json.dumps(reply | {"id": 1}).encode()
    back = read_reply(line)
    if back is None or back.kind not in ("result", "error", "missing", "broken"):
        raise Wrong(f"the runner does not understand its own worker: {line[:200]!r}")
    return back.kind == "result"


#: what a child does after its last line
_ENDINGS = (
    "exit 0", "exit 3", "kill -9 $$", "kill -11 $$", "exec sleep 60", "exec sleep 60", "exec cat",
    "exec 1>&-; exec sleep 60", "while :; do echo x; done", "head -c 400000 /dev/zero",
    "cat FILE FILE FILE >&2; exec sleep 60", "sleep 60 & exit 0",
)  # fmt: skip


def _child_input(number: int) -> bytes:
    draw = random.Random(number)
    ready = draw.choice(
        (b'{"ready": true}\n',) * 6 + (b"", b'{"ready": tr', b'{"ready": false}\n', b"hello\n", b"\xff\x00\n")
    )
    parts = [
        draw.choice((mutated(_REPLIES, draw), b'{"id": 1, "result": 157.0}')) + b"\n" for _ in range(draw.randrange(4))
    ]
    if draw.random() < 0.05:
        parts.append(b"y" * draw.choice((LONGEST_LINE - 1, LONGEST_LINE + 1, 3 * LONGEST_LINE)))
    body = b"".join(parts)
    if draw.random() < 0.3:
        body = body[: draw.randrange(len(body) + 1)]
    return b"%d|%d|" % (draw.randrange(len(_ENDINGS)), len(ready)) + ready + body


def _open_files() -> int:
    return len(os.listdir("/proc/self/fd"))


def _child(data: bytes) -> bool:
    ending, _, rest = data.partition(b"|")
    count, _, rest = rest.partition(b"|")
    ready, body = rest[: int(count)], rest[int(count) :]
    files = [shlex.quote(str(on_disk(part, name))) for part, name in ((ready, "ready"), (body, "body"))]
    end = _ENDINGS[int(ending) % len(_ENDINGS)].replace("FILE", files[1])
    script = f"read a; cat {files[0]}; read b; cat {files[1]}; {end}"
    limits = Limits(case_seconds=0.08, start_seconds=0.1, noise_bytes=300_000, restarts=1, time_outs=1)
    case = suite().cases[0]
    binding = plain_binding(suite().functions[case.function], "")
    before, threads = _open_files(), threading.active_count()
    target = LineTarget("child", ["/bin/sh", "-c", script], suite(), {case.function: binding}, limits)
    try:
        answer = target.answer(case)
        again = target.answer(case)
    finally:
        if target._child is not None:
            target._child.end()
            target._child = None
    for one in (answer, again):
        if one.kind not in ("values", "refused", "missing", "failed") or "\n" in one.text:
            raise Wrong(f"answer {one!r:.200}")
        judge_case(case, one, "double")
    if _open_files() > before + 40 or threading.active_count() > threads + 40:
        raise Wrong(f"{_open_files()} open files and {threading.active_count()} threads are left")
    return answer.kind == "values"


def targets() -> list[Target]:
    """Lines without and with a process."""
    found = [
        Target("reply line", _reply_input, _reply, (WrongForm,), 80),
        Target("worker call", _call_input, _called, (), 40),
    ]
    if Path("/bin/sh").exists() and Path("/proc/self/fd").is_dir():
        found.append(Target("child process", _child_input, _child, (ValueError,), 3))
    return found
