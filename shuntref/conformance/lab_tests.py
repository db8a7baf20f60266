"""The cases in a test file of one's own: parametrise a test over the cases of a group.

In a test file of one's own::

    from shuntref.conformance import pytest_cases

    @pytest_cases("currents")
    def test_currents(case):
        case.check(my_currents, arguments={"V": "supply_voltage in V", ...}, result=["field_current in A", ...])
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pytest

from shuntref.conformance.judge import Answer, judge
from shuntref.conformance.mapping import Unmapped, WrongForm, bind
from shuntref.conformance.report import flag_words
from shuntref.conformance.suite import Case, Suite, load_suite, select
from shuntref.conformance.worker import call_function

__all__ = ["PytestCase", "pytest_cases"]


@dataclass(frozen=True)
class PytestCase:
    """One certified case in a test of one's own."""

    case: Case
    suite: Suite

    @property
    def inputs(self) -> dict[str, Any]:
        """The inputs by registry name, in registry units."""
        return {name: list(v) if isinstance(v, tuple) else v for name, v in self.case.inputs.items()}

    def check(
        self,
        function: Callable[..., Any],
        *,
        arguments: Mapping[str, str] | list[str] | None = None,
        result: Any = None,
        constants: Mapping[str, float] | None = None,
        precision: str = "double",
    ) -> None:
        """Call ``function`` with the inputs of the case and fail the test when the answer is not right.

        Parameters
        ----------
        function
            What is under test; called in this process, with its own names and units and nothing else.
        arguments, result, constants
            As in a mapping file; left out, the function uses the names and units of the registry.
        precision
            "double" or "single".
        """
        __tracebackhide__ = True
        entry = self.suite.functions[self.case.function]
        written = {"arguments": arguments, "result": result, "constants": constants}
        binding = bind(entry, {k: v for k, v in written.items() if v is not None}, precision=precision, where="check")
        try:
            inputs = binding.inputs_for(self.case, entry)
        except Unmapped as reason:
            pytest.skip(f"not implemented: {reason}")
        reply = call_function(function, inputs)
        if "missing" in reply:
            pytest.skip(f"not implemented: {reply['missing']}")
        if "broken" in reply:
            pytest.fail(f"{self.case.id}: {reply['broken']}", pytrace=False)
        try:
            answer = (
                Answer("refused", text=reply["error"])
                if "error" in reply
                else Answer("values", binding.values_from(reply["result"]), units=binding.units)
            )
        except WrongForm as reason:
            pytest.fail(f"{self.case.id}: {reason}", pytrace=False)
        verdict = judge(self.case, answer, binding.precision)
        if verdict.status != "passed":
            matches = [flag_words(flag) for flag in verdict.flags]
            told = f"\nmatches: {matches[0]}" if matches else ""
            pytest.fail(f"{self.case.id}: {verdict.reason}{told}", pytrace=False)


def pytest_cases(*groups: str, functions: Iterable[str] = (), levels: Iterable[int] = ()) -> pytest.MarkDecorator:
    """Return a decorator that runs a test once for each case of the groups, functions and levels named.

    Parameters
    ----------
    *groups : str
        Which groups; none means all of them.
    functions, levels : iterable of str, of int
        Which functions and levels; an empty choice means all of them.

    Returns
    -------
    decorator of a test with an argument called ``case``

    Raises
    ------
    ValueError
        When a name matches nothing.

    Examples
    --------
    >>> @pytest_cases("currents", levels=[1])
    ... def test_currents(case):
    ...     case.check(lambda **given: None)
    >>> test_currents.pytestmark[0].name
    'parametrize'
    """
    suite = load_suite()
    chosen = select(suite, groups=groups, functions=functions, levels=levels)
    return pytest.mark.parametrize("case", [pytest.param(PytestCase(case, suite), id=case.id) for case in chosen])
