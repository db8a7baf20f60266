"""The exported sources line by line: one made-up function with every kind of step and input, as each language must say it.

What is expected here was written by hand from the rules of each language: lists count from 0 in C, JavaScript and Python and
from 1 in Octave; a table reading, a sum, a list and one reading of a list each have their own form. Python is run besides.
"""

from __future__ import annotations

import json
import runpy

import pytest
import sympy as sp

from shuntref.conformance.export.c_source import c_source
from shuntref.conformance.export.checks import SelfTest
from shuntref.conformance.export.javascript_source import javascript_source
from shuntref.conformance.export.octave_source import octave_source
from shuntref.conformance.export.python_source import python_source
from shuntref.conformance.export.steps import (
    Let,
    ListOf,
    LookUp,
    Program,
    RefuseIf,
    RefuseTable,
    SumOver,
    TakeItem,
)
from shuntref.conformance.functions import Function, Input, Output

volts, drop, net, amperes, omegas, counter = sp.symbols("volts drop net amperes omegas counter")

TOY = Program(
    Function(
        "toy",
        "speed",
        "A function made up for this test.",
        (),
        (
            Input("volts", "V", "positive"),
            Input("drop", "V", "not negative", False, 0.5),
            Input("offset", "V", "any", False, 0.0),
            Input("poles", "1", "even"),
            Input("sections", "1", "whole", False, 2.0),
            Input("amperes", "A", "positive", is_list=True),
            Input("omegas", "rad/s", "not negative", is_list=True),
        ),
        (Output("total", "V A"), Output("parts", "V", is_list=True), Output("second", "A")),
        (),
    ),
    (
        RefuseTable("same length", ("amperes", "omegas", "spare")),
        RefuseTable("at least", ("amperes",), 2),
        RefuseTable("exactly", ("omegas",), 3),
        RefuseTable("ascending", ("amperes", "omegas")),
        RefuseTable("not all equal", ("omegas",)),
        Let("net", volts - drop, "V", "what is left"),
        RefuseIf(net < 0, "nothing is left"),
        LookUp("omega", "amperes", "omegas", "net", "rad/s", "from the table"),
        SumOver("total", net * amperes, ("amperes", "omegas"), "V A", "the sum"),
        SumOver("both", amperes * omegas + net, ("amperes", "omegas"), "W", "of both"),
        SumOver("count", sp.Integer(1), ("omegas", "amperes"), "1", "how many"),
        ListOf("parts", net * counter / 3, "counter", "sections", "V", "part by part"),
        TakeItem("second", "amperes", 2, "A"),
    ),
)

ONE = Program(
    Function(
        "one", "speed", "One output.", (), (Input("volts", "V", "positive"),), (Output("half", "V", is_list=True),), ()
    ),
    (Let("half", volts / 2, "V", "half of it"),),
)

CHECKS = {
    "toy": (
        SelfTest(
            "toy-a",
            (9.0, 0.5, 0.0, 4.0, 2.0, (1.0, 2.5), (3.0,)),
            {"total": "12.25", "parts": ("1.5", "2.5"), "second": "-7"},
            {"total": 1.2345e-9, "parts": 2.5e-12, "second": 7e-12},
        ),
        SelfTest("toy-refused", (-9.0, 0.5, 0.0, 4.0, 2.0, (), (3.0,)), {}, {}),
    )
}

