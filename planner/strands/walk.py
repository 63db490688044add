"""The walk of the yarns: where the yarn of each run comes from and where it goes.

Cards, twists and the notes of knitted rows all read the strands this way: run by run, in working
order.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from planner.piece import PARTS, part_title
from planner.strands.links import ON
from planner.strands.needle import Needle

if TYPE_CHECKING:
    from planner.strands.trace import Strands


# Stitches. What the next row starts no more than this farther along is left where it is, with a
# little slack; a longer way is woven along while the row passes there (common practice, no source).
SLACK = 2


class Walk:
    """The links of some strands by the runs that they leave and enter.

    `out` gives the link that leaves a run, `into` the link that enters it, and `middle` the link of
    a middle start by each of the two runs that it joins. Runs and links are their numbers.
    """

    def __init__(self, strands: Strands):
        self.strands = strands
        self.runs = strands.runs
        self.links = strands.links
        self.needle = Needle(strands)
        self.out: dict[int, int] = {}
        self.into: dict[int, int] = {}
        self.middle: dict[int, int] = {}
        is_middle = self.links.is_middle.tolist()
        first_runs = self.links.a.tolist()
        second_runs = self.links.b.tolist()
        for link, (a, b) in enumerate(zip(first_runs, second_runs, strict=True)):
            # A middle start leaves neither of its runs: both are entered from the middle.
            if is_middle[link]:
                self.middle[a] = link
                self.middle[b] = link
            else:
                self.out[a] = link
                self.into[b] = link

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
        has_halves = strands.has_middle[strands.of_run]
        # Half 0 is the one that is worked first; a whole strand has no halves.
        part_of_run = np.where(has_halves, 1 + strands.half, 0)
        titles = []
        for strand, part in zip(strands.of_run.tolist(), part_of_run.tolist(), strict=True):
            title = part_title(strands.labels[strand], PARTS[part])
            titles.append(title)
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
        leftwards = runs.leftwards[runs.row[a]]
        forward: list[int] = np.where(leftwards, -ahead, ahead).tolist()
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
        # The second half of a strand waits where its middle is.
        hangs = np.where(self.links.is_middle, runs.enter[a], self.strands.left_at[a])
        along = np.abs(hangs - runs.enter[b])
        is_nearer_across = 2 * along > runs.columns
        # Within a round a yarn is carried along the row.
        in_one_round = runs.row[a] == runs.row[b]
        goes_across = np.flatnonzero(is_nearer_across & ~in_one_round)
        return frozenset(goes_across.tolist())

    def woven(self, link: int) -> bool:
        """Whether the yarn is woven along on the row it leaves.

        So it is where the next row starts it earlier, by more than what slack is enough for.
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
        forward = np.array(self.forward, dtype=int)
        # Beside the selvedge the way is longer than it looks on the chart.
        longest = forward + self.strands.how.selvedge
        may_be_far = (forward > 0) & (longest > SLACK)
        candidates = np.flatnonzero(to_next_row & may_be_far).tolist()
        return frozenset(filter(self._is_far, candidates)) - self._across_join

    def _is_far(self, link: int) -> bool:
        """Whether the yarn would pass more stitches than slack is enough for."""
        runs = self.runs
        a = self.links.a[link]
        b = self.links.b[link]
        row = int(runs.row[a])
        start = self.needle.worked_before(row, int(runs.leave[a]))
        stop = self.needle.worked_before(row, int(runs.enter[b]))
        return stop - start > SLACK
