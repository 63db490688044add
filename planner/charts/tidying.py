"""Tidying: isolated stitches and slivers given up, each of which costs a strand.

Areas are stitches of one yarn side by side or one above the other. The smallest is given up
first, to the yarn beside it with the longest common border, until none is too small. A sliver, a
part only one stitch wide or one row high, is given up where that shortens the borders; a longer
line stays until the last level, since it may be meant.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from string import ascii_uppercase
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from planner.charts.palette import Mask, delta_e, from_hex, lab_of
from planner.charts.picture import ChartedPicture
from planner.piece import CarryLimits, Construction, Gauge
from planner.strands import trace_strands

Yarns = np.ndarray  # the yarn of each worked cell, by its place in the palette; row by row
Pairs = np.ndarray  # 2 × n: worked cells that lie beside each other, by their numbers


class Level(NamedTuple):
    """How far a chart is tidied, in stitches and in words."""

    area: int  # stitches that an area must have to stay
    sliver: float  # stitches that a sliver must have to stay
    words: str


LEVELS = (
    Level(1, 1, "as it is"),
    Level(2, 1, "no single stitches"),
    Level(8, 8, "no specks: no areas or slivers under 8 stitches"),
    Level(40, math.inf, "large areas only: none under 40 stitches, and no lines"),
)


def tidied(picture: ChartedPicture, *, tube: bool = False) -> tuple[ChartedPicture, ...]:
    """The picture's chart at each of the `LEVELS`, each tidied from the one before.

    No-stitch cells stay, and do not part an area within a row. In a `tube` the first and the last
    column are neighbours.
    """
    tidier = _Tidier.of(picture, tube)
    worked = picture.cells >= 0
    yarn = picture.cells[worked].astype(int)
    charts = []
    for level in LEVELS:
        yarn = tidier.without_areas(yarn, level.area)
        while level.sliver > 1:
            thinner = tidier.without_slivers(yarn, level.sliver)
            if np.array_equal(thinner, yarn):
                break
            # An area may be too small now that a sliver of it is gone.
            yarn = tidier.without_areas(thinner, level.area)
        cells = picture.cells.copy()
        cells[worked] = yarn
        charts.append(replace(picture, cells=cells))
    return tuple(charts)


def compare_levels(
    levels: tuple[ChartedPicture, ...],
    how: Construction | None = None,
    gauge: Gauge | None = None,
    limits: CarryLimits | None = None,
    *,
    by_yarn: Mapping[str, CarryLimits] | None = None,
    letters: Sequence[str] = ascii_uppercase,
) -> pd.DataFrame:
    """What each level of tidying saves and costs, one row a level.

    Stitches changed, how far the yarns are from the picture (mean ΔE*ab), and the strands, ends
    and most strands at once that it takes.
    """
    untidied = levels[0].cells
    lines = []
    for level, picture in zip(LEVELS, levels, strict=True):
        chart = picture.chart(letters)
        # A yarn may be gone from the chart; limits of its own would be refused.
        own_limits = {}
        for letter, own in (by_yarn or {}).items():
            if letter in chart.letters:
                own_limits[letter] = own
        strands = trace_strands(
            chart,
            how,
            gauge,
            limits,
            by_yarn=own_limits,
        )
        worked = picture.cells >= 0
        changes = picture.cells != untidied
        changed = int(changes.sum())
        stitches = int(worked.sum())
        percent = 100 * changed / stitches
        difference = picture.difference[worked].mean()
        lines.append(
            {
                "tidied": level.words,
                "stitches_changed": changed,
                "changed_percent": round(percent, 1),
                "difference_from_picture": round(float(difference), 2),
                "yarns": len(chart.letters),
                "strands": strands.count,
                "ends": strands.ends,
                "most_at_once": int(strands.live.max()),
            }
        )
    return pd.DataFrame(lines).rename_axis("level")


@dataclass(frozen=True, eq=False)
class _Tidier:
    """Gives up areas and slivers of one picture's chart."""

    cells: np.ndarray
    tube: bool
    beside: Pairs
    apart: np.ndarray  # ΔE*ab between each two yarns of the palette

    @classmethod
    def of(cls, picture: ChartedPicture, tube: bool) -> _Tidier:
        lab = lab_of(from_hex(picture.palette))
        worked = picture.cells >= 0
        return cls(
            cells=picture.cells,
            tube=tube,
            beside=_neighbours(worked, tube),
            apart=delta_e(lab[:, None], lab),
        )

    def without_areas(self, yarn: Yarns, least: float) -> Yarns:
        """The yarns when areas of fewer stitches are given up, smallest first."""
        part = _part_of(yarn, self.beside)
        parts = _Parts.of(part, yarn, self.beside)
        waiting = _Waiting(parts, least)
        waiting.add_all(parts.numbers)
        for small in waiting:
            taker = parts.taker(small, self.apart)
            if taker is not None:
                parts.yarn[small] = taker
                waiting.add(parts.merged(small))
        return parts.yarn_of_cells()

    def without_slivers(self, yarn: Yarns, least: float) -> Yarns:
        """The yarns when slivers of fewer stitches are given up where that shortens the borders.

        A sliver is a part by itself, even where it hangs on the rest of its area. It stays one,
        so that each is judged as it was drawn.
        """
        thin = self.thin(yarn)
        yarn_and_thin = 2 * yarn + thin
        part = _part_of(yarn_and_thin, self.beside)
        parts = _Parts.of(part, yarn, self.beside)
        slivers = np.flatnonzero(thin[parts.first])
        waiting = _Waiting(parts, least)
        waiting.add_all(slivers.tolist())
        for sliver in waiting:
            taker = parts.taker(sliver, self.apart)
            if taker is not None:
                parts.yarn[sliver] = taker
        return parts.yarn_of_cells()

    def thin(self, yarn: Yarns) -> Mask:
        """Which worked cells lie in no square of two by two stitches of their yarn."""
        worked = self.cells >= 0
        cells = self.cells.copy()
        cells[worked] = yarn
        # No stitches all round; at the sides of a tube lies its other side.
        rimmed = np.pad(cells, 1, constant_values=-1)
        if self.tube:
            rows = rimmed[1:-1]
            rows[:, 0] = cells[:, -1]
            rows[:, -1] = cells[:, 0]
        up = rimmed[1:] == rimmed[:-1]
        across = rimmed[:, 1:] == rimmed[:, :-1]
        square = _both(across) & up[:, 1:]
        # Each cell is a corner of four squares: two below it, two above.
        left_or_right = _either(square.T).T
        in_square = _either(left_or_right)
        return ~in_square[worked]


