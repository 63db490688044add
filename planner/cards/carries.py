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


ALONG, FLOAT, WAITING = "along", "float", "waiting"


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
        self.skipped: list[int] = strands.links.skipped.tolist()
        self.legs: dict[int, list[Leg]] = {}
        self.caught: dict[int, list[Catch]] = defaultdict(list)
        # By row: how many stitches of it are worked where a yarn that was taken along is left.
        self.left_after: dict[int, list[tuple[int, int]]] = defaultdict(list)
        # By link, whether its yarn is taken along behind the row that it leaves.
        self.is_left = [False] * strands.links.count
        for link in range(strands.links.count):
            self._follow(link)
        for catches in self.caught.values():
            catches.sort()

    def stitches(self, link: int) -> int:
        """Stitches behind which the yarn of a carry lies."""
        return sum(self.ways.stitches(leg) for leg in self.legs.get(link, []))

    def _follow(self, link: int) -> None:
        """Note where a carry is caught, and where it is left for the next row."""
        self._catch_on_the_way_up(link)
        legs = self.ways.of(link)
        if not legs:
            return
        self.legs[link] = legs
        length = self.stitches(link)
        worked_before = self.ways.needle.worked_before
        goal_row = self.ways.row[self.ways.second_run[link]]
        at_work_from = worked_before(goal_row, self.ways.ends(link)[2])
        for leg, stitch in self._places(legs, length):
            is_float = leg.row == goal_row and stitch > at_work_from
            after = worked_before(leg.row, leg.start, leg.since)
            catch = Catch(stitch, link, FLOAT if is_float else ALONG, after)
            self.caught[leg.row].append(catch)
        first = legs[0]
        leaves_row = self.ways.row[self.ways.first_run[link]]
        takes_along = first.row == leaves_row < goal_row and self.ways.stitches(first) > 0
        if takes_along and length > SLACK:
            self.is_left[link] = True
            worked = worked_before(first.row, first.stop)
            self.left_after[first.row].append((worked, link))

    def _places(self, legs: list[Leg], length: int) -> Iterator[tuple[Leg, int]]:
        """The stitches behind which a carry of so many is caught, each with its leg."""
        if length <= SLACK:
            return
        along = range(CATCH_EVERY, length, CATCH_EVERY) or [SLACK]
        gone = 0
        for leg in legs:
            start = self.ways.needle.worked_before(leg.row, leg.start, leg.since)
            stitches = self.ways.stitches(leg)
            for steps in along:
                in_leg = steps - gone
                if 0 < in_leg <= stitches:
                    stitch = start + in_leg if leg.ahead else start - in_leg + 1
                    yield leg, stitch
            gone += stitches

    def _catch_on_the_way_up(self, link: int) -> None:
        """Note where yarn that waits for a later row is caught, in every second row between."""
        skipped = self.skipped[link]
        if skipped <= ROWS_LOOSE:
            return
        needle = self.ways.needle
        _, edge, _ = self.ways.ends(link)
        row = self.ways.row[self.ways.first_run[link]]
        for between in range(row + 2, row + skipped + 1, 2):
            after = needle.worked_before(between, edge, row)
            # At the end of a row it is the last stitch.
            stitch = min(after + 1, needle.count(between))
            self.caught[between].append(Catch(stitch, link, WAITING, after))
