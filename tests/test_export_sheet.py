"""The exported spreadsheet worked out by a small reader of OpenFormula: every case of every function, without the program."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as Xml
from decimal import Decimal
from functools import cache

import numpy as np
import pytest

from shuntref.conformance.export.programs import exported_functions
from shuntref.conformance.export.writer import export_source
from shuntref.conformance.judge import Answer, judge
from shuntref.conformance.suite import load_suite

SUITE = load_suite()
TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
TOKEN = re.compile(r'\s*(\[[^\]]*\]|"[^"]*"|\d+\.?\d*(?:[eE][+-]?\d+)?|[A-Z]+\(|<>|<=|>=|[-+*/<>=();])')


class CellError(Exception):
    """An error value such as #N/A."""


class Sheets:
    """All sheets of a file; cells are worked out when they are asked for."""

    def __init__(self, text):
        self.rows = {}
        for sheet in Xml.fromstring(text).iter(f"{TABLE}table"):
            self.rows[sheet.get(f"{TABLE}name")] = [list(row) for row in sheet.iter(f"{TABLE}table-row")]
        self.known = {}

    def value(self, sheet, row, column):
        """The value of a cell, counted from 0: a number, a text, or None where it is empty."""
        place = (sheet, row, column)
        if place not in self.known:
            try:
                self.known[place] = self._worked_out(*place)
            except (CellError, ZeroDivisionError, OverflowError, ValueError) as error:
                self.known[place] = CellError(str(error))
        found = self.known[place]
        if isinstance(found, CellError):
            raise found
        return found

    def _worked_out(self, sheet, row, column):
        cells = self.rows[sheet][row]
        cell = cells[column] if column < len(cells) else None
        if cell is None:
            return None
        if formula := cell.get(f"{TABLE}formula"):
            assert formula.startswith("of:=")
            return Formula(self, sheet, formula[4:]).value()
        if number := cell.get(f"{OFFICE}value"):
            return float(number)
        return "".join(cell.itertext()) or None

    def texts(self, sheet, row):
        return ["".join(cell.itertext()) for cell in self.rows[sheet][row]]


def place_of(reference):
    letters, row = re.fullmatch(r"([A-Z]+)(\d+)", reference).groups()
    column = 0
    for letter in letters:
        column = 26 * column + ord(letter) - ord("A") + 1
    return int(row) - 1, column - 1


def number(x):
    """An empty cell counts as nothing where a number is needed."""
    if isinstance(x, str):
        raise CellError("#VALUE!")
    if isinstance(x, np.ndarray):
        return np.array([number(item) for item in x], dtype=float)
    return 0.0 if x is None else x


def numbers(ranges):
    listed = [item for r in ranges for item in (r if isinstance(r, np.ndarray) else [r])]
    return [item for item in listed if isinstance(item, float)]


