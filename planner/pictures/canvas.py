"""The canvas: what all pictures share, from their style to a sheet in the shape of the chart.

Figures are made without pyplot, so that a widget's callback may draw while a cell runs.
Colour is never alone: letters and labels say which yarn, edges part neighbours.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import matplotlib.path
import matplotlib.style
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgba_array
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.patheffects import AbstractPathEffect, withStroke
from PIL import Image

from planner.pictures.words import Lettering, Words
from planner.plan import Plan
from planner.strands import Strands

STYLE = Path(__file__).resolve().parents[2] / "shared" / "workbook.mplstyle"
# As a decorator it lets a picture be made in the workbook's style, whatever the caller's own.
in_style = matplotlib.style.context(STYLE)

INK = "#222222"
GREY = "#777777"  # what is there to compare with
WIDTH_IN = 9.0
TALLEST_IN = 15.0  # a chart that would be taller is drawn smaller
NARROWEST_IN = 4.5  # a narrower chart still leaves its title and legend this width
POINTS_PER_IN = 72
# Numbers along an edge stand at every n-th place, at the first of these steps that has room.
STEPS = (1, 2, 5, 10, 20, 50, 100)
ROW_NUMBER_PT = 8
STITCH_NUMBER_PT = 16
NUMBER_INK = "#444444"
# The two steps of a line, as matplotlib numbers them.
FROM_TO = (matplotlib.path.Path.MOVETO, matplotlib.path.Path.LINETO)
# How PNGs are packed: some are sent to a page a moment later, others are kept as files.
QUICK, USUAL = 1, 6


def yarn_colours(plan: Plan) -> list[str]:
    """The colour of each yarn of the knitted chart, in the order of its letters."""
    yarns = plan.project.all_yarns
    letters = plan.traced.chart.letters
    return [yarns[letter].colour for letter in letters]


def by_worked_row(strands: Strands, cells: np.ndarray) -> np.ndarray:
    """Cells by chart row, repeated so that there is one line a worked row (garter has two)."""
    times = strands.how.rows_per_chart_row
    return np.repeat(cells, times, axis=0)


def outline(width: float, colour: str) -> list[AbstractPathEffect]:
    """A rim of this width, in points, under a line or a text."""
    rim = withStroke(linewidth=width, foreground=colour)
    return [rim]


def halo(width: float) -> list[AbstractPathEffect]:
    """A white rim, which parts a line or a text from what lies behind."""
    return outline(width, "white")


def fitting_step(size: float, least: float, steps: Sequence[int] = STEPS) -> int:
    """The first step at which places of this size lie at least so far apart, else the longest."""
    for step in steps:
        if step * size >= least:
            return step
    return steps[-1]


def number_stitches(ax: Axes, columns: int, step: int, *, size: float, away: float) -> np.ndarray:
    """Number stitch 1 and every n-th after it below the axes, and give back their middles.

    They count from the right, as they are knitted. `size` and how far `away` are in points.
    """
    second = max(step, 2)
    numbers = [1, *range(second, columns + 1, step)]
    texts = [str(number) for number in numbers]
    middles = columns + 0.5 - np.array(numbers)
    bottom, _ = ax.get_ylim()
    places = [(middle, bottom) for middle in middles]
    look = Lettering(size, above=-1, away=away)
    Words(ax, texts, places, look=look, ink=NUMBER_INK)
    # Words are quicker than the axes' own numbers; its label must keep clear of them.
    ax.set_xticks([])
    ax.xaxis.labelpad = 2 * away + size
    return middles


def numbered_rows(rows: int, step: int, *, both_sides: bool) -> list[int]:
    """The worked rows, from 0, that bear their number: the first and every n-th.

    In flat work a row is numbered where it begins, and an even step would only ever show one side;
    with `both_sides` the row below each is then numbered too.
    """
    chosen = {0, *range(step - 1, rows, step)}
    if both_sides and step % 2 == 0:
        chosen |= {row - 1 for row in chosen if row}
    return sorted(chosen)


def draw_lines(ax: Axes, lines: np.ndarray, *, width: float, colour: str, zorder: float) -> None:
    """Draw straight lines, n × 2 ends × (x, y), upright or level, all alike."""
    # One path of many pieces; a collection would make a path of each.
    ends = lines.reshape(-1, 2).astype(float)
    steps = np.tile(FROM_TO, len(lines))
    path = matplotlib.path.Path(ends, steps)
    path.should_simplify = False
    pieces = PathPatch(
        path,
        fill=False,
        linewidth=width,
        edgecolor=colour,
        capstyle="round",  # round ends meet at corners without a notch
        snap=True,  # long paths would not be, and their lines be blurred
        zorder=zorder,
    )
    ax.add_artist(pieces)


def unlike_neighbours(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where a cell of a grid is unlike the one to its right, and where unlike the one above it."""
    return values[:, 1:] != values[:, :-1], values[1:] != values[:-1]


