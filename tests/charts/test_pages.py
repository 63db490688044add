"""The cells of workbooks and text files: merged, hidden, with formulas; what is no such file."""

import io
import zipfile
from datetime import datetime

import openpyxl
import pytest

from planner import PlanError
from planner.charts.pages import read_pages
from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import (
    SHEET_1,
    fills,
    lettered,
    replaced,
    rows_of,
    with_part,
    workbook,
    write_letters,
)


def test_merged_cells_are_as_many_stitches_and_rows():
    def draw(book, sheet):
        f = fills(book, {"A": "#ffffff", "B": "#112233"})
        sheet.merge_range("A1:C2", "A", f["A"])
        sheet.merge_range("D1:D2", "B", f["B"])
        sheet.merge_range("A3:B3", "B", f["B"])
        sheet.merge_range("C3:D3", "A", f["A"])

    read = read_sheet(workbook(draw), "merged.xlsx")
    assert rows_of(read) == ["AAAB", "AAAB", "BBAA"]
    assert "Merged cells count as the stitches they span." in read.notes
    assert read.colours == {"A": "#ffffff", "B": "#112233"}


def test_hidden_rows_and_columns():
    rows = ["ABAB", "BBBB", "AABB", "ABBB"]

    def draw(book, sheet):
        write_letters(sheet, rows, left=1)
        for i in range(4):
            sheet.write(i, 0, 4 - i)
        sheet.set_row(1, None, None, {"hidden": True})
        sheet.set_column("D:D", None, None, {"hidden": True})

    read = read_sheet(workbook(draw), "hidden.xlsx")
    assert rows_of(read) == ["ABB", "AAB", "ABB"]
    assert "1 hidden row and 1 hidden column were left out." in read.notes
    kept = read_sheet(workbook(draw), "hidden.xlsx", hidden="kept")
    assert rows_of(kept) == rows
    assert "1 hidden row and 1 hidden column were kept." in kept.notes


def test_formulas_give_their_results_and_nothing_runs():
    def draw(book, sheet):
        sheet.write_formula("A1", '=IF(1=1,"A","B")', None, "A")
        sheet.write("B1", "B")
        sheet.write("A2", "B")
        sheet.write_formula("B2", '=HYPERLINK("http://example.com","A")', None, "A")
        sheet.write("D1", "<script>alert(1)</script>")
        sheet.write_string("D2", '=cmd|" /C calc"!A0')

    assert rows_of(read_sheet(workbook(draw), "formulas.xlsx")) == ["AB", "BA"]


def bare_formulas():
    """A last column of formulas whose results were never saved: without them it would be blank."""
    book = openpyxl.Workbook()
    for row in ("A", "B", '=IF(TRUE,"A","B")'), ("B", "A", '="A"'):
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def bomb():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/styles.xml", bytes(2**26 + 1))
    return file.getvalue()


def blank_formulas():
    """Results saved as a space."""
    return workbook(lambda book, sheet: sheet.write_formula("C1", '=" "', None, " "))


OLE = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(504)
LOCKED = OLE + "EncryptedPackage".encode("utf-16-le")
OLD_XLS = OLE + "Workbook".encode("utf-16-le")
CHART = lettered(["AB", "BA"])
# By hand: a cell that says it stands in a row far below.
ASTRAY = replaced(CHART, SHEET_1, b'r="A2"', b'r="A1048576"')
FAR_APART = b"A\n" * 20_000 + b"," * 1000 + b"A\n"


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (LOCKED, "m.xlsx", ["m.xlsx", "password"]),
        (OLD_XLS, "m.xls", ["m.xls", "cannot be read as a workbook", "as .xlsx"]),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "m.xlsx", ["picture"]),
        (b"<html><table><tr><td>A</td></tr></table></html>", "m.xls", ["web page"]),
        (b"PK\3\4 and no more", "m.xlsx", ["cannot be read as a workbook"]),
        (CHART[:-200], "m.xlsx", ["cannot be read as a workbook"]),
        (ASTRAY, "m.xlsx", ["cannot be read as a workbook", "A1048576", "row 2"]),
        (bomb(), "m.xlsx", ["unpacks to more"]),
        (bare_formulas(), "m.xlsx", ["cell C1", "formula without a result"]),
        (blank_formulas(), "m.xlsx", ["cell C1", "formula without a result"]),
        ("A,B\nA,é\n".encode("latin-1"), "m.csv", ["m.csv line 2", "UTF-8"]),
        (b'A,"B\nA,B\n', "m.csv", ["quotation mark"]),
        (FAR_APART, "m.csv", ["m.csv", "too far apart"]),
    ],
)
def test_refused_in_words(data, name, words):
    with pytest.raises(PlanError) as caught:
        read_sheet(data, name)
    assert [word for word in words if word not in str(caught.value)] == [], str(caught.value)