C_FUNCTION = """
int motor_toy(
    double volts, /* V */
    double drop, /* V */
    double offset, /* V */
    double poles, /* 1 */
    double sections, /* 1 */
    const struct list *amperes, /* A */
    const struct list *omegas, /* rad/s */
    double *out_total, /* V A */
    struct list *out_parts, /* V */
    double *out_second /* A */
);

/*
 * A function made up for this test.
 * Where nothing is added, give: drop 0.5, offset 0, sections 2.
 */
int motor_toy(
    double volts, /* V */
    double drop, /* V */
    double offset, /* V */
    double poles, /* 1 */
    double sections, /* 1 */
    const struct list *amperes, /* A */
    const struct list *omegas, /* rad/s */
    double *out_total, /* V A */
    struct list *out_parts, /* V */
    double *out_second /* A */
)
{
    POSITIVE(volts);
    NOT_NEGATIVE(drop);
    ANY(offset);
    EVEN(poles);
    WHOLE(sections);
    EACH(POSITIVE, amperes);
    EACH(NOT_NEGATIVE, omegas);
    REFUSE_IF(amperes->count != omegas->count || amperes->count != spare->count, "the lists differ in length");
    REFUSE_IF(amperes->count < 2, "fewer than 2 values of amperes");
    REFUSE_IF(omegas->count != 3, "omegas needs exactly 3 values");
    ASCENDING(amperes);
    ASCENDING(omegas);
    REFUSE_IF(all_equal(omegas), "the values of omegas are all equal");
    const double net = volts - drop; /* V: what is left */
    REFUSE_IF(net < 0.0, "nothing is left");
    const double omega = on_line(amperes, omegas, net); /* rad/s: from the table */
    REFUSE_IF(isnan(omega), "net lies outside the table");
    double total = 0.0; /* V A: the sum */
    for (size_t i = 0; i < amperes->count; i++) {
        total += amperes->value[i] * net;
    }
    double both = 0.0; /* W: of both */
    for (size_t i = 0; i < amperes->count; i++) {
        both += amperes->value[i] * omegas->value[i] + net;
    }
    double count = 0.0; /* 1: how many */
    for (size_t i = 0; i < omegas->count; i++) {
        count += 1.0;
    }
    struct list parts = {0, {0.0}}; /* V: part by part */
    REFUSE_IF(sections > MOST_VALUES, "sections: too many");
    for (double counter = 1.0; counter <= sections; counter++) {
        parts.value[parts.count++] = counter * net / 3.0;
    }
    const double second = amperes->value[1]; /* A */
    *out_total = total;
    *out_parts = parts;
    *out_second = second;
    return 0;
}
"""

C_RUNNER = """
LIST(amperes)
LIST(omegas)

static void run_toy(const struct request *asked)
{
    double total = 0.0;
    static struct list parts = {0, {0.0}};
    double second = 0.0;
    if (motor_toy(
            number(asked, "volts", NAN),
            number(asked, "drop", 0.5),
            number(asked, "offset", 0.0),
            number(asked, "poles", NAN),
            number(asked, "sections", 2.0),
            amperes_of(asked),
            omegas_of(asked),
            &total,
            &parts,
            &second)) {
        printf("{\\"id\\":%ld,\\"error\\":\\"%s\\"}\\n", asked->id, refusal);
        return;
    }
    printf("{\\"id\\":%ld,\\"result\\":{", asked->id);
    put_number("total", total, 1);
    printf("%s\\"parts\\":[", 1 ? "," : "");
    for (size_t i = 0; i < parts.count; i++) {
        printf("%s%.17g", i == 0 ? "" : ",", parts.value[i]);
    }
    printf("]");
    put_number("second", second, 0);
    printf("}}\\n");
}
"""

C_TESTS = """
static int self_test(void)
{
    int wrong = 0;
    {
        double total = 0.0;
        static struct list parts;
        double second = 0.0;
        static const struct list amperes_given = {2, {1.0, 2.5}};
        static const struct list omegas_given = {1, {3.0}};
        int right = motor_toy(9.0, 0.5, 0.0, 4.0, 2.0, &amperes_given, &omegas_given, &total, &parts, &second) == 0;
        right = right && near(total, 12.25, 1.23e-09);
        right = right && parts.count == 2;
        right = right && near(parts.value[0], 1.5, 2.5e-12);
        right = right && near(parts.value[1], 2.5, 2.5e-12);
        right = right && near(second, -7, 7e-12);
        wrong += report("toy-a", right);
    }
    {
        double total = 0.0;
        static struct list parts;
        double second = 0.0;
        static const struct list amperes_given = {0, {0.0}};
        static const struct list omegas_given = {1, {3.0}};
        wrong += report("toy-refused", motor_toy(-9.0, 0.5, 0.0, 4.0, 2.0, &amperes_given, &omegas_given, &total, &parts, \
&second) == 1);
    }
    printf("2 certified cases, %d wrong\\n", wrong);
    return wrong;
}
"""

