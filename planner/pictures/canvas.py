"""The canvas: what all pictures share, from their style to a sheet in the shape of the chart.

Figures are made without pyplot, so that a widget's callback may draw while a cell runs.
Colour is never alone: letters and labels say which yarn, edges part neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import matplotlib.style
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PathCollection
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.textpath import TextPath
from matplotlib.transforms import Affine2D, IdentityTransform

from planner.plan import Plan
from planner.strands import Strands

STYLE = Path(__file__).resolve().parents[2] / "shared" / "workbook.mplstyle"
# As a decorator it lets a picture be made in the workbook's style, whatever the caller's own.
in_style = matplotlib.style.context(STYLE)

INK = "#222222"
GREY = "#777777"  # what is there to compare with
WIDTH_IN = 9.0
TALLEST_IN = 15.0  # a chart that would be taller is drawn smaller
POINTS_PER_IN = 72
# Numbers along an edge stand at every n-th place, with the first of these steps that has room.
STEPS = (1, 2, 5, 10, 20, 50, 100)
ROW_NUMBER_PT = 8
STITCH_NUMBER_PT = 16


def yarn_colours(plan: Plan) -> list[str]:
    """The colour of each yarn of the knitted chart, in the order of its letters."""
    yarns = plan.project.all_yarns
    return [yarns[letter].colour for letter in plan.traced.chart.letters]


def by_worked_row(strands: Strands, cells: np.ndarray) -> np.ndarray:
    """Cells by chart row, repeated so that there is one line a worked row (garter has two)."""
    return np.repeat(cells, strands.how.rows_per_chart_row, axis=0)


def outline(width: float, colour: str) -> list[withStroke]:
    """A rim of this width, in points, under a line or a text."""
    return [withStroke(linewidth=width, foreground=colour)]


def halo(width: float) -> list[withStroke]:
    """A white rim, which parts a line or a text from what lies behind."""
    return outline(width, "white")


def fitting_step(size: float, least: float, steps: Sequence[int] = STEPS) -> int:
    """The first step at which places of this size lie at least so far apart, else the longest."""
    return next((step for step in steps if step * size >= least), steps[-1])


def stitch_ticks(columns: int, step: int) -> tuple[list[float], list[str]]:
    """Where stitch 1 and every n-th after it lie, in columns from the left, and their numbers.

    Stitches are counted from the right, as they are knitted.
    """
    numbers = [1, *range(max(step, 2), columns + 1, step)]
    return [columns - number + 0.5 for number in numbers], [str(number) for number in numbers]


def numbered_rows(rows: int, step: int, *, both_sides: bool) -> list[int]:
    """The worked rows, from 0, that bear their number: the first and every n-th.

    In flat work a row is numbered where it begins, and an even step would only ever show one side;
    with `both_sides` the row below each even one is numbered too.
    """
    chosen = {0, *range(step - 1, rows, step)}
    if both_sides and step % 2 == 0:
        chosen |= {row - 1 for row in chosen if row % 2}
    return sorted(chosen)


def write_letters(
    ax: Axes, text: str, x: np.ndarray, y: np.ndarray, *, size: float, colour: str
) -> None:
    """Write the same short text at many places; the size is in points.

    One collection of paths is far quicker than a text object for each place.
    """
    path = TextPath((0, 0), text, size=1.0)
    box = path.get_extents()
    to_middle = Affine2D().translate(-(box.x0 + box.x1) / 2, -(box.y0 + box.y1) / 2)
    marks = PathCollection(
        [path.transformed(to_middle)],
        sizes=[size**2],
        offsets=np.column_stack([x, y]),
        offset_transform=ax.transData,
    )
    marks.set(
        transform=IdentityTransform(), facecolor=colour, edgecolor="none", snap=False, zorder=4
    )
    ax.add_collection(marks, autolim=False)


def edges_between(values: np.ndarray) -> np.ndarray:
    """Lines between unlike neighbours of a grid, as n × 2 ends × (x, y).

    The cell at (row, column) spans column..column + 1 and row..row + 1.
    """
    row, column = np.nonzero(values[:, 1:] != values[:, :-1])
    upright = np.stack((column + 1, row, column + 1, row + 1), axis=1)
    row, column = np.nonzero(values[1:] != values[:-1])
    level = np.stack((column, row + 1, column + 1, row + 1), axis=1)
    return np.concatenate((upright, level)).reshape(-1, 2, 2)


class Sheet:
    """A figure with one axes in the shape of the chart, at the true aspect of its stitches.

    x counts stitches from the left edge, y worked rows from the bottom; `stitch_pt` and `row_pt`
    are the width of a stitch and the height of a row in points.
    """

    def __init__(self, strands: Strands, title: str, *, below_in: float = 0.45):
        self.strands = strands
        self.rows, self.columns = strands.runs.rows, strands.runs.columns
        width, height = self._size_in()
        self.stitch_pt = POINTS_PER_IN * width / self.columns
        self.row_pt = POINTS_PER_IN * height / self.rows
        # A narrow chart still has room for its title and legend.
        self.figure = Figure(figsize=(max(width, 4.5) + 1.0, height + 0.5 + below_in))
        full_width, full_height = self.figure.get_size_inches()
        left = (full_width - width) / 2 / full_width
        bottom = below_in / full_height
        self.ax = self.figure.add_axes((left, bottom, width / full_width, height / full_height))
        self.ax.set(xlim=(0, self.columns), ylim=(0, self.rows))
        for side in ("top", "right"):
            self.ax.spines[side].set_visible(True)
        self.ax.set_title(title, pad=8)
        self._number_rows()
        self._number_stitches()

    def _size_in(self) -> tuple[float, float]:
        """Width and height of the chart in inches."""
        width = WIDTH_IN - 1.0
        height = width / self.columns * self.rows * float(self.strands.gauge.aspect)
        if height > TALLEST_IN:
            return width * TALLEST_IN / height, TALLEST_IN
        return width, height

    def _number_rows(self) -> None:
        """Number the rows at the edge where each begins."""
        step = fitting_step(self.row_pt, ROW_NUMBER_PT)
        leftwards = self.strands.runs.leftwards
        for row in numbered_rows(self.rows, step, both_sides=not self.strands.how.in_rounds):
            begins_right = leftwards[row]
            self.ax.annotate(
                str(row + 1),
                (self.columns if begins_right else 0, row + 0.5),
                (3 if begins_right else -3, 0),
                textcoords="offset points",
                ha="left" if begins_right else "right",
                va="center",
                color="#444444",
                size=min(7, max(4.5, self.row_pt)),
                annotation_clip=False,
            )

    def _number_stitches(self) -> None:
        """Number the stitches below the chart, and say how rows and stitches are counted."""
        step = fitting_step(self.stitch_pt, STITCH_NUMBER_PT)
        places, numbers = stitch_ticks(self.columns, step)
        self.ax.set_xticks(places, numbers, size=7)
        self.ax.tick_params(length=0, pad=2)
        self.ax.set_yticks([])
        rows = "rounds" if self.strands.how.in_rounds else "rows"
        self.ax.set_xlabel(f"stitches from the right; {rows} numbered where they begin", size=8)

    def paint(self, values: np.ndarray, colours: Sequence[str]) -> None:
        """Fill each cell with the colour that its value stands for; −1 stands for the last."""
        self.ax.imshow(
            np.array([to_rgb(colour) for colour in colours])[values],
            origin="lower",
            extent=(0, self.columns, 0, self.rows),
            aspect="auto",
            interpolation="nearest",
            zorder=0,
        )

    def rule(self) -> None:
        """Rule every tenth stitch from the right and every tenth row; with room, every one."""
        if min(self.stitch_pt, self.row_pt) >= 4:
            self._rule_every(1, width=0.25, colour="#00000040", zorder=1)
        self._rule_every(10, width=0.5, colour="#00000066", zorder=2)

    def _rule_every(self, step: int, *, width: float, colour: str, zorder: float) -> None:
        upright = range(self.columns - step, 0, -step)
        level = range(step, self.rows, step)
        self.ax.vlines(upright, 0, self.rows, linewidths=width, colors=colour, zorder=zorder)
        self.ax.hlines(level, 0, self.columns, linewidths=width, colors=colour, zorder=zorder)

    def part(self, values: np.ndarray, *, width: float) -> None:
        """Draw a line between neighbours of unlike value."""
        edges = LineCollection(
            list(edges_between(values)),
            linewidths=width,
            colors=INK,
            capstyle="round",
            zorder=3,
        )
        self.ax.add_collection(edges, autolim=False)

    def mark_embroidery(self, embroidered: np.ndarray, inks: Sequence[str]) -> None:
        """Mark each stitch that is embroidered afterwards with a V, as a duplicate stitch looks.

        `embroidered` holds the yarn of each cell by worked row, −1 where there is none; `inks` the
        ink for each yarn.
        """
        size = min(8.0, 0.9 * min(self.stitch_pt, self.row_pt))
        for yarn in np.unique(embroidered[embroidered >= 0]).tolist():
            row, column = np.nonzero(embroidered == yarn)
            write_letters(self.ax, "V", column + 0.5, row + 0.5, size=size, colour=inks[yarn])
