"""The exported functions as a GNU Octave script."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from shuntref.conformance.export.checks import SelfTest, header_lines, literal
from shuntref.conformance.export.infix import OCTAVE, infix
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

__all__ = ["octave_source"]

_RUNTIME = """
1;  % a script that defines functions

function refuse(varargin)
  error("motor:refused", varargin{:});
end

function check(accepted, name, value, wanted)
  if ! isnumeric(value) || ! isreal(value) || isempty(value) || ! all(isfinite(value(:))) || ! all(accepted(value(:)))
    refuse("%s: a %s number is wanted", name, wanted);
  end
end

function check_positive(name, value)
  check(@(x) x > 0, name, value, "positive");
end

function check_not_negative(name, value)
  check(@(x) x >= 0, name, value, "not negative");
end

function check_any(name, value)
  check(@(x) true(size(x)), name, value, "finite");
end

function check_whole(name, value)
  check(@(x) x > 0 & x == fix(x), name, value, "positive whole");
end

function check_even(name, value)
  check(@(x) x > 0 & mod(x, 2) == 0, name, value, "positive even");
end

function value = choose(condition, first, second)
  if condition
    value = first;
  else
    value = second;
  end
end

% y at `at` on the straight lines through the points; nothing beyond them
function y = on_line(xs, ys, at, what)
  if ! (xs(1) <= at && at <= xs(end))
    refuse("%s lies outside the table", what);
  end
  i = find(at <= xs(2:end), 1);
  y = ys(i) + (ys(i + 1) - ys(i)) * ((at - xs(i)) / (xs(i + 1) - xs(i)));
