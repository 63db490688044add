"""The load: how many lengths hang in each row, beside what the knitter finds comfortable."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from planner.pictures.canvas import GREY, INK, WIDTH_IN, in_style, leave_room
from planner.piece import Habits
from planner.plan import Plan
from planner.units import counted


class Fill(NamedTuple):
    """How the rows of one load are filled."""

    colour: str
    hatch: str


class Mark(NamedTuple):
    """How a row in which something happens is marked."""

    words: str
    marker: str
    colour: str


# The fuller, the darker and the more crossed, so that a grey printer shows it too.
FILLS = {
    "easy": Fill("#d5e3ee", ""),
    "busy": Fill("#8fb3cf", "//"),
    "crowded": Fill("#4d7ea8", "xx"),
}
NAMED_IN = 1.4  # where limits are named at the right
START = Mark("strands start", "^", "black")
END = Mark("strands end", "v", "white")


@in_style
def draw_load(plan: Plan) -> Figure:
    """What hangs in each row, the knitter's comfort, and the rows where strands start and end."""
    rows, how = plan.rows, plan.traced.how
    peak = int(rows.live.max())
    figure = Figure(figsize=(WIDTH_IN + 1, 3.1))
    ax = figure.add_subplot()
    near = _limits_near(plan.project.habits, peak=peak)
    leave_room(figure, 0.5, NAMED_IN if near else 0.15, below=0.75, above=0.3)
    _fill_rows(ax, rows)
    _draw_comfort(ax, near)
    # Starts and ends stand below the rows, one above the other.
    starting = rows.row[rows.starts > 0]
    _mark_rows(ax, starting, -0.06 * peak - 0.25, START)
    ending = rows.row[rows.ends > 0]
    _mark_rows(ax, ending, -0.13 * peak - 0.55, END)
    _scale(ax, peak=peak, rows=len(rows))
    ax.set_xlabel("round" if how.is_tube else "worked row")
    ax.set_ylabel("lengths hanging")
    fullest = int(rows.live.idxmax())  # the first of equals
    name = how.row_name(fullest)
    ax.set_title(f"What hangs in each row: at most {peak}, first in {name}", y=1)
    figure.legend(loc="lower center", ncols=5, borderaxespad=0.2)
    return figure


def _fill_rows(ax: Axes, rows: pd.DataFrame) -> None:
    """A column for each row, by its load, and one line over all."""
    edges = np.arange(len(rows) + 1) + 0.5
    for load, fill in FILLS.items():
        count = int((rows.load == load).sum())
        # What no row has would stand in the legend all the same.
        if not count:
            continue
        # One outline for all of them; rows of other loads leave a gap.
        heights = np.where(rows.load == load, rows.live, np.nan)
        ax.stairs(
            heights,
            edges,
            fill=True,
            facecolor=fill.colour,
            edgecolor="#ffffff" if fill.hatch else fill.colour,  # a hatch has the edge's colour
            hatch=fill.hatch,
            linewidth=0,
            label=f"{load} ({counted(count, 'row')})",
        )
    # The line ends with the last row, so its height stands twice.
    live = [*rows.live, rows.live.iloc[-1]]
    ax.step(edges, live, where="post", color=INK, linewidth=1.1)


def _limits_near(habits: Habits, *, peak: int) -> dict[str, int]:
    """The knitter's limits that lie near the fullest row or below it, by their names."""
    limits = {"comfortable up to": habits.comfortable, "crowded above": habits.crowded}
    # A limit that the piece keeps far away from would only flatten the picture.
    return {words: level for words, level in limits.items() if level <= peak + 1}


def _draw_comfort(ax: Axes, limits: Mapping[str, int]) -> None:
    """A line at each of the limits, with its name."""
    for words, level in limits.items():
        ax.axhline(level, color=GREY, linestyle="--", linewidth=0.9)
        beside = ax.get_yaxis_transform()  # across as a share of the axes, upwards as the rows
        ax.text(1.01, level, f"{words} {level}", va="center", size=7.5, transform=beside)


def _mark_rows(ax: Axes, rows: pd.Series, height: float, mark: Mark) -> None:
    ax.plot(
        rows,
        np.full(len(rows), height),
        marker=mark.marker,
        color=mark.colour,
        markeredgecolor="black",
        markersize=4.5,
        linestyle="none",
        label=mark.words,
        clip_on=False,
    )


def _scale(ax: Axes, *, peak: int, rows: int) -> None:
    """Room for the marks below the rows, but no number below 0."""
    ax.set_xlim(0.5, rows + 0.5)
    ax.set_ylim(-0.18 * peak - 0.8, peak + 1)
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    counts = [tick for tick in ax.get_yticks() if 0 <= tick <= peak + 1]
    ax.set_yticks(counts)
