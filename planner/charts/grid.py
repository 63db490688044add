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

from planner.charts import signs as signs_of_cells
from planner.charts.blanks import are_no_stitches, find_blanks, find_headings, paper_around
from planner.charts.combs import FEWEST, SMALLEST
from planner.charts.palette import (
    Mask,
    Numbers,
    Rgb,
    delta_e,
    lab_of,
    nearest_rgb,
    to_hex,
)
from planner.charts.picture import Artwork, Box, ChartedPicture, check_size
from planner.charts.questions import Question
from planner.charts.ruling import Outline, Span, find_grid, fit_grid
from planner.charts.signs import Signs
from planner.charts.telling_apart import (
    SAME_COLOUR,
    are_ink,
    black_on_white,
    by_signs,
    goes_by_signs,
    only_used,
    palette_of,
    rare_cells,
    under_a_watermark,
)
from planner.errors import PlanError
from planner.guards import check_chart
from planner.units import counted

MIDDLE = 0.7  # of a cell's width and height, whose colour counts
LOOKS = 7  # places a side there
AGREE = 0.5  # of those, of the colour that most have

FEWEST_OF_ANOTHER = 6  # stitches and rows of another chart in the picture
NO_STITCH_CELL = -1
WHICH_CHART = "There is more than one chart in the picture. Which one?"

Words = np.ndarray


@dataclass(frozen=True, eq=False)
class GridReading(ChartedPicture):
    """A chart read from a picture of one.

    `doubtful` marks cells (rows × columns, row 0 the bottom row) to look at again and `why` says
    it, "" where there is no doubt. `box` is the grid's outline in the picture, in pixels: left,
    top, right, bottom. `asks` is what the picture leaves open; `others` are the outlines of further
    charts in it.
    """

    doubtful: Mask
    why: Words
    box: Box
    asks: tuple[Question, ...] = ()
    others: tuple[Box, ...] = ()


def read_grid_picture(
    art: Artwork,
    *,
    stitches: int | None = None,
    rows: int | None = None,
    yarns: Sequence[str] = (),
    count: int | None = None,
    by: str | None = None,
    blanks: str | None = None,
) -> GridReading:
    """The chart in a picture of a chart.

    With `stitches` and `rows` the grid's outline is divided evenly. With `yarns` (#rrggbb) each
    cell gets the nearest of them, else one of at most `count` colours found. What is None is found
    out, and asked: whether yarns go `by` "colours" or "signs", whether `blanks` are "ground" or "no
    stitch".

    Raises a PlanError where no regular grid is found.
    """
    notes = list(art.notes)
    asks: list[Question] = []
    told = Size(stitches, rows)
    outline = _outline(art, told, notes, asks)
    shown, alike = _seen(art.pixels, outline)
    paper = paper_around(art.pixels, outline.box)
    signs = _signs(art.pixels, outline, shown)
    bare = None if outline.bare is None else outline.bare[::-1]
    is_blank = np.zeros(shown.shape[:2], bool)
    left_out = find_blanks(shown, signs, bare=bare, paper=paper)
    if left_out is not None and are_no_stitches(left_out, blanks, notes, asks):
        is_blank = left_out.cells
    palette = palette_of(shown[~is_blank][None], yarns, count)
    is_ink = not len(yarns) and black_on_white(palette, paper)
    if is_ink:
        # A sign that fills most of its cell is no ground.
        signs = _signs(art.pixels, outline, np.broadcast_to(paper, shown.shape))
    cells, _ = nearest_rgb(shown, palette)
    told_apart = are_ink(palette).astype(int)[cells] if is_ink else cells
    if goes_by_signs(signs, told_apart, is_blank, by, asks, is_black_on_white=is_ink):
        cells, palette, why = by_signs(signs, is_blank, notes)
    else:
        is_found = not len(yarns) and count is None
        cells, palette, why = _by_colours(shown, palette, alike, is_blank, is_found=is_found)
    why[is_blank] = ""
    notes += _said_of_all(why, alike)
    others = _others(art.pixels, outline, told, notes, asks)
    return GridReading(
        cells=np.where(is_blank, NO_STITCH_CELL, cells).astype(np.int16),
        palette=to_hex(palette),
        shown=shown,
        notes=tuple(notes),
        doubtful=why != "",
        why=why,
        box=outline.box,
        asks=tuple(asks),
        others=others,
    )


def _by_colours(
    shown: Rgb, palette: Rgb, alike: Numbers, is_blank: Mask, *, is_found: bool
) -> tuple[Numbers, Rgb, Words]:
    """Each cell's place among the colours, these, and what is in doubt.

    Colours that were found and not told may be those of a watermark, which are left out.
    """
    cells, distance = nearest_rgb(shown, palette)
    why = _doubts(shown, palette, distance=distance, alike=alike)
    why[rare_cells(cells, palette, is_blank)] = "hardly any other cell has its colour"
    if is_found:
        under = under_a_watermark(cells, palette, alike, ~is_blank)
        cells, palette = only_used(under.cells, palette, is_blank)
        why[under.marked] = "something grey lies over it, as a watermark does"
    return cells, palette, why


