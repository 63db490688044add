"""A picture of a chart on squared paper, square to the page, read back into cells.

Grid lines and the borders of flat cells are edges that run straight for long and come back at one distance. How long they
run, by column and by row of the picture, gives two profiles; the distance at which each repeats, a comb in its Fourier
transform, is the size of a cell to a fraction of a pixel. Where the sides of cells are drawn is the chart; margins with
numbers and words have none. The middle of each cell gives its colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import binary_closing

from planner.artwork import Artwork, ChartedPicture, check_size
from planner.errors import PlanError
from planner.palette import MOST_YARNS, flat_colours, from_hex, has_few, lab_of, nearest, pick_colours, to_hex
from planner.units import counted

SMALLEST = 4  # pixels; cells any smaller cannot be told from noise
FEWEST = 5  # cells across and up, for a distance that repeats
CROSSED = 4  # pixels; how wide a line is that crosses another
BINS, TEETH = 40, 16  # parts of a cell's width, and how many of them a comb's tooth takes up
REGULAR = 0.45  # of the profile must lie on the comb: drawn grids have 0.6 and more, photographs less than 0.3
LINED = 0.4  # of the sides of all cells are drawn in a chart with grid lines
FRAMED = 0.8  # of the sides along a line that closes the chart
DRAWN = 0.7  # of a cell's side, its corners left out, must be an edge
GAP = 5  # strips of cells; fewer in which nothing is drawn do not end the grid
MIDDLE = 0.7  # of a cell's width and height, whose colour counts
LOOKS = 7  # places a side there
AGREE = 0.5  # of those, near to the cell's yarn


@dataclass(frozen=True, eq=False)
class GridReading(ChartedPicture):
    """A chart read from a picture of one. `doubtful` marks cells (rows × columns, row 0 the bottom row) to look at again and
    `why` says it, "" where there is no doubt; `box` is the grid's outline in the picture, in pixels: left, top, right, bottom."""

    doubtful: np.ndarray
    why: np.ndarray
    box: tuple[float, float, float, float]

    @property
    def cell_pixels(self) -> tuple[float, float]:
        """Width and height of a cell, in pixels of the picture."""
        left, top, right, bottom = self.box
        return (right - left) / self.cells.shape[1], (bottom - top) / self.cells.shape[0]


def read_grid_picture(
    art: Artwork, *, stitches: int | None = None, rows: int | None = None, yarns: Sequence[str] = (), count: int | None = None
) -> GridReading:
    """The chart in a picture of a chart. With `stitches` and `rows` the grid's outline is divided evenly; with `yarns`
    (#rrggbb) each cell gets the nearest of them, else one of at most `count` colours found.

    Raises a PlanError where no regular grid is found.
    """
    edges = [_edges(art.pixels.swapaxes(0, 1)), _edges(art.pixels)]  # upright ones, columns × rows; level ones, rows × columns
    combs = [_comb(e) for e in edges]
    notes, (height, width) = list(art.notes), art.pixels.shape[:2]
    outline = _outline(edges, combs, (width, height), notes) if all(combs) else None
    if outline is None and (stitches is None or rows is None):
        raise PlanError(
            f"No regular grid was found in {art.name}. Is it square to the page, with cells of at least {SMALLEST} pixels and "
            f"{FEWEST} or more of them each way? Else crop it to the grid, and say how many stitches and rows it has."
        )
    across, down = outline or ((0, width), (0, height))
    columns = round((across[1] - across[0]) / combs[0][0]) if stitches is None else check_size(stitches, "stitches")
    lines = round((down[1] - down[0]) / combs[1][0]) if rows is None else check_size(rows, "rows")
    x, y = _places(*across, columns, width), _places(*down, lines, height)
    looks = art.pixels[np.ix_(y, x)].reshape(lines, LOOKS, columns, LOOKS, 3).swapaxes(1, 2).reshape(lines, columns, -1, 3)[::-1]
    cells, palette, shown, why = _colours(looks, yarns, count, notes)
    size = (across[1] - across[0]) / columns, (down[1] - down[0]) / lines
    notes.insert(len(art.notes), f"{columns} stitches × {lines} rows, in cells of {size[0]:.1f} × {size[1]:.1f} pixels")
    return GridReading(cells, palette, shown, tuple(notes), why != "", why, (across[0], down[0], across[1], down[1]))


def _edges(pixels: np.ndarray) -> np.ndarray:
    """Where the colour changes from one line of the picture to the next, lines − 1 × their length.

    Of neighbouring places that grow lighter only the steepest counts, and of those that grow darker.
    """
    step = np.diff(np.ascontiguousarray(pixels).astype(np.int16), axis=0)
    change, lighter = np.abs(step).max(axis=-1), step.sum(axis=-1) > 0
    found = np.zeros(change.shape, dtype=bool)
    for kind in (lighter, ~lighter):
        rise = np.pad(np.where(kind, change, 0), ((1, 1), (0, 0)))
        found |= (rise[1:-1] >= rise[:-2]) & (rise[1:-1] > rise[2:])
    return found & (change > max(10, 3 * int(np.median(change))))


