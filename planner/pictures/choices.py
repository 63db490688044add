"""Pictures of the choices: what limits from strict to relaxed cost, and when each bobbin is in use."""

from __future__ import annotations

import pandas as pd
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from planner.colour import ink_on
from planner.pictures.plan_pictures import INK, WIDTH_IN, in_style
from planner.plan import Plan


@in_style
def draw_tradeoff(table: pd.DataFrame, title: str) -> Figure:
    """Ends to sew in, and most strands at once, against the yarn carried: a point a row of the table, by its
    number; the plan as it is now ringed."""
    figure = Figure(figsize=(WIDTH_IN, 4.4), layout="constrained")
    axes = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1))
    good = table[~table.beaten]
    present = table[table.present].iloc[0]
    for ax, column, label in (
        (axes[0], "ends", "ends to sew in"),
        (axes[1], "live", "most strands\nat once"),
    ):
        ax.plot(
            good.carried_stitches,
            good[column],
            color="#4d7ea8",
            marker="o",
            linewidth=1.2,
            label="nothing beats these",
        )
        beaten = table[table.beaten]
        ax.plot(
            beaten.carried_stitches,
            beaten[column],
            "x",
            color="#777777",
            label="another beats these: better in one thing, no worse in the rest",
        )
        ax.plot(
            present.carried_stitches,
            present[column],
            "o",
            markersize=13,
            mfc="none",
            mec=INK,
            mew=1.6,
            label="the plan now",
        )
        ax.set_ylabel(label)
        ax.set_ylim(0, 1.15 * table[column].max())
        ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    numbered = table.assign(number=[str(i) for i in range(1, len(table) + 1)])
    for (carried, ends), same in numbered.groupby(["carried_stitches", "ends"]).number:
        axes[0].annotate(
            ", ".join(same),
            (carried, ends),
            (0, 9),
            textcoords="offset points",
            size=8,
            ha="center",
        )
    axes[1].set_xlabel(
        "yarn carried along or upwards, in stitch widths; the numbers are those of the table"
    )
    axes[0].set_title(title)
    axes[0].legend(loc="lower left", fontsize=7.5)
    return figure


@in_style
def draw_bobbins(plan: Plan, table: pd.DataFrame) -> Figure:
    """Which bobbin carries which piece in which rows; a stroke before a piece that is wound on the way."""
    bobbins = int(table.bobbin.max()) if len(table) else 0
    figure = Figure(figsize=(WIDTH_IN, 0.8 + 0.36 * max(1, bobbins)), layout="constrained")
    ax, yarns = figure.subplots(), plan.project.all_yarns
    for piece in table.itertuples():
        colour = yarns[piece.yarn].colour
        ax.barh(
            piece.bobbin,
            piece.to_row - piece.from_row + 1,
            left=piece.from_row - 0.5,
            color=to_rgb(colour),
            edgecolor=INK,
        )
        middle = (piece.from_row + piece.to_row) / 2
        ax.text(
            middle,
            piece.bobbin,
            piece.piece,
            ha="center",
            va="center",
            size=8,
            color=ink_on(colour),
        )
        if piece.wind != "before you start":
            ax.plot(
                [piece.from_row - 0.5] * 2,
                [piece.bobbin - 0.55, piece.bobbin + 0.55],
                color=INK,
                linewidth=2.5,
            )
    ax.set(
        xlim=(0.5, len(plan.rows) + 0.5), ylim=(bobbins + 0.6, 0.4), xlabel="row", ylabel="bobbin"
    )
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_title("Each bobbin, row by row; a heavy stroke: stop and wind")
    return figure
