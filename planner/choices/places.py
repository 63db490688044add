"""The places that choices are about: a yarn, a worked row and a stitch of it, from the right.

A place stands for the run of that yarn that holds the stitch, for an embroidery for its colour area
on the chart as drawn. Rows and stitches are counted from 1.
"""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np

from planner.piece import OwnChoice, Project
from planner.strands import Runs, Strands
from planner.units import counted

REFUSED, BY_ITSELF = "refused", "by itself"
# Where a carry goes; it stands in the choice's part.
GOES_TO = re.compile(r"to row (\d+) stitch (\d+)")


class Place(NamedTuple):
    """A yarn at a stitch of a worked row."""

    yarn: str
    row: int
    stitch: int


def find_run(
    runs: Runs,
    letters: tuple[str, ...],
    yarn: str,
    row: int,
    stitch: int,
) -> int | None:
    """The run of a yarn that holds a stitch of a worked row; None if there is none."""
    # Columns are counted from the left and from 0, stitches from the right and from 1.
    column = runs.columns - stitch
    in_row = runs.row == row - 1
    not_after = runs.lo <= column
    not_before = column <= runs.hi
    found = np.flatnonzero(in_row & not_after & not_before)
    # Runs of a row do not overlap, so there is one at the most.
    for run in found.tolist():
        if letters[runs.yarn[run]] == yarn:
            return run
    return None


def run_of(
    runs: Runs,
    letters: tuple[str, ...],
    choice: OwnChoice,
) -> int | None:
    """The run at the place of a choice; None if there is none."""
    return find_run(runs, letters, choice.yarn, choice.row, choice.stitch)


def find_goal(
    runs: Runs,
    letters: tuple[str, ...],
    carry: OwnChoice,
) -> int | None:
    """The run to which a carry goes; None if there is none, or if its part does not say where."""
    # The goal is of the same yarn, so the part leaves it out.
    goes_to = GOES_TO.fullmatch(carry.part)
    if goes_to is None:
        return None
    row, stitch = map(int, goes_to.groups())
    return find_run(runs, letters, carry.yarn, row, stitch)


def place_of(strands: Strands, run: int) -> Place:
    """The place at which a run begins."""
    runs = strands.runs
    letter = strands.chart.letters[runs.yarn[run]]
    stitch = strands.stitch_number(np.array(run))
    return Place(
        letter,
        row=int(runs.row[run]) + 1,
        stitch=int(stitch),
    )


def choice_at(
    strands: Strands,
    about: str,
    run: int,
    choice: str,
    to: int | None = None,
) -> OwnChoice:
    """A choice about a run, and for a carry the run it goes to."""
    # Only a carry needs a second place.
    part = "whole"
    if to is not None:
        goal = place_of(strands, to)
        part = f"to row {goal.row} stitch {goal.stitch}"
    place = place_of(strands, run)
    return OwnChoice(about, *place, part, choice)


def choice_of_area(
    project: Project,
    areas: np.ndarray,
    area: int,
) -> OwnChoice:
    """The choice to embroider an area, at its first stitch."""
    rows, columns = np.nonzero(areas == area)
    return choice_of_cells(project, rows, columns)


def choice_of_cells(
    project: Project,
    rows: np.ndarray,
    columns: np.ndarray,
) -> OwnChoice:
    """The choice to embroider the area of these cells, row by row from the bottom."""
    chart, how = project.chart, project.how
    # The first stitch is the one on the right.
    chart_row = int(rows[0])
    column = int(columns[rows == chart_row].max())
    yarn = chart.cells[chart_row, column]
    return OwnChoice(
        "embroider",
        chart.letters[yarn],
        row=chart_row * how.rows_per_chart_row + 1,
        stitch=chart.columns - column,
        part="whole",
        choice=BY_ITSELF,
    )


def choice_in_words(choice: OwnChoice, strands: Strands) -> str:
    """A choice to embroider, to carry or about a middle start, as the knitter reads it.

    A carry is told with its length where both of its runs are there.
    """
    where = f"{choice.yarn}, row {choice.row}, stitch {choice.stitch}"
    if choice.about == "embroider":
        return f"embroider {where}: {choice.choice}"
    if choice.about == "middle":
        begun = REFUSED if choice.choice == REFUSED else "begun plainly"
        return f"middle start of {where}: {begun}"
    # What is left is a carry. If a run is gone, its line is told as it stands.
    length = _length_in_words(choice, strands)
    if length is None:
        return f"carry {where} {choice.part}: {choice.choice}"
    begins = f"carry {choice.yarn} in row {choice.row}"
    from_run = f"from its run at stitch {choice.stitch}"
    return f"{begins} over {length}, {from_run}: {choice.choice}"


def _length_in_words(carry: OwnChoice, strands: Strands) -> str | None:
    """How far a carry goes: "3 stitches and up to row 9"; None if one of its runs is gone."""
    runs = strands.runs
    letters = strands.chart.letters
    a = run_of(runs, letters, carry)
    b = find_goal(runs, letters, carry)
    if a is None or b is None:
        return None
    shift = runs.enter[b] - runs.leave[a]
    length = counted(abs(int(shift)), "stitch")
    if runs.row[b] != runs.row[a]:
        length += f" and up to row {runs.row[b] + 1}"
    return length


def name_of_choice(choice: OwnChoice) -> str:
    """A choice as a note or an error names it: "Your choice to embroider Y at row 1, stitch 3"."""
    about = {
        "embroider": "to embroider",
        "carry": "about the carry of",
        "middle": "about the middle start of",
    }[choice.about]
    where = f"row {choice.row}, stitch {choice.stitch}"
    name = f"Your choice {about} {choice.yarn} at {where}"
    # Several carries may be thought of from one run; they differ in where they go.
    if choice.about == "carry":
        name += f" {choice.part}"
    return name


def note_on_gone(choice: OwnChoice) -> str:
    """The note on a choice whose place is gone."""
    gone = f"no {choice.yarn}"
    if choice.about == "carry":
        gone = "no such carry"
    return f"{name_of_choice(choice)} is kept, but there is {gone} there now."
