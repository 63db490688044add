"""Cells as they come from the clipboard: tabs between texts, or the table of a web page."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser

import numpy as np

from planner.charts.lettering import colour_named
from planner.charts.pages import Page, errors_in, new_page, text_page, with_merged_and_hidden
from planner.charts.sifting import SheetNotes
from planner.errors import PlanError
from planner.guards import (
    COLUMNS_READ,
    MOST_BYTES,
    MOST_CELLS,
    MOST_CELLS_OF_TEXT,
    MOST_SPANNED,
    ROWS_READ,
    check_amount,
    check_chart,
)

TABLE = re.compile(r"<table\b", re.IGNORECASE)
CLASSES = re.compile(r"\.([\w-]+)\s*\{([^{}]*)\}")
RGB = re.compile(r"rgba?\(\s*(\d+)[\s,]+(\d+)[\s,]+(\d+)")
HEX = re.compile(r"#[0-9a-fA-F]{6}\b")
BLACK = "#000000"
CELLS = ("td", "th")
# Cells that are not shown to have one.
NO_BORDER = re.compile(r"(?:none|0|medium none|initial|hidden)\b", re.IGNORECASE)

Attributes = Mapping[str, str | None]


def pasted_pages(text: str, name: str) -> list[Page]:
    """The cells of a text or web page that was pasted, a page for each table.

    Raises PlanError for what is too large or holds no cells.
    """
    check_amount(len(text), name, most=MOST_BYTES)
    if TABLE.search(text):
        return _tables(text, name)
    if "\t" not in text:
        return [text_page(text, name)]
    check_amount(text.count("\t") + text.count("\n"), name, most=MOST_CELLS_OF_TEXT, what="cells")
    # One end of line closes the last row; more are rows that are blank.
    lines = text.replace("\r\n", "\n").removesuffix("\n")
    rows = list(csv.reader(io.StringIO(lines, newline=""), "excel-tab"))
    width = max(map(len, rows))
    check_chart(width, len(rows), name)
    grid = np.full((len(rows), width), "", dtype=object)
    for row, cells in enumerate(rows):
        grid[row, : len(cells)] = [cell.strip() for cell in cells]
    no_fill = np.full_like(grid, "")
    page = new_page("", grid, no_fill, np.zeros(grid.shape, bool), troubles=errors_in(grid))
    return [replace(page, is_chosen=True)]


def _tables(text: str, name: str) -> list[Page]:
    reader = _Reader(_classes(text), name)
    reader.feed(text)
    reader.close()
    pages = [table.page() for table in reader.tables if table.cells]
    if not pages:
        raise PlanError(f"The table in {name} has no cells. Mark the chart's cells, and copy them.")
    titled = []
    for number, page in enumerate(pages, start=1):
        title = f"Table {number}" if len(pages) > 1 else ""
        titled.append(replace(page, title=title, is_chosen=len(pages) == 1))
    return titled


Looks = dict[str, str]  # the properties of a style, by name


def _classes(text: str) -> dict[str, Looks]:
    """The looks of the classes that a page defines, as spreadsheets write them."""
    return {name: _looks(style) for name, style in CLASSES.findall(text)}


def _looks(style: str) -> Looks:
    looks = {}
    for declaration in style.split(";"):
        key, _, value = declaration.partition(":")
        looks[key.strip().lower()] = value.strip()
    return looks


def _colour(value: str | None) -> str:
    """The colour (#rrggbb) in the value of a property, "" for none."""
    value = (value or "").strip()
    plain = HEX.match(value)
    if plain:
        return plain[0].lower()
    channels = RGB.match(value)
    if channels:
        return "#" + "".join(f"{min(255, int(each)):02x}" for each in channels.groups())
    first = value.split(" ")[0]
    return "" if first in ("", "transparent", "none") else colour_named(first)


@dataclass(frozen=True)
class _Cell:
    """One cell: where it begins, how far it reaches, and how it looks."""

    row: int
    column: int
    down: int
    across: int
    fill: str
    ruled: bool
    texts: list[str] = field(default_factory=list)
    inks: list[str] = field(default_factory=list)


@dataclass(eq=False)
class _Table:
    """A table that is being read; `taken` are the places of cells that reach into later rows."""

    cells: list[_Cell] = field(default_factory=list)
    taken: set[tuple[int, int]] = field(default_factory=set)
    hidden_rows: set[int] = field(default_factory=set)
    row: int = -1
    column: int = 0
    row_fill: str = ""

    def page(self) -> Page:
        """The cells as a page."""
        height = max(cell.row + cell.down for cell in self.cells)
        width = max(cell.column + cell.across for cell in self.cells)
        text = np.full((height, width), "", dtype=object)
        fill, ink = np.full_like(text, ""), np.full_like(text, "")
        ruled = np.zeros(text.shape, bool)
        notes = SheetNotes(height, width, hidden_rows=self.hidden_rows)
        for cell in self.cells:
            place = cell.row, cell.column
            text[place] = " ".join("".join(cell.texts).split())
            fill[place] = cell.fill
            ink[place] = cell.inks[-1] if cell.inks else ""
            ruled[place] = cell.ruled
            if cell.down * cell.across > 1:
                rows = slice(cell.row, cell.row + cell.down)
                columns = slice(cell.column, cell.column + cell.across)
                notes.merged.append((rows, columns))
        page = new_page("", text, fill, ruled, ink=ink, troubles=errors_in(text))
        return with_merged_and_hidden(page, notes)


class _Reader(HTMLParser):
    """Reads the tables of a page; one within a cell is part of its text."""

    def __init__(self, classes: dict[str, Looks], name: str):
        super().__init__()
        self.tables: list[_Table] = []
        self._classes = classes
        self._name = name
        self._within = 0
        self._cell: _Cell | None = None
        self._spanned = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        attributes = dict(attrs)
        if tag == "table":
            self._within += 1
            if self._within == 1:
                self.tables.append(_Table())
            return
        if not self._within:
            return
        table = self.tables[-1]
        if tag == "br" and self._cell:
            self._cell.texts.append(" ")
        elif tag in ("span", "font") and self._cell:
            self._add_ink(attributes)
        elif self._within == 1 and tag == "tr":
            self._begin_row(table, attributes)
        elif self._within == 1 and tag in CELLS:
            self._begin_cell(table, attributes)

    def handle_endtag(self, tag: str) -> None:
        if tag == "table":
            self._within = max(0, self._within - 1)
        if self._within <= 1 and tag in (*CELLS, "tr", "table"):
            self._cell = None

    def handle_data(self, data: str) -> None:
        if self._cell:
            self._cell.texts.append(data)

    def _begin_row(self, table: _Table, attributes: Attributes) -> None:
        table.row += 1
        table.column = 0
        looks = self._style(attributes)
        table.row_fill = _fill(looks, attributes)
        if looks.get("display") == "none":
            table.hidden_rows.add(table.row)

    def _begin_cell(self, table: _Table, attributes: Attributes) -> None:
        table.row = max(0, table.row)
        while (table.row, table.column) in table.taken:
            table.column += 1
        down = _span(attributes, "rowspan", ROWS_READ - table.row)
        across = _span(attributes, "colspan", COLUMNS_READ - table.column)
        self._check(table, down * across)
        looks = self._style(attributes)
        fill = _fill(looks, attributes) or table.row_fill
        borders = [value for key, value in looks.items() if key.startswith("border")]
        ruled = any(value and not NO_BORDER.match(value) for value in borders)
        self._cell = _Cell(table.row, table.column, down, across, fill, ruled)
        self._add_ink(attributes)
        table.cells.append(self._cell)
        for row in range(table.row + 1, table.row + down):
            for column in range(table.column, table.column + across):
                table.taken.add((row, column))
        table.column += across

    def _check(self, table: _Table, area: int) -> None:
        self._spanned += area
        is_far = table.row >= ROWS_READ or table.column >= COLUMNS_READ
        if is_far or self._spanned > MOST_SPANNED or len(table.cells) > MOST_CELLS:
            raise PlanError(
                f"{self._name} hold more cells than any chart. Mark the chart alone, and copy it."
            )

    def _style(self, attributes: Attributes) -> Looks:
        looks: Looks = {}
        for name in (attributes.get("class") or "").split():
            looks |= self._classes.get(name, {})
        return looks | _looks(attributes.get("style") or "")

    def _add_ink(self, attributes: Attributes) -> None:
        looks = self._style(attributes)
        ink = _colour(looks.get("color") or attributes.get("color"))
        if self._cell and ink:
            self._cell.inks.append("" if ink == BLACK else ink)


def _fill(looks: Looks, attributes: Attributes) -> str:
    told = looks.get("background-color") or looks.get("background") or attributes.get("bgcolor")
    return _colour(told)


def _span(attributes: Attributes, name: str, most: int) -> int:
    said = attributes.get(name) or "1"
    is_number = said.isascii() and said.isdigit()
    return max(1, min(int(said), most)) if is_number and len(said) < 10 else 1
