"""The cautions stand wherever a setting, a resistor or a start is suggested, in every form that is printed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from shuntref.cautions import CAUTIONS, SUGGESTED, cautions_in
from shuntref.cli.exercises import solve
from shuntref.cli.explain import explain
from shuntref.cli.marking import check
from shuntref.cli.predict import predict
from shuntref.cli.theory import derive
from shuntref.quantities.registry import REGISTRY

MACHINE = str(Path(str(files("shuntref.references"))) / "machines" / "laboratory.toml")
SETTING = ["--set", "added_field_resistance=50 ohm", "--set", "load_torque=1.5 N m"]
RESISTOR, RIGHT = "theraja-30-field-resistance-stated-currents", "added-resistance=69 ohm"
STARTER = "schaum-starting-rheostat"
SUGGESTING = {
    "predict": (predict, [MACHINE, *SETTING]),
    "explain": (explain, [MACHINE, "--set", "load_torque=1.5 N m", "--change", "added_field_resistance=50 ohm"]),
    "solve a starter": (solve, [STARTER]),
    "solve a starter in markdown": (solve, [STARTER, "--format", "markdown"]),
    "solve a starter in latex": (solve, [STARTER, "--format", "latex"]),
    "check a resistor": (check, [RESISTOR, "--answer", RIGHT]),
    "derive a starter": (derive, ["starting_resistance"]),
    "derive a resistor": (derive, ["added_armature_resistance"]),
    "derive a rheostat in markdown": (
        derive,
        ["added_field_resistance", "--flux", "proportional", "--format", "markdown"],
    ),
    "derive a rheostat in latex": (derive, ["added_field_resistance", "--flux", "proportional", "--format", "latex"]),
}


def run(command: object, arguments: Sequence[str]) -> str:
    result = CliRunner().invoke(command, list(arguments))  # type: ignore[arg-type]
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.parametrize("name", SUGGESTING)
def test_every_caution_is_printed_once_with_a_suggestion(name: str) -> None:
    output = run(*SUGGESTING[name])
    assert [output.count(line) for line in CAUTIONS] == [1] * len(CAUTIONS)


@pytest.mark.parametrize("name", ["predict", "explain", "solve a starter", "check a resistor", "derive a resistor"])
def test_a_json_document_carries_the_cautions(name: str) -> None:
    command, arguments = SUGGESTING[name]
    assert json.loads(run(command, [*arguments, "--json"]))["cautions"] == list(CAUTIONS)


def test_a_checked_answer_that_is_no_setting_has_none() -> None:
    assert CAUTIONS[0] not in run(check, ["bird-22-shunt-motor-circuit", "--answer", "armature-current=30 A"])


def test_a_derivation_that_suggests_nothing_has_none() -> None:
    assert CAUTIONS[0] not in run(derive, ["speed"])
    assert json.loads(run(derive, ["speed", "--json"]))["cautions"] == []


def test_the_quantities_that_call_for_cautions_are_of_the_registry() -> None:
    assert set(REGISTRY) >= SUGGESTED


def test_no_caution_holds_what_latex_would_take_for_a_command() -> None:
    assert not set("".join(CAUTIONS)) & set("\\%&#_{}$^~")
    assert cautions_in("text").startswith("Cautions\n")
