"""Pictures in the shape of the chart: the chart as it will look, and the map of its strands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from planner.colour import NO_STITCH_GREY, ink_on
from planner.pictures.canvas import (
    INK,
    Sheet,
    by_worked_row,
    halo,
    in_style,
    write_letters,
    yarn_colours,
)
from planner.pictures.labels import LABEL_PT, Label, Page, place_labels, widest_spots
from planner.plan import Plan
from planner.strands import Runs
from planner.units import counted

# Pale, of unlike lightness even in grey, so that dark labels read on all of them.
STRAND_TINTS = (
    "#9ecae1", "#fdd49e", "#d9d9d9", "#c7e9c0", "#fbb4b9", "#dadaeb",
    "#ffffb3", "#8dd3c7", "#f0c9a0", "#b3b3cc", "#e5f5b0", "#f7f7f7",
)  # fmt: skip
LETTER_ROWS_PT = 12  # letters stand in rows about so far apart


@in_style
def draw_chart(plan: Plan) -> Figure:
    """The chart in its yarns' colours at the gauge's true aspect, as it will look when finished.

    A letter stands at its runs, edges part the yarns, and a V marks what is embroidered.
    """
    strands, project = plan.traced, plan.project
    title = f"{project.name}: the chart as it will look at {project.gauge}"
    sheet = Sheet(strands, title, below_in=0.95)
    colours = yarn_colours(plan)
    # What is embroidered afterwards lies on what is knitted.
    seen = np.where(plan.embroidered >= 0, plan.embroidered, strands.chart.cells)
    cells = by_worked_row(strands, seen)
    sheet.paint(cells, [*colours, NO_STITCH_GREY])
    sheet.rule()
    sheet.part(cells, width=0.9)
    areas = by_worked_row(strands, plan.area_of_cell)
    step = max(1, round(LETTER_ROWS_PT / sheet.row_pt))
    _write_yarns(sheet, colours, lettered_runs(strands.runs, areas, cells, step=step))
    inks = [ink_on(colour) for colour in colours]
    sheet.mark_embroidery(by_worked_row(strands, plan.embroidered), inks)
    _add_yarns_legend(sheet.figure, plan, colours)
    return sheet.figure


def lettered_runs(runs: Runs, areas: np.ndarray, cells: np.ndarray, *, step: int) -> np.ndarray:
    """Which runs bear the letter of their yarn, as True and False.

    They are the runs of every n-th row, and one in each colour area without such a run; but no run
    whose middle is embroidered over. `areas` and `cells`, the yarns as seen, are by worked row.
    """
    chosen = runs.row % step == step // 2
    area = areas[runs.row, runs.lo]
    all_areas, first_run = np.unique(area, return_index=True)
    without = ~np.isin(all_areas, area[chosen])
    chosen[first_run[without]] = True
    middle = (runs.lo + runs.hi + 1) // 2
    return chosen & (cells[runs.row, middle] == runs.yarn)


def _write_yarns(sheet: Sheet, colours: Sequence[str], chosen: np.ndarray) -> None:
    """Write the letter of its yarn in the middle of each chosen run."""
    runs = sheet.strands.runs
    size = min(8.0, max(6.0, 1.1 * sheet.row_pt))
    for yarn, letter in enumerate(sheet.strands.chart.letters):
        of_yarn = chosen & (runs.yarn == yarn)
        x = (runs.lo[of_yarn] + runs.hi[of_yarn] + 1) / 2
        y = runs.row[of_yarn] + 0.5
        # A yarn's letter may be a word of up to three.
        fitted = size / max(1, 0.7 * len(letter))
        write_letters(sheet.ax, letter, x, y, size=fitted, colour=ink_on(colours[yarn]))


def _add_yarns_legend(figure: Figure, plan: Plan, colours: Sequence[str]) -> None:
    """Name each yarn below the chart, with its stitches, knitted and embroidered."""
    chart, yarns = plan.traced.chart, plan.project.all_yarns
    knitted = chart.stitches()
    above = plan.embroidered[plan.embroidered >= 0]
    embroidered = np.bincount(above, minlength=len(chart.letters)).tolist()
    handles = []
    for letter, colour, stitches in zip(chart.letters, colours, embroidered, strict=True):
        words = f"{yarns[letter].title}, {knitted[letter]:,} st"
        if stitches:
            words += f" and {stitches} embroidered (V)"
        handles.append(Patch(facecolor=colour, edgecolor=INK, label=words))
    most_columns = 3 if any(embroidered) else 4  # the longer words need wider columns
    columns = min(most_columns, len(handles))
    figure.legend(handles=handles, loc="lower center", ncols=columns, borderaxespad=0.2)


@in_style
def draw_strands(plan: Plan) -> Figure:
    """The chart recoloured by strand, each with its label and its count of stitches."""
    strands = plan.traced
    grid = strand_grid(plan)
    sheet = Sheet(strands, _title_of_strands(plan))
    sheet.paint(grid, [*strand_tints(grid, strands.count), "#ffffff"])
    sheet.rule()
    sheet.part(grid, width=1.1)
    inks = [INK] * len(strands.chart.letters)
    sheet.mark_embroidery(by_worked_row(strands, plan.embroidered), inks)
    counts = strands.per_strand(strands.runs.stitches).astype(int).tolist()
    spots = widest_spots(grid, stitch_pt=sheet.stitch_pt, row_pt=sheet.row_pt)
    page = Page(sheet.columns * sheet.stitch_pt, sheet.rows * sheet.row_pt)
    for label in place_labels(spots, strands.labels, counts, page):
        _write_label(sheet, label)
    return sheet.figure


def _title_of_strands(plan: Plan) -> str:
    """The piece with its strands and ends, those of refills told apart."""
    ends = len(plan.ends)
    of_refills = ends - plan.traced.ends
    words = f"{plan.project.name}: {counted(plan.traced.count, 'strand')}, {ends} ends"
    if of_refills:
        words += f" ({of_refills} of them from refills)"
    return words


def _write_label(sheet: Sheet, label: Label) -> None:
    """Write a label in its strand, or in a box beside it with a line to it."""
    place = (label.x / sheet.stitch_pt, label.y / sheet.row_pt)
    if label.tip is None:
        written = sheet.ax.text(*place, label.text, path_effects=halo(2.2))
    else:
        tip = (label.tip[0] / sheet.stitch_pt, label.tip[1] / sheet.row_pt)
        line = {"arrowstyle": "-", "color": "black", "linewidth": 0.7, "shrinkA": 0, "shrinkB": 0}
        box = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "black"}
        written = sheet.ax.annotate(
            label.text, tip, place, arrowprops=line, bbox={**box, "linewidth": 0.5}
        )
    written.set(ha="center", va="center", size=LABEL_PT, color="black", zorder=6, linespacing=1.0)


def strand_grid(plan: Plan) -> np.ndarray:
    """The strand (from 0) that works each stitch, worked rows × columns; −1 is no stitch."""
    strands, runs = plan.traced, plan.traced.runs
    grid = np.full((runs.rows, runs.columns), -1)
    places = zip(runs.row.tolist(), runs.lo.tolist(), runs.hi.tolist(), strict=True)
    for (row, lo, hi), strand in zip(places, strands.of_run.tolist(), strict=True):
        grid[row, lo : hi + 1] = strand
    # No-stitch cells may lie within a run.
    return np.where(by_worked_row(strands, strands.chart.cells) >= 0, grid, -1)


def strand_tints(grid: np.ndarray, count: int) -> list[str]:
    """A tint for each strand, unlike those of the strands that touch it."""
    touching = _touching(grid)
    tints: list[int] = []
    for strand in range(count):
        taken = {tints[other] for other in touching[strand] if 0 <= other < strand}
        # Each strand begins to look further on, so that all tints come into use.
        order = [(strand + k) % len(STRAND_TINTS) for k in range(len(STRAND_TINTS))]
        tints.append(next((tint for tint in order if tint not in taken), 0))
    return [STRAND_TINTS[tint] for tint in tints]


def _touching(grid: np.ndarray) -> dict[int, set[int]]:
    """The values that lie beside, above or below each value of a grid."""
    touching: dict[int, set[int]] = defaultdict(set)
    for one_side, other_side in ((grid[:, 1:], grid[:, :-1]), (grid[1:], grid[:-1])):
        unlike = one_side != other_side
        pairs = np.stack((one_side[unlike], other_side[unlike]), axis=1)
        for a, b in np.unique(pairs, axis=0).tolist():
            touching[a].add(b)
            touching[b].add(a)
    return touching
