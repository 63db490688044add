"""What to block the piece to: its size, and its outline stretch by stretch.

A width is stitches ÷ stitches in a length, a height rows ÷ rows in that length: the arithmetic of
every knitting handbook. Selvedge stitches outside the chart go into the seams and are left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from planner.finishing.edges import BIND_OFF, CAST_ON, opening_of
from planner.plan import Plan
from planner.units import CM_PER, figure

# A side that steps again within so many chart rows slants; after more it goes straight (knitters
# shape a sleeve every 4 to 10 rows: common practice, no source).
STRAIGHT_ROWS = 12
ARMHOLE_STITCHES = 3  # so many bound off at once at a side begin an armhole
# Where an armhole begins; lower down what is bound off shapes a hem.
ARMHOLE_FROM = 0.25
SIDES = ("right edge", "left edge")
BOTH = "both edges"


@dataclass(frozen=True)
class Measure:
    """A measurement to block to, as the right side shows the piece.

    `where` is the part of the outline, `what` how it goes there. `across_cm` and `up_cm` are None
    where it has no such measure.
    """

    where: str
    what: str
    stitches: int
    rows: int
    across_cm: float | None
    up_cm: float | None


@dataclass(frozen=True)
class _Stretch:
    """A stretch of a side: from one row's lower edge to another's, and how far in it goes."""

    first: int
    last: int
    inwards: int

    @property
    def in_words(self) -> str:
        if not self.inwards:
            return "straight up"
        way = "in" if self.inwards > 0 else "out"
        return f"{way}, at once" if self.first == self.last else f"slanting {way}"


def measures_of(plan: Plan) -> list[Measure]:
    """The measurements to block to: the whole piece, then, where it is shaped, its outline."""
    outline = _Outline(plan)
    found = outline.whole()
    if outline.is_shaped:
        found += outline.edges()
    return found


def size_of(plan: Plan) -> str:
    """How large the piece comes out: "36 × 34.3 cm", of a tube "36 round × 34.3 cm"."""
    units = plan.project.units
    whole = measures_of(plan)[0]
    across, up = (
        figure(length_cm / float(CM_PER[units]), 1)
        for length_cm in (whole.across_cm or 0.0, whole.up_cm or 0.0)
    )
    around = " round" if plan.traced.how.is_tube else ""
    return f"{across}{around} × {up} {units}"


class _Outline:
    """The outline of a chart, measured."""

    def __init__(self, plan: Plan):
        self.cells = plan.project.chart.cells
        self.gauge = plan.project.gauge
        self.how = plan.traced.how
        self.times = self.how.rows_per_chart_row
        self.widths = (self.cells >= 0).sum(axis=1).tolist()
        worked = [np.flatnonzero(line >= 0) for line in self.cells]
        # How far in each side lies, by chart row: the left one counts from the left, the right one
        # from the right.
        self.from_right = [self.cells.shape[1] - 1 - int(columns[-1]) for columns in worked]
        self.from_left = [int(columns[0]) for columns in worked]

    @property
    def is_shaped(self) -> bool:
        return bool((self.cells < 0).any()) and not self.how.is_tube

    def _measure(self, where: str, what: str, stitches: int = 0, chart_rows: int = 0) -> Measure:
        rows = chart_rows * self.times
        across_cm = stitches * self.gauge.stitch_cm if stitches else None
        up_cm = rows * self.gauge.row_cm if rows else None
        return Measure(where, what, stitches, rows, across_cm, up_cm)

    def whole(self) -> list[Measure]:
        widest = max(self.widths)
        high = len(self.cells)
        if self.how.is_tube:
            around = self._measure("whole piece", "round it, and its height", widest, high)
            flat_cm = widest * self.gauge.stitch_cm / 2
            flat = Measure("laid flat", "half of that", widest // 2, 0, flat_cm, None)
            return [around, flat]
        what = "width and height"
        if self.is_shaped:
            row = (self.widths.index(widest)) * self.times + 1
            what = f"widest in {self.how.row_word} {row}, and height"
        return [self._measure("whole piece", what, widest, high)]

    def edges(self) -> list[Measure]:
        found = [self._measure(CAST_ON, "along it", self.widths[0])]
        right, left = (list(_stretches(profile)) for profile in (self.from_right, self.from_left))
        if right == left:
            found += self._side(BOTH, right)
        else:
            found += self._side(SIDES[0], right)
            found += self._side(SIDES[1], left)
        return [*found, *self._top()]

    def _side(self, where: str, stretches: Sequence[_Stretch]) -> Iterator[Measure]:
        for each in stretches:
            high = each.last - each.first
            yield self._measure(where, each.in_words, abs(each.inwards), high)
        begins = self._armhole(stretches)
        if begins is not None:
            depth = self._shoulder(stretches) - begins
            yield self._measure(where, "armhole, from its first step up", 0, depth)

    def _armhole(self, stretches: Sequence[_Stretch]) -> int | None:
        """The chart row above which an armhole begins; None where the side has none."""
        lowest = ARMHOLE_FROM * len(self.cells)
        for each, then in pairwise(stretches):
            is_step = each.inwards >= ARMHOLE_STITCHES and then.last > each.first
            if is_step and lowest <= each.first and self._is_followed(stretches, each):
                return each.first
        return None

    @staticmethod
    def _is_followed(stretches: Sequence[_Stretch], step: _Stretch) -> bool:
        """Whether the side goes straight up after a step: else the step is a shoulder's."""
        return any(not each.inwards and each.first >= step.last for each in stretches)

    def _shoulder(self, stretches: Sequence[_Stretch]) -> int:
        """The chart row above which the shoulder begins: where the last straight stretch ends."""
        straight = [each.last for each in stretches if not each.inwards]
        return max(straight, default=len(self.cells))

    def _top(self) -> Iterator[Measure]:
        found = opening_of(self.cells)
        if found is None:
            yield self._measure(BIND_OFF, "along it", self.widths[-1])
            return
        first, last, row = found
        top = np.flatnonzero(self.cells[-1] >= 0)
        right, left = int((top > last).sum()), int((top < first).sum())
        yield self._measure("bind-off edge, right of the opening", "along it", right)
        yield self._measure("bind-off edge, left of the opening", "along it", left)
        wide, deep = last - first + 1, len(self.cells) - row
        yield self._measure("opening at the top", "width at its top, and depth", wide, deep)


