"""Machine files: nothing is lost on the way out and back, and nothing odd is let in."""

from __future__ import annotations

import math
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.model import steady_state
from shuntref.model.flux import FluxCurve, FroehlichFlux, ProportionalFlux, TableFlux
from shuntref.model.load import ConstantPower, ConstantTorque, Load, ProportionalTorque, SquareTorque, SumLoad, UserLoad
from shuntref.model.machine import Machine
from shuntref.model.machine_file import (
    MachineFileError,
    load_from_table,
    load_machine,
    machine_from_table,
    machine_from_text,
    machine_to_text,
    save_machine,
)
from shuntref.model.reaction import FluxLoss, NoReaction, ProportionalReaction, TableReaction

GOOD = """
[machine]
name = "bench"
armature_resistance = "0.8 ohm"
field_resistance = "160 ohm"
[flux]
kind = "proportional"
flux_constant = "1.0 V s/(rad A)"
"""

POSITIVE = st.floats(1e-30, 1e30)
FREE = st.floats(-1e30, 1e30)


def _rising(values: list[float]) -> list[float]:
    return sorted(set(values))


STEP = st.integers(0, 10**9).map(lambda n: n / 997.0)
COLUMN = st.lists(STEP, min_size=2, max_size=6, unique=True).map(_rising)


@st.composite
def _fluxes(draw: st.DrawFn) -> FluxCurve:
    kind = draw(st.integers(0, 2))
    if kind == 0:
        return ProportionalFlux(draw(POSITIVE))
    if kind == 1:
        return FroehlichFlux(draw(POSITIVE), draw(POSITIVE), draw(st.floats(0.0, 1e30)))
    current = draw(COLUMN)
    emf = draw(st.lists(STEP, min_size=len(current), max_size=len(current), unique=True).map(_rising))
    return TableFlux(current, emf, draw(st.floats(1e-3, 1e6)), draw(st.sampled_from(["refuse", "flag"])))


@st.composite
def _reactions(draw: st.DrawFn) -> Any:
    kind = draw(st.integers(0, 3))
    if kind == 0:
        return NoReaction()
    if kind == 1:
        return ProportionalReaction(draw(FREE))
    if kind == 2:
        current = [0.0, *[c for c in draw(COLUMN) if c > 0.0]]
        lost = [0.0, *(draw(st.floats(-1e6, 1e6)) for _ in current[1:])]
        return TableReaction(current, lost, draw(st.sampled_from(["refuse", "flag"])))
    return FluxLoss(draw(st.floats(0.0, 99.0)), draw(POSITIVE))


PART = st.one_of(
    st.builds(ConstantTorque, st.floats(0.0, 1e30)),
    st.builds(ProportionalTorque, st.floats(0.0, 1e10), st.floats(1e-3, 1e6)),
    st.builds(SquareTorque, st.floats(0.0, 1e10), st.floats(1e-3, 1e6)),
    st.builds(ConstantPower, st.floats(0.0, 1e30)),
)
LOSS: st.SearchStrategy[Load] = st.one_of(
    PART, st.lists(PART, min_size=2, max_size=3).map(tuple).map(SumLoad)
).filter(lambda load: all(math.isfinite(getattr(load.terms(), n)) for n in ("constant", "power")))  # fmt: skip
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)


@given(
    st.builds(
        Machine,
        armature_resistance=st.floats(0.0, 1e30),
        field_resistance=POSITIVE,
        flux=_fluxes(),
        armature_reaction=_reactions(),
        brush_drop=st.floats(0.0, 1e30),
        line_resistance=st.floats(0.0, 1e30),
        loss_torque=LOSS,
        connection=st.sampled_from(["shunt", "separate"]),
        name=TEXT,
        note=TEXT,
        invented=st.booleans(),
        nameplate=st.dictionaries(
            st.sampled_from(["rated_supply_voltage", "rated_speed_rpm", "rated_efficiency"]), FREE
        ),
    )
)
def test_a_machine_comes_back_exactly(machine: Machine) -> None:
    text = machine_to_text(machine)
    again = machine_from_text(text)
    assert again == machine
    assert machine_to_text(again) == text


def test_a_zero_with_a_sign_is_written_as_it_is_read() -> None:
    text = machine_to_text(Machine(0.5, 100.0, ProportionalFlux(1.0), ProportionalReaction(-0.0)))
    assert '"0.0 A/A"' in text
    assert machine_to_text(machine_from_text(text)) == text


