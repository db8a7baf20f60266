"""The self-check counts honestly, breaks down for nothing, and says it with its exit status; the tour shows every stop."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

import shuntref.cli.selfcheck as face
from shuntref.cli.tour import STOPS
from shuntref.selfcheck import PROVIDERS, run

Cli = Callable[..., tuple[int, str, str]]
QUICK = "shuntref.quantities.evidence"
BROKEN = "shuntref.no_such_evidence"


def test_a_provider_that_breaks_down_is_a_failed_check_and_the_rest_still_runs() -> None:
    outcomes = list(run((BROKEN, QUICK)))
    assert [outcome.check.passed for outcome in outcomes][:2] == [False, True]
    assert "ModuleNotFoundError" in outcomes[0].check.detail
    assert len(outcomes) > 5


def test_two_processes_find_what_one_finds_in_the_same_order() -> None:
    one = [outcome.check for outcome in run((QUICK, BROKEN, "shuntref.tie"))]
    two = [outcome.check for outcome in run((QUICK, BROKEN, "shuntref.tie"), workers=2)]
    assert one == two


def test_the_exit_status_and_the_totals_tell_a_failure(command_line: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(face, "PROVIDERS", (QUICK,))
    status, out, _ = command_line("selfcheck")
    assert (status, "0 failed" in out) == (0, True)
    monkeypatch.setattr(face, "PROVIDERS", (QUICK, BROKEN))
    status, out, _ = command_line("selfcheck", "--failures")
    assert (status, "1 failed" in out, "FAILED" in out) == (1, True, True)
    status, out, _ = command_line("selfcheck", "--json")
    document = json.loads(out)
    assert (status, document["failed"]) == (1, 1)
    assert document["passed"] == len(document["checks"]) - 1


def test_every_room_brings_its_evidence() -> None:
    rooms = {name.split(".")[1] for name in PROVIDERS}
    assert {"quantities", "theory", "tie", "model", "exercises", "conformance", "bench"} <= rooms


def test_the_tour_shows_every_stop(command_line: Cli) -> None:
    status, out, err = command_line("tour", "--without-evidence")
    assert (status, err) == (0, "")
    for number, stop in enumerate(STOPS, 1):
        assert f"{number}. {stop.heading}" in out
    for words in ("omega = U/kPhi", "it holds", "1859.4", "likely slip: armature drop ignored", "INVENTED", "Cautions",
                  "line current for armature current"):  # fmt: skip
        assert words in out, words
