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
        goal = find_goal(self.runs, self.chart.letters, choice)
        if choice.about != "carry" or goal is None:
            return of_run
        return np.unique(np.concatenate((of_run, self._of_run(goal), self.behind(choice))))

    def way(self, choice: OwnChoice) -> Way | None:
        """The way of a carry; None for any other choice, and where a run of it is gone."""
        if choice.about != "carry":
            return None
        runs, letters = self.runs, self.chart.letters
        a = run_of(runs, letters, choice)
        b = find_goal(runs, letters, choice)
        if a is None or b is None:
            return None
        begins, ends = int(runs.leave[a]), int(runs.enter[b])
        # From round to round it goes the shorter way.
        if runs.tube and runs.row[a] != runs.row[b] and abs(ends - begins) > runs.columns / 2:
            ends += runs.columns if ends < begins else -runs.columns
        return Way(begins, int(runs.chart_row[a]), ends, int(runs.chart_row[b]))

    def behind(self, choice: OwnChoice) -> np.ndarray:
        """The cells of a row behind whose stitches a carry runs; none if it leaves the row."""
        way = self.way(choice)
        if way is None or way.from_row != way.to_row:
            return np.empty(0, dtype=int)
        low, high = sorted((way.from_edge, way.to_edge))
        columns = np.arange(low, high)
        cells = way.from_row * self.chart.columns + columns
        return cells[self.chart.cells[way.from_row, columns] >= 0]

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