def test_errors_in_cells_are_named():
    error = b'<c r="B1" t="e"><f>1/0</f><v>#DIV/0!</v></c>'
    data = replaced(CHART, SHEET_1, b'<c r="B1" t="s"><v>1</v></c>', error)
    with pytest.raises(PlanError, match="cell B1 holds the error #DIV/0!"):
        read_sheet(data, "m.xlsx")


def test_text_named_as_a_workbook_is_read_as_text():
    read = read_sheet(b"A,B\nB,A\n", "chart.xlsx")
    assert rows_of(read) == ["AB", "BA"]
    assert "chart.xlsx is plain text, not a workbook, and was read as text." in read.notes


def test_texts_of_every_kind_are_read_as_a_person_reads_them():
    """Signs that XML has to escape, spaces, lines, rich text, numbers, dates, yes and no."""

    def draw(book, sheet):
        bold = book.add_format({"bold": True})
        date = book.add_format({"num_format": "yyyy-mm-dd"})
        sheet.write_row("A1", ['a & "b" <c>', "  two  spaces ", "one\nline", "tab\there"])
        sheet.write_rich_string("A2", "ri", bold, "ch")
        sheet.write_row("B2", [3.0, 1.5, True])
        sheet.write_datetime("A3", datetime(2024, 1, 31), date)

    pages, notes = read_pages(workbook(draw, ['"A" & <B>']), "texts.xlsx")
    assert pages[0].title == '"A" & <B>'
    assert pages[0].text.tolist() == [
        ['a & "b" <c>', "two  spaces", "one\nline", "tab\there"],
        ["rich", "3", "1.5", "True"],
        ["2024-01-31 00:00:00", "", "", ""],
    ]
    assert notes == []


@pytest.mark.parametrize(
    "size", ["", '<dimension ref="C7:D9"/>', '<dimension ref="A1:XFD1048576"/>']
)
def test_the_size_that_a_sheet_states_is_not_believed(size):
    data = replaced(CHART, SHEET_1, b'<dimension ref="A1:B2"/>', size.encode())
    assert rows_of(read_sheet(data, "m.xlsx")) == ["AB", "BA"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_sheet_by_another_hand(encoding):
    """Tags with a prefix, cells that say no place, single quotes, texts in the cells themselves."""
    cell = "<x:c t='inlineStr'><x:is><x:t>{}</x:t></x:is></x:c>"
    rows = ""
    for letters in ("AB", "BA"):
        cells = "".join(cell.format(letter) for letter in letters)
        rows += f"<x:row>{cells}</x:row>"
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    xml = (
        f"<?xml version='1.0' encoding='{encoding}'?><x:worksheet xmlns:x='{main}'>"
        f"<x:sheetData>{rows}</x:sheetData></x:worksheet>"
    )
    data = with_part(CHART, SHEET_1, lambda _: xml.encode(encoding))
    assert rows_of(read_sheet(data, "m.xlsx")) == ["AB", "BA"]


def test_two_sheets_of_which_each_reaches_far_are_read_and_five_are_not():
    """A chart and a note in the last cell that is read: the blanks between them are room, too."""

    def draw(book, *sheets):
        for sheet in sheets:
            write_letters(sheet, ["AB", "BA"])
            sheet.write(2998, 1249, "far away")

    pages, _ = read_pages(workbook(draw, ("1", "2")), "m.xlsx")
    assert [page.text.shape for page in pages] == [(2999, 1250)] * 2
    with pytest.raises(PlanError, match="too far apart"):
        read_pages(workbook(draw, ("1", "2", "3", "4", "5")), "m.xlsx")


def test_a_chart_may_end_in_rows_of_one_colour():
    """Only a format that runs on to the end of what is read is no part of a chart."""

    def draw(book, sheet):
        red_and_blue = fills(book, {"R": "#ff0000", "B": "#0000ff"})
        for row, letter in enumerate("RBRRR"):
            sheet.write_blank(row, 0, None, red_and_blue[letter])

    pages, _ = read_pages(workbook(draw), "stripes.xlsx")
    assert pages[0].fill.ravel().tolist() == ["#ff0000", "#0000ff", *["#ff0000"] * 3]
