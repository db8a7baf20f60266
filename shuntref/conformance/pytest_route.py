"""The whole suite in pytest, on a named target; nothing of it is loaded unless it is asked for.

For example ``pytest -p shuntref.conformance.pytest_route --shuntref-target my_lab.toml``. Each certified case becomes a
test item; known failures of the mapping file are expected failures, and what is not implemented is skipped.
"""

from __future__ import annotations

from typing import Any

import pytest

from shuntref.conformance.report import flag_words
from shuntref.conformance.runner import run_cases
from shuntref.conformance.score import Outcome
from shuntref.conformance.suite import Case, load_suite

__all__ = ["CertifiedCase", "pytest_addoption", "pytest_collection_modifyitems"]


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the options of the whole-suite run; seen only where this plugin was asked for."""
    group = parser.getgroup("shuntref", "certified cases of shuntref")
    group.addoption(
        "--shuntref-target",
        metavar="TARGET",
        help="module:function, file.py:function or a mapping file (.toml) to put the certified cases to",
    )
    group.addoption(
        "--shuntref-command", metavar="COMMAND", help="a program that speaks JSON lines, instead of a target"
    )
    group.addoption("--shuntref-function", action="append", default=[], metavar="NAME", help="only this function")
    group.addoption("--shuntref-group", action="append", default=[], metavar="NAME", help="only this group")


class _Run:
    """The score, made when the first case is wanted."""

    def __init__(self, config: pytest.Config) -> None:
        from shuntref.conformance.target_choice import choose

        self.suite = load_suite()
        self._choice = choose(
            self.suite,
            config.getoption("--shuntref-target") or "",
            command=config.getoption("--shuntref-command") or "",
            functions=config.getoption("--shuntref-function"),
            groups=config.getoption("--shuntref-group"),
        )
        self._outcomes: dict[str, Outcome] = {}
        self._trouble = ""

    @property
    def cases(self) -> tuple[Case, ...]:
        return self._choice.cases

    def outcome(self, case_id: str) -> Outcome:
        """Return the outcome of a case, asking all of them at the first call; a target that cannot be used fails it."""
        if not self._outcomes and not self._trouble:
            try:
                score = run_cases(
                    self.suite, self.cases, self._choice.open(), known_failures=self._choice.known_failures
                )
                self._outcomes = {outcome.case.id: outcome for outcome in score.outcomes}
            except (ValueError, OSError) as error:
                self._trouble = str(error)
        if self._trouble:
            pytest.fail(self._trouble, pytrace=False)
        return self._outcomes[case_id]


class CertifiedCase(pytest.Item):
    """One certified case put to the named target."""

    run: _Run

    def runtest(self) -> None:
        outcome = self.run.outcome(self.name)
        if outcome.status == "not implemented":
            pytest.skip(f"not implemented: {outcome.verdict.reason}")
        if outcome.status == "known failure":
            pytest.xfail(outcome.verdict.reason)
        if outcome.status == "failed":
            told = f"\nmatches: {flag_words(outcome.mistake)}" if outcome.mistake else ""
            pytest.fail(f"{outcome.case.id}: {outcome.verdict.reason}{told}", pytrace=False)

    def reportinfo(self) -> tuple[Any, int | None, str]:
        return self.path, None, f"certified case {self.name}"


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(session: pytest.Session, config: pytest.Config, items: list[pytest.Item]) -> None:
    """Add the certified cases to the run when a target was named."""
    if not (config.getoption("--shuntref-target") or config.getoption("--shuntref-command")):
        return
    try:
        run = _Run(config)
    except (ValueError, OSError) as error:
        raise pytest.UsageError(f"shuntref: {error}") from None
    for case in run.cases:
        item = CertifiedCase.from_parent(session, name=case.id)
        item.run = run
        items.append(item)
