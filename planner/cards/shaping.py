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
    is_worked = strands.chart.cells >= 0
    times = strands.how.rows_per_chart_row
    for chart_row in range(1, len(is_worked)):
        before, now = is_worked[chart_row - 1], is_worked[chart_row]
        if (before == now).all():
            continue
        row = chart_row * times
        # In the direction of work, so that what comes first is said first.
        if strands.runs.leftwards[row]:
            before, now = before[::-1], now[::-1]
        selvedge = strands.how.selvedge
        changes = list(_changes(before, now, selvedge))
        left = counted(int(now.sum()) + 2 * selvedge, "stitch")
        words[row] = f"{', '.join(changes)}: {left} in this {strands.how.row_word}"
    return words


def _changes(before: np.ndarray, now: np.ndarray, selvedge: int) -> Iterator[str]:
    """What a row changes, from where it begins to where it ends, selvedge stitches counted in."""
    # Cells that neither row has are no place on the needle: what lies on both sides of them lies
    # side by side.
    either = before | now
    before, now = before[either], now[either]
    for start, stop, is_taken in _stretches(before, now):
        number = stop - start
        what = _what(number, is_taken=is_taken)
        if start == 0:
            yield f"{what} at the beginning"
        elif stop == len(now):
            yield f"{what} at the end"
        else:
            worked = selvedge + int(now[:start].sum())
            yield f"{what} after {counted(worked, 'stitch')}"


def _stretches(before: np.ndarray, now: np.ndarray) -> Iterator[tuple[int, int, bool]]:
    """Stretches of cells that one row has and the other has not: from, to before, taken off."""
    change = before.astype(int) - now.astype(int)
    borders = np.flatnonzero(np.diff(change)) + 1
    edges = [0, *borders.tolist(), len(change)]
    for start, stop in pairwise(edges):
        if change[start]:
            yield start, stop, bool(change[start] > 0)


def _what(number: int, *, is_taken: bool) -> str:
    if number == AS_ONE:
        return "decrease 1" if is_taken else "increase 1"
    return f"bind off {number}" if is_taken else f"cast on {number}"
