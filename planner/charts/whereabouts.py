"""Where on a page the chart stands, among its rulers, title, key and notes.

Numbers that count along a line of a page are rulers; texts that stand there once or twice are
titles, keys and notes; of the rest the largest patch of cells is the chart, widened to its rulers.

A place is (rows, columns). Most steps know the columns only, and are done once more for the rows on
the page laid on its side.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Mapping
from dataclasses import dataclass

import numpy as np
from openpyxl.utils import range_boundaries
from scipy import ndimage

from planner.charts.labels import column_headings, side_labels
from planner.charts.open_sheets import ERROR
from planner.charts.outlines import is_shaping
from planner.charts.pages import Grid, Line, Page
from planner.charts.rulers import (
    NO_NUMBER,
    Ruler,
    Rulers,
    near_rulers,
    numbers_among,
    side_rulers,
)
from planner.errors import PlanError
from planner.guards import MOST_RULERS

# A text of more letters than this that stands on a page fewer times than that is a note.
LONGEST_SIGN = 3
FEWEST_SIGNS = 4
# Numbers are stitches if there are this many times as many of them as of other signs.
MANY_NUMBERS = 3
HALF = 0.5
# A patch with this part of the chart's cells, and at least so many, is a rival to it.
RIVAL = 1 / 4
FEWEST_CELLS = 9
MOST_LEFT_OUT = 0.35  # of a shaped piece's cells; around a motif there are more
DENSE = 0.8  # a patch that fills this part of its box is no part of a motif
MANY_FILLS = 2
UNPAINTED = ["", "#ffffff"]
ASIDES = {"rs", "ws", "row", "rnd", "key", "st", "sts"}  # notes, on a page with rulers
ROUND_ABOUT = np.ones((3, 3))  # a cell and its eight neighbours

Place = tuple[slice, slice]


@dataclass(frozen=True, eq=False)
class Found:
    """The chart on a page: its place, how many cells spoke for it, its rulers.

    `elsewhere` names the cells outside that hold something, `others` are places that may be charts,
    too. `labels` and `note` are the cells that say which side is worked, and that hold words; a
    sheet is headed where its own letters of columns stand above the chart. `whole` is where the
    chart ends if blank cells around it that were marked with it are its ground.
    """

    place: Place
    cells: int
    rulers: Rulers
    elsewhere: list[str]
    others: list[Place]
    labels: Grid
    is_headed: bool
    note: Grid
    whole: Place | None


@dataclass(frozen=True, eq=False)
class Cells:
    """What the cells of a page may be, as grids.

    `held` has a text or a fill, `number` the number in each or NO_NUMBER, `note` those of titles,
    keys and notes, `plain` those as good as blank.
    """

    held: Grid
    number: Grid
    note: Grid
    plain: Grid


def find_chart(page: Page, area: str | None) -> Found | None:
    """The place of the chart on a page, found out or given ("C4:AF33"); None if nothing is there.

    Raises PlanError where `area` names no cells.
    """
    # The later cells of a merged one say nothing more.
    said = page.text[page.first]
    texts = Counter(said.tolist())
    numbers = numbers_among(texts)
    number = _look_up(numbers, page.text)
    rulers = Rulers(
        sides=side_rulers(number, page.rows),
        ends=side_rulers(number.T, page.columns),
    )
    rulers = _likely_rulers(rulers, page.fill)
    labels = side_labels(page.text, number)
    headings = column_headings(page.text)
    notes = _notes(texts, numbers, has_rulers=bool(rulers))
    cells = _sorted_out(page, number, notes)
    _add_notes(cells, page, labels, headings)

    # Where nothing is left beside the rulers, the numbers are the stitches.
    stitches = _stitches(page, cells, rulers)
    if not stitches.any():
        rulers = Rulers([], [])
        stitches = _stitches(page, cells, rulers)

    # What counts up inside the chart was no ruler, so its cells are stitches after all.
    fill = page.fill
    visible = stitches & ~cells.plain
    rulers = Rulers(
        sides=_outside(rulers.sides, visible, fill),
        ends=_outside(rulers.ends, visible.T, fill.T),
    )
    stitches = _stitches(page, cells, rulers)

    whole = None
    if area:
        place = _named(area, page)
    elif stitches.any():
        place, near = _find_place(page, cells, stitches, rulers)
        place, rulers = _framed(place, near, rulers)
        whole = _as_chosen(page, place, cells, rulers)
    else:
        return None
    count = int(cells.held[place].sum())
    if not count:
        return None
    others = [] if area else _other_charts(stitches & cells.held, cells, place, rulers)
    return Found(
        place,
        count,
        rulers.near(place),
        elsewhere=_held_elsewhere(page, cells, stitches, place),
        others=others,
        labels=labels,
        is_headed=bool(len(headings)),
        note=cells.note,
        whole=whole,
    )


def _add_notes(cells: Cells, page: Page, labels: Grid, headings: Line) -> None:
    """Count lines that say which side is worked, and a sheet's own headings, among the notes."""
    cells.note[labels] = True
    cells.note[headings] |= page.text[headings] != ""


