"""How many changes of the code the tests notice: mutants drawn at random, each run in a process forked from a warm parent.

    pip install cosmic-ray pytest-cov
    python .ci/mutation.py map                       # once: which test runs which line (the whole suite, traced)
    python .ci/mutation.py run formulas --sample 500 # draw, run, write what survives to .mutation/formulas.jsonl
    python .ci/mutation.py table                     # the score of each room

The changes are cosmic-ray's. Its own way of running them starts a new interpreter for each; here the third-party packages are
imported once, a child is forked for each mutant, and the changed module comes to it through the import system, so that no file
is written. A mutant is put to the tests that run the changed line, the most specific first, ``PER_FUNCTION`` cases of one
parametrised test, then to others of its file: at most ``TESTS`` in all, and no more than take ``SECONDS`` on the code as it
is. What is run at import, as tables are, is put to the tests of its file and room. What would be noticed only by a test
beyond those counts as surviving, so the score errs on the low side; ``again`` hears what survived ``LONGER`` times as long.
A mutant that does not even import, or takes five times as long as the code as it is, is noticed; what cannot be noticed is
listed, with reasons, in equivalent_mutants.toml.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import json
import os
import random
import re
import signal
import sys
import time
import tomllib
from functools import cache
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from typing import Any

from mutants import Mutant, mutants_of
from traced import ROOT, TESTS, Coverage, trace

STORE = ROOT / ".mutation"
SECONDS, LONGER = 25, 3
DONE = 100  # added to the exit status of a run that came to its end; a change that ends the process with 0 is noticed
_THIRD_PARTY = (
    "click hypothesis jsonschema mpmath numpy pandas pint pytest scipy.interpolate scipy.optimize sympy uncertainties"
)
_SOLVER = (
    "block_solver first_root held_speed other_solutions root_finder scalar_point steady table_points torque_balance"
)
#: room -> its files
ROOMS: dict[str, list[str]] = {
    "formulas": ["shuntref/model/*_formulas.py"],
    "solver": [f"shuntref/model/{name}.py" for name in _SOLVER.split()],
    "model": ["shuntref/model/*.py"],
    "theory": ["shuntref/theory/**/*.py"],
    "exercises": ["shuntref/exercises/*.py"],
    "conformance": ["shuntref/conformance/**/*.py"],
}


def files(room: str) -> list[str]:
    """The files of a room; those of formulas and solver are not counted again for the model."""
    found = {str(path.relative_to(ROOT)) for pattern in ROOMS[room] for path in ROOT.glob(pattern)}
    if room == "model":
        found -= {*files("formulas"), *files("solver")}
    return sorted(found)


class _Changed(MetaPathFinder):
    """Finds one module, with the change in it."""

    def __init__(self, path: str, source: str) -> None:
        parts = Path(path).with_suffix("").parts
        self.module = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        self.path, self.source = str(ROOT / path), source

    def find_spec(self, fullname: str, path: Any = None, target: Any = None) -> ModuleSpec | None:
        if fullname != self.module:
            return None
        source = self.source

        class Loader(SourceFileLoader):
            def get_code(self, fullname: str) -> Any:
                return compile(source, self.path, "exec", dont_inherit=True)

        return spec_from_file_location(fullname, self.path, loader=Loader(fullname, self.path))


class _First:
    """Keeps the changed module's finder ahead of pytest's own, which would read the file (doctests make it do so)."""

    def __init__(self, change: _Changed) -> None:
        self.change = change
        sys.meta_path.insert(0, change)

    def pytest_sessionstart(self) -> None:
        sys.meta_path.remove(self.change)
        sys.meta_path.insert(0, self.change)


class _Passed:
    """Writes down which tests passed, and how long each took with what it needed first."""

    def __init__(self, place: Path) -> None:
        self.place, self.before = place, 0.0

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.when == "setup":
            self.before = report.duration
        if report.when == "call" and report.passed:
            with self.place.open("a", encoding="utf-8") as lines:
                lines.write(json.dumps([report.nodeid, round(self.before + report.duration, 3)]) + "\n")


def _child(tests: list[str], change: _Changed | None, passed: Path | None) -> int:
    """Run tests in this process, quietly; returns pytest's exit status."""
    import pytest

    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    options = "-q -p no:cacheprovider -p no:xdist -p no:cov --doctest-modules --import-mode=importlib"
    early = ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # what is imported before the fork, to no harm
    first = ["-x"] if passed is None else []
    plugins: list[Any] = [] if passed is None else [_Passed(passed)]
    if change is not None:
        plugins.append(_First(change))
    return pytest.main(
        [*options.split(), *early, *first, "-o", "addopts=", "-o", "testpaths=", *tests], plugins=plugins
    )


