"""Carries: behind which stitches of a row carried yarn is caught, and where it is left.

A carry of one stitch needs nothing and one of two a little slack. A longer one is caught behind
every third stitch, in the row in which it lies behind them (`Leg`); yarn that waits for its row is
caught on the way up. Stitches are counted as they are worked, no-stitch cells left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from planner.cards.legs import Leg, Legs
from planner.strands import SLACK, Strands, Walk

# Stitches; practitioners catch a float every 2 to 4 (shared/sources.csv).
CATCH_EVERY = 3
# Rows; practitioners leave yarn hanging over two of them and catch it on the way over four.
ROWS_LOOSE = 2

# How a yarn is caught (see `Catch`).
ALONG = "along"
FLOAT = "float"
WAITING = "waiting"


class Catch(NamedTuple):
    """A yarn caught behind a stitch of a row, counted from 1 as the row is worked.

    `link` is its carry. It may be taken ALONG; be a FLOAT, what lies behind where the yarn itself
    is at work again in this row; or be WAITING for a later row. It comes from where the row has
    worked `after` stitches.
    """

    stitch: int
    link: int
    how: str
    after: int


class Carries:
    """The carries of some strands, row by row."""

    def __init__(self, strands: Strands, walk: Walk):
        self.ways = Legs(strands, walk)
        links = strands.links
        self.skipped: list[int] = links.skipped.tolist()
        self.legs: dict[int, list[Leg]] = {}
        self.caught: dict[int, list[Catch]] = defaultdict(list)
        # By row: how many stitches of it are worked where a yarn that was taken along is left.
        self.left_after: dict[int, list[tuple[int, int]]] = defaultdict(list)
        # By link, whether its yarn is taken along behind the row that it leaves.
        self.is_left = [False] * links.count
        for link in range(links.count):
            self._follow(link)
        # They were found carry by carry, and are done stitch by stitch.
        for catches in self.caught.values():
            catches.sort()

    def stitches(self, link: int) -> int:
        """Stitches behind which the yarn of a carry lies."""
        return sum(map(self.ways.stitches, self.legs[link]))

    def is_passed_first(self, link: int) -> bool | None:
        """Whether the row comes to where a carry hangs before it comes to the run that wants it.

        None where no side can be told: it comes over the join, or a row before has led it.
        """
        wanted_in = self.ways.wanted_in(link)
        _, hangs, goal = self.ways.ends(link)
        is_later = self.ways.left_in(link) < wanted_in
        if is_later and self.ways.round_the_tube(hangs, goal):
            return None
        legs = self.legs[link]
        if any(leg.row != wanted_in for leg in legs):
            return None
        return legs[0].ahead

    def _follow(self, link: int) -> None:
        """Note where a carry is caught, and where it is left for the next row."""
        self._catch_on_the_way_up(link)
        legs = self.ways.of(link)
        self.legs[link] = legs
        # Slack is enough for a short one, in however many legs it lies.
        length = self.stitches(link)
        if length > SLACK:
            self._catch_on_its_legs(link, length)
            self._leave_for_the_next_row(link, legs[0])

    def _catch_on_its_legs(self, link: int, length: int) -> None:
        """Note behind which stitches a carry of so many is caught."""
        wanted_in = self.ways.wanted_in(link)
        _, _, goal = self.ways.ends(link)
        at_work_after = self.ways.needle.worked_before(wanted_in, goal)
        for leg, stitch in self._places(self.legs[link], length):
            is_float = leg.row == wanted_in and stitch > at_work_after
            how = FLOAT if is_float else ALONG
            catch = Catch(stitch, link, how, self.ways.starts_after(leg))
            self.caught[leg.row].append(catch)

    def _leave_for_the_next_row(self, link: int, leg: Leg) -> None:
        """Note where a carry is left, if the row that it comes from takes it along on this leg."""
        left_in = self.ways.left_in(link)
        if leg.row == left_in < self.ways.wanted_in(link):
            self.is_left[link] = True
            worked = self.ways.stops_after(leg)
            self.left_after[left_in].append((worked, link))

    def _places(self, legs: list[Leg], length: int) -> Iterator[tuple[Leg, int]]:
        """The stitches behind which a carry of so many is caught, each with its leg."""
        # One of three stitches comes to its end with the third: it is caught behind the second.
        every_third = range(CATCH_EVERY, length, CATCH_EVERY) or [SLACK]
        before_leg = 0
        for leg in legs:
            start = self.ways.starts_after(leg)
            stitches = self.ways.stitches(leg)
            for caught_at in every_third:
                in_leg = caught_at - before_leg
                if 0 < in_leg <= stitches:
                    # Against the row the yarn goes back behind stitches that it has worked.
                    stitch = start + in_leg if leg.ahead else start - in_leg + 1
                    yield leg, stitch
            before_leg += stitches

    def _catch_on_the_way_up(self, link: int) -> None:
        """Note where yarn that waits for a later row is caught, in every second row between."""
        skipped = self.skipped[link]
        if skipped <= ROWS_LOOSE:
            return
        needle = self.ways.needle
        _, edge, _ = self.ways.ends(link)
        row = self.ways.left_in(link)
        every_second = range(row + 2, row + skipped + 1, 2)
        for between in every_second:
            after = needle.worked_before(between, edge, row)
            # At the end of a row it is the last stitch.
            stitch = min(after + 1, needle.count(between))
            catch = Catch(stitch, link, WAITING, after)
            self.caught[between].append(catch)