def _likely_rulers(rulers: Rulers, fill: Grid) -> Rulers:
    """The rulers without counts of stitches; none, if they are too many."""
    rulers = Rulers(_unpainted(rulers.sides, fill), _unpainted(rulers.ends, fill.T))
    # So many stretches of numbers are a table of them, and no rulers of a chart.
    if len(rulers.sides) + len(rulers.ends) > MOST_RULERS:
        return Rulers([], [])
    return rulers


def _unpainted(rulers: list[Ruler], fill: Grid) -> list[Ruler]:
    """Those rulers that do not run over cells of several fills, as counts of stitches do."""
    plain = []
    for ruler in rulers:
        fills = set(fill[ruler.along, ruler.line].tolist())
        if len(fills.difference(UNPAINTED)) < MANY_FILLS:
            plain.append(ruler)
    return plain


def _look_up(numbers: Mapping[str, int], texts: Grid) -> Grid:
    """The number that each text is, or NO_NUMBER."""

    def number_of(text: str) -> int:
        return numbers.get(text, NO_NUMBER)

    numbers_of = np.vectorize(number_of, otypes=[int])
    return numbers_of(texts)


def _are_among(notes: set[str], texts: Grid) -> Grid:
    """Which texts are among the notes."""
    # By a set: NumPy would compare each text with each note.
    are_among = np.vectorize(notes.__contains__, otypes=[bool])
    return are_among(texts)


def _notes(
    texts: Counter[str],
    numbers: Container[str],
    *,
    has_rulers: bool,
) -> list[str]:
    """Of all texts of a page those that are titles, a key's words or notes."""
    notes = []
    for text, times in texts.items():
        if text in numbers:
            continue
        is_rare = times < FEWEST_SIGNS
        is_aside = has_rulers and is_rare and text.lower() in ASIDES
        # An error is where something stood, so a stitch may be missing there.
        is_long = len(text) > LONGEST_SIGN and not ERROR.fullmatch(text)
        if is_aside or (is_long and is_rare):
            notes.append(text)
    return notes


def _sorted_out(page: Page, number: Grid, notes: list[str]) -> Cells:
    """What the cells of a page may be, by the number in each and the texts that are notes."""
    no_text = page.text == ""
    no_fill = page.fill == ""
    # A sheet may be painted white all over.
    unpainted = np.isin(page.fill, UNPAINTED)
    return Cells(
        held=~(no_text & no_fill),
        number=number,
        note=_are_among(set(notes), page.text),
        plain=no_text & unpainted,
    )


def _stitches(page: Page, cells: Cells, rulers: Rulers) -> Grid:
    """The cells that may be stitches: those with a sign, a fill or a border, on no ruler."""
    shape = page.text.shape
    free = ~rulers.cover(shape)
    allowed = free & ~cells.note
    is_number = cells.number != NO_NUMBER
    bare_number = is_number & (page.fill == "")

    signs = allowed & cells.held & ~bare_number
    framed = allowed & page.ruled
    # Numbers are colours written 1, 2, 3 if they are many; else they are only here and there.
    numbers = free & is_number
    if numbers.sum() > MANY_NUMBERS * signs.sum():
        return signs | framed | numbers
    return (signs | framed) & ~bare_number


