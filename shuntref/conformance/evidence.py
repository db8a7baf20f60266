"""Evidence of the certified cases for the self-check: the suite is sound, two evaluators and our own model agree."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from importlib.resources import files

from shuntref.conformance.comparison import worst_share
from shuntref.conformance.second_evaluator import evaluate
from shuntref.conformance.suite import Case, load_suite
from shuntref.evidence import Check
from shuntref.quantities.registry import REGISTRY

__all__ = ["checks"]

GROUP = "certified cases"
_SOURCE = "proved or computed here: generated from the laws of the theory layer in 60-digit arithmetic"
_AGREE = Decimal("1e-23")
_LEAST_CASES = 500
_LEAST_FLAGS = 20


def checks() -> Iterator[Check]:
    """Yield the checks of the suite on itself; a few seconds."""
    yield from _sound()
    yield _second()
    yield _own()


def _sound() -> Iterator[Check]:
    suite = load_suite()
    cases = suite.cases
    levels = Counter(case.level for case in cases)
    figures = ", ".join(f"{levels[n]} of level {n}" for n in sorted(levels))
    enough = len(cases) >= _LEAST_CASES and set(levels) == {1, 2, 3, 4}
    yield Check(GROUP, f"at least {_LEAST_CASES} cases on four levels", enough, f"{len(cases)}: {figures}")
    text = files("shuntref.references").joinpath("cases", "ids.txt").read_text(encoding="utf-8")
    ids = [case.id for case in cases]
    frozen = len(set(ids)) == len(ids) and set(text.split()) == set(ids)
    yield Check(GROUP, "every id is frozen, none is lost, none is there twice", frozen, f"{len(ids)} ids")
    used = Counter(flag.flag for case in cases for flag in case.flags)
    defined = set(suite.flags)
    named = set(used) == defined and len(defined) >= _LEAST_FLAGS
    yield Check(
        GROUP, "every named mistake is defined and used", named, f"{len(defined)} mistakes, {used.total()} wrong values"
    )
    clash = next((case.id for case in cases if not _told_apart(case)), "")
    yield Check(GROUP, "wrong values lie more than ten tolerances off and apart from one another", not clash, clash)
    units = {(entry.name, entry.unit) for f in suite.functions.values() for entry in f.inputs}
    units |= {(entry.name, entry.unit) for f in suite.functions.values() for entry in f.outputs}
    strange = sorted(name for name, unit in units if name not in REGISTRY or REGISTRY[name].unit != unit)
    detail = ", ".join(strange) or f"{len(suite.functions)} functions"
    yield Check(GROUP, "every input and output is a quantity of the registry, in its unit", not strange, detail)


def _told_apart(case: Case) -> bool:
    """Return whether each wrong value of a case differs from what is right and from the other wrong values."""
    if case.result == "invalid":
        return True
    seen = []
    for flag in case.flags:
        answer = {**case.expected, **flag.values}
        if worst_share(case, answer) <= 10 or answer in seen:
            return False
        seen.append(answer)
    return True


def _second() -> Check:
    worst, at, count = Decimal(0), "", 0
    for case in load_suite().cases:
        if case.result == "invalid":
            continue
        count += 1
        found = evaluate(case.function, case.inputs)
        for name, certified in case.expected.items():
            texts = (certified,) if isinstance(certified, str) else certified
            values = found[name] if isinstance(found[name], list) else [found[name]]
            if len(texts) != len(values):
                return Check(GROUP, _SECOND, False, f"{case.id}: {len(values)} values of {name}")
            for text, value in zip(texts, values, strict=True):
                exact = Decimal(text)
                off = abs(value) if exact == 0 else abs(value / exact - 1)
                if off > worst:
                    worst, at = off, case.id
    return Check(GROUP, _SECOND, worst < _AGREE, f"{count} cases, worst {worst:.1e} in {at}", _SOURCE)


_SECOND = "a second evaluator, which shares no code with theory or model, agrees to 23 digits"


def _own() -> Check:
    from shuntref.conformance.own_model import answer

    worst, at = Decimal(0), ""
    for case in load_suite().cases:
        try:
            found = answer(case.function, {n: list(v) if isinstance(v, tuple) else v for n, v in case.inputs.items()})
        except ValueError:
            found = None
        share = worst_share(case, found)
        if share > worst:
            worst, at = share, case.id
    return Check(
        GROUP, "our own model passes every case", worst <= 1, f"worst: {worst:.2%} of its tolerance in {at}", _SOURCE
    )


def summary() -> str:
    """Return the numbers of cases per group and level as a table.

    Examples
    --------
    >>> print(summary().splitlines()[0])
    group                        1    2    3    4  all
    """
    cases = load_suite().cases
    counts = Counter((case.group, case.level) for case in cases)
    lines = [f"{'group':<26}" + "".join(f"{n:>4} " for n in (1, 2, 3, 4)) + " all"]
    for group in dict.fromkeys(case.group for case in cases):
        row = [counts[group, n] for n in (1, 2, 3, 4)]
        lines.append(f"{group:<26}" + "".join(f"{n:>4} " for n in row) + f"{sum(row):>4}")
    return "\n".join(lines)
