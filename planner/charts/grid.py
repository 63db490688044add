"""A picture of a chart on squared paper, square to the page, read back into cells.

Grid lines and the borders of flat cells are edges that run straight for long and come back at one
distance. How long they run, by column and by row of the picture, gives two profiles. The distance
at which each repeats, that of the comb whose teeth take up most of it, is the size of a cell to a
fraction of a pixel. The first and the last line that is drawn along the cells bound the chart;
margins with numbers and words have none. The middle of each cell gives its colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.ndimage import find_objects, label

from planner.charts.palette import (
    MOST_COLOURS_IN_A_PICTURE,
    Rgb,
    flat_colours,
    from_hex,
    has_few,
    lab_of,
    nearest,
    pick_colours,
    to_hex,
)
from planner.charts.picture import Artwork, Box, ChartedPicture, check_size
from planner.errors import PlanError
from planner.units import counted

SMALLEST = 4  # pixels; cells any smaller cannot be told from noise
FEWEST = 5  # cells across and up, for a distance that repeats
CROSSED = 4  # pixels; how wide a line is that crosses another
BINS, TEETH = 40, 16  # parts of a cell's width, and how many of them a comb's tooth takes up
STROKES = 0.25  # of the longest lines, some few left out; what is shorter is letters
INK = 12  # of 255; what differs more from the page is drawn on it
RULED = 0.7  # of what most lines have drawn, for a line to bound the grid
# Of the profile, for a comb to lie on it: drawn grids have 0.6 and more, photographs below 0.3.
REGULAR = 0.45
LONGEST_CELL = 2.5  # a cell's long side over its short one
LINED = 0.4  # of the sides of all cells are drawn in a chart with grid lines
FRAMED = 0.8  # of the sides along a line that closes the chart
DRAWN = 0.7  # of a cell's side, its corners left out, must be an edge
MIDDLE = 0.7  # of a cell's width and height, whose colour counts
LOOKS = 7  # places a side there
AGREE = 0.5  # of those, of the colour that most have

BACKWARDS = -2j * np.pi  # one turn, for waves
Mask = np.ndarray  # true and false


@dataclass(frozen=True, eq=False)
class GridReading(ChartedPicture):
    """A chart read from a picture of one.

    `doubtful` marks cells (rows × columns, row 0 the bottom row) to look at again and `why` says
    it, "" where there is no doubt. `box` is the grid's outline in the picture, in pixels: left,
    top, right, bottom.
    """

    doubtful: Mask
    why: np.ndarray
    box: Box


class Span(NamedTuple):
    """Where a grid begins and ends, across or down, in pixels, and how many cells it has."""

    start: float
    stop: float
    cells: int

    @property
    def length(self) -> float:
        return self.stop - self.start


class Outline(NamedTuple):
    """Where a grid lies in a picture."""

    across: Span
    down: Span


class Comb(NamedTuple):
    """Lines at one distance, in pixels, and where the first of them lies."""

    period: float
    begin: float


class Bounds(NamedTuple):
    """The first and the last line of a grid, by their places among a way's lines."""

    first: int
    last: int

    @property
    def between(self) -> int:
        """How many cells lie between them."""
        return self.last - self.first

    @property
    def cells(self) -> slice:
        return slice(self.first, self.last)


@dataclass(frozen=True, eq=False)
class Way:
    """One way over the picture, across or down, with the lines that cross it.

    `edges` are the lines of the picture, less one, × their length: how much the colour changes
    from each to the next. They, the comb and `lines`, where grid lines may be, count pixels from
    `start`, where the part of the picture begins that holds the chart; `whole` is the picture's
    size this way.
    """

    whole: int
    start: int
    edges: np.ndarray
    comb: Comb
    lines: np.ndarray


