"""Pictures in the shape of the chart: the chart as it will look, and the map of its strands."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle

from planner.colour import NO_STITCH_GREY, ink_on
from planner.pictures.canvas import (
    INK,
    WIDTH_IN,
    Sheet,
    by_worked_row,
    draw_lines,
    in_style,
    yarn_colours,
)
from planner.pictures.labels import LABEL_PT, Label, Page, parts_of, place_labels
from planner.pictures.shades import strand_shades
from planner.pictures.words import Lettering, Words, frame
from planner.plan import Plan
from planner.strands import Runs
from planner.units import counted

LETTER_ROWS_PT = 12  # letters stand in rows about so far apart
NO_STITCH_MARK = "#8c8c8c"
# The legend below a chart: as many columns as there is room for, and how high a line of it is.
LEGEND_COLUMN_IN, LEGEND_LINE_IN = 2.1, 0.2
WINDOW_IN = 3.6  # the width of the chart with a window in it
BELOW_IN = 0.38  # room for the numbers of the stitches
LABELS = Lettering(LABEL_PT, rim=2.2)
CALLOUTS = Lettering(LABEL_PT)


@in_style
def draw_chart(plan: Plan) -> Figure:
    """The chart in its yarns' colours at the gauge's true aspect, as it will look when finished.

    A letter stands at its runs, edges part the yarns, and a V marks what is embroidered.
    """
    strands, project = plan.traced, plan.project
    title = f"{project.name}: the chart as it will look at {project.gauge.in_words(project.units)}"
    sheet = Sheet(strands, title, below_in=0.95)
    colours = yarn_colours(plan)
    inks = [ink_on(colour) for colour in colours]
    knitted = by_worked_row(strands, strands.chart.cells)
    embroidered = by_worked_row(strands, plan.embroidered)
    # What is embroidered afterwards lies on what is knitted.
    seen = np.where(embroidered >= 0, embroidered, knitted)
    sheet.paint(seen, [*colours, NO_STITCH_GREY])
    sheet.rule()
    sheet.part(seen, width=0.9)

    areas = by_worked_row(strands, plan.area_of_cell)
    # Where rows are low, a letter in each would crowd the chart.
    step = max(1, round(LETTER_ROWS_PT / sheet.row_pt))
    chosen = lettered_runs(strands.runs, areas, seen, step=step)
    _write_yarns(sheet, inks, chosen)
    sheet.mark_embroidery(embroidered, inks)
    _add_yarns_legend(sheet.figure, plan, colours)
    return sheet.figure


@in_style
def draw_window(plan: Plan, rows: tuple[int, int], columns: tuple[int, int]) -> Figure:
    """The chart, small, with a window of it left clear: what is not in it is pale.

    `rows` and `columns` are its first and the one after its last, from 0 at the bottom left, in
    cells of the chart.
    """
    strands = plan.traced
    sheet = Sheet(strands, "", width_in=WINDOW_IN)
    embroidered = by_worked_row(strands, plan.embroidered)
    knitted = by_worked_row(strands, strands.chart.cells)
    seen = np.where(embroidered >= 0, embroidered, knitted)
    sheet.paint(seen, [*yarn_colours(plan), NO_STITCH_GREY])
    sheet.part(seen, width=0.5)

    times = strands.how.rows_per_chart_row
    low, high = (row * times for row in rows)
    left, right = columns
    beside = [(0, 0, left, sheet.rows), (right, 0, sheet.columns - right, sheet.rows)]
    width = right - left
    beside += [(left, 0, width, low), (left, high, width, sheet.rows - high)]
    for x, y, wide, tall in beside:
        pale = Rectangle((x, y), wide, tall, facecolor="white", alpha=0.65, zorder=4)
        sheet.ax.add_patch(pale)
    frame_of = Rectangle((left, low), width, high - low, fill=False, zorder=5)
    frame_of.set(edgecolor=INK, linewidth=2, clip_on=False)
    sheet.ax.add_patch(frame_of)
    return sheet.figure


def lettered_runs(
    runs: Runs,
    areas: np.ndarray,
    seen: np.ndarray,
    *,
    step: int,
) -> np.ndarray:
    """Which runs bear the letter of their yarn, as True and False.

    They are the runs of every n-th row, and one in each colour area without such a run; but none
    whose middle is embroidered over. `areas` and the yarns `seen` are by worked row.
    """
    chosen = runs.row % step == step // 2
    area = areas[runs.row, runs.lo]
    all_areas, first_run = np.unique(area, return_index=True)
    # A low area may lie between two rows with letters.
    without = ~np.isin(all_areas, area[chosen])
    chosen[first_run[without]] = True
    middle = (runs.lo + runs.hi + 1) // 2
    on_top = seen[runs.row, middle] == runs.yarn
    return chosen & on_top


def _write_yarns(sheet: Sheet, inks: Sequence[str], chosen: np.ndarray) -> None:
    """Write the letter of its yarn in the middle of each chosen run."""
    runs = sheet.strands.runs
    letters = sheet.strands.chart.letters
    size = min(8.0, max(6.0, 1.1 * sheet.row_pt))
    middles = (runs.lo + runs.hi + 1) / 2
    for yarn, (letter, ink) in enumerate(zip(letters, inks, strict=True)):
        of_yarn = chosen & (runs.yarn == yarn)
        # What names a yarn may be up to three letters long.
        fitted = size / max(1, 0.7 * len(letter))
        look = Lettering(fitted, zorder=4)
        x = middles[of_yarn]
        y = runs.row[of_yarn] + 0.5
        places = np.column_stack((x, y))
        Words(sheet.ax, letter, places, look=look, ink=ink)


def _add_yarns_legend(figure: Figure, plan: Plan, colours: Sequence[str]) -> None:
    """Name each yarn below the chart, with its stitches, knitted and embroidered."""
    # Stitches come in the order of the chart's letters, as colours do.
    knitted = plan.traced.chart.stitches()
    said = []
    for yarn, stitches in enumerate(knitted.values()):
        words = f"{stitches:,} st"
        embroidered = np.count_nonzero(plan.embroidered == yarn)
        if embroidered:
            words += f" and {embroidered} embroidered (V)"
        said.append(words)
    # Longer words need wider columns.
    most_abreast = 3 if (plan.embroidered >= 0).any() else 4
    _add_legend(figure, plan, colours, said, most_abreast=most_abreast)


def _add_legend(
    figure: Figure,
    plan: Plan,
    colours: Sequence[str],
    said: Sequence[str],
    *,
    most_abreast: int,
) -> None:
    """Name each yarn of the chart below it, with a patch of its colour and what is said of it."""
    yarns = plan.project.all_yarns
    handles = []
    for letter, colour, words in zip(plan.traced.chart.letters, colours, said, strict=True):
        label = f"{yarns[letter].title}, {words}"
        handles.append(Patch(facecolor=colour, edgecolor=INK, label=label))
    figure.legend(
        handles=handles,
        loc="lower center",
        ncols=min(most_abreast, len(handles)),
        borderaxespad=0.2,
    )


@in_style
def draw_strands(plan: Plan, *, width_in: float = WIDTH_IN) -> Figure:
    """The chart by strands, each in a shade of its yarn, with its label and its stitches.

    Every part of a strand has a label, in it or beside it; a V marks what is embroidered
    afterwards, and a stroke what is no stitch. The picture is `width_in` wide.
    """
    strands = plan.traced
    most_abreast = max(1, int(width_in / LEGEND_COLUMN_IN))
    lines = math.ceil(len(strands.chart.letters) / most_abreast)
    below_in = BELOW_IN + LEGEND_LINE_IN * lines
    sheet = Sheet(strands, _title_of_strands(plan), below_in=below_in, width_in=width_in)
    grid = strand_grid(plan)
    shades = strand_shades(plan, grid)
    inks = [ink_on(colour) for colour in shades]
    sheet.paint(grid, [*shades, NO_STITCH_GREY])
    sheet.rule()
    # No stitch is the last one.
    is_dark = np.array([*(ink == "white" for ink in inks), False])
    sheet.part(grid, width=1.1, on_dark=is_dark[grid])
    _strike_out(sheet, grid < 0)
    # Marked in the ink that reads on the strand that is knitted there.
    embroidered = by_worked_row(strands, plan.embroidered) >= 0
    ink_of_cell = np.where(is_dark[grid], 1, 0)
    sheet.mark_embroidery(np.where(embroidered, ink_of_cell, -1), ("black", "white"))

    parts = parts_of(grid, strands.labels)
    page = Page(embroidered, stitch_pt=sheet.stitch_pt, row_pt=sheet.row_pt)
    labels = place_labels(parts, page)
    _write_labels(sheet, labels, shades, inks)
    _say_what_goes_without(sheet, len(parts) - len(labels))
    said = list(_strands_in_words(plan))
    _add_legend(sheet.figure, plan, yarn_colours(plan), said, most_abreast=most_abreast)
    return sheet.figure


def _strands_in_words(plan: Plan) -> Iterator[str]:
    """How many strands each yarn of the chart has, and whether some of it is embroidered."""
    strands = plan.traced
    counts = np.bincount(strands.yarn, minlength=len(strands.chart.letters))
    for yarn, count in enumerate(counts.tolist()):
        marked = " and V" if (plan.embroidered == yarn).any() else ""
        yield f"{counted(count, 'strand')}{marked}"


def _title_of_strands(plan: Plan) -> str:
    """The piece with its strands and ends to sew in, those of refills told apart."""
    strands = counted(plan.traced.count, "strand")
    words = f"{plan.project.name}: {strands}, {plan.ends_in_all} ends"
    if plan.refill_ends:
        words += f" ({plan.refill_ends} of them from refills)"
    return words


def _strike_out(sheet: Sheet, is_no_stitch: np.ndarray) -> None:
    """Draw a stroke across each cell without a stitch: the grey alone might be a yarn's."""
    row, column = np.nonzero(is_no_stitch)
    if len(row):
        strokes = np.stack((column, row, column + 1, row + 1), axis=1).reshape(-1, 2, 2)
        draw_lines(sheet.ax, strokes, width=0.5, colour=NO_STITCH_MARK, zorder=1)


