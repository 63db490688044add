"""The load of each row: how many strands are live, how many borders are crossed, what starts, ends and is refilled."""

from __future__ import annotations

import numpy as np
import pandas as pd

from planner.piece import Habits
from planner.strands import Strands


def load_by_row(strands: Strands, supplies: pd.DataFrame, habits: Habits) -> pd.DataFrame:
    """One row a worked row, from 1. `live` counts strands from their first row to their last, carried rows included;
    `borders` the places where one yarn follows another; `load` is easy, busy or crowded."""
    runs, how = strands.runs, strands.how
    rows = np.arange(runs.rows)
    due = [int(row) for text in supplies.refill_rows for row in text.split(", ") if row]
    left = runs.leftwards
    table = pd.DataFrame(
        {
            "row": rows + 1,
            "chart_row": rows // how.rows_per_chart_row + 1,
            "side": [how.side(r) for r in rows],
            "works": np.where(left, "right to left", "left to right"),
            "stitches": np.bincount(runs.row, weights=runs.stitches, minlength=runs.rows).astype(
                int
            ),
            "live": strands.live,
            "borders": np.bincount(runs.row, minlength=runs.rows) - 1,
            "starts": np.bincount(runs.row[strands.first_run], minlength=runs.rows),
            "ends": np.bincount(runs.row[strands.last_run], minlength=runs.rows),
            "refills": np.bincount(due, minlength=runs.rows + 1)[1:] if due else 0,
        }
    )
    table["load"] = [habits.word(int(n)) for n in table.live]
    return table