C_ONE = """
int motor_one(
    double volts, /* V */
    struct list *out_half /* V */
);

/*
 * One output.
 */
int motor_one(
"""


def test_c():
    text = c_source([TOY, ONE], CHECKS)
    for block in (C_FUNCTION, C_RUNNER, C_TESTS, C_ONE):
        assert block in text
    assert '} functions[] = {\n    {"toy", run_toy},\n    {"one", run_one},\n};\n' in text
    # the first output of all needs no comma before it
    assert '    printf("%s\\"half\\":[", 0 ? "," : "");\n' in text
    lines = text.splitlines()
    assert (lines[0], lines[1][:6], lines[lines.index(" */")]) == ("/*", " * Clo", " */")
    assert text.endswith("}\n")
    assert not any(line != line.rstrip() for line in lines)


OCTAVE_FUNCTION = """
% A function made up for this test.
%   volts [V]
%   drop [V]
%   offset [V]
%   poles [1]
%   sections [1]
%   amperes [A] list
%   omegas [rad/s] list
%   returns total [V A]
%   returns parts [V] list
%   returns second [A]
function [total, parts, second] = toy(volts, drop, offset, poles, sections, amperes, omegas)
  if nargin < 2 || isempty(drop)
    drop = 0.5;
  end
  if nargin < 3 || isempty(offset)
    offset = 0;
  end
  if nargin < 5 || isempty(sections)
    sections = 2;
  end
  check_positive("volts", volts);
  check_not_negative("drop", drop);
  check_any("offset", offset);
  check_even("poles", poles);
  check_whole("sections", sections);
  check_positive("amperes", amperes);
  check_not_negative("omegas", omegas);
  if numel(amperes) != numel(omegas) || numel(amperes) != numel(spare)
    refuse("the lists differ in length");
  end
  if numel(amperes) < 2
    refuse("fewer than 2 values of amperes");
  end
  if numel(omegas) != 3
    refuse("omegas needs exactly 3 values");
  end
  if amperes(1) < 0 || any(diff(amperes) <= 0)
    refuse("amperes does not ascend from zero or more");
  end
  if omegas(1) < 0 || any(diff(omegas) <= 0)
    refuse("omegas does not ascend from zero or more");
  end
  if all(omegas == omegas(1))
    refuse("the values of omegas are all equal");
  end
  net = volts - drop;  % V: what is left
  if net < 0
    refuse("nothing is left");
  end
  omega = on_line(amperes, omegas, net, "net");  % rad/s: from the table
  total = 0;  % V A: the sum
  for i = 1:numel(amperes)
    total += amperes(i) * net;
  end
  both = 0;  % W: of both
  for i = 1:numel(amperes)
    both += amperes(i) * omegas(i) + net;
  end
  count = 0;  % 1: how many
  for i = 1:numel(omegas)
    count += 1;
  end
  parts = zeros(sections, 1);  % V: part by part
  for counter = 1:sections
    parts(counter) = counter * net / 3;
  end
  second = amperes(2);  % A
end

% One output.
%   volts [V]
%   returns half [V] list
function half = one(volts)
  check_positive("volts", volts);
  half = 0.5 * volts;  % V: half of it
end
"""

OCTAVE_TABLES = """
entries = struct();
entries.toy = struct("inputs", {{"volts", "drop", "offset", "poles", "sections", "amperes", "omegas"}}, \
"outputs", {{"total", "parts", "second"}});
entries.one = struct("inputs", {{"volts"}}, "outputs", {{"half"}});
% id, function, inputs in order, certified values, allowed differences
cases = {};
cases{end + 1} = {"toy-a", "toy", {9.0, 0.5, 0.0, 4.0, 2.0, [1.0, 2.5], [3.0]}, {12.25, [1.5, 2.5], -7}, \
[1.23e-09, 2.5e-12, 7e-12]};
cases{end + 1} = {"toy-refused", "toy", {-9.0, 0.5, 0.0, 4.0, 2.0, [], [3.0]}, {}, []};
if any(strcmp(argv(), "--self-test"))
"""


