"""The sheets of a workbook or of a text file as plain grids of texts, fills and ruled cells; nothing in them runs.

A workbook is read in passing: of a sheet with a million formatted rows only the first are looked at.
"""

from __future__ import annotations

import colorsys
import re
import warnings
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter, range_boundaries
from openpyxl.writer.theme import theme_xml

from planner.errors import PlanError
from planner.files import decoded, grid_of

ROWS_READ, COLUMNS_READ = 2500, 1250
MOST_UNPACKED = 2**30  # bytes, all of a workbook; its sheets are read in passing
MOST_PART = 2**26  # bytes, any other part, which is read whole
OLE = bytes.fromhex("d0cf11e0a1b11ae1")  # begins old .xls files and encrypted workbooks (MS-CFB 2.2)


@dataclass(frozen=True, eq=False)
class Page:
    """One sheet as grids of rows × columns, top left first: `text` and `fill` (#rrggbb), "" where there is none; `ruled`, cells
    with a border; `first`, cells that are not the later part of a merged one. `rows` and `columns` are the sheet's own, from
    0; `hidden` those out of sight; `troubles` says what is wrong in a cell, by (row, column) of the sheet."""

    title: str
    text: np.ndarray
    fill: np.ndarray
    ruled: np.ndarray
    first: np.ndarray
    rows: np.ndarray
    columns: np.ndarray
    hidden: tuple[np.ndarray, np.ndarray] = (np.array([], int), np.array([], int))
    troubles: Mapping[tuple[int, int], str] = field(default_factory=dict)
    shown: bool = True

    def without_hidden(self) -> Page:
        """The page as it looks with its hidden rows and columns."""
        rows, columns = ~np.isin(self.rows, self.hidden[0]), ~np.isin(self.columns, self.hidden[1])
        grids = {name: getattr(self, name)[rows][:, columns] for name in ("text", "fill", "ruled", "first")}
        return replace(self, **grids, rows=self.rows[rows], columns=self.columns[columns])

    def cell(self, row: int, column: int) -> str:
        """The name of a cell of the grids: "C4"."""
        return f"{get_column_letter(int(self.columns[column]) + 1)}{self.rows[row] + 1}"


def read_pages(data: bytes, name: str) -> tuple[list[Page], list[str]]:
    """The sheets of a workbook (.xlsx, .xlsm), or the one page of a text file with commas, semicolons, tabs, spaces or nothing
    between cells; and what is worth saying. `name` is the file's, for messages."""
    if data.startswith(OLE):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise PlanError(f"{name} is protected by a password. Open it in your spreadsheet, take the password off, save a copy.")
        raise PlanError(f"{name} is in the old .xls form. Open it in your spreadsheet and save it as .xlsx.")
    if data.startswith(b"PK"):
        with warnings.catch_warnings(action="ignore"):  # openpyxl's, about what is of no use here
            return _workbook(data, name), []
    if b"\0" in data[:1000] and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise PlanError(f"{name} is neither a workbook nor text. If it is a picture, load it as a picture; else save it as .xlsx.")
    text = decoded(data, name)
    if text.lstrip().startswith("<"):
        raise PlanError(f"{name} is a web page or XML, whatever it is called. Open it in your spreadsheet and save it as .xlsx.")
    says = [f"{name} is plain text, not a workbook, and was read as text."] if name.lower().endswith((".xlsx", ".xlsm")) else []
    return [_text_page(text, name)], says


def _text_page(text: str, name: str) -> Page:
    delimiter = max(",;\t", key=text.count)
    grid = grid_of(text, name, delimiter)
    if delimiter not in text:
        grid = {line: row[0].split() if " " in row[0] else list(row[0]) for line, row in grid.items()}
    cells = np.full((max(grid, default=0), max(map(len, grid.values()), default=0)), "", dtype=object)
    for line, row in grid.items():
        cells[line - 1, : len(row)] = row
    no = np.zeros(cells.shape, bool)
    return Page("", cells, np.full(cells.shape, "", dtype=object), no, ~no, *map(np.arange, cells.shape))


