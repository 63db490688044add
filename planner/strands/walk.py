"""The walk of the yarns: where the yarn of each run comes from and where it goes.

Cards, twists and the notes of knitted rows all read the strands this way: run by run, in working
order.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from planner.piece import PARTS, part_title
from planner.strands.links import MIDDLE, ON

if TYPE_CHECKING:
    from planner.strands.trace import Strands


class Walk:
    """The links of some strands by the runs that they leave and enter.

    `out` gives the link that leaves a run, `into` the link that enters it, and `middle` the link of
    a middle start by each of the two runs that it joins. Runs and links are their numbers.
    """

    def __init__(self, strands: Strands):
        self.strands = strands
        self.runs = strands.runs
        self.links = strands.links
        self.out: dict[int, int] = {}
        self.into: dict[int, int] = {}
        self.middle: dict[int, int] = {}
        kinds = self.links.kind.tolist()
        for link, a, b in self._joins():
            # A middle start leaves neither of its runs: both are entered from the middle.
            if kinds[link] == MIDDLE:
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
        return self._titles[run]

    # What is asked of every run and link is worked out for all of them at once.

    @cached_property
    def _titles(self) -> list[str]:
        """By run, the name of the part that works it."""
        strands = self.strands
        # Half 0 is the one that is worked first; a whole strand has no halves.
        half = np.where(strands.has_middle[strands.of_run], 1 + strands.half, 0)
        titles = []
        for strand, part in zip(strands.of_run.tolist(), half.tolist(), strict=True):
            titles.append(part_title(strands.labels[strand], PARTS[part]))
        return titles

    @cached_property
    def forward(self) -> list[int]:
        """By link, stitches from where the yarn leaves to where it is entered next, on the chart.

        They count forwards in the row that the yarn leaves, so they are less than 0 where it is
        entered farther back.
        """
        runs = self.runs
        a = self.links.a
        # Edges count from the left, so a row that is worked leftwards goes down in them.
        ahead = runs.enter[self.links.b] - runs.leave[a]
        forward: list[int] = np.where(runs.leftwards[runs.row[a]], -ahead, ahead).tolist()
        return forward

    def across_join(self, link: int) -> bool:
        """Whether a carry goes across the join of turned rounds: there that way is the shorter.

        Where both ways are as long it goes along the chart, as in flat work.
        """
        return link in self._across_join

    @cached_property
    def _across_join(self) -> frozenset[int]:
        """The links that go across the join."""
        # In rounds that are never turned the join is no place of its own: each round goes on where
        # the last one ended.
        if not self.strands.how.closes_join:
            return frozenset()
        runs = self.runs
        a = self.links.a
        b = self.links.b
        along = np.abs(runs.leave[a] - runs.enter[b])
        # Within a round a yarn is carried along the row.
        goes_across = (runs.row[a] != runs.row[b]) & (2 * along > runs.columns)
        return frozenset(np.flatnonzero(goes_across).tolist())

    def woven(self, link: int) -> bool:
        """Whether the yarn is woven along on the row it leaves.

        So it is where the next row starts it earlier, by more than one stitch.
        """
        return link in self._woven

    @cached_property
    def _woven(self) -> frozenset[int]:
        """The links whose yarn is woven along on the row it leaves."""
        # Where the work is not turned, no row runs the other way: a carry to the next round is a
        # float. So is one across the join, where this round does not pass any more.
        if not self.strands.how.is_turned:
            return frozenset()
        to_next_row = self.links.kind == ON
        far_forward = np.array(self.forward, dtype=int) > 1
        woven = np.flatnonzero(to_next_row & far_forward).tolist()
        return frozenset(woven) - self._across_join

    def hanging(self) -> dict[int, list[tuple[str, int]]]:
        """After each worked row (from 0), where each live strand hangs.

        As its name and its edge, counted from the left.
        """
        after = defaultdict(list)
        kinds = self.links.kind.tolist()
        rows = self.runs.row.tolist()
        enter = self.runs.enter.tolist()
        leave = self.runs.leave.tolist()
        for link, a, b in self._joins():
            # Yarn that was woven along hangs where it is wanted; so does one begun from its middle.
            is_middle = kinds[link] == MIDDLE
            edge = enter[b] if is_middle or self.woven(link) else leave[a]
            # Of a middle start the second half hangs, until it is taken up.
            hangs = (self.title(b if is_middle else a), edge)
            for row in range(rows[a], rows[b]):
                after[row].append(hangs)
        return after
