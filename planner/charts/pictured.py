"""A picture file, or a page of a PDF, read as what it is, by settings.

A picture that was written here carries its chart, which is looked for first. Else it is a chart
drawn on a grid, a photograph of a chart, flat art or a photograph. What is read is the whole or a
part of it, told by its frame; a photograph of a chart lies between four corners.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache, partial
from typing import Any

import numpy as np

from planner.charts.carried import CarriedChart, carried_chart
from planner.charts.documents import Document, is_drawing, open_drawing
from planner.charts.grid import WHICH_CHART, GridReading, read_grid_picture
from planner.charts.keys import SAME
from planner.charts.lettering import about_skipped, free_letter
from planner.charts.loaded import Loaded, Part
from planner.charts.palette import Rgb
from planner.charts.photograph import (
    Corners,
    count_cells,
    find_corners,
    read_photograph,
    straightened,
)
from planner.charts.picture import Artwork, Box, ChartedPicture, chart_picture, open_artwork
from planner.charts.questions import Question
from planner.charts.tidying import tidied
from planner.colour import apart
from planner.errors import PlanError
from planner.piece import Project, Yarn

CARRIED, GRID = "the chart that the picture carries", "a chart drawn on a grid"
PRINTED, FLAT, PHOTO = "a photograph of a chart", "flat art", "a photograph"
# Of the cells of a grid: where more are in doubt, and it is a photograph, it may be another grid.
MOST_DOUBTFUL = 0.01
LARGE_PX = 2_000_000
CLEARLY_LEANS = 0.02  # of the longer side of the picture
# Where nothing was found: the corners to begin with.
CORNERS: Corners = ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))
THE_LARGEST = "the largest"
HOW_MANY_YARNS = "How many yarns does the chart have?"
MOST_ASKED = 10  # yarns: as many answers are offered
PAINTED_OVER = "it was painted over since"
# As `_on_grid` says it, so that both are one reading.
NOTHING_TOLD: dict[str, Any] = {
    "stitches": None,
    "rows": None,
    "yarns": (),
    "count": None,
    "by": None,
    "blanks": None,
}
PAGES_LOOKED_AT = 4  # of a PDF, for the first with a chart


@dataclass(frozen=True)
class PictureSettings:
    """How a picture is to be read; a count of 0, and what is None, is to be found out.

    `part` is read alone; a photograph of a chart is read between its `corners`. Settings that begin
    with `grid_`, `by` and `blanks` are for charts. `across`, `up` and `zoom` say which part is
    taken if the piece has another shape; `tidy` is a place among the LEVELS. With `own_yarns` each
    stitch takes the nearest yarn in hand, else colours are picked.
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
    part: Part | None = None
    corners: Corners | None = None


@dataclass(frozen=True, eq=False)
class PictureFile:
    """A picture, and what it is: one of CARRIED, GRID, PRINTED, FLAT and PHOTO.

    `found` are the corners of a chart on it, if they were looked for and found. Of a page `finer`
    draws a part as finely as a chart can use.
    """

    art: Artwork
    what: str
    found: Corners | None = None
    carried: CarriedChart | None = None
    finer: Callable[[Part], Artwork] | None = None

    @cached_property
    def kinds(self) -> tuple[str, ...]:
        """What it can be read as."""
        drawn = (GRID, PRINTED, FLAT, PHOTO)
        return (CARRIED, *drawn) if self.carried else drawn

    @cached_property
    def corners(self) -> Corners:
        """The corners of a chart on it, as far as they can be found: they may be put right."""
        return self.found or find_corners(self.art) or CORNERS

    def within(self, part: Part | None) -> Artwork:
        """A part of the picture, or all of it. Raises PlanError where the part is empty."""
        if part is None:
            return self.art
        return self.finer(part) if self.finer else part_of(self.art, part)

    def has_grid(self, part: Part | None) -> bool:
        """Whether a part of the picture is a chart on a grid."""
        return _read_if_grid(self.within(part)) is not None

    def read(
        self, settings: PictureSettings, project: Project, in_hand: Mapping[str, Yarn]
    ) -> Loaded:
        """The chart in it, tidied as it is asked; `in_hand` are yarns its colours may take."""
        if settings.what == CARRIED and self.carried:
            return _as_carried(self.carried, self.art)
        colours = [yarn.colour for yarn in in_hand.values()] if settings.own_yarns else []
        art = self.art if settings.what == PRINTED else self.within(settings.part)
        if settings.what == GRID:
            picture: ChartedPicture = _on_grid(art, settings, colours)
        elif settings.what == PRINTED:
            picture = _between_corners(art, settings, colours)
        else:
            picture = _as_art(art, settings, project, colours)
        letters = letters_of_colours(picture.palette, in_hand)
        # A photograph of a chart has only those of the yarns in hand that it shows.
        if settings.own_yarns and settings.what != PRINTED:
            letters = list(in_hand)
        levels = tidied(picture, tube=project.how.is_tube)
        new = [letter for letter in letters if letter not in in_hand]
        loaded = Loaded(
            chart=levels[settings.tidy].chart(letters),
            taken=settings.what,
            colours=dict(zip(letters, picture.palette, strict=False)),
            said=(*picture.notes, *about_skipped(new, in_hand)),
            levels=levels,
            letters=tuple(letters),
            given=frozenset(new),
        )
        if not isinstance(picture, GridReading):
            return loaded
        loaded = replace(loaded, why=picture.why)
        if settings.what == PRINTED:
            corners = settings.corners or CORNERS
            seen = partial(_straight_pixels, art, corners)
            return replace(loaded, seen=seen, asks=_asks_of(picture, settings))
        others = _parts(picture, art, settings.part)
        seen = partial(_pixels_in, art, picture.box)
        aspect = _aspect_of_cells(picture.box, picture.cells.shape)
        loaded = replace(loaded, seen=seen, aspect=aspect, parts=others)
        return replace(loaded, asks=_with_parts(picture.asks, others))