def test_octave():
    text = octave_source([TOY, ONE], CHECKS)
    assert OCTAVE_FUNCTION in text
    assert OCTAVE_TABLES in text
    head = text.splitlines()
    assert head[0].startswith("% Closed forms")
    assert not any(line != line.rstrip() for line in head)
    assert text.endswith("end\n")


def test_octave_needs_no_line_for_what_is_already_so():
    same = Program(ONE.function, (Let("volts", volts, "V", "given"), Let("half", volts, "V", "all of it")))
    text = octave_source([same], {})
    assert "  volts = volts;" not in text
    assert "  half = volts;  % V: all of it\n" in text


JAVASCRIPT_FUNCTION = """
/**
 * A function made up for this test.
 *
 * @param volts [V]
 * @param drop [V]
 * @param offset [V]
 * @param poles [1]
 * @param sections [1]
 * @param amperes [A] list
 * @param omegas [rad/s] list
 * @returns total [V A], parts [V] (list), second [A]
 */
function toy(volts, drop = 0.5, offset = 0, poles, sections = 2, amperes, omegas) {
  positive("volts", volts);
  not_negative("drop", drop);
  any("offset", offset);
  even("poles", poles);
  whole("sections", sections);
  each(positive, "amperes", amperes);
  each(not_negative, "omegas", omegas);
  if (amperes.length !== omegas.length || amperes.length !== spare.length) {
    refuse("the lists differ in length");
  }
  if (amperes.length < 2) {
    refuse("fewer than 2 values of amperes");
  }
  if (omegas.length !== 3) {
    refuse("omegas needs exactly 3 values");
  }
  if (!ascends(amperes)) {
    refuse("amperes does not ascend from zero or more");
  }
  if (!ascends(omegas)) {
    refuse("omegas does not ascend from zero or more");
  }
  if (omegas.every((value) => value === omegas[0])) {
    refuse("the values of omegas are all equal");
  }
  const net = volts - drop; // V: what is left
  if (net < 0) {
    refuse("nothing is left");
  }
  const omega = on_line(amperes, omegas, net, "net"); // rad/s: from the table
  const total = sum(amperes.length, (i) => amperes[i] * net); // V A: the sum
  const both = sum(amperes.length, (i) => amperes[i] * omegas[i] + net); // W: of both
  const count = sum(omegas.length, () => 1); // 1: how many
  const parts = []; // V: part by part
  for (let counter = 1; counter <= sections; counter += 1) {
    parts.push(counter * net / 3);
  }
  const second = amperes[1]; // A
  return [total, parts, second];
}

/**
 * One output.
 *
 * @param volts [V]
 * @returns half [V] (list)
 */
function one(volts) {
  positive("volts", volts);
  const half = 0.5 * volts; // V: half of it
  return half;
}

const FUNCTIONS = {
  toy: {
    call: toy,
    inputs: ["volts", "drop", "offset", "poles", "sections", "amperes", "omegas"],
    outputs: ["total", "parts", "second"],
  },
  one: {
    call: one,
    inputs: ["volts"],
    outputs: ["half"],
  },
};

// id, function, inputs in order, [certified value, allowed difference]
const CASES = [
  ["toy-a", "toy", [9.0, 0.5, 0.0, 4.0, 2.0, [1.0, 2.5], [3.0]], { total: [12.25, 1.23e-09], parts: [[1.5, 2.5], 2.5e-12], \
second: [-7, 7e-12] }],
  ["toy-refused", "toy", [-9.0, 0.5, 0.0, 4.0, 2.0, [], [3.0]], {  }],
];
"""


def test_javascript():
    text = javascript_source([TOY, ONE], CHECKS)
    assert JAVASCRIPT_FUNCTION in text
    assert text.startswith("// Closed forms")
    assert text.endswith("main();\n}\n")
    assert not any(line != line.rstrip() for line in text.splitlines())


