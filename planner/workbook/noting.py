"""Noting: lines that are added to the progress of the piece on the desk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from planner.errors import PlanError
from planner.folder import with_entry
from planner.knitting import Mark
from planner.piece import Project, rows_worked
from planner.workbook.desk import Desk
from planner.workbook.panes import Pane

Line = tuple[Mark, Mapping[str, Any]]  # a line to add, and its further fields
NO_PROGRESS = "This piece has no folder to keep its progress in. Open one that lies in data."


def note(desk: Desk, marks: Iterable[Mark], *, doing: str, **values: Any) -> None:
    """Add lines to the progress of the piece on the desk; `values` are further fields of each.

    It is refused if the piece is by now another than the one that is shown.
    """
    note_lines(desk, [(mark, values) for mark in marks], doing=doing)


def note_lines(desk: Desk, lines: Iterable[Line], *, doing: str) -> None:
    """Add lines, each with further fields of its own, all of them or none."""
    shown = desk.project
    # How long a row takes is learnt from it; lines put down together have one moment.
    moment = datetime.now().isoformat(timespec="seconds")

    def noted(held: Project) -> Project:
        if replace(held, folder=shown.folder) != shown:
            raise PlanError("The piece has changed meanwhile. Look at the card again.")
        for mark, values in lines:
            runs = {"runs": mark.runs} if mark.runs else {}
            progress = with_entry(held, mark.what, mark.row, moment=moment, **runs, **values)
            held = replace(held, progress=progress)
        return held

    desk.folder(NO_PROGRESS)
    desk.act(noted, doing=doing)


def goes_with_the_rows(desk: Desk, message: Pane) -> None:
    """Take a message away as soon as other rows are worked than when it was written."""
    stood = rows_worked(desk.project.progress)

    def follow() -> None:
        nonlocal stood
        done = rows_worked(desk.project.progress)
        # Who marks rows here says so only after all have followed, so that it stays.
        if done != stood:
            stood, message.value = done, ""

    def arrived() -> None:
        message.value = ""

    desk.on_change(follow)
    desk.on_arrival(arrived)
