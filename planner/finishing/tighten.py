"""Where stitches are likely to lie loose: long upright borders, new strands, middle starts.

Where two yarns are crossed in row after row the same stitch takes up what both hands let go, and
the first stitch of a new strand has nothing to hold on to. Both are drawn tight from the back,
with the tip of a needle, before the piece is blocked (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

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
    columns = range(1, plan.traced.chart.columns)
    found = [border for column in columns for border in _borders_at(plan, column)]
    return sorted(found, key=lambda each: (-each.rows, each.first, each.stitch))


def _borders_at(plan: Plan, column: int) -> Iterator[Border]:
    """The long borders between a column of the chart and the one to its left."""
    chart, times = plan.traced.chart, plan.traced.how.rows_per_chart_row
    left = chart.cells[:, column - 1].tolist()
    right = chart.cells[:, column].tolist()
    row = 0
    for (one, other), group in groupby(zip(left, right, strict=True)):
        rows = times * len(list(group))
        first, row = row, row + rows
        # −1 is no stitch.
        is_border = one != other and min(one, other) >= 0
        if is_border and rows >= LONG_BORDER:
            yarns = chart.letters[other], chart.letters[one]
            yield Border(first, row - 1, chart.columns - column, *yarns)


def loose_places(plan: Plan) -> list[str]:
    """The places to look at, in words: the longest borders, then new strands, middle starts."""
    word = plan.traced.how.row_word
    borders = borders_to_tighten(plan)
    told = []
    for each in borders[:MOST_BORDERS]:
        told.append(f"Border over {counted(each.rows, word)}: {each.in_words(plan)}.")
    more = borders[MOST_BORDERS:]
    if more:
        longest = counted(more[0].rows, word)
        told.append(f"And {len(more)} more, none over more than {longest}.")
    return [*told, *_new_strands(plan), *_middle_starts(plan)]


def _new_strands(plan: Plan) -> list[str]:
    """The rows in which strands begin beside another yarn: their first stitches."""
    strands = plan.traced
    rows = strands.runs.row[strands.first_run]
    # What is cast on with hangs from the edge; what begins from its middle is told by itself.
    begun = np.unique(rows[(rows > 0) & ~strands.has_middle]) + 1
    if not len(begun):
        return []
    word = strands.how.row_word if len(begun) == 1 else f"{strands.how.row_word}s"
    named = ", ".join(stretches(begun.tolist()))
    return [f"First stitches of new strands: {word} {named}."]


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
