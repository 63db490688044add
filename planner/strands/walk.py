"""The walk of the yarns: for each run where its yarn comes from and where it goes, by the links chosen.

Cards, twists and the notes of knitted rows all read the strands this way: run by run, in working order.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from planner.piece import PARTS
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
        links = zip(self.links.kind, self.links.a, self.links.b, strict=True)
        for link, (kind, a, b) in enumerate(links):
            if kind == MIDDLE:
                self.middle[int(a)] = link
                self.middle[int(b)] = link
            else:
                self.out[int(a)] = link
                self.into[int(b)] = link

    def label(self, run: int) -> str:
        """The name of the strand that works a run."""
        return self.strands.labels[int(self.strands.of_run[run])]

    def part(self, run: int) -> str:
        """Which part of its strand works a run: the whole, the first or the second half."""
        if not self.strands.has_middle[self.strands.of_run[run]]:
            return PARTS[0]
        return PARTS[1 + int(self.strands.half[run])]

    def forward(self, link: int) -> int:
        """Stitches from where the yarn leaves to where it is entered next, forwards in the row it leaves.

        Round a tube it is the shorter way.
        """
        a, b = int(self.links.a[link]), int(self.links.b[link])
        leave, enter = int(self.runs.leave[a]), int(self.runs.enter[b])
        ahead = leave - enter if self.runs.leftwards[self.runs.row[a]] else enter - leave
        if self.runs.tube:
            half_way = self.runs.columns // 2
            ahead = (ahead + half_way) % self.runs.columns - half_way
        return ahead

    def woven(self, link: int) -> bool:
        """Whether the yarn is woven along on the row it leaves, because the next row starts it earlier."""
        # In rounds no row runs the other way: there a carry to the next round is a float.
        return self.links.kind[link] == ON and not self.runs.tube and self.forward(link) > 1

    def hanging(self) -> dict[int, list[tuple[str, int]]]:
        """After each worked row (from 0), where each live strand hangs: its name, its edge from the left."""
        after: dict[int, list[tuple[str, int]]] = defaultdict(list)
        links = zip(self.links.kind, self.links.a, self.links.b, strict=True)
        for link, (kind, a, b) in enumerate(links):
            is_there_already = kind == MIDDLE or self.woven(link)
            edge = int(self.runs.enter[b] if is_there_already else self.runs.leave[a])
            for row in range(int(self.runs.row[a]), int(self.runs.row[b])):
                after[row].append((self.label(int(a)), edge))
        return after
