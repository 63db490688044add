"""Casting on all in one yarn: a length of its own, cut when the stitches are on the needle."""

from __future__ import annotations

from planner.errors import PlanError
from planner.piece import LOOSE, Project
from planner.strands import Strands
from planner.supplies import CAST_ON, Piece, run_widths


def cast_on_piece(project: Project, strands: Strands) -> list[Piece]:
    """The length that is cast on with, if all of it is in one yarn; else none.

    It has the widths of the first row that are set, and two tails.
    """
    allow = project.allow
    if not allow.casts_on_in_one:
        return []
    letter = allow.cast_on_in
    if letter not in project.chart.letters:
        raise PlanError(
            f'The piece is cast on in yarn "{letter}", which is not on the chart; its yarns are '
            f"{', '.join(project.chart.letters)}. Leave it empty to cast on in sections."
        )
    first_row = strands.runs.row == 0
    width_cm = float(run_widths(strands, yarn_overs=False)[first_row].sum())
    return [
        Piece(
            label=CAST_ON,
            strand=CAST_ON,
            part=CAST_ON,
            yarn=letter,
            supply=LOOSE,
            length_cm=allow.cast_on * width_cm + 2 * allow.tail_cm,
            halves_cm=None,
            rule_cm=None,
            row=0,
            side=strands.how.side(0),
            stitch=None,
            # Before anything is knitted; it hangs in no row.
            order=-1,
            refill=0,
            begins=0,
            done=0,
            place="all stitches",
        )
    ]