def _forked(tests: list[str], change: _Changed | None, passed: Path | None, seconds: float) -> int | None:
    """Fork a child that runs tests; its exit status, or None where it did not end in time."""
    pid = os.fork()
    if pid == 0:
        status = 99
        try:
            os.setpgid(0, 0)
            status = DONE + _child(tests, change, passed)
        finally:
            os._exit(status)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.01)
    os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return None


def sound(tests: list[str], seconds: float = SECONDS) -> dict[str, float]:
    """The tests that pass on the code as it is, as many as take so long, with their times; each is tried once."""
    place = STORE / "passed.jsonl"
    tried = STORE / "tried.jsonl"
    known = set(_lines(tried))
    new = [test for test in tests if test not in known]
    if new:
        _forked(new, None, place, 60 * SECONDS)
        with tried.open("a", encoding="utf-8") as lines:
            lines.writelines(json.dumps(test) + "\n" for test in new)
    times = dict(_lines(place))
    kept: dict[str, float] = {}
    budget = seconds * (1 if len(tests) <= TESTS else 4)  # tables
    for test in tests:
        if test in times and (not kept or sum(kept.values()) + times[test] < budget):
            kept[test] = times[test]
    return kept


def outcome(mutant: Mutant, source: str, tests: dict[str, float]) -> str:
    """Put a mutant to its tests: 'noticed', 'noticed (time)' or 'survived'."""
    if not tests:
        return "survived (no test)"
    patience = 5 * (sum(tests.values()) + 10)  # the machine may be at other work, too
    status = _forked(list(tests), _Changed(mutant.path, source), None, patience)
    if status is None:
        return "noticed (time)"
    if status in (DONE, DONE + 5):
        return "survived"
    if status in (DONE + 3, DONE + 4, 99) and _forked(list(tests), None, None, patience) != DONE:
        raise SystemExit(f"the tests of {mutant} could not be run (status {status})")
    return "noticed"


def _lines(store: Path) -> list[Any]:
    return [json.loads(line) for line in store.read_text(encoding="utf-8").splitlines()] if store.exists() else []


def run(room: str, sample: int, seed: int, part: int, parts: int) -> None:
    """Draw mutants of a room and put each to its tests; what is in the room's file already is not run again."""
    coverage = _ready()
    drawn = [mutant for path in files(room) for mutant in mutants_of(path)]
    random.Random(seed).shuffle(drawn)
    STORE.mkdir(exist_ok=True)
    store = STORE / f"{room}.jsonl"
    known = {(r["path"], r["operator"], r["occurrence"]) for r in _lines(store)}
    _warm()
    for number, mutant in enumerate(drawn[:sample]):
        if number % parts != part or (mutant.path, mutant.operator, mutant.occurrence) in known:
            continue
        source = mutant.source()
        if source is None or _same(source, mutant.path):
            continue
        record = _record(mutant, source, sound(coverage.chosen(mutant)))
        with store.open("a", encoding="utf-8") as lines:
            lines.write(json.dumps(record, ensure_ascii=False) + "\n")


def _warm() -> None:
    """Import what every child will need, and nothing of the package: a change in it would not be seen."""
    for name in _THIRD_PARTY.split():
        importlib.import_module(name)
    if any(name.startswith("shuntref") for name in sys.modules):
        raise SystemExit("the package is imported before the fork")


def _record(mutant: Mutant, source: str, tests: dict[str, float]) -> dict[str, Any]:
    began = time.monotonic()
    result = outcome(mutant, source, tests)
    return {
        "path": mutant.path,
        "line": mutant.line,
        "operator": mutant.operator,
        "occurrence": mutant.occurrence,
        "change": mutant.difference(source),
        "tests": len(tests),
        "outcome": result,
        "seconds": round(time.monotonic() - began, 1),
    }


def _same(source: str, path: str) -> bool:
    """Whether the change is one of layout only."""
    try:
        return ast.dump(ast.parse(source)) == ast.dump(ast.parse(Path(path).read_text(encoding="utf-8")))
    except SyntaxError:
        return False


