"""The sheets of a workbook or of a text file as plain grids of texts, fills and ruled cells.

Nothing in them runs: formulas give the results that were saved with them. A workbook is sifted
first, so that of a sheet with a million formatted rows only the first are looked at.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from openpyxl import load_workbook
from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.utils import get_column_letter

from planner.charts.fills import Fills
from planner.charts.sifting import COLUMNS_READ, ROWS_READ, SheetNotes, sifted
from planner.errors import PlanError
from planner.folder import decoded, grid_of

# Begins old .xls files and encrypted workbooks (MS-CFB 2.2, from memory).
OLE = bytes.fromhex("d0cf11e0a1b11ae1")
ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
UTF_16 = b"\xff\xfe", b"\xfe\xff"
MARKUP = re.compile(r"\s*<(!doctype|html|table|\?xml)\b", re.IGNORECASE)
# Of all sheets together, blank cells too: four times what is read of one.
MOST_SPANNED = 4 * ROWS_READ * COLUMNS_READ
# Stands for a fill whose colour cannot be told, so that its cell counts as filled.
SOME_COLOUR = "#808080"
NONE = np.array([], int)

Grid = np.ndarray  # rows × columns of a page
Line = np.ndarray  # of its rows, or of its columns
Troubles = Mapping[tuple[int, int], str]  # by row and column of a sheet


@dataclass(frozen=True, eq=False)
class Page:
    """One sheet as grids of rows × columns, top left first.

    `text` and `fill` (#rrggbb) are "" where there is none; `ruled` cells have a border; `first`
    cells are not the later part of a merged one. `rows` and `columns` are the sheet's own, from 0;
    `hidden` those out of sight. `troubles` says what is wrong in a cell, by (row, column) of the
    sheet; `shown` is False for a sheet out of sight.
    """

    title: str
    text: Grid
    fill: Grid
    ruled: Grid
    first: Grid
    rows: Line
    columns: Line
    hidden: tuple[Line, Line] = (NONE, NONE)
    troubles: Troubles = field(default_factory=dict)
    shown: bool = True

    def cut(self, rows: Line | slice, columns: Line | slice) -> Page:
        """The page with only these rows and columns of its grids."""
        return replace(
            self,
            text=self.text[rows][:, columns],
            fill=self.fill[rows][:, columns],
            ruled=self.ruled[rows][:, columns],
            first=self.first[rows][:, columns],
            rows=self.rows[rows],
            columns=self.columns[columns],
        )

    def without_hidden(self) -> Page:
        """The page with only the rows and columns in sight."""
        hidden_rows, hidden_columns = self.hidden
        return self.cut(~np.isin(self.rows, hidden_rows), ~np.isin(self.columns, hidden_columns))

    def cell(self, row: int, column: int) -> str:
        """The name of a cell of the grids: "C4"."""
        return cell_name(int(self.rows[row]), int(self.columns[column]))


def cell_name(row: int, column: int) -> str:
    """The name of a cell of a sheet, counted from 0: "C4"."""
    return f"{get_column_letter(column + 1)}{row + 1}"


def read_pages(data: bytes, name: str) -> tuple[list[Page], list[str]]:
    """The sheets of a workbook (.xlsx, .xlsm) or the one page of a text file; and notes.

    A text file has commas, semicolons, tabs, spaces or nothing between its cells. `name` is the
    file's, for messages. Raises PlanError for what is neither, or cannot be read.
    """
    if data.startswith(OLE):
        _refuse_ole(data, name)
    if data.startswith(b"PK"):
        with warnings.catch_warnings(action="ignore"):  # openpyxl's, about what is of no use here
            return _workbook_pages(data, name), []
    if b"\0" in data[:1000] and not data.startswith(UTF_16):
        raise PlanError(
            f"{name} is neither a workbook nor text. If it is a picture, load it as a picture; "
            "else save it as .xlsx."
        )
    text = decoded(data, name)
    if MARKUP.match(text):
        raise PlanError(
            f"{name} is a web page or XML, whatever it is called. "
            "Open it in your spreadsheet and save it as .xlsx."
        )
    notes = []
    if name.lower().endswith((".xlsx", ".xlsm")):
        notes.append(f"{name} is plain text, not a workbook, and was read as text.")
    return [_text_page(text, name)], notes


def _refuse_ole(data: bytes, name: str) -> None:
    if ENCRYPTED in data:
        raise PlanError(
            f"{name} is protected by a password. "
            "Open it in your spreadsheet, take the password off, save a copy."
        )
    raise PlanError(
        f"{name} is in the old .xls form. Open it in your spreadsheet and save it as .xlsx."
    )


def _refuse_wide(name: str) -> None:
    raise PlanError(
        f"{name} has cells too far apart. Copy the chart alone, without what stands far away, "
        "into a new file."
    )


def _text_page(text: str, name: str) -> Page:
    delimiter = max(",;\t", key=text.count)
    lines = grid_of(text, name, delimiter)
    if delimiter not in text:
        lines = {line: _split(cells[0]) for line, cells in lines.items()}
    height = max(lines, default=0)
    width = max(map(len, lines.values()), default=0)
    if height * width > MOST_SPANNED:
        _refuse_wide(name)
    grid = np.full((height, width), "", dtype=object)
    for line, cells in lines.items():
        grid[line - 1, : len(cells)] = cells
    no_fill = np.full(grid.shape, "", dtype=object)
    return _new_page("", grid, no_fill, np.zeros(grid.shape, bool))


def _split(line: str) -> list[str]:
    """The cells of a line with only spaces, or nothing, between them."""
    return line.split() if " " in line else list(line)


def _new_page(
    title: str,
    text: Grid,
    fill: Grid,
    ruled: Grid,
    *,
    troubles: Troubles | None = None,
) -> Page:
    """A page from its grids, with nothing merged and nothing hidden."""
    height, width = text.shape
    return Page(
        title=title,
        text=text,
        fill=fill,
        ruled=ruled,
        first=np.ones(text.shape, bool),
        rows=np.arange(height),
        columns=np.arange(width),
        troubles=troubles or {},
    )


def _workbook_pages(data: bytes, name: str) -> list[Page]:
    try:
        pages = _sheet_pages(data, name)
    except PlanError:
        raise
    except Exception as error:  # a broken workbook shows in any of a dozen ways
        what = (str(error) or type(error).__name__).splitlines()[0][:100]
        raise PlanError(
            f"{name} cannot be read as a workbook ({what}). "
            "Save it anew as .xlsx from your spreadsheet."
        ) from None
    if not pages:
        raise PlanError(f"{name} has no sheet with cells. Save it as .xlsx from your spreadsheet.")
    return pages


def _sheet_pages(data: bytes, name: str) -> list[Page]:
    lean, notes_by_part = sifted(data, name)
    book = load_workbook(lean, read_only=True, data_only=True, keep_links=False)
    fills = Fills(book)
    # openpyxl has no public name for the part of the workbook that holds a sheet.
    sheets = [(sheet, notes_by_part[sheet._worksheet_path]) for sheet in book.worksheets]
    reaches = [_reach((notes.rows, notes.columns), notes) for _, notes in sheets]
    if sum(height * width for height, width in reaches) > MOST_SPANNED:
        _refuse_wide(name)
    pages = []
    for sheet, notes in sheets:
        page = _sheet_page(sheet, notes, fills)
        pages.append(_with_merged_and_hidden(page, notes))
    return pages


@dataclass(frozen=True)
class _Look:
    """How cells of one format look: their fill (None if of no known colour), and any border."""

    fill: str | None
    ruled: bool


def _sheet_page(sheet: Any, notes: SheetNotes, fills: Fills) -> Page:
    """The page of a sheet as openpyxl reads it."""
    shape = notes.rows, notes.columns
    text = np.full(shape, "", dtype=object)
    fill = np.full(shape, "", dtype=object)
    ruled = np.zeros(shape, bool)
    troubles = {}
    looks: dict[tuple, _Look] = {}
    sheet.reset_dimensions()  # the size that it states is none
    for cells in sheet.iter_rows():
        for cell in cells:
            if not isinstance(cell, ReadOnlyCell):
                continue  # a blank between others
            # A sheet has many cells in few formats.
            style = tuple(cell.style_array)
            if style not in looks:
                looks[style] = _look(cell, fills)
            look = looks[style]
            place = cell.row - 1, cell.column - 1
            is_bare = place in notes.bare_formulas
            text[place] = "?" if is_bare else as_text(cell.value)
            fill[place] = SOME_COLOUR if look.fill is None else look.fill
            ruled[place] = look.ruled
            trouble = _trouble(cell, look, is_bare=is_bare)
            if trouble:
                troubles[place] = trouble
    page = _trimmed(_new_page(sheet.title, text, fill, ruled, troubles=troubles))
    return replace(page, shown=sheet.sheet_state == "visible")


def _look(cell: ReadOnlyCell, fills: Fills) -> _Look:
    border = cell.border
    sides = (border.left, border.right, border.top, border.bottom)
    return _Look(fills.colour(cell.fill), any(side and side.style for side in sides))


def _trouble(cell: ReadOnlyCell, look: _Look, *, is_bare: bool) -> str:
    """What is wrong with a cell, in words; "" if nothing is."""
    if cell.data_type == "e":
        return f"holds the error {cell.value}"
    if is_bare:
        return (
            "holds a formula without a result. "
            "Save it once more in your spreadsheet, or type the letter"
        )
    if look.fill is None:
        return "has a fill of no known colour. Fill it anew with a plain colour"
    return ""


def as_text(value: object) -> str:
    """A cell's value as a person reads it: 1.0 is "1"."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip()


def _trimmed(page: Page) -> Page:
    """The page without the blank rows and columns below and to the right of what it holds."""
    held = (page.text != "") | (page.fill != "") | page.ruled
    height = 1 + max(np.flatnonzero(held.any(axis=1)), default=-1)
    width = 1 + max(np.flatnonzero(held.any(axis=0)), default=-1)
    page = page.cut(slice(0, height), slice(0, width))
    if height < ROWS_READ:
        return page
    # Format that runs on below, on empty cells, is no part of a chart.
    runs_on = (page.text == "") & (page.fill == page.fill[-1]) & (page.ruled == page.ruled[-1])
    height = 1 + max(np.flatnonzero(~runs_on.all(axis=1)), default=-1)
    return page.cut(slice(0, height), slice(None))


def _reach(shape: tuple[int, int], notes: SheetNotes) -> tuple[int, int]:
    """How far grids of this shape and the merged cells of their sheet reach together."""
    height, width = shape
    for rows, columns in notes.merged:
        height, width = max(height, rows.stop), max(width, columns.stop)
    return height, width


def _with_merged_and_hidden(page: Page, notes: SheetNotes) -> Page:
    """The page with merged cells filled, and hidden rows and columns known."""
    old_height, old_width = page.text.shape
    height, width = _reach(page.text.shape, notes)
    more = (0, height - old_height), (0, width - old_width)
    text = np.pad(page.text, more, constant_values="")
    fill = np.pad(page.fill, more, constant_values="")
    ruled = np.pad(page.ruled, more)
    first = np.ones((height, width), bool)
    for rows, columns in notes.merged:
        top_left = rows.start, columns.start
        text[rows, columns] = text[top_left]
        fill[rows, columns] = fill[top_left]
        first[rows, columns] = False
        first[top_left] = True
    return replace(
        page,
        text=text,
        fill=fill,
        ruled=ruled,
        first=first,
        rows=np.arange(height),
        columns=np.arange(width),
        hidden=(_sorted(notes.hidden_rows), _sorted(notes.hidden_columns)),
    )


def _sorted(numbers: set[int]) -> Line:
    return np.array(sorted(numbers), int)
