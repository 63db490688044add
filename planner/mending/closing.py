"""Closing: a hole at a border, where two yarns should have been crossed and were not.

Which yarns meet there, in which rows they should cross and which lies over which, comes from the
strands as they were knitted. How a hole is closed is common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from planner.errors import PlanError
from planner.mending.cure import CLOSE, NO_SOURCE, SECURE, Cure
from planner.mending.spots import Fault, Stitch, Work
from planner.mending.tails import (
    Tail,
    first_that_reaches,
    rows_in_words,
    stitches_in_words,
    tails_near,
)
from planner.units import counted, rounded_up, show

# A hole lies beside the stitch that is touched, or one or two stitches away.
MOST_AWAY = 2
TAILS = 2  # of a length that is cut for it
UP_AND_DOWN = 2  # the needle goes up along the hole on one side and comes down on the other
NO_BORDER = (
    "No border is near {}. A hole inside an area is a dropped stitch, or yarn that was laid over "
    "the needle by mistake: mend it as a dropped stitch, or rip back."
)
AT_THE_JOIN = (
    "the yarn-over after the turn, before the first stitch; the last stitch is worked together "
    "with it, and so closes the join"
)
EASE_FIRST = (
    "First ease the stitches on both sides of it towards the hole with the tip of a needle: a "
    "small one often closes so."
)
BLOCK_AFTER = f"Close it before blocking, and trim the end only after that ({NO_SOURCE})."


@dataclass(frozen=True)
class Crossing:
    """Two strands that meet in a worked row (from 0): the `old` one is laid over the `new` one.

    Runs are numbered as in the strands; the old one is worked first. At the join of turned rounds
    (`is_join`) the last run of a round meets the first one, and a yarn-over closes it.
    """

    row: int
    old_run: int
    new_run: int
    is_join: bool = False


def crossing_at(work: Work, stitch: Stitch) -> Crossing:
    """The border that a hole beside a stitch lies at. Raises PlanError where none is near."""
    run = work.run(stitch)
    before = work.place_in_run(stitch)
    after = len(work.columns_of(stitch)) - 1 - before
    crossings = []
    for away, old, new in ((before, run - 1, run), (after, run, run + 1)):
        if _is_border(work, stitch.row, old, new) and away <= MOST_AWAY:
            crossings.append((away, Crossing(stitch.row, old, new)))
    if work.how.closes_join:
        crossings += _at_the_join(work, stitch)
    if not crossings:
        raise PlanError(NO_BORDER.format(work.words(stitch)))
    _, crossing = min(crossings, key=lambda each: each[0])
    return crossing


def _at_the_join(work: Work, stitch: Stitch) -> Iterator[tuple[int, Crossing]]:
    """The join of a turned round, if it is near a stitch, and how many stitches away it is."""
    columns = work.columns(stitch.row)
    place = columns.index(stitch.column)
    away = min(place, len(columns) - 1 - place)
    if away <= MOST_AWAY:
        first, last = (work.over[stitch.row][column] for column in (columns[0], columns[-1]))
        yield away, Crossing(stitch.row, last, first, is_join=True)


def _is_border(work: Work, row: int, old: int, new: int) -> bool:
    """Whether two runs, by their numbers, follow each other in a row."""
    row_of_run = work.strands.runs.row
    if old < 0 or new >= len(row_of_run):
        return False
    return bool(row_of_run[old] == row == row_of_run[new])


def meeting_rows(work: Work, crossing: Crossing) -> list[Crossing]:
    """The crossings of the same two strands in the rows around, as far as they meet without a gap.

    First row first, up to the last row that is knitted.
    """
    if crossing.is_join:
        return [crossing]
    pair = {work.walk.title(crossing.old_run), work.walk.title(crossing.new_run)}
    found = [crossing]
    for step in (-1, 1):
        row = crossing.row + step
        while 0 <= row < work.done and (met := _meet_in(work, row, pair)):
            found.append(met)
            row += step
    return sorted(found, key=lambda each: each.row)


def _meet_in(work: Work, row: int, pair: set[str]) -> Crossing | None:
    """Where two strands meet in a row; None where they do not."""
    runs = sorted({run for run in work.over[row] if run >= 0})
    for old, new in pairwise(runs):
        if {work.walk.title(old), work.walk.title(new)} == pair:
            return Crossing(row, old, new)
    return None


def close(work: Work, fault: Fault) -> Cure:
    """A hole at a border closed with a tail nearby, or else with a short length."""
    stitches = sorted(fault.stitches)
    crossing = crossing_at(work, stitches[0])
    meetings = meeting_rows(work, crossing)
    titles = {work.walk.title(crossing.old_run), work.walk.title(crossing.new_run)}
    rows = sorted({stitch.row for stitch in stitches})
    steps = [*_what_was_missed(work, rows, meetings), EASE_FIRST]
    height_cm = len(rows) * work.plan.project.gauge.row_cm
    takes_cm = UP_AND_DOWN * height_cm
    letters = [_letter(work, run) for run in (crossing.old_run, crossing.new_run)]
    near = tails_near(work, stitches, letters)
    # The two strands' own tails lie along this border; others of their yarns may do as well.
    labels = {work.walk.label(crossing.old_run), work.walk.label(crossing.new_run)}
    near.sort(key=lambda tail: tail.strand not in labels)
    thread = _thread(work, near, takes_cm, work.letter(stitches[0]))
    steps.append(thread.words)
    steps.append(_how(work, rows, titles))
    return Cure(
        CLOSE,
        worked=UP_AND_DOWN * len(rows),
        ends=thread.ends,
        yarn_cm=thread.yarn_cm,
        steps=tuple(steps),
        mind=(BLOCK_AFTER,),
    )


class Thread(NamedTuple):
    """What something is sewn with, in words; the ends and the yarn, cm, that it takes more."""

    words: str
    ends: int
    yarn_cm: float


def _thread(work: Work, near: Sequence[Tail], takes_cm: float, letter: str) -> Thread:
    """The first of these tails that is long enough; else a short length of a yarn."""
    tail = first_that_reaches(work, near, takes_cm)
    if tail is not None:
        words = tail.in_words(work)
        return Thread(f"Thread {words}. If it is sewn in already, draw it out first.", 0, 0.0)
    project = work.plan.project
    length_cm = rounded_up(takes_cm + TAILS * project.allow.tail_cm, project.units)
    length, name = show(length_cm, project.units), project.all_yarns[letter].name or letter
    words = f"No tail nearby is long enough: cut {length} of {name}, two tails in it."
    return Thread(words, TAILS, length_cm)


def secure(work: Work, fault: Fault) -> Cure:
    """Dropped stitches sewn fast where they are, and made good for in the next row."""
    stitches = sorted(fault.stitches)
    if all(stitch.row == work.done - 1 for stitch in stitches):
        return Cure(SECURE, barred="Nothing is knitted over it: it goes back on the needle.")
    gauge = work.plan.project.gauge
    takes_cm = UP_AND_DOWN * UP_AND_DOWN * gauge.row_cm * len(stitches)
    letter = work.letter(stitches[0])
    thread = _thread(work, tails_near(work, stitches, {letter}), takes_cm, letter)
    count = counted(len(stitches), "stitch")
    where = stitches_in_words(work, stitches)
    steps = [
        f"Put a pin through each open loop, before it runs further: {where}.",
        thread.words,
        "On the wrong side lead it through each open loop and the stitches on both sides of it, "
        "and draw it until the loop lies flat.",
        f"In the next {work.how.row_word} make {count} above that place, in the yarn that is "
        "worked there: lift the yarn between two stitches and knit it twisted. Then the count is "
        "right.",
    ]
    return Cure(
        SECURE,
        stitches=len(stitches),
        worked=UP_AND_DOWN * len(stitches),
        ends=thread.ends,
        yarn_cm=thread.yarn_cm,
        steps=tuple(steps),
        mind=(f"It shows a little where a stitch is missing ({NO_SOURCE}).",),
    )


def _letter(work: Work, run: int) -> str:
    return work.strands.chart.letters[work.strands.runs.yarn[run]]


def _what_was_missed(work: Work, rows: list[int], meetings: list[Crossing]) -> Iterator[str]:
    """Which crossing was missed, and all rows in which the same two should cross."""
    by_row = {each.row: each for each in meetings}
    for row in rows:
        if row in by_row:
            yield f"Missed in {work.how.row_name(row)}: {_over(work, by_row[row])}."
    others = defaultdict(list)
    for each in meetings:
        if each.row not in rows:
            others[_over(work, each)].append(each.row)
    if not others:
        return
    told = [f"in {rows_in_words(work, where)} {over}" for over, where in others.items()]
    count = counted(len(meetings), work.how.row_word)
    yield f"The two meet in {count} without a gap; look at the others too: {'; '.join(told)}."


def _over(work: Work, crossing: Crossing) -> str:
    """Which yarn is laid over which: "W2, worked first, is laid over K1"."""
    if crossing.is_join:
        return AT_THE_JOIN
    old, new = work.walk.title(crossing.old_run), work.walk.title(crossing.new_run)
    return f"{old}, worked first, is laid over {new}"


def _how(work: Work, rows: list[int], titles: set[str]) -> str:
    """How the hole is sewn shut."""
    # At a join one strand may lie on both sides.
    first, second = min(titles), max(titles)
    beside = rows_in_words(work, rows)
    return (
        f"On the wrong side lead it up along the border beside {beside}, through an edge stitch of "
        f"{first} and an edge stitch of {second} in turn, and down again. Draw it until the hole "
        "is shut and the border still lies flat; then sew the end in along it."
    )
