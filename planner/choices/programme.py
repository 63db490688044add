"""The integer programme that keeps every row under a ceiling on what hangs at once.

What hangs in a row is its runs, less the carries across in it, plus the carries up that pass it.
Both halves of a strand begun from its middle hang. So the unknowns are: which links are taken (0
or 1), which areas are embroidered (0 or 1), and how many strands too many hang in each row.

There are three aims, each without giving up what the one before has reached: the fewest strands too
many; the fewest extra carries and embroidered stitches, a carry counted as one stitch; the fewest
strands.

An embroidered run is knitted in the yarns beside it. One strand fewer hangs in its row, and two
fewer where the same yarn lies on both sides, for the runs beside it become one. Between two yarns
it is not sure: one of them grows longer, which may bring it within reach of another run of its own,
and that would save one more. So there are two rules for the rows. `sure` counts on nothing but what
is certain: what it finds can be done. `hoped` counts on all that could happen: no way is better
than what it finds, which proves how good the other one is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array, eye_array, vstack

from planner.choices.offers import reach
from planner.choices.pricing import Pricing
from planner.choices.small_areas import small_areas
from planner.strands import ACROSS, MIDDLE, UP, Links, Runs, allowed_links

SECONDS = 20  # for each aim; a solver that needs longer gives its best so far
GAP = 0  # between the answer and the best: none
ROUNDING = 1e-6  # of the solver's numbers


def links_of(links: Links) -> list[tuple[int, int, int]]:
    """Kind, first and second run of each link."""
    columns = (
        links.kind.tolist(),
        links.a.tolist(),
        links.b.tolist(),
    )
    return list(zip(*columns, strict=True))


def hanging_with(
    row: np.ndarray,
    links: Links,
    rows: int,
) -> np.ndarray:
    """What hangs in each of so many rows when runs that lie in these rows are so linked."""
    runs = np.bincount(row, minlength=rows)
    # Runs joined across hang as one.
    across = links[links.kind == ACROSS]
    joined = np.bincount(row[across.a], minlength=rows)
    # A carry up hangs from the row after its first run to the row before its second.
    up = links[links.kind == UP]
    row_after = row[up.a] + 1
    begins = np.bincount(row_after, minlength=rows)
    ends = np.bincount(row[up.b], minlength=rows)
    passing = np.cumsum(begins - ends)
    # The second half of a length begun from its middle hangs until the row that takes it up.
    middle = links[links.kind == MIDDLE]
    waits = row[middle.b] > row[middle.a]
    waiting = np.bincount(row[middle.a[waits]], minlength=rows)
    return runs - joined + passing + waiting


@dataclass(frozen=True)
class AreaRun:
    """A run of an area that may be embroidered.

    area
        The area's place in the list of such areas.
    joins
        The ports of the two runs beside it between which the ground is joined beneath it.
    sure, hoped
        How many strands fewer hang in its row for sure, and at best.
    """

    area: int
    run: int
    joins: tuple[int, ...]
    sure: int
    hoped: int


@dataclass(frozen=True, eq=False)
class Solution:
    """What was found in time.

    taken, embroidered, too_many
        By link and by area whether it is, by row how many strands too many hang.
    reached, proven
        For each aim that was come to: its value, and the least that any way can have.
    """

    taken: np.ndarray
    embroidered: np.ndarray
    too_many: np.ndarray
    reached: tuple[int, ...]
    proven: tuple[int, ...]

    @property
    def keeps(self) -> bool:
        """Whether no row has a strand too many."""
        return self.reached[0] == 0


class Programme:
    """The programme for a project's plan and a ceiling of `most` at once.

    links, extra
        All links that may be taken, and which of them are beyond the limits.
    areas, stitches
        All areas that may be embroidered, and their worked stitches.
    first
        Rows before it are knitted already and hang as they do.
    sure, hoped
        The two rules for the rows.
    """

    def __init__(self, pricing: Pricing, most: int):
        runs = self.runs = pricing.runs
        self.links, knitted_links = _links_within_reach(pricing)
        # What the limits allow costs nothing.
        within_limits = set(links_of(pricing.strands.possible))
        extra = [link not in within_limits for link in links_of(self.links)]
        self.extra = np.array(extra, dtype=bool)
        self.first = 0
        if pricing.knitted is not None:
            self.first = len(pricing.knitted.rows)

        # By run of an area: where its area stands, which run it is, and what is saved in its row.
        self.areas = small_areas(pricing.project, pricing.asked)
        self._area_runs = _runs_of_areas(pricing, self.areas)
        self._area = self._of_area_runs("area")
        self._run = self._of_area_runs("run")
        sure = self._of_area_runs("sure")
        hoped = self._of_area_runs("hoped")
        self.stitches = self._per_area(runs.stitches[self._run])

        # The unknowns are numbered in three blocks. Each row of the unit matrix is an unknown, so
        # sums of unknowns are written as a matrix times a block of it.
        links, areas = self.links.count, len(self.areas)
        self._size = links + areas + runs.rows
        unit = eye_array(self._size, format="csr")
        numbers = np.arange(self._size)
        self._blocks = np.split(numbers, [links, links + areas])
        taken, embroidered, too_many = self._blocks
        self._taken = unit[taken]
        self._embroidered = unit[embroidered]
        self._too_many = unit[too_many]

        # What would hang with no more links than those knitted in.
        hangs = hanging_with(runs.row, knitted_links, runs.rows)
        self.sure = self._enough_is_saved(sure, hangs - most)
        self.hoped = self._enough_is_saved(hoped, hangs - most)
        self._ports = self._at_most_one_link_a_port()
        self._aims = (
            self._by_block(too_many=1),
            self._by_block(taken=self.extra, embroidered=self.stitches),
            # Each link taken saves a strand, and so does all that embroidery saves for sure.
            self._by_block(taken=-1, embroidered=-self._per_area(sure)),
        )

    def _of_area_runs(self, name: str) -> np.ndarray:
        """One of the numbers of each run of an area."""
        values = [getattr(entry, name) for entry in self._area_runs]
        return np.array(values, dtype=int)

    def _per_area(self, values: np.ndarray) -> np.ndarray:
        """Values given by run of an area, added up by area."""
        areas = len(self.areas)
        return np.bincount(self._area, weights=values, minlength=areas)

    def _by_block(
        self,
        *,
        taken: np.ndarray | float = 0,
        embroidered: np.ndarray | float = 0,
        too_many: np.ndarray | float = 0,
    ) -> np.ndarray:
        """A number for each unknown."""
        numbers = np.zeros(self._size)
        values = (taken, embroidered, too_many)
        for block, value in zip(self._blocks, values, strict=True):
            numbers[block] = value
        return numbers

    def _at_most_one_link_a_port(self) -> LinearConstraint:
        """No port has two links, and some have none where an area is embroidered.

        No link goes to a run of such an area, nor between the runs beside it where the ground is
        joined beneath it.
        """
        # One row a port: the links that use it.
        links = self.links
        by_link = (2 * self.runs.count, links.count)
        number = np.arange(links.count)
        leaves, enters = links.ports
        uses = _matrix(leaves, number, 1, by_link)
        uses += _matrix(enters, number, 1, by_link)
        links_at = uses @ self._taken
        # At a port that an embroidered area shuts, the area counts as its one link.
        shut: list[int] = []
        shut_by: list[int] = []
        for entry in self._area_runs:
            port = 2 * entry.run
            closed = (port, port + 1, *entry.joins)
            shut.extend(closed)
            shut_by.extend(entry.area for _ in closed)
        links_or_area = links_at[shut] + self._embroidered[shut_by]
        at_ports = vstack((links_at, links_or_area))
        return LinearConstraint(at_ports, ub=1)

    def _enough_is_saved(
        self,
        saves: np.ndarray,
        above: np.ndarray,
    ) -> LinearConstraint:
        """In each row as many strands are saved as hang above the ceiling, or too many remain.

        `saves` is by run of an area, `above` by row.
        """
        # A carry across joins two runs, which hang as one.
        links = self.links
        row = self.runs.row
        by_link = (self.runs.rows, links.count)
        across = np.flatnonzero(links.kind == ACROSS)
        row_of_a = row[links.a]
        saved_by_link = _matrix(row_of_a[across], across, 1, by_link)
        # A carry up costs one more in each row that it passes.
        longest = int(links.skipped.max(initial=0))
        for step in range(1, longest + 1):
            passed = row_of_a + step
            not_yet_there = passed < row[links.b]
            up = np.flatnonzero((links.kind == UP) & not_yet_there)
            saved_by_link -= _matrix(passed[up], up, 1, by_link)
        # So does a second half in the row before the one that takes it up.
        waits = np.flatnonzero((links.kind == MIDDLE) & (row[links.b] > row_of_a))
        saved_by_link -= _matrix(row_of_a[waits], waits, 1, by_link)
        # An area may have several runs in a row; what they save adds up.
        by_area = (self.runs.rows, len(self.areas))
        row_of_run = row[self._run]
        saved_by_area = _matrix(row_of_run, self._area, saves, by_area)

        saved = saved_by_link @ self._taken
        saved += saved_by_area @ self._embroidered
        made_up_for = saved + self._too_many
        # What is knitted already hangs as it does, so there is no rule for those rows.
        to_come = slice(self.first, None)
        return LinearConstraint(made_up_for[to_come], lb=above[to_come])

    def solve(
        self,
        rule: LinearConstraint,
        *,
        aims: int,
    ) -> Solution | None:
        """The best by the first `aims` aims under a rule for the rows; None if time runs out."""
        best: np.ndarray | None = None
        reached: list[int] = []
        proven: list[int] = []
        constraints = [self._ports, rule]
        upper = self._by_block(taken=1, embroidered=1, too_many=np.inf)
        for aim in self._aims[:aims]:
            answer = milp(
                aim,
                integrality=np.ones(self._size),
                bounds=Bounds(0, upper),
                constraints=constraints,
                options={"time_limit": SECONDS, "mip_rel_gap": GAP},
            )
            if answer.x is None:
                break
            best = np.round(answer.x).astype(int)
            value = round(aim @ best)
            reached.append(value)
            # All costs are whole numbers, so what is proven may be rounded up.
            bound = np.ceil(answer.mip_dual_bound - ROUNDING)
            proven.append(int(bound))
            # What is reached is not given up for the aims that come after.
            constraints.append(LinearConstraint(aim, ub=value))
            if len(reached) == 1 and value:
                break  # some row has too many, whatever is done
        if best is None:
            return None
        taken, embroidered, too_many = self._blocks
        return Solution(
            taken=best[taken].astype(bool),
            embroidered=best[embroidered].astype(bool),
            too_many=best[too_many],
            reached=tuple(reached),
            proven=tuple(proven),
        )


def _matrix(
    rows: np.ndarray,
    columns: np.ndarray,
    values: np.ndarray | int,
    shape: tuple[int, int],
) -> csr_array:
    """A sparse matrix from its entries; those at one place add up."""
    data = np.broadcast_to(values, len(rows))
    return coo_array((data, (rows, columns)), shape).tocsr()


def _links_within_reach(pricing: Pricing) -> tuple[Links, Links]:
    """The links that may be taken, and those that are knitted in."""
    project = pricing.project
    asked = pricing.asked
    letters = project.chart.letters
    per_yarn = []
    for letter in letters:
        limits = project.by_yarn.get(letter, project.limits)
        _, sideways, up, middle_start = limits.at(project.gauge)
        # Of what is beyond the limits only carries across leave fewer strands hanging.
        across = reach(project, limits)[0]
        per_yarn.append((across, sideways, up, middle_start))
    links, knitted_links, _ = allowed_links(
        pricing.runs,
        letters,
        per_yarn,
        knitted=pricing.knitted,
        carries=asked.carries,
        cuts=[*asked.cuts, *asked.refused["carry"]],
        no_middle=asked.no_middle,
    )
    return links, knitted_links


def _runs_of_areas(
    pricing: Pricing,
    areas: Sequence[int],
) -> list[AreaRun]:
    """The runs of all these areas."""
    runs = pricing.runs
    area_of_cell = pricing.asked.areas
    area_of_run = area_of_cell[runs.chart_row, runs.lo]
    rows_per_chart_row = pricing.project.how.rows_per_chart_row
    entries = []
    for place, area in enumerate(areas):
        members = np.flatnonzero(area_of_run == area)
        # Beside an area that is embroidered already a run may be of both. Then nothing is counted
        # on for sure.
        cells = np.count_nonzero(area_of_cell == area)
        stitches = runs.stitches[members].sum()
        whole = bool(stitches == cells * rows_per_chart_row)
        for run in members.tolist():
            entry = _area_run(runs, place, run, whole=whole)
            entries.append(entry)
    return entries


def _area_run(
    runs: Runs,
    area: int,
    run: int,
    *,
    whole: bool,
) -> AreaRun:
    """One run of an area; `whole`: the runs of the area hold nothing else."""
    row = runs.row[run]
    in_row = np.flatnonzero(runs.row == row)
    neighbours = (run - 1, run + 1)
    beside = [i for i in neighbours if i in in_row]
    # Alone in its row it has no yarn beside it, and another one takes its place.
    saved = min(len(beside), 1)
    hoped = saved
    joins: tuple[int, ...] = ()
    if len(beside) == 2:
        before, after = beside
        yarn_before, yarn_after = runs.yarn[beside]
        # Between two runs of one yarn the ground closes beneath it.
        if yarn_before == yarn_after:
            saved = hoped = 2
            joins = (2 * before + 1, 2 * after)
        # A yarn beside it that grows longer can only meet another run of its own in this row.
        of_yarn = np.bincount(runs.yarn[in_row])
        if of_yarn[yarn_before] > 1 or of_yarn[yarn_after] > 1:
            hoped = 2
    sure = saved if whole else 0
    return AreaRun(area, run, joins, sure, hoped)