def test_a_file_is_written_whole_and_read_back(tmp_path: Path) -> None:
    machine = machine_from_text(GOOD)
    path = tmp_path / "bench.toml"
    save_machine(machine, path)
    assert load_machine(path) == machine
    assert [p.name for p in tmp_path.iterdir()] == ["bench.toml"]
    before = path.read_bytes()
    with pytest.raises(ValueError, match="UserLoad, which a machine file cannot hold"):
        save_machine(
            Machine(armature_resistance=1.0, field_resistance=1.0, flux=ProportionalFlux(1.0),
                    loss_torque=UserLoad(lambda w: w)), path)  # fmt: skip
    assert path.read_bytes() == before
    path.write_bytes(b"\xef\xbb\xbf" + before.replace(b"\n", b"\r\n"))  # as some editors leave it
    assert load_machine(path) == machine


@pytest.mark.parametrize("name", ["laboratory", "unsaturated", "measured"])
def test_the_machines_of_the_references_are_invented_say_so_and_run(name: str) -> None:
    text = (files("shuntref.references") / "machines" / f"{name}.toml").read_text(encoding="utf-8")
    machine = machine_from_text(text)
    assert machine.invented
    assert "nvented" in machine.name
    assert machine_from_text(machine_to_text(machine)) == machine
    volts = machine.nameplate["rated_supply_voltage"]
    assert steady_state(machine, supply_voltage=volts).status_text == "ok"
    power = machine.nameplate.get("rated_output_power")
    if power is not None:
        rated = steady_state(machine, supply_voltage=volts, load=ConstantPower(power))
        assert rated.speed_rpm == pytest.approx(machine.nameplate["rated_speed_rpm"], rel=0.01)


def _with(line: str, section: str = "[machine]") -> str:
    return GOOD.replace(section, f"{section}\n{line}")


