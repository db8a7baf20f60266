"""The implementer's own file: what each function is called, the names and units of its arguments, the form of its result.

Everything is translated on the runner's side, so the code under test sees its own names and units and nothing else.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from shuntref.conformance.functions import Function
from shuntref.conformance.judge import PRECISIONS, Number
from shuntref.conformance.near_names import names_instead
from shuntref.conformance.protocol import number_in, plain_text
from shuntref.conformance.scale import Scale, alias, scale_of
from shuntref.conformance.suite import Case, Suite
from shuntref.quantities.registry import quantity

__all__ = ["Binding", "Port", "Setting", "Unmapped", "WrongForm", "bind", "plain_binding", "read_setting"]

_FORMS = {
    "numbers": ("float", "array"),
    "tables": ("list", "tuple", "array"),
    "precision": tuple(PRECISIONS),
    "horsepower": ("mechanical", "electric", "metric"),
}


class Unmapped(Exception):
    """The implementer's function has no argument for an input of the case."""


class WrongForm(Exception):
    """The answer does not have the form that the mapping promises."""


@dataclass(frozen=True, slots=True)
class Port:
    """One argument or result: ``key`` as the implementer knows it (empty: by position), quantity, unit and scale."""

    key: str
    quantity: str
    unit: str
    scale: Scale


@dataclass(frozen=True, slots=True)
class Binding:
    """How one function of the suite is called.

    ``call`` is "module:function", "file.py:function" or, for a program that speaks lines, the name it knows. ``form`` says
    whether results come alone ("single"), in order ("listed") or by name ("named"); ``written_out`` whether the
    implementer listed the arguments, so that they are not fitted to what the function really takes.
    """

    function: str
    call: str
    arguments: tuple[Port, ...]
    results: tuple[Port, ...]
    positional: bool = False
    form: str = "named"
    constants: Mapping[str, float] = field(default_factory=dict)
    precision: str = "double"
    written_out: bool = False

    @property
    def units(self) -> dict[str, tuple[str, Scale]]:
        """The unit of each result, and how it stands to the registry's."""
        return {port.quantity: (port.unit, port.scale) for port in self.results}

    def inputs_for(self, case: Case, entry: Function) -> dict[str, Any] | list[Any]:
        """Return the inputs of ``case`` in the implementer's names and units.

        Raises
        ------
        Unmapped
            When the case gives an input that no argument takes, unless it has the value that leaving it out means.
        """
        taken = {port.quantity for port in self.arguments}
        defaults = {entry_input.name: entry_input.default for entry_input in entry.inputs}
        for name, item in case.inputs.items():
            if name not in taken and item != defaults.get(name):
                raise Unmapped(f"no argument takes {name}")
        converted: list[tuple[str, Any]] = []
        for port in self.arguments:
            value: float | tuple[float, ...] | None = case.inputs.get(port.quantity)
            if value is None:
                value = defaults.get(port.quantity)
            if value is None:
                if self.positional:
                    raise Unmapped(f"the case leaves out {port.quantity}")
                continue
            given = [port.scale.outward(v) for v in value] if isinstance(value, tuple) else port.scale.outward(value)
            converted.append((port.key, given))
        if self.positional:
            return [value for _, value in converted]
        return {**dict(converted), **self.constants}

    def values_from(self, result: Any) -> dict[str, Number]:
        """Return the answer by registry name in registry units.

        Raises
        ------
        WrongForm
            When a value is missing, is no number, or the whole has another form.
        """
        ports = self.results
        if len(ports) == 1 and not isinstance(result, dict):
            if self.form == "listed" and isinstance(result, list) and len(result) == 1:
                result = result[0]
            return {ports[0].quantity: _number(ports[0], result)}
        if isinstance(result, list):
            if self.form == "named" and any(port.key != port.quantity for port in ports):
                raise WrongForm("answered a list where values by name were promised")
            if len(result) != len(ports):
                raise WrongForm(f"answered {len(result)} values where {len(ports)} were asked for")
            return {port.quantity: _number(port, item) for port, item in zip(ports, result, strict=True)}
        if isinstance(result, dict):
            if set(result) == {"text"}:
                raise WrongForm(f"answered {result['text']!r:.80}, which is no number")
            for port in ports:
                if _key(port, result) is None:
                    raise WrongForm(f"the answer has no {port.key or port.quantity!r}")
            return {port.quantity: _number(port, result[_key(port, result)]) for port in ports}
        if result is None:
            return {port.quantity: Decimal("NaN") for port in ports}
        raise WrongForm(f"answered a single value where {len(ports)} were asked for")


