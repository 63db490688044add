"""Where the grid of a chart on squared paper lies in a picture.

Grid lines and the borders of flat cells repeat at one distance across and at one down. The first
and the last line that is drawn along the cells bound the chart; margins with numbers and words
have none.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.ndimage import binary_fill_holes, find_objects, label

from planner.charts.blocks import LONGEST, cells_without_lines, fitted
from planner.charts.combs import FEWEST, SMALLEST, Comb, comb_of, edges_of, profile_of
from planner.charts.palette import Mask, Numbers, Rgb
from planner.charts.picture import Box

INK = 12  # of 255; what differs more from the page is drawn on it
RULED = 0.7  # of what most lines have drawn, for a line to bound the grid
LONGEST_CELL = 2.5  # a cell's long side over its short one
LINED = 0.4  # of the sides of all cells are drawn in a chart with grid lines
SURELY_LINED = 0.85  # of the sides: what is woven of colours has fewer
FRAMED = 0.8  # of the sides along a line that closes the chart
ON_LINES = 0.8  # of all change in a chart without lines
AROUND = 12  # pixels
FINER = 0.8  # of a cell's length
DRAWN = 0.7  # of a cell's side, its corners left out, must be an edge


class Span(NamedTuple):
    """Where a grid begins and ends, across or down, in pixels, and how many cells it has."""

    start: float
    stop: float
    cells: int

    @property
    def length(self) -> float:
        return self.stop - self.start

    @property
    def cell(self) -> float:
        """How long a cell is."""
        return self.length / self.cells


class Outline(NamedTuple):
    """Where a grid lies in a picture.

    It is `open` where nothing closes the chart, so that it is taken to end where its outermost
    colours do. `bare` cells have no lines around them, as beside a shaped piece.
    """

    across: Span
    down: Span
    open: bool = False
    # Rows (top first) × stitches: cells around which no lines are drawn; None where none are.
    bare: Mask | None = None

    @property
    def box(self) -> Box:
        return (
            self.across.start,
            self.down.start,
            self.across.stop,
            self.down.stop,
        )

    def moved(self, right: float, down: float) -> Outline:
        """The same, so many pixels farther to the right and down."""
        across, along = self.across, self.down
        return self._replace(
            across=across._replace(start=across.start + right, stop=across.stop + right),
            down=along._replace(start=along.start + down, stop=along.stop + down),
        )

    def is_finer(self, other: Outline) -> bool:
        """Whether its cells are clearly smaller one way, and no larger the other way."""
        shares = self.across.cell / other.across.cell, self.down.cell / other.down.cell
        return min(shares) < FINER and max(shares) < 1 / FINER


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
        """Their places among a way's cells; the first lies after the first line."""
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
    edges: Numbers
    comb: Comb
    lines: Numbers

    @property
    def period(self) -> float:
        """How wide a cell is this way."""
        return self.comb.period

    @property
    def places(self) -> Numbers:
        """The lines in pixels of the whole picture."""
        return self.start + self.lines

    def coarser(self, times: int) -> Way:
        """The way with cells so many times as wide, on the lines of which most is drawn."""
        drawn = (self.edges > 0).sum(axis=1)
        near = np.convolve(drawn, np.ones(3), "same")
        at = np.clip(np.round(self.lines).astype(int) - 1, 0, len(near) - 1)
        first = max(range(times), key=lambda line: near[at[line::times]].sum())
        lines = self.lines[first::times]
        return replace(self, comb=Comb(self.period * times, float(lines[0])), lines=lines)

    @property
    def all_lines(self) -> Bounds:
        return Bounds(0, len(self.lines) - 1)


Ways = tuple[Way, Way]  # across and down


