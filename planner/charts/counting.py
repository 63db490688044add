"""How many stitches and rows lie between the corners of a photograph of a chart.

A chart of n cells has lines at whole n-ths of its side. So the changes of colour along it turn with
the wave of n, of 2 n, and so on, and their sum is large. Where another count is nearly as likely,
it is asked.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np
from scipy.ndimage import gaussian_filter, uniform_filter

from planner.charts.palette import Numbers, Rgb
from planner.charts.picture import Artwork
from planner.charts.questions import Question
from planner.errors import PlanError

FEWEST_CELLS, MOST_CELLS_A_SIDE = 5, 400
# Of the strongest wave: for a slower one to be the chart's own; for a count to be likely at all.
CLEARLY, LIKELY = 0.7, 0.2
LONGEST_CELL = 2.0  # a cell's long side over its short one
LEAST_SCORE = 0.15  # below this nothing repeats
SURE = 0.6  # of the wave of a count: no other is as strong where it is sure
HEAVY_EVERY = (5, 10)  # lines
MOST_OFFERED = 4  # counts

NOT_SURE = (
    "The {} could not be counted for sure in the photograph. How many are there? Count them on the "
    "paper, or see that the corners lie on the outermost cells."
)

Scores = dict[int, float]  # of counts: 1 for that whose wave is the strongest


class Counted(NamedTuple):
    """Stitches and rows, and what is asked of those that are not sure."""

    stitches: int
    rows: int
    asks: tuple[Question, ...] = ()


def counted_cells(flat: Artwork, stitches: int | None, rows: int | None) -> Counted:
    """How many stitches and rows a straightened chart has, those that are told as they are.

    Raises a PlanError where they cannot be counted.
    """
    if stitches and rows:
        return Counted(stitches, rows)
    scores = _counts_of(flat)
    across = {stitches: 1.0} if stitches else scores[0]
    down = {rows: 1.0} if rows else scores[1]
    found = _likeliest(flat, across, down)
    asks = []
    for setting, count, counts in (
        ("grid_stitches", found[0], across),
        ("grid_rows", found[1], down),
    ):
        if not _is_sure(count, counts):
            asks.append(_which(setting, count, counts))
    return Counted(*found, tuple(asks))


def _likeliest(flat: Artwork, across: Scores, down: Scores) -> tuple[int, int]:
    # A wave that is twice as fast has its crests on the lines, too.
    likely = _slowest(across), _slowest(down)
    height, width = flat.pixels.shape[:2]

    def looks_like_a_cell(pair: tuple[int, int]) -> bool:
        shape = (width / pair[0]) / (height / pair[1])
        return 1 / LONGEST_CELL < shape < LONGEST_CELL

    if looks_like_a_cell(likely):
        return likely
    # Of one way perhaps only the heavy lines are clear, every fifth or tenth.
    pairs = [pair for pair in product(across, down) if looks_like_a_cell(pair)]
    return max(pairs, key=lambda pair: across[pair[0]] + down[pair[1]], default=likely)


def _slowest(scores: Scores) -> int:
    """The smallest count whose wave is nearly as strong as the strongest."""
    return min(count for count, score in scores.items() if score >= CLEARLY)


def _is_sure(count: int, counts: Scores) -> bool:
    """Whether no other count is nearly as likely, those left out that are so many times as many."""
    rivals = [other for other, score in counts.items() if score >= SURE and other % count]
    # The waves of lines grow weaker as they grow faster, unless every fifth or tenth is heavier.
    slower = max(counts.get(times * count, 0) for times in (3, 4))
    faster = max(counts.get(times * count, 0) for times in HEAVY_EVERY)
    return counts.get(count) == 1.0 and not rivals and faster <= slower


def _which(setting: str, count: int, counts: Scores) -> Question:
    """The question how many there are, with the likeliest counts for answers."""
    likeliest = sorted(counts, key=lambda other: -counts[other])[:MOST_OFFERED]
    answers = tuple(str(other) for other in sorted({count, *likeliest}))
    words = NOT_SURE.format(setting.removeprefix("grid_"))
    return Question(setting, words, answers, str(count))


@lru_cache(maxsize=1)
def _counts_of(flat: Artwork) -> tuple[Scores, Scores]:
    """How many stitches and rows a straightened chart may have, each with its score."""
    across = _counts(flat.pixels.swapaxes(0, 1), "stitches", flat.name)
    return across, _counts(flat.pixels, "rows", flat.name)


def _counts(pixels: Rgb, what: str, name: str) -> Scores:
    """How many cells a chart may have along the first axis of its pixels, each with its score.

    The score is 1 for that whose wave is the strongest.
    """
    soft = gaussian_filter(pixels.astype(np.float32), (1, 1, 0))
    change = _largest(np.abs(np.diff(soft, axis=0))).mean(axis=1)
    # Where the picture is less sharp all changes are smaller.
    usual = uniform_filter(change, max(3, len(change) // 6), mode="nearest")
    weight = np.maximum(change / (usual + 1e-6) - 1, 0)
    most = min(MOST_CELLS_A_SIDE, len(pixels) // 4)
    if most < FEWEST_CELLS or not weight.any():
        raise PlanError(_NOT_COUNTED.format(what, name))
    place = (np.arange(len(change)) + 1) / len(pixels)
    counts = np.arange(FEWEST_CELLS, most + 1)
    # A wave that has its crest at both ends.
    waves = np.cos(2 * np.pi * np.outer(counts, place))
    scores = waves @ weight / weight.sum()
    if scores.max() < LEAST_SCORE:
        raise PlanError(_NOT_COUNTED.format(what, name))
    shares = scores / scores.max()
    likely = shares >= LIKELY
    return dict(zip(counts[likely].tolist(), shares[likely].tolist(), strict=True))


def _largest(channels: Numbers) -> Numbers:
    """The largest of the three channels of each pixel."""
    # NumPy's own maximum along so short an axis takes ten times as long.
    red, green, blue = np.moveaxis(channels, -1, 0)
    return np.maximum(np.maximum(red, green), blue)


_NOT_COUNTED = (
    "The {} in {} could not be counted. Are the corners at the outermost cells? Else count them on "
    "the paper and say how many there are."
)