def _workbook(data: bytes, name: str) -> list[Page]:
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            parts = archive.infolist()
            large = [part.file_size for part in parts if "/worksheets/" not in part.filename and part.file_size > MOST_PART]
            if large or sum(part.file_size for part in parts) > MOST_UNPACKED:
                raise PlanError(f"{name} unpacks to more than any chart needs. Copy the chart alone into a new workbook.")
            books = [load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False)]
            sheets = [(sheet, _furniture(archive, sheet._worksheet_path)) for sheet in books[0].worksheets]
            if any(formulas for _, (*_, formulas) in sheets):
                books.append(load_workbook(BytesIO(data), read_only=True, keep_links=False))
            colours = _Colours(books[0])
            pages = [
                _page([book.worksheets[i] for book in books], merged, hidden, colours)
                for i, (_, (merged, hidden, _)) in enumerate(sheets)
            ]
    except PlanError:
        raise
    except Exception as error:  # a broken workbook shows in any of a dozen ways
        what = str(error).splitlines()[0][:100] if str(error) else type(error).__name__
        raise PlanError(
            f"{name} cannot be read as a workbook ({what}). Open it in your spreadsheet and save it as .xlsx."
        ) from None
    if not pages:
        raise PlanError(f"{name} has no sheet with cells. Save it from your spreadsheet as .xlsx.")
    return pages


def _furniture(archive: zipfile.ZipFile, path: str):
    """The merged ranges of a sheet, its hidden rows and columns, and whether it has formulas: what openpyxl leaves out when it
    reads in passing. The XML is searched as text, so that a million rows take a second."""
    merged, rows, columns, formulas, kept = set(), set(), set(), False, b""
    with archive.open(path) as xml:
        while chunk := xml.read(2**20):
            chunk = kept + chunk
            kept = chunk[chunk.rfind(b"<") :][:10_000]  # a tag cut in two
            formulas |= b"<f" in chunk or b":f>" in chunk
            if b"mergeCell" in chunk:
                merged |= {range_boundaries(ref.decode()) for ref in re.findall(rb'mergeCell [^>]*?ref="([A-Z0-9:]+)"', chunk)}
            if b"hidden=" in chunk:
                for tag in re.findall(rb'\b(?:row|col) [^>]*hidden="(?:1|true)"[^>]*', chunk):
                    at = {key: int(number) for key, number in re.findall(rb'\b(r|min|max)="(\d+)"', tag)}
                    if b"r" in at:
                        rows.add(at[b"r"] - 1)
                    else:
                        columns |= set(range(at[b"min"] - 1, min(at[b"max"], COLUMNS_READ)))
    return sorted(merged), (np.array(sorted(rows), int), np.array(sorted(columns), int)), formulas


