"""Generate the certified cases: ``python -m shuntref.conformance.generate`` writes references/cases to the same bytes.

The laws of the theory layer are solved in 60-digit arithmetic for every row of inputs of the groups; nothing else goes
in. ``--check`` compares with what is there instead of writing.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from shuntref.conformance.case_schema import case_schema
from shuntref.conformance.case_tables import case_tables, csv_text
from shuntref.conformance.certify import certify
from shuntref.conformance.datapackage import DESCRIPTOR, descriptor_text, references_folder
from shuntref.conformance.groups import all_entries
from shuntref.whole_file import write_whole

__all__ = ["cases_folder", "certified_cases", "frozen_ids", "generated_files", "main"]


def cases_folder() -> Path:
    """Return the folder of the certified cases."""
    return Path(str(files("shuntref.references").joinpath("cases")))


def certified_cases(functions: Iterable[str] | None = None) -> list[dict[str, Any]]:
    """Return the cases of the named functions (all of them by default) in canonical order.

    Raises
    ------
    ValueError
        When a row does not do what it says, or two cases carry the same id.

    Examples
    --------
    >>> case = certified_cases(["ideal_no_load_speed"])[0]
    >>> case["id"], case["expected"]
    ('ideal-no-load-speed-tiny', {'ideal_no_load_speed': '150.0000000000000000000000'})
    """
    entries = all_entries()
    wanted = list(entries) if functions is None else list(functions)
    cases = [certify(name, entries[name], row) for name in wanted for row in entries[name].rows]
    seen: set[str] = set()
    for case in cases:
        if case["id"] in seen:
            raise ValueError(f"two cases are called {case['id']!r}")
        seen.add(case["id"])
    return cases


def frozen_ids(before: Sequence[str], now: Iterable[str]) -> list[str]:
    """Return the frozen list with new ids at its end.

    Raises
    ------
    ValueError
        When an id of the list is no longer there: a case is never dropped or renamed.

    Examples
    --------
    >>> frozen_ids(["b", "a"], ["a", "c", "b"])
    ['b', 'a', 'c']
    """
    present = list(now)
    missing = [name for name in before if name not in set(present)]
    if missing:
        raise ValueError(
            f"{len(missing)} frozen ids are gone, the first is {missing[0]!r}; ids are never dropped or renamed"
        )
    return [*before, *(name for name in present if name not in set(before))]


def _json(content: Mapping[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _cases_json(cases: Sequence[Mapping[str, Any]]) -> str:
    """One line for every part of a case: short enough to read, and a change shows where it is."""
    lines = []
    for case in cases:
        parts = [f"  {json.dumps(k)}: {json.dumps(v, ensure_ascii=False, allow_nan=False)}" for k, v in case.items()]
        lines.append(" {\n" + ",\n".join(parts) + "\n }")
    return '{"schema": "cases.schema.json", "cases": [\n' + ",\n".join(lines) + "\n]}\n"


def generated_files(cases: Sequence[Mapping[str, Any]], before: Sequence[str]) -> dict[str, str]:
    """Return the contents of every generated file by its name."""
    found = {"ids.txt": "".join(f"{name}\n" for name in frozen_ids(before, [case["id"] for case in cases]))}
    found["cases.json"] = _cases_json(cases)
    found["cases.schema.json"] = _json(case_schema())
    found.update({table.name: csv_text(table) for table in case_tables(cases)})
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Write (or with ``--check`` compare) the generated files; return the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m shuntref.conformance.generate", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--check", action="store_true", help="compare with the files that are there and write nothing")
    parser.add_argument("--to", type=Path, default=None, metavar="FOLDER", help="write to another folder")
    options = parser.parse_args(arguments)
    folder = options.to or cases_folder()
    ids = folder / "ids.txt"
    before = ids.read_text(encoding="utf-8").split() if ids.exists() else []
    try:
        contents = generated_files(certified_cases(), before)
    except ValueError as error:
        print(f"generate: {error}", file=sys.stderr)
        return 1
    if options.check:
        changed = [
            n for n, text in contents.items() if not (folder / n).exists() or (folder / n).read_bytes() != text.encode()
        ]
        for name in changed:
            print(f"generate: {name} is not what the generator writes", file=sys.stderr)
        return 1 if changed else 0
    for name, text in contents.items():
        write_whole(folder / name, text)
    if options.to is None:
        write_whole(references_folder() / DESCRIPTOR, descriptor_text(references_folder()))
    print(f"{len(contents)} files, {contents['ids.txt'].count(chr(10))} cases, in {folder.name}/")
    return 0


if __name__ == "__main__":
    sys.exit(main())
