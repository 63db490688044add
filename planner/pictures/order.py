"""The order of the strands in each row: which lies where, and its path from row to row.

Each worked row is a lane, and the work grows upwards. What lies in the lanes is laid out first, in
plain records with places in columns and lanes; the drawing after it knows nothing of strands.
Left and right are as on the chart. A path leaves a run at its top and enters the next from below.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from planner.colour import ink_on
from planner.pictures.canvas import (
    INK,
    POINTS_PER_IN,
    STITCH_NUMBER_PT,
    WIDTH_IN,
    fitting_step,
    halo,
    in_style,
    stitch_ticks,
    yarn_colours,
)
from planner.piece import Construction
from planner.plan import Plan
from planner.strands import ACROSS, MIDDLE, UP, Strands

Point = tuple[float, float]  # columns from the left edge, lanes from the bottom row

ROWS_SHOWN = 12
# Inches of the figure, and the share of its width that the lanes take up.
FIGURE_IN = WIDTH_IN + 1.2
LANE_IN = 0.42
BELOW_IN, ABOVE_IN = 0.85, 0.5
LANES_FROM, LANES_SHARE = 0.085, 0.83
# Heights in lanes.
HALF_RUN = 0.24
BELOW_RUN = 0.14  # how far below its row a carry within the row runs
LABEL_PT, SMALL_LABEL_PT = 7.0, 5.8
DASHED = (0, (3, 2))
NUMBER_STEPS = (5, 10, 20, 50, 100)

STARTS, BEGUN, ENDS = "starts", "begun from its middle", "ends"


@dataclass(frozen=True)
class Mark:
    """How one kind of place is marked; the size in points."""

    marker: str
    colour: str
    edge: str
    size: float


MARKS = {
    STARTS: Mark("o", "white", "black", 6),
    BEGUN: Mark("D", "white", "black", 6),
    ENDS: Mark("X", "black", "white", 6.5),
}


@dataclass(frozen=True)
class Bar:
    """A run: its worked row, its left and right edge, its yarn's colour, and its strand's name."""

    row: int
    left: int
    right: int
    colour: str
    name: str


@dataclass(frozen=True)
class Label:
    """The name of a strand at the middle of a run, or above the run where it has no room inside."""

    text: str
    x: float
    row: int
    ink: str
    inside: bool


@dataclass(frozen=True)
class Path:
    """The way of a yarn from one run to the next; `behind` other stitches or in the open."""

    points: tuple[Point, ...]
    colour: str
    dashed: bool
    behind: bool

    @property
    def within_row(self) -> bool:
        """Whether it dips below its row and comes up again."""
        return len(self.points) > 2


@dataclass(frozen=True)
class RowName:
    """The name of a row, which stands at the edge where the row begins."""

    name: str
    row: int
    begins_right: bool


@dataclass(frozen=True)
class Lanes:
    """What lies in some worked rows, counted from 0, of a piece so many columns wide."""

    rows: range
    columns: int
    bars: tuple[Bar, ...]
    paths: tuple[Path, ...]
    marks: Mapping[str, Sequence[Point]]
    names: tuple[RowName, ...]


@in_style
def draw_strand_order(plan: Plan, first: int = 1, last: int | None = None) -> Figure:
    """The order of the strands in worked rows `first` to `last` (from 1), twelve unless said.

    It shows which strand lies where, its path from row to row, and where it starts, is carried and
    ends. Rows that the piece does not have are left out.
    """
    rows = rows_shown(first, last, plan.traced.runs.rows)
    lanes = lay_out(plan.traced, yarn_colours(plan), rows)
    figure, ax = _new_figure(lanes)
    _draw_bars(ax, lanes.bars)
    _write_labels(ax, place_labels(lanes.bars, point=_columns_in_a_point(lanes.columns)))
    _draw_paths(ax, lanes.paths)
    marks = _draw_marks(ax, lanes.marks)
    _name_rows(ax, lanes)
    _number_stitches(ax, lanes.columns)
    what = "rounds" if plan.traced.how.in_rounds else "rows"
    between = f"{rows.start + 1} to {rows.stop}"
    ax.set_title(f"Order of the strands, {what} {between} (work upwards)")
    _add_legend(figure, marks)
    return figure


# What lies in the lanes, without matplotlib


def rows_shown(first: int, last: int | None, rows: int) -> range:
    """Worked rows `first` to `last` (from 1) of those that the piece has, counted from 0."""
    end = min(last or first + ROWS_SHOWN - 1, rows)
    start = max(1, min(first, end))
    return range(start - 1, end)


def lay_out(strands: Strands, colours: Sequence[str], rows: range) -> Lanes:
    """What lies in these worked rows (from 0); the colours are those of the yarns, in order."""
    runs = strands.runs
    shown = np.flatnonzero((runs.row >= rows.start) & (runs.row < rows.stop))
    names = [_row_name(strands.how, row, bool(runs.leftwards[row])) for row in rows]
    return Lanes(
        rows=rows,
        columns=runs.columns,
        bars=tuple(_bar(strands, colours, run) for run in shown.tolist()),
        paths=tuple(_paths(strands, colours, rows)),
        marks={
            STARTS: _starts(strands, shown),
            BEGUN: _middles(strands, rows),
            ENDS: _ends(strands, shown),
        },
        names=tuple(names),
    )


def _bar(strands: Strands, colours: Sequence[str], run: int) -> Bar:
    runs = strands.runs
    return Bar(
        row=int(runs.row[run]),
        left=int(runs.lo[run]),
        right=int(runs.hi[run]) + 1,
        colour=colours[runs.yarn[run]],
        name=strands.labels[strands.of_run[run]],
    )


def _links_shown(strands: Strands, rows: range) -> list[tuple[int, int, int]]:
    """Kind and two runs of each link of which some part lies in these rows."""
    links, row = strands.links, strands.runs.row
    # A carry upwards may pass through the rows without a run in them.
    shown = (row[links.b] >= rows.start) & (row[links.a] < rows.stop)
    kinds, a, b = links.kind[shown], links.a[shown], links.b[shown]
    return list(zip(kinds.tolist(), a.tolist(), b.tolist(), strict=True))


def _paths(strands: Strands, colours: Sequence[str], rows: range) -> Iterable[Path]:
    """The path of each link of these rows."""
    runs = strands.runs
    for kind, a, b in _links_shown(strands, rows):
        # A middle start lies between two entering edges.
        leave = int(runs.enter[a] if kind == MIDDLE else runs.leave[a])
        enter = int(runs.enter[b])
        row, next_row = int(runs.row[a]), int(runs.row[b])
        colour = colours[runs.yarn[a]]
        yield Path(
            points=_points(kind, (leave, row), (enter, next_row)),
            # Pale yarns would not show on white paper.
            colour=colour if ink_on(colour) == "white" else INK,
            dashed=kind in (ACROSS, UP) or abs(leave - enter) > 1,
            behind=kind == UP or row == next_row,
        )


def _points(kind: int, start: tuple[int, int], stop: tuple[int, int]) -> tuple[Point, ...]:
    """The corners of a path between two places (edge, row) where yarn leaves and enters."""
    (leave, row), (enter, next_row) = start, stop
    if row == next_row:  # behind the stitches between, drawn below their row
        edge = row - HALF_RUN
        below = edge - BELOW_RUN
        return ((leave, edge), (leave, below), (enter, below), (enter, edge))
    # The two halves of a middle start begin in the midst of the first run's edge.
    top = row if kind == MIDDLE else row + HALF_RUN
    return ((leave, top), (enter, next_row - HALF_RUN))


def _starts(strands: Strands, shown: np.ndarray) -> list[Point]:
    """Where strands start with an end, among the runs shown."""
    runs = strands.runs
    begun = strands.first_run[~strands.has_middle]
    starting = shown[np.isin(shown, begun)]
    return [(float(runs.enter[run]), runs.row[run] - HALF_RUN) for run in starting.tolist()]


def _middles(strands: Strands, rows: range) -> list[Point]:
    """Where strands are begun from their middle, half way between the two runs."""
    runs = strands.runs
    return [
        ((runs.enter[a] + runs.enter[b]) / 2, (runs.row[a] + runs.row[b]) / 2)
        for kind, a, b in _links_shown(strands, rows)
        if kind == MIDDLE
    ]


def _ends(strands: Strands, shown: np.ndarray) -> list[Point]:
    """Where strands end, among the runs shown: no link goes on from there."""
    runs, links = strands.runs, strands.links
    goes_on = links.a[links.kind != MIDDLE]
    ending = shown[~np.isin(shown, goes_on)]
    return [(float(runs.leave[run]), runs.row[run] + HALF_RUN) for run in ending.tolist()]


def _row_name(how: Construction, row: int, begins_right: bool) -> RowName:
    """The name of a row, one with a ridge in two lines."""
    name = how.row_name(row).replace(", ", "\n").replace(" (ridge", "\n(ridge")
    return RowName(name, row, begins_right)


def place_labels(bars: Iterable[Bar], *, point: float) -> list[Label]:
    """The labels of the bars for which there is room; `point` is the width of a point in columns.

    A bar too narrow for its label has it above, unless the one before has taken the place.
    """
    labels = []
    written_to: dict[int, float] = {}  # how far each row is written above its bars
    for bar in sorted(bars, key=lambda bar: (bar.row, bar.left)):
        width = 0.68 * LABEL_PT * len(bar.name) * point
        middle = (bar.left + bar.right) / 2
        inside = bar.right - bar.left >= width
        if not inside:
            if written_to.get(bar.row, -np.inf) > middle - width / 2:
                continue
            written_to[bar.row] = middle + width / 2
        ink = ink_on(bar.colour) if inside else "black"
        labels.append(Label(bar.name, middle, bar.row, ink, inside))
    return labels


# How it is drawn


def _columns_in_a_point(columns: int) -> float:
    return columns / (LANES_SHARE * FIGURE_IN * POINTS_PER_IN)


def _new_figure(lanes: Lanes) -> tuple[Figure, Axes]:
    """A figure with room for the lanes, the names at their sides, and the legend below."""
    height = LANE_IN * len(lanes.rows)
    figure = Figure(figsize=(FIGURE_IN, height + BELOW_IN + ABOVE_IN))
    full_height = figure.get_size_inches()[1]
    ax = figure.add_axes((LANES_FROM, BELOW_IN / full_height, LANES_SHARE, height / full_height))
    first, last = lanes.rows[0], lanes.rows[-1]
    ax.set(xlim=(-0.5, lanes.columns + 0.5), ylim=(first - 0.75, last + 0.75))
    return figure, ax


def _draw_bars(ax: Axes, bars: Sequence[Bar]) -> None:
    ax.barh(
        [bar.row for bar in bars],
        [bar.right - bar.left for bar in bars],
        2 * HALF_RUN,
        [bar.left for bar in bars],
        color=[bar.colour for bar in bars],
        edgecolor=INK,
        linewidth=0.7,
        zorder=2,
    )


def _write_labels(ax: Axes, labels: Iterable[Label]) -> None:
    for label in labels:
        if label.inside:
            text = ax.text(label.x, label.row, label.text, size=LABEL_PT, va="center", zorder=6)
        else:
            top = label.row + HALF_RUN + 0.02
            text = ax.text(label.x, top, label.text, size=SMALL_LABEL_PT, va="bottom", zorder=7)
            text.set_path_effects(halo(1.8))
        text.set(color=label.ink, ha="center")


def _draw_paths(ax: Axes, paths: Iterable[Path]) -> None:
    for path in paths:
        x, y = zip(*path.points, strict=True)
        ax.plot(
            x,
            y,
            color=path.colour,
            linewidth=1.3 if path.within_row else 1.5,
            linestyle=DASHED if path.dashed else "solid",
            zorder=3 if path.behind else 5,
            path_effects=halo(2.6),
        )


def _draw_marks(ax: Axes, marks: Mapping[str, Sequence[Point]]) -> list[Line2D]:
    """Draw the marks of each kind; the lines returned stand for them in the legend."""
    handles = []
    for name, look in MARKS.items():
        # Without a place the mark still stands in the legend.
        x, y = np.reshape(marks[name], (-1, 2)).T
        handles += ax.plot(
            x,
            y,
            marker=look.marker,
            color=look.colour,
            markeredgecolor=look.edge,
            markersize=look.size,
            linestyle="none",
            label=name,
            zorder=8,
        )
    return handles


def _name_rows(ax: Axes, lanes: Lanes) -> None:
    """Name each row outside the lanes where it begins, with an arrow the way it is worked."""
    for label in lanes.names:
        ax.text(
            lanes.columns + 0.6 if label.begins_right else -0.6,
            label.row,
            f"◄ {label.name}" if label.begins_right else f"{label.name} ►",
            ha="left" if label.begins_right else "right",
            va="center",
            size=7.5 if len(label.name) < 12 else 6,
            clip_on=False,
        )
    ax.set_yticks([])


def _number_stitches(ax: Axes, columns: int) -> None:
    stitch_pt = 1 / _columns_in_a_point(columns)
    places, numbers = stitch_ticks(columns, fitting_step(stitch_pt, STITCH_NUMBER_PT, NUMBER_STEPS))
    ax.set_xticks(places, numbers)
    ax.tick_params(length=2)
    ax.spines["left"].set_visible(False)
    ax.set_xlabel("stitches from the right", size=8)


def _add_legend(figure: Figure, marks: Sequence[Line2D]) -> None:
    lines = [
        Line2D([], [], color=INK, label="goes on"),
        Line2D([], [], color=INK, linestyle=DASHED, label="carried"),
    ]
    handles: list[Artist] = [*marks, *lines]
    figure.legend(handles=handles, loc="lower center", ncols=5, borderaxespad=0.2)
