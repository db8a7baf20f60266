"""What the columns of a bench log mean: registry names, registry symbols and the words the trade writes above a column."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shuntref.quantities.column_heading import ColumnHeading
from shuntref.quantities.near_names import did_you_mean
from shuntref.quantities.registry import REGISTRY, quantity

__all__ = ["SETTINGS", "TESTS", "LogColumn", "find_column", "find_test"]

#: quantities that are set, not read: they must agree within a run
SETTINGS = ("added_field_resistance", "added_armature_resistance", "line_resistance")

#: what a row was taken for; the words under which people file it
TESTS: dict[str, tuple[str, ...]] = {
    "volt-ampere": (
        "volt-ampere",
        "volt ampere",
        "armature resistance",
        "locked rotor",
        "standstill",
        "rotor at rest",
        "armature at rest",
        "va",
    ),
    "field": ("field", "field resistance", "field winding", "shunt resistance"),
    "generator": (
        "generator",
        "open circuit",
        "magnetisation",
        "magnetization",
        "no-load generator",
        "driven",
        "generator no load",
        "open-circuit",
    ),
    "no-load": (
        "no-load",
        "no load",
        "no-load motor",
        "motor no load",
        "running light",
        "light running",
        "light",
        "unloaded",
    ),
    "load": ("load", "loaded", "load test", "brake", "brake test", "motor", "load run"),
}

_MEASURED = (
    "supply_voltage",
    "source_voltage",
    "field_voltage",
    "armature_voltage",
    "field_resistance",
    "added_field_resistance",
    "armature_resistance",
    "added_armature_resistance",
    "line_resistance",
    "field_current",
    "armature_current",
    "line_current",
    "back_emf",
    "speed",
    "speed_rpm",
    "load_torque",
    "input_power",
    "output_power",
    "winding_temperature",
)

#: words of the trade -> (quantity, unit when the words carry one)
_WORDS: dict[str, tuple[str, str]] = {}


def _say(name: str, *phrases: str, unit: str = "") -> None:
    for phrase in phrases:
        _WORDS[phrase] = (name, unit)


_say(
    "supply_voltage",
    "voltage",
    "supply",
    "mains voltage",
    "line voltage",
    "terminal voltage",
    "motor voltage",
    "v",
    "u",
)
_say("supply_voltage", "volts", "supply volts", "mains volts", "line volts", "terminal volts", "motor volts", unit="V")
_say("source_voltage", "voltage at the source", "source", "board voltage")
_say("source_voltage", "source volts", "board volts", unit="V")
_say("field_voltage", "voltage of field", "shunt field voltage", "excitation voltage", "vf", "uf")
_say("field_voltage", "field volts", "shunt volts", "excitation volts", unit="V")
_say("armature_voltage", "voltage of armature", "brush voltage", "va", "ua")
_say("armature_voltage", "armature volts", "volts across armature", "brush volts", unit="V")
_say("back_emf", "emf", "e", "generated voltage", "open circuit voltage", "induced voltage", "back emf")
_say("back_emf", "open circuit volts", "generated volts", "induced volts", unit="V")
_say(
    "field_current",
    "shunt current",
    "shunt field current",
    "exciting current",
    "excitation current",
    "excitation",
    "if",
)
_say("field_current", "field amps", "shunt amps", "shunt field amps", "exciting amps", "field amperes", unit="A")
_say("armature_current", "current of armature", "ia")
_say("armature_current", "armature amps", "armature amperes", unit="A")
_say("line_current", "current", "supply current", "total current", "motor current", "mains current", "i")
_say("line_current", "amps", "amperes", "line amps", "supply amps", "total amps", "motor amps", "mains amps", unit="A")
_say("speed_rpm", "speed", "rotational speed", "shaft speed", "tacho", "tachometer", "n", "speed of rotation")
_say("speed_rpm", "rpm", "r p m", "speed rpm", "revs", "revs per minute", "revolutions per minute", unit="r/min")
_say("speed", "angular velocity", "angular speed", "omega")
_say(
    "added_field_resistance",
    "field rheostat",
    "rheostat in field",
    "added field resistance",
    "resistance added to field",
    "added in field",
    "shunt rheostat",
    "rfx",
    "extra field resistance",
    "field circuit added resistance",
)
_say(
    "added_field_resistance",
    "added field ohms",
    "field rheostat ohms",
    "ohms added in field",
    "ohms in field",
    "extra field ohms",
    unit="ohm",
)
_say(
    "added_armature_resistance",
    "armature rheostat",
    "rheostat in armature",
    "resistance added to armature",
    "added in armature",
    "starter",
    "series rheostat",
    "rax",
    "extra armature resistance",
)
_say(
    "added_armature_resistance",
    "added armature ohms",
    "armature rheostat ohms",
    "ohms added in armature",
    "ohms in armature",
    "starter ohms",
    "extra armature ohms",
    unit="ohm",
)
_say("field_resistance", "rf", "shunt field resistance", "resistance of field")
_say("field_resistance", "field ohms", "shunt field ohms", unit="ohm")
_say("armature_resistance", "ra", "resistance of armature")
_say("armature_resistance", "armature ohms", unit="ohm")
_say("load_torque", "torque", "shaft torque", "brake torque", "t", "tl", "load")
_say("winding_temperature", "temperature", "field temperature", "temperature of field", "temp", "field temp", "theta")
_say("input_power", "power in", "watts in", "input watts")
_say("output_power", "power out", "watts out", "output watts")

_OTHER: dict[str, tuple[str, ...]] = {
    "run": ("run", "run no", "run number", "no", "nr", "number", "setting", "point", "setting no", "test point"),
    "remark": ("remark", "remarks", "note", "notes", "comment", "comments", "observation", "observations"),
    "test": ("test", "kind", "kind of test", "test kind", "purpose"),
    "use": ("use", "used", "valid", "ok"),
    "not used": ("time", "date", "clock", "operator", "observer", "reading", "reading no", "initials"),
}


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One column: its position, its heading, what it means and the unit its numbers are in.

    ``meaning`` is a registry name, or ``run``, ``remark``, ``test``, ``use``, ``not used``, or empty when it is not known;
    ``note`` says what to tell the reader about it; ``numbered`` whether its heading marks it as one of repeated readings.
    """

    position: int
    heading: str
    meaning: str
    unit: str = ""
    note: str = ""
    numbered: bool = False

    @property
    def is_quantity(self) -> bool:
        """Whether the column holds readings or settings of a registry quantity."""
        return self.meaning in REGISTRY


