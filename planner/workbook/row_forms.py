"""The row on the needles: its card in large type, what lies below and ahead, and the marks that keep the place."""

from __future__ import annotations

import html
from collections.abc import Callable
from itertools import groupby

import ipywidgets as widgets

from planner.errors import PlanError
from planner.folder import log_progress
from planner.knitting import before_and_after, will_it_last, will_yarns_last
from planner.pictures import draw_strand_order, draw_tangle
from planner.piece import JOINED, LEFT, PARTS, UNDONE, WORKED, rows_worked
from planner.plan import make_plan
from planner.rows import Card, best_row_to_clear, twist_ledger, what_to_do
from planner.strands import note_row
from planner.units import CM_PER, LONG_UNIT
from planner.workbook.desk import Desk, Form, Pane, notice, picture_html, table_html
from planner.workbook.forms import heard, labelled, strand_box

BREAK_EVERY = 10  # rows; where a pause for the hands is offered
LARGE = "font-size:1.5em; line-height:1.5; border-left:6px solid #4d7ea8; padding:0.3em 0.8em; margin:0.3em 0"


def card_html(card: Card, turn: str = "", twist: str = "") -> str:
    """A card in large type, with the way to turn after it and what to do about the balls."""
    lines = str(card).splitlines()
    said = [f"<b>{html.escape(lines[0])}</b>", *map(html.escape, lines[1:])]
    if turn:
        said.append(
            f"Then turn the work {html.escape('towards you' if turn == 'towards' else 'away from you')}."
        )
    if twist:
        said.append(html.escape(f"Balls: {twist}"))
    return f'<div class="row-card" style="{LARGE}">{"<br>".join(said)}</div>'


def row_form(desk: Desk) -> Form:
    """The card of the row on the needles, with buttons to mark it worked or take it back; opens where the knitter stopped."""
    card, below, coming, supplies = Pane(), Pane(), Pane(), Pane()
    picture, message = Pane(), Pane()
    worked = widgets.Button(
        description="Row worked", icon="check", layout=widgets.Layout(width="200px")
    )
    first_turn = labelled(widgets.Dropdown, "first turn", options=("towards", "away"))
    undo = widgets.Button(
        description="Take the last row back", icon="undo", layout=widgets.Layout(width="220px")
    )

    def show():
        plan, done = desk.plan, rows_worked(desk.project.progress)
        cards = plan.cards
        ledger = twist_ledger(plan, first_turn=first_turn.value)
        if done == len(cards):
            card.value = f'<div class="row-card" style="{LARGE}"><b>All {done} rows are worked.</b> Sew the ends in.</div>'
            coming.value = picture.value = ""
        else:
            twist = what_to_do(ledger, done + 1) if len(ledger[done].table) > 1 else ""
            rest = (
                " Time for a pause: let hands and wrists rest."
                if done and done % BREAK_EVERY == 0
                else ""
            )
            card.value = card_html(cards[done], ledger[done].turn, twist) + (
                f"<i>{rest}</i>" if rest else ""
            )
            coming.value = "<br>".join(
                f"<b>{html.escape(c.name)}</b> {html.escape(c.aloud())}"
                for c in cards[done + 1 : done + 4]
            )
            first = max(1, done - 2)
            picture.value = picture_html(
                draw_strand_order(plan, first, first + 7), f"Rows {first} to {first + 7}"
            )
        below.value = (
            f"Below it: {html.escape(cards[done - 1].name)}, {html.escape(cards[done - 1].aloud())}"
            if done
            else ""
        )
        table = will_it_last(plan, desk.project.progress)
        supplies.value = table_html(table) if len(table) else "No supply is on the needles now."
        supplies.value += "<br>" + table_html(will_yarns_last(plan, desk.project.progress))

    def mark(what: str) -> Callable:
        @heard(message)
        def act():
            done = rows_worked(desk.project.progress)
            row = done + 1 if what == WORKED else done
            values = (
                {"runs": note_row(desk.plan.traced, row)}
                if what == WORKED and row <= len(desk.plan.cards)
                else {}
            )
            try:
                log_progress(desk.project, what, row, **values)
            finally:  # where it is refused, another notebook has marked a row meanwhile
                desk.read_progress_again()
            message.value = notice(
                f"row {row} {'is worked' if what == WORKED else 'is taken back'}."
            )

        return act

    first_turn.observe(lambda _: show(), names="value")
    worked.on_click(mark(WORKED))
    undo.on_click(mark(UNDONE))
    desk.on_change(show)
    show()
    buttons = widgets.HBox([worked, undo, message])
    heads = [widgets.HTML(f"<b>{text}</b>") for text in ("What is coming", "Will it last?")]
    return Form([card, buttons, below, heads[0], coming, picture, heads[1], supplies, first_turn])