def read_grid_picture(
    art: Artwork,
    *,
    stitches: int | None = None,
    rows: int | None = None,
    yarns: Sequence[str] = (),
    count: int | None = None,
) -> GridReading:
    """The chart in a picture of a chart.

    With `stitches` and `rows` the grid's outline is divided evenly. With `yarns` (#rrggbb) each
    cell gets the nearest of them, else one of at most `count` colours found.

    Raises a PlanError where no regular grid is found.
    """
    notes = list(art.notes)
    outline = _outline(art, stitches, rows, notes)
    looks = _looks(art.pixels, outline)
    shown = np.median(looks, axis=2).astype(np.uint8)
    palette = _palette(shown, yarns, count)
    cells, distance = nearest(lab_of(shown), lab_of(palette))
    alike = _share_alike(looks, shown)
    why = _doubts(shown, palette, distance, alike)
    notes += _said_of_all(alike, why)
    across, down = outline
    return GridReading(
        cells=cells.astype(np.int16),
        palette=to_hex(palette),
        shown=shown,
        notes=tuple(notes),
        doubtful=why != "",
        why=why,
        box=(across.start, down.start, across.stop, down.stop),
    )


def _outline(
    art: Artwork,
    stitches: int | None,
    rows: int | None,
    notes: list[str],
) -> Outline:
    """The grid in a picture, in as many stitches and rows as are asked for."""
    found = _find_grid(art.pixels, notes)
    if found is None:
        if stitches is None or rows is None:
            raise PlanError(
                f"No regular grid was found in {art.name}. Is it square to the page, with cells "
                f"of at least {SMALLEST} pixels and {FEWEST} or more of them each way? "
                "Else crop it to the grid, and say how many stitches and rows it has."
            )
        # Whoever says how many there are may have cropped the picture to the grid.
        height, width = art.pixels.shape[:2]
        across = Span(0, width, stitches)
        down = Span(0, height, rows)
    else:
        across, down = found
    if stitches is not None:
        across = across._replace(cells=check_size(stitches, "stitches"))
    if rows is not None:
        down = down._replace(cells=check_size(rows, "rows"))
    wide = across.length / across.cells
    high = down.length / down.cells
    size = f"{wide:.1f} × {high:.1f} pixels"
    notes.append(f"{across.cells} stitches × {down.cells} rows, in cells of {size}")
    return Outline(across, down)


def _find_grid(pixels: Rgb, notes: list[str]) -> Outline | None:
    """Where the grid lies across and down; None where there is none."""
    ways = _ways_over(pixels)
    if ways is None:
        return None
    across, down = ways
    upright = _sides(across, down)
    level = _sides(down, across)
    columns, rows = _ruled(across, down, upright=upright, level=level)
    lined = _share_drawn(upright, level, columns, rows) > LINED
    if not lined:
        # Cells without lines: the chart goes as far as colours change on the grid.
        columns = _extent(upright, level)
        rows = _extent(level, upright)
    if min(columns.between, rows.between) < FEWEST:
        return None
    if not lined and not _change_on_lines(across, down):
        return None
    found = Outline(_span(across, columns), _span(down, rows))
    if lined:
        return found
    sides_closed = _closed(upright, columns, rows)
    ends_closed = _closed(level, rows, columns)
    if sides_closed and ends_closed:
        return found
    return _to_the_edges(found, across, down, notes)


def _share_drawn(upright: Mask, level: Mask, columns: Bounds, rows: Bounds) -> float:
    """How many of the sides of all cells within the bounds are drawn, from 0 to 1."""
    at_the_sides = upright[columns.cells, rows.cells].mean()
    above_and_below = level[rows.cells, columns.cells].mean()
    return (at_the_sides + above_and_below) / 2


def _ways_over(pixels: Rgb) -> tuple[Way, Way] | None:
    """The ways across and down; None where nothing repeats, or cells would be too long."""
    columns, rows = _on_page(pixels)
    part = pixels[rows, columns]
    shortest = min(part.shape[:2])
    if shortest < SMALLEST * FEWEST:
        return None
    height, width = pixels.shape[:2]
    sideways = part.swapaxes(0, 1)
    across = _way(sideways, columns.start, whole=width)
    down = _way(part, rows.start, whole=height)
    if across is None or down is None:
        return None
    shape = across.comb.period / down.comb.period
    if not 1 / LONGEST_CELL < shape < LONGEST_CELL:
        return None
    return across, down


