"""Balls on the table: where they lie, what to do about their yarns, and that it was done."""

from __future__ import annotations

import html
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import ipywidgets as widgets

from planner import pictures
from planner.errors import PlanError
from planner.knitting import Mark
from planner.piece import CLEARED, rows_worked
from planner.plan import Plan
from planner.twists import ALL_CLEAR, BallAdvice, advise, clearings_in_words
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import button
from planner.workbook.noting import note
from planner.workbook.panes import Form, Pane, notice, picture_html
from planner.workbook.slider import Slider

CARE = "Keep cords, bobbins and small balls away from children and pets."


# The card and what stands below it ask for the same one after the other.
@lru_cache(maxsize=2)
def advice_of(plan: Plan) -> tuple[BallAdvice, ...]:
    """What to do about the balls in each row of a plan."""
    return advise(plan)


def moves_html(plan: Plan, advice: BallAdvice) -> str:
    """A sketch of the hand moves after a row; "" where there are none."""
    if not advice.moves:
        return ""
    return picture_html(pictures.draw_moves(plan, advice), " ".join(advice.after))


def table_of_balls_html(plan: Plan, row: int) -> str:
    """The balls in a row, from 1: where they lie, what is done about them, and what stays."""
    advice = advice_of(plan)[row - 1]
    word = plan.traced.how.row_word
    if not advice.needle and not advice.table:
        return f"No ball is on the table in {word} {row}."
    sentences = [advice.balls] if advice.table else []
    sentences += [each for each in advice.before if each not in sentences]
    sentences += advice.after
    sentences += [each for each in advice.state if each not in sentences]
    if advice.clear:
        sentences.append("All yarns lie clear after it.")
    return "<br>".join(map(html.escape, sentences)) + moves_html(plan, advice)


def piece_html(plan: Plan) -> str:
    """How often balls are cleared in the rows to come."""
    words = clearings_in_words(advice_of(plan)[rows_worked(plan.project.progress) :])
    return html.escape(words or "No balls have to be cleared in what is still to come.")


def is_due(plan: Plan) -> bool:
    """Whether balls are cleared after the row on the needles."""
    done = rows_worked(plan.project.progress)
    return done < len(plan.cards) and bool(advice_of(plan)[done].moves)


def clearing_done(plan: Plan, *, all_clear: bool = False) -> Sequence[Mark]:
    """The line of the log that says that the balls are cleared.

    As it is due after the row on the needles; or, where `all_clear`, all of them after the last row
    worked, whatever was due.
    """
    done = rows_worked(plan.project.progress)
    if all_clear:
        if not done:
            raise PlanError("No row is worked yet, so there is nothing to clear.")
        return [Mark(CLEARED, done, ALL_CLEAR)]
    if not is_due(plan):
        raise PlanError("Nothing has to be cleared after this row.")
    return [Mark(CLEARED, done + 1, advice_of(plan)[done].log)]


def balls_form(desk: Desk) -> Form:
    """The balls in any row, how often they are cleared, and a button to say that all lie clear."""
    answer, table = Pane(), Pane()
    whole = desk.pane(piece_html)
    row = Slider(description="row", min=1, max=1)
    clear = button("All balls lie clear now", icon="check", width="240px")

    def show(_: Any = None) -> None:
        table.value = table_of_balls_html(desk.plan, row.value)

    # It goes along with the row on the needles.
    def follow() -> None:
        rows = len(desk.plan.cards)
        row.max = rows
        row.value = min(rows, rows_worked(desk.project.progress) + 1)
        show()

    @heard(answer)
    def cleared() -> None:
        note(desk, clearing_done(desk.plan, all_clear=True), doing="balls cleared")
        answer.value = notice("noted that all balls lie clear.")

    row.observe(show, names="value")
    clear.on_click(cleared)
    desk.on_change(follow, later=True)
    follow()
    return Form([whole, row, table, clear, answer, widgets.HTML(f"<small>{CARE}</small>")])
