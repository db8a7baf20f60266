"""The published exercises that come with the package, and the table of their sources."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from shuntref.exercises.statement import Exercise, ExerciseError
from shuntref.exercises.statement_file import exercise_from_text

__all__ = ["reference_exercise", "reference_exercise_names", "source_line"]


def _folder(kind: str) -> Traversable:
    return files("shuntref.references") / kind


@cache
def reference_exercise_names(kind: str = "exercises") -> tuple[str, ...]:
    """Return the names of the published exercises, or of the errata with ``kind="errata"``.

    Parameters
    ----------
    kind : {"exercises", "errata"}
        Which of the published ones.

    Returns
    -------
    tuple of str
        In alphabetical order.

    Examples
    --------
    >>> "bird-22-shunt-motor-circuit" in reference_exercise_names()
    True
    """
    found = (entry.name for entry in _folder(kind).iterdir()) if _folder(kind).is_dir() else iter(())
    return tuple(sorted(name.removesuffix(".toml") for name in found if name.endswith(".toml")))


@cache
def reference_exercise(name: str, kind: str = "exercises") -> Exercise:
    """Return one published exercise.

    Parameters
    ----------
    name : str
        The file's without its ending.
    kind : {"exercises", "errata"}
        Which of the published ones.

    Returns
    -------
    Exercise

    Raises
    ------
    ExerciseError
        There is none of this name.

    Examples
    --------
    >>> reference_exercise("bird-22-shunt-motor-circuit").title
    'Armature current and back EMF of a shunt motor'
    """
    if name not in reference_exercise_names(kind):
        raise ExerciseError(f"there is no published exercise {name[:60]!r}")
    text = (_folder(kind) / f"{name}.toml").read_text(encoding="utf-8")
    try:
        return exercise_from_text(text, name=name)
    except ExerciseError as error:
        raise ExerciseError(f"{name}.toml: {error}") from None


@cache
def source_table() -> dict[str, dict[str, str]]:
    """Return the table of sources: id to author, title, edition, year, place, kind and whether it was seen.

    Examples
    --------
    >>> source_table()["bird"]["author"]
    'J. Bird'
    """
    text = (files("shuntref.references") / "sources.toml").read_text(encoding="utf-8")
    return {key: dict(entry) for key, entry in tomllib.loads(text).items()}


def source_line(exercise: Exercise) -> str:
    """Return one line on where an exercise is from and how far that was seen.

    Parameters
    ----------
    exercise : Exercise

    Returns
    -------
    str
        Empty when the exercise says neither a source nor that it is invented.

    Examples
    --------
    >>> print(source_line(reference_exercise("bird-22-shunt-motor-circuit")))
    J. Bird, Electrical Circuit ... Problem 22; statement from memory, answer from memory (confidence high).
    """
    if exercise.invented:
        return "invented for this purpose; no published source."
    if exercise.source is None:
        return ""
    entry = source_table().get(exercise.source.id, {})
    parts = [entry.get("author", ""), entry.get("title", exercise.source.id)]
    edition, year = entry.get("edition", ""), entry.get("year", "")
    parts += [f"{edition} ed." if edition[:1].isdigit() and edition != year else "", year, exercise.source.place]
    line = ", ".join(part for part in parts if part and part != "not stated")
    source = exercise.source
    sure = f" (confidence {source.confidence})" if source.confidence != "not stated" else ""
    return f"{line}; statement {source.statement}, answer {source.answer}{sure}." + (
        f" {source.note}" if source.note else ""
    )
