"""A ceiling on what hangs at once: the fewest carries and embroidered stitches that keep to it.

An integer programme (see `programme`) says which links to take and which areas to embroider. The
choices that lead there are made, and the plan is traced anew. Where it takes a carry up that the
programme did without, that link is cut, until no row is above the ceiling. So what is offered is
the plan that the knitter gets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from planner.choices.asked import ask, trace_asked
from planner.choices.places import choice_at, choice_of_area, find_run, place_of
from planner.choices.pricing import Price, Pricing
from planner.choices.programme import Programme, Solution, links_of
from planner.errors import PlanError
from planner.piece import OwnChoice, Project
from planner.strands import ACROSS, MIDDLE, UP, Links, Strands
from planner.units import stretches


@dataclass(frozen=True, eq=False)
class Ceiling:
    """How a ceiling of `most` lengths at once can be kept.

    bound
        Any way takes at least so many carries and embroidered stitches together.
    too_many
        By worked row, from 1, how many are too many where it cannot be kept.
    first_row
        Rows before it are knitted already.
    choices
        What to choose; none if it cannot be kept, or if the plan keeps to it as it is.
    carries, stitches, cuts
        How many carries beyond the limits the choices make, how many stitches they embroider, and
        how many links they cut.
    price
        What the choices change; None if no way was found.
    """

    most: int
    bound: int
    too_many: Mapping[int, int]
    first_row: int = 1
    choices: tuple[OwnChoice, ...] = ()
    carries: int = 0
    stitches: int = 0
    cuts: int = 0
    price: Price | None = None

    @property
    def cost(self) -> int:
        """Carries and embroidered stitches together."""
        return self.carries + self.stitches

    @property
    def rows(self) -> pd.DataFrame:
        """One row a worked row in which it cannot be kept, and how many are too many."""
        rows = sorted(self.too_many.items())
        return pd.DataFrame(rows, columns=["row", "too_many"], dtype=int)

    def __str__(self):
        found = self._found()
        if self.first_row > 1:
            return f"In the rows still to be worked, from row {self.first_row} on: {found}"
        return found

    def _found(self) -> str:
        # From the worst to the best: proven impossible, not found, not needed, found.
        most = self.most
        if self.too_many:
            where = _too_many_in_words(self.too_many)
            return (
                f"Never more than {most} at once cannot be done within what may be carried "
                f"and embroidered: {where}."
            )
        if self.price is None:
            return f"No way was found to keep to {most} at once, nor proof that there is none."
        if not self.choices:
            return f"The plan keeps to {most} at once as it is."
        sure = "no way takes fewer"
        if self.cost > self.bound:
            sure = f"any way takes at least {self.bound} in all"
        return f"Never more than {most} at once by {self._ways_in_words()}: {sure}."

    def _ways_in_words(self) -> str:
        """What it takes: "1 extra carry, 3 embroidered stitches"."""
        ways = (
            (self.carries, "extra carry", "extra carries"),
            (self.stitches, "embroidered stitch", "embroidered stitches"),
            (self.cuts, "carry cut", "carries cut"),
        )
        words = []
        for count, singular, plural in ways:
            if count:
                noun = singular if count == 1 else plural
                words.append(f"{count} {noun}")
        return ", ".join(words)


def _too_many_in_words(too_many: Mapping[int, int]) -> str:
    """Rows with too many at once: "1 too many in row 3; 2 too many in rows 5–9"."""
    words = []
    for count in sorted(set(too_many.values())):
        rows = sorted(row for row, more in too_many.items() if more == count)
        noun = "row" if len(rows) == 1 else "rows"
        words.append(f"{count} too many in {noun} {', '.join(stretches(rows))}")
    return "; ".join(words)


def keep_under(project: Project, most: int) -> Ceiling:
    """How to keep to `most` at once in all rows still to be worked.

    It takes the fewest extra carries and embroidered stitches within the weighing's reach.
    """
    if most < 1:
        raise PlanError(f"At most {most} at once is too few: any row needs one.")
    pricing = Pricing(project)
    programme = Programme(pricing, most)
    # What is hoped for proves what cannot be done, and what any way costs at the least.
    at_best = programme.solve(programme.hoped, aims=2)
    no_way = Ceiling(
        most,
        bound=_proven_cost(at_best),
        too_many=_proven_too_many(at_best),
        first_row=programme.first + 1,
    )
    # What is sure can be done.
    way = programme.solve(programme.sure, aims=3)
    if way is None or not way.keeps:
        return no_way

    # The links within the limits are taken without being chosen.
    taken = programme.links[way.taken]
    extra = programme.links[way.taken & programme.extra]
    choices = []
    for place in np.flatnonzero(way.embroidered).tolist():
        area = programme.areas[place]
        choices.append(choice_of_area(project, pricing.asked.areas, area))
    for _, a, b in links_of(extra):
        choices.append(choice_at(pricing.strands, "carry", a, "yes", b))
    # The plan with these choices may still take links that are in the way.
    cutting = _Cutting(pricing, taken, most=most, first=programme.first)
    cuts = cutting.cuts_beside(choices)
    if cuts is None:
        return no_way
    choices += cuts
    return replace(
        no_way,
        choices=tuple(choices),
        carries=extra.count,
        stitches=int(programme.stitches @ way.embroidered),
        cuts=len(cuts),
        price=pricing.change(*choices),
    )


def _proven_cost(at_best: Solution | None) -> int:
    """Carries and stitches that any way takes: 0 where the search did not come to that aim."""
    if at_best is None or len(at_best.proven) < 2:
        return 0
    return at_best.proven[1]


def _proven_too_many(at_best: Solution | None) -> dict[int, int]:
    """By row, from 1, how many are too many; none unless it is proven that some are."""
    if at_best is None or at_best.proven[0] <= 0:
        return {}
    by_row = enumerate(at_best.too_many.tolist(), start=1)
    return {row: count for row, count in by_row if count}


class _Cutting:
    """Cuts links until a plan, traced anew, keeps to `most` in the rows from `first` on.

    `taken` are the links that the programme takes; they are never cut.
    """

    def __init__(
        self,
        pricing: Pricing,
        taken: Links,
        *,
        most: int,
        first: int,
    ):
        self.project = pricing.project
        self.before = pricing.strands
        self.taken = taken
        self.most = most
        self.first = first

    def cuts_beside(self, choices: Sequence[OwnChoice]) -> list[OwnChoice] | None:
        """The cuts that are needed beside these choices; None if cutting does not help."""
        # A plan has the fewest ends, so it takes every link that it can get. The programme leaves
        # some of them out, for a carry up hangs in the rows that it passes.
        cuts: list[OwnChoice] = []
        while True:
            every = (*self.project.choices, *choices, *cuts)
            project = replace(self.project, choices=every)
            traced = trace_asked(project, ask(project))
            too_many = traced.live > self.most
            # What is knitted already hangs as it does.
            too_many[: self.first] = False
            if not too_many.any():
                return cuts
            more = self._in_the_way(traced, np.flatnonzero(too_many))
            if not more:
                return None
            cuts += more

    def _in_the_way(self, traced: Strands, above: np.ndarray) -> list[OwnChoice]:
        """The cuts of links because of which these rows are above the ceiling.

        They are carries up that pass such a row, middle starts whose second half waits in it, and
        links at an edge that a carry across, taken by the programme, needs in such a row.
        """
        row = traced.runs.row
        stays = set()
        needed: set[int] = set()
        for kind, first, second in links_of(self.taken):
            a = self._run_now(traced, first)
            b = self._run_now(traced, second)
            # What is gone cannot be in the way, and needs no edge.
            if a is None or b is None:
                continue
            # Whether a link goes across, on or up follows from the runs that it joins.
            stays.add((kind == MIDDLE, a, b))
            if kind == ACROSS and row[a] in above:
                needed |= {2 * a + 1, 2 * b}
        cuts = []
        links = links_of(traced.links)
        ports = zip(*traced.links.ports, strict=True)
        for (kind, a, b), used in zip(links, ports, strict=True):
            middle = kind == MIDDLE
            # A length too many hangs in the rows between, not in those where it is worked; but a
            # second half hangs in the row in which its strand is begun, if that is not its own.
            hangs = (row[a] < above + middle) & (above < row[b])
            hangs_by_it = kind in (UP, MIDDLE) and hangs.any()
            in_the_way = hangs_by_it or not needed.isdisjoint(used)
            if not in_the_way or (middle, a, b) in stays:
                continue
            if middle:
                cuts.append(choice_at(traced, "middle", a, "no"))
            else:
                cuts.append(choice_at(traced, "carry", a, "no", b))
        return cuts

    def _run_now(self, traced: Strands, run: int) -> int | None:
        """A run by the number that it has once the choices are made, as its first stitch tells.

        None if it is gone. What is embroidered has no links, but beside an area that was
        embroidered before a run may be of both.
        """
        letters = traced.chart.letters
        place = place_of(self.before, run)
        return find_run(traced.runs, letters, *place)
