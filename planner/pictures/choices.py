"""Pictures of choices: what limits from strict to relaxed cost, and when each bobbin is in use."""

from __future__ import annotations

from typing import Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from planner.colour import ink_on
from planner.pictures.canvas import GREY, INK, WIDTH_IN, in_style
from planner.plan import Plan

WOUND_BEFORE = "before you start"  # as the table of bobbins says it


@in_style
def draw_tradeoff(table: pd.DataFrame, title: str) -> Figure:
    """Ends to sew in, and most at once, against the yarn carried.

    `table` is as `tradeoff` makes it: each of its rows is a point with its number, the plan as it
    is now ringed.
    """
    figure = Figure(figsize=(WIDTH_IN, 4.4), layout="constrained")
    ends, live = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1))
    _draw_rungs(ends, table, "ends")
    _draw_rungs(live, table, "live")
    _number_rungs(ends, table)
    ends.set_title(title)
    ends.set_ylabel("ends to sew in")
    ends.legend(loc="lower left", fontsize=7.5)
    live.set_ylabel("most\nat once")
    live.set_xlabel(
        "yarn carried along or upwards, in stitch widths; the numbers are those of the table"
    )
    return figure


def _draw_rungs(ax: Axes, table: pd.DataFrame, column: str) -> None:
    """A point for each rung, those that nothing beats on a line, the present one ringed."""
    good = table[~table.beaten]
    beaten = table[table.beaten]
    present = table[table.present].iloc[0]
    # The line follows the table, from strict limits to relaxed ones.
    ax.plot(
        good.carried_stitches,
        good[column],
        color="#4d7ea8",
        marker="o",
        linewidth=1.2,
        label="nothing beats these",
    )
    ax.plot(
        beaten.carried_stitches,
        beaten[column],
        "x",
        color=GREY,
        label="another beats these: better in one thing, no worse in the rest",
    )
    ax.plot(
        present.carried_stitches,
        present[column],
        "o",
        markersize=13,
        markerfacecolor="none",
        markeredgecolor=INK,
        markeredgewidth=1.6,
        label="the plan now",
    )
    # From 0, so that twice as many look like twice as many.
    ax.set_ylim(0, 1.15 * table[column].max())
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))


def _number_rungs(ax: Axes, table: pd.DataFrame) -> None:
    """Write the number of each rung above its point; rungs that cost the same share a point."""
    numbers: dict[tuple[float, int], list[str]] = {}
    points = zip(table.carried_stitches, table.ends, strict=True)
    for number, point in enumerate(points, start=1):
        of_point = numbers.setdefault(point, [])
        of_point.append(str(number))
    for point, of_point in numbers.items():
        ax.annotate(
            ", ".join(of_point),
            point,
            (0, 9),
            textcoords="offset points",
            size=8,
            ha="center",
        )


@in_style
def draw_bobbins(plan: Plan, table: pd.DataFrame) -> Figure:
    """Which bobbin carries which piece in which rows; `table` is as `bobbin_table` makes it.

    A heavy stroke stands before a piece that is wound on the way.
    """
    # A piece without bobbins still gets an empty picture.
    bobbins = int(table.bobbin.max()) if len(table) else 0
    height = 0.8 + 0.36 * max(1, bobbins)
    figure = Figure(figsize=(WIDTH_IN, height), layout="constrained")
    ax = figure.subplots()
    yarns = plan.project.all_yarns
    for piece in table.itertuples():
        _draw_piece(ax, piece, yarns[piece.yarn].colour)
    ax.set_xlim(0.5, len(plan.rows) + 0.5)
    ax.set_xlabel("row")
    ax.set_ylim(bobbins + 0.6, 0.4)  # the first at the top
    ax.set_ylabel("bobbin")
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_title("Each bobbin, row by row; a heavy stroke: stop and wind")
    return figure


def _draw_piece(ax: Axes, piece: Any, colour: str) -> None:
    """One line of the table: a bar over its rows, named, and a stroke where one stops to wind."""
    # A row lies half before and half after its number, so that pieces meet.
    begins = piece.from_row - 0.5
    rows = piece.to_row - piece.from_row + 1
    ax.barh(
        piece.bobbin,
        rows,
        left=begins,
        color=to_rgb(colour),
        edgecolor=INK,
    )
    ax.text(
        (piece.from_row + piece.to_row) / 2,
        piece.bobbin,
        piece.piece,
        ha="center",
        va="center",
        size=8,
        color=ink_on(colour),
    )
    if piece.wind != WOUND_BEFORE:
        # A little longer than the bar is high, so that it shows between two of one colour.
        stroke = (piece.bobbin - 0.55, piece.bobbin + 0.55)
        ax.plot((begins, begins), stroke, color=INK, linewidth=2.5)
