"""Notebook 4: the row on the needles, what lies ahead, and the marks that keep the place."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

import ipywidgets as widgets

from planner import pictures
from planner.errors import PlanError
from planner.folder import with_entry
from planner.knitting import before_and_after, will_it_last, will_yarns_last
from planner.piece import (
    JOINED,
    LEFT,
    PARTS,
    UNDONE,
    WORKED,
    Entry,
    Project,
    part_title,
    rows_worked,
)
from planner.plan import Plan
from planner.rows import Card
from planner.strands import note_row
from planner.twists import Tangle, best_row_to_clear, twist_ledger, what_to_do
from planner.units import CM_PER, LONG_UNIT
from planner.workbook.asking import asking, heard
from planner.workbook.common import letter_of, metres_per_gram
from planner.workbook.desk import Desk, pictured, unless_same
from planner.workbook.fields import button, labelled, number, offer, one_of, strand_box
from planner.workbook.panes import Form, Pane, notice, picture_html, table_html

NO_PROGRESS = "This piece has no folder to keep its progress in. Open one with open_project."
BREAK_EVERY = 10  # rows; where a pause for the hands is offered
COMING = 3  # cards that are shown before their turn
PICTURED = 8  # rows in the picture of the order of strands
BUSIEST = 6  # rows that are named as those with most to do
A_WHILE = 2  # rows in which twisted yarns are not worth a word
LARGE = (
    "font-size:1.5em; line-height:1.5; border-left:6px solid #4d7ea8; padding:0.3em 0.8em; "
    "margin:0.3em 0"
)
PAUSE = "<i> Time for a pause: let hands and wrists rest.</i>"


def _large(text: str) -> str:
    return f'<div class="row-card" style="{LARGE}">{text}</div>'


def card_html(card: Card, turn: str = "", twist: str = "") -> str:
    """A card in large type, with the way to turn after it and what to do about the balls."""
    # The first line of a card names the row; the others are what is done in it.
    name, *rest = map(html.escape, str(card).splitlines())
    lines = [f"<b>{name}</b>", *rest]
    if turn:
        way = "towards you" if turn == "towards" else "away from you"
        lines.append(f"Then turn the work {way}.")
    if twist:
        lines.append(html.escape(f"Balls: {twist}"))
    return _large("<br>".join(lines))


# ---- the row on the needles; `done` rows are worked


def card_now_html(plan: Plan, ledger: Sequence[Tangle], done: int) -> str:
    """The card of the next row, or that all of them are worked."""
    if done == len(plan.cards):
        return _large(f"<b>All {done} rows are worked.</b> Sew the ends in.")
    tangle = ledger[done]
    # One ball alone cannot twist with another.
    twist = what_to_do(ledger, done + 1) if len(tangle.table) > 1 else ""
    pause = PAUSE if done and done % BREAK_EVERY == 0 else ""
    return card_html(plan.cards[done], tangle.turn, twist) + pause


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


def order_now_html(plan: Plan, done: int) -> str:
    """A picture of the order of the strands from two rows below the needles on."""
    if done == len(plan.cards):
        return ""
    first = _first_pictured(done)
    last = first + PICTURED - 1
    return picture_html(pictures.draw_strand_order(plan, first, last), f"Rows {first} to {last}")


def _first_pictured(done: int) -> int:
    """The first row of the picture; what lies below the needles shows where yarns come from."""
    return max(1, done - 2)


def lasts_html(plan: Plan, log: Sequence[Entry]) -> str:
    """Whether what is on the needles lasts, and what is in hand of each yarn."""
    supplies = will_it_last(plan, log)
    on_needles = "No supply is on the needles now."
    if len(supplies):
        on_needles = table_html(supplies)
    return f"{on_needles}<br>{table_html(will_yarns_last(plan, log))}"


def mark_row(desk: Desk, what: str) -> str:
    """Mark the next row as worked, or the last one as undone, in progress.csv; says so as HTML."""
    # What is marked is the card that is shown, so it must be the card of the plan on disk.
    shown = desk.plan.cards[rows_worked(desk.project.progress) :][:1]
    if desk.look() and desk.plan.cards[rows_worked(desk.project.progress) :][:1] != shown:
        raise PlanError(f"{desk.news} Look at the card again before you mark a row.")
    plan, done = desk.plan, rows_worked(desk.project.progress)
    row, values = done, dict[str, str]()
    if what == WORKED:
        row = done + 1
        if row <= len(plan.cards):
            # What was knitted is noted, so that another plan later cannot change it.
            values["runs"] = note_row(plan.traced, row)
    _note(desk, what, row, shown=desk.project, **values)
    return notice(f"row {row} {'is worked' if what == WORKED else 'is taken back'}.")


def _note(desk: Desk, what: str, row: int, *, shown: Project | None = None, **values: Any) -> None:
    """Add one line to the progress of the piece on the desk.

    It is refused if the piece is by now another than that which was `shown`.
    """

    def noted(held: Project) -> Project:
        if shown is not None and replace(held, folder=shown.folder) != shown:
            raise PlanError("The piece has changed meanwhile. Look at the card again.")
        return replace(held, progress=with_entry(held, what, row, **values))

    desk.folder(NO_PROGRESS)
    desk.act(noted, doing=f"{what} {row}")


def row_form(desk: Desk) -> Form:
    """The card of the row on the needles, with buttons to mark it worked or take it back."""
    card, message = Pane(), Pane()
    worked = button("Row worked", icon="check", width="200px")
    undo = button("Take the last row back", icon="undo", width="220px")
    first_turn = one_of("first turn", ("towards", "away"))

    def show_card(_: Any = None) -> None:
        ledger = twist_ledger(desk.plan, first_turn=first_turn.value)
        card.value = card_now_html(desk.plan, ledger, _done(desk.plan))

    def marking(what: str) -> Callable[..., None]:
        @heard(message)
        def mark() -> None:
            message.value = mark_row(desk, what)

        return mark

    first_turn.observe(show_card, names="value")
    worked.on_click(marking(WORKED))
    undo.on_click(marking(UNDONE))
    # The card answers a press; what stands below it comes after.
    desk.on_change(show_card)
    show_card()
    below = desk.pane(lambda plan: below_html(plan, _done(plan)))
    coming = desk.pane(lambda plan: coming_html(plan, _done(plan)))
    supplies = desk.pane(lambda plan: lasts_html(plan, plan.project.progress))
    order = unless_same(lambda plan: order_now_html(plan, _done(plan)), _order_made_from)
    picture = desk.pane(order, slow=True)
    buttons = widgets.HBox([worked, undo, message])
    ahead, lasts = (widgets.HTML(f"<b>{text}</b>") for text in ("What is coming", "Will it last?"))
    return Form([card, buttons, below, ahead, coming, picture, lasts, supplies, first_turn])


def _order_made_from(plan: Plan) -> Any:
    """What the picture of the order of the strands is made from, to be compared."""
    done = _done(plan)
    return pictured(plan), _first_pictured(done), done == len(plan.cards)


def _done(plan: Plan) -> int:
    """How many rows are worked."""
    return rows_worked(plan.project.progress)


# ---- balls on the table


def tangle_html(plan: Plan, ledger: Sequence[Tangle], row: int) -> str:
    """The balls' yarns after a row: what to do, and a picture of them."""
    tangle = ledger[row - 1]
    balls = ", ".join(tangle.table) or "none"
    words = html.escape(f"Balls on the table: {balls}. {what_to_do(ledger, row)}.")
    if not tangle.table:
        return words
    return f"{words}<br>{picture_html(pictures.draw_tangle(plan, tangle), tangle.in_words())}"


