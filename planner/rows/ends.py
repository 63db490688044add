"""The ends to sew in: where each lies, and along which border it is sewn in."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.piece import Chart
from planner.strands import Strands
from planner.supplies import Held, Part

SEWN_ROWS = 8  # an end is sewn in along about so many rows
# Stitches; a tail is caught over the next 6 to 8 of its own yarn (common practice, no source).
CAUGHT_OVER = 8
SIDES = {"right": 1, "left": -1}  # the way from a stitch to each border of its area, in columns


class End(NamedTuple):
    """An end of yarn: where a strand starts or stops, or one of the two at a join.

    `row` is the worked row and `column` the chart's column, both from 0; `area` is the colour area
    the end lies in. `sew_in` says along which border of its own colour it is sewn in, `sew_side`
    on which side that lies, and `sew_after` how many rows are worked by then; so it can be when
    `from_row` rows are worked.
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
    sew_side: str = ""
    sew_after: int = 0
    from_row: int = 0

    @property
    def upwards(self) -> bool:
        """A start is sewn upwards and a stop downwards: yarns that take turns do not overlap."""
        return self.what == "start"


class Caught(NamedTuple):
    """The runs at which tails are caught as they are knitted: where strands start, and at joins."""

    starts: tuple[int, ...]
    joins: tuple[int, ...]


def ends_caught(
    strands: Strands,
    held: Sequence[Held],
    joins: Mapping[str, Sequence[int]],
    *,
    casts_on: bool,
) -> Caught:
    """The tails that are caught as they are knitted, where enough stitches of their yarn follow.

    What is cast on with has its tail beside the work, and what stops has no stitches to follow.
    """
    starts, joined = [], []
    for each in held:
        part = each.part
        is_cast_on = casts_on and part.first_row == 0
        if part.is_whole and not is_cast_on and can_be_caught(strands, part.first_run):
            starts.append(part.first_run)
        for run in [] if each.spliced else _runs_joined(strands, part, joins[part.title]):
            if can_be_caught(strands, run):
                joined.append(run)
    return Caught(tuple(starts), tuple(joined))


def can_be_caught(strands: Strands, run: int) -> bool:
    """Whether a tail at a run is caught over its stitches, as they are knitted.

    A shorter run leaves it to be sewn in: over several rows it would be caught back and forth in
    one place.
    """
    return bool(strands.runs.stitches[run] >= CAUGHT_OVER)


def _runs_joined(strands: Strands, part: Part, rows: Sequence[int]) -> list[int]:
    """The runs at which a part is joined in these rows: its first in each, or the next."""
    row_of_run = strands.runs.row[part.runs]
    place = np.searchsorted(row_of_run, rows)
    last = len(part.runs) - 1
    return [int(run) for run in part.runs[np.minimum(place, last)]]


def list_ends(
    strands: Strands,
    held: Sequence[Held],
    areas: np.ndarray,
    *,
    joins: Mapping[str, Sequence[int]],
    caught: Caught,
    binds_off: bool = False,
) -> list[End]:
    """Each end, in working order: where strands start and stop, and the joins that are not spliced.

    A strand begun from its middle has no starting end but two that stop. `areas` is the colour area
    of each cell of the chart, `joins` the rows in which each part is joined, by its title. What is
    `caught` as it is knitted is left out.
    """
    runs = strands.runs
    row_of_run = runs.row.tolist()
    chart_row = runs.chart_row.tolist()
    leftwards = runs.leftwards.tolist()
    edges = {True: runs.hi.tolist(), False: runs.lo.tolist()}
    area_of_cell = areas.tolist()

    def end(part: Part, what: str, run: int) -> End:
        row = row_of_run[run]
        # A run begins at the right in rows that are worked leftwards, and stops at the left.
        at_right = leftwards[row]
        # What is bound off with it, turned, comes back to where the run began.
        is_bound_off = binds_off and row == runs.rows - 1 and strands.how.is_turned
        if what == "stop" and not is_bound_off:
            at_right = not at_right
        column = edges[at_right][run]
        return End(
            strand=part.label,
            yarn=part.yarn,
            what=what,
            row=row,
            side=strands.how.side(row),
            column=column,
            stitch=runs.columns - column,
            area=area_of_cell[chart_row[run]][column],
        )

    ends = []
    for each in held:
        part = each.part
        # A half goes on from the middle of its strand: there is no end there.
        if part.is_whole and part.first_run not in caught.starts:
            ends.append(end(part, "start", part.first_run))
        ends.append(end(part, "stop", part.last_run))
        # A splice is felted into one yarn. Any other join belongs at a border, so it is planned
        # where the part's first run of the row begins; the old yarn and the new one both end there.
        if not each.spliced:
            for run in _runs_joined(strands, part, joins[part.title]):
                join = end(part, "join", run)
                ends += [] if run in caught.joins else [join, join]
    return sorted(ends, key=lambda end: (end.row, end.stitch))


