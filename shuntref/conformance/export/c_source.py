"""The exported functions as C11."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from shuntref.conformance.export.c_runtime import CONVERSATION, CONVERSATION_MAIN, RUNTIME
from shuntref.conformance.export.checks import SelfTest, header_lines
from shuntref.conformance.export.infix import C, infix
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

__all__ = ["c_source"]

_NEAR = """
/* ---- self-test on certified cases ---- */

static inline int near(double found, double value, double allowed)
{
    return fabs(found - value) <= allowed;
}

static inline int report(const char *name, int right)
{
    if (!right) {
        printf("%s: wrong\\n", name);
    }
    return !right;
}
"""


def c_source(programs: Sequence[Program], tests: Mapping[str, Sequence[SelfTest]]) -> str:
    """Return the file.

    Examples
    --------
    >>> from shuntref.conformance.export.programs import program
    >>> text = c_source([program("starting_resistance")], {})
    >>> "double starting_current, /* A */" in text
    True
    """
    usage = "cc -std=c11 -O2 motor.c -o motor -lm; ./motor --self-test computes certified cases; ./motor answers JSON lines."
    head = header_lines("C", usage)
    parts = ["/*\n" + "\n".join(f" * {line}".rstrip() for line in head) + "\n */", RUNTIME.rstrip()]
    parts += [_function(program) for program in programs]
    parts.append(CONVERSATION.rstrip())
    lists = dict.fromkeys(name for program in programs for name in program.lists)
    parts += ["", *(f"LIST({name})" for name in lists)]
    parts += [_runner(program) for program in programs]
    table = "".join(f'    {{"{p.function.name}", run_{p.function.name}}},\n' for p in programs)
    parts.append(
        "\nstatic const struct {\n    const char *name;\n    void (*run)(const struct request *);\n"
        f"}} functions[] = {{\n{table}}};"
    )
    parts.append(_NEAR.rstrip())
    checked = [(program, test) for program in programs for test in tests.get(program.function.name, ())]
    parts += ["", "static int self_test(void)", "{", "    int wrong = 0;"]
    parts += [_test(program, test) for program, test in checked]
    parts += [f'    printf("{len(checked)} certified cases, %d wrong\\n", wrong);', "    return wrong;", "}"]
    parts.append(CONVERSATION_MAIN.rstrip() + "\n")
    return "\n".join(parts)


def _parameters(program: Program) -> list[str]:
    f = program.function
    shown = [(f"const struct list *{e.name}" if e.is_list else f"double {e.name}", e.unit) for e in f.inputs]
    shown += [(f"{'struct list' if o.is_list else 'double'} *out_{o.name}", o.unit) for o in f.outputs]
    return [f"    {text}{',' if i < len(shown) else ''} /* {unit} */" for i, (text, unit) in enumerate(shown, 1)]


def _function(program: Program) -> str:
    f = program.function
    defaults = ", ".join(f"{e.name} {e.default:g}" for e in f.inputs if e.default is not None)
    words = [f.sentence] + ([f"Where nothing is added, give: {defaults}."] if defaults else [])
    lines = ["", "/*", *(f" * {word}" for word in words), " */", f"int motor_{f.name}(", *_parameters(program)]
    lines[-1:] = [lines[-1], ")"]
    prototype = [*lines[lines.index(f"int motor_{f.name}(") : -1], ");", ""]
    body = [*lines[1:], "{"]
    for entry in f.inputs:
        check = entry.accept.upper().replace(" ", "_")
        body.append(f"    EACH({check}, {entry.name});" if entry.is_list else f"    {check}({entry.name});")
    for step in program.steps:
        body += [f"    {line}" for line in _step(step)]
    for output in f.outputs:
        body.append(f"    *out_{output.name} = {output.name};")
    return "\n".join(["", *prototype, *body, "    return 0;", "}"])


def _step(step: Step) -> list[str]:
    if isinstance(step, Let):
        return [f"const double {step.name} = {infix(step.expression, C)}; /* {step.unit}: {step.words} */"]
    if isinstance(step, RefuseIf):
        return [_refusal(infix(step.condition, C), step.text)]
    if isinstance(step, LookUp):
        return [
            f"const double {step.name} = on_line({step.xs}, {step.ys}, {step.at}); /* {step.unit}: {step.words} */",
            f'REFUSE_IF(isnan({step.name}), "{step.at} lies outside the table");',
        ]
    if isinstance(step, SumOver):
        indexed = replace(C, name=lambda name: f"{name}->value[i]" if name in step.lists else name)
        return [
            f"double {step.name} = 0.0; /* {step.unit}: {step.words} */",
            f"for (size_t i = 0; i < {step.lists[0]}->count; i++) {{",
            f"    {step.name} += {infix(step.term, indexed)};",
            "}",
        ]
    if isinstance(step, ListOf):
        return [
            f"struct list {step.name} = {{0, {{0.0}}}}; /* {step.unit}: {step.words} */",
            f'REFUSE_IF({step.count} > MOST_VALUES, "{step.count}: too many");',
            f"for (double {step.counter} = 1.0; {step.counter} <= {step.count}; {step.counter}++) {{",
            f"    {step.name}.value[{step.name}.count++] = {infix(step.term, C)};",
            "}",
        ]
    if isinstance(step, TakeItem):
        return [f"const double {step.name} = {step.source}->value[{step.position - 1}]; /* {step.unit} */"]
    return _table(step)


def _refusal(condition: str, text: str) -> str:
    return f'REFUSE_IF({condition}, "{text}");'


def _table(step: RefuseTable) -> list[str]:
    pairs = table_refusals(
        step,
        C,
        length=lambda name: f"{name}->count",
        all_equal=lambda name: f"all_equal({name})",
        descends=str,
    )
    if step.demand == "ascending":  # a macro that refuses by itself
        return [f"ASCENDING({name});" for name, _ in pairs]
    return [_refusal(condition, text) for condition, text in pairs]


def _runner(program: Program) -> str:
    f = program.function
    lines = ["", f"static void run_{f.name}(const struct request *asked)", "{"]
    for output in f.outputs:
        kind, value = ("static struct list", "{0, {0.0}}") if output.is_list else ("double", "0.0")
        lines.append(f"    {kind} {output.name} = {value};")
    given = [
        f"{e.name}_of(asked)"
        if e.is_list
        else f'number(asked, "{e.name}", {"NAN" if e.default is None else repr(e.default)})'
        for e in f.inputs
    ]
    given += [f"&{output.name}" for output in f.outputs]
    lines += [
        f"    if (motor_{f.name}(",
        *(f"            {text}," for text in given[:-1]),
        f"            {given[-1]})) {{",
    ]
    lines += [
        '        printf("{\\"id\\":%ld,\\"error\\":\\"%s\\"}\\n", asked->id, refusal);',
        "        return;",
        "    }",
    ]
    lines.append('    printf("{\\"id\\":%ld,\\"result\\":{", asked->id);')
    for position, output in enumerate(f.outputs):
        if output.is_list:
            lines += [
                f'    printf("%s\\"{output.name}\\":[", {0 if position == 0 else 1} ? "," : "");',
                f"    for (size_t i = 0; i < {output.name}.count; i++) {{",
                f'        printf("%s%.17g", i == 0 ? "" : ",", {output.name}.value[i]);',
                "    }",
                '    printf("]");',
            ]
        else:
            lines.append(f'    put_number("{output.name}", {output.name}, {1 if position == 0 else 0});')
    return "\n".join([*lines, '    printf("}}\\n");', "}"])


def _test(program: Program, test: SelfTest) -> str:
    f = program.function
    lines = ["    {"]
    lines += [
        f"        static struct list {o.name};" if o.is_list else f"        double {o.name} = 0.0;" for o in f.outputs
    ]
    given = []
    for entry, value in zip(f.inputs, test.inputs, strict=True):
        if isinstance(value, tuple):
            lines.append(
                f"        static const struct list {entry.name}_given = "
                f"{{{len(value)}, {{{', '.join(map(repr, value)) or '0.0'}}}}};"
            )
            given.append(f"&{entry.name}_given")
        else:
            given.append(repr(value))
    given += [f"&{output.name}" for output in f.outputs]
    call = f"motor_{f.name}({', '.join(given)})"
    if test.refused:
        lines.append(f'        wrong += report("{test.id}", {call} == 1);')
    else:
        checks = []
        for name, certified in test.expected.items():
            if isinstance(certified, tuple):
                checks.append(f"{name}.count == {len(certified)}")
                checks += [f"near({name}.value[{i}], {v}, {test.allowed[name]:.3g})" for i, v in enumerate(certified)]
            else:
                checks.append(f"near({name}, {certified}, {test.allowed[name]:.3g})")
        lines.append(f"        int right = {call} == 0;")
        lines += [f"        right = right && {check};" for check in checks]
        lines.append(f'        wrong += report("{test.id}", right);')
    return "\n".join([*lines, "    }"])
