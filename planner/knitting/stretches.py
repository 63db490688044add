"""Stretches of rows worth reading before their turn: the first of each kind of thing to do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from planner.plan import Plan
from planner.strands import SLACK


@dataclass(frozen=True)
class Stretch:
    """Worked rows, from 1, and why they are worth reading."""

    why: str
    first: int
    last: int


def stretches_to_read(plan: Plan) -> list[Stretch]:
    """The stretches of a piece worth reading, in working order; none is shown twice."""
    rows = plan.traced.runs.rows
    stretches: list[Stretch] = []
    for why, row in sorted(_firsts(plan), key=lambda found: found[1]):
        # The row before shows how the yarns hang.
        first, last = max(1, row - 1), min(rows, row + 1)
        if stretches and first <= stretches[-1].last:
            before = stretches[-1]
            why = f"{before.why}; {why[0].lower()}{why[1:]}"
            stretches[-1] = Stretch(why, before.first, last)
        else:
            stretches.append(Stretch(why, first, last))
    return stretches


def _firsts(plan: Plan) -> Iterator[tuple[str, int]]:
    """What is found in the piece, and the row from 1 in which it is met first."""
    strands = plan.traced
    row_of_run, links = strands.runs.row, strands.links
    starts = row_of_run[strands.first_run]
    later = starts[starts > 0]
    if len(later):
        yield "A length begins", int(later.min()) + 1
    carried = links.a[~links.is_middle & (links.shift > SLACK)]
    if len(carried):
        yield "A yarn is carried", int(row_of_run[carried].min()) + 1
    middle = links.a[links.is_middle]
    if len(middle):
        yield "A length is begun from its middle", int(row_of_run[middle].min()) + 1
    if any(load.borders for load in plan.loads):
        to_do = [load.borders + 2 * (load.starts + load.ends) for load in plan.loads]
        yield "The busiest row", int(np.argmax(to_do)) + 1
