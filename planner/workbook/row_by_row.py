"""Notebook 4: the row on the needles, what lies ahead, and the marks that keep the place."""

from __future__ import annotations

import html
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

import ipywidgets as widgets
import pandas as pd

from planner import pictures
from planner.cards import Card
from planner.charts import write_rows
from planner.errors import PlanError
from planner.knitting import (
    before_and_after,
    end_of_sitting,
    good_rows_to_stop,
    ready_for_sitting,
    row_notes,
    stretches_to_read,
    taken_back_to,
    what_comes_undone,
    will_it_last,
    will_yarns_last,
    worked_up_to,
)
from planner.piece import Entry, notes_in_row, rows_worked
from planner.plan import Plan
from planner.units import counted, stretches
from planner.workbook.asking import heard
from planner.workbook.card import card_html
from planner.workbook.desk import Desk, pictured, unless_same
from planner.workbook.fields import LABEL_AS_WIDE_AS_IT_IS, button, labelled
from planner.workbook.noting import NO_PROGRESS, note
from planner.workbook.on_the_table import advice_of, clearing_done, is_due, moves_html
from planner.workbook.panes import Form, Pane, lines_html, notice, picture_html, table_html

BREAK_EVERY = 10  # rows; where a pause for the hands is offered
COMING = 3  # cards that are shown before their turn
PICTURED = 8  # rows in the picture of the order of strands
BUSIEST = 6  # rows that are named as those with most to do
# How each kind of end is told.
ENDS = {
    "start": "starts",
    "stop": "ends",
    "join": "is joined",
    "embroidery": "is embroidered",
    "cast-on": "is cast on with",
}
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
    card = card_html(cards.rows[done], yarns, notes=[*notes, *laid], after=[*balls.after, *pause])
    card += moves_html(plan, balls)
    if not done and cards.cast_on is not None:
        return card_html(cards.cast_on, yarns, notes=balls.before) + card
    return card


def below_html(plan: Plan, done: int) -> str:
    """The row below the one on the needles, as it was worked."""
    if not done:
        return ""
    card = plan.cards[done - 1]
    return f"Below it: {html.escape(card.name)}, {html.escape(card.aloud())}"


def coming_html(plan: Plan, done: int) -> str:
    """The rows after the one on the needles, each in a line."""
    # In short, as the rows are said aloud: the whole card comes with its turn.
    return "<br>".join(
        f"<b>{html.escape(card.name)}</b> {html.escape(card.aloud())}"
        for card in plan.cards[done + 1 : done + 1 + COMING]
    )


def sitting_html(plan: Plan, done: int) -> str:
    """What to have ready for this sitting, up to the next good row to stop at."""
    rows = len(plan.cards)
    if done == rows:
        return ""
    until = end_of_sitting(plan, done, _rows_to_stop(plan))
    table = ready_for_sitting(plan, done, until)
    word = plan.traced.how.row_word
    upto = "the end" if until == rows else f"{word} {until}, a good one to stop after"
    if not len(table):
        return f"<p>Nothing to wind or lay out up to {upto}.</p>"
    return f"<p>To wind and lay out, up to {upto}:</p>{table_html(table)}"


def _rows_to_stop(plan: Plan) -> list[int]:
    return good_rows_to_stop(plan, [balls.clear for balls in advice_of(plan)])


def order_now_html(plan: Plan, done: int) -> str:
    """A picture of the order of the strands from two rows below the needles on."""
    if done == len(plan.cards):
        return ""
    # What lies below the needles shows where the yarns come from.
    first = max(1, done - 2)
    last = min(first + PICTURED - 1, len(plan.cards))
    figure = pictures.draw_strand_order(plan, first, last, now=done + 1)
    return picture_html(figure, f"Rows {first} to {last}, row {done + 1} marked")


def lasts_html(plan: Plan, log: Sequence[Entry]) -> str:
    """Whether what is on the needles lasts, and what is in hand of each yarn."""
    supplies = will_it_last(plan, log)
    on_needles = "No supply is on the needles now."
    # A column in which nothing stands says nothing.
    says_nothing = supplies.isna() | (supplies == "")
    if len(supplies):
        on_needles = table_html(supplies.loc[:, ~says_nothing.all()])
    return f"{on_needles}<br>{table_html(will_yarns_last(plan, log))}"


# ---- marking


