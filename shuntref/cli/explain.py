"""``shuntref explain``: why the speed changed, as a teacher would say it."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import click

from shuntref.cautions import CAUTIONS, caution_text
from shuntref.cli.settings import LOAD_LAWS, LOADS, read_settings
from shuntref.explanation.account import Account, Situation, account
from shuntref.explanation.ruling import Ruling, ruling
from shuntref.explanation.words import story_text
from shuntref.model.machine_file import load_machine
from shuntref.quantities.text import parse_value, read_assignment

__all__ = ["explain"]


@click.command()
@click.argument("machine_file", type=click.Path(dir_okay=False), metavar="MACHINE.toml")
@click.option("--set", "assignments", multiple=True, metavar='NAME="VALUE UNIT"', help="How the machine runs before.")
@click.option("--change", required=True, metavar='NAME="VALUE UNIT"', help="What is changed, and its new value.")
@click.option(
    "--load", "load_law", type=click.Choice(LOAD_LAWS), default="constant", help="How the torque goes with speed."
)
@click.option(
    "--at", "at_speed", metavar='"SPEED UNIT"', help="Speed at which a load that is not constant has its torque."
)
@click.option("--json", "as_json", is_flag=True, help="Print the numbers of the story as one JSON document.")
def explain(
    machine_file: str, assignments: tuple[str, ...], change: str, load_law: str, at_speed: str | None, as_json: bool
) -> None:
    """Say why the speed changes when one thing is changed.

    The chain of causes runs from the resistance through the currents, the flux and the back EMF to the speed: in the first
    instant, before the rotor has moved, and when it has settled. Then how much of the change comes through the flux and how
    much through the armature drop, the theorem that rules the direction, its margin, and where it would turn round.

    \b
    Example:
      shuntref explain bench.toml --set load_torque="1.5 N m" --change added_field_resistance="20 ohm"
    """
    settings = read_settings(load_machine(machine_file), assignments, load_law=load_law, at_speed=at_speed)
    if settings.varied:
        raise ValueError(
            f"{settings.varied[0]} has several values; one change of one running point is explained at a time"
        )
    given = {name: values[0] for name, values in settings.axes.items()}
    circuit = {name: value for name, value in given.items() if name not in LOADS}
    situation = Situation(
        settings.machine,
        circuit,
        given.get("load_torque", 0.0),
        given.get("output_power"),
        load_law,
        settings.at_speed,
    )
    name, text = read_assignment(change)
    story = account(situation, name, parse_value(name, text))
    rule = ruling(story)
    if as_json:
        click.echo(json.dumps(_document(story, rule), indent=1))
        return
    click.echo(story_text(story, rule))
    click.echo("\n" + caution_text())


def _document(story: Account, rule: Ruling) -> dict[str, Any]:
    return {
        "machine": story.situation.machine.name,
        "change": {"name": story.name, "from": story.old, "to": story.new},
        "before": story.before,
        "first_instant": dataclasses.asdict(story.first_instant),
        "after": story.after,
        "speed_change_rpm": story.speed_change_rpm,
        "parts_rpm": {part.through: part.speed_rpm for part in story.parts},
        "rule": dataclasses.asdict(rule),
        "cautions": list(CAUTIONS),
    }
