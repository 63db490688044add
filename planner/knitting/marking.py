"""Marking: rows worked and taken back, several at once, and what happens in mid-row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.errors import PlanError
from planner.piece import (
    EXCHANGED,
    JOINED,
    PARTS,
    SHORT,
    STOPPED,
    UNDONE,
    WORKED,
    Entry,
    part_title,
    rows_worked,
    standing,
)
from planner.plan import Plan
from planner.strands import note_row
from planner.units import counted


@dataclass(frozen=True)
class Mark:
    """A line to add to the log: what it tells, its row from 1, and how the row was knitted."""

    what: str
    row: int
    runs: str = ""


def worked_up_to(plan: Plan, log: Sequence[Entry], row: int) -> list[Mark]:
    """The lines that mark all rows up to this one (from 1) as worked."""
    done, rows = rows_worked(log), plan.traced.runs.rows
    if done == rows:
        raise PlanError(f"The piece has {counted(rows, 'row')}, and all are worked.")
    if not done < row <= rows:
        raise PlanError(
            f"Row {row} cannot be the last row worked: the next is row {done + 1} and the last "
            f"row {rows}. Rows that are worked already are taken back."
        )
    # What was knitted is noted, so that another plan later cannot change it.
    return [Mark(WORKED, each, note_row(plan.traced, each)) for each in range(done + 1, row + 1)]


def taken_back_to(log: Sequence[Entry], row: int) -> Mark:
    """The line that takes back all rows after this one (from 1; 0 takes back all)."""
    done = rows_worked(log)
    if not done:
        raise PlanError("No row is marked as worked, so there is none to take back.")
    if not 0 <= row < done:
        raise PlanError(
            f"Row {row} cannot be the last one that stays: row {done} is the last row worked."
        )
    return Mark(UNDONE, row + 1)


def what_comes_undone(plan: Plan, log: Sequence[Entry], row: int) -> list[str]:
    """What the hands meet in ripping back to this row (from 1): begun, cut and joined in between.

    In the order in which they meet it, the last row first.
    """
    done = rows_worked(log)
    met = [each for each in _met(plan, log) if row < each[0] <= done]
    # In a row what is cut comes undone before what is begun.
    return [words for _, _, words in sorted(met, key=lambda each: (-each[0], each[1]))]


def _met(plan: Plan, log: Sequence[Entry]) -> Iterator[tuple[int, int, str]]:
    """What there is to undo: its row from 1, its place in that row, and the words."""
    last_row = plan.traced.runs.rows
    for held in plan.held:
        part, title = held.part, held.part.title
        if part.last_row + 1 < last_row:
            row = part.last_row + 1
            yield row, 0, f"row {row}: {title} was cut, and hangs again"
        for refill_row in held.refill_rows:
            row = refill_row + 1
            yield row, 1, f"row {row}: {title} was to be joined to its next piece; open the join"
        measured_off = held.measured_off
        if measured_off:
            row = measured_off.row + 1
            yield row, 2, f"row {row}: {title} was measured off its ball; it stays as it is wound"
        # The halves of a strand are begun together.
        if part.name != PARTS[2]:
            row = part.hangs_from + 1
            yield row, 3, f"row {row}: {part.label} was begun; take it out and keep it for later"
    for entry in standing(log):
        if entry.what == JOINED:
            title = part_title(entry.strand, entry.part)
            row = entry.row
            yield row, 1, f"row {row}: a new piece was joined to {title}; open the join"


def hanging_parts(plan: Plan, log: Sequence[Entry]) -> list[str]:
    """The titles of the parts that hang when the rows worked are done, or begin in the next.

    Of a strand begun from its middle each half has a title of its own.
    """
    done = rows_worked(log)
    return [
        held.part.title for held in plan.held if held.part.hangs_from <= done <= held.part.last_row
    ]


def row_notes(plan: Plan, log: Sequence[Entry]) -> list[str]:
    """What was noted in the row that is being worked, in words."""
    row = rows_worked(log) + 1
    return [_in_words(plan, each) for each in standing(log) if each.stitch and each.row == row]


def _in_words(plan: Plan, entry: Entry) -> str:
    where = place_in_row(plan, entry.row, entry.stitch)
    title = part_title(entry.strand, entry.part)
    words = {
        STOPPED: f"You stopped {where}",
        SHORT: f"{title} ran short {where}",
        JOINED: f"A new piece was joined to {title} {where}",
        EXCHANGED: f"{title} and {entry.other} were exchanged {where}",
    }.get(entry.what, f"{title} was measured {where}")
    return f"{words}: {entry.note}." if entry.note else f"{words}."


def place_in_row(plan: Plan, row: int, stitch: int) -> str:
    """A place in a row (from 1) after so many stitches, told by its run: "after 3 of 9 Cream W2".

    It is counted in the run, for nobody counts to stitch 49.
    """
    card = plan.cards[row - 1]
    if not 0 < stitch <= card.lines[-1].so_far:
        raise PlanError(
            f"{card.title} has {card.in_all}; after how many of them is it? You gave {stitch}."
        )
    line = next(line for line in card.lines if stitch <= line.so_far)
    worked = stitch - (line.so_far - line.stitches)
    return f"after {worked} of {line.stitches} {line.name} {line.strand}"


def check_supply(plan: Plan, log: Sequence[Entry], title: str) -> None:
    """Refuse a note about a supply that does not hang."""
    hanging = hanging_parts(plan, log)
    if title not in hanging:
        there = f"There hang {', '.join(hanging)}." if hanging else "None hangs now."
        raise PlanError(f"No {title} hangs from the work in this row. {there}")