def _way(part: Rgb, start: int, *, whole: int) -> Way | None:
    """One way over a part of the picture, whose first axis goes this way."""
    edges = _edges(part)
    if not edges.any():
        return None
    comb = _comb(_profile(edges))
    if comb is None:
        return None
    # All lines that the part has room for, to half a cell beyond its ends.
    period, begin = comb
    first = round(-begin / period)
    last = round((len(part) - begin) / period)
    number = np.arange(first, last + 1)
    lines = begin + period * number
    return Way(whole, start, edges, comb, lines)


def _on_page(pixels: Rgb) -> tuple[slice, slice]:
    """The columns and rows of the largest thing on a page of one colour, and a little around it.

    The whole picture where its rim has several colours.
    """
    height, width = pixels.shape[:2]
    everything = slice(0, width), slice(0, height)
    upright = pixels.swapaxes(0, 1)
    sides = [pixels[0], pixels[-1], upright[0], upright[-1]]
    rim = np.concatenate(sides).astype(np.int16)
    paper = np.median(rim, axis=0).astype(np.int16)
    if _differs(rim, paper).mean() > 0.1:
        return everything
    numbered, _ = label(_differs(pixels, paper))
    things = find_objects(numbered)
    if not things:
        return everything
    rows, columns = max(things, key=_area)
    # Where the rim is a grid line, the largest thing is a cell.
    share_across = _length(columns) / width
    share_down = _length(rows) / height
    if min(share_across, share_down) < 1 / 3:
        return everything
    return _grown(columns, width), _grown(rows, height)


def _differs(pixels: Rgb, paper: np.ndarray) -> Mask:
    """Which pixels are drawn on the paper."""
    apart = np.abs(pixels - paper)
    return (apart > INK).any(axis=-1)


def _length(part: slice) -> int:
    return part.stop - part.start


def _area(thing: tuple[slice, slice]) -> int:
    rows, columns = thing
    return _length(rows) * _length(columns)


def _grown(part: slice, limit: int) -> slice:
    """Three pixels more at both ends, so that a line on the rim has its edges."""
    start = max(0, part.start - 3)
    stop = min(limit, part.stop + 3)
    return slice(start, stop)


def _edges(pixels: Rgb) -> np.ndarray:
    """How much the colour changes from one line of the picture to the next; 0 where it does not.

    Lines − 1 × their length. Of neighbouring places that grow lighter only the steepest counts,
    and of those that grow darker.
    """
    in_order = np.ascontiguousarray(pixels).astype(np.int16)
    step = np.diff(in_order, axis=0)
    change = np.abs(step).max(axis=-1)
    lighter = step.sum(axis=-1) > 0
    steepest = np.zeros(change.shape, dtype=bool)
    for kind in (lighter, ~lighter):
        rise = np.where(kind, change, 0)
        # Beside the lines before and after each; beyond the ends nothing changes.
        padded = np.pad(rise, ((1, 1), (0, 0)))
        before = padded[:-2]
        after = padded[2:]
        steepest |= (rise >= before) & (rise > after)
    # What changes little everywhere is the grain of a scan.
    grain = 3 * int(np.median(change))
    clear = change > max(10, grain)
    return np.where(steepest & clear, change, 0)


def _profile(edges: np.ndarray) -> np.ndarray:
    """How far edges run straight in each line of the picture, from 0 to 1.

    Long ones count for much more than as many short strokes of letters and symbols. Where a line
    is crossed by another it goes on.
    """
    lines, length = edges.shape
    # A border of nothing at both ends parts each line from the next, so all go in one row.
    bordered = np.pad(edges > 0, ((0, 0), (1, 1)))
    turns = np.flatnonzero(np.diff(bordered.ravel()))
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
    squares = np.bincount(line[first], weights=stroke**2.0, minlength=lines)
    far = np.sqrt(squares) / length
    # Letters are short beside the longest lines, of which a few stray ones are left out.
    longest = np.sort(far)[-2 * FEWEST :]
    letters = STROKES * longest[0]
    return np.maximum(far - letters, 0)


