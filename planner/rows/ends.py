"""The ends to sew in: where each lies, and along which border it is sewn in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from planner.piece import Chart
from planner.strands import Strands
from planner.supplies import Held

SEWN_ROWS = 8  # an end is sewn in along about so many rows


@dataclass(frozen=True)
class End:
    """An end of yarn: where a strand starts or stops, or one of the two at a join.

    `row` is the worked row and `column` the chart's column, both from 0; `area` is the colour area
    the end lies in. `sew_in` says along which border of its own colour it is sewn in, and
    `sew_after` how many rows are worked by then.
    """

    strand: str
    yarn: str
    what: str
    row: int
    side: str
    column: int
    stitch: int
    area: int
    sew_in: str = ""
    sew_after: int = 0

    @property
    def upwards(self) -> bool:
        """A start is sewn upwards and a stop downwards: yarns that take turns do not overlap."""
        return self.what == "start"


def list_ends(strands: Strands, held: Sequence[Held], areas: np.ndarray) -> list[End]:
    """Each end, in working order: where strands start and stop, and the joins that are not spliced.

    A strand begun from its middle has no starting end but two that stop. `areas` is the colour area
    of each cell of the chart.
    """
    runs = strands.runs

    def end(each: Held, what: str, run: int, *, where_it_begins: bool) -> End:
        # The stitch where a run begins is its right-hand one in rows that are worked leftwards.
        at_right = bool(runs.leftwards[runs.row[run]]) == where_it_begins
        column = int(runs.hi[run] if at_right else runs.lo[run])
        return End(
            strand=each.part.label,
            yarn=each.part.yarn,
            what=what,
            row=int(runs.row[run]),
            side=strands.how.side(int(runs.row[run])),
            column=column,
            stitch=runs.columns - column,
            area=int(areas[runs.chart_row[run], column]),
        )

    ends = []
    for each in held:
        part = each.part
        if part.is_whole:
            ends.append(end(each, "start", part.first_run, where_it_begins=True))
        ends.append(end(each, "stop", part.last_run, where_it_begins=False))
        if each.refill_ends:
            for row in each.refill_rows:
                run = int(part.runs[np.searchsorted(runs.row[part.runs], row)])
                ends += [end(each, "join", run, where_it_begins=True)] * 2
    return sorted(ends, key=lambda end: (end.row, end.stitch))


def plan_sewing(ends: Sequence[End], strands: Strands, areas: np.ndarray, every: int) -> list[End]:
    """The ends with the border along which each is sewn in, and after how many rows.

    Ends are sewn in after every so many rows. Where a border has an end already, the other border
    of the area is taken.
    """
    chart, how = strands.chart, strands.how
    times = how.rows_per_chart_row
    taken: set[tuple[int, str, int]] = set()  # area, side and chart row of the ends so far
    planned = []
    for end in ends:
        row = end.row // times
        rows = range(row, min(row + SEWN_ROWS, chart.rows))
        if not end.upwards:
            rows = range(row, max(row - SEWN_ROWS, -1), -1)

        beside = {
            "right": _border(chart, areas, (row, end.column), 1, how.in_rounds),
            "left": _border(chart, areas, (row, end.column), -1, how.in_rounds),
        }
        nearest_first = sorted(beside, key=lambda side: beside[side][0])
        free = [
            side for side in nearest_first if not any((end.area, side, r) in taken for r in rows)
        ]
        side = (free or nearest_first)[0]
        taken.update((end.area, side, r) for r in rows)

        along = _along(side, beside[side][1], how.in_rounds)
        done = end.row + 1 + (SEWN_ROWS * times if end.upwards else 0)
        planned.append(
            replace(
                end,
                sew_in=f"{'upwards' if end.upwards else 'downwards'} along {along}",
                sew_after=min(-(-done // every) * every, strands.runs.rows),
            )
        )
    return planned


def _border(
    chart: Chart, areas: np.ndarray, cell: tuple[int, int], step: int, tube: bool
) -> tuple[int, str]:
    """How far the border of an area is from a cell, and the yarn beyond it; none at an edge.

    `step` is 1 to the right and −1 to the left.
    """
    row, column = cell
    area = areas[row, column]
    for away in range(1, chart.columns):
        column += step
        if tube:
            column %= chart.columns
        if not 0 <= column < chart.columns:
            return away, ""
        if chart.cells[row, column] >= 0 and areas[row, column] != area:
            return away, chart.letters[chart.cells[row, column]]
    return chart.columns, ""


def _along(side: str, neighbour: str, tube: bool) -> str:
    """The border along which an end is sewn in, in words."""
    if neighbour:
        return f"its border with {neighbour} on the {side}"
    return "its own stitches" if tube else f"the {side} edge of the piece"


def ends_table(ends: Sequence[End]) -> pd.DataFrame:
    """One row an end, in working order; rows and stitches count from 1, stitches from the right."""
    lines = [
        {
            "strand": end.strand,
            "yarn": end.yarn,
            "end": end.what,
            "row": end.row + 1,
            "side": end.side,
            "stitch": end.stitch,
            "area": end.area,
            "sew_in": end.sew_in,
            "sew_after_row": end.sew_after,
        }
        for end in ends
    ]
    return pd.DataFrame(lines)


def ends_by_area(ends: Sequence[End], areas: pd.DataFrame) -> pd.DataFrame:
    """One row a colour area in which an end lies: its yarn and stitches, and its ends."""
    in_areas = pd.Series([end.area for end in ends], name="area")
    counts = in_areas.value_counts().rename("ends").sort_index().reset_index()
    columns = ["area", "yarn", "stitches", "first_chart_row", "last_chart_row"]
    return areas[columns].merge(counts, on="area")
