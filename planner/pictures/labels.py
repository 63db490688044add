"""Where the labels of the strands go on their map: inside where there is room, else beside.

Strands with the most room are labelled first. A label that does not fit inside its strand goes to
the nearest free place round it, with a line. Lengths are in points, x from the left and y from
the bottom of the chart, so that a label's size can be told from its letters.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import ndimage

LABEL_PT = 7.5
LINE_PT = 1.12 * LABEL_PT
# Beyond so many strands, a line to each that is too small for its label would hide the chart.
MOST_CALLOUTS = 150
Field = tuple[int, int]  # of the page: its column and its row
FIELD_PT = 40  # about as wide as a label
# A label beside its strand is looked for on rings round it, the nearest first. The rings are wider
# than high, as labels are.
RADII = range(14, 160, 8)
ANGLES = np.linspace(0, 2 * np.pi, 16, endpoint=False)
RIGHT = 1.4 * np.cos(ANGLES)
UP = np.sin(ANGLES)


@dataclass(frozen=True)
class Spot:
    """The place where a strand is widest, and the room there."""

    x: float
    y: float
    room: float
    name: str
    stitches: int


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

    def is_clear_of(self, other: Box) -> bool:
        """Whether the two do not overlap."""
        apart = 2 * abs(self.x - other.x)
        if apart >= self.width + other.width:
            return True
        apart = 2 * abs(self.y - other.y)
        return apart >= self.height + other.height


class Page:
    """The surface of the chart, and the boxes that labels cover on it."""

    def __init__(self, width: float, height: float):
        self.width = width
        self.height = height
        # Boxes by the fields of the page that they lie in: only near ones can overlap.
        self._near: dict[Field, list[Box]] = defaultdict(list)

    def take(self, box: Box) -> None:
        """Cover this box."""
        for field in _fields_of(box):
            self._near[field].append(box)

    def is_free(self, box: Box) -> bool:
        """Whether the box lies within the page and covers no other."""
        side = box.width / 2
        if not side <= box.x <= self.width - side:
            return False
        rise = box.height / 2
        if not rise <= box.y <= self.height - rise:
            return False
        for field in _fields_of(box):
            for taken in self._near.get(field, ()):
                if not box.is_clear_of(taken):
                    return False
        return True


def _fields_of(box: Box) -> Iterator[Field]:
    """The fields of the page in which some part of the box lies."""
    for column in _fields_along(box.x, box.width):
        for row in _fields_along(box.y, box.height):
            yield column, row


def _fields_along(middle: float, length: float) -> range:
    """The fields that lie along one side of a box."""
    half = length / 2
    first = int((middle - half) // FIELD_PT)
    last = int((middle + half) // FIELD_PT)
    return range(first, last + 1)


def widest_spots(
    grid: np.ndarray,
    names: Sequence[str],
    *,
    stitch_pt: float,
    row_pt: float,
) -> list[Spot]:
    """Where each strand of a grid (see `strand_grid`) is widest."""
    spots = []
    cell = min(row_pt, stitch_pt)
    # Only the part of the grid that a strand lies in is looked at; ndimage takes 0 for nothing.
    parts = ndimage.find_objects(grid + 1)
    for strand, (rows, columns) in enumerate(parts):
        of_strand = grid[rows, columns] == strand
        # With a rim of one cell, an edge of the part counts as an edge of the strand.
        height, width = of_strand.shape
        framed = np.zeros((height + 2, width + 2), dtype=bool)
        inside = framed[1:-1, 1:-1]
        inside[:] = of_strand
        depth = ndimage.distance_transform_edt(framed, sampling=(row_pt, stitch_pt))
        deepest = np.unravel_index(depth.argmax(), depth.shape)
        row = rows.start + int(deepest[0])
        column = columns.start + int(deepest[1])
        spot = Spot(
            # The middle of the cell, which lies one less in the grid than in its frame.
            x=(column - 0.5) * stitch_pt,
            y=(row - 0.5) * row_pt,
            # Depth is measured between middles of cells, half a cell too far at either side.
            room=2 * float(depth.max()) - cell,
            name=names[strand],
            stitches=int(of_strand.sum()),
        )
        spots.append(spot)
    return spots


def place_labels(spots: Sequence[Spot], page: Page) -> list[Label]:
    """A label for each strand: its name, and its stitches where there is room for them.

    Where there are more than MOST_CALLOUTS strands, small ones go without.
    """
    labels = []
    few = len(spots) <= MOST_CALLOUTS
    # What has room for its label takes it, before others are put beside their strands.
    for spot in sorted(spots, key=lambda spot: -spot.room):
        label = _inside(spot, page)
        if label is None:
            if not few and spot.room < LINE_PT:
                continue
            label = _beside(spot, page)
        labels.append(label)
    return labels


def _inside(spot: Spot, page: Page) -> Label | None:
    """Name and stitches, or else the name alone, if there is room inside the strand."""
    for text in (f"{spot.name}\n{spot.stitches}", spot.name):
        width, height = _inside_size(text)
        box = Box(spot.x, spot.y, width, height)
        # A label may touch the edges of its strand a little.
        if spot.room >= 0.9 * height and page.is_free(box):
            page.take(box)
            return Label(text, spot.x, spot.y)
    return None


def _beside(spot: Spot, page: Page) -> Label:
    """Name and stitches at the nearest free place round the strand, or on it if none is free."""
    text = f"{spot.name} {spot.stitches}"
    # The frame that is drawn round it counts.
    width = 0.62 * LABEL_PT * len(text) + 4
    height = 1.3 * LABEL_PT
    on_it = Box(spot.x, spot.y, width, height)
    free = filter(page.is_free, _boxes_round(on_it))
    box = next(free, on_it)
    page.take(box)
    tip = (spot.x, spot.y)
    return Label(text, box.x, box.y, tip)


def _inside_size(text: str) -> tuple[float, float]:
    """Width and height of a text of one or two lines, estimated from its letters."""
    lines = text.split("\n")
    letters = max(map(len, lines))
    width = 0.64 * LABEL_PT * letters + 1  # a wide letter and a little air
    return width, LINE_PT * len(lines)


def _boxes_round(box: Box) -> Iterator[Box]:
    for radius in RADII:
        for right, up in zip(RIGHT.tolist(), UP.tolist(), strict=True):
            x = box.x + radius * right
            y = box.y + radius * up
            yield Box(x, y, box.width, box.height)
