"""Machines and their files, word for word: what is written, what is read, and how each fault is told."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, SumLoad
from shuntref.model.machine import Machine
from shuntref.model.machine_file import (
    MachineFileError,
    load_from_table,
    load_machine,
    machine_from_table,
    machine_from_text,
    machine_to_text,
)
from shuntref.model.machine_tables import flux_from_table, flux_lines, load_lines, reaction_from_table, reaction_lines
from shuntref.model.reaction import ArmatureReaction, FluxLoss, NoReaction, ProportionalReaction, TableReaction

PLAIN = Machine(0.5, 100.0, ProportionalFlux(2.0))


def told(call: Any, *arguments: Any, **more: Any) -> str:
    with pytest.raises(ValueError) as caught:
        call(*arguments, **more)
    return str(caught.value)


# --- machines


def test_a_machine_of_which_little_is_said_has_no_losses_and_no_reaction() -> None:
    assert PLAIN.loss_torque == ConstantTorque(0.0)
    assert PLAIN.loss_torque.torque(100.0) == 0.0
    assert PLAIN.armature_reaction == NoReaction()
    assert (PLAIN.brush_drop, PLAIN.line_resistance, PLAIN.connection) == (0.0, 0.0, "shunt")
    assert (PLAIN.name, PLAIN.note, PLAIN.invented, PLAIN.nameplate) == ("", "", False, {})


def test_windings_may_be_as_cold_as_their_constant_allows() -> None:
    # 0.8 ohm at 20 degC: (235 - 100)/(235 + 20) of it at -100 degC; from -100 degC back again
    machine = Machine(0.8, 160.0, ProportionalFlux(1.0), brush_drop=2.0, line_resistance=0.1)
    cold = machine.with_temperatures(temperature_constant=235.0, armature_from=20.0, armature_to=-100.0)
    assert cold.armature_resistance == pytest.approx(0.8 * 135.0 / 255.0, rel=1e-14)
    assert (cold.field_resistance, cold.brush_drop, cold.line_resistance) == (160.0, 2.0, 0.1)
    warm = cold.with_temperatures(temperature_constant=235.0, armature_from=-100.0, armature_to=20.0)
    assert warm.armature_resistance == pytest.approx(0.8, rel=1e-14)
    both = machine.with_temperatures(
        temperature_constant=235.0, field_from=20.0, field_to=71.0, armature_from=20.0, armature_to=-31.0
    )
    assert (both.field_resistance, both.armature_resistance) == pytest.approx((192.0, 0.64), rel=1e-14)


@pytest.mark.parametrize(
    ("temperatures", "words"),
    [
        ({"armature_from": -235.0, "armature_to": 20.0},
         "reference_temperature is -235.0 degC; a temperature above -235 degC is needed"),
        ({"armature_from": 20.0, "armature_to": -300.0},
         "winding_temperature is -300.0 degC; a temperature above -235 degC is needed"),
        ({"field_from": 20.0}, "field_resistance: one of its two temperatures is missing; both or neither are needed"),
        ({"armature_to": 20.0},
         "armature_resistance: one of its two temperatures is missing; both or neither are needed"),
        ({}, "no temperatures are given; field_from and field_to, armature_from and armature_to, or all"),
    ],
)  # fmt: skip
def test_temperatures_that_cannot_be(temperatures: dict[str, float], words: str) -> None:
    assert told(PLAIN.with_temperatures, temperature_constant=235.0, **temperatures) == words


def test_names_and_notes_have_room_for_two_thousand_characters() -> None:
    assert replace(PLAIN, name="x" * 2000, note="y" * 2000).note == "y" * 2000
    for name in ("name", "note"):
        words = told(Machine, 0.5, 100.0, ProportionalFlux(2.0), **{name: "x" * 2001})
        assert words == f"{name} is '{'x' * 59}; text of at most 2000 characters is needed"


def test_a_nameplate_holds_rated_quantities_and_losses_are_single_numbers() -> None:
    plate = Machine(0.5, 100.0, ProportionalFlux(2.0), nameplate={"rated_speed_rpm": 1500, "rated_output_power": -0.0})
    assert str(plate.nameplate) == "{'rated_speed_rpm': 1500.0, 'rated_output_power': 0.0}"
    for wrong in ({"speed_rpm": 1500.0}, {"rated_": 1.0}, {"rated_pace": 1.0}, {7: 1.0}):
        name = next(iter(wrong))
        words = told(Machine, 0.5, 100.0, ProportionalFlux(2.0), nameplate=wrong)
        assert words == f"nameplate: {name!r} is unknown; 'rated_' and the name of a quantity is needed"
    assert told(Machine, 0.5, 100.0, ProportionalFlux(2.0), nameplate=[1]) == (
        "nameplate is [1]; a mapping of rated_... names to values is needed"
    )
    for load in (ConstantTorque(-1.0), ProportionalTorque(-1.0), SquareTorque(-1.0), ConstantPower(-1.0)):
        words = told(Machine, 0.5, 100.0, ProportionalFlux(2.0), loss_torque=load)
        assert words == "loss_torque is -1.0 N m; zero or a finite number above it is needed"
        many = type(load)([1.0, 2.0])
        assert told(Machine, 0.5, 100.0, ProportionalFlux(2.0), loss_torque=many).endswith("one number is needed")


# --- writing


def test_a_machine_with_everything_is_written_like_this() -> None:
    machine = Machine(
        0.5, 100, TableFlux((0, 1), (5, 120), 1500, "flag"), TableReaction((0, 40), (0, 0.1)), 2, 0.25,
        ConstantTorque(1) + SquareTorque(2, 150) + ProportionalTorque(3, 100) + ConstantPower(30),
        "separate", 'a "b"\x7f', "two\nlines", True, {"rated_speed_rpm": 1500, "rated_efficiency": 0.85},
    )  # fmt: skip
    assert machine_to_text(machine) == (
        '[machine]\nname = "a \\"b\\"\\u007F"\nnote = "two\\nlines"\ninvented = true\nconnection = "separate"\n'
        'armature_resistance = "0.5 ohm"\nfield_resistance = "100.0 ohm"\nbrush_drop = "2.0 V"\n'
        'line_resistance = "0.25 ohm"\n\n'
        '[flux]\nkind = "table"\nfield_current = ["0.0 A", "1.0 A"]\nback_emf = ["5.0 V", "120.0 V"]\n'
        'speed_rpm = "1500.0 r/min"\nextrapolate = "flag"\n\n'
        '[armature_reaction]\nkind = "table"\narmature_current = ["0.0 A", "40.0 A"]\n'
        'reaction_field_current = ["0.0 A", "0.1 A"]\nextrapolate = "refuse"\n\n'
        '[[loss_torque]]\nkind = "constant"\nloss_torque = "1.0 N m"\n\n'
        '[[loss_torque]]\nkind = "square"\nloss_torque = "2.0 N m"\nspeed = "150.0 rad/s"\n\n'
        '[[loss_torque]]\nkind = "proportional"\nloss_torque = "3.0 N m"\nspeed = "100.0 rad/s"\n\n'
        '[[loss_torque]]\nkind = "constant-power"\nrotational_loss = "30.0 W"\n\n'
        '[nameplate]\nrated_speed_rpm = "1500.0 r/min"\nrated_efficiency = "0.85"\n'
    )
    assert machine_from_text(machine_to_text(machine)) == machine


def test_a_plain_machine_is_written_like_this() -> None:
    assert machine_to_text(PLAIN) == (
        '[machine]\ninvented = false\nconnection = "shunt"\narmature_resistance = "0.5 ohm"\n'
        'field_resistance = "100.0 ohm"\nbrush_drop = "0.0 V"\nline_resistance = "0.0 ohm"\n\n'
        '[flux]\nkind = "proportional"\nflux_constant = "2.0 V s/(rad A)"\n\n'
        '[[loss_torque]]\nkind = "constant"\nloss_torque = "0.0 N m"\n'
    )


def test_the_other_parts_are_written_like_this() -> None:
    assert flux_lines(FroehlichFlux(1.6, 0.9, 0.1)) == [
        'kind = "froehlich"', 'froehlich_a = "1.6 V s/rad"', 'froehlich_b = "0.9 A"', 'remanent_k_phi = "0.1 V s/rad"',
    ]  # fmt: skip
    assert reaction_lines(ProportionalReaction(0.01)) == ['kind = "proportional"', 'reaction_coefficient = "0.01 A/A"']
    assert reaction_lines(FluxLoss(5.0, 40.0)) == [
        'kind = "flux-loss"', 'reaction_flux_loss = "5.0 %"', 'armature_current = "40.0 A"',
    ]  # fmt: skip
    assert load_lines(ConstantPower(30.0), "load_torque")[1:] == [
        "[[load_torque]]", 'kind = "constant-power"', 'output_power = "30.0 W"',
    ]  # fmt: skip


def test_parts_of_ones_own_are_not_written() -> None:
    class OwnFlux(FluxCurve):
        pass

    class OwnReaction(ArmatureReaction):
        pass

    class OwnLoad(Load):
        pass

    assert told(flux_lines, OwnFlux()) == "flux is a OwnFlux, which a machine file cannot hold"
    assert told(reaction_lines, OwnReaction()) == "armature_reaction is a OwnReaction, which a machine file cannot hold"
    assert told(load_lines, OwnLoad(), "loss_torque") == "loss_torque is a OwnLoad, which a machine file cannot hold"


# --- reading


def test_every_kind_of_flux_is_read() -> None:
    for table, expected in (
        ({"kind": "proportional", "flux_constant": "2 V s/(rad A)"}, ProportionalFlux(2.0)),
        ({"kind": "froehlich", "froehlich_a": "1.6 V s/rad", "froehlich_b": "0.9 A"}, FroehlichFlux(1.6, 0.9, 0.0)),
        ({"kind": "froehlich", "froehlich_a": "1.6 V s/rad", "froehlich_b": "0.9 A", "remanent_k_phi": "0.1 V s/rad"},
         FroehlichFlux(1.6, 0.9, 0.1)),
        ({"kind": "table", "field_current": "0, 0.5, 1 A", "back_emf": ["5 V", "80 V", "0.12 kV"], "speed_rpm": "1500 r/min"},
         TableFlux((0.0, 0.5, 1.0), (5.0, 80.0, 120.0), 1500.0)),
        ({"kind": "table", "field_current": "0, 1 A", "back_emf": "5, 80 V", "speed_rpm": "1500 r/min", "extrapolate": "flag"},
         TableFlux((0.0, 1.0), (5.0, 80.0), 1500.0, "flag")),
    ):  # fmt: skip
        assert flux_from_table(table, "here") == expected


def test_every_kind_of_reaction_is_read() -> None:
    for table, expected in (
        ({"kind": "none"}, NoReaction()),
        ({"kind": "proportional", "reaction_coefficient": "-0.01 A/A"}, ProportionalReaction(-0.01)),
        ({"kind": "table", "armature_current": "0, 40 A", "reaction_field_current": "0, 0.1 A"},
         TableReaction((0.0, 40.0), (0.0, 0.1))),
        ({"kind": "table", "armature_current": "0, 40 A", "reaction_field_current": "0, 0.1 A", "extrapolate": "flag"},
         TableReaction((0.0, 40.0), (0.0, 0.1), "flag")),
        ({"kind": "flux-loss", "reaction_flux_loss": "7 %", "armature_current": "40 A"}, FluxLoss(7.0, 40.0)),
        ({"kind": "flux-loss", "reaction_flux_loss": "0.25", "armature_current": "40 A"}, FluxLoss(25.0, 40.0)),
    ):  # fmt: skip
        assert reaction_from_table(table, "here") == expected


def test_every_kind_of_load_is_read() -> None:
    for table, expected in (
        ({"kind": "constant", "load_torque": "2 N m"}, ConstantTorque(2.0)),
        ({"kind": "proportional", "load_torque": "2 N m", "speed": "100 rad/s"}, ProportionalTorque(2.0, 100.0)),
        ({"kind": "square", "load_torque": "2 N m", "speed": "100 rad/s"}, SquareTorque(2.0, 100.0)),
        ({"kind": "constant-power", "output_power": "0.3 kW"}, ConstantPower(300.0)),
        ([{"kind": "constant", "load_torque": "2 N m"}], ConstantTorque(2.0)),
        ([{"kind": "constant", "load_torque": "2 N m"}] * 2, SumLoad((ConstantTorque(2.0), ConstantTorque(2.0)))),
    ):  # fmt: skip
        assert load_from_table(table) == expected
    fan = load_from_table({"kind": "square", "load_torque": "2 N m", "speed_rpm": "1500 r/min"})
    assert fan.torque(157.07963267948966 / 2.0) == pytest.approx(0.5, rel=1e-14)
    loss = load_from_table({"kind": "constant-power", "rotational_loss": "30 W"}, torque_name="loss_torque")
    assert loss == ConstantPower(30.0)
    one = {"kind": "constant", "load_torque": "1 N m"}
    assert load_from_table([one] * 20).torque(1.0) == 20.0
    for count in (0, 21):
        assert told(load_from_table, [one] * count) == f"load: {count} loads; from 1 to 20 are needed"


@pytest.mark.parametrize(
    ("read", "table", "words"),
    [
        (flux_from_table, {}, "kind is None; one of proportional, froehlich, table is needed"),
        (flux_from_table, {"kind": ["table"]}, "kind is ['table']; one of proportional, froehlich, table is needed"),
        (flux_from_table, {"kind": "proportional"}, "flux_constant is missing; write for example '1.0 V s/(rad A)'"),
        (flux_from_table, {"kind": "proportional", "flux_constant": "0 V s/(rad A)"},
         "flux_constant is 0.0 V s/(rad A); a finite number above zero is needed"),
        (flux_from_table, {"kind": "proportional", "froehlich_b": "1 A"},
         "'froehlich_b' is unknown; known here: kind, flux_constant"),
        (flux_from_table, {"kind": "froehlich", "extrapolate": "flag"},
         "'extrapolate' is unknown; known here: kind, froehlich_a, froehlich_b, remanent_k_phi"),
        (flux_from_table, {"kind": "froehlich", "froehlich_a": "1 V s/rad", "froehlich_b": "-1 A"},
         "froehlich_b is -1.0 A; a finite number above zero is needed"),
        (flux_from_table, {"kind": "table", "flux_constant": "1"},
         "'flux_constant' is unknown; known here: kind, field_current, back_emf, speed_rpm, extrapolate"),
        (flux_from_table, {"kind": "table", "back_emf": "1, 2 V"},
         "field_current is missing; write for example '0.75 A' for each point"),
        (flux_from_table, {"kind": "table", "back_emf": "1, 2 V", "field_current": "0, 1 A", "speed_rpm": "9 r/min",
                           "extrapolate": 3}, "extrapolate is 3; text in quotation marks is needed"),
        (flux_from_table, {"kind": "table", "back_emf": "1, 2 V", "field_current": "0, 1 A", "speed_rpm": "9 r/min",
                           "extrapolate": "no"}, "extrapolate is 'no'; 'refuse' or 'flag' is needed"),
        (reaction_from_table, {"kind": "strong"}, "kind is 'strong'; one of none, proportional, table, flux-loss is needed"),
        (reaction_from_table, {"kind": "none", "extrapolate": "flag"}, "'extrapolate' is unknown; known here: kind"),
        (reaction_from_table, {"kind": "proportional", "x": 1}, "'x' is unknown; known here: kind, reaction_coefficient"),
        (reaction_from_table, {"kind": "table", "x": 1},
         "'x' is unknown; known here: kind, armature_current, reaction_field_current, extrapolate"),
        (reaction_from_table, {"kind": "table", "armature_current": "1, 2 A", "reaction_field_current": "0, 1 A"},
         "armature_current is 1.0 A at index 0; a table that begins at 0 A (with a reaction of 0 A) is needed"),
        (reaction_from_table, {"kind": "flux-loss", "x": 1},
         "'x' is unknown; known here: kind, reaction_flux_loss, armature_current"),
        (reaction_from_table, {"kind": "flux-loss"}, "reaction_flux_loss is missing; write for example '5 %'"),
        (reaction_from_table, {"kind": "flux-loss", "reaction_flux_loss": "100 %", "armature_current": "40 A"},
         "percent is 100.0; a percentage of flux below 100 is needed"),
        (load_from_table, 5, "a table is needed"),
        (load_from_table, {"kind": "heavy"},
         "kind is 'heavy'; one of constant, proportional, square, constant-power is needed"),
        (load_from_table, {"kind": "constant", "speed": "1 rad/s"}, "'speed' is unknown; known here: kind, load_torque"),
        (load_from_table, {"kind": "constant-power", "load_torque": "1 N m"},
         "'load_torque' is unknown; known here: kind, output_power"),
        (load_from_table, {"kind": "square", "output_power": "1 W"},
         "'output_power' is unknown; known here: kind, load_torque, speed, speed_rpm"),
        (load_from_table, {"kind": "square", "load_torque": "1 N m", "speed": "-1 rad/s"},
         "speed is -1.0 rad/s; a finite number above zero is needed"),
    ],
)  # fmt: skip
def test_a_part_that_cannot_be_read_is_told_in_these_words(read: Any, table: Any, words: str) -> None:
    with pytest.raises(MachineFileError) as caught:
        read(table, where="bench.toml: [part]")
    assert str(caught.value) == f"bench.toml: [part]: {words}"


HEAD = {"armature_resistance": "0.5 ohm", "field_resistance": "100 ohm"}
FLUX = {"kind": "proportional", "flux_constant": "2 V s/(rad A)"}


def test_the_head_of_a_machine_is_read() -> None:
    head = {**HEAD, "brush_drop": "2 V", "line_resistance": "100 mohm", "name": "n", "note": "o", "invented": True,
            "connection": "separate"}  # fmt: skip
    plate = {"rated_output_power": "2 kW"}
    machine = machine_from_table({"machine": head, "flux": FLUX, "nameplate": plate})
    assert machine == Machine(
        0.5, 100.0, ProportionalFlux(2.0), brush_drop=2.0, line_resistance=0.1, name="n", note="o", invented=True,
        connection="separate", nameplate={"rated_output_power": 2000.0},
    )  # fmt: skip
    assert machine_from_table({"machine": HEAD, "flux": FLUX}) == PLAIN


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (3, "a table of machine data is needed"),
        ({"flux": FLUX}, "the table [machine] is missing"),
        ({"machine": HEAD}, "the table [flux] is missing"),
        ({"machine": HEAD, "flux": 3}, "flux must be a table, written [flux]"),
        ({"machine": HEAD, "flux": FLUX, "nameplate": 3}, "nameplate must be a table, written [nameplate]"),
        ({"machine": HEAD, "flux": FLUX, "armature_reaction": 3},
         "armature_reaction must be a table, written [armature_reaction]"),
        ({"machine": HEAD, "flux": FLUX, "loss_torque": 3}, "[loss_torque]: a table is needed"),
        ({"machine": {**HEAD, "x": 1}, "flux": FLUX},
         "[machine]: 'x' is unknown; known here: armature_resistance, field_resistance, brush_drop, line_resistance, name,"
         " note, invented, connection"),
        ({"machine": {"field_resistance": "1 ohm"}, "flux": FLUX},
         "[machine]: armature_resistance is missing; write for example '0.8 ohm'"),
        ({"machine": {**HEAD, "note": 3}, "flux": FLUX}, "[machine]: note is 3; text in quotation marks is needed"),
        ({"machine": {**HEAD, "invented": 1}, "flux": FLUX}, "[machine]: invented is 1; true or false is needed"),
        ({"machine": {**HEAD, "connection": "series"}, "flux": FLUX},
         "connection is 'series'; 'shunt' or 'separate' is needed"),
        ({"machine": HEAD, "flux": FLUX, "nameplate": {"speed_rpm": "1 r/min"}},
         "[nameplate]: 'speed_rpm' is unknown; 'rated_' and the name of a quantity is needed"),
        ({"machine": HEAD, "flux": FLUX, "nameplate": {"rated_pace": "1 r/min"}},
         "[nameplate]: 'rated_pace' is unknown; 'rated_' and the name of a quantity is needed"),
    ],
)  # fmt: skip
def test_a_machine_that_cannot_be_read_is_told_in_these_words(table: Any, words: str) -> None:
    with pytest.raises(MachineFileError) as caught:
        machine_from_table(table, where="bench.toml")
    assert str(caught.value) == f"bench.toml: {words}"
    assert told(machine_from_table, {}) == "machine: the table [machine] is missing"


def test_what_is_no_toml_is_told_in_two_hundred_characters(monkeypatch: pytest.MonkeyPatch) -> None:
    long = f"[{'a' * 500}]\n" * 2  # the reader names the table that comes twice
    words = told(machine_from_text, long, where="bench.toml")
    assert words.startswith("bench.toml: not valid TOML: Cannot declare ('aaaa")
    assert len(words) == len("bench.toml: not valid TOML: ") + 200
    assert told(machine_from_text, "[machine").startswith("machine file: not valid TOML: Expected")

    def raising(error: Exception) -> Any:
        def loads(text: str) -> Any:
            raise error

        return loads

    for error, words in (
        (RecursionError(), "nested too deeply"),
        (RecursionError("too deep\nby far"), "too deep"),
        (ValueError("7" * 300 + "\nmore"), "7" * 200),
    ):
        monkeypatch.setattr(tomllib, "loads", raising(error))
        assert told(machine_from_text, "", where="f") == f"f: not valid TOML: {words}"


def test_a_file_of_a_million_characters_is_read_and_a_longer_one_is_not(tmp_path: Path) -> None:
    text = machine_to_text(PLAIN)
    full = text + "#" * (1_000_000 - len(text))
    assert machine_from_text(full) == PLAIN
    assert told(machine_from_text, full + "#", where="f") == "f: 1000001 characters; at most 1000000 are read"
    path = tmp_path / "long.toml"
    path.write_text(full, encoding="utf-8")
    assert load_machine(path) == PLAIN
    path.write_text(full + "#", encoding="utf-8")
    assert told(load_machine, path) == f"{path}: longer than 1000000 bytes; this is no machine file"