def _comb(profile: np.ndarray) -> Comb | None:
    """The comb that a profile lies on; None where it does not repeat."""
    places = np.flatnonzero(profile)
    weight = profile[places]
    at = places + 1  # an edge lies between its pixel and the next
    low = _lowest_frequency(at, weight, len(profile))
    if low is None:
        return None
    # Closely now: where the waves of the first three harmonics meet the edges best.
    near = low + np.linspace(-0.5, 1.5, 201) / len(profile)
    cells_before = np.outer(near, at)
    strength = np.zeros(len(near))
    for harmonic in (1, 2, 3):
        wave = np.exp(BACKWARDS * harmonic * cells_before)
        strength += np.abs(wave @ weight)
    frequency = float(near[strength.argmax()])
    period = 1 / frequency
    # The turn of the first wave says where the first line lies.
    wave = np.exp(BACKWARDS * frequency * at)
    turn = float(-np.angle(wave @ weight))
    begin = turn / (2 * np.pi * frequency) % period
    # A few lines that happen to lie so are no grid.
    number = np.round((at - begin) * frequency + 1)
    drawn = np.bincount(number.astype(int), weights=weight)
    lines = np.count_nonzero(drawn > 0.05 * drawn.max())
    return Comb(period, begin) if lines > FEWEST else None


def _lowest_frequency(at: np.ndarray, weight: np.ndarray, size: int) -> float | None:
    """The lowest frequency whose comb is nearly as strong as the strongest, in lines a pixel.

    The lowest, because twice the frequency of a comb is one too. None where none is strong, or
    the profile is too short for enough cells.
    """
    least = FEWEST / size
    step = 1 / (4 * size)
    frequencies = np.arange(least, 1 / SMALLEST, step)
    if not len(frequencies):
        return None
    on_teeth = np.empty(len(frequencies))
    for i, frequency in enumerate(frequencies):
        on_teeth[i] = _on_teeth(at * frequency % 1, weight)
    # 0 for a profile that lies anywhere, 1 for one that lies on the teeth alone.
    by_chance = TEETH / BINS
    share = on_teeth / weight.sum()
    score = (share - by_chance) / (1 - by_chance)
    strongest = score.max()
    if strongest < REGULAR:
        return None
    low = int(np.argmax(score > 0.85 * strongest))
    # The best of its near neighbours, for the strength rises over a few steps.
    neighbours = score[low : low + 4]
    return float(frequencies[low + neighbours.argmax()])


def _on_teeth(turn: np.ndarray, weight: np.ndarray) -> float:
    """How much weight lies on the best tooth; `turn` is each one's place in its cell, 0 to 1."""
    place = (turn * BINS).astype(int)
    bins = np.bincount(place, weights=weight, minlength=BINS)
    # A tooth may reach over the end of the cell into the next.
    and_on = np.append(bins, bins[: TEETH - 1])
    teeth = np.convolve(and_on, np.ones(TEETH), "valid")
    return teeth.max()


def _sides(own: Way, other: Way) -> Mask:
    """Which sides of cells are drawn: a way's lines × the cells between the other's lines."""
    slack = max(1, round(own.comb.period / 5))  # a line is some pixels wide
    corner = other.comb.period / 10
    length = own.edges.shape[1]
    first = _pixels(other.lines[:-1] + corner, length)
    last = _pixels(other.lines[1:] - corner, length)
    enough = DRAWN * np.maximum(last - first, 1)
    drawn = []
    for line in np.round(own.lines).astype(int):
        edge = line - 1  # it lies after its pixel
        start = max(0, edge - slack)
        stop = max(0, edge + slack + 1)
        near = own.edges[start:stop].any(axis=0)
        # Counted from the line's beginning, so that each side is one subtraction.
        seen = np.append(0, np.cumsum(near))
        on_side = seen[last] - seen[first]
        drawn.append(on_side >= enough)
    return np.array(drawn)


