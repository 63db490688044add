"""Notes in mid-row: a supply that ran short, a new piece, two that were exchanged, a pause."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from planner.errors import PlanError
from planner.knitting import Mark, check_supply, hanging_parts, place_in_row
from planner.piece import EXCHANGED, JOINED, LEFT, SHORT, STOPPED, rows_worked
from planner.plan import Plan
from planner.supplies import Part
from planner.units import CM_PER, LONG_UNIT
from planner.workbook.asking import Values, asking
from planner.workbook.common import metres_per_gram
from planner.workbook.desk import Desk
from planner.workbook.fields import listed, number, offer, one_of, text, whole
from planner.workbook.panes import Form, notice
from planner.workbook.row_by_row import note

BETWEEN_ROWS = -1  # the run that is chosen where something is noted between two rows
KINDS = (
    ("I stop here", STOPPED),
    ("it ran short", SHORT),
    ("a new piece is joined to it", JOINED),
    ("two supplies are exchanged", EXCHANGED),
    ("what is left of it, measured", LEFT),
)
# What is asked for beside the place, by what is noted.
ASKED = {
    STOPPED: ("words",),
    SHORT: ("supply", "words"),
    JOINED: ("supply", "measured", "length", "words"),
    EXCHANGED: ("supply", "other", "words"),
    LEFT: ("supply", "measured", "length", "words"),
}


def cm_per_unit(plan: Plan, letter: str, unit: str) -> float:
    """The length of one `unit` of a yarn, cm; of one gram, as its band has it."""
    if unit != "g":
        return float(CM_PER[unit])
    per_gram = metres_per_gram(plan.project.all_yarns[letter])
    if per_gram is None:
        raise PlanError(
            f"Yarn {letter} has no length and weight of a ball in yarns.csv, so measure its length."
        )
    return 100 * per_gram


def stitches_worked(plan: Plan, run: int, after: int) -> int:
    """How many stitches of the row on the needles are worked: so many of one of its runs."""
    card = plan.cards[rows_worked(plan.project.progress)]
    line = card.lines[run]
    if not 1 <= after <= line.stitches:
        raise PlanError(
            f"{line.name} {line.strand} has {line.stitches} stitches in {card.name}; after how "
            f"many of them is it? You gave {after}."
        )
    return line.so_far - line.stitches + after


@dataclass(frozen=True)
class Happened:
    """What happens in the row on the needles, as it is filled in.

    `run` counts the runs of the row and `after` the stitches of that run that are worked; `supply`
    and `other` are titles of parts.
    """

    what: str
    run: int
    after: int
    supply: str | None = None
    other: str | None = None
    measured: str = "m"
    length: float = 0
    words: str = ""


def note_in_row(desk: Desk, happened: Happened) -> str:
    """Note what happens in the row on the needles, or before it; says so as HTML."""
    plan, what = desk.plan, happened.what
    done = rows_worked(desk.project.progress)
    is_between = happened.run == BETWEEN_ROWS or done == len(plan.cards)
    row, stitch, where = done, 0, f"after row {done}"
    if not is_between:
        row, stitch = done + 1, stitches_worked(plan, happened.run, happened.after)
        where = place_in_row(plan, row, stitch)
    values: dict[str, Any] = {"stitch": stitch, "note": happened.words.strip()}
    if what == STOPPED:
        note(desk, [Mark(what, row)], doing="a pause", **values)
        return notice(f"You stop {where}.")

    part = _part(desk, happened.supply)
    values |= {"strand": part.label, "part": part.name}
    told = {
        SHORT: f"{part.title} ran short",
        JOINED: f"A new piece is joined to {part.title}",
        LEFT: f"What is left of {part.title} is noted",
    }.get(what, "")
    if what in (JOINED, LEFT):
        if not happened.length > 0:
            raise PlanError("How long is it? Measure or weigh it, tail included.")
        in_cm = happened.length * cm_per_unit(plan, part.yarn, happened.measured)
        values["length_cm"] = round(in_cm, 2)
    if what == EXCHANGED:
        values["other"] = _exchanged(desk, part, happened.other)
        told = f"{part.title} and {values['other']} are exchanged"
    note(desk, [Mark(what, row)], doing=f"{what} {part.title}", **values)
    ends = ""
    if what == JOINED and not plan.project.all_yarns[part.yarn].can_be_spliced:
        ends = " Two more ends to sew in, for this yarn does not felt."
    return notice(f"{told} {where}.{ends}")


def _part(desk: Desk, title: str | None) -> Part:
    """The part of this title, which must hang."""
    check_supply(desk.plan, desk.project.progress, title or "supply")
    return next(held.part for held in desk.plan.held if held.part.title == title)


def _exchanged(desk: Desk, part: Part, title: str | None) -> str:
    """The supply that was taken for a part's own."""
    other = _part(desk, title)
    if other.title == part.title:
        raise PlanError(f"Which supply was taken for {title}? Choose another than {title} itself.")
    if other.yarn != part.yarn:
        raise PlanError(
            f"{part.title} is of yarn {part.yarn} and {other.title} of yarn {other.yarn}: the "
            "stitches would have another colour. Take the row back."
        )
    return other.title


def in_row_form(desk: Desk) -> Form:
    """What happens in the row on the needles, noted where it happens."""
    unit = LONG_UNIT[desk.project.units]
    measured, length = one_of("measured in", (unit, "g")), number("length, tail included")

    def runs() -> Iterable[tuple[str, int]]:
        yield "between two rows", BETWEEN_ROWS
        cards = desk.plan.cards[rows_worked(desk.project.progress) :]
        for number_of, line in enumerate(cards[0].lines if cards else ()):
            yield f"{line.stitches} {line.name} {line.strand}", number_of

    def supplies() -> list[str]:
        return hanging_parts(desk.plan, desk.project.progress)

    def shown(values: Values) -> list[str]:
        after = [] if values["run"] == BETWEEN_ROWS else ["after"]
        return ["what", "run", *after, *ASKED[values["what"]]]

    # What is typed already keeps its meaning when the units of the piece are changed.
    def follow() -> None:
        nonlocal unit
        before, unit = unit, LONG_UNIT[desk.project.units]
        if measured.value == before != unit:
            length.value = round(length.value * float(CM_PER[before] / CM_PER[unit]), 4)
        offer(measured, (unit, "g"))

    def noted(**values: Any) -> str:
        return note_in_row(desk, Happened(**values))

    desk.on_change(follow)
    return asking(
        noted,
        button="Note it",
        shown=shown,
        what=one_of("what happens", KINDS),
        run=listed("where", desk, runs),
        after=whole("after so many of its stitches", 1, least=1),
        supply=listed("supply", desk, supplies),
        other=listed("the other one", desk, supplies),
        measured=measured,
        length=length,
        words=text("in your words"),
    )
