"""A ceiling on strands at once: the fewest extra carries and embroidered stitches that keep every row under it.

What hangs in a row is its runs, less the carries across in it, plus the carries up that pass it; both halves of a strand begun
from its middle hang. That is linear in the links taken and the areas embroidered, so it is an integer programme: first the
fewest strands too many, then the fewest extra carries and embroidered stitches (a carry counts as one stitch), then the
fewest strands. Carries up within the limits may be cut. What is found is traced anew before it is offered.

An area between two yarns lengthens one of them, which may bring a carry within reach; the programme that finds a way does
not count on it, and a second one, which counts on more than can be had, proves how much better it could be at most.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, eye_array, hstack, vstack

from planner.choices.asked import ask, choice_at, choice_of_area, find_run, trace_asked
from planner.choices.offers import Price, Pricing, reach, small_areas
from planner.errors import PlanError
from planner.piece import OwnChoice, Project
from planner.strands import ACROSS, MIDDLE, UP, Links, Strands, allowed_links

SECONDS = 20  # for each of up to five steps


@dataclass(frozen=True, eq=False)
class Ceiling:
    """How a ceiling of `most` can be kept: by these `choices`, which take `carries` beyond the limits and `stitches`
    embroidered (`cost` together, at least `bound` proven), cut `cuts` links and change the plan by `price`. `rows` are those
    in which it cannot be kept (row, too_many); then there are no choices. Rows before `first_row` are knitted already."""

    most: int
    bound: int
    rows: pd.DataFrame
    first_row: int = 1
    choices: tuple[OwnChoice, ...] = ()
    carries: int = 0
    stitches: int = 0
    cuts: int = 0
    price: Price | None = None

    @property
    def cost(self) -> int:
        return self.carries + self.stitches

    def __str__(self):
        to_come = (
            f"In the rows still to be worked, from row {self.first_row} on: "
            if self.first_row > 1
            else ""
        )
        return to_come + self._found()

    def _found(self) -> str:
        if len(self.rows):
            step = (self.rows.row.diff() != 1) | (self.rows.too_many.diff() != 0)
            stretches = self.rows.groupby(step.cumsum()).agg(["min", "max"])
            where = "; ".join(
                (f"row {lo}" if lo == hi else f"rows {lo} to {hi}") + f" ({most} too many)"
                for lo, hi, most, _ in stretches.itertuples(index=False)
            )
            return f"Never more than {self.most} at once cannot be done within what may be carried and embroidered: {where}."
        if self.price is None:
            return f"No way was found to keep to {self.most} at once, nor proof that there is none."
        if not self.choices:
            return f"The plan keeps to {self.most} at once as it is."
        ways = {
            ("extra carry", "extra carries"): self.carries,
            ("embroidered stitch", "embroidered stitches"): self.stitches,
            ("carry cut", "carries cut"): self.cuts,
        }
        by = ", ".join(
            f"{n} {one if n == 1 else several}" for (one, several), n in ways.items() if n
        )
        sure = (
            "no way takes fewer"
            if self.cost <= self.bound
            else f"any way takes at least {self.bound} in all"
        )
        return f"Never more than {self.most} at once by {by}: {sure}."


def hanging(strands: Strands) -> np.ndarray:
    """What hangs in each worked row: live strands, both halves of one begun from its middle counted."""
    return _hanging(strands.runs.row, strands.links, strands.runs.rows)


def _hanging(row: np.ndarray, links: Links, rows: int) -> np.ndarray:
    across, up = (links[links.kind == kind] for kind in (ACROSS, UP))
    passes = np.bincount(row[up.a] + 1, minlength=rows + 1) - np.bincount(
        row[up.b], minlength=rows + 1
    )
    return (
        np.bincount(row, minlength=rows)
        - np.bincount(row[across.a], minlength=rows)
        + np.cumsum(passes)[:rows]
    )


def _each(links: Links) -> list[tuple[int, int, int]]:
    """Kind, first and second run of each link."""
    return list(zip(links.kind.tolist(), links.a.tolist(), links.b.tolist(), strict=True))


class _Programme:
    """The integer programme; its unknowns are the links, the areas to embroider, and by row the strands too many."""

    def __init__(self, pricing: Pricing, most: int):
        project, asked, strands = pricing.project, pricing.asked, pricing.strands
        self.runs, letters = strands.runs, strands.chart.letters
        farther = []
        for letter in letters:
            limits = project.by_yarn.get(letter, project.limits)
            # Only carries across leave fewer strands hanging; what else is beyond the limits would be of no use.
            farther.append((reach(project, limits)[0], *limits.at(project.gauge)[1:]))
        self.links, self.done, _ = allowed_links(
            self.runs,
            letters,
            farther,
            knitted=pricing.knitted,
            carries=asked.carries,
            cuts=[*asked.cuts, *asked.refused["carry"]],
            no_middle=asked.no_middle,
        )
        within = set(_each(strands.possible))
        self.extra = np.array([link not in within for link in _each(self.links)], dtype=bool)
        self.areas, entries = self._embroidery(project, asked)
        n, k, rows = self.links.count, len(self.areas), self.runs.rows
        self.first = (
            len(pricing.knitted.rows) if pricing.knitted else 0
        )  # what is knitted hangs as it does

        # At most one link a port; none at the runs of an embroidered area, nor where the ground is joined beneath it.
        shut = [
            (port, i) for i, run, joins, *_ in entries for port in (2 * run, 2 * run + 1, *joins)
        ]
        at_port, at_area = np.array(shut, dtype=int).reshape(-1, 2).T
        self.size = n + k + rows
        ones, number = np.ones(2 * n + len(shut)), np.arange(n)
        links_at = coo_array(
            (ones[: 2 * n], (np.concatenate(self.links.ports), np.tile(number, 2))),
            (2 * self.runs.count, self.size),
        )
        areas_at = coo_array(
            (ones[2 * n :], (np.arange(len(shut)), n + at_area)), (len(shut), self.size)
        )
        free = vstack((links_at, links_at.tocsr()[at_port] + areas_at)) if shut else links_at
        self.ports = LinearConstraint(free.tocsr(), ub=1)

        # In each row, links across and embroidered areas make up for what hangs above the ceiling; links up add to it.
        kind, a, b = self.links.kind, self.runs.row[self.links.a], self.runs.row[self.links.b]
        links = [(a[i], i, 1) for i in np.flatnonzero(kind == ACROSS)]
        links += [(row, i, -1) for i in np.flatnonzero(kind == UP) for row in range(a[i] + 1, b[i])]
        short = (_hanging(self.runs.row, self.done, rows) - most)[self.first :]

        def rule(gains):
            cells = links + [
                (self.runs.row[run], n + i, gain)
                for (i, run, *_), gain in zip(entries, gains, strict=True)
            ]
            row, unknown, value = np.array(cells, dtype=int).reshape(-1, 3).T
            matrix = hstack((coo_array((value, (row, unknown)), (rows, n + k)), eye_array(rows)))
            return LinearConstraint(matrix.tocsr()[self.first :], lb=short)

        self.sure, self.hoped = (
            rule([entry[3] for entry in entries]),
            rule([entry[4] for entry in entries]),
        )
        stitches, gained = np.zeros(k), np.zeros(k)
        for i, run, _, gain, _ in entries:
            stitches[i] += self.runs.stitches[run]
            gained[i] += gain
        self.costs = (
            np.concatenate((np.zeros(n + k), np.ones(rows))),
            np.concatenate((self.extra, stitches, np.zeros(rows))),
            np.concatenate((-np.ones(n), -gained, np.zeros(rows))),
        )

    def _embroidery(self, project, asked):
        """Areas that may be embroidered, and of each of their runs: the area's place in the list, the run, the ports between
        which the ground is joined beneath it, how many fewer strands hang there for sure, and how many at best."""
        runs, entries = self.runs, []
        areas = small_areas(project, asked)
        number = asked.areas[runs.chart_row, runs.lo]
        for i, area in enumerate(areas):
            mine = np.flatnonzero(number == area)
            # Beside an area that is embroidered already a run may be of both; then nothing is counted on, and all is hoped for.
            whole = (
                runs.stitches[mine].sum()
                == (asked.areas == area).sum() * project.how.rows_per_chart_row
            )
            for run in mine.tolist():
                beside = [
                    j
                    for j in (run - 1, run + 1)
                    if 0 <= j < runs.count and runs.row[j] == runs.row[run]
                ]
                same = len(beside) == 2 and runs.yarn[beside[0]] == runs.yarn[beside[1]]
                joins = (2 * beside[0] + 1, 2 * beside[1]) if same else ()
                sure = min(len(beside), 1) + same
                # A yarn beside it that is made longer can only meet another run of its own.
                meets = (
                    len(beside) == 2
                    and (
                        np.bincount(runs.yarn[runs.row == runs.row[run]])[runs.yarn[beside]] > 1
                    ).any()
                )
                entries.append((i, run, joins, sure * bool(whole), 2 if meets else sure))
        return areas, entries

    def solve(self, rule: LinearConstraint, phases: int):
        """The unknowns after so many of the costs are made as small as can be, one after the other, and for each cost what
        was reached and what is proven; None if none was found in time."""
        constraints, best, values, bounds = [self.ports, rule], None, [], []
        upper = np.ones(self.size)
        upper[-self.runs.rows :] = np.inf
        for cost in self.costs[:phases]:
            whole, options = np.ones(self.size), {"time_limit": SECONDS, "mip_rel_gap": 0}
            answer = milp(
                cost,
                integrality=whole,
                bounds=Bounds(0, upper),
                constraints=constraints,
                options=options,
            )
            if answer.x is None:
                break
            best, value = np.round(answer.x), round(float(cost @ np.round(answer.x)))
            values.append(value)
            bounds.append(int(np.ceil(answer.mip_dual_bound - 1e-6)))
            constraints.append(LinearConstraint(cost[None], ub=value))
            if value and len(values) == 1:
                break  # some row has too many, whatever is done
        return best, values, bounds


def keep_under(project: Project, most: int) -> Ceiling:
    """How to keep to `most` strands at once in all rows still to be worked, with the fewest extra carries and embroidered
    stitches within the weighing's reach."""
    if most < 1:
        raise PlanError(f"At most {most} strands at once is too few: any row needs one.")
    pricing = Pricing(project)
    programme = _Programme(pricing, most)
    at_best, _, proven = programme.solve(programme.hoped, 2)
    best, values, _ = programme.solve(programme.sure, 3)
    bound = proven[1] if len(proven) > 1 else 0
    too_many = (
        at_best[-programme.runs.rows :].astype(int)
        if proven and proven[0] > 0
        else np.zeros(0, dtype=int)
    )
    rows = np.flatnonzero(too_many)
    cannot = Ceiling(
        most,
        bound,
        pd.DataFrame({"row": rows + 1, "too_many": too_many[rows]}),
        programme.first + 1,
    )
    if best is None or values[0] > 0:
        return cannot
    n, areas = programme.links.count, programme.areas
    taken = programme.links[best[:n] > 0.5]
    strands, extra = pricing.strands, programme.links[(best[:n] > 0.5) & programme.extra]
    chosen = [areas[i] for i in np.flatnonzero(best[n : n + len(areas)] > 0.5)]
    embroider = [choice_of_area(project, pricing.asked.areas, area) for area in chosen]
    carries = [
        choice_at(strands, "carry", a, "yes", b)
        for a, b in zip(extra.a.tolist(), extra.b.tolist(), strict=True)
    ]
    stitches = int(programme.costs[1][n : n + len(areas)] @ best[n : n + len(areas)])
    choices, cuts = _cut(project, programme, [*embroider, *carries], taken, most, strands)
    if choices is None:
        return cannot
    price = pricing.change(*choices)
    return replace(
        cannot,
        choices=tuple(choices),
        carries=len(carries),
        stitches=stitches,
        cuts=cuts,
        price=price,
    )


