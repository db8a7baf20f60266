"""Put the cases to a target one by one and judge what comes back."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from shuntref.conformance.judge import judge
from shuntref.conformance.score import Outcome, Score, name_mistakes, with_known_failures
from shuntref.conformance.suite import Case, Suite
from shuntref.conformance.targets import Target

__all__ = ["run_cases"]


def run_cases(
    suite: Suite,
    cases: Sequence[Case],
    target: Target,
    *,
    known_failures: Sequence[str] = (),
    progress: Callable[[int, int], None] | None = None,
) -> Score:
    """Put ``cases`` to ``target`` and return the score; the target is closed afterwards, come what may.

    Parameters
    ----------
    suite, cases
        The suite and those of its cases that are to be asked.
    target
        Whom to ask.
    known_failures
        Ids that the implementer expects to fail.
    progress
        Called with the number of cases done and of all cases.

    Returns
    -------
    Score

    Notes
    -----
    Only the function's name and the inputs go to the target, under a running number.

    Examples
    --------
    >>> from shuntref.conformance.answers import AnswersTarget
    >>> from shuntref.conformance.mapping import plain_binding
    >>> from shuntref.conformance.suite import load_suite, select
    >>> suite = load_suite()
    >>> function = suite.functions["starting_resistance"]
    >>> empty_sheet = AnswersTarget("an empty sheet", {}, {function.name: plain_binding(function, "mine")})
    >>> score = run_cases(suite, select(suite, functions=[function.name]), empty_sheet)
    >>> {outcome.status for outcome in score.outcomes}
    {'not implemented'}
    """
    began = time.perf_counter()
    outcomes = []
    try:
        for position, case in enumerate(cases, 1):
            answer = target.answer(case)
            outcomes.append(Outcome(case, answer, judge(case, answer, target.precision(case.function))))
            if progress is not None:
                progress(position, len(cases))
    finally:
        target.close()
    undelivered = {}
    asked_of = dict.fromkeys(case.function for case in cases)
    for function in asked_of:
        delivered = target.delivers(function)
        asked = [output.name for output in suite.functions[function].outputs]
        left_out = tuple(name for name in asked if delivered and name not in delivered)
        if left_out:
            undelivered[function] = left_out
    in_single = tuple(
        function
        for function in asked_of
        if target.precision(function) == "single"
        and any(o.case.function == function and o.verdict.status != "not implemented" for o in outcomes)
    )
    score = Score(target.name, suite, name_mistakes(outcomes), time.perf_counter() - began, (), undelivered, in_single)
    return with_known_failures(score, known_failures)
