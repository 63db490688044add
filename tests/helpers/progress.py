"""A log of progress in a few words, and a small piece in a folder to keep one in."""

from __future__ import annotations

from pathlib import Path

from planner.piece import JOINED, LEFT, WORKED, Entry
from planner.plan import Plan
from planner.strands import note_row
from tests.helpers.folders import write

DAY = "2025-03-01"
SMALL = ["A" * 12 + "B" * 8] * 4  # four rows of 20 stitches, two yarns


def log_of(*lines: tuple) -> tuple[Entry, ...]:
    """A log from (what, row) and, for a supply, (what, row, strand, cm)."""
    entries = []
    for number, (what, row, *supply) in enumerate(lines, start=1):
        strand, length_cm = supply or ("", None)
        entries.append(Entry(number, DAY, what, row, strand=strand, length_cm=length_cm))
    return tuple(entries)


def knitted(plan: Plan, done: int) -> tuple[Entry, ...]:
    """The log of a plan's first rows worked, so many of them, as they are knitted by it."""
    return tuple(
        Entry(row, DAY, WORKED, row, runs=note_row(plan.traced, row)) for row in range(1, done + 1)
    )


def worked(done: int, *notes: tuple) -> tuple[Entry, ...]:
    """The log of so many rows worked, and then of these notes: (what, row, stitch, more)."""
    log = list(log_of(*[(WORKED, row) for row in range(1, done + 1)]))
    for what, row, stitch, *more in notes:
        values = {"length_cm": 100.0 if what in (LEFT, JOINED) else None, "strand": "B1"}
        values |= more[0] if more else {}
        log.append(Entry(len(log) + 1, DAY, what, row, stitch=stitch, **values))
    return tuple(log)


def small_piece(folder: Path, rows: list[str] = SMALL) -> Path:
    """The folder with a piece of these rows in it, and nothing else."""
    chart = "\n".join(rows) + "\n"
    return write(folder, piece='format = 1\nname = "small"\n', chart=chart, yarns=None)
