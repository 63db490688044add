"""Spots: where a fault lies in what is knitted, and how that place is said at the needles."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from planner.errors import PlanError
from planner.knitting import run_in_words
from planner.piece import notes_in_row, rows_worked
from planner.plan import Plan
from planner.strands import Walk
from planner.units import counted, nth

WRONG_YARN = "knitted in another yarn"
DROPPED = "dropped"
TWISTED = "twisted"
SPLIT = "its yarn is split"
WRONG_SIDE = "purled for knitted, or knitted for purled"
HOLE = "a hole at a border"
FAULTS = (WRONG_YARN, DROPPED, TWISTED, SPLIT, WRONG_SIDE, HOLE)


# Counted as the strands count, from 0; a knitter is always told rows and stitches from 1.
class Stitch(NamedTuple):
    """A stitch of the piece: its worked row and its column of the chart, both from 0."""

    row: int
    column: int


@dataclass(frozen=True)
class Fault:
    """What is wrong with some stitches; `in_yarn` is the letter of the yarn they were knitted in.

    That is asked for only where it is the wrong one.
    """

    what: str
    stitches: tuple[Stitch, ...]
    in_yarn: str = ""


class Work:
    """What is knitted of a plan: `done` rows, and `begun` stitches of the row on the needles."""

    def __init__(self, plan: Plan):
        self.plan = plan
        self.strands = plan.traced
        self.how = plan.traced.how
        self.walk = Walk(plan.traced)
        log = plan.project.progress
        self.done = rows_worked(log)
        # How far the row on the needles has come is known only from what was noted in it.
        noted = [entry.stitch for entry in notes_in_row(log, self.done + 1)]
        self.begun = max(noted, default=0)
        self.leftwards: list[bool] = plan.traced.runs.leftwards.tolist()

    @cached_property
    def over(self) -> list[list[int]]:
        """By worked row and column, the run that lies there; −1 where there is no stitch."""
        over_cells = self.strands.runs.over_cells()
        # A run goes on over cells without a stitch; there is nothing to be wrong there.
        cells = np.repeat(self.strands.chart.cells, self.how.rows_per_chart_row, axis=0)
        over: list[list[int]] = np.where(cells < 0, -1, over_cells).tolist()
        return over

    def run(self, stitch: Stitch) -> int:
        """The run that a stitch is of."""
        # Beyond the last row there is nothing.
        return self.over[stitch.row][stitch.column] if stitch.row < len(self.over) else -1

    def letter(self, stitch: Stitch) -> str:
        """The letter of the yarn that a stitch is knitted in by the plan."""
        yarn = self.strands.runs.yarn[self.run(stitch)]
        return self.strands.chart.letters[yarn]

    def chart_row_of(self, stitches: Iterable[Stitch]) -> list[int]:
        """The chart row of each of some stitches, from 0."""
        return [stitch.row // self.how.rows_per_chart_row for stitch in stitches]

    def columns(self, row: int) -> list[int]:
        """The columns with a stitch in a worked row, in working order."""
        worked = np.flatnonzero(np.array(self.over[row]) >= 0).tolist()
        return worked[::-1] if self.leftwards[row] else worked

    def columns_of(self, stitch: Stitch) -> list[int]:
        """The columns of the run that a stitch is of, in working order."""
        run = self.run(stitch)
        return [
            column for column in self.columns(stitch.row) if self.over[stitch.row][column] == run
        ]

    def place_in_run(self, stitch: Stitch) -> int:
        """How many stitches of its run are worked before a stitch."""
        return self.columns_of(stitch).index(stitch.column)

    def number(self, stitch: Stitch) -> int:
        """Which stitch of its row it is, from 1, as the card counts: selvedge stitches too."""
        place = self.columns(stitch.row).index(stitch.column)
        return place + self.how.selvedge + 1

    def at(self, row: int, number: int) -> Stitch:
        """The stitch of a worked row (from 0) that its card counts as this one, from 1."""
        self.check_row(row)
        columns = self.columns(row)
        # The card counts selvedge stitches, the chart has none.
        place = number - 1 - self.how.selvedge
        if not 0 <= place < len(columns):
            name, count = self.how.row_name(row), len(columns)
            first = self.how.selvedge + 1
            raise PlanError(
                f"In {name} stitches {first} to {first + count - 1} are on the chart, counted from "
                f"where the {self.how.row_word} begins; you gave {number}."
            )
        return Stitch(row, columns[place])

    def is_worked(self, stitch: Stitch) -> bool:
        """Whether a stitch is knitted already."""
        if stitch.row != self.done:
            return stitch.row < self.done
        return self.number(stitch) <= self.begun

    def check_row(self, row: int) -> None:
        """Refuse a worked row (from 0) of which nothing is knitted."""
        word = self.how.row_word
        if not 0 <= row < self.strands.runs.rows:
            raise PlanError(f"There is no {word} {row + 1}.")
        # Before it is knitted a wrong stitch is a matter of the chart, not of mending.
        if row > self.done or (row == self.done and not self.begun):
            raise PlanError(
                f"{word.capitalize()} {row + 1} is not knitted yet; the chart can still be changed."
            )

    def check(self, stitch: Stitch) -> None:
        """Refuse a place where nothing is knitted."""
        self.check_row(stitch.row)
        if self.run(stitch) < 0:
            name = self.how.row_name(stitch.row)
            raise PlanError(f"In {name} there is no stitch at that place of the chart.")
        if not self.is_worked(stitch):
            name = self.how.row_name(stitch.row)
            raise PlanError(
                f"Of {name} {counted(self.begun, 'stitch')} are worked; that one is not knitted "
                "yet, and the chart can still be changed."
            )

    # Places in words: at the needles nobody counts to stitch 49, so they are told by their runs.

    def in_row(self, run: int) -> int:
        """Which run of its row a run is, from 0."""
        first = np.searchsorted(self.strands.runs.row, self.strands.runs.row[run])
        return run - int(first)

    def run_words(self, run: int) -> str:
        """A run in words: "9 Cream W2"."""
        row = int(self.strands.runs.row[run])
        return run_in_words(self.plan, row, self.in_row(run))

    def words(self, stitch: Stitch) -> str:
        """Where a stitch is: "the 3rd of 9 Cream W2 in row 13 (RS), between 5 Rock K1 and …"."""
        run = self.run(stitch)
        place = self.in_row(run)
        lines = self.plan.cards[stitch.row].lines
        line = lines[place]
        before_run = line.so_far - line.stitches
        in_run = nth(self.number(stitch) - before_run)
        row = self.how.row_name(stitch.row)
        which = f"the {in_run} of {self.run_words(run)} in {row}"
        # One yarn may have two runs of one width in a row: their neighbours tell them apart.
        before = self.run_words(run - 1) if place else ""
        after = self.run_words(run + 1) if place + 1 < len(lines) else ""
        if before and after:
            return f"{which}, after {before} and before {after}"
        if before or after:
            return f"{which}, after {before}" if before else f"{which}, before {after}"
        return which


def check_fault(work: Work, fault: Fault) -> None:
    """Refuse a fault that cannot be: in what is not knitted, or in the chart's own yarn."""
    if fault.what not in FAULTS:
        raise PlanError(f'"{fault.what}" is no fault that can be mended here.')
    if not fault.stitches:
        raise PlanError("Touch the stitch that is wrong, or type its row and which stitch it is.")
    for stitch in fault.stitches:
        work.check(stitch)
    if fault.what != WRONG_YARN:
        return
    if fault.in_yarn not in work.plan.project.all_yarns:
        raise PlanError("In which yarn was it knitted? Choose it.")
    for stitch in fault.stitches:
        # Else a slip in the choice of the yarn would be answered with a cure of nothing.
        if work.letter(stitch) == fault.in_yarn:
            raise PlanError(
                f"By the chart, too, {work.words(stitch)}, is in {fault.in_yarn}. Choose the yarn "
                "that it was knitted in by mistake."
            )
