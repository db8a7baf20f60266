"""Cases out as a sheet, answers in: as spreadsheets of several countries write them, matched by id, refused when unclear."""

import csv
import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.conformance.answers import cases_sheet, read_answers
from shuntref.conformance.mapping import Setting, bind
from shuntref.conformance.runner import run_cases
from shuntref.conformance.suite import load_suite, select

SUITE = load_suite()
SPEED = select(SUITE, functions=["ideal_no_load_speed"])


def solved(rows, *, heading="answer ideal_no_load_speed [rad/s]", unit=1.0, digits=None):
    """Fill the answers in, as a spreadsheet would with one formula drawn down the column."""
    for row in rows:
        volts, ohms, constant = (float(row[f"{name}"]) for name in
                                 ("supply_voltage [V]", "field_resistance [ohm]", "flux_constant [V s/(rad A)]"))  # fmt: skip
        added = float(row["added_field_resistance [ohm]"] or 0)
        if min(volts, ohms, constant) <= 0 or added < 0:
            row[heading] = "#NUM!"
        else:
            row[heading] = (
                repr((ohms + added) / constant * unit)
                if digits is None
                else f"{(ohms + added) / constant * unit:.{digits}g}"
            )
    return rows


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def sheet(rows, delimiter=","):
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), delimiter=delimiter)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def judged(tmp_path, content, setting=None, **options):
    path = tmp_path / "answers.csv"
    path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    return run_cases(SUITE, SPEED, read_answers(path, SUITE, setting, **options))


def test_a_sheet_filled_in_comes_back_with_full_marks(tmp_path):
    score = judged(tmp_path, sheet(solved(rows_of(cases_sheet(SUITE, SPEED)))))
    assert score.total.passed == score.total.asked == len(SPEED)


def test_the_sheet_holds_no_answer():
    text = cases_sheet(SUITE, SUITE.cases)
    for row in rows_of(text):
        assert not any(value for name, value in row.items() if name.startswith("answer"))
    assert text.encode() == text.encode("ascii")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_commas_semicolons_and_tabs(tmp_path, encoding, delimiter):
    text = sheet(solved(rows_of(cases_sheet(SUITE, SPEED))), delimiter)
    lines = text.replace(".", ",").replace("V s/(rad A)", "V s/(rad A)").splitlines()
    score = judged(tmp_path, "\r\n".join(lines).encode(encoding))
    assert score.total.passed == score.total.asked


def test_the_sheet_with_decimal_commas_is_read_back():
    text = cases_sheet(SUITE, SPEED, decimal_comma=True)
    assert text.startswith("\ufeffid;function;")
    plain = rows_of(cases_sheet(SUITE, SPEED))
    local = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff")), delimiter=";"))
    for a, b in zip(plain, local, strict=True):
        assert {k: v.replace(",", ".") for k, v in b.items()} == a


def test_names_and_units_of_the_mapping(tmp_path):
    entry = SUITE.functions["ideal_no_load_speed"]
    written = {"arguments": {"V": "supply_voltage in mV", "Rf": "field_resistance", "c": "flux_constant",
                             "Rx": "added_field_resistance"}, "result": {"n0": "ideal_no_load_speed in r/min"}}  # fmt: skip
    setting = Setting({entry.name: bind(entry, written)})
    rows = rows_of(cases_sheet(SUITE, SPEED, setting))
    assert "V [mV]" in rows[0]
    assert "answer n0 [r/min]" in rows[0]
    answers = [{"id": row["id"], "n0": "NaN"} for row in rows]
    for answer, row in zip(answers, rows, strict=True):
        numbers = [float(row[k] or 0) for k in ("V [mV]", "Rf [ohm]", "c [V s/(rad A)]", "Rx [ohm]")]
        if min(numbers[:3]) > 0 and numbers[3] >= 0:
            answer["n0"] = repr((numbers[1] + numbers[3]) / numbers[2] * 9.549296585513721)
    score = judged(tmp_path, sheet(answers), setting)
    assert score.total.passed == score.total.asked


