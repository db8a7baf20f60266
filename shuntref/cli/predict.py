"""``shuntref predict``: what a machine does at the settings given, as one table."""

from __future__ import annotations

import csv
import io
import json
import math
from typing import Any

import click

from shuntref.cautions import CAUTIONS, caution_text
from shuntref.cli.settings import LOAD_LAWS, Settings, columns, read_settings
from shuntref.model.machine_file import load_machine
from shuntref.model.status import WORDS, Status
from shuntref.quantities.registry import REGISTRY
from shuntref.quantities.text import format_value
from shuntref.whole_file import write_whole

__all__ = ["predict", "table_text"]

#: what the terminal table shows, after the settings that vary; --csv and --json give everything
SHOWN = ("speed_rpm", "armature_current", "field_current", "back_emf", "electromagnetic_torque", "efficiency")
MOST_SHOWN = 200


@click.command()
@click.argument("machine_file", type=click.Path(dir_okay=False), metavar="MACHINE.toml")
@click.option(
    "--set",
    "assignments",
    multiple=True,
    metavar='NAME="VALUES UNIT"',
    help='A setting: one value ("10 ohm"), a list ("0, 10, 20 ohm") or start:stop:count ("0:50:11 ohm"). Repeat at will.',
)
@click.option(
    "--load",
    "load_law",
    type=click.Choice(LOAD_LAWS),
    default="constant",
    help="How the load torque goes with the speed.",
)
@click.option(
    "--at", "at_speed", metavar='"SPEED UNIT"', help="Speed at which a load that is not constant has its torque."
)
@click.option("--csv", "csv_file", type=click.Path(dir_okay=False), metavar="FILE", help="Write every quantity as CSV.")
@click.option("--json", "as_json", is_flag=True, help="Print every quantity as one JSON document.")
def predict(
    machine_file: str,
    assignments: tuple[str, ...],
    load_law: str,
    at_speed: str | None,
    csv_file: str | None,
    as_json: bool,
) -> None:
    """Predict speed, currents, torques and losses of a machine.

    The settings are supply_voltage, added_field_resistance, added_armature_resistance, load_torque (or output_power for a
    load of constant power) and whatever else the machine has: field_voltage when it is separately excited, source_voltage
    and line_resistance when there is resistance ahead of both circuits, or any resistance of the machine itself. Where the
    supply is not set, the nameplate's is taken. Lists are combined with one another, every value with every value.

    \b
    Example:
      shuntref predict bench.toml --set added_field_resistance="0, 10, 20 ohm" --set load_torque="1.5 N m"
    """
    settings = read_settings(load_machine(machine_file), assignments, load_law=load_law, at_speed=at_speed)
    table = columns(settings)
    if csv_file is not None:
        write_whole(csv_file, as_csv(table))
    if as_json:
        document = {
            "machine": settings.machine.name,
            "units": _units(table),
            "rows": _rows(table),
            "cautions": list(CAUTIONS),
        }
        click.echo(json.dumps(document, indent=1))
        return
    count = len(table["status"])
    click.echo(_heading(settings) + "\n" + (_one_point(table) if count == 1 else _terminal_table(settings, table)))
    if csv_file is not None:
        click.echo(f"\n{count} row{'s' * (count != 1)} with every quantity are in {csv_file}")
    click.echo("\n" + caution_text())


def table_text(settings: Settings) -> str:
    """The table of a terminal: what runs, at what, and one row for each setting."""
    return _heading(settings) + "\n" + _terminal_table(settings, columns(settings))


def _units(table: dict[str, Any]) -> dict[str, str]:
    return {name: REGISTRY[name].unit for name in table if name in REGISTRY}


def _plain(value: Any) -> Any:
    """A value for JSON or CSV: not-a-number becomes None, since the status beside it says why."""
    item = value.item() if hasattr(value, "item") else value
    return None if isinstance(item, float) and not math.isfinite(item) else item


def _rows(table: dict[str, Any]) -> list[dict[str, Any]]:
    return [dict(zip(table, map(_plain, row), strict=True)) for row in zip(*table.values(), strict=True)]


def as_csv(table: dict[str, Any]) -> str:
    """The table as CSV text: the unit in the heading of each column, an empty cell where there is no value."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([f"{name} [{REGISTRY[name].unit}]" if name in REGISTRY else name for name in table])
    for row in zip(*table.values(), strict=True):
        cells = [_plain(value) for value in row]
        writer.writerow(["" if cell is None else cell for cell in cells])
    return stream.getvalue()


def _heading(settings: Settings) -> str:
    machine = settings.machine
    fixed = [format_value(name, values[0]) for name, values in settings.axes.items() if len(values) == 1]
    names = [name.replace("_", " ") for name, values in settings.axes.items() if len(values) == 1]
    parts = ", ".join(f"{name} {value}" for name, value in zip(names, fixed, strict=True))
    title = (machine.name or "machine") + (" (invented)" if machine.invented else "")
    return f"{title}\nat {parts}\n" if parts else f"{title}\n"


def _one_point(table: dict[str, Any]) -> str:
    """Every quantity of a single point, one to a line."""
    status = str(table["status"][0])
    lines = []
    for name, values in table.items():
        if name in REGISTRY and math.isfinite(values[0]):
            entry = REGISTRY[name]
            lines.append(f"  {name.replace('_', ' '):<30} {entry.symbol:<6} {format_value(name, values[0], digits=5)}")
    return "\n".join([*lines, f"  {'status':<30} {'':<6} {status}: {_words(status)}"])


def _words(slug: str) -> str:
    return WORDS[Status[slug.upper().replace("-", "_")]]


def _terminal_table(settings: Settings, table: dict[str, Any]) -> str:
    names = [*settings.varied, *(name for name in SHOWN if name not in settings.varied)]
    heads = [(_short(name), f"[{_shown_unit(name)}]") for name in names]
    count = len(table["status"])
    shown = min(count, MOST_SHOWN)
    cells = [[_cell(name, table[name][i]) for name in names] for i in range(shown)]
    widths = [max(len(text) for text in (*heads[k], *(row[k] for row in cells))) for k in range(len(names))]
    lines = [
        "  " + "  ".join(head[line].rjust(width) for head, width in zip(heads, widths, strict=True)) for line in (0, 1)
    ]
    for i, row in enumerate(cells):
        status = str(table["status"][i])
        remark = "" if status == "ok" else f"  {status}"
        lines.append("  " + "  ".join(text.rjust(width) for text, width in zip(row, widths, strict=True)) + remark)
    met = [slug for slug in dict.fromkeys(str(status) for status in table["status"]) if slug != "ok"]
    lines += [f"\n  {slug}: {_words(slug)}" for slug in met]
    if count > shown:
        lines.append(f"\n  {count - shown} more rows are not shown; --csv FILE or --json gives them all")
    return "\n".join(lines)


def _short(name: str) -> str:
    return name.replace("_rpm", "").replace("_", " ")


def _shown_unit(name: str) -> str:
    return "%" if name == "efficiency" else REGISTRY[name].unit


def _cell(name: str, value: float) -> str:
    if not math.isfinite(value):
        return "-"
    unit = _shown_unit(name)
    return format_value(name, value, unit, digits=5).removesuffix(unit).strip()
