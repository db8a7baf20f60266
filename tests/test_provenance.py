"""No check value without a source, the source's kind and a mark that says whether it was seen; shown by breaking a copy."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest

import shuntref.cli.selfcheck as face
from shuntref.evidence import Check
from shuntref.provenance import COMMON, MARKS, check_faults, check_values, faults, mark, sources
from shuntref.selfcheck import run

REFERENCES = Path(str(files("shuntref.references")))
#: headings under which a check may come without a source, for what it finds is proved, or computed a second way, here
PROVED_HERE = frozenset(
    {
        "units", "dimensions of the laws", "derivations, step by step", "dimensions of the results", "closed forms put back",
        "sensitivities", "theorems proved", "theorems without their condition", "examples of theorems",
        "counterexamples to theorems", "formulas tied to the laws", "formulas", "model", "certified cases", "coverage",
        "bench: start, resistors, plan, causes",
    }
)  # fmt: skip


@pytest.fixture(scope="module")
def evidence() -> list[Check]:
    """Every check that every room yields; the same call as the self-check's."""
    return [outcome.check for outcome in run()]


def test_every_check_value_has_a_source_its_kind_and_a_mark(evidence: list[Check]) -> None:
    cited = frozenset(key for check in evidence for key in check.source_ids)
    assert faults(cited=cited) == ()
    values = check_values()
    assert {mark(value.seen) for value in values} == set(MARKS)
    print(f"figure: check values audited: {len(values)} with {sum(value.figures for value in values)} figures")


def test_every_check_of_the_rooms_resolves_to_a_source_or_is_proved_here(evidence: list[Check]) -> None:
    known = sources()
    assert [fault for check in evidence for fault in check_faults(check, known)] == []
    strange = {check.group for check in evidence if not check.source and not check.source_ids} - PROVED_HERE
    assert strange == set(), "a check under these headings names no source"
    assert sum(bool(check.source_ids) for check in evidence) > 300
    print(
        f"figure: checks of the rooms audited: {len(evidence)}, with a source {sum(map(bool, (c.source for c in evidence)))}"
    )


BREAKS = [
    ("errata/student-page-pump.toml", 'id = "coursehero"', 'id = "nobody"', "the source 'nobody' is not in sources.toml"),
    ("errata/student-page-pump.toml", 'id = "coursehero"\n', "", "answer starting-resistance: no source"),
    ("errata/student-page-pump.toml", 'answer = "seen"', "", "answer starting-resistance: not said whether it was seen"),
    ("exercises/wildi-5-4-shunt-motor.toml", 'answer = "from memory"', 'answer = "known"', "not said whether"),
    ("practice/rope-brake.toml", "invented = true\n", '[answer.more]\nof = "speed"\nvalue = "1 r/min"\n', "more: no source"),
    ("standards/insulation.toml", 'source_id = "iec-60085"\n', "", "the source 'IEC 60085 (2007)' is not in sources.toml"),
    ("standards/insulation.toml", 'source = "IEC 60085 (2007)"\nsource_id = "iec-60085"\n', "", "[thermal-classes]: no source"),
    ("standards/typical.toml", 'seen = "from memory"', 'seen = ""', "[armature-drop]: not said whether it was seen"),
    ("standards/strd.toml", 'seen = "seen: a public copy of the NIST data file"\n', "", "[misra1a]: not said whether"),
    ("standards/units.toml", 'seen = "secondary"', 'seen = "right"', "[horsepower-electric]: not said whether"),
    ("bench/starter_examples.toml", 'source_id = "chapman-4"\n', "", "[chapman-9-7]: the source"),
    ("bench/no_load_examples.toml", 'seen = "from memory"\n', "", "[chapman-9-8]: not said whether"),
    ("bench/bench.toml", "invented = true\n", "", "bench/bench.toml: no source"),
    ("bench/log.csv", "# INVENTED log", "# Log", "bench/log.csv: no source"),
    ("machines/measured.toml", "invented = true\n", "", "machines/measured.toml: no source"),
    ("sources.toml", 'kind = "textbook"\n', "", "sources.toml: [chapman-4] has no kind"),
    ("sources.toml", 'seen = "no"\n', "", "sources.toml: [chapman-4] has no seen"),
    ("sources.toml", 'seen = "no"\n', 'seen = "perhaps"\n', "seen = 'perhaps'"),
    ("sources.toml", "[iso-3]", "[iso-33]", "[iso-33] is used by nothing"),
]  # fmt: skip
CITED = frozenset({"chapman-5", "macmahon-1892"})  # by checks alone


@pytest.mark.parametrize(("name", "old", "new", "words"), BREAKS, ids=[f"{b[0]}-{n}" for n, b in enumerate(BREAKS)])
def test_a_broken_copy_is_found_out(name: str, old: str, new: str, words: str, tmp_path: Path) -> None:
    copy = tmp_path / "references"
    shutil.copytree(REFERENCES, copy, ignore=shutil.ignore_patterns("__pycache__", "cases"))
    assert faults(copy, CITED) == ()
    text = (copy / name).read_text(encoding="utf-8")
    assert old in text
    (copy / name).write_text(text.replace(old, new, 1), encoding="utf-8")
    found = faults(copy, CITED)
    assert any(words in fault for fault in found), found


def test_a_data_file_of_an_unknown_kind_is_found_out(tmp_path: Path) -> None:
    (tmp_path / "sources.toml").write_text("", encoding="utf-8")
    (tmp_path / "more").mkdir()
    (tmp_path / "more" / "figures.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    assert "more/figures.csv: no source" in faults(tmp_path)


def test_a_check_with_a_wrong_or_half_source_is_found_out() -> None:
    known = sources()
    good = Check("g", "s", True, "", "J. Bird", ("bird",), "from memory")
    assert check_faults(good, known) == ()
    assert check_faults(Check("g", "s", True, "", COMMON, (COMMON,), "from memory"), known) == ()
    for bad, words in (
        (Check("g", "s", True, "", "J. Bird"), "no source"),
        (Check("g", "s", True, "", "J. Bird", ("nobody",), "seen"), "not in sources.toml"),
        (Check("g", "s", True, "", "J. Bird", ("bird",)), "not said whether it was seen"),
        (Check("g", "s", True, "", COMMON, (COMMON,)), "not said whether it was seen"),
    ):
        assert any(words in fault for fault in check_faults(bad, known))


def test_the_self_check_lists_all_check_values_by_source(
    command_line: Callable[..., tuple[int, str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(face, "PROVIDERS", ("shuntref.quantities.evidence",))
    status, out, _ = command_line("selfcheck", "--sources")
    assert status == 0
    lines = out.splitlines()
    for key, entry in sources().items():
        heading = next(line for line in lines if line.startswith(f"{key}: "))
        assert heading.endswith(f"({entry['kind']}; seen: {entry['seen']})")
    values = check_values()
    for value in values:
        if not value.place.startswith("cases/"):
            assert f"  value  {value.place}: " in out
    assert f"{len(values)} check values of {sum(value.figures for value in values)} figures" in out
