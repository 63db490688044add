"""The walk of the yarns: where the yarn of each run comes from and where it goes.

Cards, twists and the notes of knitted rows all read the strands this way: run by run, in working
order.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING

from planner.piece import PARTS, part_title
from planner.strands.links import MIDDLE, ON

if TYPE_CHECKING:
    from planner.strands.trace import Strands

WHOLE, FIRST_HALF, SECOND_HALF = PARTS


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
        along = abs(int(runs.leave[a] - runs.enter[b]))
        return 2 * along > runs.columns

    def woven(self, link: int) -> bool:
        """Whether the yarn is woven along on the row it leaves.

        So it is where the next row starts it earlier, by more than one stitch.
        """
        # Where the work is not turned, no row runs the other way: a carry to the next round is a
        # float. So is one across the join, where this round does not pass any more.
        if not self.strands.how.is_turned or self.across_join(link):
            return False
        to_next_row = self.links.kind[link] == ON
        return bool(to_next_row) and self.forward(link) > 1

    def hanging(self) -> dict[int, list[tuple[str, int]]]:
        """After each worked row (from 0), where each live strand hangs.

        As its name and its edge, counted from the left.
        """
        after = defaultdict(list)
        for link, a, b in self._joins():
            edge = self.runs.leave[a]
            # Yarn that was woven along hangs where it is wanted; so does one begun from its middle.
            kind = self.links.kind[link]
            if kind == MIDDLE or self.woven(link):
                edge = self.runs.enter[b]
            # Of a middle start the second half hangs, until it is taken up.
            name = self.title(b if kind == MIDDLE else a)
            hangs = (name, int(edge))
            first_row = self.runs.row[a]
            next_row = self.runs.row[b]
            for row in range(first_row, next_row):
                after[row].append(hangs)
        return after
