"""Notebook 6: finishing. What is left to do when the piece is off the needles."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import pandas as pd

import planner.workbook.desk as desks
from planner.errors import PlanError
from planner.finishing import (
    HOW_TO_TIGHTEN,
    LeftEnd,
    areas_of_ends,
    borders_to_tighten,
    edges_of,
    ends_apart,
    ends_left,
    ends_to_run,
    how_far,
    how_to_block,
    how_to_run,
    how_to_sew,
    loose_places,
    marks_of,
    measures_of,
    not_there_yet,
    pick_up,
    pick_up_in_words,
    seam_of,
    side_edges_of,
    size_of,
    to_cover,
    to_embroider,
    to_mind,
    unblocked,
)
from planner.folder import Stamp, open_project, read_set, stamp_of, with_entry
from planner.pictures import Spot, draw_back
from planner.piece import SEWN_IN, TAKEN_OUT, Entry, Project
from planner.plan import Plan, make_plan
from planner.units import CM_PER, counted
from planner.workbook.asking import asking, heard
from planner.workbook.common import quiet
from planner.workbook.desk import Desk
from planner.workbook.fields import button, listed, number, offer, one_of, values_of, yes
from planner.workbook.folds import SideBySide
from planner.workbook.noting import NO_PROGRESS
from planner.workbook.panes import Form, Pane, notice, picture_html, table_html, yarn_patch
from planner.workbook.pieces import pieces_to_choose
from planner.workbook.together import names_of_yarns

EMBROIDERY = 0  # stands for all that is embroidered; colour areas count from 1
# The piece on the desk, as it is and mirrored, among those to seam it to. No folder is called so.
ITSELF, MIRRORED = "", "/mirrored"
MIRROR = {"right edge": "left edge", "left edge": "right edge"}
FIRST_LINES = 8
NO_SIDES = "A tube has no side edges to seam."


# ---- the first screen


def to_finish(plan: Plan) -> str:
    """The size to block to, the ends that are left, and what is to be embroidered."""
    left, all_ends = ends_left(plan), plan.ends_in_all
    ends = f"all {counted(all_ends, 'end')} sewn in"
    if left:
        ends = f"{left} of {counted(all_ends, 'end')} left to sew in"
    areas = to_embroider(plan)
    embroidery = f"{counted(len(areas), 'area')} to embroider" if areas else "nothing to embroider"
    wrong = to_cover(plan)
    if wrong:
        places = f"wrong stitches to cover in {counted(len(wrong), 'place')}"
        embroidery = f"{embroidery}, {places}" if areas else places
    return f"Block to {size_of(plan)} · {ends} · {embroidery}"


def blocking_html(plan: Plan) -> str:
    """What to measure when blocking, and how to block."""
    measures = measures_of(plan)
    unit = plan.project.units
    cm = float(CM_PER[unit])
    lines = []
    for each in measures:
        lines.append(
            {
                "where": each.where,
                "what": each.what,
                "stitches": each.stitches or None,
                f"across_{unit}": each.across_cm and round(each.across_cm / cm, 1),
                "rows": each.rows or None,
                f"up_{unit}": each.up_cm and round(each.up_cm / cm, 1),
            }
        )
    table = pd.DataFrame(lines).astype({"stitches": "Int64", "rows": "Int64"})
    before = unblocked(plan)
    told = [before.in_words(unit)] if before else []
    return f"<h4>Block to</h4>{table_html(table)}{_list_html([*told, *how_to_block(plan)])}"


def left_html(plan: Plan) -> str:
    """The ends that are left, by colour area, and what is to be embroidered."""
    yarns = plan.project.all_yarns
    lines = [
        {
            "yarn": yarns[each.yarn].title,
            "chart rows": _rows(each.first_row, each.last_row),
            "ends": len(each.ends),
            "left": each.left,
        }
        for each in areas_of_ends(plan)
    ]
    table = table_html(pd.DataFrame(lines), first=FIRST_LINES, yarns=yarns)
    ends = f"<h4>Ends, area by area from the bottom</h4>{table}{_list_html(ends_apart(plan))}"
    return f"{ends}<h4>To embroider, after blocking</h4>{embroidery_html(plan)}"


def embroidery_html(plan: Plan) -> str:
    """What is embroidered, by yarn, wrong stitches that were kept for then, and what to mind."""
    areas = [f"{each.in_words(plan)}." for each in to_embroider(plan)]
    wrong = [f"Wrong stitches: {each}." for each in to_cover(plan)]
    if not areas and not wrong:
        return "<p>Nothing.</p>"
    told = _list_html([*areas, *wrong])
    return f"{told}{_list_html(to_mind(plan))}"


def _rows(first: int, last: int) -> str:
    return str(first) if first == last else f"{first}–{last}"


def _list_html(lines: Iterable[str]) -> str:
    items = "".join(f"<li>{html.escape(line)}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""


def finishing_form(desk: Desk) -> Form:
    """The first screen: what to block to, and what is left to do."""
    headline = desk.words(to_finish)
    headline.add_class("plan-headline")
    columns = SideBySide([desk.pane(blocking_html), desk.pane(left_html)])
    return Form([headline, quiet(desk, how_far), columns])


# ---- ends


def ends_title(plan: Plan) -> str:
    """How many ends are left."""
    return f"Sew in, area by area: {ends_left(plan)} of {counted(plan.ends_in_all, 'end')} left"


def mark_ends(desk: Desk, ends: Sequence[LeftEnd], *, sewn: bool) -> None:
    """Put down that these ends are sewn in, or, taken back, that they are not."""

    desk.folder(NO_PROGRESS)
    for each in ends if sewn else ():
        why_not = not_there_yet(desk.plan, each)
        if why_not:
            raise PlanError(f"{each.end.strand}: {why_not}. Mark rows as worked in notebook 4.")

    def marked(held: Project) -> Project:
        for each in ends:
            held = replace(held, progress=_marked(held, each, sewn=sewn))
        return held

    doing = f"{counted(len(ends), 'end')} {'sewn in' if sewn else 'not sewn in after all'}"
    desk.act(marked, doing=doing)


def _marked(held: Project, each: LeftEnd, *, sewn: bool) -> tuple[Entry, ...]:
    """The log with an end marked, or its mark taken out."""
    strand, row, note = each.mark
    if sewn:
        return with_entry(held, SEWN_IN, row, strand=strand, note=note)
    # Another notebook may have taken it out already.
    lines = marks_of(held.progress).get(each.mark, [])
    if not lines:
        return held.progress
    return with_entry(held, TAKEN_OUT, row, other=str(lines[-1]))


def areas_to_choose(plan: Plan) -> list[tuple[str, int]]:
    """The colour areas that have ends, as they are said, and their numbers."""
    yarns = plan.project.all_yarns
    areas = []
    for each in areas_of_ends(plan):
        rows = _rows(each.first_row, each.last_row)
        left = f"{each.left} left" if each.left else "all sewn in"
        row = "row " if each.first_row == each.last_row else "rows "
        areas.append((f"{yarns[each.yarn].title}, {row}{rows}: {left}", each.area))
    if to_embroider(plan):
        areas.append(("embroidery, last of all", EMBROIDERY))
    return areas


def ends_in(plan: Plan, area: int) -> list[LeftEnd]:
    """The ends of a colour area, or those of what is embroidered."""
    is_in = {EMBROIDERY: lambda end: end.what == "embroidery"}.get(
        area, lambda end: end.what != "embroidery" and end.area == area
    )
    return [each for each in ends_to_run(plan) if is_in(each.end)]


def back_html(plan: Plan, area: int, ends: Sequence[LeftEnd]) -> str:
    """The back of the piece, with these ends by their numbers, in this colour area."""
    spots = [Spot(each.number, each.end.row, each.end.column, each.is_sewn) for each in ends]
    columns = plan.traced.chart.columns
    for each in ends:
        if each.with_one_thread and each.with_one_thread[0] != each.end.stitch:
            column = columns - each.with_one_thread[0]
            spots.append(Spot(each.number, each.end.row, column, each.is_sewn, or_here=True))
    numbers = ", ".join(str(each.number) for each in ends)
    figure = draw_back(plan, area, spots)
    return picture_html(figure, f"The back of the piece with the ends {numbers} where they hang")


def waiting_html(plan: Plan, ends: Sequence[LeftEnd]) -> str:
    """Which of these ends cannot be ticked yet, and why, as HTML; "" if all can."""
    by_reason: dict[str, list[str]] = {}
    for each in ends:
        why_not = not_there_yet(plan, each)
        if why_not and not each.is_sewn:
            by_reason.setdefault(why_not, []).append(str(each.number))
    if not by_reason:
        return ""
    told = "; ".join(f"{', '.join(numbers)}: {why}" for why, numbers in by_reason.items())
    return f'<p class="plan-note">Not to be ticked yet: {html.escape(told)}.</p>'


class EndBoxes(Form):
    """The ends of a colour area, each with a box to tick when it is sewn in."""

    def __init__(self, desk: Desk):
        self.desk, self.message = desk, Pane()
        self.area = one_of("colour area", areas_to_choose(desk.plan))
        self.area.add_class("plan-ends-area")
        self.boxes, self.waiting, self.back = widgets.VBox(), Pane(), Pane()
        self.boxes.add_class("plan-ends")
        self.every = button("All of this area are sewn in", icon="check")
        self._showing = False
        self._pictured: tuple[Plan, int] | None = None
        actions = widgets.HBox([self.every])
        actions.add_class("plan-actions")
        self.area.observe(self._chosen, names="value")
        self.every.on_click(heard(self.message)(self._mark_all))
        desk.on_arrival(self._begin_anew)
        desk.on_change(self.show)
        self._begin_anew()
        told = quiet(desk, how_to_sew)
        column = Form([told, self.area, self.boxes, self.waiting, actions, self.message])
        super().__init__([SideBySide([column, self.back])])

    def _begin_anew(self) -> None:
        """Begin with the first area that has ends left."""
        plan, self.message.value = self.desk.plan, ""
        left = [each.area for each in areas_of_ends(plan) if each.left]
        with self.desk.lock:
            self._showing = True
            offer(self.area, areas_to_choose(plan))
            self.area.value = left[0] if left else values_of(self.area)[0]
            self._showing = False
        self.show()

    def _chosen(self, _: object) -> None:
        # What stands behind an area, how many are left, is changed without choosing another.
        if not self._showing:
            self.show()

    def show(self, _: object = None) -> None:
        """Show the ends of the area; boxes that are there already stay, and keep the focus."""
        with self.desk.lock:
            plan = self.desk.plan
            self._showing = True
            try:
                offer(self.area, areas_to_choose(plan))
                area = int(self.area.value)
                ends = ends_in(plan, area)
                self._show_boxes([f"{each.number}. {how_to_run(each, plan)}" for each in ends])
                for box, each in zip(self.boxes.children, ends, strict=True):
                    box.value = each.is_sewn
                    # A tick can always be taken out.
                    box.disabled = bool(not_there_yet(plan, each)) and not each.is_sewn
                self.waiting.value = waiting_html(plan, ends)
            finally:
                self._showing = False
            if self._pictured != (plan, area):
                self._pictured = plan, area
                self.back.value = back_html(plan, area, ends)

    def _show_boxes(self, labels: Sequence[str]) -> None:
        if labels != [box.description for box in self.boxes.children]:
            boxes = [self._box(place, label) for place, label in enumerate(labels)]
            self.boxes.children = boxes

    def _box(self, place: int, label: str) -> widgets.Checkbox:
        box = yes(label)

        @heard(self.message)
        def ticked() -> None:
            with self.desk.lock:
                if not self._showing:
                    self._mark(place, sewn=box.value)

        box.observe(ticked, names="value")
        return box

    def _mark(self, place: int, *, sewn: bool) -> None:
        each = ends_in(self.desk.plan, self.area.value)[place]
        try:
            if each.is_sewn != sewn:
                mark_ends(self.desk, [each], sewn=sewn)
        finally:
            # What was refused is as it was.
            self.show()

    def _mark_all(self) -> None:
        plan = self.desk.plan
        left = [each for each in ends_in(plan, self.area.value) if not each.is_sewn]
        there = [each for each in left if not not_there_yet(plan, each)]
        if there:
            mark_ends(self.desk, there, sewn=True)
        told = f"{counted(len(there), 'end')} marked as sewn in"
        if len(there) < len(left):
            told += f", {len(left) - len(there)} cannot be sewn in yet"
        self.message.value = notice(f"{told}.")


# ---- borders


def tighten_title(plan: Plan) -> str:
    """How many borders are long, and how long the longest is."""
    borders = borders_to_tighten(plan)
    word = plan.traced.how.row_word
    if not borders:
        return "Borders to tighten: no long one"
    longest = counted(borders[0].rows, word)
    return f"Borders to tighten: {len(borders)} long, the longest over {longest}"


def tighten_html(plan: Plan) -> str:
    """The places to look at, and how to tighten them."""
    places = _list_html(loose_places(plan)) or "<p>No border is long.</p>"
    return f'{places}<div class="plan-note">{html.escape(HOW_TO_TIGHTEN)}</div>'


# ---- edges


def pick_up_title(plan: Plan) -> str:
    """How many stitches are picked up along each edge."""
    told = []
    for edge in edges_of(plan):
        stitches = sum(each.stitches for each in pick_up(plan, edge))
        told.append(f"{edge} {stitches}")
    return f"Stitches to pick up by colour: {', '.join(told)}"


def pick_up_html(plan: Plan, *, edge: str, band: float) -> str:
    """What to pick up along an edge, colour by colour."""
    yarns = plan.project.all_yarns
    picked = pick_up(plan, edge, band_stitches=band)
    lines = pick_up_in_words(plan, edge, band_stitches=band)
    told, by_colour = lines[: -len(picked)], lines[-len(picked) :]
    items = [
        f"<li>{yarn_patch(yarns[each.yarn].colour)}{html.escape(line)}</li>"
        for each, line in zip(picked, by_colour, strict=True)
    ]
    return f"<p>{html.escape(' '.join(told))}</p><ol>{''.join(items)}</ol>"


def pick_up_form(desk: Desk) -> Form:
    """Stitches to pick up along an edge that is chosen, by colour."""
    edge = listed("edge", desk, lambda: edges_of(desk.plan))
    band = number("stitches in the band's gauge")

    def begin_anew() -> None:
        band.value = 0
        _first_of(edge, edges_of(desk.plan))

    desk.on_arrival(begin_anew)
    return asking(lambda **typed: pick_up_html(desk.plan, **typed), desk=desk, edge=edge, band=band)


def _first_of(box: widgets.Dropdown, options: Iterable[Any]) -> None:
    """Offer what another piece has, and choose the first: what was chosen was of the one before."""
    offer(box, options)
    box.index = 0


# ---- seams


def seams_title(plan: Plan) -> str:
    """How its two sides meet."""
    sides = side_edges_of(plan)
    if not sides:
        return "Seams: none, it is a tube"
    seam = seam_of(plan, sides[0], plan, sides[1])
    word = plan.traced.how.row_word
    return (
        f"Seams: side to side, {seam.meeting} of {counted(seam.rows, word)} meet their own colour"
    )


@lru_cache(maxsize=8)
def _plan_in(folder: Path, stamp: Stamp) -> Plan:
    """The plan of another piece, made again when its files have changed."""
    return make_plan(open_project(folder))


def seam_html(desk: Desk, *, edge: str, piece: str, other_edge: str) -> str:
    """A seam with another piece, or of this piece with itself, from the bottom up."""
    plan = other = desk.plan
    names: Mapping[str, str] = {}
    if not side_edges_of(plan):
        return f"<p>{NO_SIDES}</p>"
    if piece == MIRRORED:
        other_edge = MIRROR[other_edge]
    elif piece != ITSELF:
        folder = desks.DATA / piece
        other = _plan_in(folder, stamp_of(folder))
        names = names_of_yarns(desk, piece)
    seam = seam_of(plan, edge, other, other_edge, other_names=names)
    first, *lines = seam.in_words(plan)
    return f"<p>{html.escape(first)}</p>{_list_html(lines)}"


def other_pieces(desk: Desk) -> list[tuple[str, str]]:
    """The pieces that this one may be seamed to: itself, those of its set, and others beside it."""
    folder = desk.project.folder
    own = {folder.name, str(folder)} if folder else {""}
    others = [(title, place) for title, place in pieces_to_choose(desk) if place not in own]
    in_set = _in_set()
    others.sort(key=lambda piece: piece[1] not in in_set)
    own_too = [("this piece or one like it", ITSELF), ("the same, mirrored", MIRRORED)]
    return [*own_too, *others]


def _in_set() -> set[str]:
    """The folders of the pieces that are one set; none where there is no set that can be read."""
    try:
        found = read_set(desks.DATA, all_there=False)
    except PlanError:
        return set()
    return {piece.folder for piece in found.pieces} if found else set()


def seams_form(desk: Desk) -> Form:
    """A seam of two edges that are chosen."""
    right, left = "right edge", "left edge"
    edge = one_of("edge of this piece", (right, left))
    piece = listed("sewn to", desk, lambda: other_pieces(desk))
    other_edge = one_of("its edge", (left, right))

    def begin_anew() -> None:
        edge.index = other_edge.index = 0
        _first_of(piece, other_pieces(desk))

    desk.on_arrival(begin_anew)
    return asking(
        lambda **typed: seam_html(desk, **typed),
        desk=desk,
        edge=edge,
        piece=piece,
        other_edge=other_edge,
    )