def _seen(pixels: Rgb, outline: Outline) -> tuple[Rgb, Numbers]:
    """The colour of each cell (rows × stitches × 3), and the share of the cell that has it."""
    looks = looks_of(pixels, outline)
    # The median leaves out a letter or a symbol that takes up less than half of the cell.
    shown = np.median(looks, axis=2).astype(np.uint8)
    return shown, _share_alike(looks, shown)


def _without_headings(pixels: Rgb, outline: Outline, notes: list[str]) -> Outline:
    """The grid without rows and columns of numbers and letters, as a spreadsheet has them."""
    shown, _ = _seen(pixels, outline)
    signs = _signs(pixels, outline, shown)
    # The picture goes from the top, its cells from the bottom.
    bottom, top, left, right = find_headings(shown, signs)
    if not (bottom or top or left or right):
        return outline
    notes.append("rows and columns of numbers or letters at the rim are left out")
    across, down = outline.across, outline.down
    bare = outline.bare
    if bare is not None:
        bare = bare[top : len(bare) - bottom, left : bare.shape[1] - right]
    return Outline(
        across=_cut(across, left, right),
        down=_cut(down, top, bottom),
        open=outline.open,
        bare=bare,
    )


def _cut(span: Span, first: int, last: int) -> Span:
    """The span without so many cells at its beginning and at its end."""
    cell = span.length / span.cells
    return Span(
        start=span.start + first * cell,
        stop=span.stop - last * cell,
        cells=span.cells - first - last,
    )


def _signs(pixels: Rgb, outline: Outline, shown: Rgb) -> Signs:
    """The signs in the cells, where these are large enough for any to be told."""
    smallest = min(
        outline.across.length / outline.across.cells,
        outline.down.length / outline.down.cells,
    )
    if smallest < signs_of_cells.SMALLEST:
        nothing = np.zeros(shown.shape[:2])
        return Signs(np.full(shown.shape[:2], -1), nothing + 1, nothing)
    seen = looks_of(pixels, outline, looks=signs_of_cells.PLACES, middle=signs_of_cells.MIDDLE)
    return signs_of_cells.signs_in(seen, shown)


def _others(
    pixels: Rgb, outline: Outline, told: Size, notes: list[str], asks: list[Question]
) -> tuple[Box, ...]:
    """The outlines of other charts, in what is left of the picture beside this one; says so."""
    found = _beside(pixels, outline)
    if found:
        notes.append(f"{counted(len(found), 'other chart')} in the picture")
        # Whoever tells a size that one of them alone has has chosen.
        is_chosen = told.is_said and not any(told.fits(other) for other in found)
        if not is_chosen:
            asks.append(Question("part", WHICH_CHART, (), "the largest"))
    return tuple(other.box for other in found)


def _beside(pixels: Rgb, outline: Outline) -> list[Outline]:
    """The charts in what is left of the picture on the four sides of one."""
    paper = paper_around(pixels, outline.box)
    left, top, right, bottom = (round(each) for each in outline.box)
    height, width = pixels.shape[:2]
    cell = round(outline.down.length / outline.down.cells)
    found: list[Outline] = []
    for box in (
        (0, 0, width, top - cell),
        (0, bottom + cell, width, height),
        (0, 0, left - cell, height),
        (right + cell, 0, width, height),
    ):
        x, y, to_x, to_y = (max(0, each) for each in box)
        rest = pixels[y:to_y, x:to_x]
        if min(rest.shape[:2]) < FEWEST * SMALLEST or not _holds_much(rest, paper):
            continue
        other = find_grid(rest)
        if other and min(other.across.cells, other.down.cells) >= FEWEST_OF_ANOTHER:
            moved = other.moved(x, y)
            # What lies below and to the right is seen from both sides.
            if not any(_overlap(moved.box, before.box) for before in found):
                found.append(moved)
    return found


def _overlap(box: Box, other: Box) -> bool:
    left, top, right, bottom = box
    return left < other[2] and other[0] < right and top < other[3] and other[1] < bottom


def _holds_much(rest: Rgb, paper: Rgb) -> bool:
    """Whether more is drawn on a part of the page than words and numbers."""
    off = np.abs(rest.astype(np.int16) - paper).max(axis=2) > 30
    return bool(off.any(axis=1).mean() > 0.1 and off.mean() > 0.05)


