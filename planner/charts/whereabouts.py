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

from planner.charts.pages import Page
from planner.charts.rulers import (
    NO_NUMBER,
    Ruler,
    Rulers,
    near_rulers,
    numbers_among,
    side_rulers,
)
from planner.errors import PlanError

# A text of more letters than this that stands on a page fewer times than that is a note.
LONGEST_SIGN = 3
FEWEST_SIGNS = 4
# Numbers are stitches if there are this many times as many of them as of other signs.
MANY_NUMBERS = 3
HALF = 0.5
UNPAINTED = ["", "#ffffff"]
ASIDES = {"rs", "ws", "row", "rnd", "key", "st", "sts"}  # notes, on a page with rulers
ROUND_ABOUT = np.ones((3, 3))  # a cell and its eight neighbours

Place = tuple[slice, slice]


@dataclass(frozen=True, eq=False)
class Found:
    """The chart on a page: its place, how many cells spoke for it, its rulers.

    `elsewhere` names the cells outside that hold something.
    """

    place: Place
    cells: int
    rulers: Rulers
    elsewhere: list[str]


@dataclass(frozen=True, eq=False)
class Cells:
    """What the cells of a page may be, as grids.

    `held` has a text or a fill, `number` the number in each or NO_NUMBER, `note` those of titles,
    keys and notes, `plain` those as good as blank.
    """

    held: np.ndarray
    number: np.ndarray
    note: np.ndarray
    plain: np.ndarray


def find_chart(page: Page, area: str | None) -> Found | None:
    """The place of the chart on a page, found out or given ("C4:AF33"); None if nothing is there.

    Raises PlanError where `area` names no cells.
    """
    texts = Counter(page.text[page.first].tolist())
    numbers = numbers_among(texts)
    number = _look_up(numbers, page.text)
    rulers = Rulers(
        sides=side_rulers(number, page.rows),
        ends=side_rulers(number.T, page.columns),
    )
    notes = _notes(texts, numbers, has_rulers=bool(rulers))
    cells = _sorted_out(page, number, notes)

    # Where nothing is left beside the rulers, the numbers are the stitches.
    stitches = _stitches(page, cells, rulers)
    if not stitches.any():
        rulers = Rulers([], [])
        stitches = _stitches(page, cells, rulers)

    # What counts up inside the chart was no ruler, so its cells are stitches after all.
    visible = stitches & ~cells.plain
    rulers = Rulers(
        sides=_outside(rulers.sides, visible, page.fill),
        ends=_outside(rulers.ends, visible.T, page.fill.T),
    )
    stitches = _stitches(page, cells, rulers)

    if area:
        place = _named(area, page)
    elif stitches.any():
        place, rulers = _find_place(page, cells, stitches, rulers)
    else:
        return None
    count = int(cells.held[place].sum())
    if not count:
        return None
    return Found(
        place,
        count,
        rulers.near(place),
        elsewhere=_held_elsewhere(page, cells, stitches, place),
    )


def _look_up(numbers: Mapping[str, int], texts: np.ndarray) -> np.ndarray:
    def number_of(text: str) -> int:
        return numbers.get(text, NO_NUMBER)

    return np.vectorize(number_of, otypes=[int])(texts)


def _notes(
    texts: Counter[str],
    numbers: Container[str],
    *,
    has_rulers: bool,
) -> list[str]:
    """Of all texts of a page those that are titles, a key's words or notes."""
    notes = []
    for text, times in texts.items():
        is_aside = has_rulers and text.lower() in ASIDES
        is_long = len(text) > LONGEST_SIGN and text not in numbers
        if is_aside or (is_long and times < FEWEST_SIGNS):
            notes.append(text)
    return notes


def _sorted_out(page: Page, number: np.ndarray, notes: list[str]) -> Cells:
    """What the cells of a page may be, by the number in each and the texts that are notes."""
    no_text = page.text == ""
    return Cells(
        held=~no_text | (page.fill != ""),
        number=number,
        note=np.isin(page.text, np.array(notes, object)),
        # A sheet may be painted white all over.
        plain=no_text & np.isin(page.fill, UNPAINTED),
    )


