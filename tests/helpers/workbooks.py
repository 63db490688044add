"""Workbooks made for the tests by XlsxWriter, and changed by hand where it would not write them."""

import io
import zipfile

import xlsxwriter

SHEET_1 = "xl/worksheets/sheet1.xml"
HEART = ["..xx.xx..", ".xxxxxxx.", ".xxxxxxx.", "..xxxxx..", "...xxx...", "....x...."]


def workbook(draw, sheets=("Motif",)) -> bytes:
    """A workbook by XlsxWriter; `draw(book, *sheets)` fills it."""
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {"in_memory": True})
    draw(book, *(book.add_worksheet(name) for name in sheets))
    book.close()
    return file.getvalue()


def lettered(rows) -> bytes:
    """A workbook with one letter a cell and nothing else."""
    return workbook(lambda book, sheet: write_letters(sheet, rows))


def write_letters(sheet, rows, *, top=0, left=0, formats=None):
    """Letters (and fills, where a letter has a format) from a cell on; a blank stays one."""
    for i, row in enumerate(rows):
        for j, cell in enumerate(row):
            if cell != " ":
                sheet.write(top + i, left + j, cell, (formats or {}).get(cell))


def fills(book, colours):
    """A format for each letter, by its colour."""
    return {letter: book.add_format({"bg_color": colour}) for letter, colour in colours.items()}


def with_part(data: bytes, part: str, change) -> bytes:
    """The workbook with one part changed, or added where it has none."""
    file = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, change(old.read(name)) if name == part else old.read(name))
        if part not in old.namelist():
            new.writestr(part, change(b""))
    return file.getvalue()


def replaced(data: bytes, part: str, old: bytes, new: bytes) -> bytes:
    """The workbook with some bytes of one part replaced; they must be there."""

    def change(xml):
        assert old in xml
        return xml.replace(old, new, 1)

    return with_part(data, part, change)


def rows_of(read):
    """The rows of a chart that was read, top row first, a word each."""
    return ["".join(row) for row in read.chart.to_rows()]


def asked(read):
    """What was asked and what was taken."""
    return {question.setting: question.taken for question in read.asks}
