"""Links: every way in which one length of yarn may go on from one run to another.

All runs are sorted once by the integer key (yarn, worked row, entering edge). The runs that a yarn leaving at some
edge can reach in a given row lie side by side in that order, so two binary searches find them all.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from planner.strands.runs import Runs

ACROSS, ON, UP, MIDDLE = range(4)


@dataclass(frozen=True, eq=False)
class Links:
    """One entry a link in every array: `kind`, the runs `a` (earlier) and `b` it joins, the `shift` in stitches
    and the worked rows `skipped`. A link uses the leaving port of `a` (its entering port if a middle start)
    and the entering port of `b`."""

    kind: np.ndarray
    a: np.ndarray
    b: np.ndarray
    shift: np.ndarray
    skipped: np.ndarray

    @property
    def count(self) -> int:
        return len(self.kind)

    @property
    def ports(self) -> tuple[np.ndarray, np.ndarray]:
        """The two ports of each link: 2 × run is its entering edge, 2 × run + 1 its leaving edge."""
        return 2 * self.a + (self.kind != MIDDLE), 2 * self.b

    @classmethod
    def joined(cls, one: Links, other: Links) -> Links:
        """Both together."""
        return cls(
            *(np.concatenate([getattr(x, f.name) for x in (one, other)]) for f in fields(cls))
        )

    def __getitem__(self, chosen) -> Links:
        return Links(*(x[chosen] for x in (self.kind, self.a, self.b, self.shift, self.skipped)))


class _ByKey:
    """Runs sorted by (yarn, row, some edge), to be searched."""

    def __init__(self, runs: Runs, edge: np.ndarray):
        self.span, self.rows = runs.columns + 1, runs.rows
        key = self.key(runs.yarn, runs.row, edge)
        self.order = np.argsort(key, kind="stable")
        self.sorted = key[self.order]

    def key(self, yarn, row, edge):
        return (yarn * self.rows + row) * self.span + edge

    def between(self, yarn, row, low, high):
        """Pairs (i, run): run lies in yarn[i], row[i] with its edge in low[i]..high[i]; edges are clipped to the row."""
        low, high = np.maximum(low, 0), np.minimum(high, self.span - 1)
        start = np.searchsorted(self.sorted, self.key(yarn, row, low), "left")
        stop = np.searchsorted(self.sorted, self.key(yarn, row, high), "right")
        count = np.where(low <= high, stop - start, 0)
        i = np.repeat(np.arange(len(count)), count)
        place = (
            np.arange(len(i)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(start, count)
        )
        return i, self.order[place]

    def last_up_to(self, yarn, row, edge):
        """The run of yarn[i] in row[i] with the greatest edge not beyond edge[i], and whether there is one."""
        place = np.searchsorted(self.sorted, self.key(yarn, row, edge), "right") - 1
        found = (place >= 0) & (self.sorted[np.maximum(place, 0)] >= self.key(yarn, row, 0))
        return self.order[np.maximum(place, 0)], found


def _between_rows(
    index: _ByKey, runs: Runs, a: np.ndarray, edge: np.ndarray, ahead: int, reach: np.ndarray
):
    """Pairs (position in a, run b) where b, `ahead` rows on, is entered within `reach` of `edge`, and the shift."""
    turns = (0, -runs.columns, runs.columns) if runs.tube else (0,)
    yarn, row = runs.yarn[a], runs.row[a] + ahead
    found = [index.between(yarn, row, edge + turn - reach, edge + turn + reach) for turn in turns]
    i, b = (np.concatenate(x) for x in zip(*found, strict=True))
    if runs.tube:  # a wide reach finds the same run on both ways round
        pair = np.unique(i * runs.count + b)
        i, b = pair // runs.count, pair % runs.count
    shift = np.abs(edge[i] - runs.enter[b])
    return i, b, np.minimum(shift, runs.columns - shift) if runs.tube else shift


def _touched(by_lo: _ByKey, runs: Runs, yarn, row, edge):
    """Whether a run of the yarn in that row has the edge within its lo..hi + 1, the other way round a tube too."""
    places = [edge]
    if runs.tube:
        places.append(np.select([edge == 0, edge == runs.columns], [runs.columns, 0], edge))
    touched = np.zeros(len(edge), dtype=bool)
    for place in places:
        run, found = by_lo.last_up_to(yarn, row, place)
        touched |= found & (runs.hi[run] + 1 >= place)
    return touched


def find_links(runs: Runs, across, sideways, up, middle_start) -> Links:
    """All links allowed by the limits, given by yarn as arrays of whole stitches, rows and yes or no."""
    across, sideways, up, middle_start = (
        np.asarray(x)[runs.yarn] for x in (across, sideways, up, middle_start)
    )
    # A limit wider than the piece changes nothing but would overflow the sorted key.
    across, sideways = np.minimum(across, runs.columns), np.minimum(sideways, runs.columns)
    by_enter, by_lo = _ByKey(runs, runs.enter), _ByKey(runs, runs.lo)
    every = np.arange(runs.count)
    parts = []

    def keep(kind, a, b, shift, skipped=0):
        parts.append([np.full(len(a), kind), a, b, shift, np.full(len(a), skipped)])

    # across: from the leaving edge onwards in the direction of work; middle in one row: the entering edges.
    for kind, edge, can in ((ACROSS, runs.leave, every), (MIDDLE, runs.enter, every[middle_start])):
        a = can[across[can] > 0]
        left, reach, start = runs.leftwards[runs.row[a]], across[a], edge[a]
        low, high = (
            np.where(left, start - reach, start + 1),
            np.where(left, start - 1, start + reach),
        )
        i, b = by_enter.between(runs.yarn[a], runs.row[a], low, high)
        keep(kind, a[i], b, np.abs(start[i] - runs.enter[b]))

    a = every[runs.row < runs.rows - 1]
    i, b, shift = _between_rows(by_enter, runs, a, runs.leave[a], 1, sideways[a])
    keep(ON, a[i], b, shift)
    a = a[middle_start[a]]
    i, b, shift = _between_rows(by_enter, runs, a, runs.enter[a], 1, sideways[a])
    keep(MIDDLE, a[i], b, shift)

    a = every
    for skipped in range(1, min(int(up.max(initial=0)), runs.rows - 2) + 1):
        a = a[(up[a] >= skipped) & (runs.row[a] + skipped < runs.rows - 1)]
        a = a[~_touched(by_lo, runs, runs.yarn[a], runs.row[a] + skipped, runs.leave[a])]
        i, b, shift = _between_rows(by_enter, runs, a, runs.leave[a], skipped + 1, sideways[a])
        keep(UP, a[i], b, shift, skipped)

    kind, a, b, shift, skipped = (np.concatenate(x) for x in zip(*parts, strict=True))
    order = np.lexsort((kind, a, b))  # in working order, by the run a link leads to
    return Links(*(x[order] for x in (kind, a, b, shift, skipped)))


def add_carries(links: Links, runs: Runs, pairs) -> Links:
    """The links and, where they are not among them, those from the leaving edge of one run to the entering edge of a later one."""
    a, b = np.array(pairs, dtype=int).reshape(-1, 2).T
    new = ~np.isin(a * runs.count + b, (links.a * runs.count + links.b)[links.kind != MIDDLE])
    a, b = a[new], b[new]
    ahead, shift = runs.row[b] - runs.row[a], np.abs(runs.leave[a] - runs.enter[b])
    if runs.tube:
        shift = np.where(ahead > 0, np.minimum(shift, runs.columns - shift), shift)
    kind = np.select([ahead == 0, ahead == 1], [ACROSS, ON], UP)
    return Links.joined(links, Links(kind, a, b, shift, np.maximum(ahead - 1, 0)))