class Formula:
    """One formula: a comparison of sums of products of signed values."""

    def __init__(self, sheets, sheet, text):
        self.sheets, self.sheet, self.text = sheets, sheet, text
        self.tokens, at = [], 0
        while at < len(text):
            match = TOKEN.match(text, at)
            assert match, f"not understood: {text[at:]!r}"
            self.tokens.append(match.group(1))
            at = match.end()
        self.at = 0

    def value(self):
        thunk = self._comparison()
        assert self.at == len(self.tokens), f"more than a formula: {self.text}"
        return thunk()

    def _next(self, *wanted):
        if self.at < len(self.tokens) and self.tokens[self.at] in wanted:
            self.at += 1
            return self.tokens[self.at - 1]
        return ""

    def _comparison(self):
        left = self._sum()
        mark = self._next("<", ">", "<=", ">=", "<>", "=")
        if not mark:
            return left
        right = self._sum()
        compare = {"<": np.less, ">": np.greater, "<=": np.less_equal, ">=": np.greater_equal, "<>": np.not_equal,
                   "=": np.equal}[mark]  # fmt: skip
        return lambda: compare(number(left()), number(right()))

    def _sum(self):
        found = self._product()
        while mark := self._next("+", "-"):
            other, sign = self._product(), 1 if mark == "+" else -1
            found = lambda a=found, b=other, s=sign: number(a()) + s * number(b())  # noqa: E731
        return found

    def _product(self):
        found = self._signed()
        while mark := self._next("*", "/"):
            other = self._signed()
            found = (lambda a=found, b=other: number(a()) * number(b())) if mark == "*" else (
                lambda a=found, b=other: divided(number(a()), number(b())))  # fmt: skip
        return found

    def _signed(self):
        if self._next("-"):
            inner = self._signed()
            return lambda: -number(inner())
        return self._single()

    def _single(self):
        token = self.tokens[self.at]
        self.at += 1
        if token == "(":
            inner = self._comparison()
            assert self._next(")")
            return inner
        if token.startswith("["):
            return self._reference(token[1:-1])
        if token.startswith('"'):
            return lambda: token[1:-1]
        if token.endswith("("):
            arguments = []
            while not self._next(")"):
                arguments.append(self._comparison())
                self._next(";")
            return lambda: FUNCTIONS[token[:-1]](*arguments)
        return lambda: float(token)

    def _reference(self, text):
        sheet, _, first = text.partition(".")
        name = sheet.removeprefix("$") or self.sheet
        if ":" not in first:
            row, column = place_of(first)
            return lambda: self.sheets.value(name, row, column)
        start, end = first.split(":.")
        (row, left), (same, right) = place_of(start), place_of(end)
        assert row == same
        assert left <= right
        return lambda: np.array([self.sheets.value(name, row, c) for c in range(left, right + 1)], dtype=object)


def divided(a, b):
    if np.any(b == 0):
        raise CellError("#DIV/0!")
    return a / b


def is_number(x):
    found = x()
    if isinstance(found, np.ndarray):
        return np.array([isinstance(item, float) for item in found])
    return isinstance(found, float | np.floating)


def is_error(x):
    try:
        x()
    except (CellError, ZeroDivisionError, OverflowError, ValueError):
        return True
    return False


def raised(base, exponent):
    if np.any((base < 0) & (exponent % 1 != 0)) or np.any((base == 0) & (exponent < 0)):
        raise CellError("#NUM!")
    return np.power(base, exponent)


def truths(conditions):
    """Every condition is worked out: an error in one is an error of the whole."""
    return [bool(condition()) for condition in conditions]


def not_available():
    raise CellError("#N/A")


FUNCTIONS = {
    "IF": lambda condition, a, b: a() if condition() else b(),
    "OR": lambda *x: any(truths(x)),
    "AND": lambda *x: all(truths(x)),
    "NOT": lambda x: np.logical_not(x()),
    "NA": not_available,
    "TRUE": lambda: True,
    "FALSE": lambda: False,
    "PI": lambda: math.pi,
    "ISNUMBER": is_number,
    "ISERROR": is_error,
    "SQRT": lambda x: math.sqrt(number(x())),
    "ABS": lambda x: np.abs(number(x())),
    "SIGN": lambda x: float(np.sign(number(x()))),
    "LN": lambda x: math.log(number(x())),
    "CEILING": lambda x: float(math.ceil(number(x()))),
    "INT": lambda x: np.floor(number(x())),
    "MOD": lambda x, y: np.mod(number(x()), number(y())),
    "POWER": lambda x, y: raised(number(x()), number(y())),
    "MIN": lambda *x: min(numbers([item() for item in x]), default=0.0),
    "MAX": lambda *x: max(numbers([item() for item in x]), default=0.0),
    "COUNT": lambda *x: float(len(numbers([item() for item in x]))),
    "SUMPRODUCT": lambda x: float(np.sum(number(x()))),
    "MATCH": lambda x, xs, kind: float(sum(v <= x() for v in numbers([xs()]))),
    "INDEX": lambda values, row, column: number(values()[int(column()) - 1]),
}


