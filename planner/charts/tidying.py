"""Tidying: isolated stitches and slivers given up, each of which costs a strand, and what that saves and costs.

Areas are stitches of one yarn side by side or one above the other. The smallest is given up first, to the yarn beside it
with the longest common border, until none is too small. A sliver, a part only one stitch wide or one row high, is given up
where that shortens the borders; a longer line stays until the last level, since it may be meant.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from string import ascii_uppercase

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from planner.charts.palette import from_hex, lab_of
from planner.charts.picture import ChartedPicture
from planner.piece import CarryLimits, Construction, Gauge
from planner.strands import trace_strands

# Of each level: the stitches an area must have to stay, the stitches a sliver must have, and the level in words.
LEVELS = (
    (1, 1, "as it is"),
    (2, 1, "no single stitches"),
    (3, 1, "no areas under 3 stitches"),
    (5, 5, "no areas or slivers under 5 stitches"),
    (8, 8, "no areas or slivers under 8 stitches"),
    (12, 12, "no areas or slivers under 12 stitches"),
    (20, 12, "no areas under 20 stitches, no slivers under 12"),
    (40, 12, "no areas under 40 stitches, no slivers under 12"),
    (40, math.inf, "the same, and no lines: nothing one stitch wide or one row high"),
)


def tidied(picture: ChartedPicture, *, tube: bool = False) -> tuple[ChartedPicture, ...]:
    """The picture's chart at each of the `LEVELS`, each tidied from the one before. No-stitch cells stay, and do not part an
    area within a row; in a `tube` the first and the last column are neighbours."""
    lab = lab_of(from_hex(picture.palette))
    apart = np.linalg.norm(lab[:, None] - lab[None], axis=-1)
    worked = picture.cells >= 0
    beside = _neighbours(worked, tube)
    levels, yarn = [], picture.cells[worked].astype(np.int64)
    for area, sliver, _ in LEVELS:
        while True:
            yarn = _give_up(yarn, _parts(yarn, beside), beside, area, apart)
            if sliver == 1:
                break
            cells = picture.cells.copy()
            cells[worked] = yarn
            thin = _thin(cells, tube)[worked]
            # A thin part is a part by itself, even where it hangs on the rest of its area.
            thinner = _give_up(
                yarn, _parts(2 * yarn + thin, beside), beside, sliver, apart, only=thin
            )
            if np.array_equal(thinner, yarn):
                break
            yarn = thinner
        cells = picture.cells.copy()
        cells[worked] = yarn
        levels.append(replace(picture, cells=cells))
    return tuple(levels)


def compare_levels(
    levels: tuple[ChartedPicture, ...],
    how: Construction | None = None,
    gauge: Gauge | None = None,
    limits: CarryLimits | None = None,
    *,
    by_yarn: Mapping[str, CarryLimits] | None = None,
    letters: Sequence[str] = ascii_uppercase,
    say: Callable[[str], None] | None = None,
) -> pd.DataFrame:
    """One row a level of tidying: stitches changed, how far the yarns are from the picture (mean ΔE*ab), and the strands,
    ends and most strands at once that it takes."""
    out = []
    for (_, _, words), level in zip(LEVELS, levels, strict=True):
        chart = level.chart(letters)
        own = {letter: mine for letter, mine in (by_yarn or {}).items() if letter in chart.letters}
        strands = trace_strands(chart, how, gauge, limits, by_yarn=own, say=say)
        worked = level.cells >= 0
        changed = int((level.cells != levels[0].cells).sum())
        out.append(
            {
                "tidied": words,
                "stitches_changed": changed,
                "changed_percent": round(100 * changed / int(worked.sum()), 1),
                "difference_from_picture": round(float(level.difference[worked].mean()), 2),
                "yarns": len(chart.letters),
                "strands": strands.count,
                "ends": strands.ends,
                "most_at_once": int(strands.live.max()),
            }
        )
    return pd.DataFrame(out).rename_axis("level")


def _neighbours(worked: np.ndarray, tube: bool) -> np.ndarray:
    """Pairs (2, n) of worked cells, numbered row by row: side by side, no-stitch cells skipped, or one above the other."""
    number = np.cumsum(worked).reshape(worked.shape) - 1
    row = np.nonzero(worked)[0]
    first = np.flatnonzero(np.diff(row, prepend=-1))
    last = np.append(first[1:], len(row)) - 1
    left = np.flatnonzero(np.diff(row) == 0)
    above = worked[:-1] & worked[1:]
    pairs = [(left, left + 1), (number[:-1][above], number[1:][above])]
    if tube:
        closed = last - first > 1
        pairs.append((last[closed], first[closed]))
    return np.hstack([np.stack(pair) for pair in pairs])


def _parts(key: np.ndarray, beside: np.ndarray) -> np.ndarray:
    """Which part each worked cell lies in: neighbours of equal key lie in one. Numbered in the order of their first cells."""
    a, b = beside[:, key[beside[0]] == key[beside[1]]]
    return connected_components(
        coo_array((np.ones(len(a)), (a, b)), shape=(len(key),) * 2), directed=False
    )[1]


def _thin(cells: np.ndarray, tube: bool) -> np.ndarray:
    """Cells that lie in no square of two by two stitches of their yarn."""
    wide = np.pad(cells, ((1, 1), (0, 0)), constant_values=-1)
    wide = (
        np.pad(wide, ((0, 0), (1, 1)), mode="wrap")
        if tube
        else np.pad(wide, ((0, 0), (1, 1)), constant_values=-1)
    )
    block = (
        (wide[1:, 1:] == wide[:-1, 1:])
        & (wide[1:, 1:] == wide[1:, :-1])
        & (wide[1:, 1:] == wide[:-1, :-1])
    )
    return ~(block[1:, 1:] | block[1:, :-1] | block[:-1, 1:] | block[:-1, :-1])


def _give_up(
    yarn, part, beside, least: float, apart: np.ndarray, *, only: np.ndarray | None = None
) -> np.ndarray:
    """The yarn of each worked cell when parts of fewer than `least` stitches are given, smallest first and then in the order
    of their first cells, to the yarn with the longest common border, on ties the nearest in colour.

    With `only`, parts outside it stay, and one of those in it is given up only where that shortens the borders.
    """
    size, first = np.bincount(part).tolist(), np.unique(part, return_index=True)[1]
    of, free = yarn[first].tolist(), [True] * len(first) if only is None else only[first].tolist()
    a, b = part[beside]
    borders: list[Counter] = [Counter() for _ in size]
    pairs, lengths = np.unique(
        np.stack((np.minimum(a, b), np.maximum(a, b)))[:, a != b], axis=1, return_counts=True
    )
    for p, q, length in zip(*pairs.tolist(), lengths.tolist(), strict=True):
        borders[p][q] = borders[q][p] = length
    into = list(range(len(size)))  # the part that each has been merged into
    queue = [(size[p], p) for p in into if size[p] < least and free[p]]
    heapq.heapify(queue)
    while queue:
        stitches, p = heapq.heappop(queue)
        if into[p] != p or stitches != size[p]:
            continue  # it has been merged or has grown
        common = Counter()
        for q, length in borders[p].items():
            common[of[q]] += length
        own = common.pop(of[p], 0)
        if not common:
            continue
        taker = min(common, key=lambda y: (-common[y], apart[of[p], y], y))
        if common[taker] <= own:
            continue
        of[p] = taker
        if only is not None:
            continue  # slivers stay parts by themselves, so that each is judged as it was drawn
        for q in [q for q in borders[p] if of[q] == taker]:
            if len(borders[q]) > len(borders[p]):
                p, q = q, p
            into[q], size[p] = p, size[p] + size[q]
            for r, length in borders[q].items():
                del borders[r][q]
                if r != p:
                    borders[p][r] += length
                    borders[r][p] += length
            borders[q].clear()
        if size[p] < least:
            heapq.heappush(queue, (size[p], p))
    root = np.array(into)
    while not np.array_equal(root[root], root):
        root = root[root]
    return np.array(of)[root][part]