def _stitches(page: Page, cells: Cells, rulers: Rulers) -> np.ndarray:
    """The cells that may be stitches: those with a sign, a fill or a border, on no ruler."""
    free = ~rulers.cover(page.text.shape)
    filled = page.fill != ""
    is_number = cells.number != NO_NUMBER
    bare_number = is_number & ~filled
    allowed = free & ~cells.note
    signs = cells.held & ~bare_number & allowed
    stitches = signs | (page.ruled & allowed)
    # Numbers are colours written 1, 2, 3 if they are many; else they are only here and there.
    numbers = is_number & free
    if numbers.sum() > MANY_NUMBERS * signs.sum():
        return stitches | numbers
    return stitches & ~bare_number


def _outside(
    rulers: list[Ruler],
    stitches: np.ndarray,
    fill: np.ndarray,
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
        alike = (same_fill & painted[along, line]).mean(axis=0)
        if between.min() <= HALF and alike.max() <= HALF:
            outside.append(ruler)
    return outside


def _held_elsewhere(
    page: Page,
    cells: Cells,
    stitches: np.ndarray,
    place: Place,
) -> list[str]:
    """The names of the cells outside a place that hold something."""
    outside = (stitches & ~cells.plain) | cells.note
    outside[place] = False
    names = []
    for row, column in np.argwhere(outside & page.first):
        names.append(page.cell(row, column))
    return names


def _named(area: str, page: Page) -> Place:
    """The rows and columns of an area such as "C4:AF33"."""
    try:
        left, top, right, bottom = range_boundaries(area.upper().strip())
        rows = np.searchsorted(page.rows, (top - 1, bottom))
        columns = np.searchsorted(page.columns, (left - 1, right))
    except (ValueError, TypeError):
        raise PlanError(
            f'The area is "{area}"; write its first and last cell, such as C4:AF33.'
        ) from None
    return slice(*rows.tolist()), slice(*columns.tolist())


def _find_place(
    page: Page,
    cells: Cells,
    stitches: np.ndarray,
    rulers: Rulers,
) -> tuple[Place, Rulers]:
    """The place of the chart among the cells that may be stitches, and the rulers near it."""
    patches, _ = ndimage.label(stitches, ROUND_ABOUT)
    boxes = ndimage.find_objects(patches)
    # The largest patch is the chart; titles, keys and swatches are smaller.
    sizes = np.bincount(patches.ravel())
    place = boxes[int(sizes[1:].argmax())]
    # A key or a second chart may touch it across its own ruler.
    place = _cut_at_rulers(place, stitches & ~cells.plain, rulers)
    # A key may touch it without a ruler between.
    place = _without_key(place, stitches, cells.note)
    # Paint and format may run on beyond it, or its own ground be blank up to the last number.
    rulers = rulers.near(place)
    place = _fitted(place, ~cells.plain, rulers)
    # On a blank ground the parts of a motif do not touch each other.
    if _stands_on_blanks(page, place):
        beside_words = ndimage.binary_dilation(cells.note, ROUND_ABOUT)
        keys = set(patches[beside_words].tolist())
        parts = [box for number, box in enumerate(boxes, 1) if number not in keys]
        place = _with_parts(place, parts, rulers)
    return place, rulers


def _cut_at_rulers(place: Place, stitches: np.ndarray, rulers: Rulers) -> Place:
    """The fuller side of a place at each ruler that crosses it."""
    rows, columns = place
    columns = _cut(columns, rows, stitches, rulers.sides)
    rows = _cut(rows, columns, stitches.T, rulers.ends)
    return rows, columns


def _cut(
    columns: slice,
    rows: slice,
    stitches: np.ndarray,
    rulers: list[Ruler],
) -> slice:
    """The columns on the fuller side of each ruler among them."""
    for ruler in near_rulers(rulers, along=rows, across=columns):
        if not ruler.crosses(columns):
            continue
        before = slice(columns.start, ruler.line)
        after = slice(ruler.line + 1, columns.stop)
        held_before = stitches[rows, before].sum()
        held_after = stitches[rows, slice(ruler.line, columns.stop)].sum()
        fuller = before if held_before > held_after else after
        if fuller.start < fuller.stop:
            columns = fuller
    return columns


def _without_key(place: Place, stitches: np.ndarray, note: np.ndarray) -> Place:
    """The place without an outermost line of a few cells that have a word beside each."""
    rows, columns = place
    columns = _without_key_columns(columns, rows, stitches, note)
    rows = _without_key_columns(rows, columns, stitches.T, note.T)
    return rows, columns


def _without_key_columns(
    columns: slice,
    rows: slice,
    stitches: np.ndarray,
    note: np.ndarray,
) -> slice:
    first, last = columns.start, columns.stop - 1
    right = min(last + 1, note.shape[1] - 1)
    if first < last and _is_key(stitches[rows, last], note[rows, right]):
        last -= 1
    left = max(first - 1, 0)
    if first < last and _is_key(stitches[rows, first], note[rows, left]):
        first += 1
    return slice(first, last + 1)


def _is_key(line: np.ndarray, words: np.ndarray) -> bool:
    """Whether a line has few cells, each with a word beside it."""
    has_few = line.mean() < HALF
    return bool(has_few and (words >= line).all())


def _fitted(place: Place, held: np.ndarray, rulers: Rulers) -> Place:
    """The place from the first to the last number of its rulers, and no farther than it holds."""
    rows, columns = place
    rows = _fitted_rows(rows, columns, held, rulers.sides)
    columns = _fitted_rows(columns, rows, held.T, rulers.ends)
    return rows, columns


def _fitted_rows(
    rows: slice,
    columns: slice,
    held: np.ndarray,
    rulers: list[Ruler],
) -> slice:
    in_use = np.flatnonzero(held[rows, columns].any(axis=1)) + rows.start
    if not rulers or not len(in_use):
        return rows
    first, last = int(in_use[0]), int(in_use[-1])
    # A ruler of every fifth number may have four more stitches at either end.
    least = min(ruler.lo - ruler.every + 1 for ruler in rulers)
    most = max(ruler.hi + ruler.every - 1 for ruler in rulers)
    start = max(rows.start, min(least, first))
    stop = min(rows.stop, max(most, last + 1))
    # What is numbered is in the chart, even if it is blank.
    for ruler in rulers:
        start = min(start, ruler.lo)
        stop = max(stop, ruler.hi)
    return slice(start, stop)


def _stands_on_blanks(page: Page, place: Place) -> bool:
    """Whether blank cells within and round about the place are its ground."""
    fill = page.fill[place]
    filled = fill != ""
    keys = np.where(filled, fill, page.text[place])
    if _has_one_key(keys):
        return True
    if not (keys == "").any():
        return False
    way = "fills" if filled.any() else "letters"
    return blanks_are(keys, page.ruled[place], way=way) == "ground"


def _has_one_key(keys: np.ndarray) -> bool:
    """Whether only one thing stands in the cells that are not blank."""
    return len(set(keys.ravel().tolist()) - {""}) == 1


def _with_parts(place: Place, parts: list[Place], rulers: Rulers) -> Place:
    """The place with the patches round about that no ruler keeps apart from it."""
    rows, columns = place
    for part_rows, part_columns in parts:
        joined_rows = _hull(rows, part_rows)
        joined_columns = _hull(columns, part_columns)
        between = [ruler for ruler in rulers.sides if ruler.crosses(joined_columns)]
        between += [ruler for ruler in rulers.ends if ruler.crosses(joined_rows)]
        if not between:
            rows, columns = joined_rows, joined_columns
    return rows, columns


def _hull(span: slice, part: slice) -> slice:
    start = min(span.start, part.start)
    stop = max(span.stop, part.stop)
    return slice(start, stop)


def blanks_are(keys: np.ndarray, ruled: np.ndarray, *, way: str) -> str:
    """Whether blank cells are the "ground" or "no stitch".

    `keys` tells the yarns apart, "" for a blank; `ruled` has the cells with a border; `way` says
    whether the keys are "letters" or "fills".
    """
    blank = keys == ""
    # Where the chart is framed, what lies outside of the frame is none of it.
    if ruled[~blank].any() and ruled[blank].mean() < HALF:
        return "no stitch"
    # A sheet without a fill is white ground; so is all that is beside one only sign.
    if way == "fills" or _has_one_key(keys):
        return "ground"
    # Among several letters blanks are ground if they are most, or stand between letters.
    seen = np.logical_or.accumulate
    after_letter = seen(~blank, axis=1)
    before_letter = np.fliplr(seen(np.fliplr(~blank), axis=1))
    between = blank & after_letter & before_letter
    if blank.mean() > HALF or between.any():
        return "ground"
    return "no stitch"