def _pixels(places: np.ndarray, most: int) -> np.ndarray:
    """Places as whole pixels, from 0 to `most`."""
    whole = np.round(places).astype(int)
    return np.clip(whole, 0, most)


def _ruled(across: Way, down: Way, *, upright: Mask, level: Mask) -> tuple[Bounds, Bounds]:
    """The lines across and down that bound a grid, by how much is drawn on each."""
    columns = Bounds(0, len(across.lines) - 1)
    rows = Bounds(0, len(down.lines) - 1)
    # Twice: what bounds one way takes the margins out of what is seen the other way.
    for _ in range(2):
        seen = columns.cells
        columns = _bounds(across, own=upright[:, rows.cells], cross=level[rows.cells])
        rows = _bounds(down, own=level[:, seen], cross=upright[seen])
    return columns, rows


def _bounds(way: Way, *, own: Mask, cross: Mask) -> Bounds:
    """The first and the last line of which enough is drawn; one along the rim may be cut off.

    `own` are the sides drawn on the way's lines, `cross` those between them.
    """
    sides = own.mean(axis=1)
    drawn = sides >= RULED * np.quantile(sides, 0.9)
    between = cross.mean(axis=0)
    full = between >= np.quantile(between, 0.9) / 2
    # A line on the picture's rim shows by the full cells beside it.
    near = 0.3 * way.comb.period
    lines = way.start + way.lines
    if lines[0] < near:
        drawn[0] |= full[0]
    if lines[-1] > way.whole - near:
        drawn[-1] |= full[-1]
    ruled = np.flatnonzero(drawn).tolist()
    if len(ruled) == 1:
        return Bounds(0, len(drawn) - 1)
    return Bounds(ruled[0], ruled[-1])


def _extent(own: Mask, cross: Mask) -> Bounds:
    """The first and the last line that bounds a strip, or of which something is drawn.

    `own` are the sides drawn on a way's lines, `cross` those between them.
    """
    lines = np.flatnonzero(own.any(axis=1))
    strips = np.flatnonzero(cross.any(axis=0))
    bounding = np.concatenate((lines, strips, strips + 1)).tolist()
    if not bounding:
        return Bounds(0, 0)
    return Bounds(min(bounding), max(bounding))


def _change_on_lines(across: Way, down: Way) -> bool:
    """Whether nearly all that changes in the picture changes on the lines of the grid.

    Squared, so that what JPEG adds beside an edge counts for little.
    """
    on = total = 0.0
    for way in (across, down):
        period, begin = way.comb
        squares = way.edges.astype(float) ** 2
        change = squares.sum(axis=1)
        at = np.arange(len(change)) + 1
        half = period / 2
        away = (at - begin + half) % period - half
        near = np.abs(away) < min(2, period / 6)
        on += change[near].sum()
        total += change.sum()
    return on > 0.8 * total


def _closed(drawn: Mask, own: Bounds, other: Bounds) -> bool:
    """Whether the first and the last line are drawn along the whole chart."""
    first = drawn[own.first, other.cells]
    last = drawn[own.last, other.cells]
    return min(first.mean(), last.mean()) > FRAMED


def _span(way: Way, bounds: Bounds) -> Span:
    """The grid between two lines, in pixels of the picture."""
    start = way.start + way.lines[bounds.first]
    stop = way.start + way.lines[bounds.last]
    return Span(float(start), float(stop), bounds.between)


def _to_the_edges(found: Outline, across: Way, down: Way, notes: list[str]) -> Outline:
    """The grid of a chart that nothing closes.

    It goes on to the picture's edge where that is whole cells away all round.
    """
    columns = _to_the_edge(found.across, across)
    rows = _to_the_edge(found.down, down)
    if columns is None or rows is None:
        notes.append("nothing closes the chart: it is taken to end where the outermost colours do")
        return found
    return Outline(columns, rows)


