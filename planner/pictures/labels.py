"""Where the labels of the strands go on their map: inside where there is room, else beside.

Strands with the most room are labelled first. A label that does not fit inside its strand goes to
the nearest free place round it, with a line. Lengths are in points, x from the left and y from
the bottom of the chart, so that a label's size can be told from its letters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import ndimage

LABEL_PT = 7.5
# Beyond so many strands, a line to each that is too small for its label would hide the chart.
MOST_CALLOUTS = 150
# A label beside its strand is looked for on rings round it, on each in 16 directions.
RINGS = range(14, 160, 8)
DIRECTIONS = np.linspace(0, 2 * np.pi, 16, endpoint=False)


@dataclass(frozen=True)
class Spot:
    """The middle of a strand where it is widest, and the room there is round it."""

    x: float
    y: float
    room: float


@dataclass(frozen=True)
class Label:
    """A text and its middle; with a tip, it stands beside its strand and a line leads there."""

    text: str
    x: float
    y: float
    tip: tuple[float, float] | None = None


class Box(NamedTuple):
    """What a label covers: its middle, its width and its height."""

    x: float
    y: float
    width: float
    height: float


class Page:
    """The chart's surface, and the boxes that labels cover on it."""

    def __init__(self, width: float, height: float):
        self.width = width
        self.height = height
        self.taken: list[Box] = []

    def is_free(self, box: Box) -> bool:
        """Whether the box lies within the page and covers no other."""
        x, y, width, height = box
        within_width = width / 2 <= x <= self.width - width / 2
        within_height = height / 2 <= y <= self.height - height / 2
        if not (within_width and within_height):
            return False
        for other_x, other_y, other_width, other_height in self.taken:
            beside = abs(x - other_x) * 2 >= width + other_width
            above = abs(y - other_y) * 2 >= height + other_height
            if not (beside or above):
                return False
        return True


def widest_spots(grid: np.ndarray, *, stitch_pt: float, row_pt: float) -> list[Spot]:
    """Where each strand of a grid is widest; the grid is as `strand_grid` makes it."""
    spots = []
    cell = min(row_pt, stitch_pt)
    for strand, (rows, columns) in enumerate(ndimage.find_objects(grid + 1)):
        # A rim of one cell, so that the edge of the cut-out counts as an edge of the strand.
        inside = np.pad(grid[rows, columns] == strand, 1)
        depth = ndimage.distance_transform_edt(inside, sampling=(row_pt, stitch_pt))
        row, column = np.unravel_index(depth.argmax(), depth.shape)
        x = (columns.start + column - 0.5) * stitch_pt
        y = (rows.start + row - 0.5) * row_pt
        # Depth is measured between middles of stitches, half a cell too far at either side.
        spots.append(Spot(x, y, 2 * float(depth.max()) - cell))
    return spots


def place_labels(
    spots: Sequence[Spot], names: Sequence[str], counts: Sequence[int], page: Page
) -> list[Label]:
    """A label for each strand: its name, and its count of stitches where there is room for it.

    Where there are more than MOST_CALLOUTS strands, small ones go without.
    """
    labels = []
    for strand in sorted(range(len(spots)), key=lambda strand: -spots[strand].room):
        spot, name, count = spots[strand], names[strand], counts[strand]
        label = _inside(spot, (f"{name}\n{count}", name), page)
        if label is None and (len(names) <= MOST_CALLOUTS or spot.room >= _inside_size(name)[1]):
            label = _beside(spot, f"{name} {count}", page)
        if label is not None:
            labels.append(label)
    return labels


def _inside(spot: Spot, texts: Sequence[str], page: Page) -> Label | None:
    """The first of the texts that fits inside the strand, if one does."""
    for text in texts:
        box = Box(spot.x, spot.y, *_inside_size(text))
        if spot.room >= 0.9 * box.height and page.is_free(box):
            page.taken.append(box)
            return Label(text, spot.x, spot.y)
    return None


def _beside(spot: Spot, text: str, page: Page) -> Label:
    """The text at the nearest free place round the strand; on the strand where none is free."""
    width = 0.62 * LABEL_PT * len(text) + 4
    height = 1.3 * LABEL_PT
    boxes = (Box(x, y, width, height) for x, y in _places_round(spot))
    box = next(filter(page.is_free, boxes), Box(spot.x, spot.y, width, height))
    page.taken.append(box)
    return Label(text, box.x, box.y, tip=(spot.x, spot.y))


def _inside_size(text: str) -> tuple[float, float]:
    """Width and height of a text of one or two lines, estimated from its letters."""
    lines = text.split("\n")
    return 0.64 * LABEL_PT * max(map(len, lines)) + 1, 1.12 * LABEL_PT * len(lines)


def _places_round(spot: Spot) -> Iterator[tuple[float, float]]:
    """Places on rings round a spot, the nearest ring first; rings are wide, as labels are."""
    for radius in RINGS:
        for angle in DIRECTIONS:
            yield spot.x + radius * 1.4 * np.cos(angle), spot.y + radius * np.sin(angle)
