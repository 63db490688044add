"""The load of each row: strands live, borders crossed, what starts, ends and is refilled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from planner.piece import Habits
from planner.strands import Runs, Strands
from planner.supplies import Held


@dataclass(frozen=True)
class RowLoad:
    """How full one worked row is. `row` and `chart_row` are counted from 0.

    `live` counts the lengths that hang, from their first row to their last, carried rows included,
    both halves of one begun from its middle; `starts` and `ends` count strands; `borders` the
    places where one yarn follows another; `load` is easy, busy or crowded.
    """

    # The order of the fields is that of the table's columns.

    row: int
    chart_row: int
    side: str
    works: str
    stitches: int
    live: int
    borders: int
    starts: int
    ends: int
    refills: int
    load: str


def runs_by_row(runs: Runs) -> list[range]:
    """The numbers of the runs of each worked row, in working order."""
    ends = np.cumsum(np.bincount(runs.row)).tolist()
    return [range(first, end) for first, end in pairwise([0, *ends])]


def load_by_row(strands: Strands, held: Sequence[Held], habits: Habits) -> tuple[RowLoad, ...]:
    """How full each worked row is, first row first."""
    runs, how = strands.runs, strands.how
    rows = runs.row
    stitches = np.bincount(rows, weights=runs.stitches)
    runs_in = Counter(rows.tolist())
    starts = Counter(rows[strands.first_run].tolist())
    ends = Counter(rows[strands.last_run].tolist())
    refills = Counter(row for each in held for row in each.refill_rows)
    loads = []
    for row, live in enumerate(strands.live.tolist()):
        loads.append(
            RowLoad(
                row=row,
                chart_row=row // how.rows_per_chart_row,
                side=how.side(row),
                works="right to left" if runs.leftwards[row] else "left to right",
                stitches=int(stitches[row]),
                live=live,
                # The edges of the row are no borders.
                borders=runs_in[row] - 1,
                starts=starts[row],
                ends=ends[row],
                refills=refills[row],
                load=habits.word(live),
            )
        )
    return tuple(loads)


def load_table(loads: Sequence[RowLoad]) -> pd.DataFrame:
    """One row a worked row; rows and chart rows are counted from 1."""
    lines = []
    for load in loads:
        from_1 = {"row": load.row + 1, "chart_row": load.chart_row + 1}
        lines.append({**vars(load), **from_1})
    return pd.DataFrame(lines)
