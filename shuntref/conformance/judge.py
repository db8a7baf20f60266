"""One answer against one certified case: agreed or not, to how many digits, and which named mistake it looks like.

Signed values are compared, as decimals. A tolerance is relative to the certified value; where the case gives an absolute
one (a value that is zero, or nearly), that holds as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from shuntref.conformance.scale import DECIMALS, Scale, shown_unit
from shuntref.conformance.suite import Case, Value

__all__ = ["PRECISIONS", "Answer", "Number", "Verdict", "judge"]

#: precision -> most digits credited
PRECISIONS: dict[str, float] = {"double": 15.65, "single": 6.92}

#: relative difference granted to a single-precision answer for each unit of condition: 16 rounding steps of 2^-23, for
#: inputs that are rounded and then a dozen operations
_SINGLE = Decimal(2) ** -19

#: the least relative tolerance of the suite, in which absolute ones are counted too
_FLOOR = Decimal("1e-10")
#: an answer that may be off by more than this share of the certified value proves nothing: it could as well have no sign
_DECIDES = Decimal("0.1")
#: two answers closer than this are not told apart by the stored wrong values
_SHARE = Decimal("1e-3")

#: what an answer that is not read from a printed sheet is rounded by
_NOTHING = Decimal(0)

Number = Decimal | tuple[Decimal, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a target made of a case.

    ``kind`` is "values" (with ``values`` in registry units), "refused", "missing" or "failed"; ``text`` what it said;
    ``steps`` half a unit of the last printed digit of each value, for answers read from a printed sheet; ``units`` in
    which unit each value came, and how that stands to the registry's.
    """

    kind: str
    values: Mapping[str, Number] | None = None
    text: str = ""
    seconds: float = 0.0
    steps: Mapping[str, Decimal] | None = None
    units: Mapping[str, tuple[str, Scale]] | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """``status`` is "passed", "failed" or "not implemented"; ``flags`` the mistakes whose stored wrong value was given."""

    status: str
    reason: str = ""
    digits: float | None = None
    flags: tuple[str, ...] = ()
    chosen: str = ""


def _listed(value: Value) -> tuple[Decimal, ...]:
    return tuple(Decimal(item) for item in value) if isinstance(value, tuple) else (Decimal(value),)


def _given(value: Number) -> tuple[Decimal, ...]:
    return value if isinstance(value, tuple) else (value,)


def allowance(case: Case, name: str, certified: Decimal, precision: str, step: Decimal = _NOTHING) -> Decimal:
    """Return by how much an answer may differ from ``certified``.

    In single precision it is the larger of the case's own tolerance and 16 rounding steps times the condition number
    (at least one): the inputs themselves are rounded to 24 bits before the first operation.
    """
    relative = Decimal(case.tolerance.get(name, "1e-12"))
    absolute = Decimal(case.absolute.get(name, 0))
    if precision == "single":
        worst = max(Decimal(1), Decimal(case.condition.get(name, 0)))
        relative = max(relative, DECIMALS.multiply(_SINGLE, worst))
        absolute = DECIMALS.multiply(absolute, _SINGLE / _FLOOR)
    return max(DECIMALS.multiply(relative, abs(certified)), absolute, step)


def _agrees(case: Case, name: str, certified: Value, given: Number, precision: str, step: Decimal) -> bool:
    right, seen = _listed(certified), _given(given)
    if len(right) != len(seen):  # a list of one and a lone number are the same: languages differ in this
        return False
    return all(
        b.is_finite() and abs(DECIMALS.subtract(b, a)) <= allowance(case, name, a, precision, step)
        for a, b in zip(right, seen, strict=True)
    )


def _digits(case: Case, name: str, certified: Value, given: Number, precision: str) -> float:
    """Return how many leading digits agree, sign included: -log10 of the relative difference, from 0 to the cap.

    Where zero is certified the difference is taken relative to the terms that cancel.
    """
    most = PRECISIONS[precision]
    right, seen = _listed(certified), _given(given)
    if len(right) != len(seen):
        return 0.0
    worst = most
    for a, b in zip(right, seen, strict=True):
        if not b.is_finite():
            return 0.0
        difference = abs(DECIMALS.subtract(b, a))
        if not difference:
            continue
        size = abs(a) or DECIMALS.divide(Decimal(case.absolute.get(name, _FLOOR)), _FLOOR)
        worst = min(worst, -float(DECIMALS.log10(DECIMALS.divide(difference, size))))
    return max(0.0, worst)


