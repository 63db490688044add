"""Notebooks 3 and 4: the plan on paper."""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping
from pathlib import PurePosixPath
from typing import NamedTuple

import ipywidgets as widgets

from planner.folder import locked_folder, write_together
from planner.paper import CARDS, SHEET, all_papers
from planner.workbook.asking import heard
from planner.workbook.common import words_form
from planner.workbook.desk import Desk
from planner.workbook.fields import button, labelled, one_of
from planner.workbook.panes import Form, Pane, notice

PAPERS = (("A4", "a4"), ("US Letter", "letter"))
# Where a piece is measured in inches, so is the paper.
USUAL_PAPER = {"cm": "a4", "in": "letter"}
NOTES = "your own notes, for the first page"
NO_FOLDER = "This piece has no folder to write into. Open one that has."


class Kind(NamedTuple):
    """A kind of file: what it is called, its MIME type, and what it is for."""

    what: str
    mime: str
    advice: str


WHAT_FOR = {
    SHEET: Kind("the sheet", "application/pdf", "print it at its true size (100 %)"),
    CARDS: Kind("the row cards", "text/html", "send them to the phone; they need no network"),
}
OUTDATED = "the plan has changed since the sheet was made. Make it again."


def make_sheet(desk: Desk, paper: str) -> str:
    """Write sheet and cards page of the plan on the desk into its folder.

    Returns HTML that says where, with links to download them.
    """
    # Paper cannot be brought up to date, so it is made of what the folder holds by now.
    desk.look()
    files = all_papers(desk.plan, paper)
    size = {name: title for title, name in PAPERS}[paper]
    return keep_and_offer(desk, files, WHAT_FOR, made=f"made for {size} paper")


def keep_and_offer(
    desk: Desk, files: Mapping[str, bytes], kinds: Mapping[str, Kind], *, made: str = "made"
) -> str:
    """Write files into the folder of the piece; HTML that says where, with links to them."""
    folder = desk.folder(NO_FOLDER)
    with locked_folder(folder):
        write_together(folder, files)
    kept = " and ".join(f"{folder.name}/{name}" for name in files)
    done = notice(f"{made}, and kept as {kept}.")
    links = [_download(name, files[name], folder.name, kinds[name]) for name in files]
    return f"{done}<ul>{''.join(links)}</ul>"


def _download(name: str, content: bytes, piece: str, of: Kind) -> str:
    """A line with a file to download, wherever the notebook's server keeps its files."""
    what, kind, advice = of
    file = html.escape(f"{piece}-{PurePosixPath(name).name}")
    source = f"data:{kind};base64,{base64.b64encode(content).decode()}"
    link = f'<a download="{file}" href="{source}">Download {what}</a>'
    return f"<li>{link} ({len(content) / 1000:,.0f} kB): {html.escape(advice)}.</li>"


def sheet_form(desk: Desk) -> Form:
    """A button that makes the sheet: the whole plan as a PDF to print and to tick.

    Above it stands what the knitter wants to remember, which the first page says.
    """
    message = Pane()
    own_notes = labelled(widgets.Textarea, NOTES, rows=3, continuous_update=False)
    paper = one_of("paper", PAPERS, USUAL_PAPER[desk.project.units])
    make = button("Make sheet and cards page", icon="print")
    made_of, units = None, desk.project.units

    @heard(message)
    def act() -> None:
        nonlocal made_of
        message.value = notice("setting the pages …")
        message.value = make_sheet(desk, paper.value)
        made_of = desk.plan

    def forget() -> None:
        nonlocal made_of
        made_of, message.value = None, ""

    def follow() -> None:
        nonlocal units
        if made_of is not None and made_of is not desk.plan:
            forget()
            message.value = notice(OUTDATED, trouble=True)
        if desk.project.units != units:
            units = desk.project.units
            paper.value = USUAL_PAPER[units]

    desk.on_arrival(forget)
    make.on_click(act)
    desk.on_change(follow)
    actions = widgets.HBox([make])
    actions.add_class("plan-actions")
    return Form([words_form(desk, "notes", own_notes), paper, actions, message])
