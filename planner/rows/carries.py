"""Carries: behind which stitches of a row carried yarn is caught, and where it is left.

A carry of one stitch needs nothing and one of two a little slack. A longer one is caught behind
every third stitch, in the row in which it lies behind them (`Leg`); yarn that waits for its row is
caught on the way up. Stitches are counted as they are worked, no-stitch cells left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from planner.strands import SLACK, Leg, Strands, Walk

# Stitches; practitioners catch a float every 2 to 4 (shared/sources.csv).
CATCH_EVERY = 3
# Rows; practitioners leave yarn hanging over two of them and catch it on the way over four.
ROWS_LOOSE = 2


class Catch(NamedTuple):
    """A yarn caught behind a stitch of a row, counted from 1 as the row is worked.

    `link` is its carry. What lies `ahead` is brought along to a place that the row comes to later;
    else it comes from a place farther on.
    """

    stitch: int
    link: int
    ahead: bool


class Carries:
    """The carries of some strands, row by row."""

    def __init__(self, strands: Strands, walk: Walk):
        self.walk = walk
        self.leftwards: list[bool] = strands.runs.leftwards.tolist()
        self.rows_a_chart_row = strands.how.rows_per_chart_row
        # Worked cells to the left of each edge of a chart row.
        is_worked = strands.chart.cells >= 0
        self.left_of = np.pad(is_worked.cumsum(axis=1), ((0, 0), (1, 0)))
        self.legs: dict[int, list[Leg]] = {}
        self.caught: dict[int, list[Catch]] = defaultdict(list)
        # By row: how many stitches of it are worked where a yarn that was taken along is left.
        self.left_after: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for link in range(strands.links.count):
            self._follow(link)
        for catches in self.caught.values():
            catches.sort()

    def worked_before(self, row: int, edge: int) -> int:
        """How many stitches of a row are worked before it comes to an edge."""
        counts = self.left_of[row // self.rows_a_chart_row]
        before = counts[edge]
        if self.leftwards[row]:
            before = counts[-1] - before
        return int(before)

    def stitches(self, link: int) -> int:
        """Stitches behind which the yarn of a carry lies."""
        return sum(self._length(leg) for leg in self.legs.get(link, []))

    def _length(self, leg: Leg) -> int:
        start = self.worked_before(leg.row, leg.start)
        stop = self.worked_before(leg.row, leg.stop)
        return abs(stop - start)

    def _follow(self, link: int) -> None:
        """Note where a carry is caught, and where it is left for the next row."""
        walk = self.walk
        self._catch_on_the_way_up(link)
        legs = walk.legs(link)
        if not legs:
            return
        self.legs[link] = legs
        length = self.stitches(link)
        for leg, stitch in self._places(legs, length):
            self.caught[leg.row].append(Catch(stitch, link, leg.ahead))
        first = legs[0]
        leaves_row = int(walk.runs.row[walk.links.a[link]])
        is_left = first.row == leaves_row < int(walk.runs.row[walk.links.b[link]])
        if is_left and length > SLACK:
            worked = self.worked_before(first.row, first.stop)
            self.left_after[first.row].append((worked, link))

    def _places(self, legs: list[Leg], length: int) -> Iterator[tuple[Leg, int]]:
        """The stitches behind which a carry of so many is caught, each with its leg."""
        if length <= SLACK:
            return
        along = range(CATCH_EVERY, length, CATCH_EVERY) or [SLACK]
        gone = 0
        for leg in legs:
            start = self.worked_before(leg.row, leg.start)
            stitches = self._length(leg)
            for steps in along:
                in_leg = steps - gone
                if 0 < in_leg <= stitches:
                    stitch = start + in_leg if leg.ahead else start - in_leg + 1
                    yield leg, stitch
            gone += stitches

    def _catch_on_the_way_up(self, link: int) -> None:
        """Note where yarn that waits for a later row is caught, in every second row between."""
        skipped = int(self.walk.links.skipped[link])
        if skipped <= ROWS_LOOSE:
            return
        _, edge, _ = self.walk.ends(link)
        row = int(self.walk.runs.row[self.walk.links.a[link]])
        for between in range(row + 2, row + skipped + 1, 2):
            counts = self.left_of[between // self.rows_a_chart_row]
            stitch = self.worked_before(between, edge) + 1
            # At the end of a row it is the last stitch.
            stitch = min(stitch, int(counts[-1]))
            self.caught[between].append(Catch(stitch, link, ahead=True))
