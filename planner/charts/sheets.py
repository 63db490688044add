"""A spreadsheet read as a chart: where it stands, what its letters and fills mean, and what stays in doubt.

What was chosen is said in notes; what the sheet does not tell is taken one way, said, and put as a question.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Mapping
from dataclasses import dataclass
from itertools import product
from string import ascii_uppercase

import numpy as np
from coloraide import Color
from openpyxl.utils import get_column_letter

from planner.charts.pages import Page, read_pages
from planner.charts.whereabouts import Found, blanks_are, find_chart
from planner.colour import ALIKE
from planner.errors import PlanError
from planner.piece import LETTER, NO_STITCH, Chart
from planner.units import counted

MOST_ROWS, MOST_STITCHES, MOST_YARNS = 2000, 1000, 60
SAME = 3  # CIEDE2000: fills nearer than this are one yarn
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
    size = f"{counted(width, 'stitch')} × {counted(height, 'row')}"
    first, last = page.cell(rows.start, columns.start), page.cell(rows.stop - 1, columns.stop - 1)
    if height > MOST_ROWS or width > MOST_STITCHES:
        raise PlanError(
            f"{name} holds {size} in cells {first} to {last}; a chart here has at most {MOST_STITCHES:,} × {MOST_ROWS:,}. "
            "Name a smaller area."
        )
    for (r, c), trouble in page.troubles.items():
        if r in page.rows[rows] and c in page.columns[columns]:
            raise PlanError(f"{name}: cell {get_column_letter(c + 1)}{r + 1} {trouble}.")

    text, fill = page.text[found.place], page.fill[found.place]
    keys, labels, way = _keys(text, fill, by, name, notes, ask)
    if (keys == "").any():
        taken = blanks or blanks_are(keys, page.ruled[found.place], way=way)
        where = page.cell(
            *(
                int(at[0]) + cut.start
                for at, cut in zip(np.nonzero(keys == ""), found.place, strict=True)
            )
        )
        what = "stitches of the ground" if taken == "ground" else "no stitches"
        notes.append(
            f"Taken as {what}: {counted(int((keys == '').sum()), 'blank cell')}, the first {where}."
        )
        if blanks is None:
            ask("blanks", "Are blank cells stitches of the ground, or no stitches?", taken)
        if taken == "no stitch":
            keys[keys == ""] = NO_STITCH
    letters, colours = _letters(keys, labels, fill, yarns or {}, name, notes)

    top = found.rulers.sides[0].grows if found.rulers.sides else False
    if row_1:
        top = row_1 == "top"
    elif not found.rulers.sides:
        ask("row_1", "No numbers say where row 1 is. Is it at the bottom or at the top?", "bottom")
    because = "you say" if row_1 else "the numbers say" if found.rulers.sides else "is usual"
    cells = np.vectorize(letters.get, otypes=[object])(keys)
    order = -1 if top else 1
    chart = Chart.from_rows(
        cells[::order].tolist(), source=name, lines=(page.rows[rows] + 1)[::order].tolist()
    )
    notes = [
        (f"Taken from sheet '{page.title}', " if page.title else "Taken from ")
        + f"cells {first} to {last} ({size}), by their {way}.",
        *_surroundings(page, found, hidden),
        *notes,
        f"Row 1 is at the {'top' if top else 'bottom'}, as {because}"
        + ("; the rows were turned over, each reads as it stands." if top else "."),
    ]
    return SheetChart(
        chart,
        colours,
        tuple(notes),
        tuple(asks),
        page.title,
        f"{first}:{last}",
        tuple(p.title for p in pages),
    )


def _choose(pages: list[Page], name: str, sheet, area, hidden, ask) -> tuple[Page, Found]:
    """The page with the largest chart, or the one asked for, and the place of the chart on it."""
    titles = [page.title for page in pages]
    if sheet is not None and sheet not in titles:
        raise PlanError(f"{name} has no sheet '{sheet}'. Its sheets are: {', '.join(titles)}.")
    wanted = [
        page for page in pages if sheet in (None, page.title) and (page.shown or sheet is not None)
    ] or pages
    wanted = [page.without_hidden() if hidden == "left out" else page for page in wanted]
    charts = [(page, found) for page in wanted if (found := find_chart(page, area))]
    if not charts:
        where = f"sheet '{sheet}' of {name}" if sheet else name
        where += f", cells {area}" if area else ""
        raise PlanError(
            f"There is no chart in {where}. A chart has a letter or a fill in each cell."
        )
    most = max(found.cells for _, found in charts)
    rivals = [(page, found) for page, found in charts if 4 * found.cells >= most]
    if len(rivals) > 1:
        titles = tuple(page.title for page, _ in rivals)
        ask("sheet", "More than one sheet may hold a chart. Which one?", titles[0], titles)
    return rivals[0]


def _keys(text: np.ndarray, fill: np.ndarray, by, name: str, notes: list[str], ask):
    """What tells the yarns apart, cell by cell: its text, its fill, "" or "."; the text that goes with each; and which way."""
    stop, filled = text == NO_STITCH, fill != ""
    lettered = (text != "") & ~stop
    for given, there in (("letters", lettered), ("fills", filled)):
        if by == given and not there.any():
            raise PlanError(
                f"The chart in {name} has no {given}. Read it by its {CHOICES['by'][given == 'letters']}."
            )
    counts = filled.any() and all(
        said.isdigit() for said in text[lettered]
    )  # numbers that do not go with fills count stitches
    full = 2 * lettered.sum() >= (lettered | filled & ~stop).sum()
    labels = _together(text, fill, lettered)
    if by == "fills" or (by is None and (labels is None or not lettered.any())):
        shades = _shades(fill, name)
        alike = [f"{shade} ({other})" for shade, other in shades.items() if shade != other]
        if alike:
            notes.append(
                f"Fills that hardly differ from another were taken as that one: {_listed(alike)}."
            )
        fill = np.vectorize(shades.get, otypes=[object])(fill)
        labels = _together(text, fill, lettered)
        if by is None and labels is None:
            by = "letters" if full and not counts else "fills"
            ask("by", "Letters and fills do not go together. Which of them are the yarns?", by)
            notes.append(f"Letters and fills do not go together; the {by} were taken.")
    if by == "letters":
        return (
            np.where(text != "", text, fill).astype(object),
            {key: key for key in text[lettered]},
            by,
        )
    keys = np.where(stop, NO_STITCH, np.where(~filled & (labels is not None), text, fill)).astype(
        object
    )
    return (
        keys,
        labels or {},
        by or " and ".join(["letters"] * bool(full) + ["fills"] * bool(filled.any())),
    )


def _together(text: np.ndarray, fill: np.ndarray, lettered: np.ndarray) -> dict[str, str] | None:
    """The text that goes with each fill, or stands without one, if each text has one fill and each fill one text; else None."""
    pairs = set(zip(text[lettered], fill[lettered], strict=True))
    labels = {shade or said: said for said, shade in pairs}
    bare = (fill == "") & (text != NO_STITCH)
    signs_on_blanks = (fill != "").any() and (bare & lettered).any() and (bare & ~lettered).any()
    return (
        labels
        if len({said for said, _ in pairs}) == len(labels) == len(pairs) and not signs_on_blanks
        else None
    )


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


def _letters(
    keys: np.ndarray,
    labels: Mapping[str, str],
    fill: np.ndarray,
    yarns: Mapping[str, str],
    name: str,
    notes: list[str],
):
    """A yarn letter for each key, commonest first, and the colours of the letters: a key's own letter, else that of the yarn it
    looks like, else a free one."""
    colours: dict[str, str] = {}
    for (key, shade), _ in Counter(
        zip(keys.ravel().tolist(), fill.ravel().tolist(), strict=True)
    ).most_common():
        named = Color.match(
            labels.get(key, "").replace(" ", ""), fullmatch=True
        )  # a colour's name, such as light blue
        shade = shade or (
            named.color.convert("srgb").to_string(hex=True, alpha=False)
            if named
            else ""
            if key
            else "#ffffff"
        )
        colours.setdefault(key, shade)
    colours.pop(NO_STITCH, None)
    if len(colours) > MOST_YARNS:
        _refuse_crowd(len(colours), "letters or signs", name)
    letters = {key: labels[key] for key in colours if LETTER.fullmatch(labels.get(key, ""))}
    likeness = sorted(
        (distance, key, letter)
        for key, (letter, yarn) in product(colours, yarns.items())
        if key not in letters
        and colours[key]
        and (distance := Color(colours[key]).delta_e(yarn, method="2000")) < ALIKE
    )
    for _, key, letter in likeness:
        if key not in letters and letter not in letters.values():
            letters[key] = letter
    taken = {*yarns, *letters.values()}
    for key in colours:
        if key not in letters:
            wish = labels.get(key, "")[:1].upper()
            letters[key] = (
                wish if LETTER.fullmatch(wish) and wish not in taken else free_letter(taken)
            )
            taken.add(letters[key])
    given = {
        f'"{labels[key][:20]}"' if labels.get(key) else key or "blank": letters[key]
        for key in colours
    }
    given = [f"{what} is {letter}" for what, letter in given.items() if what.strip('"') != letter]
    if given:
        notes.append(f"Letters given: {_listed(given)}.")
    cases = [
        f"{letter} and {letter.lower()}"
        for letter in sorted(letters.values())
        if letter.lower() in {*letters.values()} - {letter}
    ]
    if cases:
        notes.append(f"Capitals count: {_listed(cases)} are two yarns.")
    return letters | {NO_STITCH: NO_STITCH}, {
        letters[key]: colour for key, colour in colours.items() if colour
    }


def free_letter(taken: Container[str]) -> str:
    """The first letter, A to Z and then AA to ZZ, that is not taken."""
    return next(
        a + b for a, b in product(["", *ascii_uppercase], ascii_uppercase) if a + b not in taken
    )


def _listed(things: list[str], most: int = 12) -> str:
    return ", ".join(things[:most]) + (
        f" and {len(things) - most} more" if len(things) > most else ""
    )


def _surroundings(page: Page, found: Found, hidden: str) -> list[str]:
    """What stands round the chart and within it, and what became of it."""
    says = []
    columns = [
        get_column_letter(int(page.columns[line]) + 1)
        for line in sorted({r.line for r in found.rulers.sides})
    ]
    rows = sorted({int(page.rows[r.line]) + 1 for r in found.rulers.ends})
    lines = [f"column {c}" for c in columns] + [f"row {r}" for r in rows]
    if lines:
        text = " and ".join(lines) + (
            " hold numbers and were left out."
            if len(lines) > 1
            else " holds numbers and was left out."
        )
        says.append(text[0].upper() + text[1:])
    spans = (
        (own[cut.start], own[cut.stop - 1])
        for own, cut in zip((page.rows, page.columns), found.place, strict=True)
    )
    within = [
        int(((out >= lo) & (out <= hi)).sum())
        for out, (lo, hi) in zip(page.hidden, spans, strict=True)
    ]
    if any(within):
        what = " and ".join(
            counted(n, noun)
            for n, noun in zip(within, ("hidden row", "hidden column"), strict=True)
            if n
        )
        says.append(f"{what} {'was' if sum(within) == 1 else 'were'} {hidden}.")
    if not page.first[found.place].all():
        says.append("Merged cells count as the stitches they span.")
    if found.elsewhere:
        says.append(
            f"Other cells hold titles, a key or notes and were left out: {_listed(found.elsewhere, 6)}."
        )
    return says