PYTHON_FUNCTION = '''

def toy(volts, drop=0.5, offset=0.0, poles, sections=2.0, amperes, omegas):
    """A function made up for this test.

    Inputs: volts [V], drop [V], offset [V], poles [1], sections [1], amperes [A] (list), omegas [rad/s] (list).
    Returns total [V A], parts [V] (list), second [A].
    """
    _positive("volts", volts)
    _not_negative("drop", drop)
    _any("offset", offset)
    _even("poles", poles)
    _whole("sections", sections)
    _each(_positive, "amperes", amperes)
    _each(_not_negative, "omegas", omegas)
    if len(amperes) != len(omegas) or len(amperes) != len(spare):
        _refuse("the lists differ in length")
    if len(amperes) < 2:
        _refuse("fewer than 2 values of amperes")
    if len(omegas) != 3:
        _refuse("omegas needs exactly 3 values")
    if amperes[0] < 0 or any(a >= b for a, b in zip(amperes, amperes[1:])):
        _refuse("amperes does not ascend from zero or more")
    if omegas[0] < 0 or any(a >= b for a, b in zip(omegas, omegas[1:])):
        _refuse("omegas does not ascend from zero or more")
    if all(value == omegas[0] for value in omegas):
        _refuse("the values of omegas are all equal")
    net = volts - drop  # V: what is left
    if net < 0:
        _refuse("nothing is left")
    omega = _on_line(amperes, omegas, net, "net")  # rad/s: from the table
    total = math.fsum(one_amperes * net for one_amperes in amperes)  # V A: the sum
    both = math.fsum(one_amperes * one_omegas + net for one_amperes, one_omegas in zip(amperes, omegas))  # W: of both
    count = float(len(omegas))  # 1: how many
    parts = [  # V: part by part
        counter * net / 3 for counter in range(1, int(sections) + 1)
    ]
    second = amperes[1]  # A
    return total, parts, second


def one(volts):
    """One output.

    Inputs: volts [V].
    Returns half [V] (list).
    """
    _positive("volts", volts)
    half = 0.5 * volts  # V: half of it
    return half


FUNCTIONS = {
    "toy": (toy, ['total', 'parts', 'second']),
    "one": (one, ['half']),
}

CASES = [
    ("toy-a", "toy", (9.0, 0.5, 0.0, 4.0, 2.0, [1.0, 2.5], [3.0],), {"total": (12.25, 1.23e-09), \
"parts": ([1.5, 2.5], 2.5e-12), "second": (-7, 7e-12)}),
    ("toy-refused", "toy", (-9.0, 0.5, 0.0, 4.0, 2.0, [], [3.0],), {}),
]


def answer(line):
'''


def test_python():
    text = python_source([TOY, ONE], CHECKS)
    assert PYTHON_FUNCTION in text
    assert text.startswith('"""Closed forms')
    assert text.endswith("sys.exit(main())\n")
    assert not any(line != line.rstrip() for line in text.splitlines())


# --- the Python of the whole suite, run here


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    from shuntref.conformance.export.writer import export_source

    path = tmp_path_factory.mktemp("lines") / "motor.py"
    path.write_text(export_source("python").text, encoding="utf-8")
    return runpy.run_path(str(path))


def test_every_certified_case_is_met_by_the_exported_python_in_this_process(exported):
    from shuntref.conformance.comparison import worst_share
    from shuntref.conformance.suite import load_suite

    wrong = []
    for number, case in enumerate(load_suite().cases):
        inputs = {k: list(v) if isinstance(v, tuple) else v for k, v in case.inputs.items()}
        line = json.dumps({"request": "run", "id": number, "name": case.function, "inputs": inputs})
        reply = exported["answer"](line)
        assert reply["id"] == number
        if "broken" in reply or worst_share(case, reply.get("result")) > 1:
            wrong.append((case.id, reply))
    assert wrong == []


def test_the_exported_self_test_counts_and_names_what_is_wrong(exported, capsys):
    assert exported["self_test"]() == 0
    assert capsys.readouterr().out == f"{len(exported['CASES'])} certified cases, 0 wrong\n"
