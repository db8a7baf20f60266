"""Every function of the suite as a program of steps, in the suite's order."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from shuntref.conformance.export import change_recipes, motor_recipes, power_recipes
from shuntref.conformance.export.recipe import Recipe
from shuntref.conformance.export.steps import Program
from shuntref.conformance.functions import load_functions
from shuntref.conformance.near_names import names_instead

__all__ = ["exported_functions", "program", "programs"]

_RECIPES = {**motor_recipes.RECIPES, **change_recipes.RECIPES, **power_recipes.RECIPES}


def exported_functions() -> tuple[str, ...]:
    """Return the functions that can be exported.

    Examples
    --------
    >>> "speed" in exported_functions()
    True
    """
    return tuple(name for name in load_functions() if name in _RECIPES)


@cache
def program(name: str) -> Program:
    """Return the steps of one function.

    Raises
    ------
    ValueError
        When there is no such function.

    Examples
    --------
    >>> [step.name for step in program("currents").steps][-1]
    'line_current'
    """
    if name not in exported_functions():
        raise ValueError(f"unknown function {name[:60]!r}; {names_instead(name, exported_functions())}")
    recipe = Recipe(name)
    _RECIPES[name](recipe)
    return recipe.program


def programs(names: Iterable[str] = ()) -> tuple[Program, ...]:
    """Return the named programs, all of them when none is named."""
    return tuple(program(name) for name in (tuple(names) or exported_functions()))