def _profile(edges: np.ndarray) -> np.ndarray:
    """How far edges run straight in each line of the picture, from 0 to 1. Long ones count for much more than as many short
    strokes of letters and symbols; where a line is crossed by another it goes on."""
    lines, length = edges.shape
    turns = np.flatnonzero(np.diff(np.pad(edges, ((0, 0), (1, 1))).ravel()))
    starts, stops = turns[::2], turns[1::2]
    line = starts // (length + 2)
    goes_on = (starts[1:] - stops[:-1] <= CROSSED) & (line[1:] == line[:-1])
    first, last = np.append(True, ~goes_on), np.append(~goes_on, True)
    return np.sqrt(np.bincount(line[first], weights=(stops[last] - starts[first]) ** 2.0, minlength=lines)) / length


def _comb(edges: np.ndarray) -> tuple[float, float] | None:
    """The distance at which edges repeat and where that begins, in pixels; None where they do not."""
    profile, size = _profile(edges), len(edges)
    at, total = np.flatnonzero(profile) + 1, profile.sum()  # an edge lies between its pixel and the next
    weight = profile[at - 1]
    if size < SMALLEST * FEWEST or total == 0:
        return None
    frequencies = np.arange(FEWEST / size, 1 / SMALLEST, 1 / (4 * size))
    score = []
    for frequency in frequencies:
        turn = np.bincount((at * frequency % 1 * BINS).astype(int), weights=weight, minlength=BINS)
        score.append(np.convolve(np.append(turn, turn[: TEETH - 1]), np.ones(TEETH), "valid").max() / total)
    score = (np.array(score) - TEETH / BINS) / (1 - TEETH / BINS)
    if score.max() < REGULAR:
        return None
    # The lowest that is nearly as strong as the strongest, for twice the frequency of a comb is one too; then closely.
    low = int(np.flatnonzero(score > 0.85 * score.max())[0])
    low += int(np.argmax(score[low : low + 4]))
    near = frequencies[low] + np.linspace(-0.5, 1.5, 201) / size
    waves = [np.abs(np.exp(-2j * np.pi * k * np.outer(near, at)) @ weight) for k in (1, 2, 3)]
    frequency = near[int(np.argmax(np.sum(waves, axis=0)))]
    begin = float(-np.angle(np.exp(-2j * np.pi * frequency * at) @ weight) / (2 * np.pi * frequency) % (1 / frequency))
    line = np.round((at - begin) * frequency + 1).astype(int)
    for every in (2, 3):  # strokes of letters half or a third of a cell from the lines are none
        lines = np.bincount(line, weights=weight**2, minlength=line.max() + 1)
        usual = np.array([np.median(lines[start::every]) for start in range(every)])
        best = int(usual.argmax())
        if usual[best] > 0.02 and np.delete(usual, best).max() < 0.35 * usual[best]:
            begin, frequency = begin + (best - 1) / frequency, frequency / every
            line = np.round((at - begin) * frequency + 1).astype(int)
            line -= min(line.min(), 0)
    lines = np.bincount(line - line.min(), weights=weight)
    return (1 / frequency, begin % (1 / frequency)) if np.count_nonzero(lines > 0.05 * lines.max()) > FEWEST else None