def mark_rows(desk: Desk, row: int) -> str:
    """Mark all rows up to this one as worked, or take those after it back; says so as HTML."""
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
        undone = what_comes_undone(plan, log, row)
        mark = taken_back_to(plan, log, row)
        note(desk, [mark], doing=f"{word}s taken back to {row}")
        back = _rows_in_words(word, row + 1, max(done, mark.row))
        return notice(f"{back} taken back.") + _to_undo(undone)
    note(desk, worked_up_to(plan, log, row), doing=f"{word} {row} worked")
    return notice(f"{_rows_in_words(word, done + 1, row)} worked.")


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
    return words + _to_undo(what_comes_undone(plan, log, row))


def row_form(desk: Desk) -> Form:
    """The card of the row on the needles, with buttons to mark it worked or take rows back."""
    card = Pane()

    def show_card() -> None:
        card.value = card_now_html(desk.plan, _done(desk.plan))

    # The card answers a press; what stands below it comes after.
    desk.on_change(show_card)
    show_card()
    marking = _marking(desk)
    below = desk.pane(lambda plan: below_html(plan, _done(plan)))
    coming = desk.pane(lambda plan: coming_html(plan, _done(plan)))
    sitting = desk.pane(lambda plan: sitting_html(plan, _done(plan)))
    supplies = desk.pane(lambda plan: lasts_html(plan, plan.project.progress))
    order = unless_same(lambda plan: order_now_html(plan, _done(plan)), _order_made_from)
    picture = desk.pane(order, slow=True)
    titles = ("This sitting", "What is coming", "Will it last?")
    this_sitting, ahead, lasts = (widgets.HTML(f"<b>{text}</b>") for text in titles)
    later = [this_sitting, sitting, ahead, coming, picture, lasts, supplies]
    return Form([card, *marking, below, *later])


def _marking(desk: Desk) -> list[widgets.Widget]:
    """Buttons to mark rows worked and to take them back, and what they answer."""
    message, foretold, shown_done = Pane(), Pane(), _done(desk.plan)
    worked = button("", icon="check", width="200px")
    undo = button("", icon="undo", width="220px")
    last_row = labelled(widgets.IntText, "", value=shown_done, style=LABEL_AS_WIDE_AS_IT_IS)
    last_row.layout = widgets.Layout(width="340px", max_width="100%")
    mark = button("Mark it so")
    clear = button("Balls cleared", icon="check", width="180px")

    def foretell(_: Any = None) -> None:
        foretold.value = what_marking_does(desk.plan, last_row.value)

    # What is typed stays while something else is changed.
    def follow() -> None:
        nonlocal shown_done
        if shown_done != _done(desk.plan):
            shown_done = last_row.value = _done(desk.plan)
        word = desk.plan.traced.how.row_word
        worked.description = f"{word.capitalize()} worked"
        undo.description = f"Take the last {word} back"
        last_row.description = f"or: the last {word} worked is"
        clear.layout.display = "" if is_due(desk.plan) else "none"
        foretell()

    def marking(row: Callable[[], int]) -> Callable[..., None]:
        @heard(message)
        def act() -> None:
            message.value = mark_rows(desk, row())

        return act

    @heard(message)
    def cleared() -> None:
        note(desk, clearing_done(desk.plan), doing="balls cleared")
        message.value = notice("the balls are cleared: turn, and mark the row when it is worked.")

    last_row.observe(foretell, names="value")
    clear.on_click(cleared)
    worked.on_click(marking(lambda: _done(desk.plan) + 1))
    undo.on_click(marking(lambda: _done(desk.plan) - 1))
    mark.on_click(marking(lambda: last_row.value))
    desk.on_change(follow)
    follow()
    wrapped = widgets.Layout(flex_flow="row wrap")
    buttons = widgets.HBox([clear, worked, undo, message], layout=wrapped)
    several = widgets.HBox([last_row, mark], layout=wrapped)
    return [buttons, several, foretold]


def _order_made_from(plan: Plan) -> Any:
    """What the picture of the order of the strands is made from, to be compared."""
    return pictured(plan), _done(plan)


def _done(plan: Plan) -> int:
    """How many rows are worked."""
    return rows_worked(plan.project.progress)


# ---- several rows


def stretches_pane(desk: Desk) -> Pane:
    """Cards worth reading before their turn, each stretch under the reason why."""

    return desk.pane(stretches_html)


