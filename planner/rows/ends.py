"""The ends to sew in: where each lies. How each is run, finishing says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.strands import Strands
from planner.supplies import Held, Part

# Stitches; a tail is caught over the next 6 to 8 of its own yarn (common practice, no source).
CAUGHT_OVER = 8


class End(NamedTuple):
    """An end of yarn: where a strand starts or stops, or one of the two at a join.

    `row` is the worked row and `column` the chart's column, both from 0; `area` is the colour area
    the end lies in.
    """

    strand: str
    yarn: str
    what: str
    row: int
    side: str
    column: int
    stitch: int
    area: int


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
