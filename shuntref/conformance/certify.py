"""A row of inputs made into a certified case: expected values, condition numbers, tolerances, wrong values.

Everything is computed in 60-digit arithmetic from the equations of the theory layer. Working precision and the digits
written are far enough apart that the condition numbers of the suite (below 1e12) cannot reach the last digit written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from mpmath import mp, mpf, nstr

from shuntref.conformance.elimination import Unsolvable
from shuntref.conformance.flags import load_flags
from shuntref.conformance.functions import Function, function
from shuntref.conformance.mistakes import MISTAKES, Mistake
from shuntref.conformance.problem import DUST, Problem, Values, flatten, solve

__all__ = ["DIGITS", "WORKING_DIGITS", "Alternative", "Entry", "Row", "certify"]

WORKING_DIGITS = 60
DIGITS = 25
#: relative floor of every tolerance
FLOOR = "1e-10"
#: a mistake that changes the answer by less than this share is not stored: nobody could tell it from rounded input
SHARE = "1e-3"
_ROUNDINGS = 64


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another answer that is acceptable: its name, and the change of the problem that yields it; None: refusing."""

    name: str
    change: Mistake | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """What a group writes down for a case: words of its id, level, inputs, and what is special about it."""

    words: str
    level: int
    inputs: Mapping[str, Any]
    result: str = "valid"
    note: str = ""
    acceptable: tuple[Alternative, ...] = ()


@dataclass(frozen=True, slots=True)
class Entry:
    """A function's problem (for given inputs), its mistakes in the order of precedence, and its rows.

    ``squared``: the usual way of calculating loses the square of the condition number, and is right nevertheless.
    """

    problem: Callable[[Mapping[str, Any]], Problem]
    slips: Sequence[str]
    rows: Sequence[Row]
    special: Mapping[str, Mistake] = field(default_factory=dict)
    squared: bool = False


def _text(value: Any, digits: int = DIGITS) -> str:
    """Return a number as decimal text with exactly ``digits`` significant digits.

    Examples
    --------
    >>> _text(mpf(150), 6), _text(mpf("0.00001234"), 4), _text(mpf(0))
    ('150.000', '1.234e-5', '0')
    """
    if value == 0:
        return "0"
    text = str(nstr(value, digits, strip_zeros=False, min_fixed=-4, max_fixed=digits))
    return text.replace(".e", "e").removesuffix(".")


def _up(value: Any) -> str:
    """Return a tolerance rounded up to two significant digits."""
    exponent = int(mp.floor(mp.log10(value)))
    unit = mpf(10) ** (exponent - 1)
    mantissa = int(mp.ceil(value / unit - mpf("1e-9")))
    if mantissa >= 100:
        mantissa, exponent = 10, exponent + 1
    return f"{mantissa // 10}.{mantissa % 10}e{exponent:+03d}"


def _answer(spec: Function, problem: Problem, inputs: Values) -> tuple[dict[str, list[Any]], Values]:
    """Return the outputs, and every quantity on the way; what is only the rounding of a zero is a zero."""
    values = solve(problem, inputs)
    answer: dict[str, list[Any]] = {}
    for output in spec.outputs:
        if output.is_list:
            count = sum(key.startswith(f"{output.name}[") for key in values)
            names = [f"{output.name}[{i}]" for i in range(count)]
        else:
            names = [output.name]
        answer[output.name] = [mpf(0) if abs(values[n]) < DUST else values[n] for n in names]
    return answer, values


def _slope(above: Any, below: Any, step: Any) -> Any:
    """Return the slope between two answers; 0 across a jump (a current that turns, a whole number), which has none."""
    difference = above - below
    # with steps of 1e-20 a smooth answer moves far less than this, whatever its condition number in the suite
    jump = abs(difference) > mpf("1e-9") * max(mpf(1), abs(above), abs(below))
    return mpf(0) if jump else difference / step


def _spread(spec: Function, problem: Problem, inputs: Values) -> dict[str, list[Any]]:
    """Return, for every answer, the sum over the inputs of |x df/dx|: its move when every input moves by its own size."""
    whole = {entry.name for entry in spec.inputs if entry.accept in ("whole", "even")}
    total: dict[str, list[Any]] = {}
    for name, x in inputs.items():
        if x == 0 or name.split("[")[0] in whole:
            continue
        step = abs(x) * mpf("1e-20")
        sides = []
        for moved_x in (x + step, x - step, x):
            try:
                sides.append((moved_x, _answer(spec, problem, {**inputs, name: moved_x})[0]))
            except Unsolvable:  # at the edge of what has an answer one side is enough
                continue
        (to, above), (since, below) = sides[:2]
        for output, values in above.items():
            moved = [abs(x * _slope(a, b, to - since)) for a, b in zip(values, below[output], strict=True)]
            total[output] = [t + m for t, m in zip(total.get(output, [mpf(0)] * len(moved)), moved, strict=True)]
    return total


def _shaped(spec: Function, answer: Mapping[str, list[Any]]) -> dict[str, Any]:
    lists = {output.name for output in spec.outputs if output.is_list}
    return {n: [_text(v) for v in values] if n in lists else _text(values[0]) for n, values in answer.items()}


def _apart(a: Sequence[Any], b: Sequence[Any], tolerance: Any) -> bool:
    """Return whether two answers differ by more than ten tolerances and by more than ``SHARE`` in some place."""
    if len(a) != len(b):
        return True
    return any(abs(x - y) > max(10 * tolerance, mpf(SHARE) * max(abs(x), abs(y))) for x, y in zip(a, b, strict=True))


