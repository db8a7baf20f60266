"""Tables, catalogue and descriptor of the cases, from made-up cases and files whose every cell is written by hand here."""

from __future__ import annotations

import json
from decimal import Decimal
from types import SimpleNamespace

import pytest

from shuntref.conformance import evidence, generate
from shuntref.conformance.case_tables import Column, Table, case_tables, csv_text
from shuntref.conformance.cases import decimals, floats
from shuntref.conformance.catalogue import catalogue_data, catalogue_text
from shuntref.conformance.comparison import acceptable_answers, shares_of_tolerance, worst_share
from shuntref.conformance.datapackage import _csv_fields, _name, _toml_fields, described, descriptor, descriptor_text
from shuntref.conformance.flags import Flag
from shuntref.conformance.functions import Function, Input, Output
from shuntref.conformance.near_names import names_instead
from shuntref.conformance.suite import Case, Suite, WrongValue, load_suite, select, suite_from

D = Decimal

VALID = {
    "id": "a-one", "group": "speed", "function": "speed", "level": 2, "result": "valid",
    "inputs": {"load_torque": 120.0, "table_field_current": [0.5, 1.0]},
    "expected": {"speed": "150.5", "section_resistance": ["1.5", "2"]},
    "condition": {"speed": "1.5", "section_resistance": "2"}, "tolerance": {"speed": "1e-10", "section_resistance": "2e-10"},
    "absolute": {"speed": "3e-10"}, "tolerance_reason": "because", "note": "a remark",
    "flags": [{"flag": "slip", "wrong": {"speed": "7", "section_resistance": ["8", "9"]}}, {"flag": "other", "wrong": {}}],
    "acceptable": [{"name": "this", "values": {"speed": "150.5", "section_resistance": ["3", "4"]}},
                   {"name": "none", "values": {}}],
}  # fmt: skip
INVALID = {
    "id": "a-two", "group": "speed", "function": "speed", "level": 3, "result": "invalid", "inputs": {"brush_drop": -2},
    "expected": {}, "condition": {}, "tolerance": {}, "absolute": {}, "tolerance_reason": "", "note": "refused",
    "flags": [], "acceptable": [],
}  # fmt: skip


def rows_of(table):
    names = [column.name for column in table.columns]
    return [{k: v for k, v in zip(names, row, strict=True) if v != ""} for row in table.rows]


# --- flat tables


def test_a_case_is_a_row_with_a_field_for_every_quantity_that_occurs():
    cases, wrong, acceptable, _, _ = case_tables([VALID, INVALID])
    assert cases.name == "cases.csv"
    assert rows_of(cases) == [
        {
            "id": "a-one", "group": "speed", "function": "speed", "level": "2", "result": "valid",
            "given.load_torque": "120.0", "given.table_field_current": "0.5 1.0",
            "expected.speed": "150.5", "expected.section_resistance": "1.5 2",
            "condition.speed": "1.5", "condition.section_resistance": "2",
            "tolerance.speed": "1e-10", "tolerance.section_resistance": "2e-10", "absolute.speed": "3e-10",
            "tolerance_reason": "because", "note": "a remark",
        },
        {"id": "a-two", "group": "speed", "function": "speed", "level": "3", "result": "invalid", "given.brush_drop": "-2",
         "note": "refused"},
    ]  # fmt: skip
    columns = {column.name: column for column in cases.columns}
    assert (columns["given.load_torque"].type, columns["given.load_torque"].unit) == ("number", "N m")
    assert columns["given.table_field_current"].type == "string"
    assert columns["given.table_field_current"].description.endswith("; readings separated by blanks")
    assert (columns["expected.section_resistance"].type, columns["expected.section_resistance"].unit) == (
        "string",
        "ohm",
    )
    assert (columns["expected.speed"].type, columns["expected.speed"].unit) == ("number", "rad/s")
    assert (columns["absolute.speed"].unit, columns["condition.speed"].unit, columns["tolerance.speed"].unit) == (
        "rad/s",
        "1",
        "1",
    )
    assert columns["condition.section_resistance"].type == "number"  # one condition for the whole list
    assert not columns["expected.speed"].description.endswith("blanks")
    assert columns["expected.speed"].description.startswith("expected value to 25 digits: ")
    assert (cases.key, cases.refers) == (("id",), ())
    assert [r["place"] for r in rows_of(wrong)] == ["1", "1", "2"]
    assert rows_of(wrong)[2] == {
        "id": "a-one", "flag": "slip", "quantity": "section_resistance", "place": "2", "value": "9", "unit": "ohm",
    }  # fmt: skip
    assert rows_of(acceptable)[1:] == [
        {
            "id": "a-one",
            "alternative": "this",
            "quantity": "section_resistance",
            "place": "1",
            "value": "3",
            "unit": "ohm",
        },
        {
            "id": "a-one",
            "alternative": "this",
            "quantity": "section_resistance",
            "place": "2",
            "value": "4",
            "unit": "ohm",
        },
        {"id": "a-one", "alternative": "none"},
    ]
    assert (wrong.key, wrong.refers) == (
        ("id", "flag", "quantity", "place"),
        (("id", "cases", "id"), ("flag", "flags", "flag")),
    )
    assert (acceptable.key, acceptable.refers) == ((), (("id", "cases", "id"),))


