"""Garter: whether a line of the text is a ridge, as a chart has them, or one of its two rows."""

from __future__ import annotations

from collections.abc import Sequence

from planner.charts.written_asks import A_LINE_A_RIDGE, A_LINE_A_ROW, RowRemarks
from planner.charts.written_cells import Cells
from planner.charts.written_lines import RowLine, Script
from planner.charts.written_numbers import Rows
from planner.errors import PlanError
from planner.piece import Construction
from planner.units import counted


def has_a_line_a_row(script: Script, how: Construction, remarks: RowRemarks) -> bool:
    """Whether the lines of a garter text are rows: told, or seen by sides that ridges have not."""
    if how.fabric != "garter":
        return False
    if remarks.told.ridges is not None:
        return remarks.told.ridges == A_LINE_A_ROW
    for entry in script.entries:
        if not isinstance(entry, RowLine) or not entry.title.rows:
            continue
        title = entry.title
        (first, last), *more = title.rows
        alone = first == last and not more
        if title.word == "row" and alone and title.side not in ("", how.side(2 * first - 2)):
            return True
    return False


def ask_about_ridges(
    cells: Sequence[Cells], rows: Rows, how: Construction, remarks: RowRemarks
) -> None:
    """Ask whether lines are ridges where each two could be the rows of one; cells as written."""
    words = {written.title.word for written in rows.values()}
    if how.fabric != "garter" or "ridge" in words or len(cells) % 2:
        return
    for row in range(0, len(cells), 2):
        goes_back = cells[row + 1] == cells[row][::-1]
        if not goes_back and not rows[row + 1].body.as_set:
            return
    question = (
        f"The piece is in garter, and each two of the {len(cells)} lines are alike. Is each line "
        "a ridge, or one of its two rows?"
    )
    remarks.settle("ridges", question, A_LINE_A_RIDGE)


def ridges_of(cells: Sequence[Cells], rows: Rows, remarks: RowRemarks) -> list[Cells]:
    """One row of the chart for each two rows of the text, which are alike as they are seen."""
    if len(cells) % 2:
        raise PlanError(
            f"The text of written rows has {counted(len(cells), 'row')}, and two rows of garter "
            "make a ridge. Write the last one too, or say that each line is a ridge."
        )
    for row in range(0, len(cells), 2):
        if cells[row] != cells[row + 1]:
            raise PlanError(
                f"Line {rows[row + 1].line}: row {row + 2} is in other colours than row {row + 1}, "
                "but the two make one ridge of garter. Write them alike, or say that each line is "
                "a ridge."
            )
    remarks.note(
        f"Two rows of garter make a ridge: {len(cells)} rows are {len(cells) // 2} rows of the "
        "chart."
    )
    return list(cells[::2])
