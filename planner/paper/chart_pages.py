"""Chart pages: the chart over as many pages as are legible, and the map of its strands.

Neighbouring pages share one row and one column. Pages count as the piece grows: from the bottom,
and from the right, where stitch 1 is.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from planner.colour import NO_STITCH_GREY, ink_on
from planner.paper.drawing import EDGE, GRID_GREY, Drawing, Line, stretches
from planner.paper.papers import POINTS_PER_MM, Paper
from planner.paper.signs import Signs, width_of
from planner.pictures import (
    Label,
    Page,
    parts_of,
    place_labels,
    strand_grid,
    strand_shades,
)
from planner.piece import Construction
from planner.plan import Plan
from planner.units import counted

# The shorter side of a cell, at least and at most, and how much of its height a letter takes. The
# smallest letters are 1.8 mm high; at arm's length (60 cm) these are 10 minutes of arc, twice what
# an eye needs that sees well (20/20 is 5 minutes, by definition).
LEAST_MM, MOST_MM = 2.8, 7.0
LETTER_IN_CELL = 0.66
CAPITAL = 0.73  # how high a capital is, as a share of the size of its font
LARGEST_LETTER_PT, SMALLEST_LETTER_PT = 9.5, 3.0
ROW_NUMBERS_PT, STITCH_NUMBERS_PT = 22, 14  # room for the numbers at each side, and below
HEADING_PT = 58
UNDER_KEY_PT = 12
KEY_LINE_PT, KEY_COLUMNS, KEY_PATCH_PT = 15, 4, 30
EVERY = 5  # stitches are numbered so
OVERVIEW_MM = (84, 88)
ROOM_FOR_A_LETTER_PT = 7.0
MOST_LETTERED = 150  # areas that bear a letter on the small chart, the largest first
MAP_MM = 15.0  # the longer side of the map of pages
STRAND_EDGE_PT = 0.8

Place = tuple[float, float]  # of a drawing, in points from the left and from the top


@dataclass(frozen=True)
class Tile:
    """The part of a chart that one page shows; rows and columns from 0, ends not included."""

    left: int
    right: int
    bottom: int
    top: int

    @property
    def columns(self) -> int:
        return self.right - self.left

    @property
    def rows(self) -> int:
        return self.top - self.bottom

    def of(self, cells: np.ndarray) -> np.ndarray:
        """Its part of the cells of a chart."""
        return cells[self.bottom : self.top, self.left : self.right]


def cut(length: int, most: int) -> list[tuple[int, int]]:
    """A length in the fewest stretches of at most so many, each sharing one with the next."""
    # Each page but the first shows one that was shown before.
    steps = length - 1
    pages = max(1, math.ceil(steps / (most - 1)))
    places = [round(page * steps / pages) for page in range(pages + 1)]
    found = []
    for first, last in pairwise(places):
        found.append((first, last + 1))
    return found


def tiles(columns: int, rows: int, aspect: float, room: tuple[float, float]) -> list[Tile]:
    """The pages of a chart, as the piece grows: from the bottom, each tier from the right.

    `aspect` is the height of a cell ÷ its width; `room` is that for the cells, in points.
    """
    width, height = _smallest_cell(aspect)
    across = cut(columns, max(2, int(room[0] / width)))
    up = cut(rows, max(2, int(room[1] / height)))
    found = []
    for bottom, top in up:
        for left, right in reversed(across):
            found.append(Tile(left, right, bottom, top))
    return found


def _smallest_cell(aspect: float) -> tuple[float, float]:
    """Width and height of the smallest cell that is legible, in points."""
    shorter = LEAST_MM * POINTS_PER_MM
    if aspect < 1:
        return shorter / aspect, shorter
    return shorter, shorter * aspect


def cell_that_fits(
    columns: int, rows: int, aspect: float, room: tuple[float, float]
) -> tuple[float, float]:
    """Width and height of the largest cell, in points, so that all of them fit into the room."""
    room_width, room_height = room
    widest = room_width / columns
    highest = room_height / rows
    most = MOST_MM * POINTS_PER_MM / min(1, aspect)
    width = min(widest, highest / aspect, most)
    return width, width * aspect


def key_width(paper: Paper) -> float:
    """The room for a name in the key to the yarns, in points."""
    width, _ = paper.room
    return width / KEY_COLUMNS - KEY_PATCH_PT


class ChartOnPaper:
    """The chart of a plan as it is printed, in the colours and letters of its yarns."""

    def __init__(self, plan: Plan, signs: Signs):
        self.plan = plan
        self.how = plan.project.how
        self.chart = plan.project.chart
        yarns = plan.project.all_yarns
        letters = self.chart.letters
        self.letters = [signs.letter(letter) for letter in letters]
        self.colours = [*(yarns[letter].colour for letter in letters), NO_STITCH_GREY]
        self.inks = [ink_on(colour) for colour in self.colours]
        times = self.how.rows_per_chart_row
        self.aspect = float(plan.project.gauge.aspect) * times

    @property
    def cells(self) -> np.ndarray:
        return self.chart.cells

    def overview(self) -> dict[str, Any]:
        """The whole chart, small, with a letter in each area that has room for one."""
        room = (OVERVIEW_MM[0] * POINTS_PER_MM, OVERVIEW_MM[1] * POINTS_PER_MM)
        rows, columns = self.cells.shape
        drawing = Drawing(rows, columns, *cell_that_fits(columns, rows, self.aspect, room))
        drawing.fill(self.cells, self.colours)
        drawing.part(self.cells, width=0.5)
        drawing.frame()
        return {
            **_drawn(drawing, f"The chart, {columns} stitches and {rows} rows"),
            "letters": self._letters_of_areas(drawing),
        }

    def _letters_of_areas(self, drawing: Drawing) -> list[dict[str, Any]]:
        """The letter of each area that has room for it, in its widest place."""
        areas, first_cell, sizes = np.unique(
            self.plan.drawn_areas, return_index=True, return_counts=True
        )
        # Small areas have no room for certain, and looking for it takes long.
        cell_pt2 = drawing.cell_width * drawing.cell_height
        is_large = (sizes * cell_pt2 >= ROOM_FOR_A_LETTER_PT**2) & (areas > 0)
        largest = np.argsort(-sizes * is_large, kind="stable")[:MOST_LETTERED]
        chosen = largest[is_large[largest]]
        number = np.full(areas.max() + 1, -1)
        number[areas[chosen]] = np.arange(len(chosen))
        yarn_of_cell = self.cells.ravel()
        yarns: list[int] = yarn_of_cell[first_cell[chosen]].tolist()
        page = _page_of(drawing, self.plan.drawn_areas < 0)
        places: dict[int, list[Place]] = defaultdict(list)
        for part in parts_of(number[self.plan.drawn_areas], [""] * len(chosen)):
            place = page.place_in(part, ROOM_FOR_A_LETTER_PT, ROOM_FOR_A_LETTER_PT)
            if place is not None:
                x, y = place
                places[yarns[part.strand]].append((round(x, 2), round(drawing.height - y, 2)))
        return [self._lettering(yarn, places[yarn], size=6.5) for yarn in sorted(places)]

    def _lettering(self, yarn: int, places: Sequence[Place], *, size: float) -> dict[str, Any]:
        """The letter of a yarn at some places of a drawing."""
        return {
            "letter": self.letters[yarn],
            "ink": self.inks[yarn],
            "size": round(size, 2),
            "places": places,
        }

    def pages(self, paper: Paper) -> list[dict[str, Any]]:
        """The pages of the chart on this paper, each with its map of them all."""
        rows, columns = self.cells.shape
        room = self._room_on(paper)
        found = tiles(columns, rows, self.aspect, room)
        # All pages at one scale, that of the fullest.
        most_columns = max(tile.columns for tile in found)
        most_rows = max(tile.rows for tile in found)
        cell = cell_that_fits(most_columns, most_rows, self.aspect, room)
        return [self._page(found, number, cell) for number in range(len(found))]

    def _room_on(self, paper: Paper) -> tuple[float, float]:
        """The room for cells on a page, beside its heading, the numbers and the key."""
        width, height = paper.room
        key_lines = math.ceil(len(self.letters) / KEY_COLUMNS)
        key_height = key_lines * KEY_LINE_PT + UNDER_KEY_PT
        height -= HEADING_PT + STITCH_NUMBERS_PT + key_height
        return width - 2 * ROW_NUMBERS_PT, height

    def _page(
        self, found: Sequence[Tile], number: int, cell: tuple[float, float]
    ) -> dict[str, Any]:
        """A page of the chart, one of those found."""
        tile = found[number]
        cells = tile.of(self.cells)
        columns = self.chart.columns
        drawing = Drawing(tile.rows, tile.columns, *cell)
        drawing.fill(cells, self.colours)
        drawing.rule(stitches_before=columns - tile.right, rows_before=tile.bottom)
        drawing.part(cells)
        self._mark_embroidery(drawing, tile)
        drawing.frame()
        where = self._where(tile)
        return {
            **_drawn(drawing, f"The chart, {where}"),
            "where": where.capitalize(),
            "letters": self._letters_of_runs(tile, drawing),
            "rows": list(self._row_numbers(tile, drawing)),
            "stitches": list(_stitch_numbers(tile, columns, drawing)),
            "map": _map_of_pages(found, number, columns, self.chart.rows, self.aspect),
        }

    def _where(self, tile: Tile) -> str:
        """Which rows and stitches a page shows: "rows 1–49, stitches 1–36"."""
        times = self.how.rows_per_chart_row
        first_row = tile.bottom * times + 1
        last_row = tile.top * times
        first = self.chart.columns - tile.right + 1
        last = self.chart.columns - tile.left
        word = self.how.row_word
        return f"{word}s {first_row}–{last_row}, stitches {first}–{last}"

    def _mark_embroidery(self, drawing: Drawing, tile: Tile) -> None:
        """Mark each stitch that is embroidered afterwards with a V."""
        embroidered = tile.of(self.plan.embroidered)
        for yarn, ink in enumerate(self.inks[:-1]):
            _mark(drawing, embroidered == yarn, ink)

    def _letters_of_runs(self, tile: Tile, drawing: Drawing) -> list[dict[str, Any]]:
        """The letter of its yarn in the middle of every run that is knitted."""
        # What is embroidered bears a V there.
        embroidered = tile.of(self.plan.embroidered) >= 0
        cells = np.where(embroidered, -1, tile.of(self.cells))
        lettered = []
        for yarn, letter in enumerate(self.letters):
            places = []
            for row, first, end in stretches(cells == yarn):
                middle = (first + end) / 2
                places.append(drawing.at(middle, row + 0.5))
            if places:
                size = _letter_size(letter, drawing)
                lettered.append(self._lettering(yarn, places, size=size))
        return lettered

    def _row_numbers(self, tile: Tile, drawing: Drawing) -> Iterator[dict[str, Any]]:
        """The worked rows, each numbered at the side where it begins."""
        times = self.how.rows_per_chart_row
        for row in range(tile.bottom, tile.top):
            _, y = drawing.at(0, row - tile.bottom + 0.5)
            by_side: dict[str, list[str]] = defaultdict(list)
            first = row * times
            for worked in range(first, first + times):
                side = "right" if self.how.runs_leftwards(worked) else "left"
                by_side[side].append(str(worked + 1))
            for side, numbers in by_side.items():
                yield {"y": y, "side": side, "text": ", ".join(numbers)}


def _mark(drawing: Drawing, is_marked: np.ndarray, ink: str) -> None:
    """Mark cells with a V, as a duplicate stitch looks."""
    marks: list[Line] = []
    for row, column in np.argwhere(is_marked).tolist():
        x, y = column + 0.5, row + 0.2
        marks.append((column + 0.2, row + 0.8, x, y))
        marks.append((x, y, column + 0.8, row + 0.8))
    drawing.lines(marks, width=0.9, colour=ink)


def _letter_size(letter: str, drawing: Drawing) -> float:
    """The size of letters that fit into a cell, in points."""
    high = drawing.cell_height * LETTER_IN_CELL / CAPITAL
    wide = drawing.cell_width * 0.95 / width_of(letter)
    fitted = min(high, wide, LARGEST_LETTER_PT)
    return max(SMALLEST_LETTER_PT, fitted)


def _every_fifth_row(how: Construction, rows: int, drawing: Drawing) -> Iterator[dict[str, Any]]:
    """Worked row 1 and every fifth, each at the side where it begins."""
    for row in range(rows):
        if not row or not (row + 1) % EVERY:
            _, y = drawing.at(0, row + 0.5)
            side = "right" if how.runs_leftwards(row) else "left"
            yield {"y": y, "side": side, "text": str(row + 1)}


def _stitch_numbers(tile: Tile, columns: int, drawing: Drawing) -> Iterator[dict[str, Any]]:
    """Stitch 1 and every fifth, counted from the right."""
    for place in range(tile.columns):
        stitch = columns - tile.left - place
        if stitch == 1 or not stitch % EVERY:
            x, _ = drawing.at(place + 0.5, 0)
            yield {"x": x, "text": str(stitch)}


def _map_of_pages(
    found: Sequence[Tile], number: int, columns: int, rows: int, aspect: float
) -> dict[str, Any]:
    """Where the page lies on the chart: all pages as boxes, in mm from the top left."""
    wide = MAP_MM / max(columns, rows * aspect)  # a cell on the map, mm
    high = wide * aspect
    boxes = []
    for page, tile in enumerate(found):
        box = {
            "x": tile.left * wide,
            "y": (rows - tile.top) * high,
            "width": tile.columns * wide,
            "height": tile.rows * high,
            "this": page == number,
        }
        boxes.append(box)
    return {"width": columns * wide, "height": rows * high, "boxes": boxes}


def _drawn(drawing: Drawing, alt: str) -> dict[str, Any]:
    """A drawing as the template takes it."""
    return {
        "svg": drawing.svg(),
        "width": round(drawing.width, 2),
        "height": round(drawing.height, 2),
        "alt": alt,
    }


def _page_of(drawing: Drawing, marked: np.ndarray) -> Page:
    """The surface of a drawing, on which places for words are looked for."""
    return Page(marked, stitch_pt=drawing.cell_width, row_pt=drawing.cell_height)


def strand_map(plan: Plan, paper: Paper, signs: Signs) -> dict[str, Any]:
    """The chart by strands, each in a shade of its yarn, with its label and its stitches."""
    strands = plan.traced
    grid = strand_grid(plan)
    rows, columns = grid.shape
    width, height = paper.room
    room = (width - 2 * ROW_NUMBERS_PT, height - HEADING_PT - STITCH_NUMBERS_PT)
    aspect = float(plan.project.gauge.aspect)
    drawing = Drawing(rows, columns, *cell_that_fits(columns, rows, aspect, room))
    shades = strand_shades(plan, grid)
    # Strands of one shade are filled together; −1 looks up the last, which is no stitch.
    colours = sorted(set(shades))
    colour_of = np.array([*(colours.index(shade) for shade in shades), len(colours)])
    drawing.fill(colour_of[grid], [*colours, NO_STITCH_GREY])
    drawing.part(grid, width=STRAND_EDGE_PT)
    no_stitch = [(x, y, x + 1, y + 1) for y, x in np.argwhere(grid < 0).tolist()]
    drawing.lines(no_stitch, width=0.4, colour=GRID_GREY)
    embroidered = np.repeat(plan.embroidered >= 0, strands.how.rows_per_chart_row, axis=0)
    inks = np.array([*map(ink_on, shades), ink_on(NO_STITCH_GREY)])
    for ink in ("black", "white"):
        _mark(drawing, embroidered & (inks[grid] == ink), ink)
    drawing.frame()
    parts = parts_of(grid, [signs.text(label) for label in strands.labels])
    labels = place_labels(parts, _page_of(drawing, embroidered))
    # What found no free place lies on others, and could be read no better than they.
    labels = [label for label in labels if label.tip != (label.x, label.y)]
    ways = list(_ways(labels, drawing))
    drawing.lines(ways, width=1.8, colour="#ffffff")
    drawing.lines(ways, width=0.7, colour=EDGE)
    labelled = {label.strand for label in labels}
    unlabelled = strands.count - len(labelled)
    without = ""
    if unlabelled:
        without = f"{counted(unlabelled, 'strand')} too small for a label here: see the tags."
    return {
        **_drawn(drawing, f"The map of {counted(strands.count, 'strand')}"),
        "labels": [_label(label, shades[label.strand], drawing) for label in labels],
        "rows": list(_every_fifth_row(strands.how, rows, drawing)),
        "stitches": list(_stitch_numbers(Tile(0, columns, 0, rows), columns, drawing)),
        "under": STITCH_NUMBERS_PT,
        "without": without,
    }


def _ways(labels: Sequence[Label], drawing: Drawing) -> Iterator[Line]:
    """A line from each label that stands beside its strand to that strand, in cells."""
    wide, high = drawing.cell_width, drawing.cell_height
    for label in labels:
        if label.tip is not None:
            tip_x, tip_y = label.tip
            yield label.x / wide, label.y / high, tip_x / wide, tip_y / high


def _label(label: Label, shade: str, drawing: Drawing) -> dict[str, Any]:
    return {
        "x": round(label.x, 2),
        "y": round(drawing.height - label.y, 2),
        "lines": label.text.split("\n"),
        "ink": ink_on(shade),
        "boxed": label.tip is not None,
    }
