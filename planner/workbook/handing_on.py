"""Notebook 6: the piece handed on, as a pattern for others or as a practice piece for a class."""

from __future__ import annotations

import html
from collections.abc import Collection
from functools import partial
from pathlib import Path

import ipywidgets as widgets

from planner.edition import IN_WORDS, MOST_STUDENTS, TECHNIQUES, make_lesson, practice_piece
from planner.folder import start_project
from planner.paper import handout_files, pattern_files
from planner.plan import Plan, make_plan
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import button, whole, yes
from planner.workbook.panes import Form, Pane, notice
from planner.workbook.pieces import go_to_piece
from planner.workbook.to_paper import make_papers, paper_form

STUDENTS = 8
NOTHING_PRIVATE = (
    "Chart, key, written rows, amounts with their spread, lengths in stitches of yarn, how each "
    "was held and why, finishing. Left out: lots, balls in hand, notes, logs, where you sit. It is "
    "planned as if nothing were knitted yet and all yarn to be bought."
)
PRACTICE = (
    "A practice piece of 24 × 30 in the gauge and the weight of yarn of this piece, for the ways "
    "of holding yarn: lengths, what to look for, a card for each row, the yarn for a class."
)
OPEN_NOW = (
    "{} is a piece of its own now, in the folder {}, and open in all notebooks. You come back to "
    "{} by the menu at the top of any notebook."
)
MADE_ANEW = "Its handout, made anew:"
CLASS = "For a class: a practice piece, and its handout"


# ---- a pattern for others


def pattern_in_words(plan: Plan) -> str:
    """What the fold offers."""
    return f"A pattern for others: {plan.project.name} as you may publish it"


def pattern_for_others_form(desk: Desk) -> Form:
    """What the pattern holds and leaves out, and a button that makes it."""
    return Form([_note(NOTHING_PRIVATE), paper_form(desk, "Make the pattern", pattern_files)])


# ---- a handout for a class


def begin_practice(desk: Desk, techniques: Collection[str]) -> Path:
    """The folder of the practice piece as a piece of its own, beside that of the piece on the desk.

    Raises PlanError where there is one of its name.
    """
    piece = practice_piece(desk.project, techniques)
    make_plan(piece)  # nothing is kept that cannot be planned
    return start_project(desk.folder().parent, piece)


def class_handout_form(desk: Desk) -> Form:
    """The techniques to try and how many students; makes the handout, or begins the piece."""
    message = Pane()
    made_on = ""  # the paper of the handout that is shown, "" where none is
    boxes = {technique: yes(IN_WORDS[technique], value=True) for technique in TECHNIQUES}
    students = whole("students", STUDENTS, least=1, most=MOST_STUDENTS)

    def chosen() -> list[str]:
        return [technique for technique, box in boxes.items() if box.value]

    def files_of(plan: Plan, paper: str) -> dict[str, bytes]:
        nonlocal made_on
        files = _handout(plan, paper, techniques=chosen(), students=students.value)
        made_on = paper
        return files

    begin = button("Begin this practice piece", icon="scissors")

    @heard(message)
    def begun() -> None:
        # Another piece on the desk clears all boxes, and the links to what was made.
        before, paper = desk.project.name, made_on
        asked = {"techniques": chosen(), "students": students.value}
        folder = begin_practice(desk, chosen())
        go_to_piece(desk, folder, news=f"{folder.name} is made, and open in all notebooks.")
        told = notice(OPEN_NOW.format(desk.project.name, folder.name, before))
        message.value = told
        if paper:
            links = make_papers(desk, paper, partial(_handout, **asked))
            message.value = f"{told}<p>{MADE_ANEW}</p>{links}"

    def begin_anew() -> None:
        nonlocal made_on
        message.value = made_on = ""
        students.value = STUDENTS
        for box in boxes.values():
            box.value = True

    begin.on_click(begun)
    desk.on_arrival(begin_anew)
    fields = widgets.HBox([*boxes.values(), students])
    fields.add_class("plan-fields")
    actions = widgets.HBox([begin])
    actions.add_class("plan-actions")
    handout = paper_form(desk, "Make the handout", files_of)
    return Form([_note(PRACTICE), fields, handout, actions, message])


def _handout(
    plan: Plan, paper: str, *, techniques: Collection[str], students: int
) -> dict[str, bytes]:
    """The handout in the gauge and yarn of a plan's piece, by where its files are kept."""
    lesson = make_lesson(plan.project, techniques=techniques, students=students)
    return handout_files(lesson, paper)


def _note(words: str) -> Pane:
    return Pane(value=f'<div class="plan-note">{html.escape(words)}</div>')