BAD = {
    "an unknown table": (GOOD + "[fluxx]\na = 1\n", "'fluxx' is unknown; known here: machine, flux"),
    "an unknown key": (_with('armature_resistence = "1 ohm"'), r"\[machine\]: 'armature_resistence' is unknown"),
    "an unknown key of the flux": (_with('saturation = "no"', "[flux]"), r"\[flux\]: 'saturation' is unknown"),
    "a missing table": ('[machine]\narmature_resistance = "1 ohm"\n', r"the table \[flux\] is missing"),
    "a missing value": (GOOD.replace('field_resistance = "160 ohm"\n', ""), "field_resistance is missing.*'160 ohm'"),
    "a wrong unit": (GOOD.replace('"0.8 ohm"', '"0.8 V"'), "armature_resistance.*0.8 V"),
    "a bare number": (GOOD.replace('"0.8 ohm"', "0.8"), "armature_resistance.*0.8"),
    "a number without unit": (GOOD.replace('"0.8 ohm"', '"0.8"'), "armature_resistance.*unit"),
    "not a number": (GOOD.replace('"0.8 ohm"', '"nan ohm"'), "armature_resistance"),
    "not a number in TOML": (GOOD.replace('"0.8 ohm"', "nan"), "armature_resistance"),
    "infinity": (GOOD.replace('"0.8 ohm"', '"1e999 ohm"'), "armature_resistance"),
    "a huge resistance": (GOOD.replace('"0.8 ohm"', '"1e300 ohm"'), r"resistance is 1e\+300 ohm; a number of ordinary"),
    "a vanishing one": (GOOD.replace('"160 ohm"', '"1e-200 ohm"'), "field_resistance is 1e-200 ohm; a number of ordinary"),
    "a negative resistance": (GOOD.replace('"0.8 ohm"', '"-0.8 ohm"'), "armature_resistance is -0.8 ohm"),
    "a field without resistance": (GOOD.replace('"160 ohm"', '"0 ohm"'), "field_resistance is 0.0 ohm"),
    "a negative flux constant": (GOOD.replace('"1.0 V', '"-1.0 V'), r"\[flux\]: flux_constant is -1.0"),
    "an unknown kind": (GOOD.replace('"proportional"', '"cubic"'), "kind is 'cubic'; one of proportional"),
    "a kind that is no text": (GOOD.replace('"proportional"', "3"), "kind is 3; one of"),
    "a list for a value": (GOOD.replace('"0.8 ohm"', '["0.8 ohm"]'), "armature_resistance"),
    "a table that is a value": (GOOD.split("[flux]")[0] + "[nameplate]\n" + "\n".join([]), r"the table \[flux\]"),
    "a nameplate name": (GOOD + '[nameplate]\nrated_flavour = "1 V"\n', "'rated_flavour' is unknown"),
    "a nameplate without rated": (GOOD + '[nameplate]\nsupply_voltage = "1 V"\n', "'supply_voltage' is unknown"),
    "a connection": (_with('connection = "series"'), "connection is 'series'; 'shunt' or 'separate'"),
    "invented as text": (_with('invented = "yes"'), "invented is 'yes'; true or false"),
    "a name that is a number": (GOOD.replace('"bench"', "7"), "name is 7; text"),
    "a name a million long": (GOOD.replace('"bench"', '"' + "x" * 500_000 + '"'), "name is 'xxx"),
    "a loss that drives": (GOOD + '[loss_torque]\nkind = "constant"\nloss_torque = "-1 N m"\n', "loss_torque is -1"),
    "a loss without speed": (GOOD + '[loss_torque]\nkind = "square"\nloss_torque = "1 N m"\n', "one of speed and speed_rpm"),
    "a list of nothing": (GOOD + "loss_torque = []\n", "'loss_torque' is unknown"),
    "a table that falls": (
        GOOD.split("[flux]")[0]
        + '[flux]\nkind = "table"\nspeed_rpm = "1500 r/min"\nfield_current = "0, 1, 0.5 A"\nback_emf = "1, 2, 3 V"\n',
        r"\[flux\]: field_current is 0.5 A at index 2; a value above 1.0",
    ),
    "a table of two lengths": (
        GOOD.split("[flux]")[0]
        + '[flux]\nkind = "table"\nspeed_rpm = "1500 r/min"\nfield_current = "0, 1 A"\nback_emf = "1, 2, 3 V"\n',
        "field_current has 2 points but back_emf has 3",
    ),
    "points too close": (
        GOOD.split("[flux]")[0]
        + '[flux]\nkind = "table"\nspeed_rpm = "1500 r/min"\nfield_current = "0, 5e-324 A"\nback_emf = "1, 2 V"\n',
        "too close together",
    ),
    "no TOML": ("[machine\n", "not valid TOML"),
    "a key twice": (_with('name = "again"'), "not valid TOML"),
    "nested without end": ("a = " + "[" * 100_000, "not valid TOML"),
    "longer than any": ("#" * 2_000_000, "longer than 1000000 bytes"),
    "code for a value": (GOOD.replace('"0.8 ohm"', '"__import__(\'os\').getcwd() ohm"'), "armature_resistance"),
    "a tower of powers": (GOOD.replace('"0.8 ohm"', '"9**9**9 ohm"'), "armature_resistance"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_hostile_file_is_refused_in_one_clear_line(case: str, tmp_path: Path) -> None:
    text, words = BAD[case]
    path = tmp_path / "hostile.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(MachineFileError, match=words) as caught:
        load_machine(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert "\n" not in message
    assert len(message) < 700


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "binary.toml"
    path.write_bytes(b"[machine]\nname = '\xff\xfe'\n")
    with pytest.raises(MachineFileError, match="not UTF-8 text"):
        load_machine(path)


def test_tables_inside_other_files_say_where_they_stand() -> None:
    with pytest.raises(MachineFileError, match=r"^bench\.toml, machine 2: the table \[flux\] is missing"):
        machine_from_table({"machine": {}}, where="bench.toml, machine 2")
    with pytest.raises(MachineFileError, match=r"^load 2: kind is None"):
        load_from_table([{"kind": "constant", "load_torque": "1 N m"}, {}])
    both = load_from_table([{"kind": "constant", "load_torque": "1 N m"},
                            {"kind": "constant-power", "output_power": "150 W"}])  # fmt: skip
    assert both.torque(150.0) == 2.0
    with pytest.raises(MachineFileError, match="one of speed and speed_rpm"):
        load_from_table({"kind": "square", "load_torque": "1 N m", "speed": "1 rad/s", "speed_rpm": "1 r/min"})
