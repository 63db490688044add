"""Strands: the fewest continuous lengths of yarn that can work the runs of a chart.

Links join runs. The choice of links with the fewest ends, then the fewest middle starts, then the
least carried is an exact matching. What hangs together by chosen links is one strand, named by its
yarn and the order of first need.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple, TypedDict, Unpack

import numpy as np
import pandas as pd

from planner.errors import PlanError
from planner.piece import CarryLimits, Chart, Construction, Gauge
from planner.strands.arrays import (
    Flags,
    Lengths,
    Numbers,
    Pair,
    connected_parts,
    first_of_each,
    numbered_in_order,
    summed,
)
from planner.strands.knitted import Hanging, Knitted
from planner.strands.links import Links, add_carries, find_links, link_pairs
from planner.strands.matching import cheapest_matching
from planner.strands.runs import Runs, find_runs
from planner.units import counted


@dataclass(frozen=True, eq=False)
class Strands:
    """The strands of a chart, traced under carry limits (`limits`, and `by_yarn` for single yarns).

    runs
        The runs of the chart.
    possible, links
        All links that the limits allow, and those of them that are chosen.
    of_run
        The strand of each run; strands are numbered in the order of first need.
    left_at
        The edge where the yarn of each run hangs when its row is done: its leaving edge, but in the
        last knitted row where it was woven along to.
    half
        Which half of a strand begun from its middle works each run: 0 the half that is worked
        first, 1 the other. In other strands 0 throughout.
    labels
        The name of each strand: its yarn's letter and its number among the strands of that yarn.
    """

    chart: Chart
    how: Construction
    gauge: Gauge
    limits: CarryLimits
    by_yarn: Mapping[str, CarryLimits]
    runs: Runs
    possible: Links
    links: Links
    of_run: Numbers
    left_at: Numbers
    half: Numbers
    labels: tuple[str, ...] = field(repr=False)

    @property
    def count(self) -> int:
        return len(self.labels)

    @property
    def ends(self) -> int:
        """Two a strand; the ends of refills are counted apart."""
        return 2 * self.count

    @property
    def middle_starts(self) -> int:
        return int(np.count_nonzero(self.links.is_middle))

    @cached_property
    def carried(self) -> Lengths:
        """Length carried by each link in stitch widths: shift + rows skipped × aspect."""
        up = self.links.skipped * float(self.gauge.aspect)
        return self.links.shift + up

    @property
    def carried_stitches(self) -> float:
        """Length carried in all, in stitch widths."""
        return float(self.carried.sum())

    @cached_property
    def first_run(self) -> Numbers:
        """The run with which each strand begins; runs are in working order."""
        return first_of_each(self.of_run)

    @cached_property
    def last_run(self) -> Numbers:
        """The run with which each strand ends."""
        # The first from the end, counted from the end.
        from_the_end = first_of_each(self.of_run[::-1])
        return self.runs.count - 1 - from_the_end

    @cached_property
    def yarn(self) -> Numbers:
        """Each strand's yarn, as an index into the chart's letters."""
        return self.runs.yarn[self.first_run]

    @cached_property
    def has_middle(self) -> Flags:
        """Whether each strand is begun from its middle."""
        flags = np.zeros(self.count, dtype=bool)
        begun = self.links.a[self.links.is_middle]
        flags[self.of_run[begun]] = True
        return flags

    @cached_property
    def live(self) -> Numbers:
        """Lengths that hang in each worked row: each strand from its first row to its last.

        Rows that its yarn is only carried past are among them. Of a strand begun from its middle
        both halves hang from its first row on, each to its own last row.
        """
        row, rows = self.runs.row, self.runs.rows
        strand_and_half = 2 * self.of_run + self.half
        part, part_of_run = np.unique(strand_and_half, return_inverse=True)
        last_row = np.zeros(len(part), dtype=int)
        np.maximum.at(last_row, part_of_run, row)
        strand_begins = row[self.first_run]
        first_row = strand_begins[part // 2]
        # Lengths begun so far, less those that ended in an earlier row: in its last row a length
        # still hangs.
        begun = np.bincount(first_row, minlength=rows)
        ended = np.bincount(last_row, minlength=rows)
        return np.cumsum(begun) - np.cumsum(ended) + ended

    def per_strand(self, values: Numbers | Lengths) -> Lengths:
        """Values given by run, added up by strand."""
        return summed(self.of_run, values, self.count)

    def stitch_number(self, run: Numbers | int) -> Numbers:
        """The stitch with which each of these runs begins, counted from the chart's right edge."""
        runs = self.runs
        leftwards = runs.leftwards[runs.row[run]]
        column = np.where(leftwards, runs.hi[run], runs.lo[run])
        return runs.columns - column

    def table(self) -> pd.DataFrame:
        """One row a strand, in the order of first need.

        Rows and stitches are counted from 1, stitches from the right.
        """
        runs = self.runs
        first_row = runs.row[self.first_run]
        last_row = runs.row[self.last_run]
        letters = np.array(self.chart.letters, dtype=object)
        side_of_row = [self.how.side(row) for row in range(runs.rows)]
        sides = np.array(side_of_row, dtype=object)
        # No run is wider than the piece or narrower than nothing.
        narrowest = np.full(self.count, runs.columns)
        widest = np.zeros(self.count, dtype=int)
        np.minimum.at(narrowest, self.of_run, runs.stitches)
        np.maximum.at(widest, self.of_run, runs.stitches)
        # Both runs of a link are of one strand.
        strand_of_link = self.of_run[self.links.a]
        carried = summed(strand_of_link, self.carried, self.count)
        columns = {
            "strand": list(self.labels),
            "yarn": letters[self.yarn],
            "first_row": first_row + 1,
            "first_side": sides[first_row],
            "first_stitch": self.stitch_number(self.first_run),
            "last_row": last_row + 1,
            "runs": np.bincount(self.of_run, minlength=self.count),
            "stitches": self.per_strand(runs.stitches).astype(int),
            "narrowest_stitches": narrowest,
            "widest_stitches": widest,
            "carried_stitches": carried.round(4),
            "middle_start": self.has_middle,
            "ends": 2,
        }
        return pd.DataFrame(columns)

    def __repr__(self) -> str:
        return (
            f"{counted(self.count, 'strand')}, {self.ends} ends, "
            f"{self.middle_starts} begun from the middle, "
            f"{self.carried_stitches:.0f} stitches carried, at most {self.live.max()} at once"
        )


