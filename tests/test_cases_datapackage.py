"""The descriptor of the reference data says what is there: files, sizes, hashes, fields, units, keys."""

from __future__ import annotations

import csv
import hashlib
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from shuntref.conformance import datapackage
from shuntref.conformance.datapackage import DESCRIPTOR, described, descriptor, descriptor_text, references_folder
from shuntref.quantities.registry import REGISTRY

FOLDER = references_folder()
UNITS = {entry.unit for entry in REGISTRY.values()} | {"1"}


def _written() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / DESCRIPTOR).read_text(encoding="utf-8"))
    return found


def _cases() -> list[dict[str, Any]]:
    return [entry for entry in _written()["resources"] if entry["path"].startswith("cases/")]


def test_descriptor_lists_every_data_file_once() -> None:
    resources = _written()["resources"]
    paths = [entry["path"] for entry in resources]
    assert paths == [path.relative_to(FOLDER).as_posix() for path in described(FOLDER)], (
        "run python -m shuntref.conformance.datapackage after a change of the reference data"
    )
    names = [entry["name"] for entry in resources]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z0-9-]+", name) for name in names)


def test_sizes_and_hashes_are_those_of_the_files() -> None:
    for entry in _written()["resources"]:
        data = (FOLDER / entry["path"]).read_bytes()
        said = "run python -m shuntref.conformance.datapackage after a change of the reference data"
        assert entry["bytes"] == len(data), f"{entry['path']}: {said}"
        assert entry["hash"] == "sha256:" + hashlib.sha256(data).hexdigest(), f"{entry['path']}: {said}"


def test_every_resource_has_licence_and_sources_and_every_table_its_fields() -> None:
    for entry in _written()["resources"]:
        assert entry["licenses"] == [datapackage.LICENCE]
        assert all(source["title"].strip() for source in entry["sources"])
        assert entry["encoding"] == "utf-8"
        if entry["format"] == "csv":
            assert entry["type"] == "table"
        if entry["format"] in ("csv", "toml"):
            fields = entry["schema"]["fields"]
            assert fields, entry["path"]
            assert len({field["name"] for field in fields}) == len(fields), entry["path"]


def test_tables_of_the_cases_keep_to_their_fields_and_keys() -> None:
    tables: dict[str, list[dict[str, str]]] = {}
    for entry in _cases():
        if entry["format"] != "csv":
            continue
        with (FOLDER / entry["path"]).open(encoding="utf-8", newline="") as stream:
            reader = csv.DictReader(stream)
            rows = list(reader)
        tables[entry["name"]] = rows
        fields = entry["schema"]["fields"]
        assert reader.fieldnames == [field["name"] for field in fields]
        for field in fields:
            assert field["description"]
            assert field.get("unit", "1") in UNITS, field
            if field["type"] in ("number", "integer"):
                number = float if field["type"] == "number" else int
                for row in rows:
                    text = row[field["name"]]
                    assert not text or number(text) == number(text), field["name"]
    for entry in _cases():
        schema = entry.get("schema", {})
        key = schema.get("primaryKey", [])
        if key:
            keys = [tuple(row[name] for name in key) for row in tables[entry["name"]]]
            assert all(all(part for part in parts) for parts in keys)
            assert len(set(keys)) == len(keys)
        for foreign in schema.get("foreignKeys", []):
            (own,), (other,) = foreign["fields"], foreign["reference"]["fields"]
            there = {row[other] for row in tables[foreign["reference"]["resource"]]}
            assert {row[own] for row in tables[entry["name"]]} <= there


def test_a_changed_byte_a_lost_file_and_a_new_file_show(tmp_path: Path) -> None:
    folder = tmp_path / "references"
    shutil.copytree(FOLDER / "cases", folder / "cases")
    before = descriptor_text(folder)
    assert descriptor_text(folder) == before
    table = folder / "cases" / "flags.csv"
    table.write_bytes(table.read_bytes().replace(b"voltage", b"Voltage", 1))
    assert descriptor_text(folder) != before
    (folder / "cases" / "flags.csv").unlink()
    assert len(descriptor(folder)["resources"]) == json.loads(before)["resources"].__len__() - 1
    (folder / "a.csv").write_text("speed,U [V],name\n1.5,12,x\n,13,y\n", encoding="utf-8")
    first = descriptor(folder)["resources"][0]
    assert first["schema"]["fields"] == [
        {"name": "speed", "type": "number", "unit": "rad/s"},
        {"name": "U [V]", "type": "integer", "unit": "V"},
        {"name": "name", "type": "string"},
    ]


def test_sources_of_worked_examples_are_named(tmp_path: Path) -> None:
    (tmp_path / "exercises").mkdir()
    (tmp_path / "sources.toml").write_text('[someone-1]\nauthor = "A. Writer"\ntitle = "A book"\n', encoding="utf-8")
    (tmp_path / "exercises" / "one.toml").write_text('title = "x"\n[source]\nid = "someone-1"\n', encoding="utf-8")
    entry = next(r for r in descriptor(tmp_path)["resources"] if r["path"] == "exercises/one.toml")
    assert entry["sources"] == [{"title": "A. Writer, A book"}]


def test_check_tells_a_stale_descriptor(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(datapackage, "references_folder", lambda: tmp_path)
    (tmp_path / "a.csv").write_text("x\n1\n", encoding="utf-8")
    assert datapackage.main(["--check"]) == 1
    assert "write it anew" in capsys.readouterr().err
    assert datapackage.main([]) == 0
    assert datapackage.main(["--check"]) == 0
    (tmp_path / "a.csv").write_text("x\n2\n", encoding="utf-8")
    assert datapackage.main(["--check"]) == 1
