"""Sheets as people save them: every plain style reads to the same numbers, and nothing ambiguous is interpreted."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shuntref.quantities.spreadsheet import MAX_BYTES, SheetError, read_sheet, read_sheet_file

WANTED = [(119.8, 0.75, 1450.0), (120.1, 1.25, 1462.5)]

STYLES = {
    "points and commas": "U [V],I [A],n [r/min]\n119.8,0.75,1450\n120.1,1.25,1462.5\n",
    "semicolons and decimal commas": "U [V];I [A];n [r/min]\n119,8;0,75;1450\n120,1;1,25;1462,5\n",
    "tabs": "U [V]\tI [A]\tn [r/min]\n119.8\t0.75\t1450\n120.1\t1.25\t1462.5\n",
    "tabs and decimal commas": "U (V)\tI (A)\tn (r/min)\n119,8\t0,75\t1450\n120,1\t1,25\t1462,5\n",
    "quoted decimal commas": 'U in V,I in A,"n, r/min"\n"119,8","0,75",1450\n"120,1","1,25","1462,5"\n',
    "byte order mark": "\ufeffU / V;I / A;n / r/min\n119,8;0,75;1450\n120,1;1,25;1462,5\n",
    "windows line ends": "U/V;I/A;n/(r/min)\r\n119,8;0,75;1450\r\n\r\n120,1;1,25;1462,5\r\n",
    "title, remark and blank lines": "Bench 3\n\n# cold\nU [V];I [A];n [r/min]\n;;\n119,8;0,75;1450\n120,1;1,25;1462,5\n",
    "separator line": "sep=;\nU [V];I [A];n [r/min]\n119,8;0,75;1450\n120,1;1,25;1462,5\n",
    "line of units": "U;I;n\nV;A;r/min\n119,8;0,75;1450\n120,1;1,25;1462,5\n",
    "grouped thousands": "U [V];I [A];n [r/min]\n119,8;0,75;1 450\n120,1;1,25;1.462,5\n",
    "trailing delimiters": "U [V];I [A];n [r/min];\n119,8;0,75;1450;\n120,1;1,25;1462,5;\n",
}


@pytest.mark.parametrize("style", STYLES)
def test_every_plain_style_reads_to_the_same_numbers_and_units(style):
    sheet = read_sheet(STYLES[style])
    assert [(h.name, h.unit) for h in sheet.headings] == [("U", "V"), ("I", "A"), ("n", "r/min")]
    assert [tuple(sheet.number(cell) for cell in row.cells) for row in sheet.rows] == WANTED


def test_line_numbers_survive_blank_lines_titles_and_cells_over_two_lines():
    sheet = read_sheet('Title\n\nrun,remark\n1,"two\nlines"\n\n2,plain\n')
    assert [row.line for row in sheet.rows] == [4, 7]
    assert sheet.blank_lines == (2, 6)
    assert sheet.remarks == ((1, "Title"),)


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("a;b\n1,25;1.450\n", "1.450"),  # thousands or decimals: not ours to say
        ('a,b\n1.25,"1,450"\n', "1,450"),
        ("a;b\n1,25;12.5\n3,5;2\n", "12.5"),
        ("a;b\n1,25;1.2.3\n", "1.2.3"),
        ("a,b\n1.25,12 5\n", "12 5"),
    ],
)
def test_a_number_that_can_be_read_two_ways_is_refused(text, cell):
    sheet = read_sheet(text)
    with pytest.raises(SheetError, match=r"two ways|not one number|use one of them throughout"):
        sheet.number(cell)


@pytest.mark.parametrize("cell", ["", "n/a", "1e", "--3", "nan", "inf", "12V", "0x10", "1_000"])
def test_what_is_no_number_is_refused(cell):
    with pytest.raises(SheetError, match="not a number"):
        read_sheet("a,b\n1.5,2\n").number(cell)


def test_a_mixed_sheet_says_so_and_keeps_the_majority():
    sheet = read_sheet("a;b\n1,25;2,5\n3,5;4,25\n1.25;7\n")
    assert sheet.decimal == ","
    assert "line 4" in sheet.notes[0]


def test_a_row_longer_than_the_heading_keeps_the_reason():
    sheet = read_sheet("U [V],I [A]\n119,8,0,75\n120,1\n")
    assert "decimal comma" in sheet.rows[0].problem
    assert sheet.rows[1].problem == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("\n\n", "empty"),
        ("1,2\n3,4\n", "numbers only"),
        ("a,a\n1,2\n", "same heading"),
        ("a,,c\n1,2,3\n", "no heading"),
        ("x" * (MAX_BYTES + 1), "at most"),
        (b"a,b\n\x00\x01", "binary"),
        ("a,b\n" + ",".join("1" * 300) + "\n", "at most 200"),
        ("a,b\n1," + "x" * 3000 + "\n", "longer than"),
    ],
)
def test_an_unusable_sheet_is_refused_with_its_reason(text, words):
    with pytest.raises(SheetError, match=words):
        read_sheet(text)


def test_files_are_named_in_the_message_and_encodings_read(tmp_path):
    path = tmp_path / "log.csv"
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        path.write_bytes("n [1/min];T [°C]\n1450;23,5\n".encode(encoding))
        assert read_sheet_file(path).headings[1].unit == "°C"
    path.write_text("")
    with pytest.raises(SheetError, match=r"log\.csv"):
        read_sheet_file(path)


@given(st.lists(st.lists(st.text(max_size=12), min_size=2, max_size=4), min_size=1, max_size=6))
def test_any_text_is_read_or_refused_in_one_line(table):
    text = "\n".join(";".join(cells) for cells in table)
    try:
        sheet = read_sheet(text)
    except SheetError as error:
        message = str(error)
    else:
        message = "read"
        for row in sheet.rows:
            assert len(row.cells) == len(sheet.headings)
    assert len(message.splitlines()) == 1


def test_a_quotation_mark_left_open_spoils_its_own_line_only():
    sheet = read_sheet('a,b\n1,2\n3,"open\n5,6\n')
    assert [(row.line, bool(row.problem)) for row in sheet.rows] == [(2, False), (3, True), (4, False)]
    assert "quotation mark" in sheet.rows[1].problem
