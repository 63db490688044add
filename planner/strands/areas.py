"""Colour areas: stitches of one yarn that lie side by side or one above the other."""

from __future__ import annotations

import numpy as np
import pandas as pd

from planner.piece import Chart, Construction
from planner.strands.arrays import Lengths, Numbers, connected_parts, numbered_in_order, summed
from planner.strands.runs import find_runs

Touching = tuple[Numbers, Numbers]  # runs that touch: one of each at the same place


def label_areas(chart: Chart, how: Construction | None = None) -> Numbers:
    """The colour area of each cell, rows × columns, numbered from 1 in the order of first need.

    0 is no stitch. Stitches that touch only at a corner lie in one area unless two stitches of one
    yarn that is no more plentiful cross between them: the figure holds together and parts the
    ground, as the eye sees it. A no-stitch cell within a run does not part an area; in a tube,
    turned or not, the first and the last column are neighbours.
    """
    # Areas lie on the chart, whatever the direction of work.
    runs = find_runs(chart, Construction())
    cells = runs.over_cells() + 1
    # Run 0 stands for no stitch. Its yarn, −1, is the last one, and more plentiful than any.
    yarn = np.append(-1, runs.yarn)
    stitches = np.bincount(runs.yarn, weights=runs.stitches)
    plenty = np.append(stitches, np.inf)

    # Side by side in a row one yarn is one run already, except where a tube closes.
    touching = []
    if how is not None and how.is_tube:
        first = cells[:, :1]
        last = cells[:, -1:]
        touching.append((last, first))
        # Beyond the last column comes the first again, for the corners.
        cells = np.hstack((cells, first))
    below = cells[:-1]
    above = cells[1:]
    touching.append((below, above))
    touching += _at_corners(below, above, yarn, plenty)

    # Of what touches, runs of one yarn hang together.
    first_runs, second_runs = [], []
    for first, second in touching:
        first_runs.append(first.ravel())
        second_runs.append(second.ravel())
    a = np.concatenate(first_runs)
    b = np.concatenate(second_runs)
    alike = yarn[a] == yarn[b]
    part = connected_parts(a[alike], b[alike], len(yarn))
    # No stitch comes first, so it is area 0.
    area = numbered_in_order(part)
    over_cells = area[cells[:, : chart.columns]]
    return np.where(chart.cells >= 0, over_cells, 0)


def _at_corners(below: Numbers, above: Numbers, yarn: Numbers, plenty: Lengths) -> list[Touching]:
    """The runs that meet across a corner and are not parted there, for both diagonals.

    `below` and `above` are the runs over the cells of each row and of the row on top of it.
    """
    rising = (below[:, :-1], above[:, 1:])
    falling = (below[:, 1:], above[:, :-1])
    touching = []
    for diagonal, crossing in ((rising, falling), (falling, rising)):
        a, b = diagonal
        c, d = crossing
        crossed = yarn[c] == yarn[d]
        no_more_plentiful = plenty[yarn[c]] <= plenty[yarn[a]]
        together = ~(crossed & no_more_plentiful)
        touching.append((a[together], b[together]))
    return touching


def area_table(chart: Chart, areas: Numbers) -> pd.DataFrame:
    """One row an area: yarn, stitches, the chart rows it spans, its narrowest and widest row.

    All are counted in stitches, rows from 1.
    """
    runs = find_runs(chart, Construction())
    area = areas[runs.row, runs.lo]
    # The runs of an area in one row are counted together.
    area_and_row = area * chart.rows + runs.row
    place, of_run = np.unique(area_and_row, return_inverse=True)
    in_row = summed(of_run, runs.stitches, len(place)).astype(int)
    # These come area by area, and in each from its first row to its last.
    area_of_place, row_of_place = np.divmod(place, chart.rows)
    numbers, first, rows = np.unique(area_of_place, return_index=True, return_counts=True)
    chart_row = row_of_place + 1
    yarn = np.zeros(len(numbers), dtype=int)
    yarn[np.searchsorted(numbers, area)] = runs.yarn
    letters = np.array(chart.letters, dtype=object)
    columns = {
        "area": numbers,
        "yarn": letters[yarn],
        "stitches": np.add.reduceat(in_row, first),
        "first_chart_row": chart_row[first],
        "last_chart_row": chart_row[first + rows - 1],
        "narrowest_stitches": np.minimum.reduceat(in_row, first),
        "widest_stitches": np.maximum.reduceat(in_row, first),
    }
    return pd.DataFrame(columns)
