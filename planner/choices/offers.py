"""Offers: choices that the tool has found, each with its price, worked out by tracing anew what it changes.

Strands of different yarns never share a link, so only the yarns concerned are traced again; the price is exactly the
difference between the plan with the choice and the plan without (without refills, which depend on how strands are held).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
import pandas as pd

from planner.choices.asked import REFUSED, Asked, ask, choice_at, choice_of_area, trace_asked
from planner.choices.embroidery import Embroidery
from planner.multiplier import multipliers_of
from planner.piece import CarryLimits, OwnChoice, Project
from planner.strands import MIDDLE, Links, Strands, allowed_links, find_runs, knitted_of
from planner.supplies import Planned, run_widths
from planner.units import counted, shown


@dataclass(frozen=True)
class Price:
    """Totals of a plan, or the difference between two: strands, ends (of strands and embroidered areas), most strands at
    once, rows with more than `most_live`, middle starts, stitches embroidered, carried length in stitches, and yarn in cm."""

    strands: int
    ends: int
    live: int
    rows_above: int
    middle_starts: int
    embroidered: int
    carried: float
    yarn_cm: float

    def __sub__(self, other: Price) -> Price:
        return Price(
            *(round(getattr(self, f.name) - getattr(other, f.name), 6) for f in fields(self))
        )

    @property
    def rank(self) -> tuple:
        """Best first: fewest ends, strands, at once, rows above, stitches to embroider, least carried, least yarn."""
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
        return min(self.ends, self.strands, self.live, self.rows_above) < 0


@dataclass(frozen=True)
class Offer:
    """Choices that may be made together: `about` is embroider, carry or middle, `what` says them in words, `price` is what
    changes. `choices` accept the offer."""

    about: str
    what: str
    choices: tuple[OwnChoice, ...]
    price: Price

    @property
    def refusal(self) -> tuple[OwnChoice, ...]:
        """The choices that refuse it."""
        return tuple(replace(choice, choice=REFUSED) for choice in self.choices)


class Pricing:
    """What a project's plan comes to with other choices; yarns that a choice does not touch are not traced again."""

    def __init__(self, project: Project):
        self.project, self.asked = project, ask(project)
        self.planned = Planned(multipliers_of(project), project.allow)
        self.knitted = knitted_of(project)
        # What is knitted, and stitches outside the chart, are known of the whole only.
        whole = self.knitted is not None or project.how.selvedge > 0
        yarns = range(len(project.chart.letters))
        self.groups = [list(yarns)] if whole else [[y] for y in yarns]
        self.runs = find_runs(self.asked.chart, project.how)
        self.base = [self._trace(project, self.asked, self.runs, group) for group in self.groups]
        self.now = self._price(self.asked, self.base)

    @cached_property
    def strands(self) -> Strands:
        """The strands as they are now, all yarns."""
        return self._trace(
            self.project, self.asked, self.runs, list(range(len(self.project.chart.letters)))
        )[0]

    def with_choices(self, *choices: OwnChoice) -> Price:
        """The plan's totals with these choices made as well."""
        project = replace(self.project, choices=(*self.project.choices, *choices))
        asked = ask(project, areas=self.asked.areas)
        changed = asked.chart.cells != self.asked.chart.cells
        touched = {*asked.chart.cells[changed].tolist(), *self.asked.chart.cells[changed].tolist()}
        touched |= {self.project.chart.letters.index(choice.yarn) for choice in choices}
        runs = find_runs(asked.chart, self.project.how) if changed.any() else self.runs
        return self._price(asked, self._again(touched, self.project, asked, runs))

    def with_limits(self, limits: CarryLimits, yarn: str | None = None) -> Price:
        """The plan's totals under other limits, general ones or those of one yarn; what is knitted beneath stays."""
        project, letters = self.project, self.project.chart.letters
        if yarn is None:
            touched = {y for y, letter in enumerate(letters) if letter not in project.by_yarn}
            project = replace(project, limits=limits)
        else:
            touched = {letters.index(yarn)}
            project = replace(project, by_yarn={**project.by_yarn, yarn: limits})
        return self._price(self.asked, self._again(touched, project, self.asked, self.runs))

    def change(self, *choices: OwnChoice) -> Price:
        """What these choices change."""
        return self.with_choices(*choices) - self.now

    def change_of_carry(self, a: int, b: int, carried: float) -> Price:
        """What one more carry changes that joins the last run of a strand to the first run of another.

        The best links and this one are the best with it: none has more links, and none with as many is cheaper, since
        without this one it would be cheaper than the best.
        """
        strands, allow, runs = self.strands, self.project.allow, self.strands.runs
        one, other = strands.of_run[a], strands.of_run[b]
        first, last = runs.row[strands.first_run], runs.row[strands.last_run]
        live = strands.live.copy()
        for strand in (one, other):
            live[first[strand] : last[strand] + 1] -= 1
        live[min(first[one], first[other]) : max(last[one], last[other]) + 1] += 1
        width = [self._widths[2 * strands.of_run[run] + strands.half[run]] for run in (a, b)]
        joined, apart = (
            self.planned.cm(strands.chart.letters[runs.yarn[a]], x) for x in ([sum(width)], width)
        )
        yarn = (
            joined.sum() - apart.sum() + carried * self.project.gauge.stitch_cm - 2 * allow.tail_cm
        )
        most = self.project.weighing.most_live
        above = int((live > most).sum()) - self.now.rows_above
        return Price(
            -1, -2, int(live.max()) - self.now.live, above, 0, 0, round(carried, 6), round(yarn, 6)
        )

    def expect_carries(self, links: Links):
        """Work out the lengths of strands that such links would join, all at once, which is far faster than one by one."""
        both = sum(
            self._widths[2 * self.strands.of_run[end] + self.strands.half[end]]
            for end in (links.a, links.b)
        )
        for y, letter in enumerate(self.strands.chart.letters):
            self.planned.cm(letter, both[self.runs.yarn[links.a] == y])

    @cached_property
    def _widths(self) -> np.ndarray:
        return np.bincount(
            self.strands.of_run * 2 + self.strands.half, weights=run_widths(self.strands)
        )

    def _again(self, touched: set[int], project: Project, asked: Asked, runs) -> list:
        pairs = zip(self.groups, self.base, strict=True)
        return [
            self._trace(project, asked, runs, group) if touched & set(group) else old
            for group, old in pairs
        ]

    def _trace(self, project: Project, asked: Asked, runs, yarns) -> tuple[Strands, float] | None:
        """The strands of some yarns and their wound length; None if none of them is knitted."""
        mine = np.isin(runs.yarn, yarns)
        if not mine.any():
            return None
        number = np.cumsum(mine) - 1
        carries, cuts = (
            tuple((number[a], number[b]) for a, b in some if mine[a])
            for some in (asked.carries, asked.cuts)
        )
        no_middle = tuple(number[run] for run in asked.no_middle if mine[run])
        part = replace(asked, carries=carries, cuts=cuts, no_middle=no_middle)
        strands = trace_asked(project, part, runs=runs.only(mine))
        return strands, self.planned.wound_cm(strands)

    def _price(self, asked: Asked, traced) -> Price:
        traced = [pair for pair in traced if pair is not None]
        drawn, how, gauge = self.project.chart, self.project.how, self.project.gauge
        embroidery = Embroidery.between(
            drawn, asked.chart, asked.areas, how, gauge, self.planned, self.project.allow
        )
        live, strands = sum(s.live for s, _ in traced), sum(s.count for s, _ in traced)
        return Price(
            strands=strands,
            ends=2 * strands + embroidery.ends,
            live=int(live.max()),
            rows_above=int((live > self.project.weighing.most_live).sum()),
            middle_starts=sum(s.middle_starts for s, _ in traced),
            embroidered=int(embroidery.stitches.sum()),
            carried=sum(s.carried_stitches for s, _ in traced),
            yarn_cm=sum(wound for _, wound in traced) + float(embroidery.length_cm.sum()),
        )


