"""The inner tables of a machine file: flux curve, armature reaction and loads, read strictly and written exactly."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.formulas import to_rad_per_s
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, SumLoad
from shuntref.model.reaction import ArmatureReaction, FluxLoss, NoReaction, ProportionalReaction, TableReaction
from shuntref.quantities.registry import REGISTRY, quantity
from shuntref.quantities.text import parse_value, parse_values, read_value

__all__ = [
    "MachineFileError",
    "bool_in",
    "flux_from_table",
    "flux_lines",
    "known_keys",
    "load_from_table",
    "load_lines",
    "quote",
    "reaction_from_table",
    "reaction_lines",
    "text_in",
    "value_in",
    "written",
]

_MOST_LOADS = 20


class MachineFileError(ValueError):
    """A machine file that cannot be used; the message says where, which key, and what would be accepted."""


# --- reading


def known_keys(table: Mapping[str, Any], known: Iterable[str], where: str) -> None:
    """Refuse the first key that is not known, by name."""
    names = tuple(known)
    for key in table:
        if key not in names:
            raise MachineFileError(f"{where}: {key!r:.60} is unknown; known here: {', '.join(names)}")


def value_in(table: Mapping[str, Any], key: str, where: str, quantity: str | None = None) -> float:
    """One value with its unit."""
    name = quantity or key
    if key not in table:
        raise MachineFileError(f"{where}: {key} is missing; write for example {REGISTRY[name].example!r}")
    try:
        return parse_value(name, table[key])
    except ValueError as error:
        raise MachineFileError(f"{where}: {error}") from None


def _values_in(table: Mapping[str, Any], key: str, where: str) -> tuple[float, ...]:
    """A list of values: one text with commas, or a list of texts."""
    if key not in table:
        raise MachineFileError(f"{where}: {key} is missing; write for example {REGISTRY[key].example!r} for each point")
    value = table[key]
    try:
        if isinstance(value, list):
            return tuple(parse_value(key, item) for item in value)
        return parse_values(key, value)
    except ValueError as error:
        raise MachineFileError(f"{where}: {error}") from None


def text_in(table: Mapping[str, Any], key: str, where: str) -> str:
    """A text."""
    value = table[key]
    if not isinstance(value, str):
        raise MachineFileError(f"{where}: {key} is {value!r:.60}; text in quotation marks is needed")
    return value


def bool_in(table: Mapping[str, Any], key: str, where: str) -> bool:
    """true or false."""
    value = table[key]
    if not isinstance(value, bool):
        raise MachineFileError(f"{where}: {key} is {value!r:.60}; true or false is needed")
    return value


def _kind(table: Mapping[str, Any], kinds: Iterable[str], where: str) -> str:
    names = tuple(kinds)
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in names:
        raise MachineFileError(f"{where}: kind is {kind!r:.60}; one of {', '.join(names)} is needed")
    return kind


def _built(where: str, make: Callable[[], Any]) -> Any:
    try:
        return make()
    except MachineFileError:
        raise
    except ValueError as error:
        raise MachineFileError(f"{where}: {error}") from None


def _extrapolate(table: Mapping[str, Any], where: str) -> str:
    return text_in(table, "extrapolate", where) if "extrapolate" in table else "refuse"


def flux_from_table(table: Mapping[str, Any], where: str) -> FluxCurve:
    """Flux curve of the kind that the table names."""
    kind = _kind(table, ("proportional", "froehlich", "table"), where)
    curve: FluxCurve
    if kind == "proportional":
        known_keys(table, ("kind", "flux_constant"), where)
        curve = _built(where, lambda: ProportionalFlux(value_in(table, "flux_constant", where)))
    elif kind == "froehlich":
        known_keys(table, ("kind", "froehlich_a", "froehlich_b", "remanent_k_phi"), where)
        remanent = value_in(table, "remanent_k_phi", where) if "remanent_k_phi" in table else 0.0
        a, b = value_in(table, "froehlich_a", where), value_in(table, "froehlich_b", where)
        curve = _built(where, lambda: FroehlichFlux(a, b, remanent))
    else:
        known_keys(table, ("kind", "field_current", "back_emf", "speed_rpm", "extrapolate"), where)
        currents, emf = _values_in(table, "field_current", where), _values_in(table, "back_emf", where)
        speed = value_in(table, "speed_rpm", where)
        curve = _built(where, lambda: TableFlux(currents, emf, speed, _extrapolate(table, where)))
    return curve


def reaction_from_table(table: Mapping[str, Any], where: str) -> ArmatureReaction:
    """Armature reaction of the kind that the table names."""
    kind = _kind(table, ("none", "proportional", "table", "flux-loss"), where)
    reaction: ArmatureReaction
    if kind == "none":
        known_keys(table, ("kind",), where)
        reaction = NoReaction()
    elif kind == "proportional":
        known_keys(table, ("kind", "reaction_coefficient"), where)
        reaction = _built(where, lambda: ProportionalReaction(value_in(table, "reaction_coefficient", where)))
    elif kind == "table":
        known_keys(table, ("kind", "armature_current", "reaction_field_current", "extrapolate"), where)
        current, lost = _values_in(table, "armature_current", where), _values_in(table, "reaction_field_current", where)
        reaction = _built(where, lambda: TableReaction(current, lost, _extrapolate(table, where)))
    else:
        known_keys(table, ("kind", "reaction_flux_loss", "armature_current"), where)
        percent, at = _percent_in(table, "reaction_flux_loss", where), value_in(table, "armature_current", where)
        reaction = _built(where, lambda: FluxLoss(percent, at))
    return reaction


def _percent_in(table: Mapping[str, Any], key: str, where: str) -> float:
    """A percentage as it is written, so that 5 % stays 5 and not 100 times the nearest float to 0.05."""
    if key not in table:
        raise MachineFileError(f"{where}: {key} is missing; write for example '5 %'")
    try:
        value = read_value("reaction_flux_loss", table[key])
    except ValueError as error:
        raise MachineFileError(f"{where}: {error}") from None
    return float(value.number_text) if value.unit_text == "%" else 100.0 * value.value


def load_from_table(table: Any, *, where: str = "load", torque_name: str = "load_torque") -> Load:
    """Build a load from a table of a file, or a sum of loads from a list of tables.

    Parameters
    ----------
    table : mapping or list of mappings
        ``kind`` is "constant" (with the torque), "proportional" or "square" (with the torque, and the ``speed`` or
        ``speed_rpm`` at which it is that much), or "constant-power" (with ``output_power``).
    where : str
        Named first in every message.
    torque_name : str
        Key of the torque: "load_torque" or "loss_torque".

    Returns
    -------
    Load

    Raises
    ------
    MachineFileError
        A ``ValueError`` in one line: where, which key, what is wrong with it, what would be accepted.

    Examples
    --------
    >>> load_from_table({"kind": "square", "load_torque": "6 N m", "speed": "150 rad/s"}).torque(75.0)
    1.5
    """
    if isinstance(table, list):
        if not 1 <= len(table) <= _MOST_LOADS:
            raise MachineFileError(f"{where}: {len(table)} loads; from 1 to {_MOST_LOADS} are needed")
        parts = [load_from_table(one, where=f"{where} {i + 1}", torque_name=torque_name) for i, one in enumerate(table)]
        return parts[0] if len(parts) == 1 else SumLoad(tuple(parts))
    if not isinstance(table, Mapping):
        raise MachineFileError(f"{where}: a table is needed")
    kind = _kind(table, ("constant", "proportional", "square", "constant-power"), where)
    load: Load
    if kind == "constant":
        known_keys(table, ("kind", torque_name), where)
        load = _built(where, lambda: ConstantTorque(value_in(table, torque_name, where)))
    elif kind == "constant-power":
        power = "rotational_loss" if torque_name == "loss_torque" else "output_power"
        known_keys(table, ("kind", power), where)
        load = _built(where, lambda: ConstantPower(value_in(table, power, where)))
    else:
        known_keys(table, ("kind", torque_name, "speed", "speed_rpm"), where)
        if ("speed" in table) == ("speed_rpm" in table):
            raise MachineFileError(f"{where}: one of speed and speed_rpm is needed, at which the torque is as given")
        speed = (
            value_in(table, "speed", where) if "speed" in table else to_rad_per_s(value_in(table, "speed_rpm", where))
        )
        shape = ProportionalTorque if kind == "proportional" else SquareTorque
        load = _built(where, lambda: shape(value_in(table, torque_name, where), speed))
    return load


# --- writing


def quote(text: str) -> str:
    """A TOML string; JSON's escapes are TOML's, but for the one control character that JSON leaves as it is."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def written(name: str, value: float) -> str:
    """A value with the registry's unit, in digits that give the same float back."""
    unit = quantity(name).unit
    value = float(value) + 0.0  # -0.0 is written as it is read, without the sign
    return quote(repr(value) if unit == "1" else f"{value!r} {unit}")


