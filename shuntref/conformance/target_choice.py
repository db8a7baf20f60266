"""From what the user names (a function, a file, a mapping, a command, a sheet of answers) to cases and a target."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from shuntref.conformance.answers import read_answers
from shuntref.conformance.child import Limits
from shuntref.conformance.mapping import Setting, bind, read_setting
from shuntref.conformance.near_names import names_instead
from shuntref.conformance.suite import Case, Suite, select
from shuntref.conformance.targets import Target, command_target, python_target

__all__ = ["Choice", "choose", "split_call"]


@dataclass(frozen=True)
class Choice:
    """The cases to ask, how to open the target, and what the implementer's file says besides."""

    cases: tuple[Case, ...]
    open: Callable[[], Target]
    known_failures: tuple[str, ...] = ()
    setting: Setting = field(default_factory=Setting)


def split_call(text: str) -> tuple[str, str]:
    """Split "module:function" or "file.py:function"; the function is empty when only the module or file is named.

    Examples
    --------
    >>> split_call("my_lab:speed"), split_call("lab/motor.py:speed"), split_call("lab/motor.py")
    (('my_lab', 'speed'), ('lab/motor.py', 'speed'), ('lab/motor.py', ''))
    """
    place, colon, name = text.rpartition(":")
    if not colon or (text.endswith(".py") and not name.isidentifier()):
        return text, ""
    return place, name


def _located(place: str, folder: Path | None) -> str:
    """Return the path of a .py file seen from the folder it was written in, or the module name as it is."""
    if not place.endswith(".py"):
        return place
    path = (folder / place if folder else Path(place)).resolve()
    if not path.is_file():
        raise ValueError(f"{place}: there is no such file")
    return str(path)


def _calls(setting: Setting) -> dict[str, tuple[str, str]]:
    calls = {}
    for function, binding in setting.bindings.items():
        place, name = split_call(binding.call)
        if not place:
            raise ValueError(f'[{function}] has no call; write for example call = "my_lab:{function}"')
        calls[function] = (_located(place, setting.folder), name or function)
    return calls


def _known_as(setting: Setting, function: str) -> str:
    """Return the name of a function of the suite in the implementer's file: that of its call, or its own."""
    binding = setting.bindings.get(function)
    place, name = split_call(binding.call) if binding else ("", "")
    return name or (place if place.isidentifier() else function)


def _mapped_as(setting: Setting, name: str) -> list[str]:
    """Return the function of the suite that a mapping file says ``name`` is, if it says so without doubt."""
    named = [function for function in setting.bindings if name and _known_as(setting, function) == name]
    return named or (list(setting.bindings) if name and len(setting.bindings) == 1 else [])


def _extra_binding(
    setting: Setting, suite: Suite, functions: Sequence[str], written: Mapping[str, Any], precision: str
) -> Setting:
    if not written:
        return setting
    if len(functions) != 1:
        raise ValueError(
            "--argument and --result describe one function: name it with --function, or use a mapping file for several"
        )
    (function,) = functions
    binding = bind(suite.functions[function], written, precision=precision, where="command line")
    return replace(setting, bindings={**setting.bindings, function: binding})


def choose(
    suite: Suite,
    target: str = "",
    *,
    command: str = "",
    answers: str = "",
    mapping: str = "",
    arguments: Mapping[str, str] | None = None,
    result: str = "",
    precision: str = "",
    functions: Sequence[str] = (),
    groups: Sequence[str] = (),
    levels: Sequence[int] = (),
    ids: Sequence[str] = (),
    as_printed: bool = False,
    limits: Limits | None = None,
) -> Choice:
    """Find out who is to be asked what.

    Exactly one of ``target``, ``command`` and ``answers`` is wanted, unless the mapping file names the functions or the
    command itself.

    Raises
    ------
    ValueError
        Too many or too few of them, unknown names, or an unreadable mapping file.
    OSError
        A file that cannot be opened.
    """
    if target.endswith(".toml"):
        if mapping:
            raise ValueError("two mapping files were given; one is enough")
        target, mapping = "", target
    setting = read_setting(Path(mapping), suite) if mapping else Setting()
    chosen = precision or "double"
    written: dict[str, Any] = {k: v for k, v in (("arguments", arguments), ("result", result)) if v}
    named = [word for word, value in (("TARGET", target), ("--command", command), ("--read-answers", answers)) if value]
    if len(named) > 1:
        raise ValueError(f"{' and '.join(named)} were given; one of them is wanted")
    if not named and not mapping:
        raise ValueError(
            "nothing to judge was named; give module:function, file.py:function, a mapping file (my_lab.toml), "
            '--command "PROGRAM" or --read-answers SHEET; shuntref conform --help shows one example of each'
        )
    if target:
        place, name = split_call(target)
        asked = _functions_of(suite, place, name, functions or _mapped_as(setting, name), groups)
        setting = _extra_binding(setting, suite, asked, written, chosen)
        where = _located(place, None)
        calls = {function: (where, name or _known_as(setting, function)) for function in asked}
        cases = select(suite, groups=groups, functions=asked, levels=levels, ids=ids)
        return Choice(
            cases,
            lambda: python_target(calls, suite, setting, name=target, limits=limits, precision=chosen),
            setting.known_failures,
            setting,
        )
    cases = select(suite, groups=groups, functions=functions, levels=levels, ids=ids)
    setting = _extra_binding(setting, suite, functions, written, chosen)
    if answers:
        return Choice(
            cases,
            lambda: read_answers(Path(answers), suite, setting, as_printed=as_printed, precision=chosen),
            setting.known_failures,
            setting,
        )
    command = command or setting.command
    if command:
        return Choice(
            cases,
            lambda: command_target(command, suite, setting, limits=limits, precision=chosen),
            setting.known_failures,
            setting,
        )
    calls = _calls(setting)
    return Choice(
        cases,
        lambda: python_target(calls, suite, setting, name=Path(mapping).name, limits=limits, folder=setting.folder),
        setting.known_failures,
        setting,
    )


def _functions_of(suite: Suite, place: str, name: str, functions: Sequence[str], groups: Sequence[str]) -> list[str]:
    """Return which functions of the suite a target stands for."""
    if functions:
        if name and len(functions) > 1:
            raise ValueError(
                f"{place}:{name} is one function; name one --function, or leave {name!r} out to look for all"
            )
        return list(functions)
    if name in suite.functions:
        return [name]
    if name:
        _located(place, None)  # a file that is not there is said first
        raise ValueError(
            f"which function of the suite is {name!r}? say it with --function; {names_instead(name, suite.functions)}"
        )
    return [entry.name for entry in suite.functions.values() if not groups or entry.group in groups]
