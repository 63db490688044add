"""Sections: the rows of a piece in stretches that are alike in how full they are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from planner.piece import Habits
from planner.supplies.lengths import Part

# Worked rows; a shorter stretch is too soon over to change the way of holding the yarns for.
SHORTEST_SECTION = 6
# A section is as full as its rows are, but for one in ten (judgement).
FULL = 0.9


@dataclass(frozen=True)
class Section:
    """Rows that are alike in how full they are: first and last worked row, from 0, and the word."""

    first: int
    last: int
    load: str

    @property
    def length(self) -> int:
        return self.last - self.first + 1

    def holds(self, part: Part) -> bool:
        """Whether a part lives in any of its rows."""
        return part.hangs_from <= self.last and part.last_row >= self.first


def find_sections(live: np.ndarray, habits: Habits) -> list[Section]:
    """The piece in stretches of rows that are alike in how full they are.

    `live` is how many lengths hang in each worked row.
    """
    stretches: list[range] = []
    end = 0
    for _, alike in groupby(live.tolist(), key=habits.word):
        first, end = end, end + len(list(alike))
        # A short stretch joins the one before it, or the first of the piece the one after it.
        if stretches and min(len(stretches[-1]), end - first) < SHORTEST_SECTION:
            stretches[-1] = range(stretches[-1].start, end)
        else:
            stretches.append(range(first, end))
    sections: list[Section] = []
    for rows in stretches:
        # Joined stretches go by their fullest rows, for a way must do for all of them; but two full
        # rows do not make a hundred full.
        full = np.quantile(live[rows], FULL, method="inverted_cdf")
        section = Section(rows[0], rows[-1], habits.word(int(full)))
        if sections and sections[-1].load == section.load:
            section = replace(section, first=sections.pop().first)
        sections.append(section)
    return sections
