"""The sheets of a workbook or of a text file as plain grids of texts, fills and ruled cells.

Nothing in them runs: formulas give the results that were saved with them. A workbook is sifted
first, so that of a sheet with a million formatted rows only the first are looked at.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from io import BytesIO
from typing import Any, NoReturn

import numpy as np
import python_calamine
from openpyxl import Workbook, load_workbook
from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.utils import get_column_letter
from python_calamine import SheetVisibleEnum

from planner.charts.books import AREA_NAME
from planner.charts.fills import Fills
from planner.charts.open_sheets import ERROR, NO_RESULT, is_open_spreadsheet, open_sheets
from planner.charts.sifting import SheetNotes, sifted
from planner.errors import PlanError
from planner.folder import decoded, grid_of
from planner.guards import (
    COLUMNS_READ,
    MOST_BYTES,
    MOST_SPANNED,
    MOST_UNPACKED,
    ROWS_READ,
    check_amount,
    check_chart,
)

# Begins old .xls files and encrypted workbooks (MS-CFB 2.2, from memory).
OLE = bytes.fromhex("d0cf11e0a1b11ae1")
ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
UTF_16 = b"\xff\xfe", b"\xfe\xff"
MARKUP = re.compile(r"\s*<(!doctype|html|table|\?xml)\b", re.IGNORECASE)
# Stands for a fill whose colour cannot be told, so that its cell counts as filled.
SOME_COLOUR = "#808080"
HOLDS_ERROR = "holds the error {}"
ERROR_SIGNS = ("#", "Err:")
BARE_FORMULA = (
    "holds a formula without a result. Save it once more in your spreadsheet, or type the letter"
)
CELLS = re.compile(r"[A-Z]{1,3}\d{1,7}:[A-Z]{1,3}\d{1,7}")
NO_FILLS = (
    "{} is in the old .xls form, of which only what stands in the cells is read, no fill and no "
    "border. If its yarns are told by fills, save it as .xlsx from your spreadsheet."
)
MOST_QUOTED = 100  # letters of an error from a library
NONE = np.array([], int)

Grid = np.ndarray  # rows × columns of a page
Line = np.ndarray  # of its rows, or of its columns
Troubles = Mapping[tuple[int, int], str]  # by row and column of a sheet


@dataclass(frozen=True, eq=False)
class Page:
    """One sheet as grids of rows × columns, top left first.

    `text`, `fill` and `ink` (#rrggbb, of the letters) are "" where there is none or the usual one;
    `ruled` cells have a border, `hatched` ones lines or dots, `painted` ones a formula that paints
    them; `first` cells are not the later part of a merged one. `rows` and `columns` are the
    sheet's own, from 0; `hidden` those out of sight. `troubles` says what is wrong in a cell, by
    (row, column) of the sheet; `shown` is False for a sheet out of sight; `own` are the cells in
    which the workbook itself says its chart is ("B1:F5"), "" if it does not. Other rules paint
    cells where it `has_rules`; a page `is_chosen` where somebody marked just these cells to copy
    them.
    """

    title: str
    text: Grid
    fill: Grid
    ruled: Grid
    first: Grid
    ink: Grid
    hatched: Grid
    painted: Grid
    rows: Line
    columns: Line
    hidden: tuple[Line, Line] = (NONE, NONE)
    troubles: Troubles = field(default_factory=dict)
    shown: bool = True
    own: str = ""
    has_rules: bool = False
    is_chosen: bool = False

    def cut(self, rows: Line | slice, columns: Line | slice) -> Page:
        """The page with only these rows and columns of its grids."""

        def part(grid: Grid) -> Grid:
            return grid[rows][:, columns]

        return replace(
            self,
            text=part(self.text),
            fill=part(self.fill),
            ruled=part(self.ruled),
            first=part(self.first),
            ink=part(self.ink),
            hatched=part(self.hatched),
            painted=part(self.painted),
            rows=self.rows[rows],
            columns=self.columns[columns],
        )

    def without_hidden(self) -> Page:
        """The page with only the rows and columns in sight."""
        hidden_rows, hidden_columns = self.hidden
        rows = ~np.isin(self.rows, hidden_rows)
        columns = ~np.isin(self.columns, hidden_columns)
        return self.cut(rows, columns)

    def cell(self, row: int, column: int) -> str:
        """The name of a cell of the grids: "C4"."""
        on_sheet = self.rows[row], self.columns[column]
        return cell_name(*map(int, on_sheet))


def cell_name(row: int, column: int) -> str:
    """The name of a cell of a sheet, counted from 0: "C4"."""
    return f"{get_column_letter(column + 1)}{row + 1}"


def read_pages(data: bytes, name: str) -> tuple[list[Page], list[str]]:
    """The sheets of a workbook (.xlsx, .xlsm, .ods, .xls) or a text file's one page; and notes.

    A text file has commas, semicolons, tabs, spaces or nothing between its cells. `name` is the
    file's, for messages. Raises PlanError for what is neither, or cannot be read.
    """
    # What a file is shows in its first bytes, whatever its name says.
    if data.startswith(OLE):
        return _old_pages(data, name), [NO_FILLS.format(name)]
    if data.startswith(b"PK"):
        with warnings.catch_warnings(action="ignore"):  # openpyxl's, about what is of no use here
            return _workbook_pages(data, name), []
    has_zeros = b"\0" in data[:1000]
    if has_zeros and not data.startswith(UTF_16):
        raise PlanError(
            f"{name} is neither a workbook nor text. If it is a picture, load it as a picture; "
            "else save it as .xlsx."
        )
    check_amount(len(data), name, most=MOST_BYTES)
    text = decoded(data, name)
    if MARKUP.match(text):
        raise PlanError(
            f"{name} is a web page or XML, whatever it is called. "
            "Open it in your spreadsheet and save it as .xlsx."
        )
    notes = []
    if name.lower().endswith((".xlsx", ".xlsm")):
        notes.append(f"{name} is plain text, not a workbook, and was read as text.")
    return [text_page(text, name)], notes


def _old_pages(data: bytes, name: str) -> list[Page]:
    """The sheets of an old workbook (.xls): what stands in their cells."""
    if ENCRYPTED in data:
        _refuse_locked(name)
    check_amount(len(data), name, most=MOST_UNPACKED)
    try:
        book = python_calamine.load_workbook(BytesIO(data))
        sheets = [book.get_sheet_by_name(title) for title in book.sheet_names]
        sizes = [(sheet.total_height, sheet.total_width) for sheet in sheets]
        if sum(height * width for height, width in sizes) > MOST_SPANNED:
            _refuse_wide(name)
        pages = [_old_page(sheet) for sheet in sheets]
    except python_calamine.PasswordError:
        _refuse_locked(name)
    except python_calamine.CalamineError as error:
        _refuse_broken(error, name)
    hidden = [sheet.visible != SheetVisibleEnum.Visible for sheet in book.sheets_metadata]
    return [replace(page, shown=not out) for page, out in zip(pages, hidden, strict=True)]


def _old_page(sheet: python_calamine.CalamineSheet) -> Page:
    rows = sheet.to_python(skip_empty_area=False, nrows=ROWS_READ)
    text = np.full((len(rows), min(COLUMNS_READ, max(map(len, rows), default=0))), "", object)
    for row, cells in enumerate(rows):
        shown = [as_text(cell) for cell in cells[:COLUMNS_READ]]
        text[row, : len(shown)] = shown
    return _trimmed(new_page(sheet.name, text, np.full_like(text, ""), np.zeros(text.shape, bool)))


def _refuse_locked(name: str) -> NoReturn:
    raise PlanError(
        f"{name} is protected by a password. "
        "Open it in your spreadsheet, take the password off, save a copy."
    )


def _refuse_broken(error: Exception, name: str) -> NoReturn:
    what = str(error) or type(error).__name__
    first_line, *_ = what.splitlines()
    raise PlanError(
        f"{name} cannot be read as a workbook ({first_line[:MOST_QUOTED]}). "
        "Save it anew as .xlsx from your spreadsheet."
    ) from None


def _refuse_wide(name: str) -> NoReturn:
    raise PlanError(
        f"{name} has cells too far apart. Copy the chart alone, without what stands far away, "
        "into a new file."
    )


def text_page(text: str, name: str) -> Page:
    # What stands between cells is the commonest of the signs that may.
    delimiter = max(",;\t", key=text.count)
    lines = grid_of(text, name, delimiter)
    if delimiter not in text:
        for line, (whole,) in lines.items():
            lines[line] = _split(whole)
    # The number of a line is its row, so that messages name it; empty lines are none of them.
    height = max(lines, default=0)
    width = max(map(len, lines.values()), default=0)
    if width > COLUMNS_READ:
        check_chart(width, len(lines), name)
    if height * width > MOST_SPANNED:
        _refuse_wide(name)
    grid = np.full((height, width), "", dtype=object)
    for line, cells in lines.items():
        width = len(cells)
        grid[line - 1, :width] = cells
    no_fill = np.full_like(grid, "")
    no_border = np.zeros(grid.shape, bool)
    return new_page("", grid, no_fill, no_border, troubles=errors_in(grid))


def errors_in(text: Grid) -> Troubles:
    """The cells in which an error stands as a text, as in a file that a spreadsheet wrote."""
    troubles = {}
    for (row, column), value in np.ndenumerate(text):
        if value.startswith(ERROR_SIGNS) and ERROR.fullmatch(value):
            troubles[row, column] = HOLDS_ERROR.format(value)
    return troubles


def _split(line: str) -> list[str]:
    """The cells of a line with only spaces, or nothing, between them."""
    return line.split() if " " in line else list(line)


def new_page(
    title: str,
    text: Grid,
    fill: Grid,
    ruled: Grid,
    *,
    ink: Grid | None = None,
    hatched: Grid | None = None,
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
        ink=np.full_like(text, "") if ink is None else ink,
        hatched=np.zeros(text.shape, bool) if hatched is None else hatched,
        painted=np.zeros(text.shape, bool),
        rows=np.arange(height),
        columns=np.arange(width),
        troubles=troubles or {},
    )


def _workbook_pages(data: bytes, name: str) -> list[Page]:
    try:
        is_open = is_open_spreadsheet(data)
        pages = _open_pages(data, name) if is_open else _sheet_pages(data, name)
    except PlanError:
        raise
    except Exception as error:  # a broken workbook shows in any of a dozen ways
        _refuse_broken(error, name)
    if not pages:
        raise PlanError(f"{name} has no sheet with cells. Save it as .xlsx from your spreadsheet.")
    return pages


def _sheet_pages(data: bytes, name: str) -> list[Page]:
    lean, notes_by_part = sifted(data, name)
    book = load_workbook(lean, read_only=True, data_only=True, keep_links=False)
    fills = Fills(book)
    # All are weighed before the first is laid out, for grids of blanks fill the memory, too.
    sheets = []
    seen: set[str] = set()
    spanned = 0
    for sheet in book.worksheets:
        # openpyxl has no public name for the part of the workbook that holds a sheet.
        part = sheet._worksheet_path
        # One part named by a thousand sheets would be read a thousand times.
        if part in seen:
            raise ValueError(f"two sheets are one part, {part}")
        seen.add(part)
        notes = notes_by_part[part]
        sheets.append((sheet, notes))
        height, width = _reach((notes.rows, notes.columns), notes)
        spanned += height * width
    if spanned > MOST_SPANNED:
        _refuse_wide(name)

    pages = []
    for sheet, notes in sheets:
        page = _sheet_page(sheet, notes, fills)
        page = with_merged_and_hidden(page, notes)
        pages.append(replace(page, own=_own_area(book, page.title)))
    return pages


def _own_area(book: Workbook, title: str) -> str:
    """The cells of a sheet in which the workbook itself says its chart is; "" if it does not."""
    name = book.defined_names.get(AREA_NAME)
    if name is None:
        return ""
    # Whoever took the cells away left a name for nothing, which is no place.
    try:
        places = dict(name.destinations)
    except (ValueError, TypeError):
        return ""
    place = places.get(title, "").replace("$", "")
    return place if CELLS.fullmatch(place) else ""


def _open_pages(data: bytes, name: str) -> list[Page]:
    """The sheets of an OpenDocument spreadsheet."""
    pages = []
    spanned = 0
    for sheet in open_sheets(data, name):
        height, width = _reach(sheet.text.shape, sheet.notes)
        spanned += height * width
        if spanned > MOST_SPANNED:
            _refuse_wide(name)
        troubles = {place: HOLDS_ERROR.format(text) for place, text in sheet.errors.items()}
        for place in sheet.notes.bare_formulas:
            troubles[place] = BARE_FORMULA
        page = new_page(
            sheet.title,
            sheet.text,
            sheet.fill,
            sheet.ruled,
            ink=sheet.ink,
            hatched=sheet.hatched,
            troubles=troubles,
        )
        page = with_merged_and_hidden(_trimmed(page), sheet.notes)
        pages.append(replace(page, shown=sheet.shown))
    return pages


@dataclass(frozen=True)
class _Look:
    """How cells of one format look: their fill and whether it could be told, border, ink, hatch."""

    fill: str
    is_told: bool
    ruled: bool
    ink: str
    hatched: bool


def _sheet_page(sheet: Any, notes: SheetNotes, fills: Fills) -> Page:
    """The page of a sheet as openpyxl reads it."""
    shape = notes.rows, notes.columns
    text = np.full(shape, "", dtype=object)
    fill = np.full(shape, "", dtype=object)
    ink = np.full(shape, "", dtype=object)
    ruled = np.zeros(shape, bool)
    hatched = np.zeros(shape, bool)
    troubles = {}
    looks: dict[tuple, _Look] = {}
    sheet.reset_dimensions()  # the size that it states is none
    for cells in sheet.iter_rows():
        for cell in cells:
            if not isinstance(cell, ReadOnlyCell):
                continue  # a blank between others
            # Of many cells few differ in format.
            style = tuple(cell.style_array)
            if style not in looks:
                looks[style] = _look(cell, fills)
            look = looks[style]
            place = cell.row - 1, cell.column - 1
            is_bare = place in notes.bare_formulas
            text[place] = NO_RESULT if is_bare else as_text(cell.value)
            fill[place] = look.fill
            ruled[place] = look.ruled
            ink[place] = look.ink
            hatched[place] = look.hatched
            # Whether it matters shows when the chart has been found.
            trouble = _trouble(cell, look, is_bare=is_bare)
            if trouble:
                troubles[place] = trouble
    page = new_page(sheet.title, text, fill, ruled, ink=ink, hatched=hatched, troubles=troubles)
    is_shown = sheet.sheet_state == "visible"
    return replace(_trimmed(page), shown=is_shown)


def _look(cell: ReadOnlyCell, fills: Fills) -> _Look:
    colour = fills.colour(cell.fill)
    border = cell.border
    sides = border.left, border.right, border.top, border.bottom
    styles = [side.style for side in sides if side]
    return _Look(
        fill=SOME_COLOUR if colour is None else colour,
        is_told=colour is not None,
        ruled=any(styles),
        ink=fills.ink(cell.font),
        hatched=fills.is_hatch(cell.fill),
    )


def _trouble(cell: ReadOnlyCell, look: _Look, *, is_bare: bool) -> str:
    """What is wrong with a cell, in words; "" if nothing is."""
    if cell.data_type == "e":
        return HOLDS_ERROR.format(cell.value)
    if is_bare:
        return BARE_FORMULA
    if not look.is_told:
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
    text, fill, ruled = page.text, page.fill, page.ruled
    held = (text != "") | (fill != "") | ruled
    height = _up_to_last(held.any(axis=1))
    width = _up_to_last(held.any(axis=0))
    page = page.cut(slice(height), slice(width))
    if height < ROWS_READ:
        return page

    # Format that runs on below, on empty cells, is no part of a chart.
    text, fill, ruled = page.text, page.fill, page.ruled
    same_fill = fill == fill[-1]
    same_border = ruled == ruled[-1]
    runs_on = (text == "") & same_fill & same_border
    height = _up_to_last(~runs_on.all(axis=1))
    return page.cut(slice(height), slice(None))


def _up_to_last(held: Line) -> int:
    """How many lines there are up to the last that holds something."""
    lines = np.flatnonzero(held)
    return int(lines[-1]) + 1 if len(lines) else 0


def _reach(shape: tuple[int, ...], notes: SheetNotes) -> tuple[int, int]:
    """How far grids of this shape and the merged cells of their sheet reach together."""
    height, width = shape
    for rows, columns in notes.merged:
        height = max(height, rows.stop)
        width = max(width, columns.stop)
    return height, width


def with_merged_and_hidden(page: Page, notes: SheetNotes) -> Page:
    """The page with merged cells filled, and hidden rows and columns known."""
    old_height, old_width = page.text.shape
    height, width = _reach(page.text.shape, notes)
    # Merged cells may reach beyond the last cell that holds something.
    more = (0, height - old_height), (0, width - old_width)
    text = np.pad(page.text, more, constant_values="")
    fill = np.pad(page.fill, more, constant_values="")
    # Borders stay where they are: a merged cell is framed as a whole.
    ruled = np.pad(page.ruled, more)
    ink = np.pad(page.ink, more, constant_values="")
    hatched = np.pad(page.hatched, more)
    painted = np.zeros((height, width), bool)
    for rows, columns in notes.painted:
        painted[rows, columns] = True
    first = np.ones((height, width), bool)
    for rows, columns in notes.merged:
        top_left = rows.start, columns.start
        text[rows, columns] = text[top_left]
        fill[rows, columns] = fill[top_left]
        ink[rows, columns] = ink[top_left]
        hatched[rows, columns] = hatched[top_left]
        first[rows, columns] = False
        first[top_left] = True
    return replace(
        page,
        text=text,
        fill=fill,
        ruled=ruled,
        first=first,
        ink=ink,
        hatched=hatched,
        painted=painted,
        has_rules=notes.has_rules,
        rows=np.arange(height),
        columns=np.arange(width),
        hidden=(_sorted(notes.hidden_rows), _sorted(notes.hidden_columns)),
    )


def _sorted(numbers: set[int]) -> Line:
    return np.array(sorted(numbers), int)
