"""Where an end can be run: along a border of its own colour, or behind stitches of its own row.

All of it is read off the knitted chart, as the right side shows it; what is said of sides is turned
round for the back.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from planner.plan import Plan
from planner.rows import End

# Rows or stitches: an end holds over 6 to 8 of its own (common practice, no source).
RUN_OVER, HOLDS_OVER = 8, 6
LEAST_ROWS = 3  # over fewer there is nothing to hold an end
NEAR = 2  # stitches: a border so near is reached by itself
MOST_ASIDE = 4  # stitches by which a border may step from one row to the next
STEPS = {"right": 1, "left": -1}  # to the columns beside a stitch, as the right side shows it
BACK = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class Way:
    """How an end is run; sides are those of the back.

    First it goes round the yarn `hole` that lies beside it on `hole_side`, empty at an edge of the
    piece; then behind so many `stitches` of its own row towards `side`; then over so many `rows`,
    up or down, along its border there with the yarn `beyond`, empty at an edge of the piece.
    """

    hole: str
    hole_side: str
    side: str
    stitches: int = 0
    beyond: str = ""
    rows: int = 0
    upwards: bool = True

    @property
    def is_short(self) -> bool:
        """Whether it is gone twice, or the end would slip out."""
        return self.rows + self.stitches < HOLDS_OVER


class Paths:
    """Where the ends of a plan can be run; each keeps off those that were asked for before it."""

    def __init__(self, plan: Plan):
        self.traced = plan.traced
        self.how = plan.traced.how
        self.letters = plan.traced.chart.letters
        # Read cell by cell, which is far quicker in lists.
        self.cells: list[list[int]] = plan.traced.chart.cells.tolist()
        self.areas: list[list[int]] = plan.area_of_cell.tolist()
        self.binds_off = bool(plan.project.allow.bind_off)
        # Where ends lie already: area, side, chart row.
        self.taken: set[tuple[int, str, int]] = set()

    def way(self, end: End) -> Way:
        """How an end of a strand is run."""
        hangs_at = self._hangs_at(end)
        found = self._best(end, hangs_at)
        self.taken |= self._lies_along(end, found)
        return found

    def way_from_far_end(self, end: End, column: int) -> Way:
        """How it is run if it hangs where its yarn leaves the row, in this column."""
        return self._best(end._replace(column=column), BACK[self._hangs_at(end)])

    def first_row(self, end: End, way: Way) -> int:
        """How many rows are worked when an end can be run: those are there that it lies along."""
        rows = end.row + 1
        if way.rows and way.upwards:
            times = self.how.rows_per_chart_row
            rows = (end.row // times + way.rows) * times
        return min(rows, self.traced.runs.rows)

    def _best(self, end: End, hangs_at: str) -> Way:
        """The nearest border that has room and no end along it yet; else the row itself."""
        row = end.row // self.how.rows_per_chart_row
        hole = self._beside(row, end.column, hangs_at), BACK[hangs_at]
        found = []
        for side in self._nearest_first(row, end.column):
            way = self._along_border(end, row, side, hole)
            found += [way] if way else []
        # Two ends along one border make a ridge there. If both are taken, the nearer one it is.
        free = [way for way in found if self.taken.isdisjoint(self._lies_along(end, way))]
        return (free or found or [self._along_row(end, row, hole)])[0]

    def _nearest_first(self, row: int, column: int) -> Sequence[str]:
        """Both sides, that of the nearer border first."""
        away = {}
        for side in STEPS:
            border = self._border(row, column, side)
            away[side] = self._between(row, column, border, side)
        return sorted(STEPS, key=lambda side: away[side])

    def _lies_along(self, end: End, way: Way) -> set[tuple[int, str, int]]:
        """The chart rows of its area, on a side, that an end lies along."""
        row = end.row // self.how.rows_per_chart_row
        step = 1 if way.upwards else -1
        rows = range(row, row + step * way.rows, step)
        return {(end.area, way.side, each) for each in rows}

    def _along_border(self, end: End, row: int, side: str, hole: tuple[str, str]) -> Way | None:
        """How it is run along the border on one side; None without room there."""
        # A start is run upwards and a stop downwards: yarns that take turns do not overlap.
        upwards = end.what == "start"
        border = self._border(row, end.column, side)
        aside = self._between(row, end.column, border, side)
        if aside <= NEAR:
            aside = 0
        # Its own stitch is the first that it goes behind.
        stitches = min(aside + 1, RUN_OVER) if aside else 0
        if aside + LEAST_ROWS >= RUN_OVER:
            return Way(*hole, BACK[side], stitches)
        rows = self._rows_along(row, border, side, upwards=upwards)
        if rows < LEAST_ROWS:
            # The other way there may be more of its own colour.
            upwards = not upwards
            rows = self._rows_along(row, border, side, upwards=upwards)
        if rows < LEAST_ROWS:
            return None
        beyond = self._beside(row, border, side)
        rows = min(rows, RUN_OVER - stitches)
        return Way(*hole, BACK[side], stitches, beyond, rows, upwards)

    def _along_row(self, end: End, row: int, hole: tuple[str, str]) -> Way:
        """How it is run behind its own stitches, away from where it hangs."""
        _, away = hole
        border = self._border(row, end.column, away)
        stitches = self._between(row, end.column, border, away) + 1
        return Way(*hole, BACK[away], min(stitches, RUN_OVER))

    def _hangs_at(self, end: End) -> str:
        """The side of its stitch, as the right side shows it, at which an end hangs."""
        # A row that is worked leftwards comes to a stitch from the right, and leaves at the left.
        at_right = bool(self.traced.runs.leftwards[end.row])
        is_last = end.row == self.traced.runs.rows - 1
        # What is bound off with, turned, comes back to where its run began.
        is_bound_off = self.binds_off and is_last and self.how.is_turned
        if end.what == "stop" and not is_bound_off:
            at_right = not at_right
        return "right" if at_right else "left"

    def _along(self, row: int, column: int, side: str) -> Iterator[int]:
        """The worked columns of a row beside this one, on one side, the nearest first."""
        columns = len(self.cells[row])
        for away in range(1, columns):
            place = column + STEPS[side] * away
            if self.how.is_tube:
                place %= columns
            if not 0 <= place < columns:
                return
            if self.cells[row][place] >= 0:
                yield place

    def _beside(self, row: int, column: int, side: str) -> str:
        """The yarn of the stitch beside this one; "" at an edge, or where it is the same."""
        yarns = self.cells[row]
        beside = next(self._along(row, column, side), column)
        return "" if yarns[beside] == yarns[column] else self.letters[yarns[beside]]

    def _border(self, row: int, column: int, side: str) -> int:
        """The last column of a stitch's own area on one side."""
        area = self.areas[row][column]
        for place in self._along(row, column, side):
            if self.areas[row][place] != area:
                break
            column = place
        return column

    def _between(self, row: int, column: int, border: int, side: str) -> int:
        """How many stitches lie from one column of a row, left out, to another on one side."""
        places = [column, *self._along(row, column, side)]
        return places.index(border)

    def _rows_along(self, row: int, column: int, side: str, *, upwards: bool) -> int:
        """Over how many rows an end can be run along a border with one yarn, as far as wanted."""
        area, yarn = self.areas[row][column], self.cells[row][column]
        beyond = self._beside(row, column, side)
        step = 1 if upwards else -1
        for rows in range(1, RUN_OVER):
            row += step
            if not 0 <= row < len(self.cells):
                return rows
            # Where the border steps inwards, its own colour goes on a little farther in.
            inwards = islice(self._along(row, column, BACK[side]), MOST_ASIDE)
            own = [place for place in (column, *inwards) if self.cells[row][place] == yarn]
            if not own or self.areas[row][own[0]] != area:
                return rows
            column = self._border(row, own[0], side)
            goes_far = self._between(row, own[0], column, side) > MOST_ASIDE
            # A border with another yarn is another border.
            if goes_far or self._beside(row, column, side) != beyond:
                return rows
        return RUN_OVER
