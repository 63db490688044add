"""The ends to sew in: where each lies, and how many in each colour area."""

from __future__ import annotations

import numpy as np
import pandas as pd

from planner.piece import PARTS
from planner.strands import Strands


def list_ends(
    strands: Strands,
    parts: pd.DataFrame,
    supplies: pd.DataFrame,
    of_run: np.ndarray,
    areas: np.ndarray,
) -> pd.DataFrame:
    """One row an end, in working order: where a strand starts and stops, and both ends of each join that is not spliced.

    A strand begun from its middle has no starting end but two that stop. Rows and stitches count from 1, stitches
    from the right; `area` is the colour area the end lies in.
    """
    runs = strands.runs
    last_run = np.zeros(len(parts), dtype=int)
    np.maximum.at(last_run, of_run, np.arange(runs.count))
    out = []

    def end(part, what: str, run: int, column: int):
        out.append(
            {
                "strand": part.strand,
                "yarn": part.yarn,
                "end": what,
                "row": int(runs.row[run]) + 1,
                "side": strands.how.side(int(runs.row[run])),
                "stitch": runs.columns - column,
                "area": int(areas[runs.chart_row[run], column]),
            }
        )

    def first_column(run):
        return int(runs.hi[run] if runs.leftwards[runs.row[run]] else runs.lo[run])

    def last_column(run):
        return int(runs.lo[run] if runs.leftwards[runs.row[run]] else runs.hi[run])

    for i, (part, held) in enumerate(zip(parts.itertuples(), supplies.itertuples(), strict=True)):
        if part.part == PARTS[0]:
            end(part, "start", part.first_run, first_column(part.first_run))
        end(part, "stop", last_run[i], last_column(last_run[i]))
        if held.refill_ends:
            mine = np.flatnonzero(of_run == i)
            for row in map(int, held.refill_rows.split(", ")):
                run = mine[np.searchsorted(runs.row[mine], row - 1)]
                end(part, "join", run, first_column(run))
                end(part, "join", run, first_column(run))
    return pd.DataFrame(out).sort_values(["row", "stitch"], kind="stable", ignore_index=True)


SEWN_ROWS = 8  # an end is sewn in along about so many rows


def plan_sewing(
    ends: pd.DataFrame, strands: Strands, areas: np.ndarray, every: int
) -> pd.DataFrame:
    """The ends with two columns more: along which border of its own colour each is sewn in, and after which row.

    A start is sewn upwards and a stop downwards, so that yarns that take turns do not lie on each other; where a border
    has an end already, the other border of the area is taken.
    """
    chart, times = strands.chart, strands.how.rows_per_chart_row
    taken: set[tuple[int, str, int]] = set()
    along, after = [], []
    for end in ends.itertuples():
        row, column = (end.row - 1) // times, chart.columns - end.stitch
        upwards = end.end == "start"
        rows = (
            range(row, min(row + SEWN_ROWS, chart.rows))
            if upwards
            else range(row, max(row - SEWN_ROWS, -1), -1)
        )
        beside = {
            side: _border(chart, areas, row, column, step, strands.how.in_rounds)
            for side, step in (("right", 1), ("left", -1))
        }
        nearest = sorted(beside, key=lambda side: beside[side][0])
        free = [side for side in nearest if not any((end.area, side, r) in taken for r in rows)]
        side = (free or nearest)[0]
        taken.update((end.area, side, r) for r in rows)
        neighbour = beside[side][1]
        border = (
            f"its border with {neighbour} on the {side}"
            if neighbour
            else f"the {side} edge of the piece"
        )
        if strands.how.in_rounds and not neighbour:
            border = "its own stitches"
        along.append(f"{'upwards' if upwards else 'downwards'} along {border}")
        done = end.row + (SEWN_ROWS * times if upwards else 0)
        after.append(min(-(-done // every) * every, strands.runs.rows))
    return ends.assign(sew_in=along, sew_after_row=after)


def _border(
    chart, areas: np.ndarray, row: int, column: int, step: int, tube: bool
) -> tuple[int, str]:
    """How far the border of an area is from a stitch in one direction, and the yarn beyond it; none at an edge."""
    at, area = column, areas[row, column]
    for away in range(1, chart.columns):
        at += step
        if tube:
            at %= chart.columns
        if not 0 <= at < chart.columns:
            return away, ""
        if chart.cells[row, at] >= 0 and areas[row, at] != area:
            return away, chart.letters[chart.cells[row, at]]
    return chart.columns, ""


def ends_by_area(ends: pd.DataFrame, areas: pd.DataFrame) -> pd.DataFrame:
    """One row a colour area in which an end lies: its yarn and stitches, and its ends."""
    counts = ends.groupby("area").size().rename("ends").reset_index()
    return areas[["area", "yarn", "stitches", "first_chart_row", "last_chart_row"]].merge(
        counts, on="area"
    )
