"""The exported functions as JavaScript for Node.js."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from shuntref.conformance.export.checks import SelfTest, header_lines, literal
from shuntref.conformance.export.infix import JAVASCRIPT, infix
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

__all__ = ["javascript_source"]

_RUNTIME = """
"use strict";

class Refused extends Error {}

function refuse(text) {
  throw new Refused(text);
}

function number(name, value, accepted, wanted) {
  if (typeof value !== "number" || !Number.isFinite(value) || !accepted(value)) {
    refuse(`${name} = ${value}: a ${wanted} number is wanted`);
  }
}

const positive = (name, value) => number(name, value, (x) => x > 0, "positive");
const not_negative = (name, value) => number(name, value, (x) => x >= 0, "not negative");
const any = (name, value) => number(name, value, () => true, "finite");
const whole = (name, value) => number(name, value, (x) => x > 0 && Number.isInteger(x), "positive whole");
const even = (name, value) => number(name, value, (x) => x > 0 && x % 2 === 0, "positive even");

function each(check, name, values) {
  if (!Array.isArray(values)) {
    refuse(`${name} is not a list`);
  }
  values.forEach((value) => check(name, value));
}

function sum(count, term) {
  let total = 0;
  for (let i = 0; i < count; i += 1) {
    total += term(i);
  }
  return total;
}

function ascends(values) {
  return values[0] >= 0 && values.every((value, i) => i === 0 || values[i - 1] < value);
}

// y at `at` on the straight lines through the points; nothing beyond them
function on_line(xs, ys, at, what) {
  if (!(xs[0] <= at && at <= xs[xs.length - 1])) {
    refuse(`${what} = ${at} lies outside the table`);
  }
  let i = 1;
  while (at > xs[i]) {
    i += 1;
  }
  return ys[i - 1] + (ys[i] - ys[i - 1]) * ((at - xs[i - 1]) / (xs[i] - xs[i - 1]));
}
"""

_MAIN = """
function by_name(entry, found) {
  const values = entry.outputs.length === 1 ? [found] : found;
  return Object.fromEntries(entry.outputs.map((name, i) => [name, values[i]]));
}

function answer(message) {
  if (message.request === "start") {
    return { ready: true, functions: Object.keys(FUNCTIONS) };
  }
  const entry = FUNCTIONS[message.name];
  if (entry === undefined) {
    return { id: message.id, missing: true };
  }
  try {
    const found = entry.call(...entry.inputs.map((name) => message.inputs[name]));
    return { id: message.id, result: by_name(entry, found) };
  } catch (error) {
    return error instanceof Refused
      ? { id: message.id, error: error.message }
      : { id: message.id, broken: String(error) };
  }
}

function near(found, value, allowed) {
  if (Array.isArray(value)) {
    return found.length === value.length && value.every((item, i) => near(found[i], item, allowed));
  }
  return Math.abs(found - value) <= allowed;
}

// computes the certified cases above; returns how many do not agree
function self_test() {
  let wrong = 0;
  for (const [name, called, inputs, expected] of CASES) {
    const entry = FUNCTIONS[called];
    let right;
    try {
      const found = by_name(entry, entry.call(...inputs));
      const outputs = Object.entries(expected);
      right = outputs.length > 0 && outputs.every(([output, [value, allowed]]) => near(found[output], value, allowed));
    } catch (error) {
      right = error instanceof Refused && Object.keys(expected).length === 0;
    }
    if (!right) {
      wrong += 1;
      console.log(`${name}: wrong`);
    }
  }
  console.log(`${CASES.length} certified cases, ${wrong} wrong`);
  return wrong;
}

function main() {
  if (process.argv.includes("--self-test")) {
    process.exitCode = self_test() > 0 ? 1 : 0;
    return;
  }
  const lines = require("node:readline").createInterface({ input: process.stdin });
  lines.on("line", (line) => {
    const message = JSON.parse(line);
    if (message.request === "stop") {
      lines.close();
      return;
    }
    console.log(JSON.stringify(answer(message)));
  });
}

module.exports = Object.fromEntries(Object.entries(FUNCTIONS).map(([name, entry]) => [name, entry.call]));

