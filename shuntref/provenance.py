"""Where every check value is from: the data files of references/ walked, each value with its source, kind and mark.

A check value is a figure that something of this project is held against. Each is published (then its source is a key of
sources.toml), common practice without a source, computed here, or invented; and each says how it was come by.
"""

from __future__ import annotations

import csv
import io
import json
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from shuntref.evidence import Check

__all__ = [
    "COMMON", "COMPUTED", "INVENTED", "MARKS", "CheckValue", "check_faults", "check_values", "faults", "mark",
    "source_ids", "sources",
]  # fmt: skip

#: in the place of a key of sources.toml, for values that no publication stands behind
COMMON, COMPUTED, INVENTED = "common practice, no source", "proved or computed here", "invented"
#: how a value was come by, the weakest first; the mark of a value that is partly one, partly another is the weaker
MARKS = ("from memory", "secondary", "seen", "computed")
#: keys of a row that tell about its values and are none
_ABOUT = frozenset(
    {
        "id", "title", "source", "source_id", "seen", "confidence", "note", "unit", "measure", "clause", "definition",
        "difficulty", "model", "names", "digits", "rule", "condition", "tolerance_because", "tolerance_reason", "convention",
        "why",
    }
)  # fmt: skip
_SOURCE_KEYS = ("author", "title", "kind", "seen")
_SEEN_OF_SOURCES = ("statement and answer", "statement", "clauses", "data files", "no")


@dataclass(frozen=True, slots=True)
class CheckValue:
    """One check value, or a row of them that have all the same provenance.

    Parameters
    ----------
    place : str
        File, and where in it.
    figures : int
        How many figures stand there.
    sources : tuple of str
        Keys of sources.toml, or one of ``COMMON``, ``COMPUTED``, ``INVENTED``; empty when nothing is said.
    seen : str
        How it was come by, in the words of the file.

    Examples
    --------
    >>> CheckValue("standards/units.toml: [horsepower-metric]", 1, ("nist-sp-811",), "computed").sources
    ('nist-sp-811',)
    """

    place: str
    figures: int
    sources: tuple[str, ...]
    seen: str


def mark(seen: str) -> str:
    """Reduce the words on how a value was come by to one mark, the weakest that they name; empty when they name none.

    Parameters
    ----------
    seen : str
        The words of a data file.

    Returns
    -------
    str
        One of ``MARKS``, or nothing.

    Examples
    --------
    >>> mark("from memory: the text was not seen"), mark("statement and answer seen"), mark("seen in secondary pages")
    ('from memory', 'seen', 'secondary')
    >>> mark("somewhere")
    ''
    """
    words = seen.replace("not seen", "")
    return next((one for one in MARKS if one in words), "")


