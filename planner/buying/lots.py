"""Dye lots: which strands are worked from which lot where one lot does not hold them all.

Two lots of a colour seldom match. The change does not show between colour areas that lie apart, so
an area is worked from one lot where that can be; where it cannot, the strands of the two lots lie
above each other rather than side by side. The share is an exact integer programme: fewest areas of
more than one lot, then fewest rows in which the lots lie side by side in an area, then fewest lots,
then fewest changes from one strand to the next.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, count

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from planner.buying.bobbins import pieces_of
from planner.errors import PlanError
from planner.plan import Plan
from planner.units import counted, show, shown

NODES = 2000  # branches looked at before the best so far is taken and said to be that
TO_BUY = "a new lot"


@dataclass(frozen=True, eq=False)
class LotShare:
    """Which piece comes from which lot. `cost` counts areas worked from more than one lot (each
    further lot of an area), rows side by side, lots and changes; `proven`: none is better; `buy`:
    balls of a new lot that it takes."""

    table: pd.DataFrame
    cost: tuple[int, int, int, int]
    proven: bool
    buy: int
    said: str


def share_lots(
    plans: Sequence[Plan], letter: str, lots: Mapping[str, float] | None = None
) -> LotShare:
    """The strands of a yarn shared among its dye lots: those in hand (balls by lot; the yarn's own
    unless given) and, only if they cannot hold all, the fewest balls of a new one. Every ball is
    counted short by the band's error."""
    project = plans[0].project
    if letter not in project.chart.letters:
        raise PlanError(
            f"Yarn {letter} is not on the chart. Name one of {', '.join(project.chart.letters)}."
        )
    yarn = project.all_yarns[letter]
    if not yarn.metres_per_ball:
        raise PlanError(
            f"Yarn {letter} has no metres_per_ball, so its lots cannot be measured. Fill it in from the band."
        )
    pieces = _pieces_with_areas(plans, letter)
    ball_cm = 100 * yarn.metres_per_ball * (1 - project.allow.label_error)
    in_hand = {
        lot or "no lot named": balls * ball_cm
        for lot, balls in (yarn.lots if lots is None else lots).items()
        if balls
    }
    for buy in count(
        max(0, math.ceil((pieces.length_cm.sum() - sum(in_hand.values())) / ball_cm - 1e-9))
    ):
        room = in_hand | ({TO_BUY: buy * ball_cm} if buy else {})
        found = best_share(
            pieces.length_cm.to_numpy(),
            pieces.begins.to_numpy(),
            pieces.done.to_numpy(),
            pieces.areas,
            room,
        )
        if found is not None:
            break
    place, cost, proven = found
    names = list(room)
    pieces = pieces.assign(lot=[names[i] for i in place])
    used = [
        f"{show(some.length_cm.sum(), project.units)} of {lot}"
        for lot, some in pieces.groupby("lot", sort=False)
    ]
    said = (
        f"{letter} from {' and '.join(used)}"
        + (f" ({counted(buy, 'ball')} to buy)" if buy else "")
        + ". "
    )
    if cost[0]:
        said += f"No share keeps every colour area to one lot: {counted(cost[0], 'change')} of lot within an area"
        said += (
            f", {counted(cost[1], 'row')} in which two lots lie side by side. "
            if cost[1]
            else ", one above the other. "
        )
    elif cost[2] > 1:
        said += "Every colour area is worked from one lot. "
    said += "" if proven else "A better share may exist: the search was cut short."
    table = pieces.assign(
        in_area=[", ".join(str(area) for _, area in sorted(some)) for some in pieces.areas]
    )
    table = table.assign(
        from_row=table.begins.astype(int), to_row=np.ceil(table.done).astype(int) - 1
    )
    columns = ["lot", "copy", "piece", "length_cm", "from_row", "to_row", "in_area"]
    return LotShare(shown(table[columns], project.units), cost, proven, buy, said.strip())


def _pieces_with_areas(plans: Sequence[Plan], letter: str) -> pd.DataFrame:
    """The pieces of a yarn in all copies, in the order of need, with the (copy, area)s that each
    strand works."""
    out = []
    for copy, plan in enumerate(plans, start=1):
        runs = plan.traced.runs
        area = plan.area_of_cell[runs.chart_row, runs.lo]
        works: dict[str, set] = {label: set() for label in plan.traced.labels}
        for strand, a in zip(plan.traced.of_run.tolist(), area.tolist(), strict=True):
            works[plan.traced.labels[strand]].add((copy, a))
        pieces = pd.DataFrame(pieces_of(plan))
        pieces = pieces.assign(begins=pieces.begins + 1, done=pieces.done + 1)
        pieces = pieces[pieces.yarn == letter]
        # The halves of a strand begun from its middle are one length.
        one = pieces.label.where(pieces.refill > 0, pieces.strand).rename("piece")
        pieces = pieces.groupby(one, sort=False).agg(
            strand=("strand", "first"),
            length_cm=("length_cm", "sum"),
            begins=("begins", "min"),
            done=("done", "max"),
        )
        out.append(pieces.reset_index().assign(copy=copy, areas=pieces.strand.map(works).tolist()))
    return pd.concat(out, ignore_index=True)


