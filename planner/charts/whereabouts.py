"""Where on a page the chart stands, among its rulers, title, key and notes.

Numbers that count along a line of a page are rulers; texts that stand there once or twice are
titles, keys and notes; of the rest the largest patch of cells is the chart, widened to its rulers.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np
from openpyxl.utils import range_boundaries
from scipy import ndimage

from planner.charts.pages import Page
from planner.errors import PlanError

# A text of more letters than this that stands on a page fewer times than that is a note.
LONGEST_SIGN = 3
FEWEST_SIGNS = 4
REACH = 3  # rows or columns: a ruler stands no farther from its chart
NUMBER = re.compile(
    r"(?:(?:row|round|rnd|r|st)\.?\s*)?(\d{1,4})\s*[.:)]?\s*\(?(?:RS|WS)?\)?", re.IGNORECASE
)
NO_NUMBER = -1
UNPAINTED = ["", "#ffffff"]
ASIDES = {"rs", "ws", "row", "rnd", "key", "st", "sts"}  # notes, on a page with rulers
ROUND_ABOUT = np.ones((3, 3))  # a cell and its eight neighbours

Place = tuple[slice, slice]  # rows and columns of a page's grids


@dataclass(frozen=True)
class Ruler:
    """Numbers that count along a line.

    The line, the places lo..hi − 1 that they stand for, how many each, whether they grow.
    """

    line: int
    lo: int
    hi: int
    every: int
    grows: bool


@dataclass(frozen=True)
class Rulers:
    """The rulers at the sides of a chart, which count its rows, and those above or below it."""

    sides: list[Ruler]
    ends: list[Ruler]

    def __bool__(self) -> bool:
        return bool(self.sides or self.ends)

    def cover(self, shape: tuple[int, ...]) -> np.ndarray:
        """The cells of a grid that the rulers stand on."""
        covered = np.zeros(shape, bool)
        for ruler in self.sides:
            covered[ruler.lo : ruler.hi, ruler.line] = True
        for ruler in self.ends:
            covered[ruler.line, ruler.lo : ruler.hi] = True
        return covered

    def near(self, place: Place) -> Rulers:
        """The rulers within reach of a place."""
        rows, columns = place
        return Rulers(_near(self.sides, rows, columns), _near(self.ends, columns, rows))


@dataclass(frozen=True, eq=False)
class Found:
    """The chart on a page: its place, how many cells spoke for it, its rulers.

    `elsewhere` names the cells outside that hold something.
    """

    place: Place
    cells: int
    rulers: Rulers
    elsewhere: list[str]


def find_chart(page: Page, area: str | None) -> Found | None:
    """The place of the chart on a page, found out or given ("C4:AF33"); None if nothing is there.

    Raises PlanError where `area` names no cells.
    """
    texts = Counter(page.text[page.first].tolist())
    number = _numbers(page, texts)
    rulers = Rulers(_rulers(number, page.rows), _rulers(number.T, page.columns))
    note = _notes(page, texts, has_rulers=bool(rulers))

    # Where nothing is left beside the rulers, the numbers are the stitches.
    stitches = _stitches(page, number, note, rulers)
    if not stitches.any():
        rulers = Rulers([], [])
        stitches = _stitches(page, number, note, rulers)

    # A sheet may be painted white all over: white without a text is as good as blank.
    plain = (page.text == "") & np.isin(page.fill, UNPAINTED)
    # What counts up inside the chart was no ruler, so its cells are stitches after all.
    rulers = _outside(rulers, stitches & ~plain, page.fill)
    stitches = _stitches(page, number, note, rulers)

    if area:
        place = _named(area, page)
    elif stitches.any():
        place, rulers = _find_place(page, stitches, note, plain, rulers)
    else:
        return None

    count = int(((page.text != "") | (page.fill != ""))[place].sum())
    if not count:
        return None
    outside = (stitches & ~plain) | note
    outside[place] = False
    elsewhere = [page.cell(row, column) for row, column in np.argwhere(outside & page.first)]
    return Found(place, count, rulers.near(place), elsewhere)


def _numbers(page: Page, texts: Counter[str]) -> np.ndarray:
    """The number that each cell holds, alone or as "Row 4 (RS)"; NO_NUMBER for none."""
    numbers = {}
    for text in texts:
        match = NUMBER.fullmatch(text)
        if match:
            numbers[text] = int(match[1])
    number_of = np.vectorize(lambda text: numbers.get(text, NO_NUMBER), otypes=[int])
    return number_of(page.text)


def _notes(page: Page, texts: Counter[str], *, has_rulers: bool) -> np.ndarray:
    """The cells that hold a title, a key's words or a note."""
    notes = []
    for text, times in texts.items():
        is_long = len(text) > LONGEST_SIGN and not NUMBER.fullmatch(text)
        is_aside = has_rulers and text.lower() in ASIDES
        if is_aside or (is_long and times < FEWEST_SIGNS):
            notes.append(text)
    return np.isin(page.text, notes) if notes else np.zeros(page.text.shape, bool)