def test_rounded_answers_pass_only_as_printed_and_with_enough_digits(tmp_path):
    text = sheet(solved(rows_of(cases_sheet(SUITE, SPEED)), digits=5))
    assert judged(tmp_path, text).total.failed > 0
    printed = judged(tmp_path, text, as_printed=True)
    assert printed.total.passed == printed.total.asked
    text = sheet(solved(rows_of(cases_sheet(SUITE, SPEED)), digits=2))
    assert judged(tmp_path, text, as_printed=True).total.failed > 0


def test_a_rounded_wrong_answer_is_still_explained(tmp_path):
    text = sheet(solved(rows_of(cases_sheet(SUITE, SPEED)), unit=9.549296585513721, digits=6))
    score = judged(tmp_path, text, as_printed=True)
    assert list(score.mistakes) == ["revolutions-per-minute-taken-for-radians"]


def test_blank_answers_are_not_implemented_and_garbage_fails(tmp_path):
    rows = solved(rows_of(cases_sheet(SUITE, SPEED)))
    heading = "answer ideal_no_load_speed [rad/s]"
    rows[0][heading], rows[1][heading] = "", "about 150"
    score = judged(tmp_path, sheet(rows))
    assert [o.status for o in score.outcomes[:3]] == ["not implemented", "failed", "passed"]
    assert "is not a number" in score.outcomes[1].verdict.reason


def test_several_answers_and_lists_come_back(tmp_path):
    cases = select(SUITE, functions=["starter_grading"], levels=[1])
    rows = rows_of(cases_sheet(SUITE, cases))
    assert {"answer section_resistance 1 [ohm]", "answer section_resistance 2 [ohm]"} <= set(rows[0])
    for row, case in zip(rows, cases, strict=True):
        row["answer current_ratio [1]"] = case.expected["current_ratio"]
        row["answer lower_current [A]"] = case.expected["lower_current"]
        for i, value in enumerate(case.expected["section_resistance"], 1):
            row[f"answer section_resistance {i} [ohm]"] = value
    path = tmp_path / "answers.csv"
    path.write_text(sheet(rows), encoding="utf-8")
    score = run_cases(SUITE, cases, read_answers(path, SUITE))
    assert score.total.passed == score.total.asked == len(cases)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("id,remark\na,b\n", "no column of answers"),
        ("name,answer speed\na,1\n", "no column 'id'"),
        ("id,answer spped\na,1\n", "answers nothing that is asked"),
        ("id,answer speed\nspeed-tiny-full-load,1\nspeed-tiny-full-load,2\n", "answered twice"),
    ],
)
def test_a_sheet_that_is_not_understood_is_refused(tmp_path, text, words):
    path = tmp_path / "answers.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=words) as caught:
        read_answers(path, SUITE)
    assert "answers.csv" in str(caught.value)


def test_ids_that_are_no_case_are_reported(tmp_path):
    path = tmp_path / "answers.csv"
    path.write_text("id,answer speed\nspeed-tiny-full-load,1\nmy-own,2\n", encoding="utf-8")
    assert any("my-own" in remark for remark in read_answers(path, SUITE).remarks)


def refusal_or_score(content):
    """What reading and judging a sheet of these bytes leads to: words of refusal, or a score."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "answers.csv"
        path.write_bytes(content)
        try:
            return run_cases(SUITE, SPEED[:1], read_answers(path, SUITE, as_printed=True))
        except ValueError as error:
            return str(error)


SIGNS = 'id,answer speed;\n\t"0123456789.-#N/A[rad]é\x00'


@given(st.text(alphabet=SIGNS, max_size=200).map(str.encode) | st.binary(max_size=99))
def test_no_sheet_of_any_characters_ends_in_anything_but_words(content):
    result = refusal_or_score(content)
    assert not isinstance(result, str) or "answers.csv" in result


@given(st.text(alphabet="0123456789.,-+eE %#N/Ainf'\u00a0", min_size=1, max_size=12))
def test_no_cell_ends_in_anything_but_a_verdict(cell):
    result = refusal_or_score(f'id;answer ideal_no_load_speed;remark\n{SPEED[0].id};"{cell}";x\n'.encode())
    if isinstance(result, str):
        assert "answers.csv" in result
    else:
        assert result.outcomes[0].status in ("passed", "failed", "not implemented")
