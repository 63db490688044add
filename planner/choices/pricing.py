"""Prices: what a project's plan comes to, and what it would come to with other choices or limits.

A choice is felt by few runs (see `neighbours`). Only these are traced anew, and the totals are
exactly those of the whole plan: yarn as it is measured off, piece by piece rounded up. Refills are
left out, for they depend on how the strands are held.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from planner.choices.asked import Asked, Pair, ask, trace_asked
from planner.choices.embroidery import Embroidery, measure_embroidery
from planner.choices.neighbours import Neighbours
from planner.multiplier import multipliers_of
from planner.piece import CarryLimits, OwnChoice, Project
from planner.strands import Links, Runs, Strands, find_runs, knitted_of
from planner.supplies import Planned
from planner.units import rounded_up

EXACT_TO = 6  # decimals: what differs by less is rounding


@dataclass(frozen=True)
class Price:
    """Totals of a plan, or the difference between two.

    Strands; ends, of strands and embroidered areas; most lengths at once; rows with more than
    `most_live`; middle starts; stitches embroidered; carried length in stitches; yarn to measure
    off in cm.
    """

    strands: int
    ends: int
    live: int
    rows_above: int
    middle_starts: int
    embroidered: int
    carried: float
    yarn_cm: float

    def __sub__(self, other: Price) -> Price:
        differences = []
        for field in fields(self):
            total = getattr(self, field.name)
            difference = total - getattr(other, field.name)
            differences.append(round(difference, EXACT_TO))
        return Price(*differences)

    @property
    def rank(self) -> tuple[float, ...]:
        """Best first, by ends, strands, at once, rows above, embroidered, carried, and yarn."""
        return (
            self.ends,
            self.strands,
            self.live,
            self.rows_above,
            self.embroidered,
            self.carried,
            self.yarn_cm,
        )

    @property
    def gains(self) -> bool:
        """Whether there is anything to be had for it."""
        least = min(
            self.ends,
            self.strands,
            self.live,
            self.rows_above,
        )
        return least < 0


@dataclass(frozen=True, eq=False)
class _Totals:
    """What some strands come to: `live` by worked row, `wound_cm` the yarn measured off for them.

    Or how much more others come to.
    """

    strands: int
    middle_starts: int
    carried: float
    wound_cm: float
    live: np.ndarray

    def __add__(self, more: _Totals) -> _Totals:
        return _Totals(**{name: own + vars(more)[name] for name, own in vars(self).items()})

    def __sub__(self, less: _Totals) -> _Totals:
        return _Totals(**{name: own - vars(less)[name] for name, own in vars(self).items()})


class Pricing:
    """What a project's plan comes to, `now` and with other choices or limits."""

    def __init__(self, project: Project):
        self.project = project
        self.asked = ask(project)
        self.planned = Planned(multipliers_of(project), project.allow)
        self.knitted = knitted_of(project)
        self.runs = find_runs(self.asked.chart, project.how)
        self.strands = trace_asked(project, self.asked, runs=self.runs)
        self.embroidery = measure_embroidery(project, self.asked, self.planned)
        self._by_half = _ByHalf(self.strands, self.planned, project.units)
        self._all = self._by_half.totals(np.ones(self.runs.count, dtype=bool))
        self.now = self._price(self.embroidery, self._all)

    @cached_property
    def _neighbours(self) -> Neighbours:
        return Neighbours(self.project, self.asked, self.strands)

    @property
    def _is_one_whole(self) -> bool:
        """Whether parts of the piece cannot be traced alone."""
        # What is knitted, stitches outside the chart and the yarn-overs of turned rounds are known
        # of the whole only.
        how = self.project.how
        return bool(self.knitted is not None or how.selvedge or how.closes_join)

    def with_choices(self, *choices: OwnChoice) -> Price:
        """The plan's totals with these choices made as well."""
        price, _ = self._with_choices(choices)
        return price

    def _with_choices(self, choices: Sequence[OwnChoice]) -> tuple[Price, Embroidery]:
        """The plan's totals with these choices made as well, and all that is embroidered then."""
        every = (*self.project.choices, *choices)
        project = replace(self.project, choices=every)
        asked = ask(project, areas=self.asked.areas)
        runs = self.runs
        # Beneath an embroidery the runs are others, of the yarn itself and of its ground.
        if asked.chart is not self.asked.chart:
            runs = find_runs(asked.chart, project.how)
        before, after = self._neighbours.that_feel(asked, runs)
        totals = self._again(project, asked, runs, before=before, after=after)
        embroidery = measure_embroidery(project, asked, self.planned)
        return self._price(embroidery, totals), embroidery

    def with_limits(self, limits: CarryLimits, yarn: str | None = None) -> Price:
        """The plan's totals under other limits, general ones or those of one yarn.

        What is knitted beneath an embroidery stays.
        """
        # A yarn with limits of its own does not follow the general ones.
        project = self.project
        letters = project.chart.letters
        if yarn is None:
            changed = [letter for letter in letters if letter not in project.by_yarn]
            project = replace(project, limits=limits)
        else:
            changed = [yarn]
            by_yarn = {**project.by_yarn, yarn: limits}
            project = replace(project, by_yarn=by_yarn)
        # Strands of different yarns never share a link.
        yarns = [letters.index(letter) for letter in changed]
        touched = np.isin(self.runs.yarn, yarns)
        totals = self._again(project, self.asked, self.runs, before=touched, after=touched)
        return self._price(self.embroidery, totals)

    def change(self, *choices: OwnChoice) -> Price:
        """What these choices change."""
        return self.with_choices(*choices) - self.now

    def change_and_embroidery(self, *choices: OwnChoice) -> tuple[Price, Embroidery]:
        """What these choices change, and all that is embroidered with them."""
        price, embroidery = self._with_choices(choices)
        return price - self.now, embroidery

    def changes_by_carries(self, carries: Links, length: np.ndarray) -> list[Price]:
        """What each of these carries changes if it is made alone.

        Each goes from an edge where a strand ends to the edge where another one begins; `length` is
        that of each, in stitches. Nothing is traced anew: the best plan with such a carry is the
        plan now and the carry.
        """
        # Why that is so. The links of the plan now can all stay, for the carry takes no edge of
        # theirs; so with the carry there is one link more.
        # No plan with the carry has more links: without it, it would have more than the plan now,
        # which has the most that there can be.
        # And none with as many links is cheaper: without the carry, it would be cheaper than the
        # plan now, which is the cheapest of those with so many.
        now = self.now
        yarn_cm = self._yarn_of_carries(carries, length)
        columns = (
            carries.a.tolist(),
            carries.b.tolist(),
            length.tolist(),
            yarn_cm.tolist(),
        )
        prices = []
        for first, second, carried, of_carry_cm in zip(*columns, strict=True):
            live = self._live_if_joined(first, second)
            price = Price(
                strands=-1,
                ends=-2,
                live=int(live.max()) - now.live,
                rows_above=self._rows_above(live) - now.rows_above,
                middle_starts=0,
                embroidered=0,
                carried=round(carried, EXACT_TO),
                yarn_cm=round(of_carry_cm, EXACT_TO),
            )
            prices.append(price)
        return prices

    def _rows_above(self, live: np.ndarray) -> int:
        """In how many rows more hangs than is never to be exceeded."""
        above = live > self.project.weighing.most_live
        return int(above.sum())

    def _live_if_joined(self, first_run: int, second_run: int) -> np.ndarray:
        """What hangs in each row if a length that ends with one run went on with another.

        The other run is the first of its strand, which is a whole one: both runs with which a
        strand is begun from its middle have their yarn from there.
        """
        row, of_run = self.strands.runs.row, self.strands.of_run
        last_row = int(row[self.strands.last_run[of_run[second_run]]])
        live = self.strands.live.copy()
        live[row[second_run] : last_row + 1] -= 1
        live[row[first_run] + 1 : last_row + 1] += 1
        return live

    def _yarn_of_carries(self, carries: Links, length: np.ndarray) -> np.ndarray:
        """The yarn that each carry costs, cm; below 0 where it saves more in tails and margin."""
        strands, planned, units = self.strands, self.planned, self.project.units
        # The two halves of a strand begun from its middle are planned apart.
        width_cm, fixed_cm = planned.by_half(strands)
        half = 2 * strands.of_run + strands.half
        a, b = half[carries.a], half[carries.b]
        # Joined they have the carry, and two tails less.
        carried_cm = length * self.project.gauge.stitch_cm
        tails_cm = 2 * self.project.allow.tail_cm
        fixed_joined_cm = fixed_cm[a] + fixed_cm[b] + carried_cm - tails_cm

        # One length needs less margin than two, so the yarn in the stitches changes too.
        yarn_cm = np.zeros(carries.count)
        yarn = strands.runs.yarn[carries.a]
        # All carries of a yarn at once, which is far faster than one by one.
        for y, letter in enumerate(strands.chart.letters):
            of_yarn = yarn == y
            first, second = a[of_yarn], b[of_yarn]
            both_cm = width_cm[first] + width_cm[second]
            joined = planned.measured_cm(letter, both_cm, fixed_joined_cm[of_yarn], units)
            apart = [
                planned.measured_cm(letter, width_cm[each], fixed_cm[each], units)
                for each in (first, second)
            ]
            yarn_cm[of_yarn] = joined - apart[0] - apart[1]
        return yarn_cm

    def _again(
        self,
        project: Project,
        asked: Asked,
        runs: Runs,
        *,
        before: np.ndarray,
        after: np.ndarray,
    ) -> _Totals:
        """The totals where of the runs now those `before` are not there, but those `after`."""
        if self._is_one_whole:
            before, after = np.ones_like(before), np.ones_like(after)
        rest = self._all - self._by_half.totals(before)
        # It may be that no yarn that is touched is left to knit.
        if not after.any():
            return rest
        strands = _trace(project, asked, runs, after)
        wound_cm = self.planned.measured_by_half(strands, project.units).sum()
        traced = _Totals(
            strands=strands.count,
            middle_starts=strands.middle_starts,
            carried=strands.carried_stitches,
            wound_cm=float(wound_cm),
            live=strands.live,
        )
        return rest + traced

    def _price(self, embroidery: Embroidery, totals: _Totals) -> Price:
        units = self.project.units
        embroidered_cm = sum(rounded_up(each, units) for each in embroidery.length_cm.tolist())
        return Price(
            strands=totals.strands,
            ends=2 * totals.strands + embroidery.ends,
            live=int(totals.live.max()),
            rows_above=self._rows_above(totals.live),
            middle_starts=totals.middle_starts,
            embroidered=int(embroidery.stitches.sum()),
            carried=totals.carried,
            yarn_cm=totals.wound_cm + embroidered_cm,
        )