def _key(port: Port, result: Mapping[str, Any]) -> str | None:
    return next((key for key in (port.key, port.quantity) if key and key in result), None)


def _number(port: Port, value: Any) -> Number:
    if isinstance(value, list):
        return tuple(_one(port, item) for item in value)
    return _one(port, value)


def _one(port: Port, value: Any) -> Decimal:
    number = number_in(value)
    if number is None:
        shown = value.get("text", value) if isinstance(value, dict) else value
        raise WrongForm(f"{port.key or port.quantity} = {shown!r:.80}, which is no number")
    return port.scale.inward(number)


@dataclass(frozen=True, slots=True)
class Setting:
    """The implementer's file as a whole; ``folder`` is where relative paths in it start."""

    bindings: Mapping[str, Binding] = field(default_factory=dict)
    numbers: str = "float"
    tables: str = "list"
    known_failures: tuple[str, ...] = ()
    command: str = ""
    folder: Path | None = None


def plain_binding(entry: Function, call: str, precision: str = "double") -> Binding:
    """Return the binding of a function that uses the registry's own names, units and order."""
    arguments = tuple(_port(item.name, item.name, item.unit, "mechanical") for item in entry.inputs)
    results = tuple(_port(item.name, item.name, item.unit, "mechanical") for item in entry.outputs)
    form = "single" if len(results) == 1 else "named"
    return Binding(entry.name, call, arguments, results, form=form, precision=precision)


def _port(key: str, name: str, unit: str, horsepower: str) -> Port:
    return Port(key, name, unit, scale_of(name, unit, horsepower))


def _written_port(where: str, key: str, text: Any, known: tuple[str, ...], horsepower: str) -> Port:
    """Read "speed_rpm in r/min", "speed_rpm" or, for a lone result, "r/min"."""
    if not isinstance(text, str):
        raise ValueError(f"{where}: {text!r:.60} is not text; write for example 'supply_voltage in V'")
    name, _, unit = (part.strip() for part in text.partition(" in "))
    if name not in known and alias(name) not in known and not unit and len(known) == 1:
        name, unit = known[0], name
    if name not in known and alias(name) not in known:
        raise ValueError(f"{where}: {name[:60]!r} is not one of {', '.join(known)}")
    if not unit:
        unit = quantity(name).unit
    name = name if name in known else alias(name)
    try:
        return _port(key, name, unit, horsepower)
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from None