# ---- each kind by itself


def _on_grid(art: Artwork, settings: PictureSettings, colours: Sequence[str]) -> GridReading:
    return _grid_on(
        art,
        stitches=settings.grid_stitches or None,
        rows=settings.grid_rows or None,
        yarns=tuple(colours),
        count=settings.grid_count or None,
        by=settings.by,
        blanks=settings.blanks,
    )


# A picture is read to see what it is, and once more by settings that may say nothing new.
@lru_cache(maxsize=1)
def _grid_on(
    art: Artwork,
    *,
    stitches: int | None = None,
    rows: int | None = None,
    yarns: tuple[str, ...] = (),
    count: int | None = None,
    by: str | None = None,
    blanks: str | None = None,
) -> GridReading:
    return read_grid_picture(
        art, stitches=stitches, rows=rows, yarns=yarns, count=count, by=by, blanks=blanks
    )


def _between_corners(
    art: Artwork, settings: PictureSettings, colours: Sequence[str]
) -> GridReading:
    return read_photograph(
        art,
        settings.corners or CORNERS,
        count=settings.grid_count or None,
        stitches=settings.grid_stitches or None,
        rows=settings.grid_rows or None,
        yarns=colours,
    )


def _as_art(
    art: Artwork, settings: PictureSettings, project: Project, colours: Sequence[str]
) -> ChartedPicture:
    aspect = aspect_of(project)
    return chart_picture(
        art,
        settings.stitches,
        settings.rows or art.rows_for(settings.stitches, aspect),
        aspect,
        flat=settings.what == FLAT,
        yarns=colours,
        count=settings.count or None,
        across=settings.across,
        up=settings.up,
        zoom=settings.zoom,
    )


def _as_carried(carried: CarriedChart, art: Artwork) -> Loaded:
    why = np.where(carried.painted, PAINTED_OVER, "").astype(object)
    return Loaded(
        chart=carried.chart,
        taken=CARRIED,
        colours=carried.colours,
        said=carried.notes,
        why=why,
        seen=lambda: art.pixels,
        names=carried.names,
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
            if yarn.letter not in letters and apart(colour, yarn.colour) < SAME
        )
        letter = next(alike, None)
        letters.append(letter or free_letter({*yarns, *letters}))
    return letters


def _asks_of(picture: GridReading, settings: PictureSettings) -> tuple[Question, ...]:
    """How many yarns there are in a photograph, until it is told."""
    if settings.grid_count or settings.own_yarns:
        return picture.asks
    answers = tuple(str(count) for count in range(2, MOST_ASKED + 1))
    taken = str(len(picture.palette))
    return (*picture.asks, Question("grid_count", HOW_MANY_YARNS, answers, taken))


# ---- a part of a picture


def part_of(art: Artwork, part: Part) -> Artwork:
    """What lies within a part of a picture. Raises PlanError where that is empty."""
    height, width = art.pixels.shape[:2]
    left, top, right, bottom = part
    columns = slice(round(left * width), round(right * width))
    rows = slice(round(top * height), round(bottom * height))
    pixels = art.pixels[rows, columns]
    if not pixels.size:
        raise PlanError(
            "The part of the picture is empty. Draw a frame around the chart, from one corner to "
            "the other."
        )
    return Artwork(pixels, art.name, (*art.notes, "a part of the picture"))


def _parts(picture: GridReading, art: Artwork, within: Part | None) -> dict[str, Part]:
    """Where the charts are, if there are several, by words, as shares of the whole picture."""
    if not picture.others:
        return {}
    height, width = art.pixels.shape[:2]
    left, top, right, bottom = within or (0.0, 0.0, 1.0, 1.0)
    found: dict[str, Part] = {}
    for box in (picture.box, *picture.others):
        # With a cell's width around it, so that its outermost lines are seen.
        share = _with_margin(box, (width, height))
        part = (
            left + share[0] * (right - left),
            top + share[1] * (bottom - top),
            left + share[2] * (right - left),
            top + share[3] * (bottom - top),
        )
        side = _side(picture.box, box)
        alike = sum(words.startswith(side) for words in found)
        found[f"{side} ({alike + 1})" if alike else side] = part
    return found