def _stretches(inwards: Sequence[int]) -> Iterator[_Stretch]:
    """The stretches of a side from the bottom up; `inwards` is how far in it lies, by chart row."""
    steps = [row for row in range(1, len(inwards)) if inwards[row] != inwards[row - 1]]
    groups: list[list[int]] = []
    for row in steps:
        if groups and _goes_on(groups[-1][-1], row, inwards):
            groups[-1].append(row)
        else:
            groups.append([row])
    reached = 0
    for group in groups:
        first, last = group[0], group[-1]
        if first > reached:
            yield _Stretch(reached, first, 0)
        yield _Stretch(first, last, inwards[last] - inwards[first - 1])
        reached = last
    if reached < len(inwards):
        yield _Stretch(reached, len(inwards), 0)


def _goes_on(before: int, row: int, inwards: Sequence[int]) -> bool:
    """Whether a step goes on the slant of the step before it: soon, the same way, and as gently."""
    step = inwards[row] - inwards[row - 1]
    step_before = inwards[before] - inwards[before - 1]
    is_soon = row - before <= STRAIGHT_ROWS
    # What is bound off at once at an armhole is measured by itself.
    at_once = max(abs(step), abs(step_before)) >= ARMHOLE_STITCHES
    return is_soon and step * step_before > 0 and (not at_once or step == step_before)
