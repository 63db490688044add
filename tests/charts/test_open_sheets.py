"""OpenDocument spreadsheets and old workbooks, written by odfpy and xlwt, read as charts."""

from __future__ import annotations

import io
import tracemalloc
import zipfile

import pytest
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.style import BackgroundImage, Style, TableCellProperties, TableProperties
from odf.table import CoveredTableCell, Table, TableCell, TableColumn, TableRow
from odf.text import P

from planner.charts import open_sheets, read_sheet
from planner.errors import PlanError
from tests.helpers.workbooks import rows_of

COLOURS = {"A": "#1f3a5f", "B": "#f2e8cf", "C": "#a4243b"}
LEAF = ["..A..", ".ABA.", "ABCBA", ".ACA.", "..C.."]


class Book:
    """An OpenDocument spreadsheet that is being written."""

    def __init__(self):
        self.document = OpenDocumentSpreadsheet()
        self.styles = {}

    def sheet(self, title, *, shown=True):
        look = {}
        if not shown:
            style = Style(name=f"out-{title}", family="table")
            style.addElement(TableProperties(display="false"))
            self.document.automaticstyles.addElement(style)
            look = {"stylename": style}
        table = Table(name=title, **look)
        self.document.spreadsheet.addElement(table)
        return table

    def style(self, **properties):
        key = tuple(sorted(properties.items()))
        if key not in self.styles:
            style = Style(name=f"s{len(self.styles)}", family="table-cell")
            style.addElement(TableCellProperties(**properties))
            self.document.automaticstyles.addElement(style)
            self.styles[key] = style
        return self.styles[key]

    def data(self):
        file = io.BytesIO()
        self.document.write(file)
        return file.getvalue()


def add_row(table, cells, **look):
    row = TableRow(**look)
    for cell in cells:
        row.addElement(cell)
    table.addElement(row)


def lettered(text, **look):
    """A cell with a text in it, or a blank one."""
    cell = TableCell(**({"valuetype": "string"} | look if text else look))
    if text:
        cell.addElement(P(text=text))
    return cell


def test_letters_and_numbers_at_the_sides():
    book = Book()
    table = book.sheet("Leaf")
    for number, row in zip(range(5, 0, -1), LEAF, strict=True):
        count = TableCell(valuetype="float", value=number)
        add_row(table, [count, *map(lettered, row.replace(".", "D"))])
    read = read_sheet(book.data(), "leaf.ods")
    assert rows_of(read) == [row.replace(".", "D") for row in LEAF]
    assert read.area == "B1:F5"


def test_fills_that_repeat_are_written_once():
    """By eye: three rows of two A, one B, two A; then two rows of C, the style of their columns."""
    book = Book()
    fill = {letter: book.style(backgroundcolor=colour) for letter, colour in COLOURS.items()}
    table = book.sheet("Stripe")
    table.addElement(TableColumn(numbercolumnsrepeated=5, defaultcellstylename=fill["C"]))
    add_row(
        table,
        [
            TableCell(stylename=fill["A"], numbercolumnsrepeated=2),
            TableCell(stylename=fill["B"]),
            TableCell(stylename=fill["A"], numbercolumnsrepeated=2),
        ],
        numberrowsrepeated=3,
    )
    add_row(table, [TableCell(numbercolumnsrepeated=5)], numberrowsrepeated=2)
    read = read_sheet(book.data(), "stripe.ods", yarns=COLOURS)
    assert rows_of(read) == ["AABAA"] * 3 + ["CCCCC"] * 2
    assert read.colours == COLOURS


def test_merged_hidden_and_out_of_sight():
    """By eye: A over two columns and two rows; a hidden row and a hidden sheet are left out."""
    book = Book()
    secret = book.sheet("old", shown=False)
    add_row(secret, map(lettered, "AB" * 20))
    table = book.sheet("new")
    wide = TableCell(valuetype="string", numbercolumnsspanned=2, numberrowsspanned=2)
    wide.addElement(P(text="A"))
    add_row(table, [wide, CoveredTableCell(), lettered("B"), lettered("B")])
    add_row(table, [CoveredTableCell(numbercolumnsrepeated=2), lettered("B"), lettered("C")])
    add_row(table, map(lettered, "CCCC"), visibility="collapse")
    add_row(table, map(lettered, "BCBC"))
    read = read_sheet(book.data(), "piece.ods")
    assert read.sheet == "new"
    assert rows_of(read) == ["AABB", "AABC", "BCBC"]


def test_a_remark_pinned_to_a_cell_is_no_letter():
    from odf.office import Annotation

    book = Book()
    table = book.sheet("S")
    noted = lettered("A")
    remark = Annotation()
    remark.addElement(P(text="begin here"))
    noted.insertBefore(remark, noted.firstChild)
    add_row(table, [noted, lettered("B")])
    add_row(table, map(lettered, "BA"))
    assert rows_of(read_sheet(book.data(), "s.ods")) == ["AB", "BA"]


