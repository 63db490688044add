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
        self.walk = walk
        self.needle = walk.needle
        runs = strands.runs
        links = strands.links
        # Single numbers are asked for again and again: of lists they come faster than of arrays.
        self.kinds: list[int] = links.kind.tolist()
        self.first_run: list[int] = links.a.tolist()
        self.second_run: list[int] = links.b.tolist()
        self.row: list[int] = runs.row.tolist()
        self.enter: list[int] = runs.enter.tolist()
        self.leave: list[int] = runs.leave.tolist()
        self.left_at: list[int] = strands.left_at.tolist()
        self.leftwards: list[bool] = runs.leftwards.tolist()
        self.columns = runs.columns
        self.tube = runs.tube

    def left_in(self, link: int) -> int:
        """The row in which a carry leaves its run, or a middle start is begun."""
        run = self.first_run[link]
        return self.row[run]

    def wanted_in(self, link: int) -> int:
        """The row in which a carry is worked again, or the second half of a middle start."""
        run = self.second_run[link]
        return self.row[run]

    def ends(self, link: int) -> tuple[int, int, int]:
        """Three edges of a carry: where the yarn leaves its run, where it hangs, where it goes.

        The first two differ only in the last knitted row, where it may hang farther along. Of a
        middle start they are where its second half waits, and where that is taken up.
        """
        first = self.first_run[link]
        goal = self.enter[self.second_run[link]]
        if self.kinds[link] == MIDDLE:
            waits = self.enter[first]
            return waits, waits, goal
        return self.leave[first], self.left_at[first], goal

    def of(self, link: int) -> list[Leg]:
        """Where the yarn of a carry lies behind stitches, in the order in which it goes there.

        One that goes on in the row it comes from, or that this row can take along, lies in that
        row. Any other lies in the row that it is wanted in: ahead, where that row passes it on the
        way; or else behind stitches that are worked with and after its own.
        """
        leaves, hangs, goal = self.ends(link)
        row = self.left_in(link)
        wanted_in = self.wanted_in(link)
        legs = []
        if hangs != leaves:
            hangs = self._rest(row, hangs)
            legs.append(self._leg(row, leaves, hangs))

        if row == wanted_in:
            legs.append(self._leg(row, hangs, goal))
        elif self.round_the_tube(hangs, goal):
            legs += self._over_the_join(link, hangs, goal)
        else:
            # What the last knitted row has woven along already stays where that left it.
            if hangs == leaves and self.walk.woven(link):
                hangs = self._rest(row, goal)
                legs.append(self._leg(row, leaves, hangs))
            legs.append(self._leg(wanted_in, hangs, goal, since=row))
        return [leg for leg in legs if self.stitches(leg)]

    def _over_the_join(self, link: int, hangs: int, goal: int) -> list[Leg]:
        """The legs of a carry to a later round, from where its yarn hangs, over the join."""
        row = self.left_in(link)
        wanted_in = self.wanted_in(link)
        # Edge 0 and the last edge are one place: over it lies the shorter way.
        join, beyond_join = 0, self.columns
        if hangs > goal:
            join, beyond_join = beyond_join, join
        from_join = self._leg(wanted_in, beyond_join, goal)
        to_join = self._leg(row, hangs, self._rest(row, join))
        stitches = self.stitches(to_join) + self.stitches(from_join)
        is_next = wanted_in == row + 1
        # A second half waits where it is until it is taken up.
        goes_at_once = is_next and self.kinds[link] != MIDDLE
        legs = []
        if to_join.ahead and goes_at_once and stitches > SLACK:
            hangs = to_join.stop
            legs.append(to_join)
        waiting = self._leg(wanted_in, hangs, join, since=row)
        return [*legs, waiting, from_join]

    def _rest(self, row: int, edge: int) -> int:
        return self.needle.rest(row, edge, leftwards=self.leftwards[row])

    def _leg(self, row: int, start: int, stop: int, since: int | None = None) -> Leg:
        if since is None:
            since = row
        # By stitches: with a selvedge a yarn may hang inside of the edge that it goes to.
        starts_after = self.needle.worked_before(row, start, since)
        stops_after = self.needle.worked_before(row, stop)
        return Leg(row, start, stop, starts_after <= stops_after, since)

    def starts_after(self, leg: Leg) -> int:
        """After how many stitches of its row a leg starts."""
        return self.needle.worked_before(leg.row, leg.start, leg.since)

    def stops_after(self, leg: Leg) -> int:
        """After how many stitches of its row a leg stops."""
        return self.needle.worked_before(leg.row, leg.stop)

    def stitches(self, leg: Leg) -> int:
        """Behind how many stitches the yarn of a leg lies."""
        return abs(self.stops_after(leg) - self.starts_after(leg))

    def round_the_tube(self, start: int, stop: int) -> bool:
        """Whether the shorter way from edge to edge, between rounds, is over the join."""
        along = abs(start - stop)
        return self.tube and 2 * along > self.columns

    def hanging(self) -> dict[int, list[tuple[str, int]]]:
        """After each worked row (from 0), where each live strand hangs.

        As its name and its edge, counted from the left.
        """
        after = defaultdict(list)
        for link, kind in enumerate(self.kinds):
            left_in = self.left_in(link)
            _, edge, _ = self.ends(link)
            # Yarn that was woven along hangs where the row took it.
            for leg in self.of(link):
                if leg.row == left_in:
                    edge = leg.stop
            # Of a middle start the second half hangs, until it is taken up.
            runs = self.second_run if kind == MIDDLE else self.first_run
            name = self.walk.title(runs[link])
            for row in range(left_in, self.wanted_in(link)):
                after[row].append((name, edge))
        return after