def _page(sheets: list, merged, hidden, colours: _Colours) -> Page:
    """The page of a sheet, given with its values and, where there are formulas, once more with these."""
    found, troubles, styles = [], {}, {}
    for sheet in sheets:
        sheet.reset_dimensions()  # what a sheet says of its own size may be wrong
    for row in sheets[0].iter_rows(max_row=ROWS_READ):
        for cell in row[:COLUMNS_READ]:
            if cell.value is None and not getattr(cell, "has_style", False):
                continue
            at, style = (cell.row - 1, cell.column - 1), tuple(cell.style_array)
            if style not in styles:
                styles[style] = (
                    colours.fill(cell.fill),
                    any(
                        getattr(cell.border, side) is not None and getattr(cell.border, side).style
                        for side in ("left", "top", "right", "bottom")
                    ),
                )
            found.append((*at, _said(cell.value), *styles[style]))
            if cell.data_type == "e":
                troubles[at] = f"holds the error {cell.value}"
    for sheet in sheets[1:]:
        values = {at[:2] for at in found if at[2]}
        for row in sheet.iter_rows(max_row=ROWS_READ):
            for cell in row[:COLUMNS_READ]:
                if cell.data_type == "f" and (at := (cell.row - 1, cell.column - 1)) not in values:
                    troubles[at] = (
                        "holds a formula without a result; save the workbook once more in your spreadsheet, or type the letter"
                    )
                    found.append((*at, "?", "", False))
    merged = [(left - 1, top - 1, min(right, COLUMNS_READ), min(bottom, ROWS_READ)) for left, top, right, bottom in merged]
    shape = tuple(max([0, *(1 + cell[axis] for cell in found), *(span[3 - axis] for span in merged)]) for axis in (0, 1))
    text, fill = np.full(shape, "", dtype=object), np.full(shape, "", dtype=object)
    ruled, first = np.zeros(shape, bool), np.ones(shape, bool)
    for row, column, said, colour, border in found:
        text[row, column], fill[row, column], ruled[row, column] = said, colour, border
    for left, top, right, bottom in merged:
        if top < shape[0] and left < shape[1]:
            first[top:bottom, left:right] = False
            first[top, left] = True
            for grid in (text, fill):
                grid[top:bottom, left:right] = grid[top, left]
    page = Page(
        sheets[0].title, text, fill, ruled, first, *map(np.arange, shape), hidden, troubles, sheets[0].sheet_state == "visible"
    )
    return _without_endless_format(page) if shape[0] == ROWS_READ else page


def _without_endless_format(page: Page) -> Page:
    """A page formatted to the last row that is looked at and beyond, without the rows that are format only."""
    like_last = (page.text == "") & (page.fill == page.fill[-1]) & (page.ruled == page.ruled[-1])
    keep = slice(0, 1 + max(np.flatnonzero(~like_last.all(axis=1)), default=-1))
    grids = {name: getattr(page, name)[keep] for name in ("text", "fill", "ruled", "first", "rows")}
    return replace(page, **grids)


def _said(value) -> str:
    """A cell's value as a person reads it: 1.0 is "1"."""
    if value is None:
        return ""
    return str(int(value) if isinstance(value, float) and value.is_integer() else value).strip()


class _Colours:
    """The colours of a workbook as #rrggbb: its own, its palette's, its theme's."""

    def __init__(self, book):
        self.palette = [*(colour[-6:] for colour in book._colors), *["000000"] * 64][:64] + [
            "000000",
            "ffffff",
        ]  # 64, 65: the system's
        scheme = ElementTree.fromstring(book.loaded_theme or theme_xml).find(".//{*}clrScheme")
        theme = [next(iter(entry)) for entry in scheme]
        theme = [entry.get("lastClr") or entry.get("val") for entry in theme]
        # Cells count dark and light the other way about than the theme lists them: light 1, dark 1, light 2, dark 2 (from memory).
        self.theme = [theme[i] for i in (1, 0, 3, 2, *range(4, len(theme)))]

    def fill(self, fill) -> str:
        """A plain fill; "" for none, a pattern or a gradient."""
        colour = getattr(fill, "fgColor", None)
        if colour is None or fill.fill_type != "solid" or colour.type == "auto":
            return ""
        kinds = {
            "rgb": lambda: colour.rgb[-6:],
            "indexed": lambda: self.palette[colour.indexed],
            "theme": lambda: self.theme[colour.theme],
        }
        return tinted(f"#{kinds[colour.type]().lower()}", colour.tint)


def tinted(colour: str, tint: float) -> str:
    """A colour made darker (tint −1 to 0) or lighter (0 to 1) in its HLS lightness L: L (1 + tint), or L (1 − tint) + tint
    (ECMA-376 part 1, 18.8.3 and 18.8.19)."""
    if not tint:
        return colour
    h, lightness, s = colorsys.rgb_to_hls(*(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)))
    lightness = lightness * (1 + tint) if tint < 0 else lightness * (1 - tint) + tint
    return "#" + "".join(f"{round(255 * part):02x}" for part in colorsys.hls_to_rgb(h, lightness, s))
