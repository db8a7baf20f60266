"""Whom the cases are put to: a program that speaks lines, or Python functions loaded in a child process.

A target turns one case into one answer, whatever happens on the other side.
"""

from __future__ import annotations

import json
import shlex
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Protocol

import shuntref
from shuntref.conformance.child import Child, ChildEnded, ChildSilent, ChildTrouble, Limits
from shuntref.conformance.judge import Answer
from shuntref.conformance.mapping import Binding, Setting, Unmapped, WrongForm, plain_binding
from shuntref.conformance.protocol import Reply, read_reply, run_line, start_line, stop_line
from shuntref.conformance.scale import alias, scale_of
from shuntref.conformance.suite import Case, Suite

__all__ = ["NOT_THERE", "LineTarget", "Target", "command_target", "python_target"]

#: said of a function that the target does not have and that nobody claimed it has
NOT_THERE = "no such function"
_READY_HINT = (
    '; it reads {"request":"start",...} and must answer the line {"ready":true}, flushed (references/cases/protocol.md)'
)


class Target(Protocol):
    """What the runner needs of a target."""

    name: str

    def precision(self, function: str) -> str:
        """Return the arithmetic declared for a function."""

    def delivers(self, function: str) -> tuple[str, ...]:
        """Return the outputs that are mapped; others are not judged."""

    def answer(self, case: Case) -> Answer:
        """Put one case to the target."""

    def close(self) -> None:
        """End whatever was started."""


@dataclass
class LineTarget:
    """A target behind a child process that speaks the lines of :mod:`shuntref.conformance.protocol`.

    ``parameters_known`` is set for Python functions: their worker tells the parameters of each function, so that a
    function which has no argument for an input is recognised before it is called. ``claimed`` says where the
    functions are that the implementer named: one of these that is not there is told by its name.
    """

    name: str
    command: Sequence[str]
    suite: Suite
    bindings: dict[str, Binding]
    limits: Limits = field(default_factory=Limits)
    folder: Path | None = None
    parameters_known: bool = False
    claimed: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._child: Child | None = None
        self._number = 0
        self._crashes = 0
        self._silences = 0
        self._offered: set[str] | None = None
        self._start()

    def precision(self, function: str) -> str:
        binding = self.bindings.get(function)
        return binding.precision if binding else "double"

    def delivers(self, function: str) -> tuple[str, ...]:
        binding = self.bindings.get(function)
        return tuple(port.quantity for port in binding.results) if binding else ()

    def _start(self) -> None:
        """Start the child and wait until it is ready.

        Raises
        ------
        ValueError
            When it cannot be started or never says that it is ready.
        """
        try:
            child = Child(self.command, self.folder, self.limits)
        except OSError as error:
            raise ValueError(f"{self.name}: cannot be started: {error.strerror}{self._start_hint(error)}") from None
        replies: list[Reply] = []

        def wanted(line: bytes) -> bool:
            reply = read_reply(line)
            if reply is not None and reply.number == -1:
                replies.append(reply)
            return bool(replies)

        child.send(start_line())
        try:
            child.receive(self.limits.start_seconds, wanted)
        except ChildTrouble as trouble:
            child.end()
            said = f"; its last words: {child.last_words}" if child.last_words else ""
            wanted_line = "" if self.parameters_known else _READY_HINT
            raise ValueError(f"{self.name}: never said that it is ready: {trouble}{said}{wanted_line}") from None
        except BaseException:
            child.end()
            raise
        if replies[0].kind == "broken":
            child.end(stop_line())
            raise ValueError(f"{self.name}: cannot be loaded: {replies[0].text or 'it says it is not ready'}")
        first = self._offered is None
        offered = replies[0].value.get("functions") if isinstance(replies[0].value, dict) else None
        self._offered = set(map(str, offered)) if isinstance(offered, list | dict) else None
        self._child = child
        if first and self.parameters_known and isinstance(offered, dict):
            self._fit_parameters(offered)

    def _start_hint(self, error: OSError) -> str:
        program = self.command[0] if self.command else ""
        if isinstance(error, PermissionError):
            return f'; make it executable, or name what runs it: --command "python3 {program}"'
        if isinstance(error, FileNotFoundError):
            return f"; is {program!r} installed and on the PATH, or its path right?"
        return ""

    def _fit_parameters(self, offered: Mapping[str, Any]) -> None:
        """Fit the arguments of functions that were not mapped to the parameters they really have."""
        for function, binding in list(self.bindings.items()):
            parameters = offered.get(function)
            if binding.written_out or parameters is None or parameters["any"]:
                continue
            ports = {port.key: port for port in binding.arguments}
            for key, port in list(ports.items()):
                other = alias(key)  # a parameter called speed_rpm takes the speed in r/min
                if other != key and other in parameters["names"] and key not in parameters["names"]:
                    ports[other] = replace(port, key=other, unit="", scale=_alias_scale(port.quantity, other))
            foreign = [name for name in parameters["required"] if name not in {*ports, *binding.constants}]
            if foreign:
                self.close()
                raise ValueError(
                    f"{binding.call}: its argument {foreign[0]!r} is no input of the function {function!r}; say what it "
                    f'is with --argument "{foreign[0]}=QUANTITY in UNIT" or in a mapping file; the inputs are '
                    f"{', '.join(i.name for i in self.suite.functions[function].inputs)}"
                )
            kept = tuple(port for key, port in ports.items() if key in parameters["names"])
            self.bindings[function] = replace(binding, arguments=kept)

    def answer(self, case: Case) -> Answer:
        binding = self.bindings.get(case.function)
        if binding is None:
            return Answer("missing", text=NOT_THERE)
        if self._offered is not None and self._asked_as(binding) not in self._offered:
            return Answer("missing", text=self._not_offered(binding))
        try:
            inputs = binding.inputs_for(case, self.suite.functions[case.function])
        except Unmapped as reason:
            return Answer("missing", text=str(reason))
        if self._crashes > self.limits.restarts:
            return Answer(
                "failed", text=f"not asked: the program had already been restarted {self.limits.restarts} times"
            )
        if self._silences >= self.limits.time_outs:
            return Answer("failed", text=f"not asked: the program had already exceeded {self._silences} time limits")
        began = time.perf_counter()
        reply, trouble = self._ask(self._asked_as(binding), inputs)
        seconds = time.perf_counter() - began
        if reply is None:
            return Answer("failed", text=trouble, seconds=seconds)
        return _answer_from(reply, binding, seconds)

    def _not_offered(self, binding: Binding) -> str:
        """Say what was looked for, where the implementer named it; a function that nobody claimed is just not there."""
        if binding.function not in self.claimed:
            return NOT_THERE
        place, name = self.claimed[binding.function]
        return f"{Path(place).name} has no function {name!r}"

    def _asked_as(self, binding: Binding) -> str:
        return binding.function if self.parameters_known else binding.call or binding.function

    def _ask(self, function: str, inputs: Mapping[str, Any] | list[Any]) -> tuple[Reply | None, str]:
        """Put one question; whatever goes wrong comes back as words."""
        if self._child is None:
            try:
                self._start()
            except ValueError as error:
                self._crashes += 1
                return None, str(error)
        child = self._child
        if child is None:
            return None, "the program could not be started again"
        self._number += 1
        found: list[Reply] = []
        strangers: set[int] = set()

        def wanted(line: bytes) -> bool:
            reply = read_reply(line)
            if reply is not None and reply.number == self._number:
                found.append(reply)
            elif reply is not None:
                strangers.add(reply.number)
            return bool(found)

        child.send(run_line(self._number, function, inputs))
        try:
            child.receive(self.limits.case_seconds, wanted, learn=True)
        except ChildTrouble as trouble:
            silent = isinstance(trouble, ChildSilent)
            self._silences += silent
            self._crashes += not silent
            self._child = None
            child.end()
            told = [str(trouble)]
            if strangers:
                told.append("it answered another question instead")
            if isinstance(trouble, ChildEnded) and child.last_words:
                told.append(f"its last words: {child.last_words}")
            return None, "; ".join(told)
        except BaseException:
            child.end()
            raise
        return found[0], ""

    def close(self) -> None:
        if self._child is not None:
            self._child.end(stop_line())
            self._child = None