def _no_number(answer: Answer) -> bool:
    """Say whether no value is usable; a number beside a not-a-number is still an answer, and somebody may use it."""
    values = (answer.values or {}).values()
    return bool(values) and all(any(item.is_nan() for item in _given(value)) for value in values)


def _undecided(case: Case, expected: Mapping[str, Value], answer: Answer, precision: str) -> str:
    """Return the output whose tolerance is too wide to tell right from wrong, empty when there is none.

    Only single precision has such: close to stall the rounding of the inputs alone can turn the sign of the speed.
    """
    if precision != "single":
        return ""
    for name in (name for name in expected if name in (answer.values or {})):
        sizes = [abs(value) for value in _listed(expected[name]) if value]
        if any(allowance(case, name, size, precision) > DECIMALS.multiply(_DECIDES, size) for size in sizes):
            return name
    for flag in case.flags:
        stored = [name for name in flag.values if name in expected]
        numbers = {n: tuple(map(Decimal, v)) if isinstance(v, tuple) else Decimal(v) for n, v in flag.values.items()}
        if stored and all(_agrees(case, n, expected[n], numbers[n], precision, _NOTHING) for n in stored):
            return stored[0]
    return ""


def _shown(value: Number, unit: str = "") -> str:
    items = [f"{float(item):.10g}" for item in _given(value)[:6]]
    number = items[0] if not isinstance(value, tuple) else f"[{', '.join(items)}]"
    return f"{number} {unit}" if unit else number


def _in_own_unit(answer: Answer, name: str, *values: Number) -> tuple[str, list[str]] | None:
    """Return the implementer's unit and ``values`` in it, or None where it is the registry's."""
    unit, scale = (answer.units or {}).get(name, ("", None))
    if scale is None or scale.same:
        return None
    turned = [tuple(map(scale.outward_exact, v)) if isinstance(v, tuple) else scale.outward_exact(v) for v in values]
    return unit, [_shown(v) for v in turned]


def _answered(answer: Answer) -> str:
    told = []
    for name, value in (answer.values or {}).items():
        own = _in_own_unit(answer, name, value)
        beside = f" ({own[1][0]} {own[0]})" if own else ""
        told.append(f"{name} = {_shown(value, shown_unit(name))}{beside}")
    return ", ".join(told)


def _difference(answer: Answer, name: str, certified: Value) -> str:
    """Say what came and what is certified, in the registry's unit and in the implementer's where that is another."""
    given, listed = (answer.values or {})[name], _listed(certified)
    right = listed if isinstance(certified, tuple) else listed[0]
    own = _in_own_unit(answer, name, given, right)
    beside = f" (in {own[0]}: {own[1][0]}, certified {own[1][1]})" if own else ""
    return f"{name} = {_shown(given, shown_unit(name))}, certified {_shown(right, shown_unit(name))}{beside}"


def matching_flags(case: Case, answer: Answer, precision: str, wrong: set[str]) -> tuple[str, ...]:
    """Return the named mistakes that explain ``answer``, whose outputs ``wrong`` disagree; the best explanation first.

    A mistake explains an answer when every output it is stored for was given as stored, within the case's tolerance, and
    whatever else came out wrong is off by no more than what the suite does not store (one in a thousand).
    """
    values, steps = answer.values or {}, answer.steps or {}
    found: list[tuple[int, Decimal, str]] = []
    for flag in case.flags:
        compared = [name for name in flag.values if name in values]
        if not compared:
            continue
        near = all(
            _distance(case.expected[n], values[n]) <= _SHARE for n in wrong - set(compared) if n in case.expected
        )
        if near and all(
            _agrees(case, n, flag.values[n], values[n], precision, steps.get(n, _NOTHING)) for n in compared
        ):
            distance = sum((_distance(flag.values[n], values[n]) for n in compared), Decimal(0))
            found.append((-len(compared), distance, flag.flag))
    return tuple(name for _, _, name in sorted(found))


