"""Prices: what a project's plan comes to, and what it would come to with other choices or limits.

A choice changes few yarns, and strands of different yarns never share a link. So the strands of
each yarn are the best on their own, whatever the others do. Only the yarns that a choice touches
are traced anew, and the totals are exactly those of the whole plan: yarn as it is measured off,
piece by piece rounded up. Refills are left out, for they depend on how the strands are held.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from planner.choices.asked import Asked, Pair, ask, trace_asked
from planner.choices.embroidery import Embroidery, measure_embroidery
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
class _Traced:
    """The strands of some yarns, and the yarn that is measured off for them."""

    strands: Strands
    wound_cm: float


class Pricing:
    """What a project's plan comes to, `now` and with other choices or limits."""

    def __init__(self, project: Project):
        self.project = project
        self.asked = ask(project)
        self.planned = Planned(multipliers_of(project), project.allow)
        self.knitted = knitted_of(project)
        self.runs = find_runs(self.asked.chart, project.how)

        # Each yarn is a group of its own. But what is knitted, stitches outside the chart and the
        # yarn-overs of turned rounds are known of the whole only.
        yarns = range(len(project.chart.letters))
        self._groups = [{yarn} for yarn in yarns]
        outside_chart = project.how.selvedge or project.how.closes_join
        if self.knitted is not None or outside_chart:
            self._groups = [set(yarns)]
        self._base: list[_Traced | None] = []
        for group in self._groups:
            traced = self._trace(project, self.asked, self.runs, group)
            self._base.append(traced)
        self.embroidery = measure_embroidery(project, self.asked, self.planned)
        self.now = self._price(self.embroidery, self._base)

    @cached_property
    def strands(self) -> Strands:
        """The strands as they are now, all yarns."""
        return trace_asked(self.project, self.asked, runs=self.runs)

    def with_choices(self, *choices: OwnChoice) -> Price:
        """The plan's totals with these choices made as well."""
        price, _ = self._with_choices(choices)
        return price

    def _with_choices(self, choices: Sequence[OwnChoice]) -> tuple[Price, Embroidery]:
        """The plan's totals with these choices made as well, and all that is embroidered then."""
        every = (*self.project.choices, *choices)
        project = replace(self.project, choices=every)
        asked = ask(project, areas=self.asked.areas)
        letters = project.chart.letters
        touched = {letters.index(choice.yarn) for choice in choices}
        runs = self.runs
        before = self.asked.chart.cells
        after = asked.chart.cells
        changed = before != after
        # Beneath an embroidery the runs are others, of the yarn itself and of its ground.
        if changed.any():
            runs = find_runs(asked.chart, project.how)
            touched.update(before[changed].tolist())
            touched.update(after[changed].tolist())
        traced = self._again(touched, project, asked, runs)
        embroidery = measure_embroidery(project, asked, self.planned)
        return self._price(embroidery, traced), embroidery

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
        touched = {letters.index(letter) for letter in changed}
        traced = self._again(touched, project, self.asked, self.runs)
        return self._price(self.embroidery, traced)

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
        touched: Collection[int],
        project: Project,
        asked: Asked,
        runs: Runs,
    ) -> list[_Traced | None]:
        """The base, traced anew where a yarn is touched."""
        traced = []
        for group, part in zip(self._groups, self._base, strict=True):
            if not group.isdisjoint(touched):
                part = self._trace(project, asked, runs, group)
            traced.append(part)
        return traced

    def _trace(
        self,
        project: Project,
        asked: Asked,
        runs: Runs,
        yarns: Iterable[int],
    ) -> _Traced | None:
        """The strands of some yarns; None if none of them is knitted."""
        chosen = np.isin(runs.yarn, list(yarns))
        if not chosen.any():
            return None
        # What is asked of these runs, by the numbers that they have among themselves. Both runs of
        # a carry are of one yarn.
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
        strands = trace_asked(project, part, runs=runs.only(chosen))
        return _Traced(strands, self.planned.wound_cm(strands, project.units))

    def _price(self, embroidery: Embroidery, traced: Sequence[_Traced | None]) -> Price:
        """The totals of a plan whose yarns are traced in parts."""
        units = self.project.units
        wound_cm = sum(part.wound_cm for part in traced if part)
        embroidered_cm = sum(rounded_up(each, units) for each in embroidery.length_cm.tolist())
        parts = [part.strands for part in traced if part]
        strands = sum(part.count for part in parts)
        live = np.sum([part.live for part in parts], axis=0)
        return Price(
            strands=strands,
            ends=2 * strands + embroidery.ends,
            live=int(live.max()),
            rows_above=self._rows_above(live),
            middle_starts=sum(part.middle_starts for part in parts),
            embroidered=int(embroidery.stitches.sum()),
            carried=sum(part.carried_stitches for part in parts),
            yarn_cm=wound_cm + embroidered_cm,
        )
