"""The ends still to be sewn in, area by area, and where to run each.

Said as the back shows it, for that is where the hand works: with the back up and the cast-on edge
towards the knitter, right and left change over, and stitch 12 from the right is the 12th from the
left. An end beside another colour goes round that colour's yarn first: it then draws the two edge
stitches together, while straight into its own colour it would draw them apart (common practice, no
source).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from planner.finishing.paths import LEAST_ROWS, Paths, Way
from planner.piece import SEWN_IN, Entry, standing
from planner.plan import Plan
from planner.rows import End, ends_caught
from planner.units import counted

EMBROIDERY, AT_CAST_ON = "embroidery", "cast-on"
WHATS = {
    "start": "starts",
    "stop": "ends",
    "join": "is joined",
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
Mark = tuple[str, int, str]  # an end as the log has it: its strand, its row from 1, its place


@dataclass(frozen=True)
class LeftEnd:
    """An end and how it is run.

    `number` counts the ends of the piece in the order of the hand. `way` is None for what is
    embroidered with, which is run behind its own stitches, and for what is cast on with, which is
    run along that edge.
    """

    number: int
    end: End
    is_sewn: bool
    way: Way | None

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
    ends = sorted(plan.ends_to_sew, key=_place_on_page)
    paths = Paths(plan)
    found: list[LeftEnd] = []
    for end, is_sewn in zip(ends, _are_sewn(plan, ends), strict=True):
        is_apart = end.what in (EMBROIDERY, AT_CAST_ON)
        way = None if is_apart else paths.way(end)
        found.append(LeftEnd(len(found) + 1, end, is_sewn, way))
    return found


def still_to_sew(plan: Plan) -> list[bool]:
    """Of each end, in the order of the plan's, whether the log does not have it as sewn in."""
    return [not sewn for sewn in _are_sewn(plan, plan.ends_to_sew)]


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
    return sum(still_to_sew(plan))


def how_to_sew(plan: Plan) -> str:
    """How the piece is laid, and how an end is run."""
    lying = INSIDE_OUT if plan.traced.how.is_tube else BACK_UP
    return f"{lying} {RUN_LOOSELY}"


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


def how_to_run(each: LeftEnd, plan: Plan) -> str:
    """Where an end lies and where it is run, in a sentence."""
    end, how = each.end, plan.traced.how
    if end.what == EMBROIDERY:
        return f"{end.strand}: behind its own stitches, after blocking"
    where = f"{how.row_word} {end.row + 1}, stitch {end.stitch}"
    lies = f"{end.strand} {WHATS[end.what]} in {where}"
    if each.way is None:
        return f"{lies}: along the cast-on edge"
    return f"{lies}: {', then '.join(_steps(each.way, plan))}"


def _steps(way: Way, plan: Plan) -> Iterator[str]:
    """What is done with an end, step by step."""
    yarns = plan.project.all_yarns
    back = " and back" if way.is_short else ""
    if way.hole:
        yield f"round {yarns[way.hole].title} on its {way.hole_side}"
    if way.stitches:
        behind = counted(way.stitches, "stitch")
        last = "" if way.rows or way.stitches < LEAST_ROWS else back
        yield f"to the {way.side} behind {behind} of its own row{last}"
    if way.rows:
        yield f"{_along_border(way, plan)}{back}"
    elif way.stitches < LEAST_ROWS:
        yield "on behind the next stitches, where it does not show"


def _along_border(way: Way, plan: Plan) -> str:
    how, yarns = plan.traced.how, plan.project.all_yarns
    if way.beyond and (way.beyond, way.side) == (way.hole, way.hole_side):
        along = "along that border"
    elif way.beyond:
        along = f"along its border with {yarns[way.beyond].title} on the {way.side}"
    elif how.is_tube:
        along = "behind its own stitches"
    else:
        along = f"along the {way.side} edge of the piece"
    upwards = "up" if way.upwards else "down"
    rows = counted(way.rows, "ridge" if how.rows_per_chart_row > 1 else "row")
    return f"{upwards} {along}, over {rows}"
