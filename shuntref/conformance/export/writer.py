"""From the name of a language and functions to the text of a file."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from shuntref.conformance.export.c_source import c_source
from shuntref.conformance.export.checks import self_tests
from shuntref.conformance.export.javascript_source import javascript_source
from shuntref.conformance.export.octave_source import octave_source
from shuntref.conformance.export.openformula_source import openformula_source
from shuntref.conformance.export.programs import programs
from shuntref.conformance.export.python_source import python_source
from shuntref.conformance.suite import load_suite

__all__ = ["LANGUAGES", "Exported", "export_source"]


@dataclass(frozen=True, slots=True)
class Exported:
    """A file to write: its text, a name for it, the functions in it and how to try it."""

    text: str
    file_name: str
    functions: tuple[str, ...]
    hint: str


LANGUAGES: dict[str, tuple[Callable[..., str], str, str]] = {
    "c": (c_source, "motor.c", "compile it with: cc -std=c11 -O2 motor.c -o motor -lm"),
    "octave": (octave_source, "motor.m", "try it with: octave-cli motor.m --self-test"),
    "javascript": (javascript_source, "motor.js", "try it with: node motor.js --self-test"),
    "python": (python_source, "motor.py", "try it with: python motor.py --self-test"),
}


def export_source(language: str, functions: Iterable[str] = ()) -> Exported:
    """Return the source of functions of the suite in a language.

    Parameters
    ----------
    language
        "c", "octave", "javascript", "python" or "openformula".
    functions
        Names of functions of the suite; all of them when left out.

    Raises
    ------
    ValueError
        For an unknown language or function.
    """
    if language not in (*LANGUAGES, "openformula"):
        raise ValueError(f"unknown language {language[:40]!r}; known are {', '.join(LANGUAGES)}, openformula")
    chosen = programs(dict.fromkeys(functions))
    suite = load_suite()
    tests = {program.function.name: self_tests(suite, program.function) for program in chosen}
    names = tuple(program.function.name for program in chosen)
    if language == "openformula":
        return Exported(
            openformula_source(chosen, tests, suite),
            "motor.fods",
            names,
            "its sheet of answers comes out with: soffice --headless --convert-to csv motor.fods",
        )
    write, file_name, hint = LANGUAGES[language]
    return Exported(write(chosen, tests), file_name, names, hint)
