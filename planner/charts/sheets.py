"""A spreadsheet read as a chart: where it stands, and what its letters and fills mean.

What was chosen is said in notes. What the sheet does not tell is taken one way, said, and put as a
question.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Mapping
from dataclasses import dataclass, field
from itertools import product
from string import ascii_uppercase

import numpy as np
from coloraide import Color
from openpyxl.utils import get_column_letter

from planner.charts.pages import Page, cell_name, read_pages
from planner.charts.rulers import Rulers
from planner.charts.whereabouts import Found, blanks_are, find_chart
from planner.colour import ALIKE, apart
from planner.errors import PlanError
from planner.piece import LETTER, NO_STITCH, Chart
from planner.units import counted

MOST_ROWS = 2000
MOST_STITCHES = 1000
MOST_YARNS_ON_A_SHEET = 60
MOST_LISTED = 12  # things in one note
MOST_CELLS_LISTED = 6
SAME = 3  # CIEDE2000: fills nearer than this are one yarn
WHITE = "#ffffff"
CHOICES = {
    "by": ("letters", "fills"),
    "row_1": ("bottom", "top"),
    "blanks": ("ground", "no stitch"),
    "hidden": ("left out", "kept"),
}


@dataclass(frozen=True)
class Question:
    """What a sheet does not tell.

    The argument of `read_sheet` that settles it, the question, its answers, the one taken.
    """

    setting: str
    words: str
    choices: tuple[str, ...]
    taken: str


@dataclass(frozen=True)
class SheetChart:
    """The chart found on a sheet.

    `colours` (#rrggbb) of the letters whose colour the sheet shows; `area` its cells ("C4:AF33");
    `sheets` all sheets of the file; `notes` what was chosen, in words; `asks` what is in doubt.
    """

    chart: Chart
    colours: Mapping[str, str]
    notes: tuple[str, ...]
    asks: tuple[Question, ...]
    sheet: str
    area: str
    sheets: tuple[str, ...]


@dataclass(frozen=True)
class Answers:
    """What the knitter says of a sheet, by the settings of CHOICES; what is None is found out."""

    by: str | None = None
    row_1: str | None = None
    blanks: str | None = None
    hidden: str | None = None

    def __post_init__(self) -> None:
        for setting, choices in CHOICES.items():
            value = getattr(self, setting)
            if value is not None and value not in choices:
                raise PlanError(f'{setting} is "{value}"; it is {" or ".join(choices)}.')


@dataclass
class Remarks:
    """What is to be said about the reading of a file, while it is read; `name` is the file's."""

    name: str
    notes: list[str]
    asks: list[Question] = field(default_factory=list)

    def ask(
        self, setting: str, words: str, *, taken: str, choices: tuple[str, ...] | None = None
    ) -> None:
        self.asks.append(Question(setting, words, choices or CHOICES[setting], taken))


@dataclass(frozen=True, eq=False)
class Keys:
    """What tells the yarns of a chart apart.

    `grid` has a text or a fill in each cell, "" for a blank and "." for no stitch; `labels` the
    text that goes with each key; `way` says in words which of them they are.
    """

    grid: np.ndarray
    labels: Mapping[str, str]
    way: str


def read_sheet(
    data: bytes,
    name: str,
    *,
    sheet: str | None = None,
    area: str | None = None,
    yarns: Mapping[str, str] | None = None,
    **answers: str | None,
) -> SheetChart:
    """The chart in a workbook or a text file called `name`.

    What is None is found out: the `sheet`, its `area` ("C4:AF33") and the `answers`: whether
    stitches go `by` "letters" or "fills", where `row_1` is ("bottom", "top"), whether `blanks` are
    "ground" or "no stitch", whether `hidden` rows and columns are "left out" or "kept". `yarns`,
    colours by letter, give their letters to fills that look like them.

    Raises PlanError where there is no chart to be had.
    """
    settled = Answers(**answers)
    pages, notes = read_pages(data, name)
    remarks = Remarks(name, notes)
    page, found = _choose(pages, sheet, area, settled, remarks)
    part = page.cut(*found.place)
    _check_size(part, name)
    _check_troubles(part, name)

    keys = _keys(part, settled.by, remarks)
    keys = _settle_blanks(keys, part, settled.blanks, remarks)
    letters, colours = _letters(keys, part.fill, yarns or {}, remarks)
    at_top, because = _row_1(found.rulers, settled.row_1, remarks)

    # A chart is given top row first, as a sheet with row 1 at its bottom has it.
    order = -1 if at_top else 1
    cells = np.vectorize(letters.get, otypes=[object])(keys.grid)[::order]
    lines = (part.rows + 1)[::order]
    chart = Chart.from_rows(cells.tolist(), source=name, lines=lines.tolist())
    first, last = _corners(part)
    where = f"sheet '{page.title}', cells" if page.title else "cells"
    turned = "; the rows were turned over, each reads as it stands." if at_top else "."
    return SheetChart(
        chart=chart,
        colours=colours,
        notes=(
            f"Taken from {where} {first} to {last} ({_size(part)}), by their {keys.way}.",
            *_surroundings(page, part, found, settled),
            *remarks.notes,
            f"Row 1 is at the {'top' if at_top else 'bottom'}, as {because}{turned}",
        ),
        asks=tuple(remarks.asks),
        sheet=page.title,
        area=f"{first}:{last}",
        sheets=tuple(each.title for each in pages),
    )


def _choose(
    pages: list[Page], sheet: str | None, area: str | None, settled: Answers, remarks: Remarks
) -> tuple[Page, Found]:
    """The page with a chart that comes first, or the one asked for, and the chart's place on it."""
    titles = [page.title for page in pages]
    if sheet is not None and sheet not in titles:
        raise PlanError(
            f"{remarks.name} has no sheet '{sheet}'. Its sheets are: {', '.join(titles)}."
        )
    if sheet is not None:
        wanted = [page for page in pages if page.title == sheet]
    else:
        wanted = [page for page in pages if page.shown] or pages

    charts = []
    for page in wanted:
        if settled.hidden != "kept":
            page = page.without_hidden()
        found = find_chart(page, area)
        if found:
            charts.append((page, found))
    if not charts:
        where = f"sheet '{sheet}' of {remarks.name}" if sheet else remarks.name
        cells = f", cells {area}" if area else ""
        raise PlanError(
            f"There is no chart in {where}{cells}. A chart has a letter or a fill in each cell."
        )

    # A swatch or a few notes on another sheet are no rival to a chart.
    most = max(found.cells for _, found in charts)
    rivals = [(page, found) for page, found in charts if 4 * found.cells >= most]
    if len(rivals) > 1:
        choices = tuple(page.title for page, _ in rivals)
        words = "More than one sheet may hold a chart. Which one?"
        remarks.ask("sheet", words, taken=choices[0], choices=choices)
    return rivals[0]


def _corners(part: Page) -> tuple[str, str]:
    """The names of the first and the last cell of a part of a page."""
    height, width = part.text.shape
    return part.cell(0, 0), part.cell(height - 1, width - 1)


def _size(part: Page) -> str:
    height, width = part.text.shape
    return f"{counted(width, 'stitch')} × {counted(height, 'row')}"


def _check_size(part: Page, name: str) -> None:
    height, width = part.text.shape
    if height > MOST_ROWS or width > MOST_STITCHES:
        first, last = _corners(part)
        raise PlanError(
            f"{name} holds {_size(part)} in cells {first} to {last}; "
            f"a chart here has at most {MOST_STITCHES:,} × {MOST_ROWS:,}. Name a smaller area."
        )


def _check_troubles(part: Page, name: str) -> None:
    """Refuse a chart with a cell that cannot be read."""
    for (row, column), trouble in part.troubles.items():
        if row in part.rows and column in part.columns:
            raise PlanError(f"{name}: cell {cell_name(row, column)} {trouble}.")


def _keys(part: Page, by: str | None, remarks: Remarks) -> Keys:
    """What tells the yarns apart, cell by cell, by letters, by fills, or by both together."""
    text, fill = part.text, part.fill
    is_stop = text == NO_STITCH
    filled = fill != ""
    lettered = (text != "") & ~is_stop
    if by == "letters" and not lettered.any():
        raise PlanError(f"The chart in {remarks.name} has no letters. Read it by its fills.")
    if by == "fills" and not filled.any():
        raise PlanError(f"The chart in {remarks.name} has no fills. Read it by its letters.")

    is_full = 2 * lettered.sum() >= (lettered | filled & ~is_stop).sum()
    labels = _together(text, fill, lettered)
    if by == "fills" or (by is None and (labels is None or not lettered.any())):
        # A shade hardly off, by hand or by a copy, is no yarn of its own.
        fill = _without_near_shades(fill, remarks)
        labels = _together(text, fill, lettered)
        if by is None and labels is None:
            # Numbers that do not go with fills count stitches.
            are_counts = filled.any() and all(sign.isdigit() for sign in text[lettered])
            by = "letters" if is_full and not are_counts else "fills"
            words = "Letters and fills do not go together. Which of them are the yarns?"
            remarks.ask("by", words, taken=by)
            remarks.notes.append(f"Letters and fills do not go together; the {by} were taken.")

    if by == "letters":
        grid = np.where(text != "", text, fill).astype(object)
        return Keys(grid, {key: key for key in text[lettered]}, by)
    grid = fill if labels is None else np.where(filled, fill, text)
    grid = np.where(is_stop, NO_STITCH, grid).astype(object)
    ways = ["letters"] if is_full else []
    ways += ["fills"] if filled.any() else []
    return Keys(grid, labels or {}, by or " and ".join(ways))


def _together(text: np.ndarray, fill: np.ndarray, lettered: np.ndarray) -> dict[str, str] | None:
    """The text that goes with each fill, or stands without one; None if they do not go together.

    They do if each text has one fill and each fill one text.
    """
    pairs = set(zip(text[lettered], fill[lettered], strict=True))
    labels = {shade or sign: sign for sign, shade in pairs}
    signs = {sign for sign, _ in pairs}
    if not len(signs) == len(labels) == len(pairs):
        return None
    # Among fills, signs on some of the unfilled cells mean something else than a yarn.
    unfilled = (fill == "") & (text != NO_STITCH)
    some_have_signs = (unfilled & lettered).any() and (unfilled & ~lettered).any()
    return None if (fill != "").any() and some_have_signs else labels


def _without_near_shades(fill: np.ndarray, remarks: Remarks) -> np.ndarray:
    """The fills, each that hardly differs from a commoner one taken as that."""
    shades = _shades(fill, remarks.name)
    alike = [f"{shade} ({known})" for shade, known in shades.items() if shade != known]
    if alike:
        remarks.notes.append(
            f"Fills that hardly differ from another were taken as that one: {_listed(alike)}."
        )
    return np.vectorize(shades.get, otypes=[object])(fill)


def _shades(fill: np.ndarray, name: str) -> dict[str, str]:
    """Each fill and the commoner one it hardly differs from, or itself."""
    counts = Counter(fill.ravel().tolist())
    number = len(counts) - ("" in counts)
    shades = {"": ""}
    distinct: list[str] = []
    for shade, _ in counts.most_common():
        if not shade:
            continue
        near = ((apart(shade, known), known) for known in distinct)
        distance, nearest = min(near, default=(SAME, ""))
        if distance < SAME:
            shades[shade] = nearest
            continue
        shades[shade] = shade
        distinct.append(shade)
        if len(distinct) > MOST_YARNS_ON_A_SHEET:
            _refuse_crowd(number, "fills", name)
    return {shade: shades[shade] for shade in counts}


def _refuse_crowd(number: int, what: str, name: str) -> None:
    raise PlanError(
        f"{name} has {number:,} different {what}, more yarns than anybody knits (here at most "
        f"{MOST_YARNS_ON_A_SHEET}). If it is a picture in cells, load it as a picture, which "
        "brings the colours down to your yarns; if the chart is only a part, name its area."
    )


def _settle_blanks(keys: Keys, part: Page, given: str | None, remarks: Remarks) -> Keys:
    """The keys with blank cells as they were asked for, or else as they are likely to be meant."""
    blank = keys.grid == ""
    if not blank.any():
        return keys
    taken = given or blanks_are(keys.grid, part.ruled, way=keys.way)
    what = "stitches of the ground" if taken == "ground" else "no stitches"
    number = counted(int(blank.sum()), "blank cell")
    first = part.cell(*np.argwhere(blank)[0])
    remarks.notes.append(f"Taken as {what}: {number}, the first {first}.")
    if given is None:
        words = "Are blank cells stitches of the ground, or no stitches?"
        remarks.ask("blanks", words, taken=taken)
    if taken == "ground":
        return keys
    return Keys(np.where(blank, NO_STITCH, keys.grid), keys.labels, keys.way)


def _letters(
    keys: Keys, fill: np.ndarray, yarns: Mapping[str, str], remarks: Remarks
) -> tuple[dict[str, str], dict[str, str]]:
    """A yarn letter for each key, commonest first, and the colours of the letters.

    A key has its own letter, else that of the yarn it looks like, else a free one.
    """
    labels = keys.labels
    colours = _colours(keys, fill)
    if len(colours) > MOST_YARNS_ON_A_SHEET:
        _refuse_crowd(len(colours), "letters or signs", remarks.name)
    letters = {key: labels[key] for key in colours if LETTER.fullmatch(labels.get(key, ""))}
    _add_by_likeness(letters, colours, yarns)

    taken = {*yarns, *letters.values()}
    for key in colours:
        if key not in letters:
            wish = labels.get(key, "")[:1].upper()
            is_free = LETTER.fullmatch(wish) and wish not in taken
            letters[key] = wish if is_free else free_letter(taken)
            taken.add(letters[key])

    remarks.notes += _about_letters(letters, labels, list(colours))
    known = {letters[key]: colour for key, colour in colours.items() if colour}
    return letters | {NO_STITCH: NO_STITCH}, known


def _colours(keys: Keys, fill: np.ndarray) -> dict[str, str]:
    """The colour of each key, commonest key first; "" where the sheet shows none."""
    colours: dict[str, str] = {}
    pairs = zip(keys.grid.ravel().tolist(), fill.ravel().tolist(), strict=True)
    for (key, shade), _ in Counter(pairs).most_common():
        if not shade:
            shade = _colour_named(keys.labels.get(key, "")) or ("" if key else WHITE)
        colours.setdefault(key, shade)
    colours.pop(NO_STITCH, None)
    return colours


def _colour_named(text: str) -> str:
    """The colour (#rrggbb) that a text names, such as light blue; "" if it names none."""
    try:
        named = Color.match(text.replace(" ", ""), fullmatch=True)
        if named is None:
            return ""
        return named.color.convert("srgb").to_string(hex=True, alpha=False)
    except (ValueError, ArithmeticError):  # no colour has such numbers
        return ""


def _add_by_likeness(
    letters: dict[str, str], colours: Mapping[str, str], yarns: Mapping[str, str]
) -> None:
    """Give keys without a letter those of the yarns they look like, the most alike first."""
    alike = []
    for (key, colour), (letter, yarn) in product(colours.items(), yarns.items()):
        if key in letters or not colour:
            continue
        distance = apart(colour, yarn)
        if distance < ALIKE:
            alike.append((distance, key, letter))
    for _, key, letter in sorted(alike):
        if key not in letters and letter not in letters.values():
            letters[key] = letter


def _about_letters(
    letters: Mapping[str, str], labels: Mapping[str, str], keys: list[str]
) -> list[str]:
    """Notes on the letters that are not those of the sheet, or differ by their case only."""
    notes = []
    given = {}
    for key in keys:
        label = labels.get(key)
        what = f'"{label[:20]}"' if label else key or "blank"
        given[what] = letters[key]
    new = [f"{what} is {letter}" for what, letter in given.items() if what.strip('"') != letter]
    if new:
        notes.append(f"Letters given: {_listed(new)}.")

    cases = []
    for letter in sorted(letters.values()):
        small = letter.lower()
        if small != letter and small in letters.values():
            cases.append(f"{letter} and {small}")
    if cases:
        notes.append(f"Capitals count: {_listed(cases)} are two yarns.")
    return notes


def free_letter(taken: Container[str]) -> str:
    """The first letter, A to Z and then AA to ZZ, that is not taken."""
    letters = (first + second for first, second in product(["", *ascii_uppercase], ascii_uppercase))
    return next(letter for letter in letters if letter not in taken)


def _row_1(rulers: Rulers, given: str | None, remarks: Remarks) -> tuple[bool, str]:
    """Whether row 1 is at the top of the sheet, and who says so."""
    if given:
        return given == "top", "you say"
    if rulers.sides:
        return rulers.sides[0].grows, "the numbers say"
    words = "No numbers say where row 1 is. Is it at the bottom or at the top?"
    remarks.ask("row_1", words, taken="bottom")
    return False, "is usual"


def _listed(things: list[str], most: int = MOST_LISTED) -> str:
    more = len(things) - most
    return ", ".join(things[:most]) + (f" and {more} more" if more > 0 else "")


def _surroundings(page: Page, part: Page, found: Found, settled: Answers) -> list[str]:
    """What stands round the chart and within it, and what became of it."""
    notes = _about_rulers(page, found.rulers) + _about_hidden(part, settled)
    if not part.first.all():
        notes.append("Merged cells count as the stitches they span.")
    if found.elsewhere:
        cells = _listed(found.elsewhere, MOST_CELLS_LISTED)
        notes.append(f"Other cells hold titles, a key or notes and were left out: {cells}.")
    return notes


def _about_rulers(page: Page, rulers: Rulers) -> list[str]:
    columns = sorted({int(page.columns[ruler.line]) for ruler in rulers.sides})
    rows = sorted({int(page.rows[ruler.line]) for ruler in rulers.ends})
    lines = [f"column {get_column_letter(column + 1)}" for column in columns]
    lines += [f"row {row + 1}" for row in rows]
    if not lines:
        return []
    what = "hold numbers and were" if len(lines) > 1 else "holds numbers and was"
    text = f"{' and '.join(lines)} {what} left out."
    return [text[0].upper() + text[1:]]


def _about_hidden(part: Page, settled: Answers) -> list[str]:
    """What became of hidden rows and columns between the first and the last of the chart."""
    counts = []
    for hidden, shown in zip(part.hidden, (part.rows, part.columns), strict=True):
        within = (hidden >= shown[0]) & (hidden <= shown[-1])
        counts.append(int(within.sum()))
    if not any(counts):
        return []
    nouns = zip(counts, ("hidden row", "hidden column"), strict=True)
    what = " and ".join(counted(number, noun) for number, noun in nouns if number)
    verb = "was" if sum(counts) == 1 else "were"
    return [f"{what} {verb} {settled.hidden or 'left out'}."]
