"""Runs: the longest stretches of one yarn in one worked row, in the order they are worked.

A run's yarn comes at the edge where the run is first worked and goes at the other. Edges are
counted in chart columns from the left: a run over the columns lo..hi has the edges lo and hi + 1.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from planner.piece import Chart, Construction
from planner.strands.arrays import Flags, Numbers, end_to_end

# What `Runs` holds of the piece, not of each run.
OF_THE_PIECE = ("leftwards", "columns", "tube")


@dataclass(frozen=True, eq=False)
class Runs:
    """The runs of a piece, one entry a run in every array, in working order.

    yarn
        Its yarn, as an index into the chart's letters.
    row, chart_row
        The worked row and the row of the chart, both from 0.
    lo, hi
        Its first and its last column, from the left.
    enter, leave
        The edges where its yarn comes and where it goes.
    stitches
        How many stitches it has; no-stitch cells are left out.
    leftwards
        By worked row, whether it is worked from the right to the left.
    columns, tube
        The columns of the chart, and whether its sides meet in a tube (in rounds, turned or not).
    """

    yarn: Numbers
    row: Numbers
    chart_row: Numbers
    lo: Numbers
    hi: Numbers
    enter: Numbers
    leave: Numbers
    stitches: Numbers
    leftwards: Flags
    columns: int
    tube: bool

    @property
    def count(self) -> int:
        return len(self.yarn)

    @property
    def rows(self) -> int:
        """Worked rows of the piece."""
        return len(self.leftwards)

    @property
    def place(self) -> Numbers:
        """A number for each run, in working order.

        It depends on where the run begins alone, not on how many runs come before it.
        """
        # A row has one edge more than columns, so the places of two rows never meet.
        leftwards = self.leftwards[self.row]
        from_the_right = self.columns - self.enter
        in_row = np.where(leftwards, from_the_right, self.enter)
        edges = self.columns + 1
        return self.row * edges + in_row

    def over_cells(self) -> Numbers:
        """The run that lies over each cell, worked rows × columns; −1 where none does."""
        first_cell = self.row * self.columns + self.lo
        width = self.hi + 1 - self.lo
        run, cell = end_to_end(first_cell, width)
        over = np.full(self.rows * self.columns, -1)
        over[cell] = run
        return over.reshape(self.rows, self.columns)

    def only(self, chosen: Numbers | Flags | slice) -> Runs:
        """Some of the runs, or all in another order; the piece keeps its rows and columns."""
        by_run = {}
        for field in fields(self):
            if field.name not in OF_THE_PIECE:
                by_run[field.name] = getattr(self, field.name)[chosen]
        return replace(self, **by_run)


def find_runs(chart: Chart, how: Construction) -> Runs:
    """The runs of a chart under a construction; no-stitch cells neither count nor break a run."""
    # The worked cells, row by row from the left; no-stitch cells drop out here.
    cells = chart.cells.ravel()
    worked = np.flatnonzero(cells >= 0)
    yarn = cells[worked]

    # A run goes on until the next worked cell lies in another row or has another yarn.
    begins = np.zeros(len(worked) + 1, dtype=bool)
    begins[1:-1] = yarn[1:] != yarn[:-1]
    first_in_row = np.arange(0, chart.rows * chart.columns, chart.columns)
    begins[np.searchsorted(worked, first_in_row)] = True
    first = np.flatnonzero(begins[:-1])
    last = np.append(first[1:], len(worked)) - 1
    chart_row, first_column = np.divmod(worked[first], chart.columns)
    last_column = worked[last] - chart_row * chart.columns
    first_yarn = yarn[first].astype(np.int64)
    stitches = last - first + 1

    # Garter works each chart row twice; each working of a run is a run of its own.
    times = how.rows_per_chart_row
    working = np.repeat(np.arange(times), len(first))
    chart_row = np.tile(chart_row, times)
    row = chart_row * times + working
    lo = np.tile(first_column, times)
    hi = np.tile(last_column, times)

    # The sides where a run begins and ends depend on the direction of its row.
    worked_rows = chart.rows * times
    leftwards = np.array([how.runs_leftwards(number) for number in range(worked_rows)])
    left = leftwards[row]
    runs = Runs(
        yarn=np.tile(first_yarn, times),
        row=row,
        chart_row=chart_row,
        lo=lo,
        hi=hi,
        enter=np.where(left, hi + 1, lo),
        leave=np.where(left, lo, hi + 1),
        stitches=np.tile(stitches, times),
        leftwards=leftwards,
        columns=chart.columns,
        tube=how.is_tube,
    )
    # In a row that is worked leftwards the run farthest to the right comes first.
    return runs.only(np.argsort(runs.place, kind="stable"))
