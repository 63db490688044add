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
from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.utils import get_column_letter, range_boundaries
from openpyxl.writer.theme import theme_xml

from planner.errors import PlanError
from planner.folder import decoded, grid_of

READ = ROWS_READ, COLUMNS_READ = 2999, 1250
BELOW = re.compile(
    rb'<(\w+:)?row [^>]*?\br="(?:[3-9]\d{3}|\d{5,})"'
)  # the first row after ROWS_READ
FURNITURE = re.compile(rb'(?:mergeCell [^>]*|\b(?:row|col) [^>]*hidden="(?:1|true)"[^>]*)')
FORMULA = re.compile(rb"<(?:\w+:)?f[ >]")
MOST_UNPACKED = 2**30  # bytes, all of a workbook; its sheets are read in passing
MOST_PART = 2**26  # bytes, any other part, which is read whole
OLE = bytes.fromhex(
    "d0cf11e0a1b11ae1"
)  # begins old .xls files and encrypted workbooks (MS-CFB 2.2, from memory)
NONE = np.array([], int)


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
    hidden: tuple[np.ndarray, np.ndarray] = (NONE, NONE)
    troubles: Mapping[tuple[int, int], str] = field(default_factory=dict)
    shown: bool = True

    def cut(self, rows, columns) -> Page:
        """The page with only these rows and columns of its grids."""
        grids = {
            name: getattr(self, name)[rows][:, columns]
            for name in ("text", "fill", "ruled", "first")
        }
        return replace(self, **grids, rows=self.rows[rows], columns=self.columns[columns])

    def without_hidden(self) -> Page:
        return self.cut(~np.isin(self.rows, self.hidden[0]), ~np.isin(self.columns, self.hidden[1]))

    def cell(self, row: int, column: int) -> str:
        """The name of a cell of the grids: "C4"."""
        return f"{get_column_letter(int(self.columns[column]) + 1)}{self.rows[row] + 1}"


def read_pages(data: bytes, name: str) -> tuple[list[Page], list[str]]:
    """The sheets of a workbook (.xlsx, .xlsm), or the one page of a text file with commas, semicolons, tabs, spaces or nothing
    between cells; and what is worth saying. `name` is the file's, for messages."""
    if data.startswith(OLE):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise PlanError(
                f"{name} is protected by a password. Open it in your spreadsheet, take the password off, save a copy."
            )
        raise PlanError(
            f"{name} is in the old .xls form. Open it in your spreadsheet and save it as .xlsx."
        )
    if data.startswith(b"PK"):
        with warnings.catch_warnings(action="ignore"):  # openpyxl's, about what is of no use here
            return _workbook(data, name), []
    if b"\0" in data[:1000] and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise PlanError(
            f"{name} is neither a workbook nor text. If it is a picture, load it as a picture; else save it as .xlsx."
        )
    text = decoded(data, name)
    if re.match(r"\s*<(!doctype|html|table|\?xml)\b", text, re.IGNORECASE):
        raise PlanError(
            f"{name} is a web page or XML, whatever it is called. Open it in your spreadsheet and save it as .xlsx."
        )
    says = (
        [f"{name} is plain text, not a workbook, and was read as text."]
        if name.lower().endswith((".xlsx", ".xlsm"))
        else []
    )
    return [_text_page(text, name)], says


def _text_page(text: str, name: str) -> Page:
    delimiter = max(",;\t", key=text.count)
    grid = grid_of(text, name, delimiter)
    if delimiter not in text:
        grid = {
            line: row[0].split() if " " in row[0] else list(row[0]) for line, row in grid.items()
        }
    cells = np.full(
        (max(grid, default=0), max(map(len, grid.values()), default=0)), "", dtype=object
    )
    for line, row in grid.items():
        cells[line - 1, : len(row)] = row
    no = np.zeros(cells.shape, bool)
    return Page(
        "", cells, np.full(cells.shape, "", dtype=object), no, ~no, *map(np.arange, cells.shape)
    )


