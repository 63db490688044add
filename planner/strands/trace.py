"""Strands: the fewest continuous lengths of yarn that can work the runs of a chart.

Links join runs; the choice of links with the fewest ends, then the fewest middle starts, then the least carried is an
exact matching. What hangs together by chosen links is one strand, named by its yarn and the order of first need.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from planner.errors import PlanError
from planner.piece import CarryLimits, Chart, Construction, Gauge
from planner.strands.knitted import Knitted
from planner.strands.links import MIDDLE, Links, add_carries, find_links
from planner.strands.matching import cheapest_matching
from planner.strands.runs import Runs, find_runs
from planner.units import counted


def _components(a, b, count) -> np.ndarray:
    return connected_components(
        coo_array((np.ones(len(a)), (a, b)), shape=(count, count)), directed=False
    )[1]


@dataclass(frozen=True, eq=False)
class Strands:
    """The strands of a chart. `links` are the links chosen, `of_run` gives the strand of each run and `half` which
    half of a strand begun from its middle works it (0 the half worked first; 0 throughout in other strands).
    `possible` are all the links that the limits allow, chosen or not."""

    chart: Chart
    how: Construction
    gauge: Gauge
    limits: CarryLimits
    by_yarn: Mapping[str, CarryLimits]
    runs: Runs
    possible: Links
    links: Links
    of_run: np.ndarray
    half: np.ndarray
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
        return int((self.links.kind == MIDDLE).sum())

    @cached_property
    def carried(self) -> np.ndarray:
        """Length carried by each link in stitch widths: shift + rows skipped × aspect."""
        return self.links.shift + self.links.skipped * float(self.gauge.aspect)

    @property
    def carried_stitches(self) -> float:
        """Length carried in all, in stitch widths."""
        return float(self.carried.sum())

    @cached_property
    def first_run(self) -> np.ndarray:
        """The run with which each strand begins; runs are in working order."""
        return np.unique(self.of_run, return_index=True)[1]

    @cached_property
    def last_run(self) -> np.ndarray:
        return self.runs.count - 1 - np.unique(self.of_run[::-1], return_index=True)[1]

    @cached_property
    def yarn(self) -> np.ndarray:
        """Each strand's yarn, as an index into the chart's letters."""
        return self.runs.yarn[self.first_run]

    @cached_property
    def has_middle(self) -> np.ndarray:
        """Whether each strand is begun from its middle."""
        flags = np.zeros(self.count, dtype=bool)
        flags[self.of_run[self.links.a[self.links.kind == MIDDLE]]] = True
        return flags

    @cached_property
    def live(self) -> np.ndarray:
        """Live strands in each worked row: a strand is live from its first row to its last, carried rows included."""
        begins = np.bincount(self.runs.row[self.first_run], minlength=self.runs.rows)
        stops = np.bincount(self.runs.row[self.last_run] + 1, minlength=self.runs.rows + 1)[:-1]
        return np.cumsum(begins - stops)

    def per_strand(self, values: np.ndarray) -> np.ndarray:
        """Values given by run, added up by strand."""
        return np.bincount(self.of_run, weights=values, minlength=self.count)

    def carried_per_strand(self, kind: int | None = None) -> np.ndarray:
        """Length carried by each strand in stitch widths, by links of one kind or of all."""
        chosen = slice(None) if kind is None else self.links.kind == kind
        return np.bincount(
            self.of_run[self.links.a[chosen]], weights=self.carried[chosen], minlength=self.count
        )

    def stitch_number(self, run: np.ndarray) -> np.ndarray:
        """Number, from the right-hand edge of the chart, of the stitch with which each of these runs is entered."""
        left = self.runs.leftwards[self.runs.row[run]]
        return self.runs.columns - np.where(left, self.runs.hi[run], self.runs.lo[run])

    def table(self) -> pd.DataFrame:
        """One row a strand, in the order of first need; rows and stitches are counted from 1, stitches from the right."""
        runs, first, last = self.runs, self.first_run, self.last_run
        letters = np.array(self.chart.letters, dtype=object)
        sides = np.array([self.how.side(r) for r in range(runs.rows)], dtype=object)
        widest, narrowest = np.zeros(self.count, dtype=int), np.full(self.count, runs.columns)
        np.maximum.at(widest, self.of_run, runs.stitches)
        np.minimum.at(narrowest, self.of_run, runs.stitches)
        return pd.DataFrame(
            {
                "strand": list(self.labels),
                "yarn": letters[self.yarn],
                "first_row": runs.row[first] + 1,
                "first_side": sides[runs.row[first]],
                "first_stitch": self.stitch_number(first),
                "last_row": runs.row[last] + 1,
                "runs": np.bincount(self.of_run, minlength=self.count),
                "stitches": self.per_strand(runs.stitches).astype(int),
                "narrowest_stitches": narrowest,
                "widest_stitches": widest,
                "carried_stitches": self.carried_per_strand().round(4),
                "middle_start": self.has_middle,
                "ends": 2,
            }
        )

    def __repr__(self):
        return (
            f"{counted(self.count, 'strand')}, {self.ends} ends, {self.middle_starts} begun from the middle, "
            f"{self.carried_stitches:g} stitches carried, at most {self.live.max()} at once"
        )


def allowed_links(
    runs: Runs,
    letters: tuple[str, ...],
    per_yarn: Sequence[tuple[int, int, int, bool]],
    *,
    knitted: Knitted | None = None,
    carries: Sequence[tuple[int, int]] = (),
    cuts: Sequence[tuple[int, int]] = (),
    no_middle: Sequence[int] = (),
) -> tuple[Links, Links, np.ndarray]:
    """The links that may be chosen under limits by yarn (see `trace_strands`), those that are knitted in, and by run the
    stitches that its yarn was woven along before it was left hanging."""
    knitted = knitted or Knitted(())
    hanging, done, open_ports = knitted.hold(runs, letters)
    possible = find_links(hanging, *zip(*per_yarn, strict=True))
    if len(carries):
        possible = add_carries(possible, hanging, carries)
    middle, pair = possible.kind == MIDDLE, possible.a * runs.count + possible.b
    cut, wanted = ([a * runs.count + b for a, b in pairs] for pairs in (cuts, carries))
    barred = np.where(middle, np.isin(possible.a, no_middle), np.isin(pair, cut))
    # A carry that is wanted has both of its ports to itself.
    wanted = np.isin(pair, wanted) & ~middle
    u, v = possible.ports
    taken = np.concatenate((u[wanted], v[wanted]))
    barred |= (np.isin(u, taken) | np.isin(v, taken)) & ~wanted
    worked_a, worked_b = (runs.row[end] < len(knitted.rows) for end in (possible.a, possible.b))
    barred |= worked_b | (worked_a & ~open_ports[middle.astype(int), possible.a])
    return possible[~barred], done, np.abs(runs.leave - hanging.leave)


def trace_strands(
    chart: Chart,
    how: Construction | None = None,
    gauge: Gauge | None = None,
    limits: CarryLimits | None = None,
    *,
    by_yarn: Mapping[str, CarryLimits] | None = None,
    knitted: Knitted | None = None,
    carries: Sequence[tuple[int, int]] = (),
    cuts: Sequence[tuple[int, int]] = (),
    no_middle: Sequence[int] = (),
    runs: Runs | None = None,
    say: Callable[[str], None] | None = None,
) -> Strands:
    """The strands with the fewest ends, then the fewest middle starts, then the least carried.

    `by_yarn` gives single yarns limits of their own, which replace the general ones whole. What is `knitted` stays as it is,
    and the yarns that hang from it may go on: the strands are the best that can follow. `carries` are pairs of runs that are
    joined whatever the limits say, `cuts` pairs that are not, `no_middle` runs that are not begun from their middle; they are
    numbered as in `runs`, which may be given where they are known, or to trace the runs of some yarns alone. `say` is
    told when a chart needs time.
    """
    how, gauge, limits = how or Construction(), gauge or Gauge(), limits or CarryLimits()
    by_yarn = dict(by_yarn or {})
    for letter in by_yarn:
        if letter not in chart.letters:
            on_chart = ", ".join(chart.letters)
            raise PlanError(
                f"Yarn {letter} has carry limits of its own but is not on the chart; its yarns are {on_chart}."
            )
    runs = find_runs(chart, how) if runs is None else runs
    per_yarn = [by_yarn.get(letter, limits).at(gauge) for letter in chart.letters]
    possible, done, woven = allowed_links(
        runs,
        chart.letters,
        per_yarn,
        knitted=knitted,
        carries=carries,
        cuts=cuts,
        no_middle=no_middle,
    )
    aspect = gauge.aspect
    carried = (
        possible.shift * aspect.denominator + possible.skipped * aspect.numerator
    )  # whole numbers, so exact
    place = np.stack((2 * runs.place, 2 * runs.place + 1), axis=1).ravel()
    chosen = cheapest_matching(
        *possible.ports, (possible.kind == MIDDLE).astype(int), carried, place=place, say=say
    )
    links = possible[chosen]
    # What was woven along before the yarn was left hanging counts as carried too.
    links = Links.joined(
        done, replace(links, shift=links.shift + woven[links.a] * (links.kind != MIDDLE))
    )

    part = _components(links.a, links.b, runs.count)
    part_start = np.unique(part, return_index=True)[1]  # first run of each part
    rank = np.empty(len(part_start), dtype=int)
    rank[np.argsort(part_start)] = np.arange(len(part_start))
    of_run = rank[part]

    # A strand begun from its middle falls into two halves where that link is cut.
    straight = links.kind != MIDDLE
    half_of = (
        part if straight.all() else _components(links.a[straight], links.b[straight], runs.count)
    )
    first_run = np.sort(part_start)
    half = (half_of != half_of[first_run][of_run]).astype(int)

    yarn, seen, labels = runs.yarn[first_run], [0] * len(chart.letters), []
    for y in yarn.tolist():
        seen[y] += 1
        labels.append(f"{chart.letters[y]}{seen[y]}")
    return Strands(
        chart, how, gauge, limits, by_yarn, runs, possible, links, of_run, half, tuple(labels)
    )