def _both(rows: Mask) -> Mask:
    """For each two rows, one above the other, where both are true."""
    return rows[1:] & rows[:-1]


def _either(rows: Mask) -> Mask:
    """For each two rows, one above the other, where one of them is true."""
    return rows[1:] | rows[:-1]


def _neighbours(worked: Mask, tube: bool) -> Pairs:
    """Worked cells, numbered row by row, that lie beside each other.

    Side by side, no-stitch cells skipped, or one above the other.
    """
    # In this numbering the next worked cell of a row is the next number.
    row, _ = np.nonzero(worked)
    in_the_row = np.diff(row) == 0
    left = np.flatnonzero(in_the_row)
    side_by_side = np.stack((left, left + 1))
    number = np.cumsum(worked) - 1
    number = number.reshape(worked.shape)
    both = _both(worked)
    below = number[:-1][both]
    above = number[1:][both]
    up = np.stack((below, above))
    pairs = [side_by_side, up]
    if tube:
        begins = np.diff(row, prepend=-1)
        first = np.flatnonzero(begins)
        after = np.append(first[1:], len(row))
        # Rows of one or two stitches are round the tube already.
        long = after - first > 2
        last = after - 1
        round_it = np.stack((last[long], first[long]))
        pairs.append(round_it)
    return np.hstack(pairs)


def _part_of(key: np.ndarray, beside: Pairs) -> np.ndarray:
    """Which part each worked cell lies in: neighbours of equal key lie in one.

    Numbered in the order of their first cells.
    """
    a, b = key[beside]
    alike = beside[:, a == b]
    links = np.ones(alike.shape[1])
    size = len(key), len(key)
    entries = links, tuple(alike)
    graph = coo_array(entries, shape=size)
    _, part = connected_components(graph, directed=False)
    return part


