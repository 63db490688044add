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
from planner.choices.totals import ByHalf, Totals, totals_of
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
class _Change:
    """What some choices change.

    more
        How much more there is with them.
    embroidery
        All that is embroidered with them.
    near
        The runs now that they hang on: whatever is done to others, they change as much.
    """

    more: Totals
    embroidery: Embroidery
    near: np.ndarray


class Pricing:
    """What a project's plan comes to, `now` and with other choices or limits.

    `earlier` is the pricing of the project before a change, if there was one: what hangs on nothing
    that has changed is not priced again.
    """

    def __init__(self, project: Project, earlier: Pricing | None = None):
        self.project = project
        self.asked = ask(project)
        self.planned = Planned(multipliers_of(project), project.allow)
        self.knitted = knitted_of(project)
        self.runs = find_runs(self.asked.chart, project.how)
        self.strands = trace_asked(project, self.asked, runs=self.runs)
        self._by_half = ByHalf(self.strands, self.planned, project.units)
        self._all = self._by_half.totals(np.ones(self.runs.count, dtype=bool))
        embroidery = measure_embroidery(project, self.asked, self.planned)
        self._embroidered_now = self._embroidered(embroidery)
        self._all += self._embroidered_now
        self.now = self._price(self._all)
        # By choices, what they change, as far as it was asked.
        self._known: dict[tuple[OwnChoice, ...], _Change] = {}
        if earlier is not None and _differ_in_choices(earlier.project, project):
            self._known = earlier._still_known(self.asked, self.runs)

    def _still_known(self, asked: Asked, runs: Runs) -> dict[tuple[OwnChoice, ...], _Change]:
        """What is known of choices and holds where this is asked instead, by the runs then."""
        felt = self._neighbours.that_feel(asked, runs)
        # The numbers then of the runs that feel nothing.
        number = np.full(self.runs.count, -1)
        number[~felt.before] = np.flatnonzero(~felt.after)
        known = {}
        for choices, change in self._known.items():
            near = number[change.near]
            if (near >= 0).all():
                known[choices] = replace(change, near=near)
        return known

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

    def change(self, *choices: OwnChoice) -> Price:
        """What these choices change."""
        price, _ = self.change_and_embroidery(*choices)
        return price

    def change_and_embroidery(self, *choices: OwnChoice) -> tuple[Price, Embroidery]:
        """What these choices change, and the areas that are embroidered with them."""
        if choices not in self._known:
            self._known[choices] = self._changed_by(choices)
        change = self._known[choices]
        return self._price(self._all + change.more) - self.now, change.embroidery

    def _changed_by(self, choices: Sequence[OwnChoice]) -> _Change:
        every = (*self.project.choices, *choices)
        project = replace(self.project, choices=every)
        asked = ask(project, areas=self.asked.areas)
        runs = self.runs
        # Beneath an embroidery the runs are others, of the yarn itself and of its ground.
        if asked.chart is not self.asked.chart:
            runs = find_runs(asked.chart, project.how)
        felt = self._neighbours.that_feel(asked, runs)
        if self._is_one_whole:
            felt = felt.by_all()
        embroidery = measure_embroidery(project, asked, self.planned)
        more = self._more(project, asked, runs, before=felt.before, after=felt.after)
        more += self._embroidered(embroidery) - self._embroidered_now
        return _Change(more, embroidery, np.flatnonzero(felt.near))

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
        touched = np.isin(self.runs.yarn, yarns) | self._is_one_whole
        more = self._more(project, self.asked, self.runs, before=touched, after=touched)
        return self._price(self._all + more)

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

    def _more(
        self,
        project: Project,
        asked: Asked,
        runs: Runs,
        *,
        before: np.ndarray,
        after: np.ndarray,
    ) -> Totals:
        """How much more there is where instead of the runs `before` there are those `after`."""
        less = self._by_half.totals(before)
        # It may be that nothing is left to knit of the yarns that are touched.
        if not after.any():
            return Totals.none(runs.rows) - less
        strands = _trace(project, asked, runs, after)
        return totals_of(strands, self.planned, project.units) - less

    def _embroidered(self, embroidery: Embroidery) -> Totals:
        """What the areas embroidered come to."""
        units = self.project.units
        lengths = [rounded_up(each, units) for each in embroidery.length_cm.tolist()]
        return replace(
            Totals.none(self.runs.rows),
            embroidered=int(embroidery.stitches.sum()),
            more_ends=embroidery.ends,
            yarn_cm=sum(lengths),
        )

    def _price(self, totals: Totals) -> Price:
        return Price(
            strands=totals.strands,
            ends=2 * totals.strands + totals.more_ends,
            live=int(totals.live.max()),
            rows_above=self._rows_above(totals.live),
            middle_starts=totals.middle_starts,
            embroidered=totals.embroidered,
            carried=totals.carried,
            yarn_cm=totals.yarn_cm,
        )


def _differ_in_choices(project: Project, other: Project) -> bool:
    """Whether two projects ask for the same but for the knitter's choices."""
    return replace(project, choices=()) == replace(other, choices=())


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