def plan_sewing(ends: Sequence[End], strands: Strands, areas: np.ndarray, every: int) -> list[End]:
    """The ends with the border along which each is sewn in, and after how many rows.

    Ends are sewn in after every so many rows. Where a border has an end already, the other border
    of the area is taken.
    """
    borders_of = _Borders(strands.chart, areas, tube=strands.how.is_tube)
    times = strands.how.rows_per_chart_row
    # The chart rows along which ends lie already, by area and side.
    taken: dict[tuple[int, str], set[int]] = defaultdict(set)
    planned = []
    for end in ends:
        row = end.row // times
        direction = 1 if end.upwards else -1
        rows = range(row, row + direction * SEWN_ROWS, direction)
        cell = (row, end.column)
        borders = {side: borders_of.beside(cell, step) for side, step in SIDES.items()}
        # Two ends along one border make a ridge there. If both are taken, the nearer one it is.
        nearest_first = sorted(SIDES, key=lambda side: borders[side][0])
        free = [side for side in nearest_first if taken[end.area, side].isdisjoint(rows)]
        side = (free or nearest_first)[0]
        taken[end.area, side].update(rows)

        # A start is sewn along rows that are still to be worked, a stop along rows that are there.
        # Then it waits for the next sitting with the needle, if not for the end of the piece.
        done = end.row + 1
        if end.upwards:
            done += SEWN_ROWS * times
        next_sitting = math.ceil(done / every) * every
        way = "upwards" if end.upwards else "downwards"
        along = borders_of.in_words(side, borders[side][1])
        planned.append(
            end._replace(
                sew_in=f"{way} along {along}",
                sew_side=side,
                sew_after=min(next_sitting, strands.runs.rows),
                from_row=min(done, strands.runs.rows),
            )
        )
    return planned


class _Borders:
    """The borders of colour areas, as they are met along a row."""

    def __init__(self, chart: Chart, areas: np.ndarray, *, tube: bool):
        self.letters, self.columns, self.tube = chart.letters, chart.columns, tube
        # Read cell by cell, which is far quicker in lists.
        self.yarns: list[list[int]] = chart.cells.tolist()
        self.areas: list[list[int]] = areas.tolist()

    def beside(self, cell: tuple[int, int], step: int) -> tuple[int, str]:
        """How far the border of an area is from a cell, and the yarn beyond it; none at an edge.

        `step` is 1 to the right and −1 to the left.
        """
        row, column = cell
        yarns, areas = self.yarns[row], self.areas[row]
        area = areas[column]
        for away in range(1, self.columns):
            column += step
            if self.tube:
                column %= self.columns
            if not 0 <= column < self.columns:
                return away, ""
            # A no-stitch cell keeps columns aligned and parts nothing.
            if yarns[column] >= 0 and areas[column] != area:
                return away, self.letters[yarns[column]]
        return self.columns, ""

    def in_words(self, side: str, neighbour: str) -> str:
        """The border along which an end is sewn in, the yarn beyond it its neighbour."""
        if neighbour:
            return f"its border with {neighbour} on the {side}"
        return "its own stitches" if self.tube else f"the {side} edge of the piece"


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
            "from_row": end.from_row,
            "sew_after_row": end.sew_after,
        }
        for end in ends
    ]
    return pd.DataFrame(lines)


def ends_by_area(ends: Sequence[End], areas: pd.DataFrame) -> pd.DataFrame:
    """One row a colour area in which an end lies: its yarn and stitches, and its ends."""
    in_areas = [end.area for end in ends]
    counts = np.bincount(in_areas, minlength=areas.area.max() + 1)[areas.area]
    columns = ["area", "yarn", "stitches", "first_chart_row", "last_chart_row"]
    table = areas[columns].assign(ends=counts)
    return table[counts > 0].reset_index(drop=True)
