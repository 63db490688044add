"""A spreadsheet read as a chart: where it stands, what its letters and fills mean, and what stays in doubt.

Numbers that count along a line of a page are rulers; texts that stand there once or twice are titles, keys and notes; of the
rest the largest patch of cells is the chart, widened to its rulers. What was chosen is said in notes, and what the page does
not tell is taken one way, said, and put as a question.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from string import ascii_uppercase

import numpy as np
from coloraide import Color
from openpyxl.utils import get_column_letter, range_boundaries
from scipy import ndimage

from planner.chart import LETTER, NO_STITCH, Chart
from planner.errors import PlanError
from planner.findings import ALIKE
from planner.pages import Page, read_pages
from planner.units import counted

MOST_ROWS, MOST_STITCHES, MOST_YARNS = 2000, 1000, 60
SAME = 3  # CIEDE2000: fills nearer than this are one yarn
NOTE = 4  # a text of more than three letters that stands on a page fewer times than this is a note, not a stitch
REACH = 3  # rows or columns: a ruler stands no farther from its chart
NUMBER = re.compile(r"(?:(?:row|round|rnd|r|st)\.?\s*)?(\d{1,4})\s*[.:)]?\s*\(?(?:RS|WS)?\)?", re.IGNORECASE)
ASIDES = {"rs", "ws", "row", "rnd", "key", "st", "sts"}  # notes, on a page with rulers
CHOICES = {
    "by": ("letters", "fills"),
    "row_1": ("bottom", "top"),
    "blanks": ("ground", "no stitch"),
    "hidden": ("left out", "kept"),
}


@dataclass(frozen=True)
class Question:
    """What a sheet does not tell: the argument of `read_sheet` that settles it, the question, its answers, the one taken."""

    setting: str
    words: str
    choices: tuple[str, ...]
    taken: str


@dataclass(frozen=True)
class SheetChart:
    """The chart found on a sheet. `colours` (#rrggbb) of the letters whose colour the sheet shows; `area` its cells
    ("C4:AF33"); `sheets` all sheets of the file; `notes` what was chosen, in words; `asks` what is in doubt."""

    chart: Chart
    colours: Mapping[str, str]
    notes: tuple[str, ...]
    asks: tuple[Question, ...]
    sheet: str
    area: str
    sheets: tuple[str, ...]


@dataclass(frozen=True)
class Ruler:
    """Numbers that count along a line: the line, the places lo..hi − 1 that they stand for, whether they grow."""

    line: int
    lo: int
    hi: int
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


def read_sheet(
    data: bytes,
    name: str,
    *,
    sheet: str | None = None,
    area: str | None = None,
    by: str | None = None,
    row_1: str | None = None,
    blanks: str | None = None,
    hidden: str = "left out",
    yarns: Mapping[str, str] | None = None,
) -> SheetChart:
    """The chart in a workbook or a text file called `name`. What is None is found out: the `sheet`, its `area` ("C4:AF33"), whether
    stitches go `by` "letters" or "fills", where row 1 is ("bottom", "top"), whether `blanks` are "ground" or "no stitch".
    `yarns`, colours by letter, give their letters to fills that look like them. PlanError where there is no chart to be had."""
    for setting, value in {"by": by, "row_1": row_1, "blanks": blanks, "hidden": hidden}.items():
        if value is not None and value not in CHOICES[setting]:
            raise PlanError(f'{setting} is "{value}"; it is {" or ".join(CHOICES[setting])}.')
    pages, notes = read_pages(data, name)
    asks: list[Question] = []

    def ask(setting, words, taken, choices=None):
        asks.append(Question(setting, words, choices or CHOICES[setting], taken))

    page, found = _choose(pages, name, sheet, area, hidden, ask)
    rows, columns = found.place
    height, width = rows.stop - rows.start, columns.stop - columns.start
    first, last = page.cell(rows.start, columns.start), page.cell(rows.stop - 1, columns.stop - 1)
    if height > MOST_ROWS or width > MOST_STITCHES:
        raise PlanError(
            f"{name} holds {counted(width, 'stitch')} × {counted(height, 'row')} in cells {first} to {last}; a chart here has at most "
            f"{MOST_STITCHES:,} × {MOST_ROWS:,}. Name a smaller area."
        )
    for (r, c), trouble in page.troubles.items():
        if r in page.rows[rows] and c in page.columns[columns]:
            raise PlanError(f"{name}: cell {get_column_letter(c + 1)}{r + 1} {trouble}.")

    text, fill = page.text[found.place], page.fill[found.place]
    keys, labels, way = _keys(text, fill, by, name, notes, ask)
    if (keys == "").any():
        taken = blanks or _blanks(keys, page.ruled[found.place], way)
        where = page.cell(*(int(at[0]) + cut.start for at, cut in zip(np.nonzero(keys == ""), found.place, strict=True)))
        what = "stitches of the ground" if taken == "ground" else "no stitches"
        notes.append(f"{counted(int((keys == '').sum()), 'blank cell')} (the first is {where}) were taken as {what}.")
        if blanks is None:
            ask("blanks", "Are blank cells stitches of the ground, or no stitches?", taken)
        if taken == "no stitch":
            keys[keys == ""] = NO_STITCH
    letters, colours = _letters(keys, labels, fill, yarns or {}, name, notes)

    top = found.sides[0].grows if found.sides else False
    if row_1:
        top = row_1 == "top"
    elif not found.sides:
        ask("row_1", "No numbers say where row 1 is. Is it at the bottom or at the top?", "bottom")
    cells = np.vectorize(letters.get, otypes=[object])(keys)
    order = -1 if top else 1
    chart = Chart.from_rows(cells[::order].tolist(), source=name, lines=(page.rows[rows] + 1)[::order].tolist())
    notes = [
        (f"Taken from sheet '{page.title}', " if page.title else "Taken from ")
        + f"cells {first} to {last} ({counted(width, 'stitch')} × {counted(height, 'row')}), by their {way}.",
        *_surroundings(page, found, hidden),
        *notes,
        f"Row 1 is at the {'top' if top else 'bottom'}, {'as you say' if row_1 else 'as the numbers say' if found.sides else 'as is usual'}"
        + ("; the rows were turned over, each reads as it stands." if top else "."),
    ]
    return SheetChart(chart, colours, tuple(notes), tuple(asks), page.title, f"{first}:{last}", tuple(p.title for p in pages))


def _choose(pages: list[Page], name: str, sheet, area, hidden, ask) -> tuple[Page, Found]:
    """The page with the largest chart, or the one asked for, and the place of the chart on it."""
    titles = [page.title for page in pages]
    if sheet is not None and sheet not in titles:
        raise PlanError(f"{name} has no sheet '{sheet}'. Its sheets are: {', '.join(titles)}.")
    wanted = [page for page in pages if sheet in (None, page.title) and (page.shown or sheet is not None)] or pages
    wanted = [page.without_hidden() if hidden == "left out" else page for page in wanted]
    charts = [(page, found) for page in wanted if (found := _find(page, area))]
    if not charts:
        where = f"sheet '{sheet}' of {name}" if sheet else name
        raise PlanError(
            f"There is no chart in {where}{f', cells {area}' if area else ''}. A chart has a letter or a fill in each cell."
        )
    most = max(found.cells for _, found in charts)
    rivals = [(page, found) for page, found in charts if 4 * found.cells >= most]
    if len(rivals) > 1:
        titles = tuple(page.title for page, _ in rivals)
        ask("sheet", "More than one sheet may hold a chart. Which one?", titles[0], titles)
    return rivals[0]


def _find(page: Page, area: str | None) -> Found | None:
    said = Counter(page.text[page.first].tolist())
    numbers = {text: int(match[1]) for text in said if (match := NUMBER.fullmatch(text))}
    number = np.vectorize(lambda text: numbers.get(text, -1), otypes=[int])(page.text) if page.text.size else np.zeros((0, 0), int)
    sides, ends = _rulers(number, page.rows), _rulers(number.T, page.columns)
    ruled = bool(sides or ends)
    notes = {t for t in said if (len(t) > 3 and said[t] < NOTE and t not in numbers) or (ruled and t.lower() in ASIDES)}
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
        return out | digits if digits.sum() > 3 * (marks & free).sum() else out & ((number < 0) | (page.fill != ""))

    cells = body(sides, ends)
    if not cells.any():
        sides, ends, cells = [], [], body([], [])
    sides, ends = _outside(sides, cells), _outside(ends, cells.T)
    cells = body(sides, ends)
    if area:
        place = _named(area, page)
    elif cells.any():
        place, sides, ends = _patch(page, cells, note, sides, ends)
    else:
        return None
    outside = cells | note
    outside[place] = False
    elsewhere = [page.cell(r, c) for r, c in np.argwhere(outside & page.first)]
    count = int(((cells | (page.text != "")) if area else cells)[place].sum())
    return Found(place, count, _near(sides, place), _near(ends, place[::-1]), elsewhere) if count else None


def _named(area: str, page: Page) -> tuple[slice, slice]:
    """The rows and columns of an area such as "C4:AF33"."""
    try:
        left, top, right, bottom = range_boundaries(area.upper().strip())
        spans = (page.rows, top - 1, bottom), (page.columns, left - 1, right)
    except (ValueError, TypeError):
        raise PlanError(f'The area is "{area}"; write its first and last cell, such as C4:AF33.') from None
    return tuple(slice(*np.searchsorted(own, (lo, hi)).tolist()) for own, lo, hi in spans)


def _rulers(number: np.ndarray, places: np.ndarray) -> list[Ruler]:
    """The stretches of each column of `number` (−1: none) that count by one step; `places` are the rows' own numbers."""
    rulers = []
    for line in np.flatnonzero((number >= 0).sum(axis=0) > 1).tolist():
        at = np.flatnonzero(number[:, line] >= 0)
        steps = np.diff(number[at, line]) / np.diff(places[at])
        step = Counter(steps.tolist()).most_common(1)[0][0]
        # A misprint or a jump at hidden rows leaves it a ruler; two numbers alone are one only with the right gap (10, 20).
        if step == 0 or (steps == step).mean() < 0.8 or (len(at) == 2 and (abs(step) != 1 or at[1] == at[0] + 1)):
            continue
        for part in np.split(at, np.flatnonzero(steps != step) + 1):
            if len(part) > 1:
                lo, hi, least = int(part[0]), int(part[-1]) + 1, int(number[part, line].min())
                if least <= abs(int(number[part[1], line] - number[part[0], line])):  # 5, 10, 15: the chart begins at 1
                    short = round((least - 1) / abs(step))
                    lo, hi = (max(0, lo - short), hi) if step > 0 else (lo, min(len(places), hi + short))
                rulers.append(Ruler(line, lo, hi, step > 0))
    return rulers


def _outside(rulers: list[Ruler], cells: np.ndarray) -> list[Ruler]:
    """Those rulers that do not run between stitches: what counts up inside a chart is the chart."""
    padded = np.pad(cells, ((0, 0), (1, 1)))
    return [r for r in rulers if padded[r.lo : r.hi, [r.line, r.line + 2]].mean(axis=0).min() <= 0.5]


def _near(rulers: list[Ruler], place: tuple[slice, slice]) -> list[Ruler]:
    """The rulers within reach of a place."""
    along, across = place
    near = [r for r in rulers if across.start - REACH <= r.line < across.stop + REACH]
    return [r for r in near if r.lo < along.stop and r.hi > along.start]


def _patch(page: Page, cells: np.ndarray, note: np.ndarray, sides: list[Ruler], ends: list[Ruler]):
    """The largest patch of cells, cut at the rulers that cross it and widened to their ends; and, where blanks are its ground,
    the patches round about. With the rulers that count for it."""
    patches, _ = ndimage.label(cells, np.ones((3, 3)))
    boxes = ndimage.find_objects(patches)
    largest = int(np.bincount(patches.ravel())[1:].argmax())
    place = list(boxes[largest])
    for axis, rulers in ((1, sides), (0, ends)):
        for ruler in _near(rulers, (place[1 - axis], place[axis])):
            if place[axis].start <= ruler.line < place[axis].stop:
                before, after = slice(place[axis].start, ruler.line), slice(ruler.line + 1, place[axis].stop)
                held = cells[tuple(place)].sum(axis=1 - axis)
                at = ruler.line - place[axis].start
                place[axis] = before if held[:at].sum() > held[at:].sum() else after
    sides, ends = _near(sides, place), _near(ends, place[::-1])
    for axis, rulers in ((0, sides), (1, ends)):
        place[axis] = slice(min([place[axis].start, *(r.lo for r in rulers)]), max([place[axis].stop, *(r.hi for r in rulers)]))

    keys = np.where(page.fill != "", page.fill, page.text)[tuple(place)]
    way = "fills" if (page.fill[tuple(place)] != "").any() else "letters"
    blank = keys == ""
    if len(set(keys[~blank].tolist())) == 1 or (blank.any() and _blanks(keys, page.ruled[tuple(place)], way) == "ground"):
        keyed = set(patches[ndimage.binary_dilation(note, np.ones((3, 3)))].tolist())  # beside words: a key
        lines = [(1, r.line) for r in sides] + [(0, r.line) for r in ends]
        for i, box in enumerate(boxes, 1):
            joined = [slice(min(a.start, b.start), max(a.stop, b.stop)) for a, b in zip(place, box, strict=True)]
            if i not in keyed and not any(joined[axis].start <= line < joined[axis].stop for axis, line in lines):
                place = joined
    return tuple(place), sides, ends


def _blanks(keys: np.ndarray, ruled: np.ndarray, way: str) -> str:
    """Whether blank cells are the ground or no stitches. Outside the ruled cells they are none; a sheet without a fill is white
    ground; among letters blanks are ground if they are more than half, or the only other thing, or stand between letters."""
    blank = keys == ""
    if ruled[~blank].any() and ruled[blank].mean() < 0.5:
        return "no stitch"
    between = blank & np.logical_or.accumulate(~blank, 1) & np.logical_or.accumulate(~blank[:, ::-1], 1)[:, ::-1]
    one = len(set(keys[~blank].tolist())) == 1
    return "ground" if "fills" in way or one or blank.mean() > 0.5 or between.any() else "no stitch"


def _keys(text: np.ndarray, fill: np.ndarray, by, name: str, notes: list[str], ask):
    """What tells the yarns apart, cell by cell: its text, its fill, "" or "."; the text that goes with each; and which way."""
    stop, lettered, filled = text == NO_STITCH, (text != "") & (text != NO_STITCH), fill != ""
    for given, there in (("letters", lettered), ("fills", filled)):
        if by == given and not there.any():
            raise PlanError(f"The chart in {name} has no {given}. Read it by its {CHOICES['by'][given == 'letters']}.")

    def pairs():
        return set(zip(text[lettered].tolist(), fill[lettered].tolist(), strict=True))

    def agree():
        colours = [colour for _, colour in pairs() if colour]
        some = (~filled & lettered).any() and (~filled & ~lettered & ~stop).any()
        return len(pairs()) == len({t for t, _ in pairs()}) and len(colours) == len(set(colours)) and not (filled.any() and some)

    if by == "fills" or not (lettered.any() and agree()):
        if by != "letters":
            shades = _shades(fill, name)
            alike = [f"{shade} ({other})" for shade, other in shades.items() if shade != other]
            if alike:
                notes.append(f"Fills that hardly differ from another were taken as that one: {_listed(alike)}.")
            fill = np.vectorize(shades.get, otypes=[object])(fill)
        if by is None and not agree():
            by = "letters" if 2 * lettered.sum() >= (lettered | filled & ~stop).sum() else "fills"
            ask("by", "Letters and fills do not go together. Which of them are the yarns?", by)
            notes.append(f"Letters and fills do not go together; the {by} were taken.")
    if by == "letters":
        return np.where(text != "", text, fill).astype(object), {t: t for t, _ in pairs()}, by
    keys = np.where(stop, NO_STITCH, np.where(~filled & agree(), text, fill)).astype(object)
    ways = [way for way, there in (("letters", lettered), ("fills", filled)) if there.any()]
    return keys, {(f or t): t for t, f in pairs()} if agree() else {}, by or " and ".join(ways) or "letters"


def _shades(fill: np.ndarray, name: str) -> dict[str, str]:
    """Each fill and the commoner one it hardly differs from, or itself."""
    counts = Counter(fill.ravel().tolist())
    shades, kept = {"": ""}, {}
    for shade in [shade for shade, _ in counts.most_common() if shade]:
        colour = Color(shade)
        near = ((colour.delta_e(other, method="2000"), known) for known, other in kept.items())
        distance, known = min(near, default=(SAME, ""))
        shades[shade] = known if distance < SAME else shade
        if distance >= SAME:
            kept[shade] = colour
        if len(kept) > MOST_YARNS:
            _refuse_crowd(len(counts) - ("" in counts), "fills", name)
    return {shade: shades[shade] for shade in counts}


def _refuse_crowd(number: int, what: str, name: str):
    raise PlanError(
        f"{name} has {number:,} different {what}, more yarns than anybody knits (here at most {MOST_YARNS}). If it is a picture in "
        "cells, load it as a picture, which brings the colours down to your yarns; if the chart is only a part, name its area."
    )


def _letters(keys: np.ndarray, labels: Mapping[str, str], fill: np.ndarray, yarns: Mapping[str, str], name: str, notes: list[str]):
    """A yarn letter for each key, commonest first, and the colours of the letters: a key's own letter, else that of the yarn it
    looks like, else a free one."""
    kinds = [key for key, _ in Counter(keys.ravel().tolist()).most_common() if key != NO_STITCH]
    if len(kinds) > MOST_YARNS:
        _refuse_crowd(len(kinds), "letters or signs", name)
    colours = {}
    for key in kinds:
        shown = Counter(fill[keys == key].tolist()).most_common(1)[0][0] or ("#ffffff" if key == "" else "")
        if shown or (named := Color.match(labels.get(key, "").replace(" ", ""), fullmatch=True)):
            colours[key] = shown or named.color.convert("srgb").to_string(hex=True, alpha=False)
    letters = {key: labels[key] for key in kinds if LETTER.fullmatch(labels.get(key, ""))}
    likeness = sorted(
        (distance, key, letter)
        for key, (letter, yarn) in product(colours, yarns.items())
        if key not in letters and (distance := Color(colours[key]).delta_e(yarn, method="2000")) < ALIKE
    )
    for _, key, letter in likeness:
        if key not in letters and letter not in letters.values():
            letters[key] = letter
    taken = {*yarns, *letters.values()}
    free = (a + b for a, b in product(["", *ascii_uppercase], ascii_uppercase))
    for key in kinds:
        if key not in letters:
            initial = labels.get(key, "")[:1].upper()
            new = initial if LETTER.fullmatch(initial) and initial not in taken else next(one for one in free if one not in taken)
            letters[key] = new
            taken.add(new)
    new = [key for key in kinds if letters[key] != labels.get(key)]
    said = [f'"{labels[key][:20]}"' if labels.get(key) else key or "blank" for key in new]
    if new:
        notes.append(f"Letters given: {_listed([f'{what} is {letters[key]}' for what, key in zip(said, new, strict=True)])}.")
    cases = [letter for letter in letters.values() if letter.lower() in letters.values() and letter.lower() != letter]
    if cases:
        notes.append(f"Capitals count: {_listed([f'{letter} and {letter.lower()}' for letter in sorted(cases)])} are two yarns.")
    return letters | {NO_STITCH: NO_STITCH}, {letters[key]: colour for key, colour in colours.items()}


def _listed(things: list[str], most: int = 12) -> str:
    return ", ".join(things[:most]) + (f" and {len(things) - most} more" if len(things) > most else "")


def _surroundings(page: Page, found: Found, hidden: str) -> list[str]:
    """What stands round the chart and within it, and what became of it."""
    says = []
    columns = sorted({get_column_letter(int(page.columns[r.line]) + 1) for r in found.sides})
    rows = sorted({int(page.rows[r.line]) + 1 for r in found.ends})
    lines = [f"column {c}" for c in columns] + [f"row {r}" for r in rows]
    if lines:
        text = " and ".join(lines) + (" hold numbers and were left out." if len(lines) > 1 else " holds numbers and was left out.")
        says.append(text[0].upper() + text[1:])
    spans = ((own[cut.start], own[cut.stop - 1]) for own, cut in zip((page.rows, page.columns), found.place, strict=True))
    within = [int(((out >= lo) & (out <= hi)).sum()) for out, (lo, hi) in zip(page.hidden, spans, strict=True)]
    if any(within):
        what = " and ".join(counted(n, noun) for n, noun in zip(within, ("hidden row", "hidden column"), strict=True) if n)
        says.append(f"{what} {'was' if sum(within) == 1 else 'were'} {hidden}.")
    if not page.first[found.place].all():
        says.append("Merged cells count as the stitches they span.")
    if found.elsewhere:
        says.append(f"Other cells hold titles, a key or notes and were left out: {_listed(found.elsewhere, 6)}.")
    return says
