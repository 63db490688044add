"""Pictures of choices: what limits from strict to relaxed cost, and when each bobbin is in use."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from planner.colour import ink_on
from planner.pictures.canvas import GREY, INK, WIDTH_IN, in_style, leave_room
from planner.pictures.words import Lettering, Words
from planner.plan import Plan

WOUND_BEFORE = "before you start"  # as the table of bobbins says it
HALF_BAR = 0.4
BOBBIN_IN = 0.36  # how high the line of a bobbin is
NAMES = Lettering(8, rim=2.5)
NUMBERS = Lettering(8, above=1, away=9)


@in_style
def draw_tradeoff(table: pd.DataFrame, title: str) -> Figure:
    """Ends to sew in, and most at once, against the yarn carried.

    `table` is as `tradeoff` makes it: each of its rows is a point with its number, the plan as it
    is now ringed.
    """
    figure = Figure(figsize=(WIDTH_IN, 4.4))
    ends, live = figure.subplots(
        2,
        1,
        sharex=True,
        height_ratios=(3, 1),
        gridspec_kw={"hspace": 0.12},
    )
    leave_room(figure, 0.7, 0.15, below=0.5, above=0.3)
    _draw_rungs(ends, table, "ends")
    _draw_rungs(live, table, "live")
    _number_rungs(ends, table)
    ends.set_title(title, y=1)
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
    texts = [", ".join(of_point) for of_point in numbers.values()]
    Words(ax, texts, list(numbers), look=NUMBERS, ink="black")


@in_style
def draw_bobbins(plan: Plan, table: pd.DataFrame) -> Figure:
    """Which bobbin carries which piece in which rows; `table` is as `bobbin_table` makes it.

    A heavy stroke stands before a piece that is wound on the way.
    """
    # A piece without bobbins still gets an empty picture.
    bobbins = int(table.bobbin.max()) if len(table) else 0
    height = 1.0 + BOBBIN_IN * max(1, bobbins)
    figure = Figure(figsize=(WIDTH_IN, height))
    ax = figure.subplots()
    leave_room(figure, 0.85, 0.15, below=0.45, above=0.35)
    ax.set_xlim(0.5, len(plan.rows) + 0.5)
    ax.set_xlabel(plan.traced.how.row_word)
    ax.set_ylim(max(1, bobbins) + 0.6, 0.4)  # the first at the top
    ax.set_yticks(range(1, bobbins + 1), [f"bobbin {n}" for n in range(1, bobbins + 1)])
    ax.set_title("Each bobbin, row by row; a heavy stroke: stop and wind", y=1)
    yarns = plan.project.all_yarns
    _draw_pieces(ax, table, [yarns[letter].colour for letter in table.yarn])
    return figure


def _draw_pieces(ax: Axes, table: pd.DataFrame, colours: Sequence[str]) -> None:
    """A bar for each line of the table, named, and a stroke where one stops to wind."""
    # A row lies half before and half after its number, so that pieces meet.
    begins = table.from_row.to_numpy(float) - 0.5
    ends = table.to_row.to_numpy(float) + 0.5
    bobbins = table.bobbin.to_numpy(float)
    top, bottom = bobbins - HALF_BAR, bobbins + HALF_BAR
    corners = np.stack((begins, top, begins, bottom, ends, bottom, ends, top), axis=1)
    bars = PolyCollection(
        list(corners.reshape(-1, 4, 2)),
        facecolors=[to_rgb(colour) for colour in colours],
        edgecolors=INK,
    )
    ax.add_collection(bars, autolim=False)
    places = np.column_stack(((begins + ends) / 2, bobbins))
    inks = [ink_on(colour) for colour in colours]
    # A name may be longer than its bar: its rim is of the bar's colour.
    Words(ax, table.piece.tolist(), places, look=NAMES, ink=inks, rims=colours)

    late = (table.wind != WOUND_BEFORE).to_numpy(bool)
    # A little longer than the bar is high, so that it shows between two of one colour.
    strokes = np.stack((begins, bobbins - 0.55, begins, bobbins + 0.55), axis=1)
    heavy = LineCollection(
        list(strokes[late].reshape(-1, 2, 2)),
        colors=INK,
        linewidths=2.5,
        capstyle="projecting",
    )
    ax.add_collection(heavy, autolim=False)
