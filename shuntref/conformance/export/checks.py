"""A few certified cases for each exported function, carried along as its self-test."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shuntref.cautions import CAUTIONS
from shuntref.conformance.functions import Function
from shuntref.conformance.suite import Suite, Value

__all__ = ["SelfTest", "header_lines", "literal", "self_tests"]

_VALID, _INVALID = 3, 1


@dataclass(frozen=True, slots=True)
class SelfTest:
    """One case: every input in calling order, and either what must come out or nothing (it must be refused).

    ``allowed`` is the absolute difference granted to each output.
    """

    id: str
    inputs: tuple[float | tuple[float, ...], ...]
    expected: Mapping[str, Value]
    allowed: Mapping[str, float]

    @property
    def refused(self) -> bool:
        """Whether the inputs must be refused."""
        return not self.expected


def self_tests(suite: Suite, function: Function) -> tuple[SelfTest, ...]:
    """Return the first certified cases of a function, one of each level where there are several, and one to refuse."""
    cases = [case for case in suite.cases if case.function == function.name]
    valid = [case for case in cases if case.result == "valid"]
    firsts = list({case.level: case for case in reversed(valid)}.values())
    chosen = sorted(firsts, key=lambda case: case.level)[:_VALID]
    chosen += [case for case in cases if case.result == "invalid"][:_INVALID]
    tests = []
    for case in chosen:
        inputs = function.complete(case.inputs)
        allowed = {
            name: max(
                float(case.tolerance.get(name, "1e-12")) * max(abs(float(v)) for v in _listed(value)),
                float(case.absolute.get(name, 0)),
            )
            for name, value in case.expected.items()
        }
        tests.append(SelfTest(case.id, tuple(inputs.values()), case.expected, allowed))
    return tuple(tests)


def _listed(value: Value) -> tuple[str, ...]:
    return value if isinstance(value, tuple) else (value,)


def literal(value: float | str | tuple[float | str, ...]) -> str:
    """Return a number, or a list of them, as most languages write it; a certified value is text already.

    Examples
    --------
    >>> literal(0.8), literal("157.0796"), literal((1.0, 2.5))
    ('0.8', '157.0796', '[1.0, 2.5]')
    """
    if isinstance(value, tuple):
        return f"[{', '.join(map(literal, value))}]"
    return value if isinstance(value, str) else repr(value)


def header_lines(language: str, usage: str) -> list[str]:
    """Return what stands at the head of every exported file.

    Examples
    --------
    >>> header_lines("C", "cc file.c -lm")[0]
    'Closed forms of the d.c. shunt motor, written in C by "shuntref export" from its derived equations.'
    """
    lines = [
        f'Closed forms of the d.c. shunt motor, written in {language} by "shuntref export" from its derived equations.',
        "Generated: change the generator, not this file. Units are in the comments; speeds are in rad/s.",
        "Inputs that no motor can meet are refused, never answered with a number.",
        usage,
        "",
        "Before a resistor found here goes to a bench:",
    ]
    return lines + [f"  * {caution}" for caution in CAUTIONS]
