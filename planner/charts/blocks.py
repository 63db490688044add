"""Grids by whole cells: of charts without lines, and of a size that is told.

Without lines every border between two colours still lies on a line of one lattice, from the one
end of the chart to the other. A few borders lie on many lattices: the coarsest is taken on which
all of them lie, if so many would hardly lie there by chance. Where the number of cells is told, the
lattice of so many cells is laid where most of what changes is on its lines.
"""

from __future__ import annotations

from math import log
from typing import NamedTuple

import numpy as np

from planner.charts.combs import FEWEST, SMALLEST
from planner.charts.palette import Numbers

NEARLY_ALL = 0.97  # of the borders lie on the lattice
BY_CHANCE = 1e-3  # a lattice that is likelier by chance is none
OFF = 1.5  # pixels; how far off a line its border may lie
LONGEST = 1.7  # a cell's long side over its short one, where nothing says which it is
WIDE = 3  # pixels that a line and what it blends with take up
HELD = 0.5  # of what changes lies on the lines of a told grid, beyond what would by chance
FAINT, NEARLY_ALL_LINES = 0.3, 0.9  # of the usual line; of all lines of a grid
LOWER = 0.5  # of the usual line: what may lie where the next line beyond the grid would be


def cells_without_lines(across: Numbers, down: Numbers) -> tuple[int, int] | None:
    """How many cells a chart without lines has each way; None where its borders do not tell.

    `across` and `down` are where its borders lie, in pixels, the chart's two ends first and last.
    """
    wide, high = _coarsest(across), _coarsest(down)
    # Few borders may lie on any lattice, but cells are about as wide as they are high.
    if wide is None and high is not None:
        wide = _near(across, (down[-1] - down[0]) / high)
    if high is None and wide is not None:
        high = _near(down, (across[-1] - across[0]) / wide)
    if wide is None or high is None:
        return None
    shape = (across[-1] - across[0]) / wide * high / (down[-1] - down[0])
    if shape > LONGEST:
        wide *= round(shape)
    elif shape < 1 / LONGEST:
        high *= round(1 / shape)
    return wide, high


def _coarsest(borders: Numbers) -> int | None:
    """The fewest cells on whose lines all borders lie; None where that says nothing."""
    most = int((borders[-1] - borders[0]) / SMALLEST)
    for cells in range(FEWEST, most + 1):
        if _lie_on(borders, cells, tried=most):
            return cells
    return None


def _near(borders: Numbers, period: float) -> int | None:
    """About so many pixels a cell, if all borders lie on its lines."""
    cells = round((borders[-1] - borders[0]) / period)
    return cells if cells >= FEWEST and _lie_on(borders, cells, tried=1) else None


def _lie_on(borders: Numbers, cells: int, *, tried: int) -> bool:
    """Whether all borders lie on the lines of so many cells, and would not by chance."""
    inner = borders[1:-1]
    if not len(inner):
        return False
    period = (borders[-1] - borders[0]) / cells
    place = (inner - borders[0]) / period
    slack = min(OFF, period / 5)
    on_lines = np.abs(place - np.round(place)) * period <= slack
    if on_lines.mean() < NEARLY_ALL:
        return False
    chance = on_lines.sum() * log(2 * slack / period) + log(tried)
    return chance < log(BY_CHANCE)


class Fitted(NamedTuple):
    """Where a grid begins and ends, in pixels; `is_sure` where nearly all its lines are drawn."""

    start: float
    stop: float
    is_sure: bool


def fitted(change: Numbers, cells: int) -> Fitted | None:
    """Where a grid of so many cells begins and ends, in pixels; None where none lies there.

    `change` is how much changes from each line of the picture to the next.
    """
    near = np.convolve(change, np.ones(WIDE), "same")
    widest = (len(change) + 1) / cells
    # So fine that the last line is at most half a pixel off.
    step = 1 / cells
    best, found = 0.0, None
    for period in np.arange(SMALLEST, widest + step, step):
        score = _scores(change, cells, period)
        place = int(score.argmax())
        if score[place] > best:
            best = float(score[place])
            found = place, float(period)
    if found is None or best < HELD * change.sum():
        return None
    start, period = found
    if _goes_on(near, start, period, cells):
        return None
    return _on_the_lines(change, start, period, cells)


def _scores(change: Numbers, cells: int, period: float) -> Numbers:
    """How much changes on the lines of a grid more than by chance, by where the grid starts."""
    near = np.convolve(change, np.ones(WIDE), "same")
    length = period * cells
    last = max(0, int(len(change) + 1 - length))
    starts = np.arange(last + 1)
    lines = np.round(period * np.arange(cells + 1)).astype(int)
    # Edges lie between pixels; those of the picture itself are none.
    places = starts[:, None] + lines - 1
    is_within = (places >= 0) & (places < len(near))
    seen = near[np.clip(places, 0, len(near) - 1)]
    on_lines = np.where(is_within, seen, 0).sum(axis=1)
    before = np.append(0, np.cumsum(change))
    stops = np.minimum(starts + lines[-1] + 1, len(change))
    begins = np.maximum(starts - 2, 0)
    within = before[stops] - before[begins]
    by_chance = WIDE / period
    return (on_lines - by_chance * within) / (1 - by_chance)


def _goes_on(near: Numbers, start: int, period: float, cells: int) -> bool:
    """Whether another line lies where the grid would have ended."""
    lines = np.round(start + period * np.arange(-1, cells + 2)).astype(int) - 1
    inner = near[np.clip(lines[1:-1], 0, len(near) - 1)]
    for line in (lines[0], lines[-1]):
        if 0 <= line < len(near) and near[line] > LOWER * np.median(inner):
            return True
    return False


def _on_the_lines(change: Numbers, start: float, period: float, cells: int) -> Fitted:
    """The ends of the grid, each line by what changes around it."""
    number, place, weight = [], [], []
    for line in range(cells + 1):
        middle = round(start + period * line) - 1
        around = slice(max(0, middle - 1), middle + 2)
        if change[around].sum() > 0:
            at = np.arange(len(change))[around] + 1
            number.append(line)
            place.append(float(np.average(at, weights=change[around])))
            weight.append(float(change[around].sum()))
    slope, begin = np.polyfit(number, place, 1, w=np.sqrt(weight))
    drawn = np.array(weight) > FAINT * np.median(weight)
    is_sure = drawn.sum() > NEARLY_ALL_LINES * (cells + 1)
    return Fitted(float(begin), float(begin + slope * cells), bool(is_sure))
