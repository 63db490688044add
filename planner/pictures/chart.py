"""Pictures in the shape of the chart: the chart as it will look, and the map of its strands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from planner.colour import NO_STITCH_GREY, ink_on
from planner.pictures.canvas import (
    INK,
    Sheet,
    by_worked_row,
    in_style,
    yarn_colours,
)
from planner.pictures.labels import LABEL_PT, Label, Page, place_labels, widest_spots
from planner.pictures.words import Lettering, Words, frame
from planner.plan import Plan
from planner.strands import Runs
from planner.units import counted

# Pale, of unlike lightness even in grey, so that dark labels read on all of them.
STRAND_TINTS = (
    "#9ecae1", "#fdd49e", "#d9d9d9", "#c7e9c0", "#fbb4b9", "#dadaeb",
    "#ffffb3", "#8dd3c7", "#f0c9a0", "#b3b3cc", "#e5f5b0", "#f7f7f7",
)  # fmt: skip
LETTER_ROWS_PT = 12  # letters stand in rows about so far apart
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
    yarns = plan.project.all_yarns
    handles = []
    # Stitches come in the order of the chart's letters, as colours do.
    knitted = plan.traced.chart.stitches()
    for yarn, (letter, stitches) in enumerate(knitted.items()):
        words = f"{yarns[letter].title}, {stitches:,} st"
        embroidered = np.count_nonzero(plan.embroidered == yarn)
        if embroidered:
            words += f" and {embroidered} embroidered (V)"
        patch = Patch(facecolor=colours[yarn], edgecolor=INK, label=words)
        handles.append(patch)
    # Longer words need wider columns.
    most_abreast = 3 if (plan.embroidered >= 0).any() else 4
    figure.legend(
        handles=handles,
        loc="lower center",
        ncols=min(most_abreast, len(handles)),
        borderaxespad=0.2,
    )


@in_style
def draw_strands(plan: Plan) -> Figure:
    """The chart recoloured by strand, each with its label and its count of stitches."""
    strands = plan.traced
    sheet = Sheet(strands, _title_of_strands(plan))
    grid = strand_grid(plan)
    tints = strand_tints(grid, strands.count)
    sheet.paint(grid, [*tints, "#ffffff"])
    sheet.rule()
    sheet.part(grid, width=1.1)
    # Tints say which strand, not which yarn; so every V is in ink.
    inks = [INK] * len(strands.chart.letters)
    sheet.mark_embroidery(by_worked_row(strands, plan.embroidered), inks)

    spots = widest_spots(
        grid,
        strands.labels,
        stitch_pt=sheet.stitch_pt,
        row_pt=sheet.row_pt,
    )
    width = sheet.columns * sheet.stitch_pt
    height = sheet.rows * sheet.row_pt
    page = Page(width, height)
    _write_labels(sheet, place_labels(spots, page))
    return sheet.figure


def _title_of_strands(plan: Plan) -> str:
    """The piece with its strands and ends to sew in, those of refills told apart."""
    strands = counted(plan.traced.count, "strand")
    words = f"{plan.project.name}: {strands}, {plan.ends_in_all} ends"
    if plan.refill_ends:
        words += f" ({plan.refill_ends} of them from refills)"
    return words


def _write_labels(sheet: Sheet, labels: Sequence[Label]) -> None:
    """Write each label in its strand, or in a box beside it with a line to it."""
    ax = sheet.ax
    # Labels are placed in points.
    cell = np.array((sheet.stitch_pt, sheet.row_pt))
    texts, places = [], []
    boxed, ways = [], []
    for label in labels:
        place = (label.x, label.y)
        if label.tip is None:
            texts.append(label.text)
            places.append(place / cell)
        else:
            boxed.append(label.text)
            ways.append((place, label.tip) / cell)
    Words(ax, texts, places, look=LABELS, ink="black")

    # Under all boxes, so that none crosses what is written.
    lines = LineCollection(ways, colors="black", linewidths=0.7, zorder=5)
    ax.add_collection(lines, autolim=False)
    places = [way[0] for way in ways]
    frame(ax, boxed, places, look=CALLOUTS)
    Words(ax, boxed, places, look=CALLOUTS, ink="black")


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


def strand_tints(grid: np.ndarray, count: int) -> list[str]:
    """A tint for each strand, unlike those of the strands that touch it."""
    touching = _touching(grid)
    number = len(STRAND_TINTS)
    chosen: list[int] = []
    for strand in range(count):
        # Those after it are not tinted yet, and −1 is no strand.
        taken = {chosen[other] for other in touching[strand] if 0 <= other < strand}
        # Each strand begins one further on in the list, so that all tints come into use.
        wanted = [(strand + k) % number for k in range(number)]
        free = [tint for tint in wanted if tint not in taken]
        chosen.append(free[0] if free else 0)
    return [STRAND_TINTS[tint] for tint in chosen]


def _touching(grid: np.ndarray) -> dict[int, set[int]]:
    """The values that lie beside, above or below each value of a grid."""
    touching: dict[int, set[int]] = defaultdict(set)
    # Pairs are looked for as single numbers, which are sorted far more quickly; −1 becomes 0.
    numbered = grid + 1
    count = int(numbered.max()) + 1
    beside = (numbered[:, 1:], numbered[:, :-1])
    above = (numbered[1:], numbered[:-1])
    for these, those in (beside, above):
        pairs = these * count + those
        unlike = pairs[these != those]
        for pair in np.unique(unlike).tolist():
            a, b = divmod(pair, count)
            touching[a - 1].add(b - 1)
            touching[b - 1].add(a - 1)
    return touching
