"""A log of progress in a few words, and a small piece in a folder to keep one in."""

from __future__ import annotations

from pathlib import Path

from planner.piece import Entry
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


def small_piece(folder: Path, rows: list[str] = SMALL) -> Path:
    """The folder with a piece of these rows in it, and nothing else."""
    chart = "\n".join(rows) + "\n"
    return write(folder, piece='format = 1\nname = "small"\n', chart=chart, yarns=None)
