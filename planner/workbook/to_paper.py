"""Notebooks 3 and 4: the plan on paper."""

from __future__ import annotations

import ipywidgets as widgets

from planner.folder import locked_folder, write_together
from planner.paper import CARDS, SHEET, all_papers
from planner.workbook.asking import heard
from planner.workbook.desk import Desk
from planner.workbook.fields import button, one_of
from planner.workbook.panes import Form, Pane, notice

PAPERS = (("A4", "a4"), ("US Letter", "letter"))
# Where a piece is measured in inches, so is the paper.
USUAL_PAPER = {"cm": "a4", "in": "letter"}
NO_FOLDER = "This piece has no folder to write into. Open one that has."


def make_sheet(desk: Desk, paper: str) -> str:
    """Write sheet and cards page of the plan on the desk into its folder; says where, as HTML."""
    folder = desk.folder(NO_FOLDER)
    # Paper cannot be brought up to date, so it is made of what the folder holds by now.
    desk.look()
    files = all_papers(desk.plan, paper)
    with locked_folder(folder):
        write_together(folder, files)
    size = {name: title for title, name in PAPERS}[paper]
    return notice(
        f"written to {folder.name}/{SHEET} for {size} paper: open it from the list of files, and "
        f"print it at its true size (100 %). And to {folder.name}/{CARDS}, the row cards for a "
        "phone beside the needles: send it there, it needs no network."
    )


def sheet_form(desk: Desk) -> Form:
    """A button that makes the sheet: the whole plan as a PDF to print and to tick."""
    message = Pane()
    paper = one_of("paper", PAPERS, USUAL_PAPER[desk.project.units])
    make = button("Make sheet and cards page", icon="print", width="240px")

    @heard(message)
    def act() -> None:
        message.value = notice("setting the pages …")
        message.value = make_sheet(desk, paper.value)

    make.on_click(act)
    return Form([widgets.HBox([paper, make]), message])