end
"""

_MAIN = """
function text = as_json(value)
  if isscalar(value)
    text = sprintf("%.17g", value);
  else
    text = ["[" strjoin(arrayfun(@(x) sprintf("%.17g", x), value(:)', "UniformOutput", false), ",") "]"];
  end
end

function reply = answer(message, entries)
  if ! isfield(entries, message.name)
    reply = sprintf('{"id":%d,"missing":true}', message.id);
    return;
  end
  entry = entries.(message.name);
  arguments = cell(1, numel(entry.inputs));
  for i = 1:numel(entry.inputs)
    if isfield(message.inputs, entry.inputs{i})
      arguments{i} = message.inputs.(entry.inputs{i});
    end
  end
  try
    found = cell(1, numel(entry.outputs));
    [found{:}] = feval(message.name, arguments{:});
    named = cellfun(@(name, value) sprintf('"%s":%s', name, as_json(value)), entry.outputs, found, "UniformOutput", false);
    reply = sprintf('{"id":%d,"result":{%s}}', message.id, strjoin(named, ","));
  catch problem
    kind = choose(strcmp(problem.identifier, "motor:refused"), "error", "broken");
    reply = sprintf('{"id":%d,"%s":%s}', message.id, kind, jsonencode(problem.message));
  end
end

% computes the certified cases below; returns how many do not agree
function wrong = self_test(entries, cases)
  wrong = 0;
  for i = 1:numel(cases)
    item = cases{i};
    right = false;
    try
      found = cell(1, numel(entries.(item{2}).outputs));
      [found{:}] = feval(item{2}, item{3}{:});
      right = ! isempty(item{4});
      for j = 1:numel(item{4})
        right = right && numel(found{j}) == numel(item{4}{j}) && all(abs(found{j}(:) - item{4}{j}(:)) <= item{5}(j));
      end
    catch problem
      right = isempty(item{4}) && strcmp(problem.identifier, "motor:refused");
    end
    if ! right
      wrong += 1;
      printf("%s: wrong\\n", item{1});
    end
  end
  printf("%d certified cases, %d wrong\\n", numel(cases), wrong);
end

entries = struct();
%FUNCTIONS%
% id, function, inputs in order, certified values, allowed differences
cases = {};
%CASES%
if any(strcmp(argv(), "--self-test"))
  exit(choose(self_test(entries, cases) > 0, 1, 0));
end
while true
  try
    line = input("", "s");  % fgetl would wait for the first character of the line after
  catch
    break;
  end
  message = jsondecode(line);
  if strcmp(message.request, "stop")
    break;
  elseif strcmp(message.request, "start")
    printf('{"ready":true,"functions":%s}\\n', jsonencode(fieldnames(entries)));
  else
    printf("%s\\n", answer(message, entries));
  end
  fflush(stdout);
end
"""


def octave_source(programs: Sequence[Program], tests: Mapping[str, Sequence[SelfTest]]) -> str:
    """Return the script.

    Examples
    --------
    >>> from shuntref.conformance.export.programs import program
    >>> text = octave_source([program("starting_resistance")], {})
    >>> "function starting_resistance = starting_resistance(supply_voltage, armature_resistance," in text
    True
    """
    usage = "octave-cli motor.m --self-test computes certified cases; octave-cli motor.m answers JSON lines (Octave 7)."
    parts = ["\n".join(f"% {line}".rstrip() for line in header_lines("Octave", usage)), _RUNTIME.rstrip()]
    parts += [_function(program) for program in programs]
    entries = "".join(
        f'entries.{p.function.name} = struct("inputs", {{{{{_names(e.name for e in p.function.inputs)}}}}}, '
        f'"outputs", {{{{{_names(o.name for o in p.function.outputs)}}}}});\n'
        for p in programs
    )
    cases = "".join(_test(program, test) for program in programs for test in tests.get(program.function.name, ()))
    parts.append(_MAIN.rstrip().replace("%FUNCTIONS%\n", entries).replace("%CASES%\n", cases) + "\n")
    return "\n".join(parts)


def _names(names: object) -> str:
    return ", ".join(f'"{name}"' for name in names)  # type: ignore[attr-defined]


def _function(program: Program) -> str:
    f = program.function
    outputs = ", ".join(o.name for o in f.outputs)
    left = outputs if len(f.outputs) == 1 else f"[{outputs}]"
    lines = ["", f"% {f.sentence}"]
    lines += [f"%   {e.name} [{e.unit}]{' list' if e.is_list else ''}" for e in f.inputs]
    lines += [f"%   returns {o.name} [{o.unit}]{' list' if o.is_list else ''}" for o in f.outputs]
    lines.append(f"function {left} = {f.name}({', '.join(e.name for e in f.inputs)})")
    for position, entry in enumerate(f.inputs, 1):
        if entry.default is not None:
            lines += [
                f"  if nargin < {position} || isempty({entry.name})",
                f"    {entry.name} = {entry.default:g};",
                "  end",
            ]
    lines += [f'  check_{e.accept.replace(" ", "_")}("{e.name}", {e.name});' for e in f.inputs]
    for step in program.steps:
        lines += [f"  {line}" for line in _step(step)]
    return "\n".join([*lines, "end"])


def _step(step: Step) -> list[str]:
    if isinstance(step, Let):
        if str(step.expression) == step.name:
            return []
        return [f"{step.name} = {infix(step.expression, OCTAVE)};  % {step.unit}: {step.words}"]
    if isinstance(step, RefuseIf):
        return _refusal(infix(step.condition, OCTAVE), step.text)
    if isinstance(step, LookUp):
        return [f'{step.name} = on_line({step.xs}, {step.ys}, {step.at}, "{step.at}");  % {step.unit}: {step.words}']
    if isinstance(step, SumOver):
        indexed = replace(OCTAVE, name=lambda name: f"{name}(i)" if name in step.lists else name)
        return [
            f"{step.name} = 0;  % {step.unit}: {step.words}",
            f"for i = 1:numel({step.lists[0]})",
            f"  {step.name} += {infix(step.term, indexed)};",
            "end",
        ]
    if isinstance(step, ListOf):
        return [
            f"{step.name} = zeros({step.count}, 1);  % {step.unit}: {step.words}",
            f"for {step.counter} = 1:{step.count}",
            f"  {step.name}({step.counter}) = {infix(step.term, OCTAVE)};",
            "end",
        ]
    if isinstance(step, TakeItem):
        return [f"{step.name} = {step.source}({step.position});  % {step.unit}"]
    return _table(step)


def _refusal(condition: str, text: str) -> list[str]:
    return [f"if {condition}", f'  refuse("{text}");', "end"]


def _table(step: RefuseTable) -> list[str]:
    pairs = table_refusals(
        step,
        OCTAVE,
        length=lambda name: f"numel({name})",
        all_equal=lambda name: f"all({name} == {name}(1))",
        descends=lambda name: f"{name}(1) < 0 || any(diff({name}) <= 0)",
    )
    return [line for condition, text in pairs for line in _refusal(condition, text)]


def _test(program: Program, test: SelfTest) -> str:
    inputs = ", ".join(map(literal, test.inputs))
    order = [o.name for o in program.function.outputs if o.name in test.expected]
    values = ", ".join(literal(test.expected[name]) for name in order)
    allowed = ", ".join(f"{test.allowed[name]:.3g}" for name in order)
    return f'cases{{end + 1}} = {{"{test.id}", "{program.function.name}", {{{inputs}}}, {{{values}}}, [{allowed}]}};\n'
