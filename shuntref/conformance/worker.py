"""What runs in the child when Python functions are under test: loads them, calls them, answers line by line.

The conversation keeps file descriptors of its own, so that whatever the functions print or read cannot disturb it. The
functions are handed keyword or positional numbers and nothing else.
"""

from __future__ import annotations

import importlib
import importlib.util
import inspect
import json
import math
import os
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

__all__ = ["call_function", "main"]

#: faults of the program, not refusals of its inputs (a failed assertion is a refusal: many scripts check that way)
_FAULTS = (
    MemoryError,
    RecursionError,
    NameError,
    AttributeError,
    ImportError,
    SyntaxError,
    SystemError,
    OSError,
    EOFError,
)
_MOST_ITEMS = 10_000
_LONGEST = 500


class _Missing(Exception):
    """The module has no function of that name."""


def _load(place: str) -> Any:
    """Return the module at ``place``: a dotted name, or a path that ends in .py."""
    if not place.endswith(".py"):
        sys.path.insert(0, os.getcwd())
        return importlib.import_module(place)
    path = Path(place).resolve()
    sys.path.insert(0, str(path.parent))
    specification = importlib.util.spec_from_file_location(path.stem, path)
    if specification is None or specification.loader is None:
        raise ImportError(f"{path.name} cannot be loaded as Python")
    module = importlib.util.module_from_spec(specification)
    sys.modules[path.stem] = module
    specification.loader.exec_module(module)
    return module


def _find(module: Any, name: str) -> Callable[..., Any]:
    found = module
    for part in name.split("."):
        found = getattr(found, part, None)
    if not callable(found):
        raise _Missing(name)
    called: Callable[..., Any] = found
    return called


def _signature(function: Callable[..., Any]) -> inspect.Signature | None:
    try:
        return inspect.signature(function)
    except (TypeError, ValueError):  # some compiled functions tell nothing
        return None


def _parameters(function: Callable[..., Any]) -> dict[str, Any] | None:
    signature = _signature(function)
    if signature is None:
        return None
    kinds = inspect.Parameter
    listed = [p for p in signature.parameters.values() if p.kind in (kinds.POSITIONAL_OR_KEYWORD, kinds.KEYWORD_ONLY)]
    return {
        "names": [p.name for p in listed],
        "required": [p.name for p in listed if p.default is kinds.empty],
        "any": any(p.kind is kinds.VAR_KEYWORD for p in signature.parameters.values()),
    }


def _plain(value: Any, depth: int = 0) -> Any:
    """Return ``value`` as JSON data: numbers stay numbers, arrays become lists, everything else its description."""
    if value is None or isinstance(value, bool | str):
        return value if not isinstance(value, str) else {"text": value[:80]}
    if isinstance(value, int | float):
        return _number(value)
    if depth > 3:
        return {"text": "deeply nested"}
    if isinstance(value, Mapping):
        return {str(k)[:80]: _plain(v, depth + 1) for k, v in list(value.items())[:_MOST_ITEMS]}
    if hasattr(value, "_asdict"):
        return _plain(value._asdict(), depth)
    if hasattr(value, "__dataclass_fields__"):
        return {name: _plain(getattr(value, name), depth + 1) for name in value.__dataclass_fields__}
    if hasattr(value, "tolist"):
        listed = value.tolist()
        return _plain(listed, depth + 1) if type(listed) is not type(value) else {"text": type(value).__name__}
    if isinstance(value, list | tuple):
        return [_plain(item, depth + 1) for item in value[:_MOST_ITEMS]]
    if isinstance(value, complex):
        return {"text": "a complex number"} if value.imag else _number(value.real)
    if hasattr(value, "__float__"):
        return _number(float(value))
    return {"text": type(value).__name__}


def _number(value: Any) -> Any:
    number = float(value)
    return number if math.isfinite(number) else repr(number)


