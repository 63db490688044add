"""A photograph of a printed chart, read by its four corners.

**Straight.** Four corners tell how a flat page was seen: the one projective map that takes them to
a rectangle takes every line of the page back to where it was printed (Hartley and Zisserman 2004,
section 4.1, from memory).

**Evened out.** Light falls unevenly on a page. By the logarithm, what the camera saw in a cell is
the yarn's colour and the light there, added. Light changes slowly, so it is a smooth surface; there
are as many colours as the knitter says. Both are found by turns: each cell takes the nearest
colour, then the surface is fitted to what is left over, until no cell changes any more.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from PIL import Image
from scipy.ndimage import (
    binary_fill_holes,
    binary_opening,
    gaussian_filter,
    label,
    sobel,
)
from scipy.spatial import ConvexHull

from planner.charts.counting import counted_cells
from planner.charts.grid import GridReading, looks_of
from planner.charts.palette import (
    Numbers,
    Rgb,
    delta_e,
    from_hex,
    lab_of,
    nearest_rgb,
    pick_colours,
    to_hex,
)
from planner.charts.picture import ENOUGH_PIXELS, Artwork
from planner.charts.questions import Question
from planner.charts.ruling import Outline, Span
from planner.errors import PlanError
from planner.guards import check_chart
from planner.units import counted

# The corners of a chart, from the top left one clockwise: how far they are from the left and from
# the top of the picture, as shares of its width and height.
Corners = tuple[tuple[float, float], ...]

DARK = 4.0  # added before the logarithm, for black is not nothing to a camera
ROUNDS = 30
LOOKED_AT_PX = 500  # the longer side of the picture in which corners are looked for
PLAIN = 30.0  # of the steepness of a picture (Sobel, 0 to about 1,000) that paper has at most
NUMBERS_PX, REACH_PX = 15, 7  # there: how wide numbers are, and how far off a side may be
# Shares of the picture: of plain paper around a chart, of the chart; and of all that is drawn.
LEAST_PAPER, LEAST_CHART, MOST_DRAWN = 0.01, 0.05, 0.5
# Of how far cells lie from their colour, nine in ten of them: yarns are that far apart at least.
MOST_SPREAD = 2.5
HARDLY_APART = (
    "Two of the colours are nearly alike: one yarn in uneven light, or two? Compare the chart with "
    "the photograph, and say how many yarns there are."
)
NOT_TOLD_APART = 0.7  # of the distance from the next yarn
# Yarns are counted by so many cells: one more would split one into two nearer than this (ΔE*ab).
CELLS_TO_COUNT_BY, MOST_COUNTED, APART = 800, 10, 6.0


def straightened(art: Artwork, corners: Corners) -> Artwork:
    """What lies between the corners, as if it had been seen from straight above.

    Raises a PlanError where the corners are no four corners of one area.
    """
    return _straightened(art, tuple((x, y) for x, y in corners))


# What lies between the same corners is counted, read, and looked at from near.
@lru_cache(maxsize=1)
def _straightened(art: Artwork, corners: Corners) -> Artwork:
    height, width = art.pixels.shape[:2]
    points = np.array(corners, float) * (width, height)
    _check_corners(points)
    sides = np.linalg.norm(points - np.roll(points, -1, axis=0), axis=1)
    wide, high = max(sides[0], sides[2]), max(sides[1], sides[3])
    # As fine as the picture is at its finest, and no finer than a chart can use.
    scale = min(1.0, (ENOUGH_PIXELS / (wide * high)) ** 0.5)
    size = max(2, round(wide * scale)), max(2, round(high * scale))
    flat = Image.fromarray(art.pixels).transform(
        size,
        Image.Transform.PERSPECTIVE,
        _map_from(size, points).tolist(),
        Image.Resampling.BICUBIC,
    )
    pixels = np.array(flat)
    pixels.setflags(write=False)
    return Artwork(pixels, art.name, (*art.notes, "straightened by its corners"))


def _check_corners(points: Numbers) -> None:
    """Four corners go round an area one way, and no three lie on a line."""
    along = np.roll(points, -1, axis=0) - points
    after = np.roll(along, -1, axis=0)
    turns = along[:, 0] * after[:, 1] - along[:, 1] * after[:, 0]
    if len(points) != 4 or not (turns > 1).all():
        raise PlanError(
            "The four corners must go round the chart: top left, top right, bottom right, bottom "
            "left. Drag each to a corner of the outermost cells."
        )


def _map_from(size: tuple[int, int], points: Numbers) -> Numbers:
    """The eight numbers of the projective map from a picture of this size to four points."""
    width, height = size
    rectangle = [(0, 0), (width, 0), (width, height), (0, height)]
    equations, ends = [], []
    for (x, y), (u, v) in zip(rectangle, points, strict=True):
        equations.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        equations.append([0, 0, 0, x, y, 1, -v * x, -v * y])
        ends += [u, v]
    return np.linalg.solve(np.array(equations, float), np.array(ends, float))


# ---- reading


def read_photograph(
    art: Artwork,
    corners: Corners,
    *,
    count: int | None = None,
    stitches: int | None = None,
    rows: int | None = None,
    yarns: Sequence[str] = (),
) -> GridReading:
    """The chart between four corners of a photograph, in `count` yarns.

    Stitches, rows and yarns that are not told are counted. With `yarns` (#rrggbb) each colour found
    takes the nearest of them that is free. Its `box` lies in the straightened picture.

    Raises a PlanError where the corners are none, or where nothing can be counted.
    """
    flat = straightened(art, corners)
    size = counted_cells(flat, stitches, rows)
    across, down = size.stitches, size.rows
    check_chart(across, down, f"The chart in {art.name}")
    height, width = flat.pixels.shape[:2]
    outline = Outline(Span(0, width, across), Span(0, height, down))
    seen = looks_of(flat.pixels, outline)
    shown = np.median(seen, axis=2).astype(np.uint8)
    is_told = count is not None
    if count is None:
        count = _count_colours(shown)
    cells, evened, centres = _by_light_and_colour(shown, count)
    asks = size.asks
    if is_told and _are_hardly_apart(evened, centres, cells):
        asks += (Question("grid_count", HARDLY_APART, (), f"{count} yarns"),)
    palette = _named(centres, yarns)
    why = _doubts(evened, centres, cells)
    doubtful = why != ""
    notes = [*flat.notes, f"{across} stitches × {down} rows, the light evened out"]
    if doubtful.any():
        notes.append(f"{counted(int(doubtful.sum()), 'cell')} to look at again")
    return GridReading(
        cells=cells.astype(np.int16),
        palette=to_hex(palette),
        shown=evened,
        notes=tuple(notes),
        doubtful=doubtful,
        why=why,
        box=outline.box,
        asks=asks,
    )


def count_cells(art: Artwork, corners: Corners) -> tuple[int, int]:
    """Stitches and rows between four corners. Raises a PlanError where they cannot be counted."""
    found = counted_cells(straightened(art, corners), None, None)
    return found.stitches, found.rows


def _count_colours(shown: Rgb) -> int:
    """How many yarns there seem to be: as many as stay apart when the light is evened out."""
    # Some of the cells, from everywhere, are enough to count by.
    step = max(1, round((shown.shape[0] * shown.shape[1] / CELLS_TO_COUNT_BY) ** 0.5))
    some = shown[::step, ::step]
    for count in range(2, MOST_COUNTED + 1):
        _, _, centres = _by_light_and_colour(some, count)
        lab = lab_of(centres)
        apart = delta_e(lab[:, None], lab[None])
        np.fill_diagonal(apart, np.inf)
        if apart.min() < APART:
            return max(2, count - 1)
    return MOST_COUNTED


def _by_light_and_colour(shown: Rgb, count: int) -> tuple[Numbers, Rgb, Rgb]:
    """Each cell's place among the colours, the cells in even light, and the colours.

    `shown` and the cells are rows × stitches × 3, the colours `count` × 3 of 8-bit sRGB.
    """
    bright = np.log(shown.astype(float) + DARK)
    surface = _smooth_surfaces(shown.shape[:2])
    # From no unevenness at all, from as much as there would be if all yarns were everywhere, and
    # from that of the ground, if most of the chart is ground.
    everywhere = _fitted(surface, bright)
    starts = [np.zeros_like(bright), everywhere / 2, everywhere, _of_the_ground(surface, bright)]
    found = [_settled(bright, surface, light, count) for light in starts]
    light, _ = min(found, key=lambda each: each[1])
    light = light - light.mean(axis=(0, 1))
    evened = _in_light(bright - light)
    centres = pick_colours(evened.reshape(-1, 3), count, flat=False)
    cells, _ = nearest_rgb(evened, centres)
    return cells, evened, centres


def _settled(
    bright: Numbers, surface: Numbers, light: Numbers, count: int
) -> tuple[Numbers, float]:
    """The light when no cell changes its colour any more, and what is then left over (ΔE*ab)."""
    before = None
    left_over = np.inf
    centres = None
    for _ in range(ROUNDS):
        evened = _in_light(bright - light + light.mean(axis=(0, 1)))
        # The colours are found once; then each follows its cells.
        if centres is None or before is None:
            centres = pick_colours(evened.reshape(-1, 3), count, flat=False)
        else:
            centres = _followed(evened, centres, before)
        cells, distance = nearest_rgb(evened, centres)
        left_over = float(np.minimum(distance, 30).mean())
        if before is not None and (cells == before).all():
            break
        before = cells
        means = np.zeros_like(bright)
        for each in np.unique(cells):
            of_it = cells == each
            means[of_it] = (bright - light)[of_it].mean(axis=0)
        light = _fitted(surface, bright - means)
    return light, left_over


def _followed(evened: Rgb, centres: Rgb, cells: Numbers) -> Rgb:
    """The mean colour of the cells of each of the colours; those without cells stay."""
    followed = centres.copy()
    for each in np.unique(cells):
        followed[each] = np.round(evened[cells == each].mean(axis=0))
    return followed


def _smooth_surfaces(shape: tuple[int, int]) -> Numbers:
    """Surfaces of which light is made up, rows × stitches × 6: even, tilted, and bent."""
    rows, stitches = shape
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : stitches * 1j]
    return np.stack((np.ones_like(x), x, y, x * x, x * y, y * y), axis=-1)


def _fitted(surface: Numbers, bright: Numbers) -> Numbers:
    """The smooth surface nearest to what is given, one for each of the three channels."""
    made_of = surface.reshape(-1, surface.shape[-1])
    channels = bright.reshape(-1, bright.shape[-1])
    shares, *_ = np.linalg.lstsq(made_of, channels, rcond=None)
    return (made_of @ shares).reshape(bright.shape)


def _of_the_ground(surface: Numbers, bright: Numbers) -> Numbers:
    """The smooth surface on which the commonest of the cells lie, whatever the others are.

    Least trimmed squares (Rousseeuw 1984, from memory): fitted by turns to the half that lies
    nearest.
    """
    made_of = surface.reshape(-1, surface.shape[-1])
    channels = bright.reshape(-1, bright.shape[-1])
    # From the half that is nearest to the commonest brightness.
    off = np.abs(channels - np.median(channels, axis=0)).sum(axis=1)
    shares = np.zeros((made_of.shape[1], channels.shape[1]))
    for _ in range(ROUNDS):
        near = off <= np.median(off)
        before, (shares, *_) = shares, np.linalg.lstsq(made_of[near], channels[near], rcond=None)
        off = np.abs(channels - made_of @ shares).sum(axis=1)
        if np.allclose(before, shares):
            break
    return (made_of @ shares).reshape(bright.shape)


def _are_hardly_apart(evened: Rgb, centres: Rgb, cells: Numbers) -> bool:
    """Whether two colours are so near that one yarn in uneven light may have become two."""
    lab = lab_of(centres)
    spread = np.quantile(delta_e(lab_of(evened), lab[cells]), 0.9)
    apart = delta_e(lab[:, None], lab[None])
    np.fill_diagonal(apart, np.inf)
    return bool(apart.min() < MOST_SPREAD * spread)


def _in_light(bright: Numbers) -> Rgb:
    """Colours from their logarithms, as 8-bit sRGB."""
    return np.clip(np.round(np.exp(bright) - DARK), 0, 255).astype(np.uint8)


def _named(centres: Rgb, yarns: Sequence[str]) -> Rgb:
    """The colours found, or for each the nearest of the yarns, none of them twice."""
    if len(yarns) < len(centres):
        return centres
    given = from_hex(yarns)
    apart = delta_e(lab_of(centres)[:, None], lab_of(given)[None])
    named = centres.copy()
    for _ in centres:
        colour, yarn = np.unravel_index(apart.argmin(), apart.shape)
        named[colour] = given[yarn]
        apart[colour], apart[:, yarn] = np.inf, np.inf
    return named


def _doubts(evened: Rgb, centres: Rgb, cells: Numbers) -> np.ndarray:
    """Why each cell may have been read wrongly, "" where there is no doubt."""
    lab = lab_of(evened)
    apart = np.stack([delta_e(lab, centre) for centre in lab_of(centres)], axis=-1)
    in_order = np.sort(apart, axis=-1)
    why = np.full(cells.shape, "", dtype=object)
    if len(centres) > 1:
        between = in_order[..., 0] > NOT_TOLD_APART * in_order[..., 1]
        why[between] = "its colour lies between two yarns"
    return why


# ---- finding the corners


def find_corners(art: Artwork) -> Corners | None:
    """The corners of the chart in a photograph as far as they can be found; None if they cannot.

    Around a chart the paper is plain: of the plain areas that close something in, the one is taken
    that closes in least and yet most of what is drawn. Each side of that is then laid where the
    colour changes.
    """
    height, width = art.pixels.shape[:2]
    coarse = max(1, max(height, width) // LOOKED_AT_PX)
    small = np.asarray(Image.fromarray(art.pixels).reduce(coarse), np.float32)
    small = gaussian_filter(small, (0.7, 0.7, 0))
    steep = np.hypot(sobel(small, 0), sobel(small, 1)).max(axis=2)
    inside = _closed_in(steep)
    if inside is None:
        return None
    y, x = np.nonzero(inside)
    outline = np.column_stack((x, y)).astype(float)
    around = outline[ConvexHull(outline).vertices]
    four = _four_sided(around)
    if four is None:
        return None
    corners = _from_the_top_left((four + 0.5) * coarse)
    for reach in (REACH_PX * coarse, 2 * coarse):
        corners = _on_the_edges(art.pixels, corners, reach)
    share = np.clip(corners / (width, height), 0, 1)
    return tuple((float(x), float(y)) for x, y in share)


def _closed_in(steep: Numbers) -> np.ndarray | None:
    """The area that plain paper closes in, as booleans; None where there is none."""
    best, least = None, np.inf
    drawn = np.minimum(steep, 4 * PLAIN)
    numbered, _ = label(steep < PLAIN)
    sizes = np.bincount(numbered.ravel())
    for number in np.flatnonzero(sizes > LEAST_PAPER * steep.size):
        if not number:
            continue
        paper = numbered == number
        holes, _ = label(binary_fill_holes(paper) & ~paper)
        areas = np.bincount(holes.ravel())
        areas[0] = 0
        if not areas.any():
            continue
        hole = holes == areas.argmax()
        share = drawn[hole].sum() / drawn.sum()
        if share > MOST_DRAWN and LEAST_CHART * steep.size < hole.sum() < least:
            best, least = hole, hole.sum()
    if best is None:
        return None
    # Numbers that touch the chart are narrow.
    return binary_opening(best, np.ones((NUMBERS_PX, NUMBERS_PX), bool))


def _on_the_edges(pixels: Rgb, corners: Numbers, reach: int) -> Numbers:
    """The corners with each side laid where the colour changes most, at most so many pixels off."""
    lines = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = np.linspace(0.04, 0.96, 60)[:, None, None]
        across = np.array([b[1] - a[1], a[0] - b[0]]) / np.linalg.norm(b - a)
        steps = np.arange(-reach - 1, reach + 2)[None, :, None]
        places = a + along * (b - a) + steps * across
        x = np.clip(np.round(places[..., 0]).astype(int), 0, pixels.shape[1] - 1)
        y = np.clip(np.round(places[..., 1]).astype(int), 0, pixels.shape[0] - 1)
        seen = gaussian_filter(pixels[y, x].astype(np.float32), (1, 1, 0))
        change = np.abs(np.diff(seen, axis=1)).max(axis=2)
        # From outside to inside the first change that is nearly the largest.
        strong = change[:, ::-1] >= 0.6 * change.max(axis=1, keepdims=True)
        off = reach - strong.argmax(axis=1).astype(float) + 0.5
        tilt, start = _line_of_most(along[:, 0, 0], off)
        lines.append((a + start * across, b + (start + tilt) * across))
    moved = []
    for (a, b), (c, d) in zip(lines[-1:] + lines[:-1], lines, strict=True):
        meeting = np.linalg.solve(np.column_stack((b - a, c - d)), c - a)
        moved.append(a + meeting[0] * (b - a))
    return np.array(moved)


def _line_of_most(place: Numbers, off: Numbers) -> tuple[float, float]:
    """Tilt and start of the line on which most places lie, whatever the others are.

    The median of the tilts from place to place (Theil 1950, Sen 1968, from memory).
    """
    apart = np.subtract.outer(place, place)
    pairs = apart > 0.2
    tilt = float(np.median(np.subtract.outer(off, off)[pairs] / apart[pairs]))
    return tilt, float(np.median(off - tilt * place))


def _four_sided(around: Numbers) -> Numbers | None:
    """The four-sided area around a convex one that is little larger than that.

    Sides are left out by and by, each time the one whose neighbours meet nearest to it.
    """
    points = list(around)
    while len(points) > 4:
        offers = []
        for i in range(len(points)):
            a, b, c, d = (points[(i + step) % len(points)] for step in range(4))
            meeting = _meeting(a, b, d, c)
            if meeting is not None:
                offers.append((_area(b, c, meeting), i, meeting))
        if not offers:
            return None
        _, i, meeting = min(offers, key=lambda offer: offer[0])
        points[(i + 1) % len(points)] = meeting
        del points[(i + 2) % len(points)]
    return np.array(points) if len(points) == 4 else None


def _area(a: Numbers, b: Numbers, c: Numbers) -> float:
    """The area of a triangle."""
    across, down = b - a, c - a
    return abs(across[0] * down[1] - across[1] * down[0]) / 2


def _meeting(a: Numbers, b: Numbers, d: Numbers, c: Numbers) -> Numbers | None:
    """Where the line from a over b and the line from d over c meet, beyond b and c."""
    one, two = b - a, c - d
    across = one[0] * two[1] - one[1] * two[0]
    if abs(across) < 1e-9:
        return None
    along = ((d - a)[0] * two[1] - (d - a)[1] * two[0]) / across
    back = ((d - a)[0] * one[1] - (d - a)[1] * one[0]) / across
    if along < 1 or back < 1:
        return None
    return a + along * one


def _from_the_top_left(points: Numbers) -> Numbers:
    """Four corners clockwise as they are seen, from the top left one."""
    middle = points.mean(axis=0)
    turn = np.arctan2(points[:, 1] - middle[1], points[:, 0] - middle[0])
    clockwise = points[np.argsort(turn)]
    first = clockwise.sum(axis=1).argmin()
    return np.roll(clockwise, -first, axis=0)