def twist_form(desk: Desk) -> Form:
    """The balls' yarns after any row of the desk's plan."""
    plan = desk.plan
    # The ledger is that of the plan as it was opened: it does not follow the desk.
    ledger = twist_ledger(plan)
    # It opens at the first row with the most balls on the table.
    fullest = max(ledger, key=lambda tangle: (len(tangle.table), -tangle.row)).row
    row = labelled(
        widgets.IntSlider,
        "after row",
        value=fullest,
        min=1,
        max=len(ledger),
        continuous_update=False,
    )
    return asking(lambda row: tangle_html(plan, ledger, row), row=row)


# ---- what is measured on the way


def cm_per_unit(plan: Plan, strand: str, unit: str) -> float:
    """The length of one `unit` of a strand's yarn, cm; of one gram, as its band has it."""
    if unit != "g":
        return float(CM_PER[unit])
    yarn = plan.project.all_yarns[letter_of(plan.traced, strand)]
    per_gram = metres_per_gram(yarn)
    if per_gram is None:
        raise PlanError(
            f"Yarn {yarn.letter} has no length and weight of a ball in yarns.csv, so measure its "
            "length."
        )
    return 100 * per_gram


def left_form(desk: Desk) -> Form:
    """A supply measured or weighed on the way, or a new piece joined to it."""
    unit = LONG_UNIT[desk.project.units]
    measured, length = one_of("measured in", (unit, "g")), number("tail included")
    kinds = (("what is left of it", LEFT), ("a new piece joined to it", JOINED))

    # A half of a strand that is begun from its middle is measured by itself.
    def note(what: str, strand: str, part: str, length: float, measured: str) -> str:
        done = rows_worked(desk.project.progress)
        length_cm = round(length * cm_per_unit(desk.plan, strand, measured), 2)
        _note(desk, what, done, strand=strand, part=part, length_cm=length_cm)
        return notice(f"{part_title(strand, part)}: {length:g} {measured} noted after row {done}.")

    # What is typed already keeps its meaning when the units of the piece are changed.
    def follow() -> None:
        nonlocal unit
        before, unit = unit, LONG_UNIT[desk.project.units]
        if measured.value == before != unit:
            length.value = round(length.value * float(CM_PER[before] / CM_PER[unit]), 4)
        offer(measured, (unit, "g"))

    desk.on_change(follow)
    return asking(
        note,
        button="Note it",
        measured=measured,
        what=one_of("note", kinds),
        strand=strand_box(desk),
        part=one_of("of it", PARTS),
        length=length,
    )