def test_functions_and_flags_as_tables():
    _, _, _, flags, functions = case_tables([])
    assert (flags.key, functions.key) == (("flag",), ("function", "direction", "place"))
    assert {"flag", "kind", "description", "effect"} == set(rows_of(flags)[0])
    rows = [row for row in rows_of(functions) if row["function"] == "starting_resistance"]
    assert rows[0] == {
        "function": "starting_resistance", "group": "starting", "direction": "input", "place": "1",
        "quantity": "supply_voltage", "unit": "V", "shape": "number", "accept": "positive", "required": "yes",
    }  # fmt: skip
    drop = next(row for row in rows if row["quantity"] == "brush_drop")
    assert (drop["required"], drop["default"], drop["accept"]) == ("no", "0.0", "not negative")
    assert rows[-1] == {
        "function": "starting_resistance", "group": "starting", "direction": "output", "place": "1",
        "quantity": "starting_resistance", "unit": "ohm", "shape": "number",
    }  # fmt: skip
    grading = {
        (r["direction"], r["quantity"]): r["shape"] for r in rows_of(functions) if r["function"] == "starter_grading"
    }
    assert grading["output", "section_resistance"] == "list"
    tables = {(r["quantity"], r["shape"]) for r in rows_of(functions) if r["function"] == "speed_with_table"}
    assert ("table_field_current", "list") in tables


def test_csv_is_quoted_only_where_it_must_be():
    table = Table(
        "x", "", (Column("a", "string", ""), Column("b", "string", "")), (("1", 'say "no"'), ("", "two\nlines"))
    )
    assert csv_text(table) == 'a,b\n1,"say ""no"""\n,"two\nlines"\n'


# --- the catalogue


def _suite():
    motor = Function(
        "motor", "speed", "How fast it turns.", ("E = k w",),
        (Input("supply_voltage", "V", "positive"), Input("brush_drop", "V", "not negative", False, 0.0),
         Input("load_torque", "N m", "any", False, 2.5), Input("field_current", "A", "positive", is_list=True)),
        (Output("speed", "rad/s"), Output("section_resistance", "ohm", True)), ("it does not stall", "it has flux"),
    )  # fmt: skip
    silent = Function("silent", "losses", "Not asked.", (), (), (), ())
    bare = Function("bare", "losses", "No inputs.", (), (), (Output("efficiency", "1"),), ())
    cases = tuple(Case(f"c{i}", "speed", name, 1, {}, "valid") for i, name in enumerate(("motor", "bare", "motor")))
    return Suite(cases, {f.name: f for f in (motor, silent, bare)}, {})


