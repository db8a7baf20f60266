"""A simultaneous group reduced to one unknown: a polynomial where the laws allow it, a scan where a curve stands in the way."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import mpmath
import sympy as sp

from shuntref.exercises.curve import CurveError
from shuntref.exercises.equation import CurveEquation, Equation, LawEquation
from shuntref.exercises.groups import Group
from shuntref.exercises.inversion import Form, branches, evaluator, sign
from shuntref.exercises.statement import Ref

__all__ = ["Reduction", "reduce_group"]

Number = Any

#: the unknown a teacher would reduce the group to
_PREFERRED = ("armature_current", "effective_field_current", "field_current", "line_current", "speed_rpm", "speed", "k_phi",
              "back_emf")  # fmt: skip
_HIGHEST_POWER = 12
_CLOSE = 1e-6


@dataclass(frozen=True)
class Reduction:
    """A group reduced to ``unknown``; ``order`` says how the others follow from it.

    ``coefficients`` are those of the polynomial, highest power first and that one 1; empty when a scan was needed. Every
    item of ``roots`` holds the values of all unknowns of the group.
    """

    unknown: Ref
    order: tuple[tuple[int, Ref], ...]
    last: int
    coefficients: tuple[Number, ...]
    roots: tuple[Mapping[Ref, Number], ...]


def reduce_group(
    group: Group, equations: Sequence[Equation], values: Mapping[Ref, Number], precise: bool
) -> Reduction | None:
    """Solve a group for all its real roots, or return None where it has no isolated ones.

    Raises
    ------
    CurveError
        The curve would have to be read outside its measured range.
    """
    trouble: CurveError | None = None
    for unknown, order, last in _plans(group, equations, values):
        try:
            coefficients, candidates = _candidates(unknown, order, last, equations, values, precise)
        except CurveError as error:
            trouble = error
            continue
        if candidates is None:
            return (
                None  # the laws of the group depend on one another: whichever unknown is kept, nothing is left for it
            )
        roots: list[Mapping[Ref, Number]] = []
        for candidate in candidates:
            try:
                found = _completed(unknown, candidate, order, last, equations, values, precise)
            except CurveError as error:
                trouble = error
                continue
            if found is not None and not any(_near(found[unknown], other[unknown]) for other in roots):
                roots.append(found)
        if roots or coefficients:
            if not roots and trouble:
                raise trouble
            return Reduction(unknown, order, last, coefficients, tuple(roots))
    if trouble:
        raise trouble
    return None


def _near(one: Number, other: Number) -> bool:
    return bool(abs(one - other) <= _CLOSE * max(abs(one), abs(other), 1e-12))


def _plans(
    group: Group, equations: Sequence[Equation], values: Mapping[Ref, Number]
) -> Iterator[tuple[Ref, tuple[tuple[int, Ref], ...], int]]:
    """Yield ways to let all unknowns follow from one of them, leaving one equation to be satisfied."""
    curves = {equation.current for equation in (equations[i] for i in group.equations)
              if isinstance(equation, CurveEquation)}  # fmt: skip

    def rank(ref: Ref) -> tuple[int, int, Ref]:
        place = _PREFERRED.index(ref.quantity) if ref.quantity in _PREFERRED else len(_PREFERRED)
        return (0 if ref in curves else 1, place, ref)

    for unknown in sorted(group.unknowns, key=rank):
        known: dict[Ref, Number] = dict(values)
        known[unknown] = 1.0
        left = list(group.equations)
        order: list[tuple[int, Ref]] = []
        progress = True
        while progress:
            progress = False
            for index in left:
                missing = equations[index].unknowns(known)
                if len(missing) == 1 and len(left) > 1 and equations[index].single_valued(missing[0], known):
                    order.append((index, missing[0]))
                    known[missing[0]] = 1.0
                    left.remove(index)
                    progress = True
                    break
        if len(left) == 1 and len(order) == len(group.unknowns) - 1:
            yield unknown, tuple(order), left[0]


def _candidates(
    unknown: Ref, order: tuple[tuple[int, Ref], ...], last: int, equations: Sequence[Equation],
    values: Mapping[Ref, Number], precise: bool,
) -> tuple[tuple[Number, ...], list[Number] | None]:  # fmt: skip
    laws = [equations[index] for index, _ in order] + [equations[last]]
    if all(isinstance(law, LawEquation) for law in laws):
        polynomial = _coefficients(unknown, order, last, equations, values, precise)
        if polynomial is not None:
            return polynomial, _real_roots(polynomial, precise) if polynomial else None
    return (), _scan(unknown, order, last, equations, values, precise)


def _coefficients(
    unknown: Ref, order: tuple[tuple[int, Ref], ...], last: int, equations: Sequence[Equation],
    values: Mapping[Ref, Number], precise: bool,
) -> tuple[Number, ...] | None:  # fmt: skip
    """Coefficients of the polynomial in ``unknown``; empty when it says nothing, None when there is no polynomial."""
    places: dict[Ref, int] = {unknown: 0}
    steps: list[tuple[Form, str, tuple[tuple[str, int], ...]]] = []
    for index, target in (*order, (last, None)):
        equation = equations[index]
        if not isinstance(equation, LawEquation):
            return None
        form = equation.form(values)
        bound = tuple((name, places.setdefault(equation.binding[name], len(places))) for name in form.names)
        steps.append((form, equation.name_of(target) if target else "", bound))
    made = _polynomial(tuple(steps))
    if not made:
        return made
    refs = {f"x{place}": ref for ref, place in places.items()}
    numbers = []
    for expression, names in made:
        numbers.append(evaluator(expression, names, precise)(*(values[refs[name]] for name in names)))
    largest = max(map(abs, numbers))
    while numbers and abs(numbers[0]) <= largest * 1e-14:
        numbers.pop(0)
    if len(numbers) < 2:
        return ()
    return tuple(number / numbers[0] for number in numbers)


@lru_cache(maxsize=1024)
def _polynomial(
    steps: tuple[tuple[Form, str, tuple[tuple[str, int], ...]], ...],
) -> tuple[tuple[sp.Expr, tuple[str, ...]], ...] | None:
    """Coefficients of the polynomial that is left when all but the first unknown are eliminated."""
    known: dict[int, sp.Expr] = {}
    unknown = sign("x0")
    for form, target, bound in steps:
        expression = branches(form, target)[0] if target else form.residual
        expression = expression.xreplace({sign(name): known.get(place, sign(f"x{place}")) for name, place in bound})
        if target:
            known[dict(bound)[target]] = sp.together(expression)
        else:
            left_over = sp.numer(sp.cancel(sp.together(expression)))
            if unknown not in left_over.free_symbols:
                return ()
            polynomial = left_over.as_poly(unknown)
            if polynomial is None or polynomial.degree() > _HIGHEST_POWER:
                return None
            return tuple(
                (coefficient, tuple(sorted(str(s) for s in coefficient.free_symbols)))
                for coefficient in polynomial.all_coeffs()
            )
    return None


def _real_roots(coefficients: Sequence[Number], precise: bool) -> list[Number]:
    if len(coefficients) == 2:
        return [-coefficients[1]]
    if len(coefficients) == 3:
        half, constant = coefficients[1] / 2, coefficients[2]
        inside = half * half - constant
        if inside < 0:
            return []
        root = mpmath.sqrt(inside) if precise else float(inside) ** 0.5
        larger = -half - root if half >= 0 else -half + root  # no cancellation: the other root by their product
        return [larger] if larger == 0 else sorted([larger, constant / larger], key=float)
    with mpmath.workdps(mpmath.mp.dps + 20):
        roots = mpmath.polyroots([mpmath.mpf(c) for c in coefficients], maxsteps=200, extraprec=200, error=False)
        real = sorted(root.real for root in map(mpmath.mpc, roots) if abs(root.imag) <= abs(root) * mpmath.mpf("1e-10"))
    return [+root if precise else float(root) for root in real]


def _completed(
    unknown: Ref, candidate: Number, order: tuple[tuple[int, Ref], ...], last: int, equations: Sequence[Equation],
    values: Mapping[Ref, Number], precise: bool,
) -> dict[Ref, Number] | None:  # fmt: skip
    """All unknowns of the group from one, or None when that is no root after all."""
    known = dict(values)
    known[unknown] = candidate
    for index, target in order:
        if target not in equations[index].unknowns(known):
            return None
        found = equations[index].solutions(target, known, precise)
        if len(found) != 1:
            return None
        known[target] = found[0]
    mine = [unknown, *(target for _, target in order)]
    for target in mine:
        if target in equations[last].refs:
            without = {ref: value for ref, value in known.items() if ref != target}
            if equations[last].unknowns(without) == (target,):
                again = equations[last].solutions(target, without, precise)
                if not any(abs(value - known[target]) <= _CLOSE * max(abs(known[target]), 1e-9) for value in again):
                    return None
                break
    return {ref: known[ref] for ref in mine}


def _scan(
    unknown: Ref, order: tuple[tuple[int, Ref], ...], last: int, equations: Sequence[Equation],
    values: Mapping[Ref, Number], precise: bool,
) -> list[Number]:  # fmt: skip
    """Find sign changes of what the last equation leaves over, on a grid that holds every corner of a curve."""

    def left_over(number: Number) -> Number | None:
        known = dict(values)
        known[unknown] = number
        for index, target in order:
            try:
                found = equations[index].solutions(target, known, precise)
            except CurveError:
                return None
            if len(found) != 1:
                return None
            known[target] = found[0]
        equation = equations[last]
        if isinstance(equation, LawEquation | CurveEquation):
            return equation.residual(known, precise)
        return None

    grid = _grid(unknown, [equations[index] for index, _ in order] + [equations[last]])
    found: list[Number] = []
    before: tuple[Number, Number] | None = None
    for point in grid:
        number = mpmath.mpf(point) if precise else point
        value = left_over(number)
        if value is None:
            before = None
            continue
        if value == 0:
            found.append(number)
        elif before is not None and before[1] != 0 and (value < 0) != (before[1] < 0):
            root = _halved(left_over, before[0], number, before[1])
            if root is not None:
                found.append(root)
        before = (number, value)
    return found


def _grid(unknown: Ref, equations: Sequence[Equation]) -> list[float]:
    for equation in equations:
        if isinstance(equation, CurveEquation) and equation.current == unknown:
            corners = equation.curve.currents
            return sorted({low + (high - low) * k / 40 for low, high in pairwise(corners)
                           for k in range(41)})  # fmt: skip
    decades = [10 ** (k / 60) for k in range(-360, 361)]
    return [-value for value in reversed(decades)] + [0.0, *decades]


def _halved(function: Callable[[Number], Number | None], low: Number, high: Number, start: Number) -> Number | None:
    """Close in on a sign change; a jump across a pole is no root."""
    first = abs(start)
    for _ in range(300):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        value = function(middle)
        if value is None:
            return None
        if value == 0:
            return middle
        if (value < 0) == (start < 0):
            low, start = middle, value
        else:
            high = middle
    return (low + high) / 2 if abs(start) <= first else None
