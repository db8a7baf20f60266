"""The exported sources under the real tools: no warnings, self-test passed, full marks; and spoilt ones are caught."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from shuntref.cli.conformance import export
from shuntref.conformance.answers import read_answers
from shuntref.conformance.export import writer
from shuntref.conformance.export.programs import exported_functions
from shuntref.conformance.export.writer import export_source
from shuntref.conformance.runner import run_cases
from shuntref.conformance.suite import load_suite, select
from shuntref.conformance.targets import command_target

SUITE = load_suite()
STRICT = ["gcc", "-Wall", "-Wextra", "-pedantic", "-std=c11", "-Werror"]


def needs(tool):
    return pytest.mark.skipif(shutil.which(tool) is None, reason=f"{tool} is not installed")


LANGUAGES = [
    pytest.param("c", marks=needs("gcc")),
    pytest.param("octave", marks=needs("octave-cli")),
    pytest.param("javascript", marks=needs("node")),
    "python",
]


def ready(folder, language, text, name):
    """Write the source, compile it if need be, and return the command that runs it."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    if language == "c":
        program = folder / "motor"
        subprocess.run([*STRICT, "-O2", str(path), "-o", str(program), "-lm"], check=True, timeout=120)
        return [str(program)]
    return [{"octave": "octave-cli", "javascript": "node", "python": sys.executable}[language], str(path)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_an_export_passes_its_self_test_and_scores_full_marks(tmp_path, language):
    made = export_source(language)
    assert set(made.functions) == set(exported_functions())
    command = ready(tmp_path, language, made.text, made.file_name)
    tested = subprocess.run([*command, "--self-test"], capture_output=True, text=True, timeout=60, check=False)
    assert tested.returncode == 0, tested.stdout
    assert ", 0 wrong" in tested.stdout
    score = run_cases(SUITE, SUITE.cases, command_target(" ".join(command), SUITE))
    assert [(o.case.id, o.verdict.reason) for o in score.outcomes if o.status != "passed"] == []
    assert score.total.passed == len(SUITE.cases)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    ("right", "wrong", "flag"),
    [
        ("armature_current = line_current - field_current", "armature_current = line_current + 0 * field_current",
         "line-current-for-armature-current"),
        ("- brush_drop * ", "+ brush_drop * ", "brush-drop-helps-the-current"),
    ],
)  # fmt: skip
def test_a_spoilt_export_is_caught_by_its_self_test_and_by_the_suite(tmp_path, language, right, wrong, flag):
    made = export_source(language, ["back_emf"])
    assert right in made.text, (
        f"what is to be spoilt is written otherwise in {language}: give this test its way of writing"
    )
    command = ready(tmp_path, language, made.text.replace(right, wrong), made.file_name)
    tested = subprocess.run([*command, "--self-test"], capture_output=True, text=True, timeout=60, check=False)
    score = run_cases(SUITE, select(SUITE, functions=["back_emf"]), command_target(" ".join(command), SUITE))
    assert next(iter(score.mistakes)) == flag
    if flag == "line-current-for-armature-current":
        assert tested.returncode == 1
        assert "wrong" in tested.stdout


def test_every_language_is_offered_by_the_command_and_run_here():
    run = {getattr(language, "values", (language,))[0] for language in LANGUAGES}
    assert run == set(writer.LANGUAGES), (
        "a language is missing in LANGUAGES of this test, or in that of export/writer.py"
    )
    offered = next(option for option in export.params if option.name == "language").type.choices
    assert set(offered) == {*writer.LANGUAGES, "openformula"}, "the choices of --language in cli/conformance.py differ"


@needs("gcc")
@pytest.mark.parametrize("name", exported_functions())
def test_each_function_alone_compiles_without_a_warning(tmp_path, name):
    path = tmp_path / "motor.c"
    path.write_text(export_source("c", [name]).text, encoding="utf-8")
    done = subprocess.run(
        [*STRICT, "-fsyntax-only", str(path)], capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    "line",
    ["", "not json", "{}", '{"request":"run"}', '{"request":"run","id":1,"name":"speed","inputs":{}}', '{"request":"run",',
     '{"request":"run","id":1,"name":"speed","inputs":{"supply_voltage":"x"}}', "[" * 1000],
)  # fmt: skip
def test_an_exported_program_survives_or_ends_cleanly_on_a_bad_line(tmp_path, language, line):
    made = export_source(language, ["speed"])
    command = ready(tmp_path, language, made.text, made.file_name)
    done = subprocess.run(command, input=line + "\n", capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode >= 0  # no signal: no crash
    assert '"result"' not in done.stdout


@pytest.mark.parametrize("language", ["c", "octave", "javascript", "python", "openformula"])
def test_an_export_carries_units_cautions_and_no_path(language):
    text = export_source(language, ["speed", "added_field_resistance_for_speed"]).text
    assert "Never open the field circuit of a running machine" in text
    assert "V s/rad" in text
    assert str(Path(__file__).parents[1]) not in text
    assert str(Path.home()) not in text
    assert export_source(language, ["speed"]).text == export_source(language, ["speed"]).text


def converted(folder, made):
    """Have the real spreadsheet program evaluate the sheet, and return the file of answers."""
    (folder / made.file_name).write_text(made.text, encoding="utf-8")
    subprocess.run(
        ["soffice", f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to", "csv", "--outdir",
         str(folder), str(folder / made.file_name)],
        check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    return folder / "motor.csv"


@needs("soffice")
def test_the_spreadsheet_scores_full_marks(tmp_path):
    answers = read_answers(converted(tmp_path, export_source("openformula")), SUITE)
    score = run_cases(SUITE, SUITE.cases, answers)
    assert [(o.case.id, o.verdict.reason) for o in score.outcomes if o.status != "passed"] == []
    assert score.total.middle > 14


@needs("soffice")
def test_a_spoilt_spreadsheet_is_caught(tmp_path):
    made = export_source("openformula", ["back_emf"])
    layout = made.text
    assert "of:=[.C3] - [.J3]" in layout  # line current less field current
    spoilt = layout
    for row in range(3, 3 + len(select(SUITE, functions=["back_emf"]))):
        spoilt = spoilt.replace(f'"of:=[.C{row}] - [.J{row}]"', f'"of:=[.C{row}]"')
    answers = read_answers(converted(tmp_path, type(made)(spoilt, made.file_name, made.functions, made.hint)), SUITE)
    score = run_cases(SUITE, select(SUITE, functions=["back_emf"]), answers)
    assert next(iter(score.mistakes)) == "line-current-for-armature-current"


def test_the_sheet_is_well_formed_and_spreads_lists():
    import xml.etree.ElementTree as Xml

    root = Xml.fromstring(export_source("openformula", ["starter_grading", "speed_with_table"]).text)
    spaces = {"table": "urn:oasis:names:tc:opendocument:xmlns:table:1.0"}
    names = [sheet.get(f"{{{spaces['table']}}}name") for sheet in root.iterfind(".//table:table", spaces)]
    assert names == ["answers", "about", "starter_grading", "speed_with_table", "self-test"]