def test_the_catalogue_word_for_word():
    suite = _suite()
    assert catalogue_text(suite, suite.cases) == (
        "motor  (speed, 2 cases)\n"
        "  How fast it turns.\n"
        "    supply_voltage [V], positive\n"
        "    brush_drop [V], not negative, 0 when left out\n"
        "    load_torque [N m], any number, 2.5 when left out\n"
        "    field_current [A] list, positive\n"
        "    -> speed [rad/s]\n"
        "    -> section_resistance [ohm] list\n"
        "    refuse unless it does not stall\n"
        "    refuse unless it has flux\n"
        "\n"
        "bare  (losses, 1 cases)\n"
        "  No inputs.\n"
        "    -> efficiency [1]"
    )


def test_the_catalogue_as_data():
    suite = _suite()
    motor, bare = catalogue_data(suite, suite.cases)
    assert (motor["function"], motor["cases"], bare["function"], bare["cases"]) == ("motor", 2, "bare", 1)
    assert motor["inputs"][2] == {"name": "load_torque", "unit": "N m", "accept": "any", "default": 2.5, "list": False}
    assert motor["outputs"][1] == {"name": "section_resistance", "unit": "ohm", "list": True}
    assert (motor["equations"], motor["preconditions"]) == (["E = k w"], ["it does not stall", "it has flux"])
    assert catalogue_data(suite, suite.cases[1:2]) == [bare]


# --- the descriptor


def test_what_a_csv_says_of_itself():
    found = _csv_fields("# remark\nrun,U [V],I [mA] ,speed,who\n1,1.5,+3,.5e-3,me\n\n2,,-4,x,\n3,2.,5\n")
    assert found["schema"]["fields"] == [
        {"name": "run", "type": "integer"},
        {"name": "U [V]", "type": "number", "unit": "V"},
        {"name": "I [mA] ", "type": "integer", "unit": "mA"},
        {"name": "speed", "type": "string", "unit": "rad/s"},
        {"name": "who", "type": "string"},
    ]
    assert found["dialect"] == {"commentChar": "#"}
    assert found["schema"]["missingValues"] == [""]
    assert "dialect" not in _csv_fields("a\n1\n")
    assert _csv_fields("")["schema"]["fields"] == []
    assert _csv_fields("a,b\n")["schema"]["fields"] == [
        {"name": "a", "type": "string"},
        {"name": "b", "type": "string"},
    ]


@pytest.mark.parametrize(
    ("cells", "kind"),
    [(["1", "-2", "+3"], "integer"), (["1", "2.0"], "number"), (["1e5"], "number"), ([".5"], "number"), (["1."], "number"),
     (["1e"], "string"), (["."], "string"), (["1", "x"], "string"), (["x", "1"], "string"), ([" 7 "], "integer")],
)  # fmt: skip
def test_the_type_of_a_column_is_that_of_all_its_cells(cells, kind):
    found = _csv_fields("h\n" + "\n".join(cells) + "\n")
    assert found["schema"]["fields"][0]["type"] == kind


def test_what_a_toml_file_says_of_itself():
    assert _toml_fields({"title": "x", "n": 1, "x": 1.5, "yes": True, "speed": "1 rad/s", "list": [1],
                         "in": {"k_phi": 1, "deep": {"a": ""}},
                         "rows": [{"speed": 1}, {"speed": 2.5, "b": "x"}]}) == [
        {"name": "title", "type": "string"},
        {"name": "n", "type": "integer"},
        {"name": "x", "type": "number"},
        {"name": "yes", "type": "boolean"},
        {"name": "speed", "type": "string", "unit": "rad/s"},
        {"name": "list", "type": "array"},
        {"name": "in.k_phi", "type": "integer", "unit": "V s/rad"},
        {"name": "in.deep.a", "type": "string"},
        {"name": "rows[].speed", "type": "any", "unit": "rad/s"},
        {"name": "rows[].b", "type": "string"},
    ]  # fmt: skip
    # one table alone, or tables that share nothing, are no table of rows
    assert _toml_fields({"a": {"x": 1}}) == [{"name": "a.x", "type": "integer"}]
    assert [f["name"] for f in _toml_fields({"a": {"x": 1}, "b": {"y": 1}})] == ["a.x", "b.y"]
    assert [f["name"] for f in _toml_fields({"a": {"x": 1}, "b": {"x": 1}, "c": 2})] == ["a.x", "b.x", "c"]
    assert [f["name"] for f in _toml_fields({"a": {"x": 1}, "b": {"x": 1, "y": 2}})] == ["*.x", "*.y"]
    assert [f["name"] for f in _toml_fields({"a": {"x": 1, "z": 1}, "b": {"x": 1, "y": 2}, "c": {"q": 1}})] == [
        "a.x", "a.z", "b.x", "b.y", "c.q",
    ]  # fmt: skip


