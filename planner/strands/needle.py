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
        # Worked cells to the left of each edge of a chart row.
        self.cells_left = np.pad(is_worked.cumsum(axis=1), ((0, 0), (1, 0)))
        self.first_edge: list[int] = is_worked.argmax(axis=1).tolist()
        from_the_right = is_worked[:, ::-1].argmax(axis=1)
        self.last_edge: list[int] = (is_worked.shape[1] - from_the_right).tolist()

    def rest(self, row: int, edge: int, *, leftwards: bool) -> int:
        """Where yarn rests that a row takes along to an edge: beside the last stitch before it."""
        cells_left = self.cells_left[row // self.rows_a_chart_row]
        same = np.flatnonzero(cells_left == cells_left[edge])
        return int(same[-1] if leftwards else same[0])

    def count(self, row: int) -> int:
        """The stitches of a row."""
        cells = self.cells_left[row // self.rows_a_chart_row, -1]
        return int(cells) + 2 * self.selvedge

    def left_of(self, row: int, edge: int, since: int | None = None) -> int:
        """How many stitches of a row lie to the left of an edge.

        Of a yarn that hangs there `since` an earlier row: of where it hangs, for the selvedge moves
        when the piece becomes wider or narrower.
        """
        chart_row = row // self.rows_a_chart_row
        cells = int(self.cells_left[chart_row, edge])
        first, last = self.first_edge[chart_row], self.last_edge[chart_row]
        began = chart_row if since is None else since // self.rows_a_chart_row
        # What hung outside of the selvedge still does so, with what was added outside of it.
        if edge <= self.first_edge[began]:
            return cells
        if edge >= self.last_edge[began]:
            return cells + 2 * self.selvedge
        # What hung inside is nearer to the end where stitches were bound off.
        if edge < first:
            return max(0, self.selvedge - (first - edge))
        if edge > last:
            return cells + self.selvedge + min(self.selvedge, edge - last)
        return cells + self.selvedge

    def worked_before(self, row: int, edge: int, since: int | None = None) -> int:
        """How many stitches of a row are worked before it comes to an edge.

        Or to a yarn that hangs there `since` an earlier row.
        """
        left = self.left_of(row, edge, since)
        return self.count(row) - left if self.leftwards[row] else left
