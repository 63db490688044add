"""Shades: each strand in a shade of its own yarn, unlike those of its yarn that lie beside it.

The largest strands take the yarn's own colour, and so do all that have room round them; what would
be taken for its neighbour is a step lighter or darker. Who chooses first goes by size and shape,
not by label or place: so a stitch changed somewhere leaves the shades far from it as they are, and
so do two rows more below.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from planner.colour import shades_of
from planner.plan import Plan

STEP = 9  # of L*; neighbours of one yarn are at least 8 apart, when rounded for a screen too
# So many cells between two strands of a yarn, and they would be taken for one at a glance.
NEAR = 3
SAME_AS_NEAR = 2.5  # what that weighs, in steps away from the yarn's own colour
# Primes that spread what is like to what is unlike.
SPREAD_ROWS, SPREAD_COLUMNS = 7919, 104729

Neighbours = dict[int, set[int]]  # of each strand, by their numbers


def strand_shades(plan: Plan, grid: np.ndarray) -> list[str]:
    """The shade of each strand as #rrggbb; `grid` is as `strand_grid` makes it."""
    strands = plan.traced
    yarns = plan.project.all_yarns
    colours = [yarns[letter].colour for letter in strands.chart.letters]
    ladders = [shades_of(colour, STEP) for colour in colours]
    yarn_of = strands.yarn.tolist()
    steps = [len(ladders[yarn]) for yarn in yarn_of]
    touching, near = _neighbours(grid, strands.yarn)
    chosen = choose_steps(_in_order(grid, strands.count), touching, near, steps)
    return [ladders[yarn][step] for yarn, step in zip(yarn_of, chosen, strict=True)]


def choose_steps(
    order: list[int],
    touching: Neighbours,
    near: Neighbours,
    steps: list[int],
) -> list[int]:
    """The step on its yarn's ladder for each strand, chosen one after another in this order.

    None is that of a strand it touches, as long as there are others; `steps` is how many a
    strand's yarn has.
    """
    chosen: dict[int, int] = {}
    for strand in order:
        beside = [chosen[rival] for rival in touching[strand] if rival in chosen]
        around = [chosen[rival] for rival in near[strand] if rival in chosen]

        def cost(step: int, beside: list[int] = beside, around: list[int] = around) -> float:
            # No yarn has a hundred steps, and no strand as many near it of one shade.
            return 1000 * beside.count(step) + SAME_AS_NEAR * around.count(step) + step

        chosen[strand] = min(range(steps[strand]), key=cost)
    return [chosen[strand] for strand in range(len(order))]


def _in_order(grid: np.ndarray, count: int) -> list[int]:
    """The strands from the largest on; of those about as large, by their shapes."""
    row, column = np.nonzero(grid >= 0)
    strand = grid[row, column]
    sizes = np.bincount(strand, minlength=count)
    # Told from where each strand begins, a shape is the same wherever it lies.
    lowest = np.full(count, grid.shape[0])
    leftmost = np.full(count, grid.shape[1])
    np.minimum.at(lowest, strand, row)
    np.minimum.at(leftmost, strand, column)
    up = (row - lowest[strand]) * SPREAD_ROWS
    along = (column - leftmost[strand]) * SPREAD_COLUMNS
    shapes = np.bincount(strand, weights=(up ^ along) & 0xFFFF, minlength=count)
    # A stitch more or less leaves a strand about as large.
    about = np.ceil(np.log2(np.maximum(sizes, 1)))
    # What is the same in all this comes as it is worked.
    return np.lexsort((shapes, -about)).tolist()


def _neighbours(grid: np.ndarray, yarn_of: np.ndarray) -> tuple[Neighbours, Neighbours]:
    """The strands of its yarn that each strand touches, also at a corner, and those near it."""
    # No stitch is the last one: of no yarn.
    yarns = np.append(yarn_of, -1)[grid]
    touching: Neighbours = defaultdict(set)
    near: Neighbours = defaultdict(set)
    for up, along in ((0, 1), (1, 0), (1, 1), (1, -1)):
        _pair(touching, grid, yarns, (up, along))
    for away in range(2, NEAR + 2):
        _pair(near, grid, yarns, (0, away))
        _pair(near, grid, yarns, (away, 0))
    return touching, near


def _pair(found: Neighbours, grid: np.ndarray, yarns: np.ndarray, away: tuple[int, int]) -> None:
    """Add the strands of one yarn that lie so many rows and columns away from each other."""
    these, those = _moved(grid, away)
    of_these, of_those = _moved(yarns, away)
    rivals = (these != those) & (of_these == of_those) & (of_these >= 0)
    # Pairs are looked for as single numbers, which are sorted far more quickly.
    count = int(grid.max(initial=0)) + 1
    pairs = these[rivals] * count + those[rivals]
    for pair in np.unique(pairs).tolist():
        a, b = divmod(pair, count)
        found[a].add(b)
        found[b].add(a)


def _moved(grid: np.ndarray, away: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """The cells of a grid, and of each the one so many rows and columns away."""
    up, along = away
    # Counted from the beginning: a chart may be narrower than the way.
    last_row = max(0, grid.shape[0] - up)
    last_column = max(0, grid.shape[1] - abs(along))
    if along < 0:
        return grid[:last_row, -along:], grid[up:, :last_column]
    return grid[:last_row, :last_column], grid[up:, along:]