def test_formulas_without_a_result_and_errors_are_named():
    book = Book()
    table = book.sheet("S")
    add_row(table, [lettered("A"), lettered("#REF!", formula="of:=[.Z1]")])
    add_row(table, map(lettered, "BA"))
    with pytest.raises(PlanError, match="cell B1 holds the error #REF!"):
        read_sheet(book.data(), "s.ods")
    book = Book()
    table = book.sheet("S")
    add_row(table, [lettered("A"), TableCell(formula="of:=[.A1]")])
    add_row(table, map(lettered, "BA"))
    with pytest.raises(PlanError, match="cell B1 holds a formula without a result"):
        read_sheet(book.data(), "s.ods")


def test_a_million_rows_alike_cost_nothing():
    book = Book()
    table = book.sheet("S")
    style = book.style(backgroundcolor="#a4243b")
    add_row(table, map(lettered, "AB"))
    add_row(table, map(lettered, "BA"))
    far = TableCell(stylename=style, numbercolumnsrepeated=16_384)
    add_row(table, [far], numberrowsrepeated=1_048_574)
    data = book.data()
    tracemalloc.start()
    try:
        sheet, *_ = open_sheets.open_sheets(data, "s.ods")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert sheet.text.shape == (open_sheets.ROWS_READ, open_sheets.COLUMNS_READ)
    assert peak < 200e6


def test_damaged():
    book = Book()
    add_row(book.sheet("S"), map(lettered, "AB"))
    data = book.data()
    with pytest.raises(PlanError, match="cannot be read as a workbook"):
        read_sheet(data[:-300], "s.ods")
    broken = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(broken, "w") as new:
        for part in old.namelist():
            content = old.read(part)
            new.writestr(part, content[:-30] if part == "content.xml" else content)
    with pytest.raises(PlanError, match="cannot be read as a workbook"):
        read_sheet(broken.getvalue(), "s.ods")


def test_an_old_workbook_by_its_letters():
    book = xlwt.Workbook()
    sheet = book.add_sheet("Leaf")
    for row, letters in enumerate(LEAF):
        sheet.write(row, 0, 5 - row)
        for column, letter in enumerate(letters, start=1):
            sheet.write(row, column, letter.replace(".", "D"))
    file = io.BytesIO()
    book.save(file)
    read = read_sheet(file.getvalue(), "leaf.xls")
    assert rows_of(read) == [row.replace(".", "D") for row in LEAF]
    assert any("old .xls form" in note for note in read.notes)


def test_an_old_workbook_with_fills_alone_says_what_to_do():
    book = xlwt.Workbook()
    sheet = book.add_sheet("Leaf")
    red = xlwt.easyxf("pattern: pattern solid, fore_colour red")
    for row in range(4):
        sheet.write(row, row, "", red)
    file = io.BytesIO()
    book.save(file)
    with pytest.raises(PlanError, match=r"save it as \.xlsx"):
        read_sheet(file.getvalue(), "leaf.xls")


def test_an_old_workbook_with_fills_behind_some_letters_says_that_they_are_not_read():
    book = xlwt.Workbook()
    sheet = book.add_sheet("Leaf")
    red = xlwt.easyxf("pattern: pattern solid, fore_colour red")
    for row in range(8):
        for column in range(8):
            sheet.write(row, column, "X" if (row + column) % 3 == 0 else "", red)
    file = io.BytesIO()
    book.save(file)
    read = read_sheet(file.getvalue(), "leaf.xls")
    assert any("no fill" in note and "save it as .xlsx" in note for note in read.notes)
    assert "blanks" in {ask.setting for ask in read.asks}


def test_letters_in_filled_cells_and_hatched_corners():
    """A picture behind a cell is a hatch, for OpenDocument has none of its own; letters count."""
    book = Book()
    hatched = Style(name="hatched", family="table-cell")
    properties = TableCellProperties(backgroundcolor="#d0d0d0")
    picture = BackgroundImage(href="Pictures/lines.png", type="simple", actuate="onLoad")
    properties.addElement(picture)
    hatched.addElement(properties)
    book.document.automaticstyles.addElement(hatched)
    table = book.sheet("Leaf")
    rows = ["..ABB..", ".AABBB.", "AAABBBB", "AAAABBB", "AAABBBB", "AABBBAA"]
    for row in rows:
        cells = []
        for letter in row:
            if letter == ".":
                cells.append(TableCell(stylename=hatched))
            else:
                look = book.style(backgroundcolor=COLOURS[letter])
                cells.append(lettered(letter, stylename=look))
        add_row(table, cells)
    (sheet,) = open_sheets.open_sheets(book.data(), "leaf.ods")
    assert sheet.hatched.sum() == 6
    read = read_sheet(book.data(), "leaf.ods")
    assert rows_of(read) == rows
    (asked,) = [ask for ask in read.asks if ask.setting == "blanks"]
    assert (asked.taken, "hatched" in asked.words) == ("no stitch", True)
