"""The ends still to be sewn in, area by area, and where to run each.

Said as the back shows it, for that is where the hand works: with the back up and the cast-on edge
towards the knitter, right and left change over, and stitch 12 from the right is the 12th from the
left. An end beside another colour goes round that colour's yarn first: it then draws the two edge
stitches together, while straight into its own colour it would draw them apart (common practice, no
source).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby, islice
from typing import Any

from planner.piece import SEWN_IN, Entry, standing
from planner.plan import Plan
from planner.rows import End, ends_caught
from planner.units import counted

# Rows or stitches: an end holds over 6 to 8 of its own (common practice, no source).
SEWN_OVER, HOLDS_OVER = 8, 6
LEAST_ROWS = 3  # over fewer there is nothing to hold an end
NEAR = 2  # stitches: a border so near is reached by itself
MOST_ASIDE = 4  # stitches by which a border may step from one row to the next
STEPS = {"left": -1, "right": 1}  # to the columns beside a stitch, as the right side shows it
BACK = {"left": "right", "right": "left"}
EMBROIDERY, AT_CAST_ON = "embroidery", "cast-on"
WHATS = {
    "start": "starts",
    "stop": "stops",
    "join": "is joined",
    AT_CAST_ON: "is cast on with",
}
BACK_UP = (
    "Lay the piece with its back up and the cast-on edge towards you: stitches count from the "
    "left, and left and right are as you see them. Sew by halves of the purl bumps, loosely, and "
    "look at the right side before you cut."
)
Mark = tuple[str, int, str]  # an end as the log has it: its strand, its row from 1, its place


@dataclass(frozen=True)
class LeftEnd:
    """An end and where to run it; sides are those of the back.

    `number` counts the ends of the piece in the order of the hand. `hole` is the yarn beside the
    end, round which it goes first, on `hole_side`; empty at an edge of the piece. Then it is run
    behind so many `stitches` of its own row towards `side`, then over so many `rows`, up or down,
    along its border there with the yarn `beyond`, empty at an edge of the piece.
    """

    number: int
    end: End
    is_sewn: bool
    hole: str = ""
    hole_side: str = ""
    side: str = ""
    beyond: str = ""
    stitches: int = 0
    rows: int = 0
    upwards: bool = True

    @property
    def may_sew_seam(self) -> bool:
        """Whether it hangs at an edge of the piece, where a seam may want it."""
        return not self.hole and self.end.what != EMBROIDERY

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
    sewn = Counter({mark: len(lines) for mark, lines in marks_of(plan.project.progress).items()})
    paths = _Paths(plan)
    ends = sorted(plan.ends_to_sew, key=_place_on_page)
    found = []
    for number, end in enumerate(ends, start=1):
        mark = _mark(end)
        is_sewn = sewn[mark] > 0
        sewn[mark] -= is_sewn
        found.append(paths.run(number, end, is_sewn=is_sewn))
    return found


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


class _Paths:
    """Where ends can be run, read off the knitted chart and its colour areas."""

    def __init__(self, plan: Plan):
        self.traced = plan.traced
        self.letters = plan.traced.chart.letters
        self.cells: list[list[int]] = plan.traced.chart.cells.tolist()
        self.areas: list[list[int]] = plan.area_of_cell.tolist()
        self.binds_off = bool(plan.project.allow.bind_off)
        self.how = plan.traced.how

    def run(self, number: int, end: End, *, is_sewn: bool) -> LeftEnd:
        """Where an end is run."""
        row = end.row // self.how.rows_per_chart_row
        if end.what in (EMBROIDERY, AT_CAST_ON):
            return LeftEnd(number, end, is_sewn=is_sewn)
        hangs_at = self._hangs_at(end)
        run = LeftEnd(
            number,
            end,
            is_sewn,
            hole=self._beside(row, end.column, hangs_at),
            hole_side=BACK[hangs_at],
        )
        along = self._along_border(end, row) or self._along_row(end, row, BACK[hangs_at])
        return replace(run, **along)

    def _along_border(self, end: End, row: int) -> dict[str, Any]:
        """How an end is run along the border that was planned for it; empty without room there."""
        side, upwards = end.sew_side, end.upwards
        border = self._border(row, end.column, side)
        aside = self._between(row, end.column, border, side)
        if aside <= NEAR:
            aside = 0
        if aside + LEAST_ROWS >= SEWN_OVER:
            return {"side": BACK[side], "stitches": min(aside + 1, SEWN_OVER)}
        # Its own stitch is the first that it goes behind.
        stitches = aside + 1 if aside else 0
        rows = self._rows_along(row, border, side, upwards=upwards)
        if rows < LEAST_ROWS:
            # The other way there may be more of its own colour.
            upwards = not upwards
            rows = self._rows_along(row, border, side, upwards=upwards)
        if rows < LEAST_ROWS:
            return {}
        return {
            "side": BACK[side],
            "beyond": self._beside(row, border, side),
            "stitches": stitches,
            "rows": min(rows, SEWN_OVER - stitches),
            "upwards": upwards,
        }

    def _along_row(self, end: End, row: int, side: str) -> dict[str, Any]:
        """How an end is run behind its own stitches, away from where it hangs."""
        border = self._border(row, end.column, side)
        stitches = self._between(row, end.column, border, side) + 1
        return {"side": BACK[side], "stitches": min(stitches, SEWN_OVER)}

    def _hangs_at(self, end: End) -> str:
        """The side of its stitch, as the right side shows it, at which an end hangs."""
        leftwards = bool(self.traced.runs.leftwards[end.row])
        at_right = leftwards
        is_last = end.row == self.traced.runs.rows - 1
        is_bound_off = self.binds_off and is_last and self.how.is_turned
        if end.what == "stop" and not is_bound_off:
            at_right = not at_right
        return "right" if at_right else "left"

    def _along(self, row: int, column: int, side: str) -> Iterator[int]:
        """The worked columns of a row beside this one, on one side, the nearest first."""
        columns = len(self.cells[row])
        for away in range(1, columns):
            place = column + STEPS[side] * away
            if self.how.is_tube:
                place %= columns
            if not 0 <= place < columns:
                return
            if self.cells[row][place] >= 0:
                yield place

    def _beside(self, row: int, column: int, side: str) -> str:
        """The yarn of the stitch beside this one; "" at an edge, or where it is the same."""
        for place in self._along(row, column, side):
            yarn = self.cells[row][place]
            return "" if yarn == self.cells[row][column] else self.letters[yarn]
        return ""

    def _border(self, row: int, column: int, side: str) -> int:
        """The last column of a stitch's own area on one side."""
        area = self.areas[row][column]
        for place in self._along(row, column, side):
            if self.areas[row][place] != area:
                break
            column = place
        return column

    def _between(self, row: int, column: int, border: int, side: str) -> int:
        """How many stitches lie from one column of a row, left out, to another on one side."""
        if column == border:
            return 0
        return 1 + list(self._along(row, column, side)).index(border)

    def _rows_along(self, row: int, column: int, side: str, *, upwards: bool) -> int:
        """Over how many rows an end can be run in its own area along a border, as far as wanted."""
        area, step = self.areas[row][column], 1 if upwards else -1
        rows = 1
        while rows < SEWN_OVER:
            row += step
            if not 0 <= row < len(self.cells):
                break
            inwards = islice(self._along(row, column, BACK[side]), MOST_ASIDE)
            own = [place for place in (column, *inwards) if self.areas[row][place] == area]
            if not own:
                break
            column = self._border(row, own[0], side)
            rows += 1
        return rows


