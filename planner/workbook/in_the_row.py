"""Notes in mid-row: a supply that ran short, a new piece, two that were exchanged, a pause."""

from __future__ import annotations

import html
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import Any

import ipywidgets as widgets

from planner.errors import PlanError
from planner.knitting import (
    Mark,
    check_supply,
    free_notes,
    hanging_parts,
    note_in_words,
    noted_now,
    place_in_words,
    run_in_words,
    taken_out,
)
from planner.piece import EXCHANGED, JOINED, LEFT, NOTED, SHORT, STOPPED, rows_worked
from planner.plan import Plan
from planner.supplies import Part
from planner.units import CM_PER, LONG_UNIT, counted, exact, figure, show
from planner.workbook.asking import Values, asking, heard, title
from planner.workbook.common import metres_per_gram, quiet
from planner.workbook.desk import Desk
from planner.workbook.fields import button, labelled, listed, offer, one_of, text, whole
from planner.workbook.noting import note
from planner.workbook.panes import Form, Pane, notice

BETWEEN_ROWS = -1  # in place of a run, where something is noted between two rows
KINDS = (
    ("I stop here", STOPPED),
    ("it ran short", SHORT),
    ("a new length is joined to it", JOINED),
    ("two supplies are exchanged", EXCHANGED),
    ("what is left of it, measured", LEFT),
)
WITH_ITS_ROW = "Say where, by the run on the needles. It goes if its row is taken back."
YOUR_OWN = (
    "In your words, about any {}: it stands on that {}'s card, here, on the phone and on paper."
)
# What is asked for beside the place, by what is noted.
ASKED = {
    STOPPED: ("words",),
    SHORT: ("supply", "words"),
    JOINED: ("supply", "length", "measured", "words"),
    EXCHANGED: ("supply", "other", "words"),
    LEFT: ("supply", "length", "measured", "words"),
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


def stitches_worked(plan: Plan, row: int, run: int, after: int) -> int:
    """How many stitches of a row (from 0) are worked after so many of one of its runs."""
    card = plan.cards[row]
    line = card.lines[run]
    if not 1 <= after <= line.stitches:
        raise PlanError(
            f"{run_in_words(plan, row, run)} are worked in {card.name}; after how many of them is "
            f"it? You gave {after}."
        )
    return line.so_far - line.stitches + after


@dataclass(frozen=True)
class Happened:
    """What happens in the row on the needles, or before it, as it is filled in.

    `where` is that row, from 0, and one of its runs or BETWEEN_ROWS; `after` counts the stitches of
    the run that are worked; `supply` and `other` are titles of parts.
    """

    what: str
    where: tuple[int, int]
    after: int = 1
    supply: str | None = None
    other: str | None = None
    measured: str = "m"
    length: float = 0
    words: str = ""


def note_in_row(desk: Desk, happened: Happened) -> str:
    """Note what happens in the row on the needles, or before it; says so as HTML."""
    before, what = desk.plan, happened.what
    done, (row, run) = rows_worked(desk.project.progress), happened.where
    if row != done:
        raise PlanError("Another row is on the needles by now. Look at the card again.")
    stitch = 0
    if run != BETWEEN_ROWS:
        stitch = stitches_worked(before, row, run, happened.after)
    place = place_in_words(before, done, stitch)
    values: dict[str, Any] = {"stitch": stitch, "note": happened.words.strip()}
    # In mid-row it belongs to the row that is being worked.
    mark = Mark(what, done + 1 if stitch else done)
    if what == STOPPED:
        note(desk, [mark], doing="a pause", **values)
        return notice(f"You stop {place}.")

    part = _part(desk, happened.supply)
    values |= {"strand": part.label, "part": part.name}
    told = f"{part.title} ran short {place}."
    if what in (JOINED, LEFT):
        values["length_cm"] = length_cm = _length_cm(before, part, happened)
        length = show(length_cm, before.project.units)
        joined = f"{length} are joined to {part.title} {place}."
        told = joined if what == JOINED else f"{length} of {part.title} are left {place}."
    if what == EXCHANGED:
        values["other"] = _exchanged(desk, part, happened.other)
        told = f"{part.title} and {values['other']} are exchanged {place}."
    note(desk, [mark], doing=f"{what} {part.title}", **values)
    # A yarn that felts leaves no ends, and one that was planned to be joined here no more.
    more = desk.plan.ends_in_all - before.ends_in_all
    ends = f" That makes {counted(more, 'more end')} to sew in." if more > 0 else ""
    return notice(f"{told}{ends}")


def _length_cm(plan: Plan, part: Part, happened: Happened) -> float:
    """The length that is filled in, cm."""
    if not happened.length > 0:
        raise PlanError(f"How long is {part.title}? Measure or weigh it, tail included.")
    return round(happened.length * cm_per_unit(plan, part.yarn, happened.measured), 2)


def _part(desk: Desk, title: str | None) -> Part:
    """The part of this title, which must hang."""
    check_supply(desk.plan, desk.project.progress, title)
    return next(held.part for held in desk.plan.held if held.part.title == title)


def _exchanged(desk: Desk, part: Part, title: str | None) -> str:
    """The supply that was taken for a part's own."""
    other = _part(desk, title)
    if other.title == part.title:
        raise PlanError(f"Which supply was taken for {title}? Choose another than {title} itself.")
    if other.yarn != part.yarn:
        word = desk.plan.traced.how.row_word
        raise PlanError(
            f"{part.title} is of yarn {part.yarn} and {other.title} of yarn {other.yarn}: the "
            f"stitches would have another colour. Take the {word} back."
        )
    return other.title


def _number(typed: str) -> float:
    """The number that was typed, 0 where nothing was."""
    return float(exact(typed, "The length")) if typed.strip() else 0.0


def _runs(desk: Desk) -> Callable[[], Iterable[tuple[str, tuple[int, int]]]]:
    """The places in the row on the needles, as they are said and as they are noted."""

    # With its row, so that a run of one row is not taken for that of another.
    def runs() -> Iterable[tuple[str, tuple[int, int]]]:
        row = rows_worked(desk.project.progress)
        yield f"between two {desk.plan.traced.how.row_word}s", (row, BETWEEN_ROWS)
        for card in desk.plan.cards[row : row + 1]:
            for run in range(len(card.lines)):
                yield run_in_words(desk.plan, row, run), (row, run)

    return runs


def _hanging(desk: Desk) -> Callable[[], list[str]]:
    return lambda: hanging_parts(desk.plan, desk.project.progress)


def in_row_form(desk: Desk) -> Form:
    """What happens in the row on the needles, noted where it happens; the notes to take out."""
    told = Pane(value=f'<p class="plan-note">{WITH_ITS_ROW}</p>')
    own = [title("A note of your own"), _own_note_form(desk)]
    happens = [title("What happens with the yarns"), told, _noting_form(desk)]
    return Form([*own, *happens, _notes_form(desk)])


def write_note(desk: Desk, row: int, words: str) -> str:
    """Keep a note in the knitter's own words about a row, from 1; says so as HTML."""
    rows, word = len(desk.plan.cards), desk.plan.traced.how.row_word
    written = " ".join(words.split())
    if not written:
        raise PlanError("The note is empty. Write what you want to read again.")
    if not 1 <= row <= rows:
        raise PlanError(f"There is no {word} {row}: the piece has {counted(rows, word)}.")
    note(desk, [Mark(NOTED, row)], doing=f"a note about {word} {row}", note=written)
    return notice(f"kept with {word} {row}: {html.escape(written)}")


def _own_note_form(desk: Desk) -> Form:
    """A note in the knitter's own words about a row: at first the one on the needles."""
    row = whole("row", _row_on_needles(desk), least=1)
    words = labelled(widgets.Textarea, "your note", rows=2)
    told = quiet(desk, lambda plan: YOUR_OWN.format(*[plan.traced.how.row_word] * 2))
    shown = row.value

    # What is typed stays while something else is changed.
    def follow() -> None:
        nonlocal shown
        row.description = desk.plan.traced.how.row_word
        if shown != _row_on_needles(desk):
            shown = row.value = _row_on_needles(desk)

    def arrived() -> None:
        words.value, row.value = "", _row_on_needles(desk)

    def keep(row: int, words_typed: str) -> str:
        answer = write_note(desk, row, words_typed)
        words.value = ""
        return answer

    desk.on_change(follow)
    desk.on_arrival(arrived)
    follow()
    return Form([told, asking(keep, button="Keep the note", row=row, words_typed=words)])


def _row_on_needles(desk: Desk) -> int:
    """The row on the needles, from 1; the last one when all are worked."""
    return min(rows_worked(desk.project.progress) + 1, len(desk.plan.cards))


def _noting_form(desk: Desk) -> Form:
    """What happens in the row on the needles."""
    # Empty at first: a length of 0 would soon be noted by mistake.
    length = text("length, tail included", placeholder="such as 3.5")
    measured = one_of("measured in", (LONG_UNIT[desk.project.units], "g"))
    words = text("in your words")
    where, supply = listed("where", desk, _runs(desk)), listed("supply", desk, _hanging(desk))

    def shown(values: Values) -> list[str]:
        _, run = values["where"]
        after = [] if run == BETWEEN_ROWS else ["after"]
        return ["what", "where", *after, *ASKED[values["what"]]]

    # What is noted is not noted once more with the next, nor what was typed for another piece.
    def forget() -> None:
        length.value = words.value = ""

    def noted(**values: Any) -> str:
        # What is typed where nothing is asked for is not looked at.
        asks_for_length = values["what"] in (JOINED, LEFT)
        values["length"] = _number(values["length"]) if asks_for_length else 0.0
        answer = note_in_row(desk, Happened(**values))
        forget()
        return answer

    # It is mostly the yarn in hand.
    def take_its_yarn(_: Any) -> None:
        row, run = where.value
        if run != BETWEEN_ROWS:
            supply.value = desk.plan.cards[row].lines[run].strand

    _keep_its_meaning(desk, length, measured)
    desk.on_arrival(forget)
    where.observe(take_its_yarn, names="value")
    return asking(
        noted,
        button="Note it",
        shown=shown,
        what=one_of("what happens", KINDS),
        where=where,
        after=whole("after so many of its stitches", 1),
        supply=supply,
        other=listed("the other one", desk, _hanging(desk)),
        measured=measured,
        length=length,
        words=words,
    )


def _keep_its_meaning(desk: Desk, length: widgets.Text, measured: widgets.Dropdown) -> None:
    """Let what is typed keep its meaning when the units of the piece are changed."""
    unit = LONG_UNIT[desk.project.units]

    def follow() -> None:
        nonlocal unit
        before, unit = unit, LONG_UNIT[desk.project.units]
        if measured.value == before != unit:
            # What is no number is refused when it is noted.
            with suppress(PlanError):
                converted = _number(length.value) * float(CM_PER[before] / CM_PER[unit])
                length.value = figure(converted, 4) if converted else length.value
        offer(measured, (unit, "g"))

    desk.on_change(follow)


def take_out(desk: Desk, number: int | None) -> str:
    """Take out the note of this number; says so as HTML."""
    if number is None:
        raise PlanError("There is no note to take out.")
    mark, values = taken_out(desk.project.progress, number)
    note(desk, [mark], doing="a note taken out", **values)
    return notice("the note is taken out.")


def _notes_form(desk: Desk) -> Form:
    """The knitter's own notes and those in the row on the needles, to take one out.

    It is hidden where there is none.
    """
    answer, which = Pane(), listed("all notes", desk, partial(_notes, desk))
    # A layout of its own, to be hidden by.
    which.layout = widgets.Layout(grid_column="1 / -1")
    out = button("Take this note out", icon="undo")

    def follow() -> None:
        shown = "" if which.options else "none"
        # Where there was none, none is chosen.
        if which.options and which.value is None:
            which.index = 0
        which.layout.display = out.layout.display = shown

    @heard(answer)
    def act() -> None:
        answer.value = take_out(desk, which.value)

    out.on_click(act)
    desk.on_change(follow)
    follow()
    return Form([which, out, answer])


def _notes(desk: Desk) -> list[tuple[str, int]]:
    """The notes in words, and their numbers: those of this row, the last first, then the others.

    Of the others these are the knitter's own, with their rows.
    """
    log, word = desk.project.progress, desk.plan.traced.how.row_word
    noted = noted_now(log)
    listed = [(note_in_words(desk.plan, each), each.number) for each in reversed(noted)]
    for each in free_notes(log):
        if each not in noted:
            listed.append((f"{word} {each.row}: {each.note}", each.number))
    return listed