def _workbook(data: bytes, name: str) -> list[Page]:
    try:
        lean, furniture = _lean(data, name)
        values = load_workbook(lean, read_only=True, data_only=True, keep_links=False)
        formulas = load_workbook(lean, read_only=True) if FORMULA.search(lean.getvalue()) else None
        paint = _painter(values)
        pages = []
        for i, sheet in enumerate(values.worksheets):
            page = _page(sheet, formulas and formulas.worksheets[i], paint)
            pages.append(_furnished(page, furniture.get(sheet._worksheet_path, b"")))
    except PlanError:
        raise
    except Exception as error:  # a broken workbook shows in any of a dozen ways
        what = (str(error) or type(error).__name__).splitlines()[0][:100]
        raise PlanError(
            f"{name} cannot be read as a workbook ({what}). Save it anew as .xlsx from your spreadsheet."
        ) from None
    if not pages:
        raise PlanError(f"{name} has no sheet with cells. Save it as .xlsx from your spreadsheet.")
    return pages


def _lean(data: bytes, name: str) -> tuple[BytesIO, dict[str, bytes]]:
    """The workbook with no rows below ROWS_READ, and the tags of each sheet that tell of merged and hidden cells, which
    openpyxl leaves out when it reads in passing. Sheets are searched as text, so that a million rows take a second or two."""
    lean, furniture = BytesIO(), {}
    with zipfile.ZipFile(BytesIO(data)) as archive, zipfile.ZipFile(lean, "w") as small:
        sizes = {part.filename: part.file_size for part in archive.infolist()}
        whole = [size for part, size in sizes.items() if "/worksheets/" not in part]
        if sum(sizes.values()) > MOST_UNPACKED or max(whole, default=0) > MOST_PART:
            raise PlanError(
                f"{name} unpacks to more than any chart needs. Copy the chart alone into a new workbook."
            )
        for part in sizes:
            with archive.open(part) as xml:
                if "/worksheets/" not in part:
                    small.writestr(part, xml.read())
                    continue
                head, end, tags, kept = bytearray(), None, [], b""
                while chunk := xml.read(2**20):
                    if not end:
                        head += chunk
                        if end := BELOW.search(head, max(0, len(head) - len(chunk) - 300)):
                            head[end.start() :] = b"</%bsheetData></%bworksheet>" % (
                                (end[1] or b"",) * 2
                            )
                    chunk = kept + chunk
                    kept = chunk[chunk.rfind(b"<") :][:10_000]  # a tag cut in two
                    if b"mergeCell" in chunk or b"hidden=" in chunk:
                        tags += FURNITURE.findall(chunk)
                small.writestr(part, bytes(head))
                furniture[part] = b"\n".join(tags)
    return lean, furniture


def _page(sheet, with_formulas, paint) -> Page:
    """The page of a sheet, given with its values and, if the workbook has formulas, once more with these."""
    found, troubles, looks = [], {}, {}
    for same in filter(None, (sheet, with_formulas)):
        same.reset_dimensions()  # what a sheet says of its own size may be wrong
    rows = sheet.iter_rows(max_row=ROWS_READ)
    for row, again in (
        zip(rows, with_formulas.iter_rows(max_row=ROWS_READ), strict=True)
        if with_formulas
        else ((r, r) for r in rows)
    ):
        for cell, formula in zip(row[:COLUMNS_READ], again, strict=False):
            if not isinstance(cell, ReadOnlyCell):
                continue
            at, style, said = (
                (cell.row - 1, cell.column - 1),
                tuple(cell.style_array),
                _said(cell.value),
            )
            if style not in looks:
                border = cell.border
                looks[style] = (
                    paint(cell.fill),
                    any(
                        e and e.style
                        for e in (border.left, border.top, border.right, border.bottom)
                    ),
                )
            if cell.data_type == "e":
                troubles[at] = f"holds the error {cell.value}"
            elif formula.data_type == "f" and not said:
                troubles[at], said = (
                    "holds a formula without a result. Save it once more in your spreadsheet, or type the letter",
                    "?",
                )
            if said or any(looks[style]):
                found.append((*at, said, *looks[style]))
    shape = tuple(max((1 + cell[axis] for cell in found), default=0) for axis in (0, 1))
    text, fill, ruled = (
        np.full(shape, "", dtype=object),
        np.full(shape, "", dtype=object),
        np.zeros(shape, bool),
    )
    for row, column, *cell in found:
        text[row, column], fill[row, column], ruled[row, column] = cell
    page = Page(
        sheet.title,
        text,
        fill,
        ruled,
        np.ones(shape, bool),
        *map(np.arange, shape),
        troubles=troubles,
    )
    page = replace(page, shown=sheet.sheet_state == "visible")
    if shape[0] < ROWS_READ:
        return page
    # Format that runs on below, on empty cells, is no part of a chart.
    endless = ((text == "") & (fill == fill[-1]) & (ruled == ruled[-1])).all(axis=1)
    return page.cut(slice(0, 1 + max(np.flatnonzero(~endless), default=-1)), slice(None))


