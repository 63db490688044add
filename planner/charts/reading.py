"""A file read as what it is: a picture, a PDF, a sheet, written rows.

`open_file` looks at the bytes and says which. What it returns reads the chart by settings, and the
same bytes and settings give the same chart: nothing here knows of boxes or of a desk.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from planner.charts.documents import is_drawing, is_pdf, open_document
from planner.charts.loaded import Loaded
from planner.charts.picture import READERS
from planner.charts.pictured import DocumentFile, PictureFile, open_picture
from planner.charts.sheets import SheetChart, read_pasted, read_sheet
from planner.charts.written import has_written_rows, read_written_rows
from planner.folder import decoded
from planner.piece import Project

PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".gif", ".svg")
PICTURE_BEGINS = tuple(READERS)
WORKBOOK_BEGINS = b"PK"  # workbooks are zip files, whatever they are called
TEXTS = (".txt", ".text")
AT_ODDS = "its letter and its fill do not go together"
ROWS = "Written rows, read as your piece is worked."


@dataclass(frozen=True, eq=False)
class SheetFile:
    """A workbook, a table as text, or cells that were pasted.

    `reader` reads it as `read_sheet` does; `first` is what it holds as long as nobody says
    otherwise, with letters by these `yarns`.
    """

    reader: Callable[..., SheetChart]
    yarns: Mapping[str, str]
    first: SheetChart

    def read(self, yarns: Mapping[str, str], **told: str | None) -> Loaded:
        """The chart in it; `told` is what `read_sheet` takes, None or left out is found out."""
        found = self.first
        if any(told.values()) or yarns != self.yarns:
            found = self.reader(yarns=yarns, **told)
        where, *notes = found.notes
        why = np.full(found.doubtful.shape, "", dtype=object)
        why[found.doubtful] = AT_ODDS
        return Loaded(
            found.chart,
            where,
            found.colours,
            tuple(notes),
            found.asks,
            why=why if found.doubtful.any() else None,
            names=found.names,
            given=found.given,
        )


@dataclass(frozen=True)
class RowsFile:
    """Rows as a pattern writes them."""

    text: str

    def read(self, project: Project, **told: str | None) -> Loaded:
        """The chart that they make, worked as a piece is; `told` is for `read_written_rows`."""
        names = {letter: yarn.name for letter, yarn in project.yarns.items() if yarn.name}
        found = read_written_rows(self.text, project.how, yarns=names, **told)
        # A yarn that the text has by its letter alone has no name yet.
        names = {letter: name for letter, name in found.yarns.items() if name != letter}
        return Loaded(
            found.chart,
            ROWS,
            said=(ROWS, *found.notes),
            asks=found.asks,
            names=names,
        )


def open_pasted(text: str, yarns: Mapping[str, str]) -> SheetFile | RowsFile:
    """What was pasted: cells of a spreadsheet, with tabs between them, or written rows."""
    is_table = "\t" in text or "<table" in text.lower()
    if not is_table or has_written_rows(text):
        return RowsFile(text)
    reader = partial(read_pasted, text)
    return SheetFile(reader, yarns, reader(yarns=yarns))


def open_file(
    data: bytes, name: str, yarns: Mapping[str, str]
) -> PictureFile | DocumentFile | SheetFile | RowsFile:
    """What a file is, by what it holds rather than by its name alone.

    `yarns`, colours by letter, give their letters to fills that look like them. Raises PlanError
    where it is nothing that can hold a chart.
    """
    lowered = name.lower()
    if is_pdf(data) or lowered.endswith(".pdf"):
        return DocumentFile(open_document(data, name))
    if data.startswith(PICTURE_BEGINS) or lowered.endswith(PICTURES) or is_drawing(data):
        return open_picture(data, name)
    if not data.startswith(WORKBOOK_BEGINS) and lowered.endswith(TEXTS):
        text = decoded(data, name)
        if has_written_rows(text):
            return RowsFile(text)
    reader = partial(read_sheet, data, name)
    return SheetFile(reader, yarns, reader(yarns=yarns))
