"""Notebook 4: the row on the needles, what lies ahead, and the marks that keep the place."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import ipywidgets as widgets

from planner.cards import Card
from planner.errors import PlanError
from planner.finishing import TO_COVER, ends_to_draw_out, marks_of
from planner.knitting import (
    GOOD_STOP,
    Mark,
    Wanted,
    free_notes,
    good_rows_to_stop,
    notes_about,
    ready_for_sitting,
    row_notes,
    sitting_now,
    taken_back_to,
    taken_out,
    worked_up_to,
)
from planner.mending import comes_undone
from planner.piece import TAKEN_OUT, notes_in_row, rows_worked
from planner.plan import Plan
from planner.units import counted
from planner.workbook.asking import heard
from planner.workbook.card import card_html
from planner.workbook.desk import Desk
from planner.workbook.fields import button, whole
from planner.workbook.folds import SideBySide
from planner.workbook.noting import NO_PROGRESS, Line, goes_with_the_rows, note, note_lines
from planner.workbook.on_the_table import advice_of, clearing_done, is_due, moves_html
from planner.workbook.panes import Form, Pane, notice

BREAK_EVERY = 10  # rows; where a pause for the hands is offered
COMING = 2  # rows that are told before their turn
PAUSE = "Time for a pause: let hands and wrists rest."


# ---- the row on the needles; `done` rows are worked


def card_now_html(plan: Plan, done: int) -> str:
    """The card of the next row: the cast-on before the first, the bind-off after the last."""
    cards, yarns = plan.all_cards, plan.project.all_yarns
    notes = row_notes(plan, plan.project.progress)
    if done == len(cards.rows):
        worked = f"All {counted(done, plan.traced.how.row_word)} are worked."
        if cards.bind_off is None:
            return notice(f"{worked} Sew the ends in.")
        return notice(worked) + card_html(cards.bind_off, yarns, notes=notes)
    balls = advice_of(plan)[done]
    pause = [PAUSE] if done and done % BREAK_EVERY == 0 else []
    is_cast_on = not done and cards.cast_on is not None
    # Balls are laid out to cast on from them.
    laid = [] if is_cast_on else list(balls.before)
    stop = [GOOD_STOP] if done + 1 in rows_to_stop(plan) else []
    after = [*balls.after, *stop, *pause]
    card = card_html(cards.rows[done], yarns, notes=notes, balls=laid, after=after)
    card += moves_html(plan, balls)
    if not done and cards.cast_on is not None:
        return card_html(cards.cast_on, yarns, balls=balls.before) + card
    return card


def around_html(plan: Plan, done: int) -> str:
    """The row below the one on the needles as it was worked, and those after it, in short."""
    lines, log = [], plan.project.progress
    if done:
        below = plan.cards[done - 1]
        lines.append(_row_aloud("Below it", below, notes_about(log, below.row)))
    # As the rows are said aloud: the whole card comes with its turn.
    for card in plan.cards[done + 1 : done + 1 + COMING]:
        lines.append(_row_aloud("Then", card, notes_about(log, card.row)))
    return f'<div class="plan-around">{"".join(lines)}</div>' if lines else ""


def _row_aloud(where: str, card: Card, notes: Sequence[str]) -> str:
    row = f"<b>{html.escape(card.name)}</b> {html.escape(card.aloud())}"
    noted = "".join(f" · {html.escape(each)}" for each in notes)
    return f'<p><span class="plan-where">{where}</span> {row}{noted}</p>'


def sitting_html(plan: Plan) -> str:
    """What to have ready for this sitting, up to the good row to stop at where it is to end."""
    rows, word, done = len(plan.cards), plan.traced.how.row_word, _done(plan)
    if done == rows:
        return _to_finish_html(plan)
    sitting = sitting_now(plan, plan.project.progress, rows_to_stop(plan))
    upto = f"to {word} {sitting.until}, a good one to stop after"
    if sitting.until == rows:
        upto = "to the end"
    which, over = "This sitting", ""
    if done == sitting.begun > 0:
        which = "The next sitting"
        over = f"<p>{word.capitalize()} {done} is worked: the last sitting is over.</p>"
    title = f"<h3>{which}</h3>{over}<p>From {word} {sitting.begun + 1} {upto}.</p>"
    wanted = ready_for_sitting(plan, done, sitting.until)
    if not wanted:
        return f"{title}<p>Nothing more to wind or lay out.</p>"
    lines = "".join(_to_have_ready(plan, each) for each in wanted)
    return f"{title}<p>To wind and lay out, each before its {word}:</p><ul>{lines}</ul>"


def _to_finish_html(plan: Plan) -> str:
    """What is left when all rows are worked: to embroider, and ends to sew in."""
    stitches = int((plan.embroidered >= 0).sum())
    left = [f"{counted(stitches, 'stitch')} to embroider"] if stitches else []
    if plan.ends_in_all:
        left.append(f"{counted(plan.ends_in_all, 'end')} to sew in: where, stands below")
    lines = "".join(f"<p>{each}.</p>" for each in left)
    return f"<h3>To finish</h3>{lines}" if left else ""


def _to_have_ready(plan: Plan, wanted: Wanted) -> str:
    """A piece of yarn to have ready, with a patch of its colour."""
    colour = plan.project.all_yarns[wanted.yarn].colour
    patch = f'<span class="plan-yarn" style="background: {colour}"></span>'
    length = f", {wanted.length}" if wanted.length else ""
    told = f"<b>{html.escape(wanted.what)}</b> {html.escape(wanted.held + length)}"
    row = f'<span class="plan-before">{wanted.before}</span>'
    return f"<li>{row}{patch}<span>{told}</span></li>"


def rows_to_stop(plan: Plan) -> list[int]:
    """The rows, from 1, that are good to stop after."""
    return good_rows_to_stop(plan, [balls.clear for balls in advice_of(plan)])


# ---- marking


def mark_rows(desk: Desk, row: int, *, more: Sequence[Line] = ()) -> str:
    """Mark all rows up to this one as worked, or take those after it back; says so as HTML.

    `more` lines are put down with it where rows are taken back.
    """
    # What is marked is the card that is shown, so it must be the card of the plan on disk.
    shown = _card_on_needles(desk)
    if desk.look() and _card_on_needles(desk) != shown:
        raise PlanError(f"{desk.news} Look at the card again before you mark a row.")
    plan, log = desk.plan, desk.project.progress
    done, word = rows_worked(log), plan.traced.how.row_word
    is_begun = bool(notes_in_row(log, done + 1))
    desk.folder(NO_PROGRESS)
    if row == done > 0 and not is_begun:
        raise PlanError(f"{word.capitalize()} {row} is the last one marked as worked already.")
    if row <= done:
        # Read off before: the knitter undoes it after the mark, needles in hand.
        undone = comes_undone(plan, row)
        mark = taken_back_to(plan, log, row)
        # Stitches that are ripped are not wrong any more when they are knitted again.
        right = [each for each in free_notes(log) if each.row > row]
        no_more = [taken_out(log, each.number) for each in right if each.note.startswith(TO_COVER)]
        lines = [(mark, {}), *more, *no_more, *_ticks_to_go(plan, row)]
        note_lines(desk, lines, doing=f"{word}s taken back to {row}")
        back = _rows_in_words(word, row + 1, max(done, mark.row))
        return notice(f"{back} taken back.") + _to_undo(undone)
    note(desk, worked_up_to(plan, log, row), doing=f"{word} {row} worked")
    return notice(f"{_rows_in_words(word, done + 1, row)} worked.")


def _ticks_to_go(plan: Plan, stays: int) -> list[Line]:
    """The lines that take out the ticks of ends in rows that stay, run along rows that are ripped.

    The others go with their rows.
    """
    marks = marks_of(plan.project.progress)
    ends = [each for each in ends_to_draw_out(plan, stays) if each.end.row < stays]
    lines: list[Line] = []
    for each in ends:
        number = marks[each.mark].pop()
        lines.append((Mark(TAKEN_OUT, each.end.row + 1), {"other": str(number)}))
    return lines


def _to_undo(undone: Sequence[str]) -> str:
    """What comes undone in ripping back, a line to a line."""
    return "".join(f"<br>{html.escape(each)}" for each in undone)


def _card_on_needles(desk: Desk) -> tuple[Card, ...]:
    done = rows_worked(desk.project.progress)
    return desk.plan.cards[done : done + 1]


def _rows_in_words(word: str, first: int, last: int) -> str:
    return f"{word} {first} is" if first == last else f"{word}s {first} to {last} are"


def what_marking_does(plan: Plan, row: int) -> str:
    """What marking this row as the last one worked would do, as HTML."""
    done, rows, log = _done(plan), len(plan.cards), plan.project.progress
    word = plan.traced.how.row_word
    if not 0 <= row <= rows:
        return f"The piece has {counted(rows, word)}."
    if row > done:
        return f"{_rows_in_words(word, done + 1, row).capitalize()} then worked."
    is_begun = bool(notes_in_row(log, done + 1))
    if row < done:
        words = f"{_rows_in_words(word, row + 1, done).capitalize()} then ripped back."
    elif is_begun:
        words = (
            f"{word.capitalize()} {done + 1} has notes. Marked so, it is begun anew and they are "
            "taken back."
        )
    else:
        words = f"{word.capitalize()} {done} is the last one worked."
        return words if done else f"No {word} is worked yet."
    return words + _to_undo(comes_undone(plan, row))


def row_form(desk: Desk) -> Form:
    """The card of the row on the needles, with the button that marks it worked above it.

    Beside it stands what to have ready, below it the rows around it. The button comes first, so
    that it never moves, however long a card is.
    """
    card, done = Pane(), partial(_done_of, desk)

    def show_card() -> None:
        card.value = card_now_html(desk.plan, done())

    # The card answers a press; what stands round it comes after.
    desk.on_change(show_card)
    show_card()
    around = desk.pane(lambda plan: around_html(plan, done()))
    sitting = desk.pane(sitting_html)
    card.add_class("plan-result")
    sitting.add_class("plan-sitting")
    at_work = SideBySide([widgets.VBox([card, around]), sitting])
    at_work.add_class("plan-at-work")
    return Form([_marking(desk), at_work])


def _marking(desk: Desk) -> widgets.Widget:
    """The button that marks the next row, those that take one back or clear balls, an answer."""
    message = Pane()
    worked = button("", icon="check")
    worked.add_class("mod-primary")
    worked.add_class("plan-worked")
    undo = button("", icon="undo")
    clear = button("Balls cleared", icon="check")

    def follow() -> None:
        word = desk.plan.traced.how.row_word
        worked.description = f"{word.capitalize()} worked"
        undo.description = f"Take the last {word} back"
        clear.layout.display = "" if is_due(desk.plan) else "none"

    def marking(more: int) -> Callable[..., None]:
        @heard(message)
        def act() -> None:
            message.value = mark_rows(desk, _done_of(desk) + more)

        return act

    @heard(message)
    def cleared() -> None:
        note(desk, clearing_done(desk.plan), doing="balls cleared")
        message.value = notice("the balls are cleared: turn, and mark the row when it is worked.")

    clear.on_click(cleared)
    worked.on_click(marking(1))
    undo.on_click(marking(-1))
    desk.on_change(follow)
    goes_with_the_rows(desk, message)
    follow()
    actions = widgets.HBox([worked, undo, clear, message])
    actions.add_class("plan-actions")
    return actions


def several_rows_form(desk: Desk) -> Form:
    """Several rows marked or taken back at once: what it would do, before it is done."""
    message, foretold, shown_done = Pane(), Pane(), _done_of(desk)
    last_row = whole("", shown_done)
    mark = button("Mark it so")

    def foretell(_: Any = None) -> None:
        foretold.value = what_marking_does(desk.plan, last_row.value)

    # What is typed stays while something else is changed.
    def follow() -> None:
        nonlocal shown_done
        if shown_done != _done_of(desk):
            shown_done = last_row.value = _done_of(desk)
        last_row.description = f"the last {desk.plan.traced.how.row_word} worked is"
        foretell()

    def arrived() -> None:
        last_row.value = _done_of(desk)

    @heard(message)
    def act() -> None:
        message.value = mark_rows(desk, last_row.value)

    last_row.observe(foretell, names="value")
    mark.on_click(act)
    desk.on_change(follow)
    desk.on_arrival(arrived)
    goes_with_the_rows(desk, message)
    follow()
    return Form([last_row, foretold, mark, message])


def _done_of(desk: Desk) -> int:
    """How many rows are worked of the piece on the desk."""
    return rows_worked(desk.project.progress)


def _done(plan: Plan) -> int:
    """How many rows are worked."""
    return rows_worked(plan.project.progress)
