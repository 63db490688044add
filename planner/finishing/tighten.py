"""Where stitches are likely to lie loose: long upright borders, new strands, middle starts.

Where two yarns are crossed in row after row the same stitch takes up what both hands let go, and
the first stitch of a new strand has nothing to hold on to. Both are drawn tight from the back,
with the tip of a needle, before the piece is blocked (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.plan import Plan
from planner.units import counted, stretches

LONG_BORDER = 8  # worked rows; shorter ones even out in blocking
MOST_BORDERS = 6  # that are named
HOW_TO_TIGHTEN = (
    "Work from the back with the tip of a needle: ease what is loose from stitch to stitch towards "
    "the nearest end, and sew that end in afterwards. Do this before blocking."
)


@dataclass(frozen=True)
class Border:
    """An upright border: worked rows from 0, the last included; the yarns at its sides.

    `stitch` counts from the right, as the right side shows it: the border lies between it and the
    next one on its left.
    """

    first: int
    last: int
    stitch: int
    right: str
    left: str

    @property
    def rows(self) -> int:
        return self.last - self.first + 1

    def in_words(self, plan: Plan) -> str:
        """Where it lies: "rows 31 to 90, between stitch 12 (N Midnight) and 13 (K Rock)"."""
        yarns, word = plan.project.all_yarns, plan.traced.how.row_word
        right, left = yarns[self.right].title, yarns[self.left].title
        return (
            f"{word}s {self.first + 1} to {self.last + 1}, between stitch {self.stitch} ({right}) "
            f"and stitch {self.stitch + 1} ({left})"
        )


def borders_to_tighten(plan: Plan) -> list[Border]:
    """All upright borders that are long, as they were knitted, the longest first."""
    cells, letters = plan.traced.chart.cells, plan.traced.chart.letters
    times, columns = plan.traced.how.rows_per_chart_row, plan.traced.chart.columns
    found = []
    for column in range(1, columns):
        left, right = cells[:, column - 1].tolist(), cells[:, column].tolist()
        pairs = [*zip(left, right, strict=True), None]
        begun = 0
        for row in range(1, len(pairs)):
            if pairs[row] == pairs[begun]:
                continue
            one, other = left[begun], right[begun]
            high = (row - begun) * times
            if one != other and min(one, other) >= 0 and high >= LONG_BORDER:
                place = begun * times
                yarns = letters[other], letters[one]
                found.append(Border(place, place + high - 1, columns - column, *yarns))
            begun = row
    return sorted(found, key=lambda each: (-each.rows, each.first, each.stitch))


def loose_places(plan: Plan) -> list[str]:
    """The places to look at, in words: the longest borders, then new strands, middle starts."""
    word = plan.traced.how.row_word
    borders = borders_to_tighten(plan)
    told = [f"Border over {counted(each.rows, word)}: {each.in_words(plan)}." for each in borders]
    told = told[:MOST_BORDERS]
    if len(borders) > MOST_BORDERS:
        shortest = borders[MOST_BORDERS - 1].rows
        more = len(borders) - MOST_BORDERS
        told.append(f"And {more} more, none over more than {counted(shortest, word)}.")
    return [*told, *_new_strands(plan), *_middle_starts(plan)]


def _new_strands(plan: Plan) -> list[str]:
    """The rows in which strands begin beside another yarn: their first stitches."""
    strands = plan.traced
    rows = strands.runs.row[strands.first_run]
    # What is cast on with hangs from the edge; what begins from its middle is told by itself.
    begun = np.unique(rows[(rows > 0) & ~strands.has_middle]) + 1
    if not len(begun):
        return []
    named = ", ".join(stretches(begun.tolist()))
    return [f"First stitches of new strands: {strands.how.row_word}s {named}."]


def _middle_starts(plan: Plan) -> list[str]:
    """Where lengths were begun from their middle: the loop there draws in."""
    strands = plan.traced
    told = []
    for strand in np.flatnonzero(strands.has_middle).tolist():
        run = int(strands.first_run[strand])
        row = strands.how.row_name(int(strands.runs.row[run]))
        stitch = int(strands.stitch_number(run))
        told.append(f"{strands.labels[strand]}, begun from its middle: {row}, stitch {stitch}.")
    return told