def _outside(
    rulers: list[Ruler],
    stitches: Grid,
    fill: Grid,
) -> list[Ruler]:
    """Those rulers that run neither between stitches nor on the fills of those beside them."""
    # So that a line at an edge has one beside it, too.
    one_more = (0, 0), (1, 1)
    stitches = np.pad(stitches, one_more)
    fill = np.pad(fill, one_more, constant_values="")
    painted = ~np.isin(fill, UNPAINTED)

    outside = []
    for ruler in rulers:
        along = ruler.along
        line = [ruler.line + 1]
        beside = [ruler.line, ruler.line + 2]
        between = stitches[along, beside].mean(axis=0)
        same_fill = fill[along, beside] == fill[along, line]
        alike = same_fill & painted[along, line]
        is_between = between.min() > HALF
        is_alike = alike.mean(axis=0).max() > HALF
        if not is_between and not is_alike:
            outside.append(ruler)
    return outside


def _framed(place: Place, near: Rulers, rulers: Rulers) -> tuple[Place, Rulers]:
    """The place widened to rulers that meet at a corner and enclose it, however far off they run;
    and the rulers near it then."""
    rows, columns = place
    for side in rulers.sides:
        for end in rulers.ends:
            # They meet where each runs beside the other's last number, or first.
            meet = side.is_near(side.along, end.along) and end.is_near(end.along, side.along)
            is_within = _holds(side.along, rows) and _holds(end.along, columns)
            is_clear = not side.crosses(end.along) and not end.crosses(side.along)
            if meet and is_within and is_clear:
                framed = side.along, end.along
                return framed, rulers.near(framed)
    return place, near


def _holds(span: slice, part: slice) -> bool:
    return span.start <= part.start and span.stop >= part.stop


def _as_chosen(page: Page, place: Place, cells: Cells, rulers: Rulers) -> Place | None:
    """The whole of a page of marked cells, if nothing but blank ones lies beside the chart."""
    whole = slice(0, page.text.shape[0]), slice(0, page.text.shape[1])
    outside = cells.held.copy()
    outside[place] = False
    if not page.is_chosen or rulers or outside.any() or whole == place:
        return None
    return whole


def _other_charts(stitches: Grid, cells: Cells, place: Place, rulers: Rulers) -> list[Place]:
    """The patches outside a place that are as much of a chart, the upper first."""
    left = stitches.copy()
    left[place] = False
    patches, _ = ndimage.label(left, ROUND_ABOUT)
    least = max(FEWEST_CELLS, RIVAL * stitches[place].sum())
    others = []
    for number, box in enumerate(ndimage.find_objects(patches), start=1):
        rows, columns = box
        is_line = min(rows.stop - rows.start, columns.stop - columns.start) < 2
        if is_line or (patches[box] == number).sum() < least or _is_legend(box, cells):
            continue
        others.append(_fitted(box, ~cells.plain, rulers.near(box)))
    return others


def _is_legend(box: Place, cells: Cells) -> bool:
    """Whether most rows of a patch have a word beside them."""
    rows, columns = box
    beside = slice(max(0, columns.start - 1), columns.stop + 1)
    has_word = cells.note[rows, beside].any(axis=1)
    return bool(has_word.mean() > HALF)


def _held_elsewhere(
    page: Page,
    cells: Cells,
    stitches: Grid,
    place: Place,
) -> list[str]:
    """The names of the cells outside a place that hold something."""
    visible = stitches & ~cells.plain
    outside = visible | cells.note
    outside[place] = False
    names = []
    for row, column in np.argwhere(outside & page.first):
        names.append(page.cell(row, column))
    return names


def _named(area: str, page: Page) -> Place:
    """The rows and columns of an area such as "C4:AF33"."""
    try:
        named = area.upper().strip()
        left, top, right, bottom = range_boundaries(named)
        rows = np.searchsorted(page.rows, [top - 1, bottom])
        columns = np.searchsorted(page.columns, [left - 1, right])
    except (ValueError, TypeError):
        raise PlanError(
            f'The area is "{area}"; write its first and last cell, such as C4:AF33.'
        ) from None
    return slice(*rows.tolist()), slice(*columns.tolist())


