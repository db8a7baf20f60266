"""Settings shared by all tests: hypothesis repeats the same examples wherever CI is set."""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("bench", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("ci" if os.environ.get("CI") else "bench")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show the figures that tests measure: the lines they print that begin with ``figure:``."""
    reports = terminalreporter.getreports("passed") + terminalreporter.getreports("failed")
    lines = [line for report in reports for line in report.capstdout.splitlines() if line.startswith("figure: ")]
    if lines:
        terminalreporter.section("figures measured by the tests")
        for line in lines:
            terminalreporter.line(line.removeprefix("figure: "))


@pytest.fixture
def command_line(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Run ``shuntref`` with arguments in this process; return exit status, standard output and standard error."""
    from shuntref.cli import main

    def run(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return int(ended.value.code or 0), captured.out, captured.err

    return run