def _stitches(page: Page, number: np.ndarray, note: np.ndarray, rulers: Rulers) -> np.ndarray:
    """The cells that may be stitches: those with a sign, a fill or a border, on no ruler."""
    is_number = number >= 0
    free = ~rulers.cover(number.shape)
    marked = ((page.text != "") & ~is_number | (page.fill != "")) & ~note & free
    digits = is_number & free
    framed = page.ruled & ~note & free
    # Numbers are colours written 1, 2, 3 if there are many; else they are only here and there.
    if digits.sum() > 3 * marked.sum():
        return marked | framed | digits
    return (marked | framed) & (~is_number | (page.fill != ""))


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


def _rulers(number: np.ndarray, places: np.ndarray) -> list[Ruler]:
    """The stretches of each column of `number` that count by one step, as rulers.

    `places` are the rows' own numbers on the sheet.
    """
    rulers = []
    for line in np.flatnonzero((number >= 0).sum(axis=0) > 1).tolist():
        at = np.flatnonzero(number[:, line] >= 0)
        counts = number[at, line]
        steps = np.diff(counts) / np.diff(places[at])
        step = Counter(steps.tolist()).most_common(1)[0][0]
        # A misprint or a jump at hidden rows leaves it a ruler.
        if step == 0 or (steps == step).mean() < 0.8:
            continue
        # Two numbers alone are one only with the right gap (10, 20).
        if len(at) == 2 and (abs(step) != 1 or at[1] == at[0] + 1):
            continue
        for part in np.split(np.arange(len(at)), np.flatnonzero(steps != step) + 1):
            if len(part) > 1:
                rulers.append(_ruler(line, at[part], counts[part], step, len(places)))
    return rulers


def _ruler(line: int, at: np.ndarray, counts: np.ndarray, step: float, length: int) -> Ruler:
    """The ruler of the numbers `counts` at some places of a line that is `length` cells long."""
    lo, hi = int(at[0]), int(at[-1]) + 1
    least = int(counts.min())
    # 5, 10, 15: the chart begins at 1, before the first number.
    if least <= abs(int(counts[1] - counts[0])):
        before_least = round((least - 1) / abs(step))
        if step > 0:
            lo = max(0, lo - before_least)
        else:
            hi = min(length, hi + before_least)
    return Ruler(line, lo, hi, every=int(at[1] - at[0]), grows=bool(step > 0))


def _outside(rulers: Rulers, stitches: np.ndarray, fill: np.ndarray) -> Rulers:
    """Those rulers that do not run inside the chart, where they would be stitches."""
    sides = [ruler for ruler in rulers.sides if not _is_inside(ruler, stitches, fill)]
    ends = [ruler for ruler in rulers.ends if not _is_inside(ruler, stitches.T, fill.T)]
    return Rulers(sides, ends)


def _is_inside(ruler: Ruler, stitches: np.ndarray, fill: np.ndarray) -> bool:
    """Whether a ruler at a side runs between stitches, or on the fills of those beside it."""
    stitches = np.pad(stitches, ((0, 0), (1, 1)))
    fill = np.pad(fill, ((0, 0), (1, 1)), constant_values="")
    along = slice(ruler.lo, ruler.hi)
    beside = along, [ruler.line, ruler.line + 2]
    own = fill[along, [ruler.line + 1]]
    between = stitches[beside].mean(axis=0).min() > 0.5
    same_fill = (fill[beside] == own) & ~np.isin(own, UNPAINTED)
    return bool(between or same_fill.mean(axis=0).max() > 0.5)


def _near(rulers: list[Ruler], along: slice, across: slice) -> list[Ruler]:
    """The rulers that run beside a place, or through it, within reach."""
    near = []
    for ruler in rulers:
        within_reach = across.start - REACH <= ruler.line < across.stop + REACH
        if within_reach and ruler.lo < along.stop and ruler.hi > along.start:
            near.append(ruler)
    return near


def _find_place(
    page: Page, stitches: np.ndarray, note: np.ndarray, plain: np.ndarray, rulers: Rulers
) -> tuple[Place, Rulers]:
    """The place of the chart among the cells that may be stitches, and the rulers near it."""
    patches, _ = ndimage.label(stitches, ROUND_ABOUT)
    boxes = ndimage.find_objects(patches)
    # The largest patch is the chart; titles, keys and swatches are smaller.
    place: Place = boxes[int(np.bincount(patches.ravel())[1:].argmax())]
    # A key or a second chart may touch it across its own ruler.
    place = _cut_at_rulers(place, stitches & ~plain, rulers)
    # A key may touch it without a ruler between.
    place = _without_key(place, stitches, note)
    # Fill and format may run on beyond it, or its own ground be blank up to the last number.
    rulers = rulers.near(place)
    place = _fitted(place, plain, rulers)
    # On a blank ground the parts of a motif do not touch each other.
    if _stands_on_blanks(page, place):
        beside_words = ndimage.binary_dilation(note, ROUND_ABOUT)
        keys = set(patches[beside_words].tolist())
        parts = [box for number, box in enumerate(boxes, 1) if number not in keys]
        place = _with_parts(place, parts, rulers)
    return place, rulers


