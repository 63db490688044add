"""Pieces, choices and a log that several tests of choices share."""

from __future__ import annotations

from planner.piece import WORKED, CarryLimits, Chart, Entry, OwnChoice, Project
from planner.plan import Plan
from planner.strands import Strands, note_row

STRICT = CarryLimits(middle_start=False)
# A ring of Y on B, within it a patch of B of 3 × 5.
RING = [
    *["B" * 11] * 3,
    *["BBBBYYYBBBB"] * 4,
    *["BYYYBBBYYYB"] * 5,
    *["BBBBYYYBBBB"] * 4,
    *["B" * 11] * 3,
]


def piece(rows, *choices: OwnChoice, limits: CarryLimits = STRICT, **asked) -> Project:
    """A piece from the rows of its chart, top row first, and its knitter's choices."""
    return Project("piece", Chart.from_rows(rows), limits=limits, choices=choices, **asked)


def embroider(yarn: str, row: int, stitch: int, how: str = "by itself") -> OwnChoice:
    """The choice to embroider the area at a place."""
    return OwnChoice("embroider", yarn, row, stitch, "whole", how)


def knitted_rows(plan: Plan) -> list[str]:
    """The chart as it is knitted, top row first."""
    return ["".join(row) for row in plan.traced.chart.to_rows()]


def worked_through(plan: Plan, rows: int) -> tuple[Entry, ...]:
    """The log of a knitter who has worked the first so many rows of the plan."""
    totals = plan.project.row_totals()
    entries = []
    for row in range(1, rows + 1):
        runs = note_row(plan.traced, row)
        entries.append(Entry(row, "2026-01-01", WORKED, row, totals[row - 1], runs))
    return tuple(entries)


def hang_by_hand(strands: Strands) -> list[int]:
    """What hangs in each worked row, counted length by length.

    A length hangs from the first row of its strand to its own last row, so of a strand begun from
    its middle both halves hang from the row in which it is begun.
    """
    begun: dict[int, int] = {}
    last: dict[tuple[int, int], int] = {}
    runs = zip(
        strands.of_run.tolist(), strands.half.tolist(), strands.runs.row.tolist(), strict=True
    )
    for strand, half, row in runs:
        begun.setdefault(strand, row)
        last[strand, half] = row
    spans = [(begun[strand], row) for (strand, _), row in last.items()]
    return [sum(first <= row <= end for first, end in spans) for row in range(strands.runs.rows)]