def _distance(stored: Value, given: Number) -> Decimal:
    right, seen = _listed(stored), _given(given)
    if len(right) != len(seen) or not all(b.is_finite() for b in seen):
        return Decimal("Infinity")
    pairs = zip(right, seen, strict=True)
    return max(
        (DECIMALS.divide(abs(DECIMALS.subtract(b, a)), abs(a) or Decimal(1)) for a, b in pairs), default=Decimal(0)
    )


def _judge_values(
    case: Case, expected: Mapping[str, Value], answer: Answer, precision: str
) -> tuple[dict[str, str], float]:
    """Return what disagrees, and the digits of the worst output; outputs that are not delivered are left out."""
    values, steps = answer.values or {}, answer.steps or {}
    wrong = {}
    digits = PRECISIONS[precision]
    for name, certified in expected.items():
        if name not in values:
            continue
        given = values[name]
        digits = min(digits, _digits(case, name, certified, given, precision))
        if not _agrees(case, name, certified, given, precision, steps.get(name, _NOTHING)):
            wrong[name] = _difference(answer, name, certified)
    return wrong, digits


def judge(case: Case, answer: Answer, precision: str = "double") -> Verdict:
    """Judge ``answer`` to ``case``.

    Parameters
    ----------
    case, answer
        What was asked and what came back, in registry units.
    precision
        The arithmetic the implementer declares: "double" or "single".

    Returns
    -------
    Verdict

    Examples
    --------
    >>> from shuntref.conformance.suite import WrongValue
    >>> case = Case("a", "speed", "speed", 1, {"supply_voltage": 120.0}, "valid", {"speed": "157.07963267948966"},
    ...     tolerance={"speed": "1e-12"}, flags=(WrongValue("rpm-for-rad-per-second", {"speed": "1500"}),))
    >>> judge(case, Answer("values", {"speed": Decimal("157.07963267948966")})).status
    'passed'
    >>> judge(case, Answer("values", {"speed": Decimal("1500")})).flags
    ('rpm-for-rad-per-second',)
    >>> judge(case, Answer("refused", text="no")).reason
    'refused a valid case: no'
    """
    if answer.kind == "missing":
        return Verdict("not implemented", answer.text)
    if answer.kind == "failed":
        return Verdict("failed", answer.text)
    refused = answer.kind == "refused" or _no_number(answer)
    said = answer.text or ("answered not-a-number" if answer.kind == "values" else "an error")
    if case.result == "invalid":
        if refused:
            return Verdict("passed")
        found = matching_flags(case, answer, precision, set()) or tuple(f.flag for f in case.flags if not f.values)
        return Verdict("failed", f"answered what must be refused: {_answered(answer)}", flags=found)
    choices = [("", case.expected)] if case.result == "valid" else list(case.acceptable)
    if refused:
        if any(not values for _, values in choices):
            return Verdict("passed", chosen=next(name for name, values in choices if not values))
        return Verdict("failed", f"refused a valid case: {said}")
    best: tuple[dict[str, str], float] | None = None
    for name, values in choices:
        if not values:
            continue
        if not any(output in (answer.values or {}) for output in values):
            return Verdict("not implemented", f"none of {', '.join(values)} is delivered")
        wrong, digits = _judge_values(case, values, answer, precision)
        if not wrong:
            if output := _undecided(case, values, answer, precision):
                return Verdict("not implemented", f"single precision cannot tell a right {output} from a wrong one")
            return Verdict("passed", digits=digits, chosen=name)
        if best is None or digits > best[1]:
            best = (wrong, digits)
    if best is None:
        return Verdict("failed", f"answered what must be refused: {_answered(answer)}")
    return Verdict(
        "failed", "; ".join(best[0].values()), best[1], matching_flags(case, answer, precision, set(best[0]))
    )