if (require.main === module) {
  main();
}
"""


def javascript_source(programs: Sequence[Program], tests: Mapping[str, Sequence[SelfTest]]) -> str:
    """Return the module.

    Examples
    --------
    >>> from shuntref.conformance.export.programs import program
    >>> text = javascript_source([program("starting_resistance")], {})
    >>> "function starting_resistance(supply_voltage, armature_resistance, starting_current, brush_drop = 0) {" in text
    True
    """
    usage = "node motor.js --self-test computes certified cases; node motor.js answers JSON lines."
    parts = ["\n".join(f"// {line}".rstrip() for line in header_lines("JavaScript", usage)), _RUNTIME.rstrip()]
    parts += [_function(program) for program in programs]
    table = "".join(
        f"  {p.function.name}: {{\n    call: {p.function.name},\n"
        f"    inputs: [{', '.join(f'{chr(34)}{e.name}{chr(34)}' for e in p.function.inputs)}],\n"
        f"    outputs: [{', '.join(f'{chr(34)}{o.name}{chr(34)}' for o in p.function.outputs)}],\n  }},\n"
        for p in programs
    )
    parts.append(
        f"\nconst FUNCTIONS = {{\n{table}}};\n\n// id, function, inputs in order, [certified value, allowed difference]"
    )
    parts.append("const CASES = [")
    for program in programs:
        parts += [_test(program, test) for test in tests.get(program.function.name, ())]
    parts.append("];\n" + _MAIN.rstrip() + "\n")
    return "\n".join(parts)


def _function(program: Program) -> str:
    f = program.function
    arguments = ", ".join(e.name if e.default is None else f"{e.name} = {e.default:g}" for e in f.inputs)
    lines = ["", "/**", f" * {f.sentence}", " *"]
    lines += [f" * @param {e.name} [{e.unit}]{' list' if e.is_list else ''}" for e in f.inputs]
    results = ", ".join(f"{o.name} [{o.unit}]" + (" (list)" if o.is_list else "") for o in f.outputs)
    lines += [f" * @returns {results}", " */", f"function {f.name}({arguments}) {{"]
    for entry in f.inputs:
        check = entry.accept.replace(" ", "_")
        call = (
            f'each({check}, "{entry.name}", {entry.name})'
            if entry.is_list
            else f'{check}("{entry.name}", {entry.name})'
        )
        lines.append(f"  {call};")
    for step in program.steps:
        lines += [f"  {line}" for line in _step(step)]
    names = ", ".join(o.name for o in f.outputs)
    lines += [f"  return {names if len(f.outputs) == 1 else f'[{names}]'};", "}"]
    return "\n".join(lines)


def _step(step: Step) -> list[str]:
    if isinstance(step, Let):
        return [f"const {step.name} = {infix(step.expression, JAVASCRIPT)}; // {step.unit}: {step.words}"]
    if isinstance(step, RefuseIf):
        return _refusal(infix(step.condition, JAVASCRIPT), step.text)
    if isinstance(step, LookUp):
        return [
            f'const {step.name} = on_line({step.xs}, {step.ys}, {step.at}, "{step.at}"); // {step.unit}: {step.words}'
        ]
    if isinstance(step, SumOver):
        indexed = replace(JAVASCRIPT, name=lambda name: f"{name}[i]" if name in step.lists else name)
        term = infix(step.term, indexed)
        index = "i" if "[i]" in term else ""
        return [f"const {step.name} = sum({step.lists[0]}.length, ({index}) => {term}); // {step.unit}: {step.words}"]
    if isinstance(step, ListOf):
        term = infix(step.term, JAVASCRIPT)
        return [
            f"const {step.name} = []; // {step.unit}: {step.words}",
            f"for (let {step.counter} = 1; {step.counter} <= {step.count}; {step.counter} += 1) {{",
            f"  {step.name}.push({term});",
            "}",
        ]
    if isinstance(step, TakeItem):
        return [f"const {step.name} = {step.source}[{step.position - 1}]; // {step.unit}"]
    return _table(step)


def _refusal(condition: str, text: str) -> list[str]:
    return [f"if ({condition}) {{", f'  refuse("{text}");', "}"]


def _table(step: RefuseTable) -> list[str]:
    pairs = table_refusals(
        step,
        JAVASCRIPT,
        length=lambda name: f"{name}.length",
        all_equal=lambda name: f"{name}.every((value) => value === {name}[0])",
        descends=lambda name: f"!ascends({name})",
    )
    return [line for condition, text in pairs for line in _refusal(condition, text)]


def _test(program: Program, test: SelfTest) -> str:
    inputs = ", ".join(map(literal, test.inputs))
    expected = ", ".join(
        f"{name}: [{literal(value)}, {test.allowed[name]:.3g}]" for name, value in test.expected.items()
    )
    return f'  ["{test.id}", "{program.function.name}", [{inputs}], {{ {expected} }}],'
