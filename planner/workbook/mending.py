"""Notebook 4: a wrong stitch or a hole, touched on the chart or typed, and what each cure costs."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import ipywidgets as widgets
import pandas as pd
import traitlets

from planner.errors import PlanError
from planner.finishing import TO_COVER, ends_to_draw_out
from planner.knitting import Mark, free_notes
from planner.mending import (
    COVER,
    FAULTS,
    KNIT_BACK,
    WRONG_YARN,
    Cure,
    Fault,
    Ripped,
    Stitch,
    Work,
    cures,
    cures_table,
    numbers_in_words,
    places_to_cover,
    rip_back,
    standing_in_words,
)
from planner.piece import LEFT, NOTED, STOPPED, rows_worked
from planner.plan import Plan
from planner.units import counted
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import button, listed, one_of, whole
from planner.workbook.folds import SideBySide
from planner.workbook.noting import NO_PROGRESS, Line, goes_with_the_rows, note_lines
from planner.workbook.offered import Item, without_grade
from planner.workbook.offers import SpotChart
from planner.workbook.panes import Form, Pane, notice, table_html
from planner.workbook.row_by_row import mark_rows

HOW_TO_SAY = (
    "Touch what is wrong on the knitted part of the chart, each stitch of it, or type its row and "
    "stitch. Touched once more, it is forgotten."
)
NOTHING_KNITTED = "Nothing is knitted yet; the chart can still be changed."
IN_ORDER = "The least work comes first."
RUNGS = "A rung is the bar of yarn between two stitches that is left when a stitch is let down."
HOW_KNOWN = (
    '<details class="plan-note"><summary>How well is this known?</summary>How stitches are mended '
    "is told here as knitters commonly do it; no published source is behind it. How many stitches "
    "beside a place can give yarn, and how much, is our own judgement. What is counted, rows, "
    "stitches, rungs, ends and which yarn lies where, comes from the plan.</details>"
)
KEPT = "kept, and listed in notebook 6 under what is embroidered after blocking: {}."
KEPT_ALREADY = "That is kept already. The note can be taken out under “Notes” in this notebook."
SINCE_THEN = "The piece has changed since. Look at what is said now."
TAKEN_OFF = "taken off again: {}."
AS_RIPPED = "measured before rows were ripped back, and what they gave added"


def mending_title(plan: Plan) -> str:
    """What can be mended, for the heading of the fold."""
    done, word = rows_worked(plan.project.progress), plan.traced.how.row_word
    told = f"in {counted(done, word)} worked so far" if done else "nothing is knitted yet"
    return f"Mend it here, a wrong stitch or a hole: {told}"


# ---- what is said, plain functions of the plan


def cures_html(plan: Plan, found: list[Cure]) -> str:
    """The cures of a fault as HTML: what each costs, then what is done, the first one unfolded."""
    table = table_html(cures_table(found, plan.project.units))
    told = IN_ORDER
    if any(cure.rungs for cure in found):
        told = f"{IN_ORDER} {RUNGS}"
    parts = [table, f'<p class="plan-note">{html.escape(told)}</p>']
    for cure in found:
        if not cure.barred:
            is_first = cure is found[0]
            parts.append(_cure_html(cure, is_open=is_first))
    return "".join([*parts, HOW_KNOWN])


def _cure_html(cure: Cure, *, is_open: bool) -> str:
    """What is done in a cure, step by step, and what to mind."""
    title = html.escape(cure.name[0].upper() + cure.name[1:])
    steps = "".join(f"<li>{html.escape(without_grade(step))}</li>" for step in cure.steps)
    mind = "".join(f"<li>{html.escape(without_grade(each))}</li>" for each in cure.mind)
    minded = f"<p>Mind:</p><ul>{mind}</ul>" if mind else ""
    opened = " open" if is_open else ""
    return f"<details{opened}><summary>{title}</summary><ol>{steps}</ol>{minded}</details>"


def supplies_table(ripped: Ripped) -> pd.DataFrame:
    """One row a supply when rows are ripped back: where it hangs, and whether it is long enough."""
    plan = ripped.plan
    letters = plan.project.all_yarns
    lines = []
    for each in ripped.supplies:
        place = each.place or "out of the work"
        how = standing_in_words(plan, each)
        name = letters[each.yarn].name or each.yarn
        lines.append({"strand": each.title, "yarn": name, "where": place, "what of it": how})
    return pd.DataFrame(lines, columns=["strand", "yarn", "where", "what of it"])


def ripped_html(ripped: Ripped) -> str:
    """What hangs where when rows are ripped back, as the next row meets it, and how long it is."""
    plan = ripped.plan
    word = plan.traced.how.row_word
    if not ripped.supplies:
        return ""
    title = (
        f"What hangs then, as {word} {ripped.stays + 1} meets it, and what comes out of the work"
    )
    if not ripped.stays:
        title = "What comes out of the work"
    table = table_html(supplies_table(ripped), yarns=plan.project.all_yarns)
    return f"<p><b>{title}</b></p>{table}"


def question(plan: Plan, cure: Cure) -> str:
    """What is asked before rows are taken back in the log."""
    word, stays = plan.traced.how.row_word, cure.stays or 0
    done = rows_worked(plan.project.progress)
    rows = f"{word} {stays + 1}" if done <= stays + 1 else f"{word}s {stays + 1} to {done}"
    goes = f"Take back {rows}, with what was noted there?"
    # An end that is sewn in is drawn out before the rows are ripped, not found in ripping.
    sewn = ends_to_draw_out(plan, stays).values()
    ends = "".join(f" {words[0].upper()}{words[1:]}." for words in sewn)
    if cure.name == KNIT_BACK:
        on_needles = f"The {word} is on the needles again then"
        return f"{goes} {on_needles}, {counted(cure.after, 'stitch')} worked.{ends}"
    return f"{goes} Only if the work is ripped back, or will be now.{ends}"


def marked_in_words(work: Work, marked: Sequence[Stitch]) -> str:
    """What is marked: "2 stitches marked: row 2, the 5th and 6th, as the card counts."."""
    if not marked:
        return ""
    where = numbers_in_words(work, marked)
    return f"{counted(len(marked), 'stitch')} marked: {where}, as the card counts."


# ---- what is done


def take_back(desk: Desk, cure: Cure) -> str:
    """Take back in the log the rows that a cure rips; says as HTML what hangs where then."""
    if cure.stays is None:
        raise PlanError("This cure takes no row back.")
    ripped = rip_back(desk.plan, cure.stays)
    more = _what_is_known(desk.plan, ripped)
    if cure.after:
        here = {"stitch": cure.after, "note": "knitted back to here"}
        more.append((Mark(STOPPED, cure.stays + 1), here))
    said = mark_rows(desk, cure.stays, more=more)
    return said if cure.name == KNIT_BACK else said + ripped_html(ripped)


def keep_to_cover(desk: Desk, fault: Fault) -> str:
    """Keep wrong stitches to be covered after blocking, as notes of their rows; says so as HTML."""
    desk.folder(NO_PROGRESS)
    held = free_notes(desk.project.progress)
    lines: list[Line] = []
    places = []
    for group in places_to_cover(desk.plan, fault):
        note = TO_COVER + group.place
        # What it takes may be told otherwise by now, or, in an old note, not at all.
        if not any(each.row == group.row and _begins(each.note, note) for each in held):
            lines.append((Mark(NOTED, group.row), {"note": f"{note}: {group.takes}"}))
            places.append(f"{group.place}: {group.takes}")
    if not lines:
        raise PlanError(KEPT_ALREADY)
    note_lines(desk, lines, doing="stitches kept to embroider over")
    return notice(KEPT.format("; ".join(places)))


def _begins(note: str, place: str) -> bool:
    """Whether a note is about a place, whatever it says that is done there."""
    return note == place or note.startswith(f"{place}: ")


def _what_is_known(plan: Plan, ripped: Ripped) -> list[Line]:
    """What was measured in the rows that are ripped, with the yarn that they gave back, as lines.

    With the rows it would be taken back, and the plan would go by what was wound.
    """
    parts = {held.part.title: held.part for held in plan.held}
    lines: list[Line] = []
    for each in ripped.supplies:
        if each.is_measured and each.has_cm is not None:
            part = parts[each.title]
            length_cm = round(each.has_cm, 2)
            values = {"strand": part.label, "part": part.name, "length_cm": length_cm}
            lines.append((Mark(LEFT, ripped.stays), values | {"note": AS_RIPPED}))
    return lines


# ---- the form


class MendChart(SpotChart):
    """The chart on the desk, its knitted part to be touched; `touch` is told the cell."""

    touches = traitlets.Bool(True).tag(sync=True)

    def __init__(self, desk: Desk, touch: Callable[[Stitch], None]):
        super().__init__(desk)
        self.singly = False
        self._touch = touch
        self.on_msg(self._heard)

    def _heard(self, _: Any, content: Any, buffers: Any) -> None:
        if content.get("act") != "touch":
            return
        chart = self._desk.project.chart
        cell = int(content["key"])
        with self._desk.lock, self.hold_sync():
            if 0 <= cell < chart.rows * chart.columns:
                chart_row, column = divmod(cell, chart.columns)
                # Of a ridge of garter the row that is worked first; the other one is typed.
                self._touch(Stitch(chart_row * self.times, column))
            self.answered = content.get("press", 0)


class _Mending:
    """The form at work: the stitches that are marked, and the cures of what is wrong with them."""

    def __init__(self, desk: Desk):
        self.desk = desk
        self.marked: list[Stitch] = []
        self.asked: Cure | None = None
        self.marked_now, self.message, self.answer = Pane(), Pane(), Pane()
        self.question, self.foretold = Pane(), Pane()
        self.chart = MendChart(desk, self.touch)
        self.what = one_of("what is wrong", FAULTS)
        self.in_yarn = listed("it was knitted in", desk, self._yarns)
        self.row = whole("row", self.done)
        self.number = whole("stitch, as the card counts", 1)
        self.mark = button("Mark this stitch")
        self.forget = button("Forget all marks", icon="undo")
        # A button for each cure that takes rows back, and the answers to its question.
        self.presses = widgets.HBox([])
        self.yes, self.no = button("Yes, take them back", icon="check"), button("No, leave it")
        self.listen()
        self.begin_anew()

    @property
    def done(self) -> int:
        return rows_worked(self.desk.project.progress)

    def _yarns(self) -> list[tuple[str, str]]:
        yarns = self.desk.project.all_yarns
        # Nobody knows before it is said: a guess would be taken for an answer.
        return [("choose …", ""), *((yarn.title, letter) for letter, yarn in yarns.items())]

    def listen(self) -> None:
        """Let every box and button do what it is for."""
        for box in (self.what, self.in_yarn):
            box.observe(lambda _: self.follow(), names="value")
        self.mark.on_click(heard(self.message)(self.mark_typed))
        self.forget.on_click(heard(self.message)(self.begin_anew))
        self.yes.on_click(heard(self.message)(self.take_back))
        self.no.on_click(heard(self.message)(self.ask_nothing))
        self.desk.on_arrival(self.begin_anew)
        self.desk.on_change(self.follow)
        goes_with_the_rows(self.desk, self.message)

    def begin_anew(self) -> None:
        """Forget what was marked and said, as on another piece."""
        self.marked = []
        self.message.value = ""
        self.row.value = self.done
        self.follow()

    # What is marked.

    def touch(self, stitch: Stitch) -> None:
        """Mark a stitch that was touched, or forget it."""
        heard(self.message)(lambda: self._change_mark(stitch))()

    def mark_typed(self) -> None:
        """Mark the stitch that was typed, or forget it."""
        self._change_mark(Work(self.desk.plan).at(self.row.value - 1, self.number.value))

    def _change_mark(self, stitch: Stitch) -> None:
        work = Work(self.desk.plan)
        work.check(stitch)
        if stitch in self.marked:
            self.marked.remove(stitch)
            self.message.value = notice(TAKEN_OFF.format(numbers_in_words(work, [stitch])))
        else:
            self.marked.append(stitch)
            self.row.value, self.number.value = stitch.row + 1, work.number(stitch)
        self.follow()

    # What is shown.

    def follow(self) -> None:
        """Show the cures of what is marked in the plan on the desk."""
        self.ask_nothing()
        work = Work(self.desk.plan)
        # What was ripped is not there any more, nor what another chart has not.
        self.marked = [stitch for stitch in self.marked if _is_there(work, stitch)]
        self.marked_now.value = notice(marked_in_words(work, self.marked))
        self.chart.items = [_item(work, stitch) for stitch in self.marked]
        self.in_yarn.layout.display = "" if self.what.value == WRONG_YARN else "none"
        self.forget.layout.display = "" if self.marked else "none"
        self.answer.value = "" if self.done or self.marked else notice(NOTHING_KNITTED)
        found: list[Cure] = []
        if self.marked:
            try:
                found = cures(self.desk.plan, self._fault())
                self.answer.value = cures_html(self.desk.plan, found)
            except PlanError as error:
                self.answer.value = notice(str(error), trouble=True)
        self._offer(found)

    def _fault(self) -> Fault:
        """What is marked, and what is wrong with it."""
        in_yarn = self.in_yarn.value if self.what.value == WRONG_YARN else ""
        return Fault(self.what.value, tuple(self.marked), in_yarn)

    def _offer(self, found: list[Cure]) -> None:
        """Offer to keep what is covered later, and to take rows back, for each cure that does."""
        word = self.desk.plan.traced.how.row_word
        presses = []
        for cure in found:
            # What the plan embroiders over anyway takes no work.
            if cure.name == COVER and cure.worked:
                keep = button("Keep for after blocking", icon="bookmark")
                # Said below the button, where the eye is: the cures above it are long.
                keep.on_click(heard(self.question)(self.keep_to_cover))
                presses.append(keep)
            if cure.stays is None or cure.barred:
                continue
            to = f"{word} {cure.stays}" if cure.stays else "the cast-on"
            label = "Knitted back to it" if cure.name == KNIT_BACK else f"Rip back to {to}"
            press = button(label, icon="undo")
            press.on_click(heard(self.message)(partial(self.ask, cure)))
            presses.append(press)
        self.presses.children = presses

    def keep_to_cover(self) -> None:
        """Keep what is marked to be covered after blocking."""
        # What is marked stays so, for where it vanished the page would jump.
        self.question.value = keep_to_cover(self.desk, self._fault())

    # What is taken back.

    def ask(self, cure: Cure) -> None:
        """Ask whether rows are to be taken back, and show what hangs where then."""
        self.asked = cure
        self.question.value = notice(question(self.desk.plan, cure), trouble=True)
        if cure.name != KNIT_BACK and cure.stays is not None:
            self.foretold.value = ripped_html(rip_back(self.desk.plan, cure.stays))
        self.yes.layout.display = self.no.layout.display = ""

    def ask_nothing(self) -> None:
        """Put a question aside."""
        self.asked, self.question.value, self.foretold.value = None, "", ""
        self.yes.layout.display = self.no.layout.display = "none"

    def take_back(self) -> None:
        """Take back in the log what was asked about."""
        if self.asked is None:
            raise PlanError(SINCE_THEN)
        said = take_back(self.desk, self.asked)
        self.marked = []
        self.follow()
        self.message.value = said


def _is_there(work: Work, stitch: Stitch) -> bool:
    """Whether a stitch is knitted in the plan that is shown."""
    try:
        work.check(stitch)
    except (PlanError, IndexError):
        return False
    return True


def _item(work: Work, stitch: Stitch) -> Item:
    """A stitch that is marked, as the browser gets it."""
    chart_row = stitch.row // work.how.rows_per_chart_row
    cell = chart_row * work.strands.chart.columns + stitch.column
    return {
        "key": f"{stitch.row} {stitch.column}",
        "about": "mend",
        "what": work.words(stitch),
        "change": "",
        "mind": "",
        "after": [],
        "parts": [[cell, 1]],
        "ways": [],
    }


def mending_form(desk: Desk) -> Form:
    """What is wrong, where, and its cures; rows that are ripped back are taken back from here."""
    at_work = _Mending(desk)
    fields = Form([at_work.what, at_work.in_yarn, at_work.row, at_work.number])
    marks = widgets.HBox([at_work.mark, at_work.forget])
    answers = widgets.HBox([at_work.yes, at_work.no])
    for box in (marks, answers, at_work.presses):
        box.add_class("plan-actions")
    told = Pane(value=f'<p class="plan-note">{html.escape(HOW_TO_SAY)}</p>')
    # Cures stand beside the chart, so that a touch is answered in sight of it.
    said = [at_work.marked_now, at_work.message, at_work.answer, at_work.presses]
    answered = widgets.VBox([*said, at_work.question, answers, at_work.foretold])
    beside = SideBySide([at_work.chart, answered])
    return Form([told, fields, marks, beside])