def find_offers(project: Project) -> list[Offer]:
    """All offers that gain something, and the middle starts that can be given up, best first; not those refused.

    Areas that look alike are offered together as well as singly.
    """
    pricing = Pricing(project)
    offers = [*_embroidery(pricing), *_carries(pricing), *_middle_starts(pricing)]
    return sorted(offers, key=lambda offer: (offer.price.rank, offer.what))


def small_areas(project: Project, asked: Asked) -> list[int]:
    """The areas of the chart as drawn that are small or narrow enough to embroider, not yet knitted, embroidered or refused."""
    areas, weighing, how = asked.areas, project.weighing, project.how
    knitted = knitted_of(project)
    rows, columns = np.nonzero(areas)
    number, count = areas[rows, columns], int(areas.max()) + 1
    stitches = np.bincount(number, minlength=count)
    in_row = np.zeros(count, dtype=int)
    pairs, width = np.unique(number * areas.shape[0] + rows, return_counts=True)
    np.maximum.at(in_row, pairs // areas.shape[0], width)
    good = (stitches <= weighing.embroider_stitches) | (in_row <= weighing.embroider_wide)
    if knitted is not None:
        good[np.unique(areas[: -(-len(knitted.rows) // how.rows_per_chart_row)])] = False
    good[[0, *asked.on, *asked.refused["embroider"]]] = False
    return np.flatnonzero(good & (stitches > 0)).tolist()


def _embroidery(pricing: Pricing) -> list[Offer]:
    project, asked, chart = pricing.project, pricing.asked, pricing.project.chart
    offers, alike = [], defaultdict(list)
    for area in small_areas(project, asked):
        mine = asked.areas == area
        rows, columns = np.nonzero(mine)
        if len(rows) == (chart.cells >= 0).sum() - (pricing.asked.chart.cells != chart.cells).sum():
            continue  # nothing would be left to knit
        choice = choice_of_area(project, asked.areas, area)
        change = pricing.change(choice)
        stitches, in_row = len(rows) * project.how.rows_per_chart_row, np.bincount(rows - rows[0])
        noun = "line" if in_row.max() == 1 or len(in_row) == 1 else "patch"
        size = "a single stitch" if stitches == 1 else f"a {noun} of {counted(stitches, 'stitch')}"
        shape = (
            choice.yarn,
            tuple((rows - rows[0]).tolist()),
            tuple((columns - columns.min()).tolist()),
        )
        alike[shape].append((choice, size))
        if change.gains:
            where = f"from {project.how.row_name(choice.row - 1)}, stitch {choice.stitch}"
            offers.append(
                Offer("embroider", f"embroider {size} in {choice.yarn}, {where}", (choice,), change)
            )
    for (yarn, *_), group in alike.items():
        choices = tuple(choice for choice, _ in group)
        change = pricing.change(*choices) if len(group) > 1 else None
        if change and change.gains:
            offers.append(
                Offer(
                    "embroider",
                    f"embroider {len(group)} × {group[0][1]} in {yarn}",
                    choices,
                    change,
                )
            )
    return offers


def reach(project: Project, limits: CarryLimits) -> tuple[int, int, int, bool]:
    """How far carries are looked for: the limits, or the weighing's reach where that is farther."""
    across, sideways, up, middle = limits.at(project.gauge)
    far = project.weighing
    return (
        max(across, far.carry_stitches),
        max(sideways, far.carry_stitches),
        max(up, far.carry_rows),
        middle,
    )


def _carries(pricing: Pricing) -> list[Offer]:
    """Carries beyond the limits that join two strands; of those from or to one run, the shortest."""
    project, strands, asked = pricing.project, pricing.strands, pricing.asked
    runs, letters = strands.runs, strands.chart.letters
    farther = [reach(project, project.by_yarn.get(letter, project.limits)) for letter in letters]
    links, _, _ = allowed_links(
        runs, letters, farther, knitted=pricing.knitted, cuts=[*asked.cuts, *asked.refused["carry"]]
    )
    links = links[links.kind != MIDDLE]
    u, v = links.ports
    taken = np.concatenate(strands.links.ports)
    free = (
        ~np.isin(u, taken)
        & ~np.isin(v, taken)
        & (strands.of_run[links.a] != strands.of_run[links.b])
    )
    links, u, v = links[free], u[free], v[free]
    length = links.shift + links.skipped * float(project.gauge.aspect)
    order = np.lexsort((v, u, length))
    nearest = np.zeros(links.count, dtype=bool)
    for port in (u, v):
        nearest[order[np.unique(port[order], return_index=True)[1]]] = True
    pricing.expect_carries(links[nearest])
    offers = []
    for i in np.flatnonzero(nearest):
        a, b, shift, skipped = (
            int(links.a[i]),
            int(links.b[i]),
            int(links.shift[i]),
            int(links.skipped[i]),
        )
        choice = choice_at(strands, "carry", a, "yes", b)
        far = [counted(n, noun) for n, noun in ((shift, "stitch"), (skipped, "row")) if n]
        label = [strands.labels[strands.of_run[run]] for run in (a, b)]
        where = f"{strands.how.row_name(runs.row[a])} to {strands.how.row_name(runs.row[b])}"
        what = f"carry {label[0]} on to {label[1]} over {' and '.join(far)}, {where}"
        offers.append(
            Offer("carry", what, (choice,), pricing.change_of_carry(a, b, float(length[i])))
        )
    return offers


def _middle_starts(pricing: Pricing) -> list[Offer]:
    strands, offers = pricing.strands, []
    for run in strands.links.a[strands.links.kind == MIDDLE].tolist():
        if run in pricing.asked.refused["middle"] or (
            pricing.knitted and strands.runs.row[run] < len(pricing.knitted.rows)
        ):
            continue
        label, choice = strands.labels[strands.of_run[run]], choice_at(strands, "middle", run, "no")
        what = f"begin {label} plainly, not from its middle, in {strands.how.row_name(strands.runs.row[run])}"
        offers.append(Offer("middle", what, (choice,), pricing.change(choice)))
    return offers


def offer_table(offers: list[Offer], units: str) -> pd.DataFrame:
    """One row an offer, best first: what it is, and what changes (yarn in m or yd)."""
    rows = [
        {"about": o.about, "what": o.what}
        | {f.name: getattr(o.price, f.name) for f in fields(Price)}
        for o in offers
    ]
    return shown(
        pd.DataFrame(rows, columns=["about", "what", *(f.name for f in fields(Price))]), units
    )


def rows_above(strands: Strands, most_live: int) -> pd.DataFrame:
    """The stretches of worked rows with more than so many strands live: first and last row, most live and how many too many."""
    above = np.flatnonzero(strands.live > most_live)
    stretches = np.split(above, np.flatnonzero(np.diff(above) != 1) + 1) if len(above) else []
    rows = [
        (s[0] + 1, s[-1] + 1, strands.live[s].max(), strands.live[s].max() - most_live)
        for s in stretches
    ]
    return pd.DataFrame(rows, columns=["first_row", "last_row", "live", "too_many"])
