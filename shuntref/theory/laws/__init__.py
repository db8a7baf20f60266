"""The laws, one module per subject; ``ALL_LAWS`` merges them by name when it is first asked for."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING

# imported before the function law() is defined: a later first import would put the module in the function's place
from shuntref.theory.laws.law import Law

if TYPE_CHECKING:
    ALL_LAWS: dict[str, Law]

__all__ = ["ALL_LAWS", "all_laws", "law"]

_SUBJECTS = ("circuit", "power", "winding", "losses", "starting", "temperature")


@cache
def all_laws() -> dict[str, Law]:
    """Return every law by its slug, subject by subject.

    Returns
    -------
    tuple of Law

    Raises
    ------
    ValueError
        When two laws carry the same slug.

    Examples
    --------
    >>> "torque" in all_laws()
    True
    """
    merged: dict[str, Law] = {}
    for subject in _SUBJECTS:
        laws: tuple[Law, ...] = import_module(f"{__name__}.{subject}").LAWS
        for entry in laws:
            if entry.name in merged:
                raise ValueError(f"two laws are called {entry.name!r}; the second is in {subject}.py")
            merged[entry.name] = entry
    return merged


def law(name: str) -> Law:
    """Return the law called ``name``.

    Parameters
    ----------
    name : str
        Its slug, lower-case with hyphens.

    Returns
    -------
    Law

    Raises
    ------
    ValueError
        When there is no such law; the message lists those there are.

    Examples
    --------
    >>> law("torque").equation
    Eq(electromagnetic_torque, armature_current*k_phi)
    """
    laws = all_laws()
    if name not in laws:
        raise ValueError(f"unknown law {str(name)[:60]!r}; the laws are {', '.join(laws)}")
    return laws[name]


def __getattr__(attribute: str) -> dict[str, Law]:
    if attribute == "ALL_LAWS":
        return all_laws()
    raise AttributeError(f"module {__name__!r} has no attribute {attribute!r}")
