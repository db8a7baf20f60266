"""Which equation gives which unknown, in what order: balance equations made ready for evaluation to 60 digits.

The equations come from the theory layer (or are a mistake's replacement for one of them). Nothing is retyped here: sympy
solves each equation for the unknown it is used for, and what is coupled is eliminated before it is solved.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import sympy as sp
from mpmath import mpc, mpf

__all__ = ["Move", "Unsolvable", "plan", "run"]

#: how one of several roots is chosen
RULES: Mapping[str, Callable[[list[Any]], Any]] = {
    "largest": max,
    "smallest": min,
    "least magnitude": lambda roots: min(roots, key=abs),
    "greatest magnitude": lambda roots: max(roots, key=abs),
}


#: quantities that may be zero, by which nothing is divided if it can be helped
MAY_VANISH = frozenset(
    (
        "added_armature_resistance",
        "added_field_resistance",
        "brush_drop",
        "current_direction",
        "demagnetising_mmf",
        "electromagnetic_torque",
        "line_resistance",
        "load_torque",
        "loss_torque",
        "reaction_field_current",
        "remanent_k_phi",
        "rotational_loss",
    )
)


class Unsolvable(ValueError):
    """There is no real solution for these inputs."""


@dataclass(frozen=True)
class Move:
    """One unknown found: the expression of each root, and the rule that picks one where there are several."""

    unknown: str
    roots: tuple[sp.Expr, ...]
    rule: str = ""


def _unknowns(equation: sp.Expr, known: set[str]) -> list[str]:
    return sorted(s.name for s in equation.free_symbols if s.name not in known)


@cache
def _roots(residual: sp.Expr, unknown: sp.Symbol) -> tuple[sp.Expr, ...]:
    """Roots of a residual that is linear or quadratic in the unknown, or a pure power of it."""
    numerator = sp.numer(sp.together(residual))
    polynomial = sp.Poly(numerator, unknown)
    degree = polynomial.degree()
    if degree < 1:
        raise Unsolvable(f"{unknown.name} is not determined by the readings")
    coefficients = [polynomial.coeff_monomial(unknown**power) for power in range(degree + 1)]
    if degree == 1:
        return (-coefficients[0] / coefficients[1],)
    if degree >= 2 and not any(coefficients[1:-1]):
        root = (-coefficients[0] / coefficients[-1]) ** sp.Rational(1, degree)
        return (root,) if degree > 2 else (root, -root)
    if degree == 2:
        c, b, a = coefficients
        square_root = sp.sqrt(b**2 - 4 * a * c)
        return ((-b + square_root) / (2 * a), (-b - square_root) / (2 * a))
    raise ValueError(f"cannot solve for {unknown.name}: an equation of degree {degree}")


@cache
def _risk(residual: sp.Expr, unknown: sp.Symbol) -> int:
    """Return how risky it is to divide by the factor of an unknown: 0 a number, 1 a quantity, 2 one that may be zero."""
    try:
        polynomial = sp.Poly(sp.numer(sp.together(residual)), unknown)
    except sp.PolynomialError:
        return 3
    factor = polynomial.LC()
    zeros = {s: sp.Integer(0) for s in factor.free_symbols if s.name in MAY_VANISH}
    if zeros and factor.xreplace(zeros) == 0:
        return 2
    return 0 if factor.is_number else 1


def _triangular(residuals: dict[str, sp.Expr], known: set[str], pivots: Mapping[str, str]) -> list[Move]:
    """Solve equation after equation that has a single unknown; ``residuals`` and ``known`` are updated."""
    moves: list[Move] = []
    while True:
        open_ones = {key: _unknowns(residual, known) for key, residual in residuals.items()}
        found = []
        for place, (key, names) in enumerate(open_ones.items()):
            if len(names) == 1:
                symbol = next(s for s in residuals[key].free_symbols if s.name == names[0])
                found.append((_risk(residuals[key], symbol), place, key, symbol))
        if not found:
            return moves
        _, _, key, symbol = min(found, key=lambda entry: entry[:2])
        roots = _roots(residuals.pop(key), symbol)
        rule = pivots.get(symbol.name, "")
        if len(roots) > 1 and rule not in RULES:
            raise ValueError(f"{symbol.name} has {len(roots)} roots and no rule to pick one")
        moves.append(Move(symbol.name, roots, rule))
        known.add(symbol.name)


def _torn(residuals: Mapping[str, sp.Expr], known: set[str], pivot: str, rule: str) -> Move | None:
    """Take the pivot as known, follow the equations round, and solve the one left over for the pivot."""
    rest, reached = dict(residuals), known | {pivot}
    chain = _triangular(rest, reached, {})
    for residual in rest.values():
        if _unknowns(residual, reached):
            continue
        closed = residual
        for move in reversed(chain):
            closed = closed.xreplace({s: move.roots[0] for s in closed.free_symbols if s.name == move.unknown})
        symbols = [s for s in closed.free_symbols if s.name == pivot]
        if symbols:
            return Move(pivot, _roots(closed, symbols[0]), rule)
    return None


def plan(equations: Mapping[str, sp.Eq], given: Iterable[str], pivots: Mapping[str, str]) -> tuple[Move, ...]:
    """Return the moves that find every unknown of the equations from the given quantities.

    Parameters
    ----------
    equations
        By key; those whose quantities are all given already are left out of account.
    given
        Names of the known quantities.
    pivots
        Unknowns in which a coupled set is closed, each with the rule of ``RULES`` that picks one of its roots.

    Raises
    ------
    ValueError
        When the equations cannot be ordered.

    Examples
    --------
    >>> from shuntref.theory.laws import law
    >>> laws = {name: law(name).equation for name in ("armature-emf", "torque", "armature-circuit")}
    >>> given = ("supply_voltage", "speed", "electromagnetic_torque", "armature_circuit_resistance", "brush_drop")
    >>> [move.unknown for move in plan(laws, given, {"k_phi": "largest"})]
    ['k_phi', 'back_emf', 'armature_current']
    """
    known = set(given)
    residuals = {key: equation.lhs - equation.rhs for key, equation in equations.items()}
    residuals = {key: residual for key, residual in residuals.items() if _unknowns(residual, known)}
    moves = _triangular(residuals, known, pivots)
    while any(_unknowns(residual, known) for residual in residuals.values()):
        candidates = (_torn(residuals, known, name, rule) for name, rule in pivots.items() if name not in known)
        move = next((found for found in candidates if found is not None), None)
        if move is None:
            raise ValueError(f"cannot order the equations {', '.join(residuals)}")
        moves.append(move)
        known.add(move.unknown)
        moves.extend(_triangular(residuals, known, pivots))
    return tuple(moves)


@cache
def _function(expression: sp.Expr) -> tuple[tuple[str, ...], Callable[..., Any]]:
    arguments = sorted(expression.free_symbols, key=lambda s: str(s.name))
    # a name such as "speed[0]" is no Python name: lambdify is given plain ones
    plain = [sp.Symbol(f"x{i}") for i in range(len(arguments))]
    call = sp.lambdify(plain, expression.xreplace(dict(zip(arguments, plain, strict=True))), modules="mpmath")
    return tuple(s.name for s in arguments), call


def _real(value: Any, unknown: str) -> Any:
    if isinstance(value, mpc):
        if value.imag != 0:
            raise Unsolvable(f"{unknown} has no real value")
        value = value.real
    return mpf(value)


def run(moves: Iterable[Move], values: Mapping[str, Any]) -> dict[str, Any]:
    """Evaluate the moves in order in the working precision of mpmath; return the given values and all unknowns.

    Raises
    ------
    Unsolvable
        When a root is not real or a division by zero is met.
    """
    known = dict(values)
    for move in moves:
        roots = []
        for expression in move.roots:
            names, call = _function(expression)
            try:
                roots.append(_real(call(*(known[name] for name in names)), move.unknown))
            except ZeroDivisionError:
                raise Unsolvable(f"{move.unknown} is not defined") from None
        known[move.unknown] = RULES[move.rule](roots) if len(roots) > 1 else roots[0]
    return known
