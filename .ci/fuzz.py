"""Hostile input by the million: every reader refuses it in its own words, in time, in bounds, and leaves nothing half done.

    python .ci/fuzz.py --inputs 1000000 --seed 1      # all targets; slow ones get fewer inputs, by their weight
    python .ci/fuzz.py --each 2000 --only "bench"     # targets whose name has this word
    python .ci/fuzz.py --guided --inputs 50000 --only "machine file"      # by branches reached; needs atheris
    python .ci/fuzz.py --again .fuzz/unit-text-12ab.input --only "unit text"

Each input is drawn from the seed and its running number, so that a run can be repeated, and split by seeds. An input may
take 2 s of this process's own time (a target says so where it may take more), the process may grow by 1 GB, and only the
documented errors may come out. Findings are printed once for each place, their inputs are kept in --keep, and the exit
status is 1 when there are any.
"""

from __future__ import annotations

import argparse
import importlib
import sys
import time
from pathlib import Path

from fuzzing.guided import run_guided
from fuzzing.watch import Tally, Target, limit_memory, peak_megabytes, watched

ROOT = Path(__file__).resolve().parents[1]
_ROOMS = ("texts", "files", "sheets", "lines", "commands")
_MOST_MEGABYTES = 1_000


def all_targets() -> list[Target]:
    """Every target, in the order of the floors."""
    return [target for room in _ROOMS for target in importlib.import_module(f"fuzzing.{room}").targets()]


def counts(inputs: int) -> dict[str, int]:
    """How many of ``inputs`` each target gets, by its weight among all: parts of a run add up to the whole."""
    targets = all_targets()
    whole = sum(target.weight for target in targets)
    return {target.name: max(1, round(inputs * target.weight / whole)) for target in targets}


def chosen(words: list[str]) -> list[Target]:
    """The targets of these names; a word that is no name chooses every target that has it in its name."""
    targets = all_targets()
    names = {target.name for target in targets}
    return [
        target for target in targets if any(w == target.name or (w not in names and w in target.name) for w in words)
    ]


def line(tally: Tally) -> str:
    """One row of the table."""
    return (
        f"{tally.name:<20}{tally.inputs:>10}{tally.accepted:>10}{tally.refused:>10}{tally.slowest:>10.3f}{tally.seconds:>10.1f}"
        f"{tally.memory:>10.0f}{len(tally.findings):>10}"
    )


_COLUMNS = ("inputs", "accepted", "refused", "slowest s", "all s", "grown MB", "findings")
HEADING = f"{'target':<20}" + "".join(f"{word:>10}" for word in _COLUMNS)


def _told(tally: Tally) -> None:
    for finding in tally.findings.values():
        print(f"    {finding.times} x {finding.where}: {finding.what}")
        for path in finding.inputs:
            print(f"        {path}")


def _again(target: Target, path: Path) -> int:
    data = path.read_bytes()
    try:
        print("accepted" if target.run(data) else "refused")
    except target.documented as error:
        print(f"refused: {error}")
    return 0


def main() -> int:
    """Run what was asked for and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--inputs", type=int, default=10_000, help="of all targets together")
    parser.add_argument("--each", type=int, help="of each target, whatever its weight")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="target, or word in the names of several; several with commas")
    parser.add_argument("--minutes", type=float, help="stop each target after its share of this time")
    parser.add_argument("--keep", type=Path, default=ROOT / ".fuzz", help="folder for the inputs of findings")
    parser.add_argument("--again", type=Path, help="put one kept input to the target named by --only")
    parser.add_argument(
        "--guided", action="store_true", help="one target, guided by the branches reached (needs atheris)"
    )
    options = parser.parse_args()
    if options.guided:
        run_guided(lambda: chosen(options.only.split(",")), options.inputs, options.keep)
    targets = chosen(options.only.split(","))
    if not targets:
        parser.error(f"no target has {options.only!r} in its name")
    if options.again:
        return _again(targets[0], options.again)
    wanted = counts(options.inputs)
    for target in targets:  # what is loaded or worked out once belongs to no input, and is in the base of the memory
        watched(target, range(1, 4))
    base = peak_megabytes()
    limit_memory(_MOST_MEGABYTES)
    print(HEADING, flush=True)
    tallies = []
    for target in targets:
        first = options.seed * 1_000_000_000
        until = None if options.minutes is None else time.monotonic() + 60.0 * options.minutes / len(targets)
        count = options.each or wanted[target.name]
        tally = watched(target, range(first, first + count), folder=options.keep, until=until)
        print(line(tally), flush=True)
        _told(tally)
        tallies.append(tally)
    whole = Tally(
        "all",
        *(sum(getattr(tally, name) for tally in tallies) for name in ("inputs", "accepted", "refused", "seconds")),
    )
    whole.slowest = max(tally.slowest for tally in tallies)
    whole.memory = peak_megabytes() - base
    print(line(whole))
    found = sum(len(tally.findings) for tally in tallies)
    print(
        f"peak memory {peak_megabytes():.0f} MB, {whole.memory:.0f} above the {base:.0f} of the start; {found} findings"
    )
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
