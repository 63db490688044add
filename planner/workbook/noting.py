"""Noting: lines that are added to the progress of the piece on the desk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from planner.errors import PlanError
from planner.folder import with_entry
from planner.knitting import Mark
from planner.piece import Project
from planner.workbook.desk import Desk

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