def _outline(art: Artwork, told: Size, notes: list[str], asks: list[Question]) -> Outline:
    """The grid in a picture, in as many stitches and rows as are told."""
    found = find_grid(art.pixels)
    if found is not None and not told.is_said:
        found = _without_headings(art.pixels, found, notes)
    elif told.is_said:
        found = _as_told(art, found, told, notes, asks)
    if found is None:
        raise PlanError(
            f"No regular grid was found in {art.name}. Is it square to the page, with cells "
            f"of at least {SMALLEST} pixels and {FEWEST} or more of them each way? "
            "Else crop it to the grid, and say how many stitches and rows it has."
        )
    if found.open:
        notes.append("nothing closes the chart: it is taken to end where the outermost colours do")
    across, down = found.across, found.down
    check_chart(across.cells, down.cells, f"The grid in {art.name}")
    wide = across.length / across.cells
    high = down.length / down.cells
    size = f"{wide:.1f} × {high:.1f} pixels"
    notes.append(f"{_size_of(found)}, in cells of {size}")
    return found._replace(open=False)


def _size_of(outline: Outline) -> str:
    return f"{outline.across.cells} stitches × {outline.down.cells} rows"


@dataclass(frozen=True)
class Size:
    """The stitches and the rows that are told; None where they are to be counted."""

    stitches: int | None
    rows: int | None

    def __post_init__(self) -> None:
        for count, what in ((self.stitches, "stitches"), (self.rows, "rows")):
            if count is not None:
                check_size(count, what)

    @property
    def is_said(self) -> bool:
        return self.stitches is not None or self.rows is not None

    def fits(self, outline: Outline) -> bool:
        """Whether a grid has the size that is told."""
        stitches, rows = outline.across.cells, outline.down.cells
        return self.stitches in (None, stitches) and self.rows in (None, rows)


def _as_told(
    art: Artwork, found: Outline | None, told: Size, notes: list[str], asks: list[Question]
) -> Outline | None:
    """The grid of the size that is told.

    It is the one that was found, that without its headings, another chart in the picture, or a
    grid of that size that fits what is drawn. Else what was found is divided as it is told, or the
    whole picture; then it is asked.
    """
    pixels = art.pixels
    charts = [found, *_beside(pixels, found)] if found else []
    for chart in charts:
        said: list[str] = []
        if told.fits(chart):
            return chart
        bare = _without_headings(pixels, chart, said)
        if told.fits(bare):
            notes += said
            return bare
    if len(charts) > 1:
        sizes = ", ".join(_size_of(chart) for chart in charts)
        raise PlanError(
            f"None of the {len(charts)} charts in {art.name} has the size that you say: they have "
            f"{sizes}. Say the size of one of them, or draw a frame around it."
        )
    fit = None
    if told.stitches is not None and told.rows is not None:
        fit = fit_grid(pixels, told.stitches, told.rows)
    divided = fit.outline if fit else _divided(pixels, found, told)
    if divided is None:
        return None
    if fit:
        notes.append("a whole grid of the size that you say fits what is drawn")
    if found is not None:
        what = f"{_size_of(found)} were counted in the picture. Is the size that you say right?"
        notes.append(f"{_size_of(found)} were counted; it is divided as you say")
    elif fit is None:
        what = "No lines of such a grid were found. Does the chart fill all that is read?"
    elif not fit.is_sure:
        what = "Few lines of such a grid were found. Is the size that you say right?"
    else:
        return divided
    asks.append(Question("part", what, (), f"{_size_of(divided)}, as you say"))
    return divided


def _divided(pixels: Rgb, found: Outline | None, told: Size) -> Outline | None:
    """The grid that was found, or the whole picture, divided evenly as it is told."""
    if found is not None:
        across = found.across._replace(cells=told.stitches or found.across.cells)
        down = found.down._replace(cells=told.rows or found.down.cells)
        return Outline(across, down, open=found.open)
    if told.stitches is None or told.rows is None:
        return None
    # Whoever says how many there are may have cropped the picture to the grid.
    height, width = pixels.shape[:2]
    return Outline(Span(0, width, told.stitches), Span(0, height, told.rows))


def looks_of(pixels: Rgb, outline: Outline, *, looks: int = LOOKS, middle: float = MIDDLE) -> Rgb:
    """The colours seen in the middle of each cell, bottom row first: rows × stitches × places × 3.

    The places are the same in each cell, `looks` a side, in this share of it.
    """
    height, width = pixels.shape[:2]
    x = _places(outline.across, width, looks, middle)
    y = _places(outline.down, height, looks, middle)
    seen = pixels[np.ix_(y, x)]
    # From the lines of the picture to the cells of the chart.
    rows = outline.down.cells
    stitches = outline.across.cells
    by_lines = seen.reshape(rows, looks, stitches, looks, 3)
    by_cells = by_lines.swapaxes(1, 2)
    from_top = by_cells.reshape(rows, stitches, looks**2, 3)
    return from_top[::-1]


def _places(span: Span, limit: int, looks: int, middle: float) -> Numbers:
    """Pixels at which the middle of each cell is looked at."""
    # Lines at the rim of a cell, and what they blend with, are left out.
    steps = (np.arange(looks) + 0.5) / looks
    margin = (1 - middle) / 2
    within = margin + middle * steps
    number = np.arange(span.cells)
    in_cells = np.add.outer(number, within)
    places = span.start + in_cells.ravel() * span.length / span.cells
    return np.clip(places.astype(int), 0, limit - 1)


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
