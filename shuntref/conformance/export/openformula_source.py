"""The exported functions as a flat OpenDocument spreadsheet: one sheet for each function, one row for each case.

Every step is a column of its own with an OpenFormula formula, so the working can be read off the sheet. The first sheet
gathers the answers in the form that ``shuntref conform --read-answers`` takes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from xml.sax.saxutils import escape, quoteattr

from shuntref.conformance.export.checks import SelfTest, header_lines
from shuntref.conformance.export.infix import OPENFORMULA, infix
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
from shuntref.conformance.functions import Input
from shuntref.conformance.suite import Case, Suite

__all__ = ["openformula_source"]

_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
 xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0"
 xmlns:number="urn:oasis:names:tc:opendocument:xmlns:datastyle:1.0"
 xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"
 office:version="1.3" office:mimetype="application/vnd.oasis.opendocument.spreadsheet">
<office:automatic-styles>
<number:number-style style:name="exact"><number:scientific-number number:decimal-places="15" number:min-integer-digits="1" \
number:min-exponent-digits="2"/></number:number-style>
<style:style style:name="answer" style:family="table-cell" style:data-style-name="exact"/>
</office:automatic-styles>
<office:body><office:spreadsheet>
"""
_TAIL = "</office:spreadsheet></office:body></office:document>\n"


