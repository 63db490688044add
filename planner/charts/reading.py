"""A file read as what it is: a chart on a grid, flat art, a photograph, a sheet, written rows.

`open_file` looks at the bytes and says which. What it returns reads the chart by settings, and the
same bytes and settings give the same chart: nothing here knows of boxes or of a desk.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from planner.charts.grid import GridReading, read_grid_picture
from planner.charts.keys import SAME
from planner.charts.lettering import free_letter
from planner.charts.picture import READERS, Artwork, ChartedPicture, chart_picture, open_artwork
from planner.charts.questions import Question
from planner.charts.sheets import SheetChart, read_sheet
from planner.charts.tidying import compare_levels, tidied
from planner.charts.written import has_written_rows, read_rows
from planner.colour import apart
from planner.errors import PlanError
from planner.folder import decoded
from planner.piece import CarryLimits, Chart, Project, Yarn
from planner.strands import Strands, trace_strands

GRID, FLAT, PHOTO = "a chart drawn on a grid", "flat art", "a photograph"
PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".gif")
PICTURE_BEGINS = tuple(READERS)
WORKBOOK_BEGINS = b"PK"  # workbooks are zip files, whatever they are called
TEXTS = (".txt", ".text")
DOUBTS_NAMED = 5  # places in doubt that are said in words; all are ringed in the preview


@dataclass(frozen=True)
class Loaded:
    """What a file turned out to hold.

    `taken` says as what it was read and `said` what was done; `colours` of its letters (#rrggbb) as
    far as it shows them; `asks` what is in doubt; `doubtful` cells, rows × columns from the bottom.
    A picture has its chart at each of the `levels` of tidying.
    """

    chart: Chart
    taken: str
    colours: Mapping[str, str] = field(default_factory=dict)
    said: tuple[str, ...] = ()
    asks: tuple[Question, ...] = ()
    doubtful: np.ndarray | None = None
    levels: tuple[ChartedPicture, ...] = ()
    letters: tuple[str, ...] = ()

    def traced(self, project: Project) -> Strands:
        """The strands that its chart takes, worked as a piece is."""
        return trace_strands(
            self.chart,
            project.how,
            project.gauge,
            project.limits,
            by_yarn=_own_limits(project, self.chart),
        )

    def prices(self, project: Project) -> pd.DataFrame:
        """What each level of tidying costs and saves, one row a level; of a picture only."""
        return compare_levels(
            self.levels,
            project.how,
            project.gauge,
            project.limits,
            by_yarn=project.by_yarn,
            letters=self.letters,
        )


def _own_limits(project: Project, chart: Chart) -> dict[str, CarryLimits]:
    # Limits of a yarn that is not on the chart would be refused.
    own = project.by_yarn.items()
    return {letter: limits for letter, limits in own if letter in chart.letters}


# ---- pictures


@dataclass(frozen=True)
class PictureSettings:
    """How a picture is to be read; a count of 0, and what is None, is to be found out.

    Those that begin with `grid_`, `by` and `blanks` are for a chart drawn on a grid. `across`, `up`
    and `zoom` say which part is taken if the piece has another shape; `tidy` is a place among the
    LEVELS. With `own_yarns` each stitch takes the nearest yarn in hand, else colours are picked.
    """

    what: str
    stitches: int
    rows: int = 0
    grid_stitches: int = 0
    grid_rows: int = 0
    own_yarns: bool = False
    count: int = 0
    grid_count: int = 0
    by: str | None = None
    blanks: str | None = None
    across: float = 0.5
    up: float = 0.5
    zoom: float = 1
    tidy: int = 0


@dataclass(frozen=True, eq=False)
class PictureFile:
    """A picture, and what it is: one of GRID, FLAT and PHOTO."""

    art: Artwork
    what: str

    def read(
        self, settings: PictureSettings, project: Project, in_hand: Mapping[str, Yarn]
    ) -> Loaded:
        """The chart in it, tidied as it is asked; `in_hand` are yarns its colours may take."""
        colours = [yarn.colour for yarn in in_hand.values()] if settings.own_yarns else []
        if settings.what == GRID:
            picture: ChartedPicture = self._on_grid(settings, colours)
        else:
            picture = self._as_art(settings, project, colours)
        letters = letters_of_colours(picture.palette, in_hand)
        if settings.own_yarns:
            letters = list(in_hand)
        levels = tidied(picture, tube=project.how.is_tube)
        said = list(picture.notes)
        doubtful = None
        asks: tuple[Question, ...] = ()
        if isinstance(picture, GridReading):
            doubtful, asks = picture.doubtful, picture.asks
            if doubtful.any():
                said.append(_doubts(picture))
        return Loaded(
            chart=levels[settings.tidy].chart(letters),
            taken=settings.what,
            colours=dict(zip(letters, picture.palette, strict=False)),
            said=tuple(said),
            asks=asks,
            doubtful=doubtful,
            levels=levels,
            letters=tuple(letters),
        )

    def _on_grid(self, settings: PictureSettings, colours: list[str]) -> GridReading:
        return read_grid_picture(
            self.art,
            stitches=settings.grid_stitches or None,
            rows=settings.grid_rows or None,
            yarns=colours,
            count=settings.grid_count or None,
            by=settings.by,
            blanks=settings.blanks,
        )

    def _as_art(
        self, settings: PictureSettings, project: Project, colours: list[str]
    ) -> ChartedPicture:
        aspect = aspect_of(project)
        return chart_picture(
            self.art,
            settings.stitches,
            settings.rows or self.art.rows_for(settings.stitches, aspect),
            aspect,
            flat=settings.what == FLAT,
            yarns=colours,
            count=settings.count or None,
            across=settings.across,
            up=settings.up,
            zoom=settings.zoom,
        )


def aspect_of(project: Project) -> float:
    """Height of a chart row ÷ width of a stitch."""
    return float(project.gauge.aspect) * project.how.rows_per_chart_row


def letters_of_colours(palette: Sequence[str], yarns: Mapping[str, Yarn]) -> list[str]:
    """A letter for each colour: that of a yarn which looks the same, else a free one."""
    letters: list[str] = []
    for colour in palette:
        # Two colours of the picture may look like one yarn; only the first of them takes it.
        alike = (
            yarn.letter
            for yarn in yarns.values()
            if yarn.letter not in letters and _look_alike(colour, yarn.colour)
        )
        letter = next(alike, None)
        letters.append(letter or free_letter({*yarns, *letters}))
    return letters


def _look_alike(a: str, b: str) -> bool:
    return apart(a, b) < SAME


def _doubts(picture: GridReading) -> str:
    """Where a picture of a chart could not be read for sure, a few places in words."""
    # In the order of work: from the bottom row, stitches counted from the right.
    places = np.argwhere(picture.doubtful)
    stitches = picture.cells.shape[1]
    doubts = [
        f"row {row + 1} stitch {stitches - column}: {picture.why[row, column]}"
        for row, column in places[:DOUBTS_NAMED].tolist()
    ]
    left_out = len(places) - DOUBTS_NAMED
    more = f" and {left_out} more" if left_out > 0 else ""
    return f"Look again at the cells marked: {'; '.join(doubts)}{more}."


def _open_picture(data: bytes, name: str) -> PictureFile:
    art = open_artwork(data, name)
    try:
        read_grid_picture(art)
    except PlanError:
        # Looking for a grid costs less than a tenth of a second for each million pixels, and finds
        # none in a photograph, nor in flat art that was not drawn in cells.
        return PictureFile(art, FLAT if art.looks_flat else PHOTO)
    return PictureFile(art, GRID)


# ---- spreadsheets and written rows


@dataclass(frozen=True, eq=False)
class SheetFile:
    """A workbook or a table as text.

    `first` is what it holds as long as nobody says otherwise, with letters by these `yarns`.
    """

    data: bytes
    name: str
    yarns: Mapping[str, str]
    first: SheetChart

    def read(self, yarns: Mapping[str, str], **told: str | None) -> Loaded:
        """The chart in it; `told` is what `read_sheet` takes, None or left out is found out."""
        found = self.first
        if any(told.values()) or yarns != self.yarns:
            found = read_sheet(self.data, self.name, yarns=yarns, **told)
        where, *notes = found.notes
        return Loaded(found.chart, where, found.colours, tuple(notes), found.asks)


@dataclass(frozen=True)
class RowsFile:
    """Rows as a pattern writes them."""

    text: str

    def read(self, project: Project) -> Loaded:
        """The chart that they make, worked as a piece is."""
        chart = read_rows(self.text, project.how)
        return Loaded(chart, "Written rows, read as your piece is worked.")


def open_file(
    data: bytes, name: str, yarns: Mapping[str, str]
) -> PictureFile | SheetFile | RowsFile:
    """What a file is, by what it holds rather than by its name alone.

    `yarns`, colours by letter, give their letters to fills that look like them. Raises PlanError
    where it is nothing that can hold a chart.
    """
    lowered = name.lower()
    if data.startswith(PICTURE_BEGINS) or lowered.endswith(PICTURES):
        return _open_picture(data, name)
    if not data.startswith(WORKBOOK_BEGINS) and lowered.endswith(TEXTS):
        text = decoded(data, name)
        if has_written_rows(text):
            return RowsFile(text)
    return SheetFile(data, name, yarns, read_sheet(data, name, yarns=yarns))