class AllowedLinks(NamedTuple):
    """The links that may be chosen, and what is settled beside them.

    possible
        The links that may be chosen.
    done
        The links that are knitted in.
    left_at
        By run, the edge where its yarn hangs: what was woven along before is farther than the run.
    """

    possible: Links
    done: Links
    left_at: Numbers


class Settled(TypedDict, total=False):
    """What is settled before links are chosen: the keyword arguments of `allowed_links`."""

    knitted: Knitted | None
    carries: Sequence[Pair]
    cuts: Sequence[Pair]
    no_middle: Sequence[int]


def trace_strands(
    chart: Chart,
    how: Construction | None = None,
    gauge: Gauge | None = None,
    limits: CarryLimits | None = None,
    *,
    by_yarn: Mapping[str, CarryLimits] | None = None,
    runs: Runs | None = None,
    say: Callable[[str], None] | None = None,
    progress: Callable[[float], None] | None = None,
    **settled: Unpack[Settled],
) -> Strands:
    """The strands with the fewest ends, then the fewest middle starts, then the least carried.

    `by_yarn` gives single yarns limits of their own, which replace the general ones whole. `runs`
    may be given where they are known, or to trace the runs of some yarns alone. `say` is told when
    a chart needs time, and `progress` which share of the choice is made (see `cheapest_matching`).
    What is `settled` stands beforehand: rows that are `knitted`, links that the knitter decided
    (`carries`, `cuts`, `no_middle`; see `allowed_links`). The strands are the best that can follow.

    Raises PlanError where a yarn with limits of its own is not on the chart, or where the chart is
    not as it was knitted.
    """
    how = how or Construction()
    gauge = gauge or Gauge()
    limits = limits or CarryLimits()
    by_yarn = dict(by_yarn or {})
    _check_yarns(by_yarn, chart)
    if runs is None:
        runs = find_runs(chart, how)

    # Limits stay exact fractions until they are whole: 2.5 cm at 22 stitches in 10 cm are 5.5, so a
    # carry of 5 is allowed and one of 6 is not; 2.8 cm at 25 are 7, not a little less.
    limits_of = [by_yarn.get(letter, limits) for letter in chart.letters]
    per_yarn = [own.at(gauge) for own in limits_of]
    allowed = allowed_links(runs, chart.letters, per_yarn, **settled)
    # Each port takes one link at most, and the best choice is exact.
    chosen = _best_choice(allowed.possible, runs, gauge, say=say, progress=progress)
    woven = np.abs(runs.leave - allowed.left_at)
    carried_on = _with_woven(chosen, woven)
    links = Links.joined(allowed.done, carried_on)

    # Runs that hang together by links are one strand.
    joined = connected_parts(links.a, links.b, runs.count)
    of_run = numbered_in_order(joined)
    yarn = runs.yarn[first_of_each(of_run)]
    return Strands(
        chart,
        how,
        gauge,
        limits,
        by_yarn,
        runs,
        possible=allowed.possible,
        links=links,
        of_run=of_run,
        left_at=allowed.left_at,
        half=_halves(links, of_run),
        labels=_labels(yarn, chart.letters),
    )


