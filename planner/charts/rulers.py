"""The rulers of a page: numbers that count along a line, beside what they stand for.

Whatever is said of rulers at the sides of a chart, which count its rows, holds for those above and
below it on the page laid on its side. So most functions know one direction only.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from planner.charts.pages import Grid, Line

REACH = 3  # rows or columns: a ruler stands no farther from its chart
LEAST_REGULAR = 0.8  # of its steps: a misprint or a jump at hidden rows leaves it a ruler
NO_NUMBER = -1
ARROWS = "←→↔⇐⇒⟵⟶"
SIDE = r"(?:\(?(?:RS|WS|right side|wrong side)\)?)?"
AROUND = rf"[\s{ARROWS}]*"
# "Row 4 (RS) ←", "→ 4", "4 RS", "RS 3", and of ridges "1-2": whatever is said beside the number.
NUMBER = re.compile(
    rf"{AROUND}{SIDE}\s*(?:(?:rows?|rounds?|rnds?|ridge|line|r|st)\.?\s*)?(\d{{1,4}})"
    rf"(?:\s*(?:[-–/&+]|and)\s*\d{{1,4}})?\s*[.:)]?\s*{SIDE}\s*:?{AROUND}",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Ruler:
    """Numbers that count along a line.

    The line, the places lo..hi − 1 that they stand for, how many each, whether they grow; and how
    many rows or stitches of knitting each of these places is, by the numbers.
    """

    line: int
    lo: int
    hi: int
    every: int
    grows: bool
    each: int = 1

    @property
    def along(self) -> slice:
        """The places that its numbers stand for."""
        return slice(self.lo, self.hi)

    def crosses(self, across: slice) -> bool:
        """Whether its line is among these."""
        return across.start <= self.line < across.stop

    def is_near(self, along: slice, across: slice) -> bool:
        """Whether it runs beside the places `along`, within reach of the lines `across`."""
        # Between a chart and its numbers there may be a blank line, or one of borders.
        reached = slice(across.start - REACH, across.stop + REACH)
        if not self.crosses(reached):
            return False
        return self.lo < along.stop and self.hi > along.start


@dataclass(frozen=True)
class Rulers:
    """The rulers at the sides of a chart, which count its rows, and those above or below it."""

    sides: list[Ruler]
    ends: list[Ruler]

    def __bool__(self) -> bool:
        return bool(self.sides or self.ends)

    def cover(self, shape: tuple[int, ...]) -> Grid:
        """The cells of a grid that the rulers stand on."""
        covered = np.zeros(shape, bool)
        # Only along its own stretch: beyond it the line may hold stitches.
        for ruler in self.sides:
            covered[ruler.along, ruler.line] = True
        for ruler in self.ends:
            covered[ruler.line, ruler.along] = True
        return covered

    def near(self, place: tuple[slice, slice]) -> Rulers:
        """The rulers within reach of a place, its rows and columns."""
        rows, columns = place
        return Rulers(
            near_rulers(self.sides, along=rows, across=columns),
            near_rulers(self.ends, along=columns, across=rows),
        )


def near_rulers(rulers: list[Ruler], *, along: slice, across: slice) -> list[Ruler]:
    """The rulers that run beside a place, or through it, within reach."""
    return [ruler for ruler in rulers if ruler.is_near(along, across)]


def numbers_among(texts: Iterable[str]) -> dict[str, int]:
    """The texts that are a number, alone or as "Row 4 (RS)", and which number each is."""
    numbers = {}
    for text in texts:
        match = NUMBER.fullmatch(text)
        if match:
            numbers[text] = int(match[1])
    return numbers


def side_rulers(number: Grid, places: Line) -> list[Ruler]:
    """The stretches of each column of `number` that count by one step, as rulers.

    Cells without a number hold NO_NUMBER; `places` are the rows' own numbers on the sheet.
    """
    rulers = []
    count_of_line = (number != NO_NUMBER).sum(axis=0)
    # One number alone counts nothing.
    for line in np.flatnonzero(count_of_line > 1).tolist():
        column = number[:, line]
        at = np.flatnonzero(column != NO_NUMBER)
        rulers += _rulers_of_line(line, at, column[at], places)
    return rulers


def _rulers_of_line(
    line: int,
    at: Line,
    numbers: Line,
    places: Line,
) -> list[Ruler]:
    """The rulers that one line holds: its numbers, and where along it they stand."""
    # By the rows' own numbers, so that every fifth may be written and some be hidden.
    steps = np.diff(numbers) / np.diff(places[at])
    step, _ = Counter(steps.tolist()).most_common(1)[0]
    is_regular = steps == step
    if step == 0 or is_regular.mean() < LEAST_REGULAR:
        return []
    # Two numbers alone are a ruler only with the right gap (10, 20).
    if len(at) == 2:
        are_neighbours = at[1] == at[0] + 1
        if are_neighbours or abs(step) != 1:
            return []

    rulers = []
    # A jump makes two rulers of a line, each for a chart of its own.
    breaks = np.flatnonzero(~is_regular) + 1
    stretches = zip(np.split(at, breaks), np.split(numbers, breaks), strict=True)
    for stretch, counts in stretches:
        if len(stretch) > 1:
            ruler = _ruler(line, stretch, counts, step=step, length=len(places))
            rulers.append(ruler)
    return rulers


def _ruler(
    line: int,
    at: Line,
    numbers: Line,
    *,
    step: float,
    length: int,
) -> Ruler:
    """The ruler of numbers that grow by one `step`, along a line that is `length` cells long."""
    lo = int(at[0])
    hi = int(at[-1]) + 1
    every = int(at[1]) - lo
    grows = step > 0
    # 5, 10, 15: the chart begins at 1, before the first number.
    least = int(numbers.min())
    first, second = numbers[:2].tolist()
    if least <= abs(second - first):
        before_least = round((least - 1) / abs(step))
        if grows:
            lo = max(0, lo - before_least)
        else:
            hi = min(length, hi + before_least)
    each = max(1, round(abs(step)))
    return Ruler(line, lo, hi, every, grows, each)
