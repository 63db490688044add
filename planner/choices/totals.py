"""Totals: what strands come to, of a whole plan or of some of its runs."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from planner.strands import Strands
from planner.supplies import Planned


@dataclass(frozen=True, eq=False)
class Totals:
    """What some strands come to, or how much more that is than what others come to.

    `live` is what hangs in each worked row, `yarn_cm` what is measured off. Of what is embroidered
    there are the stitches and `more_ends`.
    """

    strands: int
    middle_starts: int
    carried: float
    yarn_cm: float
    live: np.ndarray
    embroidered: int = 0
    more_ends: int = 0

    @classmethod
    def none(cls, rows: int) -> Totals:
        """The totals of nothing in a piece of so many rows."""
        return cls(0, 0, 0.0, 0.0, np.zeros(rows, dtype=int))

    def __add__(self, more: Totals) -> Totals:
        sums = [getattr(self, each.name) + getattr(more, each.name) for each in fields(self)]
        return Totals(*sums)

    def __sub__(self, less: Totals) -> Totals:
        rests = [getattr(self, each.name) - getattr(less, each.name) for each in fields(self)]
        return Totals(*rests)


def totals_of(strands: Strands, planned: Planned, units: str) -> Totals:
    """What all of these strands come to."""
    measured_cm = planned.measured_by_half(strands, units)
    return Totals(
        strands=strands.count,
        middle_starts=strands.middle_starts,
        carried=strands.carried_stitches,
        yarn_cm=float(measured_cm.sum()),
        live=strands.live,
    )


class ByHalf:
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

    def totals(self, chosen: np.ndarray) -> Totals:
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
        return Totals(
            strands=int(is_chosen.sum()),
            middle_starts=int((strands.links.is_middle & links).sum()),
            carried=float(strands.carried[links].sum()),
            yarn_cm=float(self.measured_cm[halves].sum()),
            live=np.cumsum(begun - ended)[:rows],
        )