def _with_margin(box: Box, size: tuple[int, int]) -> Part:
    width, height = size
    margin = 0.02 * max(box[2] - box[0], box[3] - box[1])
    return (
        max(0.0, (box[0] - margin) / width),
        max(0.0, (box[1] - margin) / height),
        min(1.0, (box[2] + margin) / width),
        min(1.0, (box[3] + margin) / height),
    )


def _side(box: Box, other: Box) -> str:
    """On which side of the largest chart another one lies, in words."""
    if other == box:
        return THE_LARGEST
    if other[1] >= box[3]:
        return "the one below"
    if other[3] <= box[1]:
        return "the one above"
    return "the one on the left" if other[2] <= box[0] else "the one on the right"


def _with_parts(asks: Sequence[Question], parts: Mapping[str, Part]) -> tuple[Question, ...]:
    """The questions, that for a part of the picture with its answers."""
    answered = []
    for ask in asks:
        is_which = ask.words == WHICH_CHART
        answered.append(replace(ask, choices=tuple(parts)) if is_which else ask)
    return tuple(answered)


def _straight_pixels(art: Artwork, corners: Corners) -> Rgb:
    return straightened(art, corners).pixels


def _aspect_of_cells(box: Box, cells: tuple[int, ...]) -> float:
    """Height of a cell ÷ its width, where so many rows and columns fill a box."""
    left, top, right, bottom = box
    rows, columns = cells
    return (bottom - top) / rows / ((right - left) / columns)


def _pixels_in(art: Artwork, box: Box) -> Rgb:
    left, top, right, bottom = (round(each) for each in box)
    return art.pixels[top:bottom, left:right]


# ---- what a picture is


def _read_if_grid(art: Artwork) -> GridReading | None:
    """The chart that is drawn on a grid in a picture; None where there is none."""
    try:
        # Looking for a grid costs less than a tenth of a second for each million pixels, and finds
        # none in a photograph of other things, nor in flat art that was not drawn in cells.
        return _grid_on(art, **NOTHING_TOLD)
    except PlanError:
        return None


def open_picture(data: bytes, name: str) -> PictureFile:
    """A picture or a drawing as what it is. Raises PlanError where it is none or is damaged."""
    art = open_drawing(data, name) if is_drawing(data) else open_artwork(data, name)
    carried = carried_chart(art)
    if carried:
        return PictureFile(art, CARRIED, carried=carried)
    if art.looks_flat:
        return PictureFile(art, GRID if _read_if_grid(art) else FLAT)
    corners = find_corners(art)
    size = _cells_between(art, corners)
    # To look for a grid takes half a second in a camera's picture, where it is in vain.
    is_large = art.pixels.size > 3 * LARGE_PX
    if is_large and corners and size and _leans(art, corners, size):
        return PictureFile(art, PRINTED, corners)
    # One that leans less has a grid, too, but may be taken for another.
    on_grid = _read_if_grid(art)
    is_the_grid = on_grid and size in (None, on_grid.cells.shape[::-1])
    if on_grid and (is_the_grid or on_grid.doubtful.mean() <= MOST_DOUBTFUL):
        return PictureFile(art, GRID, corners)
    return PictureFile(art, PRINTED if size else PHOTO, corners)


def _leans(art: Artwork, corners: Corners, size: tuple[int, int]) -> bool:
    """Whether a side of the chart clearly leans, by a cell or more: nothing reads it as it is."""
    height, width = art.pixels.shape[:2]
    points = np.array(corners) * (width, height)
    sides = np.abs(np.roll(points, -1, axis=0) - points)
    stitches, rows = size
    # Along the top and the bottom up and down, along the others sideways.
    off = max(sides[0, 1], sides[2, 1]), max(sides[1, 0], sides[3, 0])
    clearly = CLEARLY_LEANS * max(width, height)
    cell = max(clearly, sides[1, 1] / rows), max(clearly, sides[0, 0] / stitches)
    return bool(off[0] > cell[0] or off[1] > cell[1])


def _cells_between(art: Artwork, corners: Corners | None) -> tuple[int, int] | None:
    """Stitches and rows between corners, if they can be counted."""
    try:
        return count_cells(art, corners) if corners else None
    except PlanError:
        return None


# ---- the pages of a PDF


@dataclass(frozen=True, eq=False)
class DocumentFile:
    """A PDF, whose pages are pictures: vector pages are drawn, so that they are read exactly."""

    document: Document
    _opened: dict[int, PictureFile] = field(default_factory=dict)

    def page(self, number: int) -> PictureFile:
        """A page, from 1, as a picture of a chart."""
        if number not in self._opened:
            finer = partial(self.document.picture, number)
            # Only the last page stays open: each takes some megabytes.
            self._opened.clear()
            # Nothing else: a page of words would become a chart of the words.
            self._opened[number] = PictureFile(finer(), GRID, finer=finer)
        return self._opened[number]

    @cached_property
    def first_chart(self) -> int:
        """The first page with a chart on it among the first few; 1 where there is none."""
        pages = range(1, min(self.document.pages, PAGES_LOOKED_AT) + 1)
        if len(pages) == 1:
            return 1
        return next((page for page in pages if self.page(page).has_grid(None)), 1)