def _find_place(
    page: Page,
    cells: Cells,
    stitches: Grid,
    rulers: Rulers,
) -> tuple[Place, Rulers]:
    """The place of the chart among the cells that may be stitches, and the rulers near it."""
    patches, _ = ndimage.label(stitches, ROUND_ABOUT)
    boxes = ndimage.find_objects(patches)
    # The largest patch is the chart; titles, keys and swatches are smaller.
    sizes = np.bincount(patches.ravel())
    largest = sizes[1:].argmax()
    place = boxes[int(largest)]
    # A key or a second chart may touch it across its own ruler.
    visible = stitches & ~cells.plain
    place = _cut_at_rulers(place, visible, rulers)
    # A key may touch it without a ruler between.
    place = _without_key(place, stitches, cells.note)
    # Paint and format may run on beyond it, or its own ground be blank up to the last number.
    rulers = rulers.near(place)
    place = _fitted(place, ~cells.plain, rulers)
    # On a blank ground the parts of a motif do not touch each other.
    rivals = [box for box in boxes if _is_rival(box, place, stitches)]
    if not rivals and _stands_on_blanks(page, place):
        beside_words = ndimage.binary_dilation(cells.note, ROUND_ABOUT)
        keys = set(patches[beside_words].tolist())
        parts = []
        for number, box in enumerate(boxes, start=1):
            if number not in keys:
                parts.append(box)
        place = _with_parts(place, parts, rulers)
    return place, rulers


def _is_rival(box: Place, place: Place, stitches: Grid) -> bool:
    """Whether a patch beside a place is a chart of its own: as full, and nearly as large."""
    rows, columns = box
    chart_rows, chart_columns = place
    is_beside = (
        rows.start >= chart_rows.stop
        or rows.stop <= chart_rows.start
        or columns.start >= chart_columns.stop
        or columns.stop <= chart_columns.start
    )
    cells = stitches[box]
    is_large = cells.sum() >= max(FEWEST_CELLS, RIVAL * stitches[place].sum())
    are_dense = cells.mean() >= DENSE and stitches[place].mean() >= DENSE
    return bool(is_beside and is_large and are_dense)


def _cut_at_rulers(place: Place, stitches: Grid, rulers: Rulers) -> Place:
    """The fuller side of a place at each ruler that crosses it."""
    rows, columns = place
    columns = _cut(columns, rows, stitches, rulers.sides)
    rows = _cut(rows, columns, stitches.T, rulers.ends)
    return rows, columns


def _cut(
    columns: slice,
    rows: slice,
    stitches: Grid,
    rulers: list[Ruler],
) -> slice:
    """The columns on the fuller side of each ruler among them."""
    for ruler in near_rulers(rulers, along=rows, across=columns):
        if not ruler.crosses(columns):
            continue
        line = ruler.line
        before = slice(columns.start, line)
        after = slice(line + 1, columns.stop)
        held_before = stitches[rows, before].sum()
        held_after = stitches[rows, line : columns.stop].sum()
        fuller = before if held_before > held_after else after
        # On a sheet painted white all over both sides may hold nothing.
        if fuller.start < fuller.stop:
            columns = fuller
    return columns


def _without_key(place: Place, stitches: Grid, note: Grid) -> Place:
    """The place without an outermost line of a few cells that have a word beside each."""
    rows, columns = place
    columns = _without_key_columns(columns, rows, stitches, note)
    rows = _without_key_columns(rows, columns, stitches.T, note.T)
    return rows, columns


def _without_key_columns(
    columns: slice,
    rows: slice,
    stitches: Grid,
    note: Grid,
) -> slice:
    cells, words = stitches[rows], note[rows]
    first = columns.start
    last = columns.stop - 1
    # At the edge of the page a line stands beside itself: it holds no words.
    right = min(last + 1, note.shape[1] - 1)
    left = max(first - 1, 0)
    if last > first and _is_key(cells[:, last], words[:, right]):
        last -= 1
    if last > first and _is_key(cells[:, first], words[:, left]):
        first += 1
    return slice(first, last + 1)


def _is_key(line: Line, words: Line) -> bool:
    """Whether a line has few cells, each with a word beside it."""
    has_few = line.mean() < HALF
    has_words = (words >= line).all()
    return bool(has_few and has_words)


def _fitted(place: Place, held: Grid, rulers: Rulers) -> Place:
    """The place from the first to the last number of its rulers, and no farther than it holds."""
    rows, columns = place
    rows = _fitted_rows(rows, columns, held, rulers.sides)
    columns = _fitted_rows(columns, rows, held.T, rulers.ends)
    return rows, columns


