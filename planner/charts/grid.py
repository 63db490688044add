"""A picture of a chart on squared paper, square to the page, read back into cells.

Grid lines and the borders of flat cells are edges that run straight for long and come back at one
distance. How long they run, by column and by row of the picture, gives two profiles. The distance
at which each repeats, that of the comb whose teeth take up most of it, is the size of a cell to a
fraction of a pixel (`combs`). The first and the last line that is drawn along the cells bound the
chart; margins with numbers and words have none (`ruling`). The middle of each cell gives its
colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.charts.combs import FEWEST, SMALLEST
from planner.charts.palette import (
    MOST_COLOURS_IN_A_PICTURE,
    Mask,
    Numbers,
    Rgb,
    delta_e,
    flat_colours,
    from_hex,
    has_few,
    lab_of,
    nearest_rgb,
    pick_colours,
    to_hex,
)
from planner.charts.picture import Artwork, Box, ChartedPicture, check_size
from planner.charts.ruling import Outline, Span, find_grid
from planner.errors import PlanError
from planner.guards import check_chart
from planner.units import counted

MIDDLE = 0.7  # of a cell's width and height, whose colour counts
LOOKS = 7  # places a side there
AGREE = 0.5  # of those, of the colour that most have
# ΔE*ab, by eye on scans: what is nearer is one colour with what the scanner or JPEG added to it.
SAME_COLOUR = 10

Words = np.ndarray


@dataclass(frozen=True, eq=False)
class GridReading(ChartedPicture):
    """A chart read from a picture of one.

    `doubtful` marks cells (rows × columns, row 0 the bottom row) to look at again and `why` says
    it, "" where there is no doubt. `box` is the grid's outline in the picture, in pixels: left,
    top, right, bottom.
    """

    doubtful: Mask
    why: Words
    box: Box


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
    looks = looks_of(art.pixels, outline)
    # The median leaves out a letter or a symbol that takes up less than half of the cell.
    middling = np.median(looks, axis=2)
    shown = middling.astype(np.uint8)
    palette = _palette(shown, yarns, count)
    cells, distance = nearest_rgb(shown, palette)
    alike = _share_alike(looks, shown)
    why = _doubts(shown, palette, distance=distance, alike=alike)
    notes += _said_of_all(why, alike)
    return GridReading(
        cells=cells.astype(np.int16),
        palette=to_hex(palette),
        shown=shown,
        notes=tuple(notes),
        doubtful=why != "",
        why=why,
        box=outline.box,
    )


def _outline(
    art: Artwork,
    stitches: int | None,
    rows: int | None,
    notes: list[str],
) -> Outline:
    """The grid in a picture, in as many stitches and rows as are asked for."""
    found = find_grid(art.pixels)
    if found is None:
        if stitches is None or rows is None:
            raise PlanError(
                f"No regular grid was found in {art.name}. Is it square to the page, with cells "
                f"of at least {SMALLEST} pixels and {FEWEST} or more of them each way? "
                "Else crop it to the grid, and say how many stitches and rows it has."
            )
        # Whoever says how many there are may have cropped the picture to the grid.
        height, width = art.pixels.shape[:2]
        found = Outline(
            across=Span(0, width, stitches),
            down=Span(0, height, rows),
        )
    if found.open:
        notes.append("nothing closes the chart: it is taken to end where the outermost colours do")
    across = found.across
    if stitches is not None:
        across = across._replace(cells=check_size(stitches, "stitches"))
    down = found.down
    if rows is not None:
        down = down._replace(cells=check_size(rows, "rows"))
    check_chart(across.cells, down.cells, f"The grid in {art.name}")
    wide = across.length / across.cells
    high = down.length / down.cells
    count = f"{across.cells} stitches × {down.cells} rows"
    size = f"{wide:.1f} × {high:.1f} pixels"
    notes.append(f"{count}, in cells of {size}")
    return Outline(across, down)


def looks_of(pixels: Rgb, outline: Outline) -> Rgb:
    """The colours seen in the middle of each cell, bottom row first: rows × stitches × places × 3.

    The places are the same in each cell, some a side.
    """
    height, width = pixels.shape[:2]
    x = _places(outline.across, width)
    y = _places(outline.down, height)
    seen = pixels[np.ix_(y, x)]
    # From the lines of the picture to the cells of the chart.
    rows = outline.down.cells
    stitches = outline.across.cells
    by_lines = seen.reshape(rows, LOOKS, stitches, LOOKS, 3)
    by_cells = by_lines.swapaxes(1, 2)
    looks = by_cells.reshape(rows, stitches, LOOKS**2, 3)
    return looks[::-1]


def _places(span: Span, limit: int) -> Numbers:
    """Pixels at which the middle of each cell is looked at."""
    # Lines at the rim of a cell, and what they blend with, are left out.
    steps = (np.arange(LOOKS) + 0.5) / LOOKS
    margin = (1 - MIDDLE) / 2
    within = margin + MIDDLE * steps
    number = np.arange(span.cells)
    in_cells = np.add.outer(number, within)
    places = span.start + in_cells.ravel() * span.length / span.cells
    return np.clip(places.astype(int), 0, limit - 1)


def _palette(shown: Rgb, yarns: Sequence[str], count: int | None) -> Rgb:
    """The yarns given, else the colours of what is shown in the cells (rows × stitches × 3)."""
    if len(yarns) > 0:
        return from_hex(yarns)
    colours = shown.reshape(-1, 3)
    if count is not None:
        return pick_colours(colours, count, flat=True)
    if has_few(shown, MOST_COLOURS_IN_A_PICTURE):
        # Drawn by a program: what differs is meant, in one cell as well.
        palette = flat_colours(colours, apart=3, least=0)
    else:
        # Scanned or packed: alike ones are one, and those of one or two cells are none.
        fewest = 2.5 / len(colours)
        palette = flat_colours(colours, apart=SAME_COLOUR, least=fewest)
    if len(palette) > MOST_COLOURS_IN_A_PICTURE:
        return pick_colours(colours, MOST_COLOURS_IN_A_PICTURE, flat=True)
    return palette


def _share_alike(looks: Rgb, shown: Rgb) -> Numbers:
    """How many of the places in each cell are of about the colour shown for it, from 0 to 1."""
    middle = lab_of(shown)[:, :, None]
    alike = delta_e(lab_of(looks), middle) < SAME_COLOUR
    return alike.mean(axis=2)


def _doubts(
    shown: Rgb,
    palette: Rgb,
    *,
    distance: Numbers,
    alike: Numbers,
) -> Words:
    """Why each cell may have been read wrongly, in words; "" where there is no doubt.

    `distance` is that of the colour shown from the cell's yarn (ΔE*ab), `alike` the share of the
    cell that has it.
    """
    why = np.full(distance.shape, "", dtype=object)
    # What is said later stands, so the gravest comes last.
    if len(palette) > 1:
        second = _from_second(shown, palette)
        off = distance > 3
        between = distance > 0.6 * second
        why[off & between] = "its colour lies between two yarns"
    why[distance > 20] = "no yarn is near its colour"
    why[alike < AGREE] = "less than half of it is of one colour"
    return why


def _from_second(shown: Rgb, palette: Rgb) -> Numbers:
    """How far each colour is from the second nearest of the palette (ΔE*ab)."""
    lab = lab_of(shown)
    apart = []
    for yarn in lab_of(palette):
        apart.append(delta_e(lab, yarn))
    return np.sort(apart, axis=0)[1]


def _said_of_all(why: Words, alike: Numbers) -> list[str]:
    """What is noted of all cells together."""
    notes = []
    marked = alike < 0.9
    if marked.mean() > 0.2:
        notes.append("many cells hold symbols or letters; only their colours were read")
    doubtful = int(np.count_nonzero(why))
    if doubtful:
        notes.append(f"{counted(doubtful, 'cell')} to look at again")
    return notes
