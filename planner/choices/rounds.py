"""Rounds: what it costs never to turn, and where the round had better begin.

In rounds that are never turned a yarn is left at the far side of its area. Turned after each
round, it waits where the next round wants it. Where a round begins, runs are parted and the work is
joined, so another start may take fewer strands: each is traced exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.choices.asked import Asked, ask, trace_asked
from planner.errors import PlanError
from planner.piece import Chart, Project
from planner.strands import Strands, knitted_of
from planner.units import counted

# Half as many ends again, and no fewer than these, are worth a note.
MANY_TIMES, MANY_MORE = 1.5, 8


def _without_own_carries(asked: Asked, chart: Chart) -> Asked:
    """The same for another chart or way of working: carries decided by hand name runs of this."""
    return replace(asked, chart=chart, carries=(), cuts=(), no_middle=())


def cost_of_rounds(project: Project, asked: Asked, strands: Strands) -> list[str]:
    """A note where rounds that are never turned cost many more ends than turned or flat work."""
    # With rows on the needles the way of working is settled.
    if project.how.is_turned or knitted_of(project) is not None:
        return []
    otherwise = _without_own_carries(asked, asked.chart)
    ends = []
    for worked in ("turned", "flat"):
        how = replace(project.how, worked=worked)
        traced = trace_asked(replace(project, how=how), otherwise)
        ends.append(traced.ends)
    fewest = min(ends)
    if strands.ends < max(MANY_TIMES * fewest, fewest + MANY_MORE):
        return []
    turned, flat = ends
    return [
        f"In rounds that are never turned the strands have {strands.ends} ends, in turned rounds "
        f"{turned}, flat {flat}: each yarn is left at the far side of its area. Turn the work "
        "after each round, or work it flat and seam it."
    ]


# ---- where the round begins


@dataclass(frozen=True)
class Start:
    """A start of the round, and what the chart takes with it.

    The join lies at the right of a stitch, counted from 1 from the right as the chart is now; so 1
    is where it begins now.
    """

    stitch: int
    strands: int
    middle_starts: int
    carried: float

    @property
    def rank(self) -> tuple[int, int, float]:
        """What is least for the best."""
        return self.strands, self.middle_starts, self.carried

    def __str__(self) -> str:
        return (
            f"{counted(self.strands, 'strand')}, {2 * self.strands} ends, {self.middle_starts} "
            f"begun from the middle, {self.carried:.0f} stitches carried"
        )


def begun_at(chart: Chart, stitch: int) -> Chart:
    """The chart of the same tube with its join at the right of this stitch, counted from 1."""
    return Chart.from_cells(np.roll(chart.cells, stitch - 1, axis=1), chart.letters)


def find_starts(project: Project) -> list[Start]:
    """The starts of the round, the present one first, then as they come from the right.

    Of starts that are alike one stands for all. Carries that the knitter decided are left out, for
    they belong to one start. Raises PlanError where nothing is round, or rows are knitted.
    """
    if not project.how.is_tube:
        raise PlanError("The piece is worked flat: there is no round that could begin elsewhere.")
    if knitted_of(project) is not None:
        raise PlanError("Rows are knitted already, so the round begins where it does.")
    asked = ask(project)
    starts = []
    for stitch in _unlike_starts(asked.chart, _farthest(project)):
        chart = begun_at(asked.chart, stitch)
        traced = trace_asked(project, _without_own_carries(asked, chart))
        carried = round(traced.carried_stitches, 4)
        starts.append(Start(stitch, traced.count, traced.middle_starts, carried))
    return starts


def _farthest(project: Project) -> int:
    """Stitches that a yarn may be carried along or across at most."""
    limits = [project.limits, *project.by_yarn.values()]
    reaches = [own.at(project.gauge)[:2] for own in limits]
    return max(max(reach) for reach in reaches)


def _unlike_starts(chart: Chart, reach: int) -> list[int]:
    """Starts of the round that may differ in what they take, as stitches from 1; the first is 1.

    Where columns are alike farther than any yarn is carried on both sides of the join, it may move
    to the next of them: no run's other edge is within reach of it before or after.
    """
    cells = chart.cells[:, ::-1]  # from the right, as stitches are counted
    alike_before = (cells == np.roll(cells, 1, axis=1)).all(axis=0)
    reach = min(reach, chart.columns)
    plain = np.ones(chart.columns, dtype=bool)
    for away in range(-reach - 1, reach + 2):
        plain &= np.roll(alike_before, away)
    # The first start of a plain stretch stands for the others.
    stands_for_itself = ~(plain & np.roll(plain, 1))
    stands_for_itself[0] = True
    return (np.flatnonzero(stands_for_itself) + 1).tolist()


def best_start(starts: Sequence[Start]) -> Start:
    """The start with the fewest strands, then middle starts, then the least carried.

    Of equals the first, so the present one wherever none is better.
    """
    return min(starts, key=lambda start: start.rank)


def starts_in_words(project: Project, starts: Sequence[Start]) -> list[str]:
    """Which start of the round is best, with figures for it and for the present one."""
    now, best = starts[0], best_start(starts)
    columns = project.chart.columns
    lines = [f"As the round begins now: {now}."]
    if best == now:
        lines.append(f"None of the {columns} starts of the round takes less.")
        return lines
    lines.append(
        f"Best of {columns} starts, between stitches {best.stitch - 1} and {best.stitch} from the "
        f"right: {best}."
    )
    if best.strands == now.strands:
        lines.append("No start takes fewer strands.")
    if project.choices:
        lines.append(
            "Your own choices name stitches as they are counted now: with another start they have "
            "to be made again."
        )
    return lines
