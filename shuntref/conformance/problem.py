"""What a function of the suite stands for: a set of balance equations, what is wanted of them, and what is refused.

A mistake is the same set with an equation replaced, so that a wrong value is computed exactly as the right one is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import sympy as sp
from mpmath import mpf

from shuntref.conformance.elimination import Move, Unsolvable, plan, run
from shuntref.theory.laws import law

__all__ = [
    "DIRECTION",
    "DUST",
    "Namer",
    "Problem",
    "Values",
    "equations",
    "flatten",
    "namer",
    "segments",
    "solve",
    "variable",
]

Values = dict[str, Any]
Namer = Callable[[str], sp.Symbol]
Builder = Callable[[Namer], sp.Eq]

#: sign of the armature current: 1 motoring, -1 regenerating, 0 no current
DIRECTION = "current_direction"
_REFERENCE = "reference:"


def variable(name: str) -> sp.Symbol:
    """Return the symbol of a registry quantity, of one reading of a list, or of an auxiliary such as the direction."""
    return sp.Symbol(name, real=True)


def namer(shared: Iterable[str] | None) -> Namer:
    """Return what turns a name into its symbol: as it stands, or in the reference state where it is not ``shared``.

    Examples
    --------
    >>> namer(None)("speed"), namer(["brush_drop"])("speed"), namer(["brush_drop"])("brush_drop")
    (speed, reference_speed, brush_drop)
    """
    if shared is None:
        return variable
    kept = frozenset(shared)
    return lambda name: variable(name if name in kept else f"reference_{name}")


def equations(*laws: str, shared: Iterable[str] | None = None) -> dict[str, sp.Eq]:
    """Return laws of the theory layer by name, in the present state or (with ``shared``) in the reference state.

    In the reference state the machine motors and nothing is added in its circuits.

    Examples
    --------
    >>> equations("armature-circuit-signed")
    {'armature-circuit-signed': Eq(supply_voltage, armature_circuit_resistance*armature_current + back_emf +
    brush_drop*current_direction)}
    >>> equations("current-sum", shared=())
    {'reference:current-sum': Eq(reference_line_current, reference_armature_current + reference_field_current)}
    """
    found = {}
    for name in laws:
        equation = law(name).equation
        name_of = namer(shared)
        direction = variable(DIRECTION) if shared is None else sp.Integer(1)
        equation = equation.xreplace({sp.sign(variable("armature_current")): direction})
        if shared is not None:
            nothing = {
                variable("added_field_resistance"): sp.Integer(0),
                variable("added_armature_resistance"): sp.Integer(0),
            }
            equation = equation.xreplace(nothing)
            equation = equation.xreplace({s: name_of(s.name) for s in equation.free_symbols})
        found[name if shared is None else _REFERENCE + name] = equation
    return found


def flatten(inputs: Mapping[str, Any], number: Callable[[str], Any]) -> Values:
    """Return inputs by name, each reading of a list under a name of its own.

    Examples
    --------
    >>> flatten({"speed": [100.0, 120.5], "brush_drop": 2}, str)
    {'speed[0]': '100.0', 'speed[1]': '120.5', 'brush_drop': '2'}
    """
    flat: Values = {}
    for name, value in inputs.items():
        if isinstance(value, (list, tuple)):
            flat.update({f"{name}[{i}]": number(repr(reading)) for i, reading in enumerate(value)})
        else:
            flat[name] = number(repr(value))
    return flat


def segments(values: Values) -> Iterable[Values]:
    """Yield the two neighbouring points of each straight piece of the magnetisation table."""
    count = sum(name.startswith("table_field_current[") for name in values)
    for i in range(count - 1):
        yield {
            "low_field_current": values[f"table_field_current[{i}]"],
            "high_field_current": values[f"table_field_current[{i + 1}]"],
            "low_emf": values[f"table_back_emf[{i}]"],
            "high_emf": values[f"table_back_emf[{i + 1}]"],
        }


@dataclass(frozen=True, eq=False)
class Problem:
    """Equations of a function, and how its answer is read from them.

    ``pivots`` are unknowns with several roots and the rule that picks one; ``choices`` yields further known values that
    depend on the answer (a piece of a table), ``consistent`` says whether a choice was right; ``refusals`` are the
    preconditions on the solved values; ``before`` and ``after`` are what a mistake does to the inputs and the answer.
    """

    equations: Mapping[str, sp.Eq]
    wanted: tuple[str, ...]
    pivots: Mapping[str, str] = field(default_factory=dict)
    choices: Callable[[Values], Iterable[Values]] = lambda values: ({},)
    consistent: Callable[[Values], bool] = lambda values: True
    refusals: tuple[tuple[str, Callable[[Values], bool]], ...] = ()
    before: tuple[Callable[[Values], Values], ...] = ()
    after: tuple[Callable[[Values], Values], ...] = ()
    shared: tuple[str, ...] = ()
    directions: tuple[int, ...] = (1, -1, 0)

    def has(self, law_name: str) -> bool:
        """Return whether a law takes part, in either state."""
        return law_name in self.equations or _REFERENCE + law_name in self.equations

    def swap(self, law_name: str, builder: Builder, states: str = "both") -> Problem | None:
        """Return the problem with a law replaced in both states, or only in the state 'present' or 'reference'."""
        changed = dict(self.equations)
        for key, state in ((law_name, "present"), (_REFERENCE + law_name, "reference")):
            if key in changed and states in ("both", state):
                name_of = namer(None if state == "present" else self.shared)
                changed[key] = builder(name_of)
        return None if changed == dict(self.equations) else replace(self, equations=changed)

    def with_before(self, change: Callable[[Values], Values]) -> Problem:
        """Return the problem with the flat inputs changed first."""
        return replace(self, before=(*self.before, change))

    def with_after(self, change: Callable[[Values], Values]) -> Problem:
        """Return the problem with the solved values changed last."""
        return replace(self, after=(*self.after, change))


_Pairs = tuple[tuple[str, Any], ...]


@cache
def _plan(equations: _Pairs, pivots: _Pairs, given: frozenset[str]) -> tuple[Move, ...]:
    """Plan once for equal equations: most mistakes are tried on many cases."""
    return plan(dict(equations), given, dict(pivots))


@cache
def _moves(problem: Problem, given: frozenset[str]) -> tuple[Move, ...]:
    return _plan(tuple(problem.equations.items()), tuple(problem.pivots.items()), given)


#: a current, or any other quantity, smaller than this in its unit is the rounding of a zero
DUST = mpf("1e-40")


def _sign(value: Any) -> int:
    return 0 if abs(value) < DUST else 1 if value > 0 else -1


@cache
def _directions(problem: Problem) -> tuple[int, ...]:
    """Return the directions of the armature current to try: one, where no equation knows of a direction."""
    symbol = variable(DIRECTION)
    known = any(symbol in equation.free_symbols for equation in problem.equations.values())
    return problem.directions if known else problem.directions[:1]


def solve(problem: Problem, inputs: Values) -> Values:
    """Solve a problem for flat inputs (numbers of mpmath); return every quantity on the way too.

    Raises
    ------
    Unsolvable
        When no choice of direction and table piece gives a real, consistent answer.

    Examples
    --------
    >>> from mpmath import mpf
    >>> field = Problem(equations("field-circuit", "shunt-connection"), ("field_current",))
    >>> solve(field, {"supply_voltage": mpf(120), "field_circuit_resistance": mpf(160)})["field_current"]
    mpf('0.75')
    """
    for change in problem.before:
        inputs = change(dict(inputs))
    trouble: Unsolvable | None = None
    directions = list(_directions(problem))
    free = len(directions) == 1
    while directions:
        direction = directions.pop(0)
        for choice in problem.choices(inputs):
            values = {**inputs, **choice, DIRECTION: direction}
            try:
                values = run(_moves(problem, frozenset(values)), values)
            except Unsolvable as error:
                trouble = error
                continue
            found = direction if free else _sign(values.get("armature_current", direction))
            if found != direction:
                # the other direction is the likely one, whatever piece of a table is meant
                directions.sort(key=lambda other, found=found: other != found)  # type: ignore[misc]
                break
            if problem.consistent(values):
                for change in problem.after:
                    values = change(values)
                return values
    raise trouble or Unsolvable("no consistent solution")