@dataclass
class _Parts:
    """The parts of a chart while some are given up and merged with what lies beside them.

    One list item a part: its stitches, its yarn, how long its borders with others are, and the
    part that it has been merged into, itself at first.
    """

    part: np.ndarray  # of each worked cell
    first: np.ndarray  # cell of each part
    size: list[int]
    yarn: list[int]
    borders: list[Counter[int]]
    into: list[int]

    @property
    def numbers(self) -> range:
        return range(len(self.size))

    @classmethod
    def of(cls, part: np.ndarray, yarn: Yarns, beside: Pairs) -> _Parts:
        """The parts, each worked cell's by its number, as they stand at first."""
        _, first = np.unique(part, return_index=True)
        size = np.bincount(part).tolist()
        borders: list[Counter[int]] = [Counter() for _ in size]
        # Two neighbours of different parts are a stitch of border between these.
        touching = part[beside]
        apart = touching[0] != touching[1]
        pairs, lengths = np.unique(
            np.sort(touching[:, apart], axis=0),
            axis=1,
            return_counts=True,
        )
        for (a, b), length in zip(pairs.T.tolist(), lengths.tolist(), strict=True):
            borders[a][b] = length
            borders[b][a] = length
        return cls(
            part=part,
            first=first,
            size=size,
            yarn=yarn[first].tolist(),
            borders=borders,
            into=list(range(len(size))),
        )

    def taker(self, part: int, apart: np.ndarray) -> int | None:
        """The yarn with the longest border with a part, on ties the nearest in colour.

        None where giving it up would not shorten the borders.
        """
        own = self.yarn[part]
        common: Counter[int] = Counter()
        borders = self.borders[part]
        for beside, length in borders.items():
            yarn = self.yarn[beside]
            common[yarn] += length
        # A sliver has borders with its own yarn too, where it hangs on its area.
        kept = common.pop(own, 0)
        longest = max(common.values(), default=0)
        if longest <= kept:
            return None
        takers = [yarn for yarn in sorted(common) if common[yarn] == longest]
        distance = apart[own, takers]
        return takers[distance.argmin()]

    def merged(self, part: int) -> int:
        """The part that is left when a part is merged with all beside it that have its yarn."""
        yarn = self.yarn[part]
        # Listed first, for the borders change on the way.
        for beside in list(self.borders[part]):
            if self.yarn[beside] != yarn:
                continue
            # The one with fewer borders goes into the other, which is less work.
            gone, part = sorted((beside, part), key=self._count_borders)
            self._merge(gone, part)
        return part

    def _count_borders(self, part: int) -> int:
        return len(self.borders[part])

    def _merge(self, gone: int, part: int) -> None:
        """One part becomes some more stitches of another beside it."""
        self.into[gone] = part
        self.size[part] += self.size[gone]
        for neighbour, length in self.borders[gone].items():
            borders = self.borders[neighbour]
            del borders[gone]
            if neighbour != part:
                borders[part] += length
                self.borders[part][neighbour] += length
        self.borders[gone].clear()

    def yarn_of_cells(self) -> Yarns:
        """The yarn of each worked cell, by the part that its own was merged into at last."""
        # What a part was merged into may have been merged in its turn.
        last = np.array(self.into)
        while not np.array_equal(last[last], last):
            last = last[last]
        yarn_of_part = np.array(self.yarn)[last]
        return yarn_of_part[self.part]


class _Waiting:
    """The parts of fewer than `least` stitches, smallest first, then by their first cells."""

    def __init__(self, parts: _Parts, least: float):
        self.parts = parts
        self.least = least
        self.queue: list[tuple[int, int]] = []

    def add_all(self, parts: Iterable[int]) -> None:
        for part in parts:
            self.add(part)

    def add(self, part: int) -> None:
        """A part that may have grown, if it is still too small."""
        size = self.parts.size[part]
        if size < self.least:
            heapq.heappush(self.queue, (size, part))

    def __iter__(self) -> Iterator[int]:
        """Those that are still as they were when they were added; more may be added meanwhile."""
        while self.queue:
            size, part = heapq.heappop(self.queue)
            stands = self.parts.into[part] == part
            as_it_was = self.parts.size[part] == size
            if stands and as_it_was:
                yield part
