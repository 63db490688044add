"""Yarns that look alike where they touch: to any eye, to a colour-blind one, or on a grey print.

On paper letters and lines tell neighbours apart; at the needles only their colours do.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from planner.colour import ALIKE, ANY_EYE, EYES, IN_GREY, apart
from planner.piece import Yarn
from planner.strands import Strands
from planner.units import counted

MARK_THE_BALLS = "Go by the letters, and mark the balls; or choose colours further apart."


class Alike(NamedTuple):
    """Two yarns, by their letters, that touch on the chart and look alike to some eye.

    `seen` has for each such eye how far apart they look (CIEDE2000). They touch along `border`
    stitches, and first at `run`; `where` says that place in words.
    """

    first: str
    second: str
    seen: dict[str, float]
    border: int
    run: int
    where: str

    @property
    def finding(self) -> str:
        """To whom they look alike, and along how many stitches they touch."""
        # What nobody can tell apart need not be said of every eye.
        seen = {ANY_EYE: self.seen[ANY_EYE]} if ANY_EYE in self.seen else self.seen
        border = counted(self.border, "stitch")
        alike = f"they are hard to tell apart {' and '.join(seen)}"
        return f"{alike}; they touch along {border}, first in {self.where}"

    @property
    def what_to_do(self) -> str:
        """How to tell them apart."""
        if set(self.seen) == {IN_GREY}:
            return "On a grey print go by the letters."
        return MARK_THE_BALLS

    def __str__(self) -> str:
        return f"Yarns {self.first} and {self.second}: {self.finding}."


def alike_yarns(strands: Strands, yarns: Mapping[str, Yarn]) -> list[Alike]:
    """The pairs of yarns that touch and look alike to some eye, in the order of the chart's."""
    chart = strands.chart
    cells = chart.cells.ravel()
    touching = _touching(strands)
    pairs = np.sort(cells[touching], axis=1).astype(int)
    numbers = len(chart.letters)
    # As single numbers, which are told apart far more quickly than pairs.
    numbered = pairs @ (numbers, 1)
    kinds, firsts, borders = np.unique(numbered, return_index=True, return_counts=True)
    found = []
    for pair, first, border in zip(kinds.tolist(), firsts, borders.tolist(), strict=True):
        one, another = (chart.letters[yarn] for yarn in divmod(pair, numbers))
        seen = _seen(yarns[one].colour, yarns[another].colour)
        if seen:
            run, where = _place(strands, touching[first])
            found.append(Alike(one, another, seen, border, run, where))
    return found


def _seen(one: str, another: str) -> dict[str, float]:
    """To which eyes two colours look alike, and how far apart they look to these."""
    distances = {eye: apart(one, another, eye=eye) for eye in EYES}
    # Not a number where a colour has no distance: then nothing is found.
    return {eye: distance for eye, distance in distances.items() if distance < ALIKE}


def _touching(strands: Strands) -> np.ndarray:
    """The pairs of cells of unlike yarns that lie side by side or one upon the other, n × 2.

    Cells are numbered row by row from the bottom. Pairs stand in working order, those side by side
    before those one upon the other, which are felt in the upper row.
    """
    cells, how = strands.chart.cells, strands.how
    number = np.arange(cells.size).reshape(cells.shape)
    neighbours = [(number[:, :-1], number[:, 1:]), (number[:-1], number[1:])]
    if how.is_tube:
        neighbours.append((number[:, -1], number[:, 0]))
    pairs = np.concatenate([np.column_stack((a.ravel(), b.ravel())) for a, b in neighbours])
    yarns = cells.ravel()[pairs]
    unlike = (yarns[:, 0] != yarns[:, 1]) & (yarns >= 0).all(axis=1)
    pairs = pairs[unlike]

    rows, columns = np.divmod(pairs, cells.shape[1])
    upper = rows.max(axis=1)
    leftwards = strands.runs.leftwards[upper * how.rows_per_chart_row]
    along = np.where(leftwards, -columns[:, 1], columns[:, 1])
    is_upon = rows[:, 0] != rows[:, 1]
    return pairs[np.lexsort((along, is_upon, upper))]


def _place(strands: Strands, pair: np.ndarray) -> tuple[int, str]:
    """The run at which two cells touch, and where that is, told by its neighbours."""
    how, runs = strands.how, strands.runs
    times = how.rows_per_chart_row
    run_of_cell = runs.over_cells()
    (row, column), (upper_row, upper_column) = (divmod(int(cell), runs.columns) for cell in pair)
    worked = upper_row * times
    # The lower of two rows is left by its last worked one.
    below = worked if row == upper_row else worked - 1
    run, upper_run = int(run_of_cell[below, column]), int(run_of_cell[worked, upper_column])
    label, upper = (strands.labels[strands.of_run[each]] for each in (run, upper_run))
    name = how.row_name(worked)
    if row != upper_row:
        return upper_run, f"{name}, {upper} upon {label}"
    first, second = (label, upper) if run < upper_run else (upper, label)
    return max(run, upper_run), f"{name}, between {first} and {second}"