def _set_span(place: Place, axis: int, span: slice) -> Place:
    """The place with other rows (axis 0) or other columns (axis 1)."""
    rows, columns = place
    return (span, columns) if axis == 0 else (rows, span)


def _cut_at_rulers(place: Place, stitches: np.ndarray, rulers: Rulers) -> Place:
    """The fuller side of a place at each ruler that crosses it."""
    for axis in (1, 0):
        near = rulers.near(place)
        for ruler in near.sides if axis == 1 else near.ends:
            span = place[axis]
            if not span.start <= ruler.line < span.stop:
                continue
            held = stitches[place].sum(axis=1 - axis)
            at = ruler.line - span.start
            before, after = slice(span.start, ruler.line), slice(ruler.line + 1, span.stop)
            fuller = before if held[:at].sum() > held[at:].sum() else after
            if fuller.start < fuller.stop:
                place = _set_span(place, axis, fuller)
    return place


def _without_key(place: Place, stitches: np.ndarray, note: np.ndarray) -> Place:
    """The place without an outermost line of a few cells that have a word beside each."""
    for axis, edge in ((1, -1), (1, 0), (0, -1), (0, 0)):
        span = place[axis]
        line = stitches[place].take(edge, axis)
        beyond = span.stop if edge else span.start - 1
        words = note.take([beyond], axis, mode="clip").ravel()[place[1 - axis]]
        if line.mean() < 0.5 and (words >= line).all():
            shorter = slice(span.start, span.stop - 1) if edge else slice(span.start + 1, span.stop)
            place = _set_span(place, axis, shorter)
    return place


def _fitted(place: Place, plain: np.ndarray, rulers: Rulers) -> Place:
    """The place from the first to the last number of its rulers, and no farther than it holds."""
    for axis, along in ((0, rulers.sides), (1, rulers.ends)):
        span = place[axis]
        held = span.start + np.flatnonzero((~plain[place]).any(axis=1 - axis))
        if not along or not len(held):
            continue
        # A ruler of every fifth number may have four more stitches at either end.
        lo = min(ruler.lo - ruler.every + 1 for ruler in along)
        hi = max(ruler.hi + ruler.every - 1 for ruler in along)
        start = max(span.start, min(lo, int(held[0])))
        stop = min(span.stop, max(hi, int(held[-1]) + 1))
        start = min(start, *(ruler.lo for ruler in along))
        stop = max(stop, *(ruler.hi for ruler in along))
        place = _set_span(place, axis, slice(start, stop))
    return place


def _stands_on_blanks(page: Page, place: Place) -> bool:
    """Whether blank cells within and round about the place are its ground."""
    fill = page.fill[place]
    keys = np.where(fill != "", fill, page.text[place])
    blank = keys == ""
    if len(set(keys[~blank].tolist())) == 1:
        return True
    way = "fills" if (fill != "").any() else "letters"
    return bool(blank.any()) and blanks_are(keys, page.ruled[place], way=way) == "ground"


def _with_parts(place: Place, parts: list[Place], rulers: Rulers) -> Place:
    """The place with the patches round about that no ruler keeps apart from it."""
    lines = [(1, ruler.line) for ruler in rulers.sides]
    lines += [(0, ruler.line) for ruler in rulers.ends]
    for part in parts:
        joined = _hull(place[0], part[0]), _hull(place[1], part[1])
        crossed = (joined[axis].start <= line < joined[axis].stop for axis, line in lines)
        if not any(crossed):
            place = joined
    return place


def _hull(span: slice, part: slice) -> slice:
    return slice(min(span.start, part.start), max(span.stop, part.stop))


def blanks_are(keys: np.ndarray, ruled: np.ndarray, *, way: str) -> str:
    """Whether blank cells are the "ground" or "no stitch".

    `keys` tells the yarns apart, "" for a blank; `ruled` has the cells with a border; `way` says
    whether the keys are "letters" or "fills".
    """
    blank = keys == ""
    # Where the chart is framed, what lies outside of the frame is none of it.
    if ruled[~blank].any() and ruled[blank].mean() < 0.5:
        return "no stitch"
    # A sheet without a fill is white ground; so is all that is beside one only sign.
    if way == "fills" or len(set(keys[~blank].tolist())) == 1:
        return "ground"
    # Among several letters blanks are ground if they are most, or stand between letters.
    after_letter = np.logical_or.accumulate(~blank, 1)
    before_letter = np.logical_or.accumulate(~blank[:, ::-1], 1)[:, ::-1]
    between = blank & after_letter & before_letter
    return "ground" if blank.mean() > 0.5 or between.any() else "no stitch"