def stretches_html(plan: Plan) -> str:
    """Cards worth reading before their turn, folded away under the reason why."""
    yarns, word = plan.project.all_yarns, plan.traced.how.row_word
    parts = []
    for stretch in stretches_to_read(plan):
        cards = plan.cards[stretch.first - 1 : stretch.last]
        shown = "".join(card_html(card, yarns) for card in cards)
        why = f"{stretch.why[0].lower()}{stretch.why[1:]}"
        title = f"{word.capitalize()}s {stretch.first} to {stretch.last}: {why}"
        parts.append(f"<details><summary>{html.escape(title)}</summary>{shown}</details>")
    return "".join(parts) or f"The piece has one yarn from edge to edge in every {word}."


def pattern_pane(desk: Desk) -> Pane:
    """The chart in words, as a pattern writes it."""
    return desk.pane(pattern_html)


def pattern_html(plan: Plan) -> str:
    """The chart in words, as a pattern writes it, to be scrolled."""
    written = write_rows(plan.project.chart, plan.project.how)
    return f'<div style="max-height:420px; overflow:auto">{lines_html(written)}</div>'


def changes_html(opened: Plan, plan: Plan) -> str:
    """What is otherwise in a plan than in the one that was opened."""
    # What is as it was needs no attention; strands that are gone stand in no table.
    table = before_and_after(opened, plan)
    changed = table[table.what_to_do != "as it is"]
    gone = [label for label in opened.traced.labels if label not in plan.traced.labels]
    words = f"<p>No longer needed: {html.escape(', '.join(gone))}.</p>" if gone else ""
    if not len(changed):
        return f"{words}Nothing has changed since this notebook was opened."
    return words + table_html(changed)


def changes_pane(desk: Desk) -> Pane:
    """What has changed since this notebook was opened: supplies to add, lengthen or drop."""
    opened = desk.plan
    return desk.pane(lambda plan: changes_html(opened, plan))


def ends_html(plan: Plan) -> str:
    """The ends that can be sewn in by now, by area; those to come after them, folded away."""
    done, ends = _done(plan), plan.ends
    now = ends[ends.from_row <= done]
    later = ends[ends.from_row > done]
    word = plan.traced.how.row_word
    words = f"{counted(len(now), 'end')} can be sewn in now, when {word} {done} is worked."
    if not done:
        words = f"No {word} is worked yet, so there are no ends to sew in now."
    parts = [f"<p>{words}</p>", _ends_by_area(plan, now)]
    if len(later):
        summary = f"<summary>{counted(len(later), 'end')} to come</summary>"
        parts.append(f"<details>{summary}{_ends_by_area(plan, later)}</details>")
    return "".join(parts)


def _ends_by_area(plan: Plan, ends: pd.DataFrame) -> str:
    """Ends as HTML, each colour area with those that lie in it, in the order of its first row."""
    yarns, word = plan.project.all_yarns, plan.traced.how.row_word
    areas = plan.areas.set_index("area")
    parts = []
    for area, in_area in ends.groupby("area"):
        first, last = areas.first_chart_row[area], areas.last_chart_row[area]
        rows = f"row {first}" if first == last else f"rows {first} to {last}"
        title = f"{yarns[areas.yarn[area]].title}, chart {rows}"
        # The two ends of a join lie at one place.
        places = Counter(
            f"{end.strand} {ENDS[end.end]} in {word} {end.row}, stitch {end.stitch} from the "
            f"right: {end.sew_in}"
            for end in in_area.itertuples()
        )
        lines = [f"{words}, both ends" if many == 2 else words for words, many in places.items()]
        items = "".join(f"<li>{html.escape(line)}</li>" for line in lines)
        parts.append(f"<p><b>{html.escape(title)}</b></p><ul>{items}</ul>")
    return "".join(parts)


def ends_pane(desk: Desk) -> Pane:
    """The ends that can be sewn in by now, and those to come."""
    return desk.pane(ends_html)


def busiest_rows(plan: Plan) -> list[int]:
    """The rows with most to do; a start or an end counts as much as two borders."""
    rows = plan.rows
    to_do = rows.borders + 2 * (rows.starts + rows.ends)
    return sorted(rows.assign(to_do=to_do).nlargest(BUSIEST, "to_do").row)


def stops_html(plan: Plan) -> str:
    """The good rows to stop at, and those with most to do."""
    stops = _rows_to_stop(plan)
    good = html.escape(", ".join(stretches(stops))) or "none"
    busy = html.escape(", ".join(stretches(busiest_rows(plan))))
    to_stop = f"<p>Good rows to stop at: after {good}.</p>"
    most = f"<p>Most to do in rows {busy}: not the last thing in an evening.</p>"
    return to_stop + most


def stops_pane(desk: Desk) -> Pane:
    """The good rows to stop at, and those with most to do."""
    return desk.pane(stops_html)
