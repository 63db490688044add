"""Marking: rows worked and taken back, several at once, and what happens in mid-row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from planner.errors import PlanError
from planner.piece import (
    CLEARED,
    EXCHANGED,
    JOINED,
    NOTED,
    PARTS,
    SEWN_IN,
    SHORT,
    STOPPED,
    TAKEN_OUT,
    UNDONE,
    WORKED,
    Entry,
    notes_in_row,
    part_title,
    rows_worked,
    standing,
)
from planner.plan import Plan
from planner.strands import note_row
from planner.units import counted, nth, show


@dataclass(frozen=True)
class Mark:
    """A line to add to the log: what it tells, its row from 1, and how the row was knitted."""

    what: str
    row: int
    runs: str = ""


def worked_up_to(plan: Plan, log: Sequence[Entry], row: int) -> list[Mark]:
    """The lines that mark all rows up to this one (from 1) as worked."""
    done, rows, word = rows_worked(log), plan.traced.runs.rows, plan.traced.how.row_word
    if done == rows:
        raise PlanError(f"The piece has {counted(rows, word)}, and all are worked.")
    if not done < row <= rows:
        raise PlanError(
            f"{word.capitalize()} {row} cannot be the last one worked: the next is {word} "
            f"{done + 1}, and the piece has {counted(rows, word)}."
        )
    # What was knitted is noted, so that another plan later cannot change it.
    return [Mark(WORKED, each, note_row(plan.traced, each)) for each in range(done + 1, row + 1)]


def taken_back_to(plan: Plan, log: Sequence[Entry], row: int) -> Mark:
    """The line that takes back all rows after this one (from 1; 0 takes back all).

    A row that is begun is taken back with what was noted in it.
    """
    done, word = rows_worked(log), plan.traced.how.row_word
    begun = done + bool(notes_in_row(log, done + 1))
    if not begun:
        raise PlanError(f"No {word} is marked as worked, so there is none to take back.")
    if not 0 <= row < begun:
        raise PlanError(
            f"{word.capitalize()} {row} cannot be the last one that stays: {word} {done} is the "
            "last one worked."
        )
    return Mark(UNDONE, row + 1)


def what_comes_undone(plan: Plan, log: Sequence[Entry], row: int) -> list[str]:
    """What the hands meet in ripping back to this row (from 1): begun, cut and joined since.

    In the order in which they meet it, the last row first.
    """
    word = plan.traced.how.row_word
    met = [*_met_in_rows(plan, log), *_met_in_notes(log)]
    since = [each for each in met if each.row > row]
    # In a row what is cut comes undone before what is begun.
    since.sort(key=lambda each: (-each.row, each.place))
    return [f"{word} {each.row}: {each.words}" for each in since]


class Met(NamedTuple):
    """Something that the hands meet in a row (from 1), what is cut in it first."""

    row: int
    place: int
    words: str


def _met_in_rows(plan: Plan, log: Sequence[Entry]) -> Iterator[Met]:
    """What was begun, cut, measured off and joined in the rows worked, as it was planned."""
    done = rows_worked(log)
    logged: dict[str, int] = defaultdict(int)
    for entry in standing(log):
        if entry.what == JOINED:
            logged[part_title(entry.strand, entry.part)] += 1
    # What is cast on with is not begun in a row, and what is bound off with is not cut in one.
    first_row = 1 if plan.project.allow.cast_on else 0
    last_row = plan.traced.runs.rows - bool(plan.project.allow.bind_off)
    for held in plan.held:
        part, title = held.part, held.part.title
        if part.last_row < min(done, last_row):
            yield Met(part.last_row + 1, 0, f"{title} was cut, and hangs again")
        not_logged = plan.joins[title][logged[title] :]
        for row in not_logged:
            if row < done:
                words = f"{title} was to be joined to its next length; open the join"
                yield Met(row + 1, 1, words)
        measured_off = held.measured_off
        if measured_off and measured_off.row < done:
            stays = "it stays as it is wound, and is not measured off again"
            words = f"{title} was measured off its ball; {stays}"
            yield Met(measured_off.row + 1, 2, words)
        # The halves of a strand are begun together.
        if part.name != PARTS[2] and first_row <= part.hangs_from < done:
            words = f"{part.label} was begun; take it out and keep it for later"
            yield Met(part.hangs_from + 1, 3, words)


def _met_in_notes(log: Sequence[Entry]) -> Iterator[Met]:
    """What was joined, exchanged and sewn in as it was noted, also in the row on the needles."""
    for entry in standing(log):
        title = part_title(entry.strand, entry.part)
        if entry.what == JOINED:
            yield Met(entry.row, 1, f"a new length was joined to {title}; open the join")
        if entry.what == EXCHANGED:
            words = f"{title} and {entry.other} were exchanged; change them back"
            yield Met(entry.row, 1, words)
        if entry.what == SEWN_IN:
            where = entry.note.rpartition(", ")[2]
            words = f"an end of {title} was sewn in at {where}; draw it out, its tick goes"
            yield Met(entry.row, 0, words)


def hanging_parts(plan: Plan, log: Sequence[Entry]) -> list[str]:
    """The titles of the parts that hang when the rows worked are done, or begin in the next.

    Of a strand begun from its middle each half has a title of its own.
    """
    done, last = rows_worked(log), plan.traced.runs.rows - 1
    # What is bound off with hangs until then.
    row = min(done, last) if plan.project.allow.bind_off else done
    parts = [held.part for held in plan.held]
    return [part.title for part in parts if part.hangs_from <= row <= part.last_row]


def noted_now(log: Sequence[Entry]) -> list[Entry]:
    """What was noted in the row on the needles or just before it."""
    done = rows_worked(log)
    return [each for each in standing(log) if each.what != WORKED and each.rows_done == done]


def free_notes(log: Sequence[Entry]) -> list[Entry]:
    """The knitter's own notes, by the rows that they are about."""
    return sorted((each for each in standing(log) if each.what == NOTED), key=lambda each: each.row)


