"""Reading the tables ``[flux]``, ``[[link]]``, ``[losses]`` and ``[starter]`` of an exercise file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from shuntref.exercises.file_table import FileTable
from shuntref.exercises.statement import (
    MOST_SECTIONS,
    Entry,
    ExerciseError,
    FluxLaw,
    Link,
    LoadLink,
    Losses,
    RatioLink,
    Reading,
    Ref,
    SameLink,
    Starter,
)
from shuntref.quantities.registry import REGISTRY
from shuntref.quantities.text import QuantityError, parse_values

__all__ = ["read_flux", "read_links", "read_losses", "read_starter"]

_FLUX_LAWS = ("constant", "proportional", "froehlich", "table", "readings")
_LOADS = ("constant", "proportional-to-speed", "proportional-to-speed-squared", "constant-power")
_MOST_POINTS = 1000
_CONSTANT_LOSSES = ("rotational_loss", "field_copper_loss", "added_field_loss", "brush_loss", "stray_loss",
                    "armature_copper_loss")  # fmt: skip

Refer = Callable[[str, str], Ref]


def read_flux(table: FileTable | None, states: Sequence[str]) -> FluxLaw:
    """Read the ``[flux]`` table; without one nothing is said about the flux."""
    if table is None:
        return FluxLaw()
    law = table.choice("law", _FLUX_LAWS)
    if law not in ("table", "readings"):
        table.finish(("law",))
        return FluxLaw(law)
    at_speed = table.value("at_speed", "speed_rpm")
    if at_speed.value <= 0:
        raise table.error("at_speed", f"{at_speed.text!r}: the curve was measured at a speed above 0")
    if law == "readings":
        readings = tuple(_reading(item, states) for item in table.table_list("reading"))
        if not readings:
            raise ExerciseError(f"{table.where}: the law 'readings' needs at least one [[flux.reading]]")
        table.finish(("law", "at_speed", "reading"))
        return FluxLaw(law, at_speed, readings=readings)
    current, emf = _column(table, "field_current"), _column(table, "back_emf")
    if len(current) != len(emf):
        raise table.error("back_emf", f"{len(emf)} values for {len(current)} field currents")
    if len(current) < 2 or len(current) > _MOST_POINTS:
        raise table.error("field_current", f"a table has from 2 to {_MOST_POINTS} points, not {len(current)}")
    join = table.choice("join", ("linear", "cubic"))
    table.finish(("law", "at_speed", "field_current", "back_emf", "join"))
    return FluxLaw(law, at_speed, current, emf, join)


def _column(table: FileTable, key: str) -> tuple[float, ...]:
    text = table.text(key)
    try:
        values = parse_values(key, text)
    except QuantityError as error:
        raise ExerciseError(f"{table.where} {error}") from None
    for number, (low, high) in enumerate(pairwise(values), start=2):
        if not high > low:
            raise table.error(key, f"value {number} ({high:g}) is not above the one before it ({low:g})")
    if values[0] < 0:
        raise table.error(key, f"the first value ({values[0]:g}) is negative")
    return values


def _reading(table: FileTable, states: Sequence[str]) -> Reading:
    reading = Reading(
        table.value("field_current"), table.value("back_emf"), _states(table, states), table.text("note", "")
    )
    table.finish(("field_current", "back_emf", "states", "note"))
    return reading


def _states(table: FileTable, states: Sequence[str], least: int = 1) -> tuple[str, ...]:
    named = table.texts("states", states) or tuple(states)
    if len(named) < least:
        raise table.error("states", f"at least {least} states are needed to link them, and there is only {len(named)}")
    return named


def read_links(tables: Sequence[FileTable], states: Sequence[str], refer: Refer) -> tuple[Link, ...]:
    """Read all ``[[link]]`` tables."""
    return tuple(_link(table, states, refer) for table in tables)


def _link(table: FileTable, states: Sequence[str], refer: Refer) -> Link:
    because = table.text("because", "")
    forms = [key for key in ("same", "of", "load") if table.has(key)]
    if len(forms) != 1:
        raise ExerciseError(f"{table.where}: write exactly one of same = ..., of = ..., load = ...")
    link: Link
    if forms == ["same"]:
        name = table.text("same")
        if name not in REGISTRY:
            raise table.error(
                "same", f"unknown quantity {name[:60]!r}; write a name of the registry, such as 'load_torque'"
            )
        link = SameLink("speed" if name == "speed_rpm" else name, _states(table, states, 2), because)
        table.finish(("same", "states", "because"))
    elif forms == ["load"]:
        load = table.choice("load", _LOADS)
        torque = table.choice("torque", ("electromagnetic_torque", "load_torque"))
        link = LoadLink(load, torque, _states(table, states, 2), because)
        table.finish(("load", "torque", "states", "because"))
    else:
        link = _ratio_link(table, refer, because)
        table.finish(("of", "to", "ratio", "because"))
    return link


def _ratio_link(table: FileTable, refer: Refer, because: str) -> RatioLink:
    names = table.texts("of") if isinstance(table.content["of"], list) else (table.text("of"),)
    of = tuple(refer(name, f"{table.where} of") for name in names)
    to = refer(table.text("to"), f"{table.where} to")
    if not of or to in of:
        raise table.error("of", "one quantity or a list of quantities other than `to` is wanted")
    units = {REGISTRY[ref.quantity].unit for ref in of}
    if len(units) > 1:
        raise table.error("of", f"quantities of different units ({', '.join(sorted(units))}) have no sum")
    ratio: Entry = None
    if table.content.get("ratio") == "unknown":
        table.content.pop("ratio")
    else:
        ratio = table.value("ratio", "torque_ratio")
        if ratio.value == 0:
            raise table.error("ratio", "0 would say nothing about `to`; give the value 0 in the state instead")
    return RatioLink(of, to, ratio, because)


def read_losses(table: FileTable | None) -> Losses:
    """Read the ``[losses]`` table."""
    if table is None:
        return Losses()
    losses = Losses(
        table.choice("rotational", ("same-watts", "same-torque", "none"), ""),
        table.texts("constant_loss_is", _CONSTANT_LOSSES),
        table.optional_value("stray_share"),
        table.choice("stray_of", ("input_power", "output_power"), ""),
    )
    table.finish(("rotational", "constant_loss_is", "stray_share", "stray_of"))
    if (losses.stray_share is None) != (losses.stray_of == ""):
        raise ExerciseError(f"{table.where}: stray_share and stray_of belong together (a share of what?)")
    return losses


def read_starter(table: FileTable | None, states: Sequence[str]) -> Starter | None:
    """Read the ``[starter]`` table, or None."""
    if table is None:
        return None
    method = table.choice("method", ("keep-limits", "adjust-ratio"))
    limits: dict[str, object] = {}
    for side in ("upper", "lower"):
        limits[f"{side}_current"] = table.optional_value(f"{side}_current")
        limits[f"{side}_from"] = table.choice(f"{side}_from", states, "")
        if limits[f"{side}_current"] and limits[f"{side}_from"]:
            raise table.error(f"{side}_from", f"{side}_current says the limit already")
    sections, studs = table.optional_value("sections"), table.optional_value("studs")
    if sections and studs:
        raise table.error("studs", "sections are given already; give one of the two")
    count = int(sections.value) if sections else int(studs.value) - 1 if studs else 0
    if count > MOST_SECTIONS or (studs and count < 1):
        raise table.error("sections", f"from 1 to {MOST_SECTIONS} sections are accepted, not {count}")
    known = [side for side in ("upper", "lower") if limits[f"{side}_current"] or limits[f"{side}_from"]]
    if len(known) + (count > 0) < 2:
        raise ExerciseError(
            f"{table.where}: two of upper limit, lower limit and number of sections are needed; "
            f"there is {' and '.join(known) or 'none'}"
        )
    if len(known) == 2 and count and method == "keep-limits":
        raise ExerciseError(f"{table.where}: both limits and the number of sections are too much for 'keep-limits'")
    starter = Starter(
        method, limits_in=table.choice("limits_in", ("armature", "line"), "armature"), sections=count,
        whole=table.choice("whole", ("nearest", "up"), "up"), **limits,  # type: ignore[arg-type]
    )  # fmt: skip
    table.finish(("method", "upper_current", "lower_current", "upper_from", "lower_from", "limits_in", "sections", "studs",
                  "whole"))  # fmt: skip
    return starter