def _alias_scale(name: str, other: str) -> Any:
    return scale_of(name, "r/min" if other == "speed_rpm" else "rad/s")


def _answer_from(reply: Reply, binding: Binding, seconds: float) -> Answer:
    if reply.kind == "error":
        return Answer("refused", text=reply.text, seconds=seconds)
    if reply.kind == "missing":
        return Answer("missing", text=reply.text or NOT_THERE, seconds=seconds)
    if reply.kind == "broken":
        return Answer("failed", text=reply.text, seconds=seconds)
    try:
        return Answer("values", binding.values_from(reply.value), seconds=seconds, units=binding.units)
    except WrongForm as reason:
        return Answer("failed", text=str(reason), seconds=seconds)


def command_target(
    command: str,
    suite: Suite,
    setting: Setting | None = None,
    *,
    limits: Limits | None = None,
    precision: str = "double",
) -> LineTarget:
    """Return the target behind a command that speaks lines, for example ``"octave-cli my_lab.m"``.

    Raises
    ------
    ValueError
        When the command cannot be split into words, started, or never becomes ready.
    """
    try:
        words = shlex.split(command, posix=sys.platform != "win32")
    except ValueError as error:
        raise ValueError(f"command {command[:60]!r}: {error}") from None
    if not words:
        raise ValueError('the command is empty; write for example --command "octave-cli my_lab.m"')
    bindings = {name: plain_binding(entry, "", precision) for name, entry in suite.functions.items()}
    bindings.update(setting.bindings if setting else {})
    folder = setting.folder if setting and setting.command else None
    return LineTarget(command, words, suite, bindings, limits or Limits(), folder)


def python_target(
    calls: Mapping[str, tuple[str, str]],
    suite: Suite,
    setting: Setting | None = None,
    *,
    name: str = "",
    limits: Limits | None = None,
    folder: Path | None = None,
    precision: str = "double",
) -> LineTarget:
    """Return the target for Python functions, loaded in a child process of this same interpreter.

    Parameters
    ----------
    calls
        Function of the suite -> (module name or path of a .py file, name in it).
    suite, setting
        The cases, and the implementer's mapping if there is one.
    name
        What the report calls the target.
    folder
        Where the child works and looks for modules; None for the present folder.
    precision
        The arithmetic of functions that the setting does not describe.

    Raises
    ------
    ValueError
        When a module cannot be loaded, or an argument is unknown.
    """
    setting = setting or Setting()
    bindings = dict(setting.bindings)
    for function, call in calls.items():
        bindings.setdefault(function, plain_binding(suite.functions[function], ":".join(call), precision))
    told = json.dumps({"functions": calls, "numbers": setting.numbers, "tables": setting.tables})
    root = str(Path(shuntref.__file__).parent.parent)
    program = (
        "import sys; sys.path.insert(0, sys.argv[2]); from shuntref.conformance.worker import main; "
        "sys.path.pop(0); sys.exit(main(sys.argv[1]))"
    )
    command = [sys.executable, "-P", "-c", program, told, root]
    return LineTarget(
        name or "; ".join(sorted({":".join(c) for c in calls.values()})),
        command,
        suite,
        bindings,
        limits or Limits(),
        folder,
        True,
        calls if len(calls) < len(suite.functions) else {},
    )