@dataclass(frozen=True, eq=False)
class Sides:
    """Which sides of all cells are drawn.

    `upright` are the lines across × the cells between the lines down, `level` the lines down ×
    the cells between the lines across.
    """

    upright: Mask
    level: Mask

    def share_within(self, columns: Bounds, rows: Bounds) -> float:
        """How many of the sides within the bounds are drawn, from 0 to 1."""
        upright = self.upright[columns.cells, rows.cells].mean()
        level = self.level[rows.cells, columns.cells].mean()
        return (upright + level) / 2

    def close(self, columns: Bounds, rows: Bounds) -> bool:
        """Whether the lines that bound a chart are drawn along all of it."""
        shares = []
        for line in columns:
            side = self.upright[line, rows.cells]
            shares.append(side.mean())
        for line in rows:
            end = self.level[line, columns.cells]
            shares.append(end.mean())
        return min(shares) > FRAMED


def find_grid(pixels: Rgb) -> Outline | None:
    """Where the grid lies across and down; None where there is none."""
    found = _found_in(pixels)
    # Among many words a small chart is still the largest thing that hangs together.
    part = None if found else _largest_thing(pixels)
    if part is None:
        return found
    rows, columns = part
    within = _found_in(pixels[rows, columns])
    return within.moved(columns.start, rows.start) if within else None


def _largest_thing(pixels: Rgb) -> tuple[slice, slice] | None:
    """The rows and columns of the largest thing on a page, and a little paper around it."""
    things = _things(pixels)
    if not things:
        return None
    height, width = pixels.shape[:2]
    rows, columns = max(things, key=_area)
    return _grown(rows, height, by=AROUND), _grown(columns, width, by=AROUND)


def _found_in(pixels: Rgb) -> Outline | None:
    ways = _ways_over(pixels)
    lined, share = _by_lines(ways) if ways else (None, 0.0)
    if lined and share > SURELY_LINED:
        return lined
    # Borders that all lie on one lattice say more than how often a distance comes back.
    blocks = _by_borders(pixels)
    if lined is None:
        return blocks or (_by_colours(ways, pixels) if ways else None)
    # What is woven of dots and stripes looks like lines of larger cells.
    return blocks if blocks and blocks.is_finer(lined) else lined


def _by_lines(ways: Ways) -> tuple[Outline | None, float]:
    """A chart with lines around its cells, and the share of all their sides that is drawn."""
    across, down = ways
    drawn = _drawn_sides(ways)
    columns, rows = _ruled(ways, drawn)
    share = drawn.share_within(columns, rows)
    if share <= LINED:
        return None, share
    columns, rows, bare = _with_shaped_edges(drawn, columns, rows)
    if min(columns.between, rows.between) < FEWEST:
        return None, share
    return Outline(across=_span(across, columns), down=_span(down, rows), bare=bare), share


def _by_colours(ways: Ways, pixels: Rgb) -> Outline | None:
    """A chart without lines, by the distance at which its colours change."""
    across, down = ways
    if not 1 / LONGEST < across.period / down.period < LONGEST:
        return None
    drawn = _drawn_sides(ways)
    # The chart goes as far as colours change on the grid.
    columns = _extent(drawn.upright, drawn.level)
    rows = _extent(drawn.level, drawn.upright)
    fewest = min(columns.between, rows.between)
    # Flat areas of any picture have edges; those of a chart have none but on its lines.
    if fewest < FEWEST or not _change_on_lines(ways):
        return None
    found = Outline(across=_span(across, columns), down=_span(down, rows))
    if drawn.close(columns, rows):
        return found
    return _to_the_edges(found, pixels)


def _drawn_sides(ways: Ways) -> Sides:
    across, down = ways
    return Sides(upright=_sides(across, down), level=_sides(down, across))


def _by_borders(pixels: Rgb) -> Outline | None:
    """A chart without lines, by the lattice on which all its borders lie."""
    columns, rows = _on_page(pixels)
    part = pixels[rows, columns]
    if min(part.shape[:2]) < SMALLEST * FEWEST:
        return None
    across = _Borders.along(part.swapaxes(0, 1), columns.start, whole=pixels.shape[1])
    down = _Borders.along(part, rows.start, whole=pixels.shape[0])
    if min(len(across.at), len(down.at)) < 3:
        return None
    size = cells_without_lines(across.at, down.at)
    if size is None:
        return None
    found = Outline(
        Span(float(across.at[0]), float(across.at[-1]), size[0]),
        Span(float(down.at[0]), float(down.at[-1]), size[1]),
    )
    is_closed = across.close(down.length) and down.close(across.length)
    return found if is_closed else _to_the_edges(found, pixels)


