"""The ends still to be sewn in, area by area, and where to run each.

Said as the back shows it, for that is where the hand works: with the back up and the cast-on edge
towards the knitter, right and left change over, and stitch 12 from the right is the 12th from the
left. An end beside another colour goes round that colour's yarn first: it then draws the two edge
stitches together, while straight into its own colour it would draw them apart (common practice, no
source).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby

import numpy as np
import pandas as pd

from planner.finishing.paths import LEAST_ROWS, Paths, Way
from planner.piece import SEWN_IN, Entry, rows_worked, standing
from planner.plan import Plan
from planner.rows import End, ends_caught
from planner.units import counted

EMBROIDERY, AT_CAST_ON = "embroidery", "cast-on"
WHATS = {
    "start": "starts",
    "stop": "ends",
    "join": "is joined",
    EMBROIDERY: "is embroidered",
    AT_CAST_ON: "is cast on with",
}
BACK_UP = (
    "Lay the piece with its back up and the cast-on edge towards you: stitches count from the "
    "left, and left and right are as you see them."
)
INSIDE_OUT = (
    "Turn the piece inside out, the cast-on edge towards you: stitches count from the join to the "
    "right, and left and right are as you see them."
)
RUN_LOOSELY = (
    "Run each end loosely under the bumps of its own colour; stretch the piece and look at its "
    "right side before you cut."
)
ROUND = (
    "“Round” a yarn: lead the needle once round its loop beside the end, which shuts the border "
    "(common practice, no source)."
)
# The two threads of a long-tail cast-on leave its last stitch together; of a single thread the
# tail stays at the first stitch.
CAST_ON_TAILS = (
    "A long-tail cast-on leaves its tails where each yarn begins {row}; one with a single thread, "
    "knitted on or by a cable, leaves them at the other end."
)
Named = Callable[[str], str]  # what a yarn is called, by its letter
Mark = tuple[str, int, str]  # an end as the log has it: its strand, its row from 1, its place


@dataclass(frozen=True)
class LeftEnd:
    """An end and how it is run.

    `number` counts the ends of the piece in the order of the hand. `way` is None for what is
    embroidered with, which is run behind its own stitches, and for what is cast on with, which is
    run along that edge. `from_row` is how many rows are worked when it can be run, `sew_after` when
    the next sitting with the needle comes. `with_one_thread` is where it hangs, and its way, if its
    yarn was cast on with one thread; None for what is not cast on.
    """

    number: int
    end: End
    is_sewn: bool
    way: Way | None
    from_row: int
    sew_after: int
    with_one_thread: tuple[int, Way] | None = None

    @property
    def may_sew_seam(self) -> bool:
        """Whether it hangs at an edge of the piece, where a seam may want it."""
        is_apart = self.end.what == EMBROIDERY
        return not is_apart and (self.way is None or not self.way.hole)

    @property
    def mark(self) -> Mark:
        """The end as the log has it."""
        return _mark(self.end)


@dataclass(frozen=True)
class AreaOfEnds:
    """A colour area with its ends, those that are sewn in among them; chart rows from 1."""

    area: int
    yarn: str
    first_row: int
    last_row: int
    ends: tuple[LeftEnd, ...]

    @property
    def left(self) -> int:
        """How many are still to be sewn in."""
        return sum(not each.is_sewn for each in self.ends)


def _mark(end: End) -> Mark:
    return end.strand, end.row + 1, f"{end.what}, stitch {end.stitch}"


def marks_of(log: Iterable[Entry]) -> dict[Mark, list[int]]:
    """The ends that the log has as sewn in, each with the numbers of its lines, oldest first."""
    marks: dict[Mark, list[int]] = {}
    for entry in standing(log):
        if entry.what == SEWN_IN:
            mark = (entry.strand, entry.row, entry.note)
            marks.setdefault(mark, []).append(entry.number)
    return marks


def ends_to_run(plan: Plan) -> list[LeftEnd]:
    """Every end of the plan and where to run it, area by area from the bottom.

    What is embroidered with comes last, for that is sewn in last.
    """
    return list(_ends_of(plan))


@lru_cache(maxsize=4)
def _ends_of(plan: Plan) -> Sequence[LeftEnd]:
    """The ends of a plan, worked out once for all who ask."""
    paths = Paths(plan)
    # In working order, for an end keeps off those that were sewn in before it.
    found = [_to_run(plan, paths, end) for end in plan.ends_to_sew]
    found.sort(key=lambda each: _place_on_page(each.end))
    are_sewn = _are_sewn(plan, [each.end for each in found])
    numbered = enumerate(zip(found, are_sewn, strict=True), 1)
    return [replace(each, number=number, is_sewn=sewn) for number, (each, sewn) in numbered]


def _to_run(plan: Plan, paths: Paths, end: End) -> LeftEnd:
    """An end with its way, and when it can be gone."""
    way = None if end.what in (EMBROIDERY, AT_CAST_ON) else paths.way(end)
    rows = plan.traced.runs.rows
    from_row = paths.first_row(end, way) if way else end.row + 1
    if end.what == EMBROIDERY:
        # Duplicate stitch comes last, after blocking (common practice, no source).
        from_row = rows
    every = plan.project.habits.sew_every
    next_sitting = math.ceil(from_row / every) * every
    one_thread = None
    column = _far_end(plan, end)
    if column is not None:
        stitch = plan.traced.chart.columns - column
        one_thread = stitch, paths.way_from_far_end(end, column)
    return LeftEnd(0, end, False, way, from_row, min(next_sitting, rows), one_thread)


def _far_end(plan: Plan, end: End) -> int | None:
    """The column of the first stitch that an end's yarn is cast on with; None if it casts on none.

    The first row begins with the last stitch cast on, so it is the last one of its yarn there.
    """
    casts_on = plan.project.allow.section_cast_on and end.row == 0
    if not casts_on or end.what != "start":
        return None
    runs = plan.traced.runs
    strand = plan.traced.labels.index(end.strand)
    own = np.flatnonzero((plan.traced.of_run == strand) & (runs.row == 0))
    edges = runs.lo if runs.leftwards[0] else runs.hi
    return int(edges[own[-1]])


def _are_sewn(plan: Plan, ends: Iterable[End]) -> Iterator[bool]:
    """Whether each end is sewn in; of two at one place the first is taken for the one marked."""
    marks = marks_of(plan.project.progress)
    lines = Counter({mark: len(numbers) for mark, numbers in marks.items()})
    for end in ends:
        mark = _mark(end)
        yield lines[mark] > 0
        lines[mark] -= 1


def _place_on_page(end: End) -> tuple[bool, int, int, int]:
    return end.what == EMBROIDERY, end.area, end.row, end.stitch


def areas_of_ends(plan: Plan) -> list[AreaOfEnds]:
    """The ends by colour area, from the bottom of the piece up; embroidery is left out."""
    areas = plan.areas.set_index("area")
    knitted = [each for each in ends_to_run(plan) if each.end.what != EMBROIDERY]
    found = []
    for area, ends in groupby(knitted, key=lambda each: each.end.area):
        line = areas.loc[area]
        rows = int(line.first_chart_row), int(line.last_chart_row)
        found.append(AreaOfEnds(area, str(line.yarn), *rows, tuple(ends)))
    return found


def ends_left(plan: Plan) -> int:
    """How many ends are still to be sewn in, those of embroidery among them."""
    return sum(not each.is_sewn for each in ends_to_run(plan))


def how_far(plan: Plan) -> str:
    """How many rows are worked, while it is on the needles; "" when all are."""
    done, rows = rows_worked(plan.project.progress), plan.traced.runs.rows
    if done == rows:
        return ""
    worked = f"{done} of {counted(rows, plan.traced.how.row_word)} worked"
    return (
        f"Still on the needles: {worked}. What follows is for when it is off, but ends may be sewn "
        "in as you go."
    )


def not_there_yet(plan: Plan, each: LeftEnd) -> str:
    """From when an end can be sewn in, in words; "" if the rows that it is run along are there."""
    if each.from_row <= rows_worked(plan.project.progress):
        return ""
    return f"can be sewn in after {plan.traced.how.row_word} {each.from_row}"


def ends_to_draw_out(plan: Plan, stays: int) -> dict[LeftEnd, str]:
    """The ends sewn in along rows after `stays` (from 1), which are to be ripped, with words."""
    word, done = plan.traced.how.row_word, rows_worked(plan.project.progress)
    found = {}
    for each in ends_to_run(plan):
        end, begins = each.end, each.end.row + 1
        # What embroiders is run behind its own stitches, however late that is.
        reaches = begins if end.what == EMBROIDERY else each.from_row
        if each.is_sewn and min(reaches, done) > stays:
            along = "" if begins > stays else f", along {word}s that go"
            where = f"an end of {end.strand} was sewn in at stitch {end.stitch}{along}"
            found[each] = f"{word} {begins}: {where}; draw it out, its tick goes"
    return found


def how_to_sew(plan: Plan) -> str:
    """How the piece is laid, and how an end is run."""
    told = [INSIDE_OUT if plan.traced.how.is_tube else BACK_UP]
    ends = ends_to_run(plan)
    if any(each.way and each.way.hole for each in ends):
        told.append(ROUND)
    if any(each.with_one_thread for each in ends):
        told.append(CAST_ON_TAILS.format(row=f"{plan.traced.how.row_word} 1"))
    return " ".join([*told, RUN_LOOSELY])


def ends_apart(plan: Plan) -> list[str]:
    """What is no work of its own: ends caught while knitting, and those a seam may want."""
    told = []
    caught = _caught(plan)
    if caught:
        names = ", ".join(caught)
        told.append(
            f"{counted(plan.ends_caught, 'end')} more, caught as they were knitted ({names}): only "
            "trim them."
        )
    at_edges = [each for each in ends_to_run(plan) if each.may_sew_seam and not each.is_sewn]
    if at_edges and not plan.traced.how.is_tube:
        hang = "hangs" if len(at_edges) == 1 else "hang"
        told.append(
            f"{len(at_edges)} of them {hang} at an edge of the piece: where a seam comes, sew it "
            "with them first."
        )
    return told


def _caught(plan: Plan) -> list[str]:
    """The strands with an end that was caught as it was knitted."""
    if not plan.project.habits.tails_caught:
        return []
    casts_on = bool(plan.project.allow.section_cast_on)
    caught = ends_caught(plan.traced, plan.held, plan.joins, casts_on=casts_on)
    strands = plan.traced.of_run[[*caught.starts, *caught.joins]].tolist()
    return [plan.traced.labels[strand] for strand in dict.fromkeys(strands)]


def how_to_run(each: LeftEnd, plan: Plan, named: Named | None = None) -> str:
    """Where an end lies and where it is run, in a sentence; yarns by their titles, or as named."""
    end, way = each.end, way_in_words(each, plan, named)
    if end.what == EMBROIDERY:
        return f"{end.strand}: {way}"
    where = f"{plan.traced.how.row_word} {end.row + 1}, stitch {end.stitch}"
    return f"{end.strand} {WHATS[end.what]} in {where}: {way}"


def way_in_words(each: LeftEnd, plan: Plan, named: Named | None = None) -> str:
    """Where an end is run; yarns by their titles, or as they are named."""
    if each.end.what == EMBROIDERY:
        return "behind its own stitches, after blocking"
    if each.way is None:
        return "along the cast-on edge"
    told = _Told(plan, named or (lambda letter: plan.project.all_yarns[letter].title))
    words = told.way(each.way)
    if each.with_one_thread and each.with_one_thread != (each.end.stitch, each.way):
        stitch, way = each.with_one_thread
        words += f"; cast on with one thread, from stitch {stitch}: {told.way(way)}"
    return words


def ends_in_words(plan: Plan) -> pd.DataFrame:
    """The plan's table of ends with where each is run, in words, and after which rows."""
    # What lies at one place is told alike.
    place = {end: number for number, end in enumerate(plan.ends_to_sew)}
    in_working_order = sorted(ends_to_run(plan), key=lambda each: place[each.end])
    told = [
        {
            "run_seen_from_the_back": way_in_words(each, plan),
            "from_row": each.from_row,
            "sew_after_row": each.sew_after,
        }
        for each in in_working_order
    ]
    return pd.concat([plan.ends, pd.DataFrame(told)], axis=1)