def allowed_links(
    runs: Runs,
    letters: tuple[str, ...],
    per_yarn: Sequence[tuple[int, int, int, bool]],
    *,
    knitted: Knitted | None = None,
    carries: Sequence[Pair] = (),
    cuts: Sequence[Pair] = (),
    no_middle: Sequence[int] = (),
) -> AllowedLinks:
    """The links that may be chosen under limits by yarn, and those that are settled.

    `per_yarn` gives whole stitches across and sideways, whole rows up, and whether middle starts
    are allowed. What is `knitted` stays as it is, and the yarns that hang from it may go on.
    `carries` are pairs of runs that are joined whatever the limits say, `cuts` pairs that are not,
    `no_middle` runs that are not begun from their middle; all are numbered as in `runs`.
    """
    if knitted is None:
        knitted = Knitted(())
    # Links are looked for from where the yarns hang now, which may be farther along than the run.
    hanging = knitted.hold(runs, letters)
    possible = find_links(hanging.runs, *zip(*per_yarn, strict=True))
    if len(carries):
        possible = add_carries(possible, hanging.runs, carries)

    # What the knitter decided, and what is knitted, takes links away.
    barred = _joins(possible, runs, cuts)
    barred |= possible.is_middle & np.isin(possible.a, no_middle)
    barred |= _knitted_over(possible, hanging, rows=len(knitted.rows))
    # A carry that cannot be made any more keeps no port from another link.
    wanted = _joins(possible, runs, carries) & ~barred
    barred |= _in_the_way(possible, wanted)

    return AllowedLinks(possible[~barred], hanging.links, hanging.runs.leave)


def _joins(links: Links, runs: Runs, pairs: Sequence[Pair]) -> Flags:
    """Which links lead from the leaving edge of one run of a pair to the other."""
    wanted = link_pairs(runs, pairs)
    of_links = links.pairs(runs)
    joins = np.isin(of_links, wanted.pairs(runs))
    joins[links.is_middle] = False
    return joins


def _in_the_way(links: Links, wanted: Flags) -> Flags:
    """Which links take a port of one that is wanted: that one has both of its ports to itself."""
    u, v = links.ports
    ports = np.append(u[wanted], v[wanted])
    in_the_way = np.isin(u, ports)
    in_the_way |= np.isin(v, ports)
    in_the_way[wanted] = False
    return in_the_way


def _knitted_over(links: Links, hanging: Hanging, rows: int) -> Flags:
    """Which links lead to a run in the knitted rows, or from one where no yarn hangs."""
    # A middle start needs the entering edge of its earlier run, any other link the leaving edge.
    is_knitted = hanging.runs.row < rows
    may_leave = hanging.may_leave[links.a]
    may_begin = hanging.may_begin[links.a]
    may_go_on = np.where(links.is_middle, may_begin, may_leave)
    ends_there = is_knitted[links.a] & ~may_go_on
    return is_knitted[links.b] | ends_there


def _check_yarns(by_yarn: Mapping[str, CarryLimits], chart: Chart) -> None:
    """Refuse limits for a yarn that is not on the chart."""
    for letter in by_yarn:
        if letter not in chart.letters:
            raise PlanError(
                f"Yarn {letter} has carry limits of its own but is not on the chart; its yarns are "
                f"{', '.join(chart.letters)}."
            )


def _best_choice(
    possible: Links,
    runs: Runs,
    gauge: Gauge,
    *,
    say: Callable[[str], None] | None,
    progress: Callable[[float], None] | None,
) -> Links:
    """The most links, of those choices with the fewest middle starts, then the least carried."""
    # In parts of a stitch that make every length a whole number, so that sums are exact.
    parts_a_row, parts_a_stitch = gauge.aspect.as_integer_ratio()
    carried = possible.shift * parts_a_stitch + possible.skipped * parts_a_row
    is_middle = possible.is_middle.astype(int)
    # Ports are numbered as in `Links.ports`: the entering edge of each run, then its leaving edge.
    entering = 2 * runs.place
    place = np.column_stack((entering, entering + 1)).ravel()
    u, v = possible.ports
    chosen = cheapest_matching(u, v, is_middle, carried, place=place, say=say, progress=progress)
    return possible[chosen]


def _with_woven(links: Links, woven: Numbers) -> Links:
    """The links; what was woven along before the yarn was left hanging is carried too."""
    woven_before = np.where(links.is_middle, 0, woven[links.a])
    return replace(links, shift=links.shift + woven_before)


def _halves(links: Links, of_run: Numbers) -> Numbers:
    """Which half of its strand works each run: 0 the half with the strand's first run, else 1."""
    carries = links.carries
    # In most pieces no strand is begun from its middle.
    if carries.count == links.count:
        return np.zeros_like(of_run)
    # Without the link of its middle start such a strand falls into its halves.
    part = connected_parts(carries.a, carries.b, len(of_run))
    first_part = part[first_of_each(of_run)]
    in_first_half = part == first_part[of_run]
    return np.where(in_first_half, 0, 1)


def _labels(yarn: Numbers, letters: tuple[str, ...]) -> tuple[str, ...]:
    """The names of the strands by their yarns: B1, A1, B2 …"""
    # Strands come in the order of first need, so the numbers of a yarn do too.
    so_far: Counter[str] = Counter()
    labels = []
    for number in yarn.tolist():
        letter = letters[number]
        so_far[letter] += 1
        labels.append(f"{letter}{so_far[letter]}")
    return tuple(labels)
