"""The needle: the stitches of each worked row, and where in a row an edge lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.strands.trace import Strands


class Needle:
    """The stitches of each worked row, counted from the left, selvedge counted in.

    Stitches are those that are worked: cells without a stitch are left out.
    """

    def __init__(self, strands: Strands):
        self.rows_a_chart_row = strands.how.rows_per_chart_row
        self.leftwards: list[bool] = strands.runs.leftwards.tolist()
        self.selvedge = strands.how.selvedge
        is_worked = strands.chart.cells >= 0
        # Worked cells to the left of each edge of a chart row: none of the first, all of the last.
        up_to_cell = is_worked.cumsum(axis=1)
        self.cells_left = np.pad(up_to_cell, ((0, 0), (1, 0)))
        self.first_edge: list[int] = is_worked.argmax(axis=1).tolist()
        from_the_right = is_worked[:, ::-1].argmax(axis=1)
        last_edge = strands.chart.columns - from_the_right
        self.last_edge: list[int] = last_edge.tolist()

    def rest(self, row: int, edge: int, *, leftwards: bool) -> int:
        """Where yarn rests that a row takes along to an edge: beside the last stitch before it."""
        chart_row = row // self.rows_a_chart_row
        cells_left = self.cells_left[chart_row]
        # No stitch lies between these edges, so the yarn may rest at any of them.
        same_place = np.flatnonzero(cells_left == cells_left[edge])
        rests = same_place[-1] if leftwards else same_place[0]
        return int(rests)

    def count(self, row: int) -> int:
        """The stitches of a row."""
        chart_row = row // self.rows_a_chart_row
        cells = int(self.cells_left[chart_row, -1])
        return cells + 2 * self.selvedge

    def left_of(self, row: int, edge: int, since: int | None = None) -> int:
        """How many stitches of a row lie to the left of an edge.

        Of a yarn that hangs there `since` an earlier row: of where it hangs, for the selvedge moves
        when the piece becomes wider or narrower.
        """
        chart_row = row // self.rows_a_chart_row
        cells = int(self.cells_left[chart_row, edge])
        selvedge = self.selvedge
        hung_in = chart_row if since is None else since // self.rows_a_chart_row
        # What hung outside of the selvedge still does so, with what was added outside of it.
        if edge <= self.first_edge[hung_in]:
            return cells
        if edge >= self.last_edge[hung_in]:
            return cells + 2 * selvedge
        # What hung inside is nearer to the end where stitches were bound off.
        bound_off_before = self.first_edge[chart_row] - edge
        if bound_off_before > 0:
            return max(0, selvedge - bound_off_before)
        bound_off_beyond = edge - self.last_edge[chart_row]
        if bound_off_beyond > 0:
            return cells + selvedge + min(selvedge, bound_off_beyond)
        return cells + selvedge

    def worked_before(self, row: int, edge: int, since: int | None = None) -> int:
        """How many stitches of a row are worked before it comes to an edge.

        Or to a yarn that hangs there `since` an earlier row.
        """
        left = self.left_of(row, edge, since)
        return self.count(row) - left if self.leftwards[row] else left