def _to_the_edge(span: Span, way: Way) -> Span | None:
    """All of the picture this way; None where its edges are no whole cells away."""
    period = way.comb.period
    for beyond in (span.start, way.whole - span.stop):
        cells = beyond / period
        if abs(cells - round(cells)) >= 0.1:
            return None
    return Span(0.0, float(way.whole), round(way.whole / period))


def _looks(pixels: Rgb, outline: Outline) -> Rgb:
    """The colours seen in the middle of each cell, bottom row first: rows × stitches × places × 3.

    The places are the same in each cell, some a side.
    """
    across, down = outline
    height, width = pixels.shape[:2]
    x = _places(across, width)
    y = _places(down, height)
    seen = pixels[np.ix_(y, x)]
    by_lines = seen.reshape(down.cells, LOOKS, across.cells, LOOKS, 3)
    by_cells = by_lines.swapaxes(1, 2)
    looks = by_cells.reshape(down.cells, across.cells, LOOKS**2, 3)
    return looks[::-1]


def _places(span: Span, limit: int) -> np.ndarray:
    """Pixels at which the middle of each cell is looked at."""
    steps = (np.arange(LOOKS) + 0.5) / LOOKS
    within = (1 - MIDDLE) / 2 + MIDDLE * steps
    number = np.arange(span.cells)
    in_cells = np.add.outer(number, within).ravel()
    places = span.start + in_cells * span.length / span.cells
    return np.clip(places.astype(int), 0, limit - 1)


def _palette(shown: Rgb, yarns: Sequence[str], count: int | None) -> Rgb:
    """The yarns given, else the colours of what is shown in the cells (rows × stitches × 3)."""
    if len(yarns) > 0:
        return from_hex(yarns)
    colours = shown.reshape(-1, 3)
    if count is not None:
        return pick_colours(colours, count, flat=True)
    if has_few(shown, MOST_COLOURS_IN_A_PICTURE):
        palette = flat_colours(colours, apart=3, least=0)
    else:
        # A scanner or JPEG has added to them: alike ones are one, and one cell alone is none.
        palette = flat_colours(colours, apart=10, least=2.5 / len(colours))
    if len(palette) > MOST_COLOURS_IN_A_PICTURE:
        return pick_colours(colours, MOST_COLOURS_IN_A_PICTURE, flat=True)
    return palette


def _share_alike(looks: Rgb, shown: Rgb) -> np.ndarray:
    """How many of the places in each cell are of about the colour shown for it, from 0 to 1."""
    lab = lab_of(shown)
    difference = lab_of(looks) - lab[:, :, None]
    apart = np.linalg.norm(difference, axis=-1)
    return (apart < 10).mean(axis=2)


def _doubts(shown: Rgb, palette: Rgb, distance: np.ndarray, alike: np.ndarray) -> np.ndarray:
    """Why each cell may have been read wrongly, in words; "" where there is no doubt.

    `distance` is that of the colour shown from the cell's yarn (ΔE*ab), `alike` the share of the
    cell that has it.
    """
    why = np.full(distance.shape, "", dtype=object)
    if len(palette) > 1:
        second = _from_second(shown, palette)
        between = (distance > 3) & (distance > 0.6 * second)
        why[between] = "its colour lies between two yarns"
    why[distance > 20] = "no yarn is near its colour"
    why[alike < AGREE] = "less than half of it is of one colour"
    return why


def _from_second(shown: Rgb, palette: Rgb) -> np.ndarray:
    """How far each colour is from the second nearest of the palette (ΔE*ab)."""
    lab = lab_of(shown)
    apart = []
    for yarn in lab_of(palette):
        apart.append(np.linalg.norm(lab - yarn, axis=-1))
    return np.sort(apart, axis=0)[1]


def _said_of_all(alike: np.ndarray, why: np.ndarray) -> list[str]:
    """What is noted of all cells together."""
    notes = []
    marked = alike < 0.9
    if marked.mean() > 0.2:
        notes.append("many cells hold symbols or letters; only their colours were read")
    doubtful = int(np.count_nonzero(why))
    if doubtful:
        notes.append(f"{counted(doubtful, 'cell')} to look at again")
    return notes
