"""A workbook sifted: what a chart needs of it written anew, and nothing else, for openpyxl to read.

A workbook is a zip of XML parts, and a few kilobytes of it can unpack to more than a machine holds.
So each part goes through a streaming parser. Tags that a chart needs pass, everything else is
dropped, and what grows beyond stated counts is refused. Merged and hidden cells, which openpyxl
leaves out when it reads in passing, are noted on the way, clipped to the area that is read.
"""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from dataclasses import dataclass, field
from io import BytesIO
from typing import IO, NoReturn
from xml.parsers import expat

from openpyxl.utils import column_index_from_string, range_boundaries

from planner.charts.books import AREA_NAME
from planner.errors import PlanError
from planner.guards import (
    COLUMNS_READ,
    MOST_CELLS,
    MOST_COLUMN_TAGS,
    MOST_DEFINED,
    MOST_FORMATS,
    MOST_IN_A_PART,
    MOST_IN_A_TAG,
    MOST_INLINE,
    MOST_LETTERS,
    MOST_MERGED,
    MOST_NAMES,
    MOST_NESTED,
    MOST_PARTS,
    MOST_SHEETS,
    MOST_TAGS,
    MOST_TEXTS,
    MOST_UNPACKED,
    ROWS_READ,
)

# Tag by tag, how many pass and what they are to a knitter; and any other tag.
MOST_OTHERS = MOST_FORMATS, "cell formats or parts"
MOST = {
    **dict.fromkeys(("row", "c", "v", "t"), (MOST_CELLS, "cells")),
    "is": (MOST_INLINE, "cells with a text of their own"),
    **dict.fromkeys(("si", "r"), (MOST_TEXTS, "texts")),
    "sheet": (MOST_SHEETS, "sheets"),
    "definedName": (MOST_DEFINED, "names for cells"),
    "mergeCell": (MOST_MERGED, "merged cells"),
    "col": (MOST_COLUMN_TAGS, "column widths"),
    **dict.fromkeys(
        ("conditionalFormatting", "cfRule", "formula"), (MOST_MERGED, "rules that paint cells")
    ),
}

# The parts that a chart needs, by their outermost tag, and within a tag the tags that pass.
SIDES = ("left", "right", "top", "bottom")
THEME_COLOURS = (
    *("dk1", "lt1", "dk2", "lt2", "accent1", "accent2"),
    *("accent3", "accent4", "accent5", "accent6", "hlink", "folHlink"),
)
PARTS = {"Types", "Relationships", "workbook", "styleSheet", "sst", "theme", "worksheet"}
PASSES = {
    "Types": {"Default", "Override"},
    "Relationships": {"Relationship"},
    "workbook": {"workbookPr", "sheets", "definedNames"},
    "definedNames": {"definedName"},
    "sheets": {"sheet"},
    "styleSheet": {"numFmts", "fonts", "fills", "borders", "cellXfs", "colors"},
    "fonts": {"font"},
    "font": {"color"},
    "numFmts": {"numFmt"},
    "fills": {"fill"},
    "fill": {"patternFill", "gradientFill"},
    "patternFill": {"fgColor", "bgColor"},
    "borders": {"border"},
    "border": set(SIDES),
    "cellXfs": {"xf"},
    "colors": {"indexedColors"},
    "indexedColors": {"rgbColor"},
    "sst": {"si"},
    "si": {"t", "r"},
    "r": {"t"},
    "theme": {"themeElements"},
    "themeElements": {"clrScheme"},
    "clrScheme": set(THEME_COLOURS),
    **{colour: {"srgbClr", "sysClr"} for colour in THEME_COLOURS},
    "worksheet": {"cols", "sheetData", "mergeCells", "conditionalFormatting"},
    "conditionalFormatting": {"cfRule"},
    "cfRule": {"formula"},
    "cols": {"col"},
    "sheetData": {"row"},
    "row": {"c"},
    "c": {"v", "f", "is"},
    "is": {"t", "r"},
    "mergeCells": {"mergeCell"},
}
# These are looked at and not written: openpyxl takes minutes over the wrong merged cells.
ONLY_NOTED = {
    *("cols", "col", "f", "mergeCells", "mergeCell"),
    *("conditionalFormatting", "cfRule", "formula"),
}
HOLD_TEXT = {"v", "t", "definedName"}