def source_ids(row: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the sources that a row of a data file names, as keys; or that it is common practice and has none.

    Parameters
    ----------
    row : mapping
        With ``source_id``, a key or a list of keys; or with ``source``, a key or "common practice ... no source".

    Returns
    -------
    tuple of str
        Empty when the row says nothing.

    Examples
    --------
    >>> source_ids({"source": "IEC 60085 (2007)", "source_id": "iec-60085"})
    ('iec-60085',)
    >>> source_ids({"source": "common practice, no source"})
    ('common practice, no source',)
    """
    named = row.get("source_id", row.get("source", ()))
    if isinstance(named, str) and named.startswith("common practice") and named.endswith("no source"):
        return (COMMON,)
    return tuple(str(one) for one in ([named] if isinstance(named, str) else named) if one)


def _figures(value: Any) -> int:
    """Count the figures of a value: numbers, texts and truths, in lists and tables too."""
    if isinstance(value, Mapping):
        return sum(_figures(entry) for key, entry in value.items() if key not in _ABOUT)
    return sum(map(_figures, value)) if isinstance(value, list) else 1


def _row(place: str, row: Mapping[str, Any]) -> CheckValue:
    return CheckValue(place, _figures(row) or 1, source_ids(row), str(row.get("seen", "")))


def _exercise(place: str, text: str) -> Iterator[CheckValue]:
    table = tomllib.loads(text)
    source = table.get("source", {})
    for name, answer in table.get("answer", {}).items():
        if table.get("invented") is True:
            yield CheckValue(f"{place}: answer {name}", 1, (INVENTED,), "computed")
        elif "value" in answer:
            named = (source["id"],) if "id" in source else ()
            yield CheckValue(f"{place}: answer {name}", 1, named, str(source.get("answer", "")))


def _rows(place: str, text: str) -> Iterator[CheckValue]:
    """Rows of standards: ``[[value]]`` with an id each, or one table for each."""
    table = tomllib.loads(text)
    named = (
        ((row.get("id", number), row) for number, row in enumerate(table["value"]))
        if "value" in table
        else table.items()
    )
    for name, row in named:
        yield _row(f"{place}: [{name}]", row)


def _examples(place: str, text: str) -> Iterator[CheckValue]:
    for row in tomllib.loads(text)["example"]:
        told = CheckValue(
            f"{place}: [{row.get('id', '')}]", len(row["printed"]), source_ids(row), str(row.get("seen", ""))
        )
        yield told


def _invented(place: str, text: str) -> Iterator[CheckValue]:
    """A machine or a bench: invented, and saying so in every table that may say it."""
    table = tomllib.loads(text)
    said = table.get("scenario", table.get("machine", {})).get("invented") is True
    yield CheckValue(place, _figures(table), (INVENTED,) if said else (), "computed" if said else "")


def _log(place: str, text: str) -> Iterator[CheckValue]:
    said = text.startswith("# INVENTED")
    yield CheckValue(place, max(len(text.splitlines()) - 1, 1), (INVENTED,) if said else (), "computed" if said else "")


def _cases(place: str, text: str) -> Iterator[CheckValue]:
    """The certified cases: computed from the laws by the generator, which the tests run again."""
    for case in json.loads(text)["cases"]:
        figures = _figures(case["expected"]) + sum(_figures(flag["wrong"]) for flag in case["flags"])
        yield CheckValue(f"{place}: {case['id']}", figures or 1, (COMPUTED,), "computed")


def _same_cases(place: str, text: str) -> Iterator[CheckValue]:
    """The cases once more, as a table."""
    rows = max(sum(1 for _ in csv.reader(io.StringIO(text))) - 1, 1)
    yield CheckValue(place, rows, (COMPUTED,), "computed")


def _nothing(place: str, text: str) -> Iterator[CheckValue]:
    """A file that holds no check value: descriptions, schemas, lists of names."""
    yield from ()


_FOLDERS: dict[str, Callable[[str, str], Iterator[CheckValue]]] = {
    "exercises": _exercise, "errata": _exercise, "practice": _exercise, "standards": _rows, "machines": _invented,
}  # fmt: skip
_FILES: dict[str, Callable[[str, str], Iterator[CheckValue]]] = {
    "bench/bench.toml": _invented, "bench/log.csv": _log,
    "bench/starter_examples.toml": _examples, "bench/no_load_examples.toml": _examples,
    "cases/cases.json": _cases, "cases/cases.csv": _same_cases, "cases/acceptable.csv": _same_cases,
    "cases/wrong_values.csv": _same_cases, "cases/flags.toml": _nothing, "cases/flags.csv": _nothing,
    "cases/functions.toml": _nothing, "cases/functions.csv": _nothing, "cases/cases.schema.json": _nothing,
    "sources.toml": _nothing, "datapackage.json": _nothing, "exercises_left_out.toml": _nothing,
}  # fmt: skip


def _data_files(folder: Traversable, above: str = "") -> Iterator[tuple[str, Traversable]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        place = f"{above}{entry.name}"
        if entry.is_dir():
            yield from _data_files(entry, f"{place}/")
        elif entry.name.endswith((".toml", ".json", ".csv")):
            yield place, entry


def check_values(folder: Traversable | None = None) -> tuple[CheckValue, ...]:
    """Return every check value of the references, with its provenance as the file states it.

    Parameters
    ----------
    folder : folder, optional
        The references; those of the package when left out.

    Returns
    -------
    tuple of CheckValue
        A data file of a kind that is not known counts as one value without a source.

    Examples
    --------
    >>> values = check_values()
    >>> sum("bird" in value.sources for value in values) > 10
    True
    """
    found: list[CheckValue] = []
    for place, entry in _data_files(files("shuntref.references") if folder is None else folder):
        reader = _FILES.get(place) or _FOLDERS.get(place.rpartition("/")[0])
        text = entry.read_text(encoding="utf-8")
        found += reader(place, text) if reader else [CheckValue(place, 1, (), "")]
    return tuple(found)


def sources(folder: Traversable | None = None) -> dict[str, dict[str, str]]:
    """Return the table of sources, sources.toml.

    Parameters
    ----------
    folder : folder, optional
        The references; those of the package when left out.

    Returns
    -------
    dict
        Key to author, title, edition, year, place, kind and seen.

    Examples
    --------
    >>> sources()["nist-sp-811"]["kind"]
    'guide'
    """
    root = files("shuntref.references") if folder is None else folder
    return tomllib.loads((root / "sources.toml").read_text(encoding="utf-8"))


def _fault_of(place: str, named: tuple[str, ...], seen: str, known: Mapping[str, Any]) -> Iterator[str]:
    if not named:
        yield f"{place}: no source"
    for one in named:
        if one not in (COMMON, COMPUTED, INVENTED) and one not in known:
            yield f"{place}: the source {one!r} is not in sources.toml"
    if not mark(seen):
        yield f"{place}: not said whether it was seen or is from memory ({seen!r})"


def check_faults(check: Check, known: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what is wrong with the provenance of one check of the rooms' evidence.

    Parameters
    ----------
    check : Check
        Without a source it counts as proved or computed here.
    known : mapping
        The table of sources.

    Returns
    -------
    tuple of str
        A line each; none when nothing is wrong.

    Examples
    --------
    >>> check_faults(Check("group", "a figure", True, source="a book", source_ids=("no-such-book",)), {})[0]
    "a figure: the source 'no-such-book' is not in sources.toml"
    """
    if not check.source and not check.source_ids:
        return ()
    own = next((one for one in (COMMON, COMPUTED, INVENTED) if check.source.startswith(one)), "")
    named = check.source_ids or ((own,) if own else ())
    return tuple(
        _fault_of(check.statement, named, check.seen or ("computed" if own in (COMPUTED, INVENTED) else ""), known)
    )


def faults(folder: Traversable | None = None, cited: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """Return what is wrong with the provenance of the references, a line each; none when nothing is.

    Parameters
    ----------
    folder : folder, optional
        The references; those of the package when left out.
    cited : set of str
        Keys of sources that something outside the data files cites.

    Returns
    -------
    tuple of str

    Notes
    -----
    Found are: a value without a source, without a mark, or with a source that is not in the table; a source without kind or
    mark; a source that nothing uses; a data file of a kind that is not known.

    Examples
    --------
    >>> faults(cited=frozenset({"chapman-5", "macmahon-1892"}))
    ()
    """
    known, values = sources(folder), check_values(folder)
    found = [fault for value in values for fault in _fault_of(value.place, value.sources, value.seen, known)]
    used = cited.union(*(value.sources for value in values))
    for key, entry in known.items():
        found += [f"sources.toml: [{key}] has no {name}" for name in _SOURCE_KEYS if not entry.get(name)]
        if entry.get("seen") and entry["seen"] not in _SEEN_OF_SOURCES:
            found.append(
                f"sources.toml: [{key}] seen = {entry['seen']!r}; one of {', '.join(_SEEN_OF_SOURCES)} is needed"
            )
        if key not in used:
            found.append(f"sources.toml: [{key}] is used by nothing")
    return tuple(found)