@cache
def sheets_of(name):
    return Sheets(export_source("openformula", [name]).text)


def answer_to(name, row):
    """What the first sheet shows for a case: as one who reads it would take it."""
    sheets = sheets_of(name)
    heading = sheets.texts("answers", 0)
    found = {}
    for column, words in enumerate(heading):
        if not words.startswith("answer "):
            continue
        quantity, *place = words.split(" [")[0].split()[1:]
        try:
            value = sheets.value("answers", row, column)
        except CellError:
            value = math.nan
        if value in (None, ""):
            continue
        number_ = Decimal(float(value))
        found[quantity] = (*found.get(quantity, ()), number_) if place else number_
    return found


@pytest.mark.parametrize("name", exported_functions())
def test_every_case_comes_out_as_certified(name):
    cases = [case for case in SUITE.cases if case.function == name]
    sheets = sheets_of(name)
    assert len(sheets.rows["answers"]) == 1 + len(cases)
    wrong = []
    for row, case in enumerate(cases, 1):
        assert sheets.texts("answers", row)[:2] == [case.id, name]
        verdict = judge(case, Answer("values", answer_to(name, row)))
        if verdict.status != "passed":
            wrong.append((case.id, verdict.reason))
    assert wrong == []


@pytest.mark.parametrize("name", exported_functions())
def test_the_self_test_of_the_sheet_finds_nothing_wrong_and_compares_every_output(name):
    sheets = sheets_of(name)
    rows = sheets.rows["self-test"]
    assert sheets.texts("self-test", 0) == ["id", "output", "computed", "certified", "allowed difference", "agrees"]
    assert [sheets.value("self-test", row, 5) for row in range(1, len(rows) - 1)] == [True] * (len(rows) - 2)
    formula = rows[-1][5].get(f"{TABLE}formula")
    assert formula == f"of:=COUNTIF([.F2:.F{len(rows) - 1}];FALSE())"
    listed = [sheets.texts("self-test", row) for row in range(1, len(rows) - 1)]
    for place in {entry[0] for entry in listed}:
        case = next(case for case in SUITE.cases if case.id == place)
        own = [(row, entry) for row, entry in enumerate(listed, 1) if entry[0] == place]
        if case.result == "invalid":
            assert [entry[3] for _, entry in own] == ["refused"] * len(SUITE.functions[name].outputs)
            continue
        certified = [v for value in case.expected.values() for v in (value if isinstance(value, tuple) else [value])]
        assert [sheets.value("self-test", row, 3) for row, _ in own] == [float(v) for v in certified]
        # what is compared is that very answer, and the comparison can fail
        for row, _ in own:
            computed = sheets.value("self-test", row, 2)
            allowed = sheets.value("self-test", row, 4)
            assert abs(computed - sheets.value("self-test", row, 3)) <= allowed <= 1e-6 * max(1.0, abs(computed))
            agrees = rows[row][5].get(f"{TABLE}formula")
            assert agrees == f"of:=IF(ISERROR([.C{row + 1}]);FALSE();ABS([.C{row + 1}]-[.D{row + 1}])<=[.E{row + 1}])"


def test_a_column_holds_what_its_heading_says():
    sheets = sheets_of("starter_grading")
    heading = sheets.texts("starter_grading", 1)
    assert heading[:5] == ["id", "supply_voltage [V]", "armature_resistance [ohm]", "upper_current [A]", "sections [1]"]
    assert len(heading) == len(sheets.rows["starter_grading"][2])
    assert len(set(heading)) == len(heading)
    most = max(case.inputs["sections"] for case in SUITE.cases if case.function == "starter_grading"
               and 0 < case.inputs["sections"] < 100)  # fmt: skip
    for words in ("section_resistance", "answer section_resistance"):
        assert [h for h in heading if h.startswith(words + " ")] == [f"{words} {n + 1} [ohm]" for n in range(int(most))]
