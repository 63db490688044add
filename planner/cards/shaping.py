"""Shaping: what a row takes off the stitches of the row before, and what it adds.

No-stitch cells are the outline of a shaped piece. Where a row has them and the row below has not,
stitches are bound off or worked together; where the row below has them, stitches are added.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from planner.strands import Strands
from planner.units import counted

AS_ONE = 1  # stitches; more at once are bound off or cast on, one is worked away or made


def shaping_in_words(strands: Strands) -> dict[int, str]:
    """How each worked row (from 0) is shaped, by row; a row that is not has no words."""
    words = {}
    how = strands.how
    is_worked = strands.chart.cells >= 0
    for chart_row in range(1, len(is_worked)):
        before = is_worked[chart_row - 1]
        now = is_worked[chart_row]
        if np.array_equal(before, now):
            continue
        # Of a ridge in garter the first row is shaped.
        row = chart_row * how.rows_per_chart_row
        # In the direction of work, so that what comes first is said first.
        if strands.runs.leftwards[row]:
            before = before[::-1]
            now = now[::-1]
        changes = ", ".join(_changes(before, now, how.selvedge))
        stitches = int(now.sum()) + 2 * how.selvedge
        words[row] = f"{changes}: {counted(stitches, 'stitch')} in this {how.row_word}"
    return words


def _changes(before: np.ndarray, now: np.ndarray, selvedge: int) -> Iterator[str]:
    """What a row changes, from where it begins to where it ends, selvedge stitches counted in."""
    # Cells that neither row has are no place on the needle: what lies on both sides of them lies
    # side by side.
    either = before | now
    before = before[either]
    now = now[either]
    for start, stop, is_taken in _stretches(before, now):
        what = _what(stop - start, is_taken=is_taken)
        if start == 0:
            yield f"{what} at the beginning"
        elif stop == len(now):
            yield f"{what} at the end"
        else:
            worked = selvedge + int(now[:start].sum())
            yield f"{what} after {counted(worked, 'stitch')}"


def _stretches(before: np.ndarray, now: np.ndarray) -> Iterator[tuple[int, int, bool]]:
    """Stretches of cells that one row has and the other has not: from, to before, taken off."""
    taken_off = before.astype(int) - now.astype(int)
    borders = np.flatnonzero(np.diff(taken_off)) + 1
    edges = [0, *borders.tolist(), len(taken_off)]
    for start, stop in pairwise(edges):
        change = int(taken_off[start])
        if change:
            yield start, stop, change > 0


def _what(number: int, *, is_taken: bool) -> str:
    # A single stitch needs no binding off: two are worked together, or one is made between two.
    if number == AS_ONE:
        return "decrease 1" if is_taken else "increase 1"
    verb = "bind off" if is_taken else "cast on"
    return f"{verb} {number}"