def edges_along(beside: np.ndarray, above: np.ndarray) -> np.ndarray:
    """Lines to the right of cells and above cells, as n × 2 ends × (x, y), as long as they can be.

    The cell at (row, column) spans column..column + 1 and row..row + 1.
    """
    column, low, high = _stretches(beside.T)
    right = column + 1
    upright = np.stack((right, low, right, high), axis=1)
    row, left, end = _stretches(above)
    top = row + 1
    level = np.stack((left, top, end, top), axis=1)
    lines = np.concatenate((upright, level))
    return lines.reshape(-1, 2, 2)


def _stretches(mask: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where lines of a mask are True: the line, the first place, and the place after the last."""
    # With a rim, what reaches to the edge begins and ends like the rest.
    framed = np.pad(mask.astype(np.int8), ((0, 0), (1, 1)))
    steps = np.diff(framed, axis=1)
    line, first = np.nonzero(steps == 1)
    _, end = np.nonzero(steps == -1)
    return line, first, end


def chart_size(
    columns: int, rows: int, aspect: float, *, width_in: float = WIDTH_IN
) -> tuple[float, float]:
    """Width and height, in inches, at which a chart is drawn; `aspect` is that of a stitch.

    With what stands beside it, it is `width_in` wide.
    """
    width = width_in - 1.0  # the numbers of the rows stand at both sides
    height = width / columns * rows * aspect
    if height > TALLEST_IN:
        return width * TALLEST_IN / height, TALLEST_IN
    return width, height


def axes_at(figure: Figure, left: float, bottom: float, *, width: float, height: float) -> Axes:
    """Axes at a place in the figure, all in inches."""
    full_width, full_height = figure.get_size_inches()
    # Matplotlib wants shares of the figure.
    place = (
        left / full_width,
        bottom / full_height,
        width / full_width,
        height / full_height,
    )
    return figure.add_axes(place)


def leave_room(figure: Figure, left: float, right: float, *, below: float, above: float) -> None:
    """Leave room for words round the axes of a figure, in inches.

    Matplotlib can find out by itself how much they need, but then it sets every text three times.
    """
    width, height = figure.get_size_inches()
    figure.subplots_adjust(
        left=left / width,
        right=1 - right / width,
        bottom=below / height,
        top=1 - above / height,
    )


class Sheet:
    """A figure with one axes in the shape of the chart, at the true aspect of its stitches.

    x counts stitches from the left edge, y worked rows from the bottom; `stitch_pt` and `row_pt`
    are the width of a stitch and the height of a row in points. With `back` it is seen from the
    back: x grows to the left.
    """

    def __init__(
        self,
        strands: Strands,
        title: str,
        *,
        below_in: float = 0.45,
        width_in: float = WIDTH_IN,
        back: bool = False,
    ):
        runs = strands.runs
        self.strands, self.back = strands, back
        self.rows = runs.rows
        self.columns = runs.columns
        aspect = float(strands.gauge.aspect)
        width, height = chart_size(runs.columns, runs.rows, aspect, width_in=width_in)
        self.stitch_pt = POINTS_PER_IN * width / runs.columns
        self.row_pt = POINTS_PER_IN * height / runs.rows

        # Room for numbers at both sides, for the title above and for what stands below.
        full_width = max(width, min(NARROWEST_IN, width_in - 1.0)) + 1.0
        full_height = height + 0.5 + below_in
        self.figure = Figure(figsize=(full_width, full_height))
        left = (full_width - width) / 2
        self.ax = axes_at(self.figure, left, below_in, width=width, height=height)
        self.ax.set_xlim(*((runs.columns, 0) if back else (0, runs.columns)))
        self.ax.set_ylim(0, runs.rows)
        # A chart has edges all round, other pictures only at the left and below.
        self.ax.spines[["top", "right"]].set_visible(True)
        # At a place that is said, or room for it is looked for at every drawing.
        self.ax.set_title(title, y=1, pad=8)
        self._number_rows()
        self._number_stitches()

    def _number_rows(self) -> None:
        step = fitting_step(self.row_pt, ROW_NUMBER_PT)
        # No higher than a row, but never too small to be read.
        size = min(7, max(4.5, self.row_pt))
        numbered = numbered_rows(self.rows, step, both_sides=self.strands.how.is_turned)
        # A number stands at the edge where its row begins.
        leftwards = self.strands.runs.leftwards
        for begins_right in (False, True):
            rows = [row for row in numbered if leftwards[row] == begins_right]
            numbers = [str(row + 1) for row in rows]
            edge = self.columns if begins_right else 0
            # From the back the chart's right edge lies at the left.
            aside = 1 if begins_right != self.back else -1
            places = [(edge, row + 0.5) for row in rows]
            look = Lettering(size, aside=aside, away=3)
            Words(self.ax, numbers, places, look=look, ink=NUMBER_INK)
        self.ax.set_yticks([])

    def _number_stitches(self) -> None:
        step = fitting_step(self.stitch_pt, STITCH_NUMBER_PT)
        number_stitches(self.ax, self.columns, step, size=7, away=3)
        rows = f"{self.strands.how.row_word}s"
        side = "left" if self.back else "right"
        self.ax.set_xlabel(f"stitches from the {side}; {rows} numbered where they begin", size=8)

    def paint(self, values: np.ndarray, colours: Sequence[str]) -> None:
        """Fill each cell with the colour that its value stands for; −1 stands for the last."""
        # Whole bytes are drawn in half the time of shares.
        shares = to_rgba_array(colours)
        palette = np.round(255 * shares).astype(np.uint8)
        self.ax.imshow(
            palette[values],
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
        ends = []
        for x in range(self.columns - step, 0, -step):
            ends += [(x, 0), (x, self.rows)]
        for y in range(step, self.rows, step):
            ends += [(0, y), (self.columns, y)]
        lines = np.reshape(ends, (-1, 2, 2))
        draw_lines(self.ax, lines, width=width, colour=colour, zorder=zorder)

    def part(self, values: np.ndarray, *, width: float, on_dark: np.ndarray | None = None) -> None:
        """Draw a line between neighbours of unlike value, a white one between two dark cells."""
        beside, above = unlike_neighbours(values)
        if on_dark is not None:
            both_beside = beside & on_dark[:, 1:] & on_dark[:, :-1]
            both_above = above & on_dark[1:] & on_dark[:-1]
            edges = edges_along(both_beside, both_above)
            draw_lines(self.ax, edges, width=width, colour="white", zorder=3)
            beside, above = beside & ~both_beside, above & ~both_above
        edges = edges_along(beside, above)
        draw_lines(self.ax, edges, width=width, colour=INK, zorder=3)

    def mark_embroidery(self, embroidered: np.ndarray, inks: Sequence[str]) -> None:
        """Mark each stitch that is embroidered afterwards with a V, as a duplicate stitch looks.

        `embroidered` holds the yarn of each cell by worked row, −1 where there is none; `inks` the
        ink for each yarn.
        """
        cell = min(self.stitch_pt, self.row_pt)
        look = Lettering(min(8.0, 0.9 * cell), zorder=4)
        for yarn, ink in enumerate(inks):
            row, column = np.nonzero(embroidered == yarn)
            if len(row):
                places = np.column_stack((column, row)) + 0.5
                Words(self.ax, "V", places, look=look, ink=ink)


def png_of(figure: Figure, *, dpi: float | None = None, packed: int = USUAL) -> bytes:
    """A picture as PNG, the same bytes each time; `dpi` is the figure's own unless said.

    `packed` is how hard the file is packed, QUICK or USUAL.
    """
    if dpi is not None:
        figure.set_dpi(dpi)
    # Saving by the figure's own way draws twice where a layout is made.
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())
    # Pictures stand on white: there is nothing to see through.
    image = Image.fromarray(pixels).convert("RGB")
    file = io.BytesIO()
    resolution = (figure.dpi, figure.dpi)
    image.save(file, "png", compress_level=packed, dpi=resolution)
    return file.getvalue()