def _plain(text: str) -> str:
    words = re.sub(r"[^\w]+|_", " ", text.casefold()).split()
    return " ".join(word for word in words if word not in ("the", "of")) or text.casefold()


_PLAIN_WORDS = {_plain(phrase): entry for phrase, entry in _WORDS.items()}
_PLAIN_OTHER = {_plain(phrase): meaning for meaning, phrases in _OTHER.items() for phrase in phrases}


def _by_symbol(name: str) -> str:
    """Registry name for a symbol as written: U_f, Uf or U f."""
    bare = name.replace("_", "").replace(" ", "").replace("{", "").replace("}", "")
    for entry in _MEASURED:
        if bare == REGISTRY[entry].symbol.replace("_", ""):
            return entry
    return ""


def _lookup(name: str) -> tuple[str, str]:
    """Return (meaning, unit in the words) of a heading's name, or two empty texts."""
    plain = _plain(name)
    as_registry = plain.replace(" ", "_")
    if as_registry in REGISTRY:
        return ("speed_rpm" if as_registry == "speed" else as_registry), ("r/min" if as_registry == "speed_rpm" else "")
    symbol = _by_symbol(name.strip())
    if symbol:
        return symbol, ""
    if plain in _PLAIN_OTHER:
        return _PLAIN_OTHER[plain], ""
    return _PLAIN_WORDS.get(plain, ("", ""))


def find_column(position: int, heading: ColumnHeading) -> LogColumn:
    """Say what a column means; repeated-reading marks (``speed 2``, ``n (3)``) are looked through.

    Examples
    --------
    >>> from shuntref.quantities.column_heading import split_heading
    >>> for text in ("U [V]", "field amps", "speed rpm", "added field ohms", "n, r/min", "I_a/A", "Ia (A)", "speed 2 [r/min]",
    ...              "remark", "weather"):
    ...     column = find_column(0, split_heading(text))
    ...     print(text, "->", column.meaning or "unknown", column.unit or "-")
    U [V] -> supply_voltage V
    field amps -> field_current A
    speed rpm -> speed_rpm r/min
    added field ohms -> added_field_resistance ohm
    n, r/min -> speed_rpm r/min
    I_a/A -> armature_current A
    Ia (A) -> armature_current A
    speed 2 [r/min] -> speed_rpm r/min
    remark -> remark -
    weather -> unknown -
    """
    texts = [(heading.text, heading.unit if heading.name == heading.text else ""), (heading.name, heading.unit)]
    numbered = bool(re.search(r"\d\s*\)?$", heading.name))
    for name, unit in texts:
        for candidate in (name, re.sub(r"\s*(?:\(\s*\d\s*\)|#?\s*\d|\(?reading \d\)?)\s*$", "", name)):
            meaning, carried = _lookup(candidate) if candidate.strip() else ("", "")
            if not meaning:
                continue
            if meaning == "speed_rpm" and unit and "rad" in unit:
                meaning = "speed"
            if meaning == "load_torque" and unit in ("°C", "degC", "°F", "degF", "K"):
                meaning = "winding_temperature"  # T is written for both
            if meaning in REGISTRY and not (unit or carried) and quantity(meaning).unit != "1":
                note = (
                    f"column {heading.text!r} names no unit; write it like '{heading.name} [{quantity(meaning).unit}]'"
                )
                return LogColumn(position, heading.text, meaning, "", note, numbered)
            return LogColumn(position, heading.text, meaning, unit or carried, "", numbered)
    known = [*_PLAIN_WORDS, *(name.replace("_", " ") for name in _MEASURED)]
    hint = did_you_mean(_plain(heading.name), known)
    return LogColumn(
        position,
        heading.text,
        "",
        heading.unit,
        f"column {heading.text!r} is none of the quantities known here and was not used{hint}",
    )


def find_test(text: str) -> str:
    """Return the test that a cell of the test column names.

    Examples
    --------
    >>> find_test("Open circuit"), find_test("light running")
    ('generator', 'no-load')
    >>> find_test("picnic")
    Traceback (most recent call last):
        ...
    ValueError: the test 'picnic' is not known; write one of volt-ampere, field, generator, no-load, load
    """
    plain = _plain(text)
    for test, words in TESTS.items():
        if plain in {_plain(word) for word in words}:
            return test
    raise ValueError(f"the test {text[:40]!r} is not known; write one of {', '.join(TESTS)}")
