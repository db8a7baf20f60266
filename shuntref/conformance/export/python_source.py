"""The exported functions as Python."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from shuntref.conformance.export.checks import SelfTest, header_lines, literal
from shuntref.conformance.export.infix import PYTHON, infix
from shuntref.conformance.export.steps import (
    Let,
    ListOf,
    LookUp,
    Program,
    RefuseIf,
    RefuseTable,
    Step,
    SumOver,
    TakeItem,
)
from shuntref.conformance.export.table_refusals import table_refusals

__all__ = ["python_source"]

_RUNTIME = '''
import json
import math
import sys


class Refused(ValueError):
    """The inputs are such as no motor can meet."""


def _refuse(text):
    raise Refused(text)


def _number(name, value, accepted, wanted):
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value) or not accepted(value):
        _refuse(f"{name} = {value!r}: a {wanted} number is wanted")


def _positive(name, value):
    _number(name, value, lambda x: x > 0, "positive")


def _not_negative(name, value):
    _number(name, value, lambda x: x >= 0, "not negative")


def _any(name, value):
    _number(name, value, lambda x: True, "finite")


def _whole(name, value):
    _number(name, value, lambda x: x > 0 and x == int(x), "positive whole")


def _even(name, value):
    _number(name, value, lambda x: x > 0 and x % 2 == 0, "positive even")


def _each(check, name, values):
    for value in values:
        check(name, value)


def _sign(x):
    return (x > 0) - (x < 0)


def _on_line(xs, ys, at, what):
    """Return y at ``at`` on the straight lines through the points; refuse to go beyond them."""
    if not xs[0] <= at <= xs[-1]:
        _refuse(f"{what} = {at!r} lies outside the table")
    for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:]):
        if at <= x1:
            return y0 + (y1 - y0) * ((at - x0) / (x1 - x0))
'''

_MAIN = '''

def answer(line):
    """Return the reply to one line of a conversation, or None when it is over."""
    message = json.loads(line)
    if message["request"] == "start":
        return {"ready": True, "functions": sorted(FUNCTIONS)}
    if message["request"] == "stop":
        return None
    if message["name"] not in FUNCTIONS:
        return {"id": message["id"], "missing": True}
    function, outputs = FUNCTIONS[message["name"]]
    try:
        found = function(**message["inputs"])
    except Refused as error:
        return {"id": message["id"], "error": str(error)}
    except Exception as error:
        return {"id": message["id"], "broken": f"{type(error).__name__}: {error}"}
    values = found if isinstance(found, tuple) else (found,)
    return {"id": message["id"], "result": dict(zip(outputs, values))}


def self_test():
    """Compute the certified cases below; return how many do not agree."""
    wrong = 0
    for case, name, inputs, expected in CASES:
        function, outputs = FUNCTIONS[name]
        try:
            found = function(*inputs)
            found = dict(zip(outputs, found if isinstance(found, tuple) else (found,)))
        except Refused:
            found = {}
        right = found.keys() == expected.keys()
        for output, (value, allowed) in expected.items():
            right = right and _near(found[output], value, allowed)
        wrong += not right
        if not right:
            print(f"{case}: wrong")
    print(f"{len(CASES)} certified cases, {wrong} wrong")
    return wrong


def _near(found, value, allowed):
    if isinstance(value, list):
        return len(found) == len(value) and all(abs(a - b) <= allowed for a, b in zip(found, value))
    return abs(found - value) <= allowed


def main():
    if "--self-test" in sys.argv:
        return 1 if self_test() else 0
    for line in sys.stdin:
        reply = answer(line)
        if reply is None:
            break
        print(json.dumps(reply), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
'''


def python_source(programs: Sequence[Program], tests: Mapping[str, Sequence[SelfTest]]) -> str:
    """Return the module.

    Examples
    --------
    >>> from shuntref.conformance.export.programs import program
    >>> text = python_source([program("starting_resistance")], {})
    >>> "def starting_resistance(supply_voltage, armature_resistance, starting_current, brush_drop=0.0):" in text
    True
    """
    usage = "python motor.py --self-test computes certified cases; python motor.py answers JSON lines."
    head = "\n".join(header_lines("Python", usage))
    parts = [f'"""{head}\n"""\n', _RUNTIME.rstrip()]
    parts += [_function(program) for program in programs]
    table = "".join(
        f'    "{p.function.name}": ({p.function.name}, {[o.name for o in p.function.outputs]!r}),\n' for p in programs
    )
    parts.append(f"\n\nFUNCTIONS = {{\n{table}}}\n\nCASES = [")
    for program in programs:
        parts += [_test(program, test) for test in tests.get(program.function.name, ())]
    parts.append("]\n" + _MAIN.strip("\n").join(["\n\n", "\n"]))
    return "\n".join(parts)


def _function(program: Program) -> str:
    f = program.function
    arguments = ", ".join(e.name if e.default is None else f"{e.name}={e.default!r}" for e in f.inputs)
    units = ", ".join(f"{e.name} [{e.unit}]" + (" (list)" if e.is_list else "") for e in f.inputs)
    results = ", ".join(f"{o.name} [{o.unit}]" + (" (list)" if o.is_list else "") for o in f.outputs)
    lines = ["", "", f"def {f.name}({arguments}):", f'    """{f.sentence}', ""]
    lines += [f"    Inputs: {units}.", f"    Returns {results}.", '    """']
    for entry in f.inputs:
        check = "_" + entry.accept.replace(" ", "_")
        call = (
            f'_each({check}, "{entry.name}", {entry.name})'
            if entry.is_list
            else f'{check}("{entry.name}", {entry.name})'
        )
        lines.append(f"    {call}")
    for step in program.steps:
        lines += [f"    {line}" for line in _step(step)]
    lines.append(f"    return {', '.join(o.name for o in f.outputs)}")
    return "\n".join(lines)