def call_function(
    function: Callable[..., Any], inputs: Any, signature: inspect.Signature | None = None
) -> dict[str, Any]:
    """Call ``function`` and return its answer as a reply: result, error (inputs refused), missing or broken.

    Examples
    --------
    >>> call_function(lambda speed: speed / 2, {"speed": 3.0})
    {'result': 1.5}
    >>> call_function(lambda speed: speed / 0, {"speed": 3.0})
    {'error': 'ZeroDivisionError: float division by zero'}
    >>> sorted(call_function(lambda speed: speed, {"n": 3.0}))
    ['broken']
    """
    positional, named = (inputs, {}) if isinstance(inputs, list) else ([], inputs)
    signature = signature or _signature(function)
    if signature is not None:
        try:
            signature.bind(*positional, **named)
        except TypeError as error:  # a wrong mapping must not pass for a refusal
            return {"broken": f"cannot be called as mapped: {error}"[:_LONGEST]}
    try:
        result = function(*positional, **named)
    except NotImplementedError as error:
        return {"missing": str(error)[:_LONGEST] or True}
    except _FAULTS as error:
        return {"broken": f"{type(error).__name__}: {error}"[:_LONGEST]}
    except Exception as error:
        return {"error": f"{type(error).__name__}: {error}"[:_LONGEST]}
    except (SystemExit, KeyboardInterrupt, GeneratorExit) as error:
        return {"broken": f"{type(error).__name__} left the function: {error}"[:_LONGEST]}
    try:
        return {"result": _plain(result)}
    except Exception as error:
        return {"broken": f"a result of type {type(result).__name__} cannot be read: {error}"[:_LONGEST]}


class _Library:
    """The functions under test, by the name the runner asks for."""

    def __init__(self, setting: Mapping[str, Any]) -> None:
        self._numbers = setting.get("numbers", "float")
        self._tables = setting.get("tables", "list")
        self._functions: dict[str, Callable[..., Any]] = {}
        modules: dict[str, Any] = {}
        for asked, (place, name) in setting["functions"].items():
            if place not in modules:
                modules[place] = _load(place)
            try:
                self._functions[asked] = _find(modules[place], name)
            except _Missing:
                continue
        self._signatures = {asked: _signature(function) for asked, function in self._functions.items()}

    def described(self) -> dict[str, Any]:
        return {asked: _parameters(function) for asked, function in self._functions.items()}

    def _shaped(self, value: Any) -> Any:
        """Return an input in the form that the implementer asked for."""
        if isinstance(value, list):
            if self._tables == "array":
                return importlib.import_module("numpy").asarray(value, dtype=float)
            return tuple(value) if self._tables == "tuple" else value
        if self._numbers == "array":
            return importlib.import_module("numpy").asarray([value], dtype=float)
        return value

    def answer(self, asked: str, inputs: Any) -> dict[str, Any]:
        function = self._functions.get(asked)
        if function is None:
            return {"missing": True}
        shaped = (
            [*map(self._shaped, inputs)]
            if isinstance(inputs, list)
            else {k: self._shaped(v) for k, v in inputs.items()}
        )
        reply = call_function(function, shaped, self._signatures[asked])
        if "result" in reply:
            reply["result"] = self._single(reply["result"])
        return reply

    def _single(self, value: Any) -> Any:
        """Take the one element out of each array when numbers went in as arrays of one."""
        if self._numbers != "array":
            return value
        if isinstance(value, Mapping):
            return {name: self._single(item) for name, item in value.items()}
        if isinstance(value, list):
            return self._single(value[0]) if len(value) == 1 else [self._single(item) for item in value]
        return value


def _speak(descriptor: int, message: Mapping[str, Any]) -> None:
    view = memoryview(json.dumps(message).encode("ascii") + b"\n")
    while view:
        view = view[os.write(descriptor, view) :]


def main(setting_text: str) -> int:
    """Answer the runner until it says stop; ``setting_text`` is JSON naming the functions and how inputs are passed."""
    sys.dont_write_bytecode = True
    requests = os.fdopen(os.dup(0), "rb")
    replies = os.dup(1)
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.dup2(2, 1)  # what the functions print goes where error output goes
    library: _Library | None = None
    for line in requests:
        message = json.loads(line)
        if message["request"] == "stop":
            break
        if message["request"] == "start":
            try:
                library = _Library(json.loads(setting_text))
            except (Exception, SystemExit) as error:
                _speak(replies, {"ready": False, "problem": f"{type(error).__name__}: {error}"[:1000]})
                return 1
            _speak(replies, {"ready": True, "functions": library.described()})
        elif library is not None:
            _speak(replies, {"id": message["id"], **library.answer(message["name"], message["inputs"])})
    sys.stdout.flush()
    os._exit(0)  # at once: threads and exit handlers of the functions are not waited for


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