class _Borders(NamedTuple):
    """Where the borders between colours lie one way, in pixels, and how far they run."""

    at: Numbers
    far: Numbers

    @classmethod
    def along(cls, part: Rgb, start: int, *, whole: int) -> _Borders:
        """Those of a part of the picture; one that fills it ends where the picture does."""
        far = (edges_of(part) > 0).sum(axis=1)
        places = np.flatnonzero(far >= SMALLEST)
        at, far = start + places + 1, far[places]
        if len(part) == whole:
            side = part.shape[1]
            # Beside a chart that goes on to the edge there is no paper.
            if _has_several(part[0]):
                at, far = np.append(0, at), np.append(side, far)
            if _has_several(part[-1]):
                at, far = np.append(at, whole), np.append(far, side)
        return cls(at, far)

    @property
    def length(self) -> int:
        return int(self.at[-1] - self.at[0])

    def close(self, side: int) -> bool:
        """Whether the first and the last border run along all of a chart with such a side."""
        return min(self.far[0], self.far[-1]) > FRAMED * side


class Fit(NamedTuple):
    """A grid of a size that was told; `is_sure` where nearly all of its lines are drawn."""

    outline: Outline
    is_sure: bool


def fit_grid(pixels: Rgb, stitches: int, rows: int) -> Fit | None:
    """Where a whole grid of so many stitches and rows lies in a picture; None where none fits."""
    part = _largest_thing(pixels)
    if part is not None:
        lines, columns = part
        within = _fitted_in(pixels[lines, columns], stitches, rows)
        if within:
            moved = within.outline.moved(columns.start, lines.start)
            return within._replace(outline=moved)
    return _fitted_in(pixels, stitches, rows)


def _fitted_in(pixels: Rgb, stitches: int, rows: int) -> Fit | None:
    across = fitted((edges_of(pixels.swapaxes(0, 1)) > 0).mean(axis=1), stitches)
    down = fitted((edges_of(pixels) > 0).mean(axis=1), rows)
    if across is None or down is None:
        return None
    found = Outline(
        Span(across.start, across.stop, stitches),
        Span(down.start, down.stop, rows),
    )
    if not 1 / LONGEST_CELL < found.across.cell / found.down.cell < LONGEST_CELL:
        return None
    return Fit(found, is_sure=across.is_sure and down.is_sure)


def _with_shaped_edges(
    drawn: Sides, columns: Bounds, rows: Bounds
) -> tuple[Bounds, Bounds, Mask | None]:
    """The bounds with the rows and columns of a shaped piece that are not full; its bare cells."""
    sides = drawn.upright[:-1].astype(int) + drawn.upright[1:]
    sides = sides.T + drawn.level[:-1] + drawn.level[1:]
    # Of a cell at the rim one side may be faint.
    numbered, _ = label(sides >= 3)
    within = numbered[rows.cells, columns.cells]
    if not within.any():
        return columns, rows, None
    part = numbered == np.bincount(within[within > 0]).argmax()
    # A number beside the chart may look like three sides of a cell.
    whole = part & (sides == 4)
    rows = _widened(rows, whole.any(axis=1))
    columns = _widened(columns, whole.any(axis=0))
    inside = part[rows.cells, columns.cells]
    # What lines enclose belongs to the piece, however faint its own are.
    bare = ~binary_fill_holes(inside) & (sides[rows.cells, columns.cells] <= 2)
    return columns, rows, bare if bare.any() else None


def _widened(bounds: Bounds, has_cells: Mask) -> Bounds:
    """The bounds, and the lines next to them that have cells."""
    first, last = bounds
    while first > 0 and has_cells[first - 1]:
        first -= 1
    while last < len(has_cells) and has_cells[last]:
        last += 1
    return Bounds(first, last)