def again(room: str, also: list[str]) -> None:
    """Put the survivors of a room to the tests for longer, those in ``also`` first; changes that no longer fit are told.

    ``also`` are test files written since the trace was taken. What is listed as equivalent is not put to them again.
    """
    coverage = _ready()
    _warm()
    store = STORE / f"{room}.jsonl"
    records = _lines(store)
    for place, record in enumerate(records):
        if not _survived(record):
            continue
        found = [m for m in mutants_of(record["path"]) if m.operator == record["operator"]]
        matching = [(m, m.source()) for m in found if abs(m.line - record["line"]) < 40]
        matching = [(m, source) for m, source in matching if source and m.difference(source) == record["change"]]
        if not matching:
            print(f"{record['path']}:{record['line']}: the line was rewritten, not counted: {record['change']}")
            record["outcome"] = "rewritten"
            continue
        mutant, source = min(matching, key=lambda pair: abs(pair[0].line - record["line"]))
        tests = dict.fromkeys(also, 2.0 * SECONDS) | sound(coverage.chosen(mutant), LONGER * SECONDS)
        records[place] = _record(mutant, source or "", tests) | {"first": record.get("first", record["outcome"])}
        print(records[place]["outcome"], mutant.path, mutant.line, flush=True)
    kept = [record for record in records if record["outcome"] != "rewritten"]
    store.write_text("".join(json.dumps(r, ensure_ascii=False) + "\n" for r in kept), encoding="utf-8")


def _ready() -> Coverage:
    os.chdir(ROOT)
    os.environ.update(CI="true", OPENBLAS_NUM_THREADS="1", MPLBACKEND="Agg")
    sys.path.insert(0, str(ROOT))
    return Coverage()


def table() -> None:
    """The score of each room that was run: of the mutants drawn, less those that are the same program.

    "At once" is what the tests noticed that there were when it was drawn; the interval holds the score of all mutants with
    95 % confidence. "In the end" is after ``again``, with tests written since: of the sample, and of no more than it.
    """
    from scipy.stats import binomtest

    print("| room | mutants in all | drawn | equivalent | noticed at once | score | 95 % interval | in the end |")
    print("|---|---|---|---|---|---|---|---|")
    for room in ROOMS:
        records = _lines(STORE / f"{room}.jsonl")
        if records:
            every = sum(1 for path in files(room) for _ in mutants_of(str(ROOT / path)))
            tried = [record for record in records if not _equivalent(record)]
            at_once = sum(not r.get("first", r["outcome"]).startswith("survived") for r in tried)
            noticed = len(tried) - sum(_survived(r) for r in tried)
            limits = binomtest(at_once, len(tried)).proportion_ci()
            print(
                f"| {room} | {every} | {len(records)} | {len(records) - len(tried)} | {at_once} "
                f"| {at_once / len(tried):.1%} | {limits.low:.1%} to {limits.high:.1%} | {noticed} |"
            )


@cache
def _reasons() -> dict[tuple[str, ...], str]:
    """Changes that no test can notice, each with its reason."""
    with Path(__file__).with_name("equivalent_mutants.toml").open("rb") as file:
        listed = tomllib.load(file).get("mutant", [])
    return {(entry["path"], *(line.strip() for line in entry["change"])): entry["reason"] for entry in listed}


def _equivalent(record: dict[str, Any]) -> bool:
    key = (record["path"], *(line.strip() for line in record["change"]))
    return record["outcome"].startswith("survived") and key in _reasons()


def _survived(record: dict[str, Any]) -> bool:
    return record["outcome"].startswith("survived") and not _equivalent(record)


def survivors(room: str) -> None:
    """The mutants of a room that no test noticed."""
    for record in sorted(_lines(STORE / f"{room}.jsonl"), key=lambda r: (r["path"], r["line"])):
        if _survived(record):
            print(f"{record['path']}:{record['line']}  {re.sub('^.*/', '', record['operator'])}  {record['outcome']}")
            print("\n".join(f"    {line}" for line in record["change"]))


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("do", choices=["map", "run", "again", "survivors", "table"])
    parser.add_argument("room", nargs="?", choices=list(ROOMS))
    parser.add_argument("--sample", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", type=int, default=0, help="which share to run, of ...")
    parser.add_argument("--parts", type=int, default=1, help="... how many, one for each process started")
    parser.add_argument("--also", nargs="*", default=[], help="test files newer than the map, for 'again' and 'map'")
    given = parser.parse_args()
    if given.do == "map":
        trace(given.also)
    elif given.do == "table":
        table()
    elif given.room is None:
        parser.error("a room is needed")
    elif given.do == "run":
        run(given.room, given.sample, given.seed, given.part, given.parts)
    else:
        again(given.room, given.also) if given.do == "again" else survivors(given.room)


if __name__ == "__main__":
    main()