def test_which_files_are_described_and_how_they_are_called(tmp_path):
    for name in ("b.csv", "a/z.toml", "a.md", "picture.png", ".hidden.csv", "datapackage.json", "A B(1).txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("", encoding="utf-8")
    (tmp_path / "folder.csv").mkdir()
    assert [p.relative_to(tmp_path).as_posix() for p in described(tmp_path)] == [
        "A B(1).txt",
        "a.md",
        "a/z.toml",
        "b.csv",
    ]
    assert _name("A B(1).txt") == "a-b-1-txt"
    assert _name("a/z_9.toml") == "a-z-9-toml"
    assert _name("(x).md") == "x-md"


def test_sources_by_id_by_words_and_none(tmp_path):
    (tmp_path / "sources.toml").write_text(
        '[one]\nauthor = "A. Writer"\ntitle = "A book"\n[two]\ntitle = "A standard"\n[three]\nauthor = ""\n',
        encoding="utf-8",
    )
    (tmp_path / "x.toml").write_text(
        'source = "two"\n[[rows]]\nsource = "one"\n[[rows]]\nsource = "by word of mouth"\n[[rows]]\nsource = " "\n'
        '[deep.source]\nid = "three"\n[more.source]\nid = "unknown"\n', encoding="utf-8",
    )  # fmt: skip
    (tmp_path / "cases").mkdir()
    for name in ("a.csv", "b.md", "c.txt", "d.toml"):
        (tmp_path / "cases" / name).write_text("", encoding="utf-8")
    resources = {r["path"]: r for r in descriptor(tmp_path)["resources"]}
    assert [s["title"] for s in resources["x.toml"]["sources"]] == [
        "A standard",
        "A. Writer, A book",
        "by word of mouth",
        "three",
    ]
    generated = {path for path, r in resources.items() if r["sources"][0]["title"].startswith("Generated by")}
    assert generated == {"cases/a.csv", "cases/c.txt"}
    assert "schema" not in resources["cases/c.txt"]
    assert resources["cases/b.md"]["sources"][0]["title"].startswith("shuntref; invented")
    assert {r["mediatype"] for r in resources.values()} == {
        "text/csv",
        "text/markdown",
        "text/plain",
        "application/toml",
    }
    assert (resources["cases/a.csv"]["format"], resources["cases/a.csv"]["bytes"]) == ("csv", 0)
    # of nothing at all this is the hash
    assert resources["cases/a.csv"]["hash"] == "sha256:e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def test_the_descriptor_stands_one_field_to_a_line(tmp_path):
    (tmp_path / "a.csv").write_text("run,U [V]\n1,2.5\n", encoding="utf-8")
    (tmp_path / "b.md").write_text("Ä\n", encoding="utf-8")
    text = descriptor_text(tmp_path)
    assert json.loads(text) == descriptor(tmp_path)
    assert text.startswith('{\n "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",\n "name": ')
    assert (
        '   "schema": {\n    "fields": [\n     {"name": "run", "type": "integer"},\n'
        '     {"name": "U [V]", "type": "number", "unit": "V"}\n    ],\n    "missingValues": [""]\n   }'
    ) in text
    assert '   "bytes": 3,\n' in text  # two bytes for the letter, one for the line feed
    assert text.endswith("\n  }\n ]\n}\n")


def test_tables_of_the_cases_carry_keys_and_references(tmp_path):
    (tmp_path / "cases").mkdir()
    (tmp_path / "cases" / "cases.json").write_text(json.dumps({"cases": [VALID]}), encoding="utf-8")
    for table in case_tables([VALID]):
        (tmp_path / "cases" / table.name).write_text(csv_text(table), encoding="utf-8")
    resources = {r["path"]: r for r in descriptor(tmp_path)["resources"]}
    wrong = resources["cases/wrong_values.csv"]["schema"]
    assert wrong["primaryKey"] == ["id", "flag", "quantity", "place"]
    assert wrong["foreignKeys"] == [
        {"fields": ["id"], "reference": {"resource": "cases-cases-csv", "fields": ["id"]}},
        {"fields": ["flag"], "reference": {"resource": "cases-flags-csv", "fields": ["flag"]}},
    ]
    assert "primaryKey" not in resources["cases/acceptable.csv"]["schema"]
    assert "foreignKeys" not in resources["cases/flags.csv"]["schema"]
    assert resources["cases/cases.json"]["jsonSchema"] == "cases/cases.schema.json"
    fields = {f["name"]: f for f in resources["cases/cases.csv"]["schema"]["fields"]}
    assert fields["given.load_torque"]["unit"] == "N m"
    assert "unit" not in fields["id"]
    assert fields["id"] == {"name": "id", "type": "string", "description": "stable identifier of the case"}


# --- writing the cases


def test_the_case_file_has_a_line_for_each_part():
    text = generate.generated_files([VALID, INVALID], ["a-two"])["cases.json"]
    assert text.startswith('{"schema": "cases.schema.json", "cases": [\n {\n  "id": "a-one",\n  "group": "speed",\n')
    assert text.endswith('  "flags": [],\n  "acceptable": []\n }\n]}\n')
    assert json.loads(text)["cases"] == [VALID, INVALID]
    assert " },\n {\n" in text


def test_the_schema_in_the_folder_is_the_one_that_is_written():
    written = (generate.cases_folder() / "cases.schema.json").read_text(encoding="utf-8")
    assert generate.generated_files([VALID], [])["cases.schema.json"] == written
    levels = json.loads(written)
    assert '"enum": [1, 2, 3, 4]' in json.dumps(levels)
    assert '"enum": ["valid", "invalid", "acceptable"]' in json.dumps(levels)


def test_ids_already_frozen_stay_in_their_place():
    assert generate.generated_files([VALID, INVALID], ["a-two"])["ids.txt"] == "a-two\na-one\n"
    with pytest.raises(
        ValueError, match=r"^2 frozen ids are gone, the first is 'x'; ids are never dropped or renamed$"
    ):
        generate.frozen_ids(["a-one", "x", "y"], ["a-one"])


def test_writing_comparing_and_refusing(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(generate, "certified_cases", lambda: [VALID, INVALID])
    assert generate.main(["--to", str(tmp_path)]) == 0
    assert capsys.readouterr().out == f"8 files, 2 cases, in {tmp_path.name}/\n"
    assert (tmp_path / "ids.txt").read_text(encoding="utf-8") == "a-one\na-two\n"
    assert not (tmp_path / "datapackage.json").exists()
    assert generate.main(["--check", "--to", str(tmp_path)]) == 0
    (tmp_path / "flags.csv").unlink()
    (tmp_path / "functions.csv").write_text("x", encoding="utf-8")
    assert generate.main(["--check", "--to", str(tmp_path)]) == 1
    assert capsys.readouterr().err.splitlines() == [
        "generate: flags.csv is not what the generator writes",
        "generate: functions.csv is not what the generator writes",
    ]
    assert not (tmp_path / "flags.csv").exists()
    (tmp_path / "ids.txt").write_text("gone\n", encoding="utf-8")
    assert generate.main(["--to", str(tmp_path)]) == 1
    assert capsys.readouterr().err.startswith("generate: 1 frozen ids are gone")


def test_in_its_own_place_the_descriptor_is_written_as_well(tmp_path, monkeypatch, capsys):
    (tmp_path / "cases").mkdir()
    monkeypatch.setattr(generate, "certified_cases", lambda: [VALID])
    monkeypatch.setattr(generate, "cases_folder", lambda: tmp_path / "cases")
    monkeypatch.setattr(generate, "references_folder", lambda: tmp_path)
    assert generate.main([]) == 0
    assert capsys.readouterr().out == "8 files, 1 cases, in cases/\n"
    assert (tmp_path / "datapackage.json").read_text(encoding="utf-8") == descriptor_text(tmp_path)


def test_two_cases_of_one_name_are_refused(monkeypatch):
    rows = SimpleNamespace(rows=["a", "b", "a"])
    monkeypatch.setattr(generate, "all_entries", lambda: {"speed": rows})
    monkeypatch.setattr(generate, "certify", lambda name, entry, row: {"id": f"{name}-{row}"})
    with pytest.raises(ValueError, match=r"^two cases are called 'speed-a'$"):
        generate.certified_cases()
    rows.rows = ["a", "b"]
    assert [case["id"] for case in generate.certified_cases(["speed"])] == ["speed-a", "speed-b"]


# --- choosing and comparing


def test_cases_are_chosen_by_all_that_is_said():
    made = tuple(
        Case(f"c{i}", group, function, level, {}, "valid")
        for i, (group, function, level) in enumerate((("g", "f", 1), ("g", "f", 2), ("g", "h", 1), ("k", "f", 1)))
    )
    suite = Suite(made, {}, {})
    assert suite.groups == ("g", "k")
    assert [c.id for c in select(suite)] == ["c0", "c1", "c2", "c3"]
    assert [c.id for c in select(suite, groups=["g"], functions=["f"], levels=[1, 2])] == ["c0", "c1"]
    assert [c.id for c in select(suite, ids=["c3", "c1"])] == ["c1", "c3"]
    with pytest.raises(ValueError, match=r"^no case has group 'x'; there are g, k$"):
        select(suite, groups=["x"])
    with pytest.raises(ValueError, match=r"^no case has level '9'; there are 1, 2$"):
        select(suite, levels=[9])
    with pytest.raises(ValueError, match=f"^no case has id '{'x' * 60}'; there are c0, c1, c2, c3$"):
        select(suite, ids=["x" * 61])
    with pytest.raises(
        ValueError, match=r"; cases\.csv of references/cases shows all 1017|; perhaps .* is meant; cases\.csv"
    ):
        select(load_suite(), ids=["zzz"])


def test_a_file_of_cases_that_cannot_be_read_is_refused():
    with pytest.raises(ValueError, match=r"^the certified cases cannot be read: KeyError 'cases'$"):
        suite_from(b"{}")
    with pytest.raises(ValueError, match=r"^the certified cases cannot be read: TypeError "):
        suite_from(b"[]")
    with pytest.raises(ValueError, match=r"^case a-one: function 'sped' is not described in functions\.toml$"):
        suite_from(json.dumps({"cases": [{**VALID, "function": "sped"}]}).encode())
    made = suite_from(json.dumps({"cases": [VALID, INVALID]}).encode())
    first, second = made.cases
    assert first.inputs == {"load_torque": 120.0, "table_field_current": (0.5, 1.0)}
    assert first.expected == {"speed": "150.5", "section_resistance": ("1.5", "2")}
    assert first.acceptable == (("this", {"speed": "150.5", "section_resistance": ("3", "4")}), ("none", {}))
    assert first.flags[0] == WrongValue("slip", {"speed": "7", "section_resistance": ("8", "9")})
    assert (first.level, first.note, first.tolerance_reason, first.absolute) == (
        2,
        "a remark",
        "because",
        {"speed": "3e-10"},
    )
    assert (second.inputs, second.result, second.expected) == ({"brush_drop": -2.0}, "invalid", {})
    assert len(made.digest) == 64


CASE = Case(
    "a", "speed", "speed", 1, {}, "valid", {"speed": "200", "section_resistance": ("1", "-4"), "brush_loss": "0"},
    tolerance={"speed": "1e-2", "section_resistance": "1e-1", "brush_loss": "1e-10"}, absolute={"brush_loss": "0.5"},
)  # fmt: skip


def test_shares_of_the_tolerance_by_hand():
    right = {"speed": 200, "section_resistance": [1, -4], "brush_loss": 0}
    assert shares_of_tolerance(CASE, CASE.expected, right) == {"speed": 0, "section_resistance": 0, "brush_loss": 0}
    # 3 of 2 allowed; 0.05 of 0.1 and 0.1 of 0.4; 0.125 of 0.5
    off = {"speed": 197, "section_resistance": ("1.05", "-4.1"), "brush_loss": -0.125}
    assert shares_of_tolerance(CASE, CASE.expected, off) == {
        "speed": D("1.5"),
        "section_resistance": D("0.5"),
        "brush_loss": D("0.25"),
    }
    assert worst_share(CASE, off) == D("1.5")
    assert worst_share(CASE, {**right, "section_resistance": [1]}) == D("inf")
    assert worst_share(CASE, {**right, "section_resistance": 1}) == D("inf")
    assert worst_share(CASE, None) == D("inf")


def test_refusals_and_alternatives():
    invalid = Case("a", "speed", "speed", 1, {}, "invalid")
    assert (worst_share(invalid, None), worst_share(invalid, {})) == (0, D("inf"))
    either = Case(
        "a", "speed", "speed", 1, {}, "acceptable",
        acceptable=(("low", {"speed": "100"}), ("none", {}), ("high", {"speed": "200"})), tolerance={"speed": "1e-2"},
    )  # fmt: skip
    assert acceptable_answers(either) == [{"speed": "100"}, {}, {"speed": "200"}]
    assert acceptable_answers(CASE) == [CASE.expected]
    assert worst_share(either, None) == 0
    assert worst_share(either, {"speed": 203}) == D("1.5")
    assert worst_share(either, {"speed": 100.5}) == D("0.5")
    strict = Case(
        "a", "speed", "speed", 1, {}, "acceptable", acceptable=(("low", {"speed": "1"}),), tolerance={"speed": "1"}
    )
    assert worst_share(strict, None) == D("inf")


def test_certified_values_as_numbers():
    values = {"speed": "0.1", "section_resistance": ("1.5", "2")}
    assert decimals(values) == {"speed": D("0.1"), "section_resistance": (D("1.5"), D(2))}
    assert floats(values) == {"speed": 0.1, "section_resistance": (1.5, 2.0)}


def test_few_names_are_listed_and_of_many_the_nearest():
    fourteen = [f"name{i}" for i in range(14)]
    assert names_instead("x", fourteen) == "there are " + ", ".join(fourteen)
    many = [*fourteen, "stall_torque", "load_torque", "loss_torque", "torque_constant"]
    assert names_instead("zzz", many) == "shuntref conform --list shows all 18"
    assert names_instead("zzz", many, "the list") == "the list shows all 18"
    # names that hold the word fill up to three
    meant = names_instead("torque", many).removesuffix(" is meant; shuntref conform --list shows all 18")
    assert len(set(meant.removeprefix("perhaps ").split(" or ")) & set(many[14:])) == 3
    holding = [*fourteen, "aaaa_bcdefgh_q"]
    assert names_instead("q", holding) == "perhaps aaaa_bcdefgh_q is meant; shuntref conform --list shows all 15"
    assert names_instead("", many) == "shuntref conform --list shows all 18"


# --- the suite's evidence fails where the suite is spoilt


def _evidence(monkeypatch, cases, flags=None):
    whole = load_suite()
    monkeypatch.setattr(
        evidence, "load_suite", lambda: Suite(cases, whole.functions, whole.flags if flags is None else flags)
    )
    return {check.statement: check for check in evidence._sound()}


def _passed(checks):
    return [check.passed for check in checks.values()]


def test_the_whole_suite_is_sound(monkeypatch):
    assert _passed(_evidence(monkeypatch, load_suite().cases)) == [True] * 5


@pytest.mark.parametrize(
    ("spoil", "failing"),
    [
        (lambda cases: cases[:499], {0, 1}),
        (lambda cases: (*cases, cases[0]), {1}),
        (lambda cases: cases[1:], {1}),
        (lambda cases: tuple(c for c in cases if c.level != 4), {0, 1}),
    ],
)
def test_a_suite_that_lost_something_is_not(monkeypatch, spoil, failing):
    found = _passed(_evidence(monkeypatch, spoil(load_suite().cases)))
    assert {place for place, passed in enumerate(found) if not passed} >= failing
    assert found[3:] == [True, True]


def test_a_mistake_that_nobody_makes_or_nobody_described_is_noticed(monkeypatch):
    whole = load_suite()
    more = {**whole.flags, "never-made": Flag("never-made", "sign", "x", "y")}
    assert _passed(_evidence(monkeypatch, whole.cases, more)) == [True, True, False, True, True]
    fewer = dict(list(whole.flags.items())[1:])
    assert _passed(_evidence(monkeypatch, whole.cases, fewer)) == [True, True, False, True, True]


def test_twenty_mistakes_are_enough(monkeypatch):
    for count, enough in ((19, False), (20, True)):
        flags = {f"f{i}": Flag(f"f{i}", "sign", "x", "y") for i in range(count)}
        wrong = tuple(WrongValue(name, {"speed": str(100 + place)}) for place, name in enumerate(flags))
        made = Case("a", "speed", "speed", 1, {}, "invalid", flags=wrong)
        found = _evidence(monkeypatch, (made,), flags)["every named mistake is defined and used"]
        assert (found.passed, found.detail) == (enough, f"{count} mistakes, {count} wrong values")


def test_the_summary_counts_groups_and_levels(monkeypatch):
    made = tuple(Case(f"c{i}", group, "speed", level, {}, "valid") for i, (group, level) in
                 enumerate((("b", 1), ("a", 4), ("b", 1), ("b", 3))))  # fmt: skip
    monkeypatch.setattr(evidence, "load_suite", lambda: Suite(made, {}, {}))
    assert [line.split() for line in evidence.summary().splitlines()] == [
        ["group", "1", "2", "3", "4", "all"], ["b", "2", "0", "1", "0", "3"], ["a", "0", "0", "0", "1", "1"],
    ]  # fmt: skip
    heading, first, _ = evidence.summary().splitlines()
    assert len(heading) == len(first)


def test_a_wrong_value_within_ten_tolerances_does_not_count():
    def told_apart(*texts):
        flags = tuple(WrongValue(f"f{i}", {"speed": text}) for i, text in enumerate(texts))
        return evidence._told_apart(
            Case("a", "speed", "speed", 1, {}, "valid", {"speed": "100"}, tolerance={"speed": "1e-2"}, flags=flags)
        )

    assert [told_apart("110"), told_apart("110.001"), told_apart("120", "130"), told_apart("120", "120")] == [
        False,
        True,
        True,
        False,
    ]


def test_the_second_evaluator_is_compared_to_twenty_three_digits(monkeypatch):
    made = Case("a", "speed", "speed", 1, {}, "valid", {"speed": "100", "section_resistance": ("0", "2")})
    monkeypatch.setattr(
        evidence, "load_suite", lambda: Suite((made, Case("b", "speed", "speed", 1, {}, "invalid")), {}, {})
    )

    def second(speed="100", sections=("0", "2")):
        monkeypatch.setattr(
            evidence, "evaluate", lambda name, inputs: {"speed": D(speed), "section_resistance": list(map(D, sections))}
        )
        return evidence._second()

    assert second().passed
    assert second("100.0000000000000000000009").passed
    assert not second("100.0000000000000000000011").passed
    assert not second("-100").passed
    assert not second(sections=("1e-22", "2")).passed
    assert second(sections=("1e-24", "2")).passed
    assert not second(sections=("0", "2.1")).passed
    lost = second(sections=("0",))
    assert (lost.passed, lost.detail) == (False, "a: 1 values of section_resistance")
    assert not second(sections=("0", "2", "0")).passed
    assert second("101").detail == "1 cases, worst 1.0e-2 in a"
