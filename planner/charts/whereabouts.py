"""Where on a page the chart stands, among its rulers, title, key and notes.

Numbers that count along a line of a page are rulers; texts that stand there once or twice are titles, keys and notes; of the
rest the largest patch of cells is the chart, widened to its rulers.
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

NOTE = 4  # a text of more than three letters that stands on a page fewer times than this is a note, not a stitch
REACH = 3  # rows or columns: a ruler stands no farther from its chart
NUMBER = re.compile(
    r"(?:(?:row|round|rnd|r|st)\.?\s*)?(\d{1,4})\s*[.:)]?\s*\(?(?:RS|WS)?\)?", re.IGNORECASE
)
WHITE = "#ffffff"
ASIDES = {"rs", "ws", "row", "rnd", "key", "st", "sts"}  # notes, on a page with rulers


@dataclass(frozen=True)
class Ruler:
    """Numbers that count along a line: the line, the places lo..hi − 1 that they stand for, how many each, whether they grow."""

    line: int
    lo: int
    hi: int
    every: int
    grows: bool


@dataclass(frozen=True, eq=False)
class Found:
    """The chart on a page: its place (rows, columns), how many cells spoke for it, the rulers at its sides and above or below
    it, and cells elsewhere that hold something."""

    place: tuple[slice, slice]
    cells: int
    sides: list[Ruler]
    ends: list[Ruler]
    elsewhere: list[str]


def find_chart(page: Page, area: str | None) -> Found | None:
    """The place of the chart on a page, which is found out or given ("C4:AF33"); None if nothing is there."""
    said = Counter(page.text[page.first].tolist())
    numbers = {text: int(match[1]) for text in said if (match := NUMBER.fullmatch(text))}
    number = (
        np.vectorize(lambda text: numbers.get(text, -1), otypes=[int])(page.text)
        if page.text.size
        else np.zeros((0, 0), int)
    )
    sides, ends = _rulers(number, page.rows), _rulers(number.T, page.columns)
    ruled = bool(sides or ends)
    notes = {
        t
        for t in said
        if (len(t) > 3 and said[t] < NOTE and t not in numbers) or (ruled and t.lower() in ASIDES)
    }
    note = np.isin(page.text, list(notes)) if notes else np.zeros(page.text.shape, bool)

    def body(sides, ends):
        marks = ((page.text != "") & (number < 0) | (page.fill != "")) & ~note
        free = np.ones(marks.shape, bool)
        for ruler in sides:
            free[ruler.lo : ruler.hi, ruler.line] = False
        for ruler in ends:
            free[ruler.line, ruler.lo : ruler.hi] = False
        digits = (number >= 0) & free  # colours written 1, 2, 3, or only numbers here and there
        out = (marks | page.ruled & ~note) & free
        return (
            out | digits
            if digits.sum() > 3 * (marks & free).sum()
            else out & ((number < 0) | (page.fill != ""))
        )

    cells = body(sides, ends)
    if not cells.any():
        sides, ends, cells = [], [], body([], [])
    plain = (page.text == "") & np.isin(
        page.fill, ["", WHITE]
    )  # also a sheet painted white all over
    sides, ends = (
        _outside(sides, cells & ~plain, page.fill),
        _outside(ends, (cells & ~plain).T, page.fill.T),
    )
    cells = body(sides, ends)
    if area:
        place = _named(area, page)
    elif cells.any():
        place, sides, ends = _patch(page, cells, note, plain, sides, ends)
    else:
        return None
    outside = (cells & ~plain) | note
    outside[place] = False
    elsewhere = [page.cell(r, c) for r, c in np.argwhere(outside & page.first)]
    count = int(((page.text != "") | (page.fill != ""))[place].sum())
    return (
        Found(place, count, _near(sides, place), _near(ends, place[::-1]), elsewhere)
        if count
        else None
    )


def _named(area: str, page: Page) -> tuple[slice, slice]:
    """The rows and columns of an area such as "C4:AF33"."""
    try:
        left, top, right, bottom = range_boundaries(area.upper().strip())
        spans = (page.rows, top - 1, bottom), (page.columns, left - 1, right)
    except (ValueError, TypeError):
        raise PlanError(
            f'The area is "{area}"; write its first and last cell, such as C4:AF33.'
        ) from None
    return tuple(slice(*np.searchsorted(own, (lo, hi)).tolist()) for own, lo, hi in spans)


def _rulers(number: np.ndarray, places: np.ndarray) -> list[Ruler]:
    """The stretches of each column of `number` (−1: none) that count by one step; `places` are the rows' own numbers."""
    rulers = []
    for line in np.flatnonzero((number >= 0).sum(axis=0) > 1).tolist():
        at = np.flatnonzero(number[:, line] >= 0)
        steps = np.diff(number[at, line]) / np.diff(places[at])
        step = Counter(steps.tolist()).most_common(1)[0][0]
        # A misprint or a jump at hidden rows leaves it a ruler; two numbers alone are one only with the right gap (10, 20).
        if (
            step == 0
            or (steps == step).mean() < 0.8
            or (len(at) == 2 and (abs(step) != 1 or at[1] == at[0] + 1))
        ):
            continue
        for part in np.split(at, np.flatnonzero(steps != step) + 1):
            if len(part) > 1:
                lo, hi, least = int(part[0]), int(part[-1]) + 1, int(number[part, line].min())
                if least <= abs(
                    int(number[part[1], line] - number[part[0], line])
                ):  # 5, 10, 15: the chart begins at 1
                    short = round((least - 1) / abs(step))
                    lo, hi = (
                        (max(0, lo - short), hi) if step > 0 else (lo, min(len(places), hi + short))
                    )
                rulers.append(Ruler(line, lo, hi, int(part[1] - part[0]), step > 0))
    return rulers