def _fitted_rows(
    rows: slice,
    columns: slice,
    held: Grid,
    rulers: list[Ruler],
) -> slice:
    in_use = held[rows, columns].any(axis=1)
    if not rulers or not in_use.any():
        return rows
    used = np.flatnonzero(in_use) + rows.start
    start, stop = int(used[0]), int(used[-1]) + 1
    # A key may touch the chart: few cells, where its rows are no longer numbered.
    lo = min(ruler.lo for ruler in rulers)
    hi = max(ruler.hi for ruler in rulers)
    width = held[rows.start : rows.stop, columns].mean(axis=1)
    if all(ruler.every == 1 for ruler in rulers):
        above, below = slice(0, max(0, lo - rows.start)), slice(max(0, hi - rows.start), None)
        if width[above].size and width[above].max() < HALF:
            start = max(start, lo)
        if width[below].size and width[below].max() < HALF:
            stop = min(stop, hi)
    # A ruler of every fifth number may have four more stitches at either end.
    for ruler in rulers:
        more = ruler.every - 1
        start = min(start, ruler.lo - more)
        stop = max(stop, ruler.hi + more)
    start = max(start, rows.start)
    stop = min(stop, rows.stop)
    # What is numbered is in the chart, even if it is blank.
    for ruler in rulers:
        start = min(start, ruler.lo)
        stop = max(stop, ruler.hi)
    return slice(start, stop)


def _stands_on_blanks(page: Page, place: Place) -> bool:
    """Whether blank cells within and round about the place are its ground."""
    text, fill = page.text[place], page.fill[place]
    filled = fill != ""
    keys = np.where(filled, fill, text)
    if _has_one_key(keys):
        return True
    if not (keys == "").any():
        return False
    way = "fills" if filled.any() else "letters"
    taken = blanks_are(keys, page.ruled[place], way=way)
    return taken == "ground"


def _has_one_key(keys: Grid) -> bool:
    """Whether only one thing stands in the cells that are not blank."""
    things = set(keys.ravel().tolist())
    things.discard("")
    return len(things) == 1


def _with_parts(place: Place, parts: list[Place], rulers: Rulers) -> Place:
    """The place with the patches round about that no ruler keeps apart from it."""
    rows, columns = place
    for part_rows, part_columns in parts:
        joined_rows = _hull(rows, part_rows)
        joined_columns = _hull(columns, part_columns)
        kept_apart = [ruler.crosses(joined_columns) for ruler in rulers.sides]
        kept_apart += [ruler.crosses(joined_rows) for ruler in rulers.ends]
        if not any(kept_apart):
            rows = joined_rows
            columns = joined_columns
    return rows, columns


def _hull(span: slice, part: slice) -> slice:
    start = min(span.start, part.start)
    stop = max(span.stop, part.stop)
    return slice(start, stop)


def blanks_are(keys: Grid, ruled: Grid, *, way: str) -> str:
    """Whether blank cells are the "ground" or "no stitch".

    `keys` tells the yarns apart, "" for a blank; `ruled` has the cells with a border; `way` says
    whether the keys are "letters" or "fills".
    """
    blank = keys == ""
    # Where the chart is framed, what lies outside of the frame is none of it.
    is_framed = ruled[~blank].any()
    if is_framed and ruled[blank].mean() < HALF:
        return "no stitch"
    # What lies at the rim as a shaped piece leaves it out, and is little, is not knitted.
    is_shaped = blank.mean() <= MOST_LEFT_OUT and is_shaping(blank)
    if is_shaped and not _has_one_key(keys):
        return "no stitch"
    # A sheet without a fill is white ground; so is all that is beside one only sign.
    if way == "fills" or _has_one_key(keys):
        return "ground"
    # Among several letters blanks are ground if they are most, or stand between letters.
    seen = np.logical_or.accumulate
    after_letter = seen(~blank, axis=1)
    mirrored = np.fliplr(~blank)
    before_letter = np.fliplr(seen(mirrored, axis=1))
    between = blank & after_letter & before_letter
    if blank.mean() > HALF or between.any():
        return "ground"
    return "no stitch"