def _cut(
    project: Project,
    programme: _Programme,
    choices: list[OwnChoice],
    taken: Links,
    most: int,
    strands: Strands,
):
    """The choices and the links to be cut as well, so that the plan, traced anew, keeps to `most`; and how many are cut."""
    letters, cuts = strands.chart.letters, 0
    while True:
        traced = trace_asked(
            replaced := replace(project, choices=(*project.choices, *choices)), ask(replaced)
        )
        above = np.flatnonzero(hanging(traced)[programme.first :] > most) + programme.first
        if not len(above):
            return choices, cuts
        old = {}  # the run before the choices were made, by the run that holds its first stitch now
        for run in np.unique((taken.a, taken.b)).tolist():
            place = (
                letters[strands.runs.yarn[run]],
                int(strands.runs.row[run]) + 1,
                int(strands.stitch_number(run)),
            )
            old[run] = find_run(traced.runs, letters, *place)
        keep = [(kind, old[a], old[b]) for kind, a, b in _each(taken)]
        wanted = set()  # the ports of carries across that would help
        for kind, a, b in keep:
            if kind == ACROSS and traced.runs.row[a] in above:
                wanted |= {2 * a + 1, 2 * b}
        kept = {(kind == MIDDLE, a, b) for kind, a, b in keep}
        more = []
        for (kind, a, b), *ports in zip(_each(traced.links), *traced.links.ports, strict=True):
            middle, passes = (
                kind == MIDDLE,
                kind == UP and ((above > traced.runs.row[a]) & (above < traced.runs.row[b])).any(),
            )
            if (passes or wanted.intersection(ports)) and (middle, a, b) not in kept:
                more.append(
                    choice_at(
                        traced, "middle" if middle else "carry", a, "no", None if middle else b
                    )
                )
        if not more:
            return None, 0
        choices, cuts = [*choices, *more], cuts + len(more)
