"""Which test runs which line of the package, and which tests a change is put to."""

from __future__ import annotations

import ast
import os
import sqlite3
import subprocess
import sys
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path

from mutants import Mutant

ROOT = Path(__file__).resolve().parents[1]
PER_FUNCTION, TESTS = 30, 800


def trace(also: list[str]) -> None:
    """Run the whole suite and record which test runs which line; or add to the record some test files written since."""
    if not also:
        for old in ROOT.glob(".coverage*"):
            old.unlink()
    command = "-m pytest -p fresh_caches --cov=shuntref --cov-context=test --cov-report="
    more = ["--cov-append", *also] if also else []
    here = os.environ | {"PYTHONPATH": str(ROOT / ".ci"), "CI": "true"}
    subprocess.run([sys.executable, *command.split(), *more], cwd=ROOT, check=True, env=here)


class Coverage:
    """Which tests run a line, the most specific first."""

    def __init__(self) -> None:
        from coverage.numbits import numbits_to_nums

        with sqlite3.connect(ROOT / ".coverage") as data:
            path_of = {n: os.path.relpath(path, ROOT) for n, path in data.execute("select id, path from file")}
            name_of = {n: name.rpartition("|")[0] for n, name in data.execute("select id, context from context")}
            self.tests: dict[tuple[str, int], set[str]] = defaultdict(set)
            self.of_file: dict[str, set[str]] = defaultdict(set)
            self.breadth: Counter[str] = Counter()
            for file, context, bits in data.execute("select file_id, context_id, numbits from line_bits"):
                name, path = name_of[context], path_of[file]
                if not name:
                    continue
                self.of_file[path].add(name)
                lines = numbits_to_nums(bits)
                self.breadth[name] += len(lines)
                for line in lines:
                    self.tests[path, line].add(name)

    def chosen(self, mutant: Mutant) -> list[str]:
        """The tests that a mutant is put to: those of its line, then others of its file.

        The others are needed where results are kept: the trace names only the first test that had one worked out.
        """
        lines = [*_statement_lines(mutant.path, mutant.line), *_uses_of_constant(mutant.path, mutant.line)]
        found = set().union(*(self.tests.get((mutant.path, line), set()) for line in lines))
        # what is run at import, as tables of laws are, the trace puts down to the test that happened to import it
        if not found or not _within_function(mutant.path, mutant.line):
            room = f"tests/test_{Path(mutant.path).parts[1]}"
            named = _of_records(mutant.path)  # they run no line of the package, so the trace has none of them
            own = self.of_file.get(mutant.path, set())
            near = {name for name in self.breadth if name.startswith(room)} - own
            first = self._various(found, PER_FUNCTION)
            rest = [test for tests in (own - found, near - found) for test in self._various(tests, len(tests))]
            return [*named, *first, *rest][: 2 * TESTS]
        of_line = self._various(found, PER_FUNCTION)
        others = self._various(self.of_file.get(mutant.path, set()) - found, 2 * PER_FUNCTION)
        return [*of_line, *others][:TESTS]

    def _various(self, names: set[str], of_one: int) -> list[str]:
        """The most specific first, and so many cases of one parametrised test, from all over its list."""
        cases: dict[str, list[str]] = defaultdict(list)
        for name in sorted(names):
            cases[name.split("[")[0]].append(name)
        kept = [name for same in cases.values() for name in same[:: max(1, -(-len(same) // of_one))]]
        return sorted(kept, key=lambda name: (self.breadth[name], name))


@cache
def _of_records(path: str) -> tuple[str, ...]:
    module = ".".join(Path(path).with_suffix("").parts[1:])
    classes = [
        node for node in ast.parse(Path(path).read_text(encoding="utf-8")).body if isinstance(node, ast.ClassDef)
    ]
    records = [node.name for node in classes if any("frozen=True" in ast.unparse(d) for d in node.decorator_list)]
    return tuple(f"tests/test_records.py::test_a_record_is_frozen[{module}.{name}]" for name in records)


@cache
def _uses_of_constant(path: str, line: int) -> tuple[int, ...]:
    """The lines within functions of its file that use what is assigned at a line outside of any."""
    tree = ast.parse(Path(path).read_text(encoding="utf-8"))
    names = {
        name.id
        for node in tree.body
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.lineno <= line <= (node.end_lineno or 0)
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        for name in ast.walk(target)
        if isinstance(name, ast.Name)
    }
    used = (node for node in ast.walk(tree) if isinstance(node, ast.Name) and node.id in names)
    starts = {
        start for node in used if _within_function(path, node.lineno) for start in _statement_lines(path, node.lineno)
    }
    return tuple(sorted(starts))


@cache
def _bodies(path: str) -> tuple[range, ...]:
    tree = ast.parse(Path(path).read_text(encoding="utf-8"))
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    return tuple(range(node.body[0].lineno, (node.end_lineno or 0) + 1) for node in functions)


def _within_function(path: str, line: int) -> bool:
    return any(line in body for body in _bodies(path))


def _statement_lines(path: str, line: int) -> range:
    """The lines of the smallest statement around a line: a trace knows a statement by its first line."""
    best = range(line, line + 1)
    size = 10**9
    for node in ast.walk(ast.parse(Path(path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or 0):
            span = (node.end_lineno or 0) - node.lineno
            simple = not hasattr(node, "body")
            if span < size and (simple or node.lineno == line):
                best, size = range(node.lineno, (node.end_lineno or 0) + 1 if simple else node.lineno + 1), span
    return best
