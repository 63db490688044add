"""A picture of a chart on squared paper, square to the page, read back into cells.

Grid lines and the borders of flat cells are edges that run straight for long and come back at one distance. How long they
run, by column and by row of the picture, gives two profiles; the distance at which each repeats, that of the comb whose teeth
take up most of it, is the size of a cell to a fraction of a pixel. The first and the last line that is drawn along the cells
bound the chart; margins with numbers and words have none. The middle of each cell gives its colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import find_objects, label

from planner.charts.palette import (
    MOST_YARNS,
    flat_colours,
    from_hex,
    has_few,
    lab_of,
    nearest,
    pick_colours,
    to_hex,
)
from planner.charts.picture import Artwork, ChartedPicture, check_size
from planner.errors import PlanError
from planner.units import counted

SMALLEST = 4  # pixels; cells any smaller cannot be told from noise
FEWEST = 5  # cells across and up, for a distance that repeats
CROSSED = 4  # pixels; how wide a line is that crosses another
BINS, TEETH = 40, 16  # parts of a cell's width, and how many of them a comb's tooth takes up
STROKES = 0.25  # of the longest lines, some few left out; what is shorter is letters
INK = 12  # of 255; what differs more from the page is drawn on it
RULED = 0.7  # of what most lines have drawn, for a line to bound the grid
REGULAR = 0.45  # of the profile must lie on the comb: drawn grids have 0.6 and more, photographs less than 0.3
LONGEST = 2.5  # a cell's long side over its short one
LINED = 0.4  # of the sides of all cells are drawn in a chart with grid lines
FRAMED = 0.8  # of the sides along a line that closes the chart
DRAWN = 0.7  # of a cell's side, its corners left out, must be an edge
MIDDLE = 0.7  # of a cell's width and height, whose colour counts
LOOKS = 7  # places a side there
AGREE = 0.5  # of those, of the colour that most have


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
    art: Artwork,
    *,
    stitches: int | None = None,
    rows: int | None = None,
    yarns: Sequence[str] = (),
    count: int | None = None,
) -> GridReading:
    """The chart in a picture of a chart. With `stitches` and `rows` the grid's outline is divided evenly; with `yarns`
    (#rrggbb) each cell gets the nearest of them, else one of at most `count` colours found.

    Raises a PlanError where no regular grid is found.
    """
    notes, (height, width) = list(art.notes), art.pixels.shape[:2]
    outline = _find_grid(art.pixels, notes)
    if outline is None and (stitches is None or rows is None):
        raise PlanError(
            f"No regular grid was found in {art.name}. Is it square to the page, with cells of at least {SMALLEST} pixels and "
            f"{FEWEST} or more of them each way? Else crop it to the grid, and say how many stitches and rows it has."
        )
    (left, right, columns), (top, bottom, lines) = outline or ((0, width, 0), (0, height, 0))
    columns = columns if stitches is None else check_size(stitches, "stitches")
    lines = lines if rows is None else check_size(rows, "rows")
    x, y = _places(left, right, columns, width), _places(top, bottom, lines, height)
    looks = (
        art.pixels[np.ix_(y, x)]
        .reshape(lines, LOOKS, columns, LOOKS, 3)
        .swapaxes(1, 2)
        .reshape(lines, columns, -1, 3)[::-1]
    )
    size = f"{(right - left) / columns:.1f} × {(bottom - top) / lines:.1f} pixels"
    notes.append(f"{columns} stitches × {lines} rows, in cells of {size}")
    cells, palette, shown, why = _colours(looks, yarns, count, notes)
    return GridReading(
        cells, palette, shown, tuple(notes), why != "", why, (left, top, right, bottom)
    )


def _find_grid(
    pixels: np.ndarray, notes: list[str]
) -> tuple[tuple[float, float, int], tuple[float, float, int]] | None:
    """Where the grid begins and ends and how many cells it has, across and down; None where there is none."""
    size = pixels.shape[1::-1]
    page = [
        slice(max(0, thing.start - 3), min(whole, thing.stop + 3))
        for thing, whole in zip(_on_page(pixels), size, strict=True)
    ]
    part = pixels[page[1], page[0]]
    if min(part.shape[:2]) < SMALLEST * FEWEST:
        return None
    edges = (
        _edges(part.swapaxes(0, 1)),
        _edges(part),
    )  # upright ones, columns × rows; level ones, rows × columns
    combs = [_comb(_profile(e)) if e.any() else None for e in edges]
    if None in combs or not 1 / LONGEST < combs[0][0] / combs[1][0] < LONGEST:
        return None
    lines = [
        begin
        + period
        * np.arange(round(-begin / period), round((thing.stop - thing.start - begin) / period) + 1)
        for (period, begin), thing in zip(combs, page, strict=True)
    ]
    drawn = _sides(edges[0], *lines), _sides(edges[1], *lines[::-1])
    bounds = [(0, len(x) - 1) for x in lines]
    for _ in range(2):
        cells = [slice(*ends) for ends in bounds]
        bounds = [
            _bounds(
                drawn[i][:, cells[1 - i]],
                drawn[1 - i][cells[1 - i]],
                page[i].start + lines[i],
                size[i],
            )
            for i in (0, 1)
        ]
    cells = [slice(*ends) for ends in bounds]
    lined = np.mean([drawn[i][cells[i], cells[1 - i]].mean() for i in (0, 1)]) > LINED
    if not lined:
        bounds = [_extent(drawn[i].any(axis=1), drawn[1 - i].any(axis=0)) for i in (0, 1)]
    if min(last - first for first, last in bounds) < FEWEST or not (lined or _lie_on(edges, combs)):
        return None
    closed = [
        drawn[i][list(bounds[i]), slice(*bounds[1 - i])].mean(axis=1).min() > FRAMED for i in (0, 1)
    ]
    found = [
        (thing.start + x[first], thing.start + x[last])
        for x, (first, last), thing in zip(lines, bounds, page, strict=True)
    ]
    if not lined and not all(closed):
        # Nothing closes the chart. It goes on to the picture's edge where that is whole cells away all round.
        beyond = np.array(
            [
                (a / p, (whole - b) / p)
                for (a, b), (p, _), whole in zip(found, combs, size, strict=True)
            ]
        )
        if np.abs(beyond - np.round(beyond)).max() < 0.1:
            found = [(0, whole) for whole in size]
        else:
            notes.append(
                "nothing closes the chart: it is taken to end where the outermost colours do"
            )
    return tuple(
        (float(a), float(b), round((b - a) / period))
        for (a, b), (period, _) in zip(found, combs, strict=True)
    )


def _on_page(pixels: np.ndarray) -> tuple[slice, slice]:
    """The columns and rows of the largest thing on a page of one colour; the whole picture where its rim has several."""
    rim = np.concatenate((pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1])).astype(np.int16)
    paper = np.median(rim, axis=0).astype(np.int16)
    things = find_objects(label((np.abs(pixels - paper) > INK).any(axis=-1))[0])
    whole = slice(0, pixels.shape[1]), slice(0, pixels.shape[0])
    if not things or (np.abs(rim - paper) > INK).any(axis=-1).mean() > 0.1:
        return whole
    rows, columns = max(
        things, key=lambda thing: np.prod([along.stop - along.start for along in thing])
    )
    # Where the rim is a grid line, the largest thing is a cell.
    share = min(
        (columns.stop - columns.start) / pixels.shape[1], (rows.stop - rows.start) / pixels.shape[0]
    )
    return whole if share < 1 / 3 else (columns, rows)


def _edges(pixels: np.ndarray) -> np.ndarray:
    """How much the colour changes from one line of the picture to the next, lines − 1 × their length; 0 where it does not.

    Of neighbouring places that grow lighter only the steepest counts, and of those that grow darker.
    """
    step = np.diff(np.ascontiguousarray(pixels).astype(np.int16), axis=0)
    change, lighter = np.abs(step).max(axis=-1), step.sum(axis=-1) > 0
    found = np.zeros(change.shape, dtype=bool)
    for kind in (lighter, ~lighter):
        rise = np.pad(np.where(kind, change, 0), ((1, 1), (0, 0)))
        found |= (rise[1:-1] >= rise[:-2]) & (rise[1:-1] > rise[2:])
    return np.where(found & (change > max(10, 3 * int(np.median(change)))), change, 0)


def _profile(edges: np.ndarray) -> np.ndarray:
    """How far edges run straight in each line of the picture, from 0 to 1. Long ones count for much more than as many short
    strokes of letters and symbols; where a line is crossed by another it goes on."""
    lines, length = edges.shape
    turns = np.flatnonzero(np.diff(np.pad(edges > 0, ((0, 0), (1, 1))).ravel()))
    starts, stops = turns[::2], turns[1::2]
    line = starts // (length + 2)
    parted = (starts[1:] - stops[:-1] > CROSSED) | (line[1:] != line[:-1])
    first, last = np.append(True, parted), np.append(parted, True)
    far = (
        np.sqrt(
            np.bincount(line[first], weights=(stops[last] - starts[first]) ** 2.0, minlength=lines)
        )
        / length
    )
    return np.maximum(far - STROKES * np.sort(far)[-2 * FEWEST :][0], 0)


def _comb(profile: np.ndarray) -> tuple[float, float] | None:
    """The distance at which a profile repeats and where that begins, in pixels; None where it does not."""
    size, at = len(profile), np.flatnonzero(profile)
    weight, at = profile[at], at + 1  # an edge lies between its pixel and the next
    frequencies = np.arange(FEWEST / size, 1 / SMALLEST, 1 / (4 * size))
    score = []
    for frequency in frequencies:
        turn = np.bincount((at * frequency % 1 * BINS).astype(int), weights=weight, minlength=BINS)
        score.append(np.convolve(np.append(turn, turn[: TEETH - 1]), np.ones(TEETH), "valid").max())
    score = (np.array(score) / weight.sum() - TEETH / BINS) / (1 - TEETH / BINS)
    if score.max() < REGULAR:
        return None
    # The lowest that is nearly as strong as the strongest, for twice the frequency of a comb is one too; then closely.
    low = int(np.flatnonzero(score > 0.85 * score.max())[0])
    low += int(np.argmax(score[low : low + 4]))
    near = frequencies[low] + np.linspace(-0.5, 1.5, 201) / size
    waves = [np.abs(np.exp(-2j * np.pi * k * np.outer(near, at)) @ weight) for k in (1, 2, 3)]
    frequency = float(near[int(np.argmax(np.sum(waves, axis=0)))])
    begin = (
        float(-np.angle(np.exp(-2j * np.pi * frequency * at) @ weight))
        / (2 * np.pi * frequency)
        % (1 / frequency)
    )
    lines = np.bincount(np.round((at - begin) * frequency + 1).astype(int), weights=weight)
    return (1 / frequency, begin) if np.count_nonzero(lines > 0.05 * lines.max()) > FEWEST else None


def _sides(edges: np.ndarray, lines: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Which sides of cells are drawn: lines of the grid along one axis × cells between its lines `ends` along the other."""
    slack = max(1, round((lines[1] - lines[0]) / 5))  # a line is some pixels wide
    corner = (ends[1] - ends[0]) / 10
    first, last = (
        np.clip(np.round(e).astype(int), 0, edges.shape[1])
        for e in (ends[:-1] + corner, ends[1:] - corner)
    )
    drawn = []
    for at in np.round(lines).astype(int) - 1:  # an edge lies after its pixel
        seen = np.append(
            0, np.cumsum(edges[max(0, at - slack) : max(0, at + slack + 1)].any(axis=0))
        )
        drawn.append(seen[last] - seen[first] >= DRAWN * np.maximum(last - first, 1))
    return np.array(drawn)


def _bounds(own: np.ndarray, cross: np.ndarray, lines: np.ndarray, size: int) -> tuple[int, int]:
    """The first and the last line of which enough is drawn; one along the picture's rim may be cut off.

    `own` are the sides drawn on these lines, `cross` those between them.
    """
    sides, strips, near = own.mean(axis=1), cross.mean(axis=0), 0.3 * (lines[1] - lines[0])
    drawn, full = sides >= RULED * np.quantile(sides, 0.9), strips >= np.quantile(strips, 0.9) / 2
    drawn[0] |= lines[0] < near and full[0]
    drawn[-1] |= lines[-1] > size - near and full[-1]
    first, last = np.flatnonzero(drawn)[[0, -1]]
    return (int(first), int(last)) if last > first else (0, len(lines) - 1)


def _extent(lines: np.ndarray, strips: np.ndarray) -> tuple[int, int]:
    """The first and the last line that bounds a strip or lies on a line of which something is drawn."""
    at = np.concatenate((np.flatnonzero(lines), np.flatnonzero(strips), np.flatnonzero(strips) + 1))
    return (int(at.min()), int(at.max())) if len(at) else (0, 0)


def _lie_on(edges, combs) -> bool:
    """Whether nearly all that changes in the picture changes on the lines of the grid; squared, so that what JPEG adds beside
    an edge counts for little."""
    on = total = 0
    for edge, (period, begin) in zip(edges, combs, strict=True):
        change = (edge.astype(float) ** 2).sum(axis=1)
        away = (np.arange(len(change)) + 1 - begin + period / 2) % period - period / 2
        on, total = on + change[np.abs(away) < min(2, period / 6)].sum(), total + change.sum()
    return on > 0.8 * total


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
        palette = flat_colours(
            shown.reshape(-1, 3),
            apart=3 if clean else 10,
            least=0 if clean else 2.5 / shown[..., 0].size,
        )
        if len(palette) > MOST_YARNS:
            palette = pick_colours(shown.reshape(-1, 3), MOST_YARNS, flat=True)
    of = lab_of(palette)
    cells, distance = nearest(lab, of)
    alike = (np.linalg.norm(seen - lab[:, :, None], axis=-1) < 10).mean(axis=2)
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