def _wrong_values(
    spec: Function,
    entry: Entry,
    problem: Problem,
    inputs: Values,
    right: list[dict[str, list[Any]]],
    allowed: Mapping[str, Any],
) -> list[dict[str, Any]]:
    """Return the wrong value of each mistake that shows, each told apart from the right answers and from one another."""
    found: list[tuple[str, dict[str, list[Any]]]] = []
    for slug in entry.slips:
        if slug not in load_flags():
            raise ValueError(
                f"mistake {slug!r} is not described; give it a table [{slug}] in references/cases/flags.toml"
            )
        mistaken = entry.special.get(slug, MISTAKES.get(slug, _unknown(slug)))(problem)
        if mistaken is None:
            continue
        try:
            answer, _ = _answer(spec, mistaken, inputs)
        except Unsolvable:
            continue
        others = [*right, *(values for _, values in found)]
        if all(any(_apart(answer[n], other[n], allowed.get(n, mpf(0))) for n in answer) for other in others):
            found.append((slug, answer))
    flags = []
    for slug, answer in found:
        differing = {
            n: v for n, v in answer.items() if all(_apart(v, r[n], allowed.get(n, mpf(0))) for r in right) or not right
        }
        if differing:
            flags.append({"flag": slug, "wrong": _shaped(spec, differing)})
    return flags


def _unknown(slug: str) -> Mistake:
    def refuse(problem: Problem) -> Problem | None:
        raise ValueError(
            f"mistake {slug!r} is not registered; give it a function with @mistake in shuntref/conformance/mistakes.py"
        )

    return refuse


def certify(name: str, entry: Entry, row: Row) -> dict[str, Any]:
    """Return the certified case of one row, as it is written to cases.json.

    Raises
    ------
    ValueError
        When the row does not do what it says: an invalid one that has an answer, a valid one that has none.
    """
    with mp.workdps(WORKING_DIGITS):
        return _certify(name, entry, row)


def _certify(name: str, entry: Entry, row: Row) -> dict[str, Any]:
    spec = function(name)
    inputs = flatten(spec.complete(row.inputs), mpf)
    case: dict[str, Any] = {
        "id": f"{name.replace('_', '-')}-{row.words}",
        "group": spec.group,
        "function": name,
        "level": row.level,
        "inputs": {k: row.inputs[k] for k in spec.complete(row.inputs) if k in row.inputs},
        "expected": {},
        "result": row.result,
        "acceptable": [],
        "condition": {},
        "tolerance": {},
        "absolute": {},
        "tolerance_reason": "",
        "flags": [],
        "note": row.note,
    }
    reason = spec.objection(row.inputs)
    problem: Problem | None = None
    right: dict[str, list[Any]] = {}
    try:
        problem = entry.problem(row.inputs)
        right, values = _answer(spec, problem, inputs)
        reason = reason or next((words for words, refused in problem.refusals if refused(values)), "")
    except Unsolvable as error:
        reason = reason or str(error)
    if row.result == "invalid":
        if not reason:
            raise ValueError(f"{case['id']}: is said to be invalid but has an answer")
        case["note"] = row.note or f"must be refused: {reason}"
        if problem is not None:
            unchecked = Entry(entry.problem, ("limits-not-checked",), ())
            case["flags"] = _wrong_values(spec, unchecked, problem, inputs, [], {})
        return case
    if reason or problem is None:
        raise ValueError(f"{case['id']}: {reason}")
    spread = _spread(spec, problem, inputs)
    case["expected"] = _shaped(spec, right)
    rights = [right]
    if row.acceptable:
        case["acceptable"].append({"name": "as the equations of the function say", "values": dict(case["expected"])})
    for alternative in row.acceptable:
        answer: dict[str, list[Any]] = {}
        if alternative.change is not None:
            changed = alternative.change(problem)
            if changed is None:
                raise ValueError(f"{case['id']}: the alternative {alternative.name!r} does not apply")
            answer, _ = _answer(spec, changed, inputs)
            rights.append(answer)
        case["acceptable"].append({"name": alternative.name, "values": _shaped(spec, answer)})
    allowed = _tolerances(case, right, spread, entry.squared)
    case["flags"] = _wrong_values(spec, entry, problem, inputs, rights, allowed)
    return case


def _tolerances(
    case: dict[str, Any], right: Mapping[str, list[Any]], spread: Mapping[str, list[Any]], squared: bool
) -> dict[str, Any]:
    """Fill in condition, tolerance and reason; return the absolute size of each tolerance."""
    rounding = _ROUNDINGS * mpf(2) ** -52
    allowed = {}
    reasons = set()
    for name, values in right.items():
        moved = spread.get(name, [mpf(0)] * len(values))
        if any(v == 0 for v in values):
            case["condition"][name] = "0"
            case["tolerance"][name] = _up(mpf(FLOOR))
            case["absolute"][name] = _up(mpf(FLOOR) * max(mpf(1), *moved))
            allowed[name] = mpf(case["absolute"][name])
            reasons.add("zero is expected: absolute, 1e-10 of the terms that cancel (or of one unit)")
            continue
        condition = max(m / abs(v) for m, v in zip(moved, values, strict=True))
        case["condition"][name] = _text(condition, 4)
        lost = rounding * (condition**2 if squared else condition)
        case["tolerance"][name] = _up(max(mpf(FLOOR), lost))
        allowed[name] = mpf(case["tolerance"][name]) * max(abs(v) for v in values)
        if lost <= mpf(FLOOR):
            reasons.add(
                "1e-10: an iteration stopped at ten figures passes; 64 double roundings times condition lie below"
            )
        elif squared:
            reasons.add("64 double roundings of 2^-52, times the square of the condition number, which the sums lose")
        else:
            reasons.add("64 double roundings of 2^-52, times the condition number")
    case["tolerance_reason"] = "; ".join(sorted(reasons))
    return allowed
