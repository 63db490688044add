"""Pictures of a plan: the chart, the chart by strand, the order of the strands row by row, the load.

Every function returns a matplotlib Figure made without pyplot, so it may be called from a widget's callback.
Colour is never alone: letters and labels say which yarn, edges part neighbours.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import matplotlib
import matplotlib.style
import numpy as np
from matplotlib.collections import LineCollection, PathCollection
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke
from matplotlib.textpath import TextPath
from matplotlib.transforms import Affine2D, IdentityTransform
from scipy import ndimage

from planner.colour import NO_STITCH_GREY, ink_on
from planner.plan import Plan
from planner.strands import ACROSS, MIDDLE, UP
from planner.units import counted

STYLE = Path(__file__).resolve().parents[2] / "shared" / "workbook.mplstyle"
WIDTH_IN, TALLEST_IN = 9.0, 15.0
MOST_CALLOUTS = 150  # strands
INK = "#222222"
DASHED = (0, (3, 2))
# In the order of the strands: marker, colour, edge, size.
MARKS = {
    "starts": ("o", "white", "black", 6),
    "begun from its middle": ("D", "white", "black", 6),
    "ends": ("X", "black", "white", 6.5),
}
# Pale, of unlike lightness even in grey, so that dark labels read on all of them.
STRAND_TINTS = (
    "#9ecae1", "#fdd49e", "#d9d9d9", "#c7e9c0", "#fbb4b9", "#dadaeb",
    "#ffffb3", "#8dd3c7", "#f0c9a0", "#b3b3cc", "#e5f5b0", "#f7f7f7",
)  # fmt: skip
# As a decorator it lets a picture be made in the workbook's style, whatever the caller's own.
in_style = matplotlib.style.context(STYLE)


def _letters(ax, text: str, x, y, size: float, colour: str):
    """The same short text at many places, in points; far quicker than one text object each."""
    path = TextPath((0, 0), text, size=1.0)
    box = path.get_extents()
    path = path.transformed(Affine2D().translate(-(box.x0 + box.x1) / 2, -(box.y0 + box.y1) / 2))
    marks = PathCollection(
        [path], sizes=[size**2], offsets=np.column_stack([x, y]), offset_transform=ax.transData
    )
    marks.set(
        transform=IdentityTransform(), facecolor=colour, edgecolor="none", snap=False, zorder=4
    )
    ax.add_collection(marks, autolim=False)


def _edges(values: np.ndarray) -> list:
    """Line segments between unlike neighbours of a grid whose cell (row, column) spans column..column+1, row..row+1."""
    row, column = np.nonzero(values[:, 1:] != values[:, :-1])
    upright = np.stack([np.stack([column + 1, row], 1), np.stack([column + 1, row + 1], 1)], 1)
    row, column = np.nonzero(values[1:] != values[:-1])
    flat = np.stack([np.stack([column, row + 1], 1), np.stack([column + 1, row + 1], 1)], 1)
    return [*upright, *flat]


class _Sheet:
    """A figure with one chart-shaped axes at the true aspect; one unit of y is a worked row."""

    def __init__(self, plan: Plan, title: str, below_in: float = 0.45):
        self.plan, runs = plan, plan.traced.runs
        self.rows, self.columns = runs.rows, runs.columns
        aspect = float(plan.traced.gauge.aspect)
        width = WIDTH_IN - 1.0
        height = width / self.columns * self.rows * aspect
        if height > TALLEST_IN:
            width, height = width * TALLEST_IN / height, TALLEST_IN
        self.cell_w, self.cell_h = 72 * width / self.columns, 72 * height / self.rows  # points
        self.figure = Figure(figsize=(max(width, 4.5) + 1.0, height + 0.5 + below_in))
        full_w, full_h = self.figure.get_size_inches()
        self.ax = self.figure.add_axes(
            ((full_w - width) / 2 / full_w, below_in / full_h, width / full_w, height / full_h)
        )
        self.ax.set(xlim=(0, self.columns), ylim=(0, self.rows))
        for side in ("top", "right"):
            self.ax.spines[side].set_visible(True)
        self.ax.set_title(title, pad=8)
        self._rulers()

    def _rulers(self):
        """Row numbers at the edge where each row begins; stitch numbers from the right."""
        step = next(s for s in (1, 2, 5, 10, 20, 50, 100) if s * self.cell_h >= 8)
        leftwards, how = self.plan.traced.runs.leftwards, self.plan.traced.how
        numbers = [r for r in range(self.rows) if r == 0 or (r + 1) % step == 0]
        if not how.in_rounds and step % 2 == 0:  # an even step would only ever show one side
            numbers = sorted({*numbers, *(r - 1 for r in numbers if r % 2)})
        for r in numbers:
            x, align, pad = (self.columns, "left", 3) if leftwards[r] else (0, "right", -3)
            self.ax.annotate(
                str(r + 1), (x, r + 0.5), (pad, 0), textcoords="offset points", ha=align, va="center", color="#444444",
                size=min(7, max(4.5, self.cell_h)), annotation_clip=False,
            )  # fmt: skip
        step = next(s for s in (1, 2, 5, 10, 20, 50, 100) if s * self.cell_w >= 16)
        stitches = [1, *range(max(step, 2), self.columns + 1, step)]
        self.ax.set_xticks(
            [self.columns - s + 0.5 for s in stitches], [str(s) for s in stitches], size=7
        )
        self.ax.tick_params(length=0, pad=2)
        self.ax.set_yticks([])
        word = "rounds" if how.in_rounds else "rows"
        self.ax.set_xlabel(f"stitches from the right; {word} numbered where they begin", size=8)

    def paint(self, colours: np.ndarray):
        extent = (0, self.columns, 0, self.rows)
        self.ax.imshow(
            colours, origin="lower", extent=extent, aspect="auto", interpolation="nearest", zorder=0
        )

    def part(self, values: np.ndarray, width: float, colour=INK):
        edges = LineCollection(
            _edges(values), linewidths=width, colors=colour, capstyle="round", zorder=3
        )
        self.ax.add_collection(edges, autolim=False)

    def embroider(self, inks: Sequence[str]):
        """A V, as a duplicate stitch looks, on each stitch that is embroidered afterwards, in the ink of its yarn."""
        embroidered = _by_worked_row(self.plan, self.plan.embroidered)
        for y in np.unique(embroidered[embroidered >= 0]).tolist():
            row, column = np.nonzero(embroidered == y)
            _letters(
                self.ax,
                "V",
                column + 0.5,
                row + 0.5,
                min(8.0, 0.9 * min(self.cell_w, self.cell_h)),
                inks[y],
            )

    def grid(self):
        """Lines at every tenth stitch from the right and every tenth row; where there is room, at every one."""
        for step, width, colour, zorder in ((1, 0.25, "#00000040", 1), (10, 0.5, "#00000066", 2)):
            if step > 1 or min(self.cell_w, self.cell_h) >= 4:
                look = {"linewidths": width, "colors": colour, "zorder": zorder}
                self.ax.vlines(range(self.columns - step, 0, -step), 0, self.rows, **look)
                self.ax.hlines(range(step, self.rows, step), 0, self.columns, **look)


def _by_worked_row(plan: Plan, cells: np.ndarray) -> np.ndarray:
    return np.repeat(cells, plan.traced.how.rows_per_chart_row, axis=0)


def _yarn_colours(plan: Plan) -> list[str]:
    yarns = plan.project.all_yarns
    return [yarns[letter].colour for letter in plan.traced.chart.letters]


@in_style
def draw_chart(plan: Plan) -> Figure:
    """The chart in its yarns' colours at the gauge's true aspect, a letter at its runs, edges between the yarns."""
    traced, project = plan.traced, plan.project
    chart, colours = traced.chart, _yarn_colours(plan)
    sheet = _Sheet(
        plan, f"{project.name}: the chart as it will look at {project.gauge}", below_in=0.95
    )
    # As it will look: what is embroidered afterwards lies on what is knitted.
    cells = _by_worked_row(plan, np.where(plan.embroidered >= 0, plan.embroidered, chart.cells))
    sheet.paint(np.array([to_rgb(c) for c in (*colours, NO_STITCH_GREY)])[cells])
    sheet.grid()
    sheet.part(cells, 0.9)
    # A letter in every run of every n-th row, and one in each colour area that this misses.
    step = max(1, round(12 / sheet.cell_h))
    size = min(8.0, max(6.0, 1.1 * sheet.cell_h))
    runs = traced.runs
    shown = runs.row % step == step // 2
    areas = _by_worked_row(plan, plan.area_of_cell)
    missed = ~np.isin(np.arange(areas.max() + 1), areas[runs.row[shown], runs.lo[shown]])
    first_of_area = np.unique(areas[runs.row, runs.lo], return_index=True)[1]
    shown[[run for run in first_of_area if missed[areas[runs.row[run], runs.lo[run]]]]] = True
    shown &= (
        cells[runs.row, (runs.lo + runs.hi + 1) // 2] == runs.yarn
    )  # not where it is embroidered over
    for y, letter in enumerate(chart.letters):
        here = shown & (runs.yarn == y)
        fit = size / max(1, 0.7 * len(letter))
        _letters(
            sheet.ax,
            letter,
            (runs.lo[here] + runs.hi[here] + 1) / 2,
            runs.row[here] + 0.5,
            fit,
            ink_on(colours[y]),
        )
    sheet.embroider([ink_on(colour) for colour in colours])
    counts, yarns = chart.stitches(), project.all_yarns
    over = np.bincount(
        plan.embroidered[plan.embroidered >= 0], minlength=len(chart.letters)
    ).tolist()
    handles = [
        Patch(
            facecolor=c,
            edgecolor=INK,
            label=f"{yarns[y].title}, {counts[y]:,} st"
            + (f" and {n} embroidered (V)" if n else ""),
        )
        for y, c, n in zip(chart.letters, colours, over, strict=True)
    ]
    sheet.figure.legend(
        handles=handles,
        loc="lower center",
        ncols=min(4 if not any(over) else 3, len(handles)),
        borderaxespad=0.2,
    )
    return sheet.figure


def strand_grid(plan: Plan) -> np.ndarray:
    """The strand (from 0) that works each stitch, worked rows × columns; −1 is no stitch."""
    runs = plan.traced.runs
    grid = np.full((runs.rows, runs.columns), -1)
    for row, lo, hi, strand in zip(
        runs.row.tolist(),
        runs.lo.tolist(),
        runs.hi.tolist(),
        plan.traced.of_run.tolist(),
        strict=True,
    ):
        grid[row, lo : hi + 1] = strand
    return np.where(_by_worked_row(plan, plan.traced.chart.cells) >= 0, grid, -1)


def strand_tints(grid: np.ndarray, count: int) -> list[str]:
    """A tint for each strand, unlike those of the strands that touch it."""
    near = defaultdict(set)
    for x, y in ((grid[:, 1:], grid[:, :-1]), (grid[1:], grid[:-1])):
        for a, b in np.unique(np.stack([x[x != y], y[x != y]], 1), axis=0).tolist():
            near[a].add(b)
            near[b].add(a)
    tints: list[int] = []
    for strand in range(count):
        taken = {tints[other] for other in near[strand] if 0 <= other < strand}
        tints.append(
            next(
                (
                    t
                    for k in range(len(STRAND_TINTS))
                    if (t := (strand + k) % len(STRAND_TINTS)) not in taken
                ),
                0,
            )
        )
    return [STRAND_TINTS[t] for t in tints]


@in_style
def draw_strands(plan: Plan) -> Figure:
    """The chart recoloured by strand, each with its label and count of stitches."""
    traced = plan.traced
    joins = len(plan.ends) - traced.ends
    ends = f"{len(plan.ends)} ends" + (f" ({joins} of them from refills)" if joins else "")
    sheet = _Sheet(plan, f"{plan.project.name}: {counted(traced.count, 'strand')}, {ends}")
    grid = strand_grid(plan)
    tints = strand_tints(grid, traced.count)
    sheet.paint(np.array([to_rgb(c) for c in (*tints, "#ffffff")])[grid])
    sheet.grid()
    sheet.part(grid, 1.1)
    sheet.embroider([INK] * len(traced.chart.letters))
    _label_strands(sheet, grid, traced.labels, traced.per_strand(traced.runs.stitches).astype(int))
    return sheet.figure


def _label_strands(sheet: _Sheet, grid: np.ndarray, labels: Sequence[str], counts: np.ndarray):
    """Each label inside its strand where there is room, else beside it with a line to it."""
    size = 7.5
    places = []
    for strand, (rows, columns) in enumerate(ndimage.find_objects(grid + 1)):
        inside = np.pad(grid[rows, columns] == strand, 1)
        depth = ndimage.distance_transform_edt(inside, sampling=(sheet.cell_h, sheet.cell_w))
        row, column = np.unravel_index(depth.argmax(), depth.shape)
        centre = (columns.start + column - 0.5, rows.start + row - 0.5)
        room = 2 * float(depth.max()) - min(
            sheet.cell_h, sheet.cell_w
        )  # depth is measured between middles of stitches
        places.append((room, centre, labels[strand], counts[strand]))
    taken: list[tuple[float, float, float, float]] = []  # boxes in points
    wide, tall = sheet.columns * sheet.cell_w, sheet.rows * sheet.cell_h

    def free(x, y, w, h):
        if not (w / 2 <= x <= wide - w / 2 and h / 2 <= y <= tall - h / 2):
            return False
        return all(abs(x - X) * 2 >= w + W or abs(y - Y) * 2 >= h + H for X, Y, W, H in taken)

    def put(x, y, text, w, h, tip=None):
        taken.append((x, y, w, h))
        spot = (x / sheet.cell_w, y / sheet.cell_h)
        style = {
            "ha": "center",
            "va": "center",
            "size": size,
            "color": "black",
            "zorder": 6,
            "linespacing": 1.0,
        }
        halo = [withStroke(linewidth=2.2, foreground="white")]
        if tip is None:
            sheet.ax.text(*spot, text, path_effects=halo, **style)
        else:
            arrow = {
                "arrowstyle": "-",
                "color": "black",
                "linewidth": 0.7,
                "shrinkA": 0,
                "shrinkB": 0,
            }
            box = {
                "boxstyle": "round,pad=0.15",
                "facecolor": "white",
                "edgecolor": "black",
                "linewidth": 0.5,
            }
            sheet.ax.annotate(text, tip, spot, arrowprops=arrow, bbox=box, **style)

    for room, centre, label, count in sorted(places, key=lambda place: -place[0]):
        x, y = centre[0] * sheet.cell_w, centre[1] * sheet.cell_h
        for text in (f"{label}\n{count}", label):
            w, h = (
                0.64 * size * max(map(len, text.split("\n"))) + 1,
                1.12 * size * (text.count("\n") + 1),
            )
            if room >= 0.9 * h and free(x, y, w, h):
                put(x, y, text, w, h)
                break
        else:
            if len(labels) > MOST_CALLOUTS and room < h:
                continue  # where there are so many, a line to each would hide the chart
            text = f"{label} {count}"
            w, h = 0.62 * size * len(text) + 4, 1.3 * size
            turns = np.linspace(0, 2 * np.pi, 16, endpoint=False)
            spots = [
                (x + r * 1.4 * np.cos(t), y + r * np.sin(t))
                for r in range(14, 160, 8)
                for t in turns
            ]
            x, y = next((spot for spot in spots if free(*spot, w, h)), (x, y))
            put(x, y, text, w, h, tip=centre)


@in_style
def draw_strand_order(plan: Plan, first: int = 1, last: int | None = None) -> Figure:
    """The order of the strands in worked rows `first` to `last` (from 1): which lies where, its path from row to row,
    where it starts, is carried and ends. Left and right as on the chart; a path leaves a run at its top and enters the
    next from below."""
    traced, runs = plan.traced, plan.traced.runs
    last = min(last or first + 11, runs.rows)
    first = max(1, min(first, last))
    colours = _yarn_colours(plan)
    low, high = first - 1, last - 1
    lanes = high - low + 1
    figure = Figure(figsize=(WIDTH_IN + 1.2, 0.42 * lanes + 1.35))
    full_h = figure.get_size_inches()[1]
    ax = figure.add_axes((0.085, 0.85 / full_h, 0.83, 0.42 * lanes / full_h))
    ax.set(xlim=(-0.5, runs.columns + 0.5), ylim=(low - 0.75, high + 0.75))
    point = runs.columns / (0.83 * (WIDTH_IN + 1.2) * 72)  # columns in a point
    bar = 0.24  # half the height of a run

    here = np.flatnonzero((runs.row >= low) & (runs.row <= high))
    tints = [colours[y] for y in runs.yarn[here]]
    width = runs.hi[here] + 1 - runs.lo[here]
    ax.barh(
        runs.row[here],
        width,
        2 * bar,
        runs.lo[here],
        color=tints,
        edgecolor=INK,
        linewidth=0.7,
        zorder=2,
    )
    size = 7.0
    said: dict[int, float] = {}  # how far each lane is written already
    for run in sorted(here, key=lambda r: (runs.row[r], runs.lo[r])):
        row, lo, hi, strand = (
            int(runs.row[run]),
            int(runs.lo[run]),
            int(runs.hi[run]) + 1,
            int(traced.of_run[run]),
        )
        colour, label = colours[runs.yarn[run]], traced.labels[strand]
        w = 0.68 * size * len(label) * point
        middle = (lo + hi) / 2
        if hi - lo >= w:
            ax.text(
                middle,
                row,
                label,
                ha="center",
                va="center",
                size=size,
                color=ink_on(colour),
                zorder=6,
            )
        elif said.get(row, -1e9) <= middle - w / 2:  # beside the run, where nothing is written yet
            halo = [withStroke(linewidth=1.8, foreground="white")]
            ax.text(
                middle,
                row + bar + 0.02,
                label,
                ha="center",
                va="bottom",
                size=5.8,
                color="black",
                zorder=7,
                path_effects=halo,
            )
            said[row] = middle + w / 2

    links, halo = traced.links, [withStroke(linewidth=2.6, foreground="white")]
    marks = {name: [] for name in MARKS}
    for kind, a, b in zip(links.kind.tolist(), links.a.tolist(), links.b.tolist(), strict=True):
        ra, rb = int(runs.row[a]), int(runs.row[b])
        if rb < low or ra > high:
            continue
        colour = colours[runs.yarn[a]] if ink_on(colours[runs.yarn[a]]) == "white" else INK
        xa = runs.enter[a] if kind == MIDDLE else runs.leave[a]
        xb = runs.enter[b]
        dash = DASHED if kind in (ACROSS, UP) or abs(int(xa) - int(xb)) > 1 else "solid"
        if ra == rb:  # within one row: behind the stitches between
            below = ra - bar - 0.14
            xs, ys, wide, zorder = [xa, xa, xb, xb], [ra - bar, below, below, ra - bar], 1.3, 3
        else:
            xs, ys, wide, zorder = (
                [xa, xb],
                [ra + (0 if kind == MIDDLE else bar), rb - bar],
                1.5,
                3 if kind == UP else 5,
            )
        ax.plot(
            xs, ys, color=colour, linewidth=wide, linestyle=dash, zorder=zorder, path_effects=halo
        )
        if kind == MIDDLE:
            marks["begun from its middle"].append(((xa + xb) / 2, (ra + rb) / 2))

    begun = {int(r) for r in traced.first_run[~traced.has_middle]}
    leaves = set(range(runs.count)) - set(links.a[links.kind != MIDDLE].tolist())
    marks["starts"] = [(runs.enter[run], runs.row[run] - bar) for run in here if run in begun]
    marks["ends"] = [(runs.leave[run], runs.row[run] + bar) for run in here if run in leaves]
    handles = []
    for name, (marker, colour, edge, large) in MARKS.items():
        x, y = np.reshape(marks[name], (-1, 2)).T
        look = {"marker": marker, "color": colour, "markeredgecolor": edge, "markersize": large}
        handles += ax.plot(x, y, **look, zorder=8, linestyle="none", label=name)
    for row in range(low, high + 1):
        left = runs.leftwards[row]
        x, align = (runs.columns + 0.6, "left") if left else (-0.6, "right")
        name = (
            traced.how.row_name(row).replace(", ", "\n").replace(" (ridge", "\n(ridge")
        )  # a long name in two lines
        arrowed = f"◄ {name}" if left else f"{name} ►"
        ax.text(
            x, row, arrowed, ha=align, va="center", size=7.5 if len(name) < 12 else 6, clip_on=False
        )
    ax.set_yticks([])
    step = next(s for s in (5, 10, 20, 50, 100) if s / point >= 16)
    stitches = [1, *range(step, runs.columns + 1, step)]
    ax.set_xticks([runs.columns - s + 0.5 for s in stitches], [str(s) for s in stitches])
    ax.tick_params(length=2)
    ax.spines["left"].set_visible(False)
    ax.set_xlabel("stitches from the right", size=8)
    ax.set_title(
        f"Order of the strands, {'rounds' if traced.how.in_rounds else 'rows'} {first} to {last} (work upwards)"
    )
    handles += [
        Line2D([], [], color=INK, label="goes on"),
        Line2D([], [], color=INK, linestyle=DASHED, label="carried"),
    ]
    figure.legend(handles=handles, loc="lower center", ncols=5, borderaxespad=0.2)
    return figure


@in_style
def draw_load(plan: Plan) -> Figure:
    """Strands live in each row, with the knitter's comfort as lines, and the rows in which strands start and end."""
    rows, habits, how = plan.rows, plan.project.habits, plan.traced.how
    figure = Figure(figsize=(WIDTH_IN + 1, 3.1), layout="constrained")
    ax = figure.add_subplot()
    looks = {"easy": ("#d5e3ee", ""), "busy": ("#8fb3cf", "//"), "crowded": ("#4d7ea8", "xx")}
    for word, (colour, hatch) in looks.items():
        some = rows[rows.load == word]
        if len(some):
            edge, label = "#ffffff" if hatch else colour, f"{word} ({counted(len(some), 'row')})"
            ax.bar(
                some.row,
                some.live,
                width=1.0,
                color=colour,
                edgecolor=edge,
                hatch=hatch,
                linewidth=0,
                label=label,
            )
    peak = int(rows.live.max())
    edges, live = np.arange(len(rows) + 1) + 0.5, [*rows.live, rows.live.iloc[-1]]
    ax.step(edges, live, where="post", color=INK, linewidth=1.1)
    for level, word in (
        (habits.comfortable, "comfortable up to"),
        (habits.crowded, "crowded above"),
    ):
        if level <= peak + 1:
            ax.axhline(level, color="#777777", linestyle="--", linewidth=0.9)
            ax.text(rows.row.iloc[-1] + 1.2, level, f"{word} {level}", va="center", size=7.5)
    for word, at, marker, colour in (
        ("start", -0.06 * peak - 0.25, "^", "black"),
        ("end", -0.13 * peak - 0.55, "v", "white"),
    ):
        x = rows.row[rows[f"{word}s"] > 0]
        look = {
            "marker": marker,
            "linestyle": "none",
            "color": colour,
            "markeredgecolor": "black",
            "markersize": 4.5,
        }
        ax.plot(x, np.full(len(x), at), **look, label=f"strands {word}", clip_on=False)
    ax.set(xlim=(0.5, rows.row.iloc[-1] + 0.5), ylim=(-0.18 * peak - 0.8, peak + 1))
    ax.yaxis.set_major_locator(matplotlib.ticker.MaxNLocator(integer=True))
    ax.set_yticks([t for t in ax.get_yticks() if 0 <= t <= peak + 1])
    ax.set(xlabel="round" if how.in_rounds else "worked row", ylabel="strands live")
    where = rows.row[rows.live.idxmax()]
    ax.set_title(f"Strands in each row: at most {peak}, first in {how.row_name(int(where) - 1)}")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.2), ncols=5)
    return figure