# ---- several rows


def cards_pane(desk: Desk, first: int, last: int) -> Pane:
    """The cards of a stretch of rows, as they are printed."""

    def content(plan: Plan) -> str:
        cards = [html.escape(str(card)) for card in plan.cards[first - 1 : last]]
        return "<br><br>".join(card.replace("\n", "<br>") for card in cards)

    return desk.pane(content)


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


def good_rows_to_stop(plan: Plan, ledger: Sequence[Tangle]) -> list[int]:
    """Rows after which balls are clear, few supplies are live, and nothing starts next."""
    rows = plan.rows
    # In a piece that is crowded all along, the quietest quarter of its rows must do.
    few = max(plan.project.habits.comfortable, int(rows.live.quantile(0.25)))
    starts_next = [*rows.starts.tolist()[1:], 0]
    return [
        tangle.row
        for tangle, live, starts in zip(ledger, rows.live, starts_next, strict=True)
        if tangle.clear and live <= few and not starts
    ]


def busiest_rows(plan: Plan) -> list[int]:
    """The rows with most to do; a start or an end counts as much as two borders."""
    rows = plan.rows
    to_do = rows.borders + 2 * (rows.starts + rows.ends)
    return sorted(rows.assign(to_do=to_do).nlargest(BUSIEST, "to_do").row)


def tangled_stretches(ledger: Sequence[Tangle]) -> list[tuple[int, int, int]]:
    """Stretches in which balls are not clear: first, last, and the row in which to clear them."""
    stretches = []
    for clear, tangles in groupby(ledger, key=lambda tangle: tangle.clear):
        rows = [tangle.row for tangle in tangles]
        if not clear and len(rows) > A_WHILE:
            first, last = rows[0], rows[-1]
            stretches.append((first, last, best_row_to_clear(ledger, first, last)))
    return stretches


def stops_html(plan: Plan) -> str:
    """Where balls twist, the good rows to stop at, and those with most to do."""
    ledger = twist_ledger(plan)
    balls = [
        f"<p>Balls twist in rows {first}–{last}; easiest to clear after row {best}.</p>"
        for first, last, best in tangled_stretches(ledger)
    ]
    good = html.escape(stretches_in_words(good_rows_to_stop(plan, ledger))) or "none"
    busy = html.escape(stretches_in_words(busiest_rows(plan)))
    stops = f"<p>Good rows to stop at: after {good}.</p>"
    most = f"<p>Most to do in rows {busy}: not the last thing in an evening.</p>"
    return "".join([*balls, stops, most])


def stops_pane(desk: Desk) -> Pane:
    """Where balls twist, the good rows to stop at, and those with most to do."""
    return desk.pane(stops_html)


def stretches_in_words(rows: Sequence[int]) -> str:
    """Rows in words, those that follow one another together: "3–5, 9"."""
    stretches: list[list[int]] = []
    for row in rows:
        if stretches and stretches[-1][-1] == row - 1:
            stretches[-1].append(row)
        else:
            stretches.append([row])
    words = []
    for stretch in stretches:
        first, last = stretch[0], stretch[-1]
        words.append(str(first) if first == last else f"{first}–{last}")
    return ", ".join(words)