# More areas that rules paint than this are noted as one that holds them all.
MOST_PAINTED = 200
BY_FORMULA = "expression"
# A formula that only asks what stands in the cell itself: A1="X".
OWN_TEXT = re.compile(r"\$?[A-Z]{1,3}\$?\d+\s*=\s*(?:\"[^\"]*\"|\d+)")

CHUNK = 2**20  # bytes read at a time
YES = ("1", "true")
DIGITS = "0123456789"
# A second reading would take these for markup, or for plain spaces.
ESCAPED = str.maketrans({letter: f"&#{ord(letter)};" for letter in '&<>"\t\n\r'})


@dataclass(eq=False)
class SheetNotes:
    """What a sheet says beside its cells, clipped to the area that is read; places count from 0.

    `rows` and `columns` say how far its cells reach; `bare_formulas` are (row, column) of formulas
    without a result; `merged` holds (rows, columns) of merged cells, `painted` those of cells that
    a formula paints; `has_rules` says whether anything paints cells by what stands in them.
    """

    rows: int = 0
    columns: int = 0
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    bare_formulas: set[tuple[int, int]] = field(default_factory=set)
    merged: list[tuple[slice, slice]] = field(default_factory=list)
    painted: list[tuple[slice, slice]] = field(default_factory=list)
    has_rules: bool = False

    def add_painted(self, rows: slice, columns: slice) -> None:
        """Note an area that a formula paints."""
        self.painted.append((rows, columns))
        if len(self.painted) > MOST_PAINTED:
            (rows, columns), (more_rows, more_columns) = self.painted[-2:]
            self.painted[-2:] = [(_hull(rows, more_rows), _hull(columns, more_columns))]


def _hull(span: slice, part: slice) -> slice:
    return slice(min(span.start, part.start), max(span.stop, part.stop))


def sifted(data: bytes, name: str) -> tuple[BytesIO, dict[str, SheetNotes]]:
    """The workbook as openpyxl may have it, and the notes of each sheet by the name of its part.

    `name` is the file's, for messages. Raises PlanError for what is too large or built to harm, and
    the errors of zipfile and expat for what is broken.
    """
    lean = BytesIO()
    notes = {}
    tally = Tally(name)
    with zipfile.ZipFile(BytesIO(data)) as archive, zipfile.ZipFile(lean, "w") as small:
        check_sizes(archive.infolist(), tally)
        for part in dict.fromkeys(archive.namelist()):
            # Pictures, macros and printer settings are no XML; openpyxl does without them.
            if not part.endswith((".xml", ".rels")):
                continue
            sieve = Sieve(tally)
            with archive.open(part) as xml:
                sieve.read(xml)
            if sieve.is_needed:
                small.writestr(part, sieve.written.getvalue())
                notes[part] = sieve.notes
    return lean, notes


def check_sizes(parts: list[zipfile.ZipInfo], tally: Tally) -> None:
    """Refuse what unpacks to too much, by what the zip says of itself; more is never unpacked."""
    whole = [part.file_size for part in parts if "/worksheets/" not in part.filename]
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MOST_UNPACKED or max(whole, default=0) > MOST_IN_A_PART:
        tally.refuse("unpacks to more")
    if len(parts) > MOST_PARTS:
        tally.refuse("is made of more parts")


class Tally:
    """The counts of one workbook, over all its parts; `name` is the file's."""

    def __init__(self, name: str):
        self.name = name
        self.seen = 0
        self.letters = 0
        self.passed: Counter[str] = Counter()

    def add(self, tag: str) -> None:
        """Count a tag that passes."""
        self.passed[tag] += 1
        most, what = MOST.get(tag, MOST_OTHERS)
        if self.passed[tag] > most:
            self.refuse(f"has more {what}")

    def add_letters(self, number: int) -> None:
        """Count the letters of a text that passes."""
        self.letters += number
        if self.letters > MOST_LETTERS:
            self.refuse("holds more text")

    def refuse(self, what: str) -> NoReturn:
        raise PlanError(
            f"{self.name} {what} than any chart needs. Copy the chart alone into a new workbook."
        )

    def refuse_strange(self, what: str) -> NoReturn:
        raise PlanError(
            f"{self.name} is built as no spreadsheet builds it: {what}. "
            "Save it anew as .xlsx from your spreadsheet."
        )


class _NotNeeded(Exception):
    """No chart needs this part."""


