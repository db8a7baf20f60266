"""The mutants of a file, as cosmic-ray's operators make them, less those that cannot change what a program does."""

from __future__ import annotations

import ast
import difflib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cosmic_ray.plugins
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code

#: operators that may stand for one another; the others of the tool's list end in a TypeError on numbers and prove nothing
FAMILIES = ({"Add", "Sub", "Mul", "Div", "FloorDiv", "Mod", "Pow"}, {"BitOr", "BitAnd", "BitXor"})
_NEEDS_ARGUMENTS = {"variable-inserter", "variable-replacer"}


@dataclass(frozen=True)
class Mutant:
    """One change of one file."""

    path: str
    operator: str
    occurrence: int
    line: int

    def source(self) -> str | None:
        """The file with the change in it, or None where the tool makes none."""
        code = Path(self.path).read_text(encoding="utf-8")
        return mutate_code(code, cosmic_ray.plugins.get_operator(self.operator)(), self.occurrence)  # type: ignore[no-any-return]

    def difference(self, changed: str) -> list[str]:
        """The lines taken away and put in."""
        code = Path(self.path).read_text(encoding="utf-8")
        lines = difflib.unified_diff(code.splitlines(), changed.splitlines(), lineterm="", n=0)
        return [line for line in lines if line[:1] in "+-" and line[:3] not in ("+++", "---")]


def mutants_of(path: str) -> Iterator[Mutant]:
    """All mutants of a file, in the tool's order."""
    code = Path(path).read_text(encoding="utf-8")
    nodes = list(ast_nodes(get_ast(code)))
    idle = _idle(ast.parse(code))
    for name, operator in _operators():
        occurrence = 0
        for node in nodes:
            for start, stop in operator.mutation_positions(node):
                if not any(first <= start and stop <= last for first, last in idle):
                    yield Mutant(path, name, occurrence, start[0])
                occurrence += 1


@cache
def _operators() -> tuple[tuple[str, Any], ...]:
    found = []
    for name in sorted(cosmic_ray.plugins.operator_names()):
        short = name.rsplit("/", 1)[-1]
        kind = cosmic_ray.plugins.get_operator(name)
        if short.startswith("ReplaceBinaryOperator_"):
            _, old, new = short.split("_")
            if not any({old, new} <= family for family in FAMILIES):
                continue
        if not kind.arguments() and short not in _NEEDS_ARGUMENTS:
            found.append((name, kind()))
    return tuple(found)


def _idle(tree: ast.Module) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Where nothing can differ: annotations (they are text here), what only a type checker reads, and what saves time or
    room only (a cache and its size, the slots of a record)."""
    idle = []
    for node in ast.walk(tree):
        if isinstance(node, ast.arg | ast.AnnAssign) and node.annotation is not None:
            idle.append(_span(node.annotation))
        if isinstance(node, ast.FunctionDef) and node.returns is not None:
            idle.append(_span(node.returns))
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            idle.append(_span(node))
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            idle += [span for decorator in node.decorator_list for span in _saving(decorator)]
    return idle


def _saving(decorator: ast.expr) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """The parts of a decorator that save time or room and change nothing else."""
    name = ast.unparse(decorator.func if isinstance(decorator, ast.Call) else decorator)
    if name in ("cache", "lru_cache"):
        yield (decorator.lineno, 0), ((decorator.end_lineno or 0) + 1, 0)
    elif isinstance(decorator, ast.Call):
        yield from (_span(keyword) for keyword in decorator.keywords if keyword.arg == "slots")


def _span(node: Any) -> tuple[tuple[int, int], tuple[int, int]]:
    return (node.lineno, node.col_offset), (node.end_lineno, node.end_col_offset)
