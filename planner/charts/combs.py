"""Lines that come back at one distance: the edges of a picture, how far they run, and their comb.

Of a picture with lines along one axis, `edges_of` tells where its colour changes from one line to
the next, `profile_of` how far these edges run straight in each line, and `comb_of` the distance at
which that repeats: of the comb whose teeth take up most of the profile.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.charts.palette import Numbers, Rgb

SMALLEST = 4  # pixels; cells any smaller cannot be told from noise
FEWEST = 5  # cells across and up, for a distance that repeats
CROSSED = 4  # pixels; how wide a line is that crosses another
BINS, TEETH = 40, 16  # parts of a cell's width, and how many of them a comb's tooth takes up
STROKES = 0.25  # of the longest lines, some few left out; what is shorter is letters
# Of the profile, for a comb to lie on it: drawn grids have 0.6 and more, photographs below 0.3.
REGULAR = 0.45
BACKWARDS = -2j * np.pi  # one turn, for waves


class Comb(NamedTuple):
    """Lines at one distance, in pixels, and where the first of them lies."""

    period: float
    begin: float


def _middle_of(changes: Numbers) -> int:
    """The median of whole numbers from 0 to 255, without sorting millions of them."""
    counts = np.bincount(changes.ravel(), minlength=256)
    up_to = np.cumsum(counts)
    many = up_to[-1]
    lower, upper = np.searchsorted(up_to, [(many - 1) // 2 + 1, many // 2 + 1])
    return int(lower + upper) // 2


def edges_of(pixels: Rgb) -> Numbers:
    """How much the colour changes from one line of the picture to the next; 0 where it does not.

    Lines − 1 × their length. Of neighbouring places that grow lighter only the steepest counts,
    and of those that grow darker.
    """
    # A channel after the other, which takes a third of the time.
    channels = np.ascontiguousarray(np.moveaxis(pixels, -1, 0))
    step = np.diff(channels.astype(np.int16), axis=1)
    # By the channel that changes most; whether lighter, by all of them.
    change = np.abs(step).max(axis=0)
    lighter = step.sum(axis=0, dtype=np.int16) > 0
    steepest = np.zeros(change.shape, dtype=bool)
    for kind in (lighter, ~lighter):
        rise = np.where(kind, change, 0)
        # Beside the lines before and after each; beyond the ends nothing changes.
        padded = np.pad(rise, ((1, 1), (0, 0)))
        not_below = rise >= padded[:-2]
        above = rise > padded[2:]
        steepest |= not_below & above
    # What changes little everywhere is the grain of a scan.
    grain = 3 * _middle_of(change)
    clear = change > max(10, grain)
    is_edge = steepest & clear
    return np.where(is_edge, change, 0)


def profile_of(edges: Numbers) -> Numbers:
    """How far edges run straight in each line of the picture, from 0 to 1.

    Long ones count for much more than as many short strokes of letters and symbols. Where a line
    is crossed by another it goes on.
    """
    lines, length = edges.shape
    # A border of nothing at both ends parts each line from the next, so all go in one row.
    bordered = np.zeros((lines, length + 2), dtype=bool)
    bordered[:, 1:-1] = edges > 0
    one_row = bordered.ravel()
    turns = np.flatnonzero(np.diff(one_row))
    starts = turns[::2]
    stops = turns[1::2]
    line = starts // (length + 2)
    # Strokes of one line with little between them are one stroke.
    gap = starts[1:] - stops[:-1]
    new_line = np.diff(line) > 0
    parted = new_line | (gap > CROSSED)
    first = np.append(True, parted)
    last = np.append(parted, True)
    stroke = stops[last] - starts[first]
    squares = np.bincount(
        line[first],
        weights=stroke**2.0,
        minlength=lines,
    )
    far = np.sqrt(squares) / length
    # Letters are short beside the longest lines, of which a few stray ones are left out.
    ranked = np.sort(far)
    longest = ranked[-2 * FEWEST :]
    letters = STROKES * longest.min()
    return np.maximum(far - letters, 0)


def comb_of(profile: Numbers) -> Comb | None:
    """The comb that a profile lies on; None where it does not repeat."""
    places = np.flatnonzero(profile)
    weight = profile[places]
    at = places + 1  # an edge lies between its pixel and the next
    low = _lowest_frequency(at, weight, len(profile))
    if low is None:
        return None
    # Closely now: where the waves of the first three harmonics meet the edges best.
    steps = np.linspace(-0.5, 1.5, 201)
    near = low + steps / len(profile)
    cells_before = np.outer(near, at)
    strength = np.zeros(len(near))
    for harmonic in (1, 2, 3):
        turns = harmonic * BACKWARDS * cells_before
        meets = np.exp(turns) @ weight
        strength += np.abs(meets)
    best = strength.argmax()
    frequency = float(near[best])
    period = 1 / frequency
    # The turn of the first wave says where the first line lies.
    turns = BACKWARDS * frequency * at
    turned = np.angle(np.exp(turns) @ weight)
    full_turn = 2 * np.pi * frequency
    begin = float(-turned) / full_turn % period
    # A few lines that happen to lie so are no grid.
    cells_on = (at - begin) * frequency
    number = np.round(cells_on + 1)
    number = number.astype(int)
    drawn = np.bincount(number, weights=weight)
    clear = drawn > 0.05 * drawn.max()
    if np.count_nonzero(clear) <= FEWEST:
        return None
    return Comb(period, begin)


def _lowest_frequency(
    at: Numbers,
    weight: Numbers,
    size: int,
) -> float | None:
    """The lowest frequency whose comb is nearly as strong as the strongest, in lines a pixel.

    The lowest, because twice the frequency of a comb is one too. None where none is strong, or
    the profile is too short for enough cells.
    """
    least = FEWEST / size
    # So fine that a comb is at most an eighth of a cell off at its end.
    step = 1 / (4 * size)
    frequencies = np.arange(least, 1 / SMALLEST, step)
    if not len(frequencies):
        return None
    on_teeth = np.empty(len(frequencies))
    for i, frequency in enumerate(frequencies):
        place = at * frequency % 1
        on_teeth[i] = _on_teeth(place, weight)
    # 0 for a profile that lies anywhere, 1 for one that lies on the teeth alone.
    by_chance = TEETH / BINS
    share = on_teeth / weight.sum()
    score = (share - by_chance) / (1 - by_chance)
    strongest = score.max()
    if strongest < REGULAR:
        return None
    strong = score > 0.85 * strongest
    low = int(strong.argmax())
    # The best of its near neighbours, for the strength rises over a few steps.
    neighbours = score[low : low + 4]
    best = low + neighbours.argmax()
    return float(frequencies[best])


def _on_teeth(place: Numbers, weight: Numbers) -> float:
    """How much weight lies on the best tooth; `place` is that of each in its cell, 0 to 1."""
    number = (place * BINS).astype(int)
    bins = np.bincount(number, weights=weight, minlength=BINS)
    # A tooth may reach over the end of the cell into the next.
    overlap = bins[: TEETH - 1]
    bins = np.append(bins, overlap)
    teeth = np.convolve(bins, np.ones(TEETH), "valid")
    return teeth.max()