class _ByHalf:
    """The strands of a plan, two halves each, so that the totals of some of them are read off.

    A strand that is not begun from its middle has its all in the first.
    """

    def __init__(self, strands: Strands, planned: Planned, units: str):
        self.strands = strands
        row = strands.runs.row
        half = 2 * strands.of_run + strands.half
        count = 2 * strands.count
        self.is_there = np.bincount(half, minlength=count) > 0
        self.begins = np.repeat(row[strands.first_run], 2)
        self.last_row = np.zeros(count, dtype=int)
        np.maximum.at(self.last_row, half, row)
        self.measured_cm = planned.measured_by_half(strands, units)

    def totals(self, chosen: np.ndarray) -> _Totals:
        """What the strands of the runs chosen come to; all runs of each are among them."""
        strands = self.strands
        is_chosen = np.zeros(strands.count, dtype=bool)
        is_chosen[strands.of_run[chosen]] = True
        halves = self.is_there & np.repeat(is_chosen, 2)
        # In its last row a length still hangs.
        rows = strands.runs.rows
        begun = np.bincount(self.begins[halves], minlength=rows + 1)
        ended = np.bincount(self.last_row[halves] + 1, minlength=rows + 1)
        links = chosen[strands.links.a]
        return _Totals(
            strands=int(is_chosen.sum()),
            middle_starts=int((strands.links.is_middle & links).sum()),
            carried=float(strands.carried[links].sum()),
            wound_cm=float(self.measured_cm[halves].sum()),
            live=np.cumsum(begun - ended)[:rows],
        )


def _trace(project: Project, asked: Asked, runs: Runs, chosen: np.ndarray) -> Strands:
    """The strands of some runs alone, as asked."""
    # What is asked of these runs, by the numbers that they have among themselves. Both runs of a
    # carry are among them, or neither.
    number = np.cumsum(chosen) - 1

    def renumbered(pairs: Sequence[Pair]) -> tuple[Pair, ...]:
        of_chosen = [pair for pair in pairs if chosen[pair[0]]]
        return tuple((number[a], number[b]) for a, b in of_chosen)

    no_middle = [run for run in asked.no_middle if chosen[run]]
    part = replace(
        asked,
        carries=renumbered(asked.carries),
        cuts=renumbered(asked.cuts),
        no_middle=tuple(number[no_middle]),
    )
    return trace_asked(project, part, runs=runs.only(chosen))
