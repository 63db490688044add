"""Notebook 6: the piece handed on, as a pattern for others or as a practice piece for a class."""

from __future__ import annotations

import html
from collections.abc import Callable, Collection
from pathlib import Path

import ipywidgets as widgets

from planner.edition import IN_WORDS, MOST_STUDENTS, TECHNIQUES, make_lesson, practice_piece
from planner.folder import start_project
from planner.paper import (
    HANDOUT,
    HANDOUT_TEXT,
    PATTERN,
    PATTERN_TEXT,
    handout_files,
    pattern_files,
)
from planner.plan import Plan, make_plan
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import button, one_of, whole, yes
from planner.workbook.panes import Form, Pane, notice
from planner.workbook.pieces import go_to_piece
from planner.workbook.to_paper import PAPERS, USUAL_PAPER, Kind, keep_and_offer

STUDENTS = 8
OUTDATED = "the plan has changed since this was made. Make it again."
NOTHING_PRIVATE = (
    "Chart, key, written rows, amounts with their spread, lengths in stitches of yarn, how each "
    "was held and why, finishing. Left out: lots, balls in hand, notes, logs, where you sit. It is "
    "planned as if nothing were knitted yet and all yarn to be bought."
)
PRACTICE = (
    "A practice piece of 24 × 30 in the gauge and the weight of yarn of this piece, for the ways "
    "of holding yarn: lengths, what to look for, a card for each row, the yarn for a class."
)
KINDS = {
    PATTERN: Kind("the pattern", "application/pdf", "to print or to send"),
    PATTERN_TEXT: Kind("it as plain text", "text/plain", "for any program, and to be read aloud"),
    HANDOUT: Kind("the handout", "application/pdf", "print one for each student"),
    HANDOUT_TEXT: Kind("it as plain text", "text/plain", "for any program, and to be read aloud"),
}


# ---- a pattern for others


def pattern_in_words(plan: Plan) -> str:
    """What the fold offers."""
    return f"A pattern for others: {plan.project.name} as you may publish it"


def make_pattern(desk: Desk, paper: str) -> str:
    """Write the pattern of the piece on the desk into its folder; HTML with links and a preview."""
    desk.look()
    files = pattern_files(desk.plan, paper)
    return keep_and_offer(desk, files, KINDS) + preview(files[PATTERN_TEXT])


def pattern_for_others_form(desk: Desk) -> Form:
    """A choice of paper, and a button that makes the pattern."""
    paper = one_of("paper", PAPERS, USUAL_PAPER[desk.project.units])
    actions, message = making(
        desk,
        "Make the pattern",
        lambda: make_pattern(desk, paper.value),
    )
    _follow_units(desk, paper)
    return Form([Pane(value=_note(NOTHING_PRIVATE)), paper, actions, message])


# ---- a handout for a class


def make_handout(desk: Desk, techniques: Collection[str], *, students: int, paper: str) -> str:
    """Write a handout of these techniques into the folder of the piece; HTML as for a pattern."""
    desk.look()
    lesson = make_lesson(desk.project, techniques=techniques, students=students)
    files = handout_files(lesson, paper)
    return keep_and_offer(desk, files, KINDS) + preview(files[HANDOUT_TEXT])


def begin_practice(desk: Desk, techniques: Collection[str]) -> Path:
    """The folder of the practice piece as a piece of its own, beside that of the piece on the desk.

    Raises PlanError where there is one of its name.
    """
    piece = practice_piece(desk.project, techniques)
    make_plan(piece)  # nothing is kept that cannot be planned
    return start_project(desk.folder().parent, piece)


def class_handout_form(desk: Desk) -> Form:
    """The techniques to try, how many students, the paper; makes the handout, or the piece."""
    boxes = {technique: yes(IN_WORDS[technique], value=True) for technique in TECHNIQUES}
    students = whole("students", STUDENTS, least=1, most=MOST_STUDENTS)
    paper = one_of("paper", PAPERS, USUAL_PAPER[desk.project.units])

    def chosen() -> list[str]:
        return [technique for technique, box in boxes.items() if box.value]

    actions, message = making(
        desk,
        "Make the handout",
        lambda: make_handout(desk, chosen(), students=students.value, paper=paper.value),
    )
    begin = button("Begin this practice piece", icon="scissors")

    @heard(message)
    def begun() -> None:
        folder = begin_practice(desk, chosen())
        go_to_piece(desk, folder, news=f"{folder.name} is made, and open in all notebooks.")

    def begin_anew() -> None:
        students.value = STUDENTS
        for box in boxes.values():
            box.value = True

    begin.on_click(begun)
    desk.on_arrival(begin_anew)
    _follow_units(desk, paper)
    actions.children = (*actions.children, begin)
    fields = widgets.HBox([*boxes.values(), students, paper])
    fields.add_class("plan-fields")
    return Form([Pane(value=_note(PRACTICE)), fields, actions, message])


# ---- what both share


def making(desk: Desk, label: str, make: Callable[[], str]) -> tuple[widgets.HBox, Pane]:
    """A button that makes something of the plan, and where its HTML stands until it is outdated."""
    message = Pane()
    press = button(label, icon="print")
    made_of: Plan | None = None

    @heard(message)
    def act() -> None:
        nonlocal made_of
        message.value = notice("setting the pages …")
        message.value = make()
        made_of = desk.plan

    def forget() -> None:
        nonlocal made_of
        made_of, message.value = None, ""

    def follow() -> None:
        if made_of is not None and made_of is not desk.plan:
            forget()
            message.value = notice(OUTDATED, trouble=True)

    press.on_click(act)
    desk.on_arrival(forget)
    desk.on_change(follow)
    actions = widgets.HBox([press])
    actions.add_class("plan-actions")
    return actions, message


def _follow_units(desk: Desk, paper: widgets.Dropdown) -> None:
    """Put the usual paper whenever the units of the piece change."""
    units = desk.project.units

    def follow() -> None:
        nonlocal units
        if desk.project.units != units:
            units = desk.project.units
            paper.value = USUAL_PAPER[units]

    desk.on_change(follow)


def preview(text: bytes) -> str:
    """A text to be read on the spot, shut at first, as HTML."""
    words = html.escape(text.decode())
    return f'<details><summary>Read it here</summary><pre class="plan-text">{words}</pre></details>'


def _note(words: str) -> str:
    return f'<div class="plan-note">{html.escape(words)}</div>'
