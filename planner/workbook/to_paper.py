"""Notebooks 3 and 6: the plan, and what is left to do, on paper."""

from __future__ import annotations

import base64
import html
from collections.abc import Callable
from pathlib import PurePosixPath

import ipywidgets as widgets

from planner.folder import locked_folder, write_together
from planner.paper import (
    CARDS,
    FINISHING,
    HANDOUT,
    HANDOUT_TEXT,
    PATTERN,
    PATTERN_TEXT,
    SHEET,
    all_papers,
    finishing_files,
)
from planner.plan import Plan
from planner.workbook.asking import heard
from planner.workbook.common import words_form
from planner.workbook.desk import Desk
from planner.workbook.fields import button, labelled, one_of
from planner.workbook.news import is_plan_the_same
from planner.workbook.panes import Form, Pane, notice

PAPERS = (("A4", "a4"), ("US Letter", "letter"))
# Where a piece is measured in inches, so is the paper.
USUAL_PAPER = {"cm": "a4", "in": "letter"}
NOTES = "your own notes, for the first page"
NO_FOLDER = "This piece has no folder to write into. Open one that has."


WHAT_FOR = {
    SHEET: ("the sheet", "application/pdf", "print it at its true size (100 %)"),
    CARDS: ("the row cards", "text/html", "send them to the phone; they need no network"),
    FINISHING: ("the finishing page", "application/pdf", "tick each end when it is sewn in"),
    PATTERN: ("the pattern", "application/pdf", "to print or to send"),
    PATTERN_TEXT: ("it as plain text", "text/plain", "for any program, and to be read aloud"),
    HANDOUT: ("the handout", "application/pdf", "print one for each student"),
    HANDOUT_TEXT: ("it as plain text", "text/plain", "for any program, and to be read aloud"),
}
OUTDATED = "the plan has changed since this was made. Make it again."
ENDS_SINCE = "ends were marked since this was made; the plan is the same."
Files = Callable[[Plan, str], dict[str, bytes]]  # what is made of a plan on a paper, by its place


def make_papers(desk: Desk, paper: str, files_of: Files) -> str:
    """Write what is made of the plan on the desk into its folder.

    Returns HTML that says where, with links to download it.
    """
    folder = desk.folder(NO_FOLDER)
    # Paper cannot be brought up to date, so it is made of what the folder holds by now.
    desk.look()
    files = files_of(desk.plan, paper)
    with locked_folder(folder):
        write_together(folder, files)
    size = {name: title for title, name in PAPERS}[paper]
    kept = " and ".join(f"{folder.name}/{name}" for name in files)
    done = notice(f"made for {size} paper, and kept as {kept}.")
    links = [_download(name, content, folder.name) for name, content in files.items()]
    texts = [_preview(content) for name, content in files.items() if name.endswith(".txt")]
    return f"{done}<ul>{''.join(links)}</ul>{''.join(texts)}"


def _preview(text: bytes) -> str:
    """A plain text to be read on the spot, shut at first, as HTML."""
    words = html.escape(text.decode())
    return f'<details><summary>Read it here</summary><pre class="plan-text">{words}</pre></details>'


def _download(name: str, content: bytes, piece: str) -> str:
    """A line with a file to download, wherever the notebook's server keeps its files."""
    what, kind, advice = WHAT_FOR[name]
    file = html.escape(f"{piece}-{PurePosixPath(name).name}")
    source = f"data:{kind};base64,{base64.b64encode(content).decode()}"
    link = f'<a download="{file}" href="{source}">Download {what}</a>'
    return f"<li>{link} ({len(content) / 1000:,.0f} kB): {html.escape(advice)}.</li>"


def sheet_form(desk: Desk) -> Form:
    """A button that makes the sheet: the whole plan as a PDF to print and to tick.

    Above it stands what the knitter wants to remember, which the first page says.
    """
    own_notes = labelled(widgets.Textarea, NOTES, rows=3, continuous_update=False)
    notes = words_form(desk, "notes", own_notes)
    return Form([notes, paper_form(desk, "Make sheet and cards page", all_papers)])


def finishing_page_form(desk: Desk) -> Form:
    """A button that makes the finishing page."""
    return paper_form(desk, "Make the finishing page", finishing_files)


def paper_form(desk: Desk, label: str, files_of: Files) -> Form:
    """A choice of paper, and a button of this label that makes the files."""
    message = Pane()
    paper = one_of("paper", PAPERS, USUAL_PAPER[desk.project.units])
    make = button(label, icon="print")
    made_of, units = None, desk.project.units

    @heard(message)
    def act() -> None:
        nonlocal made_of
        message.value = notice("setting the pages …")
        message.value = make_papers(desk, paper.value, files_of)
        made_of = desk.plan

    def forget() -> None:
        nonlocal made_of
        made_of, message.value = None, ""

    def follow() -> None:
        nonlocal units
        if made_of is not None and made_of is not desk.plan:
            is_same = is_plan_the_same(made_of.project, desk.project)
            if not is_same:
                forget()
                message.value = notice(OUTDATED, trouble=True)
            elif ENDS_SINCE not in message.value:
                message.value += notice(ENDS_SINCE)
        if desk.project.units != units:
            units = desk.project.units
            paper.value = USUAL_PAPER[units]

    desk.on_arrival(forget)
    make.on_click(act)
    desk.on_change(follow)
    actions = widgets.HBox([make])
    actions.add_class("plan-actions")
    return Form([paper, actions, message])
