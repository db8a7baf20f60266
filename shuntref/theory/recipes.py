"""Every quantity that can be derived: the working that leads to it and the options that bear on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

from shuntref.theory import current_recipes, sizing_recipes, speed_recipes
from shuntref.theory.working import Options
from shuntref.theory.worksheet import Worksheet

__all__ = ["CHOICES", "RECIPES", "Recipe", "options_for", "work_out"]

CHOICES: dict[str, tuple[object, ...]] = {
    "brush_drop": (False, True),
    "line_resistance": (False, True),
    "flux": ("general", "proportional", "froehlich"),
    "connection": ("shunt", "separate"),
    "reaction": (False, True),
    "detail": ("field_current", "totals", "parts"),
    "given": ("torque", "speed", "current"),
    "load": ("torque", "quadratic", "constant_power"),
    "branch": ("", "upper", "lower"),
}

_ORDINARY = ("brush_drop", "line_resistance", "flux", "connection", "detail")


@dataclass(frozen=True)
class Recipe:
    """How one quantity is worked out.

    ``heeds`` names the options that bear on it; ``given`` the values that option may take,
    the first being understood.
    """

    make: Callable[[Worksheet, Options], None]
    heeds: tuple[str, ...]
    given: tuple[str, ...] = ("torque",)


RECIPES: dict[str, Recipe] = {
    "speed": Recipe(speed_recipes.speed, (*_ORDINARY, "reaction", "load", "branch")),
    "speed_rpm": Recipe(speed_recipes.speed_rpm, (*_ORDINARY, "reaction", "load", "branch")),
    "field_current": Recipe(current_recipes.field_current, (*_ORDINARY, "branch"), ("current", "torque", "speed")),
    "armature_current": Recipe(
        current_recipes.armature_current, (*_ORDINARY, "reaction", "branch"), ("torque", "speed")
    ),
    "line_current": Recipe(current_recipes.line_current, _ORDINARY),
    "electromagnetic_torque": Recipe(current_recipes.electromagnetic_torque, _ORDINARY, ("speed",)),
    "load_torque": Recipe(current_recipes.load_torque, _ORDINARY, ("speed",)),
    "loss_torque": Recipe(current_recipes.loss_torque, _ORDINARY, ("speed",)),
    "stall_torque": Recipe(current_recipes.stall_torque, _ORDINARY, ("speed",)),
    "k_phi": Recipe(
        current_recipes.k_phi,
        ("brush_drop", "flux", "connection", "reaction", "detail", "branch"),
        ("speed", "current"),
    ),
    "back_emf": Recipe(speed_recipes.back_emf, _ORDINARY, ("torque", "speed", "current")),
    "supply_voltage": Recipe(speed_recipes.supply_voltage, ("brush_drop", "detail")),
    "added_field_resistance": Recipe(sizing_recipes.added_field_resistance, (*_ORDINARY, "branch")),
    "added_armature_resistance": Recipe(sizing_recipes.added_armature_resistance, _ORDINARY),
    "ideal_no_load_speed": Recipe(speed_recipes.ideal_no_load_speed, _ORDINARY),
    "peak_speed": Recipe(speed_recipes.peak_speed, ("brush_drop", "detail")),
    "peak_k_phi": Recipe(speed_recipes.peak_k_phi, ("brush_drop", "detail")),
    "peak_torque": Recipe(current_recipes.peak_torque, ("connection", "detail")),
    "starting_resistance": Recipe(
        sizing_recipes.starting_resistance, ("brush_drop", "line_resistance", "connection", "detail")
    ),
    "winding_resistance": Recipe(sizing_recipes.winding_resistance, ()),
    "winding_temperature": Recipe(sizing_recipes.winding_temperature, ()),
}


def options_for(quantity: str, **wanted: object) -> Options:
    """Return the options for one quantity, after checking that each is known and has a bearing on it.

    Raises
    ------
    ValueError
        For a quantity without a derivation, an option it does not heed, a value that is not among the choices, or a
        combination whose result cannot be written with square roots alone.

    Examples
    --------
    >>> options_for("speed", brush_drop=True).brush_drop
    True
    """
    if quantity not in RECIPES:
        raise ValueError(f"no derivation of {str(quantity)[:60]!r}; there is one of {', '.join(RECIPES)}")
    recipe, plain = RECIPES[quantity], Options()
    if "given" not in wanted:
        wanted["given"] = _understood(quantity, recipe, wanted)
    for name, value in wanted.items():
        if name not in CHOICES:
            raise ValueError(f"unknown option {name[:40]!r} of a derivation; the options are {', '.join(CHOICES)}")
        choices = recipe.given if name == "given" else CHOICES[name]
        if value not in choices:
            raise ValueError(
                f"{quantity}: {name} = {str(value)[:40]!r} has no meaning; accepted are {', '.join(map(repr, choices))}"
            )
        if value != getattr(plain, name) and name != "given" and name not in recipe.heeds:
            raise ValueError(
                f"{quantity}: the option {name} has no bearing on it; those that have are "
                f"{', '.join(recipe.heeds) or 'none'}"
            )
    options = Options(**wanted)  # type: ignore[arg-type]
    _refuse_impossible(quantity, options)
    return options


def _understood(quantity: str, recipe: Recipe, wanted: dict[str, object]) -> str:
    """What is taken as known when nothing is said: the machine's own curve where one is named, else the first choice."""
    if quantity == "k_phi" and wanted.get("flux", "general") != "general":
        return "current"
    return recipe.given[0]


def _refuse_impossible(quantity: str, o: Options) -> None:
    if o.reaction and o.flux == "general":
        raise ValueError(f"{quantity}: armature reaction needs a flux curve; give flux 'proportional' or 'froehlich'")
    if o.reaction and o.given == "speed" and quantity != "k_phi":
        raise ValueError(
            f"{quantity}: with armature reaction it is derived from a given torque, not from a given speed"
        )
    if o.line_resistance and (o.reaction or o.load != "torque"):
        raise ValueError(
            f"{quantity}: line resistance together with armature reaction or a load that changes with speed "
            "has no closed form worth writing; the numeric model solves it"
        )
    if o.load != "torque" and (o.reaction or o.given != "torque"):
        raise ValueError(
            f"{quantity}: a load that changes with speed together with armature reaction has no closed form"
        )
    if quantity == "added_field_resistance" and o.flux == "froehlich" and o.line_resistance and o.shunt:
        raise ValueError(
            f"{quantity}: behind a line resistance the flux on Froehlich's curve is the root of a cubic; give "
            "flux 'general' or 'proportional', or use the numeric model"
        )
    if quantity == "field_current" and o.given == "speed" and (o.flux == "general" or o.line_resistance):
        raise ValueError(
            f"{quantity}: from a wanted speed it needs a flux curve (flux 'proportional' or 'froehlich') and "
            "no line resistance"
        )
    if quantity == "k_phi" and o.given == "current" and o.flux == "general":
        raise ValueError(
            f"{quantity}: from the field current it needs a flux curve; give flux 'proportional' or 'froehlich'"
        )


def work_out(quantity: str, options: Options) -> Worksheet:
    """Carry the working out with sympy and return the filled worksheet.

    Examples
    --------
    >>> work_out("winding_resistance", Options()).current.lhs
    winding_resistance
    """
    sheet = Worksheet()
    RECIPES[quantity].make(sheet, options)
    return sheet


if {field.name for field in fields(Options)} != set(CHOICES):
    raise RuntimeError("the options and their choices do not match")
