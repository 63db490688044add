"""Spots: which stitches of the chart a choice is about, so that it can be shown there."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.choices.places import find_goal, run_of
from planner.piece import Chart, Construction, OwnChoice
from planner.strands import Runs


class Way(NamedTuple):
    """The way of a carry over the chart, from one edge to another.

    Edges are counted in columns from the left; `from_row` and `to_row` are chart rows from 0. Where
    it goes round a tube, `to_edge` lies beyond the side of the chart.
    """

    from_edge: int
    from_row: int
    to_edge: int
    to_row: int


class Spots:
    """Finds the stitches of choices on the chart as it is drawn.

    `areas` are the colour areas of its cells, `runs` those of the chart that is knitted.
    """

    def __init__(self, chart: Chart, how: Construction, areas: np.ndarray, runs: Runs):
        self.chart = chart
        self.how = how
        self.areas = areas
        self.runs = runs
        # The cells in the order of their areas, and where each area begins among them.
        self._in_order = np.argsort(areas, axis=None, kind="stable")
        self._begins = np.append(0, np.cumsum(np.bincount(areas.ravel())))

    def cells(self, choice: OwnChoice) -> np.ndarray:
        """The cells of a choice, rising, row by row from the bottom; none where it is gone.

        They are the area to embroider; both runs of a carry, and in one row what lies between them;
        the run that is begun from its middle.
        """
        if choice.about == "embroider":
            return self._area_at(choice)
        run = run_of(self.runs, self.chart.letters, choice)
        if run is None:
            return np.empty(0, dtype=int)
        of_run = self._of_run(run)
        if choice.about != "carry":
            return of_run
        goal = find_goal(self.runs, self.chart.letters, choice)
        if goal is None:
            return of_run
        of_carry = (of_run, self._of_run(goal), self.behind(choice))
        return np.unique(np.concatenate(of_carry))

    def way(self, choice: OwnChoice) -> Way | None:
        """The way of a carry; None for any other choice, and where a run of it is gone."""
        if choice.about != "carry":
            return None
        runs, letters = self.runs, self.chart.letters
        a = run_of(runs, letters, choice)
        b = find_goal(runs, letters, choice)
        if a is None or b is None:
            return None
        begins = int(runs.leave[a])
        ends = int(runs.enter[b])
        # From round to round it goes the shorter way.
        from_round_to_round = runs.tube and runs.row[a] != runs.row[b]
        if from_round_to_round and abs(ends - begins) > runs.columns / 2:
            ends += runs.columns if ends < begins else -runs.columns
        from_row = int(runs.chart_row[a])
        to_row = int(runs.chart_row[b])
        return Way(begins, from_row, ends, to_row)

    def behind(self, choice: OwnChoice) -> np.ndarray:
        """The cells of a row behind whose stitches a carry runs; none if it leaves the row."""
        way = self.way(choice)
        if way is None or way.from_row != way.to_row:
            return np.empty(0, dtype=int)
        low, high = sorted((way.from_edge, way.to_edge))
        first = way.from_row * self.chart.columns
        cells = np.arange(first + low, first + high)
        is_stitch = self.chart.cells.ravel()[cells] >= 0
        return cells[is_stitch]

    def _of_run(self, run: int) -> np.ndarray:
        first = self.runs.chart_row[run] * self.chart.columns
        return first + np.arange(self.runs.lo[run], self.runs.hi[run] + 1)

    def _area_at(self, choice: OwnChoice) -> np.ndarray:
        row = (choice.row - 1) // self.how.rows_per_chart_row
        column = self.chart.columns - choice.stitch
        # A place beyond the edge is no mistake: the chart may have been larger.
        if row >= self.chart.rows or column < 0:
            return np.empty(0, dtype=int)
        yarn = self.chart.cells[row, column]
        if yarn < 0 or self.chart.letters[yarn] != choice.yarn:
            return np.empty(0, dtype=int)
        area = self.areas[row, column]
        return self._in_order[self._begins[area] : self._begins[area + 1]]
