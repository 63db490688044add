"""Small areas: which of them may be embroidered, and what they look like."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from planner.choices.asked import Asked
from planner.choices.places import choice_of_cells
from planner.piece import Chart, Construction, OwnChoice, Project
from planner.strands import find_runs, knitted_of
from planner.units import counted

# A ground that motifs cut up is thin as well, but nobody embroiders most of a piece.
MOST_OF_CHART = 0.25


def small_areas(project: Project, asked: Asked) -> list[int]:
    """The areas of the chart as drawn that are small or thin enough to embroider.

    Those that are knitted, embroidered or refused already are left out.
    """
    areas = asked.areas
    weighing = project.weighing
    stitches, widest_run = _sizes(project.chart, areas, tube=project.how.is_tube)
    small = stitches <= weighing.embroider_stitches
    thin = widest_run <= weighing.embroider_wide
    thin &= stitches <= MOST_OF_CHART * stitches.sum()
    good = (stitches > 0) & (small | thin)
    knitted = knitted_of(project)
    if knitted is not None:
        # A ridge of which one row is knitted counts as knitted.
        ridges = len(knitted.rows) / project.how.rows_per_chart_row
        begun = areas[: math.ceil(ridges)]
        good[np.unique(begun)] = False
    # Area 0 is no stitch.
    settled = [0, *asked.on, *asked.refused["embroider"]]
    good[settled] = False
    return np.flatnonzero(good).tolist()


def _sizes(
    chart: Chart,
    areas: np.ndarray,
    *,
    tube: bool,
) -> tuple[np.ndarray, np.ndarray]:
    """By area its stitches, and how many of them its widest run has.

    A diagonal line of single stitches is one stitch wide, however far it goes.
    """
    # Runs as they lie on the chart, whatever the direction of work.
    runs = find_runs(chart, Construction())
    area = areas[runs.row, runs.lo]
    count = int(areas.max()) + 1
    stitches = np.bincount(area, weights=runs.stitches, minlength=count)
    widest = np.zeros(count, dtype=int)
    np.maximum.at(widest, area, runs.stitches)
    if tube:
        # Where a row begins and ends in one area, it goes on across the join.
        _, first = np.unique(runs.row, return_index=True)
        last = np.append(first[1:], runs.count) - 1
        joined = (first != last) & (area[first] == area[last])
        first, last = first[joined], last[joined]
        across = runs.stitches[first] + runs.stitches[last]
        np.maximum.at(widest, area[first], across)
    return stitches, widest


class Shape(NamedTuple):
    """What areas that look alike have in common: their yarn, and the places of their stitches."""

    yarn: str
    rows: tuple[int, ...]
    columns: tuple[int, ...]

    def size(self, rows_per_chart_row: int) -> str:
        """In words: "a single stitch", "a diagonal line of 5 stitches"."""
        stitches = len(self.rows) * rows_per_chart_row
        if stitches == 1:
            return "a single stitch"
        return f"{self._noun()} of {counted(stitches, 'stitch')}"

    def _noun(self) -> str:
        in_rows, in_columns = set(self.rows), set(self.columns)
        if len(in_rows) == 1 or len(in_columns) == 1:
            return "a line"
        cells = set(zip(self.rows, self.columns, strict=True))
        wide = any((row, column + 1) in cells for row, column in cells)
        if wide:
            return "a patch"
        # One stitch wide throughout: one line, or several that meet.
        return "a diagonal line" if len(in_rows) == len(cells) else "thin lines"


class SmallArea(NamedTuple):
    """A small area: its number on the chart as drawn, how to choose it, and what it looks like."""

    number: int
    choice: OwnChoice
    shape: Shape


def areas_to_embroider(project: Project, asked: Asked) -> list[SmallArea]:
    """The small areas that can be embroidered, in working order."""
    areas = asked.areas
    left_to_knit = _left_to_knit(project, asked)
    # The cells of each area, row by row from the bottom.
    in_order = np.argsort(areas, axis=None, kind="stable")
    begins = np.cumsum(np.bincount(areas.ravel()))
    found = []
    for number in small_areas(project, asked):
        cells = in_order[begins[number - 1] : begins[number]]
        if len(cells) == left_to_knit:
            continue  # there would be nothing to embroider it on
        rows, columns = np.divmod(cells, areas.shape[1])
        choice = choice_of_cells(project, rows, columns)
        # Rows and columns are counted from those of the area: its place does not matter.
        rows = rows - rows.min()
        columns = columns - columns.min()
        shape = Shape(choice.yarn, tuple(rows.tolist()), tuple(columns.tolist()))
        found.append(SmallArea(number, choice, shape))
    return found


def _left_to_knit(project: Project, asked: Asked) -> int:
    """The cells of the chart that are knitted and not embroidered."""
    drawn, knit = project.chart.cells, asked.chart.cells
    left = (drawn >= 0) & (drawn == knit)
    return int(left.sum())