def best_share(length, begins, done, areas: Sequence[set], room: Mapping[str, float]):
    """For each piece the lot (an index into `room`, cm) that it comes from, the cost (see LotShare)
    and whether it is proven; None if the lots do not hold the pieces. `begins` and `done` are rows,
    a copy's own; `areas` the areas of each piece."""
    pieces, lots = len(length), len(room)
    if not lots:
        return None
    by_area: dict = {}
    for i, some in enumerate(areas):
        for area in sorted(some):
            by_area.setdefault(area, []).append(i)
    by_area = {area: members for area, members in by_area.items() if len(members) > 1}
    beside = {}
    for members in by_area.values():
        for i, j in combinations(members, 2):
            beside[i, j] = max(0, int(min(done[i], done[j]) - max(begins[i], begins[j])))
    beside = {pair: rows for pair, rows in beside.items() if rows}
    after = [(i, i + 1) for i in range(pieces - 1)]

    # Columns: piece in lot; area uses lot; lots differ in a pair side by side; lot is used; lots differ from one piece to the next.
    start = np.cumsum([0, pieces * lots, len(by_area) * lots, len(beside), lots, len(after)])
    entries, low, high = [], [], []

    def say(terms, least, most):
        entries.extend((len(low), column, value) for column, value in terms)
        low.append(least)
        high.append(most)

    for i in range(pieces):
        say([(i * lots + k, 1) for k in range(lots)], 1, 1)
    for k, holds in enumerate(room.values()):
        say([(i * lots + k, length[i]) for i in range(pieces)], 0, holds)
        for i in range(pieces):
            say([(start[3] + k, 1), (i * lots + k, -1)], 0, np.inf)
            for a, members in enumerate(by_area.values()):
                if i in members:
                    say([(start[1] + a * lots + k, 1), (i * lots + k, -1)], 0, np.inf)
        for first, pairs in ((start[2], beside), (start[4], after)):
            for p, (i, j) in enumerate(pairs):
                for one, other in ((i, j), (j, i)):
                    say([(first + p, 1), (one * lots + k, -1), (other * lots + k, 1)], 0, np.inf)
    # One aim after the other, each without giving up what was reached before.
    aims = [
        np.ones(len(by_area) * lots),
        np.array(list(beside.values())),
        np.ones(lots),
        np.ones(len(after)),
    ]
    best, proven = None, True
    for first, aim in zip(start[1:], aims, strict=False):
        if best is not None and not len(aim):
            continue
        rows, columns, values = zip(*entries, strict=True)
        matrix = coo_array((values, (rows, columns)), shape=(len(low), start[5])).tocsc()
        objective = np.zeros(start[5])
        objective[first : first + len(aim)] = aim
        limits, options = (
            LinearConstraint(matrix, low, high),
            {"node_limit": NODES, "mip_rel_gap": 0},
        )
        found = milp(
            objective,
            constraints=limits,
            integrality=np.ones(start[5]),
            bounds=Bounds(0, 1),
            options=options,
        )
        if found.x is None:
            if best is None and found.status == 2:
                return None
            proven = False
            continue
        proven &= found.status == 0
        best = np.round(found.x)
        say([(first + c, value) for c, value in enumerate(aim)], 0, float(objective @ best))
    if best is None:
        raise PlanError(
            "The search for a share of the lots was cut short before it found one. Name fewer lots."
        )
    place = best[: pieces * lots].reshape(pieces, lots).argmax(axis=1)
    return place, share_cost(place, by_area.values(), beside, after), proven


def share_cost(place, by_area, beside: Mapping, after) -> tuple[int, int, int, int]:
    """Further lots of areas, rows side by side, lots used, changes."""
    return (
        sum(len({int(place[i]) for i in members}) - 1 for members in by_area),
        sum(rows for (i, j), rows in beside.items() if place[i] != place[j]),
        len(set(place.tolist())),
        sum(int(place[i] != place[j]) for i, j in after),
    )