def notes_about(log: Sequence[Entry], row: int) -> list[str]:
    """The knitter's own notes about a row, from 1, in words."""
    return [f"Your note: {each.note}" for each in free_notes(log) if each.row == row]


def row_notes(plan: Plan, log: Sequence[Entry]) -> list[str]:
    """What was noted in the row on the needles or just before it, in words."""
    noted = noted_now(log)
    # Of several pauses the last one says where the work lies.
    pauses = [each for each in noted if each.what == STOPPED]
    return [note_in_words(plan, each) for each in noted if each not in pauses[:-1]]


def taken_out(log: Sequence[Entry], number: int) -> tuple[Mark, dict[str, str]]:
    """The line that takes out the note of this number, with its further fields.

    It must be the knitter's own or one of the row on the needles: of what came after an older one,
    nobody knows.
    """
    for entry in [*noted_now(log), *free_notes(log)]:
        if entry.number == number:
            return Mark(TAKEN_OUT, entry.row), {"other": str(number)}
    raise PlanError("That note is none of the row on the needles any more. Look at the card again.")


def note_in_words(plan: Plan, entry: Entry) -> str:
    """A note as a sentence, with its place."""
    if entry.what == NOTED:
        return f"Your note: {entry.note}"
    where = place_in_words(plan, entry.rows_done, entry.stitch)
    title, length = part_title(entry.strand, entry.part), ""
    if entry.length_cm is not None:
        length = show(entry.length_cm, plan.project.units)
    words = {
        STOPPED: f"You stopped {where}",
        SHORT: f"{title} ran short {where}",
        JOINED: f"{length} were joined to {title} {where}",
        EXCHANGED: f"{title} and {entry.other} were exchanged {where}",
        CLEARED: f"The balls were cleared {where}",
        SEWN_IN: f"An end of {title} was sewn in",
    }.get(entry.what, f"{length} of {title} were left {where}")
    note = entry.note.strip().rstrip(".")
    return f"{words}: {note}." if note else f"{words}."


def place_in_words(plan: Plan, done: int, stitch: int) -> str:
    """A place when so many rows are done: "after row 12", "after 3 of 9 Cream W2 in row 13 (RS)".

    So many stitches of the row on the needles are worked by then, 0 if it is not begun.
    """
    word = plan.traced.how.row_word
    if not stitch:
        if done == plan.traced.runs.rows:
            return f"after the last {word}"
        return f"after {word} {done}" if done else f"before {word} 1"
    # It is counted in the run, for nobody counts to stitch 49. Since it was noted, another chart
    # may have come that has no such stitch.
    for card in plan.cards[done : done + 1]:
        for number, line in enumerate(card.lines):
            if stitch > line.so_far:
                continue
            before = line.so_far - line.stitches
            run = run_in_words(plan, done, number)
            return f"after {stitch - before} of {run} in {card.name}"
    return f"after {counted(stitch, 'stitch')} of {word} {done + 1}"


def run_in_words(plan: Plan, row: int, number: int) -> str:
    """A run of a row (both from 0): "9 Cream W2", of several alike "9 Cream W2 (2nd of 3)"."""
    lines = plan.cards[row].lines
    words = [f"{line.stitches} {line.name} {line.strand}" for line in lines]
    this = words[number]
    alike = words.count(this)
    if alike == 1:
        return this
    return f"{this} ({nth(words[: number + 1].count(this))} of {alike})"


def check_supply(plan: Plan, log: Sequence[Entry], title: str | None) -> None:
    """Refuse a note about a supply that does not hang."""
    hanging = hanging_parts(plan, log)
    if title not in hanging:
        there = f"There hang {', '.join(hanging)}." if hanging else "None hangs now."
        which = f"No {title} hangs" if title else "No supply is chosen that hangs"
        raise PlanError(f"{which} from the work in this {plan.traced.how.row_word}. {there}")
