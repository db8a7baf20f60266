"""Reports and tables: one page that fetches nothing, units on every axis, every line of the log accounted for."""

import builtins
import csv
import io
import json
import re
from html.parser import HTMLParser

import pytest
from click.testing import CliRunner

from shuntref.bench import report_drawings, report_plan
from shuntref.bench.demo import demo, demo_bench, demo_log
from shuntref.bench.evidence_plan import checks
from shuntref.bench.plan import make_plan
from shuntref.bench.plots import drawing
from shuntref.bench.reduction import reduce_log
from shuntref.bench.reduction_text import reduction_text
from shuntref.bench.report import derivation_steps, reduction_page
from shuntref.bench.report_plan import plan_page
from shuntref.bench.report_tables import reduction_data, table_texts, write_tables
from shuntref.cautions import CAUTIONS
from shuntref.cli.bench import reduce as reduce_command

BENCH, LOG = demo_bench(), demo_log()
DONE = reduce_log(BENCH, LOG, trials=200, seed=2)


class Outline(HTMLParser):
    """Tags opened and closed, identifiers, and every address that a browser would fetch."""

    VOID = frozenset({"meta", "link", "br", "img", "path", "use", "rect"})

    def __init__(self):
        super().__init__()
        self.open, self.faults, self.ids, self.fetched, self.scripts = [], [], [], [], 0

    def handle_starttag(self, tag, attrs):
        for name, value in attrs:
            if name == "id":
                self.ids.append(value)
            if name in ("src", "href", "xlink:href") and not value.startswith(("#", "data:")):
                self.fetched.append(value)
            if name == "style" and "url(" in value and "url(#" not in value:
                self.fetched.append(value)
        self.scripts += tag == "script"
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag in self.VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)


def outline(text):
    found = Outline()
    found.feed(text)
    return found


PLAN = make_plan(BENCH)
PAGES = {"reduce": reduction_page(DONE), "plan": plan_page(PLAN)}


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole_fetches_nothing_and_runs_no_script(name):
    found = outline(PAGES[name])
    assert found.faults == []
    assert found.open == []
    assert found.fetched == []
    assert found.scripts == 0
    assert len(found.ids) == len(set(found.ids))


@pytest.mark.parametrize("name", PAGES)
def test_every_reference_inside_a_drawing_has_its_target(name):
    text = PAGES[name]
    ids = set(outline(text).ids)
    used = re.findall(r'href="#([^"]+)"', text) + re.findall(r"url\(#([^)]+)\)", text)
    assert used
    assert set(used) <= ids


@pytest.mark.parametrize("name", PAGES)
def test_every_page_says_invented_and_carries_every_caution(name):
    text = PAGES[name].replace("&#x27;", "'")
    assert "INVENTED" in text
    for caution in CAUTIONS:
        assert caution in text


def test_every_axis_names_its_unit_and_every_family_is_told_apart_without_colour(monkeypatch):
    figures = []

    def keep(figure, name, description):
        figures.append(figure)
        assert description
        return "<svg></svg>"

    monkeypatch.setattr(report_drawings, "figure_svg", keep)
    monkeypatch.setattr(report_plan, "figure_svg", keep)
    reduction_page(DONE)
    plan_page(PLAN)
    assert len(figures) >= 7
    for figure in figures:
        for axes in figure.axes:
            assert "[" in axes.get_ylabel()
            runs_named = all("run" in label.get_text() for label in axes.get_xticklabels())
            assert runs_named or "[" in axes.get_xlabel()
            lines = [line for line in axes.get_lines() if len(line.get_xdata()) > 20]
            assert len({str(line.get_linestyle()) + str(line._dash_pattern) for line in lines}) == len(lines)


def test_the_report_shows_each_run_the_cause_the_machine_and_six_lines_of_derivation():
    text = PAGES["reduce"]
    for run in DONE.comparison.runs:
        assert f"{run.agreement.score:+.2f}" in text
    assert "sat in the line, ahead of both circuits" in text
    for name in ("armature resistance", "froehlich a", "field resistance"):
        assert name in text
    assert len(derivation_steps()) == 6
    assert text.count('class="formula"') == 6
    assert "omega = U/kPhi - T_e·(R_a + R_ax)/kPhi²" in text
    assert "Monte Carlo: 200 trials, seed 2" in text