def _outside(rulers: list[Ruler], cells: np.ndarray, fill: np.ndarray) -> list[Ruler]:
    """Those rulers that do not run between stitches, nor on the fills of the stitches beside them: what counts up inside a chart
    is no ruler."""
    cells, fill = (
        np.pad(cells, ((0, 0), (1, 1))),
        np.pad(fill, ((0, 0), (1, 1)), constant_values=""),
    )

    def is_inside(ruler):
        beside = slice(ruler.lo, ruler.hi), [ruler.line, ruler.line + 2]
        own = fill[ruler.lo : ruler.hi, ruler.line + 1, None]
        tinted = ~np.isin(own, ["", WHITE])
        return (
            cells[beside].mean(axis=0).min() > 0.5
            or (tinted & (fill[beside] == own)).mean(axis=0).max() > 0.5
        )

    return [ruler for ruler in rulers if not is_inside(ruler)]


def _near(rulers: list[Ruler], place: tuple[slice, slice]) -> list[Ruler]:
    """The rulers within reach of a place."""
    along, across = place
    near = [r for r in rulers if across.start - REACH <= r.line < across.stop + REACH]
    return [r for r in near if r.lo < along.stop and r.hi > along.start]


def _patch(
    page: Page,
    cells: np.ndarray,
    note: np.ndarray,
    plain: np.ndarray,
    sides: list[Ruler],
    ends: list[Ruler],
):
    """The largest patch of cells without a key that touches it, cut at the rulers that cross it and fitted between their ends;
    and, where blanks are its ground, the patches round about. With the rulers that count for it."""
    patches, _ = ndimage.label(cells, np.ones((3, 3)))
    boxes = ndimage.find_objects(patches)
    largest = int(np.bincount(patches.ravel())[1:].argmax())
    place = list(boxes[largest])
    for axis, rulers in ((1, sides), (0, ends)):
        for ruler in _near(rulers, (place[1 - axis], place[axis])):
            if place[axis].start <= ruler.line < place[axis].stop:
                before, after = (
                    slice(place[axis].start, ruler.line),
                    slice(ruler.line + 1, place[axis].stop),
                )
                held = (cells & ~plain)[tuple(place)].sum(axis=1 - axis)
                at = ruler.line - place[axis].start
                place[axis] = before if held[:at].sum() > held[at:].sum() else after
    for axis, edge in ((1, -1), (1, 0), (0, -1), (0, 0)):
        line = cells[tuple(place)].take(edge, axis)
        beyond = place[axis].stop if edge else place[axis].start - 1
        words = note.take([beyond], axis, mode="clip").ravel()[place[1 - axis]]
        if line.mean() < 0.5 and (words >= line).all():  # a few cells, each with a word beside it
            place[axis] = slice(place[axis].start + edge + 1, place[axis].stop + edge)
    sides, ends = _near(sides, place), _near(ends, place[::-1])
    for axis, rulers in ((0, sides), (1, ends)):
        held = place[axis].start + np.flatnonzero((~plain[tuple(place)]).any(axis=1 - axis))
        if rulers and len(held):
            lo, hi = (
                min(r.lo - r.every + 1 for r in rulers),
                max(r.hi + r.every - 1 for r in rulers),
            )
            start, stop = (
                max(place[axis].start, min(lo, held[0])),
                min(place[axis].stop, max(hi, held[-1] + 1)),
            )
            place[axis] = slice(
                min([start, *(r.lo for r in rulers)]), max([stop, *(r.hi for r in rulers)])
            )

    keys = np.where(page.fill != "", page.fill, page.text)[tuple(place)]
    way = "fills" if (page.fill[tuple(place)] != "").any() else "letters"
    blank = keys == ""
    if len(set(keys[~blank].tolist())) == 1 or (
        blank.any() and blanks_are(keys, page.ruled[tuple(place)], way) == "ground"
    ):
        keyed = set(
            patches[ndimage.binary_dilation(note, np.ones((3, 3)))].tolist()
        )  # beside words: a key
        lines = [(1, r.line) for r in sides] + [(0, r.line) for r in ends]
        for i, box in enumerate(boxes, 1):
            joined = [
                slice(min(a.start, b.start), max(a.stop, b.stop))
                for a, b in zip(place, box, strict=True)
            ]
            if i not in keyed and not any(
                joined[axis].start <= line < joined[axis].stop for axis, line in lines
            ):
                place = joined
    return tuple(place), sides, ends


def blanks_are(keys: np.ndarray, ruled: np.ndarray, way: str) -> str:
    """Whether blank cells are the ground or no stitches. Outside the ruled cells they are none; a sheet without a fill is white
    ground; among letters blanks are ground if they are more than half, or the only other thing, or stand between letters."""
    blank = keys == ""
    if ruled[~blank].any() and ruled[blank].mean() < 0.5:
        return "no stitch"
    between = (
        blank
        & np.logical_or.accumulate(~blank, 1)
        & np.logical_or.accumulate(~blank[:, ::-1], 1)[:, ::-1]
    )
    one = len(set(keys[~blank].tolist())) == 1
    return "ground" if way == "fills" or one or blank.mean() > 0.5 or between.any() else "no stitch"
