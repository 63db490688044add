"""The walk of the yarns: where the yarn of each run comes from and where it goes.

Cards, twists and the notes of knitted rows all read the strands this way: run by run, in working
order.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from planner.piece import PARTS, part_title
from planner.strands.links import MIDDLE, ON

if TYPE_CHECKING:
    from planner.strands.trace import Strands

WHOLE, FIRST_HALF, SECOND_HALF = PARTS
# Stitches. What the next row starts no more than this farther along is left where it is, with a
# little slack; a longer way is woven along while the row passes there (common practice, no source).
SLACK = 2


class Leg(NamedTuple):
    """A stretch of a carry: behind which stitches the yarn lies, and in which worked row.

    The row, from 0, is the one in which it is caught there. It goes from one edge to another; it
    lies `ahead` where the row comes to its first edge first. There the yarn hangs `since` a row.
    """

    row: int
    start: int
    stop: int
    ahead: bool
    since: int


class Needle:
    """The stitches of each worked row, counted from the left, selvedge counted in.

    Stitches are those that are worked: cells without a stitch are left out.
    """

    def __init__(self, strands: Strands):
        self.rows_a_chart_row = strands.how.rows_per_chart_row
        self.selvedge = strands.how.selvedge
        is_worked = strands.chart.cells >= 0
        # Worked cells to the left of each edge of a chart row.
        self.cells_left = np.pad(is_worked.cumsum(axis=1), ((0, 0), (1, 0)))
        self.first_edge: list[int] = is_worked.argmax(axis=1).tolist()
        from_the_right = is_worked[:, ::-1].argmax(axis=1)
        self.last_edge: list[int] = (is_worked.shape[1] - from_the_right).tolist()

    def rest(self, row: int, edge: int, *, leftwards: bool) -> int:
        """Where yarn rests that a row takes along to an edge: beside the last stitch before it."""
        cells_left = self.cells_left[row // self.rows_a_chart_row]
        same = np.flatnonzero(cells_left == cells_left[edge])
        return int(same[-1] if leftwards else same[0])

    def count(self, row: int) -> int:
        """The stitches of a row."""
        cells = self.cells_left[row // self.rows_a_chart_row, -1]
        return int(cells) + 2 * self.selvedge

    def left_of(self, row: int, edge: int, since: int | None = None) -> int:
        """How many stitches of a row lie to the left of an edge.

        Of a yarn that hangs there `since` an earlier row: of where it hangs, for the selvedge moves
        when the piece becomes wider or narrower.
        """
        chart_row = row // self.rows_a_chart_row
        cells = int(self.cells_left[chart_row, edge])
        first, last = self.first_edge[chart_row], self.last_edge[chart_row]
        began = chart_row if since is None else since // self.rows_a_chart_row
        # What hung outside of the selvedge still does so, with what was added outside of it.
        if edge <= self.first_edge[began]:
            return cells
        if edge >= self.last_edge[began]:
            return cells + 2 * self.selvedge
        # What hung inside is nearer to the end where stitches were bound off.
        if edge < first:
            return max(0, self.selvedge - (first - edge))
        if edge > last:
            return cells + self.selvedge + min(self.selvedge, edge - last)
        return cells + self.selvedge


class Walk:
    """The links of some strands by the runs that they leave and enter.

    `out` gives the link that leaves a run, `into` the link that enters it, and `middle` the link of
    a middle start by each of the two runs that it joins. Runs and links are their numbers.
    """

    def __init__(self, strands: Strands):
        self.strands = strands
        self.needle = Needle(strands)
        self.runs = strands.runs
        self.links = strands.links
        self.out: dict[int, int] = {}
        self.into: dict[int, int] = {}
        self.middle: dict[int, int] = {}
        for link, a, b in self._joins():
            # A middle start leaves neither of its runs: both are entered from the middle.
            if self.links.kind[link] == MIDDLE:
                self.middle[a] = link
                self.middle[b] = link
            else:
                self.out[a] = link
                self.into[b] = link

    def _joins(self) -> Iterator[tuple[int, int, int]]:
        """Each link's number and the two runs that it joins."""
        a = self.links.a.tolist()
        b = self.links.b.tolist()
        return zip(range(self.links.count), a, b, strict=True)

    def label(self, run: int) -> str:
        """The name of the strand that works a run."""
        strand = int(self.strands.of_run[run])
        return self.strands.labels[strand]

    def title(self, run: int) -> str:
        """The name of the part that works a run: "W7", or "W7a" and "W7b" for halves."""
        return part_title(self.label(run), self.part(run))

    def part(self, run: int) -> str:
        """Which part of its strand works a run: the whole, the first or the second half."""
        strand = self.strands.of_run[run]
        if not self.strands.has_middle[strand]:
            return WHOLE
        # Half 0 is the one that is worked first.
        return SECOND_HALF if self.strands.half[run] else FIRST_HALF

    def forward(self, link: int) -> int:
        """Stitches from where the yarn leaves to where it is entered next, along the chart.

        They count forwards in the row that the yarn leaves, so they are less than 0 where it is
        entered farther back.
        """
        runs = self.runs
        # Edges count from the left, so a row that is worked leftwards goes down in them.
        a = self.links.a[link]
        b = self.links.b[link]
        ahead = int(runs.enter[b] - runs.leave[a])
        if runs.leftwards[runs.row[a]]:
            ahead = -ahead
        return ahead

    def across_join(self, link: int) -> bool:
        """Whether a carry goes across the join of turned rounds: there that way is the shorter.

        Where both ways are as long it goes along the chart, as in flat work.
        """
        runs = self.runs
        a = self.links.a[link]
        b = self.links.b[link]
        # Within a round a yarn is carried along the row. In rounds that are never turned the join
        # is no place of its own: each round goes on where the last one ended.
        if not self.strands.how.closes_join or runs.row[a] == runs.row[b]:
            return False
        _, hangs, goal = self.ends(link)
        return self._round_the_tube(hangs, goal)

    def woven(self, link: int) -> bool:
        """Whether the yarn is woven along on the row it leaves.

        So it is where the next row starts it earlier, by more than what slack is enough for.
        """
        # Where the work is not turned, no row runs the other way: a carry to the next round is a
        # float. So is one across the join, where this round does not pass any more.
        if not self.strands.how.is_turned or self.across_join(link):
            return False
        to_next_row = self.links.kind[link] == ON
        if not to_next_row or self.forward(link) <= 0:
            return False
        leaves, _, goal = self.ends(link)
        row = int(self.runs.row[self.links.a[link]])
        return self.stitches(self._leg(row, leaves, goal)) > SLACK

    def ends(self, link: int) -> tuple[int, int, int]:
        """Three edges of a carry: where the yarn leaves its run, where it hangs, where it goes.

        The first two differ only in the last knitted row, where it may hang farther along. Of a
        middle start they are where its second half waits, and where that is taken up.
        """
        a, b = self.links.a[link], self.links.b[link]
        leaves = self.runs.leave[a]
        hangs = self.strands.left_at[a]
        if self.links.kind[link] == MIDDLE:
            leaves = hangs = self.runs.enter[a]
        return int(leaves), int(hangs), int(self.runs.enter[b])

    def legs(self, link: int) -> list[Leg]:
        """Where the yarn of a carry lies behind stitches, in the order in which it goes there.

        One that goes on in the row it comes from, or that this row can take along, lies in that
        row. Any other lies in the row that it is wanted in: ahead, where that row passes it on the
        way; or else behind stitches that are worked with and after its own.
        """
        leaves, hangs, goal = self.ends(link)
        row = int(self.runs.row[self.links.a[link]])
        wanted_in = int(self.runs.row[self.links.b[link]])
        legs = []
        if hangs != leaves:
            hangs = self._rest(row, hangs)
            legs.append(self._leg(row, leaves, hangs))

        if row == wanted_in:
            legs.append(self._leg(row, hangs, goal))
        elif not self._round_the_tube(hangs, goal):
            if hangs == leaves and self.woven(link):
                hangs = self._rest(row, goal)
                legs.append(self._leg(row, leaves, hangs))
            legs.append(self._leg(wanted_in, hangs, goal, since=row))
        else:
            # Edge 0 and the last edge are one place: over it lies the shorter way.
            last = self.runs.columns
            to, on_from = (last, 0) if hangs > goal else (0, last)
            from_join = self._leg(wanted_in, on_from, goal)
            to_join = self._leg(row, hangs, self._rest(row, to))
            is_long = self.stitches(to_join) + self.stitches(from_join) > SLACK
            # A second half waits where it is until it is taken up.
            is_next = wanted_in == row + 1 and self.links.kind[link] != MIDDLE
            if to_join.ahead and is_next and is_long:
                hangs = to_join.stop
                legs.append(to_join)
            legs += [self._leg(wanted_in, hangs, to, since=row), from_join]
        return [leg for leg in legs if self.stitches(leg)]

    def _rest(self, row: int, edge: int) -> int:
        return self.needle.rest(row, edge, leftwards=bool(self.runs.leftwards[row]))

    def _leg(self, row: int, start: int, stop: int, since: int | None = None) -> Leg:
        since = row if since is None else since
        # By stitches: with a selvedge a yarn may hang inside of the edge that it goes to.
        ahead = self.worked_before(row, start, since) <= self.worked_before(row, stop)
        return Leg(row, start, stop, ahead, since)

    def worked_before(self, row: int, edge: int, since: int | None = None) -> int:
        """How many stitches of a row are worked before it comes to an edge.

        Or to a yarn that hangs there `since` an earlier row.
        """
        left = self.needle.left_of(row, edge, since)
        return self.needle.count(row) - left if self.runs.leftwards[row] else left

    def stitches(self, leg: Leg) -> int:
        """Behind how many stitches the yarn of a leg lies."""
        start = self.worked_before(leg.row, leg.start, leg.since)
        return abs(self.worked_before(leg.row, leg.stop) - start)

    def _round_the_tube(self, start: int, stop: int) -> bool:
        """Whether the shorter way from edge to edge, between rounds, is over the join."""
        along = abs(start - stop)
        return self.runs.tube and 2 * along > self.runs.columns

    def hanging(self) -> dict[int, list[tuple[str, int]]]:
        """After each worked row (from 0), where each live strand hangs.

        As its name and its edge, counted from the left.
        """
        after = defaultdict(list)
        for link, a, b in self._joins():
            first_row = int(self.runs.row[a])
            _, edge, _ = self.ends(link)
            # Yarn that was woven along hangs where the row took it.
            for leg in self.legs(link):
                if leg.row == first_row:
                    edge = leg.stop
            # Of a middle start the second half hangs, until it is taken up.
            kind = self.links.kind[link]
            name = self.title(b if kind == MIDDLE else a)
            next_row = self.runs.row[b]
            for row in range(first_row, next_row):
                after[row].append((name, edge))
        return after