def twist_form(desk: Desk, project=None) -> Form:
    """The balls' yarns after any row: what to do, and a picture of them. `project` may be another one than the desk's."""
    plan = make_plan(project) if project else desk.plan
    ledger, answer, picture = twist_ledger(plan), Pane(), Pane()
    row = labelled(
        widgets.IntSlider, "after row", value=1, min=1, max=len(ledger), continuous_update=False
    )

    def show(_=None):
        now = ledger[row.value - 1]
        answer.value = html.escape(
            f"Balls on the table: {', '.join(now.table) or 'none'}. {what_to_do(ledger, row.value)}."
        )
        picture.value = picture_html(draw_tangle(plan, now), now.in_words()) if now.table else ""

    row.observe(show, names="value")
    row.value = max(ledger, key=lambda t: (len(t.table), -t.row)).row
    show()
    return Form([row, answer, picture])


def left_form(desk: Desk) -> Form:
    """A supply measured or weighed on the way, or a new piece joined to it."""
    message, unit = Pane(), LONG_UNIT[desk.project.units]
    whats = (("what is left of it", LEFT), ("a new piece joined to it", JOINED))
    what, strand = labelled(widgets.Dropdown, "note", options=whats), strand_box(desk)
    part = labelled(widgets.Dropdown, "of it", options=PARTS)
    length = labelled(widgets.FloatText, "tail included")
    measured = labelled(widgets.Dropdown, "measured in", options=(unit, "g"))
    button = widgets.Button(description="Note it", layout=widgets.Layout(width="200px"))

    @heard(message)
    def keep():
        done, per = rows_worked(desk.project.progress), float(CM_PER[unit])
        if measured.value == "g":
            yarn = desk.project.all_yarns[strand.value.rstrip("0123456789")]
            if not (yarn.metres_per_ball and yarn.grams_per_ball):
                raise PlanError(
                    f"Yarn {yarn.letter} has no metres and grams per ball in yarns.csv, so measure its length."
                )
            per = 100 * yarn.metres_per_ball / yarn.grams_per_ball
        length_cm = round(length.value * per, 2)
        log_progress(
            desk.project,
            what.value,
            done,
            strand=strand.value,
            part=part.value,
            length_cm=length_cm,
        )
        desk.read_progress_again()
        message.value = notice(
            f"{strand.value}: {length.value:g} {measured.value} noted after row {done}."
        )

    button.on_click(keep)
    return Form([what, strand, part, length, measured, button, message])


def cards_pane(desk: Desk, first: int, last: int) -> Pane:
    """The cards of a stretch of rows, as they are printed."""
    return desk.pane(
        lambda plan: "<br><br>".join(
            html.escape(str(card)).replace("\n", "<br>") for card in plan.cards[first - 1 : last]
        )
    )


def changes_pane(desk: Desk) -> Pane:
    """What has changed since this notebook was opened: supplies to add, lengthen or drop."""
    opened = desk.plan

    def content(plan) -> str:
        table = before_and_after(opened, plan)
        changed = table[table.what_to_do != "as it is"]
        gone = [label for label in opened.traced.labels if label not in plan.traced.labels]
        words = f"<p>No longer needed: {html.escape(', '.join(gone))}.</p>" if gone else ""
        return words + (
            table_html(changed)
            if len(changed)
            else "Nothing has changed since this notebook was opened."
        )

    return desk.pane(content)


def stops_pane(desk: Desk) -> Pane:
    """Good rows to stop at: the balls' yarns are clear, few supplies are live, and nothing starts in the next row."""

    def content(plan) -> str:
        ledger, rows = twist_ledger(plan), plan.rows
        few = rows.live <= max(plan.project.habits.comfortable, int(rows.live.quantile(0.25)))
        good = [
            t.row
            for t in ledger
            if t.clear
            and few.iloc[t.row - 1]
            and (t.row == len(rows) or rows.starts.iloc[t.row] == 0)
        ]
        busy = (
            rows.assign(to_do=rows.borders + 2 * (rows.starts + rows.ends))
            .nlargest(6, "to_do")
            .row.tolist()
        )
        tangled = []  # stretches of more than two rows in which the balls' yarns are not clear
        for clear, some in groupby(ledger, key=lambda t: t.clear):
            there = [t.row for t in some]
            if not clear and len(there) > 2:
                tangled.append(
                    (there[0], there[-1], best_row_to_clear(ledger, there[0], there[-1]))
                )
        balls = "".join(
            f"<p>Balls twist in rows {a}–{b}; easiest to clear after row {best}.</p>"
            for a, b, best in tangled
        )
        return balls + (
            f"<p>Good rows to stop at: after {html.escape(_stretches(good)) or 'none'}.</p>"
            f"<p>Most to do in rows {html.escape(_stretches(sorted(busy)))}: not the last thing in an evening.</p>"
        )

    return desk.pane(content)


def _stretches(rows: list[int]) -> str:
    """Rows in words: "3–5, 9"."""
    out: list[list[int]] = []
    for row in rows:
        if out and out[-1][1] == row - 1:
            out[-1][1] = row
        else:
            out.append([row, row])
    return ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in out)


__all__ = ["cards_pane", "changes_pane", "left_form", "row_form", "stops_pane", "twist_form"]