def how_to_run(each: LeftEnd, plan: Plan) -> str:
    """Where an end lies and where it is run, in a sentence."""
    end = each.end
    titles = {letter: yarn.title for letter, yarn in plan.project.all_yarns.items()}
    if end.what == EMBROIDERY:
        return f"{end.strand}: behind its own stitches, after blocking"
    word = plan.traced.how.row_word
    where = f"{word} {end.row + 1}, stitch {end.stitch}"
    lies = f"{end.strand} {WHATS[end.what]} in {where}"
    if end.what == AT_CAST_ON:
        return f"{lies}: along the cast-on edge"
    first = f"round {titles[each.hole]} on its {each.hole_side}, then " if each.hole else ""
    return f"{lies}: {first}{_where_to(each, titles, plan)}"


def _where_to(each: LeftEnd, titles: Mapping[str, str], plan: Plan) -> str:
    told = []
    if each.stitches:
        behind = counted(each.stitches, "stitch")
        told.append(f"to the {each.side} behind {behind} of its own row")
    if each.rows:
        told.append(_along_border(each, titles, plan))
    elif each.stitches < LEAST_ROWS:
        told.append("on behind the next stitches, where it does not show")
    # A short way is gone twice, or the end would slip out.
    back = "" if each.rows + each.stitches >= HOLDS_OVER else " and back"
    return f"{', then '.join(told)}{back}"


def _along_border(each: LeftEnd, titles: Mapping[str, str], plan: Plan) -> str:
    how = plan.traced.how
    way = "up" if each.upwards else "down"
    if each.beyond and (each.beyond, each.side) == (each.hole, each.hole_side):
        along = "along that border"
    elif each.beyond:
        along = f"along its border with {titles[each.beyond]} on the {each.side}"
    elif how.is_tube:
        along = "behind its own stitches"
    else:
        along = f"along the {each.side} edge of the piece"
    rows = counted(each.rows, "ridge" if how.rows_per_chart_row > 1 else "row")
    return f"{way} {along}, over {rows}"
