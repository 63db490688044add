"""Workbooks that go out: texts that stay texts, no time in them, tables with a sheet each."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, NamedStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

if TYPE_CHECKING:
    import pandas as pd

SAVED = re.compile(rb"\d{4}-\d\d-\d\dT[\d:]+Z")  # a time in a workbook
NO_TIME = b"2000-01-01T00:00:00Z"
# The name that a workbook written here gives to the cells of its chart.
AREA_NAME = "knitting_chart"
LONGEST_TITLE = 31  # of a sheet (Excel's own limit)
NARROWEST, WIDEST = 8, 60  # of a column, in characters
HEAD, WORDS = "Head", "Words"  # how a table's names and its texts look


def put_texts(sheet: Worksheet, row: int, texts: Sequence[str]) -> None:
    """Texts that stay so, even where they look like a formula, such as "=1+1"."""
    for column, text in enumerate(texts, 1):
        put_text(sheet.cell(row, column), text)


def put_text(cell: Cell, text: str) -> None:
    """A text that stays so."""
    # Control characters would make the workbook unreadable.
    cell.value = ILLEGAL_CHARACTERS_RE.sub("", text)
    cell.data_type = "s"
    cell.quotePrefix = True


def undated(book: bytes) -> bytes:
    """A workbook without the time at which it was saved."""
    without = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(book)) as old,
        zipfile.ZipFile(without, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            data = old.read(part)
            if part == "docProps/core.xml":
                data = SAVED.sub(NO_TIME, data)
            entry = zipfile.ZipInfo(part)  # of 1980, as it is not told a time
            new.writestr(entry, data, zipfile.ZIP_DEFLATED)
    return without.getvalue()


def tables_xlsx(tables: Mapping[str, pd.DataFrame]) -> bytes:
    """Tables as one workbook, a sheet for each, by its name; the same tables give the same bytes.

    Numbers are numbers and texts are texts, even where they look like a formula.
    """
    book = Workbook()
    head = NamedStyle(HEAD, alignment=Alignment(wrap_text=True, vertical="top"))
    head.font.b = True
    book.add_named_style(head)
    book.add_named_style(NamedStyle(WORDS, alignment=Alignment(wrap_text=True, vertical="top")))
    book.remove(book.active)
    for name, table in tables.items():
        sheet = book.create_sheet(name.replace("_", " ")[:LONGEST_TITLE])
        _put_table(sheet, table)
    saved = BytesIO()
    book.save(saved)
    return undated(saved.getvalue())


def _put_table(sheet: Worksheet, table: pd.DataFrame) -> None:
    """The names of the columns in a first row that stays in sight, then the rows."""
    for column, name in enumerate(table, 1):
        title = sheet.cell(1, column)
        title.style = HEAD
        put_text(title, str(name))
        longest = max(NARROWEST, len(str(name)))
        values = table[name]
        for row, (value, missing) in enumerate(zip(values.tolist(), values.isna(), strict=True), 2):
            if missing or value == "":
                continue
            cell = sheet.cell(row, column)
            longest = max(longest, len(str(value)))
            if isinstance(value, str):
                cell.style = WORDS
                put_text(cell, value)
            else:
                cell.value = value
        width = min(longest + 1, WIDEST)
        sheet.column_dimensions[get_column_letter(column)].width = width
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