def column_letters(position: int) -> str:
    """Return the letters of a column, counted from 0.

    Examples
    --------
    >>> column_letters(0), column_letters(25), column_letters(26), column_letters(701), column_letters(702)
    ('A', 'Z', 'AA', 'ZZ', 'AAA')
    """
    letters = ""
    position += 1
    while position:
        position, rest = divmod(position - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _text(words: str) -> str:
    return f'<table:table-cell office:value-type="string"><text:p>{escape(words)}</text:p></table:table-cell>'


def _value(number: float) -> str:
    return f'<table:table-cell office:value-type="float" office:value="{number!r}"/>'


def _formula(formula: str, style: str = "") -> str:
    styled = f' table:style-name="{style}"' if style else ""
    return f"<table:table-cell{styled} table:formula={quoteattr('of:=' + formula)}/>"


_EMPTY = "<table:table-cell/>"


def _row(cells: Sequence[str]) -> str:
    return f"<table:table-row>{''.join(cells)}</table:table-row>\n"


def _sheet(name: str, rows: Sequence[Sequence[str]]) -> str:
    return f"<table:table table:name={quoteattr(name)}>\n{''.join(map(_row, rows))}</table:table>\n"


class _Layout:
    """Which column holds what on the sheet of one function; the widths of lists are those of its cases."""

    def __init__(self, program: Program, cases: Sequence[Case]) -> None:
        self.program = program
        self.headings = ["id"]
        self._first: dict[str, int] = {}
        self.width: dict[str, int] = {}
        for entry in program.function.inputs:
            lengths = [len(v) for case in cases if isinstance(v := case.inputs.get(entry.name), tuple)]
            self._add(entry.name, entry.unit, max([2, *lengths]) if entry.is_list else 0)
        for step in program.steps:
            if isinstance(step, Let | LookUp | SumOver | TakeItem):
                self._add(step.name, step.unit)
            elif isinstance(step, ListOf):
                counts = [
                    int(v) for case in cases if isinstance(v := case.inputs.get(step.count), float) and 0 < v < 100
                ]
                self._add(step.name, step.unit, max([2, *counts]))
        self._add("refused")
        for output in program.function.outputs:
            self._add(f"answer {output.name}", output.unit, self.width.get(output.name, 0))

    def _add(self, name: str, unit: str = "", width: int = 0) -> None:
        self._first.setdefault(name, len(self.headings))
        if width:
            self.width[name] = width
        shown = [f"{name} {i}" for i in range(1, width + 1)] if width else [name]
        self.headings += [f"{words} [{unit}]" if unit else words for words in shown]

    def cell(self, name: str, row: int, item: int = 0) -> str:
        return f"[.{column_letters(self._first[name] + item)}{row}]"

    def cells(self, name: str, row: int, skip_first: int = 0, skip_last: int = 0) -> str:
        first = self._first[name]
        last = first + self.width[name] - 1
        return f"[.{column_letters(first + skip_first)}{row}:.{column_letters(last - skip_last)}{row}]"

    def answers(self) -> list[tuple[str, str, int]]:
        """Headings of the answer columns, their cells' name and item."""
        found = []
        for output in self.program.function.outputs:
            name = f"answer {output.name}"
            for item in range(self.width.get(name, 1)):
                heading = f"{name} {item + 1}" if name in self.width else name
                found.append((f"{heading} [{output.unit}]", name, item))
        return found


def _unacceptable(entry: Input, layout: _Layout, row: int) -> str:
    tests: dict[str, Callable[[str], str]] = {
        "positive": lambda x: f"({x}<=0)",
        "not negative": lambda x: f"({x}<0)",
        "any": lambda x: f"NOT(ISNUMBER({x}))",
        "whole": lambda x: f"OR({x}<=0;{x}<>INT({x}))",
        "even": lambda x: f"OR({x}<=0;MOD({x};2)<>0)",
    }
    if entry.is_list:
        cells = layout.cells(entry.name, row)
        return f"SUMPRODUCT(ISNUMBER({cells})*{tests[entry.accept](cells)})>0"
    cell = layout.cell(entry.name, row)
    return f"IF(ISNUMBER({cell});{tests[entry.accept](cell)};TRUE())"


def _table_refusals(step: RefuseTable, layout: _Layout, row: int) -> list[str]:
    counts = [f"COUNT({layout.cells(name, row)})" for name in step.lists]
    first = layout.cells(step.lists[0], row)
    if step.demand == "same length":
        return [f"{counts[0]}<>{count}" for count in counts[1:]]
    if step.demand == "at least":
        return [f"{counts[0]}<{step.count}"]
    if step.demand == "exactly":
        return [f"{counts[0]}<>{step.count}"]
    if step.demand == "ascending":
        found = []
        for name in step.lists:
            left, right = layout.cells(name, row, skip_last=1), layout.cells(name, row, skip_first=1)
            found += [f"{layout.cell(name, row)}<0", f"SUMPRODUCT(ISNUMBER({right})*({left}>={right}))>0"]
        return found
    return [f"MIN({first})=MAX({first})"]


def _ranged(layout: _Layout, row: int, lists: Sequence[str]) -> Callable[[str], str]:
    """Names of lists become the range of all their items, others a cell."""
    return lambda name: layout.cells(name, row) if name in lists else layout.cell(name, row)


def _counted(layout: _Layout, row: int, counter: str, item: int) -> Callable[[str], str]:
    """The counter becomes a plain number, other names a cell."""
    return lambda name: str(item) if name == counter else layout.cell(name, row)


def _case_row(layout: _Layout, case: Case, row: int) -> list[str]:
    program = layout.program
    scalar = replace(OPENFORMULA, name=lambda name: layout.cell(name, row))
    cells = [_text(case.id)]
    refusals = []
    for entry in program.function.inputs:
        value = case.inputs.get(entry.name, entry.default)
        listed = list(value) if isinstance(value, tuple) else [value]
        cells += [_EMPTY if item is None else _value(item) for item in listed]
        cells += [_EMPTY] * (max(1, layout.width.get(entry.name, 1)) - len(listed))
        refusals.append(_unacceptable(entry, layout, row))
    for step in program.steps:
        if isinstance(step, Let):
            cells.append(_formula(infix(step.expression, scalar)))
        elif isinstance(step, RefuseIf):
            refusals.append(infix(step.condition, scalar))
        elif isinstance(step, RefuseTable):
            refusals += _table_refusals(step, layout, row)
        elif isinstance(step, LookUp):
            xs, ys, at = layout.cells(step.xs, row), layout.cells(step.ys, row), layout.cell(step.at, row)
            refusals += [f"{at}<MIN({xs})", f"{at}>MAX({xs})"]
            left = f"MIN(MATCH({at};{xs};1);COUNT({xs})-1)"
            x0, y0, x1, y1 = (f"INDEX({v};1;{left}{more})" for more in ("", "+1") for v in (xs, ys))
            cells.append(_formula(f"{y0}+({y1}-{y0})*(({at}-{x0})/({x1}-{x0}))"))
        elif isinstance(step, SumOver):
            term = infix(step.term, replace(scalar, name=_ranged(layout, row, step.lists)))
            cells.append(_formula(f"SUMPRODUCT(ISNUMBER({layout.cells(step.lists[0], row)})*({term}))"))
        elif isinstance(step, ListOf):
            for item in range(1, layout.width[step.name] + 1):
                term = infix(step.term, replace(scalar, name=_counted(layout, row, step.counter, item)))
                cells.append(_formula(f'IF({item}<={layout.cell(step.count, row)};{term};"")'))
        else:
            cells.append(_formula(layout.cell(step.source, row, step.position - 1)))
    cells.append(_formula(f"OR({';'.join(refusals)})"))
    refused = layout.cell("refused", row)
    for output in program.function.outputs:
        for item in range(layout.width.get(output.name, 1)):
            cells.append(_formula(f"IF({refused};NA();{layout.cell(output.name, row, item)})", "answer"))
    return cells


def openformula_source(programs: Sequence[Program], tests: Mapping[str, Sequence[SelfTest]], suite: Suite) -> str:
    """Return the spreadsheet as flat XML (.fods).

    Notes
    -----
    Inputs that are not acceptable give the error value #N/A. Lists stand in numbered columns, as many as the longest case
    needs; empty cells at their end are left out of sums and tables.
    """
    usage = "Open it in a spreadsheet program, or: soffice --headless --convert-to csv motor.fods"
    sheets, gathered, headings = [], [], {}
    places: dict[str, tuple[_Layout, int]] = {}
    for program in programs:
        cases = [case for case in suite.cases if case.function == program.function.name]
        layout = _Layout(program, cases)
        rows = [[_text(program.function.sentence)], [_text(h) for h in layout.headings]]
        for case in cases:
            places[case.id] = (layout, len(rows) + 1)
            rows.append(_case_row(layout, case, len(rows) + 1))
        sheets.append(_sheet(program.function.name, rows))
        headings.update(dict.fromkeys(heading for heading, _, _ in layout.answers()))
    for case_id, (layout, row) in places.items():
        function = layout.program.function.name
        own = {
            heading: _formula(f"[${function}.{layout.cell(name, row, item)[2:-1]}]", "answer")
            for heading, name, item in layout.answers()
        }
        gathered.append([_text(case_id), _text(function), *(own.get(h, _EMPTY) for h in headings)])
    first = _sheet("answers", [[_text("id"), _text("function"), *map(_text, headings)], *gathered])
    about = _sheet("about", [[_text(line)] for line in header_lines("OpenFormula", usage)])
    return _HEAD + first + about + "".join(sheets) + _self_test_sheet(tests, places) + _TAIL


def _self_test_sheet(tests: Mapping[str, Sequence[SelfTest]], places: Mapping[str, tuple[_Layout, int]]) -> str:
    rows = [[_text(h) for h in ("id", "output", "computed", "certified", "allowed difference", "agrees")]]
    for test in (test for listed in tests.values() for test in listed):
        layout, place = places[test.id]
        function = layout.program.function
        for output in function.outputs:
            if test.refused:
                wanted: Sequence[str] = [""]
            else:
                value = test.expected[output.name]
                wanted = value if isinstance(value, tuple) else [value]
            for item, certified in enumerate(wanted):
                row = len(rows) + 1
                source = layout.cell(f"answer {output.name}", place, item)[2:-1]
                cells = [_text(test.id), _text(output.name), _formula(f"[${function.name}.{source}]", "answer")]
                if test.refused:
                    cells += [_text("refused"), _EMPTY, _formula(f"ISERROR([.C{row}])")]
                else:
                    agrees = f"IF(ISERROR([.C{row}]);FALSE();ABS([.C{row}]-[.D{row}])<=[.E{row}])"
                    cells += [_value(float(certified)), _value(test.allowed[output.name]), _formula(agrees)]
                rows.append(cells)
    last = len(rows)
    rows.append([_text("wrong"), _EMPTY, _EMPTY, _EMPTY, _EMPTY, _formula(f"COUNTIF([.F2:.F{last}];FALSE())")])
    return _sheet("self-test", rows)
