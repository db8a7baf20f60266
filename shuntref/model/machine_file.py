"""Machines as text: TOML files whose values carry their units, read strictly and written so that nothing is lost."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shuntref.model.machine import Machine
from shuntref.model.machine_tables import (
    MachineFileError,
    bool_in,
    flux_from_table,
    flux_lines,
    known_keys,
    load_from_table,
    load_lines,
    quote,
    reaction_from_table,
    reaction_lines,
    text_in,
    value_in,
    written,
)
from shuntref.quantities.registry import REGISTRY
from shuntref.quantities.text import parse_value
from shuntref.whole_file import write_whole

__all__ = [
    "MachineFileError",
    "load_from_table",
    "load_machine",
    "machine_from_table",
    "machine_from_text",
    "machine_to_text",
    "save_machine",
]

_LONGEST_FILE = 1_000_000
_TOP = ("machine", "flux", "armature_reaction", "loss_torque", "nameplate")
_MACHINE_VALUES = ("armature_resistance", "field_resistance", "brush_drop", "line_resistance")
_MACHINE_WORDS = ("name", "note", "invented", "connection")


def machine_from_table(table: Mapping[str, Any], *, where: str = "machine") -> Machine:
    """Build a machine from the tables of a machine file, as another kind of file may carry them too.

    Parameters
    ----------
    table : mapping
        With the tables ``machine`` and ``flux``, and where wanted ``armature_reaction``, ``loss_torque`` and
        ``nameplate``; no others.
    where : str
        Named first in every message: a file, or a place in one.

    Returns
    -------
    Machine

    Raises
    ------
    MachineFileError
        A ``ValueError`` in one line: where, which key, what is wrong with it, what would be accepted.

    Examples
    --------
    >>> tables = {"machine": {"armature_resistance": "0.8 ohm", "field_resistance": "160 ohm"},
    ...           "flux": {"kind": "proportional", "flux_constant": "1.0 V s/(rad A)"}}
    >>> machine_from_table(tables).field_resistance
    160.0
    """
    if not isinstance(table, Mapping):
        raise MachineFileError(f"{where}: a table of machine data is needed")
    known_keys(table, _TOP, where)
    for needed in ("machine", "flux"):
        if needed not in table:
            raise MachineFileError(f"{where}: the table [{needed}] is missing")
    head = _table(table, "machine", where)
    place = f"{where}: [machine]"
    known_keys(head, _MACHINE_VALUES + _MACHINE_WORDS, place)
    arguments: dict[str, Any] = {name: value_in(head, name, place) for name in _MACHINE_VALUES if name in head}
    for name in ("armature_resistance", "field_resistance"):
        if name not in head:
            raise MachineFileError(f"{place}: {name} is missing; write for example {REGISTRY[name].example!r}")
    arguments.update({name: text_in(head, name, place) for name in ("name", "note", "connection") if name in head})
    if "invented" in head:
        arguments["invented"] = bool_in(head, "invented", place)
    arguments["flux"] = flux_from_table(_table(table, "flux", where), f"{where}: [flux]")
    if "armature_reaction" in table:
        reaction = _table(table, "armature_reaction", where)
        arguments["armature_reaction"] = reaction_from_table(reaction, f"{where}: [armature_reaction]")
    if "loss_torque" in table:
        arguments["loss_torque"] = load_from_table(
            table["loss_torque"], where=f"{where}: [loss_torque]", torque_name="loss_torque"
        )
    if "nameplate" in table:
        arguments["nameplate"] = _nameplate(_table(table, "nameplate", where), f"{where}: [nameplate]")
    try:
        return Machine(**arguments)
    except ValueError as error:
        raise MachineFileError(f"{where}: {error}") from None


def machine_from_text(text: str, *, where: str = "machine file") -> Machine:
    """Read a machine from the text of a machine file.

    Parameters
    ----------
    text : str
        TOML, at most 1 000 000 characters.
    where : str
        Named first in every message.

    Returns
    -------
    Machine

    Raises
    ------
    MachineFileError
        A ``ValueError`` in one line: where, which key, what is wrong with it, what would be accepted.

    Examples
    --------
    >>> text = '''
    ... [machine]
    ... armature_resistance = "0.8 ohm"
    ... field_resistance = "160 ohm"
    ... [flux]
    ... kind = "proportional"
    ... flux_constant = "1.0 V s/(rad A)"
    ... '''
    >>> machine_from_text(text).armature_resistance
    0.8
    """
    if len(text) > _LONGEST_FILE:
        raise MachineFileError(f"{where}: {len(text)} characters; at most {_LONGEST_FILE} are read")
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        reason = str(error).splitlines()[0][:200] if str(error) else "nested too deeply"
        raise MachineFileError(f"{where}: not valid TOML: {reason}") from None
    except ValueError as error:
        raise MachineFileError(f"{where}: not valid TOML: {str(error).splitlines()[0][:200]}") from None
    return machine_from_table(table, where=where)


def load_machine(path: str | os.PathLike[str]) -> Machine:
    """Read a machine file.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    Machine

    Raises
    ------
    MachineFileError
        A ``ValueError`` in one line that begins with the path.
    OSError
        The file cannot be read.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> folder = tempfile.TemporaryDirectory()
    >>> from shuntref import Machine, ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> path = Path(folder.name) / "bench.toml"
    >>> save_machine(bench, path)
    >>> load_machine(path) == bench
    True
    >>> folder.cleanup()
    """
    file = Path(path)
    with file.open("rb") as stream:
        data = stream.read(_LONGEST_FILE + 1)
    if len(data) > _LONGEST_FILE:
        raise MachineFileError(f"{file}: longer than {_LONGEST_FILE} bytes; this is no machine file")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise MachineFileError(f"{file}: not UTF-8 text") from None
    return machine_from_text(text.replace("\r\n", "\n"), where=str(file))


def machine_to_text(machine: Machine) -> str:
    """Return the machine as the text of a machine file, every value so written that reading gives it back exactly.

    Parameters
    ----------
    machine : Machine

    Returns
    -------
    str
        TOML.

    Raises
    ------
    ValueError
        The machine has a part that is a program of the user's (a UserLoad, a flux curve of one's own).

    Examples
    --------
    >>> from shuntref.model.flux import ProportionalFlux
    >>> bench = Machine(armature_resistance=0.1 + 0.2, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> machine_from_text(machine_to_text(bench)) == bench
    True
    """
    lines = ["[machine]"]
    lines += [f"{name} = {quote(getattr(machine, name))}" for name in ("name", "note") if getattr(machine, name)]
    lines += [f"invented = {'true' if machine.invented else 'false'}", f"connection = {quote(machine.connection)}"]
    lines += [f"{name} = {written(name, getattr(machine, name))}" for name in _MACHINE_VALUES]
    lines += ["", "[flux]", *flux_lines(machine.flux)]
    reaction = reaction_lines(machine.armature_reaction)
    if reaction:
        lines += ["", "[armature_reaction]", *reaction]
    lines += load_lines(machine.loss_torque, "loss_torque")
    if machine.nameplate:
        lines += ["", "[nameplate]"]
        lines += [
            f"{name} = {written(name.removeprefix('rated_'), value)}" for name, value in machine.nameplate.items()
        ]
    return "\n".join(lines) + "\n"


def save_machine(machine: Machine, path: str | os.PathLike[str]) -> None:
    """Write a machine file, whole or not at all.

    Parameters
    ----------
    machine : Machine
    path : str or path

    Raises
    ------
    ValueError
        As for ``machine_to_text``; nothing is written then.
    OSError
        The folder cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> folder = tempfile.TemporaryDirectory()
    >>> from shuntref import Machine, ProportionalFlux
    >>> bench = Machine(armature_resistance=0.8, field_resistance=160.0, flux=ProportionalFlux(1.0))
    >>> save_machine(bench, Path(folder.name) / "bench.toml")
    >>> (Path(folder.name) / "bench.toml").read_text(encoding="utf-8").splitlines()[0]
    '[machine]'
    >>> folder.cleanup()
    """
    write_whole(path, machine_to_text(machine))


def _table(table: Mapping[str, Any], name: str, where: str) -> Mapping[str, Any]:
    inner = table[name]
    if not isinstance(inner, Mapping):
        raise MachineFileError(f"{where}: {name} must be a table, written [{name}]")
    return inner


def _nameplate(table: Mapping[str, Any], where: str) -> dict[str, float]:
    values = {}
    for name, text in table.items():
        plain = name.removeprefix("rated_")
        if plain == name or plain not in REGISTRY:
            raise MachineFileError(f"{where}: {name!r:.60} is unknown; 'rated_' and the name of a quantity is needed")
        try:
            values[name] = parse_value(plain, text)
        except ValueError as error:
            raise MachineFileError(f"{where}: {error}") from None
    return values
