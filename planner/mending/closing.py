"""Closing: a hole at a border, where two yarns should have been crossed and were not.

Which yarns meet there, in which rows they should cross and which lies over which, comes from the
strands as they were knitted. How a hole is closed is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from planner.errors import PlanError
from planner.mending.cure import CLOSE, NO_SOURCE, SECURE, Cure
from planner.mending.spots import Fault, Stitch, Work
from planner.mending.tails import (
    rows_in_words,
    stitches_in_words,
    tails_near,
    thread_for,
)
from planner.units import counted

# A hole lies beside the stitch that is touched, or one or two stitches away.
MOST_AWAY = 2
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
    # The knitter touches the hole, or the stitch beside it: the border may be on either side.
    before = work.place_in_run(stitch)
    after = len(work.columns_of(stitch)) - 1 - before
    row = stitch.row
    sides = [(before, Crossing(row, run - 1, run)), (after, Crossing(row, run, run + 1))]
    crossings = []
    for away, crossing in sides:
        if away <= MOST_AWAY and _is_border(work, crossing):
            crossings.append((away, crossing))
    if work.how.closes_join:
        crossings += _at_the_join(work, stitch)
    if not crossings:
        raise PlanError(NO_BORDER.format(work.words(stitch)))
    _, nearest = min(crossings, key=lambda each: each[0])
    return nearest


def _at_the_join(work: Work, stitch: Stitch) -> Iterator[tuple[int, Crossing]]:
    """The join of a turned round, if it is near a stitch, and how many stitches away it is."""
    columns = work.columns(stitch.row)
    to_start = columns.index(stitch.column)
    to_end = len(columns) - 1 - to_start
    away = min(to_start, to_end)
    if away <= MOST_AWAY:
        over = work.over[stitch.row]
        first, last = over[columns[0]], over[columns[-1]]
        yield away, Crossing(stitch.row, last, first, is_join=True)


def _is_border(work: Work, crossing: Crossing) -> bool:
    """Whether two runs are both in the row where they are to cross, and are knitted there."""
    row = crossing.row
    over = work.over[row]
    if crossing.old_run not in over or crossing.new_run not in over or crossing.old_run < 0:
        return False
    # In the row on the needles the new yarn may not have come to its turn.
    of_new = [column for column in work.columns(row) if over[column] == crossing.new_run]
    return work.is_worked(Stitch(row, of_new[0]))


def meeting_rows(work: Work, crossing: Crossing) -> list[Crossing]:
    """The crossings of the same two strands in the rows around, as far as they meet without a gap.

    First row first, up to the last row that is knitted.
    """
    if crossing.is_join:
        return [crossing]
    # A hole that is found is seldom the only one: the same two meet in the rows around.
    pair = _titles(work, crossing)
    found = [crossing]
    for step in (-1, 1):
        row = crossing.row + step
        while 0 <= row < work.done and (met := _meet_in(work, row, pair)):
            found.append(met)
            row += step
    return sorted(found, key=lambda each: each.row)


def _titles(work: Work, crossing: Crossing) -> set[str]:
    return {work.walk.title(run) for run in (crossing.old_run, crossing.new_run)}


def _meet_in(work: Work, row: int, pair: set[str]) -> Crossing | None:
    """Where two strands meet in a row; None where they do not."""
    runs = sorted({run for run in work.over[row] if run >= 0})
    for old, new in pairwise(runs):
        met = Crossing(row, old, new)
        if _titles(work, met) == pair:
            return met
    return None


def close(work: Work, fault: Fault) -> Cure:
    """A hole at a border closed with a tail nearby, or else with a short length."""
    stitches = sorted(fault.stitches)
    crossing = crossing_at(work, stitches[0])
    meetings = meeting_rows(work, crossing)
    titles = _titles(work, crossing)
    rows = sorted({stitch.row for stitch in stitches})
    steps = [*_what_was_missed(work, rows, meetings), EASE_FIRST]
    height_cm = len(rows) * work.plan.project.gauge.row_cm
    # Up and down again, so that the thread holds itself and pulls the hole to neither side.
    takes_cm = UP_AND_DOWN * height_cm
    both = (crossing.old_run, crossing.new_run)
    # In either of the two colours it is not seen from the right side.
    near = tails_near(work, stitches, {_letter(work, run) for run in both})
    # The two strands' own tails lie along this border; others of their yarns may do as well.
    labels = {work.walk.label(run) for run in both}
    near.sort(key=lambda tail: tail.strand not in labels)
    thread = thread_for(work, near, takes_cm, work.letter(stitches[0]))
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


def secure(work: Work, fault: Fault) -> Cure:
    """Dropped stitches sewn fast where they are, and made good for in the next row."""
    stitches = sorted(fault.stitches)
    # In the last row a dropped stitch has only slipped off the needle.
    if all(stitch.row == work.done - 1 for stitch in stitches):
        return Cure(SECURE, barred="Nothing is knitted over it: it goes back on the needle.")
    gauge = work.plan.project.gauge
    # A row up and a row down on both sides of each loop, so that it cannot run either way.
    takes_cm = UP_AND_DOWN * UP_AND_DOWN * gauge.row_cm * len(stitches)
    letter = work.letter(stitches[0])
    thread = thread_for(work, tails_near(work, stitches, {letter}), takes_cm, letter)
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
    if len(meetings) == 1:
        return
    # Turned, the other yarn comes first in every second row.
    on_side: dict[str, list[int]] = {}
    for each in meetings:
        on_side.setdefault(_over(work, each), []).append(each.row)
    told = []
    for over, meet_in in on_side.items():
        if work.how.is_turned:
            side = work.how.side(meet_in[0])
            over = f"on {side} {work.how.row_word}s {over}"
        told.append(over)
    in_rows = rows_in_words(work, by_row)
    all_told = ", ".join(told)
    yield f"The two meet in {in_rows}: look at each. There {all_told}."


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