def _write_labels(
    sheet: Sheet, labels: Sequence[Label], shades: Sequence[str], inks: Sequence[str]
) -> None:
    """Write each label in its strand, or in a box beside it with a line to it."""
    ax = sheet.ax
    # Labels are placed in points.
    cell = np.array((sheet.stitch_pt, sheet.row_pt))
    inside = [label for label in labels if label.tip is None]
    Words(
        ax,
        [label.text for label in inside],
        [np.array((label.x, label.y)) / cell for label in inside],
        look=LABELS,
        ink=[inks[label.strand] for label in inside],
        rims=[shades[label.strand] for label in inside],
    )

    beside = [label for label in labels if label.tip is not None]
    boxed = [label.text for label in beside]
    ways = [((label.x, label.y), label.tip) / cell for label in beside]
    # Under all boxes, so that none crosses what is written; the rim shows them on dark yarns.
    for width, colour in ((2.0, "white"), (0.8, "black")):
        lines = LineCollection(ways, colors=colour, linewidths=width, zorder=5, capstyle="round")
        ax.add_collection(lines, autolim=False)
    places = [way[0] for way in ways]
    frame(ax, boxed, places, look=CALLOUTS)
    Words(ax, boxed, places, look=CALLOUTS, ink="black")


def _say_what_goes_without(sheet: Sheet, parts: int) -> None:
    """Say below the chart how many parts have no label, where that is so."""
    if parts:
        words = f"{counted(parts, 'part')} too small for a label"
        sheet.ax.set_xlabel(f"{sheet.ax.get_xlabel()}; {words}", size=8)


def strand_grid(plan: Plan) -> np.ndarray:
    """The strand (from 0) that works each stitch, worked rows × columns; −1 is no stitch."""
    strands = plan.traced
    runs = strands.runs
    grid = np.full((runs.rows, runs.columns), -1)
    # The cells of all runs in one row, and where each run begins in it.
    widths = runs.hi - runs.lo + 1
    begins = np.cumsum(widths) - widths
    cell = np.arange(widths.sum())
    row = np.repeat(runs.row, widths)
    column = cell + np.repeat(runs.lo - begins, widths)
    strand = np.repeat(strands.of_run, widths)
    grid[row, column] = strand
    # A run may go on over cells without a stitch.
    worked = by_worked_row(strands, strands.chart.cells) >= 0
    return np.where(worked, grid, -1)