def _column(name: str, values: Iterable[float]) -> str:
    return "[" + ", ".join(written(name, value) for value in values) + "]"


def flux_lines(flux: FluxCurve) -> list[str]:
    """Lines of the table [flux]."""
    if isinstance(flux, ProportionalFlux):
        return ['kind = "proportional"', f"flux_constant = {written('flux_constant', flux.flux_constant)}"]
    if isinstance(flux, FroehlichFlux):
        names = ("froehlich_a", "froehlich_b", "remanent_k_phi")
        return ['kind = "froehlich"', *(f"{name} = {written(name, getattr(flux, name))}" for name in names)]
    if isinstance(flux, TableFlux):
        return [
            'kind = "table"',
            f"field_current = {_column('field_current', flux.field_currents)}",
            f"back_emf = {_column('back_emf', flux.emf)}",
            f"speed_rpm = {written('speed_rpm', flux.speed_rpm)}",
            f"extrapolate = {quote(flux.extrapolate)}",
        ]
    raise ValueError(f"flux is a {type(flux).__name__}, which a machine file cannot hold")


def reaction_lines(reaction: ArmatureReaction) -> list[str]:
    """Lines of the table [armature_reaction]; none without reaction."""
    if isinstance(reaction, NoReaction):
        return []
    if isinstance(reaction, ProportionalReaction):
        value = written("reaction_coefficient", reaction.reaction_coefficient)
        return ['kind = "proportional"', f"reaction_coefficient = {value}"]
    if isinstance(reaction, TableReaction):
        return [
            'kind = "table"',
            f"armature_current = {_column('armature_current', reaction.armature_current)}",
            f"reaction_field_current = {_column('reaction_field_current', reaction.reaction_field_current)}",
            f"extrapolate = {quote(reaction.extrapolate)}",
        ]
    if isinstance(reaction, FluxLoss):
        return [
            'kind = "flux-loss"',
            f"reaction_flux_loss = {quote(f'{reaction.percent!r} %')}",
            f"armature_current = {written('armature_current', reaction.armature_current)}",
        ]
    raise ValueError(f"armature_reaction is a {type(reaction).__name__}, which a machine file cannot hold")


def load_lines(load: Load, name: str) -> list[str]:
    """Lines of the tables [[name]] of a load, its sums one table each."""
    parts = load.loads if isinstance(load, SumLoad) else (load,)
    lines: list[str] = []
    for part in parts:
        lines += ["", f"[[{name}]]"]
        if isinstance(part, ConstantTorque):
            lines += ['kind = "constant"', f"{name} = {written(name, part.load_torque)}"]
        elif isinstance(part, ConstantPower):
            power = "rotational_loss" if name == "loss_torque" else "output_power"
            lines += ['kind = "constant-power"', f"{power} = {written(power, part.output_power)}"]
        elif isinstance(part, (ProportionalTorque, SquareTorque)):
            kind = "proportional" if isinstance(part, ProportionalTorque) else "square"
            lines += [f'kind = "{kind}"', f"{name} = {written(name, part.load_torque)}"]
            lines += [f"speed = {written('speed', part.speed)}"]
        else:
            raise ValueError(f"{name} is a {type(part).__name__}, which a machine file cannot hold")
    return lines
