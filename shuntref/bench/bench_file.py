"""The bench file: machine, supply, load, instruments, limits and kit of one bench, values as text with units.

references/bench/README.md describes every key. What is missing and matters is assumed, and every assumption is kept in
words so that a plan can show it; what is unknown is refused by name.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from shuntref.bench.guess import GuessedMachine, guess_machine
from shuntref.bench.instruments import Instrument, instrument_from_table
from shuntref.bench.table_reader import BenchFileError, TableReader, in_words_of
from shuntref.model.load import ConstantTorque, Load
from shuntref.model.machine import Machine
from shuntref.model.machine_file import load_from_table, load_machine, machine_from_table
from shuntref.model.resistors import Resistor
from shuntref.model.standards import standard_value
from shuntref.quantities.text import QuantityError, parse_value

__all__ = ["Bench", "BenchFileError", "Limits", "StartWishes", "bench_from_text", "load_bench"]

_LONGEST_FILE = 1_000_000
_MACHINE_TABLES = ("machine", "flux", "armature_reaction", "loss_torque", "nameplate")
_MEASURED = ("armature_resistance", "field_resistance", "brush_drop")

#: relative standard uncertainty that is assumed where the bench file states none, with the words for it
_ASSUMED: dict[str, tuple[float, str]] = {
    "armature_resistance": (0.025, "armature resistance within 5 %"),
    "field_resistance": (0.01, "field resistance within 2 %"),
    "brush_drop": (0.25, "brush drop within 50 %"),
    "line_resistance": (0.1, "line resistance within 20 %"),
    "supply_voltage": (0.0025, "supply voltage within 0.5 %"),
    "flux_scale": (0.015, "flux within 3 %"),
    "load_scale": (0.025, "load torque within 5 %"),
    "loss_scale": (0.1, "loss torque within 20 %"),
}


@dataclass(frozen=True, slots=True)
class Limits:
    """What must not be exceeded; None where the bench file says nothing. Units of the registry; the fuse in A.

    ``load_may_come_off`` says that the speed limit must hold without the load too: a belt may jump off, a brake let go.
    """

    speed_rpm: float
    armature_current: float
    field_current: float | None = None
    line_current: float | None = None
    fuse: float | None = None
    resistor_share: float = 1.0
    load_may_come_off: bool = True


@dataclass(frozen=True, slots=True)
class StartWishes:
    """How the start is to be graded: both conventions need a limit, the second a number of sections."""

    upper_current: float
    lower_current: float | None
    sections: int | None
    counts_on: str = "armature"


@dataclass(frozen=True)
class Bench:
    """One bench, as its file describes it.

    ``uncertainties`` holds standard uncertainties: in the registry unit for quantities, relative for ``flux_scale``,
    ``load_scale`` and ``loss_scale`` (the whole curve, the whole load, the whole loss). ``guess`` is set when the machine
    was guessed from its nameplate.
    """

    name: str
    invented: bool
    note: str
    machine: Machine
    supply_voltage: float
    load: Load
    instruments: dict[str, Instrument]
    limits: Limits
    kit: tuple[Resistor, ...]
    start: StartWishes
    uncertainties: dict[str, float]
    insulation_class: str = ""
    most_elements: int = 4
    field_steps: int = 3
    armature_steps: int = 3
    wanted_speeds: tuple[float, ...] = ()
    guess: GuessedMachine | None = None
    assumptions: tuple[str, ...] = field(default=())
    source: str = ""

    def instrument_for(self, quantity_name: str) -> Instrument | None:
        """The first instrument that reads a quantity, or None."""
        for instrument in self.instruments.values():
            if quantity_name in instrument.reads:
                return instrument
        return None


def _machine(top: TableReader, folder: Path, where: str) -> tuple[Machine, GuessedMachine | None]:
    """The machine of the bench: from its own file, from tables in the bench file, or guessed from the nameplate."""
    kinds = [key for key in ("machine_file", "machine", "guess") if key in top]
    if len(kinds) != 1:
        raise BenchFileError(
            f"{where}: describe the machine once: machine_file = '...', or a [machine] table with [flux], "
            "or a [guess] table with [nameplate]"
        )
    tables = {
        key: top.rows(key) if key == "loss_torque" and isinstance(top.raw(key), list) else top.raw(key)
        for key in _MACHINE_TABLES
        if key in top
    }
    if kinds[0] == "machine_file":
        if tables:
            raise BenchFileError(f"{where}: [{next(iter(tables))}] belongs in the machine file that machine_file names")
        return load_machine(folder / top.text("machine_file")), None
    if kinds[0] == "machine":
        return machine_from_table(tables, where=where), None
    for key in tables:
        if key != "nameplate":
            raise BenchFileError(
                f"{where}: [{key}] does not go with [guess]; a guess takes [nameplate] and resistances only"
            )
    guess = TableReader("guess", top.raw("guess"))
    measured = {name: value for name in _MEASURED if (value := guess.positive(name)) is not None}
    guess.finish()
    guessed = guess_machine(_nameplate(tables.get("nameplate", {})), measured)
    return guessed.machine, guessed


def _nameplate(table: Any) -> dict[str, float]:
    if not isinstance(table, Mapping):
        raise BenchFileError("[nameplate] must be a table of rated_... values")
    plate = {}
    for key, text in table.items():
        name = key.removeprefix("rated_")
        if name == key:
            raise BenchFileError(f"[nameplate] {key[:60]!r}: the keys begin with rated_, for example rated_speed_rpm")
        try:
            plate[key] = parse_value(name, text)
        except QuantityError as error:
            raise BenchFileError(f"[nameplate] {key}: {in_words_of(key, name, error)}") from None
    return plate


def _limits(table: TableReader) -> Limits:
    speed, armature = table.positive("speed_rpm"), table.positive("armature_current")
    field_current, line_current = table.positive("field_current"), table.positive("line_current")
    fuse = table.positive("fuse", "line_current")
    share, load_may_come_off = table.share("resistor_share", 1.0), table.flag("load_may_come_off", True)
    table.finish()  # before anything is called missing: it may be there under a name with a slip in it
    if speed is None or armature is None:
        missing = "speed_rpm" if speed is None else "armature_current"
        raise BenchFileError(
            f"[limits] {missing} is missing; state the highest permitted speed and armature current "
            "(the maker's, or those of the weakest part of the bench): no plan is made without them"
        )
    return Limits(speed, armature, field_current, line_current, fuse, share, load_may_come_off)


def _start(table: TableReader, limits: Limits, machine_field_current: float) -> tuple[StartWishes, list[str]]:
    notes = []
    counts_on = table.choice("limit_counts_on", ("armature", "line"), "armature")
    upper = table.positive("upper_current")
    if upper is None:
        factor = float(standard_value("overspeed", "usual-starter-limit")["factor_low"])
        upper = factor * limits.armature_current
        notes.append(f"starting current limited to {upper:.3g} A: {factor:g} times the armature limit")
        if limits.fuse is not None:
            # the line carries the field current too, and the fuse sits in the line
            field_current = 0.0 if counts_on == "line" else machine_field_current
            room = limits.fuse - field_current
            if room <= 0.0:
                raise BenchFileError(
                    f"[limits] fuse: {limits.fuse:g} A carry the field current of {field_current:.3g} A and leave nothing "
                    "for the armature"
                )
            if room < upper:
                upper = room
                beside = f" beside the {field_current:.3g} A of the field" if field_current > 0.0 else ""
                notes[-1] = (
                    f"starting current limited to {upper:.3g} A: what the fuse of {limits.fuse:g} A leaves{beside}"
                )
    lower = table.positive("lower_current")
    if lower is not None and lower >= upper:
        raise BenchFileError(f"[start] lower_current {lower:g} A is not below upper_current {upper:g} A")
    sections = table.count("sections", most=50)
    table.finish()
    return StartWishes(upper, lower, sections, counts_on), notes


def _kit(rows: list[Any]) -> tuple[Resistor, ...]:
    kit = []
    for position, row in enumerate(rows, start=1):
        table = TableReader(f"kit {position}", row)
        ohms, watts = (
            table.positive("resistance", "added_field_resistance"),
            table.positive("rated_power", "added_field_loss"),
        )
        amperes = table.positive("rated_current", "line_current")
        tolerance = table.optional("tolerance", "efficiency") or 0.0
        count, name = table.count("count", 1) or 1, table.text("name")
        table.finish()  # before anything is called missing: it may be there under a name with a slip in it
        if ohms is None or watts is None:
            raise BenchFileError(f"[kit {position}] needs resistance and rated_power, for example '10 ohm' and '50 W'")
        try:
            kit.append(Resistor(ohms, watts, count, tolerance, amperes, name))
        except ValueError as error:
            raise BenchFileError(f"[kit {position}] {error}") from None
    if not kit:
        raise BenchFileError(
            "the bench file has no [[kit]]: name at least one resistor with resistance and rated_power"
        )
    return tuple(kit)


def _uncertainties(
    table: TableReader, machine: Machine, supply_voltage: float, guess: GuessedMachine | None
) -> tuple[dict[str, float], list[str]]:
    sizes = {name: getattr(machine, name, 1.0) for name in _ASSUMED}
    sizes["supply_voltage"] = supply_voltage
    written = {"flux_scale": "flux", "load_scale": "load_torque", "loss_scale": "loss_torque"}
    found, notes = {}, []
    for name, (share, words) in _ASSUMED.items():
        key = written.get(name, name)
        stated = table.spread(key, sizes[name], "efficiency" if name in written else name)
        if stated is not None:
            found[name] = stated
        elif guess is not None and name in guess.relative:
            found[name] = guess.relative[name] * sizes[name]
        else:
            found[name] = share * sizes[name]
            if found[name] > 0.0:
                notes.append(f"{words} (expanded): assumed, [uncertainty] {key} is not stated")
    table.finish()
    return found, notes


def bench_from_text(text: str, *, where: str = "bench file", folder: Path | None = None) -> Bench:
    """Read a bench from the text of a bench file.

    Parameters
    ----------
    text : str
        TOML, see references/bench/README.md.
    where : str
        Named first in every message.
    folder : path
        Where a relative ``machine_file`` is looked for.

    Returns
    -------
    Bench

    Raises
    ------
    BenchFileError
        A ValueError in one line: where, which key, what would be accepted.

    Examples
    --------
    >>> from importlib.resources import files
    >>> text = files("shuntref.references").joinpath("bench", "bench.toml").read_text(encoding="utf-8")
    >>> bench_from_text(text).supply_voltage
    120.0
    """
    if len(text) > _LONGEST_FILE:
        raise BenchFileError(f"{where}: {len(text)} characters; at most {_LONGEST_FILE} are read")
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BenchFileError(f"{where}: not valid TOML: {str(error).splitlines()[0][:200]}") from None
    try:
        return _bench(TableReader("", tables), where, folder or Path())
    except BenchFileError as error:
        raise BenchFileError(str(error) if str(error).startswith(where) else f"{where}: {error}") from None
    except (ValueError, KeyError) as error:
        raise BenchFileError(f"{where}: {str(error).removeprefix(f'{where}: ')}") from None


def _bench(top: TableReader, where: str, folder: Path) -> Bench:
    scenario = TableReader("scenario", top.table("scenario") or {})
    name, invented, note = scenario.text("name", "unnamed bench"), scenario.flag("invented"), scenario.text("note")
    scenario.finish()
    machine, guess = _machine(top, folder, where)
    if machine.connection != "shunt":
        raise BenchFileError(
            "the machine is separately excited; a bench file is for a shunt connection, with the field across "
            "the armature supply"
        )
    supply = TableReader("supply", top.table("supply") or {})
    voltage = supply.positive("voltage", "supply_voltage")
    if voltage is None:
        raise BenchFileError("[supply] voltage is missing; write for example voltage = '120 V'")
    supply.finish()
    load_table = top.raw("load")
    load = ConstantTorque(0.0) if load_table is None else load_from_table(load_table, where="[load]")
    instruments = {key: instrument_from_table(key, value) for key, value in (top.table("instruments") or {}).items()}
    limits = _limits(TableReader("limits", top.table("limits") or {}))
    start, notes = _start(TableReader("start", top.table("start") or {}), limits, voltage / machine.field_resistance)
    session = TableReader("session", top.table("session") or {})
    most = session.count("most_resistors_together", 4, most=6)
    steps = [session.count(key, 3, most=10) for key in ("field_steps", "armature_steps")]
    wanted = session.values("wanted_speeds", "speed_rpm")
    insulation = session.choice("insulation_class", ("", "A", "E", "B", "F", "H"), "")
    session.finish()
    spread, assumed = _uncertainties(
        TableReader("uncertainty", top.table("uncertainty") or {}), machine, voltage, guess
    )
    kit = _kit(top.rows("kit"))
    top.finish()
    assumptions = [*(guess.assumptions if guess else ()), *notes, *assumed]
    rated = machine.nameplate.get("rated_speed_rpm", 0.0)
    if rated > limits.speed_rpm:
        assumptions.insert(
            0,
            f"LOOK AGAIN: the rated speed of {rated:.5g} r/min is above the limit of {limits.speed_rpm:.5g} r/min; is one "
            "of them in the wrong unit?",
        )
    if "resistor_share" not in (top.table("limits") or {}):
        assumptions.append(
            "resistors used up to all of their rating: [limits] resistor_share is not stated; a rating holds in free "
            "air only, and '80 %' leaves a margin"
        )
    if load_table is None:
        assumptions.insert(0, "no [load]: the machine runs light")
    return Bench(
        name,
        invented or machine.invented,
        note,
        machine,
        voltage,
        load,
        instruments,
        limits,
        kit,
        start,
        spread,
        insulation,
        most or 4,
        steps[0] or 3,
        steps[1] or 3,
        wanted,
        guess,
        tuple(assumptions),
        where,
    )


def load_bench(path: str | os.PathLike[str]) -> Bench:
    """Read a bench file.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    Bench

    Raises
    ------
    BenchFileError
        A ValueError in one line that begins with the name of the file.
    OSError
        The file cannot be read.

    Examples
    --------
    >>> from importlib.resources import as_file, files
    >>> with as_file(files("shuntref.references").joinpath("bench", "bench.toml")) as path:
    ...     load_bench(path).invented
    True
    """
    file = Path(path)
    with file.open("rb") as stream:
        data = stream.read(_LONGEST_FILE + 1)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BenchFileError(f"{file.name}: not UTF-8 text") from None
    return bench_from_text(text.replace("\r\n", "\n"), where=file.name, folder=file.parent)
