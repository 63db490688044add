"""The edges of the piece as its right side shows them, stitch by stitch, in their colours.

An edge is told in the order in which a hand picks up along it: right side up, the fabric below the
edge, from the right to the left (a left-handed knitter goes the other way round).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

import numpy as np

from planner.errors import PlanError
from planner.plan import Plan

CAST_ON, BIND_OFF, RIGHT, LEFT, OPENING = EDGES = (
    *("cast-on edge", "bind-off edge"),
    *("right edge", "left edge"),
    "opening at the top",
)
LEAST_OPENING = 3  # stitches; a narrower gap is where the chart keeps its columns aligned
Column = Callable[[list[int]], int]  # which of a row's columns lies at an edge


class EdgeStitch(NamedTuple):
    """What lies at an edge: the side of a worked row, or a stitch that is cast on or bound off.

    `row` is the worked row and `column` the chart's column, both from 0.
    """

    yarn: str
    row: int
    column: int
    is_row: bool


def edges_of(plan: Plan) -> list[str]:
    """The edges that the piece has: a tube has no sides, and few pieces have an opening."""
    level = [CAST_ON, BIND_OFF]
    if plan.traced.how.is_tube:
        return level
    opening = [OPENING] if opening_of(plan.project.chart.cells) else []
    return [RIGHT, LEFT, *level, *opening]


def side_edges_of(plan: Plan) -> list[str]:
    """The edges of the piece that a seam may join; none in a tube."""
    return [edge for edge in edges_of(plan) if edge in (RIGHT, LEFT)]


def opening_of(cells: np.ndarray) -> tuple[int, int, int] | None:
    """The columns, first and last, of a gap between stitches in the top row, and its lowest row.

    None where there is no gap, or it is narrower than a neck can be. `cells` are those of a chart,
    rows from the bottom.
    """
    columns = np.flatnonzero(cells[-1] >= 0)
    steps = np.diff(columns)
    # A step of 1 leads from a stitch to its neighbour, so a gap is one less than its step.
    if not len(steps) or steps.max() <= LEAST_OPENING:
        return None
    place = int(steps.argmax())
    before, beside = columns[place : place + 2].tolist()
    middle = (before + beside) // 2
    row = len(cells) - 1
    while row and _parts_at(cells[row - 1], middle):
        row -= 1
    return before + 1, beside - 1, row


def _parts_at(line: np.ndarray, column: int) -> bool:
    """Whether a row has no stitch in this column, and stitches at both sides of it."""
    is_worked = line >= 0
    before = is_worked[:column]
    beside = is_worked[column + 1 :]
    return bool(before.any() and beside.any() and not is_worked[column])


def edge_stitches(plan: Plan, edge: str) -> list[EdgeStitch]:
    """The stitches of an edge, each once, in the order in which they are picked up.

    Colours are those that are seen: an embroidered stitch has that of its embroidery. Raises
    PlanError for an edge that the piece does not have.
    """
    if edge not in edges_of(plan):
        raise PlanError(f'The piece has no "{edge}". Choose one of {", ".join(edges_of(plan))}.')
    walk = _Walk(plan)
    walks = {
        CAST_ON: walk.cast_on,
        BIND_OFF: walk.bind_off,
        RIGHT: walk.right_side,
        LEFT: walk.left_side,
        OPENING: walk.opening,
    }
    stitches = walks[edge]()
    if plan.traced.how.hand == "left":
        stitches.reverse()
    return stitches


class _Walk:
    """The edges of a chart, walked by a right-handed knitter."""

    def __init__(self, plan: Plan):
        self.cells = plan.project.chart.cells
        self.letters = plan.project.chart.letters
        self.times = plan.traced.how.rows_per_chart_row

    def cast_on(self) -> list[EdgeStitch]:
        # Turned upside down, its left end is at the right.
        return self._level(0, self._worked(0))

    def bind_off(self) -> list[EdgeStitch]:
        top = len(self.cells) - 1
        from_right = self._worked(top)[::-1]
        return self._level(top, from_right)

    def right_side(self) -> list[EdgeStitch]:
        return self._side(0, lambda worked: worked[-1], outwards=1)

    def left_side(self) -> list[EdgeStitch]:
        upwards = self._side(0, lambda worked: worked[0], outwards=-1)
        return upwards[::-1]

    def opening(self) -> list[EdgeStitch]:
        """Down the part at its right, along its bottom to the left, and up the part at its left."""
        found = opening_of(self.cells)
        if found is None:
            return []
        first, last, bottom = found
        middle = (first + last) // 2

        def beside(worked: list[int]) -> int:
            return min(column for column in worked if column > middle)

        def before(worked: list[int]) -> int:
            return max(column for column in worked if column < middle)

        right_part = self._side(bottom, beside, outwards=-1)
        left_part = self._side(bottom, before, outwards=1)
        across = self._bottom(bottom, before, beside)
        return [*right_part[::-1], *across, *left_part]

    def _bottom(self, row: int, before: Column, beside: Column) -> list[EdgeStitch]:
        """The stitches bound off below the lowest row of an opening, from the right."""
        if not row:
            return []
        worked = self._worked(row)
        left, right = before(worked), beside(worked)
        below = self._worked(row - 1)
        bound_off = [column for column in below if left < column < right]
        return self._level(row - 1, bound_off[::-1])

    def _worked(self, row: int) -> list[int]:
        """The columns of a row that have a stitch."""
        columns: list[int] = np.flatnonzero(self.cells[row] >= 0).tolist()
        return columns

    def _level(self, chart_row: int, columns: Iterable[int]) -> list[EdgeStitch]:
        return [self._stitch(chart_row, column, is_row=False) for column in columns]

    def _stitch(self, chart_row: int, column: int, *, is_row: bool) -> EdgeStitch:
        yarn = self.letters[self.cells[chart_row, column]]
        return EdgeStitch(yarn, chart_row * self.times, column, is_row)

    def _side(self, first_row: int, column_of: Column, *, outwards: int) -> list[EdgeStitch]:
        """One side from a chart row up: each worked row, and what is cast on or bound off there.

        `outwards` is 1 where the fabric lies to the left of the side, −1 where to its right.
        """
        found: list[EdgeStitch] = []
        before = column_of(self._worked(first_row))
        for row in range(first_row, len(self.cells)):
            column = column_of(self._worked(row))
            found += self._step(row, before, column, outwards)
            of_row = self._stitch(row, column, is_row=True)
            # In garter the row of the chart is worked twice.
            for again in range(self.times):
                found.append(of_row._replace(row=of_row.row + again))
            before = column
        return found

    def _step(self, row: int, before: int, column: int, outwards: int) -> list[EdgeStitch]:
        """The stitches bound off below a row, or cast on in it, where its side steps in or out.

        A single stitch is a decrease or an increase: it has no edge of its own.
        """
        step = (column - before) * outwards
        if abs(step) < 2:
            return []
        if step < 0:
            # Bound off they lie in the row below, outside of the new side.
            lies_in = row - 1
            columns = range(before, column, -outwards)
        else:
            lies_in = row
            columns = range(before + outwards, column + outwards, outwards)
        worked = set(self._worked(lies_in))
        return self._level(lies_in, filter(worked.__contains__, columns))
