"""The swatch from a chart: the window that holds most of what is hard in it.

Every place of the chart where something hard is knitted gets a mark, technique by technique. How
many marks a window holds is then a difference of four sums over corners (a summed-area table), so
that every window is looked at. Each technique counts by the window's share of the most that any
window of this size holds: a window with some of each comes before one with much of a single one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from planner.errors import PlanError
from planner.piece import NO_YARN, Allowances, Chart, Construction, Project
from planner.strands import Strands

VERTICAL, SLANT, LINE, MIDDLE_START, CHANGES = (
    *("vertical border", "slant", "one-stitch line"),
    *("middle start", "colour changes"),
)
# How much each counts (judgement): what shows most in the fabric when it goes wrong counts most,
# and rows that are busy only for their many colour changes least.
WEIGHTS = {VERTICAL: 3, SLANT: 2, LINE: 2, MIDDLE_START: 2, CHANGES: 1}
WEIGHTS_IN_WORDS = (
    "Each technique counts by how much of it the window holds, beside the window that holds most "
    "of it: vertical borders three times, slants, one-stitch lines and middle starts twice, colour "
    "changes (the busiest rows) once."
)
# A border counts as vertical where it stays for so many rows, as a slant where it moves from one
# row to the next by no more than so many stitches (judgement).
ROWS_OF_A_BORDER, STITCHES_OF_A_SLANT = 4, 2
SIDE = 30  # stitches and rows, unless another size is wanted
SHARES = 1000  # shares are in thousandths, so that they add up exactly

Marks = dict[str, np.ndarray]


@dataclass(frozen=True)
class Window:
    """A window of a chart: its first row and column, from 0 at the bottom left, and its size.

    `held` is how many marks of each technique lie in it, without those of which there are none.
    `score` is the sum of its shares in thousandths, weighed.
    """

    row: int
    column: int
    rows: int
    stitches: int
    held: dict[str, int]
    score: int

    def cut(self, chart: Chart) -> Chart:
        """What of the chart lies in it."""
        rows = slice(self.row, self.row + self.rows)
        columns = slice(self.column, self.column + self.stitches)
        return Chart.from_cells(chart.cells[rows, columns], chart.letters, source="The swatch")

    def place(self, chart: Chart) -> str:
        """Where it lies, as the knitter counts: rows from the bottom, stitches from the right."""
        last = chart.columns - self.column
        first = last - self.stitches + 1
        rows = f"rows {self.row + 1}–{self.row + self.rows}"
        if self.rows == 1:
            rows = f"row {self.row + 1}"
        stitches = f"stitch {first}" if first == last else f"stitches {first}–{last}"
        return f"{rows}, {stitches}"

    @property
    def in_words(self) -> str:
        """The techniques it holds."""
        kinds = [kind for kind in self.held if kind != CHANGES]
        plain = "no technique but plain colour changes" if self.held else "one yarn alone"
        return ", ".join(f"a {kind}" for kind in kinds) or plain


def find_window(strands: Strands, *, stitches: int = SIDE, rows: int = SIDE) -> Window:
    """The window of the knitted chart that holds most of what is hard; no larger than the chart.

    Of windows that hold as much the lowest, then the one farthest to the right. Raises PlanError
    where every window of this size has a row without a stitch.
    """
    if stitches < 1 or rows < 1:
        raise PlanError(f"A swatch of {stitches} stitches × {rows} rows: give 1 or more of both.")
    chart = strands.chart
    rows, stitches = min(rows, chart.rows), min(stitches, chart.columns)
    held = {
        kind: _in_windows(of_kind, rows, stitches, **_BESIDE[kind])
        for kind, of_kind in find_marks(strands).items()
    }
    scores = _scores(held)
    scores[~_are_whole(chart, rows, stitches)] = -1
    best = int(scores.max())
    if best < 0:
        raise PlanError(
            f"Every window of {stitches} stitches × {rows} rows has a row without a stitch. Choose "
            "a wider one, or one of fewer rows."
        )
    # Charts are kept from the bottom, so the first row is the lowest.
    row, column = max(np.argwhere(scores == best).tolist(), key=lambda at: (-at[0], at[1]))
    in_it = {kind: int(counts[row, column]) for kind, counts in held.items()}
    found = {kind: number for kind, number in in_it.items() if number}
    return Window(row, column, rows, stitches, found, best)


# ---- the marks

# A mark between two stitches, or two rows, is in a window if both of them are.
_BESIDE: Mapping[str, Mapping[str, int]] = {
    VERTICAL: {"left": 1},
    SLANT: {"left": 1, "below": 1},
    LINE: {},
    MIDDLE_START: {},
    CHANGES: {"left": 1},
}


def find_marks(strands: Strands) -> Marks:
    """Where something hard is knitted, by technique: rows × columns, True where it is.

    What lies between two stitches is marked at the right one, a slant at its upper row.
    """
    cells = strands.chart.cells
    pairs = _pairs(cells)
    middle = np.zeros(cells.shape, dtype=bool)
    begun = strands.links.a[strands.links.is_middle]
    runs = strands.runs
    # Where the first of the two halves is begun.
    begun_at = np.where(runs.enter[begun] > runs.hi[begun], runs.hi[begun], runs.lo[begun])
    middle[runs.chart_row[begun], begun_at] = True
    return {
        VERTICAL: _verticals(pairs),
        SLANT: _slants(pairs),
        LINE: _lines(cells),
        MIDDLE_START: middle,
        CHANGES: pairs > 0,
    }


def _pairs(cells: np.ndarray) -> np.ndarray:
    """A number for the two yarns that meet at the left of each cell; 0 where none do."""
    pairs = np.zeros(cells.shape, dtype=int)
    left, right = cells[:, :-1].astype(int), cells[:, 1:].astype(int)
    meet = (left >= 0) & (right >= 0) & (left != right)
    pairs[:, 1:] = np.where(meet, 1 + left * (int(cells.max()) + 1) + right, 0)
    return pairs


def _verticals(pairs: np.ndarray) -> np.ndarray:
    """Where a border belongs to a stretch of rows in which the same two yarns meet at one edge."""
    rows = len(pairs)
    vertical = np.zeros(pairs.shape, dtype=bool)
    for first in range(rows - ROWS_OF_A_BORDER + 1):
        stretch = slice(first, first + ROWS_OF_A_BORDER)
        vertical[stretch] |= (pairs[stretch] == pairs[first]).all(axis=0) & (pairs[first] > 0)
    return vertical


def _slants(pairs: np.ndarray) -> np.ndarray:
    """Where a border stands a stitch or two beside the same border in the row below."""
    slant = np.zeros(pairs.shape, dtype=bool)
    above, below = pairs[1:], pairs[:-1]
    for shift in range(1, STITCHES_OF_A_SLANT + 1):
        slant[1:, shift:] |= above[:, shift:] == below[:, :-shift]
        slant[1:, :-shift] |= above[:, :-shift] == below[:, shift:]
    # One that stays where it was is no slant, whatever stands beside it.
    slant[1:] &= (above > 0) & (above != below)
    return slant


def _lines(cells: np.ndarray) -> np.ndarray:
    """Where a yarn is one stitch wide, and is so too in the row above or below, close by."""
    columns = cells.shape[1]
    # A rim of no stitch round all of them, so that each has neighbours.
    rim = np.pad(cells.astype(int), 1, constant_values=-1)
    one_wide = (rim[1:-1, 1:-1] != rim[1:-1, :-2]) & (rim[1:-1, 1:-1] != rim[1:-1, 2:])
    one_wide &= cells >= 0
    thin = np.pad(np.where(one_wide, cells, -1), 1, constant_values=-1)
    line = np.zeros(cells.shape, dtype=bool)
    for rows in (slice(None, -2), slice(2, None)):
        for shift in (0, 1, 2):
            line |= thin[rows, shift : shift + columns] == cells
    return line & one_wide


# ---- every window


def _in_windows(
    marks: np.ndarray, rows: int, columns: int, *, left: int = 0, below: int = 0
) -> np.ndarray:
    """How many marks lie in each window of this size, by its lowest row and its first column.

    Of marks that need the stitch to their `left`, or the row `below`, those at that rim are out.
    """
    sums = np.zeros((marks.shape[0] + 1, marks.shape[1] + 1), dtype=int)
    sums[1:, 1:] = marks.cumsum(axis=0, dtype=int).cumsum(axis=1)
    # The corners: the sum up to the far one holds all that is below it or to its left.
    low, high = sums[below : len(sums) - rows + below], sums[rows:]
    begin = slice(left, sums.shape[1] - columns + left)
    counts: np.ndarray = high[:, columns:] - high[:, begin] - low[:, columns:] + low[:, begin]
    return counts


def _scores(held: Mapping[str, np.ndarray]) -> np.ndarray:
    """The score of each window: its shares in whole thousandths, weighed."""
    shape = next(iter(held.values())).shape
    scores = np.zeros(shape, dtype=int)
    for kind, counts in held.items():
        most = max(1, int(counts.max()))
        scores += WEIGHTS[kind] * (SHARES * counts // most)
    return scores


def _are_whole(chart: Chart, rows: int, columns: int) -> np.ndarray:
    """Whether each window has a stitch in each of its rows."""
    stitches = _in_windows(chart.cells >= 0, 1, columns)
    bare_rows = _in_windows(stitches == 0, rows, 1)
    are_whole: np.ndarray = bare_rows == 0
    return are_whole


# ---- the swatch as a piece


def swatch_piece(project: Project, strands: Strands, window: Window) -> Project:
    """The swatch as a piece of its own, with yarns, gauge, limits and habits of the one it is from.

    It begins on the side that the window's lowest row has there. A window of a tube is worked
    flat. The measurements of the knitter's hand go along, those of single strands do not; no swatch
    is counted for it, and it has edges to cast on and bind off, also where the piece has none.
    """
    chart = window.cut(strands.chart)
    usual, how = Allowances(), project.how
    allow = replace(
        project.allow,
        swatch_in=NO_YARN,
        cast_on=project.allow.cast_on or usual.cast_on,
        bind_off=project.allow.bind_off or usual.bind_off,
        cast_on_in=project.allow.cast_on_in if project.allow.cast_on_in in chart.letters else "",
    )
    side = how.side(window.row * how.rows_per_chart_row)
    flat: Construction = replace(how, worked="flat", first_row=side)
    return replace(
        project,
        name=f"{project.name} swatch",
        chart=chart,
        yarns={
            letter: project.yarns[letter] for letter in chart.letters if letter in project.yarns
        },
        how=flat,
        by_yarn={letter: own for letter, own in project.by_yarn.items() if letter in chart.letters},
        allow=allow,
        # The rows that are knitted elsewhere are other rows here.
        habits=replace(project.habits, elsewhere=""),
        choices=(),
        measurements=tuple(line for line in project.measurements if not line.strand),
        progress=(),
        swatch_of=project.folder.name if project.folder else "",
        folder=None,
    )
