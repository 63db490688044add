"""Where the labels of the strands go on their map: inside where there is room, else beside.

A strand may lie in several parts, and each has its label. It stands where the whole text fits into
the part, as near its middle as can be. A part that is too small for that has its label at the
nearest free place round it, with a line. Lengths are in points, x from the left and y from the
bottom of the chart, so that a label's size can be told from its letters.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import ndimage

from planner.strands import connected_parts

LABEL_PT = 7.5
LINE_PT = 1.12 * LABEL_PT
# Beyond so many labels with a line to what is too small for them, these would hide the chart.
MOST_CALLOUTS = 150
# How many times its own size a text has for itself, where there is room; at the least it touches
# the edges of its part a little.
AIR = (1.6, 1.25, 0.9)
Field = tuple[int, int]  # of the page: its column and its row
FIELD_PT = 40  # about as wide as a label
# A label beside its part is looked for on rings round it, the nearest first. The rings are wider
# than high, as labels are.
RADII = range(14, 160, 8)
ANGLES = np.linspace(0, 2 * np.pi, 16, endpoint=False)
RIGHT = 1.4 * np.cos(ANGLES)
UP = np.sin(ANGLES)
# Two views of a grid for each way in which two of its cells touch.
BESIDE = (
    (np.s_[:, 1:], np.s_[:, :-1]),
    (np.s_[1:], np.s_[:-1]),
    (np.s_[1:, 1:], np.s_[:-1, :-1]),
    (np.s_[1:, :-1], np.s_[:-1, 1:]),
)


@dataclass(frozen=True)
class Part:
    """A part of a strand that hangs together on the chart.

    `mask` says which cells are its own, beginning at this row and column; the `stitches` are those
    of the whole strand.
    """

    strand: int
    name: str
    stitches: int
    mask: np.ndarray
    row: int
    column: int

    @property
    def size(self) -> int:
        """How many stitches lie in the part."""
        return int(np.count_nonzero(self.mask))

    @property
    def place(self) -> tuple[slice, slice]:
        """The rows and columns of the chart over which the part reaches."""
        rows, columns = self.mask.shape
        return slice(self.row, self.row + rows), slice(self.column, self.column + columns)


@dataclass(frozen=True)
class Label:
    """A text and its middle; with a tip, it stands beside its part and a line leads there."""

    text: str
    x: float
    y: float
    strand: int = 0
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
    """The surface of the chart, its cells, and the boxes that labels cover on it.

    `marked` says which cells bear a mark already.
    """

    def __init__(self, marked: np.ndarray, *, stitch_pt: float, row_pt: float):
        rows, columns = marked.shape
        self.width = columns * stitch_pt
        self.height = rows * row_pt
        self._marked = marked
        self.stitch_pt = stitch_pt
        self.row_pt = row_pt
        # Boxes by the fields of the page that they lie in: only near ones can overlap.
        self._near: dict[Field, list[Box]] = defaultdict(list)
        self._is_small = np.zeros_like(marked)

    def keep_clear(self, part: Part) -> None:
        """Let no label beside its part hide this part."""
        self._is_small[part.place] |= part.mask

    def hides_nothing(self, box: Box) -> bool:
        """Whether the box hides nothing of what is to be kept clear."""
        left = max(0, int((box.x - box.width / 2) // self.stitch_pt))
        right = math.ceil((box.x + box.width / 2) / self.stitch_pt)
        bottom = max(0, int((box.y - box.height / 2) // self.row_pt))
        top = math.ceil((box.y + box.height / 2) / self.row_pt)
        return not self._is_small[bottom:top, left:right].any()

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

    def place_in(self, part: Part, width: float, height: float) -> tuple[float, float] | None:
        """The middle of a box of this size within the part, as near its middle as can be."""
        wide = max(1, math.ceil(width / self.stitch_pt))
        high = max(1, math.ceil(height / self.row_pt))
        if part.mask.shape[0] < high or part.mask.shape[1] < wide:
            return None
        filled = _filled(part.mask & ~self._marked[part.place], high, wide)
        if not filled.any():
            filled = _filled(part.mask, high, wide)
        row, column = np.nonzero(filled)
        if not len(row):
            return None
        x = (column + wide / 2) * self.stitch_pt
        y = (row + high / 2) * self.row_pt
        own_row, own_column = np.nonzero(part.mask)
        middle_x = (own_column.mean() + 0.5) * self.stitch_pt
        middle_y = (own_row.mean() + 0.5) * self.row_pt
        nearest = np.argmin((x - middle_x) ** 2 + (y - middle_y) ** 2)
        left = part.column * self.stitch_pt
        bottom = part.row * self.row_pt
        return left + float(x[nearest]), bottom + float(y[nearest])


def _filled(mask: np.ndarray, high: int, wide: int) -> np.ndarray:
    """For every box of so many cells in a mask, by its first one, whether the mask fills it."""
    # Sums over all that lies below and before: four of them give that over a box.
    sums = np.zeros((mask.shape[0] + 1, mask.shape[1] + 1), dtype=int)
    sums[1:, 1:] = mask.cumsum(axis=0).cumsum(axis=1)
    upper = sums[high:, wide:] - sums[high:, :-wide]
    lower = sums[:-high, wide:] - sums[:-high, :-wide]
    return upper - lower == high * wide


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


def parts_of(grid: np.ndarray, names: Sequence[str]) -> list[Part]:
    """The parts of all strands of a grid (see `strand_grid`), the largest first.

    What touches at a corner hangs together.
    """
    number = _numbered_parts(grid)
    sizes = np.bincount(grid[grid >= 0], minlength=len(names))
    found = []
    # Only the piece of the grid that a part lies in is looked at.
    for part, place in enumerate(ndimage.find_objects(number), start=1):
        if place is None:
            continue  # cells without a stitch
        rows, columns = place
        mask = number[place] == part
        strand = int(grid[place][mask][0])
        stitches = int(sizes[strand])
        found.append(Part(strand, names[strand], stitches, mask, rows.start, columns.start))
    return sorted(found, key=lambda part: -part.size)


def _numbered_parts(grid: np.ndarray) -> np.ndarray:
    """The part of a strand that each cell lies in, from 1; 0 is no stitch."""
    cells = np.arange(grid.size).reshape(grid.shape)
    a, b = [], []
    for these, those in BESIDE:
        alike = grid[these] == grid[those]
        a.append(cells[these][alike])
        b.append(cells[those][alike])
    part = connected_parts(np.concatenate(a), np.concatenate(b), grid.size)
    return np.where(grid >= 0, part.reshape(grid.shape) + 1, 0)


def place_labels(parts: Sequence[Part], page: Page) -> list[Label]:
    """A label for each part: its name; where there is room in the largest of a strand its stitches.

    Where more than MOST_CALLOUTS have no room inside, only strands that bear no label yet have one
    beside them; where these are too many as well, none has.
    """
    labels, without, named = [], [], set()
    for part in parts:
        is_main = part.strand not in named
        label = _inside(part, page, is_main=is_main)
        named.add(part.strand)
        if label is None:
            without.append((part, is_main))
        else:
            labels.append(label)
    if len(without) > MOST_CALLOUTS:
        labelled = {label.strand for label in labels}
        without = [each for each in without if each[1] and each[0].strand not in labelled]
    if len(without) <= MOST_CALLOUTS:
        for part, _ in without:
            page.keep_clear(part)
        labels += [_beside(part, page, is_main=is_main) for part, is_main in without]
    return labels


def _inside(part: Part, page: Page, *, is_main: bool) -> Label | None:
    """Name and stitches, or else the name alone, if there is room inside the part."""
    texts = (f"{part.name}\n{part.stitches}", part.name) if is_main else (part.name,)
    for text in texts:
        width, height = _inside_size(text)
        for air in AIR:
            place = page.place_in(part, air * width, air * height)
            if place is not None:
                page.take(Box(*place, width, height))
                return Label(text, *place, part.strand)
    return None


def _beside(part: Part, page: Page, *, is_main: bool) -> Label:
    """The label at the nearest free place round the part, or on it if none is free."""
    text = f"{part.name} {part.stitches}" if is_main else part.name
    tip = page.place_in(part, 0, 0)
    assert tip is not None
    # The frame that is drawn round it counts.
    width = 0.62 * LABEL_PT * len(text) + 4
    height = 1.3 * LABEL_PT
    on_it = Box(*tip, width, height)
    free = list(filter(page.is_free, _boxes_round(on_it)))
    box = next(filter(page.hides_nothing, free), free[0] if free else on_it)
    page.take(box)
    return Label(text, box.x, box.y, part.strand, tip)


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
