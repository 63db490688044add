"""Runs: the longest stretches of one yarn in one worked row, in the order they are worked."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from planner.piece import Chart, Construction


@dataclass(frozen=True, eq=False)
class Runs:
    """One entry a run in every array, in working order.

    `yarn` indexes the chart's letters; `row` is the worked row and `chart_row` the chart's, both from 0;
    `lo`, `hi` are its first and last column from the left; `enter`, `leave` the edges where its yarn comes and
    goes (a run over lo..hi has edges lo and hi + 1); `stitches` leaves no-stitch cells out.
    """

    yarn: np.ndarray
    row: np.ndarray
    chart_row: np.ndarray
    lo: np.ndarray
    hi: np.ndarray
    enter: np.ndarray
    leave: np.ndarray
    stitches: np.ndarray
    leftwards: np.ndarray  # one entry a worked row
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
    def place(self) -> np.ndarray:
        """A number for each run, in working order, that depends on where it begins alone, not on the runs before it."""
        begins = np.where(self.leftwards[self.row], self.columns - self.enter, self.enter)
        return self.row * (self.columns + 1) + begins

    def only(self, chosen: np.ndarray) -> Runs:
        """Some of the runs; the piece keeps its rows and columns."""
        by_run = [f.name for f in fields(self) if f.name not in ("leftwards", "columns", "tube")]
        return replace(self, **{name: getattr(self, name)[chosen] for name in by_run})


def find_runs(chart: Chart, how: Construction) -> Runs:
    """The runs of a chart under a construction; no-stitch cells neither count nor break a run."""
    chart_row, column = np.nonzero(chart.cells >= 0)
    yarn = chart.cells[chart_row, column].astype(np.int64)
    breaks = (np.diff(chart_row) != 0) | (np.diff(yarn) != 0)
    first = np.concatenate(([0], np.flatnonzero(breaks) + 1))
    last = np.concatenate((first[1:], [len(yarn)])) - 1
    yarn, chart_row, lo, hi, stitches = (
        yarn[first],
        chart_row[first],
        column[first],
        column[last],
        last - first + 1,
    )

    # Garter works each chart row twice; each working of a run is a run of its own.
    times = how.rows_per_chart_row
    yarn, chart_row, lo, hi, stitches = (
        np.tile(x, times) for x in (yarn, chart_row, lo, hi, stitches)
    )
    row = chart_row * times + np.repeat(np.arange(times), len(first))
    leftwards = np.array([how.runs_leftwards(r) for r in range(chart.rows * times)])
    left = leftwards[row]
    order = np.lexsort((np.where(left, -lo, lo), row))
    enter, leave = np.where(left, hi + 1, lo), np.where(left, lo, hi + 1)
    arrays = (x[order] for x in (yarn, row, chart_row, lo, hi, enter, leave, stitches))
    return Runs(*arrays, leftwards=leftwards, columns=chart.columns, tube=how.in_rounds)
