"""Hanging: where each yarn hangs after a row, by the runs that lie on the needle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.mending.spots import Work
from planner.plan import Plan


def hanging_places(plan: Plan, stays: int) -> dict[str, str]:
    """Where each yarn hangs when a row (from 1) is the last one worked, by its title.

    In the order in which the next row meets them, and in words: by the runs on the needle.
    """
    # Ripped to the last stitch, nothing is on the needle that a yarn could hang from.
    if not stays:
        return {}
    work, card = Work(plan), plan.cards[stays - 1]
    last = stays - 1
    names = [work.run_words(run) for run in _runs_of(work, last)]
    widths = [line.stitches for line in card.lines]
    # Turned, the next row meets them the other way than they were worked.
    meets_leftwards = work.leftwards[last] != work.how.is_turned
    if work.how.is_turned:
        names, widths = names[::-1], widths[::-1]
    found = []
    # A selvedge moves with the edge of a shaped piece, so stitches are counted, not columns.
    for title, edge in card.hanging:
        before = work.walk.needle.left_of(last, edge)
        if meets_leftwards:
            before = sum(widths) - before
        place = _place(before, names, widths)
        found.append((before, title, place))
    return {title: place for _, title, place in sorted(found)}


def _runs_of(work: Work, row: int) -> list[int]:
    """The runs of a worked row, in working order."""
    found: list[int] = np.flatnonzero(work.strands.runs.row == row).tolist()
    return found


def _place(before: int, names: Sequence[str], widths: Sequence[int]) -> str:
    """A place on the needle after so many stitches, by the runs that lie there."""
    if before <= 0:
        return "where the next row begins"
    so_far = 0
    for number, width in enumerate(widths):
        if before < so_far + width:
            name = names[number]
            if before == so_far:
                return f"between {names[number - 1]} and {name}"
            return f"behind {name}, after {before - so_far} of them"
        so_far += width
    return "where the next row ends"