class _Told:
    """Ways in words, with yarns as they are named."""

    def __init__(self, plan: Plan, named: Named):
        self.how, self.named = plan.traced.how, named

    def way(self, way: Way) -> str:
        return ", then ".join(self._steps(way))

    def _steps(self, way: Way) -> Iterator[str]:
        """What is done with an end, step by step."""
        back = " and back" if way.is_short else ""
        if way.hole:
            yield f"round {self.named(way.hole)} on its {way.hole_side}"
        if way.stitches:
            behind = counted(way.stitches, "stitch")
            last = "" if way.rows or way.stitches < LEAST_ROWS else back
            yield f"to the {way.side} behind {behind} of its own row{last}"
        if way.rows:
            yield f"{self._along_border(way)}{back}"
        elif way.stitches < LEAST_ROWS:
            yield "on behind the next stitches, where it does not show"

    def _along_border(self, way: Way) -> str:
        if way.beyond and (way.beyond, way.side) == (way.hole, way.hole_side):
            along = "along that border"
        elif way.beyond:
            along = f"along its border with {self.named(way.beyond)} on the {way.side}"
        elif self.how.is_tube:
            along = "behind its own stitches"
        else:
            along = f"along the {way.side} edge of the piece"
        upwards = "up" if way.upwards else "down"
        rows = counted(way.rows, "ridge" if self.how.rows_per_chart_row > 1 else "row")
        return f"{upwards} {along}, over {rows}"
