"""Links: every way in which one length of yarn may go on from one run to another of its colour.

    across   a leaves → b enters, later in the same row
    on       a leaves → b enters, in the next worked row
    up       a leaves → b enters, with worked rows skipped in between
    middle   a enters – b enters, in the same row or the next: one length, begun from its middle

**Where a yarn rests.** After a run its yarn hangs at the edge where it left the work. It is carried
up past a row only if it can rest there: no run of its own colour may *touch* that edge, that is
have it within its edges lo..hi + 1, ends included. Where one does, a length of this colour hangs
at the very spot where this colour is worked, and the knitter would work on with it; to float it
past its own stitches for a later row makes no sense.

**Limits** come in whole stitches and whole rows, as shifts do. A limit of 5.5 stitches is therefore
the same as one of 5, and nothing is ever rounded up to 6.

**How they are found.** All runs are sorted once by one whole number: yarn, worked row, entering
edge. The runs that a yarn can reach in a given row lie side by side in that order, so two binary
searches find them all, for all runs at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from planner.strands.arrays import Flags, Numbers, Pair, end_to_end
from planner.strands.runs import Runs

ACROSS, ON, UP, MIDDLE = range(4)


@dataclass(frozen=True, eq=False)
class Links:
    """Links between runs, one entry a link in every array.

    kind
        ACROSS, ON, UP or MIDDLE.
    a, b
        The earlier and the later run that it joins.
    shift
        How far the yarn is carried sideways, in stitches.
    skipped
        How many worked rows it is carried past.

    A link takes the leaving port of a (its entering port, if it is a middle start) and the entering
    port of b.
    """

    kind: Numbers
    a: Numbers
    b: Numbers
    shift: Numbers
    skipped: Numbers

    @property
    def count(self) -> int:
        return len(self.kind)

    @property
    def is_middle(self) -> Flags:
        """Which of them are middle starts."""
        return np.equal(self.kind, MIDDLE)

    @property
    def carries(self) -> Links:
        """The links that are not middle starts: they lead from a leaving edge."""
        return self[~self.is_middle]

    @property
    def ports(self) -> tuple[Numbers, Numbers]:
        """The two ports of each link: 2 × run is its entering, 2 × run + 1 its leaving edge."""
        entering_a = 2 * self.a
        u = np.where(self.is_middle, entering_a, entering_a + 1)
        return u, 2 * self.b

    def pairs(self, runs: Runs) -> Numbers:
        """One number for the two runs that a link joins, in the order a, b."""
        return self.a * runs.count + self.b

    @classmethod
    def joined(cls, *parts: Links) -> Links:
        """All of them together."""
        arrays = {}
        for field in fields(cls):
            of_parts = [getattr(part, field.name) for part in parts]
            arrays[field.name] = np.concatenate(of_parts)
        return cls(**arrays)

    def __getitem__(self, chosen: Numbers | Flags) -> Links:
        return Links(
            kind=self.kind[chosen],
            a=self.a[chosen],
            b=self.b[chosen],
            shift=self.shift[chosen],
            skipped=self.skipped[chosen],
        )


def find_links(
    runs: Runs,
    across: Sequence[int],
    sideways: Sequence[int],
    up: Sequence[int],
    middle_start: Sequence[bool],
) -> Links:
    """All links that the limits allow, in working order by the run that a link leads to.

    The limits are given by yarn: whole stitches across and sideways, whole rows up (of a limit that
    is not whole, the whole part), and whether middle starts are allowed.
    """
    # From limits by yarn to limits by run.
    across_of = np.asarray(across)[runs.yarn]
    sideways_of = np.asarray(sideways)[runs.yarn]
    up_of = np.asarray(up)[runs.yarn]
    # A limit wider than the piece changes nothing but would overflow the sorted key.
    across_of = np.minimum(across_of, runs.columns)
    sideways_of = np.minimum(sideways_of, runs.columns)

    every = np.arange(runs.count)
    may_begin = np.asarray(middle_start)[runs.yarn]
    from_middle = every[may_begin]
    search = _Search(runs)
    # A carry sets out from the leaving edge, the second half of a middle start from the entering.
    links = Links.joined(
        search.in_the_row(ACROSS, every, runs.leave, across_of),
        search.in_the_row(MIDDLE, from_middle, runs.enter, across_of),
        search.rows_on(ON, every, runs.leave, sideways_of),
        search.rows_on(MIDDLE, from_middle, runs.enter, sideways_of),
        *search.upwards(up_of, sideways_of),
    )
    in_working_order = np.lexsort((links.kind, links.a, links.b))
    return links[in_working_order]


def add_carries(links: Links, runs: Runs, pairs: Sequence[Pair]) -> Links:
    """The links and, where they are not among them, those that join the pairs of runs.

    Each leads from the leaving edge of the earlier run to the entering edge of the later.
    """
    wanted = link_pairs(runs, pairs)
    known = np.isin(wanted.pairs(runs), links.carries.pairs(runs))
    return Links.joined(links, wanted[~known])


def link_pairs(runs: Runs, pairs: Sequence[Pair]) -> Links:
    """The links from the leaving edge of one run to the entering edge of a later one."""
    a, b = _two_columns(pairs)
    # The kind follows from how many rows ahead the later run lies.
    ahead = runs.row[b] - runs.row[a]
    kind = np.full_like(ahead, UP)
    kind[ahead == 0] = ACROSS
    kind[ahead == 1] = ON
    shift = shift_between(runs, a, runs.leave[a], b)
    return Links(
        kind=kind,
        a=a,
        b=b,
        shift=shift,
        skipped=np.maximum(ahead - 1, 0),
    )


def link_middles(runs: Runs, pairs: Sequence[Pair]) -> Links:
    """The middle starts that join the entering edges of two runs."""
    a, b = _two_columns(pairs)
    return _of_one_kind(MIDDLE, runs, a, runs.enter[a], b)


def _two_columns(pairs: Sequence[Pair]) -> tuple[Numbers, Numbers]:
    """The earlier and the later run of each pair."""
    columns = np.array(pairs, dtype=int).reshape(-1, 2).T
    return columns[0], columns[1]


def _of_one_kind(
    kind: int,
    runs: Runs,
    a: Numbers,
    edge: Numbers,
    b: Numbers,
    skipped: int = 0,
) -> Links:
    """Links of one kind, from an edge of each run a to where run b is entered."""
    return Links(
        kind=np.full_like(a, kind),
        a=a,
        b=b,
        shift=shift_between(runs, a, edge, b),
        skipped=np.full_like(a, skipped),
    )


def shift_between(runs: Runs, a: Numbers, edge: Numbers, b: Numbers) -> Numbers:
    """Stitches from an edge of each run a to where run b is entered.

    Round a tube, from one round to another, it is the shorter way.
    """
    shift: Numbers = np.abs(edge - runs.enter[b])
    if not runs.tube:
        return shift
    # Within a round the yarn is carried along the row, past the stitches in between.
    shorter = np.minimum(shift, runs.columns - shift)
    in_one_round = runs.row[a] == runs.row[b]
    return np.where(in_one_round, shift, shorter)


class _Search:
    """Searches the runs of a piece for those that a yarn can reach from others."""

    def __init__(self, runs: Runs):
        self.runs = runs
        self.by_enter = _RunsByEdge(runs, runs.enter)
        self.by_lo = _RunsByEdge(runs, runs.lo)

    def in_the_row(self, kind: int, a: Numbers, edge: Numbers, reach: Numbers) -> Links:
        """Links from an edge of the runs `a` onwards in the same row.

        `edge` and `reach` have an entry for every run, here and below.
        """
        runs = self.runs
        a = a[reach[a] > 0]  # none by default: then nothing is searched
        yarn = runs.yarn[a]
        row = runs.row[a]
        start = edge[a]
        # Onwards is to the left or to the right, as the row is worked.
        step = np.where(runs.leftwards[row], -1, 1)
        nearest = start + step
        farthest = start + step * reach[a]
        low = np.minimum(nearest, farthest)
        high = np.maximum(nearest, farthest)
        i, b = self.by_enter.between(yarn, row, low, high)
        return _of_one_kind(kind, runs, a[i], start[i], b)

    def rows_on(
        self,
        kind: int,
        a: Numbers,
        edge: Numbers,
        reach: Numbers,
        *,
        skipped: int = 0,
    ) -> Links:
        """Links from an edge of the runs `a` to the row that comes after `skipped` rows."""
        runs = self.runs
        # The row to reach must be there.
        row = runs.row[a] + skipped + 1
        is_there = row < runs.rows
        a = a[is_there]
        row = row[is_there]
        yarn = runs.yarn[a]
        start = edge[a]
        low = start - reach[a]
        high = start + reach[a]
        if runs.tube:
            i, b = self._round_the_tube(yarn, row, low, high)
        else:
            i, b = self.by_enter.between(yarn, row, low, high)
        return _of_one_kind(kind, runs, a[i], start[i], b, skipped)

    def _round_the_tube(
        self, yarn: Numbers, row: Numbers, low: Numbers, high: Numbers
    ) -> tuple[Numbers, Numbers]:
        """As `between`, and where a reach goes beyond one side of the chart, on at the other."""
        columns, count = self.runs.columns, self.runs.count
        pairs = []
        for turn in (0, -columns, columns):
            i, b = self.by_enter.between(yarn, row, low + turn, high + turn)
            pair = i * count + b
            pairs.append(pair)
        # A wide reach finds the same run on both ways round.
        found = np.unique(np.concatenate(pairs))
        return found // count, found % count

    def upwards(self, up: Numbers, reach: Numbers) -> Iterator[Links]:
        """Links up, for one row skipped, then two, and so on as far as any limit goes."""
        runs = self.runs
        last_row = runs.rows - 1
        # From the first row to the last, all rows but these two are skipped.
        highest = int(up.max(initial=0))
        most = min(highest, last_row - 1)
        resting = np.arange(runs.count)
        for skipped in range(1, most + 1):
            within_limit = up[resting] >= skipped
            resting = resting[within_limit]
            has_a_row_to_reach = runs.row[resting] + skipped < last_row
            resting = resting[has_a_row_to_reach]
            # Where a yarn cannot rest it is out for good: farther on it would pass this row too.
            touched = self._touched(resting, skipped)
            resting = resting[~touched]
            yield self.rows_on(UP, resting, runs.leave, reach, skipped=skipped)

    def _touched(self, a: Numbers, ahead: int) -> Flags:
        """Whether, so many rows ahead, a run of the same yarn touches the edge where `a` leaves."""
        runs = self.runs
        yarn = runs.yarn[a]
        row = runs.row[a] + ahead
        edge = runs.leave[a]
        places = [edge]
        if runs.tube:
            # Edge 0 and the last edge are one place there.
            same_place = np.where(edge == 0, runs.columns, edge)
            same_place[edge == runs.columns] = 0
            places.append(same_place)
        touched = np.zeros(len(a), dtype=bool)
        for place in places:
            # Of the runs that begin before the place, only the nearest can reach as far.
            run, found = self.by_lo.last_up_to(yarn, row, place)
            reaches = runs.hi[run] + 1 >= place
            touched |= found & reaches
        return touched


class _RunsByEdge:
    """The runs in the order of yarn, worked row and one of their edges, to be searched."""

    def __init__(self, runs: Runs, edge: Numbers):
        self.rows = runs.rows
        self.last_edge = runs.columns
        keys = self._key(runs.yarn, runs.row, edge)
        # The runs in that order, and beside them their keys, which are searched.
        self._run = np.argsort(keys, kind="stable")
        self._sorted = keys[self._run]

    def _key(self, yarn: Numbers, row: Numbers, edge: Numbers | int) -> Numbers:
        """One whole number that sorts by yarn, then by row, then by edge."""
        yarn_and_row = yarn * self.rows + row
        edges = self.last_edge + 1
        return yarn_and_row * edges + edge

    def between(
        self, yarn: Numbers, row: Numbers, low: Numbers, high: Numbers
    ) -> tuple[Numbers, Numbers]:
        """Pairs (i, run): a run of yarn[i] in row[i] with its edge in low[i]..high[i]."""
        # An edge beyond the row would have the key of another row.
        low = np.maximum(low, 0)
        high = np.minimum(high, self.last_edge)
        lowest = self._key(yarn, row, low)
        highest = self._key(yarn, row, high)
        start = np.searchsorted(self._sorted, lowest, "left")
        stop = np.searchsorted(self._sorted, highest, "right")
        # Where low..high lies beyond the row altogether, stop is not after start.
        count = np.maximum(stop - start, 0)

        # Each search has found a stretch of the sorted runs.
        i, place = end_to_end(start, count)
        return i, self._run[place]

    def last_up_to(self, yarn: Numbers, row: Numbers, edge: Numbers) -> tuple[Numbers, Flags]:
        """The run of yarn[i] in row[i] with the greatest edge up to edge[i], and whether one is.

        The yarn must have a run in an earlier row.
        """
        key = self._key(yarn, row, edge)
        # The last of those whose key is no greater.
        place = np.searchsorted(self._sorted, key, "right") - 1
        # It may lie in an earlier row. There is always one: the run that the yarn comes from.
        row_begins = self._key(yarn, row, 0)
        found = self._sorted[place] >= row_begins
        return self._run[place], found