class Sieve:
    """One part of a workbook read in passing: `written` is what passes of it, `notes` a sheet's."""

    def __init__(self, tally: Tally):
        self.tally = tally
        self.written = BytesIO()
        self.notes = SheetNotes()
        self._new: list[str] = []  # what passed of the bytes fed last
        self._open: list[str] = []  # the tags round about, if all of them pass
        self._dropped = 0  # how deep within a tag that does not pass
        self._is_below = False  # whether below the rows that are read
        self._merged_area = 0
        self._row = 0  # the row and the column of the cell at hand, from 1
        self._column = 0
        self._holds_formula = self._holds_value = False
        self._areas = ""  # those of the painting rules at hand
        self._formula: str | None = None  # by which the rule at hand paints
        self._looks_at = {
            "row": self._begin_row,
            "c": self._begin_cell,
            "f": self._note_formula,
            "col": self._note_columns,
            "mergeCell": self._note_merged,
            "conditionalFormatting": self._begin_rules,
            "cfRule": self._note_rule,
            "Relationship": self._is_sheet,
            "definedName": self._is_own_name,
        }
        self._parser = expat.ParserCreate()
        self._parser.buffer_text = True
        self._parser.StartDoctypeDeclHandler = self._refuse_doctype
        self._parser.StartElementHandler = self._begin
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._text
        self.is_needed = False

    def read(self, xml: IO[bytes]) -> None:
        """Read the part to its end, or as far as it takes to see that no chart needs it."""
        try:
            self._read(xml)
        except _NotNeeded:
            return
        self.is_needed = True

    def _read(self, xml: IO[bytes]) -> None:
        fed = 0
        while chunk := xml.read(CHUNK):
            if self._is_below:
                begun = chunk.count(b"<") - chunk.count(b"</")
                self.tally.seen += begun
                self._dropped += begun
            self._parser.Parse(chunk)
            fed += len(chunk)
            self._check_growth(fed)
            self.written.write("".join(self._new).encode())
            self._new.clear()
        self._parser.Parse(b"", True)

    def _check_growth(self, fed: int) -> None:
        # Once a chunk is often enough, and a chunk is too short to do harm.
        tally = self.tally
        if tally.seen > MOST_TAGS:
            tally.refuse("has more cells and other tags")
        if self._dropped > MOST_NESTED:
            tally.refuse_strange(f"its tags stand within more than {MOST_NESTED:,} others")
        if len(self._parser.intern) > MOST_NAMES:
            tally.refuse_strange(f"its tags have more than {MOST_NAMES:,} different names")
        # The parser stands still while it waits for the end of a tag.
        if fed - self._parser.CurrentByteIndex > CHUNK + MOST_IN_A_TAG:
            tally.refuse_strange("one of its tags has no end")

    def _refuse_doctype(self, *_declaration: object) -> NoReturn:
        # It can hold words that stand for others, ten thousand million letters in ten lines.
        self.tally.refuse_strange("it defines words of its own (a DOCTYPE)")

    def _begin(self, tag: str, attributes: dict[str, str]) -> None:
        self.tally.seen += 1
        if self._dropped:
            self._dropped += 1
            return
        name = tag.rpartition(":")[2]
        if not self._passes(name, attributes):
            self._dropped = 1
            return
        self._open.append(name)
        if name not in ONLY_NOTED:
            self._write_tag(tag, attributes)
        if name == "worksheet":
            # openpyxl reads a sheet that states no size twice over.
            self._new.append(f'<{tag[: -len(name)]}dimension ref="A1"/>')

    def _passes(self, name: str, attributes: dict[str, str]) -> bool:
        if not self._open:
            if name not in PARTS:
                raise _NotNeeded
            return True
        if name not in PASSES.get(self._open[-1], ()):
            return False
        look = self._looks_at.get(name)
        if look and not look(attributes):
            return False
        self.tally.add(name)
        return True

    def _write_tag(self, tag: str, attributes: dict[str, str]) -> None:
        self._new.append(f"<{tag}")
        for key, value in attributes.items():
            self._new.append(f' {key}="{value.translate(ESCAPED)}"')
        self._new.append(">")

    def _end(self, tag: str) -> None:
        if self._dropped:
            self._dropped -= 1
            return
        name = self._open.pop()
        if name not in ONLY_NOTED:
            self._new.append(f"</{tag}>")
        if name == "cfRule":
            self._end_rule()
        if name == "c" and self._holds_formula and not self._holds_value:
            self.notes.bare_formulas.add((self._row - 1, self._column - 1))

    def _text(self, text: str) -> None:
        if self._dropped or not self._open:
            return
        if self._open[-1] == "formula" and self._formula is not None:
            self.tally.add_letters(len(text))
            self._formula += text
        if self._open[-1] not in HOLD_TEXT:
            return
        self.tally.add_letters(len(text))
        self._holds_value = self._holds_value or not text.isspace()
        self._new.append(text.translate(ESCAPED))

    def _is_sheet(self, attributes: dict[str, str]) -> bool:
        # Of all that a workbook has relations to; a pattern may have thousands of hyperlinks.
        return attributes.get("Type", "").endswith("sheet")

    def _is_own_name(self, attributes: dict[str, str]) -> bool:
        # Of the names that a workbook gives to cells only ours is of use.
        return attributes.get("name") == AREA_NAME

    def _begin_row(self, attributes: dict[str, str]) -> bool:
        # Some write "3.0". A row or a cell that says no number follows the one before it.
        self._row = int(float(attributes.get("r", self._row + 1)))
        self._column = 0
        if self._row < 1:
            raise ValueError(f"there is a row {self._row}")
        if self._row > ROWS_READ:
            self._go_below()
            return False
        if attributes.get("hidden") in YES:
            self.notes.hidden_rows.add(self._row - 1)
        return True

    def _go_below(self) -> None:
        # Down to the end of the rows only that end matters. There may be a million of them, and
        # their attributes cost most of the time: so tags are counted where they end, and where they
        # begin by their brackets.
        self._is_below = True
        self._parser.StartElementHandler = None
        self._parser.EndElementHandler = self._end_below

    def _end_below(self, tag: str) -> None:
        self._dropped -= 1
        if tag.endswith("sheetData"):
            self._is_below = False
            self._dropped = 0
            self._parser.StartElementHandler = self._begin
            self._parser.EndElementHandler = self._end
            self._end(tag)

    def _begin_cell(self, attributes: dict[str, str]) -> bool:
        place = attributes.get("r")
        if place:
            letters = place.rstrip(DIGITS)
            if place != f"{letters}{self._row}":
                raise ValueError(f"cell {place} stands in row {self._row}")
            self._column = column_index_from_string(letters)
        else:
            self._column += 1
        if self._column > COLUMNS_READ:
            return False
        self._holds_formula = self._holds_value = False
        self.notes.rows = max(self.notes.rows, self._row)
        self.notes.columns = max(self.notes.columns, self._column)
        return True

    def _note_formula(self, _attributes: dict[str, str]) -> bool:
        self._holds_formula = True
        return True

    def _note_columns(self, attributes: dict[str, str]) -> bool:
        if attributes.get("hidden") in YES:
            first, last = int(attributes["min"]), int(attributes["max"])
            self.notes.hidden_columns.update(range(first - 1, min(last, COLUMNS_READ)))
        return True

    def _note_merged(self, attributes: dict[str, str]) -> bool:
        left, top, right, bottom = range_boundaries(attributes["ref"])
        if top <= ROWS_READ and left <= COLUMNS_READ:
            rows = slice(top - 1, min(bottom, ROWS_READ))
            columns = slice(left - 1, min(right, COLUMNS_READ))
            self.notes.merged.append((rows, columns))
            # Cells merged twice over could be filled without end.
            self._merged_area += (rows.stop - rows.start) * (columns.stop - columns.start)
            if self._merged_area > ROWS_READ * COLUMNS_READ:
                self.tally.refuse_strange("its merged cells lie upon each other")
        return True

    def _begin_rules(self, attributes: dict[str, str]) -> bool:
        self._areas = attributes.get("sqref", "")
        return True

    def _note_rule(self, attributes: dict[str, str]) -> bool:
        self.notes.has_rules = True
        self._formula = "" if attributes.get("type") == BY_FORMULA else None
        return True

    def _end_rule(self) -> None:
        # Most rules paint a cell by what stands in it, which is read. What else paints it is not.
        if self._formula is None or OWN_TEXT.fullmatch(self._formula.strip()):
            return
        for area in self._areas.split():
            left, top, right, bottom = range_boundaries(area)
            if top <= ROWS_READ and left <= COLUMNS_READ:
                rows = slice(top - 1, min(bottom, ROWS_READ))
                columns = slice(left - 1, min(right, COLUMNS_READ))
                self.notes.add_painted(rows, columns)