def test_hostile_names_stay_text():
    from dataclasses import replace

    bad = replace(DONE, bench=replace(BENCH, name="<script>alert(1)</script>", assumptions=("a & b < c",)))
    text = reduction_page(bad)
    assert "<script>" not in text
    assert "&lt;script&gt;" in text
    assert "a &amp; b &lt; c" in text


def test_every_line_of_the_log_is_in_the_tables_once():
    rows = list(csv.DictReader(io.StringIO(table_texts(DONE)["lines.csv"])))
    from importlib.resources import files

    text = files("shuntref.references").joinpath("bench", "log.csv").read_text(encoding="utf-8")
    assert [int(row["line"]) for row in rows] == list(range(1, len(text.splitlines()) + 1))
    for row in rows:
        assert row["outcome"] in ("used", "averaged", "refused", "remark", "heading", "blank")
        if row["outcome"] == "refused":
            assert row["reason"]


def test_tables_carry_their_units_and_are_written_whole(tmp_path):
    written = write_tables(DONE, tmp_path / "new" / "folder")
    assert {path.name for path in written} == {"runs.csv", "machine.csv", "lines.csv", "correlations.csv", "causes.csv"}
    heads = (tmp_path / "new" / "folder" / "runs.csv").read_text().splitlines()[0].split(",")
    assert all("[" in head for head in heads[3:] if head != "agrees")
    assert list((tmp_path / "new" / "folder").glob(".*")) == []


def test_text_and_data_tell_the_same_as_the_page():
    words, data = reduction_text(DONE), reduction_data(DONE)
    assert DONE.summary in words
    assert data["summary"] == DONE.summary
    assert json.loads(json.dumps(data, allow_nan=False))["diagnoses"][0]["cause"] == "resistor in the line"
    assert data["runs"][0]["monte_carlo_interval_rpm"] is not None


def test_without_matplotlib_the_error_names_the_extra(monkeypatch):
    real = builtins.__import__

    def without(name, *args, **kwargs):
        if name.split(".")[0] == "matplotlib":
            raise ImportError("No module named 'matplotlib'")
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(ImportError, match=r"the extra 'report' brings: pip install 'shuntref\[report\]'"), drawing():
        pass


def test_drawing_leaves_the_settings_of_others_alone():
    import matplotlib

    before = dict(matplotlib.rcParams)
    reduction_page(DONE)
    assert dict(matplotlib.rcParams) == before


def test_the_command_reduces_reports_and_writes_tables(tmp_path):
    from importlib.resources import files

    place = files("shuntref.references").joinpath("bench")
    page, folder = tmp_path / "report.html", tmp_path / "tables"
    arguments = [
        str(place / "log.csv"),
        "--bench",
        str(place / "bench.toml"),
        "--report",
        str(page),
        "--tables",
        str(folder),
    ]
    outcome = CliRunner().invoke(reduce_command, arguments, standalone_mode=False)
    assert outcome.exception is None
    assert outcome.return_value == 0
    assert "6 of 7 runs agree" in outcome.output
    assert "line 42" in outcome.output
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert (folder / "runs.csv").exists()
    as_json = CliRunner().invoke(
        reduce_command, [*arguments[:3], "--json", "--monte-carlo", "100"], standalone_mode=False
    )
    assert json.loads(as_json.output)["monte_carlo"] == {"trials": 100, "seed": 1}


def test_the_demo_tells_the_whole_day_and_its_cautions():
    told = demo()
    assert told.count("\n  run ") == 14
    assert "INVENTED" in told
    assert "sat in the line" in told
    for caution in CAUTIONS:
        assert caution in told


def test_all_evidence_of_the_planning_side_holds():
    found = list(checks())
    assert len(found) >= 22
    assert [check.statement for check in found if not check.passed] == []
