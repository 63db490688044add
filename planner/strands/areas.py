"""Colour areas: stitches of one yarn that lie side by side or one above the other."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from planner.piece import Chart, Construction
from planner.strands.runs import find_runs


def label_areas(chart: Chart, how: Construction | None = None) -> np.ndarray:
    """The colour area of each cell, rows × columns, numbered from 1 in the order of first need; 0 is no stitch.

    Stitches that touch only at a corner lie in one area unless two stitches of one yarn that is no more plentiful cross
    between them: the figure holds together and parts the ground, as the eye sees it. A no-stitch cell within a run does
    not part an area; in rounds the first and the last column are neighbours.
    """
    tube = how is not None and how.in_rounds
    runs = find_runs(
        chart, Construction()
    )  # areas lie on the chart, whatever the direction of work
    filled = np.zeros(
        (chart.rows, chart.columns), dtype=np.int64
    )  # number of the run over each cell, from 1
    for row, lo, hi, number in zip(
        runs.row, runs.lo, runs.hi, range(1, runs.count + 1), strict=True
    ):
        filled[row, lo : hi + 1] = number
    if tube:
        filled = np.hstack((filled, filled[:, :1]))
    # Four ways to touch: side by side only round a tube, one above the other, and the two diagonals.
    yarn, plenty = (
        np.append(-1, runs.yarn),
        np.append(np.bincount(runs.yarn, weights=runs.stitches), np.inf),
    )
    pairs = [(filled[:-1], filled[1:]), *([(filled[:, 0], filled[:, -2])] if tube else [])]
    corners = (filled[:-1, :-1], filled[1:, 1:]), (filled[:-1, 1:], filled[1:, :-1])
    for (a, b), crossing in zip(corners, corners[::-1], strict=True):
        c, d = (yarn[x] for x in crossing)
        parted = (c == d) & (plenty[c] <= plenty[yarn[a]])
        pairs.append((np.where(parted, 0, a), np.where(parted, 0, b)))
    below, above = (np.concatenate([x.ravel() for x in side]) for side in zip(*pairs, strict=True))
    touch = (below > 0) & (above > 0) & (yarn[below] == yarn[above])
    graph = coo_array(
        (np.ones(touch.sum()), (below[touch], above[touch])), shape=(runs.count + 1,) * 2
    )
    area = connected_components(graph, directed=False)[1]
    filled = filled[:, : chart.columns]
    _, first, number = np.unique(area, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first)] = np.arange(len(first))  # entry 0, no stitch, comes first and stays 0
    return np.where(chart.cells >= 0, rank[number][filled], 0)


def area_table(chart: Chart, areas: np.ndarray) -> pd.DataFrame:
    """One row an area: yarn, stitches, chart rows it spans, its narrowest and widest row, all counted in stitches."""
    row, column = np.nonzero(areas)
    number = areas[row, column]
    in_row = pd.DataFrame({"area": number, "row": row + 1, "yarn": chart.cells[row, column]})
    per_row = (
        in_row.groupby(["area", "row", "yarn"], sort=True).size().rename("stitches").reset_index()
    )
    table = per_row.groupby("area").agg(
        yarn=("yarn", "first"),
        stitches=("stitches", "sum"),
        first_chart_row=("row", "min"),
        last_chart_row=("row", "max"),
        narrowest_stitches=("stitches", "min"),
        widest_stitches=("stitches", "max"),
    )
    table["yarn"] = np.array(chart.letters, dtype=object)[table.yarn]
    return table.reset_index()
