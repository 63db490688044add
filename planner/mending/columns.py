"""Columns: whether the stitches over a fault may be let down, and what lies behind them.

The yarn of each row lies as a rung between the stitches on both sides. So a column is let down only
where on both sides of it the same run goes on, and the same stitches stand as in the row below; and
where no end of yarn would come loose.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.cards import Legs
from planner.mending.easing import easing_of
from planner.mending.spots import DROPPED, WRONG_YARN, Fault, Stitch, Work
from planner.piece import JOINED, standing
from planner.rows import CAUGHT_OVER

OUTSIDE = -1  # in place of a column: the selvedge beside the chart


class Beside(NamedTuple):
    """The columns of the stitches on both sides of one.

    OUTSIDE where that is a selvedge stitch, None where it is nothing.
    """

    left: int | None
    right: int | None


class Columns:
    """The columns of a piece over the stitches of a fault, up to the needle."""

    def __init__(self, work: Work, fault: Fault):
        self.work, self.fault = work, fault
        self.wrong = set(fault.stitches)
        self.legs = Legs(work.strands, work.walk)
        how = work.how
        # Rounds that are never turned go on over the place where they begin.
        self.goes_round = how.is_tube and not how.closes_join
        # What is beyond the first and the last stitch of a row.
        self.outside = OUTSIDE if how.selvedge else None

    def rungs(self, stitch: Stitch) -> range:
        """The worked rows, from 0, whose yarn is a rung of the ladder over a stitch."""
        work = self.work
        # A dropped stitch has come loose itself; what was not worked over it is above.
        first = stitch.row + 1 if self.fault.what == DROPPED else stitch.row
        last = work.done
        top = Stitch(work.done, stitch.column)
        # The row on the needles is one more, where it has passed the column already.
        if work.begun and work.run(top) >= 0 and work.is_worked(top):
            last += 1
        return range(first, last)

    def beside(self, stitch: Stitch) -> Beside:
        """What stands on both sides of a stitch in its row."""
        # By place on the fabric, whichever way the row was worked.
        columns = sorted(self.work.columns(stitch.row))
        place = columns.index(stitch.column)
        before_first = after_last = self.outside
        if self.goes_round:
            before_first, after_last = columns[-1], columns[0]
        in_row = [before_first, *columns, after_last]
        # Two farther on in this list than one before it among the columns.
        return Beside(left=in_row[place], right=in_row[place + 2])

    def barred(self, stitch: Stitch) -> str:
        """Why a column cannot be let down to a stitch; "" where it can."""
        for row in self.rungs(stitch):
            why = self._barred_in_row(Stitch(row, stitch.column))
            if why:
                return why
        # A stitch in the wrong yarn is made anew, and needs the right one where it is.
        for each in self.wrong_in(stitch.column):
            barred = easing_of(self.work, self.wrong, each).barred
            if barred:
                return barred
        return ""

    def wrong_in(self, column: int) -> list[Stitch]:
        """The stitches of a column that were knitted in another yarn, the lowest first."""
        if self.fault.what != WRONG_YARN:
            return []
        return sorted(each for each in self.wrong if each.column == column)

    def _barred_in_row(self, stitch: Stitch) -> str:
        """Why one rung cannot be let go; "" where it can."""
        work = self.work
        name = work.how.row_name(stitch.row)
        if work.run(stitch) < 0:
            return f"In {name} the column has no stitch."
        beside = self.beside(stitch)
        # There the yarn has only one neighbour, and the rung would hang as a long loop.
        if None in beside:
            return f"In {name} it is the edge stitch, where the yarn turns."
        border = self._border(stitch, beside)
        if border:
            return f"In {name} it stands at {border}: the crossing there would be lost."
        if self._is_shaped(stitch, beside):
            title = name[0].upper() + name[1:]
            return f"{title} is shaped beside it."
        loose = self._end_at(stitch)
        return f"In {name} {loose} there, and would come loose." if loose else ""

    def _border(self, stitch: Stitch, beside: Beside) -> str:
        """The border that a stitch stands at, in words; "" where its yarn goes on at both sides."""
        work = self.work
        run = work.run(stitch)
        title = work.walk.title(run)
        for column in beside:
            # The selvedge is worked in the yarn beside it.
            if column is None or column == OUTSIDE:
                continue
            other = work.run(Stitch(stitch.row, column))
            is_same_yarn = self.goes_round and work.walk.title(other) == title
            if other != run and not is_same_yarn:
                return f"the border of {title} and {work.walk.title(other)}"
        return ""

    def _is_shaped(self, stitch: Stitch, beside: Beside) -> bool:
        """Whether other stitches stand beside it in the row below."""
        if not stitch.row:
            return False
        below = Stitch(stitch.row - 1, stitch.column)
        return self.work.run(below) < 0 or self.beside(below) != beside

    def _end_at(self, stitch: Stitch) -> str:
        """What is joined or caught at a stitch or beside it; "" where nothing is."""
        work = self.work
        run = work.run(stitch)
        caught = work.plan.caught
        begins_with_a_tail = run in caught.starts or run in caught.joins
        if begins_with_a_tail and work.place_in_run(stitch) < CAUGHT_OVER:
            return f"the tail of {work.walk.title(run)} is caught"
        for entry in standing(work.plan.project.progress):
            if entry.what != JOINED or not entry.stitch or entry.row != stitch.row + 1:
                continue
            # It was joined between two stitches: after the one that was noted.
            after_it = work.number(stitch) - entry.stitch
            if after_it in (0, 1):
                return f"{entry.strand} is joined"
        return ""

    def behind(self, stitch: Stitch) -> list[int]:
        """The carries, by their links, that lie behind a stitch in its row."""
        links, row_of_run = self.work.strands.links, self.work.strands.runs.row
        # Only these can lie there: they have begun by then, and are still to come to an end.
        is_begun = row_of_run[links.a] <= stitch.row
        goes_on = row_of_run[links.b] >= stitch.row
        may_lie_there: list[int] = np.flatnonzero(is_begun & goes_on).tolist()
        found = []
        for link in may_lie_there:
            for leg in self.legs.of(link):
                low, high = sorted((leg.start, leg.stop))
                is_behind = low <= stitch.column < high
                if leg.row == stitch.row and is_behind:
                    found.append(link)
        return found