def _step(step: Step) -> list[str]:
    if isinstance(step, Let):
        return [f"{step.name} = {infix(step.expression, PYTHON)}  # {step.unit}: {step.words}"]
    if isinstance(step, RefuseIf):
        return _refusal(infix(step.condition, PYTHON), step.text)
    if isinstance(step, LookUp):
        return [f'{step.name} = _on_line({step.xs}, {step.ys}, {step.at}, "{step.at}")  # {step.unit}: {step.words}']
    if isinstance(step, SumOver):
        return _sum(step)
    if isinstance(step, ListOf):
        term = infix(step.term, PYTHON)
        return [
            f"{step.name} = [  # {step.unit}: {step.words}",
            f"    {term} for {step.counter} in range(1, int({step.count}) + 1)",
            "]",
        ]
    if isinstance(step, TakeItem):
        return [f"{step.name} = {step.source}[{step.position - 1}]  # {step.unit}"]
    return _table(step)


def _sum(step: SumOver) -> list[str]:
    """One reading of a list is called as the list with ``one_`` before it."""
    names = {str(s): f"one_{s}" for s in step.term.free_symbols if str(s) in step.lists}
    if not names:
        return [f"{step.name} = float(len({step.lists[0]}))  # {step.unit}: {step.words}"]
    term = infix(step.term, replace(PYTHON, name=lambda name: names.get(name, name)))
    variables = ", ".join(f"one_{name}" for name in step.lists if name in names)
    sources = ", ".join(name for name in step.lists if name in names)
    if len(names) > 1:
        sources = f"zip({sources})"
    return [f"{step.name} = math.fsum({term} for {variables} in {sources})  # {step.unit}: {step.words}"]


def _refusal(condition: str, text: str) -> list[str]:
    return [f"if {condition}:", f'    _refuse("{text}")']


def _table(step: RefuseTable) -> list[str]:
    pairs = table_refusals(
        step,
        PYTHON,
        length=lambda name: f"len({name})",
        all_equal=lambda name: f"all(value == {name}[0] for value in {name})",
        descends=lambda name: f"{name}[0] < 0 or any(a >= b for a, b in zip({name}, {name}[1:]))",
    )
    return [line for condition, text in pairs for line in _refusal(condition, text)]


def _test(program: Program, test: SelfTest) -> str:
    inputs = "(" + "".join(f"{literal(v)}, " for v in test.inputs).rstrip(" ") + ")"
    expected = ", ".join(
        f'"{name}": ({literal(value)}, {test.allowed[name]:.3g})' for name, value in test.expected.items()
    )
    return f'    ("{test.id}", "{program.function.name}", {inputs}, {{{expected}}}),'