def _furnished(page: Page, tags: bytes) -> Page:
    """The page with merged cells filled and hidden rows and columns known, from the tags that say so."""
    merged = [
        range_boundaries(ref.decode())
        for ref in re.findall(rb'mergeCell [^>]*?ref="([A-Z0-9:]+)"', tags)
    ]
    grown = [
        max([n, *(min(span[3 - axis], most) for span in merged)])
        for axis, (n, most) in enumerate(zip(page.text.shape, READ, strict=True))
    ]
    more = [(0, new - old) for new, old in zip(grown, page.text.shape, strict=True)]
    text, fill = (np.pad(grid, more, constant_values="") for grid in (page.text, page.fill))
    ruled, first = np.pad(page.ruled, more), np.ones(grown, bool)
    for left, top, right, bottom in merged:
        span = slice(top - 1, bottom), slice(left - 1, right)
        first[span] = False
        first[top - 1 : top, left - 1 : left] = True
        for grid in (text, fill):
            grid[span] = grid[top - 1 : top, left - 1 : left]
    hidden: tuple[set, set] = (set(), set())
    for tag in re.findall(rb'.*hidden="(?:1|true)".*', tags):
        at = {key: int(number) for key, number in re.findall(rb'\b(r|min|max)="(\d+)"', tag)}
        if b"r" in at:
            hidden[0].add(at[b"r"] - 1)
        else:
            hidden[1].update(range(at[b"min"] - 1, min(at[b"max"], COLUMNS_READ)))
    hidden = tuple(np.array(sorted(out), int) for out in hidden)
    return replace(
        page,
        text=text,
        fill=fill,
        ruled=ruled,
        first=first,
        rows=np.arange(grown[0]),
        columns=np.arange(grown[1]),
        hidden=hidden,
    )


def _said(value) -> str:
    """A cell's value as a person reads it: 1.0 is "1"."""
    if value is None:
        return ""
    return str(int(value) if isinstance(value, float) and value.is_integer() else value).strip()


def _painter(book):
    """What tells the colour (#rrggbb) of a plain fill in this workbook, "" for no fill, a pattern or a gradient."""
    scheme = ElementTree.fromstring(book.loaded_theme or theme_xml).find(".//{*}clrScheme")
    theme = [colour.get("lastClr") or colour.get("val") for entry in scheme for colour in entry]
    theme[:4] = (
        theme[1],
        theme[0],
        theme[3],
        theme[2],
    )  # cells count light before dark, the theme dark before light (from memory)
    palette = dict(enumerate(colour[-6:] for colour in book._colors)) | {
        64: "000000",
        65: "ffffff",
    }  # the system's two

    def paint(fill) -> str:
        colour = getattr(fill, "fgColor", None)
        if colour is None or fill.fill_type != "solid" or colour.type == "auto":
            return ""
        plain = {
            "rgb": lambda: colour.rgb[-6:],
            "theme": lambda: theme[colour.theme],
            "indexed": lambda: palette[colour.indexed],
        }
        return tinted(f"#{plain[colour.type]().lower()}", colour.tint)

    return paint


def tinted(colour: str, tint: float) -> str:
    """A colour made darker (tint −1 to 0) or lighter (0 to 1) in its HLS lightness L: L (1 + tint), or L (1 − tint) + tint
    (ECMA-376 part 1, 18.8.3 and 18.8.19, from memory)."""
    if not tint:
        return colour
    h, lightness, s = colorsys.rgb_to_hls(*(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)))
    lightness = lightness * (1 + tint) if tint < 0 else lightness * (1 - tint) + tint
    return "#" + "".join(
        f"{round(255 * part):02x}" for part in colorsys.hls_to_rgb(h, lightness, s)
    )