def bind(
    entry: Function,
    written: Mapping[str, Any],
    horsepower: str = "mechanical",
    precision: str = "double",
    where: str = "mapping",
) -> Binding:
    """Build the binding of one function from its table in the implementer's file.

    Parameters
    ----------
    entry
        The function of the suite.
    written
        ``call``, ``arguments`` (table name -> "quantity in unit", or list in calling order), ``result`` (text, list or
        table likewise), ``constants`` (further arguments with fixed values), ``precision``.

    Raises
    ------
    ValueError
        Unknown keys, quantities that the function does not have, units of another dimension; the message says where.

    Examples
    --------
    >>> from shuntref.conformance.functions import function
    >>> binding = bind(function("speed"), {"arguments": {"V": "supply_voltage in V"}, "result": "r/min"})
    >>> binding.form, binding.results[0].unit
    ('single', 'r/min')
    """
    unknown = sorted(set(written) - {"call", "arguments", "result", "constants", "precision"})
    if unknown:
        fixed = " (tolerances belong to the cases and cannot be changed)" if "toler" in unknown[0] else ""
        raise ValueError(
            f"{where}: unknown entry {unknown[0][:60]!r}; call, arguments, result, constants and precision are known{fixed}"
        )
    plain = plain_binding(entry, str(written.get("call", "")), precision)
    inputs, outputs = tuple(item.name for item in entry.inputs), tuple(item.name for item in entry.outputs)
    arguments, positional = plain.arguments, False
    if (given := written.get("arguments")) is not None:
        positional = isinstance(given, list)
        pairs = [("", text) for text in given] if positional else list(_table(where, "arguments", given).items())
        arguments = tuple(_written_port(f"{where}, arguments", key, text, inputs, horsepower) for key, text in pairs)
        _once(f"{where}, arguments", arguments)
    results, form = plain.results, plain.form
    if (given := written.get("result")) is not None:
        form = "single" if isinstance(given, str) else "listed" if isinstance(given, list) else "named"
        pairs = (
            [("", given)]
            if form == "single"
            else [("", text) for text in given]
            if form == "listed"
            else list(_table(where, "result", given).items())
        )
        results = tuple(_written_port(f"{where}, result", key, text, outputs, horsepower) for key, text in pairs)
        _once(f"{where}, result", results)
    if not results:
        raise ValueError(f"{where}: result is empty; name at least one of {', '.join(outputs)}")
    constants = _table(where, "constants", written.get("constants", {}))
    if positional and constants:
        raise ValueError(f"{where}: constants need arguments by name, not in order")
    for name, value in constants.items():
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(f"{where}: constant {name} = {value!r:.60} is not a number")
    chosen = _choice(where, "precision", written.get("precision", precision))
    return Binding(
        entry.name,
        plain.call,
        arguments,
        results,
        positional,
        form,
        constants,
        chosen,
        written.get("arguments") is not None,
    )


def _table(where: str, key: str, value: Any) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise ValueError(
            f'{where}: {key} = {value!r:.60} is not a table; write {key} = {{ V = "supply_voltage in V" }}'
        )
    return value


def _once(where: str, ports: tuple[Port, ...]) -> None:
    seen: set[str] = set()
    for port in ports:
        if port.quantity in seen:
            raise ValueError(f"{where}: {port.quantity} is mapped twice")
        seen.add(port.quantity)


def _choice(where: str, key: str, value: Any) -> str:
    if value not in _FORMS[key]:
        raise ValueError(f"{where}: {key} = {value!r:.60}; {' or '.join(map(repr, _FORMS[key]))} is wanted")
    return str(value)


def read_setting(path: Path, suite: Suite) -> Setting:
    """Read the implementer's file.

    Raises
    ------
    ValueError
        Not TOML, unknown entries, unknown functions, or a table that :func:`bind` refuses.
    OSError
        The file cannot be opened.
    """
    where = path.name
    try:
        written = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise ValueError(f"{where}: not a TOML file: {plain_text(error, 120)}") from None
    tables = {name: entry for name, entry in written.items() if isinstance(entry, dict)}
    plain = {name: entry for name, entry in written.items() if name not in tables}
    for name in plain:
        if name not in (*_FORMS, "known_failures", "command"):
            raise ValueError(
                f"{where}: unknown entry {name[:60]!r}; known are {', '.join(_FORMS)}, known_failures, command "
                "and one table for each function"
            )
    choices = {key: _choice(where, key, plain.get(key, options[0])) for key, options in _FORMS.items()}
    for name in tables:
        if name not in suite.functions:
            raise ValueError(
                f"{where}: [{name[:60]}] is no function of the suite; {names_instead(name, suite.functions)}; what yours is "
                f'called goes into the table: call = "my_lab.py:{name[:60]}"'
            )
    known = plain.get("known_failures", [])
    if not isinstance(known, list) or not all(isinstance(item, str) for item in known):
        raise ValueError(f"{where}: known_failures is not a list of case ids")
    command = plain.get("command", "")
    if not isinstance(command, str):
        raise ValueError(f'{where}: command is not text; write for example command = "octave-cli my_lab.m"')
    bindings = {
        name: bind(suite.functions[name], entry, choices["horsepower"], choices["precision"], f"{where} [{name}]")
        for name, entry in tables.items()
    }
    return Setting(bindings, choices["numbers"], choices["tables"], tuple(known), command, path.resolve().parent)
