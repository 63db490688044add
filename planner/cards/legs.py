"""Legs: where a carried yarn lies behind the work, row by row, and where it hangs."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from planner.strands import MIDDLE, SLACK, Strands, Walk


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


class Legs:
    """The ways of the carries of some strands; links and runs are their numbers."""

    def __init__(self, strands: Strands, walk: Walk):
        self.walk, self.needle, self.kinds = walk, walk.needle, strands.links.kind.tolist()
        runs, links = strands.runs, strands.links
        self.first_run, self.second_run = links.a.tolist(), links.b.tolist()
        self.row: list[int] = runs.row.tolist()
        self.enter: list[int] = runs.enter.tolist()
        self.leave: list[int] = runs.leave.tolist()
        self.left_at: list[int] = strands.left_at.tolist()
        self.leftwards: list[bool] = runs.leftwards.tolist()
        self.columns, self.tube = runs.columns, runs.tube

    def ends(self, link: int) -> tuple[int, int, int]:
        """Three edges of a carry: where the yarn leaves its run, where it hangs, where it goes.

        The first two differ only in the last knitted row, where it may hang farther along. Of a
        middle start they are where its second half waits, and where that is taken up.
        """
        a, b = self.first_run[link], self.second_run[link]
        leaves, hangs = self.leave[a], self.left_at[a]
        if self.kinds[link] == MIDDLE:
            leaves = hangs = self.enter[a]
        return leaves, hangs, self.enter[b]

    def of(self, link: int) -> list[Leg]:
        """Where the yarn of a carry lies behind stitches, in the order in which it goes there.

        One that goes on in the row it comes from, or that this row can take along, lies in that
        row. Any other lies in the row that it is wanted in: ahead, where that row passes it on the
        way; or else behind stitches that are worked with and after its own.
        """
        leaves, hangs, goal = self.ends(link)
        row = self.row[self.first_run[link]]
        wanted_in = self.row[self.second_run[link]]
        legs = []
        if hangs != leaves:
            hangs = self._rest(row, hangs)
            legs.append(self._leg(row, leaves, hangs))

        if row == wanted_in:
            legs.append(self._leg(row, hangs, goal))
        elif not self._round_the_tube(hangs, goal):
            if hangs == leaves and self.walk.woven(link):
                hangs = self._rest(row, goal)
                legs.append(self._leg(row, leaves, hangs))
            legs.append(self._leg(wanted_in, hangs, goal, since=row))
        else:
            # Edge 0 and the last edge are one place: over it lies the shorter way.
            last = self.columns
            to, on_from = (last, 0) if hangs > goal else (0, last)
            from_join = self._leg(wanted_in, on_from, goal)
            to_join = self._leg(row, hangs, self._rest(row, to))
            is_long = self.stitches(to_join) + self.stitches(from_join) > SLACK
            # A second half waits where it is until it is taken up.
            is_next = wanted_in == row + 1 and self.kinds[link] != MIDDLE
            if to_join.ahead and is_next and is_long:
                hangs = to_join.stop
                legs.append(to_join)
            legs += [self._leg(wanted_in, hangs, to, since=row), from_join]
        return [leg for leg in legs if self.stitches(leg)]

    def _rest(self, row: int, edge: int) -> int:
        return self.needle.rest(row, edge, leftwards=self.leftwards[row])

    def _leg(self, row: int, start: int, stop: int, since: int | None = None) -> Leg:
        since = row if since is None else since
        # By stitches: with a selvedge a yarn may hang inside of the edge that it goes to.
        ahead = self.needle.worked_before(row, start, since) <= self.needle.worked_before(row, stop)
        return Leg(row, start, stop, ahead, since)

    def stitches(self, leg: Leg) -> int:
        """Behind how many stitches the yarn of a leg lies."""
        start = self.needle.worked_before(leg.row, leg.start, leg.since)
        return abs(self.needle.worked_before(leg.row, leg.stop) - start)

    def _round_the_tube(self, start: int, stop: int) -> bool:
        """Whether the shorter way from edge to edge, between rounds, is over the join."""
        along = abs(start - stop)
        return self.tube and 2 * along > self.columns

    def hanging(self) -> dict[int, list[tuple[str, int]]]:
        """After each worked row (from 0), where each live strand hangs.

        As its name and its edge, counted from the left.
        """
        after = defaultdict(list)
        for link, (a, b) in enumerate(zip(self.first_run, self.second_run, strict=True)):
            first_row = self.row[a]
            _, edge, _ = self.ends(link)
            # Yarn that was woven along hangs where the row took it.
            for leg in self.of(link):
                if leg.row == first_row:
                    edge = leg.stop
            # Of a middle start the second half hangs, until it is taken up.
            name = self.walk.title(b if self.kinds[link] == MIDDLE else a)
            for row in range(first_row, self.row[b]):
                after[row].append((name, edge))
        return after
