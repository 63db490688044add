"""Drawing: a grid of cells as an SVG of plain fills and lines, in points.

Fills go by run and edges by stretch, never by cell: a drawing is small, quick and crisp at any
size. Rows of a grid count from the bottom, as they are knitted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

GRID_GREY = "#808080"  # reads on light yarns and on dark ones
EDGE = "#111111"
EDGE_PT, RIM_PT = 0.9, 2.4
FINE_PT, TENTH_PT = 0.25, 0.9
RECTANGLE = "M{:g} {:g}H{:g}V{:g}H{:g}Z"  # left, top, right, bottom, left
SEGMENT = "M{:g} {:g}L{:g} {:g}"  # from and to
FILLED = 'fill="{0}" stroke="{0}" stroke-width="{1:g}"'
STROKED = 'fill="none" stroke="{}" stroke-width="{:g}" stroke-linecap="round"'
OVERLAP_PT = 0.15  # fills reach so far under their neighbours, lest paper show between them


def stretches(mask: np.ndarray) -> list[tuple[int, int, int]]:
    """Where lines of a mask are True: line, first place, and the place after the last."""
    lines, places = mask.shape
    # With a rim, what reaches to the edge begins and ends like the rest.
    framed = np.zeros((lines, places + 2), dtype=np.int8)
    framed[:, 1:-1] = mask
    steps = np.diff(framed, axis=1)
    line, first = np.nonzero(steps == 1)
    end = np.nonzero(steps == -1)[1]
    found = np.column_stack((line, first, end))
    return [tuple(stretch) for stretch in found.tolist()]


def borders(cells: np.ndarray) -> Iterator[tuple[int, int, int, int]]:
    """The stretches of border between unlike cells: from column, row to column, row."""
    left = cells[:, :-1]
    right = cells[:, 1:]
    for column, first, end in stretches((left != right).T):
        yield column + 1, first, column + 1, end
    below = cells[:-1]
    above = cells[1:]
    for row, first, end in stretches(below != above):
        yield first, row + 1, end, row + 1


Line = tuple[float, float, float, float]  # from column, row to column, row


@dataclass
class Drawing:
    """A drawing of a grid: `rows` × `columns` of cells, each so wide and high in points."""

    rows: int
    columns: int
    cell_width: float
    cell_height: float

    def __post_init__(self) -> None:
        self._parts: list[str] = []

    @property
    def width(self) -> float:
        return self.columns * self.cell_width

    @property
    def height(self) -> float:
        return self.rows * self.cell_height

    def at(self, column: float, row: float) -> tuple[float, float]:
        """A place of the grid in points, from the left and from the top."""
        x = column * self.cell_width
        y = (self.rows - row) * self.cell_height
        return round(x, 2), round(y, 2)

    def fill(self, cells: np.ndarray, colours: Sequence[str]) -> None:
        """Fill cells in the colours that they are places in; −1 is the last of them."""
        for value in np.unique(cells).tolist():
            path = []
            for row, first, end in stretches(cells == value):
                left, top = self.at(first, row + 1)
                right, bottom = self.at(end, row)
                path.append(RECTANGLE.format(left, top, right, bottom, left))
            look = FILLED.format(colours[value], OVERLAP_PT)
            self._add(look, path)

    def rule(self, *, stitches_before: int = 0, rows_before: int = 0) -> None:
        """Rule the grid, every tenth line stronger.

        What comes before it of the whole chart is counted as it is knitted: stitches from the
        right, rows from the bottom.
        """
        fine: list[Line] = []
        tenth: list[Line] = []
        for column in range(self.columns + 1):
            line = (column, 0, column, self.rows)
            stitches = self.columns - column + stitches_before
            (fine if stitches % 10 else tenth).append(line)
        for row in range(self.rows + 1):
            line = (0, row, self.columns, row)
            (fine if (row + rows_before) % 10 else tenth).append(line)
        self.lines(fine, width=FINE_PT, colour=GRID_GREY)
        self.lines(tenth, width=TENTH_PT, colour=GRID_GREY)

    def part(self, cells: np.ndarray, *, width: float = EDGE_PT) -> None:
        """Draw an edge wherever unlike cells meet, with a white rim that shows it on dark ones."""
        found = list(borders(cells))
        self.lines(found, width=width * RIM_PT / EDGE_PT, colour="#ffffff")
        self.lines(found, width=width, colour=EDGE)

    def frame(self) -> None:
        """Draw an edge round the whole grid."""
        left, top = self.at(0, self.rows)
        right, bottom = self.at(self.columns, 0)
        look = STROKED.format(EDGE, EDGE_PT)
        self._add(look, [RECTANGLE.format(left, top, right, bottom, left)])

    def lines(
        self,
        lines: Iterable[Line],
        *,
        width: float,
        colour: str,
    ) -> None:
        """Draw lines from column, row to column, row."""
        path = []
        for from_column, from_row, to_column, to_row in lines:
            begin = self.at(from_column, from_row)
            end = self.at(to_column, to_row)
            path.append(SEGMENT.format(*begin, *end))
        if path:
            look = STROKED.format(colour, width)
            self._add(look, path)

    def _add(self, look: str, path: Sequence[str]) -> None:
        steps = "".join(path)
        self._parts.append(f'<path {look} d="{steps}"/>')

    def svg(self) -> str:
        """The drawing as SVG, with room for the edges at its rim."""
        width = round(self.width + 2 * EDGE_PT, 2)
        height = round(self.height + 2 * EDGE_PT, 2)
        box = f"{-EDGE_PT} {-EDGE_PT} {width} {height}"
        size = f'width="{width}pt" height="{height}pt" viewBox="{box}"'
        drawn = "".join(self._parts)
        return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{drawn}</svg>'
