"""What an exported function does, step by step, in no particular language.

An expression is a sympy expression whose symbols are names of inputs or of earlier steps; it is only ever printed.
"""

from __future__ import annotations

from dataclasses import dataclass

import sympy as sp

from shuntref.conformance.functions import Function

__all__ = ["Let", "ListOf", "LookUp", "Program", "RefuseIf", "RefuseTable", "Step", "SumOver", "TakeItem"]


@dataclass(frozen=True, slots=True)
class Let:
    """A quantity found from earlier ones; ``words`` say by which law, ``unit`` in what unit."""

    name: str
    expression: sp.Expr
    unit: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class RefuseIf:
    """The inputs are refused when ``condition`` holds."""

    condition: sp.Basic
    text: str


@dataclass(frozen=True, slots=True)
class RefuseTable:
    """The inputs are refused unless lists are as they must be.

    ``demand`` is "same length" (all ``lists``), "at least" or "exactly" (``count`` values in the first), "ascending" (each
    of them from zero or more) or "not all equal" (the first).
    """

    demand: str
    lists: tuple[str, ...]
    count: int = 0


@dataclass(frozen=True, slots=True)
class LookUp:
    """``name`` is read off the straight lines through the points (xs, ys) at ``at``; outside the points it is refused."""

    name: str
    xs: str
    ys: str
    at: str
    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class SumOver:
    """``name`` is the sum of ``term`` over all items of the ``lists``, whose names in the term mean one item each."""

    name: str
    term: sp.Expr
    lists: tuple[str, ...]
    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class ListOf:
    """``name`` is the list of ``term`` for ``counter`` = 1, 2, ... up to the whole number ``count``."""

    name: str
    term: sp.Expr
    counter: str
    count: str
    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class TakeItem:
    """``name`` is item number ``position`` (from 1) of the list ``source``."""

    name: str
    source: str
    position: int
    unit: str


Step = Let | RefuseIf | RefuseTable | LookUp | SumOver | ListOf | TakeItem


@dataclass(frozen=True, slots=True)
class Program:
    """One function of the suite with the steps that lead from its inputs to its outputs."""

    function: Function
    steps: tuple[Step, ...]

    @property
    def lists(self) -> tuple[str, ...]:
        """Names of the inputs that are lists."""
        return tuple(entry.name for entry in self.function.inputs if entry.is_list)