def _ways_over(pixels: Rgb) -> Ways | None:
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
    # Hatching, or letters, may come back several times in each cell.
    shape = across.period / down.period
    if shape > LONGEST_CELL:
        down = down.coarser(round(shape))
    elif shape < 1 / LONGEST_CELL:
        across = across.coarser(round(1 / shape))
    return across, down


def _way(part: Rgb, start: int, *, whole: int) -> Way | None:
    """One way over a part of the picture, whose first axis goes this way."""
    edges = edges_of(part)
    if not edges.any():
        return None
    comb = comb_of(profile_of(edges))
    if comb is None:
        return None
    # All lines that the part has room for, to half a cell beyond its ends.
    period, begin = comb
    first = round(-begin / period)
    room = len(part) - begin
    last = round(room / period)
    number = np.arange(first, last + 1)
    lines = begin + period * number
    return Way(whole, start, edges, comb, lines)


def _on_page(pixels: Rgb) -> tuple[slice, slice]:
    """The columns and rows of the largest thing on a page of one colour, and a little around it.

    The whole picture where its rim has several colours.
    """
    height, width = pixels.shape[:2]
    everything = slice(0, width), slice(0, height)
    things = _things(pixels)
    if not things:
        return everything
    rows, columns = max(things, key=_area)
    # Where the rim is a grid line, the largest thing is a cell.
    share_across = _length(columns) / width
    share_down = _length(rows) / height
    if min(share_across, share_down) < 1 / 3:
        return everything
    return (
        _grown(columns, width),
        _grown(rows, height),
    )


def _things(pixels: Rgb) -> list[tuple[slice, slice]]:
    """Rows and columns of each thing on a page of one colour; none where its rim has several."""
    upright = pixels.swapaxes(0, 1)
    rim = np.concatenate([pixels[0], pixels[-1], upright[0], upright[-1]])
    # With a sign, for what is drawn may be lighter or darker.
    paper = np.median(rim, axis=0).astype(np.int16)
    if _differs(rim, paper).mean() > 0.1:
        return []
    numbered, _ = label(_differs(pixels, paper))
    return find_objects(numbered)


def _differs(pixels: Rgb, paper: Numbers) -> Mask:
    """Which pixels are drawn on the paper."""
    apart = np.abs(pixels - paper)
    return (apart > INK).any(axis=-1)


def _has_several(line: Rgb) -> bool:
    """Whether a line of the picture is of more than one colour."""
    return bool(np.ptp(line.reshape(-1, 3), axis=0).max() > INK)


def _length(part: slice) -> int:
    return part.stop - part.start


def _area(thing: tuple[slice, slice]) -> int:
    rows, columns = thing
    return _length(rows) * _length(columns)


def _grown(part: slice, limit: int, *, by: int = 3) -> slice:
    """Some pixels more at both ends, so that a line on the rim has its edges."""
    start = max(0, part.start - by)
    stop = min(limit, part.stop + by)
    return slice(start, stop)


def _sides(own: Way, other: Way) -> Mask:
    """Which sides of cells are drawn: a way's lines × the cells between the other's lines."""
    # A line is some pixels wide.
    slack = round(own.period / 5)
    slack = max(1, slack)
    corner = other.period / 10
    length = own.edges.shape[1]
    # The corners are left out: the lines that cross are drawn there.
    starts = other.lines[:-1] + corner
    stops = other.lines[1:] - corner
    first = _pixels(starts, length)
    last = _pixels(stops, length)
    sides = np.maximum(last - first, 1)
    enough = DRAWN * sides
    drawn = []
    lines = np.round(own.lines)
    for line in lines.astype(int):
        edge = line - 1  # it lies after its pixel
        start = max(0, edge - slack)
        stop = max(0, edge + slack + 1)
        near = own.edges[start:stop].any(axis=0)
        # Counted from the line's beginning, so that each side is one subtraction.
        seen = np.append(0, np.cumsum(near))
        on_side = seen[last] - seen[first]
        drawn.append(on_side >= enough)
    return np.array(drawn)


