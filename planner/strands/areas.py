"""Colour areas: stitches of one yarn that lie side by side or one above the other."""

from __future__ import annotations

import numpy as np
import pandas as pd

from planner.piece import Chart, Construction
from planner.strands.arrays import Lengths, Numbers, connected_parts, numbered_in_order
from planner.strands.runs import Runs, find_runs

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
    cells = _runs_on_the_chart(chart, runs)
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
    a = np.concatenate([one_side.ravel() for one_side, _ in touching])
    b = np.concatenate([other_side.ravel() for _, other_side in touching])
    alike = yarn[a] == yarn[b]
    part = connected_parts(a[alike], b[alike], len(yarn))
    # No stitch comes first, so it is area 0.
    area = numbered_in_order(part)
    over_cells = area[cells[:, : chart.columns]]
    return np.where(chart.cells >= 0, over_cells, 0)


def _runs_on_the_chart(chart: Chart, runs: Runs) -> Numbers:
    """The run that lies over each cell, from 1; 0 where none does."""
    cells = np.zeros(chart.cells.shape, dtype=np.int64)
    spans = zip(runs.row, runs.lo, runs.hi, strict=True)
    for number, (row, lo, hi) in enumerate(spans, start=1):
        cells[row, lo : hi + 1] = number
    return cells


def _at_corners(
    below: Numbers,
    above: Numbers,
    yarn: Numbers,
    plenty: Lengths,
) -> list[Touching]:
    """The runs that meet across a corner and are not parted there, for both diagonals.

    `below` and `above` are the runs over the cells of each row and of the row on top of it.
    """
    rising = (below[:, :-1], above[:, 1:])
    falling = (below[:, 1:], above[:, :-1])
    touching = []
    for (a, b), (c, d) in ((rising, falling), (falling, rising)):
        crossed = yarn[c] == yarn[d]
        no_more_plentiful = plenty[yarn[c]] <= plenty[yarn[a]]
        together = ~(crossed & no_more_plentiful)
        touching.append((a[together], b[together]))
    return touching


def area_table(chart: Chart, areas: Numbers) -> pd.DataFrame:
    """One row an area: yarn, stitches, the chart rows it spans, its narrowest and widest row.

    All are counted in stitches, rows from 1.
    """
    row, column = np.nonzero(areas)
    yarn = chart.cells[row, column]
    area = areas[row, column]
    cells = pd.DataFrame({"area": area, "row": row + 1, "yarn": yarn})
    in_row = cells.groupby(["area", "row", "yarn"]).size()
    by_area = in_row.rename("stitches").reset_index().groupby("area")
    table = by_area.agg(
        yarn=("yarn", "first"),
        stitches=("stitches", "sum"),
        first_chart_row=("row", "min"),
        last_chart_row=("row", "max"),
        narrowest_stitches=("stitches", "min"),
        widest_stitches=("stitches", "max"),
    )
    letters = np.array(chart.letters, dtype=object)
    table["yarn"] = letters[table.yarn]
    return table.reset_index()