def _sides(edges: np.ndarray, lines: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Which sides of cells are drawn: lines of the grid along one axis × cells between its lines `ends` along the other."""
    slack = max(1, round((lines[1] - lines[0]) / 8))  # a line is some pixels wide
    corner = (ends[1] - ends[0]) / 4
    first, last = (np.clip(np.round(e).astype(int), 0, edges.shape[1]) for e in (ends[:-1] + corner, ends[1:] - corner))
    drawn = []
    for at in np.round(lines).astype(int) - 1:  # an edge lies after its pixel
        seen = np.append(0, np.cumsum(edges[max(0, at - slack) : max(0, at + slack + 1)].any(axis=0)))
        drawn.append(seen[last] - seen[first] >= DRAWN * np.maximum(last - first, 1))
    return np.array(drawn)


def _outline(edges, combs, size, notes: list[str]) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Where the grid begins and ends, across and down; None where most changes of colour lie off its lines."""
    x, y = (
        np.arange(begin - period * (begin > 0.7 * period), length + 0.3 * period, period)
        for (period, begin), length in zip(combs, size, strict=True)
    )
    upright, level = _sides(edges[0], x, y), _sides(edges[1], y, x)
    # Strips of cells whose sides are drawn, and drawn again within the strips of the other way.
    columns, rows = (0, len(x) - 1), (0, len(y) - 1)
    for _ in range(3):
        columns, rows = _strips(level[slice(*rows)].mean(axis=0)), _strips(upright[slice(*columns)].mean(axis=0))
    across, down = slice(*columns), slice(*rows)
    if (upright[across, down].mean() + level[down, across].mean()) / 2 > LINED:
        # Where lines are as dark as cells few sides show, but a frame drawn all round goes on to the end.
        framed = [
            np.flatnonzero(drawn.mean(axis=1) > FRAMED).tolist() + list(found)
            for drawn, found in ((upright[:, down], columns), (level[:, across], rows))
        ]
        outer, lower = ((min(lines), max(lines)) for lines in framed)
        ends = upright[list(outer), slice(*lower)].mean(axis=1), level[list(lower), slice(*outer)].mean(axis=1)
        if min(np.concatenate(ends)) > FRAMED:
            columns, rows = outer, lower
        return tuple(x[list(columns)]), tuple(y[list(rows)])
    off = [
        np.abs((np.arange(1, len(e) + 1) - begin) / p % 1 - 0.5) < 0.5 - 1 / 6 for e, (p, begin) in zip(edges, combs, strict=True)
    ]
    if sum(e[o].sum() for e, o in zip(edges, off, strict=True)) > 0.5 * sum(e.sum() for e in edges):
        return None
    ends, goes_on = [], []
    for lines, own, cross, whole in ((x, upright, level, size[0]), (y, level, upright, size[1])):
        inside = np.flatnonzero((cross.sum(axis=0) > 1) | (own[1:].sum(axis=1) > 1) & (own[:-1].sum(axis=1) > 1))
        reach = np.flatnonzero(own.any(axis=0))
        for line, edge in ((inside[0], 0), (inside[-1] + 1, whole)):
            beyond = abs(edge - lines[line]) / (lines[1] - lines[0])
            closed = own[line, reach[0] : reach[-1] + 1].mean() > FRAMED
            ends.append((lines[line], lines[line] if closed else edge))
            goes_on.append(closed or abs(beyond - round(beyond)) < 0.1)
    left, right, top, bottom = (end[all(goes_on)] for end in ends)
    how_far = "the picture's edge" if all(goes_on) else "the outermost change of colour"
    notes.append(f"no grid lines were found: the chart is taken to reach to {how_far}")
    return (left, right), (top, bottom)


def _strips(drawn: np.ndarray) -> tuple[int, int]:
    """The first and last line of the longest stretch of strips of which at least half as much is drawn as of the best."""
    inside = np.pad(drawn >= max(drawn.max() / 2, 1e-9), GAP)
    turns = np.flatnonzero(np.diff(binary_closing(inside, np.ones(GAP)).astype(int), prepend=0)) - GAP
    longest = 2 * int(np.argmax(turns[1::2] - turns[::2])) if len(turns) else 0
    return (int(turns[longest]), int(turns[longest + 1])) if len(turns) else (0, len(drawn))


def _places(start: float, stop: float, cells: int, limit: int) -> np.ndarray:
    """Pixels at which the middle of each cell is looked at."""
    within = (1 - MIDDLE) / 2 + MIDDLE * (np.arange(LOOKS) + 0.5) / LOOKS
    at = start + (np.arange(cells)[:, None] + within) * (stop - start) / cells
    return np.clip(at.ravel().astype(int), 0, limit - 1)


def _colours(looks: np.ndarray, yarns, count: int | None, notes: list[str]):
    """Cells, palette, the colour shown and the doubt in words, from what is seen in the middle of each cell
    (rows × columns × places × 3)."""
    shown = np.median(looks, axis=2).astype(np.uint8)
    lab, seen = lab_of(shown), lab_of(looks)
    clean = has_few(shown, MOST_YARNS)  # of what a scanner or JPEG adds
    if len(yarns) > 0:
        palette = from_hex(yarns)
    elif count is not None:
        palette = pick_colours(shown.reshape(-1, 3), count, flat=True)
    else:
        palette = flat_colours(shown.reshape(-1, 3), apart=3 if clean else 10, least=0 if clean else 2.5 / shown[..., 0].size)
        if len(palette) > MOST_YARNS:
            palette = pick_colours(shown.reshape(-1, 3), MOST_YARNS, flat=True)
    of = lab_of(palette)
    cells, distance = nearest(lab, of)
    alike = (np.linalg.norm(seen - of[cells][:, :, None], axis=-1) < 10).mean(axis=2)
    why = np.full(cells.shape, "", dtype=object)
    if len(of) > 1:
        second = np.sort(np.linalg.norm(lab[:, :, None] - of, axis=-1), axis=2)[:, :, 1]
        why[(distance > 3) & (distance > 0.6 * second)] = "its colour lies between two yarns"
    why[distance > 20] = "no yarn is near its colour"
    why[alike < AGREE] = "less than half of it is of one colour"
    if (alike < 0.9).mean() > 0.2:
        notes.append("many cells hold symbols or letters; only their colours were read")
    if (why != "").any():
        notes.append(f"{counted(int((why != '').sum()), 'cell')} to look at again")
    return cells.astype(np.int16), to_hex(palette), shown, why
