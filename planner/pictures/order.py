"""The order of the strands in each row: which lies where, and its path from row to row.

Each worked row is a lane, and the work grows upwards. What lies in the lanes is laid out first, in
plain records with places in columns and lanes; the drawing after it knows nothing of strands.
Left and right are as on the chart. A path leaves a run at its top and enters the next from below.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.markers import TICKDOWN

from planner.colour import ink_on
from planner.pictures.canvas import (
    INK,
    NUMBER_INK,
    POINTS_PER_IN,
    STITCH_NUMBER_PT,
    WIDTH_IN,
    axes_at,
    fitting_step,
    in_style,
    number_stitches,
    yarn_colours,
)
from planner.pictures.words import Lettering, Words
from planner.plan import Plan
from planner.strands import ACROSS, MIDDLE, UP, Strands, Walk

Point = tuple[float, float]  # columns from the left edge, lanes from the bottom row

ROWS_SHOWN = 12
# The figure is as wide as others, and the names of the rows stand at both sides of the lanes.
FIGURE_IN = WIDTH_IN + 1.2
LANES_IN = 0.83 * FIGURE_IN
LEFT_IN = 0.085 * FIGURE_IN
BELOW_IN = 0.85
ABOVE_IN = 0.5
LANE_IN = 0.42
# Heights in lanes.
HALF_RUN = 0.24
BELOW_RUN = 0.14  # how far a carry within a row dips below it
LABEL_PT = 7.0
SMALL_LABEL_PT = 5.8
STITCH_PT = 8
ROW_PT, LONG_ROW_PT = 7.5, 6
LONG_ROW = 14  # letters of a row's name
RIM_PT = 2.6  # white, beside a path
PATH_PT, WITHIN_ROW_PT = 1.5, 1.3
DASHED_PT = (4.5, 3)
NOW = "#fff1b8"  # the lane of the row on the needles
INSIDE = Lettering(LABEL_PT)
ABOVE = Lettering(SMALL_LABEL_PT, above=1, away=2.2, rim=1.8, zorder=7)
NUMBER_STEPS = (5, 10, 20, 50, 100)


@dataclass(frozen=True)
class Mark:
    """How one kind of place is marked; the size in points."""

    words: str
    marker: str
    colour: str
    edge: str
    size: float


STARTS = Mark("starts", "o", "white", "black", 6)
BEGUN = Mark("begun from its middle", "D", "white", "black", 6)
ENDS = Mark("ends", "X", "black", "white", 6.5)


@dataclass(frozen=True)
class Bar:
    """A run: its worked row (from 0), its edges, its yarn's colour, its part's name.

    The yarn enters at one edge and leaves at the other; `starts` and `ends` say whether the strand
    has an end there.
    """

    row: int
    left: int
    right: int
    enter: int
    leave: int
    colour: str
    name: str
    starts: bool
    ends: bool

    @property
    def corners(self) -> tuple[Point, ...]:
        """The corners of the rectangle that is drawn."""
        bottom = self.row - HALF_RUN
        top = self.row + HALF_RUN
        return (self.left, bottom), (self.right, bottom), (self.right, top), (self.left, top)


class Place(NamedTuple):
    """An edge, in columns from the left, and a worked row."""

    edge: int
    row: int


@dataclass(frozen=True)
class Path:
    """The way of a yarn along a link, of a kind of `planner.strands`, from one run to another."""

    kind: int
    start: Place
    stop: Place
    colour: str

    @property
    def within_row(self) -> bool:
        return self.start.row == self.stop.row

    @property
    def behind(self) -> bool:
        """Whether it runs behind stitches of other yarns."""
        return self.within_row or self.kind == UP

    @property
    def carried(self) -> bool:
        """Whether it is more than a step to the next row, and so is drawn dashed."""
        aside = abs(self.start.edge - self.stop.edge)
        return self.kind in (ACROSS, UP) or aside > 1

    @property
    def middle(self) -> Point:
        """Half way, where a strand is begun if this is a middle start."""
        edges = self.start.edge + self.stop.edge
        rows = self.start.row + self.stop.row
        return edges / 2, rows / 2

    @property
    def corners(self) -> tuple[Point, ...]:
        """The line that is drawn."""
        x, row = self.start
        next_x, next_row = self.stop
        bottom = next_row - HALF_RUN
        if self.within_row:
            # It is drawn below the stitches behind which it runs.
            below = bottom - BELOW_RUN
            return (x, bottom), (x, below), (next_x, below), (next_x, bottom)
        # A middle start comes from inside its first run, any other path from the top of one.
        top = row if self.kind == MIDDLE else row + HALF_RUN
        return (x, top), (next_x, bottom)


@dataclass(frozen=True)
class Label:
    """The name of a strand at the middle of a run, or above the run where it has no room inside."""

    text: str
    x: float
    row: int
    ink: str
    inside: bool


@in_style
def draw_strand_order(
    plan: Plan, first: int = 1, last: int | None = None, *, now: int | None = None
) -> Figure:
    """The order of the strands in worked rows `first` to `last` (from 1), twelve unless said.

    It shows which strand lies where, its path from row to row, and where it starts, is carried and
    ends. Rows that the piece does not have are left out. The row on the needles, `now`, is marked.
    """
    strands = plan.traced
    columns = strands.runs.columns
    point = columns / (LANES_IN * POINTS_PER_IN)  # the width of a point in columns
    colours = yarn_colours(plan)
    rows = rows_shown(first, last, strands.runs.rows)
    bars = lay_bars(strands, colours, rows)
    labels = list(place_labels(bars, point))
    paths = lay_paths(strands, colours, rows)

    figure, ax = _new_figure(columns, rows)
    if now is not None and now - 1 in rows:
        ax.axhspan(now - 1.5, now - 0.5, color=NOW, zorder=0)
    _draw_bars(ax, bars)
    _write_labels(ax, labels)
    _draw_paths(ax, paths)
    marks = _draw_marks(ax, places_marked(bars, paths))
    _name_rows(ax, strands, rows)
    step = fitting_step(1 / point, STITCH_NUMBER_PT, NUMBER_STEPS)
    _number_stitches(ax, columns, step)
    what = f"{strands.how.row_word}s"
    numbers = f"{rows.start + 1} to {rows.stop}"
    ax.set_title(f"Order of the strands, {what} {numbers} (work upwards)", y=1)
    _add_legend(figure, marks)
    return figure


# What lies in the lanes, without matplotlib


def rows_shown(first: int, last: int | None, rows: int) -> range:
    """Worked rows `first` to `last` (from 1) of those that the piece has, counted from 0.

    There is always one at least.
    """
    if not last:
        last = first + ROWS_SHOWN - 1
    last = min(last, rows)
    # A first row beyond the last one shows that one alone.
    first = max(1, min(first, last))
    return range(first - 1, last)


def lay_bars(strands: Strands, colours: Sequence[str], rows: range) -> list[Bar]:
    """The runs of these worked rows (from 0); the colours are those of the yarns, in order."""
    runs, links = strands.runs, strands.links
    shown = (runs.row >= rows.start) & (runs.row < rows.stop)
    # A strand begun from its middle does not start with an end.
    starting = set(strands.first_run[~strands.has_middle])
    # A strand ends at a run that no link leaves; a middle start does not leave, it enters.
    going_on = set(links.a[links.kind != MIDDLE])
    walk = Walk(strands)
    bars = []
    for run in np.flatnonzero(shown).tolist():
        bar = Bar(
            row=int(runs.row[run]),
            left=int(runs.lo[run]),
            right=int(runs.hi[run]) + 1,
            enter=int(runs.enter[run]),
            leave=int(runs.leave[run]),
            colour=colours[runs.yarn[run]],
            name=walk.title(run),
            starts=run in starting,
            ends=run not in going_on,
        )
        bars.append(bar)
    return bars


def lay_paths(strands: Strands, colours: Sequence[str], rows: range) -> list[Path]:
    """The path of each link of which some part lies in these worked rows (from 0)."""
    runs, links = strands.runs, strands.links
    # A carry upwards may pass through these rows without a run in them.
    not_below = runs.row[links.b] >= rows.start
    not_above = runs.row[links.a] < rows.stop
    paths = []
    for link in np.flatnonzero(not_below & not_above):
        a = links.a[link]
        b = links.b[link]
        kind = int(links.kind[link])
        # A middle start lies between two entering edges.
        edges = runs.enter if kind == MIDDLE else runs.leave
        colour = colours[runs.yarn[a]]
        path = Path(
            kind=kind,
            start=Place(int(edges[a]), int(runs.row[a])),
            stop=Place(int(runs.enter[b]), int(runs.row[b])),
            # Pale yarns would not show on white paper.
            colour=INK if ink_on(colour) == "black" else colour,
        )
        paths.append(path)
    return paths


def place_labels(bars: Iterable[Bar], point: float) -> Iterator[Label]:
    """The labels of the bars for which there is room; `point` is the width of a point in columns.

    A bar too narrow for its label has it above, unless the one before has taken the place.
    """
    written_to: dict[int, float] = {}  # how far each row is written above its bars
    for bar in sorted(bars, key=lambda bar: (bar.row, bar.left)):
        name, row = bar.name, bar.row
        width = 0.68 * LABEL_PT * len(name) * point
        middle = (bar.left + bar.right) / 2
        if bar.right - bar.left >= width:
            ink = ink_on(bar.colour)
            yield Label(name, middle, row, ink, inside=True)
        elif written_to.get(row, -np.inf) <= middle - width / 2:
            written_to[row] = middle + width / 2
            yield Label(name, middle, row, "black", inside=False)


def places_marked(bars: Iterable[Bar], paths: Iterable[Path]) -> dict[Mark, list[Point]]:
    """Where strands start, are begun from their middle, and end."""
    starts: list[Point] = []
    ends: list[Point] = []
    for bar in bars:
        if bar.starts:
            starts.append((bar.enter, bar.row - HALF_RUN))
        if bar.ends:
            ends.append((bar.leave, bar.row + HALF_RUN))
    middles = [path.middle for path in paths if path.kind == MIDDLE]
    return {STARTS: starts, BEGUN: middles, ENDS: ends}


# How it is drawn


def _new_figure(columns: int, rows: range) -> tuple[Figure, Axes]:
    """A figure with room for the lanes, and for the legend below."""
    height = LANE_IN * len(rows)
    figure = Figure(figsize=(FIGURE_IN, height + BELOW_IN + ABOVE_IN))
    ax = axes_at(figure, LEFT_IN, BELOW_IN, width=LANES_IN, height=height)
    ax.set_xlim(-0.5, columns + 0.5)
    # Room above and below for the paths to and from other rows.
    ax.set_ylim(rows.start - 0.75, rows.stop - 0.25)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.set_xlabel("stitches from the right", size=8)
    return figure, ax


def _draw_bars(ax: Axes, bars: Sequence[Bar]) -> None:
    # One collection is much quicker than a rectangle for each run, which barh would make.
    rectangles = PolyCollection(
        [bar.corners for bar in bars],
        facecolors=[bar.colour for bar in bars],
        edgecolors=INK,
        linewidths=0.7,
        joinstyle="miter",
        zorder=2,
    )
    ax.add_collection(rectangles, autolim=False)


def _write_labels(ax: Axes, labels: Sequence[Label]) -> None:
    inside = [label for label in labels if label.inside]
    above = [label for label in labels if not label.inside]
    for some, look, rise in ((inside, INSIDE, 0), (above, ABOVE, HALF_RUN)):
        texts = [label.text for label in some]
        places = [(label.x, label.row + rise) for label in some]
        inks = [label.ink for label in some]
        Words(ax, texts, places, look=look, ink=inks)


def _draw_paths(ax: Axes, paths: Sequence[Path]) -> None:
    for behind in (True, False):
        for carried in (True, False):
            kind = (behind, carried)
            alike = [path for path in paths if (path.behind, path.carried) == kind]
            _draw_alike(ax, alike, behind=behind, carried=carried)


def _dashes(width: float) -> tuple[float, tuple[float, float]]:
    """The dashes of a line of this width, which matplotlib counts in widths of the line."""
    dash, gap = DASHED_PT
    return 0, (dash / width, gap / width)


def _draw_alike(ax: Axes, paths: Sequence[Path], *, behind: bool, carried: bool) -> None:
    """Paths in one collection, each over a white rim that parts it from those before it."""
    colours: list[str] = []
    widths: list[float] = []
    for path in paths:
        colours += ["white", path.colour]
        widths += [RIM_PT, WITHIN_ROW_PT if path.within_row else PATH_PT]
    # A rim has the dashes of its path.
    dashes = [_dashes(width) for width in widths]
    lines = LineCollection(
        [path.corners for path in paths for _ in range(2)],
        colors=colours,
        linewidths=widths,
        linestyles=dashes if carried else "solid",
        capstyle="butt" if carried else "projecting",
        zorder=3 if behind else 5,
    )
    ax.add_collection(lines, autolim=False)


def _draw_marks(ax: Axes, marks: Mapping[Mark, Sequence[Point]]) -> list[Line2D]:
    """Draw each kind of mark; the lines returned stand for them in the legend."""
    handles = []
    for mark, places in marks.items():
        # Without a place the mark still stands in the legend.
        x, y = np.reshape(places, (-1, 2)).T
        handles += ax.plot(
            x,
            y,
            marker=mark.marker,
            color=mark.colour,
            markeredgecolor=mark.edge,
            markersize=mark.size,
            linestyle="none",
            label=mark.words,
            zorder=8,
        )
    return handles


def _name_rows(ax: Axes, strands: Strands, rows: range) -> None:
    """Name each row outside the lanes where it begins, with an arrow the way it is worked."""
    runs = strands.runs
    for begins_right in (True, False):
        alike = [row for row in rows if runs.leftwards[row] == begins_right]
        names = [_row_name(strands, row, begins_right=begins_right) for row in alike]
        edge = runs.columns + 0.6 if begins_right else -0.6
        places = [(edge, row) for row in alike]
        is_long = any(len(name) >= LONG_ROW for name in names)
        size = LONG_ROW_PT if is_long else ROW_PT
        look = Lettering(size, aside=1 if begins_right else -1)
        Words(ax, names, places, look=look, ink="black")


def _row_name(strands: Strands, row: int, *, begins_right: bool) -> str:
    name = strands.how.row_name(row)
    # One that names its ridge too stands in two lines.
    name = name.replace(", ", "\n").replace(" (ridge", "\n(ridge")
    return f"◄ {name}" if begins_right else f"{name} ►"


def _number_stitches(ax: Axes, columns: int, step: int) -> None:
    middles = number_stitches(ax, columns, step, size=STITCH_PT, away=5.5)
    bottom = np.full(len(middles), ax.get_ylim()[0])
    ax.plot(
        middles,
        bottom,
        marker=TICKDOWN,
        markersize=2,
        color=NUMBER_INK,
        linestyle="none",
        clip_on=False,
    )


def _add_legend(figure: Figure, marks: Sequence[Line2D]) -> None:
    goes_on = Line2D([], [], color=INK, linewidth=PATH_PT, label="goes on")
    carried = Line2D(
        [],
        [],
        color=INK,
        linewidth=PATH_PT,
        linestyle=_dashes(PATH_PT),
        label="carried",
    )
    figure.legend(
        handles=[*marks, goes_on, carried],
        loc="lower center",
        ncols=5,
        borderaxespad=0.2,
    )
