"""The sheets of an OpenDocument spreadsheet (.ods): texts, fills and borders of their cells.

Its cells stand in one part, `content.xml`, row by row; equal ones side by side are written once,
with how often they repeat. Names of tags and attributes are those of the standard (OpenDocument
1.3, part 3: 9.1 tables, 16.2 styles, 17.18 cells; from memory). The part is read in passing and
clipped to the area that is looked at, so that a row that repeats a million times costs nothing.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from typing import IO
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
from openpyxl.utils import range_boundaries

from planner.charts.sifting import SheetNotes, Tally, check_sizes
from planner.guards import COLUMNS_READ, MOST_CELLS, MOST_SHEETS, ROWS_READ

KIND = b"application/vnd.oasis.opendocument.spreadsheet"
NAMESPACE = "{urn:oasis:names:tc:opendocument:xmlns:%s:1.0}"
OFFICE, TABLE, TEXT, STYLE = (NAMESPACE % name for name in ("office", "table", "text", "style"))
DRAW = NAMESPACE % "drawing"
HATCHES = ("hatch", "bitmap")
FORMAT = NAMESPACE % "xsl-fo-compatible"
# An extension that is commonly written, with the rules that paint cells (from memory).
MORE = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
BORDERS = [f"{FORMAT}border{side}" for side in ("", "-left", "-right", "-top", "-bottom")]
CELLS = (f"{TABLE}table-cell", f"{TABLE}covered-table-cell")
OUT_OF_SIGHT = ("collapse", "filter")
NO_BORDER = re.compile(r"none|0(?:\.0*)?(?:[a-z]|\s|$)")
COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
NO_RESULT = "?"  # what stands for the result of a formula that has none
BLACK = "#000000"
ERROR = re.compile(r"#[A-Z/0]+[!?]?|#N/A|Err:\d+")

Grid = np.ndarray


@dataclass(frozen=True)
class Format:
    """How cells of one style look: their fill and ink (#rrggbb or ""), any border, any hatch.

    `painted` says whether something paints them: "by text", "by formula", "" for nothing.
    """

    fill: str = ""
    ruled: bool = False
    ink: str = ""
    painted: str = ""
    hatched: bool = False


PLAIN = Format()


@dataclass(eq=False)
class OpenSheet:
    """A sheet: `text`, `fill`, `ink` ("" for none), `ruled` and `hatched` are rows × columns, top
    left first.

    `errors` are what stands in cells in place of a value, by (row, column) from 0.
    """

    title: str
    shown: bool
    text: Grid
    fill: Grid
    ink: Grid
    ruled: Grid
    hatched: Grid
    notes: SheetNotes
    errors: dict[tuple[int, int], str]


def is_open_spreadsheet(data: bytes) -> bool:
    """Whether a file is an OpenDocument spreadsheet: its kind stands at its beginning."""
    return KIND in data[:200]


def open_sheets(data: bytes, name: str) -> Iterator[OpenSheet]:
    """The sheets, one after the other. Raises PlanError for what is too large or built to harm, and
    the errors of zipfile and the XML parser for what is broken."""
    tally = Tally(name)
    with zipfile.ZipFile(BytesIO(data)) as archive:
        check_sizes(archive.infolist(), tally)
        styles = _Styles()
        if "styles.xml" in archive.namelist():
            with archive.open("styles.xml") as xml:
                styles.read(xml)
        with archive.open("content.xml") as xml:
            yield from _sheets(xml, styles, tally)


class _Styles:
    """The styles of a workbook by family and name; each takes from its parent what it leaves."""

    def __init__(self) -> None:
        self._asked: dict[tuple[str, str], Element] = {}
        self._formats: dict[str, Format] = {}

    def read(self, xml: IO[bytes]) -> None:
        """Note the styles of a part that holds nothing else of use."""
        for _, part in ElementTree.iterparse(xml):
            self.note(part)

    def note(self, part: Element) -> None:
        """Note a tag, if it is a style."""
        if part.tag == f"{STYLE}style":
            key = part.get(f"{STYLE}family", ""), part.get(f"{STYLE}name", "")
            self._asked[key] = part

    def shows(self, table: Element) -> bool:
        """Whether a sheet is in sight."""
        style = self._asked.get(("table", table.get(f"{TABLE}style-name", "")))
        if style is None:
            return True
        properties = style.find(f"{STYLE}table-properties")
        return properties is None or properties.get(f"{TABLE}display") != "false"

    def format(self, name: str) -> Format:
        """How cells of a style look."""
        if name not in self._formats:
            self._formats[name] = self._format(name)
        return self._formats[name]

    def _format(self, name: str) -> Format:
        fill, ink, borders, hatched, seen = None, None, None, None, set()
        painted = ""
        # What a style does not say its parent says.
        while name and name not in seen:
            seen.add(name)
            style = self._asked.get(("table-cell", name))
            if style is None:
                break
            for properties in style.iterfind(f"{STYLE}table-cell-properties"):
                if fill is None:
                    fill = properties.get(f"{FORMAT}background-color")
                if borders is None:
                    borders = [each for side in BORDERS if (each := properties.get(side))] or None
                if hatched is None:
                    hatched = _is_hatched(properties)
            for properties in style.iterfind(f"{STYLE}text-properties"):
                if ink is None:
                    ink = properties.get(f"{FORMAT}color")
            painted = painted or _painted(style)
            name = style.get(f"{STYLE}parent-style-name", "")
        ruled = any(not NO_BORDER.match(each) for each in borders or ())
        ink = _colour(ink)
        ink = "" if ink == BLACK else ink
        return Format(_colour(fill), ruled, ink, painted, bool(hatched))


def _colour(said: str | None) -> str:
    return said.lower() if said and COLOUR.fullmatch(said) else ""


def _is_hatched(properties: Element) -> bool | None:
    """Whether cells have lines or a picture for a fill; None where the style does not say."""
    drawn = properties.get(f"{DRAW}fill")
    picture = properties.find(f"{STYLE}background-image")
    if drawn is None and picture is None:
        return None
    # An empty one says that there is none.
    has_picture = picture is not None and (picture.attrib or len(picture))
    return drawn in HATCHES or bool(has_picture)


def _painted(style: Element) -> str:
    """Whether a style paints its cells by their text, by a formula, or not."""
    painted = ""
    for rule in style.iterfind(f"{STYLE}map"):
        condition = rule.get(f"{STYLE}condition", "")
        painted = "by formula" if "formula" in condition else painted or "by text"
    return painted


def _sheets(xml: IO[bytes], styles: _Styles, tally: Tally) -> Iterator[OpenSheet]:
    table: _Table | None = None
    within = sheets = 0  # tables within a table are no sheets
    for event, part in ElementTree.iterparse(xml, events=("start", "end")):
        if part.tag == f"{TABLE}table":
            within += 1 if event == "start" else -1
            if event == "start" and within == 1:
                sheets += 1
                if sheets > MOST_SHEETS:
                    tally.refuse("has more sheets")
                table = _Table(part, styles, tally)
            elif table and within == 0:
                yield table.sheet()
                part.clear()
                table = None
        elif event == "end" and table and within == 1:
            if part.tag == f"{TABLE}table-column":
                table.add_columns(part)
            elif part.tag == f"{TABLE}table-row":
                table.add_rows(part)
                part.clear()
            elif part.tag == f"{MORE}conditional-format":
                table.add_rules(part)
        elif event == "end" and not within:
            styles.note(part)


@dataclass(eq=False)
class _Patch:
    """Cells that are alike: their rows, their columns, and what they hold."""

    rows: slice
    columns: slice
    text: str
    format: Format


@dataclass(eq=False)
class _Table:
    """A sheet that is being read, row by row."""

    table: Element
    styles: _Styles
    tally: Tally
    notes: SheetNotes = field(default_factory=SheetNotes)
    patches: list[_Patch] = field(default_factory=list)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    # The style of each column's cells that have none of their own.
    usual: list[str] = field(default_factory=list)
    rows: int = 0

    def add_columns(self, part: Element) -> None:
        """Columns that are alike, to the right of those before."""
        first = len(self.usual)
        last = min(COLUMNS_READ, first + _count(part, "number-columns-repeated"))
        self.usual += [part.get(f"{TABLE}default-cell-style-name", "")] * (last - first)
        if part.get(f"{TABLE}visibility") in OUT_OF_SIGHT:
            self.notes.hidden_columns.update(range(first, last))

    def add_rows(self, part: Element) -> None:
        """Rows that are alike, below those before."""
        first = self.rows
        self.rows = first + _count(part, "number-rows-repeated")
        rows = slice(first, min(ROWS_READ, self.rows))
        if first >= ROWS_READ:
            return
        if part.get(f"{TABLE}visibility") in OUT_OF_SIGHT:
            self.notes.hidden_rows.update(range(rows.start, rows.stop))
        usual = part.get(f"{TABLE}default-cell-style-name", "")
        column = 0
        for cell in part:
            if cell.tag not in CELLS or column >= COLUMNS_READ:
                continue
            end = column + _count(cell, "number-columns-repeated")
            columns = slice(column, min(COLUMNS_READ, end))
            self._add_cell(cell, rows, columns, usual)
            column = end

    def add_rules(self, part: Element) -> None:
        """Rules that paint cells."""
        self.notes.has_rules = True
        conditions = [rule.get(f"{MORE}value", "") for rule in part]
        if not any(condition.startswith("formula-is") for condition in conditions):
            return
        for address in part.get(f"{MORE}target-range-address", "").split():
            # 'Sheet 1'.A1:'Sheet 1'.C4
            corners = [corner.rpartition(".")[2] for corner in address.split(":")]
            try:
                left, top, right, bottom = range_boundaries(":".join(corners))
            except (ValueError, TypeError):
                continue
            rows = slice(min(top - 1, ROWS_READ), min(bottom, ROWS_READ))
            columns = slice(min(left - 1, COLUMNS_READ), min(right, COLUMNS_READ))
            self.notes.add_painted(rows, columns)

    def _add_cell(self, cell: Element, rows: slice, columns: slice, usual: str) -> None:
        self._note_merged(cell, rows, columns)
        text = "" if cell.tag == CELLS[1] else _text(cell)
        if cell.get(f"{TABLE}formula"):
            place = rows.start, columns.start
            if not text:
                self.notes.bare_formulas.add(place)
                text = NO_RESULT
            elif ERROR.fullmatch(text):
                self.errors[place] = text
        own = cell.get(f"{TABLE}style-name") or usual
        for part, style in self._by_style(columns, own):
            look = self.styles.format(style) if style else PLAIN
            if not text and look == PLAIN:
                continue
            self.notes.has_rules = self.notes.has_rules or bool(look.painted)
            if look.painted == "by formula":
                self.notes.add_painted(rows, part)
            self.patches.append(_Patch(rows, part, text, look))
            if len(self.patches) > MOST_CELLS:
                self.tally.refuse("has more cells")
            self.notes.rows = max(self.notes.rows, rows.stop)
            self.notes.columns = max(self.notes.columns, part.stop)

    def _by_style(self, columns: slice, own: str) -> Iterator[tuple[slice, str]]:
        """The columns of a cell in stretches of one style: its own, or that of its column."""
        if own:
            yield columns, own
            return
        first = columns.start
        while first < columns.stop:
            style = self._usual(first)
            last = first + 1
            while last < columns.stop and self._usual(last) == style:
                last += 1
            yield slice(first, last), style
            first = last

    def _usual(self, column: int) -> str:
        return self.usual[column] if column < len(self.usual) else ""

    def _note_merged(self, cell: Element, rows: slice, columns: slice) -> None:
        down = _count(cell, "number-rows-spanned")
        across = _count(cell, "number-columns-spanned")
        if down == across == 1:
            return
        bottom = min(ROWS_READ, rows.start + down)
        right = min(COLUMNS_READ, columns.start + across)
        self.notes.merged.append((slice(rows.start, bottom), slice(columns.start, right)))

    def sheet(self) -> OpenSheet:
        """The sheet, when its last row has been read."""
        shape = self.notes.rows, self.notes.columns
        text = np.full(shape, "", dtype=object)
        fill = np.full(shape, "", dtype=object)
        ink = np.full(shape, "", dtype=object)
        ruled = np.zeros(shape, bool)
        hatched = np.zeros(shape, bool)
        for patch in self.patches:
            text[patch.rows, patch.columns] = patch.text
            fill[patch.rows, patch.columns] = patch.format.fill
            ink[patch.rows, patch.columns] = patch.format.ink
            ruled[patch.rows, patch.columns] = patch.format.ruled
            hatched[patch.rows, patch.columns] = patch.format.hatched
        title = self.table.get(f"{TABLE}name", "")
        shown = self.styles.shows(self.table)
        return OpenSheet(title, shown, text, fill, ink, ruled, hatched, self.notes, self.errors)


def _count(part: Element, name: str) -> int:
    """How often a cell or line repeats, or over how many it is merged; 1 unless it is said."""
    said = part.get(f"{TABLE}{name}", "1")
    return max(1, int(said)) if said.isascii() and said.isdigit() and len(said) < 10 else 1


def _text(cell: Element) -> str:
    """What stands in a cell, as a person reads it."""
    # Only its own paragraphs: a remark pinned to a cell has some, too.
    lines = ["".join(line.itertext()) for line in cell.iterfind(f"{TEXT}p")]
    number = cell.get(f"{OFFICE}value")
    if cell.get(f"{OFFICE}value-type") == "float" and number:
        # The number itself, for it may be shown rounded.
        try:
            value = float(number)
        except ValueError:
            return number
        return str(int(value)) if value.is_integer() else number
    return "\n".join(lines).strip()