def _pixels(places: Numbers, most: int) -> Numbers:
    """Places as whole pixels, from 0 to `most`."""
    whole = np.round(places).astype(int)
    return np.clip(whole, 0, most)


def _ruled(ways: Ways, drawn: Sides) -> tuple[Bounds, Bounds]:
    """The lines across and down that bound a grid, by how much is drawn on each."""
    across, down = ways
    columns = across.all_lines
    rows = down.all_lines
    # Twice: what bounds one way takes the margins out of what is seen the other way.
    for _ in range(2):
        seen_columns = columns.cells
        seen_rows = rows.cells
        columns = _bounds(
            across,
            own=drawn.upright[:, seen_rows],
            cross=drawn.level[seen_rows],
        )
        rows = _bounds(
            down,
            own=drawn.level[:, seen_columns],
            cross=drawn.upright[seen_columns],
        )
    return columns, rows


def _bounds(
    way: Way,
    *,
    own: Mask,
    cross: Mask,
) -> Bounds:
    """The first and the last line of which enough is drawn; one along the rim may be cut off.

    `own` are the sides drawn on the way's lines, `cross` those between them.
    """
    sides = own.mean(axis=1)
    most_have = np.quantile(sides, 0.9)
    drawn = sides >= RULED * most_have
    between = cross.mean(axis=0)
    most_have = np.quantile(between, 0.9)
    full = between >= most_have / 2
    # A line on the picture's rim shows by the full cells beside it.
    near = 0.3 * way.period
    before = way.places[0]
    after = way.whole - way.places[-1]
    if before < near:
        drawn[0] |= full[0]
    if after < near:
        drawn[-1] |= full[-1]
    ruled = np.flatnonzero(drawn).tolist()
    # A single line bounds nothing.
    if len(ruled) == 1:
        return way.all_lines
    return Bounds(ruled[0], ruled[-1])


def _extent(own: Mask, cross: Mask) -> Bounds:
    """The first and the last line that bounds a strip, or of which something is drawn.

    `own` are the sides drawn on a way's lines, `cross` those between them.
    """
    bounding = np.array(own.any(axis=1))
    # A strip with anything in it has a line on both sides.
    strips = cross.any(axis=0)
    bounding[:-1] |= strips
    bounding[1:] |= strips
    lines = np.flatnonzero(bounding).tolist()
    if not lines:
        return Bounds(0, 0)
    return Bounds(lines[0], lines[-1])


def _change_on_lines(ways: Ways) -> bool:
    """Whether nearly all that changes each way changes on the lines of the grid.

    Squared, so that what JPEG adds beside an edge counts for little.
    """
    for way in ways:
        period, begin = way.comb
        squares = way.edges.astype(float) ** 2
        change = squares.sum(axis=1)
        at = np.arange(len(change)) + 1
        # How far each is from the nearest line, before it or after it.
        half = period / 2
        away = (at - begin + half) % period - half
        slack = min(2, period / 6)
        near = np.abs(away) < slack
        if change[near].sum() <= ON_LINES * change.sum():
            return False
    return True


def _span(way: Way, bounds: Bounds) -> Span:
    """The grid between two lines, in pixels of the picture."""
    start = way.places[bounds.first]
    stop = way.places[bounds.last]
    return Span(float(start), float(stop), bounds.between)


def _to_the_edges(found: Outline, pixels: Rgb) -> Outline:
    """The grid of a chart that nothing closes.

    It goes on to the picture's edge where that is whole cells away all round.
    """
    height, width = pixels.shape[:2]
    columns = _to_the_edge(found.across, width)
    rows = _to_the_edge(found.down, height)
    if columns is None or rows is None:
        return found._replace(open=True)
    return Outline(columns, rows)


def _to_the_edge(span: Span, whole: int) -> Span | None:
    """All of the picture this way; None where its edges are no whole cells away."""
    period = span.length / span.cells
    after = whole - span.stop
    for beyond in (span.start, after):
        cells = beyond / period
        if abs(cells - round(cells)) >= 0.1:
            return None
    return Span(
        start=0.0,
        stop=float(whole),
        cells=round(whole / period),
    )
